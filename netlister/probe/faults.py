"""What can be wrong with a layout as built: every fault as a damage of the circuit in detail."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import setting_when
from netlister.kinds import KindError
from netlister.layout.model import Value
from netlister.layout.terminal import Terminal
from netlister.probe.detail import FineConductor

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import When
    from netlister.layout.model import Piece
    from netlister.probe.detail import Detail
    from netlister.source import Span


class Damage(NamedTuple):
    """Conductors (by number) taken away, and conductors put in their place."""

    out: tuple[int, ...] = ()
    into: tuple[FineConductor, ...] = ()


class Fault(NamedTuple):
    """A fault: its kind, the parts it is at, in words, and the damages that it may be.

    There are several damages where the words leave open what exactly is where; a reading sees the fault only if it sees
    each of them.
    """

    kind: str
    parts: tuple[str, ...]
    name: str
    damages: tuple[Damage, ...]
    span: Span | None = None

    def key(self) -> tuple[str, tuple[str, ...]]:
        """What tells it from others."""
        return self.kind, self.parts


def fault_list(made: Detail) -> list[Fault]:
    """Every single fault of a layout, in a fixed order."""
    found = [
        *_joints(made),
        *_feeds(made),
        *_contacts(made),
        *_machines(made),
        *_pieces(made),
        *_wires(made),
        *_plugs(made),
        *_buses(made),
    ]
    seen: dict[tuple[str, tuple[str, ...]], Fault] = {}
    for fault in found:
        known = seen.get(fault.key())
        seen[fault.key()] = fault if known is None else known._replace(damages=known.damages + fault.damages)
    return list(seen.values())


def _joints(made: Detail) -> Iterator[Fault]:
    metal: dict[tuple[int, int, int], int] = {}
    for number, c in enumerate(made.conductors):
        if c.what == "joiner":
            metal[c.entry, c.a, c.b] = number
    for index, joint in enumerate(made.layout.joints):
        for side, (a, b, insulated) in zip(("left", "right"), joint.pairs, strict=True):
            ends = made.node[a], made.node[b]
            if insulated:
                said = f"the insulated joint '{joint.name}' is bridged on the {side}: {a} touches {b}"
                damage = Damage((), (FineConductor(*ends, "joiner", joint.name, index),))
                yield Fault("joint-bridged", (joint.name, side), said, (damage,), joint.span)
            else:
                said = f"the metal joiner of '{joint.name}' on the {side} does not conduct: {a} to {b}"
                damage = Damage((metal[(index, *ends)],))
                yield Fault("joint-open", (joint.name, side), said, (damage,), joint.span)


def _feeds(made: Detail) -> Iterator[Fault]:
    times: dict[str, int] = {}
    gaps = _gaps(made)
    for feed, wires in zip(made.layout.feeds, made.wires, strict=True):
        times[feed.piece] = times.get(feed.piece, 0) + 1
        piece = feed.piece + (f"#{times[feed.piece]}" if times[feed.piece] > 1 else "")
        cs = [made.conductors[n] for n in wires]
        for number, c in zip(wires, cs, strict=True):
            screw = made.names[c.a].removeprefix("screw:")
            rail = screw[len(feed.piece) + 1 :]
            said = f"the feed wire to {made.names[c.b]} is broken or off"
            yield Fault("feed-open", (feed.piece, rail), said, (Damage((number,)),), feed.span)
        if len(cs) == 2 and cs[0].b != cs[1].b:  # noqa: PLR2004
            first, second = cs
            at_rails = Damage(tuple(wires), (first._replace(b=second.b), second._replace(b=first.b)))
            screws = [n - 1 for n in wires]
            s, t = (made.conductors[n] for n in screws)
            at_screws = Damage(tuple(screws), (s._replace(a=t.a), t._replace(a=s.a)))
            said = f"the two feed wires of '{feed.piece}' are swapped"
            yield Fault("feed-swapped", (piece,), said, (at_rails, at_screws), feed.span)
        damages = []
        for there in sorted(gaps.get(feed.piece, {})):
            moved = gaps[feed.piece][there]
            away = [(n, c, moved[c.b]) for n, c in zip(wires, cs, strict=True) if c.b in moved]
            if away:
                damages.append(Damage(tuple(n for n, _, _ in away), tuple(c._replace(b=b) for _, c, b in away)))
        if damages:
            said = f"the feed wires of '{feed.piece}' are on the far side of an insulated joint"
            yield Fault("feed-misplaced", (piece,), said, tuple(damages), feed.span)


def _gaps(made: Detail) -> dict[str, dict[tuple[int, int], dict[int, int]]]:
    """Per piece and end of it at a joint with a gap: from each of its rails there to the rail on the far side."""
    found: dict[str, dict[tuple[int, int], dict[int, int]]] = {}
    for index, joint in enumerate(made.layout.joints):
        if any(insulated for _, _, insulated in joint.pairs):
            for k, (piece, _) in enumerate((joint.start, joint.end)):
                sides = [(pair[:2][k], pair[:2][1 - k]) for pair in joint.pairs]
                rails = {made.node[here]: made.node[there] for here, there in sides}
                found.setdefault(piece, {})[index, k] = rails
    return found


def _contacts(made: Detail) -> Iterator[Fault]:
    made_by: dict[int, list[int]] = {}
    for number, c in enumerate(made.conductors):
        if c.what == "contact":
            made_by.setdefault(c.entry, []).append(number)
    for index, contact in enumerate(made.layout.contacts):
        full = contact.full
        who = f"contact '{contact.name}' of '{contact.owner}'"
        lead = made.commons.get(full)
        if lead is not None:
            said = f"{who} makes in no position, or its common is off"
            yield Fault("contact-open", (contact.owner, contact.name), said, (Damage((lead,)),), contact.span)
        leads = made.throws.get(index, [])
        cs = [made.conductors[n] for n in leads]
        said = f"the throws of {who} are swapped"
        key = (contact.owner, contact.name)
        if len(cs) == 2 and cs[0].b != cs[1].b:  # noqa: PLR2004
            damage = Damage(tuple(leads), (cs[0]._replace(b=cs[1].b), cs[1]._replace(b=cs[0].b)))
            yield Fault("contact-swapped", key, said, (damage,), contact.span)
        elif len(cs) == 1 and len(contact.throws) == 2:  # noqa: PLR2004
            names = [made.node[contact.terminal(p)] for p, _ in contact.throws]
            other = names[1 - names.index(cs[0].a)]
            yield Fault("contact-swapped", key, said, (Damage(tuple(leads), (cs[0]._replace(a=other),)),), contact.span)
        throws = made_by.get(index, [])
        for position, _ in contact.throws:
            end = made.node[contact.terminal(position)]
            stuck = tuple(made.conductors[n]._replace(when=()) for n in throws if made.conductors[n].b == end)
            said = f"{who} is stuck at '{position}'"
            damage = Damage(tuple(throws), stuck)
            yield Fault("contact-stuck", (*key, position), said, (damage,), contact.span)


def _machines(made: Detail) -> Iterator[Fault]:
    moved: dict[int, list[int]] = {}
    for number, c in enumerate(made.conductors):
        for variable, _ in c.when:
            moved.setdefault(variable, []).append(number)
    for index, thrown in enumerate(made.circuit.variables):
        count = len(thrown.positions)
        if thrown.kind != "machine" or count != 2 or index not in moved:  # noqa: PLR2004
            continue
        into = tuple(
            c._replace(
                when=tuple((v, tuple(sorted(Value(1 - x) for x in xs)) if v == index else xs) for v, xs in c.when)
            )
            for c in (made.conductors[n] for n in moved[index])
        )
        said = f"machine '{thrown.name}' runs the wrong way: it stands in its other position"
        yield Fault("machine-reversed", (thrown.name,), said, (Damage(tuple(moved[index]), into),), thrown.span)


def _pieces(made: Detail) -> Iterator[Fault]:
    groups: dict[tuple[str, str], dict[tuple[int, int], list[int]]] = {}
    for number, c in enumerate(made.conductors):
        if c.what in {"blade", "bond"}:
            groups.setdefault((c.owner, c.what), {}).setdefault((c.a, c.b), []).append(number)
    for name, piece in made.layout.pieces.items():
        for what, kind in (("blade", "blade-open"), ("bond", "bond-open")):
            for (a, b), numbers in groups.get((name, what), {}).items():
                rails = tuple(Terminal.of(made.names[n]).own for n in (a, b))
                thing = "the blade or contact" if what == "blade" else "the bond"
                said = f"{thing} of '{name}' between {rails[0]} and {rails[1]} does not conduct"
                yield Fault(kind, (name, *rails), said, (Damage(tuple(numbers)),), piece.span)
        yield from _links(made, piece)


def _links(made: Detail, piece: Piece) -> Iterator[Fault]:
    """Links, foils and rails that were to be cut and were not."""
    library, kind = made.layout.library, piece.kind
    if library is None:
        return
    definition = library.definition(kind.name)
    given = dict(kind.options)
    for option, (values, _) in definition.options.items():
        now = given.get(option, definition.option_notes[option].default)
        others = [v for v in values if v != now]
        if now != "cut" or len(others) != 1:
            continue
        try:
            other = library.kind(kind.name, kind.hand, tuple((given | {option: others[0]}).items()))
        except KindError:
            continue
        node = made.node
        into = [
            FineConductor(node[piece.terminal(a)], node[piece.terminal(b)], "bond", piece.name)
            for a, b in other.bonds
            if (a, b) not in kind.bonds
        ]
        for m in other.made:
            if m not in kind.made:
                a, b = (node[piece.terminal(rail)] for rail in m.rails)
                when: When = setting_when(made.circuit, piece.name, m.when)
                if all(values for _, values in when):
                    into.append(FineConductor(a, b, "blade", piece.name, -1, when))
        if into:
            said = f"'{option}' of '{piece.name}' was not cut"
            yield Fault("link-left", (piece.name, option), said, (Damage((), tuple(into)),), piece.span)


def _wires(made: Detail) -> Iterator[Fault]:
    for number, c in enumerate(made.conductors):
        if c.what == "wire":
            link = made.layout.links[c.entry]
            name = link.name or "/".join(link.ends)
            said = f"the wire from {link.ends[0]} to {link.ends[1]} is broken or off"
            yield Fault("wire-open", (name,), said, (Damage((number,)),), link.span)


def _plugs(made: Detail) -> Iterator[Fault]:
    by_plug: dict[str, list[int]] = {}
    for number, c in enumerate(made.conductors):
        if c.what == "plug":
            by_plug.setdefault(made.layout.pins[c.entry].plug, []).append(number)
    for plug, numbers in by_plug.items():
        pins = {n: made.layout.pins[made.conductors[n].entry] for n in numbers}
        for n in numbers:
            said = f"pin {pins[n].pin} of plug '{plug}' does not conduct"
            yield Fault("plug-open", (plug, pins[n].pin), said, (Damage((n,)),), pins[n].span)
        for m, n in combinations(numbers, 2):
            one, other = made.conductors[m], made.conductors[n]
            said = f"pins {pins[m].pin} and {pins[n].pin} of plug '{plug}' are swapped"
            damage = Damage((m, n), (one._replace(b=other.b), other._replace(b=one.b)))
            yield Fault("plug-swapped", (plug, pins[m].pin, pins[n].pin), said, (damage,), pins[m].span)


def _buses(made: Detail) -> Iterator[Fault]:
    for bus, ties in made.buses.items():
        first, second = (made.conductors[n] for n in ties)
        damage = Damage(ties, (first._replace(a=second.a), second._replace(a=first.a)))
        said = f"the two wires of bus '{bus}' are swapped where it starts"
        yield Fault("bus-swapped", (bus,), said, (damage,), made.layout.buses[bus].span)
