"""Keys that were added to version 1: what they say, what is refused, and that a netlist keeps them."""

from __future__ import annotations

import pytest

import netlister
from tests.properties.netlists import round_trip

ALL = """\
format: netlister/1
supplies:
  club: {type: dcc, voltage: 15 V, station: club, ground: bench}
  test: {type: dcc, voltage: 15 V, output: programming}
  cab1: {type: dc, voltage: 12 V, winding: w1}
  cab2: {type: dc, voltage: 12 V, winding: w2, common: cab1.B}
buses: {town: {supply: club, breaker: 2 A, trip-time: 20 ms}}
track:
  line: {}
  T1: {kind: insulated-frog, hand: left, dead: 15 mm, nose: 3 mm, jumpers: true}
machines: {M1: {throws: [T1], type: memory-wire}}
components:
  C1: {kind: capacitor, from: club.A, to: club.B, rating: 25 V}
  D1: {kind: diode, from: TB1, to: line.left}
trains:
  motor-coach: {axles: [0 mm, 20 mm], carries-on: 300 mm, axle-resistance: {2: 5 kohm}}
  wagon: {axles: [0 mm, 20 mm], left: [], axle-resistance: 4700 ohm}
  van: {axles: [0 mm, 20 mm], axle-resistance: [metal, 5 kohm]}
joints: [{from: line, to: T1.toe}]
wires: [{from: town.A, to: TB1}]
feeds: [{to: line, from: town}]
"""


def read(text):
    return netlister.read_text(text, name="layout.yaml")


def test_what_the_keys_say():
    layout = read(ALL)
    club, test, cab1, cab2 = layout.supplies.values()
    assert (club.station, club.ground, club.programming) == ("club", "bench", False)
    assert (test.station, test.programming) == ("", True)
    assert (cab1.winding, cab2.winding) == ("w1", "w2")
    assert layout.buses["town"].trip_time == 0.02
    assert layout.pieces["T1"].written["dead"] == "15 mm"
    assert layout.types == {"M1": "memory-wire"}
    assert layout.components["C1"].rating == 25
    coach, wagon, van = layout.trains.values()
    assert (coach.carries_on, coach.resistances) == (0.3, (None, 5000))
    assert [coach.metal(n) for n in (1, 2)] == [True, False]
    assert wagon.resistances == (4700, 4700)
    assert van.resistances == (None, 5000)


def test_a_netlist_keeps_them():
    layout = read(ALL)
    back, _ = round_trip(layout)
    for name, supply in layout.supplies.items():
        assert back.supplies[name]._replace(span=supply.span) == supply
    assert back.buses["town"].trip_time == 0.02
    assert back.pieces["T1"].written == layout.pieces["T1"].written
    assert back.types == layout.types
    kept = {n: (c.kind, c.ends, c.rating) for n, c in back.components.items()}
    assert kept == {n: (c.kind, c.ends, c.rating) for n, c in layout.components.items()}
    assert {n: t._replace(span=layout.trains[n].span) for n, t in back.trains.items()} == layout.trains


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "winding: w1",
            "station: x",
            "5:44 'station' is for a supply of type dcc that runs trains, not for a supply of",
        ),
        ("winding: w1", "output: programming", "5:43 'output' is for a supply of type dcc"),
        ("winding: w1", "winding: ''", "5:44 no name is written here; write the name of a transformer's winding"),
        ("output: programming", "output: prog", "4:44 'output' cannot be 'prog'; write 'main' or 'programming'"),
        ("breaker: 2 A, ", "", "7:41 'trip-time' is that of the bus's breaker; add 'breaker'"),
        ("dead: 15 mm", "dead: 15", "10:48 'dead': '15' has no unit"),
        (
            "line: {}",
            "line: {dead: 15 mm}",
            "9:10 'rail-section' has no length of plastic under the wheels; leave 'dead'",
        ),
        ("{2: 5 kohm}", "{3: 5 kohm}", "16:77 there is no axle '3'; this train has 2, counted from 1"),
        (
            "[metal, 5 kohm]",
            "[5 kohm]",
            "18:48 'axle-resistance' has 1 values and the train 2 axles; write one for each",
        ),
        (
            "axles: [0 mm, 20 mm], axle-resistance: [",
            "axle-resistance: [",
            "18:26 'axle-resistance' of single axles needs",
        ),
        ("carries-on: 300 mm", "carries-on: 3 s", "16:51 'carries-on': 's' is no unit of length"),
        ("rating: 25 V", "rating: 2 A", "13:59 'rating': 'A' is no unit of voltage"),
    ],
)
def test_what_is_refused(old, new, message):
    with pytest.raises(netlister.UnusableError) as caught:
        read(ALL.replace(old, new, 1))
    told = [f"{f.span.line}:{f.span.column} {f.message}" for f in caught.value.faults]
    assert [t for t in told if t.startswith(message)], told


def test_nothing_conducts_through_a_capacitor():
    assert netlister.check_text(ALL, select={"pole-short"}).findings == ()
