"""The poles of the rails of one piece in one state, found around the piece alone: for papers over a thousand pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.model import holds
from netlister.poles.nets import contract

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit, Conductor, State


class LocalPoles:
    """What `outputs.poles.rail_poles` says of one piece, over nets that always conduct."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.nets = contract(circuit)
        self.near: dict[int, list[tuple[int, Conductor]]] = {}
        for edge in self.nets.edges:
            self.near.setdefault(edge.a, []).append((edge.b, edge.conductor))
            self.near.setdefault(edge.b, []).append((edge.a, edge.conductor))
        self.units: dict[int, list[str]] = {}
        for device in circuit.devices:
            if device.kind == "unit":
                self.units.setdefault(self.nets.of[device.node], []).append(device.name)

    def of(self, piece: str, state: State) -> dict[str, list[str]]:
        """The names of the poles of every rail of a piece, sorted; a unit's name where it alone feeds the rail."""
        terminals = [f"{piece}.{rail}" for rail in self.circuit.layout.pieces[piece].kind.rails]
        return {terminal: self._poles(self.nets.of[self.circuit.node[terminal]], state) for terminal in terminals}

    def _poles(self, start: int, state: State) -> list[str]:
        count = len(self.circuit.poles)
        found, units, seen, stack = 0, [], {start}, [start]
        while stack:
            here = stack.pop()
            found |= self.nets.fed[here]
            if here < count:
                continue
            units += self.units.get(here, [])
            for other, conductor in self.near.get(here, ()):
                if other not in seen and holds(conductor.when, state):
                    seen.add(other)
                    stack.append(other)
        names = [pole.name for k, pole in enumerate(self.circuit.poles) if found >> k & 1]
        return sorted(names) if names else sorted(set(units))
