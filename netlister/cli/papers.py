"""What the commands for papers share: forms, the version of a layout, writing."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, TypeVar

import click

from netlister.cli.common import LAYOUT, not_the_layout, open_layout, write_bytes
from netlister.papers.page import WRONG
from netlister.source import UnusableError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from netlister.layout.model import Layout
    from netlister.papers.table import Table
    from netlister.source import Source

F = TypeVar("F", bound="Callable[..., object] | click.Command")
FORMS = ("text", "csv", "json", "html", "pdf", "xlsx")
TABLES = ("text", "html", "pdf", "xlsx")
"""Forms of papers that no program reads."""

OUTPUT = click.option("--output", "-o", metavar="FILE", default="-", help="A file; standard output if left out.")
BOARD = click.option("--board", metavar="NAME", default="", help="Only what is on this baseboard.")
PAPER = click.option(
    "--paper", type=click.Choice(["A4", "Letter", "A5"]), default="A4", help="The size of paper; A4 if left out."
)


def form(*names: str) -> Callable[[F], F]:
    """The option --format with these forms, or what the name of the output file ends in."""
    return click.option(
        "--format", "style", type=click.Choice(names), default=None, help="Left out: by the end of FILE, else text."
    )


def paper_options(*names: str) -> Callable[[F], F]:
    """What every paper of tables takes: the layout, one of these forms, a file, a baseboard, a size of paper."""

    def given(command: F) -> F:
        for option in (PAPER, BOARD, OUTPUT, form(*names), LAYOUT):
            command = option(command)
        return command

    return given


def output_form(style: str | None, output: str, names: Sequence[str]) -> str:
    """The form of output: as asked, else by the name of the file, else text."""
    if style:
        return style
    end = output.rpartition(".")[2].lower()
    return "text" if end == "txt" or end not in names else end


def known_board(layout: Layout, board: str) -> None:
    """Refuse a board that the layout does not have."""
    from netlister.source import suggest

    if board and board not in layout.boards:
        hint = suggest(board, list(layout.boards)) or "; the layout names them under 'boards'"
        message = f"there is no board '{board}'{hint}"
        raise click.BadParameter(message, param_hint="--board")


def open_paper(path: str, board: str = "", style: str = "text") -> tuple[Source, Layout, str]:
    """Read the layout of a paper; the third is its version for the foot of each sheet.

    Where the wiring has errors or is not proved, the version says so and standard error too: what would be soldered
    from such a paper is wrong. Leaves with exit code 2 where the file cannot be used or has no such board.
    """
    return open_checked(path, board, style)[:3]


def open_checked(path: str, board: str = "", style: str = "text") -> tuple[Source, Layout, str, list[str]]:
    """As `open_paper`; the fourth is what the check warns of, a sentence each."""
    source, layout = open_layout(path, style)
    known_board(layout, board)
    name = checksum(source)
    wrong, warnings = _checked(layout)
    if not wrong:
        return source, layout, name, warnings
    click.echo(f"warning: this wiring {wrong}; build nothing from this before 'netlister check' is clean", err=True)
    return source, layout, f"{name}, {wrong.upper()}: {WRONG}", warnings


def checksum(source: Source) -> str:
    """A name for what stands in the file now: the first figures of its checksum."""
    return "file " + hashlib.sha256(source.text.encode("utf-8", "surrogateescape")).hexdigest()[:8]


def _checked(layout: Layout) -> tuple[str, list[str]]:
    """What is wrong with a wiring, in words that follow "this wiring", and what the check warns of.

    Nothing is wrong where it is right and proved.
    """
    from netlister.check import check

    try:
        report = check(layout, causes=False)
    except UnusableError:
        return "has no position left that 'never' allows", []
    count = sum(1 for finding in report.findings if finding.severity.label == "error")
    warnings = [f"{f.rule}: {f.message}" for f in report.findings if f.severity.label == "warning"]
    if count:
        return f"has {count} error{'s' * (count > 1)}", warnings
    return ("" if report.proved else "is not proved"), warnings


def heading(layout: Layout, what: str) -> str:
    """The title of a paper."""
    return f"{layout.title or layout.name}: {what}"


def written_tables(
    tables: list[Table],
    remarks: Sequence[str],
    what: str,
    of: tuple[Layout, str],
    style: str,
    paper: str,
    cautions: Sequence[str] = (),
) -> bytes:
    """Tables in one of the forms that all papers have (text, html, pdf, xlsx); `of`: the layout and its version.

    Cautions stand before the tables, and before all that the wiring is wrong, if it is; remarks stand after them.
    """
    from html import escape

    from netlister.papers.page import page, pdf, warned
    from netlister.papers.table import PaperMissingError, Table, as_plain_text, html_table, xlsx

    first = (*warned(of[1]), *cautions)
    try:
        if style == "xlsx":
            notes = [Table(name, ("",), tuple((said,) for said in each)) for name, each in
                     (("Read first", first), ("Notes", remarks))]  # fmt: skip
            return xlsx([table for table in (notes[0], *tables, notes[1]) if table.rows])
        if style == "text":
            texts = [*[f"{said}\n" for said in first], *["\n"] * bool(first), as_plain_text(tables)]
            return "".join([*texts, *[f"{remark}\n" for remark in remarks]]).encode("utf-8", "surrogateescape")
        title = heading(of[0], what)
        body = f"<h1>{escape(title)}</h1>\n" + "\n".join(f'<p class="caution">{escape(said)}</p>' for said in first)
        body += "\n".join(html_table(table, paper=paper) for table in tables)
        body += "".join(f"<p>{escape(remark)}</p>" for remark in remarks)
        html = page(title, body, version=of[1], size=paper)
        return pdf(html) if style == "pdf" else html.encode("utf-8", "surrogateescape")
    except PaperMissingError as error:
        raise click.ClickException(str(error)) from None


def as_pdf(html: str) -> bytes:
    """A page as PDF; leaves with a sentence where what makes it is not installed."""
    from netlister.papers.page import pdf
    from netlister.papers.table import PaperMissingError

    try:
        return pdf(html)
    except PaperMissingError as error:
        raise click.ClickException(str(error)) from None


def put(layout: str, output: str, data: bytes, instead: str) -> None:
    """Write a paper, but never over the layout."""
    not_the_layout(layout, output, f"-o {instead}")
    write_bytes(output, data)
