"""What changed since the last print, against changes made by hand."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from netlister.cli.main import group
from netlister.papers.card import Cards
from netlister.papers.changes import changes
from tests.draw.support import ROOT, circuit, example

OLD = """
buses: {main: {supply: main, colours: {A: BN, B: BU}}}
track:
  a: {length: 1 m}
  b: {length: 1 m}
  T1: {kind: live-frog, hand: right}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
joints: [{from: a, to: T1.toe}, {from: T1.through, to: b, insulate: vee}]
feeds: [{to: [a, b], wire: 0.5 mm2, length: 200 mm}]
wires: [{from: main.A, to: TB1.1, id: spare}]
"""


def rows(old, new):
    found = changes(Cards(circuit(old), "file 1"), Cards(circuit(new), "file 2"))
    return {t.title: [row[:3] for row in t.rows] for t in found}


def test_nothing_changed():
    assert rows(OLD, OLD) == {}
    assert changes(Cards(example("ferry"), "1"), Cards(example("ferry"), "2")) == []


@pytest.mark.parametrize(
    ("old", "new", "wires"),
    [
        (
            "wires: [{from: main.A, to: TB1.1, id: spare}]",
            "wires: []",
            [("take out", "spare", "main.A to TB1.1 (BN)")],
        ),
        (
            "from: main.A, to: TB1.1",
            "from: main.B, to: TB1.1",
            [("move", "spare", "from: main.A > main.B; colour: BN > BU")],
        ),
        (
            "length: 200 mm",
            "length: 300 mm",
            [("change", f"F.{p}.{s}", "length_mm: 200 > 300") for p in "ab" for s in ("left", "right")],
        ),
        (
            "feeds: [",
            "feeds: [{to: T1, A: left}, ",
            [("add", "F.T1.stock-left", "main.A to T1.stock-left (BN)")],
        ),
        (
            "through: T1.stock-right, diverging: T1.stock-left",
            "through: T1.stock-left, diverging: T1.stock-right",
            [
                ("move", "C.M1.frog.through", "to: T1.stock-right > T1.stock-left; colour: BU > BN"),
                ("move", "C.M1.frog.diverging", "to: T1.stock-left > T1.stock-right; colour: BN > BU"),
            ],
        ),
    ],
)
def test_wires_to_add_move_change_and_take_out(old, new, wires):
    assert rows(OLD, OLD.replace(old, new))["Wires"] == wires


def test_only_cards_that_are_not_the_same_are_replaced():
    found = rows(OLD, OLD.replace("through: T1.stock-right", "through: T1.stock-left"))["Cards"]
    assert ("replace", "T1") in {row[:2] for row in found}
    assert "TB1" not in {row[1] for row in found}
    gone = rows(OLD, OLD.replace("wires: [{from: main.A, to: TB1.1, id: spare}]", ""))["Cards"]
    assert ("take down", "TB1", "its card") in gone


def test_by_the_command():
    one, two = (str(ROOT / "examples" / name / "layout.yaml") for name in ("ferry-districts", "ferry"))
    done = CliRunner().invoke(group, ["schedule", two, "--since", one])
    assert done.exit_code == 0, done.output
    assert "K.D2.from" in done.output
    assert "replace" in done.output
    assert "from file " in done.output
    same = CliRunner().invoke(group, ["schedule", two, "--since", two])
    assert "nothing to do" in same.output
    assert CliRunner().invoke(group, ["schedule", two, "--since", one, "--format", "csv"]).exit_code == 2
