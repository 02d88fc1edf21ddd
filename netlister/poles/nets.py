"""Nets: what always conducts, contracted; cut at the poles."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit, Conductor


class Edge(NamedTuple):
    """A conductor between two nets that conducts only sometimes. A pole counts as a net of its own."""

    a: int
    b: int
    conductor: Conductor


@dataclass(slots=True)
class Nets:
    """The nets of a circuit.

    `of`: the net of each node; a pole's net has the pole's own number and holds no other node. `fed`: per net a
    bit mask of the poles that feed it always. `edges`: what conducts sometimes, between different nets.
    `bridges`: conductors that always join two poles directly.
    """

    count: int
    of: list[int]
    fed: list[int]
    edges: list[Edge] = field(default_factory=list)
    bridges: list[Conductor] = field(default_factory=list)

    def members(self) -> list[list[int]]:
        """The nodes of each net."""
        found: list[list[int]] = [[] for _ in range(self.count)]
        for node, net in enumerate(self.of):
            found[net].append(node)
        return found


def contract(circuit: Circuit) -> Nets:
    """Contract everything that always conducts, poles apart."""
    poles = len(circuit.poles)
    parent = list(range(len(circuit.names)))
    sometimes = []
    feeding = []
    for conductor in circuit.conductors:
        a, b = conductor.a, conductor.b
        if conductor.when:
            sometimes.append(conductor)
        elif a < poles or b < poles:
            if a != b:
                feeding.append(conductor)
        else:
            while parent[a] != a:
                parent[a] = a = parent[parent[a]]
            while parent[b] != b:
                parent[b] = b = parent[parent[b]]
            if a < b:
                parent[b] = a
            else:
                parent[a] = b
    of = []
    count = 0
    number = [0] * len(parent)
    for node, root in enumerate(parent):
        if root == node:
            number[node] = count
            of.append(count)
            count += 1
        else:
            while parent[root] != root:
                root = parent[root]  # noqa: PLW2901
            of.append(number[root])
    nets = Nets(count, of, [0] * count)
    for pole in range(poles):
        nets.fed[pole] = 1 << pole
    for conductor in feeding:
        a, b = sorted((conductor.a, conductor.b))
        if b < poles:
            nets.bridges.append(conductor)
        else:
            nets.fed[of[b]] |= 1 << a
    nets.edges = [Edge(of[c.a], of[c.b], c) for c in sometimes if of[c.a] != of[c.b]]
    return nets
