"""Curves become lines and arcs: kinds, ends, closing, corners, degenerate cases, refusals."""

import numpy as np
import pytest
import shapely

from holeschedule.errors import GeometryError
from holeschedule.geometry import curves
from holeschedule.geometry.curves import (
    affine_edges,
    bulge_edges,
    ellipse_edges,
    fit_point_spline_edges,
    spline_edges,
)
from holeschedule.geometry.edges import arc_edges, circle_edges, join_edges, line_edges, no_edges

TOLERANCE = 1e-4
FULL = 2 * np.pi
ORIGIN = np.zeros(2)
NAN = float("nan")
HALF = np.sqrt(0.5)
CIRCLE_CONTROL = np.array(
    [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)], float
)
CIRCLE_WEIGHTS = np.array([1, HALF, 1, HALF, 1, HALF, 1, HALF, 1])
CIRCLE_KNOTS = np.array([0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4], float)
SQUARE = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], float)
WAVE = np.array([(0, 0), (1, 2), (2, -2), (3, 2), (4, 0)], float)


def ellipse_points(centre, major, minor, start=0.0, end=FULL, count=4001):
    t = np.linspace(start, end, count)[:, None]
    return centre + np.cos(t) * np.asarray(major) + np.sin(t) * np.asarray(minor)


def bezier_points(control, count=4001):
    """Points of one polynomial piece, by repeated halving of the control polygon's sides."""
    t = np.linspace(0, 1, count)[:, None, None]
    points = np.asarray(control, float)[None]
    while points.shape[1] > 1:
        points = (1 - t) * points[:, :-1] + t * points[:, 1:]
    return np.broadcast_to(points[:, 0], (count, 2))


def points_along(edges, count=65):
    return np.stack([edges.points_at(s) for s in np.linspace(0, 1, count)], axis=1).reshape(-1, 2)


def farthest(points, path):
    """Largest distance of `points` from the polyline `path`."""
    sides = np.stack((path[:-1], path[1:]), axis=1)
    tree = shapely.STRtree(shapely.linestrings(sides))
    found = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    return found[1].max()


def apart(edges, path):
    """Largest distance of edges from a curve and of the curve from the edges."""
    own = points_along(edges, 9 + 4_000 // len(edges))
    return max(farthest(own, path), farthest(path[::3], own))


def is_chain(edges):
    return np.array_equal(edges.end[:-1], edges.start[1:])


def is_closed(edges):
    return is_chain(edges) and np.array_equal(edges.end[-1], edges.start[0])


def directions(edges):
    """Unit directions in which each edge starts and ends."""
    radial = [p - edges.centre for p in (edges.start, edges.end)]
    sign = np.sign(edges.sweep)[:, None]
    chord = edges.end - edges.start
    both = [
        np.where(edges.is_arc[:, None], sign * np.column_stack((-r[:, 1], r[:, 0])), chord)
        for r in radial
    ]
    return [d / np.hypot(*d.T)[:, None] for d in both]


def corners(edges):
    """Turn [rad] between each edge and the next."""
    leaving, arriving = directions(edges)
    a, b = arriving[:-1], leaving[1:]
    return np.abs(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)))


def assert_arcs_fit_their_ends(edges):
    arcs = edges.take(edges.is_arc)
    for end in (arcs.start, arcs.end):
        assert np.hypot(*(end - arcs.centre).T) == pytest.approx(arcs.radius, rel=1e-6)
    np.testing.assert_allclose(arcs.points_at(1.0), arcs.end, atol=1e-9)


# polylines with bulges ---------------------------------------------------------------------


def test_a_polyline_without_bulges_is_lines_that_close():
    edges = bulge_edges(SQUARE, np.zeros(4), True)
    assert len(edges) == 4
    assert not edges.is_arc.any()
    assert is_closed(edges)
    np.testing.assert_array_equal(edges.centre, edges.start)


def test_an_open_polyline_has_no_edge_back_to_its_start_whatever_its_last_bulge():
    edges = bulge_edges(SQUARE, np.ones(4), False)
    assert len(edges) == 3
    np.testing.assert_array_equal(edges.end[-1], SQUARE[-1])


