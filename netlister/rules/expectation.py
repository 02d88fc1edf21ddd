"""The rule `expectation`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import values_of
from netlister.finding import Severity
from netlister.poles.diagram import NEVER, LimitError
from netlister.poles.reach import UnprovedError
from netlister.rules.electric import load_driven, piece_dead, route_dead
from netlister.rules.model import Breach, Local, Told, Unproved, rule

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.layout.model import Component, Expectation, Piece
    from netlister.poles.diagram import Function
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis

DOCUMENT = """A track is not live or dead as its designer means it to be.

## What it finds

An entry of `expect` that does not hold in some state that its `when` covers. Live means that every set route of the
piece can drive a train, dead that none can. A load (`load: coil`) is live where its two leads have the two poles of one
supply, and current can flow from one to the other.

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

    piece: Piece | Component
    entry: Expectation


def subjects(analysis: Analysis) -> Iterable[str]:
    """Every piece that `expect` speaks of."""
    return analysis.expected


def judge(analysis: Analysis, name: str) -> Iterator[Breach[About] | Unproved]:
    """When some entry of `expect` does not hold for a piece."""
    diagrams = analysis.poles.diagrams
    result = NEVER
    first: Expectation | None = None
    for entry in analysis.entries_of(name):
        try:
            function = _broken(analysis, name, entry)
            if function and analysis.poles.possible(function):
                first = first or entry
                result = diagrams.either(result, function)
        except (LimitError, UnprovedError):
            yield Unproved("expectation", name)
    if first is not None:
        yield Breach("expectation", name, result, About(_named(analysis, name), first))


def near(_: Analysis, change: Reached) -> set[str]:
    """The pieces of which a change says something else."""
    return change.meant


def there(analysis: Analysis, name: str) -> bool:
    """Whether an entry speaks of a piece."""
    return name in analysis.expected


def _named(analysis: Analysis, name: str) -> Piece | Component:
    return analysis.layout.components.get(name) or analysis.piece(name)


def _broken(analysis: Analysis, name: str, entry: Expectation) -> Function:
    diagrams = analysis.poles.diagrams
    when = diagrams.cube(values_of(analysis.circuit, entry.when))
    load = analysis.layout.components.get(name)
    if load is not None:
        driven = load_driven(analysis, load)
        return diagrams.without(when, driven) if entry.live else diagrams.both(when, driven)
    piece = analysis.piece(name)
    if entry.live:
        return diagrams.both(when, piece_dead(analysis, piece))
    live = NEVER
    for route in piece.kind.routes:
        set_and_live = diagrams.without(analysis.settings.route(piece, route), route_dead(analysis, piece, route))
        live = diagrams.either(live, set_and_live)
    return diagrams.both(when, live)


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say which entry does not hold."""
    piece, entry = broken.about
    meant, found = ("live", "dead") if entry.live else ("dead", "live")
    return Told(
        Severity.ERROR,
        f"'{piece.name}' is {found} where it is meant to be {meant}",
        "change the wiring, or what is written under 'expect'",
        (piece.name,) if piece.name in analysis.layout.pieces else (),
        (),
        (entry.span, piece.span),
    )


RULE = rule("expectation", DOCUMENT, subjects, judge, tell, local=Local(near, there))
