"""`netlister diff`."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from netlister.cli.common import FORMAT, open_layout, unusable, write
from netlister.source import UnusableError

if TYPE_CHECKING:
    from netlister.layout.model import Layout
    from netlister.papers.table import Table


@click.command("diff")
@click.argument("old")
@click.argument("new")
@FORMAT
@click.option("--papers", is_flag=True, help="Also the wires to add, move and take out, and the cards to print again.")
def command(old: str, new: str, style: str, papers: bool) -> None:
    """Say what changed in the wiring from OLD to NEW, not in the text.

    Joints, feeds, contacts and gear, nets joined or parted, findings that came and went. Exits with 0 where the wiring
    is the same, 1 where it differs, 2 where a file cannot be used.
    """
    from netlister.compare import compare, object_of, text_of

    first, before = open_layout(old, style)
    second, after = open_layout(new, style)
    try:
        found = compare(before, after)
    except UnusableError as error:
        unusable(error, second.name, style)
    todo = _papers(before, after) if papers else []
    if style == "json":
        from netlister.formats import json

        made = object_of(found, first.name, second.name)
        if papers:
            made |= {
                table.title.lower(): [dict(zip(table.heads[:3], row, strict=False)) for row in table.rows]
                for table in todo
            }
        write(json.dump(made))
    else:
        from netlister.papers.table import plain

        write(text_of(found) + ("\n" + plain(todo) if todo else ""))
    sys.exit(0 if found.same else 1)


def _papers(old: Layout, new: Layout) -> list[Table]:
    """The wires by id and the cards that are no longer the same; both tables, also where one is empty."""
    from netlister.circuit.build import build
    from netlister.papers.card import Cards
    from netlister.papers.changes import cards_to_change, wires

    before, after = Cards(build(old)), Cards(build(new))
    return [wires(before.lines, after.lines), cards_to_change(before, after)]
