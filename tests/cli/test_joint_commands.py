"""`join` and `fit`, marking at places, and what becomes of joints when a build changes."""

import json
import re

import pytest

from holeschedule.build.folder import BuildFolder
from holeschedule.work.opened import open_folder
from tests.cli.builds import HIGH, LOW, PILOT
from tests.makers import PLATE
from tests.workbooks import tick

MM = 25.4
CAP = ("--by", "CAP:B1=A1,B5=A5", "--no-flip", "CAP")
J1 = ("join", "J1", "SKIN", "CAP", *CAP)


def metric(points):
    return [(x * MM, y * MM) for x, y in points]


@pytest.fixture
def bay(shop):
    """A skin with rows A and B, and a cap with pilots for row B alone."""
    shop.bring("skin.dxf", "--thickness", "0.032")
    shop.bring("cap.dxf", "--thickness", "0.025", holes=HIGH, diameter=PILOT)
    return shop


@pytest.fixture
def joined(bay):
    """The same, joined: places 1 to 5 are to be match-drilled in the cap."""
    assert bay(*J1).status == 0
    return bay


@pytest.fixture
def layered(shop):
    """A skin, a metric strip along its row A, and a cap over both rows: all at final size."""
    shop.bring("skin.dxf", "--thickness", "0.032")
    strip = {"corners": metric([(0, 0), (4, 0), (4, 0.8), (0, 0.8)]), "holes": metric(LOW)}
    shop.bring("mid.dxf", "--thickness", "0.8 mm", unit=4, diameter=2.5, **strip)
    shop.bring("cap.dxf", "--thickness", "0.025")
    shifts = ("--shift", "MID=0 in,0 in", "--shift", "CAP=0 in,0 in")
    assert shop("join", "J1", "SKIN", "MID", "CAP", *shifts).status == 0
    return shop


def edited(shop, old, new):
    text = shop.toml()
    assert old in text
    (shop.build / "build.toml").write_text(text.replace(old, new), encoding="utf-8")


def entries(shop):
    return json.loads(shop("history", "--json").out)["entries"]


def offered(shop):
    """What next offers: operation and selections."""
    work = json.loads(shop("next", "--json").out)
    return {(group["operation"], *group["selections"]) for group in work["ready"]}


def blocked(shop):
    work = json.loads(shop("next", "--json").out)
    return {(g["reason"], g["unblock"], *g["selections"]) for g in work["blocked"]}


# Defined ---------------------------------------------------------------------------------------


def test_join_tells_the_joint_and_writes_it_into_build_toml(bay):
    ran = bay(*J1, "--title", "cap strip")
    assert (ran.status, ran.err) == (0, "")
    assert "J1 cap strip: 10 places, 3/32 rivets, protruding heads" in ran.out
    assert "1-5 5 places: SKIN + CAP (match-drilled); grip 0.057 in; MS20470AD3-3" in ran.words
    assert "Recorded as entry 3: 5 holes to be match-drilled entered." in ran.out
    assert max(map(len, ran.out.splitlines())) <= 100
    assert bay.toml().endswith(
        '[[joint]]\nid = "J1"\ntitle = "cap strip"\n\n[[joint.layer]]\npart = "SKIN"\n\n'
        '[[joint.layer]]\npart = "CAP"\nby = "B1=A1, B5=A5"\nflip = false\n'
    )


def test_a_dry_run_says_the_same_and_changes_nothing(bay):
    text = bay.toml()
    dry = bay(*J1, "--dry-run")
    assert (bay.toml(), len(entries(bay))) == (text, 2)
    told = bay(*J1).out
    assert dry.out.splitlines()[:9] == told.splitlines()[:9]
    assert "Recorded" not in dry.out


def test_how_a_part_lies_is_found_out_where_its_holes_tell(shop):
    odd = [(0.5, 0.5), (1.3, 0.5), (2.5, 0.7), (3.4, 1.5)]
    shop.bring("skin.dxf", "--thickness", "0.032", holes=odd)
    turned = [(2.0 - y, x) for x, y in odd]
    corners = [(2.0 - y, x) for x, y in PLATE]
    shop.bring("cap.dxf", "--thickness", "0.032", corners=corners, holes=turned)
    ran = shop("join", "j1", "skin", "cap")
    assert ran.status == 0
    assert "turned 270.0°" in ran.out
    assert 'part = "CAP"\nby = "' in shop.toml()
    assert "flip = false" in shop.toml()
    again = shop("audit", "J1")
    assert "0.0000 in  turned 270.0°" in again.out


