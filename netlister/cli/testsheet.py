"""`netlister testsheet`."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from netlister.cli.common import LAYOUT, not_the_layout, open_layout, unusable, write, write_file
from netlister.source import UnusableError

if TYPE_CHECKING:
    from netlister.layout.model import Layout
    from netlister.source import Source


@click.command("testsheet")
@LAYOUT
@click.option(
    "--format",
    "style",
    type=click.Choice(["text", "json", "html", "csv"]),
    default="text",
    help="What to write; text if left out. CSV is to fill in, HTML to print.",
)
@click.option("-o", "--output", default="-", metavar="FILE", help="Where to write; standard output if left out.")
def command(layout: str, style: str, output: str) -> None:
    """Say what to measure on LAYOUT as built, in which order, and what the meter must do.

    All readings but those of automatic devices are beep tests, with every supply unplugged. A design with errors
    is refused: exit code 1.
    """
    from netlister.formats import json
    from netlister.probe import text
    from netlister.probe.sheet import make_sheet, prepare

    source, read = open_layout(layout, style)
    not_the_layout(layout, output, "-o sheet.html")
    refuse(source, read, style)
    made, faults = prepare(read)
    sheet = make_sheet(made, faults)
    if style == "json":
        write_file(output, json.dump(text.sheet_object(sheet)))
    else:
        write_file(output, {"text": text.text, "html": text.page, "csv": text.table}[style](sheet))


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

        write(json.dump(report.to_json()))
    else:
        from netlister.formats import text

        write(text.render(report, source, colour=False))
    what = "has errors" if errors else "is not proved"
    click.echo(f"the design {what}: mend it first, else a reading would tell nothing of the railway", err=True)
    sys.exit(1)
