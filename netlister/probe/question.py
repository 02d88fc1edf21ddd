"""What to measure next: the reading that tells most about which explanation is true.

The gain of a reading is the entropy of its two answers, by the likelihood of the explanations that give the one and the
other (J. de Kleer and B. C. Williams, Diagnosing multiple faults, Artificial Intelligence 32, 1987). A little is taken
off for what it costs to get there, so that of two as good the handier is asked.
"""

from __future__ import annotations

from functools import cached_property
from itertools import product
from math import log2
from typing import TYPE_CHECKING

from netlister.probe.explain import Explanation, Meter
from netlister.probe.local import FaultEffects, allowed
from netlister.probe.scene import FEED_OFF, FEEDS_OFF, LEAD_OFF, NOTHING, PAPER, Acts
from netlister.probe.sheet import Reading, usual_states

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from netlister.circuit.model import State
    from netlister.circuit.numbers import Var
    from netlister.probe.explain import Diagnosis, Explainer, Seen, Situation
    from netlister.probe.scene import Effect, Scene
    from netlister.probe.sheet import Sheet

MOST_WEIGHED = 80
"""Explanations that a question is chosen by, the likeliest."""
MOST_KINDS = 160
"""Points of one place that are weighed against one another."""
MOST_PLACES = 16
"""Places that are looked at for one question."""
MOST_FURTHER = 24
"""States, of what decides around the explanations, that are looked at where the usual places tell nothing."""
ENOUGH = 0.9
"""Of the greatest gain that there can be; a place that gives so much ends the search."""
THROW, ACT = 0.01, 0.03
"""What a variable thrown, and an act done or undone, take off the gain, in bits."""
MOST_ACTS = 0.1
"""What acts take off at the most."""
LEAST_GAIN = 1e-6


