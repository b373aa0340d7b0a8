"""The file of a record: where it may lie, who may write, what is said when something is wrong."""

import contextlib
import os
import re
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import pytest

import holeschedule
from holeschedule.errors import HoleScheduleError, RecordError
from holeschedule.record import database
from holeschedule.record.events import EntryDraft, Request
from holeschedule.record.store import open_record
from holeschedule.selection import Pick
from tests.records import Build, drawn_row, import_draft, without_waiting

ROOT = Path(__file__).parents[2]


DURABLE = database.SYNCHRONOUS


@pytest.fixture(autouse=True)
def _without_waiting(monkeypatch):
    without_waiting(monkeypatch)


@pytest.fixture
def build(tmp_path):
    made = Build(tmp_path)
    yield made
    made.record.close()


def message_of(action, *arguments, **options):
    with pytest.raises(RecordError) as caught:
        action(*arguments, **options)
    line = str(caught.value)
    assert "\n" not in line
    assert isinstance(caught.value, HoleScheduleError)
    return line


def mark(record, label, needs):
    draft = EntryDraft("mark", "Ada", (Request("match-drill", (Pick("FL-101", 1, label),)),))
    return record.append(draft, needs)


def names_beside(path):
    return sorted(found.name for found in path.parent.iterdir())


# Opening ---------------------------------------------------------------------------------------


def test_a_record_that_is_not_there_is_not_made_by_the_way(tmp_path):
    path = tmp_path / "record.sqlite"
    line = message_of(open_record, path)
    assert line == f"{path}: there is no record here. Start one, or correct the path."
    assert not path.exists()


def test_an_empty_file_is_not_taken_for_a_record_without_entries(tmp_path):
    path = tmp_path / "record.sqlite"
    path.touch()
    assert message_of(open_record, path) == (
        f"{path}: the file is empty, which a record never is. Restore it from a copy, or delete it"
        " and start a new record."
    )
    assert path.stat().st_size == 0
    with open_record(path, create=True) as record:  # as after a start that was cut off
        assert record.verify() == ()


def test_another_file_is_told_from_a_record(tmp_path):
    path = tmp_path / "record.sqlite"
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE x (y)")
    before = path.read_bytes()
    for create in (False, True):
        line = message_of(open_record, path, create=create)
        assert line == f"{path}: is a database of another program, not a record. Correct the path."
    assert path.read_bytes() == before
    path.write_text("0\nSECTION\n" * 100)
    assert "is not a record, or its beginning is damaged. It was left as it is" in message_of(
        open_record, path
    )


def test_a_folder_or_a_file_in_the_way_is_told(tmp_path):
    (tmp_path / "record.sqlite").mkdir()
    assert "cannot be opened" in message_of(open_record, tmp_path / "record.sqlite")
    (tmp_path / "file").touch()
    below = tmp_path / "file" / "record.sqlite"
    assert "there is no record here" in message_of(open_record, below)
    assert "cannot be opened" in message_of(open_record, below, create=True)


def test_a_record_of_a_newer_version_is_refused_and_left_alone(build):
    build.record.close()
    with closing(sqlite3.connect(build.path)) as db:
        db.execute("PRAGMA user_version = 7")
    before = build.path.read_bytes()
    assert message_of(open_record, build.path) == (
        f"{build.path}: was written by a newer holeschedule (record version 7; this one reads up"
        " to 1). Install the newer holeschedule."
    )
    assert build.path.read_bytes() == before


def test_a_record_that_becomes_newer_while_it_is_open_is_not_written_to(build):
    with closing(sqlite3.connect(build.path)) as db:
        db.execute("PRAGMA user_version = 7")
    assert "was written by a newer holeschedule" in message_of(
        mark, build.record, "A1", build.needs
    )
    assert "was written by a newer holeschedule" in message_of(build.record.states)


# Migrations ------------------------------------------------------------------------------------


def add_place(db):
    db.execute("CREATE TABLE shop (place TEXT)")


