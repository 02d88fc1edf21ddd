"""The rule `unit-joins`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.districts import district_of
from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import NEVER
from netlister.rules.model import Breach, Told, rule

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.numbers import PoleNumber
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Poles
    from netlister.rules.analysis import Analysis

DOCUMENT = """A frog unit joins its own bus to what else feeds its frog.

## What it finds

A frog that gets a pole by blades, a contact or a wire, and has a frog unit that hangs on something else: another
supply, another power district, or the bus where the frog lies in the section of an automatic reverser.

## Why it matters

A frog unit is wired to its frog all the time, and turns over when it sees a short. Beside blades of the same bus that
is right. Here it joins two supplies, or two districts, over the frog; or it fights the reverser. Where the two supplies
are not in step there is a short with either pole.

## Fails

```yaml
format: netlister/1
supplies: {b1: {type: dcc, voltage: 15 V}, b2: {type: dcc, voltage: 15 V}}
track:
  T1: {kind: live-frog, hand: right}
frog-units: {U1: {feeds: T1.frog, from: b2}}
feeds:
  - {to: T1, from: b1}
```

## Passes

```yaml
format: netlister/1
supplies: {b1: {type: dcc, voltage: 15 V}, b2: {type: dcc, voltage: 15 V}}
track:
  T1: {kind: live-frog, hand: right}
frog-units: {U1: {feeds: T1.frog, from: b1}}
feeds:
  - {to: T1, from: b1}
```

## How to mend it

Hang the unit on the bus of the turnout's stock rails. Inside a reversing section use a changeover contact in its place,
its throws on the stock rails of its own turnout.

## When it is meant

Never.
"""


class TwoSources(NamedTuple):
    """A unit, its frog, the other pole there, whether only in another district than the unit's, and the turnout."""

    unit: str
    frog: str
    pole: str
    district: bool
    parts: tuple[str, ...]


def subjects(analysis: Analysis) -> Iterable[int]:
    """Every frog unit, by its number among them."""
    return range(len(analysis.poles.units))


def called(analysis: Analysis, subject: int) -> str:
    """The name of a unit."""
    return analysis.poles.units[subject].name


def judge(analysis: Analysis, subject: int) -> Iterator[Breach[TwoSources]]:
    """When the frog of a unit has a pole that the unit does not hang on."""
    name = called(analysis, subject)
    diagrams = analysis.poles.diagrams
    whole = _others(analysis.poles, subject)
    parted = [] if analysis.districts is None else _others(analysis.districts, subject)
    function = diagrams.any_of([f for _, f in (*whole, *parted)])
    if function == NEVER:
        return
    poles = analysis.poles if whole else analysis.districts
    assert poles is not None
    pole = next(p for p, f in (whole or parted) if analysis.poles.possible(f))
    frog = analysis.layout.units[name].frog
    about = TwoSources(name, frog, poles.circuit.poles[pole].name, not whole, (Terminal.of(frog).owner,))
    yield Breach("unit-joins", name, function, about)


def _others(poles: Poles, number: int) -> list[tuple[PoleNumber, Function]]:
    """The poles that the frog of a unit has of something else than the unit hangs on, and when."""
    unit = poles.units[number]
    assert unit.node is not None
    found = [(p, f) for p, f in poles.has(poles.nets.of[unit.node]) if p < poles.count and p not in unit.inputs]
    return [(p, f) for p, f in found if poles.possible(f)]


def tell(analysis: Analysis, broken: Breach[TwoSources]) -> Told:
    """Say what a unit joins."""
    joined = broken.about
    unit = analysis.layout.units[joined.unit]
    pole, district = district_of(joined.pole)
    (piece,) = joined.parts
    source = f"the district '{district}'" if joined.district else pole
    device = "" if joined.district else next(p.device for p in analysis.circuit.poles if p.name == pole)
    if device:
        fix = f"use a changeover contact in place of '{joined.unit}', its throws on the stock rails of '{piece}'"
    else:
        fix = f"feed '{joined.unit}' from the bus of the stock rails of '{piece}'"
    return Told(
        Severity.WARNING if joined.district else Severity.ERROR,
        f"'{joined.unit}' hangs on '{unit.bus}', and its frog {joined.frog} has a pole from {source} as well: "
        "the unit joins the two",
        fix,
        (piece,),
        (),
        (unit.span, analysis.layout.pieces[piece].span),
    )


RULE = rule("unit-joins", DOCUMENT, subjects, judge, tell, called=called)
