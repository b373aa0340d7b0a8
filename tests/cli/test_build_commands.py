"""`new`, `import`, `status`, `next`, `history`, `verify`, and `audit` of a build."""

import json
import re
import shutil

import pytest

from holeschedule.views.explain import CAUTION
from tests.cli.builds import HIGH, LOW, PILOT, plate
from tests.cli.commands import SAMPLES
from tests.makers import draw_circles, draw_polygon, new_drawing, row_of, save

READING = ("import", "status", "next", "history", "verify")


# new -------------------------------------------------------------------------------------------


def test_new_starts_a_build_that_the_other_commands_find_from_below(command, tmp_path, monkeypatch):
    ran = command("new", tmp_path / "bay", "--name", "Aft bay", "--units", "mm")
    assert (ran.status, ran.err) == (0, "")
    text = (tmp_path / "bay" / "build.toml").read_text(encoding="utf-8")
    assert 'name = "Aft bay"' in text
    assert 'units = "mm"' in text
    monkeypatch.chdir(tmp_path / "bay" / "drawings")
    assert command("status").out.startswith("Aft bay: 0 parts, 0 pieces, 0 holes")
    assert command("next").out == "Nothing can be done now.\n"
    assert command("verify").out == "The record is whole; nothing is recorded yet.\n"


def test_new_refuses_a_build_and_a_folder_in_use(command, tmp_path):
    command("new", tmp_path / "bay")
    assert "is a build already" in command("new", tmp_path / "bay").complaint_only()
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "x").touch()
    assert "is not empty" in command("new", tmp_path / "other").complaint_only()


