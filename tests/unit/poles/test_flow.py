"""What reaches what over links that conduct sometimes, against reachability in each state as networkx has it."""

from __future__ import annotations

import itertools
import random

import networkx as nx
import pytest

from netlister.poles.diagram import ALWAYS, NEVER, Diagrams
from netlister.poles.flow import flow


@pytest.mark.parametrize("seed", range(60))
def test_flow_agrees_with_reachability_in_each_state(seed):
    rng = random.Random(seed)
    arities = [rng.choice([2, 2, 3]) for _ in range(rng.randint(1, 4))]
    diagrams = Diagrams(arities)
    states = list(itertools.product(*map(range, arities)))
    places = list(range(rng.randint(2, 8)))
    links: dict[int, dict[int, int]] = {place: {} for place in places}
    for a, b in itertools.combinations_with_replacement(places, 2):  # a net may be joined to itself
        if rng.random() < 0.45:
            held = {rng.randrange(len(arities)): None for _ in range(rng.randint(1, 2))}
            when = diagrams.condition((v, (rng.randrange(arities[v]),)) for v in held)
            links[a][b] = when
            if rng.random() < 0.8:  # else it leads one way
                links[b][a] = when
    for place in places:
        if rng.random() < 0.2:
            links[place][place] = ALWAYS
    reach = {place: {} for place in places}
    for source in range(100, 103):
        given = rng.choice((ALWAYS, diagrams.literal(0, (0,))))
        reach[rng.choice(places)][source] = given
    before = {place: dict(has) for place, has in reach.items()}
    flow(diagrams, links, reach)
    for state in states:
        graph = nx.DiGraph()
        graph.add_nodes_from(places)
        graph.add_edges_from((a, b) for a in places for b, f in links[a].items() if diagrams.value(f, state))
        for place, has in before.items():
            graph.add_edges_from((source, place) for source, f in has.items() if diagrams.value(f, state))
        for place in places:
            wanted = {source for source in range(100, 103) if source in graph and nx.has_path(graph, source, place)}
            assert {source for source, f in reach[place].items() if diagrams.value(f, state)} == wanted
    assert all(f != NEVER for has in reach.values() for f in has.values())
