"""`netlister schedule`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from netlister.cli.common import open_layout
from netlister.cli.papers import FORMS, checksum, open_paper, output_form, paper_options, put, written_tables

if TYPE_CHECKING:
    from netlister.layout.model import Layout
    from netlister.source import Source


@click.command("schedule")
@paper_options(*FORMS)
@click.option("--keep-ids", is_flag=True, help="Write the ids into LAYOUT; without --write only show the difference.")
@click.option("--write", "over", is_flag=True, help="With --keep-ids: write LAYOUT; the old one stays as LAYOUT.orig.")
@click.option("--since", metavar="OLD", help="An older LAYOUT: only wires to add, move and take out, cards to replace.")
def command(
    layout: str, style: str | None, output: str, board: str, paper: str, since: str | None, keep_ids: bool, over: bool
) -> None:
    """List every wire of LAYOUT: its id, both ends, colour, size, cut length, tap, board and part.

    Forms: text, csv, json, html, pdf, xlsx. In CSV a cell that starts with = + - @ or ' gets a ' in front, so that no
    spreadsheet takes it for a formula; take one ' off the front to have the name.
    """
    from netlister.papers import schedule

    style = output_form(style, output, FORMS)
    if over and not keep_ids:
        raise click.BadParameter("it goes with --keep-ids; a schedule is written with -o", param_hint="--write")
    source, read, version = open_paper(layout, board, "json" if style == "json" else "text")
    if keep_ids:
        _keep(layout, read, source, over=over)
        return
    if since is not None:
        put(layout, output, _since(since, (read, version), checksum(source), board, style, paper), "changes.pdf")
        return
    lines = schedule.schedule(read, board)
    if style == "csv":
        data = schedule.as_csv(lines).encode("utf-8", "surrogateescape")
    elif style == "json":
        data = schedule.as_json(read.name, lines).encode("utf-8", "surrogateescape")
    elif style == "xlsx":
        from netlister.papers.table import Table

        table = Table("Wires", schedule.COLUMNS, tuple(line.columns() for line in lines))
        data = written_tables([table], schedule.remarks(lines), "wires", (read, version), style, paper)
    else:
        data = written_tables(
            schedule.tables(lines), schedule.remarks(lines), "wire schedule", (read, version), style, paper
        )
    put(layout, output, data, "wires.csv")


def _since(since: str, now: tuple[Layout, str], name: str, board: str, style: str, paper: str) -> bytes:
    """What changed since an older layout, in the forms that tables have."""
    from netlister.circuit.build import build
    from netlister.papers.card import Cards
    from netlister.papers.changes import changes

    if board or style in {"csv", "json"}:
        raise click.BadParameter("it has no board of its own, and text, html, pdf or xlsx", param_hint="--since")
    old_source, old = open_layout(since)
    tables = changes(Cards(build(old)), Cards(build(now[0])))
    said = f"from {checksum(old_source)} to {name}" + ("" if tables else ": nothing to do")
    return written_tables(tables, (said,), "changes since the last print", now, style, paper)


def _keep(path: str, read: Layout, source: Source, *, over: bool) -> None:
    """Write the ids of wires into the layout, or show how the file would differ."""
    from netlister.cli.common import folder_of, write, write_over
    from netlister.edits.patch import CannotPatchError, apply_edits
    from netlister.edits.text import EditError
    from netlister.edits.write import unified
    from netlister.papers.keep import keep_ids

    try:
        kept = keep_ids(read, source, folder_of(path))
        text = apply_edits(source.text, kept.edits)
        write(unified(source, text))
        if over and kept.edits:
            write_over(path, source, text)
    except (EditError, CannotPatchError) as error:
        raise click.ClickException(str(error)) from None
    for old, new in kept.renamed:
        click.echo(f"{old} is called {new} from now on: label it again", err=True)
    if not kept.edits:
        click.echo("every feed and wire has its id already", err=True)
