"""What may be marked, what is done already, what is refused and why; and what is next."""

import pytest

from holeschedule.operations import Operation, PartOperation, Treatment
from holeschedule.record.events import Request
from holeschedule.record.judge import GATES, Judge, Obstacle
from holeschedule.record.kinds import alike_holes
from holeschedule.record.needs import HoleNeeds, PartNeeds
from holeschedule.record.plan import explain, plan_marks, plan_request
from holeschedule.record.ready import count_operations, ready_work
from holeschedule.record.routes import Drawn
from holeschedule.record.state import PartState
from holeschedule.selection import Pick
from tests.records import DIMPLED, SKIN, Build, change, drawn_row, import_draft, without_waiting

COUNTERSUNK = HoleNeeds(Treatment.COUNTERSINK, final_drill="#30", rivet="1/8")
PRIMED = SKIN._replace(operations=(PartOperation.DEBURR_EDGES, PartOperation.PRIME))


@pytest.fixture(autouse=True)
def _without_waiting(monkeypatch):
    without_waiting(monkeypatch)


@pytest.fixture
def build(tmp_path):
    made = Build(tmp_path)
    yield made
    made.record.close()


def refusals(build, what, selection, **options):
    """Selection, reason and cure of each group that is refused; nothing may be recorded."""
    done = build.do(what, selection, **options)
    assert done.entry is None
    (plan,) = done.plans
    groups = explain(plan.refused, build.record.states(), build.needs)
    return [(selection, obstacle.reason, obstacle.unblock) for selection, obstacle, _ in groups]


# In order, already, out of order ---------------------------------------------------------------


def test_a_hole_goes_through_its_route_one_operation_at_a_time(build):
    for what, stage in (
        ("match-drill", "match-drilled"),
        ("deburr", "deburred"),
        ("dimple", "dimpled"),
        ("rivet", "riveted"),
    ):
        assert build.do(what, "FL-101:A3").entry.events[0].what == what
        assert build.stages("FL-101:A3") == [stage]
    assert build.stages("FL-101:A2,A4") == ["pilot", "pilot"]


def test_marking_twice_records_nothing_and_says_so(build):
    build.do("match-drill", "FL-101:A1-A2")
    again = build.do("match-drill", "FL-101:A1-A3")
    assert [pick.label for pick in again.plans[0].already] == ["A1", "A2"]
    assert [pick.label for pick in again.plans[0].accepted] == ["A3"]
    third = build.do("match-drill", "FL-101:A1-A3")
    assert third.entry is None
    assert len(third.plans[0].already) == 3
    assert not third.plans[0].refused


def test_a_hole_punched_at_final_size_needs_no_drilling_and_says_so(build):
    for what in ("drill", "match-drill"):
        assert build.do(what, "FL-101:C").plans[0].already == build.picks("FL-101:C")
    assert build.do("deburr", "FL-101:C").entry is not None


def test_an_operation_out_of_order_is_refused_with_what_comes_first(build):
    assert refusals(build, "dimple", "FL-101:A,C") == [
        ("FL-101:A", "is pilot; dimple comes later", "first match-drill, deburr"),
        ("FL-101:C", "is match-drilled; dimple comes later", "first deburr"),
    ]


def test_one_refused_hole_stops_the_command_unless_it_takes_what_can_be(build):
    build.do("match-drill", "FL-101:A1-A3")
    assert build.do("deburr", "FL-101:A").entry is None
    done = build.do("deburr", "FL-101:A", partial=True)
    assert [event.holes for event in done.entry.events] == ["1-3"]
    assert [pick.label for pick, _ in done.plans[0].refused] == ["A4", "A5"]


def test_an_operation_that_is_not_in_the_route_is_refused_with_the_reason(build):
    build.needs["FL-101"] = PartNeeds(
        holes=HoleNeeds(takes_rivet=False), by_label={"A1": COUNTERSUNK}
    )
    cure = "change what the build intends, or record it as found"
    assert refusals(build, "rivet", "FL-101:A2") == [
        ("FL-101:A2", "has no rivet in the route (no rivet goes in)", cure)
    ]
    assert refusals(build, "dimple", "FL-101:A1-A2") == [
        ("FL-101:A1", "has no dimple in the route (the treatment is countersink)", cure),
        ("FL-101:A2", "has no dimple in the route (the treatment is plain)", cure),
    ]


