"""Open a DXF file: strictly first, then with repairs, and never less than the file holds.

The repairing reader answers an empty document, without an error, for an image, a drawing cut off
in the middle or an empty file, and reads the decimal comma `2,5` as 2.0. So the raw file is
checked beside it: it has to end where a DXF ends, hold numbers where numbers belong, and as many
entities as were read.
"""

from __future__ import annotations

import logging
import os
import re
import stat
from collections import Counter
from dataclasses import dataclass
from io import BytesIO
from itertools import chain
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING

from holeschedule.drawing.mend import mark_classes
from holeschedule.drawing.whole import GEOMETRY, Survey, survey_text
from holeschedule.errors import DrawingError
from holeschedule.model import Notice

if TYPE_CHECKING:
    from ezdxf.audit import Auditor
    from ezdxf.document import Drawing

LARGEST_FILE = 400 * 2**20
"""Bytes. A drawing of 100,000 holes takes 10 MB; beyond this the memory needed is not bounded."""

_BINARY_MARK = b"AutoCAD Binary DXF\r\n\x1a\x00"
_FIRST_BYTES = (
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"BM", "a BMP picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"PK\x03\x04", "a ZIP archive (or an office document)"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"AC10", "a DWG drawing"),
    (b"ISO-10303-21", "a STEP model"),
    (b"<?xml", "an XML or SVG file"),
    (b"<svg", "an SVG picture"),
    (b"<!DOCTYPE", "an HTML page"),
    (b"<!doctype", "an HTML page"),
    (b"<html", "an HTML page"),
    (b"\xff\xfe", "a text in UTF-16"),
    (b"\xfe\xff", "a text in UTF-16"),
    (b"SQLite format 3", "an SQLite file"),
)
_GEOMETRY = b"|".join(sorted(GEOMETRY))
_MARKS = {
    "CIRCLE": (b"AcDbCircle", None),
    "ELLIPSE": (b"AcDbEllipse", None),
    "INSERT": (b"AcDbBlockReference", b"ACAD_TABLE"),
    "LINE": (b"AcDbLine", None),
    "LWPOLYLINE": (b"AcDbPolyline", None),
    "SPLINE": (b"AcDbSpline", b"HELIX"),
}
"""The mark of the class of an entity, and another entity that has it too."""
_BINARY_ENTITY = re.compile(rb"(?<=\0\0)(" + _GEOMETRY + rb")(?=\0)")
_OLD_BINARY_ENTITY = re.compile(rb"(?<=\0)(" + _GEOMETRY + rb")(?=\0)")
_SECTION = re.compile(rb"SECTION\s+2\s+(CLASSES|OBJECTS)\s|SECTION\0\x02\0(CLASSES|OBJECTS)\0")
_END = re.compile(rb"(?:^|[\r\n])[ \t]*0[ \t]*(?:\r\n?|\n)[ \t]*EOF$")
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
_BLANK = b"\0 \t\r\n\x1a"
_FRINGE = re.compile(rb"\A(?:[ \t]*[\r\n])+|[\0\s\x1a]+\Z")
_POINT_CODES = range(10, 19)
"""Group codes of an x, which its y (code + 10) has to follow."""
_NUMBER_CODES = frozenset(
    code
    for first, last in ((10, 99), (110, 149), (160, 179), (210, 299), (370, 389), (400, 409))
    for code in range(first, last + 1)
) | frozenset((*range(420, 430), *range(440, 470), *range(1010, 1072)))

# The library's own log lines would reach the user's terminal; what matters comes back as notices.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())


@dataclass(frozen=True, slots=True, eq=False)
class OpenedDrawing:
    """A document that holds everything its file holds.

    `stated_unit` is the code of header variable $INSUNITS, None where the file has none.
    """

    path: Path
    document: Drawing
    stated_unit: int | None
    notices: tuple[Notice, ...]


def open_drawing(path: Path) -> OpenedDrawing:
    """Open the DXF file at `path`, ASCII or binary, R12 or newer.

    Raises
    ------
    DrawingError
        The file is missing, not a regular file, unreadable, another format, cut off, damaged
        beyond repair, or would be read with less in it than it holds.
    """
    data = _read_bytes(path)
    _refuse_other_formats(path, data)
    _refuse_going_on(path, data)
    _refuse_cut_off(path, data)
    binary = data.startswith(_BINARY_MARK)
    survey = Survey(_binary_entities(data)) if binary else survey_text(data)
    document, notices = _load(path, data)
    if "Model" not in document.layouts:
        raise DrawingError(f"{path}: the drawing has lost its model space. Export it again.")
    _refuse_loss(path, data, survey.held, document)
    survey.refuse_fault(path)
    notices += (*_early_end(data), *survey.notices)
    stated = document.header.get("$INSUNITS") if b"$INSUNITS" in data else None
    return OpenedDrawing(path, document, stated, notices)


