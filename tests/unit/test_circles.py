"""Circles are recognised however they are drawn, and nothing else is taken for one."""

import numpy as np
import pytest

from holeschedule.errors import GeometryError
from holeschedule.geometry.circles import (
    SAME,
    FittedCircle,
    angles_between,
    arcs_between,
    biarcs,
    circles_of_loops,
    distances_from,
    fit_circle,
    joined_alike,
    lengths_of,
)
from holeschedule.geometry.curves import (
    bulge_edges,
    ellipse_edges,
    fit_point_spline_edges,
    spline_edges,
)
from holeschedule.geometry.edges import (
    arc_edges,
    circle_edges,
    join_edges,
    line_edges,
    no_edges,
    polygon_edges,
)

TOLERANCE = 1e-4
FULL = 2 * np.pi
CENTRE = np.array([4.25, 0.31])
RADIUS = 0.049


def circle_of_loop(edges, tolerance):
    return circles_of_loops([edges], tolerance)[0]


def corners_of(count, radius=RADIUS, centre=CENTRE, phase=0.1):
    angle = phase + np.arange(count) / count * FULL
    return centre + radius * np.column_stack((np.cos(angle), np.sin(angle)))


def polygon(*args, **kwargs):
    return polygon_edges(corners_of(*args, **kwargs))


def arcs(*sweeps, radius=RADIUS, start=0.3):
    """Arcs of one circle, one after the other."""
    begins = start + np.cumsum((0.0, *sweeps[:-1]))
    n = len(sweeps)
    return arc_edges(np.tile(CENTRE, (n, 1)), np.full(n, radius), begins, np.array(sweeps))


def assert_is_the_circle(found, drawn_as, *, within=1e-12):
    assert isinstance(found, FittedCircle)
    assert found.drawn_as == drawn_as
    assert found.centre == pytest.approx(tuple(CENTRE), abs=within)
    assert found.radius == pytest.approx(RADIUS, abs=within)


# circles -----------------------------------------------------------------------------------


def test_one_full_arc_is_a_circle_to_the_last_digit():
    found = circle_of_loop(circle_edges(CENTRE[None], np.array([RADIUS])), TOLERANCE)
    assert_is_the_circle(found, "circle", within=0.0)
    assert found.residual < 1e-15


@pytest.mark.parametrize(
    ("sweeps", "drawn_as"),
    [
        ((np.pi, np.pi), "two arcs"),
        ((-np.pi, -np.pi), "two arcs"),
        ((0.02, FULL - 0.02), "two arcs"),
        ((FULL / 3,) * 3, "arcs"),
        ((1.0, 0.01, 2.0, FULL - 3.01), "arcs"),
    ],
)
def test_arcs_of_one_circle_all_the_way_round_are_a_circle(sweeps, drawn_as):
    assert_is_the_circle(circle_of_loop(arcs(*sweeps), TOLERANCE), drawn_as)


def test_a_closed_polyline_of_two_bulges_is_a_circle():
    points = CENTRE + np.array([(-RADIUS, 0), (RADIUS, 0)])
    found = circle_of_loop(bulge_edges(points, np.ones(2), True), TOLERANCE)
    assert_is_the_circle(found, "two arcs")


@pytest.mark.parametrize("count", [8, 12, 16, 32, 64, 128, 360])
def test_a_regular_polygon_is_the_circle_through_its_corners(count):
    found = circle_of_loop(polygon(count), TOLERANCE)
    assert_is_the_circle(found, f"polygon of {count} corners")
    assert found.residual < 1e-14


@pytest.mark.parametrize("count", [8, 32, 64, 128])
@pytest.mark.parametrize("digits", [4, 5, 6])
def test_corners_rounded_by_the_exporter_are_still_a_circle(count, digits):
    for phase in np.linspace(0, 1, 25):
        drawn = polygon_edges(np.round(corners_of(count, phase=phase), digits))
        found = circle_of_loop(drawn, TOLERANCE)
        # a corner moves by half a digit each way, at most
        most = 0.5 * 10.0**-digits * np.sqrt(2)
        assert_is_the_circle(found, f"polygon of {count} corners", within=most)
        assert found.residual <= 2 * most


