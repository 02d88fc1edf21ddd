"""Name the mistakes behind findings: the least repairs, proved in the whole layout before they are told."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.terminal import owner_of
from netlister.repairs import grouping, lighter
from netlister.repairs.agreeing import SHORTS, Agreeing, agree, around
from netlister.repairs.choices import Choices
from netlister.repairs.consequences import follow
from netlister.repairs.meant import may_be_meant
from netlister.repairs.model import Cause, Repair, choice
from netlister.repairs.part import SMALL, part_around
from netlister.repairs.search import MOST_TIES, Search, terminals_at
from netlister.rules import RULES
from netlister.session import Session
from netlister.union import find, join

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.finding import Finding, Mistake
    from netlister.layout.model import Layout
    from netlister.repairs.model import Choice
    from netlister.repairs.part import LayoutPart
    from netlister.repairs.search import Subject
    from netlister.rules.analysis import Analysis
    from netlister.rules.model import Broken, Rule

TRIED_RULES = (
    *("pole-short", "gap-clash", "floating-net", "dead-track", "expectation"),
    *("districts-joined", "districts-crossed", "reversers-abut", "frog-outside-section", "reverser-one-rail"),
    *("diode-turned", "metal-buffer", "unit-torn", "unit-joins"),
)
"""The rules whose findings are mended, those that harm most first."""

TRIAL_LIMIT = 200_000
"""Steps of proof for one region or subject in a trial."""

BUDGET = 300
"""Edits that are judged for all that hangs together, at the most; fewer where the part is large."""

EACH = 60
"""Edits that are judged for one finding, where all that hangs together was too much at once."""

PATIENCE = 3000
"""Edits that are judged in all, in a small layout, for what was not mended whole within these."""

MOST_OTHERS = 6
"""Equal repairs of a short that are tried beside those of what is near it."""

MOST_MISTAKES = 60
"""Mistakes in what hangs together, beyond which the rest is told unmended."""


class Explained(NamedTuple):
    """Findings with the numbers of their causes, and the causes."""

    findings: list[Finding]
    causes: dict[int, Cause]


def explain(
    analysis: Analysis,
    rules: Iterable[Rule],
    broken: list[Broken],
    findings: list[Finding],
    keep: Iterable[str] = (),
) -> Explained:
    """Give findings with one cause the same number, with the mistake's words and place; the rest keep 0.

    `keep`: names of what no repair may change.
    """
    tried = [rule for rule in rules if rule.name in TRIED_RULES]
    made = _Explaining(analysis, tried, broken, list(findings), frozenset(keep))
    made.others = [rule for rule in rules if rule.name not in TRIED_RULES]
    made.run()
    unexplained = {b.key: n for n, b in enumerate(broken) if b.rule in TRIED_RULES and n not in made.explained}
    left = grouping.grouped(analysis, made.findings, unexplained)
    if analysis.layout.netlist:
        return _in_a_drawing(analysis.layout, Explained(left, made.causes))
    return Explained(left, made.causes)


def _in_a_drawing(layout: Layout, found: Explained) -> Explained:
    """The same with what to do in the words of the drawing that the layout comes from."""
    from netlister.repairs.drawn import told

    causes: dict[int, Cause] = {}
    said: dict[Mistake, Mistake] = {}
    for number, cause in found.causes.items():
        words = {one: told(layout, one) for repair in cause.repairs for one in repair.choices}
        said |= {one.mistake: word.mistake for one, word in words.items()}
        repairs = tuple(r._replace(choices=tuple(words[one] for one in r.choices)) for r in cause.repairs)
        causes[number] = cause._replace(repairs=repairs)
    findings = []
    for finding in found.findings:
        mistakes = tuple(said.get(mistake, mistake) for mistake in finding.mistakes)
        fix = "; ".join(mistake.fix for mistake in mistakes) if mistakes else finding.fix
        findings.append(replace(finding, mistakes=mistakes, fix=fix))
    return Explained(findings, causes)


def whole_search(layout: Layout, keep: Iterable[str]) -> tuple[Search, int]:
    """A search for the repairs of a whole layout, and the edits that it may judge."""
    tried = [rule for rule in RULES if rule.name in TRIED_RULES]
    search = Search(Session.of(layout, tried, TRIAL_LIMIT), Choices(layout, frozenset(keep)))
    return search, _budget(max(len(layout.pieces), 1))


class _Cluster(NamedTuple):
    """Findings that hang together: their numbers, and the pieces they speak of."""

    numbers: list[int]
    pieces: list[str]


class _Problem:
    """A cluster with what was found for it. `ties`: the repairs, first the one that is told, in the whole's numbers."""

    def __init__(self, cluster: _Cluster) -> None:
        self.cluster = cluster
        self.ties: list[Repair] = []
        self.gone: list[dict[Choice, frozenset[Subject]]] = []
        self.all_gone: frozenset[Subject] = frozenset()
        self.mends: list[Subject] = []  # what the repairs are for: all of the cluster, or as much as could be mended
        self.tried = 0
        self.least = True


