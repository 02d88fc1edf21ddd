"""Kinds of track pieces explained as HTML: a part of a page, or a page that needs nothing else."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from netlister.outputs.kind_sheet import SheetTable, sheet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.kinds import Library
    from netlister.kinds.model import Options
    from netlister.outputs.kind_sheet import KindSheet, SheetSection

STYLE = """\
body { font: 1rem/1.5 sans-serif; color: #111; background: #fff; max-width: 60rem; margin: 0 auto; padding: 1rem; }
.kind h2 { margin-bottom: 0; }
.kind .asked { font-weight: normal; }
.kind table { border-collapse: collapse; margin: 0.5rem 0; }
.kind th, .kind td { border: 1px solid #767676; padding: 0.2rem 0.5rem; text-align: left; vertical-align: top; }
.kind .wide { overflow-x: auto; }
.kind .care { border-left: 4px solid #111; padding-left: 0.75rem; }
@media print { body { max-width: none; } .kind table { break-inside: avoid; } }
"""
POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def kind_page(library: Library, name: str, hand: str = "", options: Options = ()) -> str:
    """A whole page about a kind: one file, nothing fetched, no scripts, everything escaped.

    The right hand is shown where none is asked for. Raises KindError as `Library.kind` does.
    """
    page = sheet(library, name, hand, options)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(POLICY)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(f'{page.name}: {page.title}')}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n"
        f"{_fragment(page)}</main>\n</body>\n</html>\n"
    )


def kind_fragment(library: Library, name: str, hand: str = "", options: Options = ()) -> str:
    """The same as an element `section` of class `kind`, to stand in another page; its headings are of rank 2 and 3."""
    return _fragment(sheet(library, name, hand, options))


def _fragment(page: KindSheet) -> str:
    asked = f' <span class="asked">({escape(page.asked)})</span>' if page.asked else ""
    head = f"<h2><code>{escape(page.name)}</code>{asked}</h2>\n<p><strong>{escape(page.title)}.</strong> "
    body = "".join(_section(section) for section in page.sections)
    return f'<section class="kind">\n{head}{escape(page.summary)}</p>\n{body}</section>\n'


def _section(section: SheetSection) -> str:
    care = ' class="care"' if section.heading == "Take care" else ""
    return f"<h3>{escape(section.heading)}</h3>\n<div{care}>\n{''.join(_blocks(section))}</div>\n"


def _blocks(section: SheetSection) -> Iterator[str]:
    for block in section.blocks:
        if isinstance(block, SheetTable):
            yield _table(block, section.heading)
        elif isinstance(block, str):
            yield f"<p>{escape(block)}</p>\n"
        else:
            yield f"<ul>\n{''.join(f'<li>{escape(line)}</li>' + chr(10) for line in block)}</ul>\n"


def _table(table: SheetTable, heading: str) -> str:
    """A table with heads; the first cell of a row is its head. It can be scrolled by keyboard where it is too wide."""
    heads = "".join(f'<th scope="col">{escape(head)}</th>' if head else "<td></td>" for head in table.heads)
    rows = "".join(
        f'<tr><th scope="row">{escape(first)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in rest)}</tr>\n'
        for first, *rest in table.rows
    )
    return (
        f'<div class="wide" role="region" tabindex="0" aria-label="{escape(heading)}">\n<table>\n'
        f"<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n</div>\n"
    )
