"""The wiring of a track: what must be cut, what must be fed, and how little of it will do.

Wanted is that every rail is live in all positions. Then a rail that no frog belongs to keeps one pole for good, and
two facts follow that need no search: where a frog meets such a rail, or another frog, the joint is insulated; and every
net of such rails that nothing feeds yet needs one wire. Both are needed in any wiring that does the same, so their
number is a bound; contacts are needed where nothing else feeds a frog. What is open is where reversing sections lie.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.edits.gear import AddUnit
from netlister.edits.model import AddContact
from netlister.layout.model import FrogUnit
from netlister.propose.colours import free_already
from netlister.propose.gear import by_blades, crossing_contact, frog_contact
from netlister.propose.model import Design, Preferences
from netlister.propose.options import joined_inside
from netlister.propose.savings import Savings
from netlister.propose.turning import Turning

if TYPE_CHECKING:
    from netlister.layout.model import Contact, Layout, Piece

NO_CHOICE = Preferences()


def design(layout: Layout, choice: Preferences = NO_CHOICE) -> Design:
    """The cheapest wiring for what was chosen."""
    return Designer(layout, choice).made()


class Designer(Turning, Savings):
    """All steps of a design: those of the classes it is made of, and its own, which gives frogs their poles."""

    def made(self) -> Design:
        """All steps in their order."""
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
        self.out.savings = list(self._savings())
        return self.out

    def _built_wrong(self) -> None:
        """Name the pieces whose own bonds join their two rails: no wiring helps there."""
        for piece in self.layout.pieces.values():
            if joined_inside(piece.kind):
                said = ", ".join(f"'{option}: {value}'" for option, value in piece.kind.options)
                self.out.missing.append(
                    f"'{piece.name}' is built so that its two rails are joined ({said}); mend it first"
                )

    def _frogs(self) -> None:
        """Give each frog a pole that has none: over its blades where that will do."""
        at_sections = self._at_sections()
        spared = {self.nets.of(terminal) for terminal in self.choice.bladed if terminal in self.track.frogs}
        for piece in self.layout.pieces.values():
            if piece.dead_frog or piece.name in self.turning:
                continue
            for rail in piece.kind.rails:
                terminal = piece.terminal(rail)
                if terminal not in self.track.frogs or self.nets.of(terminal) in self.fed or rail in piece.kind.sealed:
                    continue
                blades = by_blades(piece, rail) and piece.name not in at_sections
                blades = blades or self.nets.of(terminal) in spared
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
