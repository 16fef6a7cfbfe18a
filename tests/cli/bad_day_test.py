"""Bad day files: exit 2, one line with file, line, column, what is wrong and what is allowed, nothing written.

Each case is the valid base day with one edit. `at` is the text at whose first place the message must point.
"""

import subprocess
import unittest
from dataclasses import dataclass, field

from support import BASE_DAY, PROGRAM, Folder, edited, place_of

HOLDER_PACKS = 'packs = [{ pack = "P1", at = "07:30" }, "P2"]'
SECOND_BOX = """[[holder]]
name = "cup 2"
kind = "cup-smart-14v4"
in = "box 2"
packs = [{ pack = "P1", at = "08:30" }]

[[box]]
name = "box 2"
kind = "box-1cup"

"""
LOOP = """[[box]]
name = "splitter"
kind = "box-xlr-6"

[[wire]]
from = "splitter.out-1"
to = "splitter.in-1"
length = "1 m"

[[wire]]
from = "box.out-1"
"""


@dataclass
class Case:
    name: str
    edit: tuple  # (old, new), ...
    at: str
    says: tuple = field(default_factory=tuple)


def one(name, old, new, at, *says):
    return Case(name, ((old, new),), at, says)


CASES = [
    # not TOML
    one("not TOML", "format = 1", "format = = 1", "= 1", "not TOML here", "key = value"),
    one("clock without quotes", 'call = "08:00"', "call = 08:00", "\nwrap", "not TOML here", "stand in quotes"),
    one("decimal comma, bare", '"0.5 m"', "0,5", ",5", "not TOML here"),
    one("key twice", 'label = "P1"', 'label = "P1"\nlabel = "P9"', '"P9"', "label"),
    # types, keys
    one("wrong type", 'label = "P1"', "label = 7", "7", '"label" is a whole number', "text in quotes"),
    one("wrong type of a quantity", '"92 %"', "true", "true", '"health" is true or false', "30 %"),
    one("table for a list", '[[period]]\nname = "rigging"', '[period]\nname = "rigging"', "[[period]]", "not TOML"),
    one("unknown key", "health", "helth", "helth", 'unknown key "helth"', 'did you mean "health"?'),
    one("misspelt needed key", 'label = "P1"', 'lable = "P1"', "lable", 'no key "label"', 'did you mean "label"?'),
    one("unknown table", '[[period]]\nname = "rigging"', '[[periode]]\nname = "rigging"', "periode",
        'did you mean "period"?'),
    one("later format", "format = 1", "format = 2", "2", "format 1 only"),
    one("no format", "format = 1\n", "", "#", 'no key "format"', "format = 1"),
    # quantities
    one("unit of another kind", '"0.5 m"', '"0.5 W"', '"0.5 W"', "length in W", "allowed: m, cm, mm, ft, in"),
    one("unknown unit", '"0.5 m"', '"0.5 yards"', '"0.5 yards"', 'unknown unit "yards"', "allowed: m, cm, mm, ft, in"),
    one("text without unit", '"8.2 W"', '"8.2"', '"8.2"', "has no unit", "14.5 W"),
    one("number without unit", '"0.5 m"', "0.5", "0.5", "a number without a unit", "length_m"),
    one("draw as a number", '"8.2 W"', "8.2", "8.2", '"draw" is a number', "14.5 W"),
    one("decimal comma", '"8.2 W"', '"8,2 W"', '"8,2 W"', "decimal comma"),
    one("negative capacity", 'health = "92 %"', 'capacity = "-6.8 Ah"', '"-6.8 Ah"', "-6.8 Ah", "more than 0 Ah"),
    one("negative health", '"92 %"', '"-5 %"', '"-5 %"', "-5 %", "more than 0 %"),
    one("per cent as a number", '"92 %"', "92", "92", 'write "92 %"'),
    one("negative draw", '"8.2 W"', '"-8.2 W"', '"-8.2 W"', "negative", "0 or more"),
    one("negative length", '"0.5 m"', '"-0.5 m"', '"-0.5 m"', "more than 0 m"),
    one("NaN", '"92 %"', "nan", "nan", "not a number", "finite"),
    one("NaN in text", '"92 %"', '"nan %"', '"nan %"', "no fraction", "30 %"),
    one("infinity", '"8.2 W"', '"1e999 W"', '"1e999 W"', "out of range"),
    one("air too hot", '"14 °C"', '"140 °C"', '"140 °C"', "140 °C", "-60 °C to 60 °C"),
    one("air without unit", '"14 °C"', '"14"', '"14"', "has no unit", "°C, °F, K"),
    one("duration as a clock time", '"1 h"', '"1:00"', '"1:00"', "1 h 30 min"),
    one("no such clock time", '"08:00"', '"25:99"', '"25:99"', "minutes 00 to 59"),
    one("no date", 'overrun = "1 h"', 'date = "someday"', '"someday"', "no date", "2026-11-25"),
    one("no such date", 'overrun = "1 h"', 'date = "2026-02-30"', '"2026-02-30"', "no date"),
    one("wire size", "AWG 22", "AWG 2", '"AWG 2"', "AWG 8 to 30"),
    one("wire size without gauge", "AWG 22", "22", '"22"', "AWG 22"),
    one("wire without length", 'length = "0.5 m"\n', "", "[[wire]]", 'no key "length"'),
    one("too much phantom", '"2 mA"', '"20 mA"', '"20 mA"', "0 to 10 mA"),
    one("phantom in volts", '"2 mA"', '"2 V"', '"2 V"', "current in V"),
    # kinds and names
    one("unknown pack kind", '"smart-pack-14v4-98wh"', '"smart-pak-14v4-98wh"', '"smart-pak', "no packs entry",
        'did you mean "smart-pack-14v4-98wh"?'),
    one("unknown device kind", '"recorder-mixer-8"', '"recorder-mixr-8"', '"recorder-mixr-8"',
        'did you mean "recorder-mixer-8"?'),
    one("kind of another list", '"recorder-mixer-8"', '"box-1cup"', '"box-1cup"\ndraw', "no devices entry",
        "tillwrap catalogue devices"),
    one("label twice", 'label = "P2"', 'label = "P1"', '"P1"\nkind = "smart-pack-14v4-98wh"\n\n[[holder', "used twice",
        "line 11"),
    one("name twice", 'name = "box"', 'name = "cup"', '"cup"\nkind = "cup', "used twice"),
    one("empty label", 'label = "P1"', 'label = ""', '""', "empty name"),
    one("line break in a name", 'title = "Base day"', 'title = "Base\\nday"', '"Base', "line break"),
    one("escape in a name", 'name = "scene"', 'name = "\\u001b[31mscene"', '"\\u001b', "control character"),
    one("dot in a name", 'name = "cup"', 'name = "cup.1"', '"cup.1"', "dot"),
    one("unknown place", "{ bag =", "{ bagg =", "bagg", 'did you mean "bag"?'),
    one("unknown place in a list", 'no_hands = { bag = "09:00-09:30" }', 'no_hands = ["bagg"]', '"bagg"',
        'did you mean "bag"?'),
    one("place is a number", 'no_hands = { bag = "09:00-09:30" }', "no_hands = [3]", "[3]", "list of places"),
    one("stretch with one time", "09:00-09:30", "09:00", '"09:00"', "11:30-12:25"),
    one("stretch backwards", "09:00-09:30", "09:30-09:00", '"09:30-09:00"', "ends before it begins"),
    one("unknown pack in a holder", '"P2"]', '"P3"]', '"P3"]', 'no pack is labelled "P3"'),
    one("pack does not fit", 'label = "P2"\nkind = "smart-pack-14v4-98wh"', 'label = "P2"\nkind = "bank-12v-barrel"',
        '"P2"]', "does not fit", "smart-pack-14v4-49wh"),
    one("unknown source", "no_hands", 'live = ["mains"]\nno_hands', '["mains"]', "no source"),
    one("unknown device switched", "no_hands", 'off = ["recoder"]\nno_hands', '["recoder"]',
        'did you mean "recorder"?'),
    one("no such mode", "no_hands", 'modes = { recorder = "turbo" }\nno_hands', '"turbo"', 'no mode "turbo"',
        "record, standby, off"),
    # wiring
    one("plug does not mate", 'wire = "AWG 22"', 'wire = "AWG 22"\nplugs = ["round-lock-4", "barrel-2mm5"]',
        '"recorder.dc"', "does not mate", "round-lock-4"),
    one("unknown plug", 'wire = "AWG 22"', 'wire = "AWG 22"\nplugs = ["round-lok-4", "round-lock-4"]', "[\"round-lok",
        'did you mean "round-lock-4"?'),
    one("one plug", 'wire = "AWG 22"', 'wire = "AWG 22"\nplugs = ["round-lock-4"]', '["round-lock-4"]', "two plugs"),
    one("unknown input", '"recorder.dc"', '"recoder.dc"', '"recoder.dc"', 'did you mean "recorder.dc"?'),
    one("unknown output", '"box.out-1"', '"box.out1"', '"box.out1"', 'did you mean "box.out-1"?'),
    one("output not named", '"box.out-1"', '"box"', '"box"\nto', "name the socket", "box.out-2"),
    one("input fed twice", "[[period]]", '[[wire]]\nfrom = "box.out-2"\nto = "recorder.dc"\nlength = "1 m"\n\n[[period]]',
        '"recorder.dc"\nlength = "1 m"', "fed twice"),
    one("device fed twice", '"recorder.dc"', '"recorder"\nlength = "1 m"\n\n[[wire]]\nfrom = "box.out-2"\nto = "recorder"',
        '"recorder"\nlength = "0.5 m"', "fed twice"),
    one("loop", '[[wire]]\nfrom = "box.out-1"\n', LOOP, "[[wire]]", "closes a loop", "splitter.out-1"),
    one("above the input range", 'kind = "recorder-mixer-8"\n', 'kind = "recorder-mixer-8"\nmost_volts = "12 V"\n',
        '"recorder"', "at most 12 V", "14.4 V"),
    one("holder feeds nothing", 'in = "box"\n', "", '"cup"', "feeds nothing", "in = "),
    one("nothing feeds a device", "[[wire]]", '[[device]]\nname = "rx"\nkind = "receiver-dual"\n\n[[wire]]', '"rx"',
        "nothing feeds", "[[wire]]"),
    # places, boxes, sources, chargers, measured draws
    one("new place without its like", "[[pack]]", '[[place]]\nname = "hut"\n\n[[pack]]', "[[place]]", 'no key "like"'),
    one("place like another", "[[pack]]", '[[place]]\nname = "hut"\nlike = "barn"\n\n[[pack]]', '"barn"',
        "air, bag, fixed, between"),
    one("bag without heat capacity", "[[pack]]", '[[place]]\nname = "bag"\nheat_capacity = "1 J/K"\n\n[[pack]]',
        '"1 J/K"', "at least 100 J/K"),
    one("share above the whole", "[[pack]]", '[[place]]\nname = "van"\nshare = "130 %"\n\n[[pack]]', '"130 %"', "0 % to 100 %"),
    one("fuse of no output", 'kind = "box-1cup"', 'kind = "box-1cup"\nfuses = { out-9 = "3 A" }', "out-9", 'did you mean "out-1"?'),
    one("source in no holder", "[[device]]", '[[source]]\nname = "mains"\nkind = "mains-15v-4a"\nin = "cupp"\n\n[[device]]',
        '"cupp"', "no holder"),
    one("source that feeds nothing", "[[device]]", '[[source]]\nname = "mains"\nkind = "mains-15v-4a"\n\n[[device]]',
        '"mains"\nkind', "feeds nothing"),
    one("more bays than there are", "[[device]]",
        '[[charger]]\nname = "charger"\nkind = "charger-smart-2"\nbays = [[], [], []]\n\n[[device]]', "[[], [], []]", "2 bays"),
    one("bay without a time", "[[device]]",
        '[[charger]]\nname = "charger"\nkind = "charger-smart-2"\nbays = [["P1"], []]\n\n[[device]]', '"P1"], []', "has no time"),
    one("out of the bay before in", "[[device]]",
        '[[charger]]\nname = "charger"\nkind = "charger-smart-2"\n'
        'bays = [[{ pack = "P1", from = "11:00", until = "10:00" }]]\n\n[[device]]',
        '{ pack = "P1", from', "before it goes in"),
    one("measured nowhere", "[[period]]", '[[measured]]\nat = "boxx"\ndraw = "9 W"\nduring = "scene"\n\n[[period]]',
        '"boxx"', 'did you mean "box"?'),
    one("measured in no period", "[[period]]", '[[measured]]\nat = "box"\ndraw = "9 W"\nduring = "scenes"\n\n[[period]]',
        '"scenes"', "no period"),
    one("measured nothing", "[[period]]", '[[measured]]\nat = "box"\ndraw = "0 W"\nduring = "scene"\n\n[[period]]',
        '"0 W"', "of nothing"),
    one("measured in ohms", "[[period]]", '[[measured]]\nat = "box"\ndraw = "9 ohm"\nduring = "scene"\n\n[[period]]',
        '"9 ohm"', "watts or amps"),
    one("gauge read once", "[[period]]", '[[measured]]\nat = "cup"\ngauge = "90 % at 09:00"\n\n[[period]]',
        '"90 % at', "two gauge readings"),
    one("gauge that rises", "[[period]]", '[[measured]]\nat = "cup"\ngauge = "50 % at 08:10, 60 % at 09:00"\n\n[[period]]',
        '"50 % at', "lower than the first"),
    one("gauge of a device", "[[period]]", '[[measured]]\nat = "recorder"\ngauge = "90 % at 08:10, 60 % at 09:00"\n\n[[period]]',
        '"recorder"\ngauge', "name the holder"),
    # packs and times
    one("two packs in one holder at once", HOLDER_PACKS,
        'packs = [{ pack = "P1", at = "07:30" }, { pack = "P2", at = "07:30" }]', '{ pack = "P2"',
        "two packs in one holder at once"),
    one("one pack in two holders at once", "[[box]]", SECOND_BOX + "[[box]]", '{ pack = "P1", at = "08:30"', "at once",
        '"cup 2"'),
    one("pack goes in before the day", 'at = "07:30"', 'at = "06:00"', '{ pack = "P1"', "outside the day",
        "07:30 to 13:00"),
    one("periods overlap", 'from = "07:30"\nair', 'from = "07:30"\nuntil = "08:30"\nair', '"08:00"\nair', "overlaps",
        "08:30"),
    one("gap between periods", 'from = "07:30"\nair', 'from = "07:30"\nuntil = "07:45"\nair', '"08:00"\nair',
        "nothing is said about 07:45 to 08:00"),
    one("periods out of order", 'from = "08:00"\nair', 'from = "07:00"\nair', '"07:00"', "outside the day"),
    one("two periods at one time", 'from = "08:00"\nair', 'from = "07:30"\nair', '"07:30"\nair = "6', "not after"),
    one("period ends before it begins", 'from = "07:30"\nair', 'from = "07:30"\nuntil = "07:00"\nair', '"07:00"',
        "ends before it begins"),
    one("wrap before call", 'wrap = "12:00"', 'wrap = "07:00"', '"07:00"', "wrap 07:00 comes before call 08:00"),
    one("wrap at call", 'wrap = "12:00"', 'wrap = "08:00"', '"08:00"\noverrun', "comes before call"),
    Case("first period after call", (('from = "07:30"\nair', 'from = "07:50"\nair'), ('call = "08:00"', 'call = "07:40"')),
         '"07:50"', ("after call 07:40",)),
]

