"""tillwrap remedies from outside: what a step is said to buy is what the same edit of the day file by hand buys."""

import json
import re
import tomllib
import unittest

import jsonschema
from support import ROOT, Folder, run

EXAMPLES = ROOT / "examples"
BARREL = (EXAMPLES / "bank-on-a-barrel.toml").read_text(encoding="utf-8")
AA_ONLY = (EXAMPLES / "aa-only.toml").read_text(encoding="utf-8")

# Two things that share nothing, each an hour or more short: no single step can be enough.
TWO_SHORT = (ROOT / "tests/remedies/two-short.toml").read_text(encoding="utf-8")

# One cup and one pack, nothing else short.
ONE_CUP = TWO_SHORT.replace('draw = "0.85 W"', 'draw = "0.1 W"')


def remedies(text, *words):
    result = run("remedies", "-", "--json", *words, stdin=text.encode("utf-8"))
    assert result.stderr == b"", result.stderr
    return result.returncode, json.loads(result.stdout)


def margin_of(text):
    result = run("forecast", "-", "--json", stdin=text.encode("utf-8"))
    assert result.stderr == b"", result.stderr
    return json.loads(result.stdout)["margin_s"]


def replaced(text, *pairs):
    for old, new in pairs:
        assert text.count(old) == 1, (old, text.count(old))
        text = text.replace(old, new)
    return text


def step(answer, kind, *words):
    found = [s for s in answer["remedies"] if s["kind"] == kind and all(word in s["words"] for word in words)]
    assert len(found) == 1, (kind, words, [s["words"] for s in answer["remedies"]])
    return found[0]


