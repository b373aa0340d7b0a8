"""What a drawing's entities are: closed loops, circles, bend and trim lines, open strokes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from holeschedule.drawing.drawn import LOOSE, Drawn
from holeschedule.drawing.layers import LayerRoles
from holeschedule.drawing.notices import NoticeBoard
from holeschedule.geometry.circles import FittedCircle, circles_of_loops
from holeschedule.geometry.edges import (
    BoolArray,
    Edges,
    FloatArray,
    IntArray,
)
from holeschedule.geometry.loops import POLYGON_SAG, Loop, chord_points, measure_loops
from holeschedule.geometry.outline import Chained, OpenChain, chain_edges
from holeschedule.geometry.tidy import SHORTEST, Tidied, tidy_edges
from holeschedule.holes.find import Circles
from holeschedule.model import Role

ROUND = 0.001
"""Inches a curve may leave a circle and still be that circle: drills wander more."""
SAME_LOOP = 1e-4
"""Inches by which the boxes of a loop drawn twice may differ."""


@dataclass(frozen=True, slots=True, eq=False)
class Shapes:
    """Everything drawn, by shape [in from origin]. Compared by identity.

    `loops` are closed and no circles; `strokes` the open chains that are no bend or trim line;
    `inner` lines that join corners of a loop. `stroke_edges` are the edges that `inner` and the
    members of `strokes` point into, `stroke_lengths` [in] is in step with `strokes`. `unclear`
    are places from which two lines, neither straight across, could be the edge.
    """

    loops: tuple[Loop, ...]
    circles: Circles
    bends: Edges
    trim: Edges
    strokes: tuple[OpenChain, ...]
    stroke_lengths: FloatArray
    inner: IntArray
    stroke_edges: Edges
    stroke_layers: tuple[str, ...]
    unclear: tuple[tuple[float, float], ...]
    layers: tuple[str, ...]


def find_shapes(
    drawn: Drawn, layers: tuple[str, ...], roles: LayerRoles, gap: float, board: NoticeBoard
) -> Shapes:
    """Sort what is drawn [in] by role and shape; notices go to `board`."""
    by_layer = [roles.role_of(name) for name in layers]
    _tell_ignored(drawn, layers, by_layer, board)
    edge_role = np.array([_CODE[role] for role in by_layer])[drawn.edge_layer]
    plain = ~np.isin(edge_role, [_CODE[Role.IGNORED], _CODE[Role.BEND], _CODE[Role.TRIM]])
    loops, chained, edges, names = _loops_and_strokes(drawn, plain, layers, gap, board)
    measure_loops(loops)
    loops = _with_extent(loops, board)
    fitted = circles_of_loops([_closed(loop.edges) for loop in loops], ROUND)
    circles = _circles(drawn, layers, by_layer, roles, loops, fitted, board)
    other = [loop for loop, circle in zip(loops, fitted, strict=True) if circle is None]
    return Shapes(
        loops=tuple(_without_doubles(other, board)),
        circles=circles,
        bends=_lines(drawn, edge_role == _CODE[Role.BEND], layers, board),
        trim=_lines(drawn, edge_role == _CODE[Role.TRIM], layers, board),
        strokes=chained.open,
        stroke_lengths=_lengths(chained.open, edges),
        inner=chained.inner,
        stroke_edges=edges,
        stroke_layers=names,
        unclear=chained.unclear,
        layers=layers,
    )


_CODE: dict[Role | None, int] = {role: i for i, role in enumerate((None, *Role))}


def _tell_ignored(
    drawn: Drawn, layers: tuple[str, ...], by_layer: list[Role | None], board: NoticeBoard
) -> None:
    count = np.bincount(
        np.concatenate((drawn.edge_layer, drawn.circle_layer)), minlength=len(layers)
    )
    for layer, role, n in zip(layers, by_layer, count.tolist(), strict=True):
        if n and role is Role.IGNORED:
            board.add("layer.ignored", f"{n:,} lines and curves of an ignored layer", layer)


def _with_extent(loops: list[Loop], board: NoticeBoard) -> list[Loop]:
    """Closed loops that are more than a point."""
    kept = []
    for loop in loops:
        x0, y0, x1, y1 = loop.box
        if max(x1 - x0, y1 - y0) > SHORTEST:
            kept.append(loop)
        else:
            _tell_flat(loop, board)
    return kept


def _tell_flat(loop: Loop, board: NoticeBoard) -> None:
    x, y = loop.edges.start[0].tolist()
    board.add("loop.flat", "a closed line without area was left out", loop.layer, (x, y))


def _lines(drawn: Drawn, chosen: BoolArray, layers: tuple[str, ...], board: NoticeBoard) -> Edges:
    """Bend or trim lines: what has a length."""
    empty = chosen & (drawn.edges.lengths() <= SHORTEST)
    text = "a line or arc of no length was left out"
    _tell_edges("line.empty", text, np.flatnonzero(empty), drawn, layers, board)
    return drawn.edges.take(chosen & ~empty)


def _lengths(chains: tuple[OpenChain, ...], edges: Edges) -> FloatArray:
    if not chains:
        return np.zeros(0)
    first = np.cumsum([0, *(len(chain.members) for chain in chains)])[:-1]
    each = edges.lengths()[np.concatenate([chain.members for chain in chains])]
    return np.asarray(np.add.reduceat(each, first))


# loops and strokes -----------------------------------------------------------------------------


def _loops_and_strokes(
    drawn: Drawn, plain: BoolArray, layers: tuple[str, ...], gap: float, board: NoticeBoard
) -> tuple[list[Loop], Chained, Edges, tuple[str, ...]]:
    """Closed loops; what is left open, with the edges and layers that its numbers point into."""
    whole = np.array([*drawn.closed, False], dtype=bool)[drawn.chain]  # LOOSE is the last: False
    chosen = np.flatnonzero(plain)
    tidied = tidy_edges(drawn.edges.take(chosen), drawn.edge_layer[chosen], ~whole[chosen])
    _tell_tidied(tidied, drawn, chosen, layers, board)
    kept = chosen[tidied.kept]
    loops = _closed_chains(drawn, plain, layers)
    loose = np.flatnonzero(~whole[kept])
    edges = tidied.edges.take(loose)
    names = tuple(layers[i] for i in drawn.edge_layer[kept[loose]].tolist())
    chained = chain_edges(edges, gap)
    _tell_chained(chained, board)
    for number, (members, _) in enumerate(chained.loops):
        kind = "line or arc" if len(members) > 1 else "arc"
        loops.append(Loop(chained.loop_edges(edges, number), names[members[0]], kind))
    return loops, chained, edges, names


def _tell_chained(chained: Chained, board: NoticeBoard) -> None:
    if chained.gaps:
        widest = max(chained.gaps, key=lambda gap: gap.size)
        text = f"a gap of {widest.size:.4f} in was closed"
        if len(chained.gaps) > 1:
            text = f"{len(chained.gaps):,} gaps were closed, the widest, {widest.size:.4f} in, here"
        board.add("gap.joined", text, None, widest.at)
    for at in chained.branches:
        text = "more than two lines meet in a corner: the outermost were taken as the edge"
        board.add("line.branch", text, None, at)


def _closed(edges: Edges) -> Edges:
    """A loop whose joined gaps are closed: a circle with a gap in it is a circle all the same."""
    return replace(edges, end=np.roll(edges.start, -1, axis=0))


def _closed_chains(drawn: Drawn, plain: BoolArray, layers: tuple[str, ...]) -> list[Loop]:
    loops: list[Loop] = []
    order = np.flatnonzero(plain & (drawn.chain != LOOSE))
    if not len(order):
        return loops
    chain = drawn.chain[order]
    starts = np.flatnonzero(np.diff(chain, prepend=-2))
    for members in np.split(order, starts[1:]):
        number = int(drawn.chain[members[0]])
        if drawn.closed[number]:
            layer = layers[int(drawn.edge_layer[members[0]])]
            loops.append(Loop(drawn.edges.take(members), layer, drawn.kinds[number]))
    return loops


def _tell_tidied(
    tidied: Tidied, drawn: Drawn, chosen: IntArray, layers: tuple[str, ...], board: NoticeBoard
) -> None:
    for code, text, gone in (
        ("line.empty", "a line or arc of no length was left out", tidied.empty),
        ("line.doubled", "a line or arc drawn twice was taken once", tidied.doubled),
        ("line.overlap", "overlapping lines or arcs were taken as one", tidied.overlapping),
    ):
        _tell_edges(code, text, chosen[gone], drawn, layers, board)


def _tell_edges(
    code: str, text: str, which: IntArray, drawn: Drawn, layers: tuple[str, ...], board: NoticeBoard
) -> None:
    for i in which.tolist():
        x, y = drawn.edges.start[i].tolist()
        board.add(code, text, layers[int(drawn.edge_layer[i])], (x, y))


def _without_doubles(loops: list[Loop], board: NoticeBoard) -> list[Loop]:
    """Closed loops, each once."""
    kept: list[Loop] = []
    for loop, doubled in zip(loops, _doubled_loops(loops), strict=True):
        if _is_flat(loop):
            _tell_flat(loop, board)
        elif doubled:
            x, y = loop.edges.start[0].tolist()
            board.add("loop.doubled", "an outline drawn twice was taken once", loop.layer, (x, y))
        else:
            kept.append(loop)
    return kept


def _doubled_loops(loops: list[Loop]) -> list[bool]:
    """Which loops have the box and the area of one before them."""
    doubled = [False] * len(loops)
    boxes = np.array([loop.box for loop in loops]).reshape(-1, 4)
    # the odd offset keeps round coordinates away from the border between two cells
    cells = np.floor(boxes / (100 * SAME_LOOP) + 0.31830988).astype(np.intp)
    alike: dict[tuple[int, ...], list[int]] = {}
    for i, cell in enumerate(map(tuple, cells.tolist())):
        before = alike.setdefault(cell, [])
        doubled[i] = any(_same(loops[j], loops[i]) for j in before)
        before.append(i)
    return doubled


def _is_flat(loop: Loop) -> bool:
    """Whether a loop runs back along itself; one that crosses itself has no area either."""
    import shapely  # noqa: PLC0415 - only drawings with odd loops need it

    thin = SAME_LOOP * float(loop.edges.lengths().sum())
    if loop.area > thin:
        return False
    corners = shapely.MultiPoint(chord_points(loop.edges, POLYGON_SAG))
    return bool(corners.convex_hull.area <= thin)


def _same(a: Loop, b: Loop) -> bool:
    return bool(
        np.abs(np.array(a.box) - np.array(b.box)).max() <= SAME_LOOP
        and abs(a.area - b.area) <= SAME_LOOP * max(1.0, a.area)
    )


# circles ---------------------------------------------------------------------------------------


def _circles(
    drawn: Drawn,
    layers: tuple[str, ...],
    by_layer: list[Role | None],
    roles: LayerRoles,
    loops: list[Loop],
    fitted: list[FittedCircle | None],
    board: NoticeBoard,
) -> Circles:
    own = _circle_entities(drawn, layers, by_layer, board)
    numbers = {name: i for i, name in enumerate(layers)}
    found = [(c, loop) for c, loop in zip(fitted, loops, strict=True) if c is not None]
    for circle, loop in found:
        if circle.drawn_as != "circle":
            drawn_as = circle.drawn_as
            article = "" if drawn_as.endswith("arcs") else "a "
            text = f"a circle drawn as {article}{drawn_as} was taken as the circle through it"
            board.add("circle.fitted", text, loop.layer, circle.centre)
    points, point_diameter, point_layer = _point_holes(drawn, layers, roles, board)
    layer = np.concatenate(
        (
            drawn.circle_layer[own],
            np.array([numbers[loop.layer] for _, loop in found], dtype=np.intp),
            point_layer,
        )
    )
    cutout = np.array([role is Role.CUTOUTS for role in by_layer], dtype=bool)
    return Circles(
        centre=np.concatenate(
            (
                drawn.circle_centre[own],
                np.array([c.centre for c, _ in found], dtype=float).reshape(-1, 2),
                points,
            )
        ),
        diameter=np.concatenate(
            (
                drawn.circle_radius[own] * 2,
                np.array([c.radius * 2 for c, _ in found], dtype=float),
                point_diameter,
            )
        ),
        layer=layer,
        residual=np.concatenate(
            (
                np.zeros(len(own)),
                np.array([c.residual for c, _ in found], dtype=float),
                np.zeros(len(points)),
            )
        ),
        drawn_as=(
            *("circle",) * len(own),
            *(c.drawn_as for c, _ in found),
            *("point",) * len(points),
        ),
        forced=cutout[layer],
    )


def _circle_entities(
    drawn: Drawn, layers: tuple[str, ...], by_layer: list[Role | None], board: NoticeBoard
) -> IntArray:
    """Indices of the CIRCLEs that are no decoration of a line layer or an ignored one."""
    lines = np.array([role in (Role.BEND, Role.TRIM) for role in by_layer], dtype=bool)
    gone = np.array([role is Role.IGNORED for role in by_layer], dtype=bool)
    for i in np.flatnonzero(lines[drawn.circle_layer]).tolist():
        x, y = drawn.circle_centre[i].tolist()
        text = "a circle on a layer of bend or trim lines was left out"
        board.add("circle.on-line-layer", text, layers[int(drawn.circle_layer[i])], (x, y))
    return np.flatnonzero(~(lines | gone)[drawn.circle_layer])


def _point_holes(
    drawn: Drawn, layers: tuple[str, ...], roles: LayerRoles, board: NoticeBoard
) -> tuple[FloatArray, FloatArray, IntArray]:
    """POINT entities on a holes layer with a stated diameter."""
    diameters = [roles.point_diameter(name) for name in layers]
    kept = []
    for i, number in enumerate(drawn.point_layer.tolist()):
        if diameters[number] is not None:
            kept.append(i)
            continue
        x, y = drawn.points[i].tolist()
        text = "a POINT was left out: a hole needs --layer NAME=holes:DIAMETER"
        board.add("point.left-out", text, layers[number], (x, y))
    layer = drawn.point_layer[kept]
    size = np.array([diameters[number] for number in layer.tolist()], dtype=float)
    return drawn.points[kept], size, layer
