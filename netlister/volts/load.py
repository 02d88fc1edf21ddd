"""Wires that their protection does not protect."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.volts.protection import guard_of
from netlister.volts.values import default_values
from netlister.volts.wires import heating_time, rating

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Layout, Link, Wire
    from netlister.source import Span
    from netlister.volts.drop import Survey
    from netlister.volts.protection import Guard


class Overload(NamedTuple):
    """A wire that carries `amps` continuously, behind a supply or breaker that trips at `trip`, both in A.

    `guard`: what trips there, in words. `fault`: the current in A of a short at its end; `seconds`: the time until it
    is too hot then (None: not known). `better`: a wire that would do.
    """

    name: str
    what: str
    wire: str
    amps: float
    trip: float
    fault: float | None
    seconds: float | None
    better: str
    supply: str
    pieces: tuple[str, ...]
    span: Span
    guard: str

    @property
    def size(self) -> str:
        """The thinnest standard wire that would do by itself, or nothing."""
        return self.better if self.better in default_values()["sizes"]["mm2"] else ""


class ThinWire(NamedTuple):
    """A wire that carries `amps` continuously, in A, behind a `guard` that trips at more. `pieces`: what it feeds."""

    name: str
    what: str
    wire: Wire
    supply: str
    pieces: tuple[str, ...]
    span: Span
    amps: float
    guard: Guard


SHORT_FEED = 0.3, 0.3
"""A feed of so many m at the most, of so many mm2 at the least, is laid behind any protection.

Common practice, no published source.
"""


def is_short(wire: Wire) -> bool:
    """Whether a wire is one of the short thin feeds that are common practice."""
    length, area = SHORT_FEED
    return wire.length is not None and wire.length <= length and (wire.area_mm2 or 0.0) >= area


class _WiredLoad(NamedTuple):
    """A wire to look at: what it is called, what it is in words, what it feeds, and where it comes from."""

    name: str
    what: str
    wire: Wire
    pieces: tuple[str, ...]
    span: Span
    source: str


def thin_wires(layout: Layout, *, short_feeds: bool = True) -> Iterator[ThinWire]:
    """Every bus, feed and wire from a bus that carries less than the trip current before it.

    `short_feeds`: those too that are so short that thin wire is common practice for them.
    """
    for bus in layout.buses.values():
        yield from _thin(layout, _WiredLoad(bus.name, f"the bus '{bus.name}'", bus.wire, (), bus.span, bus.name))
    for feed in layout.feeds:
        if feed.wire.area_mm2 is not None and (short_feeds or not is_short(feed.wire)):
            name, what = feed.name or f"{feed.source}/{feed.piece}", f"the feed of '{feed.piece}'"
            yield from _thin(layout, _WiredLoad(name, what, feed.wire, (feed.piece,), feed.span, feed.source))
    for link in layout.links:
        source = next((bus for bus in link.buses if bus), "")
        if source:
            yield from _thin(layout, _linked(link, source))


def _linked(link: Link, source: str) -> _WiredLoad:
    name, what = link.name or "/".join(link.ends), f"the wire from {link.ends[0]} to {link.ends[1]}"
    return _WiredLoad(name, what, link.wire, (), link.span, source)


def _thin(layout: Layout, wired: _WiredLoad, guard: Guard | None = None) -> Iterator[ThinWire]:
    """A wire, if it carries less than its guard lets through; `guard`: where that is not the one of its source."""
    area = wired.wire.area_mm2
    guard = guard or guard_of(layout, wired.source)
    if area is None or guard is None:
        return
    amps = rating(area, wired.wire.length or 0.0) or 0.0
    supply = _supply_of(layout, wired.source)
    if amps < guard.trip and supply:
        yield ThinWire(wired.name, wired.what, wired.wire, supply, wired.pieces, wired.span, amps, guard)


def overloads(survey: Survey) -> Iterator[Overload]:
    """Every bus, feed and wire that carries less than the trip current before it, wires beyond junctions too."""
    layout = survey.layout
    for thin in thin_wires(layout):
        yield overload(survey, thin)
    for link in layout.links:
        supply = "" if any(link.buses) else _supply_at(survey, link.ends)
        if supply:
            node = survey.network.nodes[survey.circuit.node[link.ends[0]]]
            for thin in _thin(layout, _linked(link, supply), survey.protection.before(node, supply)):
                yield overload(survey, thin)


def overload(survey: Survey, thin: ThinWire) -> Overload:
    """What is reported of a wire that is too thin."""
    from netlister.volts.drop import short_current

    supply = survey.layout.supplies[thin.supply]
    length = thin.wire.length or 0.0
    loop = 2 * length * (thin.wire.ohm_per_m or 0.0)
    if thin.pieces:
        drop = survey.pieces().get(thin.pieces[0])
        loop = drop.loop_low if drop is not None else loop
    fault = short_current(supply, loop)
    seconds = heating_time(thin.wire.area_mm2 or 0.0, fault) if fault else None
    return Overload(
        thin.name, thin.what, thin.wire.text, thin.amps, thin.guard.trip, fault, seconds,
        _better(thin.guard.trip, length), supply.name, thin.pieces, thin.span, thin.guard.name,
    )  # fmt: skip


def _better(amps: float, length: float) -> str:
    """The thinnest standard wire that carries a current continuously over a length in m."""
    from netlister.quantity import parse_wire

    for text in default_values()["sizes"]["mm2"]:
        if (rating(parse_wire(text).area_mm2 or 0.0, length) or 0.0) >= amps:
            return str(text)
    return f"several wires side by side, each of {default_values()['sizes']['mm2'][-1]}"


def _supply_of(layout: Layout, source: str) -> str:
    """The supply of a bus, supply or reverser; none of a name that is none of these."""
    if source in layout.reversers:
        source = layout.reversers[source].bus
    while source in layout.buses:
        bus = layout.buses[source]
        if not bus.parent:
            source = bus.supply
            break
        source = bus.parent
    return source if source in layout.supplies else ""


def _supply_at(survey: Survey, ends: tuple[str, str]) -> str:
    """The supply whose pole the end of a wire is, directly or by what always conducts."""
    solver, network = survey.solver, survey.network
    for end in ends:
        node = solver.root[network.nodes[survey.circuit.node[end]]]
        bits = solver.earth_of[node] if node in solver.earth_of else solver.poles_of.get(solver.part[node], 0)
        for supply in survey.layout.supplies.values():
            if any(bits >> network.names.index(pole) & 1 for pole in supply.poles):
                return supply.name
    return ""
