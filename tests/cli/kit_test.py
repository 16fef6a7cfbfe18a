"""tillwrap kit from outside: charge now, health, twins, retirement, by the facts of a journal."""

import json
import unittest

import jsonschema
from support import ROOT, Folder

SCHEMA = json.loads((ROOT / "schema" / "kit.schema.json").read_text(encoding="utf-8"))
KIND = "smart-pack-14v4-98wh"
ENV = {"TZ": "Europe/Berlin", "TILLWRAP_JOURNAL": "j.db", "TILLWRAP_DEVICE": "laptop"}


class Kit(Folder):
    def add(self, *words):
        result = self.run_here("journal", "add", *words, env=ENV)
        self.assertEqual(result.returncode, 0, result.stderr.decode())

    def pack(self, label, *bought, at="2023-03-01 10:00", kind=KIND):
        self.add("acquired", label, "--kind", kind, "--at", at, *bought)

    def kit(self, on):
        result = self.run_here("kit", "--on", on, "--json", env=ENV)
        self.assertEqual(result.returncode, 0, result.stderr.decode())
        answer = json.loads(result.stdout)
        jsonschema.validate(answer, SCHEMA)
        return {one["pack"]: one for one in answer["packs"]}

    def test_charge_falls_by_itself_and_by_use(self):
        self.pack("C1")
        self.pack("N1", kind="aa-nimh-x8")
        for label in ("C1", "N1"):
            self.add("charged", label, "--charge", "100 %", "--at", "2026-01-01 12:00")
        self.add("rested", "C1", "indoors", "--temperature", "20 °C", "--at", "2026-01-01 12:00")
        # A month: lithium 2 to 3 %, electronics 1 to 3 %; nickel 30 % (secondary sources).
        month = self.kit("2026-01-31 12:00")
        self.assertAlmostEqual(month["C1"]["charge"]["middle"], 0.955, delta=0.015)
        self.assertAlmostEqual(month["N1"]["charge"]["middle"], 0.70, delta=0.01)
        self.assertLess(month["N1"]["charge"]["low"], 0.60)
        # Cold for the second month loses less than warm.
        self.add("rested", "C1", "van", "--temperature", "0 °C", "--at", "2026-01-31 12:00")
        cold = self.kit("2026-03-02 12:00")["C1"]["charge"]["middle"]
        self.assertGreater(cold, month["C1"]["charge"]["middle"] - 0.04)
        self.assertLess(cold, month["C1"]["charge"]["middle"])
        # What was used without a charge told afterwards: 3.4 Ah of 6.8 Ah, less what age took.
        self.add("used", "C1", "--ah", "3.4", "--at", "2026-03-02 12:00")
        self.assertAlmostEqual(self.kit("2026-03-02 12:01")["C1"]["charge"]["middle"], cold - 0.58, delta=0.06)
        # And as it was before all that.
        self.assertEqual(self.kit("2026-01-01 12:00")["C1"]["charge"]["middle"], 1.0)
        self.assertIsNone(self.kit("2025-12-31 12:00")["C1"]["charge"])

    def test_awake_in_a_holder_it_loses_more(self):
        for label in ("C1", "C2"):
            self.pack(label)
            self.add("charged", label, "--charge", "1", "--at", "2026-01-01 12:00")
        self.add("put_in", "C2", "cup", "--at", "2026-01-01 12:00")
        month = self.kit("2026-01-31 12:00")
        # 0.5 mA for 720 h is 0.36 Ah of 6.8 Ah, and 2 % asleep.
        self.assertAlmostEqual(month["C1"]["charge"]["middle"] - month["C2"]["charge"]["middle"], 0.036, delta=0.01)
        self.assertEqual(month["C2"]["holder"], "cup")
        self.assertIsNone(month["C2"]["place"])

    def test_health_by_tests_field_days_and_age(self):
        self.pack("C1", "--bought", "2023-03-01")
        self.pack("C2", "--bought", "2023-03-01")
        self.pack("C3", at="2026-01-01 10:00")
        before = self.kit("2026-03-01")
        # Three years at 5 % a year, and wide.
        self.assertAlmostEqual(before["C1"]["capacity"]["middle"], 0.85, delta=0.005)
        self.assertGreater(before["C1"]["capacity"]["high"] - before["C1"]["capacity"]["low"], 0.25)
        self.assertIn("Never tested", before["C1"]["advice"])
        for label, values in (("C1", ("96 %", "92 %")), ("C2", ("90 %", "81 %"))):
            for when, value in zip(("2024-09-01", "2026-02-01"), values):
                self.add("tested", label, "--capacity", value, "--resistance", "1.3", "--capacity-sd", "1.5 %",
                         "--at", when + " 12:00")
        after = self.kit("2026-03-01")
        self.assertEqual(after["C1"]["tests"], 2)
        self.assertAlmostEqual(after["C1"]["capacity"]["middle"], 0.92, delta=0.015)
        self.assertLess(after["C1"]["capacity"]["high"] - after["C1"]["capacity"]["low"], 0.07)
        self.assertEqual(after["C2"]["weaker_than"], "C1")
        self.assertIsNone(after["C1"]["weaker_than"])
        self.assertIn("pair it with C1", after["C2"]["advice"])
        self.assertLess(after["C2"]["retire"]["middle"], after["C1"]["retire"]["middle"])
        self.assertLess(after["C2"]["retire"]["low"], after["C2"]["retire"]["middle"])
        # A day that drew 3.9 Ah from full to 20 %: 4.9 of 6.8 Ah.
        self.add("charged", "C3", "--charge", "1", "--at", "2026-02-10 20:00")
        self.add("used", "C3", "--ah", "3.9", "--charge", "20 %", "--at", "2026-02-11 20:00")
        field = self.kit("2026-03-01")["C3"]
        self.assertEqual(field["field_days"], 1)
        self.assertLess(field["capacity"]["middle"], 0.95)
        self.add("retired", "C2", "--reason", "weak", "--at", "2026-03-02 12:00")
        gone = self.kit("2026-03-03")["C2"]
        self.assertEqual(gone["retired"], "2026-03-02T12:00:00+01:00")
        self.assertIsNone(gone["charge"])

    def test_text_fits_and_says_what_is_not_known(self):
        self.add("charged", "C9", "--charge", "1", "--at", "2026-01-01 12:00")
        self.pack("a pack with a very long label indeed")
        result = self.run_here("kit", "--on", "2026-03-01", env=ENV)
        text = result.stdout.decode("utf-8")
        self.assertTrue(all(len(line) <= 80 for line in text.splitlines()), text)
        self.assertIn("its kind was never told", text)
        self.assertIn("1 oddity in the journal", text)
        self.assertIn("Bands hold nine times in ten", text)

    def test_the_example_reads_as_the_readme_says(self):
        example = str(ROOT / "examples" / "three-years.jsonl")
        self.assertIn(b"30 lines added", self.run_here("journal", "import", example, env=ENV).stdout)
        self.assertNotIn(b"do not go together", self.run_here("journal", "verify", env=ENV).stdout)
        text = self.run_here("kit", "--on", "2026-11-25 18:00", env=ENV).stdout.decode("utf-8")
        readme = (ROOT / "README.md").read_text(encoding="utf-8")
        shown = readme[readme.index('--on "2026-11-25 18:00"\n') :].split("```")[0].splitlines()[1:]
        self.assertGreater(len(shown), 5)
        for line in shown:
            self.assertTrue(line == "..." or line in text.splitlines(), f"{line!r} is not in\n{text}")

    def test_refused(self):
        for words, part in (((), "there is no journal here"), (("--on", "soon"), "is no time"),
                            (("--journal", "."), "this is a folder")):
            result = self.run_here("kit", *words, env=ENV)
            self.assertEqual(result.returncode, 2)
            self.assertIn(part, result.stderr.decode("utf-8"))


if __name__ == "__main__":
    unittest.main()
