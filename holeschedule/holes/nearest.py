"""The holes next to each hole, and the order in which a drawing is read."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from holeschedule.geometry.edges import FloatArray, IntArray

LINE_HEIGHT = 0.0171
"""Inches. Holes whose heights differ by less stand on one line when a drawing is read from the
bottom left. A little over the layout tolerance of 1/64 in, and an odd figure, so that no
distance that anybody draws falls on it."""
SAME_COLUMN = 1e-6
"""Inches. Holes of one line that are nearer than this from side to side stand in one column."""
TIE = 1e-6
"""Share of a distance. Neighbours whose distances differ by less are equally near."""

_BRUTE = 256
"""Holes. Up to here every hole is compared with every other."""
_BLOCK = 1 << 17
"""Distances worked out at a time, which bounds the memory used."""
_SAMPLE = 16
"""Holes measured against all others to choose the width of the cells."""
_CROWD = 16
"""Holes in a cell, on average over the holes, above which the cells are made smaller."""


def reading_order(points: FloatArray) -> IntArray:
    """Indices of the points line by line from the bottom, each line from the left.

    Parameters
    ----------
    points : (n, 2) array [in]
        May be empty.

    Returns
    -------
    (n,) array
        Indices into `points`. A shift, a shuffle or noise far below `LINE_HEIGHT` changes nothing.
    """
    if not len(points):
        return np.zeros(0, dtype=np.intp)
    x, y = points[:, 0], points[:, 1]
    by_x = np.argsort(x, kind="stable")
    column = np.empty(len(points), dtype=np.intp)
    column[by_x] = np.cumsum(np.diff(x[by_x], prepend=x[by_x[0]]) > SAME_COLUMN)
    return np.lexsort((y, column, _lines(y)))


def _lines(y: FloatArray) -> IntArray:
    """Number of the line each height stands on; a line begins at its lowest height."""
    order = np.argsort(y, kind="stable")
    rising = y[order]
    line = np.zeros(len(y), dtype=np.intp)
    first = 0
    while first < len(y):
        line[first] = 1
        first = int(np.searchsorted(rising, rising[first] + LINE_HEIGHT, "right"))
    numbered = np.empty_like(line)
    numbered[order] = np.cumsum(line)
    return numbered


def nearest_points(points: FloatArray, count: int) -> IntArray:
    """The nearest other points of each point, nearest first.

    Parameters
    ----------
    points : (n, 2) array [in]
        No two at the same place.
    count : int
        How many neighbours are wanted.

    Returns
    -------
    (n, count) array
        Indices into `points`, -1 where there are no more. Neighbours as far away as the first
        one that found no room are left out too, so that noise never chooses among equals.
    """
    found = np.full((len(points), count), -1, dtype=np.intp)
    if len(points) > 1:
        _Search(points, count, found).run()
    return found


class _Search:
    """Square cells, doubled in width until every point has its neighbours for certain."""

    def __init__(self, points: FloatArray, count: int, found: IntArray) -> None:
        self.points = points
        self.want = min(count + 1, len(points) - 1)
        self.found = found

    def run(self) -> None:
        """Fill `found`."""
        n = len(self.points)
        waiting = np.arange(n)
        span = float(np.ptp(self.points, axis=0).max())
        cells = self._first_cells(span) if n > _BRUTE else None
        while cells is not None and cells.width <= span and len(waiting) * n > _BLOCK // 2:
            waiting = self._in_cells(cells.order[np.isin(cells.order, waiting)], cells)
            cells = _Cells(self.points, cells.width * 2) if len(waiting) else None
        if len(waiting):
            self._against_all(waiting)

    def _first_cells(self, span: float) -> _Cells:
        """Cells that hold the neighbours of most points, and not many more than those."""
        some = self.points[:: max(1, len(self.points) // _SAMPLE)]
        away = np.square(self.points[:, 0] - some[:, :1])
        away += np.square(self.points[:, 1] - some[:, 1:])
        away.partition(self.want, axis=1)
        last = np.sqrt(away[:, self.want])
        cells = _Cells(self.points, max(float(np.quantile(last, 0.8)) * 1.02, span * 1e-8))
        while cells.crowd() > _CROWD and cells.width > span * 1e-8:
            cells = _Cells(self.points, cells.width / 2)
        return cells

    def _against_all(self, waiting: IntArray) -> None:
        n = len(self.points)
        step = max(1, _BLOCK // n)
        for begin in range(0, len(waiting), step):
            some = waiting[begin : begin + step]
            away = np.square(self.points[:, 0] - self.points[some, 0, None])
            away += np.square(self.points[:, 1] - self.points[some, 1, None])
            away[np.arange(len(some)), some] = np.inf
            self._keep(some, away, np.arange(n))

    def _in_cells(self, waiting: IntArray, cells: _Cells) -> IntArray:
        """Search three by three cells; the points whose neighbours may lie outside are returned."""
        first, size = cells.around(waiting)
        total = size.sum(axis=1)
        by_size = np.argsort(total, kind="stable")
        left, begin = [], 0
        while begin < len(waiting):
            end = _block_end(total[by_size], begin)
            block = by_size[begin:end]
            away, at = cells.distances(waiting[block], first[block], size[block])
            far = self._keep(waiting[block], away, cells.order, at)
            left.append(waiting[block][far > (cells.width * (1 - 1e-9)) ** 2])
            begin = end
        return np.concatenate(left)

    def _keep(
        self,
        which: IntArray,
        away: FloatArray,
        names: IntArray,
        at: NDArray[np.int32] | None = None,
    ) -> FloatArray:
        """Note the nearest of each row of `away` [in²]; the last wanted distance is returned.

        Column c of a row is point `names[c]`, or `names[at[row, c]]` where `at` is given.
        """
        room, width = self.found.shape[1], min(self.want, away.shape[1])
        column = _smallest(away, width)
        distance = np.take_along_axis(away, column, axis=1)
        nearest = names[column if at is None else np.take_along_axis(at, column, axis=1)]
        keep = np.isfinite(distance)
        if width > room:
            keep &= distance < distance[:, room, None] * (1 - 2 * TIE)
        self.found[which, : min(room, width)] = np.where(keep, nearest, -1)[:, :room]
        last: FloatArray = distance[:, -1] if width == self.want else np.full(len(which), np.inf)
        return last


class _Cells:
    """Points filed by the square cell they lie in."""

    def __init__(self, points: FloatArray, width: float) -> None:
        self.width = width
        cell = np.floor((points - points.min(axis=0)) / width).astype(np.int64)
        self.across = int(cell[:, 0].max()) + 3
        self.key = (cell[:, 1] + 1) * self.across + cell[:, 0] + 1
        self.order = np.argsort(self.key, kind="stable")
        self.filed = self.key[self.order]
        self.place = np.empty(len(points), dtype=np.int32)
        self.place[self.order] = np.arange(len(points), dtype=np.int32)
        self.x, self.y = points[self.order].T.copy()

    def crowd(self) -> float:
        """How many points share a cell with a point, on average."""
        _, size = np.unique(self.filed, return_counts=True)
        return float(np.square(size).sum() / len(self.key))

    def around(self, which: IntArray) -> tuple[IntArray, IntArray]:
        """The three runs of `order`, (m, 3) first and size, that hold the cells round a point."""
        beside = self.key[which, None] + self.across * np.arange(-1, 2)
        first = np.searchsorted(self.filed, beside - 1, "left")
        return first, np.searchsorted(self.filed, beside + 1, "right") - first

    def distances(
        self, which: IntArray, first: IntArray, size: IntArray
    ) -> tuple[FloatArray, NDArray[np.int32]]:
        """Squared distances (m, c) [in²] to all points of three runs; infinite where none is.

        The second array says where in `order` each of them stands.
        """
        stop = np.cumsum(size, axis=1, dtype=np.int32)
        column = np.arange(int(stop[:, -1].max()), dtype=np.int32)[None, :]
        shift = (first - stop + size).astype(np.int32)
        at = column + np.where(
            column < stop[:, :1],
            shift[:, :1],
            np.where(column < stop[:, 1:2], shift[:, 1:2], shift[:, 2:]),
        )
        np.minimum(at, len(self.order) - 1, out=at)
        own = self.place[which, None]
        away = np.square(self.x[at] - self.x[own])
        away += np.square(self.y[at] - self.y[own])
        away[(column >= stop[:, -1:]) | (at == own)] = np.inf
        return away, at


def _smallest(values: FloatArray, count: int) -> IntArray:
    """(m, count) columns of the smallest values of each row, smallest first.

    The column goes into the last bits of the value, so that values alone have to be sorted,
    which is several times faster; the bits given up are far below `TIE`.
    """
    bits = max(1, int(values.shape[1] - 1).bit_length())
    mask = (1 << bits) - 1
    packed = (values.view(np.int64) & ~mask) | np.arange(values.shape[1])
    if count < values.shape[1]:
        packed.partition(count - 1, axis=1)
        packed = packed[:, :count]
    packed.sort(axis=1)
    return packed & mask


def _block_end(total: IntArray, begin: int) -> int:
    """How far a block may reach so that its table stays below `_BLOCK` entries; sizes rise."""
    width = np.maximum(total[begin : begin + _BLOCK // 8], 1)
    fits = width * np.arange(1, len(width) + 1) <= _BLOCK
    return begin + max(1, int(np.count_nonzero(fits)))
