"""Lengths: inches inside, read and shown in the user's unit.

The inch is exactly 25.4 mm. Every conversion divides or multiplies by that number and never by a
rounded reciprocal, so a value that is exact in one unit stays as exact as the other allows.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING, overload

from holeschedule.data import FOLDER, choose_from, read_table
from holeschedule.errors import LengthError, UnitError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

MM_PER_INCH = 25.4
"""Exact by definition (international yard and pound agreement, 1959)."""

PLACES = {"in": 3, "mm": 2}
"""Decimals shown where nothing else is asked for: a thousandth of an inch, 0.01 mm."""


class LengthUnit(StrEnum):
    """A unit in which lengths are typed and shown."""

    INCH = "in"
    MILLIMETRE = "mm"

    @property
    def inches(self) -> float:
        """One of this unit [in], as near as a float comes; convert with `to_inches` instead."""
        return self.to_inches(1.0)

    @overload
    def to_inches(self, value: float) -> float: ...
    @overload
    def to_inches(self, value: FloatArray) -> FloatArray: ...
    def to_inches(self, value: float | FloatArray) -> float | FloatArray:
        """`value`, a number or an array in this unit, in inches.

        Examples
        --------
        >>> LengthUnit.MILLIMETRE.to_inches(25.4)
        1.0
        """
        return value / MM_PER_INCH if self is LengthUnit.MILLIMETRE else value

    @overload
    def from_inches(self, value: float) -> float: ...
    @overload
    def from_inches(self, value: FloatArray) -> FloatArray: ...
    def from_inches(self, value: float | FloatArray) -> float | FloatArray:
        """`value` [in], a number or an array, in this unit."""
        return value * MM_PER_INCH if self is LengthUnit.MILLIMETRE else value


_NUMBER = r"[0-9]+(?:\.[0-9]*)?|\.[0-9]+"
_LENGTH = re.compile(
    rf"""(?: (?:(?P<whole>[0-9]+)(?:\s+|-))? (?P<over>[0-9]+)\s*/\s*(?P<under>[0-9]+)
         | (?P<decimal>{_NUMBER}) )
         \s* (?P<unit>in|inch|inches|["″”]|mm)? """,
    re.VERBOSE | re.IGNORECASE,
)
_LONGEST_TEXT = 40
_FORMS = "write a decimal (0.098), a fraction (3/32, 1 1/8) or millimetres (2.5 mm)"


def parse_length(text: str, unit: LengthUnit) -> float:
    """Read a length as a builder writes it.

    Parameters
    ----------
    text : str
        A decimal, a fraction or a mixed number, with or without `in`, `"` or `mm` behind it.
    unit : LengthUnit
        Taken where the text names none.

    Returns
    -------
    float [in]
        0 or more, and finite.

    Raises
    ------
    LengthError
        The text is anything else: a decimal comma, a negative or endless number, words.

    Examples
    --------
    >>> parse_length("3/32", LengthUnit.INCH)
    0.09375
    >>> parse_length("2.54 mm", LengthUnit.INCH)
    0.1
    """
    stripped = text.strip()
    match = _LENGTH.fullmatch(stripped) if len(stripped) <= _LONGEST_TEXT else None
    if match is None:
        raise LengthError(f"{_shorten(stripped)!r} is not a length{_why_not(stripped)}; {_FORMS}.")
    written = (match["unit"] or unit).lower()
    read = LengthUnit.MILLIMETRE if written == "mm" else LengthUnit.INCH
    if match["decimal"]:
        return read.to_inches(float(match["decimal"]))
    under = int(match["under"])
    if under == 0:
        raise LengthError(f"{stripped!r} divides by zero; {_FORMS}.")
    return read.to_inches((int(match["whole"] or 0) * under + int(match["over"])) / under)


def _why_not(text: str) -> str:
    if re.search(r"[0-9],[0-9]", text):
        instead = f", write {text.replace(',', '.')}" if text.count(",") == 1 else ""
        return f": a comma is not read, because it parts decimals here and thousands there{instead}"
    if re.match(r"[-−]\s*[0-9.]", text):
        return ": a length is 0 or more"
    if re.fullmatch(r"[-+]?(?:nan|inf|infinity)", text, re.IGNORECASE):
        return ": it is not a finite number"
    return ""


def _shorten(text: str) -> str:
    return text if len(text) <= _LONGEST_TEXT else text[:_LONGEST_TEXT] + "…"


def format_length(inches: float, unit: LengthUnit, places: int | None = None) -> str:
    """`inches` as text in `unit`, with the unit's symbol.

    Parameters
    ----------
    inches : float [in]
        The length.
    unit : LengthUnit
        The unit shown.
    places : int, optional
        Decimals; 3 for inches and 2 for millimetres where none are given.

    Returns
    -------
    str
        Never with a minus before a zero.

    Examples
    --------
    >>> format_length(0.098, LengthUnit.MILLIMETRE)
    '2.49 mm'
    """
    digits = f"{unit.from_inches(inches):.{PLACES[unit] if places is None else places}f}"
    if digits.startswith("-") and not digits.strip("-0."):
        digits = digits[1:]
    return f"{digits} {unit}"


@dataclass(frozen=True, slots=True)
class DrawingUnit:
    """A unit that a drawing can state. Equality is by value.

    `code` is its number in the DXF header variable $INSUNITS. A length in this unit, times
    `times` and over `over`, is the length in inches.
    """

    code: int
    name: str
    symbol: str
    times: float
    over: float
    source: str

    @property
    def is_metric(self) -> bool:
        """Whether lengths in this unit are shown in millimetres."""
        return round(self.over / MM_PER_INCH, 6).is_integer()

    @property
    def shown(self) -> LengthUnit:
        """The unit in which lengths in this one are shown."""
        return LengthUnit.MILLIMETRE if self.is_metric else LengthUnit.INCH

    @overload
    def to_inches(self, value: float) -> float: ...
    @overload
    def to_inches(self, value: FloatArray) -> FloatArray: ...
    def to_inches(self, value: float | FloatArray) -> float | FloatArray:
        """`value`, a number or an array in this unit, in inches."""
        return value * self.times / self.over

    @overload
    def from_inches(self, value: float) -> float: ...
    @overload
    def from_inches(self, value: FloatArray) -> FloatArray: ...
    def from_inches(self, value: float | FloatArray) -> float | FloatArray:
        """`value` [in], a number or an array, in this unit."""
        return value * self.over / self.times


@cache
def drawing_units() -> tuple[DrawingUnit, ...]:
    """Every unit a drawing of a part can state, by code.

    Raises
    ------
    TableError
        The packaged table is damaged.
    """
    path = FOLDER / "drawing_units.csv"
    return tuple(
        DrawingUnit(
            row.whole("code"),
            row.text("name"),
            row.text("symbol"),
            row.value("times"),
            row.value("over"),
            row.text("source"),
        )
        for row in read_table(path, ["code", "name", "symbol", "times", "over"])
    )


def drawing_unit(code: int) -> DrawingUnit | None:
    """Find the unit with this $INSUNITS code.

    None for 0 (the drawing states no unit), for the units of astronomy (17 to 20), in which
    nobody draws a part, and for a code that the DXF reference does not have.
    """
    return next((unit for unit in drawing_units() if unit.code == code), None)


def drawing_unit_named(name: str) -> DrawingUnit:
    """Find the unit with this symbol or name, in any case.

    Raises
    ------
    UnitError
        No unit is called so; the message lists the symbols and the nearest name.

    Examples
    --------
    >>> drawing_unit_named("mm").name
    'millimetre'
    """
    known = {n.casefold(): u for u in drawing_units() for n in (u.name, u.symbol)}
    wanted = name.strip().casefold()
    if wanted in known:
        return known[wanted]
    symbols = [unit.symbol for unit in drawing_units()]
    raise UnitError(
        f"{name!r} is not a unit of length; {choose_from(wanted, symbols, near=known)}."
    )
