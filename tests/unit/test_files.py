"""Auditing many drawings: in order, on one core or on all, whatever becomes of one of them."""

import concurrent.futures
import os
from pathlib import Path

import pytest

from holeschedule.audit import files
from holeschedule.audit.files import AuditRequest, audit_file, audit_files
from holeschedule.audit.rules import load_rule_set
from holeschedule.errors import DrawingError, HoleScheduleError
from tests.makers import plate_drawing, row_of, save

REQUEST = AuditRequest(load_rule_set("faa"))
NAMES = ("short.dxf", "none.dxf", "clean.dxf", "short.dxf")
side_by_side = pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")


@pytest.fixture(scope="module")
def paths(tmp_path_factory):
    folder = tmp_path_factory.mktemp("files")
    save(plate_drawing(holes=row_of(0.5, 0.3, 0.75, 5)), folder, "clean.dxf")
    save(plate_drawing(holes=row_of(0.5, 0.15, 0.75, 5)), folder, "short.dxf")
    return [folder / name for name in NAMES]


@pytest.fixture
def all_cores(monkeypatch):
    """Work on two cores, however small the drawings and the machine."""
    monkeypatch.setattr(files, "WORTH_SPREADING", 0)
    monkeypatch.setattr(files, "_cores", lambda: 2)


def told(results):
    """What became of each file, without what is compared by identity."""
    return [
        (r.path.name, str(r.error or ""), [(a.part.name, a.findings, a.verdicts) for a in r.parts])
        for r in results
    ]


def test_a_file_s_audit_has_its_parts_or_its_error(paths):
    short, none = audit_file(paths[0], REQUEST), audit_file(paths[1], REQUEST)
    assert (short.error, [audit.fails for audit in short.parts]) == (None, [True])
    assert isinstance(none.error, DrawingError)
    assert none.parts == ()


def test_files_are_audited_in_the_order_given_and_each_is_a_step(paths):
    steps: list[Path] = []
    results = audit_files(paths, REQUEST, steps.append)
    assert [result.path for result in results] == steps == paths
    assert [bool(result.error) for result in results] == [False, True, False, False]


@side_by_side
@pytest.mark.usefixtures("all_cores")
def test_all_cores_give_the_same_results_in_the_same_order(paths):
    one_by_one = [audit_file(path, REQUEST) for path in paths]
    steps: list[Path] = []
    assert told(audit_files(paths, REQUEST, steps.append)) == told(one_by_one)
    assert steps == paths


def give_up(path, request):
    os._exit(1)


@side_by_side
@pytest.mark.usefixtures("all_cores")
def test_a_process_that_the_system_stops_is_an_error_of_one_line(paths, monkeypatch):
    monkeypatch.setattr(files, "audit_file", give_up)
    with pytest.raises(HoleScheduleError) as caught:
        audit_files(paths, REQUEST)
    assert str(caught.value) == (
        "the system stopped a process of the audit, most likely for want of memory."
        " Audit fewer or smaller drawings at once."
    )


def test_small_drawings_are_not_worth_a_second_process(paths, monkeypatch):
    monkeypatch.setattr(files, "_cores", lambda: 8)
    # would fail if it were called
    monkeypatch.setattr(concurrent.futures, "ProcessPoolExecutor", None)
    assert len(audit_files(paths, REQUEST)) == len(paths)


@pytest.mark.parametrize(("number", "fits"), [(1, True), (2, False), (0, False), (-1, False)])
def test_a_part_is_picked_by_its_number(paths, number, fits):
    result = audit_file(paths[2], AuditRequest(load_rule_set("faa"), part=number))
    if fits:
        assert [audit.part.name for audit in result.parts] == ["CLEAN"]
    else:
        assert str(result.error) == (
            f"{paths[2]}: no part {number}: the drawing has 1 part. Correct --part."
        )