def test_an_ambiguous_fit_is_refused_with_the_choices_and_any_of_them_settles_it(bay):
    said = bay("join", "J1", "SKIN:B", "CAP").complaint_only()
    assert "J1: CAP fits SKIN in 4 ways, each with 5 holes: (B1=A1,B5=A5) or (B1=A5,B5=A1)" in said
    assert said.endswith("Say which, as in --by CAP:B1=A1,B5=A5 --no-flip CAP.")
    assert bay("join", "J1", "SKIN:B", "CAP", "--by", "CAP:B1=A5,B5=A1", "--flip", "CAP").out


def test_a_blank_part_with_one_pilot_is_placed_by_it_and_its_turn(shop):
    shop.bring("skin.dxf", "--thickness", "0.032", holes=LOW)
    leaf = [(0, 0), (2, 0), (2, 0.5), (0, 0.5)]
    shop.bring("leaf.dxf", "--thickness", "0.04", corners=leaf, holes=[(1, 0.25)], diameter=PILOT)
    by = ("--by", "LEAF:A3=X1", "--turn", "LEAF=0", "--no-flip", "LEAF")
    ran = shop("join", "J1", "SKIN:A2-A4", "LEAF", *by)
    assert ran.status == 0
    assert "1,3 2 places: SKIN + LEAF (match-drilled)" in ran.words
    assert "2 holes to be match-drilled entered" in ran.out
    assert offered(shop) >= {("match-drill", "J1:1-3")}
    assert shop("mark", "J1", "match-drill").out.startswith("LEAF: 3 holes match-drilled")


def test_a_blank_part_without_a_hole_for_the_joint_is_placed_by_its_drawing(shop):
    shop.bring("skin.dxf", "--thickness", "0.032", holes=LOW)
    shop.bring("leaf.dxf", "--thickness", "0.04", "--rivet", "none", holes=[(3.8, 1.8)])
    said = shop("join", "J1", "SKIN", "LEAF").complaint_only()
    assert 'J1: LEAF has no hole to be placed by; say --shift "LEAF=X,Y"' in said
    ran = shop("join", "J1", "SKIN", "LEAF", "--shift", "LEAF=0,-0.2")
    assert "1-5 5 places: SKIN + LEAF (match-drilled)" in ran.words
    assert 'shift = "0,-0.2"' in shop.toml()


def test_copies_lie_in_one_joint_and_each_has_its_own_record(shop):
    shop.bring("skin.dxf", "--thickness", "0.032")
    shop.bring("rib.dxf", "--thickness", "0.032", "--quantity", 2, holes=LOW)
    said = shop("join", "J1", "SKIN", "RIB").complaint_only()
    assert "there are 2 of RIB; say which one lies here: RIB#1" in said
    by = ("--by", "RIB#2:A1=A1,A5=A5", "--no-flip", "RIB#2")
    assert shop("join", "J1", "SKIN:A", "RIB#2", *by).status == 0
    shop("mark", "SKIN", "RIB", "deburr")
    assert "SKIN:A RIB#2: 10 holes riveted" in shop("mark", "J1", "rivet").out
    assert "RIB#1" in shop("next").out


def test_a_mirrored_part_lies_on_the_one_it_mirrors_without_a_flip(shop):
    slope = [(0.5, 0.5), (1.5, 0.6), (2.5, 0.9), (3.5, 1.5)]
    shop.bring("l.dxf", "--thickness", "0.032", holes=slope)
    ran = shop("import", shop.sheets / "l.dxf", "--part", "R", "--mirror", "--thickness", "0.032")
    assert ran.status == 0
    ran = shop("join", "J1", "L", "R")
    assert "4 places: L + R" in ran.words
    assert "flipped" not in ran.out


def test_a_tapered_part_gives_each_place_its_own_grip(shop):
    shop.bring("skin.dxf", "--thickness", "0.032", holes=LOW)
    shop.bring("core.dxf", "--taper", "A1=0.20,A5=0.05", holes=LOW)
    ran = shop("join", "J1", "SKIN", "CORE", "--shift", "CORE=0,0")
    assert "tapered" in ran.out
    assert "MS20470AD3-6" in ran.out
    assert "MS20470AD3-4" in ran.out


