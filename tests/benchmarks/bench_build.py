"""`mark`, `status` and `next` on the demo build, and starting, against `import click, sqlite3`.

Run: python -m tests.benchmarks.bench_build
"""

import compileall
import contextlib
import io
import itertools
import os
import tempfile
from pathlib import Path

import holeschedule
from holeschedule.cli import run
from tests.benchmarks.processes import Command, table, time_ratio

PLAIN = Command("plain", ("-c", "import click, sqlite3"))
_RUN = "import sys; from holeschedule.cli import run; sys.exit(run(sys.argv[1:]))"
REPEATS = 31


def demo_build(folder):
    """The demo build, its compiled modules in place as an installation has them."""
    compileall.compile_dir(Path(holeschedule.__file__).parent, quiet=1)
    with contextlib.redirect_stdout(io.StringIO()):
        run(["demo", "--keep", str(folder / "demo")])
    return folder / "demo" / "bay"


class Marking(Command):
    """Marks a row, and takes it back, in turn: each run writes."""

    words = itertools.cycle((("mark", "FL-102-L:C", "deburr"), ("undo",)))

    @property
    def arguments(self):
        return "-c", _RUN, *next(self.words)

    def __init__(self):
        object.__setattr__(self, "name", "mark")


def main():
    os.environ.setdefault("HOLESCHEDULE_BY", "bench")
    rows = []
    with tempfile.TemporaryDirectory() as name:
        build = demo_build(Path(name))
        with contextlib.chdir(build):
            for words, budget in (
                (("mark", "FL-105:A", "deburr"), "1.15"),
                (("status",), "1.5"),
                (("next",), "1.5"),
                (("--help",), "1.5"),
                (("--version",), "1.5"),
            ):
                ours = Command(words[0], ("-c", _RUN, *words))
                rows.append(row(f"`{' '.join(words)}`", ours, budget))
            rows.append(row("`mark` and `undo` in turn, on the disk", Marking(), ""))
    heads = ("demo build, whole process", "ours", "against", "ratio", "budget")
    print(table("Marking and looking", heads, rows))


def row(what, ours, budget):
    a, b, ratio = time_ratio(ours, PLAIN, REPEATS)
    return what, f"{a:.3f} s", f"{b:.3f} s", f"{ratio:.2f}", f"≤ {budget}" if budget else ""


if __name__ == "__main__":
    main()
