"""The two questions that several rules ask: is a route dead, and do two sides of a gap clash."""

from __future__ import annotations

from itertools import permutations
from typing import TYPE_CHECKING

from netlister.layout.terminal import named
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.poles.diodes import DiodePoles

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.circuit.numbers import Net, PoleNumber, Var
    from netlister.kinds.model import Route
    from netlister.layout.model import Component, Joint, Piece, Value
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Has
    from netlister.rules.analysis import Analysis


def dead(analysis: Analysis, left: Iterable[Net], right: Iterable[Net]) -> Function:
    """The states in which some net of `left` and some net of `right` are not fit to drive a train.

    Tried in every position of the automatic devices that feed them: dead if every position leaves it so.
    """
    lefts, rights = set(left), set(right)
    diagrams = analysis.poles.diagrams
    if not analysis.circuit.devices:
        if len(lefts) == len(rights) == 1:
            (a,), (b,) = lefts, rights
            return _unfit(analysis, a, b, {})
        return diagrams.any_of([_unfit(analysis, a, b, {}) for a in lefts for b in rights])
    result = ALWAYS
    for mapping in analysis.mappings(lefts | rights):
        here = NEVER
        for a in lefts:
            for b in rights:
                here = diagrams.either(here, _unfit(analysis, a, b, mapping))
        result = diagrams.both(result, here)
        if result == NEVER:
            break
    return result


def _unfit(analysis: Analysis, a: Net, b: Net, mapping: dict[PoleNumber, PoleNumber]) -> Function:
    """The states in which nets a and b do not have the two poles of one supply."""
    none_a, ones_a = analysis.alone(a)
    none_b, ones_b = analysis.alone(b)
    diagrams = analysis.poles.diagrams
    if len(ones_a) == len(ones_b) == 1 and not mapping and analysis.owned(ones_a[0][0], ones_b[0][0]):
        both = diagrams.both(ones_a[0][1], ones_b[0][1])
        stopped = diagrams.both(both, _stopped(analysis, a, b, (ones_a[0][0], ones_b[0][0])))
        return diagrams.any_of([none_a, none_b, stopped])
    result = diagrams.either(none_a, none_b)
    for p, f in ones_a:
        for q, g in ones_b:
            if not analysis.owned(mapping.get(p, p), mapping.get(q, q)):
                result = diagrams.either(result, diagrams.both(f, g))
            elif max(p, q) < analysis.poles.count:
                result = diagrams.either(result, diagrams.both(diagrams.both(f, g), _stopped(analysis, a, b, (p, q))))
    return result


def _stopped(analysis: Analysis, a: Net, b: Net, pair: tuple[PoleNumber, PoleNumber]) -> Function:
    """When diodes let current flow between two nets, which have two poles, neither way."""
    poles = analysis.poles
    if not isinstance(poles, DiodePoles):
        return NEVER
    p, q = pair
    flows = poles.diagrams.either(poles.drives(a, b, p, q), poles.drives(b, a, q, p))
    return poles.diagrams.negate(flows)


def load_ends(analysis: Analysis, load: Component) -> tuple[str, str]:
    """The two leads of a load, of loads in series the outer ones: a junction of two loads alone only joins them."""
    poles = analysis.poles
    first, last = load.ends
    if all(net < poles.count or poles.has(net) for net in map(analysis.net, load.ends)):
        return first, last
    loads = [c for c in analysis.layout.components.values() if c.kind == "load"]
    seen = {load.name}

    def follow(end: str) -> str:
        while (net := analysis.net(end)) >= poles.count and not poles.has(net):
            here = [(c, i) for c in loads for i in (0, 1) if analysis.net(c.ends[i]) == net]
            beyond = [(c, i) for c, i in here if c.name not in seen]
            if len(here) != 2 or len(beyond) != 1:  # noqa: PLR2004  (itself, and the one beyond)
                break
            ((other, i),) = beyond
            seen.add(other.name)
            end = other.ends[1 - i]
        return end

    return follow(first), follow(last)


def load_driven(analysis: Analysis, load: Component) -> Function:
    """The states in which current flows through a load: from one lead to the other, in either direction."""
    poles, diagrams = analysis.poles, analysis.poles.diagrams
    a, b = (analysis.net(end) for end in load_ends(analysis, load))
    supplies = [pole.supplies for pole in analysis.circuit.poles]
    result = NEVER
    for p, q in permutations(analysis.circuit.pole_numbers, 2):
        if supplies[p].isdisjoint(supplies[q]):
            continue
        if isinstance(poles, DiodePoles):
            result = diagrams.either(result, poles.drives(a, b, p, q))
            result = diagrams.either(result, poles.drives(b, a, q, p))
        else:
            f, g = (
                ALWAYS if net == pole else dict(_of(analysis, net)).get(pole, NEVER) for net, pole in ((a, p), (b, q))
            )
            result = diagrams.either(result, diagrams.both(f, g))
    return result


def _of(analysis: Analysis, net: Net) -> Has:
    return () if net < analysis.poles.count else analysis.has(net)


def lacking(analysis: Analysis, net: Net, opposite: Net | None) -> Function:
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