def test_a_part_trimmed_already_ends_at_its_trim_line(shop):
    shop.bring("skin.dxf", "--thickness", "0.032")
    cap = shop.sheets / "cap.dxf"
    shop.bring("cap.dxf", "--thickness", "0.032", holes=LOW)
    import ezdxf

    doc = ezdxf.readfile(cap)
    doc.layers.add("TRIM")
    doc.modelspace().add_line((-0.1, 1.2), (4.1, 1.2), dxfattribs={"layer": "TRIM"})
    doc.saveas(cap)
    assert "kept" in shop("import", cap).out
    by = ("--by", "CAP:A1=A1,A5=A5", "--no-flip", "CAP")
    assert "CAP (match-drilled)" in shop("join", "J1", "SKIN", "CAP", *by, "--dry-run").out
    ran = shop("join", "J1", "SKIN:A", "CAP", *by, "--trimmed", "CAP")
    assert ran.status == 0
    assert "match-drilled" not in ran.out


def test_inch_and_metric_parts_are_joined_and_told_in_the_unit_of_the_build(layered):
    ran = layered("audit", "J1")
    assert "1-5 5 places: SKIN + MID + CAP; grip 0.088 in; MS20470AD3-4" in ran.words
    assert "6-10 5 places: SKIN + CAP; grip 0.057 in; MS20470AD3-3" in ran.words
    edited(layered, 'units = "in"', 'units = "mm"')
    edited(layered, "thickness = 0.032", 'thickness = "0.032 in"')
    edited(layered, "thickness = 0.025", 'thickness = "0.025 in"')
    ran = layered("audit", "J1")
    assert "grip 2.25 mm" in ran.words
    assert layered("join").status == 0


# Refused ---------------------------------------------------------------------------------------

REFUSALS = [
    (["J1"], "J1: a joint has a name and two layers or more; name them, manufactured head first"),
    (["J1", "SKIN"], "J1: a joint has a name and two layers or more"),
    (["K1", "SKIN", "CAP"], "id is 'K1'; a joint is called J1, J2, J3"),
    (["J1", "SKIN", "NOPE"], "there is no part 'NOPE'; choose from CAP, SKIN"),
    (["J1", "SKIN:K", "CAP", *CAP], "J1: SKIN has no holes K; it has A1-A5, B1-B5."),
    (["J1", "SKIN", "SKIN"], "SKIN is two layers of it; one piece lies there once"),
    (["J1", "SKIN#2", "CAP"], "part is 'SKIN#2'; SKIN has copies 1 to 1"),
    (["J1", "SKIN", "CAP", "--by", "CAP:A1"], "'A1' is no pair of holes; write them as A1=C1"),
    (["J1", "SKIN", "CAP", "--by", "A1=A1"], "--by 'A1=A1': write LAYER:..."),
    (["J1", "SKIN", "CAP", "--by", "Rib:A1=B1"], "J1: Rib is none of its layers; they are SKIN"),
    (["J1", "SKIN", "CAP", "--by", "CAP:B1=A9"], "J1: by names CAP:A9, which is not there"),
    (["J1", "SKIN", "CAP", "--by", "CAP:B1=A1,B4=A5"], "2.1000 in apart on the base and 2.8000"),
    (["J1", "SKIN", "CAP", *CAP, "--flip", "CAP"], "CAP: flip is said twice; say it once."),
    (["J1", "SKIN", "CAP", *CAP[:2]], "J1: CAP lies as well on its other face, by B1=A1, B5=A5"),
    (["J1", "SKIN", "CAP", *CAP, "--shift", "CAP=0,0"], "CAP has both by and shift"),
    (["J1", "SKIN", "CAP", "--shift", "CAP=1"], "shift is '1'; write two lengths"),
    (["J1", "SKIN", "CAP", *CAP, "--rivet", "3/17"], "rivet: '3/17' is not a rivet size"),
    (["J1", "SKIN", "CAP", *CAP, "--turn", "CAP=up"], "'up' is no number of degrees"),
    (["J1", "SKIN", "CAP", *CAP, "--turn", "CAP=nan"], "turn is nan; it has to be degrees"),
    (["J1", "SKIN", "CAP", *CAP, "--treatment", "CAP=polish"], "choose from countersink, dimple"),
    (["J1", "SKIN", "CAP", *CAP, "--flip", "SKIN"], "place a layer on the first; that has none"),
]


@pytest.mark.parametrize(("words", "said"), REFUSALS, ids=[said for _, said in REFUSALS])
def test_what_cannot_be_a_joint_is_one_line_and_nothing_is_written(bay, words, said):
    text = bay.toml()
    assert said in bay("join", *words).complaint_only()
    assert bay.toml() == text
    assert len(entries(bay)) == 2


