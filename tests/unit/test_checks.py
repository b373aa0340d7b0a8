"""Each rule met, missed and exactly on its limit, and what is a finding of which hole."""

from dataclasses import replace

import numpy as np
import pytest

from holeschedule.audit.checks import SLACK
from holeschedule.audit.rules import load_rule_set
from holeschedule.audit.sources import source_of
from holeschedule.errors import TableError
from holeschedule.model import Head, Quantity, Verdict
from tests.plates import (
    LAYOUT,
    NUMBER_11,
    NUMBER_21,
    NUMBER_30,
    NUMBER_40,
    At,
    D,
    Plate,
    at_edge,
    findings,
    level,
    only,
    told,
    verdict_of,
)

PROTRUDING, FLUSH = Head.PROTRUDING, Head.FLUSH
CLOSE, OK, SHORT, TIGHT, WIDE = (
    Verdict.CLOSE,
    Verdict.OK,
    Verdict.SHORT,
    Verdict.TIGHT,
    Verdict.WIDE,
)
SHANK = {NUMBER_40: 3 / 32, NUMBER_30: 1 / 8, NUMBER_21: 5 / 32, NUMBER_11: 3 / 16}
LEAST_E = {PROTRUDING: 2, FLUSH: 2.5}
HAIR = 1e-6
"""Inches: more than the slack, less than anyone draws."""
CASES = {
    "missed": (-0.01, SHORT),
    "missed by a hair": (-HAIR, SHORT),
    "on the limit": (0.0, TIGHT),
    "below the limit by rounding": (-SLACK / 2, TIGHT),
    "met by less than the layout tolerance": (LAYOUT / 2, TIGHT),
    "met by a hair less than the layout tolerance": (LAYOUT - HAIR, TIGHT),
    "met by the layout tolerance": (LAYOUT, OK),
    "met": (0.05, OK),
}
by_case = pytest.mark.parametrize(("spare", "verdict"), CASES.values(), ids=CASES)


def checked(audit, rule, verdict):
    """The only finding, as it has to be; none where all is well."""
    if verdict is OK:
        assert audit.findings == ()
        return None
    finding = only(audit)
    assert (finding.rule, finding.verdict) == (rule, verdict)
    assert finding.margin == pytest.approx(finding.measured - finding.limit, abs=1e-12)
    return finding


# edge distance ---------------------------------------------------------------------------------


@by_case
@pytest.mark.parametrize("head", list(Head))
@pytest.mark.parametrize("diameter", SHANK)
def test_edge_distance_is_at_least_2_d_and_for_flush_heads_two_and_a_half(
    diameter, head, spare, verdict
):
    limit = LEAST_E[head] * SHANK[diameter]
    audit = at_edge(limit + spare, diameter=diameter).audit(head=head)
    finding = checked(audit, f"edge.min.{head}", verdict)
    assert verdict_of(audit, "X1") is verdict
    if finding:
        assert finding.limit == pytest.approx(limit, abs=1e-12)
        assert finding.measured == pytest.approx(limit + spare, abs=1e-12)
        assert (finding.diameter, finding.other) == (SHANK[diameter], "outline")
        assert "edge distance" in finding.source


def test_a_drawn_mark_asks_for_the_flush_head_s_edge_distance():
    audit = Plate(singles=[At(5, 2.25 * D, mark=0.179), At(6, 2.25 * D)]).audit()
    assert told(audit) == {("X1", "edge.min.flush", SHORT)}


def test_a_pilot_is_judged_by_the_rivet_it_is_for():
    assert only(at_edge(0.2, diameter=0.125).audit()).limit == 2 * 0.125
    assert only(at_edge(0.2, diameter=0.120).audit()).limit == 2 * 0.125


def test_a_stated_rivet_sets_the_edge_distance():
    assert at_edge(0.25).audit().findings == ()
    assert only(at_edge(0.25, diameter=0.05).audit(rivet="5/32")).limit == 2 * 5 / 32


def test_a_hole_without_a_known_rivet_is_judged_by_its_own_diameter():
    finding = only(at_edge(0.7, diameter=0.4).audit())
    assert (finding.limit, finding.diameter, finding.verdict) == (0.8, 0.4, SHORT)


