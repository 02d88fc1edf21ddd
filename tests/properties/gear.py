"""The rules on districts, automatic reversers and detectors by plain enumeration of every state.

Written like `tests.properties.reference`, on the same graphs of networkx, and from the words of the format alone. A
breaker on a bus gives what is fed from there poles of its own here: `main.A` becomes `main.A of west`.
"""

from __future__ import annotations

import copy
from functools import cached_property
from itertools import product
from typing import TYPE_CHECKING, Any

import networkx as nx

from tests.properties.layouts import random_layout
from tests.properties.reference import DEAD, Conductor, Data, Key, Layout, State, is_changing

if TYPE_CHECKING:
    from collections.abc import Iterator
    from random import Random

RULES = (
    *("districts-joined", "reversers-abut", "frog-outside-section", "reverser-one-rail", "reverser-fed-by-blades"),
    "detectors-apart",
)
PROTECTORS = {"breaker", "fuse", "lamp"}


class ByDistricts(Layout):
    """A layout in which every district has poles of its own."""

    @cached_property
    def buses(self) -> dict[str, Data]:
        """The buses as written."""
        return self.section("buses")

    def district(self, source: str) -> str:
        """The district of a bus or supply: the nearest bus with a breaker on the way to the supply."""
        here, supply = source, self.supply_of(source)
        while here in self.buses:
            if "breaker" in self.buses[here]:
                return here
            if "from" not in self.buses[here]:
                break
            here = self.buses[here]["from"]
        return f"{supply} before its breaker" if "breaker" in self.buses.get(supply, {}) else supply

    def of(self, source: str, letter: str) -> str:
        """The pole of a district."""
        return f"{self.pole(self.supply_of(source), letter)} of {self.district(source)}"

    def terminal(self, name: str) -> str:
        """Poles by district, everything else as it was."""
        head, _, letter = name.partition(".")
        if (head in self.buses or head in self.supplies) and letter in ("A", "B"):
            return self.of(head, letter)
        return super().terminal(name)

    def source(self, name: str | None, letter: str) -> str:
        """The node that feeds a rail."""
        if name in self.reversers:
            return f"{name}.{letter}"
        return self.of(name or next(iter(self.buses or self.supplies)), letter)

    def reverser_conductors(self) -> Iterator[Conductor]:
        """A changeover switch leads to the poles of its bus's district."""
        for name, one in self.reversers.items():
            if "follows" in one:
                straight = tuple(one["straight"])
                crossed = tuple(position for position in self.positions(one["follows"]) if position not in straight)
                for letter, opposite in (("A", "B"), ("B", "A")):
                    yield Conductor(f"{name}.{letter}", self.of(one["from"], letter), one["follows"], straight)
                    yield Conductor(f"{name}.{letter}", self.of(one["from"], opposite), one["follows"], crossed)

    @cached_property
    def district_poles(self) -> dict[str, tuple[str, str, str]]:
        """Every pole of a district: its supply, its district, the supply's pole."""
        return {
            self.of(source, letter): (
                self.supply_of(source),
                self.district(source),
                self.pole(self.supply_of(source), letter),
            )
            for source in (*self.supplies, *self.buses)
            for letter in "AB"
        }

    @cached_property
    def pole_names(self) -> list[str]:
        """Every pole."""
        return sorted({*self.district_poles, *self.outputs})

    @cached_property
    def conductors(self) -> list[Conductor]:
        """As ever, without the breakers drawn as components between two poles."""
        drawn = []
        for one in self.section("components").values():
            ends = (self.terminal(one["from"]), self.terminal(one["to"]))
            if one["kind"] in PROTECTORS and all(end in self.district_poles for end in ends):
                continue
            drawn.append(Conductor(*ends))
        return [
            *self.inside_pieces(),
            *(Conductor(*pair) for joint in self.joints for pair in joint.metal),
            *self.feed_wires(),
            *self.contact_conductors(),
            *self.reverser_conductors(),
            *self.plug_conductors(),
            *(Conductor(self.terminal(one["from"]), self.terminal(one["to"])) for one in self.entries("wires")),
            *drawn,
        ]

    def joined(self, state: State) -> Iterator[str]:
        """The pairs of districts of one supply that are joined on one pole in a state."""
        if not any("breaker" in bus for bus in self.buses.values()):
            return
        for pair in self.shorts(state):
            one, other = (self.district_poles.get(pole) for pole in pair.split("/"))
            if one and other and one[0] == other[0] and one[2] == other[2]:
                yield "/".join(sorted((one[1], other[1])))


class WithoutBlades(Layout):
    """A layout in which no blade makes contact."""

    def inside_pieces(self) -> Iterator[Conductor]:
        """The bonds alone."""
        for piece, kind in self.kinds.items():
            for one, other in kind.bonds:
                yield Conductor(f"{piece}.{one}", f"{piece}.{other}")


