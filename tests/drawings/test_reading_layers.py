"""What a layer is for: by its name, by the user's word, by geometry; and what is hidden."""

from __future__ import annotations

import pytest

from holeschedule.drawing.layers import LayerRole
from holeschedule.errors import DrawingError
from holeschedule.model import Role
from tests.makers import (
    NUMBER_40,
    PLATE,
    ROW,
    centres_of,
    codes_of,
    diameters_of,
    draw_circles,
    draw_polygon,
    new_drawing,
    notice_of,
    plate_drawing,
    read,
    read_one,
)


def on_layers(outline="0", holes="0", cutout=None):
    doc = new_drawing()
    draw_polygon(doc.modelspace(), PLATE, outline)
    draw_circles(doc.modelspace(), ROW, layer=holes)
    if cutout:
        draw_circles(doc.modelspace(), [(2.0, 1.3)], 0.25, cutout)
    return doc


# by name ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["CUTOUT", "Lightening holes", "slots", "2-Relief"])
def test_a_small_circle_on_a_layer_of_cutouts_is_a_cutout(tmp_path, name):
    part = read_one(on_layers(cutout=name), tmp_path)
    assert diameters_of(part) == {NUMBER_40: 5}
    assert len(part.cutouts) == 1


@pytest.mark.parametrize("name", ["0", "HOLES", "drill", "Rivet_Holes", "PILOT"])
def test_the_same_circle_elsewhere_is_a_hole(tmp_path, name):
    part = read_one(on_layers(cutout=name), tmp_path)
    assert diameters_of(part) == {NUMBER_40: 5, 0.25: 1}


@pytest.mark.parametrize("name", ["BEND", "Fold lines", "bend-up"])
def test_lines_of_a_layer_of_bends_are_bend_lines(tmp_path, name):
    doc = on_layers()
    doc.modelspace().add_line((0, 1.5), (4, 1.5), dxfattribs={"layer": name})
    part = read_one(doc, tmp_path)
    assert (len(part.bends), len(part.trim), len(part.edges)) == (1, 0, 4)
    assert part.notices == ()


@pytest.mark.parametrize("name", ["TRIM", "Trim line"])
def test_lines_of_a_layer_of_trim_lines_are_edges(tmp_path, name):
    doc = on_layers()
    doc.modelspace().add_line((0, 1.5), (4, 1.5), dxfattribs={"layer": name})
    part = read_one(doc, tmp_path)
    assert (len(part.bends), len(part.trim), len(part.edges)) == (0, 1, 5)
    assert part.edge_name(4) == "trim line"


@pytest.mark.parametrize(
    ("lines", "beyond"),
    [
        ([((0, 1), (4, 1))], 0),
        ([((3.2, 0), (3.2, 2))], 1),
        ([((3.2, -1), (3.2, 3))], 1),
        ([((3.2, 0.004), (3.2, 1.996))], 1),
        ([((3.2, 0.1), (3.2, 2))], 0),
        ([((0.8, 2), (0.8, 0)), ((3.2, 0), (3.2, 2))], 2),
        ([((4, 1.9), (3.2, 1)), ((3.2, 1), (2.2, 0))], 2),
        ([((4, 1), (2.6, 0)), ((9, 0), (9, 2))], 1),
    ],
)
def test_holes_beyond_a_trim_line_are_told(tmp_path, lines, beyond):
    doc = on_layers(holes="HOLES")
    for line in lines:
        doc.modelspace().add_line(*line, dxfattribs={"layer": "TRIM"})
    part = read_one(doc, tmp_path)
    assert len(part.holes) == 5
    told = [notice for notice in part.notices if notice.code == "hole.beyond-trim"]
    assert [notice.layer for notice in told] == ["HOLES"] * min(beyond, 1)
    assert all(("2 times" in notice.text) is (beyond == 2) for notice in told)


