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


HAND = """\
format: netlister/1
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A}
buses:
  main: {supply: main, wire: 2.5 mm2, length: 6 m}
  yard: {supply: main, wire: 2.5 mm2, length: 3 m, breaker: 2 A}
track:
  approach: {length: 600 mm}
  branch: {length: 900 mm}
  siding: {length: 450 mm}
  T1: {kind: live-frog, hand: right}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
switches:
  S1: {positions: [on, off], contacts: {c: {common: TB1.1, on: main.A}}}
joints:
  - {from: approach, to: T1.toe}
  - {from: T1.through, to: branch, insulate: vee}
  - {from: T1.diverging, to: siding, insulate: both}
feeds:
  - {to: approach, from: main, A: left, B: right, tap: 1 m}
  - {to: siding, from: main, B: right, tap: 1 m}
  - {to: branch, from: main, A: left, B: right, at: 450 mm, tap: 2 m, wire: 0.5 mm2, length: 250 mm}
wires:
  - {from: TB1.1, to: siding.left}
"""


@pytest.mark.parametrize(
    ("was", "now", "told"),
    [
        (", insulate: both", "", ["- insulated, insulated\n  + metal, metal", "came: error pole-short"]),
        ("insulate: both", "insulate: left", ["+ insulated, metal", "joined in all positions: M1.frog.through, siding.r"]),
        ("to: siding, insulate", "to: siding.b, insulate", ["joint T1.frog to siding.right and", "came: error gap-clash"]),
        ("through: T1.stock-right, diverging", "through: T1.stock-left, diverging", ["contact M1.frog\n", "came: error"]),
        ("A: left, B: right, tap", "A: right, B: left, tap", ["feed main.A to approach.right\n  + fed", "pole-short"]),
        ("A: left, B: right, at", "A: left, at", ["feed main.B to branch.right\n  - fed", "came: error floating-net"]),
        ("branch, from: main", "branch, from: yard", ["+ fed from yard, at 450 mm", "came: warning districts-joined"]),
        ("at: 450 mm", "at: 100 mm", ["- fed, at 450 mm", "+ fed, at 100 mm"]),
        ("tap: 2 m", "tap: 5 m", ["tap 5 m"]),
        ("wire: 0.5 mm2", "wire: 0.14 mm2", ["+ fed, at 450 mm, tap 2 m, 0.14 mm2", "came: warning wire-load"]),
        ("length: 6 m}", "length: 6 m, form: ring}", ["bus main\n  - of main, line, 2.5 mm2", "+ of main, ring"]),
        ("breaker: 2 A", "breaker: 1 A", ["- of main, line, 2.5 mm2, 3 m long, trips at 2 A"]),
        ("trip: 3 A", "trip: 5 A", ["supply main\n", "trips at 5 A"]),
        ("on: main.A", "off: main.A", ["contact S1.c\n", "+ common to TB1.1, on to nothing, off to main.A"]),
        ("to: siding.left}", "to: siding.left, wire: 0.5 mm2}", ["wire TB1.1 to siding.left\n  - wired\n  + wired, 0.5 mm2"]),
        ("kind: live-frog", "kind: live-frog-bonded", ["- live-frog, right\n  + live-frog-bonded, right"]),
    ],
)  # fmt: skip
def test_a_change_by_hand_is_told(was, now, told):
    assert HAND.count(was) == 1
    found = compare(read(HAND), read(HAND.replace(was, now)))
    assert not found.same
    assert not found.renamed
    for text in told:
        assert text in text_of(found)


@pytest.mark.parametrize("names", [{"siding": "goods"}, {"siding": "A0", "T1": "P1"}, {"M1": "MM"}, {"TB1": "TS"}, {"main": "mm"},
                                   {"siding": "a", "branch": "z", "T1": "P1", "M1": "MM", "S1": "SW", "TB1": "TS"}])  # fmt: skip
def test_what_is_renamed_is_told_and_is_no_change(names):
    import re

    text = HAND
    for old, new in names.items():
        text = re.sub(rf"\b{old}\b", new, text)
    found = compare(read(HAND), read(text))
    assert found.same, text_of(found)
    assert {(one.old.partition(".")[0], one.new.partition(".")[0]) for one in found.renamed} == {*names.items()}
    wrong = compare(read(HAND), read(text.replace(", insulate: both", "")))
    assert [d.section for d in wrong.entries] == ["joint"]
    assert {f.rule for f in wrong.came} >= {"pole-short"}
    assert len(wrong.renamed) == len(found.renamed)


def test_names_that_change_places_are_no_renaming():
    """Each is a thing of its own that has a label: where both names were there, it is the wiring that changed."""
    text = HAND.replace("siding", "x-x").replace("branch", "siding").replace("x-x", "branch")
    found = compare(read(HAND), read(text))
    assert not found.renamed
    assert not found.same
