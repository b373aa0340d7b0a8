"""Sources of the checks that are in no rule set: nobody's rules leave them out."""

from __future__ import annotations

from functools import cache

from holeschedule.data import FOLDER, choose_from, read_table
from holeschedule.errors import TableError


@cache
def _sources() -> dict[str, str]:
    rows = read_table(FOLDER / "checks.csv", ["code"])
    return {row.text("code"): row.text("source") for row in rows}


def source_of(code: str) -> str:
    """Look up where the check `code` comes from, such as `hole.max`, in `data/checks.csv`.

    Raises
    ------
    TableError
        There is none; the message lists the codes.
    """
    known = _sources()
    if code not in known:
        raise TableError(f"checks.csv has no check {code!r}; {choose_from(code, known)}.")
    return known[code]