def test_drilling_a_hole_that_is_there_is_done_already(build):
    assert build.do("drill", "FL-101:A").plans[0].already == build.picks("FL-101:A")


def test_a_hole_in_the_other_treatment_is_not_silently_right(build):
    build.do("match-drill", "FL-101:A1")
    build.do("deburr", "FL-101:A1")
    build.do("dimple", "FL-101:A1")
    build.needs["FL-101"] = PartNeeds(holes=COUNTERSUNK)
    assert refusals(build, "countersink", "FL-101:A1") == [
        (
            "FL-101:A1",
            "is dimpled already, and not to be countersunk",
            "undo the entry that is wrong, or record it as found",
        )
    ]
    assert build.do("rivet", "FL-101:A1").entry is not None


def test_as_found_records_what_is_out_of_order_and_flags_only_that(build):
    build.do("match-drill", "FL-101:A1")
    done = build.do("deburr", "FL-101:A1-A2", as_found=True, note="came deburred")
    assert [(e.holes, e.as_found) for e in done.entry.events] == [("1", False), ("2", True)]
    assert done.plans[0].out_of_order == (Pick("FL-101", 1, "A2"),)
    assert build.stages("FL-101:A1-A2") == ["deburred", "deburred"]
    assert [build.hole(f"FL-101:{label}").as_found for label in ("A1", "A2")] == [False, True]


def test_operations_passed_over_as_found_count_as_done(build):
    build.do("rivet", "FL-101:A1", as_found=True, note="found riveted")
    assert build.do("deburr", "FL-101:A1").plans[0].already == build.picks("FL-101:A1")
    assert ready_work(build.record.states(), build.needs).finished == 1


def test_as_found_changes_the_treatment_that_is_recorded(build):
    build.do("dimple", "FL-101:A1", as_found=True, note="found so")
    build.do("countersink", "FL-101:A1", as_found=True, note="looked again")
    assert build.stages("FL-101:A1") == ["countersunk"]


# Faults, rivets out, measurements --------------------------------------------------------------


def test_a_rejected_hole_waits_until_it_is_accepted(build):
    build.do("match-drill", "FL-101:A1-A2")
    build.do("reject", "FL-101:A1", detail="oversize")
    reason = ("FL-101:A1", "is rejected (oversize)")
    cure = "accept with a note of what was decided, or replace the part"
    assert refusals(build, "deburr", "FL-101:A1-A2") == [(*reason, cure)]
    assert refusals(build, "deburr", "FL-101:A1", as_found=True, note="x") == [(*reason, cure)]
    build.do("accept", "FL-101:A1", note="next size of rivet")
    assert build.do("deburr", "FL-101:A1-A2").entry is not None


def test_rejecting_twice_for_one_reason_is_harmless_and_another_reason_is_recorded(build):
    build.do("reject", "FL-101:A1", detail="cracked")
    assert build.do("reject", "FL-101:A1", detail="cracked").entry is None
    assert build.do("reject", "FL-101:A1", detail="edge").entry is not None
    assert build.hole("FL-101:A1").fault == "edge"


def test_accepting_a_sound_hole_is_harmless(build):
    done = build.do("accept", "FL-101:A1", note="sound")
    assert (done.entry, done.plans[0].already) == (None, build.picks("FL-101:A1"))


def test_marking_what_is_done_is_harmless_on_a_rejected_hole_too(build):
    build.do("match-drill", "FL-101:A1")
    build.do("reject", "FL-101:A1", detail="oversize")
    assert build.do("match-drill", "FL-101:A1").plans[0].already


