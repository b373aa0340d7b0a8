"""A template to lay on the sheet: outline and hole centres full size, tiled on paper."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from holeschedule.geometry.edges import Edges, FloatArray, join_edges, line_edges
from holeschedule.geometry.loops import edge_boxes
from holeschedule.holes.part import Part
from holeschedule.units import MM_PER_INCH
from holeschedule.views.explain import CAUTION
from holeschedule.views.labels import Room, beside, turned
from holeschedule.views.page import (
    PAPERS,
    Box,
    Circles,
    Clipped,
    Item,
    Page,
    Path,
    Text,
    box_path,
    boxes_path,
    cut_to,
    line_path,
    lines_path,
    text_in,
    text_lines,
    text_size,
    wrapped,
)
from holeschedule.views.part_picture import Fit, PartView, part_box

EDGE = 0.4
"""Inches of paper that a printer may leave white at each side."""
FOOT = 1.05
"""Inches at the foot of each sheet for check bar, title and cautions."""
OVERLAP = 0.5
"""Inches that a sheet and the next one both show."""
CHECK_INCHES, CHECK_MM = 4.0, 100.0
"""Lengths of the two check bars."""
WARNING = "Measure both bars before use."
"""Stands on every sheet, in full."""
_CROSS = 0.12
_REGISTER = 0.1
_MARGIN = 0.1
"""Inches of paper that are shown round the part."""
_REGISTERS = (
    (0.2, 0.15, 0.25, 0.1, 0.3, 0.35, 0.4),
    (0.8, 0.85, 0.75, 0.9, 0.7, 0.65, 0.6),
)
"""Shares of a seam at which its register marks may stand, …"""
_APART = 0.3
"""… the first that is so many inches from every hole."""
_MAP = 0.9
"""Inches for the map of the sheets."""


@dataclass(frozen=True, slots=True)
class Tile:
    """One sheet of a template. Equality is by value.

    `column` and `row` count from the lower left, 1 first. `window` is what it shows of the part
    [in], `origin` where the lower left of that lies on the paper [in].
    """

    column: int
    row: int
    window: Box
    origin: tuple[float, float]

    @property
    def name(self) -> str:
        """`A1` for the lower left, `B1` to the right of it."""
        return f"{_column_letters(self.column)}{self.row}"


def _column_letters(column: int) -> str:
    """A to Z, then AA."""
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def template_tiles(box: Box, paper: str) -> tuple[Box, list[Tile]]:
    """Sheets that cover a part which takes up `box` [in], lying or standing as fewer are needed.

    Returns
    -------
    paper, tiles
        The paper as a box from (0, 0), and the tiles row by row from the lower left.
    """
    long, short = PAPERS[paper]
    ways = [_tiling(box, size) for size in ((long, short), (short, long))]
    return min(ways, key=lambda way: len(way[1]))


def _tiling(box: Box, paper: tuple[float, float]) -> tuple[Box, list[Tile]]:
    width, height = paper
    usable = width - 2 * EDGE, height - 2 * EDGE - FOOT
    left, low = box[0] - _MARGIN, box[1] - _MARGIN
    across = _count(box[2] + _MARGIN - left, usable[0])
    up = _count(box[3] + _MARGIN - low, usable[1])
    tiles = []
    for row, column in product(range(up), range(across)):
        x = left + column * (usable[0] - OVERLAP)
        y = low + row * (usable[1] - OVERLAP)
        window = (x, y, x + usable[0], y + usable[1])
        tiles.append(Tile(column + 1, row + 1, window, (EDGE, EDGE + FOOT)))
    return (0.0, 0.0, width, height), tiles


def _count(length: float, sheet: float) -> int:
    """Sheets in a line that cover a length with overlap."""
    return max(1, math.ceil((length - OVERLAP - 1e-9) / (sheet - OVERLAP)))


def template_pages(view: PartView, paper: str) -> list[Page]:
    """The template of a part: an inch of the part is an inch of the paper, on every sheet.

    Sheets on which nothing of the part lies are left out.
    """
    box = part_box(view.part)
    if view.is_turned_over:
        box = (-box[2], box[1], -box[0], box[3])
    sheet, tiles = template_tiles(box, paper)
    shown = [tile for tile in tiles if _shows_something(view, tile)]
    last = shown[-1]
    return [
        Page(
            sheet[2],
            sheet[3],
            tuple(_sheet(view, tile, shown, sheet)),
            f"{view.block.name} template {tile.name} of {len(shown)} sheets to {last.name}",
        )
        for tile in shown
    ]


def _shows_something(view: PartView, tile: Tile) -> bool:
    """Whether a hole, or a line of the part, lies in the window of a tile."""
    fit = Fit(1.0, view.is_turned_over, (0.0, 0.0))
    edges = join_edges([view.part.edges, view.part.bends])
    near = _edges_near(edges, tile, view.is_turned_over)
    return bool(_holes_in(view, tile, fit)) or len(near) > 0


def _holes_in(view: PartView, tile: Tile, fit: Fit) -> list[int]:
    """Indices of the holes that the window of a tile shows."""
    centres = fit.points(view.part.centres)
    left, low, right, high = tile.window
    inside = (centres >= (left, low)).all(axis=1) & (centres <= (right, high)).all(axis=1)
    found: list[int] = np.flatnonzero(inside).tolist()
    return found


def _edges_near(edges: Edges, tile: Tile, is_turned_over: bool) -> Edges:  # noqa: FBT001 (of a fit)
    """Edges [in] of a part that may lie in the window of a tile, as they are."""
    low, high = edge_boxes(Fit(1.0, is_turned_over, (0.0, 0.0)).edges(edges))
    left, bottom, right, top = tile.window
    near = (low <= (right, top)).all(axis=1) & (high >= (left, bottom)).all(axis=1)
    return edges.take(np.flatnonzero(near))


# One sheet -------------------------------------------------------------------------------------


def _sheet(view: PartView, tile: Tile, tiles: Sequence[Tile], sheet: Box) -> Iterator[Item]:
    left, low, right, high = tile.window
    x, y = tile.origin
    fit = Fit(1.0, view.is_turned_over, (x - left, y - low))
    frame = (x, y, x + right - left, y + high - low)
    lines = tuple(_part_lines(view.part, fit, tile))
    yield Clipped(lines, frame)
    yield box_path(frame, "rule")
    room = Room(frame)
    for path in lines:
        room.take_edges(path.edges)
    seams = _seams(tile, tiles, frame)
    for seam in seams:
        yield line_path([seam.start, seam.end], "cut")
        room.take_edges(line_edges(np.array([seam.start]), np.array([seam.end])))
        for x, y in _registers(seam, fit.points(view.part.centres)):
            yield from _register(x, y)
            room.take((x - _REGISTER, y - _REGISTER, x + _REGISTER, y + _REGISTER))
    yield from _holes(view, tile, fit, room)
    for seam in seams:
        yield from _seam_words(seam, room)
    yield from _foot(view, tile, tiles, sheet)


def _part_lines(part: Part, fit: Fit, tile: Tile) -> Iterator[Path]:
    """Edges and bend lines of which something may be seen on a sheet."""
    for edges, style in ((part.edges, "hairline"), (part.bends, "bend")):
        shown = fit.edges(_edges_near(edges, tile, fit.is_turned_over))
        if len(shown):
            yield Path(shown, style)


def _holes(view: PartView, tile: Tile, fit: Fit, room: Room) -> Iterator[Item]:
    """Each hole to size, its centre as a cross, and its label."""
    index = _holes_in(view, tile, Fit(1.0, fit.is_turned_over, (0.0, 0.0)))
    if not index:
        return
    centres = fit.points(view.part.centres[index])
    radii = np.array([view.part.holes[i].diameter / 2 for i in index])
    yield Circles(centres, radii, "hairline")
    for way in ((_CROSS, 0.0), (0.0, _CROSS)):
        yield lines_path(centres - way, centres + way, "hairline")
    room.take_circles(centres, np.maximum(radii, _CROSS))
    for i, centre, radius in zip(index, centres.tolist(), radii.tolist(), strict=True):
        label = view.part.holes[i].label
        size = text_size(label, "number")
        ways = (turned((1.0, 0.0), angle) for angle in (45, 135, -45, -135, 90, 0, 180, -90))
        gap = max(radius, _CROSS) + 0.02
        box = room.first_free(beside((centre[0], centre[1]), way, gap, size) for way in ways)
        if box is not None:
            yield text_in(box, label, "number")


# Where sheets meet -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Seam:
    """The middle of an overlap on the paper [in], from start to end; `words` name the other sheet.

    Equality is by value.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    words: str


