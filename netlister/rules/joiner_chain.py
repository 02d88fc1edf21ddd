"""The rule `joiner-chain`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS
from netlister.rules.model import Breach, Told, rule, whole
from netlister.rules.telling import from_source

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.rules.analysis import Analysis

DOCUMENT = """Too many joiners lie between a rail and the nearest feed.

## What it finds

A piece of track with a rail whose nearest feed lies beyond more metal joiners than `limits: joiners` allows (2 where
it is not stated).

## Why it matters

Joiners work loose and oxidise. A new one has some milliohms, a bad one has ohms or is open (common practice, no
published figure), and one bad joiner kills everything beyond it.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  one: {length: 200 mm}
  two: {length: 200 mm}
  three: {length: 200 mm}
  four: {length: 200 mm}
joints:
  - {from: one, to: two}
  - {from: two, to: three}
  - {from: three, to: four}
feeds:
  - {to: one}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  one: {length: 200 mm}
  two: {length: 200 mm}
  three: {length: 200 mm}
  four: {length: 200 mm}
joints:
  - {from: one, to: two}
  - {from: two, to: three}
  - {from: three, to: four}
feeds:
  - {to: two}
```

## How to mend it

Feed the piece, or one nearer to it; or solder the joiners and raise the limit.

## When it is meant

Soldered joiners: `limits: {joiners: 9}`.
"""


def judge(analysis: Analysis, _: str) -> Iterator[Breach[int]]:
    """Every piece whose feed is too many joiners away."""
    from netlister.volts.spacing import joiners_to
    from netlister.volts.values import limit

    most = limit(analysis.layout, "joiners")
    found = joiners_to(analysis.survey.network)
    for piece in analysis.layout.pieces:
        if found.get(piece, 0) > most:
            yield Breach("joiner-chain", piece, ALWAYS, found[piece])


def tell(analysis: Analysis, broken: Breach[int]) -> Told:
    """Say how many joiners lie between."""
    from netlister.volts.values import limit

    piece, most = broken.subject, limit(analysis.layout, "joiners")
    message = f"'{piece}' has a rail with {broken.about} metal joiners between it and the nearest feed (limit {most:g})"
    there = f"'{piece}' itself{from_source(analysis, piece)}"
    fix = f"feed {there}, or solder the joiners and say so with 'limits: {{joiners: {broken.about}}}'"
    return Told(Severity.WARNING, message, fix, (piece,), (), (analysis.layout.pieces[piece].span,))


RULE = rule("joiner-chain", DOCUMENT, whole, judge, tell, default=False)
