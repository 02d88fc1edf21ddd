"""Ratings of wires and their heating."""

import re

import pytest

from netlister.quantity import gauge_area
from netlister.volts.values import Values, table, wire_band
from netlister.volts.wires import MM2_PER_CIRCULAR_MIL, heating_time, rating


@pytest.mark.parametrize(
    ("area", "amps"), [(0.5, 3), (0.75, 6), (1, 10), (1.5, 16), (2.5, 25), (4, 32), (6, 40), (0.34, None), (2.08, 16)]
)
def test_ratings_of_a_bus(area, amps):
    # IEC 60335-1, as an appliance manual reproduces it; between rows the smaller one
    assert rating(area, "bus") == amps


@pytest.mark.parametrize(("gauge", "amps"), [(30, 0.86), (26, 2.2), (24, 3.5), (22, 7), (20, 11), (14, 32), (10, 55)])
def test_ratings_of_single_wires(gauge, amps):
    # handbook of electronic tables and formulas, "chassis wiring" column
    assert rating(gauge_area(gauge), "single") == amps


def test_circular_mils():
    # definition: AWG 10 is 101.9 mil, so 10,380 circular mils
    assert gauge_area(10) / MM2_PER_CIRCULAR_MIL == pytest.approx(101.9**2, rel=1e-3)


def test_short_time_heating_to_the_melting_point():
    # short-time adiabatic equation, 2581 circular mils for 5 s from 25 degC: 168.9 A melts copper (1083 degC); the printed
    # 178 A comes of 234 - 25 in place of 234 + 25 and must not be reproduced. Here the end is 160 degC: less is needed.
    area = 2581 * MM2_PER_CIRCULAR_MIL
    melting = 168.9
    assert heating_time(area, melting, 25) < 5
    row = table()["ratings"]["heating"]
    assert (float(row["constant"]), float(row["offset"])) == (0.0297, 234)
    # by the cable form, worked out: t = 0.0297 log10(394/259) (2581/100)^2
    assert heating_time(area, 100, 25) == pytest.approx(3.604, rel=1e-3)
    assert heating_time(area, 50, 25) == pytest.approx(4 * heating_time(area, 100, 25))


def test_no_current_heats_nothing():
    with pytest.raises(ValueError, match="above zero"):
        heating_time(1, 0)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [("2.5 mm2", 6.8966, 7.41), ("1.5 mm2", 11.494, 12.1), ("0.5 mm2", 34.483, 36.0), ("0.25 mm2", 68.966, 68.966)],
)
def test_copper_by_resistivity_and_by_the_largest_that_is_allowed(text, low, high):
    # IEC 60028 (1/58 ohm mm2/m); IEC 60228 class 2, plain; none below 0.5 mm2
    band = wire_band(text)
    assert (band.low * 1000, band.high * 1000) == pytest.approx((low, high), rel=1e-4)


@pytest.mark.parametrize(("gauge", "ohm_per_km"), [(10, 3.277), (14, 8.285), (16, 13.174), (20, 33.308), (24, 84.213)])
def test_gauge_numbers(gauge, ohm_per_km):
    # ASTM B258 with IEC 60028; tolerance 0.1 % for the many roundings in print
    assert wire_band(f"AWG {gauge}").high * 1000 == pytest.approx(ohm_per_km, rel=1e-3)


def rails(code, **options):
    import netlister

    text = (
        f"format: netlister/1\nsupplies: {{m: {{type: dcc, voltage: 15 V}}}}\n{code}\ntrack: {{a: {{length: 1 m}}}}\n"
    )
    return Values(netlister.read_text(text), **options).rail()


def test_rails():
    # measurements on code 100, 83 and 70; others by the square of the height
    assert rails("") == rails("rail: code-100") == pytest.approx((0.0571, 0.076))
    assert rails("rail: code-83") == pytest.approx((0.108, 0.108))
    assert rails("rail: code-70") == pytest.approx((0.206, 0.206))
    assert rails("rail: code-75") == pytest.approx((0.0571 / 0.5625, 0.076 / 0.5625))
    assert rails("rail: 19 mohm/m") == pytest.approx((0.019, 0.019))
    assert rails("rail: 19 mohm/m", temperature=70).high == pytest.approx(0.019 * (1 + 50 * 0.00035))


def rows(value, name=""):
    if isinstance(value, dict):
        if "source" in value or "status" in value:
            yield name, value
        for key, inner in value.items():
            yield from rows(inner, f"{name}.{key}")


def test_every_default_has_a_source_and_says_how_sure_it_is():
    found = dict(rows(table()))
    assert len(found) > 15
    for name, row in found.items():
        assert row.get("source"), name
        assert row.get("status") in {
            "read",
            "second-hand",
            "derived",
            "assumed",
            "common practice",
            "from memory",
        }, name
    for name in ("joiner", "contact", "blade"):
        assert re.fullmatch(r"[\d.]+ m?ohm", table()[name]["high"])
