"""Where the next feeder does most, found by trying places along the rail and taps along the bus; and how many hold."""

from __future__ import annotations

from dataclasses import replace
from heapq import heappop, heappush
from itertools import combinations
from math import comb
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import build
from netlister.layout.terminal import Terminal, named
from netlister.quantity import metres
from netlister.volts.allowed import Allowed
from netlister.volts.drop import Survey
from netlister.volts.values import limit
from netlister.volts.worst import curve

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from netlister.layout.model import Feed, Layout
    from netlister.volts.drop import Drop

MOST = 8
"""No more feeders than this are added."""
WORK = 40_000
"""The trials times the pieces of a layout are bounded by this, at least `LEAST` trials a feeder."""
LEAST = 24
PIECES = 5
"""So many pieces are tried, spread over those that lose too much."""

SHORTEST = 0.01
"""A piece without a length counts as so many metres."""
FINEST = 0.02
"""Places are told apart down to this, in m."""

Score = tuple[float, float]


class Added(NamedTuple):
    """A feeder to add at `at` in m along `piece`, tapped at `tap` in m along the bus (None: a bus without a length).

    `before`, `after`: the share of the voltage lost at the worst place of all track of the supply. `left`: pieces that
    then still lose too much. `entry`: it as an entry of the file.
    """

    bus: str
    piece: str
    at: float
    tap: float | None
    before: float
    after: float
    left: int
    feed: Feed
    entry: str


def entry(layout: Layout, feed: Feed, at: float, tap: float | None = None) -> str:
    """A feed like another at a place in m along its piece, as an entry of the file: the same source, the same rails."""
    reverser = layout.reversers.get(feed.source)
    known = layout.buses.get(feed.source) or layout.supplies.get(feed.source)
    poles = reverser.outputs if reverser is not None else () if known is None else known.poles
    ways = [f"{'AB'[poles.index(pole)]}: {Terminal.of(rail).own}" for pole, rail in feed.wires]
    said = [f"to: {feed.piece}", f"at: {metres(at)}", f"from: {feed.source}", *sorted(ways)]
    return f"{{{', '.join(said)}{'' if tap is None else f', tap: {metres(tap)}'}}}"


def feeders(layout: Layout, amps: float | None = None, temperature: float = 20.0, most: int = MOST) -> list[Added]:
    """Feeders to add, each where it does most, until every piece holds the limit or none helps.

    One by one, so with two or more fewer may do in other places; each is found by calculating the whole layout anew.
    """
    return list(_Adding(layout, amps, temperature).steps(most))


class Plan(NamedTuple):
    """The feeder that does most by itself, feeders that together hold the limit, and how few they are.

    `next`: None where none helps. `places`: at so many places all sets of one feeder less were tried, and the best of
    them moved about, and none holds the limit; 0 where that was too much to try. Less than one feeder never does.
    """

    next: Added | None
    added: list[Added]
    places: int


SETS = 400
"""So many sets of places are tried at most, in search of fewer feeders."""


def plan(layout: Layout, amps: float | None = None, temperature: float = 20.0) -> Plan:
    """The fewest feeders found that hold the limit: one by one, or fewer by sets of places spread over the track."""
    added = feeders(layout, amps, temperature)
    if len(added) < 2 or added[-1].left:  # noqa: PLR2004 - with one, fewer never do
        return Plan(next(iter(added), None), added, 0)
    adding = _Adding(layout, amps, temperature)
    places = adding.grid(len(added) - 1)
    if not places:
        return Plan(added[0], added, 0)
    fewest: Sequence[Feed] = ()
    for count in range(len(added) - 1, 0, -1):
        chosen = adding.shifted(min(combinations(places, count), key=adding.tried))
        if adding.tried(chosen)[0] > 0:
            break
        fewest = chosen
    return Plan(added[0], list(adding.told(fewest)) if fewest else added, len(places))


