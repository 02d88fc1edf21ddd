"""Which faults, one or two, explain what was seen of a layout as built."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, NamedTuple, Protocol

import yaml

from netlister.probe.cover import bits
from netlister.probe.scene import NOTHING, Acts, Effect, Scene
from netlister.probe.turned import Turned

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from netlister.circuit.model import State
    from netlister.probe.detail import Detail
    from netlister.probe.faults import Damage, Fault
    from netlister.probe.sheet import Reading

Situation = tuple[tuple[str, ...], "State"]
"""Where something is seen: after which acts, in which state."""

MOST_LOOKS = 400_000
"""Pairs of faults that are looked at in passing at the most."""
MOST_TRIED = 20_000
"""Pairs of faults that are worked out at the most."""
MOST_PAIRS = 400
"""Pairs that explain everything, of which the likeliest are kept."""


class Seen(Protocol):
    """Something seen of the railway: a reading of a meter or a symptom."""

    @property
    def row(self) -> int:
        """Its number where it was written, from 1."""

    @property
    def was(self) -> bool:
        """What was seen."""

    @property
    def expect(self) -> bool:
        """What the layout as drawn gives."""

    @property
    def places(self) -> tuple[Situation, ...]:
        """Where it was seen."""

    def of(self, scenes: Sequence[Scene], effects: Sequence[Effect]) -> bool:
        """What it would be with the effects of a fault, one effect for each of its places."""


class Meter(NamedTuple):
    """A reading as taken: the row of the file that it stands in (from 1), what was measured, whether it beeped."""

    row: int
    reading: Reading  # `expect` is what the good layout does
    beeped: bool

    @property
    def was(self) -> bool:
        """What was seen."""
        return self.beeped

    @property
    def expect(self) -> bool:
        """What the layout as drawn gives."""
        return self.reading.expect

    @property
    def places(self) -> tuple[Situation, ...]:
        """Where it was taken."""
        return ((self.reading.acts, self.reading.state),)

    def of(self, scenes: Sequence[Scene], effects: Sequence[Effect]) -> bool:
        """Whether it would beep."""
        return scenes[0].beeps(*self.reading.probes, effects[0])


class Explanation(NamedTuple):
    """Faults that together explain everything seen; the less it weighs the likelier."""

    faults: tuple[Fault, ...]
    damages: tuple[Damage, ...]
    weight: float


@dataclass(slots=True)
class Diagnosis:
    """What the readings lead to.

    `variants`: the explanations, once for each way in which their faults may be made. `wrong`: rows that are not as
    drawn. `contradictory`: rows that no layout could give together. `tried_all`: whether every pair was looked at.
    `but_one`: rows of which any one, taken wrongly, would leave a single fault as explanation.
    `ignored`: rows not used. `taken`: how much was seen.
    """

    explanations: list[Explanation] = field(default_factory=list)
    variants: list[Explanation] = field(default_factory=list)
    wrong: list[int] = field(default_factory=list)
    next: Reading | None = None
    contradictory: list[list[int]] = field(default_factory=list)
    tried_all: bool = True
    but_one: list[int] = field(default_factory=list)
    ignored: list[int] = field(default_factory=list)
    taken: int = 0


@cache
def fault_weights() -> tuple[dict[str, float], float]:
    """Per kind of fault its weight, and what a pair weighs more than its two faults."""
    read = yaml.safe_load((files("netlister.probe") / "weights.yaml").read_text("utf-8"))
    return {kind: float(w) for kind, w in read["weights"].items()}, float(read["pair"])


class _FaultTable(NamedTuple):
    """All faults in one place: what each changes there, and which labels each touches."""

    scene: Scene
    effects: dict[int, Effect]
    touched: list[frozenset[int]]


class Explainer:
    """Works out what a set of readings and symptoms leads to; keeps what it has worked out from one to the next."""

    def __init__(self, made: Detail, faults: list[Fault]) -> None:
        self.made, self.faults = made, faults
        self.weight, self.pair = fault_weights()
        self.damages = [damage for fault in faults for damage in fault.damages]
        self.owner = [k for k, fault in enumerate(faults) for _ in fault.damages]
        self.out = [frozenset(damage.out) for damage in self.damages]
        self.ends = [
            tuple({end for c in (*(made.conductors[n] for n in damage.out), *damage.into) for end in (c.a, c.b)})
            for damage in self.damages
        ]
        self._scenes: dict[Situation, Scene] = {}
        self._tables: dict[Situation, _FaultTable] = {}
        self._before: tuple[list[Seen], Diagnosis] | None = None

    def scene(self, place: Situation) -> Scene:
        """The good circuit in a place."""
        if place not in self._scenes:
            self._scenes[place] = Scene(self.made, Acts(self.made, place[0]), place[1])
        return self._scenes[place]

    def _table(self, place: Situation) -> _FaultTable:
        if place not in self._tables:
            scene = self.scene(place)
            effects: dict[int, Effect] = {}
            for e, damage in enumerate(self.damages):
                effect = scene.effect((damage,))
                if effect is not NOTHING:
                    effects[e] = effect
            touched = [frozenset(scene.label[n] for n in ends) for ends in self.ends]
            self._tables[place] = _FaultTable(scene, effects, touched)
        return self._tables[place]

    def outcome(self, seen: Seen, damages: tuple[Damage, ...]) -> bool:
        """What would be seen with some faults."""
        scenes = [self.scene(place) for place in seen.places]
        return seen.of(scenes, [scene.effect(damages) for scene in scenes])

    def explain(self, taken: Sequence[Seen]) -> Diagnosis:
        """The faults, singly or in pairs, that explain all that was seen, likeliest first.

        Where a single fault explains everything, pairs of it with one that it hides follow.
        """
        found = Diagnosis(contradictory=contradictory(taken), taken=len(taken))
        found.wrong = [m.row for m in taken if m.was != m.expect]
        before = self._before
        if before and before[1].variants and before[1].wrong and taken[: len(before[0])] == before[0]:
            new = taken[len(before[0]) :]
            found.variants = [e for e in before[1].variants if all(self.outcome(m, e.damages) == m.was for m in new)]
            found.tried_all = before[1].tried_all
        if not found.variants and not found.contradictory:
            self._search(taken, found)
        found.variants.sort(key=lambda e: (e.weight, [f.key() for f in e.faults]))
        once: dict[tuple[int, ...], Explanation] = {}
        for e in found.variants:
            once.setdefault(tuple(id(f) for f in e.faults), e)
        found.explanations = list(once.values())
        self._before = list(taken), found
        return found

    def _search(self, taken: Sequence[Seen], found: Diagnosis) -> None:
        wrong = sum(1 << r for r, m in enumerate(taken) if m.was != m.expect)
        metered = self._metered(taken)
        differs = self._differences(taken, metered)
        near_miss: set[int] = set()
        for e, mask in enumerate(differs):
            if mask == wrong:
                self._add(found, (e,))
            elif wrong and (mask ^ wrong).bit_count() == 1:
                near_miss.add((mask ^ wrong).bit_length() - 1)
        read = any(m.was != m.expect for m in taken if isinstance(m, Meter))
        if wrong and (read or not found.variants):  # of a symptom alone pairs tell nothing
            found.tried_all = self._pairs(taken, metered, found, differs, wrong)
            if not found.variants:
                found.but_one = sorted(taken[r].row for r in near_miss if taken[r].row > 0)

    def _add(self, found: Diagnosis, some: tuple[int, ...]) -> None:
        """Note an explanation."""
        faults = tuple(self.faults[self.owner[e]] for e in some)
        weight = sum(self.weight[f.kind] for f in faults) + (self.pair if len(some) > 1 else 0)
        found.variants.append(Explanation(faults, tuple(self.damages[e] for e in some), weight))

    def _metered(self, taken: Sequence[Seen]) -> dict[Situation, Turned]:
        """The readings of a meter, place by place."""
        some: dict[Situation, list[tuple[int, tuple[int, int]]]] = {}
        for r, m in enumerate(taken):
            if isinstance(m, Meter):
                some.setdefault(m.places[0], []).append((r, m.reading.probes))
        return {place: Turned(self.scene(place), readings) for place, readings in some.items()}

    def _differences(self, taken: Sequence[Seen], metered: dict[Situation, Turned]) -> list[int]:
        """Per damage what it changes of what was seen, as a mask."""
        differs = [0] * len(self.damages)
        for place, turned in metered.items():
            for e, effect in self._table(place).effects.items():
                differs[e] |= turned.by(effect)
        for r, m in enumerate(taken):
            if isinstance(m, Meter):
                continue
            tables = [self._table(place) for place in m.places]
            scenes = [table.scene for table in tables]
            for e in sorted(set().union(*(table.effects for table in tables))):
                effects = [table.effects.get(e, NOTHING) for table in tables]
                if m.of(scenes, effects) != m.expect:
                    differs[e] |= 1 << r
        return differs

    # -- pairs

    def _pairs(
        self, taken: Sequence[Seen], metered: dict[Situation, Turned], found: Diagnosis, differs: list[int], wrong: int
    ) -> bool:
        """Every pair that explains everything; false where the limit ended the search.

        Something seen that is wrong must be hit by the one fault or by the other, or needs both. In a place where two
        faults touch nothing in common, what the two change is what the one or the other changes.
        """
        places = [(place, turned, self._table(place).touched) for place, turned in metered.items()]
        symptoms = [m for m in taken if not isinstance(m, Meter)]
        looks = tried = 0
        pairs: dict[tuple[int, int], float] = {}
        complete = True
        for e, f in self._candidates(taken, differs, wrong):
            looks += 1
            if looks > MOST_LOOKS:
                complete = False
                break
            if self.owner[e] == self.owner[f] or self.out[e] & self.out[f]:
                continue
            key = (e, f) if self.owner[e] < self.owner[f] else (f, e)
            if key in pairs or (differs[e] == wrong and not differs[f]) or (differs[f] == wrong and not differs[e]):
                continue  # nothing that was seen asks for the second
            off = (differs[e] | differs[f]) ^ wrong
            if any(off & turned.mask and touched[e].isdisjoint(touched[f]) for _, turned, touched in places):
                continue
            tried += 1
            if tried > MOST_TRIED:
                complete = False
                break
            both = (self.damages[e], self.damages[f])
            near = [turned for _, turned, touched in places if not touched[e].isdisjoint(touched[f])]
            near.sort(key=lambda turned: not off & turned.mask)
            if all(turned.by(turned.scene.effect(both)) == wrong & turned.mask for turned in near) and all(
                self.outcome(m, both) == m.was for m in symptoms
            ):
                pairs[key] = sum(self.weight[self.faults[self.owner[k]].kind] for k in key)
        for some in sorted(pairs, key=lambda k: (pairs[k], k))[:MOST_PAIRS]:
            self._add(found, some)
        return complete and len(pairs) <= MOST_PAIRS

    def _candidates(self, taken: Sequence[Seen], differs: list[int], wrong: int) -> Iterator[tuple[int, int]]:
        """Pairs that may explain the wrong thing that the fewest can: one of the two hits it, or only both do.

        Where only both do, one of them touches what is probed, and each breaks or makes something as that needs.
        """
        best: tuple[int, list[int], list[int], list[int]] | None = None
        for r in bits(wrong):
            m = taken[r]
            hits = [e for e, mask in enumerate(differs) if mask >> r & 1]
            others = [e for e, mask in enumerate(differs) if not mask >> r & 1]
            near = others
            if isinstance(m, Meter):
                table = self._table(m.places[0])
                others = [e for e in others if (self.damages[e].out if m.expect else self.damages[e].into)]
                probed = {table.scene.label[n] for n in m.reading.probes}
                near = [e for e in others if not table.touched[e].isdisjoint(probed)]
            cost = len(hits) * len(differs) + len(near) * len(others)
            if best is None or cost < best[0]:
                best = cost, hits, near, others
        assert best is not None
        _, hits, near, others = best
        order = sorted(range(len(self.damages)), key=lambda e: (self.weight[self.faults[self.owner[e]].kind], e))
        for some, rest in ((hits, order), (near, others)):
            inside = set(some)
            for e in some:
                for f in rest:
                    if f not in inside or f > e:
                        yield e, f


def contradictory(taken: Sequence[Seen]) -> list[list[int]]:
    """Rows that contradict one another: what beeps together step by step, and is silent from end to end."""
    by_place: dict[Situation, list[Meter]] = {}
    for m in taken:
        if isinstance(m, Meter):
            by_place.setdefault(m.places[0], []).append(m)
    found = []
    for some in by_place.values():
        near: dict[int, list[tuple[int, int]]] = {}
        for m in some:
            if m.beeped:
                x, y = m.reading.probes
                near.setdefault(x, []).append((y, m.row))
                near.setdefault(y, []).append((x, m.row))
        for m in some:
            if not m.beeped and (way := _way(near, *m.reading.probes)) is not None:
                found.append(sorted({*way, m.row}))
    return found


def _way(near: dict[int, list[tuple[int, int]]], start: int, goal: int) -> list[int] | None:
    came: dict[int, tuple[int, int]] = {start: (-1, 0)}
    queue = [start]
    for node in queue:
        for other, row in near.get(node, ()):
            if other not in came:
                came[other] = node, row
                queue.append(other)
    if goal not in came:
        return None
    rows, node = [], goal
    while node != start:
        node, row = came[node]
        rows.append(row)
    return rows
