"""A checklist as a workbook, or as a folder of CSV files: there whole, or not at all."""

from __future__ import annotations

import io
import shutil
import tempfile
import textwrap
from datetime import date
from pathlib import Path
from typing import Any

import xlsxwriter

from holeschedule.build.folder import reason, write_whole
from holeschedule.errors import ChecklistError
from holeschedule.model import Verdict
from holeschedule.units import LengthUnit
from holeschedule.views.checklist import (
    DONE,
    NOT_NEEDED,
    TICKS,
    Checklist,
    Column,
    Kind,
    PartList,
    Table,
    Value,
)
from holeschedule.views.explain import CAUTION
from holeschedule.views.text import printable

PAPERS = {"letter": 1, "a4": 9}
"""Papers by name, and their number in a workbook."""

MOST_ROWS = 1_000_000
"""Holes on one sheet; a workbook ends at 1,048,576 rows."""
_MOST_CHARACTERS = 30_000
_TITLE_LENGTH = 31
_FONT = "Arial"
_HEAD_ROW = 3
_LINE = 130
"""Characters that fit a line across the overview."""
_ROW = 13.5
"""Points that a line of a cell takes, …"""
_TO_A_WIDTH = 1.15
"""… and letters of it that fit a unit of a column's width."""
_NUMBERS = {Kind.LENGTH, Kind.DIAMETER, Kind.RATIO, Kind.WEIGHT, Kind.COUNT}
_PLACES = {LengthUnit.INCH: ("0.000", "0.0000"), LengthUnit.MILLIMETRE: ("0.00", "0.00")}
_OFFERED = 4
"""Of the ticks there are, the validation of a cell names so many: its formula has to be short."""

HOW_TO = (
    "Tick in the column of the operation: x, ✓, yes, or the date it was done (2026-03-05).",
    "Empty: still to do. A date: done. Hatched: this hole does not need it.",
    "Read the ticks back with: holeschedule collect, and the name of this file. It shows what it"
    " would record, and asks.",
    "Sort, filter, add columns and sheets as you like. Leave the heads of the columns, the labels"
    " of the holes, and the lines that begin with holeschedule.checklist.",
    "A tick that is taken away takes nothing back: use holeschedule undo.",
    "x, y: centre of the hole on the drawing's own axes, from its origin (0, 0). e: from the centre"
    " to the nearest edge. D: diameter of the rivet.",
)
"""How to use a checklist, line by line."""


# Files -----------------------------------------------------------------------------------------


def write_checklist(path: Path, checklist: Checklist, paper: str = "", *, replace: bool) -> None:
    """Write a workbook, whole or not at all.

    Parameters
    ----------
    path : Path
        The file, ending in .xlsx.
    checklist : Checklist
        What is written.
    paper : str
        A name in `PAPERS`; by the unit of the build where empty.
    replace : bool
        Whether a file that is there may be replaced.

    Raises
    ------
    ChecklistError
        The name does not end in .xlsx, a file is there that may not be replaced or is open in
        another program, or a part has more holes than a sheet has rows.
    BuildError
        The file cannot be written.
    """
    if path.suffix.lower() != ".xlsx":
        raise ChecklistError(f"{path}: a checklist is a workbook; give it a name ending in .xlsx.")
    lock = lock_of(path)
    if lock is not None:
        raise ChecklistError(
            f"{path}: is open in another program ({lock.name} says so). Close it there, or delete"
            " that file if it was left over."
        )
    if path.exists() and not replace:
        raise ChecklistError(
            f"{path}: is there already, and may hold ticks. Collect it first, then say --replace,"
            " or name another file."
        )
    write_whole(path, workbook_bytes(checklist, paper))


def lock_of(path: Path) -> Path | None:
    """Find the file by which LibreOffice or Excel says that it has a workbook open."""
    beside = (path.with_name(f".~lock.{path.name}#"), path.with_name(f"~${path.name}"))
    return next((lock for lock in beside if lock.exists()), None)


