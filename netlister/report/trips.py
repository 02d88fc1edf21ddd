"""Routes that the page offers for its train, from one open end of the track to another."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.outputs.routes import place_text, positions_for
from netlister.poles.diagram import LimitError
from netlister.poles.reach import UnprovedError
from netlister.routes.ways import WaySearch

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.routes.settings import Settings
    from netlister.routes.track import TrackGraph
    from netlister.routes.ways import TrackPlace

MOST_TRIPS, MOST_WAYS = 40, 3
SMALL = 400
"""Pieces up to which every open end is joined to every other; on larger layouts only the first few."""


class Trip(NamedTuple):
    """A route: its name, the positions that set it, the piece and end where it begins, and how many pieces it has."""

    name: str
    positions: dict[str, str]
    piece: str
    entry: str
    pieces: int


def trips(track: TrackGraph, asked: Iterable[tuple[TrackPlace, TrackPlace]] = ()) -> list[Trip]:
    """The routes between the places asked for, else between open ends; the shortest few, without changes of direction.

    What goes beyond the limit of a proof is left out: such a route can still be set by hand on the page.
    """
    pairs = list(asked) or list(_pairs(track.settings))
    found: list[Trip] = []
    for start, goal in pairs:
        try:
            found += _between(track, start, goal)
        except (LimitError, UnprovedError):
            continue
        if len(found) >= MOST_TRIPS:
            break
    return found[:MOST_TRIPS]


def _between(track: TrackGraph, start: TrackPlace, goal: TrackPlace) -> Iterator[Trip]:
    ways = WaySearch(track, start, goal).run(MOST_WAYS).ways
    ways = tuple(way for way in ways if len(way.runs) == 1)
    for number, way in enumerate(ways, 1):
        steps = way.runs[0]
        name = f"{place_text(start)} to {place_text(goal)}" + (f", way {number}" if len(ways) > 1 else "")
        piece, entry = track.entry(steps[0])
        yield Trip(name, positions_for(track.settings, way.when[0])[0], piece, entry, len(steps))


def _pairs(settings: Settings) -> Iterator[tuple[TrackPlace, TrackPlace]]:
    """Pairs of plain pieces of which an end is open, or meets a piece without routes such as a buffer."""
    layout = settings.layout
    ends: list[TrackPlace] = []
    for piece in layout.pieces.values():
        if piece.kind.plain and any(_open(settings, piece.name, end) for end in piece.kind.ends):
            ends.append((piece.name, ""))
    if len(layout.pieces) > SMALL:
        ends = ends[:4]
    for number, start in enumerate(ends):
        for goal in ends[number + 1 :]:
            yield start, goal
    if not ends:
        first = next((p.name for p in layout.pieces.values() if p.kind.plain), "")
        if first:
            yield (first, ""), (first, "")


def _open(settings: Settings, piece: str, end: str) -> bool:
    side = settings.beyond.get((piece, end))
    return side is None or not settings.layout.pieces[side.piece].kind.routes
