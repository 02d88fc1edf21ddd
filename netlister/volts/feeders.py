"""Where the next feeder does most, found by trying places along the rail and taps along the bus; and how many hold."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from math import comb, inf
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import build
from netlister.layout.terminal import Terminal
from netlister.lengths import NO_LENGTH, Metres
from netlister.quantity import length_text
from netlister.volts.allowed import Allowed
from netlister.volts.drop import Survey
from netlister.volts.likes import Likes
from netlister.volts.losses import losses
from netlister.volts.nearest import BusAlong
from netlister.volts.values import limit
from netlister.volts.worst import loop_curve

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from netlister.layout.model import Feed, Layout
    from netlister.volts.drop import Drop

MOST = 8
"""No more feeders than this are added."""
WORK = 20_000
"""The trials times the pieces of a layout come to about this at the most, so that a large layout takes no longer."""
STEP = 30
"""So many trials a feeder takes; with fewer to spend, fewer feeders and fewer pieces are tried, one at the least."""
PIECES = 5
"""So many pieces are tried, spread over those that lose too much."""

SHORTEST = 0.01
"""A piece without a length counts as so many metres."""
FINEST = 0.02
"""Places are distinguished down to this, in m."""

Score = tuple[float, float, float]
"""How far the worst place misses the limit, by how much it is missed over all metres of track, the worst share lost.
With `spread` the first two change places: what mends most metres needs fewer feeders now and then."""


class Added(NamedTuple):
    """A feeder to add at `at` in m along `piece`, tapped at `tap` in m along the bus (None: a bus without a length).

    `before`, `after`: the share of the voltage lost at the worst place of all track of the supply. `left`: pieces that
    then still lose too much. `entry`: it as an entry of the file.
    """

    bus: str
    piece: str
    at: Metres
    tap: Metres | None
    before: float
    after: float
    left: int
    feed: Feed
    entry: str


def feed_entry(layout: Layout, feed: Feed, at: Metres, tap: Metres | None = None) -> str:
    """A feed like another at a place in m along its piece, as an entry of the file: the same source, the same rails."""
    reverser = layout.reversers.get(feed.source)
    known = layout.buses.get(feed.source) or layout.supplies.get(feed.source)
    poles = reverser.outputs if reverser is not None else () if known is None else known.poles
    ways = [f"{'AB'[poles.index(pole)]}: {Terminal.of(rail).own}" for pole, rail in feed.wires]
    said = [f"to: {feed.piece}", f"at: {length_text(at)}", f"from: {feed.source}", *sorted(ways)]
    return f"{{{', '.join(said)}{'' if tap is None else f', tap: {length_text(tap)}'}}}"


def feeders(
    layout: Layout, amps: float | None = None, temperature: float = 20.0, most: int = MOST, bus: str = ""
) -> list[Added]:
    """Feeders to add, each where it does most, until every piece (that `bus` serves) holds the limit or none helps.

    One by one, so with two or more fewer may do in other places; each is found by calculating the whole layout anew.
    """
    added = list(_Adding(layout, amps, temperature, bus=bus).steps(most))
    return _better(added, _Adding(layout, amps, temperature, spread=True, bus=bus), most) if _stuck(added) else added


def _stuck(added: list[Added]) -> bool:
    """Whether several feeders do not do: each helped the worst place a little, where two at once would help it much."""
    return len(added) > 1 and added[-1].left > 0


def _better(added: list[Added], other: _Adding, most: int, survey: Survey | None = None) -> list[Added]:
    """Those feeders, or others if these leave fewer pieces that lose too much, or are fewer."""
    return min((added, list(other.steps(most, survey))), key=lambda f: (f[-1].left, len(f)) if f else (inf, 0))


class Thin(NamedTuple):
    """A bus that by itself loses more than the limit allows, on the way to `piece`: `share` of the supply's voltage."""

    bus: str
    piece: str
    share: float


class FeederPlan(NamedTuple):
    """The feeder that does most by itself, feeders that together hold the limit, and how few they are.

    `next`: None where none helps. `places`: at so many places all sets of one feeder less were tried, and the best of
    them moved about, and none holds the limit; 0 where that was too much to try. Less than one feeder never does.
    `thin`: a bus that makes feeders useless; then none are tried. `without`: pieces that lose too much and have their
    poles over switches, detectors or wires: there none is tried.
    """

    next: Added | None
    added: list[Added]
    places: int
    without: tuple[str, ...] = ()
    thin: Thin | None = None


SETS = 400
"""So many sets of places are tried at most, in search of fewer feeders."""


def feeder_plan(
    layout: Layout, amps: float | None = None, temperature: float = 20.0, survey: Survey | None = None
) -> FeederPlan:
    """The fewest feeders found that hold the limit: one by one, or fewer by sets of places spread over the track.

    `survey`: the volts of the layout at that current and temperature, where they are known already.
    """
    survey = survey or Survey.of(layout, amps, temperature)
    found = thin(survey)
    if found is not None:
        return FeederPlan(None, [], 0, thin=found)
    return _fewest(layout, amps, temperature, survey)._replace(
        without=_Adding(layout, amps, temperature).without(survey)
    )


