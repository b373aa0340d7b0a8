"""Labels: the letter of the row and the place in it, X for single holes."""

from itertools import islice

import numpy as np
import pytest

from holeschedule.holes.labels import ROW_LETTERS, label_holes, row_letters
from holeschedule.model import Row
from tests.layouts import line, rows_of, together, without


def test_letters_that_are_misread_in_the_shop_and_x_are_left_out():
    assert ROW_LETTERS == "ABCDEFGHJKLMNPQRSTUVWYZ"


@pytest.mark.parametrize(
    ("number", "letters"),
    [
        (1, "A"),
        (8, "H"),
        (9, "J"),
        (22, "Y"),
        (23, "Z"),
        (24, "AA"),
        (25, "AB"),
        (46, "AZ"),
        (47, "BA"),
        (23 + 23**2, "ZZ"),
        (24 + 23**2, "AAA"),
    ],
)
def test_after_z_letters_are_doubled(number, letters):
    assert next(islice(row_letters(), number - 1, None)) == letters


def test_no_row_letter_comes_twice():
    some = list(islice(row_letters(), 2000))
    assert len(set(some)) == 2000


def test_without_holes_there_are_no_labels():
    assert label_holes(np.zeros((0, 2)), ()) == ()


def test_places_count_from_one_in_the_order_of_the_row():
    centres = line((0, 0), (1, 0), 4)
    assert label_holes(centres, [Row("C", (3, 2, 1, 0), 1.0)]) == ("C4", "C3", "C2", "C1")


def test_a_missing_hole_leaves_no_number_free():
    centres = without(line((0, 0), (0.75, 0), 8), 4)
    rows = rows_of(centres)
    assert rows[0].missing == (3,)
    assert label_holes(centres, rows) == ("A1", "A2", "A3", "A4", "A5", "A6", "A7")


def test_a_hole_in_the_twenty_fourth_row_has_two_letters():
    centres = together(*(line((0, 3 * y), (0.75, 0), 4) for y in range(25)))
    labels = label_holes(centres, rows_of(centres))
    assert labels[22 * 4 : 24 * 4] == ("Z1", "Z2", "Z3", "Z4", "AA1", "AA2", "AA3", "AA4")


def test_single_holes_count_from_the_bottom_left():
    centres = np.array([[5, 5], [0, 5], [3, 0], [1, 0]])
    assert label_holes(centres, ()) == ("X4", "X3", "X2", "X1")


def test_single_holes_on_one_line_laid_out_by_hand_count_from_the_left():
    centres = np.array([[4, 0.0], [2, 0.006], [0, 0.012], [3, 0.1]])
    assert label_holes(centres, ()) == ("X3", "X2", "X1", "X4")


def test_single_holes_at_one_place_have_labels_of_their_own():
    assert sorted(label_holes(np.zeros((3, 2)), ())) == ["X1", "X2", "X3"]
