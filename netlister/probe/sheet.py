"""The test sheet: the readings that see every fault that can be seen, as few as can be proved."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.model import Value
from netlister.probe.bench import Bench
from netlister.probe.cover import bits, cover
from netlister.probe.detail import Detail, detail
from netlister.probe.faults import Fault, fault_list
from netlister.probe.local import Sight, allowed
from netlister.probe.scene import FEEDS_OFF, NOTHING, PAPER, Acts

if TYPE_CHECKING:
    from netlister.circuit.model import State
    from netlister.circuit.numbers import Var
    from netlister.layout.model import Layout

MOST_EFFECTS = 50_000
"""Effects (damages times scenes) that are worked out in scenes beyond the usual three."""


class Reading(NamedTuple):
    """One measurement with the supply off. `expect`: whether the good layout beeps."""

    acts: tuple[str, ...]
    state: State
    probes: tuple[int, int]
    expect: bool


class Unseen(NamedTuple):
    """A fault that no reading tells, and why as far as is known."""

    fault: Fault
    why: str
    proved: bool


@dataclass(slots=True)
class Sheet:
    """A test sheet. `seen_by`: per fault, in the order of `faults`, the numbers (from 0) of what sees it."""

    made: Detail
    readings: list[Reading]
    faults: list[Fault]
    classes: list[int]
    seen_by: list[list[int]]
    unseen: list[Unseen]
    bound: int
    weighed: bool
    throws: int = 0
    walk: bool = False
    seen_each: list[list[int]] = field(default_factory=list)  # per damage of all faults what sees it, as in `seen_by`

    @property
    def least(self) -> bool:
        """Whether no sheet from the same states and acts has fewer readings."""
        return self.weighed and self.bound == len(self.readings)


def prepare(layout: Layout) -> tuple[Detail, list[Fault]]:
    """The circuit in detail of a layout and all its faults."""
    made = detail(layout)
    return made, fault_list(made)


def usual_states(made: Detail) -> tuple[State, State]:
    """All variables in their first position and all in their last, as near as `never` allows."""
    last = tuple(Value(len(v.positions) - 1) for v in made.circuit.variables)
    first = allowed(made, ())
    assert first is not None
    end = allowed(made, (), last)
    return first, end if end is not None else first


def make_sheet(made: Detail, faults: list[Fault], *, walk: bool = False) -> Sheet:
    """The shortest sheet that can be proved, in sections: feeds off, all first; bus on, all first; bus on, all last.

    `walk`: every point in these three instead, island by island, and what only other states or acts show as before.
    """
    bench = Bench(made, faults)
    bench.freeze()
    first, last = usual_states(made)
    usual = [bench.add((FEEDS_OFF,), first), bench.add((), first)]
    if last != first:
        usual.append(bench.add((), last))
    seen: set[int] = set()
    for s in usual:
        seen.update(e for e, effect in bench.effects[s].items() if e not in seen and bench.signature(s, effect))
    hidden, doubtful = _further(bench, seen, (first, last))
    return _chosen(bench, (hidden, doubtful), usual if walk else [])


def _further(bench: Bench, seen: set[int], ends: tuple[State, State]) -> tuple[set[int], set[int]]:
    """Add the scenes in which what the usual ones hide is seen. What no scene shows, and what was not settled."""
    made = bench.made
    local = bench.local
    hidden: set[int] = set()
    doubtful: set[int] = set()
    wanted: list[tuple[int, tuple[Sight, ...]]] = []
    tagged = False
    for e, damage in enumerate(bench.damages):
        if e in seen:
            continue
        settled = local.settle(damage, tags=False)
        if not settled.sights:
            settled = local.settle(damage)
            tagged |= bool(settled.sights)
        if settled.sights:
            wanted.append((e, settled.sights))
        else:
            hidden.add(e)
            if not settled.proved:
                doubtful.add(e)
    if tagged:
        bench.points = sorted((*made.points, *made.tags))
        bench.freeze()
        for s, scene in enumerate(bench.scenes):
            by_label: dict[int, list[int]] = {}
            for n in bench.points:
                by_label.setdefault(scene.label[n], []).append(n)
            bench.by_label[s] = by_label
    papers = sorted({act for _, sights in wanted for act in sights[0].acts if act.startswith(PAPER)})
    every = (FEEDS_OFF, *papers)
    together = [(e, tuple(dict.fromkeys(_papered(sight, every) for sight in sights))) for e, sights in wanted]
    missed = set(_add(bench, together, ends))
    _add(bench, [(e, sights) for e, sights in wanted if e in missed], ends)
    return hidden, doubtful


def _papered(sight: Sight, every: tuple[str, ...]) -> Sight:
    """A way to see something with paper, with all the papers at once that are put in at all."""
    return sight._replace(acts=every) if any(act.startswith(PAPER) for act in sight.acts) else sight


def _add(bench: Bench, wanted: list[tuple[int, tuple[Sight, ...]]], ends: tuple[State, State]) -> list[int]:
    """Add scenes in which some damages are seen; gives those that are not seen there after all."""
    made = bench.made
    scenes: dict[tuple[str, ...], list[tuple[dict[Var, Value], list[int]]]] = {}
    for item in wanted:
        _place(made, scenes, ends, item)
    everything = sum(map(len, scenes.values())) * len(bench.damages) <= MOST_EFFECTS
    bench.whole &= everything
    missed: list[int] = []
    for acts in sorted(scenes, key=lambda a: (len(a), a)):
        for where, some in scenes[acts]:
            state = _state(made, where, ends)
            assert state is not None
            s = bench.add(acts, state, None if everything else some)
            effects = bench.effects[s]
            missed += [e for e in some if e not in effects or bench.signature(s, effects[e]) is None]
    return missed


def _state(made: Detail, where: dict[Var, Value], ends: tuple[State, State]) -> State | None:
    """A state with some positions, as near as can be to all first, else to all last."""
    for end in ends:
        if all(end[v] == x for v, x in where.items()):
            return end
    fits = [sum(end[v] == x for v, x in where.items()) for end in ends]
    return allowed(made, tuple(where.items()), ends[1] if fits[1] > fits[0] else ends[0])


def _place(
    made: Detail,
    scenes: dict[tuple[str, ...], list[tuple[dict[Var, Value], list[int]]]],
    ends: tuple[State, State],
    item: tuple[int, tuple[Sight, ...]],
) -> None:
    e, sights = item
    for sight in sights:
        for where, some in scenes.get(sight.acts, ()):
            state = _state(made, where, ends)
            if state is not None and all(state[v] == x for v, x in sight.where):
                where.update(sight.where)
                some.append(e)
                return
    for sight in sights:
        for where, some in scenes.get(sight.acts, ()):
            if all(where.get(v, x) == x for v, x in sight.where):
                both = {**where, **dict(sight.where)}
                state = _state(made, both, ends)
                if state is not None and all(state[v] == x for v, x in both.items()):
                    where.update(sight.where)
                    some.append(e)
                    return
    best = min(sights, key=lambda s: not any(all(end[v] == x for v, x in s.where) for end in ends))
    scenes.setdefault(best.acts, []).append((dict(best.where), [e]))


def _chosen(bench: Bench, rest: tuple[set[int], set[int]], walked: list[int]) -> Sheet:
    faults = bench.faults
    rows: list[int] = []
    at: list[tuple[int, int, int]] = []
    count = len(bench.damages)
    groups = [
        (count + k, sum(1 << e for e in of))
        for k, of in enumerate(bench.of)
        if len(of) > 1 and faults[k].kind == "feed-swapped"
    ]
    group_of = {e: (bit, both) for bit, both in groups for e in bits(both)}
    swapped = sum(both for _, both in groups)
    known: set[int] = set()
    for s in range(len(bench.scenes)):
        for mask, x, y in bench.rows(s):
            row = mask
            for bit, both in {group_of[e] for e in bits(mask & swapped)}:
                if mask & both == both:
                    row |= 1 << bit
            if row not in known:
                known.add(row)
                rows.append(row)
                at.append((s, x, y))
    grouped = {e for k, of in enumerate(bench.of) if faults[k].kind == "feed-swapped" for e in of if len(of) > 1}
    anywhere = 0
    for row in rows:
        anywhere |= row
    ungrouped = {bit for bit, _ in groups if not anywhere >> bit & 1}
    wanted = 0
    for k, of in enumerate(bench.of):
        if count + k in ungrouped or not any(e in grouped for e in of):
            wanted |= sum(1 << e for e in of)
        else:
            wanted |= 1 << (count + k)
    found = cover(rows, wanted)
    chosen = sorted((at[r][0], at[r][1], at[r][2]) for r in found.rows)
    short = _ordered(bench, chosen)
    chosen = short
    if walked:
        every = _walk(bench, walked)
        missed = _sees(bench, short) - _sees(bench, every)
        more = [c for c in short if c[0] not in walked or _sees(bench, [c]) & missed]
        chosen = sorted([*every, *more], key=lambda c: walked.index(c[0]) if c[0] in walked else len(walked))
    seen_by: list[list[int]] = [[] for _ in bench.damages]
    for number, (s, x, y) in enumerate(chosen):
        scene = bench.scenes[s]
        effects = bench.effects[s]
        for e in sorted(bench.concerned(s).by(x, y) if bench.full[s] else bench.ending(s, x, y)):
            effect = effects.get(e) or scene.effect((bench.damages[e],))
            if effect is not NOTHING and scene.sees(x, y, effect):
                seen_by[e].append(number)
    readings = [
        Reading(
            bench.scenes[s].acts.acts,
            bench.scenes[s].state,
            (x, y),
            bench.scenes[s].label[x] == bench.scenes[s].label[y],
        )
        for s, x, y in chosen
    ]
    sheet = _finished(bench, readings, seen_by, (*rest, found.bound))
    sheet.walk, sheet.seen_each = bool(walked), seen_by
    sheet.weighed &= not walked
    return sheet


def _sees(bench: Bench, rows: list[tuple[int, int, int]]) -> set[int]:
    """The damages that some readings see."""
    found: set[int] = set()
    for s, x, y in rows:
        scene, effects = bench.scenes[s], bench.effects[s]
        some = bench.concerned(s).by(x, y)
        found.update(e for e in some if e in effects and scene.sees(x, y, effects[e]))
    return found


def _walk(bench: Bench, walked: list[int]) -> list[tuple[int, int, int]]:
    """Island by island: one lead clipped there, a beep at each of its points, silence at each island beside it.

    An island is beside another if some fault joins the two. With the last of the three only what has changed since the
    one before is touched again.
    """
    made = bench.made
    rails = set(made.circuit.rails)
    found: list[tuple[int, int, int]] = []
    before: dict[int, int] = {}
    for order, s in enumerate(walked):
        label = bench.scenes[s].label
        islands = {one: sorted(some, key=lambda n: (n not in rails, n)) for one, some in bench.by_label[s].items()}
        moved = set(bench.points)
        if order == 2:  # noqa: PLR2004
            moved = {n for n in bench.points if label[n] != label[before[n]]}
        clips = {one: some[0] for one, some in islands.items()}
        for pole in range(len(made.circuit.poles)):
            clips[label[pole]] = pole
        before = {n: clips[label[n]] for n in bench.points}
        beside: dict[int, set[int]] = {}
        for effect in bench.effects[s].values():
            groups: dict[int, set[int]] = {}
            origin = {new: label[node] for node, new in effect.parted.items()}
            for one in {*effect.joined, *effect.joined.values()}:
                groups.setdefault(effect.label(one), set()).add(origin.get(one, one))
            for group in groups.values():
                for a, b in combinations(sorted(group & set(clips)), 2):
                    beside.setdefault(a, set()).add(b)
        for one in sorted(islands, key=lambda one: clips[one]):
            clip = clips[one]
            found += [(s, clip, n) for n in islands[one] if n != clip and n in moved]
            found += [
                (s, clip, clips[other])
                for other in sorted(beside.get(one, ()))
                if moved.intersection(islands[one]) or moved.intersection(islands[other])
            ]
    touched = {n for _, x, y in found for n in (x, y)}
    alone = [(walked[1], pole, n) for n in bench.points if n not in touched for pole in (0, 1)]
    return found + alone  # what hangs on nothing joins neither pole


def _ordered(bench: Bench, chosen: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Within each scene, readings that share a point one after the other, that point first: one lead stays clipped."""
    ordered: list[tuple[int, int, int]] = []
    for s in sorted(range(len(bench.scenes)), key=lambda s: (FEEDS_OFF not in bench.scenes[s].acts.acts, s)):
        left = [(x, y) for t, x, y in chosen if t == s]
        while left:
            uses: dict[int, int] = {}
            for pair in left:
                for n in pair:
                    uses[n] = uses.get(n, 0) + 1
            clip = max(uses, key=lambda n: (uses[n], -n))
            here = [p for p in left if clip in p]
            left = [p for p in left if clip not in p]
            ordered += sorted((s, clip, y if x == clip else x) for x, y in here)
    return ordered


