"""What goes into a record comes out, with who and when; and what is refused at the door."""

import hashlib
import re
import sqlite3
from datetime import UTC, datetime

import pytest

from holeschedule.errors import RecordError, SelectionError
from holeschedule.record.drawn import Change, HoleAsDrawn, Import, Revision
from holeschedule.record.events import (
    KINDS,
    EntryDraft,
    Request,
    canonical_text,
    hash_entry,
    read_numbers,
    write_numbers,
)
from holeschedule.record.routes import Drawn
from holeschedule.record.store import open_record
from holeschedule.selection import Pick
from tests.records import (
    EAST,
    SKIN,
    Build,
    change,
    drawn_row,
    import_draft,
    import_of,
    without_waiting,
)


@pytest.fixture(autouse=True)
def _without_waiting(monkeypatch):
    without_waiting(monkeypatch)


@pytest.fixture
def build(tmp_path):
    made = Build(tmp_path)
    yield made
    made.record.close()


# Entries ---------------------------------------------------------------------------------------


def test_an_entry_says_who_did_what_when_and_from_where(build):
    build.clock.forward(hours=2)
    request = build.ask("match-drill", "FL-101:A1-A3,A5")
    at = datetime(2026, 3, 4, 17, 30, tzinfo=EAST)
    draft = EntryDraft(
        "collect", "Ada", (request,), note="last night", at=at, origin="holes.xlsx, sheet FL-101"
    )
    entry = build.record.append(draft, build.needs).entry
    assert (entry.number, entry.command, entry.who) == (2, "collect", "Ada")
    assert (entry.note, entry.origin) == ("last night", "holes.xlsx, sheet FL-101")
    assert entry.recorded == "2026-03-05T00:00:00.000Z"
    assert entry.at == "2026-03-04T17:30:00+10:00"
    assert entry.day == "2026-03-04"
    assert [(e.what, e.holes) for e in entry.events] == [("match-drill", "1-3,5")]
    assert build.record.entries(last=1) == (entry,)


def test_without_a_time_the_work_is_taken_to_be_done_now(build):
    entry = build.do("match-drill", "FL-101:A1").entry
    assert entry.at == "2026-03-05T08:00:00+10:00"
    assert entry.recorded == "2026-03-04T22:00:00.000Z"


def test_a_time_without_an_offset_is_the_time_of_the_place(build):
    local = datetime(2026, 3, 1, 12, 0)
    entry = build.do("match-drill", "FL-101:A1", at=local).entry
    assert datetime.fromisoformat(entry.at) == local.astimezone()


def test_work_that_is_still_to_come_is_refused(build):
    late = datetime(2026, 3, 5, 8, 1, tzinfo=EAST)
    message = (
        "2026-03-05 08:01+10:00 is still to come; work is recorded when it is done."
        " Correct the time."
    )
    with pytest.raises(RecordError, match=re.escape(message)):
        build.do("match-drill", "FL-101:A1", at=late)
    assert build.do("match-drill", "FL-101:A1", at=build.clock.now).entry is not None


def test_one_entry_holds_several_requests_each_on_top_of_those_before(build):
    asked = (build.ask("match-drill", "FL-101:A1"), build.ask("deburr", "FL-101:A1,C"))
    entry = build.record.append(EntryDraft("collect", "Ada", asked), build.needs).entry
    assert [(e.what, e.holes) for e in entry.events] == [
        ("match-drill", "1"),
        ("deburr", "1,11-13"),
    ]
    assert build.stages("FL-101:A1") == ["deburred"]


def test_copies_are_events_of_their_own(build):
    build.needs["FL-101"] = SKIN._replace(quantity=2)
    entry = build.do("match-drill", "FL-101:A1-A2").entry
    assert [(e.copy, e.holes) for e in entry.events] == [(1, "1-2"), (2, "1-2")]


def test_a_revision_and_work_can_be_one_entry(build):
    draft = EntryDraft(
        "import",
        "Ada",
        (Request("deburr", (Pick("FL-102", 1, "A1"),)),),
        (import_of("FL-102", drawn_row("A", 2, drawn=Drawn.FINAL)),),
    )
    build.needs["FL-102"] = SKIN
    assert build.record.append(draft, build.needs).entry is not None
    assert build.stages("FL-102:A") == ["deburred", "match-drilled"]
    assert build.record.verify() == ()


def test_what_is_recorded_is_read_again_by_another_program(build):
    build.do("match-drill", "FL-101:A")
    with open_record(build.path) as other:
        assert other.entries() == build.record.entries()
        assert other.states() == build.record.states()
        assert other.head() == build.record.head()


