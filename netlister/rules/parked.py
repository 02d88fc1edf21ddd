"""The rule `parked`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.rules.electric import clash
from netlister.rules.model import Breach, Told, rule
from netlister.rules.telling import piece_of, steady, told_first, told_path

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Joint, Train
    from netlister.poles.diagram import Function
    from netlister.rules.analysis import Analysis

DOCUMENT = """A vehicle left across a gap joins what the gap keeps apart.

## What it finds

Each vehicle under `trains` that is `parked` across a joint: the poles that its wheels join there, whatever routes are
set, and the rail-sections without a pole that they make live. Wheels that pick up or are `conducting` join both rails
of the joint that are insulated; where no axles are given, the vehicle has metal wheels.

## Why it matters

A wheel that rolls over a gap joins its sides for a moment; one that stands there joins them as long as it stands. Two
supplies feed each other, or a locomotive in a section that was switched off drives away.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  platform: {length: 900 mm}
  buffers:  {length: 300 mm}
switches:
  S1: {positions: [on, off], contacts: {rail: {common: buffers.left, on: main.A}}}
joints:
  - {from: platform, to: buffers, insulate: left, id: cut}
feeds:
  - {to: platform}
expect:
  - {track: buffers, is: dead, when: {S1: off}}
trains:
  coach: {axles: [0 mm, 120 mm], parked: cut}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  platform: {length: 900 mm}
  buffers:  {length: 300 mm}
switches:
  S1: {positions: [on, off], contacts: {rail: {common: buffers.left, on: main.A}}}
joints:
  - {from: platform, to: buffers, insulate: left, id: cut}
feeds:
  - {to: platform}
expect:
  - {track: buffers, is: dead, when: {S1: off}}
trains:
  coach: {axles: [0 mm, 120 mm], left: [], right: [], parked: cut}
```

## How to mend it

Park it clear of the gap, move the gap, or give it wheels that do not conduct.

## When it is meant

`# netlister: allow parked: the shunter may leave` on the line of the vehicle or of the joint.
"""


class About(NamedTuple):
    """A vehicle at a joint: the pairs of rails that it joins, and the section that it makes live (or nothing)."""

    train: Train
    joint: Joint
    pairs: tuple[tuple[str, str], ...]
    revived: str


def conducts(train: Train) -> bool:
    """Whether wheels of a vehicle join the two sides of a gap."""
    return bool(train.bridging()) if train.axles else not train.insulated


ParkedSubject = tuple[str, str, str]
"""A vehicle, and the rail that it makes live with that from which it does so; without rails: what it joins."""


def subjects(analysis: Analysis) -> Iterator[ParkedSubject]:
    """Every vehicle left across a gap, and every rail there."""
    for train in analysis.layout.trains.values():
        if train.parked and conducts(train):
            yield train.name, "", ""
            for a, b in _gaps(analysis, train)[1]:
                yield train.name, a, b
                yield train.name, b, a


def judge(analysis: Analysis, subject: ParkedSubject) -> Iterator[Breach[About]]:
    """When a vehicle joins poles, or makes a section live."""
    name, dead, live = subject
    train = analysis.layout.trains[name]
    joint, pairs = _gaps(analysis, train)
    if not dead:
        yield Breach("parked", name, joined(analysis, pairs), About(train, joint, pairs, ""))
        return
    piece = _section(analysis, dead)
    if piece:
        about = About(train, joint, ((dead, live),), piece)
        yield Breach("parked", called(analysis, subject), revived(analysis, dead, live), about)


def called(analysis: Analysis, subject: ParkedSubject) -> str:  # noqa: ARG001
    """The vehicle, and the rail that it makes live."""
    name, dead, _ = subject
    return f"{name} on {dead}" if dead else name


def _gaps(analysis: Analysis, train: Train) -> tuple[Joint, tuple[tuple[str, str], ...]]:
    """The joint that a vehicle is parked across, and its insulated pairs of rails."""
    joint = next(joint for joint in analysis.layout.joints if joint.name == train.parked)
    return joint, tuple((a, b) for a, b, insulated in joint.pairs if insulated)


def joined(analysis: Analysis, pairs: tuple[tuple[str, str], ...]) -> Function:
    """The states in which the two rails of a pair have one pole each, and not the same."""
    diagrams = analysis.poles.diagrams
    real = len(analysis.circuit.poles)
    result = NEVER
    for a, b in pairs:
        for p, f in analysis.alone(analysis.net(a))[1]:
            for q, g in analysis.alone(analysis.net(b))[1]:
                if p != q and p < real and q < real:
                    result = diagrams.either(result, diagrams.both(f, g))
    return result


def revived(analysis: Analysis, dead: str, live: str) -> Function:
    """The states in which the one rail has no pole and the other has."""
    none, _ = analysis.alone(analysis.net(dead))
    other, _ = analysis.alone(analysis.net(live))
    return analysis.poles.diagrams.without(none, other)


def _section(analysis: Analysis, terminal: str) -> str:
    """The rail-section that a rail belongs to, or the first one that it is always joined to by metal; else nothing."""
    pieces = analysis.layout.pieces
    own = Terminal.of(terminal).owner
    if pieces[own].kind.plain:
        return own
    names = {piece_of(analysis, node) for node in analysis.poles.nodes_of([analysis.net(terminal)])}
    return min((name for name in names if name and pieces[name].kind.plain), default="")


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say what the vehicle joins or makes live."""
    about: About = broken.about
    name, joint = about.train.name, about.joint
    spans = (about.train.span, joint.span)
    parts = tuple(sorted({*joint.pieces}))
    told, state = told_first(analysis, broken.function)
    poles = analysis.circuit.poles
    value = analysis.poles.diagrams.value
    if about.revived:
        ((dead, live),) = about.pairs
        has = [p for p, f in analysis.poles.has(analysis.net(live)) if value(f, state)]
        pole = poles[has[0]].name if has[0] < len(poles) else analysis.poles.units[has[0] - len(poles)].name
        return Told(
            Severity.WARNING,
            f"'{name}', parked across '{joint.name}', gives {dead} the pole {pole} of {live}: "
            f"'{about.revived}' is not switched off",
            "park it clear of the gap",
            tuple(sorted({*parts, about.revived})),
            (),
            spans,
        )
    grade = Severity.WARNING
    nets = [(analysis.net(a), analysis.net(b), ALWAYS) for a, b in about.pairs]
    if analysis.poles.possible(analysis.poles.diagrams.both(clash(analysis, nets), broken.function)):
        grade = Severity.ERROR
    for a, b in about.pairs:
        sides = [
            next((p for p, f in analysis.alone(analysis.net(t))[1] if p < len(poles) and value(f, state)), None)
            for t in (a, b)
        ]
        if None in sides or sides[0] == sides[1]:
            continue
        p, q = (poles[side] for side in sides if side is not None)
        node = analysis.circuit.node
        first, last = (
            steady(analysis, side, node[t], told, state)
            for side, t in zip(sides, (a, b), strict=True)
            if side is not None
        )
        path = (*told_path(analysis, first), *reversed(told_path(analysis, last)))
        held = next((x.device for x in (p, q) if x.device), "")
        more = f", so that '{held}' cannot change over" if held and grade == Severity.WARNING else ""
        return Told(
            grade,
            f"'{name}', parked across '{joint.name}', joins {p.name} on {a} with {q.name} on {b}{more}",
            "park it clear of the gap, or move the gap",
            parts,
            path,
            spans,
        )
    message = f"no pair of rails at '{joint.name}' is joined in the state picked for it"
    raise AssertionError(message)


RULE = rule("parked", DOCUMENT, subjects, judge, tell, called=called)
