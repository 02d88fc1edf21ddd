"""Trains as moving loads: each at its worst place, several at once, and what they ask of the supplies."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.districts import poles_with_track
from netlister.volts.allowed import Allowed
from netlister.volts.operating import Load, Operating
from netlister.volts.ways import both

if TYPE_CHECKING:
    from netlister.circuit.numbers import Var
    from netlister.layout.model import Train, Value
    from netlister.volts.drop import Drop, Survey


class StandingTrain(NamedTuple):
    """A train at a place: what it draws in A, the volts lost on the way, and those left to it, both in V.

    The volts left count the supply's own resistance, those lost do not.
    """

    train: str
    amps: float
    drop: Drop
    lost: float
    left: float


class Budget(NamedTuple):
    """What a supply or a district can give and what is asked of it, in A; `watts`: voltage times trip current, in W.

    `trains`: all that have a current, since each may come onto its track; none where it feeds no track.
    """

    supply: str
    trip: float | None
    trains: float
    left: float | None
    watts: float | None
    feeds_track: bool


def each_alone(survey: Survey) -> list[StandingTrain]:
    """Each train with a current at the place where it is worst off with nothing else on the track."""
    found = []
    for train in survey.layout.trains.values():
        places = [d for d in survey.pieces().values() if d is not None]
        if train.current and places:
            supplies = survey.layout.supplies
            drop = max(places, key=lambda d: (d.loop / (supplies[d.supply].voltage or 1.0), -d.at))
            supply = supplies[drop.supply]
            lost = train.current * drop.loop
            left = supply.voltage - train.current * (drop.loop + supply.resistance)
            found.append(StandingTrain(train.name, train.current, drop, lost, left))
    return found


def together(survey: Survey) -> list[StandingTrain]:
    """All trains at once, each on a piece of its own, in one state; those that draw most at the worst places.

    A bad case, calculated exactly; not proved to be the worst of all.
    """
    trains = sorted(
        (t for t in survey.layout.trains.values() if t.current), key=lambda t: (-(t.current or 0.0), t.name)
    )
    if len(trains) < 2:  # noqa: PLR2004
        return []
    chosen, when = _places(survey, trains)
    state = Allowed(survey.network).state({v: min(values) for v, values in when.items()})
    operating = Operating(survey.network, state, source=True)
    spots = [survey.network.spots(drop.piece, drop.route, drop.at) for _, drop in chosen]
    empty = operating.voltages()
    loads = []
    for (train, _), (left, right) in zip(chosen, spots, strict=True):
        sign = 1 if operating.at(empty, left) >= operating.at(empty, right) else -1
        loads.append(Load(left, right, sign * (train.current or 0.0)))
    known = operating.voltages(loads)
    found = []
    for (train, drop), (left, right) in zip(chosen, spots, strict=True):
        volts = abs(operating.at(known, left, loads) - operating.at(known, right, loads))
        supply = survey.layout.supplies[drop.supply]
        found.append(StandingTrain(train.name, train.current or 0.0, drop, supply.voltage - volts, volts))
    return found


def _places(survey: Survey, trains: list[Train]) -> tuple[list[tuple[Train, Drop]], dict[Var, frozenset[Value]]]:
    """A piece for each train, the worst that is free and whose positions go with those before."""
    supplies = survey.layout.supplies
    left = [d for d in survey.pieces().values() if d is not None]
    left.sort(key=lambda d: (-d.loop / (supplies[d.supply].voltage or 1.0), d.piece))
    allowed = Allowed(survey.network)
    when: dict[Var, frozenset[Value]] = {}
    chosen = []
    for train in trains:
        for drop in left:
            more = both(when, drop.when)
            if more is not None and allowed.complete({v: min(values) for v, values in more.items()}) is not None:
                chosen.append((train, drop))
                left.remove(drop)
                when = more
                break
    return chosen, when


def budgets(survey: Survey) -> list[Budget]:
    """What is asked of each supply."""
    layout = survey.layout
    leading = poles_with_track(survey.circuit)
    poles: dict[str, set[str]] = {name: set() for name in layout.supplies}
    for pole in survey.circuit.poles:
        for name in pole.supplies if not pole.device else ():
            poles[name].add(pole.name)
    fed = {name for name, own in poles.items() if own and own <= leading}
    asked = sum(train.current or 0.0 for train in layout.trains.values())
    found = []
    for supply in layout.supplies.values():
        trains = asked if supply.name in fed else 0.0
        left = None if supply.trip is None else supply.trip - trains
        watts = None if supply.trip is None else supply.trip * supply.voltage
        found.append(Budget(supply.name, supply.trip, trains, left, watts, supply.name in fed))
        for district, (owner, trip) in survey.protection.breakers().items():
            if owner == supply.name:
                feeds = survey.protection.feeds_track(district)
                trains = asked if feeds else 0.0
                found.append(
                    Budget(f"{district} (district)", trip, trains, trip - trains, trip * supply.voltage, feeds)
                )
    return found
