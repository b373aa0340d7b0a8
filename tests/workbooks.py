"""Checklists in the hands of a person: ticks written into a workbook, and the workbook mangled."""

from __future__ import annotations

import random
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import openpyxl


def heads_of(sheet: Any) -> tuple[int, dict[str, int]]:
    """Row of the heads, and the column of each by its text."""
    for row in range(1, 30):
        heads = {c.value: c.column for c in sheet[row] if isinstance(c.value, str)}
        if heads.keys() & {"hole", "part"} and "note" in heads:
            return row, heads
    raise AssertionError(f"no heads on {sheet.title}")


def rows_of(sheet: Any) -> dict[str, int]:
    """Row of each hole or part by its name; a copy other than 1 as `#2:A1`."""
    start, heads = heads_of(sheet)
    found = {}
    for row in range(start + 1, sheet.max_row + 1):
        name = sheet.cell(row, heads.get("hole") or heads["part"]).value
        if name is not None:
            copy = sheet.cell(row, heads["copy"]).value if "copy" in heads else 1
            found[name if copy == 1 else f"#{copy}:{name}"] = row
    return found


def tick(path: Path, ticks: Mapping[tuple[str, str, str], Any], out: Path | None = None) -> Path:
    """Write values into cells named by sheet, hole and head of the column; saves the workbook."""
    book = openpyxl.load_workbook(path)
    tables = {s: (rows_of(book[s]), heads_of(book[s])[1]) for s in {key[0] for key in ticks}}
    for (sheet, name, head), value in ticks.items():
        rows, heads = tables[sheet]
        cell = book[sheet].cell(rows[name], heads[head])
        cell.value = value
        if isinstance(value, str):
            cell.data_type = "s"
    book.save(out or path)
    return out or path


def mangle(path: Path, seed: int = 1) -> Path:
    """Do to a workbook what people do: columns and rows in another order, more of both."""
    chance = random.Random(seed)  # noqa: S311 (no secret)
    book = openpyxl.load_workbook(path)
    mangled = openpyxl.Workbook()
    mangled.active.append(["a sheet of our own", 17])
    for sheet in book.worksheets:
        made = mangled.create_sheet(f"my {sheet.title}")
        rows = [list(row) for row in sheet.iter_rows(values_only=True)]
        try:
            start, _ = heads_of(sheet)
        except AssertionError:
            start = len(rows)
        width = max(map(len, rows))
        order = [*range(width), None, None]
        if start < len(rows):
            chance.shuffle(order)
        body = rows[start:]
        chance.shuffle(body)
        for row in [["my own line"], *rows[:start], *body]:
            full = [*row, *[None] * (width - len(row))]
            made.append(["mine" if place is None else full[place] for place in order])
    out = path.with_name(f"mangled-{path.name}")
    mangled.save(out)
    return out


def rewritten(path: Path, out: Path, change: Mapping[str, bytes | None]) -> Path:
    """A workbook with some of the files in it replaced, added, or (None) left out."""
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in {*old.namelist(), *change}:
            content = change[name] if name in change else old.read(name)
            if content is not None:
                new.writestr(name, content)
    return out
