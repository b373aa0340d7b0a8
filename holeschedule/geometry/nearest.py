"""Lines and arcs made ready to be measured in bulk: distance, nearest point, extent.

Whether a point lies in the sector of an arc is settled by a cross product at either end, which
holds for the flattest arc too: cos(sweep / 2) has no digits left there. On the rim, |v| − r is
taken as (|v|² − r²) / (|v| + r), and the difference of squares is written from the start of the
arc, so that a large radius costs no accuracy either.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np

from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray

FLAT = 1e-12
"""An arc that stands off its chord by less than this [in] is measured as the chord."""

FULL = 2 * np.pi - 1e-12
"""A sweep [rad] from here on is a full circle."""

ON_CIRCLE = 4e-15
"""Rounding, as a share of radius and position, that an end may be off its circle."""

_SQUARE_OF_NOTHING = 1e-200


class _AtArcs(NamedTuple):
    """How points lie to an arc each: ways [in] from its start, its end and its centre."""

    start_x: FloatArray
    start_y: FloatArray
    end_x: FloatArray
    end_y: FloatArray
    centre_x: FloatArray
    centre_y: FloatArray
    away: FloatArray
    """Distance from the centre."""
    beyond: FloatArray
    """Distance outside the circle, negative inside it."""
    in_sector: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """n edges in columns of (n,), every arc anticlockwise. Compared by identity.

    `sx`, `sy` [in] is the start. (`ax`, `ay`) [in] is the way from the start of a line to its
    end, or the radial from the centre of an arc to its start. (`bx`, `by`) is the way of a line
    over its length squared [1/in], or the radial to the end of an arc [in]. `radius` [in]
    belongs to the arcs; a wide one turns through more than half a circle. Every edge lies
    within `extent` [in] of (`mx`, `my`) [in].
    """

    is_line: BoolArray
    is_wide: BoolArray
    sx: FloatArray
    sy: FloatArray
    ax: FloatArray
    ay: FloatArray
    bx: FloatArray
    by: FloatArray
    radius: FloatArray
    mx: FloatArray
    my: FloatArray
    extent: FloatArray

    def __len__(self) -> int:
        return len(self.sx)

    def take(self, index: IntArray) -> Curves:
        """The edges at `index`, in that order."""
        return Curves(*(getattr(self, f.name)[index] for f in fields(self)))

    def distances(self, x: FloatArray, y: FloatArray, edge: IntArray) -> FloatArray:
        """Distance from each point to the edge of the same place.

        Parameters
        ----------
        x, y : (k,) arrays [in]
            Points.
        edge : (k,) array of indices
            The edge that each point is measured to.

        Returns
        -------
        (k,) array [in]
            Never negative.
        """
        lines, arcs = self._kinds(edge)
        distance = np.empty(len(edge))
        for these, measure in ((lines, self._to_lines), (arcs, self._to_arcs)):
            if len(these) == len(edge):
                return measure(x, y, edge)
            distance[these] = measure(x[these], y[these], edge[these])
        return distance

    def nearest_points(self, x: FloatArray, y: FloatArray, edge: IntArray) -> FloatArray:
        """The nearest point of an edge to each point.

        Parameters
        ----------
        x, y : (k,) arrays [in]
            Points.
        edge : (k,) array of indices
            The edge that each point is measured to.

        Returns
        -------
        (k, 2) array [in]
            The start of the arc where all its points are equally near.
        """
        found = np.empty((len(edge), 2))
        for these, on in zip(self._kinds(edge), (self._on_lines, self._on_arcs), strict=True):
            found[these] = np.column_stack(on(x[these], y[these], edge[these]))
        return found

    def _kinds(self, edge: IntArray) -> tuple[IntArray, IntArray]:
        """Places in `edge` of lines and of arcs."""
        line = self.is_line[edge]
        return np.flatnonzero(line), np.flatnonzero(~line)

    def _share(self, x: FloatArray, y: FloatArray, line: IntArray) -> FloatArray:
        """Where along the line the nearest point lies: 0 the start, 1 the end."""
        share = x * self.bx[line] + y * self.by[line]
        np.maximum(share, 0.0, out=share)
        return np.minimum(share, 1.0, out=share)

    def _to_lines(self, x: FloatArray, y: FloatArray, line: IntArray) -> FloatArray:
        x, y = x - self.sx[line], y - self.sy[line]
        share = self._share(x, y, line)
        x -= share * self.ax[line]
        y -= share * self.ay[line]
        return np.sqrt(x * x + y * y)

    def _on_lines(
        self, x: FloatArray, y: FloatArray, line: IntArray
    ) -> tuple[FloatArray, FloatArray]:
        sx, sy = self.sx[line], self.sy[line]
        share = self._share(x - sx, y - sy, line)
        return sx + share * self.ax[line], sy + share * self.ay[line]

    def _to_arcs(self, x: FloatArray, y: FloatArray, arc: IntArray) -> FloatArray:
        at = self._at_arcs(x, y, arc)
        start, end = at.start_x**2 + at.start_y**2, at.end_x**2 + at.end_y**2
        return np.where(at.in_sector, np.abs(at.beyond), np.sqrt(np.minimum(start, end)))

    def _on_arcs(
        self, x: FloatArray, y: FloatArray, arc: IntArray
    ) -> tuple[FloatArray, FloatArray]:
        at = self._at_arcs(x, y, arc)
        starts = at.start_x**2 + at.start_y**2 <= at.end_x**2 + at.end_y**2
        on_rim = at.in_sector & (at.away > 0)
        share = at.beyond / np.where(on_rim, at.away, 1.0)
        back_x = np.where(on_rim, share * at.centre_x, np.where(starts, at.start_x, at.end_x))
        back_y = np.where(on_rim, share * at.centre_y, np.where(starts, at.start_y, at.end_y))
        return x - back_x, y - back_y

    def _at_arcs(self, x: FloatArray, y: FloatArray, arc: IntArray) -> _AtArcs:
        ax, ay, bx, by = self.ax[arc], self.ay[arc], self.bx[arc], self.by[arc]
        sx, sy = x - self.sx[arc], y - self.sy[arc]
        cx, cy = sx + ax, sy + ay
        ex, ey = cx - bx, cy - by
        past_start = ax * sy - ay * sx >= 0
        before_end = ex * by - ey * bx >= 0
        # more than half a circle: all but the sector that neither end looks into
        either, both = past_start | before_end, past_start & before_end
        in_sector = np.where(self.is_wide[arc], either, both)
        away = np.sqrt(cx * cx + cy * cy)
        beyond = (sx * (cx + ax) + sy * (cy + ay)) / (away + self.radius[arc])
        return _AtArcs(sx, sy, ex, ey, cx, cy, away, beyond, in_sector)


def curves_of(edges: Edges) -> Curves:
    """Edges made ready to be measured.

    Parameters
    ----------
    edges : Edges [in]
        Finite. An arc whose ends are off its circle by more than rounding, because a gap was
        closed there, is measured on its circle, between the directions of its ends.

    Returns
    -------
    Curves
        In the order of `edges`.
    """
    arc = edges.radius * edges.sweep**2 > 8 * FLAT
    turn = np.abs(edges.sweep)
    is_wide = arc & (turn > np.pi)
    start, end = _anticlockwise(edges)
    start = np.where(arc[:, None], _on_circle(start, edges), start)
    end = np.where(arc[:, None], _on_circle(end, edges), end)
    end = np.where((arc & (turn >= FULL))[:, None], start, end)
    way = end - start
    squared = np.sum(way * way, axis=1)
    some = squared > _SQUARE_OF_NOTHING
    per_square = np.where(some, 1.0, 0.0) / np.where(some, squared, 1.0)
    a = np.where(arc[:, None], start - edges.centre, way)
    b = np.where(arc[:, None], end - edges.centre, way * per_square[:, None])
    middle = np.where(is_wide[:, None], edges.centre, (start + end) / 2)
    radius = np.hypot(a[:, 0], a[:, 1])
    # an arc of half a circle or less lies in the circle over its chord
    extent = np.where(is_wide, radius, np.sqrt(squared) / 2)
    columns = [np.ascontiguousarray(v.T) for v in (start, a, b, middle)]
    (sx, sy), (ax, ay), (bx, by), (mx, my) = columns
    return Curves(~arc, is_wide, sx, sy, ax, ay, bx, by, radius, mx, my, extent)


def _anticlockwise(edges: Edges) -> tuple[FloatArray, FloatArray]:
    """Start and end of each edge, those of clockwise arcs exchanged."""
    clockwise = (edges.sweep < 0)[:, None]
    return (
        np.where(clockwise, edges.end, edges.start),
        np.where(clockwise, edges.start, edges.end),
    )


def _on_circle(points: FloatArray, edges: Edges) -> FloatArray:
    """The points, moved straight to the circle of their arc if they are off it."""
    radial = points - edges.centre
    away = np.hypot(radial[:, 0], radial[:, 1])
    rounding = ON_CIRCLE * (edges.radius + np.abs(edges.centre).max(axis=1))
    off = np.abs(away - edges.radius) > rounding
    # a point at the centre has no direction: any will do
    direction = (
        np.where(away[:, None] > 0, radial, (1.0, 0.0)) / np.where(away > 0, away, 1)[:, None]
    )
    return np.where(off[:, None], edges.centre + edges.radius[:, None] * direction, points)
