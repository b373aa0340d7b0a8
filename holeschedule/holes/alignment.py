"""How a revised drawing lies on the recorded holes: unmoved, shifted, or shifted and turned.

Nothing but the holes is looked at, and many of them may have vanished or be new, so moves are
found by voting: each pair of a recorded and a new hole votes for the shift between them, each pair
of equal distances between neighbours for the turn between those. What gets most votes is refined
by least squares and counted. A mirror image is never tried here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from holeschedule.geometry.edges import FloatArray, IntArray
from holeschedule.geometry.turning import ComplexArray, least_squares
from holeschedule.holes.nearest import nearest_points
from holeschedule.holes.pairing import Grid, Spots, same_size

MOST_ANSWERS = 8
"""Moves returned at most, the best first. A regular pattern fits itself in many more ways."""

_VOTERS = 64
"""Holes that vote for a shift; for each turn tried, a quarter of them."""
_ASKED = 4096
"""Holes that they are paired with for each turn tried; for a shift alone, all."""
_COUNTED = 512
"""Holes on which moves are refined and compared before all are counted."""
_SHIFTS = 48
"""Shifts looked at more closely; for each turn tried, a quarter of them."""
_TURNS = 8
"""Turns tried."""
_NEIGHBOURS = 4
"""Neighbours of a hole whose directions vote for the turn."""
_MOST_VOTES = 400_000
"""Votes for turns at most."""
_BINS = 7200
"""Bins of the full turn in which votes are counted."""
_BLUR = 6
"""Bins to either side within which noise spreads the votes for one turn."""
_NEARLY = 0.5
"""Share of the holes that the best move brings together, below which another is given up."""
TINY = 1e-9
"""Inches, so that nothing is divided by a width of 0."""
_GOLDEN = (math.sqrt(5) - 1) / 2


@dataclass(frozen=True, slots=True)
class Alignment:
    """A rigid move: turn about the drawing's zero, then shift. Equality is by value.

    A hole recorded at p lies at turn(p) + (dx, dy) on the axes of the new drawing. `dx`, `dy` are
    inches, `turn` degrees counter-clockwise, above -180 and up to 180.
    """

    dx: float = 0.0
    dy: float = 0.0
    turn: float = 0.0

    @property
    def is_unmoved(self) -> bool:
        """Whether nothing moves."""
        return self == UNMOVED

    @property
    def size(self) -> tuple[float, float]:
        """Sort key: a smaller turn first, then a smaller shift."""
        return round(abs(self.turn), 6), round(math.hypot(self.dx, self.dy), 6)

    def apply(self, points: ComplexArray) -> ComplexArray:
        """Points x + iy [in] on recorded axes → on the axes of the new drawing."""
        if self.is_unmoved:
            return points
        return points * self._factor + complex(self.dx, self.dy)

    def undo(self, points: ComplexArray) -> ComplexArray:
        """Points x + iy [in] on the axes of the new drawing → on recorded axes."""
        if self.is_unmoved:
            return points
        return (points - complex(self.dx, self.dy)) / self._factor

    def inverse(self) -> Alignment:
        """The move back."""
        back = -complex(self.dx, self.dy) / self._factor
        return _alignment(-math.radians(self.turn), back)

    @property
    def _factor(self) -> complex:
        # quarter turns exactly: a cosine of 90° is not quite 0
        quarters, rest = divmod(self.turn, 90.0)
        angle = math.radians(rest)
        return complex(math.cos(angle), math.sin(angle)) * (1, 1j, -1, -1j)[int(quarters) % 4]


UNMOVED = Alignment()


def _alignment(angle: float, shift: complex) -> Alignment:
    degrees = math.remainder(math.degrees(angle), 360.0)
    # + 0.0 makes a minus zero plain
    return Alignment(
        shift.real + 0.0, shift.imag + 0.0, abs(degrees) if degrees == -180 else degrees + 0.0
    )


@dataclass(frozen=True, slots=True)
class Answer:
    """A move, how many holes it brings together, and how many of these have one size."""

    move: Alignment
    kept: int
    same_size: int

    @property
    def order(self) -> tuple[float, ...]:
        """Sort key: most holes first, then most of one size, then the smallest move."""
        move = self.move
        return (-self.kept, -self.same_size, *move.size, move.turn, move.dx, move.dy)


def count_kept(known: Spots, new: Spots, move: Alignment, tolerance: float) -> Answer:
    """How many recorded holes a move brings within `tolerance` [in] of new ones."""
    which, other, _ = Grid(new.at, tolerance).near(move.apply(known.at))
    return Answer(move, *_tally(known, new, which, other))


def find_shifts(known: Spots, new: Spots, tolerance: float) -> list[Answer]:
    """Shifts that bring most recorded holes onto new ones.

    Parameters
    ----------
    known, new : Spots
        In an order that depends on nothing but the holes.
    tolerance : float [in]
        How near is on.

    Returns
    -------
    list of Answer
        At most `MOST_ANSWERS`, best first, no two alike. Empty where either has no hole.
    """
    return _both_ways(known, new, tolerance, _shifts_of_few)


def find_turns(known: Spots, new: Spots, tolerance: float) -> list[Answer]:
    """Turns with shifts that bring most recorded holes onto new ones; else as `find_shifts`."""
    return _both_ways(known, new, tolerance, _turns_of_few)


_Move = tuple[complex, complex]
"""Factor (a turn) and shift: p lies at p × factor + shift."""
_Fit = Callable[[ComplexArray, ComplexArray, _Move], _Move]
_Counted = tuple[_Move, tuple[int, int]]
_Finder = Callable[[Spots, Spots, float], list[_Counted]]


def _both_ways(known: Spots, new: Spots, tolerance: float, find: _Finder) -> list[Answer]:
    """Move the fewer holes onto the more: each of the fewer more likely has a partner."""
    if not (len(known) and len(new)):
        return []
    turned_round = len(known) > len(new)
    few, many = (new, known) if turned_round else (known, new)
    # about the middle, where an error of the turn does least
    centre, onto = _middle(few.at), _middle(many.at)
    counted = find(
        Spots(few.at - centre, few.diameters), Spots(many.at - onto, many.diameters), tolerance
    )
    answers = []
    for (factor, shift), (kept, sized) in counted:
        move = _alignment(math.atan2(factor.imag, factor.real), shift + onto - factor * centre)
        answers.append(Answer(move.inverse() if turned_round else move, kept, sized))
    return sorted(answers, key=lambda answer: answer.order)


def _shifts_of_few(few: Spots, many: Spots, tolerance: float) -> list[_Counted]:
    voters = few.at[_spread(few.at, _VOTERS)]
    moves = [(1 + 0j, shift) for shift in _shifts(voters, many.at, 2 * tolerance, _SHIFTS)]
    grids = [Grid(many.at, width * tolerance) for width in (3, 1.5, 1)]
    return _best(moves, few, many, grids, _fit_shift)


def _turns_of_few(few: Spots, many: Spots, tolerance: float) -> list[_Counted]:
    voters = few.at[_spread(few.at, _VOTERS // 4)]
    asked = many.at[_spread(many.at, _ASKED)]
    moves = [
        (factor, shift)
        for factor in _turns(few.at, many.at, tolerance)
        for shift in _shifts(voters * factor, asked, 8 * tolerance, _SHIFTS // 4)
    ]
    grids = [Grid(many.at, width * tolerance) for width in (8, 4, 2, 1)]
    return _best(moves, few, many, grids, _fit_turn)


def _middle(points: ComplexArray) -> complex:
    x, y = points.real, points.imag
    return complex((x.min() + x.max()) / 2, (y.min() + y.max()) / 2)


def _spread(points: ComplexArray, count: int) -> IntArray:
    """Indices of `count` points in step with no pattern, and of half as many outermost ones."""
    n = len(points)
    if n <= count:
        return np.arange(n)
    spread = np.floor((np.arange(1, count + 1) * _GOLDEN % 1) * n).astype(np.intp)
    strips = max(1, count // 8)
    ends = [_ends(points.real, points.imag, strips), _ends(points.imag, points.real, strips)]
    return np.unique(np.concatenate([spread, *ends]))


def _ends(across: FloatArray, along: FloatArray, strips: int) -> IntArray:
    """The lowest and the highest point of each of so many strips.

    They tell a regular pattern from the same one a pitch away, which holds all but its edge.
    """
    width = np.ptp(across) / strips + TINY
    strip = np.floor((across - across.min()) / width).astype(np.intp)
    order = np.lexsort((along, strip))
    last = np.flatnonzero(np.diff(strip[order], append=strips) > 0)
    return np.concatenate([order[last], order[np.append(0, last[:-1] + 1)]])


def _shifts(voters: ComplexArray, many: ComplexArray, width: float, count: int) -> list[complex]:
    """Shifts that most pairs vote for, to the nearest cell of `width` [in]."""
    votes = (many[None, :] - voters[:, None]).ravel()
    low = complex(votes.real.min(), votes.imag.min())
    column = ((votes.real - low.real) / width).astype(np.int64)
    line = ((votes.imag - low.imag) / width).astype(np.int64)
    filed = np.sort((column << 31) + line)
    first = np.flatnonzero(np.diff(filed, prepend=-1))
    keys, cast = filed[first], np.diff(first, append=len(filed))
    top = np.argsort(-cast, kind="stable")[: 64 * count]
    total = np.zeros(len(top), dtype=np.intp)
    # the votes for one shift may be split between cells that touch
    for step in (c * (1 << 31) + r for c in (-1, 0, 1) for r in (-1, 0, 1)):
        place = np.minimum(np.searchsorted(keys, keys[top] + step), len(keys) - 1)
        total += np.where(keys[place] == keys[top] + step, cast[place], 0)
    chosen: list[complex] = []
    for key in keys[top[np.argsort(-total, kind="stable")]].tolist():
        centre = low + complex((key >> 31) + 0.5, (key & ((1 << 31) - 1)) + 0.5) * width
        if not any(_touch(centre, other, width) for other in chosen):
            chosen.append(centre)
        if len(chosen) == count:
            break
    return chosen


def _touch(one: complex, other: complex, width: float) -> bool:
    apart = one - other
    return max(abs(apart.real), abs(apart.imag)) < 1.5 * width


# turns -----------------------------------------------------------------------------------------


def _turns(few: ComplexArray, many: ComplexArray, tolerance: float) -> list[complex]:
    """Factors of the turns that most pairs of equally long vectors between neighbours vote for."""
    angles = _angle_votes(_vectors(few), _vectors(many), tolerance)
    if not len(angles):
        return []
    places = np.floor(angles / (2 * np.pi) * _BINS).astype(np.intp) % _BINS
    votes = np.bincount(places, minlength=_BINS).astype(float)
    blurred = sum(np.roll(votes, k) for k in range(-_BLUR, _BLUR + 1))
    score = votes + blurred / math.sqrt(2 * _BLUR + 1)
    found: list[complex] = []
    while len(found) < _TURNS and score.max() > 0:
        peak = int(np.argmax(score))
        off = (angles - (peak + 0.5) * 2 * np.pi / _BINS + np.pi) % (2 * np.pi) - np.pi
        near = off[np.abs(off) <= (_BLUR + 1) * 2 * np.pi / _BINS]
        angle = (peak + 0.5) * 2 * np.pi / _BINS + float(np.median(near))
        found.append(complex(math.cos(angle), math.sin(angle)))
        score[np.arange(peak - 2 * _BLUR, peak + 2 * _BLUR + 1) % _BINS] = 0
    return found


def _vectors(points: ComplexArray) -> ComplexArray:
    """Vectors from each point to its nearest others."""
    apart = points[np.unique(np.round(points, 6), return_index=True)[1]]
    if len(apart) < 2:
        return np.zeros(0, dtype=np.complex128)
    nearest = nearest_points(np.column_stack((apart.real, apart.imag)), _NEIGHBOURS)
    which, column = np.nonzero(nearest >= 0)
    return np.asarray(apart[nearest[which, column]] - apart[which])


def _angle_votes(few: ComplexArray, many: ComplexArray, tolerance: float) -> FloatArray:
    """Turns [rad] between vectors whose lengths differ by no more than two tolerances."""
    rising = many[np.argsort(np.abs(many), kind="stable")]
    asked = few[_spread(few, _VOTERS * _NEIGHBOURS)]
    lengths = np.abs(rising)
    first = np.searchsorted(lengths, np.abs(asked) - 2 * tolerance)
    size = np.searchsorted(lengths, np.abs(asked) + 2 * tolerance, "right") - first
    taken = np.minimum(size, _MOST_VOTES // (2 * _VOTERS * _NEIGHBOURS))
    which = np.repeat(np.arange(len(size)), taken)
    run = np.arange(len(which)) - np.repeat(np.cumsum(taken) - taken, taken)
    partner = first[which] + run * size[which] // taken[which]
    turned = np.angle(rising)[partner] - np.angle(asked)[which]
    return np.asarray(turned % (2 * np.pi))


# counting --------------------------------------------------------------------------------------


def _best(
    moves: list[_Move], few: Spots, many: Spots, grids: Sequence[Grid], fit: _Fit
) -> list[_Counted]:
    """The moves that bring most holes together, refined and counted.

    All are compared on a sample of the holes, and only the best of them on all.
    """
    moves = _most(moves, few.at[_spread(few.at, _VOTERS)], grids[0], 4 * MOST_ANSWERS)
    sample = few.at[_spread(few.at, _COUNTED)]
    moves = [_refined(move, sample, grids, fit) for move in moves]
    moves = _most(_apart(moves, sample, grids[0].reach), sample, grids[-1], MOST_ANSWERS)
    counted = []
    for move in moves:
        which, other, _ = grids[-1].near(few.at * move[0] + move[1])
        tally = _tally(few, many, which, other)
        if len(which):
            move = fit(few.at[which], many.at[other], move)  # noqa: PLW2901 (the same, refined)
        counted.append((move, tally))
    return counted


def _most(moves: list[_Move], points: ComplexArray, grid: Grid, count: int) -> list[_Move]:
    """The `count` moves that bring most points together; of equals those that come first.

    Those that bring far fewer together than the best are left out.
    """
    counts = []
    for factor, shift in moves:
        which, other, _ = grid.near(points * factor + shift)
        counts.append(_pairs(which, other, len(points), len(grid.points)))
    least = _NEARLY * max(counts, default=0)
    order = sorted(range(len(moves)), key=lambda place: -counts[place])
    return [moves[place] for place in order[:count] if counts[place] >= least]


def _tally(few: Spots, many: Spots, which: IntArray, other: IntArray) -> tuple[int, int]:
    """How many are near each other, and how many of these are of one size."""
    sized = same_size(few.diameters[which], many.diameters[other])
    sizes = len(few), len(many)
    return _pairs(which, other, *sizes), _pairs(which[sized], other[sized], *sizes)


def _pairs(which: IntArray, other: IntArray, few: int, many: int) -> int:
    """How many pairs can be made, each hole in one; near enough where holes stand apart."""
    held = (np.bincount(which, minlength=few), np.bincount(other, minlength=many))
    return min(int(np.count_nonzero(count)) for count in held)


def _refined(move: _Move, points: ComplexArray, grids: Sequence[Grid], fit: _Fit) -> _Move:
    for grid in grids:
        which, other, _ = grid.near(points * move[0] + move[1])
        if len(which):
            move = fit(points[which], grid.points[other], move)
    return move


def _apart(moves: list[_Move], points: ComplexArray, reach: float) -> list[_Move]:
    """Those that do not bring the points to where an earlier one does."""
    kept: list[ComplexArray] = []
    chosen = []
    for move in moves:
        moved = points * move[0] + move[1]
        if all(float(np.abs(moved - other).max()) > reach for other in kept):
            kept.append(moved)
            chosen.append(move)
    return chosen


def _fit_shift(points: ComplexArray, onto: ComplexArray, move: _Move) -> _Move:
    off = onto - points * move[0]
    return move[0], complex(float(np.median(off.real)), float(np.median(off.imag)))


def _fit_turn(points: ComplexArray, onto: ComplexArray, move: _Move) -> _Move:
    every = np.ones((1, len(points)), dtype=np.bool_)
    factor, shift = least_squares(points[None], onto[None], every, np.array([move[0]]))
    return complex(factor[0]), complex(shift[0])
