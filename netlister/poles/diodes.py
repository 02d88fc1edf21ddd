"""Poles where diodes face each other: current comes through a diode one way only.

A rail has a pole through diodes where all of them on the way conduct one way, from the pole or towards it, so that
current can come from there, or go there. Two poles are joined through diodes where the way from one to the other is
such a way. Of a `dcc` supply, and of a controller whose direction can be set, each pole is the positive one at times;
of a supply of direct current for accessories only one ever is, and a diode that faces it joins nothing. What a frog
unit gives its frog goes on through diodes as a pole does, where no pole comes.

The nets here end at the diodes. What conducts both ways is solved as ever; then what comes through diodes is added, in
the parts around them alone.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from itertools import permutations
from typing import TYPE_CHECKING

from netlister.circuit.numbers import Net, PoleNumber
from netlister.circuit.paths import drives
from netlister.poles.diagram import ALWAYS, NEVER, Diagrams, LimitError
from netlister.poles.flow import flow
from netlister.poles.nets import Edge, edges
from netlister.poles.reach import LIMIT, NOWHERE, Poles, Short, UnprovedError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit
    from netlister.layout.model import Layout
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Has, MeetingPlace, Region

PLACE: MeetingPlace = ("diodes", NOWHERE, NOWHERE)
"""Where poles meet through diodes."""


def matter(layout: Layout) -> bool:
    """Whether the way that diodes conduct can decide anything: one alone faces no other."""
    count = sum(c.kind == "diode" for c in layout.components.values())
    return count > 1 or (count == 1 and any(s.accessory and s.type == "dc" for s in layout.supplies.values()))


def poles_of(circuit: Circuit, limit: int = LIMIT, diagrams: Diagrams | None = None) -> Poles:
    """The poles of a circuit, with diodes that conduct one way where that can decide anything."""
    return DiodePoles(circuit, limit, diagrams) if matter(circuit.layout) else Poles(circuit, limit, diagrams)


def without_diodes(circuit: Circuit) -> Circuit:
    """The circuit with every diode taken out."""
    diodes = circuit.diodes
    made = replace(circuit)
    made.conductors = [c for c in circuit.conductors if c.what != "component" or c.owner not in diodes]
    return made


class DiodePoles(Poles):
    """The poles of every net, where current comes through a diode from its `from` to its `to` alone.

    `circuit` and `nets` are those without diodes. `part`: the nets that diodes can matter to, all those connected to
    one; elsewhere the answers are those of `Poles`. After a change all of it is made anew.
    """

    def __init__(self, circuit: Circuit, limit: int = LIMIT, diagrams: Diagrams | None = None) -> None:
        super().__init__(without_diodes(circuit), limit, diagrams)
        self._whole = circuit
        self.diodes = [c for c in circuit.conductors if c.what == "component" and c.owner in circuit.diodes]
        self.part: set[Net] = set()
        self._into: dict[Net, dict[PoleNumber, Function]] = {}  # net -> pole -> when current can come from it
        self._from: dict[Net, dict[PoleNumber, Function]] = {}  # net -> pole -> when current can go to it
        self._unit_has: dict[Net, dict[PoleNumber, Function]] = {}  # net -> frog unit -> when it reaches the net
        self._proved = True
        self._pass_diodes()

    @property
    def whole(self) -> Circuit:
        """The circuit with its diodes, to look for paths in."""
        return self._whole

    # -- what comes through diodes

    def _pass_diodes(self) -> None:
        """Solve the parts around diodes twice: with the current as diodes conduct, and against it."""
        of, count, diagrams = self.nets.of, self.count, self.diagrams
        sometimes = self.sometimes
        self.part = self.connected_to({of[end] for d in self.diodes for end in (d.a, d.b)}, over_hubs=True)
        links: dict[Net, dict[Net, Function]] = {net: {} for net in (*map(Net, range(count)), *self.part)}
        diagrams.begin()
        try:
            for a, b, conductor in sometimes:
                when = self.condition(conductor.when)
                for one, other in ((a, b), (b, a)):
                    if other >= count and other in links and one in links:
                        links[one][other] = diagrams.either(links[one].get(other, NEVER), when)
            own = {net: dict(self._both_ways(net)) for net in links}
            ways: list[tuple[dict[Net, dict[Net, Function]], dict[Net, dict[PoleNumber, Function]]]] = []
            self._unit_has = {net: {} for net in links}
            for backward, found in ((False, self._into), (True, self._from)):
                directed = {net: dict(to) for net, to in links.items()}
                for diode in self.diodes:
                    a, b = (of[diode.b], of[diode.a]) if backward else (of[diode.a], of[diode.b])
                    if b >= count and a != b:
                        directed[a][b] = ALWAYS
                found.update({net: dict(has) for net, has in own.items()})
                flow(diagrams, directed, found)
                ways.append((directed, found))
            alone = {net: self._units_at(net) for net in links}
            for directed, _ in ways:
                reach = {net: dict(has) for net, has in alone.items()}
                flow(diagrams, directed, reach)
                for net, has in reach.items():
                    for unit, f in has.items():
                        self._unit_has[net][unit] = diagrams.either(self._unit_has[net].get(unit, NEVER), f)
        except (LimitError, UnprovedError):
            self._proved = False

    def _real_poles(self, net: Net) -> dict[PoleNumber, Function]:
        """The poles from which current can come to a net, or to which it can go, and when."""
        found: dict[PoleNumber, Function] = {}
        for way in (self._into[net], self._from[net]):
            for pole, f in way.items():
                found[pole] = self.diagrams.either(found.get(pole, NEVER), f)
        return found

    def _units_at(self, net: Net) -> dict[PoleNumber, Function]:
        """The frog units wired to a net, and when: while no pole reaches it."""
        units = self._unit_nets.get(net, ())
        if not units:
            return {}
        fed = self.diagrams.any_of(list(self._real_poles(net).values()))
        return dict.fromkeys(units, self.diagrams.without(ALWAYS, fed))

    def _both_ways(self, net: Net) -> Iterator[tuple[PoleNumber, Function]]:
        """The poles that a net has without any diode, and when; frog units left out."""
        if net < self.count:
            yield PoleNumber(net), ALWAYS
        else:
            yield from ((p, f) for p, f in super().has(net) if p < self.count)

    @cached_property
    def sometimes(self) -> list[Edge]:
        """What conducts sometimes, between different nets."""
        return edges(self.circuit, self.nets)

    @cached_property
    def near(self) -> dict[Net, set[Net]]:
        """The nets and poles that each net is joined to sometimes, or through a diode."""
        near: dict[Net, set[Net]] = {}
        of = self.nets.of
        for a, b in [(a, b) for a, b, _ in self.sometimes] + [(of[d.a], of[d.b]) for d in self.diodes]:
            near.setdefault(a, set()).add(b)
            near.setdefault(b, set()).add(a)
        return near

    def connected_to(self, nets: set[Net], *, over_hubs: bool) -> set[Net]:
        """The nets connected to some, not over a pole, nor over a net that is always fed if so wished."""
        fed = self.nets.fed
        waiting = [net for net in nets if net >= self.count]
        found = set(waiting)
        while waiting:
            here = waiting.pop()
            if fed[here] and not over_hubs:
                continue
            for other in self.near.get(here, ()):
                if other >= self.count and other not in found:
                    found.add(other)
                    waiting.append(other)
        return found

    # -- answers

    def has(self, net: Net) -> Has:
        """The poles of a net and when it has them; raises UnprovedError where that was not found within the limit."""
        plain = super().has(net)
        if net not in self.part:
            return plain
        if not self._proved:
            raise UnprovedError
        diagrams = self.diagrams
        found = self._real_poles(net)
        real = diagrams.any_of(list(found.values()))
        found.update({unit: diagrams.without(f, real) for unit, f in self._unit_has[net].items()})
        return tuple(sorted((p, f) for p, f in found.items() if f != NEVER))

    def drives(self, one: Net, other: Net, pole: PoleNumber, second: PoleNumber) -> Function:
        """When current can come from one pole, over two nets that a load joins, to a second pole."""
        if not drives(self.circuit, pole, second):
            return NEVER
        return self.diagrams.both(
            self._way(self._into, one).get(pole, NEVER), self._way(self._from, other).get(second, NEVER)
        )

    def ways(self, net: Net) -> tuple[dict[PoleNumber, Function], dict[PoleNumber, Function]]:
        """The poles from which current can come to a net, and those to which it can go, and when."""
        return self._way(self._into, net), self._way(self._from, net)

    def _way(self, way: dict[Net, dict[PoleNumber, Function]], net: Net) -> dict[PoleNumber, Function]:
        if net not in self.part:
            return dict(self._both_ways(net))
        if not self._proved:
            raise UnprovedError
        return way[net]

    # -- shorts

    def places(self) -> Iterator[MeetingPlace]:
        """Every place where poles may meet, or of which it is not known."""
        yield from super().places()
        if self.part or self.diodes:
            yield PLACE

    def is_place(self, place: MeetingPlace) -> bool:
        """Whether `places` yields a place."""
        return place == PLACE or super().is_place(place)

    def unsolved(self, place: MeetingPlace) -> list[Region]:
        """The region of a place, where it could not be solved."""
        return [] if place == PLACE else super().unsolved(place)

    def around(self, short: Short) -> set[Net] | None:
        """The nets of a place and the hubs around it, or None where diodes are beside it."""
        return None if not self.part.isdisjoint(short.nets) else super().around(short)

    def shorts_at(self, place: MeetingPlace) -> list[Short]:
        """Which poles are joined at a place, and when."""
        if place != PLACE:
            return super().shorts_at(place)
        if not self._proved:
            raise UnprovedError
        diagrams, of = self.diagrams, self.nets.of
        joined: dict[tuple[PoleNumber, PoleNumber], tuple[Function, list[Net]]] = {}
        for net in sorted(self.part):
            plain = dict(self._both_ways(net))
            into, out = self._into[net], self._from[net]
            for p, q in permutations(sorted({*into, *out}), 2):
                if not drives(self.circuit, p, q):
                    continue
                f = diagrams.both(into.get(p, NEVER), out.get(q, NEVER))
                f = diagrams.without(f, diagrams.both(plain.get(p, NEVER), plain.get(q, NEVER)))
                if f != NEVER:
                    pair = (min(p, q), max(p, q))
                    before, nets = joined.get(pair, (NEVER, []))
                    joined[pair] = diagrams.either(before, f), [*nets, *([] if net in nets[-1:] else [net])]
        found = [Short(pair, f, tuple(nets)) for pair, (f, nets) in sorted(joined.items())]
        for diode in self.diodes:
            if diode.a < self.count and diode.b < self.count and diode.a != diode.b:
                p, q = PoleNumber(of[diode.a]), PoleNumber(of[diode.b])
                if drives(self.circuit, p, q):
                    found.append(Short((min(p, q), max(p, q)), ALWAYS, (), (diode,)))
        return found
