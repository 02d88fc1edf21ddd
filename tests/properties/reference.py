"""The electrical rules by plain enumeration of every state: slow, literal and independent of the tool it checks.

Nothing here is clever. Every state of a layout is built as a graph of terminals with networkx, every question is
answered by looking at that graph, and the answers are collected as sets of states. The tables of the kinds of
pieces are typed in below by hand, from the description of the file format and not from the data of the tool.

The layout is plain nested data as `load` gives it: dictionaries, lists and strings, no other scalars.
"""

from __future__ import annotations

import copy
import itertools
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import networkx as nx  # type: ignore[import-untyped, unused-ignore]
import yaml

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

State = frozenset[tuple[str, str]]
"""One position for each variable of the layout."""

Key = tuple[str, str]
"""Rule and subject."""

Data = dict[str, Any]

ALWAYS = None


# --------------------------------------------------------------------------------------------------------------
# The kinds, typed in by hand
# --------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Route:
    """One way through a piece: the tie bars that set it, its two ends, the rails under the wheels in order."""

    bars: Mapping[str, str]
    ends: tuple[str, str]
    left: tuple[str, ...]
    right: tuple[str, ...]


@dataclass(frozen=True)
class Kind:
    """A kind of piece. A tie bar named '' is the only one of its piece."""

    rails: tuple[str, ...]
    ends: Mapping[str, tuple[str, str]]
    routes: tuple[Route, ...]
    bars: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    made: tuple[tuple[str, str, str, str], ...] = ()
    bonds: tuple[tuple[str, str], ...] = ()
    gaps: frozenset[str] = frozenset()


ENTERING = {"a", "toe", "a1", "a2", "a3", "a4", *(f"s{n}" for n in range(1, 11))}
LEAVING = {"b", "through", "diverging", "left", "centre", "right", "b1", "b2", "b3", "b4", "head", "tail"}
DEAD = "dead"

TWO_WAY_RAILS = {
    "live-frog": ("stock-left", "stock-right", "frog"),
    "live-frog-bonded": ("stock-left", "stock-right", "frog"),
    "isolated-metal-frog": ("stock-left", "stock-right", "frog"),
    "insulated-frog": ("stock-left", "stock-right", "closure-left", "closure-right"),
    "copper-clad-live-frog": ("stock-left", "stock-right", "frog"),
    "single-blade-live": ("stock-left", "stock-right", "frog"),
}
LIKE = {"copper-clad-live-frog": "live-frog-bonded", "single-blade-live": "live-frog-bonded"}
"""Turnouts that have the ends and wheel paths of another, and other conductors."""
TWO_WAY_ENDS = {
    "live-frog": {"toe": ("stock-left", "stock-right"), "L": ("stock-left", "frog"), "R": ("frog", "stock-right")},
    "live-frog-bonded": {
        "toe": ("stock-left", "stock-right"),
        "L": ("stock-left", "frog"),
        "R": ("frog", "stock-right"),
    },
    "isolated-metal-frog": {
        "toe": ("stock-left", "stock-right"),
        "L": ("stock-left", "stock-right"),
        "R": ("stock-left", "stock-right"),
    },
    "insulated-frog": {
        "toe": ("stock-left", "stock-right"),
        "L": ("stock-left", "closure-right"),
        "R": ("closure-left", "stock-right"),
    },
}
TWO_WAY_MADE: dict[str, dict[str, tuple[str, str]]] = {
    "live-frog": {"L": ("frog", "stock-right"), "R": ("frog", "stock-left")},
    "live-frog-bonded": {},
    "isolated-metal-frog": {},
    "insulated-frog": {"L": ("closure-right", "stock-right"), "R": ("closure-left", "stock-left")},
}
TWO_WAY_PATHS: dict[str, dict[str, tuple[tuple[str, ...], tuple[str, ...]]]] = {
    "live-frog": {
        "L": (("stock-left",), ("stock-right", "frog")),
        "R": (("stock-left", "frog"), ("stock-right",)),
    },
    "live-frog-bonded": {
        "L": (("stock-left",), ("stock-right", "frog")),
        "R": (("stock-left", "frog"), ("stock-right",)),
    },
    "isolated-metal-frog": {
        "L": (("stock-left",), ("stock-right", "frog", "stock-right")),
        "R": (("stock-left", "frog", "stock-left"), ("stock-right",)),
    },
    "insulated-frog": {
        "L": (("stock-left",), ("stock-right", "closure-right", DEAD, "closure-right")),
        "R": (("stock-left", "closure-left", DEAD, "closure-left"), ("stock-right",)),
    },
}
JUMPERS = (("closure-left", "stock-left"), ("closure-right", "stock-right"))
HANDS = {
    "right": {"L": "through", "R": "diverging"},
    "left": {"L": "diverging", "R": "through"},
    "wye": {"L": "left", "R": "right"},
}
POSITIONS = {"right": ("through", "diverging"), "left": ("through", "diverging"), "wye": ("left", "right")}

FIXED_KINDS = {
    "rail-section": Kind(
        rails=("left", "right"),
        ends={"a": ("left", "right"), "b": ("left", "right")},
        routes=(Route({}, ("a", "b"), ("left",), ("right",)),),
    ),
    "diamond-insulated": Kind(
        rails=("left-1", "right-1", "left-2", "right-2"),
        ends={
            "a1": ("left-1", "right-1"),
            "b1": ("left-1", "right-1"),
            "a2": ("left-2", "right-2"),
            "b2": ("left-2", "right-2"),
        },
        routes=(
            Route({}, ("a1", "b1"), ("left-1", DEAD, "left-1"), ("right-1", DEAD, "right-1")),
            Route({}, ("a2", "b2"), ("left-2", DEAD, "left-2"), ("right-2", DEAD, "right-2")),
        ),
    ),
    "diamond-live": Kind(
        rails=("outer-left", "outer-right", "frog-a", "frog-b"),
        ends={
            "a1": ("outer-left", "frog-a"),
            "a2": ("frog-a", "outer-right"),
            "b1": ("frog-b", "outer-right"),
            "b2": ("outer-left", "frog-b"),
        },
        routes=(
            Route({}, ("a1", "b1"), ("outer-left", "frog-b"), ("frog-a", "outer-right")),
            Route({}, ("a2", "b2"), ("frog-a", "outer-left"), ("outer-right", "frog-b")),
        ),
    ),
    "double-slip-live": Kind(
        rails=("side-left", "side-right", "frog-a", "frog-b"),
        ends={
            "a1": ("side-left", "frog-a"),
            "a2": ("frog-a", "side-right"),
            "b1": ("frog-b", "side-right"),
            "b2": ("side-left", "frog-b"),
        },
        bars={"a": ("b1", "b2"), "b": ("a1", "a2")},
        routes=(
            Route({"b": "a1", "a": "b1"}, ("a1", "b1"), ("side-left", "frog-b"), ("frog-a", "side-right")),
            Route({"b": "a1", "a": "b2"}, ("a1", "b2"), ("side-left",), ("frog-a", "side-right", "frog-b")),
            Route({"b": "a2", "a": "b1"}, ("a2", "b1"), ("frog-a", "side-left", "frog-b"), ("side-right",)),
            Route({"b": "a2", "a": "b2"}, ("a2", "b2"), ("frog-a", "side-left"), ("side-right", "frog-b")),
        ),
    ),
    "three-way-live": Kind(
        rails=("stock-left", "stock-right", "frog-left", "frog-centre", "frog-right"),
        ends={
            "toe": ("stock-left", "stock-right"),
            "left": ("stock-left", "frog-left"),
            "centre": ("frog-left", "frog-right"),
            "right": ("frog-right", "stock-right"),
        },
        bars={"left": ("left", "straight"), "right": ("straight", "right")},
        routes=(
            Route(
                {"left": "left", "right": "straight"},
                ("toe", "left"),
                ("stock-left",),
                ("stock-right", "frog-centre", "frog-left"),
            ),
            Route(
                {"left": "straight", "right": "straight"},
                ("toe", "centre"),
                ("stock-left", "frog-left"),
                ("stock-right", "frog-right"),
            ),
            Route(
                {"left": "straight", "right": "right"},
                ("toe", "right"),
                ("stock-left", "frog-centre", "frog-right"),
                ("stock-right",),
            ),
        ),
    ),
}
CROSSINGS = {"diamond-insulated", "diamond-live", "diamond-guarded"}
SECTIONS = {"rail-section", "rerailer"}