def test_drilling_out_takes_a_hole_back_to_where_it_was_before_the_rivet(build):
    for what in ("match-drill", "deburr", "dimple", "rivet"):
        build.do(what, "FL-101:A1")
    build.do("drill out", "FL-101:A1")
    assert build.stages("FL-101:A1") == ["dimpled"]
    assert refusals(build, "drill out", "FL-101:A1") == [
        ("FL-101:A1", "is dimpled, not riveted", "first rivet")
    ]
    assert build.do("rivet", "FL-101:A1").entry is not None


def test_a_rejected_rivet_can_be_drilled_out_and_the_reject_stays(build):
    build.do("rivet", "FL-101:A1", as_found=True, note="found")
    build.do("reject", "FL-101:A1", detail="cracked")
    build.do("drill out", "FL-101:A1")
    assert build.stages("FL-101:A1") == ["pilot"]
    assert build.hole("FL-101:A1").fault == "cracked"


def test_replacing_a_copy_starts_it_again_and_no_other(build):
    build.needs["FL-101"] = SKIN._replace(quantity=2)
    build.do("match-drill", "FL-101:A")
    build.do("cut", "FL-101#1!")
    build.do("reject", "FL-101#1:A1", detail="cracked")
    build.do("replace", "FL-101#1!", note="bent")
    assert build.stages("FL-101#1:A1-A2") == ["pilot", "pilot"]
    assert build.stages("FL-101#2:A1-A2") == ["match-drilled", "match-drilled"]
    assert build.hole("FL-101#1:A1") == build.hole("FL-101#1:B1")
    assert build.do("cut", "FL-101#1!").entry is not None


def test_only_what_is_there_can_be_measured_or_rejected(build):
    build.record.append(
        import_draft("FL-101", drawn_row("D", 1, drawn=Drawn.NONE), "B"), build.needs
    )
    undrilled = [("FL-101:D", "is not drilled yet", "first drill")]
    assert refusals(build, "measure", "FL-101:D1", detail="hole diameter", value=0.1) == undrilled
    assert refusals(build, "reject", "FL-101:D1", detail="cracked") == undrilled
    assert refusals(build, "measure", "FL-101:A1", detail="shop-head width", value=0.18) == [
        ("FL-101:A1", "is pilot, not riveted", "first rivet")
    ]
    assert build.do("measure", "FL-101:A1", detail="edge distance", value=0.25).entry is not None


# Holes and parts that are not there ------------------------------------------------------------


def test_what_does_not_exist_is_refused_by_name(build):
    build.record.append(import_draft("FL-101", [change("retire", "B5")], "B"), build.needs)
    build.record.append(import_draft("FL-102", drawn_row("A", 2)), build.needs)
    picks = [
        Pick("FL-9", 1, "A1"),
        Pick("FL-102", 1, "A1"),
        Pick("FL-101", 2, "A1"),
        Pick("FL-101", 0, "A1"),
        Pick("FL-101", 1, "Q1"),
        Pick("FL-101", 1, "B5"),
    ]
    plan = plan_marks(
        build.record.states(), build.needs, picks, Operation.MATCH_DRILL, as_found=True
    )
    assert not plan.accepted
    assert [obstacle.reason for _, obstacle in plan.refused] == [
        "is not in the record",
        "is not a part of the build",
        "is not among the copies built (there are 1)",
        "is not among the copies built (there are 1)",
        "is not on the part",
        "was retired by a revision",
    ]


def test_what_does_not_exist_has_no_next_operation(build):
    judge = Judge(build.record.states(), build.needs)
    assert judge.next_operation(Pick("FL-101", 1, "A1")) is Operation.MATCH_DRILL
    assert judge.next_operation(Pick("FL-101", 1, "Q1")) is None
    assert judge.next_operation(Pick("FL-9", 1, "A1")) is None


def test_faults_are_not_found_on_what_does_not_exist(build):
    request = Request("reject", (Pick("FL-101", 1, "Q1"),), "cracked")
    plan = plan_request(build.record.states(), build.needs, request)
    assert [obstacle.reason for _, obstacle in plan.refused] == ["is not on the part"]


def test_each_hole_is_judged_once_however_often_it_is_named(build):
    picks = build.picks("FL-101:A1") * 3
    plan = plan_marks(build.record.states(), build.needs, picks, Operation.MATCH_DRILL)
    assert plan.accepted == build.picks("FL-101:A1")


