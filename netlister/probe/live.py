"""A circuit with a fault and the supply on: which poles each rail has, and what a train does on it."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

from netlister.union import find, join

if TYPE_CHECKING:
    from netlister.probe.detail import Detail
    from netlister.probe.running import Footing, TrainRun
    from netlister.probe.scene import Effect, Scene

MOST_REVERSERS = 6
"""Automatic reversers under one train that are tried in every position."""


class Live:
    """A circuit with a fault and the supply on, in one state: which poles each node has."""

    def __init__(self, made: Detail, scene: Scene, effect: Effect) -> None:
        self.made, self.scene, self.effect = made, scene, effect
        self.at: dict[int, list[int]] = {}
        for pole in range(len(made.circuit.poles)):
            self.at.setdefault(self.label(pole), []).append(pole)
        self.units = {self.label(d.node) for d in made.circuit.devices if d.node >= 0}

    def label(self, node: int) -> int:
        """The number of what a node is joined with."""
        return self.effect.label(self.effect.parted.get(node, self.scene.label[node]))

    def poles(self, node: int) -> list[int]:
        """The poles that a node has."""
        return self.at.get(self.label(node), [])

    def trips(self) -> bool:
        """Whether two poles are joined."""
        return any(len(some) > 1 for some in self.at.values())

    def shorted(self, node: int) -> bool:
        """Whether a node has two poles."""
        return len(self.poles(node)) > 1

    def drives(self, left: int, right: int) -> bool:
        """Whether a train runs with its wheels on two rails; what an automatic unit feeds fits what is opposite."""
        p, q = self.poles(left), self.poles(right)
        if (not p and self.label(left) in self.units) or (not q and self.label(right) in self.units):
            return bool(p or q)
        poles = self.made.circuit.poles
        return len(p) == len(q) == 1 and p != q and bool(poles[p[0]].supplies & poles[q[0]].supplies)

    def clashes(self, a: int, b: int) -> bool:
        """Whether a wheel over a gap between two rails joins two poles, neither of them that of a device."""
        p, q = self.poles(a), self.poles(b)
        poles = self.made.circuit.poles
        return len(p) == len(q) == 1 and p != q and not poles[p[0]].device and not poles[q[0]].device

    # -- a train

    def feeds(self, footing: Footing) -> bool:
        """Whether a train has current there. Where there is a short it is told as one."""
        if any(self.shorted(n) for n in (*footing.left, *footing.right)):
            return True
        return any(self.drives(a, b) for a in footing.left for b in footing.right)

    def jolts(self, footing: Footing) -> bool:
        """Whether what the wheels join are different poles, however automatic reversers choose."""
        several = [{p for n in nodes for p in self.poles(n)} for nodes in self.met(footing)]
        poles = set().union(*several)
        choosers = [d for d in self.made.circuit.devices if poles & set(d.outputs)][:MOST_REVERSERS]
        for crossed in product((False, True), repeat=len(choosers)):
            means = {p: p for p in poles}
            for d, turned in zip(choosers, crossed, strict=True):
                means.update(zip(d.outputs, d.inputs[::-1] if turned else d.inputs, strict=True))
            if all(len({means[p] for p in some}) == 1 for some in several):
                return False
        return True

    def met(self, footing: Footing) -> list[list[int]]:
        """What the wheels join of different poles: for each lot a node for each pole."""
        head: dict[int, int] = {}
        node: dict[int, int] = {}
        for group in footing.joined:
            labels = [self.label(n) for n in group]
            node.update(zip(labels, group, strict=True))
            for label in labels:
                join(head, head.setdefault(labels[0], labels[0]), head.setdefault(label, label))
        found: dict[int, list[int]] = {}
        for label in sorted(head):
            if label in self.at:
                found.setdefault(find(head, label), []).append(node[label])
        return [some for some in found.values() if len(some) > 1]

    def stop(self, run: TrainRun, good: Live) -> int:
        """How far in nm a train runs without current, over places some of which give it some as drawn; -1: nowhere."""
        longest, here, new = -1, 0, False
        for footing in run.footings:
            if not footing.length:
                continue
            if self.feeds(footing):
                here, new = 0, False
            else:
                here += footing.length
                new |= good.feeds(footing)
                longest = max(longest, here) if new else longest
        return longest
