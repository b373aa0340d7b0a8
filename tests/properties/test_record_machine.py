"""Random work on a record, against a model that is a plain list of commands and a plain dict.

The model knows nothing of the record's code. It keeps every command as it was given, and works
its state out from the start each time; a command that was taken back is left out.
"""

import re
import shutil
import sqlite3
import tempfile
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from holeschedule.errors import RecordError
from holeschedule.operations import PartOperation, Treatment
from holeschedule.record import database
from holeschedule.record.events import EntryDraft, Request
from holeschedule.record.needs import HoleNeeds, PartNeeds
from holeschedule.record.plan import plan_request
from holeschedule.record.ready import ready_work
from holeschedule.record.routes import Drawn
from holeschedule.record.store import open_record
from holeschedule.selection import Pick, parse_selection, pick_holes, pick_parts
from tests.records import Clock, change, drawn_row, import_draft

PART = "FL-101"
COPIES = (1, 2)
TREATMENTS = {"A": "dimple", "B": "countersink", "D": "plain", "E": "dimple"}
ORDER = ["undrilled", "pilot", "match-drilled", "deburred", "dimpled countersunk", "riveted"]
RESULT = {
    "drill": "pilot",
    "match-drill": "match-drilled",
    "deburr": "deburred",
    "dimple": "dimpled",
    "countersink": "countersunk",
    "rivet": "riveted",
}
START = {"none": "undrilled", "pilot": "pilot", "final": "match-drilled"}
PART_WORK = ["cut", "deburr edges", "scuff", "prime"]


def level(stage):
    return next(place for place, names in enumerate(ORDER) if stage in names.split())


def labels_of(row):
    return [f"{row}{place}" for place in range(1, 5)]


class Model:
    """Commands as (kind, copy, names, word), in a list; None stands for an undo."""

    def __init__(self):
        self.commands = []
        self.targets = {}  # number of an undo → number of what it takes back

    def taken_back(self):
        void = set()
        for number in sorted(self.targets, reverse=True):
            if number not in void:
                void.add(self.targets[number])
        return void

    def replay(self):
        holes, work, parts = {}, {}, {copy: set() for copy in COPIES}
        void = self.taken_back()
        for number, command in enumerate(self.commands, 1):
            if command is None or number in void:
                continue
            for kind, copy, names, word in command:
                self.apply(holes, work, parts, kind, copy, names, word)
        return holes, work, parts

    def apply(self, holes, work, parts, kind, copy, names, word):
        if kind == "drawing":
            for name in names:
                self.draw(holes, work, name, word)
        elif kind == "part":
            parts[copy].add(word)
        elif kind == "replace":
            parts[copy].clear()
            for key in [key for key in work if key[0] == copy]:
                del work[key]
        else:
            for name in names:
                state = work.setdefault((copy, name), new_state())
                self.work_on(state, kind, word)

    def draw(self, holes, work, name, word):
        if word == "retire":
            del holes[name]
        elif word != "move":
            holes[name] = word
        for (_, its_name), state in work.items():
            if word == "move" and its_name == name and state["reached"]:
                state["moved"] = True

    def work_on(self, state, kind, word):
        if kind == "reject":
            state["fault"] = word
        elif kind == "accept":
            state["fault"] = None
        elif kind == "drill out":
            state["reached"], state["before"] = state["before"], None
        elif kind in ("mark", "as found"):
            if word == "rivet":
                state["before"] = state["reached"]
            state["reached"] = RESULT[word]
            state["as found"] |= kind == "as found"

    def stage(self, holes, work, copy, name):
        start = START[holes[name]]
        reached = work.get((copy, name), new_state())["reached"]
        return start if reached is None or level(reached) < level(start) else reached

    def builds_on(self, number):
        """Number of the first command that builds on this one, None if none does."""
        void = self.taken_back()
        work = self.root(number)
        for later in range(number + 1, len(self.commands) + 1):
            if later in void or self.targets.get(later, 0) > number:
                continue
            if any(follows(a, b) for a in self.root(later) for b in work):
                return later
        return None

    def root(self, number):
        while self.commands[number - 1] is None:
            number = self.targets[number]
        return self.commands[number - 1]


def new_state():
    return {"reached": None, "before": None, "fault": None, "as found": False, "moved": False}


def follows(later, earlier):
    if "drawing" in (later[0], earlier[0]):
        return True
    if later[1] != earlier[1]:
        return False
    if "replace" in (later[0], earlier[0]) or earlier[0] == "part":
        return True
    return later[0] != "part" and bool(set(later[2]) & set(earlier[2]))


def route(name, drawn):
    treatment = TREATMENTS[name[0]]
    drilling = {"none": ["drill", "match-drill"], "pilot": ["match-drill"], "final": []}[drawn]
    return [*drilling, "deburr", *([] if treatment == "plain" else [treatment]), "rivet"]


