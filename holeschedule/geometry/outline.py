"""Loose edges → closed loops, whatever their order and direction; what stays open is told."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np

from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray

MEETING = 1e-6
"""Inches. Ends this close meet; a wider gap that is closed is worth a notice."""
ON_FACE = 1e-9
"""Inches. A point of an edge is this near to the boundary of a face that the edge bounds."""
SAME_WAY = 1e-3
"""Radians by which lines that go straight on may differ."""

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
    where more than two edges meet; `unclear` those from which a bent line runs inside the loop,
    as if the edge went that way.
    """

    loops: tuple[Walk, ...]
    open: tuple[OpenChain, ...]
    gaps: tuple[Gap, ...]
    inner: IntArray
    branches: tuple[Point, ...]
    unclear: tuple[Point, ...]

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
    untangled = _untangle(edges, graph, tangled, places)
    circles = [(np.array([i]), np.array([False])) for i in full.tolist()]
    return Chained(
        tuple(circles + loops + untangled.loops),
        tuple(_open_chains(dangling, graph, places)),
        tuple(gaps),
        np.array(sorted(untangled.inner), dtype=np.intp),
        _points(places, untangled.branches),
        _points(places, untangled.unclear),
    )


def _nodes(edges: Edges, gap: float) -> tuple[IntArray, FloatArray, list[Gap]]:
    """Number the places where ends meet: (n, 2) node of start and end; place of each node."""
    ends = np.concatenate((edges.start, edges.end))
    cells = np.floor(ends / MEETING + 0.31830988).astype(np.int64)
    _, first, node = np.unique(cells, axis=0, return_index=True, return_inverse=True)
    places, node = ends[first], node.reshape(-1)
    # an end without a fellow may have it just across the border between two cells
    odd = np.flatnonzero(np.bincount(node, minlength=len(places)) % 2)
    node = _joined(node, _close_pairs(places, odd, 2 * MEETING))
    single = np.flatnonzero(np.bincount(node, minlength=len(places)) == 1)
    pairs = _close_pairs(places, single, gap)
    node = _joined(node, pairs)
    late = _stragglers(edges, node, places, gap)
    node = _joined(node, late)
    pairs += late
    gaps = [Gap(_middle(places[a], places[b]), size) for a, b, size in pairs]
    n = len(edges)
    return np.column_stack((node[:n], node[n:])), places, gaps


def _middle(a: FloatArray, b: FloatArray) -> Point:
    x, y = ((a + b) / 2).tolist()
    return (x, y)


Pair = tuple[int, int, float]


def _joined(node: IntArray, pairs: list[Pair]) -> IntArray:
    target = np.arange(int(node.max(initial=-1)) + 1)
    for keep, drop, _ in pairs:
        target[drop] = keep
    return target[node]


def _close_pairs(places: FloatArray, which: IntArray, gap: float) -> list[Pair]:
    """Pairs of the places `which` within `gap`, nearest first, each place in one pair at most."""
    import shapely  # noqa: PLC0415 - only drawings with gaps need it

    if len(which) < 2 or gap <= 0:
        return []
    points = places[which]
    shapes = shapely.points(points)
    tree = shapely.STRtree(shapes)
    a, b = tree.query(shapes, predicate="dwithin", distance=gap)
    a, b = a[a < b], b[a < b]
    size = np.hypot(*(points[a] - points[b]).T)
    used: set[int] = set()
    pairs = []
    for i in np.argsort(size, kind="stable").tolist():
        pair = (int(which[a[i]]), int(which[b[i]]))
        if used.isdisjoint(pair):
            used.update(pair)
            pairs.append((*pair, float(size[i])))
    return pairs


