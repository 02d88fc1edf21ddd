"""`netlister steps`."""

from __future__ import annotations

import click

from netlister.cli.papers import TABLES, open_paper, output_form, paper_options, put, written_tables


@click.command("steps")
@paper_options(*TABLES)
def command(layout: str, style: str | None, output: str, board: str, paper: str) -> None:
    """List the order of work for LAYOUT: what to cut and bond before a piece is laid, what to wire and test after."""
    from netlister.circuit.build import build
    from netlister.papers import steps
    from netlister.papers.card import Cards

    style = output_form(style, output, TABLES)
    _, read, version = open_paper(layout, board)
    made = Cards(build(read), version)
    tables = steps.steps(made, board)
    data = written_tables(tables, (), "order of work", (read, version), style, paper, steps.remarks(made))
    put(layout, output, data, "steps.html")
