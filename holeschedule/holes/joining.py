"""Rows continued: over a missing hole, behind a hole of another row, to a hole at an odd pitch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.holes.chains import MAX_PITCH_RATIO, Chain
from holeschedule.holes.nearest import ComplexArray, pairs_within
from holeschedule.holes.spans import median_gaps

MOST_PITCHES = 3
"""Pitches a row may leap: a doubled or tripled pitch stands for one or two missing holes."""
ROW_TOLERANCE = 0.1037
"""Share of the leap by which the end of the next row may lie off the place expected."""
SINGLE_TOLERANCE = 0.0531
"""The same for a single hole beyond a missing one: it has to lie closer to its place."""
ODD_PITCH = (0.4713, 1.5573)
"""Pitches, least and most, to a hole that is in line but not at the row's pitch."""
STRAIGHT_TURN = 5.0
"""Degrees. Only a row that turns less is followed to a hole at an odd pitch."""
MEETING_TURN = 20.0
"""Degrees by which the directions of two rows may differ from that of one row going on."""

_CLOSED_ROW = 6
"""Holes a row needs before its end may be joined to its own start."""
_REGULAR, _ODD, _NO_FIT = 0, 1, MOST_PITCHES + 1
_OFF_STEP, _ODD_SHIFT = 0.02, 0.37


@dataclass(slots=True)
class _Growing:
    """A row under way; `stuck` tells of its start and of its end whether they lead nowhere."""

    holes: list[int]
    pitch: float
    closed: bool
    stuck: list[bool]

    def outward(self, side: int) -> list[int]:
        """The holes with the end of that side (0 start, 1 end) last."""
        return self.holes if side else self.holes[::-1]

    def extend(self, side: int, more: list[int], *, stuck: bool) -> None:
        """Put holes behind the end of that side; `stuck` tells of the new end."""
        self.stuck = [self.stuck[1 - side], stuck]
        self.holes = [*self.outward(side), *more]


@dataclass(frozen=True, slots=True, eq=False)
class _Ends:
    """Ends of rows, arrays in step.

    `row` and `side` say which; `hole` is the last hole, `ahead` the unit direction in which the
    next one is expected, `turn` [rad] how far the row turns there with each pitch [in].
    """

    row: list[int]
    side: list[int]
    hole: IntArray
    ahead: ComplexArray
    turn: FloatArray
    pitch: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Reach:
    """What lies ahead of ends, one entry for an end and a target: a free hole or another end.

    `met` is the number of the other end, -1 for a free hole. `kind` says how the target fits, the
    best first: one pitch ahead, in line at an odd pitch, two or three pitches ahead, not at all.
    `off` counts how far it lies off its place, in steps too coarse for noise.
    """

    end: IntArray
    hole: IntArray
    met: IntArray
    kind: IntArray
    off: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class _Targets:
    """The holes that rows may be continued to: `free` ones and ends of rows."""

    free: BoolArray
    holes: IntArray
    at: ComplexArray

    @classmethod
    def of(cls, points: ComplexArray, growing: list[_Growing], free: BoolArray) -> _Targets:
        possible = free.copy()
        possible[[h for row in growing for h in (row.holes[0], row.holes[-1])]] = True
        holes = np.flatnonzero(possible)
        return cls(free, holes, points[holes])

    def within(self, at: ComplexArray, distance: FloatArray) -> tuple[IntArray, IntArray]:
        """Pairs of a place and a hole no farther away than the distance of that place."""
        place, found = pairs_within(at, self.at, distance)
        return place, self.holes[found]


def join_rows(points: ComplexArray, rows: Sequence[Chain]) -> list[Chain]:
    """Continue rows beyond their ends as far as the pattern carries.

    Parameters
    ----------
    points : (n,) complex array [in]
        All holes of one size.
    rows : sequence of Chain
        Rows without a hole in common. The other holes are free.

    Returns
    -------
    list of Chain
        Rows joined with each other, with free holes and with themselves.
    """
    free = np.ones(len(points), dtype=bool)
    free[[h for row in rows for h in row.holes]] = False
    return _join(points, rows, free, least=1)


