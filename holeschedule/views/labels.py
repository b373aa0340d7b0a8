"""Labels without overlaps: what is drawn takes room on the sheet, a label gets what is still free.

The sheet is a grid of small cells. A line, a hole or a label takes every cell that it touches, and
a box is free when none of its cells is taken: two boxes that were placed never cross.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray
from holeschedule.views.page import Box

CELL = 0.015
"""Inches: side of a cell."""
_MOST_CELLS = 4_000_000
_EPS = 1e-9
_COARSE = 2.0
"""Cells: a smaller circle takes the square round it."""


class Room:
    """Free room on a sheet, within a box [in]."""

    def __init__(self, box: Box) -> None:
        self.box = box
        left, low, right, high = box
        width, height = right - left, high - low
        self.cell = max(CELL, math.sqrt(width * height / _MOST_CELLS))
        shape = (math.ceil(height / self.cell) + 1, math.ceil(width / self.cell) + 1)
        self._taken = np.zeros(shape, dtype=np.int16)

    # Taking room -------------------------------------------------------------------------------

    def take(self, box: Box, times: int = 1) -> None:
        """A box takes the cells it touches; with -1 it gives them back."""
        rows, columns = self._cells(box)
        self._taken[rows, columns] += np.int16(times)

    def take_points(self, points: FloatArray, times: int = 1) -> None:
        """The cells under (n, 2) points [in] and those beside them are taken."""
        rows, columns = self._cells_of(points)
        for i in (-1, 0, 1):
            for j in (-1, 0, 1):
                r = np.clip(rows + i, 0, self._taken.shape[0] - 1)
                c = np.clip(columns + j, 0, self._taken.shape[1] - 1)
                self._taken[r, c] += np.int16(times)

    def take_edges(self, edges: Edges) -> None:
        """Lines and arcs take the cells they run through."""
        if not len(edges):
            return
        lengths = edges.lengths()
        counts = np.maximum(np.ceil(lengths / self.cell), 1).astype(np.intp)
        # an outline of many thousand edges needs no more points than there are cells
        index = np.repeat(np.arange(len(edges)), counts + 1)
        step = np.arange(len(index)) - np.repeat(np.cumsum(counts + 1) - (counts + 1), counts + 1)
        self.take_points(edges.take(index).points_at(step / counts[index]))

    def take_circles(self, centres: FloatArray, radii: FloatArray) -> None:
        """Discs take the cells they touch."""
        for (x, y), r in zip(centres.tolist(), radii.tolist(), strict=True):
            box = (x - r, y - r, x + r, y + r)
            if r < self.cell * _COARSE:
                self.take(box)
                continue
            rows, columns = self._cells(box)
            dx = self._away(x - self.box[0], columns, self._taken.shape[1])
            dy = self._away(y - self.box[1], rows, self._taken.shape[0])
            self._taken[rows, columns] += (dx**2 + dy[:, None] ** 2 <= r * r).astype(np.int16)

    def _away(self, at: float, cells: slice, count: int) -> FloatArray:
        """How far each of some cells is from a place along one side of the grid [in]."""
        low = np.arange(*cells.indices(count)) * self.cell
        away: FloatArray = np.maximum(np.maximum(low - at, at - low - self.cell), 0.0)
        return away

    # Finding room ------------------------------------------------------------------------------

    def is_free(self, box: Box) -> bool:
        """Whether a box lies on the sheet and touches nothing."""
        left, low, right, high = self.box
        if box[0] < left or box[1] < low or box[2] > right or box[3] > high:
            return False
        rows, columns = self._cells(box)
        return not self._taken[rows, columns].any()

    def first_free(self, boxes: Iterable[Box]) -> Box | None:
        """Take the first of the boxes that is free; None if none is."""
        for box in boxes:
            if self.is_free(box):
                self.take(box)
                return box
        return None

    def nearest_free(
        self, size: tuple[float, float], near: tuple[float, float], least: float, lines: Leaders
    ) -> Box | None:
        """Take the free box of `size` [in] nearest to a point, its leader crossing no other box.

        Parameters
        ----------
        size : (width, height) [in]
            Of the box.
        near : (x, y) [in]
            What it is about.
        least : float [in]
            How far it stays from there.
        lines : Leaders
            What was placed so far; the leader of this box is added.
        """
        rows, columns = self._corners_free(size)
        if not len(rows):
            return None
        left = self.box[0] + columns * self.cell + _EPS
        low = self.box[1] + rows * self.cell + _EPS
        dx = np.maximum(np.maximum(left - near[0], near[0] - left - size[0]), 0.0)
        dy = np.maximum(np.maximum(low - near[1], near[1] - low - size[1]), 0.0)
        away = np.hypot(dx, dy)
        order = np.argsort(np.where(away < least, np.inf, away), kind="stable")
        # the nearest hundred and then ever sparser ones: neighbours are blocked alike
        tried = order[np.unique(np.geomspace(1, len(order), 400).astype(np.intp) - 1)]
        for i in tried.tolist():
            if away[i] < least:
                continue
            x, y = float(left[i]), float(low[i])
            box = (x, y, x + size[0], y + size[1])
            end = leader_end(box, near)
            if lines.is_clear(near, end):
                self.take(box)
                self.take_points(_along(near, end, self.cell))
                lines.add(near, end, box)
                return box
        return None

    def _corners_free(self, size: tuple[float, float]) -> tuple[IntArray, IntArray]:
        """Rows and columns of every cell at whose corner a free box of `size` may stand."""
        high = math.ceil(size[1] / self.cell) + 1
        wide = math.ceil(size[0] / self.cell) + 1
        rows, columns = self._taken.shape
        if high >= rows or wide >= columns:
            return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
        total = np.zeros((rows + 1, columns + 1), dtype=np.int64)
        total[1:, 1:] = (self._taken > 0).cumsum(axis=0, dtype=np.int64).cumsum(axis=1)
        inside = (
            total[high:, wide:]
            - total[:-high, wide:]
            - total[high:, :-wide]
            + total[:-high, :-wide]
        )
        # the last row and column of cells may stand out beyond the box
        found = np.nonzero(inside[:-1, :-1] == 0)
        return found[0], found[1]

    def _cells(self, box: Box) -> tuple[slice, slice]:
        left, low = self.box[0], self.box[1]
        first_row = max(0, math.floor((box[1] - low) / self.cell))
        first_column = max(0, math.floor((box[0] - left) / self.cell))
        last_row = max(0, math.floor((box[3] - low) / self.cell) + 1)
        last_column = max(0, math.floor((box[2] - left) / self.cell) + 1)
        return slice(first_row, last_row), slice(first_column, last_column)

    def _cells_of(self, points: FloatArray) -> tuple[IntArray, IntArray]:
        on_grid = np.floor((points - np.array(self.box[:2])) / self.cell).astype(np.intp)
        inside: BoolArray = ((on_grid >= 0) & (on_grid < np.array(self._taken.shape[::-1]))).all(
            axis=1
        )
        return on_grid[inside, 1], on_grid[inside, 0]


class Leaders:
    """Leader lines and the boxes they lead to: what a further leader must not cross."""

    def __init__(self, boxes: Iterable[Box] = ()) -> None:
        self._boxes: list[Box] = list(boxes)
        self._lines: list[tuple[float, float, float, float]] = []

    def add(self, start: tuple[float, float], end: tuple[float, float], box: Box) -> None:
        """Add a leader and its box."""
        self._lines.append((*start, *end))
        self._boxes.append(box)

    def is_clear(self, start: tuple[float, float], end: tuple[float, float]) -> bool:
        """Whether a line crosses none of the leaders and boxes."""
        line = (*start, *end)
        return not any(_crosses_box(line, box) for box in self._boxes) and not any(
            _cross(line, other) for other in self._lines
        )


def leader_end(box: Box, near: tuple[float, float]) -> tuple[float, float]:
    """The point of a box that is nearest to a point outside it."""
    return min(max(near[0], box[0]), box[2]), min(max(near[1], box[1]), box[3])


def _along(start: tuple[float, float], end: tuple[float, float], step: float) -> FloatArray:
    count = max(2, math.ceil(math.dist(start, end) / step) + 1)
    return np.column_stack(
        (np.linspace(start[0], end[0], count), np.linspace(start[1], end[1], count))
    )


def _cross(a: Sequence[float], b: Sequence[float]) -> bool:
    """Whether two lines between points (x0, y0, x1, y1) have a point in common."""

    def side(line: Sequence[float], x: float, y: float) -> float:
        return (line[2] - line[0]) * (y - line[1]) - (line[3] - line[1]) * (x - line[0])

    apart = side(a, b[0], b[1]) * side(a, b[2], b[3])
    across = side(b, a[0], a[1]) * side(b, a[2], a[3])
    return apart <= 0 and across <= 0


def _crosses_box(line: Sequence[float], box: Box) -> bool:
    """Whether a line runs through a box: clipped to it, something is left."""
    x0, y0, x1, y1 = line
    first, last = 0.0, 1.0
    for start, end, low, high in ((x0, x1, box[0], box[2]), (y0, y1, box[1], box[3])):
        if abs(end - start) < _EPS:
            if not low < start < high:
                return False
            continue
        near, far = sorted(((low - start) / (end - start), (high - start) / (end - start)))
        first, last = max(first, near), min(last, far)
    return first < last - _EPS


# Where a label may stand -----------------------------------------------------------------------


def beside(
    point: tuple[float, float], way: tuple[float, float], gap: float, size: tuple[float, float]
) -> Box:
    """A box of `size` [in] that lies `gap` [in] from a point, in the direction of a unit vector."""
    away = gap + abs(way[0]) * size[0] / 2 + abs(way[1]) * size[1] / 2
    x, y = point[0] + way[0] * away, point[1] + way[1] * away
    return (x - size[0] / 2, y - size[1] / 2, x + size[0] / 2, y + size[1] / 2)


def turned(way: tuple[float, float], degrees: float) -> tuple[float, float]:
    """A direction turned counter-clockwise."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return (c * way[0] - s * way[1], s * way[0] + c * way[1])
