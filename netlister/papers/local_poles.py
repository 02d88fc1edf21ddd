"""The poles of the rails of one piece in one state, found around the piece alone: for papers over a thousand pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.model import holds
from netlister.circuit.states import rail_poles
from netlister.layout.terminal import named
from netlister.poles.diodes import matter
from netlister.union import joined

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.circuit.model import Circuit, Conductor, State


MOST_STATES = 8
"""So many states are remembered."""


class LocalPoles:
    """What `circuit.states.rail_poles` says of one piece, over nets that always conduct."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.count = len(circuit.poles)
        always = [c for c in circuit.conductors if not c.when and c.a >= self.count and c.b >= self.count]
        self.net = node_groups(len(circuit.names), always)
        self.fed: dict[int, set[int]] = {}
        self.near: dict[int, list[tuple[int, Conductor]]] = {}
        for conductor in circuit.conductors:
            a, b = self.net[conductor.a], self.net[conductor.b]
            if conductor.when:
                self.near.setdefault(a, []).append((b, conductor))
                self.near.setdefault(b, []).append((a, conductor))
            else:
                for pole, other in ((a, b), (b, a)):
                    if pole < self.count:
                        self.fed.setdefault(other, set()).add(pole)
        self._known: dict[State, dict[int, list[str]]] = {}
        self.diodes = matter(circuit.layout)
        self._whole: tuple[State, dict[str, list[str]]] | None = None
        self.units: dict[int, list[str]] = {}
        for device in circuit.devices:
            if device.kind == "unit":
                self.units.setdefault(self.net[device.node], []).append(device.name)

    def of(self, piece: str, state: State) -> dict[str, list[str]]:
        """The names of the poles of every rail of a piece, sorted; a unit's name where it alone feeds the rail."""
        terminals = [named(piece, rail) for rail in self.circuit.layout.pieces[piece].kind.rails]
        if self.diodes:  # which may face each other far away: all rails at once
            if self._whole is None or self._whole[0] != state:
                self._whole = state, rail_poles(self.circuit, state)
            return {terminal: self._whole[1][terminal] for terminal in terminals}
        return {terminal: self._poles(self.net[self.circuit.node[terminal]], state) for terminal in terminals}

    def variables(self, piece: str) -> list[int]:
        """The variables that change what the rails of a piece are joined to, as far as the next net with a pole."""
        rails = self.circuit.layout.pieces[piece].kind.rails
        stack = [self.net[self.circuit.node[named(piece, rail)]] for rail in rails]
        seen, found = set(stack), set()
        while stack:
            here = stack.pop()
            if here < self.count or here in self.fed:
                continue
            for other, conductor in self.near.get(here, ()):
                found |= {variable for variable, _ in conductor.when}
                if other not in seen:
                    seen.add(other)
                    stack.append(other)
        return sorted(found)

    def _poles(self, start: int, state: State) -> list[str]:
        if state not in self._known:
            if len(self._known) >= MOST_STATES:
                self._known.pop(next(iter(self._known)))
            self._known[state] = {}
        known = self._known[state]
        if start not in known:
            names, nets = self._joined(start, state)
            known.update(dict.fromkeys(nets, names))
        return known[start]

    def _joined(self, start: int, state: State) -> tuple[list[str], set[int]]:
        """The poles around a net, and all nets that are joined to it, which have the same."""
        found: set[int] = set()
        units: list[str] = []
        seen, stack = {start}, [start]
        while stack:
            here = stack.pop()
            if here < self.count:
                found.add(here)
                continue
            found |= self.fed.get(here, set())
            units += self.units.get(here, [])
            for other, conductor in self.near.get(here, ()):
                if other not in seen and holds(conductor.when, state):
                    seen.add(other)
                    stack.append(other)
        names = [self.circuit.poles[pole].name for pole in found]
        return sorted(names) if names else sorted(set(units)), {net for net in seen if net >= self.count}


def node_groups(count: int, conductors: Iterable[Conductor]) -> list[int]:
    """Per node the number of its group: what conductors join."""
    return joined(count, ((conductor.a, conductor.b) for conductor in conductors))
