"""Nothing recorded can be changed unnoticed: the triggers refuse it, and verify finds it."""

import random
import shutil
import sqlite3
from contextlib import closing

import pytest

from holeschedule.errors import RecordError
from holeschedule.record.store import open_record
from tests.records import Build, without_waiting


@pytest.fixture(autouse=True)
def _without_waiting(monkeypatch):
    without_waiting(monkeypatch)


@pytest.fixture
def build(tmp_path):
    made = Build(tmp_path)
    made.do("match-drill", "FL-101:A1-A3")  # 2
    made.do("deburr", "FL-101:A1,C")  # 3
    made.do("measure", "FL-101:C1", detail="edge distance", value=0.25)  # 4
    made.do("cut", "FL-101!", note="at last")  # 5
    made.record.undo("Bo")  # 6
    yield made
    made.record.close()


def database(path):
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA synchronous = OFF")
    return closing(db)


def alter(build, *statements):
    """Change the file as somebody would who knows SQLite and takes the triggers out."""
    with database(build.path) as db:
        db.execute("BEGIN")
        triggers = db.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall()
        for name, _ in triggers:
            db.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            db.execute(statement)
        for _, sql in triggers:
            db.execute(sql)
        db.execute("COMMIT")


def problems(build, noted=None):
    with open_record(build.path) as record:
        return [(problem.code, problem.entry) for problem in record.verify(noted)]


# The triggers ----------------------------------------------------------------------------------

VALUES = "VALUES (2, 'r', 'a', 'w', 'c', 'n', 'o', NULL, 'p', 'h')"
CHANGES = [
    "UPDATE entry SET note = 'x' WHERE number = 2",
    "UPDATE OR REPLACE entry SET number = 1 WHERE number = 2",
    "DELETE FROM entry WHERE number = 6",
    "DELETE FROM entry",
    "INSERT INTO entry " + VALUES,
    "INSERT OR REPLACE INTO entry " + VALUES,
    "REPLACE INTO entry " + VALUES,
    "INSERT OR IGNORE INTO entry " + VALUES,
    f"INSERT INTO entry {VALUES} ON CONFLICT DO UPDATE SET note = 'x'",
    "INSERT INTO entry " + VALUES.replace("2", "9"),
    "UPDATE event SET holes = '1' WHERE entry = 2",
    "DELETE FROM event WHERE entry = 2",
    "INSERT INTO event VALUES (2, 7, 'FL-101', 1, '9', 'match-drill', 0, '', NULL)",
    "REPLACE INTO event VALUES (2, 0, 'FL-101', 1, '9', 'match-drill', 0, '', NULL)",
    "INSERT INTO event VALUES (2, 0, 'FL-101', 1, '9', 'match-drill', 0, '', NULL)"
    " ON CONFLICT DO UPDATE SET holes = '9'",
    "UPDATE hole SET x = 0 WHERE number = 1",
    "DELETE FROM hole WHERE number = 1",
    "REPLACE INTO hole SELECT 1, 0, 'FL-101', 1, 'A1', 'add', 0, 0, 0.1, 'pilot'",
    "UPDATE revision SET sha256 = 'x'",
    "DELETE FROM revision",
    "REPLACE INTO revision VALUES (1, 0, 'FL-101', 'B', 'x.dxf', 'x')",
]


@pytest.mark.parametrize("statement", CHANGES)
def test_another_program_cannot_change_what_is_recorded(build, statement):
    before = build.record.entries()
    with database(build.path) as db, pytest.raises(sqlite3.IntegrityError, match="append-only"):
        db.execute(statement)
    assert build.record.entries() == before
    assert problems(build) == []


def test_without_the_trigger_on_insert_a_replacement_would_go_through(build):
    with database(build.path) as db:
        db.execute("DROP TRIGGER event_insert")
        db.execute("REPLACE INTO event VALUES (2, 0, 'FL-101', 1, '9', 'deburr', 0, '', NULL)")
    assert [code for code, _ in problems(build)] == ["schema", "changed", "kept"]


# What verify finds -----------------------------------------------------------------------------


def test_a_whole_record_has_no_problem(build):
    assert build.record.verify() == ()


