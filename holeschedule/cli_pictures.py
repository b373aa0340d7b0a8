"""The commands that draw: a picture of a part, a sheet for the wall, a template, the report."""

# The library is imported when a command runs, not for its help.
# ruff: noqa: PLC0415

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from holeschedule.cli_build import BUILD
from holeschedule.cli_common import DONE, Command, write
from holeschedule.errors import HoleScheduleError
from holeschedule.views.text import plural

if TYPE_CHECKING:
    from holeschedule.views.joint_picture import JointView
    from holeschedule.views.part_picture import PartView

Function = TypeVar("Function", bound=Callable[..., Any])

PAPER = click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="letter",
    show_default=True,
    help="Paper of a PDF.",
)
COPY = click.option("--copy", type=int, metavar="N", help="Copy of the part.  [default: 1]")
FLIP = click.option("--flip", is_flag=True, help="Seen from the other side.")

_OF_DRAWINGS = (
    click.option("--rules", metavar="NAME|FILE", help="Rule set for a drawing.  [default: faa]"),
    click.option("--head", type=click.Choice(["protruding", "flush"]), help="Heads, of a drawing."),
    click.option("--rivet", metavar="SIZE", help="Rivet of all holes, of a drawing."),
    click.option("--units", metavar="UNIT", help="Unit a drawing is in: in, mm."),
    click.option(
        "--layer", "layers", multiple=True, metavar="NAME=ROLE", help="Role of a drawing's layer."
    ),
    click.option("--gap", metavar="LENGTH", help="Join a drawing's line ends this far apart."),
    click.option("--largest-hole", metavar="LENGTH", help="Larger circles are cutouts."),
    click.option("--part", "number", type=int, metavar="N", help="Part N of a drawing."),
)


def of_drawings(function: Function) -> Function:
    """Add the options that say how a bare drawing is read and judged."""
    for option in reversed(_OF_DRAWINGS):
        function = option(function)
    return function


@click.command(cls=Command)
@click.argument("subject", metavar="PART|JOINT|FILE.dxf")
@click.argument("out", metavar="OUT.svg|.pdf|.png|.html|.dxf")
@click.option(
    "--view",
    type=click.Choice(["state", "verdict"]),
    help="What holes show: work done, or the rules.  [default: state; of a drawing, verdict]",
)
@FLIP
@PAPER
@COPY
@click.option(
    "--times",
    type=click.IntRange(1, 1000),
    metavar="N",
    help="Of a joint: offsets are drawn N times their length.  [default: as can be seen]",
)
@of_drawings
@BUILD
def picture(subject: str, out: str, build: str | None, paper: str, **options: Any) -> int:
    """Draw a part: outline, holes by state or verdict, rows, findings with their values.

    A drawing needs no build. Of a joint: its layers over each other, and how far their holes are
    off. OUT.dxf is the part with a layer for each state or verdict, for other CAD programs.

    Example: holeschedule picture FL-101 fl-101.svg
    """
    from holeschedule.selection import is_joint

    times = options.pop("times")
    if is_joint(subject):
        content = _joint_content(out, paper, lambda: _joint_view(subject, build, times, options))
    elif times is not None:
        raise HoleScheduleError(f"--times is for joints; {subject} is none.")
    else:
        content = _part_content(out, paper, lambda: _view(subject, build, options))
    _save(out, content)
    write(f"{out}: picture of {subject}.\n")
    return DONE


def _part_content(out: str, paper: str, view: Callable[[], PartView]) -> bytes:
    from holeschedule.views.picture_files import KINDS, kind_of, picture_bytes

    kind = kind_of(Path(out), (*KINDS, ".dxf"))
    if kind == ".dxf":
        from holeschedule.views.marked_dxf import marked_dxf

        return marked_dxf(view())
    from holeschedule.views.part_picture import part_picture

    return picture_bytes(part_picture(view(), paper if kind == ".pdf" else None), kind)


def _joint_content(out: str, paper: str, view: Callable[[], JointView]) -> bytes:
    from holeschedule.views.joint_picture import joint_picture
    from holeschedule.views.picture_files import KINDS, kind_of, picture_bytes

    kind = kind_of(Path(out), KINDS)
    return picture_bytes(joint_picture(view(), paper if kind == ".pdf" else None), kind)


def _joint_view(
    name: str, build: str | None, times: int | None, options: dict[str, Any]
) -> JointView:
    stated = [option for option, value in options.items() if value]
    if stated:
        raise HoleScheduleError(f"{_option(stated[0])} is for parts; {name} is a joint.")
    from holeschedule.work.joint_picturing import joint_view
    from holeschedule.work.opened import open_build

    with open_build(build) as opened:
        return joint_view(opened, name, date.today(), times=times)


