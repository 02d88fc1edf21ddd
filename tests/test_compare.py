"""What changed in the wiring, not in the text."""

from __future__ import annotations

from random import Random

import pytest

from netlister.compare import compare, object_of, text_of
from netlister.edits.model import Insulate, Refeed
from netlister.edits.model import apply as made
from netlister.layout.read import read_layout
from netlister.source import Source
from tests.edits.restyle import Restyle
from tests.properties.layouts import dump, random_layout
from tests.properties.test_invariance import shuffled

TEXT = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track: {a: {length: 1 m}, b: {length: 1 m}}
joints: [{from: a, to: b}]
feeds: [{to: a}]
"""


def read(text):
    return read_layout(Source("layout.yaml", text))


@pytest.mark.parametrize("seed", range(30))
def test_style_and_order_change_nothing(seed):
    rng = Random(seed)
    data = random_layout(rng)
    assert compare(read(dump(data)), read(Restyle(rng).text(shuffled(data, rng)))).same


def test_a_joint_cut_parts_a_net_and_brings_a_finding():
    found = compare(read(TEXT), made((Insulate(0, 0, True),), read(TEXT)))
    assert [(d.section, d.old, d.new) for d in found.entries] == [("joint", "metal, metal", "insulated, metal")]
    assert found.parted == (("a.left", "b.left"),)
    assert not found.joined
    assert {f.rule for f in found.came} == {"floating-net", "dead-track"}
    back = compare(made((Insulate(0, 0, True),), read(TEXT)), read(TEXT))
    assert back.joined == found.parted
    assert {f.rule for f in back.went} == {"floating-net", "dead-track"}
    assert "went: error floating-net" in text_of(back)


def test_wires_of_a_feed_that_are_swapped():
    old = read(TEXT)
    new = made((Refeed(0, "main", (("main.A", "a.right"), ("main.B", "a.left"))),), old)
    found = compare(old, new)
    assert {(d.name, d.old, d.new) for d in found.entries} == {
        ("main.A to a.left", "fed", ""),
        ("main.B to a.right", "fed", ""),
        ("main.A to a.right", "", "fed"),
        ("main.B to a.left", "", "fed"),
    }
    plain = object_of(found, "old.yaml", "new.yaml")
    assert plain["format"] == "netlister-difference/1"
    assert not plain["same"]
