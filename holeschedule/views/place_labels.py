"""Numbers at the places of a joint: all in line, as near to them as there is room."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from holeschedule.geometry.edges import BoolArray, FloatArray
from holeschedule.views.labels import Room
from holeschedule.views.page import Box, Text
from holeschedule.views.part_labels import Placed, number_boxes, number_in

_STYLES = ("single", "number")
"""Letters of the numbers: the large ones where all find room."""
_GAPS = (0.02, 0.06, 0.1, 0.14, 0.18, 0.22)
"""Inches on the paper between a place and the room of its number: beyond the edge of a flange,
if need be."""


def place_numbers(room: Room, placed: Placed) -> tuple[list[Text], int]:
    """Number every place; as many as can be on the same side, none nearer to another place.

    Returns
    -------
    texts, how many places found no room
    """
    numbers: list[Text] = []
    for style in _STYLES:
        numbers = list(_numbers(room, placed, style))
        if len(numbers) == len(placed.labels) or style == _STYLES[-1]:
            break
        for number in numbers:
            room.take(number.box, -1)
    return numbers, len(placed.labels) - len(numbers)


def _numbers(room: Room, placed: Placed, style: str) -> Iterator[Text]:
    ways = _ways(room, placed, style)
    # the nearest of those that suit the most; where that leaves some, they look for themselves
    order = sorted(range(len(ways)), key=lambda way: -sum(box is not None for box in ways[way]))
    for place, text in enumerate(placed.labels):
        boxes = (ways[way][place] for way in order)
        box = room.first_free(box for box in boxes if box is not None)
        if box is not None:
            yield number_in(box, text, style)


def _ways(room: Room, placed: Placed, style: str) -> list[list[Box | None]]:
    """For each side and gap a box for every place, None where it is not free; the nearest first."""
    ways: list[list[Box | None]] = []
    for gap in _GAPS:
        around = [
            number_boxes(placed.point(i), float(placed.reach[i]), text, style=style, gap=gap)
            for i, text in enumerate(placed.labels)
        ]
        for boxes in zip(*around, strict=True):
            own = _is_nearest(placed.centres, boxes)
            ways.append(
                [
                    box if is_own and room.is_free(box) else None
                    for box, is_own in zip(boxes, own.tolist(), strict=True)
                ]
            )
        if any(None not in way for way in ways):
            break
    return ways


def _is_nearest(centres: FloatArray, boxes: tuple[Box, ...]) -> BoolArray:
    """(n,) whether each box lies nearer to its own place than to any other."""
    at = np.array(boxes)
    middles = shapely.points((at[:, :2] + at[:, 2:]) / 2)
    nearest = shapely.STRtree(shapely.points(centres)).nearest(middles)
    found: BoolArray = nearest == np.arange(len(centres))
    return found
