"""The rule `stall`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.layout.stretches import dead_is_assumed
from netlister.layout.terminal import Terminal
from netlister.lengths import HERE, Nanometres, nanometres
from netlister.poles.diagram import NEVER, LimitError
from netlister.poles.reach import UnprovedError
from netlister.quantity import show
from netlister.routes.standing import MOST_WINDOWS, Spot, Standing, Vehicle
from netlister.routes.track import Step, shown_mm
from netlister.rules.model import WHOLE, Breach, Told, Unproved, rule
from netlister.rules.wheels import Wheels
from netlister.union import find, join

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.layout.model import Train
    from netlister.poles.diagram import Function
    from netlister.routes.standing import Stand
    from netlister.rules.analysis import Analysis

DOCUMENT = """A locomotive comes to stand without current.

## What it finds

For each vehicle under `trains` with axles that pick up on both sides: places on set routes where every wheel of one
side that picks up stands on a dead length, on a rail without a pole or of the wrong pole, or on an insulated joint, all
at once. Dead lengths come from `dead` or `nose` of the piece, else from its kind, which only assumes them; the width of
an insulated joint comes from `gap`. A train that `carries-on` stops only where it would have to run that far, or
farther, without current. A piece without current at both ends of the route is left to `dead-track`, unless `expect`
says that it is dead in every state; so are pieces in states in which `expect` says that they are dead. A piece whose
length is not known counts as long and live. Vehicles that are `parked` do not run.

## Why it matters

A locomotive that stops on a frog has to be pushed. How long a dead length may be depends on the wheels, not on the
turnout alone.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  quay: {length: 600 mm}
  mill: {length: 600 mm}
  T1:   {kind: insulated-frog, hand: left, jumpers: true}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: quay}
  - {from: T1.diverging, to: mill}
feeds:
  - {to: line}
trains:
  shunter: {axles: [0 mm, 22 mm]}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  quay: {length: 600 mm}
  mill: {length: 600 mm}
  T1:   {kind: insulated-frog, hand: left, jumpers: true}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: quay}
  - {from: T1.diverging, to: mill}
feeds:
  - {to: line}
trains:
  shunter: {axles: [0 mm, 22 mm, 44 mm]}
