"""The rule `frog-outside-section`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import NEVER
from netlister.rules import gap_clash
from netlister.rules.model import Breach, Local, Told, rule
from netlister.rules.telling import told_path

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.numbers import PoleNumber
    from netlister.layout.model import Piece
    from netlister.poles.diagram import Function
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis

DOCUMENT = """A frog inside a reversing section is fed from outside it.

## What it finds

A turnout whose stock rails an automatic reverser feeds, and whose frog has a pole of the bus: its contact is wired to
the bus instead of to the rails of its own turnout.

## Why it matters

While the reverser stands one way all is well, and a meter finds nothing. As soon as it has turned the section over the
frog has the wrong pole, and a wheel that comes onto it is a short.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line:   {length: 1 m}
  inside: {length: 2 m}
  T1: {kind: live-frog-bonded, hand: left}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: main.A, diverging: main.B}}}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: inside, insulate: both}
  - {from: inside, to: T1.toe}
feeds:
  - {to: line}
  - {to: inside, from: R1}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line:   {length: 1 m}
  inside: {length: 2 m}
  T1: {kind: live-frog-bonded, hand: left}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}}}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: inside, insulate: both}
  - {from: inside, to: T1.toe}
feeds:
  - {to: line}
  - {to: inside, from: R1}
```

## How to mend it

Wire the two throws of the frog's contact to the stock rails of its own turnout, or to the outputs of the reverser.

## When it is meant

Never. A frog that a reverser or a frog unit feeds while its stock rails are on the bus is another matter, and is right.
"""


class Meeting(NamedTuple):
    """A frog beside a rail of a reverser's section: the two terminals, the reverser, the frog's pole, and when."""

    frog: str
    rail: str
    reverser: str
    pole: PoleNumber
    function: Function


def subjects(analysis: Analysis) -> list[str]:
    """Every piece with blades, where there is an automatic reverser."""
    if all(device.kind != "reverser" for device in analysis.circuit.devices):
        return []
    return [piece.name for piece in analysis.layout.pieces.values() if piece.kind.bladed]


def judge(analysis: Analysis, name: str) -> Iterator[Breach[tuple[Piece, tuple[Meeting, ...]]]]:
    """When a frog in a reverser's section has a pole of a bus, and no wheel path clashes in any case."""
    piece = analysis.piece(name)
    found = tuple(_meetings(analysis, piece))
    if found:
        diagrams = analysis.poles.diagrams
        function = diagrams.any_of([meeting.function for meeting in found])
        function = diagrams.without(function, gap_clash.inner(analysis, piece))
        yield Breach("frog-outside-section", name, function, (piece, found))


def near(_: Analysis, change: Reached) -> set[str]:
    """The pieces that a change touches."""
    return change.pieces


def there(analysis: Analysis, name: str) -> bool:
    """Whether a piece has blades, and there is a reverser."""
    piece = analysis.layout.pieces.get(name)
    reversers = any(device.kind == "reverser" for device in analysis.circuit.devices)
    return reversers and piece is not None and piece.kind.bladed


def _meetings(analysis: Analysis, piece: Piece) -> Iterator[Meeting]:
    """Neighbours in a wheel path: a frog with one pole of a bus, and another rail with one output of a reverser."""
    poles, diagrams = analysis.circuit.poles, analysis.poles.diagrams
    gaps = [gap for number in range(len(piece.kind.routes)) for gap in gap_clash.inner_gaps(analysis, piece, number)]
    for gap in gaps:
        for frog, rail in ((gap.a, gap.b), (gap.b, gap.a)):
            if not piece.kind.is_frog(Terminal.of(frog).own) or piece.kind.is_frog(Terminal.of(rail).own):
                continue
            for p, f in analysis.alone(analysis.net(frog))[1]:
                for q, g in analysis.alone(analysis.net(rail))[1]:
                    if p < len(poles) and q < len(poles) and poles[q].device and not poles[p].device:
                        function = diagrams.both(gap.counts, diagrams.both(f, g))
                        if function != NEVER:
                            yield Meeting(frog, rail, poles[q].device, p, function)


def tell(analysis: Analysis, broken: Breach[tuple[Piece, tuple[Meeting, ...]]]) -> Told:
    """Say which frog has which pole, and whose section it lies in."""
    piece, meetings = broken.about
    state = analysis.state_in(broken.function)
    here: Meeting = next(m for m in meetings if analysis.poles.diagrams.value(m.function, state))
    pole = analysis.circuit.poles[here.pole].name
    path = analysis.paths.find(here.pole, analysis.circuit.node[here.frog], state)
    return Told(
        Severity.WARNING,
        f"{here.frog} has {pole} from outside, and {here.rail} beside it belongs to the section of the reverser "
        f"'{here.reverser}': when that turns over, a wheel on the frog is a short",
        f"wire the frog's contact to the stock rails of '{piece.name}', or to {here.reverser}.A and {here.reverser}.B",
        (piece.name,),
        told_path(analysis, path),
        tuple(c.span for c in analysis.layout.contacts if c.common == here.frog) or (piece.span,),
    )


RULE = rule("frog-outside-section", DOCUMENT, subjects, judge, tell, local=Local(near, there))
