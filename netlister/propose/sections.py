"""Where reversing sections may lie: pieces cut out of the track, after which nothing comes back turned round."""

from __future__ import annotations

from collections import deque
from itertools import combinations
from typing import TYPE_CHECKING

from netlister.propose.model import Section
from netlister.propose.track import Track

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable
    from typing import Any

    from netlister.layout.model import Layout

MOST_PAIRS = 200_000
"""Where one section does not do, pairs of them are tried, if these times the joints are no more."""

MOST_CHOICES = 80
"""So many sets of sections are designed and priced."""


def contradictions(track: Track, sections: Collection[Section], free: Collection[int] = ()) -> int:
    """How many joints contradict the others once the sections are cut out."""
    return len(track.parity({*free, *(number for section in sections for number in section.joints)})[1])


def choices(layout: Layout, free: Collection[int] = ()) -> list[tuple[Section, ...]]:
    """Sets of sections after which no joint contradicts, of as few sections as are needed; the best where none does.

    `free`: joints at the ends of sections that are there already.
    """
    track = Track(layout)
    if not contradictions(track, (), free):
        return [()]
    rows = candidates(layout, track)
    circle = track.circle(free)  # any set that does must cut it
    near = [s for s in rows if circle.intersection(s.joints)] if circle else rows
    found: list[tuple[Section, ...]] = [(s,) for s in near if not contradictions(track, (s,), free)]
    if found:
        return _few(layout, found)
    between = [(s,) for s in _between(layout, track, free) if not contradictions(track, (s,), free)]
    pairs = [(one, two) for one in near for two in _cutting(track, rows, (one,), free)]
    for one, two in pairs if len(pairs) * len(layout.joints) <= MOST_PAIRS else ():
        if not contradictions(track, (one, two), free):
            found.append((one, two))
    return [*between, *(_few(layout, found) if found else [_greedy(track, rows, free)])]


def _few(layout: Layout, found: list[tuple[Section, ...]]) -> list[tuple[Section, ...]]:
    """The first MOST_CHOICES, those with the fewest ends before others, and of these the longest."""

    def order(sections: tuple[Section, ...]) -> tuple[int, float]:
        metres = sum(layout.pieces[name].length or 0.0 for section in sections for name in section.pieces)
        return sum(len(section.joints) for section in sections), -metres

    return sorted(found, key=order)[:MOST_CHOICES]


def _between(layout: Layout, track: Track, free: Collection[int]) -> list[Section]:
    """What lies between circles that come back turned round, turnouts and all: one section that does for all of them.

    From the pieces of the first circle the shortest ways to each of the others; then the same with all that branches
    off these ways.
    """
    joints: dict[str, list[int]] = {}
    beside: dict[str, list[str]] = {}
    for number, joint in enumerate(layout.joints):
        for here, other in (joint.pieces, (joint.end[0], joint.start[0])):
            joints.setdefault(here, []).append(number)
            beside.setdefault(here, []).append(other)
    circles = [{name for n in circle for name in layout.joints[n].pieces} for circle in track.circles(free)]
    if len(circles) < 2:  # noqa: PLR2004 - one circle has nothing to lie between
        return []
    ways: set[str] = set()
    for circle in circles[1:]:
        ways |= _way(beside, ways or circles[0], circle)
    inside = set().union(*circles) - ways
    branches, stack = {*ways}, [*ways]
    while stack:
        for other in beside.get(stack.pop(), ()):
            if other not in branches and other not in inside:
                branches.add(other)
                stack.append(other)
    return [_section(layout, joints, names) for names in ((ways, branches) if branches != ways else (ways,)) if names]


def _way(beside: dict[str, list[str]], start: set[str], goal: set[str]) -> set[str]:
    """The pieces of a shortest way between two sets of them, with one of each set at its ends; none where none is."""
    came: dict[str, str] = dict.fromkeys(sorted(start), "")
    queue = deque(came)
    while queue:
        here = queue.popleft()
        if here in goal:
            found = set()
            while here:
                found.add(here)
                here = came[here]
            return found
        for other in beside.get(here, ()):
            if other not in came:
                came[other] = here
                queue.append(other)
    return set()


def _cutting(track: Track, rows: list[Section], chosen: tuple[Section, ...], free: Collection[int]) -> list[Section]:
    """Further sections, apart from those that are chosen, that cut a circle that these leave: one of them is needed."""
    circle = track.circle({*free, *(number for section in chosen for number in section.joints)})
    return [s for s in rows if circle.intersection(s.joints) and all(_apart(s, other) for other in chosen)]


def _greedy(track: Track, rows: list[Section], free: Collection[int]) -> tuple[Section, ...]:
    """Sections one after the other, each that ends most contradictions."""
    chosen: tuple[Section, ...] = ()
    left = contradictions(track, (), free)
    while left:
        apart = _cutting(track, rows, chosen, free)
        counted = [(contradictions(track, (*chosen, s), free), n) for n, s in enumerate(apart)]
        best = min(counted, default=(left, 0))
        if best[0] >= left:
            break
        left = best[0]
        chosen = (*chosen, apart[best[1]])
    return chosen


def _apart(one: Section, two: Section) -> bool:
    """Whether two sections have no piece in common and no joint between them."""
    return not {*one.pieces} & {*two.pieces} and not {*one.joints} & {*two.joints}


def candidates(layout: Layout, track: Track) -> list[Section]:
    """Rows of plain track between two turnouts; then single pieces that are none, with the dead ends beside them.

    Also what turns its poles in any case: the far end of a bridge that turns end for end.
    """
    joints: dict[str, list[int]] = {}
    for number, joint in enumerate(layout.joints):
        for name in {*joint.pieces}:
            joints.setdefault(name, []).append(number)
    stretches = track.stretches()
    rows = [Section(tuple(row), tuple(edge)) for row, edge in stretches if len(edge) == 2]  # noqa: PLR2004
    row_of = {name: row for row, _ in stretches for name in row}
    dead_ends = {name for row, edge in stretches if len(edge) == 1 for name in row}
    for piece in layout.pieces.values():
        if piece.name in row_of or track.turns(piece.name):
            continue
        grown = {piece.name}
        for number in joints.get(piece.name, ()):
            beside = {*layout.joints[number].pieces} - {piece.name}
            for name in beside & dead_ends:
                grown.update(row_of[name])
        rows.append(_section(layout, joints, grown))
    rows += [Section((), (number,)) for number in track.gaps()]  # a bridge has a reverser already
    return [*rows, *_longer(layout, joints, rows)]


def _longer(layout: Layout, joints: dict[str, list[int]], rows: list[Section], most: int = 60) -> Iterable[Section]:
    """A piece together with a row beside it: longer sections, for longer trains."""
    if len(rows) > most:
        return []
    found = []
    for one, two in combinations(rows, 2):
        if {*one.joints} & {*two.joints} and not {*one.pieces} & {*two.pieces}:
            found.append(_section(layout, joints, {*one.pieces, *two.pieces}))
    return found


def _section(layout: Layout, joints: dict[str, list[int]], pieces: set[str]) -> Section:
    """Some pieces as a section: its ends are the joints that lead out of them."""
    edge = set()
    for name in pieces:
        for number in joints.get(name, ()):
            joint: Any = layout.joints[number]
            if not {*joint.pieces} <= pieces:
                edge.add(number)
    return Section(tuple(name for name in layout.pieces if name in pieces), tuple(sorted(edge)))
