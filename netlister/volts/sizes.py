"""The thinnest standard wire that holds the limits, for each bus and for its feeders."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import build
from netlister.lengths import NO_LENGTH
from netlister.quantity import parse_wire
from netlister.volts.drop import Survey
from netlister.volts.feeders import feeders, fewest
from netlister.volts.values import default_values, limit
from netlister.volts.wires import rating

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.layout.model import Feed, Layout, Wire
    from netlister.lengths import Metres


class Size(NamedTuple):
    """A standard wire for a bus or its feeders.

    `use`: "bus", "feeders" or "bus and feeders" where neither alone is enough. `wire`: the thinnest that holds the
    limits, or nothing where none does. `drop`: what it leaves in V at the worst place, `share` of the voltage; with the
    thickest where none does. `now`: what is there. `feeders`: with "bus and feeders" the wire of these.
    """

    bus: str
    use: str
    unit: str
    now: str
    wire: str
    drop: float | None
    share: float | None
    feeders: str = ""


class Instead(NamedTuple):
    """A feeder more that spares a thicker bus, which then does with `wire`.

    `at`: its place in m along `piece`; `tap`: along the bus.
    """

    bus: str
    piece: str
    at: Metres
    tap: Metres | None
    wire: str
    instead_of: str


class Both(NamedTuple):
    """A thicker bus and feeders more, where no wire by itself holds the limits: the feeders as entries of the file."""

    bus: str
    wire: str
    feeders: tuple[str, ...]


FEEDERS = 4
"""So many feeders more are advised at most."""


class Sizing:
    """Tries wires on a layout as read. `amps`: in place of the least trip current on the way; `temperature` in degC."""

    def __init__(self, layout: Layout, amps: float | None = None, temperature: float = 20.0) -> None:
        self.layout = layout
        self.amps = amps
        self.temperature = temperature

    def sizes(self) -> Iterator[Size]:
        """For every bus with a length, and for its feeders: square millimetres, then gauge numbers."""
        for bus in self.layout.buses.values():
            if bus.wire.length:
                for unit in ("mm2", "gauge"):
                    yield self._size(bus.name, "bus", unit, bus.wire.text, self._with_bus(bus.name))
            feeds = [f for f in self.layout.feeds if f.source == bus.name and f.wire.length]
            if feeds:
                now = ", ".join(dict.fromkeys(f.wire.text or "not stated" for f in feeds))
                for unit in ("mm2", "gauge"):
                    yield self._size(bus.name, "feeders", unit, now, self._with_feeders(bus.name))

    def together(self, sizes: list[Size]) -> Iterator[Size]:
        """Bus and feeders thickened together, for each bus that neither alone helps: the thinnest bus, then feeders."""
        for bus in self.layout.buses.values():
            for unit in ("mm2", "gauge"):
                known = [s for s in sizes if s.bus == bus.name and s.unit == unit]
                if len(known) == 2 and not any(s.wire for s in known):  # noqa: PLR2004
                    yield self._both(bus.name, unit, f"{known[0].now}; {known[1].now}")

    def _both(self, bus: str, unit: str, now: str) -> Size:
        thickest = default_values()["sizes"][unit][-1]
        whole = self.layout
        try:
            self.layout = self._with_feeders(bus)(thickest)
            first = self._size(bus, "bus and feeders", unit, now, self._with_bus(bus))
            if not first.wire:
                return first
            self.layout = self._with_bus(bus)(first.wire)
            second = self._size(bus, "bus and feeders", unit, now, self._with_feeders(bus))
        finally:
            self.layout = whole
        return second._replace(wire=first.wire, feeders=second.wire)

    def _size(self, bus: str, use: str, unit: str, now: str, made: Callable[[str], Layout]) -> Size:
        listed = default_values()["sizes"][unit]
        low, high = 0, len(listed)
        known: dict[int, tuple[bool, float | None, float | None]] = {}
        while low < high:
            middle = (low + high) // 2
            known[middle] = self._judged(made(listed[middle]), bus, listed[middle], use)
            if known[middle][0]:
                high = middle
            else:
                low = middle + 1
        if low == len(listed):
            _, drop, share = known.get(low - 1) or self._judged(made(listed[-1]), bus, listed[-1], use)
            return Size(bus, use, unit, now, "", drop, share)
        _, drop, share = known.get(low) or self._judged(made(listed[low]), bus, listed[low], use)
        return Size(bus, use, unit, now, listed[low], drop, share)

    def _judged(self, layout: Layout, bus: str, wire: str, use: str) -> tuple[bool, float | None, float | None]:
        """Whether a layout holds the limits on the track of a bus; volts lost at the worst place, and their share."""
        survey = Survey(build(layout), self.amps, self.temperature)
        supply = self._supply(bus)
        trip = survey.protection.of_bus(bus)
        holds = trip is None or not any(
            (rating(parse_wire(wire).area_mm2 or 0.0, length) or 0.0) < trip for length in self._lengths(bus, use)
        )
        most, margin = limit(layout, "drop"), limit(layout, "trip-margin")
        worst: tuple[float | None, float | None] = (None, None)
        for drop in survey.pieces().values():
            if drop is None or drop.supply != supply or not survey.protection.serves(bus, drop.piece):
                continue
            trip = survey.protection.of_piece(drop.piece, supply)
            if drop.share is not None:
                holds = holds and drop.share <= most
                if worst[1] is None or drop.share > worst[1]:
                    worst = drop.volts_lost, drop.share
            holds = holds and not (trip and drop.short is not None and drop.short < trip * margin)
        return (holds, *worst)

    def _lengths(self, bus: str, use: str) -> list[float]:
        """The lengths in m of the wires that are being sized."""
        if use == "bus":
            return [self.layout.buses[bus].wire.length or 0.0]
        return [f.wire.length or 0.0 for f in self.layout.feeds if f.source == bus]

    def _supply(self, bus: str) -> str:
        while self.layout.buses[bus].parent:
            bus = self.layout.buses[bus].parent
        return self.layout.buses[bus].supply

    def _with_bus(self, name: str) -> Callable[[str], Layout]:
        def made(text: str) -> Layout:
            bus = self.layout.buses[name]
            return replace(self.layout, buses={**self.layout.buses, name: bus._replace(wire=_rewired(bus.wire, text))})

        return made

    def _with_feeders(self, name: str) -> Callable[[str], Layout]:
        def made(text: str) -> Layout:
            feeds = [
                f._replace(wire=_rewired(f.wire, text)) if f.source == name and f.wire.length else f
                for f in self.layout.feeds
            ]
            return replace(self.layout, feeds=feeds)

        return made

    # -- another feeder in place of a thicker bus

    def instead(self, sizes: list[Size]) -> Iterator[Instead]:
        """Where one more feeder lets a bus do with a wire thinner than it needs without."""
        for size in sizes:
            if size.use != "bus" or size.unit != "mm2":
                continue
            listed = default_values()["sizes"]["mm2"]
            end = listed.index(size.wire) if size.wire else len(listed)
            found = self._thinner(size.bus, listed[:end])
            if found is not None:
                feed, wire = found
                yield Instead(size.bus, feed.piece, feed.at or NO_LENGTH, feed.tap, wire, size.wire)

    def _thinner(self, bus: str, listed: list[str]) -> tuple[Feed, str] | None:
        """The feed to add and the thinnest of some wires that does with it."""
        found = None
        for wire in reversed(listed):
            layout = self._with_bus(bus)(wire)
            added = next(iter(feeders(layout, self.amps, self.temperature, most=1, bus=bus)), None)
            if added is None or added.bus != bus:
                break
            layout = replace(layout, feeds=[*layout.feeds, added.feed])
            if not self._judged(layout, bus, wire, "bus")[0]:
                break
            found = added.feed, wire
        return found

    def with_feeders(self, sizes: list[Size], instead: list[Instead]) -> Iterator[Both]:
        """For each bus that no wire helps, nor one feeder more: the thinnest with which the fewest feeders do."""
        helped = {s.bus for s in sizes if s.wire and s.use != "feeders"} | {i.bus for i in instead}
        for bus in dict.fromkeys(s.bus for s in sizes if s.use == "bus" and s.bus not in helped):
            listed = default_values()["sizes"]["mm2"]
            found = self._holding(bus, listed[-1])
            low, high = 0, len(listed) - 1
            while found and low < high:
                middle = (low + high) // 2
                other = self._holding(bus, listed[middle])
                if other and len(other.feeders) <= len(found.feeders):
                    found, high = other, middle
                else:
                    low = middle + 1
            if found:
                yield found

    def _holding(self, bus: str, wire: str) -> Both | None:
        """A bus of a wire with the feeders that it needs, if so few do."""
        layout = self._with_bus(bus)(wire)
        quick = feeders(layout, self.amps, self.temperature, most=FEEDERS, bus=bus)
        if not quick or quick[-1].left:
            return None
        added = fewest(layout, self.amps, self.temperature, bus) if len(quick) > 1 else quick
        layout = replace(layout, feeds=[*layout.feeds, *(one.feed for one in added)])
        holds = (
            0 < len(added) <= FEEDERS
            and all(one.bus == bus for one in added)
            and self._judged(layout, bus, wire, "bus")[0]
        )
        return Both(bus, wire, tuple(one.entry for one in added)) if holds else None


def _rewired(wire: Wire, text: str) -> Wire:
    area, ohm = parse_wire(text)
    return wire._replace(text=text, ohm_per_m=ohm, area_mm2=area)
