"""How fast the record is, as ratios within one run on one machine.

Run it alone: `python tests/benchmarks/bench_record.py`. It prints a table and asserts nothing.
"""

from __future__ import annotations

import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import chain
from pathlib import Path

from holeschedule.record.drawn import Change, HoleAsDrawn, Import, Revision
from holeschedule.record.events import EntryDraft, Request, read_numbers
from holeschedule.record.needs import HoleNeeds, PartNeeds
from holeschedule.record.ready import progress, ready_work
from holeschedule.record.routes import Drawn, Operation, Treatment
from holeschedule.record.store import Record, open_record
from holeschedule.selection import Pick

ROUTE = [Operation.MATCH_DRILL, Operation.DEBURR, Operation.DIMPLE, Operation.RIVET]
ROWS = ["A", "B", "C", "D", "E"]
PART_HOLES = 500


def median_seconds(work: Callable[[], object], times: int = 5) -> float:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return statistics.median(found)


def in_turn(
    ours: Callable[[], object], theirs: Callable[[], object], times: int = 9
) -> tuple[float, float]:
    """Medians of both, measured alternately, so that a busy disk slows both alike."""
    found: tuple[list[float], list[float]] = ([], [])
    for _ in range(times):
        for work, seconds in zip((ours, theirs), found, strict=True):
            seconds.append(median_seconds(work, 1))
    return statistics.median(found[0]), statistics.median(found[1])