def test_a_joint_that_is_there_is_not_written_over(joined):
    text = joined.toml()
    assert (
        "J1: there is such a joint already. Change it in build.toml" in joined(*J1).complaint_only()
    )
    assert joined.toml() == text


def test_a_wedge_that_cannot_be_judged_is_refused_before_anything_is_written(shop):
    shop.bring("core.dxf", "--taper", "A1=0.2,A5=0.1", "--head", "flush", holes=LOW)
    shop.bring("s.dxf", "--head", "flush", holes=LOW)
    text = shop.toml()
    words = ("join", "J1", "S", "CORE", "--head", "flush", "--shift", "CORE=0,0")
    assert "S: its thickness is not stated" in shop(*words).complaint_only()
    assert shop.toml() == text


def test_a_file_that_no_command_can_change_is_left_alone_and_so_is_the_record(bay):
    path = bay.build / "build.toml"
    path.write_text("joint = []\n" + bay.toml(), encoding="utf-8")
    text = bay.toml()
    assert "edit the file by hand" in bay(*J1).complaint_only()
    assert (bay.toml(), len(entries(bay))) == (text, 2)


class Cut(BaseException):
    """The power fails."""


def test_join_completes_what_was_cut_off_between_build_toml_and_the_record(bay, monkeypatch):
    from holeschedule.work import defining

    def cut(*_):
        raise Cut

    with monkeypatch.context() as patch:
        patch.setattr(defining, "enter_joints", cut)
        with pytest.raises(Cut):
            bay(*J1)
    assert '[[joint]]\nid = "J1"' in bay.toml()
    assert len(entries(bay)) == 2
    ran = bay("status")
    assert "5 holes that match-drilling will make in CAP: not entered yet, run `join`" in ran.words
    assert "waits for the hole to come in CAP" in bay("mark", "SKIN:A1", "deburr").complaint_only()
    assert "5 holes to be match-drilled entered" in bay("join").out
    assert bay("verify").status == 0


# Marked at places ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("selection", "names"),
    [
        ("j1:2", "SKIN:A2 MID:A2 CAP:A2: 3 holes"),
        ("J1:4-6", "SKIN:A4-A5,B1 MID:A4-A5 CAP:A4-A5,B1: 8 holes"),
        ("J1:4,9,1", "SKIN:A1,A4,B4 MID:A1,A4 CAP:A1,A4,B4: 8 holes"),
        ("J1", "SKIN MID CAP: 25 holes"),
        ("J1:5,SKIN:A1", "SKIN:A1,A5 MID:A5 CAP:A5: 4 holes"),
    ],
)
def test_places_are_named_by_their_joint(layered, selection, names):
    assert layered("mark", selection, "deburr").out.startswith(f"{names} deburred")


@pytest.mark.parametrize(
    ("selection", "said"),
    [
        ("J1:11", "J1 has no place 11; it has places 1 to 10."),
        ("J1:0", "place 0 is not there; the first is 1"),
        ("J1:3-2", "the range runs backwards, from 3 to 2"),
        ("J1:A3", "'A3' is not a place number or a range of them"),
        ("J1:", "'' is not a place number"),
        ("J2", "there is no joint J2; the joints are J1. Define one: join."),
    ],
)
def test_a_place_that_is_not_there_is_told_with_what_is(layered, selection, said):
    assert said in layered("mark", selection, "deburr").complaint_only()


def test_a_rivet_is_set_in_every_layer_or_in_none(layered):
    layered("mark", "SKIN", "CAP", "deburr")
    said = layered("mark", "SKIN:A1", "rivet").complaint_only()
    assert "SKIN:A1 CAP:A1 wait for MID in the same place" in said
    assert "SKIN:A1" in said
    layered("mark", "MID:A1", "deburr")
    assert layered("mark", "SKIN:A1", "rivet").out.startswith("SKIN:A1 MID:A1 CAP:A1: 3 holes riv")
    assert layered("drill-out", "J1:1").out.startswith("SKIN:A1 MID:A1 CAP:A1: 3 holes drilled out")
    assert "not riveted" in layered("drill-out", "J1:2").complaint_only()


def test_a_rivet_of_a_place_is_measured_on_the_layer_of_its_shop_head(layered):
    layered("mark", "J1", "deburr")
    assert "not riveted" in layered("measure", "J1:3", "shop-head-width", "0.14").err
    layered("mark", "J1:3", "rivet")
    ran = layered("measure", "J1:3", "shop-head-width", "0.14")
    assert "CAP:A3" in ran.out
    assert "SKIN:A3" not in ran.out
    assert "shop head width 0.1400 in" in layered("history", "J1:3").words.replace("-", " ")


