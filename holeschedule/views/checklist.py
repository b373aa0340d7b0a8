"""The checklist: its tables and columns, one definition for those that write and read it.

Rows of plain values, no workbook here: `checklist_write` puts them into one, `checklist_read`
reads the ticks back, `Table.to_csv` and `Table.to_frame` hand them to other programs.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from holeschedule.errors import ChecklistError
from holeschedule.operations import Operation, PartOperation
from holeschedule.units import LengthUnit

if TYPE_CHECKING:
    import pandas as pd

FORMAT = "holeschedule.checklist/1"
"""Begins the line by which a sheet is known again."""

HOLE, COPY, PIECE, NOTE = "hole", "copy", "part", "note"
"""Heads of the columns that are read back, besides those of the operations."""

DONE, NOT_NEEDED, TO_DO = "yes", "-", ""
"""In the column of an operation: done without a date, not in the route, still to do."""

TICKS = ("x", "✓", "yes", "done", "✔", "☑", "y", "true", "1")
"""What ticks a cell, in any case; a date does as well."""

NO_TICKS = ("", "-", "–", "no", "n", "☐", "false", "0")
"""What leaves a cell unticked."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the start of a formula in a CSV file."""

Value = str | float | int | None


class Kind(StrEnum):
    """What a column holds; the writer picks form and width by it."""

    TEXT = "text"
    WORDS = "words"
    LENGTH = "length"
    DIAMETER = "diameter"
    RATIO = "ratio"
    WEIGHT = "weight"
    COUNT = "count"
    VERDICT = "verdict"
    WORK = "work"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name for programs, its head for people. `width` is in characters."""

    name: str
    kind: Kind = Kind.TEXT
    head: str = ""
    width: float = 9.0

    @property
    def title(self) -> str:
        """What stands above it."""
        return self.head or self.name


@dataclass(frozen=True, eq=False)
class Table:
    """A table of plain values; rows are as long as there are columns. Compared by identity."""

    name: str
    columns: tuple[Column, ...]
    rows: Sequence[Sequence[Value]]

    def to_csv(self) -> str:
        """Lines of comma-separated values under the names of the columns."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow([column.name for column in self.columns])
        writer.writerows([_csv_value(value) for value in row] for row in self.rows)
        return out.getvalue()

    def to_frame(self) -> pd.DataFrame:
        """Return the table as a pandas DataFrame; texts stay texts.

        Raises
        ------
        ChecklistError
            pandas is not installed.
        """
        try:
            import pandas as pd  # noqa: PLC0415 (only here, and optional)
        except ImportError as error:
            raise ChecklistError(
                "to_frame needs pandas, which is not installed. Install holeschedule[pandas]."
            ) from error
        names = [column.name for column in self.columns]
        return pd.DataFrame.from_records([tuple(row) for row in self.rows], columns=names)


def _csv_value(value: Value) -> Value:
    # a lone - says that an operation is not needed, and is no formula
    is_formula = isinstance(value, str) and value != NOT_NEEDED and value.startswith(_FORMULA)
    return f"'{value}" if is_formula else value


# What a sheet was written from -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Key:
    """What a sheet was written from. Equality is by value.

    `build` is the hash of the build's first entry, shortened; `entry` and `hash` the last entry
    then, 0 and empty where there was none. `part` and `revision` are empty but on the sheet of a
    part.
    """

    build: str
    entry: int
    hash: str
    part: str = ""
    revision: str = ""

    @property
    def line(self) -> str:
        """The line that a sheet carries.

        Examples
        --------
        >>> Key("1f3a", 12, "9c0d", "FL-101", "r1").line
        'holeschedule.checklist/1 build 1f3a entry 12 9c0d part FL-101 revision r1'
        """
        line = f"{FORMAT} build {self.build} entry {self.entry} {self.hash}"
        return f"{line} part {self.part} revision {self.revision}" if self.part else line


_HASH_DIGITS = 16


def shorten_hash(its_hash: str) -> str:
    """As many digits of a hash as a key has."""
    return its_hash[:_HASH_DIGITS]


def read_key(line: str) -> Key | None:
    """Read the line of a sheet; None where it is not one."""
    head, _, tail = line.strip().partition(" part ")
    words = head.split()
    if words[:2] != [FORMAT, "build"] or len(words) != 6 or words[3] != "entry":
        return None
    part, _, revision = tail.partition(" revision ")
    if not (words[4].isdecimal() and len(words[4]) < _HASH_DIGITS) or bool(part) != bool(revision):
        return None
    return Key(words[2], int(words[4]), words[5], part.strip(), revision.strip())


# Holes -----------------------------------------------------------------------------------------