# Parts as a whole, and gates -------------------------------------------------------------------


def test_part_operations_named_by_the_build_are_asked_for_in_order(build):
    build.needs["FL-101"] = PRIMED
    assert refusals(build, "prime", "FL-101!") == [
        ("FL-101", "is not ready for prime", "first deburr edges")
    ]
    assert refusals(build, "scuff", "FL-101!") == [
        ("FL-101", "is not ready for scuff", "first deburr edges")
    ]
    assert build.do("cut", "FL-101!").entry is not None
    assert build.do("deburr edges", "FL-101!").entry is not None
    assert build.do("deburr edges", "FL-101!").plans[0].already == (Pick("FL-101", 1),)
    assert build.do("scuff", "FL-101!").entry is not None


def test_a_part_operation_out_of_order_can_be_recorded_as_found(build):
    build.needs["FL-101"] = PRIMED
    done = build.do("prime", "FL-101!", as_found=True, note="came primed")
    assert (done.entry.events[0].holes, done.entry.events[0].as_found) == ("", True)


def test_a_rivet_waits_for_the_primer_where_the_build_asks_for_it(build):
    build.needs["FL-101"] = PRIMED
    for what in ("deburr", "dimple"):
        build.do(what, "FL-101:C")
    wait = [("FL-101:C", "waits for the primer on the part", "first prime FL-101")]
    assert refusals(build, "rivet", "FL-101:C") == wait
    build.do("deburr edges", "FL-101!")
    build.do("prime", "FL-101!")
    assert build.do("rivet", "FL-101:C").entry is not None


def test_the_gate_names_the_copy_where_there_are_several(build):
    build.needs["FL-101"] = PRIMED._replace(quantity=2)
    for what in ("deburr", "dimple"):
        build.do(what, "FL-101#2:C")
    assert refusals(build, "rivet", "FL-101#2:C")[0][2] == "first prime FL-101#2"


def test_priming_before_the_holes_are_through_is_taken_with_a_warning(build):
    build.needs["FL-101"] = PartNeeds(operations=(PartOperation.PRIME,))
    build.do("deburr", "FL-101:C")
    done = build.do("prime", "FL-101!")
    assert done.entry is not None
    assert done.plans[0].warnings == (
        "FL-101 is primed before 10 of its holes are through their route: bare metal will show"
        " there",
    )


def test_priming_after_the_last_hole_gives_no_warning(build):
    build.needs["FL-101"] = PartNeeds(operations=(PartOperation.PRIME,))
    build.do("match-drill", "FL-101")
    build.do("deburr", "FL-101")
    assert build.do("prime", "FL-101!").plans[0].warnings == ()


def gate_open_on_a(states, needs, operation):
    """Hold back everything but row A."""
    closed = Obstacle("waits for its joint", "first fit the joint")
    return lambda pick: None if pick.label.startswith("A") else closed


def test_a_further_gate_holds_for_marks_and_for_what_is_next(build):
    gates = (*GATES, gate_open_on_a)
    plan = plan_marks(
        build.record.states(),
        build.needs,
        build.picks("FL-101"),
        Operation.MATCH_DRILL,
        gates=gates,
    )
    assert {pick.label[0] for pick in plan.accepted} == {"A"}
    assert next((p.label, o.reason) for p, o in plan.refused) == ("B1", "waits for its joint")
    work = ready_work(build.record.states(), build.needs, gates)
    assert [group.selections for group in work.ready] == [("FL-101:A",)]
    assert [group.selections for group in work.blocked] == [("FL-101:B",), ("FL-101:C",)]


# What is next ----------------------------------------------------------------------------------


