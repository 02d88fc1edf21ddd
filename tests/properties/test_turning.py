"""`reversing-route` against networkx: signed graphs of the track of random layouts, odd cycles by another way.

A signed graph has no odd cycle exactly if each node and its mirror image are apart in the double cover (T. Zaslavsky,
"Signed graphs", 1982).
"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

import networkx as nx
import pytest

import netlister
from netlister.routes.track import TrackGraph
from netlister.routes.turning import Graph
from netlister.rules import reversing_route
from netlister.rules.analysis import Analysis
from tests.amount import seeds
from tests.properties.layouts import dump, random_layout
from tests.properties.reference import ENTERING, Layout

if TYPE_CHECKING:
    from collections.abc import Iterable

SEEDS = seeds(120, 1200)
Node = tuple[str, str]


def parts(layout: Layout, piece: str) -> list[set[str]]:
    """The ends of a piece that trains can go between, with changes of direction, in the states that are left."""
    graph = nx.Graph()
    for route in layout.kinds[piece].routes:
        if any(route in layout.set_routes(piece, state) for state in layout.states):
            graph.add_edge(*route.ends)
    return [set(part) for part in nx.connected_components(graph)]


def signed(layout: Layout) -> tuple[list[Node], list[tuple[Node, Node, bool]]]:
    """The nodes, and the joints between them, each with whether left meets right."""
    of = {(piece, end): (piece, min(part)) for piece in layout.pieces for part in parts(layout, piece) for end in part}
    edges = []
    for joint in layout.joints:
        one, other = joint.ends
        if one in of and other in of:
            together = any(
                layout.end_is_set(*one, state) and layout.end_is_set(*other, state) for state in layout.states
            )
            if together or layout.is_section(one[0]) or layout.is_section(other[0]):
                edges.append((of[one], of[other], (one[1] in ENTERING) == (other[1] in ENTERING)))
    return sorted(set(of.values())), edges


def has_odd_cycle(nodes: Iterable[Node], edges: Iterable[tuple[Node, Node, bool]]) -> bool:
    """Whether a node is joined to its mirror image in the double cover."""
    cover = nx.Graph()
    listed = list(nodes)
    cover.add_nodes_from((node, side) for node in listed for side in (False, True))
    for one, other, odd in edges:
        for side in (False, True):
            cover.add_edge((one, side), (other, side != odd))
    return any(nx.has_path(cover, (node, False), (node, True)) for node in listed)


def fixed(layout: Layout, node: Node) -> bool:
    """Whether some rail of every end of a part has only poles of one letter, and no reverser feeds it."""
    piece, name = node
    part = next(part for part in parts(layout, piece) if min(part) == name)
    if layout.expected_dead[piece] and len(layout.expected_dead[piece]) == len(layout.states):
        return False

    def either(rail: str) -> bool:
        alone = [layout.pictures[state].poles[rail] for state in layout.states]
        poles = {pole for one in alone if len(one) == 1 for pole in one}
        return any(pole in layout.outputs for pole in poles) or len({pole[-1] for pole in poles}) > 1

    return not any(all(either(rail) for rail in layout.end_rails(piece, end)) for end in part)


def analysed(seed: int) -> tuple[Layout, Analysis]:
    data = random_layout(Random(seed))
    return Layout(data), Analysis.of(netlister.read_text(dump(data)), 0)


@pytest.mark.parametrize("part", range(10))
def test_odd_cycles(part: int) -> None:
    """There is a reversing route exactly where the double cover says so, and each that is given is one."""
    for seed in SEEDS:
        if seed % 10 != part:
            continue
        layout, analysis = analysed(seed)
        nodes, edges = signed(layout)
        graph = Graph(TrackGraph(analysis.settings))
        cycles = graph.odd_cycles()
        assert bool(cycles) == has_odd_cycle(nodes, edges), seed
        for cycle in cycles:
            assert sum(edge.odd for edge, _ in cycle.edges) % 2 == 1
            assert len(set(cycle.nodes())) == len(cycle.edges)
            places = cycle.places()
            for arrived, left in zip(places[1::2], (*places[2::2], places[0]), strict=True):
                assert graph.of[tuple(arrived.split("."))] == graph.of[tuple(left.split("."))]
        kept = [node for node in nodes if fixed(layout, node)]
        left_over = [(a, b, odd) for a, b, odd in edges if a in kept and b in kept]
        found = [b for b in reversing_route.RULE.find(analysis) if b.about.cycle is not None]
        assert bool(found) == has_odd_cycle(kept, left_over), seed


def test_the_layouts_have_what_is_looked_for() -> None:
    """Odd cycles with and without a section that changes over, and layouts without any."""
    odd = told = 0
    for seed in seeds(80, 200):
        layout, analysis = analysed(seed)
        odd += has_odd_cycle(*signed(layout))
        told += any(b.about.cycle is not None for b in reversing_route.RULE.find(analysis))
    assert 2 <= told < odd < 0.9 * (seed + 1)
