"""The plan: what the page relies on, poles as the command `poles` tells them, nothing but text from names."""

from __future__ import annotations

import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from netlister.circuit.states import rail_poles
from netlister.draw.labels import Box, Label, Paper
from netlister.draw.laying import laid_out, remarks
from netlister.draw.placing import upon_another
from netlister.draw.plan import plan_svg
from netlister.draw.text import shortened, width, wrapped
from tests.draw.support import (
    EXAMPLES,
    NASTY,
    OVAL,
    ROOT,
    TRIANGLE,
    circle,
    circuit,
    example,
    first,
    random_circuit,
)

SVG = "{http://www.w3.org/2000/svg}"
SEEDS = range(48)


def drawn(made, state=None):
    return ET.fromstring(plan_svg(made, first(made) if state is None else state))


def classes(element):
    return element.get("class", "").split()


def check_contract(made, state):
    """What a page relies on: a group per piece, every rail with its terminal and its pole, joints and feeds by name."""
    root = drawn(made, state)
    layout = made.layout
    assert classes(root) == ["plan"]
    assert root.get("viewBox")
    pieces = {g.get("data-piece"): g for g in root.iter(f"{SVG}g") if "piece" in classes(g)}
    assert list(pieces) == list(layout.pieces)
    poles = rail_poles(made, state)
    letters = {p.name: f"pole-{p.letter}" for p in made.poles}
    seen = set()
    for name, group in pieces.items():
        for path in group.iter(f"{SVG}path"):
            if "rail" in classes(path):
                terminal = path.get("data-rail")
                seen.add(terminal)
                assert terminal.startswith(f"{name}.")
                has = poles[terminal]
                wanted = "pole-none" if not has else "pole-both" if len(has) > 1 else letters.get(has[0], "pole-unit")
                assert classes(path) == ["rail", wanted]
    moving = {
        f"{p.name}.{rail}"
        for p in layout.pieces.values()
        if p.kind.gaps or p.kind.name == "catch-turnout"
        for rail in p.kind.rails
    }
    assert set(poles) - moving <= seen <= set(poles)
    named = [g.get("data-joint") for g in root.iter(f"{SVG}g") if "joint" in classes(g)]
    assert set(named) <= {j.name for j in layout.joints}
    assert len([g for g in root.iter(f"{SVG}g") if "feed" in classes(g)]) == len(layout.feeds)
    labels = [t.get("data-for") for t in root.iter(f"{SVG}text") if "label" in classes(t)]
    assert sorted(labels) == sorted(layout.pieces)
    return root


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_contract_of_every_example(name):
    made = example(name)
    check_contract(made, first(made))
    check_contract(made, tuple(len(v.positions) - 1 for v in made.variables))
    joints = {g.get("data-joint") for g in drawn(made).iter(f"{SVG}g") if "joint" in classes(g)}
    assert joints == {j.name for j in made.layout.joints}


@pytest.mark.parametrize("seed", SEEDS)
def test_the_contract_of_random_layouts(seed):
    made = random_circuit(seed)
    check_contract(made, first(made))


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_track_lies_on_other_track(name):
    layout = example(name).layout
    assert upon_another(layout, laid_out(layout).placed) == set()


def test_where_track_must_cross_it_is_said():
    """Random layouts need not fit a plane; what crosses is told, and it is rare."""
    crossing = 0
    for seed in SEEDS:
        layout = random_circuit(seed).layout
        drawing = laid_out(layout)
        bent = {n: p for d in drawing.parts if not d.true for n, p in d.placed.items()}
        found = upon_another(layout, bent)
        assert set(drawing.crossing) == found
        assert all(any(f"{a} and {b} cross" in text for text in remarks(drawing)) for a, b in found)
        crossing += bool(found)
    assert crossing <= len(SEEDS) // 10


def test_a_triangle_a_circle_and_an_oval():
    made = circuit(TRIANGLE)
    assert upon_another(made.layout, laid_out(made.layout).placed) == set()
    for text in (circle(), OVAL):
        drawing = laid_out(circuit(text).layout)
        assert [d.true for d in drawing.parts] == [True]
        assert remarks(drawing) == []
    crossing = laid_out(circuit(OVAL.replace("hand: right", "hand: left")).layout)
    assert any("siding" in text and "lie upon" in text for text in remarks(crossing))


