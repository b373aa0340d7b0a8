"""An audit on the terminal: what is wrong, worst first, then the schedule of holes by row."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from holeschedule.audit.measure import HoleRivet
from holeschedule.audit.report import PartAudit
from holeschedule.holes.part import Part
from holeschedule.model import Finding, Head, Hole, HoleSize, Notice, Quantity, Verdict
from holeschedule.selection import label_key
from holeschedule.units import LengthUnit, format_length
from holeschedule.views.explain import PAIRS, explain, row_of
from holeschedule.views.text import compact_labels, hanging, plural, printable, table

MOST_FINDINGS = 40
"""Lines of findings; the rest is counted."""
MOST_NOTICES = 12
"""Notices told one by one; the rest is counted."""
MOST_SINGLES = 40
"""Single holes that get a line of their own."""
LABEL_WIDTH = 12
"""Columns for the holes of a finding; where they take more, the text stands below them."""
ALIKE = 0.00005
"""Inches within which findings of a row are the same as printed."""


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
    singles = len(part.holes) - sum(len(row.places) for row in part.rows)
    lines = [
        f"{part.name}  {printable(part.drawing)}  {size},"
        f" outline area {_area(part, unit)}, {plural(len(part.cutouts), 'cutout')}",
        f"{plural(len(part.holes), 'hole')}: {plural(len(part.rows), 'row')},"
        f" {singles:,} single; {_rivet_counts(audit)}; {_head_counts(audit)}",
        f"rules {printable(audit.rules.name)}: {_verdict_counts(audit)}",
    ]
    if audit.on_part:
        labels = compact_labels(sorted(audit.on_part, key=label_key))
        lines.append(f"As measured on the part, not as drawn: {labels}.")
    if audit.short_if_flush:
        more = plural(audit.short_if_flush, "more hole")
        lines.append(f"With flush heads {more} would be short (--head flush).")
    return [wrapped for line in lines for wrapped in hanging("", line)]


def _area(part: Part, unit: LengthUnit) -> str:
    """Inside the outline; of a small part at least two figures."""
    area = unit.from_inches(unit.from_inches(part.outline.area))
    return f"{area:,.1f} {unit}²" if area >= 1 else f"{area:.2g} {unit}²"


def _bare(inches: float, unit: LengthUnit, places: int | None = None) -> str:
    return format_length(inches, unit, places).removesuffix(f" {unit}")


def _rivet_counts(audit: PartAudit) -> str:
    """'134 at final size for 3/32, 2 pilots for 1/8', thinnest rivet first."""
    kinds = audit.measured.kinds
    counts = Counter(
        (math.inf, "", "") if found.rivet is None
        else (found.rivet.shank_diameter, str(found.size), found.rivet.name)
        for found in map(kinds.__getitem__, audit.measured.kind.tolist())
    )  # fmt: skip
    return ", ".join(_rivet_count(size, name, n) for (_, size, name), n in sorted(counts.items()))


def _rivet_count(size: str, name: str, count: int) -> str:
    if not name:
        return f"{count:,} too large for any rivet known (D is the hole itself)"
    told = plural(count, "pilot") if size == HoleSize.PILOT else f"{count:,} at final size"
    return f"{told} for {name}"


def _head_counts(audit: PartAudit) -> str:
    flush = int(audit.measured.flush.sum())
    if flush in {0, len(audit.part.holes)}:
        return f"heads taken as {Head.FLUSH if flush else Head.PROTRUDING}"
    return f"{plural(flush, 'head')} taken as {Head.FLUSH}, the others as {Head.PROTRUDING}"


def _verdict_counts(audit: PartAudit) -> str:
    order = sorted(audit.counts, key=lambda v: -v.severity)
    wide = {row_of(f.hole) for f in audit.findings if f.verdict is Verdict.WIDE}
    told = [f"{audit.counts[v]:,} {v}" for v in order]
    return ", ".join([*told, plural(len(wide), "wide row")] if wide else told)


# findings --------------------------------------------------------------------------------------


def _finding_lines(audit: PartAudit, unit: LengthUnit) -> list[str]:
    if not audit.findings:
        return []
    holes = {hole.label: hole for hole in audit.part.holes}
    groups = [(_group_name(members), members) for members in _grouped(audit.findings)]
    shown, hidden = groups[:MOST_FINDINGS], groups[MOST_FINDINGS:]
    width = min(LABEL_WIDTH, max(len(name) for name, _ in shown))
    sources: dict[str, int] = {}
    lines: list[str] = []
    for name, members in shown:
        worst = members[0]
        number = sources.setdefault(worst.source, len(sources) + 1)
        verdict = str(worst.verdict)
        head = f"{verdict.upper() if worst.verdict.fails else verdict:<11} "
        text = f"{_at(members, holes, unit)}{explain(worst, unit)} [{number}]"
        lines += _under_name(head, name, width, text)
    if hidden:
        left = plural(sum(len(members) for _, members in hidden), "more finding")
        lines.append(f"… and {left}: --json has them all.")
    lines += [line for s, n in sources.items() for line in hanging(f"  [{n}] ", printable(s))]
    return [*lines, ""]


def _grouped(findings: Iterable[Finding]) -> list[list[Finding]]:
    """Findings of one verdict and rule in one row, or two rows, are told together, worst first.

    Those of whole rows are told together whatever their row.
    """
    groups: dict[object, list[Finding]] = defaultdict(list)
    for finding in findings:
        wide = finding.verdict is Verdict.WIDE
        rows = [] if wide else sorted({row_of(label) for label in _labels(finding)})
        groups[(finding.verdict, finding.rule, *rows)].append(finding)
    return list(groups.values())


def _labels(finding: Finding) -> tuple[str, ...]:
    """The holes that a finding tells of: one, or the two of a pair."""
    if finding.quantity in PAIRS and finding.other is not None:
        return finding.hole, finding.other
    return (finding.hole,)


def _group_name(members: Sequence[Finding]) -> str:
    labels = sorted({label for finding in members for label in _labels(finding)}, key=label_key)
    if not _of_rows(members[0]):
        return compact_labels(labels)
    rows = list(dict.fromkeys(row_of(label) for label in labels))
    return f"{'row' if len(rows) == 1 else 'rows'} {', '.join(rows)}"


def _of_rows(finding: Finding) -> bool:
    """Whether a finding tells of whole rows."""
    return finding.verdict is Verdict.WIDE or finding.quantity is Quantity.TRANSVERSE_PITCH


def _at(members: Sequence[Finding], holes: Mapping[str, Hole], unit: LengthUnit) -> str:
    """Where the finding that is told lies; of several, which of them it is."""
    worst = members[0]
    hole = holes[worst.hole]
    place = f"at ({_bare(hole.x, unit)}, {_bare(hole.y, unit)})"
    if len(members) == 1 and not _of_rows(worst) and worst.quantity not in PAIRS:
        return f"{place}: "
    if len(members) > 1 and _all_alike(members):
        return "each: "
    return f"{'worst is ' if len(members) > 1 else ''}{worst.hole} {place}: "


def _all_alike(members: Sequence[Finding]) -> bool:
    values = [f.measured for f in members]
    return len({f.other for f in members}) == 1 and max(values) - min(values) < ALIKE


def _under_name(head: str, name: str, width: int, text: str) -> list[str]:
    """`text` beside a name that fits its column, below a longer one."""
    indent = " " * len(head)
    if len(name) <= width:
        return hanging(f"{head}{name:<{width}}  ", text)
    return [*hanging(head, name), *hanging(f"{indent}  ", text)]


# schedule --------------------------------------------------------------------------------------

_SIZE_HEADS = ("x", "y", "rivet", "diameter")
ROW_HEADS = ("holes", "n", *_SIZE_HEADS, "pitch", "e", "e/D", "edge", "verdict")
UNIT_NAMES = {LengthUnit.INCH: "inches", LengthUnit.MILLIMETRE: "millimetres"}
HOLE_HEADS = ("hole", *_SIZE_HEADS, "e", "e/D", "edge", "next", "away", "verdict")


def _row_lines(audit: PartAudit, unit: LengthUnit) -> list[str]:
    """One line a row, one a single hole, worst first."""
    part = audit.part
    entries: list[tuple[list[int], float | None]] = [
        (list(row.places), row.pitch) for row in part.rows
    ]
    singles = _by_label(audit, range(sum(len(row.places) for row in part.rows), len(part.holes)))
    entries += [([i], None) for i in singles[:MOST_SINGLES]]
    rows = []
    for places, pitch in entries:
        worst = max((audit.verdicts[i] for i in places), key=lambda v: v.severity)
        rows.append((-worst.severity, _row_cells(audit, places, pitch, worst, unit)))
    rows.sort(key=lambda entry: entry[0])
    lines = table(ROW_HEADS, [cells for _, cells in rows], right="lrrrlrrrrll")
    left = len(singles) - MOST_SINGLES
    if left > 0:
        lines.append(f"… and {plural(left, 'more single hole')}: --holes lists every hole.")
    return lines


def legend(unit: LengthUnit) -> str:
    """What the columns of a schedule mean."""
    return (
        f"Lengths in {UNIT_NAMES[unit]}. e: from the centre to the nearest edge, the least in a"
        " row. D: nominal diameter of the rivet. x, y: the hole, or the first of a row. Rows are"
        " lettered from the bottom left. --holes lists every hole."
    )


def _by_label(audit: PartAudit, holes: Iterable[int]) -> list[int]:
    return sorted(holes, key=lambda i: label_key(audit.part.holes[i].label))


def _row_cells(
    audit: PartAudit, places: list[int], pitch: float | None, worst: Verdict, unit: LengthUnit
) -> tuple[str, ...]:
    """One line of the schedule: position of the first hole, edge distance of the nearest one."""
    measured, holes = audit.measured, audit.part.holes
    first, least = holes[places[0]], places[int(np.argmin(measured.edge_distance[places]))]
    found = measured.rivet_of(places[0])
    return (
        compact_labels([holes[i].label for i in places]),
        str(len(places)),
        _bare(first.x, unit),
        _bare(first.y, unit),
        _rivet(found),
        _diameter(first.diameter, unit),
        "" if pitch is None else _bare(pitch, unit),
        *_edge_cells(audit, least, unit),
        str(worst),
    )


def _rivet(found: HoleRivet) -> str:
    """'3/32 final', '1/8 pilot'."""
    return f"{found.rivet.name} {found.size}" if found.rivet else "none"


def _diameter(inches: float, unit: LengthUnit) -> str:
    """With the fourth decimal that tells #30, 0.1285 in, from its neighbours."""
    return _bare(inches, unit, 4 if unit is LengthUnit.INCH else 2)


