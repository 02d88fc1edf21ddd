"""Where everything stands on a sheet: poles across the top and the bottom, supplies left, figures in columns.

Every figure (`figures.py`) is one connected drawing. What it wants from the poles is led to an upright at the left of
its column, which hangs from a line of pole A across the top or stands on one of pole B across the bottom; a net that
goes on in other figures of the sheet has an upright beside these, and a line below the columns where it is in several.
"""

from __future__ import annotations

from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.terminal import owner_of
from netlister.outputs.netlist_draft import TRACK
from netlister.outputs.schematic.drawing import DrawnWire, NetLabel, Page, SheetDrawing, label_steps, put
from netlister.outputs.schematic.figures import SOURCES, Figure, FigureNets, Tap, figure, groups
from netlister.outputs.schematic.shapes import GRID, LEFT, symbol_of
from netlister.outputs.schematic.sheets import FEW, sheets

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit
    from netlister.outputs.netlist_draft import NetlistPart
    from netlister.outputs.schematic.sheets import PartsSheet

PAPERS = (("A4", 297, 210), ("A3", 420, 297), ("A2", 594, 420), ("A1", 841, 594), ("A0", 1189, 841))
"""Name, width and height in mm, by ISO 216, on their long side."""
READABLE = frozenset({"A4", "A3"})
"""What people print at home, or read when it is made smaller by a size."""
EDGE = 12
"""Steps left free at the edges of a sheet."""
FOOT = 30
"""And at the bottom for its title, which is so wide."""
TITLE = 96
GAP = 4
COLUMN_GAP = 6
STEP = 2


def pages(circuit: Circuit, *, one: bool | None = None) -> list[Page]:
    """The sheets of a circuit with all that stands on them. `one`: a single one; left out: where that is readable."""
    if one is None:
        (sheet,) = sheets(circuit, one=True)
        if sum(1 for part in sheet.parts if part.pins) <= FEW:
            page = arrange(sheet)
            if page.paper in READABLE:
                return [page]
    return [arrange(sheet) for sheet in sheets(circuit, one=bool(one))]


def arrange(sheet: PartsSheet) -> Page:
    """Put a sheet's parts on the smallest paper that holds them."""
    figures = _figures(sheet)
    for paper, width, height in PAPERS:
        for foot, right in ((0, width / GRID - TITLE), (FOOT, width / GRID - EDGE)):
            drawing = _fitting(sheet, figures, height / GRID - EDGE - foot, right)
            if drawing is not None:
                return Page(sheet.name, paper, width, height, drawing)
    drawing = _SheetColumns(sheet, figures, PAPERS[-1][2] / GRID - 2 * EDGE - FOOT).drawing
    box = drawing.box()
    return Page(sheet.name, "User", ceil((box[2] + EDGE) * GRID), ceil((box[3] + EDGE + FOOT) * GRID), drawing)


def _fitting(sheet: PartsSheet, figures: list[Figure], bottom: float, right: float) -> SheetDrawing | None:
    """The drawing of a sheet if there is one that ends above `bottom` and left of `right`."""
    height = bottom - EDGE
    while height > 0:
        columns = _SheetColumns(sheet, figures, height)
        box = columns.drawing.box()
        if box[2] > right:
            return None
        if box[3] <= bottom:
            return columns.drawing
        if columns.full:
            return None
        height -= box[3] - bottom
    return None


def _figures(sheet: PartsSheet) -> list[Figure]:
    """The figures of a sheet in order; machines stand with a piece that they throw."""
    grouped = groups([part for part in sheet.parts if part.kind not in SOURCES], sheet.poles)
    machines = _machines(sheet, grouped)
    return [
        figure(group, nets, sheet.ways, machines.get(number, []))
        for number, (group, nets) in enumerate(zip(grouped, _nets(grouped, sheet), strict=True))
    ]


def _nets(grouped: list[list[NetlistPart]], sheet: PartsSheet) -> list[FigureNets]:
    """Nets of several figures are wired; a label stands once, at the rail whose net it is, where it goes on elsewhere.

    A rail of another sheet is named wherever it is wanted.
    """
    where: dict[str, list[int]] = {}
    owner: dict[str, int] = {}
    for number, group in enumerate(grouped):
        for part in group:
            for _, net in part.pins:
                if number not in where.setdefault(net, []):
                    where[net].append(number)
                if part.library == TRACK:
                    owner.setdefault(net, number)
    between = {net for net, some in where.items() if len(some) > 1 and (net in owner or net not in sheet.shared)}
    told = {*owner, *sheet.poles}
    named: list[set[str]] = [set() for _ in grouped]
    for net, some in where.items():
        if net in sheet.poles:
            continue
        if net in sheet.shared or (net in between and net not in told):
            for number in [owner.get(net, some[0])] if net in between else some:
                named[number].add(net)
    wired = between.union(sheet.poles)
    return [FigureNets(wired, some, sheet.poles) for some in named]


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


class _Upright(NamedTuple):
    """A wire from top to bottom: its net, its place, and the rows that run to it."""

    net: str
    x: int
    rows: list[int]


