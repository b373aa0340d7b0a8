"""Rivets, their heads and sheets against publications.

[1] NAVEDTRA 14315 ch. 3: dash numbers count 32nds of an inch.
[2] AC 43.13-1B, par 4-57a(4), p. 4-16: 100 degrees is the standard flush angle.
[3] TM 9-2320-363-34-2, Tables 3 and 4, p. 22-18: countersink diameters of blind rivets with the
    same heads; least sheet for a machine countersink.
[4] MIL-HDBK-5F, as quoted in a discussion note: MS20426AD3 cut into 0.032 sheet is a knife edge.
[5] NAVEDTRA 14018 ch. 13, rule 5: no rivet below 3/32 in structure.
"""

import math

import pytest

from holeschedule.model import HoleSize
from holeschedule.tables import (
    HeadSize,
    countersink_least_sheet,
    flush_head,
    flush_heads,
    mark_fits,
    rivet_for_hole,
    rivet_of_dash,
    rivet_sizes,
    universal_heads,
    value_named,
)


def test_dash_numbers_count_thirtyseconds() -> None:
    """[1]."""
    for size in rivet_sizes():
        assert size.shank_diameter == size.dash / 32
        over, under = map(int, size.name.split("/"))
        assert over / under == size.shank_diameter


@pytest.mark.parametrize("head", flush_heads(), ids=lambda head: head.dash)
def test_a_flush_head_is_as_high_as_its_cone_of_100_degrees(head: HeadSize) -> None:
    """[2]: from the head's diameter down to the shank's, at half the angle."""
    half_angle = math.radians(value_named("flush_head_angle").value / 2)
    shank = rivet_of_dash(head.dash).shank_diameter
    cone = (head.diameter - shank) / 2 / math.tan(half_angle)
    # both table values are rounded to thousandths
    assert head.height == pytest.approx(cone, abs=0.001)


def test_a_universal_head_is_two_shanks_wide() -> None:
    """MS20470, as recalled: to the thousandth, cut off."""
    for head in universal_heads():
        shank = rivet_of_dash(head.dash).shank_diameter
        assert head.diameter == pytest.approx(2 * shank, abs=0.001)
        assert head.height == pytest.approx(0.43 * shank, abs=0.001)


@pytest.mark.parametrize(
    ("dash", "least", "most"),
    [(4, 0.222, 0.228), (5, 0.283, 0.289), (6, 0.350, 0.356)],
)
def test_countersink_limits_of_table_3_lie_about_the_flush_head(
    dash: int, least: float, most: float
) -> None:
    """[3] Table 3: the band is centred on the head, and a mark anywhere in it fits the rivet."""
    assert flush_head(dash).diameter == pytest.approx((least + most) / 2, abs=1e-9)
    for diameter in (least, most):
        assert mark_fits(diameter) is rivet_of_dash(dash)


@pytest.mark.parametrize(
    ("dash", "printed"),
    [(3, 0.040), (4, 0.050), (5, 0.064), (6, 0.072)],
)
def test_least_sheets_of_table_4(dash: int, printed: float) -> None:
    """[3] Table 4."""
    least = countersink_least_sheet(dash)
    assert least is not None
    assert (least.value, least.basis) == (printed, "read")


def test_the_cell_for_a_quarter_inch_contradicts_its_head_and_is_not_used() -> None:
    """[3] Table 4 prints 0.072 for 1/4, less than the head is high."""
    assert flush_head(8).height > 0.072
    assert countersink_least_sheet(8) is None


def test_a_knife_edge_is_thinner_than_the_least_sheet() -> None:
    """[4]."""
    least = countersink_least_sheet(3)
    assert least is not None
    assert flush_head(3).height > 0.032
    assert least.value > 0.032


def test_the_thinnest_structural_rivet_is_the_navys() -> None:
    """[5]: a hole too small for it is drilled up to it."""
    least = rivet_of_dash(int(value_named("least_structural_rivet").value))
    assert least.name == "3/32"
    assert rivet_for_hole(0.05) == (least, HoleSize.PILOT)
