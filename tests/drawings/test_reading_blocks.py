"""Blocks: inserted, nested, scaled, turned, mirrored, in arrays; and limits to all of it."""

from __future__ import annotations

import math

import pytest

from holeschedule.drawing import limits
from holeschedule.errors import DrawingError
from tests.makers import (
    DOWN,
    NUMBER_40,
    PLATE,
    TILTED,
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

RADIUS = NUMBER_40 / 2


def with_block(*circles, name="H"):
    """The plate without holes, and a block with circles at these places."""
    doc = plate_drawing(holes=[])
    block = doc.blocks.new(name)
    for at in circles or [(0, 0)]:
        block.add_circle(at, RADIUS)
    return doc, block


def insert(doc, at, name="H", **attributes):
    return doc.modelspace().add_blockref(name, at, dxfattribs=attributes)


def refusal(doc, folder) -> str:
    with pytest.raises(DrawingError) as caught:
        read(doc, folder)
    return str(caught.value)


# moved ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("attributes", "centre", "diameter"),
    [
        ({}, (2.5, 1.0), 1),
        ({"rotation": 90}, (2.0, 1.5), 1),
        ({"rotation": 30}, (2 + 0.5 * math.cos(math.pi / 6), 1.25), 1),
        ({"xscale": 2, "yscale": 2, "zscale": 2}, (3.0, 1.0), 2),
        ({"xscale": -1}, (1.5, 1.0), 1),
        ({"xscale": -1, "rotation": 90}, (2.0, 0.5), 1),
        ({"xscale": 2, "yscale": -2, "rotation": 180}, (1.0, 1.0), 2),
        ({"zscale": 7}, (2.5, 1.0), 1),
    ],
)
def test_an_insert_is_moved_turned_scaled_and_mirrored(tmp_path, attributes, centre, diameter):
    doc, _ = with_block((0.5, 0.0))
    insert(doc, (2.0, 1.0), **attributes)
    part = read_one(doc, tmp_path)
    assert centres_of(part) == [pytest.approx(centre)]
    assert diameters_of(part) == {round(NUMBER_40 * diameter, 4): 1}


def test_a_block_has_a_base_point(tmp_path):
    doc, block = with_block((1.5, 1.0))
    block.block.dxf.base_point = (1.0, 1.0, 0.0)
    insert(doc, (2.0, 0.5), rotation=90, xscale=2, yscale=2)
    assert centres_of(read_one(doc, tmp_path)) == [pytest.approx((2.0, 1.5))]


def test_arcs_and_outlines_in_blocks_keep_their_area(tmp_path):
    doc = new_drawing()
    block = doc.blocks.new("P")
    block.add_lwpolyline([(0, 0, 0), (4, 0, 1), (4, 2, 0), (0, 2, 1)], format="xyb", close=True)
    draw_circles(block, [(1, 1), (2, 1)])
    insert(doc, (10, 10), "P", xscale=-1, rotation=37)
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8 + math.pi, rel=1e-12)
    assert part.outline.edges.is_arc.sum() == 2
    assert part.in_metal.all()


def test_nested_blocks_move_one_after_the_other(tmp_path):
    doc, _ = with_block((0.25, 0.0))
    middle = doc.blocks.new("M")
    middle.add_blockref("H", (1.0, 0.0), dxfattribs={"rotation": 90})
    insert(doc, (2.0, 0.5), "M", rotation=90)
    assert centres_of(read_one(doc, tmp_path)) == [pytest.approx((1.75, 1.5))]


@pytest.mark.parametrize("attributes", [{"extrusion": DOWN}, {"extrusion": DOWN, "rotation": 30}])
def test_an_insert_seen_from_below_is_mirrored(tmp_path, attributes):
    doc, _ = with_block((0.5, 0.0))
    insert(doc, (-2.0, 1.0), **attributes)
    turn = math.radians(attributes.get("rotation", 0))
    centre = (2 - 0.5 * math.cos(turn), 1 + 0.5 * math.sin(turn))
    assert centres_of(read_one(doc, tmp_path)) == [pytest.approx(centre, abs=1e-6)]


# arrays -----------------------------------------------------------------------------------------


def test_an_array_is_counted_out(tmp_path):
    doc, _ = with_block()
    insert(doc, (0.5, 0.5), row_count=2, column_count=5, row_spacing=1.0, column_spacing=0.75)
    wanted = [(0.5 + 0.75 * i, 0.5 + j) for i in range(5) for j in range(2)]
    assert centres_of(read_one(doc, tmp_path)) == wanted


