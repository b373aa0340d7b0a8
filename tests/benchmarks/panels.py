"""Panels of any number of holes, for the benchmarks: invented parts, drawn by rule.

Every panel is pure data and the same on every run. `write_dxf` writes one as a drawing without
the help of a DXF library, so that reading it can be timed against nothing but itself.

Run `python -m tests.benchmarks.panels OUT.dxf HOLES [KIND]` to write a drawing.
"""

from __future__ import annotations

import itertools
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import ceil, degrees, floor, isqrt, pi, sqrt, tan
from pathlib import Path

import numpy as np

from holeschedule.geometry.edges import (
    Edges,
    FloatArray,
    arc_edges,
    circle_edges,
    join_edges,
    line_edges,
    polygon_edges,
)

PITCH = 0.75
HOLE_DIAMETER = 0.1285
EDGE_MARGIN = 0.375
BAY = (8, 6)  # pitches across and up one bay of the rivet panel


@dataclass(frozen=True, slots=True)
class Panel:
    """A part: hole centres (n, 2) [in], its edges, and which edges make up which loop.

    The first loop is the outline, the others are cut-outs. Compared by identity of its arrays.
    """

    kind: str
    centres: FloatArray
    edges: Edges
    loops: tuple[slice, ...]
    hole_diameter: float = HOLE_DIAMETER


def rivet_panel(holes: int) -> Panel:
    """A web of bays: single rows along every bay border, a round or slotted hole in each bay."""
    across, up = _bays(holes)
    width, height = (n * step * PITCH for n, step in zip((across, up), BAY, strict=True))
    outline = rounded_rectangle(
        (-EDGE_MARGIN, -EDGE_MARGIN), (width + EDGE_MARGIN, height + EDGE_MARGIN), 0.5
    )
    middle_x = (np.arange(across) + 0.5) * BAY[0] * PITCH
    middle_y = (np.arange(up) + 0.5) * BAY[1] * PITCH
    middles = np.array([(x, y) for y in middle_y for x in middle_x])
    cutouts = [
        slot(middle, 3.0, 1.5) if place % 2 else circle_edges(middle[None], np.array([1.25]))
        for place, middle in enumerate(middles)
    ]
    return _panel("rivet panel", _lattice(across, up)[:holes], [outline, *cutouts])


def _bays(holes: int) -> tuple[int, int]:
    """Bays across and up, the fewest in about the proportion 2 : 1 that take so many holes."""
    up = max(1, isqrt(ceil(holes / 26)))
    across = 1
    while (BAY[0] * across + 1) * (up + 1) + (across + 1) * (BAY[1] - 1) * up < holes:
        across += 1
    return across, up


def _lattice(across: int, up: int) -> FloatArray:
    """Holes on the borders of the bays, row after row from the bottom."""
    columns, rows = np.meshgrid(np.arange(across * BAY[0] + 1), np.arange(up * BAY[1] + 1))
    on_border = (columns % BAY[0] == 0) | (rows % BAY[1] == 0)
    return PITCH * np.column_stack((columns[on_border], rows[on_border]))


