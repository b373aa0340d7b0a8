"""Holes, however a program draws a circle; and the circles that are no holes."""

from __future__ import annotations

import math

import pytest

from holeschedule.errors import DrawingError
from holeschedule.units import LengthUnit, parse_length
from tests.makers import (
    CIRCLE_HABITS,
    NUMBER_40,
    PLATE,
    ROW,
    centres_of,
    circle_points,
    codes_of,
    diameters_of,
    draw_circles,
    draw_polygon,
    new_drawing,
    notice_of,
    place_of,
    plate_drawing,
    read,
    read_one,
)

ROUNDED = 1e-4
"""Inches: corners written with 4 digits, and curves turned into arcs, are this exact."""
NOT_EXACT = {
    "spline through fit points",
    "polygon of 24 corners, 4 digits",
    "loose lines, 16 corners, 4 digits",
}


def drawn_with(habit: str, centres=ROW, radius=NUMBER_40 / 2):
    doc = new_drawing()
    draw_polygon(doc.modelspace(), PLATE)
    for x, y in centres:
        CIRCLE_HABITS[habit](doc.modelspace(), x, y, radius)
    return doc


# each way to draw one ---------------------------------------------------------------------------


@pytest.mark.parametrize("habit", CIRCLE_HABITS)
def test_a_circle_is_a_hole_however_it_is_drawn(tmp_path, habit):
    part = read_one(drawn_with(habit), tmp_path)
    near = ROUNDED if habit in NOT_EXACT else 1e-9
    assert len(part.holes) == len(ROW)
    assert part.cutouts == ()
    for hole, (x, y) in zip(sorted(part.holes, key=lambda h: h.x), ROW, strict=True):
        assert math.hypot(hole.x - x, hole.y - y) <= near
        assert hole.diameter == pytest.approx(NUMBER_40, abs=2 * near)
        assert hole.residual <= near


@pytest.mark.parametrize("habit", ["polyline of two bulges", "old polyline"])
def test_circles_of_an_r12_drawing_are_holes_as_well(tmp_path, habit):
    doc = new_drawing("R12", 1)
    draw_polygon(doc.modelspace(), PLATE)
    for x, y in ROW:
        CIRCLE_HABITS[habit](doc.modelspace(), x, y, NUMBER_40 / 2)
    assert centres_of(read_one(doc, tmp_path, unit="in")) == list(ROW)


def test_a_circle_pieced_together_is_told_with_what_it_was_drawn_as(tmp_path):
    part = read_one(drawn_with("polygon of 32 corners"), tmp_path)
    assert {hole.drawn_as for hole in part.holes} == {"polygon of 32 corners"}
    notice = notice_of(part, "circle.fitted")
    assert "polygon of 32 corners" in notice.text
    assert "5 times" in notice.text
    assert place_of(notice) == ("0", *ROW[0])
    assert notice.text.startswith("a circle drawn as a polygon")
    of_arcs = notice_of(read_one(drawn_with("two half arcs"), tmp_path), "circle.fitted")
    assert of_arcs.text.startswith("a circle drawn as two arcs")


def test_a_plain_circle_is_nothing_to_tell(tmp_path):
    part = read_one(drawn_with("circle"), tmp_path)
    assert part.notices == ()
    assert {(hole.drawn_as, hole.residual) for hole in part.holes} == {("circle", 0.0)}


def test_a_polygon_is_the_circle_through_its_corners_not_one_of_its_area(tmp_path):
    part = read_one(drawn_with("polygon of 8 corners"), tmp_path)
    assert {round(hole.diameter, 9) for hole in part.holes} == {NUMBER_40}


def test_corners_rounded_to_four_digits_leave_a_residual(tmp_path):
    part = read_one(drawn_with("polygon of 24 corners, 4 digits"), tmp_path)
    assert all(1e-6 < hole.residual <= 1e-4 for hole in part.holes)


@pytest.mark.parametrize("corners", [3, 4, 5, 6, 7])
def test_a_polygon_of_fewer_than_eight_corners_is_a_cutout(tmp_path, corners):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), circle_points(2.0, 1.3, 0.049, corners))
    part = read_one(doc, tmp_path)
    assert centres_of(part) == list(ROW)
    assert len(part.cutouts) == 1


