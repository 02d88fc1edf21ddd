"""The layout as read from its file: every name resolved, every quantity in SI units, every entry with its place.

Terminals are canonical strings: a rail `piece.rail`, a pole `supply.A` (bus poles and tied common poles are
resolved to the supply at the root of the chain; outputs of reversers stay `reverser.A`), a contact's own terminal
`owner.contact.common` or `owner.contact.position`, or the name of a free junction.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, NewType

from netlister.layout.terminal import Terminal, named
from netlister.lengths import Metres

if TYPE_CHECKING:
    from netlister.kinds import Library
    from netlister.kinds.model import Kind
    from netlister.layout.drawing import DrawnLayout
    from netlister.source import Allow, Span

Value = NewType("Value", int)
"""A position of a variable: its place in `Variable.positions`."""

Cube = tuple[tuple[str, str], ...]
"""A partial position: pairs of variable and position."""


class Supply(NamedTuple):
    """A supply. `poles` are the canonical names of A and B; `positive` is "A" or "B" (dc only)."""

    name: str
    type: str  # "dc" | "dcc"; of one for accessories "ac" where none is written
    voltage: float  # V
    trip: float | None  # A
    resistance: float  # ohm
    positive: str
    poles: tuple[str, str]
    common: str  # "" or as written
    span: Span
    trip_time: float | None = None  # s
    accessory: bool = False  # runs no train
    station: str = ""  # the command station whose signal it carries, as written; left out, `main` (dcc)
    programming: bool = False  # an output that no wheel may join to any other pole
    winding: str = ""  # of a transformer: supplies on one have a pole in common inside
    ground: str = ""  # boosters whose electronics share one have a return path; it joins no rails


class Wire(NamedTuple):
    """What a conductor is made of: cross-section in m2 or resistance per metre, and its length in m."""

    text: str  # as written: "2.5 mm2", "AWG 14", "20 mohm/m", or ""
    ohm_per_m: float | None
    area_mm2: float | None
    length: Metres | None


class Bus(NamedTuple):
    """A bus, or a branch of one. `poles`: canonical names of A and B."""

    name: str
    supply: str
    poles: tuple[str, str]
    wire: Wire
    form: str  # "line" | "ring"
    colours: tuple[tuple[str, str], ...]  # ("A", "BN"), …
    parent: str  # "" or the bus that it branches from
    at: Metres | None  # along the parent
    implicit: bool  # not written in the file
    span: Span
    breaker: float | None = None  # A; a bus with one is a district of its own
    trip_time: float | None = None  # s, of its breaker


class Said(NamedTuple):
    """The quantities that the entry of a piece states besides its length; None where it states none."""

    frog_number: float | None = None
    radius: Metres | None = None  # of a curve's centre line
    angle: float | None = None  # rad, through which a curve turns
    nose: Metres | None = None  # past the theoretical point of the frog
    dead: Metres | None = None


SAYS_NOTHING = Said()


NO_SETS: dict[str, tuple[Cube, ...]] = {}
"""Of a piece without `set`; shared, so never to be added to."""


class Piece(NamedTuple):
    """A piece of track. `written`: what its entry says besides `kind`, as text; `said`: its quantities."""

    name: str
    kind: Kind
    written: dict[str, str]
    dead_frog: bool  # `frog: dead`
    length: Metres | None  # of an arc, along the centre line
    bars: tuple[str, ...]  # the variable-bearing names of its tie bars: "T1", or "X1.a", "X1.b"
    sets: dict[str, tuple[Cube, ...]]  # crossing track name -> positions that set it, in variables
    span: Span
    said: Said = SAYS_NOTHING

    def terminal(self, rail: str) -> str:
        """The name of one of its rails."""
        return named(self.name, rail)


class Joint(NamedTuple):
    """Two ends joined. `pairs`: the rails that meet, as seen from `start` (left, right), and whether insulated."""

    name: str  # the id, or "from/to" as written
    start: tuple[str, str]  # piece, end
    end: tuple[str, str]
    pairs: tuple[tuple[str, str, bool], tuple[str, str, bool]]
    insulate: str  # as written
    span: Span

    @property
    def pieces(self) -> tuple[str, str]:
        """The two pieces."""
        return self.start[0], self.end[0]


class Feed(NamedTuple):
    """One entry of `feeds` to one piece: `wires` are pairs of source terminal and rail terminal."""

    name: str  # the id, or ""
    source: str  # bus, supply or reverser
    piece: str
    wires: tuple[tuple[str, str], ...]  # ("main.A", "approach.left"), …
    at: Metres | None
    tap: Metres | None
    wire: Wire
    span: Span
    target: str = ""  # the piece or end as written


class Contact(NamedTuple):
    """A changeover contact. `throws`: per position of its owner the terminal it is wired to, or None (open).

    `common` is what the common is wired to, or None; own terminals are `owner.name.common` and
    `owner.name.<position>`.
    """

    owner: str
    name: str
    common: str | None
    throws: tuple[tuple[str, str | None], ...]  # (position as named by the owner, terminal)
    values: tuple[tuple[Value, ...], ...]  # per throw the values of the variable in which it is made
    variable: str
    action: str
    span: Span
    throw_spans: tuple[Span, ...]
    buses: tuple[str, ...] = ()  # of the common, then per throw: the bus or supply whose pole is written there
    ends_at: tuple[str, ...] = ()  # in the same order: the end of the piece that is written there, or nothing

    @property
    def full(self) -> str:
        """Its name with that of its owner."""
        return named(self.owner, self.name)

    def terminal(self, place: str) -> str:
        """The name of one of its own terminals: of its common, or of a position."""
        return named(self.full, place)


class Variable(NamedTuple):
    """Something that has positions: a machine, a lone turnout's tie bar, a hand switch, an optional plug."""

    name: str
    kind: str  # "machine" | "turnout" | "switch" | "plug"
    positions: tuple[str, ...]
    span: Span
    rest: Value = Value(0)  # the position that it springs back to; of what stays where it is put, the first

    @property
    def values(self) -> tuple[Value, ...]:
        """Its values, one for each position."""
        return tuple(map(Value, range(len(self.positions))))