def test_the_nearest_of_outline_cutout_and_trim_line_counts():
    plate = Plate(
        singles=[(5, 0.15), (2, 2.35), (7.15, 2.5)],
        round_cutouts=[(2, 3, 0.5)],
        trim=[((7, 0), (7, 5))],
    )
    audit = plate.audit()
    assert {(f.hole, f.other) for f in audit.findings} == {
        ("X1", "outline"),
        ("X2", "cutout 1"),
        ("X3", "trim line"),
    }


def test_a_rule_for_one_rivet_leaves_the_others_alone():
    holes = [At(3, 0.158, NUMBER_40), At(6, 0.2, NUMBER_30)]
    audit = Plate(singles=holes).audit("mil-r-47196a")
    assert told(audit) == {
        ("X1", "edge.min.protruding.3-32", TIGHT),
        ("X2", "edge.min.protruding", SHORT),
    }


# flush heads later -----------------------------------------------------------------------------


def test_holes_that_flush_heads_would_make_short_are_counted():
    edges = [2 * D - 0.01, 2 * D, 2.25 * D, 2.5 * D - HAIR, 2.5 * D, 3 * D]
    plate = Plate(singles=[(1 + i, e) for i, e in enumerate(edges)])
    assert plate.audit().short_if_flush == 3
    assert plate.audit(head=FLUSH).short_if_flush == 0
    short = [f.hole for f in plate.audit(head=FLUSH).findings if f.verdict is SHORT]
    assert len(short) == 1 + 3


def test_holes_that_are_flush_already_are_not_counted_again():
    plate = Plate(singles=[At(5, 2.25 * D, mark=0.179), At(6, 2.25 * D)])
    assert plate.audit().short_if_flush == 1


# off the metal ---------------------------------------------------------------------------------


R = NUMBER_40 / 2
OFF = {
    "inside, rim on the edge": (R, SHORT),
    "inside, rim over the edge": (R - HAIR, Verdict.BREAKS_OUT),
    "centre on the edge": (0.0, Verdict.BREAKS_OUT),
    "outside, rim over the edge": (-R + HAIR, Verdict.BREAKS_OUT),
    "outside, rim on the edge": (-R, Verdict.OUTSIDE),
    "far outside": (-1.0, Verdict.OUTSIDE),
}


@pytest.mark.parametrize(("y", "verdict"), OFF.values(), ids=OFF)
def test_a_hole_whose_rim_crosses_the_outline_breaks_out_and_one_beyond_it_is_outside(y, verdict):
    audit = at_edge(y).audit()
    finding = only(audit)
    assert finding.verdict is verdict
    assert audit.fails
    assert finding.other == "outline"
    assert finding.measured == pytest.approx(y, abs=1e-12)
    if verdict is not SHORT:
        assert (finding.quantity, finding.limit) == (Quantity.RIM, R)
        assert finding.margin == pytest.approx(y - R, abs=1e-12)


CUTOUT = (5.0, 2.5, 1.0)


@pytest.mark.parametrize(
    ("up", "rule", "verdict"),
    [
        (0.0, "hole.outside", Verdict.OUTSIDE),
        (1 - R, "hole.outside", Verdict.OUTSIDE),
        (1 - R + HAIR, "hole.breaks-out", Verdict.BREAKS_OUT),
        (1 + R - HAIR, "hole.breaks-out", Verdict.BREAKS_OUT),
        (1 + R + HAIR, "edge.min.protruding", SHORT),
        (1 + 3 * D, None, OK),
    ],
)
def test_a_hole_in_a_cutout_is_outside_and_one_across_its_edge_breaks_out(up, rule, verdict):
    audit = Plate(singles=[(5, 2.5 + up)], round_cutouts=[CUTOUT]).audit()
    assert verdict_of(audit, "X1") is verdict
    if rule:
        assert (only(audit).rule, only(audit).other) == (rule, "cutout 1")


def test_a_hole_off_the_metal_is_told_as_that_and_not_as_short_too():
    audit = Plate(singles=[(3, -0.5), (5, 0.01)]).audit()
    assert {f.rule for f in audit.findings} == {"hole.outside", "hole.breaks-out"}


