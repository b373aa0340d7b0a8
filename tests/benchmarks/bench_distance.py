"""Exact edge distances and nearest holes against klayout's compiled checks on the same panel.

klayout gets the panel as polygons: the metal with its cutouts, arcs cut into chords within
0.0005 in, and each hole as a ring of 32 corners. It is asked what the rules ask: which holes are
nearer to an edge than 2 D (`enclosed_check`) and which are nearer to each other than 3 D
(`space_check`). Ours is asked for more: the distance of every hole to its nearest edge and to its
nearest hole, on true arcs.

Run: python -m tests.benchmarks.bench_distance
"""

import time
from functools import partial

import klayout.db as klayout
import numpy as np

from holeschedule.geometry.distance import edge_distances, nearest_holes
from holeschedule.geometry.loops import POLYGON_SAG, chord_points
from tests.benchmarks.panels import rivet_panel, scalloped_plate
from tests.benchmarks.processes import table

DBU = 1e-5
SHANK = 0.125
REPEATS = 3


def best(work, repeats=REPEATS):
    """The least processor time of `repeats` runs."""
    return min(_seconds(work) for _ in range(repeats))


def _seconds(work):
    start = time.process_time()
    work()
    return time.process_time() - start


def ours(panel):
    edge_distances(panel.centres, panel.edges)
    nearest_holes(panel.centres)


def regions(panel):
    loops = [chord_points(panel.edges.take(loop), POLYGON_SAG) for loop in panel.loops]
    outline, *cutouts = (_polygon(points) for points in loops)
    cut = klayout.Region()
    for cutout in cutouts:
        cut.insert(cutout)
    turn = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    ring = panel.hole_diameter / 2 * np.column_stack((np.cos(turn), np.sin(turn)))
    holes = klayout.Region([_polygon(centre + ring) for centre in panel.centres])
    return (klayout.Region(outline) - cut).merged(), holes.merged()


def _polygon(points):
    return klayout.Polygon([klayout.Point(round(x / DBU), round(y / DBU)) for x, y in points])


def theirs(metal, holes, diameter):
    """Edge against edge, nothing merged: the quickest way klayout has."""
    rims, edges = holes.edges(), metal.edges()
    for shapes in (holes, rims, edges):
        shapes.merged_semantics = False
    rims.enclosed_check(edges, round((2 * SHANK - diameter / 2) / DBU))
    holes.space_check(round((3 * SHANK - diameter) / DBU))


def main():
    rows, seconds = [], {}
    for kind, count in ((rivet_panel, 10_000), (scalloped_plate, 10_000), (rivet_panel, 100_000)):
        panel = kind(count)
        seconds[kind, count] = mine = best(partial(ours, panel))
        if count > 10_000:  # klayout takes minutes there, and the ratio only falls
            continue
        metal, holes = regions(panel)
        other = best(partial(theirs, metal, holes, panel.hole_diameter), repeats=1)
        rows.append(
            (
                f"{panel.kind}, {count:,} holes",
                f"{mine:.3f} s",
                f"{other:.3f} s",
                f"{mine / other:.3f}",
                "≤ 0.5",
            )
        )
    growth = seconds[rivet_panel, 100_000] / seconds[rivet_panel, 10_000]
    rows.append(
        (
            "rivet panel, from 10,000 to 100,000 holes",
            f"{seconds[rivet_panel, 100_000]:.3f} s",
            f"{seconds[rivet_panel, 10_000]:.3f} s",
            f"{growth:.1f}",
            "≤ 12.5",
        )
    )
    heads = ("distances", "ours", "against", "ratio", "budget")
    print(table("Edge distances and nearest holes, against klayout", heads, rows))


if __name__ == "__main__":
    main()
