"""Hole patterns and moves that the tests of fitting share."""

import math

import numpy as np

from holeschedule.geometry.placement import Placement

NOISE = 0.002
"""Inches: standard deviation of each coordinate."""


def scattered(count, seed=1, size=(40.0, 24.0)):
    """Holes without any order, on a sheet of that size [in]."""
    return np.random.default_rng(seed).uniform(0, 1, (count, 2)) * size


def grid(across, up, pitch=0.75):
    """Rows of holes above each other."""
    return np.stack(np.meshgrid(np.arange(across), np.arange(up)), -1).reshape(-1, 2) * pitch


def row(count, pitch=0.75):
    """A straight row along x."""
    return np.column_stack((np.arange(count) * pitch, np.zeros(count)))


def ring(count, radius=2.4375):
    """Holes round a circle."""
    angle = 2 * np.pi * np.arange(count) / count
    return radius * np.column_stack((np.cos(angle), np.sin(angle)))


def noisy(points, rng, noise=NOISE):
    """The points, each off by noise [in]."""
    return points + rng.normal(0, noise, points.shape)


def farthest(one, other, points):
    """Inches by which two placements differ at the worst of the points."""
    return float(np.abs(one.move(points) - other.move(points)).max())


TURNED = Placement(math.radians(37), (3.0, -2.0))
FLIPPED = Placement(math.radians(37), (3.0, -2.0), flip=True)