def test_a_hole_that_would_break_into_the_trim_line_breaks_out():
    audit = Plate(singles=[(7.02, 2.5)], trim=[((7, 0), (7, 5))]).audit()
    assert (only(audit).verdict, only(audit).other) == (Verdict.BREAKS_OUT, "trim line")


# oversize --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("diameter", "verdict"),
    [(0.05, OK), (0.098, OK), (0.0995, OK), (0.0996, Verdict.OVERSIZE), (0.1285, Verdict.OVERSIZE)],
)
def test_a_hole_larger_than_the_stated_rivet_s_is_oversize(diameter, verdict):
    audit = at_edge(1.0, diameter=diameter).audit(rivet="3/32")
    if verdict is OK:
        assert audit.findings == ()
        return
    finding = only(audit)
    assert (finding.rule, finding.verdict, finding.other) == ("hole.max", verdict, "3/32")
    assert (finding.measured, finding.limit) == (diameter, 0.098)
    assert finding.margin == pytest.approx(0.098 - diameter)
    assert "MIL-HDBK-5H" in finding.source


def test_no_hole_is_oversize_where_the_drawing_tells_the_rivet():
    assert at_edge(2.0, diameter=0.5).audit().findings == ()


# wide edge -------------------------------------------------------------------------------------


def along_edge(y, **more):
    return Plate(rows=[level(1, y, 0.75, 11)], **more)


@pytest.mark.parametrize(
    ("shanks", "told_wide"), [(4 - 1e-3, False), (4, False), (4 + 1e-3, True), (5, True)]
)
def test_a_row_along_an_edge_is_wide_beyond_4_d(shanks, told_wide):
    audit = along_edge(shanks * D).audit()
    assert bool(audit.findings) is told_wide
    if told_wide:
        finding = only(audit)
        assert (finding.rule, finding.verdict) == ("edge.max", WIDE)
        assert (finding.limit, finding.other) == (4 * D, "outline")
        assert finding.measured == pytest.approx(shanks * D, abs=1e-12)
        assert finding.margin == pytest.approx((4 - shanks) * D, abs=1e-12)


@pytest.mark.parametrize(
    ("shanks", "told_wide"), [(7.5 - 1e-3, True), (7.5, True), (7.5 + 1e-3, False), (20, False)]
)
def test_a_row_farther_from_an_edge_than_neighbouring_rows_is_not_the_edges(shanks, told_wide):
    assert bool(along_edge(shanks * D).audit().findings) is told_wide


def test_a_set_whose_most_is_beyond_neighbouring_rows_is_followed(tmp_path):
    path = tmp_path / "far.toml"
    line = '[[rule]]\ncode = "edge.max"\nlimit = 8\nsource = "a note"\n'
    path.write_text(f'extends = "faa"\n{line}', encoding="utf-8")
    rules = load_rule_set(str(path))
    assert along_edge(7.9 * D).audit(rules).findings == ()
    assert only(along_edge(8.1 * D).audit(rules)).rule == "edge.max"


def test_a_wide_row_is_told_once_and_fails_nothing():
    audit = along_edge(0.6).audit()
    assert len(audit.findings) == 1
    assert not audit.fails
    assert set(audit.verdicts) == {OK}


def test_the_far_side_of_a_double_row_is_not_wide():
    near, far = level(1, 0.3, 0.75, 11), level(1.375, 0.68, 0.75, 10)
    assert Plate(rows=[near, far]).audit().findings == ()
    assert told(Plate(rows=[far]).audit()) == {("A1", "edge.max", WIDE)}


def test_a_single_hole_between_does_not_hide_that_a_row_is_wide():
    plate = Plate(rows=[level(1, 0.6, 0.75, 11)], singles=[(4.4, 0.25)])
    assert {f.rule for f in plate.audit().findings} == {"edge.max"}


def test_a_row_on_the_far_side_of_the_edge_does_not_hide_that_a_row_is_wide():
    near, beyond = level(1, 1.6, 0.75, 11), level(1, 0.7, 0.75, 11)
    plate = Plate(rows=[near, beyond], trim=[((0, 1), (10, 1))])
    found = findings(plate.audit(), "edge.max")
    assert [(f.hole, f.other) for f in found] == [("A1", "trim line")]


