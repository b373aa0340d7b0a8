"""`holeschedule mark` and the other commands that record work."""

import json
import os
import subprocess
import sys

import pytest

from tests.cli.builds import PILOT
from tests.cli.test_imports import HEAVY


@pytest.fixture
def bay(shop):
    """P-1 with rows A and B at final size, P-2 with pilots, twice."""
    shop.bring("p-1.dxf", "--thickness", "0.032")
    shop.bring("p-2.dxf", "--thickness", "0.032", "--quantity", 2, diameter=PILOT)
    return shop


# marking ---------------------------------------------------------------------------------------


def test_marking_says_what_changed_and_what_remains(bay):
    ran = bay("mark", "P-1:A2-A4", "deburr")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == (
        "P-1:A2-A4: 3 holes deburred; 7 of 10 left to deburr. Undo: holeschedule undo\n"
    )
    assert "none of 10 left to deburr" in bay("mark", "P-1:A1,A5,B", "deburr").out


def test_several_selections_are_marked_at_once(bay):
    ran = bay("mark", "P-1:A", "P-1:B1", "P-1:B3-B5", "deburr")
    assert ran.out.startswith("P-1:A,B1,B3-B5: 9 holes deburred; 1 of 10 left")


def test_a_selection_of_two_parts_is_marked_on_every_copy(bay):
    ran = bay("mark", "p-2", "match-drill")
    assert ran.out.startswith("P-2: 20 holes match-drilled; none of 20 left to match-drill.")
    ran = bay("mark", "P-1:A1 P-2#2:B", "deburr")
    assert ran.out.startswith("P-1:A1 P-2#2:B: 6 holes deburred; 24 of 30 left to deburr.")


def test_marking_the_same_twice_is_harmless_and_says_so(bay):
    bay("mark", "P-1:A", "deburr")
    ran = bay("mark", "P-1:A", "deburr")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == "P-1:A: 5 holes are deburred already. Nothing was recorded.\n"
    mixed = bay("mark", "P-1", "deburr").out.splitlines()
    assert mixed[0].startswith("P-1:B: 5 holes deburred; none of 10 left")
    assert mixed[1] == "P-1:A: 5 holes are deburred already."


def test_work_out_of_order_is_refused_with_what_has_to_come_first(bay):
    said = bay("mark", "P-2#1:A1", "rivet").complaint_only()
    assert said == (
        "holeschedule: P-2#1:A1 is pilot; rivet comes later: first match-drill, deburr. Nothing"
        " was recorded."
    )
    assert bay("history", "P-2:A1").out.count("rivet") == 0


def test_what_can_be_recorded_is_with_partly_and_the_rest_is_told(bay):
    bay("mark", "P-1:A", "deburr")
    said = bay("mark", "P-1:A1,B1", "rivet").complaint_only()
    assert "P-1:B1 is match-drilled" in said
    assert said.endswith("Nothing was recorded; 1 hole could be, with --partly.")
    ran = bay("mark", "P-1:A1,B1", "rivet", "--partly")
    assert ran.status == 1
    assert ran.out.startswith("P-1:A1: 1 hole riveted; 9 of 10 left to rivet.")
    assert "Left out: P-1:B1 is match-drilled; rivet comes later: first deburr." in ran.out


def test_work_on_the_whole_part_that_build_toml_names_is_asked_for_in_its_order(bay):
    path = bay.build / "build.toml"
    asked = 'id = "P-1"\noperations = ["scuff", "trim"]\nfinish = "prime"'
    path.write_text(bay.toml().replace('id = "P-1"', asked), encoding="utf-8")
    assert "trim: 1 part\n  P-1\n" in bay("next").out
    assert "to trim, scuff, prime" in bay("status").out
    assert bay("mark", "P-1", "scuff").complaint_only() == (
        "holeschedule: P-1 is not ready for scuff: first trim. Nothing was recorded."
    )
    ran = bay("mark", "P-1", "trim")
    assert ran.out == "P-1: 1 part trimmed; none of 1 left to trim. Undo: holeschedule undo\n"
    assert "scuff: 1 part\n  P-1\n" in bay("next").out
    assert "trim; to scuff, prime" in bay("status").out
    part = json.loads(bay("status", "--json").out)["parts"][0]
    assert (part["whole"], part["whole_left"]) == (["trim"], ["scuff", "prime"])


