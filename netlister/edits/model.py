"""Changes of a layout as values.

A change is comparable and printable, names the entries of the layout that it touches, and makes a layout with the
change in it, copying only what it touches. An edit is several changes made at once, each written against the same
layout: two changes may touch one entry as long as they set different things in it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from netlister.kinds import KindError
from netlister.layout.model import Layout
from netlister.layout.terminal import Terminal, named

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.kinds.model import Kind
    from netlister.layout.model import (
        Contact,
        Cube,
        Expectation,
        Feed,
        FrogUnit,
        Joint,
        Link,
        Pin,
        Reverser,
        Variable,
        Wire,
    )

Place = tuple[str, int | str]
"""An entry of a layout: its section (the field of `Layout`) and its number in the list or its name."""

Throws = tuple[tuple[str, str | None], ...]
"""Per position of a contact's owner the terminal it is wired to, or None (open)."""

Wires = tuple[tuple[str, str], ...]
"""Pairs of source terminal and rail terminal of a feed."""


class ImpossibleError(Exception):
    """A change that the layout cannot take, as an option of a kind that does not have it."""


class Change(Protocol):
    """One change of a layout."""

    def places(self) -> tuple[Place, ...]:
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


def _listed(layout: Layout, section: str, number: int, **values: object) -> Layout:
    entries = _own(layout, section)
    entries[number] = entries[number]._replace(**values)
    return _with(layout, section, entries)


def _own(layout: Layout, section: str) -> Any:
    """The entries of a section, to be altered: a copy, but where they are one already."""
    entries = getattr(layout, section)
    return entries if isinstance(layout, Draft) and section in layout.own else entries.copy()


def _added(layout: Layout, section: str, entry: object) -> Layout:
    entries = _own(layout, section)
    entries.append(entry)
    return _with(layout, section, entries)


def _named(layout: Layout, section: str, name: str, **values: object) -> Layout:
    entries = _own(layout, section)
    entries[name] = entries[name]._replace(**values)
    return _with(layout, section, entries)


