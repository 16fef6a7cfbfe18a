"""tillwrap findings: text, JSON by its schema, the drawing as valid SVG, exit codes, bad input."""

import json
import re
import shutil
import subprocess
import unittest
import xml.etree.ElementTree as ElementTree

import jsonschema

from support import BASE_DAY, ROOT, Folder, edited

SCHEMA = json.loads((ROOT / "schema" / "findings.schema.json").read_text(encoding="utf-8"))
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))
# A5, points of 1/72 inch.
A5 = (420.0, 595.0)


class Findings(Folder):
    def look(self, *words, code=None):
        result = self.run_here("findings", *words)
        self.assertIn(result.returncode, (0, 1) if code is None else (code,), result.stderr.decode())
        self.assertEqual(result.stderr, b"")
        return result.stdout.decode("utf-8")

    def test_examples(self):
        for example in EXAMPLES:
            with self.subTest(example.name):
                text = self.look(str(example))
                for line in text.splitlines():
                    self.assertLessEqual(len(line), 80, line)
                answer = json.loads(self.look(str(example), "--json"))
                jsonschema.validate(answer, SCHEMA)
                self.assertLessEqual(len(answer["findings"]), 8, "a list nobody reads")
                rules = [finding["rule"] for finding in answer["findings"]]
                self.assertEqual(len(rules), len(set(rules)), "the same thing said twice")
                for finding in answer["findings"]:
                    self.assertIn(finding["title"], " ".join(text.split()))
                    self.assertTrue(finding["source"], finding["rule"])
                    self.assertTrue(finding["advice"], finding["rule"])
                    for place in finding["places"]:
                        line = example.read_text(encoding="utf-8").splitlines()[place["line"] - 1]
                        self.assertRegex(line, r"\b(from|name|labels?)\b", f"{finding['rule']} points at {line!r}")

    def test_exit_tells_whether_something_stops_the_day(self):
        for example in EXAMPLES:
            answer = self.run_here("findings", str(example), "--json")
            stops = any(f["severity"] == "stops" for f in json.loads(answer.stdout)["findings"])
            self.assertEqual(answer.returncode, 1 if stops else 0, example.name)

    def test_drawing(self):
        for example in EXAMPLES:
            with self.subTest(example.name):
                self.look(str(example), "--svg", "wiring.svg")
                text = (self.path / "wiring.svg").read_text(encoding="utf-8")
                xmllint = shutil.which("xmllint")
                self.assertIsNotNone(xmllint, "xmllint is missing: libxml2-utils")
                checked = subprocess.run([xmllint, "--noout", "--nonet", str(self.path / "wiring.svg")],
                                         capture_output=True, check=False)
                self.assertEqual((checked.returncode, checked.stderr), (0, b""))
                root = ElementTree.fromstring(text)
                self.assertEqual(sorted(map(float, root.get("viewBox").split()[2:])), sorted(A5))
                self.assertNotRegex(text, r"(?:href|src)=|<script|url\(http")
                # Ink and paper only: nothing is said by colour.
                for colour in set(re.findall(r"#([0-9a-f]{6})\b", text)):
                    red, green, blue = (int(colour[i : i + 2], 16) for i in (0, 2, 4))
                    self.assertLessEqual(max(red, green, blue) - min(red, green, blue), 16, colour)
                answer = json.loads(self.look(str(example), "--json"))
                for finding in answer["findings"]:
                    self.assertIn(f">{finding['number']}</text>", text)

    def test_same_bytes_again(self):
        demo = str(ROOT / "examples" / "saltmarsh-ferry.toml")
        self.look(demo, "--svg", "a.svg")
        self.look(demo, "--svg", "b.svg")
        self.assertEqual((self.path / "a.svg").read_bytes(), (self.path / "b.svg").read_bytes())

    def test_measured_words_of_one_finding(self):
        # 14 m of AWG 24 at 8.2 W: about 0.6 A through 2.36 ohm, a tenth of 14.4 V.
        self.write("day.toml", edited(('length = "0.5 m"\nwire = "AWG 22"', 'length = "14 m"\nwire = "AWG 24"')))
        text = " ".join(self.look("day.toml").split())
        self.assertIn("Volts lost on the way", text)
        self.assertIn("(2 × 14 m / (58 × 0.205 mm²) = 2.36 Ω at 20 °C", text)

    def test_clock_and_temperature_as_the_user_reads_them(self):
        base = edited(('length = "0.5 m"\nwire = "AWG 22"', 'length = "14 m"\nwire = "AWG 24"'))
        self.write("day.toml", base + '\n[settings]\nclock = "12 h"\n')
        self.assertRegex(self.look("day.toml"), r"\d{1,2}:\d\d [ap]m")

    def test_bad_input(self):
        self.write("day.toml", BASE_DAY)
        self.assert_refused(self.run_here("findings", "none.toml"), "none.toml")
        self.write("broken.toml", edited(("AWG 22", "AWG 99")))
        self.assert_refused(self.run_here("findings", "broken.toml", "--svg", "w.svg"), "broken.toml:")
        self.assert_refused(self.run_here("findings", "day.toml", "--svg", "no/such/folder/w.svg"), "no/such/folder")
        self.assert_refused(self.run_here("findings", "day.toml", "--svg", "day.toml"), "day.toml:1:1")
        self.assertEqual((self.path / "day.toml").read_text(encoding="utf-8"), BASE_DAY)
        self.write("wrong.toml", edited(('wire = "AWG 22"', 'wire = "AWG 22"\nreturn = "shield"')))
        self.assert_refused(self.run_here("findings", "wrong.toml"), "wrong.toml:", "audio shield")
        self.assertEqual(self.names(), ["broken.toml", "day.toml", "wrong.toml"])


if __name__ == "__main__":
    unittest.main()
