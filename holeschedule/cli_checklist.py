"""The commands of the checklist: a spreadsheet out, and its ticks back in."""

# The library is imported when a command runs, not for its help.
# ruff: noqa: PLC0415

from __future__ import annotations

from typing import Any

import click

from holeschedule.cli_common import DONE, Command, write

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
