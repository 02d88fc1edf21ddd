"""Covers: a table from a textbook, and plain enumeration."""

from __future__ import annotations

from itertools import combinations
from random import Random

import pytest

from netlister.probe.cover import cover


def test_prime_implicant_table() -> None:
    """The least cover of a prime implicant table.

    f = sum of minterms (4, 8, 10, 11, 12, 15) with don't-cares 9, 14: the worked example of the Quine-McCluskey method
    (E. J. McCluskey, Minimization of Boolean Functions, Bell System Technical Journal 35, 1956, gives the method; the
    example is that of common teaching notes, from memory). Primes: 4-12, 8-9-10-11, 8-10-12-14, 10-11-14-15. Three
    are needed: 4-12 and 10-11-14-15 are essential.
    """
    minterms = [4, 8, 10, 11, 12, 15]
    primes = [{4, 12}, {8, 9, 10, 11}, {8, 10, 12, 14}, {10, 11, 14, 15}]
    found = cover([sum(1 << minterms.index(m) for m in p if m in minterms) for p in primes])
    assert found.least
    assert len(found.rows) == 3
    assert {0, 3} <= set(found.rows)


def test_cyclic_table() -> None:
    """A table without an essential row: six primes in a circle over six minterms, three are enough (same method)."""
    found = cover([1 << k | 1 << (k + 1) % 6 for k in range(6)])
    assert (len(found.rows), found.bound) == (3, 3)


@pytest.mark.parametrize("seed", range(200))
def test_no_longer_than_exact(seed: int) -> None:
    """Against every choice of rows, from few to many."""
    rng = Random(seed)
    rows = [rng.randrange(1, 1 << 9) & rng.randrange(1 << 9) or 1 for _ in range(rng.randrange(1, 11))]
    wanted = 0
    for row in rows:
        wanted |= row

    def covers(some: tuple[int, ...]) -> bool:
        found = 0
        for row in some:
            found |= row
        return found == wanted

    least = next(n for n in range(len(rows) + 1) if any(covers(some) for some in combinations(rows, n)))
    found = cover(rows)
    assert covers(tuple(rows[r] for r in found.rows))
    assert (len(found.rows), found.least) == (least, True)