def test_a_row_that_leads_away_from_the_edge_is_not_wide():
    slanting = [(1 + 0.7 * i, 0.5 + 0.2 * i) for i in range(10)]
    assert Plate(rows=[slanting]).audit().findings == ()


def test_single_holes_far_from_an_edge_are_not_wide():
    assert Plate(singles=[(2, 2.5), (5, 2.5), (8, 2.5)]).audit().findings == ()


@pytest.mark.parametrize("turn", [0.0, np.pi / 2, 1.0])
def test_a_short_row_runs_along_no_edge_unless_it_is_level_with_it(turn):
    row = [(5 + 0.3 * i * np.cos(turn), 0.4 + 0.3 * i * np.sin(turn)) for i in range(3)]
    assert bool(Plate(rows=[row]).audit().findings) is (turn == 0.0)


def test_a_small_ring_amid_the_plate_runs_along_no_edge():
    assert ring(4 * D).audit().findings == ()


@pytest.mark.parametrize(("holes", "told_wide"), [(2, False), (3, False), (4, True), (12, True)])
def test_the_ends_of_a_row_may_come_near_another_edge(holes, told_wide):
    """Three holes at least have to be as far from the edge as the others."""
    row = level(0.45, 0.6, 0.75, holes)
    plate = Plate(rows=[row], size=(row[-1][0] + 1.0, 5))
    assert bool(plate.audit().findings) is told_wide


def test_a_ring_far_from_the_cutout_it_runs_round_is_wide_once():
    angles = 2 * np.pi * np.arange(12) / 12
    ring = [(5 + 1.6 * np.cos(a), 2.5 + 1.6 * np.sin(a)) for a in angles]
    plate = Plate(rows=[ring], closed="A", round_cutouts=[(5, 2.5, 1.0)])
    assert [(f.rule, f.other) for f in plate.audit().findings] == [("edge.max", "cutout 1")]


# pitch -----------------------------------------------------------------------------------------


def one_row(pitch):
    return Plate(rows=[level(1, 0.3, pitch, 6)])


def two_rows(pitch):
    return Plate(rows=[level(1, 0.3, pitch, 6), level(1 + pitch / 2, 0.3 + 4 * D, pitch, 6)])


def three_rows(pitch):
    third = level(1, 0.3 + 8 * D, pitch, 6)
    return Plate(rows=[*two_rows(pitch).rows, third])


PITCHES = {
    "one-row": (one_row, 3),
    "two-rows": (two_rows, 4),
    "three-rows": (three_rows, 3),
}


@by_case
@pytest.mark.parametrize("head", list(Head))
@pytest.mark.parametrize("rows", PITCHES)
def test_pitch_is_at_least_3_d_and_4_d_in_two_rows(rows, head, spare, verdict):
    plate, shanks = PITCHES[rows]
    audit = plate(shanks * D + spare).audit(head=head)
    found = findings(audit, "pitch")
    if verdict is OK:
        assert found == []
        return
    assert len(found) == 5 * len(audit.part.rows)
    for finding in found:
        assert finding.rule == f"pitch.min.{rows}"
        assert finding.verdict is (CLOSE if verdict is SHORT else verdict)
        assert finding.limit == shanks * D
        assert finding.measured == pytest.approx(shanks * D + spare, abs=1e-12)


def test_rows_too_far_apart_count_as_one_row_each():
    near = Plate(rows=[level(1, 0.3, 3.5 * D, 6), level(1, 0.3 + 7.5 * D, 3.5 * D, 6)])
    far = Plate(rows=[level(1, 0.3, 3.5 * D, 6), level(1, 0.3 + 7.6 * D, 3.5 * D, 6)])
    assert {f.rule for f in findings(near.audit(), "pitch")} == {"pitch.min.two-rows"}
    assert findings(far.audit(), "pitch") == []


def test_a_set_without_a_word_on_rows_has_one_least_pitch():
    assert findings(two_rows(3.5 * D).audit("navedtra"), "pitch") == []
    assert {f.rule for f in findings(two_rows(2.5 * D).audit("navedtra"), "pitch")} == {"pitch.min"}


