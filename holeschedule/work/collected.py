"""What a workbook would have recorded, in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from holeschedule.record.plan import selections_of
from holeschedule.selection import Pick
from holeschedule.views.text import hanging, plural, printable
from holeschedule.work.collecting import Cell, Listed, Proposal
from holeschedule.work.marking import DONE_AS
from holeschedule.work.opened import OpenBuild

_MOST_CELLS = 12
_MOST_GROUPS = 60


def proposal_lines(opened: OpenBuild, proposal: Proposal) -> list[str]:
    """What would be recorded, and what is listed instead, with the cells."""
    lines: list[str] = []
    requests = proposal.requests()
    if requests:
        lines.append(f"{proposal.name}: to record")
    for request in requests:
        names = _names(opened, request.picks)
        whole = "hole" if request.picks[0].label else "part"
        count = plural(len(request.picks), whole)
        lines += hanging("  ", f"{names}: {count} {DONE_AS[request.what]}")
    lines += [line for said in proposal.warnings for line in hanging("  ", f"Warning: {said}.")]
    if proposal.listed:
        lines.append(f"{proposal.name}: not recorded")
        groups = list(_groups(opened, proposal.listed))
        lines += [line for said in groups[:_MOST_GROUPS] for line in hanging("  ", said)]
        if len(groups) > _MOST_GROUPS:
            lines.append(f"  and {len(groups) - _MOST_GROUPS} more such lines.")
    if proposal.unkept:
        where = _cells(proposal.unkept)
        lines += hanging("", f"Notes in rows without a new tick are not kept: {where}.")
    if proposal.already:
        verb = "is" if proposal.already == 1 else "are"
        lines.append(f"{plural(proposal.already, 'tick')} {verb} in the record already.")
    if not requests:
        lines.append(f"{proposal.name}: nothing to record.")
    return lines


def _names(opened: OpenBuild, picks: Sequence[Pick]) -> str:
    # the states are asked for here again: nothing was recorded since
    return " ".join(selections_of(picks, opened.record.states(), opened.intents.needs))


def _groups(opened: OpenBuild, listed: Iterable[Listed]) -> Iterator[str]:
    """Cells of one sheet with one reason together, as `FL-101!H7-H9: FL-101:C7-C9 deburr: ...`."""
    groups: dict[tuple[str, str, str], list[Listed]] = {}
    for one in listed:
        groups.setdefault((one.cell.sheet, one.what, one.reason), []).append(one)
    for (_, what, reason), members in groups.items():
        picks = [one.name for one in members if isinstance(one.name, Pick)]
        if picks:
            names = _names(opened, picks)
        else:
            found = list(dict.fromkeys(str(one.name) for one in members))
            names = ", ".join(found[:_MOST_CELLS])
        about = " ".join(filter(None, (names, what)))
        cells = _cells([one.cell for one in members])
        yield printable(f"{cells}: {about + ': ' if about else ''}{reason}.")


def _cells(cells: Sequence[Cell]) -> str:
    """Addresses with runs of rows together: `FL-101!H7-H9, H12`."""
    runs: list[tuple[str, str, int, int]] = []
    for sheet, letter, row in sorted(
        cells, key=lambda c: (c.sheet, len(c.letter), c.letter, c.row)
    ):
        if runs and runs[-1][:2] == (sheet, letter) and runs[-1][3] in (row, row - 1):
            runs[-1] = (*runs[-1][:3], row)
        else:
            runs.append((sheet, letter, row, row))
    told, last = [], None
    for sheet, letter, first, end in runs[:_MOST_CELLS]:
        head = "" if sheet == last else f"{sheet}!"
        last = sheet
        span = f"{letter}{first}" if first == end else f"{letter}{first}-{letter}{end}"
        told.append(f"{head}{span}" if letter else f"{head}row {span}")
    more = f" and {len(runs) - _MOST_CELLS} more" if len(runs) > _MOST_CELLS else ""
    return ", ".join(told) + more
