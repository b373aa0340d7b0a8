"""What the record holds: entries, and the events in them; and what an entry asks of its maker.

An entry is one command. It holds events (work on holes and parts), the revisions of drawings it
brought in, and the changes these make to the holes of a part. Nothing in it is ever changed: an
entry that was wrong is taken back by a further one.
"""

import math
import sys
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from datetime import datetime
from enum import StrEnum
from functools import lru_cache
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any, NamedTuple

from holeschedule.errors import RecordError
from holeschedule.operations import Operation, PartOperation
from holeschedule.selection import Pick

if TYPE_CHECKING:
    from holeschedule.record.drawn import HoleChange, Import, Revision


class Fault(StrEnum):
    """Why a hole is rejected."""

    OVERSIZE = "oversize"
    ELONGATED = "elongated"
    FIGURE_EIGHT = "figure-eight"
    CRACKED = "cracked"
    EDGE = "edge"


class Measure(StrEnum):
    """What can be measured at a hole; values are inches."""

    HOLE_DIAMETER = "hole diameter"
    EDGE_DISTANCE = "edge distance"
    SHOP_HEAD_WIDTH = "shop-head width"
    SHOP_HEAD_HEIGHT = "shop-head height"

    @property
    def is_of_rivet(self) -> bool:
        """Whether it is measured on the rivet rather than on the hole."""
        return self in (Measure.SHOP_HEAD_WIDTH, Measure.SHOP_HEAD_HEIGHT)


LARGEST = {
    Measure.HOLE_DIAMETER: 1.0,
    Measure.EDGE_DISTANCE: 100.0,
    Measure.SHOP_HEAD_WIDTH: 1.0,
    Measure.SHOP_HEAD_HEIGHT: 1.0,
}
"""Inches. More is a slip of the pen, or millimetres taken for inches."""
LONGEST_NAME, LONGEST_NOTE = 100, 1000
"""Characters of who worked, and of a note."""

REJECT = "reject"
ACCEPT = "accept"
DRILL_OUT = "drill out"
REPLACE = "replace"
MEASURE = "measure"


class Kind(NamedTuple):
    """What an event of one kind requires.

    `of_hole`: it is about holes, else about a copy as a whole. `details`: words of which one has
    to be given. `has_value`: a length [in] has to be given. `has_note`: the entry needs a note.
    """

    of_hole: bool
    details: tuple[str, ...] = ()
    has_value: bool = False
    has_note: bool = False


KINDS: dict[str, Kind] = {
    **{str(operation): Kind(of_hole=True) for operation in Operation},
    **{str(operation): Kind(of_hole=False) for operation in PartOperation},
    REJECT: Kind(of_hole=True, details=tuple(Fault)),
    ACCEPT: Kind(of_hole=True, has_note=True),
    DRILL_OUT: Kind(of_hole=True),
    REPLACE: Kind(of_hole=False, has_note=True),
    MEASURE: Kind(of_hole=True, details=tuple(Measure), has_value=True),
}
"""Every kind of event by its word."""


class Event(NamedTuple):
    """Work on holes of one copy of a part, or on that copy as a whole.

    `holes` are the numbers of the holes, as `write_numbers` writes them; empty for the whole.
    `detail` is the fault of a reject, or what was measured; `value` [in] the measurement.
    `as_found` marks work out of order. Equality is by value.
    """

    part: str
    copy: int
    holes: str
    what: str
    as_found: bool = False
    detail: str = ""
    value: float | None = None


MOST_HOLES = 1_000_000
"""Numbers above are not believed: a damaged record must not fill the memory."""


def write_numbers(numbers: Iterable[int]) -> str:
    """Numbers of holes as ascending ranges.

    Examples
    --------
    >>> write_numbers([4, 3, 5, 12])
    '3-5,12'
    """
    ranges: list[list[int]] = []
    for number in sorted(set(numbers)):
        if ranges and ranges[-1][1] == number - 1:
            ranges[-1][1] = number
        else:
            ranges.append([number, number])
    return ",".join(f"{a}-{b}" if a < b else f"{a}" for a, b in ranges)


