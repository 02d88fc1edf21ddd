"""`netlister graph`."""

from __future__ import annotations

import click

from netlister.cli.common import LAYOUT, not_the_layout, open_layout, unusable, write_file
from netlister.source import UnusableError


@click.command("graph")
@LAYOUT
@click.option(
    "--format",
    "form",
    type=click.Choice(["graphml", "dot", "csv"]),
    default="graphml",
    show_default=True,
    help="What to write.",
)
@click.option("--output", "-o", metavar="FILE", default="-", help="Where to write it; standard output if left out.")
def command(layout: str, form: str, output: str) -> None:
    """Write the circuit of LAYOUT for other programs: terminals, and what conducts between them.

    GraphML and DOT have every conductor with its owner, its resistance and the positions in which it conducts (JSON: a
    list of pairs of a variable and its positions). CSV lists the terminals of every net.
    """
    from netlister.circuit.build import build
    from netlister.outputs.graph import graph

    _, read = open_layout(layout)
    not_the_layout(layout, output, f"-o layout.{form}")
    try:
        text = graph(build(read), form)
    except UnusableError as error:
        unusable(error, read.name, "text")
    write_file(output, text)
