"""What a bent plan is made of: ends, junctions, rows and chains."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi
from typing import TYPE_CHECKING

from netlister.draw.lines import Line, Pose

if TYPE_CHECKING:
    from netlister.draw.placing import PieceEnd
    from netlister.layout.model import Piece

ROW = 64.0
"""Between the centre lines of two rows, so that names and poles fit in between."""

SQUEEZE = 0.6
"""Turnouts are drawn so much shorter than they are, in proportion to the gauge."""

PAD, RAMP, ROUND = 18.0, 34.0, 76.0
"""Room beside a junction; the least length of a ramp from a leg to its row; the radius of loops."""

PIT = 44.0
"""The least radius of a turntable."""

LEAST, MOST, PER_MM = 64.0, 170.0, 0.07
"""The width of a plain piece: at least, at most, and per millimetre of its length."""

NAME_SIZE = 12.0
STUB = 24.0
"""What a piece that is drawn by itself is longer at each end."""


@dataclass(eq=False)
class Port:
    """An end of a junction: its place beside the junction's reference and its heading, while the junction looks right.

    `right`: whether it lies on the right then. `group`: the ends on the same row. `chain`: what is joined to it.
    """

    end: str
    x: float
    y: float
    heading: float
    right: bool
    group: Group = field(init=False)
    chain: Chain | None = None


@dataclass(eq=False)
class Group:
    """Ends of a junction that lie on one row."""

    junction: Junction
    ports: list[Port]
    row: TrackRow | None = None


@dataclass(eq=False)
class Junction:
    """A piece with more than two ends."""

    piece: Piece
    ports: dict[str, Port]
    groups: list[Group]  # from top to bottom, of a junction that looks right
    routes: dict[str, Line]
    pit: float = 0.0
    looks: int = 0  # 1 right, -1 left
    x: float = 0.0
    least: float = 0.0  # as far left as it may stand
    home: float = 0.0  # where it stands though it could stand further to the left
    placed: bool = False

    def side(self, port: Port) -> int:
        """1 where a port lies on the right of the junction as it is drawn, -1 on the left."""
        return self.looks if port.right else -self.looks

    def ordered(self) -> list[Group]:
        """Its groups from top to bottom as it is drawn."""
        return self.groups if self.looks > 0 else self.groups[::-1]

    def reach(self, side: int) -> float:
        """How far it reaches from its reference to one side."""
        xs = [p.x * self.looks for p in self.ports.values()] + [self.pit, -self.pit]
        return max(0.0, *(x * side for x in xs))

    @property
    def y(self) -> float:
        """The height of its reference."""
        level = [g for g in self.groups if g.row and any(abs(p.y) < 1 for p in g.ports)]
        rows = [g.row.y for g in (level or self.groups) if g.row]
        return (min(rows) + max(rows)) / 2

    def pose(self, port: Port) -> Pose:
        """Where a port is, heading out of the junction."""
        turn = 0.0 if self.looks > 0 else pi
        return Pose(self.x + port.x * self.looks, self.y + port.y * self.looks, port.heading + turn)


@dataclass(eq=False)
class TrackRow:
    """A row of track: a height, and what of the width it takes."""

    y: float = 0.0
    start: float = 0.0
    stop: float = 0.0
    slim: bool = True  # holds no name
    pad: float = 0.0


@dataclass(eq=False)
class Chain:
    """Plain pieces between two ports, in order from `first`; each with the end that comes first."""

    first: Port | None
    last: Port | None
    pieces: list[PieceEnd]
    junctions: tuple[Junction | None, Junction | None]
    kind: str = "straight"  # or "turn" (back to the side that it came from) or "back" (over the top)
    rows: tuple[TrackRow, TrackRow] | None = None
    over: TrackRow | None = None
    turn_at: float = 0.0
    slack: float = 0.0  # room beyond that of its pieces, so that legs further on do not lie below those before

    @property
    def need(self) -> float:
        """The least length of its pieces."""
        return (self.widths and sum(self.widths)) or 0.0

    widths: list[float] = field(default_factory=list)


def beyond_of(port: Port) -> tuple[Junction, Port] | None:
    """What the chain of a port leads to."""
    chain = port.chain
    if chain is None or chain.last is None or chain.first is None:
        return None
    end = chain.last if port is chain.first else chain.first
    return (end.group.junction, end)
