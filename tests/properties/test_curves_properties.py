"""Whatever is drawn: curves stay within tolerance, circles are found, others are not."""

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.spatial import KDTree

from holeschedule.geometry.circles import (
    circles_of_loops,
    distances_from,
    fit_circle,
)
from holeschedule.geometry.curves import (
    affine_edges,
    bulge_edges,
    ellipse_edges,
    fit_point_spline_edges,
    spline_edges,
)
from holeschedule.geometry.edges import circle_edges, polygon_edges

# the machine that runs this may be busy: no deadline
quick = settings(deadline=None, max_examples=40)

FULL = 2 * np.pi
TOLERANCE = 1e-4
coordinate = st.floats(-100, 100)
point = st.tuples(coordinate, coordinate).map(np.array)
angle = st.floats(-7, 7)
radius = st.floats(0.02, 0.25)
tolerance = st.sampled_from([1e-2, 1e-3, 1e-4])


def circle_of_loop(edges, tolerance):
    return circles_of_loops([edges], tolerance)[0]


def round_points(centre, size, count, phase):
    turn = phase + np.arange(count) / count * FULL
    return centre + size * np.column_stack((np.cos(turn), np.sin(turn)))


def off_edges(points, edges):
    """Largest distance of a point from the nearest edge."""
    each = np.broadcast_to(points, (len(edges), *points.shape))
    return distances_from(each, edges).min(axis=0).max()


def off_points(edges, points):
    """Largest distance of an edge, seen at 9 places, from the nearest of many points."""
    own = np.concatenate([edges.points_at(s) for s in np.linspace(0, 1, 9)])
    return KDTree(points).query(own)[0].max()


def spacing_of(points):
    return np.hypot(*np.diff(points, axis=0).T).max()


def is_chain(edges):
    return np.array_equal(edges.end[:-1], edges.start[1:])


def matrix_of(turn, scale_x, scale_y, shear):
    c, s = np.cos(turn), np.sin(turn)
    return np.array([(c, -s), (s, c)]) @ np.array([(scale_x, shear), (0, scale_y)])


# curves ------------------------------------------------------------------------------------


@quick
@given(
    point,
    st.tuples(st.floats(0.1, 5), angle, st.floats(0.1, 5), st.floats(0.1, 3.0)),
    angle,
    st.floats(0.05, FULL),
    tolerance,
)
def test_an_ellipse_of_any_conjugate_pair_is_followed_both_ways(centre, pair, start, span, within):
    a, turn, b, between = pair
    major = a * np.array((np.cos(turn), np.sin(turn)))
    minor = b * np.array((np.cos(turn + between), np.sin(turn + between)))
    edges = ellipse_edges(centre, major, minor, start, start + span, within)
    t = start + span * np.linspace(0, 1, 501)[:, None]
    path = centre + np.cos(t) * major + np.sin(t) * minor
    assert off_edges(path, edges) <= within
    assert off_points(edges, path) <= within + spacing_of(path)
    assert is_chain(edges)
    np.testing.assert_allclose(edges.start[0], path[0], atol=1e-12)
    np.testing.assert_allclose(edges.end[-1], path[-1], atol=1e-4 if span > 6.28 else 1e-12)


