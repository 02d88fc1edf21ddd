"""`netlister wire-size`."""

from __future__ import annotations

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
    """Find the thinnest standard wire that holds the limits of LAYOUT, for each bus and for its feeders."""
    from netlister.outputs import sizes as output
    from netlister.volts.sizes import Sizing

    _, read = open_layout(layout, style)
    try:
        sizing = Sizing(read, current(amps), temperature)
        found = list(sizing.sizes())
        found += sizing.together(found)
        instead = list(sizing.instead(found))
    except UnusableError as error:
        unusable(error, read.name, style)
    if style == "json":
        from netlister.formats import json

        write(json.dump(output.sizes_object(read.name, found, instead)))
    else:
        write(output.table(found, instead))
