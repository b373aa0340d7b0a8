"""Wedges countersunk on both faces: local thickness, depths and what is left between them."""

import math
from dataclasses import replace

import numpy as np
import pytest

from holeschedule.errors import GeometryError
from holeschedule.joints.places import find_places
from holeschedule.joints.stack import countersink_depth
from holeschedule.joints.taper import Taper, taper_between
from holeschedule.joints.wedge import (
    between_countersinks,
    countersink_diameter,
    depth_along_hole,
    wedge_findings,
)
from holeschedule.model import Head, Quantity, Verdict
from holeschedule.operations import Treatment
from holeschedule.tables import flush_head, rivet_of_dash
from holeschedule.units import LengthUnit
from holeschedule.views.explain import explain
from tests.joints import demo_joint, joint_of, layer_of
from tests.plates import Plate, level

EVEN = Taper((0, 0), 0.125)
C50, T50 = math.cos(math.radians(50)), math.tan(math.radians(50))
DEPTH = (0.179 - 3 / 32) / 2 / T50
"""Inches: of the countersink for a 3/32 rivet, down to its shank."""

# thickness ------------------------------------------------------------------------------------


def test_between_two_points_the_thickness_is_straight():
    taper = taper_between([(1, 1), (4, 5)], [0.05, 0.15])
    points = np.array([(1, 1), (4, 5), (2.5, 3), (2.5 - 4, 3 + 3)])
    assert taper.thickness_at(points) == pytest.approx([0.05, 0.15, 0.1, 0.1])


def test_three_points_give_a_plane():
    taper = taper_between([(0, 0), (1, 0), (0, 1)], [0.1, 0.12, 0.09])
    assert taper.thickness_at(np.array([(2.0, 3.0)])) == pytest.approx([0.1 + 0.04 - 0.03])


@pytest.mark.parametrize(
    ("points", "thicknesses", "message"),
    [
        ([(0, 0)], [0.1], "given 1 points and 1 thicknesses"),
        ([(0, 0), (1, 0)], [0.1], "given 2 points and 1 thicknesses"),
        ([(0, 0), (1, 0)], [0.1, 0.0], "a thickness of 0 in is none"),
        ([(0, 0), (1, 0)], [math.nan, 0.1], "a thickness of nan in is none"),
        ([(0, 0), (0, 0)], [0.1, 0.2], r"measured at \(0, 0\), \(0, 0\) in, which coincide"),
        ([(0, 0), (1, 1), (2, 2)], [0.1, 0.2, 0.3], "coincide or are in line"),
    ],
)
def test_points_that_give_no_taper_are_refused(points, thicknesses, message):
    with pytest.raises(GeometryError, match=message):
        taper_between(points, thicknesses)


# countersinks ---------------------------------------------------------------------------------


def test_a_countersink_for_the_rivet_itself_is_its_head():
    assert countersink_diameter(3) == flush_head(3).diameter
    head, shank = flush_head(3), rivet_of_dash(3).shank_diameter
    assert depth_along_hole(3) == pytest.approx((head.diameter - shank) / 2 / T50)
    assert depth_along_hole(3) == pytest.approx(DEPTH)
    assert depth_along_hole(3) == pytest.approx(head.height, abs=0.001)  # as the table rounds it


@pytest.mark.parametrize("dimpled", [0.0, 0.025])
def test_a_wedge_of_even_thickness_is_countersunk_as_deep_as_a_sheet(dimpled):
    wide = countersink_diameter(3, dimpled)
    depth = countersink_depth(wide, rivet_of_dash(3).shank_diameter)
    assert depth_along_hole(3, dimpled) == depth


@pytest.mark.parametrize("t", [0.020, 0.025, 0.032])
def test_under_a_dimple_each_side_is_wider_by_the_formula(t):
    wider = t * (1 / C50 - T50)
    assert countersink_diameter(4, t) == pytest.approx(flush_head(4).diameter + 2 * wider)
    assert depth_along_hole(4, t) == pytest.approx(depth_along_hole(4) + wider / T50)


def test_under_a_dimple_the_cone_is_the_dimple_s_far_side():
    """A point of the countersink's cone is one sheet thickness, square, from the head's cone."""
    t, head = 0.032, flush_head(3)
    rim = np.array([countersink_diameter(3, t) / 2, -t])  # at the far face of the sheet
    along = np.array([math.sin(math.radians(50)), math.cos(math.radians(50))])
    from_head = rim - np.array([head.diameter / 2, 0.0])
    assert abs(along[0] * from_head[1] - along[1] * from_head[0]) == pytest.approx(t)


@pytest.mark.parametrize("half", [0.5, 2.0, 5.0])
def test_on_a_sloping_face_the_head_goes_in_until_no_part_of_its_rim_stands_proud(half):
    slope, r = math.tan(math.radians(half)), flush_head(3).diameter / 2
    deeper = depth_along_hole(3, 0.0, half) - depth_along_hole(3)
    angles = np.linspace(0, 2 * np.pi, 721)
    face = slope * r * np.cos(angles)  # height of the face above the rim's middle
    assert (face - (-deeper)).min() == pytest.approx(0, abs=1e-12)


# what is left ---------------------------------------------------------------------------------


