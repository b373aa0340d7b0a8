"""How one hole pattern lies on another: the rigid move that brings most holes together.

Pairs of holes vote for moves (`votes`), moves are refined by least squares on the holes they bring
together (`matching`), and every answer that is as good as the best is told beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from holeschedule.errors import JointError
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.geometry.placement import Placement
from holeschedule.geometry.turning import ComplexArray
from holeschedule.holes.pairing import Grid
from holeschedule.joints.matching import Matches, best_matches
from holeschedule.joints.votes import Moves, Spots, moves_by_pairs, moves_by_shift
from holeschedule.tables import value_named

MOST_RIVALS = 100
"""Rivals that a result holds at most; it tells how many there are."""


@dataclass(frozen=True, eq=False)
class Fit:
    """One way in which a part lies on a base. Compared by identity.

    `pairs` (k, 2) are indices of holes that come together: base, part; in order of the base.
    `offsets` (k,) [in] is how far apart they are after the move. `left_base`, `left_part` are the
    holes without a partner.
    """

    placement: Placement
    pairs: IntArray
    offsets: FloatArray
    left_base: IntArray
    left_part: IntArray

    @property
    def count(self) -> int:
        """How many holes come together."""
        return len(self.offsets)

    @property
    def rms(self) -> float:
        """Inches: root mean square of the offsets; 0 without pairs."""
        return float(np.sqrt(np.square(self.offsets).mean())) if self.count else 0.0

    @property
    def largest(self) -> float:
        """Inches: the largest offset; 0 without pairs."""
        return float(self.offsets.max(initial=0.0))


@dataclass(frozen=True, eq=False)
class FitResult:
    """The best fit, and all others that are as good. Compared by identity.

    `rivals` bring as many holes together as the best does, within the tolerance or within two:
    noise alone could have chosen between them. `rival_count` is how many there are; not more than
    asked for are held, the better ones. `tolerance` is in inches.
    """

    best: Fit
    rivals: tuple[Fit, ...]
    rival_count: int
    tolerance: float

    @property
    def is_ambiguous(self) -> bool:
        """Whether the holes alone do not tell how the part lies."""
        return self.rival_count > 0

    @property
    def fits(self) -> tuple[Fit, ...]:
        """The best and its rivals, in this order."""
        return (self.best, *self.rivals)


def fit_holes(
    base: FloatArray,
    part: FloatArray,
    *,
    tolerance: float | None = None,
    flip: bool | None = None,
    turn: float | None = None,
    base_kinds: Sequence[int] | IntArray | None = None,
    part_kinds: Sequence[int] | IntArray | None = None,
    most_rivals: int = MOST_RIVALS,
) -> FitResult:
    """The rigid move that brings the most holes of a part onto holes of a base.

    Parameters
    ----------
    base : (n, 2) array [in]
        Holes of the part that stays where it is, in any order.
    part : (m, 2) array [in]
        Holes of the part that is moved, in any order.
    tolerance : float [in], optional
        How near is on; 1/64 in where none is given.
    flip : bool, optional
        Whether the part shows its other face; both are tried where it is not stated.
    turn : float [rad], optional
        The turn of the placement, where it is known. One hole alone needs it.
    base_kinds, part_kinds : (n,) and (m,) integers, optional
        Holes come together only with holes of the same kind, such as the same rivet.
    most_rivals : int
        How many rivals the result holds at most.

    Returns
    -------
    FitResult
        Fits with more holes first, then with smaller offsets, then not flipped, then the smaller
        turn and shift. The order of the holes plays no part.

    Raises
    ------
    JointError
        A pattern has no hole, or none that tells a turn; a coordinate is not finite; nothing fits.

    Source
    ------
    Votes: D. H. Ballard, Pattern Recognition 13 (1981) 111-122; H. J. Wolfson and I. Rigoutsos,
    IEEE Computational Science and Engineering 4 (1997) 10-21. Least squares: W. Kabsch, Acta
    Crystallographica A32 (1976) 922-923; S. Umeyama, IEEE Transactions on Pattern Analysis and
    Machine Intelligence 13 (1991) 376-380.
    """
    reach = checked_tolerance(tolerance)
    held = checked_holes(base, "base"), checked_holes(part, "part")
    problem = _Problem(held, reach, _checked_kinds(held, (base_kinds, part_kinds)))
    flips = (False, True) if flip is None else (flip,)
    matches = _searched(problem, flips, turn)
    return problem.result(matches, most_rivals)


def checked_tolerance(tolerance: float | None) -> float:
    """The tolerance [in] to go by; the usual one where none is given."""
    if tolerance is None:
        return value_named("fit_tolerance").value
    if not (math.isfinite(tolerance) and tolerance > 0):
        raise JointError(f"a tolerance of {tolerance} in fits nothing; state one above 0.")
    return tolerance


def checked_holes(points: FloatArray, name: str) -> FloatArray:
    """Hole centres (n, 2) [in] as numbers, none of them wild.

    Raises
    ------
    JointError
        There is none, or a coordinate is not finite.
    """
    holes = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if not len(holes):
        raise JointError(f"the {name} has no holes; nothing can be fitted. Choose other holes.")
    wild = np.flatnonzero(~np.isfinite(holes).all(axis=1))
    if len(wild):
        x, y = holes[wild[0]].tolist()
        raise JointError(
            f"hole {wild[0] + 1} of the {name} lies at ({x}, {y}) in; a hole needs two finite"
            " coordinates. Correct the drawing."
        )
    return holes


def _checked_kinds(
    held: tuple[FloatArray, FloatArray],
    kinds: tuple[Sequence[int] | IntArray | None, Sequence[int] | IntArray | None],
) -> tuple[IntArray, IntArray]:
    """The kind of each hole; one and the same where none are stated."""
    if kinds[0] is None and kinds[1] is None:
        kinds = [0] * len(held[0]), [0] * len(held[1])
    base, part = (
        np.asarray(() if given is None else given, dtype=np.intp).reshape(-1) for given in kinds
    )
    if (len(base), len(part)) != (len(held[0]), len(held[1])):
        raise JointError(
            f"kinds are stated for {len(base)} of {len(held[0])} holes of the base and"
            f" {len(part)} of {len(held[1])} of the part; state one for each, or none."
        )
    return base, part


class _Problem:
    """Two patterns, each about its middle and in an order of its own; the fewer are moved.

    Each of the fewer more likely has a partner.
    """

    def __init__(
        self,
        held: tuple[FloatArray, FloatArray],
        tolerance: float,
        kinds: tuple[IntArray, IntArray],
    ) -> None:
        self.tolerance = tolerance
        self.sizes = len(held[0]), len(held[1])
        self.turned_round = self.sizes[1] > self.sizes[0]
        self.orders = [np.lexsort((points[:, 1], points[:, 0])) for points in held]
        self.middles = [complex(*(p.min(axis=0) + p.max(axis=0)) / 2) for p in held]
        base, part = (
            Spots(points[order] @ np.array([1, 1j]) - middle, kind[order])
            for points, order, middle, kind in zip(
                held, self.orders, self.middles, kinds, strict=True
            )
        )
        self.few, self.many = (base, part) if self.turned_round else (part, base)

    @property
    def tells_no_turn(self) -> bool:
        """Whether the holes of either pattern are all in one place."""
        return min(self.few.radius, self.many.radius) <= self.tolerance

    def turns(self, flips: Sequence[bool], turn: float) -> list[tuple[bool, complex]]:
        """Faces and turns [factors] of the pattern that moves, for a stated turn of the part."""
        found = []
        for flip in flips:
            angle = -turn if self.turned_round and not flip else turn
            found.append((flip, complex(math.cos(angle), math.sin(angle))))
        return found

    def placements(self, moves: Moves) -> Moves:
        """Moves of the part onto the base, on the axes that the two were given in."""
        flip, factor, shift = moves.flip, moves.factor, moves.shift
        if self.turned_round:
            shift = np.where(flip, factor * shift.conj(), -shift * factor.conj())
            factor = np.where(flip, factor, factor.conj())
        base, part = self.middles
        faced = np.where(flip, -part.conjugate(), part)
        return Moves(flip, factor, shift + base - factor * faced)

    def result(self, matches: Matches, most: int) -> FitResult:
        """The matches ranked, those that are alike told once."""
        ranked = self._ranked(matches)
        ranked = ranked.take(as_good_as_first(ranked))
        ranked = ranked.take(_distinct(ranked, self.few.at, NEARLY_ALIKE * self.tolerance))
        held = ranked.take(np.arange(min(len(ranked), most + 1)))
        best, *rivals = self._fits(held)
        return FitResult(best, tuple(rivals), len(ranked) - 1, self.tolerance)

    def _ranked(self, matches: Matches) -> Matches:
        moves = self.placements(matches.moves)
        turn = np.round(_turns(moves), 6)
        x, y = np.round(moves.shift.real, 6), np.round(moves.shift.imag, 6)
        size = np.round(np.abs(moves.shift), 6)
        rms = np.round(matches.rms, 6)
        keys = (y, x, turn, size, np.abs(turn), moves.flip, rms, -matches.count)
        return matches.take(np.lexsort(keys))

    def _fits(self, matches: Matches) -> list[Fit]:
        moves = self.placements(matches.moves)
        turns = _turns(moves).tolist()
        return [
            self._fit(
                Placement(turns[c], _plain(moves.shift[c]), bool(moves.flip[c])),
                matches.partner[c],
                matches.offset[c],
            )
            for c in range(len(matches))
        ]

    def _fit(self, placement: Placement, partner: IntArray, offset: FloatArray) -> Fit:
        moved = np.flatnonzero(partner >= 0)
        sides = partner[moved], moved
        base, part = reversed(sides) if self.turned_round else sides
        return fit_of_pairs(
            placement,
            (self.orders[0][base], self.orders[1][part]),
            offset[moved],
            self.sizes,
        )


def as_good_as_first(ranked: Matches) -> BoolArray:
    """Which moves bring as many holes together as the first, on the nose or nearly."""
    count, nearly = ranked.count, ranked.nearly
    return np.asarray((count >= count[0]) | (nearly >= nearly[0]))


NEARLY_ALIKE = 2.0
"""Tolerances by which no hole lies differently under two moves that are told as one."""


def fit_of_pairs(
    placement: Placement,
    sides: tuple[IntArray, IntArray],
    offsets: FloatArray,
    sizes: tuple[int, int],
) -> Fit:
    """A fit from its pairs (indices of base and of part, in step) and the numbers of holes."""
    base, part = sides
    order = np.argsort(base, kind="stable")
    left_base = np.setdiff1d(np.arange(sizes[0]), base)
    left_part = np.setdiff1d(np.arange(sizes[1]), part)
    pairs = np.column_stack((base, part))[order]
    return Fit(placement, pairs, offsets[order], left_base, left_part)


def _turns(moves: Moves) -> FloatArray:
    """(c,) array [rad]: above -180° and up to it, whatever rounding makes of half a turn."""
    turn = np.angle(moves.factor)
    return np.where(turn <= -np.pi + 1e-12, np.pi, turn) + 0.0


def _plain(shift: complex) -> tuple[float, float]:
    return float(shift.real) + 0.0, float(shift.imag) + 0.0


def _searched(problem: _Problem, flips: Sequence[bool], turn: float | None) -> Matches:
    if turn is None and problem.tells_no_turn:
        raise JointError(
            "one hole alone, or several in one place, do not tell how the part is turned;"
            " state the turn or give two holes."
        )
    few, many, tolerance = problem.few, problem.many, problem.tolerance
    if turn is None:
        moves = moves_by_pairs(few, many, tolerance, flips)
    else:
        moves = moves_by_shift(few, many, tolerance, problem.turns(flips, turn))
    if not len(moves):
        raise _nothing_fits(tolerance)
    matches = best_matches(few, many, moves, tolerance, hold_turn=turn is not None)
    if not matches.count.max():
        raise _nothing_fits(tolerance)
    return matches


def _nothing_fits(tolerance: float) -> JointError:
    return JointError(
        "no two holes of the part are as far apart as two holes of the base of the same"
        f" kinds, within {tolerance:.4f} in; nothing fits. Check that both have one unit, or"
        " state a larger tolerance."
    )


def _distinct(matches: Matches, points: ComplexArray, reach: float) -> IntArray:
    """Indices of the moves that bring no hole to within reach of where an earlier one does.

    A flipped move is never like one that is not: the part shows its other face.
    """
    far = points[[int(np.argmax(np.abs(points)))]]
    there = matches.moves.images(far)[:, 0]
    one, other, _ = Grid(there, reach).near(there)
    keep = (one < other) & (matches.moves.flip[one] == matches.moves.flip[other])
    one, other = one[keep], other[keep]
    gone = np.zeros(len(matches), dtype=np.bool_)
    for first, second in sorted(zip(one.tolist(), other.tolist(), strict=True)):
        if gone[first] or gone[second]:
            continue
        two = matches.moves.take(np.array([first, second])).images(points)
        gone[second] = bool(np.abs(two[0] - two[1]).max() <= reach)
    return np.flatnonzero(~gone)
