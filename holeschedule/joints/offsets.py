"""Holes of several layers that should lie on each other and do not quite.

The final drill follows the hole that guides it: one at final size, else the first layer's pilot.
A pilot elsewhere cleans up if the drill takes in all of it; else a figure-eight is left. Two
holes at final size are not drilled again: the shank has to pass both.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

from holeschedule.joints.places import Place, PlaceLayer, Point
from holeschedule.model import Finding, HoleSize, Quantity, Verdict
from holeschedule.tables import SLACK, RivetSize

PILOT_SOURCE = "geometry: the final drill has to take in all of the pilot"
FINAL_SOURCE = "geometry: the rivet's shank has to pass both holes"
SEVERAL_SOURCE = "geometry: the rivet's shank has to pass all holes at once"
_HALVINGS = 60


def pilot_offset_limit(pilot_diameter: float, final_diameter: float) -> float:
    """How far a pilot may be from the drill that opens it, offset + d/2 ≤ D/2.

    Parameters
    ----------
    pilot_diameter, final_diameter : float [in]
        Of the pilot, d, and of the final drill, D.

    Returns
    -------
    float [in]
        Negative where the pilot is the larger.

    Examples
    --------
    >>> round(pilot_offset_limit(0.082, 0.098), 4)
    0.008
    """
    return (final_diameter - pilot_diameter) / 2


def final_offset_limit(one_diameter: float, other_diameter: float, shank_diameter: float) -> float:
    """How far two holes at final size may be apart for a shank to pass both.

    Parameters
    ----------
    one_diameter, other_diameter, shank_diameter : float [in]
        Of the two holes and of the rivet.

    Returns
    -------
    float [in]
        (h1 + h2)/2 − D: h − D for two holes of one size.

    Examples
    --------
    >>> final_offset_limit(0.098, 0.098, 0.09375)
    0.00425
    """
    return (one_diameter + other_diameter) / 2 - shank_diameter


def offset_findings(places: Sequence[Place]) -> tuple[Finding, ...]:
    """Holes that are too far from the others of their place, by place.

    Where no rivet is known nothing is said.

    Parameters
    ----------
    places : sequence of Place
        The places of a joint.

    Returns
    -------
    tuple of Finding
        `hole` is the further layer's, `FL-104:A15`; `other` the one it is measured from.
    """
    return tuple(
        finding
        for place in places
        if place.rivet is not None
        for finding in (*_pilots(place, place.rivet), *_finals(place, place.rivet))
    )


def _pilots(place: Place, rivet: RivetSize) -> Iterator[Finding]:
    guide = place.guide_layer
    for layer in place.layers:
        if layer.size is HoleSize.PILOT and layer.layer != guide.layer:
            limit = pilot_offset_limit(_diameter(layer), place.final_diameter)
            yield from _judged(layer, guide, limit, rivet)


def _finals(place: Place, rivet: RivetSize) -> Iterator[Finding]:
    """The worst pair of each further hole; else three or more that have no room in common."""
    finals = [layer for layer in place.layers if layer.size is HoleSize.FINAL]
    found = []
    for number, layer in enumerate(finals[1:], start=1):
        limits = [
            (final_offset_limit(_diameter(layer), _diameter(o), rivet.shank_diameter), o)
            for o in finals[:number]
        ]
        # rounded, so that of two holes equally far the first layer's is named
        limit, other = min(limits, key=lambda pair: round(pair[0] - _apart(layer, pair[1]), 9))
        found += list(_judged(layer, other, limit, rivet))
    yield from found or _without_room(finals, rivet)


def _judged(
    layer: PlaceLayer, other: PlaceLayer, limit: float, rivet: RivetSize
) -> Iterator[Finding]:
    apart = _apart(layer, other)
    if apart > limit + SLACK:
        pilot = layer.size is HoleSize.PILOT
        yield Finding(
            layer.full_label,
            "offset.pilot" if pilot else "offset.final",
            Quantity.OFFSET,
            limit,
            apart,
            limit - apart,
            Verdict.FIGURE_EIGHT if pilot else Verdict.MISALIGNED,
            PILOT_SOURCE if pilot else FINAL_SOURCE,
            rivet.shank_diameter,
            other.full_label,
        )


def _without_room(finals: list[PlaceLayer], rivet: RivetSize) -> Iterator[Finding]:
    """Holes that let the shank through two by two, and not all together."""
    if len(finals) < 3:
        return
    play = [(_diameter(layer) - rivet.shank_diameter) / 2 for layer in finals]
    lacking = _lacking([layer.offset for layer in finals], play)
    if lacking > SLACK:
        limit = 2 * min(play)
        yield Finding(
            finals[-1].full_label,
            "offset.several",
            Quantity.OFFSET,
            limit,
            limit + 2 * lacking,
            -2 * lacking,
            Verdict.MISALIGNED,
            SEVERAL_SOURCE,
            rivet.shank_diameter,
            " and ".join(layer.full_label for layer in finals[:-1]),
        )


def _lacking(centres: list[Point], play: list[float]) -> float:
    """By how much [in] every circle of radius `play` has to grow for all to share a point."""
    if _share_a_point(centres, play, 0.0):
        return 0.0
    low, high = 0.0, max(math.dist(a, b) for a, b in combinations(centres, 2))
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if _share_a_point(centres, play, middle):
            high = middle
        else:
            low = middle
    return high


def _share_a_point(centres: list[Point], play: list[float], more: float) -> bool:
    """Whether circles have a point in common: the centre of one, or where two of them cross."""
    radii = [radius + more for radius in play]
    points = list(centres)
    for (a, r), (b, q) in combinations(list(zip(centres, radii, strict=True)), 2):
        points += _crossings(a, r, b, q)
    return any(
        all(
            math.dist(point, centre) <= radius + SLACK / 10
            for centre, radius in zip(centres, radii, strict=True)
        )
        for point in points
    )


def _crossings(a: Point, r: float, b: Point, q: float) -> list[Point]:
    apart = math.dist(a, b)
    if not abs(r - q) <= apart <= r + q or not apart:
        return []
    along = (apart**2 + r**2 - q**2) / (2 * apart)
    aside = math.sqrt(max(r**2 - along**2, 0.0))
    ux, uy = (b[0] - a[0]) / apart, (b[1] - a[1]) / apart
    x, y = a[0] + along * ux, a[1] + along * uy
    return [(x - aside * uy, y + aside * ux), (x + aside * uy, y - aside * ux)]


def _apart(layer: PlaceLayer, other: PlaceLayer) -> float:
    return math.dist(layer.offset, other.offset)


def _diameter(layer: PlaceLayer) -> float:
    return layer.diameter or 0.0
