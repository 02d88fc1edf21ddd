"""Changes of a layout as values.

A change is comparable and printable, names the entries of the layout that it touches, and makes a layout with the
change in it, copying only what it touches. An edit is several changes made at once, each written against the same
layout: two changes may touch one entry as long as they set different things in it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from netlister.layout.model import Layout

if TYPE_CHECKING:
    from netlister.layout.model import (
        Contact,
        Feed,
    )

EntryPlace = tuple[str, int | str]
"""An entry of a layout: its section (the field of `Layout`) and its number in the list or its name."""

Throws = tuple[tuple[str, str | None], ...]
"""Per position of a contact's owner the terminal it is wired to, or None (open)."""

Wires = tuple[tuple[str, str], ...]
"""Pairs of source terminal and rail terminal of a feed."""


class ImpossibleError(Exception):
    """A change that the layout cannot take, as an option of a kind that does not have it."""


class Change(Protocol):
    """One change of a layout."""

    def places(self) -> tuple[EntryPlace, ...]:
        """The entries that it touches; one that is added has the number None or its new name."""

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the change in it. Raises ImpossibleError where the layout cannot take it."""


Edit = tuple[Change, ...]
"""Changes made at once, each written against the same layout."""


def apply(edit: Edit, layout: Layout) -> Layout:
    """The layout with all changes in it: first those of entries, then what is added, last what is taken out.

    Numbers in `places` count entries before the edit; what is added stands at the end of its list in the order of
    the edit. Raises ImpossibleError.
    """
    if len(edit) == 1:
        return edit[0].made_in(layout)
    draft: Layout = Draft(**{name: getattr(layout, name) for name in _FIELDS})
    for change in sorted(edit, key=_phase):
        draft = change.made_in(draft)
    return Layout(**{name: getattr(draft, name) for name in _FIELDS})


@dataclass(slots=True)
class Draft(Layout):
    """A layout while several changes are made in it. `own`: the sections that were copied for it, and may be altered.

    `joints_of`: by piece the numbers of its joints, where that was asked for.
    """

    own: set[str] = field(default_factory=set)
    joints_of: dict[str, list[int]] = field(default_factory=dict)


_FIELDS = tuple(f.name for f in fields(Layout))


def _phase(change: Change) -> tuple[int, int]:
    if isinstance(change, TakeOut):
        return 2, -change.number  # from the end, so that numbers stay true
    return (1 if type(change).__name__.startswith("Add") else 0), 0


def with_listed(layout: Layout, section: str, number: int, **values: object) -> Layout:
    """The layout with other values in an entry of a list."""
    entries = own_entries(layout, section)
    entries[number] = entries[number]._replace(**values)
    return with_entries(layout, section, entries)


def own_entries(layout: Layout, section: str) -> Any:
    """The entries of a section, to be altered: a copy, but where they are one already."""
    entries = getattr(layout, section)
    return entries if isinstance(layout, Draft) and section in layout.own else entries.copy()


def with_added(layout: Layout, section: str, entry: object) -> Layout:
    """The layout with an entry more in a list."""
    entries = own_entries(layout, section)
    entries.append(entry)
    return with_entries(layout, section, entries)


def with_named(layout: Layout, section: str, name: str, **values: object) -> Layout:
    """The layout with other values in an entry that has a name."""
    entries = own_entries(layout, section)
    entries[name] = entries[name]._replace(**values)
    return with_entries(layout, section, entries)


def with_entries(layout: Layout, section: str, entries: object) -> Layout:
    """The layout with entries that are its own."""
    if isinstance(layout, Draft):
        setattr(layout, section, entries)
        layout.own.add(section)
        return layout
    changed: dict[str, Any] = {section: entries}
    return replace(layout, **changed)


# -- joints


class Insulate(NamedTuple):
    """One rail of a joint insulated or made metal. `side`: 0 left, 1 right, seen from the joint's `from`."""

    joint: int
    side: int
    insulated: bool

    def places(self) -> tuple[EntryPlace, ...]:
        """The joint."""
        return (("joints", self.joint),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the joint so."""
        pairs = list(layout.joints[self.joint].pairs)
        a, b, _ = pairs[self.side]
        pairs[self.side] = (a, b, self.insulated)
        return with_listed(layout, "joints", self.joint, pairs=tuple(pairs))


# -- feeds


class Refeed(NamedTuple):
    """Other wires, or another source, for a feed. `wires` name poles as terminals of the circuit."""

    feed: int
    source: str
    wires: Wires

    def places(self) -> tuple[EntryPlace, ...]:
        """The feed."""
        return (("feeds", self.feed),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the feed so."""
        return with_listed(layout, "feeds", self.feed, source=self.source, wires=self.wires)


class AddFeed(NamedTuple):
    """A feed more."""

    feed: Feed

    def places(self) -> tuple[EntryPlace, ...]:
        """A new feed."""
        return (("feeds", ""),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the feed in it."""
        return with_added(layout, "feeds", self.feed)


# -- contacts


class Rewire(NamedTuple):
    """Other throws for a contact. `buses`: of each throw the bus that is written there, or nothing."""

    contact: int
    throws: Throws
    buses: tuple[str, ...]

    def places(self) -> tuple[EntryPlace, ...]:
        """The contact."""
        return (("contacts", self.contact),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the throws so; a wire that is moved to another throw stays at its end of the rail."""
        contact = layout.contacts[self.contact]
        first = (contact.buses or ("",))[:1]
        at: tuple[str, ...] = ()
        if contact.ends_at:
            kept = {to: end for (_, to), end in zip(contact.throws, contact.ends_at[1:], strict=True)}
            at = (contact.ends_at[0], *(kept.get(to, "") for _, to in self.throws))
        return with_listed(
            layout, "contacts", self.contact, throws=self.throws, buses=(*first, *self.buses), ends_at=at
        )


class Recommon(NamedTuple):
    """Another terminal at the common of a contact."""

    contact: int
    common: str
    bus: str = ""

    def places(self) -> tuple[EntryPlace, ...]:
        """The contact."""
        return (("contacts", self.contact),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the common there."""
        old = layout.contacts[self.contact]
        ends = ("", *old.ends_at[1:]) if old.ends_at else ()
        buses = (self.bus, *old.buses[1:])
        return with_listed(layout, "contacts", self.contact, common=self.common, buses=buses, ends_at=ends)


class AddContact(NamedTuple):
    """A contact more, on a machine, switch or turnout that is there."""

    contact: Contact

    def places(self) -> tuple[EntryPlace, ...]:
        """A new contact."""
        return (("contacts", ""),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the contact in it."""
        return with_added(layout, "contacts", self.contact)


# -- taken out


class TakeOut(NamedTuple):
    """An entry of a list taken out: a feed, wire, contact, pin or expectation."""

    section: str
    number: int

    def places(self) -> tuple[EntryPlace, ...]:
        """The entry."""
        return ((self.section, self.number),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout without it."""
        entries = own_entries(layout, self.section)
        del entries[self.number]
        return with_entries(layout, self.section, entries)
