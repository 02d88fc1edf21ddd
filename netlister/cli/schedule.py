"""`netlister schedule`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from netlister.cli.common import LAYOUT, open_layout
from netlister.cli.papers import BOARD, FORMS, OUTPUT, PAPER, chosen, form, known_board, put, written_tables

if TYPE_CHECKING:
    from netlister.layout.model import Layout
    from netlister.source import Source


@click.command("schedule")
@LAYOUT
@form(*FORMS)
@OUTPUT
@BOARD
@PAPER
@click.option("--since", metavar="OLD", help="An older LAYOUT: only wires to add, move and take out, cards to replace.")
def command(layout: str, style: str | None, output: str, board: str, paper: str, since: str | None) -> None:
    """List every wire of LAYOUT: its id, both ends, colour, size, cut length, tap, board and part.

    Forms: text, csv, json, html, pdf, xlsx. In CSV a cell that starts with = + - @ or ' gets a ' in front, so that no
    spreadsheet takes it for a formula; take one ' off the front to have the name.
    """
    from netlister.papers import schedule

    style = chosen(style, output, FORMS)
    source, read = open_layout(layout, "json" if style == "json" else "text")
    known_board(read, board)
    if since is not None:
        put(layout, output, _since(since, read, source, board, style, paper), "changes.pdf")
        return
    lines = schedule.schedule(read, board)
    if style == "csv":
        data = schedule.as_csv(lines).encode("utf-8", "surrogateescape")
    elif style == "json":
        data = schedule.as_json(read.name, lines).encode("utf-8", "surrogateescape")
    elif style == "xlsx":
        from netlister.papers.table import Table

        table = Table("Wires", schedule.COLUMNS, tuple(line.columns() for line in lines))
        data = written_tables([table], (), "wires", read, source, style, paper)
    else:
        data = written_tables(
            schedule.tables(lines), schedule.remarks(lines), "wire schedule", read, source, style, paper
        )
    put(layout, output, data, "wires.csv")


def _since(since: str, read: Layout, source: Source, board: str, style: str, paper: str) -> bytes:
    """What changed since an older layout, in the forms that tables have."""
    from netlister.circuit.build import build
    from netlister.cli.papers import version
    from netlister.papers.card import Cards
    from netlister.papers.changes import changes

    if board or style in {"csv", "json"}:
        raise click.BadParameter("it has no board of its own, and text, html, pdf or xlsx", param_hint="--since")
    old_source, old = open_layout(since)
    tables = changes(Cards(build(old), version(old_source)), Cards(build(read), version(source)))
    said = f"from {version(old_source)} to {version(source)}" + ("" if tables else ": nothing to do")
    return written_tables(tables, (said,), "changes since the last print", read, source, style, paper)
