"""What joints mean to the record: places, what each hole needs, holes to come, what waits."""

from typing import cast

import pytest

from holeschedule.audit.rules import load_rule_set
from holeschedule.holes.alignment import Alignment
from holeschedule.operations import Operation, Treatment
from holeschedule.record.drawn import Change, HoleChange, Revision
from holeschedule.record.places import JointPlace, Places, Unlaid
from holeschedule.record.routes import Drawn
from holeschedule.selection import Pick
from holeschedule.work.intents import derive_intents
from holeschedule.work.joining import HoleInJoint, imports_for, join_up, lay_joints, rules_of
from holeschedule.work.keeping import keep_intents
from holeschedule.work.kept import kept_intents
from tests.joints import BUILD, Parts, build_of, written
from tests.plates import Plate, level

LOW, HIGH = level(1, 1, 0.75, 4), level(1.2, 3, 0.7, 4)
CAP = 'CAP by = "B1=A1, B4=A4"; flip = false'
BY_SHIFT = 'CAP shift = "0, 0"'


def parts(**more):
    found = {"SKIN": Plate(rows=[LOW, HIGH]).part(), "CAP": Plate(rows=[HIGH]).part()}
    return Parts(**{**found, **more})


def recorded(drawn, **planned):
    """Holes as the record has them: those drawn, and the planned ones, by part and label."""
    found = {
        name: {
            hole.label: HoleChange(
                name, n, hole.label, Change.ADD, hole.x, hole.y, hole.diameter, Drawn.FINAL
            )
            for n, hole in enumerate(part.holes, 1)
        }
        for name, part in drawn.items()
    }
    for name, spots in planned.items():
        for number, (label, (x, y)) in enumerate(spots.items(), len(found[name]) + 1):
            change = HoleChange(name, number, label, Change.ADD, x, y, None, Drawn.NONE)
            found[name][label] = change
    return found


def join(*joints, drawn=None, build=BUILD, **planned):
    drawn = parts() if drawn is None else drawn
    intent = build_of(*joints, parts=build)
    laid, unlaid = lay_joints(drawn, intent, load_rule_set("faa"))
    known = {part.id: {} for part in intent.parts} | recorded(drawn, **planned)
    return join_up(intent, laid, unlaid, drawn.moves, known)


WHOLE = written("J1", "SKIN", CAP)
TO_COME = {f"B{n}": spot for n, spot in enumerate(LOW, 1)}


def test_every_hole_of_a_place_needs_what_its_joint_asks_for():
    joined = join(WHOLE, CAP=TO_COME)
    assert joined.notices == ()
    assert joined.blanks == ()
    assert joined.holes["SKIN"]["B1"] == HoleInJoint(Treatment.PLAIN, "3/32", guided=True)
    assert joined.holes["SKIN"]["A1"] == HoleInJoint(Treatment.PLAIN, "3/32", guided=False)
    assert joined.holes["CAP"]["B1"] == HoleInJoint(Treatment.PLAIN, "3/32", guided=True)
    first = joined.places["J1"][0]
    assert first.picks == (Pick("SKIN", 1, "A1"), Pick("CAP", 1, "B1"))
    assert first.rivet == "MS20470AD3-3"


def test_holes_to_come_that_are_not_entered_are_told_and_their_places_lack_them():
    joined = join(WHOLE)
    assert [(b.part, b.x, b.y) for b in joined.blanks] == [("CAP", *spot) for spot in LOW]
    assert joined.told == (
        "4 holes that match-drilling will make in CAP: not entered yet, run `join`",
    )
    assert [place.lacks for place in joined.places["J1"]] == [("CAP",)] * 4 + [()] * 4
    assert joined.places["J1"][0].picks == (Pick("SKIN", 1, "A1"),)


def test_a_hole_to_come_is_found_again_where_the_zero_of_its_drawing_has_moved():
    drawn = parts()
    drawn.moves["CAP"] = Alignment(2.0, 0.5)
    recorded_at = {label: (x - 2.0, y - 0.5) for label, (x, y) in TO_COME.items()}
    joined = join(WHOLE, drawn=drawn, CAP=recorded_at)
    assert joined.blanks == ()
    assert joined.places["J1"][0].picks[1] == Pick("CAP", 1, "B1")


