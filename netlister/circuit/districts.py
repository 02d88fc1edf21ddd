"""Power districts: the part of a supply behind the breaker of one bus, as a label on what is fed from there.

In the circuit itself a breaker changes nothing, and poles are the supply's. Here the same layout is built once more
with poles of its own for every district, so that what joins two districts can be found as what joins two poles.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from netlister.circuit.build import build
from netlister.circuit.numbers import Node
from netlister.layout.schema import LIMITING
from netlister.layout.terminal import named

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from netlister.circuit.model import Circuit
    from netlister.layout.model import Contact, Layout, Variable

_MARK = "\0"
"""Between a pole and its district in the names of a circuit by districts; no name in a file can have it."""


def districts(layout: Layout) -> dict[str, str]:
    """The district of every bus and supply by name; empty where no bus has a breaker.

    A bus with a breaker begins a district, which is named after it; a branch without one belongs to what it branches
    from; what is behind no breaker is the district named after the supply.
    """
    buses = layout.buses
    if all(bus.breaker is None for bus in buses.values()):
        return {}
    found: dict[str, str] = {}
    for name in layout.supplies:
        own = buses.get(name)
        found[name] = f"{name} before its breaker" if own is not None and own.breaker is not None else name
    roots = dict(found)
    for bus in buses.values():
        here = bus
        while here.breaker is None and here.parent:
            here = buses[here.parent]
        found[bus.name] = here.name if here.breaker is not None else roots[here.supply]
    return found


def by_district(layout: Layout) -> Callable[[str, Any], Any]:
    """An entry of a section as it is by districts: at poles of the district; None where it is left out there."""
    district = districts(layout)

    def at(terminal: str, bus: str) -> str:
        return f"{terminal}{_MARK}{district[bus]}" if bus else terminal

    def pair(ends: tuple[str, str], buses: tuple[str, str]) -> tuple[str, str]:
        return at(ends[0], buses[0]), at(ends[1], buses[1])

    def contact(entry: Contact) -> Contact:
        if not any(entry.buses):
            return entry
        throws = tuple((p, to and at(to, bus)) for (p, to), bus in zip(entry.throws, entry.buses[1:], strict=True))
        return entry._replace(common=entry.common and at(entry.common, entry.buses[0]), throws=throws)

    def seen(section: str, entry: Any) -> Any:
        if section == "feeds":
            if entry.source not in district:
                return entry
            return entry._replace(wires=tuple((at(pole, entry.source), rail) for pole, rail in entry.wires))
        if section == "contacts":
            return contact(entry)
        if section in {"reversers", "units"}:
            return entry._replace(inputs=pair(entry.inputs, (entry.bus, entry.bus)))
        if section in {"components", "pins", "links"}:
            if section == "components" and all(entry.buses) and entry.kind in LIMITING:
                return None
            return entry._replace(ends=pair(entry.ends, entry.buses))
        return entry

    return seen


def by_districts(layout: Layout, variables: Sequence[Variable] = ()) -> Circuit | None:
    """The circuit with poles per district, or None where no bus has a breaker.

    Variables are those of the layout's own circuit. A breaker, fuse or lamp drawn as a
    component from pole to pole is the one that makes the district, so it joins nothing.
    """
    district = districts(layout)
    if not district:
        return None
    seen = by_district(layout)
    supplies = {}
    owners = {bus.name: bus.supply for bus in layout.buses.values()}
    for name, label in district.items():
        supply = layout.supplies[owners.get(name, name)]
        poles = (f"{supply.poles[0]}{_MARK}{label}", f"{supply.poles[1]}{_MARK}{label}")
        supplies[label] = supply._replace(poles=poles)
    split = replace(
        layout,
        supplies=supplies,
        feeds=[seen("feeds", feed) for feed in layout.feeds],
        contacts=[seen("contacts", contact) for contact in layout.contacts],
        components={n: found for n, c in layout.components.items() if (found := seen("components", c)) is not None},
        pins=[seen("pins", pin) for pin in layout.pins],
        links=[seen("links", link) for link in layout.links],
        reversers={n: seen("reversers", r) for n, r in layout.reversers.items()},
        units={n: seen("units", u) for n, u in layout.units.items()},
    )
    return build(split, variables)


def with_track(layout: Layout) -> frozenset[str]:
    """The districts from which a feed, wire, contact or plug leads to a rail, in some positions or always."""
    circuit = by_districts(layout)
    if circuit is None:
        return frozenset()
    return frozenset({district_of(pole)[1] for pole in poles_with_track(circuit)} - {""})


def poles_with_track(circuit: Circuit) -> set[str]:
    """The poles from which something leads to a rail, in some positions or always; devices pass theirs on."""
    near: list[list[Node]] = [[] for _ in circuit.names]
    for c in circuit.conductors:
        near[c.a].append(c.b)
        near[c.b].append(c.a)
    for device in circuit.devices:
        for node in (device.node,) if device.kind == "unit" else map(Node, device.outputs):
            for source in device.inputs:
                near[source].append(node)
    rails = set(circuit.rails)
    found: set[str] = set()
    for pole in circuit.poles:
        start = circuit.node[pole.name]
        seen, waiting = {start}, [start]
        while waiting:
            for other in near[waiting.pop()]:
                if other not in seen and (other >= len(circuit.poles) or circuit.poles[other].device):
                    seen.add(other)
                    waiting.append(other)
        if seen & rails:
            found.add(pole.name)
    return found


def district_of(pole: str) -> tuple[str, str]:
    """The pole of a supply and the district that the name of a pole by districts means."""
    name, _, district = pole.partition(_MARK)
    return name, district


def told_terminals(names: Iterator[str]) -> tuple[str, ...]:
    """Names of terminals as they are told: a pole of a district as that of the bus."""
    return tuple(named(d, p[-1]) if d else p for p, d in map(district_of, names))
