"""The poles of a rail over all positions, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.poles.diagram import ALWAYS, LimitError
from netlister.poles.reach import UnprovedError
from netlister.rules.telling import pole_name

if TYPE_CHECKING:
    from netlister.finding import Positions
    from netlister.rules.analysis import Analysis

MOST_ENTRIES = 4
"""Partial positions that are shown of one pole."""


class PoleWhen(NamedTuple):
    """A pole that a terminal has, or that a frog unit or reverser gives it.

    `when`: partial positions that together cover the states in which it has it; `((),)`: every state. `more`: whether
    they are not all.
    """

    pole: str
    when: tuple[Positions, ...]
    more: bool = False


def poles_when(analysis: Analysis, terminal: str) -> tuple[PoleWhen, ...] | None:
    """The poles of a terminal, each with the positions in which it has it; None where that was not proved.

    Raises KeyError for a terminal that is none.
    """
    node = analysis.circuit.node[terminal]
    poles = analysis.poles
    try:
        has = poles.has(poles.nets.of[node])
    except UnprovedError:
        return None
    found = []
    for pole, function in has:
        name = pole_name(analysis, pole)
        if function == ALWAYS:
            found.append(PoleWhen(name, ((),)))
            continue
        try:
            entries = [analysis.positions(cube) for cube in analysis.cubes(function)]
        except LimitError:
            return None
        if not entries:
            continue  # only in states that `never` rules out
        found.append(PoleWhen(name, tuple(entries[:MOST_ENTRIES]), len(entries) > MOST_ENTRIES))
    return tuple(found)


def poles_said(poles: tuple[PoleWhen, ...] | None) -> str:
    """The poles of a terminal in one line."""
    if poles is None:
        return "not proved"
    if not poles:
        return "no pole in any position"
    if len(poles) > 1 and all(one.when == ((),) for one in poles):
        return f"{' and '.join(one.pole for one in poles)} at once, always: they are joined"
    return "; ".join(f"{one.pole} {_when(one)}" for one in poles)


def _when(one: PoleWhen) -> str:
    if one.when == ((),):
        return "always"
    shown = " or ".join(" and ".join(f"{name} {position}" for name, position in entry) for entry in one.when)
    return f"with {shown}" + (" or otherwise" if one.more else "")