def stack(*sheets, taper=EVEN, rivet="3/32", head=Head.FLUSH):
    """Places of a wedge W with sheets of (name, thickness, treatment) on it."""
    part = Plate(rows=[level(1, 1, 0.75, 3)]).part()
    layers = [
        layer_of(part, name, thickness=thickness, treatment=treatment)
        for name, thickness, treatment in sheets
    ]
    joint = joint_of(*layers, rivet=rivet, head=head)
    wedge = [name for name, _, _ in sheets].index("W")
    return between_countersinks(joint, find_places(joint), wedge, taper)


W = ("W", None, Treatment.COUNTERSINK)


def skin(thickness=0.025, treatment=Treatment.DIMPLE):
    return ("S", thickness, treatment)


def test_a_bare_wedge_loses_two_heads():
    assert [f.left for f in stack(W)] == pytest.approx([0.125 - 2 * DEPTH] * 3)


def test_dimpled_skins_make_each_countersink_deeper():
    left = stack(skin(0.025), W, skin(0.032))
    assert {f.name for f in left} == {"W:A1", "W:A2", "W:A3"}
    assert left[0].head_side == pytest.approx(depth_along_hole(3, 0.025))
    assert left[0].shop_side == pytest.approx(depth_along_hole(3, 0.032))
    assert left[0].left == pytest.approx(0.125 - left[0].head_side - left[0].shop_side)


def test_two_dimpled_skins_count_with_both_thicknesses():
    left = stack(skin(0.020), skin(0.025), W)
    assert left[0].head_side == pytest.approx(depth_along_hole(3, 0.045))


def test_what_nobody_chose_is_taken_as_dimpled():
    assert stack(skin(treatment=None), W) == stack(skin(), W)


@pytest.mark.parametrize("treatment", [Treatment.COUNTERSINK, Treatment.PLAIN])
def test_a_sheet_that_takes_the_head_in_leaves_that_face_whole(treatment):
    assert stack(skin(0.063, treatment), W)[0].head_side == 0


def test_a_taper_is_followed_from_hole_to_hole_and_its_angle_counts():
    taper = taper_between([(1, 1), (2.5, 1)], [0.12, 0.09])
    left = stack(W, taper=taper)
    assert [f.thickness for f in left] == pytest.approx([0.12, 0.105, 0.09])
    slope = 0.03 / 1.5 / 2
    depth = DEPTH + 0.179 / 2 * slope
    assert [f.left for f in left] == pytest.approx([t - 2 * depth for t in (0.12, 0.105, 0.09)])


def test_under_protruding_heads_nothing_is_countersunk():
    assert stack(W, head=Head.PROTRUDING) == ()


def test_a_dimpled_sheet_without_a_thickness_is_refused_by_name():
    with pytest.raises(GeometryError, match="S: its thickness is not stated"):
        stack(skin(None), W)


# findings -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spare", "verdict"),
    [
        (1e-6, None),
        (0.0, None),
        (-1e-6, Verdict.THIN),
        (-0.01 + 1e-6, Verdict.THIN),
        (-0.01, Verdict.BREAKS_THROUGH),
        (-0.02, Verdict.BREAKS_THROUGH),
    ],
)
def test_less_metal_than_the_least_is_thin_and_none_breaks_through(spare, verdict):
    taper = Taper((0, 0), 2 * DEPTH + 0.010 + spare)
    findings = wedge_findings(stack(W, taper=taper)[:1])
    assert [f.verdict for f in findings] == ([verdict] if verdict else [])
    for finding in findings:
        assert (finding.hole, finding.rule) == ("W:A1", "countersink.between")
        assert (finding.quantity, finding.limit) == (Quantity.METAL_BETWEEN, 0.010)
        assert finding.margin == pytest.approx(spare)
        assert finding.verdict.fails
        assert "common practice, no published source" in finding.source


def test_a_stated_least_counts():
    left = stack(W, taper=Taper((0, 0), 0.1))
    assert wedge_findings(left) == ()
    assert {f.verdict for f in wedge_findings(left, least=0.03)} == {Verdict.THIN}
    assert wedge_findings(left, least=0.0) == ()


def test_what_is_left_is_told_in_words():
    (thin,) = wedge_findings(stack(W, taper=Taper((0, 0), 2 * DEPTH + 0.006))[:1])
    assert explain(thin, LengthUnit.INCH) == (
        "metal between countersinks 0.0060 in; at least 0.0100 in: 0.0040 in too thin"
    )
    (gone,) = wedge_findings(stack(W, taper=Taper((0, 0), 2 * DEPTH - 0.002))[:1])
    assert explain(gone, LengthUnit.INCH) == (
        "metal between countersinks -0.0020 in; at least 0.0100 in: they meet"
    )


def test_the_thin_end_of_the_demo_s_skeg_is_where_the_countersinks_meet():
    """Its core tapers from 0.125 in at the top to 0.080 in at the foot, 3 in below."""
    joint = demo_joint("J16")
    layers = tuple(replace(layer, thickness=0.025) for layer in joint.layers)
    x, foot = (-layers[1].part.zero).tolist()
    taper = taper_between([(x, foot), (x, foot + 3)], [0.080, 0.125])
    joint = replace(joint, layers=layers)
    left = between_countersinks(joint, find_places(joint), 1, taper)
    depth = depth_along_hole(3, 0.025, taper.half_angle)
    for found, place in zip(left, find_places(joint), strict=True):
        up = place.layers[1].position[1] - foot
        assert found.left == pytest.approx(0.080 + 0.015 * up - 2 * depth)
    worst = {f.hole: f.verdict for f in wedge_findings(left)}
    assert sorted(worst.values()).count(Verdict.BREAKS_THROUGH) == 6
