"""`netlister steps`."""

from __future__ import annotations

import click

from netlister.cli.common import LAYOUT, open_layout
from netlister.cli.papers import BOARD, OUTPUT, PAPER, chosen, form, known_board, put, written_tables

FORMS = ("text", "html", "pdf", "xlsx")


@click.command("steps")
@LAYOUT
@form(*FORMS)
@OUTPUT
@BOARD
@PAPER
def command(layout: str, style: str | None, output: str, board: str, paper: str) -> None:
    """List the order of work for LAYOUT: what to cut and bond before a piece is laid, what to wire and test after."""
    from netlister.circuit.build import build
    from netlister.cli.papers import version
    from netlister.papers import steps
    from netlister.papers.card import Cards

    style = chosen(style, output, FORMS)
    source, read = open_layout(layout)
    known_board(read, board)
    made = Cards(build(read), version(source))
    tables = steps.steps(made, board)
    data = written_tables(tables, steps.remarks(made), "order of work", read, source, style, paper)
    put(layout, output, data, "steps.html")
