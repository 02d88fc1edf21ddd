"""Changes of a layout as orders to whoever draws."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from netlister.edits.feeds import exact_length
from netlister.edits.gear import (
    AddExpectation,
    AddLink,
    AddPin,
    AddReverser,
    AddSwitch,
    AddUnit,
    Rebus,
    Recomponent,
    Reexpect,
    Relink,
    Repin,
    SetOption,
    Straighten,
    Thicken,
    ThickenWire,
    Tie,
)
from netlister.edits.model import AddContact, AddFeed, Insulate, Recommon, Refeed, Rewire, TakeOut, apply
from netlister.layout.terminal import Terminal, named
from netlister.outputs.netlist_fields import expectation_value, field_text, listed
from netlister.outputs.symbols import contact_positions
from netlister.repairs.drawing_work import DrawingWork, NoWordsError, pin_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from netlister.edits.model import Change, Wires
    from netlister.layout.drawing import DrawnFeed
    from netlister.layout.model import Component, Contact, Expectation, Link, Pin, Reverser


class Orders(DrawingWork):
    """Turns changes of the layout into work on the drawing."""

    def take(self, change: Change) -> None:
        """Note a change."""
        layout = self.layout
        match change:
            case Insulate():
                pair = self.drawing.joiners.get(layout.joints[change.joint].span)
                if pair is None:
                    raise NoWordsError
                self.exchange(pair[change.side], insulated=change.insulated)
            case Refeed():
                self._refeed(change.feed, change.source, change.wires)
            case AddFeed():
                feed = change.feed
                places = {"at": feed.at, "tap": feed.tap, "length": feed.wire.length}
                fields = {name: "" if place is None else exact_length(place) for name, place in places.items()}
                for pole, rail in feed.wires:
                    self._draw_feed(feed.source, pole, rail, {**fields, "wire": feed.wire.text})
            case Rewire():
                self._rewire(layout.contacts[change.contact], change)
            case Recommon():
                contact = layout.contacts[change.contact]
                self._wire_contact(contact, "common", change.common, change.bus)
            case AddContact():
                self._add_contact(change.contact)
            case TakeOut():
                self._take_out(change)
            case SetOption():
                self._set_option(change)
            case Thicken() | ThickenWire():
                for reference in self._of_wire(change):
                    self.write("wire", reference, change.wire.text)
            case _:
                self._take_gear(change)

    def _take_gear(self, change: Change) -> None:
        """Note a change of gear."""
        layout = self.layout
        match change:
            case AddPin():
                self._addpin_of(change.pin)
            case Repin():
                pin = layout.pins[change.pin]
                self._pair(self.part(pin.span), pin, change.ends, change.buses)
            case Relink():
                self._relink(change)
            case Recomponent():
                component = layout.components[change.name]
                if component.kind != change.kind:
                    raise NoWordsError
                self._pair(self.part(component.span), component, change.ends, change.buses)
            case AddReverser():
                self._add_reverser(change.reverser)
            case AddSwitch(new):
                self.draw("switch", {"name": new.name, "positions": listed(new.positions)}, {})
                self.positions[new.name] = new.positions
            case AddUnit(new):
                letters = {letter: self.at(pole, new.bus) for letter, pole in zip("AB", new.inputs, strict=True)}
                self.draw("frog-unit", {"name": new.name}, {**letters, "frog": self.at(new.frog)})
            case AddLink(new):
                ends = zip("12", new.ends, new.buses, strict=True)
                self.draw("wire", {}, {pin: self.at(end, bus) for pin, end, bus in ends})
            case AddExpectation():
                self._expect([*layout.expectations, change.expectation])
            case Straighten():
                this = layout.reversers[change.name]
                positions = layout.variables[this.variable or ""].positions
                self.write("straight", self.part(this.span), listed([positions[v] for v in change.straight]))
            case Rebus():
                self._rebus(change)
            case Tie():
                other, letter = Terminal.of(change.to)
                one, two = (self.part(layout.supplies[name].span) for name in (change.supply, other))
                self.written.append(f"join the nets of {pin_of(one, letter)} and {pin_of(two, letter)}")
            case Reexpect():
                entries = list(layout.expectations)
                entries[change.number] = entries[change.number]._replace(when=change.when)
                self._expect(entries)
            case _:
                raise NoWordsError

    def _of_wire(self, change: Thicken | ThickenWire) -> list[str]:
        """The parts that are a bus, a wire, or the wires of a feed."""
        if isinstance(change, Thicken):
            return [self.part(self.layout.buses[change.bus].span)]
        if change.section == "links":
            return [self.part(self.layout.links[change.number].span)]
        feed = self.layout.feeds[change.number]
        rails = {rail for _, rail in feed.wires}
        return [part.reference for part in self.drawing.feeds.get(feed.span, ()) if part.rail in rails]

    def _set_option(self, change: SetOption) -> None:
        """Another hand or option. Where ends come to have other rails, what is drawn at these is drawn at those."""
        layout = self.layout
        after = apply((change,), layout)
        piece = layout.pieces[change.piece]
        self.write(change.option, self.part(piece.span), change.value)
        nets = self.drawing.nets
        for bond in piece.kind.bonds:
            a, b = map(piece.terminal, bond)
            if bond not in after.pieces[change.piece].kind.bonds and nets.get(a, a) == nets.get(b, b):
                self.parted.append(f"part {self.at(a)} from {self.at(b)}, which lie on one net")
        for old, new in zip(layout.joints, after.joints, strict=True):
            if old is new or old == new:
                continue
            drawn = self.drawing.joiners.get(old.span)
            if drawn is None:
                raise NoWordsError
            for joiner, was, now in zip(drawn, old.pairs, new.pairs, strict=True):
                for pin, before, to in zip(joiner.pins, was[:2], now[:2], strict=True):
                    if before != to:
                        self.wire(pin_of(joiner.reference, pin), self.at(to))
                if was[2] != now[2]:
                    self.exchange(joiner, insulated=now[2])

    def _refeed(self, number: int, source: str, wires: Wires) -> None:
        """Wires of a feed: parts that lie on the same rail or pole are wired anew, those that are left are drawn."""
        feed = self.layout.feeds[number]
        entry = self.drawing.feeds.get(feed.span, ())
        parts = {}
        for pole, rail in feed.wires:
            found = [w for w in entry if w.rail == rail]
            if not found:
                raise NoWordsError
            parts[pole, rail] = found[0]
        left = dict(parts)
        wanted = list(wires)
        for pole, rail in [w for w in wanted if w in left]:
            self._source(left.pop((pole, rail)), source, feed.source)
            wanted.remove((pole, rail))
        for pole, rail in wanted:
            key = next((k for k in left if k[0] == pole), None) or next((k for k in left if k[1] == rail), None)
            if key is None:
                self._draw_feed(source, pole, rail)
                continue
            part = left.pop(key)
            if key[1] != rail:
                self.wire(pin_of(part.reference, part.rail_pin), self.at(rail))
            if key[0] != pole:
                self.wire(pin_of(part.reference, part.pole_pin), self.at(pole, source))
            self._source(part, source, feed.source)
        self.taken_out += [part.reference for part in left.values()]

    def _source(self, part: DrawnFeed, source: str, before: str) -> None:
        """The bus that a feed comes from, where its net alone does not say which."""
        if source != before and self.shares(source):
            self.write("from", part.reference, source)

    def _draw_feed(self, source: str, pole: str, rail: str, more: Mapping[str, str] = MappingProxyType({})) -> None:
        fields = {"from": source if self.shares(source) else ""}
        self.draw("feed", {**fields, **more}, {"1": self.at(pole, source), "2": self.at(rail)})

    def _wire_contact(self, contact: Contact, place: str, to: str, bus: str) -> None:
        """Another terminal at a pin of a contact, or at the far end of the lead that takes it to a pole."""
        lead = self.drawing.leads.get(contact.terminal(place))
        is_pole = Terminal.of(to).own in {"A", "B"} and Terminal.of(to).owner not in self.layout.pieces
        if self.shares(bus):
            self.write(f"terminal-{place}", self.part(contact.span), named(bus, Terminal.of(to).own))
        if lead is not None and is_pole:
            self.wire(pin_of(*lead), self.at(to, bus))
            return
        if lead is not None:
            self.taken_out.append(lead[0])
        self.wire(self.own(contact, place), self.at(to, bus))

    def _rewire(self, contact: Contact, change: Rewire) -> None:
        old = dict(zip((p for p, _ in contact.throws), contact.buses[1:], strict=False))
        now = dict(contact.throws)
        for (position, to), bus in zip(change.throws, change.buses, strict=True):
            if to == now.get(position) and (bus or "") == old.get(position, ""):
                continue
            lead = self.drawing.leads.get(contact.terminal(position))
            if to is None and lead is not None:
                self.taken_out.append(lead[0])
            elif to is None:
                self.unwired.append(self.own(contact, position))
            else:
                self._wire_contact(contact, position, to, bus)

    def _add_contact(self, contact: Contact) -> None:
        positions = tuple(position for position, _ in contact.throws)
        library = self.layout.library
        symbols = {} if library is None else {set_: name for name, set_ in reversed(contact_positions(library).items())}
        symbol = next((name for there, name in symbols.items() if {*there} == {*positions}), "")
        pins: Iterable[str] = positions
        if not symbol:
            symbol, pins = f"contact-{len(positions)}", [str(n) for n in range(1, len(positions) + 1)]
        wires = {"common": self.at(contact.common or "")}
        wires |= {pin: self.at(to) for pin, (_, to) in zip(pins, contact.throws, strict=True) if to is not None}
        self.draw(symbol, {"moved-by": contact.owner}, wires)

    def _take_out(self, change: TakeOut) -> None:
        layout, number = self.layout, change.number
        match change.section:
            case "feeds":
                feed = layout.feeds[number]
                rails = {rail for _, rail in feed.wires}
                parts = [w.reference for w in self.drawing.feeds.get(feed.span, ()) if w.rail in rails]
                if not parts:
                    raise NoWordsError
                self.taken_out += parts
            case "links" if not self.drawing.links[number]:
                link = layout.links[number]
                a, b = (self.at(end, bus) for end, bus in zip(link.ends, link.buses, strict=True))
                self.parted.append(f"part {a} from {b}, which lie on one net")
            case "links":
                self.taken_out.append(self.drawing.links[number])
            case "contacts" | "pins":
                self.taken_out.append(self.part(getattr(layout, change.section)[number].span))
            case "expectations":
                self._expect([e for n, e in enumerate(layout.expectations) if n != number])
            case _:
                raise NoWordsError

    def _addpin_of(self, pin: Pin) -> None:
        fields = {"name": pin.full, "optional": "" if pin.variable is None else "true"}
        wires = {}
        for number, end, bus in zip("12", pin.ends, pin.buses, strict=True):
            wires[number] = self.at(end, bus)
            fields[f"terminal-{number}"] = named(bus, Terminal.of(end).own) if self.shares(bus) else ""
        self.draw("plug-pin", fields, wires)

    def _pair(
        self, reference: str, part: Component | Link | Pin, ends: tuple[str, str], buses: tuple[str, str]
    ) -> None:
        """Other terminals at the two pins of a part."""
        old = zip(part.ends, part.buses, strict=True)
        for pin, was, end, bus in zip("12", old, ends, buses, strict=True):
            if end != was[0]:
                self.wire(pin_of(reference, pin), self.at(end, bus))
            if (end, bus) != was and self.shares(bus):
                self.write(f"terminal-{pin}", reference, named(bus, Terminal.of(end).own))

    def _relink(self, change: Relink) -> None:
        link = self.layout.links[change.link]
        reference = self.drawing.links[change.link]
        if reference:
            self._pair(reference, link, change.ends, change.buses)
            return
        for side in (0, 1):
            if change.ends[side] != link.ends[side]:
                stays = self.at(link.ends[1 - side], link.buses[1 - side])
                gone = self.at(link.ends[side], link.buses[side])
                self.parted.append(f"part {stays} from {gone}")
                self.wire(stays, self.at(change.ends[side], change.buses[side]))

    def _add_reverser(self, new: Reverser) -> None:
        fields = {"name": new.name}
        if not new.automatic:
            owner = new.variable or ""
            positions = self.positions.get(owner) or self.layout.variables[owner].positions
            fields |= {"follows": owner, "straight": listed([positions[v] for v in new.straight])}
        pins = {f"in-{letter}": self.at(pole, new.bus) for letter, pole in zip("AB", new.inputs, strict=True)}
        self.draw("automatic-reverser" if new.automatic else "following-reverser", fields, pins)
        self.new |= {output: pin_of(new.name, Terminal.of(output).own) for output in new.outputs}

    def _rebus(self, change: Rebus) -> None:
        device = getattr(self.layout, change.section)[change.name]
        pins = ("in-A", "in-B") if change.section == "reversers" else ("A", "B")
        reference = self.part(device.span)
        for pin, pole, was in zip(pins, change.inputs, device.inputs, strict=True):
            if pole != was:
                self.wire(pin_of(reference, pin), self.at(pole, change.bus))
        if self.shares(change.bus):
            self.write("from", reference, change.bus)

    def _expect(self, entries: list[Expectation]) -> None:
        """What is meant, as the field of the part `layout` has it."""
        ref = next((part.reference for part in self.drawing.parts.values() if part.symbol == "layout"), None)
        if ref is None:
            raise NoWordsError
        loads = [c.name for c in self.layout.components.values() if c.kind == "load"]
        self.write("expect", ref, field_text([expectation_value(e, loads) for e in entries]))
