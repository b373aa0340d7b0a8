"""What a drawing shows, as arrays in drawing units: edges, circles and points with their layers."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace

import numpy as np

from holeschedule.geometry.curves import affine_edges
from holeschedule.geometry.edges import (
    Edges,
    FloatArray,
    IntArray,
    arc_edges,
    circle_edges,
    join_edges,
    line_edges,
    no_edges,
)

LOOSE = -1
"""Chain number of an edge that belongs to no polyline or curve."""


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """Edges, full circles and points in the order drawn. Compared by identity.

    `edge_layer`, `circle_layer` and `point_layer` are indices into the reader's layer names.
    `chain` (n,) says which polyline or curve an edge belongs to, `LOOSE` for none; `closed`
    and `kinds` have one entry a chain.
    """

    edges: Edges
    edge_layer: IntArray
    chain: IntArray
    closed: tuple[bool, ...]
    kinds: tuple[str, ...]
    circle_centre: FloatArray
    circle_radius: FloatArray
    circle_layer: IntArray
    points: FloatArray
    point_layer: IntArray

    @property
    def size(self) -> int:
        """How many edges, circles and points there are."""
        return len(self.edges) + len(self.circle_radius) + len(self.points)

    def inheriting(self, layer: int) -> Drawn:
        """What stood on layer 0 (index 0) of a block stands on the layer of its insert."""

        def inherit(layers: IntArray) -> IntArray:
            return np.where(layers == 0, layer, layers)

        return replace(
            self,
            edge_layer=inherit(self.edge_layer),
            circle_layer=inherit(self.circle_layer),
            point_layer=inherit(self.point_layer),
        )

    def mapped(self, matrix: FloatArray, tolerance: float) -> Drawn:
        """The (2, 2) `matrix` applied; circles stretched unequally become closed chains."""
        if is_similarity(matrix):
            return self._moved(matrix)
        return self._stretched(matrix, tolerance)

    def _moved(self, matrix: FloatArray) -> Drawn:
        """Circles stay circles, and every edge stays in step with its layer and chain."""
        turn = float(np.linalg.det(matrix))
        scale, edges = float(np.sqrt(abs(turn))), self.edges
        return replace(
            self,
            edges=Edges(
                _mapped(edges.start, matrix),
                _mapped(edges.end, matrix),
                _mapped(edges.centre, matrix),
                edges.radius * scale,
                edges.sweep * np.sign(turn),
            ),
            circle_centre=_mapped(self.circle_centre, matrix),
            circle_radius=self.circle_radius * scale,
            points=_mapped(self.points, matrix),
        )

    def _stretched(self, matrix: FloatArray, tolerance: float) -> Drawn:
        out = DrawnBuilder()
        origin = np.zeros(2)
        loose = np.flatnonzero(self.chain == LOOSE)
        for i in loose.tolist():
            piece = affine_edges(self.edges.take(np.array([i])), matrix, origin, tolerance)
            out.add_chain(piece, int(self.edge_layer[i]), "line or arc", closed=False)
        for number, (closed, kind) in enumerate(zip(self.closed, self.kinds, strict=True)):
            mine = np.flatnonzero(self.chain == number)
            piece = affine_edges(self.edges.take(mine), matrix, origin, tolerance)
            out.add_chain(piece, int(self.edge_layer[mine[0]]), kind, closed=closed)
        circles = circle_edges(self.circle_centre, self.circle_radius)
        for i, layer in enumerate(self.circle_layer.tolist()):
            piece = affine_edges(circles.take(np.array([i])), matrix, origin, tolerance)
            out.add_chain(piece, layer, "stretched circle", closed=True)
        points = _mapped(self.points, matrix)
        return replace(out.finish(), points=points, point_layer=self.point_layer)

    def repeated(self, shifts: FloatArray) -> Drawn:
        """A copy at each of the (k, 2) `shifts`."""
        k = len(shifts)
        chains = len(self.closed)

        def spread(at: FloatArray) -> FloatArray:
            return (shifts[:, None, :] + at[None, :, :]).reshape(-1, 2)

        edges = Edges(
            spread(self.edges.start),
            spread(self.edges.end),
            spread(self.edges.centre),
            np.tile(self.edges.radius, k),
            np.tile(self.edges.sweep, k),
        )
        step = np.repeat(np.arange(k) * chains, len(self.chain))
        chain = np.tile(self.chain, k)
        return Drawn(
            edges,
            np.tile(self.edge_layer, k),
            np.where(chain == LOOSE, LOOSE, chain + step),
            self.closed * k,
            self.kinds * k,
            spread(self.circle_centre),
            np.tile(self.circle_radius, k),
            np.tile(self.circle_layer, k),
            spread(self.points),
            np.tile(self.point_layer, k),
        )

    def converted(self, origin: FloatArray, to_inches: Callable[[FloatArray], FloatArray]) -> Drawn:
        """Moved so that `origin` (2,) is (0, 0), then from drawing units to inches."""

        def at(points: FloatArray) -> FloatArray:
            return to_inches(points - origin)

        by = to_inches
        edges = self.edges
        return replace(
            self,
            edges=Edges(
                at(edges.start), at(edges.end), at(edges.centre), by(edges.radius), edges.sweep
            ),
            circle_centre=at(self.circle_centre),
            circle_radius=by(self.circle_radius),
            points=at(self.points),
        )


@dataclass(slots=True)
class Copies:
    """What one block shows, turned and scaled, and where it is put: lists of (k, 2) shifts."""

    drawn: Drawn
    shifts: list[FloatArray] = field(default_factory=list)

    def counted_out(self) -> Drawn:
        """A copy at each place."""
        return self.drawn.repeated(np.concatenate(self.shifts))


@dataclass(slots=True)
class DrawnBuilder:
    """Collects entities one by one; `finish` makes the arrays."""

    lines: list[tuple[float, float, float, float]] = field(default_factory=list)
    line_layers: list[int] = field(default_factory=list)
    arcs: list[tuple[float, float, float, float, float]] = field(default_factory=list)
    arc_layers: list[int] = field(default_factory=list)
    circles: list[tuple[float, float, float]] = field(default_factory=list)
    circle_layers: list[int] = field(default_factory=list)
    points: list[tuple[float, float]] = field(default_factory=list)
    point_layers: list[int] = field(default_factory=list)
    copies: dict[Hashable, Copies] = field(default_factory=dict)
    _chains: list[Edges] = field(default_factory=list)
    _chain_layers: list[int] = field(default_factory=list)
    _closed: list[bool] = field(default_factory=list)
    _kinds: list[str] = field(default_factory=list)

    def add_chain(self, edges: Edges, layer: int, kind: str, *, closed: bool) -> None:
        """Add the edges of one polyline or curve, in order; none are no chain."""
        if len(edges):
            self._chains.append(edges)
            self._chain_layers.append(layer)
            self._closed.append(closed)
            self._kinds.append(kind)

    def finish(self) -> Drawn:
        """Everything collected, blocks' copies last."""
        own = self._own()
        if not self.copies:
            return own
        return join_drawn([own, *(copies.counted_out() for copies in self.copies.values())])

    def _own(self) -> Drawn:
        lines = np.array(self.lines, dtype=float).reshape(-1, 4)
        arcs = np.array(self.arcs, dtype=float).reshape(-1, 5)
        circles = np.array(self.circles, dtype=float).reshape(-1, 3)
        sizes = [len(edges) for edges in self._chains]
        loose = len(lines) + len(arcs)
        edges = [line_edges(lines[:, :2], lines[:, 2:])] if len(lines) else []
        if len(arcs):
            edges.append(arc_edges(arcs[:, :2], arcs[:, 2], arcs[:, 3], arcs[:, 4]))
        return Drawn(
            edges=join_edges([*edges, *self._chains]),
            edge_layer=np.concatenate(
                (
                    np.array(self.line_layers + self.arc_layers, dtype=np.intp),
                    np.repeat(np.array(self._chain_layers, dtype=np.intp), sizes),
                )
            ),
            chain=np.concatenate(
                (np.full(loose, LOOSE, dtype=np.intp), np.repeat(np.arange(len(sizes)), sizes))
            ),
            closed=tuple(self._closed),
            kinds=tuple(self._kinds),
            circle_centre=circles[:, :2],
            circle_radius=circles[:, 2],
            circle_layer=np.array(self.circle_layers, dtype=np.intp),
            points=np.array(self.points, dtype=float).reshape(-1, 2),
            point_layer=np.array(self.point_layers, dtype=np.intp),
        )


