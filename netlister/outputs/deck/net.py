"""The resistors, sources and switches of a deck: the network of the volts in one state, or as a throw changes it."""

from __future__ import annotations

import math
from collections import defaultdict
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple, cast

from netlister.circuit.model import holds
from netlister.circuit.paths import Paths
from netlister.layout.model import Contact, Value
from netlister.layout.schema import BLOCKING
from netlister.layout.terminal import Terminal
from netlister.outputs.deck.ask import DeckError
from netlister.outputs.deck.timing import BLADES, BREAKS_FIRST, MAKES_FIRST, Signal, TimedSwitch, both_signals, signal
from netlister.union import find, join
from netlister.volts.network_build import build_network
from netlister.volts.operating import Operating, potentials

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.circuit.model import Circuit, State, When
    from netlister.layout.model import Supply
    from netlister.outputs.deck.ask import Ask, TrainPlace
    from netlister.outputs.deck.timing import Throw
    from netlister.volts.network import Element, RailSpot

GROUND = 0
LEAST = 1e-3
"""Resistance in ohm of a switch for which none is stated: a simulator's switch must have some."""


class Resistor(NamedTuple):
    """A resistance in ohm between two nodes; `signal` says when it is there, if it is a switch."""

    a: int
    b: int
    ohm: float
    what: str
    signal: Signal = Signal(True)


class VoltageSource(NamedTuple):
    """A voltage source of a supply in V. The current that flows out of `plus` is what the supply gives."""

    supply: str
    plus: int
    minus: int
    volts: float


class DeckTrain(NamedTuple):
    """A train between two nodes, drawing `amps` (negative: from b to a).

    `ohm`: as a resistance instead (None: as a current). `idle`: there is no voltage under its wheels.
    """

    place: TrainPlace
    a: int
    b: int
    amps: float
    ohm: float | None
    idle: bool