def _finished(
    bench: Bench, readings: list[Reading], seen_by: list[list[int]], rest: tuple[set[int], set[int], int]
) -> Sheet:
    hidden, doubtful, bound = rest
    made = bench.made
    faults: list[Fault] = []
    numbers: list[list[int]] = []
    unseen: list[Unseen] = []
    signs: list[object] = []
    for k, fault in enumerate(bench.faults):
        of = bench.of[k]
        lists = [seen_by[e] for e in of]
        if any(e in hidden or not seen_by[e] for e in of):
            unseen.append(Unseen(fault, _why(bench, [e for e in of if not seen_by[e]]), not doubtful & set(of)))
            continue
        common = sorted(set.intersection(*map(set, lists)))
        faults.append(fault)
        numbers.append(common or sorted(set().union(*map(set, lists))))
        signs.append(
            tuple(
                (s, bench.signature(s, bench.effects[s][e]))
                for s in range(len(bench.scenes))
                for e in of
                if e in bench.effects[s]
            )
        )
    classes: dict[object, int] = {}
    numbered = [classes.setdefault(sign, len(classes) + 1) for sign in signs]
    sheet = Sheet(made, readings, faults, numbered, numbers, unseen, bound, bench.whole)
    sheet.throws = throws(readings)
    return sheet


