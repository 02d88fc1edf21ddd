"""The rule `run-through`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.poles.diagram import NEVER
from netlister.rules.electric import clash
from netlister.rules.gap_clash import called, gaps_of, insulated_joints
from netlister.rules.model import Breach, Told, rule
from netlister.rules.telling import told_sides

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Joint
    from netlister.poles.diagram import Function
    from netlister.routes.settings import EndOf
    from netlister.rules.analysis import Analysis

DOCUMENT = """A wheel that crosses a gap although no route over it is set joins two poles.

## What it finds

An insulated joint whose two sides have different poles while a turnout is set against whoever comes over it: an end
there is on no route that is set, or a rail continues a frog from a leg that is not set. It is the case that `gap-clash`
leaves out. On a live frog that is how it is meant, so it is shown only where it is asked for, with
`--select run-through`.

## Why it matters

A train that passes the joint in spite of the turnout, or stands on it, trips the protection. That stops it before it
reaches the blades, and all other trains of the district with it. Where that is not wanted, protect the joint with a
signal or feed the track so that it is dead while the turnout is set against it.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  tannery: {length: 600 mm}
  shed: {length: 300 mm}
  T1: {kind: live-frog, hand: right}
joints:
  - {from: tannery, to: T1.toe}
  - {from: T1.diverging, to: shed, insulate: vee}
feeds:
  - {to: [tannery, shed]}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  tannery: {length: 600 mm}
  shed: {length: 300 mm}
  T1: {kind: insulated-frog, hand: right, jumpers: true}
joints:
  - {from: tannery, to: T1.toe}
  - {from: T1.diverging, to: shed, insulate: vee}
feeds:
  - {to: [tannery, shed]}
```

## How to mend it

Nothing is wrong. To keep the protection from tripping let the track beyond the joint be dead while the turnout is set
against it: take its feed through a contact of the machine, or use an insulated frog.

## When it is meant

Beyond every live frog whose leg has a feed of its own. Positions that an interlocking rules out are written under
`never`.
"""


def judge(analysis: Analysis, at: EndOf) -> Iterator[Breach[Joint]]:
    """When an insulated joint clashes for a train that runs against a turnout."""
    joint = analysis.joint(at)
    function = _against(analysis, joint)
    if function:
        yield Breach("run-through", joint.name, function, joint)


def _pairs(analysis: Analysis, joint: Joint) -> Iterator[tuple[str, str, Function]]:
    """The insulated pairs of a joint, with the states in which `gap-clash` leaves them out."""
    diagrams, pieces = analysis.poles.diagrams, analysis.layout.pieces
    (a, end_a), (b, end_b) = joint.start, joint.end
    ends = diagrams.both(analysis.settings.end(pieces[a], end_a), analysis.settings.end(pieces[b], end_b))
    for gap in gaps_of(analysis, joint):
        yield gap.a, gap.b, diagrams.negate(diagrams.both(ends, gap.counts))


def _against(analysis: Analysis, joint: Joint) -> Function:
    pairs = [(analysis.net(a), analysis.net(b), when) for a, b, when in _pairs(analysis, joint) if when != NEVER]
    return clash(analysis, pairs) if pairs else NEVER


def tell(analysis: Analysis, broken: Breach[Joint]) -> Told:
    """Say which two sides have which poles."""
    joint: Joint = broken.about
    fix = (
        "nothing is wrong; if the protection is not to trip, let the track beyond be dead while the turnout is set "
        "against it"
    )
    if any(analysis.piece(piece).kind.framed for piece, _ in (joint.start, joint.end)):
        fix = "see 'metal-buffer': cut both rails in front of the buffer"
    names, rails, path = told_sides(analysis, _pairs(analysis, joint), analysis.partly_in(broken.function))
    return Told(
        Severity.NOTE,
        f"a wheel that crosses this gap although no route over it is set joins {names[0]} on {rails[0]} with "
        f"{names[1]} on {rails[1]}",
        fix,
        tuple(sorted({*joint.pieces})),
        path,
        (joint.span,),
    )


RULE = rule("run-through", DOCUMENT, insulated_joints, judge, tell, default=False, called=called)
