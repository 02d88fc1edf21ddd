"""The rule `expectation`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import values_of
from netlister.finding import Severity
from netlister.poles.diagram import NEVER
from netlister.rules.electric import piece_dead, route_dead
from netlister.rules.model import Broken, Rule, Told

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Expectation, Piece
    from netlister.rules.model import Analysis

DOCUMENT = """A track is not live or dead as its designer means it to be.

## What it finds

An entry of `expect` that does not hold in some state that its `when` covers. Live means that every set route of the
piece can drive a train, dead that none can.

## Why it matters

What is written under `expect` is what the layout is for: a storage siding that goes dead, a main line that never does.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dc, voltage: 12 V}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
expect:
  - {track: line, is: dead}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dc, voltage: 12 V}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
expect:
  - {track: line, is: live}
```

## How to mend it

Change the wiring, or what is written under `expect` where the wiring is what you want.

## When it is meant

Then the entry is wrong: drop it, or narrow its `when`.
"""


class About(NamedTuple):
    """An entry that does not hold for a piece."""

    piece: Piece
    entry: Expectation


def find(analysis: Analysis) -> Iterator[Broken]:
    """Every piece for which some entry of `expect` does not hold."""
    entries: dict[str, list[Expectation]] = {}
    for entry in analysis.layout.expectations:
        for name in entry.pieces:
            entries.setdefault(name, []).append(entry)
    diagrams = analysis.poles.diagrams
    for name, listed in entries.items():
        piece = analysis.layout.pieces[name]
        result, first = NEVER, listed[0]
        for entry in listed:
            function = analysis.guarded("expectation", name, lambda p=piece, e=entry: _broken(analysis, p, e))  # type: ignore[misc]
            if function and result == NEVER:
                first = entry
            result = diagrams.either(result, function)
        if result:
            yield Broken("expectation", name, result, About(piece, first))


def _broken(analysis: Analysis, piece: Piece, entry: Expectation) -> int:
    diagrams = analysis.poles.diagrams
    when = diagrams.cube(values_of(analysis.circuit, entry.when))
    if entry.live:
        return diagrams.both(when, piece_dead(analysis, piece))
    live = NEVER
    for route in piece.kind.routes:
        set_and_live = diagrams.without(analysis.settings.route(piece, route), route_dead(analysis, piece, route))
        live = diagrams.either(live, set_and_live)
    return diagrams.both(when, live)


def tell(analysis: Analysis, broken: Broken) -> Told:  # noqa: ARG001
    """Say which entry does not hold."""
    piece, entry = broken.about
    meant, found = ("live", "dead") if entry.live else ("dead", "live")
    return Told(
        Severity.ERROR,
        f"'{piece.name}' is {found} where it is meant to be {meant}",
        "change the wiring, or what is written under 'expect'",
        (piece.name,),
        (),
        (entry.span, piece.span),
    )


RULE = Rule("expectation", DOCUMENT, find, tell)
