"""Wheels, rail heads and noses against published tables."""

from __future__ import annotations

import pytest

import netlister
from netlister.kinds.wheels import bridged, head_width, heads, treads, widest_tread

INCH = 0.0254

# NMRA RP-25, wheel contours, in inch: code, whole width N', flange width T, tread width W
RP_25 = [
    (175, 0.175, 0.048, 0.127),
    (126, 0.126, 0.036, 0.090),
    (116, 0.116, 0.031, 0.085),
    (110, 0.110, 0.030, 0.080),
    (88, 0.088, 0.025, 0.063),
    (79, 0.079, 0.023, 0.056),
    (72, 0.072, 0.020, 0.052),
    (54, 0.054, 0.014, 0.040),
]

# NMRA RP-15.1, table 1, in inch: code, height A, head width C
RP_15_1 = [
    (148, 0.148, 0.066),
    (125, 0.125, 0.063),
    (100, 0.100, 0.045),
    (83, 0.083, 0.040),
    (70, 0.070, 0.035),
    (55, 0.055, 0.028),
    (40, 0.040, 0.020),
    (32, 0.032, 0.016),
]

# NEM 310 (2009), in mm: gauge, whole width N at most, flange width T at least
NEM_310 = [(6.5, 1.6, 0.4), (9, 2.2, 0.5), (12, 2.5, 0.6), (16.5, 2.9, 0.7)]


def test_treads_of_rp_25():
    assert treads() == pytest.approx({code: tread * INCH for code, _, _, tread in RP_25})


@pytest.mark.parametrize(("code", "whole", "flange", "tread"), RP_25)
def test_a_wheel_of_rp_25_is_as_wide_as_flange_and_tread(code, whole, flange, tread):
    # the table itself: N' = T + W, and the code is N' in thousandths; so what is kept here fits the code
    assert treads()[code] / INCH + flange == pytest.approx(whole)
    assert code == pytest.approx(whole * 1000)


def test_heads_of_rp_15_1():
    assert heads() == pytest.approx({code: head * INCH for code, _, head in RP_15_1})
    assert all(code == pytest.approx(height * 1000) for code, height, _ in RP_15_1)


def test_heads_between_and_beyond_the_table():
    # 75 and 80 are no codes of RP-15.1: worked out between its rows 70 and 83
    assert head_width(75) == pytest.approx((0.035 + 0.005 * 5 / 13) * INCH)
    assert head_width(83) == pytest.approx(0.040 * INCH)
    assert head_width(31) is None
    assert head_width(149) is None


@pytest.mark.parametrize(("gauge", "width", "flange"), NEM_310)
def test_widest_treads_are_those_of_nem_310(gauge, width, flange):
    found = widest_tread(gauge / 1000)
    assert found is not None
    assert found.width * 1000 == pytest.approx(width - flange)
    assert found.source.startswith("NEM 310 (2009)")


def test_widest_tread_of_the_gauge_of_s_scale():
    # NMRA S-3.2 (February 2010) gives wheel code 110 for S, whose track is 22.42 mm and 22.5 mm in NEM 010
    for gauge in (22.42e-3, 22.5e-3):
        found = widest_tread(gauge)
        assert found is not None
        assert found.width == pytest.approx(0.080 * INCH)
        assert found.source.startswith("NMRA S-3.2")


def test_gauges_without_a_published_tread():
    assert widest_tread(32e-3) is None
    assert widest_tread(45e-3) is None


@pytest.mark.parametrize(("gauge", "narrowest"), [(6.5, 0.053), (9, 0.071), (12, 0.077), (16.5, 0.108), (22.5, 0.108)])
def test_widest_treads_against_the_narrowest_wheels_of_s_4_2(gauge, narrowest):
    # NMRA S-4.2, standard scale: N at least, in inch. A tread is narrower than its whole wheel, and a wheel at the upper
    # limit is not narrower than one at the lower: flange (at most 0.9 mm in NEM 310 for these gauges) and tread together.
    found = widest_tread(gauge / 1000)
    assert found is not None
    assert found.width < narrowest * INCH
    assert found.width + 0.9e-3 >= narrowest * INCH


# How far past the theoretical point the insulation must reach, in mm, by frog number: worked out by hand as N x (W + H)
# from RP-25 and RP-15.1 above; columns are wheel code and rail code. No published formula.
SAFE = {
    4: {(110, 83): 12.2, (110, 100): 12.7, (88, 83): 10.5, (54, 55): 6.9},
    5: {(110, 83): 15.2, (110, 100): 15.9, (88, 83): 13.1, (54, 55): 8.6},
    6: {(110, 83): 18.3, (110, 100): 19.0, (88, 83): 15.7, (54, 55): 10.4},
    8: {(110, 83): 24.4, (110, 100): 25.4, (88, 83): 20.9, (54, 55): 13.8},
    10: {(110, 83): 30.5, (110, 100): 31.8, (88, 83): 26.2, (54, 55): 17.3},
}


@pytest.mark.parametrize(
    ("number", "wheel", "rail", "safe"), [(n, *codes, mm) for n, row in SAFE.items() for codes, mm in row.items()]
)
def test_how_far_the_insulation_must_reach(number, wheel, rail, safe):
    start, stop = bridged(number, treads()[wheel], heads()[rail])
    # the table is rounded to 0.1 mm, halves either way
    assert stop * 1000 == pytest.approx(safe, abs=0.0501)
    assert stop - start == pytest.approx(number * (treads()[wheel] - heads()[rail]))


def test_the_zone_agrees_with_what_is_coated_in_practice():
    # common practice, no published source: the rail tops are coated 1/8 to 1/4 inch past the plastic point
    start, stop = bridged(6, treads()[110], heads()[83])
    assert 1 / 8 * INCH <= stop - start <= 1 / 4 * INCH


def test_a_tread_no_wider_than_the_head_touches_one_rail_only():
    start, stop = bridged(6, 1e-3, 1e-3)
    assert start == stop


NOSE = """\
format: netlister/1
supplies: {{main: {{type: dcc, voltage: 15 V}}}}
rail: code-83
track: {{T1: {{kind: insulated-frog, hand: right, jumpers: true, frog-number: 6, nose: {nose}}}}}
trains: {{goods: {{wheel: 0.080 in}}}}
feeds: [{{to: T1}}]
"""


# No. 6, code 110 on code 83: 6 x (0.080 + 0.040) in = 18.288 mm
@pytest.mark.parametrize(("nose", "found"), [("18.28 mm", True), ("18.29 mm", False)])
def test_the_rule_changes_its_mind_where_the_table_says(nose, found):
    findings = netlister.check_text(NOSE.format(nose=nose)).findings
    assert [f.rule for f in findings] == (["nose-bridge"] if found else [])
