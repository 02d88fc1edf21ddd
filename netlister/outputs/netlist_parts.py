"""The parts of a layout and the nets that their pins lie on: what a netlist holds, before anything writes it.

A *net* is what is joined by nothing but a connection: the terminals of one node of the circuit, with the leads of
contacts and the bonds inside a piece. Everything else that conducts is a part with two pins: a metal joiner, a
feed, a wire, a component, a pin of a plug. A pole is a net of its own, and what taps it taps it through a part: the
lead of a contact that goes to a pole is a wire like any other. So contracting the parts that always conduct, poles
apart, gives the nets that the checks work on.

Reference letters are those of `layout.devices`.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import PurePath
from typing import TYPE_CHECKING

from netlister.layout.schema import BLOCKING, BUS, COMPONENT, COMPONENTS, FEED, LINK, SUPPLY
from netlister.layout.terminal import Terminal, named
from netlister.outputs.netlist_draft import ALWAYS, AUTOMATIC, NEVER, PASSES, TRACK, WIRING, Drafts, NetlistPart
from netlister.outputs.netlist_fields import (
    amount,
    entry_fields,
    filled,
    listed,
    sets_text,
    wire_fields,
)
from netlister.outputs.netlist_nets import own_terminals
from netlister.outputs.netlist_pinless import lone_plugs, machines, whole_layout

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit
    from netlister.layout.model import Contact, Joint, Piece
    from netlister.source import Span


def parts(circuit: Circuit) -> list[NetlistPart]:
    """The parts of a circuit, in the order of the layout's sections and entries."""
    numbers: dict[str, int] = defaultdict(int)
    tags: dict[str, int] = defaultdict(int)
    found = []
    allowed = {f"{PurePath(a.span.file).name}:{a.span.line}": f"{a.rule}: {a.reason}" for a in circuit.layout.allows}
    told: set[str] = set()
    for made in _Parts(circuit).all():
        draft = made  # its reference is a letter as yet
        place = dict(draft.fields).get("Place", "")
        if place not in told and place.rpartition(":")[0] in allowed:
            draft = draft._replace(fields=(*draft.fields, ("Allow", allowed[place.rpartition(":")[0]])))
        told.add(place)
        numbers[draft.reference] += 1
        tags[draft.tag] += 1
        again = tags[draft.tag]
        tag = draft.tag if again == 1 else f"{draft.tag} #{again}"
        found.append(draft._replace(reference=f"{draft.reference}{numbers[draft.reference]}", tag=tag))
    return found


def wired(circuit: Circuit) -> list[NetlistPart]:
    """The parts that have pins: what can be drawn. The others say what moves and what is meant."""
    return [part for part in parts(circuit) if part.pins]


