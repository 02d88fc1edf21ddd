"""Terminal and plug tables: per baseboard and block, each terminal with its wires. Each end of a wire stands once."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.runs import head
from netlister.papers.schedule import CHOSEN, NO_COLOUR, ScheduleLine, end_said
from netlister.papers.table import Table

if TYPE_CHECKING:
    from netlister.layout.model import Layout

HEADS = ("block", "terminal", "wire", "colour", "size", "goes to", "done")


class WireEnd(NamedTuple):
    """An end of a wire: the board and block that it is at, its terminal, the wire, and which of its ends."""

    board: str
    block: str
    terminal: str
    line: ScheduleLine
    place: int

    @property
    def other(self) -> str:
        """Where the other end is, as people read it."""
        return end_said(self.line.run, 1 - self.place)


def ends(layout: Layout, lines: list[ScheduleLine]) -> list[WireEnd]:
    """Every end of every wire, by board, by block, by terminal as one counts."""
    found = []
    for line in lines:
        for place, terminal in enumerate((line.start, line.end)):
            block = head(terminal)
            if line.run.kind == "plug" and place == (1 if line.run.half == 1 else 0):
                block = f"{block}, half {line.run.half}"
            found.append(WireEnd(line.boards[place], block, terminal, line, place))
    order = {name: number for number, name in enumerate([*layout.boards, ""])}
    return sorted(
        found, key=lambda e: (order.get(e.board, len(order)), _counted(e.block), _counted(e.terminal), e.line.id)
    )


def _counted(name: str) -> tuple[tuple[int, int, str], ...]:
    """A key by which TB1.2 comes before TB1.10."""
    parts = re.findall(r"[0-9]+|[^0-9]", name)
    return tuple((0, int(part), "") if part.isdigit() and part.isascii() else (1, 0, part) for part in parts)


def tables(layout: Layout, lines: list[ScheduleLine], board: str = "") -> list[Table]:
    """A table per board; with `board` that one alone."""
    found: dict[str, list[tuple[str, ...]]] = {}
    for end in ends(layout, lines):
        if board and end.board != board:
            continue
        line = end.line
        colour = f"{line.colour}{CHOSEN if line.chosen and line.colour else ''}" or NO_COLOUR
        row = (end.block, end.terminal, line.id, colour, line.size, end.other, "[ ]")
        found.setdefault(end.board, []).append(row)
    return [
        Table(f"Board {name}" if name else "Buses, supplies and what is on no board", HEADS, tuple(rows))
        for name, rows in found.items()
    ]
