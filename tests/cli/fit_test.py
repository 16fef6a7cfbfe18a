"""`tillwrap fit` from outside: logs that are repaired, logs that are refused, what is written, who reads it, progress.

The logs are the program's own discharges, so that nothing here depends on measured data."""

import csv
import io
import json
import os
import pty
import re
import select
import subprocess
import time
import unittest

import jsonschema

from support import BASE_DAY, PROGRAM, ROOT, Folder, edited, place_of

HEADER = "time_s,voltage_v,current_a,surface_c"
FIT = ("fit", "log.csv", "--chemistry", "nca")


def text_of(rows, header=HEADER, line="{:.2f},{:.4f},{:.4f},{:.2f}", end="\n"):
    return end.join([header, *(line.format(*row) for row in rows)]) + end


def with_row(rows, k, row):
    return rows[:k] + [row] + rows[k + 1:]


class Fit(Folder):
    rows = None

    def setUp(self):
        super().setUp()
        if Fit.rows is None:
            Fit.rows = self.discharged("--cell", "nca", amps=2.9)
        self.plain = text_of(self.rows)

    def discharged(self, *source, amps):
        """(s, V, A, °C) every 10 s of a steady discharge."""
        self.write("profile.csv", "time_s,current_a\n" + "".join(f"{10 * k},{amps}\n" for k in range(2000)))
        result = self.run_here("discharge", *source, "--profile", "profile.csv", "--json")
        self.assertEqual(result.returncode, 0, result.stderr)
        (self.path / "profile.csv").unlink()
        curve = json.loads(result.stdout)["curve"]
        return [row for row in zip(curve["t_s"], curve["v"], curve["i_a"], curve["surface_c"]) if row[0] % 10 == 0]

    def good(self, text, *more, name="log.csv"):
        self.write(name, text)
        result = self.run_here("fit", name, "--chemistry", "nca", *more, "--json")
        self.assertEqual((result.returncode, result.stderr), (0, b""), result.stderr.decode())
        return json.loads(result.stdout)


