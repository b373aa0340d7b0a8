"""The rivets of joints in words and as an object; the tables' strength of joints as laid."""

import numpy as np
import pytest

from holeschedule.audit.rules import load_rule_set
from holeschedule.build.joints import JointIntent, LayerIntent
from holeschedule.errors import TableError
from holeschedule.fastener_tables import LengthRule, sheet_material
from holeschedule.joints.fasteners import choose_rivet
from holeschedule.joints.joint_strength import joint_strengths, usual_pitch
from holeschedule.joints.laid import LaidJoint, Rivet
from holeschedule.joints.layers import Joint, Layer
from holeschedule.joints.needed import rivets_needed
from holeschedule.joints.places import find_places
from holeschedule.joints.stack import Sheet, stack_at
from holeschedule.joints.strength import rivet_load, rivets_per_inch
from holeschedule.model import Head
from holeschedule.tables import rivet_size
from holeschedule.units import LengthUnit
from holeschedule.views.rivet_data import rivet_object
from holeschedule.views.rivet_text import rivet_lines
from tests.plates import At, Plate, level

FAA = load_rule_set("faa")
INCH, MILLIMETRE = LengthUnit.INCH, LengthUnit.MILLIMETRE
ROW = level(1.0, 1.0, 0.5, 12)
SKIN = Plate([ROW]).part()
ANGLE = Plate(size=(3.8, 5.0)).part()
"""Blank, and ends behind the sixth place."""


def lay(
    *thicknesses,
    name="J1",
    skin=SKIN,
    head=Head.PROTRUDING,
    shop_head=Head.PROTRUDING,
    rule=None,
):
    """A joint of SKIN, RIB and, where a third thickness is stated, ANGLE."""
    names = ("SKIN", "RIB", "ANGLE")[: len(thicknesses)]
    parts = (skin, skin, ANGLE)[: len(names)]
    layers = tuple(
        Layer(n, part, np.arange(len(part.holes)), thickness=thickness)
        for n, part, thickness in zip(names, parts, thicknesses, strict=True)
    )
    joint = Joint(name, layers, None, head)
    rivets = []
    for place in find_places(joint):
        stack = choice = None
        if place.rivet is not None:
            sheets = [Sheet(at.name, layers[at.layer].thickness) for at in place.layers]
            stack = stack_at(sheets, place.rivet, head, shop_head)
            choice = choose_rivet(stack, FAA, rule=rule)
        rivets.append(Rivet(place, stack, choice))
    intent = JointIntent(name, tuple(LayerIntent(n) for n in names), head=head)
    return LaidJoint(intent, joint, tuple(rivets), (), {})


def needed(*laid, unlaid=(), spares=None, stock=(), materials=None):
    strengths = None
    if materials is not None:
        strengths = tuple(row for joint in laid for row in joint_strengths(joint, materials))
    return rivets_needed(
        laid, dict(unlaid), FAA, spares=spares, stock=dict(stock), strengths=strengths
    )


def told(*laid, unit=INCH, **more):
    return rivet_lines(needed(*laid, **more), unit)


def block(lines, first):
    """Lines from the one that begins so to the next empty one."""
    start = next(n for n, line in enumerate(lines) if line.startswith(first))
    return lines[start : lines.index("", start)]


# By joint, in all ------------------------------------------------------------------------------


def test_rivets_stand_by_joint_with_count_grip_and_places():
    lines = told(lay(0.032, 0.032, 0.063), lay(0.025, 0.025, name="J2"))
    assert lines[0] == "2 joints, 24 places, 24 rivets; rules faa"
    assert block(lines, "joint  rivet") == [
        "joint  rivet         count      grip  places",
        "J1     MS20470AD3-3      6  0.064 in  7-12",
        "J1     MS20470AD3-4      6  0.127 in  1-6",
        "J2     MS20470AD3-3     12  0.050 in  1-12",
    ]


def test_totals_have_spares_rounded_up_and_weights():
    laid = [lay(0.032, 0.032, 0.063), lay(0.025, 0.025, name="J2")]
    lines = block(told(*laid, spares=25), "rivet ")
    assert lines[0].split()[2:5] == ["spares", "25", "%"]
    assert [line.split()[:4] for line in lines[1:]] == [
        ["MS20470AD3-3", "18", "5", "23"],
        ["MS20470AD3-4", "6", "2", "8"],
        ["in", "all", "24", "7"],
    ]
    pounds = needed(*laid).schedule.weight
    assert lines[-1].endswith(f"31  {pounds:14.3f} lb")
    grams = block(told(*laid, spares=25, unit=MILLIMETRE), "rivet ")[-1]
    assert float(grams.split()[-2]) == pytest.approx(pounds * 453.59237, abs=0.05)


def test_without_stated_spares_the_usual_share_is_taken():
    assert "spares 10 %" in block(told(lay(0.032, 0.032)), "rivet ")[0]


def test_what_the_two_rules_of_length_take_is_told_where_they_differ():
    lines = told(lay(0.032, 0.032), lay(0.0234375, 0.0234375, name="J2"))
    assert block(lines, "The two rules")[2:] == [
        "J1        12  MS20470AD3-3  MS20470AD3-4  nearest",
    ]


