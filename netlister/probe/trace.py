"""A short that is there now: which screws to lift in which order to find it in the fewest steps.

Each step asks whether two poles still beep together. What may be wrong is every single fault that joins them in the
state in which the short was met, and metal across the rails of each piece. A short is gone once every way from the one
pole to the other is cut, so that what a step tells follows from which screws are lifted.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.terminal import Terminal, owner_of
from netlister.probe.detail import FineConductor
from netlister.probe.explain import fault_weights
from netlister.probe.faults import Damage, Fault
from netlister.probe.local import allowed
from netlister.probe.scene import BUS_OFF, FEED_OFF, FEEDS_OFF, Acts, Scene
from netlister.probe.text import done, fault_object, sentence, set_of, undone
from netlister.probe.tree import TestTree, huffman, mean_steps, most_steps, tree

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from typing import Any

    from netlister.circuit.model import State
    from netlister.circuit.numbers import Var
    from netlister.probe.detail import Detail
    from netlister.probe.explain import Situation

MOST_THROWN = 24
"""Turnouts and switches of which it is tried whether the short goes away when one alone is thrown."""


class Suspect(NamedTuple):
    """Something that may be the short."""

    fault: Fault
    damage: Damage
    weight: float


@dataclass(slots=True)
class Trace:
    """How to find a short. `suspects`: what may be it. `groups`: those that no step tells apart. `steps`: the tests.

    `expected`: the mean number of steps, by the likelihood of the suspects; `bound`: no order of yes-or-no questions
    has fewer. `most`: the steps of the worst case. `order`: the tests, over the groups.
    """

    made: Detail
    between: tuple[int, int]
    state: State
    suspects: list[Suspect] = field(default_factory=list)
    groups: list[list[int]] = field(default_factory=list)
    steps: list[Situation] = field(default_factory=list)
    order: TestTree = 0
    expected: float = 0.0
    bound: float = 0.0
    most: int = 0


class _LiftableWay(NamedTuple):
    """A conductor that can be lifted: the labels that it joins, and the numbers of what lifts it, as a mask."""

    a: int
    b: int
    lift: int


class Tracer:
    """Finds the order of steps for a short between two poles."""

    def __init__(self, made: Detail, faults: list[Fault], between: tuple[int, int], state: State) -> None:
        self.made, self.between, self.state = made, between, state
        self.faults = faults
        self.buses = [bus for bus in made.buses if len(made.buses) > 1]
        self.units: list[tuple[str, ...]] = [(BUS_OFF + bus,) for bus in self.buses]
        self.units += [(FEED_OFF + name,) for name in made.fed]
        self.unit = {act: k for k, acts in enumerate(self.units) for act in acts}
        self.of_screw = {n: self.unit[FEED_OFF + name] for name, some in made.fed.items() for n in some}
        self.of_tie = {n: self.unit[BUS_OFF + bus] for bus in self.buses for n in made.buses[bus]}
        self.off = Scene(made, Acts(made, (FEEDS_OFF, *(BUS_OFF + bus for bus in made.buses))), state)

    def trace(self) -> Trace:
        """The order of steps."""
        found = Trace(self.made, self.between, self.state)
        on = Scene(self.made, Acts(self.made, ()), self.state)
        weight, _ = fault_weights()
        listed = [(f, e, weight[f.kind]) for f in self.faults for e in f.damages]
        listed += [(f, f.damages[0], weight["rails-bridged"]) for f in self._bridges(on)]
        for fault, damage, w in listed:
            if on.beeps(*self.between, on.effect((damage,))):
                found.suspects.append(Suspect(fault, damage, w))
        found.steps, answers = self._tests(found.suspects)
        signs: dict[tuple[bool, ...], list[int]] = {}
        for k in range(len(found.suspects)):
            signs.setdefault(tuple(bool(a >> k & 1) for a in answers), []).append(k)
        found.groups = list(signs.values())
        if not found.groups:
            return found
        shares = [sum(2.0 ** -found.suspects[k].weight for k in group) for group in found.groups]
        tests = [sum(1 << g for g, sign in enumerate(signs) if sign[t]) for t in range(len(answers))]
        found.order = tree(shares, tests)
        found.expected, found.most = mean_steps(shares, found.order), most_steps(found.order)
        found.bound = huffman(shares)
        return found

    def _bridges(self, on: Scene) -> Iterator[Fault]:
        """Metal across two rails of a piece that have the two poles."""
        poles = {on.label[p]: k for k, p in enumerate(self.between)}
        rails: dict[str, dict[int, list[int]]] = {}
        for node in self.made.circuit.rails:
            if (k := poles.get(on.label[node])) is not None:
                piece = owner_of(self.made.names[node])
                rails.setdefault(piece, {}).setdefault(k, []).append(node)
        for piece, by in rails.items():
            if len(by) > 1:
                a, b = by[0][0], by[1][0]
                names = tuple(Terminal.of(self.made.names[n]).own for n in (a, b))
                said = f"metal across the rails of '{piece}', or its {names[0]} touches {names[1]} beneath"
                damage = Damage((), (FineConductor(a, b, "bridge", piece),))
                yield Fault("rails-bridged", (piece, *names), said, (damage,), self.made.layout.pieces[piece].span)

    # -- tests

    def _tests(self, suspects: list[Suspect]) -> tuple[list[Situation], list[int]]:
        """What may be done, handiest first, and per test the suspects with which the poles still beep, as a mask."""
        places: list[Situation] = []
        answers: list[int] = []
        for place in self._throws(suspects):
            scene = Scene(self.made, Acts(self.made, ()), place[1])
            places.append(place)
            answers.append(
                sum(1 << k for k, s in enumerate(suspects) if scene.beeps(*self.between, scene.effect((s.damage,))))
            )
        stays = [self._stays(s.damage) for s in suspects]
        count = len(self.units)
        forward = [_threshold(stay, count, lambda n: (1 << n) - 1) for stay in stays]
        back = [_threshold(stay, count, lambda n: ((1 << n) - 1) << (count - n)) for stay in stays]
        for n in range(1, count + 1):
            for some, reach in ((self.units[:n], forward), (self.units[count - n :], back)):
                places.append((tuple(act for acts in some for act in acts), self.state))
                answers.append(sum(1 << k for k, t in enumerate(reach) if t > n))
        for u, acts in enumerate(self.units):
            places.append((acts, self.state))
            answers.append(sum(1 << k for k, stay in enumerate(stays) if stay(1 << u)))
        return places, answers

    def _throws(self, suspects: list[Suspect]) -> Iterator[Situation]:
        made = self.made
        share: dict[Var, float] = {}
        for s in suspects:
            for v in {v for c in (*(made.conductors[n] for n in s.damage.out), *s.damage.into) for v, _ in c.when}:
                share[v] = share.get(v, 0.0) + 2.0**-s.weight
        for v in sorted(share, key=lambda v: (-share[v], v))[:MOST_THROWN]:
            for x in made.circuit.variables[v].values:
                state = allowed(made, ((v, x),), self.state) if x != self.state[v] else None
                if state is not None:
                    yield (), state

    def _stays(self, damage: Damage) -> Callable[[int], bool]:
        """Whether the poles still beep with a fault when some units are lifted."""
        made, off = self.made, self.off
        effect = off.effect((damage,))

        def label(node: int) -> int:
            return effect.label(effect.parted.get(node, off.label[node]))

        ways: list[_LiftableWay] = []
        for n in (*made.screws, *(n for ties in made.buses.values() for n in ties)):
            if n not in damage.out:
                c = made.conductors[n]
                ways.append(_LiftableWay(label(c.a), label(c.b), self._lift(n, c)))
        for c in damage.into:
            if off.acts.takes(c):
                ways.append(_LiftableWay(label(c.a), label(c.b), self._lift(-1, c)))
        start, goal = (label(n) for n in self.between)
        ways = _pruned(ways, {start, goal})
        others = {label(p) for p in range(len(made.circuit.poles))} - {start, goal}
        known: dict[int, bool] = {}
        used = 0
        for way in ways:
            used |= way.lift

        def stays(lifted: int) -> bool:
            lifted &= used
            if lifted not in known:
                known[lifted] = _joined(ways, lifted, (start, goal), others)
            return known[lifted]

        return stays

    def _lift(self, number: int, c: FineConductor) -> int:
        if c.what == "bus":
            return 1 << self.unit[BUS_OFF + c.owner] if c.owner in self.buses else 0
        if number >= 0:
            return 1 << self.of_screw[number]
        name = next(name for name, some in self.made.fed.items() if any(self.made.conductors[n].b == c.b for n in some))
        return 1 << self.unit[FEED_OFF + name]


def _threshold(stays: Callable[[int], bool], count: int, lifted: Callable[[int], int]) -> int:
    """The least number of units off, in an order, with which the short is gone; one more than all if it stays."""
    low, high = 0, count + 1
    while low + 1 < high:
        middle = (low + high) // 2
        if stays(lifted(middle)):
            low = middle
        else:
            high = middle
    return high


def _pruned(ways: list[_LiftableWay], kept: set[int]) -> list[_LiftableWay]:
    """Ways without those to what hangs on one other place only."""
    near: dict[int, set[int]] = {}
    for way in ways:
        if way.a != way.b:
            near.setdefault(way.a, set()).add(way.b)
            near.setdefault(way.b, set()).add(way.a)
    todo = [x for x, others in near.items() if len(others) == 1 and x not in kept]
    while todo:
        x = todo.pop()
        for other in near.pop(x):
            near[other].discard(x)
            if len(near[other]) == 1 and other not in kept:
                todo.append(other)
    return [w for w in ways if w.a != w.b and w.a in near and w.b in near]


def _joined(ways: list[_LiftableWay], lifted: int, ends: tuple[int, int], others: set[int]) -> bool:
    """Whether what is not lifted leads from one end to the other, through no other pole."""
    start, goal = ends
    if start == goal:
        return True
    near: dict[int, list[int]] = {}
    for way in ways:
        if not way.lift & lifted:
            near.setdefault(way.a, []).append(way.b)
            near.setdefault(way.b, []).append(way.a)
    seen, stack = {start}, [start]
    while stack:
        for other in near.get(stack.pop(), ()):
            if other == goal:
                return True
            if other not in seen and other not in others:
                seen.add(other)
                stack.append(other)
    return False


# -- telling


class TraceStep(NamedTuple):
    """A step with its number: where it is taken, what follows on a beep and on silence (a step, or a group found)."""

    number: int
    place: Situation
    before: Situation
    beep: tuple[str, int]
    silent: tuple[str, int]


def steps(found: Trace) -> tuple[list[TraceStep], list[list[Suspect]]]:
    """The steps in the order of their numbers, and what is left in the end of each way through them."""
    taken: list[TraceStep | None] = []
    ends: list[list[Suspect]] = []

    def walk(node: TestTree, before: Situation) -> tuple[str, int]:
        if isinstance(node, int):
            some = [k for g, group in enumerate(found.groups) if node >> g & 1 for k in group]
            some.sort(key=lambda k: (found.suspects[k].weight, k))
            ends.append([found.suspects[k] for k in some])
            return "found", len(ends)
        number = len(taken) + 1
        taken.append(None)
        place = found.steps[node[0]]
        beep = walk(node[1], place)
        taken[number - 1] = TraceStep(number, place, before, beep, walk(node[2], place))
        return "step", number

    walk(found.order, ((), found.state))
    return [s for s in taken if s is not None], ends


def trace_object(found: Trace) -> dict[str, Any]:
    """A trace as the plain values of `--format json`."""
    from netlister.probe.diagnose import CURES

    taken, ends = steps(found) if found.groups else ([], [])
    return {
        "format": "netlister-trace/1",
        "layout": found.made.layout.name,
        "between": [found.made.names[p] for p in found.between],
        "set": set_of(found.made, found.state),
        "expected": round(found.expected, 3),
        "bound": round(found.bound, 3),
        "most": found.most,
        "steps": [
            {
                "number": s.number,
                "acts": list(s.place[0]),
                "set": set_of(found.made, s.place[1]),
                "beep": dict([s.beep]),
                "silent": dict([s.silent]),
            }
            for s in taken
        ],
        "found": [
            {
                "number": number,
                "faults": [{**fault_object(f), "do": CURES[f.kind]} for f in unique(some)],
            }
            for number, some in enumerate(ends, 1)
        ],
    }


def unique(some: list[Suspect]) -> list[Fault]:
    """The faults of suspects, each once."""
    return list({s.fault.key(): s.fault for s in some}.values())


def doing(made: Detail, s: TraceStep) -> list[str]:
    """What a person does for a step, coming from the one before."""
    (before, old), (acts, new) = s.before, s.place
    names = [(v.name, v.positions[x]) for v, x, y in zip(made.circuit.variables, new, old, strict=True) if x != y]
    words = [sentence("throw " + ", ".join(f"{name} to {position}" for name, position in names))] if names else []
    words += undone([a for a in before if a not in acts])
    return words + done([a for a in acts if a not in before])


CAUTION = (
    "Unplug every supply and every automatic device first, and clear the track. Never look for a short with the supply "
    "on: what does not trip gets hot. Mains wiring is for licensed people and your local code."
)


NOT_ALL = "If it is none of these: solder or strands between terminals, gear that leads, two faults at once."


def told(found: Trace) -> str:
    """A trace as text."""
    made = found.made
    a, b = (made.names[p] for p in found.between)
    where = " ".join(f"{name}={position}" for name, position in set_of(made, found.state).items())
    standing = f" with {where}" if where else ""
    if not found.groups:
        return f"No single fault, and nothing across the rails, makes {a} to {b} beep{standing}.\n"
    taken, ends = steps(found)
    count = len({s.fault.key() for s in found.suspects})
    out = [CAUTION, "", f"Clip one lead to {a}, the other to {b}{standing}: it beeps. {count} things may be why."]
    if taken:
        out.append(
            f"Finding which takes {found.expected:.1f} steps on average and {found.most} at the most "
            f"(no order of beep tests takes fewer than {found.bound:.1f} on average)."
        )
    for s in taken:
        out += ["", f"Step {s.number}"]
        out += [f"  {line}" for line in doing(made, s)]
        out.append(f"  {a} to {b}: if it beeps, {_goes(s.beep)}; if it is silent, {_goes(s.silent)}.")
    for number, some in enumerate(ends, 1):
        out += ["", f"Found {number}"]
        out += finding(some)
    out += ["", NOT_ALL]
    return "\n".join(out) + "\n"


def finding(some: list[Suspect]) -> list[str]:
    """What is left in the end, with what to do."""
    from netlister.probe.diagnose import CURES

    return [f"  {f.name}\n      do: {CURES[f.kind]} ({f.span})" for f in unique(some)]


def _goes(to: tuple[str, int]) -> str:
    return f"go to step {to[1]}" if to[0] == "step" else f"see found {to[1]}"