def test_a_hole_between_the_outline_and_a_closed_trim_line_is_told_at_its_place(tmp_path):
    doc = on_layers()
    draw_polygon(doc.modelspace(), [(0.7, 0.1), (3.9, 0.1), (3.9, 1.9), (0.7, 1.9)], "TRIM")
    notice = notice_of(read_one(doc, tmp_path), "hole.beyond-trim")
    assert (notice.x, notice.y) == (0.5, 0.5)


def test_bend_and_trim_lines_between_corners_of_the_outline_are_no_part_of_it(tmp_path):
    doc = new_drawing()
    draw_polygon(doc.modelspace(), [(0, 0), (4, 0), (4, 1), (4, 2), (0, 2), (0, 1)], "OUTLINE")
    draw_circles(doc.modelspace(), ROW)
    doc.modelspace().add_line((0, 1), (4, 1), dxfattribs={"layer": "BEND"})
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8.0)
    assert part.notices == ()


@pytest.mark.parametrize("role", ["BEND", "TRIM"])
def test_lines_of_no_length_are_no_bend_or_trim_lines(tmp_path, role):
    doc = on_layers()
    doc.modelspace().add_line((1, 1), (1, 1), dxfattribs={"layer": role})
    part = read_one(doc, tmp_path)
    assert (len(part.bends), len(part.trim)) == (0, 0)
    assert notice_of(part, "line.empty").layer == role


def test_a_circle_on_a_layer_of_bend_lines_is_no_hole_and_is_told(tmp_path):
    doc = on_layers()
    draw_circles(doc.modelspace(), [(1, 1.5)], layer="BEND")
    part = read_one(doc, tmp_path)
    assert len(part.holes) == 5
    assert notice_of(part, "circle.on-line-layer").layer == "BEND"


@pytest.mark.parametrize(
    "name", ["BORDER", "title", "Centerlines", "dims", "ENGRAVING", "Defpoints"]
)
def test_an_ignored_layer_is_left_out_and_told(tmp_path, name):
    doc = on_layers()
    draw_circles(doc.modelspace(), [(1, 1.5)], layer=name)
    doc.modelspace().add_line((0, 0), (1, 1), dxfattribs={"layer": name})
    part = read_one(doc, tmp_path)
    assert len(part.holes) == 5
    assert notice_of(part, "layer.ignored").layer == name
    assert notice_of(part, "layer.ignored").text.startswith("2 lines and curves")


def test_a_loop_on_a_layer_of_outlines_is_the_outline_even_if_a_smaller_one_holds_the_holes(
    tmp_path,
):
    doc = on_layers("PROFILE")
    draw_polygon(doc.modelspace(), [(0.1, 0.1), (3.9, 0.1), (3.9, 1.9), (0.1, 1.9)], "A")
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8.0)


def test_a_layer_of_cutouts_round_everything_is_the_line_the_part_is_cut_along(tmp_path):
    part = read_one(on_layers("CUTOUT"), tmp_path)
    assert (part.outline.area, len(part.holes)) == (pytest.approx(8.0), 5)


def test_layer_names_that_leave_no_outline_are_doubted_and_told(tmp_path):
    doc = on_layers("0")
    draw_polygon(doc.modelspace(), [(9, 9), (10, 9), (10, 10)], "OUTLINE")
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8.0)
    assert "layer.name-doubted" in codes_of(part)


# by the user's word -----------------------------------------------------------------------------


def test_the_users_word_overrides_the_name(tmp_path):
    doc = on_layers("0", "TEXT")
    assert len(read_one(doc, tmp_path, layers={"text": "holes"}).holes) == 5
    doc = on_layers("TRIM", "0")
    assert read_one(doc, tmp_path, layers={"TRIM": "outline"}).outline.area == pytest.approx(8.0)


def test_a_stated_layer_of_cutouts_makes_small_circles_cutouts(tmp_path):
    part = read_one(on_layers(cutout="TOOLING"), tmp_path, layers={"TOOLING": "cutouts"})
    assert (diameters_of(part), len(part.cutouts)) == ({NUMBER_40: 5}, 1)


