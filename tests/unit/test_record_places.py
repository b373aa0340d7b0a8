"""Places of joints: named, written, and what each layer waits for at them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.errors import SelectionError
from holeschedule.operations import Operation, PartOperation, Treatment
from holeschedule.record.events import EntryDraft, Request
from holeschedule.record.judge import GATES, Obstacle
from holeschedule.record.needs import HoleNeeds, PartNeeds
from holeschedule.record.places import (
    JointPlace,
    Places,
    gate_of_joints,
    write_places,
)
from holeschedule.record.plan import plan_marks
from holeschedule.record.ready import ready_work
from holeschedule.record.routes import Drawn
from holeschedule.record.store import open_record
from holeschedule.selection import Pick, parse_selection
from tests.records import Clock, drawn_row, import_draft, without_waiting

SKIN = HoleNeeds(Treatment.DIMPLE, final_drill="#40", rivet="3/32")
LEAF = HoleNeeds(final_drill="#40", rivet="3/32", guided=True)
NEEDS = {"SKIN": PartNeeds(holes=SKIN), "LEAF": PartNeeds(2, holes=LEAF)}


def place(number, *picks, rivet="MS20426AD3-4"):
    return JointPlace("J1", number, tuple(Pick(*pick) for pick in picks), rivet)


PLACES = Places(
    {
        "J1": [
            place(1, ("SKIN", 1, "A1"), ("LEAF", 2, "B1")),
            place(2, ("SKIN", 1, "A2"), ("LEAF", 2, "B2")),
            place(3, ("SKIN", 1, "A3")),
        ]
    }
)


class Shop:
    """A skin with row A drawn as pilots, and two leaves whose row B is not drawn."""

    def __init__(self, folder):
        self.record = open_record(folder / "record.sqlite", create=True, clock=Clock())
        self.gates = (*GATES, gate_of_joints(PLACES, GATES))
        self.needs = dict(NEEDS)
        self.record.append(import_draft("SKIN", drawn_row("A", 4)), self.needs)
        blank = drawn_row("B", 3, drawn=Drawn.NONE)
        self.record.append(import_draft("LEAF", blank), self.needs)

    def mark(self, what, *picks):
        asked = (Request(what, PLACES.with_layers(Pick(*pick) for pick in picks)),)
        return self.record.append(EntryDraft("mark", "Ada", asked), self.needs, self.gates)

    def refusals(self, what, *picks):
        done = self.mark(what, *picks)
        assert done.entry is None
        return {obstacle[:2] for _, obstacle in done.plans[0].refused}

    def offered(self):
        work = ready_work(self.record.states(), self.needs, self.gates, PLACES)
        return {
            (str(group.operation), group.tool, group.selections, group.total)
            for group in work.ready
        }


@pytest.fixture
def shop(tmp_path, monkeypatch):
    without_waiting(monkeypatch)
    made = Shop(tmp_path)
    yield made
    made.record.close()


def through(shop):
    shop.mark("match-drill", ("SKIN", 1, "A1"), ("SKIN", 1, "A2"))
    for layer in (("SKIN", 1, "A1"), ("LEAF", 2, "B1")):
        asked = (Request("deburr", (Pick(*layer),)),)
        shop.record.append(EntryDraft("mark", "Ada", asked), shop.needs, shop.gates)


# Naming ----------------------------------------------------------------------------------------


def test_places_are_chosen_by_their_numbers():
    (whole,) = parse_selection("J1")
    (some,) = parse_selection("J1:2-3")
    assert [p.number for p in PLACES.chosen(whole)] == [1, 2, 3]
    assert [p.number for p in PLACES.chosen(some)] == [2, 3]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("J2", "there is no joint J2; the joints are J1. Define one: join."),
        ("J1:4", "J1 has no place 4; it has places 1 to 3."),
    ],
)
def test_what_is_not_there_is_told_with_what_is(text, said):
    (selection,) = parse_selection(text)
    with pytest.raises(SelectionError, match=f"^selection '{text}': {said}"):
        PLACES.chosen(selection)


@given(st.sets(st.integers(1, 40), min_size=1))
def test_written_places_are_read_back_as_the_same(numbers):
    (text,) = write_places(place(number) for number in numbers)
    many = Places({"J1": [place(number) for number in range(1, 41)]})
    found = [p.number for piece in parse_selection(text) for p in many.chosen(piece)]
    assert found == sorted(numbers)


def test_a_hole_brings_the_other_layers_of_its_place_and_one_in_no_joint_only_itself():
    found = PLACES.with_layers([Pick("SKIN", 1, "A1"), Pick("SKIN", 1, "A4")])
    assert found == (Pick("SKIN", 1, "A1"), Pick("SKIN", 1, "A4"), Pick("LEAF", 2, "B1"))
    assert PLACES.with_layers([Pick("LEAF", 1, "B1")]) == (Pick("LEAF", 1, "B1"),)


# At a place ------------------------------------------------------------------------------------


def test_match_drilling_a_place_drills_the_blank_layer_through(shop):
    assert shop.mark("match-drill", ("SKIN", 1, "A1")).entry is not None
    states = shop.record.states()
    assert str(states["SKIN"].stage(1, "A1")) == "match-drilled"
    assert str(states["LEAF"].stage(2, "B1")) == "match-drilled"
    assert str(states["LEAF"].stage(1, "B1")) == "undrilled"


def test_nothing_is_deburred_before_the_drill_went_through_every_layer(shop):
    shop.record.append(
        EntryDraft("mark", "Ada", (Request("match-drill", (Pick("SKIN", 1, "A1"),)),)),
        shop.needs,
        GATES,  # before the joint was defined
    )
    assert shop.refusals("deburr", ("SKIN", 1, "A1")) == {
        (
            "waits for the drill: LEAF#2 is not drilled through in the same place",
            "first match-drill it there",
        ),
        ("is undrilled; deburr comes later", "first match-drill"),
    }


def test_a_rivet_waits_for_every_layer_and_says_for_which(shop):
    through(shop)
    assert shop.refusals("rivet", ("SKIN", 1, "A1")) == {
        ("is deburred; rivet comes later", "first dimple"),
        ("waits for SKIN in the same place, which is deburred; rivet comes later", "first dimple"),
    }
    asked = (Request("dimple", (Pick("SKIN", 1, "A1"),)),)
    shop.record.append(EntryDraft("mark", "Ada", asked), shop.needs, shop.gates)
    assert shop.mark("rivet", ("LEAF", 2, "B1")).entry is not None
    assert str(shop.record.states()["SKIN"].stage(1, "A1")) == "riveted"


def test_the_primer_of_one_layer_holds_up_the_rivet_of_all(shop):
    leaf = NEEDS["LEAF"]._replace(operations=(PartOperation.PRIME,))
    shop.needs["LEAF"] = leaf
    through(shop)
    asked = (Request("dimple", (Pick("SKIN", 1, "A1"),)),)
    shop.record.append(EntryDraft("mark", "Ada", asked), shop.needs, shop.gates)
    assert shop.refusals("rivet", ("SKIN", 1, "A1")) == {
        ("waits for the primer on the part", "first prime LEAF#2"),
        (
            "waits for LEAF#2 in the same place, which waits for the primer on the part",
            "first prime LEAF#2",
        ),
    }


def test_next_offers_places_by_their_joint_and_the_rest_by_its_part(shop):
    assert shop.offered() == {
        ("match-drill", "#40", ("J1:1-3",), 3),
        ("match-drill", "#40", ("LEAF#1", "LEAF#2:B3", "SKIN:A4"), 5),
    }
    through(shop)
    assert ("dimple", "3/32", ("SKIN:A1",), 1) in shop.offered()
    asked = (Request("dimple", (Pick("SKIN", 1, "A1"),)),)
    shop.record.append(EntryDraft("mark", "Ada", asked), shop.needs, shop.gates)
    assert ("rivet", "MS20426AD3-4", ("J1:1",), 1) in shop.offered()


HOLES = [("SKIN", 1, "A1"), ("SKIN", 1, "A2"), ("LEAF", 2, "B1"), ("LEAF", 2, "B2")]
FAULTS = {"reject": "cracked"}
WHAT = st.sampled_from([*map(str, Operation), "rivet", "reject", "accept", "drill out", "replace"])
WORK = st.lists(st.tuples(WHAT, st.sampled_from(HOLES), st.booleans(), st.booleans()), max_size=14)


def do(shop, what, pick, as_found, partial):
    """Record anything as the command line does, at every layer where that is its way."""
    picks = (Pick(*pick),)
    if what in {"match-drill", "rivet", "drill out"}:
        picks = PLACES.with_layers(picks)
    elif what == "replace":
        picks = (Pick(*pick[:2]),)
    asked = (Request(what, picks, FAULTS.get(what, ""), as_found=as_found and what in OPERATIONS),)
    draft = EntryDraft("work", "Ada", asked, note="so it was", partial=partial)
    shop.record.append(draft, shop.needs, shop.gates)


OPERATIONS = set(map(str, Operation))


@settings(max_examples=60)
@given(WORK)
def test_whatever_is_done_next_offers_only_what_is_taken_and_no_place_is_half_riveted(
    tmp_path_factory, work
):
    shop = Shop(tmp_path_factory.mktemp("bay"))
    for step in work:
        do(shop, *step)
        states = shop.record.states()
        for held in PLACES.joints["J1"]:
            layers = {str(states[part].stage(copy, label)) for part, copy, label in held.picks}
            assert "riveted" not in layers or len(layers) == 1
    states = shop.record.states()
    for group in ready_work(states, shop.needs, shop.gates, PLACES).ready:
        pieces = [piece for text in group.selections for piece in parse_selection(text)]
        if group.at_places:
            chosen = [held for piece in pieces for held in PLACES.chosen(piece)]
            picks = PLACES.with_layers(pick for held in chosen for pick in held.picks)
            plan = plan_marks(states, shop.needs, picks, group.operation, gates=shop.gates)
            assert plan.accepted
            assert not plan.refused
    shop.record.close()


def test_an_obstacle_that_lasts_in_one_layer_lasts_for_the_place(shop):
    asked = (Request("reject", (Pick("SKIN", 1, "A1"),), "cracked"),)
    shop.record.append(EntryDraft("reject", "Ada", asked), shop.needs, shop.gates)
    done = shop.mark("match-drill", ("LEAF", 2, "B1"))
    assert done.entry is None
    assert all(isinstance(o, Obstacle) and o.lasting for _, o in done.plans[0].refused)
