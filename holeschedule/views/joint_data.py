"""A joint for other programs: part of the JSON object of an audit."""

from __future__ import annotations

import math
from typing import Any

from holeschedule.audit.rules import RuleSet
from holeschedule.joints.drilled import MatchDrilled
from holeschedule.joints.laid import LaidJoint, Rivet
from holeschedule.units import LengthUnit
from holeschedule.views.audit_data import finding_object
from holeschedule.views.joint_text import stack_findings


def joint_object(laid: LaidJoint, rules: RuleSet, unit: LengthUnit) -> dict[str, Any]:
    """A joint with its places and findings.

    Lengths are in `unit`, positions on the axes of the first layer's drawing.
    """
    joint = laid.joint
    return {
        "joint": joint.name,
        "title": joint.title,
        "head": str(joint.head),
        "layers": [
            {
                "part": layer.name,
                "thickness": None if layer.thickness is None else unit.from_inches(layer.thickness),
                "turn": math.degrees(layer.placement.turn),
                "flip": layer.placement.flip,
            }
            for layer in joint.layers
        ],
        "places": [_place(rivet, unit, _zero(laid)) for rivet in laid.rivets],
        "findings": [finding_object(found, unit) for found in laid.findings(rules)],
        "stack_findings": [
            {"places": numbers, "text": text, "source": source}
            for text, source, numbers in stack_findings(laid)
        ],
    }


def drilled_object(drilled: MatchDrilled, unit: LengthUnit) -> dict[str, Any]:
    """A hole that match-drilling makes; lengths are in `unit`."""
    hole = drilled.hole
    away = hole.nearest_distance
    return {
        "part": drilled.piece,
        "hole": drilled.label,
        "place": f"{drilled.joint}:{hole.place}",
        "diameter": unit.from_inches(hole.diameter),
        "edge_distance": unit.from_inches(hole.edge_distance),
        "edge": hole.edge,
        "nearest_hole": drilled.nearest,
        "nearest_hole_distance": unit.from_inches(away) if math.isfinite(away) else None,
        "verdict": str(drilled.verdict),
    }


def _zero(laid: LaidJoint) -> tuple[float, float]:
    """Where the first layer's frame has its zero [in] on the axes of its drawing."""
    x, y = laid.joint.layers[0].part.zero.tolist()
    return x, y


def _place(rivet: Rivet, unit: LengthUnit, zero: tuple[float, float]) -> dict[str, Any]:
    place, stack = rivet.place, rivet.stack
    treatments = (
        [None] * len(place.layers) if stack is None else [s.treatment for s in stack.layers]
    )
    grip = stack.grip if stack else None
    return {
        "place": place.number,
        "x": unit.from_inches(place.at[0] + zero[0]),
        "y": unit.from_inches(place.at[1] + zero[1]),
        "rivet": rivet.designation or None,
        "grip": None if grip is None else unit.from_inches(grip),
        "layers": [
            {
                "part": at.name,
                "hole": at.label,
                "treatment": None if treatment is None else str(treatment),
                "offset": unit.from_inches(math.hypot(*at.offset)) if at.has_hole else None,
            }
            for at, treatment in zip(place.layers, treatments, strict=True)
        ],
    }
