"""tillwrap recharge from outside: facts of the trade, its schema, pictures and calendar, bad words."""

import json
import re
import unittest
import xml.dom.minidom

import jsonschema
from support import ROOT, Folder, run

DAY = """format = 1
title = "Four packs"
[day]
call = "08:00"
wrap = "20:00"
date = "2026-11-25"
[[pack]]
labels = ["P1", "P2", "P3", "P4"]
kind = "smart-pack-14v4-98wh"
[[holder]]
name = "cup"
kind = "cup-smart-14v4"
in = "box"
packs = ["P1", "P2", "P3", "P4"]
[[box]]
name = "box"
kind = "box-1cup"
draw = "0.5 W"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "23 W"
[[wire]]
from = "box.out-1"
to = "recorder.dc"
length = "0.5 m"
wire = "AWG 18"
[[charger]]
name = "charger"
kind = "charger-smart-2"
place = "indoors"
[[period]]
name = "day"
from = "08:00"
air = "20 °C"
"""

SCHEMA = json.loads((ROOT / "schema" / "recharge.schema.json").read_text(encoding="utf-8"))
EVENING = ("--from", "20:30", "--until", "06:30", "--there", "20:30-23:30, 06:00-06:30")


def edited(text, old, new):
    assert old in text, old
    return text.replace(old, new, 1)


def recharge(text, *words):
    result = run("recharge", "-", "--json", *words, stdin=text.encode("utf-8"))
    assert result.stderr == b"", result.stderr
    answer = json.loads(result.stdout)
    jsonschema.validate(answer, SCHEMA)
    assert result.returncode == (0 if answer["needed_ready"] == answer["needed"] else 1)
    return answer


