"""Rivets for a stack: length, designation, shop head."""

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.audit.rules import load_rule_set
from holeschedule.errors import TableError
from holeschedule.fastener_tables import LengthRule, rivet_lengths, shop_head_limits
from holeschedule.joints.fasteners import (
    Designation,
    RivetChoice,
    check_shop_head,
    choose_rivet,
    expect_shop_head,
    parse_designation,
    pick_length,
)
from holeschedule.joints.stack import Sheet, countersink_depth, stack_at
from holeschedule.model import Head
from holeschedule.tables import RivetSize, flush_head, rivet_size, rivet_sizes

FAA = load_rule_set("faa")
NEAREST, ABOVE = LengthRule.NEAREST, LengthRule.NEXT_ABOVE
EIGHTH = rivet_size("1/8")
LENGTHS = st.floats(min_value=0.05, max_value=1.0)


def choice(
    *sheets: float | None,
    rivet: str = "1/8",
    head: Head = Head.PROTRUDING,
    shop_head: Head = Head.PROTRUDING,
    rule: LengthRule | None = None,
    half_sizes: bool = False,
    limits: str = "faa",
) -> RivetChoice:
    layers = [Sheet(f"layer {place}", sheet) for place, sheet in enumerate(sheets)]
    stack = stack_at(layers, rivet_size(rivet), head, shop_head)
    rules = replace(FAA, shop_head=shop_head_limits(limits))
    return choose_rivet(stack, rules, rule=rule, half_sizes=half_sizes)


def told(found: RivetChoice) -> list[str]:
    return [item.code for item in (*found.findings, *found.notices)]


# Lengths ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("needed", "nearest", "above"),
    [
        (0.25, 4, 4),
        (0.2501, 4, 5),
        (0.28124, 4, 5),
        (0.28125, 5, 5),  # half-way: the longer
        (0.3124, 5, 5),
        (0.3126, 5, 6),
        (0.05, 2, 2),
        (1.0, 16, 16),
        (1.0312, 16, None),
        (1.03125, None, None),
        (3.0, None, None),
    ],
)
def test_the_length_is_the_nearest_or_the_next_above(
    needed: float, nearest: float | None, above: float | None
) -> None:
    for rule, dash in ((NEAREST, nearest), (ABOVE, above)):
        found = pick_length(needed, rule)
        assert (found.dash if found else None) == dash


@pytest.mark.parametrize(("needed", "nearest", "above"), [(0.2675, 4.5, 4.5), (0.26, 4, 4.5)])
def test_half_sizes_are_taken_where_there_are_any(
    needed: float, nearest: float, above: float
) -> None:
    for rule, dash in ((NEAREST, nearest), (ABOVE, above)):
        found = pick_length(needed, rule, half_sizes=True)
        assert found is not None
        assert (found.dash, found.is_half) == (dash, dash == 4.5)


@given(LENGTHS, st.booleans())
def test_no_length_that_is_made_suits_better(needed: float, half_sizes: bool) -> None:
    made = [size.length for size in rivet_lengths(half_sizes=half_sizes)]
    nearest = pick_length(needed, NEAREST, half_sizes=half_sizes)
    above = pick_length(needed, ABOVE, half_sizes=half_sizes)
    assert nearest is not None
    assert above is not None
    assert abs(nearest.length - needed) <= min(abs(one - needed) for one in made) + 1e-9
    assert above.length >= needed - 1e-9
    assert not [one for one in made if needed <= one < above.length]
    assert nearest.length <= above.length


def test_a_sum_that_a_float_misses_by_a_hair_is_exactly_on_its_length() -> None:
    # 0.1 + 0.2 is more than 0.3; such a hair does not make the rivet a size longer
    found = pick_length(0.3125 + 1e-12, ABOVE)
    assert found is not None
    assert found.dash == 5


