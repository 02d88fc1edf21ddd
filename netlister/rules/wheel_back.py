"""The rule `wheel-back`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.build import setting_when
from netlister.finding import Severity
from netlister.layout.terminal import named
from netlister.poles.diagram import NEVER
from netlister.rules.electric import clash
from netlister.rules.model import Breach, Told, rule
from netlister.rules.telling import told_sides

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Piece
    from netlister.poles.diagram import Function
    from netlister.rules.analysis import Analysis

DOCUMENT = """The open blade has another pole than the stock rail beside it.

## What it finds

A turnout whose open blade has one pole while the stock rail beside it has another, in some position. It is a property
of the construction and no mistake: it is shown only where it is asked for, with `--select wheel-back`.

## Why it matters

A wheel whose back is a little too close to that of the other wheel touches the open blade as it passes and joins the
two poles: a blink of a short, with some vehicles only. Where the blades are bonded to their stock rails nothing
happens.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  tannery: {length: 600 mm}
  T1: {kind: live-frog, hand: right}
joints:
  - {from: tannery, to: T1.toe}
feeds:
  - {to: tannery}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  tannery: {length: 600 mm}
  T1: {kind: insulated-frog, hand: right, jumpers: true}
joints:
  - {from: tannery, to: T1.toe}
feeds:
  - {to: tannery}
```

## How to mend it

Bond each blade to its stock rail and part both from the frog (`live-frog-bonded`), or keep all wheels in gauge and the
blades open as wide as the standard wants.

## When it is meant

With every live frog that is all one piece. Allow it on the line of the turnout, or do not ask for it.
"""


def subjects(analysis: Analysis) -> list[str]:
    """Every piece with open blades."""
    return [piece.name for piece in analysis.layout.pieces.values() if piece.kind.blades]


def judge(analysis: Analysis, name: str) -> Iterator[Breach[Piece]]:
    """When an open blade of a piece has another pole than its stock rail."""
    piece = analysis.piece(name)
    if any(analysis.net(named(name, b.open)) != analysis.net(named(name, b.stock)) for b in piece.kind.blades):
        function = _touching(analysis, piece)
        if function:
            yield Breach("wheel-back", name, function, piece)


def _pairs(analysis: Analysis, piece: Piece) -> Iterator[tuple[str, str, Function]]:
    """The open blades and their stock rails, with the states in which they are so."""
    for blade in piece.kind.blades:
        when = analysis.poles.condition(setting_when(analysis.circuit, piece.name, blade.when))
        yield piece.terminal(blade.open), piece.terminal(blade.stock), when


def _touching(analysis: Analysis, piece: Piece) -> Function:
    result = NEVER
    for blade, stock, when in _pairs(analysis, piece):
        here = clash(analysis, [(analysis.net(blade), analysis.net(stock), when)])
        result = analysis.poles.diagrams.either(result, here)
    return result


def tell(analysis: Analysis, broken: Breach[Piece]) -> Told:
    """Say which blade has which pole."""
    piece: Piece = broken.about
    names, rails, path = told_sides(analysis, _pairs(analysis, piece), analysis.partly_in(broken.function))
    return Told(
        Severity.NOTE,
        f"the open blade, {rails[0]}, has {names[0]} beside {rails[1]} with {names[1]}: a tight wheel joins them",
        "keep the wheels in gauge and the blades wide open; or bond the blades to their stock rails (live-frog-bonded)",
        (piece.name,),
        path,
        (piece.span,),
    )


RULE = rule("wheel-back", DOCUMENT, subjects, judge, tell, default=False)
