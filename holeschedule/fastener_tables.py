"""Facts of solid rivets as bought and as driven: lengths, standards, shop heads, strength.

Every value comes from a file in `data/`, which states source and basis row by row.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from holeschedule.data import FOLDER, TableRow, choose_from, read_table
from holeschedule.errors import TableError
from holeschedule.model import Head
from holeschedule.tables import drill_named, rivet_of_dash, value_named

# Lengths and designations ----------------------------------------------------------------------


class LengthRule(StrEnum):
    """Which length that is made is taken for the length needed."""

    NEAREST = "nearest"
    NEXT_ABOVE = "next above"


@dataclass(frozen=True, slots=True)
class RivetLength:
    """A length that rivets are made in. `dash` counts 16ths of an inch, `length` is in inches."""

    dash: float
    length: float
    is_half: bool
    source: str
    basis: str


@cache
def rivet_lengths(*, half_sizes: bool = False) -> tuple[RivetLength, ...]:
    """List the lengths that rivets are made in, the shortest first.

    Half sizes (odd 32nds) only where they are asked for.

    Raises
    ------
    TableError
        The packaged table is damaged.
    """
    lengths = (
        RivetLength(
            row.value("dash_length"),
            row.value("length"),
            row.choice("kind", ("full", "half")) == "half",
            row.text("source"),
            row.text("basis"),
        )
        for row in read_table(FOLDER / "rivet_lengths.csv", ["dash_length", "kind", "length"])
    )
    wanted = (length for length in lengths if half_sizes or not length.is_half)
    return tuple(sorted(wanted, key=lambda length: length.dash))


@cache
def rivet_standards() -> dict[str, Head]:
    """Standard numbers of solid rivets, and the head that each has; today's come first."""
    rows = read_table(FOLDER / "rivet_standards.csv", ["spec", "head"])
    return {row.text("spec"): Head(row.choice("head", list(Head))) for row in rows}


def standard_for(head: Head) -> str:
    """Tell the standard number of today's rivets with this head."""
    return next(spec for spec, its_head in rivet_standards().items() if its_head is head)


@cache
def rivet_alloys() -> dict[str, str]:
    """Letters of rivet alloys, and the alloy and temper that each stands for."""
    rows = read_table(FOLDER / "rivet_alloys.csv", ["code", "alloy"])
    return {row.text("code"): row.text("alloy") for row in rows}


# Shop heads ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Limits:
    """Least and most of one dimension [D]; `most` is None where none is stated."""

    least: float
    most: float | None
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class ShopHeadLimits:
    """How wide and high a shop head has to be. Equality is by value."""

    name: str
    width: Limits
    height: Limits


@cache
def _shop_heads() -> dict[str, dict[str, Limits]]:
    found: dict[str, dict[str, Limits]] = {}
    for row in read_table(FOLDER / "shop_heads.csv", ["limits", "dimension", "least", "most"]):
        dimension = row.choice("dimension", ("width", "height"))
        found.setdefault(row.text("limits"), {})[dimension] = _limits(row)
    return found


def _limits(row: TableRow) -> Limits:
    most = row.optional_value("most")
    return Limits(row.value("least"), most, row.text("source"), row.text("basis"))


def shop_head_names() -> tuple[str, ...]:
    """List the names of the shop head limits, sorted."""
    return tuple(sorted(_shop_heads()))


def shop_head_limits(name: str) -> ShopHeadLimits:
    """Look up the limits of shop heads called `name`.

    Raises
    ------
    TableError
        There are none; the message lists the names.
    """
    known = _shop_heads()
    if name not in known:
        raise TableError(f"there are no shop head limits {name!r}; {choose_from(name, known)}.")
    return ShopHeadLimits(name, known[name]["width"], known[name]["height"])


# Strength --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StrengthTable:
    """The rule behind one of the tables of rivets per inch of AC 43.13-1B.

    `shear_ratio` is the rivets' shear strength over the sheet's tensile strength, `bearing_ratio`
    the sheet's bearing strength over its tensile strength.
    """

    name: str
    sheet: str
    shear_ratio: float
    bearing_ratio: float
    source: str
    basis: str


@cache
def _strength_tables() -> dict[str, StrengthTable]:
    columns = ["table", "sheet", "shear_ratio", "bearing_ratio"]
    return {
        row.text("table"): StrengthTable(
            row.text("table"),
            row.text("sheet"),
            row.value("shear_ratio"),
            row.value("bearing_ratio"),
            row.text("source"),
            row.text("basis"),
        )
        for row in read_table(FOLDER / "strength_tables.csv", columns)
    }


