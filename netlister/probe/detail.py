"""The circuit in detail: the checked circuit with buses, screws and wire ends as nodes of their own.

Contracting the conductors named in `FINE` gives exactly the circuit that is checked, which a test holds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import build
from netlister.layout.model import Value
from netlister.layout.terminal import named

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from netlister.circuit.model import Circuit, Conductor, State, When
    from netlister.layout.model import Layout

FINE = frozenset({"bus", "screw"})
"""What joins the nodes that only this circuit has: a bus to its supply, and a feed wire's end to its screw."""


class FineConductor(NamedTuple):
    """A conductor as in the checked circuit; `entry` is the number of its entry in the layout's list (-1: none)."""

    a: int
    b: int
    what: str
    owner: str
    entry: int = -1
    when: When = ()


@dataclass(slots=True)
class Detail:
    """A circuit of points and conductors.

    `names`: the name of each node. `whole`: per node the node of the checked circuit that it is part of. `points`: the
    nodes that a probe reaches with ease (poles, rails, free junctions, wire ends at screws); `tags`: the terminals of
    contacts, which it reaches under the baseboard. `screws`: the conductors that `feeds-off` takes away. `blades`, per
    piece: those that paper holds apart. `commons`, per contact: the lead of its common.
    """

    layout: Layout
    circuit: Circuit
    names: list[str]
    whole: list[int]
    conductors: list[FineConductor] = field(default_factory=list)
    node: dict[str, int] = field(default_factory=dict)
    points: list[int] = field(default_factory=list)
    tags: list[int] = field(default_factory=list)
    screws: list[int] = field(default_factory=list)
    wires: list[list[int]] = field(default_factory=list)  # per feed the conductors of its wires, screw to rail
    fed: dict[str, list[int]] = field(
        default_factory=dict
    )  # per feed, named like its piece, what `feed-off` takes away
    blades: dict[str, list[int]] = field(default_factory=dict)
    commons: dict[str, int] = field(default_factory=dict)
    throws: dict[int, list[int]] = field(default_factory=dict)  # contact (its number) -> its throw leads
    buses: dict[str, tuple[int, int]] = field(default_factory=dict)  # bus -> what ties its A and B to where it starts

    @property
    def first(self) -> State:
        """The state with every variable in its first position."""
        return tuple(Value(0) for _ in self.circuit.variables)


def detail(layout: Layout) -> Detail:
    """Build the circuit in detail of a layout."""
    circuit = build(layout)
    made = Detail(layout, circuit, list(circuit.names), list(range(len(circuit.names))))
    made.node = dict(circuit.node)
    _buses(made)
    screws: dict[str, int] = {}
    count: dict[int, int] = {}
    made.wires = [[] for _ in layout.feeds]
    for conductor in numbered(layout, circuit.conductors):
        _conductor(made, conductor, screws, count)
    times: dict[str, int] = {}
    for feed, wires in zip(layout.feeds, made.wires, strict=True):
        times[feed.piece] = number = times.get(feed.piece, 0) + 1
        made.fed[feed.piece + (f"#{number}" if number > 1 else "")] = [n - 1 for n in wires]
    contact_ends: set[int] = set(circuit.commons)
    contact_ends.update(made.node[c.terminal(position)] for c in layout.contacts for position, _ in c.throws)
    used = {end for c in made.conductors for end in (c.a, c.b)} | set(range(len(circuit.poles)))
    used.update(circuit.rails)
    made.tags = sorted(contact_ends)
    made.points = [n for n in sorted(used - contact_ends) if not made.names[n].startswith("bus:")]
    return made


def numbered(layout: Layout, conductors: Iterable[Conductor]) -> Iterator[FineConductor]:
    """Conductors of the checked circuit, their entries by number."""
    lists: tuple[Sequence[object], ...] = (layout.joints, layout.contacts, layout.feeds, layout.links, layout.pins)
    numbers = {id(entry): number for entries in lists for number, entry in enumerate(entries)}
    for c in conductors:
        yield FineConductor(c.a, c.b, c.what, c.owner, numbers.get(id(c.entry), -1), c.when)


def _node(made: Detail, name: str, whole: int) -> int:
    number = made.node[name] = len(made.names)
    made.names.append(name)
    made.whole.append(whole)
    return number


def _buses(made: Detail) -> None:
    layout = made.layout
    for bus in layout.buses.values():
        ties = []
        for letter, pole in zip("AB", bus.poles, strict=True):
            whole = made.circuit.node[pole]
            start = made.node[named(f"bus:{bus.parent}", letter)] if bus.parent else whole
            ties.append(len(made.conductors))
            made.conductors.append(
                FineConductor(start, _node(made, named(f"bus:{bus.name}", letter), whole), "bus", bus.name)
            )
        made.buses[bus.name] = (ties[0], ties[1])


def _at(made: Detail, end: int, bus: str) -> int:
    """The node of a bus where its pole is written, else the node itself."""
    found = made.layout.buses.get(bus) if bus else None
    name = made.circuit.names[end]
    if found is None or name not in found.poles:
        return end
    return made.node[named(f"bus:{bus}", "AB"[found.poles.index(name)])]


def _conductor(made: Detail, c: FineConductor, screws: dict[str, int], count: dict[int, int]) -> None:
    layout, out = made.layout, made.conductors
    if c.what == "feed":
        feed = layout.feeds[c.entry]
        rail = made.circuit.names[c.b]
        times = screws[rail] = screws.get(rail, 0) + 1
        screw = _node(made, f"screw:{rail}" + (f"#{times}" if times > 1 else ""), c.a)
        made.screws.append(len(out))
        out.append(FineConductor(_at(made, c.a, feed.source), screw, "screw", c.owner, c.entry))
        made.wires[c.entry].append(len(out))
        out.append(c._replace(a=screw))
        return
    a, b = c.a, c.b
    times = count[c.entry] = count.get(c.entry, -1) + 1 if c.what == "lead" else 0
    if c.what == "lead":
        contact = layout.contacts[c.entry]
        common = made.circuit.node[contact.terminal("common")]
        if a == common:
            made.commons[contact.full] = len(out)
            bus = contact.buses[0] if contact.buses else ""
        else:
            position = made.circuit.names[a].removeprefix(contact.terminal(""))
            number = [p for p, _ in contact.throws].index(position)
            bus = contact.buses[1 + number] if contact.buses else ""
            made.throws.setdefault(c.entry, []).append(len(out))
        b = _at(made, b, bus)
    elif c.what == "wire":
        a, b = (_at(made, end, bus) for end, bus in zip((a, b), layout.links[c.entry].buses, strict=True))
    elif c.what == "plug":
        a, b = (_at(made, end, bus) for end, bus in zip((a, b), layout.pins[c.entry].buses, strict=True))
    elif c.what == "component":
        a, b = (_at(made, end, bus) for end, bus in zip((a, b), layout.components[c.owner].buses, strict=True))
    elif c.what == "reverser":
        b = _at(made, b, layout.reversers[c.owner].bus)
    elif c.what == "blade":
        made.blades.setdefault(c.owner, []).append(len(out))
    out.append(c._replace(a=a, b=b))


def contracted(made: Detail) -> list[FineConductor]:
    """The conductors of the checked circuit, got by contracting what only the detailed one has."""
    whole = made.whole
    return [c._replace(a=whole[c.a], b=whole[c.b]) for c in made.conductors if c.what not in FINE]
