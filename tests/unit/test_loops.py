"""Area, box and polygon of closed loops, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from holeschedule.geometry.edges import Edges, arc_edges, circle_edges, join_edges, line_edges
from holeschedule.geometry.loops import (
    POLYGON_SAG,
    Loop,
    chord_points,
    draw_polygons,
    edge_boxes,
    measure_loops,
    signed_area,
)
from tests.makers import edges_of


def polygon(corners) -> Edges:
    pairs = np.array(edges_of(corners), float)
    return line_edges(pairs[:, 0], pairs[:, 1])


def arc(x, y, radius, start, sweep) -> Edges:
    """An arc from `start` [deg] by `sweep` [deg]."""
    angles = np.radians([[start], [sweep]])
    return arc_edges(np.array([[x, y]], float), np.array([float(radius)]), *angles)


def slot(length: float, radius: float) -> Edges:
    """Two lines and two half circles, counter-clockwise, from (0, -radius)."""
    return join_edges(
        [
            line_edges(np.array([[0.0, -radius]]), np.array([[length, -radius]])),
            arc(length, 0, radius, -90, 180),
            line_edges(np.array([[length, radius]]), np.array([[0.0, radius]])),
            arc(0, 0, radius, 90, 180),
        ]
    )


def loop(edges: Edges) -> Loop:
    return Loop(edges, "0", "test")


def test_a_rectangle():
    assert signed_area(polygon([(0, 0), (4, 0), (4, 2), (0, 2)])) == 8.0
    assert signed_area(polygon([(0, 0), (0, 2), (4, 2), (4, 0)])) == -8.0


def test_no_edges_have_no_area():
    assert signed_area(slot(1, 1).take(slice(0, 0))) == 0.0


@pytest.mark.parametrize("radius", [0.049, 1.0, 60.0])
def test_a_circle_in_one_edge_and_in_two(radius):
    whole = circle_edges(np.array([[3.0, -2.0]]), np.array([radius]))
    halves = join_edges([arc(3, -2, radius, 10, 180), arc(3, -2, radius, 190, 180)])
    assert signed_area(whole) == pytest.approx(math.pi * radius**2, rel=1e-14)
    assert signed_area(halves) == pytest.approx(math.pi * radius**2, rel=1e-14)


@pytest.mark.parametrize(("length", "radius"), [(1.0, 0.125), (10.0, 0.5), (0.01, 2.0)])
def test_a_slot(length, radius):
    area = math.pi * radius**2 + 2 * length * radius
    assert signed_area(slot(length, radius)) == pytest.approx(area, rel=1e-12)
    assert loop(slot(length, radius)).box == pytest.approx(
        (-radius, -radius, length + radius, radius)
    )


def test_a_notch_that_bends_inwards_takes_area_away():
    edges = join_edges(
        [
            line_edges(np.array([[0.0, 0.0]]), np.array([[1.0, 0.0]])),
            arc(2, 0, 1, 180, -180),
            line_edges(
                np.array([[3.0, 0.0], [4.0, 0.0], [4.0, 2.0], [0.0, 2.0]]),
                np.array([[4.0, 0.0], [4.0, 2.0], [0.0, 2.0], [0.0, 0.0]]),
            ),
        ]
    )
    assert signed_area(edges) == pytest.approx(8 - math.pi / 2, rel=1e-13)


def test_area_is_as_exact_far_from_the_origin():
    far = polygon([(1e6, 1e6), (1e6 + 4, 1e6), (1e6 + 4, 1e6 + 2), (1e6, 1e6 + 2)])
    assert signed_area(far) == 8.0


# boxes ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "sweep", "box"),
    [
        (0, 90, (0, 0, 1, 1)),
        (-45, 90, (math.sqrt(0.5), -math.sqrt(0.5), 1, math.sqrt(0.5))),
        (45, -90, (math.sqrt(0.5), -math.sqrt(0.5), 1, math.sqrt(0.5))),
        (100, 160, (-1, -math.sin(math.radians(80)), math.cos(math.radians(100)), 0.984807753)),
        (0, 360, (-1, -1, 1, 1)),
        (30, -330, (-1, -1, 1, 1)),
    ],
)
def test_the_box_of_an_arc_holds_the_tips_it_passes(start, sweep, box):
    low, high = edge_boxes(arc(0, 0, 1, start, sweep))
    assert (*low[0], *high[0]) == pytest.approx(box, abs=1e-9)


# polygons ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("radius", [0.02, 0.5, 3.0, 6.0])
def test_chords_keep_to_the_sag(radius):
    points = chord_points(circle_edges(np.zeros((1, 2)), np.array([radius])), POLYGON_SAG)
    middles = (points + np.roll(points, -1, axis=0)) / 2
    assert np.hypot(*points.T) == pytest.approx(radius)
    assert (radius - np.hypot(*middles.T)).max() <= POLYGON_SAG * (1 + 1e-9)


def test_a_small_circle_has_eight_chords_all_the_same():
    assert len(chord_points(circle_edges(np.zeros((1, 2)), np.array([1e-4])), POLYGON_SAG)) == 8


def test_the_polygon_of_a_slot_has_its_area_to_the_sag():
    shape = loop(slot(2.0, 0.5)).polygon
    assert shape.is_valid
    assert shape.area == pytest.approx(math.pi / 4 + 2.0, abs=math.pi * POLYGON_SAG)


def test_many_loops_at_once_are_measured_as_each_alone():
    shapes = [slot(1.0, 0.25), polygon([(0, 0), (1, 0), (0, 1)]), slot(3.0, 0.1)]
    alone, together = [loop(s) for s in shapes], [loop(s) for s in shapes]
    measure_loops(together)
    draw_polygons(together)
    for a, b in zip(alone, together, strict=True):
        assert b.area == pytest.approx(a.area, rel=1e-14)
        assert b.box == pytest.approx(a.box)
        assert b.polygon.equals_exact(a.polygon, 1e-12)


def test_no_loops_at_once_are_no_trouble():
    measure_loops([])
    draw_polygons([])


def test_a_loop_holds_what_lies_inside_it_and_nothing_on_or_beyond_its_edge():
    loop = Loop(slot(2.0, 0.5), "OUTLINE", "polyline")
    points = np.array([(1, 0), (2.4, 0), (1, 0.49), (2.45, 0.4), (1, 0.5), (1, 0.6), (9, 9)])
    assert loop.holds(points).tolist() == [True, True, True, False, False, False, False]
    assert loop.holds(np.zeros((0, 2))).tolist() == []
