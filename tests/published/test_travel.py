"""Which way a locomotive runs: NMRA S-9 and NEM 631.

NMRA S-9, "Electrical": positive potential on the right-hand rail gives forward motion, right-hand meaning for somebody
between the rails with the back to the front of the locomotive. (As quoted by two pages; the standard itself was not read.)
NEM 631:1985, "DC traction, running direction, two-rail": the rail on the right in the direction of travel is positive.
"""

from __future__ import annotations

import itertools

import pytest

import netlister
from netlister.circuit.build import build
from netlister.circuit.states import rail_poles, state_of, travel

HEAD = "format: netlister/1\nsupplies: {cab: {type: dc, voltage: 12 V%s}}\n"


def ways(text, **positions):
    circuit = build(netlister.read_text(text))
    state = state_of(circuit, positions)
    return travel(circuit, state, rail_poles(circuit, state))


@pytest.mark.parametrize(("left", "positive"), list(itertools.product("AB", "AB")))
def test_the_right_hand_rail_is_positive_when_running_forward(left, positive):
    right = "B" if left == "A" else "A"
    text = HEAD % f", positive: {positive}" + (
        f"track: {{line: {{length: 1 m}}}}\nfeeds: [{{to: line, {left}: left, {right}: right}}]\n"
    )
    expected = "forward" if right == positive else "backward"
    assert ways(text) == {"line": expected}


def test_pole_b_is_positive_where_nothing_is_said():
    text = HEAD % "" + "track: {line: {length: 1 m}}\nfeeds: [{to: line, A: left, B: right}]\n"
    assert ways(text) == {"line": "forward"}


def test_a_locomotive_keeps_its_direction_over_pieces_that_face_each_other():
    # NEM 631: "whichever way round the locomotive stands"; only the rails count. East runs from its a in the east.
    text = HEAD % "" + (
        "track: {west: {length: 1 m}, east: {length: 1 m}}\njoints: [{from: west, to: east.b}]\nfeeds: [{to: west}]\n"
    )
    assert ways(text) == {"west": "forward", "east": "backward"}


def test_a_turnout_runs_forward_away_from_its_toe_on_both_routes():
    text = HEAD % "" + (
        "track: {line: {length: 1 m}, T1: {kind: live-frog, hand: left}}\n"
        "joints: [{from: line, to: T1.toe}]\nfeeds: [{to: line}]\n"
    )
    assert ways(text, T1="through") == {"line": "forward", "T1": "forward"}
    assert ways(text, T1="diverging") == {"line": "forward", "T1": "forward"}


def test_dead_and_digital_track_runs_no_way():
    text = (HEAD % "").replace("type: dc", "type: dcc") + "track: {line: {length: 1 m}}\nfeeds: [{to: line}]\n"
    assert ways(text) == {}
    text = HEAD % "" + "track: {line: {length: 1 m}, spur: {length: 1 m}}\nfeeds: [{to: line}]\n"
    assert ways(text) == {"line": "forward"}
