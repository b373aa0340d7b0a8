"""Identity of holes across revisions of a drawing: what was kept, moved, resized, new, retired.

A hole keeps its label, and so its history, as long as it is the same hole. That is read from the
holes alone: the revised drawing is laid on the recorded holes, unmoved if that fits, else shifted,
else shifted and turned, and what lies in one place is one hole. Where several readings fit equally
well the result says so.
"""

from __future__ import annotations

from bisect import bisect
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from holeschedule.errors import GeometryError
from holeschedule.holes.alignment import (
    UNMOVED,
    Alignment,
    Answer,
    count_kept,
    find_shifts,
    find_turns,
)
from holeschedule.holes.labels import SINGLE, row_letters
from holeschedule.holes.nearest import reading_order
from holeschedule.holes.pairing import Pairing, Spots, pair_holes
from holeschedule.model import Hole, Notice, Row
from holeschedule.selection import label_key

SAME_PLACE = 0.005
"""Inches. Holes no farther apart, once aligned, are in the same place."""
LEAST_SHARE = 1 / 3
"""Share of the fewer holes that a move has to bring together to be believed."""
HOLES_MOVED = 0.25
"""Share of the holes for or against a move from which on holes were moved, and not the zero."""
MOST_KEPT_MIRRORED = 0.75
"""Share of the fewer holes up to which a mirror image is thought of."""
_EVIDENCE_SHIFT = 2
_EVIDENCE_TURN = 3
"""Holes that a shift or a turn has to bring together beyond a simpler reading: one hole agrees
with some shift and two with some turn by chance."""
_FARTHEST = 1e9
"""Inches. Coordinates beyond are a slip, and no float tells a tolerance there."""


class ChangeKind(StrEnum):
    """What a revision of a drawing does to a hole."""

    KEPT = "kept"
    MOVED = "moved"
    RESIZED = "resized"
    NEW = "new"
    RETIRED = "retired"


@dataclass(frozen=True, slots=True)
class KnownHole:
    """A hole as recorded: label, centre and diameter [in] on the recorded axes."""

    label: str
    x: float
    y: float
    diameter: float


@dataclass(frozen=True, slots=True)
class HoleChange:
    """What became of one hole. Equality is by value.

    `before` is None for a new hole, `after` for a retired one; `after` bears the permanent
    label. `distance` [in] is how far the hole is from its old place once the drawings are
    aligned, 0 for a new or retired one. A moved hole is of its old size; a resized one has stayed
    in its place.
    """

    kind: ChangeKind
    label: str
    distance: float
    before: KnownHole | None
    after: Hole | None


@dataclass(frozen=True, slots=True)
class Revision:
    """A revised drawing against the recorded holes. Equality is by value.

    `changes` has every hole once, in the order of the labels. `labels` are the permanent labels
    of the new holes, in the order in which they were given. `alignment` takes recorded places to
    the axes of the new drawing. `rivals` are other moves that fit no worse.
    """

    changes: tuple[HoleChange, ...]
    labels: tuple[str, ...]
    alignment: Alignment
    rivals: tuple[Alignment, ...]
    notices: tuple[Notice, ...]

    @property
    def shift(self) -> tuple[float, float]:
        """How far [in] the holes were shifted, after the turn about the drawing's zero."""
        return self.alignment.dx, self.alignment.dy

    @property
    def turn(self) -> float:
        """By how much [deg] the holes were turned, counter-clockwise."""
        return self.alignment.turn

    def of_kind(self, kind: ChangeKind) -> tuple[HoleChange, ...]:
        """The changes of one kind, in the order of the labels."""
        return tuple(change for change in self.changes if change.kind == kind)

    def on_recorded_axes(self, x: float, y: float) -> tuple[float, float]:
        """A place [in] of the new drawing on the axes of the recorded holes.

        What is recorded has to stay on one set of axes: after the zero has moved, places of new
        and moved holes go through here.
        """
        place = self.alignment.undo(np.array([complex(x, y)]))[0]
        return float(place.real), float(place.imag)


