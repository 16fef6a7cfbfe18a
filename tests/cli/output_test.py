"""The JSON outputs against their schemas (JSON Schema 2020-12, by Debian's python3-jsonschema), against each other and
against what follows from their definitions; the CSV against RFC 4180, by Python's csv module."""

import copy
import csv
import io
import json
import re
import tomllib
import unittest
import xml.etree.ElementTree

import jsonschema

from support import BASE_DAY, ROOT, Folder, edited, run

EXAMPLES = sorted((ROOT / "examples").glob("*.toml")) + sorted((ROOT / "examples").glob("*.json"))

# The keys other programs may rely on.
FORECAST_KEYS = {
    "": "reaches_wrap margin_s one_loss first_loss changes packs devices account",
    "one_loss": "holds worst",
    "first_loss": "device at_s cause reason",
    "changes": "holder out in at_s",
    "packs": "label holder start_charge end_charge delivered_wh",
    "devices": "name energy_wh lowest_v lowest_at_s off_s",
    "account": "drawn_wh devices_wh cables_wh contacts_wh converters_wh cells_wh imbalance",
}
DISCHARGE_KEYS = "duration_s charge_ah energy_wh mean_v end_reason rms_error_v curve"
CURVE_KEYS = "t_s v i_a surface_c charge"
PARTS = ("devices_wh", "cables_wh", "contacts_wh", "converters_wh", "cells_wh")


ODDS_KEYS = "days seed probability probability_with_overrun margin_s one_loss drivers"


