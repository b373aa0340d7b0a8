"""Which rigid moves are worth a closer look: pairs of holes vote for them.

Two holes of one pattern that are as far apart as two holes of the other could be the same two.
Each such pair of pairs votes for the move that brings the one onto the other: a turn and a shift.
Votes are cast into cells, and what many pairs agree on is where many holes come together.

Not every pair has to vote. A move that brings a share f of the holes together gets the votes of a
share f² of the pairs, so some hundreds of pairs, in step with no pattern, are as good as all.

Sources
-------
D. H. Ballard, "Generalizing the Hough transform to detect arbitrary shapes", Pattern Recognition
13 (1981) 111-122; H. J. Wolfson and I. Rigoutsos, "Geometric hashing: an overview", IEEE
Computational Science and Engineering 4 (1997) 10-21, for pairs of points as a basis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.geometry.turning import ComplexArray

_GOLDEN = (5**0.5 - 1) / 2
_VOTES = (150_000, 600_000, 2_000_000)
"""Votes cast; the next number where the last agreed on nothing."""
_AGREED = 6
"""Votes on which so many pairs agree by no chance, as long as rows do not repeat."""
_MOST_VECTORS = 4_000_000
"""Vectors between holes of the pattern that stands still that are looked at together."""
_MOST_DRAWN = 40_000
"""Pairs of the pattern that moves from which the voters are drawn."""
_FEWEST_PAIRS = 48
"""Pairs that vote whatever number of votes they cast."""
_SHORTEST = 1 / 16
"""Share of the pattern's radius. Nearer pairs tell a turn too poorly."""
_CELL = 4
"""Tolerances: the width of a cell, at the radius of the pattern that moves."""
_FAINT = 16
"""Cells with so many times fewer votes than the fullest are left out at once."""
_MOST_CELLS = 40_000
"""Cells looked at more closely."""
_SPILT = 0.8
"""Share of its votes that noise leaves a move, at least, against another."""
_LUCK = 4.0
"""Standard deviations by which the votes for an equal move may be fewer."""
_CLEAR = 16
"""Votes that tell a move that brings many holes together."""
_MOST_MOVED = (400_000, 10_000_000)
"""Holes moved for a closer look: where no votes are clear, and where some are."""


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """Holes about the middle of their pattern: `at` complex (n,) [in], `kinds` (n,) integers."""

    at: ComplexArray
    kinds: IntArray

    def __len__(self) -> int:
        return len(self.at)

    @property
    def radius(self) -> float:
        """Inches from the middle to the farthest hole."""
        return float(np.abs(self.at).max())


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """c moves, arrays in step: z comes to z × factor + shift, or -conj(z) × factor + shift.

    `flip` (c,) says which; `factor` (c,) complex of length 1 is the turn, `shift` (c,) [in].
    """

    flip: BoolArray
    factor: ComplexArray
    shift: ComplexArray

    def __len__(self) -> int:
        return len(self.flip)

    def take(self, index: IntArray | BoolArray | slice) -> Moves:
        """The moves at `index`, in that order."""
        return Moves(self.flip[index], self.factor[index], self.shift[index])

    def faced(self, points: ComplexArray) -> ComplexArray:
        """(c, m) array: the points (m,), flipped where the move flips."""
        return np.where(self.flip[:, None], -points.conj(), points)

    def images(self, points: ComplexArray) -> ComplexArray:
        """(c, m) array [in]: where each move brings each of the points (m,)."""
        return self.faced(points) * self.factor[:, None] + self.shift[:, None]


def joined_moves(moves: Sequence[Moves]) -> Moves:
    """Several lots of moves as one."""
    return Moves(
        np.concatenate([some.flip for some in moves]),
        np.concatenate([some.factor for some in moves]),
        np.concatenate([some.shift for some in moves]),
    )


