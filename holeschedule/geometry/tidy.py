"""Loose edges made fit for chaining: nothing of no length, nothing drawn twice or overlapping."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray, line_edges

SHORTEST = 1e-6
"""Inches. What is shorter is a point, not an edge."""
SAME = 1e-4
"""Inches. Edges that keep within this of each other are one edge drawn twice."""


@dataclass(frozen=True, slots=True, eq=False)
class Tidied:
    """The edges that remain and, at their places [in], those that went.

    `kept` are indices into the edges given; a merged line or arc stands in the place of its
    first piece. `empty`, `doubled` and `overlapping` are (k,) indices of the edges that went.
    """

    edges: Edges
    kept: IntArray
    empty: IntArray
    doubled: IntArray
    overlapping: IntArray


def tidy_edges(edges: Edges, layer: IntArray, loose: BoolArray) -> Tidied:
    """Remove what is drawn twice from `edges`.

    Parameters
    ----------
    edges : Edges
        All edges [in].
    layer : (n,) array
        Edges of different layers may be different things: only those of one layer merge. An exact
        double goes whatever its layer.
    loose : (n,) array
        False for the edges of a closed polyline: they stay as they are, and a loose edge that
        repeats one of them goes.
    """
    empty = loose & (edges.lengths() <= SHORTEST)
    doubled = _doubled(edges, loose & ~empty, ~empty)
    once = loose & ~empty & ~doubled
    merged, overlapping = _merge_lines(edges, layer, once)
    merged, over_arcs = _merge_arcs(merged, layer, once)
    overlapping |= over_arcs
    kept = np.flatnonzero(~(empty | doubled | overlapping))
    return Tidied(
        merged.take(kept),
        kept,
        np.flatnonzero(empty),
        np.flatnonzero(doubled),
        np.flatnonzero(overlapping),
    )


def _doubled(edges: Edges, loose: BoolArray, present: BoolArray) -> BoolArray:
    """Which loose edges repeat an earlier edge, or one of a closed polyline."""
    doubled = np.zeros(len(edges), dtype=bool)
    if not len(edges):
        return doubled
    first = np.lexsort((loose, ~present))  # closed polylines first, then in the order drawn
    keys = _keys(edges)[first]
    order = np.lexsort((np.arange(len(first)), *keys.T))
    same = np.zeros(len(first), dtype=bool)
    same[1:] = np.all(keys[order][1:] == keys[order][:-1], axis=1)
    doubled[first[order[same]]] = True
    return doubled & loose


def _keys(edges: Edges) -> IntArray:
    """Whole numbers that are equal for edges with the same ends and the same middle."""
    ends = np.stack((edges.start, edges.end), axis=1)
    cells = _cells(ends)
    swap = (cells[:, 0, 0] > cells[:, 1, 0]) | (
        (cells[:, 0, 0] == cells[:, 1, 0]) & (cells[:, 0, 1] > cells[:, 1, 1])
    )
    cells[swap] = cells[swap][:, ::-1]
    return np.column_stack((cells.reshape(-1, 4), _cells(edges.points_at(0.5))))


def _cells(points: FloatArray) -> IntArray:
    # the odd offset keeps round coordinates away from the border between two cells
    return np.floor(points / SAME + 0.31830988).astype(np.intp)


def _merge_lines(edges: Edges, layer: IntArray, loose: BoolArray) -> tuple[Edges, BoolArray]:
    """Lines of one layer that overlap on one straight line become one line."""
    gone = np.zeros(len(edges), dtype=bool)
    lines = np.flatnonzero(loose & ~edges.is_arc)
    if len(lines) < 2:
        return edges, gone
    start, end = edges.start.copy(), edges.end.copy()
    for group in _collinear_groups(edges, layer, lines):
        for longest, covered in _merged(start, end, group):
            gone[covered] = True
            start[longest[0]], end[longest[0]] = longest[1], longest[2]
    lines_now = line_edges(start, end)
    arc = edges.is_arc[:, None]
    return (
        Edges(
            np.where(arc, edges.start, lines_now.start),
            np.where(arc, edges.end, lines_now.end),
            np.where(arc, edges.centre, lines_now.centre),
            edges.radius,
            edges.sweep,
        ),
        gone,
    )


def _collinear_groups(edges: Edges, layer: IntArray, lines: IntArray) -> list[IntArray]:
    """Groups of two lines or more on (nearly) the same straight line."""
    start, way = edges.start[lines], edges.end[lines] - edges.start[lines]
    angle = np.arctan2(way[:, 1], way[:, 0]) % np.pi
    angle = np.where(angle > np.pi - 1e-5, angle - np.pi, angle)
    offset = start[:, 1] * np.cos(angle) - start[:, 0] * np.sin(angle)
    order = np.lexsort((offset, np.round(angle, 4), layer[lines]))
    new = np.ones(len(lines), dtype=bool)
    new[1:] = (
        (np.diff(layer[lines][order]) != 0)
        | (np.abs(np.diff(np.round(angle, 4)[order])) > 0)
        | (np.diff(offset[order]) > SAME)
    )
    groups = np.split(lines[order], np.flatnonzero(new)[1:])
    return [np.sort(group) for group in groups if len(group) > 1]


Merge = tuple[tuple[int, FloatArray, FloatArray], list[int]]


def _merged(start: FloatArray, end: FloatArray, group: IntArray) -> list[Merge]:
    """Runs of overlapping lines: ((the line that stays, its new ends), those that go)."""
    base, way = start[group[0]], end[group[0]] - start[group[0]]
    way = way / np.hypot(*way)
    a, b = (start[group] - base) @ way, (end[group] - base) @ way
    low, high = np.minimum(a, b), np.maximum(a, b)
    points_low = np.where((a <= b)[:, None], start[group], end[group])
    points_high = np.where((a <= b)[:, None], end[group], start[group])
    merges: list[Merge] = []
    run: list[int] = []
    reach = -np.inf
    for i in [*np.argsort(low, kind="stable").tolist(), -1]:
        if i >= 0 and low[i] < reach - SAME:
            run.append(i)
            reach = max(reach, high[i])
            continue
        if len(run) > 1:
            first, last = run[0], max(run, key=lambda j: high[j])
            stay = min(int(group[j]) for j in run)
            gone = [int(group[j]) for j in run if int(group[j]) != stay]
            merges.append(((stay, points_low[first], points_high[last]), gone))
        if i >= 0:
            run, reach = [i], high[i]
    return merges


def _merge_arcs(edges: Edges, layer: IntArray, loose: BoolArray) -> tuple[Edges, BoolArray]:
    """Arcs of one layer that overlap on one circle become one arc, or the circle."""
    gone = np.zeros(len(edges), dtype=bool)
    arcs = np.flatnonzero(loose & edges.is_arc)
    if len(arcs) < 2:
        return edges, gone
    onward = edges.reversed_where(edges.sweep < 0)
    start, end, sweep = edges.start.copy(), edges.end.copy(), edges.sweep.copy()
    for group in _one_circle_groups(edges, layer, arcs):
        for run, last, turn in _overlapping_arcs(onward.take(group)):
            stay, first = int(group[run].min()), int(group[run[0]])
            gone[group[run]] = True
            gone[stay] = False
            start[stay], sweep[stay] = onward.start[first], turn
            end[stay] = onward.start[first] if turn == 2 * np.pi else onward.end[group[last]]
    return replace(edges, start=start, end=end, sweep=sweep), gone


def _one_circle_groups(edges: Edges, layer: IntArray, arcs: IntArray) -> list[IntArray]:
    """Groups of two arcs or more of the same centre and radius."""
    circle = _cells(np.column_stack((edges.centre, edges.radius))[arcs])
    keys = np.column_stack((layer[arcs], circle))
    order = np.lexsort(keys.T)
    new = np.append(True, np.any(np.diff(keys[order], axis=0) != 0, axis=1))
    groups = np.split(arcs[order], np.flatnonzero(new)[1:])
    return [np.sort(group) for group in groups if len(group) > 1]


def _overlapping_arcs(arcs: Edges) -> list[tuple[IntArray, int, float]]:
    """Runs of overlapping arcs of one circle, all of them counter-clockwise.

    For each its members from the first on, the one that reaches farthest, and the turn of them
    all [rad], 2π where they make the circle.
    """
    radial = arcs.start - arcs.centre
    first = np.arctan2(radial[:, 1], radial[:, 0])
    slack = SAME / float(arcs.radius.max())
    order = np.argsort(first, kind="stable")
    # twice round, so that an arc over the place where angles jump covers those after it
    at = np.concatenate((first[order], first[order] + 2 * np.pi))
    reach = np.maximum.accumulate(at + np.tile(arcs.sweep[order], 2))
    begins = np.flatnonzero(at[len(order) :] >= reach[len(order) - 1 : -1] - slack)
    turns = float(arcs.sweep.sum()) / (2 * np.pi)
    if not len(begins):
        # two circles on one spot, each in pieces of its own, are no overlap but a hole drawn twice
        twice = abs(turns - round(turns)) <= slack
        return [] if twice else [(order, int(order[-1]), 2 * np.pi)]
    runs = np.split(np.roll(order, -begins[0]), begins[1:] - begins[0])
    found = []
    for run in runs:
        far = (first[run] - first[run[0]]) % (2 * np.pi) + arcs.sweep[run]
        turn = float(far.max())
        whole = turn > 2 * np.pi - slack
        if len(run) > 1:
            found.append((run, int(run[far.argmax()]), 2 * np.pi if whole else turn))
    return found
