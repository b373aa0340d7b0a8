"""The demo: the audit of the demo drawings, then the whole job on a build of them."""

# The library is imported when the command runs, not for its help.
# ruff: noqa: PLC0415

from __future__ import annotations

import shlex
import shutil
import tempfile
import tomllib
from contextlib import chdir
from pathlib import Path
from typing import Any

import click

from holeschedule.cli_common import DONE, FAILED, Command, write
from holeschedule.errors import HoleScheduleError

JOB = Path(__file__).parent / "work" / "demo.toml"
_LAST = "\nThe demo is invented: its faults are planted, to be found. Not for building.\n"


@click.command(cls=Command)
@click.option("--keep", metavar="DIR", help="Keep the build in this new folder.")
@click.pass_context
def demo(context: click.Context, keep: str | None) -> int:
    """Do the whole job on the demo drawings: an invented float bay with planted faults.

    Audits the drawings, starts a build, brings them in, marks the work of a morning, and shows
    status and next; prints each command. Nothing is left behind unless --keep is given.

    Example: holeschedule demo
    """
    from holeschedule.audit.files import AuditRequest, audit_files
    from holeschedule.audit.rules import DEFAULT_RULES, load_rule_set
    from holeschedule.cli_audit import print_audit, progress
    from holeschedule.samples import sample_drawings

    request = AuditRequest(load_rule_set(DEFAULT_RULES))
    paths = sample_drawings()
    with progress(len(paths), "Reading drawings") as step:
        results = audit_files(paths, request, step)
    print_audit(results, request.rules.name, {})
    root = context.find_root().command
    if keep is None:
        with tempfile.TemporaryDirectory(prefix="holeschedule-demo-") as folder:
            _do_the_job(root, Path(folder), paths)
    else:
        _do_the_job(root, _new_folder(Path(keep)), paths)
        write(f"\nThe build is kept in {Path(keep) / 'bay'}.\n")
    write(_LAST)
    return FAILED if any(result.error for result in results) else DONE


def _new_folder(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True)
    except OSError as error:
        raise HoleScheduleError(
            f"--keep {folder}: cannot be made ({error.strerror}). Name a folder that is not there"
            " yet."
        ) from error
    return folder


def _do_the_job(root: click.Command, folder: Path, drawings: list[Path]) -> None:
    job: dict[str, Any] = tomllib.loads(JOB.read_text(encoding="utf-8"))
    (folder / "sheets").mkdir()
    for drawing in drawings:
        shutil.copyfile(drawing, folder / "sheets" / drawing.name)
    with chdir(folder):
        _run(root, job["start"])
        with chdir("bay"):
            for line in job["commands"]:
                _run(root, line)
            _write_joints(Path("build.toml"))
            for line in job["afterwards"]:
                _run(root, line)


def _write_joints(build_file: Path) -> None:
    """Write the other joints into build.toml, as a builder would with an editor."""
    text = JOB.with_name("demo_joints.toml").read_text(encoding="utf-8")
    with build_file.open("a", encoding="utf-8") as file:
        file.write(f"\n{text}")
    count = text.count("[[joint]]")
    write(f"\n({count} more joints are written into build.toml with an editor.)\n")


def _run(root: click.Command, line: str) -> None:
    write(f"\n$ holeschedule {line}\n")
    root.main(shlex.split(line), "holeschedule", standalone_mode=False)
