"""Settle the unit of a drawing: stated in its header, or by the user, and believable."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from holeschedule.errors import UnitError
from holeschedule.tables import is_drill_size
from holeschedule.units import DrawingUnit, drawing_unit, drawing_unit_named

NEXT_TO_NONE = 0.05
"""Share of holes that are drill sizes below which a stated unit is doubted …"""
MOST = 0.6
"""… if under another unit at least this share are."""
_OTHERS = ("in", "mm")

Size = tuple[float, float]


def stated_unit(code: int | None, asked: str | None, where: str) -> DrawingUnit | None:
    """The unit to read with: `asked` by the user, else the header's, None where neither says.

    Raises
    ------
    UnitError
        The header states a unit that no part drawing has (a parsec), and the user none.
    """
    if asked is not None:
        return drawing_unit_named(asked)
    if not code:
        return None
    unit = drawing_unit(code)
    if unit is None:
        raise UnitError(
            f"{where}: the header states unit code {code}, which is no length a part is drawn"
            " in. Say --units in or --units mm."
        )
    return unit


def refuse_no_unit(size: Size, diameters: Iterable[float], where: str) -> None:
    """Refuse a drawing without a unit, with what it would be under each reading.

    Raises
    ------
    UnitError
        Always. `size` and `diameters` are in drawing units.
    """
    readings = "; or ".join(_reading(size, diameters, name) for name in _OTHERS)
    raise UnitError(f"{where}: no unit stated: {readings}? Say --units in or --units mm.")


def refuse_unlikely_unit(
    unit: DrawingUnit, size: Size, diameters: Iterable[float], where: str
) -> None:
    """Refuse a stated unit under which next to no hole is a drill size, but most would be.

    Raises
    ------
    UnitError
        With the size of part and holes under both readings.
    """
    counts = Counter(diameters)
    if not counts or _share_of_drills(counts, unit) > NEXT_TO_NONE:
        return
    for name in _OTHERS:
        other = drawing_unit_named(name)
        if name != unit.symbol and _share_of_drills(counts, other) >= MOST:
            stated = _reading(size, counts, unit.symbol)
            raise UnitError(
                f"{where}: the header states {unit.name}, but the holes are no drill sizes then:"
                f" {stated}; or {_reading(size, counts, name)}?"
                f" Say --units {name}, or --units {unit.symbol} if it is right."
            )


def _share_of_drills(counts: Counter[float], unit: DrawingUnit) -> float:
    drills = sum(n for d, n in counts.items() if is_drill_size(unit.to_inches(d)))
    return drills / counts.total()


def _reading(size: Size, diameters: Iterable[float], symbol: str) -> str:
    """'24.0 × 12.0 in, holes 0.098 in': drawing units shown under one reading."""
    text = f"{size[0]:.5g} × {size[1]:.5g} {symbol}"
    common = [d for d, _ in Counter(round(d, 4) for d in diameters).most_common(3)]
    return (
        f"{text}, holes {', '.join(f'{d:g}' for d in sorted(common))} {symbol}" if common else text
    )
