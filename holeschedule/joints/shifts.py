"""The least shift of a layer under which every hole to be drilled in it is legal."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np

from holeschedule.geometry.edges import FloatArray
from holeschedule.joints.room import Room
from holeschedule.tables import SLACK

_STARTS = 8
_ROUNDS = 40
_STEADY = 1e-10
"""Inches. Shifts that differ by less are the same."""


def least_shift(room: Room, most: float) -> FloatArray | None:
    """The shortest move of the holes, all alike, that leaves none of them short.

    Off straight edges the answer is exact. Round other holes and cutouts there may be several
    ways out; the shortest that is found from several starts is taken.

    Parameters
    ----------
    room : Room
        The holes and what they must keep away from.
    most : float [in]
        No longer shift is thought of.

    Returns
    -------
    (2,) array [in], or None
        How the holes move in the part; the part moves the other way. None where no shift helps.
    """
    if not len(room.positions):
        return np.zeros(2)
    found = [shift for start in _starts(most) if (shift := _search(room, start, most)) is not None]
    return min(found, key=lambda s: round(float(np.hypot(*s)), 9), default=None)


def _starts(most: float) -> list[FloatArray]:
    angles = 2 * np.pi * np.arange(_STARTS) / _STARTS
    return [np.zeros(2), *(most / 2 * np.column_stack((np.cos(angles), np.sin(angles))))]


def _search(room: Room, start: FloatArray, most: float) -> FloatArray | None:
    """Straighten every limit where the holes now are, take the least shift, and so on."""
    shift, best = start, None
    for _ in range(_ROUNDS):
        moved = least_in_half_planes(*room.limits_near(shift, 2 * most))
        if moved is None or math.hypot(*moved) > most + SLACK:
            break
        steady = math.hypot(*(moved - shift)) <= _STEADY
        shift = moved
        if (room.margins(shift) >= -SLACK).all() and (
            best is None or math.hypot(*shift) < math.hypot(*best)
        ):
            best = shift
        if steady:
            break
    return best


def least_in_half_planes(normals: FloatArray, bounds: FloatArray) -> FloatArray | None:
    """The point nearest to zero with normals · s ≥ bounds.

    Parameters
    ----------
    normals : (k, 2) array
        Of length 1.
    bounds : (k,) array [in]
        How far each half-plane begins from zero along its normal.

    Returns
    -------
    (2,) array [in], or None
        None where the half-planes have no point in common.
    """
    point, chosen = np.zeros(2), list[int]()
    while len(bounds):
        lacking = bounds - normals @ point
        worst = int(lacking.argmax())
        if lacking[worst] <= _STEADY:
            break
        if worst in chosen:
            return None
        chosen.append(worst)
        corner = _nearest_corner(normals[chosen], bounds[chosen])
        if corner is None:
            return None
        point = corner
    return point


def _nearest_corner(normals: FloatArray, bounds: FloatArray) -> FloatArray | None:
    """The same for a few half-planes: the foot on one of them, or where two meet."""
    points = [bound * normal for normal, bound in zip(normals, bounds, strict=True)]
    for i, j in combinations(range(len(bounds)), 2):
        (a, b), (c, d) = normals[i], normals[j]
        turn = a * d - b * c
        if abs(turn) > SLACK:
            x = (bounds[i] * d - bounds[j] * b) / turn
            y = (bounds[j] * a - bounds[i] * c) / turn
            points.append(np.array([x, y]))
    fit = [p for p in points if (normals @ p >= bounds - _STEADY / 10).all()]
    return min(fit, key=lambda p: float(np.hypot(*p)), default=None)
