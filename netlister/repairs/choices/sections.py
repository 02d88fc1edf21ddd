"""Reversers that a section of track, or a piece that turns end for end, may lack."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.edits.gear import AddReverser, AddSwitch
from netlister.edits.model import AddFeed, Insulate, Refeed
from netlister.edits.patch import scalar
from netlister.layout.model import Feed, Reverser, Value, Variable
from netlister.layout.terminal import named
from netlister.repairs.choices.common import MOST_PARTNERS, NO_WIRE, TWO
from netlister.repairs.model import choice
from netlister.repairs.words import joined

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.edits.model import Change
    from netlister.layout.model import Piece
    from netlister.repairs.choices.places import EntryPlaces
    from netlister.repairs.model import Choice


def at_section(places: EntryPlaces, name: str) -> Iterator[Choice]:
    """A reverser for the plain track that a piece is part of, cut at both ends."""
    layout = places.layout
    if not layout.pieces[name].kind.plain:
        return
    chain, ends = section_of(places, name)
    if len(ends) != TWO or chain[0] != name:
        if len(ends) == TWO:
            yield from at_section(places, chain[0])
        return
    if any(layout.feeds[n].source in layout.reversers for p in chain for n in places.feeds_of.get(p, ())):
        return
    cuts = tuple(
        Insulate(number, side, True)
        for number in sorted(ends)
        for side in (0, 1)
        if not layout.joints[number].pairs[side][2]
    )
    free = next(n for n in (f"R{k}" for k in range(1, 999)) if not _is_known(places, n))
    longest = max(chain, key=lambda p: layout.pieces[p].length or 0)
    for bus in [s for s in places.sources() if s not in layout.reversers][:TWO]:
        outputs = (named(free, "A"), named(free, "B"))
        poles = places.poles_of(bus)
        span = layout.pieces[longest].span
        by_hand = places.signal(bus)[0] == "dc"
        switch = next(n for n in (f"S{k}" for k in range(1, 999)) if not _is_known(places, n))
        follows, straight = (switch, (Value(0),)) if by_hand else (None, ())
        reverser = Reverser(free, bus, poles, outputs, not by_hand, follows, straight, span)
        edit: list[Change] = [*cuts, AddReverser(reverser)]
        if by_hand:
            edit.insert(0, AddSwitch(Variable(switch, "switch", ("normal", "reversed"), span)))
        fed = [n for p in chain for n in places.feeds_of.get(p, ())]
        if any(pole not in poles for n in fed for pole, _ in layout.feeds[n].wires):
            continue
        for n in fed:
            wires = tuple((outputs[poles.index(pole)], rail) for pole, rail in layout.feeds[n].wires)
            edit.append(Refeed(n, free, wires))
        if not fed:
            wires = ((outputs[0], named(longest, "left")), (outputs[1], named(longest, "right")))
            edit.append(AddFeed(Feed("", free, longest, wires, None, None, NO_WIRE, span)))
        at = joined([f"'{layout.joints[n].name}'" for n in sorted(ends)])
        said = f"'{longest}'" if len(chain) == 1 else f"'{chain[0]}' to '{chain[-1]}'"
        device = f"a reverser ({scalar(free)}: {{from: {scalar(bus)}, mode: automatic}})"
        if by_hand:
            entry = f"{{from: {scalar(bus)}, follows: {switch}, straight: [normal]}}"
            device = f"a hand reversing switch ({switch}: {{positions: [normal, reversed]}}, {scalar(free)}: {entry})"
        say = (
            f"insulate both rails at {at} and feed {said} from {device}; the longest train must fit between"
            f"{', and the switch is thrown while it stands there' if by_hand else ''}"
        )
        headline = f"through '{longest}' the track comes back on itself with its rails exchanged"
        yield choice("reverser-missing", tuple(edit), headline, say, span)


def turning(places: EntryPlaces, piece: Piece) -> Iterator[Choice]:
    """A reverser for the rails of a piece that turns end for end and is fed straight from a bus."""
    kind, layout = piece.kind, places.layout
    turns = [end for end in kind.ends.values() if end.name in kind.gaps and not end.entering]
    if len(turns) != TWO or (turns[0].left, turns[0].right) != (turns[1].right, turns[1].left):
        return
    for number in places.feeds_of.get(piece.name, ()):
        feed = layout.feeds[number]
        bus = layout.buses.get(feed.source)
        if bus is None or places.signal(feed.source)[0] == "dc":
            continue
        free = next(n for n in (f"R{k}" for k in range(1, 999)) if not _is_known(places, n))
        outputs = (named(free, "A"), named(free, "B"))
        reverser = Reverser(free, bus.name, bus.poles, outputs, True, None, (), feed.span)
        wires = tuple((outputs[bus.poles.index(pole)], rail) for pole, rail in feed.wires)
        edit = (AddReverser(reverser), Refeed(number, free, wires))
        headline = f"'{piece.name}' turns end for end and is fed straight from '{bus.name}'"
        say = "feed it from a reverser, automatic or one that follows its position as a split ring does"
        yield choice("reverser-missing", edit, headline, say, feed.span)


def section_of(places: EntryPlaces, name: str) -> tuple[list[str], list[int]]:
    """The plain track that a piece is part of, in order of names, and the joints at its two ends."""
    layout = places.layout
    chain, stack, ends = {name}, [name], []
    while stack:
        here = stack.pop()
        for number in places.joints_of.get(here, ()):
            joint = layout.joints[number]
            other = joint.end[0] if joint.start[0] == here else joint.start[0]
            if layout.pieces[other].kind.plain and not (joint.pairs[0][2] and joint.pairs[1][2]):
                if other not in chain:
                    chain.add(other)
                    stack.append(other)
            else:
                ends.append(number)
        if len(chain) > MOST_PARTNERS:
            return [name], []
    return sorted(chain), ends


def _is_known(places: EntryPlaces, name: str) -> bool:
    layout = places.layout
    sections: tuple[Any, ...] = (
        *(layout.pieces, layout.supplies, layout.buses, layout.reversers, layout.units, layout.components),
        *(layout.machines, layout.variables, layout.trains, layout.boards),
    )
    return any(name in section for section in sections)
