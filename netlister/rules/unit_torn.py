"""The rule `unit-torn`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.poles.diagram import NEVER
from netlister.rules import gap_clash
from netlister.rules.electric import clash_or_dead, route_dead, route_nets
from netlister.rules.model import Breach, Told, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.numbers import Net
    from netlister.layout.model import Joint
    from netlister.poles.diagram import Function
    from netlister.routes.settings import EndOf
    from netlister.rules.analysis import Analysis

DOCUMENT = """A frog unit would have to give its frog both poles at once.

## What it finds

An insulated joint next to a piece whose frog an automatic frog unit feeds, on routes that are set. The unit can suit
the route through the piece, and it can suit the joint, but no position of it suits both: the track beyond is of the
other phase. `gap-clash` tries the units at each joint and on each route by itself, and so does not see it.

## Why it matters

No meter shows it while the track is empty. As a train goes over the joint some wheels stand on the frog and others on
the joint: the unit turns over without end and the protection trips. It is the crossover between two tracks that are fed
the wrong way round to each other.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  north: {length: 900 mm}
  south: {length: 900 mm}
  T1: {kind: live-frog-bonded, hand: right}
  T2: {kind: live-frog-bonded, hand: right}
machines: {M1: {throws: [T1, T2]}}
frog-units: {U1: {feeds: T1.frog}, U2: {feeds: T2.frog}}
joints:
  - {from: north, to: T1.toe}
  - {from: south, to: T2.toe}
  - {from: T1.diverging, to: T2.diverging, insulate: both}
feeds:
  - {to: [north, south]}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  north: {length: 900 mm}
  south: {length: 900 mm}
  T1: {kind: live-frog-bonded, hand: right}
  T2: {kind: live-frog-bonded, hand: right}
machines: {M1: {throws: [T1, T2]}}
frog-units: {U1: {feeds: T1.frog}, U2: {feeds: T2.frog}}
joints:
  - {from: north, to: T1.toe}
  - {from: south, to: T2.toe}
  - {from: T1.diverging, to: T2.diverging, insulate: both}
feeds:
  - {to: north}
  - {to: south, A: right, B: left}
```

## How to mend it

Swap the two feed wires of the track on one side of the joint, wherever that track is fed. Where the track comes back on
itself, as in a loop, it needs a section on a reverser instead.

## When it is meant

Never.
"""


class About(NamedTuple):
    """What is told of: the joint, the piece beside it, and the unit's frog there."""

    joint: Joint
    piece: str
    frog: str
    unit: str


def subjects(analysis: Analysis) -> Iterator[EndOf]:
    """Every insulated joint, where there are frog units."""
    if analysis.layout.units:
        yield from gap_clash.insulated_joints(analysis)


def judge(analysis: Analysis, at: EndOf) -> Iterator[Breach[About]]:
    """When no position of a unit suits both a joint and the route through the piece beside it."""
    joint = analysis.joint(at)
    diagrams = analysis.poles.diagrams
    result, about = NEVER, None
    alone: Function | None = None
    for number, (name, end) in enumerate((joint.start, joint.end)):
        rails = [(a, b)[number] for a, b, insulated in joint.pairs if insulated]
        frogs = [(rail, unit) for rail in rails if (unit := _unit(analysis, rail))]
        if not frogs:
            continue
        if alone is None:
            alone = gap_clash.joint_clash(analysis, joint)
        piece = analysis.piece(name)
        for n, route in enumerate(piece.kind.routes):
            if end not in route.ends:
                continue
            inner = [(analysis.net(g.a), analysis.net(g.b), g.counts) for g in gap_clash.inner_gaps(analysis, piece, n)]
            gaps = [(analysis.net(g.a), analysis.net(g.b), g.counts) for g in gap_clash.gaps_of(analysis, joint)]
            found = clash_or_dead(analysis, [*gaps, *inner], *route_nets(analysis, piece, route))
            found = diagrams.both(found, analysis.settings.route(piece, route))
            for other, far in (joint.start, joint.end):
                found = diagrams.both(found, analysis.settings.end(analysis.piece(other), far))
            told = [alone, route_dead(analysis, piece, route), clash_or_dead(analysis, inner, (), ())]
            found = diagrams.without(found, diagrams.any_of(told))
            if analysis.poles.possible(found) and about is None:
                about = About(joint, name, *frogs[0])
            result = diagrams.either(result, found)
    if about is not None:
        yield Breach("unit-torn", joint.name, result, about)


def _unit(analysis: Analysis, terminal: str) -> str:
    """A frog unit that feeds a rail, in some state."""
    net: Net = analysis.net(terminal)
    count = len(analysis.circuit.poles)
    return next((analysis.poles.units[p - count].name for p, _ in analysis.has(net) if p >= count), "")


def tell(analysis: Analysis, broken: Breach[About]) -> Told:  # noqa: ARG001
    """Say which unit is torn between what."""
    about: About = broken.about
    return Told(
        Severity.WARNING,
        f"'{about.unit}' would have to give {about.frog} one pole for '{about.piece}' and the other for what lies "
        f"beyond the joint '{broken.subject}': a train across both trips the protection",
        "swap the two feed wires of the track on one side of the joint, wherever it is fed; a loop needs a reverser",
        tuple(sorted({*about.joint.pieces})),
        (),
        (about.joint.span,),
    )


RULE = rule("unit-torn", DOCUMENT, subjects, judge, tell, called=gap_clash.called)
