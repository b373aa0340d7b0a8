"""Lines and arcs as arrays: the one form in which every stage measures edges."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

FULL_TURN_SLACK = 1e-12
"""Radians within which a sweep is a full turn: rounding, nothing drawn."""


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """n straight lines and circular arcs, arrays in step. Compared by identity.

    Parameters
    ----------
    start, end : (n, 2) arrays [in]
        End points in drawing direction.
    centre : (n, 2) array [in]
        Centre of each arc; equal to `start` for a line.
    radius : (n,) array [in]
        0 for a line.
    sweep : (n,) array [rad]
        Signed turn from start to end, positive counter-clockwise, 0 for a line. A full circle
        has ±2π and start == end.
    """

    start: FloatArray
    end: FloatArray
    centre: FloatArray
    radius: FloatArray
    sweep: FloatArray

    def __len__(self) -> int:
        return len(self.radius)

    def take(self, index: IntArray | BoolArray | slice) -> Edges:
        """The edges at `index`, in that order."""
        return Edges(
            self.start[index],
            self.end[index],
            self.centre[index],
            self.radius[index],
            self.sweep[index],
        )

    @property
    def is_arc(self) -> BoolArray:
        """(n,) array: True where the edge is an arc."""
        return self.radius > 0

    def reversed_where(self, flip: BoolArray) -> Edges:
        """The same edges, those where `flip` is True run the other way."""
        side = flip[:, None]
        return Edges(
            np.where(side, self.end, self.start),
            np.where(side, self.start, self.end),
            # a line's centre is its start: turned round, that is the other end
            np.where(side & ~self.is_arc[:, None], self.end, self.centre),
            self.radius,
            np.where(flip, -self.sweep, self.sweep),
        )

    def points_at(self, share: float | FloatArray) -> FloatArray:
        """(n, 2) array [in]: the point of each edge at `share` (0 start, 1 end) of its length.

        One share for all edges, or (n,) shares.
        """
        part = np.broadcast_to(np.asarray(share, dtype=float), self.radius.shape)
        line = self.start + part[:, None] * (self.end - self.start)
        radial = self.start - self.centre
        c, s = np.cos(part * self.sweep), np.sin(part * self.sweep)
        turned = np.column_stack(
            (c * radial[:, 0] - s * radial[:, 1], s * radial[:, 0] + c * radial[:, 1])
        )
        return np.where(self.is_arc[:, None], self.centre + turned, line)

    def lengths(self) -> FloatArray:
        """(n,) array [in]: true length of each edge, along the arc."""
        chord = np.hypot(*(self.end - self.start).T)
        return np.where(self.is_arc, self.radius * np.abs(self.sweep), chord)


def no_edges() -> Edges:
    """An empty set of edges."""
    return Edges(*(np.zeros((0, 2)) for _ in range(3)), *(np.zeros(0) for _ in range(2)))


def join_edges(parts: list[Edges]) -> Edges:
    """All edges of `parts`, in order."""
    if not parts:
        return no_edges()
    return Edges(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Edges)))


def line_edges(start: FloatArray, end: FloatArray) -> Edges:
    """Straight edges from (n, 2) arrays [in] of end points."""
    n = len(start)
    return Edges(start, end, start.copy(), np.zeros(n), np.zeros(n))


def arc_edges(
    centre: FloatArray, radius: FloatArray, start_angle: FloatArray, sweep: FloatArray
) -> Edges:
    """Arcs from centres (n, 2) [in], radii (n,) [in], start angles and sweeps (n,) [rad]."""
    end_angle = start_angle + sweep
    at = radius[:, None]
    start = centre + at * np.column_stack((np.cos(start_angle), np.sin(start_angle)))
    end = centre + at * np.column_stack((np.cos(end_angle), np.sin(end_angle)))
    full = np.abs(np.abs(sweep) - 2 * np.pi) < FULL_TURN_SLACK
    end[full] = start[full]
    return Edges(start, end, centre, radius, sweep)


def polygon_edges(corners: FloatArray) -> Edges:
    """The closed loop of straight edges through (n, 2) `corners` [in]."""
    return line_edges(corners, np.roll(corners, -1, axis=0))


def circle_edges(centre: FloatArray, radius: FloatArray) -> Edges:
    """Full circles of (n, 2) `centre` and (n,) `radius` [in], counter-clockwise, one edge each."""
    n = len(radius)
    return arc_edges(centre, radius, np.zeros(n), np.full(n, 2 * np.pi))


def median(values: FloatArray) -> FloatArray:
    """Median along the first axis, of one value at least.

    As numpy's own, which loads all of its masked arrays for it: every audit would wait for them.

    Examples
    --------
    >>> float(median(np.array([3.0, 1.0, 2.0, 10.0])))
    2.5
    """
    ordered = np.sort(values, axis=0)
    half = len(ordered) // 2
    return np.asarray((ordered[half] + ordered[-1 - half]) / 2)
