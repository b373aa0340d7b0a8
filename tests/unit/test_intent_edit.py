"""Changing build.toml by command: what is meant changes, and nothing else does."""

import signal
import subprocess
import sys
import threading
import tomllib
from functools import partial
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.build.edit import add_part, change_part
from holeschedule.build.folder import BuildFolder, locked
from holeschedule.build.intent import read_intent
from holeschedule.build.start import create_build
from holeschedule.errors import BuildError
from holeschedule.model import Head

NEW = {"id": "NEW", "drawing": "new.dxf", "thickness": "0.8 mm", "head": "flush"}

FILE = """\
# The aft bay.
rules = "faa"     # keep
units = "in"

# --- skins ---

[[part]]          # bottom
drawing = "fl-101.dxf"
id = "FL-101"
thickness = 0.032 # measured

# the keel row
[[part.holes]]
select = "A"      # all of it
treatment = "countersink"

[[part]]
id = 'FL-102'
drawing = "fl-102.dxf"
quantity = 2

# the end
"""


@pytest.fixture
def build(tmp_path: Path) -> BuildFolder:
    found = create_build(tmp_path / "bay")
    found.file.write_bytes(FILE.encode())
    return found


def text_of(build: BuildFolder) -> str:
    return build.file.read_bytes().decode()


def refusal(build: BuildFolder, act) -> str:
    """The one line with which `act` is refused; nothing has changed."""
    before = build.file.read_bytes()
    with pytest.raises(BuildError) as caught:
        act()
    assert build.file.read_bytes() == before
    assert "\n" not in str(caught.value)
    return str(caught.value)


# Adding ----------------------------------------------------------------------------------------


def test_a_part_is_written_behind_the_others_and_nothing_else_changes(build) -> None:
    intent = add_part(build, NEW)
    assert text_of(build) == FILE + (
        '\n[[part]]\nid = "NEW"\ndrawing = "new.dxf"\nthickness = "0.8 mm"\nhead = "flush"\n'
    )
    assert intent == read_intent(build)
    assert [part.id for part in intent.parts] == ["FL-101", "FL-102", "NEW"]
    assert intent.parts[2].thickness == 0.8 / 25.4


def test_keys_are_written_in_one_order_however_they_are_given(build: BuildFolder) -> None:
    add_part(build, {"quantity": 2, "drawing": "new.dxf", "mirror": True, "id": "NEW"})
    assert text_of(build).endswith('id = "NEW"\ndrawing = "new.dxf"\nquantity = 2\nmirror = true\n')


@pytest.mark.parametrize(
    "start",
    [
        "",
        "# only a comment",
        'name = "no line end"',
        '[[part]]\nid = "A"\ndrawing = "a.dxf"',
        '[[part]]\nid = "A"\ndrawing = "a.dxf"\nholes = [{select = "A", head = "flush"}]\n',
        'part = [\n  {id = "A", drawing = "a.dxf"}, # one\n]\nname = "after"\n',
        "part = []\n",
    ],
)
def test_a_part_is_added_however_the_file_is_written(tmp_path: Path, start: str) -> None:
    build = create_build(tmp_path / "bay")
    build.file.write_bytes(start.encode())
    before = read_intent(build).parts
    assert add_part(build, NEW).parts[:-1] == before
    changed = text_of(build)
    assert read_intent(build).parts[-1].id == "NEW"
    for comment in ("# only a comment", "# one"):
        assert (comment in start) == (comment in changed)


def test_the_first_part_goes_below_the_comments_of_a_new_file(tmp_path: Path) -> None:
    build = create_build(tmp_path / "bay")
    before = text_of(build)
    add_part(build, {"id": "A", "drawing": "a.dxf"})
    assert text_of(build) == before + '\n[[part]]\nid = "A"\ndrawing = "a.dxf"\n'


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"id": "NEW"}, "part NEW: drawing is missing, which has to be stated here."),
        ({"drawing": "a.dxf"}, "part without id: id is missing, which has to be stated here."),
        ({**NEW, "thickness": "32 mm"}, "part NEW: thickness is '32 mm'; it has to be above 0"),
        ({**NEW, "fnish": "prime"}, "part NEW: the key 'fnish' is not known; choose from"),
        ({**NEW, "id": "fl-101"}, "there is a part 'fl-101' already. Change that one."),
    ],
)
def test_a_part_that_cannot_be_used_is_not_written(build, values, said: str) -> None:
    assert said in refusal(build, lambda: add_part(build, values))


