"""Rigid moves: how a part lies on another."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from holeschedule.geometry.edges import Edges, FloatArray


@dataclass(frozen=True, slots=True)
class Placement:
    """A rigid move: flip (x becomes -x), then turn, then shift. Equality is by value.

    `turn` is radians counter-clockwise, `shift` inches. A flipped part shows its other face.
    """

    turn: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)
    flip: bool = False

    @property
    def matrix(self) -> FloatArray:
        """(2, 2) array: flip and turn, for points as columns."""
        c, s = math.cos(self.turn), math.sin(self.turn)
        sign = -1.0 if self.flip else 1.0
        return np.array([[c * sign, -s], [s * sign, c]])

    def move(self, points: FloatArray) -> FloatArray:
        """(n, 2) array [in]: where the points (n, 2) [in] come to lie."""
        moved: FloatArray = points @ self.matrix.T + np.asarray(self.shift)
        return moved

    def inverse(self) -> Placement:
        """The move back."""
        matrix = self.matrix.T  # a rigid move's inverse is its transpose
        x, y = -(matrix @ np.asarray(self.shift))
        return Placement(self.turn if self.flip else -self.turn, (float(x), float(y)), self.flip)

    def then(self, following: Placement) -> Placement:
        """One move that does what these two do, `following` last."""
        turn = -self.turn if following.flip else self.turn
        x, y = following.move(np.asarray([self.shift]))[0]
        return Placement(
            following.turn + turn, (float(x), float(y)), self.flip is not following.flip
        )


def placed_edges(edges: Edges, placement: Placement) -> Edges:
    """Edges [in] as a placement moves them: arcs stay arcs, and turn the other way if flipped."""
    return Edges(
        placement.move(edges.start),
        placement.move(edges.end),
        placement.move(edges.centre),
        edges.radius,
        -edges.sweep if placement.flip else edges.sweep,
    )


IN_PLACE = Placement()
"""The move that leaves everything where it is."""
