"""Faults of pieces of track: every message with its line and column."""

from __future__ import annotations

import pytest

from tests.unit.layout.support import added_faults

CASES: list[tuple[str, list[str]]] = [
    ("  c: {lenght: 1 m}", ["10:7 'rail-section' takes no 'lenght'; did you mean 'length'?"]),
    ("  c: {colour: red}", ["10:7 'rail-section' takes no 'colour'; it takes kind, length, radius, angle, turn"]),
    ("  c: {length: 600}", ["10:15 'length': '600' has no unit; write it in mm, cm, m, in or ft, as in '600 mm'"]),
    (
        "  c: {length: 6 V}",
        ["10:15 'length': 'V' is no unit of length; write it in mm, cm, m, in or ft, as in '600 mm'"],
    ),
    ("  c: {length: -6 m}", ["10:15 'length': '-6 m' is negative; a length is zero or more, as in '600 mm'"]),
    (
        "  c: {length: nan m}",
        ["10:15 'length': 'nan m' is not a finite number; write number and unit (mm, cm, m, in or ft), as in '600 mm'"],
    ),
    (
        "  c: {length: .inf}",
        ["10:15 'length': '.inf' is not a finite number; write number and unit (mm, cm, m, in or ft), as in '600 mm'"],
    ),
    ('  c: {length: "1,5 m"}', ["10:15 'length': '1,5 m' has a comma; write the number with a point, as in '600 mm'"]),
    (
        "  c: {length: 1e999 m}",
        ["10:15 'length': '1e999 m' is more than 10000 m, the most that is taken; write what you measure"],
    ),
    (
        "  c: {length: }",
        ["10:15 'length': nothing is written here; write number and unit (mm, cm, m, in or ft), as in '600 mm'"],
    ),
    (
        "  c: {length: long}",
        ["10:15 'length': 'long' is not a length; write number and unit (mm, cm, m, in or ft), as in '600 mm'"],
    ),
    ("  c: {length: [1 m]}", ["10:15 a length, as in '600 mm', is due here, not a list"]),
    ("  c: {length: 1 m, length: 2 m}", ["10:20 'length' is here a second time; it stands in line 10 already"]),
    ("  c: {radius: 450 mm}", ["10:15 a curve has a radius and an angle; add 'angle: 30 deg'"]),
    ("  c: {angle: 30 deg}", ["10:14 a curve has a radius and an angle; add 'radius: 450 mm'"]),
    (
        "  c: {radius: 450 mm, angle: 30 deg, length: 1 m}",
        ["10:46 a curve's length follows from its radius and angle; leave 'length' out"],
    ),
    (
        "  c: {radius: 450 mm, angle: 30, turn: up}",
        [
            "10:30 'angle': '30' has no unit; write it in deg, as in '30 deg'",
            "10:40 'turn' cannot be 'up'; write 'left' or 'right'",
        ],
    ),
    ("  c: {length: 1 m, turn: left}", ["10:20 'turn' is for a curve; add 'radius' and 'angle' or leave 'turn' out"]),
    ("  c: [1 m]", ["10:6 a piece of track is due here, as 'name: value' pairs"]),
    ("  c: 1 m", ["10:6 a piece of track is due here, as 'name: value' pairs"]),
    ("  c: {kind: live-forg, hand: right}", ["10:13 there is no kind 'live-forg'; did you mean 'live-frog'?"]),
    ("  c: {kind: }", ["10:13 no kind is written here; write one or leave 'kind' out for a rail-section"]),
    ("  c: {kind: [live-frog]}", ["10:13 the kind of a piece is due here, not a list"]),
    (
        "  c: {kind: live-frog}",
        ["10:3 'c' has no hand, which 'live-frog' needs; add 'hand: left', 'hand: right' or 'hand: wye'"],
    ),
    ("  c: {kind: live-frog, hand: middle}", ["10:30 'hand' cannot be 'middle'; write 'left', 'right' or 'wye'"]),
    ("  c: {kind: diamond-live, hand: left}", ["10:33 'diamond-live' has no hand; leave 'hand' out"]),
    ("  c: {hand: left}", ["10:13 'rail-section' has no hand; leave 'hand' out"]),
    (
        "  c: {kind: three-way-live, jumpers: true}",
        ["10:29 'three-way-live' takes no 'jumpers', only 'insulated-frog' or 'live-frog'; leave it out"],
    ),
    (
        "  c: {kind: turntable, roads: 99}",
        ["10:31 'roads' cannot be '99'; write a whole number from 1 to 48"],
    ),
    ("  c: {kind: turntable, roads: [1]}", ["10:31 a whole number is due here, not a list"]),
    (
        "  c: {kind: live-frog, hand: wye, curved: true}",
        ["10:13 'curved: true' is for 'hand: left' or 'hand: right', not for 'hand: wye'"],
    ),
    (
        "  c: {kind: insulated-frog, hand: left, jumpers: yes}",
        ["10:50 'jumpers' cannot be 'yes'; write 'true' or 'false'"],
    ),
    ("  c: {frog: dead}", ["10:7 'rail-section' has no frog; leave 'frog' out"]),
    ("  c: {kind: live-frog, hand: left, frog: alive}", ["10:42 'frog' cannot be 'alive'; write 'dead'"]),
    (
        "  c: {kind: live-frog, hand: left, frog-number: five}",
        ["10:49 'frog-number': 'five' is not a number; write a number, as in '1.5'"],
    ),
    ("  c: {set: {1: {T1: through}}}", ["10:7 'set' is for a crossing without blades; leave it out"]),
    (
        "  c: {contacts: {x: {common: a.left}}}",
        ["10:7 'rail-section' has no blades that could move contacts; write them under 'machines' or 'switches'"],
    ),
    (
        "  c: {kind: double-slip-live, contacts: {x: {common: a.left}}}",
        ["10:31 'double-slip-live' has several tie bars; write its contacts under the machine that throws one"],
    ),
    ("  c: {kind: diamond-live, set: {3: {T1: through}}}", ["10:33 'c' has no track '3'; write '1' or '2'"]),
    (
        "  c: {kind: diamond-live, set: {1: {T1: thru}}}",
        ["10:41 'T1' has no position 'thru'; write 'through' or 'diverging'"],
    ),
    (
        "  c: {kind: diamond-live, set: {1: {T9: through}}}",
        ["10:37 there is no machine, turnout or switch 'T9'; write 'T1', 'T2', 'X1.a' or 'X1.b'"],
    ),
    ("  c: {kind: diamond-live, set: {1: {X1: b1}}}", ["10:37 'X1' has several tie bars; write 'X1.a' or 'X1.b'"]),
    (
        "  c: {kind: diamond-live, set: {1: {a: b1}}}",
        ["10:37 'a' is a piece of track, not a machine, turnout or switch"],
    ),
    (
        "  c: {kind: live-frog, hand: wye, contacts: {left: {common: a.left}}}",
        ["10:46 'c.left.left' would be a rail and a contact; call the contact otherwise"],
    ),
    (
        "  c: {kind: live-frog, hand: wye, contacts: {l: {comon: a.left, through: a.left}}}",
        [
            "10:50 this contact takes no 'comon'; did you mean 'common'?",
            "10:65 this contact takes no 'through'; write 'action', 'common', 'left' or 'right'",
        ],
    ),
    ("  a: {length: 1 m}", ["10:3 'a' is here a second time; it stands in line 4 already"]),
    ("  main: {length: 1 m}", ["10:3 the name 'main' is taken: a supply has it in line 2; choose another name"]),
    ("  c.d: {length: 1 m}", ["10:3 the name 'c.d' has a dot, which parts a piece from its rail; write 'c-d'"]),
    ('  "": {length: 1 m}', ["10:3 the name of a piece of track is empty; write one"]),
    ("  [c]: {length: 1 m}", ["10:3 a name is due here, not a list or a mapping"]),
]


@pytest.mark.parametrize(("text", "expected"), CASES, ids=[text.strip() for text, _ in CASES])
def test_message(text: str, expected: list[str]) -> None:
    assert added_faults(text) == expected