class Questions:
    """Chooses questions for an explainer; `sheet`: what is asked as long as nothing is wrong."""

    def __init__(self, explainer: Explainer, sheet: Sheet | None = None) -> None:
        import numpy as np  # late, but before the first question

        self.numpy = np
        self.explainer, self.sheet = explainer, sheet
        self.made = explainer.made
        self.first, self.last = usual_states(self.made)
        self.bladed = {p for p in self.made.blades if self.made.layout.pieces[p].kind.blades}
        self.screws = {n: name for name, numbers in self.made.fed.items() for n in numbers}
        self.owners: dict[int, set[tuple[str, str]]] = {}
        for n, c in enumerate(self.made.conductors):
            for end in (c.a, c.b):
                if c.what == "blade" and c.owner in self.bladed:
                    self.owners.setdefault(end, set()).add((PAPER, c.owner))
                if n in self._leads:
                    self.owners.setdefault(end, set()).add((LEAD_OFF, self._leads[n]))

    @cached_property
    def _local(self) -> FaultEffects:
        return FaultEffects(self.made)

    @property
    def _leads(self) -> dict[int, str]:
        return {n: name for name, n in self.made.commons.items()}

    def next(self, found: Diagnosis, taken: Sequence[Seen]) -> Reading | None:
        """The next reading; None where none tells explanations apart."""
        if found.contradictory:
            return None
        done = {(m.places[0], frozenset(m.reading.probes)) for m in taken if isinstance(m, Meter)}
        here = next((m.places[0] for m in reversed(taken) if isinstance(m, Meter)), ((), self.first))
        if not found.wrong and self.sheet is not None:
            return self._from_sheet(self.sheet, done)
        some = found.variants[:MOST_WEIGHED]
        if not found.wrong:
            some = [*some[: MOST_WEIGHED - 1], Explanation((), (), 0.0)]
        if len(some) < 2:  # noqa: PLR2004
            return None
        return self._best(some, done, here)

    @staticmethod
    def _from_sheet(sheet: Sheet, done: set[tuple[Situation, frozenset[int]]]) -> Reading | None:
        """The first reading of the sheet that was not taken."""
        for r in sheet.readings:
            if ((r.acts, r.state), frozenset(r.probes)) not in done:
                return r
        return None

    def _best(
        self, some: list[Explanation], done: set[tuple[Situation, frozenset[int]]], here: Situation
    ) -> Reading | None:
        share = [2.0**-e.weight for e in some]
        total = sum(share)
        share = [w / total for w in share]
        most = _entropy(min((abs(p - 0.5) for p in _sums(share)), default=0.5) + 0.5)
        best: tuple[float, Reading] | None = None
        known: dict[Situation, list[Effect]] = {}
        for tags in (False, True):
            for number, place in enumerate(self._places(some, here, hard=tags)):
                if number >= MOST_PLACES * (1 + 2 * tags):
                    break
                cost = THROW * sum(a != b for a, b in zip(place[1], here[1], strict=True))
                cost += min(ACT * len(set(place[0]) ^ set(here[0])), MOST_ACTS)
                if place not in known:
                    scene = self.explainer.scene(place)
                    known[place] = [scene.effect(e.damages) if e.damages else NOTHING for e in some]
                found = self._in_place(place, known[place], share, done, tags=tags)
                if found and (best is None or found[0] - cost > best[0] + LEAST_GAIN):
                    best = found[0] - cost, found[1]
                if best and best[0] >= ENOUGH * most:
                    return best[1]
            if best:
                return best[1]
        return None

    def _in_place(
        self,
        place: Situation,
        effects: list[Effect],
        share: list[float],
        done: set[tuple[Situation, frozenset[int]]],
        *,
        tags: bool,
    ) -> tuple[float, Reading] | None:
        """The reading of a place that gains most, and what it gains in bits; `effects`: of each explanation there."""
        scene = self.explainer.scene(place)
        nodes = self._kinds(scene, effects, tags=tags)
        if len(nodes) < 2:  # noqa: PLR2004
            return None
        np = self.numpy
        good = np.array([scene.label[n] for n in nodes])
        at = {n: k for k, n in enumerate(nodes)}
        alike: dict[bytes, float] = {}  # what the explanations that change nothing apart weigh together
        for effect, w in zip(effects, share, strict=True):
            row = good.copy()
            for n in at.keys() & effect.parted.keys():
                row[at[n]] = effect.parted[n]
            for label, root in effect.joined.items():
                if label != root:
                    row[row == label] = root
            key = row.tobytes()
            alike[key] = alike.get(key, 0.0) + w
        best: tuple[float, Reading] | None = None
        yes = np.zeros((len(nodes), len(nodes)))
        for key, w in alike.items():
            labels = np.frombuffer(key, dtype=int)
            yes += w * (labels[:, None] == labels[None, :])
        inner = np.clip(yes, 1e-12, 1 - 1e-12)
        gain = -(inner * np.log2(inner) + (1 - inner) * np.log2(1 - inner))
        gain = np.triu(np.round(gain, 9), 1)
        for flat in np.argsort(-gain, axis=None, kind="stable")[: len(done) + 1]:
            i, j = divmod(int(flat), len(nodes))
            if gain[i, j] <= LEAST_GAIN:
                break
            x, y = nodes[i], nodes[j]
            if (place, frozenset((x, y))) not in done:
                best = float(gain[i, j]), Reading(place[0], place[1], (x, y), scene.beeps(x, y))
                break
        return best

    def _kinds(self, scene: Scene, effects: list[Effect], *, tags: bool) -> list[int]:
        """Points between which explanations differ: one for each way in which they touch it."""
        points = [*self.made.points, *self.made.tags] if tags else self.made.points
        wanted = set(points)
        signs: dict[int, list[tuple[int, int]]] = {}
        labels: set[int] = set()
        for k, effect in enumerate(effects):
            for node, new in effect.parted.items():
                if node in wanted:
                    signs.setdefault(node, []).append((k, new))
                labels.add(scene.label[node])
            labels.update(x for x in effect.joined if x < scene.count)
        kinds: dict[tuple[int, tuple[tuple[int, int], ...]], int] = {}
        for node in points:
            if scene.label[node] in labels:
                kinds.setdefault((scene.label[node], tuple(signs.get(node, ()))), node)
        return list(kinds.values())[:MOST_KINDS]

    # -- places

    def _places(self, some: list[Explanation], here: Situation, *, hard: bool) -> Iterator[Situation]:
        """Where explanations may differ, the handiest first; `hard`: with leads lifted, in whatever state decides."""
        usual = list(dict.fromkeys((here[1], self.first, self.last)))
        thrown = [s for s in dict.fromkeys(self._thrown(some)) if s not in usual]
        papers, leads = self._around(some)
        plain: list[tuple[str, ...]] = [(FEEDS_OFF,), ()]
        ways: list[tuple[str, ...]] = [(FEEDS_OFF, PAPER + p) for p in papers[:4]]
        sheets = tuple(PAPER + p for p in papers[:4])
        if len(papers) > 1:
            ways.append((FEEDS_OFF, *sheets))
        ways += self._lifted(some)
        if here[0] in ways:
            ways.sort(key=lambda acts: acts != here[0])
        if here[0] == ():
            plain.reverse()
        yield from product(plain, usual)
        yield from product(plain, thrown)
        yield from product(ways, usual)
        yield from product(ways, thrown)
        if hard:
            lifted: list[tuple[str, ...]] = [(LEAD_OFF + c,) for c in leads[:4]]
            if len(lifted) > 1:
                lifted.append(tuple(LEAD_OFF + c for c in leads[:4]))
            more: list[tuple[str, ...]] = []
            for first in plain:
                more += [(*first, *lead) for lead in lifted]
                more += [(*first, *sheets, *lead) for lead in ((), *lifted) if sheets]
            yield from product(more, usual)
            yield from product([*plain, *ways, *more], [s for s in self._deciding(some) if s not in usual])

    def _thrown(self, some: list[Explanation]) -> Iterator[State]:
        moved = {
            v
            for e in some[:40]
            for damage in e.damages
            for c in (*(self.made.conductors[n] for n in damage.out), *damage.into)
            for v, _ in c.when
        }
        for v in sorted(moved)[:8]:
            for x in self.made.circuit.variables[v].values:
                state = allowed(self.made, ((v, x),), self.first)
                if state is not None:
                    yield state

    def _around(self, some: Iterable[Explanation]) -> tuple[list[str], list[str]]:
        """Pieces with blades, and contacts, at what explanations change."""
        found: dict[tuple[str, str], None] = {}
        for e in some:
            for damage in e.damages:
                for c in (*(self.made.conductors[n] for n in damage.out), *damage.into):
                    for end in (c.a, c.b):
                        found.update(dict.fromkeys(sorted(self.owners.get(end, ()))))
        return [p for what, p in found if what == PAPER], [c for what, c in found if what == LEAD_OFF]

    def _lifted(self, some: list[Explanation]) -> list[tuple[str, ...]]:
        """Feeds under suspicion off at their screws: half of them by likelihood, and one by one."""
        share: dict[str, float] = {}
        for e in some:
            for name in {self.screws[n] for damage in e.damages for n in damage.out if n in self.screws}:
                share[name] = share.get(name, 0.0) + 2.0**-e.weight
        order = sorted(share, key=lambda name: (-share[name], name))
        half: list[str] = []
        for name in order:
            if sum(share[x] for x in half) + share[name] <= sum(share.values()) / 2:
                half.append(name)
        ways = [tuple(FEED_OFF + name for name in half)] if len(half) > 1 else []
        return ways + [(FEED_OFF + name,) for name in order[:8]]

    def _deciding(self, some: list[Explanation]) -> list[State]:
        """States of the variables that decide around the likeliest explanations."""
        local, acts = self._local, Acts(self.made, (FEEDS_OFF,))
        variables: dict[Var, None] = {}
        for e in some[:6]:
            for damage in e.damages:
                edges, _, _ = local.around(damage, acts)
                variables.update(dict.fromkeys(sorted({v for c in edges.values() for v, _ in c.when})))
        chosen = list(variables)[:4]
        found: list[State] = []
        for values in product(*(self.made.circuit.variables[v].values for v in chosen)):
            state = allowed(self.made, tuple(zip(chosen, values, strict=True)), self.first)
            if state is not None and state not in found:
                found.append(state)
        return found[:MOST_FURTHER]


def _entropy(p: float) -> float:
    return 0.0 if p <= 0 or p >= 1 else -(p * log2(p) + (1 - p) * log2(1 - p))


def _sums(share: list[float]) -> Iterator[float]:
    """Some shares that an answer can have: those of the likeliest together, one after the other."""
    total = 0.0
    for w in share:
        total += w
        yield total
