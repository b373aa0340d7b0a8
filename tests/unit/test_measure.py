"""Rivet, edge distance and nearest hole of every hole."""

import math

import numpy as np
import pytest

from holeschedule.audit.measure import Intent, measure_part
from holeschedule.audit.report import audit_part
from holeschedule.audit.rules import load_rule_set
from holeschedule.model import Head, HoleSize, Verdict
from holeschedule.tables import rivet_size, rivet_sizes
from tests.plates import NUMBER_11, NUMBER_21, NUMBER_30, NUMBER_40, At, Plate, at_edge, level

ASKED = Intent(rivet_size("3/32"))
LAST_DIGITS = 1e-13


def rivets(plate, intent=None):
    measured = measure_part(plate.part(), intent)
    found = [measured.rivet_of(i) for i in range(len(measured.part.holes))]
    return [(f.rivet.name if f.rivet else None, f.size) for f in found]


def of_one_hole(diameter, intent=None):
    return measure_part(at_edge(1.0, diameter=diameter).part(), intent).rivet_of(0)


# rivets ----------------------------------------------------------------------------------------


def test_the_drawn_diameter_tells_the_rivet_of_each_hole():
    plate = Plate(
        singles=[At(1, 1, NUMBER_40), At(2, 1, NUMBER_30), At(3, 1, 0.125), At(4, 1, 0.4)]
    )
    assert rivets(plate) == [
        ("3/32", HoleSize.FINAL),
        ("1/8", HoleSize.FINAL),
        ("1/8", HoleSize.PILOT),
        (None, None),
    ]


def test_a_stated_rivet_is_that_of_every_hole():
    plate = Plate(singles=[At(1, 1, 0.04), At(2, 1, NUMBER_40), At(3, 1, NUMBER_30), At(4, 1, 0.4)])
    final, pilot = HoleSize.FINAL, HoleSize.PILOT
    assert rivets(plate, ASKED) == [("3/32", s) for s in (pilot, final, final, final)]


def test_holes_may_each_have_a_rivet_and_a_head_of_their_own():
    plate = Plate(singles=[At(1, 1, NUMBER_40), At(2, 1, NUMBER_30), At(3, 1, NUMBER_30)])
    said = {"X1": Intent(rivet_size("1/8"), Head.FLUSH), "X2": ASKED}
    measured = measure_part(plate.part(), said)
    assert [measured.rivet_of(hole).rivet.name for hole in range(3)] == ["1/8", "3/32", "1/8"]
    assert measured.shank.tolist() == [1 / 8, 3 / 32, 1 / 8]
    assert measured.flush.tolist() == [True, False, False]


def test_a_pair_of_holes_is_held_to_the_larger_of_two_stated_rivets():
    apart = 0.35  # 3.7 D of the smaller, 2.8 D of the larger
    part = Plate(singles=[At(1, 1), At(1 + apart, 1)]).part()
    said = {"X1": ASKED, "X2": Intent(rivet_size("1/8"))}
    for larger_first in (said, {"X1": said["X2"], "X2": ASKED}):
        (found,) = audit_part(part, load_rule_set("faa"), larger_first).findings
        assert (found.limit, found.verdict) == (pytest.approx(0.375), Verdict.CLOSE)
    assert not audit_part(part, load_rule_set("faa"), ASKED).findings


def test_without_a_rivet_large_enough_d_is_the_hole_itself():
    measured = measure_part(at_edge(1.0, diameter=0.4).part())
    assert measured.shank.tolist() == [0.4]
    assert measured.rivet_of(0).rivet is None


def test_d_is_the_shank_and_not_the_hole():
    measured = measure_part(Plate(singles=[At(1, 1, NUMBER_40), At(2, 1, 0.089)]).part())
    assert measured.shank.tolist() == [3 / 32, 3 / 32]


@pytest.mark.parametrize("size", rivet_sizes(), ids=lambda size: size.name)
def test_a_stated_rivet_is_at_final_size_in_the_same_holes_as_an_unstated_one(size):
    """Whatever holes the drawing's own word makes final for a rivet, the user's does too."""
    for thousandths in range(-60, 60):
        diameter = round(size.final_drill.diameter + thousandths / 10000, 4)
        own, stated = of_one_hole(diameter), of_one_hole(diameter, Intent(size))
        is_final = own.rivet == size and own.size is HoleSize.FINAL
        assert (stated.size is HoleSize.FINAL and not stated.oversize) == is_final, diameter


def test_a_hole_no_larger_than_the_shank_is_a_pilot_for_the_stated_rivet():
    assert of_one_hole(5 / 32, Intent(rivet_size("5/32"))).size is HoleSize.PILOT


