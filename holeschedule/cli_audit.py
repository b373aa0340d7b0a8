"""The command that checks holes: of drawings, or of the parts of a build."""

# The library is imported when the command runs, not for its help.
# ruff: noqa: PLC0415

from __future__ import annotations

import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from holeschedule.cli_common import DONE, FAILED, FINDINGS, Command, failed, write
from holeschedule.errors import HoleScheduleError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from holeschedule.audit.files import FileAudit


@click.command(cls=Command)
@click.argument("files", nargs=-1, metavar="FILE.dxf ... | PART ...")
@click.option("--rivet", metavar="SIZE", help="Rivet of all holes: 3/32, 1/8 or a dash number.")
@click.option("--head", type=click.Choice(["protruding", "flush"]), help="Head of all rivets.")
@click.option(
    "--rules",
    metavar="NAME|FILE",
    help="Rule set: faa, mil-r-47196a, navedtra, or the .toml file of your own.  [default: faa, or"
    " the build's]",
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
@click.option("--build", metavar="DIR", help="The build.  [default: the one found from here up]")
def audit(files: tuple[str, ...], **options: Any) -> int:
    """Find the holes of part drawings and check edge distance and spacing.

    In a build: of its parts, by their ids, or of all; heads, rivets and rules are then those of
    build.toml. Nothing is changed. Ends with status 1 when a rule is missed, 2 when a drawing
    can't be read.

    Example: holeschedule audit fl-101.dxf --head flush
    """
    build = options.pop("build")
    if build is not None or _are_parts(files):
        return _audit_build(files, build, options)
    if not files:
        raise click.UsageError("Missing argument 'FILE.dxf ...'.", click.get_current_context())
    from holeschedule.audit.files import audit_files
    from holeschedule.options import audit_request

    request = audit_request(options)
    paths = [Path(name) for name in files]
    with progress(len(paths), "Reading drawings") as step:
        results = audit_files(paths, request, step)
    return print_audit(results, request.rules.name, options)


def _are_parts(names: tuple[str, ...]) -> bool:
    """Whether a build is meant: no name is that of a drawing, and there is a build here."""
    if any(name.lower().endswith(".dxf") or Path(name).exists() for name in names):
        return False
    from holeschedule.errors import BuildError
    from holeschedule.work.opened import find_folder

    try:
        find_folder(None)
    except BuildError as error:
        if not names:
            return False
        raise HoleScheduleError(
            f"{names[0]}: no such file, and no build here or above that could have such a part."
            " Name a .dxf file, or the build with --build DIR."
        ) from error
    return True


_OF_DRAWINGS = ("rivet", "head", "units", "layers", "gap", "largest_hole", "part")


def _audit_build(names: tuple[str, ...], build: str | None, options: dict[str, Any]) -> int:
    stated = [name for name in _OF_DRAWINGS if options[name]]
    if stated:
        option = f"--{stated[0].removesuffix('s') if stated[0] == 'layers' else stated[0]}"
        raise HoleScheduleError(
            f"{option.replace('_', '-')} is for drawings; of a part in a build build.toml says it."
        )
    from holeschedule.audit.files import FileAudit
    from holeschedule.views.audit_output import audit_text
    from holeschedule.work.auditing import audit_all
    from holeschedule.work.opened import open_build

    with open_build(build) as opened:
        found = audit_all(opened, " ".join(names), options["rules"])
    results = [FileAudit(Path(audit.part.drawing), (audit,)) for audit in found.parts]
    shown = {**options, "show": options.get("show") or found.units}
    write(audit_text(results, found.rules.name, shown, found))
    return FINDINGS if found.fails else DONE


def print_audit(results: list[FileAudit], rules: str, options: dict[str, Any]) -> int:
    """Print audits of files and say what could not be read; returns the exit status."""
    from holeschedule.views.audit_output import audit_text

    write(audit_text(results, rules, options))
    for result in results:
        if result.error:
            failed(str(result.error))
    if any(result.error for result in results):
        return FAILED
    return FINDINGS if any(part.fails for r in results for part in r.parts) else DONE


@contextmanager
def progress(steps: int, label: str) -> Iterator[Callable[[Path], None] | None]:
    """A bar on the terminal for more than one step; nothing in a pipe or a log."""
    if steps < 2 or not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=steps, label=label, file=sys.stderr) as bar:
        yield lambda _: bar.update(1)