class BarPosition(NamedTuple):
    """How a tie bar follows its variable: per value of the variable the bar's own position."""

    bar: str  # "T1" or "X1.a"
    variable: str
    positions: tuple[str, ...]  # per value of the variable


class Reverser(NamedTuple):
    """A reverser. `variable` and `straight` (values of the variable) for one that follows, else None."""

    name: str
    bus: str
    inputs: tuple[str, str]  # canonical poles of its bus
    outputs: tuple[str, str]  # "R1.A", "R1.B"
    automatic: bool
    variable: str | None
    straight: tuple[Value, ...]
    span: Span
    time: float | None = None  # s


class FrogUnit(NamedTuple):
    """An automatic frog unit."""

    name: str
    frog: str  # terminal
    inputs: tuple[str, str]
    span: Span
    time: float | None = None  # s
    bus: str = ""


class Component(NamedTuple):
    """A two-terminal part in a wire."""

    name: str
    kind: str
    ends: tuple[str, str]
    span: Span
    rating: float | None = None  # A; of a resistor, W; of a capacitor, V
    resistance: float | None = None  # ohm
    trip_time: float | None = None  # s
    buses: tuple[str, str] = ("", "")  # per end: the bus or supply whose pole is written there
    ends_at: tuple[str, str] = ("", "")  # per end: the end of the piece that is written there, or nothing


class Pin(NamedTuple):
    """A pin of a plug between baseboards: two terminals, joined while plugged in."""

    plug: str
    pin: str
    ends: tuple[str, str]
    variable: str | None  # for an optional plug; joined at value 0 ("in")
    span: Span
    buses: tuple[str, str] = ("", "")  # per end: the bus or supply whose pole is written there

    @property
    def full(self) -> str:
        """Its name with that of its plug."""
        return named(self.plug, self.pin)

    ends_at: tuple[str, str] = ("", "")  # per end: the end of the piece that is written there, or nothing


class Link(NamedTuple):
    """An entry of `wires`."""

    name: str
    ends: tuple[str, str]
    wire: Wire
    colour: str
    span: Span
    buses: tuple[str, str] = ("", "")  # per end: the bus or supply whose pole is written there
    ends_at: tuple[str, str] = ("", "")  # per end: the end of the piece that is written there, or nothing


