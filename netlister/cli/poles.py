"""`netlister poles`."""

from __future__ import annotations

import click

from netlister.cli.common import FORMAT, LAYOUT, open_layout, unusable, write
from netlister.source import UnusableError


@click.command("poles")
@LAYOUT
@click.option("--set", "settings", multiple=True, metavar="NAME=POSITION", help="A position; the rest at their first.")
@FORMAT
def command(layout: str, settings: tuple[str, ...], style: str) -> None:
    """Show which pole every rail of LAYOUT has in one state, or without --set in each of a few states.

    On direct current also which way a locomotive runs with the controller set forward.
    """
    from netlister.circuit import states as of
    from netlister.circuit.build import build
    from netlister.outputs import poles

    _, read = open_layout(layout, style)
    try:
        circuit = build(read)
    except UnusableError as error:
        unusable(error, read.name, style)
    try:
        state = of.state_of(circuit, pairs(settings))
    except of.StateError as error:
        raise click.BadParameter(str(error), param_hint="--set") from None
    if style == "json":
        from netlister.formats import json

        found = of.rail_poles(circuit, state)
        result: dict[str, object] = {"poles": found}
        if any(s.type == "dc" and not s.accessory for s in read.supplies.values()):
            result["travel"] = of.travel(circuit, state, found)
        write(json.dump(result))
        return
    states = None if settings else of.all_states(circuit)
    write(poles.table(circuit, states or [state]))


def pairs(settings: tuple[str, ...]) -> dict[str, str]:
    """Positions as given with --set."""
    return dict(_pair(setting) for setting in settings)


def _pair(setting: str) -> tuple[str, str]:
    name, sign, position = setting.partition("=")
    if not sign:
        message = f"'{setting}' has no '='; write NAME=POSITION, as in --set T1=diverging"
        raise click.BadParameter(message, param_hint="--set")
    return name, position