# Changing --------------------------------------------------------------------------------------


def test_a_value_changes_in_its_place_and_its_comment_stays(build: BuildFolder) -> None:
    intent = change_part(build, "fl-101", {"thickness": 0.04})
    assert text_of(build) == FILE.replace("0.032 # measured", "0.04 # measured")
    assert intent.parts[0].thickness == 0.04


def test_a_key_is_added_to_its_part_and_not_to_the_entry_below(build: BuildFolder) -> None:
    intent = change_part(build, "FL-101", {"head": "flush", "quantity": 4})
    part = intent.parts[0]
    assert (part.head, part.quantity, part.holes[0].head) == (Head.FLUSH, 4, None)
    lines = text_of(build).splitlines()
    assert [line for line in lines if line in FILE.splitlines()] == FILE.splitlines()


def test_a_key_is_taken_out_and_one_that_is_not_there_is_no_matter(build: BuildFolder) -> None:
    change_part(build, "FL-102", {"quantity": None, "material": None})
    assert text_of(build) == FILE.replace("quantity = 2\n", "")


def test_setting_what_is_set_already_leaves_the_file_as_it_is(build: BuildFolder) -> None:
    stamp = build.file.stat().st_mtime_ns
    change_part(build, "FL-102", {"quantity": 2})
    assert (text_of(build), build.file.stat().st_mtime_ns) == (FILE, stamp)


def test_a_part_can_be_renamed_but_not_to_the_name_of_another(build: BuildFolder) -> None:
    said = refusal(build, lambda: change_part(build, "FL-101", {"id": "fl-102"}))
    assert said == f"{build.file}: there is a part 'fl-102' already. Take another id."
    change_part(build, "FL-101", {"id": "FL-103"})
    assert [part.id for part in read_intent(build).parts] == ["FL-103", "FL-102"]


@pytest.mark.parametrize(
    ("part", "values", "said"),
    [
        ("FL-103", {"quantity": 2}, "there is no part 'FL-103'; choose from FL-101, FL-102"),
        ("FL-101", {"quantity": 0}, "part FL-101: quantity is 0; it has to be a whole number"),
        ("FL-101", {"drawing": None}, "part FL-101: drawing is missing"),
        ("FL-101", {"head": "flsh"}, "choose from flush, protruding (did you mean flush?)."),
    ],
)
def test_a_change_that_cannot_be_used_is_not_written(build, part, values, said) -> None:
    assert said in refusal(build, lambda: change_part(build, part, values))


# What stays ------------------------------------------------------------------------------------


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_ends_and_a_byte_order_mark_stay(build: BuildFolder, mark: bytes) -> None:
    build.file.write_bytes(mark + FILE.replace("\n", "\r\n").encode())
    add_part(build, NEW)
    change_part(build, "FL-102", {"quantity": 3, "head": "flush"})
    content = build.file.read_bytes()
    assert content.startswith(mark + b"# The aft bay.\r\n")
    assert content.count(b"\n") == content.count(b"\r\n") == FILE.count("\n") + 7


def test_in_a_file_with_both_kinds_of_line_end_every_old_line_keeps_its_own(build) -> None:
    mixed = FILE.replace("\n", "\r\n", 9)
    build.file.write_bytes(mixed.encode())
    add_part(build, NEW)
    assert text_of(build).startswith(mixed)


def test_the_permissions_of_the_file_stay(build: BuildFolder) -> None:
    build.file.chmod(0o600)
    add_part(build, NEW)
    assert build.file.stat().st_mode & 0o777 == 0o600


