"""Repairs that might mend a finding: each a change of the layout, with the words for it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from netlister.causes import gear_repairs
from netlister.causes.model import Repair
from netlister.kinds import KindError
from netlister.layout.model import Contact, Feed, Joint, Reverser, Wire
from netlister.routes.settings import is_changing

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.kinds import Library
    from netlister.layout.model import Layout, Piece


NO_WIRE = Wire("", None, None, None)


def repairs(layout: Layout, pieces: Iterable[str], names: Iterable[str] = ()) -> Iterator[Repair]:
    """Repairs near some pieces, the likeliest first. `names`: joints and other things the finding names."""
    near = set(pieces)
    named = set(names)
    yield from _options(layout, near)
    yield from _contacts(layout, near)
    yield from gear_repairs.plugs(layout, near)
    yield from _exchanged(layout, near)
    yield from _feeds(layout, near)
    yield from _joints(layout, near, named)
    yield from gear_repairs.other_districts(layout, near)
    yield from _new_contacts(layout, near)
    yield from _new_feeds(layout, near)
    yield from gear_repairs.swapped_links(layout, near)
    yield from _links(layout, near)
    yield from _loops(layout, near)
    yield from _turning(layout, near)
    yield from _metal(layout, near, named)
    yield from gear_repairs.loads(layout)


def _piece(terminal: str | None) -> str:
    return terminal.split(".", 1)[0] if terminal else ""


# -- how a piece is built


class _Change(NamedTuple):
    """An option of a piece, its value now and another."""

    option: str
    now: str
    value: str


def _options(layout: Layout, near: set[str]) -> Iterator[Repair]:
    """Another value for an option of a piece that has some, the pieces' own order of options first."""
    library = layout.library
    for name in sorted(near):
        piece = layout.pieces[name]
        if library is None or not piece.kind.options:
            continue
        definition = library.definition(piece.kind.name)
        given = dict(piece.kind.options)
        for option, (values, _) in definition.options.items():
            note = definition.option_notes[option]
            now = given.get(option, note.default)
            for value in () if note.choice else values:
                if value != now:
                    yield _built(piece, _Change(option, now, value), note.what, library)


def _built(piece: Piece, change: _Change, what: str, library: Library) -> Repair:
    options = tuple((dict(piece.kind.options) | {change.option: change.value}).items())

    def apply(base: Layout) -> Layout:
        try:
            kind = library.kind(piece.kind.name, piece.kind.hand, options)
        except KindError:
            return base
        return replace(base, pieces={**base.pieces, piece.name: base.pieces[piece.name]._replace(kind=kind)})

    has = f"'{change.option}: {change.now}'" if change.now else f"no '{change.option}'"
    said = f", {what}" if what else ""
    fix = f"make it '{change.option}: {change.value}', on the piece itself and then in the file"
    return Repair(f"'{piece.name}' is built with {has}{said}", fix, piece.span, apply)


# -- contacts


def _contacts(layout: Layout, near: set[str]) -> Iterator[Repair]:
    for index, contact in enumerate(layout.contacts):
        touched = {_piece(contact.common), *(_piece(to) for _, to in contact.throws)}
        if not touched & near:
            continue
        if len(contact.throws) == 2 and all(to for _, to in contact.throws):  # noqa: PLR2004
            (p, a), (q, b) = contact.throws
            yield _rewired(
                layout,
                index,
                ((p, b), (q, a)),
                f"the throws of contact '{contact.name}' of '{contact.owner}' are the wrong way round",
                f"swap the two throws of '{contact.name}': {p} to {b}, {q} to {a}",
            )
        needs = needed(layout, contact)
        if needs and any(to != want for (_, to), want in zip(contact.throws, needs, strict=True)):
            throws = tuple((position, want) for (position, _), want in zip(contact.throws, needs, strict=True))
            wrong = [(p, to, want) for (p, to), want in zip(contact.throws, needs, strict=True) if to != want]
            said = " and ".join(f"{p} is {'open' if to is None else f'wired to {to}'}" for p, to, _ in wrong)
            yield _rewired(
                layout,
                index,
                throws,
                f"contact '{contact.name}' of '{contact.owner}': {said}",
                f"wire {' and '.join(f'{p} to {want}' for p, _, want in wrong)}",
            )


