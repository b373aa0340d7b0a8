"""Whether a text drawing holds each of its entities whole, as far as its own lines tell.

A parser takes the last of two values of one group code, and what it finds for the number that is
stated: two entities run into one, or a corner that is lost, would show nowhere.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from itertools import compress, islice, repeat
from pathlib import Path

from holeschedule.errors import DrawingError
from holeschedule.model import Notice

GEOMETRY = frozenset(b"LINE ARC CIRCLE LWPOLYLINE POLYLINE ELLIPSE SPLINE INSERT POINT".split())
"""Kinds of entities that parts are drawn with."""
_ONE_POINT = frozenset(b"LINE ARC CIRCLE ELLIPSE INSERT POINT POLYLINE VERTEX TEXT SOLID".split())
"""Entities that have one point of group code 10."""
_ONE_LAYER = _ONE_POINT | frozenset(
    b"LWPOLYLINE SPLINE SEQEND MTEXT HATCH DIMENSION LEADER ATTRIB ATTDEF BLOCK ENDBLK".split()
)
_DRAWN = GEOMETRY | {b"VERTEX"}
_BEGIN = re.compile(rb"[\r\n][ \t]*0[ \t]*(?:\r\n?|\n)[ \t]*(\d?[A-Za-z_][^\r\n]*)")
_COUNTED = {
    b"LWPOLYLINE": (b"90", b"10", "polyline.corners", "polyline", "corners"),
    b"SPLINE": (b"74", b"11", "spline.points", "spline", "fit points"),
}
"""Group codes of a number and of what it counts; code and words of the notice."""
_WORDS = {b"8": "layer", b"10": "first point"}
_COMMENT = b"999"
_EMBEDDED = b"101"
"""Group code from which on an entity holds another with codes of its own."""


@dataclass(frozen=True, slots=True)
class Survey:
    """What the lines of a drawing tell: entities by kind, a fault that hides one, lost points."""

    held: Counter[str]
    fault: str | None = None
    notices: tuple[Notice, ...] = ()

    def refuse_fault(self, path: Path) -> None:
        """Refuse a drawing in which one entity runs into another.

        Raises
        ------
        DrawingError
            With the line at which the entity begins.
        """
        if self.fault is not None:
            raise DrawingError(f"{path}, {self.fault}. Export the drawing again.")


@dataclass(frozen=True, slots=True)
class _Entity:
    """Entity number `number` of `data` (after an empty line): name, group codes and values."""

    name: bytes
    codes: list[bytes]
    values: list[bytes]
    number: int
    data: bytes

    @property
    def line(self) -> int:
        """The line of the file with its name."""
        (begin,) = islice(_BEGIN.finditer(self.data), self.number, self.number + 1)
        return len(self.data[: begin.start(1)].splitlines())


def survey_text(data: bytes) -> Survey:
    """Look through the lines of a text drawing, entity by entity."""
    data = b"\n" + data  # so that each entity follows a line end: quicker to look for
    pieces = _BEGIN.split(data)
    names = pieces[1::2]
    held = Counter[str]()
    for name, count in Counter(names).items():
        if name.strip() in GEOMETRY:
            held[name.strip().decode()] += count
    fault = None
    miscounts: list[tuple[str, str]] = []
    for number in _doubtful(names, pieces[2::2]):
        entity = _entity(data, names[number].strip(), pieces[2 * number + 2], number)
        fault = fault or _fault(entity)
        miscounts += _miscounts(entity)
    return Survey(held, fault, _notices(miscounts))


def _doubtful(names: list[bytes], bodies: list[bytes]) -> list[int]:
    """Numbers of the entities that state a count, and of those with enough lines to be two."""
    lines = list(map(bytes.count, bodies, repeat(b"\n")))
    drawn = [name in _DRAWN for name in names]
    least = min(compress(lines, drawn), default=0)
    return [
        number
        for number, (name, n) in enumerate(zip(names, lines, strict=True))
        if n >= least and (n >= 2 * least or name not in _DRAWN or name in _COUNTED)
    ]


def _entity(data: bytes, name: bytes, body: bytes, number: int) -> _Entity:
    """The codes and values of an entity, those of an embedded object left out."""
    lines = [line.strip() for line in body.splitlines()[1:]]
    codes = lines[::2]
    stop = codes.index(_EMBEDDED) if _EMBEDDED in codes else len(codes)
    return _Entity(name, codes[:stop], lines[1::2][:stop], number, data)


def _fault(entity: _Entity) -> str | None:
    if entity.name == b"SECTION":
        return _headless(entity)
    once = [b"8"] * (entity.name in _ONE_LAYER) + [b"10"] * (entity.name in _ONE_POINT)
    for code in once:
        if entity.codes.count(code) > 1:
            return (
                f"line {entity.line}: the {entity.name.decode()} that begins here has its"
                f" {_WORDS[code]} (group code {code.decode()}) twice: the line that begins the"
                " entity after it is lost, and two would be read as one"
            )
    return None


def _headless(entity: _Entity) -> str | None:
    """A section of entities whose first has lost the line that it begins with."""
    if entity.values[:1] not in ([b"ENTITIES"], [b"BLOCKS"]):
        return None
    for i, code in enumerate(entity.codes):
        if i and code != _COMMENT:
            return (
                f"line {entity.line + 1 + 2 * i}: group code {code.decode()} stands where the"
                f" first entity of the section {entity.values[0].decode()} begins (group code 0)"
            )
    return None


def _miscounts(entity: _Entity) -> list[tuple[str, str]]:
    """Code and text of the notice where an entity has fewer or more points than it states."""
    if entity.name not in _COUNTED:
        return []
    number, counted, code, kind, things = _COUNTED[entity.name]
    if number not in entity.codes:
        return []
    stated, has = entity.values[entity.codes.index(number)], entity.codes.count(counted)
    if not stated.isdigit() or int(stated) == has:
        return []
    text = f"a {kind} states {int(stated)} {things} and has {has} (line {entity.line} of the file)"
    return [(code, text)]


def _notices(miscounts: list[tuple[str, str]]) -> tuple[Notice, ...]:
    """One notice a code: the first, and how many more there are."""
    counts = Counter(code for code, _ in miscounts)
    first = dict(reversed(miscounts))
    return tuple(
        Notice(code, first[code] + (f", and {n - 1:,} more like it" if n > 1 else ""))
        for code, n in counts.items()
    )
