"""tillwrap compare from outside: hours against facts of the trade, money by hand, options that do not go together."""

import json
import re
import tomllib
import unittest

import jsonschema
from support import ROOT, Folder, place_of, run

DAY = """format = 1
title = "Same load"
[day]
call = "08:00"
wrap = "18:00"
[[pack]]
labels = ["P1", "P2", "P3"]
kind = "smart-pack-14v4-98wh"
[[holder]]
name = "cup"
kind = "cup-smart-14v4"
in = "box"
packs = ["P1", "P2", "P3"]
[[box]]
name = "box"
kind = "box-1cup"
draw = "0.5 W"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "LOAD W"
[[wire]]
from = "box.out-1"
to = "recorder.dc"
length = "0.5 m"
wire = "AWG 18"
[[period]]
name = "indoors"
from = "08:00"
air = "20 °C"
"""


def day(load_w):
    return DAY.replace("LOAD", f"{load_w:g}")


def compare(text, *words):
    result = run("compare", "-", "--json", *words, stdin=text.encode("utf-8"))
    assert result.stderr == b"", result.stderr
    return json.loads(result.stdout)


def likely_h(answer, name):
    one = next(o for o in answer["options"] if o["name"] == name)
    return one["lasts"]["likely_s"] / 3600, one["lasts"]["mean_w"]