def write_csv_folder(folder: Path, checklist: Checklist) -> tuple[str, ...]:
    """Write each table as a CSV file into a new folder; returns the names of the files.

    Raises
    ------
    ChecklistError
        Something is there already, or the folder cannot be written; nothing is left behind.
    """
    if folder.exists():
        raise ChecklistError(f"{folder}: is there already. Name a folder that is not.")
    files = {f"{table.name.replace(' ', '-')}.csv": table for table in checklist.tables()}
    beside: Path | None = None
    try:
        beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
        for name, table in files.items():
            (beside / name).write_text(table.to_csv(), encoding="utf-8", newline="")
        beside.chmod(0o755)
        beside.rename(folder)
    except OSError as error:
        raise ChecklistError(f"{folder}: cannot be written ({reason(error)}).") from error
    finally:
        if beside is not None and beside.exists():
            shutil.rmtree(beside, ignore_errors=True)
    return tuple(files)


# The workbook ----------------------------------------------------------------------------------


def workbook_bytes(checklist: Checklist, paper: str = "") -> bytes:
    """Return the workbook.

    Raises
    ------
    ChecklistError
        A part has more holes than a sheet has rows.
    """
    for part in checklist.parts:
        if len(part.rows) > MOST_ROWS:
            raise ChecklistError(
                f"{part.name}: {len(part.rows):,} holes are more than a sheet takes; choose at most"
                f" {MOST_ROWS:,}, as in {part.name}:A."
            )
    content = io.BytesIO()
    # nothing that a cell holds is taken for a formula, a link or a number
    options = {"in_memory": True} | {
        f"strings_to_{kind}": False for kind in ("formulas", "urls", "numbers")
    }
    with xlsxwriter.Workbook(content, options) as book:
        _Writing(book, checklist, paper).write()
    return content.getvalue()


