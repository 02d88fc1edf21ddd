"""Closing errors spread over joints and straight track.

The outside check is geometry: a closed line turns by 360 degrees in all (Hopf's Umlaufsatz), and its steps sum to zero,
so that what was spread must add up to exactly what the layout as written lacks.
"""

from __future__ import annotations

from math import degrees, hypot

import pytest

from netlister.draw.closing import closed
from netlister.draw.geometry import end_at, shape
from netlister.draw.laying import laid_out, remarks
from netlister.draw.placing import GAUGE
from tests.draw.support import OVAL, circuit


def layout_of(old, new):
    return circuit(OVAL.replace(old, new)).layout


@pytest.mark.parametrize(
    ("old", "new"), [("399.5 mm", "396 mm"), ("399.5 mm", "405 mm"), ("angle: 180 deg", "angle: 178.5 deg")]
)
def test_a_loop_that_nearly_closes_keeps_its_shape(old, new):
    layout = layout_of(old, new)
    drawing = laid_out(layout)
    assert [part.true for part in drawing.parts] == [True]
    assert drawing.misses == ()
    assert any("do not close as written" in text for text in remarks(drawing))
    assert any("spread over" in text for text in remarks(drawing))
    for joint in layout.joints:  # the ends meet on the drawing, to a small part of the gauge
        (ax, ay), (bx, by) = (drawing.placed[p].ends[e] for p, e in (joint.start, joint.end))
        assert hypot(ax - bx, ay - by) < GAUGE / 8


@pytest.mark.parametrize("angle", [179.0, 178.5, 181.0])
def test_what_is_spread_adds_up_to_what_a_full_turn_lacks(angle):
    layout = layout_of("angle: 180 deg", f"angle: {angle} deg")
    names = list(layout.pieces)
    shapes = {n: shape(layout, layout.pieces[n]) for n in names}
    found = closed(layout, names, shapes)
    assert found is not None
    around = ["front", "T1", "east", "back", "west"]
    turned = 0.0
    for name in around:  # the turning of the pieces as they are laid now
        ends = found.shapes[name].ends
        entry, leave = ("toe", "through") if name == "T1" else ("a", "b")
        turned += degrees(ends[leave].heading - ends[entry].heading) + 180
    for joint in layout.joints:
        if {joint.start[0], joint.end[0]} <= set(around):
            one, two = (end_at(found.shapes[p], e, found.poses[p]) for p, e in (joint.start, joint.end))
            turned += (degrees(two.heading - one.heading) + 180 + 180) % 360 - 180
    assert turned % 360 == pytest.approx(0, abs=1e-6) or turned % 360 == pytest.approx(360, abs=1e-6)
    curves = 2 * angle
    spread = sum(degrees(found.shapes[n].ends["b"].heading) for n in ("front", "back"))
    assert 360 - curves == pytest.approx(spread, abs=abs(360 - curves) / 2 + 0.2)


def test_only_what_misfits_is_bent():
    layout = layout_of("399.5 mm", "460 mm")
    drawing = laid_out(layout)
    assert [part.true for part in drawing.parts] == [True]
    assert [miss.joint.name for miss in drawing.misses] == ["east/back"]
    assert drawing.misses[0].gap == pytest.approx(60.5, abs=0.6)
    exact = laid_out(circuit(OVAL).layout)

    def long(one):
        (way,) = one.ways.values()
        return hypot(way.core[0][0] - way.core[-1][0], way.core[0][1] - way.core[-1][1])

    for name in ("front", "east", "west", "siding"):
        assert long(drawing.placed[name]) == pytest.approx(long(exact.placed[name]), abs=0.1)


def test_what_is_far_off_is_bent_as_a_whole():
    assert [part.true for part in laid_out(layout_of("399.5 mm", "1400 mm")).parts] == [False]
