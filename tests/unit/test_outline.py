"""Loose edges chained into loops, and what stays open."""

from __future__ import annotations

import itertools
import math
import random

import numpy as np
import pytest

from holeschedule.geometry.edges import Edges, arc_edges, circle_edges, join_edges, line_edges
from holeschedule.geometry.loops import signed_area
from holeschedule.geometry.outline import Chained, chain_edges
from tests.makers import edges_of

SQUARE = [(0, 0), (2, 0), (2, 2), (0, 2)]


def lines(*pairs) -> Edges:
    array = np.array(pairs, float).reshape(-1, 2, 2)
    return line_edges(array[:, 0], array[:, 1])


def areas(edges: Edges, chained: Chained) -> list[float]:
    loops = [chained.loop_edges(edges, i) for i in range(len(chained.loops))]
    for loop in loops:
        gaps = np.hypot(*(loop.end - np.roll(loop.start, -1, axis=0)).T)
        assert gaps.max() < 0.01
    return sorted(round(abs(signed_area(loop)), 9) for loop in loops)


def test_nothing_makes_nothing():
    chained = chain_edges(lines(), 0.002)
    assert (chained.loops, chained.open, chained.gaps) == ((), (), ())


@pytest.mark.parametrize("seed", range(5))
def test_a_square_closes_in_any_order_and_direction(seed):
    rng = random.Random(seed)  # noqa: S311 - a drawing is no secret
    pairs = [(b, a) if rng.random() < 0.5 else (a, b) for a, b in edges_of(SQUARE)]
    rng.shuffle(pairs)
    edges = lines(*pairs)
    chained = chain_edges(edges, 0.002)
    assert areas(edges, chained) == [4.0]
    assert chained.open == ()


def test_a_full_circle_is_a_loop_of_its_own():
    edges = circle_edges(np.array([[1.0, 1.0], [5.0, 5.0]]), np.array([0.5, 1.0]))
    chained = chain_edges(edges, 0.002)
    assert areas(edges, chained) == [round(math.pi / 4, 9), round(math.pi, 9)]


def test_two_arcs_and_a_line_and_an_arc_make_loops():
    arcs = arc_edges(
        np.array([[0.0, 0.0], [0.0, 0.0], [9.0, 0.0]]),
        np.array([1.0, 1.0, 1.0]),
        np.radians([0.0, 180.0, 0.0]),
        np.radians([180.0, 180.0, 180.0]),
    )
    edges = join_edges([arcs, lines(((8, 0), (10, 0)))])
    chained = chain_edges(edges, 0.002)
    assert areas(edges, chained) == [round(math.pi / 2, 9), round(math.pi, 9)]


# gaps -------------------------------------------------------------------------------------------


def square_with_gap(gap: float) -> Edges:
    return lines(*edges_of(SQUARE)[:3], ((0, 2), (0, gap)))


@pytest.mark.parametrize(("gap", "closes"), [(0.0019, True), (0.002, True), (0.0021, False)])
def test_ends_are_joined_up_to_the_tolerance(gap, closes):
    chained = chain_edges(square_with_gap(gap), 0.002)
    assert len(chained.loops) == closes
    if closes:
        (joined,) = chained.gaps
        assert joined.size == pytest.approx(gap)
        assert joined.at == pytest.approx((0.0, gap / 2))
    else:
        (chain,) = chained.open
        assert sorted(chain.ends) == [(0.0, 0.0), (0.0, gap)]
        assert chain.members.tolist() == [0, 1, 2, 3]


@pytest.mark.parametrize("gap", [1e-9, 5e-7, 1e-6])
def test_ends_that_differ_by_rounding_meet_without_a_word(gap):
    chained = chain_edges(square_with_gap(gap), 0.002)
    assert (len(chained.loops), chained.gaps) == (1, ())


def test_without_a_tolerance_rounding_alone_is_forgiven():
    assert len(chain_edges(square_with_gap(1e-9), 0.0).loops) == 1
    assert len(chain_edges(square_with_gap(1e-4), 0.0).loops) == 0


@pytest.mark.parametrize("shift", np.linspace(0, 1e-6, 11).tolist())
def test_rounding_never_tears_a_corner_where_three_lines_meet(shift):
    corners = [(x + shift, y + shift) for x, y in [(0, 0), (1, 0), (2, 0), (2, 2), (1, 2), (0, 2)]]
    pairs = edges_of(corners)
    pairs.append(((1 + shift + 4e-7, shift - 4e-7), (1 + shift, 2 + shift)))
    pairs[1] = ((1 + shift - 4e-7, shift + 4e-7), corners[2])
    edges = lines(*pairs)
    chained = chain_edges(edges, 0.002)
    assert areas(edges, chained) == pytest.approx([4.0], abs=1e-5)


def test_the_nearest_ends_are_joined_first():
    near = lines(((0, 0), (1, 0)), ((1.0005, 0), (2, 0)), ((1.0014, 0), (1.0014, 5)))
    (joined, *_) = chain_edges(near, 0.002).gaps
    assert joined.size == pytest.approx(0.0005)


def test_a_third_end_within_the_tolerance_joins_the_corner():
    pairs = [*edges_of(SQUARE)[:3], ((0, 2), (0.0005, 0.0)), ((0.0, 0.0008), (1, 1))]
    chained = chain_edges(lines(*pairs), 0.002)
    assert len(chained.loops) == 1
    assert [chain.members.tolist() for chain in chained.open] == [[4]]


