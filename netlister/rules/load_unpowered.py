"""The rule `load-unpowered`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.numbers import PoleNumber, Var
from netlister.edits.patch import flow_text
from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.rules.electric import load_driven, load_ends
from netlister.rules.model import Breach, Told, rule
from netlister.rules.telling import pole_name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import State
    from netlister.circuit.numbers import Net
    from netlister.layout.model import Component
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Has
    from netlister.rules.analysis import Analysis

DOCUMENT = """A switch gives a motor no current in one of its positions.

## What it finds

A `load`, such as the motor of a switch machine, that gets the same pole on both its leads in some position. Or one
whose current a switch is to reverse, and that in one position has the other pole on one lead but nothing on the other.
Or one that diodes part from its poles: they let no current through either way. Or one whose two leads have poles of two
supplies that share none, or a lead that no position gives a pole. Loads in series, such as a motor and the lamp that
shows that it moves, count by the two outer leads.
A load that is switched off, by an open contact, is left alone.

## Why it matters

The motor never moves, or goes one way and never comes back. A stall motor that gets nothing does not hold its blades
either.

## Fails

```yaml
format: netlister/1
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A}
  aux:  {type: dc, voltage: 12 V, accessory: true}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
switches:
  S1:
    positions: [left, right]
    contacts:
      a: {common: motor.1, left: aux.A, right: aux.B}
      b: {common: motor.2, left: aux.A, right: aux.B}
components:
  drive: {kind: load, from: motor.1, to: motor.2}
```

## Passes

```yaml
format: netlister/1
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A}
  aux:  {type: dc, voltage: 12 V, accessory: true}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
switches:
  S1:
    positions: [left, right]
    contacts:
      a: {common: motor.1, left: aux.A, right: aux.B}
      b: {common: motor.2, left: aux.B, right: aux.A}
components:
  drive: {kind: load, from: motor.1, to: motor.2}
```

## How to mend it

Wire the two contacts of the reversing switch crosswise: where one throw of the first goes to A, that of the other goes
to B.

## When it is meant