@quick
@given(
    arrays(float, (4, 2), elements=st.floats(-3, 3)),
    arrays(float, 4, elements=st.floats(0.01, 100)),
    tolerance,
)
def test_any_rational_cubic_piece_is_followed_both_ways(control, weights, within):
    edges = spline_edges(3, control, None, weights, False, within)
    assume(len(edges) > 0)
    t = np.linspace(0, 1, 501)[:, None]
    basis = np.hstack(((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)) * weights
    path = basis @ control / basis.sum(axis=1, keepdims=True)
    assert off_edges(path, edges) <= within
    assert off_points(edges, path) <= within + spacing_of(path)
    assert is_chain(edges)
    np.testing.assert_array_equal(edges.start[0], control[0])
    np.testing.assert_array_equal(edges.end[-1], control[-1])


@quick
@given(st.integers(3, 12), st.integers(0, 2**32 - 1), st.booleans())
def test_a_spline_through_fit_points_meets_them(count, seed, closed):
    points = np.random.default_rng(seed).uniform(-2, 2, (count, 2))
    edges = fit_point_spline_edges(points, closed, TOLERANCE)
    assert off_edges(points, edges) <= TOLERANCE
    assert is_chain(edges)
    assert np.array_equal(edges.end[-1], edges.start[0]) == closed


@quick
@given(
    arrays(float, (5, 2), elements=st.floats(-5, 5).map(lambda v: round(v, 2))),
    arrays(float, 5, elements=st.floats(-2, 2).map(lambda v: round(v, 2))),
    st.booleans(),
)
def test_each_arc_of_a_polyline_runs_from_vertex_to_vertex(points, bulges, closed):
    edges = bulge_edges(points, bulges, closed)
    assert is_chain(edges)
    np.testing.assert_allclose(edges.points_at(1.0), edges.end, atol=1e-9)
    chord = np.hypot(*(edges.end - edges.start).T)
    assert np.all(chord > 0)
    # an arc of this sweep over this chord has one length only
    half = np.where(edges.is_arc, edges.sweep, 1.0) / 2
    expected = np.where(edges.is_arc, chord * half / np.sin(half), chord)
    np.testing.assert_allclose(edges.lengths(), expected)


@quick
@given(
    arrays(float, (4, 2), elements=st.floats(-5, 5).map(lambda v: round(v, 2))),
    arrays(float, 4, elements=st.floats(-1.5, 1.5).map(lambda v: round(v, 2))),
    st.tuples(angle, st.floats(0.3, 3), st.floats(0.3, 3), st.floats(-1, 1)),
    st.sampled_from([1, -1]),
    point,
)
def test_edges_go_where_their_points_go(points, bulges, move, mirror, shift):
    edges = bulge_edges(points, bulges, True)
    matrix = matrix_of(*move) @ np.diag((1, mirror))
    moved = affine_edges(edges, matrix, shift, TOLERANCE)
    assume(len(edges) > 0)
    own = np.concatenate([edges.points_at(s) for s in np.linspace(0, 1, 33)])
    assert off_edges(own @ matrix.T + shift, moved) <= TOLERANCE
    assert is_chain(moved)
    np.testing.assert_array_equal(moved.end[-1], moved.start[0])


@quick
@given(
    arrays(float, (4, 2), elements=st.floats(-5, 5).map(lambda v: round(v, 2))),
    arrays(float, 4, elements=st.floats(-1.5, 1.5).map(lambda v: round(v, 2))),
    angle,
    st.floats(0.1, 30),
    st.sampled_from([1, -1]),
    point,
)
def test_a_move_of_equal_scale_and_its_return_change_nothing(
    points, bulges, turn, scale, mirror, shift
):
    edges = bulge_edges(points, bulges, True)
    matrix = matrix_of(turn, scale, scale, 0.0) @ np.diag((1, mirror))
    there = affine_edges(edges, matrix, shift, TOLERANCE)
    inverse = np.linalg.inv(matrix)
    back = affine_edges(there, inverse, -inverse @ shift, TOLERANCE)
    np.testing.assert_allclose(there.lengths(), scale * edges.lengths(), rtol=1e-9)
    np.testing.assert_array_equal(back.sweep, edges.sweep)
    for share in (0.0, 0.4, 1.0):
        np.testing.assert_allclose(back.points_at(share), edges.points_at(share), atol=1e-7)


# circles -----------------------------------------------------------------------------------


@quick
@given(point, radius, st.integers(8, 128), angle)
def test_every_regular_polygon_gives_back_its_circle(centre, size, count, phase):
    found = circle_of_loop(polygon_edges(round_points(centre, size, count, phase)), TOLERANCE)
    assert found is not None
    assert np.hypot(*(found.centre - centre)) < 1e-9
    assert abs(found.radius - size) < 1e-9
    assert found.drawn_as == f"polygon of {count} corners"


@quick
@given(point, radius, st.integers(8, 64), angle, st.integers(4, 6))
def test_every_rounded_polygon_gives_back_its_circle(centre, size, count, phase, digits):
    corners = np.round(round_points(centre, size, count, phase), digits)
    assume(len(np.unique(corners, axis=0)) == count)
    found = circle_of_loop(polygon_edges(corners), TOLERANCE)
    assert found is not None
    most = 0.5 * 10.0**-digits * np.sqrt(2)
    assert np.hypot(*(found.centre - centre)) <= most
    assert abs(found.radius - size) <= most


@quick
@given(
    point,
    radius,
    st.lists(st.floats(0.05, 1.0), min_size=2, max_size=6),
    angle,
    st.sampled_from([1, -1]),
)
def test_arcs_of_any_lengths_round_one_circle_give_it_back(centre, size, shares, phase, sense):
    sweep = np.array(shares) / sum(shares) * FULL
    assume(sweep.max() < 6)
    begin = phase + sense * np.append(0.0, np.cumsum(sweep[:-1]))
    points = centre + size * np.column_stack((np.cos(begin), np.sin(begin)))
    found = circle_of_loop(bulge_edges(points, sense * np.tan(sweep / 4), True), TOLERANCE)
    assert found is not None
    assert np.hypot(*(found.centre - centre)) < 1e-9
    assert abs(found.radius - size) < 1e-9
    assert found.drawn_as == ("two arcs" if len(shares) == 2 else "arcs")


@quick
@given(point, radius, angle, st.floats(-0.9, 0.9))
def test_a_nearly_round_ellipse_is_a_circle_if_its_axes_differ_by_less_than_the_tolerance(
    centre, size, turn, unequal
):
    off = unequal * TOLERANCE
    major = (size + off) * np.array((np.cos(turn), np.sin(turn)))
    minor = (size - off) * np.array((-np.sin(turn), np.cos(turn)))
    found = circle_of_loop(ellipse_edges(centre, major, minor, 0, FULL, 1e-6), TOLERANCE)
    assert found is not None
    assert np.hypot(*(found.centre - centre)) < 5e-6
    assert abs(found.radius - size) < 5e-6


@quick
@given(point, radius, angle, st.floats(1.1, 50), st.sampled_from([1, -1]))
def test_an_ellipse_whose_axes_differ_by_more_is_none(centre, size, turn, unequal, sense):
    off = unequal * TOLERANCE
    assume(off < size / 2)
    major = (size + off) * np.array((np.cos(turn), np.sin(turn)))
    minor = sense * (size - off) * np.array((-np.sin(turn), np.cos(turn)))
    edges = ellipse_edges(centre, major, minor, 0, FULL, 1e-6)
    assert circle_of_loop(edges, TOLERANCE) is None


@quick
@given(point, radius, st.integers(8, 64), angle, st.integers(0, 63), st.floats(1.2, 20))
def test_a_polygon_with_one_corner_out_of_place_is_none(centre, size, count, phase, which, out):
    corners = round_points(centre, size, count, phase)
    # one corner pulls the fit after it by 3 / count of its way, at most
    pull = out * TOLERANCE / (1 - 3 / count)
    corners[which % count] += pull * (corners[which % count] - centre) / size
    assert circle_of_loop(polygon_edges(corners), TOLERANCE) is None


@quick
@given(point, radius, st.integers(8, 23), angle, st.integers(0, 63), st.floats(0.1, 0.9))
def test_a_polygon_of_few_corners_with_one_slid_along_the_circle_is_none(
    centre, size, count, phase, which, slide
):
    angles = phase + np.arange(count) / count * FULL
    angles[which % count] += slide * FULL / count
    corners = centre + size * np.column_stack((np.cos(angles), np.sin(angles)))
    assert circle_of_loop(polygon_edges(corners), TOLERANCE) is None


@quick
@given(st.lists(st.tuples(point, radius, st.integers(3, 40), angle), min_size=1, max_size=12))
def test_many_loops_are_judged_as_each_alone(rows):
    loops = [polygon_edges(round_points(*row)) for row in rows]
    loops += [circle_edges(centre[None], np.array([size])) for centre, size, *_ in rows]
    found = circles_of_loops(loops, TOLERANCE)
    assert [c is not None for c in found] == [n >= 8 for _, _, n, _ in rows] + [True] * len(rows)
    assert found == [circle_of_loop(loop, TOLERANCE) for loop in loops]


@quick
@given(point, radius, st.integers(3, 40), angle, point)
def test_a_fit_moves_with_its_points(centre, size, count, phase, shift):
    points = round_points(centre, size, count, phase)
    (x, y), found, _ = fit_circle(points)
    (moved_x, moved_y), moved, residual = fit_circle(points + 1000 * shift)
    assert np.hypot(moved_x - x - 1000 * shift[0], moved_y - y - 1000 * shift[1]) < 1e-8
    assert abs(found - size) < 1e-11
    assert abs(moved - size) < 1e-8
    assert residual < 1e-8