def scalloped_plate(holes: int, scallops: int | None = None) -> Panel:
    """A round plate: rings of holes, and a rim of outward arcs that meet in cusps."""
    scallops = scallops or max(12, holes // 4)
    rings, count = [np.zeros((1, 2))], 1
    while count < holes:
        radius = len(rings) * PITCH
        places = floor(2 * pi * len(rings))
        angle = 2 * pi * np.arange(places) / places
        rings.append(radius * np.column_stack((np.cos(angle), np.sin(angle))))
        count += places
    rim = scalloped_rim(len(rings) * PITCH, scallops)
    return _panel("scalloped plate", np.concatenate(rings)[:holes], [rim])


def scalloped_rim(radius: float, scallops: int) -> Edges:
    """A closed rim of equal arcs of 120°, bulging outward, cusps on a circle of `radius`."""
    step = 2 * pi / scallops
    half_chord = radius * np.sin(step / 2)
    arc_radius = half_chord / np.sin(pi / 3)
    middle = step * (np.arange(scallops) + 0.5)
    out = radius * np.cos(step / 2) - arc_radius * np.cos(pi / 3)
    centre = out * np.column_stack((np.cos(middle), np.sin(middle)))
    return arc_edges(
        centre,
        np.full(scallops, arc_radius),
        middle - pi / 3,
        np.full(scallops, 2 * pi / 3),
    )


def notched_panel(holes: int, edges: int = 20_000) -> Panel:
    """A full lattice of holes in one long outline of straight lands and half-round notches."""
    columns = ceil(sqrt(2 * holes))
    rows = ceil(holes / columns)
    centres = PITCH * np.array([(i % columns, i // columns) for i in range(holes)], dtype=float)
    low = np.full(2, -EDGE_MARGIN)
    high = np.array([(columns - 1) * PITCH + EDGE_MARGIN, (rows - 1) * PITCH + EDGE_MARGIN])
    corners = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
    per_side = max(1, edges // 8)
    sides = [notched_side(corners[i], corners[(i + 1) % 4], per_side) for i in range(len(corners))]
    return _panel("notched panel", centres, [join_edges(sides)])


def notched_side(start: FloatArray, end: FloatArray, notches: int) -> Edges:
    """One side, anticlockwise: land, notch, land, notch … each half-round notch cut inward."""
    step = (end - start) / notches
    begin = start + step * np.arange(notches)[:, None]
    land_end = begin + 0.6 * step
    radius = np.full(notches, 0.2 * np.hypot(*step))
    direction = np.full(notches, np.arctan2(step[1], step[0]))
    lands = line_edges(begin, land_end)
    cuts = arc_edges(land_end + 0.2 * step, radius, direction + pi, np.full(notches, -pi))
    order = np.arange(2 * notches).reshape(2, notches).T.ravel()
    return join_edges([lands, cuts]).take(order)


def clustered_panel(holes: int) -> Panel:
    """The edges of the rivet panel, the holes in tight groups of very different density."""
    base = rivet_panel(holes)
    rng = np.random.default_rng(7)
    low, high = base.centres.min(axis=0), base.centres.max(axis=0)
    groups = rng.uniform(low, high, (max(1, holes // 500), 2))
    spread = 10.0 ** rng.uniform(-3, 0, len(groups))
    member = rng.integers(len(groups), size=holes)
    offset = rng.normal(size=(holes, 2)) * spread[member, None]
    return Panel("clustered", np.clip(groups[member] + offset, low, high), base.edges, base.loops)


def one_row_panel(holes: int) -> Panel:
    """The edges of the rivet panel, all holes on one slanting line through it."""
    base = rivet_panel(holes)
    low, high = base.centres.min(axis=0), base.centres.max(axis=0)
    share = np.linspace(0.0, 1.0, holes)[:, None]
    return Panel("one row", low + share * (high - low), base.edges, base.loops)


def far_panel(holes: int) -> Panel:
    """The rivet panel with its holes drawn a thousand inches beside it."""
    base = rivet_panel(holes)
    return Panel("far outside", base.centres + np.array((1000.0, -400.0)), base.edges, base.loops)


KINDS: dict[str, Callable[[int], Panel]] = {
    "rivet": rivet_panel,
    "scalloped": scalloped_plate,
    "notched": notched_panel,
    "clustered": clustered_panel,
    "one-row": one_row_panel,
    "far": far_panel,
}


def _panel(kind: str, centres: FloatArray, loops: list[Edges]) -> Panel:
    bounds = np.cumsum([0, *map(len, loops)]).tolist()
    slices = tuple(slice(a, b) for a, b in itertools.pairwise(bounds))
    return Panel(kind, centres, join_edges(loops), slices)


def rounded_rectangle(
    low: tuple[float, float], high: tuple[float, float], corner_radius: float
) -> Edges:
    """A closed outline, anticlockwise: four sides and four quarter arcs in turn."""
    (x0, y0), (x1, y1), r = low, high, corner_radius
    starts = np.array([(x0 + r, y0), (x1, y0 + r), (x1 - r, y1), (x0, y1 - r)])
    ends = np.array([(x1 - r, y0), (x1, y1 - r), (x0 + r, y1), (x0, y0 + r)])
    centres = np.array([(x1 - r, y0 + r), (x1 - r, y1 - r), (x0 + r, y1 - r), (x0 + r, y0 + r)])
    quarter = pi / 2 * np.arange(-1, 3)
    corners = arc_edges(centres, np.full(4, r), quarter, np.full(4, pi / 2))
    return join_edges([line_edges(starts, ends), corners]).take(
        np.array([0, 4, 1, 5, 2, 6, 3, 7], dtype=np.intp)
    )


def slot(middle: FloatArray, length: float, width: float) -> Edges:
    """A level slot with round ends, anticlockwise; `length` is over all."""
    r, half = width / 2, (length - width) / 2
    ends = middle + np.array([(half, 0.0), (-half, 0.0)])
    sides = line_edges(
        middle + np.array([(-half, -r), (half, r)]), middle + np.array([(half, -r), (-half, r)])
    )
    caps = arc_edges(ends, np.full(2, r), np.array([-pi / 2, pi / 2]), np.full(2, pi))
    return join_edges([sides, caps]).take(np.array([0, 2, 1, 3], dtype=np.intp))


def square(low: tuple[float, float], side: float) -> Edges:
    """A closed square of four straight edges."""
    (x, y), s = low, side
    return polygon_edges(np.array([(x, y), (x + s, y), (x + s, y + s), (x, y + s)]))


# ---------------------------------------------------------------------------------- drawing


def write_dxf(panel: Panel, path: Path) -> None:
    """Write a drawing in inches: outline as a polyline, cut-outs as loose lines and arcs."""
    path.write_text("\n".join(_drawing(panel)) + "\n", encoding="ascii")


def _drawing(panel: Panel) -> Iterator[str]:
    low = np.minimum(panel.edges.start.min(axis=0), panel.centres.min(axis=0))
    high = np.maximum(panel.edges.start.max(axis=0), panel.centres.max(axis=0))
    last = len(panel.centres) + len(panel.edges) + _FIRST_HANDLE + 1
    yield from _tags(
        (0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1015"), (9, "$HANDSEED"),
        (5, f"{last:X}"), (9, "$INSUNITS"), (70, 1), (9, "$MEASUREMENT"), (70, 0),
        (9, "$EXTMIN"), (10, low[0]), (20, low[1]), (30, 0.0),
        (9, "$EXTMAX"), (10, high[0]), (20, high[1]), (30, 0.0), (0, "ENDSEC"),
    )  # fmt: skip
    yield from _tags((0, "SECTION"), (2, "ENTITIES"))
    handles = iter(range(_FIRST_HANDLE, last))
    outline, *cutouts = panel.loops
    yield from _polyline(panel.edges.take(outline), "OUTLINE", next(handles))
    for loop in cutouts:
        yield from _loose(panel.edges.take(loop), "CUTOUTS", handles)
    for x, y in panel.centres.tolist():
        yield from _circle(x, y, panel.hole_diameter / 2, "HOLES", next(handles))
    yield from _tags((0, "ENDSEC"), (0, "EOF"))


_FIRST_HANDLE = 0x100
Tag = tuple[int, str | int | float]


def _tags(*tags: Tag) -> Iterator[str]:
    """Group codes and values, one a line; floats with every digit they have."""
    for code, value in tags:
        yield f"{code:3d}"
        yield repr(float(value)) if isinstance(value, float) else str(value)


def _entity(kind: str, layer: str, handle: int, *tags: Tag) -> Iterator[str]:
    return _tags((0, kind), (5, f"{handle:X}"), (100, "AcDbEntity"), (8, layer), *tags)


def _circle(x: float, y: float, radius: float, layer: str, handle: int) -> Iterator[str]:
    return _entity(
        "CIRCLE", layer, handle, (100, "AcDbCircle"), (10, x), (20, y), (30, 0.0), (40, radius)
    )


def _polyline(loop: Edges, layer: str, handle: int) -> Iterator[str]:
    """A closed loop as one polyline; an arc is a bulge, the tangent of a quarter of its sweep."""
    yield from _entity(
        "LWPOLYLINE", layer, handle, (100, "AcDbPolyline"), (90, len(loop)), (70, 1), (43, 0.0)
    )
    for (x, y), sweep in zip(loop.start.tolist(), loop.sweep.tolist(), strict=True):
        yield from _tags((10, x), (20, y))
        if sweep:
            yield from _tags((42, tan(sweep / 4)))


def _loose(loop: Edges, layer: str, handles: Iterator[int]) -> Iterator[str]:
    """A cut-out as single entities; DXF arcs always run anticlockwise."""
    for i in range(len(loop)):
        (x0, y0), (x1, y1) = loop.start[i].tolist(), loop.end[i].tolist()
        (cx, cy), radius, sweep = loop.centre[i].tolist(), float(loop.radius[i]), loop.sweep[i]
        handle = next(handles)
        if not radius:
            yield from _entity(
                "LINE", layer, handle, (100, "AcDbLine"),
                (10, x0), (20, y0), (30, 0.0), (11, x1), (21, y1), (31, 0.0),
            )  # fmt: skip
        elif abs(sweep) > 2 * pi - 1e-12:
            yield from _circle(cx, cy, radius, layer, handle)
        else:
            first, last = (np.arctan2(y - cy, x - cx) for x, y in ((x0, y0), (x1, y1)))
            if sweep < 0:
                first, last = last, first
            yield from _entity(
                "ARC", layer, handle, (100, "AcDbCircle"), (10, cx), (20, cy), (30, 0.0),
                (40, radius), (100, "AcDbArc"),
                (50, degrees(first) % 360), (51, degrees(last) % 360),
            )  # fmt: skip


def main() -> None:
    """Write the drawing that the command line asks for."""
    out, holes, *kind = sys.argv[1:]
    panel = KINDS[kind[0] if kind else "rivet"](int(holes))
    write_dxf(panel, Path(out))
    print(f"{out}: {panel.kind}, {len(panel.centres)} holes, {len(panel.edges)} edges")


if __name__ == "__main__":
    main()
