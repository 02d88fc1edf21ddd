"""Findings on volts and amps: what breaks them, how bad it is, in which positions."""

import pytest

import netlister
from netlister.finding import Severity

HEAD = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A, resistance: 0 ohm}}
rail: 50 mohm/m
joiner: 0 mohm
blade: 50 mohm
"""


def found(text, rule, head=HEAD):
    return {f.subject: f for f in netlister.check_text(head + text, select=[rule]).findings}


def test_a_plain_check_says_nothing_of_volts():
    text = HEAD + "track: {line: {length: 30 m}}\nfeeds: [{to: line}]"
    assert netlister.check_text(text).findings == ()


@pytest.mark.parametrize(
    ("metres", "severity"), [(2.4, None), (2.6, Severity.WARNING), (4.9, Severity.WARNING), (5.1, Severity.ERROR)]
)
def test_five_percent_warns_and_ten_are_an_error(metres, severity):
    # worked out: 2 x 50 mohm/m x 3 A is 0.3 V per metre, 2 % of 15 V
    text = f"track: {{line: {{length: {metres} m}}}}\nfeeds: [{{to: line}}]"
    finding = found(text, "voltage-drop").get("line")
    assert (finding and finding.severity) == severity


def test_the_limit_of_the_layout_counts():
    text = "limits: {drop: 3 %}\ntrack: {line: {length: 2 m}}\nfeeds: [{to: line}]"
    assert found(text, "voltage-drop")["line"].severity == Severity.WARNING
    assert found(text.replace("3 %", "5 %"), "voltage-drop") == {}


TURNOUT = """
limits: {drop: 4.5 %}
track: {line: {length: 1 m}, T1: {kind: insulated-frog, hand: right}, left: {length: 1 m}, right: {length: 1 m}}
joints: [{from: line, to: T1.toe}, {from: T1.through, to: left}, {from: T1.diverging, to: right}]
feeds: [{to: line}, {to: right.b}]
"""


def test_only_the_states_in_which_it_is_so():
    # worked out: at T1 through, `left` hangs on 0.2 ohm of rail and a blade, 5 %; `right` has a feed of its own
    findings = found(TURNOUT, "voltage-drop")
    assert findings["left"].when == ((("T1", "through"),),)
    assert "right" not in findings


def test_a_short_that_may_not_trip():
    # worked out: 15 V over 3.4 ohm are 4.4 A, more than 3 A but less than 1.5 times; over 6 ohm it never trips
    for ohm, verdict in (("1.7", "may not trip it"), ("3", "never trips it")):
        text = f"track: {{line: {{length: 0 m}}}}\nfeeds: [{{to: line, wire: {ohm} ohm/m, length: 1 m}}]"
        finding = found(text, "weak-short")["line"]
        assert finding.severity == Severity.ERROR
        assert verdict in finding.message
    text = "track: {line: {length: 0 m}}\nfeeds: [{to: line, wire: 1.6 ohm/m, length: 1 m}]"
    assert found(text, "weak-short") == {}
    assert "line" in found("limits: {trip-margin: 2}\n" + text, "weak-short")


def test_the_resistance_of_the_supply_counts_for_shorts():
    text = "track: {line: {length: 0 m}}\nfeeds: [{to: line, wire: 1.6 ohm/m, length: 1 m}]"
    assert "line" in found(text, "weak-short", HEAD.replace("resistance: 0 ohm", "resistance: 200 mohm"))


def test_a_thin_wire():
    text = "track: {line: {length: 0 m}}\nfeeds: [{to: line, wire: AWG 28, length: 300 mm, id: drop}]"
    finding = found(text, "wire-load")["drop"]
    assert finding.severity == Severity.WARNING
    assert "carries 0.226 A continuously" in finding.message
    assert found(text.replace("AWG 28", "0.5 mm2"), "wire-load") == {}
    assert set(found(text.replace("AWG 28", "0.5 mm2").replace("300 mm", "2.5 m"), "wire-load")) == {"drop"}
    assert found(text.replace("AWG 28", "99 mohm/m"), "wire-load") == {}


def test_wires_of_the_section_wires():
    text = "track: {line: {length: 0 m}}\nwires: [{from: main.A, to: line.left, wire: AWG 30, length: 1 m, id: w1}]"
    assert set(found(text, "wire-load")) == {"w1"}


def test_joiners_in_a_row_and_the_limit():
    chain = (
        "track: {a: , b: , c: , d: }\njoints: [{from: a, to: b}, {from: b, to: c}, {from: c, to: d}]\nfeeds: [{to: a}]"
    )
    assert set(found(chain, "joiner-chain")) == {"d"}
    assert set(found("limits: {joiners: 1}\n" + chain, "joiner-chain")) == {"c", "d"}
    assert found("limits: {joiners: 3}\n" + chain, "joiner-chain") == {}


def test_feeders_far_apart():
    text = "track: {line: {length: 1.9 m}}\nfeeds: [{to: line.a}, {to: line.b}]"
    assert set(found(text, "feeder-spacing")) == {"line"}
    assert found(text.replace("1.9", "0.9"), "feeder-spacing") == {}
    text = "limits: {feeder-spacing: 1.8 m}\n" + text
    assert "950 mm" in found(text, "feeder-spacing")["line"].message
    assert found(text.replace("1.9", "1.8"), "feeder-spacing") == {}
    assert found(text.replace("spacing: 1.8", "spacing: 2"), "feeder-spacing") == {}


SHARED = """
format: netlister/1
supplies:
  one: {type: dc, voltage: 12 V, trip: 1 A}
  two: {type: dc, voltage: 12 V, trip: 2 A, common: one.B}
