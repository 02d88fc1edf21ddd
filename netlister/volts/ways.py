"""Ways through a region from one of its nets to what is always fed, where its states are too many to go through."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple, Protocol

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.model import When
    from netlister.circuit.numbers import Var
    from netlister.layout.model import Value
    from netlister.volts.network import Element

SHORT = 1e-8
"""Ohms in place of none in a contact: so few that nothing printed differs from a resistance of zero."""

MOST = 2000
"""No more ways than this are looked at."""


class LoopWay(NamedTuple):
    """A way to a place that is always fed: that place, the resistance up to it in ohm, and what positions it needs."""

    end: int
    ohm: float
    when: dict[Var, frozenset[Value]]


class SolvedNetwork(Protocol):
    """What is asked of a network that is solved where it always conducts."""

    def ohm(self, element: Element) -> float:
        """The resistance of what conducts."""

    def fed(self, node: int) -> bool:
        """Whether a node is a pole or always fed."""


def ways(solver: SolvedNetwork, elements: Iterable[Element], start: int) -> Iterator[LoopWay]:
    """Every way over the elements of a region from a node of it to a place always fed.

    It visits no place twice and contradicts nothing.
    """
    conductance: dict[tuple[int, int, When], float] = defaultdict(float)  # side by side at the same time: as one
    for e in elements:
        conductance[min(e.a, e.b), max(e.a, e.b), e.when] += 1 / max(solver.ohm(e), SHORT)
    around: dict[int, list[tuple[int, float, When]]] = defaultdict(list)
    for (a, b, when_), g in conductance.items():
        around[a].append((b, 1 / g, when_))
        around[b].append((a, 1 / g, when_))
    stack: list[tuple[int, float, dict[Var, frozenset[Value]], frozenset[int]]] = [(start, 0.0, {}, frozenset([start]))]
    found = 0
    while stack and found < MOST:
        node, ohm, when, seen = stack.pop()
        if node != start and solver.fed(node):
            found += 1
            yield LoopWay(node, ohm, when)
            continue
        for other, more, condition in around[node]:
            if other not in seen:
                needed = combined(when, condition)
                if needed is not None:
                    stack.append((other, ohm + more, needed, seen | {other}))


def combined(when: dict[Var, frozenset[Value]], more: When) -> dict[Var, frozenset[Value]] | None:
    """Two conditions together, or None where they contradict each other."""
    found = dict(when)
    for variable, values in more:
        left = found[variable] & frozenset(values) if variable in found else frozenset(values)
        if not left:
            return None
        found[variable] = left
    return found
