"""The rules of moving blades and trains: when they speak, how bad it is, what silences them."""

from __future__ import annotations

import pytest

import netlister

HEAD = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V}}\n"
LIVE = (
    HEAD
    + """track:
  T1: {kind: live-frog, hand: right}
machines:
  M1:
    throws: [T1]
    contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}
feeds: [{to: T1}]
"""
)
OVERLAPPING = LIVE.replace("diverging: T1.stock-left}", "diverging: T1.stock-left, action: make-before-break}")
SIX = ("throw-short", "wheel-back", "nose-bridge", "run-through", "blade-fed", "unit-race")


def found(text, *rules):
    return [(f.rule, f.severity.label, f.subject) for f in netlister.check_text(text, select=rules).findings]


def told(text, rule):
    (finding,) = netlister.check_text(text, select=[rule]).findings
    return finding


# -- what a plain check says


def test_a_plain_check_is_silent_about_what_is_a_matter_of_adjustment():
    assert netlister.check_text(LIVE).findings == ()
    assert found(LIVE, "throw-short") == [("throw-short", "warning", "M1")]
    assert found(LIVE, "wheel-back") == [("wheel-back", "note", "T1")]


def test_a_plain_check_shows_a_contact_that_joins_the_poles_at_every_throw():
    assert found(OVERLAPPING) == [("throw-short", "warning", "M1")]
    bonded = OVERLAPPING.replace("live-frog,", "live-frog-bonded,")
    assert found(bonded) == [("throw-short", "warning", "M1")]


def test_an_overlapping_contact_between_rails_of_one_pole_joins_nothing():
    text = OVERLAPPING.replace("live-frog,", "live-frog-bonded,").replace(
        "diverging: T1.stock-left", "diverging: T1.stock-right"
    )
    assert found(text, "throw-short") == []


@pytest.mark.parametrize("rule", ["wheel-back", "run-through"])
def test_rules_that_run_only_by_name(rule):
    from netlister.rules import BY_NAME

    assert not BY_NAME[rule].default


# -- throw-short


def test_the_message_names_what_is_ahead_and_what_lags():
    finding = told(LIVE, "throw-short")
    assert finding.message == (
        "main.A and main.B are joined as 'M1' moves: the blades of 'T1' are still at through while "
        "contact 'frog' of 'M1' is already made as at diverging"
    )
    assert finding.path[0] == "main.A"
    assert finding.path[-1] == "main.B"
    assert len(set(finding.path)) == len(finding.path)
    assert "live-frog-bonded" in finding.fix
    assert finding.where[0].line == 6


def test_a_hand_switch_of_two_contacts_that_feed_one_rail():
    text = (
        HEAD
        + """track: {yard: {length: 1 m}}
switches:
  S1:
    positions: [one, two]
    contacts:
      near: {common: yard.left, one: main.A, two: main.B}
      far: {common: yard.left, one: main.A, two: main.B}
feeds: [{to: yard, B: right}]
"""
    )
    # `two` joins main.B to the left rail, whose other rail it is too: no short at rest, and one between `one` and `two`
    finding = told(text, "throw-short")
    assert finding.subject == "S1"
    assert finding.when == ((),)
    assert "let one contact do the work of both" in finding.fix
    # over a position in between, both contacts have left the one before either makes the other
    assert found(text.replace("[one, two]", "[one, off, two]"), "throw-short") == []


def test_a_reverser_whose_two_poles_change_over_one_after_the_other():
    text = (
        HEAD
        + """track: {T1: {kind: live-frog-bonded, hand: wye}, loop: {length: 2 m}}
reversers: {R1: {follows: T1, straight: [left]}}
joints: [{from: T1.left, to: loop, insulate: both}]
wires: [{from: loop.left, to: TB1.1}, {from: TB1.1, to: R1.A}]
feeds: [{to: T1}, {to: loop, from: R1}]
"""
    )
    assert found(text, "throw-short") == []
    joined = text + "plugs: {J1: {pins: {1: [loop.left, loop.right]}, optional: true}}\n"
    # with the plug in it is a short at rest in both positions; out, there is none on the way either
    assert found(joined, "throw-short") == []


def test_never_rules_out_a_throw_with_either_of_its_ends():
    text = LIVE + "switches: {S1: {positions: [free, locked]}}\nnever: [{S1: locked, M1: diverging}]\n"
    assert told(text, "throw-short").when == ((("S1", "free"),),)
    assert found(LIVE + "never: [{M1: diverging}]\n", "throw-short") == []


def test_what_is_joined_at_rest_elsewhere_hides_nothing():
    text = LIVE.replace(
        "feeds: [{to: T1}]", "feeds: [{to: T1}, {to: yard}]\nwires: [{from: yard.left, to: yard.right}]"
    )
    text = text.replace("track:\n", "track:\n  yard: {length: 1 m}\n")
    assert found(text, "pole-short", "throw-short") == [
        ("pole-short", "error", "main.A/main.B"),
        ("throw-short", "warning", "M1"),
    ]


LAPPED = """kind: lapped
title: Two tie bars of which one contact needs both
summary: A frog that is fed only while both bars stand for it.
rails: [stock-left, stock-right, frog]
ends:
  toe: {entering: true, left: stock-left, right: stock-right}
  out: {entering: false, left: stock-left, right: frog}
bars: {near: [here, there], far: [here, there]}
contacts:
  - {when: {near: here, far: there}, join: [frog, stock-left]}
  - {when: {near: here, far: there}, join: [frog, stock-right]}
routes:
  out: {ends: [toe, out], when: {near: here, far: here}, left: [stock-left], right: [stock-right, frog]}
"""


