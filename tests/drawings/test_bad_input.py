"""Files that are no drawing, or no longer one: one clear line each, and never a part less."""

from __future__ import annotations

import os
import re
import struct
from pathlib import Path

import pytest

from holeschedule.errors import DrawingError, HoleScheduleError
from holeschedule.holes.parts import read_parts
from tests.makers import (
    CIRCLE_HABITS,
    NUMBER_40,
    ROW,
    centres_of,
    diameters_of,
    draw_circles,
    notice_of,
    options_of,
    plate_drawing,
    save,
)
from tests.writers import Circle, Line, Style, write_r12

IN = options_of(unit="in")


def refusal(path: Path, options=IN) -> str:
    """What is said of a file that cannot be read; always one printable line."""
    with pytest.raises(HoleScheduleError) as caught:
        read_parts(path, options)
    message = str(caught.value)
    assert message.isprintable()
    assert message.endswith((".", "?", "*.dxf"))
    return message


def written(folder: Path, data: bytes, name: str = "x.dxf") -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


@pytest.fixture(scope="session")
def good(tmp_path_factory) -> dict[str, bytes]:
    """The plate in several formats."""
    folder = tmp_path_factory.mktemp("good")
    formats = {
        "R12": save(plate_drawing(version="R12"), folder, "a.dxf"),
        "R2010": save(plate_drawing(), folder, "b.dxf"),
        "binary R12": save(plate_drawing(version="R12"), folder, "c.dxf", fmt="bin"),
        "binary R2010": save(plate_drawing(), folder, "d.dxf", fmt="bin"),
    }
    return {name: path.read_bytes() for name, path in formats.items()}


# no such file -----------------------------------------------------------------------------------


def test_a_missing_file(tmp_path):
    message = refusal(tmp_path / "nope.dxf")
    assert message.endswith("nope.dxf: no such file. Check the name and the folder.")


def test_a_folder(tmp_path):
    message = refusal(tmp_path)
    assert message == f"{tmp_path}: is a folder. Name the DXF files in it: {tmp_path}/*.dxf"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.dxf")
    assert refusal(tmp_path / "pipe.dxf").endswith("is not a regular file. Name a DXF file.")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="this system has no devices")
def test_a_device_without_end():
    assert refusal(Path("/dev/zero")) == "/dev/zero: is not a regular file. Name a DXF file."


def test_a_file_below_a_file(tmp_path, good):
    path = written(tmp_path, good["R12"])
    assert "x.dxf/part.dxf: cannot be read: " in refusal(path / "part.dxf")


def test_a_file_that_may_not_be_read(tmp_path, good, monkeypatch):
    path = written(tmp_path, good["R12"])

    def forbidden(self):
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "read_bytes", forbidden)
    assert refusal(path).endswith("x.dxf: cannot be read: Permission denied. Check the file.")


def test_a_file_too_large_to_be_a_drawing(tmp_path):
    path = tmp_path / "huge.dxf"
    with path.open("wb") as file:
        file.truncate(500 * 2**20)  # sparse: takes no room
    assert "huge.dxf: 500 MB is more than the 400 MB a drawing may have" in refusal(path)


# hostile names ----------------------------------------------------------------------------------

NAMES = [
    "two\nlines.dxf",
    "\x1b[31mred.dxf",
    "r\rb.dxf",
    "a\udcffb.dxf",
    "x\u202egpj.dxf",
    "\x85.dxf",
]


@pytest.mark.parametrize("name", NAMES)
def test_hostile_names_do_not_reach_the_message_raw(tmp_path, good, name):
    path = written(tmp_path, good["R12"][:400], name)
    assert "the drawing is cut off" in refusal(path)


@pytest.mark.parametrize("name", NAMES)
def test_a_hostile_name_is_no_obstacle(tmp_path, good, name):
    (part,) = read_parts(written(tmp_path, good["R12"], name), IN)
    assert len(part.holes) == 5
    assert part.name.isascii()


def test_a_name_no_file_can_have():
    assert "\\x00" in refusal(Path("a\0b.dxf"))


