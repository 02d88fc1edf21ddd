"""What a wheel joins on the page, pair by pair of rails, against the tool; and diodes that face each other there."""

from __future__ import annotations

import itertools
from random import Random

import pytest

import netlister
from netlister.circuit.build import build
from netlister.circuit.states import rail_poles
from netlister.rules.analysis import Analysis
from tests.browser.making import compare, html_of
from tests.properties.layouts import dump
from tests.properties.test_diodes import small

SUPPLIES = {
    "stations": "a: {type: dcc, voltage: 15 V}\n  b: {type: dcc, voltage: 15 V, station: visitor}",
    "boosters": "a: {type: dcc, voltage: 15 V}\n  b: {type: dcc, voltage: 15 V}",
    "programming": "a: {type: dcc, voltage: 15 V}\n  b: {type: dcc, voltage: 15 V, output: programming}",
    "signs": "a: {type: dc, voltage: 12 V}\n  b: {type: dc, voltage: 12 V, positive: A}",
    "winding": "a: {type: dc, voltage: 12 V, winding: w}\n  b: {type: dc, voltage: 12 V, winding: w, common: a.B}",
    "types": "a: {type: dc, voltage: 12 V}\n  b: {type: dcc, voltage: 15 V}",
}

JOINED = """(pair) => {
  const circuit = makeCircuit(JSON.parse(document.getElementById("data").textContent));
  const numbers = pair.map((name) => circuit.data.names.indexOf(name));
  return judge(circuit, [[], []], [numbers], circuit.look(circuit.data.state)).what;
}"""


@pytest.mark.parametrize("name", SUPPLIES)
def test_a_wheel_over_a_gap(name, opened):
    text = f"""format: netlister/1
supplies:
  {SUPPLIES[name]}
track: {{west: {{}}, east: {{}}}}
joints: [{{from: west, to: east, insulate: both}}]
feeds: [{{to: west, from: a}}, {{to: east, from: b}}]
"""
    layout = netlister.read_text(text)
    circuit = build(layout)
    analysis = Analysis(circuit)
    page = opened(html_of(layout))
    poles = rail_poles(circuit, ())
    number = {pole.name: n for n, pole in enumerate(circuit.poles)}
    for one, other in itertools.combinations(poles, 2):
        clash = analysis.clash(number[poles[one][0]], number[poles[other][0]])
        assert (page.evaluate(JOINED, [one, other]) == "short") == clash, (one, other)


@pytest.mark.parametrize("seed", range(0, 40, 4))
def test_diodes_that_face_each_other(seed, opened):
    layout = netlister.read_text(dump(small(Random(seed))))
    circuit = build(layout)
    page = opened(html_of(layout))
    compare(page, circuit, rail_poles(circuit, tuple(v.rest for v in circuit.variables)))
