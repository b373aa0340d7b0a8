"""What the rules are held against: rivet, edge distance and nearest hole of every hole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from holeschedule.geometry.distance import edge_distances, nearest_holes
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.holes.neighbours import RowPair, neighbouring_rows
from holeschedule.holes.part import Part
from holeschedule.model import Head, HoleSize
from holeschedule.tables import SLACK, RivetSize, rivet_for_hole, value_named

SAME_LINE = 0.5
"""Nominal diameters: rows nearer to each other than this share a line."""


@dataclass(frozen=True, slots=True)
class Intent:
    """What the user says of all holes: the rivet, the head. None: the drawing tells."""

    rivet: RivetSize | None = None
    head: Head | None = None


@dataclass(frozen=True, slots=True)
class OnPart:
    """What was measured on the part itself, by the label of the hole [in]. Equality is by value.

    It goes before what the drawing says.
    """

    edge_distance: Mapping[str, float] = field(default_factory=dict)
    diameter: Mapping[str, float] = field(default_factory=dict)

    @property
    def labels(self) -> frozenset[str]:
        """The holes of which anything was measured."""
        return frozenset((*self.edge_distance, *self.diameter))


@dataclass(frozen=True, slots=True)
class HoleRivet:
    """The rivet of some holes of a part. Equality is by value.

    `rivet` and `size` are None where no rivet is that large. `shank` [in] is the nominal diameter
    that the rules multiply; the hole's own where no rivet is known. `oversize`: the holes are
    larger than any final size of the rivet the user names.
    """

    rivet: RivetSize | None
    size: HoleSize | None
    shank: float
    oversize: bool = False


@dataclass(frozen=True, eq=False)
class Measured:
    """One part with its distances, arrays in step with `part.holes`. Compared by identity.

    `edge_distance` (n,) [in] is negative for a hole whose centre is not in metal; `edge_index`
    points into `part.edges`. `nearest` is -1 and `nearest_distance` infinite for a lone hole.
    `kind` (n,) indexes `kinds`; `shank` (n,) [in] is that of the kind.
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

    def neighbours(self, within: float) -> list[RowPair]:
        """Rows side by side within `within` nominal diameters of the thicker rivet.

        Rows that share a line, holes of two sizes between each other, are not side by side.
        """
        if len(self.part.rows) < 2:
            return []
        if within not in self._found:
            self._found[within] = self._side_by_side(within)
        return self._found[within]

    @cached_property
    def _found(self) -> dict[float, list[RowPair]]:
        """Answers of `neighbours`, which several checks ask for."""
        return {}

    def _side_by_side(self, within: float) -> list[RowPair]:
        thick = self.row_shank
        pairs = neighbouring_rows(self.part.centres, self.part.rows, thick * within)
        least = [SAME_LINE * max(thick[pair.row_a], thick[pair.row_b]) for pair in pairs]
        return [p for p, apart in zip(pairs, least, strict=True) if p.transverse_pitch >= apart]


def measure_part(
    part: Part,
    intent: Intent | Mapping[str, Intent] | None = None,
    on_part: OnPart | None = None,
) -> Measured:
    """Assign rivets to the holes of `part` and measure every distance the rules need.

    Parameters
    ----------
    part : Part
        As drawn.
    intent : Intent or mapping, optional
        What the user says of all holes, or of each by its label.
    on_part : OnPart, optional
        What was measured with a rule on the part. The rivet of a hole stays that of the drawing.

    Raises
    ------
    GeometryError
        A coordinate is not finite.
    """
    diameter = np.array([hole.diameter for hole in part.holes])
    said = _holes_by_intent(part, intent)
    kinds, kind = _kinds(diameter, said)
    shanks = np.array([found.shank for found in kinds])
    distance, index = edge_distances(part.centres, part.edges)
    nearest, nearest_distance = nearest_holes(part.centres)
    measured = Measured(
        part,
        kinds,
        kind,
        diameter,
        shanks[kind],
        _flush(part, said),
        np.where(part.in_metal, distance, -distance),
        index,
        nearest,
        nearest_distance,
    )
    return _taken_over(measured, said, on_part) if on_part and on_part.labels else measured


