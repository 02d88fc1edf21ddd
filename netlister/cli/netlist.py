"""`netlister netlist`."""

from __future__ import annotations

import gc

import click

from netlister.cli.common import LAYOUT, not_the_layout, open_layout, unusable, write_file
from netlister.source import UnusableError


@click.command("netlist")
@LAYOUT
@click.option("--output", "-o", metavar="FILE", default="-", help="Where to write it; standard output if left out.")
def command(layout: str, output: str) -> None:
    """Write the netlist of LAYOUT (`-`: standard input) in KiCad's format: its parts, their pins and nets.

    Track pieces, joiners, contacts, feeds, wires and gear are parts; the layout's own names are in their fields.
    Contracting the parts that always conduct gives the nets that `check` works on.
    """
    gc.disable()  # nothing made here is thrown away before the end
    from netlister.circuit.build import build
    from netlister.skidl.netlist import kicad_netlist

    _, read = open_layout(layout)
    not_the_layout(layout, output, "-o layout.net")
    try:
        text = kicad_netlist(build(read))
    except UnusableError as error:
        unusable(error, read.name, "text")
    write_file(output, text)
