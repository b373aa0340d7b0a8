"""Lengths: reading, showing and converting them."""

import math
import subprocess
import sys
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.errors import HoleScheduleError, LengthError, UnitError
from holeschedule.units import (
    MM_PER_INCH,
    LengthUnit,
    drawing_unit,
    drawing_unit_named,
    drawing_units,
    format_length,
    parse_length,
)

INCH, MM = LengthUnit.INCH, LengthUnit.MILLIMETRE
LENGTHS = st.floats(min_value=1e-6, max_value=1e6)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("0.098", 0.098),
        (".098", 0.098),
        ("5.", 5.0),
        ("0", 0.0),
        (" 3/32 ", 0.09375),
        ("3 / 32", 0.09375),
        ("1 1/8", 1.125),
        ("1-1/8", 1.125),
        ('3/32"', 0.09375),
        ("3/32″", 0.09375),
        ("1/8 in", 0.125),
        ("2 inches", 2.0),
        ("25.4 mm", 1.0),
        ("25.4mm", 1.0),
        ("2.54 MM", 0.1),
    ],
)
def test_a_length_is_read_as_a_builder_writes_it(text: str, inches: float) -> None:
    assert parse_length(text, INCH) == inches


def test_a_number_without_a_unit_is_in_the_unit_asked_for() -> None:
    assert parse_length("25.4", MM) == 1.0
    assert parse_length("1 in", MM) == 1.0
    assert parse_length("127/10", MM) == pytest.approx(0.5, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("2,5", "a comma is not read, because it parts decimals here and thousands there"),
        ("1,234,567", "a comma is not read"),
        ("-0.1", "a length is 0 or more"),
        ("−0.1", "a length is 0 or more"),
        ("nan", "not a finite number"),
        ("-inf", "not a finite number"),
        ("1/0", "divides by zero"),
        ("1e3", "is not a length"),
        ("1_000", "is not a length"),
        ("#40", "is not a length"),
        ("two", "is not a length"),
        ("", "is not a length"),
        ("9" * 400, "is not a length"),
        ("1 2", "is not a length"),
        ("٣", "is not a length"),
    ],
)
def test_what_is_not_a_length_is_refused_with_the_reason(text: str, reason: str) -> None:
    with pytest.raises(LengthError) as caught:
        parse_length(text, INCH)
    message = str(caught.value)
    assert reason in message
    assert "write a decimal (0.098), a fraction (3/32, 1 1/8) or millimetres (2.5 mm)" in message
    assert "\n" not in message
    assert len(message) < 250


def test_the_message_for_a_decimal_comma_shows_how_to_write_it() -> None:
    with pytest.raises(LengthError, match=r"^'2,5 mm' is not a length: .*, write 2\.5 mm;"):
        parse_length("2,5 mm", INCH)


def test_a_length_error_is_one_the_command_line_catches() -> None:
    assert issubclass(LengthError, HoleScheduleError)


@given(st.integers(0, 99), st.integers(0, 999), st.integers(1, 999))
def test_a_mixed_number_is_the_nearest_float_to_its_exact_value(
    whole: int, over: int, under: int
) -> None:
    exact = whole + Fraction(over, under)
    assert parse_length(f"{whole} {over}/{under}", INCH) == float(exact)


@given(st.text(max_size=12))
def test_any_text_is_a_finite_length_or_refused(text: str) -> None:
    try:
        inches = parse_length(text, INCH)
    except LengthError:
        return
    assert math.isfinite(inches)
    assert inches >= 0


@given(LENGTHS, st.sampled_from([INCH, MM]))
def test_what_is_shown_reads_back_to_the_decimals_shown(inches: float, unit: LengthUnit) -> None:
    shown = format_length(inches, unit, places=6)
    assert parse_length(shown, INCH) == pytest.approx(inches, rel=1e-12, abs=0.6e-6)


@pytest.mark.parametrize(
    ("inches", "unit", "places", "text"),
    [
        (0.098, INCH, None, "0.098 in"),
        (0.098, MM, None, "2.49 mm"),
        (1 / 64, INCH, 4, "0.0156 in"),
        (0.0, INCH, None, "0.000 in"),
        (-0.0, INCH, None, "0.000 in"),
        (-0.0004, INCH, None, "0.000 in"),
        (-0.00001, MM, 0, "0 mm"),
        (-0.016, INCH, None, "-0.016 in"),
        (-10.0, INCH, 0, "-10 in"),
    ],
)
def test_a_length_is_shown_in_its_unit_and_never_as_minus_zero(
    inches: float, unit: LengthUnit, places: int | None, text: str
) -> None:
    assert format_length(inches, unit, places) == text


