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

from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.holes.nearest import ComplexArray, SlotArray, nearest_points

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
_BLOCK = 2048
"""Holes worked on at a time, which bounds the memory used."""


@dataclass(frozen=True, slots=True, eq=False)
class Links:
    """The mutual links of n holes. Compared by identity.

    A slot is counted through all holes: `hole * NEIGHBOURS` + its place at the hole.

    Parameters
    ----------
    points : (n,) complex array [in]
    around : (n, NEIGHBOURS) array
        The nearest holes, nearest first, -1 where there are no more.
    near : (n, NEIGHBOURS) array
        The same without those that do not look back: the hole at the other end of each link.
    reverse : (n * NEIGHBOURS,) array
        Slot of the same link at the other hole, -1 where there is no link.
    straight : (2, k) array
        Pairs of slots of one hole that could continue each other straight on.
    bends : (2, m) array
        Pairs of slots by which a path could enter and leave a hole, turning to the left.
    turned : (m,) array
        Cosine of the turn of each bend.
    """

    points: ComplexArray
    around: SlotArray
    near: SlotArray
    reverse: SlotArray
    straight: SlotArray
    bends: SlotArray
    turned: FloatArray

    def vectors(self, slot: SlotArray) -> ComplexArray:
        """From the hole of each slot to the other hole of the link [in]."""
        return np.asarray(self.points[self.near.ravel()[slot]] - self.points[slot // NEIGHBOURS])


@dataclass(frozen=True, slots=True)
class Chain:
    """Holes in order; the last is followed by the first where the chain is closed."""

    holes: tuple[int, ...]
    closed: bool = False


def link_holes(points: FloatArray) -> Links:
    """Links between (n, 2) `points` [in], no two of them at one place."""
    around = nearest_points(points, NEIGHBOURS)
    reverse = _reverse(around)
    near = np.where(reverse >= 0, around, np.int32(-1))
    at = points[:, 0] + 1j * points[:, 1]
    unseen = np.zeros(near.shape, dtype=bool)
    found = [_angles(at, around, near, some, unseen[some]) for some in _blocks(len(near))]
    straight = np.concatenate([pairs for pairs, _, _ in found], axis=1)
    bends = np.concatenate([pairs for _, pairs, _ in found], axis=1)
    reverse, hidden = reverse.ravel(), unseen.ravel()
    hidden |= (reverse >= 0) & hidden[reverse]
    straight = straight[:, ~hidden[straight].any(axis=0)]
    turned = np.concatenate([cosine for _, _, cosine in found])
    return Links(at, around, near, reverse, straight, bends, turned)


def _reverse(around: SlotArray) -> SlotArray:
    """For each slot the slot of the other hole that looks back, -1 for none."""
    reverse = np.full_like(around, -1)
    columns = np.ascontiguousarray(around.T)
    for some in _blocks(len(around)):
        own = np.arange(some.start, some.stop, dtype=np.int32)[:, None]
        other = around[some].astype(np.intp)
        first = around[some] * NEIGHBOURS
        for slot, column in enumerate(columns):
            looks_back = column.take(other, mode="clip") == own
            np.copyto(reverse[some], first + np.int32(slot), where=looks_back)
    reverse[around < 0] = -1
    return reverse


def _angles(
    points: ComplexArray, around: SlotArray, near: SlotArray, some: slice, hidden: BoolArray
) -> tuple[SlotArray, SlotArray, FloatArray]:
    """The straight pairs of some holes, their bends and how these turn, as in `Links`.

    Slots that a nearer hole hides from a straight row are noted in `hidden`.
    """
    linked = np.ascontiguousarray(near[some].T)
    vector = points.take(linked, mode="clip") - points[some]
    vector[linked < 0] = 0
    x, y = vector.real.copy(), vector.imag.copy()
    length = np.sqrt(x * x + y * y)
    scale = np.where(length > 0, length, 1.0)
    slots, hole, cosine, in_ring = _even_pairs(x / scale, y / scale, length, hidden)
    first = (hole + some.start) * NEIGHBOURS
    straight = cosine < -np.cos(np.radians(MAX_TURN))
    pairs = (first + slots)[:, straight].astype(np.int32)
    bent = cosine >= -np.cos(np.radians(RING_TURNS[0]))
    bent &= length[slots[1], hole] <= RING_PITCH_RATIO * length[slots[0], hole]
    bent &= ~in_ring[slots, hole].any(axis=0)
    cosine, hole, slots, first = cosine[bent], hole[bent], slots[:, bent], first[bent]
    v, w = vector[slots, hole]
    enter, leave = np.where(v.real * w.imag < v.imag * w.real, slots, slots[::-1])
    third = around[some, 2][hole]
    away = np.abs(points[third] - points[hole + some.start])
    keep = (third < 0) | (away >= CLEAR * length[enter, hole])
    keep |= cosine <= -np.cos(np.radians(WIDE_TURN))
    bends = np.array((first + enter, first + leave), dtype=np.int32)
    return pairs, bends[:, keep], cosine[keep]


def _even_pairs(
    x: FloatArray, y: FloatArray, length: FloatArray, hidden: BoolArray
) -> tuple[IntArray, IntArray, FloatArray, BoolArray]:
    """Pairs of links of even pitch that go on from each other, bending no more than a ring.

    Parameters
    ----------
    x, y, length : (NEIGHBOURS, m) arrays
        Unit vectors of the links of m holes, and their lengths [in], 0 where there is no link.
    hidden : (m, NEIGHBOURS) array
        Here the links are noted that a nearer hole hides from a straight row.

    Returns
    -------
    slots : (2, k) array
        Two places at a hole, the nearer first.
    hole : (k,) array
    cosine : (k,) array
        Of the angle between both.
    in_ring : (NEIGHBOURS, m) array
        Links that a nearer hole hides from a ring.
    """
    wide, narrow = np.cos(np.radians([_BETWEEN_IN_RING, _BETWEEN_TURN]))
    least = -np.cos(np.radians(RING_TURNS[1]))
    share, far = _BETWEEN_SHARE * length, MAX_PITCH_RATIO * length
    in_ring = np.zeros(length.shape, dtype=bool)
    found = []
    for slot in range(1, len(length)):
        cosine = x[:slot] * x[slot]
        cosine += y[:slot] * y[slot]
        nearer = cosine > wide
        nearer &= length[:slot] < share[slot]
        nearer.any(axis=0, out=in_ring[slot])
        nearer &= cosine > narrow
        hidden[:, slot] = nearer.any(axis=0)
        nearest, hole = np.nonzero((cosine <= least) & (far[:slot] >= length[slot]))
        found.append((nearest, np.full_like(hole, slot), hole, cosine[nearest, hole]))
    first, second, hole, cosine = (np.concatenate(column) for column in zip(*found, strict=True))
    return np.array((first, second)), hole, cosine, in_ring


def _blocks(n: int) -> Iterator[slice]:
    for begin in range(0, max(n, 1), _BLOCK):
        yield slice(begin, min(n, begin + _BLOCK))


# gently curving chains -------------------------------------------------------------------------


def find_chains(links: Links) -> list[Chain]:
    """All chains of three holes and more, each once. A hole may be in several."""
    chains = _walk(links, _followers(links))
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


def _followers(links: Links) -> SlotArray:
    """For each directed link the one that continues it, -1 for none.

    A directed link is numbered as the slot by which it leaves its hole.
    """
    partner = _partners(links)
    return np.where(links.reverse >= 0, partner[links.reverse], np.int32(-1))


def _partners(links: Links) -> SlotArray:
    """The slot that continues each slot straight through its hole, but round no corner."""
    one, other = links.straight
    v, w = links.vectors(one), links.vectors(other)
    off = np.abs(v + w) / np.sqrt(np.abs(v) * np.abs(w))
    sure = _mutual_best(one, other, off, links.reverse.size)
    one, other = one[sure], other[sure]
    partner, turn = np.full(links.reverse.size, -1, dtype=np.int32), np.zeros(links.reverse.size)
    partner[one], partner[other] = other, one
    turn[one] = np.angle(-w[sure] / v[sure], deg=True)
    turn[other] = -turn[one]
    corner = _corners(links, partner, turn)
    partner[partner[corner]] = -1
    partner[corner] = -1
    return partner


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


def _corners(links: Links, partner: SlotArray, turn: FloatArray) -> IntArray:
    """Slots where chains are parted: at the sharper of two turns that differ too much."""
    here = np.flatnonzero(partner >= 0)
    there = links.reverse[here]
    goes_on = partner[there] >= 0
    here, there = here[goes_on], there[goes_on]
    # `turn` at a slot is that of a chain entering by it; leaving by it the turn has the other sign
    before, after = turn[here], turn[there]
    sharp = np.abs(after + before) > MAX_TURN_CHANGE
    return here[sharp & (np.abs(before) >= np.abs(after) - _EQUAL_TURN)]


def _walk(links: Links, follower: SlotArray) -> list[Chain]:
    """Follow the links from every loose end, then round every closed chain."""
    begins = follower >= 0
    led_to = np.zeros(len(follower), dtype=bool)
    led_to[follower[begins]] = True
    onward, back, target = map(_numbers, (follower, links.reverse, links.near.ravel()))
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
        chains += _closed_chains(links, follower)
    return chains


def _numbers(values: SlotArray) -> memoryview:
    """The values for reading one by one, in a tenth of the memory of a list."""
    return np.ascontiguousarray(values).data


def _closed_chains(links: Links, follower: SlotArray) -> list[Chain]:
    """The chains that have no loose end."""
    onward, back, target = map(_numbers, (follower, links.reverse, links.near.ravel()))
    opened = np.flatnonzero((follower < 0) & (links.reverse >= 0)).tolist()
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
    most, least = np.cos(np.radians(turns))
    enter, leave = links.bends[:, (-links.turned <= most) & (-links.turned >= least)]
    near = links.near.ravel()
    return np.column_stack((near[enter], enter // NEIGHBOURS, near[leave])).astype(np.intp)


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