@pytest.mark.parametrize(
    ("bulge", "centre", "radius", "sweep"),
    [
        (1.0, (1, 0), 1.0, np.pi),
        (-1.0, (1, 0), 1.0, -np.pi),
        (np.tan(np.pi / 8), (1, 1), np.sqrt(2), np.pi / 2),
        (-np.tan(np.pi / 8), (1, -1), np.sqrt(2), -np.pi / 2),
        (np.tan(3 * np.pi / 8), (1, -1), np.sqrt(2), 3 * np.pi / 2),
    ],
)
def test_a_bulge_is_the_tangent_of_a_quarter_of_the_sweep(bulge, centre, radius, sweep):
    edges = bulge_edges(np.array([(0.0, 0.0), (2.0, 0.0)]), np.array([bulge, 0.0]), False)
    np.testing.assert_allclose(edges.centre, [centre], atol=1e-14)
    assert edges.radius[0] == pytest.approx(radius, rel=1e-14)
    assert edges.sweep[0] == pytest.approx(sweep, rel=1e-14)
    np.testing.assert_allclose(edges.points_at(1.0), edges.end, atol=1e-14)


def test_two_vertices_with_bulge_1_are_a_circle_of_two_arcs():
    edges = bulge_edges(np.array([(4.0, 1.0), (5.0, 1.0)]), np.ones(2), True)
    assert len(edges) == 2
    np.testing.assert_allclose(edges.centre, [(4.5, 1.0)] * 2, atol=1e-15)
    assert edges.sweep.sum() == pytest.approx(FULL)


def test_equal_vertices_in_a_row_make_no_edge_and_keep_the_chain():
    points = SQUARE[[0, 0, 1, 1, 1, 2, 3, 0]]
    edges = bulge_edges(points, np.array([9.0, 0, 9, 9, 0.5, 0, 0, 9]), True)
    assert len(edges) == 4
    assert is_closed(edges)
    assert edges.is_arc.tolist() == [False, True, False, False]


@pytest.mark.parametrize("points", [np.zeros((0, 2)), np.ones((1, 2)), np.ones((5, 2))])
def test_a_polyline_of_fewer_than_two_different_vertices_is_empty(points):
    for closed in (True, False):
        assert len(bulge_edges(points, np.ones(len(points)), closed)) == 0


@pytest.mark.parametrize(("turn", "is_arc"), [(3.9e-8, False), (4.1e-8, True)])
def test_a_bulge_too_flat_to_hold_its_centre_is_a_line(turn, is_arc):
    edges = bulge_edges(SQUARE[:2], np.full(2, np.tan(turn / 4)), False)
    assert edges.is_arc.tolist() == [is_arc]


# ellipses ----------------------------------------------------------------------------------


@pytest.mark.parametrize("mirror", [1, -1])
def test_a_whole_ellipse_of_equal_axes_is_one_full_circle(mirror):
    edges = ellipse_edges((4, 3), (0.3, 0.4), (-0.4 * mirror, 0.3 * mirror), 0, FULL, TOLERANCE)
    assert len(edges) == 1
    np.testing.assert_array_equal(edges.start, edges.end)
    np.testing.assert_allclose(edges.start, [(4.3, 3.4)], atol=1e-15)
    np.testing.assert_array_equal(edges.centre, [(4, 3)])
    assert edges.radius[0] == pytest.approx(0.5, rel=1e-15)
    assert edges.sweep[0] == mirror * FULL


@pytest.mark.parametrize(("unequal", "is_circle"), [(0.9e-9, True), (1.1e-9, False)])
def test_axes_are_equal_within_one_part_in_a_thousand_million(unequal, is_circle):
    edges = ellipse_edges(ORIGIN, (1, 0), (0, 1 - unequal), 0.2, 1.2, 1e-12)
    assert np.array_equal(edges.centre, [ORIGIN]) == is_circle


def test_part_of_an_ellipse_of_equal_axes_is_one_arc_between_its_parameters():
    edges = ellipse_edges(ORIGIN, (2, 0), (0, 2), np.pi / 2, 0.0, TOLERANCE)
    assert len(edges) == 1
    np.testing.assert_allclose(edges.start, [(0, 2)], atol=1e-15)
    np.testing.assert_allclose(edges.end, [(2, 0)], atol=1e-15)
    assert edges.sweep[0] == pytest.approx(1.5 * np.pi)


@pytest.mark.parametrize("ratio", [0.999, 0.5, 0.1, 0.01, 1e-4, 1e-8])
@pytest.mark.parametrize("tolerance", [1e-2, 1e-4])
def test_a_whole_ellipse_stays_within_tolerance_closes_and_has_no_corners(ratio, tolerance):
    centre, major, minor = (3, -2), np.array((1.5, 0.4)), ratio * np.array((-0.4, 1.5))
    edges = ellipse_edges(centre, major, minor, 0, FULL, tolerance)
    assert apart(edges, ellipse_points(centre, major, minor, count=8001)) <= tolerance
    assert is_closed(edges)
    assert_arcs_fit_their_ends(edges)
    np.testing.assert_array_equal(edges.start[0], centre + major)
    if ratio >= 0.01:
        assert corners(edges).max() < 1e-6


