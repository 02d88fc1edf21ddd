"""Which rails beep to each other, worked out from pairs that a meter was held to."""

from __future__ import annotations

from collections import deque
from itertools import combinations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.kinds.readings_model import Pair


def chain(a: str, b: str, pairs: Iterable[frozenset[str]]) -> list[str]:
    """The shortest chain of beeping pairs from one rail to another, or nothing."""
    beside: dict[str, list[str]] = {}
    for pair in pairs:
        x, y = sorted(pair)
        beside.setdefault(x, []).append(y)
        beside.setdefault(y, []).append(x)
    came = {a: a}
    queue = deque([a])
    while queue:
        here = queue.popleft()
        for other in sorted(beside.get(here, ())):
            if other not in came:
                came[other] = here
                queue.append(other)
    if b not in came:
        return []
    chain = [b]
    while chain[-1] != a:
        chain.append(came[chain[-1]])
    return chain[::-1]


def groups_of(rails: Iterable[str], pairs: Iterable[frozenset[str]]) -> tuple[tuple[str, ...], ...]:
    """The rails that beep to each other, each group and all groups in the order of the rails."""
    leader = {rail: rail for rail in rails}
    for pair in pairs:
        a, b = (leader[rail] for rail in sorted(pair))
        leader = {rail: a if of == b else of for rail, of in leader.items()}
    groups: dict[str, list[str]] = {}
    for rail, of in leader.items():
        groups.setdefault(of, []).append(rail)
    return tuple(tuple(group) for group in groups.values())


def unknown_pairs(groups: tuple[tuple[str, ...], ...], apart: Iterable[frozenset[str]]) -> Iterator[Pair]:
    """Pairs of groups of which no pair was measured not to beep, by the first rails of the groups."""
    number = {rail: n for n, group in enumerate(groups) for rail in group}
    known = {frozenset(number[rail] for rail in pair) for pair in apart}
    for (i, one), (k, two) in combinations(enumerate(groups), 2):
        if frozenset((i, k)) not in known:
            yield one[0], two[0]