def _with(layout: Layout, section: str, entries: object) -> Layout:
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

    def places(self) -> tuple[Place, ...]:
        """The joint."""
        return (("joints", self.joint),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the joint so."""
        pairs = list(layout.joints[self.joint].pairs)
        a, b, _ = pairs[self.side]
        pairs[self.side] = (a, b, self.insulated)
        return _listed(layout, "joints", self.joint, pairs=tuple(pairs))


# -- feeds


class Refeed(NamedTuple):
    """Other wires, or another source, for a feed. `wires` name poles as terminals of the circuit."""

    feed: int
    source: str
    wires: Wires

    def places(self) -> tuple[Place, ...]:
        """The feed."""
        return (("feeds", self.feed),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the feed so."""
        return _listed(layout, "feeds", self.feed, source=self.source, wires=self.wires)


class AddFeed(NamedTuple):
    """A feed more."""

    feed: Feed

    def places(self) -> tuple[Place, ...]:
        """A new feed."""
        return (("feeds", ""),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the feed in it."""
        return _added(layout, "feeds", self.feed)


# -- contacts


class Rewire(NamedTuple):
    """Other throws for a contact. `buses`: of each throw the bus that is written there, or nothing."""

    contact: int
    throws: Throws
    buses: tuple[str, ...]

    def places(self) -> tuple[Place, ...]:
        """The contact."""
        return (("contacts", self.contact),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the throws so."""
        first = (layout.contacts[self.contact].buses or ("",))[:1]
        ends = layout.contacts[self.contact].ends_at[:1]
        at = (*ends, *("" for _ in self.throws)) if ends else ()
        return _listed(layout, "contacts", self.contact, throws=self.throws, buses=(*first, *self.buses), ends_at=at)


class Recommon(NamedTuple):
    """Another terminal at the common of a contact."""

    contact: int
    common: str
    bus: str = ""

    def places(self) -> tuple[Place, ...]:
        """The contact."""
        return (("contacts", self.contact),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the common there."""
        old = layout.contacts[self.contact]
        ends = ("", *old.ends_at[1:]) if old.ends_at else ()
        buses = (self.bus, *old.buses[1:])
        return _listed(layout, "contacts", self.contact, common=self.common, buses=buses, ends_at=ends)


class AddContact(NamedTuple):
    """A contact more, on a machine, switch or turnout that is there."""

    contact: Contact

    def places(self) -> tuple[Place, ...]:
        """A new contact."""
        return (("contacts", ""),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the contact in it."""
        return _added(layout, "contacts", self.contact)


# -- pieces


class SetOption(NamedTuple):
    """Another value of an option of a piece, or its other `hand`."""

    piece: str
    option: str
    value: str

    def places(self) -> tuple[Place, ...]:
        """The piece."""
        return (("pieces", self.piece),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the piece built so."""
        piece = layout.pieces[self.piece]
        kind, library = piece.kind, layout.library
        if library is None:
            raise ImpossibleError("the kinds of this layout are not at hand")
        hand = self.value if self.option == "hand" else kind.hand
        options = dict(kind.options)
        if self.option != "hand":
            options[self.option] = self.value
        try:
            made = library.kind(kind.name, hand, tuple(options.items()))
        except KindError as error:
            raise ImpossibleError(str(error)) from None
        if self.option == "hand" and made.ends.keys() != kind.ends.keys():
            message = f"'{self.piece}' would have other ends with 'hand: {hand}'"
            raise ImpossibleError(message)
        options = {**piece.options, self.option: self.value}
        joints = _joined(layout, self.piece, made) if self.option == "hand" else {}
        layout = _named(layout, "pieces", self.piece, kind=made, options=options)
        if joints:
            entries = _own(layout, "joints")
            for number, joint in joints.items():
                entries[number] = joint
            layout = _with(layout, "joints", entries)
        return layout


def _joined(layout: Layout, piece: str, made: Kind) -> dict[int, Joint]:
    """By number the joints that change where the ends of a piece come to have other rails. Raises ImpossibleError."""
    if any(at.owner == piece and at.own for at in (Terminal.of(feed.target) for feed in layout.feeds)):
        message = f"a feed is written at an end of '{piece}'"
        raise ImpossibleError(message)
    found = {}
    for number in _joints_of(layout, piece):
        joint = layout.joints[number]
        kinds = [made if name == piece else layout.pieces[name].kind for name in (joint.start[0], joint.end[0])]
        one, two = (kind.ends[end] for kind, end in zip(kinds, (joint.start[1], joint.end[1]), strict=True))
        others = (two.right, two.left) if one.entering == two.entering else (two.left, two.right)
        rails = tuple(zip((one.left, one.right), others, strict=True))
        before = tuple((Terminal.of(a).own, Terminal.of(b).own) for a, b, _ in joint.pairs)
        olds = [layout.pieces[name].kind for name in (joint.start[0], joint.end[0])]
        cut = tuple(insulated for _, _, insulated in joint.pairs)
        if joint.insulate == "vee" and cut == _at_frogs(olds, before):
            cut = _at_frogs(kinds, rails)
        first, second = joint.start[0], joint.end[0]
        (a, b), (c, d) = rails
        pairs = (named(first, a), named(second, b), cut[0]), (named(first, c), named(second, d), cut[1])
        found[number] = joint._replace(pairs=pairs)
    return found


def _joints_of(layout: Layout, piece: str) -> list[int]:
    """The numbers of the joints of a piece."""
    if not isinstance(layout, Draft):
        return [n for n, joint in enumerate(layout.joints) if piece in (joint.start[0], joint.end[0])]
    if not layout.joints_of:
        for number, joint in enumerate(layout.joints):
            for name in dict.fromkeys((joint.start[0], joint.end[0])):
                layout.joints_of.setdefault(name, []).append(number)
    return layout.joints_of.get(piece, [])


def _at_frogs(kinds: Iterable[Kind], pairs: Iterable[tuple[str, str]]) -> tuple[bool, ...]:
    """Which pairs of rails of two kinds `insulate: vee` insulates."""
    one, two = kinds
    return tuple(one.is_changing(a) or two.is_changing(b) for a, b in pairs)


# -- plugs, wires, gear


class Repin(NamedTuple):
    """Other ends for a pin of a plug. `buses`: per end the bus that is written there, or nothing."""

    pin: int
    ends: tuple[str, str]
    buses: tuple[str, str]

    def places(self) -> tuple[Place, ...]:
        """The pin."""
        return (("pins", self.pin),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the pin so."""
        return _listed(layout, "pins", self.pin, ends=self.ends, buses=self.buses, ends_at=("", ""))


class AddPin(NamedTuple):
    """A pin more in a plug that is there."""

    pin: Pin

    def places(self) -> tuple[Place, ...]:
        """A new pin."""
        return (("pins", ""),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the pin in it."""
        return _added(layout, "pins", self.pin)


class Relink(NamedTuple):
    """Other ends for a wire. `buses`: per end the bus that is written there, or nothing."""

    link: int
    ends: tuple[str, str]
    buses: tuple[str, str]

    def places(self) -> tuple[Place, ...]:
        """The wire."""
        return (("links", self.link),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the wire so."""
        return _listed(layout, "links", self.link, ends=self.ends, buses=self.buses, ends_at=("", ""))


class AddLink(NamedTuple):
    """A wire more."""

    link: Link

    def places(self) -> tuple[Place, ...]:
        """A new wire."""
        return (("links", ""),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the wire in it."""
        return replace(layout, links=[*layout.links, self.link])


class Recomponent(NamedTuple):
    """Another kind, or other ends, for a component."""

    name: str
    kind: str
    ends: tuple[str, str]
    buses: tuple[str, str]

    def places(self) -> tuple[Place, ...]:
        """The component."""
        return (("components", self.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the component so."""
        return _named(layout, "components", self.name, kind=self.kind, ends=self.ends, buses=self.buses)


class Thicken(NamedTuple):
    """Another wire for a bus, of the same length."""

    bus: str
    wire: Wire

    def places(self) -> tuple[Place, ...]:
        """The bus."""
        return (("buses", self.bus),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the bus so."""
        return _named(layout, "buses", self.bus, wire=self.wire)


class AddReverser(NamedTuple):
    """A reverser more."""

    reverser: Reverser

    def places(self) -> tuple[Place, ...]:
        """The reverser."""
        return (("reversers", self.reverser.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the reverser in it."""
        return _with(layout, "reversers", {**layout.reversers, self.reverser.name: self.reverser})


class AddUnit(NamedTuple):
    """A frog unit more."""

    unit: FrogUnit

    def places(self) -> tuple[Place, ...]:
        """The frog unit."""
        return (("units", self.unit.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the frog unit in it."""
        return _with(layout, "units", {**layout.units, self.unit.name: self.unit})


class AddSwitch(NamedTuple):
    """A hand switch more."""

    switch: Variable

    def places(self) -> tuple[Place, ...]:
        """The switch."""
        return (("variables", self.switch.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the switch in it."""
        return _with(layout, "variables", {**layout.variables, self.switch.name: self.switch})


class Straighten(NamedTuple):
    """Other positions in which a reverser that follows stands straight."""

    name: str
    straight: tuple[int, ...]

    def places(self) -> tuple[Place, ...]:
        """The reverser."""
        return (("reversers", self.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the reverser so."""
        return _named(layout, "reversers", self.name, straight=self.straight)


class Rebus(NamedTuple):
    """Another bus for a frog unit or a reverser. `section`: "units" or "reversers"."""

    section: str
    name: str
    bus: str
    inputs: tuple[str, str]

    def places(self) -> tuple[Place, ...]:
        """The device."""
        return ((self.section, self.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the device fed from there."""
        return _named(layout, self.section, self.name, bus=self.bus, inputs=self.inputs)


class Tie(NamedTuple):
    """A pole of a supply made one with another's of the same letter: `common`. `to` is as written: "cab1.B"."""

    supply: str
    to: str

    def places(self) -> tuple[Place, ...]:
        """The supply."""
        return (("supplies", self.supply),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the two poles as one, everywhere."""
        other, letter = Terminal.of(self.to)
        side = "AB".index(letter)
        old, new = (layout.supplies[name].poles[side] for name in (self.supply, other))

        def named(value: Any) -> Any:
            if isinstance(value, str):
                return new if value == old else value
            if isinstance(value, tuple):
                inner = [named(part) for part in value]
                if all(one is two for one, two in zip(inner, value, strict=True)):
                    return value
                return type(value)._make(inner) if hasattr(value, "_make") else tuple(inner)
            return value

        made: dict[str, Any] = {}
        for section in ("feeds", "contacts", "pins", "links"):
            made[section] = [named(entry) for entry in getattr(layout, section)]
        for section in ("supplies", "buses", "reversers", "units", "components"):
            made[section] = {name: named(entry) for name, entry in getattr(layout, section).items()}
        tied = made["supplies"][self.supply]
        made["supplies"][self.supply] = tied._replace(common=self.to)
        for section, entries in made.items():
            layout = _with(layout, section, entries)
        return layout


class AddExpectation(NamedTuple):
    """Something more that is meant."""

    expectation: Expectation

    def places(self) -> tuple[Place, ...]:
        """A new expectation."""
        return (("expectations", ""),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the expectation in it."""
        return _added(layout, "expectations", self.expectation)


class Reexpect(NamedTuple):
    """Other positions for what is meant. `when`: pairs of a variable and one of its positions."""

    number: int
    when: Cube

    def places(self) -> tuple[Place, ...]:
        """The expectation."""
        return (("expectations", self.number),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the expectation so."""
        return _listed(layout, "expectations", self.number, when=self.when)


class TakeOut(NamedTuple):
    """An entry of a list taken out: a feed, wire, contact, pin or expectation."""

    section: str
    number: int

    def places(self) -> tuple[Place, ...]:
        """The entry."""
        return ((self.section, self.number),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout without it."""
        entries = _own(layout, self.section)
        del entries[self.number]
        return _with(layout, self.section, entries)
