"""`netlister netlist`."""

from __future__ import annotations

import contextlib
import gc
from pathlib import Path

import click

from netlister.cli.common import LAYOUT, open_layout, unusable, write_file
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
    from netlister.outputs.netlist import kicad_netlist

    _, read = open_layout(layout)
    if output != "-" and _same(layout, output):
        message = f"'{output}' is the layout itself; name another file, as in -o layout.net"
        raise click.BadParameter(message, param_hint="--output")
    try:
        text = kicad_netlist(build(read))
    except UnusableError as error:
        unusable(error, read.name, "text")
    write_file(output, text)


def _same(one: str, other: str) -> bool:
    with contextlib.suppress(OSError):
        return one != "-" and Path(one).samefile(other)
    return False