# Designations ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "designation"),
    [
        ("MS20426AD3-4", "MS20426AD3-4"),
        (" ms20470ad-4-6 ", "MS20470AD4-6"),
        ("MS20470 AD4-3.5", "MS20470AD4-3.5"),
        ("AN470DD12-16", "AN470DD12-16"),
    ],
)
def test_a_designation_is_read_however_it_is_written(written: str, designation: str) -> None:
    assert str(parse_designation(written)) == designation


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("AD3-4", "'AD3-4' is not a rivet; write standard, alloy, diameter and length, as in MS"),
        ("MS20426AD3", "'MS20426AD3' is not a rivet; write standard"),
        ("MS20426AD3-4.25", "'MS20426AD3-4.25' is not a rivet; write standard"),
        ("", "'' is not a rivet; write standard"),
        ("MS20427AD3-4", "'MS20427AD3-4': MS20427 is not known; choose from AN426, AN470, MS20426"),
        ("MS20426E3-4", "'MS20426E3-4': E is not known; choose from A, AD, B, D, DD"),
        ("MS20426AD7-4", "'7' is not a rivet size; choose from 1/16 (-2), "),
    ],
)
def test_what_is_not_a_rivet_is_refused(written: str, message: str) -> None:
    with pytest.raises(TableError) as caught:
        parse_designation(written)
    assert str(caught.value).startswith(message)


def test_a_designation_says_head_and_length() -> None:
    rivet = parse_designation("AN426AD5-6")
    assert (rivet.head, rivet.length, rivet.dash) == (Head.FLUSH, 0.375, 5)
    assert parse_designation("MS20470AD3-3.5").length == 0.21875


# The choice ------------------------------------------------------------------------------------


def test_a_rivet_is_chosen_for_grip_and_head() -> None:
    found = choice(0.032, 0.063)
    assert found.needed == pytest.approx(0.095 + 0.1875)
    assert (found.designation, found.dash_length) == ("MS20470AD4-5", 5)
    assert choice(0.032, 0.063, head=Head.FLUSH).designation == "MS20426AD4-5"


def test_where_the_rules_differ_both_rivets_are_told() -> None:
    found = choice(0.032, 0.032)
    assert found.designation == "MS20470AD4-4"
    assert found.alternative is not None
    assert str(found.alternative.designation) == "MS20470AD4-5"
    (notice,) = found.notices
    assert notice.code == "rivet.lengths-differ"
    assert notice.text == "MS20470AD4-4 is nearest, MS20470AD4-5 next above"


def test_the_rule_of_the_set_or_the_one_asked_for_counts() -> None:
    assert FAA.rivet_length is NEAREST
    found = choice(0.032, 0.032, rule=ABOVE)
    assert found.designation == "MS20470AD4-5"
    assert found.alternative is not None
    assert found.alternative.rule is NEAREST
    stack = stack_at([Sheet("A", 0.032), Sheet("B", 0.032)], EIGHTH, Head.PROTRUDING)
    own = replace(FAA, rivet_length=ABOVE)
    assert choose_rivet(stack, own) == found


def test_where_the_rules_agree_there_is_one_rivet() -> None:
    found = choice(0.032, 0.063)
    assert found.alternative is None
    assert found.notices == ()


def test_a_half_size_is_written_with_its_half() -> None:
    assert choice(0.040, 0.040, half_sizes=True).designation == "MS20470AD4-4.5"


def test_without_a_grip_no_rivet_is_chosen() -> None:
    found = choice(0.032, None)
    assert (found.grip, found.needed, found.chosen, found.designation) == (None, None, None, None)
    assert found.dash_length is None


def test_beyond_the_longest_length_no_rivet_is_chosen() -> None:
    found = choice(0.5, 0.5)
    assert found.designation is None
    (notice,) = found.notices
    assert notice.code == "rivet.no-length"
    assert "a grip of 1.000 in: the longest in the table is 1.000 in" in notice.text


def test_at_the_end_of_the_table_the_other_rule_may_still_have_a_rivet() -> None:
    found = choice(0.4, 0.42, rule=ABOVE)
    assert found.needed == pytest.approx(1.0075)
    assert found.designation is None
    assert found.alternative is not None
    assert str(found.alternative.designation) == "MS20470AD4-16"


# The shop head ---------------------------------------------------------------------------------


def test_a_tail_of_one_and_a_half_diameters_in_a_snug_hole_keeps_its_metal() -> None:
    head = expect_shop_head(
        EIGHTH, 0.1, 0.1 + 0.1875, EIGHTH.shank_diameter, FAA.shop_head, Head.PROTRUDING
    )
    # 1.5 D tall and 1 D wide is 1.5 D wide and 1.5 / 1.5² D tall
    assert head.width == pytest.approx(1.5 * 0.125)
    assert head.height == pytest.approx(1.5 / 1.5**2 * 0.125)
    assert head.volume == pytest.approx(math.pi / 4 * 0.125**2 * 0.1875)
    assert head.widths == pytest.approx((math.sqrt(1.5 / 0.66) * 0.125, 1.66 * 0.125))


