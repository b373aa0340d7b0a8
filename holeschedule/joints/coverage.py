"""Where a part has metal: the distance of any point to its edges, with a sign."""

from __future__ import annotations

import numpy as np

from holeschedule.geometry.distance import edge_distances
from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray, join_edges
from holeschedule.holes.part import Part


def boundary(part: Part) -> Edges:
    """Outline and cutouts of a part [in]: where its metal ends. A trim line is not cut yet."""
    return join_edges([part.outline.edges, *(cutout.edges for cutout in part.cutouts)])


def in_metal(part: Part, points: FloatArray) -> BoolArray:
    """Whether each point lies inside the outline and in no cutout.

    Within 0.0005 in of a curved edge the answer may be either: whoever has to know asks
    `metal_distances`, and a hole that close breaks out on any side.

    Parameters
    ----------
    part : Part
        The part.
    points : (n, 2) array [in]
        In the part's own frame. May be empty.

    Returns
    -------
    (n,) array of bool
    """
    held = part.outline.holds(points)
    for cutout in part.cutouts:
        inside = np.flatnonzero(held)
        held[inside[cutout.holds(points[inside])]] = False
    return held


def metal_distances(part: Part, points: FloatArray) -> tuple[FloatArray, IntArray]:
    """Exact distance of each point to the nearest edge of the metal, negative outside it.

    Parameters
    ----------
    part : Part
        The part; its trim lines are left aside.
    points : (n, 2) array [in]
        In the part's own frame. May be empty.

    Returns
    -------
    (n,) array [in], (n,) array of indices
        Distances, and the edge of `boundary` each was measured to.

    Raises
    ------
    GeometryError
        A coordinate is not finite.
    """
    distance, index = edge_distances(points, boundary(part))
    return np.where(in_metal(part, points), distance, -distance), index