def clash(analysis: Analysis, pairs: Iterable[tuple[Net, Net, Function]]) -> Function:
    """The states in which a wheel joins two nets that it must not: `pairs` of nets, each with when it counts.

    Tried in every position of the automatic devices that feed them: a clash if every position clashes.
    """
    if not analysis.circuit.devices:
        return _plain_clash(analysis, pairs)
    return clash_or_dead(analysis, list(pairs), (), ())


def clash_or_dead(
    analysis: Analysis, pairs: list[tuple[Net, Net, Function]], left: Iterable[Net], right: Iterable[Net]
) -> Function:
    """The states in which every position of the automatic devices leaves a clash of `pairs`, or a dead route.

    `left`, `right`: the nets under the wheels of the route; none where it does not count.
    """
    lefts, rights = set(left), set(right)
    diagrams = analysis.poles.diagrams
    result = ALWAYS
    for mapping in analysis.mappings({net for a, b, _ in pairs for net in (a, b)} | lefts | rights):
        here = diagrams.any_of([_unfit(analysis, a, b, mapping) for a in lefts for b in rights])
        for a, b, counts in pairs:
            for p, f in analysis.alone(a)[1]:
                for q, g in analysis.alone(b)[1]:
                    if analysis.clash(mapping.get(p, p), mapping.get(q, q)):
                        here = diagrams.either(here, diagrams.both(counts, diagrams.both(f, g)))
        result = diagrams.both(result, here)
        if result == NEVER:
            break
    return result


def _plain_clash(analysis: Analysis, pairs: Iterable[tuple[Net, Net, Function]]) -> Function:
    """The same where there are no automatic devices."""
    diagrams = analysis.poles.diagrams
    both, clashes = diagrams.both, analysis.clash
    result = NEVER
    for a, b, counts in pairs:
        for p, f in analysis.alone(a)[1]:
            for q, g in analysis.alone(b)[1]:
                if p != q and clashes(p, q):
                    result = diagrams.either(result, both(counts, both(f, g)))
    return result


def by_hand(analysis: Analysis, joint: Joint, clashes: Function) -> dict[Var, Function]:
    """Where a joint clashes only until a hand reversing switch is thrown: per variable of such a switch when.

    On one side of the joint the two rails have some poles p and q, and with that switch alone in another position q and
    p, while the other side is as before and nothing clashes. `clashes`: the states in which the joint clashes.
    """
    found: dict[Var, Function] = {}
    if clashes == NEVER or not analysis.switches:
        return found
    sides: list[tuple[Net, ...]] = []
    for piece, end in (joint.start, joint.end):
        rails = analysis.piece(piece).kind.ends[end]
        sides.append(tuple(analysis.net(named(piece, rail)) for rail in (rails.left, rails.right)))
    diagrams = analysis.poles.diagrams
    support = {v for side in sides for net in side for _, f in analysis.has(net) for v in diagrams.support(f)}
    for number in analysis.switches:
        variable = analysis.circuit.variables[number]
        if number in support:
            thrown = NEVER
            for own, other in ((sides[0], sides[1]), (sides[1], sides[0])):
                for value in variable.values:
                    swapped = _swapped(analysis, (own, other), (number, value), clashes)
                    thrown = diagrams.either(thrown, swapped)
            if analysis.poles.possible(thrown):
                found[number] = thrown
    return found


def _swapped(
    analysis: Analysis, sides: tuple[tuple[Net, ...], tuple[Net, ...]], literal: tuple[Var, Value], clashes: Function
) -> Function:
    """When a variable put at a value swaps the poles of the first two nets, leaves the others, and ends a clash."""
    (own, other), (variable, value) = sides, literal
    diagrams = analysis.poles.diagrams
    both = diagrams.both

    def then(function: Function) -> Function:
        return diagrams.fixed(function, variable, value)

    lefts, rights = (dict(analysis.alone(net)[1]) for net in own)
    result = NEVER
    for p, f in lefts.items():
        for q, g in rights.items():
            if p != q and q in lefts and p in rights:
                result = diagrams.either(result, both(both(f, g), both(then(lefts[q]), then(rights[p]))))
    result = both(result, clashes)
    if result == NEVER:
        return NEVER
    result = diagrams.without(result, then(clashes))
    for _, free in analysis.poles.never_groups:
        result = both(result, then(free))
    for net in other:
        for _, f in analysis.has(net):
            changed = diagrams.either(diagrams.without(f, then(f)), diagrams.without(then(f), f))
            result = diagrams.without(result, changed)
    return result


def route_nets(analysis: Analysis, piece: Piece, route: Route) -> tuple[list[Net], list[Net]]:
    """The nets under the left and the right wheels of a route."""
    net, name = analysis.net, piece.name
    left, right = (
        [net(named(name, rail)) for rail in rails if rail is not None] for rails in (route.left, route.right)
    )
    return left, right


def route_dead(analysis: Analysis, piece: Piece, route: Route) -> Function:
    """The states in which a route is set and dead."""
    left, right = route_nets(analysis, piece, route)
    lifeless = dead(analysis, left, right)
    if lifeless == NEVER:
        return NEVER
    return analysis.poles.diagrams.both(lifeless, analysis.settings.route(piece, route))


def piece_dead(analysis: Analysis, piece: Piece) -> Function:
    """The states in which some set route of a piece is dead."""
    result = NEVER
    for route in piece.kind.routes:
        result = analysis.poles.diagrams.either(result, route_dead(analysis, piece, route))
    return result
