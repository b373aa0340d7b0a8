"""The commands of joints: define them, try a fit, list the rivets."""

# The library is imported when a command runs, not for its help.
# ruff: noqa: PLC0415

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

import click

from holeschedule.cli_common import DONE, FINDINGS, Command, write

if TYPE_CHECKING:
    from holeschedule.work.defining import JoinRequest

BUILD = click.option(
    "--build", metavar="DIR", help="The build.  [default: the one found from here up]"
)
JSON = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
SHOW = click.option(
    "--show", type=click.Choice(["in", "mm"]), help="Unit of lengths.  [default: the build's]"
)
LENGTH = click.option(
    "--length",
    type=click.Choice(["nearest", "next above"]),
    help="Stock length for grip + 1.5 D.  [default: as the rule set says]",
)
HEADS = click.Choice(["protruding", "flush"])
PIECE = 'LAYER is a part, "FL-107#2" where there are several.'


@click.command(cls=Command)
@click.argument("words", nargs=-1, metavar="[JOINT LAYER[:HOLES] LAYER[:HOLES] ...]")
@click.option("--title", metavar="TEXT", help="What it is called.")
@click.option("--rivet", metavar="SIZE", help="Its rivets: 3/32.  [default: by the drawn holes]")
@click.option("--head", type=HEADS, help="Manufactured heads.  [default: protruding]")
@click.option("--shop-head", type=HEADS, help="flush: driven into a countersink as well.")
@LENGTH
@click.option(
    "--by",
    multiple=True,
    metavar="LAYER:PAIRS",
    help="Holes of the first layer and of this one that lie on each other: FL-102:A1=C26,A26=C1.",
)
@click.option("--flip", multiple=True, metavar="LAYER", help="Its drawing is turned over.")
@click.option("--no-flip", multiple=True, metavar="LAYER", help="Its drawing is not turned over.")
@click.option("--turn", multiple=True, metavar="LAYER=DEG", help="Turned, where one hole is all.")
@click.option(
    "--shift",
    multiple=True,
    metavar="LAYER=X,Y",
    help="Where the zero of its drawing lies on the first one's, for a layer without holes.",
)
@click.option(
    "--treatment",
    multiple=True,
    metavar="LAYER=TREATMENT",
    help="plain, dimple or countersink, where the stack does not tell.",
)
@click.option("--trimmed", multiple=True, metavar="LAYER", help="Cut along its trim lines.")
@click.option("--dry-run", is_flag=True, help="Say what comes of it, and change nothing.")
@SHOW
@BUILD
def join(words: tuple[str, ...], **options: Any) -> int:
    """Define a joint: parts that one lot of rivets holds together, manufactured head first.

    How each part lies on the first is found out by its holes. Where they fit in several ways, say
    which by --by, --flip and --no-flip. A layer without a hole at a place is match-drilled there:
    the holes to come are entered in the record. Without arguments every joint of build.toml is
    gone through again. Ends with status 1 where a rule is missed.

    Example: holeschedule join J4 FL-101:F FL-103:A --rivet 3/32
    """
    from holeschedule.work.opened import find_folder, open_folder, worker

    folder = find_folder(options.pop("build"))
    show, dry_run = options.pop("show"), options.pop("dry_run")
    with open_folder(folder) as (record, db):
        from holeschedule.work.defining import define_joint, enter_joints

        if words:
            request = _join_request(words, options)
            done = define_joint(folder, record, db, request, worker(None), dry_run=dry_run)
        else:
            _check_alone(options)
            done = enter_joints(folder, record, db, "join", worker(None), dry_run=dry_run)
    from holeschedule.work.joint_showing import defined_text, misses_a_rule

    write(defined_text(done, show, whole=bool(words)))
    return FINDINGS if done.unlaid or misses_a_rule(done) else DONE


def _check_alone(options: dict[str, Any]) -> None:
    """Refuse what is said of a joint where none is named."""
    said = [f"--{key.replace('_', '-')}" for key, value in options.items() if value]
    if said:
        raise click.UsageError(
            f"{' '.join(sorted(said))}: of which joint? Name it and its layers before, or edit it"
            " in build.toml."
        )


def _join_request(words: tuple[str, ...], options: dict[str, Any]) -> JoinRequest:
    from holeschedule.work.defining import JoinRequest

    of_joint = {
        key: options[key]
        for key in ("title", "rivet", "head", "shop_head", "length")
        if options[key] is not None
    }
    of_layers: dict[str, dict[str, object]] = {}
    for name, key, value in _of_layers(options):
        held = of_layers.setdefault(name, {})
        if key in held:
            raise click.UsageError(f"{name}: {key} is said twice; say it once.")
        held[key] = value
    return JoinRequest(words[0], words[1:], of_joint, of_layers)


