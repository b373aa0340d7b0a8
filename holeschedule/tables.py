"""Facts of the trade: drills, rivets and the holes they go in, heads, sheets, layer words.

Every value comes from a file in `data/`, which states source and basis row by row. Nothing is
clamped or guessed: what no table answers is None or a `TableError`, as each function says.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from holeschedule.data import FOLDER, choose_from, read_table
from holeschedule.errors import LengthError, TableError
from holeschedule.model import Head, HoleSize, Role
from holeschedule.units import LengthUnit, parse_length

SLACK = 1e-9
"""Inches. A size exactly on a limit is within it, whatever a float makes of the sum."""


class DrillSeries(StrEnum):
    """How a drill is sized, in the order in which equal diameters are named."""

    FRACTION = "fraction"
    NUMBER = "number"
    LETTER = "letter"
    METRIC = "metric"


@dataclass(frozen=True, slots=True)
class Drill:
    """A twist drill. `diameter` [in]; `size` as it is stamped: `#40`, `F`, `3/32`, `2.5 mm`."""

    series: DrillSeries
    size: str
    diameter: float
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class RivetSize:
    """A solid rivet of one shank diameter. Equality is by value.

    `dash` counts 32nds of an inch. `final_diameters` [in], smallest first, are the holes it is
    driven in: its final drill, the size strength is reckoned on, and older practice.
    """

    dash: int
    name: str
    shank_diameter: float
    final_drill: Drill
    final_diameters: tuple[float, ...]
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class HeadSize:
    """The manufactured head of one rivet. `diameter` and `height` [in]; `spec` is its standard."""

    head: Head
    spec: str
    dash: int
    diameter: float
    height: float
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class Value:
    """A single value, its unit (`in`, `D`, `deg`, `dash`) and where it comes from."""

    value: float
    unit: str
    source: str
    basis: str


# Single values ---------------------------------------------------------------------------------


@cache
def _values() -> dict[str, Value]:
    return {
        row.text("name"): Value(
            row.value("value"), row.text("unit"), row.text("source"), row.text("basis")
        )
        for row in read_table(FOLDER / "values.csv", ["name", "value", "unit"])
    }


def value_named(name: str) -> Value:
    """Look up the value called `name` in `data/values.csv`, such as `rivet_length_allowance`.

    Raises
    ------
    TableError
        There is none; the message lists the names.
    """
    known = _values()
    if name not in known:
        raise TableError(f"values.csv has no value {name!r}; {choose_from(name, known)}.")
    return known[name]


def dimple_most_sheet() -> Value:
    """Look up the thickest sheet [in] that is still best dimpled."""
    return value_named("dimple_most_sheet")


# Drills ----------------------------------------------------------------------------------------


@cache
def drills() -> tuple[Drill, ...]:
    """Every drill known: fractions, numbers, letters and whole tenths of a millimetre.

    Raises
    ------
    TableError
        The packaged table is damaged.
    """
    return tuple(
        Drill(
            DrillSeries(row.choice("series", list(DrillSeries))),
            row.text("size"),
            LengthUnit(row.choice("unit", list(LengthUnit))).to_inches(row.value("diameter")),
            row.text("source"),
            row.text("basis"),
        )
        for row in read_table(FOLDER / "drills.csv", ["series", "size", "diameter", "unit"])
    )


@cache
def _drills_by_size() -> dict[str, Drill]:
    return {_plain_size(drill.size): drill for drill in drills()}


@cache
def _drill_diameters() -> tuple[float, ...]:
    return tuple(sorted(drill.diameter for drill in drills()))


def _plain_size(size: str) -> str:
    plain = size.upper().replace(" ", "").replace("NO.", "#")
    return f"{plain[:-2]}.0MM" if re.fullmatch(r"[0-9]+MM", plain) else plain


def drill_named(size: str) -> Drill:
    """Find the drill stamped `size`.

    Raises
    ------
    TableError
        There is none; the message names the nearest sizes.

    Examples
    --------
    >>> drill_named("#40").diameter
    0.098
    """
    known = _drills_by_size()
    plain = _plain_size(size)
    if plain not in known:
        ends = "1/64 to 1/2, #80 to #1, A to Z and 0.5 mm to 14.0 mm"
        raise TableError(f"{size!r} is not a drill size; the sizes are {ends}. Correct the size.")
    return known[plain]


def is_drill_size(diameter: float, tolerance: float | None = None) -> bool:
    """Whether some drill is within `tolerance` [in] of `diameter` [in].

    Without a tolerance, half a thousandth of an inch: a size written with three decimals is off
    by no more. False for anything that is not a finite number.
    """
    reach = (value_named("drill_match_tolerance").value if tolerance is None else tolerance) + SLACK
    sizes = _drill_diameters()
    place = bisect_left(sizes, diameter - reach)
    return place < len(sizes) and sizes[place] <= diameter + reach


def parse_size(text: str, unit: LengthUnit) -> float:
    """Read a hole size as a builder writes it: a drill (`#40`, `F`) or a length.

    Returns
    -------
    float [in]

    Raises
    ------
    TableError
        A number or letter drill that does not exist.
    LengthError
        The text is neither a drill nor a length.

    Examples
    --------
    >>> parse_size("#40", LengthUnit.MILLIMETRE)
    0.098
    """
    stripped = text.strip()
    if re.match(r"#|no\.|[a-z]$", stripped, re.IGNORECASE):
        return drill_named(stripped).diameter
    return parse_length(stripped, unit)


def _check_diameter(diameter: float) -> None:
    if not (math.isfinite(diameter) and diameter > 0):
        raise TableError(f"a hole of {diameter} in is none; its diameter has to be above 0.")


# Rivets ----------------------------------------------------------------------------------------


@cache
def _final_holes() -> dict[int, tuple[Drill, tuple[float, ...]]]:
    """By dash number: the final drill, and every diameter that counts as final size."""
    rows = read_table(FOLDER / "rivet_holes.csv", ["dash", "use", "drill", "counts_as_final"])
    final: dict[int, Drill] = {}
    counted: dict[int, set[float]] = {}
    for row in rows:
        dash, drill = row.whole("dash"), drill_named(row.text("drill"))
        if row.choice("use", ("pilot", "final", "strength", "older")) == "final":
            final[dash] = drill
        if row.choice("counts_as_final", ("yes", "no")) == "yes":
            counted.setdefault(dash, set()).add(drill.diameter)
    return {dash: (drill, tuple(sorted(counted[dash]))) for dash, drill in final.items()}


@cache
def rivet_sizes() -> tuple[RivetSize, ...]:
    """Every solid rivet known, the thinnest first.

    Raises
    ------
    TableError
        A packaged table is damaged.
    """
    sizes = []
    for row in read_table(FOLDER / "rivet_sizes.csv", ["dash", "name", "shank_diameter"]):
        dash = row.whole("dash")
        if dash not in _final_holes():
            row.refuse(f"rivet_holes.csv has no final drill for dash {dash}")
        sizes.append(
            RivetSize(
                dash,
                row.text("name"),
                row.value("shank_diameter"),
                *_final_holes()[dash],
                row.text("source"),
                row.text("basis"),
            )
        )
    return tuple(sorted(sizes, key=lambda size: size.dash))


def rivet_of_dash(dash: int) -> RivetSize:
    """Find the rivet whose shank is `dash` 32nds of an inch.

    Raises
    ------
    TableError
        No such rivet is made; the message lists those that are.
    """
    for size in rivet_sizes():
        if size.dash == dash:
            return size
    raise _no_rivet(str(dash))


def rivet_size(text: str) -> RivetSize:
    """Find the rivet named by its diameter (`3/32`, `0.094`) or dash number (`3`, `-3`).

    A decimal within half a thousandth of an inch of the shank is that rivet.

    Raises
    ------
    TableError
        No rivet is called so; the message lists those that are.
    """
    plain = text.strip()
    if re.fullmatch(r"-?[0-9]{1,2}", plain):
        return rivet_of_dash(int(plain.lstrip("-")))
    try:
        diameter = parse_length(plain, LengthUnit.INCH)
    except LengthError:
        raise _no_rivet(plain) from None
    reach = value_named("drill_match_tolerance").value + SLACK
    for size in rivet_sizes():
        if abs(size.shank_diameter - diameter) <= reach:
            return size
    raise _no_rivet(plain)


def _no_rivet(text: str) -> TableError:
    sizes = ", ".join(f"{size.name} (-{size.dash})" for size in rivet_sizes())
    return TableError(f"{text!r} is not a rivet size; choose from {sizes}.")


def rivet_for_hole(diameter: float) -> tuple[RivetSize, HoleSize] | None:
    """Tell which rivet a hole of `diameter` [in] is for, and whether it is at final size.

    A hole is at final size when it is within the hole size tolerance (0.0015 in) of a diameter
    that counts as final for a rivet, and larger than that rivet's shank by more than the rounding
    of three decimals: a 5/32 in hole is near the older #22 drill, but a 5/32 rivet does not go
    in. No hole is within reach of two rivets. Any other hole is a pilot for the next rivet up,
    and the smallest rivet thought of is 3/32: thinner ones are not for structure (NAVEDTRA 14018,
    rule 5), so only a hole at the very size of the 1/16 rivet is taken for that.

    Returns
    -------
    tuple of RivetSize and HoleSize, or None
        None where the hole is larger than the largest rivet's.

    Raises
    ------
    TableError
        `diameter` is not a finite number above 0.
    """
    _check_diameter(diameter)
    least = value_named("least_structural_rivet").value
    for size in rivet_sizes():
        if _is_final(size, diameter):
            return size, HoleSize.FINAL
        if size.dash >= least and diameter < size.final_drill.diameter:
            return size, HoleSize.PILOT
    return None


def _is_final(size: RivetSize, diameter: float) -> bool:
    reach = value_named("hole_size_tolerance").value + SLACK
    passes = size.shank_diameter + value_named("drill_match_tolerance").value + SLACK
    near = any(abs(diameter - final) <= reach for final in size.final_diameters)
    return near and diameter > passes


# Heads and sheets ------------------------------------------------------------------------------


@cache
def _heads() -> tuple[HeadSize, ...]:
    return tuple(
        HeadSize(
            Head(row.choice("head", list(Head))),
            row.text("spec"),
            row.whole("dash"),
            row.value("diameter"),
            row.value("height"),
            row.text("source"),
            row.text("basis"),
        )
        for row in read_table(
            FOLDER / "rivet_heads.csv", ["head", "spec", "dash", "diameter", "height"]
        )
    )


def flush_heads() -> tuple[HeadSize, ...]:
    """List the 100° countersunk heads (MS20426), diameters to the sharp corner."""
    return tuple(head for head in _heads() if head.head is Head.FLUSH)


def universal_heads() -> tuple[HeadSize, ...]:
    """List the universal heads (MS20470)."""
    return tuple(head for head in _heads() if head.head is Head.PROTRUDING)


def flush_head(dash: int) -> HeadSize:
    """Look up the 100° countersunk head of the rivet of `dash` 32nds.

    Raises
    ------
    TableError
        The table has none; the message lists those it has.
    """
    for head in flush_heads():
        if head.dash == dash:
            return head
    names = ", ".join(rivet_of_dash(head.dash).name for head in flush_heads())
    raise TableError(f"no 100° flush head is known for dash {dash}; there is one for {names}.")


def mark_fits(diameter: float, tolerance: float | None = None) -> RivetSize | None:
    """Find the rivet whose flush head fits a drawn countersink mark of `diameter` [in].

    Parameters
    ----------
    diameter : float [in]
        Diameter of the circle drawn round the hole.
    tolerance : float [in], optional
        How far it may be from the head's diameter; 0.006 in where none is given.

    Returns
    -------
    RivetSize or None
        The nearest head's, None where none is within the tolerance.
    """
    reach = (value_named("mark_tolerance").value if tolerance is None else tolerance) + SLACK
    nearest = min(flush_heads(), key=lambda head: abs(head.diameter - diameter))
    fits = abs(nearest.diameter - diameter) <= reach
    return rivet_of_dash(nearest.dash) if fits else None


@cache
def _least_sheets() -> dict[int, Value]:
    return {
        row.whole("dash"): Value(
            row.value("least_sheet"), "in", row.text("source"), row.text("basis")
        )
        for row in read_table(FOLDER / "countersink.csv", ["dash", "least_sheet"])
    }


def countersink_least_sheet(dash: int) -> Value | None:
    """Look up the thinnest sheet [in] that may be countersunk for the flush rivet of `dash`.

    None where no published value can be used, as for 1/4: the one in print is less than the
    height of the head.
    """
    return _least_sheets().get(dash)


# Layer names -----------------------------------------------------------------------------------


@cache
def layer_words() -> tuple[tuple[str, Role], ...]:
    """Plain words in a layer's name that say what it is for, with the role each says."""
    return tuple(
        (row.text("word"), Role(row.choice("role", list(Role))))
        for row in read_table(FOLDER / "layer_words.csv", ["word", "role"])
    )


def role_of_layer(name: str) -> Role | None:
    """Tell the role that a layer's name says in plain words; None where it says none or several.

    Whole words only, in any case, parted by anything that is not a letter and where a capital
    follows a small letter. Where one entry holds another, the longer one counts: lightening
    holes are cutouts, not holes.

    Examples
    --------
    >>> role_of_layer("2-LighteningHoles")
    <Role.CUTOUTS: 'cutouts'>
    """
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    words = " ".join(["", *re.findall(r"[^\W\d_]+", parted), ""]).upper()
    found = set()
    for entry, role in sorted(layer_words(), key=lambda item: -len(item[0])):
        if f" {entry} " in words:
            found.add(role)
            # | keeps the neighbours apart, so that no new pair of words arises
            words = words.replace(f" {entry} ", " | ")
    return found.pop() if len(found) == 1 else None
