"""Exact distances: from hole centres to the edges of a part, and from hole to hole.

Edge distance is measured on true lines and arcs, never on chords: 64 chords a circle err by
0.0007 in at a radius of 0.6 in, on the unsafe side at cut-outs. `tiles` sorts out which edges
come into question, the tree of shapely which holes do; whatever found them, the distances that
are returned are computed from the coordinates.

Distances that differ by no more than 1e-9 in count as equal, and the lower index wins. So the
same drawing, shifted, gets the same answers.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from holeschedule.errors import GeometryError
from holeschedule.geometry.edges import Edges, FloatArray, IntArray
from holeschedule.geometry.nearest import curves_of
from holeschedule.geometry.tiles import TIE, curve_order, nearest_edges

FARTHEST = 1e100
"""Squares of coordinates beyond this [in] overflow; no drawing is so large."""

HOLES_AT_ONCE = 4096
"""Holes whose neighbours are held in memory together."""

LOOK_ALONG = 4
"""Holes before and after it on the curve that say how near a hole's nearest one is at most."""


def edge_distances(centres: FloatArray, edges: Edges) -> tuple[FloatArray, IntArray]:
    """Distance from each hole centre to the nearest point of the nearest edge.

    Parameters
    ----------
    centres : (m, 2) array [in]
        Hole centres, inside the part or not. May be empty.
    edges : Edges [in]
        Lines and arcs of the same part, at least one. An edge of no length is a point.

    Returns
    -------
    (m,) array [in], (m,) array of indices
        Distances, never negative, never NaN; and the edge each was measured to, the lowest of
        those equally near.

    Raises
    ------
    GeometryError
        There is no edge, a number is not finite, or a radius is negative.

    Source
    ------
    Measured from the centre: NAVEDTRA 14018, "Spacing and Edge Distance".

    Examples
    --------
    >>> from holeschedule.geometry.edges import polygon_edges
    >>> sheet = polygon_edges(np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (0.0, 2.0)]))
    >>> edge_distances(np.array([(1.0, 0.25)]), sheet)
    (array([0.25]), array([0]))
    """
    centres = _checked(centres, "hole centre")
    _check_edges(edges)
    if not len(centres):
        return np.zeros(0), np.zeros(0, dtype=np.intp)
    return nearest_edges(centres, curves_of(edges))


def nearest_points(centres: FloatArray, edges: Edges, index: IntArray) -> FloatArray:
    """The point of a given edge that is nearest to each hole centre.

    Parameters
    ----------
    centres : (m, 2) array [in]
        Hole centres. May be empty.
    edges : Edges [in]
        Lines and arcs.
    index : (m,) array of indices
        The edge for each centre, as `edge_distances` gives it.

    Returns
    -------
    (m, 2) array [in]
        On the edge. From the centre of an arc every point of it is equally near: its start, in
        anticlockwise direction.

    Raises
    ------
    GeometryError
        There is no edge, a number is not finite, or a radius is negative.
    """
    centres = _checked(centres, "hole centre")
    _check_edges(edges)
    return curves_of(edges).nearest_points(centres[:, 0], centres[:, 1], index)


def coincident_pairs(centres: FloatArray, within: float) -> tuple[IntArray, IntArray]:
    """Every pair of points within a hair of each other; quick where there are few.

    Parameters
    ----------
    centres : (n, 2) array [in]
        Points.
    within : float [in]
        Small against the usual distance of points.

    Returns
    -------
    first, second : (k,) arrays
        first < second, sorted by first, then second.
    """
    pairs: set[tuple[int, int]] = set()
    # two points within a quarter of a cell share a cell of one of four grids half a cell apart
    cell = 4 * within
    for offset in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)):
        places = np.floor(centres / cell + offset).astype(np.int64)
        order = np.lexsort(places.T)
        same = np.all(places[order][1:] == places[order][:-1], axis=1)
        if not same.any():
            continue
        starts = np.flatnonzero(np.concatenate(([True], ~same)))
        for group in np.split(order, starts[1:]):
            if len(group) > 1:
                pairs.update(_close_in(centres, np.sort(group), within))
    found = np.array(sorted(pairs), dtype=np.intp).reshape(-1, 2)
    return found[:, 0], found[:, 1]


