"""Reversers that a section of track, or a piece that turns end for end, may lack."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.edits.gear import AddReverser, AddSwitch
from netlister.edits.model import AddFeed, Insulate, Refeed, Rewire
from netlister.layout.model import Feed, Reverser, Value, Variable
from netlister.layout.terminal import named
from netlister.repairs.choices.common import MOST_PARTNERS, NO_WIRE, TWO
from netlister.repairs.model import choice
from netlister.repairs.words import joined, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.edits.model import Change
    from netlister.layout.model import Piece
    from netlister.repairs.choices.places import Places
    from netlister.repairs.model import Choice


def at_section(places: Places, name: str) -> Iterator[Choice]:
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
    for idle in [each for each in layout.reversers if places.is_idle(each)][:TWO]:
        yield from _on_written(places, idle, chain, ())
        if cuts:
            yield from _on_written(places, idle, chain, cuts)
        whole = places.section(name)
        if len(whole) > len(chain) and _runs_through(places, whole):
            yield from _on_written(places, idle, whole, ())
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
        device = f"a reverser ({quoted(free)}: {{from: {quoted(bus)}, mode: automatic}})"
        if by_hand:
            entry = f"{{from: {quoted(bus)}, follows: {switch}, straight: [normal]}}"
            device = f"a hand reversing switch ({switch}: {{positions: [normal, reversed]}}, {quoted(free)}: {entry})"
        say = (
            f"insulate both rails at {at} and feed {said} from {device}; the longest train must fit between"
            f"{', and the switch is thrown while it stands there' if by_hand else ''}"
        )
        headline = f"through '{longest}' the track comes back on itself with its rails exchanged"
        yield choice("reverser-missing", tuple(edit), headline, say, span)


def _on_written(places: Places, reverser: str, section: list[str], cuts: tuple[Insulate, ...]) -> Iterator[Choice]:
    """All of a section from a reverser that is written and feeds nothing: its feeds, and contacts that take a pole."""
    layout = places.layout
    fed = [n for p in section for n in places.feeds_of.get(p, ())]
    sources = {layout.feeds[n].source for n in fed}
    if len(sources) != 1:
        return
    (source,) = sources
    old, new = places.poles_of(source), places.poles_of(reverser)
    rails = [layout.pieces[p].terminal(rail) for p in section for rail in layout.pieces[p].kind.rails]
    there = {place for rail in rails for place in places.at.get(rail, ())}
    if (
        places.signal(source) != places.signal(reverser)
        or not all(pole in old for n in fed for pole, _ in layout.feeds[n].wires)
        or any(kind in {"pins", "links", "components", "units"} for kind, _ in there)
    ):
        return
    said = joined([f"'{p}'" for p in section if p in places.feeds_of])
    verb = "is" if len(fed) == 1 else "are"
    headline = f"{said} {verb} fed from '{source}', and the reverser '{reverser}' feeds nothing"
    kind, before = "section-source", ""
    if cuts:
        kind = "section-uncut"
        at = joined([f"'{layout.joints[n].name}'" for n in sorted({cut.joint for cut in cuts})])
        before = f"insulate both rails at {at} and "
    entries = "its feed" if len(fed) == 1 else "their feeds"
    for turned in (False, True) if layout.reversers[reverser].variable is not None else (False,):
        poles = dict(zip(old, new[::-1] if turned else new, strict=True))
        edit: list[Change] = [*cuts]
        edit += [Refeed(n, reverser, tuple((poles[p], rail) for p, rail in layout.feeds[n].wires)) for n in fed]
        say = f"{before}feed {said} from '{reverser}': write 'from: {quoted(reverser)}' at {entries}"
        say += ", and exchange A and B there" if turned else ""
        for number in sorted(int(n) for k, n in there if k == "contacts"):
            contact = layout.contacts[number]
            if contact.common not in rails:
                continue
            throws = tuple((position, poles.get(to or "", to)) for position, to in contact.throws)
            if throws != contact.throws:
                edit.append(Rewire(number, throws, ("",) * len(throws)))
                ways = joined(
                    [f"'{p}' to {to}" for (p, to), (_, was) in zip(throws, contact.throws, strict=True) if to != was]
                )
                say += f"; at the contact '{contact.full}' wire {ways}"
        made = choice(kind, tuple(edit), headline, say, layout.feeds[fed[0]].span)
        yield made._replace(of=made.of | {("reversers", reverser, "")})  # it serves one section


def _runs_through(places: Places, section: list[str]) -> bool:
    """Whether a train that comes into a section over one gap in both rails can leave it over another, going on."""
    layout = places.layout
    inside = set(section)
    at: dict[tuple[str, str], tuple[str, str]] = {}
    for joint in layout.joints:
        at[joint.start], at[joint.end] = joint.end, joint.start
    gates = [end for end, other in at.items() if end[0] in inside and other[0] not in inside]
    stack, seen = [(gate, gate) for gate in gates], set()
    while stack:
        gate, here = stack.pop()
        if (gate, here) in seen:
            continue
        seen.add((gate, here))
        for route in layout.pieces[here[0]].kind.routes:
            if here[1] in route.ends:
                out = (here[0], route.ends[1 - route.ends.index(here[1])])
                beyond = at.get(out)
                if beyond is not None and beyond[0] not in inside:
                    if out != gate:
                        return True
                elif beyond is not None:
                    stack.append((gate, beyond))
    return False


def turning(places: Places, piece: Piece) -> Iterator[Choice]:
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


def section_of(places: Places, name: str) -> tuple[list[str], list[int]]:
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


def _is_known(places: Places, name: str) -> bool:
    layout = places.layout
    sections: tuple[Any, ...] = (
        *(layout.pieces, layout.supplies, layout.buses, layout.reversers, layout.units, layout.components),
        *(layout.machines, layout.variables, layout.trains, layout.boards),
    )
    return any(name in section for section in sections)
