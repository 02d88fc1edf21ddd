"""`netlister poles`."""

from __future__ import annotations

import click

from netlister.cli.common import FORMAT, LAYOUT, open_layout, write
from netlister.cli.positions import SET, circuit_of, positions_given, state_of


@click.command("poles")
@LAYOUT
@SET
@FORMAT
def command(layout: str, settings: tuple[str, ...], style: str) -> None:
    """Show which pole every rail of LAYOUT has in one state, or without --set in each of a few states.

    On direct current also which way a locomotive runs with the controller set forward.
    """
    from netlister.circuit import states as of
    from netlister.outputs import poles

    _, read = open_layout(layout, style)
    circuit = circuit_of(read, style)
    state = state_of(circuit, positions_given(settings))
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
