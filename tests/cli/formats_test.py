"""docs/formats.md names every key of the schemas, and its day file is one."""

import json
import re
import unittest

from support import ROOT, Folder

TEXT = (ROOT / "docs" / "formats.md").read_text(encoding="utf-8")


def keys_of(schema):
    """Every property name in a schema, wherever it stands."""
    if isinstance(schema, dict):
        for name, part in schema.items():
            if name == "properties":
                yield from part
            yield from keys_of(part)
    elif isinstance(schema, list):
        for part in schema:
            yield from keys_of(part)


class Formats(Folder):
    def test_every_key_is_told(self):
        # A word in backticks, alone or in an inline table such as `{ pack = "C2", at = "10:20" }`.
        told = set(re.findall(r"[a-z][a-z0-9_]*", " ".join(re.findall(r"`[^`\n]+`", TEXT))))
        for name in ("day", "choose", "forecast", "odds", "remedies", "compare", "options", "findings", "discharge", "params", "fit", "travel", "expendables", "meters", "journal", "journal-line", "kit", "health", "recharge", "recharge-run", "track", "run", "run-file", "sheet"):
            schema = json.loads((ROOT / "schema" / f"{name}.schema.json").read_text(encoding="utf-8"))
            missing = set(keys_of(schema)) - told
            self.assertFalse(missing, f"{name}: docs/formats.md does not tell of {sorted(missing)}")

    def test_its_day_file_computes(self):
        days = [block for block in re.findall(r"```toml\n(.*?)```", TEXT, re.S) if block.startswith("format = 1")]
        self.assertEqual(len(days), 1)
        self.write("day.toml", days[0])
        self.assertEqual(self.run_here("check", "day.toml").stderr, b"")
        self.assertEqual(self.run_here("forecast", "day.toml").returncode, 0)

    def test_its_links_lead_somewhere(self):
        for target in re.findall(r"\]\(([^)#]+)", TEXT):
            self.assertTrue((ROOT / "docs" / target).exists(), target)


if __name__ == "__main__":
    unittest.main()
