"""The report of a build: everything that stands on its page, from the open build."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date
from itertools import groupby

from holeschedule.audit.report import PartAudit
from holeschedule.build.intent import BuildIntent, read_intent
from holeschedule.joints.laid import LaidJoint
from holeschedule.operations import Operation
from holeschedule.units import LengthUnit
from holeschedule.views.explain import explain
from holeschedule.views.joint_picture import joint_picture
from holeschedule.views.page import Page
from holeschedule.views.part_picture import part_picture
from holeschedule.views.report_page import Cell, Day, Report, Table
from holeschedule.views.text import plural
from holeschedule.work.auditing import BuildAudit, audit_all
from holeschedule.work.joint_listing import joint_finding_rows, rivet_rows
from holeschedule.work.joint_picturing import joint_view
from holeschedule.work.looking_back import Line, history_of, what_was_done
from holeschedule.work.opened import OpenBuild
from holeschedule.work.picturing import Copy, drawn_unit, part_view
from holeschedule.work.showing import CopyStatus, Status, copies_text, status_of


def report_of(opened: OpenBuild, today: date) -> Report:
    """Gather the report of a build.

    Raises
    ------
    HoleScheduleError
        The record, a drawing or the rule set cannot be read.
    """
    intent = read_intent(opened.folder)
    status = status_of(opened)
    there = [part for part in intent.parts if part.id not in status.missing]
    audited = audit_all(opened, " ".join(part.id for part in there)) if there else None
    audits = audited.parts if audited else ()
    joints = tuple(audited.laid.values()) if audited else ()
    return Report(
        opened.title,
        _summary(status, today),
        _progress(status),
        (*_notes(status), *_gaps(audits)),
        _findings(audits, intent, audited),
        tuple(_pictures(opened, intent, status, today, audited)),
        _schedule(joints, intent) if joints else _rivets(opened, status),
        tuple(_days(history_of(opened, "", None, None))),
        tuple(_joint_pictures(opened, joints, audited, today)),
        "Rivets" if joints else "Holes by rivet",
    )


def _summary(status: Status, today: date) -> tuple[str, ...]:
    counts = ", ".join(
        (
            plural(len(status.quantities), "part"),
            plural(sum(status.quantities.values()), "piece"),
            plural(status.holes, "hole"),
            plural(len(status.days), "day of work", "days of work"),
        )
    )
    return (f"{today.isoformat()}. {counts}.",)


def _notes(status: Status) -> Iterator[str]:
    for name in status.missing:
        yield f"{name}: not in the record yet."
    yield from status.notices


def _gaps(audits: Sequence[PartAudit]) -> Iterator[str]:
    """Rows from which a hole may be missing, as the reader told them."""
    for audit in audits:
        for notice in audit.part.notices:
            if notice.code == "row.missing-hole":
                yield f"{audit.part.name}: {notice.text}."


# Progress --------------------------------------------------------------------------------------


def _alike(status: Status) -> Iterator[tuple[CopyStatus, str]]:
    """The first of each run of copies that are equally far, and how the run is called."""
    for _, run in groupby(status.copies, key=lambda copy: (copy.part, *copy[2:])):
        held = list(run)
        first = held[0]
        name = copies_text(first.copy, held[-1].copy, status.quantities[first.part])
        yield first, first.part + name


def _progress(status: Status) -> Table:
    columns = [str(o) for o in Operation if any(str(o) in c.operations for c in status.copies)]
    rows = []
    for copy, name in _alike(status):
        counts = [copy.operations.get(column) for column in columns]
        cells = [Cell("" if c is None else f"{c[0]}/{c[1]}") for c in counts]
        done = sum(c[0] for c in counts if c)
        needed = sum(c[1] for c in counts if c)
        share = Cell(f"{done / needed if needed else 1.0}", "bar")
        rejected = Cell(f"{copy.rejected} rejected" if copy.rejected else "", "fails")
        whole = [*copy.whole, *(f"to {left}" for left in copy.whole_left)]
        rows.append((Cell(name), *cells, share, Cell(", ".join(whole)), rejected))
    heads = ("part", *columns, "done", "whole part", "trouble")
    return Table(heads, tuple(rows), frozenset(range(1, len(columns) + 1)))


# Findings --------------------------------------------------------------------------------------


def _findings(
    audits: Sequence[PartAudit], intent: BuildIntent, audited: BuildAudit | None
) -> Table:
    rows = [
        (
            Cell(audit.part.name),
            Cell(finding.hole),
            Cell(str(finding.verdict).upper(), "fails"),
            Cell(explain(finding, intent.units or drawn_unit(audit.part))),
            Cell(finding.source),
        )
        for audit in audits
        for finding in audit.findings
        if finding.verdict.fails
    ]
    if audited is not None:
        unit = intent.units or LengthUnit.INCH
        rows += [
            (
                Cell(row.part),
                Cell(row.hole),
                Cell(row.verdict.upper(), "fails"),
                Cell(row.finding),
                Cell(row.source),
            )
            for row in joint_finding_rows(audited.laid.values(), audited.rules, unit)
        ]
    return Table(("part", "hole", "verdict", "what", "source"), tuple(rows))


# Pictures --------------------------------------------------------------------------------------


def _pictures(
    opened: OpenBuild,
    intent: BuildIntent,
    status: Status,
    today: date,
    audited: BuildAudit | None,
) -> Iterator[tuple[str, Page]]:
    """One picture of copies whose holes are alike."""
    states = opened.record.states()
    seen: set[tuple[object, ...]] = set()
    for copy, name in _alike(status):
        key = (copy.part, states[copy.part].copy(copy.copy).codes)
        if key not in seen:
            seen.add(key)
            part = Copy(intent.part_named(copy.part), copy.copy)
            yield name, part_picture(part_view(opened, part, today, audited=audited))


def _joint_pictures(
    opened: OpenBuild, joints: Sequence[LaidJoint], audited: BuildAudit | None, today: date
) -> Iterator[tuple[str, Page]]:
    """Pictures of the joints in which something is wrong."""
    for laid in joints:
        if audited is not None and laid.fails(audited.rules):
            name = laid.joint.name
            heading = " ".join(filter(None, (name, laid.joint.title)))
            yield heading, joint_picture(joint_view(opened, name, today))


# Rivets ----------------------------------------------------------------------------------------


def _schedule(joints: Sequence[LaidJoint], intent: BuildIntent) -> Table:
    """The rivets of the joints, then the totals with spares and what to buy."""
    rows = [
        (
            Cell(row.joint),
            Cell(row.designation),
            *(
                Cell("" if count is None else f"{count:,}")
                for count in (row.counted, row.spares, row.total, row.to_buy)
            ),
        )
        for row in rivet_rows(joints, intent.spares, intent.stock)
    ]
    heads = ("joint", "rivet", "count", "spares", "needed", "to buy")
    return Table(heads, tuple(rows), frozenset((2, 3, 4, 5)))


def _rivets(opened: OpenBuild, status: Status) -> Table:
    """Holes that take each rivet; a rivet goes through a hole of every part it joins."""
    counts: Counter[tuple[str, str]] = Counter()
    for name, state in opened.record.states().items():
        need = opened.intents.needs.get(name)
        for label in state.numbers if need else ():
            hole = need.hole(label) if need else None
            if hole is not None and hole.takes_rivet:
                counts[hole.rivet or "not known", name] += 1
    rows = [
        (
            Cell(rivet),
            Cell(part),
            Cell(f"{holes:,}"),
            Cell(f"{status.quantities.get(part, 1)}"),
            Cell(f"{holes * status.quantities.get(part, 1):,}"),
        )
        for (rivet, part), holes in sorted(counts.items())
    ]
    heads = ("rivet", "part", "holes", "pieces", "holes in all")
    return Table(heads, tuple(rows), frozenset((2, 3, 4)))


# History ---------------------------------------------------------------------------------------


def _days(lines: Sequence[Line]) -> Iterator[Day]:
    """Entries by the day of the work, the last day first."""
    by_day: dict[str, list[Line]] = {}
    for line in lines:
        by_day.setdefault(line.entry.day, []).append(line)
    for day in sorted(by_day, reverse=True):
        rows = tuple(
            (
                Cell(f"{line.entry.number}"),
                Cell(line.entry.at[11:16]),
                Cell(line.entry.who),
                Cell(what_was_done(line)),
                Cell(line.entry.note),
            )
            for line in by_day[day]
        )
        yield Day(day, Table(("no.", "time", "who", "what", "note"), rows, frozenset((0,))))