def test_corners_so_close_that_rounding_is_a_good_part_of_their_steps_are_still_a_circle():
    uneven = 0.0
    for phase in np.linspace(0, 1, 25):
        corners = np.round(corners_of(180, phase=phase), 4)
        side = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
        uneven = max(uneven, side.max() / side.mean() - 1)
        found = circle_of_loop(polygon_edges(corners), TOLERANCE)
        assert_is_the_circle(found, "polygon of 180 corners", within=1e-4)
    assert uneven > 0.05


def test_rounded_corners_give_the_circle_of_least_squares():
    corners = np.round(corners_of(9), 4)
    found = circle_of_loop(polygon_edges(corners), TOLERANCE)
    centre, radius, residual = fit_circle(corners)
    assert found.centre == pytest.approx(centre, abs=1e-14)
    assert found.radius == pytest.approx(radius, abs=1e-14)
    assert found.residual == pytest.approx(residual, abs=1e-14)


def test_direction_of_drawing_makes_no_difference():
    for loop in (polygon(16), arcs(np.pi, np.pi), ellipse_edges(*near_circle(), 0, FULL, 1e-6)):
        back = loop.take(slice(None, None, -1)).reversed_where(np.ones(len(loop), bool))
        one, other = circle_of_loop(loop, TOLERANCE), circle_of_loop(back, TOLERANCE)
        assert one.drawn_as == other.drawn_as
        assert one.centre == pytest.approx(other.centre, abs=1e-12)
        assert one.radius == pytest.approx(other.radius, abs=1e-12)


def near_circle(unequal=5e-5):
    return CENTRE, np.array((RADIUS + unequal, 0)), np.array((0, RADIUS - unequal))


def test_an_ellipse_of_nearly_equal_axes_is_a_circle_of_the_mean_radius():
    found = circle_of_loop(ellipse_edges(*near_circle(), 0, FULL, 1e-6), TOLERANCE)
    assert_is_the_circle(found, "closed curve", within=2e-6)
    assert found.residual == pytest.approx(5e-5, abs=2e-6)


def test_a_spline_of_four_cubic_pieces_round_a_circle_is_a_circle():
    k = 0.5522847498  # the usual handle length, which errs by 0.03 % of the radius
    quarter = np.array([(1, 0), (1, k), (k, 1)])
    turns = [np.array([(c, -s), (s, c)]) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))]
    control = np.vstack([quarter @ turn.T for turn in turns] + [quarter[:1]])
    knots = np.repeat(np.arange(5.0), (4, 3, 3, 3, 4))
    edges = spline_edges(3, CENTRE + RADIUS * control, knots, None, True, 1e-6)
    found = circle_of_loop(edges, TOLERANCE)
    assert found.centre == pytest.approx(tuple(CENTRE), abs=1e-7)
    assert found.radius == pytest.approx(RADIUS, rel=3e-4)


def test_a_smooth_curve_through_points_of_a_circle_is_a_circle():
    edges = fit_point_spline_edges(corners_of(12), True, 1e-6)
    found = circle_of_loop(edges, TOLERANCE)
    assert found.centre == pytest.approx(tuple(CENTRE), abs=1e-6)
    assert found.radius == pytest.approx(RADIUS, abs=1e-5)


def test_a_short_line_that_closes_a_curve_does_not_hide_the_circle():
    open_circle = arcs(FULL - 5e-4)
    loop = join_edges([open_circle, line_edges(open_circle.end, open_circle.start)])
    assert_is_the_circle(circle_of_loop(loop, TOLERANCE), "closed curve", within=1e-6)


def test_circles_far_from_the_origin_keep_their_radius():
    far = np.array([1e6, -3e6])
    found = circle_of_loop(polygon(32, centre=far), TOLERANCE)
    assert found.centre == pytest.approx(tuple(far), abs=1e-9)
    assert found.radius == pytest.approx(RADIUS, abs=1e-9)


# not circles -------------------------------------------------------------------------------


def slot(length=0.02):
    return bulge_edges(
        np.array([(0, 0), (length, 0), (length, 0.1), (0, 0.1)]), np.array([0, 1.0, 0, 1.0]), True
    )


def d_shape():
    return bulge_edges(corners_of(2), np.array([0, 1.0]), True)


def rounded_square(side=0.1, corner=0.03):
    a, b = side / 2, side / 2 - corner
    points = [(a, -b), (a, b), (b, a), (-b, a), (-a, b), (-a, -b), (-b, -a), (b, -a)]
    return bulge_edges(np.array(points), np.array([0, np.tan(np.pi / 8)] * 4), True)


