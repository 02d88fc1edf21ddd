"""The rule `shared-return`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS
from netlister.quantity import show
from netlister.rules.model import Breach, Told, rule, whole

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.rules.analysis import Analysis
    from netlister.volts.shared import Disturbance

DOCUMENT = """A train of one supply disturbs a train of another through the return that they share.

## What it finds

Two supplies with a pole in common whose currents run through the same rails or wires on the way back, where the trip
current of the one changes the voltage of a train of the other by more than `limits: drop` allows.

## Why it matters

One train speeds up and slows down with what the other draws.

## Fails

```yaml
format: netlister/1
supplies:
  cab1: {type: dc, voltage: 12 V, trip: 3 A}
  cab2: {type: dc, voltage: 12 V, trip: 3 A, common: cab1.B}
rail: 76 mohm/m
track:
  west: {length: 3 m}
  east: {length: 3 m}
joints:
  - {from: west, to: east, insulate: left}
feeds:
  - {to: west, from: cab1}
  - {to: east, from: cab2, A: left}
```

## Passes

```yaml
format: netlister/1
supplies:
  cab1: {type: dc, voltage: 12 V, trip: 3 A}
  cab2: {type: dc, voltage: 12 V, trip: 3 A, common: cab1.B}
rail: 76 mohm/m
track:
  west: {length: 3 m}
  east: {length: 3 m}
joints:
  - {from: west, to: east, insulate: left}
feeds:
  - {to: west, from: cab1}
  - {to: east, from: cab2, A: left}
  - {to: east, from: cab2, B: right}
```

## How to mend it

Feed the common rail at several places with a thick wire from the common pole, or give each supply a return of its own.

## When it is meant

Two trains that never run at the same time.
"""


def judge(analysis: Analysis, _: str) -> Iterator[Breach[Disturbance]]:
    """Every pair of supplies that disturb each other."""
    from netlister.volts.shared import disturbances
    from netlister.volts.values import limit

    most = limit(analysis.layout, "drop")
    for found in disturbances(analysis.survey):
        if found.share > most:
            yield Breach("shared-return", f"{found.by}/{found.of}", ALWAYS, found)


def tell(analysis: Analysis, broken: Breach[Disturbance]) -> Told:
    """Say how much the one changes the other."""
    found: Disturbance = broken.about
    message = (
        f"a train of {found.by} on '{found.source}' that draws {show(found.amps, 'A')} changes the voltage of a train "
        f"of {found.of} on '{found.piece}' by {show(found.volts, 'V')}, {show(found.share, '%', 2)}, "
        "through the return that they share"
    )
    fix = "feed the common rail from the common pole at more places, with thick wire, or part the returns"
    layout = analysis.layout
    where = tuple(layout.pieces[p].span for p in (found.source, found.piece))
    return Told(Severity.WARNING, message, fix, tuple(sorted({found.source, found.piece})), (), where)


RULE = rule("shared-return", DOCUMENT, whole, judge, tell, default=False)
