"""What commands that look at one state share: the circuit of a layout, and the state that `--set` gives."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from netlister.cli.common import unusable
from netlister.source import UnusableError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.layout.model import Layout


SET = click.option(
    "--set", "settings", multiple=True, metavar="NAME=POSITION", help="A position; the rest at their first."
)


def circuit_of(layout: Layout, style: str = "text") -> Circuit:
    """The circuit of a layout; leaves with exit code 2 where `never` leaves no state, or something else unusable."""
    from netlister.circuit.build import build

    try:
        return build(layout)
    except UnusableError as error:
        unusable(error, layout.name, style)


def positions_given(settings: tuple[str, ...]) -> dict[str, str]:
    """Positions as given with --set."""
    return dict(_pair(setting) for setting in settings)


def _pair(setting: str) -> tuple[str, str]:
    name, sign, position = setting.partition("=")
    if not sign:
        message = f"'{setting}' has no '='; write NAME=POSITION, as in --set T1=diverging"
        raise click.BadParameter(message, param_hint="--set")
    return name, position


def state_of(circuit: Circuit, positions: Mapping[str, str], option: str = "--set") -> State:
    """The state with these positions, the rest at their first; refuses what is no position, naming the option."""
    from netlister.circuit import states

    try:
        return states.state_of(circuit, positions)
    except states.StateError as error:
        raise click.BadParameter(str(error), param_hint=option) from None
