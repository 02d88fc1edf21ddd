"""The wire schedule: every wire of a layout, a line each, in the order in which one works through it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.circuit.colours import colour_plan
from netlister.circuit.runs import board_said, boards_of, head
from netlister.lengths import Metres, in_mm
from netlister.papers.table import Table, csv_text, without_empty

if TYPE_CHECKING:
    from netlister.circuit.runs import Run
    from netlister.layout.model import Layout

COLUMNS = ("id", "from", "to", "colour", "size", "length_mm", "tap_mm", "board", "part")
HEADS = ("wire", "from", "to", "colour", "size", "length", "tap", "board", "part", "done")
ORDER = ("bus", "common", "plug", "feed", "reverser", "unit", "component", "wire", "lead")
KINDS = {
    "bus": "Bus, from the supply outwards",
    "common": "Common returns",
    "plug": "Plugs, both halves",
    "feed": "Feeds",
    "reverser": "Into reversers",
    "unit": "Frog units",
    "component": "Components",
    "wire": "Wires",
    "lead": "Contacts",
}
NO_COLOUR = "? DO NOT SOLDER"
"""Stands in place of a colour on papers where two poles or districts meet on a wire."""

CHOSEN = "*"
CHOSEN_SAID = f"{CHOSEN} colour chosen here, since the layout says none; letters by IEC 60757."


LETTERS = {
    "bus": "B", "common": "N", "plug": "P", "feed": "F", "reverser": "R", "unit": "U", "component": "K", "wire": "W",
    "lead": "C",
}  # fmt: skip
PLAINLY = {
    "bus": "bus", "common": "common return", "plug": "plug (.1 and .2 are its halves)", "feed": "feed",
    "reverser": "into a reverser", "unit": "frog unit", "component": "part in a wire", "wire": "other wire",
    "lead": "contact",
}  # fmt: skip
MAINS = {"BN": "brown", "BU": "blue", "BK": "black", "GY": "grey", "RD": "red", "YE": "yellow", "WH": "white"}
"""Colours that fixed mains wiring has or had in one country or another (IEC 60446; older codes from memory)."""


class ScheduleLine(NamedTuple):
    """A line of the schedule: the columns of the contract as text, the run, and whether its colour was chosen."""

    id: str
    start: str
    end: str
    colour: str
    size: str
    length_mm: str
    tap_mm: str
    board: str
    part: str
    run: Run
    chosen: bool
    boards: tuple[str, str]

    def columns(self) -> tuple[str, ...]:
        """The nine columns of the contract."""
        return self[:9]


def schedule(layout: Layout, board: str = "") -> list[ScheduleLine]:
    """Every wire: by board, then buses, plugs, feeds, gear and contacts, each in the order of the file.

    With `board` only the wires of which an end is there.
    """
    coloured = colour_plan(layout)
    boards = boards_of(layout, [wire.run for wire in coloured.wires])
    lines = []
    for wire in coloured.wires:
        run = wire.run
        ends = (boards[run.id, 0], boards[run.id, 1])
        if board and board not in ends:
            continue
        lines.append(
            ScheduleLine(
                run.id, *run.ends, wire.colour, run.size, mm_text(run.length), mm_text(run.tap),
                board_said(boards, run), run.part, run, wire.chosen, ends,
            )
        )  # fmt: skip
    place = {name: number for number, name in enumerate(["", *layout.boards])}
    count = len(place)
    return sorted(lines, key=lambda w: (place.get(w.board, count), w.board, ORDER.index(w.run.kind)))


def places(layout: Layout, lines: list[ScheduleLine]) -> dict[str, set[str]]:
    """The baseboards of each piece, gear and block: one, but of a plug those of both its halves."""
    found: dict[str, set[str]] = {}
    for line in lines:
        for end, board in zip(line.run.ends, line.boards, strict=True):
            if board:
                found.setdefault(head(end), set()).add(board)
    for board, names in layout.boards.items():
        for name in names:
            found.setdefault(name, set()).add(board)
    return found


def mm_text(length: Metres | None) -> str:
    """A length in mm as a plain number, or nothing."""
    return "" if length is None else f"{round(in_mm(length), 3):.12g}"


def as_csv(lines: list[ScheduleLine]) -> str:
    """The schedule as CSV. Cells are guarded as `table.guarded` says."""
    return csv_text(COLUMNS, (line.columns() for line in lines))


def as_object(layout: str, lines: list[ScheduleLine]) -> dict[str, Any]:
    """The schedule as one object for JSON."""
    wires = []
    for line in lines:
        wire: dict[str, Any] = dict(zip(COLUMNS, line.columns(), strict=True))
        for key in ("length_mm", "tap_mm"):
            wire[key] = float(wire[key]) if wire[key] else None
        wires.append({**wire, "kind": line.run.kind, "colour_chosen": line.chosen})
    return {"format": "netlister-schedule/1", "layout": layout, "wires": wires}


def as_json(layout: str, lines: list[ScheduleLine]) -> str:
    """The schedule as JSON."""
    return json.dumps(as_object(layout, lines), ensure_ascii=False, indent=1) + "\n"


def spoken(line: ScheduleLine) -> tuple[str, ...]:
    """A line as people read it: an empty box at its end, lengths with their unit, where both ends are."""
    run = line.run
    start, end = end_said(run, 0), end_said(run, 1)
    colour = f"{line.colour}{CHOSEN if line.chosen and line.colour else ''}" or NO_COLOUR
    length = f"{line.length_mm} mm" if line.length_mm else ""
    tap = f"{line.tap_mm} mm" if line.tap_mm else ""
    return (line.id, start, end, colour, line.size, length, tap, line.board, line.part, "[ ]")


def end_said(run: Run, place: int) -> str:
    """An end of a wire as people read it: of a bus its source or its far end, of a feed where along the rail it is."""
    terminal = run.ends[place]
    if run.kind == "bus":
        return f"{terminal} ({'source' if place == 0 else 'far end'})"
    if run.kind == "plug" and place == (1 if run.half == 1 else 0):
        return f"{terminal} (half {run.half})"
    along = f" {mm_text(run.at)} mm from its end a" if run.at is not None and place == 1 else ""
    return f"{terminal}{along}{f' (at {run.ends_at[place]})' if run.ends_at[place] else ''}"


def tables(lines: list[ScheduleLine]) -> list[Table]:
    """The schedule as tables, one per board."""
    found: dict[str, list[ScheduleLine]] = {}
    for line in lines:
        found.setdefault(line.board, []).append(line)
    several = len(found) > 1
    result = []
    for board, own in found.items():
        title = "Wires" if not several else f"Board {board}" if board and "/" not in board else ""
        title = title or (f"Between boards {board.replace('/', ' and ')}" if board else "On no board")
        result.append(Table(title, HEADS, tuple(spoken(line) for line in own)))
    return [without_empty(table, ("tap", "board")) for table in result]


def remarks(lines: list[ScheduleLine]) -> tuple[str, ...]:
    """What stands under the schedule."""
    said = [f"{len(lines)} wires.", ids_said(lines), *of_colours(lines)]
    if any(line.tap_mm for line in lines):
        said.append("tap: where along its bus the wire is joined to it, measured from the end at the supply.")
    if any(line.run.at is not None for line in lines):
        said.append("From its end a: of a piece of plain track, where along the rail the wire is soldered.")
    unsized = sum(1 for line in lines if not line.size)
    if unsized:
        said.append(f"{unsized} without a size in the layout; 'netlister wire-size' finds one that holds the limits.")
    return tuple(said)


def ids_said(lines: list[ScheduleLine]) -> str:
    """What the letters mean that names of wires begin with; names that the layout itself gives begin as they like."""
    derived = {line.run.kind for line in lines if line.id.startswith(f"{LETTERS[line.run.kind]}.")}
    said = ", ".join(f"{letter} {PLAINLY[kind]}" for kind, letter in LETTERS.items() if kind in derived)
    return f"Names of wires begin with: {said}." if said else "Names of wires are those of the layout."


def of_colours(lines: list[ScheduleLine]) -> tuple[str, ...]:
    """What the marks in columns of colours mean."""
    said = []
    if any(line.chosen and line.colour for line in lines):
        said.append(CHOSEN_SAID)
    mains = [name for letters, name in MAINS.items() if any(letters == line.colour for line in lines)]
    if mains:
        said.append(
            f"Mains wires may be {', '.join(mains)} too: keep these wires and mains wires apart, in no common duct, "
            "box or plug, and mark them as low voltage. By its colour alone no wire is safe to touch or to cut."
        )
    unclear = [line.id for line in lines if not line.colour]
    if unclear:
        said.append(
            "? no colour: two poles or districts meet on this wire. Do not solder it; run 'netlister check' first. "
            + ", ".join(unclear[:12])
        )
    return tuple(said)
