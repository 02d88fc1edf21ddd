"""Find the least repairs of each problem: looked for in a part of the layout, then proved in the whole of it."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from netlister.repairs import lighter
from netlister.repairs.agreeing import agree, around
from netlister.repairs.choices import Choices
from netlister.repairs.model import Repair, Together, choice
from netlister.repairs.part import SMALL, part_around
from netlister.repairs.problems import Problem
from netlister.repairs.search import MOST_TIES, Search, terminals_at
from netlister.session import Session

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.repairs.model import Choice
    from netlister.repairs.part import LayoutPart
    from netlister.repairs.problems import Wrong
    from netlister.repairs.search import Subject
    from netlister.rules.judging import Judging
    from netlister.rules.model import Rule

TRIAL_LIMIT = 200_000
"""Steps of proof for one region or subject in a trial."""

BUDGET = 300
"""Edits that are judged for one problem, at the most; fewer where the part is large."""

EACH = 60
"""Edits that are judged for one finding, where no repair of a whole problem was found."""

PATIENCE = 3000
"""Edits that are judged further in all, in a small layout, for problems that were not mended whole within those."""

MOST_OTHERS = 6
"""Equal repairs of a short that are tried beside those of what is near it."""

MOST_MISTAKES = 60
"""Choices of one repair, beyond which the rest of a problem is told unmended."""


class Solving:
    """Solves the problems of a layout.

    `together`: what mends all of them at once, where the layout is small enough to look for that.
    """

    def __init__(self, judging: Judging, rules: list[Rule], wrong: Wrong, keep: frozenset[str]) -> None:
        self.judging = judging
        self.analysis = judging.analysis
        self.layout = judging.analysis.layout
        self.rules = rules
        self.wrong = wrong
        self.keep = keep
        self.patience = PATIENCE
        self.together: Together | None = None
        self.choices = Choices(self.layout, keep)
        self._whole: Search | None = None

    @property
    def whole(self) -> Search:
        """The search in the whole layout."""
        if self._whole is None:
            self._whole = Search(Session.on(self.judging, self.rules), self.choices)
        return self._whole

    @property
    def is_small(self) -> bool:
        """Whether the layout is looked at whole."""
        return len(self.layout.pieces) <= SMALL

    def run(self, problems: list[Problem]) -> list[Problem]:
        """The problems with their repairs; several may have become one."""
        known: list[Problem] = []
        for problem in problems:
            part = part_around(self.analysis, self.choices, problem.pieces)
            if part is None or not self._in_part(problem, part):
                self._solve(problem, self.whole, None, problem.subjects)
            else:
                known.append(problem)
        self._prefer_shared(problems)
        self._prove(known)
        self._prefer_shared(problems)
        self._beside_shorts(problems)
        return self._at_once(problems) if self.is_small else self._one_for_several(problems)

    # -- several problems as one

    def _at_once(self, problems: list[Problem]) -> list[Problem]:
        """In a small layout all problems as one, where that needs less, or their repairs disturb one another."""
        if len(problems) == 1:
            (one,) = problems
            self.together = Together(tuple(one.ties), one.least) if one.is_solved else None
            return problems
        whole = Problem.of(problems, self.wrong.keys)
        firsts = {n: p.ties[0] for n, p in enumerate(problems) if p.ties}
        if len(firsts) == len(problems) and agree(self.whole, firsts):
            held = self._hold([(problems[n], tie) for n, tie in firsts.items()])
            if held and all(p.least for p in problems):
                weight = sum(c.weight for c in {c for tie in firsts.values() for c in tie.choices})
                subjects = [p.subjects for p in problems]
                found = lighter.all_at_once(self.whole, subjects, weight, _budget(len(self.layout.pieces)))
                if found is None:
                    self.together = Together((), True)
                    return problems
                self.together = Together(found.repairs, found.least)
                if not found.repairs or found.repairs[0].weight >= weight:
                    return problems
                whole.tried = found.tried
                self._settle(whole, self.whole, None, list(found.repairs))
                return [whole]
        self._solve(whole, self.whole, None, whole.subjects)
        if not whole.is_solved:
            return problems
        self.together = Together(tuple(whole.ties), whole.least)
        return [whole]

    def _one_for_several(self, problems: list[Problem]) -> list[Problem]:
        """In a large layout several problems as one, where a single choice mends them for less."""
        solved = [p for p in problems if p.is_solved]
        found = lighter.one_for_several(self.whole, [lighter.Solved(p.subjects, p.ties[0].weight) for p in solved])
        if found is None:
            return problems
        choices, numbers = found
        merged = [solved[n] for n in numbers]
        made = Problem.of(merged, self.wrong.keys)
        made.least, made.tried = all(p.least for p in merged), sum(p.tried for p in merged)
        self._settle(made, self.whole, None, [Repair((c,), c.weight) for c in choices])
        return self._one_for_several([made, *(p for p in problems if p not in merged)])

    # -- one problem

    def _in_part(self, problem: Problem, part: LayoutPart) -> bool:
        """Solve a problem in a part of the layout, and tell it in subjects of the whole.

        False, and nothing is done, where the part does not show all that is broken.
        """
        search = Search(Session.of(part.held, self.rules, TRIAL_LIMIT), Choices(part.layout, self.keep))
        named = self._named_there(problem, search)
        if named is None:
            return False
        there: dict[Subject, list[Subject]] = {}
        for outside, inside in named.items():
            there.setdefault(inside, []).append(outside)
        self._solve(problem, search, part, list(there))

        def back(keys: Iterable[Subject]) -> list[Subject]:
            return [outside for key in keys for outside in there.get(key, (key,))]

        problem.mends = back(problem.mends)
        problem.all_gone = frozenset(back(problem.all_gone))
        problem.gone = {one: frozenset(back(gone)) for one, gone in problem.gone.items()}
        return True

    def _named_there(self, problem: Problem, search: Search) -> dict[Subject, Subject] | None:
        """Per subject of a problem its name in a part of the layout, or None where one is not broken there.

        A place is named by one of its terminals, and the part may not have that one.
        """
        found: dict[Subject, Subject] = {}
        for number in problem.numbers:
            key = self.wrong.keys[number]
            if key in search.broken:
                found[key] = key
                continue
            here = terminals_at(self.analysis, self.wrong.broken[number]) if key[0] == "pole-short" else frozenset()
            inside = search.session.analysis
            for other in search.session.broken if here else ():
                if other.key[:2] == key[:2] and not here.isdisjoint(terminals_at(inside, other)):
                    found[key] = other.key
                    break
            else:
                return None
        return found

    def _solve(self, problem: Problem, search: Search, part: LayoutPart | None, wanted: list[Subject]) -> None:
        """Find the repairs of a problem. `wanted`: its subjects as they are called there."""
        size = max(len(search.choices.layout.pieces), 1)
        ties: list[Repair] = []
        groups = search.apart(wanted)
        if len(groups) > 1:
            ties = self._by_groups(problem, search, groups, size)
        if not ties:
            found = search.least(wanted, _budget(size))
            ties = list(found.repairs)
            problem.least = found.least
            problem.tried += found.tried
        if not ties:
            ties = self._one_by_one(search, wanted, max(40, min(EACH, EACH * 40 // size))) if len(wanted) > 1 else []
            problem.least = problem.least and not ties
        if ties:
            self._settle(problem, search, part, ties, wanted)
        if len(problem.mends) < len(wanted) and len(groups) <= 1:
            self._patiently(problem, search, part, wanted)

    def _patiently(self, problem: Problem, search: Search, part: LayoutPart | None, wanted: list[Subject]) -> None:
        """Look on for what mends all of a problem: in a small layout a person can wait, rather than be told nothing."""
        if self.patience <= 0 or not self.is_small or (problem.least and not problem.ties):
            return
        found = search.least(wanted, self.patience)
        self.patience -= found.tried
        problem.tried += found.tried
        if found.repairs:
            problem.least = found.least
            self._settle(problem, search, part, list(found.repairs), wanted)

    @staticmethod
    def _settle(
        problem: Problem,
        search: Search,
        part: LayoutPart | None,
        ties: list[Repair],
        wanted: list[Subject] | None = None,
    ) -> None:
        """Note the repairs of a problem, and what each choice of the first of them takes away."""
        first = ties[0]
        wanted = problem.subjects if wanted is None else wanted
        problem.all_gone = search.gone(first.edit, wanted)
        problem.mends = [key for key in wanted if key in problem.all_gone]
        alone: dict[Choice, frozenset[Subject]] = {}
        for one in first.choices:
            alone[one] = search.gone(one.edit, wanted) if len(first.choices) > 1 else problem.all_gone
        moved = {one: _moved(one, part) for tie in ties for one in tie.choices}
        problem.ties = [tie._replace(choices=tuple(moved[one] for one in tie.choices)) for tie in ties]
        problem.gone = {moved[one]: gone for one, gone in alone.items()}

    def _by_groups(self, problem: Problem, search: Search, groups: list[list[Subject]], size: int) -> list[Repair]:
        """Repairs of a problem whose subjects fall into groups without a choice in common.

        The least of each group together, if they do not disturb one another; none if they do. Equal ones are those
        with one group's least exchanged for an equal one.
        """
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

    def _prove(self, problems: list[Problem]) -> None:
        """Keep only repairs that hold in the whole layout; a problem whose first does not is solved there anew.

        The first repairs of all problems are judged at once, then the second ones, and so on; only where that does not
        hold each by itself.
        """
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
                p.ties, p.gone = [], {}
                self._solve(p, self.whole, None, p.subjects)
            else:
                p.ties = good[id(p)]

    def _beside_shorts(self, problems: list[Problem]) -> None:
        """Keep of the repairs of dead track those that hold once the shorts near it are mended, too.

        A rail that a short gives two poles counts as fed, so that beside one a wrong wire may look like a right one.
        """
        shorted = [p for p in problems if p.ties and p.is_shorted]
        at: dict[str, list[Problem]] = {}
        for short in shorted:
            for name in around(self.choices, short.pieces):
                at.setdefault(name, []).append(short)
        for problem in problems if shorted else ():
            near: dict[int, Problem] = {}
            if not problem.is_shorted:
                near = {id(p): p for name in around(self.choices, problem.pieces) for p in at.get(name, ())}
            if near:
                self._beside(problem, list(near.values()))

    def _beside(self, problem: Problem, near: list[Problem]) -> None:
        """Keep of the repairs of one problem those that hold with the shorts near it mended, or look for others."""
        self._other_tie(problem, near)
        others = [(p, p.ties[0]) for p in near]
        kept = [tie for tie in problem.ties if self._hold([*others, (problem, tie)])]
        if kept and kept[0] is problem.ties[0]:
            problem.ties = kept
            return
        if not problem.ties and len(problem.mends) == len(problem.subjects):
            return
        given = tuple(dict.fromkeys(c for _, tie in others for c in tie.choices))
        budget = _budget(max(len(self.layout.pieces), 1))
        found = self.whole.least(problem.subjects, budget, 12 + sum(c.weight for c in given), given)
        problem.tried += found.tried
        problem.least = problem.least and found.least
        problem.ties = [_own(tie, given) for tie in found.repairs]
        problem.gone = {c: frozenset(problem.subjects) for tie in problem.ties[:1] for c in tie.choices}
        problem.all_gone = frozenset(problem.subjects) if problem.ties else frozenset()
        problem.mends = problem.subjects if problem.ties else []

    def _other_tie(self, problem: Problem, near: list[Problem]) -> None:
        """Where only another of the equal repairs of a short leaves the cure of dead track beside it, put it first."""
        if len(near) != 1 or not problem.ties or any(len(tie.choices) > 1 for tie in near[0].ties):
            return
        (short,) = near
        for tie in short.ties[:MOST_OTHERS]:
            if any(self._hold([(short, tie), (problem, own)]) for own in problem.ties):
                self._put_first(short, tie)
                return

    def _prefer_shared(self, problems: list[Problem]) -> None:
        """Put first, among repairs of equal weight, those that mend other findings as well."""
        count = Counter(tie for problem in problems for tie in problem.ties)
        for problem in problems:
            if len(problem.ties) > 1:
                ties = sorted(problem.ties, key=lambda tie: (tie.weight, -count[tie]))
                if ties[0] != problem.ties[0] and len(ties[0].choices) == 1 == len(problem.ties[0].choices):
                    problem.ties = ties
                    self._put_first(problem, ties[0])

    def _put_first(self, problem: Problem, tie: Repair) -> None:
        """Tell another repair, of one choice, first."""
        problem.ties = [tie, *(other for other in problem.ties if other is not tie)]
        problem.all_gone = self.whole.gone(tie.edit, problem.subjects)
        problem.gone = {tie.choices[0]: problem.all_gone}

    def _hold(self, repairs: list[tuple[Problem, Repair]]) -> bool:
        """Whether repairs, made at once, take away what they are for in the whole layout, and break nothing."""
        choices = list(dict.fromkeys(c for _, repair in repairs for c in repair.choices))
        edit = tuple(dict.fromkeys(change for c in choices for change in c.edit))
        parts = [part for c in choices for part in c.of]
        if len(parts) != len(set(parts)):
            return False
        wanted = [key for problem, _ in repairs for key in problem.mends]
        judged = self.whole.judge(edit, wanted)
        return judged is not None and not judged[0].todo


def _own(tie: Repair, given: tuple[Choice, ...]) -> Repair:
    """A repair without choices that are made in any case."""
    own = tuple(c for c in tie.choices if c not in given)
    return Repair(own, sum(c.weight for c in own))


def _budget(pieces: int) -> int:
    """The edits that are judged for one problem, in a layout of so many pieces."""
    return max(60, min(BUDGET, BUDGET * 40 // pieces))


def _moved(one: Choice, part: LayoutPart | None) -> Choice:
    """A choice of a part of the layout as the same choice in the whole."""
    if part is None:
        return one
    return choice(one.kind, part.in_whole(one.edit), one.headline, one.say, one.span)
