"""The commands checklist and collect: a workbook out, and what was ticked back in."""

from __future__ import annotations

import io
import shutil
import subprocess
from datetime import date, datetime, timedelta

import openpyxl
import pytest

from holeschedule.cli import run
from tests.cli.builds import HIGH, LOW, PILOT
from tests.cli.commands import in_own_process
from tests.cli.test_imports import HEAVY, loaded_after
from tests.cli.test_imports import run as running
from tests.workbooks import heads_of, mangle, rows_of, tick

TODAY = datetime.now().astimezone().date()


@pytest.fixture
def bay(shop, tmp_path):
    """A build of one plate of ten pilots, and its checklist."""
    shop.bring("p-1.dxf", "--thickness", "0.032", diameter=PILOT)
    return written(shop, tmp_path)


def written(shop, tmp_path, *options, name="bay.xlsx"):
    path = tmp_path / name
    assert shop("checklist", path, *options).status == 0
    return path


def ticks(operation, *holes, value="x", sheet="P-1"):
    return {(sheet, hole, operation): value for hole in holes}


def stages(shop, part="P-1"):
    """Holes done of those that need it, for each operation."""
    (line,) = [row for row in shop("status").out.splitlines() if row.startswith(f"{part} ")]
    return [word for word in line.split() if "/" in word]


# Out -------------------------------------------------------------------------------------------


def test_a_checklist_names_what_it_holds_and_how_to_go_on(shop, tmp_path):
    shop.bring()
    ran = shop("checklist", tmp_path / "bay.xlsx")
    assert (ran.status, ran.err) == (0, "")
    assert "1 part, 10 holes. Tick it, save it, then: holeschedule collect" in ran.words


def test_a_checklist_of_a_selection_holds_those_holes(shop, tmp_path):
    shop.bring()
    book = openpyxl.load_workbook(written(shop, tmp_path, "P-1:B"))
    assert list(rows_of(book["P-1"])) == ["B1", "B2", "B3", "B4", "B5"]


def test_a_row_says_where_its_hole_is_and_what_it_gets(shop, tmp_path):
    shop.bring("p-1.dxf", "--head", "flush", holes=[(0.5, 0.2)], diameter=PILOT)
    sheet = openpyxl.load_workbook(written(shop, tmp_path))["P-1"]
    row, heads = heads_of(sheet)
    told = {head: sheet.cell(row + 1, column).value for head, column in heads.items()}
    assert told["hole"] == "X1"
    assert (told["x [in]"], told["y [in]"], told["e [in]"]) == (0.5, 0.2, 0.2)
    assert (told["final drill"], told["rivet size"], told["verdict"]) == ("#40", "3/32", "short")
    assert told["e/D"] == pytest.approx(0.2 / (3 / 32))


def test_the_ratio_of_each_hole_is_that_of_its_own_rivet(shop, tmp_path):
    shop.bring("p-1.dxf", "--rivet", "3/32", holes=[(0.5, 0.25), (2.0, 0.25)], diameter=PILOT)
    toml = shop.build / "build.toml"
    toml.write_text(f'{shop.toml()}\n[[part.holes]]\nselect = "X2"\nrivet = "1/8"\n')
    sheet = openpyxl.load_workbook(written(shop, tmp_path))["P-1"]
    heads = heads_of(sheet)[1]
    told = {
        hole: [sheet.cell(row, heads[head]).value for head in ("rivet size", "e/D")]
        for hole, row in rows_of(sheet).items()
    }
    assert told == {"X1": ["3/32", pytest.approx(8 / 3)], "X2": ["1/8", pytest.approx(2.0)]}


def test_work_that_is_done_has_its_date_on_the_sheet(shop, tmp_path):
    shop.bring(diameter=PILOT)
    shop("mark", "P-1:A", "match-drill", "--at", "2026-03-05")
    sheet = openpyxl.load_workbook(written(shop, tmp_path))["P-1"]
    column = heads_of(sheet)[1]["match-drill"]
    shown = {name: sheet.cell(row, column).value for name, row in rows_of(sheet).items()}
    assert (shown["A1"].date(), shown["B1"]) == (date(2026, 3, 5), None)


