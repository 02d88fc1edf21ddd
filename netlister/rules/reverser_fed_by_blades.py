"""The rule `reverser-fed-by-blades`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.poles.diagram import NEVER
from netlister.rules import gap_clash
from netlister.rules.model import Breach, Told, rule
from netlister.rules.telling import told_path

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.numbers import PoleNumber
    from netlister.layout.model import Joint
    from netlister.poles.diagram import Function
    from netlister.routes.settings import EndOf
    from netlister.rules.analysis import Analysis

DOCUMENT = """Beside the gap of an automatic reverser a rail has its pole over the blades of a turnout alone.

## What it finds

An insulated joint at the boundary of an automatic reverser's section, on a route that is set, where the rail on one
side would have no pole if the blades of turnouts made no contact.

## Why it matters

A reverser turns over when it sees the current of a short at its gap. A dirty blade may have ten ohms and more where it
lies against its stock rail (second-hand: readings of up to 30 ohm are told): too little current flows, the reverser
does not act, and the locomotive stops on the gap.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line:   {length: 1 m}
  inside: {length: 2 m}
  T1: {kind: live-frog, hand: left}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: inside, insulate: both}
feeds:
  - {to: line}
  - {to: inside, from: R1}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line:    {length: 1 m}
  between: {length: 150 mm}
  inside:  {length: 2 m}
  T1: {kind: live-frog, hand: left}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: between, insulate: vee}
  - {from: between, to: inside, insulate: both}
feeds:
  - {to: [line, between]}
  - {to: inside, from: R1}
```

## How to mend it

Put a short piece of track with a feed of its own between the turnout and the gap, or give the frog a contact beside its
blades.

## When it is meant

Where you have measured that the reverser acts there with clean and with dirty blades: allow it with a comment.
"""


class WeakGap(NamedTuple):
    """A rail at the gap of a reverser that only blades feed: its terminal, its pole, the reverser, and when."""

    rail: str
    pole: PoleNumber
    reverser: str
    function: Function


def subjects(analysis: Analysis) -> Iterable[EndOf]:
    """Every insulated joint, where there are automatic reversers and blades."""
    if all(device.kind != "reverser" for device in analysis.circuit.devices):
        return ()
    if all(not piece.kind.made for piece in analysis.layout.pieces.values()):
        return ()
    return gap_clash.insulated_joints(analysis)


def judge(analysis: Analysis, at: EndOf) -> Iterator[Breach[tuple[Joint, tuple[WeakGap, ...]]]]:
    """When a rail beside a joint at a reverser's boundary is fed by blades alone."""
    joint = analysis.joint(at)
    found = tuple(_weak(analysis, joint))
    if found:
        function = analysis.poles.diagrams.any_of([weak.function for weak in found])
        yield Breach("reverser-fed-by-blades", joint.name, function, (joint, found))


def _weak(analysis: Analysis, joint: Joint) -> Iterator[WeakGap]:
    diagrams, poles = analysis.poles.diagrams, analysis.circuit.poles
    settings, pieces = analysis.settings, analysis.layout.pieces
    for a, b, insulated in joint.pairs:
        if not insulated:
            continue
        sides = [[(p, f) for p, f in analysis.poles.has(analysis.net(t)) if p < len(poles)] for t in (a, b)]
        for (rail, near), far in (((a, sides[0]), sides[1]), ((b, sides[1]), sides[0])):
            for p, f in near:
                for q, g in far:
                    device = poles[p].device or poles[q].device
                    if not device or poles[p].device == poles[q].device:
                        continue
                    steady = diagrams.any_of([s for r, s in _without_blades(analysis, rail) if r == p])
                    function = diagrams.without(diagrams.both(f, g), steady)
                    for piece, end in (joint.start, joint.end):
                        function = diagrams.both(function, settings.end(pieces[piece], end))
                    if function != NEVER:
                        yield WeakGap(rail, p, device, function)


def _without_blades(analysis: Analysis, terminal: str) -> tuple[tuple[PoleNumber, Function], ...]:
    """The poles that a rail has without any blade, and when."""
    return analysis.bladeless.has(analysis.bladeless.nets.of[analysis.circuit.node[terminal]])


def tell(analysis: Analysis, broken: Breach[tuple[Joint, tuple[WeakGap, ...]]]) -> Told:
    """Say which rail at the gap only blades feed, and on which way."""
    joint, rails = broken.about
    state = analysis.state_in(broken.function)
    weak: WeakGap = next(w for w in rails if analysis.poles.diagrams.value(w.function, state))
    path = analysis.paths.find(weak.pole, analysis.circuit.node[weak.rail], state)
    return Told(
        Severity.WARNING,
        f"{weak.rail} at the joint '{broken.subject}' has its pole over blades alone, and the reverser "
        f"'{weak.reverser}' needs the current of a short there to turn over",
        "put a short piece with a feed of its own between the turnout and the gap, "
        "or give the frog a contact beside its blades",
        tuple(sorted({*joint.pieces})),
        told_path(analysis, path),
        (joint.span,),
    )


RULE = rule("reverser-fed-by-blades", DOCUMENT, subjects, judge, tell, called=gap_clash.called)
