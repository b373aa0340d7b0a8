"""Which of many overlapping chains are rows, and which row a hole in two of them belongs to."""

from __future__ import annotations

import heapq
from collections import Counter
from dataclasses import dataclass, field
from itertools import chain, filterfalse
from math import floor, log

import numpy as np

from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.holes.chains import Chain
from holeschedule.holes.nearest import ComplexArray
from holeschedule.holes.spans import median_gaps

SHORTEST_ROW = 3
"""Holes of the shortest row."""
PITCH_POWER = 3
"""Of two rows with equally many holes the one with the smaller pitch is seen first: a row counts
by its holes beyond two, over this power of its pitch. A grid is so read along its closer pitch,
unless the other way is much longer."""
SQUARE_DRAWN = 4.7
"""Degrees from horizontal or vertical up to which a row is drawn square."""
SQUARE_BONUS = 3.0
"""How much more a row counts that is drawn square: staggered rows are not read along diagonals."""
LEVEL_BONUS = 1.1
"""How much more a level row counts than an upright one."""
EQUAL_PITCH = 0.0513
"""Share by which the pitches of a grid may differ across and upwards and still be equal."""
LONGER_UPRIGHT = 4
"""A grid of equal pitches is read level unless its upright rows are more than so many times as
long."""
GRID_MALUS = 0.05
"""What an upright row in such a grid counts, as a share."""

_SCORE_STEP = 0.02
"""Rows whose scores differ by less than this share are equal; the place decides then."""
_ODD = 0.37
"""Keeps whole-number scores off the borders between steps."""
_STRAIGHT_STEP = 2.0
"""Degrees of mean turn by which one row must be straighter than another to count as straighter."""


@dataclass(slots=True)
class _Contest:
    """Chains competing for holes; the best one is taken first, then what is left of the others."""

    taken: bytearray
    begun: bool = False
    paths: list[tuple[int, ...]] = field(default_factory=list)
    merit: list[float] = field(default_factory=list)
    upright: list[bool] = field(default_factory=list)
    closed: list[bool] = field(default_factory=list)
    heap: list[tuple[int, bool, int, int, tuple[int, ...], int, int]] = field(default_factory=list)
    corners: list[tuple[int, ...]] = field(default_factory=list)

    def enter(self, path: tuple[int, ...], merit: float, *, upright: bool, closed: bool) -> None:
        """Let a chain or a piece of one compete."""
        self.paths.append(path)
        self.merit.append(merit)
        self.upright.append(upright)
        self.closed.append(closed)
        self._rank(len(self.paths) - 1, self._own(path) if self.begun else len(path))

    def _own(self, path: tuple[int, ...]) -> int:
        return len(path) - sum(map(self.taken.__getitem__, path))

    def _rank(self, number: int, own: int) -> None:
        path = self.paths[number]
        if own < SHORTEST_ROW:
            if own:
                self.corners.append(path)
            return
        score = floor(log((own - 2) * self.merit[number]) / _SCORE_STEP + _ODD)
        first, last = sorted((path[0], path[-1]))
        entry = (-score, self.upright[number], first, last, path, own, number)
        heapq.heappush(self.heap, entry)

    def run(self) -> list[Chain]:
        """Rows, the best first. They may still share single holes where they cross or meet."""
        rows = []
        self.begun = True
        while self.heap:
            *_, own, number = heapq.heappop(self.heap)
            path = self.paths[number]
            left = self._own(path)
            if left < own:
                self._rank(number, left)
            elif len(set(path)) < len(path):
                self._enter_without_loops(number)
            elif own == len(path):
                rows.append(self._accept(Chain(path, self.closed[number])))
            elif self.closed[number] or self._pieces(path) != [path]:
                self._enter_pieces(number)
            elif len(path) - own < own:
                rows.append(self._accept(Chain(path)))
        return rows

    def _accept(self, row: Chain) -> Chain:
        for hole in row.holes:
            self.taken[hole] = 1
        return row

    def _enter_pieces(self, number: int) -> None:
        path = self.paths[number]
        if self.closed[number]:
            first = next(i for i, hole in enumerate(path) if self.taken[hole])
            path = path[first:] + path[: first + 1]
        for piece in self._pieces(path):
            self.enter(piece, self.merit[number], upright=self.upright[number], closed=False)

    def _enter_without_loops(self, number: int) -> None:
        """Part a path where it comes back to a hole it has passed."""
        path, passed, first = self.paths[number], set[int](), 0
        for i, hole in enumerate((*path, path[-1])):
            if hole in passed:
                piece, passed, first = path[first:i], set(), i
                merit, upright = self.merit[number], self.upright[number]
                self.enter(piece, merit, upright=upright, closed=False)
            passed.add(hole)

    def _pieces(self, path: tuple[int, ...]) -> list[tuple[int, ...]]:
        """The path parted wherever two holes that follow each other are taken."""
        cuts = [i for i in range(1, len(path)) if self.taken[path[i]] and self.taken[path[i - 1]]]
        bounds = zip([0, *cuts], [*cuts, len(path)], strict=True)
        return [path[a:b] for a, b in bounds if b - a >= SHORTEST_ROW]

    def corner_pieces(self) -> list[tuple[int, ...]]:
        """Pieces too short for a row on their own, that start or end at rows, or do both."""
        found = []
        for path in self.corners:
            found += [p for p in self._pieces(path) if self._is_side(p)]
        return sorted(found, key=lambda p: (-len(p), p))

    def _is_side(self, piece: tuple[int, ...]) -> bool:
        return 0 < self._own(piece) < SHORTEST_ROW and not any(self.taken[h] for h in piece[1:-1])