def thin(survey: Survey) -> Thin | None:
    """The bus that alone loses too much on the way to the worst place, so that feeders do not help."""
    known = [d for d in survey.pieces().values() if d is not None and d.share]
    if not known or not survey.layout.buses:
        return None
    worst = max(known, key=lambda d: (d.share or 0.0, d.loop))
    parts = losses(survey, worst)
    bus = next(iter(parts.buses), None)
    if bus is None or not parts.loop:
        return None
    share = (worst.share or 0.0) * parts.shares.get("bus", 0.0) / parts.loop
    return Thin(bus, worst.piece, share) if share > limit(survey.layout, "drop") else None


def fewest(layout: Layout, amps: float | None, temperature: float, bus: str) -> list[Added]:
    """The fewest feeders found that hold the limit on the track of a bus, or those that come nearest to it."""
    return _fewest(layout, amps, temperature, Survey(build(layout), amps, temperature), bus).added


def _fewest(layout: Layout, amps: float | None, temperature: float, survey: Survey, bus: str = "") -> FeederPlan:
    adding = _Adding(layout, amps, temperature, bus=bus)
    added = list(adding.steps(MOST, survey))
    first = next(iter(added), None)
    if _stuck(added) or (len(added) > 1 and adding.trials >= 2 * MOST * STEP):
        added = _better(added, _Adding(layout, amps, temperature, spread=True, bus=bus), MOST, survey)
    if len(added) < 2 or added[-1].left:  # noqa: PLR2004 - with one, fewer never do
        return FeederPlan(first, added, 0)
    adding = _Adding(layout, amps, temperature, bus=bus)
    places = adding.grid(len(added) - 1)
    if not places:
        return FeederPlan(first, added, 0)
    fewest: Sequence[Feed] = ()
    for count in range(len(added) - 1, 0, -1):
        chosen = adding.shifted(min(combinations(places, count), key=adding.tried))
        if adding.tried(chosen)[0] > 0:
            break
        fewest = chosen
    return FeederPlan(first, list(adding.told(fewest)) if fewest else added, len(places))


SHIFTS = 200
"""So many trials are made at most to move the best set about."""


