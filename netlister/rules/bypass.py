"""What gets its current past a part in a wire that it is to go through: a detector, a breaker, a fuse."""

from __future__ import annotations

from itertools import permutations
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.numbers import Net, PoleNumber
from netlister.circuit.paths import Paths
from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.poles.reach import ones
from netlister.rules.model import Breach, Told, Unproved
from netlister.rules.telling import owners_on, spans_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.circuit.paths import PathStep
    from netlister.kinds.model import Route
    from netlister.layout.model import Piece
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Short
    from netlister.rules.analysis import Analysis
    from netlister.rules.behind import PartsBehind


class FedFrog(NamedTuple):
    """A frog with a pole past a part: its terminal, the rail that has that pole behind it, the unit or nothing."""

    terminal: str
    rail: str
    unit: str
    piece: Piece


class Bypass(NamedTuple):
    """What is bypassed: the places where the current behind a part meets other current, or a frog."""

    parts: tuple[str, ...]
    places: tuple[tuple[Function, Short], ...] = ()
    frog: FedFrog | None = None


class BypassWords(NamedTuple):
    """What is said of a part that is bypassed.

    `by_pole`: of a part and the pole it is bypassed from. `by_other`: of the names of two parts. `at_frog`: of a part,
    where the frog has its pole from, and the frog. A part is given as what it is with its name, as in `fuse 'F1'`.
    """

    by_pole: Callable[[str, str], str]
    by_other: Callable[[str, str], str]
    at_frog: Callable[[str, str, FedFrog], str]
    fix: str


def bypasses(analysis: Analysis, rule: str, behind: PartsBehind) -> Iterator[Breach[Bypass] | Unproved]:
    """What gets its current past a part, and when."""
    poles, diagrams = behind.poles, behind.poles.diagrams
    places: dict[tuple[str, ...], list[tuple[Function, Short]]] = {}
    for place in poles.places():
        for region in poles.unsolved(place):
            pieces = sorted({Terminal.of(poles.circuit.names[n]).owner for n in poles.nodes_of(region.nets)})
            yield Unproved(rule, pieces[0])
        for short in poles.shorts_at(place):
            parts = tuple(sorted(behind.names[p] for p in short.poles if p in behind.names))
            if parts:
                function = diagrams.both(short.function, _same(behind, short.poles))
                if function != NEVER:
                    places.setdefault(parts, []).append((function, short))
    for parts, found in sorted(places.items()):
        function = diagrams.any_of([f for f, _ in found])
        yield Breach(rule, "/".join(parts), function, Bypass(parts, tuple(found)))
    for piece in analysis.layout.pieces.values():
        for rail in piece.kind.frogs:
            for part, when, frog in _frogs(behind, piece, rail):
                yield Breach(rule, f"{part} at {frog.terminal}", when, Bypass((part,), (), frog), frog.terminal)


def _same(behind: PartsBehind, pair: tuple[PoleNumber, PoleNumber]) -> Function:
    """When two poles, each behind a part or ahead of all, are in truth the same pole."""
    diagrams = behind.poles.diagrams
    one, other = (behind.base(behind.names[p]) if p in behind.names else {p: ALWAYS} for p in pair)
    return diagrams.any_of([diagrams.both(f, other[p]) for p, f in one.items() if p in other])


def _frogs(behind: PartsBehind, piece: Piece, frog: str) -> Iterator[tuple[str, Function, FedFrog]]:
    """The parts through which alone a stock rail has a pole that the frog has past them, and when."""
    poles, diagrams = behind.poles, behind.poles.diagrams
    terminal = piece.terminal(frog)
    has = ones(diagrams, poles.has(behind.net(terminal)))
    if not any(pole not in behind.names for pole, _ in has):
        return
    found: dict[str, list[tuple[Function, str, str]]] = {}
    for rail in piece.kind.rails:
        if piece.kind.is_changing(rail):
            continue
        for own, g in ones(diagrams, poles.has(behind.net(piece.terminal(rail)))):
            if own not in behind.names:
                continue
            name = behind.names[own]
            for pole, f in has:
                when = diagrams.both(diagrams.both(f, g), _pole_ahead(behind, (piece, frog, rail), pole, name))
                if when != NEVER:
                    unit = poles.units[pole - poles.count].name if pole >= poles.count else ""
                    found.setdefault(name, []).append((when, piece.terminal(rail), unit))
    for name, listed in found.items():
        _, rail, unit = listed[0]
        yield name, diagrams.any_of([f for f, _, _ in listed]), FedFrog(terminal, rail, unit, piece)


