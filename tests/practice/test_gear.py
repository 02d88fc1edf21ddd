"""Gear as modellers fit it: what is right gives no finding, and each usual mistake is found.

Source of every case: common practice, no published source.
"""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

import netlister
from netlister.cli.main import group

DCC = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}%s}\n"
DC = "format: netlister/1\nsupplies: {cab: {type: dc, voltage: 12 V, trip: 1 A}}\n"


def rules(text):
    return {(f.rule, f.subject, f.severity.label) for f in netlister.check_text(text).findings}


def poles(text, tmp_path, *settings):
    file = tmp_path / "layout.yaml"
    file.write_text(text, encoding="utf-8")
    given = [part for setting in settings for part in ("--set", setting)]
    done = CliRunner().invoke(group, ["poles", str(file), *given, "--format", "json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.output)


# ---- machines with one to three contacts, levers with a micro-switch

THREE_CONTACTS = (
    DCC % ", lights: {accessory: true, voltage: 12 V}"
    + """\
track: {line: {length: 1 m}, east: {length: 1 m}, spur: {length: 1 m}, T1: {kind: live-frog, hand: left}}
machines:
  M1:
    type: %s
    throws: [T1]
    contacts:
      frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}
      signal: {common: lights.A, through: GREEN, diverging: RED}
      power: {common: spur.left, diverging: main.A}
components:
  G1: {kind: load, from: GREEN, to: lights.B, rating: 20 mA}
  G2: {kind: load, from: RED, to: lights.B, rating: 20 mA}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: east, insulate: vee}
  - {from: T1.diverging, to: spur, insulate: both}
feeds: [{to: [line, east], from: main}, {to: spur, from: main, B: right}]
expect: [{track: spur, is: dead, when: {M1: through}}]
"""
)


@pytest.mark.parametrize("kind", ["coil", "stall", "servo", "lever"])
def test_a_machine_with_three_contacts(kind):
    """How it moves is told and changes nothing in the circuit."""
    assert rules(THREE_CONTACTS % kind) == set()


def test_a_third_contact_in_the_wrong_sense_leaves_the_spur_dead_for_its_own_route():
    text = (THREE_CONTACTS % "stall").replace("diverging: main.A}", "through: main.A}")
    assert ("dead-track", "spur", "error") in rules(text)
    assert ("expectation", "spur", "error") in rules(text)


LEVER = (
    DCC % ""
    + """\
track:
  line: {length: 1 m}
  T1: {kind: live-frog-bonded, hand: right, contacts: {f: {common: T1.frog, through: %s, diverging: %s}}}
joints: [{from: line, to: T1.toe}]
feeds: [{to: line}]
"""
)


def test_a_lever_with_a_micro_switch():
    assert rules(LEVER % ("T1.stock-right", "T1.stock-left")) == set()
    wrong = rules(LEVER % ("T1.stock-left", "T1.stock-right"))
    assert {("dead-track", "T1", "error"), ("gap-clash", "T1", "error")} == wrong


# ---- relays

RELAY = (
    DCC % ""
    + """\
track: {line: {length: 1 m}, T1: {kind: live-frog-bonded, hand: right}}
machines: {M1: {throws: [T1], type: coil}}
switches:
  K1: {%s, type: %s, contacts: {f: {common: T1.frog, %s: T1.stock-right, %s: T1.stock-left}}}
joints: [{from: line, to: T1.toe}]
feeds: [{to: line}]
"""
)


def test_a_relay_follows_its_machine():
    assert rules(RELAY % ("follows: M1", "relay", "through", "diverging")) == set()
    assert rules(RELAY % ("follows: M1", "latching-relay", "through", "diverging")) == set()


def test_a_latching_relay_that_follows_nothing_may_stand_either_way():
    """It keeps its position when the turnout is thrown by hand, so every combination counts."""
    text = RELAY % ("positions: [set, reset]", "latching-relay", "set", "reset")
    report = netlister.check_text(text).to_json()
    (clash,) = [f for f in report["findings"] if f["rule"] == "gap-clash"]
    assert {tuple(sorted(w.items())) for w in clash["when"]} == {
        (("K1", "set"), ("M1", "diverging")),
        (("K1", "reset"), ("M1", "through")),
    }


# ---- push-buttons, toggles, cab selectors, section switches

BUTTON = (
    DC
    + """\
track: {line: {length: 1 m}, dock: {length: 300 mm}}
switches: {PB: {type: push-button, positions: [pressed, released], rest: released, contacts: {c: {common: dock.left, pressed: line.left}}}}
joints: [{from: line, to: dock, insulate: left}]
feeds: [{to: line}]
"""
)


def test_a_push_button_rests_and_is_checked_in_both_positions(tmp_path):
    assert rules(BUTTON) == {("dead-track", "dock", "note")}
    assert poles(BUTTON, tmp_path)["poles"]["dock.left"] == []
    assert poles(BUTTON, tmp_path, "PB=pressed")["poles"]["dock.left"] == ["cab.A"]
    assert rules(BUTTON + "expect: [{track: dock, is: dead, when: {PB: released}}]\n") == set()


CABS = """\
format: netlister/1
supplies: {one: {type: dc, voltage: 12 V}, two: {type: dc, voltage: 12 V}}
track: {block: {length: 1 m}}
switches:
  S1:
    type: toggle
    positions: [one, off, two]
    contacts:
      l: {common: block.left, one: one.A, two: %s}
      r: {common: block.right, one: one.B, two: %s}
expect: [{track: block, is: dead, when: {S1: off}}, {track: block, is: live, when: {S1: one}}]
"""


def test_a_cab_selector_of_two_poles_with_centre_off(tmp_path):
    assert rules(CABS % ("two.A", "two.B")) == set()
    assert poles(CABS % ("two.A", "two.B"), tmp_path, "S1=two")["poles"] == {
        "block.left": ["two.A"],
        "block.right": ["two.B"],
    }


def test_a_cab_selector_with_a_lead_on_the_wrong_controller_is_found():
    assert rules(CABS % ("two.A", "one.B")) == {("dead-track", "block", "warning")}


def test_a_cab_selector_with_its_leads_crossed_runs_the_other_way(tmp_path):
    right, crossed = (CABS % pair for pair in (("two.A", "two.B"), ("two.B", "two.A")))
    assert rules(crossed) == set()
    assert poles(right, tmp_path, "S1=two")["travel"] == {"block": "forward"}
    assert poles(crossed, tmp_path, "S1=two")["travel"] == {"block": "backward"}


# ---- an isolating section bridged by a diode. A diode conducts from its anode to its cathode, `from` to `to`; with the
# controller set forward the pole named `positive` (default B) is positive, and current comes back to the other one.

DIODE = (
    DC
    + """\
track: {dock: {length: 1 m}, buffers: {length: 300 mm}}
joints: [{from: dock, to: buffers, insulate: %s}]
feeds: [{to: dock}]
components: {V1: {kind: diode, from: %s, to: %s}}
"""
)


@pytest.mark.parametrize(
    ("side", "start", "stop", "runs"),
    [
        ("left", "dock.left", "buffers.left", False),  # the left rail takes current back to the supply going forward
        ("left", "buffers.left", "dock.left", True),
        ("right", "dock.right", "buffers.right", True),
        ("right", "buffers.right", "dock.right", False),
    ],
)
def test_a_diode_lets_a_locomotive_run_one_way(side, start, stop, runs, tmp_path):
    text = DIODE % (side, start, stop)
    # a diode that lets it run towards the end of the track alone is the wrong way round
    assert rules(text) == ({("diode-turned", "V1", "warning")} if runs else set())
    wanted = {"dock": "forward", **({"buffers": "forward"} if runs else {})}
    assert poles(text, tmp_path)["travel"] == wanted
    # with the other pole positive, as when the controller is set backward, it is the other way round
    other = text.replace("trip: 1 A", "trip: 1 A, positive: A")
    assert ("buffers" in poles(other, tmp_path)["travel"]) is not runs
    (tmp_path / "layout.yaml").write_text(text, encoding="utf-8")
    table = CliRunner().invoke(group, ["poles", str(tmp_path / "layout.yaml")]).output
    assert ("diode blocks" in table) is not runs


def test_a_switch_across_the_diode_lets_it_run_both_ways(tmp_path):
    text = DIODE % ("left", "dock.left", "buffers.left")
    text += "switches: {S1: {positions: [off, on], contacts: {c: {common: dock.left, on: buffers.left}}}}\n"
    assert rules(text) == set()
    assert "buffers" not in poles(text, tmp_path)["travel"]
    assert poles(text, tmp_path, "S1=on")["travel"]["buffers"] == "forward"


# ---- accessory supplies

ACCESSORIES = (
    DCC % ", lights: {accessory: true, voltage: 16 V}, %s"
    + """\
track: {line: {length: 1 m}}
feeds: [{to: line}]
switches: {PB: {type: push-button, positions: [up, down], contacts: {c: {common: COIL.1, down: lights.B}}}}
components:
  C1: {kind: load, from: lights.A, to: COIL.1, rating: 1 A}
  L1: {kind: load, from: lights.A, to: lights.B}
"""
)
ACCESSORIES = ACCESSORIES.replace(", %s", "")


def test_a_supply_that_feeds_no_track_gives_no_finding():
    assert rules(ACCESSORIES) == set()
    dc = ACCESSORIES.replace("accessory: true", "type: dc").replace("{to: line}", "{to: line, from: main}")
    assert rules(dc) == set()
    tied = ACCESSORIES.replace("accessory: true", "accessory: true, common: main.B")
    assert rules(tied) == set()


def test_an_accessory_supply_of_direct_current_makes_no_train_run(tmp_path):
    text = ACCESSORIES.replace("accessory: true", "accessory: true, type: dc")
    assert rules(text) == set()
    assert set(poles(text, tmp_path)) == {"poles"}


def test_an_accessory_supply_joined_to_the_track_is_a_short():
    text = ACCESSORIES + "wires: [{from: lights.A, to: line.left}]\n"
    assert {r[:2] for r in rules(text)} == {("pole-short", "lights.A/main.A")}


def test_track_wired_to_an_accessory_supply_is_dead():
    text = ACCESSORIES.replace("track: {line: {length: 1 m}}", "track: {line: {length: 1 m}, spur: {length: 1 m}}")
    text += "wires: [{from: lights.A, to: spur.left}, {from: lights.B, to: spur.right}]\n"
    (finding,) = netlister.check_text(text).findings
    assert finding.rule == "dead-track"
    assert "spur.left has lights.A and spur.right has lights.B, of a supply for accessories" in finding.message


# ---- components in a wire


def test_breakers_fuses_lamps_and_detectors_conduct():
    text = (
        DCC % ""
        + """\
track: {a: , b: , c: , d: , e: }
components:
  Q1: {kind: breaker, from: main.A, to: a.left, rating: 2 A}
  F1: {kind: fuse, from: main.A, to: b.left, rating: 2 A}
  H1: {kind: lamp, from: main.A, to: c.left, rating: 2.1 A}
  D1: {kind: detector, from: main.A, to: d.left, rating: 3 A}
  R1: {kind: resistor, from: main.A, to: e.left, rating: 2 W, resistance: 1 ohm}
feeds: [{to: [a, b, c, d, e], B: right}]
"""
    )
    assert rules(text) == set()
