"""How each sheet of the demo is drawn: a habit of its own, as drawings from many hands have."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable

from ezdxf.document import Drawing
from ezdxf.layouts.base import BaseLayout
from ezdxf.layouts.layout import Modelspace
from ezdxf.math import bulge_to_arc
from flat_part import Hole, Loop, Part, Point

WARNING = "INVENTED FOR DEMONSTRATION - NOT FOR BUILDING"
MM_PER_INCH = 25.4


# --- ways to draw a loop --------------------------------------------------------------------------


def is_circle(loop: Loop) -> bool:
    """Whether the loop is two half circles."""
    return len(loop) == 2


def add_circle(space: BaseLayout, loop: Loop, layer: str) -> None:
    """Draw a round loop as one CIRCLE."""
    (x0, y0, _), (x1, _, _) = loop
    space.add_circle(((x0 + x1) / 2, y0), (x1 - x0) / 2, {"layer": layer})


def add_light_polyline(space: BaseLayout, loop: Loop, layer: str) -> None:
    """Draw a closed LWPOLYLINE with bulges."""
    space.add_lwpolyline(loop, format="xyb", close=True, dxfattribs={"layer": layer})


def add_old_polyline(space: BaseLayout, loop: Loop, layer: str) -> None:
    """Draw a closed POLYLINE with VERTEX bulges."""
    space.add_polyline2d(loop, format="xyb", close=True, dxfattribs={"layer": layer})


def add_side(space: BaseLayout, start: Point, end: Point, bulge: float, layer: str) -> None:
    """Draw one side of a loop as LINE or ARC."""
    if not bulge:
        space.add_line(start, end, {"layer": layer})
        return
    centre, first, last, radius = bulge_to_arc(start, end, bulge)
    degrees = [math.degrees(angle) % 360 for angle in (first, last)]
    space.add_arc(centre, radius, *degrees, dxfattribs={"layer": layer})


def add_loose(space: BaseLayout, loops: Iterable[Loop], layer: str, seed: int) -> None:
    """Loops as single LINEs and ARCs in shuffled order, every line in a chance direction."""
    chance = random.Random(seed)  # noqa: S311 - shuffles a drawing, guards nothing
    sides = [
        ((a[0], a[1]), (b[0], b[1]), a[2])
        for loop in loops
        for a, b in zip(loop, (*loop[1:], loop[0]), strict=True)
    ]
    chance.shuffle(sides)
    for start, end, bulge in sides:
        if bulge == 0 and chance.random() < 0.5:
            start, end = end, start  # noqa: PLW2901 - the side is the same either way round
        add_side(space, start, end, bulge, layer)


# --- ways to draw a hole --------------------------------------------------------------------------


def circle_holes(space: BaseLayout, holes: Iterable[Hole], layer: str) -> None:
    """Each hole a CIRCLE, its countersink mark a larger one round it."""
    for hole in holes:
        space.add_circle((hole.x, hole.y), hole.diameter / 2, {"layer": layer})
        if hole.mark:
            space.add_circle((hole.x, hole.y), hole.mark / 2, {"layer": layer})


def half_arc_holes(space: BaseLayout, holes: Iterable[Hole], layer: str, start: float) -> None:
    """Each hole two half ARCs, the first from `start` [deg]."""
    for hole in holes:
        for first in (start, start + 180):
            space.add_arc(
                (hole.x, hole.y),
                hole.diameter / 2,
                first % 360,
                (first + 180) % 360,
                dxfattribs={"layer": layer},
            )


def hole_loop(hole: Hole) -> Loop:
    """Turn a hole into a loop of two half circles."""
    r = hole.diameter / 2
    return (hole.x - r, hole.y, 1.0), (hole.x + r, hole.y, 1.0)


def bulge_holes(
    space: BaseLayout,
    holes: Iterable[Hole],
    layer: str,
    add: Callable[[BaseLayout, Loop, str], None] = add_light_polyline,
) -> None:
    """Each hole a closed polyline of two half circles."""
    for hole in holes:
        add(space, hole_loop(hole), layer)


def hole_block(doc: Drawing, name: str, holes: Iterable[Hole], layer: str) -> None:
    """Define a block of circles, in its own coordinates."""
    circle_holes(doc.blocks.new(name), holes, layer)


# --- notes ----------------------------------------------------------------------------------------


def add_notes(space: Modelspace, part: Part, layer: str, scale: float = 1.0) -> None:
    """Write number, name, sheet and warning under the part."""
    left = min(x for x, _, _ in part.outline)
    low = min(y for _, y, _ in part.outline)
    if is_circle(part.outline):
        low -= (part.outline[1][0] - left) / 2
    lines = (
        f"{part.number}  {part.name}",
        f"{part.thickness:.3f} ALUMINIUM SHEET   {part.quantity} OFF",
        WARNING,
    )
    for i, text in enumerate(lines):
        place = (left, low - (0.5 + 0.25 * i) * scale)
        space.add_text(text, height=0.14 * scale, dxfattribs={"layer": layer}).set_placement(place)


def add_open(space: BaseLayout, lines: Iterable[tuple[Point, Point]], layer: str) -> None:
    """Bend or trim lines."""
    for start, end in lines:
        space.add_line(start, end, {"layer": layer})


def add_layers(doc: Drawing, **colours: int) -> None:
    """Layers by name with their colours."""
    for name, colour in colours.items():
        doc.layers.add(name, color=colour)


# --- the sheets -----------------------------------------------------------------------------------


def draw_bottom_skin(space: Modelspace, parts: list[Part]) -> None:
    """Loose lines and arcs in no order; circles; plain layer names."""
    (part,) = parts
    add_layers(space.doc, OUTLINE=7, HOLES=1, CUTOUT=5, NOTES=3)
    add_loose(space, [part.outline], "OUTLINE", 101)
    holes = list(part.holes)
    random.Random(1010).shuffle(holes)  # noqa: S311 - shuffles a drawing, guards nothing
    circle_holes(space, holes, "HOLES")
    for loop in part.cutouts:
        add_circle(space, loop, "CUTOUT")
    add_notes(space, part, "NOTES")


def draw_side_skin(space: Modelspace, parts: list[Part]) -> None:
    """Polylines with bulges; rows as arrays of a block, one end row a mirrored block."""
    (part,) = parts
    add_layers(space.doc, PROFILE=7, RIVET_HOLES=1, BEND=4, TRIM=6, TEXT=3)
    for loop in (part.outline, *part.cutouts):
        add_light_polyline(space, loop, "PROFILE")
    first = part.holes[0]
    hole_block(space.doc, "HOLE_40", [Hole(0, 0, first.diameter, "")], "RIVET_HOLES")
    for name in ("chine", "deck edge"):
        row = part.row(name)
        array = {
            "layer": "RIVET_HOLES",
            "column_count": len(row),
            "column_spacing": row[1].x - row[0].x,
        }
        space.add_blockref("HOLE_40", (row[0].x, row[0].y), array)
    fore, aft = part.row("fwd bulkhead"), part.row("aft bulkhead")
    hole_block(space.doc, "END_ROW", fore, "RIVET_HOLES")
    space.add_blockref("END_ROW", (0, 0), {"layer": "RIVET_HOLES"})
    middle = fore[0].x + aft[0].x
    space.add_blockref("END_ROW", (middle, 0), {"layer": "RIVET_HOLES", "xscale": -1})
    add_open(space, part.bends, "BEND")
    add_open(space, part.trims, "TRIM")
    add_notes(space, part, "TEXT")


def draw_fwd_bulkhead(space: Modelspace, parts: list[Part]) -> None:
    """Draw a full sheet: frame, title block, dimensions, leader, hatching, centre marks."""
    (part,) = parts
    add_layers(space.doc, OUTLINE=7, HOLES=1, CUTOUT=5, BEND=4, FRAME=8, DIM=30, CENTER=6, NOTES=3)
    add_light_polyline(space, part.outline, "OUTLINE")
    circle_holes(space, part.holes, "HOLES")
    for loop in part.cutouts:
        add_circle(space, loop, "CUTOUT")
    add_open(space, part.bends, "BEND")
    add_centre_marks(space, part.holes)
    add_frame(space, part)
    add_dimensions(space, part)
    add_section(space)


def add_centre_marks(space: Modelspace, holes: Iterable[Hole]) -> None:
    """Draw a small cross on every hole, its strokes passing the rim."""
    for hole in holes:
        reach = 0.09
        for dx, dy in ((reach, 0.0), (0.0, reach)):
            space.add_line(
                (hole.x - dx, hole.y - dy), (hole.x + dx, hole.y + dy), {"layer": "CENTER"}
            )


def add_frame(space: Modelspace, part: Part) -> None:
    """Sheet border, title block and its text."""
    wide, high = 22.0, 15.0

    def box(x: float, y: float, x1: float, y1: float) -> None:
        add_light_polyline(space, ((x, y, 0), (x1, y, 0), (x1, y1, 0), (x, y1, 0)), "FRAME")

    box(0, 0, wide, high)
    box(0.4, 0.4, wide - 0.4, high - 0.4)
    box(wide - 8.4, 0.4, wide - 0.4, 2.2)
    for y in (1.0, 1.6):
        space.add_line((wide - 8.4, y), (wide - 0.4, y), {"layer": "FRAME"})
    space.add_line((wide - 3.4, 0.4), (wide - 3.4, 1.6), {"layer": "FRAME"})
    for x, y, height, text in (
        (wide - 8.2, 1.78, 0.22, f"{part.number}  {part.name}, DEVELOPED"),
        (wide - 8.2, 1.22, 0.15, f"{part.thickness:.3f} ALUMINIUM SHEET"),
        (wide - 8.2, 0.62, 0.13, WARNING),
        (wide - 3.2, 1.22, 0.15, f"{part.quantity} OFF"),
        (wide - 3.2, 0.62, 0.15, "INCHES   SHEET 1 OF 1"),
    ):
        mark = space.add_text(text, height=height, dxfattribs={"layer": "NOTES"})
        mark.set_placement((x, y))


def add_dimensions(space: Modelspace, part: Part) -> None:
    """Over-all sizes, one pitch, the hatch opening and a leader to the relief notch."""
    low, left = min(y for _, y, _ in part.outline), min(x for x, _, _ in part.outline)
    right, high = max(x for x, _, _ in part.outline), max(y for _, y, _ in part.outline)
    style = {"dimtxt": 0.16, "dimasz": 0.14, "dimexe": 0.08, "dimexo": 0.06, "dimgap": 0.05}
    style |= {"dimdec": 4, "dimdsep": ord(".")}
    layer = {"layer": "DIM"}
    bottom = part.row("bottom")
    add = {"dimstyle": "Standard", "override": style, "dxfattribs": layer}
    space.add_linear_dim(
        (left, low - 1.1), (left, low + 0.775), (right, low + 0.775), **add
    ).render()
    space.add_linear_dim(
        (left - 0.9, low), (left + 0.775, low), (left, high), angle=90, **add
    ).render()
    a, b = bottom[0], bottom[1]
    space.add_linear_dim((a.x, low - 0.5), (a.x, a.y), (b.x, b.y), **add).render()
    (x0, y0, _), (x1, _, _) = part.cutouts[0]
    middle = ((x0 + x1) / 2, y0)
    space.add_diameter_dim(middle, radius=(x1 - x0) / 2, angle=27, **add).render()
    tip = (left + 0.65, low + 0.72)
    bend = [(left - 0.4, low - 0.5), (left - 0.7, low - 0.5)]
    space.add_leader([tip, *bend], **add)
    note = space.add_text("RELIEF R .150", height=0.14, dxfattribs={"layer": "NOTES"})
    note.set_placement((left - 2.2, low - 0.57))


def add_section(space: Modelspace) -> None:
    """Draw a hatched, enlarged section through a flange, beside the part."""
    corners = [(18.2, 11.0), (18.2, 13.8), (18.35, 13.8), (18.35, 11.15), (19.9, 11.15)]
    corners.append((19.9, 11.0))
    add_light_polyline(space, tuple((x, y, 0.0) for x, y in corners), "NOTES")
    hatch = space.add_hatch(color=8, dxfattribs={"layer": "NOTES"})
    hatch.set_pattern_fill("ANSI31", scale=0.5)
    hatch.paths.add_polyline_path(corners, is_closed=True)
    note = space.add_text("SECTION, FLANGE, NOT TO SCALE", height=0.14)
    note.dxf.layer = "NOTES"
    note.set_placement((17.5, 10.6))


def draw_aft_bulkhead(space: Modelspace, parts: list[Part]) -> None:
    """Old polylines; the transom's holes old polylines of two bulges."""
    (part,) = parts
    add_layers(space.doc, OUTLINE=7, HOLES=1, LIGHTENING=5, BEND=4, NOTES=3)
    add_old_polyline(space, part.outline, "OUTLINE")
    for loop in part.cutouts:
        (add_circle if is_circle(loop) else add_old_polyline)(space, loop, "LIGHTENING")
    transom = part.row("transom rim", "bracket")
    bulge_holes(space, transom, "HOLES", add_old_polyline)
    circle_holes(space, [h for h in part.holes if h not in transom], "HOLES")
    add_open(space, part.bends, "BEND")
    add_notes(space, part, "NOTES")