def test_filling_the_hole_takes_metal_from_the_head() -> None:
    def height(hole: float, head: Head = Head.PROTRUDING) -> float:
        return expect_shop_head(EIGHTH, 0.1, 0.3125, hole, FAA.shop_head, head).height

    assert height(0.1285) < height(0.125)
    taken = math.pi / 4 * (0.1285**2 - 0.125**2) * 0.1
    assert (height(0.125) - height(0.1285)) * math.pi / 4 * 0.1875**2 == pytest.approx(taken)
    # a flush head fills the top of the hole itself
    assert height(0.1285) < height(0.1285, Head.FLUSH) < height(0.125)


def tail_for(width: float, height: float) -> float:
    """Length beyond the grip that makes a head of so many D, in a snug hole."""
    return width**2 * height * 0.125


@pytest.mark.parametrize(
    ("limits", "tail", "outcome"),
    [
        ("faa", tail_for(1.25, 0.33), "forms"),
        ("faa", tail_for(1.25, 0.33) - 1e-6, "short"),
        ("faa", tail_for(1.25, 0.33) + 1e-6, "forms"),
        ("faa", tail_for(1.66, 0.66), "forms"),
        ("faa", tail_for(1.66, 0.66) + 1e-6, "long"),
        ("mil-hdbk-5", tail_for(1.3, 0.3), "forms"),
        ("mil-hdbk-5", tail_for(1.3, 0.3) - 1e-6, "short"),
        ("mil-hdbk-5", 1.0, "forms"),
        ("mil-r-47196a", tail_for(1.3, 0.4), "forms"),
        ("mil-r-47196a", tail_for(1.3, 0.4) - 1e-6, "short"),
    ],
)
def test_a_tail_forms_a_head_within_the_limits_or_is_too_short_or_too_long(
    limits: str, tail: float, outcome: str
) -> None:
    rules = shop_head_limits(limits)
    head = expect_shop_head(EIGHTH, 0.1, 0.1 + tail, 0.125, rules, Head.PROTRUDING)
    assert (head.widths is not None) == (outcome == "forms")
    if head.widths is not None:
        for width in head.widths:
            height = head.volume / (math.pi / 4 * width**2)
            assert check_shop_head(EIGHTH, rules, width=width, height=height) == ()


@given(
    st.sampled_from(rivet_sizes()),
    st.floats(min_value=0.02, max_value=0.5),
    st.floats(min_value=0.0, max_value=0.8),
    st.sampled_from(["faa", "mil-hdbk-5", "mil-r-47196a"]),
)
def test_a_head_driven_to_a_width_offered_is_within_the_limits(
    rivet: RivetSize, grip: float, tail: float, limits: str
) -> None:
    rules = shop_head_limits(limits)
    hole = rivet.final_drill.diameter
    head = expect_shop_head(rivet, grip, grip + tail, hole, rules, Head.PROTRUDING)
    for width in head.widths or ():
        height = head.volume / (math.pi / 4 * width**2)
        assert check_shop_head(rivet, rules, width=width, height=height) == ()
    if head.widths is None and head.volume > 0:
        for width in (1.25, 1.3, 1.5, 1.66):
            measured = width * rivet.shank_diameter
            height = head.volume / (math.pi / 4 * measured**2)
            assert check_shop_head(rivet, rules, width=measured, height=height)


def test_a_rivet_that_is_too_short_says_what_it_makes_and_what_to_take() -> None:
    # -2, the shortest there is, is nearest to 0.146 in, but a wide hole takes its tail
    stack = stack_at([Sheet("A", 0.03), Sheet("B", 0.023)], rivet_size("1/16"), Head.PROTRUDING)
    found = choose_rivet(stack, FAA, hole=0.09)
    (finding,) = found.findings
    assert finding.code == "rivet.too-short"
    assert finding.text == (
        "MS20470AD2-2 is too short: its tail makes a head 0.094 in wide and 0.007 in high, and the"
        " least is 0.078 in by 0.021 in: take a longer one"
    )


