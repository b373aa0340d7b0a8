"""Pairs of near points, and which hole is which once two drawings are aligned."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.holes.pairing import Grid, Spots, pair_holes

COORDINATES = st.integers(-40, 40).map(lambda step: step * 0.01)
POINTS = st.lists(st.builds(complex, COORDINATES, COORDINATES), max_size=25).map(
    lambda points: np.array(points, dtype=complex)
)


def spots(*points: complex, diameter: float = 0.098) -> Spots:
    return Spots(np.array(points, dtype=complex), np.full(len(points), diameter))


@settings(max_examples=50, deadline=None)
@given(POINTS, POINTS, st.sampled_from([0.01, 0.05, 0.3]), st.sampled_from([0, 1e7 - 1e7j]))
def test_near_points_are_those_that_comparing_each_with_each_finds(points, others, reach, far):
    which, other, distance = Grid(others + far, reach).near(points + far)
    apart = np.abs(points[:, None] - others[None, :])
    # a grid of hundredths has pairs exactly on the reach, and so far out floats round by 1e-9
    surely, perhaps = apart < reach - 1e-6, apart <= reach + 1e-6
    found = np.zeros_like(surely)
    found[which, other] = True
    assert len(which) == np.count_nonzero(found)
    assert np.all(surely <= found)
    assert np.all(found <= perhaps)
    assert distance == pytest.approx(apart[which, other], abs=1e-6)


def test_a_point_exactly_at_the_reach_is_near() -> None:
    assert len(Grid(np.array([0.1 + 0j]), 0.005).near(np.array([0.105 + 0j]))[0]) == 1
    assert len(Grid(np.array([0.1 + 0j]), 0.005).near(np.array([0.105001 + 0j]))[0]) == 0


def test_the_distance_to_the_next_hole_is_known_as_far_as_it_matters() -> None:
    assert spots(0, 0.3, 1.0, 9.0).neighbours == pytest.approx([0.3, 0.3, 0.5, 0.5])


def test_of_several_holes_within_the_tolerance_each_has_one_partner_the_nearest() -> None:
    pairing = pair_holes(spots(0, 0.004), spots(0.003, 0.0045), 0.005)
    assert pairing.partner.tolist() == [0, 1]
    assert pairing.distance == pytest.approx([0.003, 0.0005])
    assert pairing.score == (2, 2)


def test_a_kept_hole_of_another_size_is_counted_as_kept_alone() -> None:
    new = Spots(np.array([0j, 1 + 0j]), np.array([0.098, 0.191]))
    pairing = pair_holes(spots(0, 1), new, 0.005)
    assert (pairing.score, pairing.identified) == ((2, 1), 2)


def test_a_moved_hole_is_identified_but_not_kept() -> None:
    pairing = pair_holes(spots(0, 1), spots(0, 1.2), 0.005)
    assert (pairing.score, pairing.identified) == ((1, 1), 2)
    assert pairing.distance == pytest.approx([0.0, 0.2])


def test_without_holes_there_are_no_pairs() -> None:
    assert pair_holes(spots(), spots(1), 0.005).identified == 0
    assert pair_holes(spots(1), spots(), 0.005).partner.tolist() == [-1]
