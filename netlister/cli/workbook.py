"""`netlister workbook`."""

from __future__ import annotations

import click

from netlister.cli.common import LAYOUT
from netlister.cli.papers import BOARD, as_pdf, open_checked, put


@click.command("workbook")
@LAYOUT
@click.option("--output", "-o", metavar="FILE", required=True, help="workbook.pdf, or .html.")
@BOARD
@click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", help="The size of paper; A4 if left out.")
@click.option("--with", "parts", multiple=True, metavar="PART", help="Only these parts; may be given again.")
@click.option("--without", multiple=True, metavar="PART", help="All but these parts.")
def command(layout: str, output: str, board: str, paper: str, parts: tuple[str, ...], without: tuple[str, ...]) -> None:
    """Put all papers for LAYOUT into one: plan, colours, order, schedule, terminals, materials, test sheet, cards."""
    from netlister.circuit.build import build
    from netlister.papers.card import Cards
    from netlister.papers.page import WRONG
    from netlister.papers.workbook import NO_TEST, PARTS, workbook

    for one in (*parts, *without):
        if one not in PARTS:
            message = f"there is no part '{one}'; write {', '.join(PARTS)}"
            raise click.BadParameter(message, param_hint="--with")
    _, read, version, warnings = open_checked(layout, board)
    wanted = tuple(part for part in parts or PARTS if part not in without)
    if version.endswith(WRONG) and "test" in wanted:
        click.echo(f"warning: {NO_TEST}", err=True)
    of, is_pdf = Cards(build(read), version), output.lower().endswith(".pdf")
    html = workbook(of, wanted, board=board, size=paper, warnings=warnings, for_pdf=is_pdf)
    data = as_pdf(html) if is_pdf else html.encode("utf-8", "surrogateescape")
    put(layout, output, data, "workbook.pdf")
