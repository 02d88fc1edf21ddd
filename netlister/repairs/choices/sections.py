"""Reversers that a section of track, or a piece that turns end for end, may lack."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.edits.gear import AddReverser, AddSwitch
from netlister.edits.model import AddFeed, Insulate, Refeed, Rewire
from netlister.edits.patch import as_yaml
from netlister.layout.model import Feed, Reverser, Value, Variable
from netlister.layout.terminal import named
from netlister.repairs.choices.common import MOST_PARTNERS, MOST_PIECES, NO_WIRE, TWO
from netlister.repairs.model import choice
from netlister.repairs.words import list_in_words

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Iterator, Sequence

    from netlister.edits.model import Change
    from netlister.layout.model import Joint, Piece
    from netlister.repairs.choices.places import EntryPlaces
    from netlister.repairs.model import Choice
    from netlister.routes.settings import EndOf


def at_section(places: EntryPlaces, name: str) -> Iterator[Choice]:
    """A reverser for the section that a piece is part of: plain track, cut or to be cut, or all that is cut already."""
    layout = places.layout
    written = [each for each in layout.reversers if places.is_idle(each)][:TWO]
    whole = places.section(name)
    if layout.pieces[name].kind.plain:
        chain, ends = section_of(places, name)
        if len(ends) == TWO and not _is_reversed(places, chain) and _comes_back(places, _gates(places, chain)):
            cuts = tuple(
                Insulate(number, side, True)
                for number in sorted(ends)
                for side in (0, 1)
                if not layout.joints[number].pairs[side][2]
            )
            for idle in written:
                yield from _on_written(places, idle, chain, ())
                if cuts:
                    yield from _on_written(places, idle, chain, cuts)
            yield from _on_new(places, chain, sorted(ends), cuts)
            if not cuts:
                return
    if len(whole) <= MOST_PIECES and not _is_reversed(places, whole):
        gates = _gates(places, whole)
        if len(gates) == TWO and _may_turn(places, gates) and _comes_back(places, gates):
            for idle in written:
                yield from _on_written(places, idle, whole, ())
            yield from _on_new(places, whole, sorted(gates), ())


def _is_reversed(places: EntryPlaces, section: Iterable[str]) -> bool:
    """Whether some of a section is fed from a reverser."""
    layout = places.layout
    return any(layout.feeds[n].source in layout.reversers for p in section for n in places.feeds_of.get(p, ()))


def _on_new(
    places: EntryPlaces, section: Sequence[str], ends: list[int], cuts: tuple[Insulate, ...]
) -> Iterator[Choice]:
    """All of a section from a reverser that is not there yet."""
    layout = places.layout
    free = next(n for n in (f"R{k}" for k in range(1, 999)) if not _is_known(places, n))
    plain = [p for p in section if layout.pieces[p].kind.plain]
    fed = [n for p in section for n in places.feeds_of.get(p, ())]
    if not plain:
        return
    longest = max(plain, key=lambda p: layout.pieces[p].length or 0)
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
        if fed:
            wired = _from_reverser(places, section, dict(zip(poles, outputs, strict=True)), free)
            if wired is None:
                continue
            edit += wired[0]
        else:
            wires = ((outputs[0], named(longest, "left")), (outputs[1], named(longest, "right")))
            edit.append(AddFeed(Feed("", free, longest, wires, None, None, NO_WIRE, span)))
        at = list_in_words([f"'{layout.joints[n].name}'" for n in ends])
        said = f"'{longest}'" if len(plain) == 1 else f"'{section[0]}' to '{section[-1]}'"
        if fed and len(plain) < len(section):
            said = list_in_words([f"'{p}'" for p in section if p in places.feeds_of])
        device = f"a reverser ({as_yaml(free)}: {{from: {as_yaml(bus)}, mode: automatic}})"
        if by_hand:
            entry = f"{{from: {as_yaml(bus)}, follows: {switch}, straight: [normal]}}"
            device = f"a hand reversing switch ({switch}: {{positions: [normal, reversed]}}, {as_yaml(free)}: {entry})"
        say = (
            f"{f'insulate both rails at {at} and ' if cuts else ''}feed {said} from {device}"
            f"{wired[1] if fed and wired else ''}; the longest train must fit between"
            f"{'' if cuts else f' {at}'}"
            f"{', and the switch is thrown while it stands there' if by_hand else ''}"
        )
        headline = f"through '{longest}' the track comes back on itself with its rails exchanged"
        yield choice("reverser-missing", tuple(edit), headline, say, span)


def _from_reverser(
    places: EntryPlaces, section: Iterable[str], poles: dict[str, str], reverser: str
) -> tuple[list[Change], str] | None:
    """All feeds of a section, and its contacts that take a pole, from a reverser; None where more is wired to it.

    `poles`: what stands for which pole. With it the words for the contacts.
    """
    layout = places.layout
    rails = {layout.pieces[p].terminal(rail) for p in section for rail in layout.pieces[p].kind.rails}
    there = {place for rail in rails for place in places.at.get(rail, ())}
    if any(kind in {"pins", "links", "components", "units"} for kind, _ in there):
        return None
    edit: list[Change] = []
    for n in (n for p in section for n in places.feeds_of.get(p, ())):
        if any(pole not in poles for pole, _ in layout.feeds[n].wires):
            return None
        edit.append(Refeed(n, reverser, tuple((poles[p], rail) for p, rail in layout.feeds[n].wires)))
    said = ""
    for number in sorted(int(n) for k, n in there if k == "contacts"):
        contact = layout.contacts[number]
        throws = tuple((position, poles.get(to or "", to)) for position, to in contact.throws)
        if contact.common in rails and throws != contact.throws:
            edit.append(Rewire(number, throws, ("",) * len(throws)))
            changed = zip(throws, contact.throws, strict=True)
            ways = list_in_words([f"'{position}' to {to}" for (position, to), (_, was) in changed if to != was])
            said += f"; at the contact '{contact.full}' wire {ways}"
    return edit, said


def _on_written(
    places: EntryPlaces, reverser: str, section: Sequence[str], cuts: tuple[Insulate, ...]
) -> Iterator[Choice]:
    """All of a section from a reverser that is written and feeds nothing."""
    layout = places.layout
    fed = [n for p in section for n in places.feeds_of.get(p, ())]
    sources = {layout.feeds[n].source for n in fed}
    if len(sources) != 1:
        return
    (source,) = sources
    if places.signal(source) != places.signal(reverser):
        return
    said = list_in_words([f"'{p}'" for p in section if p in places.feeds_of])
    verb = "is" if len(fed) == 1 else "are"
    headline = f"{said} {verb} fed from '{source}', and the reverser '{reverser}' feeds nothing"
    kind, before = "section-source", ""
    if cuts:
        kind = "section-uncut"
        at = list_in_words([f"'{layout.joints[n].name}'" for n in sorted({cut.joint for cut in cuts})])
        before = f"insulate both rails at {at} and "
    entries = "its feed" if len(fed) == 1 else "their feeds"
    old, new = places.poles_of(source), places.poles_of(reverser)
    for turned in (False, True) if layout.reversers[reverser].variable is not None else (False,):
        wired = _from_reverser(places, section, dict(zip(old, new[::-1] if turned else new, strict=True)), reverser)
        if wired is None:
            return
        edit, contacts = wired
        say = f"{before}feed {said} from '{reverser}': write 'from: {as_yaml(reverser)}' at {entries}"
        say += f"{', and exchange A and B there' if turned else ''}{contacts}"
        made = choice(kind, (*cuts, *edit), headline, say, layout.feeds[fed[0]].span)
        yield made._replace(of=made.of | {("reversers", reverser, "")})  # it serves one section


def _gates(places: EntryPlaces, section: Iterable[str]) -> dict[int, EndOf]:
    """The joints at which a section ends, each with the end on its own side."""
    inside = set(section)
    found = {}
    for number in {n for p in inside for n in places.joints_of.get(p, ())}:
        joint = places.layout.joints[number]
        for here, there in ((joint.start, joint.end), (joint.end, joint.start)):
            if here[0] in inside and there[0] not in inside:
                found[number] = here
    return found


def _comes_back(places: EntryPlaces, gates: dict[int, EndOf]) -> bool:
    """Whether track leads from one gate of a section round to the other and back, so that left comes to be right."""
    if len(gates) != TWO:
        return False
    joints = [places.layout.joints[number] for number in gates]
    inner = list(gates.values())
    outer = [j.end if j.start == end else j.start for j, end in zip(joints, inner, strict=True)]
    own = sum(_turns(places, joint) for joint in joints)
    inside, outside = (_parities(places, a[0], b[0], gates) for a, b in (inner, outer))
    return any((own + a + b) % 2 for a in inside for b in outside)


def _turns(places: EntryPlaces, joint: Joint) -> bool:
    """Whether left joins right at a joint."""
    a, b = (places.layout.pieces[name].kind.ends[end].entering for name, end in (joint.start, joint.end))
    return a == b


def _parities(places: EntryPlaces, start: str, goal: str, gates: Container[int]) -> set[bool]:
    """Whether left comes to be right on the way from a piece to another that passes no gate, be it either."""
    stack, seen = [(start, False)], set[tuple[str, bool]]()
    while stack:
        here = stack.pop()
        if here in seen:
            continue
        seen.add(here)
        for number in places.joints_of.get(here[0], ()):
            joint = places.layout.joints[number]
            if number not in gates:
                other = joint.end[0] if joint.start[0] == here[0] else joint.start[0]
                stack.append((other, here[1] != _turns(places, joint)))
    return {turned for name, turned in seen if name == goal}


def _may_turn(places: EntryPlaces, gates: dict[int, EndOf]) -> bool:
    """Whether a section between two gates is one to put on a reverser.

    A loop is: a train goes on through it from gate to gate. So is a stub in which it turns back, unless beyond a gate
    there is such a loop.
    """
    if _runs_through(places, gates):
        return True
    layout = places.layout
    for number, (here, _) in gates.items():
        joint = layout.joints[number]
        beyond = places.section(joint.start[0] if joint.end[0] == here else joint.end[0])
        others = _gates(places, beyond) if len(beyond) <= MOST_PIECES else {}
        if len(others) == TWO and _runs_through(places, others):
            return False
    return True


def _runs_through(places: EntryPlaces, gates: dict[int, EndOf]) -> bool:
    """Whether a train that comes in over one of the gates of a section can leave it over another, going on."""
    layout = places.layout
    stack = list(gates.items())
    seen: set[tuple[int, EndOf]] = set()
    while stack:
        gate, here = stack.pop()
        if (gate, here) in seen:
            continue
        seen.add((gate, here))
        for route in layout.pieces[here[0]].kind.routes:
            if here[1] not in route.ends:
                continue
            out = (here[0], route.ends[1 - route.ends.index(here[1])])
            for number in places.joints_of.get(out[0], ()):
                joint = layout.joints[number]
                if out not in (joint.start, joint.end):
                    continue
                if number in gates:
                    if number != gate:
                        return True
                    continue
                stack.append((gate, joint.end if joint.start == out else joint.start))
    return False


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
