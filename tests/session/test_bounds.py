"""Tables of diagrams are bounded: a session takes new ones, a proof that would need more is told as unproved."""

from __future__ import annotations

import sys
from fractions import Fraction
from functools import partial
from pathlib import Path
from random import Random

import pytest

import netlister
from netlister.edits.model import ImpossibleError, apply
from netlister.poles import regions
from netlister.poles.diagram import ALWAYS, Diagrams, LimitError
from netlister.session import Session
from netlister.session import session as module
from netlister.source import UnusableError
from tests.properties.gear import random_gear
from tests.properties.layouts import dump, random_layout
from tests.session.compare import LOCAL, delta_faults, differences
from tests.session.edits import edits

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
import layouts


def counted(session: Session) -> list[tuple[object, ...]]:
    """Every verdict, with the share of the states in which it holds: functions have other numbers in other diagrams.

    A share, since diagrams may know a variable that the layout has no more.
    """
    count = session.diagrams.count
    found = [(*b.key, Fraction(count(b.function), count(ALWAYS))) for b in session.broken]
    return sorted(found, key=str)


@pytest.mark.parametrize("seed", range(16))
def test_new_diagrams_before_every_edit_change_nothing(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Judged from the start again and again, and undone past that."""
    monkeypatch.setattr(module, "MOST_GROWTH", -1)
    make = random_gear if seed % 2 else random_layout
    layout = netlister.read_text(dump(make(Random(seed))))
    session = Session.of(layout, LOCAL)
    states = [counted(session)]
    attempts = 0
    for number, edit in enumerate(edits(Random(seed), lambda: session.layout)):
        try:
            wanted = apply(edit, session.layout)
            delta = session.attempt(edit)
        except (ImpossibleError, UnusableError):
            continue
        attempts += 1
        apart = delta.session()
        assert [*differences(apart, wanted), *delta_faults(delta, LOCAL)] == []
        if number % 3 == 0:
            session.commit(delta)
            states.append(counted(session))
    assert session.renewals >= attempts > 3
    while len(states) > 1:
        assert counted(session) == states.pop()
        session.undo()
    assert counted(session) == states[0]
    assert session.layout == layout


def test_diagrams_of_a_session_stop_growing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two hundred edits of a ladder without gaps, each of which makes hundreds of functions."""
    layout = netlister.read_text(layouts.double_ended_yard(9))
    session = Session.of(layout, LOCAL)
    first = len(session.diagrams.level)
    monkeypatch.setattr(module, "MOST_GROWTH", first)
    rng, largest, made = Random(4), 0, 0
    while made < 60:
        for edit in edits(rng, lambda: layout):
            try:
                steps = session.attempt(edit).steps
            except (ImpossibleError, UnusableError):
                continue
            made += 1
            largest = max(largest, len(session.diagrams.level))
            assert len(session.diagrams.level) <= 2 * first + max(steps, 0) + first
    assert session.renewals > 1


def test_a_family_never_has_more_nodes_than_it_may() -> None:
    """What needs more ends with LimitError; what is known already is still answered."""
    diagrams = Diagrams([2] * 24, limit=10_000, most=400)
    rng = Random(1)
    known, ended = [], 0
    for _ in range(200):
        diagrams.begin()
        function = 0
        try:
            for _ in range(3):
                cube = diagrams.cube((v, rng.randrange(2)) for v in rng.sample(range(24), 5))
                function = diagrams.either(function, cube)
            known.append(function)
        except LimitError:
            ended += 1
        assert len(diagrams.level) <= 400 + 2 * 24  # and the literals, which take no steps
    assert known
    assert ended


def test_what_finds_no_room_is_unproved_and_nothing_is_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    """With fewer and fewer nodes less is proved, and what is told stays what it is with room enough."""
    text = layouts.double_ended_yard(7)
    whole = netlister.check_text(text, causes=False)
    assert whole.proved
    open_before = 0
    for most in (2000, 600, 300, 120):
        monkeypatch.setattr(regions, "Diagrams", partial(Diagrams, most=most))
        report = netlister.check_text(text, causes=False)
        told = {(f.rule, f.subject): f for f in whole.findings}
        left_open = {(u.rule, u.subject) for u in report.unproved}
        for rule, subject in told.keys() - {(f.rule, f.subject) for f in report.findings}:
            assert (rule, subject) in left_open or (rule != "dead-track" and rule in {r for r, _ in left_open})
        for finding in report.findings:
            wanted = told[finding.rule, finding.subject]
            assert not finding.when_complete or finding.when == wanted.when
            assert finding.severity >= wanted.severity
        assert len(report.unproved) >= open_before
        open_before = len(report.unproved)
    assert open_before