def star(points=8):
    radius = np.where(np.arange(2 * points) % 2, 0.03, 0.06)
    angle = np.arange(2 * points) / (2 * points) * FULL
    return polygon_edges(radius[:, None] * np.column_stack((np.cos(angle), np.sin(angle))))


def corners_at(angles, radius=RADIUS):
    return polygon_edges(radius * np.column_stack((np.cos(angles), np.sin(angles))))


NOT_CIRCLES = {
    "nothing": no_edges(),
    "a line": line_edges(np.zeros((1, 2)), np.ones((1, 2))),
    "there and back": polygon_edges(np.array([(0.0, 0.0), (1.0, 0.0)])),
    "a back and forth of many corners": polygon_edges(
        np.column_stack((np.arange(10.0), np.zeros(10)))
    ),
    "a square": polygon(4),
    "a nut": polygon(6),
    "seven corners": polygon(7),
    "a rectangle of many corners": polygon_edges(
        np.array([(x, 0.0) for x in range(5)] + [(x, 1.0) for x in range(4, -1, -1)])
    ),
    "a slot": slot(),
    "a short slot": slot(0.001),
    "a D": d_shape(),
    "a rounded square": rounded_square(),
    "a rounded square, nearly round": rounded_square(corner=0.045),
    "a star of two radii": star(),
    "a star of one radius": corners_at(np.arange(9) * 4 / 9 * FULL),
    "twice round": corners_at(np.arange(16) / 8 * FULL),
    "corners out of order": corners_at(np.array([0, 2, 1, 3, 4, 5, 6, 7, 8, 9]) / 10 * FULL),
    "unequal steps": corners_at(np.array([0, 0.2, 0.6, 1.2, 2, 2.9, 3.3, 3.5, 4.4, 5.2, 5.9, 6.1])),
    "half the corners": corners_at(np.arange(17) / 32 * FULL),
    "one corner left out": corners_at(np.arange(31) / 32 * FULL),
    "an ellipse": ellipse_edges(CENTRE, (0.05, 0), (0, 0.04), 0, FULL, 1e-6),
    "an ellipse of corners": polygon_edges(corners_of(32, centre=np.zeros(2)) * (1, 0.9)),
    "an open arc": arcs(5.0),
    "arcs that stop short": arcs(np.pi, np.pi - 0.1),
    "arcs twice round": arcs(np.pi, np.pi, np.pi, np.pi),
    "one arc there and back": arcs(np.pi, -np.pi),
    "a lens": bulge_edges(corners_of(2), np.array([0.5, 0.5]), True),
    "half arcs of two radii": bulge_edges(corners_of(2), np.array([1.0, 0.9]), True),
}


@pytest.mark.parametrize("name", NOT_CIRCLES)
def test_this_is_not_a_circle(name):
    assert circle_of_loop(NOT_CIRCLES[name], TOLERANCE) is None


@pytest.mark.parametrize("name", ["a square", "a slot", "a D", "a rounded square", "a lens"])
def test_a_tolerance_as_large_as_the_shape_makes_no_circle_of_it(name):
    assert circle_of_loop(NOT_CIRCLES[name], 1.0) is None


def test_a_corner_is_allowed_to_be_off_by_the_tolerance_and_no_more():
    # every other corner in, every other out: the circle lies between, off by half each way
    for off, found in ((0.99e-4, True), (1.01e-4, False)):
        radius = RADIUS + off * np.where(np.arange(32) % 2, 1, -1)
        loop = polygon_edges(CENTRE + radius[:, None] * (corners_of(32) - CENTRE) / RADIUS)
        assert (circle_of_loop(loop, TOLERANCE) is not None) == found


@pytest.mark.parametrize(("corners", "allowed"), [(16, 0.05), (57, 0.25)])
def test_steps_may_differ_by_a_twentieth_and_of_many_corners_by_a_quarter(corners, allowed):
    for share, found in ((allowed - 0.001, True), (allowed + 0.001, False)):
        step = FULL / corners
        steps = np.full(corners, step)
        # one corner closer by the share, the next farther: the mean is unchanged
        steps[3], steps[4] = step * (1 - share), step * (1 + share)
        assert (circle_of_loop(corners_at(np.cumsum(steps)), TOLERANCE) is not None) == found


