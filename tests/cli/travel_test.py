"""`tillwrap travel`: exit codes, dates, JSON against its schema, text within 80 columns, bad input."""

import json
import unittest

import jsonschema

from support import ROOT, Folder, edited

SCHEMA = json.loads((ROOT / "schema" / "travel.schema.json").read_text(encoding="utf-8"))
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))


class Travel(Folder):
    def test_examples_by_schema(self):
        jsonschema.Draft202012Validator.check_schema(SCHEMA)
        for path in EXAMPLES:
            with self.subTest(day=path.name):
                result = self.run_here("travel", str(path), "--on", "2026-11-25", "--json")
                answer = json.loads(result.stdout)
                jsonschema.Draft202012Validator(SCHEMA).validate(answer)
                self.assertEqual(result.returncode, 0 if answer["may_fly"] else 1)
                for name in ("strict", "narrow"):
                    reading = answer[name]
                    shared = {}
                    for person in reading["share"]:
                        for part in person:
                            shared[part["item"]] = shared.get(part["item"], 0) + part["pieces"]
                    expected = {i: len(item["labels"]) * item["pieces_each"] for i, item in enumerate(answer["items"])
                                if item["goes"] != "cargo"}
                    self.assertEqual(shared, expected)
                text = self.run_here("travel", str(path), "--on", "2026-11-25").stdout.decode("utf-8")
                self.assertLessEqual(max(len(line) for line in text.splitlines()), 80)

    def test_more_travellers_help(self):
        day = str(ROOT / "examples" / "saltmarsh-ferry.toml")
        self.assertEqual(self.run_here("travel", day, "--on", "2026-11-25").returncode, 1)
        self.assertEqual(self.run_here("travel", day, "--on", "2026-11-25", "--travellers", "2").returncode, 0)

    def test_the_days_own_date(self):
        day = self.write("day.toml", edited(("[day]\n", "[day]\ndate = 2026-06-01\n")))
        answer = json.loads(self.run_here("travel", day, "--json").stdout)
        self.assertEqual(answer["on"], "2026-06-01")
        answer = json.loads(self.run_here("travel", day, "--on", "2026-07-01", "--json").stdout)
        self.assertEqual(answer["on"], "2026-07-01")

    def test_bad_input(self):
        day = self.write("day.toml", edited())
        text = " ".join(self.run_here("travel", day, "--on", "2026-12-31").stdout.decode("utf-8").split())
        self.assertRegex(text, r"Rules last checked 20\d\d-\d\d-\d\d; for a flight after 2026-12-31 ask the operator\.")
        self.assert_refused(self.run_here("travel", day, "--on", "2027-01-01"), "tillwrap: no rules for 2027-01-01",
                            "2026-12-31", "new editions", "2027-01-01")
        self.assert_refused(self.run_here("travel", day, "--on", "2020-01-01"), "tillwrap: no rules for 2020-01-01")
        self.assert_refused(self.run_here("travel", day, "--on", "25.11.2026"), "tillwrap: --on")
        self.assert_refused(self.run_here("travel", day, "--travellers", "0"), "tillwrap:")
        bad = self.write("bad.toml", edited(("[[pack]]\n", '[[pack]]\ntravels = "hold"\n')))
        self.assert_refused(self.run_here("travel", bad, "--on", "2026-11-25"), "bad.toml:", "in device")


if __name__ == "__main__":
    unittest.main()
