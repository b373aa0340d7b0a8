"""A joint in words, and as an object: what it is, what goes where, what is wrong."""

import math

import jsonschema
import pytest

from holeschedule.audit.rules import load_rule_set
from holeschedule.geometry.placement import IN_PLACE, Placement
from holeschedule.units import LengthUnit
from holeschedule.views.joint_data import joint_object
from holeschedule.views.joint_text import (
    MOST_FINDINGS,
    joint_lines,
    number_ranges,
    placement_text,
    summary_line,
    wrong_texts,
)
from tests.cli.commands import SCHEMA
from tests.joints import BUILD, Parts, build_of, laid_in, written
from tests.plates import Plate, level

FAA = load_rule_set("faa")
LOW, HIGH = level(1, 1, 0.75, 4), level(1.2, 3, 0.7, 4)
INCH, MM = LengthUnit.INCH, LengthUnit.MILLIMETRE


def lay(cap, *, skin='SKIN holes = "B"', of_joint="", build=BUILD, lies='shift = "0, 0"'):
    parts = Parts(SKIN=Plate(rows=[LOW, HIGH]).part(), CAP=cap)
    intent = build_of(written("J1", skin, f"CAP {lies}", of_joint=of_joint), parts=build)
    (laid,) = laid_in(intent, parts)
    return laid


def shifted(by, **more):
    return Plate(rows=[[(x + by, y) for x, y in HIGH]], **more).part()


def text(laid, unit=INCH):
    return "\n".join(joint_lines(laid, FAA, unit))


@pytest.mark.parametrize(
    ("placement", "said"),
    [
        (IN_PLACE, "as drawn"),
        (Placement(0.0, (3.0, 1.0)), "as drawn"),
        (Placement(-1e-9, (3.0, 1.0)), "as drawn"),
        (Placement(math.tau - 1e-9), "as drawn"),
        (Placement(math.pi / 2), "turned 90.0°"),
        (Placement(-math.pi / 2), "turned 270.0°"),
        (Placement(flip=True), "flipped"),
        (Placement(math.radians(12.34), flip=True), "flipped, turned 12.3°"),
    ],
)
def test_how_a_part_lies_is_told_without_its_shift(placement, said):
    assert placement_text(placement) == said


@pytest.mark.parametrize(
    ("numbers", "said"), [([], ""), ([4], "4"), ([1, 2, 3, 9], "1-3,9"), ([2, 4, 5], "2,4-5")]
)
def test_numbers_are_told_as_they_are_selected(numbers, said):
    assert number_ranges(numbers) == said


def test_a_sound_joint_has_no_findings():
    laid = lay(shifted(0), of_joint='title = "cap"')
    assert summary_line(laid, FAA) == (
        "J1 cap: 4 places, 3/32 rivets, protruding heads; SKIN + CAP: no findings"
    )
    assert "No findings." in text(laid)
    assert "Findings:" not in text(laid)


def test_lengths_are_told_in_the_unit_asked_for():
    laid = lay(shifted(0.003))
    assert "0.0030 in" in text(laid)
    assert "0.076 mm" in text(laid, MM)
    assert " in" not in text(laid, MM).replace(" in [", "").split("Findings")[0]


def test_each_hole_that_is_off_is_told_with_limit_and_source():
    laid = lay(shifted(0.02))
    told = wrong_texts(laid, FAA, INCH)
    assert told[0].startswith("MISALIGNED CAP:A1: 0.0200 in off SKIN:B1; at most 0.0043 in")
    assert told[-1] == "[1] geometry: the rivet's shank has to pass both holes"
    assert "4 findings" in summary_line(laid, FAA)


def test_what_is_wrong_at_many_holes_is_counted_in_the_end():
    spots = level(0.5, 1, 0.2, MOST_FINDINGS + 5)
    skin = Plate(rows=[spots]).part()
    cap = Plate(rows=[[(x + 0.02, y) for x, y in spots]]).part()
    intent = build_of(written("J1", "SKIN", 'CAP shift = "0, 0"'))
    (laid,) = laid_in(intent, Parts(SKIN=skin, CAP=cap))
    told = wrong_texts(laid, FAA, INCH)
    assert sum(line.startswith("MISALIGNED") for line in told) == MOST_FINDINGS
    assert "and 5 findings more" in told


def test_a_hole_to_come_that_is_short_is_told_with_the_move_that_cures_it():
    strip = Plate(singles=[], corners=[(0, 2.9), (5, 2.9), (5, 4), (0, 4)]).part()
    laid = lay(strip)
    told = " ".join(wrong_texts(laid, FAA, INCH))
    assert "SHORT J1:1 in CAP: edge distance 0.1000 in" in told
    assert "CAP moved 0.088 in down, as it is drawn, leaves no hole short" in told


def test_a_layer_alone_is_told_once_for_all_its_places():
    small = [(0, 2), (5, 2), (5, 4), (0, 4)]
    laid = lay(shifted(0, corners=small), skin="SKIN")
    told = [line for line in wrong_texts(laid, FAA, INCH) if "alone lies here" in line]
    assert len(told) == 1
    assert told[0].startswith("J1:1-4: SKIN alone lies here")


def test_a_wedge_is_told_as_tapered_with_its_least_and_largest_grip():
    build = BUILD.replace("thickness = 0.040", 'taper = "A1=0.100, A4=0.094"')
    told = text(lay(shifted(0), build=build))
    assert "CAP tapered 4" in " ".join(told.split())
    assert "4 places: SKIN + CAP; grip 0.126 to 0.132 in; MS20470AD3-4" in told


def test_lines_stay_within_100_columns_however_many_rows_there_are():
    rows = [level(1, 0.5 + 0.4 * n, 0.75, 3) for n in range(11)]
    skin = Plate(rows=rows).part()
    laid = laid_in(
        build_of(written("J1", "SKIN", 'CAP shift = "0, 0"')),
        Parts(SKIN=skin, CAP=skin),
    )[0]
    lines = joint_lines(laid, FAA, INCH)
    assert max(map(len, lines)) <= 100
    assert "…" in "\n".join(lines)


@pytest.mark.parametrize("unit", [INCH, MM])
@pytest.mark.parametrize("off", [0.0, 0.02, 0.4])
def test_the_object_of_a_joint_is_what_the_schema_says(unit, off):
    laid = lay(shifted(off), skin="SKIN")
    found = joint_object(laid, FAA, unit)
    audit = {
        "format": "holeschedule.audit/1",
        "units": str(unit),
        "rules": "faa",
        "parts": [],
        "joints": [found],
        "unlaid": [{"joint": "J2", "text": "why"}],
    }
    jsonschema.validate(audit, SCHEMA)
    grips = [place["grip"] for place in found["places"]]
    assert all(grip is None or unit.to_inches(grip) < 0.08 for grip in grips)
    assert bool(found["findings"]) is (off == 0.02)
