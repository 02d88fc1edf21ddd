"""`netlister drop`."""

from __future__ import annotations

import gc
import sys
from typing import TYPE_CHECKING

import click

from netlister.cli.common import (
    COLOUR,
    FORMAT,
    LAYOUT,
    not_the_layout,
    open_layout,
    unusable,
    wants_colour,
    write,
    write_file,
)
from netlister.cli.positions import pairs, state_of
from netlister.source import UnusableError

if TYPE_CHECKING:
    from netlister.check import Report
    from netlister.rules.analysis import Analysis
    from netlister.volts.feeders import FeederPlan

AMPS = click.option(
    "--amps", metavar="A", help="The current to calculate with, as in '2 A'; else the least trip current on the way."
)
WARMTH = click.option(
    "--temperature", type=click.FloatRange(-40, 120), default=20.0, show_default=True, help="Of wires and rails, degC."
)


SHOWN = 3
"""So many findings of one rule are shown in full."""


@click.command("drop")
@LAYOUT
@AMPS
@WARMTH
@click.option("--picture", metavar="FILE", help="Write a picture (SVG) of the volts along the track.")
@click.option(
    "--route", nargs=2, metavar="A B", help="For the picture: the shortest route from A to B, as 'routes' has it."
)
@click.option("--along", metavar="PIECES", help="For the picture: the pieces of a way, in order, separated by commas.")
@click.option("--set", "settings", multiple=True, metavar="NAME=POSITION", help="For the picture: a position.")
@FORMAT
@COLOUR
def command(
    layout: str,
    amps: str | None,
    temperature: float,
    picture: str | None,
    route: tuple[str, str] | None,
    along: str | None,
    settings: tuple[str, ...],
    style: str,
    color: str,
) -> None:
    """Calculate volts and amps everywhere on LAYOUT (`-`: standard input): where most is lost, what a short draws.

    For each piece its worst place in its worst position. Exits as `check` does, by the rules on volts and by shorts.
    """
    gc.disable()  # nothing made here is thrown away before the end
    from netlister.check import examine
    from netlister.outputs import drop
    from netlister.rules import BY_NAME, VOLTS
    from netlister.rules.analysis import Analysis

    source, read = open_layout(layout, style)
    if picture:
        not_the_layout(layout, picture, "--picture volts.svg", "--picture")
    try:
        analysis = Analysis.of(read)
        analysis.amps, analysis.temperature = current(amps), temperature
        shorted = examine(analysis, [BY_NAME["pole-short"]], causes=False)
        report = examine(analysis, list(VOLTS), causes=False)
        added = _feeders(analysis, report)
    except UnusableError as error:
        unusable(error, read.name, style)
    if picture:
        if route and (along or settings):
            raise click.UsageError("--route says which pieces and positions; leave --along and --set out")
        write_file(picture, _picture_of_route(analysis, route) if route else _picture(analysis, along, settings))
    if style == "json":
        from netlister.formats import json

        found = drop.drop_object(analysis.survey)
        found["feeders"] = drop.added_object(added.added)
        found["feeders_least_at_places"] = added.places if len(added.added) > 1 else None
        found["feeders_not_proposed"] = list(added.without)
        found["findings"] = [*json.report_object(shorted)["findings"], *json.report_object(report)["findings"]]
        write(json.dump(found))
    else:
        from netlister.formats import text
        from netlister.volts.values import limit

        colour = wants_colour(color)
        if shorted.findings:
            write(text.render(shorted, source, colour=colour, quiet=True) + "\n" + drop.SHORTED + "\n\n")
        shown, more = _shortened(report)
        told = text.render(shown, source, colour=colour, quiet=True) or drop.verdict(analysis.survey)
        write(drop.table(analysis.survey) + "\n" + told + more)
        write(drop.advice(added, limit(analysis.layout, "drop")))
    sys.stdout.flush()
    sys.exit(1 if any(f.severity.label == "error" for r in (shorted, report) for f in r.findings) else 0)


def _feeders(analysis: Analysis, report: Report) -> FeederPlan:
    """Where feeders would hold the limit, where something loses too much."""
    from netlister.volts.feeders import FeederPlan, feeder_plan

    if not any(f.rule == "voltage-drop" for f in report.findings):
        return FeederPlan(None, [], 0)
    return feeder_plan(analysis.layout, analysis.amps, analysis.temperature, analysis.survey)


def current(text: str | None) -> float | None:
    """A current as given on the command line, in A."""
    from netlister.quantity import CURRENT, QuantityError, parse

    if text is None:
        return None
    try:
        return parse(text, CURRENT)
    except QuantityError as error:
        raise click.BadParameter(str(error), param_hint="--amps") from None


def _picture_of_route(analysis: Analysis, route: tuple[str, str]) -> str:
    from netlister.outputs import routes, volts_picture

    places = []
    for text in route:
        try:
            places.append(routes.place_of(analysis.layout, text))
        except routes.PlaceError as error:
            raise click.BadParameter(str(error), param_hint="--route") from None
    ways = routes.find(analysis.settings, places[0], places[1], most=1)
    if not ways.found.ways:
        message = f"there is no route: {ways.why}"
        raise click.BadParameter(message, param_hint="--route")
    way = ways.found.ways[0]
    steps = way.runs[0]
    turned = {step.piece: not step.forward for step in steps}
    pieces = [step.piece for step in steps]
    return volts_picture.picture(analysis.survey, pieces, analysis.state_in(way.when[0]), turned)


def _picture(analysis: Analysis, along: str | None, settings: tuple[str, ...]) -> str:
    from netlister.outputs import volts_picture

    state = state_of(analysis.circuit, pairs(settings))
    known = analysis.layout.pieces
    pieces = [name.strip() for name in along.split(",")] if along else list(known)
    for name in pieces:
        if name not in known:
            from netlister.source import suggest

            message = f"there is no piece of track '{name}'{suggest(name, list(known))}"
            raise click.BadParameter(message, param_hint="--along")
    return volts_picture.picture(analysis.survey, pieces, state)


def _shortened(report: Report) -> tuple[Report, str]:
    """A report with the first findings of each rule, and a line for those left out."""
    from collections import Counter
    from dataclasses import replace

    kept, left = [], Counter[str]()
    told = Counter[str]()
    for finding in report.findings:
        told[finding.rule] += 1
        if told[finding.rule] <= SHOWN:
            kept.append(finding)
        else:
            left[finding.rule] += 1
    lines = [f"and {count} more of {rule} (all with --format json)\n" for rule, count in sorted(left.items())]
    return replace(report, findings=tuple(kept)), "".join(lines)
