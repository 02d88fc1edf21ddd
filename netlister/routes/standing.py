"""Where a vehicle stands with all wheels of one side that pick up on rails that give it nothing; exact, by intervals.

A place of the vehicle is that of its first axle. A wheel at distance `d` behind it stands in a stretch while the first
axle is in that stretch shifted by `d`; so the places where every wheel of a side stands in some such stretch are the
intersection, over the wheels, of the union of all stretches shifted by the wheel's distance. From each stretch only so
much of the track is looked at as the vehicle is long.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.lengths import HERE, Nanometres
from netlister.poles.diagram import NEVER, LimitError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from netlister.poles.diagram import Function
    from netlister.routes.track import Step, TrackGraph

FAR = 10**15
"""Farther than any track, in nm."""


MOST_WINDOWS = 10_000
"""Rows of steps looked at from one stretch before LimitError."""


class Spot(NamedTuple):
    """A stretch of rail that gives a wheel nothing in the states of `function`, in nm from where a step begins.

    `what`: "dead" (there is no rail), "rail" or "gap"; `name`: the piece, the terminal or the joint.
    """

    start: Nanometres
    stop: Nanometres
    function: Function
    what: str
    name: str


Sides = tuple[tuple[Spot, ...], tuple[Spot, ...]]
"""What lies under the left and the right wheels, in order and apart from each other."""


class Vehicle(NamedTuple):
    """Distances in nm behind the first axle: `last` of the last axle, `wheels` of those of one side that pick up."""

    last: Nanometres
    wheels: tuple[Nanometres, ...]


class Stand(NamedTuple):
    """The vehicle stands without current on one side in the states of `function`.

    Its first wheel that picks up is between `start` and `stop` in nm on the step `lead`; `steps` are all the steps
    under it, in the order in which it runs. `spots`: what its wheels stand on, from the first wheel back.
    """

    lead: Step
    start: Nanometres
    stop: Nanometres
    function: Function
    steps: tuple[Step, ...]
    spots: tuple[Spot, ...]


class _Window(NamedTuple):
    """Some steps in a row; places count from the start of the step `lead`. `open_*`: endless beyond that side."""

    steps: tuple[Step, ...]
    low: Nanometres
    high: Nanometres
    open_low: bool
    open_high: bool
    spots: tuple[Spot, ...]
    when: Function


class Standing:
    """Finds where vehicles stand. `sides` tells what is under the wheels of a step; `reach`: of the longest, nm."""

    def __init__(self, track: TrackGraph, sides: Callable[[Step], Sides], reach: Nanometres) -> None:
        self.track = track
        self.sides = sides
        self.reach = reach
        self._behind: dict[tuple[Step, int], tuple[tuple[Nanometres, Nanometres], ...]] = {}

    def find(self, vehicles: Sequence[Vehicle], side: int, lead: Step) -> Iterator[tuple[int, Stand]]:
        """Every place of some vehicles with their first wheel that picks up on the step `lead`.

        Side 0 is left, 1 right. Gives the number of the vehicle and where it stands.
        """
        own = self.sides(lead)[side]
        if not own:
            return
        behind = self._stretches_behind(lead, side)
        span = own[-1].stop - (behind[0][0] if behind else own[0].start)
        for number, vehicle in enumerate(vehicles):
            wheels = vehicle.wheels
            if not wheels or (len(wheels) > 1 and wheels[1] - wheels[0] > span):
                continue
            for spot in own:
                if self._worth(vehicle, side, lead, spot, own):
                    for stand in self._from(vehicle, side, lead, spot):
                        yield number, stand

    def _worth(self, vehicle: Vehicle, side: int, lead: Step, spot: Spot, own: Sequence[Spot]) -> bool:
        """Whether every further wheel can stand in some stretch, whatever the states."""
        first = vehicle.wheels[0]
        for wheel in vehicle.wheels[1:]:
            low, high = spot.start - (wheel - first), spot.stop - (wheel - first)
            if any(s.start < high and low < s.stop for s in own):
                continue
            if low < 0 and any(a < high and low < b for a, b in self._stretches_behind(lead, side)):
                continue
            return False
        return True

    def _stretches_behind(self, step: Step, side: int) -> tuple[tuple[Nanometres, Nanometres], ...]:
        """Every stretch on any track that leads to where a step begins, as far as the longest vehicle reaches."""
        key = (step, side)
        found = self._behind.get(key)
        if found is None:
            listed: set[tuple[Nanometres, Nanometres]] = set()
            seen: set[tuple[Step, Nanometres]] = set()
            waiting = [(before, HERE) for before in self.track.before(step)]
            while waiting:
                here, end = waiting.pop()
                length = self.track.length(here)
                if not length or (here, end) in seen:
                    continue
                seen.add((here, end))
                start = end - length
                listed.update((start + s.start, start + s.stop) for s in self.sides(here)[side])
                if start > -self.reach:
                    waiting += [(before, start) for before in self.track.before(here)]
            found = self._behind[key] = tuple(sorted(listed))
        return found

    def _from(self, vehicle: Vehicle, side: int, lead: Step, spot: Spot) -> Iterator[Stand]:
        first = vehicle.wheels[0]
        length = self.track.length(lead)
        own = tuple(self.sides(lead)[side])
        start = _Window((lead,), HERE, length, open_low=False, open_high=False, spots=own, when=self.track.when(lead))
        windows = [start]
        looked = 0
        while windows:
            looked += 1
            if looked > MOST_WINDOWS:
                raise LimitError
            window = windows.pop()
            if not self._places(vehicle, spot, window):
                continue
            yield from self._stands(vehicle, spot, lead, window)
            if window.low == 0 and not window.open_high and window.high < spot.stop + first:
                windows += self._ahead(side, window)
            if not window.open_low and window.low > spot.start + first - vehicle.last:
                windows += self._further(side, window)

    def _ahead(self, side: int, window: _Window) -> Iterator[_Window]:
        both = self.track.settings.poles.diagrams.both
        for step in self.track.after(window.steps[-1]):
            when = both(window.when, self.track.when(step))
            if when != NEVER:
                length = self.track.length(step)
                spots = (*window.spots, *(_shifted(s, window.high) for s in self.sides(step)[side]))
                high = window.high + (length or FAR)
                yield window._replace(
                    steps=(*window.steps, step), high=high, open_high=not length, spots=spots, when=when
                )

    def _further(self, side: int, window: _Window) -> Iterator[_Window]:
        both = self.track.settings.poles.diagrams.both
        for step in self.track.before(window.steps[0]):
            when = both(window.when, self.track.when(step))
            if when != NEVER:
                length = self.track.length(step)
                low = window.low - (length or FAR)
                spots = (*(_shifted(s, low) for s in self.sides(step)[side]), *window.spots)
                yield window._replace(steps=(step, *window.steps), low=low, open_low=not length, spots=spots, when=when)

    def _places(
        self, vehicle: Vehicle, spot: Spot, window: _Window, *, closed: bool = False
    ) -> list[tuple[Nanometres, Nanometres, Function, tuple[Spot, ...]]]:
        """Where the first wheel that picks up can be: from, to, the states, and what the wheels stand on.

        Track beyond the window counts as giving nothing, unless the window is `closed`: then all axles are in it.
        """
        diagrams = self.track.settings.poles.diagrams
        first = vehicle.wheels[0]
        low, high = spot.start, spot.stop
        if closed:
            low = max(low, window.low + vehicle.last - first)
            high = min(high, window.high - first)
        if low >= high:
            return []
        places: list[tuple[Nanometres, Nanometres, Function, tuple[Spot, ...]]] = [
            (low, high, diagrams.both(spot.function, window.when), (spot,))
        ]
        for wheel in vehicle.wheels[1:]:
            shift = wheel - first
            met: list[tuple[Nanometres, Nanometres, Function, tuple[Spot, ...]]] = []
            for a, b, function, under in places:
                if not closed and not window.open_low and a - shift < window.low:
                    met.append((a, min(b, window.low + shift), function, under))
                for s in window.spots:
                    c, d = max(a, s.start + shift), min(b, s.stop + shift)
                    if c < d:
                        joint = diagrams.both(function, s.function)
                        if joint != NEVER:
                            met.append((c, d, joint, (*under, s)))
            places = met
            if not places:
                break
        return places

    def _stands(self, vehicle: Vehicle, spot: Spot, lead: Step, window: _Window) -> Iterator[Stand]:
        poles = self.track.settings.poles
        for a, b, function, under in self._places(vehicle, spot, window, closed=True):
            if function != NEVER and poles.possible(function):
                yield Stand(lead, a, b, function, window.steps, under)


def _shifted(spot: Spot, by: Nanometres) -> Spot:
    return spot._replace(start=spot.start + by, stop=spot.stop + by)


def turned(sides: Sides, length: Nanometres) -> Sides:
    """The stretches of a step as those of the same step the other way."""
    left, right = (
        tuple(s._replace(start=length - s.stop, stop=length - s.start) for s in reversed(side)) for side in sides
    )
    return right, left


def without_gaps(rails: Sequence[Spot], gaps: Sequence[Spot]) -> tuple[Spot, ...]:
    """Stretches of rails and gaps, the gaps taken out of the rails, in order."""
    kept = list(rails)
    for gap in gaps:
        parts = []
        for rail in kept:
            if rail.stop <= gap.start or gap.stop <= rail.start:
                parts.append(rail)
                continue
            if rail.start < gap.start:
                parts.append(rail._replace(stop=gap.start))
            if gap.stop < rail.stop:
                parts.append(rail._replace(start=gap.stop))
        kept = parts
    return tuple(sorted((*kept, *gaps)))