def test_an_empty_record_answers_everything_with_nothing(tmp_path):
    with open_record(tmp_path / "record.sqlite", create=True) as record:
        assert (record.states(), record.entries(), record.events()) == ({}, (), ())
        assert (record.measures(), record.work_days(), record.head()) == ({}, (), None)
        assert (record.verify(), record.taken_back()) == ((), {})


def test_starting_a_record_where_there_is_one_opens_it(build):
    with open_record(build.path, create=True) as record:
        assert len(record.entries()) == 1


# History ---------------------------------------------------------------------------------------


def numbers(entries):
    return [entry.number for entry in entries]


def test_history_goes_by_part_copy_hole_day_and_person(build):
    build.needs["FL-101"] = SKIN._replace(quantity=2)
    build.needs["FL-102"] = SKIN
    build.record.append(import_draft("FL-102", drawn_row("A", 2)), build.needs)  # 2
    build.do("match-drill", "FL-101#1:A1-A3")  # 3
    build.do("match-drill", "FL-101#2:A2", who="Bo")  # 4
    build.clock.forward(days=1)
    build.do("cut", "FL-101#2!")  # 5
    build.do("match-drill", "FL-102:A1")  # 6
    build.record.undo("Ada", 4)  # 7
    ask = build.record.entries
    assert numbers(ask(part="FL-101")) == [1, 3, 4, 5, 7]
    assert numbers(ask(part="FL-101", copy=2)) == [1, 4, 5, 7]
    assert numbers(ask(part="FL-101", label="A2")) == [1, 3, 4, 5, 7]
    assert numbers(ask(part="FL-101", copy=1, label="A2")) == [1, 3]
    assert numbers(ask(part="FL-101", copy=1, label="A4")) == [1]
    assert numbers(ask(day="2026-03-06")) == [5, 6, 7]
    assert numbers(ask(who="Bo")) == numbers(ask(who="bO")) == [4]
    assert numbers(ask(part="FL-101", who="Ada", day="2026-03-05")) == [1, 3]
    assert numbers(ask(last=2)) == [6, 7]
    assert ask(last=0) == ask(part="FL-9") == ()


def test_days_of_work_are_those_on_which_something_stands(build):
    build.do("match-drill", "FL-101:A1")
    build.clock.forward(days=2)
    build.do("match-drill", "FL-101:A2")
    build.clock.forward(days=1)
    build.do("match-drill", "FL-101:A3")
    assert build.record.work_days() == ("2026-03-05", "2026-03-07", "2026-03-08")
    build.record.undo("Ada", 3)
    assert build.record.work_days() == ("2026-03-05", "2026-03-08")


def test_events_are_those_in_force(build):
    build.do("match-drill", "FL-101:A1")
    build.do("match-drill", "FL-101:A2")
    build.record.undo("Ada", 2)
    assert [(number, event.holes) for number, event in build.record.events()] == [(3, "2")]
    assert build.record.events("FL-9") == ()


# Measurements ----------------------------------------------------------------------------------


def measured(build, label):
    return build.record.measures().get(Pick("FL-101", 1, label), {})


def test_the_last_measurement_of_each_kind_holds(build):
    build.do("measure", "FL-101:C1", detail="hole diameter", value=0.129)
    build.do("measure", "FL-101:C1", detail="edge distance", value=1)
    build.do("measure", "FL-101:C1", detail="hole diameter", value=0.1285)
    assert measured(build, "C1") == {"hole diameter": 0.1285, "edge distance": 1.0}
    build.record.undo("Ada")
    assert measured(build, "C1") == {"hole diameter": 0.129, "edge distance": 1.0}
    assert build.record.verify() == ()


def test_work_that_overtakes_a_measurement_ends_it(build):
    build.do("measure", "FL-101:A1", detail="hole diameter", value=0.098)
    build.do("measure", "FL-101:A1", detail="edge distance", value=0.25)
    build.do("match-drill", "FL-101:A1")
    assert measured(build, "A1") == {"edge distance": 0.25}
    build.do("rivet", "FL-101:A1", as_found=True, note="x")
    build.do("measure", "FL-101:A1", detail="shop-head width", value=0.19)
    build.do("measure", "FL-101:A1", detail="shop-head height", value=0.05)
    assert len(measured(build, "A1")) == 3
    build.do("drill out", "FL-101:A1")
    assert measured(build, "A1") == {"edge distance": 0.25}
    build.do("measure", "FL-101:B1", detail="edge distance", value=0.25)
    build.do("replace", "FL-101!", note="scratched")
    assert build.record.measures() == {}


