"""`netlister routes`."""

from __future__ import annotations

import click

from netlister.cli.common import FORMAT, LAYOUT, open_layout, unusable, write
from netlister.source import UnusableError


@click.command("routes")
@LAYOUT
@click.argument("start", metavar="A")
@click.argument("goal", metavar="B")
@click.option(
    "--reverse",
    "changes",
    type=click.IntRange(0, 4),
    default=0,
    help="At most so many changes of direction on the way; none if left out.",
)
@click.option("--limit", type=click.IntRange(1), default=50, help="The most routes to give; 50 if left out.")
@FORMAT
def command(layout: str, start: str, goal: str, changes: int, limit: int, style: str) -> None:
    """Show every route of a train from A to B in LAYOUT, shortest first.

    A and B are ends (`T1.toe`) or whole pieces, which are then run over from end to end. Each route tells which
    positions to set, its pieces in order, its length, and every gap and dead length with its place from the start.
    """
    from netlister.circuit.build import build
    from netlister.outputs import routes
    from netlister.poles.diodes import poles_of
    from netlister.routes.settings import Settings

    _, read = open_layout(layout, style)
    try:
        settings = Settings(poles_of(build(read)))
    except UnusableError as error:
        unusable(error, read.name, style)
    places = []
    for text, name in ((start, "A"), (goal, "B")):
        try:
            places.append(routes.place_of(read, text))
        except routes.PlaceError as error:
            raise click.BadParameter(str(error), param_hint=name) from None
    ways = routes.find(settings, places[0], places[1], changes, limit)
    if style == "json":
        from netlister.formats import json

        write(json.dump(routes.ways_object(settings, ways)))
    else:
        write(routes.ways_text(settings, ways))