def throws(readings: list[Reading]) -> int:
    """How many variables are moved from the first reading to the last."""
    total = 0
    for before, after in pairwise(readings):
        total += sum(a != b for a, b in zip(before.state, after.state, strict=True))
    return total


def _why(bench: Bench, damages: list[int]) -> str:
    """Why a fault is not seen, and what would have to be lifted to see it."""
    made = bench.made
    local = bench.local
    changes = False
    for e in damages:
        damage = bench.damages[e]
        for acts in ((), (FEEDS_OFF,)):
            around, edited, _ = local.around(damage, Acts(made, acts))
            changes |= bool(edited)
            owners = sorted({c.owner for c in around.values() if c.what == "lead"} & set(made.commons))
            for owner in owners:
                for more in ((), tuple(sorted({c.owner for c in around.values()} & local.papered))):
                    lifted = Acts(made, (*acts, *(f"paper:{p}" for p in more), f"lead-off:{owner}"))
                    found, _ = local.seen(damage, lifted, tags=True)
                    if found:
                        also = f" and paper between the blades of {', '.join(more)}" if more else ""
                        return (
                            "what it breaks or joins is also joined another way; "
                            f"with the common lead of {owner} off{also} it would be seen"
                        )
    if not changes:
        return "nothing that conducts is different"
    return "what it parts is joined another way too, or it joins what is joined already"
