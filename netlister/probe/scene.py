"""A circuit in detail in one state after some acts, and what a fault changes there."""

from __future__ import annotations

from collections import deque
from functools import cached_property
from random import Random
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.model import holds

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from netlister.circuit.model import State
    from netlister.probe.detail import Detail, FineConductor
    from netlister.probe.faults import Damage

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

    def takes(self, c: FineConductor) -> bool:
        """Whether a conductor that a fault puts in is taken away by the same acts."""
        if c.what == "bus":
            return c.owner in self.buses
        return (c.what == "screw" and (self.feeds_off or c.b in self.off)) or (
            c.what == "blade" and c.owner in self.papers
        )


class Effect(NamedTuple):
    """What a damage changes: nodes that are parted from the rest (with new labels), and labels that are joined."""

    parted: dict[int, int]
    joined: dict[int, int]

    def label(self, label: int) -> int:
        """The one label of all that a label is joined with."""
        return self.joined.get(label, label)


NOTHING = Effect({}, {})


class _Trees(NamedTuple):
    """Trees found depth first: nodes in order, and per node its place there, how many hang on it, and its root.

    `bridge`: per conductor whose loss parts something the end farther from the root. `block`: per node the number of
    its block, joined without bridges (R. E. Tarjan, A note on finding the bridges of a graph, Information Processing
    Letters 2, 1974). `covers`: per conductor a number that stands for the circles through it; conductors that part
    something together, and none of which is a bridge, have numbers that cancel out.
    """

    order: list[int]
    place: list[int]
    size: list[int]
    root: list[int]
    bridge: dict[int, int]
    block: list[int]
    covers: dict[int, int]

    @classmethod
    def over(cls, near: list[list[tuple[int, int]]]) -> _Trees:
        """The trees of a graph: per node the nodes beside it, each with the number of the conductor."""
        count = len(near)
        order: list[int] = []
        place, parent, up, root = [-1] * count, [-1] * count, [-1] * count, [-1] * count
        for start in range(count):
            stack = [(start, -1, -1)]
            while stack:
                node, before, by = stack.pop()
                if place[node] < 0:
                    place[node], parent[node], up[node], root[node] = len(order), before, by, start
                    order.append(node)
                    stack += [(other, node, n) for other, n in near[node] if place[other] < 0]
        low, size, bridge = place.copy(), [1] * count, {}
        rng, over, covers = Random(0), [0] * count, {}  # noqa: S311
        for node in reversed(order):
            by, least, at = up[node], low[node], place[node]
            for other, n in near[node]:
                if n != by and place[other] < at:
                    covers[n] = rng.getrandbits(64)
                    over[node] ^= covers[n]
                    over[other] ^= covers[n]
                    least = min(least, place[other])
            if by < 0:
                continue
            above = parent[node]
            covers[by] = over[node]
            over[above] ^= over[node]
            size[above] += size[node]
            low[above] = min(low[above], least)
            if least == place[node]:
                bridge[by] = node
        block = list(range(count))
        for node in order:
            if up[node] >= 0 and up[node] not in bridge:
                block[node] = block[parent[node]]
        return cls(order, place, size, root, bridge, block, covers)

    def sides(self, bridges: list[int]) -> list[list[int]]:
        """What some bridges of one tree part, all but the largest."""
        nodes = sorted((self.bridge[n] for n in bridges), key=self.place.__getitem__)
        nodes.insert(0, self.root[nodes[0]])
        spans = [(self.place[n], self.place[n] + self.size[n]) for n in nodes]
        inside: list[list[int]] = [[] for _ in spans]
        around: list[int] = []
        for k, (start, _) in enumerate(spans):
            while around and spans[around[-1]][1] <= start:
                around.pop()
            if around:
                inside[around[-1]].append(k)
            around.append(k)
        sizes = [end - start for start, end in spans]
        own = [size - sum(sizes[m] for m in inside[k]) for k, size in enumerate(sizes)]
        largest = own.index(max(own))
        found = []
        for k, (start, end) in enumerate(spans):
            if k != largest:
                group, at = [], start
                for m in inside[k]:
                    group += self.order[at : spans[m][0]]
                    at = spans[m][1]
                found.append(group + self.order[at:end])
        return found

    def cancel(self, some: list[int]) -> bool:
        """Whether the numbers of some conductors cancel out, which they do if these part something."""
        basis: list[int] = []
        for n in some:
            left = self.covers.get(n, 0)  # a circle of one conductor has none
            for number in basis:
                left = min(left, left ^ number)
            if not left:
                return True
            basis.append(left)
        return False


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

    def effect(self, damages: Sequence[Damage]) -> Effect:
        """What some damages, made together, change here. Cost: the smaller side of what is parted."""
        gone = {n for damage in damages for n in damage.out if self.conducts[n]}
        parted: dict[int, int] = {}
        new = self.count
        for cut in self._cuts(gone):
            for group in self._apart(cut, gone):
                parted.update(dict.fromkeys(group, new))
                new += 1
        joined: dict[int, int] = {}
        for damage in damages:
            for c in damage.into:
                if not self.acts.takes(c) and (not c.when or holds(c.when, self.state)):
                    a, b = (parted.get(end, self.label[end]) for end in (c.a, c.b))
                    _join(joined, a, b)
        if not parted and not joined:
            return NOTHING
        return Effect(parted, {label: _root(joined, label) for label in joined})

    @cached_property
    def _trees(self) -> _Trees:
        return _Trees.over(self.near)

    def _cuts(self, gone: set[int]) -> list[list[int]]:
        """The conductors gone that may part something, label by label.

        What has no bridge stays whole when one conductor of it goes.
        """
        if not gone:
            return []
        conductors, trees = self.made.conductors, self._trees
        inside: dict[int, list[int]] = {}
        cuts: dict[int, list[int]] = {}
        for n in sorted(gone):
            if n in trees.bridge:
                cuts.setdefault(self.label[conductors[n].a], []).append(n)
            else:
                inside.setdefault(trees.block[conductors[n].a], []).append(n)
        for some in inside.values():
            if len(some) > 1 and trees.cancel(some):
                cuts.setdefault(self.label[conductors[some[0]].a], []).extend(some)
        return list(cuts.values())

    def _apart(self, cut: list[int], gone: set[int]) -> list[list[int]]:
        """What is parted from the rest of one label."""
        if all(n in self._trees.bridge for n in cut):
            return self._trees.sides(cut)
        conductors = self.made.conductors
        return self._split(list(dict.fromkeys(end for n in cut for end in conductors[n][:2])), gone)

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