def _rewired(layout: Layout, index: int, throws: tuple[tuple[str, str | None], ...], headline: str, fix: str) -> Repair:
    def apply(base: Layout) -> Layout:
        contacts = list(base.contacts)
        old = contacts[index]
        known = dict(zip((to for _, to in old.throws), old.buses[1:], strict=False))
        buses = (*old.buses[:1], *(known.get(to, "") for _, to in throws))
        contacts[index] = old._replace(throws=throws, buses=buses)
        return replace(base, contacts=contacts)

    return Repair(headline, fix, layout.contacts[index].span, apply)


def _exchanged(layout: Layout, near: set[str]) -> Iterator[Repair]:
    """Two frogs of a piece with several tie bars, each on a contact that moves with the bar of the other.

    Common practice, no published source: the frog at one end of a slip follows the tie bar at the other end.
    """
    on = [(i, c) for i, c in enumerate(layout.contacts) if _piece(c.common) in near]
    for i, first in on:
        for j, second in on:
            if j <= i or first.variable == second.variable or _piece(first.common) != _piece(second.common):
                continue
            swapped = first._replace(common=second.common), second._replace(common=first.common)
            wants = [needed(layout, contact) for contact in swapped]
            if needed(layout, first) or needed(layout, second) or not all(wants):
                continue
            made = {
                k: c._replace(throws=tuple((p, to) for (p, _), to in zip(c.throws, want or (), strict=True)))
                for k, c, want in zip((i, j), swapped, wants, strict=True)
            }

            def apply(base: Layout, made: dict[int, Contact] = made) -> Layout:
                return replace(base, contacts=[made.get(k, contact) for k, contact in enumerate(base.contacts)])

            wires = "; ".join(
                f"'{c.name}' of '{c.owner}': common to {c.common}, " + ", ".join(f"{p} to {to}" for p, to in c.throws)
                for c in made.values()
            )
            yield Repair(
                f"each frog of '{_piece(first.common)}' moves with the wrong tie bar",
                f"wire each to the other contact, {wires}",
                first.span,
                apply,
            )


def needed(layout: Layout, contact: Contact) -> tuple[str, ...] | None:
    """What each throw of a frog's contact must lead to, or None where the blades do not say."""
    if contact.common is None or "." not in contact.common:
        return None
    name, rail = contact.common.split(".", 1)
    piece = layout.pieces.get(name)
    if piece is None or not piece.kind.bladed or not rail.startswith("frog"):
        return None
    wanted: list[str] = []
    for values in contact.values:
        found = {_stock_needed(layout, piece, rail, contact.variable, value) for value in values} - {None}
        if len(found) != 1:
            return None
        wanted.append(f"{name}.{found.pop()}")
    return tuple(wanted)


def _stock_needed(layout: Layout, piece: Piece, frog: str, variable: str, value: int) -> str | None:
    """The rail whose pole a frog needs while a variable has a value: the fixed rail beside it in the wheel path."""
    found: set[str] = set()
    for route in piece.kind.routes:
        for bar, position in route.when:
            full = f"{piece.name}.{bar}" if bar else piece.name
            follows = layout.bars[full]
            if follows.variable == variable and follows.positions[value] != position:
                break
        else:
            for rails in (route.left, route.right):
                if frog in rails:
                    found.update(rail for rail in rails if rail is not None and not is_changing(rail))
    return found.pop() if len(found) == 1 else None


def _new_contacts(layout: Layout, near: set[str]) -> Iterator[Repair]:
    served = {contact.common for contact in layout.contacts}
    for name in sorted(near):
        piece = layout.pieces[name]
        for rail in piece.kind.rails:
            terminal = f"{name}.{rail}"
            if not rail.startswith("frog") or terminal in served or not piece.kind.bladed:
                continue
            for bar in piece.bars:
                follows = layout.bars[bar]
                variable = layout.variables[follows.variable]
                throws = tuple((position, None) for position in variable.positions)
                values = tuple((i,) for i in range(len(throws)))
                owner = variable.name
                draft = Contact(owner, "frog", terminal, throws, values, owner, "break-before-make", piece.span, ())
                needs = needed(layout, draft)
                if needs:
                    made = tuple((p, want) for (p, _), want in zip(throws, needs, strict=True))
                    yield _added_contact(piece, terminal, draft._replace(throws=made))


def _added_contact(piece: Piece, terminal: str, contact: Contact) -> Repair:
    def apply(base: Layout) -> Layout:
        return replace(base, contacts=[*base.contacts, contact._replace(name="frog-added")])

    wires = ", ".join(f"{position} to {to}" for position, to in contact.throws)
    fix = f"give {terminal} a changeover contact that moves with '{contact.variable}': common to {terminal}, {wires}"
    return Repair(f"{terminal} has no contact to feed it", fix, piece.span, apply)


# -- feeds


