"""Holes that match-drilling will make: entered by `join`, met by a revised drawing, taken back."""

import json
import re
from pathlib import Path

import jsonschema
import pytest

from tests.cli.builds import HIGH, LOW

SCHEMA = json.loads(
    (Path(__file__).parents[2] / "docs" / "audit.schema.json").read_text(encoding="utf-8")
)
BY = ("--by", "RIB:A1=A1,A5=A5", "--no-flip", "RIB")


def entered(ran):
    return re.search(r"(\d+) holes? to be match-drilled entered", ran.words)


@pytest.fixture
def bay(shop):
    """A skin with rows A and B, and a rib whose row B the drill is to make."""
    shop.bring("skin.dxf", "--thickness", "0.032")
    shop.bring("rib.dxf", "--thickness", "0.032", holes=LOW)
    ran = shop("join", "J1", "SKIN", "RIB", *BY)
    assert (ran.status, entered(ran)[1]) == (0, "5")
    return shop


def test_a_planned_hole_is_worked_on_under_the_label_it_was_given(bay):
    assert "RIB:B: 5 holes match-drilled" in bay("mark", "J1:6-10", "match-drill").out
    assert "RIB:B: 5 holes deburred" in bay("mark", "RIB:B", "deburr").out


def test_planned_holes_are_told_in_the_audit_of_their_part_and_before_that_without_a_label(bay):
    ran = bay("audit", "RIB")
    assert ran.status == 0
    assert re.search(r"RIB:B1 +J1:6 +0\.500 in +0\.188 in +outline +B2 +0\.700 in +ok", ran.out)
    bay("mark", "J1:6", "match-drill")
    assert "RIB:B1" in bay("audit", "RIB").out
    bay("undo")
    bay("undo")
    assert "RIB: not entered" in bay("audit", "RIB").out
    assert "match-drilled" not in bay("audit", "SKIN").out


def test_a_planned_hole_that_comes_out_short_fails_the_audit_of_its_part(shop):
    shop.bring("skin.dxf", "--thickness", "0.032")
    corners = [(0, 0), (4, 0), (4, 1.6), (0, 1.6)]
    shop.bring("rib.dxf", "--thickness", "0.032", holes=LOW, corners=corners)
    shop("join", "J1", "SKIN", "RIB", *BY)
    ran = shop("audit", "RIB")
    assert ran.status == 1
    assert "SHORT J1:6 in RIB: edge distance 0.1000 in (1.07 D) to the outline" in ran.words
    both = shop("audit", "SKIN", "RIB")
    assert "no rule missed. Match-drilling makes 5 more holes in them; 5 miss a rule." in both.words
    # where the joint is told as well, its findings are told with it, once
    assert shop("audit").out.count("SHORT J1:6 in RIB") == 1
    read = json.loads(shop("audit", "RIB", "--json").out)
    jsonschema.validate(read, SCHEMA)
    (first, *_) = read["match_drilled"]
    assert (first["hole"], first["place"], first["verdict"]) == ("B1", "J1:6", "short")
    assert first["edge_distance"] == pytest.approx(0.1)


def test_a_revised_drawing_that_shows_planned_holes_keeps_their_labels(bay):
    bay("mark", "RIB:B1", "match-drill")
    ran = bay.bring("rib.dxf", holes=[*LOW, *HIGH[:3]])
    assert ran.status == 0
    assert "RIB r2: 5 kept, 0 moved, 3 resized, 0 new, 0 retired" in ran.out
    assert "drawn now, to be match-drilled before: B1-B3" in ran.out
    assert "RIB:B1 match-drill" in bay("history", "RIB:B1").out
    # what is drawn at final size is not to be drilled any more; B4 and B5 still are
    assert "RIB 0/2" in bay("status").words
    ran = bay("join")
    assert (ran.status, entered(ran)) == (0, None)
    assert "Recorded" not in ran.out
    assert bay("verify").status == 0


def test_a_planned_hole_that_was_drilled_and_is_drawn_elsewhere_is_a_finding(bay):
    bay("mark", "RIB:B1-B2", "match-drill")
    (x, y), *others = HIGH
    ran = bay.bring("rib.dxf", holes=[*LOW, (x + 0.02, y), *others])
    assert ran.status == 1
    assert "moved: B1 0.020 in" in ran.words
    assert ran.out.count("FINDING") == 1
    assert "RIB:B1 is match-drilled already and moved by the revision" in ran.words


def test_import_as_an_object_lists_the_planned_holes_that_are_drawn_now(bay):
    ran = bay.bring("rib.dxf", "--json", holes=[*LOW, HIGH[0]])
    (part,) = json.loads(ran.out)["parts"]
    assert part["drawn_now"] == ["B1"]
    assert {hole["hole"]: hole["change"] for hole in part["holes"]}["B1"] == "resized"


def test_entering_planned_holes_makes_no_revision(bay):
    bay("undo")
    bay("join")
    assert "RIB r2" in bay.bring("rib.dxf", holes=[*LOW, (3.0, 1.0)]).out
    assert (bay.build / "drawings" / "RIB-r2.dxf").exists()


def test_undoing_a_revision_makes_its_holes_planned_again(bay):
    bay.bring("rib.dxf", holes=[*LOW, *HIGH])
    assert "match-drill" not in bay("status").out
    assert bay("undo").status == 0
    assert "RIB 0/5" in bay("status").words
    assert "RIB:B: 5 holes match-drilled" in bay("mark", "J1:6-10", "match-drill").out
    assert "5 resized" in bay.bring("rib.dxf", holes=[*LOW, *HIGH]).out
    assert bay("verify").status == 0


def test_undoing_join_takes_the_planned_holes_out_and_join_enters_them_again(bay):
    before = bay("status").out
    assert bay("undo").status == 0
    assert 'drawing = "RIB-r1.dxf"' in bay.toml()
    ran = bay("status")
    assert "2 parts, 2 pieces, 15 holes" in ran.out
    assert "5 holes that match-drilling will make in RIB: not entered yet, run `join`" in ran.words
    assert "RIB has no row B" in bay("mark", "RIB:B1", "match-drill").complaint_only()
    assert bay("mark", "J1:1", "deburr").status == 0
    assert bay("verify").status == 0
    assert entered(bay("join"))[1] == "5"
    assert bay("status").out.split("days")[0].splitlines()[0] == before.splitlines()[0]
    assert "RIB:B: 5 holes match-drilled" in bay("mark", "J1:6-10", "match-drill").out


@pytest.mark.parametrize("what", ["mark", "import"])
def test_join_is_not_taken_back_while_later_work_builds_on_it(bay, what):
    if what == "mark":
        bay("mark", "RIB:B1", "match-drill")
    else:
        bay.bring("rib.dxf", holes=[*LOW, *HIGH])
    assert "entry 3 cannot be taken back: entry 4" in bay("undo", 3).complaint_only()
    assert bay("undo").status == bay("undo").status == 0
    assert "15 holes" in bay("status").out
    assert bay("verify").status == 0


def test_planned_holes_stay_what_they_are_when_the_zero_of_the_drawing_moves(bay):
    corners = [(1.0, 0.25), (5.0, 0.25), (5.0, 2.25), (1.0, 2.25)]
    moved = [(x + 1.0, y + 0.25) for x, y in LOW]
    bay("mark", "RIB:B1", "match-drill")
    assert "is taken as shifted" in bay.bring("rib.dxf", corners=corners, holes=moved).words
    ran = bay("join")
    assert (ran.status, entered(ran)) == (0, None)
    assert "Recorded" not in ran.out
    assert "RIB 1/5" in bay("status").words
