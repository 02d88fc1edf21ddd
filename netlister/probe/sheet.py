"""The test sheet: the readings that see every fault that can be seen, as few as can be proved."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.model import Value
from netlister.probe.cover import bits, cover
from netlister.probe.detail import Detail, detail
from netlister.probe.faults import Edit, Fault, fault_list
from netlister.probe.local import Local, Sight, allowed
from netlister.probe.scene import FEEDS_OFF, NOTHING, PAPER, Acts, Effect, Scene

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.model import State
    from netlister.circuit.numbers import Var
    from netlister.layout.model import Layout

FEW = 70
"""Up to so many kinds of points in one island every pair of them is weighed; beyond that, those farthest out."""
MOST_EFFECTS = 50_000
"""Effects (edits times scenes) that are worked out in scenes beyond the usual three."""


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
    seen_each: list[list[int]] = field(default_factory=list)  # per edit of all faults what sees it, as in `seen_by`

    @property
    def least(self) -> bool:
        """Whether no sheet from the same states and acts has fewer readings."""
        return self.weighed and self.bound == len(self.readings)


class Concerned(NamedTuple):
    """Per node the edits that part it from the rest, per label the edits that join it to another."""

    label: list[int]
    parted: dict[int, list[int]]
    joined: dict[int, set[int]]

    def by(self, x: int, y: int) -> set[int]:
        """The edits that the reading between two points may tell; no other does."""
        found = {*self.parted.get(x, ()), *self.parted.get(y, ())}
        a, b = self.label[x], self.label[y]
        if a != b and a in self.joined and b in self.joined:
            found |= self.joined[a] & self.joined[b]
        return found


class Bench:
    """All faults of a layout and what they change in the scenes of a sheet."""

    def __init__(self, made: Detail, faults: list[Fault]) -> None:
        self.made, self.faults = made, faults
        self.edits: list[Edit] = [edit for fault in faults for edit in fault.edits]
        first = 0
        self.of: list[range] = []
        for fault in faults:
            self.of.append(range(first, first + len(fault.edits)))
            first += len(fault.edits)
        self.scenes: list[Scene] = []
        self.effects: list[dict[int, Effect]] = []
        self.by_label: list[dict[int, list[int]]] = []
        self._concerned: dict[int, Concerned] = {}
        self._ending: dict[int, dict[int, list[int]]] = {}
        self.points = made.points
        self.whole = True
        self.local = Local(made)
        self.full: list[bool] = []
        self.ends: list[tuple[int, ...]] = [
            tuple({end for c in (*(made.conductors[n] for n in edit.out), *edit.into) for end in (c.a, c.b)})
            for edit in self.edits
        ]

    def add(self, acts: tuple[str, ...], state: State, edits: Iterable[int] | None = None) -> int:
        """Look at a scene; `edits`: only these are worked out."""
        scene = Scene(self.made, Acts(self.made, acts), state)
        found: dict[int, Effect] = {}
        for e in range(len(self.edits)) if edits is None else edits:
            effect = scene.effect((self.edits[e],))
            if effect is not NOTHING:
                found[e] = effect
        self.full.append(edits is None)
        self.scenes.append(scene)
        self.effects.append(found)
        by_label: dict[int, list[int]] = {}
        for n in self.points:
            by_label.setdefault(scene.label[n], []).append(n)
        self.by_label.append(by_label)
        return len(self.scenes) - 1

    def concerned(self, s: int) -> Concerned:
        """Which edits a reading of a scene can tell at all; made once per scene."""
        if s not in self._concerned:
            parted: dict[int, list[int]] = {}
            joined: dict[int, set[int]] = {}
            for e, effect in self.effects[s].items():
                for node in effect.parted:
                    parted.setdefault(node, []).append(e)
                for label in effect.joined:
                    joined.setdefault(label, set()).add(e)
            self._concerned[s] = Concerned(self.scenes[s].label, parted, joined)
        return self._concerned[s]

    def ending(self, s: int, x: int, y: int) -> set[int]:
        """The edits of a conductor with an end in what beeps with one of two points."""
        if s not in self._ending:
            found: dict[int, list[int]] = {}
            label = self.scenes[s].label
            for e, ends in enumerate(self.ends):
                for one in {label[n] for n in ends}:
                    found.setdefault(one, []).append(e)
            self._ending = {s: found}  # readings come scene by scene
        index, label = self._ending[s], self.scenes[s].label
        return {*index.get(label[x], ()), *index.get(label[y], ())}

    def blocks(self, s: int, effect: Effect) -> list[list[tuple[str, frozenset[int]]]]:
        """What beeps together with an effect, among the points that it concerns, as groups of named sets of points."""
        scene, by_label = self.scenes[s], self.by_label[s]
        groups: dict[int, list[int]] = {}
        origin: dict[int, int] = {}
        wanted = self.points_set
        for node, new in effect.parted.items():
            origin[new] = scene.label[node]
            if node in wanted:
                groups.setdefault(new, []).append(node)
        concerned = set(origin.values()) | {x for x in effect.joined if x < scene.count}
        atoms: dict[int, tuple[str, frozenset[int]]] = {}
        for new, nodes in groups.items():
            atoms[new] = ("part", frozenset(nodes))
        for label in sorted(concerned):
            everything = by_label.get(label, [])
            away = [new for new in groups if origin[new] == label]
            gone = {n for new in away for n in groups[new]}
            if len(gone) == len(everything):
                continue
            first = everything[0]
            atoms[label] = ("rest", frozenset((label,)))
            if first in gone:  # the part with the first point is called the rest, whichever side is smaller
                holder = next(new for new in away if first in groups[new])
                atoms[label] = ("part", frozenset(everything) - gone)
                atoms[holder] = ("rest", frozenset((label,)))
        found: dict[int, list[tuple[str, frozenset[int]]]] = {}
        for label, atom in atoms.items():
            found.setdefault(effect.label(label), []).append(atom)
        return list(found.values())

    @property
    def points_set(self) -> frozenset[int]:
        """The points as a set."""
        return self._points_set

    def freeze(self) -> None:
        """Keep the points as a set."""
        self._points_set = frozenset(self.points)

    def signature(self, s: int, effect: Effect) -> frozenset[frozenset[tuple[str, frozenset[int]]]] | None:
        """What a person with a probe can tell of an effect, or None for nothing."""
        groups = self.blocks(s, effect)
        labels = [{self._label(s, atom) for atom in group} for group in groups]
        changed = any(len(one) > 1 for one in labels)
        flat = [label for one in labels for label in one]
        changed |= len(flat) != len(set(flat))
        if not changed:
            return None
        return frozenset(frozenset(group) for group in groups)

    def _label(self, s: int, atom: tuple[str, frozenset[int]]) -> int:
        what, members = atom
        one = next(iter(members))
        return one if what == "rest" else self.scenes[s].label[one]

    # -- rows

    def rows(self, s: int) -> Iterator[tuple[int, int, int]]:
        """Pairs of points of a scene worth measuring: the edits that they see as a mask, and the two points."""
        scene, effects = self.scenes[s], self.effects[s]
        wanted = self.points_set
        signs: dict[int, list[tuple[int, int]]] = {}
        tangled: set[int] = set()
        for e, effect in effects.items():
            for node, new in effect.parted.items():
                if node in wanted:
                    signs.setdefault(node, []).append((e, new))
            if effect.joined or len(set(effect.parted.values())) > 1:
                tangled.add(e)
        classes: dict[int, dict[tuple[tuple[int, int], ...], int]] = {}
        for node in self.points:
            classes.setdefault(scene.label[node], {}).setdefault(tuple(signs.get(node, ())), node)
        masks = {
            node: sum(1 << e for e, _ in sign if e not in tangled)
            for by in classes.values()
            for sign, node in by.items()
        }
        concerned = self.concerned(s)

        def mask(x: int, y: int) -> int:
            same = scene.label[x] == scene.label[y]
            found = masks[x] ^ masks[y] if same else 0
            for e in concerned.by(x, y) & tangled:
                if scene.sees(x, y, effects[e]):
                    found |= 1 << e
            return found

        for by in classes.values():
            for x, y in self._pairs(by, masks):
                found = mask(x, y)
                if found:
                    yield found, x, y
        yield from self._silences(s, classes, mask)

    def _pairs(self, by: dict[tuple[tuple[int, int], ...], int], masks: dict[int, int]) -> Iterator[tuple[int, int]]:
        nodes = list(by.values())
        if len(nodes) <= FEW:
            yield from combinations(nodes, 2)
            return
        self.whole = False
        ends = [
            n
            for n in nodes
            if not any(m != n and masks[m] & masks[n] == masks[n] and masks[m] != masks[n] for m in nodes)
        ]
        half = len(ends) // 2
        plain = nodes[0]
        for k, x in enumerate(ends):
            yield plain, x
            yield x, ends[(k + half) % len(ends)]
            yield x, ends[(k + 1) % len(ends)]
        for x in nodes:
            yield plain, x

    def _silences(
        self, s: int, classes: dict[int, dict[tuple[tuple[int, int], ...], int]], mask: object
    ) -> Iterator[tuple[int, int, int]]:
        scene = self.scenes[s]
        total = sum(map(len, classes.values()))
        seen: set[tuple[int, int]] = set()
        if total <= FEW:
            nodes = [(label, n) for label, by in classes.items() for n in by.values()]
            for (label, x), (other, y) in combinations(nodes, 2):
                if label != other and (found := mask(x, y)):  # type: ignore[operator]
                    yield found, x, y
            return
        for effect in self.effects[s].values():
            if not effect.joined:
                continue
            groups: dict[int, list[int]] = {}
            origin = {new: scene.label[node] for node, new in effect.parted.items()}
            for label in {*effect.joined, *effect.joined.values()}:
                groups.setdefault(effect.label(label), []).append(label)
            for labels in groups.values():
                for a, b in combinations(sorted(labels), 2):
                    la, lb = origin.get(a, a), origin.get(b, b)
                    if la == lb or (la, lb) in seen or la not in classes or lb not in classes:
                        continue
                    seen.add((la, lb))
                    xs, ys = list(classes[la].values()), list(classes[lb].values())
                    if len(xs) * len(ys) > FEW:
                        self.whole = False
                        xs, ys = self._some(xs, effect, a), self._some(ys, effect, b)
                    for x in xs:
                        for y in ys:
                            if found := mask(x, y):  # type: ignore[operator]
                                yield found, x, y

    @staticmethod
    def _some(nodes: list[int], effect: Effect, label: int) -> list[int]:
        inside = [n for n in nodes if effect.parted.get(n) == label]
        return [*nodes[:2], *inside[:2]]


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
    for e, edit in enumerate(bench.edits):
        if e in seen:
            continue
        settled = local.settle(edit, tags=False)
        if not settled.sights:
            settled = local.settle(edit)
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
    """Add scenes in which some edits are seen; gives those that are not seen there after all."""
    made = bench.made
    scenes: dict[tuple[str, ...], list[tuple[dict[Var, Value], list[int]]]] = {}
    for item in wanted:
        _place(made, scenes, ends, item)
    everything = sum(map(len, scenes.values())) * len(bench.edits) <= MOST_EFFECTS
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
    count = len(bench.edits)
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
    seen_by: list[list[int]] = [[] for _ in bench.edits]
    for number, (s, x, y) in enumerate(chosen):
        scene = bench.scenes[s]
        effects = bench.effects[s]
        for e in sorted(bench.concerned(s).by(x, y) if bench.full[s] else bench.ending(s, x, y)):
            effect = effects.get(e) or scene.effect((bench.edits[e],))
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
    """The edits that some readings see."""
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


def _why(bench: Bench, edits: list[int]) -> str:
    """Why a fault is not seen, and what would have to be lifted to see it."""
    made = bench.made
    local = bench.local
    changes = False
    for e in edits:
        edit = bench.edits[e]
        for acts in ((), (FEEDS_OFF,)):
            around, edited, _ = local.around(edit, Acts(made, acts))
            changes |= bool(edited)
            owners = sorted({c.owner for c in around.values() if c.what == "lead"} & set(made.commons))
            for owner in owners:
                for more in ((), tuple(sorted({c.owner for c in around.values()} & local.papered))):
                    lifted = Acts(made, (*acts, *(f"paper:{p}" for p in more), f"lead-off:{owner}"))
                    found, _ = local.seen(edit, lifted, tags=True)
                    if found:
                        also = f" and paper between the blades of {', '.join(more)}" if more else ""
                        return (
                            "what it breaks or joins is also joined another way; "
                            f"with the common lead of {owner} off{also} it would be seen"
                        )
    if not changes:
        return "nothing that conducts is different"
    return "what it parts is joined another way too, or it joins what is joined already"
