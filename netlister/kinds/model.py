"""Kinds of track pieces, as plain values: what `parts/*.yaml` says, for one hand and one set of options."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from netlister.lengths import Metres


class Role(StrEnum):
    """What a rail is to the piece that it is a rail of."""

    FROG = "frog"
    CLOSURE = "closure"
    STOCK = "stock"
    GUARD = "guard"
    TABLE = "table"
    RUNNING = "running"


_ROLES = (
    *(("frog", Role.FROG), ("closure-", Role.CLOSURE), ("stock-", Role.STOCK), ("guard-", Role.GUARD)),
    *(("bridge-", Role.TABLE), ("table-", Role.TABLE)),
)
CHANGING = frozenset({Role.FROG, Role.CLOSURE})
"""Roles of the rails that change pole with the blades."""


def role_of(rail: str) -> Role:
    """The role of a rail of a kind: the format gives it by the rail's name. Nothing else looks at such names."""
    return next((role for beginning, role in _ROLES if rail.startswith(beginning)), Role.RUNNING)


Options = tuple[tuple[str, str], ...]
"""Options and their values, as chosen for a piece."""


class KindError(Exception):
    """A kind that does not exist, or that does not take what is asked of it. The message says what to write instead."""


class End(NamedTuple):
    """An end of a piece: whether it is an entering end, and which rail is on its left and right.

    Left and right are seen looking forward along the piece.
    """

    name: str
    entering: bool
    left: str
    right: str

    def side_of(self, rail: str) -> str:
        """`left` or `right`: where a rail of this end lies."""
        return "left" if self.left == rail else "right"


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


class MadeWith(NamedTuple):
    """A contact that is there with the options `given`."""

    made: Made
    given: Options


class Bond(NamedTuple):
    """Two rails that are always joined with the options `given`."""

    rails: tuple[str, str]
    given: Options


class DefaultDimension(NamedTuple):
    """A default dimension: in m, as written, what it is of, who says so and how far to trust it.

    `by_number`: the same for other frogs, in m by frog number, where the source gives them. `gauge`: the track gauge
    in m that it was drawn for, 0 where it does not depend on the gauge.
    """

    metres: Metres
    text: str
    what: str
    source: str
    status: str
    by_number: dict[float, Metres]
    gauge: Metres


Measure = tuple[tuple[float, str], ...]
"""A sum of lengths: pairs of factor and name of a dimension; of metres and an empty name for a plain length."""


class BladeWith(NamedTuple):
    """A blade that stands open so with the options `given`."""

    blade: Blade
    given: Options


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
    `None` is a dead length. `length`: of the whole route (empty: not known). `left_at`, `right_at`: where
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


class Sealed(NamedTuple):
    """A rail that no wire can be put to with the options `given`."""

    rail: str
    given: Options


class Note(NamedTuple):
    """What an option is: in words, the value that counts where none is written, its hands (empty: all).

    `choice`: none of its values is a mistake, so that a repair need not try another. `fault`: the value that is always
    one ("": none), which no repair advises.
    """

    what: str = ""
    default: str = ""
    hands: tuple[str, ...] = ()
    choice: bool = False
    fault: str = ""


class OwnShape(NamedTuple):
    """Dimensions, dead lengths and anchors of their own, for a hand or with options; they replace those of the kind."""

    given: Options
    dimensions: dict[str, DefaultDimension]
    dead: dict[str, DefaultDimension]
    draw: dict[str, tuple[float, float]]


class Row(NamedTuple):
    """Where ends that repeat are drawn: evenly from `first` to `last`.

    Both are points; or, where `arc` is the centre and radius of a circle, their first number is an angle in degrees.
    """

    first: tuple[float, ...]
    last: tuple[float, ...]
    arc: tuple[float, float, float] | None


class Count(NamedTuple):
    """The option that says how often everything with a `#` in its name is there, and how often it may be.

    `was`: the name that it had before, which is still read.
    """

    option: str
    least: int
    most: int
    was: str = ""


