"""`holeschedule audit FILE.dxf` against `import ezdxf; ezdxf.readfile(FILE)`: time and memory.

Run: python -m tests.benchmarks.bench_audit
"""

import tempfile
from pathlib import Path

from tests.benchmarks.panels import rivet_panel, write_dxf
from tests.benchmarks.processes import (
    Command,
    compile_package,
    peak_memory,
    table,
    time_ratio,
)

BUDGETS = {"time": 1.25, "memory": 1.3}

_READ = "import sys, ezdxf; ezdxf.readfile(sys.argv[1])"


def commands(path):
    """Ours, and what it is held against."""
    ours = Command("audit", ("-m", "holeschedule", "audit", str(path)))
    return ours, Command("readfile", ("-c", _READ, str(path)))


def audit_memory(path):
    a, b = (peak_memory(command) for command in commands(path))
    return a, b, a / b


def main():
    compile_package()
    rows = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for holes in (1_000, 10_000):
            path = folder / f"panel-{holes}.dxf"
            write_dxf(rivet_panel(holes), path)
            a, b, ratio = time_ratio(*commands(path))
            what = f"audit, {holes:,} holes, time"
            rows.append((what, f"{a:.2f} s", f"{b:.2f} s", ratio, "time"))
        path = folder / "panel-100000.dxf"
        write_dxf(rivet_panel(100_000), path)
        a, b, ratio = audit_memory(path)
        rows.append(("audit, 100,000 holes, memory", f"{a:.0f} MB", f"{b:.0f} MB", ratio, "memory"))
    cells = [
        (what, ours, base, f"{ratio:.2f}", f"≤ {BUDGETS[kind]}")
        for what, ours, base, ratio, kind in rows
    ]
    heads = ("work", "ours", "against", "ratio", "budget")
    print(table("Whole processes", heads, cells))


if __name__ == "__main__":
    main()