WITHOUT = [
    # what is taken out, what the message says
    ("period", "no [[period]]"),
    ("day", 'no key "day"'),
    ("pack", 'no pack is labelled "P1"'),
    ("holder", 'nothing feeds box "box"'),
    ("wire", 'nothing feeds "recorder"'),
    ("box", 'no output "box.out-1"'),
]


def without(*tables):
    """The base day without these tables."""
    kept = []
    taking = True
    for line in BASE_DAY.splitlines(keepends=True):
        if line.startswith("["):
            taking = line.strip().strip("[]") not in tables
        if taking:
            kept.append(line)
    return "".join(kept)


class BadDay(Folder):
    def test_the_base_day_is_good(self):
        self.write("day.toml", BASE_DAY)
        self.assertEqual(self.run_here("forecast", "day.toml").returncode, 0)
        check = self.run_here("check", "day.toml")
        self.assertEqual((check.returncode, check.stderr), (0, b""))
        self.assertIn(b"no errors, 0 warnings", check.stdout)

    def test_one_edit_each(self):
        for case in CASES:
            for command in ("check", "forecast"):
                with self.subTest(case.name, command=command):
                    text = edited(*case.edit)
                    self.write("day.toml", text)
                    line, column = place_of(text, case.at)
                    result = self.run_here(command, "day.toml", *(("--csv", "out.csv") if command == "forecast" else ()))
                    self.assert_refused(result, f"day.toml:{line}:{column}: ", *case.says)
                    self.assertEqual(self.names(), ["day.toml"])

    def test_a_table_missing(self):
        for table, says in WITHOUT:
            with self.subTest(table):
                self.write("day.toml", without(table))
                self.assert_refused(self.run_here("forecast", "day.toml"), "day.toml:", says)

    def test_no_devices_and_no_packs_at_all(self):
        self.write("day.toml", without("device", "wire"))
        self.assert_refused(self.run_here("forecast", "day.toml"), "day.toml:1:1: ", "no [[device]]")
        self.write("day.toml", without("pack", "holder"))
        self.assert_refused(self.run_here("forecast", "day.toml"), "day.toml:", 'nothing feeds box "box"')

    def test_files_that_are_no_day_files(self):
        self.assert_refused(self.run_here("forecast", "nowhere.toml"), "nowhere.toml:1:1: ", "no such file")
        (self.path / "folder.toml").mkdir()
        self.assert_refused(self.run_here("forecast", "folder.toml"), "folder.toml:1:1: ", "a folder")
        for name, data, says in [
            ("empty.toml", b"", "nothing is written"),
            ("blank.toml", b" \n\n", "nothing is written"),
            ("comment.toml", b"# only this\n", "nothing is written"),
            ("latin1.toml", BASE_DAY.replace("Base day", "Zo\u00eb").encode("latin-1"), "not valid UTF-8"),
            ("utf16.toml", BASE_DAY.encode("utf-16"), "not valid UTF-8"),
            ("nul.toml", BASE_DAY.replace("Base day", "a\0b").encode(), "not TOML"),
            ("lists.toml", b"x = " + b"[" * 100000, "nested too deep"),
            ("tables.toml", b"[a" + b".a" * 100000 + b"]", "nested too deep"),
            ("deep.json", b'{"a":' * 100000, "nested too deep"),
            ("list.json", b"[1, 2]", "no JSON object"),
            ("short.json", b'{"format": 1', "not JSON"),
            ("null.json", b'{"format": null}', "null is no value"),
            ("twice.json", b'{"format": 1, "format": 1}', "written twice"),
        ]:
            with self.subTest(name):
                self.write(name, data)
                self.assert_refused(self.run_here("forecast", name), f"{name}:", says)

    def test_a_file_of_100_mb_is_refused_unread(self):
        with open(self.path / "big.toml", "wb") as big:
            big.truncate(100 * 1000 * 1000)  # a hole: costs no disk
        result = self.run_here("forecast", "big.toml")
        self.assert_refused(result, "big.toml:1:1: ", "100000000 bytes", "at most")

    def test_endless_standard_input_is_refused(self):
        with open("/dev/zero", "rb") as zeros:
            result = subprocess.run([PROGRAM, "forecast", "-"], stdin=zeros, capture_output=True, timeout=60, check=False)
        self.assert_refused(result, "standard input:1:1: ", "too much")

    def test_messages_stay_one_line_whatever_the_file_holds(self):
        self.write("day.toml", edited(('label = "P1"', 'label = "P\\n1"'), ('pack = "P1"', 'pack = "Q\\u001b[31m\\nQ"')))
        self.assert_refused(self.run_here("check", "day.toml"), "day.toml:", "line break")
        self.write("day.toml", edited(('"AWG 22"', '"AWG\\u001b[31m\\n22"')))
        self.assert_refused(self.run_here("check", "day.toml"), "day.toml:", "line break")
        self.assertNotIn(b"\x1b", self.run_here("check", "day.toml").stderr)

    def test_warnings_do_not_stop_a_forecast(self):
        self.write("day.toml", edited(('wire = "AWG 22"', 'wire = "AWG 30"')))
        check = self.run_here("check", "day.toml")
        self.assertEqual(check.returncode, 0)
        self.assertIn(b"warning: the 3 A fuse", check.stdout)
        self.assertEqual(self.run_here("forecast", "day.toml").returncode, 0)


if __name__ == "__main__":
    unittest.main()
