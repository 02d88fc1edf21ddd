"""The rule `detectors-apart`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.poles.diagram import LimitError
from netlister.poles.reach import UnprovedError
from netlister.rules.model import WHOLE, Breach, Told, Unproved, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Component
    from netlister.poles.diagram import Function
    from netlister.rules.analysis import Analysis

DOCUMENT = """A block detector is in the opposite rail to the others.

## What it finds

Two block detectors on poles of one supply, one in a wire of pole A and one in a wire of pole B. The one that is in the
minority is named. A detector whose rails change pole, as in a reversing section, is not counted.

## Why it matters

A detector sees the current of one rail, and only that rail is insulated between blocks. Where the rail changes, a block
is left without a gap in the rail that is sensed, or two detectors see the same train; and whoever looks for the fault
later measures in the wrong rail.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  west: {length: 900 mm}
  east: {length: 900 mm}
joints:
  - {from: west, to: east, insulate: both}
feeds:
  - {to: west, B: right}
  - {to: east, A: left}
components:
  D1: {kind: detector, from: main.A, to: west.left}
  D2: {kind: detector, from: main.B, to: east.right}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  west: {length: 900 mm}
  east: {length: 900 mm}
joints:
  - {from: west, to: east, insulate: left}
feeds:
  - {to: west, B: right}
components:
  D1: {kind: detector, from: main.A, to: west.left}
  D2: {kind: detector, from: main.A, to: east.left}
```

## How to mend it

Move the detector into the wire of the other pole, and the gaps of its block into that rail.

## When it is meant

Where one part of the railway was built with the other rail, and both rails are insulated where it begins: allow it with
a comment.
"""


class PlacedDetector(NamedTuple):
    """A detector, the letter of its pole, the supplies of that pole, and the states in which it has it."""

    component: Component
    letter: str
    supplies: frozenset[str]
    function: Function


def subjects(analysis: Analysis) -> tuple[str, ...]:
    """The whole layout, where it has two detectors or more: where one belongs depends on all others."""
    detectors = sum(c.kind == "detector" for c in analysis.layout.components.values())
    return WHOLE if detectors > 1 else ()


def judge(analysis: Analysis, _: str) -> Iterator[Breach[tuple[PlacedDetector, tuple[PlacedDetector, ...]]] | Unproved]:
    """Every detector in a wire of the pole that fewer detectors of its supply are in."""
    diagrams = analysis.poles.diagrams
    placed: list[PlacedDetector] = []
    for component in analysis.layout.components.values():
        if component.kind == "detector":
            diagrams.begin()
            try:
                found = _placed(analysis, component)
            except (LimitError, UnprovedError):
                yield Unproved("detectors-apart", component.name)
            else:
                placed += [found] if found is not None else []
    for detector in placed:
        same = [d for d in placed if d.letter == detector.letter and d.supplies & detector.supplies]
        other = [d for d in placed if d.letter != detector.letter and d.supplies & detector.supplies]
        if len(same) < len(other) or (len(same) == len(other) and detector.letter == "B"):
            name = detector.component.name
            diagrams.begin()
            try:
                function = _both_placed(analysis, detector, other)
            except LimitError:
                yield Unproved("detectors-apart", name)
            else:
                yield Breach("detectors-apart", name, function, (detector, tuple(other)))


def _both_placed(analysis: Analysis, detector: PlacedDetector, other: list[PlacedDetector]) -> Function:
    """The states in which a detector and one of some others have their poles."""
    diagrams = analysis.poles.diagrams
    return diagrams.both(detector.function, diagrams.any_of([d.function for d in other]))


def _placed(analysis: Analysis, component: Component) -> PlacedDetector | None:
    """Where a detector is, or None where it has no pole, several, or that of an automatic device."""
    poles, diagrams = analysis.circuit.poles, analysis.poles.diagrams
    has = [item for end in component.ends for item in analysis.poles.has(analysis.net(end))]
    found = [p for p, f in has if analysis.poles.possible(f)]
    if not found or any(p >= len(poles) or poles[p].device for p in found):
        return None
    letters = {poles[p].letter for p in found}
    if len(letters) > 1:
        return None
    supplies = frozenset[str]().union(*(poles[p].supplies for p in found))
    return PlacedDetector(component, letters.pop(), supplies, diagrams.any_of([f for _, f in has]))


def tell(analysis: Analysis, broken: Breach[tuple[PlacedDetector, tuple[PlacedDetector, ...]]]) -> Told:  # noqa: ARG001
    """Say which detector is where, and where the others are."""
    detector, others = broken.about
    names = [f"'{d.component.name}'" for d in others]
    said = ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")  # noqa: PLR2004
    verb = "is" if len(names) == 1 else "are"
    return Told(
        Severity.WARNING,
        f"the detector '{broken.subject}' is in a wire of pole {detector.letter}, but {said} {verb} in one of pole "
        f"{others[0].letter}",
        "put all block detectors, and the gaps between their blocks, into the same rail",
        (),
        (),
        (detector.component.span,),
    )


RULE = rule("detectors-apart", DOCUMENT, subjects, judge, tell)
