"""Rows are found as a builder would count them, on the patterns that riveted parts have."""

import numpy as np
import pytest

from holeschedule.errors import GeometryError
from holeschedule.holes.labels import label_holes
from holeschedule.holes.rows import MISSING_FROM, SAME_SIZE, find_rows
from holeschedule.model import Row
from tests.layouts import (
    NUMBER_30,
    NUMBER_40,
    counts,
    grid,
    hole_at,
    line,
    ring,
    round_a_plate,
    rows_of,
    together,
    turned,
    without,
)


def along(centres, row):
    """The holes of a row in order, rounded, as a list."""
    return np.round(centres[list(row.places)], 4).tolist()


# nothing, next to nothing, no row ---------------------------------------------------------------


def test_without_holes_there_is_no_row():
    assert find_rows(np.zeros((0, 2)), np.zeros(0)) == ()


@pytest.mark.parametrize("holes", [1, 2])
def test_fewer_than_three_holes_make_no_row(holes):
    assert rows_of(line((0, 0), (0.75, 0), holes)) == ()


def test_three_holes_in_line_are_a_row():
    assert rows_of(line((0, 0), (0.75, 0), 3)) == (Row("A", (0, 1, 2), 0.75),)


def test_three_holes_that_turn_sharply_are_no_row():
    assert rows_of(np.array([[0, 0], [1, 0], [1.8, 0.6]])) == ()


def test_three_holes_at_pitches_of_one_and_two_are_no_row():
    assert rows_of(np.array([[0.0, 0], [1, 0], [3, 0]])) == ()


def test_holes_at_one_place_are_never_in_one_row():
    centres = np.concatenate((line((0, 0), (1, 0), 6), line((2, 0), (0, 0), 50)))
    (row,) = rows_of(centres)
    assert along(centres, row) == [[x, 0] for x in range(6)]
    assert len(set(label_holes(centres, (row,)))) == 56


def test_hundreds_of_holes_at_one_place_are_single():
    assert rows_of(np.zeros((900, 2))) == ()


def test_widely_scattered_holes_are_single():
    centres = np.array([[0, 0], [3, 0.4], [4.1, 3], [0.8, 2.2], [6, 1.9], [2.2, 5], [6.5, 5.2]])
    assert rows_of(centres) == ()


# straight rows -----------------------------------------------------------------------------------


def test_a_level_row_runs_from_left_to_right():
    centres = line((5, 1), (-0.75, 0), 7)
    (row,) = rows_of(centres)
    assert row.places == (6, 5, 4, 3, 2, 1, 0)


def test_an_upright_row_runs_upwards():
    centres = line((1, 5), (0, -0.75), 7)
    (row,) = rows_of(centres)
    assert row.places == (6, 5, 4, 3, 2, 1, 0)


@pytest.mark.parametrize(
    ("degrees", "first"), [(44.0, 0), (45.0, 0), (46.0, 0), (-45.0, 0), (-46.0, 4), (134.0, 0)]
)
def test_an_inclined_row_runs_right_up_to_half_way_and_upwards_beyond(degrees, first):
    (row,) = rows_of(turned(line((0, 0), (1, 0), 5), degrees))
    assert row.places[0] == first


def test_a_slightly_uneven_pitch_is_one_row():
    x = np.cumsum([0, 0.74, 0.76, 0.75, 0.76, 0.74, 0.74, 0.76])
    (row,) = rows_of(np.column_stack((x, np.zeros(8))))
    assert len(row.places) == 8
    assert row.pitch == pytest.approx(0.75)
    assert row.missing == ()


def test_a_layout_by_hand_is_one_row():
    centres = line((0, 0), (0.75, 0), 20)
    noise = np.random.default_rng(1).uniform(-0.003, 0.003, centres.shape)
    assert counts(rows_of(centres + noise)) == {"A": 20}


def test_a_row_at_a_growing_pitch_is_one_row_without_a_missing_hole():
    x = np.cumsum(np.linspace(0.4, 1.1, 16))
    (row,) = rows_of(np.column_stack((x, np.zeros(16))))
    assert (len(row.places), row.missing) == (16, ())


def test_where_the_pitch_doubles_for_good_another_row_begins():
    centres = together(line((0, 0), (0.5, 0), 9), line((5, 0), (1, 0), 7))
    rows = rows_of(centres)
    assert counts(rows) == {"A": 9, "B": 7}
    assert [row.pitch for row in rows] == pytest.approx([0.5, 1.0])
    assert [row.missing for row in rows] == [(), ()]


