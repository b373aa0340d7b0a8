"""Pitches of a row, and the transverse pitch between rows that run side by side."""

import numpy as np
import pytest

from holeschedule.errors import GeometryError
from holeschedule.holes.labels import label_holes
from holeschedule.holes.neighbours import LEAST_OVERLAP, neighbouring_rows, pitches
from holeschedule.model import Row
from tests.layouts import grid, line, ring, rows_of, together, turned, without


def pairs_of(centres, within=1.0):
    """Letters, transverse pitch and labels of every pair of neighbouring rows."""
    rows = rows_of(centres)
    labels = label_holes(centres, rows)
    return [
        (
            rows[pair.row_a].letter + rows[pair.row_b].letter,
            round(pair.transverse_pitch, 6),
            labels[pair.hole_a],
            labels[pair.hole_b],
        )
        for pair in neighbouring_rows(centres, rows, np.full(len(rows), within))
    ]


def two_lines(first, second, within=1.0):
    """The pairs found between two rows given as they are."""
    centres = np.concatenate((first, second))
    rows = [
        Row("A", tuple(range(len(first))), 1.0),
        Row("B", tuple(range(len(first), len(centres))), 1.0),
    ]
    return neighbouring_rows(centres, rows, np.full(2, within))


# pitches -----------------------------------------------------------------------------------------


def test_pitches_are_measured_from_centre_to_centre():
    centres = np.array([[0, 0], [0.3, 0.4], [0.6, 0.8], [1.5, 2.0]])
    assert pitches(centres, Row("A", (0, 1, 2, 3), 0.5)) == pytest.approx([0.5, 0.5, 1.5])


def test_a_closed_row_has_a_pitch_that_closes_it():
    centres = ring((0, 0), 2.0, 12)
    (row,) = rows_of(centres)
    assert pitches(centres, row) == pytest.approx(np.full(12, 4 * np.sin(np.pi / 12)))


def test_a_missing_hole_doubles_a_pitch():
    centres = without(line((0, 0), (0.75, 0), 6), 3)
    (row,) = rows_of(centres)
    assert pitches(centres, row) == pytest.approx([0.75, 1.5, 0.75, 0.75])


# rows side by side -------------------------------------------------------------------------------


def test_no_row_and_one_row_have_no_neighbours():
    assert neighbouring_rows(np.zeros((0, 2)), (), np.zeros(0)) == []
    centres = line((0, 0), (1, 0), 4)
    assert neighbouring_rows(centres, rows_of(centres), np.ones(1)) == []


def test_the_transverse_pitch_of_a_double_row_is_square_to_it():
    assert pairs_of(grid(6, 2, 0.75, 0.5)) == [("AB", 0.5, "A1", "B1")]


def test_the_transverse_pitch_of_a_staggered_row_is_no_distance_between_holes():
    assert pairs_of(grid(6, 2, 0.75, 0.4, stagger=0.375)) == [("AB", 0.4, "A2", "B1")]


def test_turning_rows_leaves_their_transverse_pitch():
    centres = turned(grid(6, 2, 0.75, 0.4, stagger=0.375), 31.0)
    assert pairs_of(centres) == [("AB", 0.4, "A2", "B1")]


def test_where_rows_draw_together_the_nearest_hole_is_named():
    lower, upper = line((0, 0), (0.7, 0), 10), line((0, 0.8), (0.7, -0.05), 10)
    ((names, apart, hole_a, hole_b),) = pairs_of(together(lower, upper))
    assert (names, hole_a, hole_b) == ("AB", "A10", "B10")
    assert apart == pytest.approx(0.35 * np.cos(np.arctan(0.05 / 0.7)), abs=1e-6)


@pytest.mark.parametrize(("within", "found"), [(0.5, 1), (0.501, 1), (0.499, 0)])
def test_rows_are_looked_for_up_to_the_distance_given(within, found):
    assert len(pairs_of(grid(6, 2, 0.75, 0.5), within)) == found


def test_the_larger_distance_of_the_two_rows_counts():
    centres = grid(6, 2, 0.75, 0.5)
    rows = rows_of(centres)
    for within in ([0.1, 0.6], [0.6, 0.1]):
        assert len(neighbouring_rows(centres, rows, np.array(within))) == 1
    assert neighbouring_rows(centres, rows, np.array([0.4, 0.4])) == []


def test_a_row_between_two_others_parts_them():
    assert [pair[0] for pair in pairs_of(grid(8, 4, 0.5, 0.5), 1.2)] == ["AB", "BC", "CD"]


def test_a_short_row_between_two_long_ones_does_not_part_them_elsewhere():
    long = line((0, 0), (0.75, 0), 20), line((0, 1), (0.75, 0), 20)
    short = line((6, 0.5), (0.75, 0), 4)
    assert [pair[0] for pair in pairs_of(together(*long, short), 1.2)] == ["AB", "AC", "BC"]


@pytest.mark.parametrize(("degrees", "found"), [(9.0, 1), (11.0, 0), (90.0, 0)])
def test_rows_side_by_side_run_in_nearly_the_same_direction(degrees, found):
    upper = turned(line((-3, 0), (1, 0), 7), degrees) + np.array((3, 1.5))
    assert len(two_lines(line((0, 0), (1, 0), 7), upper, 2.5)) == found


@pytest.mark.parametrize(("start", "found"), [(4.9, 1), (5.0, 1), (5.2, 0)])
def test_rows_side_by_side_overlap_by_half_the_shorter_one(start, found):
    assert LEAST_OVERLAP == 0.5
    assert len(two_lines(line((0, 0), (0.1, 0), 101), line((start, 0.5), (0.1, 0), 101))) == found


def test_a_short_row_beside_a_long_one_is_its_neighbour():
    centres = together(line((0, 0), (0.75, 0), 20), line((6, 0.5), (0.75, 0), 3))
    assert [pair[:2] for pair in pairs_of(centres)] == [("AB", 0.5)]


def test_rows_that_follow_each_other_on_one_line_are_no_neighbours():
    centres = together(line((0, 0), (0.5, 0), 6), line((5, 0), (0.5, 0), 6))
    assert pairs_of(centres, 10.0) == []


def test_rows_that_cross_are_no_neighbours():
    centres = together(line((-4, 0), (1, 0), 9), line((0, -2.25), (0, 0.75), 7))
    assert pairs_of(centres, 5.0) == []


def test_rings_inside_each_other_are_neighbours():
    outer, inner = ring((0, 0), 3.0, 24), ring((0, 0), 2.4, 24)
    ((names, apart, _, _),) = pairs_of(together(outer, inner))
    # from a hole of the inner ring to the middle of the chord of the outer one at its nearest
    assert names == "AB"
    assert apart == pytest.approx((3.0 - 2.4) * np.cos(np.pi / 24), abs=1e-6)


def test_a_ring_is_no_neighbour_of_itself():
    assert pairs_of(ring((0, 0), 1.0, 12), 5.0) == []


def test_distances_out_of_step_with_the_rows_are_refused():
    centres = grid(6, 2, 0.75, 0.5)
    with pytest.raises(
        GeometryError, match=r"distances \[1.0\] in for 2 rows; expected one finite"
    ):
        neighbouring_rows(centres, rows_of(centres), np.ones(1))


def test_a_distance_that_is_not_finite_is_refused():
    centres = grid(6, 2, 0.75, 0.5)
    with pytest.raises(GeometryError, match=r"distances \[1.0, inf\] in for 2 rows"):
        neighbouring_rows(centres, rows_of(centres), np.array([1.0, np.inf]))
