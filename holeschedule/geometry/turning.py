"""Least squares: the turn and the shift that bring points nearest to others, many at a time.

Sources
-------
W. Kabsch, "A solution for the best rotation to relate two sets of vectors", Acta Crystallographica
A32 (1976) 922-923; S. Umeyama, "Least-squares estimation of transformation parameters between two
point patterns", IEEE Transactions on Pattern Analysis and Machine Intelligence 13 (1991) 376-380.
In a plane no singular values are needed: the turn is the angle of one complex sum.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from holeschedule.geometry.edges import BoolArray

ComplexArray = NDArray[np.complex128]

LEAST_SPREAD = 1e-9
"""Square inches. Points that lie no farther apart say nothing about a turn."""


def least_squares(
    points: ComplexArray, onto: ComplexArray, counted: BoolArray, factor: ComplexArray
) -> tuple[ComplexArray, ComplexArray]:
    """The moves z → z × factor + shift that bring points nearest to their partners.

    Parameters
    ----------
    points, onto : (c, m) arrays [in]
        x + iy; a row for each move, partners in step.
    counted : (c, m) array
        Which points have a partner; what the others hold plays no part.
    factor : (c,) array
        The turn that is kept where the points do not tell one: a single one, or all in one place.

    Returns
    -------
    (c,) and (c,) arrays
        Factors of length 1, and shifts [in]. A row without partners is shifted by 0.
    """
    number = np.maximum(counted.sum(axis=1), 1)
    middle = np.where(counted, points, 0).sum(axis=1) / number
    target = np.where(counted, onto, 0).sum(axis=1) / number
    off = np.where(counted, (points - middle[:, None]).conj() * (onto - target[:, None]), 0)
    total = off.sum(axis=1)
    size = np.abs(total)
    told = size > LEAST_SPREAD
    turned = np.where(told, total / np.where(told, size, 1), factor)
    return turned, target - turned * middle
