"""The room that holes to be drilled have in a part: what they must keep away from, and how far."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from holeschedule.geometry.distance import edge_distances
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.geometry.nearest import Curves, curves_of
from holeschedule.holes.part import Part
from holeschedule.joints.coverage import in_metal

PAIRS_AT_ONCE = 1 << 18
"""Holes times edges that are measured together."""


@dataclass(frozen=True, eq=False)
class Room:
    """n holes to be drilled in a part, and what limits each. Compared by identity.

    `positions` (n, 2) [in] are in the part's own frame. `edge_limits` (n,) [in] is the least edge
    distance of each. `holes` (m, 2) [in] are the part's holes that stay where they are, and
    `hole_limits` (n, m) [in] the least spacing to each of them, 0 where there is none.
    """

    part: Part
    positions: FloatArray
    edge_limits: FloatArray
    holes: FloatArray
    hole_limits: FloatArray

    def take(self, index: IntArray) -> Room:
        """The room of some of the holes."""
        return Room(
            self.part,
            self.positions[index],
            self.edge_limits[index],
            self.holes,
            self.hole_limits[index],
        )

    @cached_property
    def curves(self) -> Curves:
        """Every edge of the part, trim lines too."""
        return curves_of(self.part.edges)

    def margins(self, shift: FloatArray) -> FloatArray:
        """(n,) array [in]: the least margin of each hole, all moved by `shift` (2,) [in]."""
        at = self.positions + shift
        distance, _ = edge_distances(at, self.part.edges)
        signed = np.where(in_metal(self.part, at), distance, -distance)
        least: FloatArray = np.minimum(signed - self.edge_limits, self._hole_margins(at))
        return least

    def margins_of(self, hole: int, shifts: FloatArray, reach: float) -> FloatArray:
        """(k,) array [in]: the least margin of one hole under each of k shifts (k, 2) [in].

        Where the margin is beyond `reach` it may be told as less, never as less than `reach`;
        the shifts may not be longer than that.
        """
        at = self.positions[hole] + shifts
        limit = float(self.edge_limits[hole])
        distance = np.minimum.reduce(
            [np.full(len(at), limit + reach), *self._to_near_edges(hole, at, limit + 2 * reach)]
        )
        signed = distance
        if self._from_edge(hole) <= reach:
            signed = np.where(in_metal(self.part, at), distance, -distance)
        elif not self._inside[hole]:
            signed = -distance
        apart = np.hypot(*(at[:, None] - self.holes[None]).transpose(2, 0, 1))
        to_holes = (apart - self.hole_limits[hole]).min(axis=1, initial=reach)
        least: FloatArray = np.minimum(signed - limit, to_holes)
        return least

    def _to_near_edges(self, hole: int, at: FloatArray, within: float) -> list[FloatArray]:
        near = np.flatnonzero(self._edge_gaps(hole) <= within)
        x, y = at.T
        return [self.curves.distances(x, y, np.full(len(at), edge)) for edge in near.tolist()]

    def _edge_gaps(self, hole: int) -> FloatArray:
        """Distance [in] of a hole to every edge."""
        every = np.arange(len(self.curves))
        x, y = (np.full(len(every), v) for v in self.positions[hole])
        return self.curves.distances(x, y, every)

    def _from_edge(self, hole: int) -> float:
        return float(self._edge_gaps(hole).min())

    @cached_property
    def _inside(self) -> list[bool]:
        inside: list[bool] = in_metal(self.part, self.positions).tolist()
        return inside

    def _hole_margins(self, at: FloatArray) -> FloatArray:
        apart = np.hypot(*(at[:, None] - self.holes[None]).transpose(2, 0, 1))
        return np.asarray((apart - self.hole_limits).min(axis=1, initial=np.inf))

    def limits_near(self, shift: FloatArray, reach: float) -> tuple[FloatArray, FloatArray]:
        """What holds the holes back about `shift`, each straightened to a half-plane.

        Parameters
        ----------
        shift : (2,) array [in]
            Where the holes are moved.
        reach : float [in]
            Limits with more to spare than this are left out.

        Returns
        -------
        normals (k, 2), bounds (k,) [in]
            A further shift s is free of limit k where normals · s ≥ bounds, the shift counted
            from no shift at all.
        """
        at = self.positions + shift
        normals, bounds = [np.zeros((0, 2))], [np.zeros(0)]
        for way, spare in (*self._edge_limits_near(at, reach), *self._hole_limits_near(at)):
            near = np.flatnonzero(spare <= reach)
            normals.append(way[near])
            bounds.append(way[near] @ shift - spare[near])
        return np.concatenate(normals), np.concatenate(bounds)

    def _edge_limits_near(
        self, at: FloatArray, reach: float
    ) -> list[tuple[FloatArray, FloatArray]]:
        """Unit ways off the edges and what each leaves to spare [in]; outside, into the metal."""
        inside = in_metal(self.part, at)
        _, nearest = edge_distances(at, self.part.edges)
        hole, edge = self._pairs_near(at, inside, reach)
        hole = np.concatenate((hole, np.flatnonzero(~inside)))
        edge = np.concatenate((edge, nearest[~inside]))
        x, y = at[hole].T
        way = at[hole] - self.curves.nearest_points(x, y, edge)
        side = np.where(inside[hole], 1.0, -1.0)
        apart = np.hypot(*way.T)
        spare = side * apart - self.edge_limits[hole]
        return [(side[:, None] * _unit(way, apart), spare)]

    def _pairs_near(
        self, at: FloatArray, inside: BoolArray, reach: float
    ) -> tuple[IntArray, IntArray]:
        """Holes in metal and the edges that come into question for each."""
        holes: list[IntArray] = [np.zeros(0, dtype=np.intp)]
        edges: list[IntArray] = [np.zeros(0, dtype=np.intp)]
        count = len(self.curves)
        looking = np.flatnonzero(inside)
        for some in np.array_split(looking, 1 + len(looking) * count // PAIRS_AT_ONCE):
            hole, edge = np.repeat(some, count), np.tile(np.arange(count), len(some))
            x, y = at[hole].T
            near = self.curves.distances(x, y, edge) <= self.edge_limits[hole] + reach
            holes.append(hole[near])
            edges.append(edge[near])
        return np.concatenate(holes), np.concatenate(edges)

    def _hole_limits_near(self, at: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
        way = (at[:, None] - self.holes[None]).reshape(-1, 2)
        apart = np.hypot(*way.T)
        return [(_unit(way, apart), apart - self.hole_limits.reshape(-1))]


def _unit(way: FloatArray, length: FloatArray) -> FloatArray:
    """Ways of length 1; any will do for one of no length."""
    some = length > 0
    return np.where(some[:, None], way, (1.0, 0.0)) / np.where(some, length, 1.0)[:, None]
