"""`netlister report`."""

from __future__ import annotations

import gc
from typing import TYPE_CHECKING

import click

from netlister.cli.common import LAYOUT, not_the_layout, open_layout, unusable, write_file
from netlister.cli.positions import positions_given, state_of
from netlister.source import UnusableError

if TYPE_CHECKING:
    from netlister.layout.model import Layout
    from netlister.routes.ways import TrackPlace

SELECT = click.option("--select", metavar="RULES", default="", help="Only these rules, separated by commas.")
IGNORE = click.option("--ignore", metavar="RULES", default="", help="All but these rules, separated by commas.")
SET = click.option(
    "--set",
    "settings",
    multiple=True,
    metavar="NAME=POSITION",
    help="A position to open with; the rest at their first.",
)
ROUTE = click.option(
    "--route", "routes", nargs=2, multiple=True, metavar="A B", help="A route for the train; else between open ends."
)


@click.command("report")
@LAYOUT
@click.option("--output", "-o", metavar="FILE", default="-", help="Where to write it; standard output if left out.")
@SET
@ROUTE
@SELECT
@IGNORE
def command(
    layout: str,
    output: str,
    settings: tuple[str, ...],
    routes: tuple[tuple[str, str], ...],
    select: str,
    ignore: str,
) -> None:
    """Write LAYOUT (`-`: standard input) as one page for a browser: findings, plan, meter, train, volts, cards.

    The page needs nothing else and fetches nothing. On it every turnout can be thrown; the poles are worked out there.
    Ends with 0 where the page is written, whatever was found.
    """
    gc.disable()  # nothing made here is thrown away before the end
    from netlister.cli.check import rules_named

    chosen, ignored = rules_named(select), rules_named(ignore)
    _, read = open_layout(layout)
    not_the_layout(layout, output, "-o report.html")
    try:
        text = make(read, chosen, ignored, settings, routes)
    except UnusableError as error:
        unusable(error, read.name, "text")
    write_file(output, text)


def make(
    read: Layout,
    select: list[str],
    ignore: list[str],
    settings: tuple[str, ...] = (),
    routes: tuple[tuple[str, str], ...] = (),
) -> str:
    """The page of a layout. Raises UnusableError as a check does, BadParameter for positions and places unknown."""
    from netlister.check import chosen, examine
    from netlister.report.page import page
    from netlister.rules.analysis import Analysis

    analysis = Analysis.of(read, named=select)
    state = state_of(analysis.circuit, positions_given(settings))
    asked = [(_place(read, start), _place(read, goal)) for start, goal in routes]
    return page(analysis, examine(analysis, chosen(select, ignore)), state, asked)


def _place(read: Layout, text: str) -> TrackPlace:
    from netlister.outputs.routes import PlaceError, place_of

    try:
        return place_of(read, text)
    except PlaceError as error:
        raise click.BadParameter(str(error), param_hint="--route") from None
