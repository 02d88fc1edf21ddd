"""The worst places as the tool has them, against the plain solution of every state."""

from __future__ import annotations

import itertools
import math
from random import Random
from typing import TYPE_CHECKING

import netlister
from netlister.check import check
from netlister.circuit.build import build
from netlister.volts.network_build import build_network
from netlister.volts.solver import Solver
from netlister.volts.worst import profiles, worst_of
from tests.properties.layouts import dump
from tests.properties.reference import load
from tests.volts.layouts import electric_layout
from tests.volts.reference import Resistors, Solved

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.properties.reference import Data

GRID = 7
NEAR = 1e-6


def shorted(data: Data) -> bool:
    """Whether a layout joins two poles somewhere: what stands shorted has no voltage to speak of, so draw another."""
    return bool(check(netlister.read_text(dump(data)), ["pole-short"], causes=False).findings)


def sound_layout(seed: int) -> Data:
    """The first layout of a seed, drawn anew until none of its poles are joined."""
    return next(data for n in itertools.count() if not shorted(data := electric_layout(Random(seed * 1000 + n))))


def differences(data: Data) -> list[str]:
    """What the tool says otherwise than the plain solution, and how. The layout must not be `shorted`."""
    text = dump(data)
    layout = netlister.read_text(text)
    network = build_network(build(layout))
    solver = Solver(network)
    found = worst_of(profiles(solver))
    names = network.circuit.variables
    splits: dict[str, set[float]] = {}
    plain = load(text)
    bare = Resistors(plain)
    for piece in bare.layout.pieces:
        if bare.layout.is_section(piece):
            length = bare.length(piece)
            case = found[piece][1]
            splits[piece] = {length * i / GRID for i in range(GRID + 1)} | ({case.at} if case else set())
    resistors = Resistors(plain, splits)
    best: dict[str, float] = {}
    claimed: dict[str, list[float]] = {}
    for state in resistors.layout.states:
        for choice in itertools.product("AB", repeat=len(resistors.devices)):
            solved = Solved(
                resistors.of(state, dict(zip(resistors.devices, choice, strict=True))), resistors.real_poles
            )
            for piece in resistors.layout.pieces:
                for place, loop in loops(resistors, solved, piece, state):
                    best[piece] = max(best.get(piece, -1.0), loop)
                    case = found[piece][1]
                    if case and (place is None or abs(place - case.at) < 1e-9):
                        when = {
                            names[v].name: [names[v].positions[x] for x in xs] for v, xs in case.when if v < len(names)
                        }
                        if all(dict(state)[n] in positions for n, positions in when.items()):
                            claimed.setdefault(piece, []).append(loop)
    return list(compare(found, best, claimed))


def compare(found, best, claimed) -> Iterator[str]:
    """The tool's loop is no less than any other, and is there where it is said to be."""
    for piece, (profile, case) in found.items():
        if case is None:
            if piece in best:
                yield f"{piece}: no voltage, but {best[piece]}"
            continue
        if piece not in best:
            if profile.length and profile.route != "a-b":
                continue  # its ends are dead, its middle is not
            yield f"{piece}: {case}, but no voltage"
        elif case.loop < best[piece] * (1 - NEAR) - 1e-9:
            yield f"{piece}: {case}, but there is {best[piece]}"
        elif not profile.exact or (profile.length and profile.route != "a-b"):
            continue  # within a piece with blades: tested by hand
        elif not any(math.isclose(case.loop, loop, rel_tol=NEAR, abs_tol=1e-7) for loop in claimed.get(piece, [])):
            yield f"{piece}: {case} is not there: {claimed.get(piece)}"


def loops(resistors: Resistors, solved: Solved, piece: str, state) -> Iterator[tuple[float | None, float]]:
    """Every loop of a piece in a state at its places, where there is voltage."""
    layout = resistors.layout
    if layout.is_section(piece):
        for place in resistors.places(piece):
            ends = [resistors.rail_node(f"{piece}.{rail}", place) for rail in ("left", "right")]
            if live(layout, solved, *ends):
                yield place, solved.loop(*ends)
        return
    routes = layout.kinds[piece].routes if layout.is_crossing(piece) else layout.set_routes(piece, state)
    for route in routes:
        for end in route.ends:
            ends = [resistors.end_node(t, end) for t in layout.end_rails(piece, end)]
            if live(layout, solved, *ends):
                yield None, solved.loop(*ends)
        if not resistors.length(piece):
            for left, right in itertools.product(route.left, route.right):
                ends = [f"{piece}.{left}", f"{piece}.{right}"]
                if "dead" not in (left, right) and live(layout, solved, *ends):
                    yield None, solved.loop(*ends)


def live(layout, solved: Solved, left: str, right: str) -> bool:
    """Whether two nodes have one pole each, and these are the two of one supply."""
    a, b = solved.poles(left), solved.poles(right)
    return len(a) == 1 and len(b) == 1 and layout.one_supply(*a, *b)
