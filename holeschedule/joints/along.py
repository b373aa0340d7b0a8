"""Two rows compared along their length, as a developed flange meets a skin.

A flange is drawn flat and bent, a row may run round a gentle curve: what has to agree is where its
holes lie along the row. Both rows are unrolled, laid side by side, and compared hole by hole.

Laid as well as it can be, a row whose pitch is a little long is off by as much at one end as at the
other, the other way, and not at all in the middle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from holeschedule.errors import JointError
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.joints.fit import checked_holes, checked_tolerance
from holeschedule.tables import SLACK

_REACH = 0.25
"""Share of the least pitch within which two holes are taken for the same place."""
_WORTH = 0.75
"""Share of the most holes in reach that a shift needs to be looked at more closely."""
_SHARP = np.cos(np.pi / 4)
"""A row that turns by more than 45° at a hole has a corner there and is no curve."""
_MOST_ROUNDS = 8
"""Times a shift is refined, if the pairs do not stay before."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to lay a row along another. Equality is by value.

    `is_reversed` says that the rows run in opposite directions. `shift` [in] is where the first
    hole of the row, in the direction of the base, comes to lie along the base.
    """

    shift: float
    is_reversed: bool


@dataclass(frozen=True, eq=False)
class RowFit:
    """Two rows laid side by side. Compared by identity.

    `pairs` (k, 2) are places in the rows as given: base, part; in order of the base. `base_along`
    (k,) [in] runs from the first hole of the base, `part_along` (k,) [in] from the first hole of
    the part in the direction of the base. `offsets` (k,) [in] is how much farther along the hole
    of the part lies, once shifted. `in_step` (k,) says which pairs agree within the tolerance
    after shift and stretch. `stretch` [in per in] is how much the part's row grows against the
    base. `left_base` and `left_part` are the holes without a partner. `rivals` are other ways
    that bring as many holes in step.
    """

    way: Way
    pairs: IntArray
    base_along: FloatArray
    part_along: FloatArray
    offsets: FloatArray
    in_step: BoolArray
    stretch: float
    left_base: IntArray
    left_part: IntArray
    tolerance: float
    rivals: tuple[Way, ...] = ()

    @property
    def pitch_differences(self) -> FloatArray:
        """(k - 1,) array [in]: from pair to pair, how much longer the part's distance is."""
        return np.diff(self.offsets)

    @property
    def drift(self) -> float:
        """Inches that the stretch makes from the first pair to the last."""
        return self.stretch * float(np.ptp(self.base_along)) if len(self.pairs) else 0.0

    @property
    def largest(self) -> float:
        """Inches: the largest offset, either way."""
        return float(np.abs(self.offsets).max(initial=0.0))

    @property
    def rms(self) -> float:
        """Inches: root mean square of the offsets."""
        return float(np.sqrt(np.square(self.offsets).mean()))

    @property
    def off(self) -> BoolArray:
        """(k,) array: which holes are farther off than the tolerance."""
        return np.abs(self.offsets) > self.tolerance + SLACK


def along_row(row: FloatArray) -> FloatArray:
    """How far along a row each of its holes lies.

    Parameters
    ----------
    row : (n, 2) array [in]
        Holes in their order along a straight or gently curving line.

    Returns
    -------
    (n,) array [in]
        From the first hole, rising. Between two holes an arc counts whose curvature is the mean
        of those at its ends, each that of the circle through the hole and its two neighbours; so
        a circle is measured exactly. At a corner of more than 45° the straight distance counts.

    Raises
    ------
    JointError
        Fewer than two holes, two that follow each other in one place, a coordinate not finite.
    """
    points = checked_holes(row, "row")
    if len(points) < 2:
        raise JointError("a row of one hole has no pitch; give two holes or more.")
    step = np.diff(points, axis=0)
    chord = np.hypot(*step.T)
    same = np.flatnonzero(chord <= SLACK)
    if len(same):
        raise JointError(
            f"holes {same[0] + 1} and {same[0] + 2} of the row are in one place; a row goes from"
            " hole to hole. Leave one out."
        )
    curvature = _curvatures(step, chord)
    half = np.minimum((curvature[:-1] + curvature[1:]) * chord / 4, 1.0)
    arc = chord * np.where(half > 0, np.arcsin(half) / np.where(half > 0, half, 1.0), 1.0)
    return np.concatenate([[0.0], np.cumsum(arc)])


def _curvatures(step: FloatArray, chord: FloatArray) -> FloatArray:
    """(n,) array [1/in] of the circle through each hole and its neighbours; ends as beside them."""
    if len(chord) < 2:
        return np.zeros(len(chord) + 1)
    before, after = step[:-1], step[1:]
    turned = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    third = np.maximum(np.hypot(*(before + after).T), SLACK)
    legs = chord[:-1] * chord[1:]
    is_smooth = (before * after).sum(axis=1) >= _SHARP * legs
    inner = np.where(is_smooth, 2 * turned / (legs * third), 0.0)
    return np.concatenate([inner[:1], inner, inner[-1:]])


