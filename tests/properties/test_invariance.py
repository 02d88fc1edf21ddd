"""What must not change the findings, and what must change them in one way only; on random layouts."""

from __future__ import annotations

import copy
from random import Random

import pytest

import netlister
from netlister.circuit.build import build
from netlister.circuit.paths import Paths
from netlister.layout.read import read_layout
from netlister.source import Source
from tests.properties.compare import covered
from tests.properties.layouts import dump, random_layout
from tests.properties.reference import Layout

SEEDS = range(40)


def findings(data):
    report = netlister.check_text(dump(data), causes=False).to_json()
    found = {}
    for f in report["findings"]:
        when = frozenset(frozenset(entry.items()) for entry in f["when"])
        found.setdefault((f["rule"], f["subject"], f["severity"]), set()).add(when)
    return found


def in_states(data, states):
    """Per rule, subject and severity the states of its findings, however their covers are written."""
    found = {}
    for f in netlister.check_text(dump(data), causes=False).to_json()["findings"]:
        found.setdefault((f["rule"], f["subject"], f["severity"]), set()).update(covered(f["when"], states))
    return found


def shuffled(value, rng):
    """The same layout with its entries in another order; positions, pins and throws keep theirs."""
    data = copy.deepcopy(value)
    for section, entries in list(data.items()):
        if isinstance(entries, dict):
            keys = list(entries)
            rng.shuffle(keys)
            data[section] = {key: entries[key] for key in keys}
        elif isinstance(entries, list) and section in {"joints", "feeds", "wires", "expect", "never"}:
            rng.shuffle(entries)
    sections = list(data)
    rng.shuffle(sections)
    return {section: data[section] for section in sections}


@pytest.mark.parametrize("seed", SEEDS)
def test_the_order_of_entries_changes_nothing(seed):
    rng = Random(seed)
    data = random_layout(rng)
    states = Layout(data).states
    first, second = (in_states(one, states) for one in (data, shuffled(data, rng)))
    assert first == second


@pytest.mark.parametrize("seed", SEEDS)
def test_closing_a_contact_never_takes_a_pole_away(seed):
    """In a state, a conductor more never leaves a rail with fewer poles."""
    rng = Random(1000 + seed)
    circuit = build(read_layout(Source("layout.yaml", dump(random_layout(rng)))))
    sometimes = [number for number, c in enumerate(circuit.conductors) if c.when]
    state = tuple(rng.randrange(len(v.positions)) for v in circuit.variables)
    before = Paths(circuit).poles_of(state)
    for number in rng.sample(sometimes, min(4, len(sometimes))):
        conductors = list(circuit.conductors)
        conductors[number] = conductors[number]._replace(when=())
        more = copy.copy(circuit)
        more.conductors = conductors
        after = Paths(more).poles_of(state)
        assert all(a <= b for a, b in zip(before, after, strict=True))


@pytest.mark.parametrize("seed", range(20))
def test_two_runs_write_the_same(seed):
    text = dump(random_layout(Random(seed)))
    first, second = (netlister.check_text(text).to_json() for _ in range(2))
    assert first == second
