"""Mend text drawings that the repairing reader gives up on, though all that is drawn is there."""

from __future__ import annotations

import re

_CLASSES = {b"LWPOLYLINE": b"AcDbPolyline", b"SPLINE": b"AcDbSpline"}
"""Entities that are refused without the mark (group code 100) of their class."""
_BASE_CODES = frozenset((b"5", b"102", b"330", b"360"))
"""Group codes that stand before the first mark: handle and owner."""
_COMMON_CODES = frozenset(b"6 8 48 60 62 67 284 347 370 390 410 420 430 440".split())
"""Group codes that every entity may have: layer, colour, line type."""
_FIRST_VERSION = b"AC1015"
_VERSION = re.compile(rb"(\$ACADVER\s+1\s+)AC10(?:0\d|1[0-4])\b")
_HEADER = re.compile(rb"^\s*2\s*\n\s*HEADER\s*\n", re.MULTILINE)

Tag = tuple[bytes, bytes]


def mark_classes(data: bytes) -> tuple[bytes, int]:
    """Put the marks of their class into polylines and splines that lack them.

    Several small programs leave them out. Returns the drawing and how many entities lacked them.
    """
    if not any(kind in data for kind in _CLASSES):
        return data, 0
    lines = data.splitlines()
    out: list[Tag] = []
    entity: list[Tag] = []
    count = 0
    for tag in [*zip(lines[::2], lines[1::2], strict=False), (b"0", b"")]:
        if tag[0].strip() == b"0" and entity:
            mended = _marked(entity)
            count += mended is not entity
            out += mended
            entity = []
        entity.append(tag)
    if not count:
        return data, 0
    return _with_version(b"".join(code + b"\n" + value + b"\n" for code, value in out)), count


def _with_version(data: bytes) -> bytes:
    """State the first version that has these entities where an earlier one, or none, is stated."""
    told, count = _VERSION.subn(rb"\g<1>" + _FIRST_VERSION, data, count=1)
    if count or b"$ACADVER" in data:
        return told
    variable = b"9\n$ACADVER\n1\n" + _FIRST_VERSION + b"\n"
    if _HEADER.search(data):
        return _HEADER.sub(rb"\g<0>" + variable, data, count=1)
    return b"0\nSECTION\n2\nHEADER\n" + variable + b"0\nENDSEC\n" + data


def _marked(entity: list[Tag]) -> list[Tag]:
    name = _CLASSES.get(entity[0][1].strip())
    if name is None or any(value.strip() == name for _, value in entity):
        return entity
    tags = [tag for tag in entity[1:] if tag[0].strip() != b"100"]
    base = [tag for tag in tags if tag[0].strip() in _BASE_CODES]
    common = [tag for tag in tags if tag[0].strip() in _COMMON_CODES]
    own = [tag for tag in tags if tag[0].strip() not in _BASE_CODES | _COMMON_CODES]
    marks = ((b"100", b"AcDbEntity"), (b"100", name))
    return [entity[0], *base, marks[0], *common, marks[1], *own]
