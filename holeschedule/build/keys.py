"""A TOML file and its tables, as a person wrote them: every refusal names the line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import NoReturn, TypeVar

from holeschedule.build.folder import BUILD_FILE, reason
from holeschedule.build.lines import last_line, line_of
from holeschedule.data import choose_from
from holeschedule.errors import BuildError

LARGEST_FILE = 1 << 20
"""Bytes. A build.toml beyond is none: one for a thousand parts has a third of it."""
LONGEST_LINE = 4000
"""Characters. Some lines far beyond would keep the reader of TOML busy for hours."""
MOST_COPIES = 999
"""Copies of one part, or parts on one drawing; more is a slip of the pen."""
LONGEST_TEXT = 400
"""Characters of a name, a material or a selection."""
_LONGEST_SHOWN = 60
"""Characters of a value in a message."""


def read_text(path: Path) -> str:
    """Text of a build.toml, without a byte order mark, its line ends as they are.

    Raises
    ------
    BuildError
        It cannot be read, is no file, is too large, or not UTF-8.
    """
    try:
        if not path.is_file():
            raise BuildError(f"{path}: there is no such file. Start a build with `new`.")
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise BuildError(f"{path}: cannot be read ({reason(error)}). See to the file.") from error
    if len(content) > LARGEST_FILE:
        raise BuildError(
            f"{path}: is larger than {LARGEST_FILE >> 20} MB; a {BUILD_FILE} is a short text. Put"
            " the right file there."
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise BuildError(
            f"{path}, line {line}: is not UTF-8 text. Save the file as UTF-8 and see that it is"
            " the right one."
        ) from error


_AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)")
_IN_OTHER_WORDS = {
    "Invalid value": 'a value is missing or not in quotes; write a text as in head = "flush"',
    "Cannot ": "a key or table stands there twice",
    "Duplicate ": "a key stands there twice",
    "Invalid statement": "a line begins with what is neither a key nor a comment",
    "Expected newline": "more stands there than a key and its value; a text needs quotes",
    "Illegal character '\\n'": "a closing quote is missing",
    "Unterminated string": "a closing quote is missing",
    "Unescaped '\\'": "a backslash in double quotes; write it twice, or use single quotes",
    "Unclosed array": "a closing ] is missing",
    "Unclosed inline table": "a closing } is missing",
}
"""How what the reader of TOML says begins → what a builder can act on."""


def parse_toml(text: str, where: str) -> dict[str, object]:
    """Parse a TOML text; `where` names it in errors.

    Raises
    ------
    BuildError
        It is not TOML, or has an endless line. Names the line.
    """
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_LINE:
            raise BuildError(
                f"{where}, line {number}: is longer than {LONGEST_LINE} characters, as no line of"
                f" a {BUILD_FILE} is. Correct that line."
            )
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise BuildError(f"{where}: brackets are nested too deep. Take them out.") from error
    except ValueError as error:
        said = " ".join(str(error).split())
        at = _AT.search(said)
        line = "" if at is None else f", line {at[1] or last_line(text)}"
        what = _AT.sub("", said)
        plain = what[:1].lower() + what[1:]
        what = next((w for begins, w in _IN_OTHER_WORDS.items() if what.startswith(begins)), plain)
        raise BuildError(f"{where}{line}: is not TOML: {what}. Correct that line.") from error


_Choice = TypeVar("_Choice", bound=StrEnum)


@dataclass(frozen=True, slots=True)
class Table:
    """Keys and values of one table. Equality is by value.

    `where` names the file, or what is read where it is none. `path` is where the table stands in
    `file_text`, which is None for what stands in no file. Every method refuses a value that it
    cannot use with a `BuildError`.
    """

    cells: Mapping[str, object]
    path: tuple[str | int, ...]
    where: str
    file_text: str | None

    def below(self, key: str) -> list[Table]:
        """The tables of an array of tables."""
        tables = self.cells.get(key, [])
        if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
            name = ".".join(part for part in (*self.path, key) if isinstance(part, str))
            self.refuse(key, f"an entry of {name} begins with [[{name}]], in two pairs of brackets")
        return [
            Table(table, (*self.path, key, place), self.where, self.file_text)
            for place, table in enumerate(tables)
        ]

    def refuse(self, key: str, what: str) -> NoReturn:
        """Say that the value of a key cannot be used, and on which line it stands."""
        line = ""
        if self.file_text is not None:
            line = f", line {line_of(self.file_text, (*self.path, key))}"
        raise BuildError(f"{self.where}{line}: {what}.")

    def check_keys(self, known: Sequence[str]) -> None:
        """Refuse a key that is not one of those known."""
        for key in self.cells:
            if key not in known:
                self.refuse(key, f"the key {key!r:.60} is not known; {choose_from(key, known)}")

    def need(self, key: str) -> None:
        """Refuse a table without the key."""
        if key not in self.cells:
            self.refuse(key, f"{key} is missing, which has to be stated here")

    def text(self, key: str, instead: str | None = None) -> str:
        """Read a text of one line; `instead` where the key is not there."""
        if key not in self.cells and instead is not None:
            return instead
        self.need(key)
        value = self.cells[key]
        if not isinstance(value, str):
            self.refuse(key, f"{key} is {shown(value)}; it has to be a text in quotes")
        if not value.strip() or not value.isprintable() or len(value) > LONGEST_TEXT:
            self.refuse(
                key,
                f"{key} is {shown(value)}; it has to be one line of plain text,"
                f" of {LONGEST_TEXT} characters at most",
            )
        return value.strip()

    def choice(self, key: str, choices: type[_Choice]) -> _Choice:
        """Read one of the words of an enum."""
        value = self.cells[key]
        for choice in choices:
            if value == choice:
                return choice
        wanted = value if isinstance(value, str) else ""
        return self.refuse(key, f"{key} is {shown(value)}; {choose_from(wanted, choices)}")

    def optional_choice(self, key: str, choices: type[_Choice]) -> _Choice | None:
        """Read one of the words of an enum; None where the key is not there."""
        return self.choice(key, choices) if key in self.cells else None

    def choices(self, key: str, choices: type[_Choice]) -> tuple[_Choice, ...]:
        """Read a list of words of an enum, each once; none where the key is not there."""
        words = self.cells.get(key, [])
        if not isinstance(words, list):
            first = next(iter(choices))
            self.refuse(key, f'{key} is {shown(words)}; it has to be a list, as in ["{first}"]')
        for word in words:
            if word not in tuple(choices):
                wanted = word if isinstance(word, str) else ""
                self.refuse(key, f"{key} has {shown(word)}; {choose_from(wanted, choices)}")
            if words.count(word) > 1:
                self.refuse(key, f"{key} has {shown(word)} twice; write it once")
        return tuple(map(choices, words))

    def count(self, key: str) -> int:
        """Read a whole number from 1; 1 where the key is not there."""
        value = self.cells.get(key, 1)
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_COPIES:
            self.refuse(
                key,
                f"{key} is {shown(value)}; it has to be a whole number from 1 to {MOST_COPIES}",
            )
        return value

    def flag(self, key: str) -> bool:
        """Read true or false; false where the key is not there."""
        value = self.cells.get(key, False)
        if not isinstance(value, bool):
            self.refuse(key, f"{key} is {shown(value)}; it has to be true or false, unquoted")
        return value


def shown(value: object) -> str:
    """A value as messages show it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = repr(value)
    except ValueError:
        return "a number of thousands of digits"
    return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"
