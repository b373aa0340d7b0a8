"""Drawings made in code through ezdxf: plates, rows of holes, and the many ways to draw each.

Lengths are drawing units. A drawing is in inches and R2010 unless asked otherwise.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf.document import Drawing

from holeschedule.drawing.layers import LayerRole, LayerRoles
from holeschedule.holes.part import Part
from holeschedule.holes.parts import ReadOptions, read_parts
from holeschedule.model import Role

Point = tuple[float, float]

NUMBER_40 = 0.098
"""Inches: the hole of a 3/32 rivet at final size."""
PLATE: tuple[Point, ...] = ((0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (0.0, 2.0))
"""Corners of the plate that most tests read."""
ROW: tuple[Point, ...] = ((0.5, 0.5), (1.25, 0.5), (2.0, 0.5), (2.75, 0.5), (3.5, 0.5))
"""Centres of the holes in it."""
DOWN = (0.0, 0.0, -1.0)
"""Extrusion of what is drawn from below."""
POINT_CODES = range(10, 19)
"""Group codes of the x of a point; its y and z are 10 and 20 on."""
TILTED = (0.0, 0.6, 0.8)
"""Extrusion of what is drawn on a slope."""


# drawings --------------------------------------------------------------------------------------


def new_drawing(version: str = "R2010", unit: int | None = 1) -> Drawing:
    """An empty drawing that states `unit` ($INSUNITS), or no unit."""
    doc = ezdxf.new(version)
    if unit is None:
        del doc.header["$INSUNITS"]
    else:
        doc.header["$INSUNITS"] = unit
    return doc


def plate_drawing(
    corners: Sequence[Point] = PLATE,
    holes: Iterable[Point] = ROW,
    *,
    diameter: float = NUMBER_40,
    version: str = "R2010",
    unit: int | None = 1,
) -> Drawing:
    """A plate drawn plainly, on layer 0: a closed polyline, and circles."""
    doc = new_drawing(version, unit)
    draw_polygon(doc.modelspace(), corners)
    draw_circles(doc.modelspace(), holes, diameter)
    return doc


def row_of(x: float, y: float, pitch: float, count: int) -> list[Point]:
    """Centres of a row to the right of (x, y)."""
    return [(x + pitch * i, y) for i in range(count)]


# drawing ---------------------------------------------------------------------------------------


def draw_polygon(space: Any, corners: Sequence[Point], layer: str = "0") -> None:
    """A closed polyline of straight edges; the old kind where the drawing is R12."""
    if space.doc.dxfversion > "AC1009":
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    else:
        space.add_polyline2d(corners, close=True, dxfattribs={"layer": layer})


def draw_lines(space: Any, corners: Sequence[Point], layer: str = "0") -> None:
    """The same as loose lines, in order."""
    for a, b in edges_of(corners):
        space.add_line(a, b, dxfattribs={"layer": layer})


def draw_shuffled_lines(
    space: Any, corners: Sequence[Point], layer: str = "0", seed: int = 7
) -> None:
    """The same in no order, every other line drawn backwards."""
    edges = list(edges_of(corners))
    random.Random(seed).shuffle(edges)  # noqa: S311 - a drawing is no secret
    for i, (a, b) in enumerate(edges):
        ends = (b, a) if i % 2 else (a, b)
        space.add_line(*ends, dxfattribs={"layer": layer})


def edges_of(corners: Sequence[Point]) -> list[tuple[Point, Point]]:
    """Start and end of each edge of a closed polygon."""
    return list(zip(corners, [*corners[1:], corners[0]], strict=True))


def draw_circles(
    space: Any, centres: Iterable[Point], diameter: float = NUMBER_40, layer: str = "0"
) -> None:
    """A CIRCLE at each centre."""
    for centre in centres:
        space.add_circle(centre, diameter / 2, dxfattribs={"layer": layer})


def circle_points(x: float, y: float, radius: float, count: int, first: float = 0.0) -> list[Point]:
    """Points evenly on a circle, from `first` [deg] on."""
    angles = [math.radians(first) + math.tau * i / count for i in range(count)]
    return [(x + radius * math.cos(a), y + radius * math.sin(a)) for a in angles]


def _circle(space: Any, x: float, y: float, r: float) -> None:
    space.add_circle((x, y), r)


def _half_arcs(space: Any, x: float, y: float, r: float) -> None:
    space.add_arc((x, y), r, 0, 180)
    space.add_arc((x, y), r, 180, 0)


def _quarter_arcs(space: Any, x: float, y: float, r: float) -> None:
    for first in (270, 0, 180, 90):
        space.add_arc((x, y), r, first, first + 90)


def _whole_arc(space: Any, x: float, y: float, r: float) -> None:
    space.add_arc((x, y), r, 0, 360)


def _bulges(space: Any, x: float, y: float, r: float) -> None:
    points = [(x - r, y, 1.0), (x + r, y, 1.0)]
    if space.doc.dxfversion > "AC1009":
        space.add_lwpolyline(points, format="xyb", close=True)
    else:
        space.add_polyline2d(points, format="xyb", close=True)


def _bulges_not_flagged(space: Any, x: float, y: float, r: float) -> None:
    space.add_lwpolyline([(x - r, y, -1.0), (x + r, y, -1.0), (x - r, y, 0.0)], format="xyb")


def _old_polyline(space: Any, x: float, y: float, r: float) -> None:
    space.add_polyline2d([(x, y - r, 1.0), (x, y + r, 1.0)], format="xyb", close=True)


def _ellipse(space: Any, x: float, y: float, r: float) -> None:
    space.add_ellipse((x, y), major_axis=(r, 0), ratio=1.0)


def _spline(space: Any, x: float, y: float, r: float) -> None:
    """A rational quadratic B-spline that is the circle exactly."""
    w = math.sqrt(0.5)
    corners = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    points = [(x + r * a, y + r * b) for a, b in corners]
    space.add_rational_spline(
        points,
        weights=[1, w, 1, w, 1, w, 1, w, 1],
        degree=2,
        knots=[0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4],
    )


def _fit_spline(space: Any, x: float, y: float, r: float) -> None:
    """A closed spline through points of the circle, without control points."""
    spline = space.add_spline(circle_points(x, y, r, 24))
    spline.closed = True


def _polygon(corners: int, places: int | None = None) -> Callable[..., None]:
    def draw(space: Any, x: float, y: float, r: float) -> None:
        draw_polygon(space, _rounded(circle_points(x, y, r, corners, 5.0), places))

    return draw


def _loose_polygon(corners: int, places: int | None = None) -> Callable[..., None]:
    def draw(space: Any, x: float, y: float, r: float) -> None:
        draw_shuffled_lines(space, _rounded(circle_points(x, y, r, corners, 5.0), places))

    return draw


def _rounded(points: list[Point], places: int | None) -> list[Point]:
    return points if places is None else [(round(x, places), round(y, places)) for x, y in points]


CIRCLE_HABITS: dict[str, Callable[[Any, float, float, float], None]] = {
    "circle": _circle,
    "two half arcs": _half_arcs,
    "four quarter arcs": _quarter_arcs,
    "one arc of 360 degrees": _whole_arc,
    "polyline of two bulges": _bulges,
    "polyline of two bulges, not flagged closed": _bulges_not_flagged,
    "old polyline": _old_polyline,
    "ellipse of equal axes": _ellipse,
    "rational spline": _spline,
    "spline through fit points": _fit_spline,
    "polygon of 8 corners": _polygon(8),
    "polygon of 32 corners": _polygon(32),
    "polygon of 24 corners, 4 digits": _polygon(24, 4),
    "loose lines, 8 corners": _loose_polygon(8),
    "loose lines, 32 corners": _loose_polygon(32),
    "loose lines, 16 corners, 4 digits": _loose_polygon(16, 4),
}
"""Ways in which programs draw the circle of radius r round (x, y)."""


# reading ---------------------------------------------------------------------------------------


def save(doc: Drawing, folder: Path, name: str = "plate.dxf", *, fmt: str = "asc") -> Path:
    """Write the drawing into `folder`."""
    path = folder / name
    doc.saveas(path, fmt=fmt)
    return path


def drop_tags(path: Path, kind: str, code: int) -> Path:
    """Take a group code out of the last entity of a kind in a text drawing."""
    lines = path.read_text(encoding="utf-8").splitlines()
    tags = list(zip(lines[::2], lines[1::2], strict=True))
    starts = [i for i, (c, v) in enumerate(tags) if c.strip() == "0" and v == kind]
    end = next(i for i in range(starts[-1] + 1, len(tags)) if tags[i][0].strip() == "0")
    kept = [tag for i, tag in enumerate(tags) if not (starts[-1] < i < end and int(tag[0]) == code)]
    if code in POINT_CODES:
        other = {code + 10, code + 20}
        kept = [
            tag
            for i, tag in enumerate(kept)
            if not (starts[-1] < i < end - 1 and int(tag[0]) in other)
        ]
    path.write_text("".join(f"{c}\n{v}\n" for c, v in kept), encoding="utf-8")
    return path


def options_of(
    *,
    unit: str | None = None,
    gap: float | None = None,
    largest_hole: float | None = None,
    layers: dict[str, str | LayerRole] | None = None,
) -> ReadOptions:
    """Reading options; layer roles by their names."""
    roles = {
        name: role if isinstance(role, LayerRole) else LayerRole(Role(role))
        for name, role in (layers or {}).items()
    }
    given = {"unit": unit, "gap": gap, "largest_hole": largest_hole}
    kept: dict[str, Any] = {name: value for name, value in given.items() if value is not None}
    return ReadOptions(layers=LayerRoles(roles), **kept)


def read(doc: Drawing, folder: Path, **options: Any) -> tuple[Part, ...]:
    """Save the drawing and read its parts."""
    return read_parts(save(doc, folder), options_of(**options))


def read_one(doc: Drawing, folder: Path, **options: Any) -> Part:
    """Save the drawing and read its only part."""
    (part,) = read(doc, folder, **options)
    return part


def centres_of(part: Part, places: int = 6) -> list[Point]:
    """Hole centres on the drawing's axes [in], sorted."""
    return sorted((round(h.x, places), round(h.y, places)) for h in part.holes)


def diameters_of(part: Part, places: int = 4) -> Counter[float]:
    """How many holes there are of each diameter [in]."""
    return Counter(round(h.diameter, places) for h in part.holes)


def codes_of(part: Part) -> set[str]:
    """Codes of the notices, rows' missing holes apart."""
    return {notice.code for notice in part.notices if not notice.code.startswith("row.")}


def notice_of(part: Part, code: str) -> Any:
    """The only notice with this code."""
    (found,) = [notice for notice in part.notices if notice.code == code]
    return found


def place_of(notice: Any) -> tuple[str | None, float, float]:
    """Layer and position of a notice, rounded to a millionth."""
    return notice.layer, round(notice.x, 6), round(notice.y, 6)
