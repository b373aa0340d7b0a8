"""The packaged facts and the questions asked of them."""

import csv
import math
import tomllib
from itertools import combinations, pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.data import BASES, FOLDER, read_table
from holeschedule.errors import LengthError, TableError
from holeschedule.model import Head, HoleSize, Role
from holeschedule.tables import (
    DrillSeries,
    countersink_least_sheet,
    dimple_most_sheet,
    drill_named,
    drills,
    flush_head,
    flush_heads,
    is_drill_size,
    layer_words,
    mark_fits,
    parse_size,
    rivet_for_hole,
    rivet_of_dash,
    rivet_size,
    rivet_sizes,
    role_of_layer,
    universal_heads,
    value_named,
)
from holeschedule.units import LengthUnit

INCH, MM = LengthUnit.INCH, LengthUnit.MILLIMETRE
HOLES = st.floats(min_value=0.005, max_value=0.45)
TABLES = sorted(FOLDER.glob("*.csv"))
NOT_FOR_RULES = ("doubtful", "differs", "misprint", "do not use", "verify", "conflict")


# Every file ------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_every_row_of_every_table_states_its_source_and_basis(path: Path) -> None:
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows
    for row in rows:
        assert row["source"].strip(), row
        assert row["basis"] in BASES, row


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_no_value_that_its_source_contradicts_is_packaged(path: Path) -> None:
    text = path.read_text(encoding="utf-8").lower()
    assert [word for word in NOT_FOR_RULES if word in text] == []


@pytest.mark.parametrize("path", sorted((FOLDER / "rules").glob("*.toml")), ids=lambda p: p.stem)
def test_every_rule_of_every_packaged_set_states_its_source_and_basis(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    rules = tomllib.loads(text)["rule"]
    assert rules
    for rule in rules:
        assert rule["source"].strip(), rule
        assert rule["basis"] in BASES, rule
    assert [word for word in NOT_FOR_RULES if word in text.lower()] == []


def test_tables_and_rule_sets_are_there_to_be_tested() -> None:
    assert len(TABLES) == 16
    assert len(list((FOLDER / "rules").glob("*.toml"))) == 3


HEADER = "dash,least_sheet,source,basis,note\n"
GOOD = "3,0.040,some manual,read,\n"


def write(folder: Path, text: str | bytes) -> Path:
    path = folder / "sheets.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def test_a_sound_table_is_read_row_by_row(tmp_path: Path) -> None:
    rows = read_table(write(tmp_path, HEADER + GOOD + GOOD), ["dash", "least_sheet"])
    assert [row.number for row in rows] == [2, 3]
    assert rows[0].whole("dash") == 3
    assert rows[0].value("least_sheet") == 0.04


@pytest.mark.parametrize(
    ("text", "place"),
    [
        (HEADER, "sheets.csv, row 1: there is no row below the header."),
        ("", "sheets.csv, row 1: the columns are none, not dash,"),
        ("dash,sheet,source,basis,note\n" + GOOD, "sheets.csv, row 1: the columns are dash, sheet"),
        (HEADER + GOOD + "3,0.040\n", "sheets.csv, row 3: it has 2 cells, not 5."),
        (HEADER + GOOD + "3,0.040,a,read,,x\n", "sheets.csv, row 3: it has 6 cells, not 5."),
        (HEADER + GOOD + "3,0.040,,read,\n", "sheets.csv, row 3: source is empty."),
        (HEADER + "3,0.040,a,heard,\n", "sheets.csv, row 2: basis is 'heard'; choose from common"),
        (HEADER + '3,"0.040,a,read,\n', "sheets.csv: cannot be read (unexpected end of data)"),
        ((HEADER + GOOD).encode() + b"3,\xff\xfe", "sheets.csv: cannot be read ('utf-8' codec"),
    ],
)
def test_a_damaged_table_is_refused_with_file_and_row(
    tmp_path: Path, text: str | bytes, place: str
) -> None:
    with pytest.raises(TableError) as caught:
        read_table(write(tmp_path, text), ["dash", "least_sheet"])
    assert str(caught.value).startswith(place)
    assert "nstall the package again." in str(caught.value)


def test_a_missing_table_is_refused(tmp_path: Path) -> None:
    with pytest.raises(TableError, match=r"^none\.csv: cannot be read .* Install the package"):
        read_table(tmp_path / "none.csv", [])


@pytest.mark.parametrize("number", ["", "x", "nan", "inf", "-0.04", "0"])
def test_a_cell_without_a_usable_number_is_refused(tmp_path: Path, number: str) -> None:
    path = write(tmp_path, f"{HEADER}{GOOD}4,{number},a,read,\n")
    row = read_table(path, ["dash", "least_sheet"])[1]
    with pytest.raises(TableError, match=r"^sheets\.csv, row 3: least_sheet is .*damaged"):
        row.value("least_sheet")


def test_a_cell_without_a_whole_number_is_refused(tmp_path: Path) -> None:
    row = read_table(write(tmp_path, HEADER + "3.5,0.040,a,read,\n"), ["dash", "least_sheet"])[0]
    with pytest.raises(TableError, match=r"row 2: dash is 3\.5, not a whole number"):
        row.whole("dash")


def test_an_unknown_single_value_is_refused_with_the_names() -> None:
    with pytest.raises(TableError, match=r"no value 'dimple_sheet'.*did you mean dimple_most_shee"):
        value_named("dimple_sheet")


# Drills ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "size"),
    [
        ("#40", "#40"),
        ("# 40", "#40"),
        ("No. 40", "#40"),
        ("f", "F"),
        ("3/32", "3/32"),
        ("2.5mm", "2.5 mm"),
        ("2 mm", "2.0 mm"),
    ],
)
def test_a_drill_is_found_however_its_size_is_written(written: str, size: str) -> None:
    assert drill_named(written).size == size


