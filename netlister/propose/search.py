"""Look for the cheapest wiring, write it into the text, and believe it only when the text read back checks clean."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from netlister.propose.aims import promised, saving
from netlister.propose.bound import least_cost
from netlister.propose.colours import free_already
from netlister.propose.model import NO_WIRE, PRICES, SWITCHING, Preferences
from netlister.propose.sections import choices
from netlister.propose.trial import Trial
from netlister.propose.volts import RULES as VOLTS
from netlister.propose.volts import holding

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from netlister.layout.model import Layout, Wire
    from netlister.propose.model import Section
    from netlister.propose.proposal import Proposal
    from netlister.source import Source

TRIES = 12
"""Choices of reversing sections that are proved at the most."""


def propose(  # noqa: PLR0913 - what there is to choose
    layout: Layout,
    source: Source,
    prices: dict[str, float] | None = None,
    aim: str = "all-live",
    folder: Path | None = None,
    *,
    frogs: str = "contact",
    tell: Callable[[str], None] | None = None,
    volts: bool = False,
    wire: Wire = NO_WIRE,
) -> Proposal:
    """The cheapest wiring that is found for the track of a layout; what is written is kept.

    `frogs`: "contact" or "unit", what a frog gets. `volts`: add feeders until voltage and breakers hold as well; then
    frogs get contacts, since blades lose much. `wire`: of each feeder that is added. `tell` is told what is being done.
    Stopped by the keyboard it gives the best so far. Raises EditError where the text cannot take the changes.
    """
    prices = {**PRICES, **(prices or {})}
    aim = "no-blades" if volts and aim == "all-live" else aim
    trial = Trial(layout, source, prices, folder, tell)
    best: Proposal | None = None
    longest = max((train.length or 0.0 for train in layout.trains.values()), default=0.0)
    made = [
        (trial.design(choice), choice)
        for choice in (
            Preferences(s, aim, frogs=frogs, wire=wire) for s in choices(trial.base, free_already(trial.base))
        )
    ]
    made.sort(
        key=lambda m: (
            len(m[0].missing),
            _length(layout, m[1].sections) < longest if m[1].sections else False,
            promised(m[0], prices),
            -_length(layout, m[1].sections),
        )
    )
    try:
        for one, choice in made[:TRIES]:
            found = saving(trial, choice) if one.savings or aim in SWITCHING else trial.proved(one)
            if not found.right:
                found = _otherwise(trial, found, choice)
            if best is None or _rank(found) < _rank(best):
                best = found
            if best.right:
                break
        if volts and best is not None and not best.missing and all(f.rule in VOLTS for f in best.left):
            best = holding(trial, best)
    except KeyboardInterrupt:
        trial.stopped = True
    if best is None:
        best = trial.unchecked(made[0][0])
    bound = min(best.cost, least_cost(trial, aim, frogs))
    return replace(best, bound=bound, stopped=trial.stopped, aim=aim, volts=volts)


def _rank(found: Proposal) -> tuple[int, int]:
    return len(found.missing), len(found.left)


def _otherwise(trial: Trial, found: Proposal, choice: Preferences) -> Proposal:
    """A wiring once more: with wires to what floats still, other gear at crossings, switches thrown by hand."""
    best = found
    extra = frozenset(t for f in found.left if f.rule == "floating-net" for t in f.terminals)
    tried = [found.design]
    for by_hand in (False, True):
        for crossings in ("contact", "unit", "reverser"):
            made = trial.design(choice._replace(extra=extra, crossings=crossings, by_hand=by_hand))
            if made in tried:
                continue
            tried.append(made)
            again = trial.proved(made)
            if _rank(again) < _rank(best):
                best = again
            if best.right:
                return best
    return best


def _length(layout: Layout, sections: tuple[Section, ...]) -> float:
    return min((sum(layout.pieces[n].length or 0.0 for n in section.pieces) for section in sections), default=0.0)
