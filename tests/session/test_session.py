"""A session says of every layout, after every kind of edit, what is found when all is judged from the start.

Longer runs: `NETLISTER_LONG=1` with pytest, or `python -m tests.session.long NUMBER SEED`.
"""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

import pytest

import netlister
from netlister.edits.model import Insulate, Refeed, TakeOut, apply
from netlister.rules import BY_NAME
from netlister.session import Session
from tests.benchmarks.layouts import branch_line
from tests.properties.gear import random_gear
from tests.properties.layouts import dump, random_layout
from tests.session.compare import DEFAULT, LOCAL, checked, differences, try_edits
from tests.session.edits import KINDS, edits

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable

    from netlister.rules.analysis import Analysis
    from netlister.rules.model import Broken, Rule, Unproved

EXAMPLES = sorted(Path("examples").glob("*/layout.yaml"))
SEEDS = 300 if os.environ.get("NETLISTER_LONG") else 24


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_examples(path: Path) -> None:
    """Every kind of edit, one upon the other, and undone."""
    layout = netlister.read_file(path)
    for seed in range(3):
        tried, found = try_edits(layout, Random(seed))
        assert not found, "\n".join(found)
        assert tried >= 5


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_examples_with_all_rules(path: Path) -> None:
    """The same with the rules that are judged whole each time."""
    _, found = try_edits(netlister.read_file(path), Random(9), DEFAULT)
    assert not found, "\n".join(found)


@pytest.mark.parametrize("seed", range(SEEDS))
def test_random_layouts(seed: int) -> None:
    """Small layouts, most of them full of mistakes."""
    rules = DEFAULT if seed % 4 == 0 else LOCAL
    _, found = try_edits(netlister.read_text(dump(random_layout(Random(seed)))), Random(seed), rules)
    assert not found, "\n".join(found)


@pytest.mark.parametrize("seed", range(SEEDS))
def test_random_gear(seed: int) -> None:
    """Layouts with districts, reversers, frog units and plugs."""
    _, found = try_edits(netlister.read_text(dump(random_gear(Random(seed)))), Random(seed))
    assert not found, "\n".join(found)


def test_every_kind_of_edit_is_tried() -> None:
    """The layouts above can take each kind, and every one of the model's changes stands among them."""
    made: Counter[str] = Counter()
    for path in EXAMPLES:
        layout = netlister.read_file(path)
        made.update(type(change).__name__ for edit in edits(Random(1), lambda made=layout: made) for change in edit)
    for seed in range(SEEDS):
        layout = netlister.read_text(dump(random_gear(Random(seed))))
        made.update(type(change).__name__ for edit in edits(Random(seed), lambda made=layout: made) for change in edit)
    from netlister.edits import model

    changes = {name for name, value in vars(model).items() if hasattr(value, "made_in")} - {"Change"}
    assert changes <= set(made)
    assert len(KINDS) >= len(changes)


ONE_FROG = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  tannery: {length: 600 mm}
  shed: {length: 300 mm}
  T1: {kind: live-frog, hand: right}
joints:
  - {from: tannery, to: T1.toe}
  - {from: T1.diverging, to: shed, insulate: vee}
feeds:
  - {to: tannery}
  - {to: shed}
"""


def test_what_an_edit_changes() -> None:
    """Without the gap the frog meets the other pole while the turnout is set to the main line; then nothing else."""
    session = Session.of(netlister.read_text(ONE_FROG), (BY_NAME["pole-short"], BY_NAME["dead-track"]))
    assert session.broken == []
    side = next(n for n, (a, b, _) in enumerate(session.layout.joints[1].pairs) if "frog" in a + b)
    delta = session.attempt((Insulate(1, side, insulated=False),))
    assert [b.key[:2] for b in delta.new] == [("pole-short", "main.A/main.B")]
    assert (delta.gone, delta.changed, delta.unproved) == ((), (), ())
    (short,) = delta.new
    assert delta.diagrams.count(short.function) == 1
    beyond = next(b for a, b, _ in session.layout.joints[1].pairs if a == "T1.frog")
    joined = {"T1.frog", beyond, "T1.stock-right", "tannery.right", "shed.right"}
    assert set(delta.poles) == joined  # each has both poles then
    assert session.broken == []
    session.commit(delta)
    assert session.broken == [short]
    session.undo()
    assert session.broken == []
    with pytest.raises(IndexError):
        session.undo()


def test_functions_before_and_after() -> None:
    """A siding whose feed is taken out is fed through the frog in one position, and dead in the other."""
    session = Session.of(netlister.read_text(ONE_FROG), (BY_NAME["dead-track"],))
    delta = session.commit((TakeOut("feeds", 1), Insulate(1, 0, insulated=False), Insulate(1, 1, insulated=False)))
    assert [b.key for b in delta.new] == [("dead-track", "shed", "")]
    assert delta.diagrams.count(delta.new[0].function) == 1
    (back,) = session.attempt((Refeed(0, "main", ()),)).changed
    assert (back.before, back.after) == (delta.new[0].function, 1)


def test_forks_are_apart() -> None:
    """What is done in a fork does nothing to the session that it comes from."""
    session = Session.of(netlister.read_text(ONE_FROG), LOCAL)
    fork = session.fork()
    layout = session.layout
    fork.commit((TakeOut("feeds", 0),))
    assert session.layout is layout
    assert not list(differences(session, layout))
    assert fork.layout == apply((TakeOut("feeds", 0),), layout)
    with pytest.raises(ValueError, match="another state"):
        session.commit(fork.attempt((TakeOut("feeds", 0),)))


def test_what_a_check_has_judged_is_not_judged_again() -> None:
    """A right layout notes nothing; from the first mistake on only what was judged before it is judged anew."""
    text = branch_line(3)
    right, wrong = (
        netlister.read_text(t)
        for t in (text, text.replace("  - {to: siding-2, A: left, B: right", "  - {to: siding-2, A: right, B: left"))
    )
    judged: Counter[str] = Counter()
    rules = tuple(replace(rule, judge=_counted(rule, judged)) for rule in LOCAL)
    assert not checked(right, rules).index.keys
    judging = checked(wrong, rules)
    assert judging.index.keys
    once = Counter(judged)
    session = Session.on(judging, rules)
    again = {name for name in judged if judged[name] != once[name]}
    assert again == {"pole-short"}
    assert session.broken == judging.broken


def _counted(rule: Rule, judged: Counter[str]) -> Callable[[Analysis, Hashable], Iterable[Broken | Unproved]]:
    def judge(analysis: Analysis, subject: Hashable) -> Iterable[Broken | Unproved]:
        judged[rule.name] += 1
        return rule.judge(analysis, subject)

    return judge
