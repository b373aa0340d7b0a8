"""Distances: closed forms, the cases at the edge of the definition, and refusals."""

import math
import re
import tracemalloc

import ezdxf
import numpy as np
import pytest

from holeschedule.errors import GeometryError
from holeschedule.geometry.distance import (
    edge_distances,
    nearest_holes,
    nearest_points,
    pairs_within,
)
from holeschedule.geometry.edges import (
    Edges,
    arc_edges,
    circle_edges,
    join_edges,
    line_edges,
    no_edges,
    polygon_edges,
)
from tests.benchmarks import panels

EXACT = 1e-9


def at(*places):
    return np.array(places, dtype=float).reshape(-1, 2)


def line(start, end):
    return line_edges(at(start), at(end))


def arc(centre, radius, first_degrees, sweep_degrees):
    return arc_edges(
        at(centre),
        np.array([float(radius)]),
        np.radians([float(first_degrees)]),
        np.radians([float(sweep_degrees)]),
    )


def circle(centre, radius):
    return circle_edges(at(centre), np.array([float(radius)]))


def measured(place, edges):
    return float(edge_distances(at(place), edges)[0][0])


def foot(place, edges, index=0):
    return nearest_points(at(place), edges, np.array([index]))[0].tolist()


# ---------------------------------------------------------------------------------------- lines


@pytest.mark.parametrize(
    ("place", "distance"),
    [
        ((1.0, 0.25), 0.25),  # above the middle
        ((1.0, -0.25), 0.25),  # below it
        ((1.0, 0.0), 0.0),  # on it
        ((0.0, 0.0), 0.0),  # on its start
        ((4.0, 0.0), 0.0),  # on its end
        ((4.0, 0.5), 0.5),  # square off the end
        ((7.0, 4.0), 5.0),  # beyond the end, a 3-4-5 triangle
        ((-3.0, -4.0), 5.0),  # before the start
    ],
)
def test_a_line_is_as_far_as_its_nearest_point(place, distance):
    assert measured(place, line((0, 0), (4, 0))) == distance


def test_a_slanting_line_is_measured_square_to_itself():
    # legs 3 and 4: the height on the side of 5 is 12/5
    assert measured((0, 0), line((3, 0), (0, 4))) == pytest.approx(2.4, abs=1e-15)


def test_a_line_of_no_length_is_a_point():
    nothing = line((1, 1), (1, 1))
    assert measured((4, 5), nothing) == 5
    assert measured((1, 1), nothing) == 0
    assert foot((4, 5), nothing) == [1, 1]


@pytest.mark.parametrize("length", [1e-160, 1e-110, 1e-12])
def test_a_line_of_next_to_no_length_is_a_point(length):
    assert measured((3, 4), line((0, 0), (length, 0))) == pytest.approx(5, abs=1e-11)


# ----------------------------------------------------------------------------------------- arcs


@pytest.mark.parametrize("sweep", [90, -90])
@pytest.mark.parametrize(
    ("place", "distance"),
    [
        ((0.6, 0.8), 0.0),  # on the arc, 3-4-5
        ((0.3, 0.4), 0.5),  # inside the circle
        ((1.5, 2.0), 1.5),  # outside it
        ((0.0, 0.0), 1.0),  # at the centre
        ((1.0, 0.0), 0.0),  # on one end
        ((0.0, 1.0), 0.0),  # on the other
        ((1.0, -1.0), 1.0),  # beyond one end, straight below it
        ((-2.0, 1.0), 2.0),  # beyond the other
        ((-1.0, -1.0), math.sqrt(5)),  # opposite: (1, 2) from either end
    ],
)
def test_a_quarter_arc_is_as_far_as_its_rim_or_its_nearer_end(place, distance, sweep):
    quarter = arc((0, 0), 1, 0 if sweep > 0 else 90, sweep)
    assert measured(place, quarter) == pytest.approx(distance, abs=1e-15)


@pytest.mark.parametrize("sweep", [270, -270])
@pytest.mark.parametrize(
    ("place", "distance"),
    [
        ((-0.6, 0.8), 0.0),  # on the rim
        ((-3.0, -4.0), 4.0),  # outside, where a quarter arc would not reach
        ((0.0, 0.0), 1.0),  # at the centre
        ((0.5, -0.5), math.sqrt(0.5)),  # in the mouth: (0.5, 0.5) from either end
        ((2.0, -1.0), math.sqrt(2)),  # in front of the mouth
        ((0.5, 0.0), 0.5),  # on the edge of the mouth
    ],
)
def test_an_arc_of_three_quarters_has_a_mouth(place, distance, sweep):
    wide = arc((0, 0), 1, 0 if sweep > 0 else 270, sweep)
    assert measured(place, wide) == pytest.approx(distance, abs=1e-15)


