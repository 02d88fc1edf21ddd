"""Every wire that someone has to lay, as values: the one source of schedules, cards, terminal tables, labels and lists.

A run is one piece of wire with two ends. Its ends are terminals as in the layout; besides these there are the inputs of
a reverser (`R1.in-A`), the terminals of a frog unit (`U1.in-A`, `U1.frog`), the two of a component (`F1.from`,
`F1.to`) and the pins of a plug (`J1.1`, one name for both halves, since they meet when it is plugged in).

Joining the ends of all runs, and then the pieces' own metal (bonds, blades, joiners, contacts, components, reversers),
gives the circuit that is checked; that is tested for every example and for random layouts.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.terminal import Terminal, named
from netlister.lengths import Metres, in_mm

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Contact, Feed, Layout
    from netlister.source import Span


class Run(NamedTuple):
    """A wire: what it is called, its two ends, and what is known of it.

    `id` comes from what it connects, so it stays when other wires come and go. `kind`: bus, common, feed, lead,
    wire, plug, component, reverser or unit. `colour`: the letters that the layout writes, or nothing. `length`: as
    written, in m. `tap`: place along the bus from its supply in m. `at`: place along the rail-section in m. `ends_at`:
    per end the end of the piece that is written there, or nothing. `part`: the machine, block or piece that it
    belongs to. `buses`: per end the bus or supply whose pole it is, or nothing. `half`: of a plug, its half, 1 or 2.
    """

    id: str
    kind: str
    ends: tuple[str, str]
    part: str
    span: Span
    colour: str = ""
    size: str = ""
    length: Metres | None = None
    tap: Metres | None = None
    at: Metres | None = None
    ends_at: tuple[str, str] = ("", "")
    buses: tuple[str, str] = ("", "")
    half: int = 0


def runs(layout: Layout) -> list[Run]:
    """Every wire of a layout: buses, then feeds, contacts, wires, plugs, components, reversers and frog units."""
    found = [
        *_buses(layout),
        *_feeds(layout),
        *(run for contact in layout.contacts for run in _leads(layout, contact)),
        *_links(layout),
        *_plugs(layout),
        *_components(layout),
        *_devices(layout),
    ]
    return _named_apart(layout, found)


def head(terminal: str) -> str:
    """The piece, gear or block that a terminal belongs to: what stands before its first dot."""
    return Terminal.of(terminal).owner


def _pole(layout: Layout, terminal: str, bus: str) -> str:
    """A terminal as written: the pole of a bus by the name of that bus."""
    if not bus:
        return terminal
    known = layout.buses.get(bus) or layout.supplies[bus]
    return named(bus, "AB"[known.poles.index(terminal)]) if terminal in known.poles else terminal


def _buses(layout: Layout) -> Iterator[Run]:
    for supply in layout.supplies.values():
        if supply.common:
            own = named(supply.name, supply.common[-1])
            yield Run(
                f"N.{own}", "common", (supply.common, own), supply.name, supply.span,
                buses=(head(supply.common), supply.name),
            )  # fmt: skip
    for bus in layout.buses.values():
        if bus.implicit:
            continue
        source = bus.parent or bus.supply
        for letter in "AB":
            ends = (named(source, letter), named(bus.name, letter))
            yield Run(
                f"B.{bus.name}.{letter}", "bus", ends, bus.name, bus.span, dict(bus.colours).get(letter, ""),
                bus.wire.text, bus.wire.length, bus.at, buses=(source, bus.name),
            )  # fmt: skip


def _feeds(layout: Layout) -> Iterator[Run]:
    shared = Counter(feed.name for feed in layout.feeds if feed.name)  # one entry to several pieces
    for feed in layout.feeds:
        for source, rail in feed.wires:
            yield _feed(layout, feed, source, rail, several=shared[feed.name] > 1)


def feed_name(feed: Feed) -> str:
    """What the wires of a feed without an `id` are called after: `F.` and its piece, with the place where one is."""
    place = "" if feed.at is None else f"@{in_mm(feed.at):.6g}"
    return f"F.{feed.piece}{place}"


def _feed(layout: Layout, feed: Feed, source: str, rail: str, *, several: bool) -> Run:
    reverser = layout.reversers.get(feed.source)
    start = source if reverser else _pole(layout, source, feed.source)
    own = rail if several else rail.removeprefix(f"{feed.piece}.")
    name = named(feed.name or feed_name(feed), own)
    end = Terminal.of(feed.target).own if feed.target else ""
    buses = ("" if reverser else feed.source, "")
    return Run(
        name, "feed", (start, rail), feed.piece, feed.span, "", feed.wire.text, feed.wire.length, feed.tap, feed.at,
        ("", end), buses,
    )  # fmt: skip


def _leads(layout: Layout, contact: Contact) -> Iterator[Run]:
    owner = contact.full
    buses = contact.buses or ("",) * (1 + len(contact.throws))
    ends_at = contact.ends_at or ("",) * (1 + len(contact.throws))
    wired = [("common", contact.common), *contact.throws]
    for (place, terminal), bus, end in zip(wired, buses, ends_at, strict=True):
        if terminal is not None:
            own = named(owner, place)
            ends = (own, _pole(layout, terminal, bus))
            yield Run(f"C.{own}", "lead", ends, contact.owner, contact.span, ends_at=("", end), buses=("", bus))


def _links(layout: Layout) -> Iterator[Run]:
    for link in layout.links:
        a, b = (_pole(layout, end, bus) for end, bus in zip(link.ends, link.buses, strict=True))
        blocks = [head(end) for end in (a, b) if _is_junction(layout, end)]
        yield Run(
            link.name or f"W.{a}/{b}", "wire", (a, b), blocks[0] if blocks else head(a), link.span, link.colour,
            link.wire.text, link.wire.length, ends_at=link.ends_at, buses=link.buses,
        )  # fmt: skip


def _is_junction(layout: Layout, terminal: str) -> bool:
    name = head(terminal)
    return not (
        name in layout.pieces
        or name in layout.supplies
        or name in layout.buses
        or name in layout.reversers
        or name in layout.variables
        or any(c.owner == name for c in layout.contacts)
    )


def _plugs(layout: Layout) -> Iterator[Run]:
    for pin in layout.pins:
        own = pin.full
        a, b = (_pole(layout, end, bus) for end, bus in zip(pin.ends, pin.buses, strict=True))
        at = pin.ends_at
        yield Run(
            f"P.{own}.1", "plug", (a, own), pin.plug, pin.span, ends_at=(at[0], ""), buses=(pin.buses[0], ""), half=1
        )
        yield Run(
            f"P.{own}.2", "plug", (own, b), pin.plug, pin.span, ends_at=("", at[1]), buses=("", pin.buses[1]), half=2
        )


def _components(layout: Layout) -> Iterator[Run]:
    for part in layout.components.values():
        a, b = (_pole(layout, end, bus) for end, bus in zip(part.ends, part.buses, strict=True))
        at, buses, name = part.ends_at, part.buses, part.name
        yield Run(
            f"K.{name}.from",
            "component",
            (a, named(name, "from")),
            name,
            part.span,
            ends_at=(at[0], ""),
            buses=(buses[0], ""),
        )
        yield Run(
            f"K.{name}.to",
            "component",
            (named(name, "to"), b),
            name,
            part.span,
            ends_at=("", at[1]),
            buses=("", buses[1]),
        )


def _devices(layout: Layout) -> Iterator[Run]:
    for reverser in layout.reversers.values():
        for letter, pole in zip("AB", reverser.inputs, strict=True):
            ends = (_pole(layout, pole, reverser.bus), named(reverser.name, f"in-{letter}"))
            yield Run(f"R.{ends[1]}", "reverser", ends, reverser.name, reverser.span, buses=(reverser.bus, ""))
    for unit in layout.units.values():
        for letter, pole in zip("AB", unit.inputs, strict=True):
            ends = (_pole(layout, pole, unit.bus), named(unit.name, f"in-{letter}"))
            yield Run(f"U.{ends[1]}", "unit", ends, unit.name, unit.span, buses=(unit.bus, ""))
        own = named(unit.name, "frog")
        yield Run(f"U.{own}", "unit", (own, unit.frog), unit.name, unit.span)


def _named_apart(layout: Layout, found: list[Run]) -> list[Run]:
    """No two runs with one id: names that the file writes stay; of derived ones the first in the file stays.

    A second gets its source, and only if that is the same, too, a count.
    """
    written = {feed.name for feed in layout.feeds if feed.name} | {link.name for link in layout.links if link.name}
    taken = {run.id for run in found if run.kind == "wire" and run.id in written}
    result = []
    for run in found:
        name = run.id
        if not (run.kind == "wire" and name in written):
            if name in taken:
                name = f"{run.id}<{run.ends[0]}" if run.kind == "feed" else name
            plain, count = name, 1
            while name in taken:
                count += 1
                name = f"{plain}#{count}"
            taken.add(name)
        result.append(run._replace(id=name) if name != run.id else run)
    return result


# -- baseboards


def boards_of(layout: Layout, found: list[Run]) -> dict[tuple[str, int], str]:
    """The baseboard of each end of each run, by its id and 0 or 1; an end of which nothing is known has none.

    Pieces and gear stand where `boards` says. A block that is not listed there stands where all wires to it come
    from, if that is one board. A half of a plug stands where its own wire ends. Buses and supplies run everywhere.
    """
    board = {name: where for where, names in layout.boards.items() for name in reversed(names)}
    poles = {*layout.supplies, *layout.buses}
    near: dict[str, set[str]] = {}
    for run in found:
        for mine, other in (run.ends, run.ends[::-1]):
            if run.kind != "plug":
                near.setdefault(head(mine), set()).add(head(other))
            elif run.half and mine != named(run.part, Terminal.of(mine).own):
                near.setdefault(head(mine), set())
    unknown = [name for name in near if name not in board and name not in poles]
    for _ in range(4):  # blocks behind blocks
        for name in unknown:
            known = {board[n] for n in near[name] if n in board and n not in poles}
            if len(known) == 1 and name not in board:
                board[name] = next(iter(known))
    result = {}
    for run in found:
        for place, end in enumerate(run.ends):
            own = "" if head(end) in poles and not board.get(head(end)) else board.get(head(end), "")
            if run.kind == "plug" and place == (1 if run.half == 1 else 0):
                own = board.get(head(run.ends[1 - place]), "")
            result[run.id, place] = own
    return result


def board_said(boards: dict[tuple[str, int], str], run: Run) -> str:
    """The baseboard of a run; two of them where it crosses from one to the other."""
    return "/".join(dict.fromkeys(b for b in (boards[run.id, 0], boards[run.id, 1]) if b))
