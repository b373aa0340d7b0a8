"""Loose edges → closed loops, whatever their order and direction; what stays open is told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray

MEETING = 1e-6
"""Inches. Ends this close meet; a wider gap that is closed is worth a notice."""

Point = tuple[float, float]
Walk = tuple[IntArray, BoolArray]
"""Edges of a loop in order, and which of them run backwards."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Two open ends that were joined: where, and how far apart [in]."""

    at: Point
    size: float


@dataclass(frozen=True, slots=True, eq=False)
class OpenChain:
    """Edges that hang together and close no loop.

    `members` are indices into the edges given; `ends` are the open ends [in].
    """

    members: IntArray
    ends: tuple[Point, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Chained:
    """What loose edges make.

    `loops`: for each closed loop the indices of its edges in order and, in step, which of them
    run backwards. `inner` are edges inside a loop that join its corners; `branches` the places
    where more than two edges meet.
    """

    loops: tuple[Walk, ...]
    open: tuple[OpenChain, ...]
    gaps: tuple[Gap, ...]
    inner: IntArray
    branches: tuple[Point, ...]

    def loop_edges(self, edges: Edges, number: int) -> Edges:
        """The edges of loop `number` in order, turned so that each starts where one ends."""
        members, flip = self.loops[number]
        return edges.take(members).reversed_where(flip)


def chain_edges(edges: Edges, gap: float) -> Chained:
    """Chain `edges` into closed loops; end points within `gap` [in] of each other are joined.

    A single full-circle edge is a loop of its own.
    """
    full = np.flatnonzero(np.abs(edges.sweep) >= 2 * np.pi - 1e-12)
    rest = np.flatnonzero(np.abs(edges.sweep) < 2 * np.pi - 1e-12)
    nodes, places, gaps = _nodes(edges.take(rest), gap)
    graph = _Graph(rest, nodes)
    dangling = graph.peel()
    loops, tangled = graph.simple_loops()
    more, inner, branches = _untangle(edges, graph, tangled, places)
    circles = [(np.array([i]), np.array([False])) for i in full.tolist()]
    return Chained(
        tuple(circles + loops + more),
        tuple(_open_chains(dangling, graph, places)),
        tuple(gaps),
        inner,
        tuple(branches),
    )


def _nodes(edges: Edges, gap: float) -> tuple[IntArray, FloatArray, list[Gap]]:
    """Number the places where ends meet: (n, 2) node of start and end; place of each node."""
    ends = np.concatenate((edges.start, edges.end))
    cells = np.floor(ends / MEETING + 0.31830988).astype(np.int64)
    _, first, node = np.unique(cells, axis=0, return_index=True, return_inverse=True)
    places = ends[first]
    node = node.reshape(-1)
    single = np.flatnonzero(np.bincount(node, minlength=len(places)) == 1)
    target = np.arange(len(places))
    gaps: list[Gap] = []
    if len(single) > 1 and gap > 0:
        for a, b, size in _close_pairs(places[single], gap):
            keep, drop = int(single[a]), int(single[b])
            target[drop] = keep
            if size > MEETING:
                middle = (places[keep] + places[drop]) / 2
                gaps.append(Gap((float(middle[0]), float(middle[1])), size))
    n = len(edges)
    node = target[node]
    return np.column_stack((node[:n], node[n:])), places, gaps


def _close_pairs(points: FloatArray, gap: float) -> list[tuple[int, int, float]]:
    """Pairs of points within `gap`, nearest first, each point in one pair at most."""
    import shapely  # noqa: PLC0415 - only drawings with gaps need it

    shapes = shapely.points(points)
    tree = shapely.STRtree(shapes)
    a, b = tree.query(shapes, predicate="dwithin", distance=gap)
    a, b = a[a < b], b[a < b]
    size = np.hypot(*(points[a] - points[b]).T)
    used: set[int] = set()
    pairs = []
    for i in np.argsort(size, kind="stable").tolist():
        pair = (int(a[i]), int(b[i]))
        if used.isdisjoint(pair):
            used.update(pair)
            pairs.append((*pair, float(size[i])))
    return pairs


class _Graph:
    """Edges (by their own numbers) between nodes."""

    def __init__(self, members: IntArray, nodes: IntArray) -> None:
        self.ends: dict[int, tuple[int, int]] = {
            e: (a, b) for e, (a, b) in zip(members.tolist(), nodes.tolist(), strict=True)
        }
        self.at: dict[int, list[int]] = defaultdict(list)
        for edge, (a, b) in self.ends.items():
            self.at[a].append(edge)
            self.at[b].append(edge)
        self.left = set(self.ends)

    def other(self, edge: int, node: int) -> int:
        a, b = self.ends[edge]
        return b if node == a else a

    def peel(self) -> list[int]:
        """Take off, again and again, the edges with an open end."""
        gone: list[int] = []
        todo = [node for node, edges in self.at.items() if len(edges) == 1]
        while todo:
            node = todo.pop()
            if len(self.at[node]) != 1:
                continue
            edge = self.at[node].pop()
            other = self.other(edge, node)
            self.at[other].remove(edge)
            self.left.discard(edge)
            gone.append(edge)
            if len(self.at[other]) == 1:
                todo.append(other)
        return gone

    def simple_loops(self) -> tuple[list[Walk], list[list[int]]]:
        """Loops whose every node joins two edges; and the other connected groups."""
        loops, tangled = [], []
        seen: set[int] = set()
        for edge in self.ends:
            if edge not in self.left or edge in seen:
                continue
            group = self._connected(edge)
            seen.update(group)
            if all(len(self.at[node]) == 2 for e in group for node in self.ends[e]):
                loops.append(self.walk(group))
            else:
                tangled.append(group)
        return loops, tangled

    def _connected(self, first: int) -> list[int]:
        group, todo, seen = [], [first], {first}
        while todo:
            edge = todo.pop()
            group.append(edge)
            for node in self.ends[edge]:
                for near in self.at[node]:
                    if near not in seen:
                        seen.add(near)
                        todo.append(near)
        return group

    def walk(self, group: Iterable[int]) -> Walk:
        """Edges of one simple loop in order from the lowest number, and which run backwards."""
        inside = set(group)
        edge = min(inside)
        order, flips = [edge], [False]
        node = self.ends[edge][1]
        inside.discard(edge)
        while inside:
            step = next((e for e in self.at[node] if e in inside), None)
            if step is None:
                break
            flips.append(self.ends[step][0] != node)
            node = self.other(step, node)
            order.append(step)
            inside.discard(step)
        return np.array(order), np.array(flips)


def _untangle(
    edges: Edges, graph: _Graph, tangled: list[list[int]], places: FloatArray
) -> tuple[list[Walk], IntArray, list[Point]]:
    """Loops of groups in which more than two edges meet: the outer boundary of each.

    An edge between two faces lies inside (a line across the part); an edge of one face only is
    boundary. Loops that touch in a corner are loops of their own.
    """
    loops, inner, branches = [], [], []
    for group in tangled:
        nodes = {node for e in group for node in graph.ends[e]}
        branches += [
            (float(places[n, 0]), float(places[n, 1])) for n in nodes if len(graph.at[n]) > 2
        ]
        faces = _faces(edges, group, graph, places)
        count = np.bincount(np.concatenate(faces), minlength=len(group)) if faces else None
        if count is None:
            inner += group
            continue
        between = {group[i] for i in np.flatnonzero(count != 1).tolist()}
        inner += sorted(between)
        outer = [e for e in group if e not in between]
        faces = _faces(edges, outer, graph, places) if between else faces
        loops += [graph.walk(outer[i] for i in face.tolist()) for face in faces]
    return loops, np.array(sorted(inner), dtype=np.intp), sorted(branches)


def _faces(edges: Edges, group: list[int], graph: _Graph, places: FloatArray) -> list[IntArray]:
    """For each face that the edges of `group` enclose, the places in `group` of its edges."""
    import shapely  # noqa: PLC0415 - only tangled drawings need it

    chosen = edges.take(np.array(group, dtype=np.intp))
    shares = np.linspace(0.0, 1.0, 17)
    points = np.stack([chosen.points_at(float(s)) for s in shares], axis=1)
    # ends that meet have to be the very same point for a polygon to close
    points[:, 0] = places[[graph.ends[e][0] for e in group]]
    points[:, -1] = places[[graph.ends[e][1] for e in group]]
    strokes = shapely.linestrings(points)
    faces = shapely.get_parts(shapely.polygonize(strokes))
    middles = shapely.points(points[:, 8])
    near = [shapely.dwithin(face.boundary, middles, 1e-9) for face in faces]
    return [np.flatnonzero(flags) for flags in near]


def _open_chains(dangling: list[int], graph: _Graph, places: FloatArray) -> list[OpenChain]:
    """Dangling edges that hang together, with their open ends."""
    at: dict[int, list[int]] = defaultdict(list)
    for edge in dangling:
        for node in graph.ends[edge]:
            at[node].append(edge)
    chains, seen = [], set[int]()
    for first in sorted(dangling):
        if first in seen:
            continue
        group, todo = [], [first]
        seen.add(first)
        while todo:
            edge = todo.pop()
            group.append(edge)
            near = [e for node in graph.ends[edge] for e in at[node] if e not in seen]
            seen.update(near)
            todo += near
        nodes = sorted({n for e in group for n in graph.ends[e] if len(at[n]) == 1})
        ends = tuple((float(places[n, 0]), float(places[n, 1])) for n in nodes)
        chains.append(OpenChain(np.array(sorted(group)), ends))
    return chains