@pytest.mark.parametrize("sweep", [180, -180])
def test_half_a_circle_ends_at_its_diameter(sweep):
    half = arc((0, 0), 1, 0 if sweep > 0 else 180, sweep)
    assert measured((0.0, 3.0), half) == pytest.approx(2, abs=1e-15)
    assert measured((0.0, -1.0), half) == pytest.approx(math.sqrt(2), abs=1e-15)
    assert measured((2.5, 0.0), half) == pytest.approx(1.5, abs=1e-15)
    assert measured((0.0, 0.0), half) == 1


@pytest.mark.parametrize("angle", np.linspace(0, 2 * math.pi, 25))
@pytest.mark.parametrize("distance", [0.0, 1e-9, 0.4, 1.0, 1.7, 50.0])
def test_a_full_circle_has_no_mouth(angle, distance):
    place = distance * math.cos(angle), distance * math.sin(angle)
    assert measured(place, circle((0, 0), 1)) == pytest.approx(abs(distance - 1), abs=1e-14)


def test_a_full_circle_drawn_clockwise_is_the_same_circle():
    clockwise = arc_edges(at((0, 0)), np.array([1.0]), np.zeros(1), np.array([-2 * math.pi]))
    for place in ((-1.0, 0.0), (-0.25, 1e-17), (0.0, 0.0), (3.0, 0.0)):
        assert measured(place, clockwise) == abs(math.hypot(*place) - 1)


def test_a_full_circle_whose_end_is_rounded_past_its_start_has_no_gap_opposite():
    rounded = Edges(
        at((1, 0)), at((1, 2e-16)), at((0, 0)), np.array([1.0]), np.array([2 * math.pi])
    )
    assert measured((-2, -1e-16), rounded) == 1
    assert foot((-2, -1e-16), rounded) == pytest.approx([-1, 0], abs=1e-15)


@pytest.mark.parametrize("radius", [1e-11, 1e-6, 0.05, 1.0, 1e3, 1e6])
@pytest.mark.parametrize("sweep", [40, 180, 300, 360])
def test_radii_of_every_size_are_exact(radius, sweep):
    edge = arc((0, 0), radius, -sweep / 2, sweep)
    for distance in (0.0, 1e-9, 0.125, 2.0):
        assert measured((radius + distance, 0), edge) == pytest.approx(distance, abs=EXACT)
    assert measured((0.0, 0.0), edge) == pytest.approx(radius, abs=EXACT)


@pytest.mark.parametrize("radius", [1e4, 1e7, 1e10, 1e13])
def test_the_flattest_arc_is_exact_over_its_chord_and_beyond_its_ends(radius):
    """A chord of 10 in whose arc stands off by c²/8r in the middle."""
    half = math.asin(5 / radius)
    centre = at((0, -math.sqrt((radius - 5) * (radius + 5))))
    flat = Edges(at((5, 0)), at((-5, 0)), centre, np.array([radius]), np.array([2 * half]))
    rise = 25 / (radius + math.sqrt((radius - 5) * (radius + 5)))
    assert measured((0, 2), flat) == pytest.approx(2 - rise, abs=EXACT)
    assert measured((0, -2), flat) == pytest.approx(2 + rise, abs=EXACT)
    assert measured((5, 0), flat) == pytest.approx(0, abs=EXACT)
    assert measured((8, 4), flat) == pytest.approx(5, abs=EXACT)
    # |v| − r = (|v|² − r²) / (|v| + r), v from the centre, h = √(r² − 25) below the chord
    height = math.sqrt((radius - 5) * (radius + 5))
    closed = (4.9**2 + 2 * height + 1 - 25) / (math.hypot(4.9, height + 1) + radius)
    assert measured((4.9, 1), flat) == pytest.approx(closed, abs=EXACT)


def test_an_arc_that_turns_through_nothing_is_a_point():
    nothing = Edges(at((1, 0)), at((1, 0)), at((0, 0)), np.array([1.0]), np.array([0.0]))
    assert measured((-1, 0), nothing) == 2
    assert measured((1, 3), nothing) == 3
    assert foot((-1, 0), nothing) == [1, 0]