def test_two_tie_bars_of_one_piece_on_one_machine(tmp_path):
    (tmp_path / "lapped.yaml").write_text(LAPPED, encoding="utf-8")
    layout = tmp_path / "layout.yaml"
    layout.write_text(
        HEAD
        + """use: lapped.yaml
track: {X1: {kind: lapped}}
machines: {M1: {throws: [X1.near, X1.far]}}
feeds: [{to: X1.toe}]
""",
        encoding="utf-8",
    )
    # the machine's two positions are here-here and there-there; here-there comes about on the way alone
    report = netlister.check_file(str(layout), select=["pole-short", "throw-short"])
    assert [(f.rule, f.subject) for f in report.findings] == [("throw-short", "M1")]


# -- comments that allow


def test_a_comment_allows_it_and_is_not_unused_in_a_plain_check():
    text = LIVE.replace("  M1:\n", "  M1:  # netlister: allow throw-short: set by feeler gauge\n")
    assert found(text, "throw-short", "unused-allow") == []
    assert netlister.check_text(text).findings == ()
    assert netlister.check_text(text, select=["unused-allow"]).findings == ()


def test_an_unused_comment_is_told_where_the_rule_is_selected():
    text = LIVE.replace("live-frog,", "live-frog-bonded,").replace(
        "  M1:\n", "  M1:  # netlister: allow throw-short: set by feeler gauge\n"
    )
    assert found(text, "throw-short", "unused-allow") == [("unused-allow", "warning", "throw-short")]


@pytest.mark.parametrize("rule", ["wheel-back", "blade-fed"])
def test_comments_on_the_line_of_a_piece(rule):
    text = HEAD + "track:\n  T1: {kind: live-frog, hand: left}\nfeeds: [{to: T1}]\n"
    assert [f[0] for f in found(text, rule)] == [rule]
    allowed = text.replace("hand: left}", f"hand: left}}  # netlister: allow {rule}: a stub of no use")
    assert found(allowed, rule) == []


# -- blade-fed


def test_blade_fed_is_a_note_and_a_chain_of_joiners_a_warning():
    text = HEAD + "track:\n  T1: {kind: live-frog, hand: left}\n  spur: {length: 1 m}\n"
    text += "joints: [{from: T1.diverging, to: spur}]\nfeeds: [{to: T1}]\n"
    assert found(text, "blade-fed") == [("blade-fed", "note", "T1"), ("blade-fed", "note", "spur")]
    assert found(text) == [("dead-track", "warning", "spur")]
    limited = text + "limits: {joiners: 0}\n"
    assert ("blade-fed", "warning", "spur") in found(limited)
    assert ("blade-fed", "warning", "T1") not in found(limited)


def test_blade_fed_says_what_dies_and_by_which_blades():
    text = HEAD + "track:\n  T1: {kind: live-frog, hand: left}\n  spur: {length: 1 m}\n"
    text += "joints: [{from: T1.diverging, to: spur}]\nfeeds: [{to: T1}]\n"
    finding = next(f for f in netlister.check_text(text, select=["blade-fed"]).findings if f.subject == "spur")
    assert finding.message == "spur.right is fed by the touch of the blades of 'T1' alone: dead once these are dirty"
    assert finding.terminals == ("spur.right",)
    assert finding.path == ("main.A", "T1.stock-left", "T1.frog", "spur.right")


# -- nose-bridge and unit-race: what is not given


def test_what_cannot_be_told_is_a_note_where_it_is_asked_for():
    text = HEAD + "track: {T1: {kind: insulated-frog, hand: left, jumpers: true}}\nfeeds: [{to: T1}]\n"
    assert found(text) == []
    finding = told(text, "nose-bridge")
    assert finding.severity.label == "note"
    assert finding.message.endswith("cannot be told without 'gauge' or the 'wheel' of a train and 'rail'")
    assert told("rail: code-83\n" + text, "nose-bridge").message.endswith("without 'gauge' or the 'wheel' of a train")
    assert found("rail: code-83\ngauge: 16.5 mm\n" + text, "nose-bridge") == []


def test_a_unit_or_breaker_without_its_time():
    text = (
        HEAD
        + "track: {T1: {kind: live-frog-bonded, hand: left}}\nfrog-units: {U1: {feeds: T1.frog}}\nfeeds: [{to: T1}]\n"
    )
    assert found(text) == []
    finding = told(text, "unit-race")
    assert finding.severity.label == "note"
    assert finding.fix == "add its 'time' and a 'trip-time' for 'main', as its papers or a measurement say"
    timed = text.replace("feeds: T1.frog", "feeds: T1.frog, time: 8 ms")
    assert found(timed) == [("unmeasured", "note", "unit-race of U1")]
    assert told(timed, "unit-race").fix == "add a 'trip-time' for 'main', as its papers or a measurement say"
    assert found(timed.replace("15 V", "15 V, trip-time: 8 ms")) == [("unit-race", "warning", "U1")]
    assert found(timed.replace("15 V", "15 V, trip-time: 9 ms"), "unit-race") == []


@pytest.mark.parametrize("rule", SIX)
def test_each_rule_alone_finds_nothing_in_plain_track(rule):
    assert found(HEAD + "track: {line: {length: 1 m}}\nfeeds: [{to: line}]\n", rule) == []
