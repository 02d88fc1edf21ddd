"""Faults of gear and wires: every message with its line and column."""

from __future__ import annotations

import pytest

from tests.unit.layout.support import added, added_faults, faults, read

CASES: list[tuple[str, list[str]]] = [
    (
        "frog-units: {U1: {feeds: T1.frog, time: 30}}",
        ["10:41 'time': '30' has no unit; write it in s or ms, as in '2 s'"],
    ),
    (
        "reversers: {R1: {follows: T1, straight: [through], time: 30 ms}}",
        ["10:58 'time' is for a reverser that is automatic; leave it out"],
    ),
    (
        "components: {L1: {kind: lamp, from: main.A, to: a.left, trip-time: 3 ms}}",
        ["10:68 'trip-time' is for 'breaker' or 'fuse', not for a 'lamp'; leave it out"],
    ),
    (
        "components: {L1: {kind: fuse, from: main.A, to: a.left, trip-time: quick}}",
        ["10:68 'trip-time': 'quick' is not a time; write number and unit (s or ms), as in '2 s'"],
    ),
    ("machine: {}", ["10:1 there is no section 'machine'; did you mean 'machines'?"]),
    ("machines: {M1: {}}", ["10:12 'M1' throws nothing; add 'throws' with the turnouts that it moves"]),
    ("machines: {M1: {throw: [T1]}}", ["10:17 a machine takes no 'throw'; did you mean 'throws'?"]),
    (
        "machines: {M1: {throws: []}}",
        ["10:25 nothing is named here; name the turnouts that this machine moves, as in '[T1, T2]'"],
    ),
    (
        "machines: {M1: {throws: }}",
        ["10:25 nothing is named here; name the turnouts that this machine moves, as in '[T1, T2]'"],
    ),
    ("machines: {M1: {throws: [T9]}}", ["10:26 there is no turnout 'T9'; write 'T1', 'T2', 'X1.a' or 'X1.b'"]),
    ("machines: {M1: {throws: [a]}}", ["10:26 'a' is a 'rail-section' and has no blades to throw; name a turnout"]),
    ("machines: {M1: {throws: [X1]}}", ["10:26 'X1' has several tie bars; write 'X1.a' or 'X1.b'"]),
    ("machines: {M1: {throws: [X1.c]}}", ["10:26 'X1' has no tie bar 'c'; write 'X1.a' or 'X1.b'"]),
    ("machines: {M1: {throws: [T1.a]}}", ["10:26 'T1' has one tie bar; write 'T1' alone"]),
    ("machines: {M1: {throws: [main]}}", ["10:26 'main' is a supply, not a turnout"]),
    ("machines: {M1: {throws: [T1, T1]}}", ["10:30 'T1' is named twice; it stands in line 10 already"]),
    (
        "machines: {M1: {throws: [T1]}, M2: {throws: [T2, T1]}}",
        ["10:50 'T1' is thrown by the machine 'M1' already, in line 10; name it under one of them"],
    ),
    (
        "machines: {M1: {throws: [T1, {T2: divergent}]}}",
        ["10:35 'T2' cannot be 'divergent'; write 'through' or 'diverging'"],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: {f: {common: T1.frg}}}}",
        ["10:54 'T1' has no terminal 'frg'; did you mean 'T1.frog'?"],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: {f: {common: T1}}}}",
        [
            "10:54 'T1' is a piece of track, not one of its terminals; write 'T1.stock-left', 'T1.stock-right' or 'T1.frog'"
        ],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: {f: {comon: T1.frog}}}}",
        ["10:46 this contact takes no 'comon'; did you mean 'common'?"],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: {f: {thru: T1.frog}}}}",
        ["10:46 this contact takes no 'thru'; did you mean 'through'?"],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: {f: {common: M1.f.left}}}}",
        ["10:54 'M1' has no terminal 'f.left'; write 'M1.f.common', 'M1.f.through' or 'M1.f.diverging'"],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: {f: {common: main.C}}}}",
        ["10:54 'main' has no terminal 'C'; did you mean 'main.B'?"],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: {f: {common: }}}}",
        ["10:54 no terminal is written here; write one, as in 'T1.frog', 'main.A' or 'TB1.3'"],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: {f: {common: [T1.frog]}}}}",
        ["10:54 a terminal, as in 'T1.frog', is due here, not a list"],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: {f: {action: slow}}}}",
        ["10:54 'action' cannot be 'slow'; write 'break-before-make' or 'make-before-break'"],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: {f.g: {}}}}",
        ["10:42 a contact cannot be called 'f.g'; write a name without dots"],
    ),
    (
        "machines: {M1: {throws: [T1], contacts: [f]}}",
        ["10:41 a contact under its name, as in '{frog: {common: T1.frog}}', is due here, as 'name: value' pairs"],
    ),
    ("machines: [M1]", ["10:11 a machine under its name is due here, as 'name: value' pairs"]),
    (
        "machines: {T1: {throws: [T1]}}",
        ["10:12 the name 'T1' is taken: a piece of track has it in line 6; choose another name"],
    ),
    ("switches: {S1: {}}", ["10:12 'S1' has no positions; add them, as in 'positions: [off, on]'"]),
    ("switches: {S1: {positions: [on]}}", ["10:28 a switch has two positions or more; write them, as in '[off, on]'"]),
    ("switches: {S1: {positions: [on, on]}}", ["10:33 the position 'on' is here a second time; name each once"]),
    ("switches: {S1: {positions: [on, a.b]}}", ["10:33 a position cannot be called 'a.b'; write a name without dots"]),
    (
        "switches: {S1: {positions: [on, common]}}",
        ["10:33 a position cannot be called 'common', which has a meaning in contacts; choose another"],
    ),
    ("switches: {S1: {positions: on}}", ["10:28 a row of positions, as in '[off, on]', is due here, as a list"]),
    (
        "switches: {K1: {follows: M9, positions: [x, y]}}",
        ["10:26 there is no machine, turnout or switch 'M9'; write 'T1', 'T2', 'X1.a' or 'X1.b'"],
    ),
    (
        "switches: {K1: {follows: T1, positions: [x, y, z]}}",
        ["10:41 'K1' has 3 positions and 'T1' 2; write one for each of 'through', 'diverging', in that order"],
    ),
    (
        "switches: {K1: {follows: K2, positions: [x, y]}, K2: {follows: K1, positions: [x, y]}}",
        [
            "10:26 these relays follow each other in a circle: 'K1' follows 'K2' follows 'K1'; let one follow a machine or switch"
        ],
    ),
    (
        "switches: {K1: {follows: K1, positions: [x, y]}}",
        ["10:26 these relays follow each other in a circle: 'K1' follows 'K1'; let one follow a machine or switch"],
    ),
    (
        "switches: {S1: {positions: [x, y], contacts: {c: {common: a.left, z: main.A}}}}",
        ["10:67 this contact takes no 'z'; write 'action', 'common', 'x' or 'y'"],
    ),
    (
        "reversers: {R1: {}}",
        ["10:13 'R1' does not say how it works; add 'mode: automatic', or 'follows' and 'straight'"],
    ),
    ("reversers: {R1: {mode: auto}}", ["10:24 'mode' cannot be 'auto'; write 'automatic'"]),
    (
        "reversers: {R1: {mode: automatic, follows: T1, straight: [through]}}",
        ["10:24 a reverser is automatic or follows something, not both; leave one out"],
    ),
    (
        "reversers: {R1: {follows: T1}}",
        ["10:13 'R1' does not say when it is straight; add it, as in 'straight: [through]'"],
    ),
    (
        "reversers: {R1: {follows: T1, straight: [up]}}",
        ["10:42 'T1' has no position 'up'; write 'through' or 'diverging'"],
    ),
    ("reversers: {R1: {follows: T1, straight: []}}", ["10:41 nothing is named here; name positions of 'T1'"]),
    (
        "reversers: {R1: {mode: automatic, straight: [through]}}",
        ["10:45 'straight' is for a reverser that follows something; leave it out"],
    ),
    ("reversers: {R1: {from: R1, mode: automatic}}", ["10:24 'R1' is a reverser, not a bus"]),
    ("reversers: {R1: {from: mian, mode: automatic}}", ["10:24 there is no bus 'mian'; did you mean 'main'?"]),
    (
        "machines: {M1: {throws: [T1], type: coils}}",
        ["10:37 'type' cannot be 'coils'; write 'coil', 'stall', 'servo', 'lever' or 'memory-wire'"],
    ),
    (
        "switches: {S1: {positions: [x, y], type: tumbler}}",
        [
            "10:42 'type' cannot be 'tumbler'; write 'toggle', 'slide', 'rotary', 'push-button', 'relay' or 'latching-relay'"
        ],
    ),
    (
        "switches: {S1: {positions: [x, y], type: push-button, rest: z}}",
        ["10:61 'rest' cannot be 'z'; write 'x' or 'y'"],
    ),
    (
        "switches: {K1: {follows: T1, type: toggle}}",
        ["10:26 a toggle is moved by hand and follows nothing; leave 'follows' out, or write 'type: relay'"],
    ),
    (
        "switches: {K1: {follows: T1, rest: through}}",
        ["10:36 'rest' is for a switch under a hand that springs back; leave it out"],
    ),
    (
        "switches: {K1: {positions: [x, y], type: relay}}",
        [
            "10:12 'K1' is a relay and follows nothing; add 'follows' with the name of a machine or switch, or write "
            "'type: latching-relay' if it may stand either way"
        ],
    ),
    (
        "switches: {K1: {positions: [x, y], type: latching-relay, rest: x}}",
        ["10:64 a latching relay stays where it was put and has no 'rest'; leave it out"],
    ),
    ("buses: {w: {supply: main, breaker: 3}}", ["10:36 'breaker': '3' has no unit; write it in A or mA, as in '3 A'"]),
    ("buses: {w: {supply: main, braker: 3 A}}", ["10:27 a bus takes no 'braker'; did you mean 'breaker'?"]),
    ("frog-units: {U1: {}}", ["10:14 'U1' feeds nothing; add the terminal of a frog, as in 'feeds: T1.frog'"]),
    ("frog-units: {U1: {feeds: T1.stock-left}}", ["10:26 'T1.stock-left' is no frog; write 'T1.frog'"]),
    ("frog-units: {U1: {feeds: T1}}", ["10:26 'T1' is no frog; write 'T1.frog'"]),
    ("frog-units: {U1: {feeds: a.left}}", ["10:26 'a' is a 'rail-section', which has no frog of metal to feed"]),
    (
        "frog-units: {U1: {feeds: T9.frog}}",
        ["10:26 there is no piece of track 'T9'; write 'a', 'b', 'T1', 'T2', 'X1' or 'D1'"],
    ),
    (
        "components: {C1: {kind: fuze, from: main.A, to: a.left}}",
        [
            "10:25 'kind' cannot be 'fuze'; write 'breaker', 'fuse', 'diode', 'detector', 'lamp', 'resistor', 'load' or 'capacitor'"
        ],
    ),
    ("components: {C1: {kind: fuse, from: main.A}}", ["10:14 'C1' has no 'to'; add it, as in 'to: siding.left'"]),
    (
        "components: {C1: {kind: fuse, from: main.A, to: a.left, rating: 3}}",
        ["10:65 'rating': '3' has no unit; write it in A or mA, as in '3 A'"],
    ),
    (
        "components: {C1: {kind: fuse, from: main.A, to: a.left, resistance: -1 ohm}}",
        ["10:69 'resistance': '-1 ohm' is negative; a resistance is zero or more, as in '50 mohm'"],
    ),
    ("plugs: {P1: {}}", ["10:9 'P1' has no pins; add them, as in 'pins: {1: [west.left, east.left]}'"]),
    (
        "plugs: {P1: {pins: {1: [a.left]}}}",
        ["10:24 pin '1' joins two terminals; write them, as in '[west.left, east.left]'"],
    ),
    (
        "plugs: {P1: {pins: {1: a.left}}}",
        ["10:24 pin '1' joins two terminals; write them, as in '[west.left, east.left]'"],
    ),
    (
        "plugs: {P1: {pins: {1: [a.left, b.left]}, optional: maybe}}",
        ["10:53 'optional' cannot be 'maybe'; write 'true' or 'false'"],
    ),
    ("wires: [{from: a.left}]", ["10:9 this wire has no 'to'; add a terminal, as in 'to: T1.frog'"]),
    ("wires: [{from: a.left, to: P1, color: RD}]", ["10:32 a wire takes no 'color'; did you mean 'colour'?"]),
    (
        "wires: [{from: a.left, to: b.left, colour: red}]",
        ["10:44 'colour': 'red' is no colour of IEC 60757; write 'RD'"],
    ),
    ("wires: [{from: a.left, to: a.top}]", ["10:28 'a' has no terminal 'top'; write 'a.left' or 'a.right'"]),
    ("wires: [{from: a.left, to: a.b.top}]", ["10:28 'a' has no terminal 'b.top'; did you mean 'a.b.left'?"]),
    (
        "wires: [{from: a.left, to: T1.thruogh.left}]",
        ["10:28 'T1' has no terminal 'thruogh.left'; did you mean 'T1.through.left'?"],
    ),
]


