"""The build folder: found, started, and never left half-written."""

import os
import re
import resource
import signal
import stat
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from holeschedule.build.folder import (
    BuildFolder,
    find_build,
    locked,
    write_whole,
)
from holeschedule.build.intent import PART_KEYS, read_intent
from holeschedule.build.start import create_build, toml_text
from holeschedule.errors import BuildError
from holeschedule.units import LengthUnit


@pytest.fixture
def build(tmp_path: Path) -> BuildFolder:
    return create_build(tmp_path / "bay")


def refusal(act) -> str:
    """The one line with which `act` is refused."""
    with pytest.raises(BuildError) as caught:
        act()
    message = str(caught.value)
    assert "\n" not in message
    return message


def hidden_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path.name.endswith(".part"))


# Finding a build -------------------------------------------------------------------------------


def test_a_build_is_found_from_its_folder_and_from_any_below(build: BuildFolder) -> None:
    deep = build.drawings / "old" / "older"
    deep.mkdir(parents=True)
    for start in (build.path, build.drawings, deep):
        assert find_build(start) == build
    assert build.file.name == "build.toml"
    assert build.record.name == "record.sqlite"


def test_the_nearest_build_above_counts(build: BuildFolder) -> None:
    inner = create_build(build.path / "tail")
    assert find_build(inner.drawings) == inner
    assert find_build(inner.path.parent) == build


def test_a_build_that_is_named_is_not_searched_for(build: BuildFolder, tmp_path: Path) -> None:
    other = create_build(tmp_path / "other")
    assert find_build(build.path, other.path) == other
    assert find_build(build.path, other.file) == other
    assert "is not a build" in refusal(lambda: find_build(build.path, build.drawings))


def test_a_folder_without_a_build_says_so_and_what_to_do(tmp_path: Path) -> None:
    message = refusal(lambda: find_build(tmp_path))
    assert message.startswith(f"{tmp_path}: there is no build here, nor in a folder above")
    assert message.endswith("name it with --build, or start one with `new`.")


def test_a_named_folder_that_is_not_there_is_told_from_one_that_is_no_build(tmp_path) -> None:
    gone = tmp_path / "gone"
    assert refusal(lambda: find_build(tmp_path, gone)) == (
        f"{gone}: there is no such folder. Name the folder of a build."
    )
    message = refusal(lambda: find_build(tmp_path, tmp_path))
    assert f"{tmp_path}: is not a build, there is no build.toml in it." in message


@pytest.mark.parametrize("make", ["folder", "broken link", "loop of links"])
def test_a_build_toml_that_is_no_file_ends_the_search(build: BuildFolder, make: str) -> None:
    inner = build.path / "inner"
    inner.mkdir()
    false = inner / "build.toml"
    if make == "folder":
        false.mkdir()
    else:
        false.symlink_to(false if make == "loop of links" else inner / "nothing")
    for stated in (None, inner):
        message = refusal(lambda stated=stated: find_build(inner, stated))
        assert message.startswith(f"{false}: is not a file, or a link to none")


def test_loops_of_links_and_nul_in_a_path_end_in_a_line(tmp_path: Path) -> None:
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    assert "there is no such folder" in refusal(lambda: find_build(tmp_path, loop))
    assert "there is no build here" in refusal(lambda: find_build(loop))
    nul = Path(f"{tmp_path}/a\0b")
    assert "there is no such folder" in refusal(lambda: find_build(tmp_path, nul))
    for path in (loop, nul):
        message = refusal(lambda path=path: create_build(path))
        assert message.startswith(f"{path}: is not a folder that can be used (")


def test_a_build_that_was_moved_and_renamed_works(build: BuildFolder, tmp_path: Path) -> None:
    there = tmp_path / "a" / "renamed bay"
    there.parent.mkdir()
    build.path.rename(there)
    moved = find_build(there / "drawings")
    assert moved.path == there
    assert read_intent(moved).name == "bay"


# Starting a build ------------------------------------------------------------------------------


def test_a_new_build_has_its_files_and_says_what_it_was_given(tmp_path: Path) -> None:
    build = create_build(tmp_path / "deep" / "bay", "Aft bay", "mm", "navedtra")
    intent = read_intent(build)
    assert (intent.name, intent.units, intent.rules) == (
        "Aft bay",
        LengthUnit.MILLIMETRE,
        "navedtra",
    )
    assert intent.parts == ()
    assert sorted(p.name for p in build.path.iterdir() if not p.name.startswith(".")) == [
        "build.toml",
        "drawings",
    ]


def test_a_new_build_is_in_inches_by_the_rules_faa_and_called_by_its_folder(build) -> None:
    intent = read_intent(build)
    assert (intent.name, intent.units, intent.rules) == ("bay", LengthUnit.INCH, "faa")


