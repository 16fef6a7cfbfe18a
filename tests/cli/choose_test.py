"""tillwrap choose from outside: facts of the trade, what is missing, its schema, bad words."""

import json
import unittest

import jsonschema
from support import ROOT, Folder, edited, run

DAY = """format = 1
title = "Two packs"
[day]
call = "08:00"
wrap = "16:00"
[[pack]]
labels = ["P1", "P2", "P3", "P4"]
kind = "smart-pack-14v4-98wh"
[[holder]]
name = "cup"
kind = "cup-smart-14v4"
in = "box"
packs = ["P1", "P2"]
[[box]]
name = "box"
kind = "box-1cup"
draw = "0.5 W"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "18.5 W"
[[wire]]
from = "box.out-1"
to = "recorder.dc"
length = "0.5 m"
wire = "AWG 18"
[[period]]
name = "morning"
from = "08:00"
air = "20 °C"
no_hands = ["bag"]
[[period]]
name = "meal"
from = "12:00"
air = "20 °C"
[[period]]
name = "afternoon"
from = "12:45"
air = "20 °C"
no_hands = ["bag"]
"""

SCHEMA = json.loads((ROOT / "schema" / "choose.schema.json").read_text(encoding="utf-8"))


def choose(text, *words):
    result = run("choose", "-", "--json", "--fresh", "2000", *words, stdin=text.encode("utf-8"))
    assert result.stderr == b"", result.stderr
    answer = json.loads(result.stdout)
    jsonschema.validate(answer, SCHEMA)
    assert result.returncode == (0 if answer["feasible"] else 1)
    return answer


