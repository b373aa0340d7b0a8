"""An audit on the terminal: what is wrong, worst first, then the schedule of holes by row."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

import numpy as np

from holeschedule.audit.report import PartAudit
from holeschedule.model import Finding, Head, Notice, Verdict
from holeschedule.units import LengthUnit, format_length
from holeschedule.views.explain import explain
from holeschedule.views.text import compact_labels, hanging, plural, printable, table

MOST_FINDINGS = 40
"""Findings told one by one; the rest is counted."""
MOST_NOTICES = 12
"""Notices told one by one; the rest is counted."""
MOST_SINGLES = 40
"""Single holes that get a line of their own."""


def audit_lines(audit: PartAudit, unit: LengthUnit, *, every_hole: bool = False) -> list[str]:
    """The audit of one part as lines of text, none wider than 100 columns but for long names."""
    schedule = _hole_lines(audit, unit) if every_hole else _row_lines(audit, unit)
    return [
        *_head_lines(audit, unit),
        "",
        *_finding_lines(audit, unit),
        *schedule,
        *_notice_lines(audit.part.notices, unit),
    ]


# head ------------------------------------------------------------------------------------------


def _head_lines(audit: PartAudit, unit: LengthUnit) -> list[str]:
    part = audit.part
    x0, y0, x1, y1 = part.outline.box
    size = f"{_bare(x1 - x0, unit)} × {format_length(y1 - y0, unit)}"
    area = unit.from_inches(unit.from_inches(part.metal_area))
    singles = len(part.holes) - sum(len(row.places) for row in part.rows)
    lines = [
        f"{part.name}  {printable(part.drawing)}  {size}, outline area {area:,.1f} {unit}²,"
        f" {plural(len(part.cutouts), 'cutout')}",
        f"{plural(len(part.holes), 'hole')}: {plural(len(part.rows), 'row')},"
        f" {singles} single; {_rivet_counts(audit)}; {_head_counts(audit)}",
        f"rules {audit.rules.name}: {_verdict_counts(audit)}",
    ]
    if audit.short_if_flush:
        more = plural(audit.short_if_flush, "more hole")
        lines.append(f"With flush heads {more} would be short (--head flush).")
    return [wrapped for line in lines for wrapped in hanging("", line)]


def _bare(inches: float, unit: LengthUnit) -> str:
    return format_length(inches, unit).removesuffix(f" {unit}")


def _rivet_counts(audit: PartAudit) -> str:
    kinds = Counter(audit.measured.kind.tolist())
    counts: Counter[tuple[float, str]] = Counter()
    for kind, count in kinds.items():
        found = audit.measured.kinds[kind]
        if found.rivet is None:
            counts[(99.0, "for no known rivet")] += count
        else:
            counts[(found.rivet.shank_diameter, f"{found.size} for {found.rivet.name}")] += count
    return ", ".join(f"{count:,} {text}" for (_, text), count in sorted(counts.items()))


def _head_counts(audit: PartAudit) -> str:
    flush = int(audit.measured.flush.sum())
    if flush == 0:
        return f"{Head.PROTRUDING} heads"
    if flush == len(audit.part.holes):
        return f"{Head.FLUSH} heads"
    return f"{flush:,} {Head.FLUSH} heads, the others {Head.PROTRUDING}"


def _verdict_counts(audit: PartAudit) -> str:
    order = sorted(audit.counts, key=lambda v: -v.severity)
    wide = sum(finding.verdict is Verdict.WIDE for finding in audit.findings)
    told = [f"{audit.counts[v]:,} {v}" for v in order]
    return ", ".join([*told, f"{plural(wide, 'row')} wide"] if wide else told)


# findings --------------------------------------------------------------------------------------


def _finding_lines(audit: PartAudit, unit: LengthUnit) -> list[str]:
    if not audit.findings:
        return []
    sources: dict[str, int] = {}
    lines: list[str] = []
    groups = _grouped(audit)
    width = min(24, max(len(labels) for labels, _ in groups[:MOST_FINDINGS]))
    for labels, finding in groups[:MOST_FINDINGS]:
        number = sources.setdefault(finding.source, len(sources) + 1)
        verdict = str(finding.verdict)
        head = f"{verdict.upper() if finding.verdict.fails else verdict:<11} {labels:<{width}}  "
        more = "the least of them: " if labels != finding.hole else ""
        more = "" if finding.verdict is Verdict.WIDE else more
        lines += hanging(head, f"{more}{explain(finding, unit)} [{number}]")
    left = len(groups) - MOST_FINDINGS
    if left > 0:
        lines.append(f"… and {plural(left, 'more finding')}: --json and --csv tell all.")
    lines += [line for s, n in sources.items() for line in hanging(f"  [{n}] ", s)]
    return [*lines, ""]


def _grouped(audit: PartAudit) -> list[tuple[str, Finding]]:
    """Findings with the holes they are told of; `tight` ones of a row and rule are told once."""
    groups: dict[object, list[Finding]] = defaultdict(list)
    for number, finding in enumerate(audit.findings):
        if finding.verdict is Verdict.TIGHT:
            groups[(finding.rule, finding.hole.rstrip("0123456789"))].append(finding)
        else:
            groups[number].append(finding)
    told = []
    for members in groups.values():
        labels = _sorted_labels({f.hole for f in members})
        told.append((compact_labels(labels), members[0]))  # worst first: the least margin
    return told


def _sorted_labels(labels: Iterable[str]) -> list[str]:
    return sorted(labels, key=lambda label: int(label.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")))


# schedule --------------------------------------------------------------------------------------


def _row_lines(audit: PartAudit, unit: LengthUnit) -> list[str]:
    """One line a row, one a single hole, worst first."""
    measured, part = audit.measured, audit.part
    entries: list[tuple[list[int], float | None]] = [
        (list(row.places), row.pitch) for row in part.rows
    ]
    singles = range(sum(len(places) for places, _ in entries), len(part.holes))
    entries += [([i], None) for i in singles[:MOST_SINGLES]]
    rows = []
    for places, pitch in entries:
        worst = max((audit.verdicts[i] for i in places), key=lambda v: v.severity)
        least = places[int(np.argmin(measured.edge_distance[places]))]
        found = measured.rivet_of(places[0])
        cells = (
            compact_labels([part.holes[i].label for i in places]),
            str(len(places)),
            found.rivet.name if found.rivet else "none",
            str(found.size or ""),
            format_length(part.holes[places[0]].diameter, unit),
            "" if pitch is None else _bare(pitch, unit),
            _bare(float(measured.edge_distance[least]), unit),
            f"{measured.edge_distance[least] / measured.shank[least]:.2f}",
            part.edge_name(int(measured.edge_index[least])),
            str(worst),
        )
        rows.append((-worst.severity, cells))
    rows.sort(key=lambda entry: entry[0])
    heads = ["holes", "n", "rivet", "size", "diameter", "pitch", "least e", "e/D", "edge", "worst"]
    lines = table(heads, [cells for _, cells in rows], right="lrllrrrrll")
    left = len(singles) - MOST_SINGLES
    if left > 0:
        lines.append(f"… and {plural(left, 'more single hole')}: --holes lists every hole.")
    return lines


def _hole_lines(audit: PartAudit, unit: LengthUnit) -> list[str]:
    """One line a hole, worst first."""
    measured, part = audit.measured, audit.part
    rows = []
    for i, hole in enumerate(part.holes):
        found = measured.rivet_of(i)
        near = int(measured.nearest[i])
        rows.append(
            (
                hole.label,
                _bare(hole.x, unit),
                _bare(hole.y, unit),
                format_length(hole.diameter, unit),
                found.rivet.name if found.rivet else "none",
                str(found.size or ""),
                _bare(float(measured.edge_distance[i]), unit),
                f"{measured.edge_distance[i] / measured.shank[i]:.2f}",
                part.edge_name(int(measured.edge_index[i])),
                part.holes[near].label if near >= 0 else "",
                _bare(float(measured.nearest_distance[i]), unit) if near >= 0 else "",
                str(audit.verdicts[i]),
            )
        )
    order = sorted(range(len(rows)), key=lambda i: -audit.verdicts[i].severity)
    heads = [
        "hole",
        "x",
        "y",
        "diameter",
        "rivet",
        "size",
        "e",
        "e/D",
        "edge",
        "next",
        "away",
        "verdict",
    ]
    return table(heads, [rows[i] for i in order], right="lrrrllrrllrl")


# notices ---------------------------------------------------------------------------------------


def _notice_lines(notices: Sequence[Notice], unit: LengthUnit) -> list[str]:
    if not notices:
        return []
    lines = ["", f"{plural(len(notices), 'notice')} from reading the drawing:"]
    for notice in notices[:MOST_NOTICES]:
        where = f"layer {notice.layer}" if notice.layer is not None else ""
        if notice.x is not None and notice.y is not None:
            at = f"({_bare(notice.x, unit)}, {_bare(notice.y, unit)}) {unit}"
            where = f"{where} at {at}" if where else f"at {at}"
        text = printable(f"{notice.text}{f'; {where}' if where else ''}")
        lines += hanging(f"  {notice.code}: ", text)
    left = len(notices) - MOST_NOTICES
    if left > 0:
        lines.append(f"  … and {left:,} more: --json tells all.")
    return lines


def summary_line(audits: Sequence[PartAudit]) -> str:
    """The last line of an audit of several parts."""
    failing = [audit.part.name for audit in audits if audit.fails]
    holes = sum(len(audit.part.holes) for audit in audits)
    missed = sum(f.verdict.fails for audit in audits for f in audit.findings)
    text = f"{plural(len(audits), 'part')}, {plural(holes, 'hole')}: "
    if not failing:
        return text + "no rule missed."
    return f"{text}{plural(missed, 'finding')} that miss a rule, in {', '.join(failing)}."
