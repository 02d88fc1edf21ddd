"""Volts along wires and rails against worked examples of textbooks and tutors, each named beside its figures.

Each source was read; where its answer was not printed in what was read it is marked "inputs read, answer derived". Each is
written as a layout: a bus or a length of track stands for the distributor, trains for the loads.
"""

import pytest

import netlister
from netlister.circuit.build import build
from netlister.volts.network_build import build_network
from netlister.volts.operating import Load, Operating


def volts(text, loads):
    """The voltage between the rails at each load (piece, place in m, A), in V, all of them on the track at once."""
    network = build_network(build(netlister.read_text(text)))
    spots = {(piece, at): network.spots(piece, "a-b", at) for piece, at, _ in loads}
    trains = [Load(*spots[piece, at], amps) for piece, at, amps in loads]
    operating = Operating(network, ())
    known = operating.voltages(trains)
    return [
        operating.at(known, left, trains) - operating.at(known, right, trains)
        for left, right in (spots[piece, at] for piece, at, _ in loads)
    ]


def track(supply, rail, length, feeds, joiner="0 mohm"):
    return f"""
format: netlister/1
supplies: {{main: {{type: dc, voltage: {supply} V}}}}
rail: {rail} mohm/m
joiner: {joiner}
track: {{line: {{length: {length} m}}}}
feeds: {feeds}
"""


def test_two_wire_run_fed_at_one_end():
    # exam preparation page, read: 500 V, 0.02 ohm/km each conductor, 100 A at 2 km, 200 A at 4 km: 476 V and 460 V
    found = volts(track(500, 0.02, 4000, "[{to: line}]"), [("line", 2000, 100), ("line", 4000, 200)])
    assert found == pytest.approx([488 - 12, 476 - 16], rel=1e-12)


def test_distributor_with_four_loads():
    # power-system textbook, ex. 13.1, read: 300 V, loop 0.02 ohm per 1000 m, loads at 500, 1000, 1600, 2000 m
    loads = [("line", 500, 100), ("line", 1000, 150), ("line", 1600, 200), ("line", 2000, 50)]
    assert volts(track(300, 0.01, 2000, "[{to: line}]"), loads) == pytest.approx([295.0, 291.0, 288.0, 287.6])


def test_cross_section_that_loses_ten_volts():
    # power-system textbook, ex. 13.2, read: 1.164 cm2 at 1.78e-8 ohm m
    rail = 1.78e-8 / 1.164e-4 * 1000
    text = track(1000, f"{rail:.12f}", 250, "[{to: line}]")
    loads = [("line", 40, 30), ("line", 100, 40), ("line", 150, 100), ("line", 250, 50)]
    assert 1000 - volts(text, loads)[-1] == pytest.approx(10.0, abs=0.005)


def test_two_different_conductors():
    # power-system textbook, ex. 13.3, inputs read, answer derived: 0.25 and 0.03 ohm/km, 40 A at 2 km, 20 A 4 km
    # further: 566.4 and 544.0 V
    text = """
format: netlister/1
supplies: {main: {type: dc, voltage: 600 V}}
rail: 0 mohm/m
track: {near: {length: 0 m}, far: {length: 0 m}}
feeds: [{to: near, B: right}, {to: far, B: right}]
wires:
  - {from: main.A, to: near.left, wire: 0.25 mohm/m, length: 2000 m}
  - {from: near.left, to: far.left, wire: 0.25 mohm/m, length: 4000 m}
"""
    rails = """
  - {from: main.B, to: near.right, wire: 0.03 mohm/m, length: 2000 m}
  - {from: near.right, to: far.right, wire: 0.03 mohm/m, length: 4000 m}
"""
    text = text.replace("feeds: [{to: near, B: right}, {to: far, B: right}]\n", "") + rails.lstrip("\n")
    assert volts(text, [("near", 0, 40), ("far", 0, 20)]) == pytest.approx([566.4, 544.0])


def test_stranded_wire_that_loses_a_sixth():
    # electrical training page, read: 100 ft, 4.99 ohm/1000 ft, 4 A, 24 V: 3.992 V, 16.6 %
    text = """
format: netlister/1
supplies: {main: {type: dc, voltage: 24 V}}
rail: 0 mohm/m
track: {line: {length: 0 m}}
feeds: [{to: line, wire: 4.99 mohm/ft, length: 100 ft}]
"""
    lost = 24 - volts(text, [("line", 0, 4)])[0]
    assert lost == pytest.approx(3.992)
    assert lost / 24 == pytest.approx(0.1663, abs=1e-4)


