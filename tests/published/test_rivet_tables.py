"""Rivets, their holes, heads and sheets against publications.

[1] NAVEDTRA 14315 ch. 3: dash numbers count 32nds (diameter) and 16ths (length) of an inch.
[2] AC 43.13-1B, Table 4-10, p. 4-38: rivets per inch of 2117 AD rivets in clad 2024-T3, with note
    b: shear 50 and bearing 160 percent of the sheet's tension.
[3] AC 43.13-1B, par 4-57a(4), p. 4-16: 100 degrees is the standard flush angle.
[4] TM 9-2320-363-34-2, Tables 3 and 4, p. 22-18: countersink diameters of blind rivets with the
    same heads; least sheet for a machine countersink.
[5] MIL-HDBK-5F, as quoted in a discussion note: MS20426AD3 cut into 0.032 sheet is a knife edge.
[6] Service and repair manual of a US fighter of the Second World War, rivet section, par 14.
[7] MIL-HDBK-5H, par 8.1.2, p. 8-9, and MIL-R-47196A as quoted: least shop heads.
[8] FAA airframe knowledge-test answers on rivet length.
[9] NAVEDTRA 14018 ch. 13, rule 5: no rivet below 3/32 in structure.
"""

import math

import pytest

from holeschedule.model import HoleSize
from holeschedule.tables import (
    HeadSize,
    countersink_least_sheet,
    drill_named,
    flush_head,
    flush_heads,
    mark_fits,
    rivet_for_hole,
    rivet_of_dash,
    rivet_size,
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


@pytest.mark.parametrize(
    ("sheet", "rivet", "printed"),
    [  # [2] Table 4-10, cells of both modes of failure and every rivet
        (0.016, "3/32", 6.5),
        (0.040, "3/32", 11.1),
        (0.016, "1/8", 4.9),
        (0.064, "1/8", 9.9),
        (0.020, "5/32", 3.9),
        (0.128, "5/32", 12.9),
        (0.032, "3/16", 3.3),
        (0.102, "3/16", 7.1),
        (0.036, "1/4", 2.4),
        (0.128, "1/4", 4.9),
    ],
)
def test_rivets_per_inch_of_table_4_10_come_out_with_the_holes_here(
    sheet: float, rivet: str, printed: float
) -> None:
    """One rivet holds its hole's area in shear, or the hole's bearing; the sheet its tension."""
    # strength is reckoned on #41 for 3/32, the smaller of its two final sizes
    hole = {"3/32": drill_named("#41").diameter}.get(rivet, rivet_size(rivet).final_drill.diameter)
    assert hole in rivet_size(rivet).final_diameters
    bearing = 1 / (1.60 * hole)
    shear = sheet / (0.50 * math.pi / 4 * hole**2)
    # the cells are printed to one decimal, and some are cut off instead of rounded
    assert max(bearing, shear) == pytest.approx(printed, abs=0.08)


@pytest.mark.parametrize("head", flush_heads(), ids=lambda head: head.dash)
def test_a_flush_head_is_as_high_as_its_cone_of_100_degrees(head: HeadSize) -> None:
    """[3]: from the head's diameter down to the shank's, at half the angle."""
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
    """[4] Table 3: the band is centred on the head, and a mark anywhere in it fits the rivet."""
    assert flush_head(dash).diameter == pytest.approx((least + most) / 2, abs=1e-9)
    for diameter in (least, most):
        assert mark_fits(diameter) is rivet_of_dash(dash)


@pytest.mark.parametrize(
    ("dash", "printed"),
    [(3, 0.040), (4, 0.050), (5, 0.064), (6, 0.072)],
)
def test_least_sheets_of_table_4(dash: int, printed: float) -> None:
    """[4] Table 4."""
    least = countersink_least_sheet(dash)
    assert least is not None
    assert (least.value, least.basis) == (printed, "read")


def test_the_cell_for_a_quarter_inch_contradicts_its_head_and_is_not_used() -> None:
    """[4] Table 4 prints 0.072 for 1/4, less than the head is high."""
    assert flush_head(8).height > 0.072
    assert countersink_least_sheet(8) is None


def test_a_knife_edge_is_thinner_than_the_least_sheet() -> None:
    """[5]."""
    least = countersink_least_sheet(3)
    assert least is not None
    assert flush_head(3).height > 0.032
    assert least.value > 0.032


@pytest.mark.parametrize(
    ("rivet", "height", "width"),
    [("1/8", 0.063, 0.188), ("5/32", 0.078, 0.234), ("3/16", 0.093, 0.281)],
)
def test_shop_heads_of_the_repair_manual_par_14(rivet: str, height: float, width: float) -> None:
    """[6]: its sizes are the usual ones here."""
    shank = rivet_size(rivet).shank_diameter
    usual = {d: value_named(f"shop_head.faa.{d}.usual").value * shank for d in ("height", "width")}
    # printed to thousandths, cut off
    assert usual == {
        "height": pytest.approx(height, abs=0.001),
        "width": pytest.approx(width, abs=0.001),
    }


@pytest.mark.parametrize(
    ("rivet", "width"),
    [("3/32", 0.122), ("1/16", 0.081)],
)
def test_the_least_shop_head_of_the_handbook_is_that_of_the_specification(
    rivet: str, width: float
) -> None:
    """[7]: 1.3 D in the handbook, inches in the specification."""
    least = value_named("shop_head.mil-hdbk-5.width.least").value
    assert least * rivet_size(rivet).shank_diameter == pytest.approx(width, abs=0.0005)


def test_limits_of_the_shop_head_enclose_the_usual_one() -> None:
    for dimension in ("width", "height"):
        least, usual, most = (
            value_named(f"shop_head.faa.{dimension}.{part}").value
            for part in ("least", "usual", "most")
        )
        assert least < usual < most
        assert value_named(f"shop_head.mil-hdbk-5.{dimension}.least").value < usual


@pytest.mark.parametrize(
    ("sheets", "dash_length"),
    [((0.032, 0.032), 4), ((0.040, 0.040), 4)],
)
def test_rivet_lengths_of_the_knowledge_test(sheets: tuple[float, ...], dash_length: int) -> None:
    """[8]: 1/8 rivets through two sheets; the nearest length, in steps of [1]."""
    allowance = value_named("rivet_length_allowance")
    step = value_named("rivet_length_step")
    assert (allowance.unit, step.unit) == ("D", "in")
    length = sum(sheets) + allowance.value * rivet_size("1/8").shank_diameter
    assert round(length / step.value) == dash_length


def test_the_thinnest_structural_rivet_is_the_navys() -> None:
    """[9]: a hole too small for it is drilled up to it."""
    least = rivet_of_dash(int(value_named("least_structural_rivet").value))
    assert least.name == "3/32"
    assert rivet_for_hole(0.05) == (least, HoleSize.PILOT)
