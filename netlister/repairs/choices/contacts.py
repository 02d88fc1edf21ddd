"""Contacts of frogs and sections that are wired the wrong way, or forgotten."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.edits.model import AddContact, Recommon, Rewire, TakeOut
from netlister.layout.model import Contact, Value
from netlister.layout.terminal import Terminal, named, owner_of
from netlister.repairs.choices.common import TWO
from netlister.repairs.model import choice
from netlister.repairs.needed import needed
from netlister.repairs.words import list_in_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.edits.model import Change
    from netlister.layout.model import Piece
    from netlister.repairs.choices.places import EntryPlaces
    from netlister.repairs.model import Choice


def at_contact(places: EntryPlaces, number: int) -> Iterator[Choice]:
    """What may be wrong with a contact."""
    contact = places.layout.contacts[number]
    called = f"contact '{contact.name}' of '{contact.owner}'"
    wired = [to for _, to in contact.throws]
    if len(wired) == TWO and all(wired):
        (p, a), (q, b) = contact.throws
        yield _rewired(
            places,
            "throws-swapped",
            number,
            (b, a),
            f"the throws of {called} are the wrong way round",
            f"swap the two throws of '{contact.name}' of '{contact.owner}': "
            f"{p} to {places.pole(b or '')}, {q} to {places.pole(a or '')}",
        )
    needs = needed(places.layout, contact)
    if needs and any(to != want for to, want in zip(wired, needs, strict=True)) and (wired[::-1] != list(needs)):
        wrong = [(p, to, want) for (p, to), want in zip(contact.throws, needs, strict=True) if to != want]
        said = list_in_words([f"{p} is {'open' if to is None else f'wired to {to}'}" for p, to, _ in wrong])
        fix = f"wire {list_in_words([f'{p} to {want}' for p, _, want in wrong])}"
        yield _rewired(places, "throws-wrong", number, needs, f"{called}: {said}", fix)
    yield from _other_rails(places, number, contact, called)
    if contact.common and any(c.common == contact.common for c in places.layout.contacts if c is not contact):
        headline = f"{contact.common} is the common of {called} and of another contact"
        say = f"take out {called}"
        yield choice("contact-out", (TakeOut("contacts", number),), headline, say, contact.span)
    yield from _poles_of_throws(places, number, contact, called)
    yield from _other_supplies(places, number, contact, called)
    yield from _commons(places, number, contact, called)
    yield from _exchanged(places, number, contact)


def _rewired(  # noqa: PLR0913, PLR0917 - the parts of a choice
    places: EntryPlaces, kind: str, number: int, ends: tuple[str | None, ...], headline: str, fix: str
) -> Choice:
    contact = places.layout.contacts[number]
    known = dict(zip((to for _, to in contact.throws), contact.buses[1:], strict=False))
    throws = tuple((position, to) for (position, _), to in zip(contact.throws, ends, strict=True))
    buses = tuple(known.get(to, "") for to in ends)
    return choice(kind, (Rewire(number, throws, buses),), headline, fix, contact.span)


def _poles_of_throws(places: EntryPlaces, number: int, contact: Contact, called: str) -> Iterator[Choice]:
    """Throws that are all on one letter of some supplies, and belong on the other; one throw on the other pole."""
    ends = [to for _, to in contact.throws]
    buses = [*contact.buses[1:], *("" for _ in ends)][: len(ends)]
    others = [places.other_poles(to or "", bus) for to, bus in zip(ends, buses, strict=True)]
    on = [n for n, found in enumerate(others) if found]
    for chosen in dict.fromkeys((tuple(on), *((n,) for n in on))):
        if not chosen or (len(chosen) == TWO and len(ends) == TWO and others[0][0][0] == ends[1]):
            continue
        new = [others[n][0] if n in chosen else (to, buses[n]) for n, to in enumerate(ends)]
        throws = tuple((p, to) for (p, _), (to, _) in zip(contact.throws, new, strict=True))
        there = [contact.throws[n][0] for n in chosen]
        was = list_in_words([places.pole(ends[n] or "", buses[n]) for n in chosen])
        fix = list_in_words([f"{contact.throws[n][0]} to {places.pole(new[n][0] or '', new[n][1])}" for n in chosen])
        edit = Rewire(number, throws, tuple(bus for _, bus in new))
        headline = f"{called}: {list_in_words(there)} {'is' if len(there) == 1 else 'are'} wired to {was}"
        yield choice("pin-pole", (edit,), headline, f"wire {fix}", contact.span)


def _other_rails(places: EntryPlaces, number: int, contact: Contact, called: str) -> Iterator[Choice]:
    """One throw on the other rail of plain track."""
    for n, (position, to) in enumerate(contact.throws):
        name, rail = Terminal.of(to or "")
        piece = places.layout.pieces.get(name)
        if piece is None or not piece.kind.plain or rail not in {"left", "right"}:
            continue
        other = named(name, "right" if rail == "left" else "left")
        ends = tuple(other if k == n else end for k, (_, end) in enumerate(contact.throws))
        headline = f"{called}: {position} is wired to {to}"
        yield _rewired(places, "throws-wrong", number, ends, headline, f"wire {position} to {other}")


def _other_supplies(places: EntryPlaces, number: int, contact: Contact, called: str) -> Iterator[Choice]:
    """One throw on a pole of another supply than the other contact of a switch is at in that position.

    First that by which a position leads to the supply that it is named after.
    """
    layout = places.layout
    other: dict[str, str] = {}
    for supply in layout.supplies.values():
        for one, two in (supply.poles, supply.poles[::-1]):
            other.setdefault(one, two)
    beside = [c for c in layout.contacts if c.owner == contact.owner and c is not contact]
    for n, (position, to) in enumerate(contact.throws):
        wants = dict.fromkeys(other[end] for c in beside for p, end in c.throws if p == position and end in other)
        for want in wants if to in other else ():
            if want in {to, other[to or ""]}:
                continue
            throws = tuple((p, want if p == position else end) for p, end in contact.throws)
            buses = tuple("" if k == n else bus for k, bus in enumerate((*contact.buses[1:], *("" for _ in throws))))
            headline = f"{called}: {position} is wired to {to}, of another supply than the other rail"
            edit = (Rewire(number, throws, buses[: len(throws)]),)
            kind = "throws-wrong" if owner_of(want) == position else "pin-pole"
            yield choice(kind, edit, headline, f"wire {position} to {want}", contact.span)


def _commons(places: EntryPlaces, number: int, contact: Contact, called: str) -> Iterator[Choice]:
    """The common on another rail: the other one of plain track, or a frog that has no contact."""
    if contact.common is None or "." not in contact.common:
        return
    name, rail = Terminal.of(contact.common)
    piece = places.layout.pieces.get(name)
    targets: list[str] = []
    if piece is not None and piece.kind.plain and rail in {"left", "right"}:
        targets.append(named(name, "right" if rail == "left" else "left"))
    near = dict.fromkeys(owner_of(t) for t in (contact.common, *(to for _, to in contact.throws)) if t)
    bars = {owner_of(b.bar) for b in places.layout.bars.values() if b.variable == contact.variable}
    served = {c.common for c in places.layout.contacts} | {u.frog for u in places.layout.units.values()}
    for other in dict.fromkeys((*near, *sorted(bars))):
        there = places.layout.pieces.get(other)
        if there is not None and (other in bars or piece is None or rail in piece.kind.changing):
            targets += [there.terminal(frog) for frog in there.kind.frogs]
    for target in dict.fromkeys(targets):
        if target == contact.common or (target in served and places.layout.is_changing(target)):
            continue
        edit: list[Change] = [Recommon(number, target)]
        headline = f"the common of {called} is wired to {contact.common}"
        yield choice("common-elsewhere", tuple(edit), headline, f"wire the common to {target}", contact.span)
        needs = needed(places.layout, contact._replace(common=target))
        if needs and needs != tuple(to for _, to in contact.throws):
            throws = tuple((p, want) for (p, _), want in zip(contact.throws, needs, strict=True))
            edit.append(Rewire(number, throws, tuple("" for _ in throws)))
            fix = f"wire the common to {target}, {', '.join(f'{p} to {want}' for p, want in throws)}"
            yield choice("common-elsewhere", tuple(edit), headline, fix, contact.span)


def _exchanged(places: EntryPlaces, number: int, first: Contact) -> Iterator[Choice]:
    """Two frogs of a piece with several tie bars, each on a contact that moves with the bar of the other.

    Common practice, no published source: the frog at one end of a slip follows the tie bar at the other end.
    """
    name = owner_of(first.common or "")
    if name not in places.layout.pieces:
        return
    for other, second in enumerate(places.layout.contacts):
        if other == number or first.variable == second.variable or owner_of(second.common or "") != name:
            continue
        swapped = first._replace(common=second.common), second._replace(common=first.common)
        wants = [needed(places.layout, contact) for contact in swapped]
        if needed(places.layout, first) or needed(places.layout, second) or not all(wants):
            continue
        edit: list[Change] = []
        wires = []
        for k, c, want in zip((number, other), swapped, wants, strict=True):
            throws = tuple((p, to) for (p, _), to in zip(c.throws, want or (), strict=True))
            edit += [Recommon(k, c.common or ""), Rewire(k, throws, tuple("" for _ in throws))]
            ways = ", ".join(f"{p} to {to}" for p, to in throws)
            wires.append(f"'{c.name}' of '{c.owner}': common to {c.common}, {ways}")
        headline = f"each frog of '{name}' moves with the wrong tie bar"
        edit.sort(key=repr)
        yield choice(
            "bars-exchanged",
            tuple(edit),
            headline,
            f"wire each to the other contact, {'; '.join(wires)}",
            first.span,
        )


def new_contacts(places: EntryPlaces, piece: Piece) -> Iterator[Choice]:
    """A contact that a frog of a piece lacks."""
    if not piece.kind.bladed:
        return
    served = {contact.common for contact in places.layout.contacts}
    served |= {unit.frog for unit in places.layout.units.values()}
    for rail in piece.kind.rails:
        terminal = piece.terminal(rail)
        if piece.kind.is_frog(rail) and terminal not in served:
            for contact in contacts_for(places, piece, terminal):
                wires = ", ".join(f"{position} to {to}" for position, to in contact.throws)
                say = f"give {terminal} a changeover contact that moves with '{contact.variable}': common to {terminal}, {wires}"  # noqa: E501
                yield choice(
                    "contact-missing",
                    (AddContact(contact),),
                    f"{terminal} has no contact to feed it",
                    say,
                    piece.span,
                )


def contacts_for(places: EntryPlaces, piece: Piece, terminal: str) -> Iterator[Contact]:
    """Contacts with the right throws for a frog."""
    for bar in piece.bars:
        variable = places.layout.variables[places.layout.bars[bar].variable]
        owner = variable.name
        positions = variable.positions
        if owner not in places.layout.machines and owner not in places.layout.pieces:
            continue
        values = tuple((Value(i),) for i in range(len(positions)))
        taken = {c.name for c in places.layout.contacts if c.owner == owner}
        name = next(n for n in ("frog", *(f"frog-{k}" for k in range(2, 99))) if n not in taken)
        blank = tuple((position, None) for position in positions)
        spans = tuple(piece.span for _ in positions)
        buses = tuple("" for _ in range(len(positions) + 1))
        draft = Contact(
            owner, name, terminal, blank, values, owner, "break-before-make", piece.span, spans, buses, buses
        )
        wants = needed(places.layout, draft)
        if wants:
            yield draft._replace(throws=tuple((p, want) for p, want in zip(positions, wants, strict=True)))
