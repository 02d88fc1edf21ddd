"""A train of the layout on set routes in one state: what its wheels stand on and join, place by place.

The pick-up wheels of one side are wired together; a wheel over a gap joins its two sides. A wheel on an insulated joint
picks up nothing, as for the rule `stall`.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from netlister.lengths import HERE, IN_A_METRE, NO_LENGTH, Nanometres, nanometres
from netlister.routes.track import back
from netlister.rules.analysis import Analysis

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import State
    from netlister.layout.model import Joint, Train
    from netlister.probe.detail import Detail
    from netlister.routes.track import Step

LONG = Nanometres(IN_A_METRE)
"""How much longer than the train a piece without a length counts, in nm."""


class Footing(NamedTuple):
    """Places, `length` nm of them, at which the wheels are on the same rails.

    `left`, `right`: the nodes of the rails under the wheels that pick up. `joined`: groups of nodes that wheels and
    their wiring join.
    """

    length: Nanometres
    left: tuple[int, ...]
    right: tuple[int, ...]
    joined: tuple[tuple[int, ...], ...]


class TrainRun(NamedTuple):
    """The footings of a train in order, as it runs with its first axle ahead; `step`: over which piece, and how."""

    step: Step
    footings: tuple[Footing, ...]


class _SideRails(NamedTuple):
    """What is under the wheels of one side along some track: rails from place to place, and gaps."""

    rails: list[tuple[Nanometres, Nanometres, int]]  # start, stop, node
    gaps: list[tuple[Nanometres, Nanometres, int, int]]  # start, stop, the nodes on both sides


class Running:
    """One train on the track of a layout."""

    def __init__(self, made: Detail, train: Train) -> None:
        self.made, self.train = made, train
        self.track = Analysis.of(made.layout).track
        self.axles = [nanometres(a) for a in train.axles] or [HERE]
        self.reach = self.axles[-1] if train.axles else nanometres(train.length or NO_LENGTH)
        self.carries = nanometres(train.carries_on or NO_LENGTH)
        self.sides = (train.left, train.right) if train.axles else ((1,), (1,))
        self._runs: dict[tuple[str, State], list[TrainRun]] = {}

    def over(self, piece: str, state: State) -> list[TrainRun]:
        """The train with a wheel on a piece, on each of its routes that is set, both ways round."""
        key = piece, state
        if key not in self._runs:
            found = []
            for step in self.track.steps_of(piece):
                if self._set(step, state):
                    found.append(self._run(step, state, HERE, self._length(step) + self.reach))
            self._runs[key] = found
        return self._runs[key]

    def across(self, joint: Joint, state: State) -> list[TrainRun]:
        """The train with a joint under it."""
        key = joint.name, state
        if key not in self._runs:
            found = []
            for end in (joint.start, joint.end):
                for step in self.track.steps_of(end[0]):
                    if self.track.exit(step) == end and self._set(step, state):
                        at, half = self._length(step), self.track.gap // 2
                        found.append(self._run(step, state, at - half, at + half + self.reach))
            self._runs[key] = [run for run in found if run.footings]
        return self._runs[key]

    # -- the track under it

    def _set(self, step: Step, state: State) -> bool:
        return self.track.settings.poles.diagrams.value(self.track.when(step), state)

    def _length(self, step: Step) -> Nanometres:
        return self.track.length(step) or self.reach + LONG

    def _run(self, step: Step, state: State, low: Nanometres, high: Nanometres) -> TrainRun:
        """The footings with the first axle from `low` to `high`, counted from where a step begins."""
        chain: list[tuple[Nanometres, Step]] = [(HERE, step)]
        end = self._length(step)
        while end < high and (after := self._next(chain[-1][1], state)) is not None:
            chain.append((end, after))
            end += self._length(after)
        start = HERE
        while start > low - self.reach and (before := self._next(back(chain[0][1]), state)) is not None:
            start -= self._length(before)
            chain.insert(0, (start, back(before)))
        under = self._under(chain, 0), self._under(chain, 1)
        low, high = max(low, start + self.reach), min(high, end)
        return TrainRun(step, tuple(self._footings(under, low, high)))

    def _next(self, step: Step, state: State) -> Step | None:
        return next((s for s in self.track.after(step) if self._set(s, state)), None)

    def _under(self, chain: list[tuple[Nanometres, Step]], side: int) -> _SideRails:
        made, found = self.made, _SideRails([], [])
        for start, step in chain:
            piece, measured = self.track.piece(step), self.track.measure(step)
            lying = (measured.left, measured.right)[side]
            length = self._length(step)
            for k, one in enumerate(lying):
                ends = (
                    (one.start, one.stop)
                    if measured.length
                    else (Nanometres(length * k // len(lying)), Nanometres(length * (k + 1) // len(lying)))
                )
                node = -1 if one.rail is None else made.node[piece.terminal(one.rail)]
                found.rails.append((start + ends[0], start + ends[1], node))
        for (_, at, a), (_, _, b) in pairwise(found.rails):
            if a >= 0 and b >= 0 and a != b:
                found.gaps.append((at, at, a, b))
        half = self.track.gap // 2
        for (_, step), (at, _) in pairwise(chain):
            if self.track.gaps_at_exit(step)[side]:
                found.gaps[:] = [
                    (at - half, at + half, a, b) if one == at else (one, other, a, b) for one, other, a, b in found.gaps
                ]
        return found

    # -- where its wheels are

    def _footings(self, under: tuple[_SideRails, _SideRails], low: Nanometres, high: Nanometres) -> Iterator[Footing]:
        if low > high:
            return
        edges = {e for side in under for start, stop, _ in side.rails for e in (start, stop)}
        edges |= {e for side in under for start, stop, *_ in side.gaps for e in (start, stop)}
        places = sorted({low, high} | {e + a for e in edges for a in (*self.axles, self.reach) if low < e + a < high})
        for at, following in pairwise(places):
            yield self._footing(under, at, at, HERE)
            yield self._footing(under, at, following, following - at)
        yield self._footing(under, high, high, HERE)

    def _footing(
        self, under: tuple[_SideRails, _SideRails], at: Nanometres, following: Nanometres, length: Nanometres
    ) -> Footing:
        """With the first axle at a place, or anywhere between two."""
        feet: list[tuple[int, ...]] = []
        joined: set[tuple[int, ...]] = set()
        bridging = set(self.train.bridging())
        for side, numbers in zip(under, self.sides, strict=True):
            rails: set[int] = set()
            wired: set[int] = set()
            for number, axle in enumerate(self.axles, 1):
                first, last = at - axle, following - axle
                gap = next(((a, b) for start, stop, a, b in side.gaps if start <= first and last <= stop), None)
                if gap and number in bridging:
                    joined.add(tuple(sorted(gap)))
                    if number in numbers:
                        wired.update(gap)
                elif number in numbers and not gap:
                    on = {n for start, stop, n in side.rails if n >= 0 and start <= first and last <= stop}
                    rails |= on
                    wired |= on
            if not self.train.axles:  # its wheels may be anywhere: every gap under it
                joined.update(
                    tuple(sorted((a, b)))
                    for start, stop, a, b in side.gaps
                    if stop <= at and start >= following - self.reach and not self.train.insulated
                )
            if len(wired) > 1:
                joined.add(tuple(sorted(wired)))
            feet.append(tuple(sorted(rails)))
        return Footing(length, feet[0], feet[1], tuple(sorted(joined)))