def test_an_arc_whose_ends_were_moved_to_close_a_gap_stays_on_its_circle():
    moved = Edges(
        at((1.001, 0)), at((0, 0.998)), at((0, 0)), np.array([1.0]), np.array([math.pi / 2])
    )
    assert measured((0.3, 0.4), moved) == pytest.approx(0.5, abs=1e-15)
    assert measured((1, -2), moved) == pytest.approx(2, abs=1e-15)


def test_an_arc_that_starts_at_its_centre_gives_a_number():
    odd = Edges(at((0, 0)), at((0, 1)), at((0, 0)), np.array([1.0]), np.array([math.pi / 2]))
    assert measured((0.6, 0.8), odd) == pytest.approx(0, abs=1e-15)


@pytest.mark.parametrize("shift", [(1e5, 1e5), (-1e5, 3e4)])
def test_far_from_the_origin_no_accuracy_is_lost(shift):
    x, y = shift
    edges = join_edges(
        [line((x, y), (x + 4, y)), arc((x, y + 2), 1, 10, 300), circle((x + 9, y), 0.5)]
    )
    assert measured((x + 1, y + 0.25), edges) == pytest.approx(0.25, abs=EXACT)
    assert measured((x, y + 2), edges) == pytest.approx(1, abs=EXACT)
    assert measured((x + 9, y), edges) == pytest.approx(0.5, abs=EXACT)
    assert measured((x - 3, y + 6), edges) == pytest.approx(4, abs=EXACT)


# ------------------------------------------------------------------------ shapes, closed forms


def test_a_slot_is_measured_to_its_sides_and_to_its_round_ends():
    """Length over all 3, width 1.5: sides at 0.75, ends of radius 0.75 about (±0.75, 0)."""
    edges = panels.slot(np.zeros(2), 3.0, 1.5)
    assert measured((0, 0), edges) == 0.75
    assert measured((0.5, 2), edges) == 1.25
    assert measured((2, 0), edges) == pytest.approx(0.5, abs=1e-15)
    # 3-4-5 from the middle of the round end
    assert measured((0.75 + 3, 4), edges) == pytest.approx(5 - 0.75, abs=1e-15)
    assert measured((0.75 + 0.3, 0.4), edges) == pytest.approx(0.75 - 0.5, abs=1e-15)


def test_a_rounded_corner_has_more_metal_off_than_a_square_one():
    """In a corner of radius r, a hole at (m, m) from the sides is r − √2 (r − m) from the arc."""
    edges = panels.rounded_rectangle((0, 0), (6, 4), 0.5)
    assert measured((0.375, 0.375), edges) == pytest.approx(0.5 - math.sqrt(2) * 0.125, abs=1e-15)
    assert measured((1.0, 0.375), edges) == 0.375


def test_a_scallop_is_nearest_at_the_cusp_from_inside_and_at_the_crown_from_outside():
    """Arcs of 120° over chords of a hexagon of radius 2: arc radius 2/√3 about √3 − 1/√3."""
    rim = panels.scalloped_rim(2.0, 6)
    crown = math.sqrt(3) - 1 / math.sqrt(3) + 2 / math.sqrt(3)
    towards = at((math.cos(math.pi / 6), math.sin(math.pi / 6)))[0]
    assert measured((0, 0), rim) == pytest.approx(2, abs=1e-14)
    assert measured(5 * towards, rim) == pytest.approx(5 - crown, abs=1e-14)
    assert measured((1.5, 0), rim) == pytest.approx(0.5, abs=1e-14)


def test_a_quarter_of_an_ellipse_drawn_as_many_arcs_is_met_at_its_ends_and_where_it_is_steepest():
    """Osculating arcs through points of x²/9 + y²/4 = 1; the distance from (0, y) is 2 − y."""
    t = np.linspace(0, math.pi / 2, 2001)
    spots = np.column_stack((3 * np.cos(t), 2 * np.sin(t)))
    edges = join_edges([_arc_through(*spots[i : i + 3]) for i in range(0, 2000, 2)])
    assert measured((0, 3.5), edges) == pytest.approx(1.5, abs=EXACT)
    assert measured((4.25, 0), edges) == pytest.approx(1.25, abs=EXACT)
    # along the normal (cos t / 3, sin t / 2) at t = 45°, outward by 1
    normal = at((1 / 3, 1 / 2))[0] / math.hypot(1 / 3, 1 / 2)
    on = at((3 * math.sqrt(0.5), 2 * math.sqrt(0.5)))[0]
    assert measured(on + normal, edges) == pytest.approx(1, abs=EXACT)


