"""A part as read from its drawing: outline, cutouts, lines, holes and rows."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray, join_edges
from holeschedule.geometry.loops import Loop
from holeschedule.model import Hole, Notice, Row
from holeschedule.units import DrawingUnit


@dataclass(frozen=True, eq=False)
class Part:
    """One part of one drawing. Compared by identity.

    Everything is inches from `origin` (drawing units, a point near the part, so that a part far
    from the drawing's zero loses no accuracy); `Hole.x` and `Hole.y` alone are on the drawing's
    own axes. `centres` is (n, 2), in step with `holes`. `in_metal` is False for a hole whose
    centre lies outside the outline or in a cutout.
    """

    name: str
    drawing: str
    unit: DrawingUnit
    origin: tuple[float, float]
    outline: Loop
    cutouts: tuple[Loop, ...]
    trim: Edges
    bends: Edges
    holes: tuple[Hole, ...]
    centres: FloatArray
    in_metal: BoolArray
    rows: tuple[Row, ...]
    notices: tuple[Notice, ...]

    @cached_property
    def edges(self) -> Edges:
        """Every edge that a hole must keep away from: outline, cutouts, trim lines."""
        return join_edges([self.outline.edges, *(c.edges for c in self.cutouts), self.trim])

    @cached_property
    def _owners(self) -> IntArray:
        sizes = [len(self.outline.edges), *(len(c.edges) for c in self.cutouts), len(self.trim)]
        return np.repeat(np.arange(len(sizes)), sizes)

    def edge_name(self, index: int) -> str:
        """What edge `index` of `edges` belongs to: outline, cutout 2, trim line."""
        owner = int(self._owners[index])
        if owner == 0:
            return "outline"
        return f"cutout {owner}" if owner <= len(self.cutouts) else "trim line"

    @property
    def zero(self) -> FloatArray:
        """(2,) array [in]: `origin` on the drawing's own axes."""
        return np.array([self.unit.to_inches(v) for v in self.origin])
