"""The share of misalignments that stay legal, against areas known in closed form."""

import math

import numpy as np
import pytest

from holeschedule.joints.misalignment import legal_share

T = 1 / 64


def segment(d, r):
    """Area of the part of a disc of radius r beyond a line at the distance d from its centre."""
    return r**2 * math.acos(d / r) - d * math.sqrt(r**2 - d**2)


def lens(d, r, q):
    """Area that two discs of radius r and q, their centres d apart, have in common."""
    a = (d**2 + r**2 - q**2) / (2 * d)
    b = d - a
    return segment(a, r) + (q**2 * math.acos(b / q) - b * math.sqrt(q**2 - b**2))


def edge_off(spare, way=(1.0, 0.0)):
    """Margins off a straight edge that leaves `spare` [in]."""
    return lambda shift: spare - shift @ np.array(way)


@pytest.mark.parametrize("turn", [0.0, 0.3, math.pi / 2, 4.0])
@pytest.mark.parametrize("share", [-0.9, -0.5, -0.1, 0.0, 0.1, 0.5, 0.9, 0.999])
def test_off_a_straight_edge_the_legal_part_is_the_disc_less_a_segment(share, turn):
    spare = share * T
    expected = 1 - segment(spare, T) / (math.pi * T**2)
    way = (math.cos(turn), math.sin(turn))
    assert legal_share(edge_off(spare, way), T) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("limit", [0.05, 0.2, 3.0])
@pytest.mark.parametrize("share", [-0.7, 0.0, 0.7])
def test_off_another_hole_the_legal_part_is_the_disc_less_a_lens(share, limit):
    apart = limit + share * T
    hole = np.array([apart, 0.0])
    expected = 1 - lens(apart, T, limit) / (math.pi * T**2)
    found = legal_share(lambda shift: np.hypot(*(shift - hole).T) - limit, T)
    assert found == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("share", [-0.7, 0.0, 0.7])
def test_inside_a_round_outline_the_legal_part_is_a_lens(share):
    room = 0.4  # radius of the outline less the limit
    off = room - share * T
    centre = np.array([-off, 0.0])
    expected = lens(off, T, room) / (math.pi * T**2)
    found = legal_share(lambda shift: room - np.hypot(*(shift - centre).T), T)
    assert found == pytest.approx(expected, abs=1e-4)


def test_in_a_corner_both_edges_count():
    margins = lambda shift: np.minimum(-shift[:, 0], -shift[:, 1])  # noqa: E731 - one line is clear
    assert legal_share(margins, T) == pytest.approx(0.25, abs=1e-4)


def test_between_two_edges_a_strip_is_left():
    half = 0.3 * T
    margins = lambda shift: half - np.abs(shift[:, 0])  # noqa: E731 - one line is clear
    expected = 1 - 2 * segment(half, T) / (math.pi * T**2)
    assert legal_share(margins, T) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(("spare", "expected"), [(T, 1.0), (2 * T, 1.0), (-T, 0.0), (-2 * T, 0.0)])
def test_beyond_the_tolerance_all_or_nothing_is_legal(spare, expected):
    assert legal_share(edge_off(spare), T) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(("spare", "expected"), [(0.0, 1.0), (1e-6, 1.0), (-1e-6, 0.0)])
def test_without_a_tolerance_the_hole_is_legal_or_not(spare, expected):
    assert legal_share(edge_off(spare), 0.0) == expected
