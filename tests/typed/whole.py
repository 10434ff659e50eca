#!/usr/bin/env python3
"""Types the whole demo into an empty window, with the keyboard and the mouse alone.

Opens the window under a screen of its own (Xvfb), presses New, types everything that stands in
`surveys/demo.ron`, saves with the keyboard, and holds the saved file against the demo: field by field,
and by the figures that the program gives for both.

    python3 tests/typed/whole.py --brimline target/debug/brimline --out /tmp/typed

`--sections site,design` types a part only, into a job that has what comes before it in the demo;
`--from FILE` begins with a part-made job instead, `--job FILE` types another job than the demo.
It takes some 15 minutes on two cores with a driver that draws in software. Needs Xvfb and xdotool, and for
the pictures at the end of each section ImageMagick. The last line says whether all is equal; the exit
code is 0 if so.
"""

import argparse
import json
import re
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
import jobfile
from window import NotSeen, Window

ROOT = Path(__file__).resolve().parents[2]
YARD = (430, 430)
SECTIONS = ["job", "notes", "site", "design", "soil", "haul", "plumbing", "stages", "visits"]
# The field of the job that a section types; `notes`: all before it is the empty job.
FIELDS = {
    "notes": "field_book", "site": "site", "design": "design", "soil": "soil", "haul": "haul",
    "plumbing": "plumbing", "stages": "sequence", "visits": "as_built",
}
# What the window calls the things that are added where one presses in the yard.
ADDED = {
    "site.breaklines": "Breakline", "site.holes": "Building", "site.walls": "Standing wall",
    "site.paving": "Paving", "site.keep_outs": "Keep-out", "site.services": "Service",
    "site.trees": "Tree", "design.basins": "Basin", "design.cascades": "Cascade",
    "design.walls": "Wall", "design.pads": "Pad", "design.berms": "Berm",
    "design.trenches": "Trench", "design.ramps": "Ramp", "design.piles": "Pile",
    "design.overflows": "Overflow",
}
COLUMNS = 4
FIGURES = ["figures", "soil", "takeoff", "water", "stakes", "asbuilt"]


def field_of(record, name):
    return next(f for f in jobfile.TABLES[record] if f.name == name)


def is_row(record):
    table = jobfile.TABLES[record]
    return len(table) <= COLUMNS and all(f.is_line for f in table)