# open -------------------------------------------------------------------------------------------


def test_strokes_are_told_chain_by_chain_with_their_ends():
    edges = lines(*edges_of(SQUARE), ((5, 5), (6, 5)), ((6, 5), (7, 7)), ((9, 9), (9, 8)))
    chained = chain_edges(edges, 0.002)
    assert [chain.members.tolist() for chain in chained.open] == [[4, 5], [6]]
    assert sorted(chained.open[0].ends) == [(5.0, 5.0), (7.0, 7.0)]


def test_a_stroke_that_hangs_on_a_corner_is_peeled_off():
    edges = lines(*edges_of(SQUARE), ((2, 2), (3, 3)), ((3, 3), (4, 3)))
    chained = chain_edges(edges, 0.002)
    assert areas(edges, chained) == [4.0]
    assert [chain.members.tolist() for chain in chained.open] == [[4, 5]]


def test_a_line_that_ends_on_the_middle_of_another_is_a_stroke():
    edges = lines(*edges_of(SQUARE), ((1, 0), (1, 1)))
    chained = chain_edges(edges, 0.002)
    assert (areas(edges, chained), len(chained.open)) == ([4.0], 1)


# corners where more than two edges meet ---------------------------------------------------------

SPLIT = [(0, 0), (1, 0), (2, 0), (2, 2), (1, 2), (0, 2)]


def test_a_line_across_is_inner_and_its_ends_are_branches():
    edges = lines(*edges_of(SPLIT), ((1, 0), (1, 2)))
    chained = chain_edges(edges, 0.002)
    assert areas(edges, chained) == [4.0]
    assert chained.inner.tolist() == [6]
    assert chained.branches == ((1.0, 0.0), (1.0, 2.0))
    assert chained.unclear == ()


def test_a_line_across_in_two_straight_pieces_is_inner_and_clear():
    edges = lines(*edges_of(SPLIT), ((1, 0), (1, 1.2)), ((1, 2), (1, 1.2)))
    chained = chain_edges(edges, 0.002)
    assert (chained.inner.tolist(), chained.unclear) == ([6, 7], ())


def test_lines_that_cross_inside_are_inner_and_clear():
    corners = [(0, 0), (1, 0), (2, 0), (2, 1), (2, 2), (1, 2), (0, 2), (0, 1)]
    spokes = [((1, 1), at) for at in ((1, 0), (2, 1), (1, 2), (0, 1))]
    edges = lines(*edges_of(corners), *spokes)
    chained = chain_edges(edges, 0.002)
    assert (areas(edges, chained), chained.unclear) == ([4.0], ())
    assert chained.inner.tolist() == [8, 9, 10, 11]


@pytest.mark.parametrize("path", [[(1, 0), (1.5, 1), (1, 2)], [(1, 0), (1, 1), (1.1, 1), (1, 2)]])
def test_a_bent_line_across_is_unclear(path):
    edges = lines(*edges_of(SPLIT), *itertools.pairwise(path))
    chained = chain_edges(edges, 0.002)
    assert chained.unclear == ((1.0, 0.0), (1.0, 2.0))


def test_an_arc_across_is_unclear():
    arc = arc_edges(np.array([[1.0, 1.0]]), np.ones(1), np.radians([-90.0]), np.radians([180.0]))
    edges = join_edges([lines(*edges_of(SPLIT)), arc])
    chained = chain_edges(edges, 0.002)
    assert chained.unclear == ((1.0, 0.0), (1.0, 2.0))


def test_two_bend_lines_from_one_corner_are_clear():
    edges = lines(*edges_of(SPLIT), ((1, 0), (2, 2)), ((1, 0), (0, 2)))
    chained = chain_edges(edges, 0.002)
    assert (areas(edges, chained), chained.unclear) == ([4.0], ())
    assert chained.inner.tolist() == [6, 7]


def test_loops_that_touch_in_a_corner_are_two():
    edges = lines(*edges_of(SQUARE), *edges_of([(2, 2), (3, 2), (3, 3), (2, 3)]))
    chained = chain_edges(edges, 0.002)
    assert areas(edges, chained) == [1.0, 4.0]
    assert chained.branches == ((2.0, 2.0),)


def test_a_loop_inside_that_touches_a_corner_is_a_loop():
    edges = lines(*edges_of(SQUARE), *edges_of([(0, 0), (1, 0.5), (0.5, 1)]))
    chained = chain_edges(edges, 0.002)
    assert areas(edges, chained) == [0.375, 4.0]
    assert (chained.inner.tolist(), chained.unclear) == ([], ())


def test_loops_inside_loops_that_all_touch_one_corner_are_three():
    edges = lines(
        *edges_of(SQUARE),
        *edges_of([(0, 0), (1.5, 0.5), (0.5, 1.5)]),
        *edges_of([(0, 0), (0.6, 0.4), (0.4, 0.6)]),
    )
    assert areas(edges, chain_edges(edges, 0.002)) == [0.1, 1.0, 4.0]


def test_groups_apart_are_untangled_apart():
    far = [(x + 10, y) for x, y in SPLIT]
    edges = lines(*edges_of(SPLIT), ((1, 0), (1, 2)), *edges_of(far), ((11, 0), (11, 2)))
    chained = chain_edges(edges, 0.002)
    assert (areas(edges, chained), chained.inner.tolist()) == ([4.0, 4.0], [6, 13])
