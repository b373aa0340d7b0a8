"""Where a drawing's geometry lies: from inches near the part back to the drawing's own axes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from holeschedule.units import DrawingUnit

_FINEST = 1e-4
"""Inches to which a place is told."""


def _plain(number: str) -> str:
    return number.rstrip("0").rstrip(".") if "." in number else number


@dataclass(frozen=True, slots=True)
class Site:
    """File, unit and origin (drawing units) of a drawing that is read in inches from `origin`."""

    where: str
    unit: DrawingUnit
    origin: tuple[float, float]

    def on_axes(self, x: float, y: float) -> tuple[float, float]:
        """A place [in from origin] on the drawing's own axes [in]."""
        return (
            self.unit.to_inches(self.origin[0]) + x,
            self.unit.to_inches(self.origin[1]) + y,
        )

    def place(self, x: float, y: float) -> str:
        """A place [in from origin] as the user finds it in the drawing: '(4.250, 0.310) in'."""
        digits = max(0, math.ceil(-math.log10(self.unit.from_inches(_FINEST))))
        at = (self.unit.from_inches(v) + o for v, o in zip((x, y), self.origin, strict=True))
        # adding 0.0 turns a minus zero into zero
        numbers = (f"{round(v, digits) + 0.0:.{digits}f}" for v in at)
        return f"({', '.join(map(_plain, numbers))}) {self.unit.symbol}"

    def length(self, inches: float) -> str:
        """A length as the drawing counts it: '0.0130 in'."""
        return f"{self.unit.from_inches(inches):.4g} {self.unit.symbol}"
