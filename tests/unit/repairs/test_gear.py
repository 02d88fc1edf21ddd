"""Mistakes in gear are called by their name: pins of a plug, wires at a strip, lamps, districts, contacts."""

from __future__ import annotations

import pytest

import netlister

BOARDS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}, lights: {accessory: true, voltage: 12 V}}
track: {staging: {length: 1 m}, liftout: {length: 700 mm}, far: {length: 1 m}}
joints: [{from: staging, to: liftout, insulate: both}, {from: liftout, to: far}]
feeds: [{to: staging}]
plugs:
  J1: {pins: {1: [main.A, TB.1], 2: [main.B, TB.2], 3: [lights.A, TB.3]}}
wires: [{from: TB.1, to: liftout.left}, {from: TB.2, to: liftout.right}]
components: {L1: {kind: load, from: TB.3, to: lights.B}}
"""


def causes(text):
    """The mistakes named, with their cures, and the rules that they break."""
    findings = netlister.check_text(text).findings
    said = {(m.headline, m.fix) for f in findings for m in f.mistakes}
    return said, {f.rule for f in findings}


def test_the_layout_is_right():
    assert netlister.check_text(BOARDS).findings == ()


@pytest.mark.parametrize(
    ("old", "new", "headline", "fix", "rules"),
    [
        (
            "1: [main.A, TB.1], 2: [main.B, TB.2]",
            "1: [main.A, TB.2], 2: [main.B, TB.1]",
            "pins 1 and 2 of the plug 'J1' are swapped",
            "exchange them on one side: pin 1 joins main.A to TB.1, pin 2 joins main.B to TB.2",
            {"gap-clash"},
        ),
        (
            "1: [main.A, TB.1], 2: [main.B, TB.2], 3: [lights.A, TB.3]",
            "1: [main.A, TB.1], 2: [main.B, TB.3], 3: [lights.A, TB.2]",
            "pins 2 and 3 of the plug 'J1' are swapped",
            "exchange them on one side: pin 2 joins main.B to TB.2, pin 3 joins lights.A to TB.3",
            {"dead-track", "gap-clash", "load-unpowered"},
        ),
        (
            "2: [main.B, TB.2], ",
            "",
            "the plug 'J1' has no pin for TB.2",
            "add a pin that joins main.B to TB.2",
            {"dead-track", "floating-net", "lone-junction"},
        ),
        (
            "2: [main.B, TB.2]",
            "2: [main.A, TB.2]",
            "pin 2 of the plug 'J1' is wired to main.A",
            "wire it to main.B",
            {"dead-track", "gap-clash"},
        ),
        (
            "L1: {kind: load",
            "L1: {kind: lamp",
            "'L1' is a lamp from pole to pole, and in the checks that conducts",
            "write 'kind: load' for what uses current; a lamp or resistor in series in a wire stays as it is",
            {"pole-short"},
        ),
    ],
)
def test_a_mistake_is_named(old, new, headline, fix, rules):
    assert BOARDS.count(old) == 1
    said, broken = causes(BOARDS.replace(old, new))
    assert said == {(headline, fix)}
    assert broken == rules


def test_pins_swapped_where_rails_are_metal_is_a_short():
    text = BOARDS.replace(", insulate: both", "").replace(
        "1: [main.A, TB.1], 2: [main.B, TB.2]", "1: [main.A, TB.2], 2: [main.B, TB.1]"
    )
    said, broken = causes(text)
    assert broken == {"pole-short"}
    assert {headline for headline, _ in said} == {"pins 1 and 2 of the plug 'J1' are swapped"}


def test_a_pin_left_out_of_a_plug_that_may_be_out_is_found_with_it_in():
    text = BOARDS.replace("pins: {", "optional: true, pins: {").replace("2: [main.B, TB.2], ", "")
    text += "expect: [{track: [liftout, far], is: dead, when: {J1: out}}]\n"
    said, _ = causes(text)
    assert ("the plug 'J1' has no pin for TB.2", "add a pin that joins main.B to TB.2") in said


def test_wires_exchanged_at_a_terminal_strip():
    """Both wires end on rails whose joints say what they should be; no pin is wrong."""
    text = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track: {line: {length: 1 m}, spur: {length: 1 m}, more: {length: 1 m}}
joints: [{from: more, to: line, insulate: both}, {from: line, to: spur, insulate: both}]
feeds: [{to: line}, {to: more}]
wires:
  - {from: main.A, to: TB.1}
  - {from: main.B, to: TB.2}
  - {from: TB.1, to: spur.right}
  - {from: TB.2, to: spur.left}
"""
    said, broken = causes(text)
    assert broken == {"gap-clash"}
    assert len(said) == 1
    ((headline, fix),) = said
    assert headline in {
        "the wires from main.A and main.B are exchanged at their far ends",
        "the wires from TB.1 and TB.2 are exchanged at their far ends",
    }
    assert fix in {"wire main.A to TB.2, and main.B to TB.1", "wire TB.1 to spur.left, and TB.2 to spur.right"}


def test_a_feed_from_the_other_district():
    text = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
buses: {town: {supply: main, breaker: 2 A}, harbour: {supply: main, breaker: 2 A}}
track: {a: {length: 1 m}, b: {length: 1 m}, c: {length: 1 m}}
joints: [{from: a, to: b}, {from: b, to: c}]
feeds: [{to: [a, c], from: town}, {to: b, from: harbour}]
"""
    said, broken = causes(text)
    assert broken == {"districts-joined"}
    assert said == {
        (
            "'b' lies in the district 'town' and is fed from 'harbour'",
            "write its feed as {to: b, from: town, A: left, B: right}",
        )
    }


def test_a_frog_fed_from_outside_a_section_is_mended_at_its_contact():
    from netlister.rules.frog_outside_section import DOCUMENT

    text = DOCUMENT.split("## Fails\n\n```yaml\n")[1].split("```")[0]
    said, broken = causes(text)
    assert broken == {"frog-outside-section"}
    assert said == {
        (
            "contact 'frog' of 'M1': through is wired to main.A and diverging is wired to main.B",
            "wire through to T1.stock-left and diverging to T1.stock-right",
        )
    }
