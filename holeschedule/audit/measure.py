"""What the rules are held against: rivet, edge distance and nearest hole of every hole."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from holeschedule.geometry.distance import edge_distances, nearest_holes
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.holes.part import Part
from holeschedule.holes.rows import neighbouring_rows
from holeschedule.model import Head, HoleSize
from holeschedule.tables import RivetSize, rivet_for_hole, value_named


@dataclass(frozen=True, slots=True)
class Intent:
    """What the user says of all holes: the rivet, the head. None: the drawing tells."""

    rivet: RivetSize | None = None
    head: Head | None = None


@dataclass(frozen=True, slots=True)
class HoleRivet:
    """The rivet of holes of one drawn diameter. None: no rivet is that large."""

    rivet: RivetSize | None
    size: HoleSize | None
    oversize: bool


@dataclass(frozen=True, eq=False)
class Measured:
    """One part with its distances, arrays in step with `part.holes`. Compared by identity.

    `edge_distance` (n,) [in] is negative for a hole whose centre is not in metal; `edge_index`
    points into `part.edges`. `nearest` is -1 and `nearest_distance` infinite for a lone hole.
    `kind` indexes `kinds`, one entry a drawn diameter. `shank` (n,) [in] is the nominal
    diameter that the rules multiply; the hole's own where no rivet is known.
    """

    part: Part
    kinds: tuple[HoleRivet, ...]
    kind: IntArray
    diameter: FloatArray
    shank: FloatArray
    flush: BoolArray
    edge_distance: FloatArray
    edge_index: IntArray
    nearest: IntArray
    nearest_distance: FloatArray

    def rivet_of(self, hole: int) -> HoleRivet:
        """The rivet of hole number `hole`."""
        return self.kinds[int(self.kind[hole])]

    @cached_property
    def row_of(self) -> IntArray:
        """(n,) number of the row each hole is in, -1 for a single hole."""
        row_of = np.full(len(self.part.holes), -1)
        for number, row in enumerate(self.part.rows):
            row_of[list(row.places)] = number
        return row_of

    @cached_property
    def row_shank(self) -> FloatArray:
        """(rows,) array [in]: the largest nominal diameter in each row."""
        return np.array([self.shank[list(row.places)].max() for row in self.part.rows])

    def neighbours(self, within: float) -> list[tuple[int, int, float, int, int]]:
        """Rows side by side within `within` diameters: (row, row, transverse pitch, hole, hole)."""
        if len(self.part.rows) < 2:
            return []
        return neighbouring_rows(self.part.centres, self.part.rows, self.row_shank * within)


def measure_part(part: Part, intent: Intent | None = None) -> Measured:
    """Assign rivets to the holes of `part` and measure every distance the rules need.

    Raises
    ------
    GeometryError
        A coordinate is not finite.
    """
    intent = intent or Intent()
    diameter = np.array([hole.diameter for hole in part.holes])
    sizes, kind = np.unique(diameter, return_inverse=True)
    kinds = tuple(_hole_rivet(size, intent.rivet) for size in sizes.tolist())
    shanks = np.array(
        [
            found.rivet.shank_diameter if found.rivet else size
            for found, size in zip(kinds, sizes.tolist(), strict=True)
        ]
    )
    distance, index = edge_distances(part.centres, part.edges)
    nearest, nearest_distance = nearest_holes(part.centres)
    return Measured(
        part,
        kinds,
        kind,
        diameter,
        shanks[kind],
        _flush(part, intent.head),
        np.where(part.in_metal, distance, -distance),
        index,
        nearest,
        nearest_distance,
    )


def _hole_rivet(diameter: float, asked: RivetSize | None) -> HoleRivet:
    if asked is None:
        found = rivet_for_hole(diameter)
        return HoleRivet(*found, oversize=False) if found else HoleRivet(None, None, oversize=False)
    tolerance = value_named("hole_size_tolerance").value
    final = diameter >= min(asked.final_diameters) - tolerance
    oversize = diameter > max(asked.final_diameters) + tolerance + 1e-9
    return HoleRivet(asked, HoleSize.FINAL if final else HoleSize.PILOT, oversize)


def _flush(part: Part, head: Head | None) -> BoolArray:
    if head is not None:
        return np.full(len(part.holes), head is Head.FLUSH)
    return np.array([hole.mark_diameter is not None for hole in part.holes], dtype=bool)
