"""tillwrap health PACK --day from outside: what the journal's readings of a day say of all packs on it."""

import csv
import json
import unittest

from health_test import ENV, KIND, Health, ago


TWO_CUPS = """format = 1
[day]
date = "{date}"
call = "08:00"
wrap = "12:00"
{packs}[[holder]]
name = "cup 1"
kind = "cup-smart-14v4"
in = "box"
packs = ["C2"]
[[holder]]
name = "cup 2"
kind = "cup-smart-14v4"
in = "box"
packs = ["C3"]
[[box]]
name = "box"
kind = "box-2cup"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "{watts} W"
[[wire]]
from = "box.out-1"
to = "recorder"
length = "0.5 m"
[[period]]
name = "all"
from = "08:00"
air = "16 °C"
"""
HEALTHY = {"C2": 95, "C3": 75}


class DayOfTwoPacks(Health):
    """Two packs on one bus, one of them weak; read off the forecast of a day file that knows their health and draws 3 %
    more than the one asked with."""

    def setUp(self):
        super().setUp()
        self.date = ago(9)
        self.write("day.toml", TWO_CUPS.format(date=self.date, watts=30, packs=self.packs({"C2": 100, "C3": 100})))
        self.write("truth.toml", TWO_CUPS.format(date=self.date, watts=30.9, packs=self.packs(HEALTHY)))
        self.assertIn(self.run_here("forecast", "truth.toml", "--csv", "truth.csv").returncode, (0, 1))
        with open(self.path / "truth.csv", encoding="utf-8") as file:
            self.rows = list(csv.DictReader(file))
        for label in HEALTHY:
            self.add("acquired", label, "--kind", KIND, "--bought", ago(700), "--at", ago(699) + " 10:00")
            self.add("charged", label, "--charge", "100 %", "--at", self.date + " 07:00")

    @staticmethod
    def packs(health):
        return "".join(f'[[pack]]\nlabel = "{label}"\nkind = "{KIND}"\nhealth = "{share} %"\n' for label, share in health.items())

    def read(self, amps=True, slip=0.0):
        for number, label in enumerate(HEALTHY, 1):
            self.add("put_in", label, "--holder", f"cup {number}", "--at", self.date + " 08:00")
        for hour in (8.5, 9.25, 10, 10.75, 11.5, 11.9):
            row = min(self.rows, key=lambda r: abs(float(r["at_s"]) - 3600 * hour))
            at = f"{self.date} {int(hour):02d}:{round(60 * (hour % 1)):02d}"
            volts = float(row["recorder volts_v"]) + (slip if hour == 10 else 0.0)
            self.add("reading", "input volts", "--of", "recorder", "--value", f"{volts:.1f} V", "--at", at)
            for number in (1, 2) if amps else ():
                self.add("reading", "amps", "--of", f"cup {number}", "--value", f'{float(row[f"cup {number} current_a"]):.2f} A', "--at", at)
        for label in HEALTHY:
            self.add("taken_out", label, "--at", self.date + " 12:00")

    def test_the_weak_one_shows(self):
        self.read()
        self.assertEqual(self.health("C3")["trend"]["field_days"], 0, "from the journal alone it cannot be told")
        answer = self.health("C3", "--day", "day.toml")
        self.assertEqual((answer["day"]["weighed"], answer["day"]["together"]), (18, []))
        found = {pack["pack"]: pack["capacity"] for pack in answer["day"]["packs"]}
        for label, share in HEALTHY.items():
            self.assertLess(found[label]["low"], share / 100)
            self.assertGreater(found[label]["high"], share / 100)
        self.assertLess(found["C3"]["high"], found["C2"]["low"])
        self.assertEqual(answer["trend"]["field_days"], 1)
        said = self.said("C3", "--day", "day.toml")
        self.assertIn("with all packs in (day.toml)", said)
        self.assertIn("Its resistance cannot be told", said)

    def test_it_is_kept_for_both_and_once(self):
        self.read()
        for _ in range(2):
            self.assertIn("with the other packs of that day", self.said("C3", "--day", "day.toml", "--add"))
        for label in HEALTHY:
            trend = self.health(label)["trend"]
            self.assertEqual((trend["tests"], trend["field_days"]), (0, 1))
            self.assertIn("counts as a whole", " ".join(trend["in_use"][0]["cannot_tell"]))
        self.assertEqual(self.health("C3")["trend"]["weaker_than"], "C2")

    def test_volts_alone_do_not_tell_them_apart(self):
        self.read(amps=False)
        answer = self.health("C2", "--day", "day.toml")
        self.assertTrue(all(pack["capacity"] is None for pack in answer["day"]["packs"]))
        (both,) = answer["day"]["together"]
        self.assertEqual(both["packs"], ["C2", "C3"])
        self.assertLess(both["capacity"]["low"], 0.85)
        self.assertGreater(both["capacity"]["high"], 0.85)
        self.assertIn("C2 and C3 cannot be told apart", self.said("C2", "--day", "day.toml"))

    def test_a_slip_and_other_kit_are_left_aside(self):
        self.add("acquired", "V1", "--kind", "plate-pack-14v4-98wh", "--at", ago(20) + " 10:00")
        self.add("put_in", "V1", "--holder", "rear plate", "--at", self.date + " 09:00")
        self.add("reading", "input volts", "--of", "cart mixer", "--value", "11 V", "--at", self.date + " 09:10")
        self.read(slip=9.0)
        answer = self.health("C3", "--day", "day.toml")
        self.assertEqual(answer["day"]["weighed"], 17)
        notes = " ".join(answer["day"]["notes"])
        self.assertIn("input volts of recorder at 10:00 left aside", notes)
        self.assertIn("2 lines of that date left aside", notes)

    def test_lines_taken_back_are_of_no_day(self):
        self.read()
        before = self.health("C3", "--day", "day.toml")["day"]
        self.add("taken_out", "C3", "--charge", "90 %", "--at", self.date + " 11:58")
        self.add("reading", "amps", "--of", "recorder", "--value", "0.4 A", "--at", self.date + " 11:59")
        told = self.health("C3", "--day", "day.toml")["day"]
        self.assertNotEqual(told["packs"], before["packs"])
        for line in json.loads(self.run_here("journal", "list", "--last", "4", "--json", env=ENV).stdout)["lines"]:
            if line["line"]["at"][11:16] in ("11:58", "11:59"):
                self.add("taken_back", line["line"]["id"])
        self.assertEqual(self.health("C3", "--day", "day.toml")["day"], before)

    def test_a_day_that_fits_no_packs_does_not_say_they_were_not_in_use(self):
        self.read()
        self.add("taken_out", "C2", "--charge", "5 %", "--at", self.date + " 08:30")
        self.add("taken_out", "C3", "--charge", "5 %", "--at", self.date + " 08:31")
        said = self.said("C3", "--day", "day.toml")
        self.assertIn("fit no packs", " ".join(said.split()))
        self.assertNotIn("was not in use", said)

    def test_what_a_dark_kit_shows_is_not_weighed(self):
        self.read()
        before = self.health("C3", "--day", "day.toml")["day"]
        for minute, of in ((50, "recorder"), (55, "recorder")):
            self.add("reading", "input volts", "--of", of, "--value", "0 V", "--at", f"{self.date} 11:{minute}")
            self.add("reading", "amps", "--of", "recorder", "--value", "0 A", "--at", f"{self.date} 11:{minute}")
        after = self.health("C3", "--day", "day.toml")["day"]
        self.assertIn("4 readings at 11:50 to 11:55 not weighed: nothing runs on volts so low", " ".join(after["notes"]))
        self.assertEqual((after["weighed"], after["packs"]), (before["weighed"], before["packs"]))

    def test_a_logger_is_thinned(self):
        self.read()
        for k in range(60):
            row = min(self.rows, key=lambda r: abs(float(r["at_s"]) - 3600 * (8.5 + k / 20)))
            self.add("reading", "amps", "--of", "recorder", "--value", f'{30.9 / float(row["recorder volts_v"]):.2f} A', "--at",
                     f"{self.date} {int(8.5 + k / 20):02d}:{round(60 * ((8.5 + k / 20) % 1)) % 60:02d}")
        day = self.health("C3", "--day", "day.toml")["day"]
        self.assertEqual(day["weighed"], 18 + 40)
        self.assertIn("of 60 readings of amps of recorder 40, evenly spread, are weighed", " ".join(day["notes"]))
        self.assertLess(next(p["capacity"]["high"] for p in day["packs"] if p["pack"] == "C3"), 0.92)

    def test_refusals(self):
        self.read()
        text = (self.path / "day.toml").read_text(encoding="utf-8")
        self.write("undated.toml", text.replace(f'date = "{self.date}"\n', ""))
        self.write("other.toml", text.replace(self.date, ago(30)))
        self.write("log.csv", "time_s,voltage_v,current_a\n0,16,1\n")
        for words, part in (
            (("C3", "--day", "undated.toml"), "the day has no date"),
            (("C3", "--day", "other.toml"), "no reading of this day's kit"),
            (("C3", "--day", "none.toml"), "none.toml"),
            (("log.csv", "--kind", KIND, "--day", "day.toml"), "beside a log"),
            (("C3", "--add"), "what is to be added"),
        ):
            with self.subTest(words):
                self.assertIn(part, self.said(*words, code=2))


if __name__ == "__main__":
    unittest.main()