COMMENT = st.text(st.characters(codec="utf-8", categories=["L", "P", "Zs"]), max_size=20)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(COMMENT, st.booleans(), COMMENT, st.booleans()), min_size=1, max_size=5),
    st.data(),
)
def test_whatever_the_comments_only_the_value_meant_changes(tmp_path_factory, parts, data) -> None:
    text = ""
    for number, (above, is_apart, beside, has_holes) in enumerate(parts):
        blank = "\n" if is_apart else ""
        text += f'#{above}\n{blank}[[part]]\nid = "P{number}" #{beside}\ndrawing = "p.dxf"\n'
        text += "[[part.holes]]\nselect='A'\nhead=\"flush\"\n" if has_holes else ""
    build = create_build(tmp_path_factory.mktemp("build") / "bay")
    build.file.write_bytes(text.encode())
    meant = tomllib.loads(text)

    place = data.draw(st.integers(0, len(parts) - 1))
    change_part(build, f"P{place}", {"quantity": 7, "drawing": "other.dxf"})
    meant["part"][place] |= {"quantity": 7, "drawing": "other.dxf"}
    changed = text_of(build)
    assert tomllib.loads(changed) == meant
    kept = [line for line in text.splitlines() if not line.startswith("drawing")]
    assert [line for line in changed.splitlines() if line in kept] == kept


# When something stands against it --------------------------------------------------------------


def test_a_file_with_a_mistake_is_not_changed_and_the_mistake_is_named(build) -> None:
    build.file.write_bytes(FILE.replace('"countersink"', '"countersunk"').encode())
    said = refusal(build, lambda: add_part(build, NEW))
    assert said.startswith(f"{build.file}, line 15: treatment is 'countersunk'; choose from")
    refusal(build, lambda: change_part(build, "FL-101", {"quantity": 2}))


@pytest.mark.parametrize(
    "written",
    [
        FILE.replace("0.032", "0.025") + '[[part]]\nid = "NEW"\ndrawing = "new.dxf"\n',
        FILE.replace("# measured", "").replace("# keep", "")
        + '[[part]]\nid = "NEW"\ndrawing = "new.dxf"\n',
        FILE,
        "a = [",
    ],
    ids=["another value changed", "comments lost", "nothing added", "not TOML any more"],
)
def test_a_file_that_would_be_disturbed_is_left_to_the_hand(build, monkeypatch, written) -> None:
    monkeypatch.setattr("tomlkit.dumps", lambda document: written)
    said = refusal(build, lambda: add_part(build, {"id": "NEW", "drawing": "new.dxf"}))
    assert said.startswith(f"{build.file}: is written in a way that no command can change")
    assert said.endswith("Nothing was changed; edit the file by hand.")


def test_a_disk_that_refuses_leaves_the_old_file(build: BuildFolder, monkeypatch) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    said = refusal(build, lambda: add_part(build, NEW))
    assert "cannot be written (No space left on device). Nothing was changed" in said
    assert [path.name for path in build.path.iterdir() if path.name.endswith(".part")] == []


def test_while_another_command_changes_the_file_nothing_is_lost(build: BuildFolder) -> None:
    def add(number: int) -> None:
        add_part(build, {"id": f"N{number}", "drawing": "n.dxf"})

    threads = [threading.Thread(target=add, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    ids = [part.id for part in read_intent(build).parts]
    assert sorted(ids[2:]) == [f"N{number}" for number in range(8)]


def test_a_command_that_waits_in_vain_says_so(build: BuildFolder, monkeypatch) -> None:
    monkeypatch.setattr("holeschedule.build.edit.locked", partial(locked, patience=0.1))
    with locked(build):
        said = refusal(build, lambda: add_part(build, NEW))
        assert said == refusal(build, lambda: change_part(build, "FL-101", {"quantity": 2}))
    assert "another command is changing it, and was not done after 0.1 s" in said


ADDER = """
import sys
from pathlib import Path
from holeschedule.build.edit import add_part
from holeschedule.build.folder import BuildFolder
build = BuildFolder(Path(sys.argv[1]))
for number in range(int(sys.argv[2]), 10_000):
    add_part(build, {"id": f"K{number}", "drawing": "k.dxf"})
    print(number, flush=True)
"""


def test_killed_at_any_moment_every_part_that_was_acknowledged_is_there(build) -> None:
    done = 0
    for lines in (1, 3, 2):
        with subprocess.Popen(
            [sys.executable, "-c", ADDER, str(build.path), str(done)], stdout=subprocess.PIPE
        ) as child:
            for _ in range(lines):
                said = int(child.stdout.readline())
            child.send_signal(signal.SIGKILL)
        there = [part.id for part in read_intent(build).parts[2:]]
        assert there == [f"K{number}" for number in range(len(there))]
        assert len(there) >= said + 1
        done = len(there)
    add_part(build, NEW)
    assert len(read_intent(build).parts) == done + 3
