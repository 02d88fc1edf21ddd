"""The plan on the page: the drawing of the layout as part of it, and its rails in other positions of their piece."""

from __future__ import annotations

import re
from itertools import product
from typing import TYPE_CHECKING

from netlister.draw.placing import GAUGE
from netlister.draw.plan import plan_svg
from netlister.draw.rails import runs
from netlister.draw.style import path

if TYPE_CHECKING:
    from collections.abc import Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.draw.placing import Placed

MOST_STATES = 64
"""Positions of one piece up to which its rails are drawn in all of them; a table with more stays as it opened."""

LINE = 20
"""Height of a line of the drawing's heading."""

Moved = dict[str, dict[str, list[tuple[str, str]]]]
"""Per piece, per values of what moves it ("0", "1 0"), its rails in order: name (empty: plastic) and path."""


def plan_part(circuit: Circuit, state: State, poles: Mapping[str, list[str]]) -> str:
    """The drawing without what the page says itself: its heading, its own style, the state in words."""
    svg = plan_svg(circuit, state, dict(poles))
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
    found: Moved = {}
    for name, one in placed.items():
        variables = list(dict.fromkeys(circuit.variable[circuit.layout.bars[bar].variable] for bar in one.piece.bars))
        counts = [len(circuit.variables[v].positions) for v in variables]
        ways = list(product(*map(range, counts))) if variables else []
        if not ways or len(ways) > MOST_STATES:
            continue
        found[name] = {}
        for values in ways:
            there = list(state)
            for variable, value in zip(variables, values, strict=True):
                there[variable] = value
            listed = [(run.rail or "", path(run.line)) for run in runs(circuit, one, tuple(there), GAUGE)]
            found[name][" ".join(map(str, values))] = listed
    return found
