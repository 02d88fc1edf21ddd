"""The rule `diode-turned`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.numbers import Net
from netlister.finding import Severity
from netlister.layout.terminal import named
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.poles.flow import flow
from netlister.routes.settings import other_end
from netlister.rules.model import WHOLE, Breach, Told, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Component, Piece
    from netlister.poles.diagram import Function
    from netlister.rules.analysis import Analysis

DOCUMENT = """A diode at the end of a track lets trains in and not out again, or halves a digital signal.

## What it finds

On direct current, a piece of plain track of which one rail is fed through diodes only, all of them one way, so that a
train runs on it in one direction alone; and that direction is the one towards the end of the track, a buffer or an end
that is joined to nothing. A diode conducts from its `from` to its `to`; the direction follows from the rail that is
positive: a train runs forward along a piece when its right-hand rail is.

And on digital track (`dcc`) a piece of plain track of which one rail is fed through diodes only, all of them one way.

## Why it matters

Such a section is there to stop trains in front of the buffer and let them leave again. With the diode turned a train
runs on into the buffer, and then cannot be driven back. A digital signal changes poles all the time: through diodes of
one way only every other half of it comes, which no decoder is built for (common practice, no published source).

## Fails

```yaml
format: netlister/1
supplies: {cab: {type: dc, voltage: 12 V, trip: 1 A}}
track:
  platform: {length: 900 mm}
  stop:     {length: 300 mm}
joints:
  - {from: platform, to: stop, insulate: right}
feeds:
  - {to: platform}
components:
  D1: {kind: diode, from: platform.right, to: stop.right}
```

## Passes

```yaml
format: netlister/1
supplies: {cab: {type: dc, voltage: 12 V, trip: 1 A}}
track:
  platform: {length: 900 mm}
  stop:     {length: 300 mm}
joints:
  - {from: platform, to: stop, insulate: right}
feeds:
  - {to: platform}
components:
  D1: {kind: diode, from: stop.right, to: platform.right}
```

## How to mend it

Turn the diode round: the end with the ring to the other wire. On digital track bridge it, or put a second one beside it
the other way round, as brake sections and detectors have them. Do it with the supply unplugged.

## When it is meant

