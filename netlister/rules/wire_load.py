"""The rule `wire-load`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS
from netlister.quantity import show
from netlister.rules.model import Breach, Told, rule, whole

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.rules.analysis import Analysis
    from netlister.volts.load import Overload

DOCUMENT = """A wire is too thin for the protection before it.

## What it finds

A bus, feed or wire that carries less continuously than the least trip current before it: of the supply, or of a breaker
or fuse on the way. It also says how long the wire survives a short at its end. The ratings are second-hand, one table
for buses and feeders alike (0.5 mm2 carries 3 A up to 2 m, 1.4 A beyond); see `netlister drop --format json`.

A plain check leaves out wires beyond a junction, and feeds of 0.3 mm2 (AWG 22) or more that are no longer than 300 mm,
which are common practice; `--select wire-load` has them all.

## Why it matters

The supply feeds its full trip current into a fault for as long as it likes, and the wire, not the supply, gets hot.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses: {main: {wire: 0.5 mm2, length: 4 m}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line, tap: 4 m}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses: {main: {wire: 1.5 mm2, length: 4 m}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line, tap: 4 m}
```

## How to mend it

Thicker wire, or a fuse or breaker before the thin one that trips at what the wire carries.

## When it is meant

Where a fuse that is not written stands before the thin wire: write it (`components`), or allow it there. Rules for
fixed wiring and for anything on the mains side are in your local code, and for licensed people.
"""


def judge(analysis: Analysis, _: str) -> Iterator[Breach[Overload]]:
    """Every wire that carries less than what protects it lets through."""
    from netlister.volts.load import overload, overloads, thin_wires

    if "wire-load" in analysis.named:
        found = list(overloads(analysis.survey))
    else:
        found = [overload(analysis.survey, one) for one in thin_wires(analysis.layout, short_feeds=False)]
    for load in found:
        yield Breach("wire-load", load.name, ALWAYS, load)


def tell(analysis: Analysis, broken: Breach[Overload]) -> Told:
    """Say what the wire carries and how long it survives a short."""
    load: Overload = broken.about
    lasts = ""
    if load.seconds is not None and load.fault is not None:
        lasts = f"; a short at its end draws {show(load.fault, 'A')} and makes it too hot in {_time(load.seconds)}"
    message = (
        f"{load.what} is {load.wire}, which carries {show(load.amps, 'A')} continuously, but {load.guard} trips only "
        f"at {show(load.trip, 'A')}{lasts}"
    )
    fix = f"use {load.better} or thicker, or protect it with a fuse or breaker of no more than {show(load.amps, 'A')}"
    parts = tuple(p for p in load.pieces if p in analysis.layout.pieces)
    return Told(Severity.WARNING, message, fix, parts, (), (load.span,))


_MINUTE = 60


def _time(seconds: float) -> str:
    return f"{show(seconds, 's', 2)}" if seconds < _MINUTE else "some minutes"


RULE = rule("wire-load", DOCUMENT, whole, judge, tell, more=True)