def test_a_new_build_can_leave_the_unit_to_each_drawing(tmp_path: Path) -> None:
    assert read_intent(create_build(tmp_path / "bay", units=None)).units is None


def test_the_comments_of_a_new_file_explain_every_key_and_hold_when_uncommented(build) -> None:
    text = build.file.read_text(encoding="utf-8")
    for key in PART_KEYS:
        if key != "holes":
            assert re.search(rf"^# {key} = .*# ", text, re.MULTILINE), key
    example = re.sub(r"^# (?=\[\[|\w+ = )", "", text, flags=re.MULTILINE)
    build.file.write_text(example, encoding="utf-8")
    (part,) = read_intent(build).parts
    assert (part.id, part.thickness, len(part.holes)) == ("FL-101", 0.032, 1)


@pytest.mark.parametrize("name", ['a "quoted" bay', "back\\slash", "Flügelmitte", "a # b"])
def test_any_name_of_one_line_is_written_as_it_is(tmp_path: Path, name: str) -> None:
    assert read_intent(create_build(tmp_path / "bay", name)).name == name


def test_a_folder_whose_name_is_no_plain_text_still_makes_a_build(tmp_path: Path) -> None:
    assert read_intent(create_build(tmp_path / "two\nlines")).name == "two?lines"
    strange = Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff"))
    assert read_intent(create_build(strange)).name == "?"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"units": "cm"}, "a new build: units is 'cm'; choose from in, mm."),
        ({"name": "two\nlines"}, "name is 'two\\nlines'; it has to be one line of plain text"),
        ({"rules": ""}, "rules is ''; it has to be one line of plain text"),
    ],
)
def test_a_build_is_not_begun_with_a_value_that_is_none(tmp_path, given, said) -> None:
    assert said in refusal(lambda: create_build(tmp_path / "bay", **given))
    assert not (tmp_path / "bay").exists()


def test_an_empty_folder_or_one_with_hidden_files_becomes_a_build(tmp_path: Path) -> None:
    (tmp_path / ".versions").mkdir()
    (tmp_path / "drawings").mkdir()
    assert find_build(tmp_path, create_build(tmp_path).path).path == tmp_path


@pytest.mark.parametrize("held", ["plan.txt", "drawings/fl-101.dxf"])
def test_a_folder_with_anything_else_is_left_alone(tmp_path: Path, held: str) -> None:
    file = tmp_path / held
    file.parent.mkdir(exist_ok=True)
    file.write_text("mine")
    before = sorted(tmp_path.rglob("*"))
    message = refusal(lambda: create_build(tmp_path))
    assert f"is not empty, it holds '{Path(held).parts[0]}'" in message
    assert sorted(tmp_path.rglob("*")) == before


def test_a_build_is_not_begun_twice(build: BuildFolder) -> None:
    before = build.file.read_bytes()
    message = refusal(lambda: create_build(build.path))
    assert message == f"{build.path}: is a build already. Bring drawings in with `import`."
    assert build.file.read_bytes() == before


def test_a_file_in_the_way_is_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "bay"
    file.write_text("mine")
    assert "is not a folder that can be used" in refusal(lambda: create_build(file))
    assert "is not a folder that can be used" in refusal(lambda: create_build(file / "below"))
    assert file.read_text() == "mine"