def test_as_found_takes_work_out_of_order_with_a_note(bay):
    assert "needs a note" in bay("mark", "P-1:A1", "rivet", "--as-found").complaint_only()
    ran = bay("mark", "P-1:A1", "rivet", "--as-found", "--note", "was so when I bought it")
    assert ran.status == 0
    assert "1 of them out of order and flagged as found" in ran.out
    assert "1 hole recorded as found, out of order." in bay("status").out


def test_an_operation_on_the_whole_part_is_written_in_one_word_or_two(bay):
    assert bay("mark", "P-1", "deburr", "edges").out.startswith(
        "P-1: 1 part deburred at the edges."
    )
    assert bay("mark", "P-2#2", "deburr-edges").out.startswith("P-2#2: 1 part deburred")
    assert "names holes, where a whole part is meant" in bay("mark", "P-1:A", "cut").complaint


def test_priming_is_asked_for_by_the_finish_and_gates_the_rivets(shop):
    shop.bring("p-1.dxf", "--finish", "prime")
    shop("mark", "P-1:A", "deburr")
    assert "wait for the primer on the part: first prime P-1" in shop("mark", "P-1:A", "rivet").err
    ran = shop("mark", "P-1", "prime")
    assert ran.out.startswith("P-1: 1 part primed; none of 1 left to prime. Warning: P-1 is")
    assert shop("mark", "P-1:A", "rivet").status == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["P-1:A", "debur"], "'debur' is no operation; choose from countersink, cut,"),
        (["P-1:A", "debur"], "(did you mean deburr?)"),
        (["deburr"], "deburr: on what? Name holes or parts before it"),
        (["P-9:A", "deburr"], "there is no part P-9; the parts are P-1, P-2."),
        (["P-1:K", "deburr"], "P-1 has no row K; the rows are A, B."),
        (["P-1:A9", "deburr"], "P-1 has no hole A9; row A has A1-A5."),
        (["P-2#3", "deburr"], "P-2 has no copy 3; there are copies 1 to 2."),
        (["J1", "rivet"], "this build has no joints"),
        (["P-1:A", "deburr", "--at", "noon"], "--at 'noon': is no time."),
        (["P-1:A", "deburr", "--at", "2999-01-01"], "is still to come"),
    ],
)
def test_what_cannot_be_meant_ends_with_2_and_one_line(bay, words, said):
    assert said in bay("mark", *words).complaint_only()


# who and when ----------------------------------------------------------------------------------


def test_who_is_said_or_set_or_the_login_name(bay, monkeypatch):
    bay("mark", "P-1:A1", "deburr", "--by", "Ben", "--note", "after lunch")
    bay("mark", "P-1:A2", "deburr")
    monkeypatch.delenv("HOLESCHEDULE_BY")
    monkeypatch.setenv("LOGNAME", "cy")
    bay("mark", "P-1:A3", "deburr")
    entries = json.loads(bay("history", "P-1:A", "--json").out)["entries"]
    assert [entry["who"] for entry in entries] == ["Ada", "Ben", "Ada", "cy"]
    assert entries[1]["note"] == "after lunch"
    assert "1 entry." in bay("history", "--by", "Ben").out


def test_work_done_earlier_is_recorded_at_its_time(bay):
    bay("mark", "P-1:A1", "deburr", "--at", "2026-03-05")
    bay("mark", "P-1:A2", "deburr", "--at", "2026-03-05 16:30")
    ran = bay("history", "--day", "2026-03-05")
    assert "2026-03-05 12:00  Ada  P-1:A1 deburr" in ran.out
    assert "2026-03-05 16:30  Ada  P-1:A2 deburr" in ran.out


# faults and undo -------------------------------------------------------------------------------