@pytest.mark.parametrize("written", ["#81", "#0", "AA", "3/33", "0.098", "2.55 mm", ""])
def test_a_size_that_no_drill_has_is_refused(written: str) -> None:
    with pytest.raises(TableError, match=r"is not a drill size; the sizes are 1/64 to 1/2, #80 to"):
        drill_named(written)


def test_drill_sizes_are_named_once() -> None:
    assert len({drill.size for drill in drills()}) == len(drills())


@pytest.mark.parametrize("diameter", [0.0, -0.1, math.nan, math.inf])
def test_no_rivet_is_sought_for_a_diameter_that_is_none(diameter: float) -> None:
    with pytest.raises(TableError, match=r"a hole of .* in is none; .* above 0"):
        rivet_for_hole(diameter)


def test_a_drill_size_is_known_to_the_rounding_of_three_decimals() -> None:
    assert is_drill_size(0.1285)
    assert is_drill_size(0.129)  # #30 rounded up
    assert is_drill_size(2.5 / 25.4)
    assert not is_drill_size(0.132)  # between #30 and 3.4 mm
    assert not is_drill_size(1.25)
    assert not is_drill_size(math.nan)


def test_the_tolerance_of_a_drill_size_includes_its_ends() -> None:
    largest = max(drill.diameter for drill in drills())
    assert is_drill_size(largest + 0.002, tolerance=0.002)
    assert not is_drill_size(largest + 0.00201, tolerance=0.002)
    assert is_drill_size(0.0135 - 0.002, tolerance=0.002)
    assert not is_drill_size(0.0135 - 0.00201, tolerance=0.002)


@given(st.floats(min_value=0.001, max_value=0.6), st.floats(min_value=0, max_value=0.01))
def test_a_drill_size_is_one_with_a_drill_within_the_tolerance(
    diameter: float, tolerance: float
) -> None:
    nearest = min(abs(drill.diameter - diameter) for drill in drills())
    if abs(nearest - tolerance) > 1e-8:
        assert is_drill_size(diameter, tolerance) == (nearest < tolerance)


@pytest.mark.parametrize(
    ("text", "inches"),
    [("#40", 0.098), (" f ", 0.257), ("No. 30", 0.1285), ("3/32", 0.09375), ("0.1", 0.1)],
)
def test_a_size_is_a_drill_or_a_length(text: str, inches: float) -> None:
    assert parse_size(text, INCH) == inches


def test_a_plain_size_is_in_the_unit_asked_for_but_a_drill_is_not() -> None:
    assert parse_size("2.54", MM) == 0.1
    assert parse_size("#40", MM) == 0.098


def test_a_size_that_is_neither_is_refused() -> None:
    with pytest.raises(TableError, match=r"'#99' is not a drill size"):
        parse_size("#99", INCH)
    with pytest.raises(LengthError, match=r"'big' is not a length"):
        parse_size("big", INCH)


# Rivets ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ["3/32", " 3/32 ", "3", "-3", "0.09375", "0.094", '3/32"', "3/32 in", "2.38125 mm"]
)
def test_a_rivet_is_named_by_diameter_or_dash_number(text: str) -> None:
    assert rivet_size(text) is rivet_of_dash(3)


@pytest.mark.parametrize("text", ["7", "-7", "7/32", "0.1", "1", "AD3", "2,4", "-3/32", "nan", ""])
def test_a_rivet_that_is_not_made_is_refused_with_the_sizes(text: str) -> None:
    with pytest.raises(TableError) as caught:
        rivet_size(text)
    assert "is not a rivet size; choose from 1/16 (-2), 3/32 (-3), 1/8 (-4)," in str(caught.value)
    assert str(caught.value).endswith("5/16 (-10), 3/8 (-12).")