class Typist:
    """Fills the pages in as somebody would: top to bottom, on by Enter or Tab where that leads on, and
    by the pointer where it does not."""

    def __init__(self, window, job):
        self.window = window
        self.job = job
        self.names = []

    # ---------------------------------------------------------------------------------- the pages

    def page(self, name):
        window = self.window
        if window.page != name:
            window.press(f"page: {name}", lambda: window.page == name, f"the page {name}")

    def thing(self, address):
        """Opens the line of a part of the job."""
        window, line = self.window, f"thing: {address}"
        window.until(line, lambda: window.has(line))
        if not self.is_open(address):
            window.press(line, lambda: self.is_open(address), f"{address} opens")

    def is_open(self, address):
        begin = f"cell: {address}." if address else "cell: "
        names = {f"cell: {f.name}" for f in jobfile.TABLES["Job"]}
        return any(
            w.startswith(begin) if address else w in names for w in self.window.places
        )

    def open_fold(self, address, inside):
        """Unfolds a list or a record, if nothing of it is seen."""
        window = self.window
        seen = lambda: any(w.startswith(inside) for w in window.places)
        window.look()
        if not seen():
            window.press(f"fold: {address}", seen, f"{address} unfolds")

    def add_from_menu(self, heading, noun, opens):
        """Add…, then one of the list, and if need be a press in the yard."""
        window = self.window
        button = f"button: {noun}"
        window.press(f"add: {heading}", lambda: window.has(button), f"{heading}: Add…")
        placed = noun in ADDED.values() or noun == "Access"
        came = lambda: any(w.startswith(f"cell: {opens}") for w in window.places)
        if placed:
            asked = lambda: any(w.startswith("placing: ") for w in window.places)
            window.press(button, asked, f"{noun} is to be placed")
            for _ in range(4):
                window.xdotool("mousemove", *YARD, "click", 1)
                window.presses += 1
                try:
                    window.until(f"{opens} in the yard", came, 15)
                    return
                except NotSeen:
                    window.again += 1
                    print(f"    ! placed again: {opens}", flush=True)
            raise NotSeen(f"{opens} is not added")
        window.press(button, came, f"{noun} is added")

    # ------------------------------------------------------------------------------------- a form

    def form(self, at, record, values):
        """All fields of a record that are written: lines first, then what is folded."""
        window = self.window
        table = jobfile.TABLES[record]
        lines = [f for f in table if f.is_line]
        for k, one in enumerate(lines):
            if one.name not in values:
                continue
            address = f"{at}.{one.name}" if at else one.name
            value = values[one.name]
            if one.widget == "tick":
                self.tick(address, value.typed)
            elif one.widget == "choice":
                self.choose(address, value.typed)
            else:
                window.goes_into(address)
                window.fill(address, value.typed)
                # Enter leads to the next line to type in.
                after = next((f for f in lines[k + 1 :] if f.widget == "line"), None)
                wanted = next((f for f in lines[k + 1 :] if f.name in values), None)
                if after is not None and after is wanted:
                    window.leads_on("Return", f"{at}.{after.name}" if at else after.name)
        for one in table:
            if one.is_line or one.name not in values:
                continue
            address = f"{at}.{one.name}" if at else one.name
            value = values[one.name]
            if at.count(".") == 0 and self.is_elsewhere(at, one):
                continue
            if one.record:
                self.open_fold(address, f"cell: {address}.")
                self.form(address, one.record, value)
            else:
                self.list_of(address, one, value)

    def is_elsewhere(self, at, one):
        """Has lines of its own on the page."""
        if at == "":
            return True
        if at.count(".") or "[" in at:
            return False
        return one.name == "access" or bool(
            one.item and jobfile.bare(one.item) and jobfile.TABLES[jobfile.bare(one.item)][0].kind == "name"
        ) or f"{at}.{one.name}" in ADDED or f"{at}.{one.name}" == "haul.machines"

    def tick(self, address, wanted, in_list=False):
        window, set_so = self.window, f"ticked: {address} = {wanted}"
        if not window.has(set_so):
            window.press(
                f"tick: {address}", lambda: window.has(set_so), f"{address} is {wanted}",
                scroll=not in_list,
            )

    def choose(self, address, wanted):
        window = self.window
        choice = f"choice: {wanted}"
        window.press(f"cell: {address}", lambda: window.has(choice), f"the list of {address}")
        window.press(choice, lambda: not window.has(choice), f"{wanted} for {address}")

    def letters(self, address, wanted):
        """Chooses by the keyboard, in a choice that has it."""
        window = self.window
        chosen = lambda: window.choosing == (address, wanted)
        window.until(f"the keyboard in {address}", lambda: (window.choosing or [""])[0] == address, 40)
        if chosen():
            return
        # A blank would open the list.
        window.write(wanted.replace(" ", ""))
        window.until(f"{wanted} for {address}", chosen, 40)

    # -------------------------------------------------------------------------------------- a list

    def count(self, address):
        """How many items of a list are shown."""
        window, n = self.window, 0
        window.look()
        places = window.places
        while any(
            f"{kind}: {address}[{n}]" in places for kind in ("cell", "fold", "thing", "more")
        ) or any(w.startswith(f"cell: {address}[{n}].") for w in places):
            n += 1
        return n

    def list_of(self, address, one, values):
        window = self.window
        button = f"add: {address}"
        window.look()
        if button not in window.places:
            window.press(f"fold: {address}", lambda: window.has(button), f"{address} unfolds")
            # What it has already is told a frame later.
            window.until(f"{address} lies still", lambda: window.same > 0, 40)
        record = jobfile.bare(one.item)
        if record == "Setup":
            for k, value in enumerate(values):
                if k >= self.count(address):
                    self.one_more(address, k)
                self.setup(f"{address}[{k}]", value)
            return
        elif record and is_row(record):
            self.rows(address, record, values)
        elif record:
            for k, value in enumerate(values):
                item = f"{address}[{k}]"
                if k >= self.count(address):
                    self.one_more(address, k)
                else:
                    self.open_fold(item, f"cell: {item}.")
                self.form(item, record, value)
        else:
            self.items(address, one.item, values)
        here = self.count(address)
        if here != len(values):
            raise NotSeen(f"{address}: {here} of them, not {len(values)}")

    def one_more(self, address, k):
        window = self.window
        seen = lambda: self.count(address) > k
        window.press(f"add: {address}", seen, f"one more of {address}")

    def items(self, address, kind, values):
        """Values one under the other: corners, names."""
        window = self.window
        by_choice = jobfile.widget(kind) == "choice"
        for k, value in enumerate(values):
            item = f"{address}[{k}]"
            if k >= self.count(address):
                self.one_more(address, k)
                if not by_choice:
                    window.until(f"the keyboard in {item}", lambda: window.is_in(item), 40)
            if by_choice:
                self.letters(item, value.typed)
                continue
            window.goes_into(item)
            window.fill(item, value.typed)
            if k + 1 < len(values):
                # Enter leads to the next one, or makes it.
                window.leads_on("Return", f"{address}[{k + 1}]")

    def rows(self, address, record, values):
        """Records in rows: along each by Tab."""
        window = self.window
        table = jobfile.TABLES[record]
        typed = [f for f in table if f.widget == "line"]
        for k, value in enumerate(values):
            row = f"{address}[{k}]"
            first = f"{row}.{typed[0].name}"
            if k >= self.count(address):
                self.one_more(address, k)
                window.until(f"the keyboard in {first}", lambda: window.is_in(first), 40)
            else:
                window.goes_into(first)
            last = max(i for i, f in enumerate(table) if f.name in value)
            for i, one in enumerate(table[: last + 1]):
                cell = f"{row}.{one.name}"
                if i:
                    window.key("Tab")
                if one.widget == "choice":
                    if one.name in value:
                        self.letters(cell, value[one.name].typed)
                    continue
                window.until(f"the keyboard in {cell}", lambda: window.is_in(cell), 40)
                if one.name in value:
                    window.fill(cell, value[one.name].typed)

    # --------------------------------------------------------------------------------- field book

    def known(self, heading, name, record):
        """Benchmarks, baselines, pegs: rows that go on by Enter."""
        window, address = self.window, f"field_book.{name}"
        values = self.job["field_book"].get(name, [])
        if not values:
            return
        # Enter goes along the last row, and from its end into a new one.
        columns = [f.name for f in jobfile.TABLES[record] if f.widget == "line"]
        first = f"{address}[0].{columns[0]}"
        window.press(f"add: {heading}", lambda: window.is_in(first), f"the first of {heading}")
        for k, value in enumerate(values):
            for i, column in enumerate(columns):
                cell = f"{address}[{k}].{column}"
                window.until(f"the keyboard in {cell}", lambda: window.is_in(cell), 40)
                window.fill(cell, value[column].typed if column in value else "")
                if (k, i) != (len(values) - 1, len(columns) - 1):
                    window.key("Return")
        for k, value in enumerate(values):
            if "assumed" in value and k > 0:
                self.tick(f"{address}[{k}].assumed", "true")

    def setup(self, at, value):
        """The head of a setup, then its rows."""
        window = self.window
        window.goes_into(f"{at}.name")
        window.fill(f"{at}.name", value["name"].typed)
        if "at" in value:
            window.leads_on("Tab", f"{at}.at")
            window.fill(f"{at}.at", value["at"].typed)
        to = f"{at}.backsight.to"
        window.goes_into(to)
        window.fill(to, value["backsight"]["to"].typed)
        rod = f"{at}.backsight.rod"
        window.goes_into(rod)
        window.fill(rod, value["backsight"]["rod"].typed)
        sights = value["sights"]
        window.leads_on("Return", f"{at}.sights[0].rod")
        for k, sight in enumerate(sights):
            if k in (4, 12, 30):
                # The yard has grown, and is seen from nearby again.
                window.step_back(YARD)
            self.sight(f"{at}.sights[{k}]", sight)
            if k + 1 < len(sights):
                after = f"{at}.sights[{k + 1}].rod"
                window.leads_on("Return", after)

    def sight(self, row, value):
        """A row of the field book; the keyboard is in its rod, and stays in a cell of it."""
        window = self.window
        name = value["to"].typed
        if self.next_name() != name:
            window.leads_on("shift+Tab", f"{row}.to")
            window.fill(f"{row}.to", name)
            window.leads_on("Tab", f"{row}.rod")
        self.names.append(name)
        window.fill(f"{row}.rod", value["rod"].typed)
        if "at" in value:
            window.leads_on("Tab", f"{row}.at")
            window.fill(f"{row}.at", value["at"].typed)
        ticks = [n for n in ("turning", "inverted", "ground") if n in value]
        if "remark" in value:
            # Past the kind of the shot.
            window.leads_on(["Tab", "Tab"], f"{row}.remark")
            window.fill(f"{row}.remark", value["remark"].typed)
        if ticks:
            first = f"tick: {row}.{ticks[0]}"
            window.press(f"kind: {row}", lambda: window.has(first), f"the kinds of {row}")
            for tick in ticks:
                self.tick(f"{row}.{tick}", value[tick].typed, in_list=True)
            window.key("Escape")
            window.until("the kinds are closed", lambda: not window.has(first), 40)
            window.goes_into(f"{row}.rod")

    def next_name(self):
        """What the window calls the next shot."""
        numbered = [n for n in self.names if n[-1].isdigit()]
        if not numbered:
            return "1"
        head = numbered[-1].rstrip("0123456789")
        number = int(numbered[-1][len(head) :])
        while f"{head}{number}" in self.names:
            number += 1
        return f"{head}{number}"

    # ------------------------------------------------------------------------------------ sections

    def do_job(self):
        self.page("Design")
        self.thing("")
        lines = {n: v for n, v in self.job.items() if isinstance(v, jobfile.Leaf)}
        # A new job is in feet.
        lines.pop("unit")
        self.form("", "Job", lines)

    def do_notes(self):
        self.page("Notes")
        self.known("Benchmarks", "benchmarks", "Benchmark")
        self.known("Baselines", "baselines", "Baseline")
        self.known("Pegs", "pegs", "Peg")
        window = self.window
        setups = self.job["field_book"]["setups"]
        for k, value in enumerate(setups):
            at = f"field_book.setups[{k}]"
            rod = f"{at}.backsight.rod"
            window.press("button: Add a setup", lambda: window.is_in(rod), "a setup is added")
            self.setup(at, value)

    def things(self, part, heading, order):
        """Things that are added one by one, each with its form."""
        self.page("Design")
        values = self.job[part]
        for name in order:
            if name not in values:
                continue
            if name == "access":
                self.add_from_menu(heading, "Access", "site.access.")
                self.form("site.access", "Access", values[name])
                continue
            record = jobfile.bare(field_of(heading, name).item)
            noun = ADDED.get(f"{part}.{name}")
            for k, value in enumerate(values[name]):
                at = f"{part}.{name}[{k}]"
                self.add_from_menu(heading, noun, f"{at}.")
                self.form(at, record, value)

    def do_site(self):
        self.things(
            "site", "Site",
            ["breaklines", "holes", "walls", "paving", "keep_outs", "services", "trees", "access"],
        )
        self.thing_of_part("site", "Site")

    def thing_of_part(self, part, record):
        values = self.job[part]
        own = {n: v for n, v in values.items() if not self.is_elsewhere(part, field_of(record, n))}
        if own:
            self.page("Design")
            window, line = self.window, f"thing: {part}"
            inside = lambda: any(
                f"{kind}: {part}.{n}" in window.places for n in own for kind in ("cell", "fold")
            )
            window.look()
            if not inside():
                window.press(line, inside, f"{part} opens")
            self.form(part, record, own)

    def do_design(self):
        # What others lean on comes first: a level by a wall's cap needs the wall.
        order = ["walls", "basins", "cascades", "berms", "pads", "trenches", "ramps", "piles", "overflows"]
        self.things("design", "Design", order)

    def do_soil(self):
        self.thing_of_part("soil", "Soil")

    def do_haul(self):
        self.page("Design")
        for k, value in enumerate(self.job["haul"].get("machines", [])):
            at = f"haul.machines[{k}]"
            self.add_from_menu("Carrying", "Machine", f"{at}.")
            self.form(at, "Machine", value)
        self.thing_of_part("haul", "Haulage")

    def do_plumbing(self):
        self.thing_of_part("plumbing", "Plumbing")
        for k, value in enumerate(self.job["plumbing"].get("pumps", [])):
            at = f"plumbing.pumps[{k}]"
            self.add_from_menu("Water and pipes", "Pump", f"{at}.")
            self.form(at, "Pump", value)

    def do_stages(self):
        self.page("Design")
        for k, value in enumerate(self.job["sequence"]):
            at = f"sequence[{k}]"
            self.add_from_menu("Stages", "Stage", f"{at}.")
            self.form(at, "Stage", value)

    def do_visits(self):
        self.names = []
        self.thing_of_part("as_built", "AsBuilt")