@dataclass(frozen=True, slots=True)
class Definition:
    """A kind as written in its file, for all hands and options.

    Ends, positions and routes are still named by exits; `hands` maps exits to the names of the ends, in the order of
    the positions. With a `count`, a name with a `#` stands for many.
    """

    name: str
    title: str
    summary: str
    plain: bool
    floating: str
    hands: dict[str, dict[str, str]]
    rails: tuple[str, ...]
    ends: tuple[End, ...]
    bonds: tuple[tuple[str, str], ...]
    options: dict[str, tuple[tuple[str, ...], dict[str, tuple[tuple[str, str], ...]]]]
    bars: tuple[Bar, ...]
    made: tuple[Made, ...]
    routes: tuple[Route, ...]
    notes: dict[str, str]
    dimensions: dict[str, DefaultDimension]
    dead: dict[str, DefaultDimension]
    draw: dict[str, tuple[float, float]]
    option_notes: dict[str, Note] = field(default_factory=dict)
    optional: tuple[Bond, ...] = ()
    made_with: tuple[MadeWith, ...] = ()
    sealed: tuple[Sealed, ...] = ()
    gaps: tuple[str, ...] = ()
    shapes: tuple[OwnShape, ...] = ()
    rows: dict[str, Row] = field(default_factory=dict)
    count: Count | None = None
    blades: tuple[Blade, ...] = ()
    noses: tuple[Nose, ...] = ()
    blades_with: tuple[BladeWith, ...] = ()


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
    dimensions: dict[str, DefaultDimension]  # its default dimensions and dead lengths
    sealed: frozenset[str]  # rails that no wire can be put to
    gaps: frozenset[str]  # ends at which a joint is always a gap: the rails there move
    draw: dict[str, tuple[float, float]]  # anchors, x forward and y to the left
    blades: tuple[Blade, ...] = ()
    noses: tuple[Nose, ...] = ()
    roles: dict[str, Role] = field(default_factory=dict)  # of each rail

    def is_frog(self, rail: str) -> bool:
        """Whether a rail is a frog."""
        return self.roles[rail] is Role.FROG

    def is_changing(self, rail: str) -> bool:
        """Whether a rail changes pole with the blades."""
        return self.roles[rail] in CHANGING

    def is_moving(self, rail: str) -> bool:
        """Whether a rail gets another pole, or other neighbours, as something moves."""
        return self.is_changing(rail) or self.roles[rail] is Role.TABLE

    @property
    def changing(self) -> tuple[str, ...]:
        """The rails that change pole with the blades."""
        return tuple(rail for rail in self.rails if self.roles[rail] in CHANGING)

    @property
    def frogs(self) -> tuple[str, ...]:
        """The rails that are frogs."""
        return tuple(rail for rail in self.rails if self.roles[rail] is Role.FROG)

    @property
    def branching(self) -> bool:
        """Whether more than two tracks meet in the piece: a turnout, a crossing, a table."""
        return len(self.ends) > 2  # noqa: PLR2004

    @property
    def bladed(self) -> bool:
        """Whether the piece has blades (tie bars)."""
        return bool(self.bars)

    @property
    def sides(self) -> tuple[str, str] | None:
        """The left and right rail where no end is named: those of its one entering end; None without such an end."""
        entering = [end for end in self.ends.values() if end.entering]
        ends = entering or list(self.ends.values())
        return (ends[0].left, ends[0].right) if len(ends) == 1 else None

    @property
    def plastic(self) -> bool:
        """Whether some route has a stretch without any rail."""
        return any(None in (*route.left, *route.right) for route in self.routes)

    def takes(self, key: str) -> bool:
        """Whether an entry of this kind takes a key that is no option: a frog number only where there is a frog."""
        return {
            "hand": bool(self.hand),
            "turn": self.plain,
            "frog-number": not self.plain,
            "frog": not self.plain,
            "nose": bool(self.noses),
            "dead": self.plastic,
            "contacts": len(self.bars) == 1,
            "set": self.crossing,
        }.get(key, True)

    @property
    def framed(self) -> bool:
        """Whether the piece ends the track and its frame joins the two rails, as a metal buffer's does."""
        if len(self.ends) != 1 or self.routes:
            return False
        (end,) = self.ends.values()
        return end.left == end.right or any({end.left, end.right} == set(bond) for bond in self.bonds)

    @property
    def crossing(self) -> bool:
        """Whether the piece is a crossing without blades: several tracks, none chosen by the piece itself."""
        return not self.bars and len(self.routes) > 1