def test_a_pair_too_close_in_a_row_is_told_once_as_pitch():
    row = [*level(1, 0.3, 0.5, 4), (2.5 + 2.5 * D, 0.3)]
    audit = Plate(rows=[row]).audit()
    finding = only(audit)
    assert (finding.hole, finding.other, finding.quantity) == ("A4", "A5", Quantity.PITCH)
    assert [verdict_of(audit, f"A{n}") for n in range(1, 6)] == [OK, OK, OK, CLOSE, CLOSE]


RING = 8


def ring(pitch, closed="A"):
    radius = pitch / 2 / np.sin(np.pi / RING)
    angles = 2 * np.pi * np.arange(RING) / RING
    row = [(5 + radius * np.cos(a), 2.5 + radius * np.sin(a)) for a in angles]
    return Plate(rows=[row], closed=closed)


def test_a_ring_has_as_many_pitches_as_holes_and_none_is_told_as_spacing():
    audit = ring(2.5 * D).audit()
    assert {f.rule for f in audit.findings} == {"pitch.min.one-row"}
    assert {(f.hole, f.other) for f in audit.findings} == {
        (f"A{n}", f"A{n % RING + 1}") for n in range(1, RING + 1)
    }


def test_the_ends_of_an_open_row_that_come_together_are_told_as_spacing():
    found = findings(ring(2.5 * D, closed="").audit(), "spacing")
    assert [(f.hole, f.other) for f in found] == [("A1", "A8")]


@pytest.mark.parametrize(
    ("shanks", "told_wide"), [(10 - 1e-3, False), (10, False), (10 + 1e-3, True), (15, True)]
)
def test_a_row_is_wide_beyond_10_d(shanks, told_wide):
    row = [*level(1, 0.3, 0.5, 3), *level(2 + shanks * D, 0.3, 0.5, 3)]
    audit = Plate(rows=[row]).audit()
    assert bool(audit.findings) is told_wide
    if told_wide:
        finding = only(audit)
        assert (finding.rule, finding.verdict) == ("pitch.max", WIDE)
        assert (finding.hole, finding.other) == ("A3", "A4")
        assert finding.measured == pytest.approx(shanks * D, abs=1e-12)
        assert (finding.limit, audit.fails, verdict_of(audit, "A3")) == (10 * D, False, OK)


def test_a_row_with_many_wide_pitches_is_told_once_at_the_widest():
    row = [(1, 0.3), (2.0, 0.3), (3.2, 0.3), (4.2, 0.3)]
    finding = only(Plate(rows=[row]).audit())
    assert (finding.hole, finding.other) == ("A2", "A3")
    assert finding.measured == pytest.approx(1.2)


def test_a_missing_hole_is_not_told_as_a_wide_pitch():
    row = [*level(1, 0.3, 0.75, 4), *level(4.75, 0.3, 0.75, 4)]
    assert findings(Plate(rows=[row]).audit(), "pitch") != []
    assert findings(Plate(rows=[row], missing={"A": (4,)}).audit(), "pitch") == []


def test_a_wide_pitch_is_told_where_it_is_and_not_at_an_equal_gap_with_a_hole_missing():
    row = [(1, 0.3), (2.5, 0.3), (3.0, 0.3), (3.5, 0.3), (5.0, 0.3)]
    finding = only(Plate(rows=[row], missing={"A": (1,)}).audit())
    assert (finding.rule, finding.hole, finding.other) == ("pitch.max", "A4", "A5")


def test_a_missing_hole_at_the_seam_of_a_ring_is_not_told_as_a_wide_pitch():
    angles = 2 * np.pi * np.arange(11) / 12
    row = [(5 + 1.5 * np.cos(a), 2.5 + 1.5 * np.sin(a)) for a in angles]
    assert findings(Plate(rows=[row], closed="A").audit(), "pitch") != []
    plate = Plate(rows=[row], closed="A", missing={"A": (11,)})
    assert findings(plate.audit(), "pitch") == []


# transverse pitch ------------------------------------------------------------------------------


