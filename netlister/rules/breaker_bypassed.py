"""The rule `breaker-bypassed`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.behind import drawn_between_poles
from netlister.circuit.districts import districts
from netlister.finding import Severity
from netlister.layout.model import Component
from netlister.poles.diagram import ALWAYS
from netlister.quantity import show
from netlister.rules.bypass import Bypass, BypassWords, bypasses, told_bypass
from netlister.rules.model import Breach, Told, Unproved, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.rules.analysis import Analysis

DOCUMENT = """Current reaches what is behind a breaker or fuse past it.

## What it finds

Metal behind a breaker or fuse in a wire that has the same pole on a path that avoids it, or that leads through another
one. A frog whose contact gives it a pole from ahead of the breaker, where the stock rail of that pole is behind it (a
frog unit hangs on a bus, and is no matter here). And a breaker or fuse written between two buses that are one pole all
the same, since neither has a `breaker` of its own: there it parts nothing.

Breakers of buses are the matter of `districts-joined`. A lamp in series is not looked at.

## Why it matters

Nothing shorts and trains run. But in a short the current comes the other way, too: the breaker acts late or never, and
when it has acted the track is still live. What was to be protected by it, thin wire for one, is protected by the supply
alone.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
track:
  line: {length: 900 mm}
  shed: {length: 900 mm}
joints:
  - {from: line, to: shed}
feeds:
  - {to: line}
  - {to: shed, B: right}
components:
  F1: {kind: breaker, from: main.A, to: shed.left, rating: 2 A}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
track:
  line: {length: 900 mm}
  shed: {length: 900 mm}
joints:
  - {from: line, to: shed, insulate: left}
feeds:
  - {to: line}
  - {to: shed, B: right}
components:
  F1: {kind: breaker, from: main.A, to: shed.left, rating: 2 A}
```

## How to mend it

Insulate the rail in whose wire the breaker is wherever its part of the track ends, take every feed of that part from
behind the breaker, and the throws of a frog's contact from the stock rails of its own turnout. For a part of the
railway with both its rails behind a breaker write `breaker` with its current at a bus of its own.

## When it is meant

Where a switch bypasses it on purpose, or a frog is fed from ahead of it: allow it with a comment.
"""

WORDS = BypassWords(
    lambda breaker, pole: f"what is behind the {breaker} gets current past it, from {pole}: it protects nothing there",
    lambda breaker, other: (
        f"what is behind '{breaker}' and what is behind '{other}' is joined by metal: neither protects its own part"
    ),
    lambda breaker, source, frog: (
        f"{frog.terminal} gets its pole {source}, while {frog.rail} is behind the {breaker}: "
        "a short at the frog goes past it"
    ),
    "insulate the rail where the part behind it ends, and take all feeds of that part from behind it",
)


def subjects(analysis: Analysis) -> Iterator[str]:
    """All breakers and fuses in wires at once, as an empty name, and each that is written between two poles."""
    if analysis.behind_breakers is not None:
        yield ""
    yield from (component.name for component in drawn_between_poles(analysis.layout))


def judge(analysis: Analysis, subject: str) -> Iterator[Breach[Bypass | Component] | Unproved]:
    """What gets its current past a breaker or fuse, and when."""
    if subject:
        component = analysis.layout.components[subject]
        label = districts(analysis.layout)
        one, other = component.buses
        first, second = (analysis.circuit.node[end] for end in component.ends)
        if first == second and one != other and label.get(one) == label.get(other):
            yield Breach("breaker-bypassed", subject, ALWAYS, component)
        return
    behind = analysis.behind_breakers
    assert behind is not None
    for found in bypasses(analysis, "breaker-bypassed", behind):
        if isinstance(found, Unproved) or found.about.frog is None or not found.about.frog.unit:
            yield found


def tell(analysis: Analysis, broken: Breach[Bypass | Component]) -> Told:
    """Say what goes past which breaker, and along what."""
    behind, about = analysis.behind_breakers, broken.about
    if isinstance(about, Component):
        return _between_poles(analysis, about)
    assert behind is not None
    return told_bypass(analysis, behind, Breach(broken.rule, broken.subject, broken.function, about), WORDS)


def _between_poles(analysis: Analysis, component: Component) -> Told:
    one, other = component.buses
    buses = [bus for bus in (other, one) if bus in analysis.layout.buses]
    fix = "put it into the wire that it is to protect"
    if buses:
        amps = "2 A" if component.rating is None else show(component.rating, "A")
        fix = f"write 'breaker: {amps}' at the bus '{buses[0]}'; '{component.name}' may stay as the drawing of it"
    message = f"the {component.kind} '{component.name}' lies between '{one}' and '{other}', which are one pole here"
    return Told(Severity.WARNING, message, fix, (), (), (component.span,))


RULE = rule("breaker-bypassed", DOCUMENT, subjects, judge, tell)
