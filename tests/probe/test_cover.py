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


def test_stuck_faults_of_a_nand_gate() -> None:
    """The least set of tests of a gate with two inputs a, b and output c = not (a and b).

    Three tests, 01, 10 and 11, detect all six single stuck-at faults (M. Abramovici, M. A. Breuer, A. D. Friedman,
    Digital Systems Testing and Testable Design, on tests of elementary gates).
    """
    faults = [(line, value) for line in "abc" for value in (0, 1)]

    def gate(a: int, b: int, fault: tuple[str, int] | None) -> int:
        line, value = fault or ("", 0)
        a, b = (value if line == name else x for name, x in (("a", a), ("b", b)))
        return value if line == "c" else 1 - a * b

    inputs = [(0, 0), (0, 1), (1, 0), (1, 1)]
    rows = [sum(1 << k for k, f in enumerate(faults) if gate(*x, f) != gate(*x, None)) for x in inputs]
    found = cover(rows)
    assert found.least
    assert [inputs[r] for r in found.rows] == [(0, 1), (1, 0), (1, 1)]


def test_hitting_sets_of_a_textbook() -> None:
    """The sets that R. Reiter hits in A theory of diagnosis from first principles (Artificial Intelligence 32, 1987).

    Of its hitting sets {1, 2} is the only one of two (found here by trying all).
    """
    sets = [{2, 4, 5}, {1, 2, 3}, {1, 3, 5}, {2, 4, 6}, {2, 4}, {2, 3, 5}, {1, 6}]
    hits = [some for some in combinations(range(1, 7), 2) if all(set(some) & one for one in sets)]
    assert hits == [(1, 2)]
    found = cover([sum(1 << k for k, one in enumerate(sets) if x in one) for x in range(1, 7)])
    assert (found.rows, found.least) == ((0, 1), True)


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


def test_a_row_that_later_ones_make_idle() -> None:
    """A row that the greedy choice takes early is needless once later ones are taken; none of these may go with it.

    No single row has all four columns, and {0, 3} with {1, 2} has: two are the fewest.
    """
    rows = [{2}, {0}, {0, 2}, {0, 3}, {2, 3}, {1, 2}, {0, 1}]
    found = cover([sum(1 << column for column in row) for row in rows])
    assert set().union(*(rows[r] for r in found.rows)) == {0, 1, 2, 3}
    assert (len(found.rows), found.least) == (2, True)
