"""Everything wrong with a joint in one list, the worst first."""

from dataclasses import replace

import pytest

from holeschedule.audit.rules import load_rule_set
from holeschedule.joints.findings import joint_findings
from holeschedule.joints.places import find_places
from holeschedule.joints.taper import Taper
from holeschedule.model import Head, Verdict
from tests.joints import demo_joint, joint_of, layer_of
from tests.plates import NUMBER_40, At, Plate

FAA = load_rule_set("faa")


def findings_of(joint, **more):
    return joint_findings(joint, find_places(joint), FAA, **more)


def test_findings_of_every_kind_are_sorted_worst_first():
    big = [(-9, -9), (19, -9), (19, 14), (-9, 14)]
    spots = [(2, 1), (5, 1), (8, 0.15), (9, 0.0)]
    guide = Plate(singles=[At(x, y, NUMBER_40) for x, y in spots], corners=big).part()
    core = Plate(singles=[(2.02, 1), At(5.012, 1, 0.08)]).part()
    joint = joint_of(layer_of(guide, "A", thickness=0.02), layer_of(core, "B"), head=Head.FLUSH)
    found = findings_of(joint, tapers={1: Taper((0, 0), 0.085)})
    verdicts = [f.verdict for f in found]
    assert verdicts == sorted(verdicts, key=lambda v: -v.severity)
    assert set(verdicts) == {
        *(Verdict.BREAKS_OUT, Verdict.SHORT, Verdict.THIN),
        *(Verdict.FIGURE_EIGHT, Verdict.MISALIGNED),
    }
    assert [f.hole for f in found if f.verdict is Verdict.SHORT] == ["J1:3 in B"]


def test_of_one_verdict_the_one_that_lacks_most_is_first():
    found = findings_of(demo_joint("J5"))
    assert [f.hole for f in found[:4]] == ["FL-104:A1", "FL-104:A14", "FL-104:A2", "FL-104:A13"]
    assert len(found) == 10


def test_the_alignment_tolerance_is_only_a_warning():
    joint = demo_joint("J13")
    assert [f.hole for f in findings_of(joint)] == ["J13:10 in FL-111"]
    assert findings_of(joint, alignment_tolerance=0.0) == findings_of(joint)


@pytest.mark.parametrize("name", ["J1", "J6", "J12", "J16"])
def test_joints_of_the_demo_in_order_have_no_finding(name):
    assert findings_of(demo_joint(name)) == ()


def test_a_joint_of_one_layer_has_nothing_to_tell():
    joint = demo_joint("J1")
    assert findings_of(replace(joint, layers=joint.layers[:1])) == ()
