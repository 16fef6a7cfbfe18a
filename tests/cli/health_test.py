"""tillwrap health from outside: packs whose health is known, registers whose gauge is wrong, logs of another pack.

The logs are the program's own discharges of aged packs, by a stepping the fit does not use, with noise on top."""

import datetime
import json
import math
import random
import tomllib
import unittest

import jsonschema
from support import ROOT, Folder

SCHEMA = json.loads((ROOT / "schema" / "health.schema.json").read_text(encoding="utf-8"))
KIND = "smart-pack-14v4-98wh"  # 6.8 Ah on its label
ENV = {"TZ": "Europe/Berlin", "TILLWRAP_JOURNAL": "j.db", "TILLWRAP_DEVICE": "laptop"}


def ago(days):
    """A date so many days before today: health counts from today on."""
    return (datetime.date.today() - datetime.timedelta(days=days)).isoformat()


class Health(Folder):
    curves = {}

    def curve(self, *words, kind=KIND, amps=3.4, until=None):
        """(s, V, A, °C) every 10 s of a pack discharged at `amps`, with 5 mV of noise."""
        key = (words, kind, amps, until)
        if key not in self.curves:
            self.write("profile.csv", "time_s,current_a\n" + "".join(f"{10 * k},{amps}\n" for k in range(4000)))
            limit = () if until is None else ("--until", str(until))
            result = self.run_here("discharge", "--pack", kind, "--profile", "profile.csv", *words, *limit, "--json")
            self.assertEqual(result.returncode, 0, result.stderr)
            (self.path / "profile.csv").unlink()
            got = json.loads(result.stdout)["curve"]
            noise = random.Random(5)
            rows = [r for r in zip(got["t_s"], got["v"], got["i_a"], got["surface_c"]) if r[0] % 10 == 0]
            self.curves[key] = [(t, v + noise.gauss(0, 0.005), i, c) for t, v, i, c in rows]
        return self.curves[key]

    def log(self, rows, name="log.csv"):
        return self.write(name, "time_s,voltage_v,current_a,surface_c\n" +
                          "".join(f"{t:.1f},{v:.4f},{i:.4f},{c:.2f}\n" for t, v, i, c in rows))

    def registers(self, rows, learned, capacity_ah, count=1.0, name="registers.csv", turned=1):
        """What a smart pack of the true `capacity_ah` tells that believes in `learned` Ah."""
        text = "time_s,0x08 Temperature,0x09 Voltage,0x0A Current,0x0D RelativeStateOfCharge,0x0F,0x10,0x17,0x18\n"
        drawn = 0.0
        last = rows[0][0]
        for t, v, i, c in rows:
            drawn += count * i * (t - last) / 3600.0
            last = t
            left = learned - drawn
            text += (f"{t:.0f},{10 * (c + 273.15):.0f},{1000 * v:.0f},{-turned * 1000 * i:.0f},"
                     f"{max(0, 100 * left / learned):.0f},{max(0, 1000 * left):.0f},{1000 * learned:.0f},212,6800\n")
        return self.write(name, text)

    def health(self, *words, code=0):
        result = self.run_here("health", *words, "--json", env=ENV)
        self.assertEqual(result.returncode, code, result.stderr.decode())
        answer = json.loads(result.stdout)
        jsonschema.validate(answer, SCHEMA)
        return answer

    def said(self, *words, code=0):
        result = self.run_here("health", *words, env=ENV)
        self.assertEqual(result.returncode, code, result.stderr.decode() + result.stdout.decode())
        text = (result.stdout if code < 2 else result.stderr).decode("utf-8")
        if code < 2:
            self.assertTrue(all(len(line) <= 80 for line in text.splitlines()), text)
        return " ".join(text.split())

    def add(self, *words):
        result = self.run_here("journal", "add", *words, env=ENV)
        self.assertEqual(result.returncode, 0, result.stderr.decode())