@lru_cache(maxsize=4096)
def read_numbers(text: str) -> tuple[range, ...]:
    """Ranges of numbers from what `write_numbers` wrote.

    Raises
    ------
    ValueError
        It did not write that.
    """
    found, above = [], 0
    for piece in text.split(",") if text else ():
        first, _, last = piece.partition("-")
        low, high = int(first), int(last or first)
        if not above < low <= high <= MOST_HOLES:
            raise ValueError(text)
        found.append(range(low, high + 1))
        above = high
    return tuple(found)


class Entry(NamedTuple):
    """One command as recorded. Equality is by value.

    `recorded` is UTC, `at` the time of the work with its offset from UTC, both ISO 8601.
    `takes_back` is the number of the entry that this one undoes. `previous` is the hash of the
    entry before, `hash` this one's.
    """

    number: int
    recorded: str
    at: str
    who: str
    command: str
    note: str
    origin: str
    takes_back: int | None
    revisions: "tuple[Revision, ...]"
    holes: "tuple[HoleChange, ...]"
    events: tuple[Event, ...]
    previous: str
    hash: str = ""

    @property
    def day(self) -> str:
        """The builder's own date of the work, as 2026-03-05."""
        return self.at[:10]


_NARROW_SPACES = dict.fromkeys(map(ord, "\u00a0\u202f\u2009"), " ")


class Head(NamedTuple):
    """Number and hash of the last entry: noted down elsewhere, it proves what was recorded."""

    number: int
    hash: str


FIRST_PREVIOUS = "0" * 64
"""`previous` of entry 1."""


def canonical_text(value: object) -> str:
    """Text of a value that no other value has: what the hash of an entry is over.

    Nothing is `n`; a whole number is `i3;`, a length `f0.098;` (the shortest decimal that reads
    back the same), a text `s6:FL-101`, with the number of its characters before it, a list its
    items one after the other, with their number before them: `l2:i3;i9;`.

    Examples
    --------
    >>> canonical_text(["C7", 0.098, None])
    'l3:s2:C7f0.098;n'
    """
    if value is None:
        return "n"
    if isinstance(value, str):
        return f"s{len(value)}:{value}"
    if isinstance(value, float):
        return f"f{value!r};"
    if isinstance(value, int):
        return f"i{value:d};"
    if not isinstance(value, (list, tuple)):
        raise TypeError(type(value).__name__)
    return f"l{len(value)}:" + "".join(map(canonical_text, value))


def hash_entry(fields: Sequence[object]) -> str:
    """SHA-256 (64 hex digits) of an entry, over everything in it but the hash itself.

    `fields` are the entry's columns from number to takes_back, its revisions, holes and events,
    each of these a list of rows in the order of the columns, and `previous` (docs/record.md).

    Raises
    ------
    TypeError
        A field is of a type that no entry has.
    """
    digest: str = _sha256(canonical_text(fields).encode()).hexdigest()
    return digest


def _sha_module() -> ModuleType:
    """Find the interpreter's own SHA-256: hashlib loads OpenSSL, which takes longer than a mark."""
    with suppress(ImportError):
        return import_module("_sha2" if sys.version_info >= (3, 12) else "_sha256")
    return import_module("hashlib")


_sha256: Callable[[bytes], Any] = _sha_module().sha256


# What is asked of the record -------------------------------------------------------------------


class Request(NamedTuple):
    """One thing a command asks to record, of one kind, about holes or whole copies."""

    what: str
    picks: tuple[Pick, ...]
    detail: str = ""
    value: float | None = None
    as_found: bool = False