class Train(NamedTuple):
    """A train or locomotive. Distances in m from the first axle; axle numbers from 1."""

    name: str
    length: Metres | None
    current: float | None
    axles: tuple[Metres, ...]
    left: tuple[int, ...]
    right: tuple[int, ...]
    conducting: tuple[int, ...]
    wheel: Metres | None
    parked: str
    span: Span
    carries_on: Metres | None = None  # how far it runs without current
    resistances: tuple[float | None, ...] = ()  # ohm from wheel to wheel, per axle; None: metal, as are all if empty

    def metal(self, axle: int) -> bool:
        """Whether the axle of a number, counted from 1, bridges a gap: not if it is a resistor for a detector."""
        return not self.resistances or self.resistances[axle - 1] is None

    def bridging(self) -> tuple[int, ...]:
        """The numbers of the axles that bridge gaps: those that pick up or conduct, and are no resistors."""
        return tuple(n for n in sorted({*self.left, *self.right, *self.conducting}) if self.metal(n))

    @property
    def insulated(self) -> bool:
        """Whether no axle bridges a gap, where no axles are given: all of them are resistors."""
        return bool(self.resistances) and None not in self.resistances


class Expectation(NamedTuple):
    """What the designer means: `pieces`, and loads among them, are live or dead in every state that `when` covers."""

    pieces: tuple[str, ...]
    live: bool
    when: Cube
    span: Span


class Notice(NamedTuple):
    """A warning found while reading; becomes a finding."""

    rule: str
    subject: str
    message: str
    fix: str
    span: Span


@dataclass(slots=True)
class Layout:
    """A whole layout. Dictionaries keep the order of the file."""

    name: str
    title: str = ""
    notes: str = ""
    rail: str = ""  # the rail section or its resistance, as written
    supplies: dict[str, Supply] = field(default_factory=dict)
    buses: dict[str, Bus] = field(default_factory=dict)
    pieces: dict[str, Piece] = field(default_factory=dict)
    joints: list[Joint] = field(default_factory=list)
    feeds: list[Feed] = field(default_factory=list)
    contacts: list[Contact] = field(default_factory=list)
    variables: dict[str, Variable] = field(default_factory=dict)
    bars: dict[str, BarPosition] = field(default_factory=dict)
    reversers: dict[str, Reverser] = field(default_factory=dict)
    units: dict[str, FrogUnit] = field(default_factory=dict)
    components: dict[str, Component] = field(default_factory=dict)
    pins: list[Pin] = field(default_factory=list)
    links: list[Link] = field(default_factory=list)
    trains: dict[str, Train] = field(default_factory=dict)
    expectations: list[Expectation] = field(default_factory=list)
    never: list[tuple[Cube, Span]] = field(default_factory=list)
    boards: dict[str, tuple[str, ...]] = field(default_factory=dict)
    limits: dict[str, float] = field(default_factory=dict)
    constants: dict[str, float] = field(default_factory=dict)  # rail, joiner, contact, blade, gauge, gap …
    notices: list[Notice] = field(default_factory=list)
    allows: list[Allow] = field(default_factory=list)
    machines: dict[str, tuple[str, ...]] = field(default_factory=dict)  # name -> the tie bars it throws
    types: dict[str, str] = field(default_factory=dict)  # machine or switch -> how it is built, where that is written
    library: Library | None = None  # the kinds that it was read with
    use: tuple[str, ...] = ()  # the files of kinds, as written
    drawing: DrawnLayout | None = None  # of a netlist or script that it was read from

    @property
    def gauge(self) -> Metres:
        """The track gauge; 0 where none is written."""
        return Metres(self.constants.get("gauge", 0.0))

    @property
    def netlist(self) -> bool:
        """Whether it was read from a netlist or a script."""
        return self.drawing is not None

    @property
    def drawn(self) -> dict[str, str]:
        """By name or terminal the reference, pin or net in the drawing, where that is another."""
        return {} if self.drawing is None else self.drawing.names

    def is_frog(self, terminal: str) -> bool:
        """Whether a rail, written `piece.rail`, is a frog."""
        piece, rail = Terminal.of(terminal)
        return self.pieces[piece].kind.is_frog(rail)

    def is_changing(self, terminal: str) -> bool:
        """Whether a rail, written `piece.rail`, changes pole with the blades."""
        piece, rail = Terminal.of(terminal)
        return self.pieces[piece].kind.is_changing(rail)

    def is_moving(self, terminal: str) -> bool:
        """Whether a rail, written `piece.rail`, gets another pole, or other neighbours, as something moves."""
        piece, rail = Terminal.of(terminal)
        return self.pieces[piece].kind.is_moving(rail)
