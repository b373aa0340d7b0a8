"""Joints for tests: the demo's, from its drawings and mating.csv, and joints of plates."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np

from holeschedule.geometry.placement import IN_PLACE, Placement
from holeschedule.holes.part import Part
from holeschedule.holes.parts import read_parts
from holeschedule.joints.layers import Joint, Layer
from holeschedule.model import Head
from holeschedule.tables import rivet_size

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
