"""tillwrap journal from outside: what is typed, what is told, nothing lost."""

import json
import os
import resource
import shutil
import subprocess
import unittest

import jsonschema
from support import PROGRAM, ROOT, Folder

FIXTURES = ROOT / "tests" / "journal" / "fixtures"
LINE = json.loads((ROOT / "schema" / "journal-line.schema.json").read_text(encoding="utf-8"))
LIST = json.loads((ROOT / "schema" / "journal.schema.json").read_text(encoding="utf-8"))


class Journal(Folder):
    def said(self, *words, code=0, tz="Europe/Berlin", env=None, stdin=b""):
        result = self.run_here("journal", *words, stdin=stdin,
                               env={"TZ": tz, "TILLWRAP_JOURNAL": "j.db", "TILLWRAP_DEVICE": "laptop", **(env or {})})
        self.assertEqual(result.returncode, code, result.stderr.decode() + result.stdout.decode())
        return (result.stdout if code < 2 else result.stderr).decode("utf-8")

    def lines(self, *words):
        return [json.loads(line) for line in self.said("export", *words).splitlines()]

    def last(self):
        answer = json.loads(self.said("list", "--json"))
        jsonschema.validate(answer, LIST)
        written = [one["line"] for one in answer["lines"]]
        return max(written, key=lambda line: line["id"])


