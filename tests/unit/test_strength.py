"""Rivets per inch and load of a rivet, as information."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.errors import LengthError, TableError
from holeschedule.fastener_tables import count_factor, strength_hole
from holeschedule.joints.strength import Mode, rivet_load, rivets_per_inch
from holeschedule.operations import Treatment
from holeschedule.tables import rivet_size

EIGHTH = rivet_size("1/8")


def test_the_mode_that_asks_for_more_rivets_counts() -> None:
    thin, thick = (rivets_per_inch(sheet, EIGHTH, "4-10") for sheet in (0.016, 0.064))
    assert (thin.governs, thin.number) == (Mode.BEARING, thin.for_bearing)
    assert (thick.governs, thick.number) == (Mode.SHEAR, thick.for_shear)


@given(st.floats(min_value=0.01, max_value=0.2), st.sampled_from(["4-9", "4-10", "4-11"]))
def test_a_thicker_sheet_never_asks_for_fewer_rivets(sheet: float, table: str) -> None:
    one, other = (rivets_per_inch(t, EIGHTH, table) for t in (sheet, sheet * 1.1))
    assert one.number <= other.number
    assert one.for_bearing == other.for_bearing


@pytest.mark.parametrize(("spare", "count"), [(-0.001, 10), (0.0, 10), (0.001, 11)])
def test_a_number_of_rivets_is_rounded_up(spare: float, count: int) -> None:
    found = rivets_per_inch(0.040, EIGHTH, "4-10")
    assert found.number == pytest.approx(6.17, abs=0.005)
    # to the tenth, as the table prints it
    assert found.count((10 + spare) / 6.2) == count
    assert found.count((10 + spare) / 6.2 / 0.75, count_factor("single-lap")) == count


def test_the_load_is_the_lesser_of_shear_and_bearing() -> None:
    thin, thick = (rivet_load(sheet, EIGHTH, "2024-T3 clad") for sheet in (0.025, 0.063))
    assert (thin.governs, thin.load) == (Mode.BEARING, thin.bearing)
    assert (thick.governs, thick.load) == (Mode.SHEAR, thick.shear)
    assert thick.shear == thin.shear == pytest.approx(30_000 * math.pi / 4 * 0.1285**2)
    assert thin.bearing == pytest.approx(121_000 * 0.125 * 0.025)
    assert thin.notices == thick.notices == ()


@pytest.mark.parametrize(
    ("ratio", "codes"), [(0.18, []), (0.1799, ["strength.thin-sheet"]), (0.1801, [])]
)
def test_bearing_in_very_thin_sheet_is_to_be_tested(ratio: float, codes: list[str]) -> None:
    found = rivet_load(ratio * 0.125, EIGHTH, "2024-T3 clad")
    assert [notice.code for notice in found.notices] == codes


def test_a_countersunk_sheet_brings_a_notice() -> None:
    found = rivet_load(0.063, EIGHTH, "2024-T3 clad", Treatment.COUNTERSINK)
    assert [notice.code for notice in found.notices] == ["strength.countersunk"]
    assert rivet_load(0.063, EIGHTH, "2024-T3 clad", Treatment.DIMPLE).notices == ()


@pytest.mark.parametrize("sheet", [0.0, -0.032, math.nan, math.inf])
def test_a_sheet_that_is_none_is_refused(sheet: float) -> None:
    with pytest.raises(LengthError, match=r"^a sheet of .* in is none; its thickness has to be"):
        rivets_per_inch(sheet, EIGHTH, "4-10")
    with pytest.raises(LengthError, match=r"^a sheet of .* in is none; its thickness has to be"):
        rivet_load(sheet, EIGHTH, "2024-T3 clad")


def test_what_no_table_holds_is_refused_with_the_choices() -> None:
    with pytest.raises(TableError, match=r"no strength table '4-8'; choose from 4-9 \(bare 2024-"):
        rivets_per_inch(0.032, EIGHTH, "4-8")
    with pytest.raises(TableError, match=r"no bearing strength is known for '3003'; choose from"):
        rivet_load(0.032, EIGHTH, "3003")
    with pytest.raises(TableError, match=r"no value 'count_factor\.wing'"):
        count_factor("wing")
    with pytest.raises(TableError, match=r"'7' is not a rivet size"):
        strength_hole(7)
