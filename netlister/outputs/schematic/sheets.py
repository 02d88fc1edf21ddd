"""Which parts stand on which sheet: supplies and wiring on one, each machine on its own with the track around it."""

from __future__ import annotations

from collections import defaultdict, deque
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.terminal import Terminal
from netlister.outputs.netlist_draft import TRACK
from netlister.outputs.netlist_parts import parts
from netlister.outputs.schematic.figures import SOURCES, groups
from netlister.outputs.schematic.shapes import ways_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit
    from netlister.outputs.netlist_draft import NetlistPart
    from netlister.outputs.schematic.shapes import TrackRoutes

FEW = 60
"""Parts with pins that still go on a single sheet."""
MOST = 24
"""Parts of a sheet among several, if not a single figure has more."""
FEWEST = 8
"""Parts that get no further sheet for themselves."""
WIRING = "supplies and wiring"
JOINERS = frozenset({"metal joiner", "insulated joiner"})


class PartsSheet(NamedTuple):
    """A sheet and its parts, in the order of the netlist.

    `poles`: the nets that are poles, of the whole circuit; `shared`: nets that go on on other sheets; `ways`: how the
    routes of a piece of track run, by its reference.
    """

    name: str
    parts: tuple[NetlistPart, ...]
    poles: tuple[str, ...]
    shared: frozenset[str]
    ways: dict[str, TrackRoutes]


def sheets(circuit: Circuit, *, one: bool) -> list[PartsSheet]:
    """The sheets of a circuit, or a single one."""
    listed = parts(circuit)
    poles = tuple(pole.name for pole in circuit.poles)
    pieces = circuit.layout.pieces
    ways = {
        part.reference: ways_of(pieces[part.tag.removeprefix("track ")].kind)
        for part in listed
        if part.library == TRACK
    }
    if one:
        return [PartsSheet("the whole circuit", tuple(listed), poles, frozenset(), ways)]
    of = _Grouping(circuit, listed).sheet_of()
    found: dict[str, list[NetlistPart]] = {WIRING: []}
    for part in listed:
        found.setdefault(of[part.reference], []).append(part)
    order = ("supplies", "switches", "machine", "machines", "turnout", "track")
    names = sorted(found, key=lambda name: order.index(name.partition(" ")[0]))
    pages = [page for name in names for page in _pages(name, found[name], poles)]
    on: dict[str, set[str]] = defaultdict(set)
    for name, some in pages:
        for part in some:
            for _, net in part.pins:
                on[net].add(name)
    shared = frozenset(net for net, some in on.items() if len(some) > 1)
    return [PartsSheet(name, tuple(some), poles, shared, ways) for name, some in pages]


def _pages(name: str, listed: list[NetlistPart], poles: tuple[str, ...]) -> Iterator[tuple[str, list[NetlistPart]]]:
    """The parts of a sheet, or of several of a readable size; a figure stays whole."""
    figured = groups([part for part in listed if part.kind not in SOURCES], poles)
    inside = {part.reference for group in figured for part in group}
    page = [part for part in listed if part.reference not in inside]
    number = 1
    left = len(listed) - len(page)
    for group in figured:
        if page and len(page) + len(group) > MOST and left > FEWEST:
            yield (f"{name}, {number}", page)
            page, number = [], number + 1
        page = page + group
        left -= len(group)
    if page:
        yield (f"{name}, {number}" if number > 1 else name, page)


class _Grouping:
    def __init__(self, circuit: Circuit, listed: list[NetlistPart]) -> None:
        self.layout = circuit.layout
        self.listed = listed
        self.owner = {net: part.reference for part in listed if part.library == TRACK for _, net in part.pins}
        self.by_reference = {part.reference: part for part in listed}
        self.machine = self._machines()

    def _machines(self) -> dict[str, str]:
        """The sheet of each machine: machines that throw one piece share it."""
        thrown: dict[str, str] = {}
        head = {machine: machine for machine in self.layout.machines}
        for machine, bars in self.layout.machines.items():
            for bar in bars:
                piece = Terminal.of(bar).owner
                was, now = head[thrown.setdefault(piece, machine)], head[machine]
                head = {m: was if h == now else h for m, h in head.items()} if was != now else head
        found = {}
        for machine, first in head.items():
            together = [m for m, h in head.items() if h == first]
            found[machine] = f"machine{'s' * (len(together) > 1)} {', '.join(together)}"
        return found

    def sheet_of(self) -> dict[str, str]:
        """The name of the sheet of each part, by its reference."""
        of = self._pieces()
        contacts = {}
        for part in self.listed:
            if part.kind == "contact":
                fields = dict(part.fields)
                contacts[fields["Name"]] = of[part.reference] = self._contact(fields["Moved by"], self._rails(part, of))
        for part in self.listed:
            if part.reference not in of:
                of[part.reference] = self._other(part, of, contacts)
        return of

    def _rails(self, part: NetlistPart, of: dict[str, str]) -> set[str]:
        """The sheets of the rails that a part is on."""
        return {of[self.owner[net]] for _, net in part.pins if net in self.owner}

    def _pieces(self) -> dict[str, str]:
        """Pieces of a machine on its sheet, others with blades on one of their own; the rest on the nearest one."""
        thrown = {Terminal.of(bar).owner: machine for machine, bars in self.layout.machines.items() for bar in bars}
        of: dict[str, str] = {}
        plain = []
        for part in self.listed:
            if part.library == TRACK:
                name = part.tag.removeprefix("track ")
                if name in thrown:
                    of[part.reference] = self.machine[thrown[name]]
                elif self.layout.pieces[name].kind.bladed:
                    of[part.reference] = f"turnout {name}"
                else:
                    plain.append(part)
        near: dict[str, list[str]] = defaultdict(list)
        for part in self.listed:
            if part.kind in JOINERS:
                a, b = (self.owner[net] for _, net in part.pins)
                near[a].append(b)
                near[b].append(a)
        self._spread(of, near)
        for part in plain:
            if part.reference not in of:
                of[part.reference] = f"track {part.tag.removeprefix('track ')}"
                self._spread(of, near)
        return of

    @staticmethod
    def _spread(of: dict[str, str], near: dict[str, list[str]]) -> None:
        """Give each piece without a sheet that of the nearest piece that has one, over joints."""
        waiting = deque(of)
        while waiting:
            here = waiting.popleft()
            for other in near[here]:
                if other not in of:
                    of[other] = of[here]
                    waiting.append(other)

    def _other(self, part: NetlistPart, of: dict[str, str], contacts: dict[str, str]) -> str:
        owners = [self.owner[net] for _, net in part.pins if net in self.owner]
        if part.kind == "machine":
            return self.machine[dict(part.fields)["Name"]]
        if part.kind == "lead":
            return contacts[dict(part.fields)["Name"]]
        if part.kind in JOINERS:
            first = sorted(owners, key=lambda o: not self.by_reference[o].reference.startswith("Y"))
            return of[first[0]]
        return of[owners[0]] if owners else WIRING  # what feeds a rail stands with it

    def _contact(self, owner: str, rails: set[str]) -> str:
        """A contact of a machine stands with it, one of a switch with its rails where these are on one sheet."""
        if owner in self.layout.machines:
            return self.machine[owner]
        if owner in self.layout.pieces:
            thrown = {Terminal.of(bar).owner: m for m, bars in self.layout.machines.items() for bar in bars}
            return self.machine[thrown[owner]] if owner in thrown else f"turnout {owner}"
        return next(iter(rails)) if len(rails) == 1 else "switches"
