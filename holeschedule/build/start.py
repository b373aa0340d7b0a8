"""The start of a build: its folder, and a build.toml that explains itself."""

from __future__ import annotations

from pathlib import Path

from holeschedule.build.folder import (
    BUILD_FILE,
    DRAWINGS,
    BuildFolder,
    absolute,
    locked,
    reason,
    write_whole,
)
from holeschedule.build.intent import parse_build
from holeschedule.errors import BuildError

# Starting a build ------------------------------------------------------------------------------

_NEW_FILE = """\
# What is intended for this build. Edit it by hand or by command; comments and order are kept.
# Every key is explained in docs/build-folder.md.

# Shown as the title of lists and pictures.
name = {name}

# Unit of lengths written here without one: "in" or "mm". Lengths are shown in it, too. Without
# this line every length here has to state its unit, and each part is shown in its drawing's.
{units}

# Rule set of the audit: a packaged one by name, or the path of your own from this folder.
rules = {rules}

# One [[part]] for each part. `import` writes them, or write them here:
#
# [[part]]
# id = "FL-101"             # how the part is called everywhere: letters, digits and . _ -
# drawing = "fl-101.dxf"    # file in the folder drawings/
# number = 1                # which part of a drawing that shows several, from the left
# thickness = 0.032         # of the sheet; or "0.8 mm", "1/32"
# taper = "A1=0.18, C3=0.06" # a wedge's thickness at two or three holes, instead of thickness
# material = "2024-T3"      # in your own words
# finish = "prime"          # "none", "prime", or "prime faying": where sheets lie on each other
# operations = ["trim"]     # asked for of the whole part: "cut", "trim", "deburr edges", "flute",
#                           # "scuff", "prime"; the finish asks for its primer by itself
# quantity = 1              # how many are made, each with its own record
# mirror = false            # true: made as the mirror image of its drawing
# head = "flush"            # manufactured heads of its rivets: "flush" or "protruding"
# rivet = "3/32"            # only where the drawn holes do not tell: a size, or "none"
#
# [[part.holes]]            # what differs for some holes of the part above; any number of these
# select = "A1-A9, C"
# treatment = "countersink" # "plain", "dimple" or "countersink"; also head and rivet, as above
#
# Then one [[joint]] for each lot of rivets. `join` writes them.
"""


def create_build(
    folder: Path, name: str | None = None, units: str | None = "in", rules: str = "faa"
) -> BuildFolder:
    """Start a build in a new or empty folder.

    Parameters
    ----------
    folder : Path
        It is made where it is not there, with its parents.
    name : str, optional
        The folder's own name where none is given.
    units : str, optional
        `in` or `mm`; None leaves the unit to each drawing.
    rules : str
        A rule set, by name or path.

    Raises
    ------
    BuildError
        There is a build already, the folder holds anything else (files whose names begin with a
        dot do not count), a value is none of those allowed, or the disk refuses. There is never
        half a build.toml.
    """
    build = BuildFolder(absolute(folder))
    plain = "".join(c if c.isprintable() else "?" for c in build.path.name)
    text = _new_text(plain or "build" if name is None else name, units, rules)
    _check_free(build, folder)
    try:
        build.drawings.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise BuildError(f"{folder}: cannot be made ({reason(error)}). Choose another.") from error
    with locked(build):
        _check_free(build, folder)
        write_whole(build.file, text.encode())
    return build


def _new_text(name: str, units: str | None, rules: str) -> str:
    stated = {} if units is None else {"units": units}
    parse_build({"name": name, "rules": rules, **stated})
    return _NEW_FILE.format(
        name=toml_text(name),
        units='# units = "in"' if units is None else f"units = {toml_text(units)}",
        rules=toml_text(rules),
    )


def toml_text(text: str) -> str:
    """`text` as TOML writes it, in double quotes.

    Examples
    --------
    >>> toml_text("2024-T3")
    '"2024-T3"'
    """
    marks = {'"': '\\"', "\\": "\\\\"}
    return '"' + "".join(marks.get(c, c if c.isprintable() else _escape(c)) for c in text) + '"'


def _escape(character: str) -> str:
    code = ord(character)
    return f"\\u{code:04x}" if code < 1 << 16 else f"\\U{code:08x}"


def _check_free(build: BuildFolder, folder: Path) -> None:
    try:
        there = sorted(path.name for path in build.path.iterdir())
    except FileNotFoundError:
        return
    except (OSError, ValueError) as error:
        raise BuildError(
            f"{folder}: is not a folder that can be used ({reason(error)}). Choose another."
        ) from error
    if BUILD_FILE in there:
        raise BuildError(f"{folder}: is a build already. Bring drawings in with `import`.")
    held = [name for name in there if not name.startswith(".") and name != DRAWINGS]
    if DRAWINGS in there and _holds_anything(build.drawings):
        held.append(DRAWINGS)
    if held:
        raise BuildError(
            f"{folder}: is not empty, it holds {held[0]!r}; a build starts in a new or empty"
            " folder. Choose another."
        )


def _holds_anything(folder: Path) -> bool:
    try:
        return any(folder.iterdir())
    except OSError:
        return True