def test_next_groups_by_operation_and_tool_with_selections_to_paste(build):
    big = DIMPLED._replace(final_drill="#21", rivet="5/32")
    build.needs["FL-101"] = PartNeeds(
        operations=(PartOperation.CUT,), holes=DIMPLED, by_label=dict.fromkeys(["A1", "A2"], big)
    )
    build.do("deburr", "FL-101:C1-C2")
    undrilled = drawn_row("D", 2, drawn=Drawn.NONE)
    build.record.append(import_draft("FL-101", undrilled, "B"), build.needs)
    work = ready_work(build.record.states(), build.needs)
    assert [(str(g.operation), g.tool, g.selections, g.total) for g in work.ready] == [
        ("cut", "", ("FL-101",), 1),
        ("drill", "#40", ("FL-101:D",), 2),
        ("match-drill", "#21", ("FL-101:A1-A2",), 2),
        ("match-drill", "#30", ("FL-101:A3-A5,B",), 8),
        ("deburr", "", ("FL-101:C3",), 1),
        ("dimple", "1/8", ("FL-101:C1-C2",), 2),
    ]
    assert (work.blocked, work.finished) == ((), 0)


def test_everything_that_is_not_offered_has_a_reason(build):
    build.needs["FL-101"] = PRIMED._replace(quantity=1)
    build.record.append(import_draft("FL-102", drawn_row("A", 2)), build.needs)
    for what in ("deburr", "dimple"):
        build.do(what, "FL-101:C")
    build.do("reject", "FL-101:A1", detail="cracked")
    build.do("match-drill", "FL-101:B5", as_found=True, note="x")
    build.do("rivet", "FL-101:B5", as_found=True, note="found")
    build.do("reject", "FL-101:B5", detail="edge")
    work = ready_work(build.record.states(), build.needs)
    assert [
        (g.operation and str(g.operation), g.selections, g.obstacle.reason) for g in work.blocked
    ] == [
        ("match-drill", ("FL-101:A1",), "is rejected (cracked)"),
        ("rivet", ("FL-101:C",), "waits for the primer on the part"),
        (None, ("FL-102",), "is not a part of the build"),
        (None, ("FL-101:B5",), "is rejected (edge)"),
    ]


def test_work_on_a_copy_too_many_is_not_forgotten(build):
    build.needs["FL-101"] = SKIN._replace(quantity=3)
    build.do("match-drill", "FL-101#3:A1")
    build.needs["FL-101"] = SKIN._replace(quantity=2)
    (group,) = ready_work(build.record.states(), build.needs).blocked
    assert group.selections == ("FL-101#3",)
    assert group.obstacle.reason == "is not among the copies built (there are 2)"


def test_progress_counts_the_holes_that_need_each_operation(build):
    build.needs["FL-101"] = SKIN._replace(quantity=2)
    build.do("match-drill", "FL-101#2:A")
    build.do("deburr", "FL-101#2:A1-A2,C")
    part = build.record.states()["FL-101"]
    first, second = (
        count_operations(alike_holes(part, build.needs["FL-101"], copy)) for copy in (1, 2)
    )
    left, through = (0, 13), (5, 13)
    assert first == {"match-drill": (0, 10), "deburr": left, "dimple": left, "rivet": left}
    assert second == {"match-drill": (5, 10), "deburr": through, "dimple": left, "rivet": left}


def test_holes_alike_are_together_and_retired_ones_left_out(build):
    plain = HoleNeeds(rivet="3/32")
    need = SKIN._replace(by_label={"A2": plain, "C1": plain, "Q9": plain})
    build.do("match-drill", "FL-101:A4-A5,B1")
    build.record.append(import_draft("FL-101", [change("retire", "A5")], "B"), build.needs)
    part = build.record.states()["FL-101"]
    found = alike_holes(part, need, 1)
    assert [(list(h.labels), h.need.rivet, str(h.stage)) for h in found] == [
        (["A1", "A3", "B2", "B3", "B4", "B5"], "1/8", "pilot"),
        (["A2"], "3/32", "pilot"),
        (["A4", "B1"], "1/8", "match-drilled"),
        (["C1"], "3/32", "match-drilled"),
        (["C2", "C3"], "1/8", "match-drilled"),
    ]
    assert [h.facts.drawn for h in found[-2:]] == [Drawn.FINAL, Drawn.FINAL]
    assert alike_holes(PartState("FL-9"), need, 1) == []
