"""Layouts and drawings for the tests of drawings."""

from __future__ import annotations

from pathlib import Path
from random import Random

import netlister
from netlister.circuit.build import build
from netlister.layout.read import read_layout
from netlister.source import Source
from tests.properties.layouts import dump, random_layout

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted(p.parent.name for p in (ROOT / "examples").glob("*/layout.yaml"))
HEAD = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V}}\n"
NASTY = "<script>alert(1)</script>&\"'"


def example(name):
    return build(netlister.read_file(str(ROOT / "examples" / name / "layout.yaml")))


def circuit(text):
    return build(read_layout(Source("layout.yaml", HEAD + text)))


def random_circuit(seed):
    return build(read_layout(Source("layout.yaml", dump(random_layout(Random(seed))))))


def first(circuit_):
    return tuple(v.rest for v in circuit_.variables)


def circle(count=12, angle="30 deg"):
    """A circle of curves, each joined to the next."""
    pieces = [f"  c{i}: {{radius: 437.5 mm, angle: {angle}, turn: left}}" for i in range(count)]
    joints = [f"  - {{from: c{i}, to: c{(i + 1) % count}}}" for i in range(count)]
    return "track:\n" + "\n".join(pieces) + "\njoints:\n" + "\n".join(joints) + "\nfeeds: [{to: c0}]\n"


OVAL = """
track:
  front: {length: 300 mm}
  T1: {kind: live-frog-bonded, hand: right}
  east: {radius: 350 mm, angle: 180 deg, turn: left}
  back: {length: 399.5 mm}
  west: {radius: 350 mm, angle: 180 deg, turn: left}
  siding: {length: 200 mm}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
joints:
  - {from: front, to: T1.toe}
  - {from: T1.through, to: east, insulate: vee}
  - {from: east, to: back}
  - {from: back, to: west}
  - {from: west, to: front}
  - {from: T1.diverging, to: siding, insulate: vee}
feeds:
  - {to: [front, back, siding]}
"""

TRIANGLE = """
track:
  west: {length: 600 mm}
  T1: {kind: live-frog-bonded, hand: left}
  middle: {length: 500 mm}
  T2: {kind: live-frog-bonded, hand: right}
  east: {length: 600 mm}
  arm1: {length: 400 mm}
  arm2: {length: 400 mm}
  T3: {kind: live-frog-bonded, hand: wye}
  stub: {length: 500 mm}
joints:
  - {from: west, to: T1.toe}
  - {from: T1.through, to: middle}
  - {from: middle, to: T2.through}
  - {from: T2.toe, to: east}
  - {from: T1.diverging, to: arm1}
  - {from: T2.diverging, to: arm2}
  - {from: arm1, to: T3.right}
  - {from: arm2, to: T3.left, insulate: both}
  - {from: T3.toe, to: stub}
feeds:
  - {to: [west, stub]}
"""
