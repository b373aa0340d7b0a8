"""A fit that was tried: in words, as an object, and whether it misses."""

import pytest

from holeschedule.joints.along import compare_rows
from holeschedule.joints.fit import fit_holes
from holeschedule.units import LengthUnit
from holeschedule.views.explain import CAUTION
from holeschedule.work.fitting import MOST_WAYS, Tried
from tests.joints import layer_of
from tests.plates import Plate, level

INCH, MM = LengthUnit.INCH, LengthUnit.MILLIMETRE
ODD = [(1.0, 1.0), (2.0, 1.4), (3.0, 1.0), (4.5, 2.0)]
ROW = level(1, 1, 0.5, 12)
ALLOWED = 0.00425


def tried(base, part, *, unit=INCH, along=False):
    one, other = (
        layer_of(Plate(rows=[spots]).part(), name)
        for spots, name in ((base, "SKIN"), (part, "CAP"))
    )
    if along:
        rows = compare_rows(one.centres, other.centres, tolerance=0.05)
        return Tried(one, other, unit, ALLOWED, along=rows)
    return Tried(one, other, unit, ALLOWED, fit_holes(one.centres, other.centres, tolerance=0.05))


def off(spots, by):
    (x, y), *others = spots
    return [(x + by, y), *others]


def words(found):
    return " ".join(found.as_text().split())


@pytest.mark.parametrize(("by", "misses"), [(0.0, False), (0.004, False), (0.02, True)])
def test_a_fit_misses_when_a_hole_is_too_far_off_for_its_rivet(by, misses):
    found = tried(ODD, off(ODD, by))
    assert found.misses is misses
    assert ("too far" in found.as_text()) is misses


def test_a_hole_of_the_second_part_without_a_partner_misses_and_of_the_first_does_not():
    assert not tried(ODD, ODD[:3]).misses
    found = tried(ODD[:3], ODD)
    assert found.misses
    assert "Without a partner on CAP: A4" in found.as_text()


def test_the_words_give_each_hole_and_end_with_the_caution():
    told = tried(ODD, ODD).as_text()
    assert told.startswith("CAP on SKIN: 4 of 4 holes within 0.0500 in, as drawn.")
    assert "A3    A3   0.0000 in" in told
    assert CAUTION in " ".join(told.split())
    assert max(map(len, told.splitlines())) <= 100


def test_rival_ways_are_listed_up_to_a_number_and_then_counted():
    found = tried(ROW, ROW[:3])
    listed = found.as_text().count("  --by ")
    assert listed == MOST_WAYS + 1
    assert f"and {found.result.rival_count - MOST_WAYS} more" in found.as_text()
    assert all("flip" in line for line in found.as_text().splitlines() if "  --by " in line)


def test_lengths_are_told_in_the_unit_asked_for():
    assert "1.270 mm" in words(tried(ODD, ODD, unit=MM))
    found = tried(ODD, off(ODD, 0.02), unit=MM).as_object()
    assert found["units"] == "mm"
    assert found["tolerance"] == pytest.approx(1.27)
    assert found["allowed_offset"] == pytest.approx(ALLOWED * 25.4)
    assert max(hole["offset"] for hole in found["best"]["holes"]) == pytest.approx(
        found["best"]["largest"]
    )


def test_the_object_has_every_pair_and_what_is_left():
    found = tried(ODD, ODD[1:]).as_object()
    assert found["format"] == "holeschedule.fit/1"
    assert (found["base"], found["part"], found["rival_count"]) == ("SKIN", "CAP", 0)
    assert [(h["base"], h["part"]) for h in found["best"]["holes"]] == [
        (f"A{n + 1}", f"A{n}") for n in range(1, 4)
    ]
    assert (found["best"]["left_base"], found["best"]["left_part"]) == (["A1"], [])


# Along -----------------------------------------------------------------------------------------


def test_a_row_that_runs_long_is_told_hole_by_hole():
    spots = ROW[:11]
    found = tried(spots, [(1 + (x - 1) * 1.004, y) for x, y in spots], along=True)
    assert found.misses
    assert "the row of CAP runs 0.0200 in longer" in words(found)
    rows = [line for line in found.as_text().splitlines() if line.startswith("A")]
    assert len(rows) == 11 + 1
    assert rows[0].endswith("-0.0100 in  too far")
    assert rows[10].endswith("+0.0100 in  too far")
    assert not rows[5].endswith("too far")


def test_a_row_that_runs_short_or_the_other_way_is_told_so():
    shorter = tried(ROW, [(1 + (x - 1) * 0.9998, y) for x, y in ROW], along=True)
    assert not shorter.misses
    assert "in shorter" in words(shorter)
    assert "the same way" in words(shorter)
    uneven = [(x * x / 6, y) for x, y in ROW]
    assert "in opposite directions" in words(tried(uneven, uneven[::-1], along=True))


def test_a_missing_hole_is_left_without_a_partner():
    found = tried(ROW, [*ROW[:5], *ROW[6:]], along=True)
    assert "Without a partner on SKIN: A6" in found.as_text()
    assert not found.misses
    gone = found.as_object()
    assert (gone["left_base"], gone["left_part"]) == (["A6"], [])
    assert [hole["base"] for hole in gone["holes"]] == [f"A{n}" for n in range(1, 13) if n != 6]
    assert tried([*ROW[:5], *ROW[6:]], ROW, along=True).misses


def test_along_as_an_object_gives_direction_and_drift():
    found = tried(ROW, [(1 + (x - 1) * 1.004, y) for x, y in ROW], unit=MM, along=True).as_object()
    assert found["drift"] == pytest.approx(5.5 * 0.004 * 25.4)
    assert found["reversed"] is False
    assert found["holes"][-1]["along"] == pytest.approx(5.5 * 25.4)
