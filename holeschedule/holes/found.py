"""Everything found in one drawing, before it is parted."""

from __future__ import annotations

from dataclasses import dataclass

from holeschedule.drawing.site import Site
from holeschedule.geometry.edges import FloatArray
from holeschedule.geometry.loops import Loop
from holeschedule.holes.find import Circles, SortedCircles
from holeschedule.holes.nesting import Nesting
from holeschedule.holes.shapes import Shapes


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Everything of one drawing, ready to be parted [in from the site's origin].

    Compared by identity.
    """

    shapes: Shapes
    sorted: SortedCircles
    loops: tuple[Loop, ...]
    nesting: Nesting
    site: Site

    @property
    def circles(self) -> Circles:
        """All circles, however they were drawn."""
        return self.shapes.circles

    @property
    def centres(self) -> FloatArray:
        """(n, 2) array [in]: the centres of the holes."""
        return self.circles.centre[self.sorted.holes]
