"""Loop resistances along routes: what is known of each, and the arithmetic of bits of rail."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from netlister.circuit.numbers import Var
from netlister.layout.model import Value
from netlister.lengths import Metres

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from netlister.circuit.model import When
    from netlister.volts.grounded import Floats, Ints
    from netlister.volts.network import Network, RailBit

CLOSE = 1e-9
"""Loops that differ by less than this share of themselves are the same."""


Coefficients = tuple["Floats", "Floats", "Floats"]


class Case(NamedTuple):
    """A loop resistance in ohm at a place in m along a route, while `when` holds. `supply`: whose poles it is."""

    loop: float
    at: Metres
    when: When
    supply: str


class LoopTable(NamedTuple):
    """Loops by state: `states` (count, variables), `loop` in ohm (not a number: no voltage), `at` in m, `supply`."""

    variables: tuple[int, ...]
    states: Ints
    loop: Floats
    at: Floats
    supply: list[str]


@dataclass(slots=True)
class Profile:
    """The loop resistances of a route through a piece: the worst place in each of its states.

    `length`: of the route in m. `exact`: false where the loops are no less than the true ones, and may be more.
    They are in `table`, or where there is none in `cases`.
    """

    piece: str
    route: str
    length: Metres
    cases: list[Case]
    exact: bool = True
    table: LoopTable | None = None

    def worst(self) -> Case | None:
        """The greatest loop; of several the one nearest to the start. None where no state has voltage."""
        if self.table is not None:
            return self._worst_row(self.table)
        if not self.cases:
            return None
        most = max(c.loop for c in self.cases)
        return min((c for c in self.cases if c.loop >= most * (1 - CLOSE)), key=lambda c: (c.at, len(c.when), c.when))

    @staticmethod
    def _worst_row(table: LoopTable) -> Case | None:
        if np.isnan(table.loop).all():
            return None
        most = float(np.nanmax(table.loop))
        same = np.flatnonzero(table.loop >= most * (1 - CLOSE))
        first = int(same[np.argmin(table.at[same])])
        when = primes(table.states, same[:1] * 0 + first, table.variables, same)[0]
        return Case(float(table.loop[first]), Metres(table.at[first]), when, table.supply[first])

    def beyond(self, limits: Mapping[str, float]) -> list[When]:
        """Partial positions that cover the states whose loop is above the limit in ohm of its supply."""
        if self.table is None:
            return [c.when for c in self.cases if c.loop > limits.get(c.supply, np.inf)]
        most = np.array([limits.get(name, np.inf) for name in self.table.supply])
        rows = np.flatnonzero(np.nan_to_num(self.table.loop, nan=0.0) > most)
        return primes(self.table.states, rows, self.table.variables, rows)


def primes(states: Ints, rows: Ints, variables: Sequence[int], same: Ints) -> list[When]:
    """Partial positions that cover some rows of the states, and besides only rows of `same`; not always the fewest."""
    left = set(rows.tolist())
    inside = np.zeros(len(states), bool)
    inside[same] = True
    found: list[When] = []
    for row in rows.tolist():
        if row not in left:
            continue
        kept = list(range(len(variables)))
        for column in range(len(variables)):
            fewer = [c for c in kept if c != column]
            matching = (states[:, fewer] == states[row, fewer]).all(axis=1)
            if inside[matching].all():
                kept = fewer
        matching = (states[:, kept] == states[row, kept]).all(axis=1)
        left -= set(np.flatnonzero(matching).tolist())
        found.append(tuple((Var(variables[c]), (Value(int(states[row, c])),)) for c in kept))
    return found


class Bit(NamedTuple):
    """A bit of route with one part of rail on each side."""

    start: Metres
    stop: Metres
    left: RailBit
    right: RailBit


def route_bits(left: list[RailBit], right: list[RailBit]) -> Iterator[Bit]:
    """The bits of a route; a part without length is set against everything at its place."""
    for one in left:
        for two in right:
            start, stop = max(one.start, two.start), min(one.stop, two.stop)
            if start < stop or (start == stop and (one.start == one.stop or two.start == two.stop)):
                yield Bit(start, stop, one, two)


def bit_shares(part: RailBit, start: float, stop: float) -> tuple[float, float]:
    """The shares of a part at which a bit of it begins and ends."""
    if part.stop == part.start:
        return part.first, part.last
    slope = (part.last - part.first) / (part.stop - part.start)
    return part.first + slope * (start - part.start), part.first + slope * (stop - part.start)


def quadratic(seen: tuple[Floats, Floats, Floats], ohm: Floats, bit_shares: tuple[Floats, Floats]) -> Coefficients:
    """The resistance along a bit of rail, as coefficients of 1, t, t² for t from 0 to 1.

    `seen`: the entries of the inverse at its ends i and j: ii, ij, jj. `shares`: where on the way from i to j it lies.
    """
    (ii, ij, jj), (first, last) = seen, bit_shares
    c1 = 2 * (ij - ii) + ohm
    c2 = ii - 2 * ij + jj - ohm
    way = last - first
    return ii + first * (c1 + first * c2), way * (c1 + 2 * first * c2), way * way * c2


def peak(c0: Floats, c1: Floats, c2: Floats) -> tuple[Floats, Floats]:
    """The greatest value of a quadratic between 0 and 1, and where it is."""
    bends = c2 < 0
    t = np.clip(np.where(bends, -c1 / np.where(bends, 2 * c2, 1), 0), 0, 1)
    t = np.where(bends, t, np.where(c1 + c2 > 0, 1.0, 0.0))
    t = np.where(t < CLOSE, 0.0, np.where(t > 1 - CLOSE, 1.0, t))
    return c0 + t * (c1 + t * c2), t


class Supplies:
    """Which supply two rails belong to, from the bits of their poles."""

    def __init__(self, network: Network) -> None:
        self.names: dict[tuple[int, int], str] = {}
        layout = network.layout
        index = {name: n for n, name in enumerate(network.names[: network.earths])}
        for supply in layout.supplies.values():
            a, b = (1 << index[pole] for pole in supply.poles)
            self.names.setdefault((a, b), supply.name)
            self.names.setdefault((b, a), supply.name)

    def of(self, left: int, right: int) -> str:
        """The supply, or nothing where the two have no voltage."""
        return self.names.get((left, right), "")
