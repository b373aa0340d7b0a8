"""HTML pages that need nothing from elsewhere: no network, no script, and print as they look."""

from __future__ import annotations

from collections.abc import Sequence

from holeschedule.views.explain import CAUTION
from holeschedule.views.page import Page
from holeschedule.views.palette import BRICK, FAINT, INK, LEAF, METAL, OCHRE, PAPER, SOFT
from holeschedule.views.svg import escaped, svg_text

STYLE = f"""
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0 auto; padding: 1.2rem; max-width: 72rem; background: {PAPER}; color: {INK};
  font: 16px/1.5 Helvetica, Arial, 'Liberation Sans', sans-serif; overflow-wrap: anywhere; }}
h1 {{ font-size: 1.7rem; margin: 0 0 .2rem; }}
h2 {{ font-size: 1.2rem; margin: 2rem 0 .6rem; border-bottom: 2px solid {INK}; }}
h3 {{ font-size: 1rem; margin: 1.2rem 0 .4rem; }}
p {{ margin: .3rem 0; }}
.soft, footer {{ color: {SOFT}; font-size: .9rem; }}
figure {{ margin: .8rem 0 1.6rem; break-inside: avoid; }}
figcaption h3 {{ margin-top: 0; }}
figure svg {{ width: 100%; height: auto; max-height: 95vh; border: 1px solid {FAINT}; }}
.wide {{ overflow-x: auto; }}
table {{ border-collapse: collapse; width: 100%; font-size: .92rem; }}
caption {{ text-align: left; }}
th, td {{ text-align: left; padding: .28rem .6rem; border-bottom: 1px solid {FAINT};
  vertical-align: top; overflow-wrap: break-word; }}
th {{ border-bottom: 1px solid {INK}; white-space: nowrap; }}
td:first-child, td.bar-cell {{ white-space: nowrap; }}
td.n, th.n {{ text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }}
.fails {{ color: {BRICK}; font-weight: 700; }}
.calm {{ color: {OCHRE}; font-weight: 700; }}
.bar {{ display: inline-block; width: 7rem; height: .8rem; border: 1px solid {INK};
  background: {METAL}; vertical-align: -.1rem; }}
.bar i {{ display: block; height: 100%; background: {LEAF}; }}
footer {{ margin-top: 2rem; border-top: 1px solid {FAINT}; padding-top: .6rem; }}
@media print {{
  body {{ padding: 0; font-size: 10pt; max-width: none; }}
  h2, h3 {{ break-after: avoid; }}
  table {{ font-size: 8.5pt; }}
  th, td {{ padding: .2rem .4rem; }}
  .wide {{ overflow: visible; }}
  .bar {{ width: 4rem; }}
  tr {{ break-inside: avoid; }}
  .bar, .bar i {{ print-color-adjust: exact; -webkit-print-color-adjust: exact; }}
  @page {{ margin: 12mm; }}
}}
"""


def html_page(title: str, body: Sequence[str]) -> str:
    """A whole page of pieces of HTML, whose texts were escaped by who wrote them."""
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            # nothing is fetched and nothing runs, whatever a name or a note holds
            '<meta http-equiv="Content-Security-Policy"'
            " content=\"default-src 'none'; style-src 'unsafe-inline'\">",
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escaped(title)}</title>",
            f"<style>{STYLE}</style>",
            "</head>",
            "<body>",
            *body,
            f"<footer>{escaped(CAUTION)}</footer>",
            "</body>",
            "</html>",
            "",
        ]
    )


def figure(page: Page, heading: str = "") -> str:
    """A page as a picture within an HTML page, its heading kept with it."""
    head = f"<figcaption><h3>{escaped(heading)}</h3></figcaption>" if heading else ""
    return f"<figure>{head}{svg_text(page, alone=False)}</figure>"


def picture_page(page: Page) -> str:
    """An HTML page that shows one picture."""
    return html_page(page.title, [f"<main>{figure(page)}</main>"])
