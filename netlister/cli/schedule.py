"""`netlister schedule`."""

from __future__ import annotations

import click

from netlister.cli.common import LAYOUT, open_layout
from netlister.cli.papers import BOARD, FORMS, OUTPUT, PAPER, chosen, form, known_board, put, written_tables


@click.command("schedule")
@LAYOUT
@form(*FORMS)
@OUTPUT
@BOARD
@PAPER
def command(layout: str, style: str | None, output: str, board: str, paper: str) -> None:
    """List every wire of LAYOUT: its id, both ends, colour, size, cut length, tap, board and part.

    Forms: text, csv, json, html, pdf, xlsx. In CSV a cell that starts with = + - @ or ' gets a ' in front, so that no
    spreadsheet takes it for a formula; take one ' off the front to have the name.
    """
    from netlister.papers import schedule

    style = chosen(style, output, FORMS)
    source, read = open_layout(layout, "json" if style == "json" else "text")
    known_board(read, board)
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