def test_of_the_stock_what_is_there_and_what_is_to_buy():
    laid = lay(0.032, 0.032, 0.063)
    lines = block(told(laid, stock={"MS20470AD3-3": 7, "ms20470ad-3-4": 2}), "To buy")
    assert [line.split() for line in lines[2:]] == [
        ["MS20470AD3-3", "7", "7", "0"],
        ["MS20470AD3-4", "7", "2", "5"],
    ]
    enough = block(told(laid, stock={"MS20470AD3-3": 7, "MS20470AD3-4": 7}), "To buy")
    assert enough[-1] == "Nothing is to be bought."
    assert not any(line.startswith("To buy") for line in told(laid))


def test_a_stock_that_is_no_rivet_is_refused():
    with pytest.raises(TableError, match="'MS20470' is not a rivet; write standard, alloy"):
        needed(lay(0.032, 0.032), stock={"MS20470": 3})


# Shop heads ------------------------------------------------------------------------------------


def test_the_shop_head_to_expect_comes_from_the_tail():
    laid = lay(0.032, 0.032)
    head = laid.rivets[0].choice.chosen.shop_head
    (cells,) = block(told(laid), "Shop heads")[2:]
    assert cells.split() == [
        *("MS20470AD3-3", "0.064", "in", "12"),
        *(f"{head.width:.3f}", "in", f"{head.height:.3f}", "in"),
        *(f"{head.widths[0]:.3f}", "to", f"{head.widths[1]:.3f}", "in"),
    ]


def test_heads_driven_flush_have_no_width_and_are_told_in_one_line():
    laid = lay(0.0631, 0.0631, head=Head.FLUSH, shop_head=Head.FLUSH)
    (cells,) = block(told(laid), "Shop heads")[2:]
    assert cells.split()[-3:] == ["flush", "-", "-"]


def test_a_rivet_that_cannot_form_its_head_is_a_finding():
    laid = lay(0.024, 0.024, rule=LengthRule.NEXT_ABOVE)
    lines = told(laid)
    assert "FINDING: MS20470AD3-4 is too long" in " ".join(" ".join(lines).split())
    assert block(lines, "Shop heads")[2].endswith("none")
    assert not needed(laid).is_complete
    (head,) = rivet_object(needed(laid), INCH)["shop_heads"]
    assert [found["code"] for found in head["findings"]] == ["rivet.too-long"]
    assert (head["width_least"], head["width_most"]) == (None, None)


# What is missing -------------------------------------------------------------------------------


def test_places_without_a_rivet_are_told_with_the_reason():
    thick = Plate([ROW], [At(7.0, 3.0, 0.6)]).part()
    found = needed(lay(0.032, None), lay(0.032, 0.032, name="J2", skin=thick))
    assert [(row.joint, row.places) for row in found.without] == [
        ("J1", tuple(range(1, 13))),
        ("J2", (13,)),
    ]
    words = " ".join(" ".join(rivet_lines(found, INCH)).split())
    assert "J1:1-12 without a rivet: RIB: no thickness is stated" in words
    assert "J2:13 without a rivet: no rivet is as thick as the hole" in words
    assert not found.is_complete


def test_a_joint_that_cannot_be_laid_is_told_and_not_counted():
    found = needed(lay(0.032, 0.032), unlaid={"J2": "FL-103 has no hole C9."})
    lines = rivet_lines(found, INCH)
    assert lines[0].startswith("1 joint, 12 places, 12 rivets")
    assert "J2 cannot be laid, and is not counted: FL-103 has no hole C9." in lines
    assert not found.is_complete
    assert needed(lay(0.032, 0.032)).is_complete


def test_without_joints_an_example_says_how_to_begin():
    assert told()[0].startswith("There are no joints yet. Example: holeschedule join")


# Strength --------------------------------------------------------------------------------------

SMALL = rivet_size("3/32")


def strength(laid, **materials):
    (found,) = joint_strengths(laid, materials)
    return found


def test_the_thinnest_sheet_is_held_against_its_table():
    found = strength(lay(0.063, 0.025), SKIN="6061-T6", RIB="2024-T3 clad")
    assert (found.sheet, found.thickness, str(found.material)) == ("RIB", 0.025, "2024-T3 clad")
    assert found.asked == rivets_per_inch(0.025, SMALL, "4-10")
    assert found.load == rivet_load(0.025, SMALL, "2024-T3 clad")
    assert found.per_inch == pytest.approx(1 / 0.5)