def _arc_through(a, b, c):
    """The arc from a by b to c, by the circle about the triangle."""
    (ax, ay), (bx, by) = a - c, b - c
    twice = 2 * (ax * by - ay * bx)
    aa, bb = ax * ax + ay * ay, bx * bx + by * by
    centre = c + np.array([(by * aa - ay * bb) / twice, (ax * bb - bx * aa) / twice])
    radius = math.dist(a, centre)
    first, last = (math.atan2(*(p - centre)[::-1]) for p in (a, c))
    return Edges(at(a), at(c), at(centre), np.array([radius]), np.array([last - first]))


# ------------------------------------------------------------------------------------- the edge


def test_the_index_names_the_nearest_edge():
    sheet = polygon_edges(at((0, 0), (4, 0), (4, 2), (0, 2)))
    _, index = edge_distances(at((2, 0.1), (3.9, 1), (2, 1.9), (0.1, 1)), sheet)
    assert index.tolist() == [0, 1, 2, 3]


def test_of_edges_equally_near_the_first_is_named():
    sheet = polygon_edges(at((0, 0), (2, 0), (2, 2), (0, 2)))
    assert edge_distances(at((1, 1), (2, 2), (1.75, 1.75)), sheet)[1].tolist() == [0, 1, 1]


@pytest.mark.parametrize(("beyond", "named"), [(0.9e-9, 0), (1.1e-9, 1)])
def test_edges_tie_within_the_slack_and_no_farther(beyond, named):
    edges = join_edges([line((0, -1 - beyond), (1, -1 - beyond)), line((0, 1), (1, 1))])
    distance, index = edge_distances(at((0.5, 0)), edges)
    assert (distance[0], index[0]) == (1.0, named)


def test_of_two_equal_edges_the_first_is_named_in_a_large_panel():
    panel = panels.rivet_panel(500)
    twice = join_edges([panel.edges, panel.edges])
    once = edge_distances(panel.centres, panel.edges)
    distance, index = edge_distances(panel.centres, twice)
    assert distance.tolist() == once[0].tolist()
    assert index.tolist() == once[1].tolist()


def test_no_hole_has_no_distance():
    distance, index = edge_distances(np.zeros((0, 2)), circle((0, 0), 1))
    assert (distance.shape, index.shape) == ((0,), (0,))
    assert np.issubdtype(index.dtype, np.integer)
    assert nearest_points(np.zeros((0, 2)), circle((0, 0), 1), index).shape == (0, 2)


def test_the_nearest_point_lies_on_line_rim_or_end():
    edges = join_edges([line((0, 0), (4, 0)), arc((0, 0), 1, 0, 90), circle((5, 5), 2)])
    assert foot((1, 3), edges, 0) == [1, 0]
    assert foot((9, 3), edges, 0) == [4, 0]
    assert foot((3, 4), edges, 1) == pytest.approx([0.6, 0.8], abs=1e-15)
    assert foot((0.3, 0.4), edges, 1) == pytest.approx([0.6, 0.8], abs=1e-15)
    assert foot((1, -3), edges, 1) == pytest.approx([1, 0], abs=1e-15)
    assert foot((-3, 1), edges, 1) == pytest.approx([0, 1], abs=1e-15)
    assert foot((5, 9), edges, 2) == pytest.approx([5, 7], abs=1e-15)


def test_from_the_centre_of_an_arc_the_nearest_point_is_its_start():
    assert foot((0, 0), arc((0, 0), 1, 0, 90)) == [1, 0]
    assert foot((0, 0), arc((0, 0), 1, 90, -90)) == pytest.approx([1, 0], abs=1e-15)


# --------------------------------------------------------------------------------- hole to hole


def test_the_nearest_hole_of_a_row_is_the_neighbour():
    index, distance = nearest_holes(at((0, 0), (1, 0), (1.75, 0), (4, 0)))
    assert index.tolist() == [1, 2, 1, 2]
    assert distance.tolist() == [1, 0.75, 0.75, 2.25]