def _seams(tile: Tile, tiles: Sequence[Tile], frame: Box) -> list[_Seam]:
    """Where the next sheets are laid on."""
    by_place = {(other.column, other.row): other.name for other in tiles}
    half = OVERLAP / 2
    left, low, right, high = frame
    sides = (
        (-1, 0, (left + half, low), (left + half, high)),
        (1, 0, (right - half, low), (right - half, high)),
        (0, -1, (left, low + half), (right, low + half)),
        (0, 1, (left, high - half), (right, high - half)),
    )
    return [
        _Seam(start, end, f"sheet {by_place[place]}")
        for dx, dy, start, end in sides
        if (place := (tile.column + dx, tile.row + dy)) in by_place
    ]


def _registers(seam: _Seam, holes: FloatArray) -> Iterator[tuple[float, float]]:
    """Two places on a seam away from the holes: the same ones on both sheets."""
    start, end = np.asarray(seam.start), np.asarray(seam.end)
    for shares in _REGISTERS:
        places = [start + share * (end - start) for share in shares]
        away = [float(np.hypot(*(holes - place).T).min()) for place in places]
        clear = next((i for i, far in enumerate(away) if far > _APART), int(np.argmax(away)))
        x, y = places[clear].tolist()
        yield x, y


def _seam_words(seam: _Seam, room: Room) -> Iterator[Item]:
    """The name of the sheet beyond a seam, beside it where there is room."""
    size = text_size(seam.words, "soft")
    is_upright = seam.start[0] == seam.end[0]
    way = (1.0, 0.0) if is_upright else (0.0, 1.0)
    start, end = np.asarray(seam.start), np.asarray(seam.end)
    points = [(start + share * (end - start)).tolist() for share in np.linspace(0.95, 0.05, 40)]
    boxes = (
        beside((x, y), (sign * way[0], sign * way[1]), 0.03, size)
        for x, y in points
        for sign in (-1.0, 1.0)
    )
    box = room.first_free(boxes)
    if box is not None:
        yield text_in(box, seam.words, "soft")


