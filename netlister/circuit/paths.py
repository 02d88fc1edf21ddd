"""Conducting paths in one state."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, TypeAlias

from netlister.circuit.model import holds
from netlister.circuit.numbers import Net, Node, PoleNumber

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from netlister.circuit.model import Circuit, Conductor, State
    from netlister.circuit.numbers import Var
    from netlister.layout.model import Value

Step: TypeAlias = "tuple[Node, Conductor | None]"
"""A node and the conductor by which the path came to it (None at the start)."""


def drives(circuit: Circuit, source: PoleNumber, sink: PoleNumber) -> bool:
    """Whether current can ever come out of one pole and go into another: not from minus to plus of a fixed supply."""
    p, q = circuit.poles[source], circuit.poles[sink]
    both = [circuit.layout.supplies[name] for name in p.supplies & q.supplies]
    fixed = bool(both) and all(s.accessory and s.type == "dc" for s in both)
    return not (fixed and all(p.letter != s.positive for s in both))


class Paths:
    """Finds conducting paths in a circuit; none leads through a pole, and all diodes on one conduct one way."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.near = circuit.near
        self.diodes = circuit.diodes

    def way(self, here: Node, conductor: Conductor) -> int:
        """Through a diode from a node: 1 with its current, -1 against it; 0 of all that conducts both ways."""
        if conductor.what != "component" or conductor.owner not in self.diodes:
            return 0
        return 1 if conductor.a == here else -1

    def find(
        self,
        start: Node | PoleNumber,
        goal: Node | PoleNumber,
        state: State | Mapping[Var, Value],
        within: Callable[[Node], bool] | None = None,
        conducts: Callable[[Conductor], bool] | None = None,
    ) -> list[Step]:
        """The shortest path from one node to another in a state, or an empty list.

        `within` tells which nodes (that are no poles) it may use; `conducts` which of those
        that conduct only sometimes, in place of the state.
        """
        poles = len(self.circuit.poles)
        barred = 0
        if self.diodes and start < poles and goal < poles and start != goal:
            one, other = PoleNumber(Net(start)), PoleNumber(Net(goal))
            barred = 0 if drives(self.circuit, one, other) and drives(self.circuit, other, one) else 1
            barred = -barred if drives(self.circuit, one, other) else barred
        first = (Node(start), 0)
        came: dict[tuple[Node, int], tuple[tuple[Node, int], Conductor | None]] = {first: ((Node(-1), 0), None)}
        queue = deque([first])
        last = None
        while queue:
            place = queue.popleft()
            here, way = place
            if here == goal:
                last = place
                break
            if here < poles and here != start:
                continue
            for beside, conductor in self.near[here]:
                through = self.way(here, conductor) if self.diodes else 0
                after = (beside, through or way)
                if after in came or (through and (through == -way or through == barred)):
                    continue
                if conductor.when and not (conducts(conductor) if conducts else holds(conductor.when, state)):
                    continue
                if beside >= poles and within is not None and not within(beside):
                    continue
                came[after] = (place, conductor)
                queue.append(after)
        if last is None:
            return []
        steps: list[Step] = []
        while last[0] != -1:
            before, by = came[last]
            steps.append((last[0], by))
            last = before
        steps.reverse()
        return steps

    def poles_of(self, state: State) -> list[set[PoleNumber]]:
        """The poles of every node in a state, found by walking from each pole; automatic units left out."""
        found: list[set[PoleNumber]] = [set() for _ in self.circuit.names]
        poles = len(self.circuit.poles)
        for pole in (PoleNumber(Net(number)) for number in range(poles)):
            for against in (1, -1) if self.diodes else (0,):
                start = Node(pole)
                seen = {start}
                stack = [start]
                while stack:
                    here = stack.pop()
                    found[here].add(pole)
                    if here < poles and here != start:
                        continue
                    for other, conductor in self.near[here]:
                        if other in seen or not holds(conductor.when, state):
                            continue
                        if against and self.way(here, conductor) == against:
                            continue
                        seen.add(other)
                        stack.append(other)
        return found
