"""The rule `hand-reversing`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.rules.electric import by_hand
from netlister.rules.gap_clash import called, gaps_of, insulated_joints, is_insulated, joint_clash
from netlister.rules.model import Breach, Local, Told, rule
from netlister.rules.telling import told_sides

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.numbers import Var
    from netlister.layout.model import Joint
    from netlister.poles.diagram import Function
    from netlister.routes.settings import EndOf
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis

DOCUMENT = """A hand reversing switch has to be thrown before a wheel crosses a gap.

## What it finds

An insulated joint that would be a `gap-clash`, where throwing one hand switch exchanges the poles of the two rails on
one side, changes nothing on the other, and ends the clash. That is how a reversing section on a hand switch works: the
section is fed through the contacts of the switch, or from a reverser that follows it. A switch that brings another
supply, as a cab selector does, is none.

## Why it matters

Nothing is wrong with the wiring, but a person has to throw the switch in time: while the train is wholly inside the
section, or before it comes to the gap. A train that is late shorts the supply over its wheels. On direct current the
train runs back when the section under it is reversed, so stop it first.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 2 m}
  loop: {radius: 450 mm, angle: 300 deg, turn: left}
  T1: {kind: live-frog-bonded, hand: wye}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}
switches:
  S1: {positions: [in, out]}
reversers:
  R1: {from: main, follows: S1, straight: [in]}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop, insulate: both}
  - {from: loop, to: T1.left, insulate: both}
feeds:
  - {to: line}
  - {to: loop, from: R1}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 2 m}
  loop: {radius: 450 mm, angle: 300 deg, turn: left}
  T1: {kind: live-frog-bonded, hand: wye}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}
reversers:
  R1: {from: main, follows: M1, straight: [right]}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop, insulate: both}
  - {from: loop, to: T1.left, insulate: both}
feeds:
  - {to: line}
  - {to: loop, from: R1}
```

## How to mend it

Nothing needs mending. To be rid of throwing it, let the reverser follow the turnout's machine, or use an automatic one.

## When it is meant

Always, with such a switch: it is a note. Allow it with a comment once you know when to throw it.
"""


class About(NamedTuple):
    """A joint, and per variable of a switch that ends its clash the states in which it does."""

    joint: Joint
    switches: tuple[tuple[Var, Function], ...]


def subjects(analysis: Analysis) -> Iterable[EndOf]:
    """Every insulated joint, where there is a hand switch."""
    return insulated_joints(analysis) if analysis.switches else ()


def near(analysis: Analysis, change: Reached) -> set[EndOf]:
    """The joints that a change touches."""
    return change.joints if analysis.switches else set()


def judge(analysis: Analysis, subject: EndOf) -> Iterator[Breach[About]]:
    """When a switch has to be thrown before a wheel crosses a joint."""
    joint = analysis.joint(subject)
    found = by_hand(analysis, joint, joint_clash(analysis, joint))
    if found:
        function = analysis.poles.diagrams.any_of(found.values())
        yield Breach("hand-reversing", joint.name, function, About(joint, tuple(found.items())))


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say which switch to throw, and when."""
    about: About = broken.about
    state = analysis.state_in(broken.function)
    variables = analysis.circuit.variables
    number = next(v for v, f in about.switches if analysis.poles.diagrams.value(f, state))
    name, at = variables[number].name, variables[number].positions[state[number]]
    names, rails, path = told_sides(analysis, gaps_of(analysis, about.joint), state)
    joins = f": a wheel would join {names[0]} on {rails[0]} with {names[1]} on {rails[1]}" if rails[0] else ""
    return Told(
        Severity.NOTE,
        f"throw '{name}', which stands at {at}, before a wheel crosses the gap '{about.joint.name}'{joins}",
        f"throw '{name}' while the train is wholly between the gaps, or before it reaches this one; "
        "on direct current stop the train first",
        tuple(sorted({*about.joint.pieces})),
        path,
        (about.joint.span, variables[number].span),
    )


RULE = rule("hand-reversing", DOCUMENT, subjects, judge, tell, called=called, local=Local(near, is_insulated))