def test_an_older_record_is_read_as_it_is_and_migrated_when_it_is_written_to(build, monkeypatch):
    mark(build.record, "A1", build.needs)
    expected = build.record.entries(), build.record.states()
    build.record.close()
    before = build.path.read_bytes()
    monkeypatch.setattr(database, "MIGRATIONS", [*database.MIGRATIONS, add_place])
    with open_record(build.path, clock=build.clock) as record:
        assert (record.entries(), record.states()) == expected
        assert record.verify() == ()
        assert build.path.read_bytes() == before
        assert mark(record, "A2", build.needs).entry.number == 3
        assert record.verify() == ()
    with closing(sqlite3.connect(build.path)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (2,)
        assert db.execute("SELECT count(*) FROM shop").fetchone() == (0,)


def test_a_migration_that_fails_leaves_the_old_record(build, monkeypatch):
    build.record.close()
    before = build.path.read_bytes()
    steps = [*database.MIGRATIONS, add_place, lambda db: db.execute("CREATE TABLE shop (x)")]
    monkeypatch.setattr(database, "MIGRATIONS", steps)
    with open_record(build.path, clock=build.clock) as record:
        assert "table shop already exists" in message_of(mark, record, "A1", build.needs)
    assert build.path.read_bytes() == before


def test_an_empty_schema_is_version_0_and_is_brought_up(tmp_path):
    path = tmp_path / "record.sqlite"
    with closing(sqlite3.connect(path)) as db:
        db.execute("VACUUM")  # a file with a header and nothing in it
    with open_record(path, create=True) as record:
        assert record.verify() == ()
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (1,)
        assert db.execute("PRAGMA application_id").fetchone() == (database.APPLICATION_ID,)


# One file that can be carried about ------------------------------------------------------------


def test_at_rest_the_record_is_one_file(build):
    mark(build.record, "A1", build.needs)
    assert names_beside(build.path) == ["record.sqlite"]
    build.record.close()
    assert names_beside(build.path) == ["record.sqlite"]


def test_a_moved_or_renamed_build_goes_on(build, tmp_path):
    build.record.close()
    place = tmp_path / "with space, 100%, #2? ünd 'quotes'"
    place.mkdir()
    moved = Path(shutil.move(build.path, place / "the record.sqlite"))
    with open_record(moved, clock=build.clock) as record:
        assert mark(record, "A1", build.needs).entry.number == 2
        assert record.verify() == ()


def test_a_commit_waits_for_the_disk_and_for_the_folder(build, monkeypatch):
    monkeypatch.setattr(database, "SYNCHRONOUS", DURABLE)
    with open_record(build.path) as record:
        assert record._db.execute("PRAGMA synchronous").fetchone() == (3,)


def test_a_write_ahead_log_set_by_another_program_is_taken_out(build):
    with closing(sqlite3.connect(build.path)) as db:
        db.execute("PRAGMA journal_mode = WAL")
    mark(build.record, "A1", build.needs)
    assert build.record._db.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert names_beside(build.path) == ["record.sqlite"]


# Not allowed to write --------------------------------------------------------------------------


@contextlib.contextmanager
def folder_for_everybody():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder


@contextlib.contextmanager
def as_somebody_else():
    """Work without the rights of the administrator, whom no permission stops."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def locked_build():
    with folder_for_everybody() as folder:
        made = Build(folder)
        made.record.close()
        made.path.chmod(0o444)
        folder.chmod(0o555)
        with as_somebody_else():
            yield made
        folder.chmod(0o755)


def test_a_folder_that_cannot_be_written_to_can_be_read(locked_build):
    build = locked_build
    if not os.access(Path(holeschedule.__file__).with_name("record") / "schema.sql", os.R_OK):
        pytest.skip("this checkout may not be read by another user")
    before = build.path.read_bytes()
    with open_record(build.path, clock=build.clock) as record:
        assert len(record.states()["FL-101"].numbers) == 13
        assert record.verify() == ()
        assert len(record.entries()) == 1
        line = message_of(mark, record, "A1", build.needs)
        assert line == (
            f"{build.path}: may be read but not written. Allow writing to the file and its folder,"
            " or copy the build to where you may write."
        )
        assert message_of(record.undo, "Ada").startswith(f"{build.path}: may be read but")
        assert record.verify() == ()
    assert names_beside(build.path) == ["record.sqlite"]
    assert build.path.read_bytes() == before


def test_a_record_that_cannot_be_made_or_read_is_told(locked_build):
    build = locked_build
    line = message_of(open_record, build.path.with_name("other.sqlite"), create=True)
    assert "cannot be opened, or its folder cannot be written to. Allow" in line


def test_a_folder_that_may_not_be_entered_is_told():
    with folder_for_everybody() as folder:
        made = Build(folder)
        made.record.close()
        folder.chmod(0)
        with as_somebody_else():
            line = message_of(open_record, made.path)
        folder.chmod(0o755)
        assert line == f"{made.path}: cannot be reached (Permission denied). Allow reading it."


def test_a_file_that_may_not_be_read_is_told():
    with folder_for_everybody() as folder:
        made = Build(folder)
        made.record.close()
        made.path.chmod(0)
        with as_somebody_else():
            assert "cannot be opened" in message_of(open_record, made.path)


CUT_OFF = """
import os, sqlite3, sys
db = sqlite3.connect(sys.argv[1], isolation_level=None)
db.execute("PRAGMA cache_size = 1")
db.execute("BEGIN IMMEDIATE")
for _ in range(200):  # more than the cache takes, so that the file is changed before the end
    db.execute("INSERT INTO kept_part VALUES (randomblob(200), 'x', 'y')")
os._exit(9)
"""


def test_what_a_cut_off_command_left_is_cleared_up_by_the_next(build):
    mark(build.record, "A1", build.needs)
    subprocess.run([sys.executable, "-c", CUT_OFF, build.path], check=False)
    assert build.path.with_name("record.sqlite-journal").exists()
    assert build.record.verify() == ()
    assert [entry.number for entry in build.record.entries()] == [1, 2]
    assert not build.path.with_name("record.sqlite-journal").exists()


def test_what_a_cut_off_command_left_cannot_be_cleared_up_without_writing():
    with folder_for_everybody() as folder:
        made = Build(folder)
        made.record.close()
        subprocess.run([sys.executable, "-c", CUT_OFF, made.path], check=False)
        made.path.chmod(0o444)
        (folder / "record.sqlite-journal").chmod(0o444)
        folder.chmod(0o555)
        with as_somebody_else():
            line = message_of(open_record, made.path)
        folder.chmod(0o755)
        made.path.chmod(0o644)
        assert re.search(r"what it left has to be taken back first|cannot be opened, or", line)
        with open_record(made.path) as record:
            assert record.verify() == ()


# A full disk -----------------------------------------------------------------------------------


def test_a_full_disk_records_nothing_of_the_command_and_loses_nothing(build):
    states = build.record.states()
    (pages,) = build.record._db.execute("PRAGMA page_count").fetchone()
    build.record._db.execute(f"PRAGMA max_page_count = {pages}")
    big = import_draft("FL-102", [hole for row in "ABCDEFGH" for hole in drawn_row(row, 99)])
    line = message_of(build.record.append, big, build.needs)
    assert line == (
        f"{build.path}: the disk is full; nothing of this command was recorded. Make room and"
        " repeat the command."
    )
    assert build.record.states() == states
    assert build.record.verify() == ()
    build.record._db.execute("PRAGMA max_page_count = 1000000")
    assert build.record.append(big, build.needs).entry.number == 2
    assert build.record.verify() == ()


@pytest.mark.parametrize("room", [0, 1, 4096, 10_000, 30_000])
def test_a_disk_that_takes_no_more_bytes_records_nothing_and_loses_nothing(build, room):
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    big = import_draft("FL-102", [hole for row in "ABCDEFGH" for hole in drawn_row(row, 99)])
    resource.setrlimit(resource.RLIMIT_FSIZE, (build.path.stat().st_size + room, hard))
    try:
        line = message_of(build.record.append, big, build.needs)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert "nothing of this command was recorded" in line
    assert build.record.verify() == ()
    assert len(build.record.entries()) == 1
    assert build.record.append(big, build.needs).entry.number == 2


# Several programs ------------------------------------------------------------------------------


def test_a_writer_waits_for_another_and_says_so_when_it_takes_too_long(build, monkeypatch):
    monkeypatch.setattr(database, "BUSY_SECONDS", 0.05)
    with open_record(build.path) as other, closing(sqlite3.connect(build.path)) as db:
        db.execute("BEGIN IMMEDIATE")
        line = message_of(mark, other, "A1", build.needs)
        assert "another program has been writing for 10 seconds; nothing of this command" in line
        assert len(other.entries()) == 1  # reading goes on meanwhile
        db.rollback()
        assert mark(other, "A1", build.needs).entry.number == 2


def test_a_command_cut_off_before_its_end_leaves_no_trace(build):
    states = build.record.states()

    def deny_entries(action, table, *_):
        is_entry = action == sqlite3.SQLITE_INSERT and table == "entry"
        return sqlite3.SQLITE_DENY if is_entry else sqlite3.SQLITE_OK

    build.record._db.set_authorizer(deny_entries)  # its events are in by then
    assert "cannot be read as a record (not authorized)" in message_of(
        mark, build.record, "A1", build.needs
    )
    build.record._db.set_authorizer(None)
    assert build.record.states() == states
    assert build.record.verify() == ()
    assert mark(build.record, "A1", build.needs).entry.number == 2


WRITER = """
import sys
from pathlib import Path
from holeschedule.record.events import EntryDraft, Request
from holeschedule.record.needs import PartNeeds
from holeschedule.record.store import open_record
from holeschedule.selection import Pick

path, who, row = sys.argv[1:]
needs = {"FL-101": PartNeeds()}
with open_record(Path(path)) as record:
    for label in [f"{letter}{place}" for letter in (row, "S") for place in range(1, 6)]:
        pick = Pick("FL-101", 1, label)
        done = record.append(EntryDraft("mark", who, (Request("match-drill", (pick,)),)), needs)
        print(label, done.entry.number if done.entry else "already", flush=True)
"""


@pytest.mark.parametrize("writers", [2, 8])
def test_writers_at_once_lose_nothing_and_never_do_one_thing_twice(tmp_path, writers):
    rows = "ABCDEFGH"[:writers]
    path = tmp_path / "record.sqlite"
    holes = [hole for row in (*rows, "S") for hole in drawn_row(row, 5)]
    with open_record(path, create=True) as record:
        record.append(import_draft("FL-101", holes), {})
    started = time.monotonic()
    running = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, path, f"writer {row}", row],
            stdout=subprocess.PIPE,
            text=True,
            cwd=ROOT,
        )
        for row in rows
    ]
    printed = [process.communicate(timeout=60)[0].split() for process in running]
    assert all(process.returncode == 0 for process in running)
    assert time.monotonic() - started < 60
    lines = [pair for out in printed for pair in zip(out[::2], out[1::2], strict=True)]
    assert len(lines) == 10 * writers
    made = {int(number): label for label, number in lines if number != "already"}
    assert sorted(made.values()) == sorted(hole.label for hole in holes)
    with open_record(path) as record:
        entries = {entry.number: entry for entry in record.entries()}
        assert sorted(entries) == [1, *sorted(made)]
        numbers = record.states()["FL-101"].numbers
        for number, label in made.items():
            assert entries[number].events[0].holes == str(numbers[label])
        assert record.verify() == ()


# Starting fast ---------------------------------------------------------------------------------

LOADED = """
import sys
from pathlib import Path
from holeschedule.record.events import EntryDraft, Request
from holeschedule.record.needs import PartNeeds
from holeschedule.record.store import open_record
from holeschedule.selection import parse_selection, pick_holes

with open_record(Path(sys.argv[1])) as record:
    labels = {name: list(part.numbers) for name, part in record.states().items()}
    picks = pick_holes(parse_selection("FL-101:A1-A3"), labels, {})
    draft = EntryDraft("mark", "Ada", (Request("match-drill", picks),))
    print(record.append(draft, {"FL-101": PartNeeds()}).entry.number)
exec(sys.argv[2])
print(" ".join(sys.modules))
"""
HEAVY = {"numpy", "shapely", "ezdxf", "pandas", "openpyxl", "click", "tomlkit", "scipy"}
SLOW = {"dataclasses", "hashlib", "json", "difflib", "csv", "logging", "tomllib"}


def modules_after(path, then=""):
    command = [sys.executable, "-c", LOADED, path, then]
    ran = subprocess.run(command, check=True, capture_output=True, text=True, cwd=ROOT)
    assert ran.stdout.splitlines()[0] == "2"
    return set(ran.stdout.splitlines()[-1].split())


def test_the_check_of_modules_sees_what_is_loaded(build):
    assert "numpy" in modules_after(build.path, "import numpy")


def test_marking_a_row_loads_nothing_heavy_and_nothing_that_it_can_do_without(build):
    loaded = modules_after(build.path)
    assert not loaded & (HEAVY | SLOW)
    own = {name for name in loaded if name.startswith("holeschedule.")}
    assert not own & {f"holeschedule.{name}" for name in ("model", "tables", "units", "data")}
    late = ("ready", "verify", "undo", "queries", "rows", "revisions", "measures")
    assert not own & {f"holeschedule.record.{name}" for name in late}


def test_no_part_of_the_record_loads_anything_heavy(build):
    then = "from holeschedule.record import measures, queries, ready, revisions, undo, verify"
    assert not modules_after(build.path, then) & HEAVY
