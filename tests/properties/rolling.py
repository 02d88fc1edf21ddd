"""Trains rolled millimetre by millimetre over random layouts, in every state: slow, literal, independent of the rules.

Which rails are dead or wrong comes from the plain enumeration in `reference`. How long the pieces are comes from the
data of the kinds (which tests/parts holds against its sources); only layouts whose rails all meet at whole millimetres
are rolled over, so that the middle of each millimetre stands for all of it.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.stretches import stretches
from tests.properties.layouts import random_layout
from tests.properties.reference import Data, Layout, State

if TYPE_CHECKING:
    from collections.abc import Iterator
    from random import Random

    import netlister.layout.model as tool

MEASURED = {"live-frog", "live-frog-bonded", "isolated-metal-frog", "insulated-frog"}
End = tuple[str, str]
Place = tuple[str, End, End, int]
"""A piece, the ends between which it is run over, and the millimetre from the first."""


def rolling_layout(rng: Random) -> Data:
    """A random layout with whole millimetres everywhere and some trains."""
    data = random_layout(rng)
    double = rng.random() < 0.5
    if double:
        data["gauge"] = "18 mm"  # twice that of the sheet, so that half millimetres become whole
    data["gap"] = f"{rng.choice([0, 2, 2, 4])} mm"
    for values in data["track"].values():
        for key in ("length", "radius", "angle", "turn"):
            values.pop(key, None)
        kind = values.get("kind", "rail-section")
        if kind == "rail-section":
            if rng.random() < 0.85:
                values["length"] = f"{rng.choice([1, 6, 20, 40, 90, 250])} mm"
        elif kind in MEASURED:
            if not double:
                values["length"] = "199 mm"
            elif rng.random() < 0.4:
                values["frog-number"] = "4"
            if kind == "insulated-frog" and rng.random() < 0.5:
                values[rng.choice(["dead", "nose"])] = f"{rng.choice([4, 15, 22])} mm"
        elif rng.random() < 0.8:
            values["length"] = f"{rng.choice([30, 60, 120])} mm"
    sections = [name for name, values in data["track"].items() if values.get("kind", "rail-section") == "rail-section"]
    if sections and rng.random() < 0.3:
        data.setdefault("expect", []).append({"track": rng.choice(sections), "is": "dead"})
    data["trains"] = {f"engine-{n}": train(rng) for n in range(1, rng.choice([2, 3, 4]))}
    return data


def train(rng: Random) -> Data:
    """A train of some axles."""
    places, at = [0], 0
    for _ in range(rng.choice([0, 1, 1, 2, 2, 3])):
        at += rng.choice([3, 11, 22, 35, 48, 70])
        places.append(at)
    values: Data = {"axles": [f"{place} mm" for place in places]}
    for side in ("left", "right"):
        if rng.random() < 0.5:
            values[side] = [str(n) for n in range(1, len(places) + 1) if rng.random() < 0.6] or [str(len(places))]
    if rng.random() < 0.25:
        values["carries-on"] = f"{rng.choice([1, 4, 20, 60])} mm"
    return values


Stuck = tuple[str, str, str, str, int]
"""A side, a piece, the ends between which it is run over, and the millimetre of the first wheel that picks up."""


class Run(NamedTuple):
    """A piece run over in one direction: its rails per millimetre under the left and the right wheels.

    A rail is a terminal, "dead" where there is none, or "gap". `length` is None where it is not known.
    """

    piece: str
    entry: str
    exit: str
    length: int | None
    left: list[str]
    right: list[str]


class Rolling:
    """A layout to roll over."""

    def __init__(self, data: Data, read: tool.Layout) -> None:
        self.data = data
        self.layout = Layout(data)
        self.read = read
        self.gap = int(data["gap"].split()[0])

    @cached_property
    def insulated(self) -> dict[str, set[End]]:
        """Per terminal the ends at which it is insulated."""
        found: dict[str, set[End]] = {}
        for joint in self.layout.joints:
            for pair in joint.insulated:
                for terminal, end in zip(pair, joint.ends, strict=True):
                    found.setdefault(terminal, set()).add(end)
        return found

    @cached_property
    def runs(self) -> dict[tuple[str, str, str], Run]:
        """Every route of every piece, both ways."""
        found = {}
        for name, piece in self.read.pieces.items():
            for route in piece.kind.routes:
                measured = stretches(self.read, piece, route)
                length = round(measured.length * 1000) or None
                sides = []
                for side, path in (("left", measured.left), ("right", measured.right)):
                    rails: list[str] = []
                    for stretch in path:
                        rail = "dead" if stretch.rail is None else f"{name}.{stretch.rail}"
                        rails += [rail] * (round(stretch.stop * 1000) - round(stretch.start * 1000))
                    for at, end in ((0, route.ends[0]), (1, route.ends[1])):
                        terminal = self.layout.end_rails(name, end)[side == "right"]
                        if (name, end) in self.insulated.get(terminal, set()):
                            half = min(self.gap // 2, len(rails))
                            place = slice(len(rails) - half, None) if at else slice(0, half)
                            rails[place] = ["gap"] * half
                    sides.append(rails)
                left, right = sides
                entry, leave = route.ends
                found[name, entry, leave] = Run(name, entry, leave, length, left, right)
                found[name, leave, entry] = Run(name, leave, entry, length, right[::-1], left[::-1])
        return found

    def whole(self) -> bool:
        """Whether all rails meet at whole millimetres."""
        return all(
            abs(place * 1000 - round(place * 1000)) < 1e-6
            for piece in self.read.pieces.values()
            for route in piece.kind.routes
            for measured in [stretches(self.read, piece, route)]
            for stretch in (*measured.left, *measured.right)
            for place in (stretch.start, stretch.stop)
        )

    # ---- one state

    def set_runs(self, state: State) -> dict[End, Run]:
        """Per end the run that begins there on a set route."""
        found = {}
        for piece in self.layout.pieces:
            for route in self.layout.set_routes(piece, state):
                for entry, leave in (route.ends, route.ends[::-1]):
                    found[piece, entry] = self.runs[piece, entry, leave]
        return found

    def rail_lacks(self, run: Run, rail: str, opposite: str, state: State) -> bool:
        """Whether a wheel on a rail gets nothing."""
        if rail in ("gap", "dead"):
            return True
        layout = self.layout
        meant = layout.expected_dead[run.piece]
        always = bool(meant) and len(meant) == len(layout.states)
        if not always and (state in meant or all(self.unfit(run.piece, end, state) for end in (run.entry, run.exit))):
            return False
        picture = layout.pictures[state]
        rails = [rail] if opposite == "dead" else [rail, opposite]
        return all(
            self.lacks_with(rails, [layout.has(one, picture, setting) for one in rails])
            for setting in layout.settings(rails, picture)
        )

    def unfit(self, piece: str, end: str, state: State) -> bool:
        """Whether the two rails at an end do not have the two poles of one supply."""
        layout, picture = self.layout, self.layout.pictures[state]
        rails = list(layout.end_rails(piece, end))
        return all(
            layout.pair_is_dead(*(layout.has(one, picture, setting) for one in rails))
            for setting in layout.settings(rails, picture)
        )

    def lacks_with(self, rails: list[str], has: list[frozenset[str]]) -> bool:
        """The same with the devices in given positions."""
        if not has[0]:
            return True
        if len(has) == 1 or len(has[0]) > 1 or len(has[1]) != 1:
            return False
        return not self.layout.one_supply(*has[0], *has[1])

    def lacks(self, run: Run, side: str, millimetre: int, state: State) -> bool:
        """Whether a wheel of one side gets nothing in a millimetre of a run."""
        own, other = (run.left, run.right) if side == "left" else (run.right, run.left)
        rail, opposite = own[millimetre], other[millimetre]
        if opposite == "gap":  # the rail opposite is still that of the piece
            opposite = self.under_gap(run, "right" if side == "left" else "left", millimetre)
        return self.rail_lacks(run, rail, opposite, state)

    def under_gap(self, run: Run, side: str, millimetre: int) -> str:
        """The rail of the piece where an insulated joint is."""
        forward = next(
            (r, r.ends == (run.entry, run.exit))
            for r in self.read.pieces[run.piece].kind.routes
            if set(r.ends) == {run.entry, run.exit}
        )
        route, ahead = forward
        measured = stretches(self.read, self.read.pieces[run.piece], route)
        assert run.length is not None
        path = measured.left if (side == "left") == ahead else measured.right
        at = (millimetre + 0.5 if ahead else run.length - millimetre - 0.5) / 1000
        rail = next(s.rail for s in path if s.start < at < s.stop)
        return "dead" if rail is None else f"{run.piece}.{rail}"

    def stands(self, name: str, state: State) -> Iterator[Stuck]:
        """Every millimetre where a train gets nothing on one side: side, piece, entry, exit and millimetre.

        The millimetre is that of the first wheel of the side that picks up. A train that carries on for some way is
        there only if it runs without current for that way or longer.
        """
        under = self.stuck(name, state)
        carries = self.data["trains"][name].get("carries-on")
        if carries is None:
            yield from under
            return
        runs = self.set_runs(state)
        onward = {key: self.next_millimetre(runs, key) for key in under}
        least = int(carries.split()[0])
        for begin in under.keys() - {key for key in onward.values() if key is not None}:
            way = [begin]
            while onward[way[-1]] in under:
                way.append(onward[way[-1]])  # type: ignore[arg-type]
            if len(way) >= least:
                yield from way

    def next_millimetre(self, runs: dict[End, Run], key: Stuck) -> Stuck | None:
        """Where the first wheel is a millimetre further on."""
        side, piece, entry, leave, millimetre = key
        there = self.roll(runs, self.runs[piece, entry, leave], millimetre, 1)
        if there is None or there[1] is None:
            return None
        run, at = there
        return side, run.piece, run.entry, run.exit, at

    def stuck(self, name: str, state: State) -> dict[Stuck, list[str]]:
        """Every millimetre where a train gets nothing on one side, and what its wheels are on: a piece, or `gap`."""
        return dict(self.stuck_on(name, state))

    def stuck_on(self, name: str, state: State) -> Iterator[tuple[Stuck, list[str]]]:
        """The same one by one."""
        values = self.data["trains"][name]
        axles = [int(place.split()[0]) for place in values["axles"]]
        every = [str(n) for n in range(1, len(axles) + 1)]
        runs = self.set_runs(state)
        memo: dict[tuple[Run, str, int], bool] = {}
        for side in ("left", "right"):
            wheels = sorted({axles[int(n) - 1] for n in values.get(side, every)})
            for run in runs.values():
                for millimetre in range(run.length or 0):
                    places = {}
                    for axle in {*axles, *wheels}:
                        places[axle] = self.roll(runs, run, millimetre, wheels[0] - axle)
                    if any(place is None for place in places.values()):
                        continue
                    stuck, on = True, []
                    for wheel in wheels:
                        there = places[wheel]
                        assert there is not None
                        if there[1] is None:
                            stuck = False
                            break
                        key = (id(there[0]), side, there[1])  # type: ignore[assignment]
                        if key not in memo:
                            memo[key] = self.lacks(there[0], side, there[1], state)  # type: ignore[index]
                        if not memo[key]:  # type: ignore[index]
                            stuck = False
                            break
                        under = (there[0].left if side == "left" else there[0].right)[there[1]]  # type: ignore[index]
                        on.append("gap" if under == "gap" else there[0].piece)
                    if stuck:
                        yield (side, run.piece, run.entry, run.exit, millimetre), on

    def roll(self, runs: dict[End, Run], run: Run, millimetre: int, ahead: int) -> tuple[Run, int | None] | None:
        """The run and the millimetre so many millimetres ahead (or behind, below 0); None off the set track.

        The millimetre is None on a piece whose length is not known: it goes on for ever.
        """
        at = millimetre + ahead
        while True:
            if run.length is None:
                return run, None
            if 0 <= at < run.length:
                return run, at
            end = (run.piece, run.exit) if at >= 0 else (run.piece, run.entry)
            beyond = self.layout.neighbours.get(end)
            if beyond is None or beyond not in runs:
                return None
            if at >= 0:
                at -= run.length
                run = runs[beyond]
            else:
                away = runs[beyond]  # as seen running away from us
                run = self.runs[away.piece, away.exit, away.entry]
                if run.length is None:
                    return run, None
                at += run.length


# --------------------------------------------------------------------------------------------------------------
# Ways
# --------------------------------------------------------------------------------------------------------------


def ways(rolling: Rolling, start: str, goal: str) -> dict[tuple[tuple[str, str, str], ...], set[State]]:
    """Every way from one piece to another that a train can take in some state, with its states: pushed piece by piece."""
    found: dict[tuple[tuple[str, str, str], ...], set[State]] = {}
    for state in rolling.layout.states:
        runs = rolling.set_runs(state)
        for run in runs.values():
            if run.piece == start:
                way = push(rolling, runs, run, goal)
                if way is not None:
                    found.setdefault(way, set()).add(state)
    return found


def push(rolling: Rolling, runs: dict[End, Run], run: Run, goal: str) -> tuple[tuple[str, str, str], ...] | None:
    """Push a train on until it is on the goal, or over the same track again, or off the set track."""
    passed = [(run.piece, run.entry, run.exit)]
    used = {(run.piece, frozenset({run.entry, run.exit}))}
    while True:
        beyond = rolling.layout.neighbours.get((run.piece, run.exit))
        if beyond is None or beyond not in runs:
            return None
        run = runs[beyond]
        track = (run.piece, frozenset({run.entry, run.exit}))
        if track in used:
            return None
        used.add(track)
        passed.append((run.piece, run.entry, run.exit))
        if run.piece == goal:
            return tuple(passed)


def millimetres_of(rolling: Rolling, way: tuple[tuple[str, str, str], ...]) -> tuple[list[str], list[str]]:
    """What lies under the left and the right wheels of a way, millimetre by millimetre, insulated joints as "gap"."""
    left: list[str] = []
    right: list[str] = []
    for key in way:
        left += rolling.runs[key].left
        right += rolling.runs[key].right
    return left, right


Passed = tuple[tuple[str, str, str], ...]


def zigzags(rolling: Rolling, start: str, goal: str) -> dict[tuple[Passed, Passed], tuple[set[State], set[State]]]:
    """Every way with one change of direction, with the states of its two runs.

    The train is pushed over a piece with blades and the next piece, and pushed back from there over another leg.
    """
    layout = rolling.layout
    found: dict[tuple[Passed, Passed], tuple[set[State], set[State]]] = {}
    all_runs = {state: rolling.set_runs(state) for state in layout.states}
    first_runs: dict[Passed, set[State]] = {}
    for state, runs in all_runs.items():
        for begin in [r for r in runs.values() if r.piece == start]:
            run = begin
            passed = [(run.piece, run.entry, run.exit)]
            while True:
                beyond = layout.neighbours.get((run.piece, run.exit))
                if beyond is None or beyond not in runs:
                    break
                before, run = run, runs[beyond]
                key = (run.piece, run.entry, run.exit)
                if track_of(key) in map(track_of, passed) or run.piece == goal:
                    break
                passed.append(key)
                if layout.has_blades(before.piece):
                    first_runs.setdefault(tuple(passed), set()).add(state)
    for first, states in first_runs.items():
        turn, over = first[-1], first[-2]
        for state, runs in all_runs.items():
            back = runs.get((turn[0], turn[2]))
            if back is None or back.exit != turn[1]:
                continue
            other = runs.get((over[0], over[2]))
            if other is None or other.exit == over[1]:
                continue
            tail = (
                push(rolling, runs, other, goal) if other.piece != goal else ((other.piece, other.entry, other.exit),)
            )
            if tail is None or {track_of(k) for k in tail} & {track_of(k) for k in first}:
                continue
            second = ((turn[0], turn[2], turn[1]), *tail)
            found.setdefault((first, second), (states, set()))[1].add(state)
    return found


def track_of(key: tuple[str, str, str]) -> tuple[str, frozenset[str]]:
    """The track of a run, whichever way."""
    return key[0], frozenset(key[1:])