def match_revision(
    known: Sequence[KnownHole],
    retired_labels: Collection[str],
    new: Sequence[Hole],
    rows: Sequence[Row],
    tolerance: float = SAME_PLACE,
    alignment: Alignment | None = None,
) -> Revision:
    """Say which hole of a revised drawing is which recorded hole.

    Parameters
    ----------
    known : sequence of KnownHole
        The holes that the part has until now. May be empty: then all are new.
    retired_labels : collection of str
        Labels that holes of the part have had and that are never given again.
    new : sequence of Hole
        The holes of the revised drawing, in any order; their own labels are not looked at.
    rows : sequence of Row
        Rows of `new`; `Row.places` are indices into it.
    tolerance : float [in]
        How near two holes have to be to be in the same place.
    alignment : Alignment, optional
        How the new drawing lies, where the builder has settled it; found where it is None.

    Returns
    -------
    Revision
        The same whatever the order of `known`, `new` and `rows`.

        The drawing is read as unmoved unless a shift brings together at least two holes more,
        or a turn with a shift three more, and a third of the fewer holes. It is also read as
        unmoved where a move would only explain that some holes were moved against the rest.

        A new hole takes the next number of the row of its nearest neighbour in the row; a row
        without a known neighbour takes the next letter, a hole of no row the next X.

    Raises
    ------
    GeometryError
        A coordinate or diameter is not finite, or too far out; a row has a hole that is not
        there; the tolerance is not above 0.
    SelectionError
        A label is none.
    """
    _check(new, rows, tolerance)
    known = sorted(known, key=lambda hole: (hole.x, hole.y, hole.diameter, label_key(hole.label)))
    order = sorted(range(len(new)), key=lambda place: _place_key(new[place]))
    before, after = _spots(known), _spots([new[place] for place in order])
    chosen, rivals = _choose(before, after, tolerance, alignment)
    aligned = Spots(chosen.move.apply(before.at), before.diameters)
    pairing = pair_holes(aligned, after, tolerance)
    partner = [order[place] if place >= 0 else None for place in pairing.partner.tolist()]
    labels = _labels(known, partner, retired_labels, new, rows)
    return Revision(
        _changes(known, partner, pairing, new, labels),
        labels,
        chosen.move,
        tuple(rival.move for rival in rivals),
        tuple(_notices(before, after, chosen, rivals, tolerance)),
    )


def _place_key(hole: Hole) -> tuple[float, float, float, str]:
    return hole.x, hole.y, hole.diameter, hole.label


def _spots(holes: Sequence[KnownHole] | Sequence[Hole]) -> Spots:
    flat = np.array([(hole.x, hole.y, hole.diameter) for hole in holes], dtype=float).reshape(-1, 3)
    # written so that NaN is refused
    bad = np.flatnonzero(~(np.abs(flat) <= _FARTHEST).all(axis=1))
    if len(bad):
        hole = holes[int(bad[0])]
        raise GeometryError(
            f"hole {hole.label} at ({hole.x:g}, {hole.y:g}) in, diameter {hole.diameter:g} in:"
            f" not finite, or beyond {_FARTHEST:g} in. Correct it in the drawing."
        )
    return Spots(flat[:, 0] + 1j * flat[:, 1], flat[:, 2].copy())


def _check(new: Sequence[Hole], rows: Sequence[Row], tolerance: float) -> None:
    if not 0 < tolerance < _FARTHEST:
        raise GeometryError(f"a tolerance of {tolerance} in is none; it has to be above 0.")
    held = [place for row in rows for place in row.places]
    if held and not 0 <= min(held) <= max(held) < len(new):
        raise GeometryError(
            f"a row has hole {max(held)} of a drawing with {len(new)} holes; rows and holes have"
            " to be of one drawing."
        )


# The reading -----------------------------------------------------------------------------------


def _choose(
    known: Spots, new: Spots, tolerance: float, settled: Alignment | None
) -> tuple[Answer, list[Answer]]:
    """The move that is taken, and others that fit no worse."""
    chosen = count_kept(known, new, settled or UNMOVED, tolerance)
    complete = chosen.kept == len(known) == len(new)
    if settled is not None or complete or not (len(known) and len(new)):
        return chosen, []
    answers = [chosen, *find_shifts(known, new, tolerance)]
    chosen = _better(known, new, chosen, answers[1:], tolerance)
    if not chosen.kept == len(known) == len(new):
        turns = find_turns(known, new, tolerance)
        chosen = _better(known, new, chosen, turns, tolerance)
        answers += turns
    # counted again, since it was refined once more after it was counted
    chosen = count_kept(known, new, chosen.move, tolerance)
    return chosen, _rivals(known, new, chosen, answers, tolerance)