def test_a_retired_hole_has_no_measurement(build):
    build.do("measure", "FL-101:A1", detail="edge distance", value=0.25)
    build.record.append(import_draft("FL-101", [change("retire", "A1")], "B"), build.needs)
    assert build.record.measures() == {}


# Revisions -------------------------------------------------------------------------------------


def test_a_revision_moves_resizes_retires_and_adds_and_work_is_kept(build):
    build.do("match-drill", "FL-101:A1-A2")
    changes = [
        change("move", "A1", x=1.02, y=1.0),
        change("resize", "A3", x=3.0, y=1.0, diameter=0.1285, drawn=Drawn.FINAL),
        change("retire", "A4"),
        *drawn_row("A", 6, first=6),
    ]
    entry = build.record.append(import_draft("FL-101", changes, "B"), build.needs).entry
    assert [hole.number for hole in entry.holes] == [1, 3, 4, 14]
    part = build.record.states()["FL-101"]
    assert part.retired == {"A4"}
    assert build.stages("FL-101:A1-A3,A6") == [
        "match-drilled",
        "match-drilled",
        "match-drilled",
        "pilot",
    ]
    assert [build.hole(f"FL-101:{label}").moved for label in ("A1", "A2")] == [True, False]
    holes = build.record.holes("FL-101")
    assert "A4" not in holes
    assert (holes["A1"].x, holes["A3"].diameter, holes["A2"].x) == (1.02, 0.1285, 2.0)


def test_a_hole_that_moves_before_any_work_is_not_flagged(build):
    build.do("match-drill", "FL-101:A2")
    changes = [change("move", "A1", x=1.5, y=1.0), change("move", "C3", drawn=Drawn.FINAL)]
    build.record.append(import_draft("FL-101", changes, "B"), build.needs)
    assert not build.hole("FL-101:A1").moved
    assert build.record.verify() == ()
    build.do("match-drill", "FL-101:A1")
    assert not build.hole("FL-101:A1").moved


def test_a_smaller_hole_in_a_revision_takes_nothing_back(build):
    build.do("deburr", "FL-101:C1")
    changes = [change("resize", label, drawn=Drawn.PILOT) for label in ("C1", "C2")]
    build.record.append(import_draft("FL-101", changes, "B"), build.needs)
    assert build.stages("FL-101:C1-C2") == ["deburred", "pilot"]


def test_a_revision_without_a_change_is_an_entry_all_the_same(build):
    entry = build.record.append(import_draft("FL-101", [], "B"), build.needs).entry
    assert entry.revisions == (Revision("FL-101", "B", "fl-101-B.dxf", "0" * 64),)


@pytest.mark.parametrize(
    ("holes", "message"),
    [
        ([change("add", "A1")], "FL-101:A1: the label was given before and is never given again."),
        ([change("add", "B1")], "FL-101:B1: the label was given before and is never given again."),
        (
            drawn_row("D", 1) * 2,
            "FL-101:D1: is in the revision twice; give each hole its own label.",
        ),
        ([change("move", "D1")], "FL-101:D1: cannot move a hole that the part does not have."),
        ([change("retire", "B1")], "FL-101:B1: cannot retire a hole that the part does not have."),
        ([change("add", "d1")], "FL-101:d1: write the label D1."),
        ([change("add", "D01")], "FL-101:D01: write the label D1."),
        (
            [change("add", "D1", x=float("nan"))],
            "FL-101:D1: [nan, 0.0, 0.098] in are not all finite; correct the drawing.",
        ),
        (
            [change("add", "D1", diameter=0.0)],
            "FL-101:D1: the diameter is 0.0 in; a hole needs one above 0.",
        ),
        (
            [change("add", "D1", diameter=None)],
            "FL-101:D1: the diameter is None, but the hole is drawn pilot; a hole that is drawn has"
            " a diameter, one that is not has none.",
        ),
        (
            [change("add", "D1", drawn=Drawn.NONE)],
            "FL-101:D1: the diameter is 0.098, but the hole is drawn none; a hole that is drawn has"
            " a diameter, one that is not has none.",
        ),
    ],
)
def test_a_revision_that_cannot_be_is_refused_whole(build, holes, message):
    build.record.append(import_draft("FL-101", [change("retire", "B1")], "B"), build.needs)
    with pytest.raises(RecordError) as caught:
        build.record.append(import_draft("FL-101", [*drawn_row("E", 1), *holes], "C"), build.needs)
    assert str(caught.value) == message
    assert build.record.head().number == 2
    assert "E1" not in build.record.states()["FL-101"].numbers


