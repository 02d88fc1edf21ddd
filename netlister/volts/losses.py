"""Where the volts go: how much of the loss at a place is bus, feeder, rail, joiners, contacts."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from netlister.volts.allowed import Allowed
from netlister.volts.operating import Load, Operating

if TYPE_CHECKING:
    from netlister.volts.drop import Drop, Survey

CLASSES = ("bus", "feeders", "rail", "joiners", "contacts and blades", "other wires")
"""What is told apart."""
_OF = {
    "bus": "bus", "feed": "feeders", "rail": "rail", "joiner": "joiners", "contact": "contacts and blades",
    "blade": "contacts and blades", "reverser": "contacts and blades", "unit": "contacts and blades",
}  # fmt: skip


class Losses(NamedTuple):
    """The loop resistance of a place in ohm, by what it is of; `buses`: that of each bus alone, the greatest first."""

    shares: dict[str, float]
    buses: dict[str, float]

    @property
    def loop(self) -> float:
        """All of it, in ohm."""
        return sum(self.shares.values())


def losses(survey: Survey, drop: Drop) -> Losses:
    """What the loop at the worst place of a piece consists of.

    A current of 1 A drawn there heats every conductor by its share of the loop: i² R summed over all is the loop in ohm.
    """
    network = survey.network
    state = Allowed(network).complete({v: min(values) for v, values in drop.when}) or {}
    operating = Operating(network, tuple(state.get(v, 0) for v in range(len(network.variables))))
    left, right = network.spots(drop.piece, drop.route, drop.at)
    volts = operating.voltages([Load(left, right, 1.0)]) - operating.voltages()
    shares = dict.fromkeys(CLASSES, 0.0)
    buses: dict[str, float] = {}
    for e in network.elements:
        across = float(volts[e.a] - volts[e.b])
        if not e.ohm.high or np.isnan(across) or not operating.closed(e.when):
            continue
        watts = across * across / e.ohm.high
        shares[_OF.get(e.what, "other wires")] += watts
        if e.what == "bus":
            buses[e.owner] = buses.get(e.owner, 0.0) + watts
    for spot in (left, right):
        shares["rail"] += spot.share * (1 - spot.share) * spot.ohm.high
    return Losses(shares, dict(sorted(buses.items(), key=lambda item: (-item[1], item[0]))))
