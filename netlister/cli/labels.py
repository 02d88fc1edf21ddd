"""`netlister labels`."""

from __future__ import annotations

import click

from netlister.cli.common import LAYOUT
from netlister.cli.papers import BOARD, open_paper, put


@click.command("labels")
@LAYOUT
@click.option("--output", "-o", metavar="FILE", required=True, help="labels.pdf, or .html.")
@BOARD
@click.option("--sheet", default="A4-65", metavar="NAME", help="The division of the sheet; A4-65 if left out.")
@click.option("--of", "of", multiple=True, metavar="WHAT", help="wires, terminals, machines, gear, rails; or all.")
@click.option("--code", is_flag=True, help="With a QR code of the name.")
@click.option("--first", default=1, type=click.IntRange(1), metavar="N", help="The field to begin with.")
def command(layout: str, output: str, board: str, sheet: str, of: tuple[str, ...], code: bool, first: int) -> None:
    """Make labels for LAYOUT: both ends of every wire, terminals, gear, fed rails; letters at least 2 mm high.

    Sheets: A4-65, A4-24, A4-plain, Letter-30, Letter-80, Letter-plain; print without scaling.
    """
    from netlister.papers import labels, schedule
    from netlister.papers.table import PaperMissingError
    from netlister.source import suggest

    if sheet not in labels.STOCKS:
        known = ", ".join(labels.STOCKS)
        message = f"there is no sheet '{sheet}'{suggest(sheet, list(labels.STOCKS)) or f'; there are {known}'}"
        raise click.BadParameter(message, param_hint="--sheet")
    unknown = [one for one in of if one not in labels.OF]
    if unknown:
        message = f"there are no labels of '{unknown[0]}'; write {', '.join(labels.OF)}"
        raise click.BadParameter(message, param_hint="--of")
    _, read, _ = open_paper(layout, board)
    lines = schedule.schedule(read, board)
    found = labels.texts(read, lines, of or labels.OF)
    if not found:
        raise click.ClickException("there is nothing in this layout to label")
    try:
        html = labels.sheets(found, sheet, code=code, first=first)
        data = labels.labels_pdf(html) if output.lower().endswith(".pdf") else html.encode("utf-8", "surrogateescape")
    except (labels.LabelError, PaperMissingError) as error:
        raise click.ClickException(str(error)) from None
    put(layout, output, data, "labels.pdf")
