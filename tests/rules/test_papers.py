"""`wire-colour` and `board-crossing`: letters of IEC 60757; everything else is common practice, no published source."""

from __future__ import annotations

import pytest

import netlister

HEAD = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V}, other: {type: dcc, voltage: 15 V}}\n"
TRACK = "track: {a: {length: 1 m}, b: {length: 1 m}}\nfeeds: [{to: a, from: %s}, {to: b, from: %s}]\n"


def found(text, rule):
    done = netlister.check_text(HEAD + text, select=[rule])
    return {f.subject: f for f in done.findings if f.rule == rule}


def buses(*lines):
    return "buses:\n" + "".join(f"  {line}\n" for line in lines)


@pytest.mark.parametrize(
    ("lines", "wanted"),
    [
        (("main: {colours: {A: BN, B: BU}}", "other: {colours: {A: RD, B: BK}}"), set()),
        (("main: {colours: {A: BN, B: BU}}", "other: {colours: {A: BU, B: BK}}"), {"main.B/other.A"}),
        (("main: {colours: {A: BN, B: BU}}", "other: {colours: {A: BN, B: BU}}"), {"main.A/other.A", "main.B/other.B"}),
        (("main: {colours: {A: BN, B: BU}}", "branch: {from: main, at: 1 m, colours: {A: RD}}"), {"main.A"}),
        (("main: {colours: {A: BN, B: BU}}", "branch: {from: main, at: 1 m, colours: {A: BN, B: BU}}"), set()),
        # a breaker makes a district of its own: another pair is right there, and the same pair is not
        (("main: {colours: {A: BN, B: BU}}", "branch: {from: main, at: 1 m, breaker: 1 A, colours: {A: RD}}"), set()),
        (
            ("main: {colours: {A: BN, B: BU}}", "branch: {from: main, at: 1 m, breaker: 1 A, colours: {A: BN}}"),
            {"main.A/branch.A"},
        ),
        (("main: {colours: {A: GNYE, B: BU}}",), {"B.main.A"}),
        (("main: {colours: {A: YEGN, B: BU}}",), {"B.main.A"}),
    ],
)
def test_colours_of_buses(lines, wanted):
    feeds = ("main", "other")
    said = buses(
        *(
            line
            if "supply" in line or "from" in line
            else line.replace("{", "{supply: " + line.partition(":")[0] + ", ", 1)
            for line in lines
        )
    )
    assert set(found(said + TRACK % feeds, "wire-colour")) == wanted


def test_colours_of_wires_count_by_what_they_carry():
    text = buses("main: {supply: main, colours: {A: BN, B: BU}}") + TRACK % ("main", "other")
    right = "wires: [{from: main.A, to: TB1.1, colour: BN}, {from: TB1.1, to: a.left, colour: BN}]\n"
    assert found(text + right, "wire-colour") == {}
    finding = found(text + right.replace("a.left, colour: BN", "a.left, colour: RD"), "wire-colour")
    assert set(finding) == {"main.A"}
    assert "BN brown" in finding["main.A"].message
    assert "RD red" in finding["main.A"].message
    swapped = found(text + right.replace("colour: BN", "colour: BU"), "wire-colour")
    assert set(swapped) == {"main.A", "main.A/main.B"}


def test_a_layout_without_colours_says_nothing():
    assert found(TRACK % ("main", "other"), "wire-colour") == {}


BOARDS = (
    TRACK % ("main", "main")
    + "switches: {S1: {positions: [on, off], contacts: {k: {common: TB1.1, on: main.A}}}}\nwires: [{from: TB1.1, to: a.left}]\n"
    + "boards: {north: [a, S1], south: [b]}\n"
)


def test_wires_that_cross_boards():
    assert found(BOARDS, "board-crossing") == {}
    crossing = found(BOARDS.replace("to: a.left", "to: b.left"), "board-crossing")
    assert set(crossing) == {"TB1"}  # wherever it stands, one of its two wires crosses
    assert "wires to board north and to board south" in crossing["TB1"].message
    lead = found(BOARDS.replace("common: TB1.1", "common: b.left"), "board-crossing")
    assert set(lead) == {"C.S1.k.common"}
    assert "from S1.k.common on board north to b.left on board south" in lead["C.S1.k.common"].message
    plug = "plugs: {J1: {pins: {1: [TB2.1, b.left]}}}\n"
    assert found(BOARDS.replace("common: TB1.1", "common: TB2.1") + plug, "board-crossing") == {}
