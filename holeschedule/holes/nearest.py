"""The holes next to each hole, and the order in which a drawing is read."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from holeschedule.geometry.edges import FloatArray, IntArray

ComplexArray = NDArray[np.complex128]
SlotArray = NDArray[np.int32]

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
_BLOCK = 1 << 14
"""Distances worked out at a time, which bounds the memory used."""
_FEW = 1 << 16
"""Distances up to which the last holes are compared with every other."""
_SAMPLE = 16
"""Holes measured against all others to choose the width of the cells."""
_CROWD = 16
"""Holes in a cell, on average over the holes, above which the search begins nearer by."""
_NARROWEST = 1e-8
"""Share of the span of all holes below which no band is made narrower."""


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


def nearest_points(points: FloatArray, count: int) -> SlotArray:
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
    found = np.full((len(points), count), -1, dtype=np.int32)
    if len(points) > 1:
        _Search(points, count, found).run()
    return found


def pairs_within(
    spots: ComplexArray, points: ComplexArray, distance: FloatArray
) -> tuple[IntArray, IntArray]:
    """Pairs of a spot and a point no farther apart than the distance of that spot.

    Parameters
    ----------
    spots : (m,) complex array [in]
    points : (n,) complex array [in]
    distance : (m,) array [in]

    Returns
    -------
    spot, point : (k,) arrays
        Indices into `spots`, rising, and into `points`.
    """
    if len(spots) * len(points) <= _BLOCK // 4:
        spot, point = np.nonzero(np.abs(points - spots[:, None]) <= distance[:, None])
        return spot, point
    found = [np.zeros((2, 0), dtype=np.intp)]
    away = distance[:, None] * (1 + TIE)
    middle = _plane(spots)
    for spot, point in points_in_boxes(_plane(points), middle - away, middle + away):
        keep = np.abs(points[point] - spots[spot]) <= distance[spot]
        found.append(np.array((spot[keep], point[keep])))
    spot, point = np.concatenate(found, axis=1)
    return spot, point


def points_in_boxes(
    points: FloatArray, low: FloatArray, high: FloatArray
) -> Iterator[tuple[IntArray, IntArray]]:
    """Pairs of a box and a point in it or a little outside, many at a time; the boxes rise.

    Parameters
    ----------
    points : (n, 2) array [in]
    low, high : (m, 2) arrays [in]
        Lower left and upper right corners of the boxes.
    """
    if not len(points) or not len(low):
        return
    bands = _Bands(points, float((high[:, 1] - low[:, 1]).mean()))
    lowest, highest = bands.number(low[:, 1]), bands.number(high[:, 1])
    box, nth = _counted((highest - lowest + 1).astype(np.intp))
    first, size = bands.runs(lowest[box] + nth, low[box, 0], high[box, 0])
    last = np.cumsum(size)
    begin = 0
    while begin < len(size):
        done = last[begin] - size[begin]
        end = max(begin + 1, int(np.searchsorted(last, done + _BLOCK, "right")))
        run, place = _counted(size[begin:end])
        yield box[begin:end][run], bands.order[first[begin:end][run] + place]
        begin = end


def _counted(count: IntArray) -> tuple[IntArray, IntArray]:
    """Each number as often as its count says, and which time it is, from 0."""
    number = np.repeat(np.arange(len(count)), count)
    return number, np.arange(len(number)) - np.repeat(np.cumsum(count) - count, count)


def _plane(points: ComplexArray) -> FloatArray:
    """(n, 2) coordinates of complex points."""
    return np.column_stack((points.real, points.imag))


class _Search:
    """Looks ever farther round, until every point has its neighbours for certain."""

    def __init__(self, points: FloatArray, count: int, found: SlotArray) -> None:
        self.points = points
        # itself, those wanted, and the first that finds no room
        self.want = min(count + 2, len(points))
        self.found = found

    def run(self) -> None:
        """Fill `found`."""
        n = len(self.points)
        waiting = np.arange(n)
        span = float(max(np.ptp(self.points[:, 0]), np.ptp(self.points[:, 1])))
        reach, farther = self._first_reach(span) if n > _BRUTE else (np.inf, np.inf)
        while reach <= span and len(waiting) * n > _FEW:
            waiting = self._in_bands(waiting, reach)
            reach = min(max(farther, 1.25 * reach), 2 * reach)
        if len(waiting):
            self._against_all(waiting)

    def _first_reach(self, span: float) -> tuple[float, float]:
        """How far the neighbours of most points are, and those of nearly all."""
        x, y = (self.points - self.points[0]).T.astype(np.float32)
        some = slice(None, None, max(1, len(self.points) // _SAMPLE))
        away = np.square(x - x[some, None])
        away += np.square(y - y[some, None])
        away.partition(self.want - 1, axis=1)
        last = np.sort(np.sqrt(away[:, self.want - 1]))
        least = span * _NARROWEST
        reach = max(float(last[-2]) * 1.02, least)
        while reach > least and _crowd(self.points, reach) > _CROWD:
            reach /= 2
        return reach, float(last[-1]) * 1.02

    def _against_all(self, waiting: IntArray) -> None:
        n = len(self.points)
        step = max(1, _BLOCK // n)
        for begin in range(0, len(waiting), step):
            some = waiting[begin : begin + step]
            away = np.square(self.points[:, 0] - self.points[some, 0, None])
            away += np.square(self.points[:, 1] - self.points[some, 1, None])
            self._keep(some, away, np.arange(n))

    def _in_bands(self, waiting: IntArray, reach: float) -> IntArray:
        """Search as far as the reach; points whose neighbours may lie beyond are returned."""
        bands = _Bands(self.points, reach)
        first, size = bands.around(self.points[waiting], reach)
        total = size.sum(axis=0)
        by_size = np.argsort(total, kind="stable")
        left, begin = [], 0
        while begin < len(waiting):
            end = _block_end(total[by_size], begin)
            block = by_size[begin:end]
            some = waiting[block]
            away, at = bands.distances(self.points[some], first[:, block], size[:, block])
            far = self._keep(some, away, bands.order, at)
            left.append(some[far > (reach * (1 - 1e-9)) ** 2])
            begin = end
        return np.sort(np.concatenate(left))

    def _keep(
        self, which: IntArray, away: FloatArray, names: IntArray, at: IntArray | None = None
    ) -> FloatArray:
        """Note the nearest of each row of `away` [in²]; the last wanted distance is returned.

        Column c of a row is point `names[c]`, or `names[at[row, c]]` where `at` is given. The
        point itself is among them, at no distance.
        """
        room, width = self.found.shape[1], min(self.want, away.shape[1])
        column = _smallest(away, width)[:, 1:]
        column += away.shape[1] * np.arange(len(away))[:, None]
        distance = away.ravel()[column]
        keep = np.isfinite(distance)
        if width > room + 1:
            keep &= distance < distance[:, room, None] * (1 - 2 * TIE)
        place = column % away.shape[1] if at is None else at.ravel()[column]
        nearest = np.where(keep, names.take(place, mode="clip"), -1)
        self.found[which, : min(room, width - 1)] = nearest[:, :room]
        last: FloatArray = distance[:, -1] if width == self.want else np.full(len(which), np.inf)
        return last


def _crowd(points: FloatArray, width: float) -> float:
    """How many points share a square cell of that width with a point, on average."""
    cell = np.floor((points - points.min(axis=0)) / width).astype(np.int64)
    filed = np.sort(cell[:, 1] * (int(cell[:, 0].max()) + 1) + cell[:, 0])
    begins = np.flatnonzero(np.diff(filed, prepend=-1))
    size = np.diff(begins, append=len(filed))
    return float(np.square(size).sum() / len(points))


class _Bands:
    """Points filed in level bands, in each from left to right."""

    def __init__(self, points: FloatArray, height: float) -> None:
        x, y = points.T.copy()
        self.low = x.min(), y.min()
        x -= self.low[0]
        y -= self.low[1]
        self.width = float(x.max())
        self.height = max(height, _NARROWEST * max(self.width, float(y.max())), _NARROWEST)
        # bands follow each other so far apart that no run goes from one into the next
        self.step = 2 * self.width + self.height
        key = np.floor(y / self.height) * self.step + x
        self.order = np.argsort(key, kind="stable")
        self.key = key[self.order]
        self.last = float(np.floor(y.max() / self.height))
        self.noise = 4 * float(np.spacing(self.key[-1]))
        self.at = np.full(len(points) + 1, complex(np.inf, np.inf))
        self.at[:-1].real, self.at[:-1].imag = x[self.order], y[self.order]

    def number(self, y: FloatArray) -> FloatArray:
        """The band at each height, or the one nearest to it."""
        band: FloatArray = np.clip(np.floor((y - self.low[1]) / self.height), 0, self.last)
        return band

    def runs(
        self, band: FloatArray, begin: FloatArray, end: FloatArray
    ) -> tuple[IntArray, IntArray]:
        """First place in `order` and number of the points of bands from `begin` to `end` [in]."""
        base = band * self.step
        least = base + np.clip(begin - self.low[0], 0, self.width) - self.noise
        most = base + np.clip(end - self.low[0], 0, self.width) + self.noise
        first = np.searchsorted(self.key, least, "left")
        return first, np.searchsorted(self.key, most, "right") - first

    def around(self, spots: FloatArray, reach: float) -> tuple[IntArray, IntArray]:
        """The three runs, (3, m) first and number, that hold the points within reach.

        The reach is at most the height of a band.
        """
        x, y = spots.T
        y = y - self.low[1]
        band = np.floor(y / self.height)
        off = np.array((y - band * self.height, np.zeros_like(y), (band + 1) * self.height - y))
        half = np.sqrt(np.maximum(reach**2 - np.square(np.maximum(off, 0)), 0))
        return self.runs(band + np.arange(-1, 2)[:, None], x - half, x + half)

    def distances(
        self, spots: FloatArray, first: IntArray, size: IntArray
    ) -> tuple[FloatArray, IntArray]:
        """Squared distances (m, c) [in²] to all points of three runs; infinite where none is.

        The second array says where in `order` each of them stands; beyond the end for none.
        """
        total = size.sum(axis=0)
        rows, most = len(total), int(total.max())
        beyond = np.full(rows, len(self.order) + rows * most)
        sizes = np.vstack((size, most - total)).T.ravel()
        begins = np.cumsum(sizes) - sizes
        at: IntArray = np.repeat(np.vstack((first, beyond)).T.ravel() - begins, sizes)
        at += np.arange(len(at))
        at = at.reshape(rows, most)
        away = self.at.take(at, mode="clip")
        away -= ((spots[:, 0] - self.low[0]) + 1j * (spots[:, 1] - self.low[1]))[:, None]
        squares = np.square(away.view(np.float64))
        return squares[:, ::2] + squares[:, 1::2], at


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
