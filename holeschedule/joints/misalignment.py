"""How likely a hole is still legal when its layer lies a little off."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from holeschedule.geometry.edges import FloatArray
from holeschedule.tables import SLACK

RAYS = 360
STEPS = 8
"""Points along each ray: between them a margin is taken as straight, as it is off a straight edge
and nearly is off an arc. The share is good to 1e-4."""


def legal_share(margins: Callable[[FloatArray], FloatArray], tolerance: float) -> float:
    """Share of all misalignments within a tolerance under which nothing is missed.

    Any direction and amount is equally likely: the misalignment is uniform in a disc.

    Parameters
    ----------
    margins : callable
        For shifts (n, 2) [in] the least margin (n,) [in] that each leaves, negative where
        something is missed. It changes by no more than the shift does, as a distance.
    tolerance : float [in]
        Radius of the disc, 0 or more.

    Returns
    -------
    float
        From 0 to 1; 0 or 1 for a tolerance of 0.

    Source
    ------
    Integrated ray by ray, ∫ r dr over the legal stretches of each; off a straight edge the legal
    part of the disc is the disc less a circular segment.

    Examples
    --------
    >>> legal_share(lambda shift: shift[:, 0], 0.01)
    0.5
    """
    here = float(margins(np.zeros((1, 2)))[0])
    if here >= tolerance - SLACK:
        return 1.0
    if here <= -tolerance - SLACK or tolerance <= 0:
        return 0.0
    angles = 2 * np.pi * (np.arange(RAYS) + 0.5) / RAYS
    steps = tolerance * np.arange(STEPS + 1) / STEPS
    ways = np.column_stack((np.cos(angles), np.sin(angles)))
    points = (steps[None, :, None] * ways[:, None, :]).reshape(-1, 2)
    left = margins(points).reshape(RAYS, STEPS + 1)
    return float(np.clip(_legal_area(steps, left).mean() / (tolerance**2 / 2), 0.0, 1.0))


def _legal_area(steps: FloatArray, margin: FloatArray) -> FloatArray:
    """(rays,) array: ∫ r dr over where the margin, straight between the steps, is not negative."""
    first, last = margin[:, :-1], margin[:, 1:]
    inner, outer = steps[:-1], steps[1:]
    turns = (first >= 0) != (last >= 0)
    rise = np.where(turns, last - first, 1.0)
    crossing = inner + (outer - inner) * np.where(turns, -first / rise, 0.0)
    begin = np.where(first >= 0, inner, np.where(turns, crossing, outer))
    end = np.where(last >= 0, outer, np.where(turns, crossing, inner))
    return np.asarray((np.maximum(end, begin) ** 2 - begin**2).sum(axis=1) / 2)
