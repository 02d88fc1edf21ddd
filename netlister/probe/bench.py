"""All faults of a layout beside the scenes of a sheet: what each changes there, and which pairs of points tell it."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

from netlister.probe.local import FaultEffects
from netlister.probe.scene import NOTHING, Acts, Effect, Scene

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from netlister.circuit.model import State
    from netlister.probe.detail import Detail
    from netlister.probe.faults import Damage, Fault

FEW = 70
"""Up to so many kinds of points in one island every pair of them is weighed; beyond that, those farthest out."""


class Concerned(NamedTuple):
    """Per node the damages that part it from the rest, per label the damages that join it to another."""

    label: list[int]
    parted: dict[int, list[int]]
    joined: dict[int, set[int]]

    def by(self, x: int, y: int) -> set[int]:
        """The damages that the reading between two points may tell; no other does."""
        found = {*self.parted.get(x, ()), *self.parted.get(y, ())}
        a, b = self.label[x], self.label[y]
        if a != b and a in self.joined and b in self.joined:
            found |= self.joined[a] & self.joined[b]
        return found


class Bench:
    """All faults of a layout and what they change in the scenes of a sheet."""

    def __init__(self, made: Detail, faults: list[Fault]) -> None:
        self.made, self.faults = made, faults
        self.damages: list[Damage] = [damage for fault in faults for damage in fault.damages]
        first = 0
        self.of: list[range] = []
        for fault in faults:
            self.of.append(range(first, first + len(fault.damages)))
            first += len(fault.damages)
        self.scenes: list[Scene] = []
        self.effects: list[dict[int, Effect]] = []
        self.by_label: list[dict[int, list[int]]] = []
        self._concerned: dict[int, Concerned] = {}
        self._ending: dict[int, dict[int, list[int]]] = {}
        self.points = made.points
        self.whole = True
        self.local = FaultEffects(made)
        self.full: list[bool] = []
        self.ends: list[tuple[int, ...]] = [
            tuple({end for c in (*(made.conductors[n] for n in damage.out), *damage.into) for end in (c.a, c.b)})
            for damage in self.damages
        ]

    def add(self, acts: tuple[str, ...], state: State, damages: Iterable[int] | None = None) -> int:
        """Look at a scene; `damages`: only these are worked out."""
        scene = Scene(self.made, Acts(self.made, acts), state)
        found: dict[int, Effect] = {}
        for e in range(len(self.damages)) if damages is None else damages:
            effect = scene.effect((self.damages[e],))
            if effect is not NOTHING:
                found[e] = effect
        self.full.append(damages is None)
        self.scenes.append(scene)
        self.effects.append(found)
        by_label: dict[int, list[int]] = {}
        for n in self.points:
            by_label.setdefault(scene.label[n], []).append(n)
        self.by_label.append(by_label)
        return len(self.scenes) - 1

    def concerned(self, s: int) -> Concerned:
        """Which damages a reading of a scene can tell at all; made once per scene."""
        if s not in self._concerned:
            parted: dict[int, list[int]] = {}
            joined: dict[int, set[int]] = {}
            for e, effect in self.effects[s].items():
                for node in effect.parted:
                    parted.setdefault(node, []).append(e)
                for label in effect.joined:
                    joined.setdefault(label, set()).add(e)
            self._concerned[s] = Concerned(self.scenes[s].label, parted, joined)
        return self._concerned[s]

    def ending(self, s: int, x: int, y: int) -> set[int]:
        """The damages of a conductor with an end in what beeps with one of two points."""
        if s not in self._ending:
            found: dict[int, list[int]] = {}
            label = self.scenes[s].label
            for e, ends in enumerate(self.ends):
                for one in {label[n] for n in ends}:
                    found.setdefault(one, []).append(e)
            self._ending = {s: found}  # readings come scene by scene
        index, label = self._ending[s], self.scenes[s].label
        return {*index.get(label[x], ()), *index.get(label[y], ())}

    def blocks(self, s: int, effect: Effect) -> list[list[tuple[str, frozenset[int]]]]:
        """What beeps together with an effect, among the points that it concerns, as groups of named sets of points."""
        scene, by_label = self.scenes[s], self.by_label[s]
        groups: dict[int, list[int]] = {}
        origin: dict[int, int] = {}
        wanted = self.points_set
        for node, new in effect.parted.items():
            origin[new] = scene.label[node]
            if node in wanted:
                groups.setdefault(new, []).append(node)
        concerned = set(origin.values()) | {x for x in effect.joined if x < scene.count}
        atoms: dict[int, tuple[str, frozenset[int]]] = {}
        for new, nodes in groups.items():
            atoms[new] = ("part", frozenset(nodes))
        for label in sorted(concerned):
            everything = by_label.get(label, [])
            away = [new for new in groups if origin[new] == label]
            gone = {n for new in away for n in groups[new]}
            if len(gone) == len(everything):
                continue
            first = everything[0]
            atoms[label] = ("rest", frozenset((label,)))
            if first in gone:  # the part with the first point is called the rest, whichever side is smaller
                holder = next(new for new in away if first in groups[new])
                atoms[label] = ("part", frozenset(everything) - gone)
                atoms[holder] = ("rest", frozenset((label,)))
        found: dict[int, list[tuple[str, frozenset[int]]]] = {}
        for label, atom in atoms.items():
            found.setdefault(effect.label(label), []).append(atom)
        return list(found.values())

    @property
    def points_set(self) -> frozenset[int]:
        """The points as a set."""
        return self._points_set

    def freeze(self) -> None:
        """Keep the points as a set."""
        self._points_set = frozenset(self.points)

    def signature(self, s: int, effect: Effect) -> frozenset[frozenset[tuple[str, frozenset[int]]]] | None:
        """What a person with a probe can tell of an effect, or None for nothing."""
        groups = self.blocks(s, effect)
        labels = [{self._label(s, atom) for atom in group} for group in groups]
        changed = any(len(one) > 1 for one in labels)
        flat = [label for one in labels for label in one]
        changed |= len(flat) != len(set(flat))
        if not changed:
            return None
        return frozenset(frozenset(group) for group in groups)

    def _label(self, s: int, atom: tuple[str, frozenset[int]]) -> int:
        what, members = atom
        one = next(iter(members))
        return one if what == "rest" else self.scenes[s].label[one]

    # -- rows

    def rows(self, s: int) -> Iterator[tuple[int, int, int]]:
        """Pairs of points of a scene worth measuring: the damages that they see as a mask, and the two points."""
        scene, effects = self.scenes[s], self.effects[s]
        wanted = self.points_set
        signs: dict[int, list[tuple[int, int]]] = {}
        tangled: set[int] = set()
        for e, effect in effects.items():
            for node, new in effect.parted.items():
                if node in wanted:
                    signs.setdefault(node, []).append((e, new))
            if effect.joined or len(set(effect.parted.values())) > 1:
                tangled.add(e)
        classes: dict[int, dict[tuple[tuple[int, int], ...], int]] = {}
        for node in self.points:
            classes.setdefault(scene.label[node], {}).setdefault(tuple(signs.get(node, ())), node)
        masks = {
            node: sum(1 << e for e, _ in sign if e not in tangled)
            for by in classes.values()
            for sign, node in by.items()
        }
        concerned = self.concerned(s)

        def mask(x: int, y: int) -> int:
            same = scene.label[x] == scene.label[y]
            found = masks[x] ^ masks[y] if same else 0
            for e in concerned.by(x, y) & tangled:
                if scene.sees(x, y, effects[e]):
                    found |= 1 << e
            return found

        for by in classes.values():
            for x, y in self._pairs(by, masks):
                found = mask(x, y)
                if found:
                    yield found, x, y
        yield from self._silences(s, classes, mask)

    def _pairs(self, by: dict[tuple[tuple[int, int], ...], int], masks: dict[int, int]) -> Iterator[tuple[int, int]]:
        nodes = list(by.values())
        if len(nodes) <= FEW:
            yield from combinations(nodes, 2)
            return
        self.whole = False
        ends = [
            n
            for n in nodes
            if not any(m != n and masks[m] & masks[n] == masks[n] and masks[m] != masks[n] for m in nodes)
        ]
        half = len(ends) // 2
        plain = nodes[0]
        for k, x in enumerate(ends):
            yield plain, x
            yield x, ends[(k + half) % len(ends)]
            yield x, ends[(k + 1) % len(ends)]
        for x in nodes:
            yield plain, x

    def _silences(
        self, s: int, classes: dict[int, dict[tuple[tuple[int, int], ...], int]], mask: Callable[[int, int], int]
    ) -> Iterator[tuple[int, int, int]]:
        scene = self.scenes[s]
        total = sum(map(len, classes.values()))
        seen: set[tuple[int, int]] = set()
        if total <= FEW:
            nodes = [(label, n) for label, by in classes.items() for n in by.values()]
            for (label, x), (other, y) in combinations(nodes, 2):
                if label != other and (found := mask(x, y)):
                    yield found, x, y
            return
        for effect in self.effects[s].values():
            if not effect.joined:
                continue
            groups: dict[int, list[int]] = {}
            origin = {new: scene.label[node] for node, new in effect.parted.items()}
            for label in {*effect.joined, *effect.joined.values()}:
                groups.setdefault(effect.label(label), []).append(label)
            for labels in groups.values():
                for a, b in combinations(sorted(labels), 2):
                    la, lb = origin.get(a, a), origin.get(b, b)
                    if la == lb or (la, lb) in seen or la not in classes or lb not in classes:
                        continue
                    seen.add((la, lb))
                    xs, ys = list(classes[la].values()), list(classes[lb].values())
                    if len(xs) * len(ys) > FEW:
                        self.whole = False
                        xs, ys = self._some(xs, effect, a), self._some(ys, effect, b)
                    for x in xs:
                        for y in ys:
                            if found := mask(x, y):
                                yield found, x, y

    @staticmethod
    def _some(nodes: list[int], effect: Effect, label: int) -> list[int]:
        inside = [n for n in nodes if effect.parted.get(n) == label]
        return [*nodes[:2], *inside[:2]]