def test_strength_is_told_with_its_caution_and_what_is_not_known():
    lines = told(
        lay(0.025, 0.032),
        lay(0.032, 0.025, name="J2"),
        lay(0.063, 0.063, name="J3", head=Head.FLUSH),
        materials={"SKIN": "2024-T3", "RIB": "birch"},
    )
    strength = block(lines, "Strength. Information only: the plans govern")
    asked = rivets_per_inch(0.025, SMALL, "4-9").number
    load = rivet_load(0.025, SMALL, "2024-T3").load
    assert strength[2].split() == [
        *("J1", "3/32", "SKIN", "0.025", "in,", "2024-T3", "bare"),
        *(f"{asked:.1f}/in", "(shear)", "2.00/in", f"{load:.0f}", "lbf", "(shear)"),
    ]
    assert strength[3].split() == ["J2", "3/32", "RIB", "0.025", "in", "-", "2.00/in", "-"]
    words = " ".join(" ".join(strength).split())
    assert "SKIN: taken as bare sheet; if it is clad, say so in its material" in words
    assert "RIB: 'birch' is in none of the tables" in words
    assert "J3: a countersunk sheet may hold less than this" in words


def test_without_a_stated_material_nothing_is_said_but_that():
    found = strength(lay(0.032, 0.032))
    assert (found.material, found.asked, found.load) == (None, None, None)
    words = " ".join(" ".join(told(lay(0.032, 0.032), materials={})).split())
    assert "SKIN: no material is stated; state material in build.toml" in words


def test_rivets_of_two_sizes_are_held_against_the_tables_apart():
    both = Plate([ROW, [At(x, y, 0.1285) for x, y in level(1.0, 3.0, 0.75, 5)]]).part()
    found = joint_strengths(lay(0.032, 0.032, skin=both), {"SKIN": "5052-H32"})
    assert [(row.rivet.name, row.pitch) for row in found] == [("3/32", 0.5), ("1/8", 0.75)]
    assert [row.asked.table.name for row in found] == ["4-11", "4-11"]
    assert [row.load for row in found] == [None, None]


def test_the_usual_pitch_leaves_a_gap_in_the_row_out_of_account():
    gap = Plate([[*ROW[:5], *ROW[6:]]]).part()
    laid = lay(0.032, 0.032, skin=gap)
    assert usual_pitch(laid, laid.places) == pytest.approx(0.5)
    single = lay(0.032, 0.032, skin=Plate(singles=[(1.0, 1.0), (2.0, 2.5)]).part())
    assert usual_pitch(single, single.places) is None


@pytest.mark.parametrize(
    ("words", "sheet"),
    [
        ("2024-T3", "2024-T3 bare"),
        ("Alclad 2024-T3, 0.032", "2024-T3 clad"),
        ("2024-t3 CLAD", "2024-T3 clad"),
        ("5052-H32", "5052 bare"),
        ("5052", "5052 bare"),
        ("6061-T6", "6061-T6 bare"),
        ("2024", "None"),
        ("2024-T351", "None"),
        ("7075-T6 clad", "None"),
        ("2024-T3 or 6061-T6", "None"),
        ("steel 4130", "None"),
        ("", "None"),
    ],
)
def test_a_material_is_known_by_alloy_temper_and_cladding(words, sheet):
    assert str(sheet_material(words)) == sheet


# As an object, and as a page -------------------------------------------------------------------


def test_the_object_has_lengths_in_the_unit_named():
    found = rivet_object(
        needed(lay(0.032, 0.032, 0.063), stock={"MS20470AD3-3": 5}, materials={"RIB": "2024-T3"}),
        MILLIMETRE,
    )
    assert (found["format"], found["units"], found["rules"]) == (
        "holeschedule.rivets/1",
        "mm",
        "faa",
    )
    assert [(lot["rivet"], lot["count"], lot["places"]) for lot in found["joints"]] == [
        ("MS20470AD3-3", 6, [7, 8, 9, 10, 11, 12]),
        ("MS20470AD3-4", 6, [1, 2, 3, 4, 5, 6]),
    ]
    assert found["joints"][1]["grip_most"] == pytest.approx(0.127 * 25.4)
    assert found["shop_heads"][0]["width"] == pytest.approx(1.5 * 3 / 32 * 25.4)
    assert found["totals"][0] | {"weight_lb": None} == {
        "rivet": "MS20470AD3-3",
        "count": 6,
        "spares": 1,
        "needed": 7,
        "weight_lb": None,
    }
    assert found["shopping"][0]["to_buy"] == 2
    assert found["strength"]["joints"][0]["thickness"] == pytest.approx(0.032 * 25.4)
    assert "plans govern" in found["strength"]["caution"]
    plain = rivet_object(needed(lay(0.032, 0.032)), INCH)
    assert not {"shopping", "strength"} & set(plain)


@pytest.mark.parametrize("unit", [INCH, MILLIMETRE])
def test_no_line_is_wider_than_a_hundred_columns(unit):
    odd = [spot for n, spot in enumerate(level(0.3, 1.0, 0.25, 38)) if n % 3]
    rough = Plate([odd], singles=[At(0.3 + 0.5 * n, 3.0, 0.1285) for n in range(0, 18, 2)]).part()
    joints = [lay(0.032, None, skin=rough), lay(0.0401, 0.0632, name="J100000", skin=rough)]
    more = {"unlaid": {"J7": "word " * 50}, "stock": {"MS20470AD3-3": 5}}
    lines = told(*joints, unit=unit, materials={"SKIN": "2024-T3 clad"}, **more)
    assert max(map(len, lines)) <= 100
