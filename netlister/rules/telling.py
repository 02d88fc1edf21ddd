"""What rules say of paths, parts and places."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout.terminal import Terminal

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from netlister.circuit.model import Circuit, Conductor, State
    from netlister.circuit.numbers import Net, Node, PoleNumber, Var
    from netlister.circuit.paths import PathStep
    from netlister.layout.model import Value
    from netlister.poles.diagram import Function
    from netlister.rules.analysis import Analysis
    from netlister.source import Span


def told_path(analysis: Analysis, steps: Iterable[PathStep]) -> tuple[str, ...]:
    """The terminals on a path."""
    return tuple(analysis.circuit.names[node] for node, _ in steps)


def piece_of(analysis: Analysis, node: Node, circuit: Circuit | None = None) -> str:
    """The piece whose rail a node is, or nothing. `circuit`: another one of the layout that the node is of."""
    name = Terminal.of((circuit or analysis.circuit).names[node]).owner
    return name if name in analysis.layout.pieces else ""


def owners_on(analysis: Analysis, steps: Iterable[PathStep], circuit: Circuit | None = None) -> list[str]:
    """The pieces on a path, sorted."""
    return sorted({piece_of(analysis, node, circuit) for node, _ in steps} - {""})


def place_of(analysis: Analysis, conductor: Conductor) -> Span | None:
    """Where a conductor is written down."""
    layout = analysis.layout
    what = conductor.what
    if conductor.entry is not None:
        return conductor.entry.span
    if what == "component":
        return layout.components[conductor.owner].span
    if what == "reverser":
        return layout.reversers[conductor.owner].span
    return layout.pieces[conductor.owner].span


def spans_of(analysis: Analysis, steps: Sequence[PathStep]) -> tuple[Span, ...]:
    """Where what conducts on a path is written down: contacts first, then joints, then the rest."""
    rank = {"contact": 0, "lead": 0, "reverser": 0, "blade": 1, "joiner": 2, "wire": 3, "plug": 3}
    conductors = sorted((c for _, c in steps if c is not None), key=lambda c: rank.get(c.what, 4))
    found = [place_of(analysis, c) for c in conductors]
    return tuple(dict.fromkeys(span for span in found if span is not None))


def told_sides(
    analysis: Analysis, pairs: Iterable[tuple[str, str, Function]], state: State | Mapping[Var, Value]
) -> tuple[tuple[str, str], tuple[str, str], tuple[str, ...]]:
    """The first of some pairs of terminals that clash in a state: the poles, the terminals and a path.

    `pairs` come with the states in which they count. The path leads from one pole over both terminals to the other.
    Where automatic devices feed them, a pair that has two poles will do.
    """
    poles = len(analysis.circuit.poles)
    found: list[tuple[bool, PoleNumber, PoleNumber, str, str]] = []
    for a, b, counts in pairs:
        p, q = (one_pole(analysis, analysis.net(terminal), state) for terminal in (a, b))
        if p is not None and q is not None and p != q and analysis.poles.diagrams.value(counts, state):
            clashes = max(p, q) < poles and analysis.clash(p, q)
            found.append((not clashes, p, q, a, b))
    if not found:
        return ("", ""), ("", ""), ()
    _, p, q, a, b = min(found, key=lambda one: one[0])
    path: tuple[str, ...] = ()
    if max(p, q) < poles:
        node = analysis.circuit.node
        first, second = (analysis.paths.find(node[t], pole, state) for t, pole in ((a, p), (b, q)))
        path = (*reversed(told_path(analysis, first)), *told_path(analysis, second))
    return (pole_name(analysis, p), pole_name(analysis, q)), (a, b), path


def told_first(analysis: Analysis, function: Function) -> tuple[dict[Var, Value], State]:
    """The partial position that a finding tells first, and a state that it covers."""
    diagrams = analysis.poles.diagrams
    first = dict(next(iter(analysis.cubes(function)), ()))
    return first, analysis.state_in(diagrams.both(function, diagrams.cube(first.items())))


def steady(
    analysis: Analysis, start: Node | PoleNumber, goal: Node, told: Mapping[Var, Value], state: State
) -> list[PathStep]:
    """A path that conducts in every state that some positions cover; where there is none, one in a state of them."""
    variables = analysis.circuit.variables

    def conducts(conductor: Conductor) -> bool:
        return all(
            told[v] in values if v in told else len(values) == len(variables[v].positions)
            for v, values in conductor.when
        )

    find = analysis.paths.find
    return find(start, goal, state, None, conducts) or find(start, goal, state)


def one_pole(analysis: Analysis, net: Net, state: State | Mapping[Var, Value]) -> PoleNumber | None:
    """The pole or unit that a net has in a state and no other, or None."""
    for pole, function in analysis.alone(net)[1]:
        if analysis.poles.diagrams.value(function, state):
            return pole
    return None


def pole_name(analysis: Analysis, pole: PoleNumber) -> str:
    """The name of a pole or of a frog unit."""
    poles = analysis.circuit.poles
    return poles[pole].name if pole < len(poles) else analysis.poles.units[pole - len(poles)].name


def from_source(analysis: Analysis, piece: str) -> str:
    """What a further feed of a piece is to come from, as ` from 'R1'`; nothing where there is only one source.

    The sources of what is connected with its rails by metal: a section behind a reverser is fed from that alone.
    """
    layout = analysis.layout
    buses = {bus.name for bus in layout.buses.values() if not layout.supplies[bus.supply].accessory}
    if len(buses | layout.reversers.keys()) == 1:
        return ""
    nets = {analysis.net(layout.pieces[piece].terminal(rail)) for rail in layout.pieces[piece].kind.rails}
    found = {feed.source for feed in layout.feeds if any(analysis.net(rail) in nets for _, rail in feed.wires)}
    return f" from '{found.pop()}'" if len(found) == 1 else ""
