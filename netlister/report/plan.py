"""The plan on the page: the drawing of the layout as part of it, and its rails in other positions of their piece."""

from __future__ import annotations

import re
from itertools import pairwise, product
from math import hypot
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.placing import GAUGE
from netlister.draw.plan import plan_svg
from netlister.draw.rails import runs
from netlister.layout.model import Value

if TYPE_CHECKING:
    from collections.abc import Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.draw.lines import Line
    from netlister.draw.placing import Placed
    from netlister.draw.plan import Drawing

MOST_STATES = 64
"""Positions of one piece up to which its rails are drawn in all of them; a table with more stays as it opened."""

LINE = 20
"""Height of a line of the drawing's heading."""

FINE = 0.08
"""By how much a line on the page may leave that of the drawing, in its units."""


class Moved(NamedTuple):
    """The rails of pieces that move.

    `pieces`: per piece, per values of what moves it ("0", "1 0"), its rails in order: name (empty: plastic), the place
    where its line begins in tenths, the number of its line. `lines`: each the rest of a path, told once.
    """

    pieces: dict[str, dict[str, list[tuple[str, int, int, int]]]]
    lines: list[str]


def plan_part(circuit: Circuit, state: State, poles: Mapping[str, list[str]], drawing: Drawing) -> str:
    """The drawing without what the page says itself: its heading, legend and style, the state in words."""
    svg = plan_svg(circuit, state, dict(poles), drawing)
    svg = re.sub(r'(<path class="rail [^>]*)><title>[^<]*</title></path>', r"\1/>", svg)
    svg = re.sub(r'(<text class="letter [^>]*) font-size="[^"]*"', r"\1", svg)
    svg = re.sub(r"<title>[^<:]*: metal joiners</title>\n", "", svg)
    svg = _merged(svg)
    svg = re.sub(r' d="M([-\d. LM]+)"', lambda m: f' d="{_shorter(m[1])}"', svg)
    svg = re.sub(r"<style>.*?</style>\n?|<desc>.*?</desc>\n?", "", svg, count=2, flags=re.DOTALL)
    svg, heads = re.subn(r'<text class="head"[^>]*>.*?</text>\n?', "", svg)
    found = re.search(r'viewBox="(\S+) (\S+) (\S+) (\S+)" width="\S+" height="\S+"', svg)
    assert found is not None
    left, top, across, tall = map(float, found.groups())
    cut = LINE * heads
    box = f'viewBox="{left:g} {top + cut:g} {across:g} {tall - cut:g}" width="{across:g}" height="{tall - cut:g}"'
    return svg.replace(found[0], box, 1)


def moved(circuit: Circuit, state: State, placed: Mapping[str, Placed]) -> Moved:
    """The rails of every piece that moves, in each of its positions."""
    found: dict[str, dict[str, list[tuple[str, int, int, int]]]] = {}
    lines: dict[str, int] = {}
    for name, one in placed.items():
        variables = list(dict.fromkeys(circuit.variable[circuit.layout.bars[bar].variable] for bar in one.piece.bars))
        counts = [len(circuit.variables[v].positions) for v in variables]
        ways = list(product(*(map(Value, range(count)) for count in counts))) if variables else []
        if not ways or len(ways) > MOST_STATES:
            continue
        found[name] = {}
        for values in ways:
            there = list(state)
            for variable, value in zip(variables, values, strict=True):
                there[variable] = value
            rows = []
            for run in runs(circuit, one, tuple(there), GAUGE):
                (x, y), rest = _from_start([(x, -y) for x, y in run.line])
                rows.append((run.rail or "", x, y, lines.setdefault(rest, len(lines))))
            found[name][" ".join(map(str, values))] = rows
    return Moved(found, list(lines))


def _merged(svg: str) -> str:
    """Neighbours of one class, each a path by itself, as one path."""
    again = r'(<path class="(bar|cut)" d="[^"]*)"/>\n<path class="\2" d="'
    cut, bars = r'(<path class="cut"[^>]*/>)', r'((?:\n<path class="bar"[^>]*/>)+)'
    svg = re.sub(rf"{cut}{bars}\n{cut}", r"\1\n\3\2", svg)
    while True:
        svg, count = re.subn(again, r"\1", svg)
        if not count:
            return svg


def _shorter(text: str) -> str:
    """A path of straight steps by relative steps, and no more points than it takes."""
    found = []
    for part in text.split("M"):
        line = [(float(x), float(y)) for x, _, y in (step.partition(" ") for step in part.split("L"))]
        (x, y), rest = _from_start(line)
        found.append(f"M{_tenths(x)} {_tenths(y)}{rest}")
    return "".join(found)


def _from_start(line: Line) -> tuple[tuple[int, int], str]:
    """Where a line begins, in tenths, and the rest of it as relative steps."""
    x0, y0 = line[0]
    kept = [(round((x - x0) * 10), round((y - y0) * 10)) for x, y in _simplified(line)]
    steps = [f"{_tenths(bx - ax)} {_tenths(by - ay)}" for (ax, ay), (bx, by) in pairwise(kept)]
    return (round(x0 * 10), round(y0 * 10)), "l" + " ".join(steps).replace(" -", "-") if steps else ""


def _tenths(value: int) -> str:
    whole, part = divmod(abs(value), 10)
    text = f"{whole or (0 if not part else '')}{f'.{part}' if part else ''}"
    return f"-{text}" if value < 0 else text


def _simplified(line: Line) -> Line:
    """A line with no more points than keep it within `FINE` of what it was (Ramer, Douglas, Peucker)."""
    keep, spans = {0, len(line) - 1}, [(0, len(line) - 1)]
    while spans:
        a, b = spans.pop()
        (ax, ay), (bx, by) = line[a], line[b]
        far = hypot(bx - ax, by - ay) or 1.0
        best, least = FINE, -1
        for k in range(a + 1, b):
            x, y = line[k]
            off = abs((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / far
            if off > best:
                best, least = off, k
        if least >= 0:
            keep.add(least)
            spans += [(a, least), (least, b)]
    return [line[k] for k in sorted(keep)]