def test_a_finer_tolerance_takes_more_pieces():
    counts = [
        len(ellipse_edges(ORIGIN, (2, 0), (0, 1), 0, FULL, tolerance))
        for tolerance in (1e-2, 1e-4, 1e-6)
    ]
    assert counts == sorted(set(counts))


def test_conjugate_half_diameters_draw_the_ellipse_they_span():
    major, minor = np.array((2.0, 0.0)), np.array((1.0, 1.0))
    edges = ellipse_edges(ORIGIN, major, minor, 0, FULL, TOLERANCE)
    assert apart(edges, ellipse_points(ORIGIN, major, minor)) <= TOLERANCE


def test_sheared_half_diameters_of_a_circle_are_found_to_be_a_circle():
    turned = [np.array((np.cos(a), np.sin(a))) for a in (0.7, 0.7 + np.pi / 2)]
    edges = ellipse_edges(ORIGIN, *turned, 0, FULL, TOLERANCE)
    assert len(edges) == 1


def test_part_of_an_ellipse_begins_and_ends_at_its_parameters():
    major, minor, start, end = (2.0, 1.0), (-0.5, 1.0), 5.0, 2.0
    edges = ellipse_edges((1, 1), major, minor, start, end, TOLERANCE)
    path = ellipse_points((1, 1), major, minor, start, end + FULL)
    np.testing.assert_allclose(edges.start[0], path[0], atol=1e-15)
    np.testing.assert_allclose(edges.end[-1], path[-1], atol=1e-14)
    assert apart(edges, path) <= TOLERANCE
    assert is_chain(edges)


@pytest.mark.parametrize("end", [6.28318, 6.28319, FULL, -FULL, 2 * FULL])
def test_a_whole_turn_is_closed_however_it_was_rounded(end):
    edges = ellipse_edges((5, 5), (2, 0), (0, 1), 0.0, end, TOLERANCE)
    assert is_closed(edges)
    assert edges.lengths().sum() == pytest.approx(9.688448, abs=1e-3)


def test_a_nearly_whole_turn_stays_open():
    edges = ellipse_edges(ORIGIN, (2, 0), (0, 1), 0.0, 6.2830, TOLERANCE)
    assert not is_closed(edges)
    np.testing.assert_allclose(edges.end[-1], (2, -1.85e-4), atol=1e-6)


def test_an_ellipse_of_no_extent_is_empty():
    assert len(ellipse_edges(ORIGIN, (2, 0), (0, 1), 1.5, 1.5, TOLERANCE)) == 0
    assert len(ellipse_edges(ORIGIN, (0, 0), (0, 0), 0, FULL, TOLERANCE)) == 0


def test_a_flat_closed_ellipse_is_the_line_between_its_vertices():
    edges = ellipse_edges((1, 2), (3, 0), (0, 0), 0, FULL, TOLERANCE)
    assert len(edges) == 1
    assert not edges.is_arc.any()
    assert sorted(np.vstack((edges.start, edges.end))[:, 0]) == [-2, 4]
    np.testing.assert_array_equal(edges.centre, edges.start)


def test_a_flat_open_ellipse_runs_to_its_vertex_and_back():
    edges = ellipse_edges(ORIGIN, (1, 0), (0, 0), -0.5, 1.0, TOLERANCE)
    expected = [(np.cos(0.5), 0), (1, 0), (np.cos(1.0), 0)]
    np.testing.assert_allclose(np.vstack((edges.start[:1], edges.end)), expected, atol=1e-15)


def test_an_ellipse_far_from_the_origin_keeps_its_shape():
    far = np.array((1e6, -2e6))
    edges = ellipse_edges(far, (2, 0), (0, 1), 0, FULL, TOLERANCE)
    near = ellipse_edges(ORIGIN, (2, 0), (0, 1), 0, FULL, TOLERANCE)
    np.testing.assert_array_equal(edges.radius, near.radius)
    np.testing.assert_allclose(edges.centre - far, near.centre, atol=1e-9)


# splines -----------------------------------------------------------------------------------


