"""What a cell says of work: a tick, a date, or neither."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from holeschedule.views.checklist import NO_TICKS, TICKS


@dataclass(frozen=True, slots=True)
class Mark:
    """What stands in a cell for work: a tick, its date if it is one; or why it is none.

    Equality is by value. `problem` is empty for a tick.
    """

    day: date | None = None
    problem: str = ""


_TICK = Mark()
_FIRST_YEAR, _LAST_SERIAL, _FIRST_SERIAL = 1990, 73_050, 32_874


def read_mark(value: Any) -> Mark | None:
    """What a cell says of work: a tick, why it is none, or None where it is empty.

    Examples
    --------
    >>> read_mark("✓")
    Mark(day=None, problem='')
    >>> read_mark("5 Mar 2026").day
    datetime.date(2026, 3, 5)
    """
    if value is None or isinstance(value, int | float):
        return None if value is None else _read_number(value)
    if isinstance(value, date):
        return _dated(value.date() if isinstance(value, datetime) else value, value)
    if not isinstance(value, str):
        return Mark(problem=f"{_shown(value)} is no tick")
    text = " ".join(value.casefold().split())
    if text in NO_TICKS:
        return None
    return _TICK if text in TICKS else _read_text(value)


def _dated(day: date, value: object) -> Mark:
    if day.year < _FIRST_YEAR:
        return Mark(problem=f"{value} is no date of work")
    return Mark(day)


def _read_number(value: float) -> Mark | None:
    """A 1 or 0, or a date that lost its form: spreadsheets count the days from 1899-12-30."""
    if value in (0, 1):
        return _TICK if value else None
    if _FIRST_SERIAL <= value <= _LAST_SERIAL:
        return Mark(date.fromordinal(date(1899, 12, 30).toordinal() + int(value)))
    return Mark(problem=f"{value:g} is no tick")


_MONTHS = {
    name: number
    for number, name in enumerate(
        ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"), 1
    )
}
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ T]\d{1,2}:\d{2}(?::\d{2})?)?")
_DAY_FIRST = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4}|\d{2})")
_EITHER_FIRST = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4}|\d{2})")
_NAMED = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ .-]+([a-z]{3})[a-z]*[ .,-]+(\d{4}|\d{2})")
_NAME_FIRST = re.compile(r"([a-z]{3})[a-z]*[ .-]+(\d{1,2})(?:st|nd|rd|th)?[ ,]+(\d{4}|\d{2})")


def _read_text(value: str) -> Mark:
    text = " ".join(value.split())
    if text.startswith("="):
        return Mark(problem=f"{_shown(text)} is a formula; write x or the date")
    if len(text) > _LONGEST_DATE:
        return Mark(problem=f"{_shown(text)} is no tick")
    try:
        return _read_date(text) or Mark(problem=f"{_shown(text)} is no tick")
    except ValueError:
        return Mark(problem=f"{_shown(text)} is no date there is")


_LONGEST_DATE = 30


def _read_date(text: str) -> Mark | None:
    """Read a date as people write it; None where it is none.

    Raises
    ------
    ValueError
        There is no such day.
    """
    if found := _YEAR_FIRST.fullmatch(text):
        year, month, day = map(int, found.groups())
        return _dated(date(year, month, day), text)
    if found := _DAY_FIRST.fullmatch(text):
        day, month, year = map(int, found.groups())
        return _dated(date(_full(year), month, day), text)
    if found := _EITHER_FIRST.fullmatch(text):
        return _either(text, *map(int, found.groups()))
    plain = text.casefold()
    if found := _NAMED.fullmatch(plain):
        first, name, last = found.groups()
    elif found := _NAME_FIRST.fullmatch(plain):
        name, first, last = found.groups()
    else:
        return None
    if name not in _MONTHS:
        return None
    return _dated(date(_full(int(last)), _MONTHS[name], int(first)), text)


def _either(text: str, first: int, second: int, year: int) -> Mark:
    """A date whose month and day can be told apart only where one of them is above 12."""
    if first != second and max(first, second) <= 12:
        return Mark(problem=f"{text} can be read in two ways; write it as 2026-03-05")
    month, day = sorted((first, second))
    return _dated(date(_full(year), month, day), text)


def _full(year: int) -> int:
    return year if year > 99 else 2000 + year


def _shown(value: object) -> str:
    text = value if isinstance(value, str) else type(value).__name__
    return repr(text if len(text) <= 30 else f"{text[:30]}…")
