"""Reversers: of the sections that were chosen, and of bridges that turn end for end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.edits.gear import AddReverser, AddSwitch
from netlister.layout.model import Reverser, Value, Variable
from netlister.layout.terminal import Terminal, named
from netlister.propose.gear import bridge_leader, leader
from netlister.propose.wires import FeedPlan

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Piece
    from netlister.propose.model import Section


class Turning(FeedPlan):
    """The step that gives reversing sections and bridges a reverser."""

    def _reverser(self, section: Section) -> None:
        """Feed every net of a section from a reverser of its own; from the one that feeds some of it already."""
        pieces = sorted(
            (self.layout.pieces[name] for name in section.pieces), key=lambda p: (not p.kind.plain, -(p.length or 0.0))
        )
        source = self._there(pieces)
        if source:
            self.reverser_of[self.sections.index(section)] = source
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
                wires = tuple((self._poles(source)[self._letter(rail)], rail) for rail in pair)
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

    def _there(self, pieces: list[Piece]) -> str:
        """The reverser that feeds some of these pieces already, or nothing."""
        turned = self._turned_nets()
        for piece in pieces:
            for rail in piece.kind.rails:
                terminal = piece.terminal(rail)
                source, pole = turned.get(self.nets.of(terminal), ("", ""))
                if source and terminal in self.side:
                    if self._poles(source)[self._letter(terminal)] != pole:
                        self.crossed.add(source)
                    return source
        return ""

    def _idle(self, inputs: tuple[str, str], *, dc: bool, leads: tuple[str, tuple[int, ...]]) -> str:
        """A reverser that is there, feeds nothing yet and can serve; or nothing.

        `inputs`: the poles that it must hang on. `dc`: whether it must not be automatic. `leads`: what it should follow
        and the values in which it stands straight, as of `gear.leader`.
        """
        layout = self.layout
        ends = {end for row in (layout.links, layout.pins, layout.components.values()) for e in row for end in e.ends}
        ends |= {to for contact in layout.contacts for _, to in (("", contact.common), *contact.throws) if to}
        for name, reverser in layout.reversers.items():
            if name in self.used or reverser.inputs != inputs or ends & {*reverser.outputs}:
                continue
            crossed = False
            if reverser.variable is None:
                serves = not dc
            else:
                variable = layout.variables[reverser.variable]
                straight = {int(value) for value in reverser.straight}
                by_hand = variable.kind == "switch" and len(variable.positions) == 2 and len(straight) == 1  # noqa: PLR2004
                crossed = bool(leads[0]) and straight == {*range(len(variable.positions))} - {*leads[1]}
                follows = variable.name == leads[0] and (crossed or straight == {*leads[1]})
                serves = follows or (by_hand and not leads[0])
            if serves:
                self.used.add(name)
                self.crossed |= {name} if crossed else set()
                return name
        return ""

    def _add_reverser(self, piece: Piece, why: str, leads: tuple[str, tuple[int, ...]]) -> str:
        """A reverser for a piece: an idle one, else a new one.

        A new one is automatic, but on direct current it follows what `leads` says, else a new hand switch.
        """
        layout = self.layout
        bus = self.buses[piece.name]
        supply = layout.supplies[layout.buses[bus].supply if bus in layout.buses else bus]
        idle = self._idle(self._poles(bus), dc=supply.type == "dc", leads=leads)
        if idle:
            return idle
        name = self._free_name("R")
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
        """Feed two rails of a piece from a reverser of their own."""
        name = self._add_reverser(piece, why, leads)
        outputs = self._poles(name) if name in self.layout.reversers else (named(name, "A"), named(name, "B"))
        wires = tuple(zip(outputs, rails, strict=False))
        self._wire(piece, name, wires, f"from {name}, so that its poles can turn round")
