"""The program in its surroundings: standard input and output, other locales, folders that cannot be written, full disks."""

import os
import stat
import subprocess
import unittest

from support import BASE_DAY, PROGRAM, ROOT, Folder, run

FERRY = str(ROOT / "examples" / "saltmarsh-ferry.toml")
# Files an unprivileged user cannot write stay writable for root, so that test then runs the program as nobody.
NOBODY = 65534


class Surroundings(Folder):
    def run_as_user(self, *words):
        """In the test's folder, without the rights of root; skips where another user cannot start the program."""
        as_user = {"user": NOBODY, "group": NOBODY, "extra_groups": []} if os.getuid() == 0 else {}
        try:
            return self.run_here(*words, **as_user)
        except PermissionError:
            self.skipTest("another user cannot start the program here")

    def test_from_start_to_forecast(self):
        result = self.run_here("init")
        self.assertEqual((result.returncode, result.stderr), (0, b""))
        self.assertEqual(self.names(), ["day.toml"])
        starter = (self.path / "day.toml").read_bytes()
        self.assertEqual(self.run_here("check", "day.toml").returncode, 0)
        self.assertEqual(self.run_here("forecast", "day.toml").returncode, 0)
        # A second one is refused and changes nothing, even through a link that leads nowhere.
        self.assert_refused(self.run_here("init"), "day.toml:1:1: ", "exists already")
        self.assertEqual((self.path / "day.toml").read_bytes(), starter)
        (self.path / "link.toml").symlink_to("elsewhere.toml")
        self.assert_refused(self.run_here("init", "link.toml"), "link.toml:1:1: ", "exists already")
        self.assertEqual(self.names(), ["day.toml", "link.toml"])

    def test_standard_input(self):
        wanted = run("forecast", FERRY)
        with open(FERRY, "rb") as day:
            text = day.read()
        got = run("forecast", "-", stdin=text)
        self.assertEqual((got.returncode, got.stdout), (wanted.returncode, wanted.stdout))
        json_day = (ROOT / "examples" / "bank-on-a-barrel.json").read_bytes()
        self.assertIn(b"Bank on a barrel", run("forecast", "-", stdin=json_day).stdout)
        self.assert_refused(run("forecast", "-", stdin=b"x = 1"), "standard input:1:1: ", "unknown key")
        self.assert_refused(run("check", "-", stdin=b""), "standard input:1:1: ", "nothing is written")

    def test_same_bytes_twice(self):
        for words in (("forecast", FERRY), ("forecast", FERRY, "--json"), ("catalogue", "packs"),
                      ("discharge", "--cell", "nca", "--power", "5", "--ambient", "-10", "--json")):
            with self.subTest(" ".join(words)):
                self.assertEqual(run(*words).stdout, run(*words).stdout)
        curves = []
        for name in ("a.csv", "b.csv"):
            self.run_here("forecast", FERRY, "--csv", name)
            curves.append((self.path / name).read_bytes())
        self.assertEqual(*curves)

    def test_asking_for_curves_does_not_change_the_verdict(self):
        plain = self.run_here("forecast", FERRY)
        traced = self.run_here("forecast", FERRY, "--csv", "out.csv")
        self.assertEqual(plain.returncode, traced.returncode)
        self.assertEqual(plain.stdout.splitlines()[1][:9], traced.stdout.splitlines()[1][:9])

    def test_other_locales(self):
        """A decimal comma of the surroundings reaches neither the reading nor the printing of numbers."""
        wanted = run("forecast", FERRY, "--json").stdout
        known = subprocess.run(["locale", "-a"], capture_output=True, text=True, check=False).stdout.split()
        for name in ("C", "POSIX", "C.UTF-8", "de_DE.UTF-8", "tr_TR.UTF-8"):
            with self.subTest(name, installed=name in known or name.replace("UTF-8", "utf8") in known):
                env = {"LC_ALL": name, "LANG": name, "LANGUAGE": name}
                self.assertEqual(run("forecast", FERRY, "--json", env=env).stdout, wanted)
                self.assertEqual(run("discharge", "--cell", "nca", "--current", "2.9", env=env).returncode, 0)

    def test_80_columns(self):
        texts = [("forecast", str(path)) for path in sorted((ROOT / "examples").glob("*.toml"))]
        texts += [("catalogue",), ("discharge", "--cell", "nca", "--current", "2.9"),
                  ("discharge", "--pack", "smart-pack-14v4-98wh", "--power", "20", "--ambient", "-20"),
                  ("discharge", "--cell", "vrla-agm", "--cells", "6", "--current", "3")]
        lists = run("catalogue", "--json")
        self.assertEqual(lists.returncode, 0)
        for name in ("packs", "devices", "boxes", "holders", "sources", "chargers", "connectors", "wires", "fuses",
                     "meters", "cells", "marks", "smart-pack-14v4-98wh", "recorder-mixer-8", "box-1cup", "nca"):
            texts.append(("catalogue", name))
        self.write("long.toml", BASE_DAY
                   .replace('"P1"', '"a pack with quite a long label that goes on and on"')
                   .replace('"cup"', '"the cup at the left side of the second bag on the cart"')
                   .replace('"recorder"', '"Aufnahmegerät für Überstunden und vieles mehr"')
                   .replace('recorder.dc', 'Aufnahmegerät für Überstunden und vieles mehr.dc')
                   .replace('"scene"', '"eine sehr lange Szene mit vielen Wörtern und noch mehr davon, bis es Nacht ist"'))
        texts.append(("forecast", str(self.path / "long.toml")))
        for words in texts:
            with self.subTest(" ".join(words)):
                result = run(*words)
                self.assertEqual(result.stderr, b"")
                for line in result.stdout.decode("utf-8").splitlines():
                    self.assertLessEqual(len(line), 80, line)
                    self.assertEqual(line, line.rstrip(), "trailing blanks")
                    self.assertNotIn("\t", line)
                    if words[0] != "catalogue":  # which quotes its sources
                        self.assertNotRegex(line, r"(^| )-\d[\d.]* °C")  # a minus sign, not a hyphen

    def test_help_of_every_command(self):
        """At 80 columns, with what the exit codes of that command mean."""
        def commands_of(words):
            text = run(*words, "--help").stdout.decode("utf-8")
            listed = text.split("\nSubcommands:\n")[1].split("\n\n")[0] if "\nSubcommands:\n" in text else ""
            return [(*words, line.split()[0]) for line in listed.splitlines() if line[2:3] not in ("", " ")]

        named = [(), *commands_of(())]
        named += commands_of(("journal",))
        self.assertGreater(len(named), 25)
        for words in named:
            with self.subTest(" ".join(words)):
                result = run(*words, "--help")
                self.assertEqual((result.returncode, result.stderr), (0, b""))
                text = result.stdout.decode("utf-8")
                for line in text.splitlines():
                    self.assertLessEqual(len(line), 80, line)
                if words != ("journal", "add"):
                    self.assertRegex(text, r"\nExit codes: 0 ")
        # A command that answers neither yes nor no promises no 1.
        self.assertIn("Exit codes: 0 done, 2 bad input.", run("fit", "--help").stdout.decode())
        for command, says in (("travel", "1 something may not"), ("findings", "1 something must-run goes dark"),
                              ("choose", "1 there is none"), ("expendables", "1 they do not")):
            self.assertIn(says, run(command, "--help").stdout.decode())

    def test_seeds(self):
        """Counted as written, or refused: none is turned into another one."""
        for command in ("odds", "remedies", "compare", "choose"):
            for seed in ("-1", "1.5", "abc", "", "99999999999999999999"):
                with self.subTest(f"{command} {seed}"):
                    result = run(command, FERRY, f"--seed={seed}")
                    self.assertEqual((result.returncode, result.stdout), (2, b""))
                    self.assertIn(b"--seed", result.stderr)
                    self.assertEqual(result.stderr.count(b"\n"), 1)
        result = run("odds", FERRY, "--days", "16", "--seed", "999999999999999")
        self.assertIn(b"seed 999999999999999.", result.stdout)
        self.assertLessEqual(max(map(len, result.stdout.decode().splitlines())), 80)

    def test_help(self):
        for words in (("--help",), ("forecast", "--help"), ("discharge", "--help"), ("--version",)):
            result = run(*words)
            self.assertEqual((result.returncode, result.stderr), (0, b""))
            self.assertTrue(result.stdout)

    def test_closed_and_full_standard_output(self):
        for words in (("forecast", FERRY), ("catalogue",), ("discharge", "--cell", "nca", "--current", "2.9")):
            with self.subTest(words[0]):
                with open("/dev/full", "wb") as full:
                    result = subprocess.run([PROGRAM, *words], stdout=full, stderr=subprocess.PIPE, timeout=60, check=False)
                self.assertEqual(result.returncode, 2)
                self.assertEqual(result.stderr.count(b"\n"), 1)
                self.assertIn(b"could not be written", result.stderr)
                shut = subprocess.run(["/bin/sh", "-c", 'exec "$0" "$@" >&-', PROGRAM, *words], stderr=subprocess.PIPE,
                                      timeout=60, check=False)
                self.assertEqual(shut.returncode, 2)
                self.assertIn(b"could not be written", shut.stderr)

    def test_a_reader_that_leaves(self):
        """`tillwrap forecast ... | head -1` ends quietly."""
        done = subprocess.run(["/bin/sh", "-c", '"$0" catalogue smart-pack-14v4-98wh | head -1', PROGRAM],
                              capture_output=True, timeout=60, check=False)
        self.assertEqual((done.returncode, done.stderr), (0, b""))

    def test_full_disk(self):
        before = os.stat("/dev/full")
        result = self.run_here("forecast", FERRY, "--csv", "/dev/full")
        self.assert_refused(result, "/dev/full:1:1: ", "cannot be written", "No space")
        after = os.stat("/dev/full")
        self.assertTrue(stat.S_ISCHR(after.st_mode), "the device was replaced by a file")
        self.assertEqual(before.st_rdev, after.st_rdev)
        self.assertFalse([name for name in os.listdir("/dev") if name.startswith("full.part")])
        # A file size limit cuts a regular file short: nothing may stay behind.
        cut = subprocess.run(["/bin/sh", "-c", 'trap "" XFSZ; ulimit -f 8; exec "$0" forecast "$1" --csv out.csv', PROGRAM, FERRY],
                             cwd=self.path, capture_output=True, timeout=60, check=False)
        self.assert_refused(cut, "out.csv:1:1: ", "cannot be written")
        self.assertEqual(self.names(), [])

    def test_an_old_file_survives_a_failed_write(self):
        self.write("out.csv", "old\n")
        cut = subprocess.run(["/bin/sh", "-c", 'trap "" XFSZ; ulimit -f 8; exec "$0" forecast "$1" --csv out.csv', PROGRAM, FERRY],
                             cwd=self.path, capture_output=True, timeout=60, check=False)
        self.assertEqual(cut.returncode, 2)
        self.assertEqual((self.path / "out.csv").read_text(), "old\n")
        self.assertEqual(self.names(), ["out.csv"])

    def test_the_day_file_is_never_overwritten(self):
        self.write("day.toml", BASE_DAY)
        (self.path / "link.toml").symlink_to("day.toml")
        for name in ("day.toml", "./day.toml", "link.toml"):
            for option in ("--csv", "--svg"):
                self.assert_refused(self.run_here("forecast", "day.toml", option, name), f"{name}:1:1: ", "day file itself")
        self.assertEqual((self.path / "day.toml").read_text(encoding="utf-8"), BASE_DAY)

    def test_through_a_link(self):
        self.write("target.csv", "old\n")
        (self.path / "link.csv").symlink_to("target.csv")
        self.assertEqual(self.run_here("forecast", FERRY, "--csv", "link.csv").returncode, 0)
        self.assertTrue((self.path / "link.csv").is_symlink())
        self.assertTrue((self.path / "target.csv").read_bytes().startswith(b"at_s,"))

    def test_folder_that_cannot_be_written(self):
        self.write("day.toml", BASE_DAY)
        self.path.chmod(0o555)
        self.addCleanup(self.path.chmod, 0o755)
        result = self.run_as_user("forecast", "day.toml")
        self.assertEqual((result.returncode, result.stderr), (0, b""), "reading needs no writable folder")
        for words in (("init", "new.toml"), ("forecast", "day.toml", "--csv", "out.csv")):
            self.assert_refused(self.run_as_user(*words), f"{words[-1]}:1:1: ", "cannot be written", "permission")
        self.assertEqual(self.names(), ["day.toml"])

    def test_unreadable_file(self):
        self.write("day.toml", BASE_DAY)
        (self.path / "day.toml").chmod(0)
        self.path.chmod(0o755)
        result = self.run_as_user("forecast", "day.toml")
        self.assert_refused(result, "day.toml:1:1: ", "cannot be read", "permission")


if __name__ == "__main__":
    unittest.main()
