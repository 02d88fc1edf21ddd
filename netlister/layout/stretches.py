"""Where along a route through a piece which rail lies under the wheels, in metres."""

from __future__ import annotations

from itertools import pairwise
from math import isclose
from typing import TYPE_CHECKING, NamedTuple

from netlister.kinds.measure import size, total
from netlister.lengths import NO_LENGTH, Metres

if TYPE_CHECKING:
    from netlister.kinds.model import Measure, Route
    from netlister.layout.model import Layout, Piece


class Stretch(NamedTuple):
    """A length of rail under the wheels of one side, from `start` to `stop` ; `rail` is None where it is dead."""

    rail: str | None
    start: Metres
    stop: Metres


class Stretches(NamedTuple):
    """A route through a piece, measured from its entering end.

    `length`: in m. `left`, `right`: what lies under the wheels of each side, in order and without holes.
    `stated`: whether the length comes from the layout; else from the defaults of the kind. `known`: false where the
    kind does not say how long it is or where its rails meet; the length is then that of the layout or 0, and the rails
    share it in equal parts.
    """

    length: Metres
    left: tuple[Stretch, ...]
    right: tuple[Stretch, ...]
    stated: bool
    known: bool


def stretches(layout: Layout, piece: Piece, route: Route) -> Stretches:
    """Measure a route through a piece.

    A length given in the layout stretches all of the piece in proportion; else the default dimensions of the kind
    hold, for the frog number and the track gauge of the layout. Dead lengths are as measured where the piece says so:
    `dead` is their length, `nose` where they end past the point of the frog.
    """
    number = piece.said.frog_number or 0.0
    gauge = layout.gauge
    sizes = piece.kind.dimensions
    own = total(route.length, sizes, number, gauge)
    length = own if piece.length is None else piece.length

    def along(path: tuple[str | None, ...], at: tuple[Measure, ...]) -> tuple[Stretch, ...]:
        if own and len(at) == len(path) - 1:
            places = [Metres(total(place, sizes, number, gauge) * length / own) for place in at]
        else:
            places = [Metres(length * i / len(path)) for i in range(1, len(path))]
        found = [Stretch(rail, a, b) for rail, (a, b) in zip(path, pairwise([NO_LENGTH, *places, length]), strict=True)]
        return tuple(_as_measured(piece, found, length / own if own else 1.0, number, gauge))

    paths = ((route.left, route.left_at), (route.right, route.right_at))
    known = all(len(path) == 1 or (own > 0 and len(at) == len(path) - 1) for path, at in paths)
    left, right = (along(path, at) for path, at in paths)
    return Stretches(length, left, right, piece.length is not None, known and length > 0)


def _as_measured(piece: Piece, found: list[Stretch], scale: float, number: float, gauge: Metres) -> list[Stretch]:
    """Stretches with the dead ones as long as the piece says; what lies beside them gives way.

    A turnout's is kept where it begins, at the toe end of its frog, and any other where its middle is.
    """
    dead, nose = piece.said.dead, piece.said.nose
    if dead is None and nose is None:
        return found
    result = list(found)
    for i, stretch in enumerate(found):
        if stretch.rail is not None:
            continue
        toe = _frog_toe(piece, stretch, scale, number, gauge)
        start, stop = stretch.start, stretch.stop
        if nose is not None and toe is not None:
            stop = start + toe + nose
        if dead is not None:
            if nose is not None and toe is not None:
                start = stop - dead
            elif "toe" in piece.kind.ends:
                stop = start + dead
            else:
                start, stop = Metres((start + stop - dead) / 2), Metres((start + stop + dead) / 2)
        elif "toe" not in piece.kind.ends:
            shift = (stretch.start + stretch.stop - start - stop) / 2
            start, stop = start + shift, stop + shift
        start = max(start, result[i - 1].start if i else NO_LENGTH)
        stop = min(stop, found[i + 1].stop if i + 1 < len(found) else stretch.stop)
        result[i] = stretch._replace(start=start, stop=stop)
        if i:
            result[i - 1] = result[i - 1]._replace(stop=start)
        if i + 1 < len(found):
            result[i + 1] = result[i + 1]._replace(start=stop)
    return result


def _frog_toe(piece: Piece, stretch: Stretch, scale: float, number: float, gauge: Metres) -> Metres | None:
    """How far the toe end of an acute frog lies before its point in m, if a dead stretch is as long as such a frog."""
    sizes = piece.kind.dimensions
    if not piece.kind.noses or not {"frog", "frog-toe"} <= sizes.keys():
        return None
    whole, toe = (size(sizes[name], number, gauge) * scale for name in ("frog", "frog-toe"))
    return toe if isclose(whole, stretch.stop - stretch.start, rel_tol=1e-6) else None


def dead_is_assumed(piece: Piece, route: Route) -> bool:
    """Whether the dead stretches of a route are only as long as the kind takes them to be, and not measured."""
    if piece.said.dead is not None or (piece.said.nose is not None and piece.kind.noses):
        return False
    names = {
        name
        for path, at in ((route.left, route.left_at), (route.right, route.right_at))
        if None in path
        for place in at
        for _, name in place
    }
    stated = [d.status for name, d in piece.kind.dimensions.items() if name in names]
    return not stated or any(status != "measured" for status in stated)
