"""The tables of a checklist, and the workbook they are written into and read from."""

import csv
import io
from pathlib import Path

import openpyxl
import pytest

from holeschedule.errors import ChecklistError
from holeschedule.operations import Operation, PartOperation
from holeschedule.units import LengthUnit
from holeschedule.views.checklist import (
    Checklist,
    Column,
    FindingRow,
    HoleRow,
    JointPlaceRow,
    Key,
    PartList,
    RivetRow,
    Table,
    ToolRow,
    findings_table,
    part_operations_table,
    progress_table,
    read_key,
    tools_table,
)
from holeschedule.views.checklist_read import read_checklist
from holeschedule.views.checklist_write import workbook_bytes, write_checklist
from tests.workbooks import heads_of, rows_of, tick

KEY = Key("1f3a", 12, "9c0d")
WORK = ("-", "2026-03-05", "", "yes", "-", "")


def hole(label="A1", copy=1, **how):
    values = (copy, label, 1.0, 2.0, 0.098, "#40", "3/32", 0.25, 2.667, "ok", WORK)
    return HoleRow(*values)._replace(**how)


ONE = (hole(),)


def part(name="FL-101", rows=ONE, unit=LengthUnit.INCH, quantity=1, facts="2024-T3"):
    key = Key(KEY.build, KEY.entry, KEY.hash, name, "r1")
    return PartList(key, facts, unit, quantity, tuple(rows))


def checklist(*parts, joints=(), rivets=(), unit=LengthUnit.INCH, title="Aft bay"):
    parts = parts or (part(),)
    return Checklist(
        title,
        "2026-03-05 16:30",
        KEY,
        unit,
        tuple(parts),
        progress_table([(p.name, 1, len(p.rows), ("1 of 2",) * 6) for p in parts]),
        part_operations_table([(p.name, ("",) * len(PartOperation)) for p in parts]),
        findings_table(
            [FindingRow("FL-101", "A1", "short", "edge distance", "edge.min", "a book")]
        ),
        tools_table([ToolRow("deburr", "deburring tool", "", 3, "FL-101")]),
        ("A caution.",),
        tuple(joints),
        tuple(rivets),
    )


def opened(listed, paper=""):
    return openpyxl.load_workbook(io.BytesIO(workbook_bytes(listed, paper)))


def saved(folder, listed):
    path = folder / "bay.xlsx"
    path.write_bytes(workbook_bytes(listed))
    return path


# The line of a sheet ---------------------------------------------------------------------------


@pytest.mark.parametrize("key", [KEY, Key("1f3a", 0, "none", "0012", "r 1 of March")])
def test_the_line_of_a_sheet_reads_back(key):
    assert read_key(f"  {key.line} ") == key


@pytest.mark.parametrize(
    "line",
    [
        "",
        "holeschedule.checklist/1",
        "holeschedule.checklist/2 build 1f entry 12 9c",
        "holeschedule.checklist/1 build 1f entry twelve 9c",
        f"holeschedule.checklist/1 build 1f entry {'9' * 5000} 9c",
        "holeschedule.checklist/1 build 1f entry 12 9c part FL-101",
    ],
)
def test_another_line_is_none(line):
    assert read_key(line) is None


# Tables ----------------------------------------------------------------------------------------


def test_a_sheet_has_the_operations_that_some_hole_needs():
    heads = [column.title for column in part().table().columns]
    assert heads[-5:] == ["match-drill", "deburr", "dimple", "rivet", "note"]


def test_the_copy_stands_in_a_row_only_where_there_are_several():
    assert "copy" not in [c.title for c in part().table().columns]
    assert part(quantity=2).table().columns[0].title == "copy"


def test_lengths_are_shown_in_the_unit_of_the_part():
    table = part(unit=LengthUnit.MILLIMETRE).table()
    assert (table.columns[1].title, table.rows[0][1]) == ("x [mm]", 25.4)


def test_csv_holds_every_part_with_every_operation():
    listed = checklist(part("0012"), part("NA", [hole("E1", remarks="=1+1")]))
    read = list(csv.DictReader(io.StringIO(listed.tables()[0].to_csv())))
    assert [row["part"] for row in read] == ["0012", "NA"]
    assert [row["match-drill"] for row in read] == ["2026-03-05", "2026-03-05"]
    assert read[1]["remarks"] == "'=1+1"
    assert read[0]["drill"] == "-"
    assert {str(operation) for operation in Operation} <= read[0].keys()