def test_an_array_turns_with_its_insert_and_its_spacing_is_not_scaled(tmp_path):
    doc, _ = with_block()
    insert(
        doc,
        (2.0, 0.3),
        rotation=90,
        xscale=2,
        yscale=2,
        column_count=3,
        column_spacing=0.5,
        row_count=2,
        row_spacing=0.25,
    )
    part = read_one(doc, tmp_path)
    wanted = [(x, y) for x in (1.75, 2.0) for y in (0.3, 0.8, 1.3)]
    assert centres_of(part) == [pytest.approx(at) for at in wanted]
    assert diameters_of(part) == {2 * NUMBER_40: 6}


def test_an_array_seen_from_below_runs_to_the_left(tmp_path):
    doc, _ = with_block()
    insert(doc, (-3.0, 1.0), extrusion=DOWN, column_count=3, column_spacing=0.5)
    assert centres_of(read_one(doc, tmp_path)) == [(2.0, 1.0), (2.5, 1.0), (3.0, 1.0)]


def test_an_array_without_spacing_stands_on_one_spot_and_is_told(tmp_path):
    doc, _ = with_block()
    insert(doc, (2.0, 1.0), column_count=3)
    part = read_one(doc, tmp_path)
    assert len(part.holes) == 1
    notice = notice_of(part, "block.no-spacing")
    assert ("'H'" in notice.text, notice.x, notice.y) == (True, 2.0, 1.0)


# layers, unequal scale, leftovers ----------------------------------------------------------------


def test_layer_0_of_a_block_is_the_layer_of_its_insert(tmp_path):
    doc, block = with_block()
    draw_circles(block, [(0.5, 0.0)], 0.25, "KEPT")
    insert(doc, (2.0, 1.0), layer="LIGHTENING")
    part = read_one(doc, tmp_path)
    assert [(hole.layer, hole.diameter) for hole in part.holes] == [("KEPT", 0.25)]
    assert [cutout.layer for cutout in part.cutouts] == ["LIGHTENING"]


def test_one_block_inserted_on_two_layers_stands_on_both(tmp_path):
    doc, _ = with_block()
    for i, layer in enumerate(["A", "B", "A"]):
        insert(doc, (1.0 + i, 1.0), layer=layer)
    part = read_one(doc, tmp_path)
    assert {hole.x: hole.layer for hole in part.holes} == {1.0: "A", 2.0: "B", 3.0: "A"}


def test_layer_0_of_a_block_is_shown_where_its_insert_is(tmp_path):
    doc, _ = with_block()
    draw_polygon(doc.modelspace(), PLATE, "VISIBLE")
    doc.layers.get("0").off()
    insert(doc, (2.0, 1.0), layer="VISIBLE")
    assert len(read_one(doc, tmp_path).holes) == 1


def test_an_insert_on_a_hidden_layer_is_left_out(tmp_path):
    doc, _ = with_block()
    doc.layers.add("SPARE").freeze()
    insert(doc, (2.0, 1.0), layer="SPARE")
    draw_circles(doc.modelspace(), [(1, 1)])
    part = read_one(doc, tmp_path)
    assert (len(part.holes), codes_of(part)) == (1, {"layer.hidden"})


def test_unequal_scales_make_ellipses_of_circles_and_are_told(tmp_path):
    doc, _ = with_block()
    insert(doc, (2.0, 1.0), xscale=1, yscale=2)
    draw_circles(doc.modelspace(), [(1, 1)])
    part = read_one(doc, tmp_path)
    assert centres_of(part) == [(1.0, 1.0)]
    assert [c.area for c in part.cutouts] == pytest.approx([2 * math.pi * RADIUS**2], rel=0.01)
    notice = notice_of(part, "block.stretched")
    assert (notice.x, notice.y) == (2.0, 1.0)


def test_unequal_scales_that_undo_each_other_leave_circles(tmp_path):
    doc, _ = with_block()
    middle = doc.blocks.new("M")
    middle.add_blockref("H", (0, 0), dxfattribs={"xscale": 2, "yscale": 1})
    insert(doc, (2.0, 1.0), "M", xscale=1, yscale=2)
    part = read_one(doc, tmp_path)
    assert centres_of(part, 4) == [(2.0, 1.0)]
    assert diameters_of(part, 3) == {round(2 * NUMBER_40, 3): 1}


def test_lines_of_no_length_in_a_block_put_nothing_out_of_step(tmp_path):
    doc, block = with_block()
    block.add_line((0, 0), (0, 0))
    block.add_arc((0, 0), 0.2, 30, 30)
    block.add_line((0.2, 0), (0.3, 0), dxfattribs={"layer": "BEND"})
    insert(doc, (2.0, 1.0), layer="HOLES", rotation=45)
    part = read_one(doc, tmp_path)
    assert (len(part.holes), len(part.bends)) == (1, 1)
    assert codes_of(part) == {"line.empty"}


def test_a_block_that_is_not_there_is_told(tmp_path):
    doc = plate_drawing()
    insert(doc, (2.0, 1.0), "SCREW")
    part = read_one(doc, tmp_path)
    assert len(part.holes) == 5
    assert "block 'SCREW' is not in this file" in notice_of(part, "block.missing").text