def draw_keel_angle(space: Modelspace, parts: list[Part]) -> None:
    """Millimetres; countersinks as concentric circles."""
    (part,) = parts
    add_layers(space.doc, OUTLINE=7, HOLES_CSK=1, BEND=4, NOTES=3)
    add_light_polyline(space, part.outline, "OUTLINE")
    circle_holes(space, part.holes, "HOLES_CSK")
    add_open(space, part.bends, "BEND")
    add_notes(space, part, "NOTES", MM_PER_INCH)


def draw_stringer(space: Modelspace, parts: list[Part]) -> None:
    """All on layer 0 but the bend; half arcs; one line doubled, one hole drawn twice."""
    (part,) = parts
    add_layers(space.doc, BEND=4)
    add_loose(space, [part.outline], "0", 106)
    a, b = part.outline[0], part.outline[1]
    space.add_line((b[0], b[1]), (a[0], a[1]))
    half_arc_holes(space, part.holes, "0", 90)
    half_arc_holes(space, part.holes[7:8], "0", 0)
    add_open(space, part.bends, "BEND")
    add_notes(space, part, "0")


def draw_gusset(space: Modelspace, parts: list[Part]) -> None:
    """All on layer 0; holes as polylines of bulges, one as an ellipse of equal axes."""
    (part,) = parts
    add_light_polyline(space, part.outline, "0")
    ellipse = part.row("flange")[1]
    bulge_holes(space, [h for h in part.holes if h != ellipse], "0")
    space.add_ellipse((ellipse.x, ellipse.y), (ellipse.diameter / 2, 0), ratio=1.0)
    add_notes(space, part, "0")