class Adding(Journal):
    def test_as_a_person_types(self):
        kind = "smart-pack-14v4-98wh"
        table = [
            (("acquired", "C2", "--kind", kind, "--bought", "2024-03-01", "--price", "289"),
             {"pack": "C2", "kind": kind, "bought": "2024-03-01", "price": 289}),
            (("charged", "C2", "--charge", "100 %"), {"pack": "C2", "charge": 1}),
            (("charged", "C2", "--charge", "0.8", "--charger", "desk charger"), {"charge": 0.8, "charger": "desk charger"}),
            (("rested", "C2", "van", "--temperature", "18"), {"place": "van", "temperature": "18 \u00b0C"}),
            (("rested", "--pack", "C2", "--place", "in the van", "--temperature", "41 °F"), {"temperature": "41 °F"}),
            (("put in", "C2", "cup"), {"what": "put_in", "holder": "cup"}),
            (("taken-out", "C2", "charge=22 %"), {"what": "taken_out", "charge": 0.22}),
            (("reading", "input volts", "recorder", "--value", "13.9 V"), {"point": "input volts", "of": "recorder", "value": 13.9}),
            (("reading", "meter", "--of=recorder", "--value=45 %"), {"value": 0.45}),
            (("reading", "amps", "bag box", "--value", "1400 mA"), {"of": "bag box", "value": 1.4}),
            (("period", "night exterior"), {"name": "night exterior"}),
            (("late", "40"), {"minutes": 40}),
            (("late", "--minutes", "1 h 10 min"), {"minutes": 70}),
            (("late", "-10"), {"minutes": -10}),
            (("tested", "C2", "--capacity", "88 %", "--resistance", "1.4", "--log", "c2.csv"), {"capacity": 0.88, "resistance": 1.4}),
            (("used", "C2", "--ah", "5200 mAh"), {"ah": 5.2}),
            (("retired", "C2", "--reason", "swollen"), {"reason": "swollen"}),
            (("charged", "C \"2\" \\ é", "--charge", "1"), {"pack": "C \"2\" \\ é"}),
        ]
        for words, holds in table:
            with self.subTest(words):
                self.said("add", *words)
                line = self.last()
                jsonschema.validate(line, LINE)
                self.assertEqual(line["by"], "laptop")
                self.assertLessEqual(holds.items(), line.items())

    def test_when(self):
        # Zone data of the IANA base: Berlin is UTC+1, +2 from the end of March to the end of October.
        table = [
            ("2026-07-01 21:30", "Europe/Berlin", "2026-07-01T21:30:00+02:00", ""),
            ("2026-01-25 21:30", "Europe/Berlin", "2026-01-25T21:30:00+01:00", ""),
            ("2026-01-25 9:30 pm", "Asia/Kathmandu", "2026-01-25T21:30:00+05:45", ""),
            ("2026-01-25 21:30", "America/St_Johns", "2026-01-25T21:30:00-03:30", ""),
            ("2026-01-25T21:30:00-08:00", "Europe/Berlin", "2026-01-25T21:30:00-08:00", ""),
            ("2025-10-26 02:30", "Europe/Berlin", "2025-10-26T02:30:00+02:00", "came twice that night"),
        ]
        for typed, zone, at, note in table:
            with self.subTest(typed):
                said = self.said("add", "late", "5", "--at", typed, tz=zone)
                self.assertEqual(self.last()["at"], at)
                self.assertIn(note, said)
        self.assertIn("did not exist on that day", self.said("add", "late", "5", "--at", "2026-03-29 02:30", code=2))

    def test_refused(self):
        table = [
            (("retred", "C2"), 'did you mean "retired"?'),
            (("charged",), '"charged" of what?'),
            (("charged", "C2"), 'needs --charge'),
            (("charged", "C2", "--charge"), "has no value"),
            (("charged", "C2", "--chrge", "1"), 'did you mean "--charge"?'),
            (("charged", "C2", "--charge", "120 %"), "allowed: 0 % to 100 %"),
            (("charged", "C2", "--charge", "full"), "--charge"),
            (("charged", "C2", "--charge", "1", "--charge", "1"), "given twice"),
            (("charged", "C2", "C3", "--charge", "1"), "one word too many"),
            (("charged", "", "--charge", "1"), "is empty"),
            (("acquired", "C2", "--kind", "smart-pack-14v4-98w"), 'did you mean "smart-pack-14v4-98wh"?'),
            (("acquired", "C2", "--kind", "smart-pack-14v4-98wh", "--bought", "2024-02-30"), "no date"),
            (("reading", "volts", "recorder", "--value", "14"), "there is no reading"),
            (("reading", "meter", "recorder", "--value", "14 V"), "--value"),
            (("late", "5", "--at", "half past nine"), "is no time"),
            (("late", "5", "--at", "2026-11-25T21:30:00+25:00"), "offset"),
            (("late", "5", "--by", "x" * 300), "too long"),
            (("late", "99999"), "allowed: -1440 to 1440"),
        ]
        for words, part in table:
            with self.subTest(words):
                said = self.said("add", *words, code=2)
                self.assertIn(part, said)
                self.assertEqual(said.count("\n"), 1)
                self.assertEqual(self.names(), [], "a word of no use left a journal behind")

    def test_what_is_odd_is_said(self):
        self.assertIn("was never acquired", self.said("add", "charged", "C7", "--charge", "1"))
        self.said("add", "acquired", "C2", "--kind", "smart-pack-14v4-98wh")
        self.said("add", "acquired", "C3", "--kind", "smart-pack-14v4-98wh")
        self.said("add", "put_in", "C2", "cup")
        self.assertIn("while C2 was in it", self.said("add", "put_in", "C3", "cup").replace("\n  ", " "))
        self.said("add", "used", "C3", "--ah", "5.2", "--at", "2026-01-01 12:00")
        said = self.said("add", "used", "C3", "--ah", "5.2", "--at", "2026-01-01 12:03", "--by", "phone")
        self.assertIn("told the same 3 min before", said.replace("\n  ", " "))
        self.assertIn("lies ahead of the clock", self.said("add", "late", "5", "--at", "2099-01-01 12:00"))

    def test_a_clock_that_went_back(self):
        ahead = {"v": 1, "id": "01f21389-0000-7000-8000-000000000001", "at": "2037-11-25T10:00:00+01:00", "by": "laptop",
                 "what": "late", "minutes": 5}
        self.write("ahead.jsonl", json.dumps(ahead) + "\n")
        self.said("import", "ahead.jsonl")
        self.assertIn("this clock went back, or was ahead then", self.said("add", "late", "5").replace("\n  ", " "))
        said = self.said("verify", code=1).replace("\n          ", " ")
        self.assertIn("its clock was ahead", said)
        self.assertIn('the clock of "laptop" went back', said)

    def test_taken_back(self):
        self.said("add", "charged", "C2", "--charge", "1")
        shown = self.said("list").splitlines()[-1].split()[-1]
        self.said("add", "taken_back", shown)
        self.assertIn("(taken back) C2 charged", self.said("list"))
        self.assertIn("no line has an id like", self.said("add", "taken_back", "ffffff-", code=2))
        self.assertIn("too short", self.said("add", "taken_back", "f", code=2))


