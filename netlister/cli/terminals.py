"""`netlister terminals`."""

from __future__ import annotations

import click

from netlister.cli.papers import TABLES, open_paper, output_form, paper_options, put, written_tables


@click.command("terminals")
@paper_options(*TABLES)
def command(layout: str, style: str | None, output: str, board: str, paper: str) -> None:
    """List every terminal of LAYOUT with its wires, by baseboard: strips, plugs (both halves), gear, rails."""
    from netlister.papers import schedule, terminals

    style = output_form(style, output, TABLES)
    _, read, version = open_paper(layout, board)
    lines = schedule.schedule(read)
    tables = terminals.tables(read, lines, board)
    marks = schedule.of_colours(lines)
    data = written_tables(tables, marks, "terminals and plugs", (read, version), style, paper)
    put(layout, output, data, "terminals.html")
