"""Commands that are cut off, and a disk, a file or a folder that does not do its part.

Whatever happens ends in a clear line, and loses nothing that was confirmed.
"""

import contextlib
import json
import os
import random
import re
import resource
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

import holeschedule
from holeschedule.record.store import open_record
from tests.cli.builds import HIGH, LOW, Shop, plate
from tests.cli.commands import ROOT

SHIFTED = [(0.5, 0.5), (1.25, 0.5), (2.0, 0.56), (2.75, 0.5), (3.5, 0.5)]

# A process that runs commands, each in a fork of its own, which saves the start of the
# interpreter. It reads a line of JSON for each: the words, when to kill it (`moment`: when it
# writes for the nth time; `seconds`: after so long), and answers whether it did, and what it said.
NURSERY = """
import json, os, signal, sys, time
from holeschedule.cli import run
import ezdxf, holeschedule.cli_build, holeschedule.cli_marks, holeschedule.options, tomlkit
import holeschedule.record.undo, holeschedule.work.arriving, holeschedule.work.bring_in
import holeschedule.work.looking_back, holeschedule.work.marking

WRITES = ("os.rename", "os.remove", "sqlite3.connect", "fcntl.flock", "os.mkdir")

def kill_at(moment):
    seen = 0
    def watch(event, args):
        nonlocal seen
        flags = args[2] if event == "open" and isinstance(args[2], int) else 0
        if event in WRITES or flags & (os.O_CREAT | os.O_RDWR):
            seen += 1
            if seen == moment:
                os.kill(os.getpid(), signal.SIGKILL)
    sys.addaudithook(watch)

for line in sys.stdin:
    asked = json.loads(line)
    heard, said = os.pipe()
    child = os.fork()
    if not child:
        os.dup2(said, 1)
        if "moment" in asked:
            kill_at(asked["moment"])
        os._exit(run(asked["words"]))
    os.close(said)
    if "seconds" in asked:
        time.sleep(asked["seconds"])
        os.kill(child, signal.SIGKILL)
    with os.fdopen(heard) as pipe:
        text = pipe.read()
    _, status = os.waitpid(child, 0)
    print(json.dumps([os.WIFSIGNALED(status), text]), flush=True)
"""


@pytest.fixture(scope="module")
def nursery():
    """Run a command that is killed at some moment: whether it was, and what it had said."""
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    command = [sys.executable, "-c", NURSERY]
    environment = {**os.environ, "HOLESCHEDULE_BY": "Ada"}
    with subprocess.Popen(command, text=True, env=environment, **pipes) as process:

        def run_and_kill(*words, **when):
            asked = {"words": list(map(str, words)), **when}
            print(json.dumps(asked), file=process.stdin, flush=True)
            return json.loads(process.stdout.readline())

        yield run_and_kill
        process.stdin.close()


# Killed ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["revision", "two new parts"])
def test_an_import_killed_at_any_write_leaves_a_build_that_works(
    shop, tmp_path, nursery, kind, record_property
):
    shop("import", plate(shop.sheets, "other.dxf"))
    if kind == "revision":
        shop.bring()
        shop("mark", "P-1:A", "deburr")
    paths = [plate(shop.sheets, holes=[*SHIFTED, *HIGH])]
    paths += [plate(shop.sheets, "p-2.dxf")] if kind == "two new parts" else []
    whole = tmp_path / "whole"
    shutil.copytree(shop.build, whole)
    words = ["import", *paths, "--thickness", "0.032"]
    killed, moment = True, 0
    while killed:
        moment += 1
        shutil.rmtree(shop.build)
        shutil.copytree(whole, shop.build)
        killed, _ = nursery(*words, "--build", shop.build, moment=moment)
        assert shop("verify").status == 0
        assert shop("mark", "OTHER:A", "deburr").status == 0
        with open_record(shop.build / "record.sqlite") as record:
            parts = record.states().keys() - {"OTHER", "P-1" if kind == "revision" else ""}
        assert len(parts) in (0, len(paths))  # all of a call, or none
        assert shop(*words).status in (0, 1 if kind == "revision" else 0)
        assert 'id = "P-1"' in shop.toml()
        assert f'drawing = "P-1-r{2 if kind == "revision" else 1}.dxf"' in shop.toml()
        assert shop("mark", *(path.stem + ":B" for path in paths), "deburr").status == 0
        assert not list(shop.build.rglob("*.part"))
    assert moment > 5
    assert shop("audit", "P-1").status == shop("status").status == shop("next").status == 0
    assert ("P-1:A1 deburr" in shop("history", "P-1:A1").out) is (kind == "revision")
    record_property("counted", f"import ({kind}) killed at each of its {moment - 1} writes")


