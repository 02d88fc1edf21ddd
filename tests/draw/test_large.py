"""Large plans: the work grows as the layout does, and no row is drawn ever deeper."""

from __future__ import annotations

import sys
import time

import pytest

from netlister.draw.bent.fans import DEEPEST
from netlister.draw.bent.parts import ROW
from netlister.draw.laying import laid_out
from netlister.draw.placing import upon_another
from netlister.draw.plan import plan_svg
from tests.draw.support import circuit, first


def sidings(count):
    """A line of right-hand turnouts, a siding off each that reaches beyond the next."""
    track, joints = [], []
    for i in range(count):
        track.append(f"  p{i}: {{length: 900 mm}}\n  T{i}: {{kind: live-frog, hand: right}}\n  s{i}: {{length: 2 m}}\n")
        joints.append(f"  - {{from: p{i}, to: T{i}.toe}}\n  - {{from: T{i}.diverging, to: s{i}}}\n")
        joints.append(f"  - {{from: T{i - 1}.through, to: p{i}}}\n" if i else "")
    return circuit(f"track:\n{''.join(track)}joints:\n{''.join(joints)}").layout


def took(layout):
    best = float("inf")
    for _ in range(2):
        start = time.process_time()
        laid_out(layout)
        best = min(best, time.process_time() - start)
    return best


def test_eight_times_the_layout_takes_no_more_than_sixteen_times_as_long():
    ratio = took(sidings(320)) / took(sidings(40))
    assert ratio < 16


def line(count, hands):
    """A line of turnouts with contacts and feeds, hands in turn."""
    track, machines, joints = [], [], []
    for i in range(count):
        hand = hands[i % len(hands)]
        through, diverging = ("right", "left") if hand == "right" else ("left", "right")
        wired = f"common: T{i}.frog, through: T{i}.stock-{through}, diverging: T{i}.stock-{diverging}"
        track.append(
            f"  p{i}: {{length: 600 mm}}\n  T{i}: {{kind: live-frog, hand: {hand}}}\n  s{i}: {{length: 30 cm}}\n"
        )
        machines.append(f"  M{i}: {{throws: [T{i}], contacts: {{frog: {{{wired}}}}}}}\n")
        joints.append(f"  - {{from: p{i}, to: T{i}.toe}}\n  - {{from: T{i}.diverging, to: s{i}, insulate: vee}}\n")
        joints.append(f"  - {{from: T{i - 1}.through, to: p{i}, insulate: vee}}\n" if i else "")
    feeds = "".join(f"  - {{to: [p{i}, s{i}]}}\n" for i in range(count))
    return circuit(f"track:\n{''.join(track)}machines:\n{''.join(machines)}joints:\n{''.join(joints)}feeds:\n{feeds}")


def calls(made):
    """How many calls it takes to draw a plan: the same on every machine."""
    count = 0

    def seen(_frame, event, _argument):
        nonlocal count
        count += event in {"call", "c_call"}

    before = sys.getprofile()
    sys.setprofile(seen)
    try:
        plan_svg(made, first(made))
    finally:
        sys.setprofile(before)
    return count


@pytest.mark.parametrize("hands", [("right",), ("left", "right")])
def test_four_times_the_line_is_drawn_with_no_more_than_five_times_the_calls(hands):
    assert calls(line(80, hands)) < 5 * calls(line(20, hands))


def test_sidings_do_not_become_a_stair():
    layout = sidings(60)
    drawing = laid_out(layout)
    heights = [p[1] for one in drawing.placed.values() for w in one.ways.values() for p in w.core]
    strips = len(drawing.parts)
    assert max(heights) - min(heights) < (DEEPEST + 3) * ROW * 12 * strips
    assert upon_another(layout, drawing.placed) == set()
