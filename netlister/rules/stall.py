"""The rule `stall`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS, NEVER, LimitError
from netlister.poles.reach import UnprovedError
from netlister.quantity import show
from netlister.routes.standing import Spot, Standing, Vehicle, turned, without_gaps
from netlister.routes.track import NM, Step, nanometres
from netlister.rules.electric import lacking
from netlister.rules.model import Broken, Rule, Told

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Piece, Train
    from netlister.routes.standing import Sides, Stand
    from netlister.routes.track import Lying, Track
    from netlister.rules.model import Analysis

DOCUMENT = """A locomotive comes to stand without current.

## What it finds

For each vehicle under `trains` with axles that pick up on both sides: places on set routes where every wheel of one side
that picks up stands on a dead length, on a rail without a pole or of the wrong pole, or on an insulated joint, all at
once. Dead lengths come from the kind of the piece, the width of an insulated joint from `gap`. Plain track without
current is left to `dead-track`, unless `expect` says that it is dead in every state; so are pieces in states in which
`expect` says that they are dead. A piece whose length is not known counts as long and live. Vehicles that are `parked`
do not run.

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

Let more wheels pick up, farther apart than the dead length is long; or use a turnout with a metal frog and feed it.

## When it is meant

`# netlister: allow stall: it is always hauled` on the line of the train, or on that of the piece or joint where it
stops.
"""

SIDES = ("left", "right")


class Place(NamedTuple):
    """One stop: on which side, and where."""

    side: int
    stand: Stand
    length: int  # nm over which it has no current


class About(NamedTuple):
    """A locomotive and the worst of its stops on one piece or joint."""

    train: Train
    what: str  # "piece" or "joint"
    name: str
    place: Place


def locomotives(analysis: Analysis) -> list[Train]:
    """The trains that pick up on both sides and run."""
    return [t for t in analysis.layout.trains.values() if t.axles and t.left and t.right and not t.parked]


def vehicle(train: Train, side: int) -> Vehicle:
    """The wheels of a train that pick up on one side."""
    axles = [nanometres(place) for place in train.axles]
    return Vehicle(axles[-1], tuple(sorted({axles[n - 1] for n in (train.left, train.right)[side]})))


def find(analysis: Analysis) -> Iterator[Broken]:
    """Every locomotive with every piece or joint where it stops."""
    trains = locomotives(analysis)
    if not trains:
        return
    wheels = Wheels(analysis)
    reach = max(nanometres(train.axles[-1]) for train in trains)
    standing = Standing(analysis.track, wheels.sides, reach)
    for train in trains:
        analysis.poles.diagrams.begin()
        stops: dict[tuple[str, str], list[Place]] = {}
        try:
            for side, stand in stands(analysis, standing, train):
                stops.setdefault(_subject(stand), []).append(Place(side, stand, stand.stop - stand.start))
        except (LimitError, UnprovedError):
            analysis.unproved.append(("stall", train.name))
            continue
        for (what, name), places in stops.items():
            function = analysis.poles.diagrams.any_of([p.stand.function for p in places])
            worst = max((_whole(analysis, p, places) for p in places), key=lambda p: (p.length, _order(p)))
            yield Broken("stall", f"{train.name} at {name}", function, About(train, what, name, worst))


def stands(analysis: Analysis, standing: Standing, train: Train) -> Iterator[tuple[int, Stand]]:
    """Every place where a locomotive stands without current on a side (0: left, 1: right)."""
    vehicles = [vehicle(train, side) for side in (0, 1)]
    for piece in analysis.layout.pieces:
        for lead in analysis.track.steps_of(piece):
            for side in (0, 1):
                for stand in standing.find(vehicles[side], side, lead):
                    yield side, stand


def _subject(stand: Stand) -> tuple[str, str]:
    """The piece or joint that a stop is told of: that of the longest stretch under the wheels, gaps last."""
    spot = max(stand.spots, key=lambda s: (s.what != "gap", s.stop - s.start, s.name))
    return ("joint", spot.name) if spot.what == "gap" else ("piece", spot.name.split(".")[0])


def _order(place: Place) -> tuple[str, int, bool, int, int]:
    lead = place.stand.lead
    return (lead.piece, -lead.route, lead.forward, -place.side, -place.stand.start)


def _whole(analysis: Analysis, place: Place, places: list[Place]) -> Place:
    """A stop with the length of those that continue it: further on its step, and on the next one."""
    diagrams = analysis.poles.diagrams
    track = analysis.track
    length, stand, function = place.length, place.stand, place.stand.function
    lead, end = stand.lead, stand.stop
    while True:
        for other in places:
            there = other.stand
            here = there.lead == lead and there.start == end
            onward = end == track.length(lead) and there.start == 0 and there.lead in track.after(lead)
            if other.side == place.side and (here or onward) and diagrams.both(function, there.function) != NEVER:
                function = diagrams.both(function, there.function)
                lead, end = there.lead, there.stop
                length += there.stop - there.start
                break
        else:
            return place._replace(length=length)
        if length > NM:
            return place._replace(length=length)


# -- what lies under the wheels


class Wheels:
    """What gives a wheel nothing, along the steps of a layout."""

    def __init__(self, analysis: Analysis) -> None:
        self.analysis = analysis
        self.track: Track = analysis.track
        self._sides: dict[tuple[str, int], Sides] = {}
        self._turned: dict[tuple[str, int], Sides] = {}
        self._lacking: dict[tuple[int, int | None], int] = {}

    def sides(self, step: Step) -> Sides:
        """The stretches under the left and the right wheels of a step that give nothing."""
        key = (step.piece, step.route)
        found = self._sides.get(key)
        if found is None:
            found = self._sides[key] = self._ahead(Step(step.piece, step.route, forward=True))
            self._turned[key] = turned(found, self.track.length(step))
        return found if step.forward else self._turned[key]

    def _ahead(self, step: Step) -> Sides:
        track = self.track
        piece = track.piece(step)
        measured = track.measure(step)
        if not measured.stated:
            return (), ()
        rails = self._rails(piece, measured.left, measured.right), self._rails(piece, measured.right, measured.left)
        left, right = (
            without_gaps(rails[side], self._gaps(step, measured.length, side)) if any(cuts) else rails[side]
            for side, cuts in enumerate(zip(*self._cuts(step), strict=True))
        )
        return left, right

    def _cuts(self, step: Step) -> tuple[tuple[bool, bool], tuple[bool, bool]]:
        insulated = self.track.insulated
        return tuple(insulated.get(end, (False, False)) for end in (self.track.entry(step), self.track.exit(step)))  # type: ignore[return-value]

    def _gaps(self, step: Step, length: int, side: int) -> list[Spot]:
        """The halves of insulated joints that lie in a piece; where they would overlap the first goes before."""
        track = self.track
        half = track.gap // 2
        entry, leave = self._cuts(step)
        found: list[Spot] = []
        if entry[side] and half:
            joint = track.settings.beyond[track.entry(step)].joint.name
            found.append(Spot(0, min(half, length), ALWAYS, "gap", joint))
        if leave[side] and half:
            start = max(found[0].stop if found else 0, length - half)
            joint = track.settings.beyond[track.exit(step)].joint.name
            if start < length:
                found.append(Spot(start, length, ALWAYS, "gap", joint))
        return found

    def _rails(self, piece: Piece, own: tuple[Lying, ...], opposite: tuple[Lying, ...]) -> tuple[Spot, ...]:
        found: list[Spot] = []
        for one in own:
            for other in opposite:
                start, stop = max(one.start, other.start), min(one.stop, other.stop)
                if start >= stop:
                    continue
                function = self._unmeant(piece, one.rail, other.rail)
                if function != NEVER:
                    name = piece.name if one.rail is None else f"{piece.name}.{one.rail}"
                    found.append(Spot(start, stop, function, "dead" if one.rail is None else "rail", name))
        return tuple(found)

    def _unmeant(self, piece: Piece, rail: str | None, opposite: str | None) -> int:
        """The states in which a wheel on a rail gets nothing, without those that are not for this rule to tell."""
        if rail is None:
            return ALWAYS
        meant = self.analysis.meant_dead.get(piece.name, NEVER)
        always = meant != NEVER and self.analysis.always(meant)
        if piece.kind.plain and not always:
            return NEVER
        net = self.analysis.net
        function = self._lack(net(f"{piece.name}.{rail}"), None if opposite is None else net(f"{piece.name}.{opposite}"))
        return function if always or meant == NEVER else self.analysis.poles.diagrams.without(function, meant)

    def _lack(self, net: int, opposite: int | None) -> int:
        key = (net, opposite)
        found = self._lacking.get(key)
        if found is None:
            found = self._lacking[key] = lacking(self.analysis, net, opposite)
        return found


# -- telling


def tell(analysis: Analysis, broken: Broken) -> Told:
    """Say where it stops, on what, for how far, and what would carry it over."""
    about: About = broken.about
    stand, side = about.place.stand, SIDES[about.place.side]
    wheels = vehicle(about.train, about.place.side).wheels
    count = len(wheels)
    whose = f"its only {side}-hand pick-up stands" if count == 1 else f"its {count} {side}-hand pick-ups all stand"
    what = " and ".join(dict.fromkeys(_said(analysis, spot, stand) for spot in stand.spots))
    route = analysis.track.route(stand.lead)
    ends = f"{analysis.track.entry(stand.lead)[1]} to {analysis.track.exit(stand.lead)[1]}"
    way = f", leading with '{stand.lead.piece}' {ends}" if len(route.ends) else ""
    over = show(about.place.length / NM, "mm", 3)
    layout = analysis.layout
    where = f"on '{about.name}'" if about.what == "piece" else f"at the joint '{about.name}'"
    spans = [about.train.span]
    if about.what == "piece":
        spans.insert(0, layout.pieces[about.name].span)
    else:
        spans.insert(0, next(j.span for j in layout.joints if j.name == about.name))
    guess = [s.piece for s in stand.steps if not analysis.track.measure(s).known and not _plain(analysis, s)]
    doubt = f" (where the rails of '{guess[0]}' meet is not known, so equal parts are taken)" if guess else ""
    return Told(
        Severity.WARNING,
        f"'{about.train.name}' stops {where}{way}: {whose} on {what} at once, over {over}{doubt}",
        _fix(about, wheels, side),
        tuple(sorted({step.piece for step in stand.steps})),
        (),
        tuple(spans),
    )


def _plain(analysis: Analysis, step: Step) -> bool:
    return analysis.track.piece(step).kind.plain


def _said(analysis: Analysis, spot: Spot, stand: Stand) -> str:
    length = show((spot.stop - spot.start) / NM, "mm", 3)
    if spot.what == "dead":
        return f"the dead {length} of '{spot.name}'"
    if spot.what == "gap":
        return f"the gap at '{spot.name}'"
    none, _ = analysis.alone(analysis.net(spot.name))
    state = analysis.state_in(stand.function)
    has = "without a pole" if analysis.poles.diagrams.value(none, state) else "of the wrong pole"
    return f"{spot.name}, {length} {has}"


def _fix(about: About, wheels: tuple[int, ...], side: str) -> str:
    spots = about.place.stand.spots
    rails = list(dict.fromkeys(s.name for s in spots if s.what == "rail"))
    if rails:
        return f"give {' and '.join(rails)} the right pole: a contact, a frog unit or a feed"
    apart = show((wheels[-1] - wheels[0] + about.place.length) / NM, "mm", 3)
    if all(s.what == "gap" for s in spots):
        return f"let more {side}-hand wheels pick up, more than {apart} apart"
    return f"let {side}-hand wheels more than {apart} apart pick up, or use a piece with a metal frog and feed it"


RULE = Rule("stall", DOCUMENT, find, tell)
