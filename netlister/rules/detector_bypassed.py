"""The rule `detector-bypassed`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.rules.bypass import Bypass, BypassWords, bypasses, told_bypass
from netlister.rules.model import WHOLE, Breach, Told, Unproved, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.rules.analysis import Analysis

DOCUMENT = """Current reaches a block past its detector.

## What it finds

A rail behind a block detector that has the same pole on a path that avoids the detector, or that leads through another
one. And a frog that gets a pole ahead of the detector, from the bus or from a frog unit, where the stock rail of that
pole is behind it.

## Why it matters

Nothing shorts and trains run, but the detector sees only part of the current, or none: a block with a train in it shows
as clear, or two blocks show the same train. With a frog it is the wheels on the frog that are not seen.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  west: {length: 900 mm}
  east: {length: 900 mm}
joints:
  - {from: west, to: east}
feeds:
  - {to: west, B: right}
components:
  D1: {kind: detector, from: main.A, to: west.left}
  D2: {kind: detector, from: main.A, to: east.left}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  west: {length: 900 mm}
  east: {length: 900 mm}
joints:
  - {from: west, to: east, insulate: left}
feeds:
  - {to: west, B: right}
components:
  D1: {kind: detector, from: main.A, to: west.left}
  D2: {kind: detector, from: main.A, to: east.left}
```

## How to mend it

Insulate the rail that is sensed wherever the block ends, take every feed of the block from behind its detector, and the
throws of a frog's contact from the stock rails of its own turnout.

## When it is meant

Where a frog is too short to matter, or lies behind a frog unit on the bus: allow it with a comment.
"""

WORDS = BypassWords(
    lambda detector, pole: f"the block of the {detector} gets current past it, from {pole}",
    lambda detector, other: f"the blocks of the detectors '{detector}' and '{other}' are joined by metal",
    lambda detector, source, frog: (
        f"{frog.terminal} gets its pole {source}, while {frog.rail} is behind the {detector}: "
        "wheels on the frog are not seen"
    ),
    "insulate the rail that is sensed where the block ends, and take its feeds from behind its detector",
)


def subjects(analysis: Analysis) -> tuple[str, ...]:
    """The whole layout, where it has detectors."""
    return WHOLE if analysis.behind_detectors is not None else ()


def judge(analysis: Analysis, _: str) -> Iterator[Breach[Bypass] | Unproved]:
    """What gets its current past a detector, and when."""
    behind = analysis.behind_detectors
    assert behind is not None
    yield from bypasses(analysis, "detector-bypassed", behind)


def tell(analysis: Analysis, broken: Breach[Bypass]) -> Told:
    """Say what goes past which detector, and along what."""
    behind = analysis.behind_detectors
    assert behind is not None
    return told_bypass(analysis, behind, broken, WORDS)


RULE = rule("detector-bypassed", DOCUMENT, subjects, judge, tell)