def test_of_holes_equally_near_the_first_is_named():
    index, _ = nearest_holes(at((2, 0), (1, 0), (0, 0), (1, 1)))
    assert index.tolist() == [1, 0, 1, 1]


def test_a_hole_alone_has_no_neighbour():
    index, distance = nearest_holes(at((3, 4)))
    assert (index.tolist(), distance.tolist()) == ([-1], [math.inf])
    assert [column.shape for column in nearest_holes(np.zeros((0, 2)))] == [(0,), (0,)]


def test_holes_on_one_spot_are_0_apart_and_name_each_other():
    index, distance = nearest_holes(at((5, 5), (1, 1), (5, 5), (5, 5), (2, 1)))
    assert index.tolist() == [2, 4, 0, 0, 1]
    assert distance.tolist() == [0, 1, 0, 0, 1]


def test_minus_0_and_0_are_one_spot():
    index, distance = nearest_holes(at((0.0, 3.0), (9, 9), (-0.0, 3.0)))
    assert (index.tolist(), distance.tolist()) == ([2, 0, 0], [0, math.hypot(9, 6), 0])


def test_ten_thousand_holes_on_one_spot_need_no_square_of_memory():
    centres = np.vstack((np.full((10_000, 2), 3.0), at((3, 4))))
    (index, distance), peak = _peak(lambda: nearest_holes(centres))
    assert index[[0, 1, 9999, 10_000]].tolist() == [1, 0, 0, 0]
    assert distance[[0, 9999, 10_000]].tolist() == [0, 0, 1]
    assert peak < 20e6


@pytest.mark.parametrize(("radius", "found"), [(0.999, 0), (1.0, 1), (1.001, 1)])
def test_a_pair_is_missed_within_or_exactly_at_the_radius(radius, found):
    first, second, distance = pairs_within(at((0, 0), (1, 0)), radius)
    assert len(first) == len(second) == len(distance) == found


@pytest.mark.parametrize(("spacing", "found"), [(0.75 + 0.9e-9, 1), (0.75 + 1.1e-9, 0)])
def test_a_pair_beyond_the_radius_by_rounding_is_within(spacing, found):
    assert len(pairs_within(at((0, 0), (spacing, 0)), 0.75)[0]) == found


def test_the_larger_radius_of_a_pair_counts_and_each_pair_is_told_once():
    first, second, distance = pairs_within(
        at((3, 0), (0, 0), (1, 0), (2, 0)), np.array([0.1, 2.0, 0.1, 1.0])
    )
    assert list(zip(first.tolist(), second.tolist(), strict=True)) == [
        (0, 3),
        (1, 2),
        (1, 3),
        (2, 3),
    ]
    assert distance.tolist() == [1, 1, 2, 1]


def test_no_hole_and_one_hole_make_no_pair():
    assert [len(column) for column in pairs_within(np.zeros((0, 2)), 1.0)] == [0, 0, 0]
    assert [len(column) for column in pairs_within(at((1, 1)), 1.0)] == [0, 0, 0]
    assert [len(column) for column in pairs_within(np.zeros((0, 2)), np.zeros(0))] == [0, 0, 0]


def test_a_negative_radius_finds_nothing():
    assert len(pairs_within(at((0, 0), (0, 0)), -1.0)[0]) == 0


# --------------------------------------------------------------------------------------- memory


def _peak(work):
    tracemalloc.start()
    try:
        result = work()
        return result, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("kind", ["rivet", "scalloped"])
def test_ten_thousand_holes_take_little_memory(kind):
    panel = panels.KINDS[kind](10_000)
    _, to_edges = _peak(lambda: edge_distances(panel.centres, panel.edges))
    _, to_holes = _peak(lambda: nearest_holes(panel.centres))
    assert to_edges < 30e6
    assert to_holes < 30e6


# --------------------------------------------------------------------------------------- errors


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, 1e308])
@pytest.mark.parametrize(
    "work",
    [
        lambda p: edge_distances(p, circle((0, 0), 1)),
        lambda p: nearest_points(p, circle((0, 0), 1), np.zeros(2, dtype=int)),
        nearest_holes,
        lambda p: pairs_within(p, 1.0),
    ],
)
def test_a_hole_that_is_nowhere_is_refused_by_number_and_position(work, bad):
    message = (
        f"hole centre 2 of 2 at (4.25, {bad:g}) in: not a finite number within 1e100; "
        "expected finite coordinates. Correct or delete it in the drawing."
    )
    with pytest.raises(GeometryError, match=f"^{re.escape(message)}$"):
        work(at((1, 2), (4.25, bad)))


