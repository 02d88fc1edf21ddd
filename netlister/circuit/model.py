"""The circuit: terminals as numbers, what conducts between them, and in which positions."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from netlister.circuit.numbers import Net, Node, PoleNumber

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from netlister.circuit.numbers import Var
    from netlister.layout.model import Contact, Feed, Joint, Layout, Link, Pin, Value, Variable

Entry: TypeAlias = "Joint | Contact | Feed | Link | Pin"
"""An entry of a list of the layout that makes conductors."""

When: TypeAlias = "tuple[tuple[Var, tuple[Value, ...]], ...]"
"""A condition: for each variable named (by number) the values that it may have. Empty: always."""

State: TypeAlias = "tuple[Value, ...]"
"""One value for each variable."""


class Pole(NamedTuple):
    """A pole. Its number in `Circuit.poles` is the number of its node.

    `supplies`: the supplies that own it (several where a common return ties them). An output of an automatic
    reverser has the supplies of its bus, and `device` names the reverser.
    """

    name: str
    letter: str
    supplies: frozenset[str]
    types: frozenset[str]
    device: str


class Conductor(NamedTuple):
    """Something that conducts between two nodes while `when` holds.

    `what`: bond, joiner, feed, wire, component, plug, blade, contact, lead (from a contact's own terminal to what
    it is wired to) or reverser. `owner` names the piece, joint, contact … that it belongs to; `entry` is its entry
    in the layout where that is one of a list (None: of something that has a name).
    """

    a: Node
    b: Node
    what: str
    owner: str
    entry: Entry | None = None
    when: When = ()


_NO_POLE = PoleNumber(Net(-1))


class Device(NamedTuple):
    """An automatic device that chooses for itself: a reverser or a frog unit.

    `inputs`: the numbers of the two poles of its bus. `outputs`: for a reverser the numbers of its own two poles.
    `node`: for a unit the node of its frog.
    """

    name: str
    kind: str  # "reverser" | "unit"
    inputs: tuple[PoleNumber, PoleNumber]
    outputs: tuple[PoleNumber, PoleNumber] = (_NO_POLE, _NO_POLE)
    node: Node = Node(-1)


Near: TypeAlias = "list[list[tuple[Node, Conductor]]]"
"""Per node the nodes beside it, each with what conducts between them."""


@dataclass(slots=True)
class Circuit:
    """The circuit of a layout.

    Nodes 0 … len(poles)-1 are the poles. `node` maps the name of every terminal to its number and `names` is the
    way back. `variables` are in the order of the layout.
    """

    layout: Layout
    poles: list[Pole]
    names: list[str]
    node: dict[str, Node]
    variables: list[Variable]
    variable: dict[str, Var]
    _conductors: list[Conductor] | None = field(default_factory=list)
    devices: list[Device] = field(default_factory=list)
    never: list[tuple[tuple[Var, Value], ...]] = field(default_factory=list)
    rails: list[Node] = field(default_factory=list)
    commons: list[Node] = field(default_factory=list)
    _near: Near | None = field(default=None, repr=False, compare=False)

    @property
    def conductors(self) -> list[Conductor]:
        """Everything that conducts."""
        if self._conductors is None:
            self._conductors = list(conductors_in(self.near))
        return self._conductors

    @conductors.setter
    def conductors(self, conductors: list[Conductor]) -> None:
        self._conductors = conductors
        self._near = None

    @property
    def diodes(self) -> frozenset[str]:
        """The names of the diodes; each conducts from `a` to `b` of its conductor."""
        return frozenset(c.name for c in self.layout.components.values() if c.kind == "diode")

    @property
    def pole_numbers(self) -> list[PoleNumber]:
        """The numbers of the poles."""
        return [PoleNumber(Net(number)) for number in range(len(self.poles))]

    def join(self, near: Near) -> None:
        """Let the nodes be joined so, in place of what conducted before."""
        self._conductors = None
        self._near = near

    @property
    def near(self) -> Near:
        """What every node is joined to, and by what."""
        if self._near is None:
            near: Near = [[] for _ in self.names]
            for conductor in self.conductors:
                near[conductor.a].append((conductor.b, conductor))
                near[conductor.b].append((conductor.a, conductor))
            self._near = near
        return self._near

    def dump(self) -> str:
        """The circuit as text, a conductor a line, sorted: for tests and for curious people."""
        lines = [f"pole {p.name} of {', '.join(sorted(p.supplies))}" for p in self.poles]
        lines += [f"variable {v.name}: {', '.join(v.positions)}" for v in self.variables]
        lines += sorted(self._line(c) for c in self.conductors)
        return "\n".join(lines) + "\n"

    def _line(self, c: Conductor) -> str:
        a, b = sorted((self.names[c.a], self.names[c.b]))
        when = " and ".join(
            f"{self.variables[v].name}={'|'.join(self.variables[v].positions[i] for i in values)}"
            for v, values in c.when
        )
        owner = f" of {c.owner}" if c.owner else ""
        return f"{a} -- {b}: {c.what}{owner}" + (f" while {when}" if when else "")


def conductors_in(near: Near) -> Iterator[Conductor]:
    """Every conductor once."""
    for node, beside in enumerate(near):
        own = 0
        for _, conductor in beside:
            if conductor.a != node:
                continue
            if conductor.b == node:  # it stands here twice
                own += 1
                if own % 2 == 0:
                    continue
            yield conductor


def holds(when: When, state: State | Mapping[Var, Value]) -> bool:
    """Whether a condition holds in a state."""
    return all(state[variable] in values for variable, values in when)
