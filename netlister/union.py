"""Which nodes are one: sets that grow together. `head` maps each node to another of its set, or to itself."""

from __future__ import annotations


def find(head: list[int], n: int) -> int:
    """The node that stands for the set of a node: the least of it."""
    while head[n] != n:
        head[n] = head[head[n]]
        n = head[n]
    return n


def join(head: list[int], a: int, b: int) -> None:
    """Make the sets of two nodes one."""
    a, b = find(head, a), find(head, b)
    if a != b:
        head[max(a, b)] = min(a, b)
