"""How likely a hole is still legal when its layer lies a little off."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from holeschedule.geometry.edges import FloatArray, IntArray
from holeschedule.tables import SLACK

RAYS = 180
RINGS = 16
"""The disc is cut into triangles, and in each a margin is taken as even: so it is off a straight
edge, and nearly so off an arc. The share is good to 1e-4, and to 1e-3 where limits meet."""


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
    Geometry: off a straight edge the legal part of the disc is the disc less a circular segment.

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
    corners, triangles = _disc(tolerance)
    area = _areas(corners[triangles])
    legal = area * _legal_part(margins(corners)[triangles])
    return float(np.clip(legal.sum() / area.sum(), 0.0, 1.0))


def _disc(radius: float) -> tuple[FloatArray, IntArray]:
    """Corners (n, 2) [in] and triangles (k, 3) of a disc: rings of fields, each cut in two."""
    angles = 2 * np.pi * np.arange(RAYS) / RAYS
    rings = radius * np.arange(RINGS + 1) / RINGS
    ways = np.column_stack((np.cos(angles), np.sin(angles)))
    corners = (rings[:, None, None] * ways[None, :, :]).reshape(-1, 2)
    inner = (RAYS * np.arange(RINGS)[:, None] + np.arange(RAYS)[None, :]).reshape(-1)
    beside = (RAYS * np.arange(RINGS)[:, None] + np.roll(np.arange(RAYS), -1)[None, :]).reshape(-1)
    one = np.column_stack((inner, inner + RAYS, beside + RAYS))
    two = np.column_stack((inner, beside + RAYS, beside))
    return corners, np.concatenate((one, two))


def _areas(triangles: FloatArray) -> FloatArray:
    one, two = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    return np.asarray(np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]) / 2)


def _legal_part(margins: FloatArray) -> FloatArray:
    """(k,) share of each triangle where a margin, even between its corners, is not negative."""
    low, middle, high = np.sort(margins, axis=1).T
    wide = np.where(high > low, high - low, 1.0)
    # the part about the one corner that is not like the other two
    top = high**2 / (wide * np.where(high > middle, high - middle, 1.0))
    bottom = low**2 / (wide * np.where(middle > low, middle - low, 1.0))
    part = np.where(middle < 0, top, 1.0 - bottom)
    return np.where(low >= 0, 1.0, np.where(high <= 0, 0.0, part))
