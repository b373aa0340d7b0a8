"""Notices about what was found: circles, closed lines and open ones that are no hole or edge."""

from __future__ import annotations

import numpy as np

from holeschedule.drawing.layers import LayerRoles
from holeschedule.drawing.notices import NoticeBoard
from holeschedule.drawing.site import Site
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.geometry.loops import Loop
from holeschedule.holes.find import smallest_drill
from holeschedule.holes.found import Found
from holeschedule.holes.nesting import NO_LOOP
from holeschedule.holes.open_outline import ON_EDGE, open_gap
from holeschedule.holes.trim import tell_beyond_trim
from holeschedule.model import Role

NEARLY_ROUND = 0.9
"""Roundness of a small closed line that may have been meant as a hole: a hexagon has 0.907."""


def tell_found(found: Found, largest_hole: float, roles: LayerRoles, board: NoticeBoard) -> None:
    """Note every decision about circles and lines; `largest_hole` [in]."""
    _tell_circles(found, largest_hole, roles, board)
    _tell_not_round(found, largest_hole, roles, board)
    _tell_loops(found, board)
    _tell_strokes(found, board)
    tell_beyond_trim(found, board)


def _tell_circles(found: Found, largest_hole: float, roles: LayerRoles, board: NoticeBoard) -> None:
    kinds, circles, layers = found.sorted, found.circles, found.shapes.layers

    def tell(code: str, text: str, which: IntArray) -> None:
        for i in which.tolist():
            x, y = circles.centre[i].tolist()
            board.add(code, text, layers[int(circles.layer[i])], (x, y))

    text = f"a circle smaller than {smallest_drill_told(found.site)}, is no hole and was left out"
    tell("hole.too-small", text, kinds.tiny)
    tell("hole.doubled", "a circle drawn twice was taken once", kinds.doubled)
    tell("circle.mark", "a circle round a hole was taken as its countersink mark", kinds.marks)
    cutouts = kinds.large[_large_cutouts(found)]
    text = "a circle round a hole fits no flush head and was taken as a cutout"
    tell("circle.round-hole", text, cutouts[np.isin(cutouts, kinds.round_hole)])
    holes_layer = np.array([roles.role_of(name) is Role.HOLES for name in layers], dtype=bool)
    size = found.site.length(largest_hole)
    text = f"a circle on a layer of holes is larger than the largest hole ({size}): a cutout"
    plain = cutouts[~np.isin(cutouts, kinds.round_hole)]
    tell("circle.large", text, plain[holes_layer[circles.layer[plain]]])


def _large_cutouts(found: Found) -> BoolArray:
    """Which of the large circles, that came last among the loops, are cutouts of a part."""
    is_cutout = np.zeros(len(found.loops), dtype=bool)
    for cutouts in found.nesting.cutouts.values():
        is_cutout[list(cutouts)] = True
    return is_cutout[len(found.shapes.loops) :]


def _tell_not_round(
    found: Found, largest_hole: float, roles: LayerRoles, board: NoticeBoard
) -> None:
    """Closed lines that may have been meant as holes: by their layer, or nearly round and small."""
    loops = found.shapes.loops
    of_holes = {n for n in {loop.layer for loop in loops} if roles.role_of(n) is Role.HOLES}
    for loop in loops:
        x0, y0, x1, y1 = loop.box
        small = max(x1 - x0, y1 - y0) <= largest_hole
        if loop.layer in of_holes or (small and _roundness(loop) >= NEARLY_ROUND):
            text = "a closed line is no circle to a thousandth of an inch, so no hole"
            board.add("hole.not-round", text, loop.layer, ((x0 + x1) / 2, (y0 + y1) / 2))


def _roundness(loop: Loop) -> float:
    """Area over that of a circle with the same circumference: 1 for a circle."""
    around = float(loop.edges.lengths().sum())
    return 4 * np.pi * loop.area / around**2


