"""What a layout may hold: one table that all who read, write, draw, describe or complete a layout follow.

What an entry and a key say of themselves stands in `forms`; a `ComponentKind` is a kind of two-terminal component. What
a piece of track takes besides the keys here, its kind says (`kinds`); what is written to a netlist, `layout.devices`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister import quantity
from netlister.layout.forms import (
    Amount,
    Colour,
    Either,
    EntrySchema,
    Key,
    RailSection,
    Rows,
    Text,
    Truth,
    Under,
    WireSize,
    Word,
)

if TYPE_CHECKING:
    from netlister.layout.forms import Form
    from netlister.quantity import Dimension

# -- words that more than one knows

POLES = ("A", "B")
TYPES = ("dc", "dcc")
FORMS = ("line", "ring")
OUTPUTS = ("main", "programming")
TURNS = ("left", "right")
INSULATE = ("none", "left", "right", "both", "vee")
MODES = ("automatic",)
ACTIONS = ("break-before-make", "make-before-break")
MACHINES = ("coil", "stall", "servo", "lever", "memory-wire")
HAND_SWITCHES = ("toggle", "slide", "rotary", "push-button")
RELAYS = ("relay", "latching-relay")
IS = ("live", "dead")
METAL = "metal"
"""Of an axle: that it is no resistor."""

PLAIN = "rail-section"
"""The kind of a piece whose entry names none."""


def _entry(of: str) -> Text:
    """A text that begins with the name of an entry."""
    return Text(of, "entry")


_TERMINAL = Text("a terminal, as in 'T1.frog', or the name of a junction", "terminal")
_POSITIONS = Under(Text("a position"))
"""A partial position: machine, turnout or switch, and where it stands."""

_LENGTH = Amount(quantity.LENGTH)
_RESISTANCE = Amount(quantity.RESISTANCE)
_TIME = Amount(quantity.TIME)
_CURRENT = Amount(quantity.CURRENT)
_WIRE = Key("wire", WireSize(), "What each conductor is made of.", field="Wire")
_WIRE_LENGTH = Key("length", _LENGTH, "The length of each conductor.", "no resistance", "Length")
_ID = Key("id", Text(), "A name of its own, unique in the file.")

# -- two-terminal components


class ComponentKind(NamedTuple):
    """A kind of two-terminal component: its letter, its symbol in words, itself in a sentence.

    `rating`: of what its rating is. `takes`: keys that only some kinds take. `conducts`: whether it joins its two
    terminals in the checks. `limits`: whether from pole to pole it is a district's own breaker. `resists`: whether a
    continuity tester may stay silent over it (common practice, no published source).
    """

    name: str
    letter: str
    says: str
    means: str
    rating: Dimension = quantity.CURRENT
    takes: tuple[str, ...] = ()
    conducts: bool = True
    limits: bool = False
    resists: bool = False


TRIPS = ("trip-time",)
COMPONENT_KINDS = (
    ComponentKind("breaker", "F", "Circuit-breaker in a wire", "A circuit-breaker.", takes=TRIPS, limits=True),
    ComponentKind("fuse", "F", "Fuse in a wire", "A fuse.", takes=TRIPS, limits=True),
    ComponentKind("diode", "R", "Diode, conducts from 1 to 2", "Conducts from `from` to `to`.", resists=True),
    ComponentKind("detector", "B", "Detector in a wire", "A block detector in a wire."),
    ComponentKind("lamp", "E", "Lamp in series in a wire", "A lamp in series.", limits=True, resists=True),
    ComponentKind(
        *("resistor", "R", "Resistor in series in a wire", "A resistor in series.", quantity.POWER), resists=True
    ),
    ComponentKind("load", "E", "What uses current between two poles", "Uses current between poles.", conducts=False),
    ComponentKind(
        *("capacitor", "C", "Capacitor; nothing conducts", "Lets no current through.", quantity.VOLTAGE),
        conducts=False,
    ),
)
"""The kinds of components, in the order in which messages list them."""

COMPONENTS = {kind.name: kind for kind in COMPONENT_KINDS}
BLOCKING = frozenset(kind.name for kind in COMPONENT_KINDS if not kind.conducts)
"""Components through which no pole reaches anything."""

PROTECTING = frozenset(kind.name for kind in COMPONENT_KINDS if "trip-time" in kind.takes)
"""Components that part a circuit with too much current."""

LIMITING = frozenset(kind.name for kind in COMPONENT_KINDS if kind.limits)
RESISTING = frozenset(kind.name for kind in COMPONENT_KINDS if kind.resists)

# -- the sections

SUPPLY = EntrySchema(
    "a supply",
    "What feeds the rails: two poles, A and B.",
    Key("trip", _CURRENT, "The current at which its protection acts.", field="Trip current"),
    Key("resistance", _RESISTANCE, "Its own resistance.", "0 ohm", "Resistance"),
    Key(
        "positive", Word(POLES), "On dc: the pole that is positive with the controller at forward.", "B", "Positive"
    ),
    Key("common", _entry("a pole of another supply"),
        "Its pole of that letter is that pole of another supply, too; only for outputs isolated from each other.",
        field="Common"),
    Key("type", Word(TYPES), "Direct current, or a digital signal.", field="Type", required=True),
    Key("voltage", Amount(quantity.VOLTAGE), "Its voltage.", field="Voltage", required=True),
    Key("trip-time", _TIME, "How long its protection takes to act.", field="Trip time"),
    Key("accessory", Truth(), "It runs no train and feeds no track.", "false", "Accessory"),
    Key("station", Text(), "On dcc: the command station whose signal it carries; two of them are never in step.",
        "main", "Station"),
    Key("output", Word(OUTPUTS), "On dcc: `programming` is an output that no wheel may join to anything else.",
        "main", "Output"),
    Key("winding", Text(), "The winding of a transformer; supplies on one have a pole in common inside.",
        field="Winding"),
    Key("ground", Text(), "On dcc: boosters whose electronics share a ground; it joins no rails.", field="Ground"),
)  # fmt: skip

BUS = EntrySchema(
    "a bus",
    "A pair of wires that feeders are tapped from.",
    Key("supply", _entry("a supply"), "The supply that feeds it.", "the only one, or the one of its name", "Supply"),
    _WIRE,
    _WIRE_LENGTH,
    Key("form", Word(FORMS), "A line, or a ring out of the supply and back to it, its length once round.", "line",
        "Form"),
    Key("from", _entry("a bus"), "The bus that it branches from.", field="From"),
    Key("at", _LENGTH, "Of a branch: the place along that bus.", field="At"),
    Key("breaker", _CURRENT, "The current of its breaker; it is then a power district of its own.", field="Breaker"),
    Key("trip-time", _TIME, "How long that breaker takes to act.", field="Trip time"),
    Key("colours", Under(Colour(), POLES), "The colour of the wire of each pole.", field="Colours"),
)  # fmt: skip

CONTACT = EntrySchema(
    "this contact",
    "A changeover contact: one common, joined to one of its throws.",
    Key("common", _TERMINAL, "What its common is wired to."),
    Key("action", Word(ACTIONS), "Whether it breaks before it makes.", ACTIONS[0], "Action"),
    others=_TERMINAL,
)

_CONTACTS = Key(
    "contacts", Under(CONTACT), "Contacts that move with it, by name: `common` and a terminal per position."
)

PIECE = EntrySchema(
    "a piece of track",
    "A piece of track; without values a rail-section.",
    Key("kind", Text("a kind", "kind"), "Its kind.", PLAIN),
    Key("hand", Word(("left", "right", "wye")), "The side of its diverging leg, seen from the toe.", field="Hand"),
    Key("length", _LENGTH, "Its length.", field="Length"),
    Key("radius", _LENGTH, "Of a curve: the radius of its centre line.", field="Radius"),
    Key("angle", Amount(quantity.ANGLE), "Of a curve: the angle through which it turns.", field="Angle"),
    Key("turn", Word(TURNS), "Of a curve: the side to which it turns.", field="Turn"),
    Key("frog-number", Amount(quantity.NUMBER), "The number of its frog.", "its kind's", "Frog number"),
    Key("frog", Word(("dead",)), "`dead`: its frog is left without a wire on purpose.", field="Frog"),
    Key("nose", _LENGTH, "Of an insulated frog: how far its insulation reaches past the theoretical point.",
        "its kind's", "Nose"),
    Key("dead", _LENGTH, "The dead length at its frog, as measured.", "its kind's", "Dead"),
    _CONTACTS,
    Key("set", Under(Either((_POSITIONS, Rows(_POSITIONS)))),
        "Of a crossing without blades: the positions that set each of its tracks.", field="Set"),
)  # fmt: skip
"""A piece takes the options of its kind, too."""

MACHINE = EntrySchema(
    "a machine",
    "A switch machine.",
    Key("throws", Rows(Either((_entry("a turnout or tie bar"), _POSITIONS)), alone=True),
        "The turnouts or tie bars that it moves together.", field="Throws", required=True),
    Key("type", Word(MACHINES), "How it moves; told in papers, changes nothing in the circuit.", field="Type"),
    _CONTACTS,
)  # fmt: skip

SWITCH = EntrySchema(
    "a switch",
    "A switch made by hand, or a relay that follows something.",
    Key("positions", Rows(Text()), "Its positions, two or more; of a relay in the order of what it follows.",
        field="Positions"),
    Key("follows", _entry("a machine, turnout or switch"), "Of a relay: what it follows.", field="Follows"),
    Key("type", Word((*HAND_SWITCHES, *RELAYS)), "How it is built.", field="Type"),
    Key("rest", Text("one of its positions"), "The position to which it springs back.", "it stays", "Rest"),
    _CONTACTS,
)  # fmt: skip

REVERSER = EntrySchema(
    "a reverser",
    "Exchanges the two poles of a section; its outputs A and B are a source of feeds.",
    Key("from", _entry("a bus"), "The bus that it hangs on.", "the only one", "From"),
    Key("mode", Word(MODES), "`automatic`: it chooses for itself.", field="Mode"),
    Key("follows", _entry("a machine or turnout"), "What it follows, as a changeover switch.", field="Follows"),
    Key("straight", Rows(Text("a position"), alone=True), "The positions of what it follows in which it is straight.",
        field="Straight"),
    Key("time", _TIME, "Of an automatic one: how long it takes to turn its output round.", field="Time"),
)  # fmt: skip

UNIT = EntrySchema(
    "a frog unit",
    "An automatic unit that powers one frog.",
    Key("feeds", _entry("the terminal of a frog"), "The frog that it feeds.", required=True),
    Key("from", _entry("a bus"), "The bus that it hangs on.", "the only one", "From"),
    Key("time", _TIME, "How long it takes to turn its output round.", field="Time"),
)

COMPONENT = EntrySchema(
    "a component",
    "A part with two terminals, in a wire or between two poles.",
    Key("kind", Word(tuple(COMPONENTS)), "What it is.", required=True),
    Key("from", _TERMINAL, "What its first terminal is wired to.", required=True),
    Key("to", _TERMINAL, "What its second terminal is wired to.", required=True),
    Key("rating", Amount(quantity.CURRENT), "Its rating: a current; of a resistor a power, of a capacitor a voltage.",
        field="Rating"),
    Key("resistance", _RESISTANCE, "Its resistance.", field="Resistance"),
    Key("trip-time", _TIME, "Of a breaker or fuse: how long it takes to act.", field="Trip time"),
)  # fmt: skip

PLUG = EntrySchema(
    "a plug",
    "A plug between baseboards.",
    Key("pins", Under(Rows(_TERMINAL)), "Per pin the two terminals that it joins.", required=True),
    Key("optional", Truth(), "It has the positions `in` and `out`.", "false", "Optional"),
)

BOARD = Rows(_entry("a piece or gear"), alone=True)
"""What stands under the name of a baseboard."""

TRAIN = EntrySchema(
    "a train",
    "A locomotive or train.",
    Key("length", _LENGTH, "Its length."),
    Key("current", _CURRENT, "The current that it takes."),
    Key("axles", Rows(_LENGTH), "The places of its axles, from the first."),
    Key("wheel", _LENGTH, "The width of the tread of its wheels."),
    Key("parked", Text("a joint", "joint"), "The joint across which it is left; it does not run."),
    Key("left", Rows(Text("the number of an axle")), "The axles that pick up on the left, by number.", "all"),
    Key("right", Rows(Text("the number of an axle")), "The axles that pick up on the right, by number.", "all"),
    Key("conducting", Rows(Text("the number of an axle")), "The axles that bridge gaps though they pick nothing up."),
    Key("carries-on", _LENGTH, "How far it runs without current."),
    Key("axle-resistance", Either((_RESISTANCE, Rows(Either((_RESISTANCE, Word((METAL,))))), Under(_RESISTANCE))),
        "Of wheelsets that a detector sees: their resistance from wheel to wheel; they bridge no gap."),
)  # fmt: skip

JOINT = EntrySchema(
    "a joint",
    "Two ends joined.",
    Key("from", _entry("an end"), "The end of a piece; a rail-section alone means its b.", field="From", required=True),
    Key("to", _entry("an end"), "The end of a piece; a rail-section alone means its a.", field="To", required=True),
    Key("insulate", Word(INSULATE), "The rails that are insulated, as seen along `from`.", "none", "Insulate"),
    _ID,
)

FEED = EntrySchema(
    "a feed",
    "Wires from the poles to the rails of a piece, or of several.",
    Key("from", _entry("a bus, supply or reverser"), "What feeds.", "the only bus", "From"),
    Key("tap", _LENGTH, "The place along the bus, from its supply.", "at the supply", "Tap"),
    Key("at", _LENGTH, "The place along a rail-section, from a.", "a, or the end named", "At"),
    _WIRE,
    Key("length", _LENGTH, "The length of each pole's wire.", "no resistance", "Length"),
    Key("to", Rows(_entry("a piece or an end"), alone=True), "What it feeds.", field="To", required=True),
    Key("A", Text("a rail"), "The rail of pole A: `left`, `right` or a rail's name.", "left"),
    Key("B", Text("a rail"), "The rail of pole B: `left`, `right` or a rail's name.", "right"),
    _ID,
)

LINK = EntrySchema(
    "a wire",
    "A wire between two terminals.",
    Key("from", _TERMINAL, "What its first end is wired to.", required=True),
    Key("to", _TERMINAL, "What its second end is wired to.", required=True),
    _WIRE,
    _WIRE_LENGTH,
    Key("colour", Colour(), "Its colour.", field="Colour"),
    _ID,
)

EXPECT = EntrySchema(
    "an expectation",
    "What the designer means.",
    Key("track", Rows(_entry("a piece"), alone=True), "The pieces that it is about.", "loads alone"),
    Key("load", Rows(_entry("a load"), alone=True), "The loads that it is about.", "track alone"),
    Key("is", Word(IS), "What they are.", required=True),
    Key("when", _POSITIONS, "The positions in which it must hold.", "every state"),
)

LIMITS = EntrySchema(
    "limits",
    "What the checks hold the design to.",
    Key("drop", Amount(quantity.SHARE), "The largest drop of voltage.", "5 %"),
    Key("trip-margin", Amount(quantity.NUMBER), "How many times the trip current a short must draw.", "1.5"),
    Key("joiners", Amount(quantity.NUMBER), "How many joiners current may pass to a rail.", "2"),
    Key("feeder-spacing", _LENGTH, "The longest rail between two feeders.", "0.9 m, soldered 1.8 m"),
)

NAMED: dict[str, Form] = {
    "supplies": SUPPLY,
    "buses": BUS,
    "track": PIECE,
    "machines": MACHINE,
    "switches": SWITCH,
    "reversers": REVERSER,
    "frog-units": UNIT,
    "components": COMPONENT,
    "plugs": PLUG,
    "boards": BOARD,
    "trains": TRAIN,
}
"""The sections whose entries have names."""

LISTED: dict[str, Form] = {
    "joints": JOINT,
    "feeds": FEED,
    "wires": LINK,
    "expect": EXPECT,
    "never": _POSITIONS,
}
"""The sections that are lists."""

DATA = ("never", "expect", "trains")
"""The sections of things that nothing is wired to: in a netlist each is a field of the part `layout`."""

_WHOLE = {
    "format": Key("format", Word(("netlister/1",)), "The format of the file.", required=True),
    "title": Key("title", Text(), "What the layout is called.", field="Title"),
    "notes": Key("notes", Rows(Text(), alone=True), "Free text.", field="Notes"),
    "gauge": Key("gauge", _LENGTH, "The track gauge.", field="Gauge"),
    "gap": Key("gap", _LENGTH, "The width of an insulated rail joint.", "0.8 mm", "Gap"),
    "rail": Key("rail", RailSection(), "The rail section, or its resistance per length.", field="Rail"),
}

_VALUES = {
    "limits": Key("limits", LIMITS, LIMITS.says, field="Limits"),
    "use": Key("use", Rows(Text("a file"), alone=True), "Files with kinds of your own.", field="Use"),
    "joiner": Key("joiner", _RESISTANCE, "The resistance of a metal joiner.", "from the table of values", "Joiner"),
    "contact": Key("contact", _RESISTANCE, "The resistance of a contact.", "from the table of values", "Contact"),
    "blade": Key("blade", _RESISTANCE, "The resistance of a blade's touch.", "from the table of values", "Blade"),
}

_SECTIONS = {
    "supplies": "What feeds the rails.",
    "buses": "Pairs of wires that feeders are tapped from.",
    "track": "The pieces of track.",
    "machines": "Switch machines and their contacts.",
    "switches": "Hand switches and relays with their contacts.",
    "reversers": "Devices that exchange the poles of a section.",
    "frog-units": "Frog units: automatic, one for each frog.",
    "components": "Parts with two terminals.",
    "plugs": "Plugs between baseboards.",
    "boards": "Baseboards, and what stands on each.",
    "trains": "Locomotives and trains.",
    "joints": "Ends that are joined.",
    "feeds": "Wires from poles to rails.",
    "wires": "Further wires.",
    "expect": "What the designer means: track that is live or dead, in some positions or in all.",
    "never": "Combinations of positions that an interlocking rules out.",
}

_REQUIRED = ("supplies", "track")
TOP: dict[str, Key] = {
    **_WHOLE,
    **{name: Key(name, Under(form), _SECTIONS[name], required=name in _REQUIRED) for name, form in NAMED.items()},
    **{name: Key(name, Rows(form), _SECTIONS[name]) for name, form in LISTED.items()},
    **_VALUES,
}  # fmt: skip
"""Every key at top level, in the order in which messages list them."""

FORMAT = _WHOLE["format"].words[0]

CONSTANTS: dict[str, Dimension] = {
    name: key.dimension for name, key in (_WHOLE | _VALUES).items() if isinstance(key.form, Amount)
}
"""Values at top level that replace defaults."""
