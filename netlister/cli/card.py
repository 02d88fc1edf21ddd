"""`netlister card`."""

from __future__ import annotations

from pathlib import Path

import click

from netlister.cli import complete
from netlister.cli.common import LAYOUT, not_the_layout, unusable, write_bytes, write_set
from netlister.source import UnusableError


@click.command("card")
@LAYOUT
@click.argument("names", nargs=-1, shell_complete=complete.names)
@click.option(
    "--output",
    "-o",
    metavar="DIR|FILE",
    default="-",
    help="A folder; or cards.pdf with all sheets; or for one card a file: card.svg or .png.",
)
@click.option(
    "--form",
    type=click.Choice(["svg", "png", "pdf"]),
    default="svg",
    help="For a folder; svg if left out.",
)
@click.option("--board", metavar="NAME", default="", help="Only cards of what stands on this baseboard.")
def command(layout: str, names: tuple[str, ...], output: str, form: str, board: str) -> None:
    """Make wiring cards for LAYOUT, or for NAMES alone: A5 sheets to print and to take under the baseboard.

    There is one for each turnout, slip, crossing, turntable and reverser, and for each plug, terminal strip, hand
    switch, frog unit, part in a wire and bus: drawn from above and from below, as altered, with every wire, every
    contact, and what to test.
    """
    from netlister.circuit.build import build
    from netlister.cli.draw import converted, form_of
    from netlister.cli.papers import open_paper
    from netlister.papers.card import CardError, Cards

    _, read, version = open_paper(layout, board)
    try:
        made = Cards(build(read), version)
    except UnusableError as error:
        unusable(error, read.name, "text")
    wanted = list(dict.fromkeys(names)) or made.known
    if board:
        wanted = [name for name in wanted if name in made.on(board)]
    if not wanted:
        raise click.ClickException(
            "there is no wire, turnout, crossing or reverser in this layout; nothing needs a card"
        )
    single = len(wanted) == 1 and (output == "-" or ("." in Path(output).name and not Path(output).is_dir()))
    book = output.lower().endswith(".pdf") and not Path(output).is_dir()
    if output == "-" and not single:
        message = (
            f"there are {len(wanted)} cards; name a folder for them, as in -o cards, or one file, as in -o cards.pdf, "
            f"or one of {', '.join(wanted[:6])}"
        )
        raise click.BadParameter(message, param_hint="--output")
    if single or book:
        form = form_of(output)
        not_the_layout(layout, output, "-o card.svg")
    try:
        if book or (single and form == "pdf"):
            write_bytes(output, _pdf([sheet for name in wanted for sheet in made.sheets(name)]))
            return
        if single:
            write_bytes(output, converted(made.whole(wanted[0]), form))
            return
        files = {}
        for name, file in file_names(wanted).items():
            sheets = made.sheets(name)
            if form == "pdf":
                files[f"{file}.pdf"] = _pdf(sheets)
            else:
                files |= {f"{file}-{k}.{form}": converted(sheet, form) for k, sheet in enumerate(sheets, 1)}
    except CardError as error:
        raise click.BadParameter(str(error), param_hint="NAME") from None
    folder = Path(output)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = f"'{output}' is no folder and cannot be made one: {error.strerror}"
        raise click.ClickException(message) from None
    write_set({folder / file: data for file, data in files.items()})
    cards, sheets_said = f"{len(wanted)} card{'s' * (len(wanted) > 1)}", f"{len(files)} file{'s' * (len(files) > 1)}"
    click.echo(f"{cards} written to {output}, {sheets_said}", err=True)


def _pdf(sheets: list[str]) -> bytes:
    """Sheets of cards as PDF; what is missing for it is said, exit code 1."""
    from netlister.papers.page import sheets_pdf
    from netlister.papers.table import PaperMissingError

    try:
        return sheets_pdf(sheets)
    except PaperMissingError as error:
        raise click.ClickException(str(error)) from None


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
            file = f"{plain}~{count}"
        taken.add(file.casefold())
        found[name] = file
    return found