@by_case
@pytest.mark.parametrize("head", list(Head))
def test_rows_are_at_least_two_and_a_half_d_apart(head, spare, verdict):
    apart = 2.5 * D + spare
    rows = [level(1, 0.3, 8 * D, 6), level(1 + 4 * D, 0.3 + apart, 8 * D, 6)]
    audit = Plate(rows=rows).audit(head=head)
    finding = checked(audit, "transverse.min", CLOSE if verdict is SHORT else verdict)
    if finding:
        assert finding.measured == pytest.approx(apart, abs=1e-12)
        assert {finding.hole[0], finding.other[0]} == {"A", "B"}
        assert (finding.limit, finding.diameter) == (2.5 * D, D)


def test_the_thicker_rivet_of_two_rows_sets_the_transverse_pitch():
    thin = level(1, 0.5, 8 * D, 6)
    thick = [At(x + 4 * D, 0.5 + 0.4, NUMBER_11) for x, _ in thin]
    (finding,) = findings(Plate(rows=[thin, thick]).audit(), "transverse")
    assert (finding.limit, finding.diameter, finding.verdict) == (2.5 * 3 / 16, 3 / 16, CLOSE)


# spacing ---------------------------------------------------------------------------------------


@by_case
@pytest.mark.parametrize("head", list(Head))
def test_any_two_holes_are_at_least_3_d_apart(head, spare, verdict):
    apart = 3 * D + spare
    audit = Plate(singles=[(5, 2), (5 + 0.6 * apart, 2 + 0.8 * apart)]).audit(head=head)
    finding = checked(audit, "spacing.min", CLOSE if verdict is SHORT else verdict)
    if finding:
        assert (finding.hole, finding.other, finding.limit) == ("X1", "X2", 3 * D)
        assert finding.measured == pytest.approx(apart, abs=1e-12)
        assert verdict_of(audit, "X1") is verdict_of(audit, "X2") is finding.verdict


@by_case
@pytest.mark.parametrize("larger_first", [True, False])
def test_a_larger_rivet_beside_a_smaller_one_sets_the_spacing(larger_first, spare, verdict):
    apart = 3 * 3 / 16 + spare
    sizes = (NUMBER_11, NUMBER_40) if larger_first else (NUMBER_40, NUMBER_11)
    audit = Plate(singles=[At(5, 2, sizes[0]), At(5 + apart, 2, sizes[1])]).audit()
    finding = checked(audit, "spacing.min", CLOSE if verdict is SHORT else verdict)
    if finding:
        assert (finding.limit, finding.diameter) == (3 * 3 / 16, 3 / 16)


def test_holes_of_two_rows_that_stand_close_are_told_as_spacing():
    rows = [level(1, 1, 0.75, 4), [(3.45, 1.05 + 0.75 * i) for i in range(4)]]
    found = findings(Plate(rows=rows).audit(), "spacing")
    assert [(f.hole, f.other) for f in found] == [("A4", "B1")]


def test_two_holes_on_one_place_are_close():
    finding = only(Plate(singles=[(5, 2), (5, 2)]).audit())
    assert (finding.measured, finding.verdict) == (0.0, CLOSE)


# tight -----------------------------------------------------------------------------------------


def test_a_set_without_a_layout_tolerance_tells_nothing_as_tight():
    rules = replace(load_rule_set("faa"), layout_tolerance=0.0)
    assert at_edge(2 * D).audit(rules).findings == ()
    assert only(at_edge(2 * D - HAIR).audit(rules)).verdict is SHORT


def test_a_tight_hole_fails_nothing():
    audit = at_edge(2 * D).audit()
    assert verdict_of(audit, "X1") is TIGHT
    assert not audit.fails


# sources ---------------------------------------------------------------------------------------


def test_checks_outside_the_rule_sets_name_their_source():
    assert source_of("hole.outside") == "geometry: the rim of a hole must lie in the metal"
    assert source_of("hole.max").startswith("MIL-HDBK-5H, par 8.1.2, p. 8-9")


def test_a_check_without_a_source_is_refused_with_those_that_have_one():
    with pytest.raises(TableError) as caught:
        source_of("hole.min")
    text = "checks.csv has no check 'hole.min'; choose from hole.breaks-out, hole.max, hole.outside"
    assert str(caught.value).startswith(text)