# The rest of the kinds. Common practice, no published source.
#
# Slips: what lies over the acute frog that a route crosses, given as the rails from the frog's end of the piece inwards.
# a1 crosses frog a with its right-hand wheels, a2 with its left-hand ones; b1 crosses frog b with its left-hand wheels,
# b2 with its right-hand ones. The other wheels run along the side rail all the way.
_SLIP_OVER = {
    "live": lambda side, frog: (frog, side),
    "insulated": lambda side, _frog: (side, DEAD, side),
    "isolated-metal": lambda side, frog: (side, frog, side),
}


def _slip(built: str, routes: tuple[str, ...]) -> Kind:
    over = _SLIP_OVER[built]
    found = []
    for name in routes:
        start, stop = name.split("-")
        left, right = ("side-left",), ("side-right",)
        if start == "a1":
            right = over("side-right", "frog-a")
        else:
            left = over("side-left", "frog-a")
        if stop == "b1":
            left = left[:-1] + over("side-left", "frog-b")[::-1]
        else:
            right = right[:-1] + over("side-right", "frog-b")[::-1]
        found.append(Route({"b": start, "a": stop}, (start, stop), left, right))
    live = built == "live"
    return Kind(
        rails=("side-left", "side-right", *(("frog-a", "frog-b") if built != "insulated" else ())),
        ends={
            "a1": ("side-left", "frog-a" if live else "side-right"),
            "a2": ("frog-a" if live else "side-left", "side-right"),
            "b1": ("frog-b" if live else "side-left", "side-right"),
            "b2": ("side-left", "frog-b" if live else "side-right"),
        },
        bars={"a": ("b1", "b2"), "b": ("a1", "a2")},
        routes=tuple(found),
    )


DOUBLE, SINGLE = ("a1-b1", "a1-b2", "a2-b1", "a2-b2"), ("a1-b1", "a1-b2", "a2-b2")


def _three_way(left: str, centre: str, right: str) -> Kind:
    """All legs have the poles of the stock rails; given is what lies at the three frogs."""
    low, high = "stock-left", "stock-right"
    set_by = {"left": ("left", "straight"), "centre": ("straight", "straight"), "right": ("straight", "right")}
    paths = {
        "left": ((low,), (high, centre, high, left, high)),
        "centre": ((low, left, low), (high, right, high)),
        "right": ((low, centre, low, right, low), (high,)),
    }
    return Kind(
        rails=(low, high, *(frog for frog in (left, centre, right) if frog != DEAD)),
        ends=dict.fromkeys(("toe", "left", "centre", "right"), (low, high)),
        bars={"left": ("left", "straight"), "right": ("straight", "right")},
        routes=tuple(
            Route(dict(zip(("left", "right"), set_by[leg], strict=True)), ("toe", leg), *paths[leg]) for leg in set_by
        ),
    )


def _scissors(live: bool) -> Kind:
    """Four turnouts with their toes outwards and a diamond; both tracks in phase and joined underneath."""

    def frog(name: str) -> str:
        return f"frog-{name}" if live else DEAD

    low, high = "left", "right"
    # straight along the left-hand track, from turnout a1 to turnout b2: both frogs lie in its right-hand, inner rail
    upper = ((low,), (high, frog("a1"), high, frog("b2"), high))
    lower = ((low, frog("a2"), low, frog("b1"), low), (high,))
    # from a1 down to b1: left wheels over the frog of a1 and the far acute frog of the diamond, right wheels over the
    # near acute frog and the frog of b1
    down = ((low, frog("a1"), low, frog("b"), low), (high, frog("a"), high, frog("b1"), high))
    up = ((low, frog("a"), low, frog("b2"), low), (high, frog("a2"), high, frog("b"), high))
    frogs = ("a1", "a2", "b1", "b2", "a", "b")
    return Kind(
        rails=(low, high, *(f"frog-{name}" for name in frogs if live)),
        ends=dict.fromkeys(("a1", "a2", "b1", "b2"), (low, high)),
        bars=dict.fromkeys(("a1", "a2", "b1", "b2"), ("through", "diverging")),
        routes=(
            Route({"a1": "through", "b2": "through"}, ("a1", "b2"), *upper),
            Route({"a2": "through", "b1": "through"}, ("a2", "b1"), *lower),
            Route({"a1": "diverging", "b1": "diverging"}, ("a1", "b1"), *down),
            Route({"a2": "diverging", "b2": "diverging"}, ("a2", "b2"), *up),
        ),
    )


def _dead_end(joined: bool) -> Kind:
    return Kind(("left", "right"), {"a": ("left", "right")}, (), bonds=(("left", "right"),) if joined else ())


FIXED_KINDS |= {
    "rerailer": FIXED_KINDS["rail-section"],
    "single-slip-live": _slip("live", SINGLE),
    "double-slip-insulated": _slip("insulated", DOUBLE),
    "single-slip-insulated": _slip("insulated", SINGLE),
    "double-slip-isolated-metal": _slip("isolated-metal", DOUBLE),
    "single-slip-isolated-metal": _slip("isolated-metal", SINGLE),
    "three-way-insulated": _three_way(DEAD, DEAD, DEAD),
    "three-way-isolated-metal": _three_way("frog-left", "frog-centre", "frog-right"),
    "scissors-live": _scissors(live=True),
    "scissors-insulated": _scissors(live=False),
    "track-end": _dead_end(joined=False),
    "buffer": _dead_end(joined=False),
    "buffer-metal": _dead_end(joined=True),
}


def _parted(bonded: tuple[str, ...]) -> Kind:
    """A piece of track with a gap in both rails, of which some are bonded."""
    return Kind(
        rails=("left-a", "left-b", "right-a", "right-b"),
        ends={"a": ("left-a", "right-a"), "b": ("left-b", "right-b")},
        routes=(Route({}, ("a", "b"), ("left-a", "left-b"), ("right-a", "right-b")),),
        bonds=tuple((f"{side}-a", f"{side}-b") for side in bonded),
    )


