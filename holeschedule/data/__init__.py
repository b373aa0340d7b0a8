"""The packaged facts, and the one reader of them.

Each CSV file states its source row by row: `source` (the document) and `basis` (how far it was
seen, one of `BASES`). `rules/` holds the packaged rule sets, read by `audit.rules`.
"""

from __future__ import annotations

import csv
import difflib
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from holeschedule.errors import TableError

COMMON_PRACTICE = "common practice, no published source"
BASES = ("read", "secondary", "memory", COMMON_PRACTICE)
"""Seen in the document's own text; seen where it is quoted; recalled; a fact of the trade."""

FOLDER = Path(__file__).parent
_SOURCED = ("source", "basis", "note")


def choose_from(wanted: str, choices: Iterable[str], *, near: Iterable[str] = ()) -> str:
    """List the choices, sorted, and name the one that `wanted` was perhaps meant to be.

    `near` are further ways of writing a choice, to be offered but not listed.
    """
    listed = sorted(choices)
    text = f"choose from {', '.join(listed)}"
    close = difflib.get_close_matches(wanted, [*listed, *near], n=1)
    return f"{text} (did you mean {close[0]}?)" if close else text


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row of a table. `number` is its line in the file, the header being line 1."""

    file: str
    number: int
    cells: dict[str, str]

    def text(self, column: str) -> str:
        """Return the cell of `column`, which may not be empty.

        Raises
        ------
        TableError
            The cell is empty.
        """
        return self.cells[column] or self.refuse(f"{column} is empty")

    def value(self, column: str) -> float:
        """Read the number in `column`: finite and above 0.

        Raises
        ------
        TableError
            The cell holds anything else.
        """
        text = self.text(column)
        try:
            value = float(text)
        except ValueError:
            self.refuse(f"{column} is {text!r}, not a number")
        if not (math.isfinite(value) and value > 0):
            self.refuse(f"{column} is {text}; it has to be a finite number above 0")
        return value

    def optional_value(self, column: str) -> float | None:
        """Read the number in `column`, None where the cell is empty."""
        return self.value(column) if self.cells[column] else None

    def whole(self, column: str) -> int:
        """Read the whole number in `column`.

        Raises
        ------
        TableError
            The cell holds anything else.
        """
        value = self.value(column)
        if value != int(value):
            self.refuse(f"{column} is {self.cells[column]}, not a whole number")
        return int(value)

    def choice(self, column: str, choices: Sequence[str]) -> str:
        """Read the word in `column`, one of `choices`.

        Raises
        ------
        TableError
            The cell holds another word.
        """
        text = self.text(column)
        if text not in choices:
            self.refuse(f"{column} is {text!r}; {choose_from(text, choices)}")
        return text

    def refuse(self, what: str) -> NoReturn:
        """Say that this row is damaged."""
        raise TableError(
            f"{self.file}, row {self.number}: {what}. The packaged table is damaged:"
            " install the package again."
        )


def read_table(path: Path, columns: Sequence[str]) -> tuple[TableRow, ...]:
    """Every row of the table at `path`.

    Parameters
    ----------
    path : Path
        A CSV file with a header line.
    columns : sequence of str
        The columns it has to have, beside `source`, `basis` and `note`.

    Returns
    -------
    tuple of TableRow
        In the order of the file, at least one.

    Raises
    ------
    TableError
        The file cannot be read, has other columns or no row, or a row has too few or too many
        cells, or no source, or a basis that is none of `BASES`. Names file and row.
    """
    rows = tuple(_rows(path, [*columns, *_SOURCED]))
    if not rows:
        TableRow(path.name, 1, {}).refuse("there is no row below the header")
    for row in rows:
        row.text("source")
        row.choice("basis", BASES)
    return rows


def _rows(path: Path, columns: list[str]) -> Iterator[TableRow]:
    try:
        with path.open(encoding="utf-8", newline="") as file:
            lines = csv.reader(file, strict=True)
            header = next(lines, [])
            if header != columns:
                TableRow(path.name, 1, {}).refuse(
                    f"the columns are {', '.join(header) or 'none'}, not {', '.join(columns)}"
                )
            for cells in lines:
                row = TableRow(path.name, lines.line_num, {})
                if len(cells) != len(columns):
                    row.refuse(f"it has {len(cells)} cells, not {len(columns)}")
                yield TableRow(row.file, row.number, dict(zip(columns, cells, strict=True)))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise TableError(
            f"{path.name}: cannot be read ({error}). Install the package again."
        ) from error
