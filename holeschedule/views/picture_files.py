"""A laid out page as the content of a file, by what the name of the file ends in."""

from __future__ import annotations

from pathlib import Path

from holeschedule.data import choose_from
from holeschedule.errors import HoleScheduleError
from holeschedule.views.html import picture_page
from holeschedule.views.page import Page
from holeschedule.views.svg import svg_text

KINDS = (".html", ".pdf", ".png", ".svg")
"""What a picture can be written as."""


def kind_of(path: Path, kinds: tuple[str, ...] = KINDS) -> str:
    """What a file is to be, by its name.

    Raises
    ------
    HoleScheduleError
        The name ends in none of `kinds`.
    """
    kind = path.suffix.lower()
    if kind not in kinds:
        raise HoleScheduleError(
            f"{path}: a file ending in {kind or 'nothing'} is not written here;"
            f" {choose_from(kind, kinds)}."
        )
    return kind


def picture_bytes(page: Page, kind: str) -> bytes:
    """The content of a file of one of `KINDS`."""
    if kind == ".svg":
        return svg_text(page).encode()
    if kind == ".html":
        return picture_page(page).encode()
    from holeschedule.views.pdf import pdf_bytes, png_bytes  # noqa: PLC0415 - SVG needs neither

    return png_bytes(page) if kind == ".png" else pdf_bytes([page])