def _stragglers(edges: Edges, node: IntArray, places: FloatArray, gap: float) -> list[Pair]:
    """Open ends within `gap` of a corner where others meet; not those of an edge that is short."""
    import shapely  # noqa: PLC0415 - as above

    count = np.bincount(node, minlength=len(places))
    open_end = (count[node] == 1) & np.tile(edges.lengths() > 2 * gap, 2)
    ends, corners = np.flatnonzero(open_end), np.flatnonzero(count > 1)
    if not len(ends) or not len(corners) or gap <= 0:
        return []
    tree = shapely.STRtree(shapely.points(places[corners]))
    near = tree.query_nearest(
        shapely.points(places[node[ends]]),
        max_distance=gap,
        return_distance=True,
        all_matches=False,
    )
    (which, corner), size = near
    found = zip(node[ends[which]].tolist(), corners[corner].tolist(), size.tolist(), strict=True)
    return [(keep, drop, away) for drop, keep, away in found]


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
        for group in self.parts(self.left):
            if all(len(self.at[node]) == 2 for e in group for node in self.ends[e]):
                loops.append(self.walk(group))
            else:
                tangled.append(group)
        return loops, tangled

    def parts(self, members: set[int], ends_at: Collection[int] = ()) -> Iterator[list[int]]:
        """The edges `members` in groups that hang together, by lowest number.

        At the nodes `ends_at` groups only touch.
        """
        seen: set[int] = set()
        for first in sorted(members):
            if first in seen:
                continue
            group, todo = [], [first]
            seen.add(first)
            while todo:
                edge = todo.pop()
                group.append(edge)
                for node in set(self.ends[edge]).difference(ends_at):
                    near = {e for e in self.at[node] if e in members and e not in seen}
                    seen |= near
                    todo += sorted(near)
            yield group

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


@dataclass(frozen=True, slots=True)
class _Untangled:
    """What groups in which more than two edges meet come to; nodes by number."""

    loops: list[Walk] = field(default_factory=list)
    inner: list[int] = field(default_factory=list)
    branches: set[int] = field(default_factory=set)
    unclear: set[int] = field(default_factory=set)


def _points(places: FloatArray, nodes: set[int]) -> tuple[Point, ...]:
    return tuple(sorted((float(x), float(y)) for x, y in places[sorted(nodes)]))


def _untangle(
    edges: Edges, graph: _Graph, tangled: list[list[int]], places: FloatArray
) -> _Untangled:
    """Loops of groups in which more than two edges meet: the outer boundary of each.

    An edge between two faces lies inside (a line across the part); an edge of one face only is
    boundary. Loops that touch in a corner are loops of their own, also one inside the other.
    """
    out = _Untangled()
    out.branches.update(*(_branches(group, graph) for group in tangled))
    todo = list(tangled)
    while todo:
        group = todo.pop()
        outer, faces = _boundary(edges, group, graph, places)
        out.loops.extend(graph.walk(outer[i] for i in face.tolist()) for face in faces)
        fixed = {node for e in outer for node in graph.ends[e]}
        for part in graph.parts(set(group).difference(outer), fixed):
            touching = fixed.intersection(node for e in part for node in graph.ends[e])
            if outer and len(touching) == 1:
                todo.append(part)
                continue
            out.inner.extend(part)
            if _is_bent(edges, part, graph):
                out.unclear.update(touching)
    return out


def _is_bent(edges: Edges, part: list[int], graph: _Graph) -> bool:
    """Whether edges follow each other without a branch, and not straight on."""
    nodes = Counter(node for e in part for node in graph.ends[e])
    if max(nodes.values()) > 2:
        return False
    chosen = edges.take(np.array(part, dtype=np.intp))
    way = chosen.end - chosen.start
    cross = way[:, 0] * way[0, 1] - way[:, 1] * way[0, 0]
    straight = np.abs(cross) <= SAME_WAY * np.hypot(*way.T) * np.hypot(*way[0])
    return bool(chosen.is_arc.any() or not straight.all())


def _branches(group: list[int], graph: _Graph) -> set[int]:
    return {node for e in group for node in graph.ends[e] if len(graph.at[node]) > 2}


def _boundary(
    edges: Edges, group: list[int], graph: _Graph, places: FloatArray
) -> tuple[list[int], list[IntArray]]:
    """Edges of one face only, and the faces they make (as places in that list)."""
    faces = _faces(edges, group, graph, places)
    if not faces:
        return [], []
    count = np.bincount(np.concatenate(faces), minlength=len(group))
    outer = [e for e, n in zip(group, count.tolist(), strict=True) if n == 1]
    return outer, faces if len(outer) == len(group) else _faces(edges, outer, graph, places)


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
    # two points of an edge: one may lie on another edge, where they touch
    on_face = [
        shapely.STRtree(shapely.points(points[:, i])).query(
            shapely.boundary(faces), predicate="dwithin", distance=ON_FACE
        )
        for i in (5, 11)
    ]
    keys = np.intersect1d(*(face * len(group) + edge for face, edge in on_face))
    face, edge = np.divmod(keys, len(group))
    return np.split(edge, np.searchsorted(face, np.arange(1, len(faces)))) if len(faces) else []


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
