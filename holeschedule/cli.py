"""The command line: parse, call, print; the one place where errors become text and exit status.

Exit status: 0 done and clean; 1 done, with findings that miss a rule; 2 could not be done.
A command is imported when it is called, and what it needs when it runs.
"""

from __future__ import annotations

from collections.abc import Sequence

import click

from holeschedule import __version__
from holeschedule.cli_common import DONE, Group, failed, quiet_streams, write_no_more
from holeschedule.errors import HoleScheduleError

INTERRUPTED = 130

_AUDIT, _BUILD, _MARKS, _PICTURES = (
    f"holeschedule.cli_{name}" for name in ("audit", "build", "marks", "pictures")
)
_CHECKLIST, _JOINTS = "holeschedule.cli_checklist", "holeschedule.cli_joints"

COMMANDS = {
    "demo": ("holeschedule.cli_demo", "demo", "The whole job on the demo drawings."),
    "audit": (_AUDIT, "audit", "Check the holes of part drawings, or of a build."),
    "new": (_BUILD, "new", "Start a build."),
    "import": (_BUILD, "import_", "Bring a drawing, or its revision, into a build."),
    "join": (_JOINTS, "join", "Define a joint: which parts one lot of rivets holds."),
    "fit": (_JOINTS, "fit", "Try how a part fits on another."),
    "rivets": (_JOINTS, "rivets", "List the rivets: by joint, in all, to buy."),
    "mark": (_MARKS, "mark", "Record work on holes or parts."),
    "undo": (_MARKS, "undo", "Take an entry back."),
    "reject": (_MARKS, "reject", "Reject holes, with the reason."),
    "accept": (_MARKS, "accept", "Accept rejected holes after all."),
    "drill-out": (_MARKS, "drill_out", "Record rivets drilled out."),
    "replace": (_MARKS, "replace", "Record a part made anew."),
    "measure": (_MARKS, "measure", "Record a measurement at a hole."),
    "status": (_BUILD, "status", "How far the build is."),
    "next": (_BUILD, "next_", "What can be done now, and what blocks the rest."),
    "checklist": (_CHECKLIST, "checklist", "Every hole in a spreadsheet, to be ticked."),
    "collect": (_CHECKLIST, "collect", "Record what was ticked in a spreadsheet."),
    "picture": (_PICTURES, "picture", "Draw a part: holes, rows, findings, work done."),
    "sheet": (_PICTURES, "sheet", "Print a part for the wall: picture, and boxes to tick."),
    "report": (_PICTURES, "report", "Write the whole build on one page."),
    "template": (_PICTURES, "template", "Print a part full size, to be laid on the sheet."),
    "history": (_BUILD, "history", "Who did what, and when."),
    "verify": (_BUILD, "verify", "Check that the record is whole."),
}
"""Module and function of each command, and what the list of commands says of it."""


def run(arguments: Sequence[str]) -> int:
    """Run one command; returns the exit status."""
    quiet_streams()
    try:
        status = cli.main(list(arguments), "holeschedule", standalone_mode=False)
    except click.Abort:
        return INTERRUPTED
    except click.ClickException as error:
        message = error.format_message().rstrip()
        end = "" if message.endswith((".", "?", "!")) else "."
        return failed(f"{message}{end} Try: {_help_of(error)}")
    except HoleScheduleError as error:
        return failed(str(error))
    except (BrokenPipeError, SystemExit):
        # the reader of a pipe has seen enough: for click, which knows that first, a reason to exit
        write_no_more()
        return DONE
    except MemoryError:
        return failed("out of memory: the drawing is too large for this machine.")
    return status if isinstance(status, int) else DONE


def _help_of(error: click.ClickException) -> str:
    context = getattr(error, "ctx", None)
    return f"{context.command_path if context else 'holeschedule'} --help"


def _show_version(context: click.Context, _: click.Parameter, asked: bool) -> None:  # noqa: FBT001 (click)
    if asked and not context.resilient_parsing:
        click.echo(f"holeschedule {__version__}")
        context.exit()


@click.group(
    cls=Group,
    lazy=COMMANDS,
    context_settings={"help_option_names": ["--help"], "max_content_width": 100},
    invoke_without_command=True,
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_version,
    help="Show the version and exit.",
)
@click.pass_context
def cli(context: click.Context) -> None:
    """Find, check and schedule the rivet holes of sheet-metal parts from their DXF drawings.

    Example: holeschedule audit fl-101.dxf
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())