def _feeds(layout: Layout, near: set[str]) -> Iterator[Repair]:
    for index, feed in enumerate(layout.feeds):
        if feed.piece in near and len(feed.wires) == 2:  # noqa: PLR2004
            (p, a), (q, b) = feed.wires
            said = f"swap the two wires of the feed: {p} to {b}, {q} to {a}"
            headline = f"the wires of the feed of '{feed.piece}' are swapped"
            yield _refed(layout, index, ((p, b), (q, a)), headline, said)
        elif feed.piece in near:
            ((p, a),) = feed.wires
            if layout.pieces[feed.piece].kind.plain:
                other = f"{feed.piece}.{'right' if a.endswith('.left') else 'left'}"
                headline = f"the feed of '{feed.piece}' is on the wrong rail"
                yield _refed(layout, index, ((p, other),), headline, f"wire {p} to {other}")


def _refed(layout: Layout, index: int, wires: tuple[tuple[str, str], ...], headline: str, fix: str) -> Repair:
    def apply(base: Layout) -> Layout:
        feeds = list(base.feeds)
        feeds[index] = feeds[index]._replace(wires=wires)
        return replace(base, feeds=feeds)

    return Repair(headline, fix, layout.feeds[index].span, apply)


def _new_feeds(layout: Layout, near: set[str]) -> Iterator[Repair]:
    sources: dict[str, tuple[str, str]] = {bus.name: bus.poles for bus in layout.buses.values()}
    for name in sorted(near):
        piece = layout.pieces[name]
        if not piece.kind.plain:
            continue
        for source, (a, b) in list(sources.items())[:4]:
            for first, second in (("left", "right"), ("right", "left")):
                both = ((a, f"{name}.{first}"), (b, f"{name}.{second}"))
                for wires in (both[:1], both[1:], both):
                    yield _added_feed(layout, piece, source, wires)


def _added_feed(layout: Layout, piece: Piece, source: str, wires: tuple[tuple[str, str], ...]) -> Repair:
    feed = Feed("", source, piece.name, wires, None, None, NO_WIRE, piece.span)

    def apply(base: Layout) -> Layout:
        return replace(base, feeds=[*base.feeds, feed])

    fed = any(f.piece == piece.name for f in layout.feeds)
    written = ", ".join(f"{pole.rsplit('.', 1)[1]}: {rail.split('.', 1)[1]}" for pole, rail in wires)
    of = f", from: {source}" if len(layout.buses) > 1 else ""
    rails = " and ".join(rail for _, rail in wires)
    headline = f"'{piece.name}' has no feed of its own"
    if fed:
        headline = f"{rails} {'has' if len(wires) == 1 else 'have'} no feed"
    return Repair(headline, f"feed it: {{to: {piece.name}{of}, {written}}}", piece.span, apply)


# -- joints


def _joints(layout: Layout, near: set[str], named: set[str]) -> Iterator[Repair]:
    chosen = [
        (index, joint)
        for index, joint in enumerate(layout.joints)
        if joint.name in named or joint.start[0] in near or joint.end[0] in near
    ]
    chosen.sort(key=lambda item: item[1].name not in named)
    for index, joint in chosen:
        for word, pairs in _insulations(joint):
            headline = f"the joint '{joint.name}' is metal where it must be insulated"
            yield _rejoined(joint, index, pairs, headline, f"insulate it: write 'insulate: {word}' at '{joint.name}'")


_Pairs = tuple[tuple[str, str, bool], tuple[str, str, bool]]


def _insulations(joint: Joint) -> Iterator[tuple[str, _Pairs]]:
    (a, b, left), (c, d, right) = joint.pairs
    vee = tuple(is_changing(x.split(".", 1)[1]) or is_changing(y.split(".", 1)[1]) for x, y in ((a, b), (c, d)))
    choices: list[tuple[str, bool, bool]] = []
    if any(vee):
        choices.append(("vee", vee[0], vee[1]))
    choices += [("left", True, False), ("right", False, True), ("both", True, True)]
    seen = {(left, right)}
    for word, new_left, new_right in choices:
        new = (new_left or left, new_right or right)
        if new not in seen:
            seen.add(new)
            said = "both" if all(new) else word
            yield said, ((a, b, new[0]), (c, d, new[1]))


def _rejoined(joint: Joint, index: int, pairs: _Pairs, headline: str, fix: str) -> Repair:
    def apply(base: Layout) -> Layout:
        joints = list(base.joints)
        joints[index] = joints[index]._replace(pairs=pairs)
        return replace(base, joints=joints)

    return Repair(headline, fix, joint.span, apply)