```

## How to mend it

Measure the dead length first, and write it as `dead`, or how far past the point it reaches as `nose`. Then let more
wheels pick up, farther apart than the dead length is long; or use a turnout with a metal frog and feed it; or give the
locomotive a store of energy and say how far it `carries-on`.

## When it is meant

`# netlister: allow stall: it is always hauled` on the line of the train, or on that of the piece or joint where it
stops.
"""

SIDES = ("left", "right")
MOST_PLACES = 12
"""Places that continue each other, of which the lengths are added up."""


class Stop(NamedTuple):
    """A locomotive at a stand on one side (0: left, 1: right): the places, and over how many nm at the most."""

    side: int
    stands: tuple[Stand, ...]
    length: Nanometres


class About(NamedTuple):
    """A locomotive and the worst of its stops on one piece or joint."""

    train: Train
    what: str  # "piece" or "joint"
    name: str
    stop: Stop


def locomotives(analysis: Analysis) -> list[Train]:
    """The trains that pick up on both sides and run."""
    return [t for t in analysis.layout.trains.values() if t.axles and t.left and t.right and not t.parked]


def vehicle(train: Train, side: int) -> Vehicle:
    """The wheels of a train that pick up on one side."""
    axles = [nanometres(place) for place in train.axles]
    return Vehicle(axles[-1], tuple(sorted({axles[n - 1] for n in (train.left, train.right)[side]})))


def subjects(analysis: Analysis) -> tuple[str, ...]:
    """The whole layout, where it has locomotives."""
    return WHOLE if locomotives(analysis) else ()


def judge(analysis: Analysis, _: str) -> Iterator[Breach[About] | Unproved]:
    """Every locomotive with every piece or joint where it stops."""
    trains = locomotives(analysis)
    try:
        found = stands(analysis, trains)
        for train in trains:
            stops: dict[tuple[str, str], list[Stop]] = {}
            for stop in _stops(analysis, found[train.name], train):
                for subject, part in _by_subject(stop).items():
                    stops.setdefault(subject, []).append(part)
            for (what, name), listed in stops.items():
                function = analysis.poles.diagrams.any_of([s.function for stop in listed for s in stop.stands])
                worst = max(listed, key=lambda stop: (stop.length, _order(stop)))
                yield Breach("stall", f"{train.name} at {name}", function, About(train, what, name, worst))
    except (LimitError, UnprovedError):
        for train in trains:
            yield Unproved("stall", train.name)


def stands(analysis: Analysis, trains: list[Train]) -> dict[str, list[tuple[int, Stand]]]:
    """Every place where one of some trains stands without current on a side (0: left, 1: right), by train."""
    wheels = Wheels(analysis)
    standing = Standing(analysis.track, wheels.sides, max(nanometres(train.axles[-1]) for train in trains))
    vehicles = [[vehicle(train, side) for train in trains] for side in (0, 1)]
    found: dict[str, list[tuple[int, Stand]]] = {train.name: [] for train in trains}
    for piece in analysis.layout.pieces:
        for lead in analysis.track.steps_of(piece):
            for side in (0, 1):
                for number, stand in standing.find(vehicles[side], side, lead):
                    found[trains[number].name].append((side, stand))
    return found


def _stops(analysis: Analysis, found: list[tuple[int, Stand]], train: Train) -> Iterator[Stop]:
    """The stops of a train: places that continue each other, on one step of track or on the next, are one stop.

    Where the train carries on for a while, only those that it does not run through.
    """
    track, diagrams = analysis.track, analysis.poles.diagrams
    places = _merged(analysis, found)
    begins: dict[tuple[int, Step, Nanometres], list[int]] = {}
    for number, (side, stand) in enumerate(places):
        begins.setdefault((side, stand.lead, stand.start), []).append(number)
    onward: list[list[int]] = []  # per place those where it may go on without current
    for side, stand in places:
        near = list(begins.get((side, stand.lead, stand.stop), ()))
        if stand.stop == track.length(stand.lead):
            near += [n for step in track.after(stand.lead) for n in begins.get((side, step, HERE), ())]
        onward.append([n for n in near if diagrams.both(stand.function, places[n][1].function) != NEVER])
    for members in _groups(onward, list(begins.values())):
        length = _length([stand.stop - stand.start for _, stand in places], onward, members)
        if train.carries_on is None:
            yield Stop(places[members[0]][0], tuple(places[n][1] for n in members), length)
        elif length >= nanometres(train.carries_on):
            held = _held(analysis, [stand for _, stand in places], onward, members, nanometres(train.carries_on))
            if held:
                yield Stop(places[members[0]][0], tuple(held), length)


def _held(
    analysis: Analysis, places: list[Stand], onward: list[list[int]], members: list[int], carries: Nanometres
) -> list[Stand]:
    """The places where a train stops that runs on for so many nm, each in the states in which it does."""
    both, either = analysis.poles.diagrams.both, analysis.poles.diagrams.either
    stuck: dict[int, Function] = {}
    waiting: list[tuple[tuple[int, ...], Nanometres, Function]] = [
        ((n,), places[n].stop - places[n].start, places[n].function) for n in members
    ]
    looked = 0
    while waiting:
        way, length, function = waiting.pop()
        looked += 1
        if looked > MOST_WINDOWS:
            raise LimitError
        if length >= carries:
            for n in way:
                stuck[n] = either(stuck.get(n, NEVER), function)
        for n in onward[way[-1]] if len(way) <= MOST_PLACES else ():
            joint = both(function, places[n].function)
            if joint != NEVER and n not in way:
                waiting.append(((*way, n), length + places[n].stop - places[n].start, joint))
    return [places[n]._replace(function=function) for n, function in stuck.items()]


def _merged(analysis: Analysis, found: list[tuple[int, Stand]]) -> list[tuple[int, Stand]]:
    """Each place once: it is found anew for every way in which the track further away may be set."""
    alike: dict[tuple[int, Step, Nanometres, Nanometres], list[Stand]] = {}
    for side, stand in found:
        alike.setdefault((side, stand.lead, stand.start, stand.stop), []).append(stand)
    any_of = analysis.poles.diagrams.any_of
    return [
        (side, listed[0]._replace(function=any_of([s.function for s in listed])))
        for (side, *_), listed in alike.items()
    ]


def _groups(onward: list[list[int]], together: list[list[int]]) -> Iterable[list[int]]:
    """Places in groups: those that continue each other (`onward`), and those that begin at one spot (`together`)."""
    head = list(range(len(onward)))
    for number, following in enumerate(onward):
        for other in following:
            join(head, number, other)
    for first, *others in together:
        for other in others:
            join(head, first, other)
    groups: dict[int, list[int]] = {}
    for number in range(len(onward)):
        groups.setdefault(find(head, number), []).append(number)
    return groups.values()


def _length(lengths: list[Nanometres], onward: list[list[int]], members: list[int]) -> Nanometres:
    """How far a train runs without current at the most, over places that continue each other."""
    longest = {n: lengths[n] for n in members}
    for _ in range(min(MOST_PLACES, len(members) - 1)):
        longest = {n: lengths[n] + max((longest[m] for m in onward[n]), default=HERE) for n in members}
    return max(longest.values())


def _worst(stop: Stop) -> Stand:
    """The place of a stop that is shown: that with the longest stretch of rail, gaps last."""
    return max(stop.stands, key=lambda stand: max(_weight(s) for s in stand.spots))


def _weight(spot: Spot) -> tuple[bool, Nanometres, str]:
    """The order in which spots under the wheels are worth telling."""
    return (spot.what != "gap", spot.stop - spot.start, spot.name)


def _by_subject(stop: Stop) -> dict[tuple[str, str], Stop]:
    """The parts of a stop by the piece or joint that each is told of.

    That is the piece of the longest stretch under the wheels at each place; where they all stand on insulated joints,
    the piece next to them where the train has no current either, or else a joint.
    """
    parts: dict[tuple[str, str], list[Stand]] = {}
    gaps = []
    for stand in stop.stands:
        spot = max(stand.spots, key=_weight)
        if spot.what == "gap":
            gaps.append(stand)
        else:
            parts.setdefault(("piece", Terminal.of(spot.name).owner), []).append(stand)
    if not parts:
        spot = max((s for stand in stop.stands for s in stand.spots), key=_weight)
        return {("joint", spot.name): stop}
    for stand in gaps:
        near = [subject for subject, listed in parts.items() if any(subject[1] == s.piece for s in stand.steps)]
        parts[(near or list(parts))[0]].append(stand)
    return {subject: stop._replace(stands=tuple(listed)) for subject, listed in parts.items()}


def _order(stop: Stop) -> tuple[str, int, bool, int, int]:
    """Which of equally long stops is told."""
    stand = _worst(stop)
    return (stand.lead.piece, -stand.lead.route, stand.lead.forward, -stop.side, -stand.start)


# -- telling


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say where it stops, on what, for how far, and what would carry it over."""
    about: About = broken.about
    layout = analysis.layout
    stand, side = _worst(about.stop), SIDES[about.stop.side]
    wheels = vehicle(about.train, about.stop.side).wheels
    what = " and ".join(dict.fromkeys(_said(analysis, spot, stand) for spot in stand.spots))
    over = shown_mm(about.stop.length, 3)
    if about.what == "piece":
        where, span = f"on '{about.name}'", layout.pieces[about.name].span
    else:
        where, span = f"at the gap '{about.name}'", next(j.span for j in layout.joints if j.name == about.name)
    guess = [s.piece for s in stand.steps if not analysis.track.measure(s).known and not _plain(analysis, s)]
    doubt = f" (where the rails of '{guess[0]}' meet is not known; equal parts are taken)" if guess else ""
    message = f"'{about.train.name}' stops {where}, running {_running(analysis, about, stand)}: {_whose(wheels, side)}"
    carried = f", and it carries on for {show(about.train.carries_on, 'mm', 3)}" if about.train.carries_on else ""
    return Told(
        Severity.WARNING,
        f"{message} {what}{' together' if len(wheels) > 1 else ''} for {over}{doubt}{carried}",
        _fix(about, stand, wheels, side),
        tuple(sorted({step.piece for step in stand.steps})),
        (),
        (span, about.train.span),
    )


