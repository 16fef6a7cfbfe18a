"""[settings] of the day file: every text answer follows it within 80 columns; JSON and CSV stay as they are."""

import json
import unittest

from support import ROOT, Folder

DEMO = (ROOT / "examples" / "saltmarsh-ferry.toml").read_text(encoding="utf-8")
OTHER = DEMO + '\n[settings]\nclock = "12 h"\ntemperature = "°F"\nweight = "lb"\ncurrency = "EUR"\n'
TEXTS = [("forecast",), ("odds", "--days", "64")]


class SettingsTest(Folder):
    def text(self, command, day, *options):
        return self.run_here(command, day, *options).stdout.decode("utf-8")

    def test_text_follows_the_settings(self):
        day = self.write("day.toml", OTHER)
        for command, *options in TEXTS:
            with self.subTest(command=command):
                text = self.text(command, day, *options)
                self.assertRegex(text, r"\b\d{1,2}:\d\d [ap]m\b")
                self.assertNotRegex(text, r"\b\d\d:\d\d\b(?! [ap]m)", "a 24 h clock time")
                self.assertNotIn("°C", text)
                self.assertLessEqual(max(len(line) for line in text.splitlines()), 80)

    def test_without_settings_24_h_and_celsius(self):
        day = self.write("day.toml", DEMO)
        for command, *options in TEXTS:
            with self.subTest(command=command):
                text = self.text(command, day, *options)
                self.assertNotRegex(text, r"\d [ap]m\b")
                self.assertNotIn("°F", text)

    def test_json_and_csv_stay(self):
        plain, other = self.write("plain.toml", DEMO), self.write("other.toml", OTHER)
        answers = [json.loads(self.text("forecast", day, "--json", "--csv", f"{day}.csv")) for day in (plain, other)]
        self.assertEqual(answers[0], answers[1])
        curves = [(self.path / f"{day}.csv").read_bytes() for day in (plain, other)]
        self.assertEqual(curves[0], curves[1])


if __name__ == "__main__":
    unittest.main()