class _Writing:
    """A workbook while it is being written; formats are made once and shared."""

    def __init__(self, book: Any, checklist: Checklist, paper: str) -> None:
        self._book = book
        self._checklist = checklist
        by_unit = "a4" if checklist.unit is LengthUnit.MILLIMETRE else "letter"
        self._paper = PAPERS[paper or by_unit]
        self._formats: dict[tuple[tuple[str, Any], ...], Any] = {}
        self._titles: set[str] = set()
        self._days: dict[str, int] = {}
        book.set_properties({"title": checklist.title, "comments": CAUTION})

    def write(self) -> None:
        listed = self._checklist
        self._overview()
        for part in listed.parts:
            self._part(part)
        self._table("part operations", listed.part_operations, listed.key.line)
        for table in (*listed.joint_tables(), listed.findings, listed.tools):
            self._table(table.name, table, CAUTION)

    # Sheets ------------------------------------------------------------------------------------

    def _sheet(self, title: str) -> Any:
        sheet = self._book.add_worksheet(self._free_title(title))
        sheet.set_landscape()
        sheet.set_paper(self._paper)
        sheet.set_margins(left=0.4, right=0.4, top=0.6, bottom=0.6)
        sheet.fit_to_pages(1, 0)
        name = self._checklist.title.replace("&", "&&")[:100]
        written = f"Written {self._checklist.written}"  # a digit would be read as a size
        sheet.set_header(f"&L&9{name}&C&11&A&R&9{written}")
        sheet.set_footer("&L&9&F&C&9For planning only; see the cautions.&R&9Page &P of &N")
        sheet.hide_gridlines(2)
        return sheet

    def _free_title(self, wanted: str) -> str:
        """A title that a sheet may have and no other has, as like `wanted` as can be."""
        plain = wanted.translate(dict.fromkeys(map(ord, "[]:*?/\\"), "-")).strip("'")
        title, number = plain[:_TITLE_LENGTH], 1
        while title.casefold() in self._titles or title.casefold() == "history":
            number += 1
            title = f"{plain[: _TITLE_LENGTH - 6]} ({number})"
        self._titles.add(title.casefold())
        return title

    def _overview(self) -> None:
        listed, sheet = self._checklist, self._sheet("overview")
        widths = [column.width for column in listed.progress.columns]
        for place in range(max(10, len(widths))):
            sheet.set_column(place, place, widths[place] if place < len(widths) else 12)
        self._heading(sheet, listed.title, f"Checklist, {listed.written}", listed.key.line)
        row = self._rows(sheet, _HEAD_ROW, listed.progress) + 1
        for head, lines in (
            ("Cautions", (CAUTION, *listed.cautions)),
            ("How to use it", HOW_TO),
        ):
            sheet.write_string(row, 0, head, self._format(bold=True, font_size=12))
            words = self._format(text_wrap=True, valign="top")
            for line in lines:
                row += 1
                sheet.merge_range(row, 0, row, 9, "", words)
                sheet.write_string(row, 0, _plain(line), words)
                sheet.set_row(row, _ROW * (1 + len(line) // _LINE))
            row += 2

    def _part(self, part: PartList) -> None:
        table, sheet = part.table(), self._sheet(part.name)
        self._heading(sheet, part.name, part.facts, part.key.line)
        self._columns(sheet, table)
        frozen = 2 if part.quantity > 1 else 1
        last = self._rows(sheet, _HEAD_ROW, table, part.unit) - 1
        self._finish(sheet, table, last, frozen)

    def _table(self, title: str, table: Table, under: str) -> None:
        sheet = self._sheet(title)
        self._heading(sheet, title.capitalize(), self._checklist.title, under)
        self._columns(sheet, table)
        last = self._rows(sheet, _HEAD_ROW, table, self._checklist.unit) - 1
        self._finish(sheet, table, last, 1)

    def _heading(self, sheet: Any, title: str, facts: str, under: str) -> None:
        sheet.set_row(0, 20)
        sheet.write_string(0, 0, _plain(title), self._format(bold=True, font_size=14))
        sheet.write_string(1, 0, _plain(facts), self._format())
        small = self._format(font_size=8, font_color="#595959")
        sheet.write_string(2, 0, _plain(under), small)

    def _columns(self, sheet: Any, table: Table) -> None:
        for place, column in enumerate(table.columns):
            sheet.set_column(place, place, column.width)

    def _finish(self, sheet: Any, table: Table, last: int, frozen: int) -> None:
        """What makes a table handy: frozen heads, filters, what may be ticked, what stands out."""
        sheet.freeze_panes(_HEAD_ROW + 1, frozen)
        sheet.repeat_rows(_HEAD_ROW)
        if last <= _HEAD_ROW:
            return
        sheet.autofilter(_HEAD_ROW, 0, last, len(table.columns) - 1)
        first = _HEAD_ROW + 1
        for place, column in enumerate(table.columns):
            if column.kind is Kind.WORK:
                self._tickable(sheet, column, (first, place, last, place))
            elif column.kind is Kind.VERDICT:
                self._outstanding(sheet, (first, place, last, place))

    def _tickable(self, sheet: Any, column: Column, where: tuple[int, int, int, int]) -> None:
        cell = xlsxwriter.utility.xl_rowcol_to_cell(where[0], where[1])
        words = ",".join(f'LOWER(TRIM({cell}))="{word}"' for word in TICKS[:_OFFERED])
        dated = f"AND(ISNUMBER({cell}),{cell}>36525,{cell}<TODAY()+1)"
        sheet.data_validation(
            *where,
            {
                "validate": "custom",
                "value": f"=OR({dated},{words})",
                "error_type": "warning",
                "error_title": "No tick",
                "error_message": "Write x, yes, or the date it was done, as 2026-03-05.",
                "input_title": str(column.name)[:32],
                "input_message": "x, yes, or the date it was done",
            },
        )
        done = self._book.add_format({"bold": True, "bg_color": "#D9EAD3"})
        sheet.conditional_format(
            *where,
            {"type": "formula", "criteria": f"=LEN(TRIM({cell}))>0", "format": done},
        )

    def _outstanding(self, sheet: Any, where: tuple[int, int, int, int]) -> None:
        """Verdicts that fail, white on black; tight in bold: told apart without colour too."""
        failing = self._book.add_format(
            {"bold": True, "font_color": "#FFFFFF", "bg_color": "#000000"}
        )
        tight = self._book.add_format({"bold": True, "italic": True})
        for verdict in Verdict:
            if verdict.fails or verdict is Verdict.TIGHT:
                chosen = failing if verdict.fails else tight
                rule = {"type": "cell", "criteria": "==", "value": f'"{verdict}"'}
                sheet.conditional_format(*where, rule | {"format": chosen})

    # Cells -------------------------------------------------------------------------------------

    def _rows(self, sheet: Any, row: int, table: Table, unit: LengthUnit = LengthUnit.INCH) -> int:
        """Write the heads at `row` and the rows below; returns the row after the last."""
        head = self._format(
            bold=True,
            border=1,
            bg_color="#D9D9D9",
            text_wrap=True,
            align="center",
            valign="vcenter",
        )
        sheet.set_row(row, 27)
        for place, column in enumerate(table.columns):
            sheet.write_string(row, place, column.title, head)
        formats = [self._cell_format(column.kind, unit) for column in table.columns]
        ways = [self._way(sheet, column) for column in table.columns]
        columns = list(zip(range(len(ways)), ways, formats, strict=True))
        words = [
            (place, max(int(column.width * _TO_A_WIDTH), 1))
            for place, column in enumerate(table.columns)
            if column.kind is Kind.WORDS
        ]
        for values in table.rows:
            row += 1
            lines = max((_lines(values[place], room) for place, room in words), default=1)
            if lines > 1:  # not every program makes a row as high as its words need
                sheet.set_row(row, _ROW * lines)
            for (place, way, form), value in zip(columns, values, strict=True):
                way(row, place, value, form)
        return row + 1

    def _way(self, sheet: Any, column: Column) -> Any:
        """How the values of a column are written."""
        if column.kind is Kind.WORK:
            return self._write_work(sheet)
        write, blank = sheet.write_number, sheet.write_blank
        if column.kind not in _NUMBERS:
            write = sheet.write_string

        def way(row: int, place: int, value: Value, form: Any) -> None:
            if value is None or value == "":
                blank(row, place, None, form)
            elif value.__class__ is str:
                write(row, place, _plain(value), form)
            else:
                write(row, place, value, form)

        return way

    def _write_work(self, sheet: Any) -> Any:
        number, text, blank = sheet.write_number, sheet.write_string, sheet.write_blank
        hatched = self._format(border=1, border_color="#808080", pattern=14, fg_color="#A6A6A6")
        days = self._days

        def way(row: int, place: int, value: str, form: Any) -> None:
            if value == "":
                blank(row, place, None, form)
            elif value == NOT_NEEDED:
                blank(row, place, None, hatched)
            elif value == DONE:
                text(row, place, value, form)
            else:
                if value not in days:
                    days[value] = (date.fromisoformat(value) - date(1899, 12, 30)).days
                number(row, place, days[value], form)

        return way

    def _cell_format(self, kind: Kind, unit: LengthUnit) -> Any:
        framed: dict[str, Any] = {"border": 1, "border_color": "#808080", "valign": "top"}
        length, diameter = _PLACES[unit]
        forms: dict[Kind, dict[str, Any]] = {
            Kind.LENGTH: {"num_format": length},
            Kind.DIAMETER: {"num_format": diameter},
            Kind.RATIO: {"num_format": "0.00"},
            Kind.WEIGHT: {"num_format": "0.0000"},
            Kind.COUNT: {"num_format": "0"},
            Kind.WORK: {"num_format": "yyyy-mm-dd", "align": "center"},
            Kind.WORDS: {"num_format": "@", "text_wrap": True, "align": "left", "indent": 1},
            Kind.TEXT: {"num_format": "@", "align": "left", "indent": 1},
            Kind.VERDICT: {"num_format": "@", "align": "center"},
            Kind.NOTE: {"num_format": "@"},
        }
        return self._format(**framed, **forms[kind])

    def _format(self, **how: Any) -> Any:
        key = tuple(sorted(how.items()))
        if key not in self._formats:
            usual = {"font_name": _FONT, "font_size": 10}
            self._formats[key] = self._book.add_format({**usual, **how})
        return self._formats[key]


def _lines(value: Value, room: int) -> int:
    """Lines that words take where `room` letters fit one."""
    text = str(value or "")
    return 1 if len(text) <= room else len(textwrap.wrap(text, room))


def _plain(text: str) -> str:
    """Text as a cell may hold it: printable, and not too long."""
    return text if text.isprintable() and len(text) < _MOST_CHARACTERS else _shortened(text)


def _shortened(text: str) -> str:
    shown = printable(text)
    return shown if len(shown) < _MOST_CHARACTERS else f"{shown[:_MOST_CHARACTERS]}…"
