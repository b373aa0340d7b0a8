"""The demo drawings through the reader: what `expected.csv` says is what is read."""

from __future__ import annotations

import csv
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from holeschedule.holes.part import Part
from holeschedule.holes.parts import read_parts

FOLDER = Path(__file__).parents[2] / "sample_dxf"


def expected() -> dict[str, dict[str, str]]:
    with (FOLDER / "expected.csv").open(encoding="utf-8", newline="") as file:
        return {row["part"]: row for row in csv.DictReader(file)}


EXPECTED = expected()


@cache
def parts_of(drawing: str) -> tuple[Part, ...]:
    return read_parts(FOLDER / drawing)


def read(part: str) -> Part:
    """A part by its number; two on one sheet stand left and right in that order."""
    drawing = EXPECTED[part]["drawing"]
    same = [number for number, row in EXPECTED.items() if row["drawing"] == drawing]
    return parts_of(drawing)[same.index(part)]


@pytest.mark.parametrize("drawing", sorted({row["drawing"] for row in EXPECTED.values()}))
def test_a_sheet_shows_as_many_parts_as_expected(drawing):
    wanted = [row for row in EXPECTED.values() if row["drawing"] == drawing]
    assert len(parts_of(drawing)) == len(wanted)


@pytest.mark.parametrize("number", EXPECTED)
def test_a_part_is_read_as_expected(number):
    row, part = EXPECTED[number], read(number)
    sizes = Counter(round(hole.diameter, 4) for hole in part.holes)
    assert len(part.holes) == int(row["holes"])
    listed = "; ".join(f"{diameter:.4f}: {count}" for diameter, count in sorted(sizes.items()))
    assert listed == row["holes_by_diameter_in"]
    assert part.unit.symbol == row["unit"]
    assert sum(hole.mark_diameter is not None for hole in part.holes) == int(row["marks"])
    assert len(part.cutouts) == int(row["cutouts"])
    assert len(part.bends) == int(row["bend_lines"])
    assert len(part.trim) == int(row["trim_lines"])
    assert part.in_metal.all()


@pytest.mark.parametrize("number", EXPECTED)
def test_every_hole_of_a_part_has_a_label_of_its_own(number):
    part = read(number)
    assert len({hole.label for hole in part.holes}) == len(part.holes)


def test_the_planted_missing_hole_is_noticed_where_it_was_planted():
    (notice,) = [n for n in read("FL-104").notices if n.code == "row.missing-hole"]
    assert (notice.x, notice.y) == pytest.approx((5.121571, 0.3125), abs=1e-5)


@pytest.mark.parametrize("number", [number for number in EXPECTED if number != "FL-104"])
def test_no_other_part_misses_a_hole(number):
    assert [n for n in read(number).notices if n.code == "row.missing-hole"] == []


def test_the_doubled_line_and_hole_of_the_stringer_are_told():
    codes = {notice.code for notice in read("FL-106").notices}
    assert {"line.doubled", "hole.doubled"} <= codes


def test_the_frame_of_the_bulkhead_is_told():
    notices = {notice.code: notice for notice in read("FL-103").notices}
    assert notices["loop.frame"].layer == "FRAME"
    assert notices["layer.ignored"].text.endswith("lines and curves of an ignored layer")


def test_no_sheet_needs_repair():
    codes = {n.code for number in EXPECTED for n in read(number).notices}
    assert not codes & {"file.damaged", "file.repaired", "gap.joined", "gap.left", "hole.outside"}
