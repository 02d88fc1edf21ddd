"""What a session says of a layout beside what is found when all of it is judged from the start."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from netlister.circuit.build import build
from netlister.edits.model import ImpossibleError, apply
from netlister.poles.diodes import poles_of
from netlister.poles.reach import UnprovedError
from netlister.rules import BY_NAME, RULES
from netlister.rules.analysis import Analysis
from netlister.rules.judging import Judging
from netlister.session import Session
from netlister.source import UnusableError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from random import Random

    from netlister.layout.model import Layout
    from netlister.rules.model import Rule
    from netlister.session import Delta

from tests.session.edits import edits

LOCAL = tuple(rule for rule in RULES if rule.local is not None or rule.name == "districts-joined")
"""The rules that are judged again where a change reaches alone."""

DEFAULT = tuple(rule for rule in RULES if rule.default)


def whole(session: Session, layout: Layout) -> Analysis:
    """The layout analysed from the start, with the diagrams of a session."""
    analysis = Analysis(build(layout, session.analysis.circuit.variables), session.analysis.limit)
    analysis.poles = poles_of(analysis.circuit, session.analysis.limit, session.diagrams)
    return analysis


Facts = Counter[tuple[Any, ...]]


def judged(analysis: Analysis, rules: tuple[Rule, ...]) -> Facts:
    """Every verdict."""
    found: Facts = Counter()
    for rule in rules:
        for _, verdict in rule.verdicts(analysis):
            found.update((*b.key, b.function) for b in verdict.broken)
            found.update(verdict.unproved)
    return found


def facts(session: Session) -> Facts:
    """Every verdict of a session."""
    found: Facts = Counter((*b.key, b.function) for b in session.broken)
    found.update(session.unproved)
    return found


def named(analysis: Analysis, terminal: str) -> Any:
    """The poles of a terminal by name, with their functions."""
    poles, circuit = analysis.poles, analysis.circuit
    try:
        has = poles.has(poles.nets.of[circuit.node[terminal]])
    except UnprovedError:
        return None
    count = len(circuit.poles)
    return sorted((circuit.poles[p].name if p < count else poles.units[p - count].name, f) for p, f in has)


def differences(session: Session, layout: Layout) -> Iterator[str]:
    """Everything in which a session and the layout judged from the start differ."""
    fresh = whole(session, layout)
    for terminal in fresh.circuit.node:
        one, two = named(session.analysis, terminal), named(fresh, terminal)
        if one != two:
            yield f"{terminal}: {one} instead of {two}"
    had, wanted = facts(session), judged(fresh, session.rules)
    yield from (f"too much: {fact}" for fact in (had - wanted).elements())
    yield from (f"missing: {fact}" for fact in (wanted - had).elements())


def delta_faults(delta: Delta, rules: tuple[Rule, ...]) -> Iterator[str]:
    """Where what an edit is said to change is not what differs between before and after."""
    any_of = delta.diagrams.any_of

    def functions(broken: list[Any]) -> dict[Any, int]:
        found: dict[Any, list[int]] = {}
        for one in broken:
            found.setdefault(one.key, []).append(one.function)
        return {key: any_of(listed) for key, listed in found.items()}

    before, after = functions(delta.before.broken), functions(delta.after.broken)
    doubtful = {u.rule for u in delta.unproved}
    gone = {key for key in before if key not in after and key[0] not in doubtful}
    if {b.key for b in delta.gone} != gone:
        yield f"gone: {sorted(b.key for b in delta.gone)} instead of {sorted(gone)}"
    new = {key for key in after if key not in before}
    if {b.key for b in delta.new} != new:
        yield f"new: {sorted(b.key for b in delta.new)} instead of {sorted(new)}"
    changed = {(key, before[key], after[key]) for key in before if key in after and before[key] != after[key]}
    if set(delta.changed) != changed:
        yield f"changed: {delta.changed} instead of {changed}"


def checked(layout: Layout, rules: tuple[Rule, ...], limit: int = 0) -> Judging:
    """A layout as a check leaves it, from which sessions take over what was judged with its reads noted."""
    judging = Judging(Analysis.of(layout, limit), {rule.name for rule in rules})
    for rule in rules:
        judging.judge(rule)
    return judging


def try_edits(layout: Layout, rng: Random, rules: tuple[Rule, ...] = LOCAL, limit: int = 0) -> tuple[int, list[str]]:
    """Attempt edits of every kind, commit every third, and undo all: how many were tried, and what differed."""
    session = Session.on(checked(layout, rules, limit), rules)
    first, tried, depth = facts(session), 0, 0
    was = session.analysis
    for number, edit in enumerate(edits(rng, lambda: session.layout)):
        try:
            wanted = apply(edit, session.layout)
            delta = session.attempt(edit)
        except (ImpossibleError, UnusableError):
            continue
        tried += 1
        apart = session.fork()
        apart.commit(delta)
        found = [*differences(apart, wanted), *delta_faults(delta, rules)]
        if found:
            return tried, [f"{edit}", *found]
        if number % 3 == 0:
            session.commit(delta)
            depth += 1
    for _ in range(depth):
        session.undo()
    if session.analysis is not was or facts(session) != first:
        return tried, ["undone, but not as in the beginning"]
    return tried, []


__all__ = ["BY_NAME", "DEFAULT", "LOCAL", "differences", "try_edits"]
