"""The rules of moving blades and trains find what plain enumeration finds, and nothing else, in random layouts.

Longer runs: `NETLISTER_LONG=1` with pytest, or `python -m tests.properties.moving NUMBER SEED`.
"""

from __future__ import annotations

import itertools
from random import Random

import pytest

from tests.amount import LONG, seeds
from tests.properties.layouts import dump
from tests.properties.moving import RULES, Throws, differences, enumerated, moving_layout, poles_of
from tests.properties.reference import Layout, State, load

AWKWARD = (70156,)  # a plug whose poles meet inside a region, so that no rail that is always fed shows it
SEEDS = 1500 if LONG else 60


@pytest.mark.parametrize("seed", [*range(SEEDS), *AWKWARD])
def test_layout_from_a_seed(seed: int) -> None:
    data = moving_layout(seed)
    assert differences(data) == [], dump(data)


def test_layouts_are_varied() -> None:
    """Every rule is broken in many layouts, and in some states of them only."""
    partly = dict.fromkeys(RULES, 0)
    for seed in seeds(100, 400):
        layout = Layout(moving_layout(seed))
        for (rule, _), states in enumerated(layout).items():
            partly[rule] += len(states) < len(layout.states)
    assert all(count >= 2 for count in partly.values()), partly


def test_being_in_between_never_joins_more() -> None:
    """What the pairings of old and new positions do not join, no pairing with something open joins."""
    seen = 0
    for seed in range(40):
        layout = Layout(moving_layout(seed))
        throws = Throws(layout)
        for variable, movers in throws.movers.items():
            if not 2 <= len(movers) <= 4:
                continue
            old, new = neighbours(layout, variable)
            if old is None or new is None:
                continue
            fixed = [one for one in throws.fixed[variable] if layout.conducts(one, old)]
            ways = [throws.holding(mover, some, old, new) for mover, some in movers.items()]
            full = [[way for way in some if way] or [[]] for some in ways]
            assert joined(layout, fixed, full) >= joined(layout, fixed, ways)
            seen += 1
    assert seen >= 10


def neighbours(layout: Layout, variable: str) -> tuple[State | None, State | None]:
    """Two states between which a variable alone moves."""
    for old, new in itertools.combinations(layout.states, 2):
        if {name for name, _ in old - new} == {variable}:
            return old, new
    return None, None


def joined(layout: Layout, fixed: list, ways: list) -> set[tuple[str, tuple[str, str]]]:
    """Terminals and the pairs of poles that some pairing gives them."""
    found = set()
    for choice in itertools.product(*ways):
        poles = poles_of(layout, [*fixed, *itertools.chain.from_iterable(choice)])
        found |= {(node, pair) for node, some in poles.items() for pair in itertools.combinations(sorted(some), 2)}
    return found


def test_poles_are_those_of_the_reference() -> None:
    """The poles worked out here, net by net, are those of the pictures that the other rules are checked with."""
    for seed in range(30):
        layout = Layout(moving_layout(seed))
        state = Random(seed).choice(layout.states)
        mine = poles_of(layout, [one for one in layout.conductors if layout.conducts(one, state)])
        theirs = layout.pictures[state].poles
        assert {node: frozenset(some) for node, some in mine.items() if node in theirs} == dict(theirs)


# Small enough to work out by hand: a live frog with a contact. In step it has one pole; one ahead of the other, both.
BY_HAND = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  T1: {kind: live-frog, hand: left}
  T2: {kind: live-frog-bonded, hand: left}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}}}
feeds: [{to: T1}, {to: T2}]
"""


def test_enumeration_by_hand() -> None:
    layout = Layout(load(BY_HAND))
    found = enumerated(layout)
    assert found["throw-short", "M1"] == set(layout.states)
    assert found["wheel-back", "T1"] == set(layout.states)
    assert ("throw-short", "T2") not in found
    assert len(layout.states) == 4
    assert set(found) == {("throw-short", "M1"), ("wheel-back", "T1")}