def strength_table(name: str) -> StrengthTable:
    """Look up a table of AC 43.13-1B by its number, `4-9`, `4-10` or `4-11`.

    Raises
    ------
    TableError
        There is none; the message lists the numbers and the sheets they are for.
    """
    known = _strength_tables()
    if name not in known:
        tables = "; ".join(f"{table.name} ({table.sheet})" for table in known.values())
        raise TableError(f"there is no strength table {name!r}; choose from {tables}.")
    return known[name]


@dataclass(frozen=True, slots=True)
class SheetBearing:
    """Ultimate bearing strength of a sheet [ksi], for an edge distance of 2 D."""

    material: str
    stress: float
    source: str
    basis: str


@cache
def _sheet_bearings() -> dict[str, SheetBearing]:
    rows = read_table(FOLDER / "sheet_bearing.csv", ["material", "bearing"])
    return {
        row.text("material"): SheetBearing(
            row.text("material"), row.value("bearing"), row.text("source"), row.text("basis")
        )
        for row in rows
    }


def sheet_bearing(material: str) -> SheetBearing:
    """Look up the bearing strength of sheet of `material`, such as `2024-T3 clad`.

    Raises
    ------
    TableError
        None is known; the message lists the materials.
    """
    known = _sheet_bearings()
    if material not in known:
        choices = choose_from(material, known)
        raise TableError(f"no bearing strength is known for {material!r}; {choices}.")
    return known[material]


@dataclass(frozen=True, slots=True)
class SheetMaterial:
    """A sheet that the tables know. Equality is by value.

    `table` is that of rivets per inch, `bearing` the material under which its bearing strength
    stands; None where there is none.
    """

    alloy: str
    is_clad: bool
    table: str | None
    bearing: str | None
    source: str
    basis: str

    def __str__(self) -> str:
        return f"{self.alloy} {'clad' if self.is_clad else 'bare'}"


@cache
def sheet_materials() -> tuple[SheetMaterial, ...]:
    """List the sheets that the tables of strength are for.

    Raises
    ------
    TableError
        The packaged table is damaged.
    """
    return tuple(
        SheetMaterial(
            row.text("alloy"),
            row.choice("clad", ("no", "yes")) == "yes",
            row.cells["table"] or None,
            row.cells["bearing"] or None,
            row.text("source"),
            row.text("basis"),
        )
        for row in read_table(FOLDER / "sheet_materials.csv", ["alloy", "clad", "table", "bearing"])
    )


def sheet_material(words: str) -> SheetMaterial | None:
    """Find the sheet that a builder means; None where it is not known, or not one alone.

    Parameters
    ----------
    words : str
        In the builder's own words: "2024-T3", "5052-H32", "2024-T3 clad, 0.032". Without a word
        of cladding the sheet is taken as bare.

    Examples
    --------
    >>> str(sheet_material("clad 2024-T3 sheet"))
    '2024-T3 clad'
    """
    named = {alloy.upper() for alloy in _ALLOY.findall(words)}
    is_clad = "clad" in words.casefold()
    found = [
        sheet
        for sheet in sheet_materials()
        if sheet.is_clad is is_clad
        and any(alloy == sheet.alloy or alloy.startswith(f"{sheet.alloy}-") for alloy in named)
    ]
    return found[0] if len(named) == len(found) == 1 else None


_ALLOY = re.compile(r"\b[0-9]{4}(?:-[A-Z][0-9]+)?\b", re.IGNORECASE)
"""Four digits, and the temper where it is stated."""


@cache
def _strength_holes() -> dict[int, float]:
    rows = read_table(FOLDER / "rivet_holes.csv", ["dash", "use", "drill", "counts_as_final"])
    return {
        row.whole("dash"): drill_named(row.text("drill")).diameter
        for row in rows
        if row.text("use") == "strength"
    }


def strength_hole(dash: int) -> float:
    """Look up the hole [in] on which the strength of the rivet of `dash` 32nds is reckoned.

    Raises
    ------
    TableError
        No such rivet is made; the message lists those that are.
    """
    return _strength_holes()[rivet_of_dash(dash).dash]


def count_factor(place: str) -> float:
    """Look up the part of the tables' rivets that is enough: `single-lap`, `stringer`, `frame`.

    Raises
    ------
    TableError
        The place is another.
    """
    return value_named(f"count_factor.{place}").value
