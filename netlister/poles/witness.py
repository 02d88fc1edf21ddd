"""A state in which poles meet, looked for where it cannot be proved when they do: finding none says nothing."""

from __future__ import annotations

from collections import deque
from random import Random
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from netlister.circuit.numbers import Net, PoleNumber
from netlister.poles.diagram import NEVER, LimitError

if TYPE_CHECKING:
    from netlister.circuit.model import Conductor
    from netlister.circuit.numbers import Var
    from netlister.layout.model import Value
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Poles, Region

WORK = 400_000
"""How many conductors are looked at on behalf of one region."""

TRIES = 100
"""How many times paths are looked for, each in another order."""


class Witness(NamedTuple):
    """Two poles that meet while some positions hold: these as a function."""

    poles: tuple[PoleNumber, PoleNumber]
    function: Function


def short_in(poles: Poles, region: Region) -> Witness | None:
    """Positions in which some path through a region joins two poles, or None where none was found.

    Paths are walked breadth first from each hub, each with the positions that it needs; of those that come to a net the
    first is followed. Which one that is depends on an order that is drawn anew for each try, alike on every machine.
    """
    near: dict[Net, list[tuple[Net, Conductor]]] = {net: [] for net in region.nets}
    for a, b, conductor in region.inner:
        near[a].append((b, conductor))
        near[b].append((a, conductor))
    for net, hub, conductor in region.outer:
        near[net].append((hub, conductor))
        near.setdefault(hub, []).append((net, conductor))
    hubs = [hub for hub in near if poles.nets.fed[hub]]
    masks = {poles.nets.fed[hub] for hub in hubs}
    if len(masks) < 2:  # noqa: PLR2004 - all have the same pole
        return None
    rng = Random(0)  # noqa: S311
    left = WORK
    for _ in range(TRIES):
        for hub in hubs:
            found, looked = _walk(poles, near, hub)
            left -= looked
            if found is not None:
                return found
            if left < 0:
                return None
        rng.shuffle(hubs)
        for beside in near.values():
            rng.shuffle(beside)
    return None


Held: TypeAlias = "dict[Var, tuple[Value, ...]]"
"""Per variable the values that it may still have."""


def _walk(poles: Poles, near: dict[Net, list[tuple[Net, Conductor]]], start: Net) -> tuple[Witness | None, int]:
    """A path from a hub to one of another pole, and how many conductors were looked at."""
    fed = poles.nets.fed
    held: dict[Net, Held] = {start: {}}
    queue = deque([start])
    looked = 0
    while queue:
        here = queue.popleft()
        for there, conductor in near[here]:
            looked += 1
            if there in held and not fed[there]:
                continue
            needed = _with(held[here], conductor)
            if needed is None:
                continue
            if fed[there]:
                if fed[there] != fed[start]:
                    witness = _witness(poles, start, there, needed)
                    if witness is not None:
                        return witness, looked
                continue
            held[there] = needed
            queue.append(there)
    return None, looked


def _with(held: Held, conductor: Conductor) -> Held | None:
    """The positions that are left while a conductor conducts, too; None where there are none."""
    found = dict(held)
    for variable, values in conductor.when:
        both = tuple(v for v in found.get(variable, values) if v in values)
        if not both:
            return None
        found[variable] = both
    return found


def _witness(poles: Poles, start: Net, there: Net, needed: Held) -> Witness | None:
    masks = poles.nets.fed[start], poles.nets.fed[there]
    p, q = (
        PoleNumber(Net((mask & -mask).bit_length() - 1))
        for mask in (masks[0] & ~masks[1] or masks[0], masks[1] & ~masks[0] or masks[1])
    )
    if p == q:
        return None  # pragma: no cover - unlike masks differ in a pole
    poles.diagrams.begin()
    try:
        function = poles.diagrams.condition(sorted(needed.items()))
        if function == NEVER or not poles.possible(function):
            return None
    except LimitError:
        return None
    return Witness((min(p, q), max(p, q)), function)