def join_chains(points: ComplexArray, chains: Sequence[Chain]) -> list[Chain]:
    """Join chains over missing holes, before rows are chosen from them.

    Parameters
    ----------
    points : (n,) complex array [in]
        All holes of one size.
    chains : sequence of Chain
        They may have holes in common.

    Returns
    -------
    list of Chain
        Chains that follow each other after two or three pitches have become one.
    """
    return _join(points, chains, np.zeros(len(points), dtype=bool), least=2)


def _join(points: ComplexArray, rows: Sequence[Chain], free: BoolArray, least: int) -> list[Chain]:
    if not rows:
        return []
    pitches = median_gaps(points, rows)[0].tolist()
    growing = [
        _Growing(list(row.holes), pitch, row.closed, [False, False])
        for row, pitch in zip(rows, pitches, strict=True)
    ]
    targets = _Targets.of(points, growing, free)
    while _grow(points, growing, targets, least):
        growing = [row for row in growing if row.holes]
    return [Chain(tuple(row.holes), row.closed) for row in growing]


def _grow(points: ComplexArray, growing: list[_Growing], targets: _Targets, least: int) -> bool:
    """Take every end one step further; False when none could go."""
    ends = _open_ends(points, growing)
    reach = _look_ahead(points, ends, targets, least) if ends.row else None
    if reach is None or not len(reach.end):
        return False
    best = _best_target(ends, reach, growing)
    for end in np.flatnonzero(best < 0).tolist():
        growing[ends.row[end]].stuck[ends.side[end]] = True
    changed: set[int] = set()
    order = np.lexsort((reach.off[best], reach.kind[best]))
    for end in order[best[order] >= 0].tolist():
        if ends.row[end] not in changed:
            changed |= _take(growing, ends, reach, best, end, changed, targets.free)
    return bool(changed)


def _open_ends(points: ComplexArray, growing: list[_Growing]) -> _Ends:
    """Every end that is not known to lead nowhere."""
    which = [
        (n, side)
        for n, row in enumerate(growing)
        if not row.closed
        for side in (0, 1)
        if not row.stuck[side]
    ]
    last = [growing[n].outward(side)[-4:] for n, side in which]
    four = np.array([h if len(h) > 3 else [h[0], *h] for h in last], dtype=np.intp).reshape(-1, 4)
    d, c, b, a = points[four].T
    short = four[:, 0] == four[:, 1]
    before = np.where(short, b - c, c - d)
    between = np.where(short, 1.0, 2.0)
    turn = np.angle((a - b) / before) / between
    chord = (a - d) / np.abs(a - d)
    return _Ends(
        [n for n, _ in which],
        [side for _, side in which],
        four[:, 3],
        chord * np.exp(1j * turn * (1 + between / 2)),
        turn,
        np.array([growing[n].pitch for n, _ in which]),
    )


def _look_ahead(points: ComplexArray, ends: _Ends, targets: _Targets, least: int) -> _Reach:
    """Free holes and other ends where each end leads, `least` pitches ahead or more."""
    found = []
    place = np.zeros(len(ends.hole), dtype=np.complex128)
    for pitches in range(1, MOST_PITCHES + 1):
        place = place + np.exp(1j * ends.turn * (pitches - 1))
        if pitches >= least:
            found.append(_reach(points, ends, targets, place, pitches))
    found = [some for some in found if len(some.end)] or found[:1]
    return _Reach(*(np.concatenate([getattr(r, f.name) for r in found]) for f in fields(_Reach)))


