"""The stack at a place: grip, treatments, countersinks, and what does not go together."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.errors import BuildError, TableError
from holeschedule.joints.stack import Sheet, Stack, countersink_depth, stack_at, widening
from holeschedule.model import Head
from holeschedule.operations import Treatment
from holeschedule.tables import (
    HeadSize,
    countersink_least_sheet,
    flush_head,
    flush_heads,
    rivet_of_dash,
    rivet_size,
)

FLUSH, PROTRUDING = Head.FLUSH, Head.PROTRUDING
PLAIN, DIMPLE, COUNTERSINK = Treatment.PLAIN, Treatment.DIMPLE, Treatment.COUNTERSINK
EIGHTH = rivet_size("1/8")
NAMES = "ABCDEFGH"

THICKNESSES = st.one_of(
    st.sampled_from([0.016, 0.025, 0.032, 0.040, 0.050, 0.063, 0.125]),
    st.floats(min_value=0.01, max_value=0.3),
)
STACKS = st.lists(
    st.tuples(st.none() | THICKNESSES, st.none() | st.sampled_from(list(Treatment))),
    min_size=1,
    max_size=5,
)


def stack(
    *sheets: float | tuple[float | None, Treatment | None] | None,
    rivet: str = "1/8",
    head: Head = FLUSH,
    shop_head: Head = PROTRUDING,
) -> Stack:
    """A stack of layers A, B, C, …, each a thickness or a thickness with a treatment."""
    layers = [
        Sheet(name, *(sheet if isinstance(sheet, tuple) else (sheet, None)))
        for name, sheet in zip(NAMES, sheets, strict=False)
    ]
    return stack_at(layers, rivet_size(rivet), head, shop_head)


def treatments(found: Stack) -> list[Treatment | None]:
    return [layer.treatment for layer in found.layers]


def codes(found: Stack) -> list[tuple[str, int | None]]:
    return [(finding.code, finding.layer) for finding in found.findings]


# Grip ------------------------------------------------------------------------------------------


def test_the_grip_is_the_sum_of_the_thicknesses_dimpled_or_not() -> None:
    assert stack(0.032, 0.025, 0.063).grip == pytest.approx(0.120, abs=1e-15)
    assert stack(0.032, 0.025, 0.063, head=PROTRUDING).grip == pytest.approx(0.120, abs=1e-15)


def test_without_a_thickness_there_is_no_grip_and_the_layer_is_named() -> None:
    found = stack(0.032, None, None, head=PROTRUDING)
    assert found.grip is None
    (notice,) = found.notices
    assert notice.code == "stack.no-thickness"
    assert notice.text.startswith("B, C: no thickness is stated, so there is no grip")
    assert treatments(found) == [PLAIN, PLAIN, PLAIN]


@pytest.mark.parametrize("thickness", [0.0, -0.032, math.nan, math.inf])
def test_a_thickness_that_is_none_is_refused(thickness: float) -> None:
    with pytest.raises(BuildError, match=r"^B: a thickness of .* in is none; .* above 0\.$"):
        stack(0.032, thickness)


def test_a_place_without_a_layer_is_refused() -> None:
    with pytest.raises(BuildError, match=r"a rivet needs a layer to go through; none was given\."):
        stack_at([], EIGHTH, PROTRUDING)


def test_a_flush_rivet_that_no_table_knows_is_refused() -> None:
    with pytest.raises(TableError, match=r"no 100° flush head is known for dash 10; there is one"):
        stack(0.1, 0.1, rivet="5/16")
    assert treatments(stack(0.1, 0.1, rivet="5/16", head=PROTRUDING)) == [PLAIN, PLAIN]


# Dimple or countersink -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sheet", "expected"),
    [
        (0.032, DIMPLE),
        (0.040, DIMPLE),
        (0.0401, None),
        (0.0499, None),
        (0.050, COUNTERSINK),
        (0.063, COUNTERSINK),
    ],
)
def test_the_sheet_under_a_flush_head_is_dimpled_or_countersunk_by_its_thickness(
    sheet: float, expected: Treatment | None
) -> None:
    found = stack(sheet, (0.1, PLAIN))
    assert found.layers[0].treatment is expected
    notes = [notice.code for notice in found.notices]
    assert notes == ([] if expected else ["treatment.choose"])


def test_a_sheet_that_can_neither_be_dimpled_nor_countersunk_says_what_to_choose() -> None:
    (notice,) = stack(0.045, 0.063).notices
    assert notice.text.startswith("A: 1/8 flush rivets in 0.045 in sheet: it is best dimpled up to")
    assert "choose a treatment" in notice.text


def test_below_a_sheet_that_is_not_settled_nothing_is_settled_but_by_choice() -> None:
    assert treatments(stack(0.045, 0.063)) == [None, None]
    found = stack(0.045, (0.063, COUNTERSINK), 0.063)
    assert treatments(found) == [None, COUNTERSINK, PLAIN]
    # how wide depends on whether the sheet above is dimpled
    assert found.layers[1].countersink is None
    assert found.findings == ()


def test_thin_sheets_are_dimpled_together() -> None:
    found = stack(0.025, 0.032, 0.040)
    assert treatments(found) == [DIMPLE, DIMPLE, DIMPLE]
    assert (found.findings, found.notices) == ((), ())


def test_a_thick_sheet_under_a_dimple_is_countersunk_wider_and_the_rest_is_plain() -> None:
    found = stack(0.032, 0.025, 0.080, 0.032)
    assert treatments(found) == [DIMPLE, DIMPLE, COUNTERSINK, PLAIN]
    wide = flush_head(4).diameter + 2 * (0.032 + 0.025) * (
        1 / math.cos(math.radians(50)) - math.tan(math.radians(50))
    )
    assert [layer.countersink for layer in found.layers] == [None, None, pytest.approx(wide), None]
    assert codes(found) == []


def test_a_thick_sheet_on_top_is_countersunk_as_wide_as_the_head() -> None:
    found = stack(0.063, 0.025)
    assert treatments(found) == [COUNTERSINK, PLAIN]
    assert found.layers[0].countersink == flush_head(4).diameter


def test_a_protruding_head_leaves_every_layer_plain() -> None:
    found = stack(0.025, 0.045, 0.063, head=PROTRUDING)
    assert treatments(found) == [PLAIN, PLAIN, PLAIN]
    assert (found.findings, found.notices) == ((), ())


@pytest.mark.parametrize("thickness", [0.020, 0.032, 0.0451])
@pytest.mark.parametrize("across", [0.05, 0.11])
def test_the_wider_countersink_is_where_the_lower_face_of_the_dimple_is(
    thickness: float, across: float
) -> None:
    """Measured on the section: a straight line at 50° to the axis, moved by the thickness."""
    slope = math.radians(50)
    along = (math.sin(slope), -math.cos(slope))  # down the cone, from the rim towards the axis
    normal = (math.cos(slope), -math.sin(slope))
    # a point of the head's cone, moved square to it, then followed up to the lower sheet's face
    x = across + thickness * normal[0]
    y = thickness * normal[1]
    up = (-thickness - y) / math.cos(slope)
    assert x + up * along[0] - across == pytest.approx(widening(thickness), abs=1e-12)


# Depth -----------------------------------------------------------------------------------------


def depth_under(dimpled: float) -> float:
    wide = flush_head(4).diameter + 2 * widening(dimpled)
    return countersink_depth(wide, EIGHTH.shank_diameter)


@pytest.mark.parametrize(("spare", "is_met"), [(1e-6, True), (0.0, True), (-1e-6, False)])
def test_a_countersink_under_a_dimple_may_be_as_deep_as_the_sheet(
    spare: float, is_met: bool
) -> None:
    thickness = depth_under(dimpled=0.040) + spare
    assert thickness > 0.050
    found = stack(0.040, thickness)
    assert treatments(found) == [DIMPLE, COUNTERSINK]
    assert codes(found) == ([] if is_met else [("stack.too-deep", 1)])


def test_a_countersink_that_goes_through_says_how_deep_and_what_to_choose() -> None:
    (finding,) = stack(0.040, 0.050).findings
    assert finding.text == (
        "B: cut 0.254 in wide for 1/8 rivets, the countersink is 0.0542 in deep and goes through"
        " 0.0500 in sheet: take a thicker layer, a smaller rivet, or dimple it"
    )
    assert finding.limit == 0.050
    assert finding.measured == pytest.approx(0.0542, abs=5e-5)
    assert "TM 9-2320-363-34-2" in finding.source


@pytest.mark.parametrize("head", flush_heads(), ids=lambda head: head.dash)
def test_the_countersink_of_a_head_alone_is_as_deep_as_the_head_is_high(head: HeadSize) -> None:
    shank = rivet_of_dash(head.dash).shank_diameter
    # the table rounds to thousandths
    assert countersink_depth(head.diameter, shank) == pytest.approx(head.height, abs=0.001)


def test_a_countersink_no_wider_than_the_hole_has_no_depth() -> None:
    assert countersink_depth(0.1, 0.1285) == 0.0


def test_a_rivet_through_one_layer_holds_nothing_together() -> None:
    (finding,) = stack_at([Sheet("SKIN", 0.032)], rivet_of_dash(3), Head.PROTRUDING).findings
    assert finding.code == "stack.alone"
    assert finding.text.startswith("SKIN alone lies here")
    assert stack_at([Sheet("SKIN", 0.032)] * 2, rivet_of_dash(3), Head.PROTRUDING).findings == ()


# Your own choice -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sheets", "expected"),
    [
        (((0.032, PLAIN), 0.032), [("stack.no-seat", 0)]),
        ((0.032, (0.032, PLAIN)), [("stack.no-seat", 1)]),
        (((0.063, COUNTERSINK), (0.032, PLAIN)), []),
        (((0.063, COUNTERSINK), (0.032, DIMPLE)), [("stack.no-use", 1)]),
        (((0.063, COUNTERSINK), (0.063, COUNTERSINK)), [("stack.no-use", 1)]),
        (((0.040, DIMPLE), 0.040), []),
        (((0.041, DIMPLE), 0.040), [("stack.too-thick", 0)]),
        (((0.050, COUNTERSINK), 0.040), []),
        (((0.049, COUNTERSINK), 0.040), [("stack.too-thin", 0)]),
        (((None, DIMPLE), (0.063, COUNTERSINK)), []),
    ],
)
def test_a_choice_that_does_not_go_with_the_rest_is_a_finding(
    sheets: tuple[float | tuple[float, Treatment]], expected: list[tuple[str, int]]
) -> None:
    found = stack(*sheets)
    assert codes(found) == expected
    for layer, sheet in zip(found.layers, sheets, strict=True):
        if isinstance(sheet, tuple):
            assert layer.treatment is sheet[1]
    for finding in found.findings:
        assert finding.layer is not None
        assert finding.text.startswith(NAMES[finding.layer])
        assert finding.source


def test_a_dimple_under_a_protruding_head_has_no_use() -> None:
    (finding,) = stack((0.032, DIMPLE), 0.032, head=PROTRUDING).findings
    assert finding.text == "A is given a dimple that nothing goes into: leave it plain"


def test_too_thin_and_too_deep_are_both_told() -> None:
    assert codes(stack((0.032, COUNTERSINK), 0.032)) == [
        ("stack.too-thin", 0),
        ("stack.too-deep", 0),
    ]


def test_under_a_dimpled_sheet_of_unknown_thickness_the_countersink_has_no_diameter() -> None:
    found = stack((None, DIMPLE), 0.080)
    assert treatments(found) == [DIMPLE, COUNTERSINK]
    assert found.layers[1].countersink is None
    assert found.grip is None


def test_a_quarter_inch_rivet_is_countersunk_only_by_choice() -> None:
    # no least sheet that could be used is in print for it
    assert countersink_least_sheet(8) is None
    assert treatments(stack(0.125, 0.032, rivet="1/4")) == [None, None]
    chosen = stack((0.125, COUNTERSINK), 0.032, rivet="1/4")
    assert (treatments(chosen), codes(chosen)) == ([COUNTERSINK, PLAIN], [])
    assert codes(stack((0.080, COUNTERSINK), 0.032, rivet="1/4")) == [("stack.too-deep", 0)]


# Flush on both faces ---------------------------------------------------------------------------


def test_a_core_between_two_skins_is_countersunk_from_both_sides() -> None:
    found = stack(0.025, 0.125, 0.032, shop_head=FLUSH)
    assert treatments(found) == [DIMPLE, COUNTERSINK, DIMPLE]
    core = found.layers[1]
    head = flush_head(4).diameter
    assert core.countersink == pytest.approx(head + 2 * widening(0.025))
    assert core.far_countersink == pytest.approx(head + 2 * widening(0.032))
    assert (found.findings, found.notices) == ((), ())


def test_both_countersinks_have_to_fit_in_the_core() -> None:
    # either alone would fit
    assert codes(stack(0.025, 0.080, 0.025)) == []
    assert codes(stack(0.025, 0.080, 0.025, shop_head=FLUSH)) == [("stack.too-deep", 1)]


def test_two_thick_sheets_are_each_countersunk_on_their_own_face() -> None:
    found = stack(0.063, 0.063, shop_head=FLUSH)
    head = flush_head(4).diameter
    assert [(layer.countersink, layer.far_countersink) for layer in found.layers] == [
        (head, None),
        (None, head),
    ]


def test_thin_sheets_alone_cannot_be_flush_on_both_faces() -> None:
    found = stack(0.025, 0.025, shop_head=FLUSH)
    assert codes(found) == [("stack.both-dimpled", 0), ("stack.both-dimpled", 1)]
    assert "thick enough to countersink" in found.findings[0].text


def test_a_shop_head_alone_may_be_flush() -> None:
    found = stack(0.063, 0.025, head=PROTRUDING, shop_head=FLUSH)
    assert treatments(found) == [COUNTERSINK, DIMPLE]
    assert found.layers[0].countersink is None
    assert found.layers[0].far_countersink == pytest.approx(
        flush_head(4).diameter + 2 * widening(0.025)
    )


# What always holds -----------------------------------------------------------------------------


@given(STACKS, st.sampled_from(["3/32", "1/8", "3/16"]), st.sampled_from(list(Head)))
def test_turning_a_stack_over_swaps_the_sides_and_nothing_else(
    sheets: list[tuple[float | None, Treatment | None]], rivet: str, head: Head
) -> None:
    layers = [Sheet(str(place), *sheet) for place, sheet in enumerate(sheets)]
    one = stack_at(layers, rivet_size(rivet), head, FLUSH)
    other = stack_at(layers[::-1], rivet_size(rivet), FLUSH, head)
    for a, b in zip(one.layers, other.layers[::-1], strict=True):
        assert (a.name, a.countersink) == (b.name, b.far_countersink)
        assert a.treatment is b.treatment
    if one.grip is not None:
        assert one.grip == pytest.approx(other.grip)
    last = len(layers) - 1
    assert sorted(codes(one)) == sorted(
        (code, last - layer) for code, layer in codes(other) if layer is not None
    )


@given(STACKS, st.sampled_from(["3/32", "1/8", "3/16"]))
def test_a_stack_left_to_itself_has_one_seat_for_each_dimple(
    sheets: list[tuple[float | None, Treatment | None]], rivet: str
) -> None:
    layers = [Sheet(str(place), thickness) for place, (thickness, _) in enumerate(sheets)]
    found = stack_at(layers, rivet_size(rivet), FLUSH)
    assert {code for code, _ in codes(found)} <= {"stack.too-deep", "stack.alone"}
    order = [{DIMPLE: 0, COUNTERSINK: 1, PLAIN: 2, None: 1}[t] for t in treatments(found)]
    assert order == sorted(order)
    if None not in treatments(found):
        assert treatments(found).count(COUNTERSINK) <= 1
