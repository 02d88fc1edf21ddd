"""Where everything stands on a sheet: poles across the top and the bottom, supplies left, figures in columns.

Every figure (`figures.py`) is one connected drawing; its pins that want a pole are led to an upright at the left of its
column, which hangs from a line of pole A across the top or stands on one of pole B across the bottom.
"""

from __future__ import annotations

from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING

from netlister.layout.terminal import owner_of
from netlister.outputs.schematic.drawing import DrawnWire, NetLabel, Page, SheetDrawing, label_steps, put
from netlister.outputs.schematic.figures import SOURCES, Figure, Tap, figure, groups
from netlister.outputs.schematic.shapes import GRID, LEFT, symbol_of

if TYPE_CHECKING:
    from netlister.outputs.netlist_draft import NetlistPart
    from netlister.outputs.schematic.sheets import PartsSheet

PAPERS = (("A4", 297, 210), ("A3", 420, 297), ("A2", 594, 420), ("A1", 841, 594), ("A0", 1189, 841))
"""Name, width and height in mm, by ISO 216, on their long side."""
EDGE = 12
"""Steps left free at the edges of a sheet; at the bottom room for its title as well."""
FOOT = 30
GAP = 4
COLUMN_GAP = 6
STEP = 2


def arrange(sheet: PartsSheet) -> Page:
    """Put a sheet's parts on the smallest paper that holds them."""
    figures = _figures(sheet)
    for paper, width, height in PAPERS:
        drawing = _SheetColumns(sheet, figures, height / GRID - 2 * EDGE - FOOT).drawing
        _, _, right, bottom = drawing.box()
        if right + EDGE <= width / GRID and bottom + EDGE + FOOT <= height / GRID:
            return Page(sheet.name, paper, width, height, drawing)
    drawing = _SheetColumns(sheet, figures, 841 / GRID - 2 * EDGE - FOOT).drawing
    box = drawing.box()
    return Page(sheet.name, "User", ceil((box[2] + EDGE) * GRID), ceil((box[3] + EDGE + FOOT) * GRID), drawing)


def _figures(sheet: PartsSheet) -> list[Figure]:
    """The figures of a sheet in order; machines stand with a piece that they throw."""
    grouped = groups([part for part in sheet.parts if part.kind not in SOURCES], sheet.poles)
    machines = _machines(sheet, grouped)
    pins = [{net for part in group for _, net in part.pins} for group in grouped]
    times: dict[str, int] = {}
    for nets in pins:
        for net in nets:
            times[net] = times.get(net, 0) + 1
    outside = {net for net, count in times.items() if count > 1} | sheet.shared
    return [
        figure(group, sheet.poles, outside, sheet.ways, machines.get(number, []))
        for number, group in enumerate(grouped)
    ]


def _machines(sheet: PartsSheet, grouped: list[list[NetlistPart]]) -> dict[int, list[NetlistPart]]:
    """The machines of each figure: where the first piece is that they throw."""
    of = {part.tag: number for number, group in enumerate(grouped) for part in group}
    found: dict[int, list[NetlistPart]] = {}
    for part in sheet.parts:
        if part.kind == "machine":
            first = owner_of(dict(part.fields).get("Throws", "").split(",")[0].partition("=")[0]).strip()
            if f"track {first}" in of:
                found.setdefault(of[f"track {first}"], []).append(part)
    return found