def part_made(text, sections):
    """The demo with what comes before these sections, as its file writes it."""
    before = SECTIONS[: min(SECTIONS.index(s) for s in sections)]
    node = jobfile.read(text)
    wanted = ["unit", *(FIELDS[s] for s in before if s in FIELDS)]
    wanted += ["name", "remarks"] if "job" not in sections else []
    pairs = [(n, v.raw) for n, v in node.items if n in wanted]
    if "job" in sections:
        pairs.append(("name", '"New yard"'))
    if "field_book" not in wanted:
        pairs.append(("field_book", "()"))
    return "(\n" + "".join(f"    {n}: {v},\n" for n, v in pairs) + ")\n"


def save(window, path):
    """Ctrl+S; the first time it asks for a name."""
    stamp = lambda: path.stat().st_mtime_ns if path.exists() else None
    before = stamp()
    window.key("ctrl+s")
    seen = lambda: stamp() != before or any(w.startswith("slip:") for w in window.places)
    window.until("saved, or asked for a name", seen, 30)
    if stamp() != before:
        return
    window.until("the slip lies still", lambda: window.same > 1, 30)
    slip = next(w for w in window.places if w.startswith("slip:"))
    if slip != f"slip: {path}":
        window.key("ctrl+a")
        window.write(str(path))
        window.until("the name of the file", lambda: window.has(f"slip: {path}"), 30)
    window.key("Return")
    window.until(f"{path} is written", path.exists, 30)


