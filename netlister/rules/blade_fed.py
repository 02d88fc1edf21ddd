"""The rule `blade-fed`."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.numbers import Node
from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import ALWAYS, NEVER, LimitError
from netlister.poles.diodes import DiodePoles
from netlister.poles.flow import flow
from netlister.poles.reach import UnprovedError
from netlister.rules.model import WHOLE, Breach, Told, Unproved, rule
from netlister.rules.telling import owners_on, spans_of, told_path

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.circuit.numbers import Net
    from netlister.circuit.paths import PathStep
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Region
    from netlister.rules.analysis import Analysis

DOCUMENT = """Track is fed only by the touch of a blade, or through too many joiners.

## What it finds

Rails that in some position have a pole only by way of a blade that touches its stock rail: no feed, joiner or
contact leads to them otherwise. That is how many turnouts are meant to work, so it is shown only where it is asked for,
with `--select blade-fed`, as a note. And, where the layout gives `limits: {joiners: 2}` and the like, rails with more
metal joiners than that between them and the nearest feed: a warning, in every check.

## Why it matters

A blade that is dirty or bent no longer feeds what lies beyond it, and a joiner that has worked loose does the same:
whole sidings are dead that were live last year. A contact on the machine, or a feed of its own, spares you that.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
limits: {joiners: 1}
track:
  tannery: {length: 600 mm}
  yard: {length: 600 mm}
  shed: {length: 300 mm}
joints:
  - {from: tannery, to: yard}
  - {from: yard, to: shed}
feeds:
  - {to: tannery}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
limits: {joiners: 1}
track:
  tannery: {length: 600 mm}
  yard: {length: 600 mm}
  shed: {length: 300 mm}
joints:
  - {from: tannery, to: yard}
  - {from: yard, to: shed}
feeds:
  - {to: [tannery, shed]}
