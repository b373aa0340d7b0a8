"""Ticks in a workbook and marks on the command line come to the same."""

from __future__ import annotations

import shutil
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.cli import run
from holeschedule.operations import Operation, PartOperation
from holeschedule.record.events import EntryDraft, Request
from holeschedule.selection import Pick
from holeschedule.views.checklist_read import read_checklist
from holeschedule.views.checklist_ticks import read_mark
from holeschedule.views.checklist_write import write_checklist
from holeschedule.work.collecting import propose, record_proposal
from holeschedule.work.listing import checklist_of
from holeschedule.work.opened import open_build
from tests.makers import plate_drawing, row_of, save
from tests.workbooks import mangle, tick

DAY = (datetime.now(UTC) - timedelta(days=3)).date()
ALL_TICKS = ("x", "X", "✓", "yes", True, 1, DAY, DAY.isoformat(), f"{DAY:%d %b %Y}")
PILOT = 0.0825


@pytest.fixture(scope="module")
def build(tmp_path_factory):
    """Two parts, one of them twice and to be primed; some work is done on them."""
    folder = tmp_path_factory.mktemp("build")
    holes = row_of(0.5, 0.5, 0.75, 3)
    save(plate_drawing(holes=holes, diameter=PILOT), folder, "p-1.dxf")
    save(plate_drawing(holes=holes), folder, "p-2.dxf")
    bay = folder / "bay"
    for words in (
        ["new", bay],
        ["import", folder / "p-1.dxf", "--thickness", "0.032", "--head", "flush"],
        ["import", folder / "p-2.dxf", "--quantity", "2", "--finish", "prime"],
        ["mark", "P-1:A1", "match-drill"],
        ["mark", "P-2#2", "deburr"],
    ):
        where = [] if words[0] == "new" else ["--build", bay, "--by", "Ada"]
        assert run(list(map(str, [*words, *where]))) == 0
    return bay


def states(opened):
    return opened.record.states()


def mark(opened, what, pick):
    """Record one operation as `mark` does; whether it was new."""
    draft = EntryDraft("mark", "Ada", (Request(what, (pick,)),))
    intents = opened.intents
    return opened.record.append(draft, intents.needs, intents.gates).entry is not None


HOLES = [
    *(Pick("P-1", 1, f"A{n}") for n in (1, 2, 3)),
    *(Pick("P-2", copy, f"A{n}") for copy in (1, 2) for n in (1, 2, 3)),
]
PIECES = [Pick("P-1", 1), Pick("P-2", 1), Pick("P-2", 2)]
ASKED = st.one_of(
    st.tuples(st.sampled_from([str(o) for o in Operation]), st.sampled_from(HOLES)),
    st.tuples(st.sampled_from([str(o) for o in PartOperation]), st.sampled_from(PIECES)),
)


def cell_of(what, pick):
    """Sheet, row and column of a tick."""
    if not pick.label:
        quantity = 2 if pick.part == "P-2" else 1
        return "part operations", pick.part + (f"#{pick.copy}" if quantity > 1 else ""), what
    return pick.part, pick.label if pick.copy == 1 else f"#{pick.copy}:{pick.label}", what


@settings(max_examples=8)
@given(
    asked=st.lists(ASKED, min_size=1, max_size=40),
    values=st.lists(st.sampled_from(ALL_TICKS), min_size=1, max_size=5),
    seed=st.integers(0, 1000),
)
def test_ticks_that_marking_would_take_give_the_states_of_marking(build, asked, values, seed):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        marked, ticked = folder / "marked", folder / "ticked"
        for copy in (marked, ticked):
            shutil.copytree(build, copy)
        with open_build(str(marked)) as opened:
            taken = [(what, pick) for what, pick in asked if mark(opened, what, pick)]
            wanted = states(opened)
        path = folder / "in.xlsx"
        with open_build(str(ticked)) as opened:
            write_checklist(path, checklist_of(opened), replace=False)
            ticks = {cell_of(*one): values[n % len(values)] for n, one in enumerate(taken)}
            tick(path, ticks)
            sheets = read_checklist(mangle(path, seed))
            proposal = propose(opened, path.name, sheets)
            assert proposal.listed == ()
            assert len(proposal.accepted) == len(taken)
            if taken:
                record_proposal(opened, proposal, "Ada")
            assert states(opened) == wanted
            again = propose(opened, path.name, sheets)
            assert (again.accepted, again.listed, again.already) == ((), (), len(taken))


@settings(max_examples=6)
@given(asked=st.lists(ASKED, min_size=1, max_size=20), seed=st.integers(0, 1000))
def test_whatever_is_ticked_what_is_not_listed_is_recorded(build, asked, seed):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        bay, path = folder / "bay", folder / "in.xlsx"
        shutil.copytree(build, bay)
        with open_build(str(bay)) as opened:
            listed = checklist_of(opened)
            columns = {part.name: {c.name for c in part.table().columns} for part in listed.parts}
            there = {one for one in asked if not one[1].label or one[0] in columns[one[1].part]}
            write_checklist(path, listed, replace=False)
            tick(path, {cell_of(*one): "x" for one in there})
            before = states(opened)
            proposal = propose(opened, path.name, read_checklist(path))
            accepted = {(t.what, t.pick) for t in proposal.accepted}
            refused = {(one.what, one.name) for one in proposal.listed}
            assert accepted | refused <= there
            assert not accepted & refused
            assert states(opened) == before
            if accepted:
                number = record_proposal(opened, proposal, "Ada")
                assert opened.record.head().number == number


@settings(max_examples=50)
@given(st.text(max_size=40) | st.floats() | st.integers() | st.booleans() | st.datetimes())
def test_any_value_of_a_cell_is_a_tick_or_none_or_says_why(value):
    mark = read_mark(value)
    assert mark is None or mark.day is None or not mark.problem