class _SheetColumns:
    """A sheet of a given height, built column by column from the left."""

    def __init__(self, sheet: PartsSheet, figures: list[Figure], height: float) -> None:
        self.drawing = SheetDrawing()
        self.sheet = sheet
        used = [p for p in sheet.poles if any(p == net for part in sheet.parts for _, net in part.pins)]
        self.above = [pole for pole in used if not pole.endswith(".B")]
        self.below = [pole for pole in used if pole.endswith(".B")]
        self.uprights: list[tuple[str, int, list[int]]] = []
        self.top = EDGE + STEP * (len(self.above) + 1)
        self.height = height - STEP * (len(used) + 3)
        self.bottom = self.top
        names = max([label_steps(pole) for pole in used] or [0])
        self.first = EDGE + names
        x = self._sources(self.first + STEP, figures)
        column: list[Figure] = []
        high = 0.0
        for one in figures:
            need = one.drawing.box()[3] - one.drawing.box()[1] + GAP
            if column and high + need > self.height:
                x = self._stack(column, x)
                column, high = [], 0.0
            column.append(one)
            high += need
        if column:
            self._stack(column, x)
        self._lines()

    def _sources(self, x: int, figures: list[Figure]) -> int:
        """Supplies and buses, and below them what has no pins and stands in no figure. The next column's x."""
        here = {p.part.reference for one in figures for p in one.drawing.placed}
        sources = [part for part in self.sheet.parts if part.kind in SOURCES]
        boxes = [part for part in self.sheet.parts if not part.pins and part.reference not in here]
        y = self.top + 4
        taps: list[Tap] = []
        right = x
        for part in [*sources, *boxes]:
            symbol = symbol_of(part)
            alone = SheetDrawing()
            one = put(alone, part, symbol, x, y)
            self.drawing.take(alone, 0, 0)
            nets = dict(part.pins)
            taps += [Tap(nets[pin.name], one.x + pin.x, one.y + pin.y) for pin in symbol.pins]
            right = max(right, ceil(alone.box()[2]))
            y = -(-ceil(alone.box()[3] + GAP) // 2) * 2 + 2
            self.bottom = max(self.bottom, y)
        if not [*sources, *boxes]:
            return x
        self._lead(taps, right + STEP)
        return right + STEP * (len({tap.net for tap in taps}) + 1) + COLUMN_GAP

    def _stack(self, column: list[Figure], x: int) -> int:
        """Put figures below one another; their poles stand at the left. The next column's x."""
        poles = len({tap.net for one in column for tap in one.taps})
        left = ceil(-min(one.drawing.box()[0] for one in column))
        across = x + STEP * poles + left + STEP
        y = self.top + STEP
        taps = []
        right = across
        for one in column:
            _, up, wide, low = one.drawing.box()
            down = -(-ceil(y - up) // 2) * 2
            self.drawing.take(one.drawing, across, down)
            taps += [Tap(tap.net, tap.x + across, tap.y + down) for tap in one.taps]
            y = ceil(low + down + GAP)
            right = max(right, ceil(wide) + across)
        self.bottom = max(self.bottom, y)
        self._lead(taps, x)
        return right + COLUMN_GAP

    def _lead(self, taps: list[Tap], x: int) -> None:
        """Lead pins to the uprights of their poles, which begin at x."""
        nets = [pole for pole in (*self.above, *self.below) if any(tap.net == pole for tap in taps)]
        for number, net in enumerate(nets):
            at = x + STEP * number
            mine = [tap for tap in taps if tap.net == net]
            self.drawing.wires += [DrawnWire(net, at, tap.y, tap.x, tap.y) for tap in mine]
            self.uprights.append((net, at, sorted({tap.y for tap in mine})))

    def _lines(self) -> None:
        """The poles across the top and the bottom, with their names, and the uprights that hang on them."""
        bottom = self.bottom + STEP
        rows = {pole: EDGE + STEP * n for n, pole in enumerate(self.above)}
        rows |= {pole: bottom + STEP * n for n, pole in enumerate(self.below)}
        for pole, row in rows.items():
            mine = [(x, ys) for net, x, ys in self.uprights if net == pole]
            if not mine:
                continue
            xs = [self.first, *sorted(x for x, _ in mine)]
            self.drawing.labels.append(NetLabel(pole, self.first, row, LEFT))
            self.drawing.wires += [DrawnWire(pole, a, row, b, row) for a, b in pairwise(xs)]
            self.drawing.dots += [(pole, x, row) for x in xs[1:-1]]
            for x, ys in mine:
                every = sorted([*ys, row])
                self.drawing.wires += [DrawnWire(pole, x, a, x, b) for a, b in pairwise(every)]
                self.drawing.dots += [(pole, x, y) for y in every[1:-1]]
