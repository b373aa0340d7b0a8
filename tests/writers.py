"""Two writers of DXF that share nothing with the library the package reads with.

`write_r12` is a plain R12 text writer, with the liberties that other programs take: no header,
other line ends, odd spacing of group codes, other ways to print a number. `write_klayout` goes
through klayout, which exports every circle as a polygon.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum, IntEnum
from pathlib import Path

Tag = tuple[int, str | int | float]
Point = tuple[float, float]

_DOWN: tuple[Tag, ...] = ((210, 0.0), (220, 0.0), (230, -1.0))


@dataclass(frozen=True, slots=True)
class Line:
    """A LINE from (x0, y0) to (x1, y1)."""

    x0: float
    y0: float
    x1: float
    y1: float
    layer: str = "0"

    def tags(self) -> Iterator[Tag]:
        """Group codes and values."""
        yield from ((0, "LINE"), (8, self.layer))
        yield from ((10, self.x0), (20, self.y0), (30, 0.0), (11, self.x1), (21, self.y1))
        yield (31, 0.0)


@dataclass(frozen=True, slots=True)
class Circle:
    """A CIRCLE; `down` extrudes it along -Z, which mirrors the stored x."""

    x: float
    y: float
    radius: float
    layer: str = "0"
    down: bool = False

    def tags(self) -> Iterator[Tag]:
        """Group codes and values."""
        yield from ((0, "CIRCLE"), (8, self.layer))
        yield from ((10, -self.x if self.down else self.x), (20, self.y), (30, 0.0))
        yield (40, self.radius)
        if self.down:
            yield from _DOWN


@dataclass(frozen=True, slots=True)
class Arc:
    """An ARC, counter-clockwise from `start` to `end` [deg]."""

    x: float
    y: float
    radius: float
    start: float
    end: float
    layer: str = "0"

    def tags(self) -> Iterator[Tag]:
        """Group codes and values."""
        yield from ((0, "ARC"), (8, self.layer), (10, self.x), (20, self.y), (30, 0.0))
        yield from ((40, self.radius), (50, self.start), (51, self.end))


@dataclass(frozen=True, slots=True)
class Polyline:
    """A POLYLINE with VERTEX entities (x, y, bulge) and SEQEND."""

    vertices: Sequence[tuple[float, float, float]]
    closed: bool = True
    layer: str = "0"

    def tags(self) -> Iterator[Tag]:
        """Group codes and values."""
        yield from ((0, "POLYLINE"), (8, self.layer), (66, 1), (10, 0.0), (20, 0.0), (30, 0.0))
        yield (70, int(self.closed))
        for x, y, bulge in self.vertices:
            yield from ((0, "VERTEX"), (8, self.layer), (10, x), (20, y), (30, 0.0))
            if bulge:
                yield (42, bulge)
        yield from ((0, "SEQEND"), (8, self.layer))


@dataclass(frozen=True, slots=True)
class PointMark:
    """A POINT."""

    x: float
    y: float
    layer: str = "0"

    def tags(self) -> Iterator[Tag]:
        """Group codes and values."""
        yield from ((0, "POINT"), (8, self.layer), (10, self.x), (20, self.y), (30, 0.0))


@dataclass(frozen=True, slots=True)
class Text:
    """A TEXT."""

    x: float
    y: float
    height: float
    text: str
    layer: str = "0"

    def tags(self) -> Iterator[Tag]:
        """Group codes and values."""
        yield from ((0, "TEXT"), (8, self.layer), (10, self.x), (20, self.y), (30, 0.0))
        yield from ((40, self.height), (1, self.text))


@dataclass(frozen=True, slots=True)
class Insert:
    """An INSERT of a block: scaled, turned [deg], as an array of columns and rows."""

    block: str
    x: float
    y: float
    xscale: float = 1.0
    yscale: float = 1.0
    rotation: float = 0.0
    columns: int = 1
    rows: int = 1
    column_spacing: float = 0.0
    row_spacing: float = 0.0
    layer: str = "0"

    def tags(self) -> Iterator[Tag]:
        """Group codes and values."""
        yield from ((0, "INSERT"), (8, self.layer), (2, self.block))
        yield from ((10, self.x), (20, self.y), (30, 0.0))
        yield from ((41, self.xscale), (42, self.yscale), (43, 1.0), (50, self.rotation))
        if (self.columns, self.rows) != (1, 1):
            yield from ((70, self.columns), (71, self.rows))
            yield from ((44, self.column_spacing), (45, self.row_spacing))


Entity = Line | Circle | Arc | Polyline | PointMark | Text | Insert


@dataclass(frozen=True, slots=True)
class Block:
    """A BLOCK definition; `x`, `y` is its base point."""

    name: str
    entities: Sequence[Entity]
    x: float = 0.0
    y: float = 0.0

    def tags(self) -> Iterator[Tag]:
        """Group codes and values, ENDBLK included."""
        yield from ((0, "BLOCK"), (8, "0"), (2, self.name), (70, 0))
        yield from ((10, self.x), (20, self.y), (30, 0.0), (3, self.name))
        for entity in self.entities:
            yield from entity.tags()
        yield from ((0, "ENDBLK"), (8, "0"))


class Spacing(Enum):
    """How a group code is printed on its line."""

    PADDED = "{:3d}"
    BARE = "{}"
    WIDE = "{:6d} "


class Number(Enum):
    """How a real number is printed."""

    PLAIN = "plain"
    EXPONENT = "exponent"
    NO_LEADING_ZERO = "no leading zero"


@dataclass(frozen=True, slots=True)
class Style:
    """Liberties a program takes. `unit` is the $INSUNITS code; None states none."""

    header: bool = True
    unit: int | None = None
    layer_table: bool = True
    newline: str = "\n"
    spacing: Spacing = Spacing.PADDED
    number: Number = Number.PLAIN


def write_r12(
    path: Path,
    entities: Sequence[Entity],
    *,
    blocks: Sequence[Block] = (),
    style: Style | None = None,
) -> Path:
    """Write an R12 drawing and return its path. Numbers keep every digit of a float."""
    style = style or Style()
    lines: list[str] = []
    for code, value in _document(entities, blocks, style):
        lines.append(style.spacing.value.format(code))
        lines.append(_printed(value, style.number))
    path.write_bytes((style.newline.join(lines) + style.newline).encode("ascii"))
    return path


def _printed(value: str | int | float, number: Number) -> str:
    """Print a value as the style has it."""
    if not isinstance(value, float):
        return str(value)
    if number is Number.EXPONENT:
        return f"{value:.17E}"
    if number is Number.NO_LEADING_ZERO:
        return repr(value).replace("0.", ".", 1) if 0 < abs(value) < 1 else repr(value)
    return repr(value)


def _document(entities: Sequence[Entity], blocks: Sequence[Block], style: Style) -> Iterator[Tag]:
    """Yield all tags of the file, section by section."""
    if style.header:
        header: list[Tag] = [(9, "$ACADVER"), (1, "AC1009")]
        if style.unit is not None:
            header += [(9, "$INSUNITS"), (70, style.unit)]
        yield from _section("HEADER", header)
    if style.layer_table:
        names = {entity.layer for entity in entities}
        names |= {entity.layer for block in blocks for entity in block.entities}
        yield from _section("TABLES", _layers(sorted(names | {"0"})))
    if blocks:
        yield from _section("BLOCKS", (tag for block in blocks for tag in block.tags()))
    yield from _section("ENTITIES", (tag for entity in entities for tag in entity.tags()))
    yield (0, "EOF")


def _section(name: str, tags: Iterable[Tag]) -> Iterator[Tag]:
    """Yield a section of that name round `tags`."""
    yield from ((0, "SECTION"), (2, name))
    yield from tags
    yield (0, "ENDSEC")


def _layers(names: Sequence[str]) -> Iterator[Tag]:
    """Yield the layer table."""
    yield from ((0, "TABLE"), (2, "LAYER"), (70, len(names)))
    for name in names:
        yield from ((0, "LAYER"), (2, name), (70, 0), (62, 7), (6, "CONTINUOUS"))
    yield (0, "ENDTAB")


class PolygonMode(IntEnum):
    """What klayout writes for a polygon (its `dxf_polygon_mode`)."""

    POLYLINE = 0
    LWPOLYLINE = 1
    SOLID = 2
    HATCH = 3
    LINE = 4


def write_klayout(
    path: Path,
    polygons: Sequence[Sequence[Point]],
    circles: Sequence[tuple[float, float, float]],
    *,
    corners: int = 32,
    mode: PolygonMode = PolygonMode.POLYLINE,
    grid: float = 1e-6,
    outline_layer: str = "OUTLINE",
    hole_layer: str = "HOLES",
) -> Path:
    """Write polygons, and circles (x, y, radius) as polygons of `corners` on the circle.

    Every coordinate is rounded to `grid`. The file states no unit.
    """
    import klayout.db as kdb

    layout = kdb.Layout()
    layout.dbu = grid
    cell = layout.create_cell("PART")
    outline = layout.layer(kdb.LayerInfo(outline_layer))
    holes = layout.layer(kdb.LayerInfo(hole_layer))
    for polygon in polygons:
        cell.shapes(outline).insert(kdb.DPolygon([kdb.DPoint(x, y) for x, y in polygon]))
    for circle in circles:
        points = [kdb.DPoint(x, y) for x, y in circle_corners(*circle, corners)]
        cell.shapes(holes).insert(kdb.DPolygon(points))
    options = kdb.SaveLayoutOptions()
    options.format = "DXF"
    options.dxf_polygon_mode = int(mode)
    layout.write(str(path), options)
    return path


def circle_corners(x: float, y: float, radius: float, corners: int) -> list[Point]:
    """List the corners of a regular polygon on a circle, the first at three o'clock."""
    turn = 2 * math.pi / corners
    return [
        (x + radius * math.cos(i * turn), y + radius * math.sin(i * turn)) for i in range(corners)
    ]
