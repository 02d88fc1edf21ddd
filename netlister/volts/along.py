"""Volts along a route in one state, with the same current drawn at every place in turn."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.volts.worst import loop_curve

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from netlister.circuit.model import State
    from netlister.volts.drop import Survey

STEPS = 16
"""Places on each bit of rail."""


class Curve(NamedTuple):
    """The volts left along a piece, from `start` in m from the beginning of the whole way.

    `points`: pairs of place in m from that beginning and volts; none where there is no voltage. `forward`: whether it
    is passed from its entering end.
    """

    piece: str
    start: float
    stop: float
    points: tuple[tuple[float, float], ...]
    forward: bool


def curves(
    survey: Survey, pieces: Sequence[str], state: State, turned: Mapping[str, bool], amps: float | None = None
) -> list[Curve]:
    """The curves of some pieces, one behind the other. `turned`: pieces that are passed from their leaving end."""
    found: list[Curve] = []
    start = 0.0
    values = (*state, *(0 for _ in survey.circuit.devices))  # automatic devices stand straight
    for name in pieces:
        length, places, supply = loop_curve(survey.solver, survey.layout.pieces[name], values, STEPS)
        volts: list[tuple[float, float]] = []
        if supply:
            current = amps if amps is not None else survey.current(supply, name) or 0.0
            whole = survey.layout.supplies[supply].voltage
            volts = [(length - at if turned.get(name) else at, whole - current * loop) for at, loop in places]
        points = tuple(sorted((start + at, v) for at, v in volts))
        found.append(Curve(name, start, start + length, points, not turned.get(name, False)))
        start += length
    return found
