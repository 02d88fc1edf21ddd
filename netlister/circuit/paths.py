"""Conducting paths in one state."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from netlister.circuit.model import holds

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from netlister.circuit.model import Circuit, Conductor, State

Step = tuple[int, "Conductor | None"]
"""A node and the conductor by which the path came to it (None at the start)."""


class Paths:
    """Finds conducting paths in a circuit; none leads through a pole."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.near = circuit.near

    def find(
        self,
        start: int,
        goal: int,
        state: State | Mapping[int, int],
        within: Callable[[int], bool] | None = None,
        conducts: Callable[[Conductor], bool] | None = None,
    ) -> list[Step]:
        """The shortest path from one node to another in a state, or an empty list.

        `within` tells which nodes (that are no poles) it may use; `conducts` which of those
        that conduct only sometimes, in place of the state.
        """
        poles = len(self.circuit.poles)
        came: dict[int, Step] = {start: (-1, None)}
        queue = deque([start])
        while queue:
            here = queue.popleft()
            if here == goal:
                break
            if here < poles and here != start:
                continue
            for other, conductor in self.near[here]:
                if other in came:
                    continue
                if conductor.when and not (conducts(conductor) if conducts else holds(conductor.when, state)):
                    continue
                if other >= poles and within is not None and not within(other):
                    continue
                came[other] = (here, conductor)
                queue.append(other)
        if goal not in came:
            return []
        steps: list[Step] = []
        here = goal
        while here != -1:
            before, way = came[here]
            steps.append((here, way))
            here = before
        steps.reverse()
        return steps

    def poles_of(self, state: State) -> list[set[int]]:
        """The poles of every node in a state, found by walking from each pole; automatic units left out."""
        found: list[set[int]] = [set() for _ in self.circuit.names]
        poles = len(self.circuit.poles)
        for pole in range(poles):
            seen = {pole}
            stack = [pole]
            while stack:
                here = stack.pop()
                found[here].add(pole)
                if here < poles and here != pole:
                    continue
                for other, conductor in self.near[here]:
                    if other not in seen and holds(conductor.when, state):
                        seen.add(other)
                        stack.append(other)
        return found
