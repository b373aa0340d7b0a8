"""The commands of a build as whole processes, against `import click, sqlite3`.

On the demo build, and on one of 50,000 holes and 300,000 events.
Run: python -m tests.benchmarks.bench_build
"""

import contextlib
import io
import itertools
import os
import tempfile
from pathlib import Path

from holeschedule.build.start import create_build
from holeschedule.cli import run
from holeschedule.operations import Treatment
from holeschedule.record.drawn import Change, HoleAsDrawn, Import, Revision
from holeschedule.record.events import EntryDraft, Request
from holeschedule.record.needs import HoleNeeds, PartNeeds
from holeschedule.record.routes import Drawn
from holeschedule.record.store import open_record
from holeschedule.selection import Pick
from tests.benchmarks.processes import Command, compile_package, table, time_ratio

PLAIN = Command("plain", ("-c", "import click, sqlite3"))
# what the script does that pip puts beside Python
_MAIN = "import sys; from holeschedule.__main__ import main; sys.exit(main())"
HEADS = ("work", "ours", "against", "ratio", "budget")
REPEATS = 31


def command(*words):
    return Command(" ".join(words), ("-c", _MAIN, *words))


class InTurn(Command):
    """Two commands that undo each other, in turn: each run has something to record."""

    def __init__(self, *commands):
        object.__setattr__(self, "name", commands[0].name)
        object.__setattr__(self, "_turns", itertools.cycle(commands))

    @property
    def arguments(self):
        return next(self._turns).arguments


def row(ours, budget="", title=""):
    a, b, ratio = time_ratio(ours, PLAIN, REPEATS)
    cells = f"{a * 1000:.0f} ms", f"{b * 1000:.0f} ms", f"{ratio:.2f}"
    return title or f"`{ours.name}`", *cells, f"≤ {budget}" if budget else "–"


# The demo build --------------------------------------------------------------------------------


def demo_build(folder):
    with contextlib.redirect_stdout(io.StringIO()):
        run(["demo", "--keep", str(folder / "demo")])
    return folder / "demo" / "bay"


def demo_rows():
    marking = InTurn(
        command("reject", "FL-102-L:C", "edge"), command("accept", "FL-102-L:C", "--note", "fine")
    )
    return [
        row(marking, "1.15", "`reject` and `accept` of a row, recorded"),
        row(command("mark", "FL-105:A", "deburr"), "1.15", "`mark` of a row that is done"),
        row(command("undo"), "", "`undo`, each of the one before"),
        *(row(command(word), "1.5") for word in ("status", "next", "--help", "--version")),
    ]


# A large build ---------------------------------------------------------------------------------

PARTS, HOLES = 100, 500
LETTERS = [a + b for a in ("", "A", "B") for b in "ABCDEFGHJKLMNPQRSTUVWYZ"]
WORK = ("match-drill", "deburr", "dimple", "rivet")
TURNS = ("drill out", "rivet")
PART = """
[[part]]
id = "{name}"
drawing = "p.dxf"
thickness = 0.032
head = "flush"
rivet = "1/8"
"""
SPECIAL = """finish = "prime"

[[part.holes]]
select = "B, D1-D9"
treatment = "plain"
"""


def rows_of(number):
    """Rows of a part, each as its labels: no two parts have rows of the same lengths."""
    first, length = 1 + number // 25, 12 + number % 25
    whole, rest = divmod(HOLES - first, length)
    lengths = [first, *[length] * whole, *([rest] if rest else [])]
    rows = zip(LETTERS, lengths, strict=False)
    return [[f"{letter}{place}" for place in range(1, n + 1)] for letter, n in rows]


def large_build(folder, events=300_000):
    """A build of 100 parts of 500 holes: a third done, a third half done, a third begun.

    The parts half done are primed, have rows in every state, and holes that are not dimpled. The
    parts that are done have been riveted and drilled out over and over, to fill up the number of
    events. An event is work on one hole; a command marks a row.
    """
    build = create_build(folder / "large")
    rows = {f"P-{number}": rows_of(number) for number in range(1, PARTS + 1)}
    with build.file.open("a", encoding="utf-8") as file:
        for number, name in enumerate(rows):
            file.write(PART.format(name=name) + (SPECIAL if number % 3 == 1 else ""))
    needs = dict.fromkeys(rows, PartNeeds(holes=HoleNeeds(Treatment.DIMPLE, drawn=Drawn.PILOT)))
    with open_record(build.record, create=True) as record:
        record._db.execute("PRAGMA synchronous = OFF")  # filling is not what is measured
        imports = tuple(map(drawing, rows, rows.values()))
        record.append(EntryDraft("import", "bench", imports=imports), needs)
        made = 0
        for name, labels, what in plan(rows):
            picks = tuple(Pick(name, 1, label) for label in labels)
            draft = EntryDraft(f"mark {what}", "bench", (Request(what, picks),))
            if record.append(draft, needs).entry is None:
                raise RuntimeError(f"{name}: {what} was not recorded")
            made += len(picks)
            if made >= events:
                return build.path
    raise RuntimeError("too few events")


def drawing(name, rows):
    holes = [
        HoleAsDrawn(Change.ADD, label, float(x), float(y), 0.098, Drawn.PILOT)
        for y, row in enumerate(rows)
        for x, label in enumerate(row)
    ]
    return Import(Revision(name, "1", "p.dxf", "0" * 64), tuple(holes))


def plan(rows):
    """Part, labels and operation, in the order of work; no label for the part as a whole."""
    thirds = [[(name, rows[name]) for name in list(rows)[start::3]] for start in range(3)]
    done, half, begun = thirds
    yield from ((name, ("",), "prime") for name, _ in half)
    for what in WORK:
        yield from ((name, row, what) for name, its in done for row in its)
    for reached, what in enumerate(WORK):
        for name, its in half:
            ahead = (row for place, row in enumerate(its) if place % 5 > reached)
            yield from ((name, row, what) for row in ahead if row[0][0] not in "BD")
    for what in WORK[:2]:
        yield from ((name, row, what) for name, its in begun for row in its)
    for what in TURNS * 100:
        yield from ((name, row, what) for name, its in done for row in its)


def large_rows():
    marking = InTurn(command("drill-out", "P-1:C3-C9"), command("mark", "P-1:C3-C9", "rivet"))
    return [
        row(marking, "1.15", "`drill-out` and `mark` of a row, recorded"),
        row(command("status"), "1.5"),
        row(command("next"), "1.5"),
        row(command("history", "P-50:C3")),
        row(command("verify")),
    ]


def main():
    os.environ.setdefault("HOLESCHEDULE_BY", "bench")
    compile_package()
    with tempfile.TemporaryDirectory() as name:
        with contextlib.chdir(demo_build(Path(name))):
            print(table("Marking and looking, on the demo build", HEADS, demo_rows()))
        with contextlib.chdir(large_build(Path(name))):
            print(table("The same with 50,000 holes and 300,000 events", HEADS, large_rows()))


if __name__ == "__main__":
    main()
