"""Wiring cards: A5 sheets for what someone wires, to print and to take under the baseboard.

There is a card for each piece that changes, each crossing, turntable and reverser, and for plugs, terminal strips,
hand switches, frog units, parts in a wire (breakers, detectors, diodes …) and whole buses. Its tables are cut out of
the schedule (`card_tables`), its tests are worked out for this piece as it was altered, its drawings show it from above
and from below.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from netlister.circuit.runs import head
from netlister.layout.terminal import Terminal
from netlister.papers.card_gear import OfGear
from netlister.papers.card_piece import OfPiece
from netlister.papers.card_reverser import OfReverser
from netlister.papers.card_tables import Wiring, blocks
from netlister.papers.local_poles import LocalPoles
from netlister.papers.schedule import ScheduleLine, places, schedule
from netlister.papers.sheets import one_sheet, stacked

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit
    from netlister.layout.model import Layout


class CardError(ValueError):
    """There is no card for a name. The message says what to write instead."""


def cards(layout: Layout) -> list[str]:
    """What a card can be made for: pieces that change, reversers, gear, machines with a contact on no other card."""
    pieces = [p.name for p in layout.pieces.values() if p.kind.bladed or p.kind.branching]
    plugs = [pin.plug for pin in layout.pins]
    switches = [c.owner for c in layout.contacts if c.owner not in layout.machines and c.owner not in layout.pieces]
    lines = schedule(layout)
    wiring = Wiring(layout, lines)
    wired = {head(end) for line in lines for end in (line.start, line.end)}
    buses = [bus for bus in layout.buses if bus in wired]
    shown = {contact.name for piece in pieces for contact in wiring.of_piece(piece).contacts}
    machines = [c.owner for c in layout.contacts if c.owner in layout.machines and c.full not in shown]
    parts = [name for name in (*layout.units, *layout.components) if name in wired]
    found = [*pieces, *layout.reversers, *plugs, *switches, *machines, *blocks(layout, lines), *parts, *buses]
    return list(dict.fromkeys(found))


def card_sheets(circuit: Circuit, name: str, version: str = "") -> list[str]:
    """The sheets of a card as SVG, A5 each. Raises CardError where there is none for the name."""
    return Cards(circuit, version).sheets(name)


def card_svg(circuit: Circuit, name: str, version: str = "") -> str:
    """All sheets of a card in one SVG, one below another. Raises CardError where there is none for the name."""
    return Cards(circuit, version).whole(name)


class Cards:
    """The cards of a layout; what they share is worked out once."""

    def __init__(self, circuit: Circuit, version: str = "") -> None:
        self.circuit, self.layout, self.version = circuit, circuit.layout, version
        self.known = cards(circuit.layout)

    @cached_property
    def lines(self) -> list[ScheduleLine]:
        """The schedule."""
        return schedule(self.layout)

    @cached_property
    def wiring(self) -> Wiring:
        """The schedule, ready to be cut."""
        return Wiring(self.layout, self.lines)

    @cached_property
    def poles(self) -> LocalPoles:
        """The poles of the rails of one piece in one state."""
        return LocalPoles(self.circuit)

    @cached_property
    def places(self) -> dict[str, set[str]]:
        """The baseboards of each piece, gear and block."""
        return places(self.layout, self.lines)

    @cached_property
    def boards(self) -> dict[str, str]:
        """The baseboard of each piece, gear and block that stands on one."""
        return {name: next(iter(found)) for name, found in self.places.items() if len(found) == 1}

    def on(self, board: str) -> list[str]:
        """What there is a card for and what stands on a board, with half of itself at least; all without a board."""
        return [name for name in self.known if not board or board in self.places.get(name, ())]

    def sheets(self, name: str) -> list[str]:
        """The sheets of a card as SVG."""
        bodies = self.bodies(name)
        return [
            one_sheet(body, f"Wiring card of {name}, sheet {k} of {len(bodies)}") for k, body in enumerate(bodies, 1)
        ]

    def whole(self, name: str) -> str:
        """All sheets of a card in one SVG."""
        return stacked(self.bodies(name), f"Wiring card of {name}")

    def plain_bodies(self, name: str) -> list[str]:
        """What is on the sheets of a card, whatever the version of the layout."""
        version, self.version = self.version, ""
        try:
            return self.bodies(name)
        finally:
            self.version = version

    def bodies(self, name: str) -> list[str]:
        """What is on the sheets of a card."""
        layout = self.layout
        if name not in self.known:
            raise CardError(self._unknown(name))
        if name in layout.pieces:
            return OfPiece(self, name).bodies()
        if name in layout.reversers:
            return OfReverser(self, name).bodies()
        return OfGear(self, name).bodies()

    def _unknown(self, name: str) -> str:
        from netlister.source import suggest

        if name in self.layout.pieces:
            return (
                f"'{name}' is plain track; cards are for turnouts, slips, crossings, turntables, reversers, plugs, "
                "terminal strips, hand switches, frog units, parts in a wire and buses"
            )
        if name in self.layout.machines:
            thrown = ", ".join(Terminal.of(bar).owner for bar in self.layout.machines[name])
            return f"'{name}' is a machine; its contacts are on the cards of what they are wired to, as {thrown}"
        known = self.known
        hint = suggest(name, known) or (f"; there are {', '.join(known[:12])}" if known else "; nothing here needs one")
        return f"there is no turnout, crossing, reverser or gear '{name}'{hint}"
