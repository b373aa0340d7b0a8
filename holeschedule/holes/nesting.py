"""Which closed loop is the outline of which holes, which are cutouts, which are a sheet frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.geometry.loops import Loop, draw_polygons

NO_LOOP = -1
SLIVER = 1e-4
"""Inches. Loops that overlap by less than this width only touch."""


@dataclass(frozen=True, slots=True, eq=False)
class Nesting:
    """The answer, in indices of the loops and circles given.

    `outlines` are loops that are the outline of a part, from left to right, then from below;
    `owner` (n,) is for each hole the outline it belongs to, `NO_LOOP` where none encloses it;
    `void` (n,) is True for a hole whose centre is in a cutout. `cutouts` has the cutouts of each
    outline; `frames` are loops round an outline; `islands` lie in a cutout; `idle` hold nothing.
    """

    outlines: tuple[int, ...]
    owner: IntArray
    void: BoolArray
    cutouts: dict[int, tuple[int, ...]]
    frames: tuple[int, ...]
    islands: tuple[int, ...]
    idle: tuple[int, ...]


def nest_loops(loops: list[Loop], centres: FloatArray, may_own: BoolArray) -> Nesting:
    """Find outlines: the smallest loops that enclose holes directly.

    Parameters
    ----------
    loops : list of Loop
        Closed loops that are not holes.
    centres : (n, 2) array [in]
        Hole centres.
    may_own : (k,) array
        False for a loop that a layer's role, or a hole in its middle, says is no outline.

    Notes
    -----
    Where one such loop lies directly in another, the one with more holes is the part: the outer
    is a frame if it has fewer, the inner a cutout otherwise.
    """
    parents = _parents(loops)
    direct = _smallest_loop(loops, centres)
    climb = [_climb(i, parents, may_own) for i in range(len(loops))]
    owner = np.array([climb[i] if i != NO_LOOP else NO_LOOP for i in direct], dtype=np.intp)
    counts = np.bincount(owner[owner != NO_LOOP], minlength=len(loops))
    outlines = _outlines(loops, parents, counts)
    final = np.array([_owner_of(i, parents, outlines) for i in range(len(loops))], dtype=np.intp)
    hole_owner = np.array([final[i] if i != NO_LOOP else NO_LOOP for i in owner], dtype=np.intp)
    void = (hole_owner != NO_LOOP) & (direct != hole_owner)
    return _sorted_out(loops, parents, outlines, hole_owner, void)


def _parents(loops: list[Loop]) -> list[int]:
    """For each loop the smallest larger loop that contains it, `NO_LOOP` for none."""
    import shapely  # noqa: PLC0415 - kept off the start of commands that read no drawing

    parent = np.full(len(loops), NO_LOOP)
    if len(loops) < 2:
        return parent.tolist()
    boxes = shapely.box(*np.array([loop.box for loop in loops]).T)
    areas = np.array([loop.area for loop in loops])
    outer, inner = shapely.STRtree(boxes).query(boxes)
    larger = areas[outer] > areas[inner]
    outer, inner = outer[larger], inner[larger]
    if not len(inner):
        return parent.tolist()
    # loops come from large to small, so that the last to hold another is the smallest
    order = np.lexsort((outer, -areas[outer]))
    outer, inner = outer[order], inner[order]
    draw_polygons([loops[i] for i in sorted(set(inner.tolist())) if len(loops[i].edges) > 1])
    starts = np.flatnonzero(np.diff(outer, prepend=-1))
    for start, group in zip(starts.tolist(), np.split(inner, starts[1:]), strict=True):
        loop = int(outer[start])
        points = np.array([_inner_point(loops[i]) for i in group.tolist()])
        parent[group[loops[loop].holds(points)]] = loop
    return parent.tolist()


def _inner_point(loop: Loop) -> tuple[float, float]:
    """A point inside a loop: the centre of a circle, else what shapely finds."""
    if len(loop.edges) == 1:
        x, y = loop.edges.centre[0].tolist()
        return x, y
    point = loop.polygon.representative_point()
    return point.x, point.y


def _smallest_loop(loops: list[Loop], centres: FloatArray) -> IntArray:
    """For each centre the smallest loop that contains it, `NO_LOOP` for none."""
    found = np.full(len(centres), NO_LOOP)
    order = np.argsort(centres[:, 0], kind="stable")
    boxes = np.array([loop.box for loop in loops]).reshape(-1, 4)
    first = np.searchsorted(centres[order, 0], boxes[:, 0], side="left").tolist()
    last = np.searchsorted(centres[order, 0], boxes[:, 2], side="right").tolist()
    for i in sorted(range(len(loops)), key=lambda i: -loops[i].area):
        near = order[first[i] : last[i]]
        if len(near):
            found[near[loops[i].holds(centres[near])]] = i
    return found


def _climb(loop: int, parents: list[int], may_own: BoolArray) -> int:
    """The nearest loop from `loop` outwards that may be an outline."""
    while loop != NO_LOOP and not may_own[loop]:
        loop = parents[loop]
    return loop


def _outlines(loops: list[Loop], parents: list[int], counts: IntArray) -> set[int]:
    """Loops with holes of their own, settled where one lies directly in another."""
    owners = {i for i in range(len(loops)) if counts[i]}
    for outer in sorted(owners, key=lambda i: -loops[i].area):
        inner = [i for i in owners if parents[i] == outer]
        if not inner or outer not in owners:
            continue
        if max(counts[i] for i in inner) > counts[outer]:
            owners.discard(outer)
        else:
            owners.difference_update(inner)
    return owners


def _owner_of(loop: int, parents: list[int], outlines: set[int]) -> int:
    while loop != NO_LOOP and loop not in outlines:
        loop = parents[loop]
    return loop


def _sorted_out(
    loops: list[Loop],
    parents: list[int],
    outlines: set[int],
    owner: IntArray,
    void: BoolArray,
) -> Nesting:
    cutouts: dict[int, list[int]] = {i: [] for i in outlines}
    frames, islands, idle = [], [], []
    around = {p for i in outlines for p in _ancestors(i, parents)}
    for i in range(len(loops)):
        if i in outlines:
            continue
        if parents[i] in outlines:
            cutouts[parents[i]].append(i)
        elif _owner_of(i, parents, outlines) != NO_LOOP:
            islands.append(i)
        elif i in around:
            frames.append(i)
        elif (outline := _overlapped(loops, i, outlines)) is not None:
            cutouts[outline].append(i)
        else:
            idle.append(i)
    ordered = tuple(sorted(outlines, key=lambda i: _place(loops[i])))
    for found in cutouts.values():
        found.sort(key=lambda i: _place(loops[i]))
    return Nesting(
        ordered,
        owner,
        void,
        {i: tuple(found) for i, found in cutouts.items()},
        tuple(frames),
        tuple(islands),
        tuple(idle),
    )


def _overlapped(loops: list[Loop], loop: int, outlines: set[int]) -> int | None:
    """The outline that a loop cuts into from outside: a notch drawn over the edge."""
    import shapely  # noqa: PLC0415 - as above

    x0, y0, x1, y1 = loops[loop].box
    for outline in sorted(outlines):
        left, below, right, above = loops[outline].box
        if x0 >= right or x1 <= left or y0 >= above or y1 <= below:
            continue
        polygon = shapely.make_valid(loops[loop].polygon)
        metal = shapely.make_valid(loops[outline].polygon)
        if shapely.intersects(metal, polygon):
            shared = shapely.intersection(metal, polygon)
            if shared.area > SLIVER * shared.length:
                return outline
    return None


def _ancestors(loop: int, parents: list[int]) -> list[int]:
    found = []
    while (loop := parents[loop]) != NO_LOOP:
        found.append(loop)
    return found


def _place(loop: Loop) -> tuple[int, int]:
    """From left to right, then from below; coarse, so that rounding does not change the order."""
    x0, y0, _, _ = loop.box
    return int(np.floor(x0 / 0.01 + 0.31830988)), int(np.floor(y0 / 0.01 + 0.31830988))
