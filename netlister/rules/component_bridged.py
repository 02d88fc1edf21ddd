"""The rule `component-bridged`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS
from netlister.rules.model import WHOLE, Breach, Told, rule
from netlister.rules.telling import owners_on, spans_of, told_path
from netlister.union import find, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Conductor
    from netlister.layout.model import Component
    from netlister.rules.analysis import Analysis

DOCUMENT = """Metal lies across a diode, lamp or resistor.

## What it finds

A diode, lamp or resistor in a wire whose two ends are joined by metal in every position: a joint without a gap, a feed,
a wire. What joins them in some positions only, as a switch across a diode, is no mistake. For breakers and fuses see
`breaker-bypassed`, for detectors `detector-bypassed`.

## Why it matters

All current takes the metal and none the part, which does nothing. A section that a diode is to make safe lets a train
run on into the buffer; a lamp that is to limit the current of a short limits nothing.

## Fails

```yaml
format: netlister/1
supplies: {cab: {type: dc, voltage: 12 V, trip: 1 A}}
track:
  platform: {length: 900 mm}
  stop:     {length: 300 mm}
joints:
  - {from: platform, to: stop}
feeds:
  - {to: platform}
components:
  V1: {kind: diode, from: stop.right, to: platform.right}
```

## Passes

```yaml
format: netlister/1
supplies: {cab: {type: dc, voltage: 12 V, trip: 1 A}}
track:
  platform: {length: 900 mm}
  stop:     {length: 300 mm}
joints:
  - {from: platform, to: stop, insulate: right}
feeds:
  - {to: platform}
components:
  V1: {kind: diode, from: stop.right, to: platform.right}
```

## How to mend it

Insulate the rail between the two ends of the part, or take the feed or wire away that leads past it. Or take the part
out, with the supply unplugged.

## When it is meant

Where the part is kept for later: allow it with a comment.
"""

KINDS = frozenset({"diode", "lamp", "resistor"})


def subjects(analysis: Analysis) -> tuple[str, ...]:
    """The whole layout, where it has a part that metal could lie across."""
    return WHOLE if any(c.kind in KINDS for c in analysis.layout.components.values()) else ()


def judge(analysis: Analysis, _: str) -> Iterator[Breach[Component]]:
    """The parts from one end of which metal alone, always there, leads to the other."""
    node, group = analysis.circuit.node, _metal(analysis)
    for component in analysis.layout.components.values():
        one, other = component.ends
        if component.kind in KINDS and one != other and find(group, node[one]) == find(group, node[other]):
            yield Breach("component-bridged", component.name, ALWAYS, component)


def _metal(analysis: Analysis) -> list[int]:
    """The nodes of the circuit, joined by all that always conducts but for these parts."""
    group = list(range(len(analysis.circuit.names)))
    for conductor in analysis.circuit.conductors:
        if _always(analysis, conductor):
            join(group, conductor.a, conductor.b)
    return group


def _always(analysis: Analysis, conductor: Conductor) -> bool:
    components = analysis.layout.components
    return not conductor.when and not (conductor.what == "component" and components[conductor.owner].kind in KINDS)


def tell(analysis: Analysis, broken: Breach[Component]) -> Told:
    """Say what lies across a part, and along what."""
    component = broken.about
    start, goal = (analysis.circuit.node[end] for end in component.ends)
    state = analysis.state_in(ALWAYS)
    steps = analysis.paths.find(start, goal, state, None, lambda conductor: _always(analysis, conductor))
    return Told(
        Severity.WARNING,
        f"metal lies across the {component.kind} '{component.name}', from {component.ends[0]} to {component.ends[1]}, "
        "so no current takes it and it does nothing",
        "insulate the rail between its two ends, or take away the feed or wire that leads past it",
        tuple(owners_on(analysis, steps)),
        told_path(analysis, steps),
        (component.span, *spans_of(analysis, steps)),
    )


RULE = rule("component-bridged", DOCUMENT, subjects, judge, tell)
