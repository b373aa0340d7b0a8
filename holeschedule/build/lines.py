"""The line of a TOML file on which a key stands: for errors, since no reader of TOML keeps it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from contextlib import suppress

Keys = tuple[str | int, ...]
"""Names of tables and keys from the outside in, and places (0 first) in arrays."""

_BLANK = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_KEY = re.compile(r"""[ \t]*([A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')[ \t]*""")
_TEXT = re.compile(
    r"""
    \"{3} (?:[^\\]|\\.)*? \"{3} "{0,2}
    | '{3} .*? '{3} '{0,2}
    | "(?:[^"\\\n]|\\.)*"
    | '[^'\n]*'
    """,
    re.VERBOSE | re.DOTALL,
)
_PLAIN = re.compile(r"[^,\]}\n#]*")


def line_of(text: str, keys: Sequence[str | int]) -> int:
    """Find the line, 1 for the first, on which a key or table stands.

    Parameters
    ----------
    text : str
        A file that is sound TOML.
    keys : sequence of str and int
        As `("part", 2, "thickness")`: the key in the third of the tables `[[part]]`.

    Returns
    -------
    int
        Where there is no such key, the line of the nearest table or key around it; else 1.

    Examples
    --------
    >>> line_of("name = 'bay'", ("name",))
    1
    """
    plain = text.replace("\r\n", "\n")
    scan = _Scan(plain)
    with suppress(_Unread, RecursionError):
        scan.run()
    for size in range(len(keys), 0, -1):
        place = scan.places.get(tuple(keys[:size]))
        if place is not None:
            return plain.count("\n", 0, place) + 1
    return 1


def last_line(text: str) -> int:
    """Line of the last key or table before a text ends too early: where it was left open.

    Examples
    --------
    >>> last_line("units = [")
    1
    """
    plain = text.replace("\r\n", "\n")
    scan = _Scan(plain)
    with suppress(_Unread, RecursionError):
        scan.run()
    return plain.count("\n", 0, max(scan.places.values(), default=0)) + 1


class _Unread(Exception):  # noqa: N818 (never leaves this module)
    """The text is not sound; what was found up to here counts."""


class _Scan:
    """One pass over a file. `places` are the characters at which keys and tables stand."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.places: dict[Keys, int] = {}
        self.last: dict[Keys, int] = {}

    def run(self) -> None:
        table: Keys = ()
        self.take(_BLANK)
        while self.at < len(self.text):
            if self.next_is("["):
                table = self.header()
            else:
                self.pair(table)
            self.take(_BLANK)

    def take(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise _Unread
        self.at = match.end()
        return match[0]

    def next_is(self, sign: str) -> bool:
        return self.text.startswith(sign, self.at)

    def step(self, sign: str) -> None:
        if not self.next_is(sign):
            raise _Unread
        self.at += len(sign)

    def header(self) -> Keys:
        """`[a.b]` or `[[a.b]]`: the path of the table that it begins."""
        start, many = self.at, self.next_is("[[")
        self.step("[[" if many else "[")
        path: Keys = ()
        for key in self.keys():
            # below an array of tables the last one of them is meant
            path = (*path, *([self.last[path]] if path in self.last else []), key)
        self.step("]]" if many else "]")
        if many:
            self.last[path] = self.last.get(path, -1) + 1
            self.places.setdefault(path, start)
            path = (*path, self.last[path])
        self.places.setdefault(path, start)
        return path

    def keys(self) -> list[str]:
        found = [self.key()]
        while self.next_is("."):
            self.at += 1
            found.append(self.key())
        return found

    def key(self) -> str:
        written = self.take(_KEY).strip(" \t")
        quoted = written[0] in "\"'"
        return str(tomllib.loads(f"key = {written}")["key"]) if quoted else written

    def pair(self, table: Keys) -> None:
        start, path = self.at, table
        for key in self.keys():
            path = (*path, key)
            self.places.setdefault(path, start)
        self.step("=")
        self.take(re.compile(r"[ \t]*"))
        self.value(path)

    def value(self, path: Keys) -> None:
        if self.next_is("["):
            self.array(path)
        elif self.next_is("{"):
            self.inline(path)
        else:
            self.take(_TEXT if self.next_is('"') or self.next_is("'") else _PLAIN)

    def array(self, path: Keys) -> None:
        self.step("[")
        self.take(_BLANK)
        place = 0
        while not self.next_is("]"):
            self.places.setdefault((*path, place), self.at)
            self.value((*path, place))
            self.part("]")
            place += 1
        self.step("]")

    def inline(self, path: Keys) -> None:
        self.step("{")
        self.take(_BLANK)
        while not self.next_is("}"):
            self.pair(path)
            self.part("}")
        self.step("}")

    def part(self, end: str) -> None:
        """A comma, or nothing before the end."""
        self.take(_BLANK)
        if not self.next_is(end):
            self.step(",")
            self.take(_BLANK)