def draw_transom_plate(space: Modelspace, parts: list[Part]) -> None:
    """Loose lines far from the origin; slot as lines and arcs."""
    (part,) = parts
    add_layers(space.doc, CUT=7, DRILL=1, ANNOTATION=3)
    add_loose(space, [part.outline, *part.cutouts], "CUT", 108)
    circle_holes(space, part.holes, "DRILL")
    add_notes(space, part, "ANNOTATION")


def draw_hatch_ring(space: Modelspace, parts: list[Part]) -> None:
    """Rim as two arcs; outer holes as one block of five, put in four times and turned."""
    (part,) = parts
    add_loose(space, [part.outline, *part.cutouts], "0", 109)
    outer = part.row("outer")
    (x0, y, _), (x1, _, _) = part.outline
    centre = ((x0 + x1) / 2, y)
    quarter = [Hole(h.x - centre[0], h.y - centre[1], h.diameter, h.row) for h in outer[:5]]
    hole_block(space.doc, "QUARTER", quarter, "0")
    for turn in (0, 90, 180, 270):
        space.add_blockref("QUARTER", centre, {"rotation": turn})
    circle_holes(space, part.row("inner"), "0")
    add_notes(space, part, "0")


def draw_hatch_cover(space: Modelspace, parts: list[Part]) -> None:
    """Circles on layer 0, the rim too."""
    (part,) = parts
    add_circle(space, part.outline, "0")
    circle_holes(space, part.holes, "0")
    add_notes(space, part, "0")


def draw_hinge_leaf(space: Modelspace, parts: list[Part]) -> None:
    """Draw an old polyline and one circle on layer 0."""
    (part,) = parts
    add_old_polyline(space, part.outline, "0")
    circle_holes(space, part.holes, "0")
    add_notes(space, part, "0")


def draw_skeg(space: Modelspace, parts: list[Part]) -> None:
    """Two parts on one sheet: the countersunk core, and a skin with holes as half arcs."""
    core, skin = parts
    add_layers(space.doc, OUTLINE=7, HOLES=1, NOTES=3)
    add_loose(space, [core.outline, skin.outline], "OUTLINE", 112)
    circle_holes(space, core.holes, "HOLES")
    half_arc_holes(space, skin.holes, "HOLES", 45)
    for part in parts:
        add_notes(space, part, "NOTES")