def test_without_a_build_the_commands_say_how_to_start_one(command, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for words in (["status"], ["next"], ["history"], ["verify"], ["mark", "A:B", "deburr"]):
        assert "or start one with `new`" in command(*words).complaint_only()
    assert "there is no such folder" in command("status", "--build", "none").complaint_only()


# import ----------------------------------------------------------------------------------------


def test_import_copies_the_drawing_and_enters_the_part(shop):
    path = plate(shop.sheets)
    ran = shop("import", path, "--thickness", "1/32", "--material", "2024-T3", "--quantity", 2)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == (
        "P-1 r1: 10 holes in 2 rows; drawings/P-1-r1.dxf\n"
        "Recorded as entry 1. Undo: holeschedule undo 1\n"
    )
    assert (shop.build / "drawings" / "P-1-r1.dxf").read_bytes() == path.read_bytes()
    assert shop.toml().endswith(
        '[[part]]\nid = "P-1"\ndrawing = "P-1-r1.dxf"\nthickness = "1/32"\n'
        'material = "2024-T3"\nquantity = 2\n'
    )


def test_many_drawings_are_one_entry_and_one_bad_one_stops_them_all(shop):
    paths = [plate(shop.sheets, f"p-{n}.dxf") for n in (1, 2, 3)]
    bad = shop.sheets / "bad.dxf"
    bad.write_text("no drawing\n", encoding="ascii")
    assert "bad.dxf, line 1" in shop("import", *paths, bad).complaint_only()
    assert "[[part]]" not in shop.toml().replace("# [[part]]", "").replace("One [[part]]", "")
    assert list((shop.build / "drawings").glob("*.dxf")) == []
    assert "Recorded as entry 1." in shop("import", *paths).out


def test_several_parts_of_one_drawing_are_numbered_or_named(shop):
    sheet = shutil.copy(SAMPLES / "fl-112.dxf", shop.sheets / "fl-112.dxf")
    assert "FL-112.1 r1: 20 holes" in shop("import", sheet).out
    assert re.search(r'"FL-112\.2"\ndrawing = "FL-112-r1\.dxf"\nnumber = 2', shop.toml())
    assert "WEB r1: 20 holes" in shop("import", sheet, "--part", "WEB", "--number", 2).out
    assert "K.1 r1" in shop("import", sheet, "--part", "K").out
    said = shop("import", sheet, "--part", "Z", "--number", 3).complaint_only()
    assert "no part 3: the drawing has 2 parts" in said


def test_a_mirrored_pair_shares_its_drawing_and_each_hand_has_its_record(shop):
    path = plate(shop.sheets)
    shop("import", path, "--part", "P-L")
    shop("import", path, "--part", "P-R", "--mirror")
    assert shop.toml().count('drawing = "P-L-r1.dxf"') == 2
    assert "mirror = true" in shop.toml()
    shop("mark", "P-R:A", "deburr")
    assert re.search(r"^P-L +0/10 .*\nP-R +5/10 ", shop("status").out, re.MULTILINE)


def test_metric_and_inch_drawings_go_into_one_build(shop):
    shop.bring("p-1.dxf", "--thickness", "0.032")
    corners = [(0, 0), (100, 0), (100, 50), (0, 50)]
    ran = shop.bring(
        "m-1.dxf",
        "--thickness",
        "0.8mm",
        corners=corners,
        holes=row_of(15, 8, 20, 4),
        diameter=2.5,
        unit=4,
    )
    assert ran.status == 0
    assert "P-1" in shop("status").out
    shop("mark", "M-1 P-1", "deburr")
    both = json.loads(shop("audit", "--json").out)
    assert [part["part"] for part in both["parts"]] == ["P-1", "M-1"]
    assert both["parts"][1]["holes"][0]["diameter"] == pytest.approx(2.5 / 25.4)


def test_units_and_layers_are_kept_with_the_drawing_for_the_audit(shop):
    doc = new_drawing(unit=None)
    draw_polygon(doc.modelspace(), [(0, 0), (4, 0), (4, 2), (0, 2)])
    draw_circles(doc.modelspace(), LOW, 0.098)
    draw_circles(doc.modelspace(), [(2.0, 1.5)], 0.25, layer="Big")
    path = save(doc, shop.sheets, "p-1.dxf")
    assert "no unit stated" in shop("import", path).complaint_only()
    ran = shop("import", path, "--units", "in", "--layer", "Big=cutouts")
    assert "P-1 r1: 5 holes in 1 row" in ran.out
    assert "5 holes: 1 row" in shop("audit", "P-1").out


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--thickness", "32"], "thickness is 32.0; it has to be above 0 and at most 1.000 in"),
        (["--thickness", "thin"], "thickness"),
        (["--quantity", "0"], "quantity is 0; it has to be a whole number from 1 to 999"),
        (["--rivet", "7/9"], "rivet"),
        (["--part", "a b"], "id is 'a b'; write letters, digits and . _ - alone"),
        (["--part", "J1"], "reads as a joint"),
    ],
)
def test_a_value_that_cannot_be_used_is_refused_before_anything_is_written(shop, options, said):
    before = shop.toml()
    assert said in shop("import", plate(shop.sheets), *options).complaint_only()
    assert shop.toml() == before
    assert list((shop.build / "drawings").glob("*.dxf")) == []


def test_one_part_from_two_drawings_is_refused(shop):
    (shop.sheets / "b").mkdir()
    paths = plate(shop.sheets), plate(shop.sheets / "b", "P-1.dxf")
    assert "is of the part P-1, and so is" in shop("import", *paths).complaint_only()
    assert "--part names one part" in shop("import", *paths, "--part", "X").complaint_only()


# revisions -------------------------------------------------------------------------------------

SHIFTED = [(0.5, 0.5), (1.25, 0.5), (2.0, 0.56), (2.75, 0.5), (3.5, 0.5)]


