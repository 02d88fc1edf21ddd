"""The rule `dead-track`."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import ALWAYS, NEVER, LimitError
from netlister.poles.reach import UnprovedError
from netlister.rules import floating_net
from netlister.rules.electric import dead, piece_dead, route_dead
from netlister.rules.model import Breach, Local, Told, rule
from netlister.rules.telling import pole_name, told_path

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.numbers import PoleNumber, Var
    from netlister.kinds.model import Route
    from netlister.layout.model import Piece
    from netlister.poles.diagram import Function
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis, PartialState

DOCUMENT = """A train cannot run on a route that is set.

## What it finds

A set route through a piece where the wheels on one side and those on the other do not get the two poles of one supply:
a rail has no pole, both rails have the same pole, or the poles belong to different supplies.

## Why it matters

A train stops there, or never starts. How bad that is depends: a siding that is dead while its turnout is set away from
it is often meant so, a main line that is dead in every position never.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  spur: {length: 400 mm}
feeds:
  - {to: spur, A: left}
  - {to: spur, A: right}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  spur: {length: 400 mm}
feeds:
  - {to: spur, A: left}
  - {to: spur, B: right}
```

## How to mend it

Give the piece a feed of its own, or the frog a contact. Where both rails have the same pole, move the feed wire of one
of them to the other pole; at a frog swap the two throws of its contact.

## When it is meant

Say so: `expect: [{track: siding, is: dead, when: {T1: through}}]`.
"""


def subjects(analysis: Analysis) -> Iterable[str]:
    """Every piece."""
    return analysis.layout.pieces


def judge(analysis: Analysis, name: str) -> Iterator[Breach[Piece]]:
    """When a set route of a piece is dead though it is not meant to be."""
    piece = analysis.piece(name)
    function = _dead_unmeant(analysis, piece)
    if function:
        yield Breach("dead-track", name, function, piece)


def near(_: Analysis, change: Reached) -> set[str]:
    """The pieces that a change touches."""
    return change.pieces


def there(analysis: Analysis, name: str) -> bool:
    """Whether there is such a piece."""
    return name in analysis.layout.pieces


def _dead_unmeant(analysis: Analysis, piece: Piece) -> Function:
    """The states in which a piece is dead and `expect` does not say so."""
    function = piece_dead(analysis, piece)
    meant = analysis.meant(piece.name)
    if function and meant != NEVER:
        function = analysis.poles.diagrams.without(function, meant)
    return function


# -- how bad it is


def severity(analysis: Analysis, piece: Piece, function: Function) -> Severity:
    """How bad it is, by the worst of the states in which the piece is dead.

    States in which only an unpowered frog is dead count as `floating-net` does. Others may be explained: a rail goes on
    from a leg that is not set, a hand switch is open, a turnout is set against the piece. Unexplained it is an error
    if the piece is always dead or a train can enter it from live track. All else is a warning on dcc; on dc, where
    track is switched off on purpose, a note if it is explained and else a warning.
    """
    diagrams, possible = analysis.poles.diagrams, analysis.poles.possible
    dead_states = diagrams.both(function, analysis.poles.allowed(function))
    milder = Severity.WARNING if _on_dcc(analysis, piece) else Severity.NOTE
    worst = Severity.NOTE
    for frog, states in _only_frog(analysis, piece, dead_states):
        dead_states = diagrams.without(dead_states, states)
        worst = max(worst, frog)
    if not possible(dead_states):
        return worst
    open_states = diagrams.without(dead_states, _continues_unset_leg(analysis, piece))
    errors = NEVER
    if possible(open_states):
        errors = open_states if analysis.always(function) else _entered(analysis, piece, open_states)
    if milder == Severity.WARNING:
        open_states = errors
    if possible(open_states):
        open_states = diagrams.without(open_states, _open_or_against(analysis, piece, open_states))
    if possible(diagrams.both(open_states, errors)):
        return Severity.ERROR
    if milder == Severity.WARNING or possible(open_states):
        return Severity.WARNING
    return max(worst, milder)


def _on_dcc(analysis: Analysis, piece: Piece) -> bool:
    """Whether a supply that ever feeds the piece is of type dcc; where none does, whether any supply is."""
    poles = analysis.circuit.poles
    types: set[str] = set()
    for rail in piece.kind.rails:
        for pole, _ in analysis.poles.has(analysis.net(piece.terminal(rail))):
            if pole < len(poles):
                types |= poles[pole].types
    return "dcc" in (types or {s.type for s in analysis.layout.supplies.values()})


def _entered(analysis: Analysis, piece: Piece, states: Function) -> Function:
    """The states in which a train on set routes comes onto the dead piece from live track."""
    diagrams, settings = analysis.poles.diagrams, analysis.settings
    result = NEVER
    for route in piece.kind.routes:
        here = diagrams.both(states, route_dead(analysis, piece, route))
        for end in route.ends:
            side = settings.beyond.get((piece.name, end))
            if here == NEVER or side is None:
                continue
            there = analysis.layout.pieces[side.piece]
            for other in there.kind.routes:
                if side.end in other.ends:
                    live = diagrams.without(settings.route(there, other), route_dead(analysis, there, other))
                    result = diagrams.either(result, diagrams.both(here, live))
    return result


def _only_frog(analysis: Analysis, piece: Piece, dead_states: Function) -> Iterator[tuple[Severity, Function]]:
    """States in which a frog that never has a pole is the only rail without one, and how bad that frog is."""
    diagrams = analysis.poles.diagrams
    for route in piece.kind.routes:
        rails = list(dict.fromkeys(rail for rail in (*route.left, *route.right) if rail is not None))
        nets = {rail: analysis.net(piece.terminal(rail)) for rail in rails}
        for frog in rails:
            has = analysis.poles.has(nets[frog])
            if piece.kind.is_frog(frog) and not any(analysis.poles.possible(f) for _, f in has):
                others = diagrams.any_of([analysis.alone(net)[0] for rail, net in nets.items() if rail != frog])
                members = [n for n in analysis.poles.nodes_of([nets[frog]]) if n in analysis.rails]
                states = diagrams.without(diagrams.both(dead_states, analysis.settings.route(piece, route)), others)
                yield floating_net.severity(analysis, members), states


def _continues_unset_leg(analysis: Analysis, piece: Piece) -> Function:
    """The states in which a rail of the piece continues a changing rail from a leg that is not set."""
    return analysis.settings.unset(analysis.settings.legs_of_piece(piece))


def _open_or_against(analysis: Analysis, piece: Piece, states: Function) -> Function:
    """The states in which only open contacts of hand switches, or turnouts set against the piece, keep it dead."""
    diagrams = analysis.poles.diagrams
    live = live_as_set = diagrams.negate(piece_dead(analysis, piece))
    matters = diagrams.support(live)
    if not matters:
        return NEVER
    movable = {v: when for v, when in _open_switches(analysis).items() if v in matters}
    for variable, when in _set_against(analysis, piece, states).items():
        if variable in matters:
            movable[variable] = diagrams.either(movable.get(variable, NEVER), when)
    before = NEVER
    while live != before:  # move one after the other to any position, until no more states become live
        before = live
        for variable, when in movable.items():
            live = diagrams.either(live, diagrams.both(when, diagrams.exists(live, variable)))
    return diagrams.without(live, live_as_set)


def _open_switches(analysis: Analysis) -> dict[Var, Function]:
    """Per variable of a hand switch the states in which one of its contacts is open.

    It is open where its throw is left out, and, as in a selector of roads, to the throws that it feeds in turn: where
    its common has a pole and a throw on which it does not stand has none.
    """
    circuit, diagrams = analysis.circuit, analysis.poles.diagrams
    found: dict[Var, Function] = {}
    for contact in analysis.layout.contacts:
        variable = circuit.variable[contact.variable]
        if circuit.variables[variable].kind != "switch":
            continue
        values = set(circuit.variables[variable].values)
        fed = diagrams.negate(_bare(analysis, contact.common)) if contact.common else NEVER
        for (_, to), at in zip(contact.throws, contact.values, strict=True):
            open_now = diagrams.both(_bare(analysis, to), fed) if to else ALWAYS
            elsewhere = diagrams.literal(variable, values - set(at)) if to else diagrams.literal(variable, set(at))
            found[variable] = diagrams.either(found.get(variable, NEVER), diagrams.both(open_now, elsewhere))
    return found


def _bare(analysis: Analysis, terminal: str) -> Function:
    """The states in which a terminal has no pole."""
    net = analysis.net(terminal)
    return NEVER if net < analysis.poles.count else analysis.alone(net)[0]


def _set_against(analysis: Analysis, piece: Piece, states: Function) -> dict[Var, Function]:
    """Per variable of a turnout the states in which it is set against the piece.

    It is where the track that leads from the piece over set routes arrives at a leg of it that is not set.
    """
    diagrams, settings, pieces = analysis.poles.diagrams, analysis.settings, analysis.layout.pieces
    arrived: dict[tuple[str, str], Function] = {}
    queue: deque[tuple[str, str]] = deque()

    def arrive(name: str, end: str, when: Function) -> None:
        side = settings.beyond.get((name, end))
        if side is None or when == NEVER:
            return
        key = (side.piece, side.end)
        old = arrived.get(key, NEVER)
        new = diagrams.either(old, when)
        if new != old:
            arrived[key] = new
            queue.append(key)

    for route in piece.kind.routes:
        here = diagrams.both(states, settings.route(piece, route))
        for end in route.ends:
            arrive(piece.name, end, here)
    while queue:
        name, end = queue.popleft()
        when = arrived[name, end]
        there = pieces[name]
        for route in there.kind.routes:
            if end in route.ends:
                other = route.ends[1] if route.ends[0] == end else route.ends[0]
                arrive(name, other, diagrams.both(when, settings.route(there, route)))
    against: dict[Var, Function] = {}
    for (name, end), when in arrived.items():
        there = pieces[name]
        if there.kind.bladed:
            unset = diagrams.without(when, settings.end(there, end))
            for bar in there.bars if unset != NEVER else ():
                variable = analysis.circuit.variable[analysis.layout.bars[bar].variable]
                against[variable] = diagrams.either(against.get(variable, NEVER), unset)
    return against


# -- telling


def tell(analysis: Analysis, broken: Breach[Piece]) -> Told:
    """Say which rails are not what the wheels need, and over which wires they have what they have."""
    piece: Piece = broken.about
    analysis.poles.diagrams.begin()
    try:
        grade = severity(analysis, piece, broken.function)
    except (LimitError, UnprovedError):
        grade = Severity.ERROR
    state = analysis.partly_in(broken.function)
    route, left, right = _offenders(analysis, piece, state)
    way = f" on the route {route.ends[0]} to {route.ends[1]}" if len(piece.kind.routes) > 1 else ""
    message, fix, path, parts = _why(analysis, piece, left, right, state)
    return Told(
        grade,
        f"no train can run on '{piece.name}'{way}: {message}",
        fix,
        tuple(sorted({piece.name, *parts})),
        path,
        (piece.span,),
    )


def _offenders(analysis: Analysis, piece: Piece, state: PartialState) -> tuple[Route, str, str]:
    """A dead set route in a state, and a rail on each side that do not fit together."""
    diagrams = analysis.poles.diagrams
    for route in piece.kind.routes:
        if not diagrams.value(route_dead(analysis, piece, route), state):
            continue
        for left in route.left:
            for right in route.right:
                if left is not None and right is not None:
                    nets = [analysis.net(piece.terminal(rail)) for rail in (left, right)]
                    if diagrams.value(dead(analysis, nets[:1], nets[1:]), state):
                        return route, left, right
        return route, next(r for r in route.left if r), next(r for r in route.right if r)
    message = f"{piece.name} is not dead in the state picked for it"
    raise AssertionError(message)


def _why(
    analysis: Analysis, piece: Piece, left: str, right: str, state: PartialState
) -> tuple[str, str, tuple[str, ...], set[str]]:
    """What is wrong with two rails, what mends it, over which path, and the pieces on that."""
    terminals = [piece.terminal(rail) for rail in (left, right)]
    poles = [_poles_in(analysis, t, state) for t in terminals]
    bare = [t for t, p in zip(terminals, poles, strict=True) if not p]
    if bare:
        text = f"neither {bare[0]} nor {bare[1]} has a pole" if len(bare) > 1 else f"{bare[0]} has no pole"
        return text, f"feed {' and '.join(bare)}, or look at the joiner or contact that should", (), set()
    paths = []
    for terminal, found in zip(terminals, poles, strict=True):
        if found[0] < len(analysis.circuit.poles):
            paths.append(analysis.paths.find(found[0], analysis.circuit.node[terminal], state))
    longest = max(paths, key=lambda steps: (sum(bool(c and c.when) for _, c in steps), len(steps)), default=[])
    parts = {Terminal.of(analysis.circuit.names[n]).owner for n, _ in longest} & set(analysis.layout.pieces)
    text, fix = _unlike(analysis, terminals, [p[0] for p in poles])
    return text, fix, told_path(analysis, longest), parts


def _unlike(analysis: Analysis, terminals: list[str], found: list[PoleNumber]) -> tuple[str, str]:
    """Why two rails that have a pole each cannot drive a train, and what mends it."""
    poles = analysis.circuit.poles
    names = [pole_name(analysis, p) for p in found]
    fix = "one rail needs pole A, the other pole B of the same supply; look at the contact or feed on the path above"
    if names[0] == names[1]:
        return f"{terminals[0]} and {terminals[1]} both have {names[0]}", fix
    units = [p - len(poles) for p in found]
    if max(units) < 0:
        said = f"{terminals[0]} has {names[0]} and {terminals[1]} has {names[1]}"
        if any(poles[p].supplies & analysis.accessory for p in found):
            return f"{said}, of a supply for accessories, which runs no train", fix
        if any(poles[found[0]].supplies & p.supplies and poles[found[1]].supplies & p.supplies for p in poles):
            return f"{said}, which are not the two poles of one supply", fix
        return f"{said}, of two supplies: no current can flow from one to the other", fix
    fed: list[str] = []
    ends: list[str] = []
    for terminal, pole, unit in zip(terminals, found, units, strict=True):
        number = pole if unit < 0 else analysis.poles.units[unit].inputs[0]
        fed.append(Terminal.of(poles[number].name).owner)
        over = f" (over the frog unit '{names[found.index(pole)]}')" if unit >= 0 else ""
        ends.append(f"{terminal} is fed by '{fed[-1]}'{over}")
    unit, rail = (0, 1) if units[0] >= 0 else (1, 0)
    fix = f"feed the frog unit '{names[unit]}' from '{fed[rail]}', the supply of the turnout's stock rails"
    return f"{' and '.join(ends)}: no current can flow from one to the other", fix


def _poles_in(analysis: Analysis, terminal: str, state: PartialState) -> list[PoleNumber]:
    value = analysis.poles.diagrams.value
    return [pole for pole, f in analysis.poles.has(analysis.net(terminal)) if value(f, state)]


RULE = rule("dead-track", DOCUMENT, subjects, judge, tell, local=Local(near, there))
