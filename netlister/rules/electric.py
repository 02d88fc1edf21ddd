"""The two questions that several rules ask: is a route dead, and do two sides of a gap clash."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.poles.diagram import ALWAYS, NEVER

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.kinds.model import Route
    from netlister.layout.model import Piece
    from netlister.rules.model import Analysis


def dead(analysis: Analysis, left: Iterable[int], right: Iterable[int]) -> int:
    """The states in which some net of `left` and some net of `right` are not fit to drive a train.

    Tried in every position of the automatic devices that feed them: dead if every position leaves it so.
    """
    lefts, rights = set(left), set(right)
    result = ALWAYS
    diagrams = analysis.poles.diagrams
    for mapping in analysis.mappings(lefts | rights):
        here = NEVER
        for a in lefts:
            for b in rights:
                here = diagrams.either(here, _unfit(analysis, a, b, mapping))
        result = diagrams.both(result, here)
        if result == NEVER:
            break
    return result


def _unfit(analysis: Analysis, a: int, b: int, mapping: dict[int, int]) -> int:
    """The states in which nets a and b do not have the two poles of one supply."""
    none_a, ones_a = analysis.alone(a)
    none_b, ones_b = analysis.alone(b)
    diagrams = analysis.poles.diagrams
    result = diagrams.either(none_a, none_b)
    for p, f in ones_a:
        for q, g in ones_b:
            if not analysis.owned(mapping.get(p, p), mapping.get(q, q)):
                result = diagrams.either(result, diagrams.both(f, g))
    return result


def lacking(analysis: Analysis, net: int, opposite: int | None) -> int:
    """The states in which a wheel on a net gets nothing: it has no pole, or not the other one of the net opposite.

    Wrong only where every position of the automatic devices leaves it so. `opposite`: None where there is no rail.
    """
    none, ones = analysis.alone(net)
    if opposite is None:
        return none
    diagrams = analysis.poles.diagrams
    others = analysis.alone(opposite)[1]
    if len(ones) == len(others) == 1:
        p, q = ones[0][0], others[0][0]
        if max(p, q) < len(analysis.circuit.poles) and analysis.owned(p, q):
            return none
    pairs = [(p, q, diagrams.both(f, g)) for p, f in ones for q, g in others]
    pairs = [(p, q, f) for p, q, f in pairs if f != NEVER]
    wrong = ALWAYS if pairs else NEVER
    for mapping in analysis.mappings({net, opposite}) if pairs else ():
        bad = [f for p, q, f in pairs if not analysis.owned(mapping.get(p, p), mapping.get(q, q))]
        wrong = diagrams.both(wrong, diagrams.any_of(bad))
        if wrong == NEVER:
            break
    return diagrams.either(none, wrong)


def clash(analysis: Analysis, pairs: Iterable[tuple[int, int, int]]) -> int:
    """The states in which a wheel joins two nets that it must not: `pairs` of nets, each with when it counts.

    Tried in every position of the automatic devices that feed them: a clash if every position clashes.
    """
    listed = list(pairs)
    diagrams = analysis.poles.diagrams
    result = ALWAYS
    for mapping in analysis.mappings({net for a, b, _ in listed for net in (a, b)}):
        here = NEVER
        for a, b, counts in listed:
            for p, f in analysis.alone(a)[1]:
                for q, g in analysis.alone(b)[1]:
                    if analysis.clash(mapping.get(p, p), mapping.get(q, q)):
                        here = diagrams.either(here, diagrams.both(counts, diagrams.both(f, g)))
        result = diagrams.both(result, here)
        if result == NEVER:
            break
    return result


def route_nets(analysis: Analysis, piece: Piece, route: Route) -> tuple[list[int], list[int]]:
    """The nets under the left and the right wheels of a route."""
    net, name = analysis.net, piece.name
    left, right = ([net(f"{name}.{rail}") for rail in rails if rail is not None] for rails in (route.left, route.right))
    return left, right


def route_dead(analysis: Analysis, piece: Piece, route: Route) -> int:
    """The states in which a route is set and dead."""
    left, right = route_nets(analysis, piece, route)
    lifeless = dead(analysis, left, right)
    if lifeless == NEVER:
        return NEVER
    return analysis.poles.diagrams.both(lifeless, analysis.settings.route(piece, route))


def piece_dead(analysis: Analysis, piece: Piece) -> int:
    """The states in which some set route of a piece is dead."""
    result = NEVER
    for route in piece.kind.routes:
        result = analysis.poles.diagrams.either(result, route_dead(analysis, piece, route))
    return result