def _reach(
    points: ComplexArray, ends: _Ends, targets: _Targets, place: ComplexArray, pitches: int
) -> _Reach:
    """What fits so many pitches ahead, where `place` is expected [pitches ahead of the end]."""
    widest = ODD_PITCH[1] - 1 + ROW_TOLERANCE if pitches == 1 else ROW_TOLERANCE * pitches
    scale = ends.pitch * ends.ahead
    end, hole = targets.within(points[ends.hole] + place * scale, widest * ends.pitch)
    other = hole != ends.hole[end]
    end, hole = end[other], hole[other]
    if not len(end):
        return _Reach(end, hole, end, end, end)
    end, hole, met = _with_ends(ends, end, hole, targets.free)
    ahead = (points[hole] - points[ends.hole[end]]) / scale[end]
    off = np.abs(ahead - place[end])
    share = np.where((met >= 0) | (pitches == 1), ROW_TOLERANCE, SINGLE_TOLERANCE)
    regular = off <= share * pitches
    kind = np.where(regular, _REGULAR if pitches == 1 else pitches, _NO_FIT)
    if pitches == 1:
        straight = np.abs(ends.turn[end]) <= np.radians(STRAIGHT_TURN)
        odd = (ahead.real >= ODD_PITCH[0]) & (ahead.real <= ODD_PITCH[1]) & ~regular
        odd &= straight & (np.abs(ahead.imag) <= ROW_TOLERANCE)
        kind[odd] = _ODD
    fits = (kind < _NO_FIT) & _faces(ends, end, met, pitches)
    steps = np.floor(off / _OFF_STEP + _ODD_SHIFT).astype(np.intp)
    return _Reach(end[fits], hole[fits], met[fits], kind[fits], steps[fits])


def _with_ends(
    ends: _Ends, end: IntArray, hole: IntArray, free: BoolArray
) -> tuple[IntArray, IntArray, IntArray]:
    """Pairs of end and hole, one for each end of a row at that hole; -1 if the hole is free."""
    by_hole = np.argsort(ends.hole, kind="stable")
    first = np.searchsorted(ends.hole[by_hole], hole, "left")
    count = np.searchsorted(ends.hole[by_hole], hole, "right") - first
    again = np.repeat(np.arange(len(end)), np.where(free[hole], 1, count))
    nth = np.arange(len(again)) - np.searchsorted(again, again)
    at = by_hole[np.minimum(first[again] + nth, len(by_hole) - 1)]
    return end[again], hole[again], np.where(free[hole[again]], -1, at)


def _faces(ends: _Ends, end: IntArray, met: IntArray, pitches: int) -> BoolArray:
    """Whether the end met comes the other way at the same pitch; a free hole faces any way."""
    faces = np.ones(len(end), dtype=bool)
    some = np.flatnonzero(met >= 0)
    end, met = end[some], met[some]
    ratio = ends.pitch[end] / ends.pitch[met]
    gone = ends.ahead[end] * np.exp(1j * ends.turn[end] * (pitches - 1))
    apart = np.abs(np.angle(-ends.ahead[met] / gone, deg=True))
    faces[some] = (np.maximum(ratio, 1 / ratio) <= MAX_PITCH_RATIO) & (apart <= MEETING_TURN)
    return faces


def _best_target(ends: _Ends, reach: _Reach, growing: list[_Growing]) -> IntArray:
    """For each end the entry of `reach` it leads to, -1 for none."""
    rows = np.array(ends.row)
    short = np.array([len(growing[n].holes) < _CLOSED_ROW for n in ends.row])
    itself = (reach.met >= 0) & (rows[reach.end] == rows[reach.met])
    usable = ~(itself & short[reach.end])
    order = np.lexsort((reach.met, reach.hole, reach.off, reach.kind, reach.end))
    order = order[usable[order]]
    end, first = np.unique(reach.end[order], return_index=True)
    best = np.full(len(ends.row), -1, dtype=np.intp)
    best[end] = order[first]
    return best


def _take(
    growing: list[_Growing],
    ends: _Ends,
    reach: _Reach,
    best: IntArray,
    end: int,
    changed: set[int],
    free: BoolArray,
) -> set[int]:
    """Join an end with what it leads to; the rows that changed are returned."""
    target = int(best[end])
    number, met = ends.row[end], int(reach.met[target])
    row, side = growing[number], ends.side[end]
    if met < 0:
        hole = int(reach.hole[target])
        if free[hole]:
            free[hole] = False
            row.extend(side, [hole], stuck=bool(reach.kind[target] == _ODD))
            return {number}
        return set()
    if best[met] < 0 or int(reach.met[best[met]]) != end or ends.row[met] in changed:
        return set()
    other = growing[ends.row[met]]
    if other is row:
        row.closed = True
        return {number}
    row.extend(side, other.outward(ends.side[met])[::-1], stuck=other.stuck[1 - ends.side[met]])
    other.holes = []
    return {number, ends.row[met]}
