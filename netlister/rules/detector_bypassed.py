"""The rule `detector-bypassed`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.numbers import Net, PoleNumber
from netlister.circuit.paths import Paths
from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.rules.analysis import ones
from netlister.rules.model import WHOLE, Breach, Told, Unproved, rule
from netlister.rules.telling import owners_on, spans_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.paths import PathStep
    from netlister.kinds.model import Route
    from netlister.layout.model import Piece
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Short
    from netlister.rules.analysis import Analysis
    from netlister.rules.detected import Detected

DOCUMENT = """Current reaches a block past its detector.

## What it finds

A rail behind a block detector that has the same pole on a path that avoids the detector, or that leads through another
one. And a frog that gets a pole ahead of the detector, from the bus or from a frog unit, where the stock rail of that
pole is behind it.

## Why it matters

Nothing shorts and trains run, but the detector sees only part of the current, or none: a block with a train in it shows
as clear, or two blocks show the same train. With a frog it is the wheels on the frog that are not seen.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  west: {length: 900 mm}
  east: {length: 900 mm}
joints:
  - {from: west, to: east}
feeds:
  - {to: west, B: right}
components:
  D1: {kind: detector, from: main.A, to: west.left}
  D2: {kind: detector, from: main.A, to: east.left}
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

Insulate the rail that is sensed wherever the block ends, take every feed of the block from behind its detector, and the
throws of a frog's contact from the stock rails of its own turnout.

## When it is meant

Where a frog is too short to matter, or lies behind a frog unit on the bus: allow it with a comment.
"""


class About(NamedTuple):
    """What is bypassed: the places where the current of a detector's block meets other current, or a frog."""

    detectors: tuple[str, ...]
    places: tuple[tuple[Function, Short], ...] = ()
    frog: tuple[str, str, str] | None = None  # frog, stock rail, unit or nothing
    piece: Piece | None = None


def subjects(analysis: Analysis) -> tuple[str, ...]:
    """The whole layout, where it has detectors."""
    return WHOLE if analysis.detected is not None else ()


def judge(analysis: Analysis, _: str) -> Iterator[Breach[About] | Unproved]:
    """What gets its current past a detector, and when."""
    detected = analysis.detected
    assert detected is not None
    poles, diagrams = detected.poles, detected.poles.diagrams
    places: dict[tuple[str, ...], list[tuple[Function, Short]]] = {}
    for place in poles.places():
        for region in poles.unsolved(place):
            pieces = sorted({Terminal.of(poles.circuit.names[n]).owner for n in poles.nodes_of(region.nets)})
            yield Unproved("detector-bypassed", pieces[0])
        for short in poles.shorts_at(place):
            behind = tuple(sorted(detected.names[p] for p in short.poles if p in detected.names))
            if behind:
                function = diagrams.both(short.function, _same(detected, short.poles))
                if function != NEVER:
                    places.setdefault(behind, []).append((function, short))
    for behind, found in sorted(places.items()):
        function = diagrams.any_of([f for f, _ in found])
        yield Breach("detector-bypassed", "/".join(behind), function, About(behind, tuple(found)))
    for piece in analysis.layout.pieces.values():
        for rail in piece.kind.frogs:
            yield from _frog(detected, piece, rail)


def _same(detected: Detected, pair: tuple[PoleNumber, PoleNumber]) -> Function:
    """When two poles, each behind a detector or ahead of all, are in truth the same pole."""
    diagrams = detected.poles.diagrams
    one, other = (detected.base(detected.names[p]) if p in detected.names else {p: ALWAYS} for p in pair)
    return diagrams.any_of([diagrams.both(f, other[p]) for p, f in one.items() if p in other])


def _frog(detected: Detected, piece: Piece, frog: str) -> Iterator[Breach[About]]:
    """When a frog gets a pole that its stock rail has through a detector only."""
    poles, diagrams = detected.poles, detected.poles.diagrams
    terminal = piece.terminal(frog)
    has = ones(diagrams, poles.has(detected.net(terminal)))
    if not any(pole not in detected.names for pole, _ in has):
        return
    found: dict[str, list[tuple[Function, str, str]]] = {}
    for rail in piece.kind.rails:
        if piece.kind.is_changing(rail):
            continue
        for behind, g in ones(diagrams, poles.has(detected.net(piece.terminal(rail)))):
            if behind not in detected.names:
                continue
            name = detected.names[behind]
            for pole, f in has:
                when = diagrams.both(diagrams.both(f, g), _pole_ahead(detected, (piece, frog, rail), pole, name))
                if when != NEVER:
                    unit = poles.units[pole - poles.count].name if pole >= poles.count else ""
                    found.setdefault(name, []).append((when, piece.terminal(rail), unit))
    for name, listed in found.items():
        function = diagrams.any_of([f for f, _, _ in listed])
        _, rail, unit = listed[0]
        about = About((name,), (), (terminal, rail, unit), piece)
        yield Breach("detector-bypassed", f"{name} at {terminal}", function, about, terminal)