def test_a_revision_tells_what_it_changes_and_keeps_the_history(shop):
    shop.bring()
    shop("mark", "P-1:A1-A2", "deburr")
    ran = shop.bring(holes=[*SHIFTED, *HIGH[:4], (2.0, 1.0)])
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == (
        "P-1 r2: 8 kept, 1 moved, 0 resized, 1 new, 1 retired; drawings/P-1-r2.dxf\n"
        "  new: X1\n"
        "  retired: B5\n"
        "  moved: A3  0.060 in\n"
        "Recorded as entry 3. Undo: holeschedule undo 3\n"
    )
    assert 'drawing = "P-1-r2.dxf"' in shop.toml()
    assert (shop.build / "drawings" / "P-1-r1.dxf").exists()
    assert "2/10" in shop("status").out
    assert "P-1:A1 deburr" in shop("history", "P-1:A1").out
    assert shop("verify").status == 0


def test_dry_run_tells_the_same_and_changes_nothing(shop):
    shop.bring()
    path = plate(shop.sheets, holes=[*SHIFTED, *HIGH])
    before = {p: p.read_bytes() for p in shop.build.rglob("*") if p.is_file()}
    ran = shop("import", path, "--dry-run")
    assert "9 kept, 1 moved, 0 resized, 0 new, 0 retired" in ran.out
    assert ran.out.endswith("Nothing was changed: this was --dry-run.\n")
    assert {p: p.read_bytes() for p in shop.build.rglob("*") if p.is_file()} == before
    assert shop("import", path).out.splitlines()[:-1] == ran.out.splitlines()[:-1]


@pytest.mark.parametrize("when", [["--dry-run"], []])
def test_a_hole_that_moves_after_work_on_it_is_a_finding(shop, when):
    shop.bring()
    shop("mark", "P-1:A3,B5", "deburr")
    ran = shop.bring("p-1.dxf", *when, holes=[*SHIFTED, *HIGH[:4]])
    assert ran.status == 1
    assert "FINDING: P-1:A3 is deburred already and moved by the revision" in ran.out
    assert "FINDING: P-1:B5 is deburred already and retired by the revision" in ran.out


def test_the_same_drawing_again_records_nothing(shop):
    shop.bring()
    ran = shop("import", shop.sheets / "p-1.dxf", "--thickness", "0.040")
    assert ran.out == (
        "P-1 r1: is this drawing already\n"
        "Nothing to record: these drawings are in the build already.\n"
    )
    assert "thickness = 0.04" in shop.toml()


def test_labels_of_a_revision_are_those_of_the_record_in_the_audit_too(shop):
    shop.bring(holes=LOW)
    shop.bring(holes=[*row_of(0.5, 0.2, 0.75, 5), *LOW])
    (part,) = json.loads(shop("audit", "P-1", "--json").out)["parts"]
    ys = {hole["hole"][0]: hole["y"] for hole in part["holes"]}
    assert ys == {"A": pytest.approx(0.5), "B": pytest.approx(0.2)}


def test_undoing_a_revision_brings_the_drawing_before_it_back(shop):
    shop.bring()
    shop.bring(holes=[*SHIFTED, *HIGH])
    assert shop("undo").status == 0
    assert 'drawing = "P-1-r1.dxf"' in shop.toml()
    assert shop("audit", "P-1").status == 0
    assert "P-1 r3: 9 kept, 1 moved" in shop.bring(holes=[*SHIFTED, *HIGH]).out
    assert shop("verify").status == 0


def test_copies_of_a_part_keep_their_own_work_through_a_revision(shop):
    shop.bring("p-1.dxf", "--quantity", 2)
    shop("mark", "P-1#2:A", "deburr")
    ran = shop.bring(holes=[*SHIFTED, *HIGH])
    assert "FINDING: P-1#2:A3 is deburred already and moved" in ran.out
    assert re.search(r"^P-1#1 +0/10 .*\nP-1#2 +5/10 ", shop("status").out, re.MULTILINE)


# status, next, history, verify -----------------------------------------------------------------


