"""Decision diagrams against plain tables of all states."""

from __future__ import annotations

import itertools
import random

import pytest

from netlister.poles.diagram import ALWAYS, NEVER, Diagrams, LimitError


def table(rng, states, share):
    return {s for s in states if rng.random() < share}


def made(diagrams, states):
    return diagrams.any_of(diagrams.cube(enumerate(state)) for state in states)


def covered(states, cube):
    return {s for s in states if all(s[v] == x for v, x in cube)}


@pytest.fixture(params=range(60))
def family(request):
    """Some variables of two or three values in a random order, and all their states."""
    rng = random.Random(request.param)
    arities = [rng.choice([2, 2, 3]) for _ in range(rng.randint(1, 4))]
    order = list(range(len(arities)))
    rng.shuffle(order)
    return rng, Diagrams(arities, order), list(itertools.product(*map(range, arities)))


def test_combining_agrees_with_sets(family):
    rng, diagrams, states = family
    for _ in range(10):
        a, b = table(rng, states, rng.random()), table(rng, states, rng.random())
        f, g = made(diagrams, a), made(diagrams, b)
        assert made(diagrams, a & b) == diagrams.both(f, g)
        assert made(diagrams, a | b) == diagrams.either(f, g)
        assert made(diagrams, set(states) - a) == diagrams.negate(f)
        assert made(diagrams, a - b) == diagrams.without(f, g)
        assert diagrams.count(f) == len(a)
        assert {s for s in states if diagrams.value(f, s)} == a
        for variable in range(len(states[0])):
            freed = {
                s
                for s in states
                if any(s[:variable] + t[variable : variable + 1] + s[variable + 1 :] in a for t in states)
            }
            assert diagrams.exists(f, variable) == made(diagrams, freed)


def test_covers_are_exact_prime_and_irredundant(family):
    rng, diagrams, states = family
    for _ in range(20):
        broken = table(rng, states, rng.random())
        free = table(rng, states, 0.3) - broken
        upper = broken | free
        cubes = diagrams.cover(made(diagrams, broken), made(diagrams, upper))
        together = set().union(*(covered(states, c) for c in cubes))
        assert broken <= together <= upper
        for i, cube in enumerate(cubes):
            others = set().union(*(covered(states, c) for j, c in enumerate(cubes) if j != i))
            assert not broken <= others, "an entry can be dropped"
            for k in range(len(cube)):
                assert not covered(states, cube[:k] + cube[k + 1 :]) <= upper, "a literal can be dropped"


def test_a_cover_known_from_the_textbook():
    # W. V. Quine, "The problem of simplifying truth functions" (1952): x'y' + y'z ... a cyclic core whose least cover has
    # three primes; an irredundant cover of primes has three or four. From memory.
    diagrams = Diagrams([2, 2, 2])
    cyclic = made(diagrams, [(0, 0, 0), (0, 0, 1), (0, 1, 1), (1, 1, 1), (1, 1, 0), (1, 0, 0)])
    assert len(diagrams.cover(cyclic, cyclic)) in {3, 4}


def test_support_and_pick():
    diagrams = Diagrams([2, 3, 2])
    f = diagrams.both(diagrams.literal(0, (1,)), diagrams.literal(1, (0, 2)))
    assert diagrams.support(f) == {0, 1}
    chosen = diagrams.pick(f)
    assert diagrams.value(f, (chosen[0], chosen[1], 0))
    assert diagrams.pick(ALWAYS) == {}


def test_the_limit_ends_a_task_and_a_new_task_has_steps_again():
    diagrams = Diagrams([2] * 40, limit=100)
    diagrams.begin()
    with pytest.raises(LimitError):
        # pairs far apart in the order: the diagram doubles with each
        diagrams.any_of(diagrams.cube([(i, 1), (i + 20, 1)]) for i in range(20))
    diagrams.begin()
    assert diagrams.both(diagrams.literal(0, (0,)), diagrams.literal(0, (1,))) == NEVER


def test_fixing_a_variable_agrees_with_sets(family):
    rng, diagrams, states = family
    chosen = table(rng, states, 0.5)
    f = made(diagrams, chosen)
    for variable, values in enumerate(zip(*states, strict=True)):
        for value in set(values):
            kept = {s for s in states if (*s[:variable], value, *s[variable + 1 :]) in chosen}
            assert diagrams.fixed(f, variable, value) == made(diagrams, kept)


def test_spare_variables_are_no_positions(family):
    rng, diagrams, states = family
    chosen = table(rng, states, 0.5)
    f = made(diagrams, chosen)
    spares = [diagrams.spare(), diagrams.spare()]
    assert diagrams.count(f) == len(chosen)
    assert f == made(diagrams, chosen)
    one = diagrams.either(
        diagrams.both(f, diagrams.literal(spares[0], (1,))),
        diagrams.both(diagrams.negate(f), diagrams.literal(spares[1], (0,))),
    )
    assert diagrams.fixed(diagrams.fixed(one, spares[0], 1), spares[1], 1) == f
    assert diagrams.fixed(diagrams.fixed(one, spares[0], 0), spares[1], 0) == diagrams.negate(f)
    gone = one
    for spare in spares:
        gone = diagrams.exists(gone, spare)
    assert gone == ALWAYS
    assert diagrams.count(gone) == len(states)