class BadLogs(Fit):
    def test_refused(self):
        rows, plain = self.rows, self.plain
        n = len(rows)
        t, v, a, c = rows[50]
        lines = plain.splitlines()

        def lines_with(k, line):
            return "\n".join(lines[:k] + [line] + lines[k + 1:]) + "\n"

        rest = [(rows[-1][0] + 10 * k, 3.2, 0, 25) for k in range(1, 60)]
        charge = rest + [(rest[-1][0] + 10 * k, 3.2 + 0.004 * k, -1.45, 25) for k in range(1, 200)]
        late = [(x + (900 if k > 50 else 0), *rest) for k, (x, *rest) in enumerate(rows)]
        table = [
            # name, text, start of the message, parts of it
            ("empty file", "", "log.csv:1:1: ", ("the file is empty", "begin with a header")),
            ("header alone", HEADER + "\n", "log.csv:1:1: ", ("no rows", "add")),
            ("no header", "\n".join(lines[1:]), "log.csv:1:1: ", ("no column names", "begin with a header")),
            ("no volts", text_of([(x, i) for x, _, i, _ in rows], "time_s,current_a", "{},{}"), "log.csv:1:1: ",
             ("no column voltage_v", "columns here: time_s, current_a")),
            ("volts without a unit", plain.replace("voltage_v", "Voltage", 1), "log.csv:1:1: ",
             ("no column voltage_v", "voltage [V]")),
            ("an unknown unit", plain.replace("time_s", "Time (hh:mm:ss)", 1), "log.csv:1:1: ", ("no column time_s",)),
            ("two columns for one", plain.replace("current_a,surface_c", "Current (A),Current (mA)", 1),
             "log.csv:1:30: ", ("could both be current_a", "name the right one")),
            ("a column twice", plain.replace("surface_c", "voltage_v", 1), "log.csv:1:28: ", ("stands twice",)),
            ("time backwards", lines_with(51, f"{rows[48][0]:.2f},{v},{a},{c}"), "log.csv:52:1: ",
             ("time does not run forward", "sort")),
            ("a time twice", lines_with(51, lines[50]), "log.csv:52:1: ", ("time does not run forward",)),
            ("clock times", lines_with(51, f"00:08:20,{v},{a},{c}"), "log.csv:52:1: ",
             ('"00:08:20" under time_s is no number', "seconds")),
            ("a row of units", "\n".join([lines[0], "s,V,A,C", *lines[1:]]), "log.csv:2:1: ",
             ('"s" under time_s', "column's name")),
            ("a column of words", "\n".join(x + (",ok" if k else ",note") for k, x in enumerate(lines)) + "\n", "log.csv:2:",
             ('"ok" under note', "leave out a column of words")),
            ("a word", lines_with(51, f"{t},off,{a},{c}"), f"log.csv:52:{len(str(t)) + 2}: ", ('"off" under voltage_v',)),
            ("infinity", lines_with(51, f"{t},inf,{a},{c}"), f"log.csv:52:{len(str(t)) + 2}: ", ("not finite",)),
            ("a row cut off", plain + "4000,2.5", f"log.csv:{n + 2}:1: ", ("2 cells", "header 4")),
            ("decimal commas between commas", plain.replace(".", ","), "log.csv:2:1: ", ("8 cells", "decimal commas")),
            ("quoted decimal commas", lines_with(51, f'{t},"3,75",{a},{c}'), f"log.csv:52:{len(str(t)) + 2}: ",
             ('"3,75"', "decimal comma")),
            ("thousands in quotes", lines_with(51, f'"1,234.5",{v},{a},{c}'), "log.csv:52:1: ",
             ('"1,234.5"', "thousands")),
            ("thousands with spaces", lines_with(51, f"1 234.5,{v},{a},{c}"), "log.csv:52:1: ", ("thousands",)),
            ("thousands and decimal commas", plain.replace(",", ";").replace(f"{t:.2f};", "1.234,50;", 1),
             "log.csv:52:1: ", ("1.234,50", "thousands")),
            ("commas and points in one file", plain.replace(",", ";").replace(f"{t:.2f};", f"{t:.2f};".replace(".", ","), 1),
             "log.csv:52:1: ", ("decimal commas and decimal points",)),
            ("many empty cells", "\n".join(x if k % 10 else re.sub(r",\d\.\d+", ",", x, count=1)
                                            for k, x in enumerate(lines, 1)), "log.csv:10:", ("under voltage_v", "5 %")),
            ("not UTF-8", plain.replace("surface_c", "Temp (\u00b0C)", 1).encode("latin-1"), "log.csv:1:34: ",
             ("not valid UTF-8", "save the file as UTF-8")),
            ("UTF-16", plain.encode("utf-16"), "log.csv:1:1: ", ("UTF-16", "UTF-8")),
            ("binary", b"time_s,voltage_v,current_a\n\x00\x01\x02", "log.csv:2:1: ", ("binary", "CSV")),
            ("a picture", b"\x89PNG\r\n\x1a\n\x00\x00", "log.csv:1:1: ", ("not valid UTF-8",)),
            ("turned sign", text_of([(x, u, -i, s) for x, u, i, s in rows]), "log.csv:2:13: ",
             ("its sign is turned", "positive")),
            ("a charge", text_of([(x, rows[-1 - k][1], -i, s) for k, (x, u, i, s) in enumerate(rows)]), "log.csv:2:13: ",
             ("being charged", "discharges only")),
            ("a charge with the sign turned", text_of([(x, rows[-1 - k][1], i, s) for k, (x, u, i, s) in enumerate(rows)]),
             "log.csv:2:13: ", ("volts rise", "discharges only")),
            ("a charge in the middle", text_of(rows[:200] + [(rows[199][0] + 10 * k, 3.7, -1.45, 25) for k in range(1, 180)] +
                                               [(x + 1800, *rest) for x, *rest in rows[200:]]), "log.csv:",
             ("being charged here", "cut the log")),
            ("charged afterwards", text_of(rows + charge), "log.csv:", ("being charged here", "cut the log")),
            ("a long gap", text_of(late), "log.csv:53:1: ", ("a gap of", "under load", "cut the log")),
            ("no load", text_of([(x, u, 0, s) for x, u, _, s in rows]), "log.csv:2:", ("no current", "under load")),
            ("five rows", text_of(rows[:5]), "log.csv:6:1: ", ("5 rows are too few", "at least 10")),
            ("a few seconds", text_of([(0.1 * k, 4.1, 2.9, 25) for k in range(20)]), "log.csv:1:1: ",
             ("too short to tell anything", "per cent")),
            ("milliamps as amps", text_of([(x, u, 1000 * i, s) for x, u, i, s in rows]), "log.csv:2:13: ",
             ("2900 A is no current of a cell", "in amps", "--capacity-ah")),
            ("milliseconds as seconds", text_of([(1000 * x, *rest) for x, *rest in rows]), "log.csv:1:1: ",
             ("Ah were taken", "time in seconds", "--capacity-ah")),
            ("volts of four cells", text_of([(x, 4 * u, i, s) for x, u, i, s in rows]), "log.csv:2:", ("no voltage of one cell", "--cells")),
            ("volts of nothing", text_of(with_row(rows, 50, (t, 0.0, a, c))), "log.csv:52:", ("0 V is no voltage",)),
            ("kelvin as Celsius", text_of([(x, u, i, s + 273.15) for x, u, i, s in rows]), "log.csv:2:",
             ("outside −60 to 80 °C", "degrees Celsius")),
        ]
        for name, text, start, says in table:
            with self.subTest(name):
                self.write("log.csv", text)
                result = self.run_here(*FIT, "--out", "params.json")
                self.assert_refused(result, start, *says)
                self.assertEqual(self.names(), ["log.csv"])

    def test_words(self):
        self.write("log.csv", self.plain)
        self.write("params.json", self.run_here(*FIT, "--json").stdout)
        table = [
            ("no log", ("fit", "--chemistry", "nca"), ("no log",)),
            ("a log after --ambient", ("fit", "--chemistry", "nca", "--ambient", "25", "log.csv"), ("no log", "before --ambient")),
            ("no chemistry", ("fit", "log.csv"), ("no chemistry", "--chemistry NAME")),
            ("unknown chemistry", ("fit", "log.csv", "--chemistry", "ncx"), ('did you mean "nca"?',)),
            ("capacity of nothing", (*FIT, "--capacity-ah", "0"), ("--capacity-ah", "0.01 to 1000 Ah")),
            ("another case", ("fit", "log.csv", "--chemistry", "NCA"), ('did you mean "nca"?',)),
            ("an empty capacity", (*FIT, "--capacity-ah", ""), ("--capacity-ah: nothing stands there",)),
            ("an empty air", (*FIT, "--ambient", " "), ("--ambient: no value", "°C")),
            ("capacity in watt hours", (*FIT, "--capacity-ah", "3 Wh"), ('"3 Wh" is an energy',)),
            ("capacity in volts", (*FIT, "--capacity-ah", "3 V"), ("--capacity-ah", "charge in V")),
            ("no cells", (*FIT, "--cells", "0"), ("--cells", "1 to 100")),
            ("two airs for one log", (*FIT, "--ambient", "20", "--ambient", "21"), ("--ambient", "2 temperatures for 1 logs")),
            ("air too hot", (*FIT, "--ambient", "300"), ("--ambient", "−60 to 80 °C")),
            ("health of nothing", ("fit", "log.csv", "--health-only"), ("--health-only", "--params IN.json")),
            ("params without health", (*FIT, "--params", "params.json"), ("--params", "--health-only")),
            ("unknown option", (*FIT, "--helth-only"), ('did you mean "--health-only"?',)),
        ]
        (self.path / "params.json").write_bytes(self.fitted())
        before = self.names()
        for name, words, says in table:
            with self.subTest(name):
                self.assert_refused(self.run_here(*words, "--out", "new.json"), "tillwrap: ", *says)
                self.assertEqual(self.names(), before)

    def test_cells_that_are_not_there(self):
        """Volts of one cell taken for four: an empty cell, at rest and under load."""
        rest = [(10 * k, self.rows[0][1] + 0.05, 0, 25) for k in range(5)]
        for name, text in (("under load", self.plain),
                           ("at rest", text_of(rest + [(t + 50, *more) for t, *more in self.rows]))):
            with self.subTest(name):
                self.write("log.csv", text)
                self.assert_refused(self.run_here(*FIT, "--cells", "4", "--out", "p.json"), "log.csv:1:1: ",
                                    name, "an empty cell of this kind", "cells in series")
                self.assertEqual(self.names(), ["log.csv"])

    def test_logs_of_different_cells(self):
        """One fit over two cells says which log it does not follow; logs of one cell are not questioned."""
        self.write("large.csv", text_of(self.discharged("--cell", "nmc-21700-5ah", amps=2.9)))
        got = self.good(self.plain, "large.csv")
        self.assertTrue(any("mV a cell off" in note for note in got["notes"]), got["notes"])
        self.write("slow.csv", text_of(self.discharged("--cell", "nca", amps=1.4)))
        got = self.good(self.plain, "slow.csv")
        self.assertFalse(any("mV a cell off" in note for note in got["notes"]), got["notes"])

    def fitted(self):
        self.write("log.csv", self.plain)
        self.assertEqual(self.run_here(*FIT, "--out", "made.json").returncode, 0)
        made = (self.path / "made.json").read_bytes()
        (self.path / "made.json").unlink()
        return made

    def test_files(self):
        self.assert_refused(self.run_here(*FIT), "log.csv:1:1: ", "no such file")
        self.write("log.csv", self.plain)
        self.assert_refused(self.run_here(*FIT, "--out", "log.csv"), "log.csv:1:1: ", "one of the files read", "nothing was changed")
        self.assertEqual((self.path / "log.csv").read_text(), self.plain)
        self.assert_refused(self.run_here(*FIT, "--out", "nowhere/p.json"), "nowhere/p.json:1:1: ", "cannot be written")
        self.assertEqual(self.names(), ["log.csv"])
        self.assert_refused(self.run_here(*FIT, "--out", "-"), "-:1:1: ", "no file's name", "standard output")
        self.assert_refused(self.run_here(*FIT, "--out", ""), "tillwrap: --out: ", "nothing stands there")
        self.assertEqual(self.names(), ["log.csv"])
        # From standard input, once.
        piped = self.run_here("fit", "-", "--chemistry", "nca", "--json", stdin=self.plain.encode())
        self.assertEqual(json.loads(piped.stdout)["logs"][0]["name"], "standard input")
        self.assert_refused(self.run_here("fit", "-", "-", "--chemistry", "nca", stdin=self.plain.encode()),
                            "standard input:1:1: ", "named twice")

    def test_pulse_tests(self):
        """A count that does not rise, that is no cell's, and current of the other sign."""
        rows = []
        for level in range(4):
            first, taken = 1000 * level, 0.6 * level
            volts = 4.1 - 0.15 * level
            rows += [(first + k, volts, 0.0, 25, taken) for k in range(12)]
            rows += [(first + 12 + k, volts - 0.1, 2.9, 25, taken) for k in range(12)]
        header, line = HEADER + ",discharged_ah", "{:.0f},{:.4f},{:.4f},{:.2f},{:.4f}"
        table = [
            ("what is left", [(*row, 2.4 - taken) for *row, taken in rows], "log.csv:26:", ("discharged_ah falls here", "not what is left")),
            ("standing still", [(*row, 1.0) for *row, _ in rows], "log.csv:2:", ("does not move",)),
            ("mAh", [(*row, 1000 * taken) for *row, taken in rows], "log.csv:26:", ("600 Ah were taken from a cell", "in Ah")),
            ("turned sign", [(t, v, -a, c, taken) for t, v, a, c, taken in rows], "log.csv:14:", ("its sign is turned", "positive")),
        ]
        for name, spoilt, start, says in table:
            with self.subTest(name):
                self.write("log.csv", text_of(spoilt, header, line))
                self.assert_refused(self.run_here("fit", "--pulse", "log.csv", "--chemistry", "nca", "--out", "p.json"), start, *says)
                self.assertEqual(self.names(), ["log.csv"])
        self.write("log.csv", text_of(rows, header, line))
        self.assertEqual(self.run_here("fit", "--pulse", "log.csv", "--chemistry", "nca").returncode, 0)

    def test_the_same_log_twice(self):
        self.write("log.csv", self.plain)
        os.link(self.path / "log.csv", self.path / "same.csv")
        self.assert_refused(self.run_here("fit", "log.csv", "same.csv", "--chemistry", "nca"), "same.csv:1:1: ", "named twice", "once")

    def test_parameter_files(self):
        """Broken, of a later version, of another kind: refused at its place by all that read one."""
        good = self.fitted().decode()
        self.write("day.toml", edited(('kind = "smart-pack-14v4-98wh"', 'kind = "smart-pack-14v4-98wh"\nparams = "p.json"')))
        table = [
            ("a later version", good.replace("params-1", "params-2", 1), "params-2", ("params-2", "tillwrap-params-1")),
            ("another answer", good.replace("tillwrap-params-1", "tillwrap-forecast-1", 1), '"tillwrap-forecast-1"', ("parameter file",)),
            ("a day file", '{"format": 1}', "1", ("no parameter file", "tillwrap-params-1")),
            ("a negative capacity", good.replace('"capacity_ah": ', '"capacity_ah": -', 1), "-2.", ("more than 0",)),
            ("text for a number", re.sub(r'"rc_s": [\d.]+', '"rc_s": "a minute"', good, count=1), '"a minute"', ("a plain number",)),
            ("an unknown key", good.replace('"rc_s"', '"rc_sec"', 1), '"rc_sec"', ('did you mean "rc_s"?',)),
            ("a falling curve", re.sub(r'"ocv": \[\s*\[\s*0,\s*[\d.]+', '"ocv": [[0, 9.9', good, count=1), "[[0, 9.9", ("rise",)),
            ("cut off", good[:len(good) // 2], None, ()),
            ("empty", "", None, ()),
        ]
        for name, text, marker, says in table:
            with self.subTest(name):
                self.write("p.json", text)
                start = "p.json:"
                if marker is not None:
                    line, column = place_of(text, marker)
                    start = f"p.json:{line}:{column}: " if not marker.startswith("params-2") else f"p.json:{line}:"
                for words in (("discharge", "--params", "p.json", "--current", "1"), ("catalogue", "--params", "p.json"),
                              ("fit", "log.csv", "--health-only", "--params", "p.json"), ("forecast", "day.toml")):
                    self.assert_refused(self.run_here(*words), start, *says)


class Repairs(Fit):
    def test_stated(self):
        """What is repaired is said, and the fit is that of the plain log."""
        want = self.good(self.plain)
        rows = self.rows
        comma = text_of(rows, line="{:.2f};{:.4f};{:.4f};{:.2f}", header=HEADER.replace(",", ";"))
        head, body = comma.split("\n", 1)
        table = [
            ("byte order mark", "\ufeff" + self.plain, ()),
            ("CR LF", self.plain.replace("\n", "\r\n"), ()),
            ("CR alone", self.plain.replace("\n", "\r"), ()),
            ("quoted", self.plain.replace("time_s", '"time_s"', 1), ()),
            ("a column of remarks left alone would be refused", self.plain, ()),
            ("semicolons", comma, ("separated by semicolons",)),
            ("decimal commas", head + "\n" + body.replace(".", ","), ("separated by semicolons", "decimal commas")),
            ("tabs", self.plain.replace(",", "\t"), ("separated by tabs",)),
            ("millivolts", text_of([(t, 1000 * v, a, c) for t, v, a, c in rows], "time_s,Voltage (mV),current_a,surface_c",
                                   "{:.2f},{:.1f},{:.4f},{:.2f}"), ('"Voltage (mV)" is read as voltage_v, times 0.001',)),
            ("minutes", text_of([(t / 60, v, a, c) for t, v, a, c in rows], "time [min],voltage_v,current_a,surface_c",
                                "{:.8f},{:.4f},{:.4f},{:.2f}"), ('"time [min]" is read as time_s, times 60',)),
            ("milliamps, Fahrenheit", text_of([(t, v, 1000 * a, 32 + 1.8 * c) for t, v, a, c in rows],
                                              "Test_Time(s),Voltage/V,Current [mA],Temp (\u00b0F)", "{:.2f},{:.4f},{:.1f},{:.3f}"),
             ("read as time_s", "read as voltage_v", "read as current_a, times 0.001",
              "\"Temp (\u00b0F)\" is read as surface_c, times 0.555")),
            ("NaN", self.plain.replace(f"{rows[30][1]:.4f}", "NaN", 1), ("taken as empty", "one row is left out", "line")),
        ]
        for name, text, says in table:
            with self.subTest(name):
                got = self.good(text)
                for part in says:
                    self.assertTrue(any(part in note for note in got["notes"]), (part, got["notes"]))
                self.assertEqual(len(got["notes"]), len(want["notes"]) + max(len(says) - (2 if name == "NaN" else 0), 0)
                                 + (1 if name == "NaN" else 0), got["notes"])
                for ours, theirs in zip(want["numbers"], got["numbers"], strict=True):
                    self.assertAlmostEqual(ours["value"], theirs["value"], delta=max(0.2 * ours["plus_minus"], 1e-9), msg=ours["name"])

    def test_a_short_gap(self):
        rows = self.rows
        got = self.good(text_of(rows[:60] + rows[73:]), "--capacity-ah", "2.85")
        self.assertTrue(any("gap" in note and "straight" in note for note in got["notes"]), got["notes"])

    def test_a_million_rows(self):
        """Thinned, and said; the numbers are those of the plain log."""
        rows = self.rows
        out = io.StringIO()
        out.write(HEADER + "\n")
        step = rows[-1][0] / 999_999
        k = 0
        for j in range(1_000_000):
            t = j * step
            while k + 2 < len(rows) and rows[k + 1][0] < t:
                k += 1
            (t0, v0, a0, c0), (t1, v1, a1, c1) = rows[k], rows[k + 1]
            w = min(1.0, max(0.0, (t - t0) / (t1 - t0)))
            out.write(f"{t:.5f},{v0 + w * (v1 - v0):.5f},{a0 + w * (a1 - a0):.3f},{c0 + w * (c1 - c0):.2f}\n")
        began = time.monotonic()
        got = self.good(out.getvalue())
        self.assertLess(time.monotonic() - began, 60)
        self.assertTrue(any("1000000 rows thinned to" in note for note in got["notes"]), got["notes"])
        want = {n["name"]: n for n in self.good(self.plain)["numbers"]}
        for n in got["numbers"]:
            if n["name"] == "capacity_ah":
                self.assertAlmostEqual(n["value"], want["capacity_ah"]["value"], delta=want["capacity_ah"]["plus_minus"])


class Written(Fit):
    def test_schemas_and_uses(self):
        self.write("log.csv", self.plain)
        result = self.run_here(*FIT, "--out", "p.json", "--json")
        self.assertEqual((result.returncode, result.stderr), (0, b""))
        answer = json.loads(result.stdout)
        written = json.loads((self.path / "p.json").read_text())
        for name, value in (("fit", answer), ("params", written)):
            schema = json.loads((ROOT / "schema" / f"{name}.schema.json").read_text(encoding="utf-8"))
            jsonschema.Draft202012Validator.check_schema(schema)
            jsonschema.Draft202012Validator(schema).validate(value)
        self.assertEqual(written["cell"][0], answer["cell"])
        # The numbers the log cannot tell are named and kept.
        self.assertEqual(sorted(answer["cannot_tell"]), sorted(n["name"] for n in answer["numbers"] if not n["told"]
                                                                 and not n["name"].startswith("start charge of")))
        self.assertIn("electrolyte_activation_k", answer["cannot_tell"])
        told = self.run_here(*FIT).stdout.decode()
        self.assertLessEqual(max(map(len, told.splitlines())), 80, told)
        # A second fit from the same log gives the same bytes.
        again = self.run_here(*FIT, "--out", "again.json")
        self.assertEqual(again.returncode, 0)
        self.assertEqual((self.path / "p.json").read_bytes(), (self.path / "again.json").read_bytes())

        discharge = self.run_here("discharge", "--params", "p.json", "--current", "2.9", "--json")
        self.assertEqual(discharge.returncode, 0, discharge.stderr)
        self.assertAlmostEqual(json.loads(discharge.stdout)["duration_s"], self.rows[-1][0], delta=0.02 * self.rows[-1][0])

        explained = self.run_here("catalogue", "--params", "p.json")
        self.assertEqual(explained.returncode, 0)
        text = explained.stdout.decode()
        self.assertIn("the logs cannot tell it", text)
        labels = [line[2:26].strip() for line in text.split("\n\n")[1].splitlines() if line[2:3].strip()]
        self.assertEqual(len(labels), len(set(labels)), labels)  # each number under a name of its own
        self.assertRegex(text, r"fitted to the logs, give or take [\d.]+ Ah")
        self.assertLessEqual(max(map(len, text.splitlines())), 80)
        entry = json.loads(self.run_here("catalogue", "--params", "p.json", "--json").stdout)["entry"]
        self.assertIn("give or take", entry["own_provenance"]["capacity_ah"]["source"])
        self.assert_refused(self.run_here("catalogue", "nca", "--params", "p.json"), "tillwrap: --params")

    def test_health(self):
        self.write("log.csv", self.plain)
        self.assertEqual(self.run_here(*FIT, "--out", "p.json").returncode, 0)
        rows = self.discharged("--params", "p.json", "--health", "0.8", "--resistance-factor", "1.5", amps=2.9)
        self.write("aged.csv", text_of(rows))
        result = self.run_here("fit", "aged.csv", "--health-only", "--params", "p.json", "--out", "now.json", "--json")
        self.assertEqual((result.returncode, result.stderr), (0, b""))
        answer = json.loads(result.stdout)
        self.assertAlmostEqual(answer["capacity_fraction"], 0.8, delta=0.02)
        self.assertAlmostEqual(answer["resistance_factor"], 1.5, delta=0.15)
        now = self.run_here("discharge", "--params", "now.json", "--current", "2.9", "--json")
        self.assertAlmostEqual(json.loads(now.stdout)["duration_s"], rows[-1][0], delta=0.02 * rows[-1][0])

    def test_title(self):
        """A fitted cell is not the one its set was measured on, whatever its size."""
        self.write("log.csv", text_of([(t, v, 4 * a, c) for t, v, a, c in self.rows]))
        self.assertEqual(self.run_here(*FIT, "--capacity-ah", "11.6", "--out", "p.json").returncode, 0)
        said = self.run_here("discharge", "--params", "p.json", "--current", "10").stdout.decode().splitlines()[0]
        self.assertRegex(said, r"^Cell of 1[12]\.?\d* Ah by its logs, from nca$")
        self.assertEqual(self.run_here("fit", "log.csv", "--health-only", "--params", "p.json", "--out", "now.json").returncode, 0)
        self.assertIn(said, (self.path / "now.json").read_text())

    def test_a_day_with_its_own_packs(self):
        self.write("log.csv", text_of(self.discharged("--cell", "nmc", amps=2)))
        self.assertEqual(self.run_here("fit", "log.csv", "--chemistry", "nmc", "--capacity-ah", "3", "--out", "cell.json").returncode, 0)
        (self.path / "days").mkdir()
        marked = 'kind = "smart-pack-14v4-98wh"'
        half = re.sub(r'"capacity_ah": ([\d.]+)', lambda m: f'"capacity_ah": {float(m.group(1)) / 2}',
                      (self.path / "cell.json").read_text(), count=1)
        self.write("days/half.json", half)
        plain = json.loads(self.forecast(BASE_DAY))
        own = json.loads(self.forecast(edited((marked, marked + '\nparams = "half.json"'))))
        self.assertLess(own["first_loss"]["at_s"], plain["first_loss"]["at_s"])
        self.assertNotEqual(own["packs"][0]["end_charge"], plain["packs"][0]["end_charge"])
        # Every command on a day reads them, those that compute changed days too.
        self.write("days/own.toml", edited((marked, marked + '\nparams = "half.json"')))
        every = (("odds", "--days", "32"), ("choose", "--fresh", "512"), ("compare",), ("remedies", "--days", "32"), ("meters",),
                 ("findings",), ("travel", "--on", "2026-11-25"), ("expendables",), ("sheet", "--out", str(self.path / "out")))
        for command, *options in every:
            result = self.run_here(command, "days/own.toml", *options)
            self.assertIn(result.returncode, (0, 1), (command, result.stderr))
            self.assertEqual(result.stderr, b"", command)
        day = edited((marked, marked + '\nparams = "nowhere.json"'))
        self.write("days/day.toml", day)
        line, column = place_of(day, '"nowhere.json"')
        for words in (("forecast",), ("odds",), ("check",), *(words[:1] for words in every[:-1])):
            self.assert_refused(self.run_here(*words, "days/day.toml"), f"days/day.toml:{line}:{column}: ",
                                'no parameter file "nowhere.json"', "relative to the day file")
        # Of another chemistry.
        self.write("log.csv", self.plain)
        self.assertEqual(self.run_here(*FIT, "--out", "days/nca.json").returncode, 0)
        day = edited((marked, marked + '\nparams = "nca.json"'))
        self.write("days/day.toml", day)
        line, column = place_of(day, '"nca.json"')
        self.assert_refused(self.run_here("forecast", "days/day.toml"), f"days/day.toml:{line}:{column}: ", "another chemistry")

    def forecast(self, day):
        self.write("days/day.toml", day)
        result = self.run_here("forecast", "days/day.toml", "--json")
        self.assertIn(result.returncode, (0, 1), result.stderr)
        self.assertEqual(result.stderr, b"")
        return result.stdout


class Progress(Fit):
    def test_on_a_terminal_only(self):
        self.write("log.csv", self.plain)
        piped = self.run_here(*FIT)
        self.assertEqual((piped.returncode, piped.stderr), (0, b""))
        ours, theirs = pty.openpty()
        with subprocess.Popen([PROGRAM, *FIT], cwd=self.path, stdout=subprocess.PIPE, stderr=theirs) as process:
            os.close(theirs)
            seen = b""
            while True:
                ready, _, _ = select.select([ours], [], [], 60)
                try:
                    part = os.read(ours, 4096) if ready else b""
                except OSError:  # the other end is closed
                    part = b""
                if not part:
                    break
                seen += part
            out = process.stdout.read()
            code = process.wait(60)
        os.close(ours)
        self.assertEqual(code, 0)
        self.assertEqual(out, piped.stdout)
        self.assertRegex(seen, rb"\rfitting: round 1, ")
        # The line is wiped at the end, so nothing of it stays on the screen.
        self.assertTrue(seen.endswith(b"\r\x1b[K"), seen[-40:])
        self.assertNotIn(b"\n", seen)


if __name__ == "__main__":
    unittest.main()
