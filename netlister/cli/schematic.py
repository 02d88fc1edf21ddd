"""`netlister schematic`."""

from __future__ import annotations

from pathlib import Path

import click

from netlister.cli.common import LAYOUT, not_the_layout, open_layout, write_file, write_set
from netlister.cli.positions import circuit_of

ENDINGS = {".kicad_sch": "kicad", ".svg": "svg"}


@click.command("schematic")
@LAYOUT
@click.option(
    "--format", "form", type=click.Choice(["kicad", "svg"]), help="What to write; by the ending of FILE if left out."
)
@click.option(
    "--sheets",
    type=click.Choice(["auto", "one", "many"]),
    default="auto",
    show_default=True,
    help="One sheet, or one for each machine with the track around it; auto: one where A3 holds it.",
)
@click.option("--output", "-o", metavar="FILE", default="-", help="Where to write it; standard output if left out.")
def command(layout: str, form: str | None, sheets: str, output: str) -> None:
    """Draw the circuit of LAYOUT as a schematic in KiCad's format (FILE.kicad_sch) or as a picture (FILE.svg).

    Parts and nets are those of `netlister netlist`. Poles run across the top and the bottom, each piece of track stands
    on the right of its feeds, joiners and contact; what goes on on other sheets is joined by labels.
    Of several sheets in KiCad's format, FILE holds them and each is a file beside it: FILE-1.kicad_sch and so on.
    """
    ending = Path(output).suffix
    if form is None:
        form = ENDINGS.get(ending, "kicad" if output == "-" else "")
    if not form:
        message = f"'{output}' ends in neither .kicad_sch nor .svg; name it so, or say --format"
        raise click.BadParameter(message, param_hint="--output")
    if form == "kicad" and output != "-" and ending != ".kicad_sch":
        message = f"the format wants the ending .kicad_sch; write -o '{Path(output).stem}.kicad_sch'"
        raise click.BadParameter(message, param_hint="--output")
    _, read = open_layout(layout)
    not_the_layout(layout, output, "-o layout.kicad_sch")
    one = {"auto": None, "one": True, "many": False}[sheets]
    circuit = circuit_of(read)
    if form == "svg":
        from netlister.outputs.schematic.picture import picture

        write_file(output, picture(circuit, one=one))
        return
    from netlister.outputs.schematic.kicad import kicad_schematic

    files = kicad_schematic(circuit, Path(output).stem if output != "-" else "layout", one=one)
    if output == "-":
        if len(files) > 1:
            message = "there are several sheets, each a file: name one with -o, or write --sheets one"
            raise click.UsageError(message)
        write_file("-", next(iter(files.values())))
        return
    whole, *others = files  # what holds the others comes last
    write_set(
        {Path(output).with_name(name): files[name].encode("utf-8", "surrogateescape") for name in (*others, whole)}
    )
