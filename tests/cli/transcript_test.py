"""Transcripts: what a person types and sees.

A transcript in transcripts/ holds commands and what they print:

    $ tillwrap check day.toml      a command, run in a folder with the example days and base-day.toml
    text                           a line of standard output, to the letter
    ! text                         a line of standard error
    ...                            any lines
    <1.5..2.5>                     within a line: a number in this range
    <time>                         within a line: 07:10, or 01:20 +1
    <words>                        within a line: anything
    exit 1                         ends each command
    # text                         a remark: why a range is what it is
"""

import re
import shlex
import shutil
import unittest

from support import HERE, ROOT, Folder

TOKEN = re.compile(r"<(?:(?P<low>-?[\d.]+)\.\.(?P<high>-?[\d.]+)|(?P<word>time|words))>")
NUMBER = r"[-−]?\d+(?:\.\d+)?"


class Transcript(Folder):
    def setUp(self):
        super().setUp()
        for name in ("base-day.toml", "night.toml"):
            shutil.copy(HERE / name, self.path)
        for path in (ROOT / "examples").iterdir():
            if path.is_file():
                shutil.copy(path, self.path)

    def line_matches(self, wanted, got):
        ranges = []
        pattern = ""
        end = 0
        for token in TOKEN.finditer(wanted):
            pattern += re.escape(wanted[end:token.start()])
            end = token.end()
            if token["word"] == "time":
                pattern += r"\d\d:\d\d(?: \+\d)?"
            elif token["word"] == "words":
                pattern += ".*?"
            else:
                pattern += f"({NUMBER})"
                ranges.append((float(token["low"]), float(token["high"])))
        match = re.fullmatch(pattern + re.escape(wanted[end:]), got)
        if match is None:
            return False
        return all(low <= float(text.replace("−", "-")) <= high for text, (low, high) in zip(match.groups(), ranges))

    def compare(self, wanted, got, where):
        """`...` in `wanted` stands for any lines; what follows it must come somewhere after."""
        at = 0
        skipping = False
        for line in wanted:
            if line == "...":
                skipping = True
                continue
            while skipping and at < len(got) and not self.line_matches(line, got[at]):
                at += 1
            self.assertLess(at, len(got), f"{where}: not printed: {line}\nprinted:\n" + "\n".join(got))
            self.assertTrue(self.line_matches(line, got[at]), f"{where}:\nwanted  {line}\nprinted {got[at]}")
            at += 1
            skipping = False
        if not skipping:
            self.assertEqual(got[at:], [], f"{where}: more was printed")

    def play(self, path):
        command = None
        out, err = [], []
        commands = 0
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            where = f"{path.name}:{number}"
            if line.startswith("#"):
                continue
            if line.startswith("$ tillwrap"):
                self.assertIsNone(command, f"{where}: the command before has no exit line")
                command = shlex.split(line[len("$ tillwrap"):])
                out, err = [], []
            elif line.startswith("exit "):
                result = self.run_here(*command)
                self.compare(err, result.stderr.decode("utf-8").splitlines(), where)
                self.compare(out, result.stdout.decode("utf-8").splitlines(), where)
                self.assertEqual(result.returncode, int(line[len("exit "):]), where)
                command = None
                commands += 1
            elif command is not None:
                err.append(line[2:]) if line.startswith("! ") else out.append(line)
            else:
                self.assertEqual(line, "", f"{where}: a line outside any command")
        self.assertIsNone(command, f"{path.name}: the last command has no exit line")
        self.assertGreater(commands, 0, f"{path.name} holds no command")

    def test_the_comparison_itself(self):
        self.assertTrue(self.line_matches("lasts <1..2> h at <time>", "lasts 1.5 h at 01:20 +1"))
        self.assertFalse(self.line_matches("lasts <1..2> h", "lasts 2.1 h"))
        self.assertTrue(self.line_matches("<-9..-7> °C", "−8 °C"))
        for wanted, got in [(["a"], []), ([], ["a"]), (["a"], ["b"]), (["...", "b"], ["a"]), (["a", "...", "a"], ["a"])]:
            with self.assertRaises(AssertionError):
                self.compare(wanted, got, "here")
        self.compare(["a", "...", "c"], ["a", "b", "c"], "here")


for transcript in sorted((HERE / "transcripts").glob("*.txt")):
    setattr(Transcript, f"test_{transcript.stem.replace('-', '_')}", lambda self, path=transcript: self.play(path))

if __name__ == "__main__":
    unittest.main()