Never at the end of a track. On through track, for one-way working, nothing is said.
"""


class About(NamedTuple):
    """The diodes at a section, the first piece of it, and which way a train runs there (nothing: digital track)."""

    diodes: tuple[Component, ...]
    piece: Piece
    towards: str


def subjects(analysis: Analysis) -> tuple[str, ...]:
    """The whole layout, where it has diodes and a supply for trains."""
    layout = analysis.layout
    diodes = any(c.kind == "diode" for c in layout.components.values())
    return WHOLE if diodes and any(not s.accessory for s in layout.supplies.values()) else ()


def judge(analysis: Analysis, _: str) -> Iterator[Breach[About]]:
    """Every section behind a diode where a train can only run towards the end, or gets half of a digital signal."""
    poles, diagrams = analysis.diodeless, analysis.poles.diagrams
    positive, negative = _through(analysis, forward=True), _through(analysis, forward=False)
    told: set[Net] = set()
    for piece in analysis.layout.pieces.values():
        if not piece.kind.plain:
            continue
        for side, opposite in (("right", "left"), ("left", "right")):
            own, other = (poles.nets.of[poles.circuit.node[piece.terminal(rail)]] for rail in (side, opposite))
            fed = diagrams.any_of([f for _, f in poles.has(other)])
            if own in told or fed == NEVER:
                continue
            if _all_of(analysis, other, "dcc"):
                one_way = [positive.get(own, NEVER), negative.get(own, NEVER)]
                half = diagrams.without(diagrams.any_of(one_way), diagrams.both(*one_way))
                if diagrams.both(fed, half) != NEVER:
                    told.add(own)
                    yield _breach(analysis, own, piece, "", diagrams.both(fed, half))
            if not _all_of(analysis, other, "dc"):
                continue
            for this, against, forward in (
                (positive, negative, side == "right"),
                (negative, positive, side == "left"),
            ):
                function = diagrams.both(fed, diagrams.without(this.get(own, NEVER), against.get(own, NEVER)))
                first, last = piece.kind.ends
                ahead, behind = (last, first) if forward else (first, last)
                if function != NEVER and _ends(analysis, piece, ahead, own) and not _ends(analysis, piece, behind, own):
                    told.add(own)
                    yield _breach(analysis, own, piece, ahead, function)


def _breach(analysis: Analysis, net: Net, piece: Piece, towards: str, function: Function) -> Breach[About]:
    diodes = _diodes_at(analysis, net)
    subject = "/".join(d.name for d in diodes) or piece.name
    return Breach("diode-turned", subject, function, About(diodes, piece, towards))


def _through(analysis: Analysis, *, forward: bool) -> dict[Net, Function]:
    """Per net that gets a pole through diodes alone, when: the net is then positive (forward), or negative."""
    poles, diagrams = analysis.diodeless, analysis.poles.diagrams
    of, node = poles.nets.of, poles.circuit.node
    links: dict[Net, dict[Net, Function]] = {net: {} for net in map(Net, range(poles.nets.count))}
    for conductor in poles.circuit.conductors:
        if not conductor.when:
            continue
        when = poles.condition(conductor.when)
        a, b = of[conductor.a], of[conductor.b]
        for one, other in ((a, b), (b, a)):
            if other >= poles.count:
                links[one][other] = diagrams.either(links[one].get(other, NEVER), when)
    for diode in _diodes(analysis):
        a, b = (of[node[end]] for end in (diode.ends if forward else diode.ends[::-1]))
        if b >= poles.count:
            links[a][b] = ALWAYS
    own: dict[Net, Function] = {}
    for net in map(Net, range(poles.nets.count)):
        real = [f for pole, f in poles.has(net) if pole < poles.count]
        own[net] = ALWAYS if net < poles.count else diagrams.any_of(real)
    reach: dict[Net, dict[int, Function]] = {net: {0: f} if f != NEVER else {} for net, f in own.items()}
    flow(diagrams, links, reach)
    found = {net: diagrams.without(here.get(0, NEVER), own[net]) for net, here in reach.items()}
    return {net: f for net, f in found.items() if f != NEVER}


def _diodes(analysis: Analysis) -> list[Component]:
    return [c for c in analysis.layout.components.values() if c.kind == "diode"]


def _diodes_at(analysis: Analysis, net: Net) -> tuple[Component, ...]:
    """The diodes with an end on a net of the circuit without diodes."""
    poles = analysis.diodeless
    of, node = poles.nets.of, poles.circuit.node
    return tuple(d for d in _diodes(analysis) if net in {of[node[end]] for end in d.ends})


def _all_of(analysis: Analysis, net: Net, kind: str) -> bool:
    """Whether every pole that a net ever has is of one type of supply."""
    poles = analysis.diodeless
    types = [poles.circuit.poles[p].types for p, _ in poles.has(net) if p < poles.count]
    return bool(types) and all(t == frozenset({kind}) for t in types)


def _ends(analysis: Analysis, piece: Piece, end: str, own: Net) -> bool:
    """Whether the track of a net ends beyond an end of a piece: at a buffer, or where nothing is joined."""
    poles = analysis.diodeless
    start = (piece.name, end)
    here = start
    while True:
        side = analysis.settings.beyond.get(here)
        if side is None:
            return True
        kind = analysis.piece(side.piece).kind
        if not kind.plain:
            return not kind.routes
        rails = (poles.circuit.node[named(side.piece, rail)] for rail in kind.rails)
        here = side.piece, other_end(kind.ends, side.end)
        if here == start or own not in {poles.nets.of[rail] for rail in rails}:
            return False


def tell(analysis: Analysis, broken: Breach[About]) -> Told:  # noqa: ARG001
    """Say which diode is turned."""
    about: About = broken.about
    names = " and ".join(f"'{d.name}'" for d in about.diodes) or "the diode"
    if not about.towards:
        return Told(
            Severity.WARNING,
            f"through {names} '{about.piece.name}' gets only half of the digital signal, so no decoder runs on it",
            f"bridge {names}, or put a diode beside it the other way round, with the supply unplugged; diodes that let "
            "trains run one way are for direct current",
            (about.piece.name,),
            (),
            (*(d.span for d in about.diodes), about.piece.span),
        )
    return Told(
        Severity.WARNING,
        f"through {names} a train on '{about.piece.name}' can only run towards the end of the track, not away from it",
        f"turn {names} round: swap its 'from' and 'to', and on the railway its two wires, with the supply unplugged",
        (about.piece.name,),
        (),
        (*(d.span for d in about.diodes), about.piece.span),
    )


RULE = rule("diode-turned", DOCUMENT, subjects, judge, tell)