def test_a_joint_that_cannot_be_laid_keeps_its_holes_waiting():
    bad = written("J1", "SKIN", 'CAP holes = "A"; by = "B1=A1, B9=A4"')
    joined = join(bad, CAP=TO_COME)
    unlaid = joined.unlaid["J1"]
    assert unlaid.why.startswith("by names SKIN:B9, which is not there")
    held = {(pick.part, pick.label) for pick in unlaid.picks}
    assert held == {
        *(("SKIN", f"{row}{n}") for row in "AB" for n in range(1, 5)),
        *(("CAP", f"{row}{n}") for row in "AB" for n in range(1, 5)),
    }
    (told,) = joined.told
    assert told.startswith("J1 cannot be laid, and its holes wait: by names SKIN:B9")
    assert not told.endswith(".")


def test_the_other_joints_are_laid_and_keep_their_holes():
    bad = written("J2", 'SKIN holes = "A"', 'RIB#1 by = "A1=A1, A4=A4"')
    drawn = parts(RIB=Plate(rows=[LOW]).part())
    joined = join(bad, written("J1", 'SKIN holes = "B"', CAP), drawn=drawn)
    assert list(joined.places) == ["J1"]
    assert {pick.label[0] for pick in joined.unlaid["J2"].picks} == {"A"}


def test_a_hole_in_two_joints_belongs_to_the_first_and_that_is_told_once():
    joined = join(written("J1", 'SKIN holes = "B"', CAP), written("J2", 'SKIN holes = "B"', CAP))
    (notice,) = joined.notices
    assert notice.startswith("SKIN:B1, CAP:A1, SKIN:B2, CAP:A2 and 4 more: in J1 and in J2")
    assert [place.picks for place in joined.places["J2"]] == [()] * 4
    assert all(len(place.picks) == 2 for place in joined.places["J1"])


def test_a_place_that_one_layer_has_alone_leaves_its_holes_to_another_joint():
    whole = written("J1", "SKIN", 'RIB#1 by = "A1=A1, A4=A4"; flip = false')
    drawn = parts(RIB=Plate(rows=[LOW], size=(10.0, 2.0)).part())
    joined = join(whole, written("J2", 'SKIN holes = "B"', CAP), drawn=drawn)
    assert [len(place.picks) for place in joined.places["J1"]] == [2] * 4 + [0] * 4
    assert [len(place.picks) for place in joined.places["J2"]] == [2] * 4


def test_copies_that_are_made_in_two_ways_are_told():
    drawn = parts(RIB=Plate(rows=[LOW]).part())
    rib = 'RIB#{} holes = "A"; by = "A1=A1, A4=A4"; flip = false; treatment = "{}"'
    joints = (
        written("J1", 'SKIN holes = "A"', rib.format(1, "plain")),
        written("J2", 'SKIN holes = "B"', 'RIB#2 by = "B1=A1"; turn = 0; flip = false'),
    )
    alike = join(*joints, drawn=drawn)
    assert not any("made in different ways" in notice for notice in alike.notices)
    flush = joints[1].replace('id = "J2"', 'id = "J2"\nhead = "flush"')
    (told,) = [n for n in join(joints[0], flush, drawn=drawn).notices if "in different ways" in n][
        :1
    ]
    assert told.startswith(
        "RIB: its copies are made in different ways (plain, 3/32 and dimple, 3/32"
    )


# Entered ---------------------------------------------------------------------------------------


class State:
    """Of a part as far as entering holes asks."""

    def __init__(self, labels, done=()):
        self.labels, self.copies, self._done = tuple(labels), (1,), done

    def hole(self, _, label):
        return type("Hole", (), {"reached": "match-drilled" if label in self._done else None})


REVISION = Revision("CAP", "r1", "CAP-r1.dxf", "0" * 64)