def test_parts_that_do_not_hang_together_stand_below_each_other():
    drawing = laid_out(example("every-piece").layout)
    spans = []
    for part in drawing.parts:
        ys = [y for one in part.placed.values() for way in one.ways.values() for line in way for _, y in line]
        spans.append((max(ys), min(ys)))
    assert len(spans) >= 4
    assert all(low > high for (_, low), (high, _) in pairwise(spans))


def test_track_runs_from_left_to_right():
    made = circuit(
        "track: {a: {length: 1 m}, b: {length: 1 m}, c: {length: 1 m}}\njoints: [{from: a, to: b}, {from: b, to: c}]\n"
    )
    placed = laid_out(made.layout).placed
    xs = [placed[n].ends[e][0] for n in "abc" for e in "ab"]
    assert xs == sorted(xs)


def test_names_stay_text():
    quoted = "'" + NASTY.replace("'", "''") + "'"
    text = f"title: {quoted}\ntrack:\n  {quoted}: {{length: 500 mm}}\n  b: {{length: 500 mm}}\n"
    text += f"joints: [{{from: {quoted}, to: b, id: {quoted[:-1]}x'}}]\n"
    made = circuit(text)
    svg = plan_svg(made, ())
    assert "<script" not in svg.casefold()
    root = ET.fromstring(svg)
    assert NASTY in [t.text for t in root.iter(f"{SVG}text")]
    assert NASTY in [g.get("data-piece") for g in root.iter(f"{SVG}g")]
    assert NASTY + "x" in [g.get("data-joint") for g in root.iter(f"{SVG}g")]


@pytest.mark.parametrize("name", EXAMPLES)
def test_nothing_runs_and_nothing_is_fetched(name):
    made = example(name)
    svg = plan_svg(made, first(made))
    assert not re.search(r"<script|\son\w+=|javascript:|@import|url\(|href|<image|<foreignObject|<use", svg)
    assert set(re.findall(r"https?://[^\s\"']+", svg)) == {"http://www.w3.org/2000/svg"}


def test_the_same_layout_gives_the_same_bytes_in_another_process():
    code = (
        "import sys; from tests.draw.support import *; from netlister.draw.plan import plan_svg;"
        "from netlister.papers.card import card_svg; m = example('terminus');"
        "sys.stdout.buffer.write((plan_svg(m, first(m)) + card_svg(m, 'X1')).encode())"
    )
    runs = [
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert runs[0] == runs[1]
    assert runs[0].startswith(b"<svg")


def test_what_a_state_changes_is_only_poles_and_blades():
    made = example("ferry")
    one, two = (drawn(made, s) for s in ((0, 0, 0, 0), (1, 0, 0, 0)))
    labels = [
        [(t.get("x"), t.get("y"), t.text) for t in root.iter(f"{SVG}text") if "label" in classes(t)]
        for root in (one, two)
    ]
    assert labels[0] == labels[1]
    assert labels[0]


def test_labels_never_share_a_place():
    paper = Paper()
    put = [paper.put(Label(f"piece {i}", str(i), "name", 12.0, (0.0, 0.0), 8.0)) for i in range(300)]
    boxes = [p.label.box(p.x, p.y) for p in put]
    assert not any(a.meets(b) for i, a in enumerate(boxes) for b in boxes[:i])
    assert Box(0, 0, 1, 1).meets(Box(0.5, 0.5, 2, 2))
    assert not Box(0, 0, 1, 1).meets(Box(1, 0, 2, 1))


def test_text_is_cut_and_wrapped():
    assert shortened("approach", 10, 1000) == "approach"
    cut = shortened("approach" * 20, 10, 100)
    assert cut.endswith("…")
    assert width(cut, 10) <= 100
    assert all(width(line, 10) <= 120 for line in wrapped("all sorts of words " * 10, 10, 120))


def test_an_unknown_gauge_of_text_is_no_narrower_than_what_is_known():
    assert width("日本", 10) >= 20
    assert width("Ж", 10) >= 7
