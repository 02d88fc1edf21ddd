"""Volts and amps by plain means, written from the format alone: a list of resistors for one state, solved whole.

The track is read by the plain enumeration of `tests/properties/reference.py`; here every place of interest becomes a
node of its own, so nothing is known of quadratics, regions or states that matter.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np

from netlister import quantity as q
from tests.properties.reference import Layout

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.properties.reference import Data, State

Resistor = tuple[str, str, float]
DEFAULT = {"joiner": 0.005, "contact": 0.02, "blade": 1.0}


class Resistors:
    """The resistors of a layout. `splits`: further places in m along rail-sections, by piece."""

    def __init__(self, data: Data, splits: dict[str, set[float]] | None = None) -> None:
        self.data = data
        self.layout = Layout(data)
        self.splits = splits or {}
        self.rail = q.parse(data["rail"], q.PER_LENGTH)

    def part(self, name: str) -> float:
        """A joiner, contact or blade."""
        return q.parse(self.data[name], q.RESISTANCE) if name in self.data else DEFAULT[name]

    def length(self, piece: str) -> float:
        """The length of a piece."""
        values = self.layout.pieces[piece]
        if "radius" in values:
            return q.parse(values["radius"], q.LENGTH) * q.parse(values["angle"], q.ANGLE)
        return q.parse(values["length"], q.LENGTH) if "length" in values else 0.0

    def places(self, piece: str) -> list[float]:
        """The places of a rail-section that are nodes."""
        found = {0.0, self.length(piece)} | self.splits.get(piece, set())
        for feed in self.layout.entries("feeds"):
            targets = feed["to"] if isinstance(feed["to"], list) else [feed["to"]]
            found |= {self.fed_at(feed, t) for t in targets if t.split(".")[0] == piece}
        return sorted(found)

    def fed_at(self, feed: Data, target: str) -> float:
        """Where along a piece a feed is."""
        piece, _, end = target.partition(".")
        if "at" in feed and self.length(piece):
            return q.parse(feed["at"], q.LENGTH)
        return self.length(piece) if end == "b" else 0.0

    def rail_node(self, terminal: str, place: float = 0.0) -> str:
        """The node of a rail of a rail-section at a place."""
        return terminal if place == 0 else f"{terminal}@{place:.9f}"

    def end_node(self, terminal: str, end: str) -> str:
        """The node of a rail at an end of its piece."""
        piece = terminal.split(".", maxsplit=1)[0]
        if self.layout.is_section(piece):
            return self.rail_node(terminal, self.length(piece) if end == "b" else 0.0)
        return f"{terminal}#{end}" if self.length(piece) else terminal

    def inside(self) -> Iterator[Resistor]:
        """The rails of all pieces."""
        for piece, kind in self.layout.kinds.items():
            for rail in kind.rails:
                terminal = f"{piece}.{rail}"
                if self.layout.is_section(piece):
                    for a, b in itertools.pairwise(self.places(piece)):
                        yield self.rail_node(terminal, a), self.rail_node(terminal, b), self.rail * (b - a)
                elif self.length(piece):
                    for end, rails in kind.ends.items():
                        if rail in rails:
                            yield terminal, f"{terminal}#{end}", self.rail * self.length(piece) / 2

    def joiners(self) -> Iterator[Resistor]:
        """Metal joiners."""
        for joint in self.layout.joints:
            for a, b in joint.metal:
                yield self.end_node(a, joint.ends[0][1]), self.end_node(b, joint.ends[1][1]), self.part("joiner")

    def wire(self, values: Data) -> float:
        """A wire of a length; only resistances per metre and gauge numbers are used here."""
        if "length" not in values:
            return 0.0
        return q.parse_wire(values["wire"]).ohm_per_m * q.parse(values["length"], q.LENGTH)

    def bus_of(self, values: Data) -> str:
        """The bus of a reverser or frog unit; the only one where none is named."""
        return str(values.get("from", next(iter(self.data.get("buses") or self.layout.supplies))))

    def bus_node(self, bus: str, letter: str, place: float) -> str:
        """The node of a bus at a place from its beginning."""
        buses = self.data.get("buses") or {}
        values = buses.get(bus)
        if values is None:
            return self.layout.pole(bus, letter)
        whole = q.parse(values["length"], q.LENGTH) if "length" in values else 0.0
        if place == 0 or not whole or (values.get("form") == "ring" and place == whole):
            if "from" in values:
                return self.bus_node(values["from"], letter, q.parse(values.get("at", "0 m"), q.LENGTH))
            return self.layout.pole(self.layout.supply_of(bus), letter)
        return f"{bus}!{letter}@{place:.9f}"

    def buses(self) -> Iterator[Resistor]:
        """The wires of the buses between the places that are tapped."""
        buses = self.data.get("buses") or {}
        default = next(iter(buses), "")
        for name, values in buses.items():
            if "length" not in values:
                continue
            whole = q.parse(values["length"], q.LENGTH)
            places = {0.0} | ({whole} if values.get("form") == "ring" else set())
            for feed in self.layout.entries("feeds"):
                if feed.get("from", default) == name and "tap" in feed:
                    places.add(q.parse(feed["tap"], q.LENGTH))
            for other in buses.values():
                if other.get("from") == name:
                    places.add(q.parse(other.get("at", "0 m"), q.LENGTH))
            per_metre = q.parse_wire(values["wire"]).ohm_per_m
            for letter in "AB":
                for a, b in itertools.pairwise(sorted(places)):
                    yield self.bus_node(name, letter, a), self.bus_node(name, letter, b), per_metre * (b - a)

    def feeds(self) -> Iterator[Resistor]:
        """The wires of the feeds."""
        buses = list(self.data.get("buses") or self.layout.supplies)
        for feed in self.layout.entries("feeds"):
            source = feed.get("from", buses[0])
            targets = feed["to"] if isinstance(feed["to"], list) else [feed["to"]]
            rails = {letter: feed[letter] for letter in "AB" if letter in feed} or {"A": "left", "B": "right"}
            for target, (letter, rail) in itertools.product(targets, rails.items()):
                if source in self.layout.reversers:
                    start = f"{source}.{letter}"
                else:
                    start = self.bus_node(source, letter, q.parse(feed.get("tap", "0 m"), q.LENGTH))
                terminal = self.layout.fed_rail(target, rail)
                piece = terminal.split(".")[0]
                at = self.fed_at(feed, target)
                node = self.rail_node(terminal, at) if self.layout.is_section(piece) else terminal
                yield start, node, self.wire(feed)

    def contacts(self, state: State) -> Iterator[Resistor]:
        """Everything that moves, and the leads of contacts."""
        layout = self.layout
        for piece, kind in layout.kinds.items():
            for one, other in kind.bonds:
                yield f"{piece}.{one}", f"{piece}.{other}", 0.0
            for bar, position, one, other in kind.made:
                name = f"{piece}.{bar}" if bar else piece
                if layout.position(name, state) == position:
                    yield f"{piece}.{one}", f"{piece}.{other}", self.part("blade")
        for name, (owner, contact) in layout.contacts.items():
            yield f"{name}.common", self.written(contact["common"]), 0.0
            for position in layout.positions(owner):
                if position in contact:
                    yield f"{name}.{position}", self.written(contact[position]), 0.0
                if layout.position(owner, state) == position:
                    yield f"{name}.common", f"{name}.{position}", self.part("contact")
        for name, one in layout.reversers.items():
            if "follows" in one:
                straight = layout.position(one["follows"], state) in one["straight"]
                for letter, opposite in (("A", "B"), ("B", "A")):
                    pole = self.bus_node(self.bus_of(one), letter if straight else opposite, 0.0)
                    yield f"{name}.{letter}", pole, self.part("contact")
        for name, plug in layout.plugs.items():
            for one, other in (plug.get("pins") or {}).values():
                if name not in layout.variables or layout.position(name, state) == "in":
                    yield self.written(one), self.written(other), 0.0

    def written(self, name: str) -> str:
        """The node of a terminal as written: a bus where it begins, a rail at the end that is named."""
        head, _, tail = name.partition(".")
        if tail in ("A", "B") and head in (self.data.get("buses") or {}):
            return self.bus_node(head, tail, 0.0)
        terminal = self.layout.terminal(name)
        end, dot, _ = tail.partition(".")
        of_contact = name.rpartition(".")[0] in self.layout.contacts  # a lever's own terminal begins as its piece does
        return self.end_node(terminal, end) if dot and head in self.layout.pieces and not of_contact else terminal

    def wiring(self) -> Iterator[Resistor]:
        """Wires and components."""
        for one in self.layout.entries("wires"):
            yield self.written(one["from"]), self.written(one["to"]), self.wire(one)
        for one in self.layout.section("components").values():
            ohm = q.parse(one["resistance"], q.RESISTANCE) if "resistance" in one else 0.0
            yield self.written(one["from"]), self.written(one["to"]), ohm

    def of(self, state: State, setting: dict[str, str]) -> list[Resistor]:
        """All resistors in a state; `setting`: of automatic devices, `A` straight (or pole A), `B` the other way."""
        found = [
            *self.inside(), *self.joiners(), *self.buses(), *self.feeds(), *self.wiring(), *self.contacts(state),
        ]  # fmt: skip
        for name, one in self.layout.reversers.items():
            if one.get("mode") == "automatic":
                for letter in "AB":
                    source = letter if setting[name] == "A" else "BA"["AB".index(letter)]
                    pole = self.bus_node(self.bus_of(one), source, 0.0)
                    found.append((f"{name}.{letter}", pole, self.part("contact")))
        bare = Solved(found, self.real_poles)
        for name, one in self.layout.units.items():
            frog = self.layout.terminal(one["feeds"])
            if not bare.poles(frog):
                pole = self.bus_node(self.bus_of(one), setting[name], 0.0)
                found.append((frog, pole, self.part("contact")))
        return found

    @property
    def real_poles(self) -> list[str]:
        """The poles of the supplies."""
        return sorted({self.layout.pole(supply, letter) for supply in self.layout.supplies for letter in "AB"})

    @property
    def devices(self) -> list[str]:
        """Automatic devices."""
        automatic = [n for n, one in self.layout.reversers.items() if one.get("mode") == "automatic"]
        return [*automatic, *self.layout.units]


class Solved:
    """Resistors tied to ideal poles, solved as one dense matrix."""

    def __init__(self, resistors: list[Resistor], poles: list[str]) -> None:
        self.graph: nx.Graph[str] = nx.Graph()
        self.graph.add_nodes_from(poles)
        merged: nx.Graph[str] = nx.Graph()
        merged.add_nodes_from([*poles, *(n for a, b, _ in resistors for n in (a, b))])
        merged.add_edges_from((a, b) for a, b, ohm in resistors if ohm == 0)
        self.head = {}
        self.held: dict[str, set[str]] = {}
        for group in nx.connected_components(merged):
            name = min(group)
            self.held[name] = group & set(poles)
            self.head.update(dict.fromkeys(group, name))
        self.free = nx.Graph()
        self.free.add_nodes_from(n for n, held in self.held.items() if not held)
        self.touch: dict[str, set[str]] = {}
        edges = [(self.head[a], self.head[b], 1 / ohm) for a, b, ohm in resistors if ohm]
        for a, b, _ in edges:
            if self.held[a] or self.held[b]:
                for here, there in ((a, b), (b, a)):
                    self.touch.setdefault(here, set()).update(self.held[there])
            else:
                self.free.add_edge(a, b)
        self._poles = {n: set(held) for n, held in self.held.items() if held}
        for group in nx.connected_components(self.free):
            found = set().union(*(self.touch.get(n, set()) for n in group))
            self._poles.update(dict.fromkeys(group, found))
        nodes = [n for n in self.free if self._poles[n]]
        self.at = {n: i for i, n in enumerate(nodes)}
        matrix = np.zeros((len(nodes), len(nodes)))
        for a, b, g in edges:
            if a == b:
                continue
            i, j = self.at.get(a, -1), self.at.get(b, -1)
            for k in (i, j):
                if k >= 0:
                    matrix[k, k] += g
            if i >= 0 and j >= 0:
                matrix[i, j] -= g
                matrix[j, i] -= g
        self.inverse = np.linalg.inv(matrix) if nodes else matrix

    def poles(self, node: str) -> set[str]:
        """The poles that a node is joined to."""
        return self._poles.get(self.head.get(node, node), set())

    def loop(self, left: str, right: str) -> float:
        """The resistance that a load between two nodes sees, every pole held."""
        found = 0.0
        ends = [(self.at.get(self.head[n], -1), s) for n, s in ((left, 1), (right, -1))]
        for (i, s), (j, t) in itertools.product(ends, ends):
            if i >= 0 and j >= 0:
                found += s * t * self.inverse[i, j]
        return float(found)
