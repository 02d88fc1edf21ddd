"""The rule `reverser-one-rail`."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.layout.terminal import named
from netlister.poles.diagram import NEVER
from netlister.rules.electric import route_dead
from netlister.rules.model import Breach, Local, Told, rule
from netlister.rules.telling import owners_on, spans_of, told_path

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.numbers import Net, PoleNumber
    from netlister.kinds.model import Route
    from netlister.layout.model import Piece
    from netlister.poles.diagram import Function
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis

DOCUMENT = """A reverser feeds one rail of a track, and something else feeds the other.

## What it finds

A route that is set with one rail that an automatic reverser feeds and, opposite, a rail with a pole of a bus or of
another reverser. Frogs, and rails that hang on a frog, do not count: a reverser may do the work of a frog unit.

## Why it matters

While the reverser stands one way all is well, and a meter finds nothing. As soon as it has turned over, both rails have
the same pole: the track is dead, and a wheel at the next gap is a short.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line:   {length: 1 m}
  inside: {length: 2 m}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: inside, insulate: both}
feeds:
  - {to: line}
  - {to: inside, from: R1, A: left}
  - {to: inside, from: main, B: right}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line:   {length: 1 m}
  inside: {length: 2 m}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: inside, insulate: both}
feeds:
  - {to: line}
  - {to: inside, from: R1}
```

## How to mend it

Take both wires of every track between the gaps from the reverser, and insulate both rails at each end of its section.

## When it is meant

Never.
"""


class Half(NamedTuple):
    """Rails under opposite wheels: one of a reverser, one with a pole from outside its section, and when."""

    inside: str
    outside: str
    reverser: str
    pole: PoleNumber
    function: Function


class About(NamedTuple):
    """A piece of which a reverser feeds one rail alone, and where."""

    piece: Piece
    halves: tuple[Half, ...]


def subjects(analysis: Analysis) -> list[str]:
    """Every piece with a route, where there is an automatic reverser."""
    if all(device.kind != "reverser" for device in analysis.circuit.devices):
        return []
    return [piece.name for piece in analysis.layout.pieces.values() if piece.kind.routes]


def judge(analysis: Analysis, name: str) -> Iterator[Breach[About]]:
    """When a reverser feeds one rail of a set route, and the route has power in one of its positions."""
    piece = analysis.piece(name)
    found = tuple(_halves(analysis, piece))
    if found:
        function = analysis.poles.diagrams.any_of([half.function for half in found])
        yield Breach("reverser-one-rail", name, function, About(piece, found))


def near(_: Analysis, change: Reached) -> set[str]:
    """The pieces that a change touches."""
    return change.pieces


def there(analysis: Analysis, name: str) -> bool:
    """Whether a piece has a route, and there is a reverser."""
    piece = analysis.layout.pieces.get(name)
    reversers = any(device.kind == "reverser" for device in analysis.circuit.devices)
    return reversers and piece is not None and bool(piece.kind.routes)


def _halves(analysis: Analysis, piece: Piece) -> Iterator[Half]:
    poles, diagrams = analysis.circuit.poles, analysis.poles.diagrams
    for route in piece.kind.routes:
        for one, other in _opposite(piece, route):
            for inside, outside in ((one, other), (other, one)):
                for p, f in _alone(analysis, inside):
                    device = poles[p].device
                    for q, g in _alone(analysis, outside) if device else ():
                        if poles[q].device != device and not (poles[q].device and inside > outside):
                            both = diagrams.both(f, g)
                            both = diagrams.both(both, _live(analysis, piece, route)) if both != NEVER else NEVER
                            if both != NEVER:
                                yield Half(inside, outside, device, q, both)


def _opposite(piece: Piece, route: Route) -> list[tuple[str, str]]:
    """Rails that lie opposite each other, frogs left out; where the rails of a route have gaps, each part by itself."""
    left, right = (
        [named(piece.name, r) for r in dict.fromkeys(rails) if r is not None and not piece.kind.is_changing(r)]
        for rails in (route.left, route.right)
    )
    return list(zip(left, right, strict=True)) if len(left) == len(right) else list(product(left, right))


def _live(analysis: Analysis, piece: Piece, route: Route) -> Function:
    """The states in which a route is set and not dead."""
    return analysis.poles.diagrams.without(analysis.settings.route(piece, route), route_dead(analysis, piece, route))


def _alone(analysis: Analysis, rail: str) -> Iterator[tuple[PoleNumber, Function]]:
    """Per pole when a rail has that alone; nothing of a rail that hangs on a frog, nor of frog units."""
    net: Net = analysis.net(rail)
    names, rails, is_changing = analysis.circuit.names, analysis.rails, analysis.layout.is_changing
    if not any(node in rails and is_changing(names[node]) for node in analysis.nodes_of(net)):
        yield from ((p, f) for p, f in analysis.alone(net)[1] if p < len(analysis.circuit.poles))


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say which rail is the reverser's, which is not, and over what."""
    piece, halves = broken.about
    state = analysis.state_in(broken.function)
    here = next(half for half in halves if analysis.poles.diagrams.value(half.function, state))
    pole = analysis.circuit.poles[here.pole]
    path = analysis.paths.find(here.pole, analysis.circuit.node[here.outside], state)
    return Told(
        Severity.WARNING,
        f"{here.inside} belongs to the section of the reverser '{here.reverser}', and {here.outside} opposite has "
        f"{pole.name} from outside: when '{here.reverser}' turns over, both rails have one pole and '{piece.name}' is "
        "dead",
        f"feed both rails of '{piece.name}' from '{here.reverser}', and insulate both rails at each end of its section",
        tuple(dict.fromkeys((piece.name, *owners_on(analysis, path)))),
        told_path(analysis, path),
        tuple(dict.fromkeys((piece.span, *spans_of(analysis, path)))),
    )


RULE = rule("reverser-one-rail", DOCUMENT, subjects, judge, tell, local=Local(near, there))
