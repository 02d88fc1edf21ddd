"""The positions in which a piece is shown on its card: each in a state that may be, with the route that it sets."""

from __future__ import annotations

from collections import Counter
from itertools import islice, product
from math import prod
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import setting_when
from netlister.circuit.numbers import Var
from netlister.layout.model import Value
from netlister.papers.local_poles import LocalPoles

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.kinds.model import Route
    from netlister.layout.model import Piece


class Position(NamedTuple):
    """A position of a piece: its name, a state of the layout in which it stands so, the route that it sets.

    `how`: what stands where for it, as read; nothing where the name says it.
    """

    name: str
    state: State
    route: Route | None
    how: str = ""

    @property
    def said(self) -> str:
        """Its name with how it is set."""
        return f"{self.name}, {self.how}" if self.how else self.name


def positions(circuit: Circuit, piece: Piece, poles: LocalPoles | None = None) -> list[Position]:
    """The positions of a piece, in the order of its routes.

    Of a crossing, which has no blades: one for each track that can be set; where the layout does not say when that is,
    one for each position of what changes the poles of its rails.
    """
    rest = tuple(v.rest for v in circuit.variables)
    found: list[Position] = []
    if not piece.kind.bars:
        routes = {route.name: route for route in piece.kind.routes}
        for track, cubes in piece.sets.items():
            for cube in cubes[:1]:
                said = " and ".join(f"{n} at {p}" for n, p in cube)
                fixed = {circuit.variable[n] for n, _ in cube}
                settled = _allowed(circuit, _at(circuit, dict(cube), rest), fixed)
                if settled is not None:
                    how = _and(said, settled.said)
                    found.append(Position(f"track {track}", settled.state, routes.get(track), how))
        return found or _changed(circuit, piece, poles or LocalPoles(circuit), rest)
    settings = [(route.when, route) for route in piece.kind.routes]
    stands: list[tuple[tuple[tuple[str, str], ...], Route | None]] = list(settings)
    for bar in piece.kind.bars:  # a position in which there is no route: a catch-turnout open
        if len(piece.kind.bars) == 1:
            known = [when for when, _ in settings]
            stands += [(((bar.name, p),), None) for p in bar.positions if ((bar.name, p),) not in known]
    for setting, route in stands:
        when = setting_when(circuit, piece.name, setting)
        if all(values for _, values in when):  # else one machine throws both tie bars, and never so
            state = list(rest)
            for variable, values in when:
                state[variable] = values[0]
            settled = _allowed(circuit, tuple(state), {variable for variable, _ in when})
            if settled is not None:
                name, how = _stands(setting, route)
                found.append(Position(name, settled.state, route, _and(how, settled.said)))
    return _told_apart(found)


def _told_apart(found: list[Position]) -> list[Position]:
    """Positions of which no two have one name: where several lead along one route, each is called by all of it."""
    names = Counter(position.name for position in found)
    return [p if names[p.name] == 1 else p._replace(name=p.said, how="") for p in found]


def _stands(setting: tuple[tuple[str, str], ...], route: Route | None) -> tuple[str, str]:
    """How a piece stands: its position; or its route, and how each of several tie bars stands for it."""
    if route is None or len(setting) < 2:  # noqa: PLR2004
        return ", ".join(f"{bar}: {p}" if bar else p for bar, p in setting), ""
    bars = " and ".join(f"tie bar {bar} at {p}" for bar, p in setting)
    return f"{route.ends[0]} to {route.ends[1]}", bars


def _and(*said: str) -> str:
    return ", ".join(one for one in said if one)


class _ShownState(NamedTuple):
    """A state that may be, and what else stands otherwise in it than at rest, as read."""

    state: State
    said: str


def _allowed(circuit: Circuit, state: State, fixed: set[Var]) -> _ShownState | None:
    """A state that `never` leaves, in which what is fixed stands as in another; None where there is none."""
    changed = state
    for _ in circuit.never:
        bad = next((cube for cube in circuit.never if holds_all(cube, changed)), None)
        if bad is None:
            break
        moves = [
            (v, Value(x))
            for v, _ in bad
            if v not in fixed
            for x in range(len(circuit.variables[v].positions))
            if x != changed[v]
        ]
        tried = [(*changed[:v], x, *changed[v + 1 :]) for v, x in moves]
        left = [one for one in tried if not any(holds_all(cube, one) for cube in circuit.never)]
        if not tried:
            return None
        changed = (left or tried)[0]
    if any(holds_all(cube, changed) for cube in circuit.never):
        return None
    others = [
        f"{v.name} at {v.positions[now]}"
        for v, was, now in zip(circuit.variables, state, changed, strict=True)
        if was != now
    ]
    return _ShownState(changed, f"with {' and '.join(others)}" if others else "")


def holds_all(cube: Iterable[tuple[Var, Value]], state: State) -> bool:
    """Whether every value of a partial position is that of a state."""
    return all(state[v] == x for v, x in cube)


MOST_CHANGES = 8
"""So many positions of what changes the poles of a crossing are drawn."""


def undrawn(circuit: Circuit, piece: Piece, poles: LocalPoles) -> str:
    """What is said of a crossing with more positions than are drawn; nothing of all else."""
    if piece.kind.bars or piece.sets:
        return ""
    deciding = [circuit.variables[v] for v in poles.variables(piece.name)]
    number = prod(len(one.positions) for one in deciding)
    if number <= MOST_CHANGES:
        return ""
    names = ", ".join(one.name for one in deciding)
    return (
        f"ONLY {MOST_CHANGES} OF {number} POSITIONS of what changes its poles ({names}) are on this card. "
        "Of the others ask 'netlister poles' with --set."
    )


def _changed(circuit: Circuit, piece: Piece, poles: LocalPoles, rest: State) -> list[Position]:
    """The positions of a crossing by what changes the poles of its rails; one, always, where nothing does."""
    deciding = poles.variables(piece.name)
    names = [circuit.variables[v].positions for v in deciding]
    found = []
    for values in islice(product(*[range(len(each)) for each in names]), MOST_CHANGES):
        state = list(rest)
        for variable, value in zip(deciding, values, strict=True):
            state[variable] = Value(value)
        said = ", ".join(
            f"{circuit.variables[v].name} at {each[value]}"
            for v, each, value in zip(deciding, names, values, strict=True)
        )
        settled = _allowed(circuit, tuple(state), {Var(v) for v in deciding})
        if settled is not None:
            found.append(Position(said or "always", settled.state, None, settled.said))
    return found


def _at(circuit: Circuit, cube: Mapping[str, str], rest: State) -> State:
    state = list(rest)
    for name, position in cube.items():
        variable = circuit.variable[name]
        state[variable] = Value(circuit.variables[variable].positions.index(position))
    return tuple(state)