def test_the_pitch_is_the_median_without_the_wide_gap():
    (row,) = rows_of(without(line((0, 0), (0.75, 0), 5), 3))
    assert row.pitch == pytest.approx(0.75)


@pytest.mark.parametrize("last", [0.5, 1.0])
def test_a_last_hole_at_an_odd_pitch_belongs_to_the_row(last):
    centres = together(line((0, 0), (0.75, 0), 9), np.array([[6 + last, 0.0]]))
    assert hole_at(centres, rows_of(centres), 6 + last, 0) == "A10"


def test_a_hole_beside_the_line_of_a_row_is_single():
    centres = together(line((0, 0), (0.75, 0), 9), np.array([[6.75, 0.2]]))
    assert hole_at(centres, rows_of(centres), 6.75, 0.2) == "X1"


def test_two_halves_with_an_odd_pitch_between_them_are_one_row():
    centres = together(line((0, 0), (0.75, 0), 5), line((4, 0), (0.75, 0), 5))
    assert counts(rows_of(centres)) == {"A": 10}


# missing holes -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gone", "missing"),
    [((5,), (4,)), ((5, 6), (4,)), ((3, 9), (2, 7)), ((2,), (1,)), ((11,), (10,))],
)
def test_a_missing_hole_is_told_after_the_place_before_it(gone, missing):
    centres = without(line((0, 0), (0.75, 0), 12), *gone)
    (row,) = rows_of(centres)
    assert len(row.places) == 12 - len(gone)
    assert row.missing == missing


def test_three_missing_holes_part_a_row():
    rows = rows_of(without(line((0, 0), (0.75, 0), 14), 6, 7, 8))
    assert counts(rows) == {"A": 5, "B": 6}
    assert all(row.missing == () for row in rows)


def test_two_pairs_with_a_gap_between_them_are_a_row_of_four():
    (row,) = rows_of(without(line((0, 0), (0.75, 0), 5), 3))
    assert (row.places, row.missing) == ((0, 1, 2, 3), (2,))


def test_a_hole_of_another_size_stands_in_the_place_of_a_missing_one():
    diameters = np.full(11, NUMBER_40)
    diameters[4] = NUMBER_30
    centres = line((0, 0), (0.75, 0), 11)
    (row,) = rows_of(centres, diameters)
    assert (len(row.places), row.missing) == (10, ())
    assert hole_at(centres, (row,), 3.0, 0) == "X1"


def test_a_grid_with_a_missing_hole_keeps_its_rows():
    centres = without(grid(9, 5, 0.75, 0.75), 9 * 2 + 5)
    rows = rows_of(centres)
    assert counts(rows) == {"A": 9, "B": 9, "C": 8, "D": 9, "E": 9}
    assert [row.missing for row in rows] == [(), (), (4,), (), ()]


def test_a_gap_just_below_a_doubled_pitch_misses_no_hole():
    gap = 0.75 * (MISSING_FROM - 0.2)
    (row,) = rows_of(together(line((0, 0), (0.75, 0), 4), line((2.25 + gap, 0), (0.75, 0), 4)))
    assert (len(row.places), row.missing) == (8, ())


# curves and rings --------------------------------------------------------------------------------


def test_a_curved_rib_flange_is_one_row():
    share = np.linspace(0, 1, 18)
    curve = np.column_stack((14 * share, 2.2 - 4.8 * (share - 0.35) ** 2))
    assert counts(rows_of(curve)) == {"A": 18}


def test_a_tapered_rib_has_a_row_along_each_flange():
    share = np.linspace(0, 1, 20)
    upper = np.column_stack((15 * share, 3 + 0.8 * np.sin(2.4 * share) - 1.5 * share))
    lower = np.column_stack((15 * share, -0.6 * np.sin(2.0 * share) + 0.6 * share))
    rows = rows_of(np.concatenate((upper, lower)))
    assert counts(rows) == {"A": 20, "B": 20}
    assert rows[1].places == tuple(range(20))


def test_two_curved_rows_side_by_side_stay_apart():
    def arc(radius, least, most, count):
        angle = np.radians(np.linspace(least, most, count))
        return radius * np.column_stack((np.cos(angle), np.sin(angle)))

    rows = rows_of(np.concatenate((arc(10, 60, 120, 16), arc(10.5, 62, 118, 15))))
    assert counts(rows) == {"A": 16, "B": 15}