@pytest.mark.parametrize(
    ("statement", "expected"),
    [
        ("UPDATE entry SET note = 'x' WHERE number = 5", [("changed", 5)]),
        ("UPDATE entry SET who = 'Bo' WHERE number = 2", [("changed", 2)]),
        ("UPDATE entry SET at = '2026-03-04' WHERE number = 3", [("changed", 3)]),
        ("UPDATE entry SET who = x'00ff' WHERE number = 2", [("changed", 2)]),
        ("UPDATE event SET value = 0.26 WHERE entry = 4", [("changed", 4)]),
        ("UPDATE event SET as_found = 1 WHERE entry = 4", [("changed", 4)]),
        ("UPDATE event SET holes = '1-4' WHERE entry = 2", [("changed", 2), ("kept", None)]),
        ("DELETE FROM event WHERE entry = 4", [("changed", 4)]),
        ("UPDATE hole SET x = 9 WHERE number = 1", [("changed", 1)]),
        ("UPDATE hole SET label = 'Q1' WHERE number = 1", [("changed", 1), ("kept", None)]),
        ("UPDATE revision SET sha256 = 'x'", [("changed", 1)]),
        ("UPDATE entry SET hash = 'x' WHERE number = 3", [("changed", 3), ("chain", 4)]),
        ("UPDATE entry SET previous = 'x' WHERE number = 3", [("chain", 3), ("changed", 3)]),
        (
            "UPDATE entry SET takes_back = 9 WHERE number = 6",
            [("changed", 6), ("undo", 6), ("kept", None)],
        ),
        ("UPDATE kept_copy SET states = '0*2 5'", [("kept", None)]),
        ("UPDATE kept_copy SET operations = 'cut'", [("kept", None)]),
        ("DELETE FROM kept_copy", [("kept", None)]),
        ("DELETE FROM kept_part", [("kept", None)]),
        ("UPDATE kept_part SET drawn = replace(drawn, 'F', 'P')", [("kept", None)]),
        ("UPDATE kept_copy SET states = '99999*1'", [("unreadable", None)]),
        ("UPDATE kept_copy SET operations = 'polish'", [("unreadable", None)]),
        ("UPDATE kept_copy SET states = '-1*1'", [("unreadable", None)]),
        ("UPDATE kept_copy SET states = '5*x'", [("unreadable", None)]),
        ("UPDATE kept_copy SET states = '5*0'", [("unreadable", None)]),
        ("UPDATE kept_copy SET states = '5*999999 5*999999'", [("unreadable", None)]),
        ("UPDATE kept_copy SET states = '5*9999999'", [("unreadable", None)]),
        ("UPDATE kept_copy SET copy = 'one'", [("unreadable", None)]),
        ("UPDATE kept_copy SET states = x'00'", [("unreadable", None)]),
        ("UPDATE kept_part SET drawn = 'P'", [("unreadable", None)]),
        ("UPDATE kept_part SET drawn = replace(drawn, 'F', 'Q')", [("unreadable", None)]),
        ("UPDATE kept_part SET labels = replace(labels, 'A2', 'A1')", [("kept", None)]),
        ("UPDATE kept_part SET part = x'00'", [("unreadable", None)]),
    ],
)
def test_each_change_behind_its_back_is_found(build, statement, expected):
    alter(build, statement)
    assert problems(build) == expected


def test_entries_taken_out_of_the_middle_are_missed(build):
    alter(build, "DELETE FROM entry WHERE number IN (3, 4)")
    assert problems(build)[0] == ("missing", 3)
    assert {("stray", 3), ("stray", 4)} <= set(problems(build))
    with open_record(build.path) as record:
        assert record.verify()[0].text == "entries 3 to 4 are missing"


def test_the_first_entry_is_missed_as_well(build):
    alter(build, "DELETE FROM entry WHERE number = 1")
    with open_record(build.path) as record:
        assert record.verify()[0].text == "entry 1 is missing"


def test_rewriting_an_entry_with_its_hash_breaks_the_chain(build):
    alter(build, "UPDATE entry SET note = 'x', hash = '" + "ab" * 32 + "' WHERE number = 2")
    assert problems(build) == [("changed", 2), ("chain", 3)]
    with open_record(build.path) as record:
        text = record.verify()[1].text
    assert text == "entry 3 does not follow on entry 2: that one was changed"


def test_a_row_ahead_of_its_entry_is_found(build):
    row = "INSERT INTO event VALUES (7, 0, 'FL-101', 1, '2', 'deburr', 0, '', NULL)"
    with database(build.path) as db:
        db.execute(row)
    assert problems(build) == [("stray", 7), ("kept", None)]


def test_a_trigger_that_was_taken_out_or_weakened_is_found(build):
    with database(build.path) as db:
        db.execute("DROP TRIGGER event_update")
        db.execute("DROP TRIGGER entry_delete")
        db.execute("CREATE TRIGGER entry_delete BEFORE DELETE ON entry BEGIN SELECT 1; END")
        db.execute("CREATE TABLE mine (x)")
    with open_record(build.path) as record:
        assert [problem.text for problem in record.verify()] == [
            "trigger event_update is missing: the record was open to changes",
            "table mine is not part of a record",
            "trigger entry_delete is not as it was made",
        ]


def test_entries_cut_off_at_the_end_show_only_against_a_note(build, tmp_path):
    old = tmp_path / "yesterday.sqlite"
    shutil.copy(build.path, old)
    build.do("deburr", "FL-101:A2")
    noted = build.record.head()
    assert build.record.verify(noted) == ()
    build.record.close()
    shutil.copy(old, build.path)
    assert problems(build) == []
    assert problems(build, noted) == [("noted", 7)]


