"""The commands that record work: mark, the faults, undo. Light, so that they are done at once."""

# The library is imported when a command runs, not for its help.
# ruff: noqa: PLC0415

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import click

from holeschedule.cli_common import DONE, FINDINGS, Command, write
from holeschedule.errors import HoleScheduleError

Function = Callable[..., Any]

BUILD = click.option(
    "--build", metavar="DIR", help="The build.  [default: the one found from here up]"
)
BY = click.option(
    "--by", metavar="NAME", help="Who.  [default: $HOLESCHEDULE_BY, else the login name]"
)
AT = click.option("--at", metavar="TIME", help="When it was done: 2026-03-05, or 16:30 today.")
NOTE = click.option("--note", default="", metavar="TEXT", help="A line to keep with it.")
PARTLY = click.option(
    "--partly", is_flag=True, help="Record what can be; else nothing is, if any hole is refused."
)


def _about_work(function: Function) -> Function:
    """Give a command the options that all work has."""
    for option in (BUILD, PARTLY, AT, BY, NOTE):
        function = option(function)
    return function


def _record(
    selection: tuple[str, ...] | str, what: str, options: dict[str, Any], **more: Any
) -> int:
    from holeschedule.work.marking import Work, record_work
    from holeschedule.work.opened import open_build, time_of, worker

    text = selection if isinstance(selection, str) else " ".join(selection)
    work = Work(
        text,
        what,
        worker(options["by"]),
        options["note"],
        time_of(options["at"]),
        partial=options["partly"],
        **more,
    )
    with open_build(options["build"]) as opened:
        marked = record_work(opened, work)
    _tell(marked.lines)
    return FINDINGS if marked.left_out or marked.misses else DONE


def _tell(lines: Iterable[str]) -> None:
    from holeschedule.views.text import hanging

    write("".join(f"{line}\n" for told in lines for line in hanging("", told)))


@click.command(cls=Command)
@click.argument("words", nargs=-1, required=True, metavar="SELECTION ... OPERATION")
@_about_work
@click.option("--as-found", is_flag=True, help="Out of order all the same; needs --note.")
def mark(words: tuple[str, ...], as_found: bool, **options: Any) -> int:  # noqa: FBT001 (click)
    """Record work on holes or parts.

    On holes: drill, match-drill, deburr, dimple, countersink, rivet. On whole parts: cut, trim,
    deburr edges, flute, scuff, prime. Marking twice is harmless. Ends with status 2 and records
    nothing where something else has to come first; the message says what.

    Example: holeschedule mark FL-101:C3-C9 FL-101:D deburr
    """
    from holeschedule.work.marking import split_words

    selection, what = split_words(words)
    return _record(selection, what, options, as_found=as_found)


@click.command(cls=Command)
@click.argument("selection", nargs=-1, required=True, metavar="SELECTION ...")
@click.argument("reason")
@_about_work
def reject(selection: tuple[str, ...], reason: str, **options: Any) -> int:
    """Reject holes: oversize, elongated, figure-eight, cracked or edge.

    Nothing more is done on them until they are accepted or the part is replaced.

    Example: holeschedule reject FL-101:C7 figure-eight
    """
    return _record(selection, "reject", options, detail=reason.lower())


@click.command(cls=Command)
@click.argument("selection", nargs=-1, required=True, metavar="SELECTION ...")
@_about_work
def accept(selection: tuple[str, ...], **options: Any) -> int:
    """Accept rejected holes after all; --note says what was decided.

    Example: holeschedule accept FL-101:C7 --note "next rivet size up, agreed"
    """
    return _record(selection, "accept", options)


@click.command("drill-out", cls=Command)
@click.argument("selection", nargs=-1, required=True, metavar="SELECTION ...")
@_about_work
def drill_out(selection: tuple[str, ...], **options: Any) -> int:
    """Record that rivets were drilled out.

    Example: holeschedule drill-out FL-101:C7
    """
    return _record(selection, "drill out", options)


@click.command(cls=Command)
@click.argument("selection", nargs=-1, required=True, metavar="PART ...")
@_about_work
def replace(selection: tuple[str, ...], **options: Any) -> int:
    """Record that a part was made anew: its holes start again. Needs --note.

    Example: holeschedule replace FL-107#2 --note "cracked at the bend"
    """
    return _record(selection, "replace", options)


@click.command(cls=Command)
@click.argument("selection", nargs=-1, required=True, metavar="SELECTION ...")
@click.argument("what")
@click.argument("value")
@_about_work
def measure(selection: tuple[str, ...], what: str, value: str, **options: Any) -> int:
    """Record a measurement: hole-diameter, edge-distance, shop-head-width, shop-head-height.

    VALUE is a length, in inches unless it says mm. A shop head is held against the limits of the
    build's rules; one outside them is recorded all the same, and ends with status 1.

    Example: holeschedule measure FL-101:C7 shop-head-width 0.141
    """
    from holeschedule.units import LengthUnit, parse_length

    measured = _measure_named(what)
    inches = parse_length(value, LengthUnit.INCH)
    return _record(selection, "measure", options, detail=measured, value=inches)


def _measure_named(text: str) -> str:
    """What is measured, from the word for it on the command line."""
    from holeschedule.data import choose_from
    from holeschedule.record.events import Measure

    words = {str(measure).replace(" ", "-"): str(measure) for measure in Measure}
    plain = "-".join(text.lower().replace("_", " ").replace("-", " ").split())
    if plain not in words:
        raise HoleScheduleError(f"{text!r} is nothing to measure; {choose_from(plain, words)}.")
    return words[plain]


@click.command(cls=Command)
@click.argument("entry", type=int, required=False)
@BUILD
@BY
@NOTE
def undo(entry: int | None, build: str | None, by: str | None, note: str) -> int:
    """Take back the last entry, or the one numbered; by a further entry, nothing is erased.

    Example: holeschedule undo
    """
    from holeschedule.work.marking import undo_work
    from holeschedule.work.opened import open_build, worker

    with open_build(build) as opened:
        lines = undo_work(opened, worker(by), entry, note)
    _tell(lines)
    return DONE