def test_a_closed_line_on_a_layer_of_holes_that_is_no_circle_is_told(tmp_path):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), circle_points(2.0, 1.3, 0.049, 6), "HOLES")
    notice = notice_of(read_one(doc, tmp_path), "hole.not-round")
    assert place_of(notice) == ("HOLES", 2.0, 1.3)
    draw_polygon(doc.modelspace(), [(1, 1), (2, 1), (2, 1.1)], "HOLES")
    assert "2 times" in notice_of(read_one(doc, tmp_path), "hole.not-round").text


@pytest.mark.parametrize(("corners", "told"), [(4, False), (5, False), (6, True), (7, True)])
def test_a_small_closed_line_that_is_nearly_round_is_told(tmp_path, corners, told):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), circle_points(2.0, 1.3, 0.049, corners))
    draw_polygon(doc.modelspace(), circle_points(3.0, 1.3, 0.3, corners))
    part = read_one(doc, tmp_path)
    assert codes_of(part) == ({"hole.not-round"} if told else set())


def test_an_ellipse_of_unequal_axes_is_a_cutout(tmp_path):
    doc = plate_drawing()
    doc.modelspace().add_ellipse((2.0, 1.3), major_axis=(0.08, 0.0), ratio=0.6)
    part = read_one(doc, tmp_path)
    assert centres_of(part) == list(ROW)
    (cutout,) = part.cutouts
    assert cutout.area == pytest.approx(math.pi * 0.08 * 0.048, rel=1e-3)


def test_half_a_circle_is_no_hole_and_is_told(tmp_path):
    doc = plate_drawing()
    doc.modelspace().add_arc((2.0, 1.3), 0.049, 0, 180)
    part = read_one(doc, tmp_path)
    assert centres_of(part) == list(ROW)
    assert notice_of(part, "line.open").x == pytest.approx(2.049)


@pytest.mark.parametrize("radius", [0.049, 0.1, 0.16])
def test_a_gap_within_the_tolerance_leaves_a_circle_a_circle(tmp_path, radius):
    doc = plate_drawing(holes=[(3.0, 1.0)])
    open_by = math.degrees(0.0018 / radius)
    doc.modelspace().add_arc((1.0, 1.0), radius, 0, 360 - open_by)
    doc.modelspace().add_arc((2.0, 1.0), radius, open_by / 2, 180 - open_by / 2)
    doc.modelspace().add_arc((2.0, 1.0), radius, 180 + open_by / 2, 360 - open_by / 2)
    part = read_one(doc, tmp_path)
    assert centres_of(part, 3) == [(1.0, 1.0), (2.0, 1.0), (3.0, 1.0)]
    assert sorted(round(h.diameter, 4) for h in part.holes)[-2:] == pytest.approx([2 * radius] * 2)
    assert "gap.joined" in codes_of(part)


# drawn twice ------------------------------------------------------------------------------------


@pytest.mark.parametrize("habit", ["circle", "two half arcs", "polygon of 32 corners"])
def test_a_hole_drawn_twice_is_one_hole(tmp_path, habit):
    doc = drawn_with(habit)
    draw_circles(doc.modelspace(), ROW)
    part = read_one(doc, tmp_path)
    assert centres_of(part) == list(ROW)
    assert "5 times" in notice_of(part, "hole.doubled").text


def test_half_arcs_drawn_twice_are_one_hole(tmp_path):
    doc = drawn_with("two half arcs")
    for x, y in ROW:
        CIRCLE_HABITS["two half arcs"](doc.modelspace(), x, y, NUMBER_40 / 2)
    part = read_one(doc, tmp_path)
    assert centres_of(part) == list(ROW)
    assert "line.doubled" in codes_of(part)


@pytest.mark.parametrize(("more", "holes"), [(0.0019, 5), (0.0021, 6)])
def test_two_holes_are_one_up_to_two_thousandths_apart(tmp_path, more, holes):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), [(ROW[2][0] + more, ROW[2][1])])
    assert len(read_one(doc, tmp_path).holes) == holes