def _of_layers(options: dict[str, Any]) -> Iterator[tuple[str, str, object]]:
    for _, name, pairs in _parted(options["by"], ":", "--by"):
        yield name, "by", _pairs_of(pairs)
    for text, name, degrees in _parted(options["turn"], "=", "--turn"):
        yield name, "turn", _number(text, degrees)
    for _, name, value in _parted(options["shift"], "=", "--shift"):
        yield name, "shift", value
    for _, name, value in _parted(options["treatment"], "=", "--treatment"):
        yield name, "treatment", value
    yield from ((name, "flip", True) for name in options["flip"])
    yield from ((name, "flip", False) for name in options["no_flip"])
    yield from ((name, "trimmed", True) for name in options["trimmed"])


def _parted(texts: Iterable[str], sign: str, option: str) -> Iterator[tuple[str, str, str]]:
    for text in texts:
        name, found, value = text.partition(sign)
        if not found or not name.strip() or not value.strip():
            raise click.UsageError(f"{option} {text!r}: write LAYER{sign}... {PIECE}")
        yield text, name.strip(), value.strip()


def _pairs_of(pairs: str) -> str:
    from holeschedule.build.joints import parse_pairs

    return ", ".join(f"{one}={two}" for one, two in parse_pairs(pairs))


def _number(text: str, degrees: str) -> float:
    try:
        return float(degrees)
    except ValueError as error:
        raise click.UsageError(f"--turn {text!r}: {degrees!r} is no number of degrees.") from error


@click.command(cls=Command)
@click.argument("one", metavar="A[:HOLES]")
@click.argument("other", metavar="B[:HOLES]")
@click.option("--by", metavar="PAIRS", help="Holes that lie on each other: A1=C1,A9=C9.")
@click.option("--flip/--no-flip", default=None, help="Whether B is turned over.")
@click.option("--turn", type=float, metavar="DEG", help="How B is turned, where that is known.")
@click.option("--tolerance", metavar="LENGTH", help="How near is on.  [default: half the shank]")
@click.option(
    "--along",
    is_flag=True,
    help="Compare one row with another, hole by hole along it: for a flange drawn developed.",
)
@SHOW
@BUILD
@JSON
def fit(one: str, other: str, **options: Any) -> int:
    """Try how a part fits on another by their holes, and tell every way that is as good.

    Nothing is changed. Ends with status 1 where holes lie too far apart for their rivet, or are
    left over on B.

    Example: holeschedule fit FL-101:F FL-104:A --along
    """
    from holeschedule.work.fitting import try_fit
    from holeschedule.work.opened import find_folder, open_folder

    folder = find_folder(options.pop("build"))
    as_json = options.pop("as_json")
    with open_folder(folder) as (record, db):
        tried = try_fit(folder, record, db, one, other, **options)
    if as_json:
        _print_json(tried.as_object())
    else:
        write(tried.as_text())
    return FINDINGS if tried.misses else DONE


def _print_json(read: dict[str, Any]) -> None:
    import json

    write(json.dumps(read, allow_nan=False) + "\n")


@click.command(cls=Command)
@click.argument("joints", nargs=-1, metavar="[JOINT ...]")
@LENGTH
@click.option("--spares", type=click.IntRange(0, 100), metavar="PERCENT", help="On top.")
@click.option("--strength", is_flag=True, help="Also rivets per inch and load, for information.")
@click.option("--csv", "as_csv", is_flag=True, help="Print a line for each kind in each joint.")
@SHOW
@BUILD
@JSON
def rivets(joints: tuple[str, ...], **options: Any) -> int:
    """List the rivets of the joints: by joint, in all with spares, and what is still to buy.

    Stock is what build.toml says under [stock]. Ends with status 1 where a joint cannot be laid, a
    place has no rivet, or a rivet cannot form its head.

    Example: holeschedule rivets J2 J3 --spares 10
    """
    from holeschedule.work.opened import find_folder, open_folder
    from holeschedule.work.rivet_list import rivet_list

    folder = find_folder(options.pop("build"))
    as_json, as_csv = options.pop("as_json"), options.pop("as_csv")
    with open_folder(folder) as (record, db):
        found = rivet_list(folder, record, db, joints, **options)
    if as_json:
        _print_json(found.as_object())
    else:
        write(found.as_csv() if as_csv else found.as_text())
    return DONE if found.is_complete else FINDINGS
