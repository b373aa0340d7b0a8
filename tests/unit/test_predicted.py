"""Holes that match-drilling will make, held against the rules before they are there."""

import math
from dataclasses import replace

import numpy as np
import pytest

from holeschedule.audit.rules import load_rule_set
from holeschedule.geometry.placement import Placement
from holeschedule.joints.places import find_places
from holeschedule.joints.predicted import drilling_words, predict_drilling, shift_words
from holeschedule.joints.trimming import trimmed
from holeschedule.model import Head, Quantity, Verdict
from holeschedule.units import LengthUnit
from tests.joints import demo_joint, joint_of, layer_of
from tests.plates import LAYOUT, NUMBER_30, NUMBER_40, At, D, Plate

FAA = load_rule_set("faa")
HAIR = 1e-6


def drilled(joint, rules=FAA, **more):
    """What is drilled in the only layer that is."""
    (drilling,) = predict_drilling(joint, find_places(joint), rules, **more)
    return drilling


def through(spots, blank, **joint):
    """A joint whose second layer, without holes of its own in it, is drilled through the first."""
    guide = Plate(singles=spots, corners=[(-9, -9), (19, -9), (19, 14), (-9, 14)]).part()
    return joint_of(layer_of(guide, "A"), layer_of(blank.part(), "B", labels=[]), **joint)


def blank(**more):
    return Plate(**more)


# edge distance --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "shanks"), [(Head.PROTRUDING, 2.0), (Head.FLUSH, 2.5)], ids=["protruding", "flush"]
)
@pytest.mark.parametrize(
    ("spare", "verdict"),
    [
        (LAYOUT + HAIR, None),
        (LAYOUT, None),
        (LAYOUT - HAIR, Verdict.TIGHT),
        (0.0, Verdict.TIGHT),
        (-HAIR, Verdict.SHORT),
        (-0.05, Verdict.SHORT),
    ],
)
def test_the_edge_distance_of_a_hole_to_be_drilled_is_judged(spare, verdict, head, shanks):
    drilling = drilled(through([(5, shanks * D + spare)], blank(), head=head))
    (hole,) = drilling.holes
    assert (hole.place, hole.name, hole.edge) == (1, "J1:1 in B", "outline")
    assert hole.edge_distance == pytest.approx(shanks * D + spare)
    assert hole.edge_limit == shanks * D
    assert hole.worst_edge_distance == pytest.approx(shanks * D + spare - LAYOUT)
    assert [f.verdict for f in drilling.findings] == ([verdict] if verdict else [])
    if verdict:
        (finding,) = drilling.findings
        assert (finding.hole, finding.other) == ("J1:1 in B", "outline")
        assert finding.quantity is Quantity.EDGE_DISTANCE
        assert drilling.fails is (verdict is Verdict.SHORT)


@pytest.mark.parametrize("y", [NUMBER_40 / 2 - HAIR, 0.0, -NUMBER_40 / 2 + HAIR])
def test_a_hole_that_would_break_out_is_told_as_that_alone(y):
    drilling = drilled(through([(5, y)], blank()))
    (finding,) = drilling.findings
    assert (finding.rule, finding.verdict) == ("hole.breaks-out", Verdict.BREAKS_OUT)
    assert drilling.holes[0].edge_distance == pytest.approx(y)
    assert drilling.cure.shift == pytest.approx((0, y - 2 * D), abs=1e-9)


def test_the_final_size_of_the_stated_rivet_is_drilled():
    drilling = drilled(through([At(5, 0.3, NUMBER_40)], blank(), rivet="1/8"))
    assert drilling.holes[0].diameter == NUMBER_30
    assert drilling.holes[0].edge_limit == 0.25


def test_a_layer_with_all_its_holes_is_not_told():
    part = Plate(singles=[(5, 0.05)]).part()
    joint = joint_of(layer_of(part, "A"), layer_of(part, "B"))
    assert predict_drilling(joint, find_places(joint), FAA) == ()


def test_a_rule_of_the_users_own_counts(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(
        'extends = "faa"\n[[rule]]\ncode = "edge.min.protruding"\nlimit = 3\nsource = "note 4"\n'
    )
    drilling = drilled(through([(5, 2.5 * D)], blank()), load_rule_set(path))
    (finding,) = drilling.findings
    assert (finding.source, finding.limit) == ("note 4", 3 * D)


# spacing --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spare", "verdict"),
    [(LAYOUT, None), (0.0, Verdict.TIGHT), (-HAIR, Verdict.CLOSE)],
)
def test_the_spacing_to_a_hole_that_is_there_is_judged(spare, verdict):
    there = blank(singles=[(5 + 3 * D + spare, 1)])
    drilling = drilled(through([(5, 1)], there))
    assert [f.verdict for f in drilling.findings] == ([verdict] if verdict else [])
    assert drilling.holes[0].nearest == "B:X1"
    assert drilling.holes[0].nearest_distance == pytest.approx(3 * D + spare)
    if verdict:
        (finding,) = drilling.findings
        assert (finding.hole, finding.other, finding.rule) == ("J1:1 in B", "B:X1", "spacing.min")