@pytest.mark.parametrize("holes", [6, 8, 12, 16, 20, 24, 36, 60, 90])
def test_a_ring_is_one_closed_row(holes):
    (row,) = rows_of(ring((2, 3), 3.0, holes))
    assert (len(row.places), row.closed, row.missing) == (holes, True, ())


@pytest.mark.parametrize("holes", [12, 40])
def test_a_ring_starts_at_its_lowest_hole_and_runs_counter_clockwise(holes):
    centres = ring((2, 3), 3.0, holes)[::-1]
    (row,) = rows_of(centres)
    assert row.places == tuple(range(holes - 1, -1, -1))


def test_of_two_equally_low_holes_the_left_one_is_the_first_of_a_ring():
    centres = ring((0, 0), 2.0, 12, first=-75.0)
    (row,) = rows_of(centres)
    assert row.places == (11, *range(11))


def test_a_ring_with_a_missing_hole_is_closed_and_tells_it():
    (row,) = rows_of(without(ring((0, 0), 3.0, 16), 5))
    assert (len(row.places), row.closed, row.missing) == (15, True, (4,))


def test_a_ring_without_its_lowest_hole_tells_it():
    (row,) = rows_of(without(ring((0, 0), 3.0, 16), 1))
    assert row.closed
    assert row.places == (14, *range(14))
    assert row.missing == (1,)


def test_the_gap_that_closes_a_ring_can_miss_a_hole():
    (row,) = rows_of(without(ring((0, 0), 3.0, 16), 16))
    assert (row.places, row.missing) == (tuple(range(15)), (15,))


def test_a_hole_in_the_middle_of_a_ring_is_single():
    centres = together(ring((0, 0), 2.0, 8), np.zeros((1, 2)))
    rows = rows_of(centres)
    assert counts(rows) == {"A": 8}
    assert hole_at(centres, rows, 0, 0) == "X1"


def test_rings_inside_each_other_are_rows_of_their_own():
    centres = np.concatenate([ring((0, 0), r, n) for r, n in ((2.8, 20), (2.1, 16), (1.2, 8))])
    assert counts(rows_of(centres)) == {"A": 20, "B": 16, "C": 8}


def test_the_round_end_of_a_plate_is_a_row_between_its_sides():
    angle = np.linspace(-np.pi / 2, np.pi / 2, 7)
    end = np.column_stack((6.75 + 1.5 * np.cos(angle), 1.5 + 1.5 * np.sin(angle)))
    sides = line((0, 0), (0.75, 0), 10), line((0, 3), (0.75, 0), 10)
    assert counts(rows_of(together(*sides, end))) == {"A": 10, "B": 5, "C": 10}


def test_a_hatch_ring_does_not_disturb_the_rows_of_its_skin():
    centres = together(
        grid(16, 2, 0.75, 8.0),
        ring((6, 4), 2.6, 16),
        line((0, 0.75), (0, 0.7222), 9),
        line((11.25, 0.75), (0, 0.7222), 9),
    )
    rows = rows_of(centres)
    assert counts(rows) == {"A": 16, "B": 9, "C": 9, "D": 16, "E": 16}
    assert [row.letter for row in rows if row.closed] == ["D"]


# corners, sides, crossings -----------------------------------------------------------------------


def test_the_corner_holes_of_a_plate_belong_to_its_longer_sides():
    centres = round_a_plate(12, 7, 0.75)
    rows = rows_of(centres)
    assert counts(rows) == {"A": 12, "B": 5, "C": 5, "D": 12}
    corners = [(0, 0), (8.25, 0), (0, 4.5), (8.25, 4.5)]
    assert [hole_at(centres, rows, *c) for c in corners] == ["A1", "A12", "D1", "D12"]


def test_of_two_equally_long_sides_the_level_one_has_the_corner():
    centres = together(line((0, 0), (1, 0), 7), line((0, 0), (0, 1), 7))
    rows = rows_of(centres)
    assert counts(rows) == {"A": 7, "B": 6}
    assert hole_at(centres, rows, 0, 0) == "A1"


def test_an_upright_side_that_is_longer_has_the_corner():
    centres = together(line((0, 0), (1, 0), 5), line((0, 0), (0, 1), 8))
    assert counts(rows_of(centres)) == {"A": 8, "B": 4}


