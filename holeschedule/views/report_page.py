"""The whole build on one HTML page: progress, findings, pictures, rivets, history by day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from holeschedule.views.html import figure, html_page
from holeschedule.views.page import Page
from holeschedule.views.svg import escaped
from holeschedule.views.text import printable


class Cell(NamedTuple):
    """A cell of a table: its text, and how it is set. Equality is by value.

    `kind` is empty, `n` (a number), `fails`, `calm` or `bar`, for which the text is a share from 0
    to 1.
    """

    text: str
    kind: str = ""


class Table(NamedTuple):
    """A table with a head for each column; `numbers` are the columns set to the right."""

    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    numbers: frozenset[int] = frozenset()


class Day(NamedTuple):
    """Work of one day."""

    date: str
    entries: Table


@dataclass(frozen=True, slots=True, eq=False)
class Report:
    """What the page of a build says. Compared by identity.

    `summary` are lines below the title; `pictures` of parts and `joints` are pages with a heading
    each; `notes` lines below the progress, such as what is still to be chosen. `rivets_head` says
    what the table of rivets is.
    """

    title: str
    summary: tuple[str, ...]
    progress: Table
    notes: tuple[str, ...]
    findings: Table
    pictures: tuple[tuple[str, Page], ...]
    rivets: Table
    days: tuple[Day, ...]
    joints: tuple[tuple[str, Page], ...] = ()
    rivets_head: str = "Holes by rivet"


def report_html(report: Report) -> str:
    """The page: nothing in it comes from elsewhere, and no text of it can become markup."""
    return html_page(report.title, list(_body(report)))


def _body(report: Report) -> Iterator[str]:
    yield f"<header><h1>{_said(report.title)}</h1>"
    yield from (f'<p class="soft">{_said(line)}</p>' for line in report.summary)
    yield "</header><main>"
    yield from _section("progress", "Progress", report.progress, "There are no parts yet.")
    yield from (f"<p>{_said(note)}</p>" for note in report.notes)
    yield from _section("findings", "Findings", report.findings, "No rule is missed.")
    yield '<section id="pictures"><h2>Parts</h2>'
    for heading, page in report.pictures:
        yield figure(page, printable(heading))
    yield "</section>"
    if report.joints:
        yield '<section id="joints"><h2>Joints with findings</h2>'
        yield from (figure(page, printable(heading)) for heading, page in report.joints)
        yield "</section>"
    yield from _section("rivets", report.rivets_head, report.rivets, "No hole takes a rivet.")
    yield '<section id="history"><h2>History</h2>'
    if not report.days:
        yield "<p>Nothing was recorded yet.</p>"
    for day in report.days:
        yield f"<h3>{_said(day.date)}</h3>"
        yield from _table(day.entries)
    yield "</section></main>"


def _section(name: str, heading: str, table: Table, empty: str) -> Iterator[str]:
    yield f'<section id="{name}"><h2>{heading}</h2>'
    if table.rows:
        yield from _table(table)
    else:
        yield f"<p>{empty}</p>"
    yield "</section>"


def _table(table: Table) -> Iterator[str]:
    yield '<div class="wide"><table><thead><tr>'
    for i, head in enumerate(table.heads):
        kind = ' class="n"' if i in table.numbers else ""
        yield f'<th scope="col"{kind}>{_said(head)}</th>'
    yield "</tr></thead><tbody>"
    for row in table.rows:
        yield f"<tr>{''.join(_cells(row, table.numbers))}</tr>"
    yield "</tbody></table></div>"


def _cells(row: Sequence[Cell], numbers: frozenset[int]) -> Iterator[str]:
    for i, cell in enumerate(row):
        if cell.kind == "bar":
            percent = int(float(cell.text) * 100)
            yield (
                f'<td class="bar-cell"><span class="bar"><i style="width:{percent}%"></i></span>'
                f" {percent} %</td>"
            )
            continue
        kinds = " ".join(filter(None, ("n" if i in numbers else "", cell.kind)))
        yield f"<td{f' class={chr(34)}{kinds}{chr(34)}' if kinds else ''}>{_said(cell.text)}</td>"


def _said(text: str) -> str:
    return escaped(printable(text))