def choose_rows(points: ComplexArray, chains: list[Chain]) -> list[Chain]:
    """Rows from overlapping chains; each hole is in one row at most.

    Parameters
    ----------
    points : (n,) complex array [in]
        In reading order: of equals the first is preferred.
    chains : list of Chain
        As `chains.find_chains` returns them.

    Returns
    -------
    list of Chain
        Where rows cross, the hole is in one of them and the other goes on behind it.
    """
    contest = _Contest(bytearray(len(points)))
    merits, upright = _merits(points, chains)
    for whole, merit, up in zip(chains, merits, upright, strict=True):
        contest.enter(whole.holes, merit, upright=up, closed=whole.closed)
    rows = _share_out(points, contest.run())
    return _with_sides(rows, contest.corner_pieces())


def _merits(points: ComplexArray, chains: list[Chain]) -> tuple[list[float], list[bool]]:
    """What one hole of each chain counts, and which chains are upright."""
    if not chains:
        return [], []
    ends = points[np.array([(c.holes[0], c.holes[-1]) for c in chains], dtype=np.intp)]
    chord = ends[:, 1] - ends[:, 0]
    across, up = np.abs(chord.real), np.abs(chord.imag)
    upright = across < up * (1 - 1e-6)
    square = np.minimum(across, up) <= np.tan(np.radians(SQUARE_DRAWN)) * np.maximum(across, up)
    pitch, _ = median_gaps(points, chains)
    merit = np.where(square, SQUARE_BONUS, 1.0) / pitch**PITCH_POWER
    merit[~upright] *= LEVEL_BONUS
    merit[_in_square_grid(chains, pitch, square, upright)] *= GRID_MALUS
    return merit.tolist(), upright.tolist()


def _in_square_grid(
    chains: list[Chain], pitch: FloatArray, square: BoolArray, upright: BoolArray
) -> BoolArray:
    """Upright chains whose holes mostly lie in level ones too, of equal pitch and not too short."""
    size = np.array([len(c.holes) for c in chains])
    hole = np.fromiter(chain.from_iterable(c.holes for c in chains), dtype=np.intp)
    of = np.repeat(np.arange(len(chains)), size)
    level_pitch, level_size = np.zeros(hole.max() + 1), np.zeros(hole.max() + 1)
    level, steep = (square & ~upright)[of], (square & upright)[of]
    level_pitch[hole[level]], level_size[hole[level]] = pitch[of[level]], size[of[level]]
    hole, of = hole[steep], of[steep]
    equal = np.abs(level_pitch[hole] - pitch[of]) <= EQUAL_PITCH * pitch[of]
    equal &= level_size[hole] * LONGER_UPRIGHT >= size[of]
    mostly: BoolArray = 2 * np.bincount(of, equal, minlength=len(chains)) > size
    return mostly


# holes of two rows -----------------------------------------------------------------------------


def _share_out(points: ComplexArray, rows: list[Chain]) -> list[Chain]:
    """Give each hole that several rows claim to one of them."""
    claims = _claims(points, rows)
    held = [len(row.holes) for row in rows]
    lost: dict[int, set[int]] = {}
    for hole, ranked in claims.items():
        winner = next((n for n in ranked if held[n] <= SHORTEST_ROW), ranked[0])
        for loser in ranked:
            if loser != winner:
                held[loser] -= 1
                lost.setdefault(loser, set()).add(hole)
    kept = [_without(row, lost.get(n, set())) for n, row in enumerate(rows)]
    return [row for row in kept if len(row.holes) >= SHORTEST_ROW]


