"""Where the volts go: how much of the loss at a place is bus, feeder, rail, joiners, contacts."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from netlister.volts.allowed import Allowed
from netlister.volts.network import spot_of
from netlister.volts.operating import Load, Operating

if TYPE_CHECKING:
    from netlister.volts.drop import Drop, Survey
    from netlister.volts.grounded import Floats
    from netlister.volts.network import RailSpot

CLASSES = ("bus", "feeders", "rail", "joiners", "contacts and blades", "other wires")
"""The parts of the way that are distinguished."""
_OF = {
    "bus": "bus", "feed": "feeders", "rail": "rail", "joiner": "joiners", "contact": "contacts and blades",
    "blade": "contacts and blades", "reverser": "contacts and blades", "unit": "contacts and blades",
}  # fmt: skip


NEAR = 1e-6
"""Places closer than this, in m, are one."""


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

    A current of 1 A drawn there heats every conductor by its share: i² R summed over all is the loop in ohm.
    """
    network = survey.network
    operating = Operating(network, Allowed(network).state({v: min(values) for v, values in drop.when}))
    before = operating.voltages()
    found = [_at(operating, before, left, right) for left, right in _pairs(survey, drop)]
    return min(found, key=lambda one: abs(one.loop - drop.loop))


def _pairs(survey: Survey, drop: Drop) -> list[tuple[RailSpot, RailSpot]]:
    """The pairs of rails that may be under the wheels there; a piece without a length has all of them at one place."""
    piece = survey.layout.pieces[drop.piece]
    (route,) = [r for r in piece.kind.routes if r.name == drop.route]
    _, left, right = survey.network.parts(piece, route)
    near = ([p for p in side if p.start - NEAR <= drop.at <= p.stop + NEAR] or side for side in (left, right))
    lefts, rights = ([spot_of([part], drop.at) for part in side] for side in near)
    return list(product(lefts, rights))


def _at(operating: Operating, before: Floats, left: RailSpot, right: RailSpot) -> Losses:
    """What the loop between two spots consists of."""
    volts = operating.voltages([Load(left, right, 1.0)]) - before
    shares = dict.fromkeys(CLASSES, 0.0)
    buses: dict[str, float] = {}
    for e in operating.network.elements:
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
