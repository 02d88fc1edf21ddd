"""The nets that the pins of parts lie on, by name."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from netlister.union import find, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit, Conductor


def net_names(circuit: Circuit) -> list[str]:
    """The name of the net of each node.

    A pole's net has the pole's name; any other that of its first rail by name, else of its first junction or output
    of a reverser, else of its first terminal of a contact.
    """
    head = list(range(len(circuit.names)))
    for conductor in circuit.conductors:
        if _is_connection(circuit, conductor):
            join(head, conductor.a, conductor.b)
    rails, own = set(circuit.rails), set(own_terminals(circuit))
    members: dict[int, list[int]] = defaultdict(list)
    for node in range(len(circuit.names)):
        members[find(head, node)].append(node)
    names = [""] * len(circuit.names)
    for nodes in members.values():
        first = min(nodes, key=lambda n: (n not in rails, n in own, circuit.names[n]))
        for node in nodes:
            names[node] = circuit.names[first]
    return names


def _is_connection(circuit: Circuit, conductor: Conductor) -> bool:
    """Whether a conductor is a mere connection, no part: a bond, or a lead that does not go to a pole."""
    return conductor.what in {"bond", "lead"} and not _taps(circuit, conductor)


def _taps(circuit: Circuit, conductor: Conductor) -> bool:
    return min(conductor.a, conductor.b) < len(circuit.poles)


def own_terminals(circuit: Circuit) -> Iterator[int]:
    """The nodes of contacts' own terminals."""
    for contact in circuit.layout.contacts:
        for place in ("common", *(position for position, _ in contact.throws)):
            yield circuit.node[contact.terminal(place)]