def test_a_frame_keeps_texts_as_texts():
    frame = checklist(part("0012"), part("1E5")).tables()[0].to_frame()
    assert list(frame["part"]) == ["0012", "1E5"]
    assert frame["x"].dtype == float


def test_a_frame_without_pandas_says_what_to_install(monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(ChecklistError, match=r"^to_frame needs pandas, .*holeschedule\[pandas\]"):
        Table("t", (Column("a"),), []).to_frame()


# The workbook ----------------------------------------------------------------------------------


def test_sheets_come_in_the_order_of_use():
    assert opened(checklist()).sheetnames == [
        "overview",
        "FL-101",
        "part operations",
        "findings",
        "tools",
    ]


def test_joints_and_rivets_have_sheets_where_there_are_any():
    place = JointPlaceRow("J1", 1, "FL-101 FL-103", "A1 B1", 0.057, "MS20426AD3-3", "dimple")
    listed = checklist(joints=[place], rivets=[RivetRow("J1", "MS20426AD3-3", 9, 1, 10, 0.1, 4, 6)])
    book = opened(listed)
    assert book.sheetnames[3:5] == ["joints", "rivets"]
    assert [c.value for c in book["joints"][5]][:5] == ["J1", 1, "FL-101 FL-103", "A1 B1", 0.057]
    assert [table.name for table in listed.tables()][2:4] == ["joints", "rivets"]


def test_a_row_is_as_high_as_its_longest_words_need():
    four = " + ".join(f"FL-112B#{copy}" for copy in range(1, 5))
    places = [
        JointPlaceRow("J1", 1, "FL-101 + FL-103", "A1", 0.057, "", "plain, plain"),
        JointPlaceRow("J1", 2, four, "A2", 0.1, "", "dimpled, countersunk 0.197 in, " * 3),
    ]
    sheet = opened(checklist(joints=places))["joints"]
    heights = [sheet.row_dimensions[row].height or 15 for row in (5, 6)]
    assert heights[0] <= 15
    assert heights[1] >= 4 * 12.75, "four lines of treatments"


def test_a_sheet_is_frozen_filtered_and_set_up_for_print():
    sheet = opened(checklist())["FL-101"]
    assert sheet.freeze_panes == "B5"
    assert sheet.auto_filter.ref == "A4:N5"
    assert sheet.page_setup.orientation == "landscape"
    assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.print_title_rows == "$4:$4"
    assert sheet.oddFooter.right.text == "Page &P of &N"


@pytest.mark.parametrize(
    ("unit", "paper", "number"),
    [
        (LengthUnit.INCH, "", 1),
        (LengthUnit.MILLIMETRE, "", 9),
        (LengthUnit.INCH, "a4", 9),
        (LengthUnit.MILLIMETRE, "letter", 1),
    ],
)
def test_paper_follows_the_unit_unless_it_is_stated(unit, paper, number):
    assert int(opened(checklist(unit=unit), paper)["FL-101"].page_setup.paperSize) == number


def test_the_cells_to_be_ticked_are_validated_and_stand_out():
    sheet = opened(checklist())["FL-101"]
    ticked = {str(rule.sqref) for rule in sheet.data_validations.dataValidation}
    assert ticked == {"J5", "K5", "L5", "M5"}
    assert all(len(r.formula1) <= 255 for r in sheet.data_validations.dataValidation)
    assert {str(found.sqref) for found in sheet.conditional_formatting} == {*ticked, "I5"}


def test_what_a_hole_does_not_need_is_hatched_and_what_is_to_do_is_not():
    sheet = opened(checklist(part(rows=[hole(), hole("A2", work=("", *WORK[1:]))])))["FL-101"]
    row, heads = heads_of(sheet)
    cells = [sheet.cell(row + 1 + i, heads["drill"]) for i in (0, 1)]
    assert [cell.fill.patternType for cell in cells] == ["lightUp", None]
    assert [cell.value for cell in cells] == [None, None]


def test_texts_stay_texts_and_formulas_are_none():
    rows = [hole("NA1", remarks="=HYPERLINK(1)"), hole("E5", verdict="+1", rivet="0012")]
    book = opened(checklist(part("1E5", rows, facts="=cmd()"), part("0012"), title="=1+1"))
    sheet = book["1E5"]
    assert [c.value for c in sheet["A"]][:5] == ["1E5", "=cmd()", sheet["A3"].value, "hole", "NA1"]
    every = [cell for found in book.worksheets for row in found.iter_rows() for cell in row]
    assert not [cell for cell in every if cell.data_type == "f"]
    assert "=HYPERLINK(1)" in [c.value for c in sheet[5]]
    assert "0012" in [c.value for c in sheet[6]]


def test_control_characters_and_endless_texts_do_not_spoil_a_workbook(tmp_path):
    listed = checklist(part(facts="a\x07b\ud800" + "z" * 60_000), title="x" * 300 + "&P")
    sheet = opened(listed)["FL-101"]
    assert sheet["A2"].value.startswith("a\\x07b\\ud800zzz")
    assert len(sheet["A2"].value) < 32_767


def test_names_that_no_sheet_may_have_are_changed_and_read_back_by_the_line(tmp_path):
    names = ["A/B", "A-B", "overview", "History", "p" * 40, "p" * 40 + "2"]
    path = saved(tmp_path, checklist(*(part(name) for name in names)))
    titles = openpyxl.load_workbook(path).sheetnames
    assert len({title.casefold() for title in titles}) == len(titles)
    assert max(map(len, titles)) <= 31
    assert [sheet.key.part for sheet in read_checklist(path)] == [*names, ""]


# Reading ---------------------------------------------------------------------------------------


def test_a_workbook_reads_back_as_it_was_written(tmp_path):
    rows = [hole(), hole("A2", 2)]
    (sheet, whole) = read_checklist(saved(tmp_path, checklist(part("0012", rows, quantity=2))))
    assert (sheet.key.part, sheet.key.revision, sheet.has_copies) == ("0012", "r1", True)
    assert sheet.operations == ("match-drill", "deburr", "dimple", "rivet")
    assert [(row.name, row.copy) for row in sheet.rows] == [("A1", 1), ("A2", 2)]
    first = sheet.rows[0].marks
    assert str(first[0].day) == "2026-03-05"
    assert (first[1], first[2].problem, first[3]) == (None, "", None)
    assert whole.operations == tuple(map(str, PartOperation))


def test_what_is_written_beside_the_table_is_left_alone(tmp_path):
    path = saved(tmp_path, checklist())
    book = openpyxl.load_workbook(path)
    book["FL-101"]["T9"] = "my own"
    book["FL-101"]["A40"] = "total"
    book.save(path)
    sheet = read_checklist(path)[0]
    assert [row.name for row in sheet.rows if row.name] == ["A1", "total"]
    assert rows_of(book["FL-101"])["total"] == 40


def test_a_label_that_became_a_number_is_read_as_text(tmp_path):
    path = tick(saved(tmp_path, checklist()), {("FL-101", "A1", "hole"): 12})
    assert read_checklist(path)[0].rows[0].name == "12"


# Files -----------------------------------------------------------------------------------------


def test_a_checklist_needs_the_name_of_a_workbook(tmp_path):
    with pytest.raises(ChecklistError, match=r"bay\.xls: a checklist is a workbook; .*\.xlsx"):
        write_checklist(tmp_path / "bay.xls", checklist(), replace=False)


def test_a_workbook_that_is_there_is_replaced_only_when_asked(tmp_path):
    path = tmp_path / "bay.xlsx"
    path.write_bytes(b"ticks")
    with pytest.raises(ChecklistError, match=r"is there already, and may hold ticks"):
        write_checklist(path, checklist(), replace=False)
    assert path.read_bytes() == b"ticks"
    write_checklist(path, checklist(), replace=True)
    assert path.read_bytes().startswith(b"PK")
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("lock", [".~lock.bay.xlsx#", "~$bay.xlsx"])
def test_a_workbook_open_elsewhere_is_not_replaced(tmp_path, lock):
    path = tmp_path / "bay.xlsx"
    (tmp_path / lock).write_text("Ada")
    with pytest.raises(ChecklistError, match="is open in another program"):
        write_checklist(path, checklist(), replace=True)
    assert not path.exists()


def test_a_failure_half_way_leaves_the_old_workbook(tmp_path, monkeypatch):
    path = tmp_path / "bay.xlsx"
    path.write_bytes(b"old")

    def no_space(self, *_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", no_space)
    with pytest.raises(ValueError, match="No space left on device"):
        write_checklist(path, checklist(), replace=True)
    monkeypatch.undo()
    assert [p.read_bytes() for p in tmp_path.iterdir()] == [b"old"]


def test_more_holes_than_a_sheet_has_rows_are_refused(monkeypatch):
    from holeschedule.views import checklist_write

    monkeypatch.setattr(checklist_write, "MOST_ROWS", 2)
    workbook_bytes(checklist(part(rows=[hole()] * 2)))
    with pytest.raises(ChecklistError, match="FL-101: 3 holes are more than a sheet takes"):
        workbook_bytes(checklist(part(rows=[hole()] * 3)))
