"""What the railway does with its supply on, as something that faults explain: said in words, or read in volts.

A rail has a pole where metal leads to it; a train needs the two poles of one supply under its wheels.
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit import states
from netlister.circuit.build import setting_when
from netlister.circuit.model import holds
from netlister.circuit.numbers import Var
from netlister.layout.terminal import named
from netlister.probe.live import Live
from netlister.probe.local import allowed
from netlister.probe.scene import NOTHING, Acts, Scene
from netlister.probe.sheet import usual_states
from netlister.source import suggest

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from netlister.circuit.model import State
    from netlister.layout.model import Joint, Piece
    from netlister.probe.detail import Detail
    from netlister.probe.explain import Situation
    from netlister.probe.running import Running, TrainRun
    from netlister.probe.scene import Effect

FULL, NONE = 0.6, 0.25
"""Of the supply's voltage: at least so much is full, at most so much is none. What lies between tells of resistance."""

EXAMPLES = '"trips when T1 is thrown", "siding is dead with T2 through", "stops at T3", "runs the wrong way beyond J4"'
_FILLER = (
    "a an and at between beyond by comes cross crosses crossing direction engine enters everything goes in into is it "
    "joint leaves leaving loco locomotive my of off on onto out over pass passes passing past position reaches run "
    "runs set the this thrown to train turned turnout way when where while with"
)
FILLER = frozenset(_FILLER.split())
KINDS = {
    "trips": ("trip", "trips", "tripped", "short", "shorts", "shorted"),
    "dead": ("dead", "stop", "stops", "stall", "stalls"),
    "backwards": ("backwards", "wrong"),
}


class SymptomError(Exception):
    """Words that are not understood. The message says which and what to write instead."""


class Symptom(NamedTuple):
    """Something that the railway does, `text`: as it was said. `row`: below 0, counted down from -1.

    `what`: "trips", "dead", "backwards" or "volts" (full, or with `was` false none). `places`: the states in which it
    may have been; `calm`: for each the state in which it was not, -1 for none. `pieces`, `joints`: where; nowhere said:
    anywhere. `probes`: what volts are between. `running`: the train that does so; without one any train counts as a
    pair of wheels.
    """

    made: Detail
    row: int
    text: str
    what: str
    places: tuple[Situation, ...]
    calm: tuple[int, ...]
    pieces: tuple[str, ...] = ()
    joints: tuple[Joint, ...] = ()
    probes: tuple[int, int] = (-1, -1)
    was: bool = True
    running: Running | None = None

    @property
    def expect(self) -> bool:
        """What the layout as drawn does."""
        scenes = [Scene(self.made, Acts(self.made, acts), state) for acts, state in self.places]
        return self.of(scenes, [NOTHING] * len(scenes))

    def of(self, scenes: Sequence[Scene], effects: Sequence[Effect]) -> bool:
        """Whether it would be so with the effects of a fault."""
        live = [Live(self.made, scene, effect) for scene, effect in zip(scenes, effects, strict=True)]
        return any(
            self._holds(live[k]) and (calm < 0 or not self._holds(live[calm])) for k, calm in enumerate(self.calm)
        )

    def _holds(self, live: Live) -> bool:
        """Whether it is so in one state, where the layout as drawn does otherwise."""
        if self.what == "volts":
            return live.drives(*self.probes)
        if live.effect is NOTHING:
            return False
        good = Live(self.made, live.scene, NOTHING)
        if self.running is not None and self.what != "backwards":
            return self.how(live, good) is not None
        if self.what == "trips":
            gaps = self._gaps(live.scene.state)
            return (live.trips() and not good.trips()) or any(
                live.clashes(a, b) and not good.clashes(a, b) for a, b in gaps
            )
        for piece in self.pieces:
            for left, right in wheels(self.made, self.made.layout.pieces[piece], live.scene.state):
                if not good.drives(left, right) or live.shorted(left) or live.shorted(right):
                    continue  # a short is told as one
                if self.what == "dead" and not live.drives(left, right):
                    return True
                if self.what == "backwards":
                    p, q = live.poles(left), live.poles(right)
                    if len(p) == len(q) == 1 and (p, q) == (good.poles(right), good.poles(left)):
                        return True
        return False

    def runs(self, state: State) -> Iterator[TrainRun]:
        """The runs of the train where it was seen."""
        assert self.running is not None
        for joint in self.joints:
            yield from self.running.across(joint, state)
        for piece in self.pieces:
            yield from self.running.over(piece, state)

    def how(self, live: Live, good: Live) -> tuple[TrainRun, int] | None:
        """The run on which the train does so in one state, where it does not as drawn, and for how far at the most.

        For a trip the number of the footing in place of a length, -1 where it trips without a train.
        """
        assert self.running is not None
        runs = list(self.runs(live.scene.state))
        if self.what == "trips":
            if live.trips() and not good.trips():
                return (runs[0], -1) if runs else None
            for run in runs:
                for k, footing in enumerate(run.footings):
                    if live.jolts(footing) and not good.jolts(footing):
                        return run, k
            return None
        stops = [(run, length) for run in runs if (length := live.stop(run, good)) > 0]
        longest = max(stops, key=lambda one: one[1], default=None)
        return longest if longest and longest[1] >= self.running.carries else None

    def drawn(self) -> bool:
        """Whether there is nowhere that the layout as drawn does otherwise."""
        scenes = [Scene(self.made, Acts(self.made, acts), state) for acts, state in self.places]
        if self.running is not None:
            good = [Live(self.made, scene, NOTHING) for scene in scenes]
            footings = ((one, f) for one in good for run in self.runs(one.scene.state) for f in run.footings)
            return not any(self.what == "trips" or one.feeds(f) for one, f in footings)
        if self.what == "trips":
            return False
        return not any(
            Live(self.made, scene, NOTHING).drives(*pair)
            for scene in scenes
            for piece in self.pieces
            for pair in wheels(self.made, self.made.layout.pieces[piece], scene.state)
        )

    def _gaps(self, state: State) -> Iterator[tuple[int, int]]:
        """The gaps that a train crosses where it was seen."""
        node = self.made.node
        for joint in self.joints:
            for a, b, insulated in joint.pairs:
                if insulated:
                    yield node[a], node[b]
        for name in self.pieces:
            piece = self.made.layout.pieces[name]
            for route in piece.kind.routes:
                if holds(setting_when(self.made.circuit, name, route.when), state):
                    for rails in (route.left, route.right):
                        for one, other in pairwise(rails):
                            if one and other:
                                yield node[named(name, one)], node[named(name, other)]


