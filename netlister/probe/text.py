"""A test sheet as JSON values, text, CSV and a page to print."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.circuit.runs import boards_of, head, runs
from netlister.probe.scene import BUS_OFF, FEED_OFF, FEEDS_OFF, LEAD_OFF, PAPER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import State
    from netlister.layout.model import Layout
    from netlister.probe.detail import Detail
    from netlister.probe.faults import Fault
    from netlister.probe.sheet import Reading, Sheet

CAUTIONS = (
    (
        "Unplug every supply from the bus before any beep test, and every automatic reverser and frog unit from the "
        "track. A supply's output looks like a short to the meter, and its voltage can destroy it."
    ),
    (
        "Take everything off the track that bridges the rails: locomotives, lit coaches, test lamps. Unplug loads that "
        "are wired in."
    ),
    (
        "Nothing here is to be opened on the mains side. That is for licensed people and your local code. "
        "If insulation, a plug or a supply is damaged, stop."
    ),
    (
        "Put the supply back only when no reading is wrong, and stay there for the first minutes: a fault that draws "
        "less than the trip current heats wires and wheels and trips nothing."
    ),
)
TRAPS = (
    "Touch the two leads together first: no beep, no battery.",
    "Rails are dirty: press the tip through the oxide. A silent reading that should beep, take it twice.",
    "A beep means less than some tens of ohms. Coils and lamps beep, some detectors too; diodes one way or not at all.",
    (
        "With the supply on, an isolated rail beside a live one can show a few volts; a lamp tells. "
        "Many meters read a digital supply wrongly: compare readings, do not trust the figure."
    ),
)


def traps(sheet: Sheet) -> list[str]:
    """What a meter gets wrong; first what the names of some probes of this sheet mean."""
    made, said = sheet.made, []
    probes = [made.names[p] for r in sheet.readings for p in r.probes]
    screw = next((name for name in probes if name.startswith("screw:")), "")
    if screw:
        said.append(f"{screw} is the end of the feed wire of {screw.removeprefix('screw:')}, at its screw.")
    if output := next((name for name in probes if head(name) in made.layout.reversers), ""):
        said.append(f"{output} of the unplugged reverser {head(output)} is the end of the wires that go there.")
    odd = [c.name for c in made.layout.components.values() if c.kind in {"breaker", "detector"}]
    odd += [bus.name for bus in made.layout.buses.values() if bus.breaker is not None]
    if odd:
        said.append(f"Without power a breaker or detector may be silent where a beep is said: {', '.join(odd[:8])}.")
    return [*said, *TRAPS]


def not_looked_for(made: Detail) -> str:
    """What the sheet of a layout does not look for, and readings that are all right do not rule out."""
    layout = made.layout
    said = "Not looked for: two faults that hide one another; bad joints and contacts that still beep; dirt"
    buses = [b for b in layout.buses if not layout.supplies[layout.buses[b].supply].accessory]
    if len(buses) < 2:  # noqa: PLR2004
        return f"{said}."
    names = ", ".join(buses[:4]) + (" \u2026" if len(buses) > 4 else "")  # noqa: PLR2004
    said += (
        f"; a feed wire on the same pole of another bus or supply than the layout says ({names}): "
        "look along each feed wire to its screw."
    )
    apart = [poles for letter in (0, 1) if len(poles := {layout.buses[b].poles[letter] for b in buses}) > 1]
    if apart:
        pairs = " and ".join(f"between {', '.join(sorted(poles))}" for poles in apart)
        said += f" All feed wires on, every supply unplugged: a beep {pairs} means that there is such a wire."
    return said


class Automatic(NamedTuple):
    """A reading with the supply on, at what an automatic device feeds."""

    name: str
    probes: tuple[str, str]
    volts: float


def automatic(made: Detail) -> list[Automatic]:
    """What to read with the supply on, last: the rails behind automatic reversers, the frogs of automatic units."""
    layout, found = made.layout, []
    volts = {s.name: s.voltage for s in layout.supplies.values()}
    for reverser in layout.reversers.values():
        if reverser.automatic:
            rails: dict[str, list[str]] = {}
            for feed in layout.feeds:
                for source, rail in feed.wires:
                    if source in reverser.outputs:
                        rails.setdefault(feed.piece, []).append(rail)
            supply = layout.buses[reverser.bus].supply if reverser.bus in layout.buses else reverser.bus
            pair = next((r for r in rails.values() if len(r) == 2), None)  # noqa: PLR2004
            if pair and supply in volts:
                found.append(Automatic(reverser.name, (pair[0], pair[1]), volts[supply]))
    return found


def set_of(made: Detail, state: State) -> dict[str, str]:
    """A state as names of variables with their positions."""
    return {v.name: v.positions[x] for v, x in zip(made.circuit.variables, state, strict=True)}


def sheet_object(sheet: Sheet) -> dict[str, Any]:
    """A sheet as the plain values of `--format json`."""
    made = sheet.made
    readings = [
        {
            "number": number,
            "supply": "off",
            "acts": list(r.acts),
            "set": set_of(made, r.state),
            "probes": [made.names[n] for n in r.probes],
            "expect": "beep" if r.expect else "silent",
        }
        for number, r in enumerate(sheet.readings, 1)
    ]
    state = sheet.readings[0].state if sheet.readings else made.first
    for number, a in enumerate(automatic(made), len(readings) + 1):
        readings.append(
            {
                "number": number,
                "supply": "on",
                "acts": [],
                "set": set_of(made, state),
                "probes": list(a.probes),
                "expect": f"{a.volts:g} V",
            }
        )
    return {
        "format": "netlister-testsheet/1",
        "layout": made.layout.name,
        "least": sheet.least,
        "bound": sheet.bound if sheet.weighed else None,
        "readings": readings,
        "faults": [
            {**fault_object(f), "class": c, "seen_by": [n + 1 for n in seen]}
            for f, c, seen in zip(sheet.faults, sheet.classes, sheet.seen_by, strict=True)
        ],
        "unseen": [
            {**fault_object(u.fault), "why": u.why if u.proved else f"not settled within the limit: {u.why}"}
            for u in sheet.unseen
        ],
    }


def fault_object(fault: Fault) -> dict[str, Any]:
    """A fault as plain values."""
    return {"name": fault.name, "kind": fault.kind, "parts": list(fault.parts)}


class _Act(NamedTuple):
    """A kind of act: how its name begins, what is done, how it is undone, in short. Braces stand for its parts."""

    begins: str
    do: str
    undo: str
    short: str


_ACTS = (
    _Act(
        FEEDS_OFF,
        "take every feed wire off at its screw",
        "put every feed wire back on its own screw",
        "feed wires off",
    ),
    _Act(
        FEED_OFF,
        "take the feed wires of {} off at their screws",
        "put the feed wires of {} back, each on its own screw",
        "feed wires of {} off",
    ),
    _Act(
        BUS_OFF,
        "take both wires of bus {} off where it starts",
        "put both wires of bus {} back, each on its own terminal",
        "bus {} off",
    ),
    _Act(
        PAPER,
        "put paper between the blades and the stock rails of {}",
        "take the paper out of {}",
        "paper in {}",
    ),
    _Act(
        LEAD_OFF,
        "take the common lead off contact {}",
        "put the common lead back on contact {}",
        "common lead of {} off",
    ),
)
MOST_NAMED = 4
"""Parts that are named in a heading; of more only the number is."""


def done(acts: list[str]) -> list[str]:
    """What a person does, as sentences, one for each kind of act."""
    return [sentence(act.do.replace("{}", ", ".join(parts))) for act, parts in _by_kind(acts)]


def undone(acts: list[str]) -> list[str]:
    """How acts are undone, as sentences, one for each kind of act."""
    return [sentence(act.undo.replace("{}", ", ".join(parts))) for act, parts in _by_kind(acts)]


def _by_kind(acts: list[str]) -> Iterator[tuple[_Act, list[str]]]:
    for kind in _ACTS:
        if some := [act.removeprefix(kind.begins) for act in acts if act.startswith(kind.begins)]:
            yield kind, some


class SheetLine(NamedTuple):
    """A line of a sheet: a heading, something to do, or a reading with its number."""

    what: str  # "head" | "do" | "clip" | "read"
    text: str
    number: int = 0
    probes: tuple[str, str] = ("", "")
    expect: str = ""


def lines(sheet: Sheet, board: str = "") -> list[SheetLine]:
    """The sheet line by line, in the order of the work; with `board` only readings with a probe on that baseboard."""
    made = sheet.made
    found: list[SheetLine] = [SheetLine("do", "Unplug every supply and every automatic device. Clear the track.")]
    acts: tuple[str, ...] = ()
    state: State | None = None
    clip = -1
    there = _on_board(made.layout, board)
    for number, r in enumerate(sheet.readings, 1):
        if board and not any(_thing(made.names[n]) in there for n in r.probes):
            continue
        if r.acts != acts or state is None or r.state != state:
            found.append(SheetLine("head", _head(made, r, state)))
            found += [SheetLine("do", text) for text in undone([a for a in reversed(acts) if a not in r.acts])]
            found += [SheetLine("do", text) for text in done([a for a in r.acts if a not in acts])]
            if moves := _moves(made, state, r.state):
                found.append(
                    SheetLine("do", "Set " + ", ".join(f"{name} to {position}" for name, position in moves) + ".")
                )
            acts, state, clip = r.acts, r.state, -1
        if r.probes[0] != clip:
            clip = r.probes[0]
            found.append(SheetLine("clip", f"Clip one lead to {made.names[clip]}."))
        pair = (made.names[r.probes[0]], made.names[r.probes[1]])
        found.append(SheetLine("read", "", number, pair, "beep" if r.expect else "silent"))
    found += [SheetLine("do", text) for text in undone(list(reversed(acts)))]
    if len(found) == 1:
        return [SheetLine("do", f"No reading of the sheet touches board {board}.")]
    if last := [a for a in automatic(made) if not board or any(_thing(n) in there for n in a.probes)]:
        found.append(SheetLine("head", "Power on, for automatic devices, last"))
        found.append(SheetLine("do", "Only if every reading before was right: plug in the supplies and the devices."))
        for number, a in enumerate(automatic(made), len(sheet.readings) + 1):
            if a not in last:
                continue
            found.append(SheetLine("read", a.name, number, a.probes, f"about {a.volts:g} V"))
    return found


def _thing(probe: str) -> str:
    """The piece, gear or block that a probe is at."""
    return head(probe.removeprefix("screw:"))


def _on_board(layout: Layout, board: str) -> frozenset[str]:
    """What stands on a baseboard."""
    if not board:
        return frozenset()
    found = runs(layout)
    where = boards_of(layout, found)
    blocks = {head(end) for run in found for place, end in enumerate(run.ends) if where[run.id, place] == board}
    return frozenset({*layout.boards.get(board, ()), *blocks})


def sentence(text: str) -> str:
    """Words with a capital and a full stop."""
    return text[0].upper() + text[1:] + "."


def _head(made: Detail, r: Reading, before: State | None) -> str:
    how = "Feed wires off at their screws" if FEEDS_OFF in r.acts else "Feed wires on, supply still unplugged"
    for act, parts in _by_kind([a for a in r.acts if a != FEEDS_OFF]):
        names = ", ".join(parts) if len(parts) <= MOST_NAMED else f"{len(parts)} places"
        how += f", {act.short.replace('{}', names)}"
    variables = made.circuit.variables
    if not variables:
        return how
    if not any(r.state):
        return f"{how}; all in their first position"
    if all(x == len(v.positions) - 1 for v, x in zip(variables, r.state, strict=True)):
        return f"{how}; all in their last position"
    moved = sum(a != b for a, b in zip(before or r.state, r.state, strict=True))
    return f"{how}; other positions" if moved or before is None else how


def _moves(made: Detail, before: State | None, after: State) -> list[tuple[str, str]]:
    return [
        (v.name, v.positions[x])
        for k, (v, x) in enumerate(zip(made.circuit.variables, after, strict=True))
        if before is None or before[k] != x
    ]
