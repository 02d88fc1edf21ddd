"""Faults and readings by plain enumeration, from the layout file alone; shares no code with netlister/probe.

Each state is one graph of networkx; a reading beeps if a path leads from point to point. Written from the format's
reference: with the supply off every conductor is metal, supplies and automatic devices join nothing inside.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING, Any

import networkx as nx

from tests.properties.reference import Layout, bar_name, kind_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.properties.reference import Data, State

Key = tuple[str, tuple[str, ...]]


@dataclass(frozen=True)
class Metal:
    """A conductor. `tag` says what it is: its kind, and what it belongs to."""

    one: str
    other: str
    tag: tuple[str, ...]
    holder: str | None = None
    positions: tuple[str, ...] = ()


class Bench(Layout):
    """A layout as built: buses, screws and wire ends are nodes of their own."""

    def __init__(self, data: Data) -> None:
        super().__init__(data)
        self.buses: dict[str, Any] = dict(data.get("buses") or {})
        for supply in self.supplies:
            if supply not in {self.supply_of(b) for b in self.buses}:
                self.buses.setdefault(supply, {"supply": supply})

    def on_bus(self, bus: str, letter: str) -> str:
        return f"bus/{bus}.{letter}" if bus in self.buses else self.pole(self.supply_of(bus), letter)

    def written(self, name: str) -> str:
        """The node of a terminal as written: a bus is not its supply here."""
        head, _, letter = name.partition(".")
        if head in self.buses and letter in ("A", "B"):
            return self.on_bus(head, letter)
        return self.terminal(name)

    def metals(self) -> list[Metal]:
        """Everything that conducts."""
        out: list[Metal] = []
        for bus, one in self.buses.items():
            for letter in "AB":
                start = self.on_bus(one["from"], letter) if one.get("from") else self.pole(one["supply"], letter)
                out.append(Metal(start, self.on_bus(bus, letter), ("bus", bus, letter)))
        for piece, kind in self.kinds.items():
            out += [Metal(f"{piece}.{a}", f"{piece}.{b}", ("bond", piece, a, b)) for a, b in kind.bonds]
            for bar, position, a, b in kind.made:
                tag = ("blade", piece, a, b)
                out.append(Metal(f"{piece}.{a}", f"{piece}.{b}", tag, bar_name(piece, bar), (position,)))
        for joint in self.joints:
            out += [Metal(a, b, ("joint", joint.subject, a, b)) for a, b in joint.metal]
        out += self.screws_and_wires()
        for name, (owner, contact) in self.contacts.items():
            if "common" in contact:
                out.append(Metal(f"{name}.common", self.written(contact["common"]), ("common", name)))
            for position in self.positions(owner):
                if position in contact:
                    out.append(Metal(f"{name}.{position}", self.written(contact[position]), ("throw", name, position)))
                tag = ("contact", name, position)
                out.append(Metal(f"{name}.common", f"{name}.{position}", tag, owner, (position,)))
        for name, one in self.reversers.items():
            if "follows" in one:
                straight = tuple(one["straight"])
                crossed = tuple(p for p in self.positions(one["follows"]) if p not in straight)
                for letter, opposite in (("A", "B"), ("B", "A")):
                    for positions, to in ((straight, letter), (crossed, opposite)):
                        bus = self.on_bus(one["from"], to)
                        out.append(Metal(f"{name}.{letter}", bus, ("reverser", name), one["follows"], positions))
        for name, plug in self.plugs.items():
            for pin, (a, b) in (plug.get("pins") or {}).items():
                held = (name, ("in",)) if name in self.variables else (None, ())
                out.append(Metal(self.written(a), self.written(b), ("pin", name, pin), *held))
        for one in self.entries("wires"):
            name = one.get("id") or f"{self.terminal(one['from'])}/{self.terminal(one['to'])}"
            out.append(Metal(self.written(one["from"]), self.written(one["to"]), ("wire", name)))
        for name, one in self.section("components").items():
            if one.get("kind") not in ("load", "capacitor"):
                out.append(Metal(self.written(one["from"]), self.written(one["to"]), ("component", name)))
        return out

    def screws_and_wires(self) -> Iterator[Metal]:
        count: dict[str, int] = {}
        for entry, feed in enumerate(self.entries("feeds")):
            targets = feed["to"] if isinstance(feed["to"], list) else [feed["to"]]
            rails = {x: feed[x] for x in "AB" if x in feed} or {"A": "left", "B": "right"}
            source = feed.get("from") or next(iter(self.data.get("buses") or self.supplies))
            for number, target in enumerate(targets):
                for letter, rail in rails.items():
                    fed = self.fed_rail(target, rail)
                    count[fed] = count.get(fed, 0) + 1
                    screw = f"screw:{fed}" + (f"#{count[fed]}" if count[fed] > 1 else "")
                    start = f"{source}.{letter}" if source in self.reversers else self.on_bus(source, letter)
                    yield Metal(start, screw, ("screw", f"{entry}/{number}", letter))
                    yield Metal(screw, fed, ("feed", f"{entry}/{number}", letter))

    # ---- faults

    def faults(self) -> dict[Key, list[list[Metal]]]:
        """Every single fault, with the conductors of the layout that has it (several where words leave it open)."""
        good = self.metals()
        found: dict[Key, list[list[Metal]]] = {}

        def add(kind: str, parts: tuple[str, ...], bad: list[Metal]) -> None:
            found.setdefault((kind, parts), []).append(bad)

        def without(*tags: tuple[str, ...]) -> list[Metal]:
            return [m for m in good if m.tag[: len(tags[0])] not in tags]

        for joint, one in zip(self.joints, self.entries("joints"), strict=True):
            left = self.end_rails(*self.end(one["from"], "b"))[0]
            for a, b in joint.metal:
                side = "left" if a == left else "right"
                add("joint-open", (joint.subject, side), without(("joint", joint.subject, a, b)))
            for a, b in joint.insulated:
                side = "left" if a == left else "right"
                add("joint-bridged", (joint.subject, side), [*good, Metal(a, b, ("solder",))])
        self.feed_faults(good, add)
        self.contact_faults(good, add)
        for name in self.machines:
            order = self.machine_positions(name)
            follow = {name} | {bar for bar, (m, _) in self.thrown.items() if m == name}
            while more := {s for s, one in self.switches.items() if one.get("follows") in follow} - follow:
                follow |= more
            if len(order) == 2 and any(m.holder in follow for m in good):
                bad = [
                    replace(m, positions=tuple(p for p in self.positions(m.holder) if p not in m.positions))
                    if m.holder in follow
                    else m
                    for m in good
                ]
                add("machine-reversed", (name,), bad)
        for m in good:
            if m.tag[0] in ("blade", "bond") and (f"{m.tag[0]}-open", m.tag[1:]) not in found:
                add(f"{m.tag[0]}-open", m.tag[1:], without(m.tag))
            if m.tag[0] == "wire":
                add("wire-open", m.tag[1:], [x for x in good if x is not m])
            if m.tag[0] == "pin":
                add("plug-open", m.tag[1:], without(m.tag))
        for one, other in combinations([m for m in good if m.tag[0] == "pin"], 2):
            if one.tag[1] == other.tag[1]:
                bad = [x for x in good if x not in (one, other)]
                bad += [replace(one, other=other.other), replace(other, other=one.other)]
                add("plug-swapped", (one.tag[1], one.tag[2], other.tag[2]), bad)
        for bus in self.buses:
            a, b = (m for m in good if m.tag[:2] == ("bus", bus))
            rest = [m for m in good if m.tag[:2] != ("bus", bus)]
            add("bus-swapped", (bus,), [*rest, replace(a, one=b.one), replace(b, one=a.one)])
        self.link_faults(good, add)
        return found

    @cached_property
    def feed_names(self) -> dict[str, str]:
        """Per feed, by its entry and target, the piece that it feeds, numbered from the second one on."""
        times: dict[str, int] = {}
        found = {}
        for m in self.screws_and_wires():
            if m.tag[0] == "feed" and m.tag[1] not in found:
                piece = m.other.split(".")[0]
                times[piece] = times.get(piece, 0) + 1
                found[m.tag[1]] = piece + (f"#{times[piece]}" if times[piece] > 1 else "")
        return found

    def feed_faults(self, good: list[Metal], add: Any) -> None:
        for tag in dict.fromkeys(m.tag[1] for m in good if m.tag[0] == "feed"):
            wires = [m for m in good if m.tag[:2] == ("feed", tag)]
            screws = [m for m in good if m.tag[:2] == ("screw", tag)]
            piece = wires[0].other.split(".")[0]
            called = self.feed_names[tag]
            for m in wires:
                add("feed-open", (piece, m.one.removeprefix(f"screw:{piece}.")), [x for x in good if x is not m])
            if len(wires) == 2 and wires[0].other != wires[1].other:
                p, q = wires
                rest = [x for x in good if x not in wires]
                add("feed-swapped", (called,), [*rest, replace(p, other=q.other), replace(q, other=p.other)])
                p, q = screws
                rest = [x for x in good if x not in screws]
                add("feed-swapped", (called,), [*rest, replace(p, one=q.one), replace(q, one=p.one)])
            for joint, one in zip(self.joints, self.entries("joints"), strict=True):
                sides = [self.end(one["from"], "b"), self.end(one["to"], "a")]
                for here, _ in sides:
                    if here != piece or not joint.insulated:
                        continue
                    first = sides[0][0] == piece if sides[0][0] != sides[1][0] else None
                    pairs = [*joint.metal, *joint.insulated]
                    for near, far in ((0, 1), (1, 0)) if first is None else ((0, 1),) if first else ((1, 0),):
                        to = {pair[near]: pair[far] for pair in pairs}
                        moved = [replace(m, other=to[m.other]) if m.other in to else m for m in wires]
                        if moved != wires:
                            add("feed-misplaced", (called,), [*(x for x in good if x not in wires), *moved])

    def contact_faults(self, good: list[Metal], add: Any) -> None:
        for name, (owner, contact) in self.contacts.items():
            key = (owner, name[len(owner) + 1 :])
            positions = self.positions(owner)
            wired = [p for p in positions if p in contact]
            if "common" in contact:
                add("contact-open", key, [m for m in good if m.tag != ("common", name)])
            throws = {m.tag[2]: m for m in good if m.tag[:2] == ("throw", name)}
            rest = [m for m in good if m.tag[:2] != ("throw", name)]
            if len(wired) == 2 and len({m.other for m in throws.values()}) == 2:
                p, q = (throws[x] for x in wired)
                add("contact-swapped", key, [*rest, replace(p, other=q.other), replace(q, other=p.other)])
            elif len(wired) == 1 and len(positions) == 2:
                (other,) = (x for x in positions if x not in wired)
                add("contact-swapped", key, [*rest, replace(throws[wired[0]], one=f"{name}.{other}")])
            for position in positions:
                bad = [m for m in good if m.tag[:2] != ("contact", name)]
                add(
                    "contact-stuck", (*key, position), [*bad, Metal(f"{name}.common", f"{name}.{position}", ("stuck",))]
                )

    def link_faults(self, good: list[Metal], add: Any) -> None:
        cuts = {"live-frog-bonded": ("links",), "live-frog": ("links", "closure-rails")}
        foils = (
            "foil-toe",
            "foil-tie-bar",
            "foil-closure",
            "foil-frog-left",
            "foil-frog-right",
            "gap-left",
            "gap-right",
        )
        left = {"links": "left-in", "closure-rails": "whole"} | dict.fromkeys(foils, "missed")
        for piece, entry in self.pieces.items():
            kind = entry.get("kind", "rail-section")
            for option in (*cuts.get(kind, ()), *(foils if kind == "copper-clad-live-frog" else ())):
                now = entry.get(option, "cut" if kind != "live-frog" else "left")
                if now != "cut":
                    continue
                old, new = kind_of(entry), kind_of({**entry, option: left[option]})
                more = [
                    Metal(f"{piece}.{a}", f"{piece}.{b}", ("link",)) for a, b in new.bonds if (a, b) not in old.bonds
                ]
                more += [
                    Metal(f"{piece}.{a}", f"{piece}.{b}", ("blade", piece, "link"), bar_name(piece, bar), (p,))
                    for bar, p, a, b in new.made
                    if (bar, p, a, b) not in old.made
                ]
                if more:
                    add("link-left", (piece, option), [*good, *more])

    # ---- readings

    def groups(self, metals: list[Metal], acts: tuple[str, ...], state: State) -> dict[str, int]:
        """Per point the number of the group that beeps together."""
        papers = {act.removeprefix("paper:") for act in acts if act.startswith("paper:")}
        graph: nx.Graph[str] = nx.Graph()
        graph.add_nodes_from([*self.rails, *self.pole_names])
        graph.add_nodes_from(end for m in self.metals() for end in (m.one, m.other))
        for m in metals:
            graph.add_nodes_from((m.one, m.other))
            if m.tag[0] == "bus" and f"bus-off:{m.tag[1]}" in acts:
                continue
            if m.tag[0] == "screw" and ("feeds-off" in acts or f"feed-off:{self.feed_names[m.tag[1]]}" in acts):
                continue
            if m.tag[0] == "blade" and m.tag[1] in papers:
                continue
            if m.tag[0] == "common" and f"lead-off:{m.tag[1]}" in acts:
                continue
            if m.holder is None or self.position(m.holder, state) in m.positions:
                graph.add_edge(m.one, m.other)
        return {n: k for k, part in enumerate(nx.connected_components(graph)) for n in part}

    def points(self, metals: list[Metal]) -> list[str]:
        """What a probe reaches: every terminal, screw and junction, not the bus behind its own screws."""
        found = {end for m in metals for end in (m.one, m.other)} | set(self.rails) | set(self.pole_names)
        return sorted(p for p in found if not p.startswith("bus/"))

    def told(self, bad: list[Metal], acts: tuple[str, ...], state: State) -> bool:
        """Whether any pair of points tells a fault from none in a state after some acts."""
        good = self.metals()
        points = self.points(good)
        one, other = self.groups(good, acts, state), self.groups(bad, acts, state)
        first: dict[int, int] = {}
        back: dict[int, int] = {}
        return any(
            first.setdefault(one[p], other[p]) != other[p] or back.setdefault(other[p], one[p]) != one[p]
            for p in points
        )
