"""Selections of holes and places, as they are typed, printed and pasted.

==================== ==============================================================
`FL-101`             every hole of the part, on every copy of it
`FL-101:C`           a row; `FL-101:X` takes the single holes
`FL-101:C3-C9`       places 3 to 9 of a row
`FL-101:C7`          one hole
`FL-101#2:C7`        the same on the second copy of a part of which there are several
`FL-101#1-3`         copies 1 to 3, whole
`J2`                 every place of a joint
`J2:4-9`, `J2:4`     places of a joint
==================== ==============================================================

Several are parted by commas or spaces. After a comma the part may be left out (`FL-101:C3,D1`);
after a space everything is written again. Case does not matter.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import groupby
from operator import itemgetter, methodcaller
from typing import NamedTuple, NoReturn

from holeschedule.errors import SelectionError

# Read without regular expressions: compiling them takes longer than marking a row.

_FORMS = "write FL-101, FL-101:C, FL-101:C3-C9, FL-101:C7, FL-101#2:C7, J2 or J2:4-9"
_DIGITS = "0123456789"
_MOST_LETTERS, _MOST_DIGITS, _MOST_LISTED = 3, 6, 12


class Pick(NamedTuple):
    """One hole of one copy of a part; with an empty label, that copy as a whole."""

    part: str
    copy: int
    label: str = ""


class HoleSelection(NamedTuple):
    """Holes of one part as written.

    `copies` is None for every copy, `row` None for the whole part, `places` None for the whole
    row; both pairs are first and last. `text` and `at` (characters, 1 is the first) say where it
    was written.
    """

    part: str
    copies: tuple[int, int] | None
    row: str | None
    places: tuple[int, int] | None
    text: str
    at: int


class JointSelection(NamedTuple):
    """Places of one joint as written; `places` is first and last, None for all."""

    joint: str
    places: tuple[int, int] | None
    text: str
    at: int


Selection = HoleSelection | JointSelection


def _split_label(text: str) -> tuple[str, str] | None:
    """Row letters in capitals and the digits after them, which may be none; None if neither."""
    row = text.rstrip(_DIGITS)
    place = text[len(row) :]
    is_row = row.isascii() and row.isalpha() and len(row) <= _MOST_LETTERS
    return (row.upper(), place) if is_row and len(place) <= _MOST_DIGITS else None


def _is_number(text: str) -> bool:
    return 0 < len(text) <= _MOST_DIGITS and not text.strip(_DIGITS)


def is_joint(text: str) -> bool:
    """Whether a text reads as the name of a joint: `J2`."""
    return text[:1] in ("J", "j") and _is_number(text[1:])


def _is_part(text: str) -> bool:
    signs = text.replace("-", "").replace("/", "").replace(".", "").replace("+", "")
    ends_well = text[:1].isalnum() and text[-1:] not in ("-", "/", ".")
    return ends_well and signs.replace("_", "").isalnum()


@lru_cache(maxsize=1 << 16)
def label_key(label: str) -> tuple[int, str, int]:
    """Sort key of a label: rows A to Z before AA, C9 before C10.

    Raises
    ------
    SelectionError
        It is not a label.
    """
    row, place = _split_label(label) or ("", "")
    if not place.strip("0"):
        raise SelectionError(f"{label!r} is not a label of a hole; write C7, AA12 or X1.")
    return len(row), row, int(place)


def check_part_name(name: str) -> str:
    """Return `name` if a part may be called so in a selection.

    Raises
    ------
    SelectionError
        It holds a space, comma, colon or #, begins or ends with a sign, or reads as a joint.
    """
    if is_joint(name):
        raise SelectionError(f"{name!r} reads as a joint; a part needs a name such as FL-101.")
    if not _is_part(name):
        raise SelectionError(
            f"{name!r} is not a name for a part; use letters, digits and . + / - _ without spaces,"
            " as in FL-101."
        )
    return name


# Reading ---------------------------------------------------------------------------------------


def parse_selection(text: str) -> tuple[Selection, ...]:
    """Read a list of selections.

    Raises
    ------
    SelectionError
        A piece is not written as a selection; says which, at which character, and the forms.

    Examples
    --------
    >>> [piece.places for piece in parse_selection("FL-101:C3-C9,D1")]
    [(3, 9), (1, 1)]
    """
    found: list[Selection] = []
    for piece, at, follows_comma in _pieces(text):
        carried = found[-1] if follows_comma and found else None
        found.append(_read_piece(piece, at, carried, text))
    if not found:
        raise SelectionError(f"the selection is empty; {_FORMS}.")
    return tuple(found)


def _pieces(text: str) -> Iterator[tuple[str, int, bool]]:
    """Each piece, the character it begins at (1 is the first), and whether a comma precedes."""
    start, comma = 0, False
    for end, letter in enumerate(text + " "):
        if letter == "," or letter.isspace():
            if end > start:
                yield text[start:end], start + 1, comma
                comma = False
            comma = comma or letter == ","
            start = end + 1


def _read_piece(piece: str, at: int, carried: Selection | None, text: str) -> Selection:
    where = f"selection {text!r}, character {at}"
    if isinstance(carried, HoleSelection) and carried.row and _split_holes(piece):
        return _holes((carried.part, carried.copies), piece, (piece, at), where)
    if isinstance(carried, JointSelection) and carried.places and piece[:1].isdigit():
        return JointSelection(carried.joint, _span(piece, "place", where), piece, at)
    head, colon, holes = piece.partition(":")
    if is_joint(head):
        places = _span(holes, "place", where) if colon else None
        return JointSelection(head.upper(), places, piece, at)
    part, sharp, copies = head.partition("#")
    if not _is_part(part):
        _refuse(where, f"{piece!r} names no part or joint")
    span = _span(copies, "copy", where) if sharp else None
    if not colon:
        return HoleSelection(part, span, None, None, piece, at)
    return _holes((part, span), holes, (piece, at), where)


def _holes(
    head: tuple[str, tuple[int, int] | None], holes: str, source: tuple[str, int], where: str
) -> HoleSelection:
    ends = _split_holes(holes)
    if ends is None:
        _refuse(where, f"{holes!r} is no row, hole or range of holes")
    (row, first), (other, last) = ends
    if other != row:
        _refuse(where, f"{holes!r} runs from one row into another; give each row its own range")
    if not first:
        return HoleSelection(*head, row, None, *source)
    return HoleSelection(*head, row, _ordered(first, last, "place", where), *source)


def _split_holes(text: str) -> tuple[tuple[str, str], tuple[str, str]] | None:
    """Row and place of both ends of a range, alike for a row or a single hole; None if neither."""
    start, dash, end = text.replace("–", "-").partition("-")
    first = _split_label(start)
    if first is None or not dash:
        return None if first is None else (first, first)
    last = (first[0], end) if _is_number(end) else _split_label(end)
    return (first, last) if first[1] and last is not None and last[1] else None


def _span(text: str, what: str, where: str) -> tuple[int, int]:
    first, dash, last = text.replace("–", "-").partition("-")
    if not _is_number(first) or (dash and not _is_number(last)):
        _refuse(where, f"{text!r} is not a {what} number or a range of them")
    return _ordered(first, last or first, what, where)


def _ordered(first: str, last: str, what: str, where: str) -> tuple[int, int]:
    low, high = int(first), int(last)
    if low < 1:
        _refuse(where, f"{what} {first} is not there; the first is 1")
    if high < low:
        _refuse(where, f"the range runs backwards, from {first} to {last}")
    return low, high


def _refuse(where: str, what: str) -> NoReturn:
    raise SelectionError(f"{where}: {what}; {_FORMS}.")


def is_selected(label: str, selections: Iterable[HoleSelection]) -> bool:
    """Whether a hole of the part that the selections are of is among those they name.

    Raises
    ------
    SelectionError
        It is not the label of a hole.
    """
    _, row, place = label_key(label)
    return any(
        row == chosen.row
        and (chosen.places is None or chosen.places[0] <= place <= chosen.places[1])
        for chosen in selections
    )


# Finding the holes -----------------------------------------------------------------------------


def pick_holes(
    selections: Iterable[HoleSelection],
    labels: Mapping[str, Sequence[str]],
    copies: Mapping[str, int],
) -> tuple[Pick, ...]:
    """Every hole that the selections name, each once, in the order named.

    Parameters
    ----------
    selections : iterable of HoleSelection
        As `parse_selection` returns them, joints taken out.
    labels : mapping
        Labels of the holes that each part has now.
    copies : mapping
        How many there are of each part; 1 where it is left out.

    Raises
    ------
    SelectionError
        A part, copy, row or hole does not exist; the message lists what does.
    """
    found: dict[Pick, None] = {}
    for selection in selections:
        part = _part_named(selection, labels)
        chosen = _labels_of(selection, part, labels[part])
        for copy in _copies_of(selection, part, copies.get(part, 1)):
            found.update(dict.fromkeys(Pick(part, copy, label) for label in chosen))
    return tuple(found)


def pick_parts(
    selections: Iterable[HoleSelection], parts: Iterable[str], copies: Mapping[str, int]
) -> tuple[Pick, ...]:
    """Every copy that the selections name as a whole, each once, with an empty label.

    Raises
    ------
    SelectionError
        A part or copy does not exist, or a selection names holes rather than a part.
    """
    known = dict.fromkeys(parts, ())
    found: dict[Pick, None] = {}
    for selection in selections:
        part = _part_named(selection, known)
        if selection.row is not None:
            raise SelectionError(
                f"selection {selection.text!r}: names holes, where a whole part is meant;"
                f" write {part} or {part}#1."
            )
        among = _copies_of(selection, part, copies.get(part, 1))
        found.update(dict.fromkeys(Pick(part, copy) for copy in among))
    return tuple(found)


def _part_named(selection: HoleSelection, parts: Mapping[str, object]) -> str:
    wanted = selection.part.casefold()
    for part in parts:
        if part.casefold() == wanted:
            return part
    raise SelectionError(
        f"selection {selection.text!r}: there is no part {selection.part};"
        f" {_listed('parts', parts)}."
    )


def _copies_of(selection: HoleSelection, part: str, quantity: int) -> range:
    first, last = selection.copies or (1, quantity)
    if last > quantity:
        there = f"are copies 1 to {quantity}" if quantity > 1 else "is one copy"
        raise SelectionError(
            f"selection {selection.text!r}: {part} has no copy {last}; there {there}."
        )
    return range(first, last + 1)


def _labels_of(selection: HoleSelection, part: str, labels: Sequence[str]) -> list[str]:
    if selection.row is None:
        return sorted(labels, key=label_key)
    alike = [label for label in labels if label.startswith(selection.row)]  # few, and quickly
    row = sorted((label_key(label)[2], label) for label in alike if _row(label) == selection.row)
    if not row:
        rows = set(map(_row, labels))
        raise SelectionError(
            f"selection {selection.text!r}: {part} has no row {selection.row};"
            f" {_listed('rows', rows)}."
        )
    if selection.places is None:
        return [label for _, label in row]
    there = dict(row)
    for end in selection.places:
        if end not in there:
            raise SelectionError(
                f"selection {selection.text!r}: {part} has no hole {selection.row}{end};"
                f" row {selection.row} has {', '.join(_neighbours(selection.row, sorted(there)))}."
            )
    first, last = selection.places
    return [label for place, label in row if first <= place <= last]


def _neighbours(row: str, places: Sequence[int]) -> Iterator[str]:
    """Runs of places without a gap, as C1-C6."""
    for _, run in groupby(enumerate(places), key=lambda item: item[1] - item[0]):
        members = [place for _, place in run]
        first, last = f"{row}{members[0]}", f"{row}{members[-1]}"
        yield first if first == last else f"{first}-{last}"


_row: Callable[[str], str] = methodcaller("rstrip", _DIGITS)


def _listed(what: str, names: Iterable[str]) -> str:
    known = sorted(names, key=lambda name: (len(name), name))
    if not known:
        return f"there are no {what} yet"
    more = f" and {len(known) - _MOST_LISTED} more" if len(known) > _MOST_LISTED else ""
    return f"the {what} are {', '.join(known[:_MOST_LISTED])}{more}"


# Writing ---------------------------------------------------------------------------------------


def write_selections(
    picks: Iterable[Pick], labels: Mapping[str, Sequence[str]], copies: Mapping[str, int]
) -> tuple[str, ...]:
    """Write `picks` as short selections, one text per part and set of copies.

    Read back with the same `labels` and `copies`, they name exactly the picks. Copies that have
    the same holes picked are written together, as far as they are neighbours.

    Examples
    --------
    >>> holes = [Pick("FL-101", 1, "C3"), Pick("FL-101", 1, "C4")]
    >>> write_selections(holes, {"FL-101": ["C3", "C4", "C5"]}, {})
    ('FL-101:C3-C4',)
    """
    by_part: dict[str, dict[int, list[str]]] = {}
    for part, copy, label in picks:
        by_part.setdefault(part, {}).setdefault(copy, []).extend([label] if label else [])
    return write_by_copy(by_part, labels, copies)


def write_by_copy(
    chosen: Mapping[str, Mapping[int, Sequence[str]]],
    labels: Mapping[str, Collection[str]],
    copies: Mapping[str, int],
) -> tuple[str, ...]:
    """Write short selections as `write_selections` does, from labels by part and copy.

    Without labels a copy as a whole is meant.
    """
    found = []
    for part, by_copy in chosen.items():
        quantity = copies.get(part, 1)
        known = tuple(labels[part]) if any(by_copy.values()) else ()
        ranges = {copy: _ranges(known, of_copy) for copy, of_copy in by_copy.items()}
        for first, last in _copy_spans(ranges):
            head = part + _copy_text(first, last, quantity)
            found.append(f"{head}:{ranges[first]}" if ranges[first] else head)
    return tuple(found)


def _copy_spans(ranges: Mapping[int, str]) -> Iterator[tuple[int, int]]:
    """First and last of each run of neighbouring copies with the same text."""
    ordered = sorted(ranges)
    keyed = ((copy, (ranges[copy], copy - place)) for place, copy in enumerate(ordered))
    for _, run in groupby(keyed, key=lambda item: item[1]):
        members = [copy for copy, _ in run]
        yield members[0], members[-1]


def _copy_text(first: int, last: int, quantity: int) -> str:
    if (first, last) == (1, quantity):
        return ""
    return f"#{first}" if first == last else f"#{first}-{last}"


def _ranges(labels: tuple[str, ...], chosen: Collection[str]) -> str:
    """Rows and ranges that take exactly the labels `chosen` out of `labels`; empty for all."""
    wanted = set(chosen)
    if not wanted or len(wanted) == len(labels):
        return ""
    found: list[str] = []
    for row, members in _rows(labels):
        if wanted.issuperset(members):
            found.append(row)
        elif not wanted.isdisjoint(members):
            found += _spans(members, [label in wanted for label in members])
    return ",".join(found)


@lru_cache(maxsize=256)
def _rows(labels: tuple[str, ...]) -> list[tuple[str, list[str]]]:
    """Each row with its labels, in order."""
    rows: dict[str, list[str]] = {}
    for row, run in groupby(labels, key=_row):  # those of a row mostly stand together
        rows.setdefault(row, []).extend(run)
    for members in rows.values():
        members.sort()
        members.sort(key=len)  # as by label_key, which takes far longer
    return sorted(rows.items(), key=lambda row: (len(row[0]), row[0]))


def _spans(members: Sequence[str], taken: Sequence[bool]) -> Iterator[str]:
    """Runs of a row's labels that are taken, as C3-C9."""
    for is_taken, run in groupby(zip(members, taken, strict=True), key=itemgetter(1)):
        if is_taken:
            held = [label for label, _ in run]
            yield held[0] if len(held) == 1 else f"{held[0]}-{held[-1]}"
