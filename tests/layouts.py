"""Hole patterns made in code, as parts of a riveted structure have them. Lengths are inches."""

from __future__ import annotations

import numpy as np

from holeschedule.geometry.edges import FloatArray
from holeschedule.holes.labels import label_holes
from holeschedule.holes.rows import find_rows
from holeschedule.model import Row

NUMBER_40 = 0.098
"""The hole of a 3/32 rivet at final size."""
NUMBER_30 = 0.1285
"""The hole of a 1/8 rivet at final size."""


def line(start: tuple[float, float], step: tuple[float, float], count: int) -> FloatArray:
    """Holes from `start`, each `step` from the last."""
    return np.array(start, dtype=float) + np.arange(count)[:, None] * np.array(step, dtype=float)


def ring(
    centre: tuple[float, float], radius: float, count: int, first: float = -90.0
) -> FloatArray:
    """Holes evenly round a centre, counter-clockwise from `first` degrees."""
    angle = np.radians(first) + 2 * np.pi * np.arange(count) / count
    return np.array(centre) + radius * np.column_stack((np.cos(angle), np.sin(angle)))


def grid(across: int, up: int, pitch: float, transverse: float, stagger: float = 0.0) -> FloatArray:
    """Level rows from the bottom, every second one moved to the right by `stagger`."""
    rows = [line((stagger * (i % 2), transverse * i), (pitch, 0.0), across) for i in range(up)]
    return np.concatenate(rows)


def together(*parts: FloatArray) -> FloatArray:
    """All holes, those drawn at one place taken once, in the order given."""
    every = np.concatenate(parts)
    _, first = np.unique(np.round(every, 6), axis=0, return_index=True)
    return every[np.sort(first)]


def round_a_plate(across: int, up: int, pitch: float) -> FloatArray:
    """One row along each side of a plate, with a hole in every corner."""
    right, top = pitch * (across - 1), pitch * (up - 1)
    return together(
        line((0, 0), (pitch, 0), across),
        line((0, top), (pitch, 0), across),
        line((0, 0), (0, pitch), up),
        line((right, 0), (0, pitch), up),
    )


def turned(centres: FloatArray, degrees: float) -> FloatArray:
    """The holes turned about the origin."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return centres @ np.array([[c, s], [-s, c]])


def without(centres: FloatArray, *places: int) -> FloatArray:
    """The holes without those at `places`, counted from 1."""
    return np.delete(centres, [place - 1 for place in places], axis=0)


def rows_of(centres: FloatArray, diameters: FloatArray | float = NUMBER_40) -> tuple[Row, ...]:
    """The rows found; one diameter for all holes unless each has its own."""
    return find_rows(centres, np.broadcast_to(np.asarray(diameters, float), (len(centres),)))


def counts(rows: tuple[Row, ...]) -> dict[str, int]:
    """How many holes each row has, by its letter."""
    return {row.letter: len(row.places) for row in rows}


def hole_at(centres: FloatArray, rows: tuple[Row, ...], x: float, y: float) -> str:
    """The label of the hole nearest to (x, y)."""
    nearest = int(np.argmin(np.hypot(*(centres - (x, y)).T)))
    return label_holes(centres, rows)[nearest]


LAYOUTS: dict[str, FloatArray] = {
    "plate edge": round_a_plate(12, 7, 0.75),
    "short sides": round_a_plate(10, 3, 0.75),
    "staggered double row": grid(14, 2, 0.75, 0.4, stagger=0.375),
    "three staggered rows": grid(12, 3, 0.75, 0.45, stagger=0.375),
    "inclined double row": turned(grid(14, 2, 0.75, 0.4, stagger=0.375), 27.0),
    "square grid": grid(8, 5, 0.75, 0.75),
    "grid closer upwards": grid(6, 5, 1.0, 0.7),
    "hatch ring": ring((3, 3), 2.5, 16),
    "ring of 36": ring((3, 3), 4.0, 36),
    "spars and ribs": together(
        line((0, 0), (1, 0), 25),
        line((0, 6), (1, 0), 25),
        *(line((4 + 4 * i, 0), (0, 0.75), 12) for i in range(5)),
    ),
    "missing hole": without(line((0, 0), (0.75, 0), 12), 5),
    "tapered double row": np.concatenate(
        (line((0, 0), (0.7, 0), 18), line((0, 0.4), (0.7, 0.03), 18))
    ),
    "scattered": np.random.default_rng(4).uniform(0, 10, (40, 2)),
    "on a grid of eighths": np.unique(
        np.random.default_rng(4).integers(0, 64, (150, 2)) / 8.0, axis=0
    ),
}
"""Layouts on which properties are tried."""