def test_what_is_left_out_of_a_block_is_told_with_its_name(tmp_path):
    doc, block = with_block()
    block.add_circle((0, 0), 1.0, dxfattribs={"extrusion": TILTED})
    insert(doc, (2.0, 1.0))
    notice = notice_of(read_one(doc, tmp_path), "entity.not-flat")
    assert "in block 'H'" in notice.text
    assert (notice.x, notice.y) == (None, None)


def test_a_bad_radius_in_a_block_is_refused_with_its_name(tmp_path):
    doc, block = with_block()
    block.add_circle((0.25, 0), -1)
    insert(doc, (2.0, 1.0))
    message = refusal(doc, tmp_path)
    assert "layer 0, block 'H', circle at (0.25, 0) drawing units: radius is -1" in message


def test_a_tilted_insert_is_left_out_and_told(tmp_path):
    doc, _ = with_block()
    insert(doc, (2.0, 1.0), extrusion=TILTED)
    draw_circles(doc.modelspace(), [(1, 1)])
    part = read_one(doc, tmp_path)
    assert len(part.holes) == 1
    assert "INSERT of block 'H' is tilted" in notice_of(part, "entity.not-flat").text


def test_a_block_nobody_inserts_is_not_read(tmp_path):
    doc, block = with_block()
    block.add_circle((0, 0), -5)
    draw_circles(doc.modelspace(), [(1, 1)])
    assert read_one(doc, tmp_path).notices == ()


# limits -----------------------------------------------------------------------------------------


def test_a_block_that_inserts_itself_is_refused(tmp_path):
    doc, block = with_block()
    block.add_blockref("H", (1, 1))
    insert(doc, (2.0, 1.0))
    assert "block 'H' inserts itself (H → H). Remove the insert" in refusal(doc, tmp_path)


def test_blocks_that_insert_each_other_are_refused_in_any_case_of_their_names(tmp_path):
    doc, block = with_block()
    block.add_blockref("other", (1, 1))
    doc.blocks.new("Other").add_blockref("h", (0, 0))
    insert(doc, (2.0, 1.0))
    assert "block 'h' inserts itself (H → other → h)" in refusal(doc, tmp_path)


def nested(doc, depth, copies=1):
    inner = "H"
    for level in range(depth):
        block = doc.blocks.new(f"N{level}")
        for i in range(copies):
            block.add_blockref(inner, (0.01 * i, 0.0))
        inner = f"N{level}"
    insert(doc, (2.0, 1.0), inner)


def test_blocks_may_nest_sixteen_deep(tmp_path):
    doc, _ = with_block()
    nested(doc, 15)
    assert centres_of(read_one(doc, tmp_path)) == [(2.0, 1.0)]


def test_deeper_nesting_is_refused(tmp_path):
    doc, _ = with_block()
    nested(doc, 16)
    assert "blocks are nested deeper than 16 (N15 → N14" in refusal(doc, tmp_path)


@pytest.mark.parametrize(("depth", "copies"), [(15, 4), (10, 8), (7, 100)])
def test_copies_of_copies_end_in_a_clear_error(tmp_path, depth, copies):
    doc, _ = with_block()
    nested(doc, depth, copies)
    assert "a drawing may have 2,000,000" in refusal(doc, tmp_path)


def test_thirty_doublings_end_in_a_clear_error(tmp_path):
    doc, _ = with_block()
    nested(doc, 30, 2)
    assert "nested deeper than 16" in refusal(doc, tmp_path)


@pytest.mark.parametrize(("rows", "columns"), [(10**9, 1), (1, 10**9), (32_000, 32_000)])
def test_an_array_of_a_billion_copies_is_refused(tmp_path, rows, columns):
    doc, _ = with_block()
    insert(doc, (0, 0), row_count=rows, column_count=columns, row_spacing=1.0, column_spacing=1.0)
    message = refusal(doc, tmp_path)
    assert f"block 'H' is inserted {rows:,} × {columns:,} times" in message
    assert "a drawing may have 100,000 copies" in message


def test_too_many_circles_in_unequally_scaled_blocks_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(limits, "MOST_STRETCHED", 3)
    doc, _ = with_block()
    for i in range(4):
        insert(doc, (2.0, 1.0), xscale=1.0, yscale=1.1 + i / 100)
    message = refusal(doc, tmp_path)
    assert "more than 3 circles and arcs in blocks that are scaled unequally" in message
    assert message.endswith("Explode the blocks.")


def test_an_array_of_nothing_is_nothing(tmp_path):
    doc, _ = with_block()
    doc.blocks.new("EMPTY")
    insert(doc, (0, 0), "EMPTY", row_count=10**9, row_spacing=1.0)
    insert(doc, (2.0, 1.0))
    assert len(read_one(doc, tmp_path).holes) == 1