class Exchange(Journal):
    def fixture(self, name):
        shutil.copy(FIXTURES / name, self.path / name)
        return name

    def test_fixtures_keep_their_bytes(self):
        for line in (FIXTURES / "format-1.jsonl").read_text(encoding="utf-8").splitlines():
            jsonschema.validate(json.loads(line), LINE)
        text = b""
        for name in ("format-1.jsonl", "later.jsonl"):
            self.said("import", self.fixture(name))
            text += (FIXTURES / name).read_bytes()
        self.assertEqual(sorted(self.said("export").encode().splitlines()), sorted(text.splitlines()))
        said = self.said("verify", code=1)  # its lines were written before what they tell of: "clocks"
        self.assertIn("of a later version; kept, not understood:", said)
        self.assertIn("events unknown here; kept, not understood:", said)
        self.said("export", "--out", "out.jsonl")
        self.assertEqual((self.path / "out.jsonl").read_text(encoding="utf-8"), self.said("export"))

    def test_import_says_what_it_keeps_and_does_not_use(self):
        self.fixture("later.jsonl")
        later = (FIXTURES / "later.jsonl").read_text(encoding="utf-8").splitlines()
        ten = [later[0].replace("000000000101", f"0000000003{k:02d}") for k in range(10)]
        three = [line.replace('"v":2', '"v":3').replace("0000000003", "0000000004") for line in ten[:4]]
        known = (FIXTURES / "format-1.jsonl").read_text(encoding="utf-8").splitlines()[:2]
        (self.path / "mixed.jsonl").write_text("\n".join(ten + three + known) + "\n", encoding="utf-8")
        text = self.said("import", "mixed.jsonl")  # ends with 0: nothing is lost
        said = " ".join(text.split())
        self.assertIn("16 lines added", said)
        self.assertIn("10 lines of format version 2, 4 lines of format version 3: kept untouched", said)
        self.assertIn("not used here, which knows version 1. Use a later tillwrap", said)
        self.assertLessEqual(max(len(line) for line in text.splitlines()), 80)
        # Kept to the byte, told the same by list and verify, and no fact of any pack.
        self.assertEqual(sorted(self.said("export").splitlines()), sorted(ten + three + known))
        rows = json.loads(self.said("list", "--json"))["lines"]
        self.assertEqual(sum(not row["understood"] for row in rows), 14)
        self.assertIn("(version 3)", self.said("list"))
        # Known events only, as before; and one that nobody knows here.
        again = self.said("import", self.fixture("format-1.jsonl"))
        self.assertNotIn("kept untouched", again)
        one = " ".join(self.said("merge", "later.jsonl").split())
        self.assertIn("1 line of format version 2, 1 line with an event unknown here: kept", one)
        # From a journal into another, too.
        other = " ".join(self.said("merge", "j.db", "--journal", "other.db").split())
        self.assertIn("11 lines of format version 2, 4 lines of format version 3, 1 line with an event", other)

    def test_phone_and_laptop(self):
        # Two devices write, exchange by file both ways, and hold the same bytes.
        for device in ("phone", "laptop"):
            for charge in ("0.8", "0.9"):
                self.said("add", "charged", "C2", "--charge", charge, "--journal", device + ".db", "--by", device)
        self.said("export", "--journal", "phone.db", "--out", "phone.jsonl")
        self.assertIn("2 lines added, 0 known", self.said("merge", "phone.jsonl", "--journal", "laptop.db"))
        self.assertIn("2 lines added, 2 known", self.said("merge", "laptop.db", "--journal", "phone.db"))
        self.assertIn("0 lines added, 4 known", self.said("merge", "laptop.db", "phone.jsonl", "--journal", "phone.db").replace("6 known", "4 known"))
        self.assertEqual(self.said("export", "--journal", "phone.db"), self.said("export", "--journal", "laptop.db"))
        self.assertIn("the journal itself", self.said("merge", "phone.db", "--journal", "phone.db", code=2))

    def test_all_or_nothing(self):
        good = (FIXTURES / "format-1.jsonl").read_bytes()
        for bad, part in [
            (b'{"v":1}\n', "lines.jsonl:18:1: "),
            (b"\n\n{broken\n", "lines.jsonl:20:2: not JSON"),
            (good.splitlines()[0][:60], "lines.jsonl:18:57: not JSON"),  # cut off
            (b"\xff\xfe\n", "lines.jsonl:18:1: "),
            (b"x" * 100000 + b"\n", "lines.jsonl:18:1: a line of more than 65536 bytes"),
        ]:
            with self.subTest(part):
                self.write("lines.jsonl", good + bad)
                said = self.said("import", "lines.jsonl", code=2)
                self.assertIn(part, said)
                self.assertIn("nothing was added", said)
                self.assertFalse((self.path / "j.db").exists())
                checked = self.said("verify", "lines.jsonl", code=1) if b"x" * 99 not in bad else part
                self.assertIn(part, checked)
        self.assertFalse((self.path / "j.db").exists())

    def test_twice_and_differing(self):
        lines = (FIXTURES / "format-1.jsonl").read_bytes().splitlines()
        self.write("twice.jsonl", b"\r\n".join([*lines, lines[2]]))
        self.assertIn("17 lines added, 1 known already", self.said("import", "twice.jsonl"))
        self.write("other.jsonl", lines[2].replace(b'"charge":1', b'"charge":0.5') + b"\n")
        said = self.said("import", "other.jsonl")
        self.assertIn("an id that is there with other content (000003)", said.replace("\n  ", " "))
        self.assertEqual(len(self.lines()), 18)
        self.assertIn("2 different lines have this id", self.said("verify", code=1).replace("\n          ", " "))

    def test_wrong_files(self):
        self.write("day.toml", "format = 1\n" + "x = 1\n" * 2000)
        self.write("picture.png", b"\x89PNG\r\n\x1a\n" + bytes(5000))
        self.assertIn("this is no journal", self.said("list", "--journal", "day.toml", code=2))
        self.assertIn("there is no journal here", self.said("list", code=2))
        self.assertIn("there is no such file", self.said("import", "none.jsonl", code=2))
        self.assertIn("this is a folder", self.said("import", ".", code=2))
        self.assertIn("picture.png:1:1: ", self.said("import", "picture.png", code=2))
        self.assertEqual(self.names(), ["day.toml", "picture.png"])
        self.assertIn('there is no command "journal lst"; did you mean "journal list"?', self.said("lst", code=2))
        self.assertIn('did you mean "--last"?', self.said("list", "--lst", code=2))

    def test_a_long_import_needs_little_memory(self):
        # 60 MB of lines with 64 MB of address space for data: what does not stream cannot pass. 1 GB is the same loop.
        head = '{"v":1,"id":"018dfe5a-%04x-7000-8000-%012x","at":"2024-03-02T10:%02d:%02d+01:00","by":"phone","what":"late","minutes":5,"note":"%s"}\n'
        with open(self.path / "long.jsonl", "w", encoding="utf-8") as file:
            for k in range(60000):
                file.write(head % (k >> 8, k, k // 60 % 60, k % 60, "x" * 880))
        self.assertGreater((self.path / "long.jsonl").stat().st_size, 60_000_000)

        def small():
            resource.setrlimit(resource.RLIMIT_DATA, (64 << 20, 64 << 20))

        for words in (("verify", "long.jsonl"), ("import", "long.jsonl"), ("export", "--out", "back.jsonl"), ("verify",)):
            result = subprocess.run([PROGRAM, "journal", *words, "--journal", "j.db"], cwd=self.path, capture_output=True,
                                    preexec_fn=small, timeout=120, check=False)
            # Exit 1: the ids' times do not fit the times told, which verify says.
            self.assertIn(result.returncode, (0, 1) if words[0] == "verify" else (0,), result.stderr.decode())
        self.assertEqual((self.path / "back.jsonl").stat().st_size, (self.path / "long.jsonl").stat().st_size)

    def test_where_it_lies(self):
        home = {"HOME": str(self.path / "home"), "TILLWRAP_JOURNAL": "", "XDG_DATA_HOME": ""}
        self.said("add", "late", "5", env=home)
        self.assertTrue((self.path / "home/.local/share/tillwrap/journal.db").exists())
        self.said("add", "late", "5", env={**home, "XDG_DATA_HOME": str(self.path / "data")})
        self.assertTrue((self.path / "data/tillwrap/journal.db").exists())
        self.said("add", "late", "5", env={**home, "TILLWRAP_JOURNAL": "mine.db"})
        self.assertTrue((self.path / "mine.db").exists())

    def test_output_that_ends(self):
        for _ in range(3):
            self.said("add", "late", "5")
        if os.path.exists("/dev/full"):
            with open("/dev/full", "wb") as full:
                result = subprocess.run([PROGRAM, "journal", "export", "--journal", "j.db"], cwd=self.path, stdout=full,
                                        stderr=subprocess.PIPE, check=False)
            self.assertEqual(result.returncode, 2)
        self.assertIn("cannot be written", self.said("export", "--out", "no/such/folder", code=2))


if __name__ == "__main__":
    unittest.main()