def test_commands_killed_at_random_moments_lose_nothing_confirmed(shop, nursery, record_property):
    shop.bring()
    drawings = [
        plate(shop.sheets, f"p-1{name}.dxf", holes=[*low, *HIGH])
        for name, low in (("a", LOW), ("b", SHIFTED))
    ]
    rng = random.Random(20)  # noqa: S311 - moments to kill at, no secret - moments, not secrets
    usual = dict.fromkeys(("mark", "replace", "reject", "undo", "import"), 0.05)
    confirmed = killed = 0
    kept = entries_of(shop)
    for turn in range(100):
        words = rng.choice(
            (
                ("mark", "P-1:A", "deburr"),
                ("replace", "P-1"),
                ("import", rng.choice(drawings), "--part", "P-1"),
                ("reject", "P-1:B1", "edge"),
                ("undo",),
            )
        )
        note = () if words[0] == "import" else ("--note", f"turn {turn}")
        was_killed, said = nursery(
            *words, *note, "--build", shop.build, seconds=rng.random() * usual[words[0]]
        )
        killed += was_killed
        # kept near what a command takes here and now, so that half of them get through
        usual[words[0]] *= 1.3 if was_killed else 0.8
        found = entries_of(shop)
        assert found[: len(kept)] == kept
        assert len(found) - len(kept) in (0, 1)
        if CONFIRMED.search(said):
            confirmed += 1
            assert len(found) == len(kept) + 1
            assert found[-1].note == (f"turn {turn}" if note else "")
        kept = found
    assert shop("verify").status == 0
    assert shop("replace", "P-1", "--note", "whole").status == 0
    assert killed > 20
    assert confirmed > 20
    record_property(
        "counted",
        f"{killed} of 100 commands killed at random moments: {len(kept)} entries, and none lost"
        f" of the {confirmed} that were confirmed",
    )


CONFIRMED = re.compile(r"^Recorded as entry|Undo that: |Undo: holeschedule undo$", re.MULTILINE)


def entries_of(shop):
    with open_record(shop.build / "record.sqlite") as record:
        assert record.verify() == ()
        return record.entries()


# A disk, a file, a folder that does not do its part --------------------------------------------


@contextlib.contextmanager
def no_file_beyond(size):
    """A disk on which no file grows beyond so many bytes."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize("room", [0, 500, 4096, "drawing", "record", "record and a page"])
def test_an_import_onto_a_full_disk_is_one_line_and_loses_nothing(shop, room):
    shop("import", plate(shop.sheets, "other.dxf"))
    shop("mark", "OTHER:A", "deburr")
    holes = [(0.3 + x * 0.25, 0.3 + y * 0.25) for x in range(12) for y in range(12)]
    path = plate(shop.sheets, corners=[(0, 0), (4, 0), (4, 4), (0, 4)], holes=holes)
    record = shop.build / "record.sqlite"
    sizes = {"drawing": path.stat().st_size, "record": record.stat().st_size}
    sizes["record and a page"] = sizes["record"] + 4096
    with no_file_beyond(sizes.get(room, room)):
        said = shop("import", path).complaint_only()
    assert re.search(r"cannot be written|disk (is full|does not take)", said)
    assert shop("verify").status == 0
    assert "OTHER:A deburr" in shop("history").out
    assert not list(shop.build.rglob("*.part"))
    assert shop("import", path).status == 0
    assert shop("mark", "P-1:A", "deburr").status == 0


def test_a_mark_onto_a_full_disk_is_one_line_and_loses_nothing(shop):
    shop.bring()
    with no_file_beyond(100):
        said = shop("mark", "P-1:A", "deburr").complaint_only()
    assert "nothing of this command was recorded" in said
    assert shop("history").out.count("deburr") == 0
    assert shop("mark", "P-1:A", "deburr").status == 0
    assert shop("verify").status == 0


@pytest.mark.skipif(os.geteuid() != 0, reason="takes the administrator's rights to give them up")
def test_a_build_that_may_only_be_read_is_read_and_marking_it_is_one_line(command, monkeypatch):
    if not Path(holeschedule.__file__).stat().st_mode & 0o004 or not reachable(ROOT):
        pytest.skip("this checkout may not be read by another user")
    monkeypatch.setenv("HOLESCHEDULE_BY", "Ada")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        shop = Shop(command, folder)
        shop.bring()
        for words in (("status",), ("next",), ("history",), ("mark", "P-1:A", "deburr")):
            shop(*words)  # what they load is loaded by now
        os.seteuid(65534)
        try:
            read = [shop(word) for word in ("status", "next", "history", "verify")]
            said = shop("mark", "P-1:B", "deburr").complaint_only()
        finally:
            os.seteuid(0)
        assert {(ran.status, ran.err) for ran in read} == {(0, "")}
        assert "may be read but not written. Allow writing to the file and its folder" in said
        assert shop("history").out.count("deburr") == 1


def reachable(folder):
    return all(path.stat().st_mode & 0o001 for path in (folder, *folder.parents))


def test_flipped_bytes_end_in_a_clear_line_or_are_harmless(shop, record_property):
    shop.bring()
    shop("mark", "P-1:A", "deburr")
    path = shop.build / "record.sqlite"
    whole = path.read_bytes()
    rng = random.Random(5)  # noqa: S311 - moments to kill at, no secret
    found = 0
    for _ in range(150):
        damaged = bytearray(whole)
        damaged[rng.randrange(len(whole))] ^= 1 << rng.randrange(8)
        path.write_bytes(damaged)
        for words in (("status",), ("verify",)):
            ran = shop(*words)
            assert ran.status in (0, 1, 2)
            assert len(ran.err.splitlines()) == (ran.status == 2)
        found += ran.status != 0
        assert path.read_bytes() == damaged
    path.write_bytes(whole)
    assert shop("verify").status == 0
    record_property("counted", f"150 flipped bits in a record: verify told of {found}")


def test_a_record_of_a_newer_version_is_refused_in_one_line(shop):
    shop.bring()
    with open_record(shop.build / "record.sqlite") as record:
        record._db.execute("PRAGMA user_version = 99")
    for words in (("status",), ("mark", "P-1:A", "deburr"), ("undo",), ("verify",)):
        said = shop(*words).complaint_only()
        assert "was written by a newer holeschedule (record version 99; this one reads up" in said