def entered(joined, known, done=()):
    states = {"CAP": State(known["CAP"], done)}
    (made,) = imports_for(joined, states, known, {"CAP": REVISION}) or (None,)
    return [] if made is None else [(str(hole.change), hole.label) for hole in made.holes]


def test_three_holes_to_come_are_a_row_of_their_own_and_fewer_are_single():
    known = recorded(parts())
    assert entered(join(WHOLE), known) == [("add", f"B{n}") for n in range(1, 5)]
    two = written("J1", 'SKIN holes = "A1-A2, B"', CAP)
    assert entered(join(two), known) == [("add", "X1"), ("add", "X2")]


def test_a_hole_that_no_joint_wants_is_taken_out_unless_it_is_drilled():
    known = recorded(parts(), CAP=TO_COME)
    fewer = join(written("J1", 'SKIN holes = "B"', CAP), CAP=TO_COME)
    assert entered(fewer, known) == [("retire", f"B{n}") for n in range(1, 5)]
    assert entered(fewer, known, done={"B1", "B2"}) == [("retire", "B3"), ("retire", "B4")]


def test_nothing_is_taken_out_while_a_joint_cannot_be_laid():
    known = recorded(parts(), CAP=TO_COME)
    bad = join(written("J1", "SKIN", 'CAP by = "B1=A1, B9=A4"'), CAP=TO_COME)
    assert entered(bad, known) == []


# Kept ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("joints", [(WHOLE,), (written("J1", "SKIN", 'CAP by = "B9=A1"'),)])
def test_what_joints_mean_is_read_back_from_the_cache_as_it_was(tmp_path, joints):
    joined = join(*joints)
    intent = build_of(*joints)
    drawn = {"RIB": {}, **recorded(parts())}
    intents = derive_intents(intent, drawn, joined)
    path = str(tmp_path / "cache" / "intents")
    keep_intents(path, "key", intents)
    found = kept_intents(path, "key")
    assert found._replace(places=None) == intents._replace(places=None)
    assert found.places.joints == {
        name: list(places) for name, places in intents.places.joints.items()
    }
    assert found.places.unlaid == intents.places.unlaid
    assert bool(found.places)


def test_reasons_of_several_lines_are_kept_on_one(tmp_path):
    joined = join(WHOLE)
    intents = derive_intents(build_of(WHOLE), {"RIB": {}, **recorded(parts())}, joined)
    odd = intents._replace(places=Places({}, {"J1": Unlaid("one\ttwo\nthree", ())}))
    keep_intents(str(tmp_path / "intents"), "key", odd)
    found = kept_intents(str(tmp_path / "intents"), "key")
    assert found.places.unlaid == {"J1": Unlaid("one two three", ())}


def test_holes_of_an_unlaid_joint_and_of_a_place_that_lacks_one_wait():
    lacking = JointPlace("J2", 1, (Pick("SKIN", 1, "B1"),), lacks=("CAP",))
    held = Unlaid("no such hole", (Pick("SKIN", 1, "A1"),))
    places = Places({"J2": [lacking]}, {"J1": held})
    intents = derive_intents(build_of(), {p: {} for p in ("SKIN", "RIB", "CAP")})
    (gate,) = intents._replace(places=places).gates[1:]
    for operation in Operation:
        judge = gate({}, intents.needs, operation)
        assert judge(Pick("SKIN", 1, "A1")).reason == "may belong to J1, which cannot be laid"
        if operation is not Operation.DRILL:
            assert judge(Pick("SKIN", 1, "B1")).unblock == "first run join"


def test_the_rule_set_is_the_packaged_one_or_the_builds_own(tmp_path):
    folder = cast("object", type("Folder", (), {"path": tmp_path}))
    assert rules_of(folder, build_of()).name == "faa"
    (tmp_path / "mine.toml").write_text('extends = "faa"\n', encoding="utf-8")
    own = build_of(parts='rules = "mine.toml"\n' + BUILD)
    assert rules_of(folder, own).name == "mine.toml"
