"""Bad words for `tillwrap discharge`, bad profiles, and bad commands: exit 2, one line, nothing written."""

import re
import unittest

from support import BASE_DAY, ROOT, Folder, place_of

CELL = ("discharge", "--cell", "nca")
LOADED = (*CELL, "--current", "2.9")

# name, words, parts of the message
WORDS = [
    ("no source", ("discharge", "--current", "1"), ("exactly one of --pack, --cell and --params",)),
    ("two sources", (*LOADED, "--pack", "vrla-12v-7ah"), ("exactly one of --pack, --cell and --params",)),
    ("no load", CELL, ("exactly one of --power, --current, --resistance and --profile",)),
    ("two loads", (*LOADED, "--power", "1"), ("exactly one of --power",)),
    ("unknown cell", ("discharge", "--cell", "ncx", "--current", "1"), ('did you mean "nca"?',)),
    ("unknown pack", ("discharge", "--pack", "smart-pack-14v4-99wh", "--power", "9"), ("did you mean \"smart-pack",)),
    ("NaN", (*CELL, "--current", "nan"), ("--current", "no current", "A, mA")),
    ("infinity", (*CELL, "--current", "1e999"), ("--current", "out of range")),
    ("negative", (*CELL, "--current", "-1"), ("--current", "positive number")),
    ("negative power", (*CELL, "--power=-1"), ("--power", "positive number")),
    ("nothing", (*CELL, "--resistance", "0"), ("--resistance", "positive number")),
    ("decimal comma", (*CELL, "--current", "1,5"), ("--current", "decimal comma", "1.5")),
    ("unit of another kind", (*CELL, "--current", "5 W"), ("--current", "current in W", "A, mA")),
    ("too much", (*CELL, "--current", "1e9"), ("--current", "100,000")),
    ("no cells", (*LOADED, "--cells", "0"), ("--cells", "1 to 100")),
    ("cells in words", (*LOADED, "--cells", "two"), ("--cells",)),
    ("cells of a pack", ("discharge", "--pack", "vrla-12v-7ah", "--power", "9", "--cells", "3"), ("--cells",)),
    ("air in words", (*LOADED, "--ambient", "warm"), ("--ambient", "°C, °F, K")),
    ("air too cold", (*LOADED, "--ambient", "-100"), ("--ambient", "−60 to 80 °C")),
    ("start too hot", (*LOADED, "--start-temp", "200"), ("--start-temp", "−60 to 80 °C")),
    ("charge above the whole", (*LOADED, "--start-charge", "2"), ("--start-charge", "0 to 1")),
    ("charge below nothing", (*LOADED, "--start-charge=-0.1"), ("--start-charge", "0 to 1")),
    ("charge and volts", (*LOADED, "--start-charge", "0.5", "--rested", "3.6"), ("--rested", "keep one")),
    ("rested volts of nothing", (*LOADED, "--rested", "0"), ("--rested", "rests between")),
    ("rested volts of two cells", (*LOADED, "--rested", "8.2"), ("--rested", "rests between")),
    ("negative limit", (*LOADED, "--until", "-3"), ("--until", "0 to 1000 V")),
    ("limit in amps", (*LOADED, "--until", "3 A"), ("--until", "voltage in A")),
    ("duty without units", (*LOADED, "--duty", "1/2"), ("--duty", "h, min, s")),
    ("duty longer than its period", (*LOADED, "--duty", "2 s/1 s"), ("--duty", "at most the period")),
    ("repeat without profile", (*LOADED, "--repeat"), ("--repeat", "--profile")),
    ("no health", (*LOADED, "--health", "0 %"), ("--health", "nothing, or over 150 %")),
    ("no resistance", (*LOADED, "--resistance-factor", "0"), ("--resistance-factor", "nothing, or over 20")),
    ("a limit above full", (*LOADED, "--until", "9"), ("--until", "9 V is more", "when full")),
    ("negative resistance factor", (*LOADED, "--resistance-factor=-1"), ("--resistance-factor",)),
    ("surface without profile", (*LOADED, "--start-from-surface"), ("--start-from-surface", "--start-temp")),
    ("unknown option", (*LOADED, "--untill", "3"), ('no option "--untill"', 'did you mean "--until"?')),
    ("option without value", (*CELL, "--current"), ("--current",)),
    ("unknown command", ("forcast", "day.toml"), ('no command "forcast"', 'did you mean "forecast"?')),
    ("no command", (), ("commands: forecast, odds, check",)),
    ("no file", ("forecast",), ("DAY is required",)),
    ("two files", ("forecast", "a.toml", "b.toml"), ("b.toml",)),
    ("step of nothing", ("forecast", "a.toml", "--step", "0"), ("--step", "1 to 3600")),
    ("step NaN", ("forecast", "a.toml", "--step", "nan"), ("--step", "1 to 3600")),
    ("unknown kind", ("catalogue", "smart-pack-14v4-9wh"), ('did you mean "smart-pack',)),
]

