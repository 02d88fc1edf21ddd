"""Pins of plugs, and wires, that are exchanged, on the wrong pole or forgotten."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from netlister.circuit.districts import districts
from netlister.edits.gear import AddPin, Relink, Repin
from netlister.edits.model import AddContact, TakeOut
from netlister.layout.model import Pin
from netlister.layout.terminal import Terminal, named
from netlister.repairs.choices.common import MOST_PARTNERS
from netlister.repairs.choices.contacts import contacts_for
from netlister.repairs.model import choice

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.edits.model import Change
    from netlister.layout.model import Component, Link
    from netlister.repairs.choices.places import EntryPlaces
    from netlister.repairs.model import Choice

    Ends = tuple[str, str]


def at_pin(places: EntryPlaces, number: int) -> Iterator[Choice]:
    """What may be wrong with a pin of a plug."""
    pin = places.layout.pins[number]
    mates = [n for n, other in enumerate(places.layout.pins) if other.plug == pin.plug and n != number]
    for other in mates[:MOST_PARTNERS]:
        yield _swapped_pins(places, *sorted((number, other)))
    for side, end in enumerate(pin.ends):
        headline = f"pin {pin.pin} of the plug '{pin.plug}' is wired to {places.pole(end, pin.buses[side])}"
        yield from _elsewhere(places, pin, side, partial(Repin, number), (headline, headline))


def _elsewhere(
    places: EntryPlaces, part: Pin | Link, side: int, change: Callable[[Ends, Ends], Change], headlines: tuple[str, str]
) -> Iterator[Choice]:
    """One end of a pin or wire on the other pole, or on the same pole of another district: what is said of each."""
    pole, district = headlines
    for ends, buses, now in on_other_pole(places, part, side):
        yield choice("pin-pole", (change(ends, buses),), pole, f"wire it to {now}", part.span)
    end = part.ends[side]
    for bus in _other_districts(places, end, part.buses[side]):
        buses = (bus, part.buses[1]) if side == 0 else (part.buses[0], bus)
        say = f"wire it to {places.pole(end, bus)}"
        yield choice("pin-pole", (change(part.ends, buses),), district, say, part.span)


def _other_districts(places: EntryPlaces, end: str, bus: str) -> Iterator[str]:
    """The buses of other districts that have a pole which is taken from a bus."""
    label = districts(places.layout)
    for other in places.layout.buses.values() if bus and label else ():
        if end in other.poles and label.get(other.name, "") != label.get(bus, ""):
            yield other.name


def _swapped_pins(places: EntryPlaces, first: int, second: int) -> Choice:
    one, two = places.layout.pins[first], places.layout.pins[second]
    edit = (
        Repin(first, (one.ends[0], two.ends[1]), (one.buses[0], two.buses[1])),
        Repin(second, (two.ends[0], one.ends[1]), (two.buses[0], one.buses[1])),
    )
    (a, b), (c, d) = ([places.pole(e, bus) for e, bus in zip(p.ends, p.buses, strict=True)] for p in (one, two))
    fix = f"exchange them on one side: pin {one.pin} joins {a} to {d}, pin {two.pin} joins {c} to {b}"
    return choice(
        "pins-swapped", edit, f"pins {one.pin} and {two.pin} of the plug '{one.plug}' are swapped", fix, one.span
    )


def new_pins(places: EntryPlaces, piece: str) -> Iterator[Choice]:
    """A pin that a plug lacks, to a junction that is wired to a rail of the piece, or to the rail itself."""
    if not places.layout.pins or places.feeds_of.get(piece):
        return
    rails = [named(piece, rail) for rail in places.layout.pieces[piece].kind.rails]
    strips = []
    for rail in rails:
        for section, key in places.at.get(rail, ()):
            if section == "links":
                link = places.layout.links[int(key)]
                strips += [e for e in link.ends if e != rail]
    plugs: dict[str, Pin] = {}
    for pin in places.layout.pins:
        plugs.setdefault(pin.plug, pin)
    targets = strips or (rails if places.layout.pieces[piece].kind.plain else [])
    for plug, like in plugs.items():
        taken = {p.pin for p in places.layout.pins if p.plug == plug}
        free = next(str(n) for n in range(1, 999) if str(n) not in taken)
        for target in dict.fromkeys(targets):
            if any(target in p.ends for p in places.layout.pins):
                continue
            for source in [s for s in places.sources() if s not in places.layout.reversers]:
                for pole in places.poles_of(source):
                    pin = Pin(plug, free, (pole, target), like.variable, like.span, (source, ""))
                    say = f"add a pin that joins {places.pole(pole, source)} to {target}"
                    headline = f"the plug '{plug}' has no pin for {target}"
                    yield choice("pin-missing" if strips else "pin-new", (AddPin(pin),), headline, say, like.span)


def at_link(places: EntryPlaces, number: int) -> Iterator[Choice]:
    """What may be wrong with a wire."""
    link = places.layout.links[number]
    a, b = (places.pole(e, bus) for e, bus in zip(link.ends, link.buses, strict=True))
    yield from _one_contact_for_two(places, number, link)
    for other in range(min(len(places.layout.links), MOST_PARTNERS)):
        if other != number and _on_poles(places, link) == _on_poles(places, places.layout.links[other]):
            yield _exchanged_links(places, *sorted((number, other)))
    wire = f"the wire from {a} to {b}"
    for side in (0, 1):
        headlines = f"{wire} is on the wrong pole", f"{wire} comes from another district"
        yield from _elsewhere(places, link, side, partial(Relink, number), headlines)
    headline = f"{wire} joins what must stay apart"
    yield choice("wire-out", (TakeOut("links", number),), headline, "take this wire out", link.span)


def _on_poles(places: EntryPlaces, link: Link) -> int:
    """How many ends of a wire are on a pole: wires of one kind lie beside each other."""
    return sum(1 for end in link.ends if places.other_poles(end))


def _exchanged_links(places: EntryPlaces, first: int, second: int) -> Choice:
    one, two = places.layout.links[first], places.layout.links[second]
    edit = (
        Relink(first, (one.ends[0], two.ends[1]), (one.buses[0], two.buses[1])),
        Relink(second, (two.ends[0], one.ends[1]), (two.buses[0], one.buses[1])),
    )
    (a, b), (c, d) = ([places.pole(e, bus) for e, bus in zip(w.ends, w.buses, strict=True)] for w in (one, two))
    headline = f"the wires from {a} and {c} are exchanged at their far ends"
    return choice("wires-exchanged", edit, headline, f"wire {a} to {d}, and {c} to {b}", one.span)


def _one_contact_for_two(places: EntryPlaces, number: int, link: Link) -> Iterator[Choice]:
    """Two frogs joined by a wire and fed by one contact."""
    served = {contact.common for contact in places.layout.contacts}
    for end, other in (link.ends, link.ends[::-1]):
        name, rail = Terminal.of(end)
        piece = places.layout.pieces.get(name)
        if piece is None or rail not in piece.kind.frogs or end in served:
            continue
        for contact in contacts_for(places, piece, end):
            wires = ", ".join(f"{position} to {to}" for position, to in contact.throws)
            headline = f"the wire from {end} to {other} feeds two frogs through one contact, and they need unlike poles"
            say = (
                f"take this wire out and give {end} a contact of its own that moves with '{contact.variable}': "
                f"common to {end}, {wires}"
            )
            yield choice("frogs-joined", (AddContact(contact), TakeOut("links", number)), headline, say, link.span)


def on_other_pole(
    places: EntryPlaces, wire: Link | Pin | Component, side: int
) -> Iterator[tuple[tuple[str, str], tuple[str, str], str]]:
    """The ends and buses of something with two ends, one of them on another pole, and that pole as it is written."""
    for new, bus in places.other_poles(wire.ends[side], wire.buses[side]):
        kept = wire.ends[1 - side]
        if new != kept:
            ends, buses = ((new, kept), (bus, wire.buses[1]))
            if side == 1:
                ends, buses = ((kept, new), (wire.buses[0], bus))
            yield ends, buses, places.pole(new, bus)
