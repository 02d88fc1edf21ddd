"""The rule `frog-on-other-supply`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import NEVER
from netlister.rules import gap_clash
from netlister.rules.model import Breach, Told, rule
from netlister.rules.telling import pole_name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.numbers import PoleNumber
    from netlister.poles.diagram import Function
    from netlister.rules.analysis import Analysis

DOCUMENT = """A frog gets its pole from another supply than the rails of its turnout.

## What it finds

Where supplies share a return (`common`): a frog on a route that is set, whose pole comes from one supply, by its
contact or frog unit, beside a rail of its own turnout that has its pole from another. Where no return is shared that is
`dead-track`.

## Why it matters

With both supplies on, all runs and a meter finds nothing. But a train that is driven by one controller is driven by the
other for the length of the frog: it jerks, or it stops there while the other one stands at zero, and its wheels join
the two outputs as they cross.

## Fails

```yaml
format: netlister/1
supplies: {c1: {type: dc, voltage: 12 V}, c2: {type: dc, voltage: 12 V, common: c1.B}}
track:
  T1:   {kind: live-frog-bonded, hand: right}
  yard: {length: 900 mm}
machines:
  M1: {throws: [T1], contacts: {f: {common: T1.frog, through: T1.stock-right, diverging: c2.A}}}
feeds:
  - {to: T1, from: c1}
  - {to: yard, from: c2}
```

## Passes

```yaml
format: netlister/1
supplies: {c1: {type: dc, voltage: 12 V}, c2: {type: dc, voltage: 12 V, common: c1.B}}
track:
  T1:   {kind: live-frog-bonded, hand: right}
  yard: {length: 900 mm}
machines:
  M1: {throws: [T1], contacts: {f: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
feeds:
  - {to: T1, from: c1}
  - {to: yard, from: c2}
```

## How to mend it

Take the throws of the frog's contact from the stock rails of its own turnout: then the frog follows the turnout,
whatever feeds that.

## When it is meant

Never.
"""


class OtherSupply(NamedTuple):
    """A frog and a rail beside it, and the poles that they have."""

    frog: str
    rail: str
    pole: PoleNumber
    own: PoleNumber


def subjects(analysis: Analysis) -> list[str]:
    """Every piece with frogs of metal, where supplies share a return."""
    if not any(supply.common for supply in analysis.layout.supplies.values()):
        return []
    return [piece.name for piece in analysis.layout.pieces.values() if piece.kind.frogs]


def judge(analysis: Analysis, name: str) -> Iterator[Breach[OtherSupply]]:
    """When a frog has a pole of another supply than a rail beside it, and the wheels on both would not clash."""
    piece, diagrams = analysis.piece(name), analysis.poles.diagrams
    result, about = NEVER, None
    for route in range(len(piece.kind.routes)):
        for gap in gap_clash.inner_gaps(analysis, piece, route):
            for frog, rail in ((gap.a, gap.b), (gap.b, gap.a)):
                if not piece.kind.is_frog(Terminal.of(frog).own) or piece.kind.is_frog(Terminal.of(rail).own):
                    continue
                for p, q, function in _apart(analysis, frog, rail):
                    when = diagrams.both(gap.counts, function)
                    if about is None and analysis.poles.possible(when):
                        about = OtherSupply(frog, rail, p, q)
                    result = diagrams.either(result, when)
    if about is not None:
        yield Breach("frog-on-other-supply", name, result, about)


def _apart(analysis: Analysis, frog: str, rail: str) -> Iterator[tuple[PoleNumber, PoleNumber, Function]]:
    """The poles of two supplies that a frog and a rail have alone, of one letter, and when."""
    poles, diagrams = analysis.circuit.poles, analysis.poles.diagrams
    for q, g in analysis.alone(analysis.net(rail))[1]:
        for p, f in analysis.alone(analysis.net(frog))[1]:
            if q >= len(poles) or poles[q].device:
                continue
            if p >= len(poles):  # a frog unit: it may give either pole of its own supply
                apart = q not in analysis.poles.units[p - len(poles)].inputs
            else:
                apart = p != q and not poles[p].device and poles[p].letter == poles[q].letter
            if apart:
                yield p, q, diagrams.both(f, g)


def tell(analysis: Analysis, broken: Breach[OtherSupply]) -> Told:
    """Say where the frog has its pole from, and where the rail beside it."""
    about, layout = broken.about, analysis.layout
    piece = layout.pieces[broken.subject]
    count = len(analysis.circuit.poles)
    over = f" (over the frog unit '{pole_name(analysis, about.pole)}')" if about.pole >= count else ""
    source = layout.units[pole_name(analysis, about.pole)].bus if over else pole_name(analysis, about.pole)
    unit = f"feed the frog unit from the bus of the stock rails of '{piece.name}'"
    return Told(
        Severity.WARNING,
        f"{about.frog} is fed by {source}{over} and {about.rail} beside it by {pole_name(analysis, about.own)}: "
        "two supplies drive one train there",
        unit if over else f"take the throws of the frog's contact from the stock rails of '{piece.name}'",
        (piece.name,),
        (),
        tuple(c.span for c in layout.contacts if c.common == about.frog) or (piece.span,),
    )


RULE = rule("frog-on-other-supply", DOCUMENT, subjects, judge, tell)
