"""The wiring of a track: what must be cut, what must be fed, and how little of it will do.

Wanted is that every rail is live in all positions. Then a rail that no frog belongs to keeps one pole for good, and
two facts follow that need no search: where a frog meets such a rail, or another frog, the joint is insulated; and every
net of such rails that nothing feeds yet needs one wire. Both are needed in any wiring that does the same, so their
number is a bound; contacts are needed where nothing else feeds a frog. What is open is where reversing sections lie.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, Any

from netlister.circuit.districts import districts
from netlister.edits.gear import AddLink, AddReverser, AddSwitch, AddUnit
from netlister.edits.model import AddContact, AddFeed, Insulate
from netlister.kinds.model import Role
from netlister.layout.model import Feed, FrogUnit, Link, Reverser, Value, Variable
from netlister.layout.terminal import Terminal, named, owner_of
from netlister.propose.gear import bridge_leader, by_blades, crossing_contact, frog_contact, leader
from netlister.propose.model import NO_WIRE, SWITCHING, Choice, Design, Saving, Section
from netlister.propose.options import joined_inside
from netlister.propose.track import Parity, Track

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.edits.model import Change
    from netlister.layout.model import Contact, Layout, Piece

NO_CHOICE = Choice()
LETTERS = ("A", "B")


def design(layout: Layout, choice: Choice = NO_CHOICE) -> Design:
    """The cheapest wiring for what was chosen."""
    return _Designer(layout, choice).made()


class Nets:
    """Rails joined for good."""

    def __init__(self) -> None:
        self.parity = Parity()

    def join(self, a: str, b: str) -> None:
        """Join two terminals."""
        self.parity.join(a, b, 0)

    def of(self, terminal: str) -> object:
        """The net of a terminal."""
        return self.parity.find(terminal)[0]


class _Designer:
    def __init__(self, layout: Layout, choice: Choice) -> None:
        self.layout = layout
        self.choice = choice
        self.aim = choice.aim
        self.extra = choice.extra
        self.track = Track(layout)
        self.sections = list(choice.sections)
        self.out = Design()
        self.section_of = {name: n for n, section in enumerate(self.sections) for name in section.pieces}
        self.existing = {f.piece: f.source for f in layout.feeds if f.source in layout.reversers}
        self.pieces_on_reversers = section_pieces(layout)
        self.turning = {name for name in layout.pieces if self.track.turns(name)}
        self.shorting = {
            p.name
            for p in layout.pieces.values()
            if len(p.kind.ends) == 1
            and any({e.left, e.right} <= {*bond} for e in p.kind.ends.values() for bond in p.kind.bonds)
        }
        self.districts = districts(layout)
        self.reverser_of: dict[int, str] = {}
        self.hints: list[tuple[str, int]] = []
        self.taken = {*layout.reversers, *layout.pieces, *layout.machines, *layout.variables, *layout.supplies}
        self.taken |= {*layout.buses, *layout.units, *layout.components, *layout.boards, *layout.trains}
        self.taken |= {pin.plug for pin in layout.pins} | {contact.owner for contact in layout.contacts}
        self.contacts = {(c.owner, c.name) for c in layout.contacts}

    def made(self) -> Design:
        self.free = {number for section in self.sections for number in section.joints} | free_already(self.layout)
        self.parity, wrong = self.track.parity(self.free)
        self.out.contradictions = len(wrong)
        for number in wrong:
            name = self.layout.joints[number].name
            self.out.missing.append(f"a reversing section is needed on the way through '{name}'")
        self._sources()
        self._colours()
        self.meant = {name for e in self.layout.expectations if not e.live for name in e.pieces} - {*self.switched}
        self._cut()
        self._nets()
        for section in self.sections:
            self._reverser(section)
        self._bridges()
        self._feed()
        self._frogs()
        self._built_wrong()
        if self.aim in SWITCHING:
            self.out.savings = list(self._savings())
        return self.out

    def _free_name(self, letter: str) -> str:
        name = next(f"{letter}{n}" for n in range(1, len(self.taken) + 2) if f"{letter}{n}" not in self.taken)
        self.taken.add(name)
        return name

    def _add(self, change: Change, why: str, what: str = "", count: int = 1) -> None:
        self.out.changes.append((change, why))
        if what:
            self.out.counted[what] += count

    def _built_wrong(self) -> None:
        """Name the pieces whose own bonds join their two rails: no wiring helps there."""
        for piece in self.layout.pieces.values():
            if joined_inside(piece.kind):
                said = ", ".join(f"'{option}: {value}'" for option, value in piece.kind.options)
                self.out.missing.append(
                    f"'{piece.name}' is built so that its two rails are joined ({said}); mend it first"
                )

    # -- what is there

    def _sources(self) -> None:
        """What feeds each piece: the bus of the nearest feed (else the first), and the contacts that switch a section.

        A hand switch that leads to a rail of plain track makes a section of it and what is joined to it, as far as the
        next track that is fed in another way.
        """
        layout = self.layout
        buses = [b for b in layout.buses.values() if not layout.supplies[b.supply].accessory]
        written = [b.name for b in buses if not b.implicit] or [b.name for b in buses]
        near: dict[str, str] = {}
        switched: dict[str, dict[int, str]] = {}
        for feed in layout.feeds:
            if feed.source not in layout.reversers:
                near.setdefault(feed.piece, feed.source)
        for contact in layout.contacts:
            name, rail = Terminal.of(contact.common or "")
            piece = layout.pieces.get(name)
            if piece is None or not piece.kind.plain or contact.owner in layout.machines:
                continue
            for number, (_, to) in enumerate(contact.throws):
                bus = next((b for b in buses if to in b.poles), None)
                if bus is not None:
                    near.setdefault(name, next((b for b in contact.buses[number + 1 : number + 2] if b), bus.name))
                    letter = bus.poles.index(to or "")
                    switched.setdefault(name, {})[letter] = contact.terminal("common")
                    self.hints.append((named(name, rail), letter))
                    break
        beside: dict[str, list[str]] = {}
        for joint in layout.joints:
            beside.setdefault(joint.start[0], []).append(joint.end[0])
            beside.setdefault(joint.end[0], []).append(joint.start[0])
        self.switched = switched
        queue = deque(near)
        for name in layout.pieces:
            while queue:
                here = queue.popleft()
                for other in beside.get(here, ()):
                    if other not in near:
                        near[other] = near[here]
                        if here in switched:
                            switched[other] = switched[here]
                        queue.append(other)
            if name not in near:
                near[name] = written[0]
                queue.append(name)
        self.buses = near

    def _source(self, piece: str, letter: int) -> str:
        """What gives a piece a letter: a pole with its district, or the common of a switch's contact."""
        found = self.switched.get(piece, {}).get(letter)
        if found:
            return found
        bus = self.buses[piece]
        return f"{self._poles(bus)[letter]}/{self.districts.get(bus, '')}"

    def _poles(self, source: str) -> tuple[str, str]:
        layout = self.layout
        if source in layout.reversers:
            return layout.reversers[source].outputs
        if source in self.reverser_of.values():
            return named(source, "A"), named(source, "B")
        return layout.buses[source].poles if source in layout.buses else layout.supplies[source].poles

    # -- colours

    def _colours(self) -> None:
        """Which letter each rail has: as the feeds that are there say; else the left rail of the first piece gets A."""
        self.side = {terminal: (head, turn) for terminal, head, turn in self.track.sides(self.parity)}
        self.letter: dict[object, int] = {}  # of the head's left
        for rail, letter in self.hints:
            if rail in self.side:
                head, turn = self.side[rail]
                self.letter.setdefault(head, letter ^ turn)
        for feed in self.layout.feeds:
            if feed.source in self.layout.reversers:
                continue
            poles = self._poles(feed.source)
            for pole, rail in feed.wires:
                if rail in self.side and pole in poles:
                    head, turn = self.side[rail]
                    letter = poles.index(pole) ^ turn
                    if self.letter.setdefault(head, letter) != letter:
                        self.out.missing.append(f"the feed of '{feed.piece}' is the other way round than others are")
        for head, turn in self.side.values():  # what is left: the left rail of the first piece of a part
            self.letter.setdefault(head, turn)

    def _letter(self, terminal: str) -> int:
        head, turn = self.side[terminal]
        return self.letter.setdefault(head, 0) ^ turn

    # -- joints

    def _cut(self) -> None:
        joints = self.layout.joints
        self.cut: dict[tuple[int, int], str] = {}
        kept = self._kept()
        for number, joint in enumerate(joints):
            for side, (a, b, insulated) in enumerate(joint.pairs):
                if insulated or ((number, side) in kept and {a, b} & self.track.frogs):
                    continue
                why = self._why(number, a, b)
                if why:
                    self.cut[number, side] = why
                    self.out.doubtful += self._together(a, b)
                    self._add(Insulate(number, side, True), why, "joiner")

    def _together(self, a: str, b: str) -> bool:
        """Whether two rails might stay joined: frogs that one machine moves, or one that has no wire on purpose."""
        for terminal in (a, b):
            piece = self.layout.pieces[owner_of(terminal)]
            if piece.dead_frog or piece.kind.sealed:
                return True  # a frog without a wire might do without
        if a not in self.track.frogs or b not in self.track.frogs:
            return False
        moved = [{self.layout.bars[bar].variable for bar in self.layout.pieces[owner_of(t)].bars} for t in (a, b)]
        return bool(moved[0] & moved[1]) or not all(moved)

    def _why(self, number: int, a: str, b: str) -> str:
        """Why a rail is insulated at a joint, or nothing."""
        joint = self.layout.joints[number]
        if number in self.free:
            return "the section turns its poles round against the track beyond"
        for name in (joint.start[0], joint.end[0]):
            if name in self.shorting:
                return f"'{name}' joins its two rails"
        frog = a if a in self.track.frogs else b if b in self.track.frogs else ""
        if frog:
            piece = owner_of(frog)
            other = b if frog == a else a
            also = " and so does the rail beyond" if other in self.track.frogs else ""
            return f"{frog} changes its pole as '{piece}' is thrown{also}"
        if a in self.side and b in self.side and joint.start[0] not in self.turning:
            letter = self._letter(a)
            p, q = self._source(joint.start[0], letter), self._source(joint.end[0], letter)
            if p != q:
                p, q = (end if "/" not in end else self.buses[n] for end, n in ((p, joint.start[0]), (q, joint.end[0])))
                return f"'{p}' feeds one side and '{q}' the other"
        return ""

    def _kept(self) -> set[tuple[int, int]]:
        """Rails that stay joined by metal to a frog, so that a turnout switches the track beyond as it is meant to."""
        if not self.meant:
            return {*self.choice.metal}
        nets: dict[str, list[tuple[str, int, int]]] = {}
        for number, joint in enumerate(self.layout.joints):
            for side, (a, b, insulated) in enumerate(joint.pairs):
                if not insulated:
                    nets.setdefault(a, []).append((b, number, side))
                    nets.setdefault(b, []).append((a, number, side))
        kept = {*self.choice.metal}
        for name in sorted(self.meant):
            seen = {named(name, rail) for rail in self.layout.pieces[name].kind.rails}
            stack = list(seen)
            while stack:
                here = stack.pop()
                for other, number, side in nets.get(here, ()):
                    kept.add((number, side))
                    if other not in seen and other not in self.track.frogs and "." in other:
                        seen.add(other)
                        stack += [other]
        return kept

    def _nets(self) -> None:
        """Rails joined for good, with the cuts made; what feeds each; which change."""
        layout, nets = self.layout, Nets()
        for piece in layout.pieces.values():
            for a, b in piece.kind.bonds:
                nets.join(piece.terminal(a), piece.terminal(b))
        for number, joint in enumerate(layout.joints):
            for side, (a, b, insulated) in enumerate(joint.pairs):
                if not insulated and (number, side) not in self.cut:
                    nets.join(a, b)
        parts = [c for c in layout.components.values() if c.kind != "capacitor"]
        for ends in (*(e.ends for e in layout.links), *(e.ends for e in layout.pins), *(c.ends for c in parts)):
            nets.join(*ends)
        self.nets = nets
        self.fed: set[object] = set()
        for feed in layout.feeds:
            self.fed.update(nets.of(rail) for _, rail in feed.wires)
        poles = {pole for supply in layout.supplies.values() for pole in supply.poles}
        poles |= {pole for reverser in layout.reversers.values() for pole in reverser.outputs}
        self.fed.update(nets.of(pole) for pole in poles)
        for contact in layout.contacts:
            if contact.common and any(to for _, to in contact.throws):
                self.fed.add(nets.of(contact.common))
        self.fed.update(nets.of(unit.frog) for unit in layout.units.values())
        self.changing = {nets.of(frog) for frog in self.track.frogs}

    # -- feeds

    def _feed(self) -> None:
        """One wire for every net that nothing feeds; both rails of a piece together where that serves."""
        plain = sorted(self.layout.pieces.values(), key=lambda p: (not p.kind.plain, len(p.kind.rails)))
        if self.aim == "every-piece":
            self._every_piece(plain)
        wanted = self._wanted()
        for both in (True, False):
            for piece in plain:
                while len(rails := self._rails_to_feed(piece, wanted)) == 2 or (rails and not both):  # noqa: PLR2004
                    self._add_feed(piece, rails[:2])
                    wanted -= {self.nets.of(rail) for rail in rails[:2]}
                    self.fed |= {self.nets.of(rail) for rail in rails[:2]}

    def _every_piece(self, pieces: list[Piece]) -> None:
        """Feed the rails of every piece that keep their pole and that no wire of its own goes to."""
        wired = {rail for feed in self.layout.feeds for _, rail in feed.wires}
        for piece in pieces:
            if piece.name in self.pieces_on_reversers or piece.name in self.shorting:
                continue
            own = Nets()
            for a, b in piece.kind.bonds:
                own.join(piece.terminal(a), piece.terminal(b))
            rails: dict[object, str] = {}
            has = {own.of(rail) for rail in wired}
            for rail in piece.kind.rails:
                terminal = piece.terminal(rail)
                if terminal not in self.side or rail in piece.kind.sealed or self.nets.of(terminal) in self.changing:
                    continue
                if piece.kind.roles[rail] is not Role.CLOSURE and own.of(terminal) not in has:
                    rails.setdefault(own.of(terminal), terminal)
            left = sorted(rails.values(), key=self._letter)
            while left:
                pair = [left.pop(0)]
                pair += [r for r in left if self._letter(r) != self._letter(pair[0])][:1]
                left = [r for r in left if r not in pair]
                self._add_feed(piece, pair)
                self.fed |= {self.nets.of(rail) for rail in pair}

    def _wanted(self) -> set[object]:
        """The nets that need a wire: none feeds them, and not every rail of them lies behind blades alone."""
        wanted = set()
        at_sections = self._at_sections()
        nets = {self.nets.of(terminal) for terminal in self.choice.bladed if terminal}
        by_turnouts = {terminal for terminal in self.side if self.nets.of(terminal) in nets}
        for terminal in self.side:
            net = self.nets.of(terminal)
            name, rail = Terminal.of(terminal)
            piece = self.layout.pieces[name]
            bladed = any(rail in made.rails for made in piece.kind.made) and piece.kind.roles[rail] is Role.CLOSURE
            bladed = bladed and terminal not in self.extra and name not in at_sections and self.aim != "no-blades"
            bladed = bladed or terminal in by_turnouts
            if net not in self.fed and net not in self.changing and not bladed and name not in self.shorting:
                wanted.add(net)
        return wanted

    def _rails_to_feed(self, piece: Piece, wanted: set[object]) -> list[str]:
        rails: list[str] = []
        for rail in piece.kind.rails:
            terminal = piece.terminal(rail)
            if rail in piece.kind.sealed or terminal not in self.side or self.nets.of(terminal) not in wanted:
                continue
            if all(self.nets.of(r) != self.nets.of(terminal) for r in rails):
                if rails and self._letter(rails[0]) == self._letter(terminal):
                    continue
                rails.append(terminal)
        return rails

    def _add_feed(self, piece: Piece, rails: list[str]) -> None:
        why = f"without it {' and '.join(rails)} would have no pole"
        switched = self.switched.get(piece.name, {})
        for rail in [r for r in rails if self._letter(r) in switched]:
            rails = [r for r in rails if r != rail]
            link = Link("", (switched[self._letter(rail)], rail), NO_WIRE, "", piece.span)
            self._add(AddLink(link), f"without it {rail} would not be switched with its section", "feed")
        if rails:
            source = self.reverser_of.get(self.section_of.get(piece.name, -1), self.buses[piece.name])
            poles = self._poles(source)
            wires = tuple(sorted((poles[self._letter(rail)], rail) for rail in rails))
            self._wire(piece, source, wires, why)

    def _wire(self, piece: Piece, source: str, wires: tuple[tuple[str, str], ...], why: str) -> None:
        bus = self.layout.buses.get(source)
        tap = None if bus is None else bus.wire.length  # the far end: the worst place, until it is measured
        feed = Feed("", source, piece.name, wires, None, tap, self.choice.wire, piece.span)
        self._add(AddFeed(feed), why, "feed", len(wires))

    # -- what turnouts may switch

    def _savings(self) -> Iterator[tuple[Saving, ...]]:
        """Per net that got a wire, by what it could hang instead: a frog behind a joiner, or blades."""
        layout = self.layout
        wired = {}
        for change, _ in self.out.changes:
            if isinstance(change, AddFeed) and change.feed.source not in self.reverser_of.values():
                wired.update({self.nets.of(rail): rail for _, rail in change.feed.wires})
        rails: dict[object, set[str]] = {}
        for terminal in self.side:
            rails.setdefault(self.nets.of(terminal), set()).add(terminal)
        cuts: dict[object, list[tuple[int, int]]] = {}
        sidings = self._sidings() if self.aim == "switched-sidings" else None
        for number, side in self.cut:
            a, b, _ = layout.joints[number].pairs[side]
            frogs = [t for t in (a, b) if t in self.track.frogs]
            if number in self.free or any(owner_of(t) in self.turning for t in (a, b)):
                continue
            if len(frogs) == 2 and sidings is None and self._together(a, b):  # noqa: PLR2004
                yield (Saving(((number, side),), "", 0, frozenset((a, b))),)
            elif len(frogs) == 1:
                cuts.setdefault(self.nets.of(b if frogs == [a] else a), []).append((number, side))
        for net, rail in wired.items():
            inside = rails.get(net, set())
            names = {owner_of(t) for t in inside}
            if names & self._at_sections() or net in self.changing:
                continue
            if sidings is not None and not names & sidings:
                continue
            found = []
            here = cuts.get(net, [])
            if len(here) > 1 and (self._tied(here) or layout.never):
                found.append(Saving(tuple(here), rail, 1, frozenset(inside)))
            found += [Saving((one,), rail, 1, frozenset(inside)) for one in here]
            if self._over_blades(inside):
                found.append(Saving((), rail, 1, frozenset(inside)))
            if found:
                yield tuple(found)

    def _tied(self, cuts: list[tuple[int, int]]) -> bool:
        """Whether one machine moves all the frogs at some joints."""
        moved = []
        for number, side in cuts:
            for terminal in self.layout.joints[number].pairs[side][:2]:
                if terminal in self.track.frogs:
                    bars = self.layout.pieces[owner_of(terminal)].bars
                    moved.append({self.layout.bars[bar].variable for bar in bars})
        return bool(set.intersection(*moved))

    def _over_blades(self, rails: set[str]) -> bool:
        """Whether blades lead to one of some rails that keep their pole."""
        for terminal in rails:
            name, rail = Terminal.of(terminal)
            kind = self.layout.pieces[name].kind
            if kind.roles[rail] is Role.CLOSURE and any(rail in made.rails for made in kind.made):
                return True
        return False

    def _sidings(self) -> set[str]:
        """Plain track beyond a leg of a turnout, which ends there."""
        found = set()
        for row, edge in self.track.stretches():
            if len(edge) == 1:
                joint = self.layout.joints[edge[0]]
                name, end = joint.end if joint.start[0] in row else joint.start
                kind = self.layout.pieces[name].kind
                if kind.bladed and any(end not in route.ends for route in kind.routes):
                    found.update(row)
        return found

    # -- reversers

    def _reverser(self, section: Section) -> None:
        """Feed every net of a section from a reverser of its own."""
        pieces = sorted(
            (self.layout.pieces[name] for name in section.pieces), key=lambda p: (not p.kind.plain, -(p.length or 0.0))
        )
        source = ""
        for piece in pieces:
            nets: dict[object, str] = {}
            for rail in piece.kind.rails:
                terminal = piece.terminal(rail)
                net = self.nets.of(terminal)
                if terminal in self.side and net not in self.fed and piece.name not in self.shorting:
                    nets.setdefault(net, terminal)
            rails = sorted(nets.values(), key=self._letter)
            while rails:
                first = rails.pop(0)
                other = next((r for r in rails if self._letter(r) != self._letter(first)), "")
                pair = [first, *([other] if other else [])]
                rails = [r for r in rails if r != other]
                if not source:
                    why = f"through '{piece.name}' the track comes back on itself turned round"
                    source = self._add_reverser(piece, why, leader(self.layout, self._ends(section)))
                    self.reverser_of[self.sections.index(section)] = source
                outputs = (named(source, "A"), named(source, "B"))
                wires = tuple((outputs[self._letter(rail)], rail) for rail in pair)
                self._wire(piece, source, wires, f"from {source}, so that its poles can turn round")
                self.fed |= {self.nets.of(rail) for rail in pair}

    def _ends(self, section: Section) -> Iterator[tuple[tuple[str, str], tuple[str, str], int]]:
        """Per joint at an end of a section both ends of track, and how its reverser must stand there."""
        for number in section.joints:
            one, two, turned = self.track.joint(number)
            (head, p), (other, q) = self.parity.find(one), self.parity.find(two)
            stands = self.letter.setdefault(head, 0) ^ p ^ self.letter.setdefault(other, 0) ^ q ^ turned
            joint = self.layout.joints[number]
            yield joint.start, joint.end, stands

    def _add_reverser(self, piece: Piece, why: str, leads: tuple[str, tuple[int, ...]]) -> str:
        """A reverser: automatic; on direct current one that follows what it can, else a hand switch."""
        layout = self.layout
        name = self._free_name("R")
        bus = self.buses[piece.name]
        supply = layout.supplies[layout.buses[bus].supply if bus in layout.buses else bus]
        outputs = (named(name, "A"), named(name, "B"))
        reverser = Reverser(name, bus, self._poles(bus), outputs, True, None, (), piece.span)
        if supply.type == "dc":
            follows, straight = ("", ()) if self.choice.by_hand else leads
            if not follows:
                follows, straight = self._free_name("S"), (0,)
                made = Variable(follows, "switch", ("normal", "reversed"), piece.span)
                self._add(AddSwitch(made), f"no turnout says how {name} must stand, so a person does")
            reverser = reverser._replace(
                automatic=False, variable=follows, straight=tuple(Value(value) for value in straight)
            )
        self._add(AddReverser(reverser), why, "reverser")
        return name

    def _bridges(self) -> None:
        """A bridge that is turned end for end gets a reverser."""
        for name in sorted(self.turning):
            piece = self.layout.pieces[name]
            rails = [named(name, rail) for rail in piece.kind.rails if named(name, rail) in self.track.frogs]
            if len(rails) == 2 and not any(self.nets.of(rail) in self.fed for rail in rails):  # noqa: PLR2004
                first = Terminal.of(rails[0]).own
                routes = {route.name: route for route in piece.kind.routes}

                def turned(route: str, name: str = name, first: str = first, routes: Any = routes) -> int:
                    head, turn = self.parity.find((name, "route", route))
                    return self.letter.setdefault(head, 0) ^ turn ^ int(first in routes[route].right)

                self._on_reverser(
                    piece, rails, f"'{name}' turns end for end", bridge_leader(self.layout, piece, turned)
                )
                self.fed |= {self.nets.of(rail) for rail in rails}

    def _on_reverser(self, piece: Piece, rails: list[str], why: str, leads: tuple[str, tuple[int, ...]]) -> None:
        name = self._add_reverser(piece, why, leads)
        wires = tuple(zip((named(name, "A"), named(name, "B")), rails, strict=False))
        self._wire(piece, name, wires, f"from {name}, so that its poles can turn round")

    def _at_sections(self) -> set[str]:
        """The pieces at the ends of reversing sections: there a short must draw its current, so not over blades."""
        joints = self.layout.joints
        found = {name for n in self.free for name in (joints[n].start[0], joints[n].end[0])}
        for joint in joints:
            ends = {joint.start[0], joint.end[0]}
            found |= ends if ends & self.turning else set()
        return found

    # -- frogs

    def _frogs(self) -> None:
        at_sections = self._at_sections()
        for piece in self.layout.pieces.values():
            if piece.dead_frog or piece.name in self.turning:
                continue
            for rail in piece.kind.rails:
                terminal = piece.terminal(rail)
                if terminal not in self.track.frogs or self.nets.of(terminal) in self.fed or rail in piece.kind.sealed:
                    continue
                blades = by_blades(piece, rail) and piece.name not in at_sections
                if not blades or self.aim == "no-blades":
                    self._frog(piece, terminal, blades=blades)

    def _frog(self, piece: Piece, terminal: str, *, blades: bool) -> None:
        """Give a frog a contact that moves with the blades; where there is nothing to put one on, a frog unit."""
        layout = self.layout
        why = f"without it {terminal} would have its pole through the blades alone"
        if not blades:
            why = f"without it {terminal} would have no pole"
        contact: Contact | None = None
        if self.choice.frogs == "contact":
            if not piece.kind.crossing:
                contact, lone = frog_contact(layout, piece, terminal, self.contacts)
                if lone:
                    why += f"; nothing throws '{lone}' that could have a contact"
            elif self.choice.crossings == "contact":
                contact = crossing_contact(layout, piece, terminal, self.contacts)
        if contact is not None:
            self.contacts.add((contact.owner, contact.name))
            self._add(AddContact(contact), why, "contact")
        elif piece.kind.crossing and self.choice.crossings == "reverser" and self._crossing_reverser(piece):
            return
        else:
            bus = self.buses[piece.name]
            unit = FrogUnit(self._free_name("U"), terminal, self._poles(bus), piece.span, None, bus)
            self._add(AddUnit(unit), why, "unit")
        self.fed.add(self.nets.of(terminal))

    def _crossing_reverser(self, piece: Piece) -> bool:
        """Feed the two frogs of a crossing from a reverser, where no one machine says which track is set."""
        frogs = [piece.terminal(rail) for rail in piece.kind.frogs]
        if len(frogs) != 2 or any(self.nets.of(frog) in self.fed for frog in frogs):  # noqa: PLR2004
            return False
        self._on_reverser(piece, frogs, f"the frogs of '{piece.name}' change places for each of its tracks", ("", ()))
        self.fed |= {self.nets.of(frog) for frog in frogs}
        return True


def free_already(layout: Layout) -> set[int]:
    """Joints cut on both rails where a section on a reverser that is there ends."""
    fed = section_pieces(layout)
    return {
        number
        for number, joint in enumerate(layout.joints)
        if joint.pairs[0][2] and joint.pairs[1][2] and (joint.start[0] in fed) != (joint.end[0] in fed)
    }


def section_pieces(layout: Layout) -> set[str]:
    """The pieces of sections on reversers that are there: what hangs with their feeds by metal."""
    fed = {f.piece for f in layout.feeds if f.source in layout.reversers}
    grown = bool(fed)
    while grown:
        grown = False
        for joint in layout.joints:
            ends = {joint.start[0], joint.end[0]}
            if len(ends & fed) == 1 and not (joint.pairs[0][2] and joint.pairs[1][2]):
                fed |= ends
                grown = True
    return fed