def test_a_rejected_place_is_held_and_the_others_are_offered(layered):
    layered("mark", "J1", "deburr")
    layered("reject", "SKIN:A4", "elongated", "--note", "walked")
    assert offered(layered) == {("rivet", "J1:6-10"), ("rivet", "J1:1-3,5")}
    said = layered("mark", "J1:4", "rivet").complaint_only()
    assert "SKIN:A4 is rejected (elongated)" in said
    assert "MID:A4 CAP:A4 wait for SKIN in the same place, which is rejected" in said
    assert layered("mark", "J1", "rivet", "--partly").status == 1
    layered("accept", "J1:4", "--note", "next size up, agreed")
    assert offered(layered) == {("rivet", "J1:4")}


def test_marking_what_next_offers_again_and_again_rivets_every_hole_and_undo_takes_it_all_back(bay):
    assert bay(*J1).status == 0
    marked = 0
    while ready := json.loads(bay("next", "--json").out)["ready"]:
        work = ready[marked % len(ready)]
        ran = bay("mark", work["selections"][-1], work["operation"])
        assert ran.status == 0, ran
        assert bay("verify").status == 0
        marked += 1
    read = json.loads(bay("status", "--json").out)
    done = {(p["part"], o): n for p in read["parts"] for o, n in p["operations"].items()}
    assert done["CAP", "rivet"] == done["SKIN", "rivet"] == {"done": 10, "needed": 10}
    assert all(n["done"] == n["needed"] for n in done.values())
    assert "Nothing can be done now." in bay("next").out
    assert "20 holes finished." in bay("next").out
    for _ in range(marked):
        assert bay("undo").status == 0
    undone = json.loads(bay("status", "--json").out)["parts"]
    assert all(n["done"] == 0 for p in undone for n in p["operations"].values())
    assert bay("verify").status == 0


def test_rejected_holes_are_counted_as_holes_whether_riveted_or_not(layered):
    layered("mark", "J1", "deburr")
    layered("mark", "J1:4", "rivet")
    layered("reject", "J1:4", "cracked")
    layered("reject", "SKIN:A1", "cracked")
    said = layered("next").words
    assert " 3 holes are rejected (cracked): accept with a note" in said
    assert "rivet: 1 hole is rejected (cracked): accept with a note" in said
    assert "rivet: 2 holes wait for SKIN in the same place, which is rejected (cracked)" in said


def test_a_part_is_replaced_only_when_no_rivet_holds_it_to_another(layered):
    layered("mark", "J1", "deburr")
    layered("mark", "J1:1-3,8", "rivet")
    said = layered("replace", "MID", "--note", "bent").complaint_only()
    assert "MID is riveted to SKIN, CAP: first drill-out J1:1-3." in said
    layered("drill-out", "J1:1-3")
    assert layered("replace", "MID", "--note", "bent").status == 0
    assert offered(layered) == {("deburr", "MID"), ("rivet", "J1:6-7,9-10")}


def test_history_tells_of_what_it_is_asked_about_and_nothing_else(layered):
    layered("mark", "J1", "deburr")
    told = layered("history", "J1:2", "MID").words
    assert "SKIN:A2 deburr; MID deburr; CAP:A2 deburr" in told
    assert "MID r1: 5 new" in told
    (entry, *_) = reversed(json.loads(layered("history", "CAP:A3", "--json").out)["entries"])
    assert entry["work"] == ["CAP:A3 deburr"]
    assert "SKIN" not in layered("history", "CAP:A3").out.replace("mark SKIN", "")


def test_fit_refuses_a_piece_on_itself(layered):
    said = layered("fit", "SKIN:A", "skin").complaint_only()
    assert "SKIN:A and skin are the same holes of one piece. Name two parts" in said
    assert layered("fit", "SKIN:A", "SKIN:B", "--along").status in (0, 1)


def test_a_row_that_is_as_long_is_said_to_be_so(layered):
    said = layered("fit", "SKIN:A", "CAP:A", "--along").words
    assert "the row of CAP is as long; holes" in said
    assert "-0.0000" not in said


def test_the_history_of_a_place_is_that_of_its_holes(layered):
    layered("mark", "J1:2-3", "deburr")
    layered("mark", "CAP:B1", "deburr")
    lines = layered("history", "J1:2").out
    assert "SKIN:A2 deburr" in lines
    assert "CAP:B1" not in lines
    assert "J1 has no place 12" in layered("history", "J1:12").complaint_only()


