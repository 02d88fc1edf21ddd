"""Conducting paths in one state."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, TypeAlias

from netlister.circuit.model import holds
from netlister.circuit.numbers import Net, Node, PoleNumber

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from collections.abc import Set as AbstractSet

    from netlister.circuit.model import Circuit, Conductor, State
    from netlister.circuit.numbers import Var
    from netlister.layout.model import Value

PathStep: TypeAlias = "tuple[Node, Conductor | None]"
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
        self._order: dict[Node, dict[int, int]] = {}
        self._tied: dict[Node, list[tuple[Node, Conductor]]] = {}  # by pole what joins it to poles

    def way(self, here: Node, conductor: Conductor) -> int:
        """Through a diode from a node: 1 with its current, -1 against it; 0 of all that conducts both ways."""
        if conductor.what != "component" or conductor.owner not in self.diodes:
            return 0
        return 1 if conductor.a == here else -1

    def find(  # noqa: PLR0913  (all but start and goal have defaults)
        self,
        start: Node | PoleNumber,
        goal: Node | PoleNumber,
        state: State | Mapping[Var, Value],
        within: AbstractSet[Node] | None = None,
        conducts: Callable[[Conductor], bool] | None = None,
        *,
        barred: int = 0,
    ) -> list[PathStep]:
        """The shortest path from one node to another in a state, or an empty list.

        `within`: the nodes (that are no poles) that it may use; `conducts` tells which of those
        that conduct only sometimes, in place of the state; `barred` which way it may not go through diodes (see `way`).
        """
        poles = len(self.circuit.poles)
        ways = None
        if start < poles <= goal and not self.diodes:
            ways = self._ways(Node(start), Node(goal), state, within, conducts)
            if not ways:
                return []
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
            for beside, conductor in ways[here] if ways is not None else self._beside(here, within):
                through = self.way(here, conductor) if self.diodes else 0
                after = (beside, through or way)
                if after in came or (through and (through == -way or through == barred)):
                    continue
                if conductor.when and not (conducts(conductor) if conducts else holds(conductor.when, state)):
                    continue
                if beside >= poles and within is not None and beside not in within:
                    continue
                came[after] = (place, conductor)
                queue.append(after)
        if last is None:
            return []
        steps: list[PathStep] = []
        while last[0] != -1:
            before, by = came[last]
            steps.append((last[0], by))
            last = before
        steps.reverse()
        return steps

    def _ways(
        self,
        pole: Node,
        goal: Node,
        state: State | Mapping[Var, Value],
        within: AbstractSet[Node] | None,
        conducts: Callable[[Conductor], bool] | None,
    ) -> dict[Node, list[tuple[Node, Conductor]]]:
        """From each node on a shortest path from a pole, the nodes after it: nothing where there is no path.

        Found from the goal, since most of a layout hangs at a pole. A search over these alone finds the path that a
        search over all would: nodes on shortest paths are come upon in the same order, from the same ones.
        """
        poles = len(self.circuit.poles)
        found: dict[Node, list[tuple[Node, Conductor]]] = {}
        if within is not None and goal not in within:
            return found
        seen, ring = {goal}, [goal]
        while ring and pole not in found:
            before: dict[Node, None] = {}
            for here in ring:
                if here < poles:
                    continue
                for other, conductor in self.near[here]:
                    if other in seen or (other < poles and other != pole):
                        continue
                    if conductor.when and not (conducts(conductor) if conducts else holds(conductor.when, state)):
                        continue
                    if other >= poles and within is not None and other not in within:
                        continue
                    before[other] = None
                    found.setdefault(other, []).append((here, conductor))
            seen.update(before)
            ring = list(before)
        if pole not in found:
            return {}
        found[goal] = []
        for node, after in found.items():
            if len(after) > 1:
                order = self._order_at(node)
                after.sort(key=lambda way: order[id(way[1])])
        return found

    def _beside(self, here: Node, within: AbstractSet[Node] | None) -> list[tuple[Node, Conductor]]:
        """What a node is joined to; of a pole, which is joined to most of a layout, by way of the nodes allowed."""
        near = self.near[here]
        if here >= len(self.circuit.poles) or within is None or len(within) > len(near):
            return near
        order = self._order_at(here)
        found = [*self._tied[here]]
        found += [(node, c) for node in within for other, c in self.near[node] if other == here]
        return sorted(found, key=lambda way: order[id(way[1])])

    def _order_at(self, node: Node) -> dict[int, int]:
        """By identity of a conductor its place among those at a node; kept for poles, which have many."""
        known = self._order.get(node)
        if known is None:
            known = {id(c): n for n, (_, c) in enumerate(self.near[node])}
            poles = len(self.circuit.poles)
            if node < poles:
                self._order[node] = known
                self._tied[node] = [way for way in self.near[node] if way[0] < poles]
        return known

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
