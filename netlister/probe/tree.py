"""The order of yes-or-no tests in which the true one of several things is found in the fewest steps on average."""

from __future__ import annotations

import heapq
from functools import cache
from math import log2
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_EXACT = 9
"""Things among which every order of the tests is tried; among more, the test that tells most comes first."""
MOST_TESTS = 200
"""Tests that are tried in every order; where there are more that differ, the test that tells most comes first."""

TestTree = int | tuple[int, "TestTree", "TestTree"]
"""The set of things that are left (a mask), or the number of a test and what follows on yes and on no."""


def huffman(weights: Sequence[float]) -> float:
    """The mean number of yes-or-no questions that no order goes below, whatever may be asked.

    Source: D. A. Huffman, A method for the construction of minimum-redundancy codes, Proceedings of the IRE 40 (1952).
    """
    total = sum(weights)
    heap = [w / total for w in weights]
    heapq.heapify(heap)
    mean = 0.0
    while len(heap) > 1:
        both = heapq.heappop(heap) + heapq.heappop(heap)
        mean += both
        heapq.heappush(heap, both)
    return mean


def tree(weights: Sequence[float], tests: Sequence[int]) -> TestTree:
    """Tests in the order of the fewest steps on average: the least over all orders among few things, else near it.

    `tests`: per test a mask of the things that answer yes. Of tests that answer alike the first is taken.
    """
    import numpy as np

    count = len(weights)
    answers = np.array([[test >> k & 1 for k in range(count)] for test in tests], dtype=bool).reshape(-1, count)
    weigh = np.array(weights)

    @cache
    def build(some: int) -> TestTree:
        index = [k for k in range(count) if some >> k & 1]
        if len(index) <= MOST_EXACT:
            found = _exact(tuple(weights), some, _differing(tests, some))
            if found is not None:
                return found
        yes = answers[:, index] @ weigh[index]
        total = float(weigh[index].sum())
        worth = [_entropy(float(y) / total) for y in yes]
        best = max(range(len(tests)), key=lambda t: (round(worth[t], 9), -t), default=-1)
        if best < 0 or worth[best] <= 0 or tests[best] & some in {0, some}:
            return some
        return best, build(some & tests[best]), build(some & ~tests[best])

    return build((1 << count) - 1)


def _differing(tests: Sequence[int], some: int) -> dict[int, int]:
    """The tests that split some things, once for each way of splitting them, by what answers yes."""
    found: dict[int, int] = {}
    for number, test in enumerate(tests):
        part = test & some
        if part not in {0, some} and some & ~part not in found:
            found.setdefault(part, number)
    return found


def _exact(weights: tuple[float, ...], some: int, tests: dict[int, int]) -> TestTree | None:
    """The best of all orders; None where there are too many tests."""
    if len(tests) > MOST_TESTS:
        return None

    @cache
    def best(left: int) -> tuple[float, TestTree]:
        total = sum(w for k, w in enumerate(weights) if left >> k & 1)
        found: tuple[float, TestTree] = (0.0, left)
        if left.bit_count() < 2:  # noqa: PLR2004
            return found
        for part, number in tests.items():
            yes, no = left & part, left & ~part
            if yes and no:
                cost = total + best(yes)[0] + best(no)[0]
                if isinstance(found[1], int) or cost < found[0] - 1e-12:
                    found = cost, (number, best(yes)[1], best(no)[1])
        return found

    return best(some)[1]


def mean_steps(weights: Sequence[float], tree: TestTree) -> float:
    """The mean number of tests until nothing more can be told."""

    def steps(node: TestTree, depth: int) -> float:
        if isinstance(node, int):
            return depth * sum(w for k, w in enumerate(weights) if node >> k & 1)
        return steps(node[1], depth + 1) + steps(node[2], depth + 1)

    return steps(tree, 0) / sum(weights)


def most_steps(tree: TestTree) -> int:
    """The number of tests in the worst case."""
    return 0 if isinstance(tree, int) else 1 + max(most_steps(tree[1]), most_steps(tree[2]))


def _entropy(p: float) -> float:
    return 0.0 if p <= 0 or p >= 1 else -(p * log2(p) + (1 - p) * log2(1 - p))
