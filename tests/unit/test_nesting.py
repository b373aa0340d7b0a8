"""Which loop is the outline of which holes."""

from __future__ import annotations

import numpy as np
import pytest

from holeschedule.geometry.edges import circle_edges, line_edges
from holeschedule.geometry.loops import Loop
from holeschedule.holes.nesting import NO_LOOP, Nesting, nest_loops
from tests.makers import edges_of


def box(x0, y0, x1, y1) -> Loop:
    pairs = np.array(edges_of([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), float)
    return Loop(line_edges(pairs[:, 0], pairs[:, 1]), "0", "polyline")


def ring(x, y, radius) -> Loop:
    return Loop(circle_edges(np.array([[x, y]], float), np.array([float(radius)])), "0", "circle")


def nest(loops, centres, may_own=None) -> Nesting:
    allowed = np.ones(len(loops), dtype=bool) if may_own is None else np.array(may_own)
    return nest_loops(list(loops), np.array(centres, float).reshape(-1, 2), allowed)


def test_the_loop_round_the_holes_is_the_outline():
    nesting = nest([box(0, 0, 4, 2)], [(1, 1), (2, 1)])
    assert nesting.outlines == (0,)
    assert nesting.owner.tolist() == [0, 0]
    assert nesting.void.tolist() == [False, False]


def test_no_loops_and_no_holes():
    nesting = nest([], [])
    assert (nesting.outlines, nesting.owner.tolist()) == ((), [])
    assert nest([], [(1, 1)]).owner.tolist() == [NO_LOOP]
    assert nest([box(0, 0, 1, 1)], []).idle == (0,)


def test_loops_round_the_outline_are_frames_and_loops_inside_are_cutouts():
    loops = [box(-9, -9, 9, 9), box(0, 0, 4, 2), box(1, 1, 2, 1.5), box(-8, -8, 8, 8)]
    nesting = nest(loops, [(3, 1), (3.5, 1)])
    assert (nesting.outlines, nesting.cutouts) == ((1,), {1: (2,)})
    assert sorted(nesting.frames) == [0, 3]


def test_a_loop_in_a_cutout_is_an_island():
    nesting = nest([box(0, 0, 4, 2), box(1, 0.5, 3, 1.5), box(1.5, 0.8, 2, 1)], [(3.5, 1)])
    assert (nesting.cutouts, nesting.islands) == ({0: (1,)}, (2,))


def test_a_loop_with_nothing_in_it_is_idle():
    assert nest([box(0, 0, 4, 2), box(9, 9, 10, 10)], [(1, 1)]).idle == (1,)


def test_parts_come_from_left_to_right_then_from_below():
    loops = [box(10, 0, 14, 2), box(0, 5, 4, 7), box(0, 0, 4, 2)]
    assert nest(loops, [(11, 1), (1, 6), (1, 1)]).outlines == (2, 1, 0)


def test_a_hole_in_a_cutout_belongs_to_the_part_and_stands_in_the_void():
    nesting = nest([box(0, 0, 4, 2), box(1, 0.5, 3, 1.5)], [(0.5, 1), (3.5, 1), (2, 1)])
    assert nesting.outlines == (0,)
    assert nesting.owner.tolist() == [0, 0, 0]
    assert nesting.void.tolist() == [False, False, True]


def test_of_two_loops_with_holes_the_one_with_more_is_the_part():
    frame, part = box(0, 0, 40, 20), box(5, 5, 15, 15)
    nesting = nest([frame, part], [(1, 1), (6, 6), (7, 6), (8, 6)])
    assert (nesting.outlines, nesting.frames) == ((1,), (0,))
    assert nesting.owner.tolist() == [NO_LOOP, 1, 1, 1]


def test_a_hole_outside_has_no_owner():
    assert nest([box(0, 0, 4, 2)], [(1, 1), (5, 1)]).owner.tolist() == [0, NO_LOOP]


def test_a_part_in_the_window_of_another_is_a_part():
    loops = [box(0, 0, 10, 10), box(1, 1, 9, 9), box(2, 2, 8, 8)]
    nesting = nest(loops, [(0.5, 0.5), (5, 5)])
    assert sorted(nesting.outlines) == [0, 2]
    assert nesting.cutouts == {0: (1,), 2: ()}


def test_a_loop_that_may_not_own_leaves_its_holes_to_the_next_outwards():
    loops = [box(0, 0, 4, 2), box(0.2, 0.2, 3.8, 1.8)]
    nesting = nest(loops, [(1, 1), (2, 1)], may_own=[True, False])
    assert nesting.outlines == (0,)
    assert nesting.void.tolist() == [True, True]


def test_rings_are_loops_as_well():
    nesting = nest([ring(0, 0, 5), ring(0, 0, 2)], [(3, 0), (0, 3)])
    assert (nesting.outlines, nesting.cutouts) == ((0,), {0: (1,)})


@pytest.mark.parametrize(
    ("loop", "is_cutout"),
    [
        (box(3.9, 0.5, 9, 1.5), True),
        (box(-1, 0.5, 5, 1.5), True),
        (box(4, 0.5, 9, 1.5), False),
        (box(4 - 1e-6, 0.5, 9, 1.5), False),
        (box(4.1, 0.5, 9, 1.5), False),
        (ring(4.5, 1, 0.6), True),
    ],
)
def test_a_loop_over_the_edge_is_a_cutout_and_one_that_touches_is_not(loop, is_cutout):
    nesting = nest([box(0, 0, 4, 2), loop], [(1, 0.25)])
    assert nesting.cutouts == {0: (1,) if is_cutout else ()}
    assert nesting.idle == (() if is_cutout else (1,))


def test_the_order_in_which_loops_come_changes_nothing():
    loops = [box(-9, -9, 9, 9), box(0, 0, 4, 2), box(1, 1, 2, 1.5), box(5, 0, 8, 2)]
    centres = [(3, 1), (3.5, 1), (6, 1)]
    first = nest(loops, centres)
    other = nest(loops[::-1], centres)
    turned = {i: len(loops) - 1 - i for i in range(len(loops))}
    assert [turned[i] for i in other.outlines] == list(first.outlines)
    assert [turned[i] for i in other.owner.tolist()] == first.owner.tolist()
    assert [turned[i] for i in other.frames] == list(first.frames)
