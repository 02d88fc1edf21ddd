"""The rule `weak-short`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.quantity import length_text, show
from netlister.rules.model import Breach, Told, rule, whole
from netlister.rules.telling import from_source

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Supply
    from netlister.rules.analysis import Analysis
    from netlister.volts.drop import Drop

DOCUMENT = """A short at some place draws too little to trip the supply.

## What it finds

A piece of track with a place, and a position of turnouts and switches, in which a short across the rails draws less
than the trip current of its supply, or of the breaker of its district, times `limits: trip-margin` (1.5 where it is
not stated), the supply's own resistance counted.

## Why it matters

This is the most dangerous fault of all: the protection does not act, and the whole current goes on heating a derailed
wheel, a blade or a thin wire until something melts or burns. 15 V at 5 A are 75 W.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
rail: 206 mohm/m
track:
  line: {length: 6 m}
feeds:
  - {to: line}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
rail: 206 mohm/m
track:
  line: {length: 6 m}
feeds:
  - {to: line, at: 1.5 m}
  - {to: line, at: 4.5 m}
```

## How to mend it

More feeds and thicker wire, so that a short draws more; or a supply or breaker that trips at a smaller current. Then
short the rails with a coin every few feet, with the supply on: it must trip at once, every time. Never leave a short
standing, and leave everything on the mains side to licensed people and your local code.

## When it is meant

Never.
"""


def judge(analysis: Analysis, _: str) -> Iterator[Breach[Drop]]:
    """Every piece where a short may not trip the supply, in the states in which it may not."""
    from netlister.volts.values import limit

    survey = analysis.survey
    margin = limit(analysis.layout, "trip-margin")

    def most(piece: str, supply: Supply) -> float | None:
        trip = survey.protection.of_piece(piece, supply.name)
        return supply.voltage / (trip * margin) - supply.resistance if trip and margin else None

    for piece, whens in survey.beyond(most).items():
        drop = survey.pieces()[piece]
        assert drop is not None, "what is beyond a limit has a worst place"
        yield Breach("weak-short", piece, analysis.states_of(whens), drop)


def tell(analysis: Analysis, broken: Breach[Drop]) -> Told:
    """Say what a short draws there and what it should."""
    from netlister.volts.values import limit

    drop: Drop = broken.about
    layout = analysis.layout
    trip = analysis.survey.protection.of_piece(drop.piece, drop.supply)
    assert drop.short is not None
    assert trip is not None
    margin = limit(layout, "trip-margin")
    little = "perhaps no more than " if drop.bound else "only "
    verdict = "never trips it" if drop.short < trip else "may not trip it"
    message = (
        f"a short on '{drop.piece}' ({length_text(drop.at)} along it) draws {little}{show(drop.short, 'A')} and "
        f"{verdict}: the protection acts at {show(trip, 'A')}, and {margin:g} times that is wanted"
    )
    there = f"'{drop.piece}' there{from_source(analysis, drop.piece)}"
    fix = f"feed {there}, or use thicker wire, or a lower trip current; then test with a coin on the rails"
    return Told(Severity.ERROR, message, fix, (drop.piece,), (), (layout.pieces[drop.piece].span,))


RULE = rule("weak-short", DOCUMENT, whole, judge, tell, default=False)
