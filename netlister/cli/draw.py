"""`netlister draw`."""

from __future__ import annotations

import click

from netlister.cli.common import LAYOUT, not_the_layout, open_layout, write_bytes
from netlister.cli.positions import SET, circuit_of, positions_given, state_of


@click.command("draw")
@LAYOUT
@click.option(
    "--output",
    "-o",
    metavar="FILE",
    default="-",
    help="plan.svg, plan.png or plan.pdf, with --pages plan.html or plan.pdf; SVG to standard output if left out.",
)
@SET
@click.option("--unfolded", is_flag=True, help="Keep a long plan in one row; else it is cut into strips.")
@click.option("--names", is_flag=True, help="Name joints, gaps and feeds as well.")
@click.option(
    "--pages",
    type=click.Choice(["A4", "A3", "Letter"]),
    default=None,
    help="On sheets of this paper, landscape, to be laid together by their marks.",
)
def command(
    layout: str, output: str, settings: tuple[str, ...], pages: str | None, *, unfolded: bool, names: bool
) -> None:
    """Draw the plan of LAYOUT: both rails of every piece by pole, gaps, feeds, frogs, contacts and reversers.

    Track is drawn to scale where curves and lengths are written and it closes or nearly closes; what is spread or bent
    to make it meet is said. Else all of it is bent to fit.
    """
    from netlister.draw.laying import laid_out, remarks
    from netlister.draw.plan import plan_svg

    form = form_of(output) if pages is None else form_of_pages(output)
    _, read = open_layout(layout)
    not_the_layout(layout, output, "-o plan.svg")
    circuit = circuit_of(read)
    state = state_of(circuit, positions_given(settings))
    drawing = laid_out(read, fold=not unfolded)
    svg = plan_svg(circuit, state, drawing=drawing, names=names)
    write_bytes(output, converted(svg, form) if pages is None else on_sheets(svg, pages, form, read.title or read.name))
    for text in remarks(drawing):
        click.echo(f"{read.name}: {text}", err=True)


def form_of_pages(output: str) -> str:
    """The form of a plan on sheets: HTML, or PDF by the name of its file."""
    form = "html" if output == "-" else output.rpartition(".")[2].lower()
    if form not in {"html", "pdf"}:
        message = f"with --pages write a file to print, plan.html or plan.pdf; '{output}' is neither"
        raise click.BadParameter(message, param_hint="--output")
    return form


def on_sheets(svg: str, paper: str, form: str, title: str) -> bytes:
    """A plan on sheets of paper, as a file to print."""
    from netlister.cli.papers import as_pdf
    from netlister.draw.pages import sheets_html

    html = sheets_html(svg, paper, title)
    return as_pdf(html) if form == "pdf" else html.encode("utf-8", "surrogateescape")


def form_of(output: str) -> str:
    """The form of a drawing, from the name of its file."""
    from netlister.draw.picture import FORMATS

    form = "svg" if output == "-" else output.rpartition(".")[2].lower() if "." in output else ""
    if form not in FORMATS:
        message = f"'{output}' has no ending that says what to write; name it .svg, .png or .pdf"
        raise click.BadParameter(message, param_hint="--output")
    return form


def converted(svg: str, form: str) -> bytes:
    """A drawing in a form; what is missing for it is said, exit code 1."""
    from netlister.draw.picture import PictureMissingError, convert

    try:
        return convert(svg, form)
    except PictureMissingError as error:
        raise click.ClickException(str(error)) from None
