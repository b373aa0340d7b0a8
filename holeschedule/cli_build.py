"""The commands of a build: start it, bring drawings in, see how far it is."""

# The library is imported when a command runs, not for its help.
# ruff: noqa: PLC0415

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from holeschedule.cli_common import DONE, FINDINGS, Command, write

if TYPE_CHECKING:
    from holeschedule.build.edit import PartValue
    from holeschedule.work.sheets import ImportRequest

BUILD = click.option(
    "--build", metavar="DIR", help="The build.  [default: the one found from here up]"
)
JSON = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")


@click.command(cls=Command)
@click.argument("folder", metavar="DIR")
@click.option("--name", metavar="TEXT", help="Title of the build.  [default: the folder's name]")
@click.option(
    "--units",
    type=click.Choice(["in", "mm"]),
    default="in",
    show_default=True,
    help="Unit of lengths in build.toml, and of what is shown.",
)
@click.option(
    "--rules",
    default="faa",
    show_default=True,
    metavar="NAME|FILE",
    help="Rule set: faa, mil-r-47196a, navedtra, or the .toml file of your own.",
)
def new(folder: str, name: str | None, units: str, rules: str) -> int:
    """Start a build: a folder with build.toml, drawings/ and the record of work.

    Example: holeschedule new aft-bay --name "Aft bay of the float"
    """
    from pathlib import Path

    from holeschedule.build.start import create_build
    from holeschedule.errors import BuildError
    from holeschedule.work.opened import open_folder

    if not folder.strip():
        raise BuildError("the name of the folder is empty. Name one: holeschedule new aft-bay.")
    build = create_build(Path(folder), name, units, rules)
    with open_folder(build, create=True):
        pass
    write(
        f"{folder}: a new build. What is intended stands in {Path(folder) / 'build.toml'}.\n"
        f"Next: cd {folder}, then holeschedule import FILE.dxf --thickness"
        f" {'0.032' if units == 'in' else '0.8'}\n"
    )
    return DONE


@click.command("import", cls=Command)
@click.argument("files", nargs=-1, required=True, metavar="FILE.dxf ...")
@click.option("--part", metavar="ID", help="Id of the part.  [default: the name of the drawing]")
@click.option("--number", type=int, metavar="N", help="Only part N of a drawing, from the left.")
@click.option("--thickness", metavar="LENGTH", help="Of the sheet: 0.032, 1/32, 0.8mm.")
@click.option("--taper", metavar="HOLES", help="Of a wedge, at two or three holes: B4=0.125,B1=0.1")
@click.option("--material", metavar="TEXT", help="In your own words: 2024-T3.")
@click.option(
    "--finish", type=click.Choice(["none", "prime", "prime faying"]), help="Before riveting."
)
@click.option("--quantity", type=int, metavar="N", help="How many are made.")
@click.option("--mirror", is_flag=True, default=None, help="Made as the drawing's mirror image.")
@click.option("--head", type=click.Choice(["protruding", "flush"]), help="Head of its rivets.")
@click.option("--rivet", metavar="SIZE", help="Its rivets, where the holes do not tell: 1/8, none.")
@click.option("--units", metavar="UNIT", help="Unit the drawing is in: in, mm. Overrides the file.")
@click.option(
    "--layer",
    "layers",
    multiple=True,
    metavar="NAME=ROLE",
    help="Role of a layer: outline, holes, cutouts, bend, trim, ignored.",
)
@click.option("--gap", metavar="LENGTH", help="Join line ends this far apart.  [default: 0.002in]")
@click.option(
    "--largest-hole", metavar="LENGTH", help="Larger circles are cutouts.  [default: 0.328in]"
)
@click.option("--dry-run", is_flag=True, help="Say what would change, and change nothing.")
@click.option("--by", metavar="NAME", help="Who.  [default: $HOLESCHEDULE_BY, else the login name]")
@BUILD
@JSON
def import_(files: tuple[str, ...], build: str | None, by: str | None, **options: Any) -> int:
    """Bring drawings into a build, or a revision of a part that is there.

    The file is copied, byte for byte. Holes of a revision are matched with those recorded and keep
    their labels and history. Ends with status 1 where a hole was moved or retired after work on it.

    Example: holeschedule import fl-101.dxf --thickness 0.032 --material 2024-T3
    """
    from pathlib import Path

    from holeschedule.work.arriving import import_object, import_text
    from holeschedule.work.bring_in import bring_in
    from holeschedule.work.opened import find_folder, worker

    folder = find_folder(build)
    paths = [Path(name) for name in files]
    dry_run = bool(options.pop("dry_run"))
    as_json = options.pop("as_json")
    result = bring_in(folder, paths, _request(options), worker(by), dry_run=dry_run)
    if as_json:
        _print_json(import_object(result))
    else:
        write(import_text(result, dry_run=dry_run))
    return FINDINGS if any(arrival.work_lost for arrival in result.arrivals) else DONE