def test_a_rejected_hole_is_held_until_it_is_accepted(bay):
    assert bay("reject", "P-1:A1", "elongated").out.startswith(
        "P-1:A1: 1 hole rejected (elongated)."
    )
    assert "P-1:A1 is rejected (elongated)" in bay("mark", "P-1:A1", "deburr").complaint_only()
    assert "needs a note" in bay("accept", "P-1:A1").complaint_only()
    assert bay("accept", "P-1:A1", "--note", "reamed to the next size").status == 0
    assert bay("mark", "P-1:A1", "deburr").status == 0
    assert "choose from cracked, edge" in bay("reject", "P-1:A1", "ugly").complaint_only()


def test_a_rivet_is_drilled_out_and_a_part_replaced(bay):
    for operation in ("deburr", "rivet"):
        bay("mark", "P-1:A", operation)
    assert bay("drill-out", "P-1:A1").out.startswith("P-1:A1: 1 hole drilled out.")
    assert bay("replace", "P-1", "--note", "bent").out.startswith("P-1: 1 part replaced.")
    assert "0/10" in bay("status").out


def test_a_measurement_is_kept_in_inches(bay):
    assert bay("measure", "P-1:A1", "hole-diameter", "2.5mm").status == 0
    assert "hole diameter 0.0984 in" in bay("history", "P-1:A1").out


def test_undo_takes_the_last_entry_back_and_can_be_undone(bay):
    bay("mark", "P-1:A", "deburr")
    ran = bay("undo")
    assert ran.out.startswith("Entry 3 (mark P-1:A deburr) of ")
    assert ran.out.endswith("by Ada: is taken back.\nUndo that: holeschedule undo 4\n")
    assert "0/10" in bay("status").out
    assert bay("undo", 4).status == 0
    assert "5/10" in bay("status").out
    assert "there is no entry 99" in bay("undo", 99).complaint_only()


def test_undoing_an_import_leaves_the_part_in_build_toml_and_says_so(bay):
    ran = bay("undo")
    assert "P-2 is in build.toml, and its holes are not in the record" in ran.out
    assert "P-2: its holes are not in the record yet." in bay("mark", "P-2", "deburr").err
    assert bay("import", bay.sheets / "p-2.dxf").status == 0
    assert bay("mark", "P-2", "match-drill").status == 0


# speed -----------------------------------------------------------------------------------------

SCRIPT = """
import json, sys
from holeschedule.cli import run
status = run(sys.argv[2:])
print(json.dumps([status, sorted(n for n in json.loads(sys.argv[1]) if n in sys.modules)]))
"""