def compared(brimline, job, saved, wanted_sections):
    """Prints what differs; true if nothing does."""
    wanted, found = (jobfile.tree(jobfile.read(p.read_text())) for p in (job, saved))
    differs, count = jobfile.differences(wanted, found)
    if wanted_sections != SECTIONS:
        roots = [FIELDS[s] for s in wanted_sections if s in FIELDS]
        roots += ["name", "remarks"] if "job" in wanted_sections else []
        pairs = [jobfile.differences(wanted.get(r), found.get(r), r) for r in roots]
        differs, count = sum((p[0] for p in pairs), []), sum(p[1] for p in pairs)
    for line in differs:
        print(f"differs: {line}")
    print(f"{count} fields compared, {len(differs)} differences", flush=True)
    if wanted_sections != SECTIONS:
        return not differs and count > 0
    good = not differs
    for page in FIGURES:
        arguments = ["--backsight", "gatepost=5.12"] if page == "stakes" else []
        pair = []
        for path in (job, saved):
            run = subprocess.run([brimline, page, path, "--json", *arguments], capture_output=True, text=True)
            # How long a search took is measured, not reckoned.
            said = re.sub(r'"millis":\s*[0-9.e-]+', '"millis":0', run.stdout.replace(str(path), "JOB"))
            pair.append((run.returncode, said))
        equal = pair[0] == pair[1] and pair[0][1] != ""
        length = len(pair[0][1])
        try:
            json.loads(pair[0][1])
        except ValueError:
            equal = False
        print(f"{page} --json: {'equal' if equal else 'NOT equal'}, {length} characters", flush=True)
        good &= equal
    return good