def test_a_record_rewritten_as_a_whole_shows_only_against_a_note(build, tmp_path):
    noted = build.record.head()._replace(number=2)
    other = Build(tmp_path, name="other.sqlite")
    other.do("match-drill", "FL-101:B")
    assert problems(other) == []
    assert problems(other, noted) == [("noted", 2)]
    other.record.close()


def test_rebuilding_puts_right_what_is_kept_and_touches_nothing_else(build):
    states, entries = build.record.states(), build.record.entries()
    alter(build, "UPDATE kept_copy SET states = 'junk'", "DELETE FROM kept_part")
    with open_record(build.path) as record:
        assert record.verify() != ()
        assert record.rebuild() == ("FL-101",)
        assert record.verify() == ()
        assert record.states() == states
        assert record.entries() == entries


def test_damaged_kept_state_is_told_and_nothing_is_recorded_on_top(build):
    alter(build, "UPDATE kept_copy SET states = 'junk'")
    message = (
        r"^part 'FL-101': what is kept about it for speed is damaged\. Run verify, then rebuild"
    )
    with pytest.raises(RecordError, match=message):
        build.do("match-drill", "FL-101:B1")
    assert build.record.head().number == 6


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE event SET holes = '1-999999999' WHERE entry = 2",
        "UPDATE event SET holes = '15' WHERE entry = 2",
        "UPDATE event SET holes = '' WHERE entry = 2",
        "UPDATE event SET what = 'polish' WHERE entry = 2",
        "UPDATE event SET copy = 0 WHERE entry = 2",
        "UPDATE event SET detail = 'cracked' WHERE entry = 2",
        "UPDATE event SET value = NULL WHERE entry = 4",
        "UPDATE hole SET drawn = 'big' WHERE number = 1",
        "UPDATE hole SET x = 'left' WHERE number = 1",
        "UPDATE hole SET number = 0 WHERE number = 1",
        "UPDATE revision SET drawing = x'00'",
    ],
)
def test_a_row_that_cannot_be_is_a_problem_and_not_a_crash(build, change):
    alter(build, change)
    codes = [code for code, _ in problems(build)]
    assert "changed" in codes
    assert codes[-1] == "unreadable"


def test_nothing_is_recorded_on_top_of_a_damaged_end(build):
    alter(build, "UPDATE entry SET hash = x'00' WHERE number = 6")
    with pytest.raises(RecordError, match=r"^entry 6: is damaged\. Run verify\.$"):
        build.do("match-drill", "FL-101:B1")


def test_reading_a_damaged_row_ends_in_one_line(build):
    alter(
        build, "UPDATE event SET what = 'polish' WHERE entry = 2", "UPDATE revision SET drawing = 7"
    )
    with open_record(build.path) as record:
        with pytest.raises(
            RecordError, match=r"^entry 2: the row .* of table event is damaged\. Run"
        ):
            record.events()
        with pytest.raises(RecordError, match=r"^entry 2: the row"):
            record.entries(last=5)
    alter(
        build,
        "UPDATE entry SET who = 7 WHERE number = 6",
        "UPDATE entry SET who = x'ff' WHERE number = 5",
    )
    with open_record(build.path) as record, pytest.raises(RecordError, match=r"^entry 5: the row"):
        record.entries(last=2)


# Flipped bytes ---------------------------------------------------------------------------------


def content(path):
    with open_record(path) as record:
        return record.entries(), record.states()


def test_flipped_bytes_are_found_or_harmless_and_the_file_is_left_alone(build, tmp_path):
    build.record.close()
    whole = build.path.read_bytes()
    intact = content(build.path)
    rng = random.Random(20260305)  # noqa: S311 - damage, not a secret
    told = found = 0
    for _ in range(150):
        damaged = bytearray(whole)
        for _ in range(rng.choice([1, 1, 1, 8, 64])):
            damaged[rng.randrange(len(damaged))] ^= rng.randrange(1, 256)
        build.path.write_bytes(damaged)
        try:
            with open_record(build.path) as record:
                verdict = record.verify()
            reading = content(build.path)
        except RecordError as error:
            told += 1
            line = str(error)
        else:
            found += bool(verdict)
            line = ""
            assert verdict or reading == intact
        assert "\n" not in line
        assert build.path.read_bytes() == damaged
    assert told > 5
    assert found > 5


def test_a_record_cut_short_is_told(build):
    build.record.close()
    whole = build.path.read_bytes()
    for keep in (1, 99, 100, 4096, len(whole) // 2, len(whole) - 4096):
        build.path.write_bytes(whole[:keep])
        try:
            with open_record(build.path) as record:
                assert record.verify()
        except RecordError as error:
            told = str(error)
            assert told.startswith(f"{build.path}: ")
        assert build.path.read_bytes() == whole[:keep]