def _register(x: float, y: float) -> Iterator[Item]:
    yield Circles(np.array([[x, y]]), np.array([_REGISTER / 2]), "register")
    yield line_path([(x - _REGISTER, y), (x + _REGISTER, y)], "register")
    yield line_path([(x, y - _REGISTER), (x, y + _REGISTER)], "register")


# The foot --------------------------------------------------------------------------------------


def _foot(view: PartView, tile: Tile, tiles: Sequence[Tile], sheet: Box) -> Iterator[Item]:
    left, top = EDGE, EDGE + FOOT - 0.1
    yield from _check_bar(left, top - 0.34, CHECK_INCHES, 8, "4 in")
    yield from _check_bar(left, top - 0.66, CHECK_MM / MM_PER_INCH, 10, "100 mm")
    x = left + CHECK_INCHES + 0.25
    room = sheet[2] - EDGE - x - _MAP
    lines = [
        (cut_to(f"{view.block.name}  sheet {tile.name}", "name", room), "name"),
        (WARNING, "finding"),
        (cut_to(" · ".join(_facts(view, tile, tiles)), "soft", room), "soft"),
    ]
    y = top - 0.16
    for text, style in lines:
        yield Text(x, y, cut_to(text, style, room), style)
        y -= 0.17
    cautions = wrapped(f"Print at 100 %, without fitting to the page. {CAUTION}", "caution", room)
    yield from text_lines(x, y, cautions, "caution")
    yield from _map(tile, tiles, sheet[2] - EDGE, top)


def _facts(view: PartView, tile: Tile, tiles: Sequence[Tile]) -> list[str]:
    turned_over = ["turned over"] if view.is_turned_over else []
    facts = [value for word, value in view.block.facts if word in ("drawing", "date") and value]
    return [f"{tiles.index(tile) + 1} of {len(tiles)}", *facts, *turned_over]


def _check_bar(x: float, y: float, length: float, parts: int, words: str) -> Iterator[Item]:
    """A bar of a length to be measured, its ends as long strokes."""
    step = length / parts
    boxes = [(x + step * i, y, x + step * (i + 1), y + 0.07) for i in range(parts)]
    yield boxes_path(boxes[::2], "black")
    yield boxes_path(boxes[1::2], "white")
    for end in (x, x + length):
        yield line_path([(end, y - 0.05), (end, y + 0.12)], "hairline")
    yield Text(x + length / 2, y + 0.1, f"{words}: measure", "soft", 0.5)


def _map(tile: Tile, tiles: Sequence[Tile], right: float, top: float) -> Iterator[Item]:
    """How the sheets lie, this one filled."""
    columns, rows = max(t.column for t in tiles), max(t.row for t in tiles)
    cell = min(0.14, (_MAP - 0.15) / columns, (FOOT - 0.2) / rows)
    left, low = right - cell * columns, top - cell * rows
    boxes = {}
    for other in tiles:
        x, y = left + cell * (other.column - 1), low + cell * (other.row - 1)
        boxes[other] = (x, y, x + cell, y + cell)
    yield boxes_path(list(boxes.values()), "white")
    yield box_path(boxes[tile], "black")
