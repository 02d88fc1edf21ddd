"""What to buy and to have at hand: joiners, wire, terminals, machines, switches, automatic gear; in generic terms."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from netlister.circuit.colours import spoken
from netlister.circuit.runs import head
from netlister.layout.terminal import Terminal
from netlister.papers.card_tables import blocks, is_gap, rated
from netlister.papers.schedule import places
from netlister.papers.table import Table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Contact, Layout
    from netlister.papers.schedule import ScheduleLine

ALLOWANCE = 0.1
"""What is cut off and goes to waste, as a share of the length; a guess, and what is written can be given instead."""

HEADS = ("count", "what", "for")
MOST_NAMED = 12


def materials(layout: Layout, lines: list[ScheduleLine], allowance: float = ALLOWANCE, board: str = "") -> list[Table]:
    """The lists: track, wire, terminals and plugs, machines and switches, gear.

    With `board` what is needed there, `lines` being the wires of which an end is there. A joint between two boards is
    counted on that of its `from`.
    """
    of = _Lists(layout, lines, board)
    found = [
        Table("Track", HEADS, tuple(of.track())),
        Table("Wire", ("metres", "wires", "size", "colour", "remark"), tuple(_wire(lines, allowance))),
        Table("Terminals and plugs", HEADS, tuple(of.terminals())),
        Table("Machines and switches, by the contacts they need", HEADS, tuple(of.machines())),
        Table("Protection, automatic gear and components", HEADS, tuple(of.gear())),
    ]
    return [table for table in found if table.rows]


def remarks(lines: list[ScheduleLine], allowance: float = ALLOWANCE) -> tuple[str, ...]:
    """What stands under the lists."""
    unknown = sum(1 for line in lines if not line.length_mm)
    said = [f"Lengths with {allowance * 100:g} % for waste, rounded up to a tenth of a metre."]
    if unknown:
        said.append(f"{unknown} wires have no length in the layout and are counted, but not measured.")
    said.append(
        "Wire to machines' motors and coils, supplies and mains gear are not in the layout and not in this list."
    )
    return tuple(said)


def _row(count: float, what: str, names: list[str]) -> tuple[str, str, str]:
    shown = ", ".join(dict.fromkeys(names[:MOST_NAMED]))
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return f"{count:g}", what, shown + more


def _wire(lines: list[ScheduleLine], allowance: float) -> Iterator[tuple[str, ...]]:
    count: Counter[tuple[str, str]] = Counter()
    length: dict[tuple[str, str], float] = defaultdict(float)
    unknown: Counter[tuple[str, str]] = Counter()
    for line in lines:
        key = (line.size, line.colour)
        count[key] += 1
        if line.length_mm:
            length[key] += float(line.length_mm)
        else:
            unknown[key] += 1
    for size, colour in sorted(count):
        key = (size, colour)
        metres = math.ceil(round(length[key] * (1 + allowance) / 100, 6)) / 10
        remark = f"{unknown[key]} without a length" if unknown[key] else ""
        shown = f"{metres:g}" if length[key] else "?"
        yield shown, str(count[key]), size or "not stated", spoken(colour) or "not clear: see the schedule", remark


def _contacts(found: list[Contact]) -> str:
    change = sum(1 for c in found if sum(1 for _, t in c.throws if t) > 1)
    single = len(found) - change
    said = []
    if change:
        said.append(f"{change} changeover contact{'s' * (change > 1)}")
    if single:
        said.append(f"{single} make contact{'s' * (single > 1)}")
    over = sum(1 for c in found if c.action == "make-before-break")
    if over:
        said.append(f"{over} of them make-before-break")
    return ", ".join(said) or "no contact"


class _Lists:
    """What is needed, of a board or of all."""

    def __init__(self, layout: Layout, lines: list[ScheduleLine], board: str) -> None:
        self.layout, self.lines, self.board = layout, lines, board
        self.places = places(layout, lines)

    def here(self, name: str) -> bool:
        """Whether something stands on the board; a machine of which nothing is said, where its turnouts stand."""
        thrown = {Terminal.of(bar).owner for bar in self.layout.machines.get(name, ())}
        found = self.places.get(name) or set().union(*(self.places.get(piece, set()) for piece in thrown))
        return not self.board or self.board in found

    def track(self) -> Iterator[tuple[str, ...]]:
        kinds: dict[str, list[str]] = {}
        pieces = [piece for piece in self.layout.pieces.values() if self.here(piece.name)]
        for piece in pieces:
            if not piece.kind.plain:
                hand = f", {piece.kind.hand}" if piece.kind.hand else ""
                kinds.setdefault(f"{piece.kind.title}{hand}", []).append(piece.name)
        for what, names in kinds.items():
            yield _row(len(names), what, names)
        insulated: list[str] = []
        metal: list[str] = []
        for joint in self.layout.joints:
            if is_gap(self.layout, joint) or not self.here(joint.start[0]):
                continue
            for *_, cut in joint.pairs:
                (insulated if cut else metal).append(joint.name)
        if insulated:
            yield f"{len(insulated)}", "insulated rail joiner", ""
        if metal:
            yield f"{len(metal)}", "metal rail joiner", ""
        jumpers = [p.name for p in pieces if dict(p.kind.options).get("jumpers") == "true"]
        if jumpers:
            yield _row(2 * len(jumpers), "jumper wire, stock rail to blade or closure rail", jumpers)

    def terminals(self) -> Iterator[tuple[str, ...]]:
        wired = [
            (end, line)
            for line in self.lines
            for end, on in zip(line.run.ends, line.boards, strict=True)
            if not self.board or on == self.board
        ]
        for block in blocks(self.layout, self.lines):
            found = Counter(end for end, _ in wired if head(end) == block)
            if found:
                most = max(found.values())
                yield str(len(found)), "terminal, screw or solder", f"{block}; at most {most} wires on one"
        halves = Counter(plug for plug, _ in {(w.part, w.run.half) for w in self.lines if w.run.kind == "plug"})
        for plug, pins in Counter(pin.plug for pin in self.layout.pins).items():
            what = "half of a plug" if self.board and halves[plug] == 1 else "plug and socket"
            if not self.board or halves[plug]:
                yield "1", f"{what}, {pins} pin{'s' * (pins > 1)}, keyed", plug

    def machines(self) -> Iterator[tuple[str, ...]]:
        by_owner: dict[str, list[Contact]] = {}
        for contact in self.layout.contacts:
            by_owner.setdefault(contact.owner, []).append(contact)
        kinds: dict[str, list[str]] = {}
        for name in filter(self.here, self.layout.machines):
            what = self.layout.types.get(name, "")
            said = f"switch machine{f' ({what})' if what else ''}, {_contacts(by_owner.get(name, []))}"
            kinds.setdefault(said, []).append(name)
        for name, own in by_owner.items():
            if name in self.layout.machines or not self.here(name):
                continue
            if name in self.layout.pieces:
                said = f"switch at the lever of a turnout, {_contacts(own)}"
            else:
                positions = max(len(c.throws) for c in own)
                kind = self.layout.types.get(name, "hand switch or relay")
                said = f"{kind}, {positions} positions, {_contacts(own)}"
            kinds.setdefault(said, []).append(name)
        for what, names in kinds.items():
            yield _row(len(names), what, names)

    def gear(self) -> Iterator[tuple[str, ...]]:
        found = [
            (bus.name, f"breaker, {bus.breaker:g} A, for a district")
            for bus in self.layout.buses.values()
            if bus.breaker is not None
        ]
        turned = "changeover switch of two poles, moved with what it follows"
        found += [(r.name, "automatic reverser" if r.automatic else turned) for r in self.layout.reversers.values()]
        found += [(unit.name, "automatic frog unit") for unit in self.layout.units.values()]
        for part in self.layout.components.values():
            found.append((part.name, ", ".join(t for t in (part.kind, rated(part)) if t)))
        kinds: dict[str, list[str]] = {}
        for name, said in found:
            if self.here(name):
                kinds.setdefault(said, []).append(name)
        for what, names in kinds.items():
            yield _row(len(names), what, names)
