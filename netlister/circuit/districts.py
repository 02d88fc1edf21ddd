"""Power districts: the part of a supply behind the breaker of one bus, as a label on what is fed from there.

In the circuit itself a breaker changes nothing, and poles are the supply's. Here the same layout is built once more
with poles of its own for every district, so that what joins two districts can be found as what joins two poles.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from netlister.circuit.build import build

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit
    from netlister.layout.model import Layout

_MARK = "\0"
"""Between a pole and its district in the names of a circuit by districts; no name in a file can have it."""

_PROTECTORS = frozenset({"breaker", "fuse", "lamp"})


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


def by_districts(layout: Layout) -> Circuit | None:
    """The circuit with poles per district, or None where no bus has a breaker.

    Variables are those of the layout's own circuit. A breaker, fuse or lamp drawn as a
    component from pole to pole is the one that makes the district, so it joins nothing.
    """
    district = districts(layout)
    if not district:
        return None

    def at(terminal: str, bus: str) -> str:
        return f"{terminal}{_MARK}{district[bus]}" if bus else terminal

    def pair(ends: tuple[str, str], buses: tuple[str, str]) -> tuple[str, str]:
        return at(ends[0], buses[0]), at(ends[1], buses[1])

    supplies = {}
    owners = {bus.name: bus.supply for bus in layout.buses.values()}
    for name, label in district.items():
        supply = layout.supplies[owners.get(name, name)]
        poles = (f"{supply.poles[0]}{_MARK}{label}", f"{supply.poles[1]}{_MARK}{label}")
        supplies[label] = supply._replace(poles=poles)
    feeds = [
        feed._replace(wires=tuple((at(pole, feed.source), rail) for pole, rail in feed.wires))
        if feed.source in district
        else feed
        for feed in layout.feeds
    ]
    contacts = [
        contact._replace(
            common=contact.common and at(contact.common, contact.buses[0]),
            throws=tuple(
                (p, to and at(to, bus)) for (p, to), bus in zip(contact.throws, contact.buses[1:], strict=True)
            ),
        )
        if any(contact.buses)
        else contact
        for contact in layout.contacts
    ]
    components = {
        name: c._replace(ends=pair(c.ends, c.buses))
        for name, c in layout.components.items()
        if not (all(c.buses) and c.kind in _PROTECTORS)
    }
    split = replace(
        layout,
        supplies=supplies,
        feeds=feeds,
        contacts=contacts,
        components=components,
        pins=[p._replace(ends=pair(p.ends, p.buses)) for p in layout.pins],
        links=[w._replace(ends=pair(w.ends, w.buses)) for w in layout.links],
        reversers={n: r._replace(inputs=pair(r.inputs, (r.bus, r.bus))) for n, r in layout.reversers.items()},
        units={n: u._replace(inputs=pair(u.inputs, (u.bus, u.bus))) for n, u in layout.units.items()},
    )
    return build(split)


def with_track(layout: Layout) -> frozenset[str]:
    """The districts from which a feed, wire, contact or plug leads to a rail, in some positions or always."""
    circuit = by_districts(layout)
    if circuit is None:
        return frozenset()
    near: list[list[int]] = [[] for _ in circuit.names]
    for c in circuit.conductors:
        near[c.a].append(c.b)
        near[c.b].append(c.a)
    for device in circuit.devices:
        for node in (device.node,) if device.kind == "unit" else device.outputs:
            for source in device.inputs:
                near[source].append(node)
    rails = set(circuit.rails)
    found = set()
    for pole in circuit.poles:
        start = circuit.node[pole.name]
        seen, waiting = {start}, [start]
        while waiting:
            for other in near[waiting.pop()]:
                if other not in seen and (other >= len(circuit.poles) or circuit.poles[other].device):
                    seen.add(other)
                    waiting.append(other)
        if seen & rails:
            found.add(district_of(pole.name)[1])
    return frozenset(found - {""})


def district_of(pole: str) -> tuple[str, str]:
    """The pole of a supply and the district that the name of a pole by districts stands for."""
    name, _, district = pole.partition(_MARK)
    return name, district


def spoken(names: Iterator[str]) -> tuple[str, ...]:
    """Names of terminals as they are told: a pole of a district as that of the bus."""
    return tuple(f"{d}.{p[-1]}" if d else p for p, d in map(district_of, names))
