"""A layout that is changed step by step, and of which only what a change touches is proved again."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from netlister.edits.model import apply
from netlister.poles.diagram import NEVER
from netlister.poles.reach import LIMIT, UnprovedError
from netlister.rules.after import analysis_after
from netlister.rules.analysis import Analysis
from netlister.rules.judging import Judging, judge, judge_all
from netlister.rules.model import SOUND, Unproved

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Mapping

    from netlister.edits.model import Edit
    from netlister.layout.model import Layout
    from netlister.poles.diagram import Diagrams, Function
    from netlister.poles.reach import Has
    from netlister.rules.after import Reached
    from netlister.rules.judging import Index
    from netlister.rules.model import Broken, Rule, Verdict

MOST_GROWTH = 500_000
"""Nodes that attempted edits may add to the diagrams of a session; with more, it goes on with new diagrams."""

BrokenKey = tuple[str, str, str]
"""A rule, a subject, and what tells places of one subject apart: see `Broken.key`."""


class Changed(NamedTuple):
    """What breaks a rule before and after an edit, with the functions of the states in which it does."""

    key: BrokenKey
    before: Function
    after: Function


@dataclass(slots=True)
class JudgedLayout:
    """A layout with the verdicts of the rules on it. It is never changed; some of it is worked out when asked for.

    `verdicts`: by rule and subject, sound ones left out. `index`: which subjects have read what. `change`: what the
    last change touched, where that is known.
    """

    analysis: Analysis
    verdicts: dict[str, dict[Hashable, Verdict]]
    index: Index
    change: Reached | None = None

    @classmethod
    def of(cls, judging: Judging, rules: Iterable[Rule]) -> JudgedLayout:
        """The layout of a judging; rules that it has not judged yet are judged now."""
        return cls(judging.analysis, {rule.name: judging.verdicts(rule) for rule in rules}, judging.index)

    def after(self, layout: Layout, rules: Iterable[Rule]) -> JudgedLayout:
        """The layout after a change: judged again where the change reaches, or all of it where it changes too much."""
        found = analysis_after(self.analysis, layout)
        if found is None:
            return JudgedLayout.of(Judging(self.analysis.anew(layout)), rules)
        analysis, change = found
        hit: dict[str, set[Hashable]] = {}
        for key in change.reads:
            for rule_name, subject in self.index.readers(key):
                hit.setdefault(rule_name, set()).add(subject)
        index = self.index.fork()
        verdicts = {}
        for rule in rules:
            if rule.local is None or change.everything:
                verdicts[rule.name] = judge_all(rule, analysis, index)
                continue
            subjects = hit.get(rule.name, set()).union(rule.local.near(analysis, change))
            known = self.verdicts[rule.name]
            if subjects:
                known = dict(known)
            for subject in sorted(subjects, key=str):
                known.pop(subject, None)
                if rule.local.there(analysis, subject):
                    verdict = judge(rule, analysis, subject, index)
                    if verdict is not SOUND:
                        known[subject] = verdict
            verdicts[rule.name] = known
        return JudgedLayout(analysis, verdicts, index, change)

    @property
    def broken(self) -> list[Broken]:
        """Everything that breaks a rule."""
        return [b for found in self.verdicts.values() for verdict in found.values() for b in verdict.broken]

    @property
    def unproved(self) -> list[Unproved]:
        """What could not be proved."""
        return [u for found in self.verdicts.values() for verdict in found.values() for u in verdict.unproved]


@dataclass
class Delta:
    """What an edit changes, of two layouts in the same diagrams.

    `gone`: what breaks a rule before the edit and not after it. `new`: the other way round. `changed`: what breaks a
    rule before and after, in other states. `unproved`: what could not be proved of what was judged again; nothing that
    breaks a rule named there counts as gone. `steps`: steps of proof.
    """

    edit: Edit
    before: JudgedLayout
    after: JudgedLayout
    gone: tuple[Broken, ...]
    new: tuple[Broken, ...]
    changed: tuple[Changed, ...]
    unproved: tuple[Unproved, ...]
    steps: int
    rules: tuple[Rule, ...] = field(repr=False)

    @property
    def analysis(self) -> Analysis:
        """The layout after the edit, to tell findings with."""
        return self.after.analysis

    @property
    def diagrams(self) -> Diagrams:
        """The diagrams whose nodes all functions here are."""
        return self.after.analysis.poles.diagrams

    def session(self) -> Session:
        """A session of its own that begins after the edit."""
        return Session(self.after, self.rules)

    @cached_property
    def poles(self) -> Mapping[str, tuple[Has | None, Has | None]]:
        """By terminal whose poles the edit changes: those before and after, None where they are not proved."""
        before, after, change = self.before.analysis, self.after.analysis, self.after.change
        if change is None:
            terminals = {*before.circuit.node, *after.circuit.node}
        else:
            nodes = set(change.nodes)
            for nets in (before.poles.nets, after.poles.nets):
                nodes.update(node for net in change.has if net < nets.count for node in nets.members[net])
            terminals = {after.circuit.names[node] for node in nodes}
        found = {}
        for terminal in terminals:
            one, two = (_poles(analysis, terminal) for analysis in (before, after))
            if one != two:
                found[terminal] = one, two
        return dict(sorted(found.items()))


def _poles(analysis: Analysis, terminal: str) -> Has | None:
    node = analysis.circuit.node.get(terminal)
    if node is None:
        return ()
    try:
        return analysis.poles.has(analysis.poles.nets.of[node])
    except UnprovedError:
        return None


class Session:
    """A layout and some rules, and what becomes of them by edits.

    Begin one with `Session.of` or `Session.on`. `rules`: those that are judged. `limit`: steps of proof for one region
    or subject (0: no limit). `named`: see `Analysis`. Raises UnusableError where `never` leaves no state at all.

    Diagrams grow with every edit that is attempted. Where they have grown by MOST_GROWTH, the layout is judged anew
    with diagrams of its own before the next: `renewals` counts that, and functions from before have other numbers.
    """

    def __init__(self, state: JudgedLayout, rules: tuple[Rule, ...]) -> None:
        self.state = state
        self.rules = rules
        self.renewals = 0
        self._first = len(self.diagrams.level)  # nodes of the diagrams to begin with
        self._before: list[JudgedLayout | Layout] = []

    @classmethod
    def of(cls, layout: Layout, rules: Iterable[Rule], limit: int = LIMIT, named: Iterable[str] = ()) -> Session:
        """A session that begins with a layout."""
        return cls.on(Judging(Analysis.of(layout, limit, named)), rules)

    @classmethod
    def on(cls, judging: Judging, rules: Iterable[Rule]) -> Session:
        """A session that begins with a layout that has been judged, or some of it."""
        listed = tuple(rules)
        return cls(JudgedLayout.of(judging, listed), listed)

    @property
    def layout(self) -> Layout:
        """The layout as it is now."""
        return self.state.analysis.layout

    @property
    def analysis(self) -> Analysis:
        """What is known of the layout as it is now."""
        return self.state.analysis

    @property
    def diagrams(self) -> Diagrams:
        """The diagrams whose nodes all functions of the session are."""
        return self.state.analysis.poles.diagrams

    @property
    def broken(self) -> list[Broken]:
        """Everything that breaks a rule now."""
        return self.state.broken

    @property
    def unproved(self) -> list[Unproved]:
        """What could not be proved of the layout as it is now."""
        return self.state.unproved

    def fork(self) -> Session:
        """A session of its own that begins here; what is done in one does nothing to the other."""
        return Session(self.state, self.rules)

    def attempt(self, edit: Edit) -> Delta:
        """What an edit would change. Raises ImpossibleError, and UnusableError as in the beginning."""
        layout = apply(edit, self.layout)
        if len(self.diagrams.level) - self._first > MOST_GROWTH:
            self._renew()
        before, diagrams = self.state, self.diagrams
        diagrams.afresh()
        start = diagrams.steps
        after = before.after(layout, self.rules)
        return _delta(edit, before, after, self.rules, diagrams.steps - start)

    def commit(self, edit: Edit | Delta) -> Delta:
        """Make an edit, or one that was attempted last from here."""
        delta = edit if isinstance(edit, Delta) else self.attempt(edit)
        if delta.before is not self.state:
            raise ValueError("this edit was attempted on another state of the layout")
        self._before.append(self.state)
        self.state = delta.after
        return delta

    def undo(self) -> None:
        """Take the last edit back. Raises IndexError where none is left."""
        before = self._before.pop()
        if not isinstance(before, JudgedLayout):
            before = JudgedLayout.of(Judging(self.analysis.anew(before)), self.rules)
        self.state = before

    def _renew(self) -> None:
        """Judge the layout anew with fresh diagrams; of earlier states the layouts are kept, and judged once undone."""
        self._before = [one.analysis.layout if isinstance(one, JudgedLayout) else one for one in self._before]
        self.state = JudgedLayout.of(Judging(self.analysis.renewed()), self.rules)
        self._first = len(self.diagrams.level)
        self.renewals += 1


def _delta(edit: Edit, before: JudgedLayout, after: JudgedLayout, rules: tuple[Rule, ...], steps: int) -> Delta:
    """What differs between two states."""
    diagrams = after.analysis.poles.diagrams
    gone: list[Broken] = []
    new: list[Broken] = []
    changed: list[Changed] = []
    unproved: list[Unproved] = []
    for rule in rules:
        one, two = before.verdicts[rule.name], after.verdicts[rule.name]
        if one is two:
            continue
        touched = [
            *(v for subject, v in one.items() if two.get(subject) is not v),
            *(v for subject, v in two.items() if one.get(subject) is not v),
        ]
        left_open = [u for subject, v in two.items() if one.get(subject) is not v for u in v.unproved]
        unproved += left_open
        olds, news = _by_key(one.values()), _by_key(two.values())
        for key in sorted({b.key for verdict in touched for b in verdict.broken}):
            was, now = (diagrams.any_of([b.function for b in found.get(key, ())]) for found in (olds, news))
            if was == NEVER:
                new += news[key]
            elif now == NEVER:
                gone += () if left_open else olds[key]
            elif now != was:
                changed.append(Changed(key, was, now))
    return Delta(edit, before, after, tuple(gone), tuple(new), tuple(changed), tuple(unproved), steps, rules)


def _by_key(verdicts: Iterable[Verdict]) -> dict[BrokenKey, list[Broken]]:
    found: dict[BrokenKey, list[Broken]] = {}
    for verdict in verdicts:
        for broken in verdict.broken:
            found.setdefault(broken.key, []).append(broken)
    return found
