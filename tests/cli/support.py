"""Runs the program for the tests in this folder and builds day files by one edit of a valid one."""

import os
import subprocess
import tempfile
import unittest
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
PROGRAM = os.environ.get("TILLWRAP_PROGRAM", str(ROOT / "build" / "tillwrap"))
BASE_DAY = (HERE / "base-day.toml").read_text(encoding="utf-8")
MOST_SECONDS = 120


def run(*words, stdin=b"", env=None, cwd=None, **more):
    """The program with these words; bytes in and out."""
    return subprocess.run([PROGRAM, *words], input=stdin, capture_output=True, cwd=cwd, timeout=MOST_SECONDS,
                          env=None if env is None else {**os.environ, **env}, check=False, **more)


def edited(*pairs, base=BASE_DAY):
    """`base` with each old text, which must stand there, replaced once by its new text."""
    text = base
    for old, new in pairs:
        if old not in text:
            raise AssertionError(f"the base has no {old!r}")
        text = text.replace(old, new, 1)
    return text


def place_of(text, marker):
    """Line and column, from 1 and in code points, at which `marker` first stands."""
    at = text.index(marker)
    before = text[:at]
    return before.count("\n") + 1, at - (before.rfind("\n") + 1) + 1


class Folder(unittest.TestCase):
    """A test in a folder of its own, gone afterwards."""

    def setUp(self):
        self.folder = tempfile.TemporaryDirectory(prefix="tillwrap-test-")
        self.addCleanup(self.folder.cleanup)
        self.path = Path(self.folder.name)

    def write(self, name, text):
        (self.path / name).write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        return name

    def run_here(self, *words, **more):
        return run(*words, cwd=self.path, **more)

    def names(self):
        return sorted(entry.name for entry in self.path.iterdir())

    def assert_refused(self, result, start, *parts):
        """Exit 2, nothing on standard output, one line on standard error that begins so and holds these parts."""
        said = result.stderr.decode("utf-8")
        self.assertEqual(result.returncode, 2, said)
        self.assertEqual(result.stdout, b"")
        self.assertEqual(said.count("\n"), 1, said)
        self.assertTrue(said.startswith(start), f"{said!r} does not begin with {start!r}")
        for part in parts:
            self.assertIn(part, said)
        self.assertIn("; " if "did you mean" not in said else "", said, "no advice")