_VALUES = ("taper", "material", "finish", "quantity", "mirror", "head", "rivet")
_READING = ("units", "gap", "largest_hole")


def _request(options: dict[str, Any]) -> ImportRequest:
    from holeschedule.options import read_options
    from holeschedule.work.readings import Reading
    from holeschedule.work.sheets import ImportRequest

    values: dict[str, PartValue] = {
        name: options[name] for name in _VALUES if options[name] is not None
    }
    if options["thickness"] is not None:
        values["thickness"] = _number_or_text(options["thickness"])
    stated = tuple((name, str(options[name])) for name in _READING if options[name] is not None)
    reading = Reading(stated, options["layers"], read_options(options))
    return ImportRequest(options["part"], options["number"], values, reading)


def _number_or_text(text: str) -> float | str:
    """A length as build.toml has it: a number in its units, or a text that says which."""
    try:
        return float(text)
    except ValueError:
        return text


def _print_json(read: dict[str, Any]) -> None:
    import json

    write(json.dumps(read, allow_nan=False) + "\n")


@click.command(cls=Command)
@BUILD
@JSON
def status(build: str | None, as_json: bool) -> int:  # noqa: FBT001 (click)
    """How far each part is, operation by operation: holes done of those that need it.

    Example: holeschedule status
    """
    from holeschedule.work.opened import open_build
    from holeschedule.work.showing import status_object, status_of, status_text

    with open_build(build) as opened:
        found, name = status_of(opened), opened.title
    if as_json:
        _print_json(status_object(found, name))
    else:
        write(status_text(found, name))
    return DONE


@click.command("next", cls=Command)
@BUILD
@JSON
def next_(build: str | None, as_json: bool) -> int:  # noqa: FBT001 (click)
    """What can be done now, by the tool it needs; then what is blocked, and by what.

    The selections can be pasted into mark.

    Example: holeschedule next
    """
    from holeschedule.work.opened import open_build
    from holeschedule.work.showing import next_object, next_text

    with open_build(build) as opened:
        if as_json:
            _print_json(next_object(opened))
        else:
            write(next_text(opened))
    return DONE


@click.command(cls=Command)
@click.argument("selection", nargs=-1, metavar="[SELECTION ...]")
@click.option("--by", metavar="NAME", help="Only entries by this person.")
@click.option("--day", metavar="DATE", help="Only work of that day: 2026-03-05.")
@BUILD
@JSON
def history(
    selection: tuple[str, ...],
    by: str | None,
    day: str | None,
    build: str | None,
    as_json: bool,  # noqa: FBT001 (click)
) -> int:
    """Who did what, and when: everything, or about holes or parts.

    Example: holeschedule history FL-101:C7
    """
    from holeschedule.work.looking_back import history_object, history_of, history_text
    from holeschedule.work.opened import open_build

    with open_build(build) as opened:
        lines = history_of(opened, " ".join(selection), by, day)
    if as_json:
        _print_json(history_object(lines))
    else:
        write(history_text(lines))
    return DONE


@click.command(cls=Command)
@click.option("--noted", metavar="N:HASH", help="An entry noted down earlier; it has to be there.")
@BUILD
@JSON
def verify(noted: str | None, build: str | None, as_json: bool) -> int:  # noqa: FBT001 (click)
    """Check that nothing in the record was lost or changed, nor any drawing.

    Ends with status 1 where something was. Prints the last entry's hash, to be noted down.

    Example: holeschedule verify
    """
    from holeschedule.work.looking_back import noted_head, verify_build, verify_object, verify_text
    from holeschedule.work.opened import find_folder, open_folder

    folder = find_folder(build)
    with open_folder(folder) as (record, db):
        problems = verify_build(folder, record, db, noted_head(noted))
        head = None if problems else record.head()
    if as_json:
        _print_json(verify_object(problems, head))
    else:
        write(verify_text(problems, head))
    return FINDINGS if problems else DONE
