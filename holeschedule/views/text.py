"""Text for a terminal: tables within 100 columns, and nothing that a file could smuggle in."""

from __future__ import annotations

from collections.abc import Sequence

WIDTH = 100
"""Columns a table may take."""

_GLUE = "\N{NO-BREAK SPACE}"
_BEFORE_UNIT = r"(?<=[0-9]) (?=(?:D|in|mm)\b)"


def printable(text: str) -> str:
    """`text` on one line, with control characters and broken Unicode shown as escapes.

    Names of files, layers and blocks come from anywhere: an escape sequence in one of them must
    not reach the terminal.
    """
    return "".join(
        c if c.isprintable() else c.encode("unicode_escape", "backslashreplace").decode()
        for c in text
    )


def table(heads: Sequence[str], rows: Sequence[Sequence[str]], right: str = "") -> list[str]:
    """Lines of a table, two spaces between columns.

    `right` has one character a column: `r` sets it right, anything else left.
    """
    widths = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]

    def line(cells: Sequence[str]) -> str:
        return "  ".join(
            cell.rjust(width) if right[i : i + 1] == "r" else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
        ).rstrip()

    return [line(heads), *(line(row) for row in rows)]


def hanging(head: str, text: str) -> list[str]:
    """`text` after `head`, wrapped within `WIDTH` and set under itself; a number keeps its unit."""
    if text.isprintable() and text.strip() and len(head) + len(text) <= WIDTH:
        return [f"{head}{text}".rstrip()]
    import re  # noqa: PLC0415 - takes long to load, and most lines are short
    import textwrap  # noqa: PLC0415 - as above

    lines = textwrap.wrap(
        re.sub(_BEFORE_UNIT, _GLUE, text),
        WIDTH,
        initial_indent=head,
        subsequent_indent=" " * len(head),
        break_on_hyphens=False,
    )
    return [line.replace(_GLUE, " ") for line in lines]


def plural(count: int, one: str, many: str | None = None) -> str:
    """'1 hole', '2 holes', '1,000 holes'."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def compact_labels(labels: Sequence[str]) -> str:
    """Labels as a selection: consecutive places of a row as a range, `C3-C9, C12, X2`."""
    runs: list[tuple[str, int, int]] = []
    for label in labels:
        letters = label.rstrip("0123456789")
        place = int(label[len(letters) :])
        if runs and runs[-1][0] == letters and runs[-1][2] == place - 1:
            runs[-1] = (letters, runs[-1][1], place)
        else:
            runs.append((letters, place, place))
    return ", ".join(f"{row}{a}" if a == b else f"{row}{a}-{row}{b}" for row, a, b in runs)
