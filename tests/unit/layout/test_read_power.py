"""Faults of supplies, buses and feeds: every message with its line and column."""

from __future__ import annotations

import pytest

from tests.unit.layout.support import added_faults

CASES: list[tuple[str, list[str]]] = [
    ("feeds: [{from: main}]", ["10:9 this feed has no 'to'; add the piece of track that it feeds"]),
    ("feeds: [{to: z}]", ["10:14 there is no piece of track 'z'; write 'a', 'b', 'T1', 'T2', 'X1' or 'D1'"]),
    ("feeds: [{to: a.c}]", ["10:14 'a' has no end 'c'; write 'a.a' or 'a.b'"]),
    (
        "feeds: [{to: T1.frog}]",
        ["10:14 'frog' is a rail of 'T1', not an end; write 'to: T1' and 'A: frog' or 'B: frog'"],
    ),
    ("feeds: [{to: a, from: mian}]", ["10:23 there is no bus, supply or reverser 'mian'; did you mean 'main'?"]),
    ("feeds: [{to: a, from: T1}]", ["10:23 'T1' is a piece of track, not a bus, supply or reverser"]),
    ("feeds: [{to: a, A: top}]", ["10:20 'a' has no rail 'top'; write 'left' or 'right'"]),
    ("feeds: [{to: T1, A: T1.frog}]", ["10:21 write the rail alone: 'frog'"]),
    ("feeds: [{to: T1, A: stock-lef}]", ["10:21 'T1' has no rail 'stock-lef'; did you mean 'stock-left'?"]),
    (
        "feeds: [{to: D1}]",
        [
            "10:14 'left' and 'right' say too little on 'D1', which can be looked along from several ends; name an end, as in 'D1.a1', or write a rail, as in 'A: outer-left'"
        ],
    ),
    (
        "feeds: [{to: D1, A: left, B: frog-a}]",
        [
            "10:14 'left' and 'right' say too little on 'D1', which can be looked along from several ends; name an end, as in 'D1.a1', or write a rail, as in 'A: outer-left'"
        ],
    ),
    (
        "feeds: [{to: X1, A: right}]",
        [
            "10:14 'left' and 'right' say too little on 'X1', which can be looked along from several ends; name an end, as in 'X1.a1', or write a rail, as in 'A: side-left'"
        ],
    ),
    ("feeds: [{to: []}]", ["10:14 nothing is named here; name a piece of track or an end of it"]),
    ("feeds: [{to: [a, [b]]}]", ["10:18 a piece of track or an end of it is due here, not a list"]),
    ("feeds: [{to: a, at: 2 m}]", ["10:21 'at' (2 m) lies beyond the end of 'a', which is 1 m long"]),
    ("feeds: [{to: T1, at: 2 m}]", ["10:22 'at' is a place along a rail-section; 'T1' is none, so leave 'at' out"]),
    ("feeds: [{to: a, at: 2}]", ["10:21 'at': '2' has no unit; write it in mm, cm, m, in or ft, as in '600 mm'"]),
    (
        "feeds: [{to: a, wire: 2.5}]",
        [
            "10:23 'wire': '2.5' has no unit; a wire is a cross-section ('2.5 mm2'), a gauge number ('AWG 14') or a resistance per length ('20 mohm/m')"
        ],
    ),
    (
        "feeds: [{to: a, wire: thick}]",
        [
            "10:23 'wire': 'thick' is no wire; a wire is a cross-section ('2.5 mm2'), a gauge number ('AWG 14') or a resistance per length ('20 mohm/m')"
        ],
    ),
    ("feeds: [{to: a, wire: AWG 99}]", ["10:23 'wire': there is no wire gauge '99'; they go from 4/0 over 0 to 50"]),
    (
        "feeds: [{to: a, wire: 0 mm2}]",
        ["10:23 'wire': a wire without cross-section does not conduct; for an ideal wire write '0 mohm/m'"],
    ),
    (
        "feeds: [{to: a, length: 3 A}]",
        ["10:25 'length': 'A' is no unit of length; write it in mm, cm, m, in or ft, as in '600 mm'"],
    ),
    ("feeds: [{to: a, wires: 0.5 mm2}]", ["10:17 a feed takes no 'wires'; did you mean 'wire'?"]),
    (
        "buses: {w: {supply: main, length: 6 m}}\nfeeds: [{to: a, tap: 7 m}]",
        ["11:22 'tap' (7 m) lies beyond the end of the bus 'w', which is 6 m long"],
    ),
    ("buses: {w: {supply: man}}", ["10:21 there is no supply 'man'; did you mean 'main'?"]),
    ("buses: {w: {supply: T1}}", ["10:21 'T1' is a piece of track, not a supply"]),
    (
        "buses: {w: {supply: main}, v: {supply: main}}\nfeeds: [{to: a}]",
        ["11:9 this feed has no 'from', and there are several buses; name one, as in 'from: w'"],
    ),
    (
        "buses: {w: {supply: main}}\nfeeds: [{to: a, from: main, tap: 1 m}]",
        ["11:34 'tap' is a place along a bus; 'main' is a supply; name its bus in 'from' or leave 'tap' out"],
    ),
    ("buses: {w: {form: star}}", ["10:19 'form' cannot be 'star'; write 'line' or 'ring'"]),
    (
        "buses: {w: {at: 1 m}}",
        ["10:17 'at' is for a branch of another bus; add 'from' with that bus's name or leave 'at' out"],
    ),
    (
        "buses: {w: {from: x, at: 1 m}, x: {from: w, at: 1 m}}",
        ["10:19 these buses branch in a circle: 'w' from 'x' from 'w'; name the supply of one of them"],
    ),
    ("buses: {w: {from: w}}", ["10:19 these buses branch in a circle: 'w' from 'w'; name the supply of one of them"]),
    (
        "buses: {w: {from: main, supply: main}}",
        ["10:33 a branch has the supply of its bus; leave 'supply' out, or leave 'from' out"],
    ),
    ("buses: {w: {from: y}}", ["10:19 there is no bus 'y'; write 'w' or 'main'"]),
    (
        "buses: {v: {length: 3 m}, w: {from: v, at: 4 m}}",
        ["10:44 'at' (4 m) lies beyond the end of the bus 'v', which is 3 m long"],
    ),
    (
        "buses: {main: {from: main}}",
        ["10:9 'main' is a supply, and a branch has a name of its own; choose another name"],
    ),
    ("buses: {w: {colours: {A: red}}}", ["10:26 'colours.A': 'red' is no colour of IEC 60757; write 'RD'"]),
    ("buses: {w: {colours: {A: bn}}}", ["10:26 'colours.A': 'bn' is no colour of IEC 60757; write 'BN'"]),
    ("buses: {w: {colours: {C: BN}}}", ["10:23 'C' is no pole; write 'A' or 'B'"]),
    (
        "buses: {w: {colours: {A: XX}}}",
        [
            "10:26 'colours.A': 'XX' is no colour of IEC 60757; write one of BK, BN, RD, OG, YE, GN, BU, VT, GY, WH, PK, GD, TQ, SR, or two joined, as GNYE"
        ],
    ),
    (
        "buses: {w: {colours: BN}}",
        ["10:22 a colour for each pole, as in '{A: BN, B: BU}', is due here, as 'name: value' pairs"],
    ),
    ("buses: {T1: {}}", ["10:9 the name 'T1' is taken: a piece of track has it in line 6; choose another name"]),
    ("buses: {w: {wire: {}}}", ["10:19 the wire of a bus is due here, not a mapping"]),
]


@pytest.mark.parametrize(("text", "expected"), CASES, ids=[text.strip() for text, _ in CASES])
def test_message(text: str, expected: list[str]) -> None:
    assert added_faults(text) == expected
