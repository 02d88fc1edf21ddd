"""The tool finds what plain enumeration of every state finds, and nothing else, in random layouts.

Longer runs: `NETLISTER_LONG=1` with pytest, or `python -m tests.properties.long NUMBER SEED`.
"""

from __future__ import annotations

import os
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings

from netlister.kinds.find import files
from tests.properties.compare import differences
from tests.properties.layouts import dump, layouts, random_layout
from tests.properties.reference import Data, Layout, State, all_states, load, reference, states

LONG = bool(os.environ.get("NETLISTER_LONG"))
EXAMPLES = 5000 if LONG else 200


@settings(
    max_examples=EXAMPLES,
    deadline=None,
    database=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(layouts())
def test_tool_finds_what_enumeration_finds(data: Data) -> None:
    """Same states for every rule and subject, and covers from which nothing can be dropped."""
    assert differences(data) == [], dump(data)


@pytest.mark.parametrize("seed", range(40))
def test_layout_from_a_seed(seed: int) -> None:
    """The same for layouts that are the same in every run."""
    data = random_layout(Random(seed))
    assert differences(data) == [], dump(data)


def test_layouts_are_varied() -> None:
    """The random layouts are small, some have nothing wrong, and every rule is broken in some."""
    made = [random_layout(Random(seed)) for seed in range(300)]
    broken = [reference(data) for data in made]
    # hand-reversing is rare here: test_additions makes layouts for it
    assert {rule for one in broken for rule, _ in one} - {"hand-reversing"} == {
        "pole-short",
        "floating-net",
        "dead-track",
        "gap-clash",
        "expectation",
        "districts-crossed",
    }
    assert sum(not one for one in broken) >= 20
    assert max(len(all_states(data)) for data in made) > 20
    assert all(len(all_states(data)) <= 200 and states(data) for data in made)
    kinds = {piece.get("kind", "rail-section") for data in made for piece in data["track"].values()}
    assert kinds == set(files())


def test_writing_loses_nothing() -> None:
    """A layout written and read again is the same, odd names and all."""
    for seed in range(60):
        data = random_layout(Random(seed))
        assert load(dump(data)) == data


# A layout small enough to work out by hand: one live frog, fed at the toe, and the same rails fed again beyond it.
BY_HAND = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {}
  left: {}
  T1: {kind: live-frog, hand: left}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.diverging, to: left}
feeds:
  - {to: [line, left]}
"""


def test_enumeration_by_hand() -> None:
    """Set to the left leg the frog has pole B of the right-hand rail; set the other way it meets pole A: joined."""
    through: State = frozenset({("T1", "through")})
    assert reference(load(BY_HAND)) == {("pole-short", "main.A/main.B"): {through}}


def test_enumeration_of_a_gap_by_hand() -> None:
    """With the frog's joint insulated nothing is joined any more."""
    text = BY_HAND.replace("T1.diverging, to: left", "T1.diverging, to: left, insulate: vee")
    assert reference(load(text)) == {}


def test_enumeration_of_dead_track_by_hand() -> None:
    """Without the second feed the left leg has pole A on both rails while it is not set: that is dead track."""
    text = BY_HAND.replace("to: [line, left]", "to: line")
    assert reference(load(text)) == {("dead-track", "left"): {frozenset({("T1", "through")})}}


def test_enumeration_of_never_by_hand() -> None:
    """A state that an interlocking rules out is none."""
    text = BY_HAND + "never: [{T1: through}]\n"
    assert len(Layout(load(text)).states) == 1
    assert reference(load(text)) == {}
