"""Workbooks that are broken, or made to do harm: one clear line each, and nothing is recorded."""

from __future__ import annotations

import re
import struct
import tracemalloc
import zipfile

import openpyxl
import pytest

from holeschedule.cli import run
from holeschedule.views import checklist_archive
from tests.makers import plate_drawing, save
from tests.workbooks import rewritten

SHEET = "xl/worksheets/sheet2.xml"
TYPES = "[Content_Types].xml"
BOOK = "xl/workbook.xml"
STYLES = "xl/styles.xml"
STRINGS = "xl/sharedStrings.xml"
RELS = "xl/_rels/workbook.xml.rels"
MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
LOL = (
    "<!DOCTYPE w ["
    '<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {b} "{f"&{a};" * 50}">' for a, b in zip("abcdefg", "bcdefgh", strict=True))
    + "]>"
)


@pytest.fixture(scope="module")
def bay(tmp_path_factory):
    """A build, its checklist with a tick in it, and the record's length."""
    folder = tmp_path_factory.mktemp("bay")
    save(plate_drawing(), folder, "p-1.dxf")
    build = folder / "bay"
    for words in (
        ["new", build],
        ["import", folder / "p-1.dxf", "--build", build, "--by", "Ada"],
        ["checklist", folder / "bay.xlsx", "--build", build],
    ):
        assert run(list(map(str, words))) == 0
    with zipfile.ZipFile(folder / "bay.xlsx") as archive:
        text = archive.read(SHEET).decode()
    assert '<c r="J5" ' in text
    ticked = re.sub('<c r="J5" [^>]*/>', '<c r="J5" t="inlineStr"><is><t>x</t></is></c>', text)
    return build, rewritten(folder / "bay.xlsx", folder / "in.xlsx", {SHEET: ticked.encode()})


def refused(bay, path, capsys):
    """The one line that `collect` ends with."""
    build, _ = bay
    before = (build / "record.sqlite").read_bytes()
    capsys.readouterr()
    status = run(["collect", str(path), "--yes", "--by", "Ada", "--build", str(build)])
    captured = capsys.readouterr()
    assert (status, captured.out) == (2, ""), captured.out
    assert (build / "record.sqlite").read_bytes() == before
    (line,) = captured.err.splitlines()
    assert line.startswith("holeschedule: ")
    assert len(line) < 500
    return line


# Files that are no workbook --------------------------------------------------------------------

NO_WORKBOOKS = {
    "empty": b"",
    "one byte": b"P",
    "text": b"hole,deburr\nA1,x\n",
    "old workbook": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600,
    "PDF": b"%PDF-1.7\n" + b"\0" * 100,
    "zip header alone": b"PK\x03\x04" + b"\0" * 30,
    "end of a zip alone": b"PK\x05\x06" + b"\0" * 18,
    "noise": bytes(range(256)) * 40,
    "nul bytes": b"\0" * 5000,
    "an image": b"\x89PNG\r\n\x1a\n" + b"\0" * 50,
    "XML": b"<?xml version='1.0'?><worksheet/>",
    "UTF-16": "hole".encode("utf-16"),
}


@pytest.mark.parametrize("content", NO_WORKBOOKS.values(), ids=NO_WORKBOOKS)
def test_a_file_that_is_no_workbook(bay, tmp_path, capsys, content):
    path = tmp_path / "in.xlsx"
    path.write_bytes(content)
    line = refused(bay, path, capsys)
    assert re.search(r"in\.xlsx: is (not a workbook|an old \.xls|a PDF)", line)
    assert "Save it as .xlsx" in line


def test_a_file_that_is_not_there_and_a_folder(bay, tmp_path, capsys):
    assert "cannot be read (No such file" in refused(bay, tmp_path / "no.xlsx", capsys)
    assert "cannot be read (Is a directory)" in refused(bay, tmp_path, capsys)


def zip_of(path, **members):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name.replace("__", "/").replace("_dot_", "."), content)
    return path


def test_other_archives(bay, tmp_path, capsys):
    ods = zip_of(tmp_path / "in.xlsx", content_dot_xml="<a/>", mimetype="x")
    assert "is an OpenDocument sheet. Save it as .xlsx" in refused(bay, ods, capsys)
    other = zip_of(tmp_path / "b.xlsx", readme="hello")
    assert "is not a workbook. Save it as .xlsx" in refused(bay, other, capsys)


def test_a_workbook_that_is_no_checklist(bay, tmp_path, capsys):
    book = openpyxl.Workbook()
    book.active.append(["hole", "deburr"])
    book.active.append(["A1", "x"])
    book.save(tmp_path / "in.xlsx")
    line = refused(bay, tmp_path / "in.xlsx", capsys)
    assert "holds no checklist: no sheet has the line that begins with holeschedule." in line


# Damage ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.99])
def test_a_workbook_cut_off(bay, tmp_path, capsys, share):
    content = bay[1].read_bytes()
    path = tmp_path / "in.xlsx"
    path.write_bytes(content[: int(len(content) * share)])
    assert "is not a workbook, or a damaged one" in refused(bay, path, capsys)