def _close_in(centres: FloatArray, group: IntArray, within: float) -> Iterator[tuple[int, int]]:
    first, second, _ = pairs_within(centres[group], within)
    return zip(group[first].tolist(), group[second].tolist(), strict=True)


def nearest_holes(centres: FloatArray) -> tuple[IntArray, FloatArray]:
    """The nearest other hole of each hole.

    Parameters
    ----------
    centres : (n, 2) array [in]
        Hole centres. May be empty.

    Returns
    -------
    (n,) array of indices, (n,) array [in]
        The lowest of the holes equally near, and the distance centre to centre: 0 where centres
        coincide; -1 and infinity where there is no other hole.

    Raises
    ------
    GeometryError
        A coordinate is not finite.
    """
    centres = _checked(centres, "hole centre")
    first, place = _distinct(centres)
    index, distance = _nearest_of_distinct(centres[first], first)
    index, distance = index[place], distance[place]
    if len(first) < len(centres):
        _match_twins(place, index, distance)
    return index, distance


def pairs_within(
    centres: FloatArray, radius: FloatArray | float
) -> tuple[IntArray, IntArray, FloatArray]:
    """Every pair of holes that one of the two has within its radius.

    Parameters
    ----------
    centres : (n, 2) array [in]
        Hole centres. May be empty.
    radius : (n,) array or float [in]
        How far each hole looks; the larger of the two counts. Exactly at the radius is within:
        compared with 1e-9 in slack.

    Returns
    -------
    (k,) array of indices, (k,) array of indices, (k,) array [in]
        The lower hole i, the higher hole j, and the distance centre to centre, in order of i,
        then j.

    Raises
    ------
    GeometryError
        A coordinate or a radius is not finite, or there is not one radius a hole.
    """
    centres = _checked(centres, "hole centre")
    reach = _radii(radius, len(centres))
    found = [(np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros(0))]
    if len(centres):
        order, _ = curve_order(centres)
        for one, other, apart in _neighbours(centres[order], reach[order]):
            i, j = order[one], order[other]
            # a pair that both holes see is taken as the lower one sees it
            told = (apart <= reach[i] + TIE) & ((i < j) | (apart > reach[j] + TIE)) & (i != j)
            i, j = i[told], j[told]
            found.append((np.minimum(i, j), np.maximum(i, j), apart[told]))
    i, j, apart = (np.concatenate(column) for column in zip(*found, strict=True))
    order = np.lexsort((j, i))
    return i[order], j[order], apart[order]


def _neighbours(
    points: FloatArray, reach: FloatArray
) -> Iterator[tuple[IntArray, IntArray, FloatArray]]:
    """Points, those within their reach (itself among them, some a little beyond), and how far.

    The tree is quick where points that follow each other lie together.
    """
    shapes = shapely.points(points)
    tree = shapely.STRtree(shapes)
    slack = 2 * TIE + 1e-14 * float(np.abs(points).max())
    looking = np.flatnonzero(reach + slack >= 0)
    for first in range(0, len(looking), HOLES_AT_ONCE):
        some = looking[first : first + HOLES_AT_ONCE]
        place, other = tree.query(shapes[some], "dwithin", reach[some] + slack)
        one = some[place]
        yield one, other, np.hypot(*(points[one] - points[other]).T)


def _nearest_of_distinct(points: FloatArray, label: IntArray) -> tuple[IntArray, FloatArray]:
    """Label of the nearest other point and how far; label -1 and infinity for a lone point."""
    n = len(points)
    index, distance = np.full(n, -1, dtype=np.intp), np.full(n, np.inf)
    if n < 2:
        return index, distance
    order, _ = curve_order(points)
    for one, other, apart in _neighbours(points[order], _at_most(points[order])):
        apart[one == other] = np.inf
        run = np.flatnonzero(np.diff(one, prepend=-1))
        least = np.minimum.reduceat(apart, run)
        tied = apart <= np.repeat(least + TIE, np.diff(run, append=len(one)))
        lowest = np.where(tied, label[order[other]], np.iinfo(np.intp).max)
        at = order[one[run]]
        index[at], distance[at] = np.minimum.reduceat(lowest, run), least
    return index, distance


