"""Random layouts that are valid: for hypothesis, and for long runs from a seed.

Most are a sensible plan (tracks fed in phase, gaps behind live frogs, contacts the right way round) with up to two
mistakes in it; the others are wild. All names, positions and plans are invented.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, TypeVar

import yaml
from hypothesis import strategies as st
from yaml.emitter import Emitter
from yaml.representer import SafeRepresenter
from yaml.resolver import BaseResolver
from yaml.serializer import Serializer

from tests.properties.reference import (
    CROSSINGS,
    ENTERING,
    HANDS,
    MISSED,
    TWO_WAY_RAILS,
    Data,
    Layout,
    kind_of,
)
from tests.properties.reference import (
    SECTIONS as PLAIN,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from random import Random

T = TypeVar("T")
End = tuple[str, str]
Node = tuple[str, str]
Contact = dict[str, str]

MOST_STATES = 200
MOST_VARIABLES = 7
ODD_NAMES = ("on", "off", "no", "yes", "null", "true", "007", "12:30", "1", "1e3", "y", "0x1F", "north-west")
KINDS = {
    "rail-section": 40,
    "live-frog": 12,
    "live-frog-bonded": 10,
    "isolated-metal-frog": 6,
    "insulated-frog": 12,
    "diamond-insulated": 5,
    "diamond-live": 6,
    "double-slip-live": 5,
    "three-way-live": 5,
    "rerailer": 2,
    "single-slip-live": 3,
    "double-slip-insulated": 2,
    "single-slip-insulated": 2,
    "double-slip-isolated-metal": 2,
    "single-slip-isolated-metal": 2,
    "three-way-insulated": 2,
    "three-way-isolated-metal": 3,
    "scissors-live": 3,
    "scissors-insulated": 2,
    "diamond-guarded": 2,
    "track-end": 2,
    "buffer": 2,
    "buffer-metal": 3,
    "rail-break": 4,
    "expansion-joint": 4,
    "catch-turnout": 4,
    "single-blade-live": 4,
    "copper-clad-live-frog": 4,
    "turntable": 5,
    "traverser": 3,
    "traverser-yard": 3,
}
CHOICES: dict[str, dict[str, tuple[str, ...]]] = {
    "live-frog": {
        "jumpers": ("true", "false", "false"),
        "links": ("left-in", "cut"),
        "closure-rails": ("whole", "whole", "cut"),
    },
    "live-frog-bonded": {"links": ("cut", "cut", "cut", "left-in")},
    "insulated-frog": {"jumpers": ("true", "true", "false")},
    "rail-break": {"broken": ("left", "right", "both")},
    "expansion-joint": {"bonded": ("both", "both", "left", "right", "none")},
    "catch-turnout": {"blades": ("both", "left", "right")},
    "single-blade-live": {"blade": ("left", "right")},
    "diamond-guarded": {"guards": ("beside", "beside", "other")},
    "copper-clad-live-frog": dict.fromkeys(MISSED, ("cut",) * 9 + ("missed",)),
    "turntable": {"roads": ("1", "2", "2", "3")},
    "traverser": {"tracks": ("2", "3")},
    "traverser-yard": {"tracks": ("2", "3")},
}
"""What the options of a piece may be; each is left out now and then."""
NEEDED = ("roads", "tracks")
CURVED = ("live-frog", "live-frog-bonded", "insulated-frog", "isolated-metal-frog")
SECTIONS = ("supplies", "buses", "track", "machines", "switches", "reversers", "frog-units", "components", "plugs")
LISTS = ("joints", "feeds", "wires", "expect", "never")

# Which rail each frog needs in each position of a tie bar ("L" and "R": the legs of a two-way turnout).
NEEDS: dict[str, tuple[tuple[str, str, dict[str, str]], ...]] = {
    "live-frog": (("frog", "", {"L": "stock-right", "R": "stock-left"}),),
    "live-frog-bonded": (("frog", "", {"L": "stock-right", "R": "stock-left"}),),
    "isolated-metal-frog": (("frog", "", {"L": "stock-right", "R": "stock-left"}),),
    "double-slip-live": (
        ("frog-a", "b", {"a1": "side-right", "a2": "side-left"}),
        ("frog-b", "a", {"b1": "side-left", "b2": "side-right"}),
    ),
    "three-way-live": (
        ("frog-left", "left", {"left": "stock-right", "straight": "stock-left"}),
        ("frog-centre", "left", {"left": "stock-right", "straight": "stock-left"}),
        ("frog-right", "right", {"straight": "stock-right", "right": "stock-left"}),
    ),
}
for _slip in ("single-slip-live", "double-slip-isolated-metal", "single-slip-isolated-metal"):
    NEEDS[_slip] = NEEDS["double-slip-live"]
NEEDS["three-way-isolated-metal"] = NEEDS["three-way-live"]
NEEDS["copper-clad-live-frog"] = NEEDS["single-blade-live"] = NEEDS["live-frog"]
NEEDS["scissors-live"] = (
    ("frog-a1", "a1", {"through": "right", "diverging": "left"}),
    ("frog-a2", "a2", {"through": "left", "diverging": "right"}),
    ("frog-b1", "b1", {"through": "left", "diverging": "right"}),
    ("frog-b2", "b2", {"through": "right", "diverging": "left"}),
    ("frog-a", "a1", {"through": "left", "diverging": "right"}),
    ("frog-b", "b1", {"through": "right", "diverging": "left"}),
)
# The rails of the diamond's frogs for track 1 and for track 2.
DIAMOND_NEEDS = {"frog-a": ("outer-right", "outer-left"), "frog-b": ("outer-left", "outer-right")}


# --------------------------------------------------------------------------------------------------------------
# Writing
# --------------------------------------------------------------------------------------------------------------


class _TextDumper(Emitter, Serializer, SafeRepresenter, BaseResolver):
    """Writes every scalar as plain text: `on` and `007` stand without quotes."""

    def __init__(self, stream: Any, **_options: Any) -> None:
        Emitter.__init__(self, stream, width=110, allow_unicode=True)
        Serializer.__init__(self)
        SafeRepresenter.__init__(self, default_flow_style=None, sort_keys=False)  # type: ignore[arg-type]
        BaseResolver.__init__(self)

    def ignore_aliases(self, data: Any) -> bool:
        """Write everything out."""
        return True


def dump(data: Data) -> str:
    """The layout as YAML text, without quotes wherever the syntax allows it."""
    return str(yaml.dump(data, Dumper=_TextDumper))  # type: ignore[call-overload, unused-ignore]


# --------------------------------------------------------------------------------------------------------------
# Making
# --------------------------------------------------------------------------------------------------------------


class Maker:
    """Makes one layout, section by section."""

    def __init__(self, rng: Random) -> None:
        self.rng = rng
        self.wild = self.chance(0.2)
        self.data: Data = {"format": "netlister/1"}
        for section in SECTIONS:
            self.data[section] = {}
        for section in LISTS:
            self.data[section] = []
        self.names: set[str] = set()
        self.free: list[End] = []
        self.supply: dict[Node, str] = {}
        self.phase: dict[Node, int] = {}
        self.clashing: set[int] = set()
        self.apart: set[str] = set()
        self.unfed: set[str] = set()

    # ---- chance

    def chance(self, share: float) -> bool:
        """Whether something of a given likelihood happens."""
        return self.rng.random() < share

    def pick(self, some: Sequence[T]) -> T:
        """One of some."""
        return some[self.rng.randrange(len(some))]

    def weighed(self, weights: dict[T, int]) -> T:
        """One of some with weights."""
        number = self.rng.randrange(sum(weights.values()))
        for one, weight in weights.items():
            number -= weight
            if number < 0:
                return one
        raise AssertionError

    def name(self, prefix: str) -> str:
        """A new name, now and then an odd one."""
        if self.chance(0.04):
            odd = self.pick(ODD_NAMES)
            if odd not in self.names:
                self.names.add(odd)
                return odd
        number = 1
        while f"{prefix}{number}" in self.names:
            number += 1
        self.names.add(f"{prefix}{number}")
        return f"{prefix}{number}"

    @property
    def layout(self) -> Layout:
        """The layout so far."""
        return Layout(self.data)

    def has_room(self, factor: int) -> bool:
        """Whether one more variable keeps the states few."""
        variables = self.layout.variables
        count = math.prod(len(positions) for positions in variables.values())
        return count * factor <= MOST_STATES and len(variables) < MOST_VARIABLES

    # ---- supplies and buses

    def make_supplies(self) -> None:
        """One to three supplies, some with a common pole."""
        for _ in range(self.weighed({1: 65, 2: 28, 3: 7})):
            kind = self.pick(["dcc", "dcc", "dc"])
            values: Data = {"type": kind, "voltage": "15 V" if kind == "dcc" else "12 V", "trip": "3 A"}
            others = [name for name, one in self.data["supplies"].items() if one["type"] == kind]
            if others and self.chance(0.5):
                values["common"] = f"{self.pick(others)}.{self.pick('AB')}"
            if kind == "dc" and self.chance(0.3):
                values["positive"] = self.pick("AB")
            if kind == "dcc" and self.chance(0.15):
                values |= self.pick([{"station": "visitor"}, {"station": "main"}, {"output": "programming"}])
            self.data["supplies"][self.name(self.pick(["main", "cab", "yard"]))] = values
        if self.chance(0.4):
            self.make_buses()

    def make_buses(self) -> None:
        """A bus for every supply, some under its supply's name, some with a branch."""
        buses: Data = {}
        for supply in self.data["supplies"]:
            name = supply if self.chance(0.5) else self.name("bus")
            buses[name] = {"supply": supply}
            if self.chance(0.3):
                buses[name]["breaker"] = "2 A"
                buses[self.name("other")] = {"supply": supply, **({"breaker": "2 A"} if self.chance(0.5) else {})}
            if self.chance(0.3):
                buses[name] |= {"wire": "2.5 mm2", "length": "6 m"}
                if self.chance(0.5):
                    buses[self.name("branch")] = {"from": name, "at": "4 m", "wire": "1.5 mm2", "length": "2 m"}
        self.data["buses"] = buses

    def buses(self, supply: str) -> list[str]:
        """The buses of a supply."""
        buses = self.data["buses"] or self.data["supplies"]
        return [bus for bus in buses if self.layout.supply_of(bus) == supply]

    def any_bus(self) -> str:
        """Any bus."""
        return str(self.pick(list(self.data["buses"] or self.data["supplies"])))

    # ---- track

    def make_track(self) -> None:
        """One to eight pieces, and most of their ends joined."""
        for _ in range(self.weighed({1: 6, 2: 10, 3: 14, 4: 16, 5: 16, 6: 14, 7: 12, 8: 12})):
            name, values = self.piece()
            self.data["track"][name] = values
            ends = [(name, end) for end in self.layout.kinds[name].ends]
            if self.free and not self.chance(0.1):
                self.join(self.pick(ends), self.pick(self.free))
            self.free += [end for end in ends if end not in self.layout.neighbours]
        for _ in range(self.weighed({0: 40, 1: 30, 2: 20, 3: 10})):
            one, other = (self.pick(self.free), self.pick(self.free)) if self.free else (("", ""), ("", ""))
            if one[0] != other[0]:
                self.join(one, other)

    def piece(self) -> tuple[str, Data]:
        """A new piece."""
        kind = self.weighed(KINDS)
        values: Data = {"kind": kind}
        if kind in TWO_WAY_RAILS:
            values["hand"] = self.pick(["right", "left", "wye"])
        for option, choices in CHOICES.get(kind, {}).items():
            if option in NEEDED or self.chance(0.5):
                values[option] = self.pick(choices)
        if kind in CURVED and values["hand"] != "wye" and self.chance(0.1):
            values["curved"] = "true"
        bars = kind_of(values).bars
        factor = math.prod(len(positions) for positions in bars.values())
        if bars and not (self.has_room(factor) and len(self.layout.variables) + len(bars) <= MOST_VARIABLES):
            kind = "rail-section"
        if kind == "rail-section":
            shape: Data = self.pick(
                [{}, {"length": "600 mm"}, {"length": "2 m"}, {"radius": "450 mm", "angle": "30 deg", "turn": "left"}]
            )
            return self.name(self.pick(["line", "siding", "loop"])), dict(shape)
        if kind in ("live-frog-bonded", "isolated-metal-frog", "three-way-isolated-metal") and self.chance(0.1):
            values["frog"] = "dead"
        return self.name(self.pick(["T", "X"])), values

    def join(self, one: End, other: End) -> None:
        """Join two ends."""
        first, second = (one, other) if self.chance(0.5) else (other, one)
        joint = {"from": self.end_text(first, "b"), "to": self.end_text(second, "a")}
        self.data["joints"].append(joint)
        self.free = [end for end in self.free if end not in (one, other)]

    def end_text(self, end: End, alone: str) -> str:
        """An end as somebody might write it."""
        if self.layout.is_section(end[0]) and end[1] == alone and self.chance(0.7):
            return end[0]
        return ".".join(end)

    # ---- the plan: phases, supplies, sections set apart

    def node(self, end: End) -> Node:
        """A track that is of one phase: the two of an insulated crossing are not one."""
        kind = self.data["track"][end[0]].get("kind")
        if kind == "turntable":
            return end  # its tracks meet only over the bridge
        return end[0], end[1][1] if kind in ("diamond-insulated", "diamond-guarded") else ""

    def make_plan(self) -> None:
        """Which rail has pole A along each track (1: the left one), and from which supply."""
        layout = self.layout
        links: dict[Node, list[tuple[Node, int]]] = {
            self.node((piece, end)): [] for piece, kind in layout.kinds.items() for end in kind.ends
        }
        for joint in layout.joints:
            one, other = (self.node(end) for end in joint.ends)
            turn = -1 if (joint.ends[0][1] in ENTERING) == (joint.ends[1][1] in ENTERING) else 1
            links[one].append((other, turn))
            links[other].append((one, turn))
        supplies = list(self.data["supplies"])
        for start in links:
            if start not in self.phase:
                self.spread(start, links, self.pick(supplies))
        for number, joint in enumerate(layout.joints):
            one, other = (self.node(end) for end in joint.ends)
            turn = -1 if (joint.ends[0][1] in ENTERING) == (joint.ends[1][1] in ENTERING) else 1
            if self.phase[one] * turn != self.phase[other] or self.supply[one] != self.supply[other]:
                self.clashing.add(number)
        self.apart = {piece for piece in layout.pieces if layout.is_section(piece) and self.chance(0.2)}

    def spread(self, start: Node, links: dict[Node, list[tuple[Node, int]]], supply: str) -> None:
        """Carry phase and supply over the joints."""
        self.phase[start] = self.pick([1, -1])
        self.supply[start] = supply
        waiting = [start]
        while waiting:
            node = waiting.pop()
            for other, turn in links[node]:
                if other not in self.phase:
                    self.phase[other] = self.phase[node] * turn
                    change = self.chance(0.12)
                    self.supply[other] = self.pick(list(self.data["supplies"])) if change else self.supply[node]
                    waiting.append(other)

    def make_gaps(self) -> None:
        """Insulate the joints: where a plan needs it, and now and then elsewhere."""
        for number, joint in enumerate(self.layout.joints):
            values = self.data["joints"][number]
            changing = any(
                self.layout.kinds[piece].ends[end][side].startswith(("frog", "closure-"))
                for piece, end in joint.ends
                for side in (0, 1)
            )
            if self.wild:
                how = self.pick(["none", "none", "left", "right", "both", "vee"])
            elif number in self.clashing or any(end[0] in self.apart for end in joint.ends):
                how = "both"
            elif changing:
                how = self.weighed({"vee": 80, "both": 20})
            else:
                how = self.weighed({"none": 80, "both": 8, "left": 5, "right": 5, "vee": 2})
            if how == "vee" and changing and not self.wild and self.chance(0.35):
                how = self.gap_further_out(number)
            if how != "none" or self.chance(0.1):
                values.setdefault("insulate", how)
            if self.chance(0.15):
                values["id"] = self.name("joint")

    def gap_further_out(self, number: int) -> str:
        """Leave a frog's joint metal and gap the far end of the rail-section behind it, which then needs no feed."""
        joints = self.layout.joints
        ends = joints[number].ends
        for section, end in ends:
            far = (section, "b" if end == "a" else "a")
            if not self.layout.is_section(section) or section in self.apart or number in self.clashing:
                continue
            for other, joint in enumerate(joints):
                if far in joint.ends:
                    self.data["joints"][other]["insulate"] = self.pick(["both", "both", "left", "right"])
            self.unfed.add(section)
            return "none"
        return "vee"

    # ---- machines and contacts

    def make_machines(self) -> None:
        """Put most of the tie bars on machines, some of which throw several."""
        bars = list(self.layout.bars)
        self.rng.shuffle(bars)
        while bars:
            count = min(len(bars), self.weighed({0: 25, 1: 55, 2: 15, 3: 5}))
            if not count:
                bars.pop()
                continue
            taken = [bars.pop()]
            like = [bar for bar in bars if len(self.layout.bars[bar]) == len(self.layout.bars[taken[0]])]
            for bar in like[: count - 1]:
                bars.remove(bar)
                taken.append(bar)
            throws: list[Any] = [taken[0]]
            throws += [{bar: self.pick(self.layout.bars[bar])} if self.chance(0.5) else bar for bar in taken[1:]]
            self.data["machines"][self.name("M")] = {"throws": throws}

    def make_frogs(self) -> None:
        """Feed the frogs through contacts, units, or not at all."""
        for piece, values in list(self.data["track"].items()):
            kind = values.get("kind", "rail-section")
            if kind == "diamond-live":
                self.make_diamond(piece)
            for frog, bar, needs in NEEDS.get(kind, ()):
                leg = HANDS[values["hand"]] if kind in TWO_WAY_RAILS else {}
                rails = {leg.get(position, position): f"{piece}.{rail}" for position, rail in needs.items()}
                how = self.weighed(
                    {"contact": 40, "none": 60} if kind == "live-frog" else {"contact": 78, "unit": 12, "none": 10}
                )
                if how == "contact":
                    self.follow(f"{piece}.{bar}" if bar else piece, f"{piece}.{frog}", rails)
                elif how == "unit":
                    bus = self.pick(self.buses(self.supply[piece, ""]))
                    self.data["frog-units"][self.name("U")] = {"feeds": f"{piece}.{frog}", "from": bus}

    def follow(self, bar: str, common: str, rails: dict[str, str]) -> None:
        """A contact that gives a terminal one rail in each position of a tie bar."""
        layout = self.layout
        owners = ["relay"]
        if bar in layout.thrown:
            owners += ["machine"] * 5
        if "." not in bar:
            owners += ["piece"] * (1 if bar in layout.thrown else 4)
        owner = self.pick(owners)
        if owner == "machine":
            machine, order = layout.thrown[bar]
            positions = layout.machine_positions(machine)
            self.add_contact(
                "machines", machine, common, dict(zip(positions, (rails[one] for one in order), strict=True))
            )
        elif owner == "piece":
            self.add_contact("track", bar, common, rails)
        else:
            relay, names = self.relay(bar)
            given = zip(names, (rails[one] for one in layout.bars[bar]), strict=True)
            self.add_contact("switches", relay, common, dict(given))

    def relay(self, leader: str) -> tuple[str, list[str]]:
        """A relay that follows something, with its positions in the leader's order."""
        layout = self.layout
        name = self.name("K")
        count = len(layout.positions(leader))
        positions = (
            list(layout.positions(leader))
            if self.chance(0.5)
            else [f"{word}-{n}" for n, word in enumerate(["rest", *["work"] * (count - 1)])]
        )
        self.data["switches"][name] = {"follows": leader, "positions": positions}
        return name, positions

    def add_contact(self, section: str, owner: str, common: str, throws: dict[str, str]) -> None:
        """A contact, usually written as meant, sometimes wired through its own terminals."""
        contacts = self.data[section][owner].setdefault("contacts", {})
        name = self.pick(["frog", "f", "rail", "aux", "on", "1"])
        taken = {*contacts, *(self.layout.kinds[owner].ends if section == "track" else ())}
        while name in taken:
            name += "x"
        contact = {"common": common}
        for position, terminal in throws.items():
            if terminal and self.chance(0.04):
                self.data["wires"].append({"from": f"{owner}.{name}.{position}", "to": terminal})
            elif terminal:
                contact[position] = terminal
        if self.chance(0.1):
            contact["action"] = self.pick(["break-before-make", "make-before-break"])
        contacts[name] = contact

    def make_diamond(self, piece: str) -> None:
        """Two contacts for the frogs of a live crossing, and where its tracks are set."""
        layout = self.layout
        leaders = [one for one in (*layout.machines, *layout.bars) if len(layout.positions(one)) == 2]
        if not leaders and self.has_room(2):
            leaders = [self.name("S")]
            self.data["switches"][leaders[0]] = {"positions": self.pick([["one", "two"], ["on", "off"]])}
        if not leaders or self.chance(0.1):
            return
        leader = self.pick(leaders)
        positions = list(self.layout.positions(leader))
        self.rng.shuffle(positions)
        if not self.chance(0.1):
            self.data["track"][piece]["set"] = {
                track: {leader: position} for track, position in zip("12", positions, strict=True)
            }
        section, owner = ("switches", leader) if leader in self.data["switches"] else ("machines", leader)
        if leader in layout.bars:
            owner, relay_positions = self.relay(leader)
            section = "switches"
            order = self.layout.positions(leader)
            positions = [relay_positions[order.index(position)] for position in positions]
        for frog, rails in DIAMOND_NEEDS.items():
            throws = {position: f"{piece}.{rail}" for position, rail in zip(positions, rails, strict=True)}
            self.add_contact(section, owner, f"{piece}.{frog}", throws)

    # ---- feeds

    def make_feeds(self) -> None:
        """Feed every track in phase, or at random."""
        for (piece, track), phase in self.phase.items():
            kind = self.data["track"][piece].get("kind", "rail-section")
            if (self.wild and self.chance(0.4)) or (piece in self.unfed and self.chance(0.9)):
                continue
            if self.wild:
                phase = self.pick([1, -1])  # noqa: PLW2901
            supply = self.supply[piece, track]
            if piece in self.apart:
                self.feed_apart(piece, supply, phase)
            elif kind == "turntable":
                self.feed_turntable(piece, track, supply, phase)
            elif kind == "diamond-live":
                self.feed(piece, supply, phase, ("outer-left", "outer-right"))
            elif kind in ("diamond-insulated", "diamond-guarded"):
                self.feed(f"{piece}.{self.pick('ab')}{track}", supply, phase)
            elif "slip" in kind:
                self.feed(piece, supply, phase, ("side-left", "side-right"))
            elif kind == "traverser":
                self.feed(piece, supply, phase, ("table-left", "table-right"))
            elif kind == "scissors-live" or kind == "scissors-insulated":
                self.feed(f"{piece}.{self.pick(['a1', 'a2', 'b1', 'b2'])}", supply, phase)
            elif kind in PLAIN or self.chance(0.8):
                self.feed(piece, supply, phase)
            if kind == "traverser-yard" or (kind in ("rail-break", "expansion-joint") and self.chance(0.9)):
                for end in self.layout.kinds[piece].ends:
                    if end != "a":
                        self.feed(f"{piece}.{end}", supply, phase)
        if self.chance(0.4):
            self.gather_feeds()

    def feed(self, target: str, supply: str, phase: int, sides: tuple[str, str] = ("left", "right")) -> None:
        """One feed of both rails, in one of the ways to write it."""
        bus = self.pick([*self.buses(supply), supply])
        poles = dict(zip("AB", sides if phase == 1 else reversed(sides), strict=True))
        start: Data = {"to": target, "from": bus}
        if len(self.data["supplies"]) == 1 and len(self.data["buses"]) <= 1 and self.chance(0.6):
            del start["from"]
        if sides == ("left", "right") and phase == 1 and self.chance(0.5):
            poles = {}
        if poles and self.chance(0.1):
            self.data["feeds"] += [{**start, letter: rail} for letter, rail in poles.items()]
            return
        feed = {**start, **poles}
        if self.chance(0.15):
            feed |= {"wire": "0.5 mm2", "length": "250 mm"}
        if self.chance(0.1):
            feed["id"] = self.name("feed")
        self.data["feeds"].append(feed)

    def feed_turntable(self, piece: str, end: str, supply: str, phase: int) -> None:
        """A track at the pit, or the bridge: from a bus, from a reverser, or by a ring that is split."""
        if end == "tail":
            return
        if end != "head":
            self.feed(f"{piece}.{end}", supply, phase)
            return
        feed: Data = {"to": piece, "A": "bridge-left", "B": "bridge-right"}
        how = self.weighed({"bus": 20, "automatic": 40, "ring": 40})
        if how == "bus":
            feed["from"] = self.pick(self.buses(supply))
        elif how == "automatic":
            feed["from"] = self.name("R")
            self.data["reversers"][feed["from"]] = {"from": self.pick(self.buses(supply)), "mode": "automatic"}
        else:
            feed["from"] = self.name("R")
            leader = self.layout.thrown.get(piece, (piece, ()))[0]
            positions = self.layout.positions(leader)
            turned = [one for one in positions if one.endswith("-turned") != self.chance(0.1)]
            straight = [one for one in positions if one not in turned] or [positions[0]]
            if len(straight) == len(positions):
                straight = straight[:-1]
            ring = {"from": self.pick(self.buses(supply)), "follows": leader, "straight": straight}
            self.data["reversers"][feed["from"]] = ring
        self.data["feeds"].append(feed)

    def gather_feeds(self) -> None:
        """Write feeds that differ in their piece only as one feed to a list."""
        feeds: list[Data] = []
        for feed in self.data["feeds"]:
            like = [one for one in feeds if {**one, "to": ""} == {**feed, "to": ""}]
            if not like:
                feeds.append(dict(feed))
            elif isinstance(like[0]["to"], list):
                like[0]["to"].append(feed["to"])
            else:
                like[0]["to"] = [like[0]["to"], feed["to"]]
        self.data["feeds"] = feeds

    def feed_apart(self, piece: str, supply: str, phase: int) -> None:
        """Feed a section that stands apart: by a switch, a relay, a reverser, a plug or a part in the wire."""
        ways: list[Callable[[str, str, int], None]] = [
            self.by_switch,
            self.by_switch,
            self.by_automatic_reverser,
            self.by_automatic_reverser,
            self.by_following_reverser,
            self.by_relay,
            self.by_plug,
            self.by_component,
        ]
        self.pick(ways)(piece, supply, phase)

    def sides(self, piece: str, phase: int) -> dict[str, str]:
        """The rails of a section for the poles A and B."""
        rails = [f"{piece}.left", f"{piece}.right"]
        return dict(zip("AB", rails if phase == 1 else reversed(rails), strict=True))

    def one_side(self, piece: str, supply: str, phase: int) -> tuple[str, str]:
        """Feed one rail of a section; the other rail, and the letter of the pole that it lacks."""
        sides = self.sides(piece, phase)
        letter = self.pick("AB")
        other = "B" if letter == "A" else "A"
        bus = self.pick(self.buses(supply))
        self.data["feeds"].append({"to": piece, "from": bus, other: sides[other].rsplit(".", 1)[1]})
        return sides[letter], letter

    def by_switch(self, piece: str, supply: str, phase: int) -> None:
        """One rail through a hand switch of two or three positions."""
        positions = self.pick([["on", "off"], ["one", "off", "two"], ["1", "2"], ["a", "b", "c"]])
        if not self.has_room(len(positions)):
            self.feed(piece, supply, phase)
            return
        rail, letter = self.one_side(piece, supply, phase)
        name = self.name("S")
        self.data["switches"][name] = {"positions": list(positions)}
        throws = {positions[0]: f"{self.pick(self.buses(supply))}.{letter}"}
        for position in positions[1:]:
            if self.chance(0.4):
                throws[position] = f"{self.any_bus()}.{letter}"
        self.add_contact("switches", name, rail, throws)

    def by_relay(self, piece: str, supply: str, phase: int) -> None:
        """One rail through a relay that follows a machine, a turnout or a switch."""
        leaders = [*self.data["machines"], *self.layout.bars, *self.data["switches"]]
        if not leaders:
            self.feed(piece, supply, phase)
            return
        rail, letter = self.one_side(piece, supply, phase)
        name, positions = self.relay(self.pick(leaders))
        self.add_contact("switches", name, rail, {self.pick(positions): f"{self.pick(self.buses(supply))}.{letter}"})

    def by_automatic_reverser(self, piece: str, supply: str, phase: int) -> None:
        """An automatic reverser, sometimes one that another section has as well."""
        others = [name for name, one in self.data["reversers"].items() if one.get("mode") == "automatic"]
        if others and self.chance(0.4):
            name = self.pick(others)
        else:
            name = self.name("R")
            self.data["reversers"][name] = {"from": self.pick(self.buses(supply)), "mode": "automatic"}
        self.data["feeds"].append({"to": piece, "from": name, **({} if phase == 1 else {"A": "right", "B": "left"})})

    def by_following_reverser(self, piece: str, supply: str, phase: int) -> None:
        """A changeover switch that follows a machine or a turnout."""
        leaders = [*self.data["machines"], *self.layout.bars]
        if not leaders:
            self.by_automatic_reverser(piece, supply, phase)
            return
        leader = self.pick(leaders)
        name = self.name("R")
        straight = [self.pick(self.layout.positions(leader))]
        self.data["reversers"][name] = {"from": self.pick(self.buses(supply)), "follows": leader, "straight": straight}
        self.data["feeds"].append({"to": piece, "from": name, **({} if phase == 1 else {"A": "right", "B": "left"})})

    def by_plug(self, piece: str, supply: str, phase: int) -> None:
        """Both rails through a plug, which may be out."""
        pins: Data = {}
        bus = self.pick(self.buses(supply))
        for number, (letter, rail) in enumerate(self.sides(piece, phase).items(), start=1):
            pins[str(number)] = [f"{bus}.{letter}", rail]
        values: Data = {"pins": pins}
        if self.has_room(2) and self.chance(0.8):
            values["optional"] = "true"
        self.data["plugs"][self.name("P")] = values

    def by_component(self, piece: str, supply: str, phase: int) -> None:
        """One rail through a part and a terminal strip."""
        rail, letter = self.one_side(piece, supply, phase)
        strip = f"{self.name('TB')}.{self.pick(['1', '2', '12'])}"
        kind = self.pick(["breaker", "fuse", "diode", "detector", "lamp", "resistor"])
        self.data["components"][self.name("C")] = {
            "kind": kind,
            "from": f"{self.pick(self.buses(supply))}.{letter}",
            "to": strip,
        }
        self.data["wires"].append({"from": strip, "to": rail})

    # ---- mistakes and wild things

    def terminals(self) -> list[str]:
        """Names of terminals that a wire may go to."""
        layout = self.layout
        names = [*layout.rails, *layout.commons]
        names += [
            f"{piece}.{end}.{side}"
            for piece, kind in layout.kinds.items()
            for end in kind.ends
            for side in ("left", "right")
        ]
        names += [f"{owner}.{letter}" for owner in (*self.data["supplies"], *self.data["buses"]) for letter in "AB"]
        names += [f"{owner}.{letter}" for owner in self.data["reversers"] for letter in "AB"]
        return names

    def add_wire(self) -> None:
        """A wire between any two terminals."""
        one, other = self.pick(self.terminals()), self.pick(self.terminals())
        if one == other:
            return
        if self.chance(0.2):
            junction = self.name("J")
            self.data["wires"] += [{"from": one, "to": junction}, {"from": junction, "to": other}]
            return
        wire = {"from": one, "to": other}
        if self.chance(0.2):
            wire |= {"wire": "0.5 mm2", "length": "1 m", "colour": "GN"}
        self.data["wires"].append(wire)

    def all_contacts(self) -> Iterator[Contact]:
        """Every contact."""
        for section in ("track", "machines", "switches"):
            for values in self.data[section].values():
                yield from values.get("contacts", {}).values()

    def swap_contact(self) -> None:
        """Swap the throws of a contact, or leave one out."""
        contacts = list(self.all_contacts())
        if not contacts:
            return
        contact = self.pick(contacts)
        throws = [key for key in contact if key not in ("common", "action")]
        if len(throws) == 2 and self.chance(0.7):
            one, other = throws
            contact[one], contact[other] = contact[other], contact[one]
        elif throws:
            del contact[self.pick(throws)]

    def spoil_feed(self) -> None:
        """Leave out a feed, one pole of it, or swap its poles."""
        feeds = self.data["feeds"]
        if not feeds:
            return
        number = self.rng.randrange(len(feeds))
        feed = feeds[number]
        if self.chance(0.5) or not {"A", "B"} <= set(feed):
            del feeds[number]
        elif self.chance(0.5):
            del feed[self.pick("AB")]
        else:
            feed["A"], feed["B"] = feed["B"], feed["A"]

    def spoil_gap(self) -> None:
        """Insulate a joint in another way."""
        if self.data["joints"]:
            self.pick(self.data["joints"])["insulate"] = self.pick(["none", "none", "left", "right", "both", "vee"])

    def add_contact_anywhere(self) -> None:
        """A contact between any terminals."""
        owners = [(section, name) for section in ("machines", "switches") for name in self.data[section]]
        owners += [("track", piece) for piece, kind in self.layout.kinds.items() if list(kind.bars) == [""]]
        if not owners:
            return
        section, owner = self.pick(owners)
        common = self.pick(self.terminals())
        throws = {position: self.pick([*self.terminals(), "", ""]) for position in self.layout.positions(owner)}
        self.add_contact(section, owner, common, {key: to for key, to in throws.items() if to != common})

    def add_component(self) -> None:
        """A part between any terminals."""
        one, other = self.pick(self.terminals()), self.pick(self.terminals())
        if one != other:
            kind = self.pick(["breaker", "fuse", "diode", "detector", "lamp", "resistor"])
            self.data["components"][self.name("C")] = {"kind": kind, "from": one, "to": other}

    def add_plug(self) -> None:
        """A plug between any terminals."""
        pins = {}
        for number in range(1, self.pick([2, 3])):
            one, other = self.pick(self.terminals()), self.pick(self.terminals())
            if one != other:
                pins[str(number)] = [one, other]
        if pins:
            optional = self.has_room(2) and self.chance(0.7)
            self.data["plugs"][self.name("P")] = {"pins": pins, **({"optional": "true"} if optional else {})}

    def add_feed(self) -> None:
        """A feed to any rails, from anything that feeds."""
        piece = self.pick(list(self.data["track"]))
        kind = self.layout.kinds[piece]
        source = self.pick([*(self.data["buses"] or self.data["supplies"]), *self.data["reversers"]])
        feed: Data = {"to": piece, "from": source}
        if self.chance(0.5):
            feed["to"] = f"{piece}.{self.pick(list(kind.ends))}"
            feed["A"], feed["B"] = self.pick([("left", "right"), ("right", "left")])
        else:
            feed["A"], feed["B"] = self.pick(kind.rails), self.pick(kind.rails)
        if feed["A"] == feed["B"] or self.chance(0.3):
            del feed[self.pick("AB")]
        self.data["feeds"].append(feed)

    def add_unit(self) -> None:
        """A unit for any frog."""
        frogs = [rail for rail in self.layout.rails if rail.rsplit(".", 1)[1].startswith("frog")]
        if frogs:
            self.data["frog-units"][self.name("U")] = {"feeds": self.pick(frogs), "from": self.any_bus()}

    def make_mistakes(self) -> None:
        """Up to two mistakes in a sensible plan; a lot of anything in a wild one."""
        ways = [
            self.swap_contact,
            self.spoil_feed,
            self.spoil_gap,
            self.add_wire,
            self.add_contact_anywhere,
            self.add_component,
            self.add_plug,
            self.add_feed,
            self.add_unit,
        ]
        count = self.weighed({1: 20, 3: 40, 5: 30, 8: 10} if self.wild else {0: 35, 1: 40, 2: 25})
        for _ in range(count):
            self.pick(ways)()

    # ---- what is meant

    def partial(self, most: int) -> dict[str, str]:
        """Positions of some machines, turnouts, switches and plugs, none named twice."""
        layout = self.layout
        named: dict[str, str] = {}
        variables = list(layout.variables)
        self.rng.shuffle(variables)
        for variable in variables[: self.rng.randrange(1, most + 1)]:
            bars = [bar for bar, (machine, _) in layout.thrown.items() if machine == variable]
            name = self.pick([variable, *bars])
            named[name] = self.pick(layout.positions(name))
        return named

    def make_never(self) -> None:
        """Combinations that an interlocking rules out; some state must be left."""
        for _ in range(self.weighed({0: 75, 1: 20, 2: 5})):
            combination = self.partial(3)
            if combination:
                self.data["never"].append(combination)
                if not self.layout.states:
                    self.data["never"].pop()

    def make_expect(self) -> None:
        """What is meant to be dead or live, of pieces that have a set route in every state."""
        pieces = [
            piece
            for piece, values in self.data["track"].items()
            if values.get("kind") not in {*CROSSINGS, "track-end", "buffer", "buffer-metal", "catch-turnout"}
            and not values.get("kind", "").startswith(("three-way", "single-slip", "scissors"))
        ]
        for _ in range(self.weighed({0: 70, 1: 22, 2: 8}) if pieces else 0):
            expectation: Data = {"track": self.pick(pieces), "is": self.pick(["live", "dead"])}
            others = [piece for piece in pieces if piece != expectation["track"]]
            if others and self.chance(0.2):
                expectation["track"] = [expectation["track"], self.pick(others)]
            if self.chance(0.8):
                when = self.partial(2)
                if when:
                    expectation["when"] = when
            self.data["expect"].append(expectation)

    def make_sets(self) -> None:
        """Give some crossings the states in which their tracks are set."""
        for piece in self.layout.pieces:
            if self.layout.is_crossing(piece) and self.chance(0.3):
                tracks = [track for track in "12" if self.chance(0.7)]
                given = {track: self.partial(2) for track in tracks}
                if given and all(given.values()):
                    self.data["track"][piece]["set"] = given

    def one_unit_each(self) -> None:
        """Take units away until no net depends on two of them."""
        while self.data["frog-units"] and any(
            len(units) > 1 for picture in self.layout.pictures.values() for units in picture.units.values()
        ):
            self.data["frog-units"].popitem()

    def make(self) -> Data:
        """The whole layout, empty sections left out."""
        self.make_supplies()
        self.make_track()
        self.make_plan()
        self.make_gaps()
        self.make_machines()
        self.make_frogs()
        self.make_feeds()
        self.make_mistakes()
        self.make_sets()
        self.make_never()
        self.make_expect()
        self.one_unit_each()
        return {key: value for key, value in self.data.items() if value}


def random_layout(rng: Random) -> Data:
    """A valid layout."""
    return Maker(rng).make()


def layouts() -> st.SearchStrategy[Data]:
    """Valid layouts for hypothesis."""
    return st.randoms(use_true_random=False).map(random_layout)
