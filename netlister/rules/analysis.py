"""A layout with everything that rules ask of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import build, values_of
from netlister.circuit.change import without_blades
from netlister.circuit.districts import by_districts, districts
from netlister.circuit.numbers import Var
from netlister.circuit.paths import Paths
from netlister.layout.model import Value
from netlister.layout.schema import PROTECTING
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.poles.diodes import poles_of, without_diodes
from netlister.poles.reach import LIMIT, Has, Poles, sole_poles
from netlister.routes.settings import Reads, Settings
from netlister.routes.track import TrackGraph

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from netlister.circuit.model import Circuit, State, When
    from netlister.circuit.numbers import Net, Node, PoleNumber
    from netlister.finding import Positions
    from netlister.layout.model import Expectation, Joint, Layout, Piece, Supply
    from netlister.poles.diagram import Function, Literals
    from netlister.poles.moving import Moving
    from netlister.routes.settings import EndOf
    from netlister.rules.behind import PartsBehind
    from netlister.volts.drop import Survey


class PoleSignal(NamedTuple):
    """What the supplies of a pole put on it: command stations, programming outputs, the positive poles of dc."""

    stations: frozenset[str]
    programming: frozenset[str]
    positive: frozenset[str]

    @classmethod
    def of(cls, supplies: list[Supply]) -> PoleSignal:
        """Those of some supplies. A station that is not named is `main`."""
        return cls(
            frozenset(s.station or "main" for s in supplies if s.type == "dcc"),
            frozenset(s.name for s in supplies if s.programming),
            frozenset(s.positive for s in supplies if s.type == "dc"),
        )


class PartialState(dict[Var, Value]):
    """A state in which variables without an entry stand at their first position."""

    def __missing__(self, variable: Var) -> Value:
        """The first position, of a variable without an entry."""
        return Value(0)


@dataclass
class Analysis:
    """A layout with everything that rules ask of it, worked out when it is asked for.

    `amps`: the current to calculate with in A, in place of the trip current; `temperature` of wires and rails in degC.
    `named`: the rules selected by name.

    While `reads.now` is a set, what is asked for is noted there, so that a subject is judged again only where something
    that it read has changed. The keys: 4 x node for a node's net, 4 x net + 1 for a net's poles, 4 x net + 2 for a
    net's nodes, ("meant", piece) for what the designer says of a piece, and those of `Settings`.
    """

    circuit: Circuit
    limit: int = LIMIT
    named: frozenset[str] = frozenset()
    amps: float | None = None
    temperature: float = 20.0
    reads: Reads = field(default_factory=Reads, repr=False)
    alone_of: dict[Net, tuple[Function, Has]] = field(default_factory=dict, repr=False)
    _alone_by_district: dict[Net, Has] = field(default_factory=dict)

    @classmethod
    def of(cls, layout: Layout, limit: int = LIMIT, named: Iterable[str] = ()) -> Analysis:
        """The analysis of a layout."""
        return cls(build(layout), limit, frozenset(named))

    def anew(self, layout: Layout) -> Analysis:
        """The analysis of the layout after a change, from the start but with the same variables and diagrams."""
        circuit = build(layout, self.circuit.variables)
        diagrams = self.poles.diagrams
        diagrams.extend([len(v.positions) for v in circuit.variables[len(self.circuit.variables) :]])
        made = Analysis(circuit, self.limit, self.named, self.amps, self.temperature, self.reads)
        made.poles = poles_of(circuit, self.limit, diagrams)
        return made

    def renewed(self) -> Analysis:
        """The same layout analysed from the start, with diagrams of its own."""
        return Analysis(build(self.layout), self.limit, self.named, self.amps, self.temperature)

    @cached_property
    def survey(self) -> Survey:
        """The volts of the layout."""
        from netlister.volts.drop import Survey

        return Survey(self.circuit, self.amps, self.temperature)

    @cached_property
    def poles(self) -> Poles:
        """The poles of every net."""
        return poles_of(self.circuit, self.limit)

    @cached_property
    def districts(self) -> Poles | None:
        """The poles of every net where each district has poles of its own, or None without any district."""
        circuit = by_districts(self.layout, self.circuit.variables)
        return None if circuit is None else poles_of(circuit, self.limit, self.poles.diagrams)

    @cached_property
    def behind_detectors(self) -> PartsBehind | None:
        """What is behind each block detector, or None without any."""
        return self._behind({"detector"})

    @cached_property
    def behind_breakers(self) -> PartsBehind | None:
        """What is behind each breaker and fuse in a wire, or None without any."""
        return self._behind(PROTECTING)

    def _behind(self, kinds: Collection[str]) -> PartsBehind | None:
        from netlister.circuit.behind import behind
        from netlister.rules.behind import PartsBehind

        found = behind(self.circuit, kinds)
        if found is None:
            return None
        poles = poles_of(found.circuit, self.limit, self.poles.diagrams)
        return PartsBehind(poles, found.poles, found.ahead, lambda: self.settings)

    def alone_by_district(self, net: Net) -> Has:
        """Per pole by districts the states in which a net of `districts` has that pole and no other."""
        poles = self.districts
        assert poles is not None
        found = self._alone_by_district.get(net)
        if found is None:
            found = self._alone_by_district[net] = sole_poles(poles.diagrams, poles.has(net))
        return found

    @cached_property
    def district_supplies(self) -> dict[str, str]:
        """The supply of every district."""
        buses = self.layout.buses
        return {d: buses[n].supply if n in buses else n for n, d in districts(self.layout).items()}

    @cached_property
    def bladeless(self) -> Poles:
        """The poles of every net if the blades of turnouts made no contact."""
        circuit = without_blades(self.circuit)
        return poles_of(circuit, self.limit, self.poles.diagrams)

    @cached_property
    def diodeless(self) -> Poles:
        """The poles of every net if no diode conducted."""
        return Poles(without_diodes(self.circuit), self.limit, self.poles.diagrams)

    @cached_property
    def settings(self) -> Settings:
        """When each route and each end is set."""
        return Settings(self.poles, self.reads)

    @cached_property
    def track(self) -> TrackGraph:
        """The track as a train moves on it."""
        return TrackGraph(self.settings)

    @cached_property
    def moving(self) -> Moving:
        """Finds what is joined while something moves."""
        from netlister.poles.moving import Moving

        return Moving(self.poles)

    @cached_property
    def paths(self) -> Paths:
        """Finds conducting paths."""
        return Paths(self.circuit)

    @property
    def layout(self) -> Layout:
        """The layout."""
        return self.circuit.layout

    # -- what rules look at

    def piece(self, name: str) -> Piece:
        """The piece of a name."""
        return self.settings.piece(name)

    def joint(self, at: EndOf) -> Joint:
        """The joint at an end."""
        side = self.settings.side(*at)
        assert side is not None
        return side.joint

    def meant(self, piece: str) -> Function:
        """The states in which the designer means a piece to be dead."""
        if self.reads.now is not None:
            self.reads.now.add(("meant", piece))
        return self.meant_dead.get(piece, NEVER)

    def entries_of(self, piece: str) -> list[Expectation]:
        """The entries of `expect` that speak of a piece."""
        if self.reads.now is not None:
            self.reads.now.add(("meant", piece))
        return self.expected[piece]

    # -- poles of rails

    def has(self, net: Net) -> Has:
        """The poles of a net and when it has them; raises UnprovedError where its region was not solved."""
        if self.reads.now is not None:
            self.reads.now.add(4 * net + 1)
        return self.poles.has(net)

    def nodes_of(self, net: Net) -> list[Node]:
        """The nodes of a net."""
        if self.reads.now is not None:
            self.reads.now.add(4 * net + 2)
        return self.poles.nets.members[net]

    def net(self, terminal: str) -> Net:
        """The net of a terminal."""
        node = self.circuit.node[terminal]
        if self.reads.now is not None:
            self.reads.now.add(4 * node)
        return self.poles.nets.of[node]

    def alone(self, net: Net) -> tuple[Function, Has]:
        """The states in which a net has no pole, and per pole those in which it has that pole and no other."""
        if self.reads.now is not None:
            self.reads.now.add(4 * net + 1)
        found = self.alone_of.get(net)
        if found is None:
            has = self.poles.has(net)
            diagrams = self.poles.diagrams
            if not has:
                found = (ALWAYS, ())
            elif len(has) == 1:
                found = (diagrams.negate(has[0][1]), has)
            else:
                found = (diagrams.negate(diagrams.any_of([f for _, f in has])), sole_poles(diagrams, has))
            self.alone_of[net] = found
        return found

    def mappings(self, nets: set[Net]) -> list[dict[PoleNumber, PoleNumber]]:
        """Every way in which the devices that feed some nets may stand, as what each of their poles then counts as.

        `mappings` of nets without such devices is one empty mapping.
        """
        if not self.circuit.devices:
            return _PLAIN
        devices: dict[str, PoleNumber] = {}
        poles = self.circuit.poles
        for net in nets:
            for pole, _ in self.has(net):
                if pole >= len(poles):
                    devices[self.poles.units[pole - len(poles)].name] = pole
                elif poles[pole].device:
                    devices[poles[pole].device] = pole
        if not devices:
            return _PLAIN
        choices = []
        for device in self.circuit.devices:
            if device.name in devices:
                a, b = device.inputs
                if device.kind == "unit":
                    unit = devices[device.name]
                    choices.append(({unit: a}, {unit: b}))
                else:
                    left, right = device.outputs
                    choices.append(({left: a, right: b}, {left: b, right: a}))
        return [{k: v for part in choice for k, v in part.items()} for choice in product(*choices)]

    def owned(self, p: PoleNumber, q: PoleNumber) -> bool:
        """Whether p and q are the two poles of one supply that runs trains."""
        poles = self.circuit.poles
        if self.accessory:
            return p != q and bool((poles[p].supplies & poles[q].supplies) - self.accessory)
        return p != q and not poles[p].supplies.isdisjoint(poles[q].supplies)

    @cached_property
    def accessory(self) -> frozenset[str]:
        """The supplies that run no train."""
        return frozenset(s.name for s in self.layout.supplies.values() if s.accessory)

    def clash(self, p: PoleNumber, q: PoleNumber) -> bool:
        """Whether a wheel must not join p and q: different letters, or two supplies that are not in step.

        Not in step are supplies of different types, of two command stations, a programming output and any other, and
        two controllers of direct current whose positive poles are of other letters.
        """
        return p != q and (self.circuit.poles[p].letter != self.circuit.poles[q].letter or not self.in_step(p, q))

    def in_step(self, p: PoleNumber, q: PoleNumber) -> bool:
        """Whether the supplies of two poles carry one signal, so that poles of one letter may be joined by a wheel."""
        a, b = self.circuit.poles[p], self.circuit.poles[q]
        if a.types.isdisjoint(b.types):
            return False
        if a.supplies == b.supplies:
            return True
        one, other = self._signals[p], self._signals[q]
        return not (one.programming or other.programming) and not any(
            x and y and x.isdisjoint(y) for x, y in ((one.stations, other.stations), (one.positive, other.positive))
        )

    @cached_property
    def _signals(self) -> list[PoleSignal]:
        """Per pole what its supplies put on it."""
        return [PoleSignal.of([self.layout.supplies[s] for s in pole.supplies]) for pole in self.circuit.poles]

    @cached_property
    def switches(self) -> list[Var]:
        """The variables of hand switches."""
        return [Var(number) for number, variable in enumerate(self.circuit.variables) if variable.kind == "switch"]

    @cached_property
    def commons(self) -> frozenset[Node]:
        """The nodes that are commons of contacts."""
        return frozenset(self.circuit.commons)

    @cached_property
    def rails(self) -> frozenset[Node]:
        """The nodes that are rails."""
        return frozenset(self.circuit.rails)

    # -- what is meant

    @cached_property
    def meant_dead(self) -> dict[str, Function]:
        """Per piece the states in which the designer means it to be dead."""
        found: dict[str, Function] = {}
        diagrams = self.poles.diagrams
        for expectation in self.layout.expectations:
            if not expectation.live:
                when = diagrams.cube(values_of(self.circuit, expectation.when))
                for piece in expectation.pieces:
                    found[piece] = diagrams.either(found.get(piece, NEVER), when)
        return found

    @cached_property
    def expected(self) -> dict[str, list[Expectation]]:
        """Per piece the entries of `expect` that speak of it."""
        found: dict[str, list[Expectation]] = {}
        for expectation in self.layout.expectations:
            for name in expectation.pieces:
                found.setdefault(name, []).append(expectation)
        return found

    # -- states

    def state_in(self, function: Function) -> State:
        """A state that `never` leaves in which the function is true (there must be one)."""
        chosen = self.poles.diagrams.pick(self.poles.without_never(function))
        return tuple(chosen.get(v, Value(0)) for v in map(Var, range(len(self.circuit.variables))))

    def states_of(self, whens: Iterable[When]) -> Function:
        """The states that partial positions cover; what automatic devices choose for themselves is left out."""
        diagrams = self.poles.diagrams
        count = len(self.circuit.variables)
        return diagrams.any_of([diagrams.condition((v, x) for v, x in when if v < count) for when in whens])

    def cubes(self, function: Function) -> list[Literals]:
        """Partial positions that together cover the states in which a function is true, none to spare.

        States that `never` rules out may be covered or not; there is none where the function is true in these alone.
        The shortest come first, then by the names of variables and positions. Raises LimitError.
        """
        poles, diagrams = self.poles, self.poles.diagrams
        allowed = poles.allowed(function)
        lower = diagrams.both(function, allowed)
        diagrams.begin()
        found = diagrams.cover(lower, diagrams.either(function, diagrams.negate(allowed)))
        return sorted(found, key=lambda cube: (len(cube), self.positions(cube)))

    def positions(self, cube: Literals) -> Positions:
        """A partial position by its names."""
        variables = self.circuit.variables
        return tuple((variables[v].name, variables[v].positions[x]) for v, x in sorted(cube))

    def partly_in(self, function: Function) -> PartialState:
        """Such a state as of `state_in`; variables that do not matter stand at their first position."""
        return PartialState(self.poles.diagrams.pick(self.poles.without_never(function)))

    def always(self, function: Function) -> bool:
        """Whether a function is true in every state that `never` leaves."""
        diagrams = self.poles.diagrams
        return diagrams.without(self.poles.allowed(function), function) == NEVER


_PLAIN: list[dict[PoleNumber, PoleNumber]] = [{}]