class Logs(Health):
    def test_a_field_day_without_volts(self):
        """5.1 Ah for 85 points of a hundred is 6.0 Ah, 88.2 % of 6.8 Ah on the label, by arithmetic; 6.3 % over 0.85."""
        rows = [(600 * k, 1.7 if k < 18 else 0.0, 100 - 85 * min(k, 18) / 18) for k in range(20)]  # 3 h at 1.7 A
        self.write("day.csv", "Time [min],Current [mA],Gauge [%]\n" + "".join(f"{t / 60:g},{1000 * i:g},{p:g}\n" for t, i, p in rows))
        told = self.health("day.csv", "--kind", KIND)["log"]
        self.assertEqual((told["by"], told["plausible"], told["resistance_told"]), ("field_day", True, False))
        # The trapezium over the row in which the load stops adds half of ten minutes at 1.7 A less than a full one.
        drawn = 1.7 * (17 + 0.5) * 600 / 3600
        self.assertAlmostEqual(told["drawn_ah"], drawn, places=4)
        self.assertAlmostEqual(told["capacity"]["middle"], drawn / 0.85 / 6.8, places=4)
        self.assertAlmostEqual(math.log(told["capacity"]["high"] / told["capacity"]["middle"]) / 1.6449,
                               math.hypot(0.06, 0.02) / 0.85, delta=0.001)
        for wrong, words in ((("100", "20"), "too little"), (("100", "101"), "0 to 100")):
            text = f"time_s,current_a,left_pct\n0,1,{wrong[0]}\n3600,1,{wrong[1] if words != 'too little' else 90}\n"
            self.write("bad.csv", text)
            self.assert_refused(self.run_here("health", "bad.csv", "--kind", KIND, env=ENV), "bad.csv", words)
        self.write("huge.csv", "time_s,current_a,left_pct\n0,9,100\n7200,9,40\n")
        self.assertFalse(self.health("huge.csv", "--kind", KIND, code=1)["log"]["plausible"])

    def test_known_health_comes_back(self):
        for capacity, resistance in ((1.0, 1.0), (0.86, 1.6), (0.7, 2.4)):
            with self.subTest(capacity):
                rows = self.curve("--health", str(capacity), "--resistance-factor", str(resistance))
                got = self.health(self.log(rows), "--kind", KIND, code=1 if capacity < 0.75 else 0)["log"]
                self.assertTrue(got["plausible"], got["why_not"])
                # Within 4 %: the weakest cell (2 % less) ends the discharge and is not told apart.
                self.assertAlmostEqual(got["capacity"]["middle"] / capacity, 1.0, delta=0.04)
                self.assertAlmostEqual(got["resistance"]["middle"] / resistance, 1.0, delta=0.15)
                self.assertLess(got["capacity"]["low"], capacity)
                self.assertGreater(got["capacity"]["high"], capacity)
                self.assertEqual(got["by"], "run_down")

    def test_a_day_that_draws_part_of_the_charge(self):
        # 60 % of the charge, and the band knows it is part.
        rows = self.curve("--health", "0.86", "--resistance-factor", "1.6")
        whole = self.health(self.log(rows), "--kind", KIND)["log"]["capacity"]
        part = self.health(self.log(rows[: int(0.6 * len(rows))]), "--kind", KIND)["log"]
        self.assertEqual(part["by"], "part")
        self.assertAlmostEqual(part["covers"], 0.6, delta=0.06)
        self.assertLess(part["capacity"]["low"], 0.86)
        self.assertGreater(part["capacity"]["high"], 0.86)
        self.assertGreater(part["capacity"]["high"] - part["capacity"]["low"], whole["high"] - whole["low"])
        # A few minutes tell next to nothing.
        little = self.health(self.log(rows[:40]), "--kind", KIND)["log"]
        self.assertFalse(little["capacity_told"])
        self.assertIn("says nothing of its capacity", self.said(self.log(rows[:40]), "--kind", KIND))

    def test_a_log_of_another_pack_is_noticed(self):
        rows = self.curve()
        # Another size: the 4.9 Wh a cell of half the pack cannot give so much; the other way round it is far too little.
        self.assertIn("Ah were taken from a cell", self.said(self.log(rows), "--kind", "smart-pack-14v4-49wh", code=2))
        # Another chemistry: NiMH, 12 cells, said to be a lithium pack of as many volts.
        nickel = self.curve(kind="aa-nimh-x8", amps=1.0)
        said = self.said(self.log(nickel), "--kind", "smart-pack-14v4-98wh", code=2)
        self.assertIn("which is an empty cell of this kind", said)
        lithium_iron = [(t, 13.1 - 0.2 * t / 7000 - (0.6 if t > 6800 else 0), i, c) for t, v, i, c in rows]
        flat = self.health(self.log(lithium_iron), "--kind", KIND, code=1)
        self.assertFalse(flat["log"]["plausible"])
        self.assertIn("mix-up", flat["advice"])
        self.assertIsNone(flat["trend"])

    def test_a_log_unlike_its_earlier_tests_is_noticed(self):
        self.add("acquired", "C2", "--kind", KIND, "--bought", ago(600), "--at", ago(599) + " 10:00")
        self.add("tested", "C2", "--capacity", "96 %", "--resistance", "1.1", "--at", ago(300) + " 12:00")
        weak = self.log(self.curve("--health", "0.6", "--resistance-factor", "2"))
        said = self.said(weak, "--pack", "C2", "--add", code=1)
        self.assertIn("another pack's log, or this pack failed", said)
        self.assertEqual(self.health("C2")["trend"]["tests"], 1, "it must not have been added")

    def test_spoilt_logs_are_refused(self):
        rows = self.curve()
        for name, bad, part in (
            ("turned", [(t, v, -i, c) for t, v, i, c in rows], "its sign is turned"),
            ("cells", [(t, v / 4, i, c) for t, v, i, c in rows], "which is an empty cell of this kind"),
            ("millivolts", [(t, 1000 * v, i, c) for t, v, i, c in rows], "is no voltage of"),
            ("short", rows[:5], "too few"),
            ("backwards", rows[:50] + rows[20:], "time does not run forward"),
        ):
            with self.subTest(name):
                self.assertIn(part, self.said(self.log(bad), "--kind", KIND, code=2))

    def test_words(self):
        log = self.log(self.curve())
        for words, part in (
            ((log,), "of what pack is this log?"),
            ((log, "--kind", "smart-pack"), "the catalogue has no pack"),
            ((log, "--kind", KIND, "--chemistry", "nmc"), "more than one"),
            ((log, "--kind", KIND, "--cells", "4"), "the kind says how many cells"),
            ((log, "--kind", "usb-pd-bank-72wh"), ""),
            (("none.csv", "--kind", KIND), "there is no such file"),
            (("C7",), "there is no journal here"),
            ((log, "--kind", KIND, "--add"), "what is to be added"),
        ):
            with self.subTest(words):
                self.assertIn(part, self.said(*words, code=2))