def test_work_on_whole_parts_names_no_joint(layered):
    for words in (("mark", "J1", "prime"), ("replace", "J1", "--note", "bent")):
        said = layered(*words).complaint_only()
        assert "J1: names a joint, where whole parts are meant" in said


def test_a_rivet_that_is_ticked_on_one_sheet_is_recorded_in_every_layer(layered, tmp_path):
    layered("mark", "J1", "deburr")
    book = tmp_path / "bay.xlsx"
    assert layered("checklist", book).status == 0
    tick(book, {("SKIN", "A1", "rivet"): "x", ("CAP", "B2", "rivet"): "x"})
    ran = layered("collect", book, "--yes")
    assert ran.status == 0
    assert "CAP:A1,B2 MID:A1 SKIN:A1,B2: 5 holes riveted" in ran.words
    assert offered(layered) == {("rivet", "J1:2-5"), ("rivet", "J1:6,8-10")}
    assert "nothing to record" in layered("collect", book, "--yes").out


# Changed ---------------------------------------------------------------------------------------


def test_a_hole_that_was_match_drilled_is_drawn_with_its_verdict(shop, tmp_path):
    shop.bring("skin.dxf", "--thickness", "0.032")
    shop.bring("cap.dxf", "--thickness", "0.025", holes=HIGH, diameter=PILOT)
    assert shop(*J1).status == 0
    legends = []
    for work in (("status",), ("mark", "J1:1", "match-drill")):
        assert shop(*work).status == 0
        assert shop("picture", "CAP", tmp_path / "cap.svg", "--view", "verdict").status == 0
        drawn = (tmp_path / "cap.svg").read_text("utf-8")
        legends.append(re.findall(r">(not drilled yet: \d+|ok: \d+)<", drawn))
    assert legends == [["not drilled yet: 5", "ok: 5"], ["not drilled yet: 4", "ok: 6"]]


def test_collect_tells_the_layers_that_a_tick_drills_and_not_those_drilled_already(
    joined, tmp_path
):
    path = tmp_path / "bay.xlsx"
    assert joined("checklist", path).status == 0
    tick(path, {("CAP", hole, "match-drill"): "x" for hole in ("A1", "A2")})
    ran = joined("collect", path, "--yes")
    assert "CAP:A1-A2: 2 holes match-drilled" in ran.words
    assert "SKIN" not in ran.out
    assert offered(joined) >= {("match-drill", "J1:1-5,8-10")}


def test_a_dry_run_over_all_joints_counts_what_it_would_enter_and_records_nothing(joined):
    joined("undo")
    before = joined("verify").out
    dry = joined("join", "--dry-run")
    assert "Would be recorded: 5 holes to be match-drilled entered." in dry.words
    assert joined("verify").out == before
    assert "Recorded as entry 5: 5 holes to be match-drilled entered." in joined("join").words


def test_what_is_said_of_no_joint_is_refused(joined):
    said = joined("join", "--rivet", "3/32", "--flip", "CAP").complaint_only()
    assert "--flip --rivet: of which joint? Name it and its layers before" in said
    assert said.rstrip().endswith("Try: holeschedule join --help")


def test_undoing_join_leaves_the_joint_and_its_holes_to_come_wait_for_join(joined):
    assert "What build.toml says of joints stays" in joined("undo").words
    assert '[[joint]]\nid = "J1"' in joined.toml()
    assert offered(joined) == {("match-drill", "J1:6-10")}
    lacking = "waits for the hole to come in CAP, which is not in the record"
    assert (lacking, "first run join", "SKIN:A") in blocked(joined)
    said = joined("mark", "SKIN:A1", "rivet", "--as-found", "--note", "so be it").complaint_only()
    assert "waits for the hole to come in CAP" in said
    assert joined("join").status == 0
    assert offered(joined) == {("match-drill", "J1:1-10")}