class _Parts(Drafts):
    """Drafts the parts of a circuit."""

    def all(self) -> Iterator[NetlistPart]:
        """Every part."""
        yield from self.supplies()
        yield from self.buses()
        for piece in self.layout.pieces.values():
            yield self.piece(piece)
        for joint in self.layout.joints:
            yield from self.joint(joint)
        yield from self.feeds()
        for contact in self.layout.contacts:
            yield self.contact(contact)
            yield from self.leads(contact)
        yield from self.reversers()
        yield from self.units()
        yield from self.components()
        yield from self.plugs()
        yield from self.wires()
        yield from machines(self)
        yield from lone_plugs(self)
        yield from self.terminals()
        yield from whole_layout(self)

    # ---- sections of the layout

    def supplies(self) -> Iterator[NetlistPart]:
        """A supply: pins A and B. Poles that a common return ties lie on one net."""
        for supply in self.layout.supplies.values():
            voltage = amount(supply.voltage, "V")
            fields = entry_fields(
                SUPPLY,
                supply,
                resistance=amount(supply.resistance or None, "ohm"),
                positive=supply.positive if supply.type == "dc" else "",
                type="" if supply.type == "ac" else supply.type,
                output="programming" if supply.programming else "",
            )
            pins = self.nets(zip("AB", supply.poles, strict=True))
            head = self.head(supply.name, supply.span)
            value = f"{supply.type} {voltage}"
            yield NetlistPart("G", WIRING, "supply", value, f"supply {supply.name}", head + fields, pins)

    def buses(self) -> Iterator[NetlistPart]:
        """A bus that the layout describes: pins A and B, on the nets of its poles."""
        for bus in self.layout.buses.values():
            if bus.implicit:
                continue
            fields = entry_fields(BUS, bus, **wire_fields(bus.wire), **{"from": bus.parent, "colours": ""})
            fields += tuple((f"Colour {letter}", colour) for letter, colour in bus.colours)
            pins = self.nets(zip("AB", bus.poles, strict=True))
            head = self.head(bus.name, bus.span)
            yield NetlistPart("W", WIRING, "bus", bus.wire.text or "bus", f"bus {bus.name}", head + fields, pins)

    def piece(self, piece: Piece) -> NetlistPart:
        """A piece of track: a pin per rail."""
        kind = piece.kind
        pins = [(rail, piece.terminal(rail)) for rail in kind.rails]
        options = [f"{name}={value}" for name, value in piece.written.items() if name not in {"hand", "length"}]
        fields = filled(
            ("Length", amount(piece.length, "m")),
            ("Options", ", ".join(options)),
        )
        fields = self.head(piece.name, piece.span) + fields + self.conducts("blade", piece.name, None, pins)
        sets = {track: [dict(cube) for cube in cubes] for track, cubes in piece.sets.items()}
        fields += filled(("Hand", kind.hand), ("Set", sets_text(sets)))
        value = f"{kind.name} {kind.hand}".rstrip()
        letter = "Y" if kind.bladed else "L"
        return NetlistPart(letter, TRACK, kind.name, value, f"track {piece.name}", fields, self.nets(pins))

    def joint(self, joint: Joint) -> Iterator[NetlistPart]:
        """A joint: a joiner for each of its two rails."""
        head = self.head(joint.name, joint.span)
        for side, (start, end, insulated) in zip(("left", "right"), joint.pairs, strict=True):
            fields = filled(
                *head,
                ("Rail", side),
                ("Conducts", NEVER if insulated else ALWAYS),
                ("From", ".".join(joint.start)),
                ("To", ".".join(joint.end)),
                ("Insulate", joint.insulate if joint.insulate == "vee" else ""),
            )
            draft = self.pair(f"{'insulated' if insulated else 'metal'} joiner", joint.name, (start, end), fields)
            yield draft._replace(tag=f"joint {joint.name} {side}")

    def feeds(self) -> Iterator[NetlistPart]:
        """A feed: a wire per pole, from the pole to the rail."""
        entries: dict[Span, str] = {}
        for feed in self.layout.feeds:
            fields = filled(
                *self.head(feed.name, feed.span),
                *entry_fields(FEED, feed, **wire_fields(feed.wire), **{"from": feed.source, "to": ""}),
            )
            entry = entries.setdefault(feed.span, str(len(entries) + 1))
            for ends in feed.wires:
                more = (("Entry", entry), ("To", feed.target), ("Rail", Terminal.of(ends[1]).own))
                yield self.pair("feed", feed.name, ends, fields + more, feed.wire.text)

    def contact(self, contact: Contact) -> NetlistPart:
        """A contact: pins common and one per throw."""
        owner = contact.full
        places = dict.fromkeys(["common", *(position for position, _ in contact.throws)])
        pins = [(place, named(owner, place)) for place in places]
        fields = (
            *self.head(owner, contact.span, contact.owner),
            ("Moved by", contact.owner),
            *filled(("Type", self.layout.types.get(contact.owner, ""))),
            ("Action", contact.action),
            *self.conducts("contact", owner, contact, pins),
            *self.written(places, (contact.common, *(t for _, t in contact.throws)), contact.buses, contact.ends_at),
        )
        value = f"{contact.action} contact"
        return NetlistPart(
            self.contact_letter(contact), WIRING, "contact", value, f"contact {owner}", fields, self.nets(pins)
        )

    def leads(self, contact: Contact) -> Iterator[NetlistPart]:
        """The leads of a contact that go to a pole."""
        owner = contact.full
        poles = len(self.circuit.poles)
        for place, terminal in (("common", contact.common), *contact.throws):
            if terminal is not None and self.circuit.node[terminal] < poles:
                fields = self.head(owner, contact.span, contact.owner)
                yield self.pair("lead", owner, (terminal, named(owner, place)), fields)

    def reversers(self) -> Iterator[NetlistPart]:
        """A reverser: pins in-A and in-B on its bus, A and B its outputs."""
        for reverser in self.layout.reversers.values():
            pins = [
                *zip(("in-A", "in-B"), reverser.inputs, strict=True),
                *zip(("A", "B"), reverser.outputs, strict=True),
            ]
            says = self.conducts("reverser", reverser.name, None, pins)
            if reverser.automatic:
                says = (("Conducts", AUTOMATIC),)
            fields = (*self.head(reverser.name, reverser.span), ("From", reverser.bus), *says)
            if reverser.automatic:
                fields += filled(("Mode", "automatic"), ("Time", amount(reverser.time, "s")))
            elif reverser.variable is not None:
                positions = self.layout.variables[reverser.variable].positions
                straight = listed([positions[value] for value in reverser.straight])
                fields += (("Follows", reverser.variable), ("Straight", straight))
            value = "automatic reverser" if reverser.automatic else "following reverser"
            yield NetlistPart("Q", WIRING, value, value, f"reverser {reverser.name}", fields, self.nets(pins))

    def units(self) -> Iterator[NetlistPart]:
        """A frog unit: pins A and B on its bus, frog on its frog."""
        for unit in self.layout.units.values():
            pins = self.nets((*zip("AB", unit.inputs, strict=True), ("frog", unit.frog)))
            fields = (*self.head(unit.name, unit.span), ("Conducts", AUTOMATIC))
            fields += filled(
                ("From", unit.bus), ("Time", amount(unit.time, "s")), *self.written(["frog"], [unit.frog], [""], [""])
            )
            yield NetlistPart("Q", WIRING, "frog unit", "frog unit", f"frog unit {unit.name}", fields, pins)

    def components(self) -> Iterator[NetlistPart]:
        """A two-terminal part."""
        for component in self.layout.components.values():
            kind = component.kind
            rating = amount(component.rating, COMPONENTS[kind].rating.si)
            said = dict(entry_fields(COMPONENT, component, rating=rating))
            fields = filled(
                *self.head(component.name, component.span),
                *((title, said.pop(title, "")) for title in ("Rating", "Resistance")),
                ("Conducts", NEVER if kind in BLOCKING else ""),
                *said.items(),
                *self.written("12", component.ends, component.buses, component.ends_at),
            )
            yield self.pair(kind, component.name, component.ends, fields)

    def plugs(self) -> Iterator[NetlistPart]:
        """A pin of a plug: a part with a pin on either side."""
        for pin in self.layout.pins:
            name = pin.full
            fields = filled(*self.head(name, pin.span, pin.plug), ("Plug", pin.plug), ("Pin", pin.pin))
            fields += self.written("12", pin.ends, pin.buses, pin.ends_at)
            if pin.variable is not None:
                (conductor,) = self.sometimes["plug", name, pin]
                says = f"{PASSES} while {self.condition(conductor.when)}"
                fields = (*fields, ("Conducts", says), ("Optional", "true"))
            yield self.pair("plug pin", name, pin.ends, fields)

    def wires(self) -> Iterator[NetlistPart]:
        """An entry of the wires."""
        for link in self.layout.links:
            fields = (*self.head(link.name, link.span), *entry_fields(LINK, link, **wire_fields(link.wire)))
            fields += self.written("12", link.ends, link.buses, link.ends_at)
            yield self.pair("wire", link.name, link.ends, fields, link.wire.text)

    def terminals(self) -> Iterator[NetlistPart]:
        """A free junction, such as a screw of a terminal strip."""
        circuit = self.circuit
        taken = {*circuit.rails, *range(len(circuit.poles)), *own_terminals(circuit)}
        taken |= {circuit.node[output] for r in self.layout.reversers.values() for output in r.outputs}
        for node, name in enumerate(circuit.names):
            if node not in taken:
                boards = ", ".join(self.board.get(Terminal.of(name).owner, ()))
                fields = filled(("Name", name), ("Board", boards))
                pins = self.nets([("1", name)])
                yield NetlistPart("X", WIRING, "terminal", "terminal", f"terminal {name}", fields, pins)