class HoleRow(NamedTuple):
    """One hole of one copy of a part. Lengths are inches.

    `drawn` is None where no hole is drawn; edge distance and ratio are None there too. `work` has
    a text for each `Operation`: the date it was done, `DONE`, `TO_DO` or `NOT_NEEDED`.
    """

    copy: int
    label: str
    x: float
    y: float
    drawn: float | None
    final_drill: str
    rivet: str
    edge_distance: float | None
    edge_ratio: float | None
    verdict: str
    work: tuple[str, ...]
    remarks: str = ""


@dataclass(frozen=True, eq=False)
class PartList:
    """The holes of a part, copy by copy, for one sheet. Compared by identity.

    `facts` says what the part is made of and from; `unit` is the unit its lengths are shown in.
    """

    key: Key
    facts: str
    unit: LengthUnit
    quantity: int
    rows: tuple[HoleRow, ...]

    @property
    def name(self) -> str:
        """Id of the part."""
        return self.key.part

    def table(self) -> Table:
        """Return the table of its sheet: the operations that some hole needs, no empty columns."""
        needed = [
            place
            for place in range(len(Operation))
            if any(row.work[place] != NOT_NEEDED for row in self.rows)
        ]
        has_remarks = any(row.remarks for row in self.rows)
        columns = [
            *([Column(COPY, Kind.COUNT, width=5.5)] if self.quantity > 1 else []),
            *hole_columns(self.unit),
            *(_work_column(operation) for i, operation in enumerate(Operation) if i in needed),
            *([Column("remarks", Kind.WORDS, width=18)] if has_remarks else []),
            Column(NOTE, Kind.NOTE, width=20),
        ]
        rows = []
        for row in self.rows:
            values = _hole_values(row, self.unit)
            values += [row.work[place] for place in needed]
            values += [row.remarks, ""] if has_remarks else [""]
            rows.append([row.copy, *values] if self.quantity > 1 else values)
        return Table(self.name, tuple(columns), rows)


def hole_columns(unit: LengthUnit) -> list[Column]:
    """Columns that say which hole it is, where, and what it is to be."""
    return [
        Column(HOLE, width=6.5),
        Column("x", Kind.LENGTH, f"x [{unit}]"),
        Column("y", Kind.LENGTH, f"y [{unit}]"),
        Column("drawn", Kind.DIAMETER, f"drawn [{unit}]"),
        Column("final_drill", head="final drill", width=6.5),
        Column("rivet_size", head="rivet size", width=6.5),
        Column("edge_distance", Kind.LENGTH, f"e [{unit}]", 7.5),
        Column("edge_ratio", Kind.RATIO, "e/D", 6.0),
        Column("verdict", Kind.VERDICT, width=10.5),
    ]


def _work_column(operation: Operation | PartOperation) -> Column:
    return Column(str(operation), Kind.WORK, width=11.5)


def _hole_values(row: HoleRow, unit: LengthUnit) -> list[Value]:
    convert = unit.from_inches
    return [
        row.label,
        convert(row.x),
        convert(row.y),
        None if row.drawn is None else convert(row.drawn),
        row.final_drill,
        row.rivet,
        None if row.edge_distance is None else convert(row.edge_distance),
        row.edge_ratio,
        row.verdict,
    ]


def holes_table(parts: Iterable[PartList]) -> Table:
    """Every hole of every part in one table, with all operations."""
    columns = [Column(PIECE), Column(COPY), *hole_columns(LengthUnit.INCH)]
    columns += [_work_column(operation) for operation in Operation]
    columns += [Column("remarks"), Column("units")]
    rows = [
        [
            part.name,
            row.copy,
            *_hole_values(row, part.unit),
            *row.work,
            row.remarks,
            str(part.unit),
        ]
        for part in parts
        for row in part.rows
    ]
    return Table("holes", tuple(columns), rows)


# The other tables ------------------------------------------------------------------------------


def part_operations_table(rows: Sequence[tuple[str, tuple[str, ...]]]) -> Table:
    """Work on whole parts; each row a copy, `FL-107#2`, and a text for each `PartOperation`."""
    columns = (Column(PIECE, width=16), *map(_work_column, PartOperation), _NOTE)
    return Table("part operations", columns, [[piece, *work, ""] for piece, work in rows])


_NOTE = Column(NOTE, Kind.NOTE, width=30)


class FindingRow(NamedTuple):
    """A rule that is missed or only just met."""

    part: str
    hole: str
    verdict: str
    finding: str
    rule: str
    source: str


