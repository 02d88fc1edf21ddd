"""Where joints are insulated, and which rails are joined for good then."""

from __future__ import annotations

from netlister.edits.model import Insulate
from netlister.layout.terminal import named, owner_of
from netlister.propose.colours import Colours
from netlister.propose.track import Parity


class RailNets:
    """Rails joined for good."""

    def __init__(self) -> None:
        self.parity = Parity()

    def join(self, a: str, b: str) -> None:
        """Join two terminals."""
        self.parity.join(a, b, 0)

    def of(self, terminal: str) -> object:
        """The net of a terminal."""
        return self.parity.find(terminal)[0]


class Cuts(Colours):
    """The step that insulates joints, and then finds the nets.

    `cut`: per joint and side (0 left, 1 right) that is insulated now, why. `fed`: nets that something feeds already.
    `changing`: nets of frogs.
    """

    def _cut(self) -> None:
        """Insulate each rail of a joint that has a reason to be."""
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
                    doubtful = self._may_stay_joined(a, b)
                    self.out.doubtful += doubtful
                    self.out.spared += doubtful and {a, b} <= self.track.frogs
                    self._add(Insulate(number, side, True), why, "joiner")

    def _may_stay_joined(self, a: str, b: str) -> bool:
        """Whether rails might stay joined: frogs that one machine moves, or a frog left without a wire on purpose."""
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
        for name in joint.pieces:
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
        """Find the nets of rails joined for good, with the cuts made; which are fed, and which change their pole."""
        layout, nets = self.layout, RailNets()
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

    def _at_sections(self) -> set[str]:
        """The pieces at the ends of reversing sections: there a short must draw its current, so not over blades."""
        joints = self.layout.joints
        found = {name for n in self.free for name in joints[n].pieces}
        for joint in joints:
            ends = {*joint.pieces}
            found |= ends if ends & self.turning else set()
        return found
