"""The two probes: continuity against components of a graph by networkx, volts against cases worked out by hand."""

from __future__ import annotations

from random import Random

import networkx as nx
import pytest

import netlister
from netlister.circuit.build import build
from netlister.circuit.model import holds
from tests.browser.address import go
from tests.browser.making import EXAMPLES, example, html_of
from tests.properties.layouts import dump, random_layout

RESISTING = {"diode", "lamp", "resistor"}


def graph(circuit, state, *, over_all):
    """What conducts in a state with the supplies unplugged, poles as nodes like any other."""
    found = nx.Graph()
    found.add_nodes_from(circuit.names)
    components = circuit.layout.components
    for c in circuit.conductors:
        resists = c.what == "component" and components[c.owner].kind in RESISTING
        if holds(c.when, state) and (over_all or not resists):
            found.add_edge(circuit.names[c.a], circuit.names[c.b])
    return found


def reading(page):
    return page.evaluate("""() => [document.getElementById("beep").dataset.heard,
      document.getElementById("volts-read").dataset.what, document.getElementById("volts-read").textContent]""")


def probe(page, circuit, state, red, black):
    settings = [("set", f"{v.name}={v.positions[x]}") for v, x in zip(circuit.variables, state, strict=True)]
    go(page, [*settings, ("red", red), ("black", black)])
    assert page.locator("#probe-0").input_value() == red
    assert page.locator("#probe-1").input_value() == black
    return reading(page)


def beeps(page, circuit, rng, count):
    heard = set()
    names = [circuit.names[node] for node in circuit.rails]
    for _ in range(count):
        state = tuple(rng.randrange(len(v.positions)) for v in circuit.variables)
        clear, whole = (graph(circuit, state, over_all=over) for over in (False, True))
        red = rng.choice(names)
        near = sorted(nx.node_connected_component(whole, red) & set(names))
        black = rng.choice(near if rng.random() < 0.5 else names)
        expected = (
            "beep" if nx.has_path(clear, red, black) else "resists" if nx.has_path(whole, red, black) else "silent"
        )
        assert probe(page, circuit, state, red, black)[0] == expected, (state, red, black)
        heard.add(expected)
    return heard


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_beep_on_every_example(name, opened):
    layout = example(name)
    circuit = build(layout)
    heard = beeps(opened(html_of(layout)), circuit, Random(name), 24)
    assert {"beep", "silent"} <= heard or (name == "crossover" and heard == {"beep"})  # its poles are joined throughout


@pytest.mark.parametrize("seed", range(100, 108))
def test_the_beep_on_random_layouts(seed, opened):
    layout = netlister.read_text(dump(random_layout(Random(seed))))
    beeps(opened(html_of(layout)), build(layout), Random(seed), 12)


CABS = """format: netlister/1
supplies:
  cab1: {type: dc, voltage: 12 V, trip: 1 A}
  cab2: {type: dc, voltage: 9 V, trip: 1 A, common: cab1.B, positive: A}
  far: {type: dcc, voltage: 15 V}
track: {one: {length: 1 m}, two: {length: 1 m}, three: {length: 1 m}, none: {length: 1 m}, lamp: {length: 1 m}}
components: {L1: {kind: lamp, from: one.left, to: lamp.left}}
feeds:
  - {to: one, from: cab1, A: left, B: right}
  - {to: two, from: cab2, A: left, B: right}
  - {to: three, from: far, A: left, B: right}
"""


@pytest.mark.parametrize(
    ("red", "black", "heard", "what", "words"),
    [
        # `positive` is B where nothing is said: the right-hand rail is plus (NMRA S-9, NEM 631)
        ("one.right", "one.left", "silent", "dc", "+12 V, direct: one.right is plus"),
        ("one.left", "one.right", "silent", "dc", "\u221212 V, direct: one.right is plus"),
        ("two.left", "two.right", "silent", "dc", "+9 V, direct: two.left is plus"),
        ("one.right", "two.right", "beep", "same", "0 V, both on cab1.B"),
        ("one.left", "two.left", "silent", "two", "up to 21 V"),
        ("three.left", "three.right", "silent", "ac", "15 V, alternating (DCC)"),
        ("three.left", "one.left", "silent", "apart", "share no pole"),
        ("none.left", "one.left", "silent", "dead", "no pole at none.left"),
        ("one.left", "lamp.left", "resists", "same", "0 V, both on cab1.A"),
        ("one.left", "one.left", "beep", "same", "both probes on one rail"),
    ],
)
def test_volts_by_hand(red, black, heard, what, words, opened):  # noqa: PLR0917
    layout = netlister.read_text(CABS)
    page = opened(html_of(layout))
    found = probe(page, build(layout), (), red, black)
    assert found[:2] == [heard, what]
    assert words in found[2]


DEVICES = """format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track: {line: {length: 1 m}, loop: {length: 1 m}, T1: {kind: live-frog-bonded, hand: right}, bad: {length: 1 m}}
reversers: {R1: {from: main, mode: automatic}}
frog-units: {U1: {feeds: T1.frog, from: main}}
joints: [{from: line, to: T1.toe}]
feeds: [{to: line}, {to: loop, from: R1}, {to: bad, A: left, B: left}]
"""


@pytest.mark.parametrize(
    ("red", "black", "what", "words"),
    [
        ("loop.left", "loop.right", "ac", "15 V"),
        ("loop.left", "line.left", "device", "as R1 stands"),
        ("T1.frog", "line.left", "device", "as U1 stands"),
        ("bad.left", "line.left", "short", "the supply trips"),
    ],
)
def test_volts_of_automatic_devices(red, black, what, words, opened):
    layout = netlister.read_text(DEVICES)
    found = probe(opened(html_of(layout)), build(layout), (0,), red, black)
    assert found[1] == what
    assert words in found[2]


def test_probes_by_tap_and_by_list(opened):
    page = opened(html_of(example("one-frog")))
    page.get_by_label("puts the red probe there").check()
    rails = page.locator("#sheet path.rail[data-rail]")
    names = [rails.nth(i).get_attribute("data-rail") for i in range(rails.count())]
    for which, index in ((0, 0), (1, len(names) - 1)):  # after the red one the black one is next
        spot = rails.nth(index).evaluate("""(path) => {
          const p = path.getPointAtLength(path.getTotalLength() / 2).matrixTransform(path.getScreenCTM());
          return [p.x, p.y];
        }""")
        page.mouse.click(*spot)
        assert page.locator(f"#probe-{which}").input_value() == names[index]
    assert page.locator("#sheet .probe").count() == 2
    assert reading(page)[0] in {"beep", "silent"}
    page.get_by_label("Red probe", exact=True).fill("nowhere.left")
    page.keyboard.press("Tab")
    assert "There is no rail nowhere.left" in page.locator("#beep").text_content()
    page.get_by_label("Red probe", exact=True).fill(names[-1])
    page.keyboard.press("Tab")
    assert reading(page)[0] == "beep"