@pytest.mark.parametrize("column", ["start", "end", "centre", "radius", "sweep"])
@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_an_edge_that_is_nowhere_is_refused_by_number(column, bad):
    good = join_edges([line((0, 0), (4, 0)), circle((1, 1), 1)])
    columns = {
        name: getattr(good, name).copy() for name in ("start", "end", "centre", "radius", "sweep")
    }
    columns[column][1] = bad
    with pytest.raises(GeometryError, match=r"^edge 2 of 2 from \(.*not a line or an arc"):
        edge_distances(at((0, 0)), Edges(**columns))


def test_a_negative_radius_of_an_edge_is_refused():
    odd = Edges(at((1, 0)), at((0, 1)), at((0, 0)), np.array([-1.0]), np.array([1.5]))
    message = (
        "edge 1 of 1 from (1, 0) in, radius -1 in, sweep 1.5 rad: not a line or an arc; expected "
        "finite numbers and a radius of 0 or more. Correct or delete it in the drawing."
    )
    with pytest.raises(GeometryError, match=f"^{re.escape(message)}$"):
        edge_distances(at((0, 0)), odd)


@pytest.mark.parametrize("centres", [np.zeros((0, 2)), np.zeros((1, 2))])
def test_no_edge_is_refused_rather_than_infinitely_far(centres):
    message = "no edges to measure to: the part has 0 lines and arcs; expected at least 1. "
    with pytest.raises(GeometryError, match=f"^{re.escape(message)}"):
        edge_distances(centres, no_edges())
    with pytest.raises(GeometryError, match=f"^{re.escape(message)}"):
        nearest_points(centres, no_edges(), np.zeros(len(centres), dtype=int))


@pytest.mark.parametrize("radius", [math.nan, math.inf, np.array([1.0, math.nan])])
def test_a_radius_that_is_no_length_is_refused(radius):
    with pytest.raises(
        GeometryError, match=r"^radius (nan|inf) in: not a length; expected a finite"
    ):
        pairs_within(at((0, 0), (1, 0)), radius)


def test_another_number_of_radii_than_of_holes_is_refused():
    with pytest.raises(
        GeometryError, match=r"^3 radii for 2 holes; expected one for all, or one each"
    ):
        pairs_within(at((0, 0), (1, 0)), np.ones(3))


# --------------------------------------------------------------- the panels of the benchmarks


@pytest.mark.parametrize("kind", sorted(panels.KINDS))
def test_a_panel_drawn_as_a_file_opens_without_repair_and_holds_what_it_should(kind, tmp_path):
    panel = panels.notched_panel(50, 80) if kind == "notched" else panels.KINDS[kind](50)
    panels.write_dxf(panel, tmp_path / "panel.dxf")
    drawing = ezdxf.readfile(tmp_path / "panel.dxf")
    audit = drawing.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    assert (drawing.dxfversion, drawing.header["$INSUNITS"]) == ("AC1015", 1)
    holes = [tuple(e.dxf.center)[:2] for e in drawing.modelspace() if e.dxf.layer == "HOLES"]
    assert holes == [tuple(c) for c in panel.centres.tolist()]
    outline = drawing.modelspace().query("LWPOLYLINE").first
    corners = panel.edges.take(panel.loops[0])
    assert [(x, y) for x, y, *_ in outline.get_points()] == [
        tuple(c) for c in corners.start.tolist()
    ]
    sweeps = [4 * math.atan(bulge) for *_, bulge in outline.get_points()]
    assert sweeps == pytest.approx(corners.sweep.tolist(), abs=1e-12)
    cutouts = drawing.modelspace().query('*[layer=="CUTOUTS"]')
    assert len(cutouts) == sum(loop.stop - loop.start for loop in panel.loops[1:])


@pytest.mark.parametrize("holes", [100, 1000, 12_345])
@pytest.mark.parametrize("kind", sorted(panels.KINDS))
def test_a_panel_has_the_holes_asked_for_and_closed_loops(kind, holes):
    panel = panels.KINDS[kind](holes)
    assert panel.centres.shape == (holes, 2)
    for loop in panel.loops:
        edges = panel.edges.take(loop)
        assert np.abs(edges.end - np.roll(edges.start, -1, axis=0)).max() < 1e-9
