"""Large plans: the work grows as the layout does, and no row is drawn ever deeper."""

from __future__ import annotations

import time

from netlister.draw.bent.fans import DEEPEST
from netlister.draw.bent.parts import ROW
from netlister.draw.placing import upon_another
from netlister.draw.plan import laid_out
from tests.draw.support import circuit


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


def test_sidings_do_not_become_a_stair():
    layout = sidings(60)
    drawing = laid_out(layout)
    heights = [p[1] for one in drawing.placed.values() for w in one.ways.values() for p in w.core]
    strips = len(drawing.parts)
    assert max(heights) - min(heights) < (DEEPEST + 3) * ROW * 12 * strips
    assert upon_another(layout, drawing.placed) == set()