def _at_most(points: FloatArray) -> FloatArray:
    """How far the nearest other point is at most: the nearest of the next few on the curve."""
    most = np.full(len(points), np.inf)
    for step in range(1, min(LOOK_ALONG, len(points) - 1) + 1):
        apart = np.hypot(*(points[step:] - points[:-step]).T)
        np.minimum(most[step:], apart, out=most[step:])
        np.minimum(most[:-step], apart, out=most[:-step])
    return most


def _distinct(centres: FloatArray) -> tuple[IntArray, IntArray]:
    """Lowest hole at each position, and which of these positions each hole has.

    Without this, n holes on one spot would have n² neighbours.
    """
    every = np.arange(len(centres))
    if not len(centres):
        return every, every
    _, on_curve = curve_order(centres)
    if (on_curve[1:] != on_curve[:-1]).all():
        return every, every
    _, first, place = np.unique(centres, axis=0, return_index=True, return_inverse=True)
    return first, place.reshape(-1)


def _match_twins(place: IntArray, index: IntArray, distance: FloatArray) -> None:
    """Set the answers of holes that share their position: distance 0, the lowest other hole."""
    by_place = np.argsort(place, kind="stable")
    first = np.flatnonzero(np.diff(place[by_place], prepend=-1))
    many = np.diff(first, append=len(place))
    lowest, second = by_place[first], by_place[np.minimum(first + 1, len(place) - 1)]
    for hole in np.flatnonzero(many[place] > 1).tolist():
        here = place[hole]
        twin = int(lowest[here] if lowest[here] != hole else second[here])
        near = distance[hole] <= TIE and index[hole] < twin
        index[hole], distance[hole] = index[hole] if near else twin, 0.0


def _checked(centres: FloatArray, what: str) -> FloatArray:
    """The positions as numbers; adding 0 makes -0.0, which sorts apart, plain 0."""
    centres = np.asarray(centres, dtype=np.float64).reshape(-1, 2) + 0.0
    bad = np.flatnonzero(~(np.abs(centres) <= FARTHEST).all(axis=1))
    if len(bad):
        x, y = centres[bad[0]]
        raise GeometryError(
            f"{what} {bad[0] + 1} of {len(centres)} at ({x:g}, {y:g}) in: not a finite "
            f"number within 1e100; expected finite coordinates. "
            f"Correct or delete it in the drawing."
        )
    return centres


def _check_edges(edges: Edges) -> None:
    if not len(edges):
        raise GeometryError(
            "no edges to measure to: the part has 0 lines and arcs; expected at least 1. "
            "Check that the outline was found."
        )
    numbers = np.column_stack((edges.start, edges.end, edges.centre, edges.radius, edges.sweep))
    good = (np.abs(numbers) <= FARTHEST).all(axis=1) & (edges.radius >= 0)
    if not good.all():
        i = int(np.argmin(good))
        x, y = edges.start[i]
        raise GeometryError(
            f"edge {i + 1} of {len(edges)} from ({x:g}, {y:g}) in, radius {edges.radius[i]:g} in, "
            f"sweep {edges.sweep[i]:g} rad: not a line or an arc; expected finite numbers and a "
            f"radius of 0 or more. Correct or delete it in the drawing."
        )


def _radii(radius: FloatArray | float, n: int) -> FloatArray:
    given = np.asarray(radius, dtype=np.float64)
    if given.ndim and given.shape != (n,):
        raise GeometryError(f"{given.size} radii for {n} holes; expected one for all, or one each.")
    bad = given[~(np.abs(given) <= FARTHEST)]
    if bad.size:
        raise GeometryError(f"radius {bad.flat[0]:g} in: not a length; expected a finite number.")
    return np.broadcast_to(given, (n,))