@given(LENGTHS)
def test_a_length_survives_the_way_to_millimetres_and_back(inches: float) -> None:
    assert MM.to_inches(MM.from_inches(inches)) == pytest.approx(inches, rel=4e-16)


@given(LENGTHS)
def test_millimetres_become_inches_within_the_last_digit_of_a_float(millimetres: float) -> None:
    exact = float(Fraction(millimetres) / Fraction(254, 10))
    assert abs(MM.to_inches(millimetres) - exact) <= math.ulp(exact)


def test_arrays_convert_like_numbers() -> None:
    lengths = np.array([0.0, 25.4, 2.54])
    assert MM.to_inches(lengths).tolist() == [0.0, 1.0, 0.1]
    assert MM.from_inches(np.array([1.0])).tolist() == [25.4]
    assert INCH.to_inches(lengths).tolist() == lengths.tolist()
    centimetre = drawing_unit(5)
    assert centimetre is not None
    assert centimetre.to_inches(lengths).tolist() == [0.0, 10.0, 1.0]
    assert centimetre.from_inches(np.array([1.0])).tolist() == [2.54]


def test_an_inch_is_one_inch_and_a_millimetre_an_inch_over_25_4() -> None:
    assert INCH.inches == 1.0
    assert MM.inches == 1 / MM_PER_INCH


@pytest.mark.parametrize(
    ("code", "symbol", "inches"),
    [
        (1, "in", Fraction(1)),
        (2, "ft", Fraction(12)),
        (4, "mm", Fraction(10, 254)),
        (5, "cm", Fraction(100, 254)),
        (6, "m", Fraction(10_000, 254)),
        (8, "µin", Fraction(1, 10**6)),
        (9, "mil", Fraction(1, 1000)),
        (10, "yd", Fraction(36)),
        (11, "Å", Fraction(1, 254 * 10**6)),
        (12, "nm", Fraction(10, 254 * 10**6)),
        (13, "µm", Fraction(10, 254 * 10**3)),
        (14, "dm", Fraction(1000, 254)),
        (21, "ftUS", Fraction(1200, 3937) * Fraction(10_000, 254)),
        (22, "inUS", Fraction(100, 3937) * Fraction(10_000, 254)),
        (23, "ydUS", Fraction(3600, 3937) * Fraction(10_000, 254)),
        (24, "miUS", 5280 * Fraction(1200, 3937) * Fraction(10_000, 254)),
    ],
)
def test_a_drawing_unit_has_its_legal_size(code: int, symbol: str, inches: Fraction) -> None:
    unit = drawing_unit(code)
    assert unit is not None
    assert unit.symbol == symbol
    assert unit.to_inches(1.0) == pytest.approx(float(inches), rel=3e-16)


def test_metric_units_differ_by_powers_of_ten() -> None:
    metres = {"km": 3, "hm": 2, "dam": 1, "m": 0, "dm": -1, "cm": -2, "mm": -3, "µm": -6, "nm": -9}
    metre = drawing_unit_named("m").to_inches(1.0)
    for symbol, power in metres.items():
        size = drawing_unit_named(symbol).to_inches(1.0)
        assert size == pytest.approx(metre * 10.0**power, rel=1e-15)


def test_the_inch_leaves_every_value_as_it_was() -> None:
    inch = drawing_unit_named("in")
    assert inch.to_inches(0.1 + 0.2) == 0.1 + 0.2


@pytest.mark.parametrize("code", [0, 17, 18, 19, 20, 25, -1])
def test_a_code_that_states_no_unit_of_a_part_has_none(code: int) -> None:
    assert drawing_unit(code) is None


def test_every_unit_is_found_by_symbol_and_by_name_in_any_case() -> None:
    for unit in drawing_units():
        assert drawing_unit_named(unit.symbol.upper()) is unit
        assert drawing_unit_named(f" {unit.name} ") is unit


def test_codes_symbols_and_names_of_units_are_unique() -> None:
    units = drawing_units()
    assert len({unit.code for unit in units}) == len(units)
    names = [n.casefold() for unit in units for n in (unit.name, unit.symbol)]
    # the mil is its own symbol
    assert len(set(names)) == len(names) - 1


def test_an_unknown_unit_is_refused_with_the_choices() -> None:
    with pytest.raises(UnitError) as caught:
        drawing_unit_named("milimetre")
    message = str(caught.value)
    assert message.startswith("'milimetre' is not a unit of length; choose from cm, dam, dm, ft,")
    assert "(did you mean millimetre?)" in message


def test_units_tables_and_rules_load_without_numpy() -> None:
    code = (
        "import sys, holeschedule.units, holeschedule.tables, holeschedule.audit.rules as rules;"
        "rules.load_rule_set('faa');"
        "print(sorted({'numpy', 'shapely', 'ezdxf', 'click'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
