"""The circuit as GraphML, DOT and CSV: read back, it is the circuit."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path
from random import Random

import networkx as nx
import pytest

import netlister
from netlister.circuit.build import build
from netlister.circuit.model import holds
from netlister.outputs.graph import dot, graphml, nets_table
from tests.properties.layouts import dump, random_layout

EXAMPLES = sorted((Path(__file__).parents[3] / "examples").glob("*/layout.yaml"))


def circuits():
    for path in EXAMPLES:
        yield path.parent.name, build(netlister.read_file(str(path)))
    for seed in range(30):
        yield f"seed {seed}", build(netlister.read_text(dump(random_layout(Random(seed)))))


CIRCUITS = dict(circuits())


def conducts(when, stands):
    return all(stands.get(variable) in positions for variable, positions in json.loads(when))


def own_components(circuit, state):
    graph = nx.Graph()
    graph.add_nodes_from(circuit.names)
    for c in circuit.conductors:
        if holds(c.when, state):
            graph.add_edge(circuit.names[c.a], circuit.names[c.b])
    return {frozenset(group) for group in nx.connected_components(graph)}


@pytest.mark.parametrize("name", CIRCUITS)
def test_networkx_reads_the_same_components_in_every_state_tried(name):
    circuit = CIRCUITS[name]
    read = nx.read_graphml(io.BytesIO(graphml(circuit).encode()), force_multigraph=True)
    assert [read.nodes[n]["name"] for n in read] == circuit.names
    rng = Random(name)
    for _ in range(5):
        state = tuple(rng.randrange(len(v.positions)) for v in circuit.variables)
        stands = {v.name: v.positions[x] for v, x in zip(circuit.variables, state, strict=True)}
        graph = nx.Graph()
        graph.add_nodes_from(read)
        graph.add_edges_from((a, b) for a, b, d in read.edges(data=True) if conducts(d["when"], stands))
        found = {frozenset(read.nodes[n]["name"] for n in group) for group in nx.connected_components(graph)}
        assert found == own_components(circuit, state)


def test_rails_and_poles_are_told():
    circuit = CIRCUITS["one-frog"]
    read = nx.read_graphml(io.BytesIO(graphml(circuit).encode()), force_multigraph=True)
    by_name = {d["name"]: d for _, d in read.nodes(data=True)}
    frog = by_name["T1.frog"]
    assert (frog["what"], frog["piece"], frog["rail"], frog["pole"]) == ("rail", "T1", "frog", "")
    assert by_name["kiln.left"]["pole"] == "main.A"
    assert by_name["M1.frog.common"]["what"] == "contact"
    (contact,) = [d for *_, d in read.edges(data=True) if d["conductor"] == "contact" and "through" in d["when"]]
    assert (contact["owner"], json.loads(contact["when"])) == ("M1.frog", [["M1", ["through"]]])
    assert contact["ohm_low"] <= contact["ohm_high"]


DOT_STRING = r'"((?:[^"\\\n]|\\.)*)"'
DOT_LINE = re.compile(rf"^  (t\d+)(?: -- (t\d+))? \[((?:\w+={DOT_STRING}(?:, )?)+)\];$")


def read_dot(text):
    """Nodes and edges of DOT as written here; any line that is not exactly one of them is an error."""
    lines = text.splitlines()
    assert lines[0] == "graph circuit {"
    assert lines[-1] == "}"
    nodes, edges = {}, []
    for line in lines[2:-1]:
        match = DOT_LINE.match(line)
        assert match, line
        said = {k: re.sub(r"\\(.)", r"\1", v) for k, v in re.findall(rf"(\w+)={DOT_STRING}", match[3])}
        if match[2]:
            edges.append((match[1], match[2], said))
        else:
            nodes[match[1]] = said
    return nodes, edges


@pytest.mark.parametrize("name", CIRCUITS)
def test_dot_has_every_terminal_and_conductor(name):
    circuit = CIRCUITS[name]
    nodes, edges = read_dot(dot(circuit))
    assert [n["label"] for n in nodes.values()] == circuit.names
    plain = [(a, b, e) for a, b, e in edges if e["style"] != "dotted"]
    assert [(nodes[a]["label"], nodes[b]["label"]) for a, b, _ in plain] == [
        (circuit.names[c.a], circuit.names[c.b]) for c in circuit.conductors
    ]
    assert [e["style"] == "dashed" for *_, e in plain] == [bool(c.when) for c in circuit.conductors]


@pytest.mark.parametrize("name", CIRCUITS)
def test_the_table_has_the_nets_of_the_netlist(name):
    from netlister.outputs.netlist_nets import net_names

    circuit = CIRCUITS[name]
    rows = list(csv.DictReader(io.StringIO(nets_table(circuit), newline="")))
    assert {r["terminal"].lstrip("'"): r["net"].lstrip("'") for r in rows} == dict(
        zip(circuit.names, net_names(circuit), strict=True)
    )


HOSTILE = ["=1+1", "@x", '"', "a];b--c[", "<b>&", "]]>", "\\", '\\"', "\\N", "é 漢", "--", "', '"]


def test_hostile_names_come_back_as_they_are():
    quoted = ["'" + n.replace("'", "''") + "'" for n in HOSTILE]
    text = "format: netlister/1\nsupplies: {m: {type: dcc, voltage: 12 V}}\ntrack:\n" + "".join(
        f"  {n}: {{length: 1 m}}\n" for n in quoted
    )
    circuit = build(netlister.read_text(text + f"feeds: [{{to: [{', '.join(quoted)}]}}]\n"))
    read = nx.read_graphml(io.BytesIO(graphml(circuit).encode()), force_multigraph=True)
    assert [d["name"] for _, d in read.nodes(data=True)] == circuit.names
    nodes, _ = read_dot(dot(circuit))
    assert [n["label"] for n in nodes.values()] == circuit.names
    rows = list(csv.reader(io.StringIO(nets_table(circuit), newline="")))
    assert all(len(row) == 6 for row in rows)
    cells = {row[1] for row in rows}
    assert "'=1+1.left" in cells
    assert not any(cell[:1] in tuple("=+-@") for row in rows for cell in row if cell)
