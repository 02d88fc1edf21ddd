"""`netlister testsheet`."""

from __future__ import annotations

import sys
from html import escape
from typing import TYPE_CHECKING

import click

from netlister.cli.common import LAYOUT, open_layout, unusable, write
from netlister.cli.papers import BOARD, OUTPUT, PAPER, as_pdf, checksum, known_board, output_form, put
from netlister.source import UnusableError

if TYPE_CHECKING:
    from netlister.layout.model import Layout
    from netlister.source import Source

FORMS = ("text", "json", "html", "csv", "pdf")


@click.command("testsheet")
@LAYOUT
@click.option(
    "--format",
    "style",
    type=click.Choice(FORMS),
    default=None,
    help="Left out: by the end of FILE, else text. CSV is to fill in, HTML and PDF to print.",
)
@OUTPUT
@BOARD
@PAPER
@click.option("--walk", is_flag=True, help="Touch every point, island by island, in place of the fewest readings.")
def command(layout: str, style: str | None, output: str, board: str, paper: str, walk: bool) -> None:
    """Say what to measure on LAYOUT as built, in which order, and what the meter must do.

    All readings but those of automatic devices are beep tests, with every supply unplugged. A design with errors
    is refused: exit code 1.
    """
    from netlister.formats import json
    from netlister.probe import forms, text
    from netlister.probe.sheet import make_sheet, prepare

    style = output_form(style, output, FORMS)
    if board and style in {"json", "csv"}:
        raise click.BadParameter("text, html and pdf can be of one board; json and csv are whole", param_hint="--board")
    source, read = open_layout(layout, style)
    known_board(read, board)
    refuse(source, read, style)
    made, faults = prepare(read)
    sheet = make_sheet(made, faults, walk=walk)
    if style == "json":
        data = json.dump(text.sheet_object(sheet))
    elif style == "csv":
        data = forms.csv_to_fill(sheet)
    elif style == "pdf":
        from netlister.papers.page import page

        title = forms.title_of(sheet, board)
        body = f"<style>{forms.STYLE}</style><h1>{escape(title)}</h1>" + "\n".join(forms.body(sheet, board))
        put(layout, output, as_pdf(page(title, body, version=checksum(source), size=paper)), "sheet.pdf")
        return
    else:
        data = (forms.page if style == "html" else forms.text)(sheet, board)
    put(layout, output, data.encode("utf-8", "surrogateescape"), "sheet.html")


def refuse(source: Source, read: Layout, style: str) -> None:
    """Leave with exit code 1, showing the errors, where the design itself is wrong: its readings would mean nothing."""
    from netlister.check import check

    try:
        report = check(read)
    except UnusableError as error:
        unusable(error, read.name, style)
    errors = [f for f in report.findings if f.severity.label == "error"]
    if not errors and report.proved:
        return
    from dataclasses import replace

    report = replace(report, findings=tuple(errors))
    if style == "json":
        from netlister.formats import json

        write(json.dump(json.report_object(report)))
    else:
        from netlister.formats import text

        write(text.render(report, source, colour=False))
    what = "has errors" if errors else "is not proved"
    click.echo(f"the design {what}: mend it first, else a reading would tell nothing of the railway", err=True)
    sys.exit(1)