def _pole_ahead(behind: PartsBehind, rails: tuple[Piece, str, str], pole: PoleNumber, part: str) -> Function:
    """When a frog's pole is that of a rail behind a part, taken ahead of this.

    `rails`: the piece, its frog, that rail.
    """
    piece, frog, rail = rails
    diagrams, base = behind.poles.diagrams, behind.base(part)
    if pole in behind.names:  # behind another part: ahead of this one only if this one hangs on it
        ahead = behind.poles.has(behind.net(behind.ahead[part]))
        return diagrams.any_of([f for p, f in ahead if p == pole])
    if pole < behind.poles.count:
        elsewhere = NEVER  # where a rail of the piece has that pole ahead of all parts, the frog may have it from there
        for other in piece.kind.rails:
            if not piece.kind.is_changing(other):
                has = dict(behind.poles.has(behind.net(piece.terminal(other))))
                elsewhere = diagrams.either(elsewhere, has.get(pole, NEVER))
        return diagrams.without(base.get(pole, NEVER), elsewhere)
    inputs = behind.poles.units[pole - behind.poles.count].inputs
    fed = diagrams.any_of([f for p, f in base.items() if p in inputs])
    settings = behind.settings()
    ways = [settings.route(piece, route) for route in piece.kind.routes if _beside(route, frog, rail)]
    return diagrams.both(fed, diagrams.any_of(ways))


def _beside(route: Route, frog: str, rail: str) -> bool:
    """Whether wheels of one side run over both rails."""
    return any(frog in path and rail in path for path in (route.left, route.right))


def told_bypass(analysis: Analysis, behind: PartsBehind, broken: Breach[Bypass], words: BypassWords) -> Told:
    """Say what goes past which part, and along what."""
    bypass = broken.about
    circuit, diagrams = behind.poles.whole, behind.poles.diagrams
    state = analysis.state_in(broken.function)
    spans = [analysis.layout.components[name].span for name in bypass.parts]
    paths = Paths(circuit)
    frog = bypass.frog
    if frog is not None:
        poles = behind.poles.has(behind.net(frog.terminal))
        has = [p for p, f in poles if p < behind.poles.count and diagrams.value(f, state)]
        steps = paths.find(has[0], circuit.node[frog.terminal], state) if has else []
        source = f"from the frog unit '{frog.unit}'" if frog.unit else "from ahead of it"
        return Told(
            Severity.WARNING,
            words.at_frog(_called(analysis, bypass.parts[0]), source, frog),
            "take the throws of the frog's contact from the stock rails of its own turnout",
            (frog.piece.name,),
            _spoken(steps, behind),
            (frog.piece.span, *spans, *spans_of(analysis, _known(behind, steps))),
        )
    _, short = next(place for place in bypass.places if diagrams.value(place[0], state))
    nets = behind.poles.around(short)
    within = None if nets is None else frozenset(behind.poles.nodes_of(nets))
    a, b = sorted(short.poles, key=lambda p: (p not in behind.names, p))
    steps = paths.find(a, b, state, within) or paths.find(a, b, state)
    return Told(
        Severity.WARNING,
        _said(analysis, behind, bypass.parts, words, circuit.poles[b].name),
        words.fix,
        tuple(owners_on(analysis, steps, circuit)),
        _spoken(steps, behind),
        (*spans, *spans_of(analysis, _known(behind, steps))),
    )


def _said(analysis: Analysis, behind: PartsBehind, parts: tuple[str, ...], words: BypassWords, pole: str) -> str:
    """What is said of one part that is bypassed from a pole, or of two that are joined."""
    hangs_on = [(one, other) for one, other in permutations(parts) if other in _ahead(behind, one)] if parts[1:] else []
    if parts[1:] and len(hangs_on) != 1:
        return words.by_other(*parts)
    name, past = (parts[0], pole) if not hangs_on else (hangs_on[0][0], f"behind '{hangs_on[0][1]}'")
    return words.by_pole(_called(analysis, name), past)


def _called(analysis: Analysis, part: str) -> str:
    """A part as what it is with its name."""
    return f"{analysis.layout.components[part].kind} '{part}'"


def _ahead(behind: PartsBehind, part: str) -> set[str]:
    """The parts through which a part may get its current."""
    return {behind.names[pole] for pole, _ in behind.poles.has(behind.net(behind.ahead[part])) if pole in behind.names}


def _known(behind: PartsBehind, steps: list[PathStep]) -> list[PathStep]:
    """The steps over what is written in the layout: not those over the wires that stand for the parts."""
    return [(n, None if c is not None and {c.a, c.b} & behind.names.keys() else c) for n, c in steps]


def _spoken(steps: list[PathStep], behind: PartsBehind) -> tuple[str, ...]:
    """The terminals on a path; a pole behind a part as the part."""
    names = behind.poles.circuit.names
    return tuple(behind.names.get(PoleNumber(Net(node)), names[node]) for node, _ in steps)
