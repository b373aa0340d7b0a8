"""What a cell says of work."""

from datetime import date, datetime, time

import pytest

from holeschedule.views.checklist_ticks import Mark, read_mark


@pytest.mark.parametrize(
    "value", ["x", "X", " x ", "✓", "✔", "☑", "yes", "Y", "Done", True, 1, 1.0]
)
def test_ticks_are_read_however_they_are_written(value):
    assert read_mark(value) == Mark()


@pytest.mark.parametrize("value", [None, "", "  ", "-", "–", "no", "N", "☐", False, 0, "0"])
def test_an_empty_cell_and_a_no_are_no_tick(value):
    assert read_mark(value) is None


@pytest.mark.parametrize(
    "value",
    [
        datetime(2026, 3, 5, 16, 30),
        date(2026, 3, 5),
        46086,
        "2026-03-05",
        "2026/3/5",
        "2026-03-05 16:30",
        "5.3.2026",
        "05.03.26",
        "5 Mar 2026",
        "5-Mar-26",
        "5th March 2026",
        "Mar 5, 2026",
        "March 5 2026",
    ],
)
def test_dates_are_read_however_they_are_written(value):
    assert read_mark(value) == Mark(date(2026, 3, 5))


@pytest.mark.parametrize("value", ["13/5/2026", "5/13/2026", "13-5-26"])
def test_a_date_that_can_be_read_in_one_way_only_is_taken(value):
    assert read_mark(value) == Mark(date(2026, 5, 13))


def test_a_date_whose_day_is_its_month_can_be_read_in_one_way():
    assert read_mark("5/5/2026") == Mark(date(2026, 5, 5))


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("3/5/2026", "3/5/2026 can be read in two ways; write it as 2026-03-05"),
        ("2026-02-30", "'2026-02-30' is no date there is"),
        ("31.2.2026", "'31.2.2026' is no date there is"),
        ("soon", "'soon' is no tick"),
        ("5 Foo 2026", "'5 Foo 2026' is no tick"),
        ("=TODAY()", "'=TODAY()' is a formula; write x or the date"),
        ("x" * 5000, f"'{'x' * 30}…' is no tick"),
        (17, "17 is no tick"),
        (float("nan"), "nan is no tick"),
        (1e300, "1e+300 is no tick"),
        (time(16, 30), "'time' is no tick"),
        (datetime(1900, 1, 5), "1900-01-05 00:00:00 is no date of work"),
        ("1066-10-14", "1066-10-14 is no date of work"),
    ],
)
def test_what_is_no_tick_says_why(value, said):
    assert read_mark(value) == Mark(problem=said)
