"""tillwrap choose --write: the chosen plan as a day file, which gives what the choice said, and nothing else."""

import csv
import json
import os
import re
import tomllib
import unittest

from choose_test import DAY
from support import ROOT, Folder, edited, run

FRESH = 2000


def without_plan(text):
    """The day as TOML reads it, without who sits where."""
    day = tomllib.loads(text)
    for holder in day["holder"]:
        del holder["packs"]
    for charger in day.get("charger", []):
        charger.pop("bays", None)
    return day


class Written(Folder):
    def choose(self, *words, name="day.toml"):
        result = self.run_here("choose", name, "--json", "--fresh", str(FRESH), *words)
        self.assertEqual(result.stderr, b"")
        return json.loads(result.stdout), result.returncode

    def answer(self, command, name, *words):
        result = self.run_here(command, name, "--json", *words)
        self.assertEqual(result.stderr, b"", result.stderr)
        return json.loads(result.stdout)

    def hold_to_choice(self, name, chosen, overrun=False):
        """The written day's own odds and changes against what the choice said."""
        odds = self.answer("odds", name, "--days", str(FRESH), "--seed", "2")
        self.assertEqual(odds["probability_with_whole_overrun" if overrun else "probability"], chosen["probability"])
        planned = {(a["holder"], b["label"], c["label"], c["in_at_s"])
                   for a in chosen["assignments"] for b, c in zip(a["packs"], a["packs"][1:])
                   if c["in_at_s"] < odds["off_s"]}
        forecast = self.answer("forecast", name)
        made = {(c["holder"], c["out"], c["in"], c["at_s"]) for c in forecast["changes"] if c["at_s"] < odds["off_s"]}
        self.assertTrue(forecast["reaches_wrap"])
        self.assertLessEqual(planned, made)
        charging = {(c["label"], c["in_s"]) for c in forecast["charging"]}
        self.assertLessEqual({(c["label"], c["from_s"]) for c in chosen["charging"]}, charging)

    def hold_to_prices(self, chosen, text):
        """Cells that are used up, counted and priced from the day and the catalogue's own file."""
        data = (ROOT / "src" / "catalogue" / "data" / "packs-aa.toml").read_text(encoding="utf-8")
        kinds = {kind["id"]: kind for kind in tomllib.loads(data)["pack"]}
        kind_of = {label: pack["kind"] for pack in tomllib.loads(text)["pack"] for label in pack.get("labels", [pack.get("label")])}
        used = {pack["label"] for a in chosen["assignments"] for pack in a["packs"]}
        fresh = {label for label in used if kind_of[label].startswith(("aa-alkaline", "aa-lithium"))}
        self.assertEqual(set(chosen["fresh"]["packs"]), fresh)
        self.assertEqual(chosen["fresh"]["cells"], sum(int((kind_of[label] + "-x1").split("-x")[1]) for label in fresh))
        guess = sum(kinds[kind_of[label]]["price_usd"] for label in fresh)
        self.assertAlmostEqual(chosen["fresh"]["cost_guess_usd"] or 0.0, guess)

    def test_examples_give_what_was_chosen(self):
        for example in ("saltmarsh-ferry.toml", "news-bag.toml", "cinema-plate.toml", "aa-only.toml",
                        "bank-on-a-barrel.toml", "bank-on-a-barrel.json"):
            with self.subTest(example=example):
                text = (ROOT / "examples" / example).read_text(encoding="utf-8")
                self.write(example, text)
                written = "chosen-" + example
                chosen, code = self.choose("--write", written, name=example)
                if not chosen["feasible"]:
                    self.assertEqual((code, chosen["written"]), (1, None))
                    self.assertNotIn(written, self.names())
                    self.assertTrue(any("Nothing was written" in reason for reason in chosen["reasons"]))
                    continue
                self.assertEqual((code, chosen["written"]), (0, written))
                self.hold_to_choice(written, chosen)
                self.hold_to_prices(chosen, text)
                if example.endswith(".toml"):
                    now = (self.path / written).read_text(encoding="utf-8")
                    self.assertEqual(without_plan(now), without_plan(text))
                    # Every remark of the owner stays, but for those within the lists that were replaced.
                    lists = re.compile(r"(?:packs|bays) = \[.*?\]\n", re.DOTALL)
                    remarks = re.findall(r"#[^\n]*", lists.sub("", text))
                    self.assertEqual([r for r in re.findall(r"#[^\n]*", now) if r in remarks], remarks)
                # What was chosen is chosen again, and written over itself only when told.
                again, _ = self.choose(name=written)
                self.assertEqual(again["cost"], chosen["cost"])

    def test_overrun_and_another_seed(self):
        self.write("day.toml", edited(('wrap = "16:00"', 'wrap = "16:00"\noverrun = "1 h"'), ('draw = "18.5 W"', 'draw = "14 W"'), base=DAY))
        chosen, code = self.choose("--overrun", "1 h", "--write", "chosen.toml")
        self.assertEqual(code, 0, chosen["reasons"])
        self.hold_to_choice("chosen.toml", chosen, overrun=True)
        chosen, _ = self.choose("--seed", "7", "--write", "seven.toml")
        odds = self.answer("odds", "seven.toml", "--days", str(FRESH), "--seed", "8")
        self.assertEqual(odds["probability"], chosen["probability"])

    def test_times_windows_and_all_else(self):
        day = "# mine\r\n" + DAY.replace("\n", "\r\n") + "[spread] # as I know it\r\nload = \"4 %\"\r\n"
        self.write("day.toml", day)
        chosen, _ = self.choose("--write", "chosen.toml")
        (cup,) = chosen["assignments"]
        text = (self.path / "chosen.toml").read_bytes().decode("utf-8")
        start, end = text.index("packs = ["), text.index("[[box]]")
        self.assertEqual(text[:start] + text[end:], day[:day.index("packs = [")] + day[day.index("[[box]]"):])
        at = cup["packs"][1]["in_at_s"]
        self.assertIn(f'pack = "{cup["packs"][1]["label"]}", at = "{at // 3600:02.0f}:{at % 3600 // 60:02.0f}"', text)
        self.assertRegex(text[start:end], r"# by 12:\d\d at the latest")

    def test_charging_goes_into_bays_that_were_not_written(self):
        # Three packs' worth of load and two packs: one has to be charged while the other serves, hands at any time.
        charger = ('[[charger]]\nname = "charger"\nkind = "charger-smart-2" # the big one\n'
                   '[[period]]\nname = "morning"\nfrom = "08:00"\nair = "20 °C"\nlive = ["charger"]\n')
        day = edited(('[[period]]\nname = "morning"\nfrom = "08:00"\nair = "20 °C"\nno_hands = ["bag"]\n', charger),
                     ('labels = ["P1", "P2", "P3", "P4"]', 'labels = ["P1", "P2"]'),
                     ('air = "20 °C"\n[[period]]\nname = "afternoon"', 'air = "20 °C"\nlive = ["charger"]\n[[period]]\nname = "afternoon"'),
                     ('wrap = "16:00"', 'wrap = "20:00"'), ('no_hands = ["bag"]', 'live = ["charger"]'), base=DAY)
        self.write("day.toml", day)
        chosen, code = self.choose("--write", "chosen.toml")
        self.assertEqual(code, 0, chosen["reasons"])
        self.assertTrue(chosen["charging"])
        self.hold_to_choice("chosen.toml", chosen)
        text = (self.path / "chosen.toml").read_text(encoding="utf-8")
        self.assertIn("# the big one", text)
        self.assertRegex(text, r'kind = "charger-smart-2" # the big one\nbays = \[\[\{ pack = ')

    def test_never_over_a_file_unless_told(self):
        self.write("day.toml", DAY)
        self.write("chosen.toml", "mine")
        result = self.run_here("choose", "day.toml", "--write", "chosen.toml")
        self.assert_refused(result, "chosen.toml:", "exists already", "--replace", "nothing was changed")
        self.assertEqual((self.path / "chosen.toml").read_text(), "mine")
        chosen, code = self.choose("--write", "chosen.toml", "--replace")
        self.assertEqual((code, chosen["written"]), (0, "chosen.toml"))
        self.hold_to_choice("chosen.toml", chosen)
        _, code = self.choose("--write", "day.toml", "--replace")
        self.assertEqual(code, 0)
        self.assertEqual((self.path / "day.toml").read_bytes(), (self.path / "chosen.toml").read_bytes())
        self.assertEqual(self.names(), ["chosen.toml", "day.toml"])

    def test_without_a_plan_nothing_is_written(self):
        self.write("day.toml", edited(('labels = ["P1", "P2", "P3", "P4"]', 'labels = ["P1"]'), ('packs = ["P1", "P2"]', 'packs = ["P1"]'), base=DAY))
        self.write("old.toml", "mine")
        result = self.run_here("choose", "day.toml", "--fresh", "512", "--write", "old.toml", "--replace")
        self.assertEqual(result.returncode, 1)
        self.assertIn("Nothing was written to old.toml.", result.stdout.decode("utf-8"))
        self.assertEqual((self.path / "old.toml").read_text(), "mine")
        self.assertEqual(self.names(), ["day.toml", "old.toml"])

    def test_bad_targets(self):
        self.write("day.toml", DAY)
        (self.path / "folder").mkdir()
        before = self.names()
        for words, start, parts in [
            (("day.toml", "--write", "-"), "-:", ("file",)),
            (("day.toml", "--write", "chosen.json"), "chosen.json:", ("TOML", ".toml")),
            (("day.toml", "--write", "none/chosen.toml"), "none/chosen.toml:", ("folder",)),
            (("day.toml", "--write", "folder"), "folder:", ("exists",)),
            (("day.toml", "--write", "folder", "--replace"), "folder:", ("folder",)),
            (("day.toml", "--replace"), "tillwrap:", ("--write",)),
        ]:
            with self.subTest(words=words):
                self.assert_refused(self.run_here("choose", *words, "--fresh", "512"), start, *parts)
                self.assertEqual(self.names(), before)
        if os.geteuid() != 0:
            (self.path / "folder").chmod(0o500)
            self.assert_refused(self.run_here("choose", "day.toml", "--fresh", "512", "--write", "folder/c.toml"), "folder/c.toml:")

    def test_a_day_in_json(self):
        day = tomllib.loads(DAY)
        day["charger"] = [{"name": "charger", "kind": "charger-smart-2", "bays": [[], []]}]
        text = json.dumps(day, ensure_ascii=False)
        self.write("day.json", text)
        chosen, code = self.choose("--write", "chosen.json", name="day.json")
        self.assertEqual((code, chosen["written"]), (0, "chosen.json"))
        self.hold_to_choice("chosen.json", chosen)
        now = json.loads((self.path / "chosen.json").read_text(encoding="utf-8"))
        (packs,) = (holder["packs"] for holder in now["holder"])
        self.assertEqual(packs[1]["pack"], chosen["assignments"][0]["packs"][1]["label"])
        now["holder"][0]["packs"] = day["holder"][0]["packs"]
        self.assertEqual(now, day)

    def test_gauge_readings_count_for_the_packs_they_were_read_on(self):
        # The file's plan reads the gauge of a worn pack; the choice takes new ones, whose gauge would have shown less gone.
        day = edited(('labels = ["P1", "P2", "P3", "P4"]', 'labels = ["W1", "W2"]\nhealth = "80 %"'),
                     ('[[holder]]', '[[pack]]\nlabels = ["N1", "N2"]\nkind = "smart-pack-14v4-98wh"\n[[holder]]'),
                     ('packs = ["P1", "P2"]', 'packs = ["W1", "W2"]'), base=DAY)
        self.write("day.toml", day + '[[measured]]\nat = "cup"\ngauge = "100 % at 08:00, 30 % at 11:00"\n')
        gauge = 'gauge = "100 % at 08:00, 30 % at 11:00"'
        chosen, code = self.choose("--write", "chosen.toml")
        self.assertEqual(code, 0, chosen["reasons"])
        self.assertTrue(chosen["assignments"][0]["packs"][0]["label"].startswith("N"))
        (said,) = (reason for reason in chosen["reasons"] if "gauge readings" in reason)
        text = (self.path / "chosen.toml").read_text(encoding="utf-8")
        (written,) = re.findall(r'draw = "([0-9.]+) A at ([0-9.]+) V"  # in place of ' + re.escape(gauge) + '\nduring = "morning"', text)
        amps, volts = map(float, written)
        self.assertIn(f"{amps:.3g} A", said)
        self.hold_to_choice("chosen.toml", chosen)
        # That draw on the worn packs the gauge was read on: 30 % are left at 11:00, as it showed.
        self.write("worn.toml", day + f'[[measured]]\nat = "cup"\ndraw = "{written[0]} A at {written[1]} V"\nduring = "morning"\n')
        self.assertEqual(self.run_here("forecast", "worn.toml", "--csv", "worn.csv").stderr, b"")
        with open(self.path / "worn.csv", encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        nearest = min(rows, key=lambda row: abs(float(row["at_s"]) - 11 * 3600))
        off_s = float(nearest["at_s"]) - 11 * 3600
        self.assertEqual(nearest["cup pack"], "W1")
        self.assertAlmostEqual(float(nearest["cup charge"]) + 0.7 * off_s / (3 * 3600), 0.3, delta=0.005)
        # The same in JSON, and in a list of tables written in braces.
        tables = 'measured = [{ at = "cup", ' + gauge + ' }]\n' + day
        self.write("braces.toml", tables)
        same, code = self.choose("--write", "braces-chosen.toml", name="braces.toml")
        self.assertEqual((code, same["assignments"]), (0, chosen["assignments"]))
        self.assertIn(f'at = "cup", draw = "{written[0]} A at {written[1]} V", during = "morning" }}', (self.path / "braces-chosen.toml").read_text(encoding="utf-8"))
        self.write("day.json", json.dumps(tomllib.loads(tables), ensure_ascii=False))
        same, code = self.choose("--write", "chosen.json", name="day.json")
        self.assertEqual((code, same["assignments"]), (0, chosen["assignments"]))
        (measured,) = json.loads((self.path / "chosen.json").read_text(encoding="utf-8"))["measured"]
        self.assertEqual(measured, {"at": "cup", "draw": f"{written[0]} A at {written[1]} V", "during": "morning"})
        # Where the packs that were read stay in, the readings stay as they are.
        self.write("stay.toml", DAY + '[[measured]]\nat = "cup"\ngauge = "100 % at 08:00, 45 % at 11:00"\n')
        chosen, code = self.choose("--write", "stay-chosen.toml", name="stay.toml")
        self.assertEqual(code, 0, chosen["reasons"])
        self.assertIn('gauge = "100 % at 08:00, 45 % at 11:00"', (self.path / "stay-chosen.toml").read_text(encoding="utf-8"))
        # A reading in watts counts for whatever is in.
        self.write("watts.toml", day + '[[measured]]\nat = "cup"\ndraw = "19.5 W"\nduring = "morning"\n')
        chosen, code = self.choose("--write", "watts-chosen.toml", name="watts.toml")
        self.assertEqual(code, 0, chosen["reasons"])
        self.assertTrue(chosen["assignments"][0]["packs"][0]["label"].startswith("N"))
        self.hold_to_choice("watts-chosen.toml", chosen)


if __name__ == "__main__":
    unittest.main()
