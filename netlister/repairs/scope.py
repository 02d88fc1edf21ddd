"""What one broken rule looks at: the entries on its paths, the pieces that want a pole, the nodes around."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, runtime_checkable

from netlister.circuit.model import holds
from netlister.circuit.paths import Paths
from netlister.edits.model import AddFeed
from netlister.layout.terminal import named, owner_of
from netlister.poles.reach import Short, UnprovedError
from netlister.repairs.choices.common import MOST_PARTNERS
from netlister.rules import (
    diode_turned,
    districts_crossed,
    districts_joined,
    expectation,
    floating_net,
    gap_clash,
    pole_short,
    reverser_one_rail,
    unit_torn,
)
from netlister.rules.electric import route_dead

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from netlister.circuit.model import Circuit, Conductor, State
    from netlister.circuit.numbers import Node, Var
    from netlister.circuit.paths import PathStep
    from netlister.edits.model import EntryPlace
    from netlister.layout.model import Joint, Layout, Value
    from netlister.repairs.choices import Choices
    from netlister.repairs.model import Choice
    from netlister.rules.analysis import Analysis
    from netlister.rules.model import Broken

MOST_NODES = 400
"""Nodes of a connected component without a pole that are looked at."""

SECTION = {
    "bond": "pieces",
    "blade": "pieces",
    "joiner": "joints",
    "feed": "feeds",
    "wire": "links",
    "component": "components",
    "plug": "pins",
    "contact": "contacts",
    "lead": "contacts",
    "reverser": "reversers",
}

ConductorName = tuple[str, str, str]
"""The two terminals that a conductor joins, in order of names, and what it is."""


def conductor_name(conductor: Conductor, circuit: Circuit) -> ConductorName:
    """A conductor by the names at its ends."""
    a, b = sorted((circuit.names[conductor.a], circuit.names[conductor.b]))
    return a, b, conductor.what


class ConductorPlaces:
    """From conductors to the entries that they are of. `layout`: the one that the choices are written against."""

    def __init__(self, layout: Layout, choices: Choices) -> None:
        self.choices = choices
        self.place: dict[int, EntryPlace] = {}
        for section in ("joints", "feeds", "contacts", "pins", "links"):
            for number, entry in enumerate(getattr(layout, section)):
                self.place[id(entry)] = (section, number)

    def of(self, conductor: Conductor, circuit: Circuit) -> Iterable[EntryPlace]:
        """The entries that a conductor is of: one, or those at its ends where it is told otherwise."""
        section = SECTION[conductor.what]
        if conductor.entry is None:
            return ((section, conductor.owner),)
        known = self.place.get(id(conductor.entry))
        if known is not None:
            return (known,)
        names = (circuit.names[conductor.a], circuit.names[conductor.b])
        return [place for name in names for place in self.choices.at.get(name, ()) if place[0] == section]


@runtime_checkable
class _OfParts(Protocol):
    """What breaks a rule, told by the pieces where it does."""

    @property
    def parts(self) -> tuple[str, ...]: ...


@runtime_checkable
class _OfJoint(Protocol):
    """What breaks a rule, told by the joint where it does."""

    @property
    def joint(self) -> Joint: ...


class BreachScope:
    """What one broken rule looks at: places of the layout, and pieces that want a pole."""

    def __init__(self, analysis: Analysis, choices: Choices, entries: ConductorPlaces, broken: Broken) -> None:
        self.analysis = analysis
        self.choices = choices
        self.entries = entries
        self.places: dict[EntryPlace, None] = {}
        self.hungry: dict[str, None] = {}
        self.flooded: set[Node] = set()
        self.path: set[ConductorName] = set()
        self.gaps: set[str] = set()
        self.exact = True
        self.loose = False  # whether what was flooded may be parted in every state there is
        self.state: Mapping[Var, Value] = analysis.partly_in(broken.function)
        try:
            self._look(broken)
        except UnprovedError:
            self._around(broken)

    def _look(self, broken: Broken) -> None:
        match broken.about:
            case pole_short.SharedPole():
                self.exact = False  # inside the supplies: no wire of the layout parts it
            case Short() as short:
                nets = self.analysis.poles.around(short)
                a, b = short.poles
                within = None if nets is None else frozenset(self.analysis.poles.nodes_of(nets))
                paths = self.analysis.paths
                self._path(paths.find(b, a, self.state, within) or paths.find(b, a, self.state))
            case districts_joined.JoinedDistricts(shorts):
                self._districts(shorts, self.analysis.state_in(broken.function))
            case districts_crossed.About() as crossed:
                self._around(broken)
                self._crossed(crossed, self.analysis.state_in(broken.function))
            case reverser_one_rail.About(halves=halves):
                self._around(broken)
                for half in halves[:MOST_PARTNERS]:
                    for rail in (half.inside, half.outside):
                        self._supplied(self.analysis.circuit.node[rail])
            case floating_net.Floating(nodes):
                for node in nodes:
                    self._flood(node, always=False)
            case expectation.About(entry=entry):
                self._piece(broken.subject, live=not entry.live)
                self.places.update(dict.fromkeys(self.choices.at.get(broken.subject, ())))
            case gap_clash.About() as clash:
                self._clash(clash)
            case diode_turned.About(diodes=diodes):
                self.exact = False
                self.places.update(dict.fromkeys(("components", diode.name) for diode in diodes))
            case unit_torn.About() as torn:
                self._torn(torn)
            case _ if broken.rule == "dead-track":
                self._piece(broken.subject)
            case _:
                self._around(broken)

    # -- paths

    def _path(self, steps: Iterable[PathStep], circuit: Circuit | None = None) -> None:
        for _, conductor in steps:
            if conductor is not None:
                self._conductor(conductor, circuit or self.analysis.circuit)
                self.path.add(conductor_name(conductor, circuit or self.analysis.circuit))

    def _conductor(self, conductor: Conductor, circuit: Circuit) -> None:
        self.places.update(dict.fromkeys(self.entries.of(conductor, circuit)))

    def bears(self, chosen: Choice, effect: tuple[frozenset[ConductorName], frozenset[ConductorName]] | None) -> bool:
        """Whether a choice parts one of the paths, or joins something to what wants a pole."""
        if effect is None or not self.exact:
            return True
        gone, came = effect
        if not gone.isdisjoint(self.path):
            return True
        if any(section == "expectations" for change in chosen.edit for section, _ in change.places()):
            return True
        node, poles = self.analysis.circuit.node, len(self.analysis.circuit.poles)
        for a, b, _ in came:
            inside = [node.get(name, poles) in self.flooded for name in (a, b)]
            if inside[0] != inside[1] or (self.loose and inside[0]) or (a in self.gaps and b in self.gaps):
                return True
        return False

    def _districts(self, shorts: tuple[Short, ...], state: State) -> None:
        self.exact = False
        poles = self.analysis.districts
        assert poles is not None
        diagrams = poles.diagrams
        paths = Paths(poles.whole)
        for short in shorts:
            if diagrams.value(short.function, state):
                self._path(paths.find(short.poles[0], short.poles[1], state), poles.whole)
                return

    def _crossed(self, crossed: districts_crossed.About, state: State) -> None:
        """The paths from the two rails to their districts, over units too."""
        poles = self.analysis.districts
        assert poles is not None
        diagrams, circuit = poles.diagrams, poles.whole
        paths = Paths(circuit)
        for left, right, p, q, function in crossed.pairs:
            if diagrams.value(function, state):
                for rail, pole in ((left, p), (right, q)):
                    if pole >= poles.count:
                        self.places["units", poles.units[pole - poles.count].name] = None
                    elif circuit.poles[pole].device:
                        self.places["reversers", circuit.poles[pole].device] = None
                    self._path(paths.find(circuit.node[rail], pole, state), circuit)

    def _supplied(self, node: Node) -> bool:
        """Look at the paths from a node to its poles; whether it has one."""
        analysis = self.analysis
        found = False
        for pole, function in analysis.poles.has(analysis.poles.nets.of[node]):
            if not analysis.poles.diagrams.value(function, self.state):
                continue
            found = True
            if pole >= len(analysis.circuit.poles):
                self.places["units", analysis.poles.units[pole - len(analysis.circuit.poles)].name] = None
                continue
            device = analysis.circuit.poles[pole].device
            if device:
                self.places["reversers", device] = None
            self._path(analysis.paths.find(node, pole, self.state))
        return found

    # -- connected components

    def _flood(self, node: Node, *, always: bool = True) -> None:
        """The connected component of a node, and what is at its border. `always`: in the state alone."""
        circuit = self.analysis.circuit
        poles = len(circuit.poles)
        self.loose |= not always
        stack, seen = [node], {node}
        while stack and len(seen) < MOST_NODES:
            here = stack.pop()
            for other, conductor in circuit.near[here]:
                self._conductor(conductor, circuit)
                if other in seen or other < poles or (always and not holds(conductor.when, self.state)):
                    continue
                seen.add(other)
                stack.append(other)
        self.flooded |= seen
        for each in sorted(seen):
            name = circuit.names[each]
            self.places.update(dict.fromkeys(self.choices.at.get(name, ())))
            piece = owner_of(name)
            if piece in self.analysis.layout.pieces:
                self.places["pieces", piece] = None
                self.hungry[piece] = None
                if piece in self.choices.layout.pieces:
                    self.places.update(dict.fromkeys(self.choices.beside(piece)))

    def helps(self, chosen: Choice) -> bool:
        """Whether a new feed goes to what wants a pole; its other wire may need another cure beside it."""
        node = self.analysis.circuit.node
        feeds = [change.feed for change in chosen.edit if isinstance(change, AddFeed)]
        return all(any(node[rail] in self.flooded for _, rail in feed.wires) for feed in feeds)

    # -- pieces and gaps

    def _piece(self, name: str, *, live: bool = False) -> None:
        """The rails of the routes of a piece that are dead (or live) in the state."""
        analysis = self.analysis
        load = analysis.layout.components.get(name)
        if load is not None:
            self.places["components", name] = None
            for end in load.ends:
                node = analysis.circuit.node[end]
                if not self._supplied(node):
                    self._flood(node)
            return
        piece = analysis.layout.pieces[name]
        diagrams = analysis.poles.diagrams
        for route in piece.kind.routes:
            if not diagrams.value(analysis.settings.route(piece, route), self.state):
                continue
            if diagrams.value(route_dead(analysis, piece, route), self.state) == live:
                continue
            for rail in dict.fromkeys((*route.left, *route.right)):
                if rail is not None:
                    node = analysis.circuit.node[named(name, rail)]
                    if not self._supplied(node):
                        self._flood(node)
        self.places["pieces", name] = None

    def _clash(self, clash: gap_clash.About) -> None:
        analysis = self.analysis
        diagrams, node = analysis.poles.diagrams, analysis.circuit.node
        for gap in clash.gaps:
            if diagrams.value(gap.counts, self.state):
                if gap_clash.out_of_step(analysis, gap, self.state):
                    continue  # no wire makes two signals one: what parts them is a matter of the design
                self.gaps.update((gap.a, gap.b))
                for terminal in (gap.a, gap.b):
                    self._supplied(node[terminal])
                    self.places.update(dict.fromkeys(p for p in self.choices.at.get(terminal, ()) if p[0] == "joints"))
        for part in clash.parts if self.gaps else ():
            self.places["pieces", part] = None

    def _torn(self, torn: unit_torn.About) -> None:
        """The paths to what the rails at the joint, and those of the piece beside it, have."""
        self.exact = False
        analysis = self.analysis
        rails = [named(torn.piece, rail) for rail in analysis.layout.pieces[torn.piece].kind.rails]
        for terminal in dict.fromkeys([*rails, *(end for a, b, _ in torn.joint.pairs for end in (a, b))]):
            self._supplied(analysis.circuit.node[terminal])
        self.places.update({("pieces", part): None for part in torn.joint.pieces})

    def _around(self, broken: Broken) -> None:
        """What is near the pieces that something is said of."""
        self.exact = False
        choices, layout = self.choices, self.analysis.layout
        about = broken.about
        parts = (about.parts if isinstance(about, _OfParts) else ()) or (owner_of(broken.subject.split("/")[0]),)
        if isinstance(about, _OfJoint):
            parts = about.joint.pieces
        for part in [p for p in parts if p in layout.pieces][:MOST_PARTNERS]:
            self.places["pieces", part] = None
            self.hungry[part] = None
            self.places.update(dict.fromkeys(("joints", n) for n in choices.joints_of.get(part, ())))
            for rail in layout.pieces[part].kind.rails:
                self.places.update(dict.fromkeys(choices.at.get(named(part, rail), ())))
                self.flooded.add(self.analysis.circuit.node[named(part, rail)])