def test_a_label_that_is_none_is_refused(build):
    with pytest.raises(SelectionError, match=r"^'C' is not a label of a hole"):
        build.record.append(import_draft("FL-101", [change("add", "C")], "B"), build.needs)


def test_names_that_differ_in_case_only_are_one_too_many(build):
    with pytest.raises(
        RecordError, match=r"^fl-101: there is a part FL-101, and names that differ"
    ):
        build.record.append(import_draft("fl-101", drawn_row("A", 1)), build.needs)
    two = EntryDraft("import", "Ada", imports=(import_of("P", []), import_of("p", [])))
    with pytest.raises(RecordError, match=r"^p: there is a part P, and names"):
        build.record.append(two, build.needs)


def test_a_part_is_imported_once_an_entry(build):
    twice = EntryDraft("import", "Ada", imports=(import_of("P", []), import_of("P", [])))
    with pytest.raises(RecordError, match=r"^P: is imported twice in one entry; import it once\.$"):
        build.record.append(twice, build.needs)


# Undo ------------------------------------------------------------------------------------------


def test_undo_walks_back_and_an_undo_can_be_undone(build):
    build.do("match-drill", "FL-101:A1")  # 2
    build.do("deburr", "FL-101:A1")  # 3
    assert build.record.undo("Ada").takes_back == 3
    assert build.stages("FL-101:A1") == ["match-drilled"]
    assert build.record.undo("Bo", note="wrong part").takes_back == 2
    assert build.stages("FL-101:A1") == ["pilot"]
    assert build.record.taken_back() == {3: 4, 2: 5}
    assert build.record.undo("Ada", 5).takes_back == 5
    assert build.stages("FL-101:A1") == ["match-drilled"]
    assert build.record.taken_back() == {3: 4, 5: 6}
    assert build.record.undo("Ada", 4).number == 7
    assert build.stages("FL-101:A1") == ["deburred"]
    assert build.record.verify() == ()


def refused_undo(build, number):
    before = build.record.head()
    with pytest.raises(RecordError) as caught:
        build.record.undo("Ada", number)
    assert build.record.head() == before
    return str(caught.value)


def test_an_entry_that_later_work_builds_on_is_not_taken_back(build):
    build.do("match-drill", "FL-101:A1-A3")  # 2
    build.do("match-drill", "FL-101:B1")  # 3
    build.do("deburr", "FL-101:A3")  # 4
    message = "entry 2 cannot be taken back: entry 4 (mark) builds on it. Undo 4 first."
    assert refused_undo(build, 2) == message
    build.record.undo("Ada", 4)
    assert build.record.undo("Ada", 2).takes_back == 2
    assert build.stages("FL-101:A3,B1") == ["pilot", "match-drilled"]


def test_an_undo_is_not_undone_over_what_was_done_since(build):
    build.do("match-drill", "FL-101:A1")  # 2
    build.do("deburr", "FL-101:A1")  # 3
    build.record.undo("Ada")  # 4 takes back 3
    build.record.undo("Ada")  # 5 takes back 2
    message = "entry 4 cannot be taken back: entry 5 (undo) builds on it. Undo 5 first."
    assert refused_undo(build, 4) == message
    build.do("match-drill", "FL-101:A1")  # 6
    assert refused_undo(build, 5).endswith("entry 6 (mark) builds on it. Undo 6 first.")


@pytest.mark.parametrize(
    ("number", "message"),
    [
        (9, "there is no entry 9; the entries are 1 to 3."),
        (0, "there is no entry 0; the entries are 1 to 3."),
        (2, "entry 2 is taken back already, by entry 3; undo 3 to have it again."),
    ],
)
def test_what_cannot_be_taken_back_is_told(build, number, message):
    build.do("match-drill", "FL-101:A1")
    build.record.undo("Ada")
    assert refused_undo(build, number) == message


def test_there_is_an_end_to_undoing(build):
    build.record.undo("Ada")
    assert build.record.states() == {}
    message = "there is nothing to take back: no entry of work is in force."
    assert refused_undo(build, None) == message


