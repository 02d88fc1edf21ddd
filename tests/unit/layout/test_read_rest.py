"""Faults of the other sections: every message with its line and column."""

from __future__ import annotations

import pytest

from tests.unit.layout.support import added_faults

CASES: list[tuple[str, list[str]]] = [
    ("trains: {r: {length: 1}}", ["10:22 'length': '1' has no unit; write it in mm, cm, m, in or ft, as in '600 mm'"]),
    ("trains: {r: {axles: [0 mm, 30 mm], left: [3]}}", ["10:43 there is no axle 3; this train has 2"]),
    (
        "trains: {r: {axles: [0 mm, 30 mm], left: [x]}}",
        ["10:43 'x' in 'left' is no number of an axle; they count from 1"],
    ),
    (
        "trains: {r: {left: [1]}}",
        ["10:21 'left' counts axles, and none are given; add 'axles', as in 'axles: [0 mm, 35 mm]'"],
    ),
    (
        "trains: {r: {axles: [30 mm, 10 mm]}}",
        ["10:29 '10 mm' comes before the axle before it; write the distances in order"],
    ),
    (
        "trains: {r: {parked: J9}}",
        ["10:22 there is no joint 'J9'; write a joint's 'id', or its ends as in 'west/T1.toe'"],
    ),
    (
        "trains: {r: {speed: 3}}",
        [
            "10:14 a train takes no 'speed'; write 'axle-resistance', 'axles', 'carries-on', 'conducting', 'current', 'left', 'length', 'parked', 'right' or 'wheel'"
        ],
    ),
    ("expect: [{track: a}]", ["10:10 this expectation has no 'is'; add it, as in 'is: live'"]),
    (
        "expect: [{track: z, is: live}]",
        ["10:18 there is no piece of track 'z'; write 'a', 'b', 'T1', 'T2', 'X1' or 'D1'"],
    ),
    ("expect: [{track: a, is: alive}]", ["10:25 'is' cannot be 'alive'; write 'live' or 'dead'"]),
    ("expect: [{is: live}]", ["10:10 this expectation has no 'track'; add it, as in 'track: siding'"]),
    (
        "expect: [{track: a, is: live, when: {T1: x}}]",
        ["10:42 'T1' has no position 'x'; write 'through' or 'diverging'"],
    ),
    ("expect: [{track: a.left, is: live}]", ["10:18 a whole piece of track is live or dead; write 'a'"]),
    ("expect: [{track: [], is: live}]", ["10:18 nothing is named here; name a piece of track"]),
    ("never: [{}]", ["10:9 an entry without positions would rule out everything; name positions or drop it"]),
    (
        "never: [T1]",
        ["10:9 a combination of positions, as in '{T1: diverging, T2: through}', is due here, as 'name: value' pairs"],
    ),
    (
        "never: [{T1: through, Z: x}]",
        ["10:23 there is no machine, turnout or switch 'Z'; write 'T1', 'T2', 'X1.a' or 'X1.b'"],
    ),
    ("never: [{X1.c: b1}]", ["10:10 there is no machine, turnout or switch 'X1.c'; did you mean 'X1.b'?"]),
    ("limits: {drop: 5}", ["10:16 'drop': '5' has no unit; write it in %, as in '5 %'"]),
    ("limits: {drops: 5 %}", ["10:10 there is no limit 'drops'; did you mean 'drop'?"]),
    (
        "limits: {trip-margin: 1.5 A}",
        ["10:23 'trip-margin': '1.5 A' is not a plain number; write it without 'A', as in '1.5'"],
    ),
    ("limits: {joiners: -2}", ["10:19 'joiners': '-2' is negative; a number is zero or more, as in '1.5'"]),
    (
        "boards: {B1: [a, z]}",
        ["10:18 there is no piece, gear or terminal strip 'z'; write 'main', 'a', 'b', 'T1', 'T2', 'X1' or 'D1'"],
    ),
    ("boards: {B1: {a: b}}", ["10:14 the name of a piece or of gear is due here, not a mapping"]),
    ("gauge: 16.5", ["10:8 'gauge': '16.5' has no unit; write it in mm, cm, m, in or ft, as in '600 mm'"]),
    ("joiner: 5", ["10:9 'joiner': '5' has no unit; write it in ohm, mohm or kohm, as in '50 mohm'"]),
    (
        "rail: code",
        ["10:7 there is no rail section 'code'; write it as in 'code-100', 'code-250-brass' or '57 mohm/m'"],
    ),
    (
        "rail: 57 mohm",
        [
            "10:7 'rail': 'mohm' is no unit of resistance per length; write it in mohm/m, ohm/m, ohm/km, mohm/ft or ohm/ft, as in '20 mohm/m'"
        ],
    ),
    ("title: [x]", ["10:8 the text of 'title' is due here, not a list"]),
    (
        "use: kinds.yaml",
        ["10:6 a layout without a file of its own has no folder to use files from; save it as a file first"],
    ),
]


@pytest.mark.parametrize(("text", "expected"), CASES, ids=[text.strip() for text, _ in CASES])
def test_message(text: str, expected: list[str]) -> None:
    assert added_faults(text) == expected
