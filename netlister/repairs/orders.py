"""Changes of a layout as orders to whoever draws: parts by reference, wires from pin to pin, fields by name."""

from __future__ import annotations

from collections import defaultdict
from types import MappingProxyType
from typing import TYPE_CHECKING

from netlister.edits.feeds import metres
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
from netlister.outputs.netlist_fields import expectation_value, flow, listed
from netlister.outputs.symbols import contact_positions
from netlister.repairs.words import joined

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from netlister.edits.model import Change, Wires
    from netlister.layout.drawing import DrawnAs, DrawnFeed, DrawnJoiner, DrawnLayout
    from netlister.layout.model import Component, Contact, Expectation, Layout, Link, Pin, Reverser
    from netlister.source import Span

_METAL, _INSULATED = "metal joiner", "insulated joiner"


class NoWordsError(Exception):
    """A change of something that the drawing does not have as a part of its own."""


class Orders:
    """Gathers what is to be done, by kinds of work."""

    def __init__(self, layout: Layout, drawing: DrawnLayout) -> None:
        self.layout, self.drawing = layout, drawing
        self.exchanged: dict[str, list[str]] = defaultdict(list)
        self.taken_out: list[str] = []
        self.parted: list[str] = []
        self.drawn: list[str] = []
        self.wired: list[str] = []
        self.unwired: list[str] = []
        self.written: list[str] = []
        self.new: dict[str, str] = {}  # terminals of what is drawn anew
        self.positions: dict[str, tuple[str, ...]] = {}  # of switches that are drawn anew

    def text(self) -> str:
        """All of it as a sentence."""
        said = [
            f"exchange {joined(refs)} for {'an ' if kind == _INSULATED else 'a '}{kind}"
            if len(refs) == 1
            else f"exchange {joined(refs)} for {kind}s"
            for kind, refs in self.exchanged.items()
        ]
        said += [f"take out {joined(self.taken_out)}"] if self.taken_out else []
        said += self.parted
        said += self.drawn
        said += [f"wire {joined(self.wired)}"] if self.wired else []
        said += [f"leave {joined(self.unwired)} open"] if self.unwired else []
        said += self.written
        return "; ".join(said)

    def take(self, change: Change) -> None:
        """Note a change."""
        layout = self.layout
        match change:
            case Insulate():
                pair = self.drawing.joiners.get(layout.joints[change.joint].span)
                if pair is None:
                    raise NoWordsError
                self._exchange(pair[change.side], insulated=change.insulated)
            case Refeed():
                self._refeed(change.feed, change.source, change.wires)
            case AddFeed():
                feed = change.feed
                places = {"at": feed.at, "tap": feed.tap, "length": feed.wire.length}
                fields = {name: "" if place is None else metres(place) for name, place in places.items()}
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
                    self._write("wire", reference, change.wire.text)
            case _:
                self._take_gear(change)

    def _take_gear(self, change: Change) -> None:
        """Note a change of gear."""
        layout = self.layout
        match change:
            case AddPin():
                self._add_pin(change.pin)
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
                self._draw("switch", {"name": new.name, "positions": listed(new.positions)}, {})
                self.positions[new.name] = new.positions
            case AddUnit(new):
                letters = {letter: self.at(pole, new.bus) for letter, pole in zip("AB", new.inputs, strict=True)}
                self._draw("frog-unit", {"name": new.name}, {**letters, "frog": self.at(new.frog)})
            case AddLink(new):
                ends = zip("12", new.ends, new.buses, strict=True)
                self._draw("wire", {}, {pin: self.at(end, bus) for pin, end, bus in ends})
            case AddExpectation():
                self._expect([*layout.expectations, change.expectation])
            case Straighten():
                this = layout.reversers[change.name]
                positions = layout.variables[this.variable or ""].positions
                self._write("straight", self.part(this.span), listed([positions[v] for v in change.straight]))
            case Rebus():
                self._rebus(change)
            case Tie():
                other, letter = Terminal.of(change.to)
                one, two = (self.part(layout.supplies[name].span) for name in (change.supply, other))
                self.written.append(f"join the nets of {_pin(one, letter)} and {_pin(two, letter)}")
            case Reexpect():
                entries = list(layout.expectations)
                entries[change.number] = entries[change.number]._replace(when=change.when)
                self._expect(entries)
            case _:
                raise NoWordsError

    # ---- what is there

    def _of_wire(self, change: Thicken | ThickenWire) -> list[str]:
        """The parts that are a bus, a wire, or the wires of a feed."""
        if isinstance(change, Thicken):
            return [self.part(self.layout.buses[change.bus].span)]
        if change.section == "links":
            return [self.part(self.layout.links[change.number].span)]
        feed = self.layout.feeds[change.number]
        rails = {rail for _, rail in feed.wires}
        return [part.reference for part in self.drawing.feeds.get(feed.span, ()) if part.rail in rails]

    def part(self, span: Span) -> str:
        """The reference of the part that an entry was."""
        return self.as_drawn(span).reference

    def as_drawn(self, span: Span) -> DrawnAs:
        """The part that an entry was."""
        found = self.drawing.parts.get(span)
        if found is None:
            raise NoWordsError
        return found

    def at(self, terminal: str, bus: str = "") -> str:
        """A terminal as a pin, or as a net where it is no more than that."""
        layout = self.layout
        if terminal in self.new:
            return self.new[terminal]
        owner, own = Terminal.of(terminal)
        if owner in layout.supplies and own in {"A", "B"}:
            if bus in layout.buses and not layout.buses[bus].implicit and layout.buses[bus].span in self.drawing.parts:
                return _pin(self.part(layout.buses[bus].span), own)
            return _pin(self.part(layout.supplies[owner].span), own)
        for section in (layout.pieces, layout.reversers):
            if owner in section and own:
                return _pin(self.part(section[owner].span), own)
        if terminal in self.drawing.screws:
            return _pin(self.drawing.screws[terminal], "1")
        drawn = self.drawing.names.get(terminal, "")
        if drawn.startswith("net "):
            return drawn
        if drawn:
            reference, pin = Terminal.of(drawn)
            return _pin(reference, pin)
        return f"net {terminal.removeprefix('net ')}"

    def _own(self, contact: Contact, place: str) -> str:
        """A pin of a contact."""
        drawn = self.drawing.names.get(contact.terminal(place))
        if drawn is not None:
            reference, pin = Terminal.of(drawn)
            return _pin(reference, pin)
        part = self.as_drawn(contact.span)
        pins = contact_positions(self.layout.library).get(part.symbol) if self.layout.library else None
        positions = [position for position, _ in contact.throws]
        if pins is not None and place != "common" and place not in pins and len(pins) >= len(positions):
            place = pins[positions.index(place)]  # the pins are numbered
        return _pin(part.reference, place)

    # ---- what is done

    def _wire(self, pin: str, to: str) -> None:
        self.wired.append(f"{pin} to {to}")

    def _exchange(self, joiner: DrawnJoiner, *, insulated: bool) -> None:
        self.exchanged[_INSULATED if insulated else _METAL].append(joiner.reference)

    def _set_option(self, change: SetOption) -> None:
        """Another hand or option. Where ends come to have other rails, what is drawn at these is drawn at those."""
        layout = self.layout
        after = apply((change,), layout)
        piece = layout.pieces[change.piece]
        self._write(change.option, self.part(piece.span), change.value)
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
                        self._wire(_pin(joiner.reference, pin), self.at(to))
                if was[2] != now[2]:
                    self._exchange(joiner, insulated=now[2])

    def _write(self, field: str, reference: str, value: str) -> None:
        self.written.append(f"write '{value}' into the field '{_title(field)}' of {reference}")

    def _draw(self, symbol: str, fields: Mapping[str, str], pins: Mapping[str, str]) -> None:
        """A part more. `pins`: what each is wired to."""
        article = "an" if symbol[0] in "aeiou" else "a"
        said = [f"'{_title(name)}' {value}" for name, value in fields.items() if value]
        wires = [f"pin {pin} to {to}" for pin, to in pins.items()]
        text = f"draw {article} '{symbol}'"
        text += f" with {joined(said)}" if said else ""
        self.drawn.append(f"{text}, {joined(wires)}" if wires else text)

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
                self._wire(_pin(part.reference, part.rail_pin), self.at(rail))
            if key[0] != pole:
                self._wire(_pin(part.reference, part.pole_pin), self.at(pole, source))
            self._source(part, source, feed.source)
        self.taken_out += [part.reference for part in left.values()]

    def _source(self, part: DrawnFeed, source: str, before: str) -> None:
        """The bus that a feed comes from, where its net alone does not say which."""
        if source != before and self._shares(source):
            self._write("from", part.reference, source)

    def _shares(self, source: str) -> bool:
        """Whether a bus lies on the nets of others."""
        bus = self.layout.buses.get(source)
        return bus is not None and sum(other.supply == bus.supply for other in self.layout.buses.values()) > 1

    def _draw_feed(self, source: str, pole: str, rail: str, more: Mapping[str, str] = MappingProxyType({})) -> None:
        fields = {"from": source if self._shares(source) else ""}
        self._draw("feed", {**fields, **more}, {"1": self.at(pole, source), "2": self.at(rail)})

    def _wire_contact(self, contact: Contact, place: str, to: str, bus: str) -> None:
        """Another terminal at a pin of a contact, or at the far end of the lead that takes it to a pole."""
        lead = self.drawing.leads.get(contact.terminal(place))
        is_pole = Terminal.of(to).own in {"A", "B"} and Terminal.of(to).owner not in self.layout.pieces
        if self._shares(bus):
            self._write(f"terminal-{place}", self.part(contact.span), named(bus, Terminal.of(to).own))
        if lead is not None and is_pole:
            self._wire(_pin(*lead), self.at(to, bus))
            return
        if lead is not None:
            self.taken_out.append(lead[0])
        self._wire(self._own(contact, place), self.at(to, bus))

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
                self.unwired.append(self._own(contact, position))
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
        self._draw(symbol, {"moved-by": contact.owner}, wires)

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

    def _add_pin(self, pin: Pin) -> None:
        fields = {"name": pin.full, "optional": "" if pin.variable is None else "true"}
        wires = {}
        for number, end, bus in zip("12", pin.ends, pin.buses, strict=True):
            wires[number] = self.at(end, bus)
            fields[f"terminal-{number}"] = named(bus, Terminal.of(end).own) if self._shares(bus) else ""
        self._draw("plug-pin", fields, wires)

    def _pair(
        self, reference: str, part: Component | Link | Pin, ends: tuple[str, str], buses: tuple[str, str]
    ) -> None:
        """Other terminals at the two pins of a part."""
        old = zip(part.ends, part.buses, strict=True)
        for pin, was, end, bus in zip("12", old, ends, buses, strict=True):
            if end != was[0]:
                self._wire(_pin(reference, pin), self.at(end, bus))
            if (end, bus) != was and self._shares(bus):
                self._write(f"terminal-{pin}", reference, named(bus, Terminal.of(end).own))

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
                self._wire(stays, self.at(change.ends[side], change.buses[side]))

    def _add_reverser(self, new: Reverser) -> None:
        fields = {"name": new.name}
        if not new.automatic:
            owner = new.variable or ""
            positions = self.positions.get(owner) or self.layout.variables[owner].positions
            fields |= {"follows": owner, "straight": listed([positions[v] for v in new.straight])}
        pins = {f"in-{letter}": self.at(pole, new.bus) for letter, pole in zip("AB", new.inputs, strict=True)}
        self._draw("automatic-reverser" if new.automatic else "following-reverser", fields, pins)
        self.new |= {output: _pin(new.name, Terminal.of(output).own) for output in new.outputs}

    def _rebus(self, change: Rebus) -> None:
        device = getattr(self.layout, change.section)[change.name]
        pins = ("in-A", "in-B") if change.section == "reversers" else ("A", "B")
        reference = self.part(device.span)
        for pin, pole, was in zip(pins, change.inputs, device.inputs, strict=True):
            if pole != was:
                self._wire(_pin(reference, pin), self.at(pole, change.bus))
        if self._shares(change.bus):
            self._write("from", reference, change.bus)

    def _expect(self, entries: list[Expectation]) -> None:
        """What is meant, as the field of the part `layout` has it."""
        ref = next((part.reference for part in self.drawing.parts.values() if part.symbol == "layout"), None)
        if ref is None:
            raise NoWordsError
        loads = [c.name for c in self.layout.components.values() if c.kind == "load"]
        self._write("expect", ref, flow([expectation_value(e, loads) for e in entries]))


def _pin(reference: str, pin: str) -> str:
    return f"{reference} pin {pin}"


def _title(field: str) -> str:
    return field.replace("-", " ").capitalize()
