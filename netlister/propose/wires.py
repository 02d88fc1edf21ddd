"""Wires: one for every net of rails that nothing feeds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.edits.gear import AddLink
from netlister.edits.model import AddFeed
from netlister.kinds.model import Role
from netlister.layout.model import Feed, Link
from netlister.layout.terminal import Terminal
from netlister.propose.cuts import Cuts, RailNets
from netlister.propose.model import NO_WIRE

if TYPE_CHECKING:
    from netlister.layout.model import Piece


class FeedPlan(Cuts):
    """The step that gives rails their feed wires."""

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
        """Feed the rails of every piece that keep their pole, or have it from a reverser, and have no wire."""
        wired = self._wired()
        turned = self._turned_nets()
        for piece in pieces:
            if piece.name in self.shorting:
                continue
            own = RailNets()
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
            on = {rail: turned[self.nets.of(rail)] for rail in left if self.nets.of(rail) in turned}
            for source in sorted({source for source, _ in on.values()}):
                wires = tuple(sorted((pole, rail) for rail, (name, pole) in on.items() if name == source))
                self._wire(piece, source, wires, f"from {source}, so that its poles can turn round")
            left = [] if on else left  # its other rails, if any, are the matter of the section's own feeds
            while left:
                pair = [left.pop(0)]
                pair += [r for r in left if self._letter(r) != self._letter(pair[0])][:1]
                left = [r for r in left if r not in pair]
                self._add_feed(piece, pair)
                self.fed |= {self.nets.of(rail) for rail in pair}

    def _wired(self) -> set[str]:
        """The rails that a wire of their own goes to, there or added."""
        layout = self.layout
        feeds = [*layout.feeds, *(c.feed for c, _ in self.out.changes if isinstance(c, AddFeed))]
        found = {rail for feed in feeds for _, rail in feed.wires}
        found |= {end for link in layout.links for end in link.ends} | {end for pin in layout.pins for end in pin.ends}
        found |= {end for part in layout.components.values() for end in part.ends}
        return found | {contact.common for contact in layout.contacts if contact.common}

    def _turned_nets(self) -> dict[object, tuple[str, str]]:
        """Per net that a reverser feeds, there or added, its name and the output."""
        feeds = [*self.layout.feeds, *(c.feed for c, _ in self.out.changes if isinstance(c, AddFeed))]
        reversers = {*self.layout.reversers, *self.reverser_of.values()}
        return {
            self.nets.of(rail): (feed.source, pole)
            for feed in feeds
            if feed.source in reversers
            for pole, rail in feed.wires
        }

    def _wanted(self) -> set[object]:
        """The nets that need a wire: nothing feeds them, and some rail of them is not one that blades feed."""
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
        """One rail of a piece per net that wants a wire; the first two are of different letters."""
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
        """Wires to some rails of a piece: from the switch of their section where one switches them, else from a bus."""
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