LIGHTS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}, lights: {accessory: true, voltage: 16 V}}
track: {a: , T1: {kind: live-frog, hand: left}}
"""


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "feeds: [{to: a, from: lights}]",
            [
                "4:23 'lights' is for accessories and runs no train; name another source, or leave out 'accessory: true' "
                "at its supply"
            ],
        ),
        (
            "reversers: {R1: {from: lights, mode: automatic}}",
            [
                "4:24 'lights' is for accessories and runs no train; name another source, or leave out 'accessory: true' "
                "at its supply"
            ],
        ),
        (
            "buses: {lamps: {supply: lights}}\nfrog-units: {U1: {feeds: T1.frog, from: lamps}}",
            [
                "5:41 'lamps' is for accessories and runs no train; name another source, or leave out 'accessory: true' "
                "at its supply"
            ],
        ),
    ],
)
def test_track_is_not_fed_by_a_supply_for_accessories(text: str, expected: list[str]) -> None:
    assert faults(LIGHTS + text + "\n") == expected


def test_where_every_supply_is_for_accessories_it_is_said() -> None:
    text = LIGHTS.replace("main: {type: dcc, voltage: 15 V}, ", "")
    assert faults(text + "feeds: [{to: a}]\n") == [
        "4:9 this feed has no 'from', and every supply here is for accessories; add one of type dc or dcc"
    ]
    assert faults(text + "reversers: {R1: {mode: automatic}}\n") == [
        "4:13 'R1' has no 'from'; every supply here is for accessories; add one of type dc or dcc"
    ]
    assert faults(text.replace("true", "maybe")) == [
        "2:12 'lights' has no type; add 'type: dc' or 'type: dcc'",
        "2:32 'accessory' cannot be 'maybe'; write 'true' or 'false'",
    ]


def test_a_supply_for_accessories_does_not_count_where_a_feed_names_none() -> None:
    layout = read(LIGHTS + "feeds: [{to: a}]\n")
    assert layout.feeds[0].source == "main"
    assert layout.supplies["lights"].accessory


def test_what_is_read_of_machines_and_switches() -> None:
    layout = added(
        "machines: {M1: {throws: [T1], type: coil}, M2: {throws: [T2], type: lever}}\n"
        "switches:\n"
        "  PB: {positions: [on, off], type: push-button, rest: off}\n"
        "  S1: {positions: [up, off, down], type: toggle}\n"
        "  K1: {follows: M1, type: relay}\n"
        "  K2: {positions: [set, reset], type: latching-relay}\n"
        "  K3: {follows: PB, type: latching-relay}\n"
        "buses: {west: {supply: main, breaker: 2.5 A}, twig: {from: west}}\n"
        "wires: [{from: west.A, to: a.left}, {from: main.A, to: b.left}]\n"
    )
    assert layout.types == {
        "M1": "coil",
        "M2": "lever",
        "PB": "push-button",
        "S1": "toggle",
        "K1": "relay",
        "K2": "latching-relay",
        "K3": "latching-relay",
    }
    assert [(v.name, v.rest) for v in layout.variables.values() if v.kind == "switch"] == [
        *(("PB", 1), ("S1", 0), ("K2", 0))
    ]
    assert (layout.buses["west"].breaker, layout.buses["twig"].breaker) == (2.5, None)
    assert [link.buses for link in layout.links] == [("west", ""), ("main", "")]
    assert [link.ends[0] for link in layout.links] == ["main.A", "main.A"]


@pytest.mark.parametrize(("text", "expected"), CASES, ids=[text.strip() for text, _ in CASES])
def test_message(text: str, expected: list[str]) -> None:
    assert added_faults(text) == expected
