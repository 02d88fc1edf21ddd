"""Times of devices and protection, and the nose of a piece, as read."""

from __future__ import annotations

import pytest

from tests.unit.layout.support import HEAD, added, faults, read


def test_times_are_in_seconds():
    layout = added(
        "frog-units: {U1: {feeds: T1.frog, time: 30 ms}}\n"
        "reversers: {R1: {mode: automatic, time: 0.1 s}}\n"
        "components: {Q1: {kind: breaker, from: main.A, to: a.left, trip-time: 3 ms}}"
    )
    assert layout.units["U1"].time == pytest.approx(0.03)
    assert layout.reversers["R1"].time == pytest.approx(0.1)
    assert layout.components["Q1"].trip_time == pytest.approx(0.003)
    assert layout.supplies["main"].trip_time is None


def test_times_may_be_left_out():
    layout = added("frog-units: {U1: {feeds: T1.frog}}\nreversers: {R1: {mode: automatic}}")
    assert layout.units["U1"].time is None
    assert layout.reversers["R1"].time is None


def test_trip_time_of_a_supply():
    layout = read(HEAD.replace("voltage: 15 V", "voltage: 15 V, trip-time: 500 ms"))
    assert layout.supplies["main"].trip_time == pytest.approx(0.5)
    text = HEAD.replace("voltage: 15 V", "voltage: 15 V, trip-time: 500 mm")
    (found,) = faults(text)
    assert found.startswith("2:56 'trip-time': 'mm' is no unit of time; write it in s or ms")


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        (
            "kind: live-frog, hand: left, nose: 8 mm",
            "'live-frog' has no insulated nose between two rails; leave 'nose' out",
        ),
        ("nose: 8 mm", "'rail-section' has no insulated nose between two rails; leave 'nose' out"),
        ("kind: insulated-frog, hand: left, nose: 8", "'nose': '8' has no unit"),
        ("kind: insulated-frog, hand: left, noes: 8 mm", "did you mean 'nose'?"),
    ],
)
def test_faults_of_a_nose(fields, message):
    (found,) = faults(HEAD + f"  T9: {{{fields}}}\n")
    assert found.startswith("10:")
    assert message in found
