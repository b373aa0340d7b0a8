"""What the commands share: how they print, how they end, and their caution."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, MutableMapping
from importlib import import_module
from typing import Any

import click

from holeschedule.errors import HoleScheduleError

DONE, FINDINGS, FAILED = 0, 1, 2


def quiet_streams() -> None:
    """Let no character that a terminal does not know end a command."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def write(text: str) -> None:
    """Write the result of a command to stdout.

    Raises
    ------
    HoleScheduleError
        It cannot be written.
    """
    try:
        click.echo(text, nl=False)
    except BrokenPipeError:
        raise
    except OSError as error:
        write_no_more()
        raise HoleScheduleError(f"the output cannot be written: {error.strerror}.") from error


def write_no_more() -> None:
    """Lead stdout to nowhere, so that what is left in it raises nothing at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def failed(message: str) -> int:
    """Say on stderr why a command could not be done; returns its exit status."""
    from holeschedule.views.text import printable  # noqa: PLC0415 - only when something is wrong

    click.echo(f"holeschedule: {printable(message)}", err=True)
    return FAILED


def _show_help(context: click.Context, _: click.Parameter, asked: bool) -> None:  # noqa: FBT001 (click)
    if asked and not context.resilient_parsing:
        click.echo(context.get_help())
        context.exit()


# in place of click's own, for which click loads the languages it might be translated into
_HELP = click.Option(
    ["--help"],
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_help,
    help="Show this message and exit.",
)


class _Cautioned:
    """Ends its help with the caution, which is looked up only then."""

    def get_help_option(self, ctx: click.Context) -> click.Option | None:  # noqa: ARG002 (click)
        """Return the option `--help`, one for all commands."""
        return _HELP

    def format_epilog(self, _: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the caution."""
        from holeschedule.views.explain import CAUTION  # noqa: PLC0415 - only for help

        formatter.write_paragraph()
        with formatter.indentation():
            formatter.write_text(CAUTION)


class Command(_Cautioned, click.Command):
    """A command whose help ends with the caution."""


class _OnCall(MutableMapping[str, click.Command]):
    """Commands by name, each imported when it is asked for."""

    def __init__(self, lazy: dict[str, tuple[str, str, str]]) -> None:
        self._lazy = lazy
        self._known: dict[str, click.Command] = {}

    def __getitem__(self, name: str) -> click.Command:
        if name not in self._known:
            module, function, _ = self._lazy[name]
            self._known[name] = getattr(import_module(module), function)
        return self._known[name]

    def __setitem__(self, name: str, command: click.Command) -> None:
        self._known[name] = command

    def __delitem__(self, name: str) -> None:
        del self._lazy[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._lazy)

    def __len__(self) -> int:
        return len(self._lazy)


class Group(_Cautioned, click.Group):
    """Commands that are imported only when they are called.

    `lazy` has, by the name of a command, the module and the function that define it, and what
    the list of commands says of it.
    """

    def __init__(self, name: str | None, lazy: dict[str, tuple[str, str, str]], **how: Any) -> None:
        super().__init__(name, commands=_OnCall(lazy), **how)
        self._lazy = lazy

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 (as click calls it)
        """Names in the order of work."""
        return list(self._lazy)

    def format_commands(self, _: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands, none of them imported."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, words) for name, (_, _, words) in self._lazy.items()])
