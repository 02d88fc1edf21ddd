"""The text of a deck."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from netlister.lengths import in_mm
from netlister.outputs.deck.net import GROUND, DeckNet
from netlister.outputs.deck.text import comment, deck_number, word

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit
    from netlister.outputs.deck.ask import Ask
    from netlister.outputs.deck.net import DeckTrain, Resistor
    from netlister.outputs.deck.timing import Signal

LEAK = 1e3
"""Ohm between ground and a supply or a part that nothing leads there from: it carries nothing, being the only way."""
WEAK_LEAK = 1e8
"""The same for a part that a switch or a diode may join to a supply: 15 V drive 0.15 microamperes through it."""
OPEN = 1e12
POINTS = 1000
CAUTION = (
    "Calculated from nominal values: no measurement. A short heats wires and rails; try none on the layout to see it."
)


def deck(circuit: Circuit, ask: Ask) -> str:
    """The deck of a circuit: resistors, sources and switches, and what to print.

    Voltages are against pole B of the first supply, in V; currents in A. `ngspice -b` runs it as it is. Alternating
    supplies and dcc are written as direct voltage of their height.

    Raises DeckError.
    """
    return "\n".join(_Deck(DeckNet(circuit, ask)).lines()) + "\n"


class _Deck:
    def __init__(self, net: DeckNet) -> None:
        self.net = net
        self.ask = net.ask
        self.number: dict[int, int] = {net.root(GROUND): 0}
        self.models: dict[float, str] = {}
        self.controls: dict[Signal, str] = {}

    def node(self, node: int) -> str:
        """The name of a node in the deck."""
        found = self.number.setdefault(self.net.root(node), len(self.number))
        return f"n{found}" if found else "0"

    def lines(self) -> Iterator[str]:
        """Every line."""
        body = [*self.sources(), *self.resistors(), *self.loads(), *self.leaks(), *self.switching()]
        probes = list(self.probes())
        yield from self.head()
        yield from self.legend()
        yield from body
        yield from self.control(probes)
        yield ".end"

    def head(self) -> Iterator[str]:
        layout = self.net.layout
        yield f"* circuit of {comment(layout.name)}: {comment(layout.title)}".rstrip(": ")
        variables = self.net.circuit.variables
        stands = [f"{v.name}={v.positions[x]}" for v, x in zip(variables, self.ask.state, strict=True)]
        for start in range(0, len(stands), 6):
            yield f"* {'positions: ' if not start else ''}{comment(', '.join(stands[start : start + 6]))}"
        yield f"* {CAUTION}"
        ohms = "highest" if self.ask.high else "lowest"
        yield f"* Resistances: those stated, else the {ohms} of the sources, at {self.ask.temperature:g} degC."
        yield "* Supplies are direct voltage of their height. Volts are against pole B of the first supply."
        for supply in layout.supplies.values():
            if supply.trip:
                yield f"* {comment(supply.name)} trips at {deck_number(supply.trip)} A: nothing here trips"
        for note in self.net.notes:
            yield f"* {comment(note)}"

    def legend(self) -> Iterator[str]:
        """Which terminals each node is."""
        members: dict[int, list[str]] = {}
        for index, name in enumerate(self.net.names):
            root = self.net.root(index)
            if root in self.number and index != GROUND:
                members.setdefault(self.number[root], []).append(name)
        yield "*"
        yield "* nodes"
        for which, names in sorted(members.items()):
            for start in range(0, len(names), 4):
                listed = ", ".join(comment(name) for name in names[start : start + 4])
                yield f"* {f'n{which}' if which else '0'}: {listed}"
        yield "*"

    def sources(self) -> Iterator[str]:
        for index, s in enumerate(self.net.sources, 1):
            ends = f"{self.node(s.plus)} {self.node(s.minus)}"
            yield f"v{index} {ends} dc {deck_number(s.volts)} ; supply {comment(s.supply)}"

    def resistors(self) -> Iterator[str]:
        net = self.net
        for index, r in enumerate(net.resistors, 1):
            if net.root(r.a) == net.root(r.b):
                continue
            ends = f"{self.node(r.a)} {self.node(r.b)}"
            if r.signal.constant:
                yield f"r{index} {ends} {deck_number(r.ohm)} ; {comment(r.what)}"
            else:
                yield f"s{index} {ends} {self.control_of(r)} ; {comment(r.what)}"
        for index, (a, b, owner) in enumerate(net.diodes, 1):
            if net.root(a) != net.root(b):
                yield f"d{index} {self.node(a)} {self.node(b)} silicon ; diode {comment(owner)}"

    def control_of(self, r: Resistor) -> str:
        control = self.controls.setdefault(r.signal, f"c{len(self.controls) + 1}")
        model = self.models.setdefault(r.ohm, f"sw{len(self.models) + 1}")
        return f"{control} 0 {model}"

    def loads(self) -> Iterator[str]:
        for index, train in enumerate((*self.net.trains, *self.net.steps), 1):
            if self.net.root(train.a) == self.net.root(train.b):
                continue
            p = train.place
            said = f"{comment(p.train)} at {comment(p.piece)} {deck_number(round(in_mm(p.at), 6))} mm"
            ends = f"{self.node(train.a)} {self.node(train.b)}"
            if train.ohm is not None:
                yield f"rt{index} {ends} {deck_number(train.ohm)} ; {said}, as the resistance that draws its current"
            else:
                amps = 0.0 if index > len(self.net.trains) else train.amps
                yield f"i{index} {ends} dc {deck_number(amps)} ; {said}"

    def leaks(self) -> Iterator[str]:
        """A way to ground for what has none, and is named so far."""
        weak = self.ask.moving or bool(self.net.diodes)
        wanted = {self.net.root(self.net.probed(p)) for p in self.terminals()}
        for index, node in enumerate(self.net.floating, 1):
            if node in self.number or node in wanted:
                ohm = WEAK_LEAK if weak and node in self.net.dead else LEAK
                yield f"rl{index} {self.node(node)} 0 {ohm:g} ; leads nowhere else"

    def switching(self) -> Iterator[str]:
        for ohm, model in self.models.items():
            yield f".model {model} sw(vt=0.5 vh=0 ron={deck_number(ohm)} roff={OPEN:g})"
        if self.net.diodes:
            yield ".model silicon d(is=1e-9 n=1.7) ; a rectifier of about 0.9 V at 1 A, values assumed"
        edge = self.ask.timing.travel / 1e4
        for signal, control in self.controls.items():
            level = int(signal.first)
            points = [(0.0, level)]
            for time in signal.changes:
                points += [(time, level), (time + edge, 1 - level)]
                level = 1 - level
            assert all(a[0] <= b[0] for a, b in pairwise(points))
            if points[0][0] == points[1][0]:
                del points[0]
            yield f"v{control} {control} 0 pwl({' '.join(f'{deck_number(t)} {x}' for t, x in points)})"

    # -- what is printed

    def terminals(self) -> tuple[str, ...]:
        """The terminals that are asked for, else every rail; of a throw the rails where something opens or closes."""
        if self.ask.probes or self.net.trains or self.net.steps:
            return self.ask.probes
        net = self.net
        rails = tuple(net.circuit.names[node] for node in net.circuit.rails)
        if not self.ask.moving:
            return rails
        moved = {net.root(n) for r in net.resistors if not r.signal.constant for n in (r.a, r.b)}
        return tuple(rail for rail in rails if net.root(net.probed(rail)) in moved)

    def probes(self) -> Iterator[tuple[str, str]]:
        """What is printed at each step: an expression and what it is."""
        for terminal in self.terminals():
            node = self.net.probed(terminal)
            dead = " which leads nowhere" if self.net.is_dead(node) else ""
            name = self.node(node)
            yield ("0" if name == "0" else f"v({name})", f"volts of {word(terminal)}{dead}")
        for train in self.net.trains:
            yield self.between(train), f"volts of the train {word(train.place.train)}"
        for index, s in enumerate(self.net.sources, 1):
            yield f"-i(v{index})", f"amps of the supply {word(s.supply)}"

    def between(self, train: DeckTrain) -> str:
        """The volts between the wheels of a train."""
        a, b = self.node(train.a), self.node(train.b)
        ends = (a, b) if train.amps >= 0 else (b, a)
        return "-".join(f"v({n})" for n in ends if n != "0") if ends[0] != "0" else f"0-v({ends[1]})"

    def control(self, probes: list[tuple[str, str]]) -> Iterator[str]:
        yield ".control"
        yield "set numdgt=12"
        yield "set width=250"
        yield "set nobreak"
        if self.ask.moving:
            yield from self.transient(probes)
        elif self.net.steps:
            yield from self.stepped(probes)
        else:
            yield "op"
            yield from self.printed(probes)
        yield "quit"
        yield ".endc"

    def printed(self, probes: list[tuple[str, str]], prefix: str = "p") -> Iterator[str]:
        for index, (expression, what) in enumerate(probes, 1):
            yield f"echo {prefix}{index} is {what}"
            yield f"let {prefix}{index} = {expression}"
            yield f"print {prefix}{index}"

    def stepped(self, probes: list[tuple[str, str]]) -> Iterator[str]:
        first = len(self.net.trains)
        for index, train in enumerate(self.net.steps, first + 1):
            p = train.place
            at = deck_number(round(in_mm(p.at), 6))
            yield f"echo step {index - first} {word(p.train)} at {word(p.piece)} {at} mm" + (
                " no voltage there" if train.idle else ""
            )
            same = self.net.root(train.a) == self.net.root(train.b)
            if not same:
                yield f"alter i{index} dc = {deck_number(train.amps)}"
            yield "op"
            own = [] if same else [(self.between(train), f"volts of the train {word(p.train)}")]
            yield from self.printed([*own, *probes])
            if not same:
                yield f"alter i{index} dc = 0"

    def transient(self, probes: list[tuple[str, str]]) -> Iterator[str]:
        step, stop = deck_number(self.ask.stop / POINTS), deck_number(self.ask.stop)
        yield f"tran {step} {stop} 0 {step}"
        for index, (expression, what) in enumerate(probes, 1):
            yield f"echo p{index} is {what}"
            yield f"let p{index} = {expression}" + (" + 0*time" if expression == "0" else "")
        yield f"print {' '.join(f'p{i}' for i in range(1, len(probes) + 1))}"
        for index, _ in enumerate(probes, 1):
            yield f"meas tran most{index} max p{index}"
