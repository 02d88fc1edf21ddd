"""Where along a route through a piece which rail lies under the wheels, in metres."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from netlister.kinds.measure import total
from netlister.quantity import NUMBER, parse

if TYPE_CHECKING:
    from netlister.kinds.model import Measure, Route
    from netlister.layout.model import Layout, Piece


class Stretch(NamedTuple):
    """A length of rail under the wheels of one side, from `start` to `stop` in m; `rail` is None where it is dead."""

    rail: str | None
    start: float
    stop: float


class Stretches(NamedTuple):
    """A route through a piece, measured from its entering end.

    `length`: in m. `left`, `right`: what lies under the wheels of each side, in order and without holes.
    `stated`: whether the length comes from the layout; else from the defaults of the kind. `known`: false where the
    kind does not say how long it is or where its rails meet; the length is then that of the layout or 0, and the rails
    share it in equal parts.
    """

    length: float
    left: tuple[Stretch, ...]
    right: tuple[Stretch, ...]
    stated: bool
    known: bool


def stretches(layout: Layout, piece: Piece, route: Route) -> Stretches:
    """Measure a route through a piece.

    A length given in the layout stretches all of the piece in proportion; else the default dimensions of the kind
    hold, for the frog number and the track gauge of the layout.
    """
    text = piece.options.get("frog-number")
    number = parse(text, NUMBER) if text else 0.0
    gauge = layout.constants.get("gauge", 0.0)
    sizes = piece.kind.dimensions
    own = total(route.length, sizes, number, gauge)
    length = own if piece.length is None else piece.length

    def along(path: tuple[str | None, ...], at: tuple[Measure, ...]) -> tuple[Stretch, ...]:
        if own and len(at) == len(path) - 1:
            places = [total(place, sizes, number, gauge) * length / own for place in at]
        else:
            places = [length * i / len(path) for i in range(1, len(path))]
        return tuple(Stretch(rail, a, b) for rail, (a, b) in zip(path, pairwise([0.0, *places, length]), strict=True))

    paths = ((route.left, route.left_at), (route.right, route.right_at))
    known = all(len(path) == 1 or (own > 0 and len(at) == len(path) - 1) for path, at in paths)
    left, right = (along(path, at) for path, at in paths)
    return Stretches(length, left, right, piece.length is not None, known and length > 0)
