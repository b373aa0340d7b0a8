"""The command line: parse, call, print; the one place where errors become text and exit status.

Exit status: 0 done and clean; 1 done, with findings that miss a rule; 2 could not be done.
Heavy modules are imported by the command that needs them.
"""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from holeschedule import __version__
from holeschedule.errors import HoleScheduleError
from holeschedule.views.explain import CAUTION
from holeschedule.views.text import printable

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from holeschedule.audit.files import FileAudit

DONE, FINDINGS, FAILED = 0, 1, 2
INTERRUPTED = 130


def run(arguments: Sequence[str]) -> int:
    """Run one command; returns the exit status."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        status = cli.main(list(arguments), "holeschedule", standalone_mode=False)
    except click.Abort:
        return INTERRUPTED
    except click.ClickException as error:
        return _failed(f"{error.format_message()} Try: {_help_of(error)}")
    except HoleScheduleError as error:
        return _failed(str(error))
    except (BrokenPipeError, SystemExit):
        # the reader of a pipe has seen enough: for click, which knows that first, a reason to exit
        _write_no_more()
        return DONE
    except MemoryError:
        return _failed("out of memory: the drawing is too large for this machine.")
    return status if isinstance(status, int) else DONE


def _write(text: str) -> None:
    """Write the result of a command to stdout."""
    try:
        click.echo(text, nl=False)
    except BrokenPipeError:
        raise
    except OSError as error:
        _write_no_more()
        raise HoleScheduleError(f"the output cannot be written: {error.strerror}.") from error


def _write_no_more() -> None:
    """Lead stdout to nowhere, so that what is left in it raises nothing at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _failed(message: str) -> int:
    click.echo(f"holeschedule: {printable(message)}", err=True)
    return FAILED


def _help_of(error: click.ClickException) -> str:
    context = getattr(error, "ctx", None)
    return f"{context.command_path if context else 'holeschedule'} --help"


@click.group(
    context_settings={"help_option_names": ["--help"], "max_content_width": 100},
    invoke_without_command=True,
    epilog=CAUTION,
)
@click.version_option(__version__, prog_name="holeschedule", message="%(prog)s %(version)s")
@click.pass_context
def cli(context: click.Context) -> None:
    """Find, check and schedule the rivet holes of sheet-metal parts from their DXF drawings.

    Example: holeschedule audit fl-101.dxf
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


# audit -----------------------------------------------------------------------------------------


@cli.command(short_help="Check the holes of part drawings.", epilog=CAUTION)
@click.argument("files", nargs=-1, required=True, metavar="FILE.dxf ...")
@click.option("--rivet", metavar="SIZE", help="Rivet of all holes: 3/32, 1/8 or a dash number.")
@click.option("--head", type=click.Choice(["protruding", "flush"]), help="Head of all rivets.")
@click.option(
    "--rules",
    default="faa",
    show_default=True,
    metavar="NAME|FILE",
    help="Rule set: faa, mil-r-47196a, navedtra, or the .toml file of your own.",
)
@click.option("--units", metavar="UNIT", help="Unit the drawing is in: in, mm. Overrides the file.")
@click.option(
    "--show", type=click.Choice(["in", "mm"]), help="Unit of the output.  [default: the drawing's]"
)
@click.option(
    "--layer",
    "layers",
    multiple=True,
    metavar="NAME=ROLE",
    help="Role of a layer: outline, holes, cutouts, bend, trim, ignored; holes:0.098 for POINTs.",
)
@click.option("--gap", metavar="LENGTH", help="Join line ends this far apart.  [default: 0.002in]")
@click.option(
    "--largest-hole", metavar="LENGTH", help="Larger circles are cutouts.  [default: 0.328in]"
)
@click.option("--part", type=int, metavar="N", help="Only part N of a drawing, from the left.")
@click.option("--holes", "every_hole", is_flag=True, help="List every hole, not every row.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--csv", "as_csv", is_flag=True, help="Print one CSV line a hole.")
def audit(files: tuple[str, ...], **options: Any) -> int:
    """Find the holes of part drawings and check edge distance and spacing.

    Nothing is changed. Ends with status 1 when a rule is missed, 2 when a drawing can't be read.

    Example: holeschedule audit fl-101.dxf --head flush
    """
    from holeschedule.audit.files import audit_files  # noqa: PLC0415 - heavy
    from holeschedule.options import audit_request  # noqa: PLC0415 - heavy

    request = audit_request(options)
    paths = [Path(name) for name in files]
    with _progress(len(paths), "Reading drawings") as step:
        results = audit_files(paths, request, step)
    return _print_audit(results, request.rules.name, options)


@cli.command(short_help="Audit the demo drawings.", epilog=CAUTION)
def demo() -> int:
    """Audit the demo drawings: an invented float bay with planted faults.

    Example: holeschedule demo
    """
    from holeschedule.audit.files import AuditRequest, audit_files  # noqa: PLC0415 - heavy
    from holeschedule.audit.rules import load_rule_set  # noqa: PLC0415 - heavy
    from holeschedule.samples import sample_drawings  # noqa: PLC0415 - with the heavy ones

    request = AuditRequest(load_rule_set("faa"))
    paths = sample_drawings()
    with _progress(len(paths), "Reading drawings") as step:
        results = audit_files(paths, request, step)
    _print_audit(results, request.rules.name, {})
    _write("\nThe demo is invented: its faults are planted, to be found. Not for building.\n")
    return FAILED if any(result.error for result in results) else DONE


def _print_audit(results: list[FileAudit], rules: str, options: dict[str, Any]) -> int:
    from holeschedule.views.audit_output import audit_text  # noqa: PLC0415 - heavy

    _write(audit_text(results, rules, options))
    for result in results:
        if result.error:
            _failed(str(result.error))
    if any(result.error for result in results):
        return FAILED
    return FINDINGS if any(part.fails for r in results for part in r.parts) else DONE


@contextmanager
def _progress(steps: int, label: str) -> Iterator[Callable[[Path], None] | None]:
    """A bar on the terminal for more than one step; nothing in a pipe or a log."""
    if steps < 2 or not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=steps, label=label, file=sys.stderr) as bar:
        yield lambda _: bar.update(1)