def test_status_shows_every_part_by_operation_and_the_days_of_work(shop):
    shop.bring("p-1.dxf", "--head", "flush", "--thickness", "0.032")
    shop.bring("p-2.dxf", "--quantity", 3, diameter=PILOT)
    shop("mark", "P-1:A", "deburr", "--at", "2026-03-05")
    shop("mark", "P-2#2", "match-drill")
    lines = shop("status").out.splitlines()
    assert lines[0] == "bay: 2 parts, 4 pieces, 40 holes"
    assert " ".join(lines[2].split()) == "part match-drill deburr dimple rivet done whole part"
    rows = [line.split() for line in lines[3:7]]
    assert rows[0][:5] == ["P-1", "-", "5/10", "0/10", "0/10"]
    assert [row[:2] for row in rows[1:]] == [
        ["P-2#1", "0/10"],
        ["P-2#2", "10/10"],
        ["P-2#3", "0/10"],
    ]
    assert lines[-1].startswith("2 days of work so far (2026-03-05 to ")
    assert all(len(line) <= 100 for line in lines)


def test_undoing_an_import_tells_only_of_the_parts_it_brought(shop):
    shop.bring("p-1.dxf")
    shop.bring("p-2.dxf")
    shop("undo")
    ran = shop("undo")
    assert ran.words.count("its holes are not in the record") == 1
    assert "P-1 is in build.toml" in ran.words


def test_what_is_said_of_much_work_is_wrapped(shop):
    for number in range(1, 10):
        shop.bring(f"p-{number}.dxf")
    marked = shop("mark", *(f"P-{number}:A1,A3,A5" for number in range(1, 10)), "deburr")
    assert marked.words.startswith("P-1:A1,A3,A5 P-2:A1,A3,A5")
    assert max(map(len, marked.out.splitlines())) <= 100
    assert max(map(len, shop("undo").out.splitlines())) <= 100


def test_next_groups_by_tool_and_says_what_blocks_the_rest(shop):
    shop.bring("p-1.dxf", "--finish", "prime")
    shop.bring("p-2.dxf", diameter=PILOT)
    shop("mark", "P-1:A", "deburr")
    shop("reject", "P-1:A1", "cracked")
    text = shop("next").out
    assert "match-drill (drill #40): 10 holes\n  P-2\n" in text
    assert "deburr (deburring tool): 5 holes\n  P-1:B\n" in text
    assert "rivet: 4 holes wait for the primer on the part: first prime P-1" in text
    assert "rivet: 1 hole is rejected (cracked)" in text


def test_whatever_next_offers_mark_takes_until_nothing_is_left(shop):
    shop.bring("p-1.dxf", "--finish", "prime", "--head", "flush", "--thickness", "0.050")
    shop.bring("p-2.dxf", "--quantity", 2, diameter=PILOT)
    for _ in range(20):
        offered = json.loads(shop("next", "--json").out)
        if not offered["ready"]:
            break
        group = offered["ready"][-1]
        assert shop("mark", *group["selections"], group["operation"]).status == 0
    assert offered["blocked"] == offered["ready"] == []
    assert offered["finished"] == 30


def test_long_selections_of_next_are_cut_into_pieces_that_can_be_pasted(shop):
    holes = [(x / 4 + 0.25, y / 4 + 0.25) for y in range(40) for x in range(10)]
    corners = [(0, 0), (3, 0), (3, 11), (0, 11)]
    shop.bring(corners=corners, holes=holes)
    odd = [f"P-1:{row}{n}" for row in "ABCDEFGHJKLMNPQRSTUVWYZ" for n in (2, 4, 6)]
    shop("mark", *odd, "deburr")
    lines = [line for line in shop("next").out.splitlines() if line.startswith("  P-1")]
    assert len(lines) > 3
    assert all(len(line) <= 100 for line in lines)
    assert shop("mark", lines[0].strip(), "deburr").status == 0


@pytest.mark.parametrize("name", READING[1:])
def test_reading_commands_print_one_versioned_object(shop, name):
    shop.bring()
    read = json.loads(shop(name, "--json").out)
    assert read["format"] == f"holeschedule.{name}/1"


def test_import_prints_one_versioned_object(shop):
    read = json.loads(shop.bring("p-1.dxf", "--json").out)
    assert read["format"] == "holeschedule.import/1"
    assert [hole["change"] for hole in read["parts"][0]["holes"]] == ["new"] * 10