def test_a_side_too_short_for_a_row_takes_the_corners():
    centres = round_a_plate(10, 3, 0.75)
    rows = rows_of(centres)
    assert counts(rows) == {"A": 3, "B": 8, "C": 3, "D": 8}
    assert hole_at(centres, rows, 0, 0.75) == "A2"


def test_a_side_takes_no_corners_from_rows_that_cannot_spare_them():
    centres = round_a_plate(4, 3, 0.75)
    rows = rows_of(centres)
    assert counts(rows) == {"A": 4, "B": 4}
    assert hole_at(centres, rows, 0, 0.75) == "X1"
    assert hole_at(centres, rows, 2.25, 0.75) == "X2"


def test_a_frame_of_two_rows_keeps_them_apart_at_the_corners():
    outer, inner = round_a_plate(17, 11, 0.75), round_a_plate(13, 7, 0.9)
    inner = inner + np.array((0.6, 1.05))
    assert counts(rows_of(together(outer, inner))) == {
        "A": 17,
        "B": 9,
        "C": 9,
        "D": 13,
        "E": 5,
        "F": 5,
        "G": 13,
        "H": 17,
    }


def test_the_hole_where_rows_cross_belongs_to_the_longer_one():
    centres = together(line((-5, 0), (1, 0), 11), line((0, -2.25), (0, 0.75), 7))
    rows = rows_of(centres)
    assert counts(rows) == {"A": 6, "B": 11}
    assert hole_at(centres, rows, 0, 0) == "B6"


def test_a_row_goes_on_behind_the_row_that_crosses_it_and_misses_no_hole():
    centres = together(line((-5, 0), (1, 0), 11), line((0, -2.25), (0, 0.75), 7))
    rows = rows_of(centres)
    assert along(centres, rows[0]) == [[0, y] for y in (-2.25, -1.5, -0.75, 0.75, 1.5, 2.25)]
    assert rows[0].missing == ()


def test_the_hole_where_a_row_ends_at_another_belongs_to_the_one_that_passes():
    centres = together(line((-2, 0), (1, 0), 5), line((0, 0), (0, 1), 12))
    rows = rows_of(centres)
    assert counts(rows) == {"A": 5, "B": 11}
    assert hole_at(centres, rows, 0, 0) == "A3"


def test_ribs_between_spars_are_counted_bay_by_bay():
    spars = line((0, 3), (1, 0), 25), line((0, 6), (1, 0), 25)
    ribs = [line((4 + 4 * i, 0), (0, 0.75), 13) for i in range(5)]
    rows = rows_of(together(*spars, *ribs))
    assert counts(rows) == {"A": 11, "B": 11, "C": 11, "D": 11, "E": 11, "F": 25, "G": 25}
    assert not any(row.missing for row in rows)


def test_a_row_of_three_keeps_the_hole_that_a_long_row_crosses():
    centres = together(line((-4, 0), (1, 0), 9), line((0, -0.5), (0, 0.5), 3))
    rows = rows_of(centres)
    assert counts(rows) == {"A": 3, "B": 8}
    assert rows[1].missing == ()


def test_a_sparse_row_beside_a_dense_one_is_found():
    centres = together(line((0, 0), (0.25, 0), 48), line((0.1, 0.375), (1.5, 0), 8))
    assert counts(rows_of(centres)) == {"A": 48, "B": 8}


def test_a_sharp_corner_ends_a_row_and_a_gentle_bend_does_not():
    first = line((0, 0), (0.75, 0), 8)
    bent = [turned(line((0.75, 0), (0.75, 0), 7), angle) + first[-1] for angle in (8.0, 30.0)]
    assert counts(rows_of(np.concatenate((first, bent[0])))) == {"A": 15}
    assert counts(rows_of(np.concatenate((first, bent[1])))) == {"A": 8, "B": 7}


# patterns ----------------------------------------------------------------------------------------


def test_a_staggered_double_row_is_two_rows():
    centres = grid(14, 2, 0.75, 0.4, stagger=0.375)
    rows = rows_of(centres)
    assert [row.places for row in rows] == [tuple(range(14)), tuple(range(14, 28))]


@pytest.mark.parametrize("transverse", [0.3, 0.375, 0.45, 0.65])
def test_staggered_rows_are_not_read_along_their_diagonals(transverse):
    centres = grid(12, 5, 0.75, transverse, stagger=0.375)
    assert counts(rows_of(centres)) == dict.fromkeys("ABCDE", 12)