@pytest.mark.parametrize("layer", ["A\x1b[31m", "A\x85B", "A\u2028B", "ÄÖ", "A" * 3000])
def test_hostile_layer_names_do_not_reach_the_message_raw(tmp_path, layer):
    doc = plate_drawing()
    doc.modelspace().add_circle((1, 1), 0.0, dxfattribs={"layer": layer})
    message = refusal(save(doc, tmp_path))
    assert "radius is 0" in message
    assert len(message) <= 1003


def test_a_layer_name_with_an_escaped_line_end_stays_on_one_line(tmp_path, good):
    data = good["R12"].replace(b"  8\n0\n", b"  8\nA\\U+000AB\\U+001B[31m\n")
    assert "radius is -1" in refusal(written(tmp_path, data.replace(b"0.049", b"-1")))


@pytest.mark.parametrize("name", ["A\x1b[31m", "a\x85b"])
def test_hostile_block_names_do_not_reach_the_message_raw(tmp_path, name):
    doc = plate_drawing()
    doc.blocks.new(name).add_blockref(name, (0, 0))
    doc.modelspace().add_blockref(name, (0, 0))
    assert "inserts itself" in refusal(save(doc, tmp_path))


# nothing, or something else ---------------------------------------------------------------------


@pytest.mark.parametrize("data", [b"", b" \n\n \t\r\n", b"\0" * 100, b"\x1a"])
def test_an_empty_file(tmp_path, data):
    assert refusal(written(tmp_path, data)).endswith("the file is empty. Export the drawing again.")


@pytest.mark.parametrize(
    ("data", "name"),
    [
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", "a PDF document"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "a PNG picture"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF", "a JPEG picture"),
        (b"GIF89a", "a GIF picture"),
        (b"PK\x03\x04\x14\0", "a ZIP archive (or an office document)"),
        (b"\x1f\x8b\x08\0", "a gzip archive"),
        (b"AC1032\0\0\0\0", "a DWG drawing"),
        (b"ISO-10303-21;\nHEADER;", "a STEP model"),
        (b'<?xml version="1.0"?><svg/>', "an XML or SVG file"),
        (b"\n <svg xmlns='x'></svg>", "an SVG picture"),
        (b"<!doctype html><html>", "an HTML page"),
        ("  0\nSECTION\n".encode("utf-16"), "a text in UTF-16"),
    ],
)
def test_another_format_under_the_name_of_a_dxf(tmp_path, data, name):
    message = refusal(written(tmp_path, data))
    assert message.endswith(f"x.dxf: is {name}, not a DXF drawing. Export the part as DXF.")


@pytest.mark.parametrize(
    ("data", "shown"),
    [
        (b"hello world\n", "'hello world'"),
        (b'{"a": 1}\n', "'{\"a\": 1}'"),
        (b"1,2,3\n4,5,6\n", "'1,2,3'"),
        (b"%\nO1000\nG0 X0\n", "'%'"),
        (b"\x1b[2J\x07\n", "'\\x1b[2J\\x07'"),
    ],
)
def test_a_text_that_is_no_drawing(tmp_path, data, shown):
    message = refusal(written(tmp_path, data))
    assert "line 1: " in message
    assert "stands where a DXF drawing has a group code (a number)" in message


def test_binary_junk(tmp_path):
    junk = bytes((i * 7919 + 13) % 256 for i in range(4000))
    assert "is not a DXF drawing" in refusal(written(tmp_path, junk))


def test_numbers_that_are_no_drawing(tmp_path):
    assert "its last line is not EOF" in refusal(written(tmp_path, b"12\n13\n14\n"))


def test_a_drawing_of_nothing_but_its_end(tmp_path):
    assert "no line, arc or circle" in refusal(written(tmp_path, b"  0\nEOF\n"))


