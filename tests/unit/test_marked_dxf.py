"""The marked drawing: other programs open it, and it is the part."""

import io
from collections import Counter
from dataclasses import replace

import ezdxf
import klayout.db as kdb
import numpy as np
import pytest

from holeschedule.holes.parts import read_parts
from holeschedule.views.marked_dxf import layer_of, marked_dxf
from holeschedule.views.marks import Mark
from tests.pictures import PARTS, demo_view

DRAWN = [name for name in PARTS if name != "FL-111"]
"""Parts of more than one hole: a lone pilot tells no unit by itself."""


def opened(view):
    return ezdxf.read(io.StringIO(marked_dxf(view).decode("utf-8")))


@pytest.fixture
def reread(tmp_path):
    def read(view, name="marked.dxf"):
        (tmp_path / name).write_bytes(marked_dxf(view))
        (part,) = read_parts(tmp_path / name)
        return part

    return read


@pytest.mark.parametrize("name", PARTS)
def test_the_audit_of_ezdxf_finds_nothing_to_mend(name):
    audit = opened(demo_view(name)).audit()
    assert (audit.errors, audit.fixes) == ([], [])


@pytest.mark.parametrize("name", ["FL-101", "FL-105"])
def test_klayout_reads_every_hole_and_one_closed_outline_of_the_same_area(name, tmp_path):
    view = demo_view(name)
    path = tmp_path / "marked.dxf"
    path.write_bytes(marked_dxf(view))
    layout = kdb.Layout()
    options = kdb.LoadLayoutOptions()
    options.dxf_circle_points = 64
    layout.read(str(path), options)
    shapes = {
        layout.get_info(index).name: layout.top_cell().shapes(index)
        for index in layout.layer_indexes()
    }
    for mark, count in Counter(view.marks).items():
        assert shapes[layer_of(mark)].size() == count
    (outline,) = shapes["OUTLINE"].each()
    drawn = float(view.part.unit.from_inches(1.0))
    area = outline.area() * layout.dbu**2 / drawn**2
    assert area == pytest.approx(view.part.outline.area, rel=1e-3)


@pytest.mark.parametrize("name", DRAWN)
def test_read_again_it_is_the_same_part(name, reread):
    view = demo_view(name)
    part, again = view.part, reread(view)
    assert again.unit == part.unit
    assert [row.letter for row in again.rows] == [row.letter for row in part.rows]
    own = {hole.label: (hole.x, hole.y, hole.diameter) for hole in part.holes}
    assert {hole.label for hole in again.holes} == set(own)
    for hole in again.holes:
        assert (hole.x, hole.y, hole.diameter) == pytest.approx(own[hole.label], abs=1e-6)
    assert again.outline.area == pytest.approx(part.outline.area)
    assert sorted(c.area for c in again.cutouts) == pytest.approx(
        sorted(c.area for c in part.cutouts)
    )
    assert (len(again.bends), len(again.trim)) == (len(part.bends), len(part.trim))


def test_turned_over_it_is_the_mirror_image(reread):
    view = replace(demo_view("FL-104"), is_flipped=True)
    again = reread(view)
    own = np.array([(-hole.x, hole.y) for hole in view.part.holes])
    found = np.array([(hole.x, hole.y) for hole in again.holes])
    apart = np.abs(own[:, None] - found[None]).max(axis=2).min(axis=1)
    assert apart.max() < 1e-9
    assert again.outline.area == pytest.approx(view.part.outline.area)


def test_each_state_has_a_layer_and_every_hole_a_label():
    view = demo_view("FL-110")
    marks = tuple(Mark.RIVETED if i % 2 else Mark.DEBURRED for i in range(20))
    space = opened(replace(view, marks=marks)).modelspace()
    layers = Counter(circle.dxf.layer for circle in space.query("CIRCLE"))
    assert layers["HOLES-RIVETED"] == layers["HOLES-DEBURRED"] == 10
    labels = {text.dxf.text for text in space.query('TEXT[layer=="LABELS"]')}
    assert {hole.label for hole in view.part.holes} <= labels


def test_layers_have_names_that_every_program_takes():
    for mark in Mark:
        assert layer_of(mark).replace("-", "").isalnum()
        assert layer_of(mark).isupper()
    assert len({layer_of(mark) for mark in Mark}) == len(Mark)


def test_findings_are_told_where_they_are():
    view = demo_view("FL-101")
    (text,) = opened(view).modelspace().query('TEXT[layer=="FINDINGS"]')
    assert text.dxf.text == "A21  SHORT: edge distance 0.1594 in, at least 0.1875 in"
    hole = next(hole for hole in view.part.holes if hole.label == "A21")
    assert abs(text.dxf.insert.x - hole.x) < 0.1
    assert abs(text.dxf.insert.y - hole.y) < 0.4


def test_the_caution_stands_on_it_and_a_name_holds_no_codes():
    view = demo_view("FL-110")
    block = replace(view.block, name="%%c\nEVIL")
    said = [t.dxf.text for t in opened(replace(view, block=block)).modelspace().query("TEXT")]
    assert any("measure the part before you drill it" in text for text in said)
    assert not any("%%" in text or "\n" in text for text in said)
