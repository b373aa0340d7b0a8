"""An audit as JSON and CSV: what other programs read."""

import csv
import io
import json
import math
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.audit.files import FileAudit
from holeschedule.errors import DrawingError
from holeschedule.model import Notice
from holeschedule.units import LengthUnit
from holeschedule.views.audit_data import COLUMNS, FORMAT, audit_csv, audit_object
from holeschedule.views.audit_output import audit_text, shown_unit
from holeschedule.views.explain import CAUTION
from holeschedule.views.text import printable
from tests.plates import NUMBER_30, At, D, Plate, at_edge, level

INCH, MILLIMETRE = LengthUnit.INCH, LengthUnit.MILLIMETRE
SCHEMA = json.loads(
    (Path(__file__).parents[2] / "docs" / "audit.schema.json").read_text(encoding="utf-8")
)
MESSY = Plate(
    rows=[level(1, 0.15, 0.75, 11), level(1, 2.5, 2.9 * D, 4)],
    singles=[(-1, 4), (9.0, 5.0), (9.8, 3.0), (5, 3), At(5.2, 3, NUMBER_30), At(7, 3, 0.4)],
    round_cutouts=[(2, 3.5, 0.5)],
    trim=[((9.9, 0), (9.9, 5))],
    notices=(Notice("line.open", "an open line", "TICKS", 1.0, 2.0), Notice("x.y", "a word")),
)


@pytest.fixture(scope="module")
def messy():
    return MESSY.audit()


def checked(audits, unit=INCH):
    """The object, after it has been through JSON and the schema."""
    text = json.dumps(audit_object(audits, unit, "faa"), allow_nan=False)
    read = json.loads(text)
    jsonschema.validate(read, SCHEMA)
    return read


# the object ------------------------------------------------------------------------------------


@pytest.mark.parametrize("unit", list(LengthUnit))
@pytest.mark.parametrize(
    "plate",
    [MESSY, at_edge(1.0), Plate(singles=[(3, 0.2), (5, 0.2)], diameter=0.4)],
    ids=["messy", "one hole", "no rivet"],
)
def test_every_audit_is_as_the_schema_says(plate, unit):
    read = checked([plate.audit()], unit)
    assert (read["format"], read["units"], read["rules"]) == (FORMAT, str(unit), "faa")


def test_an_audit_of_no_part_is_as_the_schema_says():
    assert checked([])["parts"] == []


def test_a_hole_has_its_measures():
    (part,) = checked([Plate(rows=[level(1, 0.25, 0.75, 3)]).audit()])["parts"]
    assert part["holes"][1] == {
        "hole": "A2",
        "x": 1.75,
        "y": 0.25,
        "diameter": 0.098,
        "rivet": "3/32",
        "size": "final",
        "edge_distance": 0.25,
        "edge_ratio": 0.25 / D,
        "edge": "outline",
        "nearest_hole": "A1",
        "nearest_hole_distance": 0.75,
        "verdict": "ok",
    }


def test_a_part_has_its_size_and_cutouts(messy):
    (part,) = checked([messy])["parts"]
    assert (part["part"], part["drawing"]) == ("PLATE", "plate.dxf")
    assert (part["outline_area"], part["cutouts"]) == (50.0, 1)


def test_a_lone_hole_has_no_nearest_one():
    (part,) = checked([at_edge(1.0).audit()])["parts"]
    assert part["holes"][0]["nearest_hole"] is None
    assert part["holes"][0]["nearest_hole_distance"] is None


def test_a_hole_without_a_known_rivet_has_neither_rivet_nor_size():
    (part,) = checked([at_edge(1.0, diameter=0.4).audit()])["parts"]
    hole = part["holes"][0]
    assert (hole["rivet"], hole["size"], hole["edge_ratio"]) == (None, None, 2.5)


def test_findings_are_in_the_order_of_the_audit_with_their_margin(messy):
    (part,) = checked([messy])["parts"]
    told = [(f["hole"], f["rule"], f["verdict"]) for f in part["findings"]]
    assert told == [(f.hole, f.rule, str(f.verdict)) for f in messy.findings]
    for finding in part["findings"]:
        sense = -1 if finding["verdict"] in {"wide", "oversize"} else 1
        difference = sense * (finding["measured"] - finding["limit"])
        assert finding["margin"] == pytest.approx(difference, abs=1e-12)


def test_notices_have_code_layer_place_and_text(messy):
    (part,) = checked([messy])["parts"]
    assert part["notices"] == [
        {"code": "line.open", "layer": "TICKS", "x": 1.0, "y": 2.0, "text": "an open line"},
        {"code": "x.y", "layer": None, "x": None, "y": None, "text": "a word"},
    ]


