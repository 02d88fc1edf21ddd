"""Block detectors: what is behind each, as a label on what is fed through it.

In the circuit itself a detector is a piece of wire. Here the same layout is built once more with a pole of its own
behind every detector, so that what gets its current past a detector can be found as what joins two poles.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import build, pole_of
from netlister.circuit.numbers import Node
from netlister.layout.model import Link, Supply, Wire
from netlister.layout.terminal import named

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit
    from netlister.circuit.numbers import PoleNumber
    from netlister.layout.model import Component

_MARK = "\0behind "
"""Before the name of a detector in the name of the pole behind it; no name in a file can have it."""


class Behind(NamedTuple):
    """A circuit with a pole behind every detector.

    `circuit`: that circuit. `poles`: per such pole the detector's name. `ahead`: per detector the terminal ahead of it.
    """

    circuit: Circuit
    poles: dict[PoleNumber, str]
    ahead: dict[str, str]


def by_detectors(circuit: Circuit) -> Behind | None:
    """The circuit with a pole behind every detector, or None without detectors. Variables are those of the layout."""
    layout = circuit.layout
    detectors = [c for c in layout.components.values() if c.kind == "detector"]
    if not detectors:
        return None
    far = _detectors_passed(circuit, {d.name for d in detectors})
    supplies, links, ahead = dict(layout.supplies), list(layout.links), {}
    for detector in detectors:
        near, behind = _ends(circuit, detector, far)
        ahead[detector.name] = near
        pole = _MARK + detector.name
        supplies[pole] = Supply(pole, "", 0.0, None, 0.0, "B", (named(pole, "A"), named(pole, "B")), "", detector.span)
        links.append(Link("", (named(pole, "A"), behind), Wire("", None, None, None), "", detector.span))
    rest = {name: c for name, c in layout.components.items() if c.kind != "detector"}
    made = build(replace(layout, supplies=supplies, links=links, components=rest), circuit.variables)
    poles = {pole_of(made, f"{_MARK}{d.name}.A"): d.name for d in detectors}
    return Behind(made, poles, ahead)


def _ends(circuit: Circuit, detector: Component, far: list[int]) -> tuple[str, str]:
    """The ends of a detector: that towards the supply, then that behind it."""
    one, other = detector.ends
    first, second = (-1 if circuit.node[end] < len(circuit.poles) else far[circuit.node[end]] for end in (one, other))
    return (other, one) if second < first else (one, other)


def _detectors_passed(circuit: Circuit, detectors: set[str]) -> list[int]:
    """Per node through how many detectors the current comes at least, whatever way things stand."""
    near: list[list[tuple[Node, int]]] = [[] for _ in circuit.names]
    for c in circuit.conductors:
        cost = int(c.what == "component" and c.owner in detectors)
        near[c.a].append((c.b, cost))
        near[c.b].append((c.a, cost))
    far = [len(detectors) + 1] * len(near)
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
