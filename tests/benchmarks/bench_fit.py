"""Fits of hole patterns against a k-d tree that is asked about the same holes.

A fit has to be found and counted. The base is the counting alone, done plainly: scipy's cKDTree
is asked for the nearest hole of all 500 holes under each of a thousand moves. That is what it costs
to try the moves that a single pair of holes allows, out of 124,750 pairs.

Run: python -m tests.benchmarks.bench_fit
"""

import time
from functools import partial

import numpy as np
from scipy.spatial import cKDTree

from holeschedule.joints.fit import fit_holes
from tests.benchmarks.processes import table
from tests.patterns import FLIPPED, grid, noisy, ring, row, scattered

MOVES = 1000
REPEATS = 3


def best(work):
    """The least processor time of some runs."""
    seconds = []
    for _ in range(REPEATS):
        start = time.process_time()
        work()
        seconds.append(time.process_time() - start)
    return min(seconds)


def patterns():
    """Name, holes that stay, holes that are moved."""
    rng = np.random.default_rng(1)

    def part(base, share=1.0, strays=0):
        kept = base[rng.permutation(len(base))[: round(len(base) * share)]]
        others = rng.uniform(0, 1, (strays, 2)) * (40.0, 24.0)
        return FLIPPED.inverse().move(noisy(np.vstack([kept, others]), rng))

    shapes = scattered(500), grid(25, 20), row(500)
    names = "scattered", "grid of 25 × 20", "one row"
    for name, base in zip(names, shapes, strict=True):
        yield f"500 × 400, {name}", base, part(base, 0.8)
    yield "500 × 500, scattered, a tenth in common", shapes[0], part(shapes[0], 0.1, strays=450)
    yield "500 × 100, a grid in a grid, 1,408 answers", shapes[1], part(grid(10, 10))
    yield "200 × 200, a ring, 400 answers", ring(200, 24.0), part(ring(200, 24.0))


def theirs(base, part):
    tree = cKDTree(base)
    rng = np.random.default_rng(2)
    for shift in rng.uniform(-20, 20, (MOVES, 2)):
        tree.query(part + shift, distance_upper_bound=1 / 64)


def main():
    rows = []
    for name, base, part in patterns():
        mine, other = best(partial(fit_holes, base, part)), best(partial(theirs, base, part))
        rows.append((name, f"{mine:.3f} s", f"{other:.3f} s", f"{mine / other:.2f}"))
    heads = ("fit", "ours", f"{MOVES:,} moves in a k-d tree", "ratio")
    print(table("Fits of hole patterns, against scipy's k-d tree", heads, rows))


if __name__ == "__main__":
    main()