class _Adding:
    def __init__(self, layout: Layout, amps: float | None, temperature: float) -> None:
        self.amps = amps
        self.temperature = temperature
        self.layout = layout
        self.limit = limit(layout, "drop") * (1 - 1e-9)
        self.trials = max(LEAST, WORK // (len(layout.pieces) + 40) ** 2)

    def steps(self, most: int) -> Iterator[Added]:
        for _ in range(most):
            survey = Survey(build(self.layout), self.amps, self.temperature)
            score = self._score(survey)
            if score[0] <= 0:
                return
            found = self._best(survey, score)
            if found is None:
                return
            self.layout = replace(self.layout, feeds=[*self.layout.feeds, found.feed])
            yield found

    def grid(self, most: int) -> list[Feed]:
        """Places spread evenly over the track that loses too much: so many that all sets of them can be tried."""
        survey = Survey(build(self.layout), self.amps, self.temperature)
        candidates = self._candidates(survey, every=True)
        lengths = [self.layout.pieces[like.piece].length or 0.0 for like in candidates]
        budget = max(0, min(SETS, self.trials * LEAST))
        count = 4 * len(candidates)
        while count and sum(comb(count, n) for n in range(1, most + 1)) <= budget:
            count += 1
        count -= 1
        if count < max(2 * most, len(candidates)):
            return []
        step = sum(lengths) / count
        found = []
        for like, length in zip(candidates, lengths, strict=True):
            along = _Along(self.layout, like)
            number = max(1, round(length / step))
            for n in range(number):
                at = _round(length * (n + 0.5) / number)
                tap = along.tap(at)
                found.append(like._replace(at=at, tap=None if tap is None else _round(tap)))
        return found

    def tried(self, feeds: Sequence[Feed]) -> Score:
        """By how much the limit is missed with some feeds more."""
        made = replace(self.layout, feeds=[*self.layout.feeds, *feeds])
        return self._score(Survey(build(made), self.amps, self.temperature))

    def shifted(self, feeds: Sequence[Feed]) -> list[Feed]:
        """Feeds moved along their pieces, one after the other and ever less far, as long as that is better."""
        found, best = list(feeds), self.tried(feeds)
        far = max(self.layout.pieces[f.piece].length or 0.0 for f in feeds) / 16
        while far > 2 * FINEST and best[0] > 0:
            before = best
            for number, feed in enumerate(found):
                length = self.layout.pieces[feed.piece].length or 0.0
                along = _Along(self.layout, feed)
                for at in (_round((feed.at or 0.0) - far), _round((feed.at or 0.0) + far)):
                    if 0 <= at <= length:
                        tap = along.tap(at)
                        moved = [*found]
                        moved[number] = feed._replace(at=at, tap=None if tap is None else _round(tap))
                        score = self.tried(moved)
                        if score < best:
                            found, best = moved, score
            far = far / 2 if best == before else far
        return found

    def told(self, feeds: Sequence[Feed]) -> Iterator[Added]:
        """Feeds as they are added, one after the other."""
        score = self._score(Survey(build(self.layout), self.amps, self.temperature))
        for number, feed in enumerate(feeds, 1):
            made = replace(self.layout, feeds=[*self.layout.feeds, *feeds[:number]])
            survey = Survey(build(made), self.amps, self.temperature)
            after = self._score(survey)
            left = sum(1 for d in survey.pieces().values() if d is not None and (d.share or 0.0) > self.limit)
            at = feed.at or 0.0
            said = entry(self.layout, feed, at, feed.tap)
            yield Added(feed.source, feed.piece, at, feed.tap, score[1], after[1], left, feed, said)
            score = after

    def _score(self, survey: Survey) -> Score:
        """By how much the limit is missed, over all metres of track; the greatest share lost."""
        most = self.limit
        found = [d for d in survey.pieces().values() if d is not None and d.share is not None]
        over = sum(self._over(survey, d, most) for d in found if (d.share or 0.0) > most)
        return over, max((d.share or 0.0 for d in found), default=0.0)

    @staticmethod
    def _over(survey: Survey, drop: Drop, most: float) -> float:
        """By how much a piece misses the limit, times the metres on which it does."""
        piece = survey.layout.pieces[drop.piece]
        excess = (drop.share or 0.0) - most
        if not piece.kind.plain or not piece.length:
            return excess * SHORTEST
        state = Allowed(survey.network).state({v: min(values) for v, values in drop.when})
        _, places, _ = curve(survey.solver, piece, state, 16)
        ohm = (drop.share or 0.0) / drop.loop
        missed = [max(0.0, loop * ohm - most) for _, loop in places]
        return max(excess * SHORTEST, piece.length * sum(missed) / max(1, len(missed)))

    def _best(self, survey: Survey, score: Score) -> Added | None:
        candidates = self._candidates(survey)
        best: tuple[Score, Feed] | None = None
        share = max(LEAST, self.trials) // max(1, len(candidates))
        for like in candidates:
            along = _Along(survey.layout, like)
            length = survey.layout.pieces[like.piece].length or 0.0
            here: tuple[Score, Feed] | None = None
            width, count = length, 0
            places = [length * n / 4 for n in range(5)]
            while places and count < share:
                for at in places:
                    found = self._tried(like._replace(at=at, tap=along.tap(at)))
                    count += 1
                    if found is not None and (here is None or found[0] < here[0]):
                        here = found
                width /= 2
                middle = length if here is None else here[1].at or 0.0
                steps = (middle - width / 4, middle + width / 4) if width > FINEST else ()
                places = [at for at in steps if 0 <= at <= length]
            if here is not None and (best is None or here[0] < best[0]):
                best = here
        if best is None or best[0] >= score:
            return None
        (over, worst), feed = best
        after = Survey(build(replace(self.layout, feeds=[*self.layout.feeds, feed])), self.amps, self.temperature)
        left = sum(1 for d in after.pieces().values() if d is not None and (d.share or 0.0) > self.limit)
        left = left if over > 0 else 0
        at = feed.at or 0.0
        said = entry(self.layout, feed, at, feed.tap)
        return Added(feed.source, feed.piece, at, feed.tap, score[1], worst, left, feed, said)

    def _tried(self, feed: Feed) -> tuple[Score, Feed] | None:
        rounded = feed._replace(at=_round(feed.at or 0.0), tap=None if feed.tap is None else _round(feed.tap))
        piece = self.layout.pieces[feed.piece]
        if (rounded.at or 0.0) > (piece.length or 0.0):
            return None
        survey = Survey(build(replace(self.layout, feeds=[*self.layout.feeds, rounded])), self.amps, self.temperature)
        return self._score(survey), rounded

    def _candidates(self, survey: Survey, *, every: bool = False) -> list[Feed]:
        """Pieces of plain track that lose too much, spread from the worst to the least, each with a feed like its own.

        A piece that has none takes the poles that its rails have in every state, or is left out. `every`: all of them.
        """
        layout = survey.layout
        likes = {f.piece: f for f in layout.feeds if len(f.wires) > 1 and f.source in (layout.buses or layout.supplies)}
        bad = [
            (-(d.share or 0.0), name)
            for name, d in survey.pieces().items()
            if d is not None and layout.pieces[name].kind.plain and layout.pieces[name].length
            and (d.share or 0.0) > self.limit
        ]  # fmt: skip
        names = [name for _, name in sorted(bad)]
        chosen = (
            names
            if every or len(names) <= PIECES
            else [names[i * (len(names) - 1) // (PIECES - 1)] for i in range(PIECES)]
        )
        found = []
        for name in chosen:
            like = likes.get(name) or self._like(survey, name)
            if like is not None:
                found.append(like._replace(name=""))
        return found

    @staticmethod
    def _like(survey: Survey, name: str) -> Feed | None:
        """A feed for a piece that has none: the poles are those that its rails have in every state."""
        solver, network, layout = survey.solver, survey.network, survey.layout
        model = next((f for f in layout.feeds if len(f.wires) > 1 and f.source in layout.buses), None)
        if model is None:
            return None
        poles = layout.buses[model.source].poles
        wires = []
        for side in ("left", "right"):
            node = solver.root[network.rails[name, side].middle]
            bits = solver.poles_of.get(solver.part[node], 0)
            pole = next((p for p in poles if bits == 1 << network.names.index(p)), None)
            if pole is None:
                return None
            wires.append((pole, named(name, side)))
        return model._replace(piece=name, wires=tuple(sorted(wires)))


class _Along:
    """Where a bus that runs along the track is nearest to a place of a piece.

    A place that is so many metres of track from a feed is no further than that along the bus from its tap. Of the taps
    that all known feeds allow the one furthest from the supply is taken, which flatters nothing; where the bus is
    longer than the track, one between those of the nearest two.
    """

    def __init__(self, layout: Layout, like: Feed) -> None:
        self.layout = layout
        self.like = like
        bus = layout.buses.get(like.source)
        self.whole = 0.0 if bus is None else bus.wire.length or 0.0
        self.length = layout.pieces[like.piece].length or 0.0
        self.feeds = [f for f in layout.feeds if f.source == like.source and f.tap is not None]
        ends = layout.pieces[like.piece].kind.ends
        self.from_ends = {end: self._distances((like.piece, end)) for end in ends} if self.whole else {}

    def tap(self, at: float) -> float | None:
        """The tap in m along the bus for a feed at a place in m along the piece."""
        if not self.whole:
            return self.like.tap
        known = [(self._metres(at, feed), feed.tap or 0.0) for feed in self.feeds]
        near = [(way, tap) for way, tap in known if way is not None]
        if not near:
            return self.like.tap
        low, high = max(tap - way for way, tap in near), min(tap + way for way, tap in near)
        if low <= high + 1e-9:
            return min(max(high, 0.0), self.whole)
        (a, one), (b, two) = sorted(near)[:2]  # the bus is longer than the track: in proportion between the nearest two
        return (a * two + b * one) / (a + b) if a + b else one

    def _metres(self, at: float, feed: Feed) -> float | None:
        """Metres of track between the place and a feed; None where no track leads there."""
        piece = self.layout.pieces[feed.piece]
        there = feed.at or 0.0
        ways = [abs(at - there)] if feed.piece == self.like.piece else []
        for end, far in self.from_ends.items():
            mine = at if self.layout.pieces[self.like.piece].kind.ends[end].entering else self.length - at
            for other in piece.kind.ends.values():
                if (feed.piece, other.name) in far:
                    rest = (there if other.entering else (piece.length or 0.0) - there) if piece.kind.plain else 0.0
                    ways.append(mine + far[feed.piece, other.name] + rest)
        return min(ways, default=None)

    def _distances(self, start: tuple[str, str]) -> dict[tuple[str, str], float]:
        """Metres of track from an end of the piece, outwards, to the ends of all others."""
        partner = {}
        for joint in self.layout.joints:
            partner[joint.start], partner[joint.end] = joint.end, joint.start
        found: dict[tuple[str, str], float] = {}
        heap = [(0.0, partner[start])] if start in partner else []
        while heap:
            way, here = heappop(heap)
            if here in found or here[0] == self.like.piece:
                continue
            found[here] = way
            piece = self.layout.pieces[here[0]]
            for end in piece.kind.ends:
                if end != here[1] and (here[0], end) in partner:
                    heappush(heap, (way + (piece.length or 0.0), partner[here[0], end]))
        return found


def _round(metres: float) -> float:
    """To a centimetre: nobody solders finer."""
    return round(metres, 2)