def _catch(blades: str) -> Kind:
    sides = ("left", "right") if blades == "both" else (blades,)
    return Kind(
        rails=("stock-left", "stock-right", "closure-left", "closure-right"),
        ends={"toe": ("stock-left", "stock-right"), "through": ("closure-left", "closure-right")},
        bars={"": ("closed", "open")},
        made=tuple(("", "closed", f"stock-{side}", f"closure-{side}") for side in sides),
        bonds=tuple((f"stock-{side}", f"closure-{side}") for side in ("left", "right") if side not in sides),
        routes=(
            Route({"": "closed"}, ("toe", "through"), ("stock-left", "closure-left"), ("stock-right", "closure-right")),
        ),
    )


def _guarded(guards: str) -> Kind:
    """A guard rail lies beside the running rail opposite each acute frog: track 1 passes frog a with its right wheels."""
    other = {"left": "right", "right": "left"}
    bonds = []
    for track in "12":
        for side in ("left", "right"):
            to = side if guards == "beside" else other[side]
            bonds.append((f"guard-{side}-{track}", f"{to}-{track}"))
    guard_first = {
        ("left", "1"): True, ("right", "1"): False, ("left", "2"): False, ("right", "2"): True,
    }  # fmt: skip
    paths: dict[str, list[tuple[str, ...]]] = {"1": [], "2": []}
    for (side, track), first in guard_first.items():
        rail, guard = f"{side}-{track}", f"guard-{side}-{track}"
        path = (rail, guard, rail, DEAD, rail, DEAD, rail)
        paths[track].append(path if first else path[::-1])
    return Kind(
        rails=(*(f"{side}-{track}" for track in "12" for side in ("left", "right")), *(one for one, _ in bonds)),
        ends={f"{end}{track}": (f"left-{track}", f"right-{track}") for end in "ab" for track in "12"},
        routes=tuple(Route({}, (f"a{track}", f"b{track}"), *paths[track]) for track in "12"),
        bonds=tuple(bonds),
    )


def _turntable(stalls: int) -> Kind:
    """At s1 the head of the bridge stands at track s1, at s1-turned its tail; left and right as seen from the head."""
    numbers = range(1, stalls + 1)
    rails = [f"s{k}-{side}" for side in ("left", "right") for k in numbers]
    routes = []
    for k in numbers:
        left, right = f"s{k}-left", f"s{k}-right"
        routes.append(Route({"": f"s{k}"}, (f"s{k}", "tail"), (left, "bridge-left"), (right, "bridge-right")))
        routes.append(Route({"": f"s{k}-turned"}, (f"s{k}", "head"), (left, "bridge-right"), (right, "bridge-left")))
    return Kind(
        rails=("bridge-left", "bridge-right", *rails),
        ends={
            **{f"s{k}": (f"s{k}-left", f"s{k}-right") for k in numbers},
            "head": ("bridge-right", "bridge-left"),
            "tail": ("bridge-left", "bridge-right"),
        },
        bars={"": (*(f"s{k}" for k in numbers), *(f"s{k}-turned" for k in numbers))},
        routes=tuple(routes),
        gaps=frozenset({"head", "tail"}),
    )


def _traverser(tracks: int) -> Kind:
    numbers = range(1, tracks + 1)
    both = ("table-left", "table-right")
    return Kind(
        rails=both,
        ends={f"{side}{k}": both for side in "ab" for k in numbers},
        bars={"": tuple(f"t{k}" for k in numbers)},
        routes=tuple(Route({"": f"t{k}"}, (f"a{k}", f"b{k}"), ("table-left",), ("table-right",)) for k in numbers),
        gaps=frozenset(f"{side}{k}" for side in "ab" for k in numbers),
    )


def _yard(tracks: int) -> Kind:
    numbers = range(1, tracks + 1)
    return Kind(
        rails=("a-left", "a-right", *(f"t{k}-{side}" for side in ("left", "right") for k in numbers)),
        ends={"a": ("a-left", "a-right"), **{f"b{k}": (f"t{k}-left", f"t{k}-right") for k in numbers}},
        bars={"": tuple(f"t{k}" for k in numbers)},
        routes=tuple(
            Route({"": f"t{k}"}, ("a", f"b{k}"), ("a-left", f"t{k}-left"), ("a-right", f"t{k}-right")) for k in numbers
        ),
        gaps=frozenset(f"b{k}" for k in numbers),
    )


MISSED = {
    "foil-toe": ("stock-left", "stock-right"),
    "foil-tie-bar": ("stock-left", "stock-right"),
    "foil-closure": ("stock-left", "stock-right"),
    "foil-frog-left": ("frog", "stock-left"),
    "foil-frog-right": ("frog", "stock-right"),
    "gap-left": ("frog", "stock-left"),
    "gap-right": ("frog", "stock-right"),
}
"""What a cut that was missed joins, on copper-clad sleepers."""


def two_way(kind: str, hand: str, piece: Mapping[str, Any]) -> Kind:
    """A turnout of two legs: the table above with the ends and positions of its hand, as altered by its options."""
    leg = HANDS[hand]
    like = LIKE.get(kind, kind)
    made, bonds = dict(TWO_WAY_MADE[like]), list[tuple[str, str]]()
    if kind == "insulated-frog" and piece.get("jumpers") == "true":
        bonds += JUMPERS
    if kind == "live-frog":
        # blades and frog are one conductor unless the links, or the closure rails themselves, are cut between them
        one = piece.get("links") != "cut" and piece.get("closure-rails") != "cut"
        if not one:
            made = {}
        elif piece.get("jumpers") == "true":
            bonds += [("frog", "stock-left"), ("frog", "stock-right")]
    if kind == "live-frog-bonded" and piece.get("links") == "left-in":
        bonds += [("frog", "stock-left"), ("frog", "stock-right")]
    if kind == "single-blade-live":
        made = {"R": ("frog", "stock-left")} if piece.get("blade") == "left" else {"L": ("frog", "stock-right")}
    if kind == "copper-clad-live-frog":
        bonds += [joined for cut, joined in MISSED.items() if piece.get(cut) == "missed"]
    return Kind(
        rails=TWO_WAY_RAILS[kind],
        ends={leg.get(end, end): rails for end, rails in TWO_WAY_ENDS[like].items()},
        bars={"": POSITIONS[hand]},
        made=tuple(("", leg[side], *rails) for side, rails in made.items()),
        bonds=tuple(bonds),
        routes=tuple(
            Route({"": leg[side]}, ("toe", leg[side]), left, right)
            for side, (left, right) in TWO_WAY_PATHS[like].items()
        ),
    )


OPTIONAL_KINDS: dict[str, Callable[[Mapping[str, Any]], Kind]] = {
    "rail-break": lambda piece: _parted(
        {"left": ("right",), "right": ("left",), "both": ()}[piece.get("broken", "left")]
    ),
    "expansion-joint": lambda piece: _parted(
        {"both": ("left", "right"), "left": ("left",), "right": ("right",), "none": ()}[piece.get("bonded", "both")]
    ),
    "catch-turnout": lambda piece: _catch(piece.get("blades", "both")),
    "diamond-guarded": lambda piece: _guarded(piece.get("guards", "beside")),
    "turntable": lambda piece: _turntable(int(piece.get("roads", "4"))),
    "traverser": lambda piece: _traverser(int(piece.get("tracks", "4"))),
    "traverser-yard": lambda piece: _yard(int(piece.get("tracks", "4"))),
}


