"""Letters at the ends of the rows and numbers at their holes, as many as there is room for."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np

from holeschedule.geometry.edges import FloatArray
from holeschedule.model import Row
from holeschedule.views.labels import Room, beside, turned
from holeschedule.views.page import ASCENT, DESCENT, Box, Item, Text, box_path, text_width
from holeschedule.views.palette import LETTERS, POINTS

EVERY = 5
"""A number at every so many holes where there is no room for all."""
_GAP = 0.02
"""Inches on the paper between a mark and the room of its number, …"""
_SIDE = 0.012
"""… which is this much wider than the number on either side."""
_LIKED = (0, 180)
_ANGLES = (*_LIKED, -90, 90, 40, -40, 140, 220)
"""Where a number may stand, in degrees from across its row."""
_ACROSS = 1.4
_MOST_OF_A_ROW = 0.85
"""Share of the numbers of a row that have to find room, if more than every fifth is to be shown."""
_TAG_PADS = {"row": 0.028, "small row": 0.014}
"""Inches round the letter of a row, by its style: the small one where rows are close."""
_LEVEL = 1e-6
"""Share of a unit vector that counts as nothing."""
_ROOMY = 1.15
"""Widths of a number to the next hole, from which each hole may have one."""
_REACH = (0.045, 0.08, 0.12, 0.17, 0.23, 0.3, 0.38, 0.47, 0.58, 0.7)
"""Inches on the paper from the end of a row to its letter, the first that is free."""


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """The holes of a part as they lie on the paper, arrays in step. Compared by identity.

    `centres` (n, 2) and `reach` (n,), how far the mark of each goes, are inches on the paper.
    """

    labels: tuple[str, ...]
    centres: FloatArray
    reach: FloatArray
    rows: tuple[Row, ...]

    @property
    def singles(self) -> tuple[int, ...]:
        """Indices of the holes that are in no row."""
        in_rows = {place for row in self.rows for place in row.places}
        return tuple(i for i in range(len(self.labels)) if i not in in_rows)

    def point(self, hole: int) -> tuple[float, float]:
        """Centre of one hole."""
        x, y = self.centres[hole].tolist()
        return x, y


# Letters ---------------------------------------------------------------------------------------


def row_letters(room: Room, placed: Placed) -> tuple[list[Item], list[str]]:
    """A letter at both ends of each row, or at the first hole of a closed one.

    Returns
    -------
    items, letters that found no room at either end
    """
    for style in ("row", "small row"):
        boxes = [[box for box in _ends(room, placed, row, style) if box] for row in placed.rows]
        without = [row.letter for row, at in zip(placed.rows, boxes, strict=True) if not at]
        if not without or style == "small row":
            break
        for box in chain.from_iterable(boxes):
            room.take(box, -1)
    letters = zip(placed.rows, boxes, strict=True)
    tags = [item for row, at in letters for box in at for item in _tag(row.letter, box, style)]
    return tags, without


def _ends(room: Room, placed: Placed, row: Row, style: str) -> Iterator[Box | None]:
    size = _size(row.letter, style, _TAG_PADS[style])
    first, last = row.places[0], row.places[-1]
    if row.closed or first == last:
        yield room.first_free(_round(placed, first, _outward(placed, row, first), size))
        return
    for end, next_to in ((first, row.places[1]), (last, row.places[-2])):
        yield room.first_free(_round(placed, end, _way(placed, next_to, end), size))


def _round(
    placed: Placed, hole: int, way: tuple[float, float], size: tuple[float, float]
) -> Iterator[Box]:
    """Boxes in line with a row beyond its end, ever farther; then aside."""
    for angles in ((0,), (30, -30, 55, -55, 90, -90)):
        for away in _REACH:
            for degrees in angles:
                gap = float(placed.reach[hole]) + away
                yield beside(placed.point(hole), turned(way, degrees), gap, size)


def _way(placed: Placed, start: int, end: int) -> tuple[float, float]:
    dx, dy = (placed.centres[end] - placed.centres[start]).tolist()
    length = math.hypot(dx, dy) or 1.0
    return dx / length, dy / length


def _outward(placed: Placed, row: Row, hole: int) -> tuple[float, float]:
    """Away from the middle of a closed row."""
    dx, dy = (placed.centres[hole] - placed.centres[list(row.places)].mean(axis=0)).tolist()
    length = math.hypot(dx, dy)
    return (dx / length, dy / length) if length > 0 else (0.0, 1.0)


def _tag(letter: str, box: Box, style: str) -> list[Item]:
    low = DESCENT * LETTERS[style].size / POINTS / 2
    y = box[1] + _TAG_PADS[style] + low
    return [box_path(box, "tag"), Text((box[0] + box[2]) / 2, y, letter, style, 0.5)]


def _size(text: str, style: str, pad: float = 0.0) -> tuple[float, float]:
    """Width and height [in] of a short text without letters below the line."""
    high = LETTERS[style].size / POINTS * (ASCENT + DESCENT / 2)
    return text_width(text, style) + 2 * pad, high + 2 * pad


# Numbers ---------------------------------------------------------------------------------------


def hole_numbers(room: Room, placed: Placed, named: Collection[int] = ()) -> tuple[list[Item], int]:
    """A number at every hole of a row where all find room, else at every fifth; single holes named.

    Parameters
    ----------
    room : Room
        The sheet, with the holes on it.
    placed : Placed
        The holes.
    named : collection of int
        Holes that a callout names: they get no number.

    Returns
    -------
    items, how many found no room: of the single holes, and of the numbers that a row is to have
    """
    items: list[Item] = []
    left_out = 0
    for hole in placed.singles:
        if hole in named:
            continue
        text = placed.labels[hole]
        box = room.first_free(
            number_boxes(placed.point(hole), float(placed.reach[hole]), text, style="single")
        )
        if box is None:
            left_out += 1
        else:
            items.append(number_in(box, text, "single"))
    for row in placed.rows:
        found, missing = _numbers_of(room, placed, row, named)
        items += found
        left_out += missing
    return items, left_out


def _numbers_of(
    room: Room, placed: Placed, row: Row, named: Collection[int]
) -> tuple[list[Item], int]:
    numbers = [(h, placed.labels[h][len(row.letter) :]) for h in row.places if h not in named]
    widest = max((text_width(number, "number") for _, number in numbers), default=0.0)
    apart = _pitch(placed, row)
    if apart > _ROOMY * min(widest, LETTERS["number"].size / POINTS):
        boxes = _side(room, placed, row, numbers)
        if sum(box is not None for box in boxes) >= _MOST_OF_A_ROW * len(boxes):
            return _set_all(boxes, numbers)
        for box in filter(None, boxes):
            room.take(box, -1)
    fifths = [(hole, number) for hole, number in numbers if int(number) % EVERY == 0]
    return _set_all(_side(room, placed, row, fifths), fifths)


def _pitch(placed: Placed, row: Row) -> float:
    """Least distance [in on the paper] between neighbours in a row."""
    points = placed.centres[list(row.places)]
    if len(points) < 2:
        return math.inf
    return float(np.hypot(*(points[1:] - points[:-1]).T).min())


def _set_all(
    boxes: Sequence[Box | None], numbers: Sequence[tuple[int, str]]
) -> tuple[list[Item], int]:
    """The numbers that found a box, and how many did not."""
    found: list[Item] = [
        number_in(box, number) for box, (_, number) in zip(boxes, numbers, strict=True) if box
    ]
    return found, len(numbers) - len(found)


def _side(
    room: Room, placed: Placed, row: Row, wanted: Sequence[tuple[int, str]]
) -> list[Box | None]:
    """A box for each number, all on that side of their holes which has room for the most."""
    around = [
        number_boxes(
            placed.point(hole), float(placed.reach[hole]), text, _across(placed, row, hole)
        )
        for hole, text in wanted
    ]
    free = [sum(map(room.is_free, boxes)) for boxes in zip(*around, strict=True)]
    # across the row a number cannot be taken for the next hole's: worth a few that stand elsewhere
    worth = [count * (_ACROSS if i < len(_LIKED) else 1.0) for i, count in enumerate(free)]
    best = worth.index(max(worth)) if worth else 0
    return [room.first_free((boxes[best], *boxes[:best], *boxes[best + 1 :])) for boxes in around]


def _across(placed: Placed, row: Row, hole: int) -> tuple[float, float]:
    """A direction across the row at a hole: up, or to the right where the row stands upright."""
    if row.closed:
        return _outward(placed, row, hole)
    at = row.places.index(hole)
    before, after = row.places[max(at - 1, 0)], row.places[min(at + 1, len(row.places) - 1)]
    x, y = _way(placed, before, after)
    is_upright = abs(x) <= _LEVEL
    return (-y, x) if x > _LEVEL or (is_upright and y < 0) else (y, -x)


def number_boxes(
    point: tuple[float, float],
    reach: float,
    text: str,
    way: tuple[float, float] = (0.0, 1.0),
    style: str = "number",
    gap: float = _GAP,
) -> list[Box]:
    """Where a number may stand beside a hole with a mark of `reach` [in], the best place first.

    `way` is a direction across its row, a unit vector; `gap` [in] stays free between the two.
    """
    wide, high = _size(text, style)
    size = (wide + 2 * _SIDE, high)
    return [beside(point, turned(way, angle), reach + gap, size) for angle in _ANGLES]


def number_in(box: Box, text: str, style: str = "number") -> Text:
    """A number in the box that was found for it."""
    low = DESCENT / 2 * LETTERS[style].size / POINTS
    return Text((box[0] + box[2]) / 2, box[1] + low, text, style, 0.5)