def _tell_loops(found: Found, board: NoticeBoard) -> None:
    nesting, loops = found.nesting, found.loops
    for code, text, which in (
        ("loop.frame", "a closed line round the part was taken as a frame", nesting.frames),
        ("loop.in-cutout", "a closed line inside a cutout was left out", nesting.islands),
        ("loop.no-holes", "a closed line without holes was left out", nesting.idle),
    ):
        for i in which:
            x, y = loops[i].edges.start[0].tolist()
            board.add(code, text, loops[i].layer, (x, y))
    centres = found.centres
    for i in np.flatnonzero(nesting.owner == NO_LOOP).tolist():
        x, y = centres[i].tolist()
        text = "a hole outside every outline was given to the nearest part"
        layer = found.shapes.layers[int(found.circles.layer[found.sorted.holes[i]])]
        board.add("hole.outside", text, layer, (x, y))


def _tell_strokes(found: Found, board: NoticeBoard) -> None:
    shapes = found.shapes
    across = _across(found)
    nearly: dict[str, list[tuple[float, float, float]]] = {}
    for chain, length in zip(shapes.strokes, shapes.stroke_lengths.tolist(), strict=True):
        first = int(chain.members[0])
        x, y = shapes.stroke_edges.start[first].tolist()
        gap = open_gap(chain, length)
        if gap is not None:
            nearly.setdefault(shapes.stroke_layers[first], []).append((gap, x, y))
        elif first not in across:
            text = "an open line is no edge and was left out"
            board.add("line.open", text, shapes.stroke_layers[first], (x, y))
    for layer, gaps in nearly.items():
        gap, x, y = min(gaps)
        size = found.site.length(gap)
        text = f"a line that closes but for a gap of {size} was left out"
        if len(gaps) > 1:
            text = f"{len(gaps):,} lines that close but for a gap were left out, here one of {size}"
        board.add("gap.left", text, layer, (x, y))
    _tell_inner(found, across, board)


def _tell_inner(found: Found, across: set[int], board: NoticeBoard) -> None:
    """Lines that join corners of an outline, and those that run right across a part."""
    shapes = found.shapes
    inner = sorted(set(shapes.inner.tolist()) - across)
    for code, text, which in (
        (
            "line.inner",
            "a line that joins corners of an outline was taken for no edge and left out",
            inner,
        ),
        (
            "line.across",
            "a line right across the part, with holes on both sides, was taken for no edge",
            sorted(across),
        ),
    ):
        middles = shapes.stroke_edges.take(np.array(which, dtype=np.intp)).points_at(0.5)
        for i, (x, y) in zip(which, middles.tolist(), strict=True):
            board.add(code, text, shapes.stroke_layers[i], (x, y))


def _across(found: Found) -> set[int]:
    """Straight lines, no edges, from edge to edge of a part that has holes on both sides."""
    import shapely  # noqa: PLC0415 - kept off the start of commands that read no drawing

    shapes = found.shapes
    alone = [int(chain.members[0]) for chain in shapes.strokes if len(chain.members) == 1]
    numbers = np.array([*alone, *shapes.inner.tolist()], dtype=np.intp)
    lines = shapes.stroke_edges.take(numbers)
    across: set[int] = set()
    for outline in found.nesting.outlines:
        polygon = found.loops[outline].polygon
        shapely.prepare(polygon)
        inside = ~lines.is_arc & shapely.contains_xy(polygon, *lines.points_at(0.5).T)
        rim = polygon.exterior
        for end in (lines.start, lines.end):
            inside &= shapely.dwithin(rim, shapely.points(end), ON_EDGE)
        centres = found.centres[found.nesting.owner == outline]
        for i in np.flatnonzero(inside).tolist():
            side = _beside(lines.start[i], lines.end[i], centres)
            if side.min(initial=0.0) < -ON_EDGE and side.max(initial=0.0) > ON_EDGE:
                across.add(int(numbers[i]))
    return across


def _beside(start: FloatArray, end: FloatArray, points: FloatArray) -> FloatArray:
    """(n,) array [in]: how far points lie to the left of a straight line, less than 0: right."""
    (dx, dy), offset = (end - start) / np.hypot(*(end - start)), points - start
    return np.asarray(dx * offset[:, 1] - dy * offset[:, 0])


def smallest_drill_told(site: Site) -> str:
    """Name the drill that no hole is smaller than: 'the smallest drill, #80 (0.0135 in)'."""
    drill = smallest_drill()
    return f"the smallest drill, {drill.size} ({site.length(drill.diameter)})"
