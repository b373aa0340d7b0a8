"""The unit of a drawing: stated, not stated, or stated wrongly."""

from __future__ import annotations

import re

import pytest

from holeschedule.errors import UnitError
from holeschedule.holes.parts import read_parts
from tests.makers import (
    NUMBER_40,
    PLATE,
    ROW,
    centres_of,
    draw_circles,
    plate_drawing,
    read,
    read_one,
    save,
)

UNITS = {1: ("in", 1.0), 4: ("mm", 25.4), 5: ("cm", 2.54), 6: ("m", 0.0254), 2: ("ft", 1 / 12)}
"""Code in the header, symbol, and how many of it make an inch."""


def plate_in(scale, unit=1, version="R2010"):
    """The plate with every number times `scale`."""
    return plate_drawing(
        [(x * scale, y * scale) for x, y in PLATE],
        [(x * scale, y * scale) for x, y in ROW],
        diameter=NUMBER_40 * scale,
        unit=unit,
        version=version,
    )


@pytest.mark.parametrize("code", UNITS)
def test_a_stated_unit_is_converted_exactly(tmp_path, code):
    symbol, scale = UNITS[code]
    part = read_one(plate_in(scale, code), tmp_path)
    assert part.unit.symbol == symbol
    assert part.outline.area == pytest.approx(8.0, rel=1e-12)
    for hole, (x, y) in zip(sorted(part.holes, key=lambda h: h.x), ROW, strict=True):
        assert (hole.x, hole.y, hole.diameter) == pytest.approx((x, y, NUMBER_40), abs=1e-12)


def test_two_and_a_half_millimetres_are_that_over_25_4(tmp_path):
    doc = plate_drawing(
        [(0, 0), (100, 0), (100, 50), (0, 50)], [(12.7, 25.4)], diameter=2.5, unit=4
    )
    (hole,) = read_one(doc, tmp_path).holes
    assert (hole.x, hole.y) == pytest.approx((0.5, 1.0), abs=1e-15)
    assert hole.diameter == pytest.approx(2.5 / 25.4, abs=1e-16)


@pytest.mark.parametrize("unit", [None, 0], ids=["no header variable", "code 0"])
def test_a_drawing_without_a_unit_is_refused_with_both_readings(tmp_path, unit):
    with pytest.raises(UnitError) as caught:
        read(plate_in(1.0, unit), tmp_path)
    message = str(caught.value)
    assert "no unit stated: 4 × 2 in, holes 0.098 in; or 4 × 2 mm, holes 0.098 mm?" in message
    assert message.endswith("Say --units in or --units mm.")


def test_an_r12_drawing_states_no_unit(tmp_path):
    with pytest.raises(UnitError, match="no unit stated"):
        read(plate_in(1.0, None, "R12"), tmp_path)


def test_the_readings_show_the_commonest_hole_sizes(tmp_path):
    doc = plate_drawing(unit=0)
    draw_circles(doc.modelspace(), [(1, 1.5), (2, 1.5)], 0.1285)
    with pytest.raises(UnitError, match=re.escape("holes 0.098, 0.1285 in")):
        read(doc, tmp_path)


def test_a_drawing_without_unit_and_holes_shows_its_size(tmp_path):
    with pytest.raises(UnitError, match=r"no unit stated: 4 × 2 in; or 4 × 2 mm\?"):
        read(plate_drawing(holes=[], unit=0), tmp_path)


@pytest.mark.parametrize(
    ("unit", "scale"), [("in", 1.0), ("mm", 25.4), ("MM", 25.4), ("m", 0.0254)]
)
@pytest.mark.parametrize("stated", [None, 0, 1, 17])
def test_the_option_settles_the_unit_whatever_the_header_says(tmp_path, unit, scale, stated):
    part = read_one(plate_in(scale, stated), tmp_path, unit=unit)
    assert part.outline.area == pytest.approx(8.0, rel=1e-12)
    assert part.holes[0].diameter == pytest.approx(NUMBER_40)