class Cells(Health):
    """Three cells in series on 1.2 A, the second of 80 % where the others hold 92: each is the program's own discharge of one
    cell, by a stepping the fit does not use, with 2 mV of noise."""

    AMPS = 1.2
    HEALTH = (92, 80, 92)
    made = None

    def cells(self):
        if Cells.made is None:
            self.write("profile.csv", "time_s,current_a\n" + "".join(f"{20 * k},{self.AMPS}\n" for k in range(1000)))
            runs, gives = [], []
            for health in self.HEALTH:
                words = ("--cell", "nmc", "--health", f"{health} %", "--resistance-factor", "1.5", "--until", "2.5 V", "--json")
                got = json.loads(self.run_here("discharge", *words, "--profile", "profile.csv").stdout)["curve"]
                runs.append({t: v for t, v in zip(got["t_s"], got["v"]) if t % 20 == 0})
                gives.append(json.loads(self.run_here("discharge", *words, "--current", f"{self.AMPS} A").stdout)["charge_ah"])
            noise = random.Random(3)
            times = sorted(set.intersection(*(set(run) for run in runs)))
            Cells.made = [(t, *(run[t] + noise.gauss(0, 0.002) for run in runs)) for t in times], gives
        return Cells.made

    def log(self, header, row, name="log.csv"):
        return self.write(name, header + "\n" + "".join(row(*one) + "\n" for one in self.cells()[0]))

    def plain(self, name="log.csv"):
        return self.log("time_s,voltage_v,current_a,cell1_v,cell2_v,cell3_v",
                        lambda t, *v: f"{t},{sum(v):.4f},{self.AMPS},{v[0]:.4f},{v[1]:.4f},{v[2]:.4f}", name)

    KIND = ("--chemistry", "nmc", "--cells", "3")

    def test_the_weak_cell_is_named(self):
        found = self.health(self.plain(), *self.KIND)["log"]["cells"]
        self.assertEqual((found["weakest"], found["weak"], found["out_of_balance"]), (2, True, False))
        one = found["each"][1]
        self.assertLess(one["capacity"]["low"], 80 / 92)
        self.assertGreater(one["capacity"]["high"], 80 / 92)
        self.assertLess(one["capacity"]["high"] - one["capacity"]["low"], 0.06)
        _, gives = self.cells()
        self.assertAlmostEqual(one["gives_ah"] / gives[1], 1.0, delta=0.04)
        self.assertLess(found["shorter"]["low"], 1 - gives[1] / gives[0])
        self.assertGreater(found["shorter"]["high"], 1 - gives[1] / gives[0])
        said = self.said(self.plain(), *self.KIND)
        self.assertIn("Cell 2 is the weak one", said)
        self.assertIn("Cell 2 is weak and is emptied deepest each time", said)
        self.assertIn("% sooner", said)

    def test_pack_volts_alone_do_not_tell(self):
        name = self.log("time_s,voltage_v,current_a", lambda t, *v: f"{t},{sum(v):.4f},{self.AMPS}")
        self.assertIsNone(self.health(name, *self.KIND)["log"]["cells"])
        self.assertIn("cannot be told from cells that all hold less", self.said(name, *self.KIND))

    def test_other_spellings_and_registers(self):
        usual = self.health(self.plain(), *self.KIND)["log"]["cells"]["each"][1]["capacity"]["middle"]
        for header, row in (
            ("Time [s],Current [A],Cell 1 [mV],Cell 2 [mV],Cell 3 [mV]",
             lambda t, *v: f"{t},{self.AMPS}," + ",".join(f"{1000 * x:.1f}" for x in v)),
            ("t_s,CellVoltage0,CellVoltage1,CellVoltage2,current_a,voltage_v",
             lambda t, *v: f"{t}," + ",".join(f"{x:.4f}" for x in v) + f",{self.AMPS},{sum(v):.4f}"),
            ("time_s,0x09 Voltage,0x0A Current,0x10,0x18,0x3F,0x3E,0x3D,0x3C",
             lambda t, *v: f"{t},{1000 * sum(v):.0f},{-1000 * self.AMPS:.0f},3000,3000,{1000 * v[0]:.1f},{1000 * v[1]:.1f},{1000 * v[2]:.1f},0"),
        ):
            with self.subTest(header):
                found = self.health(self.log(header, row), *self.KIND)["log"]["cells"]
                self.assertEqual(found["weakest"], 1 if "CellVoltage0" in header else 2)
                weak = found["each"][1]["capacity"]["middle"]
                self.assertAlmostEqual(weak, usual, delta=0.004)

    def test_out_of_balance(self):
        """The second cell of the same health, but begun 5 % emptier, is told as that and not as weak for good."""
        self.write("profile.csv", "time_s,current_a\n" + "".join(f"{20 * k},{self.AMPS}\n" for k in range(1000)))
        runs = []
        for charge in ("100 %", "95 %", "100 %"):
            got = json.loads(self.run_here("discharge", "--cell", "nmc", "--health", "92 %", "--start-charge", charge, "--until", "2.5 V", "--profile",
                                           "profile.csv", "--json").stdout)["curve"]
            runs.append({t: v for t, v in zip(got["t_s"], got["v"]) if t % 20 == 0})
        times = sorted(set.intersection(*(set(run) for run in runs)))
        self.write("log.csv", "time_s,current_a,cell1_v,cell2_v,cell3_v\n" +
                   "".join(f"{t},{self.AMPS}," + ",".join(f"{run[t]:.4f}" for run in runs) + "\n" for t in times))
        found = self.health("log.csv", *self.KIND)["log"]["cells"]
        self.assertEqual((found["weakest"], found["out_of_balance"]), (2, True))
        self.assertAlmostEqual(found["each"][1]["start_charge"], -0.05, delta=0.015)
        self.assertAlmostEqual(found["each"][1]["capacity"]["middle"], 1.0, delta=0.02)
        self.assertIn("out of balance", self.said("log.csv", *self.KIND))

    def test_refusals(self):
        two = self.log("time_s,voltage_v,current_a,cell1_v,cell2_v", lambda t, *v: f"{t},{sum(v):.4f},{self.AMPS},{v[0]:.4f},{v[1]:.4f}", "two.csv")
        one = self.log("time_s,voltage_v,current_a,cell1_v", lambda t, *v: f"{t},{sum(v):.4f},{self.AMPS},{v[0]:.4f}", "one.csv")
        twice = self.log("time_s,voltage_v,current_a,cell1_v,Cell 1 [mV],cell3_v", lambda t, *v: f"{t},{sum(v):.4f},{self.AMPS},{v[0]:.4f},{1000 * v[1]:.1f},{v[2]:.4f}", "twice.csv")
        off = self.log("time_s,voltage_v,current_a,cell1_v,cell2_v,cell3_v", lambda t, *v: f"{t},{sum(v):.4f},{self.AMPS},{v[0]:.4f},{v[1]:.4f},{v[2] / 2:.4f}", "off.csv")
        for name, part in ((two, "volts of 2 cells where 3 are in series"), (one, "one cell alone"), (twice, "both of cell 1"),
                           (off, "add up to")):
            with self.subTest(name):
                self.assert_refused(self.run_here("health", name, *self.KIND, env=ENV), name + ":", part)
        self.write("now.csv", "0x10,0x18,0x3F,0x3E,0x3D,0x3C\n5440,6800,4010,3990,4000,4005\n")
        told = self.health("now.csv", "--kind", KIND)["log"]
        self.assertTrue(any("balance, not what each holds" in note for note in told["notes"]))
        self.assertIsNone(told["cells"])


