"""Which pole each rail gets: by what feeds are there, else the left rail of the first piece of a part gets A."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from netlister.circuit.districts import districts
from netlister.layout.terminal import Terminal, named
from netlister.propose.model import Design
from netlister.propose.track import Parity, Track

if TYPE_CHECKING:
    from netlister.edits.model import Change
    from netlister.layout.model import Layout
    from netlister.propose.model import Preferences


class Colours:
    """The first step of a design: which source feeds each rail, and with which letter.

    Letters are 0 for A and 1 for B. The steps are classes, each made of the one before (`Cuts`, `FeedPlan`, …), since
    each needs what those before it found; `design.Designer` has them all and says in which order they are taken.
    """

    def __init__(self, layout: Layout, choice: Preferences) -> None:
        self.layout = layout
        self.choice = choice
        self.aim = choice.aim
        self.extra = choice.extra
        self.track = Track(layout)
        self.sections = list(choice.sections)
        self.out = Design()
        self.parity = Parity()
        self.free: set[int] = set()  # joints whose two sides may have any poles
        self.meant: set[str] = set()  # pieces that are to be dead in some positions
        self.section_of = {name: n for n, section in enumerate(self.sections) for name in section.pieces}
        self.used = {f.source for f in layout.feeds}  # reversers among them
        self.crossed: set[str] = set()  # reversers that are there and wired with A and B exchanged
        self.turning = {name for name in layout.pieces if self.track.turns(name)}  # bridges that turn end for end
        self.shorting = {  # buffers of metal, which join the two rails
            p.name
            for p in layout.pieces.values()
            if len(p.kind.ends) == 1
            and any({e.left, e.right} <= {*bond} for e in p.kind.ends.values() for bond in p.kind.bonds)
        }
        self.districts = districts(layout)
        self.reverser_of: dict[int, str] = {}  # number of a section -> its reverser
        self.hints: list[tuple[str, int]] = []  # rails whose letter a switch decides
        self.taken = {*layout.reversers, *layout.pieces, *layout.machines, *layout.variables, *layout.supplies}
        self.taken |= {*layout.buses, *layout.units, *layout.components, *layout.boards, *layout.trains}
        self.taken |= {pin.plug for pin in layout.pins} | {contact.owner for contact in layout.contacts}
        self.contacts = {(c.owner, c.name) for c in layout.contacts}

    def _free_name(self, letter: str) -> str:
        name = next(f"{letter}{n}" for n in range(1, len(self.taken) + 2) if f"{letter}{n}" not in self.taken)
        self.taken.add(name)
        return name

    def _add(self, change: Change, why: str, what: str = "", count: int = 1) -> None:
        self.out.changes.append((change, why))
        if what:
            self.out.counted[what] += count

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
        """What gives letter A and letter B of a bus, supply or reverser."""
        layout = self.layout
        if source in layout.reversers or source in self.reverser_of.values():
            outputs = (named(source, "A"), named(source, "B"))
            return (outputs[1], outputs[0]) if source in self.crossed else outputs
        return layout.buses[source].poles if source in layout.buses else layout.supplies[source].poles

    # -- colours

    def _colours(self) -> None:
        """Which letter each rail has: as the feeds that are there say; else the left rail of the first piece gets A.

        All rails whose poles hang together have one head in `track.sides`; `letter` is that of the head's left rail.
        """
        self.side = {terminal: (head, turn) for terminal, head, turn in self.track.sides(self.parity)}
        self.letter: dict[object, int] = {}
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


def free_already(layout: Layout) -> set[int]:
    """Joints that are cut on both rails already, at the ends of sections on reversers that are there."""
    fed = section_pieces(layout)
    return {
        number
        for number, joint in enumerate(layout.joints)
        if joint.pairs[0][2] and joint.pairs[1][2] and (joint.start[0] in fed) != (joint.end[0] in fed)
    }


def section_pieces(layout: Layout) -> set[str]:
    """The pieces of sections on reversers that are there: those joined to a feed of theirs by metal."""
    fed = {f.piece for f in layout.feeds if f.source in layout.reversers}
    grown = bool(fed)
    while grown:
        grown = False
        for joint in layout.joints:
            ends = {*joint.pieces}
            if len(ends & fed) == 1 and not (joint.pairs[0][2] and joint.pairs[1][2]):
                fed |= ends
                grown = True
    return fed
