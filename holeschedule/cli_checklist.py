"""The commands of the checklist: a spreadsheet out, and its ticks back in."""

# The library is imported when a command runs, not for its help.
# ruff: noqa: PLC0415

from __future__ import annotations

from typing import Any

import click

from holeschedule.cli_common import DONE, FINDINGS, Command, write
from holeschedule.errors import ChecklistError

BUILD = click.option(
    "--build", metavar="DIR", help="The build.  [default: the one found from here up]"
)


@click.command(cls=Command)
@click.argument("out", metavar="OUT.xlsx")
@click.argument("selection", nargs=-1, metavar="[SELECTION ...]")
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    help="Paper to print on.  [default: letter for inches, a4 for millimetres]",
)
@click.option("--csv", "as_csv", is_flag=True, help="Write CSV files into the new folder OUT.")
@click.option("--replace", is_flag=True, help="Replace OUT.xlsx, with all that is ticked in it.")
@BUILD
def checklist(out: str, selection: tuple[str, ...], build: str | None, **options: Any) -> int:
    """Write every hole of the build, or those selected, into a spreadsheet.

    It is to be printed and ticked, or ticked on the screen; collect reads the ticks back.

    Example: holeschedule checklist bay.xlsx FL-101 FL-103:A
    """
    from pathlib import Path

    from holeschedule.views.checklist_write import write_checklist, write_csv_folder
    from holeschedule.views.text import plural
    from holeschedule.work.listing import checklist_of
    from holeschedule.work.opened import open_build

    path = Path(out)
    with open_build(build) as opened:
        listed = checklist_of(opened, " ".join(selection))
    holes = sum(len(part.rows) for part in listed.parts)
    told = f"{plural(len(listed.parts), 'part')}, {plural(holes, 'hole')}"
    if options["as_csv"]:
        files = write_csv_folder(path, listed)
        write(f"{out}: {told}, in {', '.join(files)}.\n")
        return DONE
    write_checklist(path, listed, options["paper"] or "", replace=options["replace"])
    write(f"{out}: {told}. Tick it, save it, then: holeschedule collect {out}\n")
    return DONE


@click.command(cls=Command)
@click.argument("workbook", metavar="IN.xlsx")
@click.option("--yes", is_flag=True, help="Record without asking.")
@click.option("--dry-run", is_flag=True, help="Only say what would be recorded.")
@click.option("--by", metavar="NAME", help="Who.  [default: $HOLESCHEDULE_BY, else the login name]")
@click.option("--at", metavar="TIME", help="When it was done.  [default: the latest day ticked]")
@click.option("--note", default="", metavar="TEXT", help="A line to keep with it.")
@BUILD
def collect(workbook: str, build: str | None, **options: Any) -> int:
    """Record what was ticked in a checklist since it was written.

    Shows what it would record, and asks. What cannot be recorded is listed with its cell, and the
    exit status is then 1. Reading a workbook twice records nothing twice.

    Example: holeschedule collect bay.xlsx
    """
    from pathlib import Path

    from holeschedule.views.checklist_read import read_checklist
    from holeschedule.views.checklist_write import lock_of
    from holeschedule.work.collected import proposal_lines
    from holeschedule.work.collecting import propose, record_proposal
    from holeschedule.work.opened import open_build, time_of, worker

    path = Path(workbook)
    who, at = worker(options["by"]), time_of(options["at"])
    with open_build(build) as opened:
        sheets = read_checklist(path)
        if lock_of(path) is not None:
            write(f"{workbook}: is open in another program; what was last saved is read.\n")
        proposal = propose(opened, path.name, sheets)
        write("".join(f"{line}\n" for line in proposal_lines(opened, proposal)))
        if proposal.accepted and not options["dry_run"] and _agreed(yes=options["yes"]):
            entry = record_proposal(opened, proposal, who, options["note"], at)
            write(f"Recorded as entry {entry}. Undo: holeschedule undo\n")
    return FINDINGS if proposal.listed else DONE


def _agreed(*, yes: bool) -> bool:
    """Ask; where nobody can answer, say how to do without."""
    if yes:
        return True
    try:
        agreed = click.confirm("Record this?")
    except click.Abort as error:
        raise ChecklistError("nobody answered. Nothing was recorded; say --yes.") from error
    if not agreed:
        write("Nothing was recorded.\n")
    return agreed
