"""Labels get free room: what was placed never crosses what is there."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, box

from holeschedule.geometry.edges import arc_edges, line_edges
from holeschedule.views.labels import Leaders, Room, beside, leader_end, turned
from holeschedule.views.page import overlap

SHEET = (0.0, 0.0, 4.0, 3.0)
SMALL = (0.0, 0.0, 1.6, 1.2)
points = st.tuples(st.floats(0.1, 1.5), st.floats(0.1, 1.1))
sizes = st.tuples(st.floats(0.05, 0.5), st.floats(0.05, 0.25))


def inside(box, sheet=SHEET):
    return (
        box[0] >= sheet[0]
        and box[1] >= sheet[1]
        and box[2] <= sheet[2] + 1e-9
        and box[3] <= sheet[3] + 1e-9
    )


def distance(box, point):
    """From a point to a box."""
    end = leader_end(box, point)
    return math.dist(end, point)


@given(st.lists(st.tuples(points, sizes), min_size=1, max_size=12))
def test_boxes_that_found_room_lie_on_the_sheet_and_do_not_cross(wanted):
    room, lines = Room(SMALL), Leaders()
    boxes = [room.nearest_free(size, near, 0.1, lines) for near, size in wanted]
    placed = [box for box in boxes if box is not None]
    assert all(inside(box, SMALL) for box in placed)
    assert not any(overlap(a, b) for a, b in itertools.combinations(placed, 2))


@given(st.lists(st.tuples(points, sizes), min_size=2, max_size=10))
def test_leaders_cross_no_box_and_no_other_leader(wanted):
    room, lines = Room(SMALL), Leaders()
    placed = []
    for near, size in wanted:
        found = room.nearest_free(size, near, 0.1, lines)
        if found is not None:
            placed.append((LineString([near, leader_end(found, near)]), box(*found)))
    for (line, _), (other, further) in itertools.permutations(placed, 2):
        assert line.intersection(further).length < 1e-6
        assert not line.crosses(other)


def test_a_box_keeps_off_lines_arcs_and_discs():
    room = Room(SHEET)
    room.take_edges(line_edges(np.array([[0.0, 1.0]]), np.array([[4.0, 1.0]])))
    room.take_edges(
        arc_edges(np.array([[2.0, 2.0]]), np.array([0.5]), np.array([0.0]), np.array([2 * np.pi]))
    )
    room.take_circles(np.array([[1.0, 0.5]]), np.array([0.2]))
    assert not room.is_free((0.5, 0.9, 0.7, 1.1))
    assert not room.is_free((2.4, 1.9, 2.6, 2.1))
    assert room.is_free((1.8, 1.8, 2.2, 2.2)), "within the arc there is room"
    assert not room.is_free((1.1, 0.4, 1.3, 0.6))
    # beyond the disc at 45 degrees, where the square round it would still be
    assert room.is_free((1.16, 0.66, 1.3, 0.8))


def test_the_nearest_room_is_taken_and_not_nearer_than_asked():
    room = Room(SHEET)
    found = room.nearest_free((0.5, 0.2), (2.0, 1.5), 0.2, Leaders())
    assert 0.2 <= distance(found, (2.0, 1.5)) < 0.23
    assert not room.is_free(found)


def test_a_box_that_fits_nowhere_is_not_placed():
    assert Room(SHEET).nearest_free((5.0, 0.2), (2.0, 1.5), 0.1, Leaders()) is None
    full = Room(SHEET)
    full.take(SHEET)
    assert full.nearest_free((0.1, 0.1), (2.0, 1.5), 0.1, Leaders()) is None


def test_room_that_is_given_back_is_free_again():
    room, there = Room(SHEET), (1.0, 1.0, 1.5, 1.2)
    room.take(there)
    assert not room.is_free(there)
    room.take(there, -1)
    assert room.is_free(there)


def test_the_first_free_of_several_boxes_is_taken():
    room = Room(SHEET)
    room.take((0.0, 0.0, 1.0, 1.0))
    boxes = [(0.5, 0.5, 0.8, 0.8), (3.9, 0.0, 4.2, 0.1), (2.0, 2.0, 2.3, 2.1)]
    assert room.first_free(boxes) == boxes[2]
    assert room.first_free(boxes) is None


@pytest.mark.parametrize("angle", range(0, 360, 15))
def test_a_box_beside_a_point_keeps_its_gap(angle):
    found = beside((1.0, 1.0), turned((1.0, 0.0), angle), 0.1, (0.4, 0.15))
    assert distance(found, (1.0, 1.0)) >= 0.1 * math.sqrt(0.5)
    assert found[2] - found[0] == pytest.approx(0.4)
    assert found[3] - found[1] == pytest.approx(0.15)