@pytest.mark.parametrize("name", [BOOK, STYLES, STRINGS, RELS, SHEET, TYPES])
@pytest.mark.parametrize("content", [b"", b"<", b"<a/>"], ids=["empty", "broken", "other"])
def test_a_file_in_it_is_not_what_it_has_to_be(bay, tmp_path, capsys, name, content):
    line = refused(bay, rewritten(bay[1], tmp_path / "in.xlsx", {name: content}), capsys)
    assert re.search(r"in\.xlsx(, sheet [\w -]+)?: (is (not a workbook|damaged)|holds no)", line)


@pytest.mark.parametrize("name", [BOOK, TYPES, SHEET])
def test_a_file_in_it_is_missing(bay, tmp_path, capsys, name):
    line = refused(bay, rewritten(bay[1], tmp_path / "in.xlsx", {name: None}), capsys)
    assert re.search(r"in\.xlsx: (is (not a workbook|damaged)|holds no checklist)", line)


def changed(bay, tmp_path, name, *changes):
    with zipfile.ZipFile(bay[1]) as archive:
        text = archive.read(name).decode()
    for old, new in changes:
        assert re.search(old, text), old
        text = re.sub(old, lambda _, new=new: new, text, count=1)
    return rewritten(bay[1], tmp_path / "in.xlsx", {name: text.encode()})


BROKEN_SHEETS = {
    "a string that is not there": (r't="s"><v>\d+<', 't="s"><v>99999<'),
    "a string below nought": (r't="s"><v>\d+<', 't="s"><v>x<'),
    "a row that is no number": (r'<row r="\d+"', '<row r="many"'),
    "a row beyond every sheet": (r'<row r="5"', '<row r="99999999999"'),
    "a cell that is none": (r'<c r="A5"', '<c r="5A"'),
    "a column beyond every sheet": (r'<c r="A5"', '<c r="ABCDEFGH5"'),
    "a number that is none": (r"<v>[\d.]+</v></c></row>", "<v>1.2.3</v></c></row>"),
    "a style that is none": (r'<c r="A5" s="\d+"', '<c r="A5" s="many"'),
    "a shared formula of nothing": (r'(?s)<c r="A5".*?</c>', '<c r="A5"><f t="table"/></c>'),
    "broken XML": (r"</sheetData>", "</sheetdata>"),
    "a byte that is no text": (r"</sheetData>", "\x00</sheetData>"),
}


@pytest.mark.parametrize("change", BROKEN_SHEETS.values(), ids=BROKEN_SHEETS)
def test_a_sheet_that_is_broken(bay, tmp_path, capsys, change):
    if change[1].endswith('"table"/></c>'):
        change = (change[0], '<c r="A5"><f t="dataTable" r9="1"/></c>')
    if change[0].startswith("<v>"):
        change = (r'(?s)<c r="B5"[^>]*>.*?</c>', '<c r="B5"><v>1.2.3</v></c>')
    line = refused(bay, changed(bay, tmp_path, SHEET, change), capsys)
    assert "is damaged (" in line
    assert "Save it anew and collect that." in line


# Attacks ---------------------------------------------------------------------------------------


def sheet_with(head, body=""):
    return f"<?xml version='1.0'?>{head}<worksheet {MAIN}><sheetData>{body}</sheetData></worksheet>"


ENTITIES = {
    "billion laughs": (LOL, "<row><c t='inlineStr'><is><t>&h;</t></is></c></row>"),
    "a file of this machine": ('<!DOCTYPE w [<!ENTITY f SYSTEM "file:///etc/hostname">]>', "&f;"),
    "an address": ('<!DOCTYPE w [<!ENTITY f SYSTEM "http://127.0.0.1:9/">]>', "&f;"),
    "a parameter": ('<!DOCTYPE w [<!ENTITY % p SYSTEM "file:///dev/zero"> %p;]>', ""),
    "a document type alone": ("<!DOCTYPE worksheet>", ""),
    "behind a long comment": (f"<!--{'x' * 9000}--><!DOCTYPE worksheet>", ""),
}


@pytest.mark.parametrize("name", [SHEET, STRINGS, STYLES, BOOK])
@pytest.mark.parametrize("attack", ENTITIES.values(), ids=ENTITIES)
def test_entities_are_refused_before_they_are_read(bay, tmp_path, capsys, attack, name):
    path = rewritten(bay[1], tmp_path / "in.xlsx", {name: sheet_with(*attack).encode()})
    line = refused(bay, path, capsys)
    assert f"{name} declares a document type, which no workbook needs" in line


def test_entities_are_refused_in_another_encoding_too(bay, tmp_path, capsys):
    text = sheet_with(ENTITIES["billion laughs"][0]).replace("?>", " encoding='utf-16'?>", 1)
    path = rewritten(bay[1], tmp_path / "in.xlsx", {SHEET: text.encode("utf-16")})
    assert "declares a document type" in refused(bay, path, capsys)


