"""What only a moving blade or train shows, by plain enumeration: slow, literal and independent of the tool.

Written from the definitions of the rules alone. Every state, every throw, every pairing of what changes over on the way
is built as a graph of its own. Many layouts: `python -m tests.properties.moving NUMBER SEED`.
"""

from __future__ import annotations

import itertools
import sys
import time
from collections import Counter
from random import Random
from typing import TYPE_CHECKING, Any

import networkx as nx  # type: ignore[import-untyped, unused-ignore]

import netlister
from tests.properties.compare import cover_faults, covered, is_cut, show
from tests.properties.layouts import dump, random_layout
from tests.properties.reference import HANDS, Conductor, Data, Joint, Key, Layout, Picture, State

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

RULES = ("throw-short", "wheel-back", "run-through", "blade-fed")

# The open blade and the stock rail beside it, for the legs of a two-way turnout. In all other kinds each blade is part
# of its stock rail.
OPEN_BLADES = {
    "live-frog": {"L": ("frog", "stock-left"), "R": ("frog", "stock-right")},
    "insulated-frog": {"L": ("closure-left", "stock-left"), "R": ("closure-right", "stock-right")},
}

Mover = tuple[str, str]
"""Something that changes over by itself: its sort and name."""


class Throws:
    """The throws of a layout."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.movers: dict[str, dict[Mover, list[Conductor]]] = {}
        self.both: set[Mover] = set()
        self.fixed: dict[str, list[Conductor]] = {}
        for variable in layout.variables:
            if variable not in layout.plugs:
                self.add(variable)

    def root(self, holder: str) -> str:
        """The variable that something with positions moves with."""
        layout = self.layout
        if holder in layout.variables:
            return holder
        if holder in layout.thrown:
            return layout.thrown[holder][0]
        return self.root(layout.switches[holder]["follows"])

    def add(self, variable: str) -> None:
        """Sort the conductors into those of each mover of a variable, and the rest."""
        layout = self.layout
        movers: dict[Mover, list[Conductor]] = {}
        moved: list[Conductor] = []
        for piece, kind in layout.kinds.items():
            for bar, position, one, other in kind.made:
                holder = f"{piece}.{bar}" if bar else piece
                conductor = Conductor(f"{piece}.{one}", f"{piece}.{other}", holder, (position,))
                if self.root(holder) == variable:
                    movers.setdefault(("blades", holder), []).append(conductor)
                    moved.append(conductor)
        for name, (owner, contact) in layout.contacts.items():
            if self.root(owner) == variable:
                for position in layout.positions(owner):
                    conductor = Conductor(f"{name}.common", f"{name}.{position}", owner, (position,))
                    movers.setdefault(("contact", name), []).append(conductor)
                    moved.append(conductor)
                if contact.get("action") == "make-before-break":
                    self.both.add(("contact", name))
        for conductor in layout.reverser_conductors():
            if conductor.holder is not None and self.root(conductor.holder) == variable:
                movers.setdefault(("reverser", conductor.one), []).append(conductor)
                moved.append(conductor)
        left = Counter(layout.conductors)
        left.subtract(Counter(moved))
        assert min(left.values(), default=0) >= 0
        self.movers[variable] = movers
        self.fixed[variable] = list(left.elements())

    def holding(self, mover: Mover, conductors: list[Conductor], old: State, new: State) -> list[list[Conductor]]:
        """What a mover can hold at once on the way: the old, the new, both or nothing."""
        conducts = self.layout.conducts
        before = [one for one in conductors if conducts(one, old)]
        after = [one for one in conductors if conducts(one, new)]
        ways = [before, after]
        ways.append([*before, *after] if mover in self.both else [])
        return [way for number, way in enumerate(ways) if way not in ways[:number]]

    def joins(self, variable: str, old: State, new: State, *, in_step: bool = False) -> bool:
        """Whether throwing a variable from one state to another joins two poles that neither state joins.

        `in_step`: whether everything that breaks before it makes changes over at one moment.
        """
        layout = self.layout
        movers = self.movers[variable]
        touched = {node for some in movers.values() for one in some for node in (one.one, one.other)}
        touched -= set(layout.pole_names)
        static = {
            node: pairs(layout, layout.pictures[old], node) | pairs(layout, layout.pictures[new], node)
            for node in touched
        }
        fixed = [one for one in self.fixed[variable] if layout.conducts(one, old)]
        choices = itertools.product(*(self.holding(mover, some, old, new) for mover, some in movers.items()))
        if in_step:
            choices = iter([self.all_at(movers, old, new, state) for state in (old, new)])  # type: ignore[assignment]
        for choice in choices:
            meeting = meet(layout, [*fixed, *itertools.chain.from_iterable(choice)], touched)
            if any(meeting[node] - static[node] for node in touched):
                return True
        return False

    def all_at(self, movers: dict[Mover, list[Conductor]], old: State, new: State, at: State) -> list[list[Conductor]]:
        """What all movers hold at one moment: what overlaps both throws, the rest those of one state."""
        conducts = self.layout.conducts
        return [
            [
                one
                for one in some
                if conducts(one, at) or (mover in self.both and (conducts(one, old) or conducts(one, new)))
            ]
            for mover, some in movers.items()
        ]


def pairs(layout: Layout, picture: Picture, node: str) -> set[tuple[str, str]]:
    """The pairs of poles between which current can flow by way of a terminal."""
    return flowing(layout, picture.out_of[node], picture.into[node])


def flowing(layout: Layout, out_of: Iterable[str], into: Iterable[str]) -> set[tuple[str, str]]:
    """The pairs of poles of which the one can give a terminal current and the other take it."""
    both = itertools.product(out_of, into)
    return {(min(p, q), max(p, q)) for p, q in both if p != q and not layout.never_drives(p, q)}


def meet(layout: Layout, conductors: list[Conductor], nodes: set[str]) -> dict[str, set[tuple[str, str]]]:
    """The pairs of poles that meet at some terminals if some conductors conduct; no path passes through a third pole."""
    ways: nx.DiGraph[str] = nx.DiGraph()
    ways.add_nodes_from({*nodes, *layout.pole_names})
    for one in conductors:
        ways.add_edge(one.one, one.other)
        if not one.one_way:
            ways.add_edge(one.other, one.one)
    out_of: dict[str, set[str]] = {node: set() for node in nodes}
    into: dict[str, set[str]] = {node: set() for node in nodes}
    for pole in layout.pole_names:
        rest = ways.copy()
        rest.remove_nodes_from(other for other in layout.pole_names if other != pole)
        for found, reached in ((out_of, nx.descendants(rest, pole)), (into, nx.ancestors(rest, pole))):
            for node in nodes & reached:
                found[node].add(pole)
    return {node: flowing(layout, out_of[node], into[node]) for node in nodes}


def poles_of(layout: Layout, conductors: list[Conductor]) -> dict[str, set[str]]:
    """The poles that some conductors give every terminal; a path to a pole may not pass through another."""
    graph = layout.graph(conductors)
    found: dict[str, set[str]] = {node: set() for node in graph}
    poles = set(layout.pole_names)
    bare = graph.copy()
    bare.remove_nodes_from(poles)
    for net in nx.connected_components(bare):
        here = {pole for node in net for pole in graph[node] if pole in poles}
        for node in net:
            found[node] = here
    return found


def throw_shorts(layout: Layout, *, in_step: bool = False) -> Iterator[tuple[str, State]]:
    """Variables and the states that begin or end a throw which joins two poles on the way."""
    throws = Throws(layout)
    for variable in throws.movers:
        for old, new in itertools.combinations(layout.states, 2):
            alone = {name for name, _ in old - new} == {variable}
            if variable in layout.switches:  # a hand switch passes the positions in between
                places = [layout.positions(variable).index(layout.position(variable, state)) for state in (old, new)]
                alone = alone and abs(places[0] - places[1]) == 1
            if alone and throws.joins(variable, old, new, in_step=in_step):
                yield variable, old
                yield variable, new


def open_blades(layout: Layout, piece: str, state: State) -> list[tuple[str, str]]:
    """The open blades of a piece and the stock rails beside them, where they are not one rail."""
    values = layout.pieces[piece]
    kind = values.get("kind", "")
    if kind == "catch-turnout":
        blades = values.get("blades", "both")
        sides = ("left", "right") if blades == "both" else (blades,)
        is_open = layout.position(piece, state) == "open"
        return [(f"closure-{side}", f"stock-{side}") for side in sides if is_open]
    if kind not in ("live-frog", "insulated-frog", "single-blade-live"):
        return []
    leg = {end: leg for leg, end in HANDS[values["hand"]].items()}[layout.position(piece, state)]
    if kind == "single-blade-live":
        one = {"right": ("R", "stock-right"), "left": ("L", "stock-left")}[values.get("blade", "right")]
        return [("frog", one[1])] if leg == one[0] else []
    altered = values.get("links") == "cut" or values.get("closure-rails") == "cut" or values.get("jumpers") == "true"
    return [] if kind == "live-frog" and altered else [OPEN_BLADES[kind][leg]]


def wheel_backs(layout: Layout, state: State) -> Iterator[str]:
    """The pieces whose open blade has another pole than the stock rail beside it."""
    for piece in layout.pieces:
        pairs = [(f"{piece}.{blade}", f"{piece}.{stock}") for blade, stock in open_blades(layout, piece, state)]
        if pairs and layout.all_clash(pairs, layout.pictures[state]):
            yield piece


def run_through(layout: Layout, joint: Joint, state: State) -> bool:
    """Whether wheels join two poles over an insulated joint for a train that runs against a turnout."""
    excused = [
        pair
        for pair in joint.insulated
        if not all(layout.end_is_set(*end, state) for end in joint.ends)
        or any(layout.runs_against(rail, state) for rail in pair)
    ]
    return bool(excused) and layout.all_clash(excused, layout.pictures[state])


def weak_rails(layout: Layout) -> dict[str, set[State]]:
    """For every rail the states in which it is fed by blades alone, or over more joiners than the limit."""
    blades = [
        Conductor(f"{piece}.{one}", f"{piece}.{other}", f"{piece}.{bar}" if bar else piece, (position,))
        for piece, kind in layout.kinds.items()
        for bar, position, one, other in kind.made
    ]
    limit = (layout.data.get("limits") or {}).get("joiners")
    found: dict[str, set[State]] = {rail: set() for rail in layout.rails}
    for state in layout.states:
        picture = layout.pictures[state]
        conductors = [one for one in layout.conductors if layout.conducts(one, state)]
        bladeless = [one for one in conductors if one not in blades]
        near = distances(layout, conductors)
        sources = {layout.terminal(unit["feeds"]) for unit in layout.units.values()}
        for rail in layout.rails:
            if not layout.is_fed(rail, picture):
                continue
            if not still_fed(layout, bladeless, rail, sources) or (
                limit is not None and near.get(rail, float("inf")) > float(limit)
            ):
                found[rail].add(state)
    return {rail: states - layout.expected_dead[rail.split(".")[0]] for rail, states in found.items()}


def still_fed(layout: Layout, conductors: list[Conductor], rail: str, sources: set[str]) -> bool:
    """Whether current can come to a rail, or go from it, over some conductors, or a unit feeds it."""
    graph = layout.graph(conductors)
    ways: nx.DiGraph[str] = nx.DiGraph()
    ways.add_nodes_from([rail, *layout.pole_names])
    for one in conductors:
        ways.add_edge(one.one, one.other)
        if not one.one_way:
            ways.add_edge(one.other, one.one)
    reached = nx.ancestors(ways, rail) | nx.descendants(ways, rail)
    graph.remove_nodes_from(layout.pole_names)
    return bool(nx.node_connected_component(graph, rail) & sources or reached & set(layout.pole_names))


def distances(layout: Layout, conductors: list[Conductor]) -> dict[str, int]:
    """How many metal joiners lie between each terminal and the nearest pole or frog unit."""
    joiners = {frozenset(pair) for joint in layout.joints for pair in joint.metal}
    others = {frozenset((one.one, one.other)) for one in not_joiners(layout, conductors)}
    graph = layout.graph(conductors)
    for one, other in graph.edges:
        pair = frozenset((one, other))
        graph.edges[one, other]["weight"] = 1 if pair in joiners and pair not in others else 0
    sources = {layout.terminal(unit["feeds"]) for unit in layout.units.values()}
    sources |= {node for pole in layout.pole_names for node in graph[pole]}
    graph.remove_nodes_from(layout.pole_names)
    sources -= set(layout.pole_names)
    return dict(nx.multi_source_dijkstra_path_length(graph, sources, weight="weight")) if sources else {}


def not_joiners(layout: Layout, conductors: list[Conductor]) -> list[Conductor]:
    """The conductors without the metal joiners of the joints."""
    left = Counter(conductors)
    left.subtract(Counter(Conductor(*pair) for joint in layout.joints for pair in joint.metal))
    return [one for one, count in left.items() if count > 0]


def enumerated(layout: Layout) -> dict[Key, set[State]]:
    """For every rule and subject the states, `never` left out, in which the rule is broken."""
    found: dict[Key, set[State]] = {}

    def add(rule: str, subject: str, states: set[State]) -> None:
        if states:
            found.setdefault((rule, subject), set()).update(states)

    for variable, state in throw_shorts(layout):
        add("throw-short", variable, {state})
    for state in layout.states:
        for piece in wheel_backs(layout, state):
            add("wheel-back", piece, {state})
        for joint in layout.joints:
            if run_through(layout, joint, state):
                add("run-through", joint.subject, {state})
    for rail, states in weak_rails(layout).items():
        add("blade-fed", rail.split(".")[0], states)
    return found


# --------------------------------------------------------------------------------------------------------------
# Beside the tool
# --------------------------------------------------------------------------------------------------------------


def moving_layout(seed: int) -> Data:
    """A random layout with more contacts that make before they break, and often a limit of joiners."""
    rng = Random(seed)
    data = random_layout(rng)
    for section in ("track", "machines", "switches"):
        for values in (data.get(section) or {}).values():
            for contact in ((values or {}).get("contacts") or {}).values():
                if rng.random() < 0.2:
                    contact["action"] = rng.choice(["make-before-break", "break-before-make"])
    if rng.random() < 0.5:
        data["limits"] = {"joiners": str(rng.randrange(4))}
    return data


def tool(data: Data) -> Mapping[str, Any]:
    """What the tool says where the rules are selected by name."""
    result: Mapping[str, Any] = netlister.check_text(dump(data), select=RULES).to_json()
    return result


def differences(data: Data) -> list[str]:
    """Everything in which the tool and the enumeration differ, a line each."""
    layout = Layout(data)
    result = tool(data)
    lines = [] if result["proved"] else ["proved: false"]
    mine = enumerated(layout)
    theirs: dict[Key, set[State]] = {}
    cut = set()
    for finding in result["findings"]:
        key = finding["rule"], finding["subject"]
        if key in theirs:
            lines.append(f"{' '.join(key)}: more than one finding")
        theirs[key] = covered(finding["when"], layout.states)
        lines += cover_faults(layout, finding)
        if key[0] == "throw-short" and not joins_two_poles(layout, finding["path"]):
            lines.append(f"{' '.join(key)}: the path is {finding['path']}")
        if is_cut(finding):
            cut.add(key)
    for key in sorted({*mine, *theirs}):
        missing, invented = mine.get(key, set()) - theirs.get(key, set()), theirs.get(key, set()) - mine.get(key, set())
        if missing and key not in cut:
            lines.append(f"{' '.join(key)}: not found in {show(missing)}")
        if invented:
            lines.append(f"{' '.join(key)}: found, but not so in {show(invented)}")
    lines += plain_differences(layout)
    rails = weak_rails(layout)
    for finding in result["findings"]:
        if finding["rule"] == "blade-fed":
            wanted = sorted(r for r, states in rails.items() if states and r.split(".")[0] == finding["subject"])
            if finding["terminals"] != wanted:
                lines.append(f"blade-fed {finding['subject']}: {finding['terminals']} instead of {wanted}")
    return lines


def joins_two_poles(layout: Layout, path: list[str]) -> bool:
    """Whether current can flow along a path from a pole to another, over no terminal twice."""
    ways = {(one.one, one.other) for one in layout.conductors}
    ways |= {(one.other, one.one) for one in layout.conductors if not one.one_way}
    ends = {path[0], path[-1]} if path else set()
    return (
        len(ends) == 2
        and ends <= set(layout.pole_names)
        and len(set(path)) == len(path)
        and any(
            set(itertools.pairwise(way)) <= ways and not layout.never_drives(way[0], way[-1])
            for way in (path, path[::-1])
        )
    )


def plain_differences(layout: Layout) -> Iterator[str]:
    """In which a plain check differs: it shows the throws that join poles whatever the order."""
    found: dict[str, set[State]] = {}
    for finding in netlister.check_text(dump(layout.data)).to_json()["findings"]:
        if finding["rule"] == "throw-short":
            found[finding["subject"]] = covered(finding["when"], layout.states)
    mine: dict[str, set[State]] = {}
    for variable, state in throw_shorts(layout, in_step=True):
        mine.setdefault(variable, set()).add(state)
    for variable in sorted({*mine, *found}):
        if mine.get(variable) != found.get(variable):
            yield f"throw-short {variable} in a plain check: {found.get(variable)} instead of {mine.get(variable)}"


def main(number: int, seed: int) -> int:
    """Compare layouts made from the seeds from `seed` on."""
    counts: Counter[str] = Counter()
    failed = 0
    start = time.monotonic()
    for one in range(seed, seed + number):
        data = moving_layout(one)
        lines = differences(data)
        layout = Layout(data)
        counts["states"] += len(layout.states)
        counts.update({f"layouts with {rule}" for rule, _ in enumerated(layout)})
        if lines:
            failed += 1
            print(f"--- seed {one}", dump(data), *lines, sep="\n", flush=True)
        if failed >= 3:
            break
    print(f"{one - seed + 1} layouts in {time.monotonic() - start:.0f} s, {failed} differ")
    for name, count in sorted(counts.items()):
        print(f"  {name}: {count}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))
