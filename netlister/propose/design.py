"""The wiring of a track: what must be cut, what must be fed, and how little of it will do.

Wanted is that every rail is live in all positions. Then a rail that no frog belongs to keeps one pole for good, and
two facts follow that need no search: where a frog meets such a rail, or another frog, the joint is insulated; and every
net of such rails that nothing feeds yet needs one wire. Both are needed in any wiring that does the same, so their
number is a bound; contacts are needed where nothing else feeds a frog. What is open is where reversing sections lie.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from netlister.edits.model import AddContact, AddFeed, AddReverser, Insulate
from netlister.kinds.model import Role
from netlister.layout.model import Contact, Feed, Reverser, Value, Wire
from netlister.propose.track import Parity, Track
from netlister.repairs.needed import needed

if TYPE_CHECKING:
    from collections.abc import Collection

    from netlister.edits.model import Change
    from netlister.layout.model import Layout, Piece

LETTERS = ("A", "B")
PRICES = {"joiner": 1.0, "feed": 1.0, "contact": 2.0, "reverser": 10.0}
AIMS = ("all-live", "no-blades", "every-piece")


class Section(NamedTuple):
    """A reversing section: its pieces, and the joints at its ends."""

    pieces: tuple[str, ...]
    joints: tuple[int, ...]


@dataclass(slots=True)
class Design:
    """Changes with the reason for each; what is missing and cannot be added."""

    changes: list[tuple[Change, str]] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    joiners: int = 0
    doubtful: int = 0  # joiners between two frogs that one machine moves, which might do without
    feeds: int = 0
    contacts: int = 0
    reversers: int = 0

    def cost(self, prices: dict[str, float]) -> float:
        """The price of all that is added."""
        return (
            self.joiners * prices["joiner"]
            + self.feeds * prices["feed"]
            + self.contacts * prices["contact"]
            + self.reversers * prices["reverser"]
        )


def design(  # noqa: PLR0913 - what there is to choose
    layout: Layout,
    sections: Collection[Section] = (),
    aim: str = "all-live",
    extra: Collection[str] = (),
    *,
    crossings: str = "contact",
    straight: int = 0,
) -> Design:
    """The cheapest wiring with the reversing sections given, for one aim.

    `extra`: rails that need a wire although blades lead to them. `crossings`: "contact" or "reverser", what the frogs
    of a crossing get where a machine says which track is set. `straight`: on direct current the position of the turnout
    at a section in which its reverser, which follows the turnout, stands straight.
    """
    designer = _Designer(layout, list(sections), aim, frozenset(extra), crossings)
    designer.straight = straight
    return designer.made()


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
    def __init__(
        self, layout: Layout, sections: list[Section], aim: str, extra: frozenset[str], crossings: str
    ) -> None:
        self.layout = layout
        self.extra = extra
        self.straight = 0
        self.crossings = crossings
        self.aim = aim
        self.track = Track(layout)
        self.sections = sections
        self.out = Design()
        self.section_of = {name: n for n, section in enumerate(sections) for name in section.pieces}
        self.existing = {f.piece: f.source for f in layout.feeds if f.source in layout.reversers}
        self.turning = self._turning()
        self.shorting = {
            p.name
            for p in layout.pieces.values()
            if len(p.kind.ends) == 1
            and any({e.left, e.right} <= {*bond} for e in p.kind.ends.values() for bond in p.kind.bonds)
        }

    def made(self) -> Design:
        self.free = {number for section in self.sections for number in section.joints} | self._free_already()
        self.parity, wrong = self.track.parity(self.free)
        for number in wrong:
            name = self.layout.joints[number].name
            self.out.missing.append(f"a reversing section is needed on the way through '{name}'")
        self.buses = self._buses()
        self._colours()
        self._switched()
        self._cut()
        self._nets()
        for section in self.sections:
            self._reverser(section)
        self._bridges()
        self._feed()
        self._frogs()
        self._built_wrong()
        return self.out

    def _built_wrong(self) -> None:
        """Name the pieces whose own bonds join their two rails: no wiring helps there."""
        for piece in self.layout.pieces.values():
            own = Nets()
            for a, b in piece.kind.bonds:
                own.join(a, b)
            if piece.name not in self.shorting and any(
                own.of(a) == own.of(b)
                for route in piece.kind.routes
                for a in route.left
                for b in route.right
                if a and b and f"{piece.name}.{a}" not in self.track.frogs
            ):
                said = ", ".join(f"'{option}: {value}'" for option, value in piece.kind.options)
                self.out.missing.append(
                    f"'{piece.name}' is built so that its two rails are joined ({said}); mend it first"
                )

    # -- what is there

    def _turning(self) -> set[str]:
        """Pieces of which rails that are no frogs change sides: the bridge of a turntable."""
        return {t.partition(".")[0] for t in self.track.frogs if not self.layout.is_changing(t)}

    def _free_already(self) -> set[int]:
        """Joints cut on both rails where a section on a reverser that is there ends."""
        fed = self._section_pieces()
        return {
            number
            for number, joint in enumerate(self.layout.joints)
            if joint.pairs[0][2] and joint.pairs[1][2] and (joint.start[0] in fed) != (joint.end[0] in fed)
        }

    def _section_pieces(self) -> set[str]:
        """The pieces of sections on reversers that are there: what hangs with their feeds by metal."""
        fed = set(self.existing)
        grown = True
        while grown:
            grown = False
            for joint in self.layout.joints:
                ends = {joint.start[0], joint.end[0]}
                if len(ends & fed) == 1 and not (joint.pairs[0][2] and joint.pairs[1][2]):
                    fed |= ends
                    grown = True
        return fed

    def _buses(self) -> dict[str, str]:
        """The bus of each piece: that of the nearest feed; the first one where there is none."""
        layout = self.layout
        buses = [b for b in layout.buses.values() if not layout.supplies[b.supply].accessory]
        written = [b.name for b in buses if not b.implicit] or [b.name for b in buses]
        near: dict[str, str] = {}
        for feed in layout.feeds:
            if feed.source not in layout.reversers:
                near.setdefault(feed.piece, feed.source)
        beside: dict[str, list[str]] = {}
        for joint in layout.joints:
            beside.setdefault(joint.start[0], []).append(joint.end[0])
            beside.setdefault(joint.end[0], []).append(joint.start[0])
        queue = deque(near)
        for name in layout.pieces:
            while queue:
                here = queue.popleft()
                for other in beside.get(here, ()):
                    if other not in near:
                        near[other] = near[here]
                        queue.append(other)
            if name not in near:
                near[name] = written[0]
                queue.append(name)
        return near

    def _poles(self, source: str) -> tuple[str, str]:
        layout = self.layout
        if source in layout.reversers:
            return layout.reversers[source].outputs
        return layout.buses[source].poles if source in layout.buses else layout.supplies[source].poles

    # -- colours

    def _colours(self) -> None:
        """Which letter each rail has: as the feeds that are there say; else the first rail of a part gets A."""
        self.side = {terminal: (head, turn) for terminal, head, turn in self.track.sides(self.parity)}
        self.letter: dict[object, int] = {}  # of the head's left
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

    def _letter(self, terminal: str) -> int:
        head, turn = self.side[terminal]
        return self.letter.setdefault(head, 0) ^ turn

    def _switched(self) -> None:
        """Pieces that are meant to be dead in some state: they stay joined to the frog that switches them."""
        self.meant = {name for e in self.layout.expectations if not e.live for name in e.pieces}

    # -- joints

    def _cut(self) -> None:
        joints = self.layout.joints
        self.cut: dict[tuple[int, int], str] = {}
        kept = self._kept()
        for number, joint in enumerate(joints):
            for side, (a, b, insulated) in enumerate(joint.pairs):
                if insulated or (number, side) in kept:
                    continue
                why = self._why(number, a, b)
                if why:
                    self.cut[number, side] = why
                    self.out.doubtful += self._together(a, b)
                    self.out.joiners += 1
                    self.out.changes.append((Insulate(number, side, True), why))

    def _together(self, a: str, b: str) -> bool:
        """Whether two rails might stay joined: frogs that one machine moves, or one that has no wire on purpose."""
        for terminal in (a, b):
            piece = self.layout.pieces[terminal.partition(".")[0]]
            if piece.dead_frog or piece.kind.sealed:
                return True  # a frog without a wire might do without
        if a not in self.track.frogs or b not in self.track.frogs:
            return False
        moved = [
            {self.layout.bars[bar].variable for bar in self.layout.pieces[t.partition(".")[0]].bars} for t in (a, b)
        ]
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
            piece = frog.partition(".")[0]
            other = b if frog == a else a
            also = " and so does the rail beyond" if other in self.track.frogs else ""
            return f"{frog} changes its pole as '{piece}' is thrown{also}"
        if a in self.side and b in self.side and joint.start[0] not in self.turning:
            p, q = self.buses[joint.start[0]], self.buses[joint.end[0]]
            letter = self._letter(a)
            if self._poles(p)[letter] != self._poles(q)[letter]:
                return f"'{p}' feeds one side and '{q}' the other"
        return ""

    def _kept(self) -> set[tuple[int, int]]:
        """Rails that stay joined by metal to a frog, so that a turnout switches the track beyond as it is meant to."""
        if not self.meant:
            return set()
        nets: dict[str, list[tuple[str, int, int]]] = {}
        for number, joint in enumerate(self.layout.joints):
            for side, (a, b, insulated) in enumerate(joint.pairs):
                if not insulated:
                    nets.setdefault(a, []).append((b, number, side))
                    nets.setdefault(b, []).append((a, number, side))
        kept: set[tuple[int, int]] = set()
        for name in sorted(self.meant):
            seen = {f"{name}.{rail}" for rail in self.layout.pieces[name].kind.rails}
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
                nets.join(f"{piece.name}.{a}", f"{piece.name}.{b}")
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
        """Feed every rail of the rail sections that no wire of its own goes to."""
        wired = {rail for feed in self.layout.feeds for _, rail in feed.wires}
        for piece in pieces:
            if piece.kind.plain and piece.name not in self.section_of and piece.name not in self._section_pieces():
                rails = [f"{piece.name}.{rail}" for rail in piece.kind.rails]
                rails = [r for r in rails if r in self.side and r not in wired and self.nets.of(r) not in self.changing]
                self._add_feed(piece, rails)
                self.fed |= {self.nets.of(rail) for rail in rails}

    def _wanted(self) -> set[object]:
        """The nets that need a wire: none feeds them, and not every rail of them lies behind blades alone."""
        wanted = set()
        at_sections = self._at_sections()
        for terminal in self.side:
            net = self.nets.of(terminal)
            name, _, rail = terminal.partition(".")
            piece = self.layout.pieces[name]
            bladed = any(rail in made.rails for made in piece.kind.made) and piece.kind.roles[rail] is Role.CLOSURE
            bladed = bladed and terminal not in self.extra and name not in at_sections
            if net not in self.fed and net not in self.changing and not bladed and name not in self.shorting:
                wanted.add(net)
        return wanted

    def _rails_to_feed(self, piece: Piece, wanted: set[object]) -> list[str]:
        rails: list[str] = []
        for rail in piece.kind.rails:
            terminal = f"{piece.name}.{rail}"
            if rail in piece.kind.sealed or terminal not in self.side or self.nets.of(terminal) not in wanted:
                continue
            if all(self.nets.of(r) != self.nets.of(terminal) for r in rails):
                if rails and self._letter(rails[0]) == self._letter(terminal):
                    continue
                rails.append(terminal)
        return rails

    def _add_feed(self, piece: Piece, rails: list[str], source: str = "", why: str = "") -> None:
        if not rails:
            return
        source = source or self.buses[piece.name]
        poles = self._poles(source)
        wires = tuple(sorted((poles[self._letter(rail)], rail) for rail in rails))
        said = why or f"without it {' and '.join(rails)} would have no pole"
        self._wire(piece, source, wires, said)

    def _wire(self, piece: Piece, source: str, wires: tuple[tuple[str, str], ...], why: str) -> None:
        bus = self.layout.buses.get(source)
        tap = None if bus is None else bus.wire.length  # the far end: the worst place, until it is measured
        feed = Feed("", source, piece.name, wires, None, tap, NO_WIRE, piece.span)
        self.out.feeds += len(wires)
        self.out.changes.append((AddFeed(feed), why))

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
                terminal = f"{piece.name}.{rail}"
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
                    source = self._add_reverser(piece, why, self._leader(section))
                outputs = (f"{source}.A", f"{source}.B")
                wires = tuple((outputs[self._letter(rail)], rail) for rail in pair)
                self._wire(piece, source, wires, f"from {source}, so that its poles can turn round")
                self.fed |= {self.nets.of(rail) for rail in pair}

    def _on_reverser(self, piece: Piece, rails: list[str], why: str) -> None:
        name = self._add_reverser(piece, why)
        wires = tuple(zip((f"{name}.A", f"{name}.B"), rails, strict=False))
        self._wire(piece, name, wires, f"from {name}, so that its poles can turn round")

    def _leader(self, section: Section) -> str:
        """What a reverser on direct current follows: a turnout of two positions at an end of its section."""
        for number in section.joints:
            joint = self.layout.joints[number]
            for name in (joint.start[0], joint.end[0]):
                for bar in self.layout.pieces[name].bars:
                    variable = self.layout.bars[bar].variable
                    if len(self.layout.variables[variable].positions) == 2:  # noqa: PLR2004
                        return variable
        return ""

    def _add_reverser(self, piece: Piece, why: str, leader: str = "") -> str:
        layout = self.layout
        taken = {*layout.reversers, *layout.pieces, *layout.machines, *layout.variables, *layout.supplies}
        taken |= {*layout.buses, *layout.units, *layout.components, *layout.boards, *layout.trains}
        taken |= {pin.plug for pin in layout.pins} | {contact.owner for contact in layout.contacts}
        taken |= {c.reverser.name for c, _ in self.out.changes if isinstance(c, AddReverser)}
        name = next(f"R{n}" for n in range(1, len(taken) + 2) if f"R{n}" not in taken)
        bus = self.buses[piece.name]
        supply = layout.supplies[layout.buses[bus].supply if bus in layout.buses else bus]
        outputs = (f"{name}.A", f"{name}.B")
        reverser = Reverser(name, bus, self._poles(bus), outputs, True, None, (), piece.span)
        if supply.type == "dc" and leader:
            reverser = reverser._replace(automatic=False, variable=leader, straight=(Value(self.straight),))
        self.out.reversers += 1
        self.out.changes.append((AddReverser(reverser), why))
        return name

    def _bridges(self) -> None:
        """A bridge that is turned end for end gets a reverser."""
        for name in sorted(self.turning):
            piece = self.layout.pieces[name]
            rails = [f"{name}.{rail}" for rail in piece.kind.rails if f"{name}.{rail}" in self.track.frogs]
            if len(rails) == 2 and not any(self.nets.of(rail) in self.fed for rail in rails):  # noqa: PLR2004
                self._on_reverser(piece, rails, f"'{name}' turns end for end")
                self.fed |= {self.nets.of(rail) for rail in rails}

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
        at_sections = {
            name for n in self.free for name in (self.layout.joints[n].start[0], self.layout.joints[n].end[0])
        }
        for piece in self.layout.pieces.values():
            if piece.dead_frog or piece.name in self.turning:
                continue
            for rail in piece.kind.rails:
                terminal = f"{piece.name}.{rail}"
                if terminal not in self.track.frogs or self.nets.of(terminal) in self.fed or rail in piece.kind.sealed:
                    continue
                blades = _by_blades(piece, rail) and piece.name not in at_sections
                if blades and self.aim != "no-blades":
                    continue
                self._contact(piece, terminal, blades=blades)

    def _contact(self, piece: Piece, terminal: str, *, blades: bool) -> None:
        """Give a frog a contact that moves with the blades."""
        taken = {(c.owner, c.name) for c in self.layout.contacts}
        taken |= {(c.contact.owner, c.contact.name) for c, _ in self.out.changes if isinstance(c, AddContact)}
        lone = ""
        for bar in piece.bars:
            follows = self.layout.bars[bar]
            variable = self.layout.variables[follows.variable]
            name = _contact_name(variable.name, terminal, taken)
            throws = tuple((position, None) for position in variable.positions)
            values = tuple((Value(i),) for i in range(len(throws)))
            draft = Contact(
                variable.name, name, terminal, throws, values, variable.name, "break-before-make", piece.span, ()
            )
            wants = needed(self.layout, draft)
            if not wants:
                continue
            if "." in variable.name:
                lone = variable.name
                continue
            made = draft._replace(throws=tuple((p, want) for (p, _), want in zip(throws, wants, strict=True)))
            self.out.contacts += 1
            why = f"without it {terminal} would have its pole through the blades alone"
            if not blades:
                why = f"without it {terminal} would have no pole"
            self.out.changes.append((AddContact(made), why))
            self.fed.add(self.nets.of(terminal))
            return
        if blades:
            return
        crossing = self._crossing_contact(piece, terminal, taken) if piece.kind.crossing else None
        if crossing is not None:
            self.out.contacts += 1
            self.out.changes.append((AddContact(crossing), f"without it {terminal} would have no pole"))
            self.fed.add(self.nets.of(terminal))
        elif not piece.kind.crossing or not self._crossing_reverser(piece):
            need = f"a machine that throws '{lone}'" if lone else "a contact or a frog unit of its own"
            self.out.missing.append(f"{terminal} needs {need}; add it")

    def _crossing_contact(self, piece: Piece, terminal: str, taken: set[tuple[str, str]]) -> Contact | None:
        """A contact for the frog of a crossing on the one machine that says which track is set."""
        if self.crossings != "contact":
            return None
        names = {name for cubes in piece.sets.values() for cube in cubes for name, _ in cube}
        for name in sorted(names):
            variable = self.layout.variables[name]
            owner = name in self.layout.machines or variable.kind == "switch" or "." not in name
            wants: list[str | None] = []
            for position in variable.positions:
                sure = [t for t, cubes in piece.sets.items() if any(dict(c).get(name) == position for c in cubes)]
                tracks = sure or [
                    t for t, cubes in piece.sets.items() if any(dict(c).get(name, position) == position for c in cubes)
                ]
                found = {self._beside(piece, terminal, track) for track in tracks} - {""}
                wants.append(found.pop() if len(found) == 1 else None if found else "")
            if not owner or None in wants or not any(wants):
                continue
            some = next(want for want in wants if want)
            throws = tuple((p, want or some) for p, want in zip(variable.positions, wants, strict=True))
            values = tuple((Value(i),) for i in range(len(throws)))
            made = _contact_name(name, terminal, taken)
            return Contact(name, made, terminal, throws, values, name, "break-before-make", piece.span, ())
        return None

    @staticmethod
    def _beside(piece: Piece, terminal: str, track: str) -> str:
        """The fixed rail in the wheel path of a frog on one track of a crossing, or nothing."""
        rail = terminal.partition(".")[2]
        for route in piece.kind.routes:
            if route.name == track:
                for rails in (route.left, route.right):
                    fixed = [r for r in rails if r and not piece.kind.is_frog(r)]
                    if rail in rails and fixed:
                        return f"{piece.name}.{fixed[0]}"
        return ""

    def _crossing_reverser(self, piece: Piece) -> bool:
        """Feed the two frogs of a crossing from a reverser, where no one machine says which track is set."""
        frogs = [f"{piece.name}.{rail}" for rail in piece.kind.frogs]
        if len(frogs) != 2 or any(self.nets.of(frog) in self.fed for frog in frogs):  # noqa: PLR2004
            return False
        self._on_reverser(piece, frogs, f"the frogs of '{piece.name}' change places for each of its tracks")
        self.fed |= {self.nets.of(frog) for frog in frogs}
        return True


NO_WIRE = Wire("", None, None, None)


def _by_blades(piece: Piece, rail: str) -> bool:
    """Whether blades give a frog its pole on every route that leads over it."""
    routes = [route for route in piece.kind.routes if rail in route.left or rail in route.right]
    return all(
        any(rail in made.rails and set(made.when) <= set(route.when) for made in piece.kind.made) for route in routes
    )


def _contact_name(owner: str, terminal: str, taken: set[tuple[str, str]]) -> str:
    piece, _, rail = terminal.partition(".")
    for name in (rail, f"{piece}-{rail}"):
        if (owner, name) not in taken:
            return name
    return next(f"{piece}-{rail}-{n}" for n in range(2, 99) if (owner, f"{piece}-{rail}-{n}") not in taken)