@pytest.mark.parametrize(("wire", "expected"), [("6.8964 mohm/m", 1.38), ("11.494 mohm/m", 2.30)])
def test_five_metres_out_and_back(wire, expected):
    # electronics forum, read: 20 A, rho 17.241 ohm mm2/km, 2.5 and 1.5 mm2
    text = f"""
format: netlister/1
supplies: {{main: {{type: dc, voltage: 24 V}}}}
rail: 0 mohm/m
track: {{line: {{length: 0 m}}}}
feeds: [{{to: line, wire: {wire}, length: 5 m}}]
"""
    assert 24 - volts(text, [("line", 0, 20)])[0] == pytest.approx(expected, abs=0.005)


def test_fed_at_both_ends():
    # lecture slides, inputs read, answer derived: 220 V, 600 m, 1 cm2 at 1.7e-6 ohm cm, go and return; lowest at 400 m,
    # 215.69 V
    loads = [("line", 100, 20), ("line", 250, 40), ("line", 400, 50), ("line", 500, 30)]
    found = volts(track(220, 0.17, 600, "[{to: line.a}, {to: line.b}]"), loads)
    assert min(found) == found[2] == pytest.approx(215.69, abs=0.005)


def ring(supply, lengths, rail):
    names = [f"s{n}" for n in range(len(lengths))]
    pieces = ", ".join(f"{name}: {{length: {length} m}}" for name, length in zip(names, lengths, strict=True))
    joints = ", ".join(f"{{from: {a}, to: {b}}}" for a, b in zip(names, [*names[1:], names[0]], strict=True))
    return f"""
format: netlister/1
supplies: {{main: {{type: dc, voltage: {supply} V}}}}
rail: {rail} mohm/m
joiner: 0 mohm
track: {{{pieces}}}
joints: [{joints}]
feeds: [{{to: s0}}]
"""


def test_ring_of_three():
    # lecture slides, inputs read, answer derived: ring of 300 m, 240 V at A, 120 A at B 150 m on, 80 A at C 100 m the
    # other way, 0.03 ohm per 100 m of single conductor: 232.2 V and 233.2 V
    found = volts(ring(240, (150, 50, 100), 0.3), [("s0", 150, 120), ("s1", 50, 80)])
    assert found == pytest.approx([232.2, 233.2])


def test_ring_of_five():
    # tutor page, inputs read, answer derived: go and return .1, .05, .01, .025, .075 ohm; 10, 20, 30, 10 A: 217.10,
    # 216.14, 216.15, 216.93 V
    text = ring(220, (100, 50, 10, 25, 75), 0.5)
    loads = [("s0", 100, 10), ("s1", 50, 20), ("s2", 10, 30), ("s3", 25, 10)]
    assert volts(text, loads) == pytest.approx([217.10, 216.14, 216.15, 216.93], abs=0.005)


def test_ring_whose_printed_answer_forgot_a_conductor():
    # tutor page, inputs and the printed answer read, the right answer derived: it prints 497.10 V with one conductor
    # only (496.71 V beside it is derived in the same way); both counted it is 494.20 and 493.42 V
    found = volts(ring(500, (500, 300, 700), 0.03), [("s0", 500, 150), ("s1", 300, 200)])
    assert found == pytest.approx([494.20, 493.42], abs=0.005)
    assert found != pytest.approx([497.10, 496.71], abs=0.5)


def test_five_sources_at_one_node():
    # textbook ch. 2.18 ex. 1, read: 225 V/5 ohm, 210/1, 230/1, 230/2, 240/2: the node is at 225 V
    sources = ((225, 5), (210, 1), (230, 1), (230, 2), (240, 2))
    supplies = ", ".join(
        f"s{n}: {{type: dc, voltage: {v} V, resistance: {r} ohm{', common: s0.B' if n else ''}}}"
        for n, (v, r) in enumerate(sources)
    )
    wires = ", ".join(f"{{from: s{n}.A, to: line.left}}" for n in range(5))
    text = f"""
format: netlister/1
supplies: {{{supplies}}}
rail: 0 mohm/m
track: {{line: {{length: 0 m}}}}
wires: [{wires}, {{from: s0.B, to: line.right}}]
"""
    network = build_network(build(netlister.read_text(text)))
    left, right = network.spots("line", "a-b", 0)
    operating = Operating(network, (), source=True)
    known = operating.voltages()
    assert operating.at(known, left) - operating.at(known, right) == pytest.approx(225)


def test_coin_test_arithmetic():
    # derived: a supply of U volts trips at I only if the whole loop is no more than U/I
    for volts_, amps, ohm in ((15, 5, 3.0), (15, 3, 5.0), (12, 3, 4.0), (18, 5, 3.6), (15, 8, 1.875)):
        assert volts_ / amps == pytest.approx(ohm)
        text = track(volts_, f"{ohm * 500:g}", 1, "[{to: line}]")
        from netlister.volts.drop import Survey

        drop = Survey.of(netlister.read_text(text)).pieces()["line"]
        assert drop is not None
        assert drop.loop == pytest.approx(ohm)
        assert drop.short == pytest.approx(amps)