class Gauges(Health):
    def test_registers_give_the_same_as_the_log(self):
        rows = self.curve("--health", "0.86", "--resistance-factor", "1.6")
        plain = self.health(self.log(rows), "--kind", KIND)["log"]
        told = self.health(self.registers(rows, 0.86 * 6.8, 0.86 * 6.8), "--kind", KIND)["log"]
        self.assertAlmostEqual(told["capacity"]["middle"], plain["capacity"]["middle"], delta=0.005)
        self.assertAlmostEqual(told["gauge"]["claims"], 0.86, delta=0.001)
        self.assertEqual(told["gauge"]["cycles"], 212)
        self.assertFalse(told["gauge"]["wrong_capacity"] or told["gauge"]["wrong_count"])
        self.assertIn("agrees with coulombs and volts", self.said("registers.csv", "--kind", KIND))

    def test_a_gauge_that_never_learned(self):
        # It still believes in its design capacity; the pack holds 70 % of it.
        rows = self.curve("--health", "0.7", "--resistance-factor", "2.4")
        told = self.health(self.registers(rows, 6.8, 0.7 * 6.8), "--kind", KIND, code=1)["log"]
        self.assertTrue(told["gauge"]["wrong_capacity"])
        self.assertFalse(told["gauge"]["wrong_count"])
        self.assertIn("do not trust its percentage", self.said("registers.csv", "--kind", KIND, code=1))

    def test_a_gauge_that_counts_wrong(self):
        rows = self.curve()
        told = self.health(self.registers(rows, 6.8, 6.8, count=0.85), "--kind", KIND)["log"]
        self.assertTrue(told["gauge"]["wrong_count"])
        self.assertIn("not by its gauge", self.health("registers.csv", "--kind", KIND)["advice"])

    def test_the_sign_of_some_exports(self):
        rows = self.curve()
        told = self.health(self.registers(rows, 6.8, 6.8, turned=-1), "--kind", KIND)["log"]
        self.assertTrue(any("against the specification" in note for note in told["notes"]))
        self.assertAlmostEqual(told["capacity"]["middle"], 1.0, delta=0.04)

    def test_a_snapshot(self):
        self.write("now.csv", "FullChargeCapacity(),DesignCapacity(),CycleCount()\n5440,6800,301\n")
        told = self.health("now.csv", "--kind", KIND)["log"]
        self.assertEqual(told["by"], "gauge_alone")
        self.assertAlmostEqual(told["capacity"]["middle"], 0.8, delta=1e-3)
        self.assertGreater(told["capacity"]["high"] - told["capacity"]["low"], 0.15)
        self.write("other.csv", "0x10,0x18\n3100,3400\n")
        self.assertIn("another pack, or an export in 10 mWh", self.said("other.csv", "--kind", KIND))
        for text, part in (
            ("0x10,0x10 FullChargeCapacity\n5440,5440\n", "stands twice"),
            ("0x10,0x18\n70000,6800\n", "no value of the register 0x10"),
            ("0x08,0x17\n25,301\n", "tenths of a kelvin"),
            ("0x17\n301\n", "neither a log"),
        ):
            self.write("bad.csv", text)
            self.assertIn(part, self.said("bad.csv", "--kind", KIND, code=2))


