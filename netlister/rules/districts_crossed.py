"""The rule `districts-crossed`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.districts import district_of, told_terminals
from netlister.circuit.paths import Paths
from netlister.finding import Severity
from netlister.layout.terminal import named
from netlister.poles.diagram import NEVER
from netlister.rules.model import Breach, Told, rule
from netlister.rules.telling import owners_on, spans_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.numbers import Net, PoleNumber
    from netlister.layout.model import Piece
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Poles
    from netlister.rules.analysis import Analysis

DOCUMENT = """The two rails of a track come from two power districts.

## What it finds

A route that is set with a rail under the left wheels from one district of a supply and a rail under the right wheels
from another of the same supply. A bus with a `breaker` makes a district of what is fed from it. Frog units and
automatic reversers count as the district of their bus. Where the two rails come from two supplies, that is
`dead-track`.

## Why it matters

Trains run, for both districts hang on one supply. But the current comes through one breaker and goes back through the
other, so that neither breaker guards this track alone: a short here trips either of them, and if one district is
switched off the track is dead although its own breaker stands.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses:
  town:    {supply: main, breaker: 3 A}
  harbour: {supply: main, breaker: 3 A}
track:
  high-street: {length: 900 mm}
  quay:        {length: 900 mm}
joints:
  - {from: high-street, to: quay, insulate: both}
feeds:
  - {to: high-street, from: town}
  - {to: quay, from: harbour, A: left}
  - {to: quay, from: town, B: right}
expect:
  - {track: quay, is: live}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses:
  town:    {supply: main, breaker: 3 A}
  harbour: {supply: main, breaker: 3 A}
track:
  high-street: {length: 900 mm}
  quay:        {length: 900 mm}
joints:
  - {from: high-street, to: quay, insulate: both}
feeds:
  - {to: high-street, from: town}
  - {to: quay, from: harbour}
```

## How to mend it

Take both wires of a track from one district: the feed, the throws of a frog's contact, the bus of a frog unit, the pins
of a plug.

## When it is meant

Never.
"""


class About(NamedTuple):
    """A piece, and what crosses on it: pairs of rails with the poles by districts that they have, and when."""

    piece: Piece
    pairs: tuple[tuple[str, str, PoleNumber, PoleNumber, Function], ...]


def subjects(analysis: Analysis) -> Iterator[str]:
    """Every piece with a route, where the layout has districts."""
    if analysis.districts is not None:
        yield from (piece.name for piece in analysis.layout.pieces.values() if piece.kind.routes)


def judge(analysis: Analysis, subject: str) -> Iterator[Breach[About]]:
    """When a set route of a piece has its rails from two districts."""
    poles = analysis.districts
    assert poles is not None
    piece = analysis.piece(subject)
    diagrams = analysis.poles.diagrams
    pairs = []
    for route in piece.kind.routes:
        when = analysis.settings.route(piece, route)
        for left in dict.fromkeys(r for r in route.left if r is not None):
            for right in dict.fromkeys(r for r in route.right if r is not None):
                rails = named(subject, left), named(subject, right)
                for p, f in analysis.alone_by_district(_net(poles, rails[0])):
                    for q, g in analysis.alone_by_district(_net(poles, rails[1])):
                        if _crossed(analysis, p, q):
                            function = diagrams.both(when, diagrams.both(f, g))
                            if function != NEVER:
                                pairs.append((*rails, p, q, function))
    if pairs:
        yield Breach("districts-crossed", subject, diagrams.any_of([f for *_, f in pairs]), About(piece, tuple(pairs)))


def _net(poles: Poles, terminal: str) -> Net:
    return poles.nets.of[poles.circuit.node[terminal]]


def _real(poles: Poles, pole: PoleNumber) -> PoleNumber:
    """The pole by districts of a pole: of what a device feeds, that of its bus."""
    circuit = poles.circuit
    if pole >= poles.count:
        return poles.units[pole - poles.count].inputs[0]
    device = circuit.poles[pole].device
    return next(d.inputs[0] for d in circuit.devices if d.name == device) if device else pole


def _crossed(analysis: Analysis, p: PoleNumber, q: PoleNumber) -> bool:
    poles = analysis.districts
    assert poles is not None
    first, second = (district_of(poles.circuit.poles[_real(poles, pole)].name)[1] for pole in (p, q))
    if first == second or not first or not second:
        return False
    return analysis.district_supplies[first] == analysis.district_supplies[second]


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say which rail comes from which district, and over what."""
    about: About = broken.about
    poles = analysis.districts
    assert poles is not None
    circuit, diagrams = poles.whole, analysis.poles.diagrams
    state = analysis.state_in(broken.function)
    left, right, p, q, _ = next(pair for pair in about.pairs if diagrams.value(pair[4], state))
    paths = Paths(circuit)
    said, steps = [], []
    for rail, pole in ((left, p), (right, q)):
        district = district_of(circuit.poles[_real(poles, pole)].name)[1]
        over = ""
        if pole >= poles.count:
            over = f" (over the frog unit '{poles.units[pole - poles.count].name}')"
        elif circuit.poles[pole].device:
            over = f" (over '{circuit.poles[pole].device}')"
        else:
            steps.append(paths.find(circuit.node[rail], pole, state))
        said.append(f"{rail} is fed by the district '{district}'{over}")
    path = tuple(name for part in steps for name in told_terminals(circuit.names[node] for node, _ in part))
    every = [step for part in steps for step in part]
    parts = {about.piece.name, *owners_on(analysis, every, circuit)} if every else {about.piece.name}
    return Told(
        Severity.ERROR,
        " and ".join(said),
        "take both poles of this track from one district; look at the feed, contact, unit or plug on the path",
        tuple(sorted(parts)),
        path,
        (about.piece.span, *spans_of(analysis, every)),
    )


RULE = rule("districts-crossed", DOCUMENT, subjects, judge, tell)