def test_an_undone_import_leaves_its_numbers_and_frees_its_labels(build):
    build.record.append(import_draft("FL-101", drawn_row("D", 2), "B"), build.needs)
    build.record.undo("Ada")
    with pytest.raises(SelectionError, match="has no row D"):
        build.picks("FL-101:D")
    assert "D1" not in build.record.holes("FL-101")
    entry = build.record.append(import_draft("FL-101", drawn_row("D", 1), "C"), build.needs).entry
    assert [hole.number for hole in entry.holes] == [16]
    build.do("match-drill", "FL-101:D1")
    assert build.record.verify() == ()
    assert refused_undo(build, 4).endswith("entry 5 (mark) builds on it. Undo 5 first.")


@pytest.mark.parametrize(
    ("first", "second", "builds"),
    [
        (("cut", "FL-101!"), ("trim", "FL-101!"), True),
        (("prime", "FL-101!"), ("match-drill", "FL-101:A1"), True),
        (("match-drill", "FL-101:A1"), ("prime", "FL-101!"), False),
        (("match-drill", "FL-101:A1"), ("match-drill", "FL-101:A2"), False),
        (("match-drill", "FL-101:A1"), ("match-drill", "FL-102:A1"), False),
        (("cut", "FL-101!"), ("cut", "FL-101#2!"), False),
    ],
)
def test_what_builds_on_what(tmp_path, first, second, builds):
    build = Build(tmp_path, parts=("FL-101", "FL-102"), needs=SKIN._replace(quantity=2))
    build.do(*first)
    build.do(*second)
    if builds:
        assert refused_undo(build, 3).endswith("entry 4 (mark) builds on it. Undo 4 first.")
    else:
        assert build.record.undo("Ada", 3).takes_back == 3


def test_a_replacement_taken_back_brings_the_old_part_again(build):
    build.do("match-drill", "FL-101:A")
    build.do("cut", "FL-101!")
    build.do("replace", "FL-101!", note="lost")
    build.record.undo("Ada")
    assert build.stages("FL-101:A1") == ["match-drilled"]
    assert build.do("cut", "FL-101!").entry is None


# At the door -----------------------------------------------------------------------------------

A1 = (Pick("FL-101", 1, "A1"),)
WHOLE = (Pick("FL-101", 1),)


@pytest.mark.parametrize(
    ("draft", "message"),
    [
        (EntryDraft("mark", "", (Request("deburr", A1),)), "who is empty; an entry states who did"),
        (EntryDraft(" ", "Ada", (Request("deburr", A1),)), "command is empty; an entry states"),
        (
            EntryDraft("mark", "Ada\n", (Request("deburr", A1),)),
            "who 'Ada\\n': is not one line of plain text; take out what is not.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("deburr", A1),), note="\x1b[31mred"),
            "note '\\x1b[31mred': is not one line of plain text",
        ),
        (
            EntryDraft("mark", "Ada", (Request("deburr", A1),), note="\udc80" + "x" * 99),
            "note '\\udc80" + "x" * 59 + "...': is not one line",
        ),
        (EntryDraft("mark", "Ada"), "there is nothing to record; name an operation and the holes"),
        (
            EntryDraft("mark", "Ada", (Request("polish", A1),)),
            f"'polish' is no operation; choose from {', '.join(sorted(KINDS))}.",
        ),
        (EntryDraft("mark", "Ada", (Request("deburr", ()),)), "deburr: no hole or part is named"),
        (
            EntryDraft("mark", "Ada", (Request("deburr", WHOLE),)),
            "deburr: FL-101: is no place for it; name holes, as in FL-101:C7.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("cut", A1),)),
            "cut: FL-101:A1 is no place for it; name a whole part, as in FL-101.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("reject", A1, "ugly"),)),
            "reject: 'ugly' cannot be given here; choose from cracked, edge, elongated,"
            " figure-eight, oversize.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("deburr", A1, "well"),)),
            "deburr: 'well' cannot be given here; give none.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("measure", A1, "edge distance"),)),
            "measure: None in is not a measurement; give a length above 0.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("measure", A1, "edge distance", float("inf")),)),
            "measure: inf in is not a measurement; give a length above 0.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("measure", A1, "edge distance", 0.0),)),
            "measure: 0.0 in is not a measurement; give a length above 0.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("deburr", A1, value=0.1),)),
            "deburr: takes no value; 0.1 in was given. Leave it out.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("deburr", A1, as_found=True),), note=" "),
            "deburr: as found needs a note that says why. Add a note.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("accept", A1),)),
            "accept: needs a note that says what was decided. Add a note.",
        ),
        (
            EntryDraft("mark", "Ada", (Request("drill out", A1, as_found=True),), note="x"),
            "drill out: only an operation can be recorded as found.",
        ),
        (
            EntryDraft("import", "Ada", imports=(Import(Revision("P", "", "p.dxf", "0"), ()),)),
            "P: revision of the drawing is empty; name it.",
        ),
    ],
)
def test_a_draft_that_is_not_complete_is_refused(build, draft, message):
    with pytest.raises(RecordError, match="^" + re.escape(message)):
        build.record.append(draft, build.needs)
    assert build.record.head().number == 1


def test_names_and_notes_in_any_language_go_in_and_come_out(build):
    note = "Loch größer, 穴, 1\u202f1/8 – “oval” 🔩 =1+1 '; DROP TABLE entry; --"
    entry = build.do("match-drill", "FL-101:A1", who="Zoë", note=note).entry
    assert build.record.entries(last=1)[0] == entry
    assert entry.note == note
    assert build.record.verify() == ()


def test_an_undo_states_who_as_well(build):
    with pytest.raises(RecordError, match=r"^who is empty"):
        build.record.undo("")


# Numbers and hashes ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("numbers", "text"), [([], ""), ([7], "7"), ([2, 1, 3, 3], "1-3"), ([9, 1, 3, 4], "1,3-4,9")]
)
def test_numbers_are_written_as_ranges_and_read_again(numbers, text):
    assert write_numbers(numbers) == text
    assert sorted(n for held in read_numbers(text) for n in held) == sorted(set(numbers))


