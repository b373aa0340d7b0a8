"""The ticks in a workbook: cells read as data, whatever program saved it; nothing is recorded here.

A workbook comes from anywhere: it is looked at as an archive first, and formulas are never
evaluated.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, NamedTuple

import openpyxl
from openpyxl.utils import get_column_letter

from holeschedule.build.folder import reason
from holeschedule.errors import ChecklistError
from holeschedule.operations import Operation, PartOperation
from holeschedule.views.checklist import (
    COPY,
    FORMAT,
    HOLE,
    NOTE,
    PIECE,
    Key,
    read_key,
)
from holeschedule.views.checklist_archive import BROKEN, check_archive
from holeschedule.views.checklist_ticks import Mark, read_mark

_MOST_ROWS = 1 << 20
_HEAD_WITHIN = 200
"""Rows among which the line of the checklist and the heads of the columns are looked for."""


class ReadRow(NamedTuple):
    """One row: its number, what it is about, and what stands in the columns of the operations.

    `name` is the text in the column hole or part, `copy` the number in the column copy, None
    where there is none. In `marks` None stands for an empty cell.
    """

    number: int
    name: str
    copy: int | None
    marks: tuple[Mark | None, ...]
    note: str


@dataclass(frozen=True, eq=False)
class ReadSheet:
    """A sheet of a checklist. Compared by identity.

    `operations` and `letters` (of the columns) are in step with the marks of each row.
    `has_copies` tells whether there is a column copy.
    """

    title: str
    key: Key
    operations: tuple[str, ...]
    letters: tuple[str, ...]
    has_copies: bool
    rows: tuple[ReadRow, ...]


def read_checklist(path: Path) -> tuple[ReadSheet, ...]:
    """Read every sheet of a workbook that belongs to a checklist and can be ticked.

    Raises
    ------
    ChecklistError
        It cannot be opened, is no workbook or damaged, unpacks to too much, or holds no checklist.
    """
    try:
        with path.open("rb") as file:
            check_archive(path, file)
            file.seek(0)
            sheets = tuple(_read_sheets(path, file))
    except OSError as error:
        raise ChecklistError(f"{path}: cannot be read ({reason(error)}).") from error
    if not sheets:
        raise ChecklistError(
            f"{path}: holds no checklist: no sheet has the line that begins with {FORMAT} above a"
            " table with columns hole or part and an operation. Collect what `checklist` wrote."
        )
    return sheets


# Sheets ----------------------------------------------------------------------------------------


def _read_sheets(path: Path, file: IO[bytes]) -> Iterator[ReadSheet]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library tells what it leaves out
        try:
            book = openpyxl.load_workbook(file, read_only=True, keep_links=False)
        except BROKEN as error:
            raise _damaged(path, "", error) from error
        try:
            sheets = [found for sheet in book.worksheets if (found := _read_sheet(path, sheet))]
        finally:
            book.close()
    yield from sheets


def _damaged(path: Path, sheet: str, error: Exception) -> ChecklistError:
    where = f", sheet {sheet}" if sheet else ""
    said = " ".join(str(error).split())[:80] or type(error).__name__
    return ChecklistError(f"{path}{where}: is damaged ({said}). Save it anew and collect that.")


def _read_sheet(path: Path, sheet: Any) -> ReadSheet | None:
    rows = _values(path, sheet)
    found = _find_table(rows)
    if found is None:
        return None
    key, layout = found
    return ReadSheet(
        str(sheet.title),
        key,
        tuple(name for name, _ in layout.work),
        tuple(get_column_letter(place + 1) for _, place in layout.work),
        layout.copy is not None,
        tuple(_read_rows(rows, layout)),
    )


def _values(path: Path, sheet: Any) -> Iterator[tuple[int, Sequence[Any]]]:
    """Rows with their numbers; what the sheet says of its own size is not believed."""
    try:
        sheet.reset_dimensions()
        for number, row in enumerate(sheet.iter_rows(values_only=True), 1):
            if number > _MOST_ROWS:
                raise ValueError(f"it has more than {_MOST_ROWS:,} rows")
            if row:
                yield number, row
    except BROKEN as error:
        raise _damaged(path, str(sheet.title), error) from error


class _Layout(NamedTuple):
    """Places of the columns that are read, 0 is the first; None where there is none."""

    name: int
    copy: int | None
    note: int | None
    work: tuple[tuple[str, int], ...]


def _find_table(rows: Iterator[tuple[int, Sequence[Any]]]) -> tuple[Key, _Layout] | None:
    """Find the line of the checklist and the heads below it; then `rows` stands behind them."""
    key: Key | None = None
    for number, row in rows:
        if number > _HEAD_WITHIN:
            return None
        if key is None:
            lines = (cell for cell in row if isinstance(cell, str) and FORMAT in cell)
            key = next((k for k in map(read_key, lines) if k is not None), None)
        elif (layout := _layout_of(row, of_part=bool(key.part))) is not None:
            return key, layout
    return None


def _layout_of(row: Sequence[Any], *, of_part: bool) -> _Layout | None:
    name_head = HOLE if of_part else PIECE
    operations = tuple(map(str, Operation if of_part else PartOperation))
    heads: dict[str, int] = {}
    for place, cell in enumerate(row):
        if isinstance(cell, str):
            heads.setdefault(" ".join(cell.casefold().split()), place)
    work = tuple((name, heads[name]) for name in operations if name in heads)
    if name_head not in heads or not work:
        return None
    return _Layout(heads[name_head], heads.get(COPY), heads.get(NOTE), work)


def _read_rows(rows: Iterable[tuple[int, Sequence[Any]]], layout: _Layout) -> Iterator[ReadRow]:
    known: dict[Any, Mark | None] = {}
    places = [place for _, place in layout.work]
    name_at, copy_at, note_at = layout.name, layout.copy, layout.note
    for number, row in rows:
        width = len(row)
        name = row[name_at] if name_at < width else None
        if name is None:
            name = ""
        marks = tuple([_mark(row[at], known) if at < width else None for at in places])
        note = row[note_at] if note_at is not None and note_at < width else None
        copy = row[copy_at] if copy_at is not None and copy_at < width else None
        yield ReadRow(
            number,
            name.strip() if isinstance(name, str) else str(name),
            _whole(copy),
            marks,
            "" if note is None else " ".join(str(note).split()),
        )


def _whole(value: Any) -> int | None:
    if isinstance(value, str):
        value = value.strip()
        return int(value) if value.isascii() and value.isdecimal() and len(value) < 5 else None
    is_near = isinstance(value, int | float) and abs(value) < 10_000
    return int(value) if is_near and int(value) == value else None


def _mark(value: Any, known: dict[Any, Mark | None]) -> Mark | None:
    if value is None:
        return None
    key = (value.__class__, value)
    try:
        if key not in known:
            known[key] = read_mark(value)
        return known[key]
    except TypeError:  # a formula over several cells cannot be looked up
        return read_mark(value)
