"""States that `never` does not rule out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from netlister.circuit.numbers import Var
from netlister.layout.model import Value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from netlister.circuit.model import State
    from netlister.volts.grounded import Ints
    from netlister.volts.network import Network


class Allowed:
    """States that `never` does not rule out."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.cubes = [dict(cube) for cube in network.circuit.never]

    def among(self, variables: Sequence[int], states: Ints) -> Ints:
        """Those of some states that can be completed to one that is not ruled out."""
        if not self.cubes:
            return states
        kept = [s for s in states.tolist() if self.complete(dict(zip(map(Var, variables), s, strict=True))) is not None]
        return np.array(kept, np.int64).reshape(len(kept), len(variables))

    def complete(self, chosen: dict[Var, Value]) -> dict[Var, Value] | None:
        """Values for more variables, so that nothing is ruled out; None where that cannot be."""
        for cube in self.cubes:
            if all(chosen.get(v, value) == value for v, value in cube.items()):
                open_ = [v for v in cube if v not in chosen]
                for v in open_:
                    for value in map(Value, range(self.network.variables[v])):
                        found = self.complete({**chosen, v: value}) if value != cube[v] else None
                        if found is not None:
                            return found
                return None
        return chosen

    def state(self, chosen: dict[Var, Value]) -> State:
        """A state with some values that is not ruled out; the rest at their first, as all are where there is none."""
        found = self.complete(chosen) or {}
        return tuple(found.get(v, Value(0)) for v in map(Var, range(len(self.network.variables))))