A lamp that shows which way a frog lies, or one between two switches that is dark while both stand alike: say so under
`expect`, `{load: lamp, is: dead, when: {S1: up, S2: up}}`, or allow it with a comment.
"""


class About(NamedTuple):
    """A load, when its leads have one pole, when diodes stop the current, when poles of two supplies; leads without."""

    load: Component
    same: Function
    blocked: Function
    apart: Function
    bare: tuple[str, ...]


def subjects(analysis: Analysis) -> Iterator[str]:
    """Every load."""
    yield from (c.name for c in analysis.layout.components.values() if c.kind == "load")


def judge(analysis: Analysis, subject: str) -> Iterator[Breach[About]]:
    """In which positions a load gets nothing that should get something."""
    load = analysis.layout.components[subject]
    diagrams = analysis.poles.diagrams
    nets = [analysis.net(end) for end in load_ends(analysis, load)]
    has = [_has(analysis, net) for net in nets]
    same = diagrams.any_of([diagrams.both(f, g) for p, f in has[0] for q, g in has[1] if p == q])
    function = same
    for own, other, net in ((has[0], has[1], nets[1]), (has[1], has[0], nets[0])):
        function = diagrams.either(function, _half(analysis, own, other, net))
    owned = [pole.supplies for pole in analysis.circuit.poles]
    real = [[(p, f) for p, f in one if p < len(owned)] for one in has]
    opposite = diagrams.any_of(
        [diagrams.both(f, g) for p, f in real[0] for q, g in real[1] if p != q and not owned[p].isdisjoint(owned[q])]
    )
    apart = diagrams.any_of(
        [diagrams.both(f, g) for p, f in real[0] for q, g in real[1] if owned[p].isdisjoint(owned[q])]
    )
    function = diagrams.either(function, apart)
    driven = load_driven(analysis, load)
    blocked = diagrams.without(opposite, driven)
    function = diagrams.either(diagrams.without(function, driven), blocked)
    bare = tuple(end for end, net in zip(load_ends(analysis, load), nets, strict=True) if not _ever(analysis, net))
    if bare:
        function = ALWAYS
    meant = analysis.meant(subject)
    about = About(load, same, blocked, apart, bare)
    yield Breach("load-unpowered", subject, diagrams.without(function, meant), about)


def _ever(analysis: Analysis, net: Net) -> bool:
    """Whether a net has a pole in any state."""
    return net < len(analysis.circuit.poles) or any(analysis.poles.possible(f) for _, f in analysis.poles.has(net))


def _has(analysis: Analysis, net: Net) -> Has:
    """What a net has and nothing else; a pole has itself."""
    return ((PoleNumber(net), ALWAYS),) if net < len(analysis.circuit.poles) else analysis.alone(net)[1]


def _half(analysis: Analysis, own: Has, other: Has, net: Net) -> Function:
    """When one lead has a pole, which a switch reverses, while the other has none."""
    diagrams = analysis.poles.diagrams
    if net < len(analysis.circuit.poles):
        return NEVER
    none = analysis.alone(net)[0]
    driven = {p: diagrams.any_of([diagrams.both(f, g) for q, g in other if p != q]) for p, f in own}
    result = NEVER
    for p, f in own:
        idle = diagrams.both(f, none)
        for number, variable in enumerate(analysis.circuit.variables):
            if idle == NEVER or variable.kind not in {"switch", "machine"}:
                continue
            for q, g in driven.items():
                if q != p:
                    result = diagrams.either(result, diagrams.both(idle, diagrams.exists(g, Var(number))))
    return result


def _diodes(analysis: Analysis, load: Component, poles: list[str], state: State) -> list[str]:
    """The diodes between a load and its two poles."""
    circuit = analysis.circuit
    found: dict[str, None] = {}
    for end, pole in zip(load_ends(analysis, load), poles, strict=True):
        steps = analysis.paths.find(circuit.node[end], circuit.node[pole], state)
        found.update((c.owner, None) for _, c in steps if c is not None and c.owner in circuit.diodes)
    return list(found)


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say what is on its two leads."""
    about: About = broken.about
    load = about.load
    diagrams = analysis.poles.diagrams
    state = analysis.state_in(broken.function)
    said = []
    for end in load_ends(analysis, load):
        names = [pole_name(analysis, p) for p, f in _has(analysis, analysis.net(end)) if diagrams.value(f, state)]
        said.append(names[0] if names else "nothing")
    if diagrams.value(about.blocked, state):
        against = _diodes(analysis, load, said, state)
        one = f"the diode '{against[0]}'" if len(against) == 1 else "a diode"
        turn = f"'{against[0]}'" if len(against) == 1 else "the diode that points towards the positive pole"
        return Told(
            Severity.WARNING,
            f"'{load.name}' gets no current: {one} on the way from {said[0]} to {said[1]} points against it",
            f"turn {turn} round, with the supply unplugged, or take the lead from the other pole",
            tuple(against),
            (),
            (load.span, *(analysis.layout.components[name].span for name in against)),
        )
    if about.bare or diagrams.value(about.apart, state):
        ends = " and ".join(about.bare)
        what = f"its leads have {said[0]} and {said[1]}, of two supplies"
        if ends:
            what = f"{ends} {'has' if len(about.bare) == 1 else 'have'} no pole in any position"
        return Told(
            Severity.WARNING,
            f"'{load.name}' gets no current: {what}",
            f"wire {ends} to what should feed it" if ends else "take both its leads from one supply",
            (),
            (),
            (load.span,),
        )
    there = analysis.partly_in(broken.function).items()
    variables = [(analysis.circuit.variables[v], x) for v, x in sorted(there)]
    entry = {"load": load.name, "is": "dead", "when": {v.name: v.positions[x] for v, x in variables}}
    what = f"both its leads have {said[0]}" if said[0] == said[1] else f"its leads have {said[0]} and {said[1]}"
    return Told(
        Severity.WARNING,
        f"'{load.name}' gets no current: {what}",
        "wire the two contacts of its switch crosswise, so that the leads have the two poles in every position; a lamp "
        f"that is to be dark then: {flow_text(entry)} under 'expect'",
        (),
        (),
        (load.span,),
    )


RULE = rule("load-unpowered", DOCUMENT, subjects, judge, tell)
