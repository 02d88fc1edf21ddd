"""Long plans are folded: cut where little track crosses, and the strips stacked like the lines of a text."""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from typing import TYPE_CHECKING

from netlister.draw.placing import GAUGE, Placed, bounds, shifted

if TYPE_CHECKING:
    from netlister.layout.model import Joint, Layout

LONGEST = 3.0
"""No plan is longer than so many times its height, unless that is asked for."""

SHORT = 1100.0
"""Plans up to this length fit a screen or a sheet as they are, and their heading and legend make them high enough."""

APART = 90.0
SLACK = 0.3
"""A cut may be so far from where strips of one length would end, in lengths of a strip."""

MOST = 80

OVER = 90.0
"""A piece that hangs so far over a cut makes it no better place than one more joint does."""

Extent = tuple[float, float, float, float]


def folded(layout: Layout, placed: dict[str, Placed]) -> dict[str, Placed]:
    """Pieces in strips, as few as make the plan no longer than `LONGEST` times its height."""
    left, low, right, high = bounds(placed.values())
    wide, tall = right - left, high - low
    if wide <= SHORT or wide <= LONGEST * tall:
        return placed
    joints = [j for j in layout.joints if j.start[0] in placed and j.end[0] in placed]
    spans = {name: bounds([one]) for name, one in placed.items()}
    middles = {name: (a + c) / 2 for name, (a, _, c, _) in spans.items()}
    best, least = placed, wide / tall if tall else wide
    for count in range(max(2, int((wide / (LONGEST * (tall + APART))) ** 0.5)), MOST):
        cuts = _cuts(middles, joints, spans, (left, wide / count, count))
        found, size = _stacked(placed, middles, cuts, spans)
        ratio = size[0] / size[1]
        if ratio < least:
            best, least = found, ratio
        if ratio <= LONGEST or size[0] <= SHORT:
            return found
    return best


def cut_joints(layout: Layout, placed: dict[str, Placed]) -> set[str]:
    """The names of the joints whose two ends lie in different strips."""
    found = set()
    for joint in layout.joints:
        one, two = placed.get(joint.start[0]), placed.get(joint.end[0])
        if one and two and joint.start[1] in one.ends and joint.end[1] in two.ends:
            (ax, ay), (bx, by) = one.ends[joint.start[1]], two.ends[joint.end[1]]
            if abs(ax - bx) + abs(ay - by) > 2 * GAUGE:
                found.add(joint.name)
    return found


def _cuts(
    middles: dict[str, float], joints: list[Joint], spans: dict[str, Extent], strips: tuple[float, float, int]
) -> list[float]:
    """Where to cut: near the end of each strip, where the fewest joints lead across and pieces hang over least.

    `strips`: where the first begins, how long one is, how many there are.
    """
    left, strip, count = strips
    hangs = [(a + OVER, c - OVER) for n, (a, _, c, _) in spans.items() if c - a > 2 * OVER]

    def cost(x: float) -> tuple[float, float]:
        across = bisect_right(starts, x) - bisect_right(stops, x)
        over = sum(min(x - a, c - x) / OVER for a, c in hangs if a < x < c)
        return across + over, abs(x - goal)

    starts = sorted(min(middles[j.start[0]], middles[j.end[0]]) for j in joints)
    stops = sorted(max(middles[j.start[0]], middles[j.end[0]]) for j in joints)
    order = sorted(set(middles.values()))
    between = [(a + b) / 2 for a, b in itertools.pairwise(order)]
    cuts: list[float] = []
    for number in range(1, count):
        goal = left + strip * number
        low, high = (bisect_left(between, goal + strip * SLACK * side) for side in (-1, 1))
        near = [x for x in between[low:high] if not cuts or x > cuts[-1]]
        if near:
            cuts.append(min(near, key=lambda x: (bisect_right(starts, x) - bisect_right(stops, x), abs(x - goal))))
    return cuts


def _stacked(
    placed: dict[str, Placed],
    middles: dict[str, float],
    cuts: list[float],
    spans: dict[str, Extent],
) -> tuple[dict[str, Placed], tuple[float, float]]:
    """The strips below each other, and how wide and how high they are together."""
    strips: dict[int, list[str]] = {}
    for name, x in middles.items():
        strips.setdefault(bisect_right(cuts, x), []).append(name)
    found = {}
    below, widest = 0.0, 0.0
    for _, names in sorted(strips.items()):
        left, low = (min(spans[n][k] for n in names) for k in (0, 1))
        right, high = (max(spans[n][k] for n in names) for k in (2, 3))
        for name in names:
            found[name] = shifted(placed[name], (-left, below - high))
        below += low - high - APART
        widest = max(widest, right - left)
    return {name: found[name] for name in placed}, (widest, -below - APART)
