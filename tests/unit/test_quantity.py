"""Quantities: units, their faults, and wire against published tables."""

from __future__ import annotations

import math
import re
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netlister import quantity
from netlister.quantity import (
    ANGLE,
    AREA,
    CURRENT,
    LENGTH,
    NUMBER,
    PER_LENGTH,
    POWER,
    RESISTANCE,
    SHARE,
    TIME,
    VOLTAGE,
    Dimension,
    QuantityError,
)

VALUES: list[tuple[str, Dimension, float]] = [
    ("600 mm", LENGTH, 0.6),
    ("60cm", LENGTH, 0.6),
    ("2.4 m", LENGTH, 2.4),
    ("2 ft", LENGTH, 0.6096),
    ("3 in", LENGTH, 0.0762),
    (" +.5  m ", LENGTH, 0.5),
    ("5. m", LENGTH, 5.0),
    ("1e3 mm", LENGTH, 1.0),
    ("0 mm", LENGTH, 0.0),
    ("-0 mm", LENGTH, 0.0),
    ("2.5 mm2", AREA, 2.5e-6),
    ("2.5 mm²", AREA, 2.5e-6),
    ("15 V", VOLTAGE, 15.0),
    ("500 mV", VOLTAGE, 0.5),
    ("3 A", CURRENT, 3.0),
    ("250 mA", CURRENT, 0.25),
    ("5 W", POWER, 5.0),
    ("50 mohm", RESISTANCE, 0.05),
    ("0.1 ohm", RESISTANCE, 0.1),
    ("1 kohm", RESISTANCE, 1000.0),
    ("50 mΩ", RESISTANCE, 0.05),
    ("20 mohm/m", PER_LENGTH, 0.02),
    ("20 ohm/km", PER_LENGTH, 0.02),
    ("3.048 mohm/ft", PER_LENGTH, 0.01),
    ("30 deg", ANGLE, math.pi / 6),
    ("2 s", TIME, 2.0),
    ("10 ms", TIME, 0.01),
    ("5 %", SHARE, 0.05),
    ("1.5", NUMBER, 1.5),
]


@pytest.mark.parametrize(("text", "dimension", "value"), VALUES)
def test_value(text: str, dimension: Dimension, value: float) -> None:
    found = quantity.parse(text, dimension)
    assert found == pytest.approx(value)
    assert math.copysign(1, found) == 1


LENGTHS = "mm, cm, m, in or ft"

FAULTS: list[tuple[str, Dimension, str]] = [
    ("600", LENGTH, f"'600' has no unit; write it in {LENGTHS}, as in '600 mm'"),
    ("6 V", LENGTH, f"'V' is no unit of length; write it in {LENGTHS}, as in '600 mm'"),
    ("6 MM", LENGTH, f"'MM' is no unit of length; write it in {LENGTHS}, as in '600 mm'"),
    ("-6 m", LENGTH, "'-6 m' is negative; a length is zero or more, as in '600 mm'"),
    ("1,5 m", LENGTH, "'1,5 m' has a comma; write the number with a point, as in '600 mm'"),
    ("", LENGTH, f"nothing is written here; write number and unit ({LENGTHS}), as in '600 mm'"),
    ("long", LENGTH, f"'long' is not a length; write number and unit ({LENGTHS}), as in '600 mm'"),
    ("nan mm", LENGTH, f"'nan mm' is not a finite number; write number and unit ({LENGTHS}), as in '600 mm'"),
    ("NaN", LENGTH, f"'NaN' is not a finite number; write number and unit ({LENGTHS}), as in '600 mm'"),
    ("-inf m", LENGTH, f"'-inf m' is not a finite number; write number and unit ({LENGTHS}), as in '600 mm'"),
    (".inf", LENGTH, f"'.inf' is not a finite number; write number and unit ({LENGTHS}), as in '600 mm'"),
    ("1e999 m", LENGTH, "'1e999 m' is more than 10000 m, the most that is taken; write what you measure"),
    ("1_000 mm", LENGTH, f"'_000 mm' is no unit of length; write it in {LENGTHS}, as in '600 mm'"),
    ("1.2.3 m", LENGTH, f"'1.2.3 m' is not a length; write number and unit ({LENGTHS}), as in '600 mm'"),
    ("١ m", LENGTH, f"'١ m' is not a length; write number and unit ({LENGTHS}), as in '600 mm'"),
    ("1 m 2", LENGTH, f"'m 2' is no unit of length; write it in {LENGTHS}, as in '600 mm'"),
    ("15", VOLTAGE, "'15' has no unit; write it in V or mV, as in '15 V'"),
    ("5", SHARE, "'5' has no unit; write it in %, as in '5 %'"),
    ("1.5 A", NUMBER, "'1.5 A' is not a plain number; write it without 'A', as in '1.5'"),
    ("x", NUMBER, "'x' is not a number; write a number, as in '1.5'"),
    ("x\ny" * 99, NUMBER, "'x yx yx yx yx yx yx yx yx yx yx yx yx y…' is not a number; write a number, as in '1.5'"),
]