def kind_of(piece: Mapping[str, Any]) -> Kind:
    """The kind of a piece, from what its entry says."""
    kind = piece.get("kind", "rail-section")
    if kind in FIXED_KINDS:
        return FIXED_KINDS[kind]
    return OPTIONAL_KINDS[kind](piece) if kind in OPTIONAL_KINDS else two_way(kind, piece["hand"], piece)


# --------------------------------------------------------------------------------------------------------------
# The layout as a list of conductors
# --------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Conductor:
    """It conducts always, or only while what `holder` names stands at one of `positions`.

    `one_way`: from `one` to `other` alone, as a diode.
    """

    one: str
    other: str
    holder: str | None = ALWAYS
    positions: tuple[str, ...] = ()
    one_way: bool = False


@dataclass(frozen=True)
class Joint:
    """Two ends put together, and their two pairs of rails, each metal or insulated."""

    subject: str
    ends: tuple[tuple[str, str], tuple[str, str]]
    metal: tuple[tuple[str, str], ...]
    insulated: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Picture:
    """What every terminal has in one state: real poles, or else frog units."""

    poles: Mapping[str, frozenset[str]]
    units: Mapping[str, frozenset[str]]
    out_of: Mapping[str, frozenset[str]]  # the poles that current can come from
    into: Mapping[str, frozenset[str]]  # those that it can go to
    joined: frozenset[frozenset[str]]


def load(text: str) -> Data:
    """The layout with every scalar as the text written."""
    data = yaml.load(text, Loader=yaml.BaseLoader)  # noqa: S506  (it builds strings, lists and dictionaries only)
    if not isinstance(data, dict):
        raise TypeError("a layout is a mapping")
    return data