def loaded_by(build, *arguments):
    names = [*HEAVY, "pathlib", "tomllib", "holeschedule.tables", "holeschedule.model", "hashlib"]
    ran = subprocess.run(
        [sys.executable, "-c", SCRIPT, json.dumps(names), *arguments],
        check=True,
        capture_output=True,
        text=True,
        cwd=build,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    return json.loads(ran.stdout.splitlines()[-1])


def test_marking_loads_nothing_heavy_nor_any_table(bay):
    assert loaded_by(bay.build, "mark", "P-1:A", "deburr") == [0, []]
    cache = bay.build / ".cache" / "intents"
    cache.unlink()
    status, loaded = loaded_by(bay.build, "mark", "P-1:B", "deburr")
    assert (status, loaded) == (
        0,
        ["holeschedule.model", "holeschedule.tables", "pathlib", "tomllib"],
    )
    assert cache.exists()


# the cache -------------------------------------------------------------------------------------


def test_a_change_of_build_toml_changes_what_is_needed_at_once(bay):
    path = bay.build / "build.toml"
    assert "have no dimple in the route" in bay("mark", "P-1:A", "dimple").err
    path.write_text(bay.toml().replace('id = "P-1"', 'id = "P-1"\nhead = "flush"'), "utf-8")
    assert "dimple comes later: first deburr" in bay("mark", "P-1:A", "dimple").err


@pytest.mark.parametrize("left", [b"", b"holeschedule intents 1\n", b"\xff\xfe", b"x\n" * 9])
def test_a_damaged_cache_is_made_again(bay, left):
    cache = bay.build / ".cache" / "intents"
    whole = cache.read_bytes()
    cache.write_bytes(left)
    assert bay("mark", "P-1:A", "deburr").status == 0
    assert cache.read_bytes() == whole


def test_a_cache_that_cannot_be_written_is_done_without(bay):
    cache = bay.build / ".cache"
    (cache / "intents").unlink()
    cache.rmdir()
    cache.write_text("in the way", encoding="utf-8")
    assert bay("mark", "P-1:A", "deburr").status == 0
    assert cache.is_file()


def test_a_hole_without_a_treatment_waits_for_it_to_be_chosen(shop):
    ran = shop.bring("p-1.dxf", "--thickness", "0.045", "--head", "flush", diameter=0.1285)
    assert "choose a treatment for these holes" in " ".join(ran.out.split())
    shop("mark", "P-1", "deburr")
    assert "wait for the treatment to be chosen" in shop("mark", "P-1:A", "rivet").complaint_only()
    assert "wait for the treatment to be chosen" in shop("next").out


# slips -----------------------------------------------------------------------------------------


def test_what_was_measured_on_the_part_counts_in_the_audit_instead_of_what_is_drawn(bay):
    drawn = json.loads(bay("audit", "P-1", "--json").out)["parts"][0]
    assert {hole["verdict"] for hole in drawn["holes"]} == {"ok"}
    bay("measure", "P-1:A1", "edge-distance", "0.15")
    bay("measure", "P-1:A2", "hole-diameter", "0.11")
    ran = bay("audit", "P-1", "--json", "--show", "in")
    findings = json.loads(ran.out)["parts"][0]["findings"]
    found = {(f["hole"], f["verdict"]): f["measured"] for f in findings}
    assert ran.status == 1
    assert found["A1", "short"] == 0.15
    assert found["A2", "oversize"] == 0.11
    assert "As measured on the part, not as drawn: A1-A2." in bay("audit", "P-1").words
    bay("undo")
    assert "not as drawn: A1." in bay("audit", "P-1").words


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("hole-diameter", "3.3"),
            "a length of 3.3 in for the hole diameter is more than 1 in; correct it, or",
        ),
        (("edge-distance", "120"), "a length of 120 in for the edge distance is more"),
        (
            ("width", "0.1"),
            "'width' is nothing to measure; choose from edge-distance, hole-diameter,",
        ),
        (("hole-diamter", "0.1"), "shop-head-width (did you mean hole-diameter?)."),
        (("hole-diameter", "0"), "is not a measurement; give a length above 0"),
    ],
)
def test_a_measurement_that_cannot_be_is_refused(bay, words, said):
    assert said in bay("measure", "P-1:A1", *words).complaint_only()


@pytest.mark.parametrize("word", ["hole-diameter", "HOLE_diameter", "hole diameter"])
def test_what_was_measured_is_said_with_its_value_in_inches(bay, word):
    said = bay("measure", "P-1:A1", word, "2.5 mm").out
    assert said == ("P-1:A1: 1 hole measured (hole diameter 0.0984 in). Undo: holeschedule undo\n")


@pytest.mark.parametrize(
    ("option", "said"),
    [
        (("--by", " "), "--by is empty. Say who worked: --by NAME, or leave it out."),
        (("--by", "x" * 101), "who has 101 characters; write 100 at most."),
        (("--note", "x" * 1001), "note has 1,001 characters; write 1,000 at most."),
        (("--at", "0001-01-01"), "--at '0001-01-01': is before 1970. Correct the year."),
        (("--at", "0206-03-05 16:30"), "is before 1970. Correct the year."),
    ],
)
def test_a_slip_in_an_option_is_one_line_and_nothing_is_recorded(bay, option, said):
    assert said in bay("mark", "P-1:A1", "deburr", *option).complaint_only()
    assert "deburr" not in bay("history").out


def test_a_name_and_a_note_may_have_their_full_length(bay):
    assert bay("mark", "P-1:A", "deburr", "--by", "x" * 100, "--note", "y" * 1000).status == 0


def test_priming_too_early_warns_by_the_name_of_the_part(bay):
    assert "Warning: P-1 is primed before 10 of its holes" in bay("mark", "P-1", "prime").out
    assert "Warning: P-2#2 is primed before" in bay("mark", "P-2#2", "prime").out