def gear_reference(data: Data) -> dict[Key, set[State]]:
    """For every rule on gear and subject the states in which it is broken."""
    layout, apart, bare = Layout(data), ByDistricts(data), WithoutBlades(data)
    found: dict[Key, set[State]] = {}

    def add(rule: str, subject: str, state: State) -> None:
        found.setdefault((rule, subject), set()).add(state)

    for state in layout.states:
        for subject in apart.joined(state):
            add("districts-joined", subject, state)
        for subject in abutting(layout, state):
            add("reversers-abut", subject, state)
        for subject in frogs_outside(layout, state):
            add("frog-outside-section", subject, state)
        for subject in half_fed(layout, state):
            add("reverser-one-rail", subject, state)
        for subject in by_blades(layout, bare, state):
            add("reverser-fed-by-blades", subject, state)
    for subject, states in detectors(layout).items():
        if states:
            found["detectors-apart", subject] = states
    return found


def crossable(layout: Layout, state: State) -> Iterator[tuple[str, list[tuple[str, str]]]]:
    """The joints with gaps that a train can cross in a state, and the rails that meet there."""
    for joint in layout.joints:
        if joint.insulated and all(layout.end_is_set(*end, state) for end in joint.ends):
            yield joint.subject, list(joint.insulated)


def abutting(layout: Layout, state: State) -> Iterator[str]:
    """The joints at which two automatic reversers meet."""
    poles = layout.pictures[state].poles
    for subject, pairs in crossable(layout, state):
        for one, other in pairs:
            first = {layout.outputs[pole][0] for pole in poles[one] if pole in layout.outputs}
            second = {layout.outputs[pole][0] for pole in poles[other] if pole in layout.outputs}
            if any(a != b for a in first for b in second):
                yield subject


def frogs_outside(layout: Layout, state: State) -> Iterator[str]:
    """The turnouts in a reverser's section whose frog has a pole of a bus, unless a wheel clashes there in any case."""
    poles = layout.pictures[state].poles
    clashing = set(layout.clashes(state))
    for piece in layout.pieces:
        if not layout.has_blades(piece) or piece in clashing:
            continue
        for route in layout.set_routes(piece, state):
            for pair in layout.inner_gaps(piece, route):
                for frog, rail in (pair, pair[::-1]):
                    if is_frog(frog) and not is_frog(rail) and len(poles[frog]) == len(poles[rail]) == 1:
                        (inner,), (outer,) = poles[frog], poles[rail]
                        if inner not in layout.outputs and outer in layout.outputs:
                            yield piece


def half_fed(layout: Layout, state: State) -> Iterator[str]:
    """The pieces with a live route of which a reverser feeds one rail, and something else the other; no frogs."""
    picture = layout.pictures[state]
    for piece in layout.pieces:
        for route in layout.set_routes(piece, state):
            if layout.route_is_dead(piece, route, picture):
                continue
            left, right = (
                [
                    f"{piece}.{rail}"
                    for rail in dict.fromkeys(side)
                    if rail != DEAD and not is_changing(f"{piece}.{rail}")
                ]
                for side in (route.left, route.right)
            )
            # where a gap parts both rails, as at the edge of a turntable, each part is by itself
            for rails in zip(left, right, strict=True) if len(left) == len(right) else product(left, right):
                if any(hangs_on_a_frog(layout, rail) for rail in rails):
                    continue
                poles = [picture.poles[rail] for rail in rails]
                if any(len(found) != 1 for found in poles):
                    continue
                one, other = (layout.outputs.get(pole, ("", ""))[0] for (pole,) in poles)
                if one != other:
                    yield piece


def hangs_on_a_frog(layout: Layout, rail: str) -> bool:
    """Whether a rail is a frog or closure rail, or always joined to one."""
    net = nx.node_connected_component(layout.always, rail)
    return any(is_changing(other) for other in layout.rails if other in net)


def is_frog(rail: str) -> bool:
    """Whether a terminal is a frog's."""
    return is_changing(rail) and ".frog" in rail


def by_blades(layout: Layout, bare: Layout, state: State) -> Iterator[str]:
    """The gaps of a reverser's section with a rail beside them that only blades feed."""
    poles, steady = layout.pictures[state].poles, bare.pictures[state].poles
    for subject, pairs in crossable(layout, state):
        for pair in pairs:
            for near, far in (pair, pair[::-1]):
                for pole in poles[near] - steady[near]:
                    mine = layout.outputs.get(pole, ("", ""))[0]
                    if any(layout.outputs.get(other, ("", ""))[0] != mine for other in poles[far]):
                        yield subject