class Night(Folder):
    def test_two_bays_and_three_hours_fill_two_packs_and_most_of_two_more(self):
        # 98 Wh at 3 A: two to two and a half hours (6.8 Ah; constant current alone 6.5 Ah / 3 A = 130 min).
        answer = recharge(DAY, *EVENING)
        self.assertTrue(answer["proven_best"])
        self.assertEqual(answer["cost"], answer["bound"])
        for pack in answer["packs"]:
            if pack["needed"] and pack["left"] < 0.2:
                self.assertGreater(pack["alone_s"], 1.8 * 3600)
                self.assertLess(pack["alone_s"], 3.2 * 3600)
        self.assertLess(answer["needed_ready"], answer["needed"])
        # Nothing charges while nobody is there.
        for stay in answer["stays"]:
            for (at_a, charge_a), (at_b, charge_b) in zip(stay["curve"], stay["curve"][1:]):
                if at_a >= 23.5 * 3600 and at_b <= 30 * 3600:
                    self.assertLess(abs(charge_b - charge_a), 0.003)
        self.assertIn("asleep", [one["kind"] for one in answer["help"]])

    def test_chargers_are_off_while_nobody_is_there(self):
        answer = recharge(DAY, *EVENING)
        self.assertIn("from 23:30 to 06:00 +1: switch charger off, and on again after", answer["reasons"][0])
        ready = [pack for pack in answer["packs"] if pack["ready"]]
        self.assertTrue(ready)
        for pack in ready:
            at = pack["ready_at_s"] / 3600
            self.assertTrue(20.5 <= at <= 23.51 or at >= 30, pack)
        self.write("day.toml", DAY)
        text = self.run_here("recharge", "day.toml", *EVENING, "--ics", "n.ics").stdout.decode()
        # 20:30 to 06:30 in 60 columns: ten minutes a column, so nobody is there in columns 18 to 56.
        bars = [line[19:] for line in text.splitlines() if line.startswith("charger ") and "[" in line]
        self.assertEqual(len(bars), 2)
        for bar in bars:
            self.assertNotIn("=", bar[18:57])
        self.assertTrue(any(set(bar[18:57].strip()) == {"-"} for bar in bars), bars)
        lines = (self.path / "n.ics").read_bytes().decode().replace("\r\n ", "").replace("\\", "")
        for start, words in (("20261125T233000", "charger off, nobody is there"), ("20261126T060000", "charger on again")):
            entry = [one for one in lines.split("BEGIN:VEVENT") if "DTSTART:" + start in one]
            self.assertEqual(len(entry), 1, start)
            self.assertIn(words, entry[0])

    def test_nothing_goes_in_as_the_last_one_leaves(self):
        # One pack, two to three hours, and a long morning: it goes in when somebody is back, not on the way out.
        one = edited(DAY, 'labels = ["P1", "P2", "P3", "P4"]', 'label = "P1"')
        one = edited(one, 'packs = ["P1", "P2", "P3", "P4"]', 'packs = ["P1"]')
        answer = recharge(one, "--from", "20:30", "--until", "12:00", "--there", "21:00-23:00, 07:00-11:30")
        self.assertEqual([stay["in_s"] / 3600 for stay in answer["stays"]], [31.0])
        self.assertEqual(answer["needed_ready"], 1)

    def test_nickel_is_done_in_the_evening(self):
        # Only lithium ages faster full: nickel cells that the evening is long enough for are not left for the morning.
        # 70 % of four cells at a quick charger's 1 to 2 A: one to three hours.
        nickel = DAY + """
[[pack]]
label = "cells"
kind = "aa-nimh-lsd-x4"
charge = "30 %"
[[charger]]
name = "cell charger"
kind = "charger-aa-4-quick"
place = "indoors"
"""
        stay = [one for one in recharge(nickel, *EVENING)["stays"] if one["pack"] == "cells"]
        self.assertEqual(len(stay), 1)
        self.assertEqual(stay[0]["in_s"], 20.5 * 3600)
        self.assertLess(stay[0]["full_s"], 23.5 * 3600)

    def test_asleep_in_the_room_all_are_ready_and_nobody_gets_up(self):
        answer = recharge(DAY, *EVENING, "--asleep", "yes")
        self.assertEqual(answer["needed_ready"], answer["needed"])
        self.assertEqual(answer["get_up_s"], [])
        self.assertTrue(answer["again_reaches"])
        # Moves only while somebody is awake.
        for stay in answer["stays"]:
            for at in (stay["in_s"], stay["out_s"]):
                self.assertTrue(20.5 * 3600 <= at <= 23.5 * 3600 + 1 or at >= 30 * 3600 - 1, at)
        text = run("recharge", "-", *EVENING, "--asleep", "yes", stdin=DAY.encode()).stdout.decode()
        self.assertIn("never to charge lithium packs while you sleep", text)
        self.assertIn("smoke alarm", text)
        for line in text.splitlines():
            self.assertLessEqual(len(line), 80, line)

    def test_one_bay_makes_somebody_get_up_or_more_bays(self):
        one = edited(DAY, 'kind = "charger-smart-2"', 'kind = "charger-smart-1"')
        stay = recharge(one, *EVENING, "--asleep", "yes", "--get-up", "0")
        up = recharge(one, *EVENING, "--asleep", "yes", "--get-up", "1")
        self.assertLess(stay["needed_ready"], stay["needed"])
        self.assertGreaterEqual(up["needed_ready"], stay["needed_ready"])
        self.assertLessEqual(len(up["get_up_s"]), 1)
        help_kinds = {one["kind"] for one in stay["help"]}
        self.assertIn("bay", help_kinds)

    def test_no_bay_holds_two_packs_and_no_pack_is_in_two_bays(self):
        answer = recharge(DAY, *EVENING, "--asleep", "yes")
        for a in answer["stays"]:
            for b in answer["stays"]:
                if a is b or a["out_s"] <= b["in_s"] or b["out_s"] <= a["in_s"]:
                    continue
                self.assertNotEqual(a["pack"], b["pack"])
                self.assertNotEqual((a["charger"], a["bay"]), (b["charger"], b["bay"]))

    def test_energy_from_the_supply(self):
        # Chargers give 80 to 88 % of what they take (from memory): what is stored is less than what is taken by that much.
        for stay in recharge(DAY, *EVENING)["stays"]:
            self.assertGreater(stay["taken_wh"], stay["put_in_wh"] / 0.9)
            self.assertLess(stay["taken_wh"], stay["put_in_wh"] / 0.75)
            self.assertLess(stay["stored_wh"], stay["put_in_wh"])

    def test_a_small_inverter_feeds_one_bay_at_a_time(self):
        # 3 A x 16.8 V / 0.85 = 59 W a bay.
        both = recharge(DAY, *EVENING, "--asleep", "yes", "--watts", "130 W")
        one = recharge(DAY, *EVENING, "--asleep", "yes", "--watts", "70 W")
        none = recharge(DAY, *EVENING, "--asleep", "yes", "--watts", "40 W")
        self.assertEqual(none["stays"], [])
        self.assertLessEqual(one["needed_ready"], both["needed_ready"])
        for a in one["stays"]:
            for b in one["stays"]:
                if a is not b:
                    self.assertTrue(min(a["full_s"] or a["out_s"], a["out_s"]) <= b["in_s"] + 1
                                    or min(b["full_s"] or b["out_s"], b["out_s"]) <= a["in_s"] + 1)

    def test_nothing_charges_in_the_frost(self):
        frost = edited(DAY, 'place = "indoors"', 'place = "open"').replace('air = "20 °C"', 'air = "-5 °C"')
        answer = recharge(frost, *EVENING)
        self.assertEqual(answer["stays"], [])
        self.assertIn("too_cold", {pack["why"] for pack in answer["packs"]})
        self.assertIn("warmth", {one["kind"] for one in answer["help"]})

    def test_shared_current_takes_longer(self):
        shared = edited(DAY, 'kind = "charger-smart-2"', 'kind = "charger-smart-2"\ntogether = "3 A"')
        turn = edited(shared, 'together = "3 A"', 'feeds = "in turn"')
        alone = recharge(DAY, *EVENING, "--asleep", "yes")
        for text in (shared, turn):
            answer = recharge(text, *EVENING, "--asleep", "yes")
            self.assertLessEqual(answer["needed_ready"], alone["needed_ready"])
            whole = sum((stay["full_s"] or stay["out_s"]) - stay["in_s"] for stay in answer["stays"])
            self.assertGreater(whole, sum((stay["full_s"] or stay["out_s"]) - stay["in_s"] for stay in alone["stays"]))

    def test_nickel_cells_one_a_bay(self):
        nickel = DAY + """
[[pack]]
label = "cells"
kind = "aa-nimh-lsd-x8"
charge = "30 %"
[[charger]]
name = "cell charger"
kind = "charger-aa-4-quick"
place = "indoors"
"""
        stays = [stay for stay in recharge(nickel, *EVENING)["stays"] if stay["pack"] == "cells"]
        self.assertEqual({stay["cells"] for stay in stays}, {4})
        self.assertEqual(sorted(stay["label"] for stay in stays), ["cells, 1 of 2", "cells, 2 of 2"])
        for stay in stays:
            # 115 to 140 % put in (from memory).
            self.assertTrue(1.15 <= stay["put_in_ah"] / stay["stored_ah"] <= 1.40)

    def test_in_the_day(self):
        # Over the meal, packs at work stay at work.
        day = edited(DAY, 'name = "day"\nfrom = "08:00"\nair = "20 °C"\n', 'name = "day"\nfrom = "08:00"\nair = "20 °C"\nlive = ["charger"]\n')
        answer = recharge(day, "--from", "13:00", "--until", "14:00")
        labels = {pack["label"] for pack in answer["packs"]}
        self.assertEqual(len(labels), 3)
        self.assertIsNone(answer["again_reaches"])
        self.assertTrue(answer["stays"])

    def test_rest_in_the_day_file(self):
        said = DAY + '[rest]\nfrom = "20:30"\nuntil = "06:30"\nthere = ["20:30-23:30", "06:00-06:30"]\nasleep = true\n'
        self.assertEqual(recharge(said), recharge(DAY, *EVENING, "--asleep", "yes"))

    def test_a_needed_charge_is_enough(self):
        answer = recharge(DAY, *EVENING, "--to", "80 %")
        full = recharge(DAY, *EVENING)
        self.assertGreaterEqual(answer["needed_ready"], full["needed_ready"])
        for pack in answer["packs"]:
            if pack["ready"]:
                self.assertGreaterEqual(pack["charge"], 0.795)

    def test_left_outranks_the_forecast(self):
        answer = recharge(DAY, *EVENING, "--left", "P1=42 %")
        self.assertEqual({pack["left"] for pack in answer["packs"] if pack["label"] == "P1"}, {0.42})

    def test_picture_and_calendar(self):
        self.write("day.toml", DAY)
        result = self.run_here("recharge", "day.toml", *EVENING, "--asleep", "yes", "--svg", "n.svg", "--ics", "n.ics")
        self.assertEqual(result.returncode, 0, result.stderr)
        xml.dom.minidom.parse(str(self.path / "n.svg"))
        lines = (self.path / "n.ics").read_bytes().decode().replace("\r\n ", "").split("\r\n")
        self.assertIn("BEGIN:VALARM", lines)
        starts = [line for line in lines if line.startswith("DTSTART:")]
        self.assertTrue(all(re.fullmatch(r"DTSTART:202611(25|26)T\d{6}", line) for line in starts), starts)
        self.assertIn("DTSTART:20261125T203000", starts)

    def test_demo_fits_its_columns(self):
        result = run("recharge", str(ROOT / "examples" / "saltmarsh-ferry.toml"), *EVENING)
        self.assertEqual(result.returncode, 1)
        for line in result.stdout.decode().splitlines():
            self.assertLessEqual(len(line), 80, line)

    def test_bad_words(self):
        for words, told in (
            ((), "who is there when"),
            (("--there", "late"), "two times"),
            (("--there", "12:00-13:00"), "nobody is at the chargers"),
            ((*EVENING, "--asleep", "maybe"), "yes or no"),
            ((*EVENING, "--watts", "0 W"), "out of range"),
            ((*EVENING, "--to", "150 %"), "out of range"),
            ((*EVENING, "--left", "P9=20 %"), "no pack is labelled"),
            ((*EVENING, "--left", "P1"), "no charge"),
        ):
            result = run("recharge", "-", *words, stdin=DAY.encode("utf-8"))
            self.assertEqual(result.returncode, 2, words)
            self.assertEqual(result.stdout, b"")
            self.assertIn(told, result.stderr.decode())
            self.assertEqual(len(result.stderr.decode().splitlines()), 1)
        for line, told in (
            ('there = "23:30"', "two times"),
            ('there = [5]', "stretch"),
            ("get_up = 3", "get_up"),
            ('place = "moon"', "no place"),
            ('until_s = "x"', "until"),
        ):
            result = run("recharge", "-", stdin=(DAY + "[rest]\n" + line + "\n").encode("utf-8"))
            self.assertEqual(result.returncode, 2, line)
            self.assertIn(told, result.stderr.decode())


if __name__ == "__main__":
    unittest.main()