def test_two_holes_to_be_drilled_too_close_to_each_other_have_no_cure():
    drilling = drilled(through([(5, 1), (5 + 2 * D, 1)], blank()))
    (finding,) = drilling.findings
    assert (finding.hole, finding.other) == ("J1:1 in B", "J1:2 in B")
    assert finding.verdict is Verdict.CLOSE
    assert drilling.cure is None
    assert drilling_words(drilling) == "B: no shift leaves every hole legal."


def test_the_part_s_own_holes_of_the_joint_count_at_their_final_size():
    """A pilot for 1/8 that looks like the final size of 3/32."""
    guide = Plate(singles=[At(5, 1, NUMBER_30), At(5.35, 1, NUMBER_30)]).part()
    leaf = Plate(singles=[At(5, 1, NUMBER_40)]).part()
    joint = joint_of(layer_of(guide, "A"), layer_of(leaf, "B"), rivet="1/8")
    (finding,) = drilled(joint).findings
    assert (finding.limit, finding.verdict) == (0.375, Verdict.CLOSE)


def test_holes_that_were_there_before_are_not_told_again():
    there = blank(singles=[(2, 0.05), (3, 1), (3.1, 1)])
    assert drilled(through([(6, 1)], there)).findings == ()


# misalignment ---------------------------------------------------------------------------------


def test_a_hole_on_the_limit_stays_legal_under_half_of_all_misalignments():
    (hole,) = drilled(through([(5, 2 * D)], blank())).holes
    assert hole.legal_share == pytest.approx(0.5, abs=1e-6)


def test_the_share_is_all_or_nothing_beyond_the_tolerance():
    holes = drilled(through([(3, 2 * D + LAYOUT), (7, 2 * D - LAYOUT)], blank())).holes
    assert [hole.legal_share for hole in holes] == [1.0, 0.0]


def test_a_stated_tolerance_counts():
    joint = through([(5, 2 * D + 0.02)], blank())
    (hole,) = drilled(joint, alignment_tolerance=0.04).holes
    half = 0.5
    segment = math.acos(half) - half * math.sqrt(1 - half**2)
    assert hole.legal_share == pytest.approx(1 - segment / math.pi, abs=1e-4)
    assert hole.worst_edge_distance == pytest.approx(2 * D - 0.02)
    (hole,) = drilled(joint, alignment_tolerance=0.0).holes
    assert hole.legal_share == 1.0


def test_a_hole_that_is_there_takes_its_part_of_the_share():
    (hole,) = drilled(through([(5, 1)], blank(singles=[(5 + 3 * D, 1)]))).holes
    assert 0.5 < hole.legal_share < 0.51  # the disc bends away: a little more than half


@pytest.mark.parametrize("e", [0.1, 0.02])
def test_the_share_agrees_with_drilling_at_random(e):
    """A tolerance so wide that the hole may leave the metal, near a corner and another hole."""
    plate = blank(singles=[(0.55, 0.45)])
    joint = through([(2 * D + e, 2 * D - 0.02)], plate)
    (hole,) = drilled(joint, alignment_tolerance=0.25).holes
    rng = np.random.default_rng(5)
    angle, r = rng.uniform(0, 2 * np.pi, 200_000), 0.25 * np.sqrt(rng.uniform(0, 1, 200_000))
    x, y = hole.position[0] + r * np.cos(angle), hole.position[1] + r * np.sin(angle)
    legal = (x >= 2 * D) & (y >= 2 * D) & (np.hypot(x - 0.55, y - 0.45) >= 3 * D)
    assert hole.legal_share == pytest.approx(legal.mean(), abs=4e-3)


# the shift that cures -------------------------------------------------------------------------


def test_the_layer_moves_under_the_hole_towards_the_short_edge():
    drilling = drilled(through([(9.85, 1)], blank()))
    assert drilling.cure.shift == pytest.approx((2 * D - 0.15, 0), abs=1e-9)
    assert drilling.cure.spoils == ()
    assert drilling_words(drilling) == (
        "B moved 0.038 in to the right, as it is drawn, leaves no hole short."
    )


