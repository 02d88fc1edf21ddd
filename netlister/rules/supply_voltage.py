"""The rule `supply-voltage`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS
from netlister.quantity import show
from netlister.rules.model import Breach, Told, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Supply
    from netlister.rules.analysis import Analysis

MOST = 24.0
"""V that a supply of a model railway gives at the most; the limit of the file format."""

DANGEROUS = 50.0
"""V, ac or dc, above which touching it can hurt; the limit of the file format."""

DOCUMENT = """A supply has more volts than a model railway bears.

## What it finds

A supply of more than 24 V: a warning. Above 50 V, of alternating or direct current, an error. The voltage that counts
is that on the rails and wires, behind the transformer.

## Why it matters

Most decoders, lamps and motors are built for no more than 24 V (common practice, no published source). Above 50 V rails
that anybody can touch are dangerous (50 V of alternating current is where extra-low voltage ends in IEC 61140, from
memory; your local code may say less), and 230 V or 120 V on them kill. Mains belongs behind the closed case of an
approved transformer, and work on it to a licensed electrician.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 30 V}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
```

## How to mend it

Write what a meter shows between the two rails, not what the transformer draws from the mains. If it is true, use
another supply.

## When it is meant

A large scale that runs on up to 24 V is not told. More than that: allow it with a comment, if its maker's papers say
so.
"""


def subjects(analysis: Analysis) -> list[str]:
    """Every supply."""
    return list(analysis.layout.supplies)


def judge(analysis: Analysis, subject: str) -> Iterator[Breach[Supply]]:
    """Whether a supply has too many volts."""
    if analysis.layout.supplies[subject].voltage > MOST:
        yield Breach("supply-voltage", subject, ALWAYS, analysis.layout.supplies[subject])


def tell(analysis: Analysis, broken: Breach[Supply]) -> Told:  # noqa: ARG001
    """Say how many volts it has."""
    supply = broken.about
    volts = show(supply.voltage, "V", 3)
    if supply.voltage > DANGEROUS:
        message = (
            f"'{supply.name}' puts {volts} on rails and wires that can be touched: more than {DANGEROUS:g} V can kill"
        )
        fix = (
            "write the voltage behind the transformer; if it is true, do not connect it: use an approved supply of low "
            "voltage, and leave mains to a licensed electrician"
        )
        return Told(Severity.ERROR, message, fix, (), (), (supply.span,))
    message = f"'{supply.name}' has {volts}, more than the {MOST:g} V that model railways are built for"
    fix = "write what a meter shows between the two rails; if it is true, use a supply of less"
    return Told(Severity.WARNING, message, fix, (), (), (supply.span,))


RULE = rule("supply-voltage", DOCUMENT, subjects, judge, tell)