def test_a_joint_that_cannot_be_laid_holds_its_holes_and_says_why(joined):
    edited(joined, "B5=A5", "B9=A5")
    why = "by names SKIN:B9, which is not there; SKIN has A1-A5, B1-B5"
    assert f"J1 cannot be laid, and its holes wait: {why}" in joined("status").words
    assert offered(joined) == set()
    assert {unblock for _, unblock, *_ in blocked(joined)} == {"first mend J1"}
    said = joined("mark", "SKIN:A1", "deburr").complaint_only()
    assert "SKIN:A1 may belong to J1, which cannot be laid: first mend J1" in said
    assert f"J1 cannot be laid, so it has no places: {why}." in joined("mark", "J1", "rivet").err
    ran = joined("join")
    assert (ran.status, ran.words.count("cannot be laid")) == (1, 1)
    assert "Recorded" not in ran.out
    assert joined("audit", "J1").status == joined("audit").status == 1
    edited(joined, "B9=A5", "B5=A5")
    assert offered(joined) == {("match-drill", "J1:1-10")}


def test_the_audit_as_an_object_has_the_joints_and_those_that_cannot_be_laid(joined):
    found = joined("audit", "--json").audit
    (joint,) = found["joints"]
    assert [place["layers"][1]["hole"] for place in joint["places"]] == [None] * 5 + [
        f"A{n}" for n in range(1, 6)
    ]
    assert [(place["x"], place["y"]) for place in joint["places"][:2]] == [(0.5, 0.5), (1.25, 0.5)]
    assert found["unlaid"] == []
    edited(joined, "B5=A5", "B9=A5")
    found = joined("audit", "J1", "--json").audit
    assert (found["parts"], found["joints"]) == ([], [])
    assert found["unlaid"][0]["joint"] == "J1"
    assert "J7: there is no such joint; the joints are" in joined("audit", "J7").complaint_only()


def test_a_part_taken_out_of_build_toml_is_missed_by_name(joined):
    edited(joined, '[[part]]\nid = "CAP"\ndrawing = "CAP-r1.dxf"\nthickness = 0.025\n', "")
    for words in ("status", "next", "join", "audit"):
        assert "there is no part 'CAP'; choose from SKIN" in joined(words).complaint_only()
    assert joined("verify").status == 0


def test_a_hole_of_by_that_a_revision_retires_is_told_at_the_import(joined):
    ran = joined.bring("skin.dxf", holes=[*LOW, *HIGH[:4]])
    assert "J1 cannot be laid, and its holes wait: by names SKIN:B5" in ran.words
    joined("undo")
    assert "cannot be laid" not in joined("status").out


def test_a_hole_moved_by_a_revision_is_off_at_its_place(joined):
    x, y = HIGH[2]
    joined.bring("skin.dxf", holes=[*LOW, *HIGH[:2], (x, y + 0.012), *HIGH[3:]])
    ran = joined("audit", "J1")
    assert ran.status == 1
    # the other four share a fifth of it
    assert "FIGURE-EIGHT CAP:A3: 0.0096 in off SKIN:B3" in ran.words
    assert ran.out.count("FIGURE-EIGHT") == 1


def test_a_hole_that_by_names_and_a_revision_moves_is_off_alone_as_well(joined):
    (x, y), held = HIGH[0], HIGH[1:]
    joined.bring("skin.dxf", holes=[*LOW, (x - 0.012, y), *held])
    ran = joined("audit", "J1")
    assert "FIGURE-EIGHT CAP:A1: 0.0096 in off SKIN:B1" in ran.words
    assert ran.out.count("FIGURE-EIGHT") == 1


def test_holes_that_no_joint_wants_any_more_are_taken_out_by_join(joined):
    edited(joined, 'part = "SKIN"\n', 'part = "SKIN"\nholes = "A1-A2, B"\n')
    ran = joined("join")
    assert "3 holes no longer wanted taken out" in ran.out
    assert joined("verify").status == 0
    assert "no holes" not in joined("status").out


def test_a_drilled_hole_stays_when_no_joint_wants_it(joined):
    joined("mark", "J1:1", "match-drill")
    edited(joined, 'part = "SKIN"\n', 'part = "SKIN"\nholes = "B"\n')
    assert "4 holes no longer wanted taken out" in joined("join").out
    assert joined("mark", "CAP:B1", "deburr").status == 0


def test_a_hole_in_two_joints_is_told_and_marked_with_the_first(joined):
    joined("join", "J2", "SKIN:B", "CAP:A", *CAP)
    ran = joined("join")
    assert "and 6 more: in J1 and in J2, and taken as J1's" in ran.words
    assert (
        "the holes there belong to other joints"
        in joined("mark", "J2:1", "match-drill").complaint_only()
    )
    assert joined("mark", "J1:6", "match-drill").status == 0


def test_join_without_joints_says_how_one_is_made(bay):
    ran = bay("join")
    assert ran.status == 0
    assert "There are no joints yet. Example: holeschedule join J1 FL-101:A FL-102:B" in ran.out