def test_a_prolog_without_end(bay, tmp_path, capsys):
    text = sheet_with(f"<!--{'x' * 100_000}-->")
    path = rewritten(bay[1], tmp_path / "in.xlsx", {SHEET: text.encode()})
    assert "is not a workbook, or a damaged one" in refused(bay, path, capsys)


@pytest.mark.parametrize(
    ("name", "size", "said"),
    [
        (SHEET, 80 << 20, "sheet2.xml would unpack to 84 MB; at most 67 MB are read"),
        (STRINGS, 80 << 20, "sharedStrings.xml would unpack to 84 MB; at most 67 MB are read"),
        (STYLES, 5 << 20, "styles.xml would unpack to 5 MB; at most 4 MB are read"),
    ],
)
def test_a_zip_bomb_is_not_unpacked(bay, tmp_path, capsys, name, size, said):
    path = tmp_path / "in.xlsx"
    rewritten(bay[1], path, {name: None})
    with (
        zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive,
        archive.open(name, "w") as part,
    ):
        for _ in range(size >> 20):
            part.write(b" " * (1 << 20))
    tracemalloc.start()
    line = refused(bay, path, capsys)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert said in line
    assert peak < 30 << 20


def test_many_sheets_that_are_a_bomb_together(bay, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(checklist_archive, "MOST_BYTES_IN_ALL", 50_000)
    extra = {f"xl/worksheets/more{n}.xml": b" " * 20_000 for n in range(3)}
    path = rewritten(bay[1], tmp_path / "in.xlsx", extra)
    assert "all of it would unpack to 0 MB" in refused(bay, path, capsys)


def test_a_size_that_lies(bay, tmp_path, capsys):
    """The archive says 10 bytes where there are a million: no more than it says is read."""
    content = bytearray(rewritten(bay[1], tmp_path / "a.xlsx", {SHEET: b" " * 10**6}).read_bytes())
    size = struct.pack("<I", 10**6)
    assert content.count(size) >= 1
    path = tmp_path / "in.xlsx"
    path.write_bytes(content.replace(size, struct.pack("<I", 10)))
    assert "is not a workbook, or a damaged one" in refused(bay, path, capsys)


def test_more_files_than_a_workbook_has(bay, tmp_path, capsys):
    extra = {f"junk/{n}.bin": b"" for n in range(2_100)}
    path = rewritten(bay[1], tmp_path / "in.xlsx", extra)
    assert re.search(r"holds 2,1\d\d files, or one twice", refused(bay, path, capsys))


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_file_that_is_there_twice(bay, tmp_path, capsys):
    path = tmp_path / "in.xlsx"
    path.write_bytes(bay[1].read_bytes())
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr(SHEET, sheet_with(""))
    assert "or one twice" in refused(bay, path, capsys)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        (STYLES, f"<styleSheet {MAIN}><cellXfs>{'<xf/>' * 250_000}</cellXfs></styleSheet>"),
        (SHEET, sheet_with("", "<brk />" * 30_000)),
    ],
)
def test_what_is_short_and_becomes_large(bay, tmp_path, capsys, name, text):
    path = rewritten(bay[1], tmp_path / "in.xlsx", {name: text.encode()})
    assert "settings, more than any checklist" in refused(bay, path, capsys)


def test_a_workbook_with_a_password(bay, tmp_path, capsys):
    content = bytearray(bay[1].read_bytes())
    for mark, at in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
        for found in re.finditer(re.escape(mark), bytes(content)):
            content[found.start() + at] |= 1
    path = tmp_path / "in.xlsx"
    path.write_bytes(content)
    assert "has a password. Save it without" in refused(bay, path, capsys)


def test_a_packing_that_nobody_knows(bay, tmp_path, capsys):
    content = bytearray(bay[1].read_bytes())
    for mark, at in ((b"PK\x01\x02", 10), (b"PK\x03\x04", 8)):
        for found in re.finditer(re.escape(mark), bytes(content)):
            struct.pack_into("<H", content, found.start() + at, 99)
    path = tmp_path / "in.xlsx"
    path.write_bytes(content)
    assert "is not a workbook, or a damaged one" in refused(bay, path, capsys)


def test_a_flipped_bit_is_noticed(bay, tmp_path, capsys):
    with zipfile.ZipFile(bay[1]) as archive:
        info = archive.getinfo(SHEET)
    content = bytearray(bay[1].read_bytes())
    start = info.header_offset + 30 + len(SHEET) + 40
    content[start] ^= 0xFF
    path = tmp_path / "in.xlsx"
    path.write_bytes(content)
    assert re.search(r"is (not a workbook, or a damaged one|damaged)", refused(bay, path, capsys))


def test_the_workbook_they_are_made_of_is_sound(bay, capsys):
    build, path = bay
    assert run(["collect", str(path), "--dry-run", "--by", "Ada", "--build", str(build)]) == 0
    assert "P-1:A1: 1 hole deburred" in capsys.readouterr().out
