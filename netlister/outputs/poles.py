"""The poles of every rail in some states, as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.paths import Paths
from netlister.circuit.states import blocked, rail_poles, travel

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit, State


def table(circuit: Circuit, states: list[State]) -> str:
    """The poles of every rail in some states, as a table: a line a rail, a column a state."""
    paths = Paths(circuit)
    found = [rail_poles(circuit, state, paths) for state in states]
    ways = [
        {**travel(circuit, state, poles), **dict.fromkeys(blocked(circuit, state, poles), "diode blocks")}
        for state, poles in zip(states, found, strict=True)
    ]
    heads = [[f"{v.name} {v.positions[x]}" for v, x in zip(circuit.variables, state, strict=True)] for state in states]
    rows = [[""] + [head[i] for head in heads] for i in range(len(circuit.variables))]
    for node in circuit.rails:
        name = circuit.names[node]
        rows.append([name] + ["+".join(poles[name]) or "-" for poles in found])
    for piece in circuit.layout.pieces:
        if any(piece in way for way in ways):
            rows.append([f"{piece} runs"] + [way.get(piece, "-") for way in ways])
    widths = [max(len(row[i]) for row in rows) for i in range(len(states) + 1)]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    return "\n".join(lines) + "\n"