def _rivals(
    known: Spots, new: Spots, chosen: Answer, answers: list[Answer], tolerance: float
) -> list[Answer]:
    """Answers that fit no worse than the one chosen, and do not say the same."""
    told = [chosen.move.apply(known.at)]
    rivals = []
    for answer in sorted(answers, key=lambda answer: answer.order):
        fits = (answer.kept, answer.same_size) >= (chosen.kept, chosen.same_size)
        if not (fits and _is_credible(answer, known, new)):
            continue
        places = answer.move.apply(known.at)
        if all(float(np.abs(places - other).max()) > 2 * tolerance for other in told):
            told.append(places)
            rivals.append(answer)
    return rivals


def _evidence(move: Alignment) -> int:
    if move.is_unmoved:
        return 0
    return _EVIDENCE_TURN if move.turn else _EVIDENCE_SHIFT


def _is_credible(answer: Answer, known: Spots, new: Spots) -> bool:
    least = LEAST_SHARE * min(len(known), len(new))
    return answer.kept >= max(least, _evidence(answer.move))


def _better(
    known: Spots, new: Spots, chosen: Answer, answers: list[Answer], tolerance: float
) -> Answer:
    """The first of `answers` if it explains clearly more than `chosen`."""
    if not answers:
        return chosen
    best = answers[0]
    gain = best.kept - chosen.kept
    if gain < max(1, _evidence(best.move)) or not _is_credible(best, known, new):
        return chosen
    if chosen.move.is_unmoved and _holes_moved(known, new, best.move, tolerance):
        return chosen
    return best


def _holes_moved(known: Spots, new: Spots, move: Alignment, tolerance: float) -> bool:
    """Whether the move is that of some holes against the rest, rather than of the zero.

    So it is where no fewer holes are identified without it, and a good part of those that tell
    the two readings apart have stayed where they were.
    """
    stay = pair_holes(known, new, tolerance)
    moved = pair_holes(Spots(move.apply(known.at), known.diameters), new, tolerance)
    if stay.identified < moved.identified:
        return False
    against = np.count_nonzero(stay.kept & ~moved.kept)
    return bool(against >= HOLES_MOVED * (against + np.count_nonzero(moved.kept & ~stay.kept)))


# Labels ----------------------------------------------------------------------------------------


def _labels(
    known: Sequence[KnownHole],
    partner: Sequence[int | None],
    retired: Iterable[str],
    new: Sequence[Hole],
    rows: Sequence[Row],
) -> tuple[str, ...]:
    """The permanent label of every new hole."""
    labels = [""] * len(new)
    for hole, place in zip(known, partner, strict=True):
        if place is not None:
            labels[place] = hole.label
    numbers = FreeLabels([*(hole.label for hole in known), *retired])
    for row in sorted(rows, key=lambda row: (len(row.letter), row.letter)):
        _label_row(row, labels, numbers)
    single = [place for place, label in enumerate(labels) if not label]
    single.sort(key=lambda place: _place_key(new[place]))
    centres = np.array([(new[place].x, new[place].y) for place in single]).reshape(-1, 2)
    for number in reading_order(centres).tolist():
        labels[single[number]] = numbers.next_label(SINGLE)
    return tuple(labels)


class FreeLabels:
    """Labels that are given out, row by row; none is given twice.

    Parameters
    ----------
    labels : iterable of str
        Every label that was ever given.
    """

    def __init__(self, labels: Iterable[str]) -> None:
        self._highest: dict[str, int] = {}
        for label in labels:
            _, letter, number = label_key(label)
            self._highest[letter] = max(number, self._highest.get(letter, 0))

    def next_label(self, letter: str) -> str:
        """Give out the next label of a row."""
        self._highest[letter] = self._highest.get(letter, 0) + 1
        return f"{letter}{self._highest[letter]}"

    def next_letter(self) -> str:
        """Return the letter of the next new row."""
        return next(letter for letter in row_letters() if letter not in self._highest)


def _label_row(row: Row, labels: list[str], numbers: FreeLabels) -> None:
    """Fill in the labels of the holes of a row that have none."""
    fresh = [step for step, place in enumerate(row.places) if not labels[place]]
    if not fresh:
        return
    letters = [label_key(labels[place])[1] if labels[place] else "" for place in row.places]
    lettered = [step for step, letter in enumerate(letters) if letter not in ("", SINGLE)]
    if not lettered:
        letters.append(numbers.next_letter())
    for step in fresh:
        near = _nearest_step(step, lettered, len(row.places), closed=row.closed)
        labels[row.places[step]] = numbers.next_label(letters[near])


