"""What any wiring with an aim costs at the least: the bound that stands beside what was found."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from netlister.edits.model import Insulate
from netlister.propose.aims import rank_of
from netlister.propose.colours import free_already
from netlister.propose.model import SWITCHING, Choice, Section
from netlister.propose.track import Track

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.propose.model import Design
    from netlister.propose.trial import Trial

DESIGNS = 20_000
"""Pairs of joints that are designed with for a bound, times the pieces of the layout, are bounded by this."""


def least_cost(trial: Trial, made: Design, aim: str, frogs: str) -> float:
    """What any wiring with this aim costs at the least.

    Without a reversing section every joiner, wire and contact of the design is needed, but for joiners between frogs
    that one machine moves; and the reverser of a bridge or a crossing might be two contacts, a frog unit one. Where
    turnouts may switch track, each net might do without its wires and with fewer joiners.

    A circle that comes back turned round leaves a section and enters it again as often, so that two of its joints at
    the least are ends of a section, cut on both rails, and there is a reverser. The cheapest such pair is looked for;
    more cuts need no fewer wires. Circles that share no joint have two such joints each.
    """
    bare = trial.design(Choice((), aim, frogs=frogs))
    if not bare.contradictions:
        if aim in SWITCHING:
            return _floor(trial, bare)
        reverser, unit = _doubts(trial.prices)
        doubt = made.doubtful * trial.prices["joiner"] + made.reversers * reverser + made.counted["unit"] * unit
        return made.cost(trial.prices) - doubt
    free = free_already(trial.base)
    first, *others = _circles(Track(trial.base), free)
    there = _cuts(trial, bare)
    more = sum(max(0, 4 - sum(sorted((there[n] for n in circle), reverse=True)[:2])) for circle in others)
    return _of_circle(trial, first, aim, frogs, there) + trial.prices["reverser"] + more * trial.prices["joiner"]


def _doubts(prices: dict[str, float]) -> tuple[float, float]:
    """What a reverser, and a frog unit, might cost less if it were contacts."""
    return max(0.0, prices["reverser"] + 2 * prices["feed"] - 2 * prices["contact"]), max(
        0.0, prices["unit"] - prices["contact"]
    )


def _floor(trial: Trial, made: Design) -> float:
    """What is left of the cost of a design if all that is in doubt, and all that turnouts might save, is taken off."""
    saved = sum(max(rank_of(one, trial.prices) for one in group) for group in made.savings)
    reverser, unit = _doubts(trial.prices)
    doubt = made.doubtful * trial.prices["joiner"] + made.reversers * reverser + made.counted["unit"] * unit
    return made.cost(trial.prices) - saved - doubt


def _circles(track: Track, free: set[int]) -> Iterator[set[int]]:
    """Circles that come back turned round, one after the other, none with a joint of another."""
    taken = set(free)
    while circle := track.circle(taken) - taken:
        yield circle
        taken |= circle


def _cuts(trial: Trial, bare: Design) -> dict[int, int]:
    """How many rails of each joint are cut in any case."""
    there = {n: sum(cut for _, _, cut in joint.pairs) for n, joint in enumerate(trial.base.joints)}
    for change, _ in bare.changes:
        if isinstance(change, Insulate):
            there[change.joint] += 1
    return there


def _of_circle(trial: Trial, circle: set[int], aim: str, frogs: str, there: dict[int, int]) -> float:
    """The least cost, but for the reverser, where two joints of a circle are ends of a section."""
    pairs = list(combinations(sorted(circle), 2))
    if len(pairs) * len(trial.base.pieces) > DESIGNS or not pairs:
        top = sum(sorted((there[n] for n in circle), reverse=True)[:2])
        without = _floor(trial, trial.design(Choice((), aim, frogs=frogs)))
        return without + max(0, 4 - top) * trial.prices["joiner"]
    return min(_floor(trial, trial.design(Choice((Section((), pair),), aim, frogs=frogs))) for pair in pairs)