@click.command(cls=Command)
@click.argument("part", metavar="PART")
@click.argument("out", metavar="OUT.pdf")
@FLIP
@PAPER
@COPY
@BUILD
def sheet(part: str, out: str, build: str | None, paper: str, **options: Any) -> int:
    """Print a part for the wall: its picture, and a box to tick for each hole and operation.

    What is recorded as done is ticked already.

    Example: holeschedule sheet FL-101 fl-101-sheet.pdf
    """
    from holeschedule.build.intent import read_intent
    from holeschedule.views.pdf import pdf_bytes
    from holeschedule.views.picture_files import kind_of
    from holeschedule.views.shop_sheet import sheet_pages
    from holeschedule.work.opened import open_build
    from holeschedule.work.picturing import check_lines, copy_named, part_view

    kind_of(Path(out), (".pdf",))
    with open_build(build) as opened:
        copy = copy_named(read_intent(opened.folder), part, options["copy"])
        view = part_view(opened, copy, date.today(), flip=options["flip"])
        pages = sheet_pages(view, check_lines(opened, copy), paper)
    _save(out, pdf_bytes(pages))
    write(f"{out}: {copy.name} on {plural(len(pages), 'sheet')} of {paper} paper.\n")
    return DONE


@click.command(cls=Command)
@click.argument("out", metavar="OUT.html")
@BUILD
def report(out: str, build: str | None) -> int:
    """Write the whole build on one page: progress, findings, pictures, rivets, history by day.

    The page needs no network, and prints.

    Example: holeschedule report build.html
    """
    from holeschedule.views.picture_files import kind_of
    from holeschedule.views.report_page import report_html
    from holeschedule.work.opened import open_build
    from holeschedule.work.reporting import report_of

    kind_of(Path(out), (".html",))
    with open_build(build) as opened:
        content = report_html(report_of(opened, date.today()))
    _save(out, content.encode())
    write(f"{out}: report of the build.\n")
    return DONE


@click.command(cls=Command)
@click.argument("subject", metavar="PART|FILE.dxf")
@click.argument("out", metavar="OUT.pdf")
@FLIP
@PAPER
@of_drawings
@BUILD
def template(subject: str, out: str, build: str | None, paper: str, **options: Any) -> int:
    """Print a part full size: outline and hole centres, on as many sheets as it takes.

    Sheets overlap by half an inch and are laid on each other by their register marks. Measure the
    check bars before you use it.

    Example: holeschedule template FL-101 fl-101-template.pdf --paper a4
    """
    from holeschedule.views.pdf import pdf_bytes
    from holeschedule.views.picture_files import kind_of
    from holeschedule.views.template import template_pages

    kind_of(Path(out), (".pdf",))
    pages = template_pages(_view(subject, build, {**options, "view": None, "copy": None}), paper)
    _save(out, pdf_bytes(pages))
    write(
        f"{out}: {subject} full size on {plural(len(pages), 'sheet')} of {paper} paper. Print at"
        " 100 %, and measure the check bars before use.\n"
    )
    return DONE


def _view(subject: str, build: str | None, options: dict[str, Any]) -> PartView:
    """What is to be drawn: a part of a build, or of a drawing."""
    if subject.lower().endswith(".dxf"):
        return _drawing_view(subject, options)
    stated = [name for name in ("rules", "head", "rivet", "units", "gap", "number", "layers",
                                "largest_hole") if options[name]]  # fmt: skip
    if stated:
        raise HoleScheduleError(
            f"{_option(stated[0])} is for drawings; of a part in a build build.toml says it."
        )
    from holeschedule.build.intent import read_intent
    from holeschedule.work.opened import open_build
    from holeschedule.work.picturing import copy_named, part_view

    with open_build(build) as opened:
        copy = copy_named(read_intent(opened.folder), subject, options["copy"])
        verdicts = options["view"] == "verdict"
        return part_view(opened, copy, date.today(), verdicts=verdicts, flip=options["flip"])


def _option(name: str) -> str:
    return {"number": "--part", "layers": "--layer"}.get(name, f"--{name.replace('_', '-')}")


def _drawing_view(path: str, options: dict[str, Any]) -> PartView:
    if options["view"] == "state" or options["copy"] is not None:
        option = "--view state" if options["view"] == "state" else "--copy"
        raise HoleScheduleError(
            f"{option}: {path} is a drawing, to which no work was done. Name a part of a build."
        )
    from holeschedule.options import audit_request
    from holeschedule.work.picturing import drawing_view

    asked = {**options, "part": options["number"], "as_json": False, "as_csv": False}
    request = audit_request(asked)
    return drawing_view(Path(path), request, date.today(), flip=options["flip"])


def _save(out: str, content: bytes) -> None:
    from holeschedule.build.folder import write_whole

    write_whole(Path(out), content)
