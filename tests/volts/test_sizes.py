"""The thinnest wire that holds the limits."""

import pytest

import netlister
from netlister.volts.drop import Survey
from netlister.volts.sizes import Sizing

LAYOUT = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
rail: 0 mohm/m
limits: {drop: 5 %}
buses: {main: {wire: 0.5 mm2, length: 10 m}}
track: {line: {length: 1 m}}
feeds: [{to: line, tap: 10 m}]
"""


def sizes(text=LAYOUT, **options):
    return list(Sizing(netlister.read_text(text), **options).sizes())


def test_by_hand():
    # worked out: 0.75 V at 3 A are 0.25 ohm there and back over 20 m, so 12.5 mohm/m at the most: IEC 60228 allows
    # 12.1 for 1.5 mm2; AWG 14 has 8.3 and AWG 16 13.2 (ASTM B258)
    metric, gauge = sizes()
    assert (metric.wire, gauge.wire) == ("1.5 mm2", "AWG 14")
    assert metric.drop == pytest.approx(3 * 20 * 0.0121)
    assert metric.share == pytest.approx(3 * 20 * 0.0121 / 15)


@pytest.mark.parametrize("amps", [1, 2, 4, 6])
def test_against_trying_every_size(amps):
    (metric, _) = sizes(amps=amps)
    holding = []
    for wire in ("0.5 mm2", "0.75 mm2", "1 mm2", "1.5 mm2", "2.5 mm2", "4 mm2", "6 mm2"):
        survey = Survey.of(netlister.read_text(LAYOUT.replace("0.5 mm2", wire)), amps)
        if survey.pieces()["line"].share <= 0.05 and wire != "0.5 mm2":  # which carries 3 A up to 2 m only
            holding.append(wire)
    assert metric.wire == holding[0]


def test_none_is_thick_enough_where_the_rail_loses_all():
    text = LAYOUT.replace("rail: 0 mohm/m", "rail: 206 mohm/m").replace("line: {length: 1 m}", "line: {length: 1.2 m}")
    found = sizes(text)
    assert [s.wire for s in found] == ["", ""]
    instead = list(Sizing(netlister.read_text(text)).instead(found))
    assert [i[1:] for i in instead] == [("line", pytest.approx(0.8 * 1.2), 10.0, "2.5 mm2", "")]


def test_another_feeder_in_place_of_a_thicker_bus():
    text = (
        LAYOUT.replace("rail: 0 mohm/m", "rail: 60 mohm/m")
        .replace("length: 10 m", "length: 4 m")
        .replace("10 m}", "4 m}")
    )
    found = sizes(text)
    (instead,) = Sizing(netlister.read_text(text)).instead(found)
    assert (instead.piece, instead.at) == ("line", pytest.approx(0.8))
    assert float(instead.wire.split()[0]) < float(found[0].wire.split()[0])


def test_feeders():
    # worked out: 0.25 ohm over 2 x 4 m is 31.25 mohm/m at the most: 0.75 mm2 (24.5), AWG 18 (20.9)
    text = LAYOUT.replace("buses: {main: {wire: 0.5 mm2, length: 10 m}}\n", "").replace(
        "tap: 10 m", "wire: 0.5 mm2, length: 4 m"
    )
    metric, gauge = sizes(text)
    assert (metric.use, metric.wire, gauge.wire) == ("feeders", "0.75 mm2", "AWG 18")


def test_nothing_to_size():
    assert sizes(LAYOUT.replace(", length: 10 m", "").replace(", tap: 10 m", "")) == []


def test_bus_and_feeders_together_before_it_is_said_that_none_helps():
    # derived: 0.5 mm2 of each, 10 m of bus and 4 m of feeder; at 3 A 0.25 ohm for both: neither alone, both together
    text = LAYOUT.replace("tap: 10 m", "tap: 10 m, wire: 0.5 mm2, length: 4 m")
    text = text.replace("drop: 5 %", "drop: 2 %")
    sizing = Sizing(netlister.read_text(text))
    alone = list(sizing.sizes())
    assert not any(s.wire for s in alone)
    metric, gauge = sizing.together(alone)
    assert (metric.wire, metric.feeders) == ("6 mm2", "4 mm2")
    # derived: 2 x 3 A x (10 m x 3.08 + 4 m x 4.61 mohm/m) is 0.295 V; with 2.5 mm2 feeders 0.363 V
    assert metric.drop == pytest.approx(6 * (10 * 0.00308 + 4 * 0.00461))
    assert gauge.unit == "gauge"


def test_a_bus_is_judged_by_the_track_that_it_feeds():
    text = LAYOUT.replace(
        "buses: {main: {wire: 0.5 mm2, length: 10 m}}",
        "buses: {main: {wire: 0.5 mm2, length: 10 m}, bad: {supply: main, wire: 99 mohm/m, length: 30 m}}",
    ).replace("track: {line: {length: 1 m}}", "track: {line: {length: 1 m}, far: {length: 1 m}}")
    text = text.replace("tap: 10 m}]", "from: main, tap: 10 m}, {to: far, from: bad, tap: 30 m}]")
    assert {s.unit: s.wire for s in sizes(text) if s.bus == "main"} == {"mm2": "1.5 mm2", "gauge": "AWG 14"}


FAR = """
format: netlister/1
rail: 60 mohm/m
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}, other: {type: dcc, voltage: 15 V, trip: 3 A}}
buses:
  main: {supply: main, wire: 0.75 mm2, length: 6 m}
  bad: {supply: other, wire: 0.5 mm2, length: 60 m}
track: {line: {length: 9 m}, far: {length: 4 m}}
feeds:
  - {to: line, from: main, tap: 6 m}
  - {to: far, from: bad, tap: 60 m}
"""


def test_a_thicker_bus_and_feeders_where_no_wire_helps():
    """The other bus is worse, and no wire and feeder helps it; written into the file, the advice holds the limit."""
    sizing = Sizing(netlister.read_text(FAR))
    found = list(sizing.sizes())
    instead = list(sizing.instead(found))
    assert not any(s.wire for s in found)
    assert instead == []
    (both,) = sizing.with_feeders(found, instead)
    assert both.bus == "main"
    assert len(both.feeders) > 1
    mended = FAR.replace("main, wire: 0.75 mm2", f"main, wire: {both.wire}")
    mended += "".join(f"  - {entry}\n" for entry in both.feeders)

    def losing(text):
        return {f.subject for f in netlister.check_text(text, select=["voltage-drop"]).findings}

    assert losing(FAR) == {"line", "far"}
    assert losing(mended) == {"far"}
    assert losing(mended.replace(f"  - {both.feeders[-1]}\n", "")) == {"line", "far"}
    thinner = {"6 mm2": "4 mm2", "4 mm2": "2.5 mm2", "2.5 mm2": "1.5 mm2", "1.5 mm2": "1 mm2", "1 mm2": "0.75 mm2"}
    assert losing(mended.replace(f"main, wire: {both.wire}", f"main, wire: {thinner[both.wire]}")) == {"line", "far"}
