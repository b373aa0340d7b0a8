"""Whether another row stands between a row and its edge."""

import numpy as np
import pytest

from holeschedule.audit.between import rows_between
from tests.plates import Plate, level

E = 0.6
"""Inches. Edge distance of the row that looks."""
PITCH = 0.75


def between(plate, *numbers):
    """The answers for rows by number."""
    return rows_between(plate.audit().measured, np.array(numbers, dtype=np.intp)).tolist()


def behind(row, **more):
    """A level row along the lower edge, with `row` drawn after it."""
    return Plate(rows=[level(1, E, PITCH, 9), row], **more)


def circle_of_holes(radius, count):
    angles = 2 * np.pi * np.arange(count) / count
    return [(5 + radius * np.cos(a), 2.5 + radius * np.sin(a)) for a in angles]


def test_no_row_is_asked_about_no_row_answers():
    assert between(Plate(rows=[level(1, E, PITCH, 9)])) == []


def test_a_lone_row_has_none_between():
    assert between(Plate(rows=[level(1, E, PITCH, 9)]), 0) == [False]


@pytest.mark.parametrize(
    ("y", "hidden"), [(0.3, True), (E - 1e-3, True), (E, False), (E + 0.3, False)]
)
def test_a_row_is_between_where_it_is_nearer_to_the_edge(y, hidden):
    assert between(behind(level(1.375, y, PITCH, 8)), 0) == [hidden]


@pytest.mark.parametrize(
    ("aside", "hidden"), [(PITCH - 1e-3, True), (PITCH, True), (PITCH + 1e-3, False)]
)
@pytest.mark.parametrize("side", [1, -1])
def test_a_row_is_between_up_to_a_pitch_to_the_side_of_the_middle(aside, side, hidden):
    row = level(1, E, PITCH, 9)
    x = row[4][0] + side * aside
    assert between(behind([(x + side * 0.2 * i, 0.3) for i in range(4)]), 0) == [hidden]


def test_answers_come_in_the_order_of_the_rows_asked_about():
    plate = behind(level(1.375, 0.3, PITCH, 8))
    assert between(plate, 0, 1) == [True, False]
    assert between(plate, 1, 0) == [False, True]


def ring_and_arc(share):
    """Twelve holes round a round cutout, and an arc of a row nearer to it, `share` of the way."""
    return Plate(
        rows=[circle_of_holes(1.6, 12), circle_of_holes(1.2, 120)[: round(120 * share)]],
        closed="A",
        round_cutouts=[(5, 2.5, 1.0)],
    )


@pytest.mark.parametrize(("share", "hidden"), [(0.1, False), (0.2, False), (0.4, True), (1, True)])
def test_a_closed_row_is_hidden_where_half_of_its_holes_are(share, hidden):
    """A hole up to 44° beyond an end of the arc, a pitch to the side, still sees it."""
    assert between(ring_and_arc(share), 0) == [hidden]


def seen_one_by_one(plate):
    """How many holes of a row round (5, 2.5) see a hole that is nearer to the middle."""
    part = plate.part()
    ring, others = part.centres[:12] - (5, 2.5), part.centres[12:] - (5, 2.5)
    pitch, seen = part.rows[0].pitch, 0
    for hole in ring:
        out = hole / np.hypot(*hole)
        along, off = others @ out, np.abs(others @ (-out[1], out[0]))
        seen += bool(((along > 1.0) & (along < 1.6) & (off <= pitch)).any())
    return seen


@pytest.mark.parametrize("tenths", range(1, 11))
def test_holes_of_a_closed_row_look_each_for_itself(tenths):
    plate = ring_and_arc(tenths / 10)
    assert between(plate, 0) == [seen_one_by_one(plate) >= 6]


def test_a_row_whose_holes_lie_on_the_edge_has_none_between():
    plate = Plate(rows=[level(1, 0.0, PITCH, 9), level(1, 0.3, PITCH, 9)])
    assert between(plate, 0) == [False]
