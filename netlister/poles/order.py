"""The order of variables in the diagrams: those that meet at a rail stand close together."""

from __future__ import annotations

from collections import defaultdict, deque
from typing import TYPE_CHECKING

from netlister.circuit.numbers import Var

if TYPE_CHECKING:
    from netlister.circuit.numbers import Net
    from netlister.poles.nets import Edge, Nets

FEW = 8
"""Groups of so few variables are left in the order of the layout: any order will do."""


def variable_order(nets: Nets, edges: list[Edge], count: int) -> list[Var]:
    """The variables from the top of the diagrams down.

    Variables are neighbours where contacts of theirs meet at a net that is not always fed. Each connected group is
    walked breadth first from one of its far ends (as E. Cuthill and J. McKee do for sparse matrices, 1969), which
    for a yard takes the ladders at both ends in step.
    """
    at_net: dict[Net, list[Var]] = defaultdict(list)
    for a, b, conductor in edges:
        for variable, _ in conductor.when:
            for net in (a, b):
                if not nets.fed[net] and variable not in at_net[net]:
                    at_net[net].append(variable)
    near: dict[Var, set[Var]] = defaultdict(set)
    for variables in at_net.values():
        if len(variables) > 1:
            for variable in variables:
                near[variable].update(variables)
    order: list[Var] = []
    seen: set[Var] = set()
    for variable in map(Var, range(count)):
        if variable in seen:
            continue
        group = _walk(near, variable)
        if len(group) > FEW:
            group = _walk(near, _walk(near, group[-1])[-1])
        else:
            group.sort()
        seen.update(group)
        order += group
    return order


def _walk(near: dict[Var, set[Var]], start: Var) -> list[Var]:
    """Breadth first from `start`, neighbours of few neighbours first."""
    seen = {start}
    order = [start]
    queue = deque(order)
    while queue:
        here = queue.popleft()
        for other in sorted(near.get(here, ()), key=lambda v: (len(near[v]), v)):
            if other not in seen:
                seen.add(other)
                order.append(other)
                queue.append(other)
    return order