@pytest.mark.parametrize(
    ("bulge", "drawn_as"), [(0.999, "two arcs"), (0.996, "two arcs"), (0.99, None)]
)
def test_half_arcs_may_miss_a_common_centre_by_the_tolerance(bulge, drawn_as):
    # the centres lie 2 · 0.049 · (1 − bulge) / 2 apart, the mean half way
    loop = bulge_edges(corners_of(2), np.array([1.0, bulge]), True)
    found = circle_of_loop(loop, TOLERANCE)
    assert (found and found.drawn_as) == drawn_as


@pytest.mark.parametrize(("gap", "found"), [(0.9e-4, True), (1.1e-4, False)])
def test_a_loop_closes_within_the_tolerance(gap, found):
    loop = arcs(FULL - gap / RADIUS)
    assert (circle_of_loop(loop, TOLERANCE) is not None) == found


# many loops --------------------------------------------------------------------------------


def test_many_loops_are_judged_as_each_alone_in_their_order():
    loops = [
        *NOT_CIRCLES.values(),
        polygon(32),
        arcs(np.pi, np.pi),
        circle_edges(CENTRE[None], np.ones(1)),
    ]
    loops = [loop for pair in zip(loops, loops[::-1], strict=True) for loop in pair]
    assert circles_of_loops(loops, TOLERANCE) == [circle_of_loop(x, TOLERANCE) for x in loops]


def test_no_loops_give_no_circles():
    assert circles_of_loops([], TOLERANCE) == []
    assert circles_of_loops([no_edges()] * 2, TOLERANCE) == [None, None]


def test_a_loop_that_is_not_finite_is_refused():
    loop = polygon(8)
    loop.start[3, 1] = np.nan
    with pytest.raises(GeometryError) as error:
        circles_of_loops([polygon(9), loop], TOLERANCE)
    assert str(error.value) == (
        "circles: a value is nan; expected finite numbers below 1e+50. Redraw it"
    )


@pytest.mark.parametrize("tolerance", [0.0, -1.0, float("nan"), float("inf")])
def test_a_tolerance_that_is_not_above_0_is_refused(tolerance):
    with pytest.raises(GeometryError) as error:
        circle_of_loop(polygon(8), tolerance)
    assert str(error.value) == (
        f"circles: the tolerance is {tolerance}; expected one above 0. Raise it"
    )


# fitting -----------------------------------------------------------------------------------


def test_a_circle_through_three_points_passes_through_them():
    centre, radius, residual = fit_circle(np.array([(5, 3), (3, 5), (1, 3)], float))
    assert centre == pytest.approx((3, 3))
    assert radius == pytest.approx(2)
    assert residual < 1e-14


def test_a_fit_balances_points_inside_and_outside():
    points = corners_of(16, radius=1.0, centre=np.array([1e5, 1e5]))
    points = 1e5 + (points - 1e5) * np.where(np.arange(16) % 2, 1.01, 0.99)[:, None]
    centre, radius, residual = fit_circle(points)
    assert centre == pytest.approx((1e5, 1e5), abs=1e-9)
    assert radius == pytest.approx(1.0, abs=1e-9)
    assert residual == pytest.approx(0.01, abs=1e-9)


@pytest.mark.parametrize(
    ("points", "message"),
    [
        (
            [(0, 0), (1, 1)],
            "circle: it has 2 points; expected 3 or more. Redraw it as a circle",
        ),
        (
            [(0, 0), (1, 1), (2, 2), (7, 7)],
            "circle: its 4 points lie in a line; expected points round a circle. "
            "Redraw it as a circle",
        ),
        (
            [(2, 2)] * 5,
            "circle: its 5 points lie in a line; expected points round a circle. "
            "Redraw it as a circle",
        ),
        (
            [(0, 0), (1, np.inf), (2, 0)],
            "circle: a value is inf; expected finite numbers below 1e+50. Redraw it",
        ),
    ],
)
def test_points_without_a_circle_are_refused(points, message):
    with pytest.raises(GeometryError) as error:
        fit_circle(np.array(points, float))
    assert str(error.value) == message


# arcs --------------------------------------------------------------------------------------


def test_lengths_and_turns_of_directions():
    a = np.array([[(3.0, 4.0), (1.0, 0.0)], [(0.0, 1.0), (-1.0, 0.0)]])
    assert lengths_of(a).tolist() == [[5, 1], [1, 1]]
    turns = angles_between(np.array([(1.0, 0.0)] * 3), np.array([(0, 2.0), (1, -1.0), (-1.0, 0)]))
    np.testing.assert_allclose(turns, (np.pi / 2, -np.pi / 4, np.pi))


