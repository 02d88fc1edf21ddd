"""What to buy and to have at hand: joiners, wire, terminals, machines, switches, automatic gear; in generic terms."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from netlister.circuit.colours import spoken
from netlister.circuit.runs import head
from netlister.papers.card_tables import blocks, is_gap, rated
from netlister.papers.table import Table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Contact, Layout
    from netlister.papers.schedule import ScheduleLine

ALLOWANCE = 0.1
"""What is cut off and goes to waste, as a share of the length; a guess, and what is written can be given instead."""

HEADS = ("count", "what", "for")
MOST_NAMED = 12


def materials(layout: Layout, lines: list[ScheduleLine], allowance: float = ALLOWANCE) -> list[Table]:
    """The lists: track, wire, terminals and plugs, machines and switches, gear."""
    found = [
        Table("Track", HEADS, tuple(_track(layout))),
        Table("Wire", ("metres", "wires", "size", "colour", "remark"), tuple(_wire(lines, allowance))),
        Table("Terminals and plugs", HEADS, tuple(_terminals(layout, lines))),
        Table("Machines and switches, by the contacts they need", HEADS, tuple(_machines(layout))),
        Table("Protection, automatic gear and components", HEADS, tuple(_gear(layout))),
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


def _track(layout: Layout) -> Iterator[tuple[str, ...]]:
    kinds: dict[str, list[str]] = {}
    for piece in layout.pieces.values():
        if not piece.kind.plain:
            hand = f", {piece.kind.hand}" if piece.kind.hand else ""
            kinds.setdefault(f"{piece.kind.title}{hand}", []).append(piece.name)
    for what, names in kinds.items():
        yield _row(len(names), what, names)
    insulated: list[str] = []
    metal: list[str] = []
    for joint in layout.joints:
        if is_gap(layout, joint):
            continue
        for *_, cut in joint.pairs:
            (insulated if cut else metal).append(joint.name)
    if insulated:
        yield f"{len(insulated)}", "insulated rail joiner", ""
    if metal:
        yield f"{len(metal)}", "metal rail joiner", ""
    jumpers = [p.name for p in layout.pieces.values() if dict(p.kind.options).get("jumpers") == "true"]
    if jumpers:
        yield _row(2 * len(jumpers), "jumper wire, stock rail to blade or closure rail", jumpers)


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


def _terminals(layout: Layout, lines: list[ScheduleLine]) -> Iterator[tuple[str, ...]]:
    for block in blocks(layout, lines):
        found = Counter(end for line in lines for end in (line.start, line.end) if head(end) == block)
        most = max(found.values())
        yield str(len(found)), "terminal, screw or solder", f"{block}; at most {most} wires on one"
    plugs: Counter[str] = Counter(pin.plug for pin in layout.pins)
    for plug, pins in plugs.items():
        yield "1", f"plug and socket, {pins} pin{'s' * (pins > 1)}, keyed", plug


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


def _machines(layout: Layout) -> Iterator[tuple[str, ...]]:
    by_owner: dict[str, list[Contact]] = {}
    for contact in layout.contacts:
        by_owner.setdefault(contact.owner, []).append(contact)
    kinds: dict[str, list[str]] = {}
    for name in layout.machines:
        what = layout.types.get(name, "")
        said = f"switch machine{f' ({what})' if what else ''}, {_contacts(by_owner.get(name, []))}"
        kinds.setdefault(said, []).append(name)
    for name, own in by_owner.items():
        if name in layout.machines:
            continue
        if name in layout.pieces:
            said = f"switch at the lever of a turnout, {_contacts(own)}"
        else:
            positions = max(len(c.throws) for c in own)
            kind = layout.types.get(name, "hand switch or relay")
            said = f"{kind}, {positions} positions, {_contacts(own)}"
        kinds.setdefault(said, []).append(name)
    for what, names in kinds.items():
        yield _row(len(names), what, names)


def _gear(layout: Layout) -> Iterator[tuple[str, ...]]:
    kinds: dict[str, list[str]] = {}
    for bus in layout.buses.values():
        if bus.breaker is not None:
            kinds.setdefault(f"breaker, {bus.breaker:g} A, for a district", []).append(bus.name)
    for reverser in layout.reversers.values():
        said = (
            "automatic reverser" if reverser.automatic else "changeover switch of two poles, moved with what it follows"
        )
        kinds.setdefault(said, []).append(reverser.name)
    for unit in layout.units.values():
        kinds.setdefault("automatic frog unit", []).append(unit.name)
    for part in layout.components.values():
        said = ", ".join(t for t in (part.kind, rated(part)) if t)
        kinds.setdefault(said, []).append(part.name)
    for what, names in kinds.items():
        yield _row(len(names), what, names)