def test_a_shift_is_told_as_the_part_is_drawn_and_in_the_frame_of_the_joint():
    turned = Placement(math.pi / 2, (5.0, 0.0))
    spot = turned.move(np.array([(9.85, 1.0)]))[0]
    joint = through([tuple(spot.tolist())], blank())
    layers = (joint.layers[0], replace(joint.layers[1], placement=turned))
    cure = drilled(replace(joint, layers=layers)).cure
    assert cure.shift == pytest.approx((0.0375, 0), abs=1e-9)
    assert cure.in_joint == pytest.approx((0, 0.0375), abs=1e-9)
    assert cure.amount == pytest.approx(0.0375)


def test_a_shift_after_which_everything_is_legal_is_verified_by_moving_the_layer():
    spots = [(9.85, 0.12), (5, 0.16)]
    joint = through(spots, blank())
    cure = drilled(joint).cure
    moved = replace(joint.layers[1], placement=Placement(shift=cure.in_joint))
    again = drilled(replace(joint, layers=(joint.layers[0], moved)))
    assert {f.verdict for f in again.findings} == {Verdict.TIGHT}


def test_a_shift_that_would_bring_the_layer_under_a_further_place_is_no_cure():
    beside = 10 + NUMBER_40 / 2 + 0.01
    assert drilled(through([(9.85, 1), (beside, 3)], blank())).cure is None
    assert drilled(through([(9.85, 1), (beside + 0.1, 3)], blank())).cure is not None


def test_a_shift_says_which_holes_it_spoils():
    guide = Plate(singles=[(9.85, 1), (5, 1)], size=(12, 5)).part()
    leaf = Plate(singles=[At(5, 1, 0.05)]).part()
    joint = joint_of(layer_of(guide, "A"), layer_of(leaf, "B"))
    drilling = drilled(joint)
    assert drilling.cure.spoils == ("B:X1",)
    assert "B:X1, drilled already, would then not clean up" in drilling_words(drilling)
    small = Plate(singles=[At(5, 1, 0.02)]).part()
    assert drilled(joint_of(layer_of(guide, "A"), layer_of(small, "B"))).cure.spoils == ()


def test_nothing_short_needs_no_words_and_no_cure():
    drilling = drilled(through([(5, 1)], blank()))
    assert (drilling.cure, drilling_words(drilling), drilling.fails) == (None, None, False)


@pytest.mark.parametrize(
    ("shift", "unit", "words"),
    [
        ((0.0375, 0.0), LengthUnit.INCH, "0.038 in to the right"),
        ((-0.038, 0.0), LengthUnit.INCH, "0.038 in to the left"),
        ((0.01, -0.0201), LengthUnit.INCH, "0.010 in to the right and 0.021 in down"),
        ((0.0, 0.1), LengthUnit.MILLIMETRE, "2.54 mm up"),
        ((0.0, 0.0), LengthUnit.INCH, "not at all"),
    ],
)
def test_a_shift_in_words_is_rounded_up(shift, unit, words):
    assert shift_words(shift, unit) == words


# trim lines and the demo ----------------------------------------------------------------------


def test_beyond_the_trim_line_nothing_is_drilled_once_the_part_is_cut():
    sheet = blank(singles=[(1, 4)], trim=[((7, 0), (7, 5))]).part()
    joint = through([(5, 1), (6.9, 1), (8, 1)], blank())
    cut = replace(joint.layers[1], part=trimmed(sheet))
    drilling = drilled(replace(joint, layers=(joint.layers[0], cut)))
    assert [hole.place for hole in drilling.holes] == [1, 2]
    assert [f.verdict for f in drilling.findings] == [Verdict.SHORT]
    assert drilling.holes[1].edge_distance == pytest.approx(0.1)


def test_the_hinge_leaf_of_the_demo_comes_out_short_at_its_right_end():
    drilling = drilled(demo_joint("J13"))
    assert (drilling.name, [hole.place for hole in drilling.holes]) == ("FL-111", [10, 12])
    (finding,) = drilling.findings
    assert (finding.hole, finding.verdict) == ("J13:10 in FL-111", Verdict.SHORT)
    assert finding.measured == pytest.approx(1.6 * D, abs=1e-6)
    assert drilling.holes[0].legal_share == 0.0
    assert drilling.cure.shift == pytest.approx((0.4 * D, 0), abs=1e-6)
    assert drilling_words(drilling) == (
        "FL-111 moved 0.038 in to the right, as it is drawn, leaves no hole short;"
        " but FL-111:X1, drilled already, would then not clean up."
    )


def test_the_missing_hole_of_the_bulkhead_comes_out_well():
    drilling = drilled(demo_joint("J5"))
    assert drilling.findings == ()
    (hole,) = drilling.holes
    assert hole.edge_distance == pytest.approx(0.3125, abs=1e-6)
