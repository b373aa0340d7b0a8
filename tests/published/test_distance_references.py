"""Exact distances against closed forms and other libraries.

- Closed forms: distance to a segment, to a full circle, to a slot (segment of its arc centres less
  the radius). Elementary geometry.
- P. Virtanen et al., "SciPy 1.0", Nature Methods 17 (2020): bounded minimisation along a curve,
  nearest neighbours by k-d tree.
- shapely (GEOS): distance of a point to a polygon's boundary, straight edges only.
"""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from scipy.spatial import cKDTree

from holeschedule.errors import GeometryError
from holeschedule.geometry.curves import ellipse_edges
from holeschedule.geometry.distance import (
    edge_distances,
    nearest_holes,
    nearest_points,
    pairs_within,
)
from holeschedule.geometry.edges import arc_edges, circle_edges, join_edges, polygon_edges

EXACT = 1e-9  # inches: the accuracy promised for lines and arcs

coordinate = st.floats(-50, 50, allow_nan=False)
point = st.tuples(coordinate, coordinate)


def one(x, y, edges):
    distance, _ = edge_distances(np.array([[x, y]]), edges)
    return float(distance[0])


def slot(length, radius):
    """Two lines and two half circles; arc centres at (0, 0) and (length, 0)."""
    sides = np.array([[0, radius], [length, radius], [length, -radius], [0, -radius]], dtype=float)
    lines = polygon_edges(sides).take(np.array([0, 2]))
    centres = np.array([[length, 0.0], [0.0, 0.0]])
    turns = np.full(2, -math.pi)
    return join_edges(
        [lines, arc_edges(centres, np.full(2, radius), np.array([1, -1]) * math.pi / 2, turns)]
    )


@given(point, st.floats(0.01, 40))
def test_a_full_circle_is_its_radius_away_from_its_centre_and_exact_elsewhere(at, radius):
    circle = circle_edges(np.zeros((1, 2)), np.array([radius]))
    assert one(*at, circle) == pytest.approx(abs(math.hypot(*at) - radius), abs=EXACT)


@given(point, st.floats(0.1, 20), st.floats(0.05, 5))
def test_a_slot_is_the_segment_of_its_arc_centres_less_the_radius(at, length, radius):
    along = min(max(at[0], 0.0), length)
    to_segment = math.hypot(at[0] - along, at[1])
    assert one(*at, slot(length, radius)) == pytest.approx(abs(to_segment - radius), abs=EXACT)


@given(
    point,
    point,
    st.floats(0.05, 20),
    st.floats(-math.pi, math.pi),
    st.floats(0.05, 2 * math.pi - 0.01),
)
@settings(max_examples=60)
@example((0.0, 6.0), (0.0, 0.0), 6.0, 0.0, 1.5735374414665169)  # the point on the arc
def test_an_arc_is_as_far_as_scipy_finds_by_minimising_along_it(at, centre, radius, first, sweep):
    arc = arc_edges(np.array([centre]), np.array([radius]), np.array([first]), np.array([sweep]))

    def away(turn):
        x = centre[0] + radius * math.cos(first + turn)
        y = centre[1] + radius * math.sin(first + turn)
        return math.hypot(at[0] - x, at[1] - y)

    # the distance has two extremes on a circle: each eighth of the sweep holds one minimum at most
    cuts = np.linspace(0, sweep, 9)
    found = min(
        minimize_scalar(away, bounds=(a, b), method="bounded", options={"xatol": 1e-12}).fun
        for a, b in pairwise(cuts)
    )
    found = min(found, away(0.0), away(sweep))
    # no point of the arc is nearer than the answer; and the minimiser stops within about the square
    # root of the float's step of the angle, which on the arc itself counts in full
    measured = one(*at, arc)
    assert measured <= found + EXACT
    assert measured == pytest.approx(found, abs=EXACT + 4e-8 * radius * max(1.0, sweep))


@given(point, st.floats(0.3, 1.0))
@settings(max_examples=30)
def test_an_ellipse_as_arcs_is_as_far_as_scipy_finds_within_the_tolerance(at, ratio):
    edges = ellipse_edges(
        np.zeros(2), np.array([10.0, 0.0]), np.array([0.0, 10.0 * ratio]), 0, 2 * math.pi, 1e-4
    )

    def away(t):
        return math.hypot(at[0] - 10 * math.cos(t), at[1] - 10 * ratio * math.sin(t))

    cuts = np.linspace(0, 2 * math.pi, 33)
    found = min(
        minimize_scalar(away, bounds=(a, b), method="bounded", options={"xatol": 1e-10}).fun
        for a, b in pairwise(cuts)
    )
    assert one(*at, edges) == pytest.approx(found, abs=1.01e-4)