def test_a_metric_build_is_shown_in_millimetres(shop, tmp_path):
    shop.bring("m.dxf", corners=[(0, 0), (100, 0), (100, 50), (0, 50)],
               holes=[(25.4, 12)], diameter=2.5, unit=4)  # fmt: skip
    toml = shop.build / "build.toml"
    toml.write_text(shop.toml().replace('units = "in"', 'units = "mm"'), encoding="utf-8")
    sheet = openpyxl.load_workbook(written(shop, tmp_path))["M"]
    row, heads = heads_of(sheet)
    assert sheet.cell(row + 1, heads["x [mm]"]).value == pytest.approx(25.4)


def test_a_second_checklist_does_not_lose_the_ticks_of_the_first(bay, shop):
    before = bay.read_bytes()
    assert "may hold ticks" in shop("checklist", bay).complaint_only()
    assert bay.read_bytes() == before
    assert shop("checklist", bay, "--replace").status == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["bay.csv"], "a checklist is a workbook; give it a name ending in .xlsx"),
        (["bay.xlsx", "P-9"], "there is no part P-9"),
        (["bay.xlsx", "J1"], "selection 'J1'"),
        (["no/where/bay.xlsx"], "cannot be written (No such file or directory)"),
    ],
)
def test_a_checklist_that_cannot_be_written_says_why(shop, tmp_path, monkeypatch, words, said):
    shop.bring()
    monkeypatch.chdir(tmp_path)
    before = set(tmp_path.iterdir())
    assert said in shop("checklist", *words).complaint_only()
    assert set(tmp_path.iterdir()) == before


def test_a_build_without_parts_has_no_checklist(shop, tmp_path):
    assert "no parts in the record yet" in shop("checklist", tmp_path / "a.xlsx").complaint_only()


def test_csv_goes_into_a_new_folder(shop, tmp_path):
    shop.bring()
    ran = shop("checklist", tmp_path / "tables", "--csv")
    assert ran.status == 0
    names = {path.name for path in (tmp_path / "tables").iterdir()}
    assert names == {
        "holes.csv",
        "part-operations.csv",
        "findings.csv",
        "tools.csv",
        "progress.csv",
    }
    assert (tmp_path / "tables" / "holes.csv").read_text().startswith("part,copy,hole,x,y,")
    assert "Name a folder" in shop("checklist", tmp_path / "tables", "--csv").complaint_only()


def test_marking_and_status_load_no_workbook_library():
    assert loaded_after(running("checklist", "--help"), (*HEAVY, "xlsxwriter")) == []
    assert loaded_after(running("collect", "--help"), (*HEAVY, "xlsxwriter")) == []


# Back ------------------------------------------------------------------------------------------


def test_ticks_are_shown_asked_about_and_recorded(bay, shop, monkeypatch):
    tick(bay, ticks("match-drill", "A1", "A2", "B3"))
    monkeypatch.setattr("sys.stdin", io.StringIO("y\n"))
    ran = shop("collect", bay)
    assert ran.status == 0
    assert (
        "P-1:A1-A2,B3: 3 holes match-drilled Record this? [y/N]: Recorded as entry 2." in ran.words
    )
    assert stages(shop) == ["3/10", "0/10", "0/10"]


def test_after_a_no_nothing_is_recorded(bay, shop, monkeypatch):
    tick(bay, ticks("match-drill", "A1"))
    monkeypatch.setattr("sys.stdin", io.StringIO("n\n"))
    assert "Nothing was recorded." in shop("collect", bay).out
    assert stages(shop)[0] == "0/10"


def test_where_nobody_can_answer_nothing_is_recorded(bay, shop, monkeypatch):
    tick(bay, ticks("match-drill", "A1"))
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    ran = shop("collect", bay)
    assert ran.status == 2
    assert "nobody answered. Nothing was recorded; say --yes." in ran.err
    assert stages(shop)[0] == "0/10"


def test_a_dry_run_shows_and_records_nothing(bay, shop):
    tick(bay, ticks("match-drill", "A1"))
    ran = shop("collect", bay, "--dry-run")
    assert (ran.status, "P-1:A1: 1 hole match-drilled" in ran.words) == (0, True)
    assert stages(shop)[0] == "0/10"