@given(st.text(max_size=8))
def test_any_text_is_a_rivet_or_refused(text: str) -> None:
    try:
        found = rivet_size(text)
    except TableError:
        return
    assert any(character.isdigit() for character in text)
    assert found in rivet_sizes()


def named(diameter: float) -> tuple[str, HoleSize] | None:
    found = rivet_for_hole(diameter)
    return (found[0].name, found[1]) if found else None


def test_the_final_drill_of_a_rivet_makes_its_final_hole() -> None:
    for rivet in rivet_sizes():
        assert rivet_for_hole(rivet.final_drill.diameter) == (rivet, HoleSize.FINAL)


@pytest.mark.parametrize(
    ("size", "rivet"),
    [("#41", "3/32"), ("#22", "5/32"), ("#12", "3/16"), ("2.5 mm", "3/32"), ("3.3 mm", "1/8")],
)
def test_strength_older_and_metric_drills_make_final_holes_too(size: str, rivet: str) -> None:
    assert named(drill_named(size).diameter) == (rivet, HoleSize.FINAL)


@pytest.mark.parametrize(
    ("diameter", "rivet"),
    [
        (0.040, "3/32"),
        (0.0595, "3/32"),  # #53
        (1 / 16, "3/32"),
        (0.0635, "3/32"),  # #52, the older drill for 1/16
        (0.070, "3/32"),
        (3 / 32, "3/32"),
        (0.1065, "1/8"),
        (1 / 8, "1/8"),
        (5 / 32, "5/32"),
        (0.156, "5/32"),
        (3 / 16, "3/16"),
        (0.188, "3/16"),  # 3/16 in three decimals
        (1 / 4, "1/4"),
        (0.3, "5/16"),
        (3 / 8, "3/8"),
    ],
)
def test_a_hole_between_final_sizes_is_a_pilot_for_the_next_rivet_up(
    diameter: float, rivet: str
) -> None:
    assert named(diameter) == (rivet, HoleSize.PILOT)


def test_only_a_hole_at_its_very_size_is_for_a_rivet_too_thin_for_structure() -> None:
    assert named(0.067) == ("1/16", HoleSize.FINAL)
    assert named(0.067 - 0.0015) == ("1/16", HoleSize.FINAL)
    assert named(0.067 - 0.00151) == ("3/32", HoleSize.PILOT)


def test_the_hole_size_tolerance_includes_its_ends() -> None:
    assert named(0.1285 + 0.0015) == ("1/8", HoleSize.FINAL)
    assert named(0.1285 + 0.00151) == ("5/32", HoleSize.PILOT)
    assert named(0.1285 - 0.0015) == ("1/8", HoleSize.FINAL)
    assert named(0.1285 - 0.00151) == ("1/8", HoleSize.PILOT)


def test_a_hole_beyond_the_largest_rivet_is_for_none() -> None:
    assert named(0.3875) == ("3/8", HoleSize.FINAL)
    assert named(0.3876) is None
    assert named(2.0) is None


@given(HOLES, HOLES)
def test_a_larger_hole_never_means_a_thinner_rivet(one: float, other: float) -> None:
    small, large = sorted((one, other))
    small = max(small, 0.0686)  # below, a 1/16 final hole lies between pilots for 3/32
    first, second = rivet_for_hole(small), rivet_for_hole(max(small, large))
    if second is not None:
        assert first is not None
        assert first[0].dash <= second[0].dash


@given(HOLES)
def test_a_rivet_goes_into_every_hole_at_its_final_size(diameter: float) -> None:
    found = rivet_for_hole(diameter)
    if found is not None and found[1] is HoleSize.FINAL:
        assert diameter > found[0].shank_diameter
    elif found is not None:
        assert diameter < found[0].final_drill.diameter


def test_no_hole_is_within_reach_of_two_rivets() -> None:
    tolerance = value_named("hole_size_tolerance").value
    for thin, thick in combinations(rivet_sizes(), 2):
        gap = min(thick.final_diameters) - max(thin.final_diameters)
        assert gap > 2 * tolerance + 0.001, (thin.name, thick.name)


def test_final_diameters_hold_the_final_drill_and_exceed_the_shank() -> None:
    for rivet in rivet_sizes():
        assert rivet.final_drill.diameter in rivet.final_diameters
        assert list(rivet.final_diameters) == sorted(set(rivet.final_diameters))
        assert min(rivet.final_diameters) > rivet.shank_diameter


# Heads and sheets ------------------------------------------------------------------------------