class EntryDraft(NamedTuple):
    """A command to be recorded as one entry.

    `at` is when the work was done, now where it is None. `origin` says where the command came
    from: the command line, or a sheet and cell. With `partial` what can be recorded is, else
    nothing is as soon as one hole is refused.
    """

    command: str
    who: str
    requests: tuple[Request, ...] = ()
    imports: "tuple[Import, ...]" = ()
    note: str = ""
    at: datetime | None = None
    origin: str = "command line"
    partial: bool = False


def check_draft(draft: EntryDraft) -> None:
    """See that a draft is complete, whatever the state of the holes.

    Raises
    ------
    RecordError
        A name is empty, a text is not one line, an operation or detail does not exist, a value
        is missing or not a length, a note is missing where one is needed.
    """
    check_words(draft)
    if not (draft.requests or draft.imports):
        raise RecordError("there is nothing to record; name an operation and the holes it was on.")
    for request in draft.requests:
        _check_request(request, draft.note)


def check_words(draft: EntryDraft) -> None:
    """See that who, command, note and origin are texts of one line, the note alone empty.

    Names and notes have a length, too.

    Raises
    ------
    RecordError
        One of them is not.
    """
    for name, text in (("who", draft.who), ("command", draft.command), ("origin", draft.origin)):
        if not one_line(name, text).strip():
            raise RecordError(f"{name} is empty; an entry states who did what, and from where.")
    one_line("note", draft.note)
    for name, text, most in (
        ("who", draft.who, LONGEST_NAME),
        ("note", draft.note, LONGEST_NOTE),
    ):
        if len(text) > most:
            raise RecordError(f"{name} has {len(text):,} characters; write {most:,} at most.")


def one_line(name: str, text: str) -> str:
    """Return `text` if it is one line of plain text, else raise a RecordError."""
    if not text.translate(_NARROW_SPACES).isprintable():
        shown = ascii(text if len(text) <= 60 else text[:60] + "...")
        raise RecordError(f"{name} {shown}: is not one line of plain text; take out what is not.")
    return text


def _check_request(request: Request, note: str) -> None:
    what = request.what
    kind = KINDS.get(what)
    if kind is None:
        raise RecordError(f"{what!r} is no operation; choose from {', '.join(sorted(KINDS))}.")
    if not request.picks:
        raise RecordError(f"{what}: no hole or part is named; name at least one.")
    for pick in request.picks:
        if bool(pick.label) is not kind.of_hole:
            wanted = "holes, as in FL-101:C7" if kind.of_hole else "a whole part, as in FL-101"
            raise RecordError(
                f"{what}: {pick.part}:{pick.label} is no place for it; name {wanted}."
            )
    if request.detail not in (kind.details or ("",)):
        choices = f"choose from {', '.join(sorted(kind.details))}" if kind.details else "give none"
        raise RecordError(f"{what}: {request.detail!r} cannot be given here; {choices}.")
    _check_value(request, kind)
    _check_note(request, kind, note)


def _check_value(request: Request, kind: Kind) -> None:
    what, value = request.what, request.value
    if not kind.has_value and value is not None:
        raise RecordError(f"{what}: takes no value; {value} in was given. Leave it out.")
    if kind.has_value and (value is None or not (math.isfinite(value) and value > 0)):
        raise RecordError(f"{what}: {value} in is not a measurement; give a length above 0.")
    if kind.has_value and value is not None and value > LARGEST[Measure(request.detail)]:
        raise RecordError(
            f"{what}: a length of {value:g} in for the {request.detail} is more than"
            f" {LARGEST[Measure(request.detail)]:g} in; correct it, or write mm behind it."
        )


def _check_note(request: Request, kind: Kind, note: str) -> None:
    if request.as_found and request.what not in (*Operation, *PartOperation):
        raise RecordError(f"{request.what}: only an operation can be recorded as found.")
    if note.strip():
        return
    if request.as_found:
        raise RecordError(f"{request.what}: as found needs a note that says why. Add a note.")
    if kind.has_note:
        raise RecordError(f"{request.what}: needs a note that says what was decided. Add a note.")
