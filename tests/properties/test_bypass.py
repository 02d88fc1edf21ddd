"""Breakers and fuses in wires that current comes past, in random layouts: the rule beside plain enumeration."""

from __future__ import annotations

import os
from copy import deepcopy
from random import Random

import pytest

import netlister
from tests.properties.compare import covered
from tests.properties.gear import random_gear
from tests.properties.layouts import dump
from tests.properties.reference import Data, Layout, State

COUNT = 600 if os.environ.get("NETLISTER_LONG") else 25


def with_breakers(random: Random) -> Data:
    """A random layout with some breakers and fuses in wires, in rows and side by side, some the wrong way round."""
    data = deepcopy(random_gear(random))
    data["components"] = components = {}
    layout = Layout(data)
    rails, poles = list(layout.rails), [f"{name}.{letter}" for name in data["supplies"] for letter in "AB"]
    places = list(rails)
    for number in range(random.choice([1, 2, 2, 3])):
        junction = f"strip {number}"
        ends = [random.choice(poles + places[len(rails) :]), random.choice([*rails, *rails, junction])]
        places.append(junction)
        random.shuffle(ends)
        components[f"F{number}"] = {"kind": random.choice(["breaker", "fuse"]), "from": ends[0], "to": ends[1]}
    return data


def bypassed(data: Data) -> set[State]:
    """The states in which both ends of a breaker have a pole in common although it is taken out."""
    found = set()
    for name, one in data["components"].items():
        left = Layout({**data, "components": {n: c for n, c in data["components"].items() if n != name}})
        for state in left.states:
            ends = [left.terminal(one[key]) for key in ("from", "to")]
            poles = [{e} if e in left.pole_names else left.pictures[state].poles.get(e, frozenset()) for e in ends]
            if poles[0] & poles[1]:
                found.add(state)
    return found


@pytest.mark.parametrize("seed", range(COUNT))
def test_what_is_bypassed_is_bypassed_by_enumeration(seed: int) -> None:
    data = with_breakers(Random(seed + 31_000))
    findings = netlister.check_text(dump(data), select=["breaker-bypassed"]).findings
    layout = Layout(data)
    told = set()
    for finding in findings:
        if " at " not in finding.subject:  # of a frog
            told |= covered([dict(w) for w in finding.when], layout.states)
    assert told == bypassed(data)