@pytest.mark.parametrize("role", ["bend", "trim"])
def test_a_stated_layer_of_lines_is_taken_as_such(tmp_path, role):
    doc = on_layers()
    doc.modelspace().add_line((0, 1.5), (4, 1.5), dxfattribs={"layer": "X"})
    part = read_one(doc, tmp_path, layers={"X": role})
    assert (len(part.bends), len(part.trim)) == ((1, 0) if role == "bend" else (0, 1))


def test_a_stated_layer_that_is_not_there_is_refused_with_those_that_are(tmp_path):
    doc = on_layers("OUTLINE", "HOLES")
    with pytest.raises(DrawingError) as caught:
        read(doc, tmp_path, layers={"HOLE": "holes"})
    assert "no geometry on layer 'HOLE'" in str(caught.value)
    assert "the layers with geometry are 0, HOLES, OUTLINE." in str(caught.value)
    assert "Correct the --layer option." in str(caught.value)


def test_all_layers_ignored_leave_no_hole(tmp_path):
    with pytest.raises(DrawingError, match="no circle, so no hole"):
        read(on_layers(), tmp_path, layers={"0": "ignored"})


# points -----------------------------------------------------------------------------------------


def with_points(layer="PUNCH"):
    doc = new_drawing()
    draw_polygon(doc.modelspace(), PLATE)
    for at in ROW:
        doc.modelspace().add_point(at, dxfattribs={"layer": layer})
    return doc


def test_points_are_holes_on_a_layer_of_holes_with_a_diameter(tmp_path):
    role = LayerRole(Role.HOLES, 0.098)
    part = read_one(with_points(), tmp_path, layers={"punch": role})
    assert (centres_of(part), diameters_of(part)) == (list(ROW), {0.098: 5})
    assert {hole.drawn_as for hole in part.holes} == {"point"}


@pytest.mark.parametrize("layer", ["0", "HOLES"])
def test_points_without_a_diameter_are_no_holes_and_are_told(tmp_path, layer):
    doc = with_points(layer)
    draw_circles(doc.modelspace(), [(1, 1.5)])
    part = read_one(doc, tmp_path)
    assert len(part.holes) == 1
    notice = notice_of(part, "point.left-out")
    assert notice.layer == layer
    assert "5 times" in notice.text
    assert "--layer NAME=holes:DIAMETER" in notice.text


# hidden -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("hide", ["off", "freeze"])
def test_a_hidden_layer_is_left_out_and_told(tmp_path, hide):
    doc = on_layers()
    getattr(doc.layers.add("SPARE"), hide)()
    draw_circles(doc.modelspace(), [(1, 1.5), (2, 1.5)], layer="SPARE")
    part = read_one(doc, tmp_path)
    assert len(part.holes) == 5
    notice = notice_of(part, "layer.hidden")
    assert (notice.layer, "2 times" in notice.text) == ("SPARE", True)


def test_a_drawing_whose_layers_are_all_hidden_says_so(tmp_path):
    doc = on_layers("HIDDEN", "HIDDEN")
    doc.layers.add("HIDDEN").off()
    with pytest.raises(DrawingError, match="HIDDEN: the layer is switched off or frozen"):
        read(doc, tmp_path)


def test_an_invisible_entity_is_left_out_and_told(tmp_path):
    doc = on_layers()
    doc.modelspace().add_circle((1, 1.5), 0.049, dxfattribs={"invisible": 1})
    part = read_one(doc, tmp_path)
    assert (len(part.holes), codes_of(part)) == (5, {"entity.invisible"})


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_the_paper_space_is_not_read(tmp_path, version):
    doc = plate_drawing(version=version)
    draw_circles(doc.paperspace(), [(1, 1.5)])
    part = read_one(doc, tmp_path, unit="in")
    assert (len(part.holes), part.notices) == (5, ())


def test_a_layer_is_one_layer_in_any_case(tmp_path):
    doc = on_layers("outline", "Outline")
    doc.layers.add("OUTLINE").freeze()
    with pytest.raises(DrawingError, match="switched off or frozen"):
        read(doc, tmp_path)
