"""Rigid moves: there and back, one after the other, and what they do to edges."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.geometry.distance import edge_distances
from holeschedule.geometry.edges import arc_edges, join_edges, line_edges
from holeschedule.geometry.placement import Placement, placed_edges

length = st.floats(-50, 50)
moves = st.builds(
    Placement, st.floats(-math.pi, math.pi), st.tuples(length, length), flip=st.booleans()
)
POINTS = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 2.0], [-3.5, 4.25]])


def test_flip_then_turn_then_shift():
    move = Placement(math.pi / 2, (10.0, 0.0), flip=True)
    # (1, 2) flips to (-1, 2), turns to (-2, -1), shifts to (8, -1)
    assert move.move(np.array([[1.0, 2.0]]))[0] == pytest.approx([8.0, -1.0])


@given(moves)
def test_there_and_back_changes_nothing(move):
    assert move.inverse().move(move.move(POINTS)) == pytest.approx(POINTS, abs=1e-12)


@given(moves, moves)
def test_one_after_the_other_is_one_move(first, second):
    together = first.then(second).move(POINTS)
    assert together == pytest.approx(second.move(first.move(POINTS)), abs=1e-11)


@given(moves)
def test_edges_keep_their_distances_and_their_arcs(move):
    edges = join_edges(
        [
            line_edges(np.array([[0.0, 0.0]]), np.array([[4.0, 1.0]])),
            arc_edges(np.array([[1.0, 5.0]]), np.array([0.75]), np.array([0.2]), np.array([2.0])),
        ]
    )
    before, _ = edge_distances(POINTS, edges)
    after, _ = edge_distances(move.move(POINTS), placed_edges(edges, move))
    assert after == pytest.approx(before, abs=1e-10)
