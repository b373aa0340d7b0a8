"""Which holes could follow each other in a row: links, chains of links, rings.

A *link* joins two holes that are among each other's nearest. A *chain* runs over links as long
as they keep their pitch and turn little. Chains overlap and cross; `choosing.py` chooses.

Limits are odd figures (0.7913, 2.0317), so that holes on a drawing's grid never lie exactly on one,
where noise far below any tolerance would decide.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.holes.nearest import nearest_points

ComplexArray = NDArray[np.complex128]
SlotArray = NDArray[np.int32]

NEIGHBOURS = 8
"""Holes a hole looks at: all round it in a square or a staggered pattern."""
MAX_TURN = 16.0
"""Degrees a row may turn from one pitch to the next."""
MAX_TURN_CHANGE = 12.0
"""Degrees by which two turns that follow each other may differ; more is a corner."""
MAX_PITCH_RATIO = 1.2207
"""Longer over shorter of two pitches that follow each other: ten per cent either way."""
SHORT_ROW_TOLERANCES = {3: 0.0519, 4: 0.0837}
"""Share of the pitch by which a hole of a short row may lie off the middle between its neighbours,
by the number of holes, unless no other hole is near. Longer rows are no accident."""
ALONE = 2.0317
"""Pitches round a short row within which another hole makes it doubtful."""
RING_TURNS = (5.0, 62.0)
"""Degrees from one pitch of a ring to the next: 72 holes to 6."""
ARC_TURNS = (12.0, 58.0)
"""The same for an open row of a sharp bend."""
RING_PITCH_RATIO = 1.1031
"""Longer over shorter of two pitches of a ring that follow each other."""
RING_TURN_CHANGE = 8.0
"""Degrees by which two turns of a ring that follow each other may differ."""
ARC_HOLES = 5
"""Least number of holes, evenly round one centre, that make a row of a sharp bend."""
PAIR_TOLERANCE = 0.0531
"""Share of the gap by which two pairs of holes may lie off one line and one pitch."""
WIDE_TURN = 50.0
"""Degrees. A ring that turns more has to stand clear of other holes."""
CLEAR = 1.2113
"""Pitches within which such a ring, or a pair of holes, has no other hole."""

_BETWEEN_TURN = 12.0
"""Degrees. A hole this near to the direction of a farther one hides it."""
_BETWEEN_IN_RING = 30.0
"""Degrees. The same in a ring, where the way to the next hole but one bends off."""
_BETWEEN_SHARE = 0.7913
"""Share of the way to the farther hole up to which a hole hides it."""
_EQUAL_TURN = 1e-4
"""Degrees. Turns that differ by less are equally sharp."""
_DOUBT = 1.02
"""A second best way on that is no worse than this leaves the choice open: the chain ends."""
_RING_TOLERANCE = 0.1531
"""Share of the pitch by which the next hole of a ring may be off its place."""
_MOST_IN_RING = 72
_BLOCK = 4096
"""Holes worked on at a time, which bounds the memory used."""


@dataclass(frozen=True, slots=True, eq=False)
class Links:
    """The mutual links of n holes. Compared by identity.

    Parameters
    ----------
    points : (n,) complex array [in]
    around : (n, NEIGHBOURS) array
        The nearest holes, nearest first, -1 where there are no more.
    near : (n, NEIGHBOURS) array
        The same without those that do not look back: the hole at the other end of each link.
    back : (n, NEIGHBOURS) array
        Place of the same link at the other hole.
    vector : (n, NEIGHBOURS) complex array [in]
        From the hole to the other, 0 where there is no link.
    """

    points: ComplexArray
    around: IntArray
    near: IntArray
    back: IntArray
    vector: ComplexArray


@dataclass(frozen=True, slots=True)
class Chain:
    """Holes in order; the last is followed by the first where the chain is closed."""

    holes: tuple[int, ...]
    closed: bool = False


def link_holes(points: FloatArray) -> Links:
    """Links between (n, 2) `points` [in], no two of them at one place."""
    around = nearest_points(points, NEIGHBOURS)
    back = np.full_like(around, -1)
    for some in _blocks(len(around)):
        returns = around[around[some]] == np.arange(some.start, some.stop)[:, None, None]
        slot = returns.argmax(axis=2)
        back[some] = np.where(returns.any(axis=2) & (around[some] >= 0), slot, -1)
    near = np.where(back >= 0, around, -1)
    at = points[:, 0] + 1j * points[:, 1]
    vector = np.where(near >= 0, at[near] - at[:, None], 0)
    return Links(at, around, near, back, vector)


def _blocks(n: int) -> Iterator[slice]:
    for begin in range(0, n, _BLOCK):
        yield slice(begin, min(n, begin + _BLOCK))


# gently curving chains -------------------------------------------------------------------------


def find_chains(links: Links) -> list[Chain]:
    """All chains of three holes and more, each once. A hole may be in several."""
    chains = _walk(links, *_followers(links))
    found = [c for c in chains if len(c.holes) not in SHORT_ROW_TOLERANCES]
    for holes, tolerance in SHORT_ROW_TOLERANCES.items():
        found += _sound(links, [c for c in chains if len(c.holes) == holes], tolerance)
    return found


def _sound(links: Links, short: list[Chain], tolerance: float) -> list[Chain]:
    """Those of equally short chains that are no accident: straight and even, or alone."""
    if not short:
        return []
    holes = np.array([c.holes for c in short], dtype=np.intp)
    gap = np.diff(links.points[holes], axis=1)
    pitch = np.abs(gap).mean(axis=1)
    even = (np.abs(np.diff(gap, axis=1)) / 2 <= tolerance * pitch[:, None]).all(axis=1)
    near = links.around[holes]
    away = np.abs(links.points[near] - links.points[holes][:, :, None])
    foreign = (near >= 0) & (near[:, :, :, None] != holes[:, None, None, :]).all(axis=3)
    alone = ~(foreign & (away < ALONE * pitch[:, None, None])).any(axis=(1, 2))
    return [chain for chain, keep in zip(short, (even | alone).tolist(), strict=True) if keep]


def _followers(links: Links) -> tuple[IntArray, IntArray]:
    """For each directed link the one that continues it, and the same link the other way.

    Directed link `hole * NEIGHBOURS + slot` runs from the hole to its neighbour; -1 is none.
    """
    partner, turn = _partners(links)
    partner = _without_corners(links, partner, turn)
    hole = np.arange(len(links.near))[:, None]
    reverse = np.where(links.near >= 0, links.near * NEIGHBOURS + links.back, -1)
    onward = np.where(partner >= 0, hole * NEIGHBOURS + partner, -1).ravel()
    reverse = reverse.ravel()
    return np.where(reverse >= 0, onward[reverse], -1), reverse


def _partners(links: Links) -> tuple[IntArray, FloatArray]:
    """The slot that continues each slot straight through its hole, and the turn [deg] there."""
    one, other, hidden = _by_angle(links.vector)
    hidden |= (links.near >= 0) & hidden[links.near, links.back]
    visible = ~(hidden.ravel()[one] | hidden.ravel()[other])
    one, other = one[visible], other[visible]
    vector = links.vector.ravel()
    v, w = vector[one], vector[other]
    off = np.abs(v + w) / np.sqrt(np.abs(v) * np.abs(w))
    sure = _mutual_best(one, other, off, vector.size)
    one, other = one[sure], other[sure]
    partner, turn = np.full(vector.size, -1), np.zeros(vector.size)
    partner[one], partner[other] = other % NEIGHBOURS, one % NEIGHBOURS
    turn[one] = np.angle(-w[sure] / v[sure], deg=True)
    turn[other] = -turn[one]
    return partner.reshape(links.near.shape), turn.reshape(links.near.shape)


def _by_angle(vector: ComplexArray) -> tuple[SlotArray, SlotArray, BoolArray]:
    """Pairs of slots that could continue each other, and the slots hidden by a nearer hole.

    A slot is counted through all holes: `hole * NEIGHBOURS + slot`. The nearer of a pair is first.
    """
    ahead, behind = np.cos(np.radians(_BETWEEN_TURN)), -np.cos(np.radians(MAX_TURN))
    hidden = np.zeros(vector.shape, dtype=bool)
    straight = [np.zeros((2, 0), dtype=np.int32)]
    for some in _blocks(len(vector)):
        length = np.abs(vector[some])
        cosine = np.triu(_cosines(vector[some], length), 1)
        hole, one, other = np.nonzero(cosine > ahead)
        nearer = length[hole, one] < _BETWEEN_SHARE * length[hole, other]
        hidden[some][hole[nearer], other[nearer]] = True
        hole, one, other = np.nonzero(cosine < behind)
        even = length[hole, other] <= MAX_PITCH_RATIO * length[hole, one]
        first = NEIGHBOURS * (hole + some.start)
        straight.append(np.array((first + one, first + other), dtype=np.int32)[:, even])
    one, other = np.concatenate(straight, axis=1)
    return one, other, hidden


def _cosines(vector: ComplexArray, length: FloatArray) -> FloatArray:
    """(m, k, k) cosines of the angles between the links of a hole, 0 where there is no link."""
    unit = vector / np.where(length > 0, length, 1.0)
    axes = np.stack((unit.real, unit.imag), axis=2)
    cosines: FloatArray = axes @ np.swapaxes(axes, 1, 2)
    return cosines


def _mutual_best(one: SlotArray, other: SlotArray, off: FloatArray, slots: int) -> BoolArray:
    """Which pairs of slots are the best of both, and beyond doubt; `off` is how far from it."""
    best, second = np.full(slots, np.inf), np.full(slots, np.inf)
    for key in (one, other):
        np.minimum.at(best, key, off)
    chosen = (off == best[one]) & (off == best[other])
    for key in (one, other):
        np.minimum.at(second, key[~chosen], off[~chosen])
    times = np.bincount(np.concatenate((one[chosen], other[chosen])), minlength=slots)
    limit = off * _DOUBT + 1e-6
    clear = (second[one] > limit) & (second[other] > limit)
    sure: BoolArray = chosen & clear & (times[one] == 1) & (times[other] == 1)
    return sure


def _without_corners(links: Links, partner: IntArray, turn: FloatArray) -> IntArray:
    """Part the chains at the sharper of two turns that differ too much."""
    other, there = links.near, links.back
    goes_on = (partner >= 0) & (other >= 0) & (partner[other, there] >= 0)
    # `turn` at a slot is that of a chain entering by it; leaving by it the turn has the other sign
    after = turn[other, there]
    sharp = goes_on & (np.abs(after + turn) > MAX_TURN_CHANGE)
    corner = sharp & (np.abs(turn) >= np.abs(after) - _EQUAL_TURN)
    row = np.arange(len(partner))[:, None]
    corner |= (partner >= 0) & corner[row, partner]
    return np.where(corner, -1, partner)


def _walk(links: Links, follower: IntArray, reverse: IntArray) -> list[Chain]:
    """Follow the links from every loose end, then round every closed chain."""
    begins = follower >= 0
    led_to = np.zeros(len(follower), dtype=bool)
    led_to[follower[begins]] = True
    onward, back, target = map(_numbers, (follower, reverse, links.near.ravel()))
    chains, walked, done = [], 0, bytearray(len(onward))
    for first in np.flatnonzero(begins & ~led_to).tolist():
        if done[first]:
            continue
        holes, link, last = [first // NEIGHBOURS], first, first
        while link >= 0:
            holes.append(target[link])
            last, link = link, onward[link]
        done[back[last]] = 1
        walked += 2 * len(holes) - 2
        chains.append(Chain(tuple(holes)))
    if walked < np.count_nonzero(begins | led_to):
        chains += _closed_chains(links, follower, reverse)
    return chains


def _numbers(values: IntArray) -> memoryview:
    """The values for reading one by one, in a tenth of the memory of a list."""
    return values.astype(np.int32).data


def _closed_chains(links: Links, follower: IntArray, reverse: IntArray) -> list[Chain]:
    """The chains that have no loose end."""
    onward, back, target = map(_numbers, (follower, reverse, links.near.ravel()))
    opened = np.flatnonzero((follower < 0) & (reverse >= 0)).tolist()
    passed = bytearray(len(onward))
    for last in opened:
        # walk back from each loose end by the same links the other way
        link = back[last]
        while link >= 0 and not passed[link]:
            passed[link] = passed[back[link]] = 1
            link = onward[link]
    chains = []
    for first in np.flatnonzero(follower >= 0).tolist():
        holes, link = [], first
        while not passed[link]:
            passed[link] = passed[back[link]] = 1
            holes.append(target[link])
            link = onward[link]
        if holes:
            chains.append(Chain(tuple(holes), closed=True))
    return chains


# rings and sharp bends -------------------------------------------------------------------------


def find_rings(links: Links) -> list[Chain]:
    """Holes evenly round one centre, 6 to 72 of them, counter-clockwise. Rings share no hole."""
    closed, _ = _round_paths(links, _bends(links, RING_TURNS))
    rings = [p for p in closed if p[0] == min(p) and _is_ring(links, p)]
    return [Chain(p, closed=True) for p in _disjoint(rings)]


def find_leftovers(links: Links) -> list[Chain]:
    """What is a row all the same: sharp bends, and pairs with a gap between them."""
    return [Chain(p) for p in _disjoint([*_arcs(links), *_pairs(links)])]


def _arcs(links: Links) -> list[tuple[int, ...]]:
    """Open paths of `ARC_HOLES` holes and more that turn more than a gentle row does."""
    _, opened = _round_paths(links, _bends(links, ARC_TURNS))
    arcs = []
    for path in opened:
        turns, even = _turns(links.points[list(path)])
        if even and MAX_TURN < turns.mean() <= WIDE_TURN:
            arcs.append(path)
    return arcs


def _pairs(links: Links) -> list[tuple[int, ...]]:
    """Two holes, a gap for one or two holes more, and two holes."""
    around, at = links.around, links.points
    vector = np.where(around >= 0, at[around] - at[:, None], 0)
    near = around[:, 0]
    size = np.where(around >= 0, np.abs(vector), np.inf)
    clear = (near >= 0) & (size[:, 1] > CLEAR * size[:, 0])
    paired = np.flatnonzero(clear & clear[near] & (near[near] == np.arange(len(at))))
    found: list[tuple[int, ...]] = []
    for pitches in (2, 3):
        # a path comes from `near` over `paired` and leaps on by so many pitches
        step = -vector[paired, 0]
        off = np.abs(vector[paired] - pitches * step[:, None]) / np.abs(step)[:, None]
        third = around[paired, off.argmin(axis=1)]
        fourth = near[third]
        fits = (third >= 0) & (off.min(axis=1) <= PAIR_TOLERANCE * pitches)
        fits &= clear[third] & clear[fourth] & (near[fourth] == third)
        fits &= np.abs(vector[third, 0] - step) <= PAIR_TOLERANCE * 2 * np.abs(step)
        path = np.column_stack((near[paired], paired, third, fourth))[fits]
        found += map(tuple, path[path[:, 0] < path[:, 3]].tolist())
    return found


def _bends(links: Links, turns: tuple[float, float]) -> IntArray:
    """(m, 3) holes that turn to the left by so much [deg], at an even pitch."""
    found = [_bends_of(links, some, turns) for some in _blocks(len(links.near))]
    return np.concatenate([np.zeros((0, 3), dtype=np.intp), *found])


def _bends_of(links: Links, some: slice, turns: tuple[float, float]) -> IntArray:
    vector = links.vector[some]
    length = np.abs(vector)
    # the way in is minus the vector
    cosine = -_cosines(vector, length)
    nearer = (length[:, :, None] > 0) & (length[:, :, None] < _BETWEEN_SHARE * length[:, None, :])
    hidden = (nearer & (cosine < -np.cos(np.radians(_BETWEEN_IN_RING)))).any(axis=1)
    most, least = np.cos(np.radians(turns))
    hole, enter, leave = np.nonzero((cosine <= most) & (cosine >= least))
    ratio = length[hole, leave] / length[hole, enter]
    keep = np.maximum(ratio, 1 / ratio) <= RING_PITCH_RATIO
    keep &= (vector[hole, leave] / vector[hole, enter]).imag < 0
    keep &= ~(hidden[hole, enter] | hidden[hole, leave])
    wide = cosine[hole, enter, leave] < np.cos(np.radians(WIDE_TURN))
    near, own = links.around[some], links.points[some]
    third = np.where(near[:, 2] >= 0, np.abs(links.points[near[:, 2]] - own), np.inf)
    keep &= ~wide | (third[hole] >= CLEAR * length[hole, enter])
    hole, enter, leave = hole[keep], enter[keep], leave[keep]
    linked = links.near[some]
    return np.column_stack((linked[hole, enter], hole + some.start, linked[hole, leave]))


def _round_paths(
    links: Links, bends: IntArray
) -> tuple[list[tuple[int, ...]], list[tuple[int, ...]]]:
    """Follow every bend round at its pitch and turn: closed paths, and open ones long enough."""
    closed: list[tuple[int, ...]] = []
    opened: list[tuple[int, ...]] = []
    path = bends
    for size in range(3, _MOST_IN_RING + 1):
        if not len(path):
            break
        onward, fits = _next_in_ring(links, path[:, -3:])
        meets = fits & (onward == path[:, 0])
        if size >= ARC_HOLES:
            closed += map(tuple, path[meets].tolist())
            opened += map(tuple, path[~fits].tolist())
        goes_on = fits & ~meets
        path = np.column_stack((path[goes_on], onward[goes_on]))
    return closed, opened


def _next_in_ring(links: Links, last: IntArray) -> tuple[IntArray, BoolArray]:
    """The hole where the pitch and turn of (m, 3) `last` holes lead, and whether one is there."""
    a, b, c = links.points[last].T
    turn = (c - b) / (b - a)
    step = (c - b) * turn / np.abs(turn)
    near = links.near[last[:, 2]]
    off = np.where(near >= 0, np.abs(links.points[near] - (c + step)[:, None]), np.inf)
    slot = off.argmin(axis=1)
    row = np.arange(len(last))
    onward = near[row, slot]
    onto = links.points[onward] - c
    size = np.abs(onto) / np.abs(step)
    fits = off[row, slot] <= _RING_TOLERANCE * np.abs(step)
    fits &= np.maximum(size, 1 / np.maximum(size, 1e-9)) <= RING_PITCH_RATIO
    fits &= np.abs(np.angle(onto / step, deg=True)) <= RING_TURN_CHANGE
    return onward, fits


def _turns(points: ComplexArray) -> tuple[FloatArray, bool]:
    """Turns [deg] along a path, and whether pitch and turn keep to their mean."""
    gap = np.diff(points)
    turns = np.angle(gap[1:] / gap[:-1], deg=True)
    size = np.abs(gap)
    even = np.abs(size / size.mean() - 1).max() <= RING_PITCH_RATIO - 1
    return turns, bool(even and np.abs(turns - turns.mean()).max() <= RING_TURN_CHANGE)


def _is_ring(links: Links, path: tuple[int, ...]) -> bool:
    """Whether the path goes round once, evenly, and stands clear if it has few holes."""
    points = links.points[[*path, *path[:2]]]
    turns, even = _turns(points)
    once = abs(turns.sum() - 360.0) < turns.mean() / 2
    if not (even and once) or turns.mean() <= WIDE_TURN:
        return even and once
    third = links.around[list(path), 2]
    away = np.abs(links.points[third] - links.points[list(path)])
    return not ((third >= 0) & (away < CLEAR * np.abs(np.diff(points)).mean())).any()


def _disjoint(paths: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """The longest paths that have no hole in common."""
    taken: set[int] = set()
    kept = []
    for path in sorted(paths, key=lambda p: (-len(p), p)):
        if taken.isdisjoint(path):
            taken.update(path)
            kept.append(path)
    return kept
