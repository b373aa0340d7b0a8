"""Whether another row stands between a row of holes and the edge it runs along."""

from __future__ import annotations

import numpy as np
import shapely

from holeschedule.audit.measure import Measured
from holeschedule.geometry.distance import nearest_points
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray

SLACK = 1e-9
"""Inches. A hole on the border of what is looked at is in it."""


def rows_between(measured: Measured, rows: IntArray) -> BoolArray:
    """Whether another row stands between each of `rows` and its edge.

    Parameters
    ----------
    measured : Measured
        The part.
    rows : (k,) array of indices
        Numbers of rows of the part. May be empty.

    Returns
    -------
    (k,) array
        True where at least half of the lookouts of the row see a hole of another row that is
        nearer to the edge than they are, no more than a pitch to the side. Both middle holes look
        where their number is even, all holes where the row is closed: which end is the first
        plays no part.
    """
    if not len(rows):
        return np.zeros(0, dtype=bool)
    lookouts = [_lookouts(measured, number) for number in rows.tolist()]
    counts = np.array([len(holes) for holes in lookouts])
    pitch = np.array([measured.part.rows[number].pitch for number in rows.tolist()])
    holes = np.array([hole for some in lookouts for hole in some], dtype=np.intp)
    seen = _see_a_row(measured, holes, np.repeat(pitch, counts))
    of_row = np.repeat(np.arange(len(rows)), counts)
    return np.asarray(np.bincount(of_row, seen, minlength=len(rows)) >= counts / 2)


def _lookouts(measured: Measured, number: int) -> tuple[int, ...]:
    row = measured.part.rows[number]
    count = len(row.places)
    return row.places if row.closed else row.places[(count - 1) // 2 : count // 2 + 1]


def _see_a_row(measured: Measured, holes: IntArray, aside: FloatArray) -> BoolArray:
    """(m,) whether each hole sees one of another row on its way to the edge, `aside` [in]."""
    centres, row_of = measured.part.centres, measured.row_of
    start = centres[holes]
    to_edge = nearest_points(start, measured.part.edges, measured.edge_index[holes]) - start
    far = np.hypot(*to_edge.T)
    way = to_edge / np.where(far > 0, far, 1.0)[:, None]
    in_rows = np.flatnonzero(row_of >= 0)
    tree = shapely.STRtree(shapely.points(centres[in_rows]))
    looker, met = tree.query(_strips(start, to_edge, way, aside + SLACK))
    other = in_rows[met]
    offset = centres[other] - start[looker]
    ahead = (offset * way[looker]).sum(axis=1)
    off = np.abs(offset[:, 0] * way[looker, 1] - offset[:, 1] * way[looker, 0])
    stands = (ahead > SLACK) & (ahead < far[looker] - SLACK) & (off <= aside[looker] + SLACK)
    stands &= row_of[other] != row_of[holes[looker]]
    seen = np.zeros(len(holes), dtype=bool)
    seen[looker[stands]] = True
    return seen


def _strips(
    start: FloatArray, to_edge: FloatArray, way: FloatArray, aside: FloatArray
) -> FloatArray:
    """(m,) array of boxes round the strips from `start` to the edge, `aside` [in] on each side."""
    side = way[:, ::-1] * (-1.0, 1.0) * aside[:, None]
    corners = np.stack((start - side, start + side, start + to_edge - side, start + to_edge + side))
    return np.asarray(shapely.box(*corners.min(axis=0).T, *corners.max(axis=0).T))
