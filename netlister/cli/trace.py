"""`netlister trace`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from netlister.cli.common import FORMAT, LAYOUT, open_layout, write
from netlister.cli.positions import positions_given, state_of
from netlister.layout.terminal import named

if TYPE_CHECKING:
    from netlister.probe.detail import Detail
    from netlister.probe.trace import Trace


@click.command("trace")
@LAYOUT
@click.option(
    "--set", "settings", multiple=True, metavar="NAME=POSITION", help="How it stands; the rest at their first."
)
@click.option("--between", metavar="POLE,POLE", help="The two poles that beep; left out: A and B of the first supply.")
@click.option("--ask", is_flag=True, help="Ask on the terminal, step by step.")
@FORMAT
def command(layout: str, settings: tuple[str, ...], between: str | None, ask: bool, style: str) -> None:
    """Find a short that is there now: which feed wires to lift at their screws, in which order.

    LAYOUT is as it should be; the railway has the short. Each step is one beep test between two poles, with every
    supply unplugged; the order takes the fewest steps on average. A design with errors is refused: exit code 1.
    """
    from netlister.cli.testsheet import refuse
    from netlister.formats import json
    from netlister.probe import trace
    from netlister.probe.sheet import prepare

    source, read = open_layout(layout, style)
    refuse(source, read, style)
    made, faults = prepare(read)
    state = state_of(made.circuit, positions_given(settings))
    found = trace.Tracer(made, faults, _poles(made, between), state).trace()
    if ask:
        _ask(found)
    elif style == "json":
        write(json.dump(trace.trace_object(found)))
    else:
        write(trace.told(found))


def _poles(made: Detail, between: str | None) -> tuple[int, int]:
    """The two poles that are joined."""
    from netlister.source import suggest

    poles = [made.names[p] for p in range(len(made.circuit.poles))]
    if between is None:
        first = next(iter(made.layout.supplies))
        return made.node[named(first, "A")], made.node[named(first, "B")]
    names = between.split(",")
    if len(names) != 2:  # noqa: PLR2004
        raise click.BadParameter("two poles with a comma between, as in main.A,main.B", param_hint="--between")
    for name in names:
        if name not in made.node or made.node[name] >= len(poles):
            message = f"'{name}' is no pole{suggest(name, poles)}; poles are {', '.join(poles)}"
            raise click.BadParameter(message, param_hint="--between")
    if made.node[names[0]] == made.node[names[1]]:
        message = f"'{names[0]}' and '{names[1]}' are one pole"
        raise click.BadParameter(message, param_hint="--between")
    return made.node[names[0]], made.node[names[1]]


def _ask(found: Trace) -> None:
    from netlister.probe import trace

    if not found.groups:
        write(trace.told(found))
        return
    taken, ends = trace.steps(found)
    a, b = (found.made.names[p] for p in found.between)
    click.echo(trace.CAUTION, err=True)
    to = ("step", 1) if taken else ("found", 1)
    while to[0] == "step":
        step = taken[to[1] - 1]
        for line in trace.doing(found.made, step):
            click.echo(line, err=True)
        answer = click.prompt(f"{a} to {b}", type=click.Choice(["beep", "silent", "stop"]), err=True)
        if answer == "stop":
            return
        to = step.beep if answer == "beep" else step.silent
    write(
        "\n".join(["It is one of these, the likeliest first:", *trace.finding(ends[to[1] - 1]), trace.NOT_ALL]) + "\n"
    )
