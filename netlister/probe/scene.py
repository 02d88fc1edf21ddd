"""A circuit in detail in one state after some acts, and what a fault changes there."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.model import holds

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from netlister.circuit.model import State
    from netlister.probe.detail import Conductor, Detail
    from netlister.probe.faults import Edit

FEEDS_OFF = "feeds-off"
FEED_OFF = "feed-off:"
BUS_OFF = "bus-off:"
PAPER = "paper:"
LEAD_OFF = "lead-off:"


class Acts:
    """What a person has done first, and which conductors that takes away."""

    def __init__(self, made: Detail, acts: Iterable[str]) -> None:
        self.acts = tuple(acts)
        self.made = made
        self.feeds_off = FEEDS_OFF in self.acts
        self.papers = frozenset(a.removeprefix(PAPER) for a in self.acts if a.startswith(PAPER))
        self.gone: set[int] = set(made.screws) if self.feeds_off else set()
        for piece in self.papers:
            self.gone.update(made.blades.get(piece, ()))
        screws = {made.conductors[n].b for act in self.acts for n in made.fed.get(act.removeprefix(FEED_OFF), ())}
        self.off = frozenset(screws)
        self.buses = frozenset(a.removeprefix(BUS_OFF) for a in self.acts if a.startswith(BUS_OFF))
        for act in self.acts:
            if act.startswith(BUS_OFF):
                self.gone.update(made.buses.get(act.removeprefix(BUS_OFF), ()))
            if act.startswith(FEED_OFF):
                self.gone.update(made.fed.get(act.removeprefix(FEED_OFF), ()))
            if act.startswith(LEAD_OFF) and act.removeprefix(LEAD_OFF) in made.commons:
                self.gone.add(made.commons[act.removeprefix(LEAD_OFF)])

    def takes(self, c: Conductor) -> bool:
        """Whether a conductor that a fault puts in is taken away by the same acts."""
        if c.what == "bus":
            return c.owner in self.buses
        return (c.what == "screw" and (self.feeds_off or c.b in self.off)) or (
            c.what == "blade" and c.owner in self.papers
        )


class Effect(NamedTuple):
    """What an edit changes: nodes that are parted from the rest (with new labels), and labels that are joined."""

    parted: dict[int, int]
    joined: dict[int, int]

    def label(self, label: int) -> int:
        """The one label of all that a label is joined with."""
        return self.joined.get(label, label)


NOTHING = Effect({}, {})


class Scene:
    """The good circuit after some acts in one state. `label` is per node the number of what beeps together."""

    def __init__(self, made: Detail, acts: Acts, state: State) -> None:
        self.made, self.acts, self.state = made, acts, state
        self.near: list[list[tuple[int, int]]] = [[] for _ in made.names]
        self.conducts = [False] * len(made.conductors)
        for number, c in enumerate(made.conductors):
            if number not in acts.gone and (not c.when or holds(c.when, state)):
                self.conducts[number] = True
                self.near[c.a].append((c.b, number))
                self.near[c.b].append((c.a, number))
        self.label = [-1] * len(made.names)
        self.count = 0
        for start in range(len(made.names)):
            if self.label[start] < 0:
                self._fill(start)

    def _fill(self, start: int) -> None:
        number = self.count
        self.count += 1
        self.label[start] = number
        stack = [start]
        while stack:
            for other, _ in self.near[stack.pop()]:
                if self.label[other] < 0:
                    self.label[other] = number
                    stack.append(other)

    def effect(self, edits: Sequence[Edit]) -> Effect:
        """What some edits, made together, change here. Cost: the smaller side of what is parted."""
        gone = {n for edit in edits for n in edit.out if self.conducts[n]}
        parted: dict[int, int] = {}
        if gone:
            ends: dict[int, list[int]] = {}
            for n in sorted(gone):
                c = self.made.conductors[n]
                ends.setdefault(self.label[c.a], []).extend((c.a, c.b))
            new = self.count
            for sources in ends.values():
                for group in self._split(list(dict.fromkeys(sources)), gone):
                    for node in group:
                        parted[node] = new
                    new += 1
        joined: dict[int, int] = {}
        for edit in edits:
            for c in edit.into:
                if not self.acts.takes(c) and (not c.when or holds(c.when, self.state)):
                    a, b = (parted.get(end, self.label[end]) for end in (c.a, c.b))
                    _join(joined, a, b)
        if not parted and not joined:
            return NOTHING
        return Effect(parted, {label: _root(joined, label) for label in joined})

    def _split(self, sources: list[int], gone: set[int]) -> list[list[int]]:
        """The groups into which sources of one label fall without some conductors, all but the one that is left."""
        owner = {node: k for k, node in enumerate(sources)}
        leads = list(range(len(sources)))
        members = [[node] for node in sources]
        queues = [deque([node]) for node in sources]

        def lead(k: int) -> int:
            while leads[k] != k:
                leads[k] = leads[leads[k]]
                k = leads[k]
            return k

        done: list[list[int]] = []
        active = list(range(len(sources)))
        while len(active) > 1:
            for k in active:
                if leads[k] != k:
                    continue
                if not queues[k]:
                    done.append(members[k])
                    leads[k] = k
                    queues[k].append(-1)
                    continue
                node = queues[k].popleft()
                if node == -1:
                    queues[k].append(-1)
                    continue
                for other, number in self.near[node]:
                    if number in gone:
                        continue
                    if other not in owner:
                        owner[other] = k
                        members[k].append(other)
                        queues[k].append(other)
                    elif (met := lead(owner[other])) != k:
                        self._merge(k, met, (leads, members, queues))
            active = [k for k in active if leads[k] == k and not (queues[k] and queues[k][0] == -1)]
        return done

    @staticmethod
    def _merge(k: int, met: int, tables: tuple[list[int], list[list[int]], list[deque[int]]]) -> None:
        leads, members, queues = tables
        leads[met] = k
        members[k] += members[met]
        queues[k].extend(queues[met])
        queues[met].clear()

    def beeps(self, x: int, y: int, effect: Effect = NOTHING) -> bool:
        """Whether two points beep together, with the effect of a fault."""
        a = effect.parted.get(x, self.label[x])
        b = effect.parted.get(y, self.label[y])
        return effect.label(a) == effect.label(b)

    def sees(self, x: int, y: int, effect: Effect) -> bool:
        """Whether the reading between two points tells an effect from none."""
        return self.beeps(x, y, effect) != (self.label[x] == self.label[y])


def _root(joined: dict[int, int], label: int) -> int:
    while joined.get(label, label) != label:
        label = joined[label]
    return label


def _join(joined: dict[int, int], a: int, b: int) -> None:
    a, b = _root(joined, a), _root(joined, b)
    if a != b:
        joined[a], joined[b] = b, b
