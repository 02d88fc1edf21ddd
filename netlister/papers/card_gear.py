"""The card of gear: a plug, a bus, a terminal strip, a hand switch, a frog unit, a part in a wire."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.colours import colour_plan, spoken, spoken_key
from netlister.circuit.runs import head
from netlister.layout.schema import COMPONENTS
from netlister.layout.terminal import named
from netlister.papers.card_base import OFF, Card, supply_poles
from netlister.papers.card_tables import rated
from netlister.papers.schedule import end_said

if TYPE_CHECKING:
    from netlister.papers.card_base import Whole
    from netlister.papers.card_tables import Tables
    from netlister.papers.sheets import Flow

ACROSS = {
    "breaker": "Closed, {name}.from beeps to {name}.to; open, it does not.",
    "fuse": "With the fuse in, {name}.from beeps to {name}.to; without it, not. Never put in a larger one.",
    "diode": "It conducts from {name}.from to {name}.to: by the diode test of the meter, red lead at {name}.from, it "
    "shows a voltage; the other way round nothing. The ring on it is at {name}.to.",
    "detector": "From {name}.from to {name}.to the meter beeps or shows a value, by the detector's make.",
    "lamp": "From {name}.from to {name}.to the meter beeps or shows a value: it lies in the wire. It gets hot.",
    "resistor": "From {name}.from to {name}.to the meter shows its ohms. It gets hot: leave air around it.",
    "load": "From {name}.from to {name}.to it uses current: the meter shows a value, which is no short.",
    "capacitor": "From {name}.from to {name}.to no lasting beep. It can hold charge: wait before you touch it.",
}
"""What a meter says across a part in a wire (common practice, no published source)."""


class OfGear(Card):
    """The card of gear."""

    def __init__(self, of: Whole, name: str) -> None:
        super().__init__(of, name)
        layout = self.layout
        self.pins = [p for p in layout.pins if p.plug == name]
        board = of.boards.get(name, "")
        if self.pins:
            self.heading = "Plug between baseboards, both halves"
            optional = self.pins[0].variable is not None
            self.under = "may be in or out" if optional else "always in while the layout runs"
        elif name in layout.buses:
            self.heading = "Bus" + (" and power district" if layout.buses[name].breaker is not None else "")
            bus = layout.buses[name]
            breaker = f", behind a breaker of {bus.breaker:g} A" if bus.breaker is not None else ""
            self.under = f"fed from {bus.parent or bus.supply}{breaker}"
        elif name in layout.components:
            part = layout.components[name]
            self.heading = COMPONENTS[part.kind].says
            self.under = rated(part)
        elif name in layout.units:
            self.heading = "Frog unit: gives a frog its pole by itself"
            self.under = f"feeds {layout.units[name].frog}, fed from {layout.units[name].bus}"
        elif name in layout.machines:
            self.heading = "Machine: its contacts, with those that are on no other card"
            self.under = f"throws {', '.join(layout.machines[name])}"
        elif name in layout.variables or any(c.owner == name for c in layout.contacts):
            self.heading = "Hand switch or relay of the control panel"
            known = layout.variables.get(name)
            self.under = f"positions: {', '.join(known.positions)}" if known else ""
        else:
            self.heading = "Terminal strip"
        if board and not self.pins:
            self.under = f"{self.under}; board {board}" if self.under else f"board {board}"

    def fill(self, flow: Flow) -> None:
        """Put onto sheets: every wire that ends here, contacts, what to test."""
        self.caution(flow)
        tables = self.of.wiring.of_gear(self.name)
        if self.pins:
            self._halves(flow, tables)
        elif self.name in self.layout.buses:
            self._bus(flow, tables)
        else:
            self.wires(flow, f"Wires at {self.name}", tables.here, near=self.name)
        self.colours(flow, tables.here)
        for contact in tables.contacts:
            self.contact(flow, contact)
        self._test(flow, tables)

    def _halves(self, flow: Flow, tables: Tables) -> None:
        for half in (1, 2):
            lines = tuple(line for line in tables.here if line.run.half == half)
            boards = sorted({b for line in lines for b in line.boards if b})
            self.wires(flow, f"Half {half}{', board ' + ', '.join(boards) if boards else ''}", lines, near=self.name)
        flow.text(
            "Looked at from their wires, the two halves are mirror images of each other: count pins by their marks."
        )

    def _bus(self, flow: Flow, tables: Tables) -> None:
        made = colour_plan(self.layout)
        for letter in "AB":
            key = self.of.wiring.poles[named(self.name, letter)]
            colour = made.colours.get(key, "")
            flow.text(f"Pole {letter}: {spoken(colour) or 'no wire'}, for {spoken_key(key)}", bold=True)
        self.wires(flow, f"Every wire to {self.name}", tables.here, near=self.name)

    def _test(self, flow: Flow, tables: Tables) -> None:
        flow.heading("Test")
        flow.text(OFF)
        if self.pins:
            flow.text("Plug pulled out:")
            ends = [(line.run.half, line.end, line.start) for line in tables.here if line.run.half == 1]
            ends += [(line.run.half, line.start, line.end) for line in tables.here if line.run.half != 1]
            flow.ticks([f"half {half}: pin {pin} beeps to {other}" for half, pin, other in ends])
            flow.tick("no two pins of one half beep, as long as nothing behind them joins them on purpose")
            return
        flow.ticks([f"{end_said(line.run, 0)} beeps to {end_said(line.run, 1)}" for line in tables.here])
        if self.name in self.layout.components:
            flow.text(ACROSS[self.layout.components[self.name].kind].format(name=self.name))
        if self.name in self.layout.units:
            frog = head(self.layout.units[self.name].frog)
            flow.text(f"What its frog beeps to is on the card of {frog}; with power on, test it by its instructions.")
        if self.name in self.layout.buses:
            flow.tick(f"{self.name}.A never beeps to {self.name}.B")
            own = self.layout.buses[self.name].poles
            if others := [pole for pole in supply_poles(self.circuit) if pole not in own]:
                flow.tick(f"neither beeps to {', '.join(others)}: two supplies are never joined")
