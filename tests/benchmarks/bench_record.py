"""The record: recording in bulk, and the state of many holes.

Run: python -m tests.benchmarks.bench_record
"""

import sqlite3
import statistics
import tempfile
import time
from itertools import chain
from pathlib import Path

from holeschedule.operations import Treatment
from holeschedule.record.drawn import Change, HoleAsDrawn, Import, Revision
from holeschedule.record.events import EntryDraft, Request, read_numbers
from holeschedule.record.needs import HoleNeeds, PartNeeds
from holeschedule.record.routes import Drawn
from holeschedule.record.store import open_record
from holeschedule.selection import Pick
from tests.benchmarks.processes import table

BUDGETS = {"bulk": "≤ 1.5", "state": "≤ 0.75", "none": "–"}
PART_HOLES = 500
LABELS = [f"{row}{place}" for row in "ABCDE" for place in range(1, PART_HOLES // 5 + 1)]
# what a part's holes go through, and then over and over, so that there is always work to record
CYCLE = ["match-drill", "deburr", "dimple", "rivet", *["drill out", "rivet"] * 100]


def seconds_of(work):
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def ratio_in_turn(ours, base, times=9):
    """(median of ours, of base, of their ratios), in turn, as a busy disk slows both alike."""
    ours(), base()
    pairs = [(seconds_of(ours), seconds_of(base)) for _ in range(times)]
    return (
        statistics.median(a for a, _ in pairs),
        statistics.median(b for _, b in pairs),
        statistics.median(a / b for a, b in pairs),
    )


def new_build(path, parts):
    """A record of so many parts of 500 pilots each, and what they need."""
    names = [f"P-{number}" for number in range(1, parts + 1)]
    holes = tuple(
        HoleAsDrawn(Change.ADD, label, float(place), 0.5, 0.098, Drawn.PILOT)
        for place, label in enumerate(LABELS)
    )
    imports = tuple(Import(Revision(name, "A", "p.dxf", "0" * 64), holes) for name in names)
    dimpled = HoleNeeds(Treatment.DIMPLE, pilot_drill="#40", final_drill="#30", rivet="1/8")
    needs = dict.fromkeys(names, PartNeeds(holes=dimpled))
    record = open_record(path, create=True)
    record.append(EntryDraft("import", "bench", imports=imports), needs)
    return record, needs


def record_work(record, needs, events, holes_an_entry):
    """Record so many events of one hole each, in entries of so many holes."""
    record._db.execute("PRAGMA synchronous = OFF")  # filling is not what is measured
    made = 0
    for what in CYCLE:
        for part in needs:
            for start in range(0, PART_HOLES, holes_an_entry):
                chosen = LABELS[start : start + holes_an_entry]
                picks = tuple(Pick(part, 1, label) for label in chosen)
                record.append(EntryDraft("mark", "bench", (Request(what, picks),)), needs)
                made += len(picks)
                if made >= events:
                    return made
    return made


# Bulk events -----------------------------------------------------------------------------------

BARE = """CREATE TABLE event (entry INTEGER, place INTEGER, part TEXT, copy INTEGER, label TEXT,
 what TEXT, at TEXT, who TEXT, PRIMARY KEY (entry, place)) WITHOUT ROWID"""


def bulk(folder, holes, step):
    """One entry of `holes` holes, every `step`th of its parts, judged, chained and durable.

    Against `executemany` of a row a hole in one transaction, durable as well, nothing judged.
    """
    record, needs = new_build(folder / f"ours-{holes}-{step}", -(-holes * step // PART_HOLES))
    picks = [Pick(part, 1, label) for part in needs for label in LABELS[::step]][:holes]
    whats, numbers = iter(CYCLE), iter(range(1, 1000))
    bare = sqlite3.connect(folder / f"bare-{holes}-{step}", isolation_level=None)
    bare.execute("PRAGMA synchronous = EXTRA")
    bare.execute(BARE)

    def ours():
        draft = EntryDraft("mark", "bench", (Request(next(whats), tuple(picks)),))
        if record.append(draft, needs).entry is None:
            raise RuntimeError("nothing was recorded")

    def base():
        entry = next(numbers)
        bare.execute("BEGIN IMMEDIATE")
        bare.executemany(
            "INSERT INTO event VALUES (?,?,?,?,?,?,?,?)",
            [
                (entry, place, *pick, "deburr", "2026-03-05T08:00:00+01:00", "bench")
                for place, pick in enumerate(picks)
            ],
        )
        bare.execute("COMMIT")

    found = ratio_in_turn(ours, base)
    record.close()
    bare.close()
    return found


# State -----------------------------------------------------------------------------------------


def state(folder, parts, events, holes_an_entry):
    """The state of every hole, from opening the file on, against a plain dict over a cursor."""
    path = folder / f"state-{holes_an_entry}"
    record, needs = new_build(path, parts)
    record_work(record, needs, events, holes_an_entry)
    plain = sqlite3.connect(folder / f"plain-{holes_an_entry}")
    plain.execute("CREATE TABLE event (part TEXT, label TEXT, what TEXT)")
    for _, event in record.events():
        held = chain.from_iterable(read_numbers(event.holes))
        rows = [(event.part, LABELS[number - 1], event.what) for number in held]
        plain.executemany("INSERT INTO event VALUES (?,?,?)", rows)
    plain.commit()
    record.close()

    def ours():
        with open_record(path) as opened:
            found = {
                (name, label): part.hole(1, label)
                for name, part in opened.states().items()
                for label in part.numbers
            }
        if len(found) != parts * PART_HOLES:
            raise RuntimeError("holes are missing")

    def base():
        found = {}
        for part, label, what in plain.execute("SELECT part, label, what FROM event"):
            found[part, label] = what

    found = ratio_in_turn(ours, base)
    plain.close()
    return found


def main():
    found = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for holes, step in ((10, 1), (100, 1), (1_000, 1), (10_000, 1), (10_000, 2)):
            what = f"an entry of {holes:,} holes" + (", every second one" if step > 1 else "")
            kind = "bulk" if holes >= 100 else "none"
            found.append((what, *bulk(folder, holes, step), kind))
        for size in (10, 1):
            what = f"state of 10,000 holes, 100,000 events, {size} an entry"
            found.append((what, *state(folder, 20, 100_000, size), "state"))
        cells = [
            (what, f"{a * 1000:.1f} ms", f"{b * 1000:.1f} ms", f"{r:.2f}", BUDGETS[kind])
            for what, a, b, r, kind in found
        ]
        print(table("The record", ("work", "ours", "against", "ratio", "budget"), cells))


if __name__ == "__main__":
    main()
