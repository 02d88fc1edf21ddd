"""What turnouts may switch: the wires and joiners that a design could do without."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.edits.model import AddFeed
from netlister.kinds.model import Role
from netlister.layout.terminal import Terminal, owner_of
from netlister.propose.gear import by_blades
from netlister.propose.model import SWITCHING, Saving
from netlister.propose.wires import FeedPlan

if TYPE_CHECKING:
    from collections.abc import Iterator


class Savings(FeedPlan):
    """The step that looks, once all is wired, for what could be left out (see `Saving`); nothing is left out here."""

    def _savings(self) -> Iterator[tuple[Saving, ...]]:
        """Groups of savings of which one at the most can be made.

        For any aim: frogs that might stay joined. Where turnouts may switch track, also each net that got a wire: it
        could get its pole from a frog, without the joiner between them, or over blades.
        """
        layout = self.layout
        yield from self._joined_frogs()
        if self.aim not in SWITCHING:
            return
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
            if len(frogs) == 1:
                cuts.setdefault(self.nets.of(b if frogs == [a] else a), []).append((number, side))
        for net, rail in wired.items():
            inside = rails.get(net, set())
            names = {owner_of(t) for t in inside}
            if names & self._at_sections() or net in self.changing:
                continue
            if sidings is not None and not self._of_sidings(inside, sidings):
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

    def _joined_frogs(self) -> Iterator[tuple[Saving, ...]]:
        """Pairs of frogs that may stay joined; one needs no contact where the other has its pole over blades."""
        for number, side in self.cut:
            a, b, _ = self.layout.joints[number].pairs[side]
            frogs = {a, b} <= self.track.frogs - self._turned_rails()
            if number not in self.free and frogs and self._may_stay_joined(a, b):
                joined = Saving(((number, side),), "", 0, frozenset((a, b)))
                bladed = [self._over_its_blades(frog) for frog in (a, b)]
                if any(bladed) and not all(bladed) and self.aim != "no-blades":
                    yield joined._replace(terminal=a if bladed[1] else b, contacts=1), joined
                else:
                    yield (joined,)

    def _over_its_blades(self, frog: str) -> bool:
        """Whether blades give a frog its pole on every route over it."""
        name, rail = Terminal.of(frog)
        return by_blades(self.layout.pieces[name], rail) and name not in self._at_sections()

    def _turned_rails(self) -> set[str]:
        """The rails of bridges that turn end for end."""
        return {terminal for terminal in self.track.frogs if owner_of(terminal) in self.turning}

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

    def _of_sidings(self, rails: set[str], sidings: set[str]) -> bool:
        """Whether some rails are those of sidings alone, but for what blades feed."""
        for terminal in rails:
            name, rail = Terminal.of(terminal)
            if name not in sidings and self.layout.pieces[name].kind.roles[rail] is not Role.CLOSURE:
                return False
        return True

    def _sidings(self) -> set[str]:
        """The pieces of sidings: plain track that begins at a leg of a turnout and leads nowhere, with its buffer."""
        found = set()
        for row, edge in self.track.stretches():
            beyond, legs = {*row}, []
            for number in edge:
                joint = self.layout.joints[number]
                name, end = joint.end if joint.start[0] in row else joint.start
                kind = self.layout.pieces[name].kind
                if len(kind.ends) == 1:
                    beyond.add(name)
                else:
                    legs.append(kind.bladed and any(end not in route.ends for route in kind.routes))
            if legs == [True]:
                found |= beyond
        return found