def test_circles_round_one_centre_that_differ_by_a_thousandth_are_one_hole(tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), ROW, NUMBER_40 + 0.001)
    part = read_one(doc, tmp_path)
    assert diameters_of(part) == {NUMBER_40: 5}
    assert codes_of(part) == {"hole.doubled"}


# round one centre -------------------------------------------------------------------------------


def test_a_circle_round_a_hole_that_fits_a_flush_head_is_its_countersink_mark(tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), ROW[:3], 0.179)
    part = read_one(doc, tmp_path)
    marks = {(hole.x, hole.y): hole.mark_diameter for hole in part.holes}
    assert marks == dict(zip(ROW, [0.179] * 3 + [None] * 2, strict=True))
    assert part.cutouts == ()
    assert "3 times" in notice_of(part, "circle.mark").text


def test_marks_drawn_before_their_holes_are_marks_all_the_same(tmp_path):
    doc = plate_drawing(holes=[])
    draw_circles(doc.modelspace(), ROW, 0.179)
    draw_circles(doc.modelspace(), ROW)
    part = read_one(doc, tmp_path)
    assert diameters_of(part) == {NUMBER_40: 5}
    assert {hole.mark_diameter for hole in part.holes} == {0.179}


def test_a_circle_round_a_hole_that_fits_no_head_is_a_cutout(tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), ROW[:1], 0.25)
    part = read_one(doc, tmp_path)
    assert diameters_of(part) == {NUMBER_40: 5}
    assert len(part.cutouts) == 1
    assert [hole.x for hole, sound in zip(part.holes, part.in_metal, strict=True) if not sound] == [
        ROW[0][0]
    ]
    notice = notice_of(part, "circle.round-hole")
    assert (notice.x, notice.y) == pytest.approx(ROW[0])


def test_a_round_outline_round_a_hole_in_its_middle_is_told_as_no_cutout(tmp_path):
    doc = new_drawing()
    draw_circles(doc.modelspace(), [(3.0, 3.0), *circle_points(3.0, 3.0, 2.5, 8)])
    draw_circles(doc.modelspace(), [(3.0, 3.0)], 6.0, "HOLES")
    part = read_one(doc, tmp_path)
    assert (len(part.holes), part.cutouts) == (9, ())
    assert codes_of(part) == set()


def test_hole_mark_and_cutout_round_one_centre_are_told_apart(tmp_path):
    doc = plate_drawing(holes=[(2.0, 1.0), (0.5, 0.5)])
    draw_circles(doc.modelspace(), [(2.0, 1.0)], 0.179)
    draw_circles(doc.modelspace(), [(2.0, 1.0)], 1.0)
    part = read_one(doc, tmp_path)
    assert diameters_of(part) == {NUMBER_40: 2}
    assert {hole.mark_diameter for hole in part.holes} == {0.179, None}
    assert [round(2 * c.edges.radius[0], 9) for c in part.cutouts] == [1.0]


# large ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("diameter", "holes"), [(0.328, 6), (0.3281, 5)])
def test_circles_above_the_largest_hole_are_cutouts(tmp_path, diameter, holes):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), [(2.0, 1.3)], diameter)
    part = read_one(doc, tmp_path)
    assert (len(part.holes), len(part.cutouts)) == (holes, 6 - holes)


def test_the_largest_hole_is_the_users_to_say(tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), [(2.0, 1.3)], 0.5)
    part = read_one(doc, tmp_path, largest_hole=0.5)
    assert diameters_of(part) == {NUMBER_40: 5, 0.5: 1}


def test_a_large_circle_on_a_layer_of_holes_is_told(tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), [(2.0, 1.3)], 0.5, "DRILL")
    notice = notice_of(read_one(doc, tmp_path), "circle.large")
    assert place_of(notice) == ("DRILL", 2.0, 1.3)
    assert "0.328 in" in notice.text


