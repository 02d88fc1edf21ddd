"""What any wiring with an aim costs at the least: the bound that stands beside what was found."""

from __future__ import annotations

from itertools import combinations, product
from typing import TYPE_CHECKING

from netlister.edits.model import Insulate
from netlister.propose.aims import rank_of
from netlister.propose.colours import free_already
from netlister.propose.model import Preferences, Section
from netlister.propose.track import Track

if TYPE_CHECKING:
    from netlister.propose.model import Design
    from netlister.propose.trial import Trial

DESIGNS = 20_000
"""Designs that are made for a bound, times the pieces of the layout, are no more than this."""


def least_cost(trial: Trial, aim: str, frogs: str) -> float:
    """What any wiring with this aim costs at the least.

    Without a reversing section every joiner, wire and contact of the design is needed, but for joiners between frogs
    that one machine moves; and the reverser of a bridge or a crossing might be two contacts, a frog unit one. Where
    turnouts may switch track, each net might do without its wires and with fewer joiners.

    A circle that comes back turned round leaves a section and enters it again as often, so that two of its joints at
    the least are ends of a section, cut on both rails, and there is a reverser. The cheapest such pair is looked for;
    more cuts need no fewer wires. Circles that share no joint have two such joints each: where there are few, the
    cheapest of all their pairs together. A reverser that is written already may be the one.
    """
    bare = trial.design(Preferences((), aim, frogs=frogs))
    if not bare.contradictions:
        return _floor(trial, bare)
    track = Track(trial.base)
    gaps = track.gaps()
    circles = list(track.circles({*free_already(trial.base), *gaps}))
    bridges = tuple(Section((), (number,)) for number in gaps)
    if not circles:  # all come back over a bridge, which has a reverser in any case
        return _floor(trial, trial.design(Preferences(bridges, aim, frogs=frogs)))
    there = _cuts(trial, bare)
    reverser = 0.0 if trial.base.reversers else trial.prices["reverser"]
    return reverser + _of_circles(trial, circles, Preferences(bridges, aim, frogs=frogs), there)


def _floor(trial: Trial, made: Design) -> float:
    """What is left of the cost of a design if all that is in doubt, and all that turnouts might save, is taken off."""
    prices = trial.prices
    saved = sum(max(rank_of(one, prices) for one in group) for group in made.savings if group[0].wires)
    reverser = max(0.0, prices["reverser"] + 2 * prices["feed"] - 2 * prices["contact"])
    unit = max(0.0, prices["unit"] - prices["contact"])
    doubt = made.doubtful * prices["joiner"] + made.reversers * reverser + made.counted["unit"] * unit
    doubt += min(made.spared, made.contacts + made.counted["unit"]) * prices["contact"]
    return made.cost(prices) - saved - doubt


def _cuts(trial: Trial, bare: Design) -> dict[int, int]:
    """How many rails of each joint are cut in any case."""
    there = {n: sum(cut for _, _, cut in joint.pairs) for n, joint in enumerate(trial.base.joints)}
    for change, _ in bare.changes:
        if isinstance(change, Insulate):
            there[change.joint] += 1
    return there


def _of_circles(trial: Trial, circles: list[set[int]], choice: Preferences, there: dict[int, int]) -> float:
    """The least cost, but for the reverser, where two joints of each circle are ends of a section.

    As many circles as can be are looked at together, each pair of the one with each of the others; the rest for their
    joiners alone.
    """
    pairs = [list(combinations(sorted(circle), 2)) for circle in circles]
    looked = 0
    count = len(trial.base.pieces)
    while looked < len(pairs) and pairs[looked] and count * len(pairs[looked]) <= DESIGNS:
        count *= len(pairs[looked])
        looked += 1
    joiners = sum(max(0, 4 - sum(sorted((there[n] for n in circle), reverse=True)[:2])) for circle in circles[looked:])
    return joiners * trial.prices["joiner"] + min(
        _floor(
            trial, trial.design(choice._replace(sections=(*choice.sections, *(Section((), pair) for pair in chosen))))
        )
        for chosen in product(*pairs[:looked])
    )
