"""Changes of pieces, plugs, wires, components, devices and of what is meant."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.edits.model import Draft, ImpossibleError, own_entries, with_added, with_entries, with_listed, with_named
from netlister.kinds import KindError
from netlister.layout.terminal import Terminal, named

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.edits.model import EntryPlace
    from netlister.kinds.model import Kind
    from netlister.layout.model import (
        Cube,
        Expectation,
        FrogUnit,
        Joint,
        Layout,
        Link,
        Pin,
        Reverser,
        Variable,
        Wire,
    )


# -- pieces


class SetOption(NamedTuple):
    """Another value of an option of a piece, or its other `hand`."""

    piece: str
    option: str
    value: str

    def places(self) -> tuple[EntryPlace, ...]:
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
        written = {**piece.written, self.option: self.value}
        joints = _joined(layout, self.piece, made) if self.option == "hand" else {}
        layout = with_named(layout, "pieces", self.piece, kind=made, written=written)
        if joints:
            entries = own_entries(layout, "joints")
            for number, joint in joints.items():
                entries[number] = joint
            layout = with_entries(layout, "joints", entries)
        return layout


def _joined(layout: Layout, piece: str, made: Kind) -> dict[int, Joint]:
    """By number the joints that change where the ends of a piece come to have other rails. Raises ImpossibleError."""
    if any(feed.piece == piece and Terminal.of(feed.target).own for feed in layout.feeds):
        message = f"a feed is written at an end of '{piece}'"
        raise ImpossibleError(message)
    found = {}
    for number in _joints_of(layout, piece):
        joint = layout.joints[number]
        kinds = [made if name == piece else layout.pieces[name].kind for name in joint.pieces]
        one, two = (kind.ends[end] for kind, end in zip(kinds, (joint.start[1], joint.end[1]), strict=True))
        others = (two.right, two.left) if one.entering == two.entering else (two.left, two.right)
        rails = tuple(zip((one.left, one.right), others, strict=True))
        before = tuple((Terminal.of(a).own, Terminal.of(b).own) for a, b, _ in joint.pairs)
        olds = [layout.pieces[name].kind for name in joint.pieces]
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
        return [n for n, joint in enumerate(layout.joints) if piece in joint.pieces]
    if not layout.joints_of:
        for number, joint in enumerate(layout.joints):
            for name in dict.fromkeys(joint.pieces):
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

    def places(self) -> tuple[EntryPlace, ...]:
        """The pin."""
        return (("pins", self.pin),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the pin so."""
        return with_listed(layout, "pins", self.pin, ends=self.ends, buses=self.buses, ends_at=("", ""))


class AddPin(NamedTuple):
    """A pin more in a plug that is there."""

    pin: Pin

    def places(self) -> tuple[EntryPlace, ...]:
        """A new pin."""
        return (("pins", ""),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the pin in it."""
        return with_added(layout, "pins", self.pin)


class Relink(NamedTuple):
    """Other ends for a wire. `buses`: per end the bus that is written there, or nothing."""

    link: int
    ends: tuple[str, str]
    buses: tuple[str, str]

    def places(self) -> tuple[EntryPlace, ...]:
        """The wire."""
        return (("links", self.link),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the wire so."""
        return with_listed(layout, "links", self.link, ends=self.ends, buses=self.buses, ends_at=("", ""))


class AddLink(NamedTuple):
    """A wire more."""

    link: Link

    def places(self) -> tuple[EntryPlace, ...]:
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

    def places(self) -> tuple[EntryPlace, ...]:
        """The component."""
        return (("components", self.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the component so."""
        return with_named(layout, "components", self.name, kind=self.kind, ends=self.ends, buses=self.buses)


class Thicken(NamedTuple):
    """Another wire for a bus, of the same length."""

    bus: str
    wire: Wire

    def places(self) -> tuple[EntryPlace, ...]:
        """The bus."""
        return (("buses", self.bus),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the bus so."""
        return with_named(layout, "buses", self.bus, wire=self.wire)


class ThickenWire(NamedTuple):
    """Another wire, of the same length, for what stands at a number in `feeds` or `links`."""

    section: str
    number: int
    wire: Wire

    def places(self) -> tuple[EntryPlace, ...]:
        """The feed or the wire."""
        return ((self.section, self.number),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the wire so."""
        return with_listed(layout, self.section, self.number, wire=self.wire)


class AddReverser(NamedTuple):
    """A reverser more."""

    reverser: Reverser

    def places(self) -> tuple[EntryPlace, ...]:
        """The reverser."""
        return (("reversers", self.reverser.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the reverser in it."""
        return with_entries(layout, "reversers", {**layout.reversers, self.reverser.name: self.reverser})


class AddUnit(NamedTuple):
    """A frog unit more."""

    unit: FrogUnit

    def places(self) -> tuple[EntryPlace, ...]:
        """The frog unit."""
        return (("units", self.unit.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the frog unit in it."""
        return with_entries(layout, "units", {**layout.units, self.unit.name: self.unit})


class AddSwitch(NamedTuple):
    """A hand switch more."""

    switch: Variable

    def places(self) -> tuple[EntryPlace, ...]:
        """The switch."""
        return (("variables", self.switch.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the switch in it."""
        return with_entries(layout, "variables", {**layout.variables, self.switch.name: self.switch})


class Straighten(NamedTuple):
    """Other positions in which a reverser that follows stands straight."""

    name: str
    straight: tuple[int, ...]

    def places(self) -> tuple[EntryPlace, ...]:
        """The reverser."""
        return (("reversers", self.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the reverser so."""
        return with_named(layout, "reversers", self.name, straight=self.straight)


class Rebus(NamedTuple):
    """Another bus for a frog unit or a reverser. `section`: "units" or "reversers"."""

    section: str
    name: str
    bus: str
    inputs: tuple[str, str]

    def places(self) -> tuple[EntryPlace, ...]:
        """The device."""
        return ((self.section, self.name),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the device fed from there."""
        return with_named(layout, self.section, self.name, bus=self.bus, inputs=self.inputs)


class Tie(NamedTuple):
    """A pole of a supply made one with another's of the same letter: `common`. `to` is as written: "cab1.B"."""

    supply: str
    to: str

    def places(self) -> tuple[EntryPlace, ...]:
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
            layout = with_entries(layout, section, entries)
        return layout


class AddExpectation(NamedTuple):
    """Something more that is meant."""

    expectation: Expectation

    def places(self) -> tuple[EntryPlace, ...]:
        """A new expectation."""
        return (("expectations", ""),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the expectation in it."""
        return with_added(layout, "expectations", self.expectation)


class Reexpect(NamedTuple):
    """Other positions for what is meant. `when`: pairs of a variable and one of its positions."""

    number: int
    when: Cube

    def places(self) -> tuple[EntryPlace, ...]:
        """The expectation."""
        return (("expectations", self.number),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the expectation so."""
        return with_listed(layout, "expectations", self.number, when=self.when)
