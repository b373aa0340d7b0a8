"""The audit as a builder reads it: every number adds up, no line is too wide, nothing smuggled."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.model import Finding, Head, Notice, Quantity, Verdict
from holeschedule.units import LengthUnit
from holeschedule.views.audit_text import (
    MOST_FINDINGS,
    MOST_NOTICES,
    MOST_SINGLES,
    audit_lines,
    summary_line,
)
from holeschedule.views.explain import CAUTION, explain
from holeschedule.views.text import WIDTH, compact_labels, hanging, plural, printable, table
from tests.plates import NUMBER_11, NUMBER_30, At, D, Plate, at_edge, level

INCH, MILLIMETRE = LengthUnit.INCH, LengthUnit.MILLIMETRE


def text_of(audit, unit=INCH, *, every_hole=False):
    return "\n".join(audit_lines(audit, unit, every_hole=every_hole))


def running(audit, unit=INCH):
    """The text with its line breaks and indents taken out."""
    return re.sub(r"\s+", " ", text_of(audit, unit))


def finding(**changes):
    values = {
        "hole": "A1",
        "rule": "edge.min.protruding",
        "quantity": Quantity.EDGE_DISTANCE,
        "limit": 0.1875,
        "measured": 0.159375,
        "verdict": Verdict.SHORT,
        "source": "a book",
        "diameter": D,
        "other": "outline",
    } | changes
    values.setdefault("margin", values["measured"] - values["limit"])
    return Finding(**values)


# a finding in words ----------------------------------------------------------------------------


def test_a_short_edge_distance_in_words():
    assert explain(finding(), INCH) == (
        "edge distance 0.1594 in (1.70 D) to the outline; at least 2 D = 0.1875 in: 0.0281 in short"
    )


def test_the_same_in_millimetres():
    assert explain(finding(), MILLIMETRE) == (
        "edge distance 4.048 mm (1.70 D) to the outline; at least 2 D = 4.763 mm: 0.715 mm short"
    )


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"other": "cutout 2"}, "to cutout 2;"),
        ({"other": "trim line"}, "to a trim line;"),
        ({"limit": 2.5 * D}, "at least 2.5 D = 0.2344 in: 0.0750 in short"),
        (
            {"measured": 0.19, "verdict": Verdict.TIGHT},
            "(2.03 D) to the outline; at least 2 D = 0.1875 in: met with 0.0025 in to spare",
        ),
        (
            {"measured": 0.1875, "verdict": Verdict.TIGHT},
            "(2.00 D) to the outline; at least 2 D = 0.1875 in: met with 0.0000 in to spare",
        ),
        (
            {"quantity": Quantity.PITCH, "limit": 3 * D, "verdict": Verdict.CLOSE, "other": "A2"},
            "pitch 0.1594 in (1.70 D) to A2; at least 3 D = 0.2813 in: 0.1219 in too close",
        ),
        (
            {"quantity": Quantity.SPACING, "limit": 3 * D, "verdict": Verdict.CLOSE, "other": "X9"},
            "spacing 0.1594 in (1.70 D) to X9; at least 3 D = 0.2813 in: 0.1219 in too close",
        ),
        (
            {
                "quantity": Quantity.TRANSVERSE_PITCH,
                "limit": 2.5 * D,
                "verdict": Verdict.CLOSE,
                "other": "B4",
            },
            "transverse pitch 0.1594 in (1.70 D) between rows A and B; at least 2.5 D",
        ),
        (
            {"limit": 4 * D, "measured": 0.5, "margin": 4 * D - 0.5, "verdict": Verdict.WIDE},
            "edge distance 0.5000 in (5.33 D) to the outline; at most 4 D = 0.3750 in:"
            " 0.1250 in more",
        ),
        (
            {
                "quantity": Quantity.PITCH,
                "limit": 10 * D,
                "measured": 1.0,
                "margin": 10 * D - 1,
                "verdict": Verdict.WIDE,
                "other": "A2",
            },
            "pitch 1.0000 in (10.67 D) to A2; at most 10 D = 0.9375 in: 0.0625 in more",
        ),
        (
            {
                "quantity": Quantity.DIAMETER,
                "limit": 0.098,
                "measured": 0.1285,
                "verdict": Verdict.OVERSIZE,
                "other": "3/32",
            },
            "the hole is 0.1285 in, the 3/32 rivet's largest 0.0980 in: 0.0305 in over",
        ),
    ],
)
def test_other_findings_in_words(changes, text):
    assert text in explain(finding(**changes), INCH)


@pytest.mark.parametrize(
    ("measured", "verdict", "text"),
    [
        (0.03, Verdict.BREAKS_OUT, "crosses the outline: its centre is 0.0300 in from it"),
        (-0.03, Verdict.BREAKS_OUT, "crosses the outline: its centre is 0.0300 in beyond it"),
        (-0.5, Verdict.OUTSIDE, "is not in metal: its nearest edge is the outline, 0.5000 in away"),
    ],
)
def test_a_hole_off_the_metal_in_words(measured, verdict, text):
    off = finding(
        quantity=Quantity.RIM, limit=0.049, measured=measured, verdict=verdict, diameter=0.098
    )
    assert text in explain(off, INCH)


def test_a_limit_in_inches_is_not_dressed_up_as_a_multiple_of_d():
    said = explain(finding(limit=0.156, measured=0.15), INCH)
    assert "at least 0.1560 in: 0.0060 in short" in said


def test_a_value_short_by_a_hair_does_not_look_like_the_limit():
    said = explain(finding(measured=0.1875 - 2e-6), INCH)
    assert said == (
        "edge distance 0.187498 in (1.99998 D) to the outline; at least 2 D = 0.187500 in:"
        " 0.000002 in short"
    )


def numbers(said, unit):
    return [float(n) for n in re.findall(rf"(-?[0-9.]+) {unit}\b", said)]


@given(
    shanks=st.sampled_from([2, 2.5, 3, 4, 10]),
    diameter=st.sampled_from([1 / 16, 3 / 32, 1 / 8, 5 / 32, 3 / 16, 0.4]),
    off=st.floats(2e-9, 1.0) | st.floats(-1 / 64, 0.0),
    unit=st.sampled_from(LengthUnit),
)
def test_the_numbers_of_a_finding_add_up_as_printed(shanks, diameter, off, unit):
    limit = shanks * diameter
    verdict = Verdict.TIGHT if off <= 0 else Verdict.SHORT
    said = explain(
        finding(limit=limit, measured=limit - off, diameter=diameter, verdict=verdict), unit
    )
    measured, wanted, away = numbers(said, unit)
    assert abs(abs(wanted - measured) - away) < 1e-12
    if verdict is Verdict.SHORT:
        assert measured < wanted
        assert float(re.search(r"\(([-0-9.]+) D\)", said)[1]) < shanks


# the text --------------------------------------------------------------------------------------


MESSY = Plate(
    rows=[level(1, 0.15, 0.75, 11), level(1, 2.5, 2.9 * D, 4)],
    singles=[(-1, 4), (9.0, 5.0), (9.8, 3.0), (5, 3), At(5.2, 3, NUMBER_30), At(7, 3, 0.4)],
    round_cutouts=[(2, 3.5, 0.5)],
)


@pytest.fixture(scope="module")
def messy():
    return MESSY.audit()


@pytest.mark.parametrize("unit", list(LengthUnit))
@pytest.mark.parametrize("every_hole", [False, True])
def test_no_line_is_wider_than_100_columns(messy, unit, every_hole):
    lines = audit_lines(messy, unit, every_hole=every_hole)
    assert max(map(len, lines)) <= WIDTH


@pytest.mark.parametrize("every_hole", [False, True])
def test_a_part_far_from_zero_still_fits_100_columns(every_hole):
    far = [(x + 18250, y + 53240) for x, y in [(0, 0), (10, 0), (10, 5), (0, 5)]]
    plate = Plate(
        singles=[(18250, 53240.01), (18255, 53242.5), At(18259.8, 53243, 0.4)],
        corners=far,
        round_cutouts=[(18255, 53242.5, 0.5)],
        trim=[((18257, 53240), (18257, 53245))],
        rows=[level(18251, 53240.15, 0.75, 12)],
    )
    for unit in LengthUnit:
        assert max(map(len, audit_lines(plate.audit(), unit, every_hole=every_hole))) <= WIDTH


def test_the_head_tells_size_holes_rivets_heads_and_verdicts(messy):
    said = text_of(messy)
    assert "PLATE  plate.dxf  10.000 × 5.000 in, outline area 50.0 in², 1 cutout" in said
    assert "21 holes: 2 rows, 6 single" in said
    assert "at final size for 3/32" in said
    assert "1 at final size for 1/8" in said
    assert "1 too large for any rivet known (D is the hole itself)" in running(messy)
    assert "heads taken as protruding" in running(messy)
    assert "rules faa: 1 outside, 1 breaks out, 11 short, 6 close, 1 tight, 1 ok" in said


@pytest.mark.parametrize(
    ("size", "area"), [((2, 0.5), "1.0 in²"), ((0.3, 0.2), "0.06 in²"), ((0.5, 0.33), "0.17 in²")]
)
def test_the_area_of_a_small_part_has_two_figures(size, area):
    plate = Plate(singles=[(size[0] / 2, size[1] / 2)], size=size)
    assert f"outline area {area}, 0 cutouts" in text_of(plate.audit())


def test_size_and_area_are_in_the_unit_shown(messy):
    said = text_of(messy, MILLIMETRE)
    assert "254.00 × 127.00 mm, outline area 32,258.0 mm², 1 cutout" in said


@pytest.mark.parametrize(
    ("head", "mark", "said"),
    [
        (None, None, "; heads taken as protruding"),
        (None, 0.179, "; 1 head taken as flush, the others as protruding"),
        (Head.FLUSH, None, "; heads taken as flush"),
        (Head.PROTRUDING, 0.179, "; heads taken as protruding"),
    ],
)
def test_the_head_line_says_which_heads_were_taken(head, mark, said):
    audit = Plate(singles=[At(5, 2.5, mark=mark), (7, 2.5)]).audit(head=head)
    assert said in running(audit)


def test_pilots_are_called_pilots():
    assert "1 pilot for 1/8" in running(at_edge(1.0, diameter=0.125).audit())
    two = Plate(singles=[(3, 1), (5, 1)], diameter=0.05)
    assert "2 pilots for 3/32" in running(two.audit())


def test_holes_that_flush_heads_would_make_short_are_told_with_the_option():
    said = running(Plate(singles=[(3, 2.2 * D), (5, 2.2 * D), (7, 1)]).audit())
    assert "With flush heads 2 more holes would be short (--head flush)." in said
    assert "flush" not in running(at_edge(1.0).audit())


def test_a_hole_that_misses_a_rule_is_told_with_its_place():
    assert "SHORT X1 at (5.000, 0.150): edge distance 0.1500 in" in running(at_edge(0.15).audit())


def test_what_fails_is_in_capitals_and_what_does_not_is_not(messy):
    said = text_of(messy)
    for failing in ("OUTSIDE", "BREAKS OUT", "SHORT", "CLOSE"):
        assert re.search(rf"^{failing} ", said, re.MULTILINE)
    assert re.search(r"^tight ", said, re.MULTILINE)
    assert "TIGHT" not in said


def test_a_row_that_is_short_throughout_is_one_line():
    said = running(Plate(rows=[level(1, 0.15, 0.75, 11)]).audit())
    assert said.count("SHORT") == 1
    assert "SHORT A1-A11 each: edge distance 0.1500 in (1.60 D)" in said


def test_of_holes_that_are_short_by_different_amounts_the_worst_is_told():
    row = [(1 + 0.5 * i, 0.15 + 0.002 * i) for i in range(5)]
    said = running(Plate(rows=[row[::-1]]).audit())
    assert "SHORT A1-A5 worst is A5 at (1.000, 0.150): edge distance 0.1500 in" in said


def test_both_holes_of_a_pair_are_named():
    said = running(Plate(singles=[(5, 2), (5.2, 2)]).audit())
    assert "CLOSE X1-X2 X1 at (5.000, 2.000): spacing 0.2000 in (2.13 D) to X2;" in said


def test_findings_of_pairs_in_one_row_are_told_together():
    said = running(Plate(rows=[level(1, 0.3, 2.5 * D, 5)]).audit())
    assert said.count("CLOSE") == 1
    assert "CLOSE A1-A5 worst is A1 at (1.000, 0.300): pitch 0.2344 in (2.50 D) to A2;" in said


def test_rows_too_near_each_other_are_told_as_rows():
    rows = [level(1, 0.3, 0.75, 6), level(1.375, 0.5, 0.75, 4)]
    said = running(Plate(rows=rows).audit())
    assert re.search(
        r"CLOSE rows A, B A\d at \(\d\.\d{3}, 0\.300\): transverse pitch 0\.2000 in", said
    )
    assert "(2.13 D) between rows A and B; at least 2.5 D = 0.2344 in: 0.0344 in too close" in said


def test_wide_rows_are_told_together_and_are_no_verdict_of_a_hole():
    plate = Plate(rows=[level(1, 0.6, 0.75, 11), level(1, 4.4, 0.75, 11)])
    said = running(plate.audit())
    assert "rules faa: 22 ok, 2 wide rows" in said
    assert " wide rows A, B each: edge distance 0.6000 in (6.40 D) to the outline;" in said


def test_of_rows_that_are_wide_by_different_amounts_the_widest_is_told():
    plate = Plate(rows=[level(1, 0.6, 0.75, 11), level(1, 4.3, 0.75, 11)])
    said = running(plate.audit())
    assert " wide rows A, B worst is B1 at (1.000, 4.300): edge distance 0.7000 in" in said


def test_a_row_wide_in_two_ways_is_one_wide_row():
    audit = Plate(rows=[level(0.6, 0.6, 0.95, 11)], size=(11, 5)).audit()
    assert {f.rule for f in audit.findings} == {"edge.max", "pitch.max"}
    assert "11 ok, 1 wide row" in running(audit)


def test_each_source_is_listed_once_and_referred_to_by_number(messy):
    said = text_of(messy)
    sources = {f.source for f in messy.findings}
    assert all(said.count(f"] {source}") == 1 for source in sources)
    listed = set(re.findall(r"^  \[(\d+)\] ", said, re.MULTILINE))
    assert listed == {str(n) for n in range(1, len(sources) + 1)}
    assert set(re.findall(r"\[(\d+)\]$", said, re.MULTILINE)) == listed


def test_a_part_without_findings_has_no_list_of_sources():
    assert "[1]" not in text_of(at_edge(1.0).audit())


def test_more_findings_than_anyone_reads_are_counted():
    pairs = [level(1 + i, 0.5, 0.2, 2) for i in range(MOST_FINDINGS + 3)]
    lines = text_of(Plate(rows=pairs, size=(60, 5)).audit()).splitlines()
    assert sum(line.startswith("CLOSE") for line in lines) == MOST_FINDINGS
    wide_rows = len(pairs)
    assert f"… and {3 + wide_rows} more findings: --json has them all." in lines


def test_the_schedule_has_a_line_a_row_and_a_line_a_single_hole_worst_first():
    plate = Plate(rows=[level(1, 0.3, 0.75, 5), level(1, 3, 0.5, 4)], singles=[(8, 2.5), (8, 0.15)])
    lines = text_of(plate.audit()).splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("holes "))
    told = [line.split()[0] for line in lines[start + 1 :]]
    assert told == ["X2", "A1-A5", "B1-B4", "X1"]
    assert single_spaced(lines[start]) == ("holes n x y rivet diameter pitch e e/D edge verdict")
    assert single_spaced(lines[start + 2]) == (
        "A1-A5 5 1.000 0.300 3/32 final 0.0980 0.750 0.300 3.20 outline ok"
    )


def single_spaced(line):
    return " ".join(line.split())


def test_every_hole_is_a_line_where_asked_for():
    plate = Plate(rows=[level(1, 0.3, 0.75, 12)], singles=[At(8, 2.5, NUMBER_11)])
    lines = text_of(plate.audit(), every_hole=True).splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("hole "))
    told = [line.split()[0] for line in lines[start + 1 :]]
    assert told == [*(f"A{n}" for n in range(1, 13)), "X1"]
    assert single_spaced(lines[start + 1]) == (
        "A1 1.000 0.300 3/32 final 0.0980 0.300 3.20 outline A2 0.750 ok"
    )


def test_a_lone_hole_has_no_next_one():
    (line,) = [
        line for line in text_of(at_edge(1.0).audit(), every_hole=True).splitlines()
        if line.startswith("X1")
    ]  # fmt: skip
    assert line.split()[-2:] == ["outline", "ok"]


def test_single_holes_beyond_what_anyone_reads_are_counted():
    holes = [(1 + (i % 10), 1 + i // 10) for i in range(MOST_SINGLES + 2)]
    lines = text_of(Plate(singles=holes, size=(12, 12)).audit()).splitlines()
    assert sum(bool(re.match(r"X\d+ ", line)) for line in lines) == MOST_SINGLES
    assert lines[-1] == "… and 2 more single holes: --holes lists every hole."


# notices ---------------------------------------------------------------------------------------


def noticed(*notices):
    return at_edge(1.0, notices=notices).audit()


def test_notices_are_told_with_layer_and_place():
    said = text_of(noticed(Notice("line.open", "an open line was left out", "TICKS", 1.0, 2.5)))
    assert "1 notice from reading the drawing:" in said
    assert "  line.open: an open line was left out; layer TICKS at (1.000, 2.500) in" in said
    assert "at (25.40, 63.50) mm" in text_of(
        noticed(Notice("line.open", "an open line", None, 1.0, 2.5)), MILLIMETRE
    )


def test_a_notice_without_layer_or_place_is_told_without():
    assert text_of(noticed(Notice("file.damaged", "read with repairs"))).endswith(
        "  file.damaged: read with repairs"
    )


def test_more_notices_than_anyone_reads_are_counted():
    said = text_of(noticed(*(Notice("line.open", f"line {i}") for i in range(MOST_NOTICES + 5))))
    assert f"{MOST_NOTICES + 5} notices" in said
    assert said.count("line.open") == MOST_NOTICES
    assert said.endswith("  … and 5 more: --json tells all.")


# hostile names ---------------------------------------------------------------------------------

HOSTILE = "a\x1b[2J\nb\r\u202e\x07"


def test_names_with_control_characters_reach_no_line():
    plate = at_edge(0.15, drawing=f"{HOSTILE}.dxf", notices=(Notice("x.y", HOSTILE, HOSTILE),))
    rules = plate.audit().rules
    hostile = type(rules)(
        **{name: getattr(rules, name) for name in rules.__slots__}
        | {"name": HOSTILE, "rules": tuple(with_source(rule, HOSTILE) for rule in rules.rules)}
    )
    for line in audit_lines(plate.audit(hostile), INCH):
        assert line.isprintable(), line


def with_source(rule, source):
    values = {name: getattr(rule, name) for name in rule.__slots__}
    return type(rule)(**values | {"source": source})


@given(st.text(st.characters(exclude_categories=[])))
def test_printable_text_is_one_line_without_control_characters(text):
    shown = printable(text)
    assert shown.isprintable()
    assert len(shown.splitlines()) <= 1
    if text.isprintable():
        assert shown == text


def test_what_is_not_printable_is_shown_as_its_escape():
    assert printable("a\x1b[2Jb\n\udcff") == "a\\x1b[2Jb\\n\\udcff"


# the summary -----------------------------------------------------------------------------------


def test_the_summary_counts_parts_holes_and_findings():
    clean, one, two = at_edge(1.0), at_edge(0.15, drawing="one.dxf"), Plate(
        singles=[(3, 0.15), (5, 0.15)], drawing="two.dxf"
    )  # fmt: skip
    assert summary_line([clean.audit(), clean.audit()]) == "2 parts, 2 holes: no rule missed."
    assert summary_line([clean.audit(), one.audit()]) == (
        "2 parts, 2 holes: 1 finding misses a rule, in ONE."
    )
    assert summary_line([one.audit(), two.audit()]) == (
        "2 parts, 3 holes: 3 findings miss a rule, in ONE, TWO."
    )


def test_the_summary_says_how_many_more_would_be_short_with_flush_heads():
    said = summary_line([at_edge(2.2 * D).audit(), at_edge(2.3 * D).audit()])
    assert said.endswith("no rule missed. With flush heads 2 more holes would be short.")


# words and tables ------------------------------------------------------------------------------


def test_the_caution_names_who_decides():
    for word in ("plans", "drawing", "authority", "inspector", "measure"):
        assert word in CAUTION


def test_labels_are_compacted_to_ranges():
    labels = ["C3", "C4", "C5", "C12", "D1", "X2"]
    assert compact_labels(labels) == "C3-C5, C12, D1, X2"


@pytest.mark.parametrize(
    ("count", "said"), [(0, "0 holes"), (1, "1 hole"), (2, "2 holes"), (1000, "1,000 holes")]
)
def test_plurals(count, said):
    assert plural(count, "hole") == said


def test_columns_of_a_table_are_as_wide_as_their_widest_cell():
    assert table(["a", "bb"], [["long", "1"], ["x", "100"]], right="lr") == [
        "a      bb",
        "long    1",
        "x     100",
    ]


@given(st.text(max_size=20), st.text(max_size=400))
def test_hanging_text_fits_and_hangs_below_itself(head, text):
    head = "".join(c for c in head if c.isprintable())
    text = "".join(c for c in text if c.isprintable())
    lines = hanging(head, text)
    assert all(len(line) <= WIDTH for line in lines)
    assert all(line.startswith(" " * len(head)) for line in lines[1:])


def test_a_number_is_not_parted_from_its_unit():
    for width in range(60, 110):
        lines = hanging("", "x" * width + " at least 2 D = 0.1875 in: 4.763 mm short")
        assert not any(re.search(r"[0-9]$", line) for line in lines), lines
