"""`netlister start`."""

from __future__ import annotations

from pathlib import Path

import click
from click.core import ParameterSource

from netlister.cli.common import write_file
from netlister.cli.schema import FILE

LAYOUT = """\
# A layout to begin with: a line with one siding. Change it into yours, line by line, and check it as you go:
#
#     netlister check {name}
#
# Left and right are always seen looking forward along a piece: a rail section from its end a to its end b,
# a turnout from its toe (the blades) to its frog.
format: netlister/1
title: A line with a siding

supplies:                      # what feeds the rails; each has two poles, A and B
  main: {{type: dcc, voltage: 15 V, trip: 3 A}}

track:                         # rail sections, unless a kind is named; 'netlister kinds' lists the kinds
  approach: {{length: 600 mm}}
  line:     {{length: 900 mm}}
  siding:   {{length: 450 mm}}
  T1:       {{kind: live-frog, hand: right}}

machines:                      # a switch machine, and the changeover contact that powers the frog
  M1:
    throws: [T1]
    contacts:
      frog: {{common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}

joints:                        # metal joiners, unless 'insulate' says which rails are insulated
  - {{from: approach,     to: T1.toe}}
  - {{from: T1.through,   to: line,   insulate: vee}}     # vee: the rails that belong to the frog
  - {{from: T1.diverging, to: siding, insulate: vee}}

feeds:                         # which pole goes to which rail
  - {{to: [approach, line, siding], A: left, B: right}}
"""


_PLANS = ("loop", "terminus", "branch", "shelf", "yard", "balloon")
_FROGS = ("live", "bonded", "insulated", "metal")


@click.command("start")
@click.argument("layout", default="layout.yaml")
@click.option("--plan", type=click.Choice(_PLANS), help="A track without wiring, which 'netlister propose' wires.")
@click.option("--roads", type=click.IntRange(1, 200), default=3, show_default=True, help="How many roads it has.")
@click.option("--supply", type=click.Choice(["dcc", "dc"]), default="dcc", show_default=True, help="What feeds it.")
@click.option(
    "--frog", type=click.Choice(_FROGS), default="live", show_default=True, help="How its turnouts are built."
)
@click.option("--ask", is_flag=True, help="Ask for the plan and the rest.")
def command(layout: str, plan: str | None, roads: int, supply: str, frog: str, ask: bool) -> None:
    """Write a LAYOUT to begin with (layout.yaml if left out). An existing file is left alone.

    Without options it is a commented example with its wiring. With --plan it is bare track: `loop`, an oval with
    passing roads; `terminus`; `branch`, a line with sidings; `shelf`, a headshunt with sidings; `yard`, a fiddle yard
    between two ladders; `balloon`, a loop that brings trains back, with one road unless --roads is given.
    """
    given = [name for name in ("roads", "supply", "frog") if _is_given(name)]
    if given and not plan and not ask:
        message = f"'--{given[0]}' says something of a track without wiring; name one with --plan, or give --ask"
        raise click.UsageError(message)
    if plan == "balloon" and "roads" not in given:
        roads = 1
    if plan and plan != "balloon" and roads == 1:
        raise click.BadParameter("1 is too few; only a balloon can have one road", param_hint="--roads")
    path = Path(layout)
    if path.exists():
        message = f"'{layout}' is there already and is left as it is; name another file"
        raise click.ClickException(message)
    if ask:
        plan = click.prompt("What plan", type=click.Choice(_PLANS), default="branch")
        few = 1 if plan == "balloon" else 2
        roads = click.prompt("How many roads", type=click.IntRange(few, 200), default=1 if few == 1 else 3)
        supply = click.prompt("dcc or dc", type=click.Choice(["dcc", "dc"]), default="dcc")
        frog = click.prompt("Frogs of the turnouts", type=click.Choice(_FROGS), default="live")
    text, then = LAYOUT.format(name=layout), "check"
    if plan:
        from netlister.propose import plans

        text, then = plans.plan(plan, roads, supply, frog).replace("{name}", layout), "propose"
    if (path.parent / FILE).is_file():
        text = f"# yaml-language-server: $schema={FILE}\n{text}"
    write_file(layout, text)
    click.echo(f"wrote {layout}; now run: netlister {then} {layout}")


def _is_given(name: str) -> bool:
    """Whether an option stands on the command line."""
    return click.get_current_context().get_parameter_source(name) is ParameterSource.COMMANDLINE
