"""What a kind must be to make sense as a piece of track."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import TYPE_CHECKING

from netlister.kinds.measure import total
from netlister.source import suggest

if TYPE_CHECKING:
    from netlister.kinds._written import Written
    from netlister.kinds.model import DefaultDimension, Definition, Route


def check_hands(w: Written, hands: dict[str, dict[str, str]]) -> None:
    """Each hand names the same exits, gives each an end of its own, and leaves the other ends alone."""
    first = next(iter(hands.values()), {})
    ends = [end.name for end in w.ends]
    for hand, exits in hands.items():
        key = w.keys["hand", hand]
        if not exits:
            w.r.fault(key, f"the hand '{hand}' needs names for its ends, as in '{{L: through}}'")
        for exit_ in exits:
            if exit_ not in ends:
                w.r.fault(key, f"there is no end '{exit_}' for the hand '{hand}' to name{suggest(exit_, ends)}")
        if set(exits) != set(first):
            w.r.fault(key, "all hands must name the same ends")
        called = [exits.get(end, end) for end in ends]
        for twice in sorted({end for end in called if called.count(end) > 1}):
            w.r.fault(key, f"with the hand '{hand}' two ends are called '{twice}'; give each a name of its own")


def check_kind(w: Written, d: Definition) -> None:
    """What a kind without slips of the pen must be, to make sense as a piece of track."""
    used: set[str] = set()
    for end in d.ends:
        used |= {end.left, end.right}
        key = w.keys["end", end.name]
        if end.left == end.right:
            w.r.fault(key, f"the end '{end.name}' has '{end.left}' on both sides; write two rails")
        if len(d.ends) > 1 and not any(end.name in route.ends for route in d.routes):
            w.r.fault(key, f"no route leads to the end '{end.name}'; add one")
    if d.count is not None:
        if d.count.least == 1 and any(len(bar.positions) == 1 for bar in d.bars):
            w.r.fault(w.fields["count"], "a tie bar needs two positions or more; write 'least: 2'")
        _repeats(w, (*d.rails, *(end.name for end in d.ends)))
    if not d.ends:
        w.r.fault(w.node, "the kind has no ends; write at least one")
    for route in d.routes:
        _route(w, route)
        for shape in (None, *d.shapes):
            _places(w, route, w.sizes if shape is None else {**w.sizes, **shape.dimensions, **shape.dead})
        used |= {rail for rail in (*route.left, *route.right) if rail is not None}
    optional = [pair for _, bonds in d.options.values() for pairs in bonds.values() for pair in pairs]
    optional += [bond.rails for bond in d.optional]
    used.update(
        rail
        for pair in (*d.bonds, *optional, *(made.rails for made in (*d.made, *(m.made for m in d.made_with))))
        for rail in pair
    )
    for rail in d.rails:
        if rail not in used:
            w.r.fault(w.keys["rail", rail], f"nothing uses the rail '{rail}'; leave it out")
    _bars(w, d)
    if d.plain and (d.bars or d.hands or len(d.routes) != 1 or [e.entering for e in d.ends] != [True, False]):
        message = "plain track has an entering end, then a leaving one, one route and no blades; leave 'plain' out"
        w.r.fault(w.fields["plain"], message)


def _bars(w: Written, d: Definition) -> None:
    """Blades choose: each bar is for something, and no two routes over one end are set at once."""
    bonded = {frozenset(pair) for pair in d.bonds}
    for (_, pair), nodes in w.made.items():
        if len(nodes) > 1:
            w.r.fault(nodes[1], "this contact is here a second time; leave it out")
        if pair in bonded:
            a, b = sorted(pair)
            w.r.fault(nodes[0], f"'{a}' and '{b}' are bonded, so no contact joins them; leave one out")
    asked = {
        bar
        for setting in (*(m.when for m in d.made), *(m.made.when for m in d.made_with), *(r.when for r in d.routes))
        for bar, _ in setting
    }
    for bar in d.bars:
        if bar.name not in asked:
            w.r.fault(w.keys["bar", bar.name], f"nothing depends on the tie bar '{bar.name}'; leave it out")
    for one, two in combinations(d.routes, 2):
        other = dict(two.when)
        both = all(other.get(bar, position) == position for bar, position in one.when)
        shared = sorted({*one.ends} & {*two.ends})
        if d.bars and both and shared:
            message = f"the routes '{one.name}' and '{two.name}' leave '{shared[0]}' and are set at the same time"
            w.r.fault(w.keys["route", two.name], f"{message}; say under 'when' which position sets each")


def _repeats(w: Written, names: tuple[str, ...]) -> None:
    """No name is one of those that a name with a `#` stands for."""
    for name in names:
        before, mark, after = name.partition("#")
        same = [n for n in names if n.startswith(before) and n.endswith(after) and n[len(before) :][:1].isdigit()]
        if mark and same:
            w.r.fault(w.node, f"'{same[0]}' is one of those that '{name}' stands for; give it another name")


def _route(w: Written, route: Route) -> None:
    """A route runs from an entering end to a leaving one, and its wheels begin and end on the rails there.

    A path of one conductor that is at no end is that of a collector: of an overhead wire or a third rail.
    """
    ends = {end.name: end for end in w.ends}
    key = w.keys["route", route.name]
    start, stop = (ends[end] for end in route.ends)
    if not start.entering or stop.entering:
        w.r.fault(key, f"the route '{route.name}' must run from an entering end to a leaving one")
        return
    for side, path, first, last in (
        ("left", route.left, start.left, stop.left),
        ("right", route.right, start.right, stop.right),
    ):
        collected = len(path) == 1 and all(path[0] not in (end.left, end.right) for end in w.ends)
        if (path[0], path[-1]) != (first, last) and not collected:
            ways = f"begins on '{first}' and ends on '{last}', the rails at '{start.name}' and '{stop.name}'"
            w.r.fault(key, f"on the route '{route.name}' the path of the {side} wheels {ways}; write it so")


def _places(w: Written, route: Route, sizes: dict[str, DefaultDimension]) -> None:
    """The places of a route lie in order between its ends, for every frog number that a dimension names."""
    key = w.keys["route", route.name]
    if (route.left_at or route.right_at) and not route.length:
        w.r.fault(key, f"the route '{route.name}' says where its rails meet, but not its 'length'; add it")
        return
    numbers = {0.0, *(number for size in sizes.values() for number in size.by_number)}
    for number in sorted(numbers):
        end = total(route.length, sizes, number)
        for at in (route.left_at, route.right_at):
            places = [0.0, *(total(place, sizes, number) for place in at), end]
            if any(b < a - 1e-9 for a, b in pairwise(places)):
                of = f" with frog number {number:g}" if number else ""
                w.r.fault(key, f"on the route '{route.name}'{of} the places are out of order or beyond its ends")
                return
