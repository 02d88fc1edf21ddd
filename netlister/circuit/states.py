"""The poles of every rail in one state, and which way a locomotive runs there."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

from netlister.circuit.build import setting_when
from netlister.circuit.model import holds
from netlister.circuit.paths import Paths
from netlister.layout.model import Value
from netlister.layout.terminal import named

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.circuit.numbers import Node, Var
    from netlister.layout.model import Piece

MOST_STATES = 64
"""A table of all states is given up to so many."""


MOST_NAMED = 12
"""Names given where one is not known."""


class StateError(ValueError):
    """A position that was asked for does not exist. The message says what to write instead."""


def state_of(circuit: Circuit, positions: Mapping[str, str]) -> State:
    """The state that `positions` (variable or thrown turnout: position) describe.

    The rest stand at their first position, a switch that springs back at that where it rests.

    Raises StateError for unknown names and positions and for contradictions.
    """
    from netlister.source import suggest

    state = [variable.rest for variable in circuit.variables]
    given: dict[Var, str] = {}
    bars = circuit.layout.bars
    for name, position in positions.items():
        if name in circuit.variable:
            number = circuit.variable[name]
            names = circuit.variables[number].positions
        elif name in bars:
            number = circuit.variable[bars[name].variable]
            names = bars[name].positions
        else:
            known = list(dict.fromkeys([*circuit.variable, *bars]))
            hint = suggest(name, known) or f"; there are {', '.join(f'{k!r}' for k in known[:MOST_NAMED])}"
            message = f"there is no machine, turnout or switch '{name}'{hint}"
            raise StateError(message)
        if position not in names:
            listed = ", ".join(f"'{n}'" for n in dict.fromkeys(names))
            message = f"'{name}' has no position '{position}'; it has {listed}"
            raise StateError(message)
        value = Value(names.index(position))
        if number in given and state[number] != value:
            message = f"'{name}={position}' contradicts '{given[number]}'"
            raise StateError(message)
        state[number], given[number] = value, f"{name}={position}"
    return tuple(state)


def rail_poles(circuit: Circuit, state: State, paths: Paths | None = None) -> dict[str, list[str]]:
    """The names of the poles of every rail, sorted. A rail that only a frog unit feeds has the unit's name."""
    paths = paths or Paths(circuit)
    found = paths.poles_of(state)
    names = [pole.name for pole in circuit.poles]
    result = {circuit.names[node]: sorted(names[p] for p in found[node]) for node in circuit.rails}
    for device in circuit.devices:
        if device.kind == "unit" and not found[device.node]:
            for node in _joined(circuit, paths, device.node, state):
                name = circuit.names[node]
                if name in result and not found[node]:
                    result[name] = sorted({*result[name], device.name})
    return result


def _joined(circuit: Circuit, paths: Paths, start: Node, state: State) -> set[Node]:
    """The nodes joined to one in a state, not over a pole; all diodes on a path conduct one way."""
    found: set[Node] = set()
    for against in (1, -1) if paths.diodes else (0,):
        seen = {start}
        stack = [start]
        while stack:
            here = stack.pop()
            for other, conductor in paths.near[here]:
                if other in seen or other < len(circuit.poles) or not holds(conductor.when, state):
                    continue
                if against and paths.way(here, conductor) == against:
                    continue
                seen.add(other)
                stack.append(other)
        found |= seen
    return found


def travel(circuit: Circuit, state: State, poles: Mapping[str, list[str]]) -> dict[str, str]:
    """Per piece fed with direct current which way a locomotive runs with the controller set forward.

    `forward` where the right-hand rail is positive, seen forward along the piece (NMRA S-9, NEM 631). A piece whose
    current a diode stops is left out: nothing runs there until the controller is set backward.
    """
    stopped = blocked(circuit, state, poles)
    return {piece: way for piece, way in _ways(circuit, state, poles).items() if piece not in stopped}


def blocked(circuit: Circuit, state: State, poles: Mapping[str, list[str]]) -> set[str]:
    """The pieces fed with direct current where, with the controller set forward, a diode stops the current.

    A diode conducts from its `from` to its `to`. Current comes from the positive pole and goes to the other one.
    """
    diodes = {c.name for c in circuit.layout.components.values() if c.kind == "diode"}
    if not diodes:
        return set()
    paths = Paths(circuit)
    result = set()
    for piece in _ways(circuit, state, poles):
        for left, right in _set_rails(circuit, circuit.layout.pieces[piece], state):
            for rail in (*left, *right):
                node = circuit.node[named(piece, rail)]
                pole = circuit.node[poles[named(piece, rail)][0]]
                if not _flows(paths, state, pole, node, diodes):
                    result.add(piece)
    return result


def _flows(paths: Paths, state: State, pole: Node, node: Node, diodes: set[str]) -> bool:
    """Whether current can flow between a pole and a rail, away from a positive pole and towards the other one."""
    circuit = paths.circuit
    name = circuit.names[pole]
    out = any(s.poles["AB".index(s.positive)] == name for s in circuit.layout.supplies.values() if s.type == "dc")
    seen, stack = {pole}, [pole]
    while stack:
        here = stack.pop()
        if here == node:
            return True
        for other, conductor in paths.near[here]:
            if other in seen or other < len(circuit.poles) or not holds(conductor.when, state):
                continue
            if conductor.owner in diodes and conductor.what == "component" and (conductor.a == here) != out:
                continue
            seen.add(other)
            stack.append(other)
    return False


def _ways(circuit: Circuit, state: State, poles: Mapping[str, list[str]]) -> dict[str, str]:
    """Per piece fed with direct current which way a locomotive runs, diodes or not."""
    by_name = {pole.name: pole for pole in circuit.poles}
    result = {}
    for piece in circuit.layout.pieces.values():
        ways = set()
        for left, right in _set_rails(circuit, piece, state):
            sides = [{p for rail in rails for p in poles[piece.terminal(rail)]} for rails in (left, right)]
            if any(len(poles[piece.terminal(rail)]) != 1 for rail in (*left, *right)) or any(
                len(side) != 1 for side in sides
            ):
                ways.add("")
                continue
            a, b = (by_name.get(side.pop()) for side in sides)
            ways.add(_way(circuit, a.name, b.name) if a and b and not a.device and not b.device else "")
        if len(ways) == 1 and "" not in ways:
            result[piece.name] = ways.pop()
    return result


def _way(circuit: Circuit, left: str, right: str) -> str:
    for supply in circuit.layout.supplies.values():
        if supply.type == "dc" and not supply.accessory and {left, right} == set(supply.poles):
            positive = supply.poles["AB".index(supply.positive)]
            return "forward" if right == positive else "backward"
    return ""


def _set_rails(circuit: Circuit, piece: Piece, state: State) -> Iterator[tuple[list[str], list[str]]]:
    for route in piece.kind.routes:
        if piece.kind.crossing or holds(setting_when(circuit, piece.name, route.when), state):
            yield [r for r in route.left if r is not None], [r for r in route.right if r is not None]


def all_states(circuit: Circuit) -> list[State] | None:
    """Every state that `never` leaves, or None where there are more than MOST_STATES combinations."""
    count = 1
    for variable in circuit.variables:
        count *= len(variable.positions)
        if count > MOST_STATES:
            return None
    states = product(*([Value(n) for n in range(len(v.positions))] for v in circuit.variables))
    return [s for s in states if not any(all(s[v] == x for v, x in cube) for cube in circuit.never)]