def wheels(made: Detail, piece: Piece, state: State) -> Iterator[tuple[int, int]]:
    """The rails under the left and the right wheels on each route of a piece that is set."""
    for route in piece.kind.routes:
        if holds(setting_when(made.circuit, piece.name, route.when), state):
            for left in route.left:
                for right in route.right:
                    if left and right:
                        yield made.node[piece.terminal(left)], made.node[piece.terminal(right)]


def volts(made: Detail, row: int, text: str, place: Situation, probes: tuple[int, int]) -> Symptom | None:
    """A reading in volts with the supply on; None where it is neither full nor none. Raises SymptomError."""
    number = re.fullmatch(r"([0-9]+(?:\.[0-9]+)?)\s*V", text)
    if not number:
        message = f"with the supply on a reading is in volts, as in '14.8 V', not '{text}'"
        raise SymptomError(message)
    full = [s.voltage for s in made.layout.supplies.values() if s.voltage and not s.accessory]
    share = float(number[1]) / min(full) if full else 0.5
    if NONE < share < FULL:
        return None
    return Symptom(made, row, text, "volts", (place,), (-1,), probes=probes, was=share >= FULL)


class _Understood(NamedTuple):
    """What words say: what happens, positions, what is thrown, where."""

    what: str
    fixed: dict[str, str]
    thrown: list[str]
    where: list[str]


def read_symptom(made: Detail, text: str, row: int) -> Symptom:
    """A symptom in words. Raises SymptomError."""
    joints = {j.name: j for j in made.layout.joints}
    what, fixed, thrown, where = _parsed(made, text, joints)
    running = _train(made, what, text, where)
    places, calm = _places(made, text, fixed, thrown)
    pieces = tuple(w for w in where if w in made.layout.pieces)
    crossed = tuple(joints[w] for w in where if w in joints)
    if what == "backwards" and not any(s.type == "dc" for s in made.layout.supplies.values()):
        message = f"'{text}': on a digital supply a locomotive's way does not hang on the poles of the rails"
        raise SymptomError(message)
    if what == "trips":
        crossed += tuple(j for j in joints.values() if {*j.pieces} & set(pieces))
    else:
        pieces += tuple(name for j in crossed for name in j.pieces)
        pieces = pieces or tuple(_driven(made, places))
    found = Symptom(made, row, text, what, places, calm, pieces, crossed, running=running)
    if found.drawn():
        message = f"'{text}': no train runs there in the layout as drawn either, as the turnouts stand; say how they do"
        raise SymptomError(message)
    return found


