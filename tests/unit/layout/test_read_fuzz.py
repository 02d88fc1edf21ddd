"""Whatever is done to a file, it is read or refused with places inside it, and at once."""

from __future__ import annotations

from hypothesis import example, given, settings
from hypothesis import strategies as st

from netlister.layout.read import read_layout
from netlister.source import Source, UnusableError

VALID = """\
format: netlister/1
title: every section
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A, resistance: 50 mohm}
  cab: {type: dc, voltage: 12 V, positive: A, common: main.B}
buses:
  main: {supply: main, wire: 2.5 mm2, length: 6 m, form: ring, colours: {A: BN, B: BU}}
  west: {from: main, at: 4 m, wire: AWG 14}
track:
  a: {length: 600 mm}
  b: {radius: 450 mm, angle: 30 deg, turn: left}
  T1: {kind: live-frog, hand: right}
  T2: {kind: insulated-frog, hand: wye, jumpers: true, frog: dead, contacts: {lever: {common: T2.stock-left}}}
  X1: {kind: double-slip-live}
  D1: {kind: diamond-live, set: {1: {T1: through}, 2: {X1.a: b1}}}
machines:
  M1: {throws: [T1, {X1.b: a2}], contacts: {frog: {common: T1.frog, through: T1.stock-right, action: break-before-make}}}
switches:
  S1: {positions: [on, off], contacts: {c: {common: a.left, on: main.A, off: TB.1}}}
  K1: {follows: S1, positions: [x, y]}
reversers:
  R1: {from: main, mode: automatic}
  R2: {from: west, follows: M1, straight: [through]}
frog-units: {U1: {feeds: X1.frog-a, from: main}}
components: {F1: {kind: fuse, from: TB.1, to: a.right, rating: 3 A, resistance: 10 mohm}}
plugs: {P1: {pins: {1: [a.left, b.left]}, optional: true}}
joints:
  - {from: a, to: T1.toe, id: J1}
  - {from: T1.through, to: b, insulate: vee}
feeds:
  - {to: [a, b], from: main, A: left, B: right, tap: 2 m}
  - {to: T1.diverging, from: R1, at_: 0}
wires:
  - {from: T1.toe.left, to: M1.frog.through, wire: 0.5 mm2, length: 1 m, colour: RD, id: W1}
trains: {r: {length: 1 m, axles: [0 mm, 30 mm], left: [1], parked: J1}}
expect: [{track: [a], is: live, when: {M1: through, K1: x}}]
never: [{T1: diverging, S1: on}]
boards: {east: [a, T1]}
limits: {drop: 5 %, joiners: 2}
gauge: 16.5 mm
rail: code-100
""".replace(", at_: 0", "")

PIECES = ["{", "}", "[", "]", ":", ": ", ",", "- ", "\n", "\n  ", "#", "'", '"', "&x ", "*x", "!t ", "<<: ", "|", ">"]
PIECES += ["a", "T1", "X1", "main", ".", "frog", "", "-1 m", "nan", "0", "null", "~", "\t", "\ufeff", "é", "\r", "?"]

Edit = tuple[float, int, str]


def edited(text: str, edits: list[Edit]) -> str:
    """The text with pieces of it replaced."""
    for place, length, new in edits:
        at = int(place * len(text))
        text = text[:at] + new + text[at + length :]
    return text


def moved(text: str, edits: list[Edit]) -> str:
    """The text with words of it put in the place of others."""
    words = text.split(" ")
    for place, length, _ in edits:
        words[int(place * len(words))] = words[(length * 37) % len(words)]
    return " ".join(words)


def check(text: str) -> None:
    try:
        read_layout(Source("layout.yaml", text))
    except UnusableError as error:
        assert error.faults
        lines = len(text.splitlines()) + 2
        for fault in error.faults:
            assert 1 <= fault.span.line <= lines
            assert fault.span.column >= 1
            assert fault.message
            assert not fault.message.endswith(".")


EDITS = st.lists(
    st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 30), st.sampled_from(PIECES)), min_size=1, max_size=4
)


def test_the_file_is_right_to_begin_with() -> None:
    layout = read_layout(Source("layout.yaml", VALID))
    assert list(layout.variables) == ["M1", "T2", "X1.a", "S1", "P1"]


@settings(max_examples=400, deadline=None)
@given(EDITS)
@example([(0.0, 30, "")])
def test_edited(edits: list[Edit]) -> None:
    check(edited(VALID, edits))


@settings(max_examples=400, deadline=None)
@given(EDITS)
def test_words_moved(edits: list[Edit]) -> None:
    check(moved(VALID, edits))


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=200))
def test_any_text(text: str) -> None:
    check(text)