class InUse(Health):
    """Readings in the journal while a pack is in use. The pack's cells hold as many Ah as the catalogue's own file says."""

    def setUp(self):
        super().setUp()
        self.add("acquired", "C2", "--kind", KIND, "--bought", ago(100), "--at", ago(99) + " 10:00")

    def day(self, days_ago, amps, left=None, charge="100 %", holder="cup", readings=()):
        day = ago(days_ago)
        self.add("charged", "C2", "--charge", charge, "--at", day + " 06:50")
        self.add("put_in", "C2", "--holder", holder, "--at", day + " 07:00")
        for at, value in amps:
            self.add("reading", "amps", "--of", holder, "--value", f"{value} A", "--at", f"{day} {at}")
        for at, point, of, value in readings:
            self.add("reading", point, "--of", of, "--value", value, "--at", f"{day} {at}")
        self.add("taken_out", "C2", *(("--charge", left) if left else ()), "--at", day + " 11:00")

    def turns(self):
        return self.health("C2")["trend"]["in_use"]

    def test_coulombs_by_hand(self):
        # 1.2 A at 07:00 rising straight to 1.6 A at 09:00, 1.6 A to 11:00: 2.8 + 3.2 = 6.0 Ah, for 100 to 15 %.
        self.day(8, [("07:00", 1.2), ("09:00", 1.6), ("11:00", 1.6)], left="15 %")
        (turn,) = self.turns()
        self.assertAlmostEqual(turn["drawn_ah"], 6.0, places=4)
        self.assertEqual((turn["amps"], turn["to"], turn["holder"]), (3, 0.15, "cup"))
        cells = tomllib.loads((ROOT / "src" / "catalogue" / "data" / "chemistry.toml").read_text(encoding="utf-8"))["cell"]
        packs = {p["id"]: p for f in (ROOT / "src" / "catalogue" / "data").glob("packs-*.toml")
                 for p in tomllib.loads(f.read_text(encoding="utf-8"))["pack"]}
        cell = next(c for c in cells if c["id"] == packs[KIND]["cell"])
        full_ah = 6.8 * cell["capacity_ah"] / cell["rated_ah"]
        # Ten minutes of rest take nothing that shows.
        self.assertAlmostEqual(turn["capacity"]["middle"], 6.0 / 0.85 / full_ah, delta=1e-4)
        # Three readings a twelfth off their mean, for 60, 120 and 60 of 240 minutes: the load's scatter, the instrument's 3 %, the two charges' 2 and 6 %, and
        # 3.2 % by which packs of a kind differ.
        mean = 4.4 / 3
        scatter = (4 * 0.25 ** 2 + sum((a / mean - 1) ** 2 for a in (1.2, 1.6, 1.6))) / (4 + 2) * (60 ** 2 + 120 ** 2 + 60 ** 2) / 240 ** 2
        sd = math.sqrt(scatter + 0.03 ** 2 + (0.02 ** 2 + 0.06 ** 2) / 0.85 ** 2 + 0.032 ** 2)
        self.assertAlmostEqual(math.log(turn["capacity"]["high"] / turn["capacity"]["middle"]) / 1.6449, sd, delta=1e-3)
        self.assertIsNone(turn["resistance"])
        self.assertEqual(self.health("C2")["trend"]["field_days"], 1)
        said = self.said("C2")
        self.assertIn("6 Ah by 3 readings of amps, 100 to 15 %", said)
        self.assertIn("by 0 tests and 1 field day", said)

    def test_a_weak_pack_shows_over_days(self):
        before = self.health("C2")["trend"]["capacity"]
        for k in range(5):  # 4.4 Ah for 90 % of the charge: 4.9 Ah of 6.8. All of them count as one result, beside its age.
            self.day(8 + k, [(f"{h:02d}:{m:02d}", 1.1) for h in range(7, 11) for m in (0, 20, 40)], left="10 %")
        after = self.health("C2", code=0)["trend"]
        self.assertEqual(after["field_days"], 5)
        self.assertLess(after["capacity"]["middle"], before["low"])
        for turn in self.turns():
            self.assertTrue(turn["capacity"]["low"] < 4.4 / 0.9 / 6.8 < turn["capacity"]["high"], turn)

    def test_what_cannot_be_told_is_said(self):
        amps = [("07:10", 1.4), ("09:00", 1.4), ("10:50", 1.5)]
        self.day(20, [], left="15 %", readings=[("08:00", "input volts", "recorder", "15 V")])
        self.day(19, amps)
        self.day(18, amps, left="93 %")
        self.day(17, [("07:10", 1.4)], left="20 %")
        self.day(16, amps, left="15 %", readings=[("08:00", "meter", "recorder", "50 %"), ("08:01", "amps", "box", "2 A")])
        self.add("acquired", "C3", "--kind", KIND, "--at", ago(15) + " 10:00")
        self.add("put_in", "C3", "--holder", "tray", "--at", ago(15) + " 11:00")
        self.day(14, amps, left="15 %", readings=[("08:00", "input volts", "recorder", "15 V")])
        turns = self.turns()
        for turn, told, words in zip(turns, (False, False, False, False, True, True), (
                ("no amps of \"cup\" were read",), ("told once only",), ("too little to tell",), ("no amps were read for 3 h 50 min",),
                ("1 reading of amps left aside", "profile"), ("which of them fed that input is not told; a day file tells",)), strict=True):
            self.assertEqual(turn["capacity"] is not None, told, turn)
            for part in words:
                self.assertTrue(any(part in why for why in turn["cannot_tell"]), turn)
        self.assertIn("(the latest 5 of 6 times)", self.said("C2"))

    def test_readings_of_another_pack_are_noticed(self):
        # 9.6 Ah for 85 % of the charge of a pack of 6.8 Ah.
        self.day(9, [("07:10", 2.4), ("09:00", 2.4), ("10:50", 2.4)], left="15 %")
        (turn,) = self.turns()
        self.assertIsNone(turn["capacity"])
        self.assertIn("another pack's amps", " ".join(turn["cannot_tell"]))
        self.assertEqual(self.health("C2")["trend"]["field_days"], 0)

    def test_a_used_line_counts_instead(self):
        self.day(9, [("07:10", 1.4), ("09:00", 1.4), ("10:50", 1.4)])
        self.add("used", "C2", "--ah", "5.6 Ah", "--charge", "15 %", "--at", ago(9) + " 12:00")
        (turn,) = self.turns()
        self.assertIsNone(turn["capacity"])
        self.assertIn("counts instead", " ".join(turn["cannot_tell"]))
        self.assertEqual(self.health("C2")["trend"]["field_days"], 1)

    def test_volts_add_and_a_converter_is_noticed(self):
        """The pack's own discharge at 1.7 A (the bench's stepping), read at 0.1 V behind 0.05 ohm every quarter of an hour."""
        rows = self.curve("--health", "0.8", "--resistance-factor", "1.8", amps=1.7)
        def readings(volts):
            return [(f"{7 + m // 60:02d}:{m % 60:02d}", "input volts", "recorder", f"{volts(rows[6 * m][1]):.1f} V") for m in range(10, 180, 15)]
        amps = [(f"{7 + m // 60:02d}:{m % 60:02d}", 1.7) for m in range(10, 240, 15)]
        self.day(9, amps, readings=readings(lambda v: v - 0.05 * 1.7))
        self.day(8, amps, readings=readings(lambda v: 12.0))
        seen, converter = self.turns()
        self.assertEqual((seen["volts"], converter["volts"]), (12, 0))
        self.assertLess(seen["capacity"]["low"], 0.8)
        self.assertGreater(seen["capacity"]["high"], 0.8)
        self.assertIsNone(converter["capacity"])
        self.assertIn("a converter between", " ".join(converter["cannot_tell"]))