def _metal(layout: Layout, near: set[str], named: set[str]) -> Iterator[Repair]:
    for index, joint in enumerate(layout.joints):
        if (joint.start[0] in near or joint.end[0] in near or joint.name in named) and (
            joint.pairs[0][2] or joint.pairs[1][2]
        ):
            if any(end in layout.pieces[name].kind.gaps for name, end in (joint.start, joint.end)):
                continue
            (a, b, _), (c, d, _) = joint.pairs
            headline = f"the joint '{joint.name}' is insulated and nothing feeds the rail beyond it"
            fix = f"use metal joiners at '{joint.name}', or feed the rail beyond it"
            yield _rejoined(joint, index, ((a, b, False), (c, d, False)), headline, fix)


# -- wires and loops


def _links(layout: Layout, near: set[str]) -> Iterator[Repair]:
    for index, link in enumerate(layout.links):
        if {_piece(end) for end in link.ends} & near:

            def apply(base: Layout, index: int = index) -> Layout:
                return replace(base, links=[w for i, w in enumerate(base.links) if i != index])

            a, b = link.ends
            yield Repair(f"the wire from {a} to {b} joins what must stay apart", "take this wire out", link.span, apply)


def _loops(layout: Layout, near: set[str]) -> Iterator[Repair]:
    ends: dict[str, list[int]] = {}
    for index, joint in enumerate(layout.joints):
        for end in (joint.start[0], joint.end[0]):
            ends.setdefault(end, []).append(index)
    for name in sorted(near):
        piece = layout.pieces[name]
        if piece.kind.plain and len(ends.get(name, ())) == 2:  # noqa: PLR2004
            for bus in list(layout.buses.values())[:2]:
                yield _reversed_section(layout, piece, ends[name], bus.name, bus.poles)


def _turning(layout: Layout, near: set[str]) -> Iterator[Repair]:
    """A reverser for the rails of a piece that turns end for end and is fed straight from a bus."""
    for index, feed in enumerate(layout.feeds):
        kind = layout.pieces[feed.piece].kind
        bus = layout.buses.get(feed.source)
        turns = [end for end in kind.ends.values() if end.name in kind.gaps and not end.entering]
        if feed.piece not in near or bus is None or len(turns) != 2:  # noqa: PLR2004
            continue
        if (turns[0].left, turns[0].right) != (turns[1].right, turns[1].left):
            continue
        outputs = ("reverser-added.A", "reverser-added.B")
        reverser = Reverser("reverser-added", bus.name, bus.poles, outputs, True, None, (), feed.span)
        wires = tuple((outputs[bus.poles.index(pole)], rail) for pole, rail in feed.wires)

        def apply(
            base: Layout, index: int = index, wires: tuple[tuple[str, str], ...] = wires, reverser: Reverser = reverser
        ) -> Layout:
            feeds = list(base.feeds)
            feeds[index] = feeds[index]._replace(source=reverser.name, wires=wires)
            return replace(base, feeds=feeds, reversers={**base.reversers, reverser.name: reverser})

        yield Repair(
            f"'{feed.piece}' turns end for end and is fed straight from '{bus.name}'",
            "feed it from a reverser, automatic or one that follows its position as a split ring does",
            feed.span,
            apply,
        )


def _reversed_section(layout: Layout, piece: Piece, at: list[int], bus: str, poles: tuple[str, str]) -> Repair:
    outputs = ("reverser-added.A", "reverser-added.B")
    reverser = Reverser("reverser-added", bus, poles, outputs, True, None, (), piece.span)
    wires = ((outputs[0], f"{piece.name}.left"), (outputs[1], f"{piece.name}.right"))
    feed = Feed("", "reverser-added", piece.name, wires, None, None, NO_WIRE, piece.span)

    def apply(base: Layout) -> Layout:
        joints = list(base.joints)
        for index in at:
            (a, b, _), (c, d, _) = joints[index].pairs
            joints[index] = joints[index]._replace(pairs=((a, b, True), (c, d, True)))
        feeds = [f for f in base.feeds if f.piece != piece.name]
        return replace(base, joints=joints, feeds=[*feeds, feed], reversers={**base.reversers, reverser.name: reverser})

    names = " and ".join(f"'{layout.joints[index].name}'" for index in at)
    fix = f"insulate both rails at {names} and feed '{piece.name}' from a reverser; the longest train must fit between"
    headline = f"through '{piece.name}' the track comes back on itself with its rails exchanged"
    return Repair(headline, fix, piece.span, apply)