def test_a_workbook_read_twice_is_recorded_once(bay, shop):
    tick(bay, ticks("match-drill", "A1", "A2"))
    assert "Recorded as entry 2" in shop("collect", bay, "--yes").out
    again = shop("collect", bay, "--yes")
    assert (again.status, again.words) == (
        0,
        "2 ticks are in the record already. bay.xlsx: nothing to record.",
    )
    assert "3" not in [line.split()[0] for line in shop("history").out.splitlines()[:-1]]


def test_a_workbook_is_ticked_on_and_collected_again(bay, shop):
    shop("collect", tick(bay, ticks("match-drill", "A1")), "--yes")
    shop("collect", tick(bay, ticks("deburr", "A1")), "--yes")
    assert stages(shop) == ["1/10", "1/10", "0/10"]


def test_one_entry_holds_everything_and_names_the_workbook(bay, shop):
    tick(bay, ticks("match-drill", "A1") | ticks("deburr", "A1") | ticks("rivet", "A1"))
    tick(bay, {("part operations", "P-1", "prime"): "✓", ("P-1", "A1", "note"): "=a walk"})
    assert shop("collect", bay, "--yes", "--note", "Thursday").status == 0
    entry = shop("history", "--json").out
    assert '"origin": "checklist bay.xlsx, sheet P-1, part operations"' in entry
    assert '"command": "collect bay.xlsx"' in entry
    assert '"note": "Thursday; P-1:A1 =a walk"' in entry
    assert '"number": 3' not in entry


def test_the_latest_day_ticked_is_the_day_of_the_entry(bay, shop):
    day = TODAY - timedelta(days=9)
    tick(bay, ticks("match-drill", "A1", value=day.isoformat()))
    tick(bay, ticks("match-drill", "A2", value=day - timedelta(days=3)))
    shop("collect", bay, "--yes")
    entry = shop("history", "--json").out
    assert f'"at": "{day}T12:00' in entry
    assert f"ticked for {day - timedelta(days=3)} to {day}" in entry


def test_columns_rows_and_sheets_may_be_moved_and_added(bay, shop):
    tick(bay, ticks("match-drill", "A1", "B5") | ticks("deburr", "A1"))
    ran = shop("collect", mangle(bay), "--yes")
    assert (ran.status, stages(shop)) == (0, ["2/10", "1/10", "0/10"])


def test_several_copies_are_told_apart(shop, tmp_path):
    shop.bring("p-1.dxf", "--quantity", "2", "--finish", "prime")
    path = written(shop, tmp_path)
    tick(path, {("P-1", "A1", "deburr"): "x", ("P-1", "#2:B1", "deburr"): "x"})
    tick(path, {("part operations", "P-1#2", "prime"): "x"})
    ran = shop("collect", path, "--yes")
    assert "P-1#1:A1 P-1#2:B1: 2 holes deburred" in ran.words
    assert "P-1#2: 1 part primed" in ran.words


def test_a_rivet_and_the_primer_it_waits_for_are_taken_from_one_workbook(shop, tmp_path):
    shop.bring("p-1.dxf", "--finish", "prime", "--thickness", "0.032")
    path = tick(written(shop, tmp_path), ticks("deburr", "A1") | ticks("rivet", "A1"))
    assert "waits for the primer" in shop("collect", path, "--dry-run").words
    tick(path, {("part operations", "P-1", "prime"): "yes"})
    ran = shop("collect", path, "--yes")
    assert ran.status == 0
    assert "P-1:A1: 1 hole riveted" in ran.words


# Conflicts -------------------------------------------------------------------------------------


def listed(ran):
    """Lines below `not recorded`, each on one line."""
    return ran.words.partition("not recorded ")[2]


def test_a_tick_out_of_order_is_listed_and_the_rest_is_recorded(bay, shop):
    tick(bay, ticks("deburr", "A1") | ticks("match-drill", "B1"))
    ran = shop("collect", bay, "--yes")
    assert ran.status == 1
    assert "P-1!K5: P-1:A1 deburr: is pilot; deburr comes later: first match-drill." in ran.words
    assert stages(shop) == ["1/10", "0/10", "0/10"]


