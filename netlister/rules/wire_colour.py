"""The rule `wire-colour`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.colours import EARTH, FROG, SWITCHED, ColourKey, colour_plan, spoken, spoken_key
from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS
from netlister.rules.model import WHOLE, Breach, Told, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.runs import Run
    from netlister.rules.analysis import Analysis

DOCUMENT = """Colours of wires do not tell the poles apart.

## What it finds

As the layout writes them (`colours` of a bus, `colour` of a wire): two poles, or the same pole of two districts, in one
colour; one pole of one district in two colours; green and yellow together for anything at all, since no wire of a
layout is a protective earth.

## Why it matters

A year later the colour is all that one sees of a wire. Where red is pole A on one bus and pole B on another, somebody
joins the two. Green and yellow are kept for protective earth: whoever finds such a wire takes it for safe to touch.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
buses: {main: {colours: {A: BN, B: BN}}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
buses: {main: {colours: {A: BN, B: BU}}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
```

## How to mend it

Give each pole of each district a colour of its own. `netlister schedule` chooses colours for all wires of which the
layout says none, and none that is taken.

## When it is meant

Where the wire is laid already, and labelled at both ends: allow it with a comment.
"""


class ColourFault(NamedTuple):
    """What is wrong with colours: the message, and the runs that show it."""

    message: str
    fix: str
    runs: tuple[Run, ...]


def subjects(analysis: Analysis) -> tuple[str, ...]:
    """The whole layout, where it says any colour: which pole a wire has depends on all others."""
    layout = analysis.layout
    stated = any(bus.colours for bus in layout.buses.values()) or any(link.colour for link in layout.links)
    return WHOLE if stated else ()


def judge(analysis: Analysis, _: str) -> Iterator[Breach[ColourFault]]:
    """Two poles in one colour, one in two, and green-yellow."""
    made = colour_plan(analysis.layout)
    poles = {key: found for key, found in made.stated.items() if key not in {FROG, SWITCHED}}
    for key, found in poles.items():
        yield from _two_colours(key, found)
    by_colour: dict[str, dict[ColourKey, Run]] = {}
    for key, found in poles.items():
        for colour, run in found:
            by_colour.setdefault(colour, {}).setdefault(key, run)
    for colour, keys in by_colour.items():
        if len(keys) > 1:
            names = [spoken_key(key) for key in keys]
            message = (
                f"{spoken(colour)} is the colour of {' and of '.join(names)}: two poles or districts in one colour"
            )
            fix = f"give {names[-1]} a colour of its own"
            yield Breach(
                "wire-colour", "/".join(names), ALWAYS, ColourFault(message, fix, tuple(keys.values())), colour
            )
    for wire in made.wires:
        if wire.run.colour in EARTH:
            message = f"the wire '{wire.run.id}' is {spoken(wire.run.colour)}, which is kept for protective earth"
            fix = "take another colour; protective earth is a matter for the local code and a licensed person"
            yield Breach("wire-colour", wire.run.id, ALWAYS, ColourFault(message, fix, (wire.run,)), "earth")


def _two_colours(key: ColourKey, found: list[tuple[str, Run]]) -> Iterator[Breach[ColourFault]]:
    first: dict[str, Run] = {}
    for colour, run in found:
        first.setdefault(colour, run)
    if len(first) > 1:
        said = " and ".join(f"{spoken(colour)} ('{run.id}')" for colour, run in first.items())
        message = f"{spoken_key(key)} has two colours: {said}"
        fix = f"make them all {next(iter(first))}, or put a breaker before one bus if it is a district of its own"
        yield Breach("wire-colour", spoken_key(key), ALWAYS, ColourFault(message, fix, tuple(first.values())))


def tell(analysis: Analysis, broken: Breach[ColourFault]) -> Told:  # noqa: ARG001
    """Say which colour means what, and where it is written."""
    said: ColourFault = broken.about
    spans = tuple(dict.fromkeys(run.span for run in said.runs))
    return Told(Severity.WARNING, said.message, said.fix, (), (), spans)


RULE = rule("wire-colour", DOCUMENT, subjects, judge, tell)
