"""Rivets per inch and load of a rivet, as information: the plans govern. See docs/rivets.md."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from holeschedule.errors import LengthError
from holeschedule.fastener_tables import (
    SheetBearing,
    StrengthTable,
    sheet_bearing,
    strength_hole,
    strength_table,
)
from holeschedule.model import Notice
from holeschedule.operations import Treatment
from holeschedule.tables import SLACK, RivetSize, value_named
from holeschedule.units import LengthUnit, format_length

CAUTION = "Information only: the plans govern, and no repair is to be designed by these figures."
_POUNDS_PER_KIP = 1000


class Mode(StrEnum):
    """What gives way first."""

    SHEAR = "shear"
    BEARING = "bearing"


@dataclass(frozen=True, slots=True)
class RivetsPerInch:
    """Rivets per inch of width that carry as much as the sheet. Equality is by value.

    `for_shear` and `for_bearing` [1/in] are asked for by each mode; the larger counts.
    """

    for_shear: float
    for_bearing: float
    table: StrengthTable

    @property
    def number(self) -> float:
        """Rivets per inch of width [1/in]."""
        return max(self.for_shear, self.for_bearing)

    @property
    def governs(self) -> Mode:
        """The mode that asks for more rivets; bearing where both ask for as many."""
        return Mode.SHEAR if self.for_shear > self.for_bearing else Mode.BEARING

    def count(self, width: float, factor: float = 1.0) -> int:
        """Number of rivets over a `width` [in], rounded up.

        Reckoned as the circular's examples are, with rivets per inch to the tenth that the tables
        print. `factor` is the part that is enough by their notes, from `count_factor`.
        """
        return math.ceil(round(self.number, 1) * width * factor - SLACK)


def rivets_per_inch(sheet: float, rivet: RivetSize, table: str) -> RivetsPerInch:
    """Work out the rivets per inch that carry as much as a sheet pulled apart.

    Parameters
    ----------
    sheet : float [in]
        Its thickness.
    rivet : RivetSize
        Of 2117 (AD).
    table : str
        Which table of AC 43.13-1B, by its number: `4-9`, `4-10` or `4-11`.

    Returns
    -------
    RivetsPerInch

    Raises
    ------
    LengthError
        The thickness is not a finite number above 0.
    TableError
        There is no such table.

    Source
    ------
    AC 43.13-1B, Tables 4-9 to 4-11, p. 4-37 to 4-39, notes b: bearing and shear as parts of the
    sheet's tension, on the hole of MIL-HDBK-5 Table 8.1.2(a).
    """
    _check_sheet(sheet)
    ratios, hole = strength_table(table), strength_hole(rivet.dash)
    return RivetsPerInch(
        sheet / (ratios.shear_ratio * math.pi / 4 * hole**2),
        1 / (ratios.bearing_ratio * hole),
        ratios,
    )


@dataclass(frozen=True, slots=True)
class RivetLoad:
    """Load that one rivet of 2117 carries in single shear [lbf]. Equality is by value."""

    shear: float
    bearing: float
    sheet: SheetBearing
    notices: tuple[Notice, ...]

    @property
    def load(self) -> float:
        """The lesser of shear and bearing [lbf]."""
        return min(self.shear, self.bearing)

    @property
    def governs(self) -> Mode:
        """The mode that gives way first; bearing where both do."""
        return Mode.SHEAR if self.shear < self.bearing else Mode.BEARING


def rivet_load(
    sheet: float, rivet: RivetSize, material: str, treatment: Treatment = Treatment.PLAIN
) -> RivetLoad:
    """Work out the load of one rivet in one sheet.

    Parameters
    ----------
    sheet : float [in]
        Thickness of the thinnest sheet.
    rivet : RivetSize
        Of 2117 (AD).
    material : str
        Of the sheet, such as `2024-T3 clad`.
    treatment : Treatment
        Of the hole; a countersunk sheet brings a notice.

    Returns
    -------
    RivetLoad

    Raises
    ------
    LengthError
        The thickness is not a finite number above 0.
    TableError
        No bearing strength is known for the material.

    Source
    ------
    MIL-HDBK-5H, par 8.1.2, p. 8-9: shear on the area of the nominal hole, the lower of shear and
    bearing counts. Bearing on the shank's diameter, as a published example citing MMPDS-09 has it.
    """
    _check_sheet(sheet)
    bearing = sheet_bearing(material)
    area = math.pi / 4 * strength_hole(rivet.dash) ** 2
    return RivetLoad(
        value_named("rivet_shear").value * _POUNDS_PER_KIP * area,
        bearing.stress * _POUNDS_PER_KIP * rivet.shank_diameter * sheet,
        bearing,
        tuple(_notices(sheet, rivet, treatment)),
    )


def _check_sheet(sheet: float) -> None:
    if not (math.isfinite(sheet) and sheet > 0):
        raise LengthError(f"a sheet of {sheet} in is none; its thickness has to be above 0.")


def _notices(sheet: float, rivet: RivetSize, treatment: Treatment) -> Iterator[Notice]:
    if treatment is Treatment.COUNTERSINK:
        yield Notice(
            "strength.countersunk",
            "a countersunk sheet may hold less than this, the thinner the less (MIL-HDBK-5F)",
        )
    least = value_named("bearing_least_sheet")
    if sheet < least.value * rivet.shank_diameter - SLACK:
        thin = format_length(sheet, LengthUnit.INCH)
        yield Notice(
            "strength.thin-sheet",
            f"{thin} is less than {least.value:g} D of a {rivet.name} rivet: bearing is to be"
            f" tested, not worked out ({least.source})",
        )
