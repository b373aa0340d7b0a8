"""Which circles are holes, which are marks, which are cutouts."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from holeschedule.holes.find import CONCENTRIC, SAME_SIZE, Circles, SortedCircles, sort_circles

LARGEST = 0.328


def circles(*rows, forced=()) -> Circles:
    """Rows of (x, y, diameter)."""
    array = np.array(rows, float).reshape(-1, 3)
    n = len(array)
    return Circles(
        centre=array[:, :2],
        diameter=array[:, 2],
        layer=np.zeros(n, dtype=np.intp),
        residual=np.zeros(n),
        drawn_as=("circle",) * n,
        forced=np.isin(np.arange(n), forced),
    )


def kinds(found: SortedCircles) -> dict[str, list[int]]:
    names = ("holes", "doubled", "marks", "large", "round_hole", "tiny")
    return {name: getattr(found, name).tolist() for name in names if len(getattr(found, name))}


def test_no_circles_are_nothing():
    assert kinds(sort_circles(circles(), LARGEST)) == {}


def test_small_circles_apart_are_holes():
    found = sort_circles(circles((0, 0, 0.098), (1, 0, 0.1285)), LARGEST)
    assert kinds(found) == {"holes": [0, 1]}
    assert np.isnan(found.mark).all()


@pytest.mark.parametrize(
    ("diameter", "kind"), [(0.327, "holes"), (LARGEST, "holes"), (0.3281, "large")]
)
def test_the_largest_hole_is_still_a_hole(diameter, kind):
    assert kinds(sort_circles(circles((0, 0, diameter)), LARGEST)) == {kind: [0]}


def test_a_circle_forced_by_its_layer_is_a_cutout_whatever_its_size():
    found = sort_circles(circles((0, 0, 0.098), (1, 0, 0.098), forced=[1]), LARGEST)
    assert kinds(found) == {"holes": [0], "large": [1]}


@pytest.mark.parametrize(("off", "doubled"), [(0.0, True), (0.0019, True), (0.0021, False)])
def test_circles_of_one_size_near_one_place_are_one(off, doubled):
    found = sort_circles(circles((0, 0, 0.098), (off, 0, 0.098)), LARGEST)
    assert kinds(found) == ({"holes": [0], "doubled": [1]} if doubled else {"holes": [0, 1]})


@pytest.mark.parametrize(
    ("more", "kind"), [(SAME_SIZE * 0.9, "doubled"), (SAME_SIZE * 1.1, "round_hole")]
)
def test_circles_of_nearly_one_size_round_one_centre_are_one(more, kind):
    found = sort_circles(circles((0, 0, 0.098), (0, 0, 0.098 + more)), LARGEST)
    assert kind in kinds(found)
    assert found.holes.tolist() == [0]


def test_of_three_alike_the_first_stays():
    found = sort_circles(circles(*[(0, 0, 0.098)] * 3), LARGEST)
    assert kinds(found) == {"holes": [0], "doubled": [1, 2]}


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_hole_mark_and_cutout_round_one_centre_in_any_order(order):
    rows = [(0, 0, 0.098), (0, 0, 0.179), (0, 0, 1.0)]
    found = sort_circles(circles(*(rows[i] for i in order)), LARGEST)
    place = {kind: order.index(kind) for kind in range(3)}
    assert found.holes.tolist() == [place[0]]
    assert found.mark.tolist() == [0.179]
    assert found.marks.tolist() == [place[1]]
    assert found.round_hole.tolist() == [place[2]]
    assert found.large.tolist() == [place[2]]


def test_of_two_marks_the_smaller_is_the_holes():
    found = sort_circles(circles((0, 0, 0.098), (0, 0, 0.225), (0, 0, 0.179)), LARGEST)
    assert found.mark.tolist() == [0.179]
    assert found.marks.tolist() == [1, 2]


def test_a_ring_that_fits_no_head_is_a_cutout_round_the_hole():
    found = sort_circles(circles((0, 0, 0.098), (0, 0, 0.25)), LARGEST)
    assert kinds(found) == {"holes": [0], "large": [1], "round_hole": [1]}


@pytest.mark.parametrize(("off", "is_mark"), [(CONCENTRIC * 0.9, True), (CONCENTRIC * 1.1, False)])
def test_a_mark_has_the_centre_of_its_hole(off, is_mark):
    found = sort_circles(circles((0, 0, 0.098), (off, 0, 0.179)), LARGEST)
    assert found.holes.tolist() == ([0] if is_mark else [0, 1])


def test_a_ring_round_a_large_circle_is_no_mark():
    found = sort_circles(circles((0, 0, 1.0), (0, 0, 2.0)), LARGEST)
    assert kinds(found) == {"large": [0, 1]}


def test_a_doubled_mark_is_told_as_doubled():
    found = sort_circles(circles((0, 0, 0.098), (0, 0, 0.179), (0, 0, 0.179)), LARGEST)
    assert kinds(found) == {"holes": [0], "marks": [1], "doubled": [2]}


@pytest.mark.parametrize(
    ("diameter", "kind"), [(0.0136, "holes"), (0.0135, "holes"), (0.0134, "tiny")]
)
def test_the_smallest_drill_makes_the_smallest_hole(diameter, kind):
    assert kinds(sort_circles(circles((0, 0, diameter)), LARGEST)) == {kind: [0]}


def test_a_dot_in_the_middle_of_a_hole_is_no_hole_in_it():
    found = sort_circles(circles((0, 0, 0.005), (0, 0, 0.098), (0, 0, 0.005)), LARGEST)
    assert kinds(found) == {"holes": [1], "tiny": [0, 2]}


def test_a_circle_of_cutouts_is_a_cutout_however_small():
    assert kinds(sort_circles(circles((0, 0, 0.005), forced=(0,)), LARGEST)) == {"large": [0]}


def test_every_circle_is_something():
    rng = np.random.default_rng(5)
    rows = np.column_stack(
        (rng.integers(0, 4, 300) * 0.001, rng.integers(0, 9, 300), rng.uniform(0.05, 0.6, 300))
    )
    found = sort_circles(circles(*rows), LARGEST)
    seen = np.concatenate([found.holes, found.doubled, found.marks, found.large])
    assert sorted(seen.tolist()) == list(range(300))
