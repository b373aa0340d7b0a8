"""Offsets between holes of one place: what the drill cleans up, what the rivet goes through."""

import math

import pytest

from holeschedule.joints.offsets import (
    final_offset_limit,
    offset_findings,
    pilot_offset_limit,
)
from holeschedule.joints.places import find_places
from holeschedule.model import Quantity, Verdict
from holeschedule.units import LengthUnit
from holeschedule.views.explain import explain
from tests.joints import demo_joint, joint_of, layer_of
from tests.plates import NUMBER_40, At, D, Plate

HAIR = 1e-6


def found(*holes, **joint):
    """Findings of one place with a layer A, B, … for each hole."""
    layers = [layer_of(Plate(singles=[hole]).part(), "ABCD"[i]) for i, hole in enumerate(holes)]
    return offset_findings(find_places(joint_of(*layers, **joint)))


def final(x, y=1.0, diameter=NUMBER_40):
    return At(x, y, diameter)


def pilot(x, y=1.0):
    return At(x, y, 0.082)


FINAL_LIMIT = NUMBER_40 - D


@pytest.mark.parametrize("way", [(1, 0), (0, -1), (0.6, 0.8)])
@pytest.mark.parametrize(
    ("spare", "met"), [(HAIR, True), (0.0, True), (-HAIR, False), (-0.008, False)]
)
def test_two_holes_at_final_size_let_the_shank_through_up_to_their_play(way, spare, met):
    away = FINAL_LIMIT - spare
    findings = found(final(2), final(2 + away * way[0], 1 + away * way[1]))
    assert (findings == ()) is met
    if not met:
        (finding,) = findings
        assert (finding.hole, finding.other, finding.rule) == ("B:X1", "A:X1", "offset.final")
        assert (finding.quantity, finding.verdict) == (Quantity.OFFSET, Verdict.MISALIGNED)
        assert finding.verdict.fails
        assert finding.limit == pytest.approx(0.00425)
        assert finding.measured == pytest.approx(away)
        assert finding.margin == pytest.approx(spare)
        assert finding.diameter == D


@pytest.mark.parametrize(("spare", "met"), [(HAIR, True), (0.0, True), (-HAIR, False)])
def test_a_pilot_beside_a_final_hole_cleans_up_while_the_drill_takes_all_of_it_in(spare, met):
    away = 0.008 - spare
    for holes in ((final(2), pilot(2 + away)), (pilot(2 + away), final(2))):
        findings = found(*holes)
        assert (findings == ()) is met
        if not met:
            (finding,) = findings
            name = "AB"[holes.index(pilot(2 + away))]
            assert finding.hole == f"{name}:X1"
            assert (finding.rule, finding.verdict) == ("offset.pilot", Verdict.FIGURE_EIGHT)
            assert finding.limit == pytest.approx((0.098 - 0.082) / 2)


@pytest.mark.parametrize(("spare", "met"), [(HAIR, True), (0.0, True), (-HAIR, False)])
def test_of_two_pilots_the_drill_follows_the_first_layer_s(spare, met):
    findings = found(pilot(2), At(2 + 0.0115 - spare, 1, 0.075))
    assert (findings == ()) is met
    if not met:
        assert (findings[0].hole, findings[0].other) == ("B:X1", "A:X1")


def test_holes_of_two_final_sizes_have_the_play_of_both():
    limit = final_offset_limit(0.096, 0.098, D)
    assert limit == pytest.approx((0.096 - D) / 2 + (0.098 - D) / 2)
    assert found(final(2, diameter=0.096), final(2 + limit)) == ()
    assert len(found(final(2, diameter=0.096), final(2 + limit + HAIR))) == 1


def test_limits_say_what_the_formulas_say():
    assert pilot_offset_limit(0.082, 0.098) == pytest.approx(0.098 / 2 - 0.082 / 2)
    assert final_offset_limit(0.098, 0.098, D) == pytest.approx(0.098 - D)
    assert pilot_offset_limit(0.1, 0.098) < 0


def test_each_further_hole_is_told_once_against_the_one_it_is_farthest_from():
    findings = found(final(2), final(2.002), final(2.01))
    assert [(f.hole, f.other) for f in findings] == [("C:X1", "A:X1")]
    findings = found(final(2), final(2), final(2.01))
    assert [(f.hole, f.other) for f in findings] == [("C:X1", "A:X1")]
    findings = found(final(2), final(2.01), final(2.01))
    assert [(f.hole, f.other) for f in findings] == [("B:X1", "A:X1"), ("C:X1", "A:X1")]


def triangle(side):
    high = side * math.sqrt(3) / 2
    return final(2), final(2 + side), final(2 + side / 2, 1 + high)


@pytest.mark.parametrize(("spare", "met"), [(HAIR, True), (0.0, True), (-HAIR, False)])
def test_three_holes_may_pass_two_by_two_and_not_together(spare, met):
    """The circle round an even triangle has a radius of side / √3."""
    side = math.sqrt(3) * FINAL_LIMIT / 2 - spare
    findings = found(*triangle(side))
    assert (findings == ()) is met
    if not met:
        (finding,) = findings
        assert (finding.rule, finding.hole) == ("offset.several", "C:X1")
        assert finding.other == "A:X1 and B:X1"
        assert finding.measured == pytest.approx(2 * side / math.sqrt(3), abs=1e-9)
        assert finding.limit == pytest.approx(FINAL_LIMIT)


def test_three_holes_in_line_pass_where_the_outer_two_do():
    assert found(final(2), final(2 + FINAL_LIMIT / 3), final(2 + FINAL_LIMIT)) == ()


def test_holes_for_no_known_rivet_are_not_judged():
    assert found(At(2, 1, 0.5), At(2.02, 1, 0.5)) == ()


def test_a_stated_rivet_makes_pilots_of_smaller_holes():
    assert len(found(final(2), final(2.01))) == 1
    assert found(final(2), final(2.01), rivet="1/8") == ()


# the demo -------------------------------------------------------------------------------------


def test_the_stretched_row_of_the_bulkhead_is_told_hole_by_hole():
    findings = offset_findings(find_places(demo_joint("J5")))
    assert {f.verdict for f in findings} == {Verdict.MISALIGNED}
    assert [f.hole for f in findings] == [
        *(f"FL-104:A{n}" for n in (1, 2, 3, 4, 5)),
        *(f"FL-104:A{n}" for n in (10, 11, 12, 13, 14)),
    ]
    assert all(f.other.startswith("FL-101:C") for f in findings)
    assert findings[0].measured == pytest.approx(0.012, abs=1e-6)
    assert findings[-1].measured == pytest.approx(0.012, abs=1e-6)
    assert {round(f.limit, 5) for f in findings} == {0.00425}


@pytest.mark.parametrize("name", [f"J{n}" for n in range(1, 17) if n != 5])
def test_no_other_joint_of_the_demo_is_off(name):
    assert offset_findings(find_places(demo_joint(name))) == ()


def test_offsets_are_told_in_words():
    (finding,) = found(final(2), final(2.012))
    assert explain(finding, LengthUnit.INCH) == (
        "0.0120 in off A:X1; at most 0.0043 in: 0.0077 in too far for the rivet to go in"
    )
    (finding,) = found(final(2), pilot(2.012))
    assert explain(finding, LengthUnit.INCH) == (
        "0.0120 in off A:X1; at most 0.0080 in: 0.0040 in too far, the drill leaves a figure-eight"
    )
