"""`picture` of a part of 5,000 holes against `audit` of it, and the pages of the demo build.

Run: python -m tests.benchmarks.bench_picture
"""

import contextlib
import io
import tempfile
from pathlib import Path

from holeschedule.cli import run
from tests.benchmarks.panels import rivet_panel, write_dxf
from tests.benchmarks.processes import Command, compile_package, table, time_ratio

HOLES = 5_000
BUDGETS = {"svg": 2.0, "pdf": 2.5, "template": 8.0, "dxf": 3.0}
"""Times the audit of the same drawing, whole processes."""


def holeschedule(*arguments):
    return Command(arguments[0], ("-m", "holeschedule", *map(str, arguments)))


def main():
    compile_package()
    rows = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "panel.dxf"
        write_dxf(rivet_panel(HOLES), path)
        audit = holeschedule("audit", path)
        for what, command, budget in (
            ("picture, SVG", ("picture", path, folder / "out.svg"), "svg"),
            ("picture, PDF", ("picture", path, folder / "out.pdf"), "pdf"),
            ("picture, DXF", ("picture", path, folder / "out.dxf"), "dxf"),
            ("template on 168 sheets", ("template", path, folder / "t.pdf"), "template"),
        ):
            a, b, ratio = time_ratio(holeschedule(*command), audit, 3)
            rows.append((f"{what}, {HOLES:,} holes", f"{a:.2f} s", f"{b:.2f} s", f"{ratio:.2f}",
                         f"≤ {BUDGETS[budget]}"))  # fmt: skip
        with contextlib.redirect_stdout(io.StringIO()):
            run(["demo", "--keep", str(folder / "demo")])
        build = ("--build", folder / "demo" / "bay")
        a, b, ratio = time_ratio(
            holeschedule("report", folder / "r.html", *build), holeschedule("audit", *build), 3
        )
        rows.append(("report, demo build", f"{a:.2f} s", f"{b:.2f} s", f"{ratio:.2f}", "≤ 3"))
    heads = ("work, whole process", "ours", "audit of the same", "ratio", "budget")
    print(table("Pictures", heads, rows))


if __name__ == "__main__":
    main()