def findings_table(rows: Sequence[FindingRow]) -> Table:
    """Findings in words, each with its source."""
    columns = (
        Column(PIECE, width=12),
        Column(HOLE, Kind.WORDS, width=18),
        Column("verdict", Kind.VERDICT, width=12.5),
        Column("finding", Kind.WORDS, width=56),
        Column("rule", width=20),
        Column("source", Kind.WORDS, width=40),
    )
    return Table("findings", columns, rows)


class ToolRow(NamedTuple):
    """A tool that work which is left needs: `size` of drill, die, cutter or rivet."""

    operation: str
    tool: str
    size: str
    holes: int
    parts: str


def tools_table(rows: Sequence[ToolRow]) -> Table:
    """Return the tools that the work which is left needs."""
    columns = (
        Column("operation", width=14),
        Column("tool", width=24),
        Column("size", width=9),
        Column("holes", Kind.COUNT, "holes left", 9),
        Column("parts", Kind.WORDS, width=70),
    )
    return Table("tools", columns, rows)


class JointPlaceRow(NamedTuple):
    """One place of a joint. `grip` is inches; `layers` and `holes` head side first, as text."""

    joint: str
    place: int
    layers: str
    holes: str
    grip: float | None
    rivet: str
    treatments: str
    note: str = ""


def joints_table(rows: Sequence[JointPlaceRow], unit: LengthUnit) -> Table:
    """Return the places of all joints, `grip` in `unit`."""
    columns = (
        Column("joint", width=7),
        Column("place", Kind.COUNT, width=7),
        Column("layers", Kind.WORDS, width=30),
        Column("holes", Kind.WORDS, width=36),
        Column("grip", Kind.LENGTH, f"grip [{unit}]", 9),
        Column("rivet", width=18),
        Column("treatments", Kind.WORDS, width=26),
        Column("remarks", Kind.WORDS, width=22),
    )
    convert = unit.from_inches
    values = [[*row[:4], None if row.grip is None else convert(row.grip), *row[5:]] for row in rows]
    return Table("joints", columns, values)


class RivetRow(NamedTuple):
    """A line of the rivet schedule. `weight` is in pounds; None where it is not known.

    Spares, stock and what is to be bought are those of all joints together, None in the row of one.
    """

    joint: str
    designation: str
    counted: int
    spares: int | None = None
    total: int | None = None
    weight: float | None = None
    in_stock: int | None = None
    to_buy: int | None = None


def rivets_table(rows: Sequence[RivetRow]) -> Table:
    """Return the rivet schedule."""
    columns = (
        Column("joint", width=12),
        Column("designation", width=20),
        Column("count", Kind.COUNT),
        Column("spares", Kind.COUNT),
        Column("total", Kind.COUNT),
        Column("weight", Kind.WEIGHT, "weight [lb]", 12),
        Column("in_stock", Kind.COUNT, "in stock"),
        Column("to_buy", Kind.COUNT, "to buy"),
    )
    return Table("rivets", columns, rows)


def progress_table(rows: Sequence[tuple[str, int, int, tuple[str, ...]]]) -> Table:
    """How far parts are: part, copies, holes of each, and for each operation `12/40` or empty."""
    shown = [i for i in range(len(Operation)) if any(row[3][i] for row in rows)]
    columns = (
        Column(PIECE, width=14),
        Column("copies", Kind.COUNT, width=8),
        Column("holes", Kind.COUNT, width=8),
        *(Column(str(o), width=12) for i, o in enumerate(Operation) if i in shown),
    )
    return Table("progress", columns, [[*row[:3], *(row[3][i] for i in shown)] for row in rows])


@dataclass(frozen=True, eq=False)
class Checklist:
    """Everything a checklist holds. Compared by identity.

    `written` says when and after which entry. `progress` and the other tables are about the
    holes chosen. Without joints `joints` and `rivets` are empty, and their sheets left out.
    """

    title: str
    written: str
    key: Key
    unit: LengthUnit
    parts: tuple[PartList, ...]
    progress: Table
    part_operations: Table
    findings: Table
    tools: Table
    cautions: tuple[str, ...]
    joints: tuple[JointPlaceRow, ...] = ()
    rivets: tuple[RivetRow, ...] = ()

    def tables(self) -> tuple[Table, ...]:
        """Every table, for other programs; the holes of all parts in one."""
        return (
            holes_table(self.parts),
            self.part_operations,
            *self.joint_tables(),
            self.findings,
            self.tools,
            self.progress,
        )

    def joint_tables(self) -> tuple[Table, ...]:
        """Return the tables of joints and rivets, those that have a row."""
        found = (joints_table(self.joints, self.unit), rivets_table(self.rivets))
        return tuple(table for table in found if table.rows)