class Years(Health):
    def test_a_log_goes_into_the_journal_and_the_trend(self):
        self.add("acquired", "C2", "--kind", KIND, "--bought", ago(1300), "--at", ago(1299) + " 10:00")
        self.add("acquired", "C3", "--kind", KIND, "--bought", ago(1300), "--at", ago(1299) + " 10:00")
        log = self.log(self.curve("--health", "0.86", "--resistance-factor", "1.6"))
        self.assertIn("Not in the journal", self.said(log, "--pack", "C2"))
        self.assertIn("Added to the journal", self.said(log, "--pack", "C2", "--add", "--at", ago(280) + " 12:00"))
        trend = self.health("C2")["trend"]
        self.assertEqual(trend["tests"], 1)
        self.assertAlmostEqual(trend["capacity"]["middle"], 0.86, delta=0.05)
        self.assertLess(trend["retire"]["low"], trend["retire"]["middle"])
        self.add("tested", "C3", "--capacity", "98 %", "--resistance", "1.1", "--capacity-sd", "1 %", "--at", ago(280) + " 12:00")
        self.assertEqual(self.health("C2")["trend"]["weaker_than"], "C3")
        self.assertIn("weaker one decides", self.said("C2"))
        self.assertIn('did you mean "C2"?', self.said("C22", code=2))


if __name__ == "__main__":
    unittest.main()