class _Explaining:
    def __init__(
        self,
        analysis: Analysis,
        rules: list[Rule],
        broken: list[Broken],
        findings: list[Finding],
        keep: frozenset[str],
    ) -> None:
        self.keep = keep
        self.patience = PATIENCE
        self.analysis = analysis
        self.rules = rules
        self.findings = findings
        self.causes: dict[int, Cause] = {}
        self.numbers: dict[Subject, list[int]] = {}
        self.keys = [one.key for one in broken]
        self.places = broken
        for number, one in enumerate(broken):
            if one.rule in TRIED_RULES:
                self.numbers.setdefault(one.key, []).append(number)
        self.explained: set[int] = set()
        self.others: list[Rule] = []
        self._whole: Search | None = None
        self._told: dict[tuple[Choice, ...], int] = {}
        self._choices: Choices | None = None

    @property
    def choices(self) -> Choices:
        """The choices of the whole layout."""
        if self._choices is None:
            self._choices = Choices(self.analysis.layout, self.keep)
        return self._choices

    @property
    def whole(self) -> Search:
        """The search in the whole layout."""
        if self._whole is None:
            self._whole = Search(Session.on(self.analysis, self.rules), self.choices)
        return self._whole

    def run(self) -> None:
        """Find and tell the causes."""
        targets = [n for key in self.numbers.values() for n in key if not self._may_be_meant(n)]
        if not targets:
            return
        problems = [_Problem(cluster) for cluster in self._clusters(targets)]
        known: list[_Problem] = []
        for problem in problems:
            part = part_around(self.analysis, self.choices, problem.cluster.pieces)
            if part is None or not self._in_part(problem, part):
                self._solve(problem, self.whole, None, self._subjects(problem.cluster))
            else:
                known.append(problem)
        self._prefer_shared(problems)
        self._prove(known)
        self._prefer_shared(problems)
        self._beside_shorts(problems)
        for problem in self._at_once(self._one_for_several(problems)):
            self._tell(problem)
        agreed = Agreeing(self.findings, self.keys, self.causes, self.whole)
        agreed.run()
        follow(self.analysis, self.others, agreed)

    def _at_once(self, problems: list[_Problem]) -> list[_Problem]:
        """In a small layout all problems as one, where that needs less, or their repairs disturb one another."""
        if len(problems) <= 1 or len(self.analysis.layout.pieces) > SMALL:
            return problems
        whole = _Problem(self._one_of(problems))
        wanted = self._subjects(whole.cluster)
        firsts = {n: p.ties[0] for n, p in enumerate(problems) if p.ties}
        if len(firsts) == len(problems) and agree(self.whole, firsts):
            held = self._hold([(problems[n], tie) for n, tie in firsts.items()])
            if held and all(p.least for p in problems):
                weight = sum(c.weight for c in {c for tie in firsts.values() for c in tie.choices})
                subjects = [self._subjects(p.cluster) for p in problems]
                found = lighter.all_at_once(self.whole, subjects, weight, _budget(len(self.analysis.layout.pieces)))
                if found is None or not found.repairs:
                    return problems
                whole.tried = found.tried
                self._settle(whole, self.whole, None, wanted, list(found.repairs))
                return [whole]
        self._solve(whole, self.whole, None, wanted)
        return [whole] if whole.ties and len(whole.mends) == len(wanted) else problems

    def _one_for_several(self, problems: list[_Problem]) -> list[_Problem]:
        """In a large layout several problems as one, where a single choice mends them for less."""
        if len(self.analysis.layout.pieces) <= SMALL:
            return problems
        solved = [p for p in problems if p.ties and len(p.mends) == len(self._subjects(p.cluster))]
        found = lighter.one_for_several(
            self.whole, [lighter.Solved(self._subjects(p.cluster), p.ties[0].weight) for p in solved]
        )
        if found is None:
            return problems
        choices, numbers = found
        merged = [solved[n] for n in numbers]
        made = _Problem(self._one_of(merged))
        made.least, made.tried = all(p.least for p in merged), sum(p.tried for p in merged)
        ties = [Repair((c,), c.weight) for c in choices]
        self._settle(made, self.whole, None, self._subjects(made.cluster), ties)
        return self._one_for_several([made, *(p for p in problems if p not in merged)])

    @staticmethod
    def _one_of(problems: list[_Problem]) -> _Cluster:
        """The clusters of some problems as one."""
        numbers = [n for p in problems for n in p.cluster.numbers]
        return _Cluster(numbers, list(dict.fromkeys(name for p in problems for name in p.cluster.pieces)))

    def _may_be_meant(self, number: int) -> bool:
        finding = self.findings[number]
        return may_be_meant(self.analysis, finding.rule, finding.subject, finding.severity)

    def _subjects(self, cluster: _Cluster) -> list[Subject]:
        return list(dict.fromkeys(self.keys[n] for n in cluster.numbers))

    def _clusters(self, targets: list[int]) -> list[_Cluster]:
        """Findings that share a piece, worst first."""
        pieces = self.analysis.layout.pieces
        head = list(range(len(targets)))
        at: dict[str, int] = {}
        about: list[list[str]] = []
        for i, number in enumerate(targets):
            finding = self.findings[number]
            names = [
                *finding.parts,
                *(owner_of(t) for t in (*finding.path, *finding.terminals)),
                finding.subject,
            ]
            names = [name for name in dict.fromkeys(names) if name in pieces]
            about.append(names)
            for name in names or [f"/{number}"]:
                join(head, i, at.setdefault(name, i))
        groups: dict[int, list[int]] = {}
        for i in range(len(targets)):
            groups.setdefault(find(head, i), []).append(i)
        found = []
        rank = {name: n for n, name in enumerate(TRIED_RULES)}
        for members in groups.values():
            members.sort(key=lambda i: (-self.findings[targets[i]].severity, rank[self.findings[targets[i]].rule], i))
            names = list(dict.fromkeys(name for i in members for name in about[i]))
            found.append(_Cluster([targets[i] for i in members], names))
        return found

    # -- finding

    def _in_part(self, problem: _Problem, part: LayoutPart) -> bool:
        """Solve a problem in a part of the layout; whether the part shows what is broken."""
        session = Session.of(part.held, self.rules, TRIAL_LIMIT)
        search = Search(session, Choices(part.layout, self.keep))
        named = self._named_there(problem, search)
        if named is None:
            return False
        self._solve(problem, search, part, list(dict.fromkeys(named.values())))
        there: dict[Subject, list[Subject]] = {}
        for whole, inside in named.items():
            there.setdefault(inside, []).append(whole)

        def back(keys: Iterable[Subject]) -> list[Subject]:
            return [whole for key in keys for whole in there.get(key, (key,))]

        problem.mends = back(problem.mends)
        problem.all_gone = frozenset(back(problem.all_gone))
        problem.gone = [{one: frozenset(back(gone)) for one, gone in alone.items()} for alone in problem.gone]
        return True

    def _named_there(self, problem: _Problem, search: Search) -> dict[Subject, Subject] | None:
        """By subject of a problem what it is in a part of the layout, or None where some is not broken there.

        A place is named by one of its terminals, and the part may not have that one.
        """
        found: dict[Subject, Subject] = {}
        for number in problem.cluster.numbers:
            key = self.keys[number]
            if key in search.broken:
                found[key] = key
                continue
            here = terminals_at(self.analysis, self.places[number]) if key[0] == "pole-short" else frozenset()
            inside = search.session.analysis
            for other in search.session.broken if here else ():
                if other.key[:2] == key[:2] and not here.isdisjoint(terminals_at(inside, other)):
                    found[key] = other.key
                    break
            else:
                return None
        return found

    def _solve(self, problem: _Problem, search: Search, part: LayoutPart | None, wanted: list[Subject]) -> None:
        size = max(len(search.choices.layout.pieces), 1)
        ties: list[Repair] = []
        groups = search.apart(wanted)
        if len(groups) > 1:
            ties = self._together(problem, search, groups, size)
        if not ties:
            found = search.least(wanted, _budget(size))
            ties = list(found.repairs)
            problem.least = found.least
            problem.tried += found.tried
        if not ties:
            ties = self._one_by_one(search, wanted, max(40, min(EACH, EACH * 40 // size))) if len(wanted) > 1 else []
            problem.least = problem.least and not ties
        if ties:
            self._settle(problem, search, part, wanted, ties)
        if len(problem.mends) < len(wanted) and len(groups) <= 1:
            self._patiently(problem, search, part, wanted)

    def _patiently(self, problem: _Problem, search: Search, part: LayoutPart | None, wanted: list[Subject]) -> None:
        """Look on for what mends all of a problem: in a small layout a person can wait, rather than be told nothing."""
        if self.patience <= 0 or len(self.analysis.layout.pieces) > SMALL or (problem.least and not problem.ties):
            return
        found = search.least(wanted, self.patience)
        self.patience -= found.tried
        problem.tried += found.tried
        if found.repairs:
            problem.least = found.least
            self._settle(problem, search, part, wanted, list(found.repairs))

    @staticmethod
    def _settle(
        problem: _Problem, search: Search, part: LayoutPart | None, wanted: list[Subject], ties: list[Repair]
    ) -> None:
        """Note the repairs of a problem, and what each choice of the first of them takes away."""
        first = ties[0]
        problem.all_gone = search.gone(first.edit, wanted)
        problem.mends = [key for key in wanted if key in problem.all_gone]
        alone: dict[Choice, frozenset[Subject]] = {}
        for one in first.choices:
            alone[one] = search.gone(one.edit, wanted) if len(first.choices) > 1 else problem.all_gone
        moved = {one: _moved(one, part) for tie in ties for one in tie.choices}
        problem.ties = [tie._replace(choices=tuple(moved[one] for one in tie.choices)) for tie in ties]
        problem.gone = [{moved[one]: gone for one, gone in alone.items()}]

    def _together(self, problem: _Problem, search: Search, groups: list[list[Subject]], size: int) -> list[Repair]:
        """Repairs of groups that have no choice in common: the least of each, if they do not disturb one another."""
        found = [search.least(group, _budget(size)) for group in groups]
        problem.tried += sum(each.tried for each in found)
        if not all(each.repairs for each in found):
            return []
        firsts = [each.repairs[0] for each in found]
        ties = [firsts]
        ties += [[*firsts[:n], tie, *firsts[n + 1 :]] for n, each in enumerate(found) for tie in each.repairs[1:]]
        wanted = [key for group in groups for key in group]
        made = []
        for parts in ties[: 2 * MOST_TIES]:
            choices = tuple(dict.fromkeys(c for repair in parts for c in repair.choices))
            repair = Repair(choices, sum(c.weight for c in choices))
            judged = search.judge(repair.edit, wanted)
            if judged is not None and not judged[0].todo:
                made.append(repair)
            elif parts is firsts:
                return []
        problem.least = all(each.least for each in found)
        return made

    def _one_by_one(self, search: Search, wanted: list[Subject], budget: int) -> list[Repair]:
        """Mend one finding after the other, each by what takes away most."""
        given: tuple[Choice, ...] = ()
        left = list(wanted)
        mended: list[Subject] = []
        failed = 0
        while left and len(given) < MOST_MISTAKES and failed < 4:  # noqa: PLR2004
            target = left.pop(0)
            found = search.least([target, *mended], budget, 4 + sum(c.weight for c in given), given)
            best: tuple[int, Repair] | None = None
            for repair in found.repairs:
                judged = search.judge(repair.edit, ())
                if judged is not None and (best is None or len(judged[0].gone) > best[0]):
                    best = len(judged[0].gone), repair
                    gone = judged[0].gone
            if best is None:
                failed += 1
                continue
            given = best[1].choices
            left = [t for t in left if t not in gone]
            mended = [t for t in wanted if t in gone]
        made = Repair(given, sum(c.weight for c in given))
        return [lighter.two_by_one(search, mended, made, 3 * budget)] if given else []

    # -- proving in the whole

    def _prove(self, problems: list[_Problem]) -> None:
        """Keep only repairs that hold in the whole layout: all of one rank at once, else each by itself."""
        solved = [p for p in problems if p.ties]
        good: dict[int, list[Repair]] = {id(p): [] for p in solved}
        for rank in range(max((len(p.ties) for p in solved), default=0)):
            ranked = [p for p in solved if rank < len(p.ties)]
            if len(ranked) > 1 and self._hold([(p, p.ties[rank]) for p in ranked]):
                for p in ranked:
                    good[id(p)].append(p.ties[rank])
                continue
            for p in ranked:
                if self._hold([(p, p.ties[rank])]):
                    good[id(p)].append(p.ties[rank])
        for p in solved:
            if p.ties[0] not in good[id(p)]:
                p.ties, p.gone = [], []
                self._solve(p, self.whole, None, self._subjects(p.cluster))
            else:
                p.ties = good[id(p)]

    def _beside_shorts(self, problems: list[_Problem]) -> None:
        """Keep of the repairs of dead track those that hold once the shorts near it are mended, too.

        A rail that a short gives two poles counts as fed, so that beside one a wrong wire may look like a right one.
        """
        shorted = [p for p in problems if p.ties and self._is_shorted(p)]
        if not shorted:
            return
        at: dict[str, list[_Problem]] = {}
        for short in shorted:
            for name in around(self.choices, short.cluster.pieces):
                at.setdefault(name, []).append(short)
        for problem in problems:
            near: dict[int, _Problem] = {}
            if not self._is_shorted(problem):
                near = {id(p): p for name in around(self.choices, problem.cluster.pieces) for p in at.get(name, ())}
            if not near:
                continue
            self._other_tie(problem, list(near.values()))
            others = [(p, p.ties[0]) for p in near.values()]
            kept = [tie for tie in problem.ties if self._hold([*others, (problem, tie)])]
            if kept and kept[0] is problem.ties[0]:
                problem.ties = kept
                continue
            if not problem.ties and len(problem.mends) == len(self._subjects(problem.cluster)):
                continue
            given = tuple(dict.fromkeys(c for _, tie in others for c in tie.choices))
            size = max(len(self.choices.layout.pieces), 1)
            wanted = self._subjects(problem.cluster)
            most = 12 + sum(c.weight for c in given)
            found = self.whole.least(wanted, _budget(size), most, given)
            problem.tried += found.tried
            problem.least = problem.least and found.least
            problem.ties = [self._own(tie, given) for tie in found.repairs]
            problem.gone = [{c: frozenset(wanted) for c in tie.choices} for tie in problem.ties[:1]]
            problem.all_gone = frozenset(wanted) if problem.ties else frozenset()
            problem.mends = wanted if problem.ties else []

    def _other_tie(self, problem: _Problem, near: list[_Problem]) -> None:
        """Where only another of the equal repairs of a short leaves the cure of dead track beside it, put it first."""
        if len(near) != 1 or not problem.ties or any(len(tie.choices) > 1 for tie in near[0].ties):
            return
        (short,) = near
        for tie in short.ties[:MOST_OTHERS]:
            if any(self._hold([(short, tie), (problem, own)]) for own in problem.ties):
                self._put_first(short, tie)
                return

    def _prefer_shared(self, problems: list[_Problem]) -> None:
        """Put first, among repairs of equal weight, those that mend other findings as well."""
        count = Counter(tie for problem in problems for tie in problem.ties)
        for problem in problems:
            if len(problem.ties) > 1:
                ties = sorted(problem.ties, key=lambda tie: (tie.weight, -count[tie]))
                if ties[0] != problem.ties[0] and len(ties[0].choices) == 1 == len(problem.ties[0].choices):
                    problem.ties = ties
                    self._put_first(problem, ties[0])

    def _put_first(self, problem: _Problem, tie: Repair) -> None:
        """Tell another repair, of one choice, first."""
        problem.ties = [tie, *(other for other in problem.ties if other is not tie)]
        problem.all_gone = self.whole.gone(tie.edit, self._subjects(problem.cluster))
        problem.gone = [{tie.choices[0]: problem.all_gone}]

    def _is_shorted(self, problem: _Problem) -> bool:
        return any(key[0] in SHORTS for key in self._subjects(problem.cluster))

    @staticmethod
    def _own(tie: Repair, given: tuple[Choice, ...]) -> Repair:
        own = tuple(c for c in tie.choices if c not in given)
        return Repair(own, sum(c.weight for c in own))

    def _hold(self, repairs: list[tuple[_Problem, Repair]]) -> bool:
        """Whether repairs, made at once, take away what they are for in the whole layout, and break nothing."""
        choices = list(dict.fromkeys(c for _, repair in repairs for c in repair.choices))
        edit = tuple(dict.fromkeys(change for c in choices for change in c.edit))
        parts = [part for c in choices for part in c.of]
        if len(parts) != len(set(parts)):
            return False
        wanted = [key for problem, _ in repairs for key in problem.mends]
        judged = self.whole.judge(edit, wanted)
        return judged is not None and not judged[0].todo

    # -- telling

    def _tell(self, problem: _Problem) -> None:
        if len(problem.mends) < len(self._subjects(problem.cluster)):
            self._give_up(problem)
        if not problem.ties:
            return
        first = problem.ties[0]
        alone = problem.gone[0]
        gone = problem.all_gone | set(problem.mends)
        shared = self._shares(first, alone, frozenset(gone))
        if len(shared) > 1 and not _is_product(problem.ties, [group for group, _ in shared]):
            shared = [(first.choices, [s for _, subjects in shared for s in subjects])]
        for group, subjects in shared:
            others = [c for c in first.choices if c not in group]
            ties = []
            for tie in problem.ties:
                if all(c in tie.choices for c in others):
                    own = tuple(c for c in tie.choices if c not in others)
                    ties.append(Repair(own, sum(c.weight for c in own)))
            number = self._told.get(group)
            if number is None:
                number = self._told[group] = len(self.causes) + 1
                self.causes[number] = Cause(tuple(dict.fromkeys(ties)), problem.tried, problem.least)
            else:
                old = self.causes[number]
                both = tuple(tie for tie in old.repairs if tie in ties)
                self.causes[number] = Cause(both, old.tried + problem.tried, old.least and problem.least)
            self._mark(subjects, number, group)

    def _shares(
        self, repair: Repair, alone: dict[Choice, frozenset[Subject]], gone: frozenset[Subject]
    ) -> list[tuple[tuple[Choice, ...], list[Subject]]]:
        """Which choices of a repair take away what: each by itself, and what needs several by these."""
        if len(repair.choices) == 1:
            return [(repair.choices, sorted(gone))]
        own: dict[Choice, list[Subject]] = {c: [] for c in repair.choices}
        several: list[Subject] = []
        for subject in sorted(gone):
            for one in repair.choices:
                if subject in alone[one]:
                    own[one].append(subject)
                    break
            else:
                several.append(subject)
        idle = tuple(c for c in repair.choices if not any(self._is_target(s) for s in own[c]))
        found: list[tuple[tuple[Choice, ...], list[Subject]]] = [
            ((c,), own[c]) for c in repair.choices if c not in idle
        ]
        rest = [*several, *(s for c in idle for s in own[c])]
        if idle or several:
            group = idle or repair.choices[:1]
            if idle and rest:
                found.append((group, rest))
            elif found:
                (head, subjects), *tail = found
                found = [((*head, *idle), [*subjects, *rest]), *tail]
        return found

    def _is_target(self, subject: Subject) -> bool:
        return any(not self._may_be_meant(n) for n in self.numbers.get(subject, ()))

    def _mark(self, subjects: Iterable[Subject], number: int, choices: tuple[Choice, ...]) -> None:
        mistakes = tuple(one.mistake for one in choices)
        fix = "; ".join(mistake.fix for mistake in mistakes)
        for subject in subjects:
            for n in self.numbers.get(subject, ()):
                finding = self.findings[n]
                if finding.cause:
                    continue
                where = tuple(dict.fromkeys((*(m.span for m in mistakes), *finding.where)))
                self.findings[n] = replace(finding, cause=number, fix=fix, mistakes=mistakes, where=where)
                self.explained.add(n)

    def _give_up(self, problem: _Problem) -> None:
        """Say of what nothing mends that this is so."""
        said = f"no repair of a few changes near it was found ({problem.tried} tried)"
        if problem.least:
            said = (
                "no change of the joints, feeds, contacts, options, plugs and wires that bear on it mends it "
                f"({problem.tried} tried)"
            )
        elif self._is_shorted(problem):
            said += (
                "; more mistakes may lie on one another here than are looked for at once: leave one feed in the file "
                "('#' before the lines of the others), check and mend, then let the others in again one by one"
            )
        for n in problem.cluster.numbers:
            finding = self.findings[n]
            if not finding.cause and self.keys[n] not in problem.mends:
                self.findings[n] = replace(finding, fix=f"{finding.fix}; {said}")
                self.explained.add(n)


def _is_product(ties: list[Repair], groups: list[tuple[Choice, ...]]) -> bool:
    """Whether each tie exchanges the choices of one group alone, so that groups can be told one by one."""
    others = [frozenset(c for group in groups if group is not one for c in group) for one in groups]
    return all(any(rest.issubset(tie.choices) for rest in others) for tie in ties)


def _budget(pieces: int) -> int:
    """The edits that are judged for all that hangs together, in a layout of so many pieces."""
    return max(60, min(BUDGET, BUDGET * 40 // pieces))


def _moved(one: Choice, part: LayoutPart | None) -> Choice:
    """A choice of a part as one of the whole."""
    if part is None:
        return one
    return choice(one.kind, part.in_whole(one.edit), one.headline, one.say, one.span)