def _read_bytes(path: Path) -> bytes:
    try:
        status = path.stat()
        _refuse_no_file(path, status)
        data = path.read_bytes()
    except FileNotFoundError:
        raise DrawingError(f"{path}: no such file. Check the name and the folder.") from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise DrawingError(f"{path}: cannot be read: {reason}. Check the file.") from error
    except DrawingError:
        raise
    except ValueError as error:  # a name that no file can have
        raise DrawingError(f"{path}: is no name of a file: {error}. Correct it.") from error
    if not data.strip(_BLANK):
        raise DrawingError(f"{path}: the file is empty. Export the drawing again.")
    return data


def _refuse_no_file(path: Path, status: os.stat_result) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise DrawingError(f"{path}: is a folder. Name the DXF files in it: {path}/*.dxf")
    if not stat.S_ISREG(status.st_mode):
        raise DrawingError(f"{path}: is not a regular file. Name a DXF file.")
    if status.st_size > LARGEST_FILE:
        raise DrawingError(
            f"{path}: {status.st_size / 2**20:.0f} MB is more than the {LARGEST_FILE >> 20} MB"
            " a drawing may have. Export the part alone."
        )


def _refuse_other_formats(path: Path, data: bytes) -> None:
    if data.startswith(_BINARY_MARK):
        return
    head = data[:256].removeprefix(_BYTE_ORDER_MARK).lstrip()
    for first, name in _FIRST_BYTES:
        if head.startswith(first):
            raise DrawingError(f"{path}: is {name}, not a DXF drawing. Export the part as DXF.")
    if b"\0" in data[:4096]:
        raise DrawingError(
            f"{path}: is not a DXF drawing (binary data without the mark of a binary DXF)."
            " Export the part as DXF."
        )
    if not re.match(rb"\d{1,4}[ \t]*[\r\n]", head):
        first_line = head.splitlines()[0][:40].decode("ascii", "backslashreplace")
        raise DrawingError(
            f"{path}, line 1: {first_line!r} stands where a DXF drawing has a group code"
            " (a number). Export the part as DXF."
        )


def _refuse_cut_off(path: Path, data: bytes) -> None:
    """Refuse a file that does not end with EOF, the mark that ends every DXF."""
    end = data.rstrip(_BLANK)[-100:]
    if end.endswith(b"\0EOF") if data.startswith(_BINARY_MARK) else _END.search(end):
        return
    raise DrawingError(
        f"{path}: the drawing is cut off: its last line is not EOF, the mark that ends every"
        " DXF. Export or copy it again."
    )


def _refuse_going_on(path: Path, data: bytes) -> None:
    """Refuse an EOF in the middle of a text: a reader would stop there."""
    if data.startswith(_BINARY_MARK):
        return
    for mark in re.finditer(rb"EOF", data):
        before = data[max(0, mark.start() - 80) : mark.end()]
        if _END.search(before) and data[mark.end() :].strip(_BLANK):
            line = len(data[: mark.start()].splitlines()) + 1
            raise DrawingError(
                f"{path}, line {line}: the drawing ends with EOF here, but the file goes on: two"
                " files in one, or a damaged one. Export the drawing again."
            )


def _early_end(data: bytes) -> tuple[Notice, ...]:
    """Tell a drawing that stops before its last section: one cut off, and given an end by hand.

    Programs that list their classes (a section that none needs) write the objects as well.
    """
    found = {match[0] or match[1] for match in _SECTION.findall(data)}
    if b"CLASSES" not in found or b"OBJECTS" in found:
        return ()
    text = "the file ends before its last section, OBJECTS: entities may be missing"
    return (Notice("file.ends-early", text),)


def _load(path: Path, data: bytes) -> tuple[Drawing, tuple[Notice, ...]]:
    from ezdxf.filemanagement import readfile  # noqa: PLC0415 - heavy: paid for by who reads

    try:
        return readfile(path), ()
    # A foreign parser on a foreign file raises whatever it stumbles over (DXFError, OSError,
    # ValueError, RecursionError, KeyError …): each of them means that this file needs repair.
    except Exception as first:
        if data.startswith(_BINARY_MARK):
            raise DrawingError(
                f"{path}: the binary drawing is damaged, and only text drawings can be repaired."
                " Export it again, best as ASCII DXF."
            ) from first
        _check_tags(path, data)
        return _repair(path, data, first)


