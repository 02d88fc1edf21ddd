"""Kinds of track pieces, as plain values: what `parts/*.yaml` says, for one hand and one set of options."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


class End(NamedTuple):
    """An end of a piece: whether it is an entering end, and which rail is on its left and right.

    Left and right are seen looking forward along the piece.
    """

    name: str
    entering: bool
    left: str
    right: str


class Bar(NamedTuple):
    """A tie bar: its name (empty where the piece has only one) and the names of its positions in order."""

    name: str
    positions: tuple[str, ...]


Setting = tuple[tuple[str, str], ...]
"""Positions of tie bars: pairs of bar name and position. Empty: always."""


class Made(NamedTuple):
    """A contact made between two rails while the tie bars stand as `when` says."""

    when: Setting
    rails: tuple[str, str]


class Blade(NamedTuple):
    """While the tie bars stand as `when` says, the blade `open` stands open beside the rail `stock`.

    Both are one rail where the blade is bonded to its stock rail.
    """

    when: Setting
    open: str
    stock: str


class Dimension(NamedTuple):
    """A default dimension: in m, as written, what it is of, who says so and how far to trust it.

    `by_number`: the same for other frogs, in m by frog number, where the source gives them. `gauge`: the track gauge
    in m that it was drawn for, 0 where it does not depend on the gauge.
    """

    metres: float
    text: str
    what: str
    source: str
    status: str
    by_number: dict[float, float]
    gauge: float


Measure = tuple[tuple[float, str], ...]
"""A sum of lengths: pairs of factor and name of a dimension; of metres and an empty name for a plain length."""


class Nose(NamedTuple):
    """An insulated nose of a frog: the two V rails beside it, and how far it reaches.

    `beyond`: from the theoretical point of the frog to where the two rails begin. `number`: the frog number that the
    default dimensions belong to.
    """

    rails: tuple[str, str]
    beyond: Measure
    number: float


class Route(NamedTuple):
    """A way through a piece.

    `ends`: the two ends. `when`: the positions that set it (empty on a piece without blades).
    `left`, `right`: the rails under the left and the right wheels in order, seen forward along the piece;
    `None` stands for a dead length. `length`: of the whole route (empty: not known). `left_at`, `right_at`: where
    one of the rails in order ends and the next begins, from the entering end (empty: not known).
    """

    name: str
    ends: tuple[str, str]
    when: Setting
    left: tuple[str | None, ...]
    right: tuple[str | None, ...]
    length: Measure = ()
    left_at: tuple[Measure, ...] = ()
    right_at: tuple[Measure, ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class Kind:
    """A kind of track piece for one hand and one set of options. Instances are shared by all pieces alike."""

    name: str
    title: str
    summary: str
    hand: str  # "" where the kind has none
    options: tuple[tuple[str, str], ...]
    rails: tuple[str, ...]
    ends: dict[str, End]
    bonds: tuple[tuple[str, str], ...]
    bars: tuple[Bar, ...]
    made: tuple[Made, ...]
    routes: tuple[Route, ...]
    plain: bool  # plain track: two ends and nothing that moves (a rail-section)
    floating: str  # severity of a frog of this kind that is never fed: "error" or "warning"
    dimensions: dict[str, Dimension]  # its default dimensions and dead lengths
    blades: tuple[Blade, ...] = ()
    noses: tuple[Nose, ...] = ()

    @property
    def bladed(self) -> bool:
        """Whether the piece has blades (tie bars)."""
        return bool(self.bars)

    @property
    def crossing(self) -> bool:
        """Whether the piece is a crossing without blades: several tracks, none chosen by the piece itself."""
        return not self.bars and len(self.routes) > 1