def main():
    words = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    words.add_argument("--brimline", type=Path, default=ROOT / "target/debug/brimline")
    words.add_argument("--job", type=Path, default=ROOT / "surveys/demo.ron", help="the job to type")
    words.add_argument("--sections", default=",".join(SECTIONS))
    words.add_argument("--from", dest="begin", type=Path, help="a part-made job to begin with")
    words.add_argument("--out", type=Path, default=Path("/tmp/brimline-typed"))
    asked = words.parse_args()
    jobfile.read_tables(ROOT / "surveys/README.md")
    text = asked.job.read_text()
    job = jobfile.tree(jobfile.read(text))
    sections = asked.sections.split(",")
    out = asked.out.resolve()
    out.mkdir(parents=True, exist_ok=True)
    saved = out / "typed.ron"
    saved.unlink(missing_ok=True)
    begin = None
    if asked.begin or sections != SECTIONS:
        begin = out / "begun.ron"
        begin.write_text(asked.begin.read_text() if asked.begin else part_made(text, sections))
        saved = begin
    start = time.monotonic()
    brimline = str(asked.brimline.resolve())
    window = Window(brimline, out / "home", [begin] if begin else [])
    try:
        typist = Typist(window, job)
        if begin is None:
            empty = lambda: not any(w.startswith("cell: field_book.benchmarks") for w in window.places)
            window.press("button: New", lambda: window.page == "Notes" and empty(), "an empty job", 30)
            window.picture("empty")
        for section in sections:
            window.step_back(YARD)
            since, keys, presses = time.monotonic(), window.keys, window.presses
            getattr(typist, f"do_{section}")()
            save(window, saved)
            window.picture(section)
            print(
                f"{section}: {time.monotonic() - since:.0f} s, {window.keys - keys} keys, "
                f"{window.presses - presses} presses",
                flush=True,
            )
    except BaseException:
        if window.app.poll() is None:
            window.picture("stopped")
        raise
    finally:
        window.close()
    worst = sorted(window.waits, reverse=True)[:8]
    print("longest waits: " + "; ".join(f"{t:.1f} s {what}" for t, what in worst))
    print(
        f"{time.monotonic() - start:.0f} s, {window.keys} keys, {window.presses} presses, "
        f"{window.notches} notches of the wheel, {window.again} times once more, {window.frames} frames"
    )
    good = compared(brimline, asked.job, saved, sections)
    print("all equal" if good else "NOT equal")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