def test_a_tick_taken_away_is_listed_and_takes_nothing_back(shop, tmp_path):
    shop.bring()
    shop("mark", "P-1:A", "deburr", "--at", "2026-03-05")
    path = tick(written(shop, tmp_path), ticks("deburr", "A2", "A3", value=None))
    ran = shop("collect", path)
    assert ran.status == 1
    assert listed(ran).startswith(
        "P-1!J6-J7: P-1:A2-A3 deburr: the tick of 2026-03-05 was taken away; the record has it"
    )
    assert stages(shop)[0] == "5/10"


def test_a_tick_taken_away_after_an_undo_is_nothing_to_tell(shop, tmp_path):
    shop.bring()
    shop("mark", "P-1:A2", "deburr")
    path = written(shop, tmp_path)
    shop("undo")
    assert shop("collect", tick(path, ticks("deburr", "A2", value=None))).status == 0


def test_another_date_than_the_record_has_is_listed(shop, tmp_path):
    shop.bring()
    shop("mark", "P-1:A2", "deburr", "--at", "2026-03-05")
    path = tick(written(shop, tmp_path), ticks("deburr", "A2", value=date(2026, 3, 4)))
    assert "P-1:A2 deburr: the record has 2026-03-05, and keeps it." in listed(
        shop("collect", path)
    )


def test_a_hole_that_is_not_in_the_build_is_listed(bay, shop):
    tick(bay, ticks("match-drill", "A1") | {("P-1", "A1", "hole"): "Z9"})
    ran = shop("collect", bay, "--yes")
    assert (ran.status, listed(ran)) == (
        1,
        "P-1!J5: Z9: is not a hole of P-1. bay.xlsx: nothing to record.",
    )


def test_work_that_was_undone_since_is_not_recorded_again(bay, shop):
    tick(bay, ticks("match-drill", "A1"))
    shop("collect", bay, "--yes")
    shop("undo")
    ran = shop("collect", bay, "--yes")
    assert ran.status == 1
    assert "was recorded in entry 2, and was undone or drilled out since" in listed(ran)
    assert stages(shop)[0] == "0/10"


def test_a_rivet_drilled_out_since_is_not_recorded_again(shop, tmp_path):
    shop.bring()
    path = tick(written(shop, tmp_path), ticks("deburr", "A1") | ticks("rivet", "A1"))
    shop("collect", path, "--yes")
    shop("drill-out", "P-1:A1")
    assert "entry 2, and was undone or drilled out since" in listed(shop("collect", path, "--yes"))


def test_a_part_replaced_since_is_not_worked_on(bay, shop):
    shop("replace", "P-1", "--note", "cracked")
    ran = shop("collect", tick(bay, ticks("match-drill", "A1")), "--yes")
    assert "the part was replaced in entry 2, after the checklist was written" in listed(ran)


def test_a_rejected_hole_is_listed(bay, shop):
    shop("reject", "P-1:A1", "elongated")
    ran = shop("collect", tick(bay, ticks("match-drill", "A1")), "--yes")
    assert "P-1:A1 match-drill: is rejected (elongated)" in listed(ran)


def test_a_checklist_of_an_older_revision_is_listed(bay, shop):
    tick(bay, ticks("match-drill", "A1"))
    shop.bring("p-1.dxf", holes=[*LOW, *HIGH, (2.0, 1.0)], diameter=PILOT)
    ran = shop("collect", bay, "--yes")
    assert ran.status == 1
    assert "the checklist has revision r1 of P-1, and r2 is in force; write it anew" in listed(ran)
    assert stages(shop)[0] == "0/11"


def test_a_checklist_of_another_build_is_listed(bay, shop, command, tmp_path):
    other = tmp_path / "other"
    command("new", other)
    command("import", shop.sheets / "p-1.dxf", "--build", other)
    tick(bay, ticks("match-drill", "A1", "A2"))
    ran = command("collect", bay, "--yes", "--build", other)
    assert (ran.status, listed(ran)) == (
        1,
        "P-1!J5-J6: the checklist was written from another build. bay.xlsx: nothing to record.",
    )


