"""`tillwrap expendables`: JSON against its schema and itself, text within 80 columns, bad input."""

import json
import unittest

import jsonschema

from support import ROOT, Folder, edited

SCHEMA = json.loads((ROOT / "schema" / "expendables.schema.json").read_text(encoding="utf-8"))


class Expendables(Folder):
    def test_examples_by_schema(self):
        jsonschema.Draft202012Validator.check_schema(SCHEMA)
        for path in sorted((ROOT / "examples").glob("*.toml")):
            with self.subTest(day=path.name):
                result = self.run_here("expendables", str(path), "--days", "20", "--json")
                answer = json.loads(result.stdout)
                jsonschema.Draft202012Validator(SCHEMA).validate(answer)
                planned = answer["as_planned"]
                self.assertEqual(result.returncode, 0 if planned["lasts"] else 1)
                before_off = [fresh["cells"] for fresh in answer["fresh"] if fresh["moment"] != "overrun"]
                self.assertEqual(sum(before_off), planned["cells_a_day"])
                self.assertEqual(planned["run"]["cells_bought"], 20 * planned["cells_a_day"])
                text = self.run_here("expendables", str(path), "--days", "20").stdout.decode("utf-8")
                self.assertLessEqual(max(len(line) for line in text.splitlines()), 80)

    def test_bad_input(self):
        day = self.write("day.toml", edited())
        for words in (["--days", "0"], ["--days", "many"], ["--rest", "0"]):
            self.assert_refused(self.run_here("expendables", day, *words), "tillwrap:")
        self.assert_refused(self.run_here("expendables", "none.toml"), "none.toml")


if __name__ == "__main__":
    unittest.main()
