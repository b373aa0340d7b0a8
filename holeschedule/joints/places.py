"""The places of a joint: one rivet each, with the hole of every layer that is there.

All positions are found in the frame of the first layer. A layer that covers a place and has no
hole there has to be match-drilled; one that does not reach it is not named at the place.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from holeschedule.audit.measure import hole_rivet
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.holes.part import Part
from holeschedule.joints.coverage import metal_distances
from holeschedule.joints.layers import Joint, Layer
from holeschedule.model import HoleSize, Notice
from holeschedule.selection import label_key
from holeschedule.tables import SLACK, RivetSize

Point = tuple[float, float]

_MOST_HOLES = 4
"""Holes that a notice names; the rest is counted."""
NO_HOLE = -1
"""Index of no hole."""


@dataclass(frozen=True, slots=True)
class PlaceLayer:
    """One layer at one place. Equality is by value.

    `layer` is an index into the joint's layers, `hole` one into `part.holes`; without a hole
    `hole`, `label`, `diameter` [in] and `size` are None and the layer is to be match-drilled.
    `position` [in] is in the part's own frame: its hole's centre, else where the hole will come.
    `offset` [in] is how far the hole is from the place, in the frame of the first layer.
    `covers` is False only where a hole is drawn off the metal. `taken_in`: the hole lies at the
    place although nobody selected it for the joint.
    """

    layer: int
    name: str
    position: Point
    hole: int | None = None
    label: str | None = None
    diameter: float | None = None
    size: HoleSize | None = None
    offset: Point = (0.0, 0.0)
    covers: bool = True
    taken_in: bool = False

    @property
    def has_hole(self) -> bool:
        """Whether the layer has a hole here; without one it is match-drilled."""
        return self.hole is not None

    @property
    def full_label(self) -> str:
        """The hole with its part, as selections write it: `FL-104:A15`."""
        return f"{self.name}:{self.label}" if self.has_hole else self.name


@dataclass(frozen=True, slots=True)
class Place:
    """One rivet position of a joint. Equality is by value.

    `at` [in] is in the frame of the first layer: the centre of the hole that guides the drill.
    `layers` are those that are there, in the joint's order; `guide` is the place in them of the
    layer that guides: the first whose hole is at final size, else the first that has one.
    `rivet` is None where no rivet is as thick as the hole; `final_diameter` [in] is that of the
    final drill, or of the guiding hole where no rivet is known.
    """

    number: int
    at: Point
    layers: tuple[PlaceLayer, ...]
    guide: int
    rivet: RivetSize | None
    final_diameter: float

    @property
    def guide_layer(self) -> PlaceLayer:
        """The layer whose hole guides the drill."""
        return self.layers[self.guide]

    @property
    def to_drill(self) -> tuple[PlaceLayer, ...]:
        """The layers that are match-drilled here."""
        return tuple(layer for layer in self.layers if not layer.has_hole)


def place_tolerance(joint: Joint) -> float:
    """How far apart [in] holes may be and still belong to one place: half the thinner shank.

    Far more than the rivet allows, so that a bad offset is told as an offset and not as two
    places; and a sixth of the least pitch, so that no hole is taken for its neighbour.
    """
    if joint.rivet is not None:
        return joint.rivet.shank_diameter / 2
    sizes = {layer.part.holes[i].diameter for layer in joint.layers for i in layer.holes.tolist()}
    return min((hole_rivet(size).shank for size in sizes), default=0.0) / 2


def find_places(joint: Joint, *, tolerance: float | None = None) -> tuple[Place, ...]:
    """Every place of a joint, numbered from 1.

    First the holes of the first layer in the order of their labels, then what it lacks, in the
    order of the next layers. Each layer has one hole a place, the nearest. Holes that lie at a
    place are taken in whether they were selected for the joint or not.

    Parameters
    ----------
    joint : Joint
        Layers with their placements.
    tolerance : float [in], optional
        How far the holes of one place may be apart; `place_tolerance` where it is left out.

    Returns
    -------
    tuple of Place

    Raises
    ------
    GeometryError
        A coordinate is not finite.
    """
    reach = place_tolerance(joint) if tolerance is None else tolerance
    gathered = _gather(joint, reach)
    drafts = [
        _draft(joint, holes, taken)
        for holes, taken in zip(gathered.holes.tolist(), gathered.taken.tolist(), strict=True)
    ]
    missing = _match_drilled(joint, gathered.holes, drafts)
    return tuple(
        draft.placed(number, missing[number - 1]) for number, draft in enumerate(drafts, start=1)
    )


def place_notices(joint: Joint, places: tuple[Place, ...]) -> tuple[Notice, ...]:
    """What was decided about the places: holes that nobody selected and that are in all the same.

    Also places where one layer lies alone. Positions are on the axes of the part's own drawing
    [in].
    """
    taken_in = (
        Notice(
            "joint.hole-taken-in",
            f"{layer.full_label} lies at place {place.number} of {joint.name} and is taken in,"
            " though the joint does not list it",
            None,
            *(joint.layers[layer.layer].part.zero + layer.position).tolist(),
        )
        for place in places
        for layer in place.layers
        if layer.taken_in
    )
    return (*taken_in, *_alone(joint, places))


def _alone(joint: Joint, places: tuple[Place, ...]) -> Iterator[Notice]:
    """One notice for the places of each layer at which no other one lies."""
    for number, layer in enumerate(joint.layers):
        here = [p.layers[0] for p in places if len(p.layers) == 1 and p.layers[0].layer == number]
        if here:
            holes = ", ".join(str(at.label) for at in here[:_MOST_HOLES])
            more = f" and {len(here) - _MOST_HOLES} more" if len(here) > _MOST_HOLES else ""
            yield Notice(
                "joint.one-layer",
                f"no other part lies at {layer.name}:{holes}{more} of {joint.name}: name the holes"
                " that belong to the joint, or see which part is missing there",
                None,
                *(layer.part.zero + here[0].position).tolist(),
            )


# Which holes coincide --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Gathered:
    """(places, layers) arrays: the hole of each layer, and whether it was not selected."""

    holes: IntArray
    taken: BoolArray


def _gather(joint: Joint, reach: float) -> _Gathered:
    count = len(joint.layers)
    seeds, holes = np.zeros((0, 2)), np.zeros((0, count), dtype=np.intp)
    for number, layer in enumerate(joint.layers):
        mine = _by_label(layer.part, layer.holes)
        spots = layer.placement.move(layer.part.centres[mine])
        place, hole = _nearest_pairs(seeds, spots, reach)
        holes[place, number] = mine[hole]
        new = np.setdiff1d(np.arange(len(mine)), hole)
        added = np.full((len(new), count), NO_HOLE)
        added[:, number] = mine[new]
        seeds, holes = np.concatenate((seeds, spots[new])), np.concatenate((holes, added))
    taken = np.zeros(holes.shape, dtype=bool)
    for number, layer in enumerate(joint.layers):
        lacking = np.flatnonzero(holes[:, number] == NO_HOLE)
        others = np.setdiff1d(np.arange(len(layer.part.holes)), layer.holes)
        spots = layer.placement.move(layer.part.centres[others])
        place, hole = _nearest_pairs(seeds[lacking], spots, reach)
        holes[lacking[place], number] = others[hole]
        taken[lacking[place], number] = True
    return _Gathered(holes, taken)


def _by_label(part: Part, holes: IntArray) -> IntArray:
    """Indices of holes in the order of their labels, each once."""
    chosen = {int(i) for i in holes}
    order = sorted(chosen, key=lambda i: label_key(part.holes[i].label))
    return np.array(order, dtype=np.intp)


def _nearest_pairs(seeds: FloatArray, spots: FloatArray, reach: float) -> tuple[IntArray, IntArray]:
    """Pair points within `reach` [in] one to one, the nearest first; the indices of both."""
    import shapely  # noqa: PLC0415 - not every command asks

    pairs: dict[int, int] = {}
    used: set[int] = set()
    if len(seeds) and len(spots):
        tree = shapely.STRtree(shapely.points(seeds))
        spot, seed = tree.query(shapely.points(spots), "dwithin", reach + SLACK)
        # rounded, so that noise does not decide which of two equally near holes is taken
        apart = np.round(np.hypot(*(seeds[seed] - spots[spot]).T), 9)
        order = np.lexsort((spot, seed, apart))
        for place, hole in zip(seed[order].tolist(), spot[order].tolist(), strict=True):
            if place not in pairs and hole not in used:
                pairs[place] = hole
                used.add(hole)
    return np.array(list(pairs), dtype=np.intp), np.array(list(pairs.values()), dtype=np.intp)


# What is at a place ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Draft:
    """A place before the layers without a hole are known; `guide` is a layer of the joint."""

    at: Point
    layers: tuple[PlaceLayer, ...]
    guide: int
    rivet: RivetSize | None
    final_diameter: float

    def placed(self, number: int, missing: list[PlaceLayer]) -> Place:
        layers = tuple(sorted((*self.layers, *missing), key=lambda layer: layer.layer))
        guide = next(i for i, layer in enumerate(layers) if layer.layer == self.guide)
        return Place(number, self.at, layers, guide, self.rivet, self.final_diameter)


def _draft(joint: Joint, holes: list[int], taken: list[bool]) -> _Draft:
    there = [number for number, hole in enumerate(holes) if hole != NO_HOLE]
    drawn = {n: joint.layers[n].part.holes[holes[n]] for n in there}
    found = hole_rivet(max(hole.diameter for hole in drawn.values()), joint.rivet)
    sizes = {n: hole_rivet(hole.diameter, found.rivet).size for n, hole in drawn.items()}
    guide = next((n for n in there if sizes[n] is HoleSize.FINAL), there[0])
    spots = {n: _spot(joint.layers[n], holes[n]) for n in there}
    at = spots[guide]
    layers = tuple(
        PlaceLayer(
            n,
            joint.layers[n].name,
            _point(joint.layers[n].part.centres[holes[n]]),
            holes[n],
            drawn[n].label,
            drawn[n].diameter,
            sizes[n],
            (spots[n][0] - at[0], spots[n][1] - at[1]),
            bool(joint.layers[n].part.in_metal[holes[n]]),
            taken[n],
        )
        for n in there
    )
    final = found.rivet.final_drill.diameter if found.rivet else drawn[guide].diameter
    return _Draft(at, layers, guide, found.rivet, final)


def _spot(layer: Layer, hole: int) -> Point:
    return _point(layer.placement.move(layer.part.centres[[hole]])[0])


def _point(xy: FloatArray) -> Point:
    x, y = xy.tolist()
    return x, y


def _match_drilled(joint: Joint, holes: IntArray, drafts: list[_Draft]) -> list[list[PlaceLayer]]:
    """For each place the layers that cover it without a hole."""
    missing: list[list[PlaceLayer]] = [[] for _ in drafts]
    for number, layer in enumerate(joint.layers):
        lacking = np.flatnonzero(holes[:, number] == NO_HOLE).tolist()
        for place, position in _covered(layer, lacking, drafts):
            missing[place].append(PlaceLayer(number, layer.name, position))
    return missing


def _covered(layer: Layer, lacking: list[int], drafts: list[_Draft]) -> Iterator[tuple[int, Point]]:
    """Places whose hole would meet the layer's metal, and where in the part's own frame.

    A hole that would break out of the edge is there, and a finding; it is not left out.
    """
    at = np.array([drafts[i].at for i in lacking]).reshape(-1, 2)
    radius = np.array([drafts[i].final_diameter / 2 for i in lacking])
    own = layer.placement.inverse().move(at)
    distance, _ = metal_distances(layer.part, own)
    for i in np.flatnonzero(distance > -radius + SLACK).tolist():
        yield lacking[i], _point(own[i])