def test_a_drawing_of_large_circles_alone_says_how_to_read_them_as_holes(tmp_path):
    doc = plate_drawing(holes=ROW, diameter=0.375)
    with pytest.raises(DrawingError) as caught:
        read(doc, tmp_path)
    message = str(caught.value)
    assert "no hole: the smallest of 5 circles has a diameter of 0.375 in" in message
    assert "more than the largest hole, 0.328 in" in message
    advised = parse_length(message.partition("-hole ")[2].partition(";")[0], LengthUnit.INCH)
    assert len(read_one(doc, tmp_path, largest_hole=advised).holes) == 5


def test_the_largest_hole_is_advised_in_the_unit_of_the_drawing(tmp_path):
    doc = new_drawing("R2010", 4)
    draw_polygon(doc.modelspace(), [(0, 0), (100, 0), (100, 50), (0, 50)])
    draw_circles(doc.modelspace(), [(20, 25)], 12.5)
    with pytest.raises(DrawingError) as caught:
        read(doc, tmp_path)
    message = str(caught.value)
    assert "no hole: the only circle has a diameter of 12.5 mm" in message
    assert "say --largest-hole 12.6mm; if the unit is wrong, --units in" in message


def test_circles_on_layers_of_cutouts_alone_are_not_called_too_large(tmp_path):
    doc = plate_drawing(holes=[])
    draw_circles(doc.modelspace(), ROW, NUMBER_40, "CUTOUTS")
    with pytest.raises(DrawingError) as caught:
        read(doc, tmp_path)
    assert "every circle is on a layer of cutouts" in str(caught.value)
    assert len(read_one(doc, tmp_path, layers={"CUTOUTS": "holes"}).holes) == len(ROW)


def test_a_round_part_is_a_circle_with_holes_in_it(tmp_path):
    doc = new_drawing()
    holes = circle_points(3.0, 3.0, 2.5, 12)
    draw_circles(doc.modelspace(), [(3.0, 3.0)], 6.0)
    draw_circles(doc.modelspace(), [(3.0, 3.0)], 4.0)
    draw_circles(doc.modelspace(), holes)
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(9 * math.pi, rel=1e-12)
    assert [cutout.area for cutout in part.cutouts] == pytest.approx([4 * math.pi], rel=1e-12)
    assert len(part.holes) == 12
    assert part.in_metal.all()


def test_a_hole_in_the_middle_of_a_round_part_is_in_metal(tmp_path):
    doc = new_drawing()
    draw_circles(doc.modelspace(), [(1.0, 1.0)], 1.0)
    draw_circles(doc.modelspace(), [(1.0, 1.0)])
    part = read_one(doc, tmp_path)
    assert (len(part.holes), part.cutouts, bool(part.in_metal.all())) == (1, (), True)


def test_a_circle_smaller_than_any_drill_is_left_out_and_told(tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), [(1.0, 1.0), (1.5, 1.0)], 0.004, "DOTS")
    part = read_one(doc, tmp_path)
    assert (centres_of(part), part.cutouts) == (list(ROW), ())
    notice = notice_of(part, "hole.too-small")
    assert "smaller than the smallest drill, #80 (0.0135 in), is no hole" in notice.text
    assert "(2 times, first here)" in notice.text
    assert place_of(notice) == ("DOTS", 1.0, 1.0)


def test_a_drawing_of_nothing_but_dots_is_refused_and_the_unit_doubted(tmp_path):
    doc = plate_drawing(unit=4)
    with pytest.raises(DrawingError) as caught:
        read(doc, tmp_path, unit="mm")
    message = str(caught.value)
    assert "the largest of 5 circles has a diameter of 0.098 mm, less than the smallest" in message
    assert "drill, #80 (0.3429 mm). Say --units in or --units mm if the unit is wrong." in message


def test_a_hole_of_two_arcs_that_overlap_is_one_hole_and_told(tmp_path):
    doc = plate_drawing(holes=ROW[1:])
    for first in (0, 170):
        doc.modelspace().add_arc(ROW[0], NUMBER_40 / 2, first, first + 200)
    part = read_one(doc, tmp_path)
    assert centres_of(part) == list(ROW)
    assert codes_of(part) == {"line.overlap"}
