"""The checklist: writing 10,000 holes, and reading them back.

Run: python -m tests.benchmarks.bench_checklist
"""

import io
import statistics
import tempfile
import time
from pathlib import Path

import openpyxl
import xlsxwriter

from holeschedule.units import LengthUnit
from holeschedule.views.checklist import (
    Checklist,
    HoleRow,
    Key,
    PartList,
    findings_table,
    part_operations_table,
    progress_table,
    tools_table,
)
from holeschedule.views.checklist_read import read_checklist
from holeschedule.views.checklist_write import workbook_bytes
from tests.benchmarks.processes import table

HOLES = 10_000
BUDGETS = {"write": "≤ 2.0", "read": "≤ 1.3"}
DONE = ("-", "2026-03-05", "", "-", "-", "")


def large_checklist():
    """One part of 10,000 holes, 13 columns on its sheet."""
    rows = tuple(
        HoleRow(1, f"A{n}", n * 0.75, 1.25, 0.098, "#40", "3/32", 0.25, 2.667, "ok", DONE)
        for n in range(1, HOLES + 1)
    )
    part = PartList(Key("1f3a", 1, "9c0d", "P-1", "r1"), "2024-T3", LengthUnit.INCH, 1, rows)
    return Checklist(
        "bench", "2026-03-05", Key("1f3a", 1, "9c0d"), LengthUnit.INCH, (part,),
        progress_table([]), part_operations_table([]), findings_table([]), tools_table([]), (),
    )  # fmt: skip


def plain_workbook(rows, columns):
    """The same rows by XlsxWriter alone, a format a column."""
    content = io.BytesIO()
    with xlsxwriter.Workbook(content, {"in_memory": True}) as book:
        sheet = book.add_worksheet("P-1")
        formats = [book.add_format({"border": 1, "font_size": 10}) for _ in range(columns)]
        for row, values in enumerate(rows):
            for column, value in enumerate(values):
                sheet.write(row, column, value, formats[column])
    return content.getvalue()


def read_values(path):
    """Every value of the workbook, as openpyxl reads them quickest."""
    book = openpyxl.load_workbook(path, read_only=True)
    rows = sum(1 for sheet in book.worksheets for _ in sheet.iter_rows(values_only=True))
    book.close()
    return rows


def ratio_in_turn(ours, base, times=7):
    """(median processor seconds of ours, of base, of their ratios), in turn."""
    ours(), base()
    pairs = [(seconds_of(ours), seconds_of(base)) for _ in range(times)]
    return tuple(
        statistics.median(values) for values in zip(*((a, b, a / b) for a, b in pairs), strict=True)
    )


def seconds_of(work):
    start = time.process_time()
    work()
    return time.process_time() - start


def main():
    listed = large_checklist()
    rows, columns = listed.parts[0].table().rows, len(listed.parts[0].table().columns)
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "bay.xlsx"
        path.write_bytes(workbook_bytes(listed))
        found = [
            (
                "write",
                "write, against XlsxWriter writing the same",
                *ratio_in_turn(
                    lambda: workbook_bytes(listed),
                    lambda: plain_workbook(rows, columns),
                ),
            ),
            (
                "read",
                "read back, against openpyxl's read-only values",
                *ratio_in_turn(lambda: read_checklist(path), lambda: read_values(path)),
            ),
        ]
    cells = [
        (what, f"{a:.2f} s", f"{b:.2f} s", f"{ratio:.2f}", BUDGETS[kind])
        for kind, what, a, b, ratio in found
    ]
    heads = ("work", "ours", "against", "ratio", "budget")
    print(table(f"A checklist of {HOLES:,} styled rows of {columns} columns", heads, cells))


if __name__ == "__main__":
    main()