```

## How to mend it

Give the track a feed of its own. Give a live frog a changeover contact, or an insulated one its jumpers.

## When it is meant

Sidings that the turnout is to switch off: allow it on their line, or do not ask for it. A track that is meant to be
dead in some positions (`expect`) is left out in these.
"""

OF_A_BLADE, OF_JOINERS = "blade", "joiners"


class Weak(NamedTuple):
    """A rail, by its node, whose feed hangs on a blade or on too many joiners in some states."""

    rail: Node
    function: Function
    why: str


def subjects(analysis: Analysis) -> tuple[str, ...]:
    """The whole layout, where it is asked for or a limit is stated."""
    return WHOLE if "blade-fed" in analysis.named or "joiners" in analysis.layout.limits else ()


def judge(analysis: Analysis, _: str) -> Iterator[Breach[list[Weak]] | Unproved]:
    """Every piece with a rail that is fed only so."""
    weak: dict[str, list[Weak]] = defaultdict(list)
    limit = analysis.layout.limits.get("joiners")
    if "blade-fed" in analysis.named:
        yield from _by_blades(analysis, weak)
    if limit is not None:
        yield from _by_joiners(analysis, int(limit), weak)
    diagrams = analysis.poles.diagrams
    for piece in analysis.layout.pieces if weak else ():
        if piece not in weak:
            continue
        meant = analysis.meant_dead.get(piece, NEVER)
        found = [one._replace(function=diagrams.without(one.function, meant)) for one in weak[piece]]
        diagrams.begin()
        try:
            function = diagrams.any_of([one.function for one in found])
            found = [one for one in found if analysis.poles.possible(one.function)]
        except LimitError:
            yield Unproved("blade-fed", piece)
        else:
            if found:
                yield Breach("blade-fed", piece, function, found)


def _note(analysis: Analysis, weak: dict[str, list[Weak]], nets: dict[Net, Function], why: str) -> None:
    """Note the rails in some nets, each with the states in which it is fed only so."""
    names = analysis.circuit.names
    for net, function in nets.items():
        if function != NEVER:
            for node in analysis.poles.nodes_of([net]):
                if node in analysis.rails:
                    weak[Terminal.of(names[node]).owner].append(Weak(node, function, why))


# -- blades


def _by_blades(analysis: Analysis, weak: dict[str, list[Weak]]) -> Iterator[Unproved]:
    if isinstance(analysis.poles, DiodePoles):
        yield from _beside_diodes(analysis, weak)
        return
    for region in analysis.poles.regions:
        edges = [conductor for _, _, conductor in (*region.inner, *region.outer)]
        if any(conductor.what == "blade" for conductor in edges):
            analysis.poles.diagrams.begin()
            try:
                _note(analysis, weak, _without_blades(analysis, region), OF_A_BLADE)
            except (LimitError, UnprovedError):
                names = analysis.circuit.names
                yield Unproved(
                    "blade-fed", min(Terminal.of(names[n]).owner for n in analysis.poles.nodes_of(region.nets))
                )


FED = "fed"
"""What reaches a net that is fed without blades, whichever pole it is."""


def _without_blades(analysis: Analysis, region: Region) -> dict[Net, Function]:
    """Per net of a region the states in which it is fed, and would not be if no blade touched."""
    poles, diagrams = analysis.poles, analysis.poles.diagrams
    if not region.solved:
        raise UnprovedError
    links: dict[Net, dict[Net, Function]] = {net: {} for net in region.nets}
    reach: dict[Net, dict[str, Function]] = {net: {} for net in region.nets}
    for net in region.nets:
        if poles.has_unit(net):
            reach[net][FED] = ALWAYS
    for net, _, conductor in region.outer:
        if conductor.what != "blade":
            reach[net][FED] = diagrams.either(reach[net].get(FED, NEVER), poles.condition(conductor.when))
    for a, b, conductor in region.inner:
        if conductor.what != "blade":
            when = diagrams.either(links[a].get(b, NEVER), poles.condition(conductor.when))
            links[a][b] = links[b][a] = when
    flow(diagrams, links, reach)
    found = {}
    for net in region.nets:
        fed = diagrams.any_of(list(region.reach[net].values()))
        found[net] = diagrams.without(fed, reach[net].get(FED, NEVER))
    return found


def _beside_diodes(analysis: Analysis, weak: dict[str, list[Weak]]) -> Iterator[Unproved]:
    """The same where diodes conduct one way: what a diode feeds lies in no region, so every rail is looked at."""
    poles, bladeless, diagrams = analysis.poles, analysis.bladeless, analysis.poles.diagrams
    for node in analysis.circuit.rails:
        piece = Terminal.of(analysis.circuit.names[node]).owner
        diagrams.begin()
        try:
            fed = diagrams.any_of([f for _, f in poles.has(poles.nets.of[node])])
            without = diagrams.any_of([f for _, f in bladeless.has(bladeless.nets.of[node])])
            function = diagrams.without(fed, without)
        except (LimitError, UnprovedError):
            yield Unproved("blade-fed", piece)
            continue
        if function != NEVER:
            weak[piece].append(Weak(node, function, OF_A_BLADE))


# -- joiners


def _by_joiners(analysis: Analysis, limit: int, weak: dict[str, list[Weak]]) -> Iterator[Unproved]:
    found: dict[Node, Function] = {}
    diagrams = analysis.poles.diagrams
    diagrams.begin()
    try:
        near = _within(analysis, limit)
        for node in analysis.circuit.rails:
            if near[node] != ALWAYS:
                has = analysis.poles.has(analysis.poles.nets.of[node])
                found[node] = diagrams.without(diagrams.any_of([f for _, f in has]), near[node])
    except (LimitError, UnprovedError):
        yield Unproved("blade-fed", next(iter(analysis.layout.pieces)))
        return
    names = analysis.circuit.names
    for node, function in found.items():
        if function != NEVER:
            weak[Terminal.of(names[node]).owner].append(Weak(node, function, OF_JOINERS))


def _within(analysis: Analysis, limit: int) -> list[Function]:
    """Per node the states in which a pole, or a frog unit, is no more than so many metal joiners away."""
    circuit, poles, diagrams = analysis.circuit, analysis.poles, analysis.poles.diagrams
    count = len(circuit.poles)
    near = [ALWAYS if node < count else NEVER for node in range(len(circuit.names))]
    for device in circuit.devices:
        if device.kind == "unit":
            near[device.node] = ALWAYS
    links: dict[Node, list[tuple[Node, Function]]] = defaultdict(list)
    joiners = []
    for conductor in circuit.conductors:
        if conductor.what == "joiner":
            joiners.append((conductor.a, conductor.b))
        else:
            when = poles.condition(conductor.when) if conductor.when else ALWAYS
            links[conductor.a].append((conductor.b, when))
            links[conductor.b].append((conductor.a, when))
    changed = {Node(node) for node, function in enumerate(near) if function}
    for step in range(limit + 1):
        waiting = sorted(changed)
        while waiting:
            here = waiting.pop()
            for there, when in links[here]:
                new = diagrams.either(near[there], diagrams.both(near[here], when))
                if new != near[there]:
                    near[there] = new
                    waiting.append(there)
        if step == limit:
            break
        before = list(near)
        changed = set()
        for pair in joiners:
            for here, there in (pair, pair[::-1]):
                new = diagrams.either(near[there], before[here])
                if new != near[there]:
                    near[there] = new
                    changed.add(there)
        if not changed:
            break
    return near


# -- telling


def tell(analysis: Analysis, broken: Breach[list[Weak]]) -> Told:
    """Say which rails, by which blades or over how many joiners."""
    found: list[Weak] = broken.about
    names = analysis.circuit.names
    far = [weak for weak in found if weak.why == OF_JOINERS]
    listed = far or found
    rails = tuple(sorted({names[weak.rail] for weak in listed}))
    steps = _way(analysis, listed[0])
    said = f"{' and '.join(rails)} {'are' if len(rails) > 1 else 'is'}"
    parts = tuple(dict.fromkeys((broken.subject, *owners_on(analysis, steps))))
    where = tuple(dict.fromkeys((analysis.layout.pieces[broken.subject].span, *spans_of(analysis, steps))))
    path = tuple(reversed(told_path(analysis, steps)))
    terminals = tuple(sorted({names[weak.rail] for weak in found}))
    if far:
        limit = int(analysis.layout.limits["joiners"])
        message = f"{said} more than {limit} metal joiner{'' if limit == 1 else 's'} away from the nearest feed"
        fix = f"give '{broken.subject}' a feed of its own, or solder the joiners and raise 'limits: joiners'"
        return Told(Severity.WARNING, message, fix, parts, path, where, terminals)
    blades = dict.fromkeys(c.owner for _, c in steps if c is not None and c.what == "blade")
    touching = " and ".join(f"'{name}'" for name in blades)
    message = f"{said} fed by the touch of the blades of {touching} alone: dead once these are dirty"
    return Told(Severity.NOTE, message, _cure(broken.subject, blades), parts, path, where, terminals)


def _cure(piece: str, blades: dict[str, None]) -> str:
    if piece in blades:
        return f"give '{piece}' a changeover contact, or jumpers"
    return f"give '{piece}' a feed of its own behind an insulated joint, or '{next(iter(blades), piece)}' a contact"


def _way(analysis: Analysis, weak: Weak) -> list[PathStep]:
    """The path from a rail to a pole in one of its states."""
    state = analysis.partly_in(weak.function)
    value: Callable[..., bool] = analysis.poles.diagrams.value
    count = len(analysis.circuit.poles)
    for pole, function in analysis.poles.has(analysis.poles.nets.of[weak.rail]):
        if pole < count and value(function, state):
            return analysis.paths.find(weak.rail, pole, state)
    return []


RULE = rule("blade-fed", DOCUMENT, subjects, judge, tell, more=True)