LENGTHS = {"x", "y", "diameter", "edge_distance", "nearest_hole_distance", "limit", "measured"}
LENGTHS |= {"margin"}


def pairs(one, other):
    """Every two values at one place, with the key they stand under."""
    if isinstance(one, dict):
        assert one.keys() == other.keys()
        for key in one:
            if isinstance(one[key], dict | list):
                yield from pairs(one[key], other[key])
            else:
                yield key, one[key], other[key]
    else:
        for first, second in zip(one, other, strict=True):
            yield from pairs(first, second)


def test_lengths_are_in_the_unit_named_and_all_else_is_the_same(messy):
    for key, inches, millimetres in pairs(checked([messy]), checked([messy], MILLIMETRE)):
        if key == "outline_area":
            assert millimetres == pytest.approx(inches * 25.4**2, rel=1e-12)
        elif key in LENGTHS and inches is not None:
            assert millimetres == pytest.approx(inches * 25.4, rel=1e-12)
        elif key != "units":
            assert millimetres == inches


# what the schema refuses -----------------------------------------------------------------------

HOLE = ("parts", 0, "holes", 0)
FINDING = ("parts", 0, "findings", 0)
NOTICE = ("parts", 0, "notices", 0)
WRONG = {
    "another format": (("format",), "holeschedule.audit/2"),
    "a unit that is none": (("units",), "cm"),
    "no name of a rule set": (("rules",), ""),
    "parts that are none": (("parts",), {}),
    "a number as part name": (("parts", 0, "part"), 7),
    "no drawing": (("parts", 0, "drawing"), ""),
    "no area": (("parts", 0, "outline_area"), 0),
    "half a cutout": (("parts", 0, "cutouts"), 0.5),
    "a part without holes": (("parts", 0, "holes"), []),
    "a label that is none": ((*HOLE, "hole"), "7C"),
    "a place counted from 0": ((*HOLE, "hole"), "C0"),
    "x as text": ((*HOLE, "x"), "1.0"),
    "a hole of nothing": ((*HOLE, "diameter"), 0),
    "a rivet as a number": ((*HOLE, "rivet"), 0.094),
    "a size that is none": ((*HOLE, "size"), "large"),
    "no edge distance": ((*HOLE, "edge_distance"), None),
    "an edge that is none": ((*HOLE, "edge"), "the outline"),
    "a nearest hole that is no label": ((*HOLE, "nearest_hole"), ""),
    "a distance below zero": ((*HOLE, "nearest_hole_distance"), -1),
    "a verdict that is none": ((*HOLE, "verdict"), "fine"),
    "no rule": ((*FINDING, "rule"), ""),
    "a limit as text": ((*FINDING, "limit"), "2 D"),
    "no margin": ((*FINDING, "margin"), None),
    "no source": ((*FINDING, "source"), ""),
    "a code that is none": ((*NOTICE, "code"), "Line"),
    "a layer as a number": ((*NOTICE, "layer"), 0),
    "a notice without words": ((*NOTICE, "text"), ""),
}


def at(read, path):
    for key in path:
        read = read[key]
    return read


@pytest.mark.parametrize(("path", "value"), WRONG.values(), ids=WRONG)
def test_the_schema_refuses_a_wrong_value(messy, path, value):
    read = checked([messy])
    at(read, path[:-1])[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError) as caught:
        jsonschema.validate(read, SCHEMA)
    assert list(caught.value.absolute_path) == list(path)


OBJECTS = {"the whole": (), "a part": ("parts", 0), "a hole": HOLE, "a finding": FINDING}
OBJECTS |= {"a notice": NOTICE}


@pytest.mark.parametrize("path", OBJECTS.values(), ids=OBJECTS)
def test_the_schema_refuses_a_key_too_many_and_every_key_too_few(messy, path):
    for key in at(checked([messy]), path):
        read = checked([messy])
        del at(read, path)[key]
        with pytest.raises(jsonschema.ValidationError, match=f"'{key}' is a required property"):
            jsonschema.validate(read, SCHEMA)
    read = checked([messy])
    at(read, path)["colour"] = "red"
    with pytest.raises(jsonschema.ValidationError, match=r"Additional properties .*'colour'"):
        jsonschema.validate(read, SCHEMA)


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