def _repair(path: Path, data: bytes, first: Exception) -> tuple[Drawing, tuple[Notice, ...]]:
    from ezdxf import recover  # noqa: PLC0415 - as above

    clean = _FRINGE.sub(b"", data.removeprefix(_BYTE_ORDER_MARK)) + b"\n"
    marked, without = mark_classes(clean)
    try:
        document, auditor = recover.read(BytesIO(marked))
    # As above: whatever it raises, the file can't be read.
    except Exception as second:
        raise DrawingError(
            f"{path}: damaged beyond repair{_reason(second)}. Export the drawing again."
        ) from second
    why = _reason(first)
    if clean.rstrip() != data.rstrip():
        why = " (a byte order mark, blank lines or end marks stand round the drawing)"
    return document, _repair_notices(why, without, auditor)


def _repair_notices(why: str, without: int, auditor: Auditor) -> tuple[Notice, ...]:
    notices = [Notice("file.damaged", f"the file is no clean DXF{why}: it was read with repairs")]
    if without:
        text = f"polylines or splines without the mark of their class ({without:,})"
        notices.append(Notice("file.repaired", text))
    entries = [*auditor.fixes, *auditor.errors]
    kinds = Counter(entry.code for entry in entries)
    for entry in entries:
        count = kinds.pop(entry.code, 0)
        if count:
            more = f" (and {count - 1} more of this kind)" if count > 1 else ""
            notices.append(Notice("file.repaired", f"{_one_line(entry.message)}{more}"))
    return tuple(notices)


def _reason(error: Exception) -> str:
    """What the library found; nothing where it only stumbled ("list index out of range")."""
    from ezdxf.lldxf.const import DXFError  # noqa: PLC0415 - as above

    return f" ({_one_line(error)})" if isinstance(error, DXFError) and str(error) else ""


def _one_line(what: object) -> str:
    return " ".join(str(what).split()).rstrip(".")[:200]


def _check_tags(path: Path, data: bytes) -> None:
    """Find the line that is wrong in an ASCII file that the strict reader refused.

    Raises
    ------
    DrawingError
        A group code is not a number, a number is not one (`2,5`), or half of a point is missing.
    """
    lines = data.removeprefix(_BYTE_ORDER_MARK).rstrip(_BLANK).splitlines()
    start = next(i for i, line in enumerate(lines) if line.strip())
    codes, values = lines[start::2], lines[start + 1 :: 2]
    y_code = None
    for i, text in enumerate(codes):
        line, code = start + 2 * i + 1, text.strip()
        if not re.fullmatch(rb"-?\d{1,4}", code) or i >= len(values):
            raise DrawingError(
                f"{path}, line {line}: {_shown(code)} stands where a group code (a number)"
                " belongs: a line is missing or too many before it. Export the drawing again."
            )
        number, value = int(code), values[i].strip()
        if y_code not in (None, number):
            raise DrawingError(
                f"{path}, line {line}: group code {number} stands where {y_code} belongs, the y"
                " of a point. Export the drawing again."
            )
        y_code = number + 10 if number in _POINT_CODES else None
        if number in _NUMBER_CODES and not _is_real(value):
            comma = " with a point, not a comma" if b"," in value else ""
            raise DrawingError(
                f"{path}, line {line + 1}: {_shown(value)} is not a number; group code"
                f" {number} needs one{comma}. Export the drawing again."
            )


def _is_real(value: bytes) -> bool:
    try:
        float(value)
    except ValueError:
        return False
    return True


def _shown(value: bytes) -> str:
    return repr(value[:40].decode("utf-8", "backslashreplace"))


def _refuse_loss(path: Path, data: bytes, held: Counter[str], document: Drawing) -> None:
    """Compare the entities in the file with those in the layouts and blocks of the document.

    Where entities have marks of their class, each mark needs an entity that begins before it.
    """
    read = Counter(map(attrgetter("DXFTYPE"), chain.from_iterable(document.blocks)))
    marks = {
        kind: sum(data.count(mark + end) for end in (b"\n", b"\r", b"\0"))
        for kind, (mark, shared_with) in _MARKS.items()
        if shared_with is None or shared_with not in data
    }
    marks["CIRCLE"] -= held["ARC"]  # an arc has the marks of both
    for kind in sorted({*held, *marks}):
        count = max(held[kind], marks.get(kind, 0))
        if read[kind] < count:
            raise DrawingError(
                f"{path}: {count - read[kind]} of {count} {kind} entities are damaged and would"
                " be lost. Export the drawing again."
            )


def _binary_entities(data: bytes) -> Counter[str]:
    # group codes take one byte up to R12, two from R13 on; the first of a file is 0
    old = data.startswith(b"SECTION", len(_BINARY_MARK) + 1)
    pattern = _OLD_BINARY_ENTITY if old else _BINARY_ENTITY
    return Counter(match.decode() for match in pattern.findall(data))
