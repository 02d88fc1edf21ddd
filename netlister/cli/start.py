"""`netlister start`."""

from __future__ import annotations

from pathlib import Path

import click

from netlister.cli.common import write_file

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


@click.command("start")
@click.argument("layout", default="layout.yaml")
def command(layout: str) -> None:
    """Write a commented LAYOUT to begin with (layout.yaml if left out). An existing file is left alone."""
    path = Path(layout)
    if path.exists():
        message = f"'{layout}' is there already and is left as it is; name another file"
        raise click.ClickException(message)
    write_file(layout, LAYOUT.format(name=layout))
    click.echo(f"wrote {layout}; now run: netlister check {layout}")
