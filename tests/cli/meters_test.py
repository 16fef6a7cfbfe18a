"""tillwrap meters: JSON against its schema, text a terminal holds, what the user has set, bad input."""

import json
import unittest

import jsonschema
from support import BASE_DAY, ROOT, Folder, run

SCHEMA = json.loads((ROOT / "schema" / "meters.schema.json").read_text(encoding="utf-8"))
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))


def meters(text, *words):
    result = run("meters", "-", *words, stdin=text.encode("utf-8"))
    assert result.returncode == 0, result.stderr
    return result.stdout.decode("utf-8")


def example(name):
    return (ROOT / "examples" / name).read_text(encoding="utf-8")


# A recorder that knows alkaline-8, lithium-2s and others, on eight alkaline cells outdoors.
EIGHT_AA = """format = 1
[day]
call = "08:00"
wrap = "12:00"
[[pack]]
labels = ["A1", "A2", "A3", "A4"]
kind = "aa-alkaline-x8"
[[holder]]
name = "tray"
kind = "tray-8aa"
in = "recorder.tray"
place = "open"
packs = ["A1", "A2", "A3", "A4"]
[[device]]
name = "recorder"
kind = "recorder-mixer-6"
place = "open"
[[period]]
name = "day"
from = "08:00"
air = "20 °C"
"""


class Meters(Folder):
    def test_the_packs_own_profile_comes_first(self):
        """Eight alkaline cells are no two lithium ones: their own profile is set wherever it is usable. Where the cold leaves it
        reading next to nothing another may be named, with the reason and both errors."""
        for air in (20, 10, 5, 0, -6, -9, -12):
            with self.subTest(air):
                day = EIGHT_AA.replace("20 °C", f"{air} °C")
                (one,) = json.loads(meters(day, "--json"))["meters"]
                jsonschema.Draft202012Validator(SCHEMA).validate(json.loads(meters(day, "--json")))
                by_id = {profile["id"]: profile for profile in one["profiles"]}
                own, first = by_id["alkaline-8"], one["profiles"][0]
                said = " ".join(meters(day).split())
                if own["timing"] == "fine" and own["error"] <= 0.35:
                    self.assertEqual((one["profile"], one["why"]), ("alkaline-8", None))
                elif first["id"] == "alkaline-8":
                    self.assertIn("no guide" if own["error"] > 0.35 else "is its own, but", one["why"])
                    self.assertEqual(one["profile"], None if own["error"] > 0.35 else "alkaline-8")
                    for other in one["profiles"][1:]:
                        self.assertTrue(other["timing"] != "fine" or other["error"] >= own["error"] - 0.15, other)
                else:
                    self.assertEqual(first["timing"], "fine")
                    self.assertLess(first["error"], own["error"] - 0.15)
                    self.assertIn(f"{100 * own['error']:.0f} % off on the mean", one["why"])
                if one["why"]:
                    self.assertIn(one["why"], said)
        # Between freezing and the point where the cells give up, it is their own.
        (mild,) = json.loads(meters(EIGHT_AA.replace("20 °C", "0 °C"), "--json"))["meters"]
        self.assertEqual(mild["profile"], "alkaline-8")
        self.assertEqual(next(p for p in mild["profiles"] if p["id"] == "lithium-2s")["timing"], "late")

    def test_two_packs_side_by_side_are_said_to_be_two(self):
        """By hand: two packs of 98 Wh on one load last about twice as long as one; a single pack's hours are not theirs."""
        two = """format = 1
[day]
call = "08:00"
wrap = "12:00"
[[pack]]
labels = ["P1", "P2"]
kind = "smart-pack-14v4-98wh"
[[holder]]
name = "left"
kind = "cup-smart-14v4"
in = "box"
packs = ["P1"]
[[holder]]
name = "right"
kind = "cup-smart-14v4"
in = "box"
packs = ["P2"]
[[box]]
name = "box"
kind = "box-2cup"
draw = "0.5 W"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "20 W"
[[wire]]
from = "box.out-1"
to = "recorder.dc"
length = "0.3 m"
wire = "AWG 18"
[[period]]
name = "day"
from = "08:00"
air = "20 °C"
"""
        right = two.index('[[holder]]\nname = "right"')
        single = two[:right] + two[two.index("[[box]]"):]
        (pair,) = json.loads(meters(two, "--json"))["meters"]
        (alone,) = json.loads(meters(single, "--json"))["meters"]
        self.assertEqual((len(pair["beside"]), alone["beside"]), (1, []))
        self.assertAlmostEqual(pair["usable_wh"] / alone["usable_wh"], 2.0, delta=0.1)
        self.assertIn("with 2 of them side by side", " ".join(meters(two).split()))
        self.assertNotIn("side by side", meters(single))

    def test_json_keeps_to_its_schema(self):
        for path in EXAMPLES:
            answer = json.loads(meters(path.read_text(encoding="utf-8"), "--json"))
            jsonschema.Draft202012Validator(SCHEMA).validate(answer)

    def test_text_fits_a_terminal(self):
        for path in EXAMPLES:
            for line in meters(path.read_text(encoding="utf-8")).splitlines():
                self.assertLessEqual(len(line), 80, line)

    def test_the_users_profile(self):
        """Common practice: a 12 V lithium bank read with a nickel profile shows a wrong meter."""
        day = example("bank-on-a-barrel.toml")
        for profile, right in (("nickel-10", False), ("lithium-3s", True)):
            set_to = day.replace('draw = "12 W"', f'meter = "{profile}"\ndraw = "12 W"')
            one = json.loads(meters(set_to, "--json"))["meters"][0]
            self.assertEqual((one["set"], one["set_right"], one["profile"]), (profile, right, "lithium-3s"))
            self.assertIn("right for" if right else "wrong for", meters(set_to))

    def test_one_device(self):
        answer = json.loads(meters(example("saltmarsh-ferry.toml"), "--json", "--device", "receiver 1"))
        self.assertEqual({one["device"] for one in answer["meters"]}, {"receiver 1"})
        self.assertFalse(any(one["own_list"] for one in answer["meters"]))
        self.assertEqual(answer["meters"][0]["profile"], "lithium-4s")  # generic, by chemistry and cells

    def test_the_users_clock(self):
        day = example("cinema-plate.toml") + '\n[settings]\nclock = "12 h"\n'
        self.assertIn("8:00 am", meters(day).lower().replace("\u202f", " "))

    def test_bad_input(self):
        self.write("day.toml", BASE_DAY)
        result = self.run_here("meters", "day.toml", "--device", "no such")
        self.assert_refused(result, "tillwrap: --device", "no such", "it has:")
        self.assertEqual(self.run_here("meters", "missing.toml").returncode, 2)
        self.write("bad.toml", BASE_DAY.replace("kind", "kidn", 1))
        self.assertEqual(self.run_here("meters", "bad.toml").returncode, 2)


if __name__ == "__main__":
    unittest.main()
