"""The rule `throw-short`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.model import holds
from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.rules.model import Breach, Told, rule
from netlister.rules.telling import owners_on, spans_of, told_path

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.circuit.model import Conductor
    from netlister.circuit.numbers import Var
    from netlister.circuit.paths import PathStep
    from netlister.layout.model import Value
    from netlister.poles.changeovers import Changeover
    from netlister.poles.moving import Joined, Moving
    from netlister.rules.analysis import Analysis

DOCUMENT = """Two poles are joined while a machine moves.

## What it finds

A short that is there neither before nor after a machine, lone turnout or switch is thrown, but on the way: its contacts
and the blades of its turnouts change over one after the other, in any order, and some pairing of them joins two poles.
A plain check shows only the contacts of `action: make-before-break` that join two poles whatever the order;
`--select throw-short` shows every pairing.

## Why it matters

The protection trips as the turnout is thrown, now and then or every time, and all trains stop. No meter shows it while
the turnout stands still. A live frog all one piece with a contact can always do it: the contact gives the frog the pole
of the one stock rail while a blade still touches the other. Where the blades are bonded to their stock rails and only
the contact feeds the frog, it cannot happen, unless that contact makes before it breaks.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  tramway: {length: 600 mm}
  T1: {kind: live-frog, hand: left}
machines:
  M1:
    throws: [T1]
    contacts:
      frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}
joints:
  - {from: tramway, to: T1.toe}
feeds:
  - {to: tramway}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  tramway: {length: 600 mm}
  T1: {kind: live-frog-bonded, hand: left}
machines:
  M1:
    throws: [T1]
    contacts:
      frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}
joints:
  - {from: tramway, to: T1.toe}
feeds:
  - {to: tramway}
```

## How to mend it

Bond the blades to their stock rails (`live-frog-bonded`), so that the contact alone feeds the frog; or leave the
contact out; or set it so that it changes over while the blades touch neither stock rail. Use contacts that break before
they make. Where two contacts feed one frog, leave one of them.

## When it is meant

A contact that is set to change over in the middle of the throw: `# netlister: allow throw-short: set by feeler gauge`
on the line of the machine or contact that the finding names.
"""


class About(NamedTuple):
    """What is told: the first place and pairing found."""

    variable: Var
    joined: Joined
    moving: Moving


def subjects(analysis: Analysis) -> Iterator[str]:
    """Every variable with what may join poles as it moves."""
    every = "throw-short" in analysis.named
    if not every and not any(c.action == "make-before-break" for c in analysis.layout.contacts):
        return
    moving = analysis.moving
    for variable in moving.variables():
        if every or moving.overlaps(variable):
            yield analysis.circuit.variables[variable].name


def judge(analysis: Analysis, name: str) -> Iterator[Breach[About]]:
    """When something joins two poles as a variable moves."""
    moving = analysis.moving
    variable = analysis.circuit.variable[name]
    found = moving.joined(variable, in_step="throw-short" not in analysis.named)
    fed = analysis.poles.nets.fed
    likely = sorted(found, key=lambda joined: fed[joined.net] != 0)  # the frog rather than a stock rail
    first = next((joined for joined in likely if analysis.poles.possible(joined.function)), None)
    if first is not None:
        function = analysis.poles.diagrams.any_of([joined.function for joined in found])
        yield Breach("throw-short", name, function, About(variable, first, moving))


# -- telling


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say which pairing joins the poles, along which path."""
    about: About = broken.about
    joined = about.joined
    circuit = analysis.circuit
    state = analysis.partly_in(joined.witness)
    stands = {changeover: state[spare] for changeover, spare in joined.spares.items()}
    there = {part.conductor: part.changeovers for part in about.moving.parts(about.variable)}

    def conducts(conductor: Conductor) -> bool:
        changeovers = there.get(conductor)
        if changeovers is None:
            return holds(conductor.when, state)
        return all(_made(changeover, at, stands, joined) for changeover, at in changeovers)

    node = min(analysis.poles.nodes_of([joined.net]), key=lambda n: circuit.names[n])
    barred = (0, 0) if about.moving.diodes is None else (1, -1)  # from the one the current comes, to the other it goes
    first, last = _apart(
        *(
            analysis.paths.find(node, pole, state, None, conducts, barred=way)
            for pole, way in zip(joined.poles, barred, strict=True)
        )
    )
    steps = [*reversed(first), *last[1:]]
    used = {m: at for _, c in (*first[1:], *last[1:]) if c is not None for m, at in there.get(c, ())}
    names = [circuit.poles[p].name for p in joined.poles]
    said = " while ".join(
        _stands(analysis, about, changeover, stands) for changeover in sorted(used, key=_old_first(stands))
    )
    message = f"{names[0]} and {names[1]} are joined as '{broken.subject}' moves" + (f": {said}" if said else "")
    where = tuple(dict.fromkeys((circuit.variables[about.variable].span, *spans_of(analysis, [*first[1:], *last[1:]]))))
    return Told(
        Severity.WARNING, message, _cure(used), tuple(owners_on(analysis, steps)), told_path(analysis, steps), where
    )


def _made(changeover: Changeover, at: tuple[Value, ...], stands: dict[Changeover, Value], joined: Joined) -> bool:
    old, new = (value in at for value in joined.values)
    return (old or new) if changeover.make_first else (new if stands.get(changeover, 0) else old)


def _apart(first: list[PathStep], last: list[PathStep]) -> tuple[list[PathStep], list[PathStep]]:
    """Two paths from one node, without what they have in common but the last node of that."""
    if not first or not last:
        return first, last
    on_last = {node: number for number, (node, _) in enumerate(last)}
    shared = max((number for number, (node, _) in enumerate(first) if node in on_last), default=0)
    return first[shared:], last[on_last[first[shared][0]] :]


def _old_first(stands: dict[Changeover, Value]) -> Callable[[Changeover], tuple[bool, int]]:
    return lambda changeover: (not changeover.make_first, stands.get(changeover, 0))


def _stands(analysis: Analysis, about: About, changeover: Changeover, stands: dict[Changeover, Value]) -> str:
    """Where a changeover is in the pairing that joins the poles."""
    if changeover.make_first:
        owner, name = Terminal.of(changeover.name)
        return f"contact '{name}' of '{owner}' makes the new throw before it breaks the old one"
    new = stands.get(changeover, 0)
    value = about.joined.values[new]
    when = "already" if new else "still"
    if changeover.what == "blades":
        return (
            f"the blades of '{changeover.name}' are {when} at {analysis.layout.bars[changeover.name].positions[value]}"
        )
    position = analysis.circuit.variables[about.variable].positions[value]
    if changeover.what == "reverser":
        return f"'{changeover.name}' is {when} fed as at {position}"
    owner, name = Terminal.of(changeover.name)
    return f"contact '{name}' of '{owner}' is {when} made as at {position}"


def _cure(used: dict[Changeover, tuple[Value, ...]]) -> str:
    kinds = {changeover.what for changeover in used}
    overlapping = [changeover.name for changeover in used if changeover.make_first]
    if overlapping:
        return f"use a contact that breaks before it makes for '{overlapping[0]}' (action: break-before-make)"
    if kinds == {"blades", "contact"}:
        return (
            "bond the blades to their stock rails and part them from the frog (live-frog-bonded), or set the contact "
            "to change over while the blades touch neither stock rail"
        )
    if kinds == {"contact"}:
        return "let one contact do the work of both, or part with an insulated joiner what each of them feeds"
    return "part with insulated joiners what the two feed, or give each a machine of its own"


RULE = rule("throw-short", DOCUMENT, subjects, judge, tell, more=True)
