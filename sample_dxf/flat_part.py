"""What the demo's parts are made of: loops, rows of holes and flat parts. Lengths are inches."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

Point = tuple[float, float]
Vertex = tuple[float, float, float]
Loop = tuple[Vertex, ...]
Corner = tuple[float, ...]


def steps(first: float, pitch: float, count: int) -> tuple[float, ...]:
    """`count` values from `first` on, `pitch` [in] apart."""
    return tuple(first + pitch * i for i in range(count))


def circle_points(radius: float, count: int, centre: Point = (0.0, 0.0)) -> tuple[Point, ...]:
    """`count` points evenly round a circle, the first at three o'clock."""
    turn = 2 * math.pi / count
    return tuple(
        (centre[0] + radius * math.cos(i * turn), centre[1] + radius * math.sin(i * turn))
        for i in range(count)
    )


def between(start: Point, end: Point, count: int) -> tuple[Point, ...]:
    """`count` points that part the way from `start` to `end` evenly, ends left out."""
    shares = [i / (count + 1) for i in range(1, count + 1)]
    (x0, y0), (x1, y1) = start, end
    return tuple((x0 + s * (x1 - x0), y0 + s * (y1 - y0)) for s in shares)


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole of the demo: centre, drilled diameter, row it belongs to, countersink mark [in]."""

    x: float
    y: float
    diameter: float
    row: str
    mark: float | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """A flat part: closed loops of (x, y, bulge), holes, open bend and trim lines [in].

    `offset` is where the part's own origin lies on the sheet; everything else is in its frame.
    """

    number: str
    name: str
    thickness: float
    quantity: int
    outline: Loop
    holes: tuple[Hole, ...]
    cutouts: tuple[Loop, ...] = ()
    bends: tuple[tuple[Point, Point], ...] = ()
    trims: tuple[tuple[Point, Point], ...] = ()
    offset: Point = (0.0, 0.0)

    def row(self, *names: str) -> list[Hole]:
        """Holes of the named rows, in order."""
        return [hole for hole in self.holes if hole.row in names]

    def on_sheet(self, scale: float = 1.0) -> Part:
        """Return the part in the coordinates of its sheet, `scale` sheet units to the inch."""
        dx, dy = self.offset

        def loop(vertices: Loop) -> Loop:
            return tuple(((x + dx) * scale, (y + dy) * scale, b) for x, y, b in vertices)

        def line(ends: tuple[Point, Point]) -> tuple[Point, Point]:
            (x0, y0), (x1, y1) = ends
            return (
                ((x0 + dx) * scale, (y0 + dy) * scale),
                ((x1 + dx) * scale, (y1 + dy) * scale),
            )

        holes = tuple(
            Hole(
                (h.x + dx) * scale,
                (h.y + dy) * scale,
                h.diameter * scale,
                h.row,
                h.mark * scale if h.mark else None,
            )
            for h in self.holes
        )
        return replace(
            self,
            outline=loop(self.outline),
            holes=holes,
            cutouts=tuple(map(loop, self.cutouts)),
            bends=tuple(map(line, self.bends)),
            trims=tuple(map(line, self.trims)),
            offset=(0.0, 0.0),
        )


def rounded(*corners: Corner) -> Loop:
    """Join corners (x, y[, radius[, bulge of the next side]]) to a closed loop with fillets."""
    loop: list[Vertex] = []
    for i, (x, y, *rest) in enumerate(corners):
        radius, bulge = (*rest, 0.0, 0.0)[:2]
        if not radius:
            loop.append((x, y, bulge))
            continue
        before, after = corners[i - 1], corners[(i + 1) % len(corners)]
        back, ahead = _towards((x, y), before), _towards((x, y), after)
        cross = ahead[0] * back[1] - ahead[1] * back[0]
        turn = math.pi - math.acos(back[0] * ahead[0] + back[1] * ahead[1])
        cut = radius * math.tan(turn / 2)
        loop.append(
            (x + cut * back[0], y + cut * back[1], math.copysign(math.tan(turn / 4), cross))
        )
        loop.append((x + cut * ahead[0], y + cut * ahead[1], 0.0))
    return tuple(loop)


def _towards(here: Point, there: Corner) -> Point:
    """Return the unit vector from `here` to `there`."""
    dx, dy = there[0] - here[0], there[1] - here[1]
    length = math.hypot(dx, dy)
    return dx / length, dy / length


def round_loop(x: float, y: float, radius: float) -> Loop:
    """Make a full circle, as a loop of two half circles."""
    return (x - radius, y, 1.0), (x + radius, y, 1.0)


def slot_loop(x: float, y: float, length: float, width: float) -> Loop:
    """Make a slot with round ends, lying along x, `length` over all."""
    half, r = length / 2 - width / 2, width / 2
    return (
        (x - half, y - r, 0.0),
        (x + half, y - r, 1.0),
        (x + half, y + r, 0.0),
        (
            x - half,
            y + r,
            1.0,
        ),
    )


def holes(
    row: str, points: list[Point] | tuple[Point, ...], diameter: float, mark: float | None = None
) -> list[Hole]:
    """One row: a hole at each point."""
    return [Hole(x, y, diameter, row, mark) for x, y in points]
