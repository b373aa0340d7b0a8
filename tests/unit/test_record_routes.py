"""Routes, and the documentation of them: the page and the code say the same."""

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.model import HoleSize
from holeschedule.operations import Operation, PartOperation, Treatment
from holeschedule.record import verify
from holeschedule.record.events import ACCEPT, KINDS, MEASURE, REJECT, REPLACE, Fault, Measure
from holeschedule.record.routes import (
    LEADS_TO,
    START,
    STEPS,
    Drawn,
    HoleFacts,
    Stage,
    is_through,
    operations_left,
    route,
)

PAGE = (Path(__file__).parents[2] / "docs" / "record.md").read_text(encoding="utf-8")
FACTS = st.builds(HoleFacts, st.sampled_from(Drawn), st.sampled_from(Treatment), st.booleans())


def table(*heads):
    """Rows of the table on the page that has these heads."""
    head = "| " + " | ".join(heads) + " |\n"
    lines = PAGE.split(head, 1)[1].split("\n\n", 1)[0].splitlines()[1:]
    return [tuple(cell.strip() for cell in line.strip("|").split("|")) for line in lines]


def names(facts):
    return [str(operation) for operation in route(facts)]


def test_the_documented_table_of_operations_is_the_one_in_force():
    rows = [(str(step.operation), step.needed_when, str(step.leads_to)) for step in STEPS]
    assert table("operation", "needed when", "state after") == rows


def test_the_documented_starts_are_those_in_force():
    rows = [(str(drawn), str(stage)) for drawn, stage in START.items()]
    assert table("drawn", "state at the start") == rows


def test_the_documented_part_operations_are_those_in_force():
    assert table("operation") == [(str(operation),) for operation in PartOperation]


def test_the_documented_events_are_those_in_force():
    rows = {row[0]: row for row in table("event", "about", "needs", "does")}
    others = KINDS.keys() - {*Operation, *PartOperation}
    assert rows.keys() == others
    assert rows[REJECT][2] == "a reason: " + ", ".join(Fault)
    assert rows[MEASURE][3] == ", ".join(Measure)
    assert {what for what in others if KINDS[what].has_note} == {ACCEPT, REPLACE}
    assert {what for what, row in rows.items() if row[2].startswith("a note")} == {ACCEPT, REPLACE}


def test_the_documented_problems_are_those_that_verify_can_find():
    source = Path(verify.__file__).read_text(encoding="utf-8")
    used = set(re.findall(r'Problem\(\s*"(\w+)"', source))
    assert {row[0] for row in table("code", "problem")} == used
    assert all(code in verify.Problem.__doc__ for code in used)


@pytest.mark.parametrize(
    ("drawn", "treatment", "expected"),
    [
        (Drawn.NONE, Treatment.PLAIN, "drill match-drill deburr rivet"),
        (Drawn.PILOT, Treatment.PLAIN, "match-drill deburr rivet"),
        (Drawn.FINAL, Treatment.PLAIN, "deburr rivet"),
        (Drawn.PILOT, Treatment.DIMPLE, "match-drill deburr dimple rivet"),
        (Drawn.FINAL, Treatment.COUNTERSINK, "deburr countersink rivet"),
    ],
)
def test_a_route_follows_from_the_drawing_and_the_treatment(drawn, treatment, expected):
    assert names(HoleFacts(drawn, treatment)) == expected.split()


def test_a_hole_without_a_rivet_ends_before_it():
    facts = HoleFacts(Drawn.FINAL, takes_rivet=False)
    assert names(facts) == ["deburr"]
    assert operations_left(facts, Stage.DEBURRED) == ()


def test_words_of_the_drawing_stage_are_understood_as_they_are():
    assert route(HoleFacts(HoleSize.FINAL)) == route(HoleFacts(Drawn.FINAL))
    assert START[HoleSize.PILOT] is Stage.PILOT


@pytest.mark.parametrize(
    ("stage", "through"),
    [(Stage.DEBURRED, False), (Stage.DIMPLED, True), (Stage.RIVETED, True)],
)
def test_a_hole_is_through_when_only_the_rivet_is_left(stage, through):
    assert is_through(HoleFacts(Drawn.PILOT, Treatment.DIMPLE), stage) is through


@given(FACTS)
def test_a_route_taken_in_order_leads_from_the_start_to_its_end(facts):
    stage = START[facts.drawn]
    for operation in route(facts):
        assert operations_left(facts, stage)[0] is operation
        assert LEADS_TO[operation].level > stage.level
        stage = LEADS_TO[operation]
    assert operations_left(facts, stage) == ()