def _claims(points: ComplexArray, rows: list[Chain]) -> dict[int, list[int]]:
    """The rows that claim each hole that more than one claims, the best first; holes in order.

    A row that passes a hole comes before one that ends there, else the stronger one is first.
    """
    size = np.array([len(row.holes) for row in rows], dtype=np.intp)
    flat = np.fromiter(chain.from_iterable(r.holes for r in rows), dtype=np.intp)
    row = np.repeat(np.arange(len(rows)), size)
    several = np.flatnonzero(np.bincount(flat, minlength=len(points))[flat] > 1)
    if not len(several):
        return {}
    strengths = _strengths(points, rows, flat, row)
    rank = np.empty(len(rows), dtype=np.intp)
    rank[sorted(range(len(rows)), key=strengths.__getitem__)] = np.arange(len(rows))
    ends = np.zeros(len(flat), dtype=bool)
    opened = ~np.array([r.closed for r in rows], dtype=bool)
    ends[(np.cumsum(size) - size)[opened]] = ends[(np.cumsum(size) - 1)[opened]] = True
    order = several[np.lexsort((rank[row[several]], ends[several], flat[several]))]
    claims: dict[int, list[int]] = {}
    for hole, n in zip(flat[order].tolist(), row[order].tolist(), strict=True):
        claims.setdefault(hole, []).append(n)
    return claims


def _strengths(
    points: ComplexArray, rows: list[Chain], flat: IntArray, row: IntArray
) -> list[tuple[int, int, bool, tuple[int, ...]]]:
    """Sort rows that claim one hole: longer, straighter, level, and then in reading order.

    `flat` are the holes of all rows, `row` the row each of them is in.
    """
    gap = np.diff(points[flat])
    inner = np.flatnonzero(row[2:] == row[:-2])
    turn = np.abs(np.angle(gap[inner + 1] / gap[inner], deg=True))
    size = np.bincount(row, minlength=len(rows))
    mean = np.bincount(row[inner], turn, minlength=len(rows)) / np.maximum(size - 2, 1)
    last = np.cumsum(size) - 1
    chord = points[flat[last]] - points[flat[last - size + 1]]
    upright = np.abs(chord.real) < np.abs(chord.imag) * (1 - 1e-6)
    bend = np.floor(mean / _STRAIGHT_STEP + _ODD).astype(np.intp)
    return [
        (-len(r.holes), b, up, min(r.holes, r.holes[::-1]))
        for r, b, up in zip(rows, bend.tolist(), upright.tolist(), strict=True)
    ]


def _is_end(row: Chain, hole: int) -> bool:
    return not row.closed and hole in (row.holes[0], row.holes[-1])


def _without(row: Chain, holes: set[int]) -> Chain:
    if not holes:
        return row
    return Chain(tuple(filterfalse(holes.__contains__, row.holes)), row.closed)


def _with_sides(rows: list[Chain], pieces: list[tuple[int, ...]]) -> list[Chain]:
    """Let a short side of one or two holes take its corner holes from rows that can spare them.

    So a plate with three holes along its short side has a row there, and no odd single hole. A
    row that cannot spare all the corners asked of it gives none, so both sides fare alike.
    """
    if not pieces:
        return rows
    owner = {hole: n for n, row in enumerate(rows) for hole in row.holes}
    sides = [p for p in pieces if _meets_ends(p, rows, owner)]
    asked = Counter(owner[h] for p in sides for h in _ends_of(p) if h in owner)
    spares = [len(row.holes) - asked[n] >= SHORTEST_ROW for n, row in enumerate(rows)]
    given: set[int] = set()
    added = []
    for piece in sides:
        givers = [owner[h] for h in _ends_of(piece) if h in owner]
        if given.isdisjoint(piece) and all(spares[n] for n in givers):
            given.update(piece)
            added.append(Chain(piece))
    return [_without(row, given.intersection(row.holes)) for row in rows] + added


def _ends_of(piece: tuple[int, ...]) -> tuple[int, int]:
    return piece[0], piece[-1]


def _meets_ends(piece: tuple[int, ...], rows: list[Chain], owner: dict[int, int]) -> bool:
    """Whether the ends of the piece are ends of rows or free, and all between is free."""
    ends = (h for h in _ends_of(piece) if h in owner)
    return not any(h in owner for h in piece[1:-1]) and all(
        _is_end(rows[owner[h]], h) for h in ends
    )
