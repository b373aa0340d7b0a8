"""Joints for tests: the demo's, from its drawings and mating.csv; of plates; of a build.toml."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import cast

import numpy as np

from holeschedule.audit.rules import load_rule_set
from holeschedule.build.intent import BuildIntent, parse_intent
from holeschedule.geometry.placement import IN_PLACE, Placement
from holeschedule.holes.alignment import Alignment
from holeschedule.holes.part import Part
from holeschedule.holes.parts import read_parts
from holeschedule.joints.laid import LaidJoint
from holeschedule.joints.layers import Joint, Layer
from holeschedule.model import Head
from holeschedule.tables import rivet_size
from holeschedule.work.drawn_parts import DrawnParts
from holeschedule.work.laying import JointsLaid

SAMPLES = Path(__file__).parents[1] / "sample_dxf"


@cache
def demo_part(name: str) -> Part:
    """A part of the demo, such as FL-101 or FL-112B."""
    parts = read_parts(SAMPLES / f"{name[:6].lower()}.dxf")
    return parts["AB".index(name[6:])] if name[6:] else parts[0]


@cache
def _mating() -> dict[str, list[dict[str, str]]]:
    rows: dict[str, list[dict[str, str]]] = {}
    with (SAMPLES / "mating.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            rows.setdefault(row["joint"], []).append(row)
    return rows


def demo_joint(name: str) -> Joint:
    """A joint of the demo as mating.csv places it. Several copies of a part are numbered."""
    rows = _mating()[name]
    parts = [row["part"] for row in rows]
    first = demo_part(parts[0])
    layers = []
    for number, row in enumerate(rows):
        part = demo_part(row["part"])
        copy = f"#{parts[: number + 1].count(row['part'])}" if parts.count(row["part"]) > 1 else ""
        spots = [tuple(map(float, xy.split())) for xy in row["positions_in"].split("; ")]
        layers.append(Layer(row["part"] + copy, part, _holes(part, spots), _move(row, first, part)))
    rivet = None if "," in row["rivet"] else rivet_size(row["rivet"])
    return Joint(name, tuple(layers), rivet, Head(rows[0]["head"]), rows[0]["title"])


def _move(row: dict[str, str], first: Part, part: Part) -> Placement:
    """The move between own frames, where mating.csv has it between the axes of two drawings."""
    shift = (float(row["shift_x_in"]), float(row["shift_y_in"]))
    drawn = Placement(math.radians(float(row["turn_deg"])), shift, row["flip"] == "yes")
    to_axes = Placement(shift=tuple(part.zero.tolist()))
    return to_axes.then(drawn).then(Placement(shift=tuple((-first.zero).tolist())))


def _holes(part: Part, spots: Sequence[tuple[float, ...]]) -> np.ndarray:
    """Indices of the holes at these positions on the drawing's axes."""
    drawn = part.centres + part.zero
    apart = np.hypot(*(drawn[None] - np.array(spots)[:, None]).transpose(2, 0, 1))
    assert apart.min(axis=1).max() < 1e-4
    return apart.argmin(axis=1)


def layer_of(part: Part, name: str, *, placement: Placement = IN_PLACE, **more: object) -> Layer:
    """A layer with all holes of a part, or those with the `labels` given."""
    labels = more.pop("labels", None)
    holes = [i for i, hole in enumerate(part.holes) if labels is None or hole.label in labels]
    return Layer(name, part, np.array(holes, dtype=np.intp), placement, **more)


def joint_of(*layers: Layer, rivet: str | None = None, head: Head = Head.PROTRUDING) -> Joint:
    """A joint J1 of these layers."""
    return Joint("J1", layers, rivet_size(rivet) if rivet else None, head)


BUILD = """units = "in"

[[part]]
id = "SKIN"
drawing = "skin.dxf"
thickness = 0.032

[[part]]
id = "RIB"
drawing = "rib.dxf"
thickness = 0.025
quantity = 2

[[part]]
id = "CAP"
drawing = "cap.dxf"
thickness = 0.040
"""
"""Three parts of a build.toml; joints are written behind it."""


def written(name: str, *layers: str, of_joint: str = "") -> str:
    """A joint of build.toml: the lines of its layers, each beginning with the part."""
    text = f'\n[[joint]]\nid = "{name}"\n{of_joint}\n'
    for part, _, more in (layer.partition(" ") for layer in layers):
        keys = "\n".join(more.split("; ")) if more else ""
        text += f'[[joint.layer]]\npart = "{part}"\n{keys}\n'
    return text


def build_of(*joints: str, parts: str = BUILD) -> BuildIntent:
    """What a build.toml of these parts and joints says."""
    return parse_intent(parts + "".join(joints), "build.toml")


class Parts(dict[str, Part]):
    """Parts of a build by id, in place of those that are read from drawings."""

    def __init__(self, **parts: Part) -> None:
        super().__init__({name: replace(part, name=name) for name, part in parts.items()})
        self.moves: dict[str, Alignment] = {}


def laid_in(intent: BuildIntent, parts: Parts) -> list[LaidJoint]:
    """The joints of a build, laid."""
    laying = JointsLaid(intent, cast("DrawnParts", parts), load_rule_set("faa"))
    return [laying.lay(joint) for joint in intent.joints]
