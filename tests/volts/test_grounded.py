"""Resistances in networks: published results, and numpy's dense solution."""

import math

import numpy as np
import pytest

from netlister.volts.grounded import Grounded


def resistance(edges, start, end, count):
    """The resistance between two nodes of a network of (a, b, ohm): the one is tied to earth by a known ohm."""
    a, b, ohm = (np.array(c) for c in zip(*edges, strict=True))
    earth = np.zeros(count)
    earth[end] = 1.0
    return Grounded(count, a, b, 1 / ohm, earth).diagonal()[start] - 1.0


def ladder(sections, *, shunt_first):
    edges = []
    node = 1  # 0 is the far rail
    for _ in range(sections):
        if shunt_first:
            edges += [(node, 0, 1.0), (node, node + 1, 1.0)]
        else:
            edges += [(node, node + 1, 1.0), (node + 1, 0, 1.0)]
        node += 1
    return edges, node + 1


def test_cube_of_equal_resistors():
    # university demonstration pages: edge 7/12, face diagonal 3/4, body diagonal 5/6
    edges = [(n, n ^ bit, 1.0) for n in range(8) for bit in (1, 2, 4) if n < n ^ bit]
    found = [resistance(edges, 0, far, 8) for far in (1, 3, 7)]
    assert found == pytest.approx([7 / 12, 3 / 4, 5 / 6], rel=1e-12)


@pytest.mark.parametrize("sections", range(1, 6))
def test_ladder_series_first_is_a_ratio_of_fibonacci_numbers(sections):
    # mathematics pages: 2, 5/3, 13/8, 34/21, 89/55
    expected = {1: 2 / 1, 2: 5 / 3, 3: 13 / 8, 4: 34 / 21, 5: 89 / 55}[sections]
    edges, count = ladder(sections, shunt_first=False)
    assert resistance(edges, 1, 0, count) == pytest.approx(expected, rel=1e-12)


def test_long_ladder_is_the_golden_ratio():
    # mathematics pages (series element first), statistics package help page (shunt element first)
    edges, count = ladder(400, shunt_first=False)
    assert resistance(edges, 1, 0, count) == pytest.approx((1 + math.sqrt(5)) / 2, rel=1e-12)
    edges, count = ladder(400, shunt_first=True)
    assert resistance(edges, 1, 0, count) == pytest.approx((math.sqrt(5) - 1) / 2, rel=1e-12)


def test_balanced_bridges():
    # school pages: 30/15 over 10/5 with any bridge, 11.25 ohm; 6,3 and 8,4 with 10 across, 36/7 ohm
    for bridge in (0.1, 5.0, 1e4):
        edges = [(0, 1, 30.0), (1, 3, 15.0), (0, 2, 10.0), (2, 3, 5.0), (1, 2, bridge)]
        assert resistance(edges, 0, 3, 4) == pytest.approx(11.25, rel=1e-12)
    edges = [(0, 1, 6.0), (1, 3, 3.0), (0, 2, 8.0), (2, 3, 4.0), (1, 2, 10.0)]
    assert resistance(edges, 0, 3, 4) == pytest.approx(36 / 7, rel=1e-12)


def test_complete_graphs_octahedron_and_ring():
    # standard results, from memory: 2/n; octahedron 5/12 and 1/2; ring of six k(6-k)/6
    for n in (4, 5, 9):
        edges = [(i, j, 1.0) for i in range(n) for j in range(i)]
        assert resistance(edges, 0, 1, n) == pytest.approx(2 / n, rel=1e-12)
    opposite = {0: 5, 1: 4, 2: 3}
    edges = [(i, j, 1.0) for i in range(6) for j in range(i) if opposite.get(j) != i]
    assert resistance(edges, 0, 1, 6) == pytest.approx(5 / 12, rel=1e-12)
    assert resistance(edges, 0, 5, 6) == pytest.approx(1 / 2, rel=1e-12)
    edges = [(i, (i + 1) % 6, 1.0) for i in range(6)]
    found = [resistance(edges, 0, k, 6) for k in (1, 2, 3)]
    assert found == pytest.approx([5 / 6, 4 / 3, 3 / 2], rel=1e-12)


def test_square_grid_comes_near_the_infinite_one():
    # journal article 1999 on infinite networks: adjacent 1/2, diagonal 2/pi, knight's move 4/pi - 1/2
    side = 81
    at = {(x, y): x * side + y for x in range(side) for y in range(side)}
    edges = [(at[p], at[q], 1.0) for p in at for q in ((p[0] + 1, p[1]), (p[0], p[1] + 1)) if q in at]
    middle = side // 2
    found = [
        resistance(edges, at[middle, middle], at[middle + x, middle + y], side * side)
        for x, y in ((1, 0), (1, 1), (1, 2))
    ]
    assert found == pytest.approx([1 / 2, 2 / math.pi, 4 / math.pi - 1 / 2], rel=2e-3)


@pytest.mark.parametrize("seed", range(60))
def test_random_networks_against_a_dense_solution(seed):
    # numpy.linalg as reference library
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 200))
    number = int(rng.integers(0, 3 * count))
    a = np.concatenate([rng.integers(0, count, number), np.arange(count - 1)])
    b = np.concatenate([rng.integers(0, count, number), np.arange(1, count)])
    g = 10 ** rng.uniform(-3, 3, len(a))
    earth = np.where(rng.random(count) < 0.3, 10 ** rng.uniform(-2, 3, count), 0)
    earth[0] = 1
    matrix = np.diag(earth.copy())
    for i, j, c in zip(a, b, g, strict=True):
        if i != j:
            matrix[[i, j], [i, j]] += c
            matrix[[i, j], [j, i]] -= c
    inverse = np.linalg.inv(matrix)
    network = Grounded(count, a, b, g, earth)
    assert network.diagonal() == pytest.approx(np.diag(inverse), rel=1e-9)
    assert network.between(a, b) == pytest.approx(inverse[a, b], rel=1e-9)
    assert network.solve(np.eye(count)) == pytest.approx(inverse, rel=1e-9)