class _Adding:
    def __init__(
        self, layout: Layout, amps: float | None, temperature: float, *, spread: bool = False, bus: str = ""
    ) -> None:
        self.spread = spread
        self.bus = bus
        self.amps = amps
        self.temperature = temperature
        self.layout = layout
        self.limit = limit(layout, "drop") * (1 - 1e-9)
        self.trials = WORK // max(1, len(layout.pieces))

    def steps(self, most: int, survey: Survey | None = None) -> Iterator[Added]:
        for _ in range(max(1, min(most, self.trials // STEP))):
            survey = survey or Survey(build(self.layout), self.amps, self.temperature)
            score = self._score(survey)
            if score[0] <= 0:
                return
            found = self._best(survey, score)
            if found is None:
                return
            self.layout = replace(self.layout, feeds=[*self.layout.feeds, found.feed])
            yield found
            survey = None

    def grid(self, most: int) -> list[Feed]:
        """Places spread evenly over the track that loses too much: so many that all sets of them can be tried."""
        survey = Survey(build(self.layout), self.amps, self.temperature)
        candidates = self._candidates(survey, every=True)
        lengths = [self.layout.pieces[like.piece].length or 0.0 for like in candidates]
        budget = min(SETS, self.trials)
        count = 4 * len(candidates)
        while count and sum(comb(count, n) for n in range(1, most + 1)) <= budget:
            count += 1
        count -= 1
        if count < max(2 * most, len(candidates)):
            return []
        step = sum(lengths) / count
        found = []
        for like, length in zip(candidates, lengths, strict=True):
            along = BusAlong(self.layout, like)
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
        """Feeds moved along their pieces, one after the other and ever less far, as long as that is better.

        No more is tried for it than `SHIFTS` says.
        """
        found, best = list(feeds), self.tried(feeds)
        far = max(self.layout.pieces[f.piece].length or 0.0 for f in feeds) / 16
        left = SHIFTS // (2 * len(found))
        while far > 2 * FINEST and best[0] > 0 and left > 0:
            left -= 1
            before = best
            for number, feed in enumerate(found):
                length = self.layout.pieces[feed.piece].length or 0.0
                along = BusAlong(self.layout, feed)
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
            left = len(
                [d for d in survey.pieces().values() if d and (d.share or 0.0) > self.limit and self._of(survey, d)]
            )
            at = feed.at or NO_LENGTH
            said = feed_entry(self.layout, feed, at, feed.tap)
            yield Added(feed.source, feed.piece, at, feed.tap, score[2], after[2], left, feed, said)
            score = after

    def _score(self, survey: Survey) -> Score:
        """How bad it is, as `Score` says."""
        most = self.limit
        found = [d for d in survey.pieces().values() if d is not None and d.share is not None and self._of(survey, d)]
        over = sum(self._over(survey, d, most) for d in found if (d.share or 0.0) > most)
        worst = max((d.share or 0.0 for d in found), default=0.0)
        excess = max(0.0, worst - most)
        return (over, excess, worst) if self.spread else (excess, over, worst)

    def _of(self, survey: Survey, drop: Drop) -> bool:
        return not self.bus or survey.protection.serves(self.bus, drop.piece)

    @staticmethod
    def _over(survey: Survey, drop: Drop, most: float) -> float:
        """By how much a piece misses the limit, times the metres on which it does."""
        piece = survey.layout.pieces[drop.piece]
        excess = (drop.share or 0.0) - most
        if not piece.kind.plain or not piece.length:
            return excess * SHORTEST
        state = Allowed(survey.network).state({v: min(values) for v, values in drop.when})
        _, places, _ = loop_curve(survey.solver, piece, state, 16)
        ohm = (drop.share or 0.0) / drop.loop
        missed = [max(0.0, loop * ohm - most) for _, loop in places]
        return max(excess * SHORTEST, piece.length * sum(missed) / max(1, len(missed)))

    def _best(self, survey: Survey, score: Score) -> Added | None:
        candidates = self._candidates(survey)
        best: tuple[Score, Feed] | None = None
        share = min(STEP, self.trials) // max(1, len(candidates))
        for like in candidates:
            along = BusAlong(survey.layout, like)
            length = survey.layout.pieces[like.piece].length or 0.0
            here: tuple[Score, Feed] | None = None
            width, count = length, 0
            places = [Metres(length * n / 4) for n in range(5)]
            while places and count < share:
                for at in places:
                    found = self._tried(like._replace(at=at, tap=along.tap(at)))
                    count += 1
                    if found is not None and (here is None or found[0] < here[0]):
                        here = found
                width /= 2
                middle = length if here is None else here[1].at or 0.0
                steps = (middle - width / 4, middle + width / 4) if width > FINEST else ()
                places = [Metres(at) for at in steps if 0 <= at <= length]
            if here is not None and (best is None or here[0] < best[0]):
                best = here
        if best is None or best[0] >= score:
            return None
        (missed, _, worst), feed = best
        after = Survey(build(replace(self.layout, feeds=[*self.layout.feeds, feed])), self.amps, self.temperature)
        left = len([d for d in after.pieces().values() if d and (d.share or 0.0) > self.limit and self._of(after, d)])
        left = left if missed > 0 else 0
        at = feed.at or NO_LENGTH
        said = feed_entry(self.layout, feed, at, feed.tap)
        return Added(feed.source, feed.piece, at, feed.tap, score[2], worst, left, feed, said)

    def _tried(self, feed: Feed) -> tuple[Score, Feed] | None:
        here = feed._replace(at=_round(feed.at or 0.0), tap=None if feed.tap is None else _round(feed.tap))
        piece = self.layout.pieces[feed.piece]
        if (here.at or 0.0) > (piece.length or 0.0):
            return None
        survey = Survey(build(replace(self.layout, feeds=[*self.layout.feeds, here])), self.amps, self.temperature)
        return self._score(survey), here

    def without(self, survey: Survey) -> tuple[str, ...]:
        """Pieces of plain track that lose too much and have no feed to be given another like it."""
        likes = Likes(survey.circuit)
        return tuple(name for name in self._losing(survey) if likes.of(name) is None)

    def _losing(self, survey: Survey) -> list[str]:
        """Pieces of plain track that lose too much, the worst first."""
        pieces = survey.layout.pieces
        bad = [
            (-(d.share or 0.0), name)
            for name, d in survey.pieces().items()
            if d is not None
            and pieces[name].kind.plain
            and pieces[name].length
            and (d.share or 0.0) > self.limit
            and self._of(survey, d)
        ]
        return [name for _, name in sorted(bad)]

    def _candidates(self, survey: Survey, *, every: bool = False) -> list[Feed]:
        """Pieces of plain track that lose too much, spread from the worst to the least, each with a feed like its own.

        A piece whose rails have their poles from elsewhere than from feeds is left out. `every`: all of them.
        """
        likes = Likes(survey.circuit)
        names = self._losing(survey)
        most = max(1, min(PIECES, self.trials * PIECES // STEP))
        if not every and len(names) > most:
            names = [names[i * (len(names) - 1) // max(1, most - 1)] for i in range(most)]
        found = []
        for name in names:
            like = likes.of(name)
            if like is not None:
                found.append(like)
        return found


def _round(metres: float) -> Metres:
    """To a centimetre: nobody solders finer."""
    return Metres(round(metres, 2))
