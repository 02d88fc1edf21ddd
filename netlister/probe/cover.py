"""The least number of rows that cover all columns: exact where it can be proved, else with a bound."""

from __future__ import annotations

from typing import NamedTuple

STEPS = 20_000
"""Steps of branch and bound for one part; what goes beyond it is greedy."""
WORK = 1_500_000
"""The same limit in columns of rows looked at: a step takes longer in a large part, so that it is given fewer."""


class Cover(NamedTuple):
    """Rows chosen (in order), and a number that no cover can go below."""

    rows: tuple[int, ...]
    bound: int

    @property
    def least(self) -> bool:
        """Whether no cover has fewer rows."""
        return len(self.rows) == self.bound


def bits(mask: int) -> list[int]:
    """The numbers of the bits of a mask."""
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def cover(rows: list[int], columns: int | None = None, steps: int = STEPS) -> Cover:
    """Choose the fewest rows (masks of columns) that cover all columns that any row has.

    Of rows that are alike the first is taken. `columns`: the mask of what must be covered, all if left out.
    Source of the reductions (essential rows, dominated rows and columns): McCluskey, Minimization of Boolean
    Functions, Bell System Technical Journal 35 (1956); of the bound: a feasible dual of the covering programme.
    """
    wanted = 0
    for row in rows:
        wanted |= row
    if columns is not None:
        wanted &= columns
    chosen, left, alive = _reduced(rows, wanted)
    bound = len(chosen)
    for part in _parts(left, alive):
        found, low = _solve(part, steps)
        chosen += found
        bound += low
    return Cover(tuple(sorted(chosen)), bound)


def _reduced(rows: list[int], wanted: int) -> tuple[list[int], dict[int, int], int]:
    """Rows that must be chosen; the rows and columns that are left when dominated ones are gone."""
    left: dict[int, int] = {}
    seen: set[int] = set()
    for number, row in enumerate(rows):
        mask = row & wanted
        if mask and mask not in seen:
            seen.add(mask)
            left[number] = mask
    chosen: list[int] = []
    while True:
        by_column = _by_column(left)
        order = sorted(by_column, key=lambda c: (by_column[c].bit_count(), c))
        kept: list[int] = []
        kept_at: dict[int, list[int]] = {}
        for c in order:  # a column whose rows include all rows of another is covered with it
            mine = by_column[c]
            smaller = {k for r in bits(mine) for k in kept_at.get(r, ())}
            if any(by_column[k] & mine == by_column[k] for k in smaller):
                continue
            kept.append(c)
            for r in bits(mine):
                kept_at.setdefault(r, []).append(c)
        alive = 0
        for c in kept:
            alive |= 1 << c
        essential = {by_column[c].bit_length() - 1 for c in kept if by_column[c].bit_count() == 1}
        if essential:
            chosen += sorted(essential)
            for r in essential:
                alive &= ~left[r]
        before = (len(left), sum(m.bit_count() for m in left.values()))
        left = _undominated({n: m & alive for n, m in left.items() if m & alive})
        if not essential and before == (len(left), sum(m.bit_count() for m in left.values())):
            return chosen, left, alive


def _by_column(left: dict[int, int]) -> dict[int, int]:
    """Per column the mask of the rows that have it."""
    found: dict[int, int] = {}
    for number, mask in left.items():
        for c in bits(mask):
            found[c] = found.get(c, 0) | 1 << number
    return found


def _undominated(left: dict[int, int]) -> dict[int, int]:
    """The rows without those whose columns another row has all of."""
    order = sorted(left, key=lambda n: (-left[n].bit_count(), n))
    kept: dict[int, int] = {}
    at: dict[int, list[int]] = {}
    for n in order:
        mask = left[n]
        columns = bits(mask)
        rarest = min(columns, key=lambda c: len(at.get(c, ())))
        if any(kept[k] & mask == mask for k in at.get(rarest, ())):
            continue
        kept[n] = mask
        for c in columns:
            at.setdefault(c, []).append(n)
    return {n: kept[n] for n in sorted(kept)}


def _parts(left: dict[int, int], alive: int) -> list[dict[int, int]]:
    """What is left, split into parts that share no column."""
    by_column = _by_column(left)
    parts, seen = [], set()
    for start in bits(alive):
        if start in seen or start not in by_column:
            continue
        seen.add(start)
        rows: set[int] = set()
        stack = [start]
        while stack:
            for n in bits(by_column[stack.pop()]):
                if n not in rows:
                    rows.add(n)
                    for c in bits(left[n]):
                        if c not in seen:
                            seen.add(c)
                            stack.append(c)
        parts.append({n: left[n] for n in sorted(rows)})
    return parts


def _bound(rows: list[int], wanted: int) -> int:
    """No fewer rows than this cover `wanted`: each column weighs one over its largest row (a feasible dual)."""
    largest: dict[int, int] = {}
    for row in rows:
        mask = row & wanted
        size = mask.bit_count()
        for c in bits(mask):
            if size > largest.get(c, 0):
                largest[c] = size
    total = sum(1 / size for size in largest.values())
    return int(total - 1e-9) + 1 if total else 0


def _greedy(part: dict[int, int], wanted: int) -> list[int]:
    """A cover by the row that covers most of what is left, again and again; rows that prove needless are dropped."""
    found = []
    while wanted:
        best = max(part, key=lambda n: ((part[n] & wanted).bit_count(), -n))
        found.append(best)
        wanted &= ~part[best]
    for n in list(found):
        if not _needed(part, found, n):
            found.remove(n)
    return found


def _needed(part: dict[int, int], found: list[int], n: int) -> bool:
    """Whether a row of a cover covers a column that no other row of it covers."""
    others = 0
    for m in found:
        if m != n:
            others |= part[m]
    return bool(part[n] & ~others)


def _solve(part: dict[int, int], steps: int) -> tuple[list[int], int]:
    """A least cover of a part by branch and bound, or the best found, and the bound."""
    wanted = 0
    for mask in part.values():
        wanted |= mask
    best = _greedy(part, wanted)
    low = _bound(list(part.values()), wanted)
    if len(best) == low:
        return best, low
    by_column = _by_column(part)
    left = [min(steps, WORK // sum(mask.bit_count() for mask in part.values()))]

    def search(wanted: int, taken: list[int]) -> None:
        nonlocal best
        left[0] -= 1
        if left[0] < 0:
            return
        if not wanted:
            if len(taken) < len(best):
                best = taken
            return
        rows = [m for m in part.values() if m & wanted]
        if len(taken) + _bound(rows, wanted) >= len(best):
            return
        column = min(bits(wanted), key=lambda c: by_column[c].bit_count())
        for n in sorted(bits(by_column[column]), key=lambda n: (-(part[n] & wanted).bit_count(), n)):
            search(wanted & ~part[n], [*taken, n])

    search(wanted, [])
    return best, len(best) if left[0] >= 0 else low