def moves_by_pairs(few: Spots, many: Spots, tolerance: float, flips: Sequence[bool]) -> Moves:
    """Moves of `few` onto `many` that most pairs of holes vote for, most votes first.

    Parameters
    ----------
    few, many : Spots
        In an order that depends on nothing but the holes.
    tolerance : float [in]
        How near is on.
    flips : bools
        Which faces of `few` to try.

    Returns
    -------
    Moves
        To the nearest cell. Empty where no two distances are equal.
    """
    begin, end = _voters(few, tolerance)
    length, reach = np.abs(few.at[end] - few.at[begin]), 2 * tolerance
    some = np.unique(_drawn(len(many), max(1, _MOST_VECTORS // len(many))))
    vectors = _Vectors(many, some, length, reach)
    first, size = vectors.alike(length, reach)
    cast = np.cumsum(size) * len(flips) * len(many) / len(some)
    for votes in _VOTES:
        asked = max(_FEWEST_PAIRS, int(np.searchsorted(cast, votes)))
        if len(some) < len(many):
            vectors = _Vectors(many, np.arange(len(many)), length[:asked], reach)
            first, size = vectors.alike(length[:asked], reach)
        which, run = _counted(size[:asked])
        ends, place = (begin[which], end[which]), first[which] + run
        ballots = [_cast(few, many, vectors, ends, place, flip=flip) for flip in flips]
        moves, most = _tallied(ballots, few, _CELL * tolerance, min(asked, len(length)))
        if most >= _AGREED or asked >= len(length):
            break
    return moves


def moves_by_shift(
    few: Spots, many: Spots, tolerance: float, turns: Sequence[tuple[bool, complex]]
) -> Moves:
    """Moves with stated faces and turns [factors] that most pairs of a hole and a hole vote for."""
    asked = _drawn(len(few), max(_FEWEST_PAIRS, _VOTES[0] // len(many)))
    which, other = np.nonzero(few.kinds[asked][:, None] == many.kinds[None, :])
    at = few.at[asked[which]]
    ballots = []
    for flip, turn in turns:
        shift = many.at[other] - turn * (-at.conj() if flip else at)
        ballots.append(Moves(np.full(len(at), flip), np.full(len(at), turn), shift))
    return _tallied(ballots, few, _CELL * tolerance, len(asked))[0]


def _drawn(n: int, count: int) -> IntArray:
    """At most `count` of the numbers below n, in an order that is in step with no pattern."""
    spread = np.arange(1, min(n, count) + 1) * _GOLDEN % 1
    drawn = np.argsort(spread, kind="stable") if n <= count else np.floor(spread * n)
    return np.asarray(drawn, dtype=np.intp)


def _voters(few: Spots, tolerance: float) -> tuple[IntArray, IntArray]:
    """Pairs that are far enough apart to tell a turn, as two arrays in step."""
    m = len(few)
    begin, end = np.divmod(_drawn(m * m, 2 * _MOST_DRAWN), m)
    away = np.abs(few.at[end] - few.at[begin])
    keep = (begin < end) & (away >= _SHORTEST * few.radius) & (away > 2 * tolerance)
    return begin[keep], end[keep]


def _counted(size: IntArray) -> tuple[IntArray, IntArray]:
    """Each number as often as its size says, and which time it is, from 0."""
    number = np.repeat(np.arange(len(size)), size)
    return number, np.arange(len(number)) - np.repeat(np.cumsum(size) - size, size)


class _Vectors:
    """Vectors from hole to hole, filed by length: `begin` and `end` are indices of holes.

    Those that begin at the holes `rows` and are about as long as one of the lengths wanted [in].
    """

    def __init__(self, spots: Spots, rows: IntArray, wanted: FloatArray, reach: float) -> None:
        steps = np.floor(wanted / reach).astype(np.intp)
        is_wanted = np.zeros(int(steps.max(initial=0)) + 3, dtype=np.bool_)
        for step in (-1, 0, 1):
            is_wanted[steps + step] = True  # the last one is never wanted
        found = [(np.zeros(0), *(np.zeros((2, 0), dtype=np.intp)))]
        block = max(1, _MOST_VECTORS // len(spots))
        for begin in range(0, len(rows), block):
            starts = rows[begin : begin + block]
            away = np.abs(spots.at[None, :] - spots.at[starts, None])
            at = np.minimum((away / reach).astype(np.intp), len(is_wanted) - 1)
            row, end = np.nonzero(is_wanted[at])
            found.append((away[row, end], starts[row], end))
        length, starts, ends = (np.concatenate(column) for column in zip(*found, strict=True))
        order = np.argsort(length)
        self.length: FloatArray = length[order]
        self.begin, self.end = starts[order], ends[order]

    def alike(self, length: FloatArray, reach: float) -> tuple[IntArray, IntArray]:
        """First place and number of the vectors as long as each length [in], within reach."""
        first = np.searchsorted(self.length, length - reach, "left")
        return first, np.searchsorted(self.length, length + reach, "right") - first


def _cast(
    few: Spots,
    many: Spots,
    vectors: _Vectors,
    ends: tuple[IntArray, IntArray],
    place: IntArray,
    *,
    flip: bool,
) -> Moves:
    """A vote of each pair of holes (two indices) for each vector (its place): the move."""
    begin, end = vectors.begin[place], vectors.end[place]
    same = few.kinds[ends[0]] == many.kinds[begin]
    same &= few.kinds[ends[1]] == many.kinds[end]
    begin, end = begin[same], end[same]
    one, two = (few.at[side[same]] for side in ends)
    if flip:
        one, two = -one.conj(), -two.conj()
    turned = (many.at[end] - many.at[begin]) * (two - one).conj()
    factor = turned / np.abs(turned)
    shift = (many.at[begin] + many.at[end] - factor * (one + two)) / 2
    return Moves(np.full(len(factor), flip), factor, shift)


# cells -----------------------------------------------------------------------------------------


class _Cells:
    """Votes filed by cells of face, turn and shift."""

    def __init__(self, votes: Moves, radius: float, width: float) -> None:
        self.turns = max(3, int(2 * np.pi * radius / width))
        angle = np.angle(votes.factor) / (2 * np.pi)
        turn = np.floor(angle * self.turns).astype(np.int64) % self.turns
        x = np.floor(votes.shift.real / width).astype(np.int64)
        y = np.floor(votes.shift.imag / width).astype(np.int64)
        # a cell to spare on either side, so that neighbours have keys of their own
        self.low = int(x.min()) - 1, int(y.min()) - 1
        self.size = int(x.max()) - self.low[0] + 2, int(y.max()) - self.low[1] + 2
        parts = (votes.flip.astype(np.int64), turn, x - self.low[0], y - self.low[1])
        self.cast = self.key(*parts)
        filed = np.sort(self.cast)
        first = np.flatnonzero(np.diff(filed, prepend=-1))
        self.count: IntArray = np.diff(first, append=len(filed))
        self.keys = filed[first]

    def key(
        self,
        flip: NDArray[np.int64],
        turn: NDArray[np.int64],
        x: NDArray[np.int64],
        y: NDArray[np.int64],
    ) -> NDArray[np.int64]:
        """One number for each cell."""
        across, up = self.size
        return np.asarray(((flip * self.turns + turn) * across + x) * up + y, dtype=np.int64)

    def around(self, keys: NDArray[np.int64]) -> list[NDArray[np.int64]]:
        """Keys of the 26 cells that touch each cell."""
        across, up = self.size
        rest, y = np.divmod(keys, up)
        rest, x = np.divmod(rest, across)
        flip, turn = np.divmod(rest, self.turns)
        steps = [(a, b, c) for a in (-1, 0, 1) for b in (-1, 0, 1) for c in (-1, 0, 1)]
        return [
            self.key(flip, (turn + a) % self.turns, x + b, y + c)
            for a, b, c in steps
            if (a, b, c) != (0, 0, 0)
        ]


def _tallied(ballots: list[Moves], few: Spots, width: float, asked: int) -> tuple[Moves, int]:
    """The moves that got most votes, most first, and how many the first one got of those asked."""
    votes = joined_moves(ballots)
    if not len(votes):
        return votes, 0
    cells = _Cells(votes, few.radius, width)
    full = np.flatnonzero(cells.count * _FAINT >= cells.count.max())
    if len(full) > _MOST_CELLS:
        full = np.sort(full[np.argsort(-cells.count[full], kind="stable")[:_MOST_CELLS]])
    total, is_peak = _peaks(cells, full)
    most = int(total.max())
    # votes for equal moves are spread as draws are: not at all where nearly all agree
    spread = (most * max(0.0, 1 - most / asked)) ** 0.5
    chosen = np.flatnonzero(is_peak & (total >= _SPILT * most - _LUCK * spread))
    chosen = chosen[np.argsort(-total[chosen], kind="stable")]
    chosen = chosen[: max(1, _MOST_MOVED[most >= _CLEAR] // len(few))]
    return _means(votes, cells, full[chosen]), most


def _peaks(cells: _Cells, full: IntArray) -> tuple[IntArray, BoolArray]:
    """Votes of each full cell with those that touch it, and whether none of these has more."""
    keys, own = cells.keys[full], cells.count[full]
    total = own.copy()
    touching = []
    for near in cells.around(keys):
        place = np.minimum(np.searchsorted(keys, near), len(keys) - 1)
        there = keys[place] == near
        touching.append((place, there))
        total += np.where(there, own[place], 0)
    # one number that orders cells: by total, then by their own votes, then by place
    rank = np.empty(len(keys), dtype=np.intp)
    rank[np.lexsort((-np.arange(len(keys)), own, total))] = np.arange(len(keys))
    beaten = np.zeros(len(keys), dtype=np.bool_)
    for place, there in touching:
        beaten |= there & (rank[place] > rank)
    return total, ~beaten


def _means(votes: Moves, cells: _Cells, chosen: IntArray) -> Moves:
    """The mean of the votes in each cell."""
    order = np.argsort(cells.keys[chosen])
    keys = cells.keys[chosen][order]
    place = np.minimum(np.searchsorted(keys, cells.cast), len(keys) - 1)
    inside = np.flatnonzero(keys[place] == cells.cast)
    cell, size = order[place[inside]], len(chosen)
    flip = np.zeros(size, dtype=np.bool_)
    flip[cell] = votes.flip[inside]
    factor = _sums(cell, votes.factor[inside], size)
    shift = _sums(cell, votes.shift[inside], size)
    return Moves(flip, factor / np.abs(factor), shift / cells.count[chosen])


def _sums(cell: IntArray, values: ComplexArray, size: int) -> ComplexArray:
    return np.bincount(cell, values.real, size) + 1j * np.bincount(cell, values.imag, size)