def test_a_straight_spline_is_one_line():
    control = np.column_stack((np.arange(12.0), np.arange(12.0) / 2))
    edges = spline_edges(3, control, None, None, False, TOLERANCE)
    assert len(edges) == 1
    assert not edges.is_arc.any()
    np.testing.assert_array_equal(edges.start, control[:1])
    np.testing.assert_array_equal(edges.end, control[-1:])


def test_straight_and_round_stretches_of_one_spline_become_lines_and_arcs():
    control = np.array([(0, 0), (1, 0), (2, 0), (3, 0), (4, 0), (5, 1), (5, 2), (5, 3)], float)
    edges = spline_edges(3, control, None, None, False, TOLERANCE)
    assert not edges.is_arc[0]
    assert edges.is_arc.any()
    chord = np.hypot(*(edges.end - edges.start).T)
    assert np.all(edges.radius <= 1.001e6 * chord)


def test_a_rational_spline_of_a_circle_is_one_full_circle():
    control = CIRCLE_CONTROL * 0.049 + (4.25, 0.31)
    edges = spline_edges(2, control, CIRCLE_KNOTS, CIRCLE_WEIGHTS, True, TOLERANCE)
    assert len(edges) == 1
    np.testing.assert_array_equal(edges.start, edges.end)
    np.testing.assert_allclose(edges.centre, [(4.25, 0.31)], atol=1e-12)
    assert edges.radius[0] == pytest.approx(0.049, rel=1e-10)
    assert edges.sweep[0] == FULL


def test_a_degree_of_1_is_the_control_polygon():
    edges = spline_edges(1, SQUARE, None, None, False, TOLERANCE)
    np.testing.assert_array_equal(edges.start, SQUARE[:-1])
    np.testing.assert_array_equal(edges.end, SQUARE[1:])


def test_a_kink_of_the_spline_stays_a_corner_at_its_place():
    control = np.array([(0, 0), (1, 1), (2, 0), (3, 1), (4, 0)], float)
    edges = spline_edges(2, control, np.array([0, 0, 0, 1, 1, 2, 2, 2.0]), None, False, TOLERANCE)
    turns = corners(edges)
    at = int(np.argmax(turns))
    assert turns[at] == pytest.approx(np.pi / 2)
    np.testing.assert_allclose(edges.end[at], (2, 0), atol=1e-15)
    assert np.delete(turns, at).max() < 1e-6


SINGLE_PIECES = {
    "S": [(0, 0), (1, 0), (0, 1), (1, 1)],
    "cusp": [(0, 0), (1, 1), (0, 1), (1, 0)],
    "loop": [(0, 0), (5, 3), (-2, 3), (3, 0)],
    "back to its start": [(0, 0), (3, 3), (-3, 3), (0, 0)],
    "there and back": [(0, 0), (2, 0), (1, 0)],
    "slow start": [(0, 0), (0, 0), (0, 0), (0, 0), (1, 2), (3, 3)],
    "slow end": [(0, 0), (1, 2), (3, 3), (3, 3), (3, 3)],
    "far away": [(1e6, 1e6), (1e6 + 1, 1e6 + 2), (1e6 + 2, 1e6), (1e6 + 3, 1e6 + 1)],
    "hardly larger than the tolerance": [(0, 0), (3e-4, 9e-4), (6e-4, -3e-4), (9e-4, 3e-4)],
}


@pytest.mark.parametrize("name", SINGLE_PIECES)
@pytest.mark.parametrize("tolerance", [1e-3, 1e-4])
def test_a_single_piece_stays_within_tolerance_and_keeps_its_ends(name, tolerance):
    control = np.array(SINGLE_PIECES[name], float)
    edges = spline_edges(len(control) - 1, control, None, None, False, tolerance)
    assert apart(edges, bezier_points(control, 8001)) <= tolerance
    assert is_chain(edges)
    assert_arcs_fit_their_ends(edges)
    np.testing.assert_array_equal(edges.start[0], control[0])
    np.testing.assert_array_equal(edges.end[-1], control[-1])