def _holes_by_intent(
    part: Part, intent: Intent | Mapping[str, Intent] | None
) -> dict[Intent, IntArray]:
    """Places of the holes that each intent is said of; every hole is under one."""
    if intent is None or isinstance(intent, Intent):
        return {intent or Intent(): np.arange(len(part.holes))}
    found: dict[Intent, list[int]] = {}
    for place, hole in enumerate(part.holes):
        found.setdefault(intent.get(hole.label, Intent()), []).append(place)
    return {said: np.array(places) for said, places in found.items()}


def _taken_over(measured: Measured, said: Mapping[Intent, IntArray], on_part: OnPart) -> Measured:
    """Put what was measured on the part in the place of what is drawn."""
    asked = {int(hole): intent.rivet for intent, holes in said.items() for hole in holes}
    kinds, kind = list(measured.kinds), measured.kind.copy()
    diameter, distance = measured.diameter.copy(), measured.edge_distance.copy()
    for number, hole in enumerate(measured.part.holes):
        distance[number] = on_part.edge_distance.get(hole.label, distance[number])
        if hole.label in on_part.diameter:
            diameter[number] = on_part.diameter[hole.label]
            rivet = asked[number] or measured.rivet_of(number).rivet
            kinds.append(hole_rivet(float(diameter[number]), rivet))
            kind[number] = len(kinds) - 1
    shanks = np.array([found.shank for found in kinds])
    return replace(
        measured,
        kinds=tuple(kinds),
        kind=kind,
        diameter=diameter,
        shank=shanks[kind],
        edge_distance=distance,
    )


def _kinds(
    diameter: FloatArray, said: Mapping[Intent, IntArray]
) -> tuple[tuple[HoleRivet, ...], IntArray]:
    """What the holes are for, each answer once, and which answer is for each hole.

    Fitted circles all differ in their last digits: there are far fewer answers than diameters.
    """
    number: dict[HoleRivet, int] = {}
    kind = np.zeros(len(diameter), dtype=np.intp)
    for intent, holes in said.items():
        sizes, size_of = np.unique(diameter[holes], return_inverse=True)
        answers = (hole_rivet(size, intent.rivet) for size in sizes.tolist())
        found = [number.setdefault(answer, len(number)) for answer in answers]
        kind[holes] = np.array(found, dtype=np.intp)[size_of]
    return tuple(number), kind


def hole_rivet(diameter: float, asked: RivetSize | None = None) -> HoleRivet:
    """What a hole of `diameter` [in] is for: the rivet asked for, else the one the hole tells.

    Raises
    ------
    TableError
        No rivet is asked for, and `diameter` is not a finite number above 0.
    """
    if asked is not None:
        return _asked_rivet(diameter, asked)
    found = rivet_for_hole(diameter)
    if found is None:
        return HoleRivet(None, None, diameter)
    rivet, size = found
    return HoleRivet(rivet, size, rivet.shank_diameter)


def _asked_rivet(diameter: float, rivet: RivetSize) -> HoleRivet:
    """At final size by the same measure as without the user's word: the rivet has to go in."""
    reach = value_named("hole_size_tolerance").value + SLACK
    passes = rivet.shank_diameter + value_named("drill_match_tolerance").value + SLACK
    final = diameter >= min(rivet.final_diameters) - reach and diameter > passes
    size = HoleSize.FINAL if final else HoleSize.PILOT
    oversize = diameter > max(rivet.final_diameters) + reach
    return HoleRivet(rivet, size, rivet.shank_diameter, oversize)


def _flush(part: Part, said: Mapping[Intent, IntArray]) -> BoolArray:
    flush = np.array([hole.mark_diameter is not None for hole in part.holes], dtype=bool)
    for intent, holes in said.items():
        if intent.head is not None:
            flush[holes] = intent.head is Head.FLUSH
    return flush