@pytest.mark.parametrize(
    ("code", "scale", "stated", "likely"),
    [(1, 25.4, "inch", "mm"), (4, 1.0, "millimetre", "in"), (6, 25.4, "metre", "mm")],
)
def test_a_unit_under_which_no_hole_is_a_drill_size_is_doubted(
    tmp_path, code, scale, stated, likely
):
    with pytest.raises(UnitError) as caught:
        read(plate_in(scale, code), tmp_path)
    message = str(caught.value)
    assert f"the header states {stated}, but the holes are no drill sizes then" in message
    width, hole = 4 * scale, round(NUMBER_40 * scale, 4)
    assert f"{width:g} × {width / 2:g} {UNITS[code][0]}, holes {hole:g} {UNITS[code][0]}" in message
    assert f"or {width:g} × {width / 2:g} {likely}, holes {hole:g} {likely}?" in message
    assert f"Say --units {likely}, or --units {UNITS[code][0]} if it is right." in message


def test_a_doubted_unit_is_believed_when_the_user_says_so(tmp_path):
    part = read_one(plate_in(25.4, 1), tmp_path, unit="in", largest_hole=3.0)
    assert part.holes[0].diameter == pytest.approx(NUMBER_40 * 25.4)


def test_a_few_drill_sizes_are_enough_to_believe_the_header(tmp_path):
    doc = plate_drawing(diameter=0.25 / 25.4 * 10)
    draw_circles(doc.modelspace(), [(1, 1.5)], 0.098)
    assert read_one(doc, tmp_path).unit.symbol == "in"


@pytest.mark.parametrize("code", [17, 20, 25, 99, -1])
def test_a_unit_no_part_is_drawn_in_is_refused(tmp_path, code):
    with pytest.raises(UnitError) as caught:
        read(plate_in(1.0, code), tmp_path)
    assert f"the header states unit code {code}" in str(caught.value)
    assert str(caught.value).endswith("Say --units in or --units mm.")


def test_an_unknown_unit_asked_for_is_refused_with_the_known_ones(tmp_path):
    with pytest.raises(UnitError) as caught:
        read(plate_in(1.0), tmp_path, unit="inc")
    assert "'inc' is not a unit of length" in str(caught.value)
    assert "mm" in str(caught.value)


def test_the_unit_of_the_file_is_the_one_of_its_header_not_of_the_programs_habit(tmp_path):
    path = save(plate_in(1.0, 1), tmp_path)
    text = path.read_text().replace("$MEASUREMENT\n 70\n0", "$MEASUREMENT\n 70\n1")
    path.write_text(text)
    (part,) = read_parts(path)
    assert part.unit.symbol == "in"


def test_notices_are_in_inches_whatever_the_drawing_is_in(tmp_path):
    doc = plate_in(25.4, 4)
    doc.modelspace().add_line((50.8, 25.4), (50.8, 27.94))
    doc.modelspace().add_circle((25.4, 25.4), 2.0, dxfattribs={"extrusion": (0, 1, 0)})
    part = read_one(doc, tmp_path)
    assert {(n.code, round(n.x, 9), round(n.y, 9)) for n in part.notices} == {
        ("line.open", 2.0, 1.0),
        ("entity.not-flat", 1.0, 1.0),
    }


def test_centres_are_on_the_drawings_own_axes(tmp_path):
    doc = plate_drawing(
        [(x * 25.4 - 1000, y * 25.4 + 500) for x, y in PLATE],
        [(x * 25.4 - 1000, y * 25.4 + 500) for x, y in ROW],
        diameter=2.5,
        unit=4,
    )
    wanted = [(round(x - 1000 / 25.4, 6), round(y + 500 / 25.4, 6)) for x, y in ROW]
    assert centres_of(read_one(doc, tmp_path)) == wanted
