"""`netlister wire-size`."""

from __future__ import annotations

import sys

import click

from netlister.cli.common import FORMAT, LAYOUT, open_layout, unusable, write
from netlister.cli.drop import AMPS, WARMTH, current
from netlister.source import UnusableError


@click.command("wire-size")
@LAYOUT
@AMPS
@WARMTH
@FORMAT
def command(layout: str, amps: str | None, temperature: float, style: str) -> None:
    """Find the thinnest standard wire that holds the limits of LAYOUT, for each bus and for its feeders.

    Exits 1 where the layout has a short, which is told first.
    """
    from netlister.check import examine
    from netlister.outputs import sizes as output
    from netlister.outputs.drop import SHORTED
    from netlister.rules import BY_NAME
    from netlister.rules.analysis import Analysis
    from netlister.volts.sizes import Sizing

    source, read = open_layout(layout, style)
    try:
        shorted = examine(Analysis.of(read), [BY_NAME["pole-short"]], causes=False)
        sizing = Sizing(read, current(amps), temperature)
        found = list(sizing.sizes())
        found += sizing.together(found)
        instead = list(sizing.instead(found))
        both = list(sizing.with_feeders(found, instead))
    except UnusableError as error:
        unusable(error, read.name, style)
    if style == "json":
        from netlister.formats import json

        told = output.sizes_object(read.name, found, instead, both)
        told["findings"] = json.report_object(shorted)["findings"]
        write(json.dump(told))
    else:
        from netlister.formats import text

        if shorted.findings:
            write(text.render(shorted, source, colour=False, quiet=True) + "\n" + SHORTED + "\n\n")
        write(output.table(found, instead, both))
    sys.stdout.flush()
    sys.exit(1 if shorted.findings else 0)
