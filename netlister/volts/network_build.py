"""From a circuit to its network of resistances."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from typing import TYPE_CHECKING, cast

from netlister.circuit.numbers import Var
from netlister.layout.model import Pin, Value
from netlister.layout.schema import BLOCKING
from netlister.layout.terminal import Terminal, named
from netlister.lengths import NO_LENGTH, Metres
from netlister.volts.network import Element, Network, NetworkRail
from netlister.volts.values import NOTHING, Band, Values

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.circuit.model import Circuit, When
    from netlister.layout.model import Bus, Layout, Piece


def build_network(circuit: Circuit, temperature: float = 20.0) -> Network:
    """The network of a circuit, its wires and rails at a temperature in degC."""
    layout = circuit.layout
    earths = [n for n, pole in enumerate(circuit.poles) if not pole.device]
    names = [circuit.poles[n].name for n in earths]
    variables = [len(v.positions) for v in circuit.variables] + [2] * len(circuit.devices)
    network = Network(circuit, Values(layout, temperature), names, len(earths), variables)
    network.nodes.update({pole: n for n, pole in enumerate(earths)})
    _NetworkBuilder(network).build()
    return network


class _NetworkBuilder:
    """Fills a network (`n`): buses, rails, then all that joins them."""

    def __init__(self, network: Network) -> None:
        self.n = network
        self.layout = network.layout
        self.circuit = network.circuit
        self.values = network.values

    def build(self) -> None:
        self._buses()
        self._pieces()
        for number, name in enumerate(self.circuit.names):
            if number not in self.n.nodes:
                self.n.nodes[number] = self.node(name)
        self._joints()
        self._feeds()
        self._wires()
        self._circuit()
        self._devices()

    def node(self, name: str) -> int:
        self.n.names.append(name)
        return len(self.n.names) - 1

    def add(self, element: Element) -> None:
        if element.a != element.b:
            self.n.elements.append(element)

    # -- buses

    def _buses(self) -> None:
        """A node at every place of a bus where something is tapped, and the wire between."""
        places: dict[str, set[Metres]] = defaultdict(set)
        for feed in self.layout.feeds:
            if feed.source in self.layout.buses:
                places[feed.source].add(feed.tap or NO_LENGTH)
        for bus in self.layout.buses.values():
            if bus.parent:
                places[bus.parent].add(bus.at or NO_LENGTH)
        for bus in _parents_first(self.layout):
            for letter, pole in zip("AB", bus.poles, strict=True):
                self._conductor(bus, letter, pole, sorted(places[bus.name] | {NO_LENGTH}))

    def _conductor(self, bus: Bus, letter: str, pole: str, places: list[Metres]) -> None:
        """One of the two conductors of a bus, from where it begins over all its taps."""
        if bus.parent:
            start = self.n.taps[bus.parent, letter, self._place(bus.parent, bus.at)]
        else:
            start = self.n.nodes[self.circuit.node[pole]]
        length = bus.wire.length
        if not length:
            self.n.taps[bus.name, letter, 0.0] = start
            return
        per_metre = self.values.per_metre(bus.wire, "bus")
        at = {
            place: start if place in {0.0, self._closing_place(bus)} else self.node(f"{bus.name}.{letter}@{place:g}")
            for place in places
        }
        for place, node in at.items():
            self.n.taps[bus.name, letter, place] = node
        if bus.form == "ring":
            at[length] = start
        for (a, i), (b, j) in pairwise(sorted(at.items())):
            self.add(Element(i, j, per_metre.times(b - a), "bus", bus.name))

    @staticmethod
    def _closing_place(bus: Bus) -> Metres:
        """The length of a ring, where it is at its beginning again; of a line 0."""
        return (bus.wire.length or NO_LENGTH) if bus.form == "ring" else NO_LENGTH

    def _place(self, name: str, at: Metres | None) -> Metres:
        """The place of a tap: an ideal bus has only one."""
        return (at or NO_LENGTH) if self.layout.buses[name].wire.length else NO_LENGTH

    # -- track

    def _pieces(self) -> None:
        fed: dict[str, set[Metres]] = defaultdict(set)
        for feed in self.layout.feeds:
            if feed.at:
                fed[feed.piece].add(feed.at)
        per_metre = self.values.rail() if any(p.length for p in self.layout.pieces.values()) else NOTHING
        for piece in self.layout.pieces.values():
            if not piece.length:
                self.n.lengthless.append(piece.name)
            for rail in piece.kind.rails:
                found = (
                    self._plain(piece, rail, fed[piece.name], per_metre)
                    if piece.kind.plain
                    else self._star(piece, rail, per_metre)
                )
                self.n.rails[piece.name, rail] = found
                self.n.nodes[self.circuit.node[piece.terminal(rail)]] = found.middle

    def _plain(self, piece: Piece, rail: str, fed: set[Metres], per_metre: Band) -> NetworkRail:
        """A rail of plain track: a node at each end and at each place of a feed, and the rail between."""
        places = sorted({NO_LENGTH, piece.length or NO_LENGTH, *(at for at in fed if piece.length)})
        name = piece.terminal(rail)
        points = [(place, self.node(f"{name}@{place:g}" if place else name)) for place in places]
        for (a, i), (b, j) in pairwise(points):
            self.add(Element(i, j, per_metre.times(b - a), "rail", name))
        entering, leaving = sorted(piece.kind.ends.values(), key=lambda end: not end.entering)
        return NetworkRail(points[0][1], {entering.name: points[0][1], leaving.name: points[-1][1]}, tuple(points))

    def _star(self, piece: Piece, rail: str, per_metre: Band) -> NetworkRail:
        """A rail of any other piece: a node in the middle, and half the length of the piece from it to each end."""
        name = piece.terminal(rail)
        middle = self.node(name)
        ends = {}
        for end in piece.kind.ends.values():
            if rail in {end.left, end.right}:
                ends[end.name] = middle
                if piece.length:
                    ends[end.name] = self.node(f"{name}@{end.name}")
                    self.add(Element(middle, ends[end.name], per_metre.times(piece.length / 2), "rail", name))
        return NetworkRail(middle, ends, ())

    def _end(self, piece: str, end: str, rail: str) -> int:
        return self.n.rails[piece, rail].ends[end]

    def _joints(self) -> None:
        metal = [j for j in self.layout.joints if not all(insulated for *_, insulated in j.pairs)]
        ohm = self.values.part("joiner") if metal else NOTHING
        for joint in self.layout.joints:
            for a, b, insulated in joint.pairs:
                if not insulated:
                    one = self._end(*joint.start, Terminal.of(a).own)
                    two = self._end(*joint.end, Terminal.of(b).own)
                    self.add(Element(one, two, ohm, "joiner", joint.name, (), joint))

    # -- wiring

    def _feeds(self) -> None:
        buses = self.layout.buses
        for feed in self.layout.feeds:
            ohm = self.values.wire(feed.wire, "feed")
            owner = feed.name or f"feed of {feed.piece}"
            for source, terminal in feed.wires:
                if feed.source in buses:
                    letter = "AB"[buses[feed.source].poles.index(source)]
                    start = self.n.taps[feed.source, letter, self._place(feed.source, feed.tap)]
                else:
                    start = self.n.nodes[self.circuit.node[source]]
                self.add(Element(start, self._fed(feed.piece, terminal, feed.at), ohm, "feed", owner, (), feed))

    def _fed(self, piece: str, terminal: str, at: Metres | None) -> int:
        """The node of a rail that a feed is soldered to."""
        rail = self.n.rails[piece, Terminal.of(terminal).own]
        return dict(rail.points)[at] if at and len(rail.points) > 1 else rail.middle

    def _wires(self) -> None:
        layout = self.layout
        for link in layout.links:
            a, b = self._pair(link.ends, link.buses, link.ends_at)
            self.add(Element(a, b, self.values.wire(link.wire, "other"), "wire", link.name, (), link))
        for component in layout.components.values():
            if component.kind not in BLOCKING:
                a, b = self._pair(component.ends, component.buses, component.ends_at)
                ohm = component.resistance or 0.0
                self.add(Element(a, b, Band(ohm, ohm), "component", component.name))
        for contact in layout.contacts:
            owner = contact.full
            wired = [("common", contact.common), *contact.throws]
            for (own, terminal), bus, end in zip(wired, contact.buses, contact.ends_at, strict=True):
                if terminal is not None:
                    lead = self._node(named(owner, own), "", "")
                    self.add(Element(lead, self._node(terminal, bus, end), NOTHING, "lead", owner, (), contact))

    def _pair(self, ends: tuple[str, str], buses: tuple[str, str], at: tuple[str, str]) -> tuple[int, int]:
        a, b = (self._node(*written) for written in zip(ends, buses, at, strict=True))
        return a, b

    def _node(self, terminal: str, bus: str, end: str) -> int:
        """The node of a terminal: of a bus where it begins, of a rail at the end that is named, else in its middle."""
        if bus in self.layout.buses:
            letter = "AB"[self.layout.buses[bus].poles.index(terminal)]
            return self.n.taps[bus, letter, 0.0]
        piece, rail = Terminal.of(terminal)
        if end:
            return self.n.rails[piece, rail].ends[end]
        return self.n.nodes[self.circuit.node[terminal]]

    def _circuit(self) -> None:
        """Everything else that conducts in the circuit, between the same terminals."""
        ohms: dict[str, Callable[[], Band]] = {
            "bond": lambda: NOTHING,
            "blade": lambda: self.values.part("blade"),
            "contact": lambda: self.values.part("contact"),
        }
        for c in self.circuit.conductors:
            if c.what in ohms:
                a, b = self.n.nodes[c.a], self.n.nodes[c.b]
                self.add(Element(a, b, ohms[c.what](), c.what, c.owner, c.when, c.entry))
            elif c.what == "plug":
                pin = cast(Pin, c.entry)
                a, b = self._pair(pin.ends, pin.buses, pin.ends_at)
                self.add(Element(a, b, NOTHING, "plug", c.owner, c.when, c.entry))
            elif c.what == "reverser":
                bus = self.layout.reversers[c.owner].bus
                a, b = self.n.nodes[c.a], self._node(self.circuit.names[c.b], bus, "")
                self.add(Element(a, b, self.values.part("contact"), "reverser", c.owner, c.when))

    def _devices(self) -> None:
        """Automatic devices: a position of their own each, straight or crossed, pole A or pole B."""
        for number, device in enumerate(self.circuit.devices, len(self.circuit.variables)):
            devices = self.layout.reversers if device.kind == "reverser" else self.layout.units
            bus = devices[device.name].bus
            a, b = (self._node(self.circuit.names[n], bus, "") for n in device.inputs)
            ohm = self.values.part("contact")
            pairs = [(a, b), (b, a)]
            for value, inputs in enumerate(pairs):
                when: When = ((Var(number), (Value(value),)),)
                if device.kind == "unit":
                    self.add(Element(inputs[0], self.n.nodes[device.node], ohm, "unit", device.name, when))
                else:
                    for source, output in zip(inputs, device.outputs, strict=True):
                        self.add(Element(source, self.n.nodes[output], ohm, "reverser", device.name, when))


def _parents_first(layout: Layout) -> list[Bus]:
    """The buses, each after the one that it branches from."""
    found: dict[str, Bus] = {}

    def place(bus: Bus) -> None:
        if bus.name not in found:
            if bus.parent:
                place(layout.buses[bus.parent])
            found[bus.name] = bus

    for bus in layout.buses.values():
        place(bus)
    return list(found.values())
