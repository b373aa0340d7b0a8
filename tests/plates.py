"""Parts built without a drawing: rows and labels as stated, so that a rule is tested alone.

Lengths are inches. `Plate` is a rectangle unless other corners are given.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from shapely import Point as ShapelyPoint

from holeschedule.audit.measure import Intent
from holeschedule.audit.report import PartAudit, audit_part
from holeschedule.audit.rules import RuleSet, load_rule_set
from holeschedule.geometry.edges import Edges, circle_edges, line_edges, no_edges, polygon_edges
from holeschedule.geometry.loops import Loop
from holeschedule.holes.labels import row_letters
from holeschedule.holes.part import Part
from holeschedule.model import Finding, Head, Hole, Notice, Row, Verdict
from holeschedule.tables import rivet_size
from holeschedule.units import drawing_unit_named

Point = tuple[float, float]

NUMBER_40, NUMBER_30, NUMBER_21, NUMBER_11 = 0.098, 0.1285, 0.159, 0.191
"""Final sizes for 3/32, 1/8, 5/32 and 3/16."""
D = 3 / 32
"""Nominal diameter of the rivet in a #40 hole."""
LAYOUT = 1 / 64
"""Layout tolerance of the packaged sets."""


@dataclass(frozen=True)
class At:
    """A hole at (x, y), with what is unlike the other holes of the plate."""

    x: float
    y: float
    diameter: float | None = None
    mark: float | None = None


@dataclass(frozen=True)
class Plate:
    """A part to be: rows of holes A, B, C and so on, and single holes X1, X2, X3.

    `closed` are letters of rows whose last hole is followed by the first; `missing` has the
    places after which a hole of a row is missing.
    """

    rows: Sequence[Sequence[At | Point]] = ()
    singles: Sequence[At | Point] = ()
    size: Point = (10.0, 5.0)
    diameter: float = NUMBER_40
    corners: Sequence[Point] | None = None
    round_cutouts: Sequence[tuple[float, float, float]] = ()
    trim: Sequence[tuple[Point, Point]] = ()
    closed: str = ""
    missing: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    unit: str = "in"
    drawing: str = "plate.dxf"
    notices: tuple[Notice, ...] = ()

    def part(self) -> Part:
        """The part, its holes in the order of their labels."""
        rows = tuple(self._rows())
        labels = [f"{row.letter}{n}" for row in rows for n in range(1, len(row.places) + 1)]
        labels += [f"X{n}" for n in range(1, len(self.singles) + 1)]
        spots = [_at(spot) for line in (*self.rows, self.singles) for spot in line]
        centres = np.array([(s.x, s.y) for s in spots], dtype=float).reshape(-1, 2)
        outline = Loop(self._outline(), "OUTLINE", "polyline")
        cutouts = tuple(
            Loop(circle_edges(np.array([[x, y]]), np.array([r])), "CUTOUTS", "circle")
            for x, y, r in self.round_cutouts
        )
        return Part(
            name=re.sub(r"[^A-Z0-9]+", "-", Path(self.drawing).stem.upper()),
            drawing=self.drawing,
            unit=drawing_unit_named(self.unit),
            origin=(0.0, 0.0),
            outline=outline,
            cutouts=cutouts,
            trim=self._trim(),
            bends=no_edges(),
            holes=tuple(
                Hole(
                    label,
                    *map(float, (s.x, s.y)),
                    s.diameter or self.diameter,
                    "HOLES",
                    "circle",
                    0.0,
                    s.mark,
                )
                for label, s in zip(labels, spots, strict=True)
            ),
            centres=centres,
            in_metal=np.array([_in_metal(c, outline, cutouts) for c in centres], dtype=bool),
            rows=rows,
            notices=self.notices,
        )

    def audit(
        self,
        rules: RuleSet | str = "faa",
        *,
        head: Head | None = None,
        rivet: str | None = None,
    ) -> PartAudit:
        """The part's audit."""
        intent = Intent(rivet_size(rivet) if rivet else None, head)
        chosen = load_rule_set(rules) if isinstance(rules, str) else rules
        return audit_part(self.part(), chosen, intent)

    def _rows(self) -> list[Row]:
        rows, first = [], 0
        for letter, line in zip(row_letters(), self.rows, strict=False):
            spots = np.array([(s.x, s.y) for s in map(_at, line)])
            pitch = float(np.median(np.hypot(*np.diff(spots, axis=0).T)))
            places = tuple(range(first, first + len(line)))
            gaps = self.missing.get(letter, ())
            rows.append(Row(letter, places, pitch, gaps, letter in self.closed))
            first += len(line)
        return rows

    def _outline(self) -> Edges:
        wide, high = self.size
        corners = self.corners or [(0, 0), (wide, 0), (wide, high), (0, high)]
        return polygon_edges(np.array(corners, dtype=float))

    def _trim(self) -> Edges:
        ends = np.array(self.trim, dtype=float).reshape(-1, 2, 2)
        return line_edges(ends[:, 0], ends[:, 1])


def _at(spot: At | Point) -> At:
    return spot if isinstance(spot, At) else At(*spot)


def _in_metal(centre: np.ndarray, outline: Loop, cutouts: Sequence[Loop]) -> bool:
    point = ShapelyPoint(centre)
    return outline.polygon.contains(point) and not any(c.polygon.contains(point) for c in cutouts)


def level(x: float, y: float, pitch: float, count: int) -> list[Point]:
    """A level row to the right of (x, y)."""
    return [(x + pitch * i, y) for i in range(count)]


def at_edge(distance: float, **more: Any) -> Plate:
    """A plate with one hole, `distance` from its lower edge and far from the others."""
    return Plate(singles=[(5.0, distance)], **more)


def findings(audit: PartAudit, rule: str) -> list[Finding]:
    """Findings of the rules whose code begins with `rule`."""
    return [f for f in audit.findings if f.rule.startswith(rule)]


def only(audit: PartAudit) -> Finding:
    """The only finding."""
    (finding,) = audit.findings
    return finding


def told(audit: PartAudit) -> set[tuple[str, str, Verdict]]:
    """Hole, rule and verdict of every finding."""
    return {(f.hole, f.rule, f.verdict) for f in audit.findings}


def verdict_of(audit: PartAudit, label: str) -> Verdict:
    """The verdict of one hole."""
    labels = [hole.label for hole in audit.part.holes]
    return audit.verdicts[labels.index(label)]