def _pole_ahead(detected: Detected, rails: tuple[Piece, str, str], pole: PoleNumber, detector: str) -> Function:
    """When a frog's pole is that of a rail behind a detector, taken ahead of this.

    `rails`: the piece, its frog, that rail.
    """
    piece, frog, rail = rails
    diagrams, base = detected.poles.diagrams, detected.base(detector)
    if pole in detected.names:  # behind another detector: ahead of this one only if this one hangs on it
        behind = detected.poles.has(detected.net(detected.ahead[detector]))
        return diagrams.any_of([f for p, f in behind if p == pole])
    if pole < detected.poles.count:
        elsewhere = (
            NEVER  # where a rail of the piece has that pole ahead of all detectors, the frog may have it from there
        )
        for other in piece.kind.rails:
            if not piece.kind.is_changing(other):
                has = dict(detected.poles.has(detected.net(piece.terminal(other))))
                elsewhere = diagrams.either(elsewhere, has.get(pole, NEVER))
        return diagrams.without(base.get(pole, NEVER), elsewhere)
    inputs = detected.poles.units[pole - detected.poles.count].inputs
    fed = diagrams.any_of([f for p, f in base.items() if p in inputs])
    settings = detected.settings()
    ways = [settings.route(piece, route) for route in piece.kind.routes if _beside(route, frog, rail)]
    return diagrams.both(fed, diagrams.any_of(ways))


def _beside(route: Route, frog: str, rail: str) -> bool:
    """Whether wheels of one side run over both rails."""
    return any(frog in path and rail in path for path in (route.left, route.right))


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say what goes past which detector, and along what."""
    about: About = broken.about
    detected = analysis.detected
    assert detected is not None
    circuit, diagrams = detected.poles.whole, detected.poles.diagrams
    state = analysis.state_in(broken.function)
    spans = [analysis.layout.components[name].span for name in about.detectors]
    paths = Paths(circuit)
    if about.frog is not None and about.piece is not None:
        frog, rail, unit = about.frog
        has = [
            p
            for p, f in detected.poles.has(detected.net(frog))
            if p < detected.poles.count and diagrams.value(f, state)
        ]
        steps = paths.find(has[0], circuit.node[frog], state) if has else []
        source = f"from the frog unit '{unit}'" if unit else "from ahead of it"
        return Told(
            Severity.WARNING,
            f"{frog} gets its pole {source}, while {rail} is behind the detector '{about.detectors[0]}': "
            "wheels on the frog are not seen",
            "take the throws of the frog's contact from the stock rails of its own turnout",
            (about.piece.name,),
            _spoken(steps, detected),
            (about.piece.span, *spans, *spans_of(analysis, _known(detected, steps))),
        )
    _, short = next(place for place in about.places if diagrams.value(place[0], state))
    nets = detected.poles.around(short)
    within = None if nets is None else frozenset(detected.poles.nodes_of(nets))
    a, b = sorted(short.poles, key=lambda p: (p not in detected.names, p))
    steps = paths.find(a, b, state, within) or paths.find(a, b, state)
    others = about.detectors[1:]
    if others:
        message = f"the blocks of the detectors '{about.detectors[0]}' and '{others[0]}' are joined by metal"
    else:
        message = f"the block of the detector '{about.detectors[0]}' gets current past it, from {circuit.poles[b].name}"
    return Told(
        Severity.WARNING,
        message,
        "insulate the rail that is sensed where the block ends, and take its feeds from behind its detector",
        tuple(owners_on(analysis, steps, circuit)),
        _spoken(steps, detected),
        (*spans, *spans_of(analysis, _known(detected, steps))),
    )


def _known(detected: Detected, steps: list[PathStep]) -> list[PathStep]:
    """The steps over what is written in the layout: not those over the wires that stand for detectors."""
    return [(n, None if c is not None and {c.a, c.b} & detected.names.keys() else c) for n, c in steps]


def _spoken(steps: list[PathStep], detected: Detected) -> tuple[str, ...]:
    """The terminals on a path; a pole behind a detector as the detector."""
    names = detected.poles.circuit.names
    return tuple(detected.names.get(PoleNumber(Net(node)), names[node]) for node, _ in steps)


RULE = rule("detector-bypassed", DOCUMENT, subjects, judge, tell)
