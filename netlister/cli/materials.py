"""`netlister materials`."""

from __future__ import annotations

import click

from netlister.cli.papers import TABLES, open_paper, output_form, paper_options, put, written_tables


@click.command("materials")
@paper_options(*TABLES)
@click.option("--allowance", default="10 %", metavar="SHARE", help="Added to lengths of wire; 10 % if left out.")
def command(layout: str, style: str | None, output: str, board: str, paper: str, allowance: str) -> None:
    """List what LAYOUT needs: joiners, wire by size and colour, terminals, machines by their contacts, gear."""
    from netlister.papers import materials, schedule
    from netlister.quantity import SHARE, QuantityError, parse

    style = output_form(style, output, TABLES)
    _, read, version = open_paper(layout, board)
    try:
        share = parse(allowance, SHARE)
    except QuantityError as error:
        raise click.BadParameter(str(error), param_hint="--allowance") from None
    lines = schedule.schedule(read, board)
    tables = materials.materials(read, lines, share, board)
    data = written_tables(tables, materials.remarks(lines, share), "materials", (read, version), style, paper)
    put(layout, output, data, "materials.html")