def test_verify_tells_a_changed_drawing_and_an_entry_that_was_noted(shop):
    shop.bring()
    (noted,) = re.findall(r"To note down: (\S+)", shop("verify").out)
    shop("mark", "P-1:A", "deburr")
    assert shop("verify", "--noted", noted).status == 0
    assert "write number and hash" in shop("verify", "--noted", "x").complaint_only()
    with (shop.build / "drawings" / "P-1-r1.dxf").open("ab") as file:
        file.write(b"\n")
    ran = shop("verify", "--noted", noted.replace(":", ":0"))
    assert ran.status == 1
    assert "drawing: P-1-r1.dxf of P-1 is not as it was brought in." in ran.out
    assert "noted: entry 1 is another than the one noted down" in ran.out


def test_a_build_can_be_moved_and_renamed(command, shop, tmp_path):
    shop.bring()
    shop.build = shop.build.rename(tmp_path / "moved")
    assert shop("mark", "P-1:A", "deburr").status == 0
    assert shop("verify").status == shop("audit").status == 0


def test_a_mistake_in_build_toml_is_one_line_with_its_number(shop):
    shop.bring()
    path = shop.build / "build.toml"
    path.write_text(shop.toml() + 'fnish = "prime"\n', encoding="utf-8")
    line = shop.toml().count("\n")
    assert f"line {line}: the key 'fnish' is not known" in shop("status").complaint_only()


# audit of a build ------------------------------------------------------------------------------


def test_audit_in_a_build_goes_by_build_toml(command, shop, monkeypatch):
    shop.bring("p-1.dxf", "--head", "flush", holes=row_of(0.5, 0.21, 0.75, 5))
    shop.bring("p-2.dxf", holes=row_of(0.5, 0.21, 0.75, 5))
    monkeypatch.chdir(shop.build)
    assert command("audit", "P-2").status == 0
    ran = command("audit", "p-1")
    assert ran.status == 1
    assert "at least 2.5 D = 0.2344 in" in ran.words
    assert "2 parts, 10 holes" in command("audit").words
    assert "there is no part P-9" in command("audit", "P-9").complaint_only()
    assert "--head is for drawings" in command("audit", "P-1", "--head", "flush").complaint_only()
    assert command("audit", shop.sheets / "p-1.dxf").status == 0


def test_rows_with_heads_of_their_own_are_audited_as_such(shop):
    shop.bring("p-1.dxf", holes=[*row_of(0.5, 0.21, 0.75, 5), *row_of(0.5, 1.79, 0.75, 5)])
    path = shop.build / "build.toml"
    path.write_text(shop.toml() + '\n[[part.holes]]\nselect = "B"\nhead = "flush"\n', "utf-8")
    (part,) = json.loads(shop("audit", "--json").out)["parts"]
    short = {hole["hole"] for hole in part["holes"] if hole["verdict"] == "short"}
    assert short == {"B1", "B2", "B3", "B4", "B5"}


# help and demo ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    ["new", "mark", "undo", "reject", "accept", "drill-out", "replace", "measure", *READING],
)
def test_every_help_has_an_example_and_ends_with_the_caution(command, name):
    ran = command(name, "--help")
    assert f"Example: holeschedule {name}" in ran.words
    assert ran.words.endswith(CAUTION)


def test_the_demo_keeps_its_build_where_it_is_asked_to(command, demo):
    assert (demo.status, demo.err) == (0, "")
    assert "$ holeschedule mark FL-105:A countersink" in demo.out
    assert "14 parts, 19 pieces, 664 holes" in demo.out
    assert command("verify", "--build", demo.bay).status == 0


def test_the_demo_is_not_kept_where_there_is_something(command, tmp_path, monkeypatch):
    monkeypatch.setattr("holeschedule.samples.sample_drawings", list)
    assert "cannot be made" in command("demo", "--keep", tmp_path).complaint
