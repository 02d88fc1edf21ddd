"""Detectors, breakers and fuses in a wire: what is behind each, as a label on what is fed through it.

In the circuit itself such a part is a piece of wire. Here the same layout is built once more with a pole of its own
behind every one of them, so that what gets its current past one can be found as what joins two poles.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import build, pole_of
from netlister.circuit.numbers import Node
from netlister.layout.model import Link, Supply, Wire
from netlister.layout.schema import PROTECTING
from netlister.layout.terminal import named

if TYPE_CHECKING:
    from collections.abc import Collection

    from netlister.circuit.model import Circuit
    from netlister.circuit.numbers import PoleNumber
    from netlister.layout.model import Component, Layout

_MARK = "\0behind "
"""Before the name of a part in the name of the pole behind it; no name in a file can have it."""


class Behind(NamedTuple):
    """A circuit with a pole behind every part of some kinds.

    `circuit`: that circuit. `poles`: per such pole the part's name. `ahead`: per part the terminal ahead of it.
    """

    circuit: Circuit
    poles: dict[PoleNumber, str]
    ahead: dict[str, str]


def behind(circuit: Circuit, kinds: Collection[str]) -> Behind | None:
    """The circuit with a pole behind every component of these kinds, or None without any of them.

    Variables are those of the layout. A breaker or fuse from pole to pole is that of a district, and is left out.
    """
    layout = circuit.layout
    drawn = drawn_between_poles(layout)
    found = [c for c in layout.components.values() if c.kind in kinds and c not in drawn]
    parts = [c for c in found if c.ends[0] != c.ends[1]]
    if not parts:
        return None
    far = _parts_passed(circuit, {part.name for part in parts})
    supplies, links, ahead = dict(layout.supplies), list(layout.links), {}
    for part in parts:
        near, beyond = _ends(circuit, part, far)
        ahead[part.name] = near
        pole = _MARK + part.name
        supplies[pole] = Supply(pole, "", 0.0, None, 0.0, "B", (named(pole, "A"), named(pole, "B")), "", part.span)
        links.append(Link("", (named(pole, "A"), beyond), Wire("", None, None, None), "", part.span))
    rest = {name: c for name, c in layout.components.items() if c.kind not in kinds}
    made = build(replace(layout, supplies=supplies, links=links, components=rest), circuit.variables)
    poles = {pole_of(made, f"{_MARK}{part.name}.A"): part.name for part in parts}
    return Behind(made, poles, ahead)


def drawn_between_poles(layout: Layout) -> list[Component]:
    """The breakers and fuses that are written from pole to pole, as the drawing of the breaker of a bus."""
    return [c for c in layout.components.values() if c.kind in PROTECTING and all(c.buses)]


def _ends(circuit: Circuit, part: Component, far: list[int]) -> tuple[str, str]:
    """The ends of a part: that towards the supply, then that behind it."""
    one, other = part.ends
    first, second = (-1 if circuit.node[end] < len(circuit.poles) else far[circuit.node[end]] for end in (one, other))
    return (other, one) if second < first else (one, other)


def _parts_passed(circuit: Circuit, parts: set[str]) -> list[int]:
    """Per node through how many of these components the current comes at least, whatever way things stand."""
    near: list[list[tuple[Node, int]]] = [[] for _ in circuit.names]
    for c in circuit.conductors:
        cost = int(c.what == "component" and c.owner in parts)
        near[c.a].append((c.b, cost))
        near[c.b].append((c.a, cost))
    far = [len(parts) + 1] * len(near)
    poles = len(circuit.poles)
    far[:poles] = [0] * poles
    queue = deque(map(Node, range(poles)))
    while queue:
        node = queue.popleft()
        for other, cost in near[node]:
            if far[node] + cost < far[other]:
                far[other] = far[node] + cost
                (queue.append if cost else queue.appendleft)(other)
    return far
