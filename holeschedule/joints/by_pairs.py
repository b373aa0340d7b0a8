"""How one part lies on another when pairs of holes are stated: this hole on that one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from holeschedule.errors import JointError
from holeschedule.geometry.edges import FloatArray, IntArray
from holeschedule.geometry.placement import Placement
from holeschedule.geometry.turning import ComplexArray, least_squares
from holeschedule.joints.fit import (
    Fit,
    FitResult,
    as_good_as_first,
    checked_holes,
    checked_tolerance,
    fit_of_pairs,
)
from holeschedule.joints.matching import refined_matches
from holeschedule.joints.votes import Moves, Spots
from holeschedule.tables import SLACK


def place_by_pairs(
    base_points: FloatArray,
    part_points: FloatArray,
    *,
    base: FloatArray,
    part: FloatArray,
    flip: bool | None = None,
    turn: float | None = None,
    tolerance: float | None = None,
    names: Sequence[str] = (),
) -> FitResult:
    """The rigid move by which stated holes of a part come onto stated holes of a base.

    The stated pairs settle which hole lies on which. Turn and shift are then the least squares of
    all holes that come together, the stated ones among them: one hole that is off shows as off by
    itself, and does not carry the others with it.

    Parameters
    ----------
    base_points, part_points : (k, 2) arrays [in]
        The pairs, in step. One is enough where the turn is stated, two where it is not.
    base, part : (n, 2) and (m, 2) arrays [in]
        All holes that may come together. Stated holes that are not among them are not counted,
        and help to place the part all the same.
    flip : bool, optional
        Whether the part shows its other face. Where it is not stated both are tried, and the
        one that brings more holes together is the best.
    turn : float [rad], optional
        The turn of the placement, where it is known; it is kept.
    tolerance : float [in], optional
        How near is on, and by how much the distances of two pairs may differ; 1/64 in where none
        is given.
    names : k texts, optional
        What the pairs are called in messages, such as `A1=C1`.

    Returns
    -------
    FitResult
        A rival is the other face, where it brings as many holes together.

    Raises
    ------
    JointError
        Too few pairs; two name the same place; their distances differ by more than the
        tolerance; or they do not come together with the flip or the turn that is stated.
    """
    reach = checked_tolerance(tolerance)
    sides = checked_holes(base_points, "base"), checked_holes(part_points, "part")
    if len(sides[0]) != len(sides[1]):
        raise JointError(
            f"{len(sides[0])} holes of the base are stated and {len(sides[1])} of the part;"
            " state them in pairs."
        )
    called = names or [f"pair {k + 1}" for k in range(len(sides[0]))]
    _check_pairs(sides, called, reach, turn_is_stated=turn is not None)
    moves, off = _moves(sides, (False, True) if flip is None else (flip,), turn)
    meets = off <= reach + SLACK
    if not meets.any():
        raise _apart(float(off.min()), called, flip=flip, turn=turn, tolerance=reach)
    return _counted(moves.take(meets), sides, (base, part), reach, hold_turn=turn is not None)


def _check_pairs(
    sides: tuple[FloatArray, FloatArray],
    names: Sequence[str],
    tolerance: float,
    *,
    turn_is_stated: bool,
) -> None:
    if len(names) < 2 and not turn_is_stated:
        raise JointError(
            f"{names[0]} alone does not tell how the part is turned; give two pairs, or state the"
            " turn."
        )
    one, other = np.triu_indices(len(names), 1)
    on_base, on_part = (np.hypot(*(side[other] - side[one]).T) for side in sides)
    for k in np.flatnonzero(np.minimum(on_base, on_part) <= tolerance)[:1].tolist():
        where = "base" if on_base[k] <= on_part[k] else "part"
        raise JointError(
            f"{names[one[k]]} and {names[other[k]]} name the same place on the {where}"
            f" ({min(on_base[k], on_part[k]):.4f} in apart). Choose holes that are far apart."
        )
    for k in np.flatnonzero(np.abs(on_base - on_part) > tolerance + SLACK)[:1].tolist():
        raise JointError(
            f"{names[one[k]]} and {names[other[k]]} are {on_base[k]:.4f} in apart on the base and"
            f" {on_part[k]:.4f} in on the part; they may differ by {tolerance:.4f} in. Check the"
            " labels."
        )


def _complex(points: FloatArray) -> ComplexArray:
    return np.asarray(points @ np.array([1, 1j]), dtype=np.complex128)


def _moves(
    sides: tuple[FloatArray, FloatArray], flips: Sequence[bool], turn: float | None
) -> tuple[Moves, FloatArray]:
    """A move for each face, and how far off its worst pair is [in]."""
    onto, points = (_complex(side) for side in sides)
    flip = np.array(flips, dtype=np.bool_)
    factor = np.full(len(flip), complex(math.cos(turn or 0.0), math.sin(turn or 0.0)))
    faced = Moves(flip, factor, np.zeros_like(factor)).faced(points)
    if turn is None:
        counted = np.ones(faced.shape, dtype=np.bool_)
        factor, shift = least_squares(faced, np.broadcast_to(onto, faced.shape), counted, factor)
    else:
        shift = np.asarray((onto - faced * factor[:, None]).mean(axis=1))
    moves = Moves(flip, factor, shift)
    off: FloatArray = np.abs(moves.images(points) - onto).max(axis=1)
    return moves, off


def _apart(
    off: float, names: Sequence[str], *, flip: bool | None, turn: float | None, tolerance: float
) -> JointError:
    stated = [] if turn is None else [f"turned by {math.degrees(turn):g}°"]
    stated += [] if flip is None else ["flipped" if flip else "not flipped"]
    how = f" {' and '.join(stated)}" if stated else ""
    return JointError(
        f"{', '.join(names)} do not come together{how}: one is {off:.4f} in off, more than"
        f" {tolerance:.4f} in. Check the labels{', or leave that out' if stated else ''}."
    )


def _counted(
    moves: Moves,
    stated: tuple[FloatArray, FloatArray],
    holes: tuple[FloatArray, FloatArray],
    tolerance: float,
    *,
    hold_turn: bool,
) -> FitResult:
    still, moved = checked_holes(holes[0], "base"), checked_holes(holes[1], "part")
    beside = [k for k, pair in enumerate(zip(*stated, strict=True)) if not _among(pair, holes)]
    many, few = (
        Spots(
            _complex(np.vstack((all_holes, own[beside]))),
            # a kind of its own keeps each pair that is not counted to itself
            np.concatenate((np.zeros(len(all_holes)), np.arange(len(beside)) + 1)).astype(np.intp),
        )
        for all_holes, own in zip((still, moved), stated, strict=True)
    )
    matches = refined_matches(few, many, moves, tolerance, hold_turn=hold_turn)
    order = np.lexsort((matches.moves.flip, -matches.count))
    ranked = matches.take(order)
    ranked = ranked.take(as_good_as_first(ranked))
    best, *rivals = (
        _fit(ranked.moves, c, ranked.partner[c][: len(moved)], ranked.offset[c], sizes)
        for sizes in [(len(still), len(moved))]
        for c in range(len(ranked))
    )
    return FitResult(best, tuple(rivals), len(rivals), tolerance)


def _among(pair: tuple[FloatArray, FloatArray], holes: tuple[FloatArray, FloatArray]) -> bool:
    """Whether both holes of a pair are among those that are counted."""
    return all(
        bool((np.abs(all_holes - one).max(axis=1, initial=0.0) <= SLACK).any())
        for one, all_holes in zip(pair, holes, strict=True)
    )


def _fit(
    moves: Moves, c: int, partner: IntArray, offset: FloatArray, sizes: tuple[int, int]
) -> Fit:
    shift, factor = complex(moves.shift[c]), complex(moves.factor[c])
    placement = Placement(
        math.atan2(factor.imag, factor.real), (shift.real, shift.imag), bool(moves.flip[c])
    )
    on = np.flatnonzero(partner >= 0)
    return fit_of_pairs(placement, (partner[on], on), offset[on], sizes)
