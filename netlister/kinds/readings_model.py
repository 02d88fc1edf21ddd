"""Readings of a meter on one piece of track, and what follows from them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from netlister.kinds.model import CHANGING, role_of

DEAD = "dead"

Pair = tuple[str, str]


class ReadEnd(NamedTuple):
    """An end and the rails on its left and right, seen forward along the piece."""

    name: str
    entering: bool
    left: str
    right: str


class ReadRoute(NamedTuple):
    """A way through the piece: its ends, the position that sets it ("": always), the rails under the wheels."""

    name: str
    ends: Pair
    position: str
    left: tuple[str, ...]
    right: tuple[str, ...]
    length: str = ""  # as written; "" where it was not measured


@dataclass(frozen=True, slots=True)
class Readings:
    """Readings that do not contradict themselves.

    `positions` is empty for a piece without blades. `groups`: per position (of a piece without blades: "") the rails
    that beep to each other, each rail in one group. `unknown`: per position pairs of rails of which nothing is known;
    they are taken not to beep. `hand`: that of a two-way turnout, for the drawing; "" where it was not told.
    """

    kind: str
    title: str
    summary: str
    ends: tuple[ReadEnd, ...]
    rails: tuple[str, ...]
    positions: tuple[str, ...]
    groups: dict[str, tuple[tuple[str, ...], ...]]
    unknown: dict[str, tuple[Pair, ...]]
    routes: tuple[ReadRoute, ...]
    hand: str = ""


def bonds(readings: Readings) -> list[Pair]:
    """Pairs of rails that always beep: as many as it takes."""
    return [pair for block in _blocks(readings) for pair in pairwise(block)]


def contacts(readings: Readings) -> list[tuple[str, Pair]]:
    """Position and pair of rails that beep in it and not always: as many as it takes."""
    first = {rail: block[0] for block in _blocks(readings) for rail in block}
    found = []
    for position in readings.positions:
        for group in readings.groups[position]:
            heads = list(dict.fromkeys(first[rail] for rail in group))
            found += [(position, pair) for pair in pairwise(heads)]
    return found


def _blocks(readings: Readings) -> list[tuple[str, ...]]:
    """The rails that beep to each other in every position."""
    number: dict[str, list[int]] = {rail: [] for rail in readings.rails}
    for groups in readings.groups.values():
        for n, group in enumerate(groups):
            for rail in group:
                number[rail].append(n)
    blocks: dict[tuple[int, ...], list[str]] = {}
    for rail, numbers in number.items():
        blocks.setdefault(tuple(numbers), []).append(rail)
    return [tuple(block) for block in blocks.values()]


def reading_remarks(readings: Readings) -> list[str]:
    """What the reader should know of the kind: pairs not measured, shorts on a route, rails under no wheel, names."""
    found = []
    for position, pairs in readings.unknown.items():
        if pairs:
            said = ", ".join(f"{a} and {b}" for a, b in pairs)
            where = f" in the position '{position}'" if position else ""
            found.append(f"not measured{where}, so taken not to beep: {said}")
    for route in readings.routes:
        groups = readings.groups[route.position]
        number = {rail: n for n, group in enumerate(groups) for rail in group}
        shorts = [(a, b) for a in route.left for b in route.right if DEAD not in (a, b) and number[a] == number[b]]
        if shorts:
            a, b = shorts[0]
            found.append(f"on the route '{route.name}' the rails under the two wheels beep to each other: {a} and {b}")
    under = {rail for route in readings.routes for rail in (*route.left, *route.right)}
    blocks = _blocks(readings)
    found += [
        f"'{block[0]}' lies under no wheel; name it in 'left' or 'right' of a route where wheels run on it"
        for block in blocks
        if under.isdisjoint(block)
    ]
    changing = {rail for _, pair in contacts(readings) for rail in pair}
    for block in blocks:
        ends = [r for r in block if any(r in (end.left, end.right) for end in readings.ends if not end.entering)]
        fixed = any(rail in (end.left, end.right) for end in readings.ends if end.entering for rail in block)
        odd = [rail for rail in ends if role_of(rail) not in CHANGING]
        if changing & set(block) and odd and not fixed:
            found.append(
                f"'{odd[0]}' changes with the blades; called 'frog…' or 'closure-…' it is what 'vee' insulates"
            )
    return found
