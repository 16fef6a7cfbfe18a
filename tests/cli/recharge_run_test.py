"""tillwrap recharge on a run file: its nights are those of `tillwrap run`, one calendar, clear refusals."""

import json
import unittest

import icalendar
import jsonschema
from support import ROOT, Folder, run

RUN = ROOT / "examples" / "week" / "run.toml"
SCHEMA = json.loads((ROOT / "schema" / "recharge-run.schema.json").read_text(encoding="utf-8"))
NIGHT = json.loads((ROOT / "schema" / "recharge.schema.json").read_text(encoding="utf-8"))


class Nights(Folder):
    def bring(self, *pairs):
        for path in RUN.parent.glob("*.toml"):
            self.write(path.name, path.read_text(encoding="utf-8"))
        text = RUN.read_text(encoding="utf-8")
        for old, new in pairs:
            self.assertIn(old, text)
            text = text.replace(old, new)
        self.write("run.toml", text)

    def test_each_night_is_that_of_the_run(self):
        done = run("recharge", str(RUN), "--json")
        answer = json.loads(done.stdout)
        jsonschema.validate(answer, SCHEMA)
        self.assertEqual(done.returncode, 0 if answer["all_ready"] else 1)
        days = json.loads(run("run", str(RUN), "--no-help", "--json").stdout)["days"]
        self.assertEqual(len(answer["nights"]), len(days) - 1)
        for night, day in zip(answer["nights"], days):
            jsonschema.validate(night["recharge"], NIGHT)
            for key in ("from_s", "until_s", "needed", "needed_ready", "verdict", "get_up_s"):
                self.assertEqual(night["recharge"][key], day["rest"][key], key)
            after = {pack["label"]: pack["after_rest"] for pack in day["packs"]}
            for pack in night["recharge"]["packs"]:
                self.assertAlmostEqual(pack["charge"], after[pack["label"]], places=9)

    def test_text_fits_a_terminal(self):
        done = run("recharge", str(RUN))
        text = done.stdout.decode()
        for number in (1, 2, 3):
            self.assertIn(f"NIGHT {number}: after ", text)
        self.assertLessEqual(max(map(len, text.splitlines())), 80)

    def test_one_calendar_for_all_nights(self):
        self.assertIn(run("recharge", str(RUN), "--ics", str(self.path / "nights.ics")).returncode, (0, 1))
        calendar = icalendar.Calendar.from_ical((self.path / "nights.ics").read_bytes())
        events = calendar.walk("VEVENT")
        self.assertEqual(len({str(event["UID"]) for event in events}), len(events))
        # 23 to 26 November: no swap before the first evening or after the last morning.
        days = {event["DTSTART"].dt.date().isoformat() for event in events}
        self.assertTrue(days <= {f"2026-11-{day}" for day in (23, 24, 25, 26)}, days)
        self.assertGreaterEqual(len(days), 3)

    def test_refuses_what_the_run_says_itself(self):
        for more, words in ((["--from", "20:00"], "under its [[day]]"), (["--svg", "x.svg"], "one day's file")):
            done = run("recharge", str(RUN), *more)
            self.assertEqual((done.returncode, done.stdout), (2, b""))
            self.assertIn(words, done.stderr.decode())

    def test_a_calendar_needs_dates(self):
        dates = [f'date = "2026-11-{day}"\n' for day in (23, 24, 25, 26)]
        self.bring(*[(date, "") for date in dates])
        for path in self.path.glob("[0-9]*.toml"):
            text = path.read_text(encoding="utf-8")
            path.write_text("\n".join(line for line in text.splitlines() if not line.startswith("date")) + "\n",
                            encoding="utf-8")
        done = self.run_here("recharge", "run.toml", "--ics", "nights.ics")
        self.assertEqual(done.returncode, 2)
        self.assertIn("a calendar needs this day's date", done.stderr.decode())
        self.assertFalse((self.path / "nights.ics").exists())


if __name__ == "__main__":
    unittest.main()