# damaged ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("fmt", ["R12", "R2010", "binary R12", "binary R2010"])
@pytest.mark.parametrize("share", range(5, 100, 5))
def test_a_drawing_cut_off_anywhere_is_refused(tmp_path, good, fmt, share):
    data = good[fmt]
    message = refusal(written(tmp_path, data[: len(data) * share // 100]))
    assert "the drawing is cut off: its last line is not EOF" in message
    assert message.endswith("Export or copy it again.")


HAND_MADE_END = b"  0\nENDSEC\n  0\nEOF\n"


def is_refused_told_or_whole(path: Path) -> bool:
    """Whether a shortened drawing is refused, or read whole, or told to end early."""
    try:
        (part,) = read_parts(path, IN)
    except DrawingError as error:
        message = str(error)
        assert "Export" in message or "Correct or delete" in message or "right sheet" in message
        return True
    told = {notice.code for notice in part.notices}
    return centres_of(part) == list(ROW) or "file.ends-early" in told


@pytest.mark.parametrize("step", range(4))
def test_a_drawing_cut_off_and_ended_by_hand_is_refused_told_or_whole(tmp_path, good, step):
    lines = good["R2010"].splitlines(keepends=True)
    # at the end of every entity that is drawn, and at places all over the file
    drawn = range(lines.index(b"ENTITIES\n"), lines.index(b"OBJECTS\n"))
    cuts = [i for i in drawn if lines[i] == b"  0\n"] + list(range(401, len(lines), 60))
    for cut in cuts[step::4]:
        path = written(tmp_path, b"".join(lines[:cut]) + HAND_MADE_END)
        assert is_refused_told_or_whole(path), f"cut before line {cut + 1}"


@pytest.mark.parametrize("kept", range(1, len(ROW)))
def test_a_drawing_ended_by_hand_between_two_circles_is_told(tmp_path, good, kept):
    end = -1
    for _ in range(kept + 1):
        end = good["R2010"].index(b"  0\nCIRCLE\n", end + 1)
    (part,) = read_parts(written(tmp_path, good["R2010"][:end] + HAND_MADE_END), IN)
    assert len(part.holes) == kept
    notice = notice_of(part, "file.ends-early")
    assert notice.text == "the file ends before its last section, OBJECTS: entities may be missing"


@pytest.mark.parametrize("fmt", ["R12", "R2010"])
def test_two_drawings_in_one_file_are_refused(tmp_path, good, fmt):
    first = len(good[fmt].splitlines())
    message = refusal(written(tmp_path, good[fmt] * 2))
    assert f"line {first}: the drawing ends with EOF here, but the file goes on" in message


def test_rubbish_after_the_end_is_refused(tmp_path, good):
    message = refusal(written(tmp_path, good["R2010"] + b"garbage\n"))
    assert "the drawing ends with EOF here, but the file goes on" in message


@pytest.mark.parametrize("tail", [b"", b"\n\n\n", b"\x1a", b"\0\0\0"])
def test_blank_lines_and_old_end_marks_after_the_end_are_harmless(tmp_path, good, tail):
    (part,) = read_parts(written(tmp_path, good["R2010"].rstrip() + tail), IN)
    assert len(part.holes) == 5
    assert {notice.code for notice in part.notices} <= {"file.damaged"}


@pytest.mark.parametrize("value", [b"0,049", b"0.04 9", b"abc", b"", b"0x1"])
def test_a_radius_that_is_no_number_is_refused_with_its_line(tmp_path, good, value):
    data = good["R12"].replace(b"0.049", value, 1)
    line = good["R12"].splitlines().index(b"0.049") + 1
    message = refusal(written(tmp_path, data))
    assert f"x.dxf, line {line}: {value.decode()!r} is not a number; group code 40" in message
    assert ("with a point, not a comma" in message) is (b"," in value)


def test_a_unit_that_is_no_number_is_refused_with_its_line(tmp_path, good):
    data = good["R2010"].replace(b"$INSUNITS\n 70\n1\n", b"$INSUNITS\n 70\ninch\n")
    line = data.splitlines().index(b"inch") + 1
    message = refusal(written(tmp_path, data), options_of())
    assert f"line {line}: 'inch' is not a number; group code 70 needs one" in message


@pytest.mark.parametrize("fmt", ["R12", "R2010"])
def test_a_line_lost_in_the_middle_is_refused_with_where_it_shows(tmp_path, good, fmt):
    lines = good[fmt].splitlines(keepends=True)
    at = lines.index(b"0.049\n")
    message = refusal(written(tmp_path, b"".join(lines[:at] + lines[at + 1 :])))
    assert "x.dxf, line " in message
    assert "belongs" in message or "is not a number" in message


def test_the_same_entity_in_small_letters_is_refused(tmp_path, good):
    message = refusal(written(tmp_path, good["R12"].replace(b"CIRCLE", b"circle")))
    assert "entity 'circle' is not written in capitals" in message


def test_an_entity_kind_misspelt_is_told(tmp_path, good):
    data = good["R12"].replace(b"CIRCLE", b"CIRCLF", 1)
    (part,) = read_parts(written(tmp_path, data), IN)
    assert len(part.holes) == 4
    assert "CIRCLF can't be read" in notice_of(part, "entity.not-read").text


def test_a_damaged_binary_drawing_is_refused_and_not_half_repaired(tmp_path, good):
    data = good["binary R2010"]
    at = data.index(struct.pack("<d", NUMBER_40 / 2))
    message = refusal(written(tmp_path, data[:at] + data[at + 3 :]))
    assert re.search("the binary drawing is damaged|CIRCLE entities are damaged", message)


def test_a_binary_drawing_the_library_cannot_follow_is_refused(tmp_path, good):
    data = good["binary R2010"]
    at = data.index(b"HEADER")
    message = refusal(written(tmp_path, data[:at] + data[at + 4 :]))
    assert "the binary drawing is damaged, and only text drawings can be repaired" in message


@pytest.mark.parametrize("fmt", ["binary R12", "binary R2010"])
def test_a_binary_drawing_that_is_read_with_less_in_it_is_refused(tmp_path, good, fmt):
    message = refusal(written(tmp_path, good[fmt].replace(b"ENTITIES", b"ENTITIEX")))
    assert "5 of 5 CIRCLE entities are damaged and would be lost" in message


@pytest.mark.parametrize("kind", ["CIRCLE", "LWPOLYLINE"])
def test_an_entity_that_lost_the_line_it_begins_with_is_missed(tmp_path, good, kind):
    # the entity before would take its numbers as its own
    name = kind.encode()
    first = good["R2010"].index(b"ENTITIES")
    at = good["R2010"].index(b"  0\n" + name + b"\n", first)
    data = good["R2010"][:at] + good["R2010"][at + len(name) + 5 :]
    message = refusal(written(tmp_path, data))
    assert f"{kind} entities are damaged and would be lost" in message or "EOF" in message


def without_beginning(data: bytes, kind: str, number: int) -> tuple[bytes, int]:
    """Take out the two lines that begin an entity; and the line of the entity before it."""
    lines = data.decode().splitlines(keepends=True)
    begins = [i for i, line in enumerate(lines) if line == "  0\n" and lines[i + 1][0].isalpha()]
    at = [i for i in begins if lines[i + 1] == f"{kind}\n"][number]
    before = begins[begins.index(at) - 1]
    return "".join(lines[:at] + lines[at + 2 :]).encode(), before + 2


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize(
    ("kind", "number", "before"),
    [
        ("CIRCLE", 0, "SEQEND"),
        ("CIRCLE", 3, "CIRCLE"),
        ("LINE", 0, "CIRCLE"),
        ("VERTEX", 2, "VERTEX"),
        ("TEXT", 0, "LINE"),
    ],
)
def test_two_entities_that_run_into_one_are_refused(tmp_path, kind, number, before, end):
    doc = plate_drawing(version="R12")
    doc.modelspace().add_line((0, 1), (4, 1), dxfattribs={"layer": "BEND"})
    doc.modelspace().add_text("PLATE", dxfattribs={"layer": "TEXT"})
    whole = save(doc, tmp_path).read_bytes()
    data, line = without_beginning(whole, kind, number)
    message = refusal(written(tmp_path, data.replace(b"\n", end.encode())))
    assert f"x.dxf, line {line}: the {before} that begins here has its layer" in message
    assert "two would be read as one. Export the drawing again." in message


def test_entities_without_layers_that_run_into_one_are_refused(tmp_path, good):
    head, mark, entities = good["R12"].partition(b"ENTITIES\n")
    plain = head + mark + entities.replace(b"  8\n0\n", b"")
    data, line = without_beginning(plain, "CIRCLE", 2)
    message = refusal(written(tmp_path, data))
    assert (
        f"line {line}: the CIRCLE that begins here has its first point (group code 10)" in message
    )


@pytest.mark.parametrize("comment", ["", "999\nby hand\n"])
def test_a_first_entity_that_lost_the_line_it_begins_with_is_refused(tmp_path, comment):
    circle = "8\n0\n10\n{}\n20\n0.5\n40\n0.049\n"
    square = [(0, 0, 4, 0), (4, 0, 4, 2), (4, 2, 0, 2), (0, 2, 0, 0)]
    edges = "".join(f"0\nLINE\n8\n0\n10\n{a}\n20\n{b}\n11\n{c}\n21\n{d}\n" for a, b, c, d in square)
    head, end = f"0\nSECTION\n2\nENTITIES\n{comment}", "0\nENDSEC\n0\nEOF\n"
    text = head + circle.format(1) + "0\nCIRCLE\n" + circle.format(2) + edges + end
    message = refusal(written(tmp_path, text.encode()))
    line = 5 if not comment else 7
    assert f"x.dxf, line {line}: group code 8 stands where the first entity of" in message


def test_a_corner_lost_from_a_polyline_is_told_with_its_line(tmp_path, good):
    lines = good["R2010"].splitlines(keepends=True)
    at = lines.index(b"4.0\n", lines.index(b"AcDbPolyline\n")) + 3
    (part,) = read_parts(written(tmp_path, b"".join(lines[: at - 1] + lines[at + 3 :])), IN)
    notice = notice_of(part, "polyline.corners")
    begin = lines.index(b"LWPOLYLINE\n", lines.index(b"ENTITIES\n")) + 1
    assert notice.text == f"a polyline states 4 corners and has 3 (line {begin} of the file)"


def test_points_lost_from_splines_are_told_once(tmp_path):
    doc = plate_drawing()
    for x in (1.0, 2.0, 3.0):
        CIRCLE_HABITS["spline through fit points"](doc.modelspace(), x, 1.0, NUMBER_40 / 2)
    path = save(doc, tmp_path)
    stated = path.read_bytes().replace(b" 74\n24\n", b" 74\n25\n")
    (part,) = read_parts(written(tmp_path, stated), IN)
    assert len(part.holes) == 8
    text = notice_of(part, "spline.points").text
    assert text.startswith("a spline states 25 fit points and has 24 (line ")
    assert text.endswith(" of the file), and 2 more like it")


def test_a_drawing_that_lost_its_model_space_is_refused(tmp_path, good):
    data = good["R2010"].replace(b"\nModel\n", b"\nMadel\n")
    assert "the drawing has lost its model space" in refusal(written(tmp_path, data))


def test_an_insert_of_a_block_that_lost_its_content_is_told(tmp_path):
    doc = plate_drawing()
    doc.blocks.new("H").add_circle((0, 0), 0.049)
    doc.modelspace().add_blockref("H", (1, 1.5))
    doc.blocks.new("EMPTY")
    doc.modelspace().add_blockref("EMPTY", (1, 1.5))
    (part,) = read_parts(save(doc, tmp_path))
    assert len(part.holes) == 6
    assert notice_of(part, "entity.empty").text == "block 'EMPTY' is empty"


def test_a_closed_line_on_one_spot_is_left_out(tmp_path):
    doc = plate_drawing()
    doc.modelspace().add_lwpolyline([(1, 1, 1), (1 + 1e-9, 1, 1)], format="xyb", close=True)
    (part,) = read_parts(save(doc, tmp_path))
    assert (len(part.holes), part.cutouts) == (5, ())
    assert notice_of(part, "loop.flat").x == pytest.approx(1.0)


def test_entities_that_the_repairing_reader_would_drop_are_refused(tmp_path, good):
    data = good["R2010"].replace(b"AcDbPolyline\n", b"AcDbNothing\n")
    at = data.index(b"CIRCLE\n  5\n")
    handle = data[at + 11 :].split(b"\n")[0]
    # two circles of one handle: the second would take the place of the first
    other = data.index(b"CIRCLE\n  5\n", at + 5)
    data = data[: other + 11] + handle + data[other + 11 + len(handle) :]
    path = written(tmp_path, data)
    try:
        (part,) = read_parts(path, IN)
    except DrawingError as error:
        assert "CIRCLE entities are damaged and would be lost" in str(error)  # noqa: PT017 - it may be read as well
    else:
        assert centres_of(part) == list(ROW)


# repaired ---------------------------------------------------------------------------------------


def without_tables(data: bytes) -> bytes:
    start = data.index(b"  0\nSECTION\n  2\nTABLES\n")
    end = data.index(b"  0\nENDSEC\n", start) + len(b"  0\nENDSEC\n")
    return data[:start] + data[end:]


def without_handles(data: bytes) -> bytes:
    start = data.index(b"  2\nENTITIES\n")
    lines = data[start:].splitlines(keepends=True)
    tags = zip(lines[::2], lines[1::2], strict=True)
    kept = b"".join(c + v for c, v in tags if c.strip() not in {b"5", b"330", b"360"})
    return data[:start] + kept


@pytest.mark.parametrize("damage", [without_tables, without_handles])
@pytest.mark.parametrize("fmt", ["R12", "R2010"])
def test_a_drawing_without_tables_or_handles_is_read_whole(tmp_path, good, fmt, damage):
    (part,) = read_parts(written(tmp_path, damage(good[fmt])), IN)
    assert centres_of(part) == list(ROW)
    assert diameters_of(part) == {NUMBER_40: 5}


@pytest.mark.parametrize("first", [b"\xef\xbb\xbf", b"\n\n", b" \r\n\t\n"])
def test_a_byte_order_mark_or_blank_lines_before_the_drawing_are_told(tmp_path, good, first):
    (part,) = read_parts(written(tmp_path, first + good["R2010"]), IN)
    assert centres_of(part) == list(ROW)
    notice = notice_of(part, "file.damaged")
    assert "a byte order mark, blank lines or end marks" in notice.text


@pytest.mark.parametrize("end", [b"\r\n", b"\r"])
@pytest.mark.parametrize("fmt", ["R12", "R2010"])
def test_line_ends_of_other_systems_are_read(tmp_path, good, fmt, end):
    (part,) = read_parts(written(tmp_path, good[fmt].replace(b"\n", end)), IN)
    assert (centres_of(part), part.notices) == (list(ROW), ())


def test_comments_are_no_matter(tmp_path, good):
    data = b"999\nwritten by hand\n" + good["R2010"].replace(
        b"  0\nCIRCLE\n", b"999\na hole, 0,098\n  0\nCIRCLE\n"
    )
    (part,) = read_parts(written(tmp_path, data), IN)
    assert (centres_of(part), part.notices) == (list(ROW), ())


def test_the_lines_of_the_repairing_reader_do_not_reach_the_terminal(tmp_path, good, capfd):
    read_parts(written(tmp_path, b"\n" + without_tables(good["R2010"])), IN)
    assert capfd.readouterr() == ("", "")


# bounded ----------------------------------------------------------------------------------------


def test_thousands_of_closed_lines_take_a_bounded_time(tmp_path):
    # a quadratic number of questions about containment would take minutes
    entities = []
    for i in range(1500):
        x, y = 0.1 * (i % 80), 0.1 * (i // 80)
        corners = [(x, y), (x + 0.05, y), (x + 0.05, y + 0.05)]
        for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True):
            entities.append(Line(x0 + 1, y0 + 1, x1 + 1, y1 + 1))
    for a, b in (((0, 0), (20, 0)), ((20, 0), (20, 9)), ((20, 9), (0, 9)), ((0, 9), (0, 0))):
        entities.append(Line(*map(float, (*a, *b))))
    entities.append(Circle(15.0, 4.0, 0.049))
    path = write_r12(tmp_path / "many.dxf", entities, style=Style(unit=1))
    (part,) = read_parts(path)
    assert (len(part.holes), len(part.cutouts)) == (1, 1500)


def test_many_circles_on_one_spot_are_one_hole(tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), [ROW[0]] * 500)
    (part,) = read_parts(save(doc, tmp_path))
    assert len(part.holes) == 5
    assert "500 times" in notice_of(part, "hole.doubled").text