@pytest.mark.parametrize(("text", "dimension", "message"), FAULTS)
def test_fault(text: str, dimension: Dimension, message: str) -> None:
    with pytest.raises(QuantityError) as caught:
        quantity.parse(text, dimension)
    assert str(caught.value) == message


def test_very_long_numbers_take_no_time() -> None:
    with pytest.raises(QuantityError, match="more than 10000 m"):
        quantity.parse("9" * 1_000_000 + " m", LENGTH)


@pytest.mark.parametrize("dimension", quantity._BY_NAME.values(), ids=lambda d: d.name)
def test_absurd_values_are_refused_with_the_bound(dimension: Dimension) -> None:
    for text in (dimension.least, dimension.greatest, "0 " + dimension.listed[0]):
        assert quantity.parse(text, dimension) >= 0
    unit = dimension.listed[0]
    for text, bound in (
        (f"1e200 {unit}", dimension.greatest),
        (f"1e999 {unit}", dimension.greatest),
        (f"1e-30 {unit}", dimension.least),
        (f"1e-999 {unit}", dimension.least),
    ):
        with pytest.raises(QuantityError, match=f"than {re.escape(bound)}, the"):
            quantity.parse(text, dimension)


@given(st.text(max_size=20))
def test_any_text_is_a_value_or_a_fault(text: str) -> None:
    try:
        value = quantity.parse(text, LENGTH)
    except QuantityError:
        return
    assert 0 <= value < math.inf


@given(st.floats(min_value=1e-6, max_value=1e4), st.sampled_from(sorted(LENGTH.units)))
def test_there_and_back(value: float, unit: str) -> None:
    assert quantity.parse(quantity.show(value, unit, 12), LENGTH) == pytest.approx(value, rel=1e-9)


SHOWN = [
    (0.6, "mm", "600 mm"),
    (0.02, "mohm/m", "20 mohm/m"),
    (2.5e-6, "mm2", "2.5 mm2"),
    (0.05, "%", "5 %"),
    (1234.5678, "m", "1235 m"),
    (0.0, "m", "0 m"),
]


@pytest.mark.parametrize(("value", "unit", "text"), SHOWN)
def test_show(value: float, unit: str, text: str) -> None:
    assert quantity.show(value, unit) == text


# ASTM B258 (formula) with the resistivity of IEC 60028; the last column is the one printed in the usual handbook
# table of American wire gauges at 20 degC.
GAUGES = [
    # AWG, diameter in mil, area in mm2, ohm per 1000 ft as printed
    (10, 101.90, 5.2612, 0.9989),
    (12, 80.81, 3.3088, 1.588),
    (14, 64.08, 2.0809, 2.525),
    (16, 50.82, 1.3087, 4.016),
    (18, 40.30, 0.8230, 6.385),
    (20, 31.96, 0.5176, 10.15),
    (22, 25.35, 0.3255, 16.14),
    (24, 20.10, 0.2047, 25.67),
    (26, 15.94, 0.1288, 40.81),
    (28, 12.64, 0.0810, 64.90),
    (30, 10.03, 0.0509, 103.2),
]


@pytest.mark.parametrize(("gauge", "mil", "area", "printed"), GAUGES)
def test_gauge(gauge: int, mil: float, area: float, printed: float) -> None:
    wire = quantity.parse_wire(f"AWG {gauge}")
    assert wire.area_mm2 == pytest.approx(area, rel=1e-3)
    assert wire.area_mm2 == pytest.approx(math.pi / 4 * (mil * 0.0254) ** 2, rel=1e-3)
    assert wire.ohm_per_m * 304.8 == pytest.approx(printed, rel=1e-3)


def test_gauges_step_as_the_standard_says() -> None:
    # ASTM B258: by definition 36 is 0.005 in and 0000 is 0.46 in
    assert quantity.gauge_area(36) == pytest.approx(math.pi / 4 * (0.005 * 25.4) ** 2)
    assert quantity.gauge_area(-3) == pytest.approx(math.pi / 4 * (0.46 * 25.4) ** 2)


@pytest.mark.parametrize(
    ("text", "gauge"),
    [("AWG 14", 14), ("awg14", 14), ("14 AWG", 14), ("AWG 0", 0), ("AWG 00", -1), ("AWG 4/0", -3), ("1/0 AWG", 0)],
)
def test_ways_to_write_a_gauge(text: str, gauge: int) -> None:
    assert quantity.parse_wire(text).area_mm2 == pytest.approx(quantity.gauge_area(gauge))