@pytest.mark.parametrize("weights", [(1, 1e4, 1e-4, 1), (1, 1e-6, 1e6, 1), (5, 5, 5, 5)])
def test_uneven_weights_that_rush_the_curve_along_are_followed(weights):
    control = np.array([(0, 0), (1, 2), (2, 0), (3, 1)], float)
    weights = np.array(weights, float)
    edges = spline_edges(3, control, None, weights, False, TOLERANCE)
    # evenly spaced on a logarithmic scale at both ends, where such curves hide
    small = np.logspace(-12, np.log10(0.5), 4001)
    t = np.unique(np.concatenate(([0.0], small, 1 - small, [1.0])))[:, None]
    basis = np.hstack(((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)) * weights
    path = basis @ control / basis.sum(axis=1, keepdims=True)
    assert apart(edges, path) <= TOLERANCE


def test_equal_weights_change_nothing():
    plain = spline_edges(3, WAVE, None, None, False, TOLERANCE)
    weighted = spline_edges(3, WAVE, None, np.full(5, 7.0), False, TOLERANCE)
    np.testing.assert_allclose(weighted.start, plain.start, atol=1e-12)


def test_a_coarse_tolerance_does_not_let_the_edges_take_another_way_round():
    control = np.array([(-0.16, -0.5), (-1.96, -0.34), (1.08, -0.94), (0.99, -0.43)])
    edges = spline_edges(3, control, None, None, False, 0.7)
    assert apart(edges, bezier_points(control)) <= 0.7
    assert np.abs(edges.sweep).max() <= curves.MOST_TURN


@pytest.mark.parametrize(("rise", "is_arc"), [(1e-8, False), (1e-4, True)])
def test_a_stretch_of_hardly_any_turn_is_lines(rise, is_arc):
    edges = spline_edges(2, np.array([(0, 0), (1, rise), (2, 0)]), None, None, False, TOLERANCE)
    assert edges.is_arc.any() == is_arc


def test_a_spline_that_starts_at_a_standstill_leaves_towards_its_next_control_point():
    control = np.array(SINGLE_PIECES["slow start"], float)
    edges = spline_edges(5, control, None, None, False, TOLERANCE)
    leaving, _ = directions(edges)
    np.testing.assert_allclose(leaving[0], np.array((1, 2)) / np.sqrt(5), atol=1e-3)


def test_a_standstill_inside_a_smooth_spline_is_no_corner():
    control = np.array([(0, 0), (1, 1), (2, 1), (2, 1), (2, 1), (3, 1), (4, 0)], float)
    edges = spline_edges(3, control, None, None, False, TOLERANCE)
    assert corners(edges).max() < 1e-3


def test_a_smooth_spline_has_no_corners():
    edges = spline_edges(3, WAVE, None, None, False, TOLERANCE)
    assert corners(edges).max() < 1e-6


def test_a_spline_between_knots_that_do_not_repeat_closes_exactly():
    angle = np.arange(10) / 10 * FULL
    control = np.column_stack((3 * np.cos(angle), 2 * np.sin(angle)))[np.arange(13) % 10]
    edges = spline_edges(3, control, np.arange(17.0), None, True, TOLERANCE)
    assert is_closed(edges)
    assert corners(edges).max() < 1e-6


@pytest.mark.parametrize(("gap", "closes"), [(1e-13, True), (0.9e-4, True), (1.1e-4, False)])
def test_a_spline_meant_to_close_closes_over_a_gap_within_tolerance(gap, closes):
    control = np.array([(0, 0), (1, 1), (2, 0), (1, -1), (0, gap)], float)
    edges = spline_edges(3, control, None, None, True, TOLERANCE)
    assert is_closed(edges) == closes
    assert_arcs_fit_their_ends(edges)


def test_an_open_spline_is_not_closed_over_a_small_gap():
    control = np.array([(0, 0), (1, 1), (2, 0), (1, -1), (0, 1e-5)], float)
    edges = spline_edges(3, control, None, None, False, TOLERANCE)
    np.testing.assert_array_equal(edges.end[-1], control[-1])


def test_a_spline_that_jumps_keeps_the_gap():
    control = np.array([(0, 0), (1, 1), (2, 0), (5, 5), (6, 6), (7, 5)], float)
    knots = np.array([0, 0, 0, 1, 1, 1, 2, 2, 2.0])
    edges = spline_edges(2, control, knots, None, False, TOLERANCE)
    torn = np.flatnonzero(np.any(edges.end[:-1] != edges.start[1:], axis=1))
    assert len(torn) == 1
    np.testing.assert_allclose(edges.end[torn], [(2, 0)], atol=1e-12)
    np.testing.assert_allclose(edges.start[torn + 1], [(5, 5)], atol=1e-12)


def test_knots_that_differ_by_rounding_are_one_knot():
    control = np.array([(0, 0), (1, 1), (2, 0), (3, 1), (4, 0)], float)
    rounded = np.array([0, 0, 1e-11, 1, 1 + 1e-10, 2, 2, 2 - 1e-11])
    edges = spline_edges(2, control, rounded, None, False, TOLERANCE)
    exact = spline_edges(2, control, np.array([0, 0, 0, 1, 1, 2, 2, 2.0]), None, False, TOLERANCE)
    np.testing.assert_allclose(edges.start, exact.start, atol=1e-8)


def test_a_spline_whose_control_points_are_one_is_empty():
    assert len(spline_edges(3, np.ones((5, 2)), None, None, True, TOLERANCE)) == 0


def test_empty_knots_are_evenly_spaced_ones():
    even = spline_edges(2, WAVE, np.array([0, 0, 0, 1, 2, 3, 3, 3.0]), None, False, TOLERANCE)
    none = spline_edges(2, WAVE, np.array([]), None, False, TOLERANCE)
    np.testing.assert_allclose(none.start, even.start, atol=1e-14)


# splines through fit points ----------------------------------------------------------------


def test_a_spline_through_fit_points_meets_each_of_them():
    edges = fit_point_spline_edges(WAVE, False, TOLERANCE)
    assert farthest(WAVE, points_along(edges)) <= TOLERANCE
    np.testing.assert_array_equal(edges.start[0], WAVE[0])
    np.testing.assert_allclose(edges.end[-1], WAVE[-1], atol=1e-14)
    assert corners(edges).max() < 1e-6


def test_two_fit_points_are_a_line():
    for closed in (True, False):
        edges = fit_point_spline_edges(WAVE[[0, 0, 1]], closed, TOLERANCE)
        np.testing.assert_array_equal(edges.start, WAVE[:1])
        np.testing.assert_allclose(edges.end, WAVE[1:2], atol=1e-15)


@pytest.mark.parametrize("points", [np.zeros((0, 2)), WAVE[:1], WAVE[[1, 1, 1]]])
def test_fewer_than_two_different_fit_points_are_empty(points):
    assert len(fit_point_spline_edges(points, True, TOLERANCE)) == 0


def test_given_tangents_are_the_directions_of_the_ends():
    edges = fit_point_spline_edges(WAVE, False, TOLERANCE, np.array([(0, 5.0), (3.0, 0)]))
    leaving, arriving = directions(edges)
    np.testing.assert_allclose(leaving[0], (0, 1), atol=1e-9)
    np.testing.assert_allclose(arriving[-1], (1, 0), atol=1e-9)


def test_tangents_of_no_length_count_as_none():
    plain = fit_point_spline_edges(WAVE, False, TOLERANCE)
    zero = fit_point_spline_edges(WAVE, False, TOLERANCE, np.zeros((2, 2)))
    np.testing.assert_array_equal(zero.start, plain.start)


@pytest.mark.parametrize("repeat", [False, True])
def test_a_closed_spline_through_fit_points_has_no_corner_where_it_closes(repeat):
    points = np.array([(0, 0), (4, 0), (5, 3), (1, 2)], float)
    if repeat:
        points = np.vstack((points, points[:1]))
    edges = fit_point_spline_edges(points, True, TOLERANCE)
    assert is_closed(edges)
    assert corners(join_edges([edges, edges.take(slice(0, 1))])).max() < 1e-6
    assert farthest(points, points_along(edges)) <= TOLERANCE


def test_a_closed_spline_through_fit_points_does_not_depend_on_where_it_begins():
    points = np.array([(0, 0), (4, 0), (5, 3), (1, 2), (0, 1)], float)
    one, other = (fit_point_spline_edges(np.roll(points, k, 0), True, 1e-6) for k in (0, 2))
    assert apart(one, points_along(other)) <= 2e-6


# moved, scaled, mirrored, sheared ----------------------------------------------------------


def slot():
    return bulge_edges(
        np.array([(0, 0), (2, 0), (2, 1), (0, 1)], float), np.array([0, 1.0, 0, 1.0]), True
    )


def turned(angle, scale=1.0, mirror=1):
    c, s = np.cos(angle), np.sin(angle)
    return scale * np.array([(c, -s * mirror), (s, c * mirror)])


@pytest.mark.parametrize("mirror", [1, -1])
def test_turning_scaling_and_mirroring_keep_arcs_arcs(mirror):
    edges = slot()
    matrix, shift = turned(0.3, 2.5, mirror), np.array((7.0, -3.0))
    moved = affine_edges(edges, matrix, shift, TOLERANCE)
    np.testing.assert_array_equal(moved.is_arc, edges.is_arc)
    np.testing.assert_allclose(moved.radius, 2.5 * edges.radius)
    np.testing.assert_array_equal(moved.sweep, mirror * edges.sweep)
    for share in (0.0, 0.3, 1.0):
        expected = edges.points_at(share) @ matrix.T + shift
        np.testing.assert_allclose(moved.points_at(share), expected, atol=1e-14)
    assert is_closed(moved)


def test_a_full_circle_stays_one_full_circle_under_equal_scale():
    circle = circle_edges(np.array([(1.0, 2.0)]), np.array([0.5]))
    moved = affine_edges(circle, turned(1.1, 3.0, -1), ORIGIN, TOLERANCE)
    assert len(moved) == 1
    np.testing.assert_array_equal(moved.start, moved.end)
    assert moved.sweep[0] == -FULL


@pytest.mark.parametrize(
    "matrix", [((2, 0), (0, 1)), ((1, 0.4), (0, 1)), ((-1, 0), (0, 3)), ((0, 1), (2, 0.5))]
)
@pytest.mark.parametrize("sense", [1, -1])
def test_unequal_scale_and_shear_keep_the_shape_within_tolerance(matrix, sense):
    edges = slot()
    edges = (
        edges if sense == 1 else edges.take(slice(None, None, -1)).reversed_where(np.ones(4, bool))
    )
    matrix, shift = np.array(matrix, float), np.array((7.0, -3.0))
    moved = affine_edges(edges, matrix, shift, TOLERANCE)
    assert apart(moved, points_along(edges, 1001) @ matrix.T + shift) <= TOLERANCE
    assert is_closed(moved)
    np.testing.assert_allclose(moved.start[0], matrix @ edges.start[0] + shift, atol=1e-14)


def test_unequal_scale_makes_a_circle_an_ellipse_that_closes():
    circle = circle_edges(np.array([(1.0, 2.0)]), np.array([0.5]))
    moved = affine_edges(circle, np.diag((2.0, 1.0)), ORIGIN, TOLERANCE)
    assert apart(moved, ellipse_points((2, 2), (1, 0), (0, 0.5))) <= TOLERANCE
    assert is_closed(moved)


def test_a_clockwise_arc_keeps_its_direction_under_unequal_scale():
    arc = arc_edges(np.zeros((1, 2)), np.ones(1), np.array([1.0]), np.array([-2.0]))
    moved = affine_edges(arc, np.diag((3.0, 1.0)), ORIGIN, TOLERANCE)
    assert moved.sweep[moved.is_arc].max() < 0
    np.testing.assert_allclose(moved.end[-1], (3 * np.cos(1), -np.sin(1)), atol=1e-15)


def test_lines_alone_stay_as_many_under_shear():
    lines = line_edges(SQUARE[:-1], SQUARE[1:])
    moved = affine_edges(lines, np.array([(1, 0.5), (0, 1)]), ORIGIN, TOLERANCE)
    np.testing.assert_allclose(moved.end, [(1, 0), (1.5, 1), (0.5, 1)], atol=1e-15)
    np.testing.assert_array_equal(moved.centre, moved.start)


def test_edges_squeezed_to_points_are_left_out():
    moved = affine_edges(slot(), np.diag((1.0, 0.0)), ORIGIN, TOLERANCE)
    assert not moved.is_arc.any()
    assert np.all(moved.lengths() > 0)
    assert moved.start[:, 1].tolist() == [0] * len(moved)
    assert len(affine_edges(slot(), np.zeros((2, 2)), ORIGIN, TOLERANCE)) == 0


def test_no_edges_stay_no_edges():
    assert len(affine_edges(no_edges(), np.diag((2.0, 1.0)), ORIGIN, TOLERANCE)) == 0


# refusals ----------------------------------------------------------------------------------


def spline(**changed):
    values = {"degree": 3, "control": WAVE, "knots": None, "weights": None, "tolerance": TOLERANCE}
    return spline_edges(closed=False, **(values | changed))


BAD_WAVE = np.where(np.arange(10).reshape(5, 2) == 3, np.inf, WAVE)
REFUSALS = {
    "polyline, vertex": (
        lambda: bulge_edges(np.array([(0, 0), (NAN, 1)]), np.zeros(2), False),
        "polyline: a value is nan; expected finite numbers below 1e+50. Redraw it",
    ),
    "polyline, bulge": (
        lambda: bulge_edges(SQUARE, np.array([0, 1e308, 0, 0]), True),
        "polyline: a value is 1e+308; expected finite numbers below 1e+50. Redraw it",
    ),
    "ellipse, parameter": (
        lambda: ellipse_edges(ORIGIN, (1, 0), (0, 2), 0, NAN, TOLERANCE),
        "ellipse: a value is nan; expected finite numbers below 1e+50. Redraw it",
    ),
    "ellipse, tolerance": (
        lambda: ellipse_edges(ORIGIN, (1, 0), (0, 2), 0, 1, 0.0),
        "ellipse: the tolerance is 0.0; expected one above 0. Raise it",
    ),
    "spline, control point": (
        lambda: spline(control=BAD_WAVE),
        "spline: a value is inf; expected finite numbers below 1e+50. Redraw it",
    ),
    "spline, degree": (
        lambda: spline(degree=0),
        "spline: its degree is 0; expected 1 to 25. Redraw it",
    ),
    "spline, high degree": (
        lambda: spline(degree=26, control=np.zeros((30, 2))),
        "spline: its degree is 26; expected 1 to 25. Redraw it",
    ),
    "spline, control points": (
        lambda: spline(degree=5),
        "spline: it has 5 control points; expected 6 or more at degree 5. Redraw it",
    ),
    "spline, no control points": (
        lambda: spline(control=np.zeros((0, 2))),
        "spline: it has 0 control points; expected 4 or more at degree 3. Redraw it",
    ),
    "spline, number of knots": (
        lambda: spline(knots=np.arange(8.0)),
        "spline: it has 8 knots; expected 9, control points + degree + 1. Redraw it",
    ),
    "spline, equal knots": (
        lambda: spline(knots=np.ones(9)),
        "spline: its knots run from 1 to 1; expected a rise. Redraw it",
    ),
    "spline, falling knots": (
        lambda: spline(knots=np.array([0, 0, 0, 0, 2, 1.5, 3, 3, 3])),
        "spline: knot 6 is 1.5 after 2; expected rising order. Redraw it",
    ),
    "spline, number of weights": (
        lambda: spline(weights=np.ones(4)),
        "spline: it has 4 weights; expected 5, one for each control point. Redraw it",
    ),
    "spline, weight": (
        lambda: spline(weights=np.array([1, 1, 1, -2.0, 1])),
        "spline: weight 4 is -2; expected a weight above 0. Redraw it",
    ),
    "spline, tolerance": (
        lambda: spline(tolerance=-1.0),
        "spline: the tolerance is -1.0; expected one above 0. Raise it",
    ),
    "fit points": (
        lambda: fit_point_spline_edges(BAD_WAVE, False, TOLERANCE),
        "spline: a value is inf; expected finite numbers below 1e+50. Redraw it",
    ),
    "too many fit points": (
        lambda: fit_point_spline_edges(np.arange(10_002.0).reshape(-1, 2), False, TOLERANCE),
        "spline: it has 5001 fit points; expected at most 5000. Save it with control points",
    ),
    "edges": (
        lambda: affine_edges(slot(), np.array([(1, 0), (0, NAN)]), ORIGIN, TOLERANCE),
        "edges: a value is nan; expected finite numbers below 1e+50. Redraw it",
    ),
    "edges, tolerance": (
        lambda: affine_edges(slot(), np.eye(2), ORIGIN, float("inf")),
        "edges: the tolerance is inf; expected one above 0. Raise it",
    ),
}


@pytest.mark.parametrize("name", REFUSALS)
def test_a_refusal_says_what_is_wrong_and_what_was_expected(name):
    call, message = REFUSALS[name]
    with pytest.raises(GeometryError) as error:
        call()
    assert str(error.value) == message


def test_a_curve_that_needs_more_pieces_than_the_limit_is_refused(monkeypatch):
    monkeypatch.setattr(curves, "MOST_PIECES", 500)
    assert len(ellipse_edges(ORIGIN, (1, 0), (0, 2), 0, FULL, 1e-6)) > 100
    with pytest.raises(GeometryError) as error:
        ellipse_edges(ORIGIN, (1e4, 0), (0, 2e4), 0, FULL, 1e-6)
    assert str(error.value) == (
        "ellipse: 500 stretches do not follow it within 1e-06; expected a smoother curve. "
        "Check the drawing unit, or redraw it"
    )


def test_a_spline_of_more_spans_than_the_limit_is_refused_before_it_is_followed(monkeypatch):
    monkeypatch.setattr(curves, "MOST_PIECES", 3)
    straight = np.column_stack((np.arange(6.0), np.zeros(6)))
    assert len(spline(control=straight)) == 1
    with pytest.raises(GeometryError, match="3 stretches do not follow it"):
        spline(control=np.column_stack((np.arange(7.0), np.zeros(7))))