def test_an_inclined_double_row_is_two_rows():
    centres = turned(grid(14, 2, 0.75, 0.4, stagger=0.375), 27.0)
    assert counts(rows_of(centres)) == {"A": 14, "B": 14}


def test_a_square_grid_is_read_level():
    assert counts(rows_of(grid(5, 8, 0.75, 0.75))) == dict.fromkeys("ABCDEFGH", 5)


def test_a_square_grid_is_read_upwards_where_its_upright_rows_are_far_longer():
    assert counts(rows_of(grid(3, 14, 0.75, 0.75))) == {"A": 14, "B": 14, "C": 14}


def test_a_square_grid_laid_out_by_hand_is_read_level():
    centres = grid(6, 6, 0.75, 0.75)
    noise = np.random.default_rng(2).uniform(-0.003, 0.003, centres.shape)
    rows = rows_of(centres + noise)
    assert [row.places for row in rows] == [tuple(range(i, i + 6)) for i in range(0, 36, 6)]


def test_a_grid_is_read_along_its_closer_pitch():
    assert counts(rows_of(grid(6, 5, 1.0, 0.7))) == dict.fromkeys("ABCDEF", 5)


def test_a_seam_of_three_rows_is_read_along_the_seam():
    assert counts(rows_of(grid(16, 3, 1.0, 0.625))) == {"A": 16, "B": 16, "C": 16}


# sizes -------------------------------------------------------------------------------------------


def test_holes_of_two_sizes_are_two_rows_though_in_one_line():
    diameters = np.tile([NUMBER_40, NUMBER_30], 8)
    rows = rows_of(line((0, 0), (0.5, 0), 16), diameters)
    assert [row.places for row in rows] == [tuple(range(0, 16, 2)), tuple(range(1, 16, 2))]
    assert [row.missing for row in rows] == [(), ()]


@pytest.mark.parametrize(
    ("difference", "rows"), [(SAME_SIZE, 1), (SAME_SIZE - 1e-4, 1), (SAME_SIZE + 1e-4, 2)]
)
def test_holes_are_of_one_size_up_to_the_limit(difference, rows):
    diameters = np.repeat([NUMBER_40, NUMBER_40 + difference], 6)
    assert len(rows_of(line((0, 0), (0.75, 0), 12), diameters)) == rows


# letters -----------------------------------------------------------------------------------------


def test_rows_are_lettered_from_the_bottom_left():
    low, left, right = line((0, 0), (1, 0), 5), line((0, 2), (0, 1), 4), line((6, 2), (0, 1), 4)
    centres = np.concatenate((right, left, low))
    rows = rows_of(centres)
    assert [along(centres, row)[0] for row in rows] == [[0, 0], [0, 2], [6, 2]]
    assert [row.letter for row in rows] == ["A", "B", "C"]


def test_rows_that_start_on_one_line_laid_out_by_hand_are_lettered_from_the_left():
    columns = [line((3 * i, y), (0, 0.75), 6) for i, y in enumerate((0.004, 0.0, 0.006, 0.002))]
    rows = rows_of(np.concatenate(columns))
    assert [row.places[0] for row in rows] == [0, 6, 12, 18]


# bad input ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_coordinate_that_is_not_finite_is_refused(bad):
    centres = np.array([[0.0, 0.0], [1.0, bad]])
    with pytest.raises(GeometryError, match=r"hole 1 at \(1, (nan|inf)\) in, diameter 0.098 in"):
        find_rows(centres, np.full(2, NUMBER_40))


def test_a_diameter_that_is_not_finite_is_refused():
    with pytest.raises(GeometryError, match=r"hole 0 at \(2, 3\) in, diameter nan in: not finite"):
        find_rows(np.array([[2.0, 3.0]]), np.array([np.nan]))


def test_diameters_out_of_step_are_refused():
    with pytest.raises(GeometryError, match=r"\(3, 2\) numbers .* 2 holes; expected \(2, 2\)"):
        find_rows(np.zeros((3, 2)), np.full(2, NUMBER_40))


def test_holes_absurdly_far_apart_are_refused():
    with pytest.raises(GeometryError, match=r"holes 1e\+30 in apart; expected no more than 1e\+07"):
        find_rows(np.array([[0.0, 0.0], [1e30, 0.0]]), np.full(2, NUMBER_40))
