"""Which things are one: sets that grow together. `head` maps each thing to another of its set, or to itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterable


class Ordered(Protocol):
    """Numbers, names."""

    def __lt__(self, other: Any, /) -> bool: ...


T = TypeVar("T", bound=Ordered)


class Heads(Protocol[T]):
    """A list by number, or a dictionary."""

    def __getitem__(self, key: T, /) -> T: ...
    def __setitem__(self, key: T, value: T, /) -> None: ...


def find(head: Heads[T], n: T) -> T:
    """The representative of the set of a thing: the least of it, where sets are made one by `join` alone."""
    while head[n] != n:
        head[n] = head[head[n]]
        n = head[n]
    return n


def join(head: Heads[T], a: T, b: T) -> None:
    """Make the sets of two things one."""
    a, b = find(head, a), find(head, b)
    if a < b:
        head[b] = a
    elif b < a:
        head[a] = b


def set_heads(count: int, pairs: Iterable[tuple[int, int]]) -> list[int]:
    """Per number below `count` the least of its set, where each pair is of one set."""
    head = list(range(count))
    for a, b in pairs:
        join(head, a, b)
    return [find(head, n) for n in range(count)]
