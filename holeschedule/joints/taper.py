"""Tapered parts: thickness that changes evenly from one end to the other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from holeschedule.errors import GeometryError
from holeschedule.geometry.edges import FloatArray

Point = tuple[float, float]

_FLAT = 1e-9
"""Inches, or a share: points this near to one line, or to each other, give no slope."""


@dataclass(frozen=True, slots=True)
class Taper:
    """Thickness that changes evenly over a part. Equality is by value.

    `thickness` [in] is at the point `at` [in] of the part's own frame; `slope` is how much it
    grows per inch to the right and upwards. It is measured square to the plane midway between
    the faces.
    """

    at: Point
    thickness: float
    slope: Point = (0.0, 0.0)

    def thickness_at(self, points: FloatArray) -> FloatArray:
        """(n,) array [in]: thickness at the points (n, 2) [in]; below 0 past the wedge's point."""
        grown: FloatArray = (points - np.asarray(self.at)) @ np.asarray(self.slope)
        return self.thickness + grown

    @property
    def half_angle(self) -> float:
        """Angle [deg] between a face and the plane midway between the faces."""
        return math.degrees(math.atan(math.hypot(*self.slope) / 2))


def taper_between(points: Sequence[Point], thicknesses: Sequence[float]) -> Taper:
    """The taper through thicknesses measured at two or three points.

    Parameters
    ----------
    points : sequence of (x, y) [in]
        Two points, between which the thickness changes along the line that joins them; or three
        that are not in line. In the part's own frame.
    thicknesses : sequence of float [in]
        At these points.

    Returns
    -------
    Taper

    Raises
    ------
    GeometryError
        There are not two or three points with a thickness above 0 each, two of them coincide, or
        three are in line.

    Examples
    --------
    >>> taper_between([(0.0, 0.0), (4.0, 0.0)], [0.08, 0.12]).slope
    (0.01, 0.0)
    """
    if len(points) != len(thicknesses) or len(points) not in (2, 3):
        raise GeometryError(
            f"a taper is given {len(points)} points and {len(thicknesses)} thicknesses; expected"
            " two or three of each."
        )
    for thickness in thicknesses:
        _check_thickness(thickness)
    ways = np.diff(np.asarray(points, dtype=float), axis=0)
    if np.linalg.matrix_rank(ways, tol=_FLAT) < len(ways):
        spots = ", ".join(f"({x:g}, {y:g})" for x, y in points)
        raise GeometryError(
            f"a taper is measured at {spots} in, which coincide or are in line; expected points"
            " that are apart, and no three in line. Choose others."
        )
    slope, *_ = np.linalg.lstsq(ways, np.diff(np.asarray(thicknesses, dtype=float)))
    x, y = (slope + 0.0).tolist()
    return Taper(points[0], thicknesses[0], (x, y))


def _check_thickness(thickness: float) -> None:
    if not (math.isfinite(thickness) and thickness > 0):
        raise GeometryError(f"a thickness of {thickness:g} in is none; it has to be above 0.")