class Layout:
    """A layout seen as terminals and conductors."""

    def __init__(self, data: Data) -> None:
        self.data = data
        self.supplies: dict[str, Data] = self.section("supplies")
        self.pieces: dict[str, Data] = self.section("track")
        self.machines: dict[str, Data] = self.section("machines")
        self.switches: dict[str, Data] = self.section("switches")
        self.reversers: dict[str, Data] = self.section("reversers")
        self.units: dict[str, Data] = self.section("frog-units")
        self.plugs: dict[str, Data] = self.section("plugs")

    def section(self, name: str) -> dict[str, Data]:
        """A section whose entries have names; an entry without values is an empty one."""
        return {key: value or {} for key, value in (self.data.get(name) or {}).items()}

    def entries(self, name: str) -> list[Data]:
        """A section that is a list."""
        return list(self.data.get(name) or [])

    # ---- pieces

    @cached_property
    def kinds(self) -> dict[str, Kind]:
        """The kind of every piece."""
        return {name: kind_of(piece) for name, piece in self.pieces.items()}

    def is_section(self, piece: str) -> bool:
        """Whether a piece is plain track."""
        return str(self.pieces[piece].get("kind", "rail-section")) in SECTIONS

    def is_crossing(self, piece: str) -> bool:
        """Whether a piece is a crossing without blades."""
        return self.pieces[piece].get("kind") in CROSSINGS

    def has_blades(self, piece: str) -> bool:
        """Whether a piece has a tie bar."""
        return bool(self.kinds[piece].bars)

    def end_rails(self, piece: str, end: str) -> tuple[str, str]:
        """The terminals of the left and the right rail at an end."""
        left, right = self.kinds[piece].ends[end]
        return f"{piece}.{left}", f"{piece}.{right}"

    def end(self, text: str, alone: str) -> tuple[str, str]:
        """An end as written in a joint; a rail-section alone means the end `alone`, a dead end alone its only one."""
        if text in self.pieces:
            ends = list(self.kinds[text].ends)
            return text, ends[0] if len(ends) == 1 else alone
        piece, end = text.split(".")
        return piece, end

    @cached_property
    def bars(self) -> dict[str, tuple[str, ...]]:
        """Every tie bar by its name (`T1`, or `X1.a` where there are two) with its positions."""
        found = {}
        for piece, kind in self.kinds.items():
            for bar, positions in kind.bars.items():
                found[bar_name(piece, bar)] = positions
        return found

    # ---- variables and positions

    @cached_property
    def thrown(self) -> dict[str, tuple[str, tuple[str, ...]]]:
        """For every tie bar on a machine: the machine, and the bar's positions in the order of the machine's."""
        found = {}
        for machine, values in self.machines.items():
            for item in values["throws"]:
                bar, first = next(iter(item.items())) if isinstance(item, dict) else (item, self.bars[item][0])
                own = self.bars[bar]
                found[bar] = (machine, own[own.index(first) :] + own[: own.index(first)])
        return found

    def machine_positions(self, machine: str) -> tuple[str, ...]:
        """A machine's positions: those of the first turnout it throws, in the order of that turnout's kind."""
        item = self.machines[machine]["throws"][0]
        return self.bars[next(iter(item)) if isinstance(item, dict) else item]

    @cached_property
    def variables(self) -> dict[str, tuple[str, ...]]:
        """Machines, lone tie bars, switches that follow nothing and optional plugs, with their positions."""
        found: dict[str, tuple[str, ...]] = {name: self.machine_positions(name) for name in self.machines}
        found |= {bar: positions for bar, positions in self.bars.items() if bar not in self.thrown}
        found |= {name: tuple(one["positions"]) for name, one in self.switches.items() if "follows" not in one}
        found |= {name: ("in", "out") for name, one in self.plugs.items() if one.get("optional") == "true"}
        return found

    def positions(self, name: str) -> tuple[str, ...]:
        """The positions of anything that has some, in order; those of a thrown tie bar in its own order."""
        if name in self.bars:
            return self.bars[name]
        if name in self.switches:
            return tuple(self.switches[name]["positions"])
        return self.variables[name]

    def position(self, name: str, state: State) -> str:
        """Where a machine, tie bar, switch, relay or plug stands in a state."""
        if name in self.variables:
            return dict(state)[name]
        if name in self.thrown:
            machine, order = self.thrown[name]
            return order[self.machine_positions(machine).index(self.position(machine, state))]
        leader = self.switches[name]["follows"]
        return self.positions(name)[self.positions(leader).index(self.position(leader, state))]

    def covers(self, when: Mapping[str, str], state: State) -> bool:
        """Whether a partial position (of machines, turnouts, switches, plugs) holds in a state."""
        return all(self.position(name, state) == position for name, position in when.items())

    @cached_property
    def all_states(self) -> list[State]:
        """Every combination of positions, whatever an interlocking rules out."""
        names = list(self.variables)
        choices = itertools.product(*(self.variables[name] for name in names))
        return [frozenset(zip(names, choice, strict=True)) for choice in choices]

    @cached_property
    def states(self) -> list[State]:
        """Every combination of positions that `never` leaves."""
        never = self.entries("never")
        return [state for state in self.all_states if not any(self.covers(one, state) for one in never)]

    # ---- poles

    def pole(self, supply: str, letter: str) -> str:
        """The name of a supply's pole: that of the supply at the root of the chain of commons."""
        tie = self.supplies[supply].get("common")
        if tie and tie.split(".")[1] == letter:
            return self.pole(tie.split(".")[0], letter)
        return f"{supply}.{letter}"

    def supply_of(self, source: str) -> str:
        """The supply behind a bus, a branch of a bus or a supply."""
        bus = (self.data.get("buses") or {}).get(source)
        if bus is None:
            return source
        return str(bus["supply"]) if "supply" in bus else self.supply_of(bus["from"])

    @cached_property
    def outputs(self) -> dict[str, tuple[str, str]]:
        """The outputs of the automatic reversers, which are poles of their own: reverser and letter."""
        names = [name for name, one in self.reversers.items() if one.get("mode") == "automatic"]
        return {f"{name}.{letter}": (name, letter) for name in names for letter in "AB"}

    @cached_property
    def pole_names(self) -> list[str]:
        """Every pole."""
        real = {self.pole(supply, letter) for supply in self.supplies for letter in "AB"}
        return sorted(real | set(self.outputs))

    def types(self, pole: str) -> set[str]:
        """The types of the supplies that own a pole."""
        return {
            one["type"] for name, one in self.supplies.items() if pole in (self.pole(name, "A"), self.pole(name, "B"))
        }

    def one_supply(self, pole: str, other: str) -> bool:
        """Whether two poles are the two poles of one supply."""
        return any(
            {pole, other} == {self.pole(name, "A"), self.pole(name, "B")}
            for name, supply in self.supplies.items()
            if supply.get("accessory") != "true"
        )

    # ---- terminals

    def terminal(self, name: str) -> str:
        """The node that a terminal's name stands for."""
        parts = name.split(".")
        head = parts[0]
        if head in self.pieces and len(parts) == 3 and parts[1] in self.kinds[head].ends:
            return self.end_rails(head, parts[1])[0 if parts[2] == "left" else 1]
        buses = self.data.get("buses") or {}
        if (head in buses or head in self.supplies) and len(parts) == 2:
            return self.pole(self.supply_of(head), parts[1])
        return name

    def source(self, name: str | None, letter: str) -> str:
        """The node that feeds a rail: a pole, or an output of a reverser."""
        if name in self.reversers:
            return f"{name}.{letter}"
        if name is None:
            buses = list(self.data.get("buses") or self.supplies)
            if len(buses) != 1:
                raise ValueError("a feed without 'from' where there is not one bus")
            name = buses[0]
        return self.pole(self.supply_of(name), letter)

    def fed_rail(self, target: str, rail: str) -> str:
        """The rail that a feed to a piece or to an end of one means."""
        piece, _, end = target.partition(".")
        if rail not in ("left", "right") or (not end and self.is_section(piece)):
            return f"{piece}.{rail}"
        if not end:
            entering = [one for one in self.kinds[piece].ends if one in ENTERING]
            if len(entering) != 1:
                return f"{piece}.{rail}"
            (end,) = entering
        return self.end_rails(piece, end)[0 if rail == "left" else 1]

    # ---- conductors

    @cached_property
    def joints(self) -> list[Joint]:
        """Every joint with its pairs of rails."""
        return [self.joint(one) for one in self.entries("joints")]

    def joint(self, one: Data) -> Joint:
        """One joint: left to left where a leaving end meets an entering one, crosswise where ends are alike."""
        first, second = self.end(one["from"], "b"), self.end(one["to"], "a")
        left, right = self.end_rails(*first)
        other_left, other_right = self.end_rails(*second)
        if (first[1] in ENTERING) == (second[1] in ENTERING):
            other_left, other_right = other_right, other_left
        pairs = {"left": (left, other_left), "right": (right, other_right)}
        how = one.get("insulate", "none")
        cut = {
            "none": set(),
            "left": {"left"},
            "right": {"right"},
            "both": {"left", "right"},
            "vee": {side for side, pair in pairs.items() if any(is_changing(rail) for rail in pair)},
        }[how]
        if any(end in self.kinds[piece].gaps for piece, end in (first, second)):
            cut = {"left", "right"}
        return Joint(
            subject=one.get("id") or f"{one['from']}/{one['to']}",
            ends=(first, second),
            metal=tuple(pair for side, pair in pairs.items() if side not in cut),
            insulated=tuple(pair for side, pair in pairs.items() if side in cut),
        )

    @cached_property
    def conductors(self) -> list[Conductor]:
        """Everything that conducts, always or in some positions."""
        return [
            *self.inside_pieces(),
            *(Conductor(*pair) for joint in self.joints for pair in joint.metal),
            *self.feed_wires(),
            *self.contact_conductors(),
            *self.reverser_conductors(),
            *self.plug_conductors(),
            *(
                Conductor(self.terminal(one["from"]), self.terminal(one["to"]), one_way=one.get("kind") == "diode")
                for one in [*self.entries("wires"), *self.section("components").values()]
                if one.get("kind") not in {"load", "capacitor"}
            ),
        ]

    def inside_pieces(self) -> Iterator[Conductor]:
        """Bonds, and the contacts that blades make."""
        for piece, kind in self.kinds.items():
            for one, other in kind.bonds:
                yield Conductor(f"{piece}.{one}", f"{piece}.{other}")
            for bar, position, one, other in kind.made:
                yield Conductor(f"{piece}.{one}", f"{piece}.{other}", bar_name(piece, bar), (position,))

    def feed_wires(self) -> Iterator[Conductor]:
        """The wires of the feeds."""
        for feed in self.entries("feeds"):
            targets = feed["to"] if isinstance(feed["to"], list) else [feed["to"]]
            rails = {letter: feed[letter] for letter in "AB" if letter in feed} or {"A": "left", "B": "right"}
            for target, (letter, rail) in itertools.product(targets, rails.items()):
                yield Conductor(self.source(feed.get("from"), letter), self.fed_rail(target, rail))

    @cached_property
    def contacts(self) -> dict[str, tuple[str, Data]]:
        """Every contact by the start of its terminals' names: what it moves with, and its values."""
        return {
            f"{owner}.{name}": (owner, contact)
            for section in (self.machines, self.switches, self.pieces)
            for owner, values in section.items()
            for name, contact in (values.get("contacts") or {}).items()
        }

    def contact_conductors(self) -> Iterator[Conductor]:
        """The leads of the contacts, and the contacts themselves."""
        for name, (owner, contact) in self.contacts.items():
            yield Conductor(f"{name}.common", self.terminal(contact["common"]))
            for position in self.positions(owner):
                if position in contact:
                    yield Conductor(f"{name}.{position}", self.terminal(contact[position]))
                yield Conductor(f"{name}.common", f"{name}.{position}", owner, (position,))

    def reverser_conductors(self) -> Iterator[Conductor]:
        """A reverser that follows something is a changeover switch."""
        for name, one in self.reversers.items():
            if "follows" not in one:
                continue
            straight = tuple(one["straight"])
            crossed = tuple(position for position in self.positions(one["follows"]) if position not in straight)
            supply = self.supply_of(one["from"])
            for letter, opposite in (("A", "B"), ("B", "A")):
                yield Conductor(f"{name}.{letter}", self.pole(supply, letter), one["follows"], straight)
                yield Conductor(f"{name}.{letter}", self.pole(supply, opposite), one["follows"], crossed)

    def plug_conductors(self) -> Iterator[Conductor]:
        """The pins of the plugs."""
        for name, plug in self.plugs.items():
            for one, other in (plug.get("pins") or {}).values():
                ends = self.terminal(one), self.terminal(other)
                yield Conductor(*ends, name, ("in",)) if name in self.variables else Conductor(*ends)

    @cached_property
    def rails(self) -> list[str]:
        """The terminals of all rails."""
        return sorted(f"{piece}.{rail}" for piece, kind in self.kinds.items() for rail in kind.rails)

    @cached_property
    def commons(self) -> list[str]:
        """The common terminals of all contacts."""
        return sorted(f"{name}.common" for name in self.contacts)

    # ---- graphs

    def conducts(self, one: Conductor, state: State) -> bool:
        """Whether a conductor conducts in a state."""
        return one.holder is None or self.position(one.holder, state) in one.positions

    def graph(self, conductors: list[Conductor]) -> nx.Graph[str]:
        """All terminals, with an edge for each of the conductors given."""
        graph: nx.Graph[str] = nx.Graph()
        graph.add_nodes_from([*self.rails, *self.commons, *self.pole_names])
        graph.add_nodes_from(node for one in self.conductors for node in (one.one, one.other))
        graph.add_edges_from((one.one, one.other) for one in conductors if one.one != one.other)
        return graph

    @cached_property
    def always(self) -> nx.Graph[str]:
        """What always conducts, without the poles."""
        one_way = sum(one.one_way for one in self.conductors)
        fixed = any(supply.get("accessory") == "true" for supply in self.section("supplies").values())
        ends = one_way > 1 or (one_way == 1 and fixed)  # where diodes decide anything, nets end at them
        graph = self.graph([one for one in self.conductors if one.holder is None and not (ends and one.one_way)])
        graph.remove_nodes_from(self.pole_names)
        return graph

    def ways_in(self, state: State) -> nx.DiGraph[str]:
        """Where current can go in a state: both ways through all but diodes."""
        ways: nx.DiGraph[str] = nx.DiGraph()
        ways.add_nodes_from(self.graph([]))
        for one in self.conductors:
            if self.conducts(one, state) and one.one != one.other:
                ways.add_edge(one.one, one.other)
                if not one.one_way:
                    ways.add_edge(one.other, one.one)
        return ways

    def never_drives(self, source: str, sink: str) -> bool:
        """Whether a pole is the minus, and another the plus, of a supply of direct current for accessories."""
        name, other = source.rpartition(".")[0], sink.rpartition(".")[0]
        supply = self.section("supplies").get(name, {})
        if name != other or supply.get("type") != "dc" or supply.get("accessory") != "true":
            return False
        return not source.endswith(f".{supply.get('positive', 'B')}")

    def graph_in(self, state: State) -> nx.Graph[str]:
        """What conducts in a state, poles and all."""
        return self.graph([one for one in self.conductors if self.conducts(one, state)])

    @cached_property
    def pictures(self) -> dict[State, Picture]:
        """The poles of all terminals in every state."""
        return {state: self.picture(state) for state in self.states}

    def picture(self, state: State) -> Picture:
        """The poles of all terminals in one state: a path to a pole may not pass through another pole."""
        graph = self.graph_in(state)
        poles: dict[str, set[str]] = {node: set() for node in graph if node not in self.pole_names}
        out_of: dict[str, set[str]] = {node: set() for node in poles}
        into: dict[str, set[str]] = {node: set() for node in poles}
        joined = set()
        ways = self.ways_in(state)
        between = ways.copy()  # from pole to pole no way leads over a third one
        between.remove_nodes_from(self.pole_names)
        for pole in self.pole_names:
            after = reached(between, ways.successors(pole), nx.descendants)
            before = reached(between, ways.predecessors(pole), nx.ancestors)
            for found, nodes in ((out_of, after), (into, before)):
                for node in nodes:
                    found[node].add(pole)
                    poles[node].add(pole)
            for other in self.pole_names:
                direct = ways.has_edge(pole, other) or not after.isdisjoint(ways.predecessors(other))
                if other != pole and direct and not self.never_drives(pole, other):
                    joined.add(frozenset({pole, other}))
        units: dict[str, set[str]] = {node: set() for node in poles}
        for name, unit in self.units.items():
            frog = self.terminal(unit["feeds"])
            if not poles[frog]:
                for node in reached(between, [frog], nx.descendants) | reached(between, [frog], nx.ancestors):
                    if not poles[node]:
                        units[node].add(name)
        return Picture(
            {node: frozenset(found) for node, found in poles.items()},
            {node: frozenset(found) for node, found in units.items()},
            {node: frozenset(found) for node, found in out_of.items()},
            {node: frozenset(found) for node, found in into.items()},
            frozenset(joined),
        )

    # ---- routes

    def set_routes(self, piece: str, state: State) -> list[Route]:
        """The routes through a piece that are set in a state."""
        routes = self.kinds[piece].routes
        if self.is_crossing(piece):
            return [route for route in routes if self.track_is_set(piece, route, state)]
        return [
            route
            for route in routes
            if all(self.position(bar_name(piece, bar), state) == where for bar, where in route.bars.items())
        ]

    def end_is_set(self, piece: str, end: str, state: State) -> bool:
        """Whether an end is one of a set route's."""
        return any(end in route.ends for route in self.set_routes(piece, state))

    def track_is_set(self, piece: str, route: Route, state: State) -> bool:
        """Whether one track of a crossing without blades is set."""
        given = self.pieces[piece].get("set") or {}
        track = route.ends[0][1]
        if track in given:
            return self.covers(given[track] or {}, state)
        arrivals = [self.arrival(piece, end) for end in route.ends]
        return all(arrival is None or self.end_is_set(*arrival, state) for arrival in arrivals)

    def arrival(self, piece: str, end: str) -> tuple[str, str] | None:
        """The end of a piece with blades to which plain track leads from an end."""
        neighbour = self.neighbours.get((piece, end))
        while neighbour is not None and self.is_section(neighbour[0]):
            far = "b" if neighbour[1] == "a" else "a"
            neighbour = self.neighbours.get((neighbour[0], far))
        return neighbour if neighbour is not None and self.has_blades(neighbour[0]) else None

    @cached_property
    def neighbours(self) -> dict[tuple[str, str], tuple[str, str]]:
        """The end that each joined end is joined to."""
        found = {}
        for joint in self.joints:
            first, second = joint.ends
            found[first] = second
            found[second] = first
        return found

    # ---- automatic devices

    def devices(self, rails: list[str], picture: Picture) -> list[str]:
        """The automatic reversers and frog units that feed some rails."""
        reversers = {self.outputs[pole][0] for rail in rails for pole in picture.poles[rail] if pole in self.outputs}
        units = {unit for rail in rails for unit in picture.units[rail]}
        return sorted(reversers | units)

    def settings(self, rails: list[str], picture: Picture) -> Iterator[dict[str, str]]:
        """Every combination of positions of the devices that feed some rails: `A` is straight, `B` crossed."""
        devices = self.devices(rails, picture)
        for choice in itertools.product("AB", repeat=len(devices)):
            yield dict(zip(devices, choice, strict=True))

    def has(self, rail: str, picture: Picture, setting: Mapping[str, str]) -> frozenset[str]:
        """The poles of a rail with its devices in given positions; two real poles stay as they are."""
        poles = picture.poles[rail]
        if len(poles) > 1:
            return poles
        if poles:
            (pole,) = poles
            if pole not in self.outputs:
                return poles
            reverser, letter = self.outputs[pole]
            if setting[reverser] == "B":
                letter = "B" if letter == "A" else "A"
            return frozenset({self.pole(self.supply_of(self.reversers[reverser]["from"]), letter)})
        return frozenset(
            self.pole(self.supply_of(self.units[unit]["from"]), setting[unit]) for unit in picture.units[rail]
        )

    # ---- dead track

    def route_is_dead(self, piece: str, route: Route, picture: Picture) -> bool:
        """Whether every position of the devices leaves a route dead."""
        left = [f"{piece}.{rail}" for rail in route.left if rail != DEAD]
        right = [f"{piece}.{rail}" for rail in route.right if rail != DEAD]
        return all(
            any(
                self.pair_is_dead(self.has(one, picture, setting), self.has(other, picture, setting))
                or not (self.flows(one, other, picture) or self.flows(other, one, picture))
                for one, other in itertools.product(left, right)
            )
            for setting in self.settings([*left, *right], picture)
        )

    def flows(self, one: str, other: str, picture: Picture) -> bool:
        """Whether diodes let current flow from one rail to another; true where a rail has not just one real pole."""
        mine, its = picture.poles[one], picture.poles[other]
        if len(mine) != 1 or len(its) != 1:
            return True
        return mine == picture.out_of[one] and its == picture.into[other] and not self.never_drives(*mine, *its)

    def pair_is_dead(self, left: frozenset[str], right: frozenset[str]) -> bool:
        """Whether a rail on the left and one on the right do not have the two poles of one supply."""
        if not left or not right:
            return True
        if len(left) > 1 or len(right) > 1:
            return False
        return not self.one_supply(*left, *right)

    def piece_is_dead(self, piece: str, state: State) -> bool:
        """Whether some set route through a piece is dead."""
        picture = self.pictures[state]
        return any(self.route_is_dead(piece, route, picture) for route in self.set_routes(piece, state))

    @cached_property
    def dead(self) -> dict[str, set[State]]:
        """For every piece the states in which it is dead, expected or not."""
        return {piece: {state for state in self.states if self.piece_is_dead(piece, state)} for piece in self.pieces}

    def expected(self, state_wanted: str) -> Iterator[tuple[str, set[State]]]:
        """Pieces expected `live` or `dead`, with the states."""
        for one in self.entries("expect"):
            if one["is"] == state_wanted:
                states = {state for state in self.states if self.covers(one.get("when") or {}, state)}
                for piece in one["track"] if isinstance(one["track"], list) else [one["track"]]:
                    yield piece, states

    @cached_property
    def expected_dead(self) -> dict[str, set[State]]:
        """For every piece the states in which it is meant to be dead."""
        found: dict[str, set[State]] = {piece: set() for piece in self.pieces}
        for piece, states in self.expected("dead"):
            found[piece] |= states
        return found

    # ---- gaps

    def clash(self, one: frozenset[str], other: frozenset[str]) -> bool:
        """Whether two sides of a gap have one pole each that a wheel must not join.

        Different letters; supplies of different types; two command stations; a programming output and anything else;
        two supplies of direct current whose poles of one letter are opposite in sign.
        """
        if len(one) != 1 or len(other) != 1:
            return False
        (pole,), (opposite,) = one, other
        if pole == opposite:
            return False
        if pole[-1] != opposite[-1] or self.types(pole) != self.types(opposite):
            return True
        if "programming" in self.said(pole, "output") | self.said(opposite, "output"):
            return True
        if "dcc" in self.types(pole):
            return self.said(pole, "station", "main").isdisjoint(self.said(opposite, "station", "main"))
        return self.said(pole, "positive", "B").isdisjoint(self.said(opposite, "positive", "B"))

    def said(self, pole: str, key: str, default: str = "") -> set[str]:
        """What the supplies that own a pole say under a key."""
        own = [one for name, one in self.supplies.items() if pole in (self.pole(name, "A"), self.pole(name, "B"))]
        return {one.get(key, default) for one in own} - {""}

    def all_clash(self, pairs: list[tuple[str, str]], picture: Picture) -> bool:
        """Whether in every position of the devices some pair of rails clashes."""
        rails = [rail for pair in pairs for rail in pair]
        return all(
            any(self.clash(self.has(one, picture, setting), self.has(two, picture, setting)) for one, two in pairs)
            for setting in self.settings(rails, picture)
        )

    def inner_gaps(self, piece: str, route: Route) -> list[tuple[str, str]]:
        """Neighbours in the wheel paths of a route."""
        return [
            (f"{piece}.{one}", f"{piece}.{other}")
            for path in (route.left, route.right)
            for one, other in itertools.pairwise(path)
            if DEAD not in (one, other)
        ]

    def joint_clashes(self, joint: Joint, state: State) -> bool:
        """Whether wheels join two poles over an insulated joint."""
        if not all(self.end_is_set(*end, state) for end in joint.ends):
            return False
        counted = [pair for pair in joint.insulated if not any(self.runs_against(rail, state) for rail in pair)]
        return self.all_clash(counted, self.pictures[state])

    def reversed_by_hand(self, joint: Joint, state: State) -> bool:
        """Whether another position of one hand switch alone exchanges the poles on one side and ends the clash."""
        for switch, values in self.switches.items():
            if "follows" in values:
                continue
            for position in values["positions"]:
                other = (state - {(switch, self.position(switch, state))}) | {(switch, position)}
                if other not in self.pictures or self.joint_clashes(joint, other):
                    continue
                sides = [
                    [self.raw(rail, now) for rail in self.end_rails(*end)]
                    for end in joint.ends
                    for now in (state, other)
                ]
                first, first_then, second, second_then = sides
                if exchanged(first, first_then) and second == second_then:
                    return True
                if exchanged(second, second_then) and first == first_then:
                    return True
        return False

    def raw(self, rail: str, state: State) -> frozenset[str]:
        """What a rail has in a state, automatic devices as they are."""
        picture = self.pictures[state]
        return picture.poles[rail] or picture.units[rail]

    def hand_reversing(self, state: State) -> Iterator[str]:
        """The joints that clash in a state until a hand reversing switch is thrown."""
        for joint in self.joints:
            if self.joint_clashes(joint, state) and self.reversed_by_hand(joint, state):
                yield joint.subject

    def clashes(self, state: State) -> Iterator[str]:
        """The joints, and the pieces for their inner gaps, at which wheels join two poles in a state."""
        for joint in self.joints:
            if self.joint_clashes(joint, state) and not self.reversed_by_hand(joint, state):
                yield joint.subject
        for piece in self.pieces:
            for route in self.set_routes(piece, state):
                if self.all_clash(self.inner_gaps(piece, route), self.pictures[state]):
                    yield piece

    @cached_property
    def section_chains(self) -> nx.Graph[str]:
        """The rails of rail-sections alone, joined by metal joiners."""
        graph: nx.Graph[str] = nx.Graph()
        for piece in self.pieces:
            if self.is_section(piece):
                graph.add_nodes_from([f"{piece}.left", f"{piece}.right"])
        for joint in self.joints:
            graph.add_edges_from(pair for pair in joint.metal if pair[0] in graph and pair[1] in graph)
        return graph

    def runs_against(self, rail: str, state: State) -> bool:
        """Whether a rail of a rail-section continues a changing rail from a leg that is not set."""
        if rail not in self.section_chains:
            return False
        chain = nx.node_connected_component(self.section_chains, rail)
        for joint in self.joints:
            for pair in joint.metal:
                for (piece, end), mine, other in zip(joint.ends, pair, reversed(pair), strict=True):
                    if (
                        other in chain
                        and self.has_blades(piece)
                        and is_changing(mine)
                        and not self.end_is_set(piece, end, state)
                    ):
                        return True
        return False

    # ---- districts

    def district(self, source: str) -> str:
        """The district of a bus or supply: that of the nearest breaker on the way to its supply, else the supply's."""
        bus = (self.data.get("buses") or {}).get(source)
        if bus is None:
            return f"all of {source}"
        if "breaker" in bus:
            return source
        return self.district(bus["from"]) if "from" in bus else f"all of {bus['supply']}"

    @cached_property
    def by_district(self) -> Layout:
        """The same layout with a supply of its own for every district."""
        data = copy.deepcopy(self.data)
        sources = [
            *(data.get("buses") or {}),
            *(name for name in self.supplies if name not in (data.get("buses") or {})),
        ]
        lone = list(data.get("buses") or self.supplies)
        for feed in data.get("feeds") or []:
            if "from" not in feed:
                (feed["from"],) = lone
        data["buses"] = {source: {"supply": f"district {self.district(source)}"} for source in sources}
        data["supplies"] = {one["supply"]: {"type": "dcc", "voltage": "15 V"} for one in data["buses"].values()}
        return Layout(data)

    def crossed(self, state: State) -> Iterator[str]:
        """The pieces on which a set route has one rail from one district of a supply and the other from another."""
        if not any("breaker" in bus for bus in (self.data.get("buses") or {}).values()):
            return
        split = self.by_district
        owner = {f"district {self.district(s)}": self.supply_of(s) for s in split.data["buses"]}

        def district(rail: str) -> str:
            found = [split.district_of(one) for one in split.raw(rail, state)]
            return found[0] if len(found) == 1 else ""

        for piece in self.pieces:
            for route in self.set_routes(piece, state):
                for left, right in itertools.product(route.left, route.right):
                    if DEAD not in (left, right):
                        one, other = district(f"{piece}.{left}"), district(f"{piece}.{right}")
                        if one and other and one != other and owner[one] == owner[other]:
                            yield piece

    def district_of(self, pole: str) -> str:
        """The supply behind a pole, an output of a reverser or a frog unit; in a layout by districts the district."""
        if pole in self.outputs:
            return self.supply_of(self.reversers[self.outputs[pole][0]]["from"])
        if pole in self.units:
            return self.supply_of(self.units[pole]["from"])
        return pole.rpartition(".")[0]

    # ---- floating nets

    def floating(self) -> dict[str, list[str]]:
        """The nets that have no pole in any state: first terminal, and all rails and commons of the net."""
        found = {}
        for net in nx.connected_components(self.always):
            terminals = [rail for rail in self.rails if rail in net] + [one for one in self.commons if one in net]
            if terminals and not any(self.is_fed(terminals[0], picture) for picture in self.pictures.values()):
                found[terminals[0]] = terminals
        return found

    @staticmethod
    def is_fed(terminal: str, picture: Picture) -> bool:
        """Whether a terminal has a pole or a frog unit."""
        return bool(picture.poles[terminal] or picture.units[terminal])

    def floating_states(self, terminals: list[str]) -> set[State]:
        """All states but those in which every piece with a rail in the net is meant to be dead."""
        pieces = {one.split(".")[0] for one in terminals if one in self.rails}
        if not pieces:
            return set(self.states)
        # a metal buffer has no pole and needs none
        pieces = {piece for piece in pieces if self.pieces[piece].get("kind") != "buffer-metal"}
        return {state for state in self.states if any(state not in self.expected_dead[piece] for piece in pieces)}

    # ---- shorts

    def shorts(self, state: State) -> set[str]:
        """The pairs of poles that are joined in a state."""
        return {"/".join(sorted(pair)) for pair in self.pictures[state].joined}


