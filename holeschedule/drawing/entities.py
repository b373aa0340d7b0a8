"""Entities of the model space → lines, arcs, circles and curves in drawing units."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from holeschedule.drawing import limits
from holeschedule.drawing.drawn import Copies, Drawn, DrawnBuilder, is_similarity
from holeschedule.drawing.kinds import LEVEL, NOT_GEOMETRY, is_steep, what_is_missing
from holeschedule.drawing.notices import NoticeBoard
from holeschedule.errors import DrawingError, GeometryError
from holeschedule.geometry.curves import (
    bulge_edges,
    ellipse_edges,
    fit_point_spline_edges,
    spline_edges,
)
from holeschedule.geometry.edges import Edges, FloatArray, no_edges

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.entities.insert import Insert
    from ezdxf.entities.lwpolyline import LWPolyline
    from ezdxf.entities.polyline import Polyline
    from ezdxf.entities.spline import Spline

_FLAT = 1e-9
"""How far a direction may leave the drawing plane, as a share of its length."""


@dataclass(slots=True)
class EntityReader:
    """Reads one document once. `tolerance` is in drawing units."""

    document: Drawing
    where: str
    tolerance: float
    board: NoticeBoard
    layers: list[str] = field(default_factory=lambda: ["0"])
    _numbers: dict[str, int] = field(default_factory=lambda: {"0": 0})
    _hidden: dict[str, bool] = field(default_factory=dict)
    _blocks: dict[str, Drawn] = field(default_factory=dict)
    _inside: tuple[str, ...] = ()
    _copies: int = 0
    _entities: int = 0
    _stretched: int = 0

    def read(self) -> Drawn:
        """Everything drawn in the model space.

        Raises
        ------
        DrawingError
            An entity without its centre, radius or ends, a coordinate that is not finite or too
            large, a radius of 0 or less, a block that inserts itself, or more nesting, copies or
            entities than `limits` allows.
        """
        drawn = self._collect(self.document.modelspace())
        if drawn.size > limits.MOST_ENTITIES:
            raise limits.too_many_entities(self.where, drawn.size)
        return drawn

    def _collect(self, entities: Any) -> Drawn:
        out = DrawnBuilder()
        for entity in entities:
            kind = entity.dxftype()
            take = _TAKE.get(kind)
            layer = vars(entity.dxf).get("layer", "0")
            if take is None:
                self._left_out(kind, layer)
            elif self._is_shown(entity, layer):
                self._check_complete(entity, layer)
                take(self, entity, self._number(layer), out)
        return self._checked(out)

    # layers ------------------------------------------------------------------------------

    def _number(self, layer: str) -> int:
        number = self._numbers.get(layer)
        if number is None:
            folded = layer.casefold()
            number = next((i for i, n in enumerate(self.layers) if n.casefold() == folded), None)
            if number is None:
                number = len(self.layers)
                self.layers.append(layer)
            self._numbers[layer] = number
        return number

    def _is_shown(self, entity: Any, layer: str) -> bool:
        hidden = self._hidden.get(layer)
        if hidden is None:
            hidden = self._hidden[layer] = self._is_hidden(layer)
        # what stands on layer 0 of a block is shown or hidden with the layer of its insert
        if hidden and not (self._inside and layer == "0"):
            text = "the layer is switched off or frozen: its geometry was left out"
            self.board.add("layer.hidden", text, layer)
            return False
        if vars(entity.dxf).get("invisible"):
            self._tell("entity.invisible", "an invisible entity was left out", layer)
            return False
        return True

    def _is_hidden(self, layer: str) -> bool:
        table = self.document.layers
        if not table.has_entry(layer):
            return False
        entry = table.get(layer)
        return bool(entry.is_off() or entry.is_frozen())

    def _left_out(self, kind: str, layer: str) -> None:
        if kind in NOT_GEOMETRY:
            self._tell("entity.annotation", f"{kind} is not geometry and was left out", layer)
        elif kind.upper() in _TAKE:
            raise DrawingError(
                f"{self.where}{self._block()}: entity {kind!r} is not written in capitals, as DXF"
                " has it. Export the drawing again."
            )
        else:
            text = f"{kind} can't be read as a line, arc or curve and was left out"
            self._tell("entity.not-read", text, layer)

    # entities ----------------------------------------------------------------------------

    def _line(self, entity: Any, layer: int, out: DrawnBuilder) -> None:
        start, end = entity.dxf.start, entity.dxf.end
        if abs(start.z - end.z) > LEVEL * max(1.0, math.dist(start.vec2, end.vec2)):
            self._not_flat("LINE", layer, (start.x, start.y))
            return
        out.lines.append((start.x, start.y, end.x, end.y))
        out.line_layers.append(layer)

    def _circle(self, entity: Any, layer: int, out: DrawnBuilder) -> None:
        dxf = entity.dxf
        centre = dxf.center
        side = self._side(entity, layer, centre)
        if side:
            out.circles.append((centre.x * side, centre.y, dxf.radius))
            out.circle_layers.append(layer)

    def _arc(self, entity: Any, layer: int, out: DrawnBuilder) -> None:
        dxf = entity.dxf
        centre, first, last = dxf.center, dxf.start_angle, dxf.end_angle
        side = self._side(entity, layer, centre)
        if not side:
            return
        if not (math.isfinite(first) and math.isfinite(last)):
            raise self._bad(layer, "arc", (centre.x, centre.y), "an angle is not finite")
        turn = (last - first) % 360.0
        if turn == 0.0 and first != last:
            out.circles.append((centre.x * side, centre.y, dxf.radius))
            out.circle_layers.append(layer)
            return
        start = math.radians(first if side > 0 else 180.0 - first)
        sweep = math.radians(turn) * side
        out.arcs.append((centre.x * side, centre.y, dxf.radius, start, sweep))
        out.arc_layers.append(layer)

    def _point(self, entity: Any, layer: int, out: DrawnBuilder) -> None:
        at = entity.dxf.location
        out.points.append((at.x, at.y))
        out.point_layers.append(layer)

    def _lwpolyline(self, entity: LWPolyline, layer: int, out: DrawnBuilder) -> None:
        side = self._side(entity, layer, None)
        if side:
            corners = np.array(entity.get_points("xyb"), dtype=float).reshape(-1, 3)
            width = entity.dxf.const_width or np.any(np.array(entity.get_points("se")))
            self._polyline(corners, side, layer, out, closed=entity.closed, wide=bool(width))

    def _old_polyline(self, entity: Polyline, layer: int, out: DrawnBuilder) -> None:
        if not (entity.is_2d_polyline or entity.is_3d_polyline):
            self._left_out("POLYLINE (a mesh)", self.layers[layer])
            return
        # bit 16 marks the frame of a spline fit: the curve itself are the other vertices
        vertices = [v for v in entity.vertices if not v.dxf.flags & 16]
        for vertex in vertices:
            self._check_complete(vertex, self.layers[layer])
        points = [(*v.dxf.location.xyz, v.dxf.bulge) for v in vertices]
        corners = np.array(points, dtype=float).reshape(-1, 4)
        side = 1 if entity.is_3d_polyline else self._side(entity, layer, None)
        if entity.is_3d_polyline and is_steep(corners):
            self._not_flat("POLYLINE", layer, (corners[0, 0], corners[0, 1]))
        elif side:
            self._polyline(corners[:, [0, 1, 3]], side, layer, out, closed=entity.is_closed)

    def _polyline(
        self,
        corners: FloatArray,
        side: int,
        layer: int,
        out: DrawnBuilder,
        *,
        closed: bool,
        wide: bool = False,
    ) -> None:
        at = tuple(corners[0, :2]) if len(corners) else None
        if wide:
            text = "a polyline has a drawn width: its centre line was taken"
            self._tell("polyline.width", text, self.layers[layer], at)
        points = corners[:, :2] * (side, 1)
        self._check_finite(points, layer, "polyline")
        edges = self._curve(
            layer,
            "polyline",
            points[0] if len(points) else np.zeros(2),
            lambda: bulge_edges(points, corners[:, 2] * side, closed=closed),
        )
        kind = "polyline" if closed or len(edges) != 1 else "line or arc"
        self._add_chain(out, edges, layer, kind, closed=closed)

    def _ellipse(self, entity: Any, layer: int, out: DrawnBuilder) -> None:
        dxf = entity.dxf
        centre, major = dxf.center, dxf.major_axis
        side = self._side(entity, layer, centre)
        if not side:
            return
        if abs(major.z) > _FLAT * major.magnitude:
            self._not_flat("ELLIPSE", layer, (centre.x, centre.y))
            return
        first, last = dxf.start_param, dxf.end_param
        ratio = dxf.ratio
        axis = np.array([major.x, major.y])
        minor = np.array([-major.y, major.x]) * ratio * side
        at = np.array([centre.x, centre.y])
        for numbers in (at, axis, minor, np.array([first, last])):
            self._check_finite(numbers.reshape(-1, 2), layer, "ellipse")
        edges = self._curve(
            layer,
            "ellipse",
            at,
            lambda: ellipse_edges(at, axis, minor, first, last, self.tolerance),
        )
        turn = (last - first) % (2 * math.pi)
        closed = min(turn, 2 * math.pi - turn) < 1e-9  # noqa: PLR2004 - radians: a full turn
        self._add_chain(out, edges, layer, "ellipse", closed=closed)

    def _spline(self, entity: Spline, layer: int, out: DrawnBuilder) -> None:
        control = np.array(entity.control_points, dtype=float).reshape(-1, 3)
        fit = np.array([tuple(p) for p in entity.fit_points], dtype=float).reshape(-1, 3)
        points = control if len(control) else fit
        self._check_finite(points, layer, "spline")
        if is_steep(points):
            self._not_flat("SPLINE", layer, (points[0, 0], points[0, 1]))
            return
        edges = no_edges()
        if len(points):
            edges = self._curve(
                layer, "spline", points[0], lambda: self._spline_edges(entity, control, fit)
            )
        closed = len(edges) > 0 and bool(
            np.hypot(*(edges.start[0] - edges.end[-1])) <= self.tolerance
        )
        self._add_chain(out, edges, layer, "spline", closed=closed)

    def _spline_edges(self, entity: Spline, control: FloatArray, fit: FloatArray) -> Edges:
        if not len(control):
            ends = [entity.dxf.get(name) for name in ("start_tangent", "end_tangent")]
            tangents = (
                None
                if any(end is None for end in ends)
                else np.array([(end.x, end.y) for end in ends])
            )
            return fit_point_spline_edges(fit[:, :2], entity.closed, self.tolerance, tangents)
        weights = np.array(entity.weights, dtype=float)
        return spline_edges(
            entity.dxf.degree,
            control[:, :2],
            np.array(entity.knots, dtype=float),
            weights if len(weights) else None,
            entity.closed,
            self.tolerance,
        )

    def _curve(self, layer: int, kind: str, at: FloatArray, build: Callable[[], Edges]) -> Edges:
        try:
            return build()
        except GeometryError as error:
            what = str(error).removeprefix(f"{kind}: ").rstrip(".")
            raise DrawingError(f"{self._place(layer, kind, at)}: {what}.") from error

    # blocks ------------------------------------------------------------------------------

    def _insert(self, entity: Insert, number: int, out: DrawnBuilder) -> None:
        layer, name = entity.dxf.layer, entity.dxf.name
        self._check_insert(entity, number)
        content = self._content(name, layer)
        if content is None or not content.size:
            return
        shifts = self._places(entity, content, layer)
        placed = self._matrix(entity, number)
        if placed is None:
            return
        matrix, shift = placed
        if not is_similarity(matrix):
            text = f"block {name!r} is stretched more one way: circles in it are ellipses"
            self._tell("block.stretched", text, layer, tuple(shift.tolist()))
        key = (name.casefold(), number, matrix.tobytes())
        if key not in out.copies:
            out.copies[key] = Copies(self._mapped(content.inheriting(number), matrix))
        out.copies[key].shifts.append(shifts + shift)

    def _mapped(self, content: Drawn, matrix: FloatArray) -> Drawn:
        if not is_similarity(matrix):
            self._stretched += len(content.circle_radius) + int(content.edges.is_arc.sum())
            if self._stretched > limits.MOST_STRETCHED:
                raise DrawingError(
                    f"{self.where}: more than {limits.MOST_STRETCHED:,} circles and arcs in blocks"
                    " that are scaled unequally. Explode the blocks."
                )
        return content.mapped(matrix, self.tolerance)

    def _content(self, name: str, layer: str) -> Drawn | None:
        path = (*self._inside, name)
        chain = " → ".join(path)
        key = name.casefold()
        if key in (outer.casefold() for outer in self._inside):
            raise DrawingError(
                f"{self.where}, layer {layer}: block {name!r} inserts itself ({chain})."
                " Remove the insert from the block."
            )
        if len(path) > limits.DEEPEST_BLOCK:
            raise DrawingError(
                f"{self.where}, layer {layer}: blocks are nested deeper than {limits.DEEPEST_BLOCK}"
                f" ({chain}). Explode the inner blocks."
            )
        if key not in self._blocks:
            layout = self.document.blocks.get(name)
            if layout is None or layout.block is None or layout.block.is_xref:
                text = f"block {name!r} is not in this file and was left out"
                self._tell("block.missing", text, layer)
                return None
            if not len(layout):
                self._tell("entity.empty", f"block {name!r} is empty", layer)
            self._inside = path
            self._blocks[key] = self._collect(layout)
            self._inside = path[:-1]
        return self._blocks[key]

    def _places(self, entity: Insert, content: Drawn, layer: str) -> FloatArray:
        """Shifts (k, 2) of the copies of an array of inserts; (1, 2) of zeros for one."""
        rows, columns = max(1, entity.dxf.row_count), max(1, entity.dxf.column_count)
        down, along = entity.dxf.row_spacing, entity.dxf.column_spacing
        if (rows > 1 and not down) or (columns > 1 and not along):
            text = f"block {entity.dxf.name!r} is an array without spacing: taken once"
            self._tell("block.no-spacing", text, layer, entity.dxf.insert.vec2)
        rows, columns = (rows if down else 1), (columns if along else 1)
        self._copies += rows * columns
        self._entities += rows * columns * content.size
        if self._copies > limits.MOST_COPIES:
            raise DrawingError(
                f"{self.where}, layer {layer}: block {entity.dxf.name!r} is inserted"
                f" {rows:,} × {columns:,} times; a drawing may have {limits.MOST_COPIES:,} copies."
                " Correct the rows and columns of the insert."
            )
        if self._entities > limits.MOST_ENTITIES:
            raise limits.too_many_entities(self.where, self._entities)
        if rows * columns == 1:
            return np.zeros((1, 2))
        grid = np.stack(np.meshgrid(np.arange(columns) * along, np.arange(rows) * down), axis=-1)
        turn = math.radians(entity.dxf.rotation)
        c, s = math.cos(turn), math.sin(turn)
        shifts = grid.reshape(-1, 2) @ np.array([[c, s], [-s, c]])
        if entity.dxf.hasattr("extrusion") and entity.dxf.extrusion.z < 0:
            shifts = shifts * np.array([-1.0, 1.0])
        return np.asarray(shifts)

    def _matrix(self, entity: Insert, number: int) -> tuple[FloatArray, FloatArray] | None:
        whole = entity.matrix44()
        right, up = whole.transform_direction((1, 0, 0)), whole.transform_direction((0, 1, 0))
        at = whole.transform((0, 0, 0))
        matrix = np.array([[right.x, up.x], [right.y, up.y]])
        shift = np.array([at.x, at.y])
        self._check_finite(np.vstack((matrix, shift)), number, "insert of a block")
        if max(abs(right.z), abs(up.z)) > _FLAT * max(1.0, float(np.abs(matrix).max())):
            self._not_flat(f"INSERT of block {entity.dxf.name!r}", number, (at.x, at.y))
            return None
        if (
            abs(np.linalg.det(matrix)) < 1e-12 * float(np.abs(matrix).max()) ** 2
            or not matrix.any()
        ):
            text = f"block {entity.dxf.name!r} is inserted with a scale of 0 and was left out"
            self._tell("block.flat", text, self.layers[number], (at.x, at.y))
            return None
        return matrix, shift

    # checks ------------------------------------------------------------------------------

    def _tell(self, code: str, text: str, layer: str, at: Any = None) -> None:
        """Note what was met; inside a block it has no place in the drawing: the block is named."""
        if self._inside:
            text, at = f"{text} (in block {self._inside[-1]!r})", None
        self.board.add(code, text, layer, None if at is None else (float(at[0]), float(at[1])))

    def _check_insert(self, entity: Insert, number: int) -> None:
        dxf, at = entity.dxf, entity.dxf.insert
        others = (dxf.rotation, dxf.xscale, dxf.yscale, dxf.row_spacing, dxf.column_spacing)
        numbers = np.array([[at.x, at.y, *others]])
        self._check_finite(numbers, number, f"insert of block {dxf.name!r}")

    def _add_chain(
        self, out: DrawnBuilder, edges: Edges, layer: int, kind: str, *, closed: bool
    ) -> None:
        out.add_chain(edges, layer, kind, closed=closed)
        if not len(edges):
            text = f"a {kind} of no length was left out"
            self._tell("entity.empty", text, self.layers[layer])

    def _check_complete(self, entity: Any, layer: str) -> None:
        missing = what_is_missing(entity)
        if missing:
            raise DrawingError(
                f"{self.where}, layer {layer}{self._block()}: {missing}. Correct or delete the"
                " entity and export again."
            )

    def _block(self) -> str:
        return f", block {self._inside[-1]!r}" if self._inside else ""

    def _side(self, entity: Any, layer: int, at: Any) -> int:
        """+1 seen from above, -1 seen from below (extrusion −Z), 0 tilted (told)."""
        if "extrusion" not in vars(entity.dxf):
            return 1
        normal = entity.dxf.extrusion
        if math.hypot(normal.x, normal.y) > _FLAT * normal.magnitude or not normal.z:
            place = (at.x, at.y) if at is not None else None
            self._not_flat(entity.dxftype(), layer, place)
            return 0
        return 1 if normal.z > 0 else -1

    def _not_flat(self, kind: str, layer: int, at: tuple[float, float] | None) -> None:
        text = f"{kind} is tilted or three-dimensional and was left out"
        self._tell("entity.not-flat", text, self.layers[layer], at)

    def _checked(self, out: DrawnBuilder) -> Drawn:
        # first what was read, before anything is computed from it
        self._check_finite(_rows(out.lines, 4), out.line_layers, "line")
        for kind, rows, layers in (
            ("arc", _rows(out.arcs, 5), out.arc_layers),
            ("circle", _rows(out.circles, 3), out.circle_layers),
        ):
            self._check_finite(rows[:, :2], layers, kind)
            self._check_radii(rows, layers, kind)
        self._check_finite(_rows(out.points, 2), out.point_layers, "point")
        drawn = out.finish()
        for ends in (drawn.edges.start, drawn.edges.end):
            self._check_finite(ends, drawn.edge_layer, "line or arc")
        self._check_finite(drawn.circle_centre, drawn.circle_layer, "circle")
        self._check_finite(drawn.points, drawn.point_layer, "point")
        return drawn

    def _check_finite(self, numbers: FloatArray, layers: Any, kind: str) -> None:
        fine = np.isfinite(numbers) & (np.abs(numbers) <= limits.LARGEST_COORDINATE)
        if fine.all():
            return
        row = int(np.flatnonzero(~fine.all(axis=1))[0])
        layer = int(layers if np.ndim(layers) == 0 else layers[row])
        what = f"a coordinate must be finite and within ±{limits.LARGEST_COORDINATE:g}"
        raise self._bad(layer, kind, numbers[row], what)

    def _check_radii(self, rows: FloatArray, layers: list[int], kind: str) -> None:
        radii = rows[:, 2]
        fine = np.isfinite(radii) & (radii > 0) & (radii <= limits.LARGEST_COORDINATE)
        if not fine.all():
            row = int(np.flatnonzero(~fine)[0])
            what = f"radius is {radii[row]:g}; it has to be above 0 and at most"
            raise self._bad(layers[row], kind, rows[row], f"{what} {limits.LARGEST_COORDINATE:g}")

    def _bad(self, layer: int, kind: str, at: Any, what: str) -> DrawingError:
        cure = "Correct or delete the entity and export again."
        return DrawingError(f"{self._place(layer, kind, at)}: {what}. {cure}")

    def _place(self, layer: int, kind: str, at: Any) -> str:
        x, y = float(at[0]), float(at[1])
        name = f"{self.layers[layer]}{self._block()}"
        return f"{self.where}, layer {name}, {kind} at ({x:.8g}, {y:.8g}) drawing units"


_TAKE: dict[str, Callable[[EntityReader, Any, int, DrawnBuilder], None]] = {
    "LINE": EntityReader._line,
    "ARC": EntityReader._arc,
    "CIRCLE": EntityReader._circle,
    "POINT": EntityReader._point,
    "LWPOLYLINE": EntityReader._lwpolyline,
    "POLYLINE": EntityReader._old_polyline,
    "ELLIPSE": EntityReader._ellipse,
    "SPLINE": EntityReader._spline,
    "INSERT": EntityReader._insert,
}


def _rows(numbers: list[Any], columns: int) -> FloatArray:
    return np.array(numbers, dtype=float).reshape(-1, columns)