# CSV -------------------------------------------------------------------------------------------


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_csv_read_back_is_what_json_says(messy, unit):
    rows = rows_of(audit_csv([messy], unit))
    (part,) = checked([messy], unit)["parts"]
    assert [row["hole"] for row in rows] == [hole["hole"] for hole in part["holes"]]
    for row, hole in zip(rows, part["holes"], strict=True):
        assert (row["part"], row["drawing"], row["units"]) == ("PLATE", "plate.dxf", str(unit))
        for key, value in hole.items():
            if isinstance(value, float):
                assert float(row[key]) == value
            else:
                assert row[key] == ("" if value is None else value)


def test_csv_has_its_columns_in_their_order():
    assert audit_csv([], INCH) == ",".join(COLUMNS) + "\n"
    assert len(set(COLUMNS)) == len(COLUMNS)


HOSTILE = '=1+1;"a"\x1b[2J\r\nb,c\u202e.dxf'


def test_a_hostile_file_name_stays_in_its_cell_and_on_its_line():
    text = audit_csv([at_edge(1.0, drawing=HOSTILE).audit()], INCH)
    assert len(text.splitlines()) == 2
    assert all(line.isprintable() for line in text.splitlines())
    (row,) = rows_of(text)
    assert row["hole"] == "X1"
    assert row["drawing"] == './=1+1;"a"\\x1b[2J\\r\\nb,c\\u202e.dxf'


@pytest.mark.parametrize("first", "=+-@")
def test_a_file_name_is_no_formula_to_a_spreadsheet(first):
    (row,) = rows_of(audit_csv([at_edge(1.0, drawing=f"{first}a.dxf").audit()], INCH))
    assert row["drawing"] == f"./{first}a.dxf"


ONE_HOLE = at_edge(1.0).audit()


@settings(max_examples=30)
@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1))
def test_names_go_through_json_and_csv(name):
    audit = replace(ONE_HOLE, measured=renamed(ONE_HOLE.measured, f"{name}.dxf"))
    assert checked([audit])["parts"][0]["drawing"] == f"{name}.dxf"
    (row,) = rows_of(audit_csv([audit], INCH))
    assert row["drawing"].endswith(printable(f"{name}.dxf"))


def renamed(measured, drawing):
    return replace(measured, part=replace(measured.part, drawing=drawing))


# one output for several drawings ---------------------------------------------------------------


def output(*audits, **options):
    results = [FileAudit(Path(audit.part.drawing), (audit,)) for audit in audits]
    return audit_text(results, "faa", options)


def test_the_unit_shown_is_that_of_the_drawings_and_inches_where_they_differ():
    inch, metric = at_edge(1.0).audit(), at_edge(1.0, unit="mm").audit()
    assert shown_unit([inch], None) is INCH
    assert shown_unit([metric, at_edge(1.0, unit="cm").audit()], None) is MILLIMETRE
    assert shown_unit([inch, metric], None) is INCH
    assert shown_unit([], None) is INCH
    assert shown_unit([inch], "mm") is MILLIMETRE
    assert shown_unit([metric], "in") is INCH


def test_json_and_csv_hold_every_part_of_every_file():
    audits = [at_edge(1.0, drawing=f"{name}.dxf").audit() for name in "abc"]
    read = json.loads(output(*audits, as_json=True))
    jsonschema.validate(read, SCHEMA)
    assert [part["part"] for part in read["parts"]] == ["A", "B", "C"]
    assert [row["part"] for row in rows_of(output(*audits, as_csv=True))] == ["A", "B", "C"]


def test_json_is_one_line_of_plain_characters():
    audit = at_edge(1.0, drawing="\x1b[2J\nü\udcff.dxf").audit()
    text = output(audit, as_json=True)
    assert text.isascii()
    assert text.count("\n") == 1
    assert text.endswith("\n")
    assert text[:-1].isprintable()


def test_text_ends_with_the_caution_and_has_a_summary_for_several_parts():
    one = output(at_edge(1.0).audit())
    two = output(at_edge(1.0).audit(), at_edge(0.15).audit())
    caution = " ".join(CAUTION.split())
    for text in (one, two):
        assert " ".join(text.split()).endswith(caution)
        assert text.count("For planning only") == 1
        assert text.count("Lengths in inches.") == 1
    assert "parts," not in one
    assert "\n2 parts, 2 holes: 1 finding misses a rule, in PLATE.\n" in two


def test_text_of_files_that_could_not_be_read_is_empty():
    failed = FileAudit(Path("a.dxf"), error=DrawingError("a.dxf: no such file."))
    assert audit_text([failed], "faa", {}) == ""
    assert json.loads(audit_text([failed], "faa", {"as_json": True}))["parts"] == []


def test_every_number_is_finite(messy):
    for _, value, _ in pairs(checked([messy]), checked([messy])):
        assert not isinstance(value, float) or math.isfinite(value)
