"""Wires that their protection does not protect."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.volts.drop import short_current
from netlister.volts.values import table
from netlister.volts.wires import heating_time, rating

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Wire
    from netlister.source import Span
    from netlister.volts.drop import Survey


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


class _Wired(NamedTuple):
    name: str
    what: str
    wire: Wire
    supply: str
    pieces: tuple[str, ...]
    span: Span
    source: str


def overloads(survey: Survey) -> Iterator[Overload]:
    """Every bus, feed and wire that carries less than the trip current before it."""
    for wired in _wired(survey):
        trip = survey.protection.of_bus(wired.source or wired.supply)
        area = wired.wire.area_mm2
        if trip is None or area is None:
            continue
        amps = rating(area, wired.wire.length or 0.0) or 0.0
        if amps < trip:
            yield _overload(survey, wired, amps, trip)


def _overload(survey: Survey, wired: _Wired, amps: float, trip: float) -> Overload:
    supply = survey.layout.supplies[wired.supply]
    length = wired.wire.length or 0.0
    loop = 2 * length * (wired.wire.ohm_per_m or 0.0)
    if wired.pieces:
        drop = survey.pieces().get(wired.pieces[0])
        loop = drop.loop_low if drop is not None else loop
    fault = short_current(supply, loop)
    seconds = heating_time(wired.wire.area_mm2 or 0.0, fault) if fault else None
    return Overload(
        wired.name, wired.what, wired.wire.text, amps, trip, fault, seconds, _better(trip, length), supply.name,
        wired.pieces, wired.span, survey.protection.guard_of_bus(wired.source or wired.supply),
    )  # fmt: skip


def _better(amps: float, length: float) -> str:
    """The thinnest standard wire that carries a current continuously over a length in m."""
    from netlister.quantity import parse_wire

    for text in table()["sizes"]["mm2"]:
        if (rating(parse_wire(text).area_mm2 or 0.0, length) or 0.0) >= amps:
            return str(text)
    return f"several wires side by side, each of {table()['sizes']['mm2'][-1]}"


def _wired(survey: Survey) -> Iterator[_Wired]:
    layout = survey.layout
    for bus in layout.buses.values():
        what = f"the bus '{bus.name}'"
        yield _Wired(bus.name, what, bus.wire, _root(survey, bus.name), (), bus.span, bus.name)
    for feed in layout.feeds:
        supply = _supply_of(survey, feed.source)
        if supply:
            name, what = feed.name or f"{feed.source}/{feed.piece}", f"the feed of '{feed.piece}'"
            yield _Wired(name, what, feed.wire, supply, (feed.piece,), feed.span, feed.source)
    for link in layout.links:
        supply = _supply_at(survey, link.ends)
        if supply:
            name, what = link.name or "/".join(link.ends), f"the wire from {link.ends[0]} to {link.ends[1]}"
            yield _Wired(name, what, link.wire, supply, (), link.span, next((bus for bus in link.buses if bus), ""))


def _root(survey: Survey, bus: str) -> str:
    buses = survey.layout.buses
    while bus in buses and buses[bus].parent:
        bus = buses[bus].parent
    return buses[bus].supply if bus in buses else bus


def _supply_of(survey: Survey, source: str) -> str:
    layout = survey.layout
    if source in layout.buses:
        return _root(survey, source)
    if source in layout.reversers:
        return _root(survey, layout.reversers[source].bus)
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