def test_a_checklist_written_after_the_record_was_put_back_is_listed(bay, shop, tmp_path):
    kept = tmp_path / "kept.sqlite"
    shutil.copy(shop.build / "record.sqlite", kept)
    shop("mark", "P-1:A1", "match-drill")
    path = tick(written(shop, tmp_path, name="b.xlsx"), ticks("match-drill", "A2"))
    shutil.copy(kept, shop.build / "record.sqlite")
    assert "after an entry 2 that this record does not have" in listed(shop("collect", path))


def test_what_is_no_tick_is_listed(bay, shop):
    tomorrow = TODAY + timedelta(days=2)
    tick(bay, ticks("match-drill", "A1", value="soon") | ticks("match-drill", "A2", value=tomorrow))
    tick(bay, ticks("match-drill", "A3", value="=TODAY()"))
    ran = shop("collect", bay, "--yes")
    for said in ("'soon' is no tick", f"{tomorrow} is still to come", "is a formula"):
        assert said in listed(ran)


def test_notes_without_a_tick_are_named(bay, shop):
    ran = shop("collect", tick(bay, {("P-1", "A2", "note"): "look again"}))
    assert "Notes in rows without a new tick are not kept: P-1!row 6." in ran.words


def test_the_record_changing_meanwhile_stops_everything(bay, shop, monkeypatch):
    tick(bay, ticks("match-drill", "A1", "A2"))

    def somebody_else(_):
        assert run(["reject", "P-1:A2", "cracked", "--build", str(shop.build)]) == 0
        return True

    monkeypatch.setattr("click.confirm", somebody_else)
    ran = shop("collect", bay)
    assert (ran.status, stages(shop)[0]) == (2, "0/10")
    assert "the record changed meanwhile. Nothing was recorded; collect again." in ran.err


def test_an_open_workbook_is_read_as_it_was_saved(bay, shop):
    tick(bay, ticks("match-drill", "A1"))
    bay.with_name(".~lock.bay.xlsx#").write_text("Ada")
    ran = shop("collect", bay, "--yes")
    assert "is open in another program; what was last saved is read." in ran.words
    assert stages(shop)[0] == "1/10"


# Other programs --------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed")
@pytest.mark.parametrize("forms", [["xlsx"], ["ods", "xlsx"]])
def test_the_demo_saved_by_another_program_collects_without_loss(tmp_path, forms):
    in_own_process(["demo", "--keep", tmp_path / "demo"], capture_output=True)
    build = tmp_path / "demo" / "bay"
    path = tmp_path / "bay.xlsx"
    assert run(["checklist", str(path), "--build", str(build)]) == 0
    book = openpyxl.load_workbook(path)
    part, whole = book["FL-103"], list(rows_of(book["FL-106"]))
    wanted = ticks("deburr", *list(rows_of(part))[22:29], sheet="FL-103")
    wanted |= ticks("deburr", *whole, value=TODAY, sheet="FL-106")
    wanted |= ticks("deburr", *list(rows_of(book["FL-108"]))[:9], value="✓", sheet="FL-108")
    wanted |= {("FL-106", whole[0], "note"): "=not a formula"}
    tick(path, wanted)
    saved = path
    for number, form in enumerate(forms):
        folder = tmp_path / f"saved-{number}"
        line = ["soffice", "--headless", "--convert-to", form, "--outdir", folder, saved]
        subprocess.run(list(map(str, line)), check=True, capture_output=True)
        saved = folder / f"bay.{form}"
    outcomes = []
    for source in (path, saved):
        copy = tmp_path / f"of-{source.parent.name}"
        shutil.copytree(build, copy)
        ran = in_own_process(
            ["collect", source, "--yes", "--build", copy, "--by", "Ada"], capture_output=True
        )
        history = in_own_process(["history", "--json", "--build", copy], capture_output=True)
        outcomes.append((ran.returncode, ran.stdout, history.stdout.count("not a formula")))
    assert outcomes[0] == outcomes[1]
    assert outcomes[0][0::2] == (0, 1)