# IEC 60228, largest resistance in ohm/km at 20 degC, plain annealed copper, classes 1, 2 and 5
MAXIMA = [
    (0.5, 36.0, 36.0, 39.0),
    (0.75, 24.5, 24.5, 26.0),
    (1.0, 18.1, 18.1, 19.5),
    (1.5, 12.1, 12.1, 13.3),
    (2.5, 7.41, 7.41, 7.98),
    (4.0, 4.61, 4.61, 4.95),
    (6.0, 3.08, 3.08, 3.30),
]


@pytest.mark.parametrize(("area", "solid", "stranded", "flexible"), MAXIMA)
def test_maxima_of_iec_60228(area: float, solid: float, stranded: float, flexible: float) -> None:
    for conductor_class, expected in ((1, solid), (2, stranded), (5, flexible)):
        assert quantity.largest_ohm_per_m(area, conductor_class) == pytest.approx(expected / 1000)
    # resistivity alone stays below the maximum, by no more than an eighth for solid wire
    ideal = quantity.parse_wire(f"{area} mm2").ohm_per_m
    assert solid / 1000 * 7 / 8 < ideal < solid / 1000


def test_no_maximum_for_other_cross_sections() -> None:
    assert quantity.largest_ohm_per_m(0.34) is None


def test_copper_of_a_worked_example() -> None:
    # an electronics forum's worked example: 5 m out and 5 m back of 2.5 mm2 at 20 A drop 1.38 V at 20 degC
    assert quantity.parse_wire("2.5 mm2").ohm_per_m * 10 * 20 == pytest.approx(1.38, abs=0.005)


def test_a_wire_by_its_resistance() -> None:
    wire = quantity.parse_wire("20 mohm/m")
    assert wire.area_mm2 is None
    assert wire.ohm_per_m == pytest.approx(0.02)


WIRE = "a wire is a cross-section ('2.5 mm2'), a gauge number ('AWG 14') or a resistance per length ('20 mohm/m')"

WIRES = [
    ("2.5", f"'2.5' has no unit; {WIRE}"),
    ("thick", f"'thick' is no wire; {WIRE}"),
    ("2 m", f"'2 m' is no wire; {WIRE}"),
    ("", f"'' is no wire; {WIRE}"),
    ("2,5 mm2", "'2,5 mm2' has a comma; write the number with a point, as in '2.5 mm2'"),
    ("-1 mm2", "'-1 mm2' is negative; a cross-section is zero or more, as in '2.5 mm2'"),
    ("0 mm2", "a wire without cross-section does not conduct; for an ideal wire write '0 mohm/m'"),
    ("AWG 99", "there is no wire gauge '99'; they go from 4/0 over 0 to 50"),
    ("AWG -4", "there is no wire gauge '-4'; they go from 4/0 over 0 to 50"),
    ("AWG big", "'AWG big' is no wire gauge; write it as in 'AWG 14'"),
    ("AWG", "'AWG' is no wire gauge; write it as in 'AWG 14'"),
]


@pytest.mark.parametrize(("text", "message"), WIRES)
def test_wire_fault(text: str, message: str) -> None:
    with pytest.raises(QuantityError) as caught:
        quantity.parse_wire(text)
    assert str(caught.value) == message


# IEC 60757: the letters of the colours
@pytest.mark.parametrize(
    "code", ["BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "GD", "TQ", "SR", "GNYE", "RDBU"]
)
def test_colour(code: str) -> None:
    assert quantity.parse_colour(code) == code


@pytest.mark.parametrize(
    ("text", "instead"),
    [("red", "write 'RD'"), ("bn", "write 'BN'"), ("gnye", "write 'GNYE'"), ("XX", "write one of BK, BN, RD, "),
     ("RDRD", "write one of BK, "), ("", "write one of BK, "), ("gray", "write 'GY'")],
)  # fmt: skip
def test_colour_fault(text: str, instead: str) -> None:
    with pytest.raises(QuantityError) as caught:
        quantity.parse_colour(text)
    assert str(caught.value).startswith(f"'{text}' is no colour of IEC 60757; {instead}")


def test_counts_however_great():
    """Against the interpreter's own way of writing them, as far as it can; beyond that 2**n by its logarithm."""
    assert quantity.count_said(999_999_999) == "999,999,999"
    rng = Random(1)
    for _ in range(500):
        number = rng.randrange(10**9, 10 ** rng.randrange(10, 300))
        said = quantity.count_said(number).removeprefix("about ")
        theirs = f"{number:.1e}"
        assert said == theirs or abs(float(said) / float(theirs) - 1) < 0.11  # a tie may be cut the other way
    assert quantity.count_said(2**2000) == "about 1.1e+602"  # 2000 log10(2) = 602.06
    assert quantity.count_said(2**30000) == "about 7.9e+9030"  # 30000 log10(2) = 9030.8999, 10**0.8999 = 7.94
    assert quantity.count_said(10**400 - 1) == "about 1.0e+400"
