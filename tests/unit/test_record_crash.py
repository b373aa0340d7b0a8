"""Kill −9 in the middle of recording: nothing acknowledged is lost, nothing half done stays."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from holeschedule.record.events import EntryDraft, Request
from holeschedule.record.needs import PartNeeds
from holeschedule.record.store import open_record
from holeschedule.selection import Pick
from tests.records import drawn_row, import_draft

ROOT = Path(__file__).parents[2]

# A process that starts workers: each is a fork, which saves the start of the interpreter. A worker
# writes each line in one piece, so that it is there as a whole or not at all.
NURSERY = """
import itertools, os, sys
from pathlib import Path
import holeschedule.record.queries, holeschedule.record.revisions, holeschedule.record.undo
from holeschedule.record.drawn import Change, HoleAsDrawn, Import, Revision
from holeschedule.record.events import EntryDraft, Request
from holeschedule.record.needs import PartNeeds
from holeschedule.record.routes import Drawn
from holeschedule.record.store import open_record
from holeschedule.selection import Pick

needs = {"FL-101": PartNeeds()}
row = tuple(Pick("FL-101", 1, f"A{place}") for place in range(1, 10))


def tell(*words):
    os.write(1, (" ".join(map(str, words)) + "\\n").encode())


def mark(record, what):
    draft = EntryDraft("mark", "Ada", (Request(what, row),), note="again")
    return record.append(draft, needs).entry


def bring_in(record):
    revision = Revision("FL-101", str(record.head().number), "fl-101.dxf", "0" * 64)
    last = len(record.states()["FL-101"].labels)
    new = [
        HoleAsDrawn(Change.ADD, f"B{last + n}", float(n), 2.0, 0.1, Drawn.PILOT) for n in range(40)
    ]
    draft = EntryDraft("import", "Ada", imports=(Import(revision, tuple(new)),))
    return record.append(draft, needs).entry


def work(path):
    with open_record(Path(path)) as record:
        tell("ready", os.getpid())
        for step in itertools.count():
            if step % 5 == 4:
                entry = bring_in(record)
            elif step % 7 == 6:
                entry = record.undo("Ada")
            else:
                entry = mark(record, "rivet") or mark(record, "drill out")
            tell(entry.number, entry.hash)


for line in sys.stdin:
    pid = os.fork()
    if pid == 0:
        work(line.strip())
    tell("ended", os.waitpid(pid, 0)[1])
"""


@pytest.fixture
def nursery():
    command = [sys.executable, "-c", NURSERY]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as process:
        yield process
        process.stdin.close()


def killed_after(nursery, path, entries, seconds):
    """What a worker acknowledged until it was killed: number and hash of each entry.

    It is killed so many seconds after so many entries.
    """
    print(path, file=nursery.stdin, flush=True)
    word, pid = nursery.stdout.readline().split()
    assert word == "ready"
    lines = [nursery.stdout.readline() for _ in range(entries)]
    time.sleep(seconds)
    os.kill(int(pid), signal.SIGKILL)
    while not (last := nursery.stdout.readline()).startswith("ended"):
        lines.append(last)
    assert int(last.split()[1]) == signal.SIGKILL
    return {int(number): its_hash for number, its_hash in map(str.split, lines)}


def killed_again_and_again(nursery, path, times, rng):
    """Kill so many workers on one record: how many while they wrote, and the entries there are."""
    holes = [*drawn_row("A", 9)]
    needs = {"FL-101": PartNeeds()}
    picks = tuple(Pick("FL-101", 1, hole.label) for hole in holes)
    acknowledged = {}
    with open_record(path, create=True) as record:
        entry = record.append(import_draft("FL-101", holes), needs).entry
        acknowledged[entry.number] = entry.hash
        for what in ("match-drill", "deburr"):
            entry = record.append(EntryDraft("mark", "Ada", (Request(what, picks),)), needs).entry
            acknowledged[entry.number] = entry.hash
    cut_off = 0
    for _ in range(times):
        heard = killed_after(nursery, path, rng.randrange(3), rng.uniform(0.0, 0.006))
        assert not acknowledged.keys() & heard.keys()
        cut_off += path.with_name(f"{path.name}-journal").exists()
        acknowledged |= heard
        with open_record(path) as record:
            assert record.verify() == ()
            entries = {entry.number: entry.hash for entry in record.entries()}
            assert list(entries) == list(range(1, len(entries) + 1))
        assert {number: entries.get(number) for number in acknowledged} == acknowledged
        acknowledged = entries  # what came through unheard has to stay from now on
    return cut_off, len(acknowledged)


RECORDS, KILLS = 4, 50


def test_hundreds_of_kills_lose_nothing_acknowledged(nursery, tmp_path, record_property):
    rng = random.Random(3)  # noqa: S311 - moments, not secrets
    found = [
        killed_again_and_again(nursery, tmp_path / f"{number}.sqlite", KILLS, rng)
        for number in range(RECORDS)
    ]
    cut_off, entries = (sum(column) for column in zip(*found, strict=True))
    assert cut_off > 0
    assert entries > KILLS
    record_property(
        "counted",
        f"{RECORDS * KILLS} kills of programs that mark, import and undo, {cut_off} of them while"
        f" one wrote to the file: {entries:,} entries, and none lost that was confirmed",
    )