@pytest.mark.parametrize("text", ["0", "x", "3-1", "2,1", "1-3,3", "1,,2", "-1", "1-9999999"])
def test_numbers_that_were_not_written_so_are_refused(text):
    with pytest.raises(ValueError, match=r"\d|x"):
        read_numbers(text)


def test_the_hash_is_that_of_the_documented_text(build):
    build.do("measure", "FL-101:A1", detail="edge distance", value=0.25)
    entry = build.record.entries()[-1]
    fields = ["i2;", "s24:" + entry.recorded, "s25:" + entry.at, "s3:Ada", "s4:mark", "s0:"]
    fields += ["s12:command line", "n", "l0:", "l0:"]
    event = "l7:s6:FL-101i1;s1:1s7:measurei0;s13:edge distancef0.25;"
    fields += ["l1:" + event, "s64:" + build.record.entries()[0].hash]
    text = "l12:" + "".join(fields)
    assert hashlib.sha256(text.encode()).hexdigest() == entry.hash


def test_the_chain_can_be_checked_by_anybody_with_the_documented_rule(build):
    build.do("match-drill", "FL-101:A1-A3,C")
    build.record.undo("Ada")
    db = sqlite3.connect(build.path)
    previous = "0" * 64
    for row in db.execute("SELECT * FROM entry ORDER BY number"):
        *fields, before, its_hash = row
        children = [
            [child[2:] for child in db.execute(query, row[:1])]
            for query in (
                "SELECT * FROM revision WHERE entry = ? ORDER BY place",
                "SELECT * FROM hole WHERE entry = ? ORDER BY place",
                "SELECT * FROM event WHERE entry = ? ORDER BY place",
            )
        ]
        assert before == previous
        text = canonical_text([*fields, *children, before])
        assert hashlib.sha256(text.encode("utf-8")).hexdigest() == its_hash
        previous = its_hash
    db.close()
    assert build.record.head().hash == previous


def test_different_entries_never_have_one_text():
    values = [["ab", "c"], ["a", "bc"], ["abc"], [["ab"], "c"], ["1"], [1], [1.0], [None], [""], []]
    assert len({canonical_text(value) for value in values}) == len(values)
    assert len({hash_entry(value) for value in values}) == len(values)
    with pytest.raises(TypeError, match="bytes"):
        canonical_text([b"ab"])


def test_times_are_recorded_in_utc_whatever_the_place(build):
    recorded = datetime.fromisoformat(build.record.entries()[0].recorded)
    assert recorded == build.clock.now
    assert recorded.tzinfo == UTC


def test_a_hole_as_drawn_is_kept_as_drawn(build):
    hole = HoleAsDrawn(Change.ADD, "D1", 1, 2, 1, Drawn.FINAL)
    build.record.append(import_draft("FL-101", [hole], "B"), build.needs)
    kept = build.record.holes("FL-101")["D1"]
    assert (kept.x, kept.y, kept.diameter, kept.drawn) == (1.0, 2.0, 1.0, Drawn.FINAL)
    assert build.record.verify() == ()
