"""`netlister card`."""

from __future__ import annotations

from pathlib import Path

import click

from netlister.cli.common import LAYOUT, not_the_layout, open_layout, unusable, write_bytes, write_set
from netlister.source import UnusableError


@click.command("card")
@LAYOUT
@click.argument("names", nargs=-1)
@click.option(
    "--output", "-o", metavar="DIR|FILE", default="-", help="A folder, or for one card a file: card.svg, .png or .pdf."
)
@click.option(
    "--form",
    type=click.Choice(["svg", "png", "pdf"]),
    default="svg",
    help="For a folder; svg if left out.",
)
def command(layout: str, names: tuple[str, ...], output: str, form: str) -> None:
    """Draw a wiring card for each turnout, slip, crossing, turntable and reverser of LAYOUT, or for NAMES alone.

    A card is an A5 sheet to print and to tape under the baseboard: rails by pole in each position, gaps, wires.
    """
    from netlister.circuit.build import build
    from netlister.cli.draw import converted, form_of
    from netlister.draw.card import CardError, card_svg, cards

    _, read = open_layout(layout)
    wanted = list(dict.fromkeys(names)) or cards(read)
    if not wanted:
        raise click.ClickException("there is no turnout, crossing or reverser in this layout; nothing needs a card")
    single = len(wanted) == 1 and (output == "-" or ("." in Path(output).name and not Path(output).is_dir()))
    if single:
        form = form_of(output)
        not_the_layout(layout, output, "-o card.svg")
    elif output == "-":
        message = (
            f"there are {len(wanted)} cards; name a folder for them, as in -o cards, or one of {', '.join(wanted[:6])}"
        )
        raise click.BadParameter(message, param_hint="--output")
    try:
        circuit = build(read)
        made = {name: converted(card_svg(circuit, name), form) for name in wanted}
    except UnusableError as error:
        unusable(error, read.name, "text")
    except CardError as error:
        raise click.BadParameter(str(error), param_hint="NAME") from None
    if single:
        write_bytes(output, made[wanted[0]])
        return
    folder = Path(output)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = f"'{output}' is no folder and cannot be made one: {error.strerror}"
        raise click.ClickException(message) from None
    write_set({folder / f"{file}.{form}": made[name] for name, file in file_names(wanted).items()})
    click.echo(f"{len(made)} card{'s' if len(made) > 1 else ''} written to {output}", err=True)


LONGEST = 80
"""Bytes of a file's name without its ending; file systems take 255, and copies add to it."""

RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}
"""Names that Windows keeps for devices, with any ending: Microsoft, "Naming Files, Paths, and Namespaces"."""


def file_names(names: list[str]) -> dict[str, str]:
    """A file name for each name: what no file system takes is replaced, and no two are the same."""
    found: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        plain = "".join(c if c.isalnum() or c in "-_." else "_" for c in name).strip(".")
        plain = plain.encode()[:LONGEST].decode(errors="ignore") or "_"
        if plain.partition(".")[0].casefold() in RESERVED:
            plain = f"_{plain}"
        file, count = plain, 1
        while file.casefold() in taken:
            count += 1
            file = f"{plain}-{count}"
        taken.add(file.casefold())
        found[name] = file
    return found