def labels_of_part() -> list[str]:
    return [f"{row}{place}" for row in ROWS for place in range(1, PART_HOLES // len(ROWS) + 1)]


def new_build(path: Path, parts: int) -> tuple[Record, dict[str, PartNeeds]]:
    names = [f"P-{number}" for number in range(1, parts + 1)]
    holes = tuple(
        HoleAsDrawn(Change.ADD, label, float(place), 0.5, 0.098, Drawn.PILOT)
        for place, label in enumerate(labels_of_part())
    )
    imports = tuple(Import(Revision(name, "A", "p.dxf", "0" * 64), holes) for name in names)
    need = PartNeeds(
        holes=HoleNeeds(Treatment.DIMPLE, pilot_drill="#40", final_drill="#30", rivet="1/8")
    )
    needs = dict.fromkeys(names, need)
    record = open_record(path, create=True)
    record.append(EntryDraft("import", "bench", imports=imports), needs)
    return record, needs


def work_through(record: Record, needs: dict[str, PartNeeds], events: int, run: int) -> int:
    """Mark `run` holes an entry, riveting and drilling out in turn, up to so many hole events."""
    labels, made = labels_of_part(), 0
    cycle = [*map(str, ROUTE), *["drill out", "rivet"] * 20]
    for what in cycle:
        for part in needs:
            for start in range(0, len(labels), run):
                picks = tuple(Pick(part, 1, label) for label in labels[start : start + run])
                draft = EntryDraft("mark", "bench", (Request(what, picks),))
                record.append(draft, needs)
                made += len(picks)
                if made >= events:
                    return made
    return made


# Bulk events -----------------------------------------------------------------------------------

BARE = """CREATE TABLE event (entry INTEGER, place INTEGER, part TEXT, copy INTEGER, label TEXT,
 what TEXT, at TEXT, who TEXT, PRIMARY KEY (entry, place)) WITHOUT ROWID"""


def bulk(folder: Path, entry_holes: int, step: int) -> tuple[float, float]:
    """Seconds for ours and for a bare executemany: every `step`th hole of as many parts as fit."""
    parts = -(-entry_holes * step // PART_HOLES)
    record, needs = new_build(folder / f"ours-{entry_holes}-{step}", parts)
    picks = tuple(Pick(part, 1, label) for part in needs for label in labels_of_part()[::step])
    operations = iter([*map(str, ROUTE), *["drill out", "rivet"] * 20])

    def ours() -> None:
        draft = EntryDraft("mark", "bench", (Request(next(operations), picks),))
        assert record.append(draft, needs).entry is not None

    bare = sqlite3.connect(folder / f"bare-{entry_holes}-{step}", isolation_level=None)
    bare.execute("PRAGMA synchronous = EXTRA")
    bare.execute(BARE)
    numbers = iter(range(1, 1000))

    def theirs() -> None:
        entry = next(numbers)
        bare.execute("BEGIN IMMEDIATE")
        bare.executemany(
            "INSERT INTO event VALUES (?,?,?,?,?,?,?,?)",
            [
                (entry, n, *pick, "deburr", "2026-03-05T08:00:00+01:00", "bench")
                for n, pick in enumerate(picks)
            ],
        )
        bare.execute("COMMIT")

    return in_turn(ours, theirs)


# State -----------------------------------------------------------------------------------------


def state(folder: Path, parts: int, events: int, run: int) -> tuple[float, float]:
    """Seconds for the state of every hole, ours and by a plain dict over a cursor."""
    path = folder / f"state-{parts}-{events}-{run}"
    record, needs = new_build(path, parts)
    # filling it durably, entry by entry, is not what is measured here
    record._db.execute("PRAGMA synchronous = OFF")
    made = work_through(record, needs, events, run)
    plain = sqlite3.connect(":memory:")
    plain.execute("CREATE TABLE event (part TEXT, label TEXT, what TEXT)")
    labels = labels_of_part()
    for _, event in record.events():
        held = chain.from_iterable(read_numbers(event.holes))
        rows = [(event.part, labels[number - 1], event.what) for number in held]
        plain.executemany("INSERT INTO event VALUES (?,?,?)", rows)
    record.close()

    def ours() -> None:
        with open_record(path) as opened:
            found = {
                (name, label): part.hole(1, label)
                for name, part in opened.states().items()
                for label in part.numbers
            }
        assert len(found) == parts * PART_HOLES

    def theirs() -> None:
        found = {}
        for part, label, what in plain.execute("SELECT part, label, what FROM event"):
            found[part, label] = what
        assert len(found) == min(made, parts * PART_HOLES)

    return in_turn(ours, theirs)


# A large build ---------------------------------------------------------------------------------


def large(folder: Path) -> list[tuple[str, float]]:
    """Seconds for each question to a build of 50,000 holes and 300,000 events."""
    path = folder / "large"
    record, needs = new_build(path, 100)
    record._db.execute("PRAGMA synchronous = OFF")
    work_through(record, needs, 300_000, 10)
    record.close()
    with open_record(path) as opened:
        states = opened.states()
        row = tuple(Pick("P-50", 1, f"C{place}") for place in range(3, 10))
        whats = iter(["drill out", "rivet"] * 20)

        def mark() -> None:
            request = Request(next(whats), row)
            assert opened.append(EntryDraft("mark", "bench", (request,)), needs).plans

        return [
            ("states of all", median_seconds(opened.states)),
            ("states of one part", median_seconds(lambda: opened.states("P-50"))),
            ("next, from states", median_seconds(lambda: ready_work(states, needs))),
            ("status, from states", median_seconds(lambda: progress(states, needs))),
            ("history of a hole", median_seconds(lambda: opened.entries(part="P-50", label="C3"))),
            ("mark of one row", median_seconds(mark, 15)),
            ("verify", median_seconds(opened.verify, 1)),
            ("rebuild", median_seconds(opened.rebuild, 1)),
        ]


def process(code: str, *arguments: str) -> float:
    command = [sys.executable, "-c", code, *arguments]
    return median_seconds(lambda: subprocess.run(command, check=True), 15)


MARK = """
import sys, click, sqlite3
from pathlib import Path
from holeschedule.record.events import EntryDraft, Request
from holeschedule.record.needs import PartNeeds
from holeschedule.record.store import open_record
from holeschedule.selection import parse_selection, pick_holes
with open_record(Path(sys.argv[1])) as record:
    labels = {name: list(part.numbers) for name, part in record.states("P-1").items()}
    picks = pick_holes(parse_selection("P-1:C3-C9"), labels, {})
    draft = EntryDraft("mark", "bench", (Request("match-drill", picks),))
    record.append(draft, {"P-1": PartNeeds()})
"""
READ = MARK.replace('"match-drill"', '"drill"')  # everything is done already: nothing is written


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        print(f"{'work':64} {'ours':>9} {'other':>9} ratio  budget")
        for holes, step in ((100, 1), (1000, 1), (10_000, 1), (1000, 2), (10_000, 2)):
            what = "one run a row" if step == 1 else "every second hole, no runs"
            line = f"an entry of {holes} holes ({what}) against bare executemany"
            show(line, *bulk(folder, holes, step), "1.5")
        for run in (10, 1):
            line = f"state of 10,000 holes, 100,000 events ({run} an entry) against a dict"
            show(line, *state(folder, 20, 100_000, run), "0.75")
        record, _ = new_build(folder / "small", 1)
        record.close()
        bare = process("import click, sqlite3")
        show(
            "mark of a row, process, nothing left to write, against imports",
            process(READ, str(folder / "small")),
            bare,
            "1.15",
        )
        show(
            "mark of a row, process, durable, against imports",
            process(MARK, str(folder / "small")),
            bare,
            "1.15",
        )
        print("\n50,000 holes, 300,000 events")
        for what, seconds in large(folder):
            print(f"{what:64} {seconds * 1000:7.1f} ms")


def show(what: str, ours: float, other: float, budget: str) -> None:
    print(f"{what:64} {ours * 1000:6.1f} ms {other * 1000:6.1f} ms {ours / other:5.2f}  {budget}")


if __name__ == "__main__":
    main()