# name, profile, start of the message, parts of it
PROFILES = [
    ("a gap", "time_s,current_a\n0,1\n10,\n20,1\n", "p.csv:3:", ("nothing is written under current_a",)),
    ("semicolons", "time_s;current_a\n0;1\n10;1\n", "p.csv:1:", ("semicolons", "commas")),
    ("NaN", "time_s,current_a\n0,1\n10,nan\n", "p.csv:3:4:", ("not finite",)),
    ("infinity", "time_s,current_a\n0,1\n10,inf\n", "p.csv:3:4:", ("not finite",)),
    ("NaN in time", "time_s,current_a\nnan,1\n10,1\n", "p.csv:2:1:", ("not finite",)),
    ("backwards", "time_s,current_a\n0,1\n20,1\n10,1\n", "p.csv:4:", ("time does not run forward",)),
    ("a time twice", "time_s,current_a\n0,1\n20,1\n20,1\n", "p.csv:4:", ("time does not run forward",)),
    ("units in the header", "time [s],current [A]\n0,1\n10,1\n", "p.csv:1:", ("current_a or power_w", "current [A]")),
    ("a row of units", "time_s,current_a\ns,A\n0,1\n10,1\n", "p.csv:2:1:", ('"s" under time_s is no number',)),
    ("one row", "time_s,current_a\n0,1\n", "p.csv:2:", ("one row", "at least two")),
    ("no rows", "time_s,current_a\n", "p.csv:1:", ("no rows", "at least two")),
    ("no header", "0,1\n10,1\n", "p.csv:1:", ("no column names",)),
    ("both columns", "time_s,current_a,power_w\n0,1,2\n10,1,2\n", "p.csv:1:", ("current_a and power_w",)),
    ("neither column", "time_s,voltage_v\n0,4\n10,4\n", "p.csv:1:", ("current_a or power_w",)),
    ("no time", "current_a,voltage_v\n0,4\n10,4\n", "p.csv:1:", ("no column time_s",)),
    ("a column twice", "time_s,current_a,current_a\n0,1,1\n10,1,1\n", "p.csv:1:18:", ("stands twice",)),
    ("decimal comma", "time_s,current_a\n0,1,5\n10,1,5\n", "p.csv:2:", ("3 cells", "decimal commas")),
    ("too few cells", "time_s,current_a\n0,1\n10\n", "p.csv:3:", ("1 cells",)),
    ("volts missing", "time_s,current_a,voltage_v\n0,1,4.1\n10,1,\n", "p.csv:3:", ("under voltage_v",)),
    ("a word", "time_s,current_a\n0,1\n10,off\n", "p.csv:3:4:", ('"off" under current_a is no number',)),
    ("not text", b"time_s,current_a\n0,\xff\n10,1\n", "p.csv:2:3:", ("not valid UTF-8", "save the file")),
    ("UTF-16", "time_s,current_a\n0,1\n10,1\n".encode("utf-16"), "p.csv:1:1:", ("UTF-16",)),
    ("binary", b"time_s,current_a\n0,1\n10,\x001\n", "p.csv:3:4:", ("binary",)),
    ("empty", "", "p.csv:1:1:", ("empty",)),
]


