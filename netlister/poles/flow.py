"""How far what reaches one place leads on, over links that conduct in some states."""

from __future__ import annotations

from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING, TypeVar

from netlister.poles.diagram import NEVER

if TYPE_CHECKING:
    from netlister.poles.diagram import Diagrams, Function

P = TypeVar("P")
S = TypeVar("S")


def flow(diagrams: Diagrams, links: dict[P, dict[P, Function]], reach: dict[P, dict[S, Function]]) -> None:
    """Let what reaches each place reach those beyond too, while the link to them conducts, as far as it leads.

    `links`: place -> place beyond -> function. `reach`: place -> what reaches it -> function; it is changed in place.

    Places are taken out one after the other, as in S. C. Kleene's proof on finite automata (1956), those with the
    fewest ways over them first: what leads over one is put into links between its neighbours. Then, backwards, each
    gets what reaches its neighbours.
    """
    both, either = diagrams.both, diagrams.either
    out = {place: {b: when for b, when in near.items() if b != place} for place, near in links.items()}
    into: dict[P, dict[P, Function]] = {place: {} for place in out}
    for place, near in out.items():
        for other, when in near.items():
            into[other][place] = when
    order = {place: number for number, place in enumerate(out)}
    heap = [(len(into[place]) * len(near), order[place], place) for place, near in out.items()]
    heapify(heap)
    taken = []
    while heap:
        ways, _, place = heappop(heap)
        if place not in out or len(into[place]) * len(out[place]) != ways:
            continue  # it was taken out, or stands elsewhere in the heap
        before, beyond = into.pop(place), out.pop(place)
        taken.append((place, before))
        for a in before:
            del out[a][place]
        for b, to_b in beyond.items():
            del into[b][place]
            _let_in(diagrams, reach[b], reach[place], to_b)
            for a, from_a in before.items():
                over = NEVER if a == b else both(from_a, to_b)
                if over != NEVER:
                    out[a][b] = into[b][a] = either(out[a].get(b, NEVER), over)
        for other in before.keys() | beyond.keys():
            heappush(heap, (len(into[other]) * len(out[other]), order[other], other))
    for place, before in reversed(taken):
        for other, when in before.items():
            _let_in(diagrams, reach[place], reach[other], when)


def _let_in(diagrams: Diagrams, there: dict[S, Function], here: dict[S, Function], when: Function) -> None:
    """Let what reaches one place reach another while a link conducts."""
    for source, function in here.items():
        joined = diagrams.both(function, when)
        if joined != NEVER:
            there[source] = diagrams.either(there.get(source, NEVER), joined)