def validator(name):
    schema = json.loads((ROOT / "schema" / f"{name}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def strict_json(text):
    def refuse(word):
        raise ValueError(f"{word} is no JSON (RFC 8259)")
    return json.loads(text, parse_constant=refuse)


def as_data(path):
    text = path.read_text(encoding="utf-8")
    return json.loads(text) if path.suffix == ".json" else tomllib.loads(text)


def undescribed(value, schema, root, path=""):
    """Keys in `value` that the schema does not name."""
    while "$ref" in schema:
        schema = root["$defs"][schema["$ref"].rsplit("/", 1)[1]]
    for choice in schema.get("oneOf", []):
        if not (choice.get("type") == "null"):
            schema = choice
            while "$ref" in schema:
                schema = root["$defs"][schema["$ref"].rsplit("/", 1)[1]]
    if isinstance(value, dict):
        for key, part in value.items():
            if key not in schema.get("properties", {}):
                yield f"{path}.{key}"
            else:
                yield from undescribed(part, schema["properties"][key], root, f"{path}.{key}")
    elif isinstance(value, list):
        for part in value:
            yield from undescribed(part, schema.get("items", {}), root, path + "[]")


class OddsJson(unittest.TestCase):
    def test_schema_keys_and_threads(self):
        schema = validator("odds")
        for path in EXAMPLES:
            result = run("odds", str(path), "--json", "--days", "64", "--threads", "1")
            self.assertEqual(result.stderr, b"")
            answer = strict_json(result.stdout)
            schema.validate(answer)
            self.assertEqual(list(undescribed(answer, schema.schema, schema.schema)), [])
            for key in ODDS_KEYS.split():
                self.assertIn(key, answer)
            self.assertLessEqual(answer["margin_s"]["p10"], answer["margin_s"]["p50"])
            self.assertLessEqual(answer["margin_s"]["p50"], answer["margin_s"]["p90"])
            self.assertLessEqual(answer["probability_with_overrun"], answer["probability"])
            # The same bytes from one thread and from three.
            self.assertEqual(run("odds", str(path), "--json", "--days", "64", "--threads", "3").stdout, result.stdout)
            broken = copy.deepcopy(answer)
            broken["probability"] = 1.5
            self.assertFalse(schema.is_valid(broken))

    def test_text_fits_eighty_columns(self):
        for path in EXAMPLES:
            for line in run("odds", str(path), "--days", "64").stdout.decode().splitlines():
                self.assertLessEqual(len(line), 80, line)

    def test_spreads_are_printed_as_given(self):
        text = edited() + '[spread]\nload = "0.5 %"\ncapacity = "2.5 %"\nstart_charge = "1.5 %"\n'
        said = run("odds", "-", "--days", "64", stdin=text.encode("utf-8")).stdout.decode()
        for part in ("\u00b1 0.5 %", "\u00b1 2.5 %", "some 1.5 % short"):
            self.assertIn(part, said)

    def test_no_spread_no_doubt(self):
        """All days alike: nothing has a share of what does not vary."""
        fractions = ("load", "load_each", "capacity", "capacity_each", "resistance", "start_charge", "bag", "overrun")
        text = edited() + "[spread]\n" + "".join(f'{name} = "0 %"\n' for name in fractions) + 'air = "0 K"\n'
        said = run("odds", "-", "--days", "64", stdin=text.encode("utf-8")).stdout.decode()
        shares = said.split("WHERE THE DOUBT COMES FROM\n")[1].split("\n\n")[0].splitlines()
        self.assertEqual(len(shares), 7)
        for line in shares:
            self.assertTrue(line.endswith(" none"), line)


class ForecastJson(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.schema = validator("forecast")
        cls.answers = {}
        for path in EXAMPLES:
            result = run("forecast", str(path), "--json")
            assert result.stderr == b"", result.stderr
            cls.answers[path] = (result.returncode, strict_json(result.stdout))

    def each(self):
        for path, (code, answer) in self.answers.items():
            with self.subTest(path.name):
                yield path, code, answer

    def test_valid_and_all_described(self):
        for _, _, answer in self.each():
            self.schema.validate(answer)
            self.assertEqual(list(undescribed(answer, self.schema.schema, self.schema.schema)), [])

    def test_promised_keys(self):
        for _, _, answer in self.each():
            for part, keys in FORECAST_KEYS.items():
                inside = answer[part] if part else answer
                for item in inside if isinstance(inside, list) else [inside]:
                    if item is not None:
                        self.assertLessEqual(set(keys.split()), set(item), part)

    def test_account_closes(self):
        for _, _, answer in self.each():
            account = answer["account"]
            parts = sum(account[part] for part in PARTS)
            self.assertGreater(account["drawn_wh"], 0.0)
            self.assertLessEqual(abs(parts - account["drawn_wh"]), 1e-6 * account["drawn_wh"])
            self.assertLessEqual(account["imbalance"], 1e-6)
            devices = sum(device["energy_wh"] for device in answer["devices"])
            self.assertAlmostEqual(devices, account["devices_wh"], delta=1e-9 * devices)
            for part in PARTS:
                self.assertGreaterEqual(account[part], 0.0, part)

    def test_answers_agree_with_each_other(self):
        for _, code, answer in self.each():
            self.assertEqual(code == 0, answer["reaches_wrap"])
            loss = answer["first_loss"]
            if loss is None:
                self.assertTrue(answer["margin_is_least"] and answer["reaches_wrap"])
            else:
                self.assertFalse(answer["margin_is_least"])
                self.assertAlmostEqual(answer["margin_s"], loss["at_s"] - answer["off_s"], delta=1e-6)
                self.assertEqual(answer["reaches_wrap"], loss["at_s"] >= answer["off_s"])
                self.assertIn(loss["device"], [device["name"] for device in answer["devices"]])
                hour, minute = divmod(int((loss["at_s"] + 1e-4) // 60), 60)
                self.assertTrue(loss["at"].startswith(f"{hour % 24:02}:{minute:02}"), loss)
            self.assertLessEqual(answer["safe_to_s"], answer["likely_s"])
            self.assertAlmostEqual(answer["stated_s"], answer["off_s"] + answer["margin_s"], delta=1e-6)
            drawn = answer["odds"]["margin_s"]
            self.assertEqual(answer["likely_s"], answer["off_s"] + drawn["p50"])
            self.assertEqual(answer["safe_to_s"], min(answer["off_s"] + drawn["p10"], answer["stated_s"]))
            one = answer["one_loss"]
            self.assertEqual(one["holds"], all(case["survives"] for case in one["cases"]))
            if one["cases"]:
                self.assertEqual(one["worst"], min(one["cases"], key=lambda case: case["margin_s"]))
            for case in one["cases"]:
                self.assertEqual(case["survives"], case["margin_s"] >= 0.0)

    def test_packs_and_changes_fit_together(self):
        for _, _, answer in self.each():
            by_holder = {}
            for turn in answer["packs"]:
                by_holder.setdefault(turn["holder"], []).append(turn)
                self.assertLessEqual(turn["in_s"], turn["out_s"])
                if turn["delivered_wh"] > 0.01:
                    self.assertLess(turn["end_charge"], turn["start_charge"])
            for turns in by_holder.values():
                turns.sort(key=lambda turn: turn["in_s"])
                for before, after in zip(turns, turns[1:]):
                    self.assertLessEqual(before["out_s"], after["in_s"], "two packs in one holder at once")
            for change in answer["changes"]:
                labels = [turn["label"] for turn in by_holder[change["holder"]]]
                self.assertIn(change["out"], labels)
                self.assertIn(change["in"], labels)
            # What the packs and other sources gave at their terminals is at least what the devices took.
            self.assertLessEqual(sum(turn["delivered_wh"] for turn in answer["packs"]), answer["account"]["drawn_wh"])

    def test_json_and_text_say_the_same(self):
        for path, code, answer in self.each():
            result = run("forecast", str(path))
            self.assertEqual(result.returncode, code)
            flat = " ".join(result.stdout.decode("utf-8").split())
            self.assertIn(" ".join(answer["verdict"].split()), flat)
            self.assertIn(answer["one_loss"]["sentence"], flat)
            for device in answer["devices"]:
                self.assertIn(device["name"], flat)

    def test_broken_documents_are_refused(self):
        good = self.answers[ROOT / "examples" / "saltmarsh-ferry.toml"][1]
        self.schema.validate(good)

        def refused(change):
            broken = copy.deepcopy(good)
            change(broken)
            with self.assertRaises(jsonschema.ValidationError):
                self.schema.validate(broken)

        for part, keys in FORECAST_KEYS.items():
            for key in keys.split():
                inside = good[part] if part else good
                if isinstance(inside, list):
                    refused(lambda d, p=part, k=key: d[p][0].pop(k))
                elif inside is not None:
                    refused(lambda d, p=part, k=key: (d[p] if p else d).pop(k))
        refused(lambda d: d.update(reaches_wrap="yes"))
        refused(lambda d: d.update(margin_s=None))
        refused(lambda d: d.update(format="tillwrap-forecast-2"))
        refused(lambda d: d["packs"][0].update(start_charge=86))
        refused(lambda d: d["devices"][0].update(energy_wh=-1))
        refused(lambda d: d["first_loss"].update(cause="gremlins"))
        refused(lambda d: d["warnings"].append("look here"))


class DischargeJson(Folder):
    RUNS = [
        ("--cell", "nca", "--current", "2.9"),
        ("--cell", "nca", "--power", "5 W", "--ambient", "-10"),
        ("--cell", "alkaline", "--resistance", "3.9", "--duty", "1 h/24 h", "--until", "0.8"),
        ("--cell", "nmc", "--cells", "4", "--power", "20", "--start-charge", "80 %"),
        ("--cell", "nca", "--current", "1", "--start-charge", "0"),
        ("--pack", "smart-pack-14v4-98wh", "--power", "20 W", "--health", "71 %", "--resistance-factor", "1.9"),
        ("--pack", "vrla-12v-7ah", "--current", "0.35 A"),
        ("--pack", "aa-nimh-lsd-x8", "--power", "8"),
    ]

    def answer(self, *words):
        result = self.run_here("discharge", *words, "--json")
        self.assertEqual((result.returncode, result.stderr), (0, b""))
        return strict_json(result.stdout)

    def test_valid_and_consistent(self):
        schema = validator("discharge")
        for words in self.RUNS:
            with self.subTest(" ".join(words)):
                answer = self.answer(*words)
                schema.validate(answer)
                self.assertEqual(list(undescribed(answer, schema.schema, schema.schema)), [])
                self.assertLessEqual(set(DISCHARGE_KEYS.split()), set(answer))
                curve = answer["curve"]
                self.assertLessEqual(set(CURVE_KEYS.split()), set(curve))
                self.assertEqual(len({len(column) for column in curve.values()}), 1)
                self.assertTrue(all(a < b for a, b in zip(curve["t_s"], curve["t_s"][1:])))
                self.assertAlmostEqual(curve["t_s"][-1], answer["duration_s"], delta=1.0)
                if answer["charge_ah"] > 0.0:
                    self.assertAlmostEqual(answer["mean_v"], answer["energy_wh"] / answer["charge_ah"],
                                           delta=1e-9 * answer["mean_v"])
                    # Energy drawn at rested volts = delivered + lost inside (+ own electronics, up to 0.5 % in a pack).
                    spent = answer["energy_wh"] + answer["heat_wh"]
                    self.assertLessEqual(spent, answer["open_circuit_wh"] * (1 + 1e-6))
                    self.assertGreaterEqual(spent, answer["open_circuit_wh"] * (0.995 if "--pack" in words else 1 - 1e-6))

    def test_constant_current_and_power_by_definition(self):
        answer = self.answer("--cell", "nca", "--current", "2.9")
        self.assertAlmostEqual(answer["charge_ah"], 2.9 * answer["duration_s"] / 3600.0, delta=1e-6)
        answer = self.answer("--cell", "nca", "--power", "5")
        self.assertAlmostEqual(answer["energy_wh"], 5.0 * answer["duration_s"] / 3600.0, delta=2e-5)
        for volts, amps in zip(answer["curve"]["v"], answer["curve"]["i_a"]):
            self.assertAlmostEqual(volts * amps, 5.0, delta=1e-4)

    def test_a_profile_keeps_its_own_times_and_reports_its_error(self):
        times = [0.0, 10.0, 11.5, 60.0, 300.0, 301.0, 900.0]
        amps = [0.0, 1.0, 2.0, 1.5, 0.0, 2.9, 1.0]
        rows = [f"{t},{i}" for t, i in zip(times, amps)]
        self.write("p.csv", "time_s,current_a\n" + "\n".join(rows) + "\n")
        plain = self.answer("--cell", "nca", "--profile", "p.csv")
        self.assertEqual(plain["curve"]["t_s"], times)
        self.assertIsNone(plain["rms_error_v"])
        for i, shown in zip(amps, plain["curve"]["i_a"]):
            self.assertAlmostEqual(i, shown, delta=1e-9)
        # Measured volts 10 mV above the answer: an RMS error of 10 mV by definition.
        rows = [f"{row},{v + 0.010!r}" for row, v in zip(rows, plain["curve"]["v"])]
        self.write("p.csv", "time_s,current_a,voltage_v\n" + "\n".join(rows) + "\n")
        self.assertAlmostEqual(self.answer("--cell", "nca", "--profile", "p.csv")["rms_error_v"], 0.010, delta=1e-9)

    def test_nothing_gives_more_than_it_holds(self):
        """Without a limit a source ends at its own electronics or at the usual end volts of its cells, not below empty."""
        listed = json.loads(run("catalogue", "packs", "--json").stdout)
        ids = [entry["id"] for entry in listed["entries"]]
        self.assertGreater(len(ids), 20)
        for pack in ids:
            with self.subTest(pack):
                answer = self.answer("--pack", pack, "--power", "2")
                # Loads far below the rated one give a little more than the rated charge.
                self.assertGreaterEqual(min(answer["curve"]["charge"]), -0.05)
                self.assertLess(answer["charge_ah"], 50.0)

    def test_broken_documents_are_refused(self):
        schema = validator("discharge")
        good = self.answer("--cell", "nca", "--current", "2.9")
        for key in DISCHARGE_KEYS.split():
            with self.assertRaises(jsonschema.ValidationError):
                schema.validate({k: v for k, v in good.items() if k != key})
        for key in CURVE_KEYS.split():
            with self.assertRaises(jsonschema.ValidationError):
                schema.validate({**good, "curve": {k: v for k, v in good["curve"].items() if k != key}})
        with self.assertRaises(jsonschema.ValidationError):
            schema.validate({**good, "duration_s": "1 h"})


class DaySchema(Folder):
    def test_good_days(self):
        schema = validator("day")
        for path in EXAMPLES:
            with self.subTest(path.name):
                schema.validate(as_data(path))
        schema.validate(tomllib.loads(BASE_DAY))
        self.run_here("init", "starter.toml")
        schema.validate(as_data(self.path / "starter.toml"))

    def test_bad_days_are_refused_by_both(self):
        schema = validator("day")
        for name, old, new in [
            ("unknown key", "health", "helth"),
            ("wrong type", 'label = "P1"', "label = 7"),
            ("unit of another kind", '"0.5 m"', '"0.5 W"'),
            ("number without unit", '"0.5 m"', "0.5"),
            ("text without unit", '"8.2 W"', '"8.2"'),
            ("decimal comma", '"8.2 W"', '"8,2 W"'),
            ("wire size", '"AWG 22"', '"22"'),
            ("no clock time", '"12:00"', '"noon"'),
            ("one plug", 'wire = "AWG 22"', 'wire = "AWG 22"\nplugs = ["round-lock-4"]'),
            ("no length of a list", 'no_hands = { bag = "09:00-09:30" }', "no_hands = 3"),
            ("dot in a name", 'name = "cup"', 'name = "cup.1"'),
            ("format", "format = 1", "format = 2"),
            ("no call", 'call = "08:00"\n', ""),
        ]:
            with self.subTest(name):
                text = edited((old, new))
                with self.assertRaises(jsonschema.ValidationError):
                    schema.validate(tomllib.loads(text))
                self.write("day.toml", text)
                self.assertEqual(self.run_here("check", "day.toml").returncode, 2)

    def test_other_ways_to_write_it(self):
        """Written in other units and under keys that carry the unit: allowed by the schema, and the same day."""
        schema = validator("day")
        self.write("day.toml", BASE_DAY)
        wanted = self.run_here("forecast", "day.toml").stdout
        for old, new in [
            ('length = "0.5 m"', "length_m = 0.5"),
            ('length = "0.5 m"', 'length = "50 cm"'),
            ('"14 °C"', '"57.2 °F"'),
            ('air = "6 °C"', "air_c = 6"),
            ('draw = "8.2 W"', "draw_w = 8.2"),
            ('draw = "8.2 W"', 'draw = "8200 mW"'),
            ('health = "92 %"', "health = 0.92"),
            ('call = "08:00"', 'call = "8:00 am"'),
            ('overrun = "1 h"', 'overrun = "60 min"'),
            ('phantom = ["2 mA"]', 'phantom = ["0.002 A"]'),
        ]:
            with self.subTest(new):
                text = edited((old, new))
                schema.validate(tomllib.loads(text))
                self.write("day.toml", text)
                result = self.run_here("forecast", "day.toml")
                self.assertEqual(result.stderr, b"")
                # Another unit may round to the next number; the closing of the account shows it.
                self.assertEqual(re.sub(rb"close to \S+", b"", result.stdout), re.sub(rb"close to \S+", b"", wanted))

    def test_schema_and_program_know_the_same_keys(self):
        """An unknown key far from any other makes the program list the keys it knows."""
        schema = validator("day").schema
        odd = "qqqqqqqqqqqqqqqqqqqqqqqqqqqq"
        extra = {
            "source": '[[source]]\nname = "mains"\nkind = "mains-usb-pd"\nin = "cup"\n',
            "place": '[[place]]\nname = "hut"\nlike = "air"\n',
            "charger": '[[charger]]\nname = "charger"\nkind = "charger-smart-2"\n',
            "measured": '[[measured]]\nat = "box"\ndraw = "9 W"\nduring = "scene"\n',
        }
        for table, spec in schema["properties"].items():
            if spec.get("type") == "array":
                keys = set(spec["items"]["properties"])
                header = f"[[{table}]]"
            elif table == "day":
                keys = set(spec["properties"])
                header = "[day]"
            else:
                continue
            with self.subTest(table):
                text = BASE_DAY + "\n" + extra.get(table, "")
                text = text.replace(header, f"{header}\n{odd} = 1", 1)
                if table == "pack":  # the kind with all keys
                    text = text.replace('[[pack]]\n' + odd, '[[pack]]\nlabel = "U"\nkind = "usb-bank-pd"\n' + odd + " = 1\n[[pack]]\n#", 1)
                self.write("day.toml", text)
                said = self.run_here("check", "day.toml").stderr.decode("utf-8")
                self.assertIn(odd, said)
                known = set(re.search("known keys: (.*)", said).group(1).split(", "))
                # Read only where another key calls for it, so perhaps not yet known to this reader.
                sometimes = {"pack": {"label", "labels"}, "measured": {"gauge"}, "wire": {"fuse_kind"}}.get(table, set())
                suffixed = {key for key in known if any(key.startswith(k + "_") for k in keys) and key not in keys}
                self.assertEqual((known - suffixed) | sometimes, keys | sometimes)


class PictureSvg(Folder):
    def test_well_formed_whatever_the_names(self):
        odd = 'rec <&> "x"'
        text = BASE_DAY.replace('"recorder"', json.dumps(odd)).replace('"recorder.dc"', json.dumps(odd + ".dc"))
        text = text.replace('"Base day"', '"A & B <c>"').replace('"P1"', '"P<1>&"')
        self.write("day.toml", text)
        self.assertEqual(self.run_here("forecast", "day.toml", "--svg", "out.svg").returncode, 0)
        root = xml.etree.ElementTree.parse(self.path / "out.svg").getroot()
        self.assertTrue(root.tag.endswith("svg"))
        shown = " ".join(root.itertext())
        for name in ("A & B <c>", "P<1>&"):
            self.assertIn(name, shown)


class CurvesCsv(Folder):
    def test_rfc_4180(self):
        odd = 'P1, "the good one"'
        text = BASE_DAY.replace('"P1"', json.dumps(odd))
        self.write("day.toml", text)
        result = self.run_here("forecast", "day.toml", "--csv", "out.csv", "--step", "600")
        self.assertEqual((result.returncode, result.stderr), (0, b""))
        raw = (self.path / "out.csv").read_bytes()
        self.assertTrue(raw.endswith(b"\r\n"))
        self.assertEqual(raw.count(b"\n"), raw.count(b"\r\n"))
        self.assertIn(b'"P1, ""the good one"""', raw)
        rows = list(csv.DictReader(io.StringIO(raw.decode("utf-8"), newline=""), strict=True))
        self.assertGreater(len(rows), 20)
        self.assertTrue(all(None not in row and None not in row.values() for row in rows), "ragged rows")
        times = [float(row["at_s"]) for row in rows]
        self.assertTrue(all(a <= b for a, b in zip(times, times[1:])))
        self.assertEqual(times[0], 7.5 * 3600)
        self.assertLessEqual(max(b - a for a, b in zip(times, times[1:])), 600.1)
        for row in rows:
            self.assertIn(row["cup pack"], ("", odd, "P2"))
            if row["cup pack"]:
                self.assertTrue(8.0 < float(row["cup volts_v"]) < 17.0)
                self.assertTrue(0.0 <= float(row["cup charge"]) <= 1.02)
        self.assertEqual(rows[0]["cup pack"], odd)
        # The curves are those of the answer: lowest recorder volts while it runs, to the rows' spacing.
        answer = strict_json(self.run_here("forecast", "day.toml", "--json").stdout)
        lowest = next(d["lowest_v"] for d in answer["devices"] if d["name"] == "recorder")
        seen = [float(row["recorder volts_v"]) for row in rows if times[0] <= float(row["at_s"]) <= answer["off_s"]]
        self.assertGreaterEqual(min(seen), lowest - 0.001)


if __name__ == "__main__":
    unittest.main()