class BadDischarge(Folder):
    def test_words(self):
        for name, words, says in WORDS:
            with self.subTest(name):
                self.assert_refused(self.run_here(*words), "tillwrap: " if name != "unknown kind" else "", *says)
                self.assertEqual(self.names(), [])

    def test_profiles(self):
        for name, profile, start, says in PROFILES:
            with self.subTest(name):
                self.write("p.csv", profile)
                self.assert_refused(self.run_here(*CELL, "--profile", "p.csv", "--json"), start, *says)

    def test_duty_with_a_profile(self):
        self.write("p.csv", "time_s,current_a\n0,1\n10,1\n")
        self.assert_refused(self.run_here(*CELL, "--profile", "p.csv", "--duty", "1 s/2 s"), "tillwrap: --duty", "profile")

    def test_files(self):
        self.assert_refused(self.run_here(*CELL, "--profile", "no.csv"), "no.csv:1:1: ", "no such file")
        self.assert_refused(self.run_here("discharge", "--params", "no.toml", "--current", "1"), "no.toml:1:1: ", "no such")
        self.write("day.toml", BASE_DAY)
        self.assert_refused(self.run_here("discharge", "--params", "day.toml", "--current", "1"), "day.toml:2:10: ", "format")

    def test_own_cell_parameters(self):
        """A cell of the catalogue brought along as a file gives the same answer; spoilt, it is refused at its place."""
        data = (ROOT / "src" / "catalogue" / "data" / "chemistry.toml").read_text(encoding="utf-8")
        cell = re.search(r'\[\[cell\]\]\nid = "nca"\n.*?(?=\n\[\[cell\]\]|\Z)', data, re.S).group(0)
        rated = re.search(r"rated_ah = .*", cell).group(0)
        self.write("own.toml", cell)
        own = self.run_here("discharge", "--params", "own.toml", "--current", "2.9", "--json")
        self.assertEqual((own.returncode, own.stderr), (0, b""))
        self.assertEqual(own.stdout, self.run_here("discharge", "--cell", "nca", "--current", "2.9", "--json").stdout)
        for name, text, marker, says in [
            ("misspelt", cell.replace("rated_ah", "rated_ahh", 1), "rated_ahh", 'did you mean "rated_ah"?'),
            ("negative", cell.replace(rated, "rated_ah = -2.9", 1), "-2.9", "more than 0"),
            ("NaN", cell.replace(rated, "rated_ah = nan", 1), "nan\n", "finite"),
            ("text", cell.replace(rated, 'rated_ah = "2.9 V"', 1), '"2.9 V"', "a plain number"),
            ("missing", cell.replace(rated + "\n", "", 1), "[[cell]]", 'no key "rated_ah"'),
            ("two cells", cell + "\n" + cell, "[[cell]]", "write one [[cell]]"),
        ]:
            with self.subTest(name):
                self.write("own.toml", text)
                line, column = place_of(text, marker)
                result = self.run_here("discharge", "--params", "own.toml", "--current", "2.9")
                self.assert_refused(result, f"own.toml:{line}:{column}: ", says)

    def test_good_profiles(self):
        """Quoted cells, CR LF, a byte order mark, blank lines and unused columns are RFC 4180 or common, and read."""
        for name, profile in [
            ("plain", "time_s,current_a\n0,1\n60,1\n"),
            ("quoted", '"time_s","current_a"\n"0","1"\n"60","1"\n'),
            ("CR LF", "time_s,current_a\r\n0,1\r\n60,1\r\n"),
            ("byte order mark", "\ufefftime_s,current_a\n0,1\n60,1\n"),
            ("blank line, unused column", "time_s,note,current_a\n0,1,1\n\n60,2,1\n"),
        ]:
            with self.subTest(name):
                self.write("p.csv", profile)
                result = self.run_here(*CELL, "--profile", "p.csv", "--json")
                self.assertEqual((result.returncode, result.stderr), (0, b""))
                self.assertIn(b'"duration_s":60.0', result.stdout)


if __name__ == "__main__":
    unittest.main()