def test_of_several_commands_that_begin_one_build_at_once_one_does(tmp_path: Path) -> None:
    told: list[str] = []

    def begin(name: str) -> None:
        try:
            told.append(read_intent(create_build(tmp_path / "bay", name)).name)
        except BuildError as error:
            told.append(str(error))

    threads = [threading.Thread(target=begin, args=(f"n{n}",)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    done = [text for text in told if text.startswith("n")]
    assert len(done) == 1
    assert read_intent(BuildFolder(tmp_path / "bay")).name == done[0]
    assert all("is a build already" in text for text in told if text not in done)


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a folder nobody can write to")
def test_a_place_that_cannot_be_written_to_ends_in_a_line() -> None:
    assert "cannot be made" in refusal(lambda: create_build(Path("/proc/self/bay")))


# Writing ---------------------------------------------------------------------------------------


def test_a_file_is_replaced_whole_and_keeps_its_permissions(tmp_path: Path) -> None:
    file = tmp_path / "build.toml"
    write_whole(file, b"first\r\n")
    assert file.read_bytes() == b"first\r\n"
    file.chmod(0o640)
    write_whole(file, b"")
    assert file.read_bytes() == b""
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert hidden_in(tmp_path) == []


def test_a_link_stays_and_what_it_leads_to_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    real, link = tmp_path / "kept" / "real.toml", tmp_path / "build.toml"
    real.write_bytes(b"old")
    link.symlink_to(real)
    write_whole(link, b"new")
    assert link.is_symlink()
    assert real.read_bytes() == b"new"


@pytest.fixture
def small_disk():
    """No file may grow beyond a thousand bytes, as on a full disk."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
    yield
    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.usefixtures("small_disk")
def test_on_a_full_disk_the_old_file_stays_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    file = tmp_path / "build.toml"
    write_whole(file, b"old")
    message = refusal(lambda: write_whole(file, b"x" * 2000))
    assert message.startswith(f"{file}: cannot be written (")
    assert "Nothing was changed" in message
    assert file.read_bytes() == b"old"
    assert hidden_in(tmp_path) == []


def test_where_no_file_can_be_written_it_is_said(tmp_path: Path) -> None:
    folder = tmp_path / "build.toml"
    folder.mkdir()
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    for path in (folder, loop, loop / "build.toml", tmp_path / "gone" / "x", Path("a\0b")):
        assert "cannot be written (" in refusal(lambda path=path: write_whole(path, b"new"))
    assert hidden_in(tmp_path) == []


WRITER = """
import sys
from pathlib import Path
from holeschedule.build.folder import write_whole
while True:
    for letter in "ab":
        write_whole(Path(sys.argv[1]), letter.encode() * 300_000)
        print(letter, flush=True)
"""


def test_killed_while_writing_it_leaves_the_old_file_or_the_new_one(tmp_path: Path) -> None:
    file = tmp_path / "build.toml"
    write_whole(file, b"a" * 300_000)
    for lines in (1, 2, 5):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(file)], stdout=subprocess.PIPE
        ) as child:
            for _ in range(lines):
                child.stdout.readline()
            child.send_signal(signal.SIGKILL)
        content = file.read_bytes()
        assert content in (b"a" * 300_000, b"b" * 300_000)


# One change at a time --------------------------------------------------------------------------


def test_a_second_command_is_refused_when_the_first_is_not_done_in_time(build) -> None:
    with locked(build):
        message = refusal(lambda: locked(build, patience=0.05).__enter__())
    assert message.startswith(f"{build.file}: another command is changing it")
    assert "after 0.05 s" in message


def test_a_second_command_waits_for_the_first(build: BuildFolder) -> None:
    order: list[str] = []

    def second() -> None:
        with locked(build):
            order.append("second")

    with locked(build):
        thread = threading.Thread(target=second)
        thread.start()
        order.append("first")
    thread.join()
    assert order == ["first", "second"]


def test_a_command_that_fails_lets_the_next_one_in(build: BuildFolder) -> None:
    with pytest.raises(ZeroDivisionError), locked(build):
        raise ZeroDivisionError
    with locked(build, patience=0):
        pass


HOLDER = """
import sys, time
from pathlib import Path
from holeschedule.build.folder import BuildFolder, locked
with locked(BuildFolder(Path(sys.argv[1]))):
    (Path(sys.argv[1]) / ".build.toml.7-dead.part").write_bytes(b"half")
    print("held", flush=True)
    time.sleep(60)
"""


def test_a_killed_command_leaves_no_lock_and_what_it_half_wrote_is_cleared(build) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(build.path)], stdout=subprocess.PIPE
    ) as child:
        assert child.stdout.readline() == b"held\n"
        assert "another command" in refusal(lambda: locked(build, patience=0).__enter__())
        child.send_signal(signal.SIGKILL)
    with locked(build, patience=1):
        assert hidden_in(build.path) == []


def test_where_the_lock_cannot_be_made_it_is_said(tmp_path: Path) -> None:
    message = refusal(lambda: locked(BuildFolder(tmp_path / "gone")).__enter__())
    assert f"{tmp_path / 'gone'}: cannot be changed (No such file or directory)" in message


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is read-only for root")
def test_a_read_only_folder_ends_in_a_line(build: BuildFolder) -> None:
    build.path.chmod(0o500)
    try:
        (build.path / ".build.lock").chmod(0o400)
        assert "cannot be changed (Permission denied)" in refusal(lambda: locked(build).__enter__())
        assert "cannot be written (Permission denied)" in refusal(
            lambda: write_whole(build.file, b"")
        )
    finally:
        build.path.chmod(0o700)


# The way in for every command ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("bay", '"bay"'),
        ('5" keel', r'"5\" keel"'),
        ("a\\b", r'"a\\b"'),
        ("a\nb\x7f", r'"a\u000ab\u007f"'),
        ("\U000e0001", r'"\U000e0001"'),
    ],
)
def test_texts_are_written_as_toml(text: str, written: str) -> None:
    assert toml_text(text) == written


@pytest.mark.parametrize("module", ["folder", "intent"])
def test_reading_what_is_intended_imports_nothing_heavy(module: str) -> None:
    code = (
        f"import sys, holeschedule.build.{module};"
        "print(sorted({'numpy', 'ezdxf', 'shapely', 'tomlkit', 'click'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
