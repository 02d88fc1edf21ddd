"""`netlister symbols`."""

from __future__ import annotations

import click

from netlister.cli.common import read_input, unusable, write_file
from netlister.source import UnusableError


@click.command("symbols")
@click.option("--output", "-o", metavar="FILE", default="-", help="Where to write it; standard output if left out.")
@click.option(
    "--use", "extra", multiple=True, metavar="FILE", help="A file with kinds of your own, for symbols of them."
)
def command(output: str, extra: tuple[str, ...]) -> None:
    """Write the symbols to draw wiring with in a schematic editor, as a KiCad symbol library.

    A netlist exported from such a drawing is checked like a layout: `netlister check wiring.net`.
    """
    from netlister.kinds import library
    from netlister.outputs.symbols import symbol_library

    try:
        kinds = library(None, [read_input(path) for path in extra])
    except UnusableError as error:
        unusable(error, "", "text")
    write_file(output, symbol_library(kinds))
