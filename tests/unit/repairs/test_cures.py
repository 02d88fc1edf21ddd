"""Cures of mistakes made by hand in layouts written by hand; each is obeyed and checked by plain enumeration."""

from __future__ import annotations

import pytest

import netlister
from netlister.edits.text import new_text, text_edits
from netlister.source import Source
from tests.properties import reference

HEAD = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}\n"
CROSSOVER = (
    HEAD
    + """\
track:
  nw: {length: 1 m}
  ne: {length: 1 m}
  sw: {length: 1 m}
  se: {length: 1 m}
  T1: {kind: live-frog, hand: right}
  T2: {kind: live-frog, hand: right}
machines:
  M1:
    throws: [T1, T2]
    contacts:
      f1: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}
      f2: {common: T2.frog, through: T2.stock-right, diverging: T2.stock-left}
joints:
  - {from: nw, to: T1.toe}
  - {from: T1.through, to: ne, insulate: vee}
  - {from: se, to: T2.toe}
  - {from: T2.through, to: sw, insulate: vee}
  - {from: T1.diverging, to: T2.diverging, insulate: both}
feeds:
  - {to: [nw, ne], A: left, B: right}
  - {to: [se, sw], A: right, B: left}
"""
)
BONDED = CROSSOVER.replace("kind: live-frog,", "kind: live-frog-bonded,")
LOOP = (
    HEAD
    + """\
track:
  line: {length: 2 m}
  loop: {radius: 450 mm, angle: 300 deg, turn: left}
  T1: {kind: live-frog-bonded, hand: wye}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop, insulate: both}
  - {from: loop, to: T1.left, insulate: both}
feeds:
  - {to: line}
  - {to: loop, from: R1}
"""
)
PLAIN = """\
format: netlister/1
supplies:
  cab1: {type: dc, voltage: 12 V, trip: 1 A}
  cab2: {type: dc, voltage: 12 V, trip: 1 A, common: cab1.B}
track: {west: {length: 1 m}, middle: {length: 1 m}, east: {length: 1 m}}
switches:
  S1: {positions: [cab1, off, cab2], contacts: {rail: {common: middle.left, cab1: cab1.A, cab2: cab2.A}}}
joints:
  - {from: west, to: middle, insulate: left}
  - {from: middle, to: east, insulate: left}
feeds:
  - {to: west, from: cab1}
  - {to: east, from: cab2, A: left}
expect:
  - {track: middle, is: dead, when: {S1: off}}
"""
JUMPERS = (
    HEAD
    + """\
track: {a: {length: 1 m}, b: {length: 1 m}, c: {length: 1 m}, T1: {kind: insulated-frog, hand: right, jumpers: true}}
joints: [{from: a, to: T1.toe}, {from: T1.through, to: b}, {from: T1.diverging, to: c}]
feeds: [{to: a}]
expect: [{track: [b, c], is: live}]
"""
)


@pytest.mark.parametrize("text", [CROSSOVER, BONDED, LOOP, PLAIN, JUMPERS])
def test_they_are_right(text):
    assert netlister.check_text(text).findings == ()


@pytest.mark.parametrize(
    ("right", "old", "new", "said"),
    [
        (
            CROSSOVER,
            "diverging, insulate: both",
            "diverging",
            "insulate 'T1.diverging/T2.diverging': write 'insulate: both' there",
        ),
        (
            CROSSOVER,
            "T1.stock-right, diverging: T1.stock-left",
            "T1.stock-left, diverging: T1.stock-right",
            "swap the two throws of 'f1'",
        ),
        (CROSSOVER, "{to: [nw, ne], A: left, B: right}", "{to: nw, A: left, B: right}", "{to: ne, A: left, B: right}"),
        (BONDED, "f2: {common: T2.frog", "f2: {common: T1.frog", "wire the common to T2.frog"),
        (
            BONDED,
            "      f2: {common: T2.frog, through: T2.stock-right, diverging: T2.stock-left}\n",
            "",
            "give T2.frog a changeover contact",
        ),
        (LOOP, "to: loop, insulate: both", "to: loop", "insulate 'T1.right/loop': write 'insulate: both' there"),
        (
            LOOP,
            "  - {to: loop, from: R1}\n",
            "  - {to: loop, from: R1}\n  - {to: loop}\n",
            "take out the feed of 'loop' from 'main'",
        ),
        (LOOP, "  - {to: loop, from: R1}\n", "", "add the feed {to: loop, from: R1, A: left, B: right}"),
        (PLAIN, "common: middle.left", "common: middle.right", "wire the common to middle.left"),
        (PLAIN, ", common: cab1.B}", "}", "write 'common: cab1.B' at 'cab2'"),
        (JUMPERS, ", jumpers: true", "", "fit the jumpers of 'T1', then write 'jumpers: true' there"),
    ],
)
def test_a_mistake_is_among_the_least_repairs_and_each_repair_obeyed_is_right(right, old, new, said):
    assert right.count(old) == 1
    wrong = right.replace(old, new)
    report = netlister.check_text(wrong)
    assert report.findings[0].cause == 1
    told = [one.say for repair in report.causes[1].repairs for one in repair.choices]
    assert any(said in say for say in told), told
    before = reference.reference(reference.load(wrong))
    layout, source = netlister.read_text(wrong), Source("layout.yaml", wrong)
    for repair in report.causes[1].repairs:
        mended = new_text(source, text_edits(layout, source, repair.edit))
        after = reference.reference(reference.load(mended))
        for key, states in after.items():
            assert states <= before.get(key, set()), (repair.say, key)
        assert not after, repair.say


def test_two_mistakes_far_apart_have_a_heading_each():
    wrong = CROSSOVER.replace("[nw, ne]", "[nw]").replace(
        "{to: [se, sw], A: right, B: left}", "{to: [se], A: right, B: left}"
    )
    report = netlister.check_text(wrong)
    assert [len(cause.repairs[0].choices) for cause in report.causes.values()] == [1, 1]


def test_what_nothing_mends_is_said():
    """A lamp cannot be helped by joints: a fuse from pole to pole is a short that no choice takes away."""
    text = (
        HEAD + "track: {a: {length: 1 m}}\nfeeds: [{to: a}]\ncomponents: {F1: {kind: fuse, from: main.A, to: main.B}}\n"
    )
    report = netlister.check_text(text)
    assert report.findings[0].rule == "pole-short"
    assert not report.causes or all(repair.choices for cause in report.causes.values() for repair in cause.repairs)