def join_drawn(parts: list[Drawn]) -> Drawn:
    """All of `parts`, chains numbered on."""
    before = np.cumsum([0, *(len(p.closed) for p in parts)])
    chain = [
        np.where(p.chain == LOOSE, LOOSE, p.chain + first)
        for p, first in zip(parts, before, strict=False)
    ]

    def of(name: str) -> FloatArray:
        return np.concatenate([getattr(p, name) for p in parts])

    def layers(name: str) -> IntArray:
        return np.concatenate([getattr(p, name) for p in parts])

    return Drawn(
        join_edges([p.edges for p in parts]) if parts else no_edges(),
        layers("edge_layer"),
        np.concatenate(chain),
        tuple(flag for p in parts for flag in p.closed),
        tuple(kind for p in parts for kind in p.kinds),
        of("circle_centre"),
        of("circle_radius"),
        layers("circle_layer"),
        of("points"),
        layers("point_layer"),
    )


def _mapped(points: FloatArray, matrix: FloatArray) -> FloatArray:
    # spelled out: a matrix product may round equal points differently, and chains would tear
    (a, b), (c, d) = matrix
    x, y = points.T
    return np.column_stack((a * x + b * y, c * x + d * y))


def is_similarity(matrix: FloatArray) -> bool:
    """Whether circles stay circles: columns of equal length at a right angle."""
    (a, b), (c, d) = matrix
    size = max(abs(a), abs(b), abs(c), abs(d)) ** 2
    return bool(
        abs(a * b + c * d) <= 1e-12 * size and abs(a * a + c * c - b * b - d * d) <= 1e-12 * size
    )
