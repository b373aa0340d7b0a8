"""Findings of a part, sorted worst first, counted, and no hole told of twice."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from holeschedule.audit.report import audit_part
from holeschedule.audit.rules import load_rule_set
from holeschedule.model import Head, Quantity, Verdict
from tests.plates import NUMBER_40, At, D, Plate, at_edge, level, told, verdict_of

MESSY = Plate(
    rows=[level(1, 0.3, 2.9 * D, 3), level(3, 0.5, 0.75, 6)],
    singles=[
        (9.0, -1.0),  # outside
        (9.5, 0.01),  # breaks out
        (0.15, 4.0),  # short
        (0.17, 3.0),  # short, by less
        (9.8, 3.0),  # tight
        (5.0, 3.0),
        (5.0, 3.2),  # close to the one before
        At(7.0, 3.0, 0.2),  # oversize for the rivet stated
    ],
)
"""A plate with every verdict, once the rivet is stated."""


@pytest.fixture(scope="module")
def messy():
    return MESSY.audit(rivet="3/32")


OF_JOINTS = {
    Verdict.MISALIGNED,
    Verdict.FIGURE_EIGHT,
    Verdict.THIN,
    Verdict.BREAKS_THROUGH,
}
"""Verdicts that no part has by itself."""


def test_every_verdict_of_a_part_is_among_the_messy_plate_s_findings(messy):
    assert {f.verdict for f in messy.findings} == set(Verdict) - {Verdict.OK} - OF_JOINTS


def test_findings_are_sorted_by_verdict_and_then_by_what_is_lacking(messy):
    severity = [f.verdict.severity for f in messy.findings]
    assert severity == sorted(severity, reverse=True)
    for _, alike in itertools.groupby(messy.findings, key=lambda f: f.verdict):
        lacking = [round(f.margin / f.diameter, 9) for f in alike]
        assert lacking == sorted(lacking)


def test_the_order_of_severity():
    worst_last = [
        *("ok", "wide", "tight", "close", "short", "oversize"),
        *("misaligned", "figure-eight", "thin", "breaks through", "breaks out", "outside"),
    ]
    assert [str(v) for v in sorted(Verdict, key=lambda v: v.severity)] == worst_last
    assert [v for v in Verdict if not v.fails] == [Verdict.OK, Verdict.WIDE, Verdict.TIGHT]


def test_equal_findings_are_told_in_the_order_of_their_labels():
    plate = Plate(rows=[level(0.5, 0.15, 0.75, 12)])
    labels = [f.hole for f in plate.audit().findings]
    assert labels == [f"A{n}" for n in range(1, 13)]


def test_noise_does_not_change_the_order_of_equal_findings():
    noise = np.random.default_rng(3).uniform(-1e-12, 1e-12, 12)
    row = [(x, y + n) for (x, y), n in zip(level(0.5, 0.15, 0.75, 12), noise, strict=True)]
    labels = [f.hole for f in Plate(rows=[row]).audit().findings]
    assert labels == [f"A{n}" for n in range(1, 13)]


def test_a_hole_s_verdict_is_its_worst_finding():
    plate = Plate(singles=[(5.0, 2 * D), (5.0, 2 * D + 2.5 * D), (0.1, 2 * D + 2.5 * D)])
    audit = plate.audit()
    assert told(audit) == {
        ("X1", "edge.min.protruding", Verdict.TIGHT),
        ("X1", "spacing.min", Verdict.CLOSE),
        ("X3", "edge.min.protruding", Verdict.SHORT),
    }
    assert list(audit.verdicts) == [Verdict.CLOSE, Verdict.CLOSE, Verdict.SHORT]


def test_verdict_counts_add_up_to_the_holes(messy):
    assert messy.counts.total() == len(messy.part.holes) == len(messy.verdicts)
    assert messy.counts[Verdict.OUTSIDE] == messy.counts[Verdict.BREAKS_OUT] == 1


def test_a_wide_row_leaves_the_verdicts_of_its_holes(messy):
    assert [f.hole for f in messy.findings if f.verdict is Verdict.WIDE] == ["B1"]
    assert verdict_of(messy, "B1") is Verdict.OK


def test_rows_too_near_each_other_are_so_with_all_their_holes():
    rows = [level(1, 0.3, 0.75, 6), level(1.375, 0.5, 0.75, 4)]
    audit = Plate(rows=rows, singles=[(9, 4)]).audit()
    (finding,) = [f for f in audit.findings if f.quantity is Quantity.TRANSVERSE_PITCH]
    assert finding.verdict is Verdict.CLOSE
    assert list(audit.verdicts) == [Verdict.CLOSE] * 10 + [Verdict.OK]


def test_no_finding_is_told_twice(messy):
    keys = [(f.rule, f.hole, f.other) for f in messy.findings]
    pairs = [frozenset((f.hole, f.other)) for f in messy.findings if f.quantity in PAIRS]
    assert len(keys) == len(set(keys))
    assert len(pairs) == len(set(pairs))


PAIRS = {Quantity.PITCH, Quantity.SPACING}


@pytest.mark.parametrize(
    ("plate", "fails"),
    [
        (at_edge(1.0), False),
        (at_edge(2 * D), False),
        (Plate(rows=[level(1, 0.5, 0.75, 8)]), False),
        (at_edge(1.9 * D), True),
        (at_edge(0.0), True),
        (at_edge(-1.0), True),
        (Plate(singles=[(5, 2), (5, 2.2)]), True),
    ],
    ids=["ok", "tight", "wide", "short", "breaks out", "outside", "close"],
)
def test_an_audit_fails_when_a_rule_is_missed_and_not_for_tight_or_wide(plate, fails):
    assert plate.audit().fails is fails


def test_an_audit_without_intent_takes_rivet_and_head_from_the_drawing():
    part = at_edge(1.9 * D).part()
    assert audit_part(part, load_rule_set("faa")).findings == at_edge(1.9 * D).audit().findings


def test_every_finding_names_a_rule_of_the_set_or_the_geometry_and_its_source():
    rules = load_rule_set("faa")
    own = {rule.code: rule.source for rule in rules.rules}
    for finding in MESSY.audit(rules, rivet="3/32", head=Head.FLUSH).findings:
        if finding.rule not in {"hole.breaks-out", "hole.outside", "hole.max"}:
            assert finding.source == own[finding.rule]
        assert finding.source


def test_a_set_without_rules_for_a_quantity_tells_nothing_of_it():
    rules = load_rule_set("faa")
    edge_only = replace(
        rules, rules=tuple(r for r in rules.rules if r.quantity is Quantity.EDGE_DISTANCE)
    )
    audit = MESSY.audit(edge_only, rivet="3/32")
    expected = {Quantity.EDGE_DISTANCE, Quantity.RIM, Quantity.DIAMETER}
    assert {f.quantity for f in audit.findings} == expected


def test_an_audit_of_holes_of_many_sizes_finds_the_rivet_of_each():
    plate = Plate(singles=[At(1 + i, 2.5, NUMBER_40 + i / 50) for i in range(8)])
    audit = plate.audit()
    names = [audit.measured.rivet_of(i).rivet.name for i in range(8)]
    assert names == ["3/32", "1/8", "5/32", "5/32", "3/16", "1/4", "1/4", "1/4"]
