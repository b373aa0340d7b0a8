"""A workbook as the zip archive it is, looked at before a library reads it.

Sizes are bounded, and a document type, without which no entity can be declared, is refused:
nothing is unpacked to be kept, and XML is read no further than its first element.
"""

from __future__ import annotations

import re
import struct
import zipfile
import zlib
from collections.abc import Collection
from pathlib import Path
from typing import IO
from xml.parsers import expat

from openpyxl.utils.exceptions import InvalidFileException

from holeschedule.errors import ChecklistError

MOST_BYTES = 64 << 20
"""Bytes that one sheet, or the texts of all sheets, may unpack to."""
MOST_BYTES_IN_ALL = 128 << 20
_MOST_BYTES_OF_OTHERS = 4 << 20
_MOST_MEMBERS = 2_000
_MOST_ELEMENTS = 200_000
_MOST_HEAVY = 20_000
_LONGEST_PROLOG = 1 << 16
_CHUNK = 1 << 16
_HEAVY = (b"conditionalFormatting ", b"dataValidation ", b"hyperlink ", b"mergeCell ", b"brk ")
"""What is short in a sheet and becomes large in memory."""

BROKEN = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    EOFError,
    InvalidFileException,
    LookupError,
    OSError,
    RuntimeError,
    SyntaxError,
    TypeError,
    ValueError,
    struct.error,
    zipfile.BadZipFile,
    zlib.error,
)
"""What the workbook library raises on a workbook that is damaged: it checks next to nothing."""

_ROOTS = {
    ".rels": "Relationships",
    "[Content_Types].xml": "Types",
    "xl/worksheets/": "worksheet",
    "xl/sharedStrings.xml": "sst",
    "xl/styles.xml": "styleSheet",
}
"""First elements of the files that are read."""
_TARGET = re.compile(rb'Target="/?(?:xl/)?(worksheets/[^"]+)"')

_OTHERS = {
    b"\xd0\xcf\x11\xe0": "is an old .xls workbook, or one with a password",
    b"%PDF": "is a PDF",
}
_NO_WORKBOOK = "is not a workbook"
_SAVE_AS = "Save it as .xlsx and collect that."


def check_archive(path: Path, file: IO[bytes]) -> None:
    """See that a file is a workbook that may be read.

    Parameters
    ----------
    path : Path
        For the message.
    file : file
        Open for reading bytes; read from its start.

    Raises
    ------
    ChecklistError
        It is none, is damaged or has a password, or unpacks to too much.
    """
    start = file.read(4)
    for magic, what in _OTHERS.items():
        if start.startswith(magic):
            raise ChecklistError(f"{path}: {what}. {_SAVE_AS}")
    try:
        with zipfile.ZipFile(file) as archive:
            _check_members(path, archive)
    except (*BROKEN, NotImplementedError) as error:
        if isinstance(error, ChecklistError):
            raise
        raise ChecklistError(f"{path}: {_NO_WORKBOOK}, or a damaged one. {_SAVE_AS}") from error


def _check_members(path: Path, archive: zipfile.ZipFile) -> None:
    members = archive.infolist()
    names = {member.filename for member in members}
    if "content.xml" in names:
        raise ChecklistError(f"{path}: is an OpenDocument sheet. {_SAVE_AS}")
    if "[Content_Types].xml" not in names:
        raise ChecklistError(f"{path}: {_NO_WORKBOOK}. {_SAVE_AS}")
    if len(members) > _MOST_MEMBERS or len(names) < len(members):
        raise ChecklistError(f"{path}: holds {len(members):,} files, or one twice. {_SAVE_AS}")
    read = [member for member in members if member.filename.endswith((".xml", ".rels"))]
    total = sum(member.file_size for member in read)
    for member in read:
        most = MOST_BYTES if _is_large(member.filename) else _MOST_BYTES_OF_OTHERS
        if member.file_size > most:
            raise _too_large(path, member.filename, member.file_size, most)
    if total > MOST_BYTES_IN_ALL:
        raise _too_large(path, "all of it", total, MOST_BYTES_IN_ALL)
    for member in read:
        if member.flag_bits & 1:
            raise ChecklistError(f"{path}: has a password. Save it without and collect that.")
        with archive.open(member) as part:
            _check_part(path, member.filename, part)
    _check_sheets(archive, names)


def _check_sheets(archive: zipfile.ZipFile, names: Collection[str]) -> None:
    """See that each sheet is there: the library leaves out, without a word, those that are not."""
    for target in _TARGET.findall(archive.read("xl/_rels/workbook.xml.rels")):
        if f"xl/{target.decode()}" not in names:
            raise ValueError(f"{target.decode()} is missing")


def _is_large(name: str) -> bool:
    return "worksheets/" in name or name.endswith("sharedStrings.xml")


def _too_large(path: Path, name: str, size: int, most: int) -> ChecklistError:
    return ChecklistError(
        f"{path}: {name} would unpack to {size / 1e6:,.0f} MB; at most {most / 1e6:,.0f} MB are"
        " read. Write the checklist anew, of fewer holes."
    )


def _check_part(path: Path, name: str, part: IO[bytes]) -> None:
    """See that a file in the workbook has no document type, and does not swell in memory."""
    is_large = _is_large(name)
    prolog = _Prolog(name)
    heavy = elements = 0
    while chunk := part.read(_CHUNK):
        prolog.feed(chunk)
        if prolog.has_doctype:
            raise ChecklistError(
                f"{path}: {name} declares a document type, which no workbook needs. {_SAVE_AS}"
            )
        if is_large:
            heavy += sum(map(chunk.count, _HEAVY))
        else:
            elements += chunk.count(b"<")
    if heavy > _MOST_HEAVY or elements > _MOST_ELEMENTS:
        raise ChecklistError(
            f"{path}: {name} holds {max(heavy, elements):,} settings, more than any checklist."
            " Copy the ticks into a fresh one."
        )


class _Prolog:
    """Reads XML up to its first element, after which no document type can follow."""

    def __init__(self, name: str) -> None:
        self.has_doctype = False
        self._root = next((root for part, root in _ROOTS.items() if part in name), "")
        self._is_over = False
        self._fed = 0
        self._parser = expat.ParserCreate()
        self._parser.StartDoctypeDeclHandler = self._doctype
        self._parser.StartElementHandler = self._element

    def feed(self, chunk: bytes) -> None:
        # in small bites: expat is to stop at the first element, not to read the file
        for start in range(0, len(chunk), 512):
            if self._is_over or self.has_doctype:
                return
            self._fed += 512
            if self._fed > _LONGEST_PROLOG:
                raise ValueError("no element for too long")
            try:
                self._parser.Parse(chunk[start : start + 512])
            except expat.ExpatError as error:
                if not (self._is_over or self.has_doctype):
                    raise ValueError(str(error)) from error

    def _doctype(self, *_: object) -> None:
        self.has_doctype = True

    def _element(self, name: str, _: object) -> None:
        if self._is_over or self.has_doctype:
            return
        self._is_over = True
        if self._root not in ("", name.rpartition(":")[2]):
            raise ValueError(f"{name} where {self._root} is expected")
