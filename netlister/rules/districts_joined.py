"""The rule `districts-joined`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.districts import district_of, told_terminals
from netlister.circuit.paths import Paths
from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import LimitError
from netlister.rules.model import WHOLE, Breach, Told, Unproved, rule
from netlister.rules.telling import owners_on, spans_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.poles.reach import Short
    from netlister.rules.analysis import Analysis

DOCUMENT = """Two power districts of one supply are joined by metal.

## What it finds

A bus with a `breaker` makes a power district of what is fed from it. Here metal leads from a rail that is fed from one
district to a rail that is fed from another of the same supply and the same pole: a joint without a gap, a contact that
takes the pole from a neighbour, a wire.

## Why it matters

Nothing shorts, and everything runs. But the two breakers now lie side by side and share every current, so that a short
in one district trips neither at its rating, or both, and the rest of the railway stops with it. Where only one of the
two has a breaker the current comes past it.

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
  - {from: high-street, to: quay, insulate: left}
feeds:
  - {to: high-street, from: town}
  - {to: quay, from: harbour}
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

Insulate both rails wherever two districts meet, and feed each track, and each frog's contact, from the district that it
lies in.

## When it is meant

Where one rail is common on purpose: allow it with a comment on the line that the finding names.
"""


class JoinedDistricts(NamedTuple):
    """The places where two districts are joined."""

    shorts: tuple[Short, ...]


def subjects(analysis: Analysis) -> tuple[str, ...]:
    """The whole layout, where it has districts: a finding gathers all places where two of them meet."""
    return WHOLE if analysis.districts is not None else ()


def judge(analysis: Analysis, _: str) -> Iterator[Breach[JoinedDistricts] | Unproved]:
    """Which districts of one supply are joined, and when."""
    poles = analysis.districts
    assert poles is not None
    places: dict[str, list[Short]] = {}
    for place in poles.places():
        for region in poles.unsolved(place):
            pieces = sorted({Terminal.of(poles.circuit.names[n]).owner for n in poles.nodes_of(region.nets)})
            yield Unproved("districts-joined", pieces[0])
        for short in poles.shorts_at(place):
            (p, first), (q, second) = (district_of(poles.circuit.poles[pole].name) for pole in short.poles)
            if p == q and first and second and _one_supply(analysis, first, second):
                places.setdefault("/".join(sorted((first, second))), []).append(short)
    diagrams = analysis.poles.diagrams
    for subject, shorts in sorted(places.items()):
        diagrams.begin()
        try:
            function = diagrams.any_of([short.function for short in shorts])
        except LimitError:
            yield Unproved("districts-joined", subject)
        else:
            yield Breach("districts-joined", subject, function, JoinedDistricts(tuple(shorts)))


def _one_supply(analysis: Analysis, first: str, second: str) -> bool:
    supplies = analysis.district_supplies
    return supplies[first] == supplies[second]


def tell(analysis: Analysis, broken: Breach[JoinedDistricts]) -> Told:
    """Say which districts are joined, along which path."""
    poles = analysis.districts
    assert poles is not None
    circuit, diagrams = poles.whole, analysis.poles.diagrams
    state = analysis.state_in(broken.function)
    short = next(s for s in broken.about.shorts if diagrams.value(s.function, state))
    nets = poles.around(short)
    within = None if nets is None else frozenset(poles.nodes_of(nets))
    paths = Paths(circuit)
    a, b = sorted(short.poles, key=lambda pole: district_of(circuit.poles[pole].name)[1])
    steps = paths.find(a, b, state, within) or paths.find(a, b, state)
    path = told_terminals(circuit.names[node] for node, _ in steps)
    first, second = broken.subject.split("/")
    letter = district_of(circuit.poles[a].name)[0][-1]
    return Told(
        Severity.WARNING,
        f"the districts '{first}' and '{second}' are joined by metal on pole {letter}",
        "insulate both rails where the two districts meet, and feed each track and contact from its own district",
        tuple(owners_on(analysis, steps, circuit)),
        path,
        spans_of(analysis, steps),
    )


RULE = rule("districts-joined", DOCUMENT, subjects, judge, tell)