class _SheetColumns:
    """A sheet of a given height, built column by column from the left. `full`: no column holds several figures."""

    def __init__(self, sheet: PartsSheet, figures: list[Figure], height: float) -> None:
        self.drawing = SheetDrawing()
        self.sheet = sheet
        used = [p for p in sheet.poles if any(p == net for part in sheet.parts for _, net in part.pins)]
        self.above = [pole for pole in used if not pole.endswith(".B")]
        self.below = [pole for pole in used if pole.endswith(".B")]
        self.uprights: list[_Upright] = []
        self.top = EDGE + STEP * (len(self.above) + 1)
        self.bottom = self.top
        names = max([label_steps(pole) for pole in used] or [0])
        self.first = EDGE + names
        columns = _stacks(figures, height - STEP * (len(used) + 3))
        self.full = all(len(column) == 1 for column in columns)
        self.across = self._across(columns)
        x = self._sources(self.first + STEP, figures)
        for column in columns:
            x = self._stack(column, x)
        self._lines()

    def _across(self, columns: list[list[Figure]]) -> list[str]:
        """Nets of several columns that are no poles, in the order in which they begin."""
        times: dict[str, int] = {}
        for column in columns:
            for net in dict.fromkeys(tap.net for one in column for tap in one.taps):
                times[net] = times.get(net, 0) + 1
        return [net for net, count in times.items() if count > 1 and net not in self.sheet.poles]

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
        return right + STEP * (self._lead(taps, right + STEP) + 1) + COLUMN_GAP

    def _stack(self, column: list[Figure], x: int) -> int:
        """Put figures below one another; what joins them stands at the left. The next column's x."""
        y = self.top + STEP
        places = []
        taps = []
        for one in column:
            _, up, _, low = one.drawing.box()
            low = max([low, *(tap.y for tap in one.taps)])
            down = -(-ceil(y - up) // 2) * 2
            places.append(down)
            taps += [Tap(tap.net, tap.x, tap.y + down) for tap in one.taps]
            y = ceil(low + down + GAP)
        self.bottom = max(self.bottom, y)
        left = ceil(-min(one.drawing.box()[0] for one in column))
        across = x + STEP * len(_tracks(taps, self._poles_of(taps), self.across)) + left + STEP
        for one, down in zip(column, places, strict=True):
            self.drawing.take(one.drawing, across, down)
        self._lead([tap._replace(x=tap.x + across) for tap in taps], x)
        return max(ceil(one.drawing.box()[2]) + across for one in column) + COLUMN_GAP

    def _poles_of(self, taps: list[Tap]) -> list[str]:
        return [pole for pole in (*self.above, *self.below) if any(tap.net == pole for tap in taps)]

    def _lead(self, taps: list[Tap], x: int) -> int:
        """Lead places to the uprights of their nets, which begin at x. The number of uprights side by side."""
        tracks = _tracks(taps, self._poles_of(taps), self.across)
        for number, nets in enumerate(tracks):
            at = x + STEP * number
            for net in nets:
                mine = [tap for tap in taps if tap.net == net]
                self.drawing.wires += [DrawnWire(net, at, tap.y, tap.x, tap.y) for tap in mine if tap.x != at]
                self.uprights.append(_Upright(net, at, sorted({tap.y for tap in mine})))
        return len(tracks)

    def _lines(self) -> None:
        """Poles across the top and the bottom with their names, other nets below the columns, and all uprights."""
        bottom = self.bottom + STEP
        rows = {pole: EDGE + STEP * n for n, pole in enumerate(self.above)}
        rows |= {net: bottom + STEP * n for n, net in enumerate([*self.across, *self.below])}
        begins = dict.fromkeys([*self.above, *self.below], self.first)
        for net, row in rows.items():
            begin = [begins[net]] if net in begins else []
            xs = [*begin, *sorted(one.x for one in self.uprights if one.net == net)]
            if len(xs) == len(begin):
                continue
            if begin:
                self.drawing.labels.append(NetLabel(net, begin[0], row, LEFT))
            self.drawing.wires += [DrawnWire(net, a, row, b, row) for a, b in pairwise(xs)]
            self.drawing.dots += [(net, x, row) for x in xs[1:-1]]
        for net, x, ys in self.uprights:
            every = sorted([*ys, rows[net]]) if net in rows else ys
            self.drawing.wires += [DrawnWire(net, x, a, x, b) for a, b in pairwise(every)]
            self.drawing.dots += [(net, x, y) for y in every[1:-1]]


def _stacks(figures: list[Figure], height: float) -> list[list[Figure]]:
    """The figures of each column."""
    columns: list[list[Figure]] = []
    high = 0.0
    for one in figures:
        _, up, _, low = one.drawing.box()
        need = max([low, *(tap.y for tap in one.taps)]) - up + GAP
        if not columns or high + need > height:
            columns.append([])
            high = 0.0
        columns[-1].append(one)
        high += need
    return columns


def _tracks(taps: list[Tap], poles: list[str], across: list[str]) -> list[list[str]]:
    """The nets of each upright line, from the left: poles first; others share one where they do not meet.

    That is the left-edge way of channel routing; `across`: nets that go on below.
    """
    spans: dict[str, tuple[float, float]] = {}
    for tap in taps:
        if tap.net not in poles:
            a, b = spans.get(tap.net, (tap.y, tap.y))
            spans[tap.net] = min(a, tap.y), float("inf") if tap.net in across else max(b, tap.y)
    found: list[list[str]] = []
    ends: list[float] = []
    for net in sorted(spans, key=lambda net: spans[net]):
        begin, end = spans[net]
        free = next((n for n, last in enumerate(ends) if last < begin), len(ends))
        if free == len(ends):
            found.append([])
            ends.append(end)
        found[free].append(net)
        ends[free] = end
    return [*([pole] for pole in poles), *found]
