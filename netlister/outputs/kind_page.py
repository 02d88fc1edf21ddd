"""Kinds of track pieces explained as HTML: a part of a page, or a page that needs nothing else."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from netlister.outputs.kind_sheet import SheetTable, sheet

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from netlister.kinds import Library
    from netlister.kinds.model import Options
    from netlister.outputs.kind_sheet import KindSheet, SheetSection

LOOK = (Path(__file__).parent / "look.css").read_text(encoding="utf-8")
"""What this page and that of a layout share: colours, also in the dark, letters, tables, lines of drawings."""

STYLE = """\
body { max-width: 60rem; }
.kind h2 { border: 0; margin: 0; }
.wide { max-height: none; }
.figures { display: grid; gap: 1rem; grid-template-columns: repeat(auto-fill, minmax(min(100%, 22rem), 1fr)); }
figure { margin: 0; border: 1px solid var(--line); background: var(--card); padding: 0.6rem; }
figure svg { display: block; width: 100%; height: auto; font-family: system-ui, "DejaVu Sans", Verdana, sans-serif; }
figcaption { font-weight: bold; }
@media print {
  :root {
    color-scheme: light; --paper: #fff; --card: #fff; --ink: #000; --soft: #333; --line: #999; --edge: #555;
    --a: #0067a5; --b: #c04a00; --none: #666; --both: #8d1b5e; --unit: #00795a;
  }
  html { font-size: 10pt; }
  body { max-width: none; padding: 0; }
  table, figure { break-inside: avoid; }
}
"""
POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def kind_page(
    library: Library, name: str, hand: str = "", options: Options = (), figures: Sequence[tuple[str, str]] = ()
) -> str:
    """A whole page about a kind: one file, nothing fetched, no scripts, everything escaped.

    The right hand is shown where none is asked for. `figures`: of its positions, what each is and its SVG; the last is
    the legend. Raises KindError as `Library.kind` does.
    """
    page = sheet(library, name, hand, options)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(POLICY)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(f'{page.name}: {page.title}')}</title>\n<style>\n{LOOK}{STYLE}</style>\n</head>\n<body>\n"
        f"<main>\n{_fragment(page, _figures(figures))}</main>\n</body>\n</html>\n"
    )


def kind_fragment(library: Library, name: str, hand: str = "", options: Options = ()) -> str:
    """The same as an element `section` of class `kind`, to stand in another page; its headings are of rank 2 and 3."""
    return _fragment(sheet(library, name, hand, options))


def _figures(figures: Sequence[tuple[str, str]]) -> str:
    """The figures, each with its caption."""
    if not figures:
        return ""
    *shown, (_, legend) = figures
    listed = "".join(f"<figure>{svg}<figcaption>{escape(said)}</figcaption></figure>\n" for said, svg in shown)
    return (
        "<h3>How it looks</h3>\n<p>From above, in each position, with its rails and their poles where it is wired "
        'right and all track beyond its ends is live. Not to scale.</p>\n<div class="figures">\n'
        f"{listed}<figure>{legend}</figure>\n</div>\n"
    )


def _fragment(page: KindSheet, figures: str = "") -> str:
    asked = f' <span class="asked">({escape(page.asked)})</span>' if page.asked else ""
    head = f"<h2><code>{escape(page.name)}</code>{asked}</h2>\n<p><strong>{escape(page.title)}.</strong> "
    body = "".join(_section(section) for section in page.sections)
    return f'<section class="kind">\n{head}{escape(page.summary)}</p>\n{figures}{body}</section>\n'


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