@pytest.mark.parametrize("turn", [0.1, -1.0, np.pi, -3.0, 5.0])
def test_an_arc_between_two_points_turns_as_told_and_ends_there(turn):
    start, end = np.array([(1.0, 2.0)]), np.array([(3.0, -1.0)])
    arc = arcs_between(start, end, np.array([turn]), 1e-6)
    np.testing.assert_allclose(arc.points_at(1.0), end, atol=1e-13)
    assert arc.sweep[0] == turn
    assert lengths_of(start - arc.centre)[0] == pytest.approx(arc.radius[0])


@pytest.mark.parametrize(("turn", "is_arc"), [(1e-6, False), (1.1e-6, True), (-1e-6, False)])
def test_an_arc_that_turns_no_more_than_the_limit_is_a_line(turn, is_arc):
    arc = arcs_between(np.zeros((1, 2)), np.ones((1, 2)), np.array([turn]), 1e-6)
    assert arc.is_arc.tolist() == [is_arc]


@pytest.mark.parametrize("arriving", [0.3, 1.5, -0.8, -2.0])
def test_touching_arcs_leave_arrive_and_meet_without_a_corner(arriving):
    leaving = np.array([(np.cos(0.6), np.sin(0.6))])
    last = np.array([(np.cos(arriving), np.sin(arriving))])
    head, tail = biarcs(np.zeros((1, 2)), leaving, np.array([(2.0, 0.5)]), last, 1e-6)

    def direction(edges, share):
        radial = edges.points_at(share) - edges.centre
        return np.sign(edges.sweep) * np.array([-radial[0, 1], radial[0, 0]]) / edges.radius

    np.testing.assert_array_equal(head.end, tail.start)
    np.testing.assert_allclose(direction(head, 0), leaving[0], atol=1e-12)
    np.testing.assert_allclose(direction(head, 1), direction(tail, 0), atol=1e-12)
    np.testing.assert_allclose(direction(tail, 1), last[0], atol=1e-12)


def test_neighbours_on_one_line_or_circle_become_one_edge():
    corner = line_edges(np.array([(0, 0), (1, 0), (2, 0.0)]), np.array([(1, 0), (2, 0), (2, 1.0)]))
    joined = joined_alike(corner)
    np.testing.assert_array_equal(joined.start, [(0, 0), (2, 0)])
    np.testing.assert_array_equal(joined.end, [(2, 0), (2, 1)])
    arc = joined_alike(
        bulge_edges(np.array([(0, 0), (1, 1), (2, 0.0)]), np.full(3, np.tan(np.pi / 8)), False)
    )
    assert len(arc) == 2
    quarters = arcs(1.0, 0.5, 0.25)
    whole = joined_alike(quarters)
    assert whole.sweep.tolist() == [1.75]
    np.testing.assert_array_equal(whole.end, quarters.end[-1:])


def test_neighbours_that_do_not_touch_stay_apart():
    lines = line_edges(np.array([(0, 0), (2.0, 0)]), np.array([(1, 0), (3.0, 0)]))
    assert len(joined_alike(lines)) == 2


@pytest.mark.parametrize(("share", "count"), [(0.9, 1), (1.1, 2)])
def test_lines_are_one_when_they_turn_by_rounding_only(share, count):
    ends = np.array([(1, 0), (2, share * SAME)])
    assert len(joined_alike(line_edges(np.array([(0, 0), (1, 0.0)]), ends))) == count


def test_arcs_that_go_round_more_than_once_stay_as_they_are():
    assert len(joined_alike(arcs(np.pi, np.pi, np.pi))) == 3
    assert len(joined_alike(no_edges())) == 0


def test_distances_from_lines_and_arcs_to_their_nearest_point_or_end():
    line = line_edges(np.array([(0.0, 0.0)]), np.array([(2.0, 0.0)]))
    half = arc_edges(np.zeros((1, 2)), np.ones(1), np.zeros(1), np.full(1, np.pi))
    points = np.array([[(1, 1), (-3, 4), (2, -2), (0.5, 0)]] * 2, float)
    found = distances_from(points, join_edges([line, half]))
    np.testing.assert_allclose(found[0], (1, 5, 2, 0))
    np.testing.assert_allclose(found[1], (np.sqrt(2) - 1, 4, np.sqrt(5), 0.5), atol=1e-15)