rail: 100 mohm/m
joiner: 0 mohm
track: {west: {length: 3 m}, east: {length: 3 m}}
joints: [{from: west, to: east, insulate: left}]
feeds: [{to: west, from: one}, {to: east, from: two, A: left}]
"""


def test_more_feeds_behind_a_reverser_come_from_the_reverser():
    text = """\
buses: {main: {supply: main}}
reversers: {R1: {from: main, mode: automatic}}
track: {line: {length: 40 m}, loop: {length: 40 m}}
joints: [{from: line, to: loop, insulate: both}]
feeds: [{to: line, from: main}, {to: loop, from: R1}]
"""
    for rule in ("voltage-drop", "weak-short"):
        told = {name: finding.fix for name, finding in found(text, rule).items()}
        assert "from 'R1'" in told["loop"]
        assert "from 'main'" in told["line"]


def test_a_shared_return():
    # worked out: both currents run through the 300 mohm of west's right rail: 2 A of two make 0.6 V, 5 % of 12 V
    assert found("limits: {drop: 6 %}" + SHARED, "shared-return", "") == {}
    findings = found("limits: {drop: 4 %}" + SHARED, "shared-return", "")
    assert set(findings) == {"two/one"}
    assert "0.6 V" in findings["two/one"].message


def test_allow_and_never():
    text = (
        HEAD + "track:\n  line: {length: 9 m}  # netlister: allow voltage-drop: nobody goes there\nfeeds: [{to: line}]"
    )
    report = netlister.check_text(text, select=["voltage-drop", "unused-allow"])
    assert report.findings == ()
    never = TURNOUT + "never: [{T1: through}]"
    assert "left" not in found(never, "voltage-drop")


DISTRICT = """
track: {line: {length: 0 m}}
buses: {main: {supply: main}, yard: {from: main, breaker: 1 A}}
feeds: [{to: line, from: yard, wire: 1.7 ohm/m, length: 1 m}]
"""


def test_the_breaker_of_a_district_protects_it():
    # worked out: 15 V over 3.4 ohm are 4.4 A: too little for 3 A and a margin of 1.5, enough for a breaker of 1 A
    assert found(DISTRICT, "weak-short") == {}
    assert "line" in found(DISTRICT.replace(", breaker: 1 A", ""), "weak-short")
    assert "line" in found(DISTRICT.replace("from: yard, wire", "from: main, wire"), "weak-short")


def test_a_thin_wire_behind_a_breaker():
    text = DISTRICT.replace("1.7 ohm/m", "0.5 mm2").replace("breaker: 1 A", "breaker: 3 A")
    assert found(text, "wire-load") == {}
    assert set(found(text.replace("0.5 mm2", "AWG 24"), "wire-load")) == {"yard/line"}
    assert (
        "the breaker of 'yard' trips only at 2 A"
        in found(text.replace("0.5 mm2", "AWG 24").replace("breaker: 3 A", "breaker: 2 A"), "wire-load")[
            "yard/line"
        ].message
    )
