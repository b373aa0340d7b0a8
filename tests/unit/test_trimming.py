"""A part cut along its trim lines: what is kept, and that its edges stay exact."""

import math
from dataclasses import replace

import numpy as np
import pytest

from holeschedule.errors import GeometryError
from holeschedule.geometry.distance import edge_distances
from holeschedule.geometry.edges import arc_edges, join_edges
from holeschedule.geometry.loops import Loop
from holeschedule.joints.trimming import trimmed
from tests.plates import Plate


def cut(trim, keep=None, **more):
    return trimmed(Plate(trim=trim, **more).part(), keep)


def test_a_part_without_trim_lines_is_the_same_part():
    part = Plate(singles=[(1, 1)]).part()
    assert trimmed(part) is part


@pytest.mark.parametrize(("keep", "area"), [(None, 35.0), ((1, 1), 35.0), ((8, 1), 15.0)])
def test_the_larger_or_the_stated_side_is_kept(keep, area):
    part = cut([((7, 0), (7, 5))], keep)
    assert part.outline.area == pytest.approx(area)
    assert len(part.trim) == 0
    assert len(part.outline.edges) == 4


def test_the_trim_line_is_an_edge_and_those_beyond_it_are_none():
    part = cut([((7, 0), (7, 5))])
    distance, index = edge_distances(np.array([(6.9, 2.5), (9.9, 2.5)]), part.edges)
    assert distance == pytest.approx([0.1, 2.9])
    assert {part.edge_name(i) for i in index.tolist()} == {"outline"}


@pytest.mark.parametrize("over", [0.5, 0.0, -0.0015])
def test_a_trim_line_may_run_over_the_edge_or_end_a_hair_before_it(over):
    part = cut([((7, -over), (7, 5 + over))])
    assert part.outline.area == pytest.approx(35.0)


def test_a_trim_line_that_does_not_cut_through_stays_a_trim_line():
    part = cut([((7, 1), (7, 4))])
    assert part.outline.area == pytest.approx(50.0)
    assert len(part.trim) == 1


def test_of_two_trim_lines_each_takes_its_piece_off():
    part = cut([((7, 0), (7, 5)), ((0, 1), (10, 1))])
    assert part.outline.area == pytest.approx(28.0)


def test_a_trim_line_in_the_kept_piece_that_cuts_nothing_stays():
    part = cut([((7, 0), (7, 5)), ((2, 2), (3, 2))])
    assert (part.outline.area, len(part.trim)) == (pytest.approx(35.0), 1)


def test_trim_lines_that_meet_cut_a_corner_off():
    part = cut([((7, 5), (7, 3)), ((7, 3), (10, 3))])
    assert part.outline.area == pytest.approx(50 - 6)


def test_a_cutout_across_the_trim_line_becomes_part_of_the_outline():
    part = cut([((7, 0), (7, 5))], round_cutouts=[(7, 2.5, 1.0), (2, 2, 0.5), (9, 2, 0.5)])
    assert part.outline.area == pytest.approx(35 - math.pi / 2)
    assert [cutout.area for cutout in part.cutouts] == pytest.approx([math.pi / 4])
    distance, _ = edge_distances(np.array([(5.9, 2.5)]), part.edges)
    assert distance == pytest.approx([0.1], abs=1e-12)


def test_a_round_end_is_cut_exactly():
    disc = Plate(corners=[(-9, -9), (9, -9), (9, 9), (-9, 9)], trim=[((1, -3), (1, 3))]).part()
    half = np.array([math.pi, math.pi])
    rim = arc_edges(np.zeros((2, 2)), np.array([2.0, 2.0]), np.array([0.0, math.pi]), half)
    part = trimmed(replace(disc, outline=Loop(rim, "0", "arcs")))
    beyond = 4 * math.acos(0.5) - math.sqrt(3)
    assert part.outline.area == pytest.approx(4 * math.pi - beyond, abs=1e-12)


def test_a_bent_trim_line_cuts_too():
    plate = Plate().part()
    sweep = np.array([math.pi / 2])
    bow = arc_edges(np.array([(10.0, 0.0)]), np.array([2.0]), np.array([math.pi / 2]), sweep)
    part = trimmed(replace(plate, trim=join_edges([plate.trim, bow])))
    assert part.outline.area == pytest.approx(50 - math.pi, abs=1e-12)


def test_holes_keep_their_numbers_and_those_beyond_the_cut_are_not_in_metal():
    part = cut([((7, 0), (7, 5))], singles=[(1, 1), (8, 1), (6, 1)])
    assert [hole.label for hole in part.holes] == ["X1", "X2", "X3"]
    assert part.in_metal.tolist() == [True, False, True]


def test_equal_halves_have_to_be_chosen_from():
    with pytest.raises(GeometryError, match=r"two pieces of 25 square inches alike"):
        cut([((5, 0), (5, 5))])
    assert cut([((5, 0), (5, 5))], (1, 1)).outline.area == pytest.approx(25.0)


def test_a_point_in_no_piece_is_refused():
    with pytest.raises(GeometryError, match=r"the point \(12, 1\) in lies in none of the 2"):
        cut([((7, 0), (7, 5))], (12, 1))