class DeckNet:
    """What a deck holds. Nodes are numbers; 0 is the simulator's ground.

    `node`: of every terminal that a probe may name. `floating`: nodes (one of each group) that nothing joins to ground,
    so that each needs a leak. `notes`: what was left out or assumed.
    """

    def __init__(self, circuit: Circuit, ask: Ask) -> None:
        self.circuit = circuit
        self.ask = ask
        self.layout = circuit.layout
        self.network = build_network(circuit, ask.temperature)
        self.state: State = (*ask.state, *(ask.devices or (Value(0),) * len(circuit.devices)))
        self.names = ["ground", *self.network.names]
        self.resistors: list[Resistor] = []
        self.diodes: list[tuple[int, int, str]] = []
        self.sources: list[VoltageSource] = []
        self.trains: list[DeckTrain] = []
        self.steps: list[DeckTrain] = []
        self.floating: list[int] = []
        self.notes: list[str] = []
        self._empty = Operating(self.network, self.state, high=ask.high)
        self._volts = self._empty.voltages()
        self._throws: dict[int, list[Throw]] = defaultdict(list)
        for throw in ask.throws:
            self._throws[throw.variable].append(throw)
        self._build()

    # -- building

    def _build(self) -> None:
        spots = {place: self._spots(place) for place in (*self.ask.trains, *self.ask.steps)}
        self._elements(self._splits(s for pair in spots.values() for s in pair))
        self._blades()
        self._loads()
        leaks = self._supplies()
        self.trains = [self._train(place, *spots[place]) for place in self.ask.trains]
        self.steps = [self._train(place, *spots[place]) for place in self.ask.steps]
        self._merge()
        self._ground(leaks)
        self._check()

    def _new(self, name: str) -> int:
        self.names.append(name)
        return len(self.names) - 1

    def _ohm(self, element: Element) -> float:
        return element.ohm.high if self.ask.high else element.ohm.low

    def _spots(self, place: TrainPlace) -> tuple[RailSpot, RailSpot]:
        return self.network.spots(place.piece, place.route, place.at)

    def _splits(self, spots: Iterable[RailSpot]) -> dict[tuple[int, int], set[float]]:
        """Per bit of rail the shares of it, from its first node, at which wheels stand."""
        rails = {(e.a, e.b) for e in self.network.elements if e.what == "rail"}
        found: dict[tuple[int, int], set[float]] = defaultdict(set)
        self._at: dict[tuple[int, int, float], int] = {}
        for spot in spots:
            if spot.i != spot.j and 0 < spot.share < 1:
                key = (spot.i, spot.j) if (spot.i, spot.j) in rails else (spot.j, spot.i)
                found[key].add(spot.share if key == (spot.i, spot.j) else 1 - spot.share)
        return found

    def _elements(self, splits: dict[tuple[int, int], set[float]]) -> None:
        """What conducts in the state; what a throw moves as switches, its blades apart."""
        poles = Paths(self.circuit).poles_of(self.ask.state)
        idle = {d.name for d in self.circuit.devices if d.kind == "unit" and poles[d.node]}
        for name in sorted(idle):
            self.notes.append(f"the frog unit {name} is left out: its frog has a pole without it")
        for e in self.network.elements:
            if e.what == "unit" and e.owner in idle:
                continue
            what = f"{e.what} {e.owner}".strip()
            if e.what == "rail" and (e.a, e.b) in splits:
                self._split(e, sorted(splits[e.a, e.b]), what)
            elif e.what == "component" and self.ask.diodes and self.layout.components[e.owner].kind == "diode":
                self._diode(e)
            elif not any(v in self._throws for v, _ in e.when):
                if holds(e.when, self.state):
                    self.resistors.append(Resistor(e.a + 1, e.b + 1, self._ohm(e), what))
            elif e.what != "blade":
                self._switch(e.a + 1, e.b + 1, self._ohm(e), what, self._signal(e))

    def _split(self, e: Element, shares: list[float], what: str) -> None:
        points = [(0.0, e.a + 1)]
        for share in shares:
            node = self._new(f"{e.owner} under wheels")
            self._at[e.a, e.b, share] = node
            points.append((share, node))
        points.append((1.0, e.b + 1))
        for (s, i), (t, j) in pairwise(points):
            self.resistors.append(Resistor(i, j, self._ohm(e) * (t - s), what))

    def _diode(self, e: Element) -> None:
        """A diode conducts from its `from` to its `to`, which are the nodes of its element in order."""
        start = e.a + 1
        if self._ohm(e):
            start = self._new(f"{e.owner} inside")
            self.resistors.append(Resistor(e.a + 1, start, self._ohm(e), f"component {e.owner}"))
        self.diodes.append((start, e.b + 1, e.owner))

    def _switch(self, a: int, b: int, ohm: float, what: str, when: Signal) -> None:
        if not when.constant:
            self.resistors.append(Resistor(a, b, max(ohm, LEAST), what, when))
        elif when.first:
            self.resistors.append(Resistor(a, b, ohm, what))

    def _signal(self, e: Element) -> Signal:
        """When something other than blades conducts."""
        shares = BREAKS_FIRST
        if e.what == "contact" and cast(Contact, e.entry).action == "make-before-break":
            shares = MAKES_FIRST
        output = self.network.names[e.a]  # each pole of a reverser may be out of step
        name = output if e.what == "reverser" and output in self.ask.timing.shifts else e.owner
        return self._of(e.when, TimedSwitch(name, shares))

    def _of(self, when: When, switch: TimedSwitch) -> Signal:
        found = []
        for variable, values in when:
            throws = self._throws.get(variable, [])
            found.append(signal(switch, values, self.state[variable], throws, self.ask.timing))
        return both_signals(found)

    def _blades(self) -> None:
        """The blades that a throw moves: each tie bar by itself."""
        circuit, layout = self.circuit, self.layout
        for piece in layout.pieces.values():
            bars = dict(zip([bar.name for bar in piece.kind.bars], piece.bars, strict=True))
            follows = {bar: layout.bars[full] for bar, full in bars.items()}
            if not any(circuit.variable[f.variable] in self._throws for f in follows.values()):
                continue
            moved = {circuit.variable[f.variable] for f in follows.values()} & self._throws.keys()
            band = self.network.values.part("blade")
            for made in piece.kind.made:
                if not any(circuit.variable[follows[bar].variable] in moved for bar, _ in made.when):
                    continue  # stands among the elements
                signals = []
                for bar, position in made.when:
                    f = follows[bar]
                    values = tuple(Value(i) for i, p in enumerate(f.positions) if p == position)
                    signals.append(self._of(((circuit.variable[f.variable], values),), TimedSwitch(bars[bar], BLADES)))
                a, b = (self.network.nodes[circuit.node[piece.terminal(rail)]] + 1 for rail in made.rails)
                ohm = band.high if self.ask.high else band.low
                self._switch(a, b, ohm, f"blade {piece.name}", both_signals(signals))

    def _loads(self) -> None:
        """Loads of the layout as resistances."""
        for component in self.layout.components.values():
            if component.kind not in BLOCKING:
                continue
            a, b = (
                self._written(*place) for place in zip(component.ends, component.buses, component.ends_at, strict=True)
            )
            volts = abs(float(self._volts[a] - self._volts[b]))
            ohm = component.resistance
            if not ohm and component.rating and volts > 0:
                ohm = volts / component.rating
            if ohm and not math.isnan(ohm):
                self.resistors.append(Resistor(a + 1, b + 1, ohm, f"load {component.name}"))
            else:
                self.notes.append(f"the load {component.name} draws nothing: no rating or resistance, or no voltage")

    def _written(self, terminal: str, bus: str, end: str) -> int:
        """The node of the network of a terminal: of a bus where it begins, of a rail at the end that is named."""
        if bus in self.layout.buses:
            return self._begin(bus, "AB"[self.layout.buses[bus].poles.index(terminal)])
        if end:
            piece, rail = Terminal.of(terminal)
            return self.network.rails[piece, rail].ends[end]
        return self.network.nodes[self.circuit.node[terminal]]

    def _begin(self, bus: str, letter: str) -> int:
        return self.network.taps[bus, letter, 0.0]

    # -- supplies and trains

    def _supplies(self) -> list[int]:
        """A source for each supply; the nodes of those that share no pole with the first, to be held by a leak."""
        leaks: list[int] = []
        held = potentials(self.network)
        group: dict[str, str] = {}
        for supply in self.layout.supplies.values():
            a, b = (self.network.names.index(pole) for pole in supply.poles)
            old = {group.get(pole, pole) for pole in supply.poles}
            group = {pole: supply.poles[0] if g in old else g for pole, g in group.items()}
            group.update(dict.fromkeys(supply.poles, supply.poles[0]))
            ohm = 0.0 if self.ask.ideal else supply.resistance
            self._supply(supply, a, b, ohm)
        for root in dict.fromkeys(group.values()):
            zero = next(p for p in group if group[p] == root and held[self.network.names.index(p)] == 0)
            node = self.network.names.index(zero) + 1
            if leaks:
                self.notes.append(f"{zero} has nothing in common with the first supply: no current between them")
            leaks.append(node)
        return leaks

    def _supply(self, supply: Supply, a: int, b: int, ohm: float) -> None:
        """A source with its resistance, on the pole that it shares with no other supply."""
        others = {pole for s in self.layout.supplies.values() if s.name != supply.name for pole in s.poles}
        plus, minus = a + 1, b + 1
        if ohm:
            inside = self._new(f"{supply.name} inside")
            if supply.poles[0] in others and supply.poles[1] not in others:
                self.resistors.append(Resistor(inside, minus, ohm, f"supply {supply.name}"))
                minus = inside
            else:
                self.resistors.append(Resistor(inside, plus, ohm, f"supply {supply.name}"))
                plus = inside
        self.sources.append(VoltageSource(supply.name, plus, minus, supply.voltage))

    def _train(self, place: TrainPlace, left: RailSpot, right: RailSpot) -> DeckTrain:
        a, b = (self._node(spot) for spot in (left, right))
        volts = self._empty.at(self._volts, left) - self._empty.at(self._volts, right)
        idle = math.isnan(volts) or abs(volts) < 1e-9  # noqa: PLR2004
        amps = 0.0 if idle else math.copysign(place.amps, volts)
        ohm = None
        if self.ask.moving and not idle and amps:
            ohm = abs(volts / amps)
        return DeckTrain(place, a, b, amps, ohm, idle)

    def _node(self, spot: RailSpot) -> int:
        if spot.i == spot.j or spot.share <= 0:
            return spot.i + 1
        if spot.share >= 1:
            return spot.j + 1
        found = self._at.get((spot.i, spot.j, spot.share))
        return self._at[spot.j, spot.i, 1 - spot.share] if found is None else found

    # -- nodes

    def _merge(self) -> None:
        """One node for all that resistors of nothing join."""
        self.head = list(range(len(self.names)))
        for r in self.resistors:
            if r.ohm == 0:
                join(self.head, r.a, r.b)
        self.resistors = [r for r in self.resistors if r.ohm]

    def _ground(self, references: list[int]) -> None:
        """The first supply's reference is ground; a leak where nothing else leads there."""
        join(self.head, references[0], GROUND)
        group = list(range(len(self.names)))
        for number in range(len(self.names)):
            join(group, number, self.root(number))
        edges = [(r.a, r.b) for r in self.resistors if r.signal.constant]
        edges += [(s.plus, s.minus) for s in self.sources]
        for a, b in edges:
            join(group, a, b)
        fed = {find(group, s.plus) for s in self.sources}
        self.dead = {n for n in range(len(self.names)) if find(group, n) not in fed}
        island = list(group)
        for a, b, _ in self.diodes:
            join(island, a, b)
        self._island = [find(island, n) for n in range(len(self.names))]
        for node in [*references[1:], *range(len(self.names))]:
            if find(group, node) != find(group, GROUND):
                self.floating.append(self.root(node))
                join(group, node, GROUND)

    def _check(self) -> None:
        """Nothing that no simulator can calculate."""
        loop = list(self.head)
        for s in self.sources:
            a, b = find(loop, s.plus), find(loop, s.minus)
            if a == b:
                message = (
                    f"in this state the poles of '{s.supply}' are joined and nothing limits the current; "
                    f"give it a 'resistance' in the layout, as in {s.supply}: {{…, resistance: 50 mohm}}"
                )
                raise DeckError(message)
            join(loop, a, b)
        for train in (*self.trains, *self.steps):
            p = train.place
            option = "--train" if train in self.trains else "--move"
            if not train.idle and not self.ask.moving and self._island[train.a] != self._island[train.b]:
                message = (
                    f"the rails under '{p.train}' at '{p.piece}' are fed by supplies that have nothing in common, so "
                    "no current flows; name another place"
                )
                raise DeckError(message, option)
            if train.idle and option == "--train":
                message = (
                    f"there is no voltage under the wheels of '{p.train}' at '{p.piece}' in this state; "
                    "name another place, or the positions with --set"
                )
                raise DeckError(message, "--train")

    def root(self, node: int) -> int:
        """The one node of all that are joined to a node without resistance."""
        return find(self.head, node)

    def is_dead(self, node: int) -> bool:
        """Whether no supply leads to a node, as long as nothing moves."""
        return not self.ask.moving and node in self.dead

    def probed(self, terminal: str) -> int:
        """The node of a terminal: a rail, a pole, a contact's terminal, a junction, an end of a piece."""
        from netlister.source import suggest

        first, rest = Terminal.of(terminal)
        end, side = Terminal.of(rest)
        piece = self.layout.pieces.get(first)
        if piece is not None and end in piece.kind.ends and side in {"left", "right"}:
            rail = getattr(piece.kind.ends[end], side)
            return self.network.rails[first, rail].ends[end] + 1
        bus = self.layout.buses.get(first)
        if bus is not None and rest in {"A", "B"}:
            return self._begin(first, rest) + 1
        if terminal in self.circuit.node:
            return self.network.nodes[self.circuit.node[terminal]] + 1
        message = f"there is no terminal '{terminal}'{suggest(terminal, list(self.circuit.node))}"
        raise DeckError(message, "--probe")