class Compare(Folder):
    @classmethod
    def setUpClass(cls):
        cls.answer = compare(day(15))
        schema = json.loads((ROOT / "schema" / "compare.schema.json").read_text(encoding="utf-8"))
        jsonschema.Draft202012Validator.check_schema(schema)
        cls.schema = jsonschema.Draft202012Validator(schema)

    def test_hours_are_those_of_the_trade(self):
        """Common practice, no source: 150 Wh are about 10 h at 15 W; a 98 Wh pack 4 to 6 h at 16 to 24 W; a small 12 V bank
        3 to 4 h at 10 to 15 W."""
        hours, watts = likely_h(self.answer, "plate-pack-14v4-150wh")
        self.assertTrue(14.0 < watts < 17.0, watts)
        self.assertAlmostEqual(hours * watts / 15.0, 10.0, delta=1.0)
        hours, watts = likely_h(compare(day(20)), "smart-pack-14v4-98wh")
        self.assertTrue(16.0 < watts < 24.0, watts)
        self.assertTrue(4.0 <= hours <= 6.0, hours)
        hours, watts = likely_h(compare(day(11.5)), "bank-12v-barrel")
        self.assertTrue(10.0 < watts < 15.0, watts)
        self.assertTrue(3.0 <= hours <= 4.0, hours)

    def test_small_packs_are_those_of_the_trade(self):
        """Common practice, no source: two 7.2 V slide-on packs run a recorder for about 3 h at 10 to 15 W; a busy 8-input
        recorder on eight alkaline AA does not reach a full hour."""
        inside = DAY.replace("cup-smart-14v4", "plate-slide-on-7v2").replace("smart-pack-14v4-98wh", "slide-on-7v2-small")
        inside = inside.replace('in = "box"', 'in = "recorder.slide-on-left"').replace("recorder-mixer-8", "recorder-mixer-6").replace("LOAD", "10.5")
        start, end = inside.index("[[box]]"), inside.index("[[device]]")
        inside = inside[:start] + inside[end:]
        start, end = inside.index("[[wire]]"), inside.index("[[period]]")
        inside = inside[:start] + inside[end:]
        hours, watts = likely_h(compare(inside), "slide-on-7v2-small")
        self.assertTrue(10.0 < watts < 15.0, watts)
        self.assertAlmostEqual(2 * hours, 3.0, delta=0.4)
        tray = inside.replace("plate-slide-on-7v2", "tray-8aa").replace("slide-on-7v2-small", "aa-alkaline-x8")
        tray = tray.replace("recorder.slide-on-left", "recorder.tray").replace("recorder-mixer-6", "recorder-mixer-8").replace("10.5 W", "12 W")
        one = next(o for o in compare(tray)["options"] if o["name"] == "aa-alkaline-x8")
        self.assertGreater(one["lasts"]["safe_s"], 15 * 60)
        self.assertLess(one["lasts"]["likely_s"], 3600)

    def test_the_demo_day_has_its_own_pack_among_them(self):
        """Rigging on mains before call, a bridging tray, a locked boot: 98 Wh at about 19 W are 4 to 6 h (common practice)."""
        text = (ROOT / "examples" / "saltmarsh-ferry.toml").read_text(encoding="utf-8")
        answer = compare(text)
        self.assertEqual(answer["holder"], "cup")
        one = next(o for o in answer["options"] if o["name"] == "smart-pack-14v4-98wh")
        self.assertTrue(4.0 <= one["lasts"]["likely_s"] / 3600 <= 6.0, one["lasts"])

    def test_no_pack_gives_more_than_its_label(self):
        """Energy: hours times mean watts is at most what the label says, and a little for the fresh cell's surplus (the
        2.9 Ah cell of an open set gives 2.995 Ah slowly: 3 %)."""
        labels = {pack["id"]: pack["values"]["rated_wh"] for pack in json.loads(run("catalogue", "packs", "--json").stdout)["entries"]}
        self.assertGreater(len(self.answer["options"]), 8)
        for one in self.answer["options"]:
            wh = one["lasts"]["likely_s"] / 3600 * one["lasts"]["mean_w"]
            self.assertLess(wh, 1.06 * labels[one["pack"]], one["name"])

    def test_what_the_day_has_agrees_with_its_forecast(self):
        one = next(o for o in self.answer["options"] if o["now"])
        self.assertEqual(one["name"], "smart-pack-14v4-98wh")
        text = day(15)
        labels = ", ".join(f'"P{k + 1}"' for k in range(one["packs"]))
        text = text.replace('labels = ["P1", "P2", "P3"]', f"labels = [{labels}]").replace('packs = ["P1", "P2", "P3"]', f"packs = [{labels}]")
        forecast = json.loads(run("forecast", "-", "--json", stdin=text.encode("utf-8")).stdout)
        drawn = ["--days", str(self.answer["drawn_days"])]
        odds = json.loads(run("odds", "-", "--json", *drawn, stdin=text.encode("utf-8")).stdout)
        self.assertAlmostEqual(one["margin_s"]["likely"], odds["margin_s"]["p50"], delta=1.0)
        self.assertAlmostEqual(one["margin_s"]["safe"], min(odds["margin_s"]["p10"], forecast["margin_s"]), delta=1.0)
        before_off = [c for c in forecast["changes"] if c["holder"] == "cup" and c["out"] and c["at_s"] < forecast["off_s"]]
        self.assertEqual(one["changes"], len(before_off))

    def test_a_bank_is_asked_for_the_level_that_what_it_feeds_takes(self):
        """A hand recorder takes 5.5 V at most, so a PD bank serves it at 5 V: 74 Wh by its label into 2 W and the bank's own 0.3 W are
        at most 33 h, and more than half of that."""
        reporter = """format = 1
[day]
call = "08:00"
wrap = "18:00"
[[pack]]
label = "B"
kind = "usb-bank-pd"
pd = "5 V"
[[holder]]
name = "pouch"
kind = "pouch-usb"
packs = ["B"]
[[device]]
name = "recorder"
kind = "recorder-2"
draw = "2 W"
[[wire]]
from = "pouch"
to = "recorder.dc"
length = "0.3 m"
[[period]]
name = "hall"
from = "08:00"
air = "20 °C"
"""
        for text in (reporter, reporter.replace('usb-bank-pd"\npd = "5 V"', 'usb-bank-5v"')):
            result = run("compare", "-", "--json", stdin=text.encode("utf-8"))
            options = {one["name"]: one for one in json.loads(result.stdout)["options"]}
            self.assertIn("usb-bank-pd", options)
            self.assertEqual(options["usb-bank-pd"]["now"], "usb-bank-pd" in text)
            hours = options["usb-bank-pd"]["lasts"]["likely_s"] / 3600
            self.assertTrue(16 < hours < 33, hours)

    def test_order_and_counts(self):
        makes = [o["makes_the_day"] for o in self.answer["options"]]
        self.assertEqual(makes, sorted(makes, reverse=True))
        key = [(o["changes"], o["a_day"]["amount"]) for o in self.answer["options"] if o["makes_the_day"]]
        self.assertEqual(key, sorted(key))
        for one in self.answer["options"]:
            if one["makes_the_day"]:
                self.assertGreaterEqual(one["margin_s"]["safe"], 0.0)
                self.assertGreaterEqual(one["packs_one_loss"] or one["packs"], one["packs"])
                if not one["disposable"]:
                    gear = sum(thing["price"]["amount"] for thing in one["gear"]) + one["chargers"]["price"]["amount"]
                    self.assertAlmostEqual(one["buy"]["amount"], one["packs"] * one["price_each"]["amount"] + gear, places=6)
                    self.assertGreaterEqual(one["a_day"]["amount"], one["buy"]["amount"] / self.answer["days"] - 1e-9)

    def full_by_call(self, one, chargers, there):
        """`tillwrap recharge` on the day with that option's packs and so many of its charger: are all that were used full?"""
        labels = ", ".join(f'"P{k + 1}"' for k in range(one["packs"]))
        text = day(15).replace('labels = ["P1", "P2", "P3"]', f"labels = [{labels}]").replace('packs = ["P1", "P2", "P3"]', f"packs = [{labels}]")
        text += "".join(f'[[charger]]\nname = "charger {k}"\nkind = "{one["chargers"]["kind"]}"\nplace = "indoors"\n' for k in range(chargers))
        result = run("recharge", "-", "--json", "--there", there, stdin=text.encode("utf-8"))
        self.assertEqual(result.stderr, b"")
        answer = json.loads(result.stdout)
        return answer["needed_ready"] == answer["needed"]

    def test_chargers_are_as_many_as_the_night_needs(self):
        """Off at 18:00, call at 08:00: hands from 18 to 22 h and from 7 to 8 h, as nothing is said. By hand: a 98 Wh pack is 6.8 Ah,
        at most 3 A go in, so each takes 2 h 16 min at least and a bay fills one in the evening and, taper and all, hardly two."""
        one = next(o for o in self.answer["options"] if o["now"])
        need = one["chargers"]
        self.assertEqual((need["own_bays"], need["enough"], need["overnight"], need["hours_assumed"]), (0, True, False, True))
        self.assertEqual((need["from_s"], need["until_s"]), (18 * 3600, 32 * 3600))
        self.assertGreaterEqual(2 * need["bays"], need["packs"])
        self.assertTrue(self.full_by_call(one, need["add"], "18:00-22:00, 07:00-08:00"))
        if need["add"] > 1:
            self.assertFalse(self.full_by_call(one, need["add"] - 1, "18:00-22:00, 07:00-08:00"))
        # Somebody there for less: more of them, and they cost and weigh more. All night: fewer or as many.
        counts = {}
        for there in ("18:00-20:45", "18:00-22:00", "18:00-08:00"):
            rest = f'[rest]\nthere = "{there}"\n'
            other = next(o for o in compare(day(18) + rest)["options"] if o["now"])
            counts[there] = other["chargers"]
            self.assertFalse(other["chargers"]["hours_assumed"])
        bays = [counts[there]["bays"] for there in counts]
        self.assertEqual(bays, sorted(bays, reverse=True))
        self.assertGreater(bays[0], bays[-1])
        masses = [counts[there]["mass_kg"] for there in counts]
        self.assertEqual(masses, sorted(masses, reverse=True))

    def test_chargers_at_hand_count(self):
        own = day(15) + '[[charger]]\nname = "mine"\nkind = "charger-smart-2"\n[[charger]]\nname = "mine too"\nkind = "charger-smart-2"\n'
        one = next(o for o in compare(own)["options"] if o["now"])
        self.assertEqual((one["chargers"]["own_bays"], one["chargers"]["add"], one["chargers"]["kind"]), (4, 0, None))
        other = next(o for o in compare(own)["options"] if o["name"] == "plate-pack-14v4-150wh")
        self.assertEqual(other["chargers"]["own_bays"], 0)
        self.assertGreater(other["chargers"]["add"], 0)
        self.assertIsNone(next(o for o in self.answer["options"] if o["disposable"])["chargers"])
        said = " ".join(run("compare", "-", stdin=own.encode("utf-8")).stdout.decode("utf-8").split())
        self.assertIn("charging: the 4 bays at hand", said)
        self.assertIn("full again by 08:00", said)

    def test_your_price_is_yours(self):
        text = day(15).replace('kind = "smart-pack-14v4-98wh"', 'kind = "smart-pack-14v4-98wh"\nprice = 199') + '[settings]\ncurrency = "EUR"\n'
        answer = compare(text)
        one = next(o for o in answer["options"] if o["now"])
        self.assertEqual(one["price_each"], {"amount": 199.0, "currency": "EUR", "guess": False, "guess_usd": None})
        self.assertTrue(all(o["price_each"]["guess"] for o in answer["options"] if not o["now"]))

    def test_named_options(self):
        self.write("day.toml", day(15))
        self.write("options.toml", """
[[option]]
name = "as now, two years old"
pack = "smart-pack-14v4-98wh"
count = 3
health = "85 %"
[[option]]
name = "two cups"
pack = "smart-pack-14v4-98wh"
box = "box-2cup"
count = 3
price = 240
[[option]]
name = "cinema plate"
pack = "plate-pack-14v4-150wh"
wires = [{ to = "recorder.dc", length = "1 m", wire = "AWG 16" }]
""")
        result = self.run_here("compare", "day.toml", "--options", "options.toml", "--json")
        self.assertEqual(result.returncode, 0, result.stderr)
        answer = json.loads(result.stdout)
        self.schema.validate(answer)
        by_name = {o["name"]: o for o in answer["options"]}
        self.assertEqual(set(by_name), {"as now, two years old", "two cups", "cinema plate"})
        self.assertEqual(by_name["as now, two years old"]["dark_in_change"], ["recorder"])
        self.assertEqual(by_name["two cups"]["dark_in_change"], [])  # one cup carries while the other is changed
        self.assertEqual(by_name["two cups"]["price_each"]["amount"], 240.0)
        for option in answer["options"]:
            self.hold_gear(option)
        self.assertNotIn("box", {thing["kind"] for thing in by_name["as now, two years old"]["gear"]})
        self.assertIn(("box", "box-2cup"), {(thing["kind"], thing["name"]) for thing in by_name["two cups"]["gear"]})
        plate = [thing["name"] for thing in by_name["cinema plate"]["gear"]]
        self.assertIn("plate-cinema", plate)
        self.assertEqual(by_name["cinema plate"]["chargers"]["kind"], "charger-plate-2")
        self.assertEqual(sum(" to smart-contacts" in name for name in plate), 1)  # a dummy pack in the cup
        self.assertEqual(sum("1 m of AWG 16" in name for name in plate), 1)

    def hold_gear(self, option):
        """Every price from the catalogue's own files; what is bought, packs and gear; a hundred days share it."""
        def kinds(name):
            text = (ROOT / "src" / "catalogue" / "data" / f"{name}.toml").read_text(encoding="utf-8")
            return {kind["id"]: kind for (list_of,) in [tomllib.loads(text).values()] for kind in list_of}

        single = {**kinds("boxes"), **kinds("holders"), **kinds("sources"), **kinds("chargers")}
        ends, wires = kinds("connectors"), kinds("wires")
        for thing in option["gear"]:
            if thing["kind"] == "lead":
                ends_text, cable = thing["name"].split(", ")
                length, gauge = re.fullmatch(r"([\d.]+) m of AWG (\d+)", cable).groups()
                price = sum(ends[end]["price_usd"] for end in ends_text.split(" to ")) + float(length) * wires[f"awg-{gauge}"]["price_usd_m"]
            else:
                price = single[thing["name"]]["price_usd"]
            self.assertAlmostEqual(thing["price"]["amount"], price, places=6)

    def test_gear_at_your_prices(self):
        text = day(15) + '[settings]\ncurrency = "EUR"\n[prices]\nbox-2cup = 380\nsmart-pack-14v4-98wh = 150\n'
        self.write("day.toml", text)
        self.write("options.toml", '[[option]]\nname = "two"\npack = "smart-pack-14v4-98wh"\nbox = "box-2cup"\ncount = 3\n'
                                   '[[option]]\nname = "plate"\npack = "plate-pack-14v4-150wh"\ncount = 2\n')
        result = self.run_here("compare", "day.toml", "--options", "options.toml", "--json")
        answer = json.loads(result.stdout)
        self.schema.validate(answer)
        two = next(o for o in answer["options"] if o["name"] == "two")
        box = next(thing for thing in two["gear"] if thing["kind"] == "box")
        self.assertEqual(box["price"], {"amount": 380.0, "currency": "EUR", "guess": False, "guess_usd": None})
        guesses = sum(thing["price"]["amount"] for thing in two["gear"] if thing["price"]["guess"]) + two["chargers"]["price"]["amount"]
        self.assertEqual((two["buy"]["amount"], two["buy"]["currency"]), (3 * 150.0 + 380.0, "EUR"))
        self.assertAlmostEqual(two["buy"]["guess_usd"] or 0.0, guesses)
        plate = next(o for o in answer["options"] if o["name"] == "plate")
        self.assertEqual((plate["buy"]["currency"], plate["buy"]["guess"]), ("USD", True))
        # One price for any lead.
        self.write("day.toml", text.replace("[prices]\n", "[prices]\nlead = 35\n"))
        answer = json.loads(self.run_here("compare", "day.toml", "--options", "options.toml", "--json").stdout)
        plate = next(o for o in answer["options"] if o["name"] == "plate")
        leads = [thing for thing in plate["gear"] if thing["kind"] == "lead"]
        self.assertEqual({thing["price"]["amount"] for thing in leads}, {35.0})
        self.assertEqual(plate["buy"]["amount"], 35.0 * len(leads))
        self.assertGreater(plate["buy"]["guess_usd"], 0.0)
        for bad, says in (("box-2cupp = 1", "did you mean"), ("box-2cup = -1", "box-2cup"), ('box-2cup = "dear"', "box-2cup"), ("awg-18 = 2", "awg-18")):
            self.write("bad.toml", text + bad + "\n" if "box-2cup =" not in bad else text.replace("box-2cup = 380", bad))
            self.assert_refused(self.run_here("compare", "bad.toml"), "bad.toml:", says)

    def test_options_that_do_not_go_together(self):
        self.write("day.toml", day(15))
        for lines, marker, *parts in (
            ('pack = "smart-pack-14v4-98wh"\nholder = "plate-cinema"', '"plate-cinema"', "does not fit", "cup-smart-14v4"),
            ('pack = "smart-pack-14v4-98w"', '"smart-pack-14v4-98w"', "did you mean"),
            ('pack = "vrla-12v-7ah"\nbox = "box-2cups"', '"box-2cups"', "did you mean"),
            ('pack = "aa-alkaline-x2"', '"aa-alkaline-x2"', "does not go together"),
            ('pack = "smart-pack-14v4-98wh"\ncount = 0', "0", "1 to 40"),
            ('pack = "smart-pack-14v4-98wh"\nweight = 3', "weight", "weight"),
            ('pack = "smart-pack-14v4-98wh"\nwires = [{ to = "radio" }]', "{ to", "no lead of the day goes there"),
        ):
            text = '[[option]]\nname = "it"\n' + lines + "\n"
            self.write("options.toml", text)
            result = self.run_here("compare", "day.toml", "--options", "options.toml")
            line, column = place_of(text, marker)
            said = result.stderr.decode("utf-8")
            self.assertEqual((result.returncode, result.stdout), (2, b""), said)
            self.assertTrue(said.startswith(f"options.toml:{line}:"), said)
            for part in parts:
                self.assertIn(part, said)
        self.write("options.toml", "")
        self.assert_refused(self.run_here("compare", "day.toml", "--options", "options.toml"), "options.toml:")
        self.assert_refused(self.run_here("compare", "day.toml", "--holder", "cap"), "tillwrap:", "cup")

    def test_schema_threads_and_width(self):
        self.schema.validate(self.answer)
        text = day(15).encode("utf-8")
        one = run("compare", "-", "--json", "--threads", "1", stdin=text).stdout
        self.assertEqual(run("compare", "-", "--json", "--threads", "3", stdin=text).stdout, one)
        out = run("compare", "-", "--all", stdin=text).stdout.decode("utf-8")
        self.assertLessEqual(max(len(line) for line in out.splitlines()), 80)


if __name__ == "__main__":
    unittest.main()
