"""What a card says of wires: the runs that end at its piece, and those through which its contacts are reached.

A card is cut out of the schedule, so that the two cannot contradict each other. It follows each wire from the piece
over strips, plugs, components and contacts until it comes to a pole, to a rail of another piece, or to a block that
always carries a pole; from there the way to that pole is added.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.colours import pole_keys
from netlister.circuit.runs import head
from netlister.layout.schema import BLOCKING, COMPONENTS
from netlister.layout.terminal import named

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.layout.model import Component, Contact, Joint, Layout
    from netlister.papers.schedule import ScheduleLine


class ContactThrow(NamedTuple):
    """A throw of a contact: its position, its own terminal, and the wire to it, or None where it is left open."""

    position: str
    terminal: str
    wire: ScheduleLine | None


class ContactTable(NamedTuple):
    """A contact: its name, what moves it, the wire to its common, and its throws."""

    name: str
    contact: Contact
    common: ScheduleLine | None
    throws: tuple[ContactThrow, ...]


class Tables(NamedTuple):
    """The tables of a card: wires that end at what it is of, wires further on, contacts, and components on the way."""

    here: tuple[ScheduleLine, ...]
    beyond: tuple[ScheduleLine, ...]
    contacts: tuple[ContactTable, ...]
    components: tuple[str, ...]

    def wires(self) -> tuple[ScheduleLine, ...]:
        """Every wire on the card."""
        return (*self.here, *self.beyond)


class Wiring:
    """The schedule of a layout, ready to cut cards out of it."""

    def __init__(self, layout: Layout, lines: list[ScheduleLine]) -> None:
        self.layout, self.lines = layout, lines
        self.poles = pole_keys(layout)
        self.place = {line.id: place for place, line in enumerate(lines)}
        self.near: dict[str, list[ScheduleLine]] = {}
        for line in lines:
            for end in dict.fromkeys((line.start, line.end)):
                self.near.setdefault(end, []).append(line)
        self.contacts: dict[str, Contact] = {}
        for contact in layout.contacts:
            for place in ("common", *(position for position, _ in contact.throws)):
                self.contacts[contact.terminal(place)] = contact
        self.through: dict[str, str] = {}
        for part in layout.components.values():
            if part.kind not in BLOCKING:
                self.through[named(part.name, "from")] = named(part.name, "to")
                self.through[named(part.name, "to")] = named(part.name, "from")
        self.fixed = {
            p.plug
            for p in layout.pins
            if p.variable is None
        }  # fmt: skip
        self.rails = {named(p.name, rail) for p in layout.pieces.values() for rail in p.kind.rails}
        self.strips = self._strips()

    def of_piece(self, piece: str) -> Tables:
        """The tables of the card of a piece."""
        own = {named(piece, rail) for rail in self.layout.pieces[piece].kind.rails}
        return self._cut(own)

    def of_gear(self, name: str) -> Tables:
        """The tables of the card of gear, of a block or of a bus: each wire of which an end is there."""
        lines = [line for line in self.lines if name in {head(line.start), head(line.end)}]
        named = [c for c in self.layout.contacts if c.owner == name]
        return Tables(tuple(lines), (), tuple(self._table(c) for c in named), ())

    def _cut(self, own: set[str]) -> Tables:
        found: dict[str, ScheduleLine] = {}
        contacts: dict[str, Contact] = {}
        ends: set[str] = set()
        seen = set(own)
        queue = deque(sorted(own))
        while queue:
            here = queue.popleft()
            for line in self.near.get(here, ()):
                found[line.id] = line
                other = line.end if line.start == here else line.start
                for node in self._after(other, contacts):
                    if node in seen:
                        continue
                    seen.add(node)
                    if self._ends(node, own):
                        ends.add(node)
                    else:
                        queue.append(node)
        for node in sorted(ends):
            if node in self.strips:
                for line in self._to_pole(node):
                    found.setdefault(line.id, line)
        lines = sorted(found.values(), key=lambda line: self.place[line.id])
        touching = tuple(line for line in lines if {line.start, line.end} & own)
        rest = tuple(line for line in lines if not {line.start, line.end} & own)
        parts = {head(e) for line in (*touching, *rest) for e in (line.start, line.end)} & set(self.layout.components)
        return Tables(touching, rest, tuple(self._table(c) for c in contacts.values()), tuple(sorted(parts)))

    def _after(self, node: str, contacts: dict[str, Contact]) -> Iterator[str]:
        """Where one goes on from a terminal, besides by wires: over a contact, a component or a frog unit."""
        yield node
        contact = self.contacts.get(node)
        if contact is not None:
            name = contact.full
            contacts.setdefault(name, contact)
            yield from (named(name, place) for place in ("common", *(p for p, _ in contact.throws)))
        if node in self.through:
            yield self.through[node]
        if head(node) in self.layout.units:
            yield from (named(head(node), pin) for pin in ("frog", "in-A", "in-B"))

    def _ends(self, node: str, own: set[str]) -> bool:
        """Whether a card goes no further: at a pole, at another piece, at a block that always carries a pole."""
        return node in self.poles or (node in self.rails and node not in own) or node in self.strips

    def _table(self, contact: Contact) -> ContactTable:
        name = contact.full
        throws = tuple(ContactThrow(p, named(name, p), self._lead(named(name, p))) for p, _ in contact.throws)
        return ContactTable(name, contact, self._lead(named(name, "common")), throws)

    def _lead(self, terminal: str) -> ScheduleLine | None:
        return next((line for line in self.near.get(terminal, ()) if line.id.startswith("C.")), None)

    def _strips(self) -> set[str]:
        """The free junctions that always carry a pole, by wires, components and fixed plugs alone."""
        seen: set[str] = set()
        queue: deque[str] = deque(sorted(p for p in self.poles if p in self.near))
        found = set()
        while queue:
            for other, _ in self._steps(queue.popleft()):
                if other not in seen and other not in self.poles:
                    seen.add(other)
                    queue.append(other)
                    if self._is_junction(other):
                        found.add(other)
        return found

    def _steps(self, node: str) -> Iterator[tuple[str, ScheduleLine | None]]:
        """The terminals that a wire, a component or a plug that is never out leads to, rails and contacts left out."""
        for line in self.near.get(node, ()):
            if line.run.kind != "lead" and not (line.run.kind == "plug" and line.part not in self.fixed):
                other = line.end if line.start == node else line.start
                if other not in self.rails and other not in self.contacts and head(other) not in self.layout.units:
                    yield other, line
        if node in self.through:
            yield self.through[node], None

    def _is_junction(self, node: str) -> bool:
        layout, name = self.layout, head(node)
        known = (layout.pieces, layout.components, layout.reversers, layout.units, layout.variables, layout.supplies)
        plugs = {p.plug for p in layout.pins}
        return node not in self.contacts and not any(name in section for section in known) and name not in plugs

    def _to_pole(self, start: str) -> Iterator[ScheduleLine]:
        """The wires of the shortest way from a block to a pole."""
        came: dict[str, tuple[str, ScheduleLine | None]] = {start: ("", None)}
        queue = deque([start])
        goal = ""
        while queue and not goal:
            here = queue.popleft()
            for other, line in self._steps(here):
                if other not in came:
                    came[other] = (here, line)
                    queue.append(other)
                    if other in self.poles:
                        goal = other
                        break
        while goal:
            goal, line = came[goal]
            if line is not None:
                yield line


def is_gap(layout: Layout, joint: Joint) -> bool:
    """Whether rails move past each other at a joint, so that no joiner is fitted there."""
    return any(end in layout.pieces[piece].kind.gaps for piece, end in (joint.start, joint.end))


def blocks(layout: Layout, lines: Iterable[ScheduleLine]) -> list[str]:
    """The terminal strips: blocks of junctions that wires name, in the order of the schedule."""
    known = {
        *layout.pieces, *layout.components, *layout.reversers, *layout.units, *layout.variables, *layout.supplies,
        *layout.buses, *(p.plug for p in layout.pins), *(c.owner for c in layout.contacts),
    }  # fmt: skip
    return list(dict.fromkeys(head(e) for line in lines for e in (line.start, line.end) if head(e) not in known))


def rated(part: Component) -> str:
    """What a component is rated for; nothing where the layout does not say."""
    return "" if part.rating is None else f"{part.rating:g} {COMPONENTS[part.kind].rating.si}"