@given(st.lists(point, min_size=1, max_size=40), st.integers(3, 12), st.randoms())
def test_straight_edges_are_as_far_as_shapely_says(points, corners, random):
    turns = sorted(random.uniform(0, 2 * math.pi) for _ in range(corners))
    ring = [(20 * math.cos(t), 15 * math.sin(t)) for t in turns]
    boundary = shapely.LinearRing(ring)
    distance, _ = edge_distances(np.array(points), polygon_edges(np.array(ring)))
    with np.errstate(all="ignore"):  # GEOS divides by zero on its way to some answers
        expected = shapely.distance(boundary, shapely.points(points))
    assert distance == pytest.approx(expected, abs=EXACT)


def test_far_from_zero_nothing_is_lost():
    shift = np.array([1e5, -2e5])
    edges = circle_edges(shift[None], np.array([0.6]))
    distance, _ = edge_distances(shift[None] + [[0.25, 0.0]], edges)
    assert distance[0] == pytest.approx(0.35, abs=EXACT)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("shape", ["cloud", "row", "clusters"])
def test_nearest_holes_are_those_of_the_k_d_tree(seed, shape):
    random = np.random.default_rng(seed)
    centres = random.random((700, 2)) * 30
    if shape == "row":
        centres[:, 1] = 0.5
    if shape == "clusters":
        centres = np.round(centres / 10) * 40 + random.random((700, 2))
    _, distance = nearest_holes(centres)
    expected, _ = cKDTree(centres).query(centres, k=2)
    assert distance == pytest.approx(expected[:, 1], abs=EXACT)


@pytest.mark.parametrize("seed", range(3))
def test_pairs_within_are_those_of_the_k_d_tree(seed):
    centres = np.random.default_rng(seed).random((600, 2)) * 10
    first, second, distance = pairs_within(centres, 0.4)
    expected = cKDTree(centres).query_pairs(0.4)
    assert set(zip(first.tolist(), second.tolist(), strict=True)) == expected
    assert distance == pytest.approx(np.hypot(*(centres[first] - centres[second]).T), abs=EXACT)
    order = list(zip(first.tolist(), second.tolist(), strict=True))
    assert order == sorted(order)


def test_the_larger_radius_of_a_pair_counts():
    centres = np.array([[0.0, 0.0], [1.0, 0.0], [3.0, 0.0]])
    first, second, _ = pairs_within(centres, np.array([1.5, 0.1, 0.1]))
    assert (first.tolist(), second.tolist()) == ([0], [1])


@given(point, st.floats(0.05, 20), st.floats(0.05, 6.2))
def test_the_nearest_point_is_on_the_edge_and_at_the_distance(at, radius, sweep):
    arc = arc_edges(np.zeros((1, 2)), np.array([radius]), np.zeros(1), np.array([sweep]))
    centres = np.array([at])
    distance, index = edge_distances(centres, arc)
    on_edge = nearest_points(centres, arc, index)
    assert np.hypot(*on_edge[0]) == pytest.approx(radius, abs=EXACT)
    assert np.hypot(*(on_edge[0] - at)) == pytest.approx(distance[0], abs=EXACT)


def test_equal_distances_go_to_the_lowest_index():
    edges = polygon_edges(np.array([[0, 0], [2, 0], [2, 2], [0, 2]], dtype=float))
    distance, index = edge_distances(np.array([[1.0, 1.0]]), edges)
    assert (distance[0], index[0]) == (1.0, 0)
    nearest, _ = nearest_holes(np.array([[0.0, 0.0], [1.0, 0.0], [-1.0, 0.0]]))
    assert nearest.tolist() == [1, 0, 0]


def test_coincident_and_lone_holes():
    index, distance = nearest_holes(np.array([[1.0, 1.0], [1.0, 1.0]]))
    assert (index.tolist(), distance.tolist()) == ([1, 0], [0.0, 0.0])
    index, distance = nearest_holes(np.array([[1.0, 1.0]]))
    assert (index.tolist(), distance.tolist()) == ([-1], [math.inf])
    assert [len(a) for a in nearest_holes(np.zeros((0, 2)))] == [0, 0]


def test_what_has_no_answer_is_refused():
    square = polygon_edges(np.array([[0, 0], [2, 0], [2, 2], [0, 2]], dtype=float))
    with pytest.raises(GeometryError, match="no edges to measure"):
        edge_distances(np.zeros((1, 2)), square.take(slice(0, 0)))
    with pytest.raises(GeometryError, match="not a finite number"):
        edge_distances(np.array([[math.nan, 0.0]]), square)
    with pytest.raises(GeometryError, match="not a finite number"):
        nearest_holes(np.array([[math.inf, 0.0], [0.0, 0.0]]))
    assert [len(a) for a in edge_distances(np.zeros((0, 2)), square)] == [0, 0]


def test_an_edge_of_no_length_is_a_point():
    dot = polygon_edges(np.array([[1.0, 1.0]]))
    assert one(4.0, 5.0, dot) == 5.0
