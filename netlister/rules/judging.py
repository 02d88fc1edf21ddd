"""Rules judged from the start, with what was read noted, so that a change is judged only where it touches."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.rules.model import SOUND

if TYPE_CHECKING:
    from collections.abc import Collection, Hashable, Iterable, Iterator

    from netlister.rules.analysis import Analysis
    from netlister.rules.model import Broken, Rule, Unproved, Verdict

RuleSubject = tuple[str, "Hashable"]
"""A rule and a subject."""


class Index:
    """Which subjects of which rules have read what.

    A fork shares what was noted before it and adds to that; it may still name readers that have not read a thing since.
    """

    def __init__(self) -> None:
        self._first: dict[Hashable, list[RuleSubject]] = {}
        self._since: dict[Hashable, tuple[RuleSubject, ...]] | None = None

    def fork(self) -> Index:
        """An index to which more can be added."""
        made = Index()
        made._first = self._first
        made._since = dict(self._since or {})
        return made

    def add(self, reader: RuleSubject, keys: Iterable[Hashable]) -> None:
        """Note what a reader has read."""
        if self._since is None:
            first = self._first
            for key in keys:
                known = first.get(key)
                if known is None:
                    first[key] = [reader]
                else:
                    known.append(reader)
            return
        for key in keys:
            if reader not in self._since.get(key, ()) and reader not in self._first.get(key, ()):
                self._since[key] = (*self._since.get(key, ()), reader)

    @property
    def keys(self) -> set[Hashable]:
        """What has been read by anyone."""
        return {*self._first, *(self._since or ())}

    def readers(self, key: Hashable) -> Iterator[RuleSubject]:
        """Who has read something."""
        yield from self._first.get(key, ())
        yield from (self._since or {}).get(key, ())


Verdicts = dict["Hashable", "Verdict"]
"""By subject the verdicts of a rule that are not sound."""


def judge(rule: Rule, analysis: Analysis, subject: Hashable, index: Index) -> Verdict:
    """The verdict of a rule on a subject; what it read is noted."""
    read: set[Hashable] = set()
    analysis.reads.now = read
    try:
        verdict = rule.verdict(analysis, subject)
    finally:
        analysis.reads.now = None
    index.add((rule.name, subject), read)
    return verdict


def judge_all(rule: Rule, analysis: Analysis, index: Index | None) -> Verdicts:
    """The verdicts of a rule on all of its subjects, but for the sound ones; without an index nothing is noted."""
    if rule.local is None or index is None:
        return {subject: verdict for subject, verdict in rule.verdicts(analysis) if verdict is not SOUND}
    found = {}
    for subject in rule.subjects(analysis):
        verdict = judge(rule, analysis, subject, index)
        if verdict is not SOUND:
            found[subject] = verdict
    return found


class Judging:
    """A layout judged by rules one after the other.

    `changing`: names of the rules that a session will judge again after changes, if repairs have to be looked for. What
    these read is noted from the first broken rule on, so that the session need not judge them once more; noting takes
    time, and where nothing is broken none is spent on it.
    """

    def __init__(self, analysis: Analysis, changing: Collection[str] = ()) -> None:
        self.analysis = analysis
        self.changing = changing
        self.index = Index()
        self.broken: list[Broken] = []
        self.unproved: list[Unproved] = []
        self._noted: dict[str, Verdicts] = {}

    def judge(self, rule: Rule) -> None:
        """Judge all subjects of a rule."""
        noting = bool(self.broken) and rule.name in self.changing
        found = judge_all(rule, self.analysis, self.index if noting else None)
        if noting:
            self._noted[rule.name] = found
        for verdict in found.values():
            self.broken += verdict.broken
            self.unproved += verdict.unproved

    def verdicts(self, rule: Rule) -> Verdicts:
        """The verdicts of a rule with what it read noted; it is judged now if that was not noted."""
        found = self._noted.get(rule.name)
        if found is None:
            found = self._noted[rule.name] = judge_all(rule, self.analysis, self.index)
        return found
