"""Where track lies, against complex numbers, closed figures and the sheet of frogs."""

from __future__ import annotations

import cmath
import math

import pytest

from netlister.draw.geometry import end_at, gauge_of, lay_out, shape
from netlister.draw.lines import Pose, arc, at, curve, length, meeting, offset, part_of_line
from netlister.draw.scale import to_scale
from tests.draw.support import EXAMPLES, OVAL, circle, circuit, example


def laid(circuit_):
    layout = circuit_.layout
    names = list(layout.pieces)
    shapes = {n: shape(layout, layout.pieces[n]) for n in names}
    return layout, shapes, lay_out(layout, names, shapes)


@pytest.mark.parametrize("turn", ["left", "right"])
@pytest.mark.parametrize(("radius", "angle"), [(437.5, 30), (360, 45), (1000, 7.5), (228, 180), (300, 300)])
def test_the_end_of_an_arc_against_complex_numbers(radius, angle, turn):
    """The centre is a quarter turn beside the start; the end is the start turned about it (plane geometry)."""
    text = f"track: {{c: {{radius: {radius} mm, angle: {angle} deg, turn: {turn}}}}}\n"
    made = shape(circuit(text).layout, circuit(text).layout.pieces["c"])
    sign = 1 if turn == "left" else -1
    centre = complex(0, sign * radius)
    end = centre + (0 - centre) * cmath.exp(1j * sign * math.radians(angle))
    assert abs(complex(*made.ends["b"].point) - end) < 1e-9 * radius
    assert made.ends["b"].heading == pytest.approx(sign * math.radians(angle))
    assert length(made.routes["a-b"]) == pytest.approx(radius * math.radians(angle), rel=1e-3)


def test_a_circle_of_twelve_curves_closes():
    _, shapes, found = laid(circuit(circle()))
    assert found.misses == ()
    start = end_at(shapes["c0"], "a", found.poses["c0"])
    stop = end_at(shapes["c11"], "b", found.poses["c11"])
    assert math.dist(start.point, stop.point) < 0.01
    across = [end_at(shapes[f"c{i}"], "a", found.poses[f"c{i}"]).point for i in (0, 6)]
    assert math.dist(*across) == pytest.approx(875.0, abs=1e-6)  # twice the radius


def test_eleven_curves_leave_the_chord_of_the_twelfth():
    text = circle().replace("  - {from: c10, to: c11}\n  - {from: c11, to: c0}\n", "  - {from: c10, to: c0}\n")
    layout = circuit(text).layout
    names = [n for n in layout.pieces if n != "c11"]
    found = lay_out(layout, names, {n: shape(layout, layout.pieces[n]) for n in names})
    (miss,) = found.misses
    assert miss.gap == pytest.approx(2 * 437.5 * math.sin(math.radians(15)), abs=1e-6)  # chord = 2 r sin(angle / 2)
    assert miss.angle == pytest.approx(30.0)


def test_an_oval_closes_and_one_that_is_too_short_does_not():
    made = circuit(OVAL)
    _, shapes, found = laid(made)
    start = end_at(shapes["front"], "a", found.poses["front"])
    stop = end_at(shapes["west"], "b", found.poses["west"])
    assert math.dist(start.point, stop.point) < 0.01
    assert to_scale(made.layout, list(made.layout.pieces)).drawn is not None
    short = circuit(OVAL.replace("399.5 mm", "380 mm"))
    (miss,) = laid(short)[2].misses
    assert miss.gap == pytest.approx(19.5, abs=1e-6)
    spread = to_scale(short.layout, list(short.layout.pieces))  # as a track layer would close it
    assert spread.drawn is not None
    far = circuit(OVAL.replace("399.5 mm", "250 mm"))
    assert to_scale(far.layout, list(far.layout.pieces)).drawn is None


# NMRA RP-12.7, 9 mm gauge: frog number, lead, point of the frog to its heel, spread of the gauge faces there (mm)
FROGS = [(4, 67.5, 13.0, 3.2), (5, 75.5, 15.0, 2.9), (6, 83.0, 16.5, 2.7), (7, 115.0, 17.5, 2.5)]


@pytest.mark.parametrize(("frog", "lead", "heel", "spread"), FROGS)
@pytest.mark.parametrize("hand", ["left", "right"])
def test_rails_of_a_turnout_cross_at_its_lead_and_spread_as_the_sheet_says(frog, lead, heel, spread, hand):
    """NMRA RP-12.7; the sheet gives tenths of a millimetre, and its leads are not those of one curve exactly."""
    text = f"track: {{T1: {{kind: live-frog, hand: {hand}, frog-number: {frog}}}}}\n"
    layout = circuit(text).layout
    made = shape(layout, layout.pieces["T1"])
    gauge = gauge_of(layout)
    side = 1 if hand == "left" else -1
    crossing = meeting(
        offset(_route(made, layout, "through"), side * gauge / 2),
        offset(_route(made, layout, "diverging"), -side * gauge / 2),
    )
    assert crossing is not None
    assert crossing[0] == pytest.approx(lead, abs=1.0)
    beyond = lead + heel
    (x1, y1), (x2, y2) = offset(_route(made, layout, "diverging")[-2:], -side * gauge / 2)
    y = y1 + (beyond - x1) * (y2 - y1) / (x2 - x1)
    assert abs(y) - gauge / 2 == pytest.approx(spread, abs=0.2)


def _route(made, layout, end):
    name = next(r.name for r in layout.pieces["T1"].kind.routes if r.ends[1] == end)
    return made.routes[name]


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_route_runs_from_its_one_end_to_its_other(name):
    """A drawn route begins and ends at its ends and is about as long as the kind says."""
    from netlister.layout.stretches import stretches

    layout = example(name).layout
    for piece in layout.pieces.values():
        made = shape(layout, piece)
        for route in piece.kind.routes:
            line = made.routes[route.name]
            for end, point in zip(route.ends, (line[0], line[-1]), strict=True):
                if end in made.ends:
                    assert math.dist(made.ends[end].point, point) < 1e-6
            measured = stretches(layout, piece, route)
            if measured.known and piece.kind.name != "rail-section":
                assert length(line) == pytest.approx(measured.length * 1000, rel=0.06)


def test_lines():
    line = arc(Pose(0, 0, 0), 100 * math.pi, math.pi)
    assert math.dist(line[-1], (0, 200)) < 1e-9
    assert length(part_of_line(line, 10, 60)) == pytest.approx(50, rel=1e-9)
    middle = at(line, length(line) / 2)
    assert math.dist(middle.point, (100, 100)) < 0.1
    outer = offset(line, -10)
    assert all(math.dist(p, (0, 100)) == pytest.approx(110, abs=0.05) for p in outer)
    smooth = curve(Pose(0, 0, 0), Pose(100, 40, 0))
    assert smooth[0] == (0, 0)
    assert math.dist(smooth[-1], (100, 40)) < 1e-9
    assert meeting([(0, 0), (10, 10)], [(0, 10), (10, 0)]) == pytest.approx((5, 5))
    assert meeting([(0, 0), (10, 0)], [(0, 1), (10, 1)]) is None
