"""Every simple way of a train from one place to another, shortest first.

A* search with the exact distance to the goal as the estimate (P. Hart, N. Nilsson and B. Raphael, 1968), so that the
ways come in the order of their changes of direction and their lengths.
"""

from __future__ import annotations

from collections import defaultdict
from heapq import heappop, heappush
from itertools import count
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.model import Value
from netlister.lengths import HERE, Nanometres
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.routes.track import Step, back

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.numbers import Var
    from netlister.poles.diagram import Diagrams, Function
    from netlister.routes.settings import EndOf
    from netlister.routes.track import TrackGraph

TrackPlace = tuple[str, str]
"""A piece and an end of it; an empty end means the whole piece."""

Cost = tuple[int, Nanometres]
"""Changes of direction, and nanometres."""

MOST_WAYS = 50
MOST_TRIED = 200_000
"""Ways given, and partial ways looked at, before the search is cut."""


class Way(NamedTuple):
    """A way: one run, or several; per run its steps and when it is set.

    Between two runs the train changes direction, or the table that it stands on moves, or both.
    """

    runs: tuple[tuple[Step, ...], ...]
    when: tuple[Function, ...]


class FoundWays(NamedTuple):
    """The ways found, and whether there may be more."""

    ways: tuple[Way, ...]
    cut: bool


class _WayPart(NamedTuple):
    """The first steps of a way, linked from the last one back."""

    step: Step
    before: _WayPart | None
    turned: bool  # the train changed direction before this step
    moved: bool  # the table that it stands on moved before this step
    when: Function
    changes: int
    length: Nanometres


class WaySearch:
    """Ways from one place to another. `changes`: the most changes of direction on the way."""

    def __init__(self, track: TrackGraph, start: TrackPlace, goal: TrackPlace, changes: int = 0) -> None:
        self.track = track
        self.start = start
        self.goal = goal
        self.changes = changes
        self.same = start == goal
        self._rest = self._distances()

    def _arrived(self, step: Step) -> bool:
        piece, end = self.goal
        if not end:
            return step.piece == piece
        at = self.track.exit(step)
        if at == self.goal:
            return True
        side = self.track.settings.beyond.get(at)
        return side is not None and (side.piece, side.end) == self.goal

    def _first(self) -> list[Step]:
        piece, end = self.start
        if not end:
            return list(self.track.steps_of(piece))
        return _from_point(self.track, self.start)

    def _turns(self, step: Step) -> Iterator[Step]:
        """The steps over the piece before, by other legs, after a change of direction on this step's piece."""
        track = self.track
        side = track.settings.beyond.get(track.entry(step))
        if side is not None and track.layout.pieces[side.piece].kind.bladed:
            yield from track.steps_from((side.piece, side.end))

    def _distances(self) -> list[dict[Step, Cost]]:
        """Per number of changes of direction left the least cost from a step's end to the goal."""
        track = self.track
        forward, about = self._graph()
        into: dict[Step, list[Step]] = defaultdict(list)
        reversed_at: dict[Step, list[Step]] = defaultdict(list)
        for step, following in forward.items():
            for other in following:
                into[other].append(step)
            if self.changes:
                for other in about[step]:
                    reversed_at[other].append(step)
        layers: list[dict[Step, Cost]] = []
        for left in range(self.changes + 1):
            best: dict[Step, Cost] = {step: (0, HERE) for step in forward if self._arrived(step)}
            if left:
                for step, (c, length) in layers[left - 1].items():
                    for other in reversed_at[step]:
                        cost = (c + 1, length + track.length(step) + track.length(other))
                        best[other] = min(best.get(other, cost), cost)
            queue = [(cost, number, step) for number, (step, cost) in enumerate(best.items())]
            queue.sort()
            ticket = count(len(queue))
            while queue:
                cost, _, step = heappop(queue)
                if cost > best[step]:
                    continue
                through = (cost[0], cost[1] + track.length(step))
                for other in into[step]:
                    if other not in best or through < best[other]:
                        best[other] = through
                        heappush(queue, (through, next(ticket), other))
            layers.append(best)
        return layers

    def _graph(self) -> tuple[dict[Step, list[Step]], dict[Step, list[Step]]]:
        """Per step the steps that can follow it, straight on and after a change of direction."""
        track = self.track
        forward: dict[Step, list[Step]] = {}
        about: dict[Step, list[Step]] = defaultdict(list)
        waiting = self._first()
        while waiting:
            step = waiting.pop()
            if step not in forward:
                forward[step] = list(track.after(step))
                for other, turned in carried(track, step):
                    if turned:
                        about[step].append(other)
                    else:
                        forward[step].append(other)
                if self.changes:
                    about[step] += self._turns(step)
                waiting += forward[step]
                if self.changes:
                    waiting += about[step]
        return forward, about

    def run(self, most: int = MOST_WAYS, tried: int = MOST_TRIED, *, positions: bool = True) -> FoundWays:
        """The ways, the least changes of direction and the shortest first.

        `positions`: leave out what contradictory positions or `never` make impossible.
        """
        found: list[Way] = []
        ticket = count()
        queue: list[tuple[Cost, int, _WayPart]] = []

        def offer(parts: Iterator[_WayPart]) -> None:
            for part in parts:
                changes, rest = self._rest[self.changes - part.changes][part.step]
                heappush(queue, ((part.changes + changes, part.length + rest), next(ticket), part))

        offer(part for step in self._first() if (part := self._part(step, None, positions=positions)) is not None)
        for number in count():
            if not queue:
                return FoundWays(tuple(found), cut=False)
            if len(found) >= most or number >= tried:
                return FoundWays(tuple(found), cut=True)
            _, _, part = heappop(queue)
            if self._arrived(part.step) and not (self.same and part.before is None):
                found.append(_way(part))
            else:
                offer(self._onward(part, positions=positions))
        raise AssertionError

    def _onward(self, part: _WayPart, *, positions: bool) -> Iterator[_WayPart]:
        """A way with one step more, over track that it has not been on."""
        used = {(p.step.piece, p.step.route) for p in _parts(part)}
        if self.same and not self.goal[1]:
            used.discard((self.goal[0], 0))
        ways = [(step, False, False) for step in self.track.after(part.step)]
        back_allowed = part.changes < self.changes
        ways += [(s, t, True) for s, t in carried(self.track, part.step) if back_allowed or not t]
        if back_allowed and part.before is not None:
            ways += [(step, True, False) for step in self._turns(part.step)]
        for step, turn, moved in ways:
            if (step.piece, step.route) not in used:
                longer = self._part(step, part, turn=turn, moved=moved, positions=positions)
                if longer is not None:
                    yield longer

    def _part(
        self, step: Step, before: _WayPart | None, *, turn: bool = False, moved: bool = False, positions: bool
    ) -> _WayPart | None:
        """A way that ends with a step, or None where the goal is not reached from there or it cannot be set."""
        track, poles = self.track, self.track.settings.poles
        changes, length, when = (0, HERE, ALWAYS) if before is None else (before.changes, before.length, before.when)
        if turn and before is not None:
            changes += 1
        if moved:
            when = ALWAYS
        elif turn and before is not None:
            length += track.length(before.step)
            when = track.when(before.step)
        if step not in self._rest[self.changes - changes]:
            return None
        if positions:
            when = poles.diagrams.both(when, track.when(step))
            if not poles.possible(when):
                return None
        return _WayPart(step, before, turn, moved, when, changes, length + track.length(step))