# Fit -------------------------------------------------------------------------------------------


def test_fit_tells_every_way_and_each_of_them_can_be_pasted(bay):
    ran = bay("fit", "SKIN:B", "CAP")
    assert ran.status == 0
    assert "CAP on SKIN: 5 of 5 holes within 0.0469 in" in ran.words
    assert "As good in 3 other ways" in ran.out
    ways = [line.split("(")[0].split() for line in ran.out.splitlines() if "  --by " in line]
    assert len(ways) == 4
    for way in ways:
        found = json.loads(bay("fit", "SKIN:B", "CAP", *way, "--json").out)
        assert (found["rival_count"], len(found["best"]["holes"])) == (0, 5)


def test_fit_allows_what_the_holes_allow(bay):
    found = json.loads(bay("fit", "SKIN:B", "CAP", "--json").out)
    assert found["allowed_offset"] == pytest.approx((0.098 - PILOT) / 2)
    bay.bring("top.dxf", holes=HIGH)
    found = json.loads(bay("fit", "SKIN:B", "TOP", "--json").out)
    assert found["allowed_offset"] == pytest.approx(0.098 - 0.09375)


def test_a_fit_with_holes_too_far_off_or_left_over_is_a_finding(bay):
    bay.bring("off.dxf", holes=[*HIGH[:4], (HIGH[4][0] + 0.02, HIGH[4][1])])
    ran = bay("fit", "SKIN:B", "OFF")
    assert ran.status == 1
    assert "too far" in ran.out
    ran = bay("fit", "CAP", "SKIN")
    assert ran.status == 1
    assert "Without a partner on SKIN: A1-A5" in ran.out
    assert bay("fit", "SKIN", "CAP").status == 0


def test_fit_along_a_row_tells_the_difference_hole_by_hole(bay):
    long = [(x * 1.002, y) for x, y in HIGH]
    bay.bring("long.dxf", holes=long)
    ran = bay("fit", "SKIN:B", "LONG", "--along")
    assert ran.status == 0
    assert "runs 0.0056 in longer" in ran.words
    found = json.loads(bay("fit", "SKIN:B", "LONG", "--along", "--json").out)
    assert found["drift"] == pytest.approx(0.0056, abs=1e-4)
    assert [hole["base"] for hole in found["holes"]] == [f"B{n}" for n in range(1, 6)]
    assert "mm" in bay("fit", "SKIN:B", "LONG", "--along", "--show", "mm").out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["SKIN", "NOPE"], "there is no part 'NOPE'; choose from CAP, SKIN"),
        (["SKIN:A", "CAP:C"], "CAP has no holes C; it has A1-A5."),
        (["SKIN:", "CAP"], "holes is ''"),
        (["SKIN", "CAP", "--tolerance", "x"], "'x' is not a length"),
        (["SKIN", "CAP", "--tolerance", "0"], "fits nothing; state one above 0"),
        (["SKIN", "CAP", "--turn", "nan"], "--turn nan: write degrees from -360 to 360."),
        (["SKIN:A1", "CAP:A1"], "state the turn or give two holes"),
        (["SKIN", "CAP", "--by", "A1"], "'A1' is no pair of holes"),
        (["SKIN", "CAP", "--by", "B1=A1,B1=A1"], "name the same place"),
        (["SKIN", "CAP", "--by", "B9=A1"], "by names SKIN:B9, which is not there"),
    ],
)
def test_a_fit_that_cannot_be_tried_is_one_line_that_speaks_of_no_joint(bay, words, said):
    complaint = bay("fit", *words).complaint_only()
    assert said in complaint
    assert "J1" not in complaint


def test_fit_changes_nothing(bay):
    text = bay.toml()
    bay("fit", "SKIN:B", "CAP")
    assert (bay.toml(), len(entries(bay))) == (text, 2)


# Kept for speed --------------------------------------------------------------------------------


def test_marking_at_a_place_reads_no_drawing_once_the_joints_are_worked_out(joined):
    joined("status")
    for drawing in (joined.build / "drawings").iterdir():
        drawing.rename(joined.build / f"{drawing.name}.away")
    assert joined("mark", "J1:1-5", "match-drill").status == 0
    assert "deburr" in joined("next").out
    assert joined("undo").status == 0


def test_a_record_of_a_joint_is_open_to_the_library(joined):
    with open_folder(BuildFolder(joined.build)) as (record, _):
        assert record.states("CAP")["CAP"].total == 10
