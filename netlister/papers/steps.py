"""The order of work: what to do to a piece before it is laid, what to wire after, each tested before the next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.model import holds
from netlister.circuit.runs import head
from netlister.layout.terminal import Terminal
from netlister.lengths import Metres, in_mm
from netlister.outputs.cautions import SUPPLIES
from netlister.outputs.kind_sheet import changing
from netlister.papers.altered import altered, jumpers
from netlister.papers.card_base import OFF, never_said, supply_poles
from netlister.papers.card_piece import OfPiece
from netlister.papers.card_tables import is_gap
from netlister.papers.local_poles import node_groups
from netlister.papers.schedule import CHOSEN, CHOSEN_SAID, ScheduleLine, end_said
from netlister.papers.table import Table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.papers.card import Cards

HEADS = ("done", "step", "what")
StepRow = tuple[str, str, str]

NOT_YET = "DO NOT CONNECT: two poles or districts meet on it; run 'netlister check'"

MOST_POLES = 4
"""So many poles are named at each test; more of them once, above."""

CAUTIONS = (
    "All of this with the supply unplugged, until the last list.",
    "Mains: everything on the mains side of a supply is for a licensed person, by the local code. Never open a supply.",
    "Solder in a room with air, with eyes covered; iron, rail and solder stay hot. Wash your hands afterwards.",
    "Low voltage at several amps burns: a wire that is too thin, or a breaker that does not trip, sets things on fire.",
    SUPPLIES,
)


def steps(of: Cards, board: str = "") -> list[Table]:
    """The lists in the order in which one works."""
    made = _Steps(of, board)
    found = [
        ("Before a piece is laid", made.altered()),
        ("Laying: joiners", made.joints()),
        ("Buses and plugs", made.trunk()),
        ("Feeds, one piece after another, each tested", made.feeds()),
        ("Gear, strips and contacts, each tested", made.gear()),
        ("All positions, supply still unplugged", made.positions()),
        ("First power", made.power()),
    ]
    lists = [(title, texts) for title, each in found if (texts := list(each))]
    tables = []
    for number, (title, texts) in enumerate(lists, 1):
        rows = tuple(("[ ]", f"{number}.{k}", text) for k, text in enumerate(texts, 1))
        chosen = (CHOSEN_SAID,) if any(f"{CHOSEN}," in text or f"{CHOSEN})" in text for text in texts) else ()
        tables.append(Table(f"{number}. {title}", HEADS, rows, chosen))
    return tables


class _Steps:
    def __init__(self, of: Cards, board: str) -> None:
        self.of, self.board = of, board
        self.layout = of.layout
        self._metal: list[int] | None = None
        self.lines = [line for line in of.lines if not board or board in line.boards]
        self.pieces = [p for p in self.layout.pieces.values() if self._here(p.name)]

    @property
    def quiet(self) -> str:
        """What must never beep: any two poles of supplies."""
        poles = supply_poles(self.of.circuit)
        if len(poles) == 2:  # noqa: PLR2004
            return f"{poles[0]} and {poles[1]} do not beep to each other"
        if len(poles) > MOST_POLES:
            return "no two poles of supplies beep to each other"
        return f"no two of {', '.join(poles)} beep to each other"

    def _here(self, name: str) -> bool:
        return not self.board or self.of.boards.get(name) == self.board

    def altered(self) -> Iterator[str]:
        for piece in self.pieces:
            if not (piece.kind.bladed or piece.kind.branching):
                continue
            card = OfPiece(self.of, piece.name)
            work, left = altered(self.layout, piece)
            yield from (f"{piece.name}: {said}" for said in (*work, *jumpers(self.layout, piece)))
            yield from (f"{piece.name}: look, nothing to do, whether yours is so: {said}" for said in left)
            rows = card.metal()
            tests = "; ".join(f"{a} to {b} {when if when == 'always' else 'with ' + when}" for a, b, when in rows[:8])
            more = f" and {len(rows) - 8} more, see its card" if len(rows) > 8 else ""  # noqa: PLR2004
            said = f"beeps {tests + more}; nothing else beeps" if rows else "nothing beeps"
            yield f"{piece.name}, test on the bench: {said}"

    def joints(self) -> Iterator[str]:
        for joint in self.layout.joints:
            if not (self._here(joint.start[0]) or self._here(joint.end[0])):
                continue
            if is_gap(self.layout, joint):
                yield f"{joint.name}: a gap, no joiner: {', '.join(f'{a} | {b}' for a, b, _ in joint.pairs)}"
                continue
            cut = [f"{a} | {b}" for a, b, insulated in joint.pairs if insulated]
            metal = [f"{a} + {b}" for a, b, insulated in joint.pairs if not insulated]
            said = [f"INSULATED {', '.join(cut)}"] if cut else []
            said += [f"metal {', '.join(metal)}"] if metal else []
            yield f"{joint.name}: {'; '.join(said)}"
            for a, b, insulated in joint.pairs:
                if not insulated:
                    continue
                if self._around(a, b):
                    yield f"{joint.name}, {a} | {b}: look, since it beeps: the two are joined around, over other track"
                else:
                    yield f"{joint.name}, test before any wire is connected: no beep from {a} to {b}"

    def _around(self, a: str, b: str) -> bool:
        """Whether metal alone, with everything as it rests, joins two terminals."""
        circuit = self.of.circuit
        if self._metal is None:
            rest = tuple(v.rest for v in circuit.variables)
            metal = [c for c in circuit.conductors if c.what in {"joiner", "bond", "blade"} and holds(c.when, rest)]
            self._metal = node_groups(len(circuit.names), metal)
        return self._metal[circuit.node[a]] == self._metal[circuit.node[b]]

    def trunk(self) -> Iterator[str]:
        buses: dict[str, list[ScheduleLine]] = {}
        for line in self.lines:
            if line.run.kind in {"bus", "common"}:
                buses.setdefault(line.part, []).append(line)
        for name, lines in buses.items():
            for line in lines:
                yield _connect(line)
            bus = self.layout.buses.get(name)
            if bus is not None and bus.breaker is not None:
                yield f"{name}: its breaker of {bus.breaker:g} A goes in here, at its source, before all else"
            yield f"{name}, test: no beep from {name}.A to {name}.B"
        for line in self.lines:
            if line.run.kind == "plug":
                yield _connect(line)
                ends = f"{end_said(line.run, 0)} beeps to {end_said(line.run, 1)}"
                yield f"{line.id}, test with the plug out: {ends}"

    def feeds(self) -> Iterator[str]:
        by_piece: dict[str, list[ScheduleLine]] = {}
        for line in self.lines:
            if line.run.kind == "feed":
                by_piece.setdefault(line.part, []).append(line)
        for piece, lines in by_piece.items():
            for line in lines:
                at = f", {_mm(line.run.at)} from its end a" if line.run.at is not None else ""
                tap = f", tapped {line.tap_mm} mm along the bus" if line.tap_mm else ""
                yield f"solder {line.id} to {line.end}{at}; its other end to {line.start}{tap}{_made(line)}"
            ends = ", ".join(f"{line.end} to {line.start}" for line in lines)
            yield f"{piece}, test: {ends} beeps; {self.quiet}. If they do, the last wire is the mistake"

    def gear(self) -> Iterator[str]:
        order = ("component", "reverser", "unit", "wire", "lead")
        for kind in order:
            parts: dict[str, list[ScheduleLine]] = {}
            for line in self.lines:
                if line.run.kind == kind:
                    parts.setdefault(line.part, []).append(line)
            for part, lines in parts.items():
                for line in lines:
                    yield _connect(line)
                allowed = " that is not marked NEVER above" if self.layout.never else ""
                when = f"in every position{allowed}, " if kind == "lead" else ""
                yield f"{part}, test: each wire end to end; {when}{self.quiet}"

    def positions(self) -> Iterator[str]:
        for piece in self.pieces:
            if not (piece.kind.bladed or piece.kind.branching):
                continue
            card = OfPiece(self.of, piece.name)
            stands = card.positions
            if len(stands) == 1 and not piece.kind.bars:
                continue  # a crossing of which no rail changes
            if card.undrawn:
                yield f"{piece.name}: {card.undrawn}"
            for position in stands:
                found = self.of.poles.of(piece.name, position.state)
                said, wanting = [], card.wanting(position)
                for rail in piece.kind.rails:
                    has = found[piece.terminal(rail)]
                    bad = " (SHORT)" if len(has) > 1 else ""
                    bad = bad or (f" (WRONG: it needs that of {wanting[rail]})" if rail in wanting else "")
                    said.append(f"{rail} {' and '.join(has) if has else 'no pole'}{bad}")
                yield f"{piece.name}{' at ' if piece.kind.bars else ', '}{position.said}, beeps: {', '.join(said)}"

    def power(self) -> Iterator[str]:
        yield "'netlister check' finds no error in the layout as it was built"
        yield "all is ticked above; trains and tools are off the track; somebody stands at the switch of the supply"
        yield "one supply after another, automatic devices and other loads still unplugged"
        yield "first with a lamp of the supply's voltage in one wire, which limits the current: it must stay dark"
        never = ", and never into a position that is marked NEVER above" if self.layout.never else ""
        yield f"throw every turnout and switch once, one after another{never}: the lamp stays dark"
        yield "switch off; plug automatic devices, loads and plugs back in; switch on without the lamp"
        yield "volts between the rails at the far end of each piece"
        yield (
            "each section once: a coin across the rails far from the feed must trip the supply or "
            "its breaker at once; if it does not, switch off and find out why before any train runs"
        )
        yield "one locomotive, slowly, over every route in both directions"


def _mm(length: Metres | None) -> str:
    return "" if length is None else f"{in_mm(length):g} mm"


def _made(line: ScheduleLine) -> str:
    colour = f"{line.colour}{CHOSEN if line.chosen else ''}" if line.colour else NOT_YET
    parts = [colour, line.size, f"{line.length_mm} mm" if line.length_mm else ""]
    return f" ({', '.join(p for p in parts if p)})"


def _connect(line: ScheduleLine) -> str:
    return f"{line.id}: joins {end_said(line.run, 0)} and {end_said(line.run, 1)}{_made(line)}"


def _brings(of: Cards, line: ScheduleLine) -> bool:
    """Whether the lead of a contact brings a pole to a rail that keeps it: that of a section switch."""
    piece, rail = Terminal.of(line.end)
    common = line.run.kind == "lead" and Terminal.of(line.start).own.endswith(".common")
    return common and piece in of.layout.pieces and rail not in changing(of.layout.pieces[piece].kind)


def remarks(of: Cards) -> tuple[str, ...]:
    """Cautions, and how to measure."""
    fed = {head(line.end) for line in of.lines if line.run.kind in {"feed", "wire", "component"} or _brings(of, line)}
    metal = [joint for joint in of.layout.joints if not all(cut for *_, cut in joint.pairs)]
    joined = {piece for joint in metal for piece, _ in (joint.start, joint.end)}
    loose = [name for name in of.layout.pieces if name not in fed]
    rest = tuple(v.rest for v in of.circuit.variables)
    dead = [name for name in loose if not any(of.poles.of(name, rest).values())]
    through = [name for name in loose if name in joined and name not in dead]
    said = [*CAUTIONS, OFF, *never_said(of.layout)]
    if len(poles := supply_poles(of.circuit)) > MOST_POLES:
        said.append(f"Poles of supplies, of which no two may ever beep to each other: {', '.join(poles)}.")
    if through:
        said.append(f"No feed of their own, fed through their joiners alone: {', '.join(through)}.")
    if dead:
        said.append(f"No feed of their own, and no pole while everything stands at rest: {', '.join(dead)}.")
    return tuple(said)
