"""Collecting notices while a drawing is read: equal ones are told once, with their count."""

from __future__ import annotations

from dataclasses import dataclass, field

from holeschedule.model import Notice

LONGEST_LINE = 1000
"""Characters of a message; of a longer one beginning and end are told."""


def on_one_line(text: str) -> str:
    """`text` with line ends, control characters and broken Unicode as escapes, and not endless.

    Names of files, layers and blocks hold anything, at any length.
    """
    line = "".join(
        c if c.isprintable() else c.encode("unicode_escape", "backslashreplace").decode()
        for c in text
    )
    half = LONGEST_LINE // 2
    return line if len(line) <= LONGEST_LINE else f"{line[:half]} … {line[-half:]}"


@dataclass(slots=True)
class NoticeBoard:
    """Notices in the order they first came up; the same text on the same layer is counted."""

    _first: dict[tuple[str, str, str | None], Notice] = field(default_factory=dict)
    _count: dict[tuple[str, str, str | None], int] = field(default_factory=dict)

    def add(
        self,
        code: str,
        text: str,
        layer: str | None = None,
        at: tuple[float, float] | None = None,
        count: int = 1,
    ) -> None:
        """Note `text`, which happened `count` times, first at `at` (in any one unit)."""
        key = (code, text, layer)
        if key not in self._first:
            x, y = at if at is not None else (None, None)
            self._first[key] = Notice(code, text, layer, x, y)
        self._count[key] = self._count.get(key, 0) + count

    def notices(self) -> tuple[Notice, ...]:
        """All of them, counts told in the text."""
        return tuple(self._told(key) for key in self._first)

    def _told(self, key: tuple[str, str, str | None]) -> Notice:
        notice, count = self._first[key], self._count[key]
        if count == 1:
            return notice
        where = " times, first here" if notice.x is not None else " times"
        text = f"{notice.text} ({count:,}{where})"
        return Notice(notice.code, text, notice.layer, notice.x, notice.y)
