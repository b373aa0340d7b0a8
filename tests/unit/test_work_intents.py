"""What each hole needs, from build.toml and the drawn hole."""

from datetime import datetime

import pytest

from holeschedule.build.intent import parse_intent
from holeschedule.errors import RecordError
from holeschedule.operations import PartOperation, Treatment
from holeschedule.record.drawn import Change, HoleChange
from holeschedule.record.judge import GATES
from holeschedule.record.needs import PartNeeds
from holeschedule.record.routes import Drawn
from holeschedule.work.intents import derive_intents, drawn_as
from holeschedule.work.marking import split_words
from holeschedule.work.opened import time_of, worker

HEAD = 'units = "in"\n[[part]]\nid = "P"\ndrawing = "p.dxf"\n'


def hole(label, diameter):
    drawn = Drawn.NONE if diameter is None else Drawn.PILOT
    return HoleChange("P", 1, label, Change.ADD, 0.0, 0.0, diameter, drawn)


def intents_of(text, *holes):
    intent = parse_intent(HEAD + text, "build.toml")
    return derive_intents(intent, {"P": {held.label: held for held in holes}})


def need_of(text, diameter, label="A1"):
    return intents_of(text, hole(label, diameter)).needs["P"].hole(label)


@pytest.mark.parametrize(
    ("diameter", "rivet", "drill", "drawn"),
    [
        (0.098, "3/32", "#40", Drawn.FINAL),
        (0.1285, "1/8", "#30", Drawn.FINAL),
        (0.082, "3/32", "#40", Drawn.PILOT),
        (0.110, "1/8", "#30", Drawn.PILOT),
    ],
)
def test_the_rivet_follows_from_the_hole(diameter, rivet, drill, drawn):
    need = need_of("", diameter)
    assert (need.rivet, need.final_drill, need.drawn) == (rivet, drill, drawn)
    assert need.takes_rivet


def test_a_stated_rivet_makes_a_hole_of_the_next_size_down_a_pilot():
    need = need_of('rivet = "1/8"', 0.098)
    assert (need.rivet, need.final_drill, need.drawn) == ("1/8", "#30", Drawn.PILOT)


@pytest.mark.parametrize(
    ("diameter", "drawn"),
    [(0.1269, Drawn.PILOT), (0.1270, Drawn.FINAL), (0.1285, Drawn.FINAL), (0.140, Drawn.FINAL)],
)
def test_final_size_begins_a_tolerance_below_the_smallest_final_hole(diameter, drawn):
    assert drawn_as(diameter, "1/8") is drawn


def test_a_hole_of_the_very_shank_is_a_pilot():
    assert drawn_as(0.125, "1/8") is Drawn.PILOT


def test_holes_that_take_no_rivet_are_deburred_and_that_is_all():
    for need in (need_of('rivet = "none"', 0.098), need_of("", 0.4)):
        assert not need.takes_rivet
        assert need.drawn is Drawn.FINAL
        assert need.treatment is Treatment.PLAIN


@pytest.mark.parametrize(
    ("thickness", "treatment"),
    [
        (0.032, Treatment.DIMPLE),
        (0.040, Treatment.DIMPLE),
        (0.050, Treatment.COUNTERSINK),
        (0.063, Treatment.COUNTERSINK),
    ],
)
def test_flush_holes_are_dimpled_or_countersunk_by_the_sheet(thickness, treatment):
    text = f'head = "flush"\nthickness = {thickness}'
    assert need_of(text, 0.1285).treatment is treatment


def test_a_wedge_is_countersunk_by_where_it_is_thinnest():
    assert need_of('head = "flush"\ntaper = "A1=0.10, A2=0.05"', 0.1285).treatment is (
        Treatment.COUNTERSINK
    )
    text = 'head = "flush"\ntaper = "A1=0.10, A2=0.045"'
    assert intents_of(text, hole("A1", 0.1285)).undecided == {"P": {"A1"}}


@pytest.mark.parametrize("text", ['head = "flush"\nthickness = 0.045', 'head = "flush"'])
def test_where_the_sheet_does_not_tell_the_treatment_is_to_be_chosen(text):
    intents = intents_of(text, hole("A1", 0.1285), hole("A2", 0.1285))
    assert intents.undecided == {"P": {"A1", "A2"}}
    assert len(intents.gates) == len(GATES) + 1
    (notice,) = intents.notices
    assert notice.startswith("P: 1/8 flush rivets")


def test_what_is_said_of_some_holes_counts_for_them_alone():
    text = '[[part.holes]]\nselect = "B"\ntreatment = "countersink"\nrivet = "1/8"'
    intents = intents_of(text, *(hole(label, 0.098) for label in ("A1", "A2", "B1")))
    needs = intents.needs["P"]
    assert needs.holes == needs.hole("A1")
    assert needs.by_label.keys() == {"B1"}
    assert needs.hole("B1").treatment is Treatment.COUNTERSINK
    assert needs.hole("B1").drawn is Drawn.PILOT
    assert intents.gates == GATES


@pytest.mark.parametrize("finish", ["prime", "prime faying"])
def test_a_primed_part_is_asked_for_its_primer(finish):
    assert intents_of(f'finish = "{finish}"').needs["P"].operations == (PartOperation.PRIME,)
    assert intents_of('finish = "none"\nquantity = 3').needs["P"] == PartNeeds(3)


# words, times, names ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "split"),
    [
        (["A:C", "deburr"], ("A:C", "deburr")),
        (["A:C", "B", "Match-Drill"], ("A:C B", "match-drill")),
        (["A", "deburr", "edges"], ("A", "deburr edges")),
        (["A", "deburr edges"], ("A", "deburr edges")),
        (["A", "deburr-edges"], ("A", "deburr edges")),
    ],
)
def test_the_operation_stands_last(words, split):
    assert split_words(words) == split


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("2026-03-04", "2026-03-04 12:00"),
        ("2026-03-05", "2026-03-05 09:15"),
        ("08:30", "2026-03-05 08:30"),
        ("2026-03-04 16:30", "2026-03-04 16:30"),
        ("2026-03-04T16:30", "2026-03-04 16:30"),
    ],
)
def test_a_time_is_read_as_a_builder_writes_it(text, read):
    found = time_of(text, datetime(2026, 3, 5, 9, 15).astimezone())
    assert f"{found:%Y-%m-%d %H:%M}" == read
    assert found.tzinfo is not None


def test_no_time_is_none_and_nonsense_is_refused():
    assert time_of(None) is None
    with pytest.raises(RecordError, match="'lunch': is no time"):
        time_of("lunch")


def test_the_one_who_says_so_works(monkeypatch):
    monkeypatch.setenv("HOLESCHEDULE_BY", "Ada")
    assert (worker("Ben"), worker(None)) == ("Ben", "Ada")
    monkeypatch.setenv("HOLESCHEDULE_BY", "  ")
    assert worker(None).strip()
    for key in ("HOLESCHEDULE_BY", "LOGNAME", "USER", "USERNAME"):
        monkeypatch.delenv(key, raising=False)
    assert worker(None)