def test_heads_are_listed_by_style_and_grow_with_the_rivet() -> None:
    for heads, style in ((flush_heads(), Head.FLUSH), (universal_heads(), Head.PROTRUDING)):
        assert {head.head for head in heads} == {style}
        assert [head.dash for head in heads] == [2, 3, 4, 5, 6, 8]
        for thin, thick in pairwise(heads):
            assert thin.diameter < thick.diameter
            assert thin.height < thick.height


def test_a_flush_head_is_wider_than_its_shank() -> None:
    for head in flush_heads():
        assert flush_head(head.dash) is head
        assert head.diameter > 1.5 * rivet_of_dash(head.dash).shank_diameter


def test_a_rivet_without_a_known_flush_head_is_refused_with_those_that_have_one() -> None:
    with pytest.raises(
        TableError, match=r"dash 10; there is one for 1/16, 3/32, 1/8, 5/32, 3/16, 1/4\."
    ):
        flush_head(10)


def test_a_mark_within_its_tolerance_of_a_head_fits_that_rivet() -> None:
    for head in flush_heads():
        rivet = rivet_of_dash(head.dash)
        assert mark_fits(head.diameter) is rivet
        assert mark_fits(head.diameter + 0.006) is rivet
        assert mark_fits(head.diameter - 0.006) is rivet
        assert mark_fits(head.diameter + 0.00601) is None
        assert mark_fits(head.diameter + 0.02, tolerance=0.02) is rivet


@pytest.mark.parametrize("diameter", [0.05, 0.2, 0.25, 1.0, math.nan, math.inf])
def test_a_mark_that_is_no_head_fits_no_rivet(diameter: float) -> None:
    assert mark_fits(diameter) is None


def test_the_least_sheet_of_a_countersink_is_never_less_than_the_head() -> None:
    known = {d: countersink_least_sheet(d) for d in (3, 4, 5, 6)}
    for dash, least in known.items():
        assert least is not None
        assert least.value >= flush_head(dash).height
        assert least.unit == "in"


@pytest.mark.parametrize("dash", [2, 7, 8, 10, 12])
def test_there_is_no_least_sheet_where_no_source_can_be_used(dash: int) -> None:
    assert countersink_least_sheet(dash) is None


def test_sheet_up_to_forty_thousandths_is_best_dimpled() -> None:
    most = dimple_most_sheet()
    assert (most.value, most.unit, most.basis) == (0.04, "in", "secondary")


# Layer names -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("OUTLINE", Role.OUTLINE),
        ("part_outline", Role.OUTLINE),
        ("Outer Profile", Role.OUTLINE),
        ("01-HOLES", Role.HOLES),
        ("HOLES2", Role.HOLES),
        ("RivetHoles", Role.HOLES),
        ("pilot holes #40", Role.HOLES),
        ("CUTOUTS", Role.CUTOUTS),
        ("Cut-Out", Role.CUTOUTS),
        ("CutOuts", Role.CUTOUTS),
        ("LIGHTENING HOLES", Role.CUTOUTS),
        ("BEND LINES", Role.BEND),
        ("fold", Role.BEND),
        ("Trim_Line", Role.TRIM),
        ("Defpoints", Role.IGNORED),
        ("DIM", Role.IGNORED),
        ("Title Block", Role.IGNORED),
        ("CentreLines", Role.IGNORED),
    ],
)
def test_a_plain_word_in_a_layer_name_says_its_role(name: str, role: Role) -> None:
    assert role_of_layer(name) is role


@pytest.mark.parametrize(
    "name",
    [
        "0",
        "",
        "LAYER1",
        "WHOLE",  # holds HOLE, but is another word
        "OUTLINED",
        "DIMPLE",
        "BENDIX",
        "SHEET",  # the sheet metal as likely as a drawing sheet
        "FRAME-3",  # a part of an airframe as likely as a drawing frame
        "BEND RELIEF",  # two roles
        "HOLE CENTERS",
        "Outline+Holes",
        "LOCHÖHE",
        "ÄHOLES",
    ],
)
def test_a_name_with_no_plain_word_or_with_two_roles_says_nothing(name: str) -> None:
    assert role_of_layer(name) is None


@given(st.sampled_from(layer_words()), st.sampled_from(["{}", "x-{}", "{}_1", "7 {}", "({})"]))
def test_every_word_of_the_table_says_its_role_in_any_case(
    entry: tuple[str, Role], form: str
) -> None:
    word, role = entry
    for written in (word, word.lower(), word.title(), word.replace(" ", "_")):
        assert role_of_layer(form.format(written)) is role


def test_layer_words_are_plain_capitals_and_stand_once() -> None:
    words = [word for word, _ in layer_words()]
    assert len(set(words)) == len(words)
    assert all(part.isascii() and part.isupper() for word in words for part in word.split())


def test_drill_series_name_equal_sizes_in_the_order_of_their_enum() -> None:
    assert list(DrillSeries) == ["fraction", "number", "letter", "metric"]
