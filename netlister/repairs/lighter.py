"""What was found piece by piece, looked at together: does something lighter do the same?"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from netlister.repairs.model import Choice, Repair
    from netlister.repairs.search import Found, Search, Subject

MOST_AGAIN = 6
"""Choices of a repair that was found one by one, beyond which none is looked for that is lighter."""

MOST_PROBLEMS = 60
"""Problems beyond which no choice is looked for that mends several."""

MOST_TRIED = 12
"""Choices that may mend several problems of which the whole layout is asked."""


class Solved(NamedTuple):
    """What is wrong at one place, and what its own repair weighs."""

    wanted: list[Subject]
    weight: int


def all_at_once(search: Search, problems: list[list[Subject]], weight: int, budget: int) -> Found | None:
    """What mends all problems for a weight at the most; None where no two of them have a choice in common."""
    wanted = [key for keys in problems for key in keys]
    if len(search.apart(wanted)) == len(problems):
        return None
    return search.least(wanted, budget, weight)


def two_by_one(search: Search, mended: list[Subject], made: Repair, budget: int) -> Repair:
    """A repair that does the same and weighs less, if another one stands for any two of its choices."""
    if len(made.choices) > MOST_AGAIN:
        return made
    for out in combinations(made.choices, 2):
        if any(c not in made.choices for c in out):
            continue
        kept = tuple(c for c in made.choices if c not in out)
        found = search.least(mended, budget, made.weight - 1, kept)
        if found.repairs:
            made = found.repairs[0]
    return made


def one_for_several(search: Search, problems: list[Solved]) -> tuple[list[Choice], list[int]] | None:
    """Choices each of which mends the same several problems for less than their own repairs, and which problems.

    A common return that is not written shows at many places, each with a cure of its own.
    """
    if not 1 < len(problems) <= MOST_PROBLEMS:
        return None
    where = {key: n for n, problem in enumerate(problems) for key in problem.wanted}
    at: dict[Choice, set[int]] = {}
    seen: set[Subject] = set()
    for broken in search.session.broken:
        if broken.key in where and broken.key not in seen:
            seen.add(broken.key)
            for chosen in search.clause(search.session.analysis, broken):
                at.setdefault(chosen, set()).add(where[broken.key])
    saved = {c: sum(problems[n].weight for n in found) - c.weight for c, found in at.items() if len(found) > 1}
    best: tuple[int, list[Choice], list[int]] = (0, [], [])
    for chosen in sorted((c for c in saved if saved[c] > 0), key=lambda c: -saved[c])[:MOST_TRIED]:
        near = sorted(at[chosen])
        judged = search.judge(chosen.edit, wanted := [key for n in near for key in problems[n].wanted])
        if judged is None or not judged[0].todo.keys() <= set(wanted):
            continue
        solved = [n for n in near if judged[0].todo.keys().isdisjoint(problems[n].wanted)]
        spared = sum(problems[n].weight for n in solved) - chosen.weight
        if spared > best[0]:
            best = (spared, [chosen], solved)
        elif spared == best[0] > 0 and solved == best[2]:
            best[1].append(chosen)
    return (best[1], best[2]) if len(best[2]) > 1 else None
