"""What the page may ask for, turned into changes of the layout, or into a patch of its text where no change exists.

Nothing that comes from the page is trusted: every number, name and word is looked up before it is used, and what is
free text is read by the reader of layouts, which says what is wrong with it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.editor.naming import CONTACT_NAME, JUNCTION, NamingError, Renaming, names_of, replaced
from netlister.edits.gear import AddUnit
from netlister.edits.model import AddContact, AddFeed, Insulate, Recommon, Refeed, Rewire, TakeOut
from netlister.edits.patch import Patch
from netlister.edits.tree import tree_of
from netlister.layout.model import Feed, FrogUnit
from netlister.layout.schema import INSULATE
from netlister.layout.terminal import Terminal, named
from netlister.propose.gear import crossing_contact, frog_contact
from netlister.quantity import length_text
from netlister.workbench.model import Asked, AskError, SameError
from netlister.workbench.pieces import add_piece, set_piece
from netlister.workbench.values import (
    all_names,
    end_of,
    insulation_of,
    length_of,
    name_of,
    new_name,
    number_of,
    open_end,
    sources_of,
    terminal_of,
    text_of,
    wire_of,
    written_end,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.layout.model import Layout, Piece
    from netlister.source import Source
    from netlister.workbench.values import GivenValues


def asked(layout: Layout, source: Source, fields: GivenValues) -> Asked:
    """What an ask comes to. Raises AskError."""
    made = ASKS.get(text_of(fields, "do"))
    if made is None:
        raise AskError("the page asked for something that is not known; load it again")
    return made(layout, source, fields)


# -- joints


def _insulate(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    number = number_of(fields, "joint", layout.joints)
    word = text_of(fields, "insulate")
    if word not in INSULATE:
        raise AskError("say which rails are insulated: none, left, right, both or vee")
    joint = layout.joints[number]
    sides = {"none": (False, False), "left": (True, False), "right": (False, True), "both": (True, True)}
    wanted = sides.get(word) or tuple(layout.is_changing(a) or layout.is_changing(b) for a, b, _ in joint.pairs)
    if any(end in layout.pieces[name].kind.gaps for name, end in (joint.start, joint.end)):
        message = f"the joint '{joint.name}' is always a gap: rails move there"
        raise AskError(message)
    if word == "vee" and not any(wanted):
        message = f"no frog meets at '{joint.name}'; say 'left', 'right' or 'both'"
        raise AskError(message)
    edit = tuple(
        Insulate(number, side, insulated)
        for side, (insulated, (_, _, now)) in enumerate(zip(wanted, joint.pairs, strict=True))
        if insulated != now
    )
    if not edit:
        message = f"so the joint '{joint.name}' is now; choose another way to see what would become of it"
        raise SameError(message)
    said = {"none": "metal on both rails", "both": "insulated on both rails", "vee": "insulated at the frog's rails"}
    return Asked(f"joint '{joint.name}': {said.get(word, f'insulated on the {word} rail alone')}", edit)


def _join(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    one, two = (open_end(layout, text_of(fields, key)) for key in ("from", "to"))
    if (one[0].name, one[1]) == (two[0].name, two[1]):
        raise AskError("an end cannot be joined to itself; name another")
    patch = Patch()
    entry: dict[str, object] = {"from": written_end(*one, entering=False), "to": written_end(*two, entering=True)}
    patch.at("joints").added.append((None, entry | insulation_of(fields)))
    return Asked(f"join {named(one[0].name, one[1])} and {named(two[0].name, two[1])}", patch=patch)


def _part(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    number = number_of(fields, "joint", layout.joints)
    return Asked(f"take out the joint '{layout.joints[number].name}'", (TakeOut("joints", number),))


# -- feeds


def feed_said(feed: Feed) -> str:
    """A feed in words."""
    called = f"feed '{feed.name}' of" if feed.name else "feed of"
    return f"{called} '{feed.piece}' from '{feed.source}'"


def _add_feed(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    piece = layout.pieces[name_of(fields, "piece", layout.pieces, "piece")]
    source = name_of(fields, "from", sources_of(layout), "bus, supply or reverser")
    end = text_of(fields, "end")
    if end:
        end_of(layout, named(piece.name, end))
    sides = (piece.kind.ends[end].left, piece.kind.ends[end].right) if end else piece.kind.sides
    wires = []
    for pole, letter in zip(sources_of(layout)[source], "AB", strict=True):
        word = text_of(fields, letter)
        if not word:
            continue
        rail = sides[("left", "right").index(word)] if sides and word in {"left", "right"} else word
        if rail not in piece.kind.rails or rail in piece.kind.sealed:
            free = ", ".join(r for r in piece.kind.rails if r not in piece.kind.sealed)
            message = f"no wire can be put to '{word}' of '{piece.name}'; it has {free}"
            raise AskError(message)
        wires.append((pole, named(piece.name, rail)))
    if not wires:
        raise AskError("say which rail each pole feeds; at least one of the two")
    wire, at = wire_of(fields), length_of(fields, "at")
    if at is not None and piece.length is not None and at > piece.length:
        message = f"'{piece.name}' is {length_text(piece.length)} long, so nothing is at {length_text(at)} of it"
        raise AskError(message)
    target = named(piece.name, end) if end else piece.name
    feed = Feed("", source, piece.name, tuple(wires), at, None, wire, piece.span, target)
    said = " and ".join(f"{letter} to {rail}" for letter, (_, rail) in zip(_letters(layout, feed), wires, strict=True))
    return Asked(f"feed '{piece.name}' from '{source}': {said}", (AddFeed(feed),))


def _letters(layout: Layout, feed: Feed) -> list[str]:
    poles = sources_of(layout)[feed.source]
    return ["AB"[poles.index(pole)] if pole in poles else pole for pole, _ in feed.wires]


def _swap_feed(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    number = number_of(fields, "feed", layout.feeds)
    feed = layout.feeds[number]
    a, b = sources_of(layout)[feed.source]
    other = {a: b, b: a}
    wires = tuple((other[pole], rail) for pole, rail in feed.wires if pole in other)
    if len(wires) != len(feed.wires) or a == b:
        message = f"the poles of the {feed_said(feed)} cannot be told apart here; change it by hand"
        raise AskError(message)
    return Asked(f"swap the two poles of the {feed_said(feed)}", (Refeed(number, feed.source, wires),))


def _feed_from(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    number = number_of(fields, "feed", layout.feeds)
    feed = layout.feeds[number]
    sources = sources_of(layout)
    source = name_of(fields, "from", sources, "bus, supply or reverser")
    if source == feed.source:
        message = f"so the {feed_said(feed)} is now; choose another source"
        raise SameError(message)
    other = dict(zip(sources[feed.source], sources[source], strict=True))
    wires = tuple((other[pole], rail) for pole, rail in feed.wires)
    return Asked(f"feed '{feed.piece}' from '{source}' in place of '{feed.source}'", (Refeed(number, source, wires),))


def _take_feed(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    number = number_of(fields, "feed", layout.feeds)
    return Asked(f"take out the {feed_said(layout.feeds[number])}", (TakeOut("feeds", number),))


def _move_feed(layout: Layout, source: Source, fields: GivenValues) -> Asked:
    number = number_of(fields, "feed", layout.feeds)
    feed = layout.feeds[number]
    piece = name_of(fields, "to", layout.pieces, "piece")
    if piece == feed.piece:
        message = f"the feed is at '{piece}' already"
        raise AskError(message)
    root, patch, seen = tree_of(source.text), Patch(), 0
    node = root.value_of("feeds")
    for item_number, item in enumerate(node.meant.items if node is not None else []):
        to = item.value_of("to")
        several = to is not None and to.meant.kind == "list"
        count = len(to.meant.items) if to is not None and several else 1
        if seen <= number < seen + count:
            if several:
                patch.at("feeds", item_number, "to").set[number - seen] = piece
            else:
                patch.at("feeds", item_number).set["to"] = piece
        seen += count
    return Asked(f"move the {feed_said(feed)} to '{piece}'", patch=patch)


# -- contacts and units


def _swap_throws(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    number = number_of(fields, "contact", layout.contacts)
    contact = layout.contacts[number]
    if len(contact.throws) != 2:  # noqa: PLR2004
        message = f"'{contact.full}' has {len(contact.throws)} throws; say for each what it is wired to"
        raise AskError(message)
    (p, a), (q, b) = contact.throws
    buses = (*contact.buses, "", "", "")[1:3]
    return Asked(f"swap the two throws of '{contact.full}'", (Rewire(number, ((p, b), (q, a)), buses[::-1]),))


def _wire_throw(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    number = number_of(fields, "contact", layout.contacts)
    contact = layout.contacts[number]
    place, text = text_of(fields, "place"), text_of(fields, "to")
    to, bus = terminal_of(layout, text) if text else (None, "")
    positions = [position for position, _ in contact.throws]
    if place == "common":
        if to is None:
            raise AskError("a contact needs a common; take the contact out instead")
        if to == contact.common:
            message = f"so '{contact.full}' is wired now; name another rail or pole"
            raise SameError(message)
        return Asked(f"wire the common of '{contact.full}' to {text}", (Recommon(number, to, bus),))
    if place not in positions:
        message = f"'{contact.full}' has no '{place}'; it has common, {', '.join(positions)}"
        raise AskError(message)
    buses = [*contact.buses, *("" for _ in contact.throws), ""][1 : len(positions) + 1]
    if to == dict(contact.throws)[place] and bus == buses[positions.index(place)]:
        message = f"so '{contact.full}' is wired now; name another rail or pole"
        raise SameError(message)
    buses[positions.index(place)] = bus
    throws = tuple((position, to if position == place else was) for position, was in contact.throws)
    said = f"wire {place} of '{contact.full}' to {text}" if text else f"leave {place} of '{contact.full}' open"
    return Asked(said, (Rewire(number, throws, tuple(buses)),))


def _frog(layout: Layout, fields: GivenValues) -> tuple[Piece, str]:
    text = text_of(fields, "frog")
    at = Terminal.of(text)
    piece = layout.pieces.get(at.owner)
    if piece is None or at.own not in piece.kind.frogs:
        message = f"there is no frog '{text}'"
        raise AskError(message)
    served = {c.common: f"the contact '{c.full}'" for c in layout.contacts}
    served |= {u.frog: f"the frog unit '{u.name}'" for u in layout.units.values()}
    if text in served:
        message = f"{text} has {served[text]} already; take that out first"
        raise AskError(message)
    return piece, text


def _add_contact(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    piece, frog = _frog(layout, fields)
    taken = {(contact.owner, contact.name) for contact in layout.contacts}
    if piece.bars:
        contact, lone = frog_contact(layout, piece, frog, taken)
    else:
        contact, lone = crossing_contact(layout, piece, frog, taken), ""
    if contact is None:
        why = f"nothing throws '{lone}': add a machine first" if lone else "nothing that moves says which way it is set"
        message = f"{frog} cannot have a contact ({why}); a frog unit would do"
        raise AskError(message)
    throws = ", ".join(f"{position} to {to}" for position, to in contact.throws)
    return Asked(f"give {frog} the contact '{contact.name}' of '{contact.owner}': {throws}", (AddContact(contact),))


def _take_contact(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    number = number_of(fields, "contact", layout.contacts)
    return Asked(f"take out the contact '{layout.contacts[number].full}'", (TakeOut("contacts", number),))


def _add_unit(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    piece, frog = _frog(layout, fields)
    buses = {b.name: b.poles for b in layout.buses.values() if not layout.supplies[b.supply].accessory}
    bus = name_of(fields, "from", buses, "bus")
    names = all_names(layout)
    name = next(f"U{n}" for n in range(1, len(names) + 2) if f"U{n}" not in names)
    unit = FrogUnit(name, frog, buses[bus], piece.span, None, bus)
    return Asked(f"give {frog} the frog unit '{name}' on '{bus}'", (AddUnit(unit),))


def _take_unit(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    name = name_of(fields, "unit", layout.units, "frog unit")
    patch = Patch()
    if len(layout.units) > 1:
        patch.at("frog-units").set[name] = None
    else:
        patch.set["frog-units"] = None
    return Asked(f"take out the frog unit '{name}'", patch=patch)


# -- names


def _rename(layout: Layout, source: Source, fields: GivenValues) -> Asked:
    old = text_of(fields, "old")
    if text_of(fields, "new") == old:
        message = f"so it is named now; write another name than '{old}'"
        raise SameError(message)
    names = names_of(source.text, tree_of(source.text))
    use = names.called(old)
    if use is None:
        message = f"nothing that can be named is called '{old}'"
        raise AskError(message)
    new = text_of(fields, "new")
    if use.what not in {CONTACT_NAME, JUNCTION}:  # those of a junction may have dots, as on a terminal strip
        new = new_name(layout, new)
    try:
        text = replaced(source.text, names.renamed(use, new))
    except NamingError as error:
        raise AskError(str(error)) from None
    return Asked(f"name '{old}' '{new}' everywhere", text=text, renaming=Renaming.of(use, new))


ASKS: dict[str, Callable[[Any, Any, GivenValues], Asked]] = {
    "insulate": _insulate,
    "join": _join,
    "part": _part,
    "add-feed": _add_feed,
    "swap-feed": _swap_feed,
    "feed-from": _feed_from,
    "move-feed": _move_feed,
    "take-feed": _take_feed,
    "swap-throws": _swap_throws,
    "wire-throw": _wire_throw,
    "add-contact": _add_contact,
    "take-contact": _take_contact,
    "add-unit": _add_unit,
    "take-unit": _take_unit,
    "set-piece": set_piece,
    "add-piece": add_piece,
    "rename": _rename,
}
"""What the page may ask for, by its name there."""
