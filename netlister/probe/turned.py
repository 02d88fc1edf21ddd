"""Which of the readings taken in one place come out otherwise with a fault."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from netlister.probe.cover import bits

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.probe.scene import Effect, Scene


class Turned:
    """Readings between points of one scene, each with its number; `mask` holds a bit for each."""

    def __init__(self, scene: Scene, readings: Iterable[tuple[int, tuple[int, int]]]) -> None:
        self.scene = scene
        self.probes = dict(readings)
        self.mask = sum(1 << r for r in self.probes)
        self._at: dict[int, int] = {}
        self._between: dict[tuple[int, int], int] = {}
        for r, (x, y) in self.probes.items():
            for node in (x, y):
                self._at[node] = self._at.get(node, 0) | 1 << r
            a, b = sorted((scene.label[x], scene.label[y]))
            self._between[a, b] = self._between.get((a, b), 0) | 1 << r

    def by(self, effect: Effect) -> int:
        """The readings that an effect turns, as a mask: only at what it parts, or between what it joins."""
        parted, at = effect.parted, self._at
        some = 0
        for node in parted if len(parted) < len(at) else at:
            if node in at and node in parted:
                some |= at[node]
        for a, b in combinations(sorted(effect.joined), 2):
            some |= self._between.get((a, b), 0)
        return sum(1 << r for r in bits(some) if self.scene.sees(*self.probes[r], effect))