NEEDS = PartNeeds(
    quantity=len(COPIES),
    operations=tuple(map(PartOperation, ("deburr edges", "prime"))),
    by_label={
        f"{row}{place}": HoleNeeds(Treatment(treatment))
        for row, treatment in TREATMENTS.items()
        for place in range(1, 30)
    },
)

copies = st.sampled_from(COPIES)
rows = st.sampled_from(sorted(TREATMENTS))
places = st.sets(st.integers(1, 4), min_size=1)
operations = st.sampled_from(sorted(RESULT))


COUNTS = Counter()
"""What was done in all runs of the machine."""


class RecordMachine(RuleBasedStateMachine):
    """Does the same to the record and to the model, and compares."""

    def __init__(self):
        super().__init__()
        COUNTS["runs"] += 1
        self.folder = tempfile.TemporaryDirectory()
        self.path = Path(self.folder.name) / "record.sqlite"
        self.clock = Clock()
        self.record = open_record(self.path, create=True, clock=self.clock)
        self.model = Model()
        self.needs = {PART: NEEDS}
        self.next_place = 5

    def teardown(self):
        self.record.close()
        self.folder.cleanup()

    @initialize()
    def bring_in_the_part(self):
        drawn = {"A": Drawn.PILOT, "B": Drawn.FINAL, "D": Drawn.NONE, "E": Drawn.PILOT}
        holes = [hole for row, how in drawn.items() for hole in drawn_row(row, 4, drawn=how)]
        self.record.append(import_draft(PART, holes), self.needs)
        self.model.commands.append(
            [("drawing", None, labels_of(row), str(how)) for row, how in drawn.items()]
        )

    # Commands ----------------------------------------------------------------------------------

    def known(self, row, chosen):
        """Names that the rule asked for, as far as they are there now."""
        holes = self.model.replay()[0]
        names = [f"{row}{place}" for place in sorted(chosen) if f"{row}{place}" in holes]
        return names or sorted(holes)[:1]

    def ask(self, what, copy, names, word="", value=None, *, as_found=False):
        picks = tuple(Pick(PART, copy, name) for name in names) or (Pick(PART, copy),)
        request = Request(what, picks, word, value, as_found)
        draft = EntryDraft("mark", "Ada", (request,), note="as it is")
        return self.record.append(draft, self.needs)

    def compare(self, done, expected):
        """The record took exactly what the model expects: a list of commands, maybe empty."""
        if not expected:
            assert done.entry is None
            return
        assert done.entry is not None
        assert done.entry.number == len(self.model.commands) + 1
        self.model.commands.append(expected)
        COUNTS["revisions" if expected[0][0] == "drawing" else "commands"] += 1

    @precondition(lambda self: self.model.replay()[0])
    @rule(copy=copies, row=rows, chosen=places, operation=operations, as_found=st.booleans())
    def mark(self, copy, row, chosen, operation, as_found):
        names = self.known(row, chosen)
        verdicts = {name: self.judge(copy, name, operation) for name in names}
        done = self.ask(operation, copy, names, as_found=as_found)
        plan = done.plans[0]
        assert [pick.label for pick in plan.already] == [n for n in names if verdicts[n] == "done"]
        refused = [n for n in names if verdicts[n] == "never"]
        late = [n for n in names if verdicts[n] == "late"]
        if not as_found:
            refused = sorted(refused + late)
        assert sorted(pick.label for pick, _ in plan.refused) == sorted(refused)
        taken = [("mark", copy, [n for n in names if verdicts[n] == "go"], operation)]
        taken += [("as found", copy, late, operation)] if as_found else []
        self.compare(done, [] if refused else [command for command in taken if command[2]])

    def judge(self, copy, name, operation):
        holes, work, parts = self.model.replay()
        stage, own = self.model.stage(holes, work, copy, name), route(name, holes[name])
        result = RESULT[operation]
        passed = level(stage) > level(result) and (
            operation in own or operation in ("drill", "match-drill")
        )
        if stage == result or passed:
            return "done"
        if work.get((copy, name), new_state())["fault"]:
            return "never"
        left = [o for o in own if level(RESULT[o]) > level(stage)]
        if left[:1] != [operation]:
            return "late"
        return "late" if operation == "rivet" and "prime" not in parts[copy] else "go"

    @precondition(lambda self: self.model.replay()[0])
    @rule(copy=copies, row=rows, chosen=places, fault=st.sampled_from(["cracked", "oversize"]))
    def reject(self, copy, row, chosen, fault):
        names = self.known(row, chosen)
        holes, work, _ = self.model.replay()
        new = [n for n in names if work.get((copy, n), new_state())["fault"] != fault]
        undrilled = [n for n in new if self.model.stage(holes, work, copy, n) == "undrilled"]
        done = self.ask("reject", copy, names, fault)
        self.compare(done, [("reject", copy, new, fault)] if new and not undrilled else [])

    @precondition(lambda self: self.model.replay()[0])
    @rule(copy=copies, row=rows, chosen=places)
    def accept(self, copy, row, chosen):
        names = self.known(row, chosen)
        work = self.model.replay()[1]
        open_ = [n for n in names if work.get((copy, n), new_state())["fault"]]
        done = self.ask("accept", copy, names)
        self.compare(done, [("accept", copy, open_, "")] if open_ else [])

    @precondition(lambda self: self.model.replay()[0])
    @rule(copy=copies, row=rows)
    def take_a_row_one_operation_on(self, copy, row):
        names = self.known(row, range(1, 5))
        holes, work, _ = self.model.replay()
        stage = self.model.stage(holes, work, copy, names[0])
        left = [o for o in route(names[0], holes[names[0]]) if level(RESULT[o]) > level(stage)]
        if left:
            ready = [name for name in names if self.judge(copy, name, left[0]) == "go"]
            if ready:
                done = self.ask(left[0], copy, ready)
                self.compare(done, [("mark", copy, ready, left[0])])

    @precondition(lambda self: self.model.replay()[0])
    @rule(copy=copies, row=rows, chosen=places, aimed=st.booleans())
    def drill_out(self, copy, row, chosen, aimed):
        names = self.known(row, chosen)
        holes, work, _ = self.model.replay()
        if aimed:  # at random, a rivet is seldom hit
            there = [n for n in holes if self.model.stage(holes, work, copy, n) == "riveted"]
            names = there or names
        riveted = all(self.model.stage(holes, work, copy, n) == "riveted" for n in names)
        done = self.ask("drill out", copy, names)
        self.compare(done, [("drill out", copy, names, "")] if riveted else [])

    @precondition(lambda self: self.model.replay()[0])
    @rule(copy=copies, row=rows, chosen=places, value=st.floats(0.01, 2.0))
    def measure(self, copy, row, chosen, value):
        names = self.known(row, chosen)
        holes, work, _ = self.model.replay()
        there = all(self.model.stage(holes, work, copy, n) != "undrilled" for n in names)
        done = self.ask("measure", copy, names, "edge distance", value)
        self.compare(done, [("measure", copy, names, "")] if there else [])
        if there:
            held = self.record.measures()
            assert all(held[Pick(PART, copy, n)]["edge distance"] == value for n in names)

    @precondition(lambda self: self.model.replay()[0])
    @rule(copy=copies)
    def replace(self, copy):
        self.compare(self.ask("replace", copy, ()), [("replace", copy, [], "")])

    @precondition(lambda self: self.model.replay()[0])
    @rule(copy=copies, what=st.sampled_from(PART_WORK))
    def work_on_the_part(self, copy, what):
        had = self.model.replay()[2][copy]
        free = what in ("cut", "deburr edges") or "deburr edges" in had
        done = self.ask(what, copy, ())
        self.compare(done, [("part", copy, [], what)] if free and what not in had else [])

    @precondition(lambda self: self.model.replay()[0])
    @rule(row=rows, chosen=places, what=st.sampled_from(["move", "retire", "add"]))
    def revise(self, row, chosen, what):
        if what == "add":
            names = [f"{row}{self.next_place}"]
            self.next_place += 1
        else:
            names = self.known(row, chosen)
        drawn = {name: Drawn(self.model.replay()[0].get(name, "pilot")) for name in names}
        changes = [
            change(what, n, x=9.0, drawn=how, diameter=None if how is Drawn.NONE else 0.1)
            for n, how in drawn.items()
        ]
        done = self.record.append(import_draft(PART, changes, "B"), self.needs)
        self.compare(done, [("drawing", None, names, "pilot" if what == "add" else what)])

    # Taking back, starting again ---------------------------------------------------------------

    @precondition(lambda self: self.model.commands)
    @rule(data=st.data())
    def undo(self, data):
        last = len(self.model.commands)
        number = data.draw(st.one_of(st.none(), st.integers(max(1, last - 6), last)))
        void = self.model.taken_back()
        standing = [
            n for n, command in enumerate(self.model.commands, 1) if command and n not in void
        ]
        target = number or max(standing, default=0)
        if target == 0:
            with pytest.raises(RecordError, match="nothing to take back"):
                self.record.undo("Bo", number)
        elif target in void:
            with pytest.raises(RecordError, match=f"entry {target} is taken back already"):
                self.record.undo("Bo", number)
        elif (later := self.model.builds_on(target)) is not None:
            with pytest.raises(RecordError, match=rf"entry {later} \(\w+\) builds on it"):
                self.record.undo("Bo", number)
        else:
            assert self.record.undo("Bo", number).takes_back == target
            self.model.commands.append(None)
            self.model.targets[last + 1] = target
            COUNTS["undos"] += 1

    @rule()
    def close_and_open(self):
        self.record.close()
        self.record = open_record(self.path, clock=self.clock)

    @precondition(lambda self: self.model.replay()[0])
    @rule(copy=copies, moment=st.integers(1, 60))
    def crash(self, copy, moment):
        """Go on with the files as they are on the disk at some moment of a command."""
        left = Path(self.folder.name) / "left"
        left.mkdir()
        to_go = moment

        def stop(*_):
            nonlocal to_go
            to_go -= 1
            if to_go != 0:  # what clears up after the stop is let through
                return sqlite3.SQLITE_OK
            for file in self.path.parent.glob("record.sqlite*"):
                shutil.copy(file, left)
            return sqlite3.SQLITE_DENY

        self.record._db.set_authorizer(stop)
        stopped = ""
        try:
            done = self.ask("replace", copy, ())
        except RecordError as error:
            stopped = str(error)
        assert bool(stopped) is (to_go <= 0)
        if stopped:
            assert re.search("not authorized|prohibited", stopped)
            COUNTS["crashes"] += 1
        else:
            self.compare(done, [("replace", copy, [], "")])
        self.record.close()
        for file in left.iterdir():
            file.replace(self.path.with_name(file.name))
        left.rmdir()
        self.record = open_record(self.path, clock=self.clock)

    # What has to hold --------------------------------------------------------------------------

    @invariant()
    def the_record_says_what_the_model_says(self):
        holes, work, parts = self.model.replay()
        states = self.record.states()
        assert bool(states) is bool(holes) or (states and not states[PART].numbers)
        for name in holes:
            for copy in COPIES:
                state, expected = states[PART].hole(copy, name), work.get((copy, name), new_state())
                assert states[PART].stage(copy, name) == self.model.stage(holes, work, copy, name)
                found = state.reached, state.fault, state.as_found, state.moved
                assert found == tuple(
                    expected[key] for key in ("reached", "fault", "as found", "moved")
                )
        for copy in COPIES:
            if states:
                assert states[PART].copy(copy).operations == parts[copy]

    @invariant()
    def the_record_is_whole_and_holds_every_command(self):
        assert self.record.verify() == ()
        assert len(self.record.entries()) == len(self.model.commands)

    @invariant()
    def what_is_next_can_be_marked_and_the_rest_has_a_reason(self):
        states = self.record.states()
        labels = {part: list(state.numbers) for part, state in states.items()}
        work = ready_work(states, self.needs)
        seen = set()
        for group in work.ready:
            chosen = parse_selection(" ".join(group.selections))
            of_part = isinstance(group.operation, PartOperation)
            pick = pick_parts if of_part else pick_holes
            picks = pick(chosen, labels, {PART: len(COPIES)})
            plan = plan_request(states, self.needs, Request(str(group.operation), picks))
            assert plan.accepted == picks
            assert len(picks) == group.total
            seen.update(() if of_part else picks)
        for group in work.blocked:
            picks = pick_holes(
                parse_selection(" ".join(group.selections)), labels, {PART: len(COPIES)}
            )
            if isinstance(group.operation, PartOperation):
                continue
            if group.operation is not None:
                plan = plan_request(states, self.needs, Request(str(group.operation), picks))
                assert plan.refused == tuple((pick, group.obstacle) for pick in picks)
            assert not seen & set(picks)
            seen.update(picks)
        every = sum(len(names) for names in labels.values()) * len(COPIES)
        assert len(seen) + work.finished == every


QUICK = settings(max_examples=25, stateful_step_count=25, deadline=None, print_blob=True)
LONG = settings(QUICK, max_examples=500, stateful_step_count=50)


@pytest.fixture(autouse=True)
def _without_waiting(monkeypatch):
    monkeypatch.setattr(database, "SYNCHRONOUS", "OFF")


def told(counts):
    said = ", ".join(f"{counts[what]:,} {what}" for what in ("commands", *AMONG))
    return f"{counts['runs']} random runs on a record: {said}; a plain model says the same"


AMONG = ("undos", "revisions", "crashes")


def test_the_record_does_what_a_plain_model_does(record_property):
    COUNTS.clear()
    run_state_machine_as_test(RecordMachine, settings=QUICK)
    assert all(COUNTS[what] > 5 for what in AMONG)
    record_property("counted", told(COUNTS))


@pytest.mark.slow
def test_the_record_does_what_a_plain_model_does_for_long(request, record_property):
    if "slow" not in request.config.getoption("markexpr"):
        pytest.skip("takes minutes: run with -m slow")
    COUNTS.clear()
    run_state_machine_as_test(RecordMachine, settings=LONG)
    record_property("counted", told(COUNTS))