class Choose(Folder):
    def test_two_packs_a_day_changed_at_lunch(self):
        # Common practice: a 98 Wh pack carries a 16 to 24 W bag for 4 to 6 h, two of them a day, changed at lunch.
        answer = choose(DAY)
        self.assertTrue(answer["feasible"], answer["reasons"])
        # Proven only where the search's tables and whole days agree on every day; no plan costs less either way (below).
        self.assertEqual(answer["proven_best"], answer["days_differ"] == 0, answer["reasons"])
        (cup,) = answer["assignments"]
        self.assertEqual(len(cup["packs"]), 2)
        self.assertEqual(len({pack["label"] for pack in cup["packs"]}), 2)
        change = cup["packs"][1]
        self.assertGreaterEqual(change["in_at_s"], 12 * 3600)
        self.assertLess(change["last_safe_s"], 12.75 * 3600)
        self.assertGreaterEqual(change["last_safe_s"], change["in_at_s"])
        self.assertEqual(answer["days_needed"], 495)
        self.assertGreaterEqual(answer["days_covered"], 495)
        self.assertGreaterEqual(answer["probability"], 0.95)
        self.assertEqual(answer["cost"], answer["bound"])
        self.assertEqual(len(answer["home"]), 2)

    def test_a_light_bag_needs_one(self):
        # 98 Wh at 9.5 W is ten hours and more.
        answer = choose(edited(('draw = "18.5 W"', 'draw = "9 W"'), base=DAY))
        self.assertEqual(answer["cost"]["changes"], 0)
        self.assertEqual(answer["cost"]["packs"], 1)

    def test_one_loss_takes_a_spare(self):
        without = choose(DAY)
        self.assertFalse(without["one_loss"])
        answer = choose(DAY, "--one-loss")
        self.assertTrue(answer["feasible"], answer["reasons"])
        self.assertTrue(answer["one_loss"])
        self.assertEqual(len(answer["spares"]), 1)
        self.assertEqual(answer["cost"]["packs"], 3)
        self.assertTrue(all(one["holds"] and one["days_covered"] >= 495 for one in answer["stand_ins"]))

    def test_the_overrun_counts_when_asked(self):
        answer = choose(DAY, "--overrun", "2 h")
        self.assertEqual(answer["end_s"], 18 * 3600)
        self.assertFalse(answer["feasible"])  # 19 W for 5 h 15 min is more than 98 Wh, and hands come at lunch only
        self.assertEqual(answer["missing"][0]["holder"], "cup")

    def test_says_what_is_missing_and_what_to_add(self):
        answer = choose(edited(('labels = ["P1", "P2", "P3", "P4"]', 'labels = ["P1"]'), ('packs = ["P1", "P2"]', 'packs = ["P1"]'), base=DAY))
        self.assertFalse(answer["feasible"])
        (missing,) = answer["missing"]
        self.assertEqual(missing["holder"], "cup")
        # One pack gives it 4 to 6 h (common practice).
        self.assertGreater(missing["from_s"], (8 + 4) * 3600)
        self.assertLess(missing["from_s"], (8 + 6) * 3600)
        self.assertIn(["smart-pack-14v4-98wh"], [one["kinds"] for one in answer["additions"]])
        # Truly enough: with that pack there is a plan.
        more = choose(edited(('labels = ["P1", "P2", "P3", "P4"]', 'labels = ["P1", "P2"]'), base=DAY))
        self.assertTrue(more["feasible"])

    def test_another_pack_never_makes_it_worse(self):
        order = ("changes", "packs", "grams", "cents", "wear")
        costs = []
        for labels in ('["P1", "P2"]', '["P1", "P2", "P3"]', '["P1", "P2", "P3", "P4"]'):
            answer = choose(edited(('["P1", "P2", "P3", "P4"]', labels), base=DAY))
            costs.append([answer["cost"][key] for key in order])
        self.assertEqual(costs, sorted(costs, reverse=True))

    def test_times_of_the_file_are_free(self):
        answer = choose(edited(('packs = ["P1", "P2"]', 'packs = ["P1", { pack = "P2", at = "09:00" }]'), base=DAY))
        self.assertTrue(any("taken as free" in reason for reason in answer["reasons"]))
        self.assertGreaterEqual(answer["assignments"][0]["packs"][1]["in_at_s"], 12 * 3600)

    def test_same_bytes_with_any_number_of_threads(self):
        texts = {run("choose", "-", "--fresh", "1000", "--threads", n, stdin=DAY.encode("utf-8")).stdout for n in ("1", "2", "5")}
        self.assertEqual(len(texts), 1)
        lines = texts.pop().decode("utf-8").splitlines()
        self.assertLessEqual(max(len(line) for line in lines), 80)

    def test_bad_words(self):
        self.write("day.toml", DAY)
        no_packs = DAY.replace('[[pack]]\nlabels = ["P1", "P2", "P3", "P4"]\nkind = "smart-pack-14v4-98wh"\n', "").replace('packs = ["P1", "P2"]', "packs = []")
        self.write("no-packs.toml", no_packs)
        self.write("optional.toml", DAY.replace('draw = "18.5 W"', 'draw = "18.5 W"\nneed = "optional"'))
        for words, parts in [
            (("day.toml", "--sure", "1.5"), ("--sure", "0 to 1")),
            (("day.toml", "--sure", "1"), ("--sure", "0.999")),
            (("day.toml", "--sure", "0"), ("--sure", "above 0")),
            (("day.toml", "--sure=-0.2"), ("--sure",)),
            (("day.toml", "--sure", "nan"), ("--sure",)),
            (("day.toml", "--sure", "soon"), ("--sure",)),
            (("day.toml", "--overrun", "2 W"), ("--overrun", "h, min, s")),
            (("day.toml", "--overrun", "40 h"), ("--overrun", "12 h")),
            (("no-packs.toml",), ("no-packs.toml", "pack")),
            (("optional.toml",), ("optional.toml:", "need")),
            (("gone.toml",), ("gone.toml",)),
        ]:
            with self.subTest(words=words):
                result = self.run_here("choose", *words)
                said = result.stderr.decode("utf-8")
                self.assertEqual(result.returncode, 2, said)
                self.assertEqual(result.stdout, b"")
                self.assertEqual(said.count("\n"), 1, said)
                for part in parts:
                    self.assertIn(part, said)


if __name__ == "__main__":
    unittest.main()
