"""Cures of rarer mistakes, obeyed and checked again: diodes, reversing sections on direct current, expectations."""

from __future__ import annotations

import re

import pytest

import netlister
from netlister.finding import Severity
from netlister.formats.text import render
from tests.properties.reference import load, reference
from tests.repairs import right
from tests.repairs.obey import edits_of, obeyed, told

STOP = """\
format: netlister/1
supplies: {cab: {type: dc, voltage: 12 V, trip: 1 A}}
track: {platform: {length: 900 mm}, stop: {length: 300 mm}}
joints: [{from: platform, to: stop, insulate: right}]
feeds: [{to: platform}]
components:
  D1: {kind: diode, from: stop.right, to: platform.right}
"""
DC_LOOP = (
    right.LOOP.replace("dcc", "dc")
    .replace("reversers:\n  R1: {from: main, mode: automatic}\n", "")
    .replace("  - {to: loop, from: R1}\n", "")
)


def test_a_diode_that_lies_the_wrong_way_round_is_turned() -> None:
    assert not netlister.check_text(STOP).findings
    wrong = STOP.replace("from: stop.right, to: platform.right", "from: platform.right, to: stop.right")
    report, said = told(wrong)
    assert [f.mistakes[0].headline for f in report.findings] == ["the diode 'D1' lies the wrong way round"]
    assert obeyed(wrong, edits_of(said["causes"][0]["repairs"][0])) == STOP


@pytest.mark.parametrize("insulate", ["both", "none"])
def test_a_loop_on_direct_current_gets_a_hand_reversing_switch(insulate: str) -> None:
    text = DC_LOOP.replace("insulate: both", f"insulate: {insulate}")
    _, said = told(text)
    (cause,) = [c for c in said["causes"] if c["repairs"]]
    (change,) = cause["repairs"][0]["changes"]
    assert "hand reversing switch" in change["say"]
    assert "automatic" not in change["say"]
    mended = obeyed(text, change["edits"])
    found = netlister.check_text(mended).findings
    assert {f.rule for f in found} == {"hand-reversing"}
    assert all(f.severity == Severity.NOTE for f in found)
    assert {rule for rule, _ in reference(load(mended))} == {"hand-reversing"}


def test_on_a_digital_supply_the_reverser_is_automatic() -> None:
    text = DC_LOOP.replace("type: dc,", "type: dcc,")
    _, said = told(text)
    assert "mode: automatic" in said["causes"][0]["repairs"][0]["changes"][0]["say"]


def test_what_is_meant_may_be_written_of_another_position() -> None:
    meant = "{track: shed, is: dead, when: {S1: off}}"
    assert right.SWITCHED.count(meant) == 1
    wrong = right.SWITCHED.replace(meant, meant.replace("off", "on"))
    report, said = told(wrong)
    assert "'shed' is meant to be dead when S1 is at on, and the wiring says otherwise" in render(report)
    assert "change the wiring; or, if it is what you want, write 'when: {S1: off}'" in render(report)
    assert obeyed(wrong, edits_of(said["causes"][0]["repairs"][0])) == right.SWITCHED


def test_what_contradicts_the_wiring_may_be_taken_out() -> None:
    wrong = right.STUB + "expect:\n  - {track: branch, is: dead, when: {M1: through}}\n"
    report, said = told(wrong)
    assert "change the wiring; or, if it is what you want, take this entry of 'expect' out" in render(report)
    assert not netlister.check_text(obeyed(wrong, edits_of(said["causes"][0]["repairs"][0]))).findings


def test_where_nothing_mends_it_that_is_said_with_what_was_tried() -> None:
    text = right.HEAD + "track: {a: {length: 1 m}}\nfeeds: [{to: a}]\n"
    text += "components: {F1: {kind: fuse, from: main.A, to: main.B}}\n"
    report = netlister.check_text(text)
    assert not report.causes
    (finding,) = report.findings
    assert re.search(r"mends it \(\d+ tried\)", finding.fix), finding.fix
    assert "wire it to" not in finding.fix


CABS = """\
format: netlister/1
supplies: {up: {type: dc, voltage: 12 V, trip: 1 A}, down: {type: dc, voltage: 12 V, trip: 1 A}}
track: {east: {length: 1 m}, west: {length: 1 m}}
switches:
  K1:
    positions: [up, off, down]
    contacts:
      l: {common: east.left, up: up.A, down: down.A}
      r: {common: east.right, up: up.B, down: down.B}
joints: [{from: east, to: west, insulate: both}]
feeds: [{to: west, from: down}]
expect: [{track: east, is: dead, when: {K1: "off"}}]
"""


def test_a_throw_of_a_cab_switch_on_the_other_controller_is_named() -> None:
    """Common practice, no published source: both rails of a section go to one controller in each position."""
    assert not netlister.check_text(CABS).findings
    wrong = CABS.replace("up: up.B, down: down.B", "up: up.B, down: up.B")
    wrong = wrong.replace("expect: [", "expect: [{track: east, is: live, when: {K1: down}}, ")
    report, said = told(wrong)
    (cause,) = report.causes.values()
    assert "down is wired to up.B, of another supply than the other rail" in cause.repairs[0].choices[0].headline
    assert "r: {common: east.right, up: up.B, down: down.B}" in obeyed(wrong, edits_of(said["causes"][0]["repairs"][0]))