def detectors(layout: Layout) -> dict[str, set[State]]:
    """Per detector in the minority the states in which it and one of the others have their poles."""
    placed: dict[str, tuple[str, set[str], set[State]]] = {}
    for name, one in layout.section("components").items():
        if one["kind"] != "detector":
            continue
        seen: dict[State, set[str]] = {}
        fed_by_unit = False
        for state in layout.states:
            picture = layout.pictures[state]
            seen[state] = set()
            for end in (layout.terminal(one["from"]), layout.terminal(one["to"])):
                seen[state] |= {end} if end in layout.pole_names else picture.poles[end]
                fed_by_unit |= end not in layout.pole_names and bool(picture.units[end])
        every = set().union(*seen.values())
        if every and not fed_by_unit and every.isdisjoint(layout.outputs) and len({pole[-1] for pole in every}) == 1:
            owners = {s for s in layout.supplies if {layout.pole(s, "A"), layout.pole(s, "B")} & every}
            placed[name] = (min(every)[-1], owners, {state for state in layout.states if seen[state]})
    result: dict[str, set[State]] = {}
    for name, (letter, owners, states) in placed.items():
        near = [p for p in placed.values() if p[1] & owners]
        same = [p for p in near if p[0] == letter]
        other = [p for p in near if p[0] != letter]
        if len(same) < len(other) or (len(same) == len(other) and letter == "B"):
            result[name] = {state for state in states if any(state in p[2] for p in other)}
    return result


def add_section(rng: Random, data: Data, sources: list[str]) -> None:
    """A turnout and a piece of track beyond one of its ends, each fed from somewhere, the frog by a contact or not."""
    kind = rng.choice(["live-frog", "live-frog-bonded", "isolated-metal-frog", "insulated-frog"])
    data["track"] |= {"inner": {"kind": kind, "hand": rng.choice(["left", "right"])}, "outer": {}}
    poles = [f"{name}.{letter}" for name in sources for letter in "AB"]
    ends = ["toe", "through", "diverging"]
    how = rng.choice(["both", "both", "left", "none"])
    data.setdefault("joints", []).append({"from": f"inner.{rng.choice(ends)}", "to": "outer", "insulate": how})
    feeds = data.setdefault("feeds", [])
    for piece in ("inner", "outer"):
        feeds.append({"to": piece, "from": rng.choice([*data["reversers"], *sources])})
    if kind != "insulated-frog" and rng.random() < 0.8:
        own = ["inner.stock-left", "inner.stock-right"]
        contact = {"common": "inner.frog"}
        contact |= {p: rng.choice(own if rng.random() < 0.4 else poles) for p in ("through", "diverging")}
        data.setdefault("machines", {})["mover"] = {"throws": ["inner"], "contacts": {"frog": contact}}


def random_gear(rng: Random) -> Data:
    """A random layout with breakers on its buses, more automatic reversers and more detectors."""
    data: Data = copy.deepcopy(random_layout(rng))
    supply = rng.choice(list(data["supplies"]))
    buses: dict[str, Any] = data.setdefault("buses", {})
    if not buses:
        buses |= {name: {"supply": name} for name in data["supplies"]}
    for name in list(buses):
        if rng.random() < 0.4:
            buses[name]["breaker"] = "2 A"
    for number in range(rng.randint(0, 2)):
        buses[f"district {number}"] = {"supply": supply, "breaker": "3 A"}
        if rng.random() < 0.3:
            buses[f"twig {number}"] = {
                "from": f"district {number}",
                **({"breaker": "1 A"} if rng.random() < 0.5 else {}),
            }
    reversers: dict[str, Any] = data.setdefault("reversers", {})
    for number in range(rng.randint(0, 2)):
        reversers[f"turner {number}"] = {"from": rng.choice(list(buses)), "mode": "automatic"}
    sources = [*buses, *data["supplies"], *reversers]
    for feed in data.get("feeds") or []:
        feed.setdefault("from", supply)
        if rng.random() < 0.5:
            feed["from"] = rng.choice(sources)
            feed.pop("tap", None)
    if reversers and rng.random() < 0.5:
        add_section(rng, data, sources)
    rails = list(Layout(data).rails)
    poles = [f"{name}.{letter}" for name in (*buses, *data["supplies"]) for letter in "AB"]
    components: dict[str, Any] = data.setdefault("components", {})
    for number in range(rng.randint(0, 3)):
        kind = "detector" if rng.random() < 0.7 else "breaker"
        to = rng.choice(rails if rng.random() < 0.8 else poles)
        components[f"sensor {number}"] = {"kind": kind, "from": rng.choice(poles), "to": to}
    return {key: value for key, value in data.items() if value or key in {"supplies", "track"}}
