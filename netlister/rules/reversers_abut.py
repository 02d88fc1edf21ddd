"""The rule `reversers-abut`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.poles.diagram import NEVER
from netlister.rules import gap_clash
from netlister.rules.model import Breach, Local, Told, rule

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.layout.model import Joint
    from netlister.poles.diagram import Function
    from netlister.routes.settings import EndOf
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis

DOCUMENT = """Two automatic reversers meet at one gap.

## What it finds

An insulated joint on a route that is set, with a rail fed by one automatic reverser on one side and a rail fed by
another on the other side.

## Why it matters

A reverser turns its section over when a wheel joins two poles at its gap. Here both see the same short and both may
turn over, which leaves the short as it was: they chase each other until the breaker acts.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  shore:  {length: 2 m}
  tunnel: {length: 2 m}
reversers:
  R1: {from: main, mode: automatic}
  R2: {from: main, mode: automatic}
joints:
  - {from: shore, to: tunnel, insulate: both}
feeds:
  - {to: shore, from: R1}
  - {to: tunnel, from: R2}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  shore:  {length: 2 m}
  middle: {length: 300 mm}
  tunnel: {length: 2 m}
reversers:
  R1: {from: main, mode: automatic}
  R2: {from: main, mode: automatic}
joints:
  - {from: shore, to: middle, insulate: both}
  - {from: middle, to: tunnel, insulate: both}
feeds:
  - {to: shore, from: R1}
  - {to: middle, from: main}
  - {to: tunnel, from: R2}
```

## How to mend it

Put a short piece of track between the two sections, insulated at both ends and fed from the bus. Or feed both sections
from one reverser, if no train needs them to differ.

## When it is meant

Where the units are made to share a boundary: allow it with a comment that says so.
"""


class About(NamedTuple):
    """What is told: the joint, and its insulated pairs of rails with the reversers on both sides and when."""

    joint: Joint
    meetings: tuple[tuple[str, str, str, str, Function], ...]


def subjects(analysis: Analysis) -> Iterable[EndOf]:
    """Every insulated joint, where there are two automatic reversers or more."""
    automatic = sum(device.kind == "reverser" for device in analysis.circuit.devices)
    return gap_clash.insulated_joints(analysis) if automatic > 1 else ()


def judge(analysis: Analysis, at: EndOf) -> Iterator[Breach[About]]:
    """When there are automatic reversers on both sides of a joint."""
    joint = analysis.joint(at)
    found = tuple(_meetings(analysis, joint))
    if found:
        function = analysis.poles.diagrams.any_of([function for *_, function in found])
        yield Breach("reversers-abut", joint.name, function, About(joint, found))


def near(_: Analysis, change: Reached) -> set[EndOf]:
    """The joints that a change touches."""
    return change.joints


def there(analysis: Analysis, at: EndOf) -> bool:
    """Whether a joint is insulated, and reversers may be on both sides."""
    automatic = sum(device.kind == "reverser" for device in analysis.circuit.devices)
    return automatic > 1 and gap_clash.is_insulated(analysis, at)


def _meetings(analysis: Analysis, joint: Joint) -> Iterator[tuple[str, str, str, str, Function]]:
    """Per insulated pair of rails the two reversers that meet there, and in which states."""
    diagrams, poles = analysis.poles.diagrams, analysis.circuit.poles
    for a, b, insulated in joint.pairs:
        if not insulated:
            continue
        for p, f in analysis.has(analysis.net(a)):
            for q, g in analysis.has(analysis.net(b)):
                if p >= len(poles) or q >= len(poles):
                    continue  # a frog unit
                first, second = poles[p].device, poles[q].device
                if not first or not second or first == second:
                    continue
                function = diagrams.both(f, g)
                for piece, end in (joint.start, joint.end):
                    function = diagrams.both(function, analysis.settings.end(analysis.piece(piece), end))
                if function != NEVER:
                    yield a, b, first, second, function


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say which two reversers meet, on which rails."""
    about: About = broken.about
    state = analysis.state_in(broken.function)
    a, b, first, second = next(m[:4] for m in about.meetings if analysis.poles.diagrams.value(m[4], state))
    return Told(
        Severity.WARNING,
        f"the sections of the automatic reversers '{first}' and '{second}' meet at the joint '{broken.subject}' "
        f"({a} and {b}): both turn over at once and chase each other",
        "put a short piece of track between them, insulated at both ends and fed from the bus",
        tuple(sorted({*about.joint.pieces})),
        (),
        (about.joint.span,),
    )


RULE = rule("reversers-abut", DOCUMENT, subjects, judge, tell, called=gap_clash.called, local=Local(near, there))
