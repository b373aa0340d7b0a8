"""From shapes to parts: outlines, cutouts, holes with their labels, and what is wrong."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np

from holeschedule.drawing.layers import LayerRoles
from holeschedule.drawing.notices import NoticeBoard
from holeschedule.drawing.site import Site
from holeschedule.errors import DrawingError
from holeschedule.geometry.distance import edge_distances
from holeschedule.geometry.edges import (
    BoolArray,
    FloatArray,
    IntArray,
    circle_edges,
    join_edges,
)
from holeschedule.geometry.loops import POLYGON_SAG, Loop, draw_polygons, measure_loops
from holeschedule.holes.find import SortedCircles, sort_circles
from holeschedule.holes.found import Found
from holeschedule.holes.labels import label_holes
from holeschedule.holes.nesting import NO_LOOP, Nesting, nest_loops
from holeschedule.holes.no_holes import no_holes
from holeschedule.holes.open_outline import (
    ON_EDGE,
    refuse_no_outline,
    refuse_open_outline,
)
from holeschedule.holes.part import Part
from holeschedule.holes.rows import find_rows
from holeschedule.holes.shapes import Shapes
from holeschedule.holes.telling import tell_found
from holeschedule.holes.trim import box_distance, lines_of_part
from holeschedule.model import Hole, Notice, Role, Row


def build_parts(
    shapes: Shapes,
    roles: LayerRoles,
    largest_hole: float,
    site: Site,
    board: NoticeBoard,
    told: tuple[Notice, ...],
) -> tuple[Part, ...]:
    """The parts of one drawing, from left to right.

    Parameters
    ----------
    largest_hole : float [in]
        Larger circles are cutouts.
    board, told : NoticeBoard, tuple of Notice
        Notices so far: in inches from the site's origin; on the drawing's own axes.

    Raises
    ------
    DrawingError
        No holes, no outline round them, an outline that is open or crosses itself.
    """
    found = _sort_out(shapes, roles, largest_hole, site, board, told)
    _refuse_crossing(found, board)
    tell_found(found, largest_hole, roles, board)
    parts = tuple(_part(found, number) for number in range(len(found.nesting.outlines)))
    notices = (*told, *(_on_axes(n, site) for n in board.notices()))
    return _with_notices(parts, notices)


# finding ---------------------------------------------------------------------------------------


def _sort_out(
    shapes: Shapes,
    roles: LayerRoles,
    largest_hole: float,
    site: Site,
    board: NoticeBoard,
    told: tuple[Notice, ...],
) -> Found:
    circles = shapes.circles
    kinds = sort_circles(circles, largest_hole)
    if not len(kinds.holes):
        raise no_holes(circles, kinds, largest_hole, site, (*told, *board.notices()))
    loops = (*shapes.loops, *_circle_loops(shapes, kinds))
    measure_loops(loops)
    centres = circles.centre[kinds.holes]
    nesting = _nest(loops, len(shapes.loops), centres, kinds, roles, board)
    if not nesting.outlines:
        refuse_no_outline(shapes, centres, site)
    refuse_open_outline(shapes, loops, centres, nesting, roles, site)
    return Found(shapes, kinds, loops, nesting, site)


def _circle_loops(shapes: Shapes, kinds: SortedCircles) -> list[Loop]:
    circles = shapes.circles
    edges = circle_edges(circles.centre[kinds.large], circles.diameter[kinds.large] / 2)
    return [
        Loop(edges.take(np.array([i])), shapes.layers[int(circles.layer[c])], circles.drawn_as[c])
        for i, c in enumerate(kinds.large.tolist())
    ]


def _nest(
    loops: tuple[Loop, ...],
    straight: int,
    centres: FloatArray,
    kinds: SortedCircles,
    roles: LayerRoles,
    board: NoticeBoard,
) -> Nesting:
    """Nest by the layers' roles; where those leave no outline, by geometry alone (told).

    `straight` is how many loops are no circles.
    """
    within = _inside_another(loops)
    ring = np.zeros(len(loops), dtype=bool)
    ring[straight:] = np.isin(kinds.large, kinds.round_hole)
    free = ~(ring & within)
    nesting = nest_loops(list(loops), centres, _may_own(loops, within, roles) & free)
    if nesting.outlines or any(roles.is_stated(loop.layer) for loop in loops):
        return nesting
    by_geometry = nest_loops(list(loops), centres, free)
    if by_geometry.outlines:
        text = "the layer names leave no outline round the holes: geometry alone was followed"
        board.add("layer.name-doubted", text)
    return by_geometry


def _may_own(loops: tuple[Loop, ...], within: BoolArray, roles: LayerRoles) -> BoolArray:
    """Loops that their layer lets be outlines.

    A layer called cutouts is believed only of a loop inside another, unless the user says it:
    "cutout" is also what some call the line that the part is cut along.
    """
    by_layer = {name: roles.role_of(name) for name in {loop.layer for loop in loops}}
    role = [by_layer[loop.layer] for loop in loops]
    outline = np.array([r is Role.OUTLINE for r in role], dtype=bool)
    if outline.any():
        return outline
    cutout = np.array([r is Role.CUTOUTS for r in role], dtype=bool)
    stated = np.array([roles.is_stated(loop.layer) for loop in loops], dtype=bool)
    return np.asarray(~(cutout & (within | stated)))


def _inside_another(loops: tuple[Loop, ...]) -> BoolArray:
    """(n,) whether the box of each loop lies in the box of a larger one."""
    import shapely  # noqa: PLC0415 - kept off the start of commands that read no drawing

    corners = np.array([loop.box for loop in loops]).reshape(-1, 4)
    boxes = shapely.box(*corners.T)
    inner, outer = shapely.STRtree(boxes).query(boxes, predicate="covered_by")
    inside = np.zeros(len(loops), dtype=bool)
    inside[inner[np.any(corners[inner] != corners[outer], axis=1)]] = True
    return inside


# checks ----------------------------------------------------------------------------


def _refuse_crossing(found: Found, board: NoticeBoard) -> None:
    import shapely  # noqa: PLC0415 - kept off the start of commands that read no drawing

    for outline in found.nesting.outlines:
        loop = found.loops[outline]
        _refuse_unclear(found, loop)
        if not loop.polygon.is_valid:
            at = _crossing(shapely.is_valid_reason(loop.polygon))
            raise DrawingError(
                f"{found.site.where}, layer {loop.layer}: the outline crosses or touches itself"
                f" near {found.site.place(*at)}. Correct the outline and export again."
            )
        _tell_crossing(loop, [found.loops[i] for i in found.nesting.cutouts[outline]], board)


def _refuse_unclear(found: Found, outline: Loop) -> None:
    import shapely  # noqa: PLC0415 - as above

    for at in found.shapes.unclear:
        if shapely.dwithin(outline.polygon.exterior, shapely.Point(at), ON_EDGE):
            raise DrawingError(
                f"{found.site.where}, layer {outline.layer}: more than two lines meet at"
                f" {found.site.place(*at)}, and either could be the edge. Leave the edge alone on"
                " its layer, and ignore the layer of the others with --layer NAME=ignored."
            )


def _tell_crossing(outline: Loop, cutouts: list[Loop], board: NoticeBoard) -> None:
    """Cutouts that cross themselves or the outline."""
    import shapely  # noqa: PLC0415 - as above

    cutouts = _not_clear(cutouts, outline)
    draw_polygons(cutouts)
    polygons = np.array([loop.polygon for loop in cutouts], dtype=object)
    rings = shapely.get_exterior_ring(polygons)
    rim = outline.polygon.exterior
    shapely.prepare(rim)
    # the chords of an arc stay clear of what the arc touches
    meeting = shapely.dwithin(rim, rings, 2 * POLYGON_SAG)
    valid = shapely.is_valid(polygons)
    for i in np.flatnonzero(~valid | meeting).tolist():
        if not valid[i]:
            at = _crossing(shapely.is_valid_reason(polygons[i]))
            text = "a cutout crosses or touches itself"
            board.add("cutout.crosses-itself", text, cutouts[i].layer, at)
        if meeting[i]:
            x, y = shapely.get_coordinates(shapely.shortest_line(rim, rings[i]))[0].tolist()
            text = "a cutout crosses or touches the outline"
            board.add("cutout.crosses-outline", text, cutouts[i].layer, (x, y))


def _not_clear(cutouts: list[Loop], outline: Loop) -> list[Loop]:
    """Cutouts but for the circles that keep clear of the outline: those cross nothing."""
    round_ones = [loop for loop in cutouts if len(loop.edges) == 1]
    if not round_ones:
        return cutouts
    circles = join_edges([loop.edges for loop in round_ones])
    distance, _ = edge_distances(circles.centre, outline.edges)
    clear = {
        id(loop)
        for loop, away in zip(round_ones, (distance - circles.radius).tolist(), strict=True)
        if away > POLYGON_SAG
    }
    return [loop for loop in cutouts if id(loop) not in clear]


def _crossing(reason: str) -> tuple[float, float]:
    """The place in shapely's words: 'Self-intersection[1.5 2.5]'."""
    numbers = re.findall(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?", reason)
    return (float(numbers[-2]), float(numbers[-1])) if len(numbers) > 1 else (0.0, 0.0)


def _on_axes(notice: Notice, site: Site) -> Notice:
    if notice.x is None or notice.y is None:
        return notice
    x, y = site.on_axes(notice.x, notice.y)
    return replace(notice, x=x, y=y)


def _with_notices(parts: tuple[Part, ...], notices: tuple[Notice, ...]) -> tuple[Part, ...]:
    """Each notice goes to the part it lies in or nearest to; without a place, to the first."""
    mine: list[list[Notice]] = [[] for _ in parts]
    for notice in notices:
        mine[_nearest_part(notice, parts)].append(notice)
    return tuple(
        replace(part, notices=(*part.notices, *own)) for part, own in zip(parts, mine, strict=True)
    )


def _nearest_part(notice: Notice, parts: tuple[Part, ...]) -> int:
    if notice.x is None or notice.y is None or len(parts) == 1:
        return 0
    at = np.array([notice.x, notice.y])
    away = [box_distance(part.outline, at - part.zero) for part in parts]
    return int(np.argmin(away))


# parts -----------------------------------------------------------------------------------------


def _part(found: Found, number: int) -> Part:
    nesting, kinds, circles = found.nesting, found.sorted, found.circles
    mine = _holes_of(found, number)
    centres = circles.centre[kinds.holes[mine]]
    diameters = circles.diameter[kinds.holes[mine]]
    rows, order = _ordered(find_rows(centres, diameters), len(mine))
    mine, centres = mine[order], centres[order]
    labels, order = _singles_in_order(label_holes(centres, rows), rows)
    mine, centres = mine[order], centres[order]
    outlines = [found.loops[i] for i in nesting.outlines]
    cutouts = nesting.cutouts[nesting.outlines[number]]
    in_metal = ~nesting.void[mine] & (nesting.owner[mine] != NO_LOOP)
    return Part(
        name=_part_name(Path(found.site.where).stem, number, len(nesting.outlines)),
        drawing=Path(found.site.where).name,
        unit=found.site.unit,
        origin=found.site.origin,
        outline=outlines[number],
        cutouts=tuple(found.loops[i] for i in cutouts),
        trim=lines_of_part(found.shapes.trim, outlines, number),
        bends=lines_of_part(found.shapes.bends, outlines, number),
        holes=_holes(found, mine, labels),
        centres=centres,
        in_metal=in_metal,
        rows=rows,
        notices=_missing_holes(rows, labels, centres, found.site),
    )


def _part_name(stem: str, number: int, parts: int) -> str:
    """The file's name as a part name that can stand in a selection: FL-101."""
    name = re.sub(r"[^\w.+-]+", "-", stem, flags=re.ASCII).strip("-.+").upper() or "PART"
    return name if parts == 1 else f"{name}.{number + 1}"


def _holes_of(found: Found, number: int) -> IntArray:
    """Places in `sorted.holes` of the holes of one part; stray holes go to the nearest."""
    nesting = found.nesting
    owner, centres = nesting.owner.copy(), found.centres
    for i in np.flatnonzero(owner == NO_LOOP).tolist():
        away = [box_distance(found.loops[o], centres[i]) for o in nesting.outlines]
        owner[i] = nesting.outlines[int(np.argmin(away))]
    return np.flatnonzero(owner == nesting.outlines[number])


def _ordered(rows: tuple[Row, ...], n: int) -> tuple[tuple[Row, ...], IntArray]:
    """Holes in the order of their labels: row by row, single holes last, in the order given."""
    in_rows = [i for row in rows for i in row.places]
    single: BoolArray = np.ones(n, dtype=bool)
    single[in_rows] = False
    order = np.array([*in_rows, *np.flatnonzero(single).tolist()], dtype=np.intp)
    placed, first = [], 0
    for row in rows:
        placed.append(replace(row, places=tuple(range(first, first + len(row.places)))))
        first += len(row.places)
    return tuple(placed), order


def _singles_in_order(
    labels: tuple[str, ...], rows: tuple[Row, ...]
) -> tuple[tuple[str, ...], IntArray]:
    """Labels in the order of their numbers, and the order that puts the holes in step."""
    in_rows = sum(len(row.places) for row in rows)
    singles = sorted(range(in_rows, len(labels)), key=lambda i: int(labels[i].lstrip("X")))
    order = np.array([*range(in_rows), *singles], dtype=np.intp)
    return tuple(labels[i] for i in order.tolist()), order


def _holes(found: Found, mine: IntArray, labels: tuple[str, ...]) -> tuple[Hole, ...]:
    circles, kinds, layers = found.circles, found.sorted, found.shapes.layers
    which = kinds.holes[mine]
    zero = np.array(found.site.on_axes(0.0, 0.0))
    at = (circles.centre[which] + zero).tolist()
    marks = [None if mark != mark else mark for mark in kinds.mark[mine].tolist()]  # noqa: PLR0124 - NaN
    return tuple(
        Hole(label, x, y, diameter, layers[layer], circles.drawn_as[i], residual, mark)
        for label, (x, y), diameter, layer, i, residual, mark in zip(
            labels,
            at,
            circles.diameter[which].tolist(),
            circles.layer[which].tolist(),
            which.tolist(),
            circles.residual[which].tolist(),
            marks,
            strict=True,
        )
    )


def _missing_holes(
    rows: tuple[Row, ...], labels: tuple[str, ...], centres: FloatArray, site: Site
) -> tuple[Notice, ...]:
    notices = []
    for row in rows:
        for after in row.missing:
            before = row.places[after - 1]
            beyond = row.places[after % len(row.places)]
            x, y = ((centres[before] + centres[beyond]) / 2).tolist()
            text = (
                f"a hole seems to be missing in row {row.letter}, between {labels[before]} and"
                f" {labels[beyond]}: the pitch there is a multiple of {site.length(row.pitch)}"
            )
            notices.append(_on_axes(Notice("row.missing-hole", text, None, x, y), site))
    return tuple(notices)
