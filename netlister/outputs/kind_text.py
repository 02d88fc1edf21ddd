"""Kinds of track pieces explained as text."""

from __future__ import annotations

from textwrap import fill, wrap
from typing import TYPE_CHECKING

from netlister.outputs.kind_sheet import SheetTable, changing, driven_by, joined_rails, needs, sheet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.kinds import Library
    from netlister.outputs.kind_sheet import KindSheet

__all__ = ["changing", "driven_by", "joined_rails", "kind_page", "kinds_list", "needs"]

WIDTH = 100
LEAST = 12
"""The least width of a column that is wrapped."""


def kinds_list(library: Library) -> str:
    """All kinds: name, title and one sentence each."""
    blocks = []
    for name in library.names():
        found = library.definition(name)
        blocks.append(f"{name}: {found.title}\n{_filled(found.summary)}")
    return "\n".join(blocks) + "\n"


def kind_page(library: Library, name: str, hand: str = "", options: tuple[tuple[str, str], ...] = ()) -> str:
    """All of a kind: ends, rails, what conducts in each position, joiners, contacts, faults, how to measure it.

    The right hand is shown where none is asked for. Raises KindError as `Library.kind` does.
    """
    return "\n".join(_page(sheet(library, name, hand, options))) + "\n"


def _page(page: KindSheet) -> Iterator[str]:
    said = f" ({page.asked})" if page.asked else ""
    yield _filled(f"{page.name}{said}: {page.title}", "")
    yield _filled(page.summary)
    for section in page.sections:
        yield ""
        yield section.heading
        for block in section.blocks:
            if isinstance(block, SheetTable):
                yield from _table(block)
            elif isinstance(block, str):
                yield _filled(block)
            else:
                yield from (_filled(line) for line in block)


def _table(table: SheetTable) -> Iterator[str]:
    """The table in columns; where it is too wide its widest columns are wrapped."""
    lines = [table.heads, *table.rows]
    columns = range(len(table.heads))
    widths = [max(len(line[c]) for line in lines) for c in columns]
    while sum(widths) + 2 * len(widths) > WIDTH and max(widths) > LEAST:
        widths[widths.index(max(widths))] -= 1
    for line in lines:
        cells = [wrap(line[c], widths[c], break_on_hyphens=False) or [""] for c in columns]
        for row in range(max(map(len, cells))):
            parts = (cells[c][row] if row < len(cells[c]) else "" for c in columns)
            yield "  " + "  ".join(part.ljust(width) for part, width in zip(parts, widths, strict=True)).rstrip()


def _filled(text: str, indent: str = "  ") -> str:
    return fill(text, WIDTH, initial_indent=indent, subsequent_indent="  ", break_on_hyphens=False)
