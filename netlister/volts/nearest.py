"""A bus that runs along the track: which place of it is nearest to a place of a piece."""

from __future__ import annotations

from heapq import heappop, heappush
from typing import TYPE_CHECKING

from netlister.lengths import Metres

if TYPE_CHECKING:
    from netlister.layout.model import Feed, Layout


class BusAlong:
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

    def tap(self, at: float) -> Metres | None:
        """The tap in m along the bus for a feed at a place in m along the piece."""
        if not self.whole:
            return self.like.tap
        known = [(self._metres(at, feed), feed.tap or 0.0) for feed in self.feeds]
        near = [(way, tap) for way, tap in known if way is not None]
        if not near:
            return self.like.tap
        low, high = max(tap - way for way, tap in near), min(tap + way for way, tap in near)
        if low <= high + 1e-9:
            return Metres(min(max(high, 0.0), self.whole))
        (a, one), (b, two) = sorted(near)[:2]  # the bus is longer than the track: in proportion between the nearest two
        return Metres((a * two + b * one) / (a + b) if a + b else one)

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
