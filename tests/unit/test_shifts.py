"""The least shift that cures short holes, and that there is none where there is none."""

import math

import numpy as np
import pytest

from holeschedule.joints.room import Room
from holeschedule.joints.shifts import least_in_half_planes, least_shift
from tests.plates import Plate

L = 0.2


def room_in(plate, spots, *, holes=(), spacing=0.3):
    """Holes to be drilled at `spots`, 0.2 in from every edge, `spacing` from the holes there."""
    there = np.array(holes, dtype=float).reshape(-1, 2)
    return Room(
        plate.part(),
        np.array(spots, dtype=float).reshape(-1, 2),
        np.full(len(spots), L),
        there,
        np.full((len(spots), len(there)), spacing),
    )


def test_holes_that_are_legal_stay_where_they_are():
    assert least_shift(room_in(Plate(), [(1, 1)]), 0.5) == pytest.approx((0, 0))
    assert least_shift(room_in(Plate(), []), 0.5) == pytest.approx((0, 0))


@pytest.mark.parametrize(
    ("spot", "shift"),
    [((1, 0.15), (0, 0.05)), ((9.9, 1), (-0.1, 0)), ((0.1, 4.9), (0.1, -0.1))],
)
def test_a_short_hole_moves_straight_off_its_edges(spot, shift):
    assert least_shift(room_in(Plate(), [spot]), 0.5) == pytest.approx(shift, abs=1e-9)


def test_exactly_on_the_limit_nothing_moves():
    assert least_shift(room_in(Plate(), [(1, L)]), 0.5) == pytest.approx((0, 0))


def test_all_holes_move_alike_by_what_the_worst_one_needs():
    spots = [(1, 0.19), (2, 0.15), (3, 0.2), (9.9, 2)]
    assert least_shift(room_in(Plate(), spots), 0.5) == pytest.approx((-0.1, 0.05), abs=1e-9)


def test_a_slanting_edge_is_left_square_to_it():
    plate = Plate(corners=[(0, 0), (4, 0), (0, 3)])
    away = L - 0.12  # 0.12 in from the long side at its middle
    spot = (2 - 0.12 * 0.6, 1.5 - 0.12 * 0.8)
    shift = least_shift(room_in(plate, [spot]), 0.5)
    assert shift == pytest.approx((-0.6 * away, -0.8 * away), abs=1e-9)


def test_a_hole_off_the_metal_comes_back_into_it():
    assert least_shift(room_in(Plate(), [(1, -0.05)]), 0.5) == pytest.approx((0, 0.25), abs=1e-9)


def test_a_strip_too_narrow_has_no_cure_and_one_just_wide_enough_has():
    assert least_shift(room_in(Plate(size=(5, 2 * L - 0.001)), [(2, 0.15)]), 0.5) is None
    shift = least_shift(room_in(Plate(size=(5, 2 * L)), [(2, 0.15)]), 0.5)
    assert shift == pytest.approx((0, 0.05), abs=1e-9)


def test_holes_at_both_ends_of_a_part_too_small_have_no_cure():
    assert least_shift(room_in(Plate(size=(5, 5)), [(0.15, 1), (4.85, 1)]), 0.5) is None


def test_no_shift_beyond_the_most_is_told():
    assert least_shift(room_in(Plate(), [(1, 0.05)]), 0.1) is None
    assert least_shift(room_in(Plate(), [(1, 0.05)]), 0.15) == pytest.approx((0, 0.15))


def test_round_a_cutout_a_hole_moves_away_from_its_centre():
    plate = Plate(round_cutouts=[(5, 2.5, 1.0)])
    way = np.array([math.cos(0.7), math.sin(0.7)])
    shift = least_shift(room_in(plate, [(5, 2.5) + 1.15 * way]), 0.5)
    assert shift == pytest.approx(0.05 * way, abs=1e-8)


def test_a_hole_too_close_to_another_moves_away_from_it():
    shift = least_shift(room_in(Plate(), [(2.2, 2)], holes=[(2, 2), (8, 4)]), 0.5)
    assert shift == pytest.approx((0.1, 0), abs=1e-8)


def test_between_two_holes_the_way_out_is_to_the_side():
    holes = [(2 - 0.2, 2), (2 + 0.2, 2)]
    shift = least_shift(room_in(Plate(), [(2, 2)], holes=holes), 0.5)
    assert shift[0] == pytest.approx(0, abs=1e-6)
    assert abs(shift[1]) == pytest.approx(math.sqrt(0.3**2 - 0.2**2), abs=1e-6)


def test_half_planes_with_nothing_in_common_have_no_point():
    normals = np.array([(1.0, 0.0), (-1.0, 0.0)])
    assert least_in_half_planes(normals, np.array([0.2, -0.1])) is None
    assert least_in_half_planes(normals, np.array([0.2, -0.2])) == pytest.approx((0.2, 0))


def test_without_half_planes_the_point_is_zero():
    assert least_in_half_planes(np.zeros((0, 2)), np.zeros(0)) == pytest.approx((0, 0))