def reached(graph: nx.DiGraph[str], starts: Iterable[str], beyond: Callable[..., set[str]]) -> set[str]:
    """Some nodes, as far as a graph has them, and all that are beyond them: their descendants, or ancestors."""
    found: set[str] = set()
    for start in starts:
        if start in graph and start not in found:
            found |= {start, *beyond(graph, start)}
    return found


def exchanged(now: list[frozenset[str]], then: list[frozenset[str]]) -> bool:
    """Whether two rails have one pole each, not the same, and then each that of the other."""
    return now == then[::-1] and now[0] != now[1] and all(len(one) == 1 for one in now)


def bar_name(piece: str, bar: str) -> str:
    """The name of a tie bar: its piece's, or `X1.a` where the piece has two."""
    return f"{piece}.{bar}" if bar else piece


def is_changing(rail: str) -> bool:
    """Whether a rail's terminal is that of a frog or closure rail."""
    return rail.split(".")[1].startswith(("frog", "closure-"))


# --------------------------------------------------------------------------------------------------------------
# The rules
# --------------------------------------------------------------------------------------------------------------

RULES = (
    *("pole-short", "floating-net", "dead-track", "gap-clash", "expectation"),
    *("hand-reversing", "districts-crossed"),
)


def reference(data: Data) -> dict[Key, set[State]]:
    """For every rule and subject the states, `never` left out, in which the rule is broken."""
    layout = Layout(data)
    found: dict[Key, set[State]] = {}

    def add(rule: str, subject: str, states: set[State]) -> None:
        if states:
            found.setdefault((rule, subject), set()).update(states)

    for state in layout.states:
        for pair in layout.shorts(state):
            add("pole-short", pair, {state})
        for subject in layout.clashes(state):
            add("gap-clash", subject, {state})
        for subject in layout.hand_reversing(state):
            add("hand-reversing", subject, {state})
        for subject in layout.crossed(state):
            add("districts-crossed", subject, {state})
    for first, terminals in layout.floating().items():
        add("floating-net", first, layout.floating_states(terminals))
    for piece, states in layout.dead.items():
        add("dead-track", piece, states - layout.expected_dead[piece])
    for piece, states in layout.expected("live"):
        add("expectation", piece, states & layout.dead[piece])
    for piece, states in layout.expected("dead"):
        add("expectation", piece, states - layout.dead[piece])
    return found


def variables(data: Data) -> dict[str, list[str]]:
    """The variables of a layout and their positions in order."""
    return {name: list(positions) for name, positions in Layout(data).variables.items()}


def states(data: Data) -> list[State]:
    """Every state that `never` leaves."""
    return list(Layout(data).states)


def all_states(data: Data) -> list[State]:
    """Every combination of positions, those that `never` rules out among them."""
    return list(Layout(data).all_states)


def dead_states(data: Data) -> dict[str, set[State]]:
    """For every piece the states in which a set route through it is dead, expected or not."""
    return Layout(data).dead


def floating_nets(data: Data) -> dict[str, list[str]]:
    """For the first terminal of every net without a pole in any state: all rails and contact commons of the net."""
    return Layout(data).floating()


def poles_in_state(data: Data, state: State) -> dict[str, set[str]]:
    """The poles of every rail in one state; the unit's name for what only a frog unit feeds."""
    layout = Layout(data)
    picture = layout.picture(state)
    return {rail: set(picture.poles[rail] or picture.units[rail]) for rail in layout.rails}


def expand(when: Mapping[str, str], among: list[State]) -> set[State]:
    """The states, out of some, that a partial position covers."""
    return {state for state in among if set(when.items()) <= state}