def compare_rows(
    base_row: FloatArray,
    part_row: FloatArray,
    *,
    tolerance: float | None = None,
    is_reversed: bool | None = None,
) -> RowFit:
    """Lay a row of a part along a row of a base, and compare them hole by hole.

    Parameters
    ----------
    base_row, part_row : (n, 2) and (m, 2) arrays [in]
        Holes in their order along the row. Holes may be missing from either.
    tolerance : float [in], optional
        How near is on; 1/64 in where none is given.
    is_reversed : bool, optional
        Whether the rows run in opposite directions; both are tried where it is not stated.

    Returns
    -------
    RowFit
        The way that brings most holes in step; of several the one with the smaller offsets, then
        the one not reversed, then the smaller shift. Holes come together up to a quarter of the
        least pitch, so that one beyond the tolerance is told as off and not as left. The shift
        is the least squares of the pairs in step.

    Raises
    ------
    JointError
        A row has fewer than two holes, or two in one place; a coordinate is not finite.
    """
    near = checked_tolerance(tolerance)
    base, part = along_row(base_row), along_row(part_row)
    reach = max(near, _REACH * min(float(np.diff(base).min()), float(np.diff(part).min())))
    tried: list[_Laid] = []
    for backwards in (False, True) if is_reversed is None else (is_reversed,):
        along = part[-1] - part[::-1] if backwards else part
        tried += [
            _Laid(base, along, shift, reach, near, is_reversed=backwards)
            for shift in _shifts(base, along, reach)
        ]
    tried.sort(key=lambda laid: laid.order)
    best = tried[0]
    rivals = [laid for laid in tried[1:] if laid.count == best.count]
    ways = [best.way]
    for way in (laid.way for laid in rivals):
        if not any(_alike(way, other, near) for other in ways):
            ways.append(way)
    return best.told(tuple(ways[1:]))


def _alike(one: Way, other: Way, tolerance: float) -> bool:
    same = one.is_reversed == other.is_reversed
    return same and abs(one.shift - other.shift) <= 2 * tolerance


def _shifts(base: FloatArray, along: FloatArray, reach: float) -> list[float]:
    """Shifts that bring most holes within reach; of those near each other the best."""
    apart = np.sort((base[:, None] - along[None, :]).ravel())
    last = np.searchsorted(apart, apart + 2 * reach + SLACK, "right")
    count = last - np.arange(len(apart))
    good = np.flatnonzero(count >= _WORTH * count.max())
    cell = np.floor(apart[good] / reach)
    order = np.lexsort((good, -count[good], cell))
    first = np.flatnonzero(np.diff(cell[order], prepend=-np.inf))
    chosen = good[order][first]
    return [float(np.median(apart[i : last[i]])) for i in chosen.tolist()]


class _Laid:
    """One way to lay the rows, refined: a shift that is the least squares of the pairs in step."""

    def __init__(
        self,
        base: FloatArray,
        along: FloatArray,
        shift: float,
        reach: float,
        tolerance: float,
        *,
        is_reversed: bool,
    ) -> None:
        self.base, self.along, self.tolerance = base, along, tolerance
        for _ in range(_MOST_ROUNDS):
            self.on, self.to = _mutual(base, along + shift, reach)
            self.in_step, self.stretch = self._judge(shift)
            again = shift - float(self._offsets(shift)[self.in_step].mean())
            settled = abs(again - shift) <= SLACK
            shift = again
            if settled:
                break
        self.way = Way(shift, is_reversed)

    def _offsets(self, shift: float) -> FloatArray:
        return np.asarray(self.along[self.to] + shift - self.base[self.on])

    def _judge(self, shift: float) -> tuple[BoolArray, float]:
        """Which pairs agree once shift and stretch are taken off, and the stretch."""
        at, off = self.base[self.on], self._offsets(shift)
        kept = np.ones(len(at), dtype=np.bool_)
        slope, rest = 0.0, off
        for _ in range(_MOST_ROUNDS):
            slope, level = _line(at[kept], off[kept])
            rest = np.abs(off - level - slope * at)
            again = rest <= max(self.tolerance + SLACK, float(np.median(rest)))
            if (again == kept).all():
                break
            kept = again
        in_step = rest <= self.tolerance + SLACK
        return (in_step if in_step.any() else kept), slope

    @property
    def count(self) -> int:
        """How many holes are in step."""
        return int(self.in_step.sum())

    @property
    def order(self) -> tuple[float, ...]:
        """Sort key: the best way first."""
        squares = np.square(self._offsets(self.way.shift)[self.in_step])
        rms = round(float(np.sqrt(squares.mean())), 6)
        shift = round(self.way.shift, 6)
        return (-self.count, rms, self.way.is_reversed, abs(shift), shift)

    def told(self, rivals: tuple[Way, ...]) -> RowFit:
        """The comparison, with places as the rows were given."""
        m = len(self.along)
        place = m - 1 - self.to if self.way.is_reversed else self.to
        return RowFit(
            self.way,
            np.column_stack((self.on, place)),
            self.base[self.on],
            self.along[self.to],
            self._offsets(self.way.shift),
            self.in_step,
            self.stretch,
            np.setdiff1d(np.arange(len(self.base)), self.on),
            np.setdiff1d(np.arange(m), place),
            self.tolerance,
            rivals,
        )


def _line(at: FloatArray, off: FloatArray) -> tuple[float, float]:
    """Slope and level of the least-squares line; a single point, or two, tell no slope."""
    if len(at) < 3:
        return 0.0, float(off.mean())
    middle = at - at.mean()
    slope = float(middle @ off / (middle @ middle))
    return slope, float(off.mean() - slope * at.mean())


def _mutual(base: FloatArray, laid: FloatArray, reach: float) -> tuple[IntArray, IntArray]:
    """Pairs within reach of which each is the other's nearest: one to one and in order."""
    to = _nearest(base, laid)
    on = np.arange(len(base))
    both = (_nearest(laid, base)[to] == on) & (np.abs(laid[to] - base) <= reach + SLACK)
    return on[both], to[both]


def _nearest(points: FloatArray, among: FloatArray) -> IntArray:
    """The nearest of rising values for each point; the lower of two."""
    after = np.clip(np.searchsorted(among, points), 1, len(among) - 1)
    lower = points - among[after - 1] <= among[after] - points
    return np.where(lower, after - 1, after)
