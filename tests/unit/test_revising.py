"""A drawing against the record: planned holes that it shows keep their labels."""

import math

import pytest

from holeschedule.holes.identity import SAME_PLACE, ChangeKind
from holeschedule.record.drawn import Change, HoleChange
from holeschedule.record.routes import Drawn
from holeschedule.work.revising import REACH, match_drawing
from tests.plates import NUMBER_40, Plate

ROW = [(0.5, 0.5), (1.25, 0.5), (2.0, 0.5), (3.1, 0.5)]
PLANNED = {"B1": (0.7, 1.5), "B2": (1.5, 1.5), "B3": (2.3, 1.5)}


def held(label, place, diameter):
    drawn = Drawn.NONE if diameter is None else Drawn.FINAL
    return HoleChange("P", 1, label, Change.ADD, *place, diameter, drawn)


def recorded(planned=PLANNED):
    drawn = {f"A{n}": held(f"A{n}", place, NUMBER_40) for n, place in enumerate(ROW, 1)}
    return drawn | {label: held(label, place, None) for label, place in planned.items()}


def match(*rows, planned=PLANNED, retired=()):
    return match_drawing(recorded(planned), retired, Plate([ROW, *rows]).part())


def told(revision, *kinds):
    return {c.label: c.kind for c in revision.changes if not kinds or c.kind in kinds}


def test_planned_holes_that_are_not_drawn_are_no_part_of_the_answer():
    revision, planned = match()
    assert set(told(revision)) == {"A1", "A2", "A3", "A4"}
    assert (set(told(revision).values()), planned) == ({ChangeKind.KEPT}, frozenset())


def test_a_planned_hole_that_is_drawn_keeps_its_label_and_takes_the_drawn_place():
    revision, planned = match([(0.7, 1.5), (1.5, 1.503), (2.3, 1.5)])
    assert planned == {"B1", "B2", "B3"}
    assert told(revision, ChangeKind.RESIZED) == dict.fromkeys(PLANNED, ChangeKind.RESIZED)
    second = next(change for change in revision.changes if change.label == "B2")
    assert second.distance == pytest.approx(0.003)
    assert (second.after.y, second.after.diameter) == (1.503, NUMBER_40)
    assert revision.labels == ("A1", "A2", "A3", "A4", "B1", "B2", "B3")


@pytest.mark.parametrize(
    ("away", "kind", "label"),
    [
        (SAME_PLACE, ChangeKind.RESIZED, "B1"),
        (SAME_PLACE + 1e-6, ChangeKind.MOVED, "B1"),
        (REACH, ChangeKind.MOVED, "B1"),
        (REACH + 1e-6, ChangeKind.NEW, "X1"),
    ],
)
def test_how_far_away_a_planned_hole_may_be_drawn(away, kind, label):
    revision, _ = match_drawing(
        recorded({"B1": (0.7, 1.5)}), (), Plate([ROW], [(0.7 + away, 1.5)]).part()
    )
    assert told(revision, *set(ChangeKind) - {ChangeKind.KEPT}) == {label: kind}


def test_new_holes_beside_planned_ones_go_on_with_their_row():
    revision, _ = match([(0.7, 1.5), (1.5, 1.5), (2.3, 1.5), (3.1, 1.5)])
    assert told(revision, ChangeKind.NEW) == {"B4": ChangeKind.NEW}


def test_the_label_of_a_planned_hole_is_not_given_to_another_hole():
    revision, planned = match([(0.7, 1.0), (1.5, 1.0), (2.3, 1.0)], retired=["C4"])
    assert (set(told(revision, ChangeKind.NEW)), planned) == ({"D1", "D2", "D3"}, frozenset())


def test_of_two_drawn_holes_the_nearer_one_is_the_planned_one():
    near, far = (0.71, 1.5), (0.66, 1.5)
    revision, _ = match_drawing(recorded({"B1": (0.7, 1.5)}), (), Plate([ROW], [far, near]).part())
    found = {change.label: change.after for change in revision.changes if change.after}
    assert (found["B1"].x, found["X1"].x) == (near[0], far[0])


def test_a_drawing_whose_zero_moved_shows_the_planned_holes_where_it_was():
    def turned(row):
        angle = math.radians(30)
        return [
            (
                x * math.cos(angle) - y * math.sin(angle) + 3.0,
                x * math.sin(angle) + y * math.cos(angle),
            )
            for x, y in row
        ]

    part = Plate([turned(ROW), turned(PLANNED.values())], size=(20.0, 20.0)).part()
    revision, planned = match_drawing(recorded(), (), part)
    assert planned == set(PLANNED)
    assert told(revision, ChangeKind.RESIZED) == dict.fromkeys(PLANNED, ChangeKind.RESIZED)
    assert [notice.code for notice in revision.notices] == ["revision.zero-moved"]