def test_a_rivet_that_is_too_long_says_so() -> None:
    # the shortest that is made is far too long for a 1/16 rivet in foil
    found = choice(0.004, 0.004, rivet="1/16")
    (finding,) = found.findings
    assert finding.code == "rivet.too-long"
    assert finding.text.startswith("MS20470AD2-2 is too long: its tail makes a head 0.094 in wide")
    assert finding.text.endswith("and the most is 0.104 in by 0.041 in: take a shorter one")
    assert choice(0.004, 0.004, rivet="1/16", limits="mil-hdbk-5").findings == ()


def test_a_tail_that_is_all_used_up_makes_no_head() -> None:
    head = expect_shop_head(EIGHTH, 0.3, 0.25, 0.1285, FAA.shop_head, Head.PROTRUDING)
    assert head.volume < 0
    assert head.widths is None


@pytest.mark.parametrize(
    ("width", "height", "codes"),
    [
        (1.5, 0.5, []),
        (1.25, 0.66, []),
        (1.66, 0.33, []),
        (1.2499, 0.5, ["shop-head.narrow"]),
        (1.6601, 0.5, ["shop-head.wide"]),
        (1.5, 0.3299, ["shop-head.low"]),
        (1.5, 0.6601, ["shop-head.high"]),
        (1.2, 0.7, ["shop-head.narrow", "shop-head.high"]),
        (None, 0.5, []),
        (None, None, []),
    ],
)
def test_a_measured_head_is_held_against_the_limits(
    width: float | None, height: float | None, codes: list[str]
) -> None:
    found = check_shop_head(
        EIGHTH,
        FAA.shop_head,
        width=None if width is None else width * 0.125,
        height=None if height is None else height * 0.125,
    )
    assert [finding.code for finding in found] == codes


def test_a_finding_about_a_head_names_limit_and_source() -> None:
    (finding,) = check_shop_head(EIGHTH, FAA.shop_head, width=0.15)
    assert finding.text == (
        "a shop head 0.150 in in width is too narrow for a 1/8 rivet; the least is 0.156 in"
        " (1.25 D)"
    )
    assert finding.source.startswith("FAA-H-8083-31")
    assert (finding.limit, finding.measured) == (0.15625, 0.15)


# A flush shop head -----------------------------------------------------------------------------


def test_a_flush_shop_head_takes_the_metal_of_its_cone() -> None:
    found = choice(0.025, 0.125, 0.025, head=Head.FLUSH, shop_head=Head.FLUSH)
    assert found.chosen is not None
    assert found.chosen.shop_head is None
    assert told(found) == ["rivet.by-volume"]
    # layer by layer: all metal below the first head, in slices of the space it fills
    head, shank, hole, grip = flush_head(4), 0.125, 0.1285, 0.175
    depth = countersink_depth(head.diameter, hole)
    steps = 20_000
    room = 0.0
    for step in range(steps):
        z = head.height + (step + 0.5) * (grip - head.height) / steps
        wide = max(hole, head.diameter - 2 * (grip - z) * math.tan(math.radians(50)))
        room += math.pi / 4 * wide**2 * (grip - head.height) / steps
    assert depth < grip - head.height
    assert found.needed == pytest.approx(head.height + room / (math.pi / 4 * shank**2), abs=1e-6)


def test_designations_are_equal_by_value() -> None:
    assert parse_designation("MS20470AD4-4") == Designation("MS20470", "AD", 4, 4.0)


# The documentation -----------------------------------------------------------------------------

ROOT = Path(__file__).parents[2]


def test_every_finding_and_notice_is_documented() -> None:
    modules = ("stack", "fasteners", "strength")
    sources = [(ROOT / "holeschedule" / "joints" / f"{name}.py").read_text() for name in modules]
    said = {
        code
        for text in sources
        for code in re.findall(r'"((?:stack|rivet|strength)\.[a-z]+(?:-[a-z]+)*)"', text)
    }
    said |= {"rivet.too-short", "rivet.too-long", "treatment.choose"}
    said |= {f"shop-head.{word}" for word in ("narrow", "wide", "low", "high")}
    page = (ROOT / "docs" / "rivets.md").read_text(encoding="utf-8")
    listed = [row for row in page.splitlines() if re.match(r"\| `[a-z-]+\.", row)]
    documented = {code for row in listed for code in re.findall(r"`([a-z-]+\.[a-z-]+)`", row)}
    assert documented == said