def _whose(wheels: tuple[Nanometres, ...], side: str) -> str:
    """The wheels of one side that pick up, and how far apart they are."""
    if len(wheels) == 1:
        return f"its only {side}-hand pick-up wheel is on"
    apart = shown_mm((wheels[-1] - wheels[0]), 3)
    both = "both" if len(wheels) == 2 else f"all {len(wheels)}"  # noqa: PLR2004
    return f"{both} {side}-hand pick-up wheels, {apart} apart, are on"


def _running(analysis: Analysis, about: About, stand: Stand) -> str:
    """From which end to which it runs over the piece that the stop is told of, else over that of its first pick-up."""
    track = analysis.track
    steps = [s for s in stand.steps if s.piece == about.name] or [stand.lead]
    ends = f"{track.entry(steps[0])[1]} to {track.exit(steps[0])[1]}"
    return ends if steps[0].piece == about.name else f"{steps[0].piece}, {ends}"


def _plain(analysis: Analysis, step: Step) -> bool:
    return analysis.track.piece(step).kind.plain


def _said(analysis: Analysis, spot: Spot, stand: Stand) -> str:
    length = shown_mm((spot.stop - spot.start), 3)
    if spot.what == "dead":
        piece = analysis.piece(spot.name)
        route = next(analysis.track.route(step) for step in stand.steps if step.piece == spot.name)
        if dead_is_assumed(piece, route):
            source = "its length" if piece.length is not None else "its frog number and the gauge"
            return f"the dead frog of '{spot.name}' ({length}, assumed from {source}; measure it)"
        return f"the dead frog of '{spot.name}' ({length})"
    if spot.what == "gap":
        return f"the gap at '{spot.name}'"
    none, _ = analysis.alone(analysis.net(spot.name))
    state = analysis.state_in(stand.function)
    has = "no pole" if analysis.poles.diagrams.value(none, state) else "the wrong pole"
    return f"{spot.name} ({length} with {has})"


def _fix(about: About, stand: Stand, wheels: tuple[Nanometres, ...], side: str) -> str:
    spots = stand.spots
    rails = list(dict.fromkeys(s.name for s in spots if s.what == "rail"))
    if rails:
        return f"give {' and '.join(rails)} the right pole: a contact, a frog unit or a feed"
    apart = shown_mm((wheels[-1] - wheels[0] + about.stop.length), 3)
    if all(s.what == "gap" for s in spots):
        return f"let more {side}-hand wheels pick up, more than {apart} apart"
    return f"let {side}-hand wheels more than {apart} apart pick up, or use a piece with a metal frog and feed it"


RULE = rule("stall", DOCUMENT, subjects, judge, tell)
