"""One function a check: (measured part, rules) → findings.

A rule is met when the measured value is on the limit or beyond it; met by less than the layout
tolerance is `tight`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator

import numpy as np

from holeschedule.audit.between import rows_between
from holeschedule.audit.measure import Measured
from holeschedule.audit.rules import Rows, Rule, RuleSet, Sense
from holeschedule.audit.sources import source_of
from holeschedule.geometry.distance import pairs_within
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray, median
from holeschedule.holes.neighbours import pitches
from holeschedule.model import Finding, Head, Quantity, Row, Verdict

SLACK = 1e-9
"""Inches. A value on the limit is met, whatever rounding made of it."""
ALONG = 0.1
"""A row runs along an edge where its edge distances are within this share of their median, and of
the length of the row (a short one far from every edge runs along none) …"""
MOST_OF_A_ROW = 0.8
"""… for at least this share of its holes, or for all but its ends, which come near another edge."""


def check_outside(measured: Measured, _: RuleSet) -> list[Finding]:
    """Holes whose centre is not in metal, or whose rim crosses an edge."""
    radius = measured.diameter / 2
    e = measured.edge_distance
    crosses = np.abs(e) < radius - SLACK
    outside = ~measured.part.in_metal & ~crosses
    findings = [
        _edge_finding(measured, i, "hole.breaks-out", float(radius[i]), Verdict.BREAKS_OUT)
        for i in np.flatnonzero(crosses).tolist()
    ]
    findings += [
        _edge_finding(measured, i, "hole.outside", float(radius[i]), Verdict.OUTSIDE)
        for i in np.flatnonzero(outside).tolist()
    ]
    return findings


def _edge_finding(
    measured: Measured, hole: int, rule: str, limit: float, verdict: Verdict
) -> Finding:
    e = float(measured.edge_distance[hole])
    return Finding(
        hole=measured.part.holes[hole].label,
        rule=rule,
        quantity=Quantity.RIM,
        limit=limit,
        measured=e,
        margin=e - limit,
        verdict=verdict,
        source=source_of(rule),
        diameter=float(measured.diameter[hole]),
        other=measured.part.edge_name(int(measured.edge_index[hole])),
    )


def check_oversize(measured: Measured, _: RuleSet) -> list[Finding]:
    """Holes drawn larger than the final size of the rivet the user names."""
    findings = []
    for i in np.flatnonzero(_by_kind(measured, "oversize")).tolist():
        rivet = measured.rivet_of(i).rivet
        if rivet is None:
            continue
        limit, size = max(rivet.final_diameters), float(measured.diameter[i])
        findings.append(
            Finding(
                measured.part.holes[i].label,
                "hole.max",
                Quantity.DIAMETER,
                limit,
                size,
                limit - size,
                Verdict.OVERSIZE,
                source_of("hole.max"),
                rivet.shank_diameter,
                rivet.name,
            )
        )
    return findings


def _by_kind(measured: Measured, flag: str) -> BoolArray:
    return np.array([getattr(kind, flag) for kind in measured.kinds], dtype=bool)[measured.kind]


def check_edge_distance(measured: Measured, rules: RuleSet) -> list[Finding]:
    """Least edge distance of every hole, by its head."""
    findings: list[Finding] = []
    for rule, limit, holes in edge_rules(measured, rules):
        e = measured.edge_distance[holes]
        margin = e - limit
        near = margin < rules.layout_tolerance - SLACK
        for i, distance, spare in zip(
            holes[near].tolist(), e[near].tolist(), margin[near].tolist(), strict=True
        ):
            findings.append(
                Finding(
                    measured.part.holes[i].label,
                    rule.code,
                    rule.quantity,
                    limit,
                    distance,
                    spare,
                    _verdict(rule, spare),
                    rule.source,
                    float(measured.shank[i]),
                    measured.part.edge_name(int(measured.edge_index[i])),
                )
            )
    return findings


def _verdict(rule: Rule, margin: float) -> Verdict:
    return rule.verdict if margin < -SLACK else Verdict.TIGHT


def edge_rules(measured: Measured, rules: RuleSet) -> Iterator[tuple[Rule, float, IntArray]]:
    """The rule, its limit [in] and the holes it is for, by rivet and head."""
    for kind, found in enumerate(measured.kinds):
        for head in Head:
            holes = np.flatnonzero(
                (measured.kind == kind) & (measured.flush == (head is Head.FLUSH))
            )
            rule = rules.rule_for(
                Quantity.EDGE_DISTANCE,
                Sense.MIN,
                head=head,
                dash=found.rivet.dash if found.rivet else None,
            )
            if len(holes) and rule is not None:
                yield rule, rule.limit_for(float(measured.shank[holes[0]])), holes


def short_if_flush(measured: Measured, rules: RuleSet) -> int:
    """How many holes would be short with flush heads that are not as the audit stands."""
    count = 0
    for rule, limit, holes in edge_rules(measured, rules):
        found = measured.rivet_of(int(holes[0])).rivet
        flush = rules.rule_for(
            Quantity.EDGE_DISTANCE,
            Sense.MIN,
            head=Head.FLUSH,
            dash=found.dash if found else None,
        )
        if flush is None or rule.head is Head.FLUSH:
            continue
        e = measured.edge_distance[holes]
        larger = flush.limit_for(float(measured.shank[holes[0]]))
        count += int(((e >= limit - SLACK) & (e < larger - SLACK)).sum())
    return count


def check_wide_edge(measured: Measured, rules: RuleSet) -> list[Finding]:
    """Rows that run along an edge, none between, farther from it than the most.

    A row farther off than neighbouring rows may be is none of that edge's.
    """
    found: dict[int, Finding] = {}
    for number, row in enumerate(measured.part.rows):
        rule = _row_rule(measured, rules, number, Quantity.EDGE_DISTANCE, Sense.MAX, None)
        if rule is None:
            continue
        places = np.array(row.places)
        e = measured.edge_distance[places]
        middle = float(median(e))
        diameter = float(measured.row_shank[number])
        limit = rule.limit_for(diameter)
        if not limit + SLACK < middle <= _farthest(limit, diameter, rules) + SLACK:
            continue
        if _along(row, e, middle):
            hole = int(places[int(np.argmin(np.abs(e - middle)))])
            edge = measured.part.edge_name(int(measured.edge_index[hole]))
            found[number] = _row_finding(measured, rule, hole, limit, middle, edge)
    between = rows_between(measured, np.array([*found], dtype=np.intp)).tolist()
    return [f for f, hidden in zip(found.values(), between, strict=True) if not hidden]


def _farthest(limit: float, diameter: float, rules: RuleSet) -> float:
    """How far [in] a row may be from an edge to be the row next to it; a set may ask for more."""
    within = rules.neighbour_rows_within * diameter
    return within if within > limit else float("inf")


def _along(row: Row, e: FloatArray, middle: float) -> bool:
    """Whether a row with edge distances `e`, their median `middle`, runs along an edge."""
    count = len(row.places)
    steady = np.abs(e - middle) <= ALONG * min(middle, row.pitch * count)
    enough = MOST_OF_A_ROW * count
    if not row.closed:
        enough = min(enough, max(count - 2, 3))
    return bool(steady.sum() >= enough)


def _row_finding(
    measured: Measured, rule: Rule, hole: int, limit: float, value: float, other: str
) -> Finding:
    return Finding(
        measured.part.holes[hole].label,
        rule.code,
        rule.quantity,
        limit,
        value,
        limit - value,
        rule.verdict,
        rule.source,
        float(measured.row_shank[measured.row_of[hole]]),
        other,
    )


def _row_rule(
    measured: Measured,
    rules: RuleSet,
    number: int,
    quantity: Quantity,
    sense: Sense,
    rows: Rows | None,
) -> Rule | None:
    places = measured.part.rows[number].places
    found = measured.rivet_of(places[0]).rivet
    head = Head.FLUSH if measured.flush[list(places)].any() else Head.PROTRUDING
    return rules.rule_for(quantity, sense, head=head, rows=rows, dash=found.dash if found else None)


def check_pitch(measured: Measured, rules: RuleSet) -> list[Finding]:
    """Pitch within each row: the least by how many rows run side by side, and the most."""
    side_by_side = _rows_side_by_side(measured, rules)
    findings: list[Finding] = []
    for number, row in enumerate(measured.part.rows):
        gaps = pitches(measured.part.centres, row)
        findings += _close_pitch(measured, rules, number, gaps, side_by_side[number])
        findings += _wide_pitch(measured, rules, number, gaps)
    return findings


def _rows_side_by_side(measured: Measured, rules: RuleSet) -> list[Rows]:
    """How many rows run side by side where each row is: one, two, three or more."""
    count = len(measured.part.rows)
    group = list(range(count))

    def root(i: int) -> int:
        while group[i] != i:
            group[i] = group[group[i]]
            i = group[i]
        return i

    for pair in measured.neighbours(rules.neighbour_rows_within):
        group[root(pair.row_a)] = root(pair.row_b)
    sizes = Counter(root(i) for i in range(count))
    return [Rows.counted(sizes[root(i)]) for i in range(count)]


def _close_pitch(
    measured: Measured, rules: RuleSet, number: int, gaps: FloatArray, rows: Rows
) -> list[Finding]:
    rule = _row_rule(measured, rules, number, Quantity.PITCH, Sense.MIN, rows)
    if rule is None:
        return []
    row = measured.part.rows[number]
    diameter = float(measured.row_shank[number])
    limit = rule.limit_for(diameter)
    margin = gaps - limit
    holes = measured.part.holes
    return [
        Finding(
            holes[row.places[i]].label,
            rule.code,
            rule.quantity,
            limit,
            float(gaps[i]),
            float(margin[i]),
            _verdict(rule, float(margin[i])),
            rule.source,
            diameter,
            holes[row.places[(i + 1) % len(row.places)]].label,
        )
        for i in np.flatnonzero(margin < rules.layout_tolerance - SLACK).tolist()
    ]


def _wide_pitch(measured: Measured, rules: RuleSet, number: int, gaps: FloatArray) -> list[Finding]:
    rule = _row_rule(measured, rules, number, Quantity.PITCH, Sense.MAX, None)
    if rule is None:
        return []
    row = measured.part.rows[number]
    limit = rule.limit_for(float(measured.row_shank[number]))
    plain = gaps.copy()
    plain[_gap_numbers(row, len(gaps))] = 0.0  # a missing hole is told as that
    widest = int(plain.argmax())
    value = float(plain[widest])
    if value <= limit + SLACK:
        return []
    hole, after = (row.places[(widest + k) % len(row.places)] for k in (0, 1))
    other = measured.part.holes[after].label
    return [_row_finding(measured, rule, hole, limit, value, other)]


def _gap_numbers(row: Row, count: int) -> list[int]:
    return [after - 1 for after in row.missing if after - 1 < count]


def check_transverse_pitch(measured: Measured, rules: RuleSet) -> list[Finding]:
    """Distance between neighbouring rows."""
    findings = []
    for a, b, distance, hole, other in measured.neighbours(rules.neighbour_rows_within):
        thick = a if measured.row_shank[a] >= measured.row_shank[b] else b
        rule = _row_rule(measured, rules, thick, Quantity.TRANSVERSE_PITCH, Sense.MIN, None)
        if rule is None:
            continue
        diameter = float(measured.row_shank[thick])
        limit = rule.limit_for(diameter)
        if distance < limit + rules.layout_tolerance - SLACK:
            findings.append(
                Finding(
                    measured.part.holes[hole].label,
                    rule.code,
                    rule.quantity,
                    limit,
                    distance,
                    distance - limit,
                    _verdict(rule, distance - limit),
                    rule.source,
                    diameter,
                    measured.part.holes[other].label,
                )
            )
    return findings


def check_spacing(measured: Measured, rules: RuleSet) -> list[Finding]:
    """Any two holes, but for neighbours in one row: there it is the pitch."""
    limits, found = spacing_limits(measured, rules)
    if not len(limits) or not limits.max():
        return []
    looks = limits + rules.layout_tolerance
    if not (measured.nearest_distance < looks).any():
        return []
    first, second, distance = pairs_within(measured.part.centres, looks)
    limit = np.maximum(limits[first], limits[second])
    near = (distance < limit + rules.layout_tolerance - SLACK) & ~_in_step(measured, first, second)
    findings = []
    holes = measured.part.holes
    for i in np.flatnonzero(near).tolist():
        a, b, margin = int(first[i]), int(second[i]), float(distance[i] - limit[i])
        wider = a if limits[a] >= limits[b] else b
        rule = found[int(measured.kind[wider])]
        if rule is not None:
            findings.append(
                Finding(
                    holes[a].label,
                    rule.code,
                    rule.quantity,
                    float(limit[i]),
                    float(distance[i]),
                    margin,
                    _verdict(rule, margin),
                    rule.source,
                    float(measured.shank[wider]),
                    holes[b].label,
                )
            )
    return findings


def spacing_limits(measured: Measured, rules: RuleSet) -> tuple[FloatArray, list[Rule | None]]:
    """(n,) limit [in] of each hole, and the rule of each kind of hole."""
    found = [
        rules.rule_for(Quantity.SPACING, Sense.MIN, dash=kind.rivet.dash if kind.rivet else None)
        for kind in measured.kinds
    ]
    limits = np.zeros(len(measured.part.holes))
    for number, rule in enumerate(found):
        mine = measured.kind == number
        if rule is not None and mine.any():
            limits[mine] = rule.limit_for(float(measured.shank[mine][0]))
    return limits, found


def _in_step(measured: Measured, first: IntArray, second: IntArray) -> BoolArray:
    """Pairs that follow each other in one row. Holes are in the order of their labels."""
    row_of = measured.row_of
    same = (row_of[first] == row_of[second]) & (row_of[first] >= 0)
    next_to = np.abs(first - second) == 1
    closed = [len(row.places) if row.closed else 0 for row in measured.part.rows]
    sizes = np.array([*closed, 0], dtype=np.intp)  # -1, no row, finds the last
    closing = np.abs(first - second) == sizes[row_of[first]] - 1
    return np.asarray(same & (next_to | closing))


CHECKS: tuple[Callable[[Measured, RuleSet], list[Finding]], ...] = (
    check_outside,
    check_oversize,
    check_edge_distance,
    check_wide_edge,
    check_pitch,
    check_transverse_pitch,
    check_spacing,
)
"""Every check, in the order in which equal findings are told."""