def _nearest_step(step: int, lettered: Sequence[int], size: int, *, closed: bool) -> int:
    """The lettered step nearest to one of a row of `size`; of two the one before it."""
    if not lettered:
        return size
    place = bisect(lettered, step)
    before = lettered[place - 1] if place or closed else None
    after = lettered[place % len(lettered)] if place < len(lettered) or closed else None
    if before is None or after is None:
        return next(near for near in (before, after) if near is not None)
    return before if (step - before) % size <= (after - step) % size else after


# The result ------------------------------------------------------------------------------------


def _changes(
    known: Sequence[KnownHole],
    partner: Sequence[int | None],
    pairing: Pairing,
    new: Sequence[Hole],
    labels: Sequence[str],
) -> tuple[HoleChange, ...]:
    found = []
    kinds = np.where(pairing.same_size, ChangeKind.KEPT, ChangeKind.RESIZED)
    kinds[~pairing.kept] = ChangeKind.MOVED
    moved = zip(known, partner, kinds.tolist(), pairing.distance.tolist(), strict=True)
    for hole, place, kind, away in moved:
        if place is None:
            found.append(HoleChange(ChangeKind.RETIRED, hole.label, 0.0, hole, None))
        else:
            after = replace(new[place], label=hole.label)
            found.append(HoleChange(ChangeKind(kind), hole.label, away, hole, after))
    held = set(partner)
    for place, label in enumerate(labels):
        if place not in held:
            after = replace(new[place], label=label)
            found.append(HoleChange(ChangeKind.NEW, label, 0.0, None, after))
    return tuple(sorted(found, key=lambda change: label_key(change.label)))


def _notices(
    known: Spots, new: Spots, chosen: Answer, rivals: list[Answer], tolerance: float
) -> Iterable[Notice]:
    total = f"{chosen.kept} of {len(known)} recorded holes"
    if not chosen.move.is_unmoved:
        unmoved = count_kept(known, new, UNMOVED, tolerance).kept
        yield Notice(
            "revision.zero-moved",
            f"the drawing is taken as {_words(chosen.move)} against the record: so {total} lie"
            f" where they were, and {unmoved} as drawn",
        )
    if rivals:
        more = f", and in {len(rivals) - 1} more ways" if len(rivals) > 1 else ""
        yield Notice(
            "revision.ambiguous",
            f"{total} lie where they were with the drawing {_words(chosen.move)}, and"
            f" {rivals[0].kept} with it {_words(rivals[0].move)}{more}; it is taken as"
            f" {_words(chosen.move)}. See that this is so before it is recorded",
        )
    share = chosen.kept / max(1, min(len(known), len(new)))
    if share < MOST_KEPT_MIRRORED and (
        _kept_mirrored(known, new, tolerance) - chosen.kept >= _EVIDENCE_TURN
    ):
        yield Notice(
            "revision.mirrored",
            f"more than the {total} that lie where they were do so in a mirror image: this is"
            " perhaps the drawing of the other hand",
        )
    elif share < LEAST_SHARE and len(known) and len(new):
        yield Notice(
            "revision.few-kept",
            f"only {total} lie where they were, and no shift or turn brings enough of them"
            " together: this is perhaps the drawing of another part",
        )


def _kept_mirrored(known: Spots, new: Spots, tolerance: float) -> int:
    """How many holes would be kept if the new drawing were a mirror image."""
    order = np.lexsort((known.at.imag, -known.at.real))
    mirrored = Spots(-known.at[order].conjugate(), known.diameters[order])
    answers = find_shifts(mirrored, new, tolerance) + find_turns(mirrored, new, tolerance)
    return max((answer.kept for answer in answers), default=0)


def _words(move: Alignment) -> str:
    if move.is_unmoved:
        return "unmoved"
    turned = f"turned by {move.turn:.3f}° about its zero" if move.turn else ""
    shifted = f"shifted by ({move.dx:.3f}, {move.dy:.3f}) in"
    if turned and max(abs(move.dx), abs(move.dy)) < SAME_PLACE:
        return turned
    return f"{turned} and {shifted}" if turned else shifted
