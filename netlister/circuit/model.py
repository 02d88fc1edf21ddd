"""The circuit: terminals as numbers, what conducts between them, and in which positions."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Mapping

    from netlister.layout.model import Contact, Feed, Joint, Layout, Link, Pin, Variable

Entry: TypeAlias = "Joint | Contact | Feed | Link | Pin"
"""An entry of a list of the layout that makes conductors."""

When = tuple[tuple[int, tuple[int, ...]], ...]
"""A condition: for each variable named (by number) the values that it may have. Empty: always."""

State = tuple[int, ...]
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

    a: int
    b: int
    what: str
    owner: str
    entry: Entry | None = None
    when: When = ()


class Device(NamedTuple):
    """An automatic device that chooses for itself: a reverser or a frog unit.

    `inputs`: the numbers of the two poles of its bus. `outputs`: for a reverser the numbers of its own two poles.
    `node`: for a unit the node of its frog.
    """

    name: str
    kind: str  # "reverser" | "unit"
    inputs: tuple[int, int]
    outputs: tuple[int, int] = (-1, -1)
    node: int = -1


@dataclass(slots=True)
class Circuit:
    """The circuit of a layout.

    Nodes 0 … len(poles)-1 are the poles. `node` maps the name of every terminal to its number and `names` is the
    way back. `variables` are in the order of the layout.
    """

    layout: Layout
    poles: list[Pole]
    names: list[str]
    node: dict[str, int]
    variables: list[Variable]
    variable: dict[str, int]
    conductors: list[Conductor] = field(default_factory=list)
    devices: list[Device] = field(default_factory=list)
    never: list[tuple[tuple[int, int], ...]] = field(default_factory=list)
    rails: list[int] = field(default_factory=list)
    commons: list[int] = field(default_factory=list)

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


def holds(when: When, state: State | Mapping[int, int]) -> bool:
    """Whether a condition holds in a state."""
    return all(state[variable] in values for variable, values in when)