def _edge_cells(audit: PartAudit, hole: int, unit: LengthUnit) -> tuple[str, str, str]:
    """Edge distance, the same over D, and the edge."""
    measured = audit.measured
    e = float(measured.edge_distance[hole])
    name = audit.part.edge_name(int(measured.edge_index[hole]))
    return _bare(e, unit), f"{e / measured.shank[hole]:.2f}", name


def _hole_lines(audit: PartAudit, unit: LengthUnit) -> list[str]:
    """One line a hole, worst first."""
    measured, part = audit.measured, audit.part
    rows = []
    for i, hole in enumerate(part.holes):
        near = int(measured.nearest[i])
        rows.append(
            (
                hole.label,
                _bare(hole.x, unit),
                _bare(hole.y, unit),
                _rivet(measured.rivet_of(i)),
                _diameter(hole.diameter, unit),
                *_edge_cells(audit, i, unit),
                part.holes[near].label if near >= 0 else "",
                _bare(float(measured.nearest_distance[i]), unit) if near >= 0 else "",
                str(audit.verdicts[i]),
            )
        )
    order = sorted(_by_label(audit, range(len(rows))), key=lambda i: -audit.verdicts[i].severity)
    return table(HOLE_HEADS, [rows[i] for i in order], right="lrrlrrrllrl")


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
    flush = sum(audit.short_if_flush for audit in audits)
    text = f"{plural(len(audits), 'part')}, {plural(holes, 'hole')}: "
    if failing:
        told = plural(missed, "finding misses", "findings miss")
        text += f"{told} a rule, in {', '.join(failing)}."
    else:
        text += "no rule missed."
    more = f" With flush heads {plural(flush, 'more hole')} would be short." if flush else ""
    return text + more