def _from_point(track: TrackGraph, end: EndOf) -> list[Step]:
    """The steps that begin at a joint, or at an end that is not joined: into both of its pieces."""
    found = list(track.steps_from(end))
    side = track.settings.beyond.get(end)
    if side is not None:
        found += track.steps_from((side.piece, side.end))
    return found


def carried(track: TrackGraph, step: Step) -> Iterator[tuple[Step, bool]]:
    """The steps off a table that moves with the train on it, and whether the train changes direction for them.

    A table is a piece with ends whose rails move. The train has come to stand on the rails of such an end; any other
    route that begins on them will do, straight on where the same rail is under its left wheels.
    """
    piece = track.layout.pieces[step.piece]
    kind = piece.kind
    if not (kind.gaps and kind.bladed) or track.exit(step)[1] not in kind.gaps:
        return
    here = _rails(track, step, track.exit(step))
    for other in track.steps_of(step.piece):
        if other.route != step.route and track.entry(other)[1] in kind.gaps:
            there = _rails(track, other, track.entry(other))
            if there in (here, here[::-1]):
                yield other, there != here


def _rails(track: TrackGraph, step: Step, at: EndOf) -> tuple[str, str]:
    """The rails under the left and the right wheels of a step at one of its ends."""
    end = track.piece(step).kind.ends[at[1]]
    return (end.left, end.right) if step.forward else (end.right, end.left)


def _parts(part: _WayPart | None) -> Iterator[_WayPart]:
    while part is not None:
        yield part
        part = part.before


def _way(last: _WayPart) -> Way:
    """The way that ends with a part."""
    runs: list[list[Step]] = [[]]
    when = [ALWAYS]
    for part in reversed(list(_parts(last))):
        if part.moved:
            runs.append([])
            when.append(ALWAYS)
        elif part.turned:
            runs.append([back(runs[-1][-1])])
            when.append(ALWAYS)
        runs[-1].append(part.step)
        when[-1] = part.when
    return Way(tuple(tuple(run) for run in runs), tuple(when))


# -- why there is none


class Contradiction(NamedTuple):
    """Why a run cannot be set: the variable, what the steps before and the last one want of it; `step` is the last.

    `variable` is None where `never` rules the combination out.
    """

    variable: Var | None
    wanted: tuple[Value, ...]
    then: tuple[Value, ...]
    step: Step


def contradiction(track: TrackGraph, way: Way) -> Contradiction | None:
    """The first step of a way that cannot be set together with those before it."""
    poles = track.settings.poles
    diagrams = poles.diagrams
    for run in way.runs:
        before = ALWAYS
        for step in run:
            here = track.when(step)
            after = diagrams.both(before, here)
            if not poles.possible(after):
                if after == NEVER:
                    for variable in sorted(diagrams.support(before) & diagrams.support(here)):
                        wanted, then = (_values(diagrams, f, variable) for f in (before, here))
                        if not set(wanted) & set(then):
                            return Contradiction(variable, wanted, then, step)
                return Contradiction(None, (), (), step)
            before = after
    return None


def _values(diagrams: Diagrams, function: Function, variable: Var) -> tuple[Value, ...]:
    """The values of a variable with which a function can be true."""
    arity = diagrams.arity[diagrams.level_of[variable]]
    return tuple(
        v for v in map(Value, range(arity)) if diagrams.both(function, diagrams.literal(variable, (v,))) != NEVER
    )
