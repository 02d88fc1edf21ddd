"""The rule `feeder-spacing`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS
from netlister.quantity import length_text
from netlister.rules.model import Breach, Told, rule, whole

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.lengths import Metres
    from netlister.rules.analysis import Analysis

DOCUMENT = """A place on the rail is far from any feeder.

## What it finds

Plain track with a place from which it is further along the rails to the nearest feed than half of `limits:
feeder-spacing` (0.9 m where it is not stated, so 450 mm; 1.8 m is said to do where all joiners are soldered).

## Why it matters

Rail is a poor conductor next to wire: a metre of nickel silver, code 100, loses as much as five to eight metres of a
bus of 1.5 to 2.5 mm2 (derived: 57 mohm/m against 12 and 7 mohm/m).

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 2 m}
feeds:
  - {to: line}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 2 m}
feeds:
  - {to: line, at: 400 mm}
  - {to: line, at: 1 m}
  - {to: line, at: 1.6 m}
```

## How to mend it

Another feeder, or the one that is there in the middle of the piece. This is advice; `voltage-drop` calculates.

## When it is meant

Where `netlister drop` says that the volts are good, few feeders will do.
"""


def judge(analysis: Analysis, _: str) -> Iterator[Breach[tuple[Metres, Metres]]]:
    """Every piece of plain track with a place far from its feeds."""
    from netlister.volts.spacing import metres_to
    from netlister.volts.values import limit

    most = limit(analysis.layout, "feeder-spacing") / 2
    found = metres_to(analysis.survey.network)
    for piece in analysis.layout.pieces:
        if found.get(piece, (0.0, 0.0))[0] > most * (1 + 1e-9):
            yield Breach("feeder-spacing", piece, ALWAYS, found[piece])


def tell(analysis: Analysis, broken: Breach[tuple[Metres, Metres]]) -> Told:
    """Say how far it is."""
    from netlister.volts.feeders import feed_entry
    from netlister.volts.likes import Likes

    way, at = broken.about
    piece = broken.subject
    message = (
        f"'{piece}' has a place, {length_text(at)} along it, that is {length_text(way)} of rail from the nearest feed"
    )
    fix = f"add a feeder to '{piece}' near there, from where its poles come now, not from the bus"
    own = Likes(analysis.circuit).of(piece)
    if own is not None and analysis.layout.netlist:
        fix = f"draw a 'feed' for each pole of '{piece}', with {length_text(at)} in the field 'At'"
    elif own is not None:
        fix = f"add a feed to '{piece}' near there, as in '{feed_entry(analysis.layout, own, at)}'"
    return Told(Severity.NOTE, message, fix, (piece,), (), (analysis.layout.pieces[piece].span,))


RULE = rule("feeder-spacing", DOCUMENT, whole, judge, tell, default=False)