@pytest.mark.parametrize(
    ("diameter", "oversize"),
    [
        (0.0995, False),
        (0.0995 + LAST_DIGITS, False),
        (0.0996, True),
        (0.0955, False),
        (0.2, True),
    ],
)
def test_a_hole_is_oversize_beyond_the_largest_final_size_and_its_tolerance(diameter, oversize):
    assert of_one_hole(diameter, ASKED).oversize is oversize


def test_no_hole_is_oversize_without_a_stated_rivet():
    assert not any(of_one_hole(d).oversize for d in (0.05, NUMBER_40, NUMBER_21, NUMBER_11, 0.5))


def test_holes_that_differ_in_their_last_digits_share_one_answer():
    jitter = np.linspace(-LAST_DIGITS, LAST_DIGITS, 50)
    holes = [At(0.5 + i / 6, 1, NUMBER_40 + j) for i, j in enumerate(jitter)]
    assert len(measure_part(Plate(singles=holes).part()).kinds) == 1


# heads -----------------------------------------------------------------------------------------


def test_heads_are_protruding_but_where_a_mark_is_drawn():
    plate = Plate(singles=[(1, 1), At(2, 1, mark=0.179)])
    assert measure_part(plate.part()).flush.tolist() == [False, True]


@pytest.mark.parametrize("head", list(Head))
def test_a_stated_head_overrides_the_marks(head):
    plate = Plate(singles=[(1, 1), At(2, 1, mark=0.179)])
    flush = measure_part(plate.part(), Intent(head=head)).flush
    assert flush.tolist() == [head is Head.FLUSH] * 2


# distances -------------------------------------------------------------------------------------


def test_edge_distance_is_from_the_centre_to_the_nearest_edge_of_any_kind():
    plate = Plate(
        singles=[(5, 0.3), (2, 2.2), (7.6, 2.5)],
        round_cutouts=[(2, 3, 0.5)],
        trim=[((7, 0), (7, 5))],
    )
    measured = measure_part(plate.part())
    names = [measured.part.edge_name(i) for i in measured.edge_index.tolist()]
    assert names == ["outline", "cutout 1", "trim line"]
    assert measured.edge_distance == pytest.approx([0.3, 0.3, 0.6], abs=1e-12)


def test_edge_distance_is_negative_where_the_centre_is_not_in_metal():
    plate = Plate(singles=[(5, -0.5), (2, 2.9)], round_cutouts=[(2, 3, 0.5)])
    assert measure_part(plate.part()).edge_distance == pytest.approx([-0.5, -0.4], abs=1e-12)


def test_the_nearest_hole_is_measured_from_centre_to_centre():
    measured = measure_part(Plate(rows=[level(1, 1, 0.5, 3)], singles=[(8, 4)]).part())
    assert measured.nearest.tolist()[::2] == [1, 1]
    assert measured.nearest_distance[:3] == pytest.approx([0.5, 0.5, 0.5], abs=1e-12)
    assert (measured.nearest[3], measured.nearest_distance[3]) == (2, math.hypot(6, 3))


def test_a_lone_hole_has_no_nearest_hole():
    measured = measure_part(at_edge(1.0).part())
    assert measured.nearest.tolist() == [-1]
    assert np.isinf(measured.nearest_distance).all()


# rows ------------------------------------------------------------------------------------------


def test_holes_know_their_row():
    plate = Plate(rows=[level(1, 1, 0.5, 2), level(1, 3, 0.5, 2)], singles=[(8, 4)])
    assert measure_part(plate.part()).row_of.tolist() == [0, 0, 1, 1, -1]


def test_neighbours_are_looked_for_in_diameters_of_the_thicker_rivet():
    thin = level(1, 1, 0.5, 5)
    thick = [At(x, 1.9, NUMBER_11) for x, _ in thin]
    measured = measure_part(Plate(rows=[thin, thick]).part())
    assert [p.transverse_pitch for p in measured.neighbours(4.9)] == pytest.approx([0.9])
    assert measured.neighbours(4.7) == []


def test_one_row_has_no_neighbours():
    assert measure_part(Plate(rows=[level(1, 1, 0.5, 5)]).part()).neighbours(100.0) == []


def test_rows_of_two_sizes_on_one_line_are_not_side_by_side():
    thin = level(1, 1, 1.5, 4)
    thick = [At(x + 0.75, 1, NUMBER_11) for x, _ in thin]
    measured = measure_part(Plate(rows=[thin, thick]).part())
    assert measured.neighbours(7.5) == []
    apart = [At(x + 0.75, 1 + 3 / 32, NUMBER_11) for x, _ in thin]
    assert len(measure_part(Plate(rows=[thin, apart]).part()).neighbours(7.5)) == 1


def test_neighbours_are_the_same_however_often_they_are_asked_for():
    measured = measure_part(Plate(rows=[level(1, 1, 0.5, 5), level(1, 1.4, 0.5, 5)]).part())
    assert measured.neighbours(7.5) == measured.neighbours(7.5) != measured.neighbours(4.0) == []
