"""Node voltages against ngspice, through decks of resistors written by `reference.py` and not by the solver."""

from __future__ import annotations

import math
import os
import re
import shutil
import subprocess
from pathlib import Path
from random import Random

import pytest

import netlister
from netlister.check import check
from netlister.circuit.build import build
from netlister.circuit.model import holds
from netlister.volts.network_build import build_network
from netlister.volts.operating import Load, Operating, potentials
from tests.amount import LONG
from tests.properties.layouts import dump
from tests.properties.reference import load as load_text
from tests.volts.compare import sound_layout
from tests.volts.reference import Resistors

NGSPICE = shutil.which("ngspice")
needs_ngspice = pytest.mark.skipif(
    NGSPICE is None and "NETLISTER_CI" not in os.environ, reason="ngspice is not installed; apt-get install ngspice"
)
EXAMPLES = sorted(
    p.parent.name
    for p in (Path(__file__).parents[2] / "examples").glob("*/layout.yaml")
    if not p.parent.name.startswith("every-piece")  # its states are too many to list one by one
)
TINY = 1e-9


def spice(resistors, held, loads, folder):
    """The voltage of every node by ngspice. Resistors of zero are merged, as the simulator wants none."""
    head = merged(resistors)
    lines, numbers = ["* resistors"], {"0": "0"}

    def node(name):
        return f"n{numbers.setdefault(head.get(name, name), len(numbers))}"

    for number, (a, b, ohm) in enumerate(resistors):
        if ohm and node(a) != node(b):
            lines.append(f"r{number} {node(a)} {node(b)} {ohm:.17g}")
    done = set()
    for number, (pole, volts) in enumerate(sorted(held.items())):
        if node(pole) not in done:
            done.add(node(pole))
            lines.append(f"v{number} {node(pole)} 0 {volts:.17g}")
    for number, (a, b, amps) in enumerate(loads):
        lines.append(f"i{number} {node(a)} {node(b)} {amps:.17g}")
    for name, number in numbers.items():
        if name != "0":
            lines.append(f"rleak{number} n{number} 0 1e12")
    lines += [".options reltol=1e-9 abstol=1e-9 vntol=1e-9", ".op", ".end"]
    deck = folder / "deck.cir"
    deck.write_text("\n".join(lines) + "\n", encoding="utf-8")
    script = folder / "run.cir"
    script.write_text(
        f"run\n.control\nset numdgt=15\nsource {deck}\nop\nprint all\nquit\n.endc\n.end\n", encoding="utf-8"
    )
    done = subprocess.run([NGSPICE, "-b", str(script)], capture_output=True, text=True, check=False, timeout=120)
    found = {m[1]: float(m[2]) for m in re.finditer(r"^(n\d+) = (\S+)$", done.stdout, re.MULTILINE)}
    assert found, done.stdout + done.stderr
    return lambda name: found[node(name)]


def merged(resistors):
    """The node that stands for each of those that resistors of zero join."""
    import networkx as nx

    graph = nx.Graph()
    graph.add_nodes_from(n for a, b, _ in resistors for n in (a, b))
    graph.add_edges_from((a, b) for a, b, ohm in resistors if not ohm)
    return {n: min(group) for group in nx.connected_components(graph) for n in group}


def faults(text, folder, seed):
    """Voltages that differ, over one random state with random trains."""
    layout = netlister.read_text(text)
    assert not check(layout, ["pole-short"], causes=False).findings, "what is shorted has no voltage to compare"
    network = build_network(build(layout))
    plain = Resistors(load_text(text))
    rng = Random(seed)
    state = rng.choice(plain.layout.states)
    setting = dict.fromkeys(plain.devices, "A")
    values = [v.positions.index(dict(state)[v.name]) for v in network.circuit.variables]
    resistors = plain.of(state, setting)
    held = {network.names[n]: volts for n, volts in potentials(network).items()}
    operating = Operating(network, (*values, *(0 for _ in network.circuit.devices)))
    before = operating.voltages()
    loads, trains = [], []
    for piece in plain.layout.pieces:
        if plain.layout.is_section(piece) and rng.random() < 0.6:
            ends = [plain.rail_node(f"{piece}.{rail}", plain.length(piece)) for rail in ("left", "right")]
            left, right = network.spots(piece, "a-b", plain.length(piece))
            if not any(math.isnan(operating.at(before, spot)) for spot in (left, right)):
                amps = rng.uniform(-1, 1)
                loads.append(Load(left, right, amps))
                trains.append((*ends, amps))
    volts = operating.voltages(loads)
    known = spice(resistors, held, trains, folder)
    found = []
    for piece in plain.layout.pieces:
        for rail in plain.layout.kinds[piece].rails:
            spots = [(f"{piece}.{rail}", network.rails[piece, rail].middle)]
            if plain.layout.is_section(piece):
                points = network.rails[piece, rail].points
                spots = [(plain.rail_node(f"{piece}.{rail}", place), node) for place, node in points]
            for name, node in spots:
                if not math.isnan(volts[node]):
                    mine, theirs = volts[node], known(name)
                    if not math.isclose(mine, theirs, rel_tol=1e-6, abs_tol=1e-7):
                        found.append(f"{name}: {mine}, by ngspice {theirs}")
    return found


@needs_ngspice
@pytest.mark.parametrize("seed", range(40))
def test_random_layouts_node_by_node(seed, tmp_path):
    data = sound_layout(seed + 1000)
    data.pop("frog-units", None)  # a unit's pole depends on what else there is
    assert faults(dump(data), tmp_path, seed) == []


@needs_ngspice
@pytest.mark.parametrize("name", EXAMPLES)
def test_examples_node_by_node(name, tmp_path):
    file = Path(__file__).parents[2] / "examples" / name / "layout.yaml"
    text = file.read_text(encoding="utf-8")
    if re.search("^use:", text, re.MULTILINE) or (name == "terminus" and not LONG):  # its many states are listed there
        assert faults_of_the_network(netlister.read_file(str(file)), tmp_path) == []
        return
    if check(netlister.read_text(text), ["pole-short"], causes=False).findings:
        pytest.skip("its poles are joined, so there is no voltage to compare")
    text = re.sub(r"[0-9.]+ mm2", "9 mohm/m", text)
    lines = [line for line in text.splitlines() if not line.startswith("rail:")] + ["rail: 57 mohm/m", ""]
    assert faults("\n".join(lines), tmp_path, 1) == []


def faults_of_the_network(layout, folder):
    """Voltages that differ in the first state, where kinds are not those that the plain enumeration knows."""
    network = build_network(build(layout))
    state = tuple(0 for _ in network.variables)
    names = [f"{name}/{n}" for n, name in enumerate(network.names)]
    resistors = [(names[e.a], names[e.b], e.ohm.high) for e in network.elements if holds(e.when, state)]
    held = {names[n]: volts for n, volts in potentials(network).items()}
    volts = Operating(network, state).voltages()
    known = spice(resistors, held, [], folder)
    return [n for n, v in enumerate(volts) if not math.isnan(v) and not math.isclose(v, known(names[n]), rel_tol=1e-6)]
