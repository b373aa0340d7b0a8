"""Loose edges made fit for chaining."""

from __future__ import annotations

import math

import numpy as np
import pytest

from holeschedule.geometry.edges import Edges, arc_edges, circle_edges, join_edges, line_edges
from holeschedule.geometry.tidy import SAME, SHORTEST, Tidied, tidy_edges


def line(x0, y0, x1, y1) -> Edges:
    return line_edges(np.array([[x0, y0]], float), np.array([[x1, y1]], float))


def arc(x, y, radius, start, sweep) -> Edges:
    """An arc from `start` [deg] by `sweep` [deg]."""
    angles = np.radians([[start], [sweep]])
    return arc_edges(np.array([[x, y]], float), np.array([float(radius)]), *angles)


def tidy(*pieces: Edges, layers=None, loose=None) -> Tidied:
    n = len(pieces)
    return tidy_edges(
        join_edges(list(pieces)),
        np.array(layers if layers else [0] * n, dtype=np.intp),
        np.array(loose if loose else [True] * n, dtype=bool),
    )


def ends(edges: Edges) -> list[tuple[float, ...]]:
    return sorted(
        tuple(sorted([tuple(a), tuple(b)]))
        for a, b in zip(edges.start.tolist(), edges.end.tolist(), strict=True)
    )


def test_no_edges_are_no_edges():
    tidied = tidy()
    assert (len(tidied.edges), len(tidied.kept)) == (0, 0)


def test_clean_edges_stay_in_their_order():
    tidied = tidy(line(0, 0, 4, 0), arc(4, 1, 1, -90, 90), line(5, 1, 5, 3))
    assert tidied.kept.tolist() == [0, 1, 2]
    assert (len(tidied.empty), len(tidied.doubled), len(tidied.overlapping)) == (0, 0, 0)


@pytest.mark.parametrize(("length", "gone"), [(0.0, 1), (SHORTEST, 1), (2 * SHORTEST, 0)])
def test_what_is_shorter_than_a_millionth_is_empty(length, gone):
    tidied = tidy(line(1, 1, 1 + length, 1), line(0, 0, 4, 0))
    assert len(tidied.empty) == gone
    assert tidied.kept.tolist() == ([1] if gone else [0, 1])


def test_edges_of_a_closed_polyline_are_left_alone_however_short():
    tidied = tidy(line(1, 1, 1, 1), line(0, 0, 4, 0), loose=[False, False])
    assert tidied.kept.tolist() == [0, 1]


# doubled ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "again"),
    [
        (line(0, 0, 4, 0), line(0, 0, 4, 0)),
        (line(0, 0, 4, 1), line(4, 1, 0, 0)),
        (arc(0, 0, 1, 0, 90), arc(0, 0, 1, 90, -90)),
        (arc(0, 0, 1, 0, 90), arc(0, 0, 1, 0, 90)),
        (circle_edges(np.array([[1.0, 1.0]]), np.array([1.0])),) * 2,
    ],
)
def test_an_edge_drawn_again_in_either_direction_is_doubled(first, again):
    tidied = tidy(first, again)
    assert (tidied.kept.tolist(), tidied.doubled.tolist()) == ([0], [1])


def test_an_edge_drawn_three_times_counts_once():
    tidied = tidy(*[line(0, 0, 4, 0)] * 3)
    assert (tidied.kept.tolist(), tidied.doubled.tolist()) == ([0], [1, 2])


def test_an_arc_and_its_chord_are_two_edges():
    tidied = tidy(arc(0, 0, 1, 0, 90), line(1, 0, 0, 1))
    assert tidied.kept.tolist() == [0, 1]


def test_the_two_halves_of_a_circle_are_two_edges():
    tidied = tidy(arc(0, 0, 1, 0, 180), arc(0, 0, 1, 180, 180))
    assert tidied.kept.tolist() == [0, 1]


def test_the_same_edge_on_another_layer_is_doubled_as_well():
    tidied = tidy(line(0, 0, 4, 0), line(0, 0, 4, 0), layers=[0, 1])
    assert tidied.doubled.tolist() == [1]


def test_of_a_loose_edge_and_the_same_of_a_polyline_the_loose_one_goes():
    tidied = tidy(line(0, 0, 4, 0), line(4, 0, 0, 0), loose=[True, False])
    assert (tidied.kept.tolist(), tidied.doubled.tolist()) == ([1], [0])


# overlapping ------------------------------------------------------------------------------------


@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0, 135.0, 179.9999])
@pytest.mark.parametrize("flip", [False, True])
def test_overlapping_lines_become_the_line_over_both(turn, flip):
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def along(a: float, b: float) -> Edges:
        return line(a * c, a * s, b * c, b * s)

    tidied = tidy(along(0, 2.5), along(4, 1.5) if flip else along(1.5, 4))
    assert tidied.overlapping.tolist() == [1]
    assert tidied.edges.lengths() == pytest.approx([4.0])
    assert ends(tidied.edges)[0][0] == pytest.approx(min((0, 0), (4 * c, 4 * s)))


def test_a_chain_of_overlaps_becomes_one_line():
    tidied = tidy(line(3, 0, 5, 0), line(0, 0, 2, 0), line(1, 0, 4, 0))
    assert ends(tidied.edges) == [((0.0, 0.0), (5.0, 0.0))]
    assert tidied.kept.tolist() == [0]


