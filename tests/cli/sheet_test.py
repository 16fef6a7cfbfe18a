"""`tillwrap sheet` from outside: the PDF by poppler, the calendar by two parsers, the SVG by an XML parser, the CSV by
Python's reader (RFC 4180); what is refused leaves nothing behind."""

import csv
import json
import re
import subprocess
import tomllib
import unittest
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import icalendar
import jsonschema
import vobject

from support import Folder, run

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
POINTS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0), "a6": (297.64, 419.53)}  # ISO 216; ANSI/ASME Y14.1
DOTS = 100


def grey(path):
    """Width, height and bytes of the only page, as poppler paints it."""
    raw = subprocess.run(["pdftoppm", "-gray", "-r", str(DOTS), str(path)], capture_output=True, check=True).stdout
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", raw)
    wide, tall = int(head[1]), int(head[2])
    assert len(raw) == head.end() + wide * tall, "more than one page"
    return wide, tall, raw[head.end():]


class Sheet(Folder):
    def sheet(self, day, *options):
        result = run("sheet", str(day), "--out", str(self.path / "out"), *options)
        self.assertIn(result.returncode, (0, 1), result.stderr)
        self.assertEqual(result.stderr, b"")
        return self.path / "out"

    def dated(self, name):
        text = (EXAMPLES / name).read_text().replace("[day]\n", '[day]\ndate = "2026-12-31"\n')
        return self.path / self.write(name, text)

    def assert_one_page(self, path, paper):
        info = subprocess.run(["pdfinfo", str(path)], capture_output=True, text=True, check=True).stdout
        self.assertRegex(info, r"Pages:\s+1\n")
        wide, tall, dots = grey(path)
        self.assertAlmostEqual(wide, POINTS[paper][0] / 72 * DOTS, delta=1.5)
        self.assertAlmostEqual(tall, POINTS[paper][1] / 72 * DOTS, delta=1.5)
        edge = int(0.02 * wide)  # nothing runs into the edge, so nothing is cut off there
        for row in list(range(edge)) + list(range(tall - edge, tall)):
            self.assertEqual(dots[row * wide:(row + 1) * wide].count(255), wide, f"ink at the edge, row {row}")
        for row in range(tall):
            line = dots[row * wide:(row + 1) * wide]
            self.assertEqual(line[:edge].count(255) + line[-edge:].count(255), 2 * edge, f"ink at the edge, row {row}")
        self.assertLess(dots.count(255), 0.98 * len(dots), "an empty page")

    def test_demo_on_every_paper(self):
        sections = self.answer(EXAMPLES / "saltmarsh-ferry.toml", "sheet")["sections"]
        bring = [(check["label"], check["rest"]) for section in sections for check in section["checks"]]
        self.assertTrue(any("spare in the pocket" in rest for _, rest in bring))
        for paper in POINTS:
            out = self.sheet(EXAMPLES / "saltmarsh-ferry.toml", "--format", "pdf", "--paper", paper)
            self.assert_one_page(out / "sheet.pdf", paper)
            text = subprocess.run(["pdftotext", "-layout", str(out / "sheet.pdf"), "-"], capture_output=True, text=True,
                                  check=True).stdout
            if paper != "a6":
                self.assertIn("Fresh cells", text, paper)
                for label, rest in bring:  # nothing to bring is cut off
                    for word in f"{label} {rest}".split():
                        self.assertIn(word, text, paper)
            for words in ("Safe to", "One pack dead", "10:20", "C1, C2", "Lithium packs can burn", "20:42"):
                self.assertIn(words, text, paper)
            fonts = subprocess.run(["pdffonts", str(out / "sheet.pdf")], capture_output=True, text=True, check=True).stdout
            for line in fonts.splitlines()[2:]:
                self.assertRegex(line, r"\byes\s+yes\s+yes\b", "embedded, subset, with its characters named")

    def test_long_names_are_broken_and_not_cut(self):
        """Names of thirty letters and more without a blank, on the smallest paper: every one can be read, none ends in dots."""
        text = (EXAMPLES / "saltmarsh-ferry.toml").read_text(encoding="utf-8")
        day = tomllib.loads(text)
        labels = [label for pack in day["pack"] for label in pack.get("labels", [pack.get("label")])]
        for label in labels:
            text = text.replace(f'"{label}"', f'"Nordlicht-Aussenlager-Kiste-{label.replace(" ", "_")}"')
        for holder in day["holder"]:
            text = text.replace(f'"{holder["name"]}"', f'"Zweiteinheit-{holder["name"].replace(" ", "-")}-unter-der-Klappe"')
        self.write("long.toml", text)
        for paper in ("a6", "a4"):
            out = self.sheet(self.path / "long.toml", "--format", "pdf,svg", "--paper", paper)
            self.assert_one_page(out / "sheet.pdf", paper)
            words = [part.text or "" for part in ElementTree.parse(out / "sheet.svg").iter() if part.tag.endswith("text")]
            self.assertFalse([one for one in words if one.endswith("\u2026") and "-" in one], paper)
            joined = "".join(words)
            for holder, label in (("cup", "C2"), ("door-C", "BC-2"), ("hop-receiver-door", "hop-2")):
                self.assertIn(f"Zweiteinheit-{holder}-unter-der-Klappe", joined, paper)
                self.assertIn(f"Nordlicht-Aussenlager-Kiste-{label}", joined, paper)

    def test_every_long_name_stands_whole_on_the_page(self):
        """Names of several words, too long for the strip: on paper with room for it each stands whole somewhere, and so in the SVG."""
        text = (EXAMPLES / "saltmarsh-ferry.toml").read_text(encoding="utf-8")
        day = tomllib.loads(text)
        packs = [label for pack in day["pack"] for label in pack.get("labels", [pack.get("label")])]
        names = [f'{holder["name"]} under the second unit\'s rain flap' for holder in day["holder"] if holder["kind"] != "built-in"]
        periods = [f'{period["name"]} with both units and the boats' for period in day["period"]]
        for old, new in zip([holder["name"] for holder in day["holder"] if holder["kind"] != "built-in"], names):
            text = text.replace(f'"{old}"', f'"{new}"')
        for old, new in zip([period["name"] for period in day["period"]], periods):
            text = text.replace(f'"{old}"', f'"{new}"')
        for label in packs:
            text = text.replace(f'"{label}"', f'"{label} north store"')
        for old in ('"recorder"', '"recorder.'):
            text = text.replace(old, old.replace("recorder", "recorder of the second unit"))
        self.write("words.toml", text)

        def letters(words):
            return re.sub(r"\s", "", words)

        def blocks(pdf):
            """Its words in the order drawn, so that a name over two lines stays together."""
            return letters(subprocess.run(["pdftotext", "-raw", str(pdf), "-"], capture_output=True, text=True, check=True).stdout)

        for paper in ("a4", "letter"):
            out = self.sheet(self.path / "words.toml", "--format", "pdf", "--paper", paper)
            self.assert_one_page(out / "sheet.pdf", paper)
            page = blocks(out / "sheet.pdf")
            self.assertIn("Theday", page, paper)
            self.assertIn("\u2026", page, "some are cut short in the strip")
            for name in names + periods + ["recorder of the second unit volts"] + [f"{label} north store" for label in packs]:
                self.assertIn(letters(name), page, (paper, name))
        out = self.sheet(self.path / "words.toml", "--format", "pdf", "--paper", "a6")
        self.assert_one_page(out / "sheet.pdf", "a6")
        self.assertNotIn("\u2026", blocks(out / "sheet.pdf"))
        self.assertIn(run("forecast", str(self.path / "words.toml"), "--svg", str(self.path / "words.svg")).returncode, (0, 1))
        drawn = letters("".join(part.text or "" for part in ElementTree.parse(self.path / "words.svg").iter() if part.tag.endswith("text")))
        for name in names + periods:
            self.assertIn(letters(name), drawn, name)

    def test_packs_stay_apart_in_grey(self):
        """Wedges that follow one another in a holder, as a copier or a printer without colour has them (luma of ITU-R BT.601)."""
        self.assertIn(run("forecast", str(EXAMPLES / "saltmarsh-ferry.toml"), "--svg", str(self.path / "strip.svg")).returncode, (0, 1))
        wedges = []
        for part in ElementTree.parse(self.path / "strip.svg").iter():
            fill, points = part.get("fill", ""), part.get("points") or part.get("d") or ""
            numbers = [float(x) for x in re.findall(r"-?[\d.]+", points)]
            if len(numbers) < 12 or not re.fullmatch("#[0-9a-f]{6}", fill):
                continue
            red, green, blue = (int(fill[k:k + 2], 16) for k in (1, 3, 5))
            xs, ys = numbers[0::2], numbers[1::2]
            wedges.append((round(0.5 * (min(xs) + max(xs))), min(ys), (0.299 * red + 0.587 * green + 0.114 * blue) / 255))
        pairs = [(a, b) for a, b in zip(sorted(wedges), sorted(wedges)[1:]) if a[0] == b[0]]
        self.assertGreater(len(pairs), 6)
        for one, other in pairs:
            self.assertGreater(abs(one[2] - other[2]), 0.09, (one, other))

    def test_every_format(self):
        day = self.dated("cinema-plate.toml")
        out = self.sheet(day, "--format", "html,pdf,svg,ics,csv", "--changes")
        self.assert_one_page(out / "sheet.pdf", "a4")
        subprocess.run(["xmllint", "--noout", str(out / "sheet.svg")], check=True)
        drawn = " ".join(ElementTree.parse(out / "sheet.svg").getroot().itertext())
        self.assertIn("Bring", drawn)
        page = (out / "sheet.html").read_text()
        self.assertNotRegex(page, r"<script|src=|href=|@import|url\(h")  # nothing fetched, nothing run
        tables = sorted(out.glob("*.csv"))
        self.assertIn("it-should-read.csv", [path.name for path in tables])
        for path in tables:
            raw = path.read_bytes()
            self.assertEqual(raw.count(b"\n"), raw.count(b"\r\n"))
            rows = list(csv.reader(raw.decode("utf-8").splitlines()))
            self.assertEqual({len(row) for row in rows}, {len(rows[0])})
        self.assertGreater(len((out / "power.ics").read_bytes()), 100)

    def test_calendar_by_two_parsers(self):
        day = self.dated("saltmarsh-ferry.toml")
        raw = (self.sheet(day, "--format", "ics", "--changes") / "power.ics").read_bytes()
        self.assertTrue(all(len(line) <= 75 for line in raw.split(b"\r\n")))
        events = [e for e in icalendar.Calendar.from_ical(raw).walk("VEVENT")]
        other = [c for c in vobject.readOne(raw.decode("utf-8")).components() if c.name == "VEVENT"]
        self.assertEqual(len(events), len(other))
        self.assertEqual(len({str(e["UID"]) for e in events}), len(events))
        for one, two in zip(events, other):
            self.assertEqual(str(one["SUMMARY"]), two.summary.value)
            self.assertEqual(one.decoded("DTSTART"), two.dtstart.value)
        charge = next(e for e in events if str(e["SUMMARY"]) == "C1 into charger bay 1")
        self.assertEqual(charge.decoded("DTSTART").isoformat(), "2026-12-31T10:45:00")
        # Alarms for charging only, and none while nobody may touch the bag (a take).
        rings = [e for e in events if e.walk("VALARM")]
        self.assertTrue(rings)
        for event in rings:
            self.assertRegex(str(event["SUMMARY"]), "charger")
            clock = event.decoded("DTSTART").strftime("%H:%M")
            for closed_from, closed_until in (("11:30", "12:25"), ("14:00", "16:20")):
                self.assertFalse(closed_from <= clock < closed_until, clock)
        self.assertTrue(any("cup" in str(e["SUMMARY"]) for e in events))
        plain = (self.sheet(day, "--format", "ics") / "power.ics").read_bytes()
        self.assertNotIn(b"cup", plain)

    def answer(self, day, *words):
        result = run(*words, str(day), "--json")
        self.assertEqual(result.stderr, b"")
        return json.loads(result.stdout)

    def assert_same(self, a, b, share, where):
        """Equal, numbers to a share: the strip's forecast takes shorter steps."""
        if isinstance(a, dict) and isinstance(b, dict):
            self.assertEqual(list(a), list(b), where)
            for key, one in a.items():
                self.assert_same(one, b[key], share, f"{where}.{key}")
        elif isinstance(a, list) and isinstance(b, list):
            self.assertEqual(len(a), len(b), where)
            for k, (one, other) in enumerate(zip(a, b)):
                self.assert_same(one, other, share, f"{where}[{k}]")
        elif where.endswith(".imbalance"):
            self.assertLess(max(abs(a), abs(b)), 1e-6, where)
        elif isinstance(a, float) and isinstance(b, float):
            self.assertLessEqual(abs(a - b), share * max(1.0, abs(b)), f"{where}: {a} {b}")
        else:
            self.assertEqual(a, b, where)

    def test_as_data_it_is_what_the_other_commands_say(self):
        def schema(name):
            return json.loads((EXAMPLES.parent / "schema" / f"{name}.schema.json").read_text(encoding="utf-8"))

        for example in ("saltmarsh-ferry.toml", "aa-only.toml"):
            day = EXAMPLES / example
            data = self.answer(day, "sheet")
            jsonschema.validate(data, schema("sheet"))
            for name in ("forecast", "meters", "findings", "expendables"):
                jsonschema.validate(data[name], schema(name))
                self.assert_same(data[name], self.answer(day, name), 1e-4 if name == "forecast" else 0.0, name)
            written = tomllib.loads(day.read_text(encoding="utf-8"))
            labels = [label for pack in written["pack"] for label in pack.get("labels", [pack.get("label")])]
            brought = [pack["label"] for pack in data["bring"]["packs"]]
            self.assertEqual(sorted(brought + data["bring"]["not_in_plan"]), sorted(labels))
            self.assertLessEqual({pack["label"] for pack in data["forecast"]["packs"]}, set(brought))
            # Changes are the forecast's, each in a stretch in which hands reach the holder.
            self.assertEqual({(c["holder"], c["out"], c["in"], round(c["planned_s"])) for c in data["changes"]},
                             {(c["holder"], c["out"], c["in"], round(c["at_s"])) for c in data["forecast"]["changes"]})
            for change in data["changes"]:
                window = change["window"]
                self.assertLessEqual(window["from_s"] - 1, change["planned_s"])
                self.assertLessEqual(change["planned_s"], window["until_s"] + 1)
                # Nine days in ten it serves to safe_s: later is not safe, and a plan that comes later is said to be too late.
                last_s = change["last_safe_s"]
                if last_s is not None:
                    self.assertLessEqual(last_s, change["safe_s"])
                late = last_s is None or last_s < change["planned_s"] - 60
                said = [line for section in data["sections"] if section["title"] == "Changes" for line in section["lines"]
                        if f"{change['out']} in {change['holder']} " in line]
                self.assertEqual(bool(said), late, change)
            kinds = {thing["kind"] for key in ("pack", "device", "holder", "box", "source", "charger") for thing in written.get(key, [])}
            self.assertEqual({source["kind"] for source in data["sources"]}, kinds)
            # What is printed: the same sections as the HTML, in its order.
            out = self.sheet(day, "--format", "html,json")
            self.assertEqual(json.loads((out / "sheet.json").read_text(encoding="utf-8")), data)
            titles = re.findall(r"<h2>(.*?)</h2>", (out / "sheet.html").read_text(encoding="utf-8"))
            self.assertEqual(titles, [section["title"] for section in data["sections"] if section["title"]])
            self.assertIn("never open", data["cautions"][0])

    def test_fresh_cells_are_those_of_expendables(self):
        day = EXAMPLES / "saltmarsh-ferry.toml"
        for days in ("1", "5"):
            data = self.answer(day, "sheet", "--days", days)
            plan = data["expendables"]
            self.assertEqual(plan, self.answer(day, "expendables", "--days", days))
            (section,) = [one for one in data["sections"] if one["title"] == "Fresh cells"]
            columns = [column["title"] for column in section["table"]["columns"]]
            told = {}
            for row in section["table"]["rows"]:
                for device in row[0].split(", "):
                    for column, cells in zip(columns[2:], row[2:]):
                        if cells:
                            told[device, column] = int(cells)
            names = {"call": "call", "meal": "meal", "between": "between", "last_reach": "last reach", "overrun": "if late"}
            fresh = {}
            for one in plan["fresh"]:
                key = one["device"], names[one["moment"]]
                fresh[key] = fresh.get(key, 0) + one["cells"]
            self.assertEqual(told, fresh)
            thrown = plan["as_planned"]["run"]
            words = " ".join(section["lines"])
            self.assertRegex(words, rf"^{thrown['cells_thrown']:.0f} (a day|in 5 days), ")
            self.assertIn(f"about {thrown['cost_guess_usd']:.0f} USD", words)
            lasting = [one for one in plan["options"] if one["rechargeable"] and one["lasts"]]
            best = min(lasting, key=lambda one: one["run"]["cost_guess_usd"])
            self.assertIn(f"{best['run']['cells_bought']} to own, about {best['run']['cost_guess_usd']:.0f} USD", words)
        self.assertNotIn("Fresh cells", [one["title"] for one in self.answer(EXAMPLES / "cinema-plate.toml", "sheet")["sections"]])

    def test_what_the_times_lean_on_is_brought(self):
        # The likely end of this day needs the second pack, though the overrun does not.
        data = self.answer(EXAMPLES / "cinema-plate.toml", "sheet")
        self.assertGreater(data["forecast"]["likely_s"], data["past_off"][0]["at_s"])
        self.assertEqual([pack["label"] for pack in data["bring"]["packs"]], ["V1", "V2"])

    def test_refused_and_nothing_written(self):
        (self.path / "file").write_text("in the way")
        demo = str(EXAMPLES / "news-bag.toml")
        for options, says in (
            ((demo, "--out", str(self.path / "new"), "--format", "docx"), "html, pdf, svg, ics, csv, json"),
            ((demo, "--out", str(self.path / "new"), "--paper", "a3"), "a4, letter, a6"),
            ((demo, "--out", str(self.path / "new"), "--format", "ics"), "date"),
            ((demo, "--out", str(self.path / "file"), "--format", "html"), "folder"),
            ((demo,), "--out"),
            ((demo, "--json", "--format", "pdf"), "--out"),
            ((str(self.path / "missing.toml"), "--out", str(self.path / "new")), "missing.toml"),
        ):
            result = run("sheet", *options)
            self.assertEqual((result.returncode, result.stdout), (2, b""), options)
            said = result.stderr.decode("utf-8")
            self.assertEqual(said.count("\n"), 1, said)
            self.assertIn(says, said)
        self.assertFalse((self.path / "new").exists())
        self.assertEqual((self.path / "file").read_text(), "in the way")


if __name__ == "__main__":
    unittest.main()