def _train(made: Detail, what: str, text: str, where: list[str]) -> Running | None:
    """The train that is named, if one is."""
    trains = list(dict.fromkeys(w for w in where if w in made.layout.trains))
    if not trains:
        return None
    if len(trains) > 1:
        message = f"'{text}' names {' and '.join(trains)}; say it of one train, and again of the other"
        raise SymptomError(message)
    if (
        what == "trips"
        and len({w for w in where if w in made.layout.pieces or w in {j.name for j in made.layout.joints}}) == 0
    ):
        message = f"'{text}' does not say where; name a piece or a joint, as in 'trips when {trains[0]} passes J4'"
        raise SymptomError(message)
    from netlister.probe.running import Running

    return Running(made, made.layout.trains[trains[0]])


def _parsed(made: Detail, text: str, joints: dict[str, Joint]) -> _Understood:
    """Take a sentence apart: every word is a name, a position, or known."""
    names = {*made.circuit.variable, *made.layout.pieces, *made.layout.trains, *made.layout.machines}
    found = _Understood("", {}, [], [])
    last = ""
    for word in (w for w in re.split(r"[\s,;:!?]+|\.(?=\s|$)", text) if w):
        low = word.lower()
        kind = next((k for k, some in KINDS.items() if low in some), "")
        if "=" in word:
            name, _, found.fixed[name] = word.partition("=")
        elif word in names or word in joints:
            last = word
            found.where.append(word)
        elif last and (low == "thrown" or word in _positions(made, last)):
            if low == "thrown":
                found.thrown.append(last)
            else:
                found.fixed[last] = word
            if last in found.where:
                found.where.remove(last)
        elif kind:
            found = found._replace(what=found.what or kind)
        elif low not in FILLER:
            hint = suggest(word, [*names, *joints])
            message = f"'{word}' in '{text}' is not understood{hint}; write as in {EXAMPLES}"
            raise SymptomError(message)
    if not found.what:
        message = f"'{text}' does not say what happens; write as in {EXAMPLES}"
        raise SymptomError(message)
    return found


def _positions(made: Detail, name: str) -> tuple[str, ...]:
    """The positions that a turnout, machine or switch has."""
    if name in made.circuit.variable:
        found: tuple[str, ...] = made.circuit.variables[made.circuit.variable[name]].positions
        return found
    piece = made.layout.pieces.get(name)
    return tuple(x for bar in piece.kind.bars for x in bar.positions) if piece else ()


def _driven(made: Detail, places: Sequence[Situation]) -> Iterator[str]:
    """The pieces on which a train runs with the layout as drawn, in every state that may be meant."""
    live = [Live(made, Scene(made, Acts(made, acts), state), NOTHING) for acts, state in places]
    for name, piece in made.layout.pieces.items():
        if all(one.drives(a, b) for one in live for a, b in wheels(made, piece, one.scene.state)):
            yield name


def _places(
    made: Detail, text: str, fixed: dict[str, str], thrown: list[str]
) -> tuple[tuple[Situation, ...], tuple[int, ...]]:
    """The states that may be meant, all else at first or all else at last; for each where it was not so."""
    rest = dict(fixed)
    for name in thrown:
        if not (positions := _positions(made, name)):
            message = f"'{text}': '{name}' has no positions to be thrown to"
            raise SymptomError(message)
        rest[name] = positions[-1]
    try:
        state = states.state_of(made.circuit, rest)
        before = states.state_of(made.circuit, {**fixed, **{name: _positions(made, name)[0] for name in thrown}})
        plain = states.state_of(made.circuit, {})
    except states.StateError as error:
        message = f"'{text}': {error}"
        raise SymptomError(message) from None
    moved = {Var(v) for v in range(len(state)) if state[v] != plain[v]} | _named(made, rest)
    found: list[Situation] = []
    calm: list[int] = []
    for end in usual_states(made):
        there = allowed(made, tuple((v, state[v]) for v in sorted(moved)), end)
        if there is not None and ((), there) not in found:
            found.append(((), there))
    count = len(found)
    for k in range(count):
        calm.append(-1)
        if thrown:
            turned = {Var(v) for v in range(len(state)) if state[v] != before[v]}
            back = allowed(made, tuple((v, before[v]) for v in sorted(turned)), found[k][1])
            if back is not None:
                calm[k] = len(found)
                found.append(((), back))
    return tuple(found), tuple(calm)


def _named(made: Detail, rest: dict[str, str]) -> set[Var]:
    """The variables with some names."""
    found = {made.circuit.variable[name] for name in rest if name in made.circuit.variable}
    for name in rest:
        if name not in made.circuit.variable and name in made.layout.pieces:
            piece = made.layout.pieces[name]
            for route in piece.kind.routes:
                found.update(v for v, _ in setting_when(made.circuit, name, route.when))
    return found