def test_a_line_within_another_goes():
    tidied = tidy(line(0, 0, 4, 0), line(1, 0, 2, 0))
    assert ends(tidied.edges) == [((0.0, 0.0), (4.0, 0.0))]


def test_lines_that_only_touch_stay_two():
    tidied = tidy(line(0, 0, 2, 0), line(2, 0, 4, 0))
    assert tidied.kept.tolist() == [0, 1]


@pytest.mark.parametrize(("off", "left"), [(SAME / 2, 1), (2 * SAME, 2)])
def test_lines_side_by_side_are_one_up_to_a_ten_thousandth_apart(off, left):
    tidied = tidy(line(0, 0, 3, 0), line(1, off, 4, off))
    assert len(tidied.kept) == left


def test_overlapping_lines_of_two_layers_stay_two():
    tidied = tidy(line(0, 0, 3, 0), line(1, 0, 4, 0), layers=[0, 1])
    assert tidied.kept.tolist() == [0, 1]


def test_overlapping_edges_of_a_polyline_stay_as_they_are():
    tidied = tidy(line(0, 0, 3, 0), line(1, 0, 4, 0), loose=[False, False])
    assert tidied.kept.tolist() == [0, 1]


def test_lines_that_cross_stay_two():
    tidied = tidy(line(0, 0, 4, 4), line(0, 4, 4, 0))
    assert tidied.kept.tolist() == [0, 1]


def test_merging_keeps_arcs_as_they_were():
    bend = arc(4, 1, 1, -90, 90)
    tidied = tidy(line(0, 0, 3, 0), bend, line(2, 0, 4, 0))
    assert tidied.kept.tolist() == [0, 1]
    assert tidied.edges.radius.tolist() == [0.0, 1.0]
    assert tidied.edges.centre[1].tolist() == [4.0, 1.0]


# overlapping arcs -------------------------------------------------------------------------------


def angles(edges: Edges) -> list[tuple[float, float]]:
    """Start and sweep [deg] of arcs."""
    radial = edges.start - edges.centre
    first = np.degrees(np.arctan2(radial[:, 1], radial[:, 0])) % 360
    return list(zip(first.tolist(), np.degrees(edges.sweep).tolist(), strict=True))


@pytest.mark.parametrize("turn", [0, 100, 170, 200, 300])
@pytest.mark.parametrize("flip", [False, True])
def test_overlapping_arcs_become_the_arc_over_both(turn, flip):
    second = arc(1, 2, 3, turn + 120, -90) if flip else arc(1, 2, 3, turn + 30, 90)
    tidied = tidy(arc(1, 2, 3, turn, 60), second)
    assert (tidied.kept.tolist(), tidied.overlapping.tolist()) == ([0], [1])
    ((first, sweep),) = angles(tidied.edges)
    assert (first, sweep) == (pytest.approx(turn), pytest.approx(120))
    assert tidied.edges.points_at(1.0)[0] == pytest.approx(tidied.edges.end[0])
    assert (tidied.edges.centre[0].tolist(), tidied.edges.radius[0]) == ([1, 2], 3)


def test_an_arc_within_another_goes_and_the_others_stay():
    tidied = tidy(arc(0, 0, 1, 10, 20), arc(0, 0, 1, 0, 90), arc(0, 0, 1, 180, 90))
    assert (tidied.kept.tolist(), tidied.overlapping.tolist()) == ([0, 2], [1])
    assert angles(tidied.edges)[0] == (pytest.approx(0), pytest.approx(90))


@pytest.mark.parametrize(
    "pieces",
    [
        [(0, 190), (180, 190)],
        [(0, 200), (180, 180)],
        [(350, 130), (110, 130), (230, 130)],
        [(0, 360), (20, 50)],
        [(0, 300), (299, -100), (290, 75)],
    ],
)
def test_arcs_that_overlap_all_round_are_the_circle(pieces):
    tidied = tidy(*(arc(0, 0, 0.049, first, sweep) for first, sweep in pieces))
    assert len(tidied.edges) == 1
    assert tidied.edges.sweep.tolist() == [2 * math.pi]
    assert tidied.edges.start.tolist() == tidied.edges.end.tolist()


@pytest.mark.parametrize(
    "second",
    [
        arc(0, 0, 1, 60, 60),
        arc(0, 0, 1 + 2 * SAME, 30, 60),
        arc(2 * SAME, 0, 1, 30, 60),
        arc(0, 0, 1, 180, 60),
    ],
    ids=["only touches", "another radius", "another centre", "across"],
)
def test_arcs_that_only_touch_or_are_of_two_circles_stay_two(second):
    assert tidy(arc(0, 0, 1, 0, 60), second).kept.tolist() == [0, 1]


def test_overlapping_arcs_of_two_layers_or_of_a_polyline_stay_two():
    pair = (arc(0, 0, 1, 0, 60), arc(0, 0, 1, 30, 60))
    assert tidy(*pair, layers=[0, 1]).kept.tolist() == [0, 1]
    assert tidy(*pair, loose=[False, False]).kept.tolist() == [0, 1]


def test_two_circles_on_one_spot_cut_in_other_places_stay_two():
    halves = [arc(0, 0, 1, first, 180) for first in (0, 180, 90, 270)]
    assert tidy(*halves).kept.tolist() == [0, 1, 2, 3]
