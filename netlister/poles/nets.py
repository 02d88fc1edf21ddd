"""Nets: what always conducts, contracted; cut at the poles."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.numbers import Net, Node, PoleNumber
from netlister.union import join

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit, Conductor


class Edge(NamedTuple):
    """A conductor between two nets that conducts only sometimes. A pole counts as a net of its own."""

    a: Net
    b: Net
    conductor: Conductor


@dataclass(slots=True)
class Nets:
    """The nets of a circuit.

    `poles`: how many poles there are. `of`: the net of each node; a pole's net has the pole's own number and holds no
    other node. `members`: the nodes of each net; one that a change did away with has none. `fed`: per net a bit mask of
    the poles that feed it always; `taps`: per net and such pole the number of conductors between them. `bridges`:
    conductors that always join two poles directly.
    """

    poles: int
    of: list[Net]
    members: list[list[Node]]
    fed: list[int]
    taps: dict[Net, dict[PoleNumber, int]] = field(default_factory=dict)
    bridges: list[Conductor] = field(default_factory=list)

    @property
    def count(self) -> int:
        """How many nets there are."""
        return len(self.members)


def contract(circuit: Circuit) -> Nets:
    """Contract everything that always conducts, poles apart."""
    poles = len(circuit.poles)
    head = [Node(node) for node in range(len(circuit.names))]
    feeding = []
    for conductor in circuit.conductors:
        if conductor.when:
            continue
        a, b = conductor.a, conductor.b
        if a < poles or b < poles:
            if a != b:
                feeding.append(conductor)
        else:
            join(head, a, b)
    of: list[Net] = []
    members: list[list[Node]] = []
    for node, root in enumerate(head):
        if root == node:
            of.append(Net(len(members)))
            members.append([root])
        else:
            net = of[root]  # a root is the least of its set, and has its net already
            of.append(net)
            members[net].append(Node(node))
    nets = Nets(poles, of, members, [0] * len(members))
    for pole in range(poles):
        nets.fed[pole] = 1 << pole
    for conductor in feeding:
        a, b = sorted((conductor.a, conductor.b))
        if b < poles:
            nets.bridges.append(conductor)
        else:
            net = of[b]
            nets.fed[net] |= 1 << a
            taps = nets.taps.setdefault(net, {})
            pole = PoleNumber(Net(a))
            taps[pole] = taps.get(pole, 0) + 1
    return nets


def edges(circuit: Circuit, nets: Nets) -> list[Edge]:
    """What conducts sometimes, between different nets."""
    of = nets.of
    return [Edge(of[c.a], of[c.b], c) for c in circuit.conductors if c.when and of[c.a] != of[c.b]]
