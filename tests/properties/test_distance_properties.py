"""Distances against plain loops: one hole, one edge at a time, with other formulas."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from holeschedule.geometry.distance import (
    edge_distances,
    nearest_holes,
    nearest_points,
    pairs_within,
)
from holeschedule.geometry.edges import Edges, arc_edges, join_edges, line_edges
from tests.benchmarks import panels

EXACT = 1e-9
"""Inches; the promise of the design, and the slack within which distances tie."""

# ------------------------------------------------------------------- the reference: loops, math


def distance_to_line(p, start, end):
    """By the angles at both ends: the height of the triangle, or the shorter of its sides."""
    a, b, c = math.dist(p, start), math.dist(p, end), math.dist(start, end)
    if c == 0:
        return a
    along = ((p[0] - start[0]) * (end[0] - start[0]) + (p[1] - start[1]) * (end[1] - start[1])) / c
    if along <= 0 or along >= c:
        return min(a, b)
    across = (p[0] - start[0]) * (end[1] - start[1]) - (p[1] - start[1]) * (end[0] - start[0])
    return abs(across) / c


def distance_to_arc(p, start, end, centre, radius, sweep):
    """By angles: within the sweep the rim is nearest, beyond it one of the ends."""
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    here = math.atan2(p[1] - centre[1], p[0] - centre[0])
    turned = (here - first) % math.tau if sweep > 0 else (first - here) % math.tau
    if turned <= abs(sweep):
        return abs(math.dist(p, centre) - radius)
    return min(math.dist(p, start), math.dist(p, end))


def distance_to_edge(p, edges, i):
    start, end = edges.start[i].tolist(), edges.end[i].tolist()
    if edges.radius[i] == 0:
        return distance_to_line(p, start, end)
    circle = edges.centre[i].tolist(), float(edges.radius[i]), float(edges.sweep[i])
    return distance_to_arc(p, start, end, *circle)


def reference_distances(centres, edges):
    return [[distance_to_edge(p, edges, i) for i in range(len(edges))] for p in centres.tolist()]


def check_against(reference, distance, index):
    """The least distance, and the first edge or hole that ties with it."""
    for row, measured, chosen in zip(reference, distance, index, strict=True):
        assert measured == pytest.approx(min(row), abs=EXACT)
        assert row[chosen] <= min(row) + 1.01 * EXACT
        assert min(row[:chosen], default=math.inf) > min(row) + 0.99 * EXACT


# -------------------------------------------------------------------------------- what is drawn

# eighths of an inch, so that holes lie on edges, on centres and on each other often; and any
on_grid = st.integers(-32, 32).map(lambda eighths: eighths / 8)
anywhere = st.floats(-4, 4, allow_subnormal=False)
coordinate = st.one_of(on_grid, anywhere)
point = st.tuples(coordinate, coordinate)
points = st.lists(point, max_size=24).map(lambda p: np.array(p, dtype=float).reshape(-1, 2))
turn = st.one_of(
    st.sampled_from([math.pi / 2, math.pi, 1.5 * math.pi, math.tau]), st.floats(0.01, math.tau)
)


@st.composite
def lines(draw):
    ends = np.array([draw(point), draw(point)])
    return line_edges(ends[:1], ends[1:])


@st.composite
def arcs(draw):
    radius = draw(st.one_of(st.sampled_from([0.125, 0.5, 1.0, 2.0]), st.floats(0.001, 50)))
    sweep = draw(turn) * draw(st.sampled_from([1, -1]))
    first = draw(st.one_of(st.sampled_from([0.0, math.pi / 2, math.pi]), st.floats(-7, 7)))
    return arc_edges(
        np.array([draw(point)]), np.array([radius]), np.array([first]), np.array([sweep])
    )


edge_sets = st.lists(st.one_of(lines(), arcs()), min_size=1, max_size=12).map(join_edges)


def moved(edges, angle, shift):
    """Turned about the origin by `angle`, then shifted."""
    c, s = math.cos(angle), math.sin(angle)
    turned = np.array([[c, s], [-s, c]])
    start, end, centre = (v @ turned + shift for v in (edges.start, edges.end, edges.centre))
    return Edges(start, end, centre, edges.radius, edges.sweep)


# -------------------------------------------------------------------------------------- to edges


@settings(deadline=None, max_examples=40)
@given(points, edge_sets)
def test_edge_distances_are_those_of_a_loop_over_all_edges(centres, edges):
    check_against(reference_distances(centres, edges), *edge_distances(centres, edges))


@settings(deadline=None, max_examples=40)
@given(points, edge_sets)
def test_the_nearest_point_is_on_the_edge_and_at_the_distance(centres, edges):
    distance, index = edge_distances(centres, edges)
    foot = nearest_points(centres, edges, index)
    for p, q, i, measured in zip(
        centres.tolist(), foot.tolist(), index.tolist(), distance.tolist(), strict=True
    ):
        assert distance_to_edge(q, edges, i) == pytest.approx(0, abs=EXACT)
        assert math.dist(p, q) == pytest.approx(measured, abs=2 * EXACT)


@settings(deadline=None, max_examples=40)
@given(points, edge_sets, st.floats(-4, 4), st.tuples(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5)))
def test_turning_and_shifting_a_part_changes_no_distance(centres, edges, angle, shift):
    shift = np.array(shift)
    there = moved(edges, angle, shift)
    c, s = math.cos(angle), math.sin(angle)
    distance, _ = edge_distances(centres @ np.array([[c, s], [-s, c]]) + shift, there)
    assert distance == pytest.approx(edge_distances(centres, edges)[0], abs=EXACT)


@settings(deadline=None, max_examples=40)
@given(points, edge_sets)
def test_mirroring_a_part_changes_no_distance(centres, edges):
    flip = np.array([-1.0, 1.0])
    mirrored = Edges(
        edges.start * flip, edges.end * flip, edges.centre * flip, edges.radius, -edges.sweep
    )
    distance, _ = edge_distances(centres * flip, mirrored)
    assert distance == pytest.approx(edge_distances(centres, edges)[0], abs=EXACT)


@settings(deadline=None, max_examples=40)
@given(points, edge_sets)
def test_drawing_an_edge_the_other_way_changes_no_distance(centres, edges):
    backwards = edges.reversed_where(np.ones(len(edges), dtype=bool))
    distance, _ = edge_distances(centres, backwards)
    assert distance == pytest.approx(edge_distances(centres, edges)[0], abs=EXACT)


@settings(deadline=None, max_examples=40)
@given(points, edge_sets, st.randoms(use_true_random=False))
def test_the_order_of_holes_and_edges_changes_no_distance(centres, edges, random):
    rows, columns = list(range(len(centres))), list(range(len(edges)))
    random.shuffle(rows)
    random.shuffle(columns)
    shuffled, _ = edge_distances(
        centres[np.array(rows, dtype=int)], edges.take(np.array(columns, dtype=int))
    )
    distance, _ = edge_distances(centres, edges)
    assert shuffled == pytest.approx(distance[np.array(rows, dtype=int)], abs=EXACT)


@pytest.mark.parametrize("kind", sorted(panels.KINDS))
@pytest.mark.parametrize("holes", [37, 300])
def test_on_panels_of_every_kind_the_search_finds_what_a_full_search_finds(kind, holes):
    panel = panels.notched_panel(holes, 80) if kind == "notched" else panels.KINDS[kind](holes)
    distance, index = edge_distances(panel.centres, panel.edges)
    check_against(reference_distances(panel.centres, panel.edges), distance, index)


@pytest.mark.parametrize("kind", sorted(panels.KINDS))
def test_on_large_panels_every_hole_alone_has_the_same_answer(kind):
    panel = panels.KINDS[kind](3000)
    distance, index = edge_distances(panel.centres, panel.edges)
    for hole in range(0, 3000, 331):
        alone = edge_distances(panel.centres[hole : hole + 1], panel.edges)
        assert (distance[hole], index[hole]) == (alone[0][0], alone[1][0])


# ------------------------------------------------------------------------------------- to holes


def reference_spacings(centres):
    """Every hole to every other; infinity to itself."""
    table = [[math.dist(p, q) for q in centres.tolist()] for p in centres.tolist()]
    for i, row in enumerate(table):
        row[i] = math.inf
    return table


@settings(deadline=None, max_examples=40)
@given(points)
@example(np.zeros((9, 2)))
@example(np.array([(0, 5e-10), (0, 0), (0, 0), (3, 0)]))
@example(np.array([(0, 0), (1, 0), (0, 0), (1, 0), (0, 5e-10), (1, 0)]))
@example(np.array([(1e5, 0), (0, 0), (1e-9, 0), (1e-9, 1e-9), (1e5, 1)]))
def test_nearest_holes_are_those_of_a_loop_over_all_holes(centres):
    index, distance = nearest_holes(centres)
    if len(centres) == 1:
        assert (index[0], distance[0]) == (-1, math.inf)
        return
    check_against(reference_spacings(centres), distance, index)


@settings(deadline=None, max_examples=40)
@given(points, st.floats(0, 3), st.booleans(), st.randoms(use_true_random=False))
def test_pairs_within_are_those_of_a_loop_over_all_pairs(centres, most, one_for_all, random):
    each = [most if one_for_all else random.uniform(-0.5, most) for _ in centres]
    first, second, distance = pairs_within(centres, most if one_for_all else np.array(each))
    found = list(zip(first.tolist(), second.tolist(), strict=True))
    assert found == sorted(set(found))
    spacing = reference_spacings(centres)
    for (i, j), measured in zip(found, distance.tolist(), strict=True):
        assert measured == pytest.approx(spacing[i][j], abs=1e-12)
    for i in range(len(centres)):
        for j in range(i + 1, len(centres)):
            beyond = spacing[i][j] - max(each[i], each[j])
            # exactly at the slack either answer is right
            assert beyond > 0.99 * EXACT or (i, j) in found
            assert beyond < 1.01 * EXACT or (i, j) not in found


@settings(deadline=None, max_examples=40)
@given(points, st.randoms(use_true_random=False))
def test_the_order_of_holes_changes_no_spacing(centres, random):
    order = list(range(len(centres)))
    random.shuffle(order)
    _, distance = nearest_holes(centres)
    _, shuffled = nearest_holes(centres[np.array(order, dtype=int)])
    assert shuffled.tolist() == [distance[i] for i in order]


@pytest.mark.parametrize("kind", sorted(panels.KINDS))
def test_the_nearest_hole_is_the_first_of_the_nearest_pairs(kind):
    centres = panels.KINDS[kind](250).centres
    index, distance = nearest_holes(centres)
    check_against(reference_spacings(centres), distance, index)
    first, second, apart = pairs_within(centres, distance)
    for hole in range(0, 250, 13):
        mine = (first == hole) | (second == hole)
        assert apart[mine].min() == distance[hole]
