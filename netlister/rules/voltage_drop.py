"""The rule `voltage-drop`."""

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

DOCUMENT = """Too much voltage is lost between the supply and a place on the track.

## What it finds

A piece of track with a place, and a position of turnouts and switches, in which the wires, joiners, contacts and rails
on the way there and back lose more of the supply's voltage than `limits: drop` allows (5 % where it is not stated) at
the trip current, or at the current given with `netlister drop --amps`. Above 10 % it is an error.

## Why it matters

Trains slow down there, lamps dim, sound drops out, and a short may draw too little to trip the supply.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
rail: 57 mohm/m
track:
  line: {length: 3 m}
feeds:
  - {to: line}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
rail: 57 mohm/m
track:
  line: {length: 3 m}
feeds:
  - {to: line, at: 750 mm}
  - {to: line, at: 2.25 m}
```

## How to mend it

Feed the place itself, or nearer to it; use thicker wire for the bus (`netlister wire-size` says how thick), solder
joiners, bridge blades with a contact.

## When it is meant

A siding where nothing draws the full current: say what it is to bear with `netlister drop --amps`, or allow it.
"""

MOST = "most-drop"


def judge(analysis: Analysis, _: str) -> Iterator[Breach[Drop]]:
    """Every piece that loses too much somewhere, in the states in which it does."""
    from netlister.volts.values import limit

    survey = analysis.survey
    share = limit(analysis.layout, "drop")

    def most(piece: str, supply: Supply) -> float | None:
        amps = survey.current(supply.name, piece)
        return share * supply.voltage / amps if amps else None

    for piece, whens in survey.beyond(most).items():
        drop = survey.pieces()[piece]
        assert drop is not None, "what is beyond a limit has a worst place"
        yield Breach("voltage-drop", piece, analysis.states_of(whens), drop)


def tell(analysis: Analysis, broken: Breach[Drop]) -> Told:
    """Say how much is lost where."""
    from netlister.volts.values import limit

    drop: Drop = broken.about
    assert drop.share is not None
    assert drop.volts_lost is not None
    assert drop.amps is not None
    layout = analysis.layout
    allowed = limit(layout, "drop")
    error = drop.share > max(limit(layout, MOST), allowed)
    most = "up to " if drop.bound else ""
    message = (
        f"'{drop.piece}' loses {most}{show(drop.volts_lost, 'V')}, {show(drop.share, '%')} of {drop.supply}, "
        f"at {show(drop.amps, 'A')} ({length_text(drop.at)} along it); {show(allowed, '%', 2)} is allowed"
    )
    there = f"'{drop.piece}' near that place{from_source(analysis, drop.piece)}"
    fix = f"feed {there}, or nearer to the supply, or use thicker wire ('netlister wire-size')"
    severity = Severity.ERROR if error else Severity.WARNING
    return Told(severity, message, fix, (drop.piece,), (), (layout.pieces[drop.piece].span,))


RULE = rule("voltage-drop", DOCUMENT, whole, judge, tell, default=False)
