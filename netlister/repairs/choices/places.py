"""The entries of a layout by the terminals that they touch, and how poles are written."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from netlister.edits.gear import AddPin
from netlister.edits.model import AddContact, AddFeed
from netlister.layout.terminal import Terminal, named
from netlister.union import find, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.edits.model import Change, EntryPlace
    from netlister.layout.model import Layout

MOST_SOURCES = 6
"""Sources that a track may be fed from, those in use nearby first."""


class EntryPlaces:
    """Where the entries of a layout are.

    `at`: by terminal (or piece, for what is meant) the entries that touch it. `moved_with`: by variable the numbers of
    the contacts that move with it. `joints_of`, `feeds_of`: by piece the numbers of its joints and feeds.
    """

    def __init__(self, layout: Layout) -> None:  # noqa: C901, PLR0912 - one section after the other
        self.layout = layout
        self.at: dict[str, list[EntryPlace]] = {}
        self.moved_with: dict[str, list[int]] = {}
        self.joints_of: dict[str, list[int]] = {}
        self.feeds_of: dict[str, list[int]] = {}
        self.fed_from: set[str] = set()
        self._used: list[str] | None = None
        self._metal: dict[str, str] | None = None
        self._members: dict[str, tuple[str, ...]] = {}
        self._sources: dict[str, Counter[str]] = {}
        for number, joint in enumerate(layout.joints):
            for pair in joint.pairs:
                for terminal in pair[:2]:
                    self._note(terminal, "joints", number)
            for piece in dict.fromkeys(joint.pieces):
                self.joints_of.setdefault(piece, []).append(number)
        for number, feed in enumerate(layout.feeds):
            self.feeds_of.setdefault(feed.piece, []).append(number)
            for pole, rail in feed.wires:
                self._note(rail, "feeds", number)
                self.fed_from.add(pole)
        for number, contact in enumerate(layout.contacts):
            for to in (contact.common, *(throw for _, throw in contact.throws)):
                self._note(to, "contacts", number)
            self.moved_with.setdefault(contact.variable, []).append(number)
        for number, pin in enumerate(layout.pins):
            for end in pin.ends:
                self._note(end, "pins", number)
        for number, link in enumerate(layout.links):
            for end in link.ends:
                self._note(end, "links", number)
        for name, component in layout.components.items():
            for end in component.ends:
                self._note(end, "components", name)
        for name, unit in layout.units.items():
            self._note(unit.frog, "units", name)
        for name, reverser in layout.reversers.items():
            for output in reverser.outputs:
                self._note(output, "reversers", name)
        for number, expectation in enumerate(layout.expectations):
            for piece in expectation.pieces:
                self._note(piece, "expectations", number)

    def is_idle(self, reverser: str) -> bool:
        """Whether nothing is wired to the outputs of a reverser."""
        outputs = self.layout.reversers[reverser].outputs
        return self.fed_from.isdisjoint(outputs) and all(
            section == "reversers" for output in outputs for section, _ in self.at.get(output, ())
        )

    def section(self, piece: str) -> tuple[str, ...]:
        """All track that no gap in both rails parts from a piece."""
        head = self._parted()
        if not self._members:
            members: dict[str, list[str]] = {}
            for name in self.layout.pieces:
                members.setdefault(find(head, name), []).append(name)
            self._members = {first: tuple(names) for first, names in members.items()}
        return self._members[find(head, piece)]

    def sources_with(self, piece: str) -> Counter[str]:
        """The sources of the feeds of all track that no gap in both rails parts from a piece, by how many feeds."""
        head = self._parted()
        if not self._sources:
            for feed in self.layout.feeds:
                self._sources.setdefault(find(head, feed.piece), Counter())[feed.source] += 1
        return self._sources.get(find(head, piece), Counter())

    def _parted(self) -> dict[str, str]:
        """Per piece one that stands for all track that no gap in both rails parts from it."""
        if self._metal is None:
            self._metal = {name: name for name in self.layout.pieces}
            for joint in self.layout.joints:
                if not all(insulated for _, _, insulated in joint.pairs):
                    join(self._metal, joint.start[0], joint.end[0])
        return self._metal

    def _note(self, terminal: str | None, section: str, key: int | str) -> None:
        if terminal is not None:
            listed = self.at.setdefault(terminal, [])
            if (section, key) not in listed:
                listed.append((section, key))

    def names_in(self, change: Change) -> Iterator[str]:
        """The names of what a change touches: of an entry, and of what it belongs to."""
        layout = self.layout
        for section, key in change.places():
            match section:
                case "joints":
                    joint = layout.joints[int(key)]
                    yield from (joint.name, *(".".join(end) for end in (joint.start, joint.end)))
                case "feeds":
                    feed = change.feed if isinstance(change, AddFeed) else layout.feeds[int(key)]
                    yield from (feed.name, feed.piece)
                case "contacts":
                    contact = change.contact if isinstance(change, AddContact) else layout.contacts[int(key)]
                    yield from (contact.owner, contact.full)
                case "pins":
                    yield change.pin.plug if isinstance(change, AddPin) else layout.pins[int(key)].plug
                case "links":
                    yield layout.links[int(key)].name
                case "expectations":
                    yield from layout.expectations[int(key)].pieces
                case _:
                    yield str(key)

    def pole(self, terminal: str, bus: str = "") -> str:
        """A terminal as the file would name it: a pole by the bus that is meant, or the only one that has it."""
        head, letter = Terminal.of(terminal)
        if letter not in {"A", "B"} or head not in self.layout.supplies:
            return terminal
        if not bus:
            carry = [b.name for b in self.layout.buses.values() if terminal in b.poles and not b.implicit]
            bus = carry[0] if len(carry) == 1 else head
        return named(bus, letter)

    def bus_of(self, terminal: str, bus: str) -> str:
        """The bus under which a pole is written: `bus` as long as that has it, else none."""
        known = bus in self.layout.buses or bus in self.layout.supplies or bus in self.layout.reversers
        return bus if known and terminal in self.poles_of(bus) else ""

    def other_poles(self, pole: str, bus: str = "") -> list[tuple[str, str]]:
        """The other pole of each supply that has this one, first that of the bus it is taken from; each with its bus.

        Supplies with a common return share a pole, so that it has several others.
        """
        layout = self.layout
        found: dict[str, str] = {}
        own = [self.poles_of(bus)] if bus in layout.buses or bus in layout.supplies else []
        for poles in (*own, *(supply.poles for supply in layout.supplies.values())):
            if pole in poles and poles[0] != poles[1]:
                other = poles[1 - poles.index(pole)]
                found.setdefault(other, self.bus_of(other, bus))
        return list(found.items())

    def letter(self, source: str, terminal: str) -> str:
        """The key of a feed under which a pole of its source is written."""
        poles = self.poles_of(source)
        return "AB"[poles.index(terminal)] if terminal in poles else Terminal.of(terminal).own

    def poles_of(self, source: str) -> tuple[str, str]:
        """The two poles of a bus, supply or reverser."""
        layout = self.layout
        if source in layout.reversers:
            return layout.reversers[source].outputs
        bus = layout.buses.get(source)
        return layout.supplies[source].poles if bus is None else bus.poles

    def signal(self, source: str) -> tuple[str, str, bool]:
        """What tells signals apart: one is no cure for another, as a programming output is none for a main line."""
        reverser = self.layout.reversers.get(source)
        name = source if reverser is None else reverser.bus
        bus = self.layout.buses.get(name)
        owner = self.layout.supplies.get(name if bus is None else bus.supply)
        return ("", "", False) if owner is None else (owner.type, owner.station or "main", owner.programming)

    def sources(self, like: str = "") -> list[str]:
        """Buses and automatic reversers that a track may be fed from, those of many feeds first."""
        layout = self.layout
        if self._used is None:
            uses: dict[str, int] = {}
            for feed in layout.feeds:
                uses[feed.source] = uses.get(feed.source, 0) + 1
            names = [b.name for b in layout.buses.values() if not layout.supplies[b.supply].accessory]
            names += list(layout.reversers)
            names.sort(key=lambda n: -uses.get(n, 0))
            self._used = names[:MOST_SOURCES]
        found = self._used
        return found if not like or like in found else [like, *found]