class Remedies(Folder):
    @classmethod
    def setUpClass(cls):
        cls.code, cls.barrel = remedies(BARREL)
        cls.aa_code, cls.aa = remedies(AA_ONLY)
        schema = json.loads((ROOT / "schema" / "remedies.schema.json").read_text(encoding="utf-8"))
        jsonschema.Draft202012Validator.check_schema(schema)
        cls.schema = jsonschema.Draft202012Validator(schema)

    def same_as_by_hand(self, one, text):
        self.assertAlmostEqual(one["outcome"]["margin_s"], margin_of(text), delta=1.0, msg=one.get("words", one.get("steps")))

    def test_a_lead_or_a_box_has_a_price(self):
        def kinds(name):
            text = (ROOT / "src" / "catalogue" / "data" / f"{name}.toml").read_text(encoding="utf-8")
            return {kind["id"]: kind for (list_of,) in [tomllib.loads(text).values()] for kind in list_of}

        _, answer = remedies(BARREL)
        (wire,) = tomllib.loads(BARREL)["wire"]
        ends = sum(kinds("connectors")[end]["price_usd"] for end in wire["plugs"])
        cables = [one for one in answer["remedies"] if one["kind"] == "cable"]
        self.assertTrue(cables)
        for one in cables:
            gauge, metres = wire.get("wire", "AWG 22"), float(wire["length"].split()[0])
            if "shorter" in one["words"]:
                metres = float(re.search(r": ([\d.]+) m instead", one["words"])[1])
            else:
                gauge = one["words"].split(": ")[1]
            a_metre = kinds("wires")[gauge.lower().replace(" ", "-")]["price_usd_m"]
            self.assertAlmostEqual(one["money"]["amount"], ends + metres * a_metre, delta=0.02 * a_metre)
            self.assertEqual((one["money"]["currency"], one["money"]["guess"], one["buy"]), ("USD", True, True))
        _, answer = remedies(BARREL + '[settings]\ncurrency = "EUR"\n[prices]\nlead = 40\n')
        for one in answer["remedies"]:
            if one["kind"] in ("cable", "plug"):
                self.assertEqual(one["money"], {"amount": 40.0, "currency": "EUR", "guess": False, "guess_usd": None})
        two_cups = [one for one in remedies(ONE_CUP)[1]["remedies"] if one["kind"] == "two_cups"]
        self.assertTrue(two_cups)
        for one in two_cups:
            box = kinds("boxes")[one["words"].split()[0]]["price_usd"]
            pack = kinds("packs-lithium")["smart-pack-14v4-98wh"]["price_usd"]
            self.assertAlmostEqual(one["money"]["amount"], box + pack)

    def test_base_is_the_forecast(self):
        self.assertAlmostEqual(self.barrel["base"]["margin_s"], margin_of(BARREL), delta=1.0)
        self.assertEqual(self.code, 0)  # there is something that helps enough

    def test_gains_are_those_of_the_edited_day(self):
        self.same_as_by_hand(step(self.barrel, "plug"), replaced(BARREL, ('["barrel-2mm5", "round-lock-4"]', '["barrel-2mm1", "round-lock-4"]')))
        self.same_as_by_hand(step(self.aa, "other_kind", "aa-lithium-x8"), replaced(AA_ONLY, ('"aa-alkaline-x8"', '"aa-lithium-x8"')))
        self.same_as_by_hand(step(self.aa, "warm_holder", "sled"), replaced(AA_ONLY, ('kind = "sled-8aa"\nplace = "open"', 'kind = "sled-8aa"\nplace = "bag"')))
        self.same_as_by_hand(step(self.aa, "pack", "aa-nimh-x8"), replaced(
            AA_ONLY, ('packs = ["set 1", "set 2"]', 'packs = ["set 1", "set 2", "set 3"]'),
            ('[[holder]]\nname = "sled"', '[[pack]]\nlabel = "set 3"\nkind = "aa-nimh-x8"\n[[holder]]\nname = "sled"')))
        self.same_as_by_hand(step(self.aa, "second_input", "aa-lithium-x8"), AA_ONLY + """
[[pack]]
label = "in the tray"
kind = "aa-lithium-x8"
spare = "open"
[[holder]]
name = "tray"
kind = "tray-8aa"
place = "open"
in = "recorder.tray"
packs = ["in the tray"]
""")

    def test_ranked_by_what_they_buy(self):
        for answer in (self.barrel, self.aa):
            self.assertEqual(answer["goal"], "reach_off")
            enough = [s["enough"] for s in answer["remedies"]]
            self.assertEqual(enough, sorted(enough, reverse=True))
            for group in (True, False):
                minutes = [round(s["gain"]["safe_s"] / 60) for s in answer["remedies"] if s["enough"] == group]
                self.assertEqual(minutes, sorted(minutes, reverse=True))
            for s in answer["remedies"]:
                self.assertEqual(s["enough"], s["outcome"]["safe_to_s"] >= answer["off_s"])
                self.assertAlmostEqual(s["gain"]["likely_s"], s["outcome"]["likely_s"] - answer["base"]["likely_s"], places=6)
            self.assertTrue(next(s for s in answer["remedies"] if s["words"] == answer["cheapest"])["enough"])

    def test_the_smallest_set(self):
        code, answer = remedies(TWO_SHORT)
        self.assertEqual(code, 0)
        self.assertFalse([s for s in answer["remedies"] if s["enough"]])
        together = answer["together"]
        self.assertTrue(together["enough"])
        self.assertEqual(len(together["steps"]), 2, together["steps"])
        self.assertGreaterEqual(together["outcome"]["safe_to_s"], answer["off_s"])
        # The pair of least cost; every pair listed is the day with both edits, not a sum.
        pairs = answer["pairs"]
        self.assertEqual(pairs["best"][0]["steps"], together["steps"])
        self.assertTrue(pairs["complete"])
        self.assertEqual(pairs["tried"], pairs["all"])
        self.assertLessEqual(pairs["drawn"] + pairs["exclude"], pairs["tried"])
        # What the bag's step gives shows only once the body-pack lasts: the sum of the gains alone would not tell.
        alone = {s["words"]: s["gain"]["safe_s"] for s in answer["remedies"]} | {words: 0.0 for words in answer["no_help"]}
        self.assertGreater(together["gain"]["safe_s"], sum(alone[words] for words in together["steps"]) + 3600)
        self.schema.validate(answer)

    def test_a_pair_is_the_day_with_both_edits(self):
        _, answer = remedies(TWO_SHORT)
        pair = next(p for p in answer["pairs"]["best"] if set(p["steps"]) == {
            "one more pack for door: aa-lithium-x2", "one more pack for cup: smart-pack-14v4-98wh"})
        self.same_as_by_hand(pair, replaced(
            TWO_SHORT, ('packs = ["A-1"]', 'packs = ["A-1", "A-2"]'), ('packs = ["C1"]', 'packs = ["C1", "C2"]'),
            ('[[pack]]\nlabel = "C1"', '[[pack]]\nlabel = "C2"\nkind = "smart-pack-14v4-98wh"\n'
             '[[pack]]\nlabel = "A-2"\nkind = "aa-lithium-x2"\n[[pack]]\nlabel = "C1"')))

    def test_chargers_for_what_a_step_adds(self):
        """A pack more, or packs of another kind, with the chargers they take beyond what the day takes already."""
        prices = {c["id"]: c for c in tomllib.loads((ROOT / "src" / "catalogue" / "data" / "chargers.toml").read_text(encoding="utf-8"))["charger"]}
        _, answer = remedies(TWO_SHORT, "--all")
        seen = set()
        for step in answer["remedies"]:
            need = step["chargers"]
            if need is None:
                self.assertFalse(step["kind"] in ("pack", "other_kind") and "smart-pack" in step["words"], step)
                continue
            seen.add(step["kind"])
            self.assertTrue(need["enough"])
            if need["kind"] is None:
                self.assertEqual((need["add"], need["price"]["amount"]), (0, 0.0))
                continue
            kind = prices[need["kind"]]
            self.assertEqual(need["bays"], need["add"] * kind["bays"])
            self.assertAlmostEqual(need["price"]["amount"], need["add"] * kind["price_usd"])
            self.assertAlmostEqual(need["mass_kg"], need["add"] * kind["mass_kg"])
            self.assertGreaterEqual(step["money"]["amount"], need["price"]["amount"])
        self.assertIn("pack", seen)
        self.schema.validate(answer)
        # One more of the same, against the night of the day with that edit made by hand: one bay of 2 A has time for both packs
        # only where somebody stays long enough.
        def ready(text, there):
            night = json.loads(run("recharge", "-", "--json", "--there", there, stdin=text.encode("utf-8")).stdout)
            return night["needed_ready"] == night["needed"]

        found = set()
        for until in ("22:15", "23:45", "01:30"):
            there = f"18:00-{until}"
            own = TWO_SHORT.replace('"aa-alkaline-x2"', '"aa-lithium-x2"') + (
                '[[charger]]\nname = "mine"\nkind = "charger-smart-1"\nplace = "indoors"\n')
            with_it = replaced(own, ('packs = ["C1"]', 'packs = ["C1", "C2"]'),
                               ('[[pack]]\nlabel = "C1"', '[[pack]]\nlabel = "C2"\nkind = "smart-pack-14v4-98wh"\n[[pack]]\nlabel = "C1"'))
            _, answer = remedies(own + f'[rest]\nthere = "{there}"\n', "--all")
            step = next(s for s in answer["remedies"] if s["words"] == "one more pack for cup: smart-pack-14v4-98wh")
            need = step["chargers"]
            self.assertEqual((need["packs"], need["own_bays"], need["hours_assumed"]), (2, 1, False))
            if ready(with_it, there):
                self.assertEqual((need["add"], need["kind"]), (0, None))
            elif ready(own, there):
                self.assertGreater(need["add"], 0)
            found.add(need["add"] > 0)
        self.assertEqual(found, {False, True})

    def test_pairs_cut_short_say_so(self):
        code, answer = remedies(TWO_SHORT, "--pairs", "3")
        self.assertEqual(answer["pairs"]["tried"], 3)
        self.assertFalse(answer["pairs"]["complete"])
        left_out = answer["pairs"]["all"] - 3
        self.assertEqual(answer["pairs"]["left_out"], left_out)
        self.assertIn(f"{left_out} left out, those of the steps that help least, as at most 3 are tried", answer["pairs"]["words"])
        self.schema.validate(answer)
        code, answer = remedies(TWO_SHORT, "--pairs", "0")
        self.assertEqual((code, answer["pairs"], answer["together"]), (1, None, None))

    def test_one_loss_when_it_lasts(self):
        """With two packs of which one carries the day alone, any one may be dead; with one pack it may not."""
        day = TWO_SHORT.replace('draw = "11 W"', 'draw = "4 W"').replace('wrap = "18:00"', 'wrap = "12:00"').replace(
            '"aa-alkaline-x2"', '"aa-lithium-x2"')
        code, answer = remedies(day)
        self.assertEqual(answer["goal"], "one_loss")
        self.assertFalse(answer["base"]["one_loss"]["holds"])
        # Both the pack and the body-pack's cells are single: it takes a spare of each.
        self.assertEqual(code, 0)
        self.assertTrue(answer["together"]["outcome"]["one_loss"]["holds"])

    def test_schema_and_threads(self):
        for answer in (self.barrel, self.aa):
            self.schema.validate(answer)
        one = run("remedies", "-", "--json", "--threads", "1", stdin=BARREL.encode("utf-8")).stdout
        for threads in ("2", "3"):
            self.assertEqual(run("remedies", "-", "--json", "--threads", threads, stdin=BARREL.encode("utf-8")).stdout, one)

    def test_text_fits_a_terminal(self):
        for text in (BARREL, AA_ONLY, TWO_SHORT):
            out = run("remedies", "-", "--all", stdin=text.encode("utf-8")).stdout.decode("utf-8")
            self.assertLessEqual(max(len(line) for line in out.splitlines()), 80)
            self.assertIn("steps computed", out)

    def test_bad_words(self):
        result = self.run_here("remedies", "missing.toml")
        self.assert_refused(result, "missing.toml")
        result = run("remedies", "-", "--days", "3", stdin=BARREL.encode("utf-8"))
        self.assertEqual((result.returncode, result.stdout), (2, b""))


if __name__ == "__main__":
    unittest.main()
