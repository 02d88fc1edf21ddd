"""Which faults explain what the meter said, and what to measure next."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, NamedTuple

import yaml

from netlister.layout.model import Value
from netlister.probe.local import allowed
from netlister.probe.scene import FEEDS_OFF, LEAD_OFF, NOTHING, PAPER, Acts, Scene
from netlister.probe.sheet import Reading, usual_states
from netlister.probe.text import fault_object, set_of
from netlister.source import suggest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import State
    from netlister.circuit.numbers import Var
    from netlister.probe.detail import Detail
    from netlister.probe.faults import Edit, Fault

MOST_PAIRS = 60_000
"""Pairs of faults that are tried at the most."""
MOST_TOLD = 20
"""Explanations that are told at the most."""
ROUNDING = 1e-9

CURES = {
    "joint-bridged": "clear the gap: filings, a metal joiner in place of an insulated one, rail ends that touch",
    "joint-open": "clean or replace the joiner, or solder a wire across it",
    "feed-open": "follow the feed wire from its screw to the rail: screw, tap, joint at the rail",
    "feed-swapped": "swap the two feed wires at their screws",
    "feed-misplaced": "move the feed wires to the side of the gap that the layout says",
    "contact-open": "look at the lead of the common, then clean or replace the contact",
    "contact-swapped": "swap the two outer leads of the contact",
    "contact-stuck": "free, adjust or replace the contact",
    "machine-reversed": "swap the leads of the machine's coil or motor, or its positions on the panel",
    "blade-open": "clean the blade where it touches the stock rail",
    "bond-open": "renew the wire or link under the piece",
    "link-left": "cut it, as the layout says",
    "wire-open": "follow the wire from end to end: screws, solder, breaks",
    "plug-open": "look at the pin and the wires behind it",
    "plug-swapped": "swap the wires of the two pins",
    "bus-swapped": "swap the two wires of the bus where it starts",
}


class Meter(NamedTuple):
    """A reading as taken: the row of the file that it stands in (from 1), what was measured, whether it beeped."""

    row: int
    reading: Reading  # `expect` is what the good layout does
    beeped: bool


class ReadingsError(Exception):
    """A file of readings that cannot be used. The message says where and what to write instead."""


class Explanation(NamedTuple):
    """Faults that together explain every reading; the less it weighs the likelier."""

    faults: tuple[Fault, ...]
    edits: tuple[Edit, ...]
    weight: float


@dataclass(slots=True)
class Diagnosis:
    """What the readings lead to. `contradictory`: rows that no layout could give together. `ignored`: rows not used."""

    explanations: list[Explanation] = field(default_factory=list)
    wrong: list[int] = field(default_factory=list)
    next: Reading | None = None
    contradictory: list[list[int]] = field(default_factory=list)
    tried_all: bool = True
    ignored: list[int] = field(default_factory=list)


@cache
def weights() -> tuple[dict[str, float], float]:
    """Per kind of fault its weight, and what a pair weighs more than its two faults."""
    read = yaml.safe_load((files("netlister.probe") / "weights.yaml").read_text("utf-8"))
    return {kind: float(w) for kind, w in read["weights"].items()}, float(read["pair"])


# -- the file of readings


def read_meter(made: Detail, text: str, name: str) -> tuple[list[Meter], list[int]]:
    """The readings of a CSV file, and the rows with the supply on, which no beep test explains.

    Rows without a reading are left out. Raises ReadingsError.
    """
    rows = csv.DictReader(io.StringIO(text))
    wanted = ["supply", "acts", "set", "probe-1", "probe-2", "reading"]
    missing = [w for w in wanted if w not in (rows.fieldnames or ())]
    if missing:
        msg = f"{name}:1:1: the first line must name the columns {','.join(wanted)}; '{missing[0]}' is missing"
        raise ReadingsError(msg)
    first, _ = usual_states(made)
    found: list[Meter] = []
    ignored: list[int] = []
    scenes: dict[tuple[tuple[str, ...], State], Scene] = {}
    for number, row in enumerate(rows, 1):
        where = f"{name}:{rows.line_num}:1"
        value = (row["reading"] or "").strip()
        if not value:
            continue
        if (row["supply"] or "").strip() == "on":
            ignored.append(number)
            continue
        if (row["supply"] or "").strip() != "off":
            msg = f"{where}: 'supply' is 'on' or 'off', not '{row['supply']}'"
            raise ReadingsError(msg)
        if value not in {"beep", "silent"}:
            msg = f"{where}: with the supply off a reading is 'beep' or 'silent', not '{value}'"
            raise ReadingsError(msg)
        acts = tuple((row["acts"] or "").split())
        _check_acts(made, acts, where)
        state = _state(made, row["set"] or "", first, where)
        probes = tuple(_probe(made, (row[key] or "").strip(), where) for key in ("probe-1", "probe-2"))
        if (acts, state) not in scenes:
            scenes[acts, state] = Scene(made, Acts(made, acts), state)
        x, y = probes
        good = scenes[acts, state].beeps(x, y)
        found.append(Meter(number, Reading(acts, state, (x, y), good), value == "beep"))
    return found, ignored


def _check_acts(made: Detail, acts: tuple[str, ...], where: str) -> None:
    for act in acts:
        known = (
            act == FEEDS_OFF
            or (act.startswith(PAPER) and act.removeprefix(PAPER) in made.blades)
            or (act.startswith(LEAD_OFF) and act.removeprefix(LEAD_OFF) in made.commons)
        )
        if not known:
            choices = [FEEDS_OFF, *(PAPER + p for p in made.blades), *(LEAD_OFF + c for c in made.commons)]
            msg = f"{where}: there is nothing to do called '{act}'{suggest(act, choices)}"
            raise ReadingsError(msg)


def _state(made: Detail, text: str, first: State, where: str) -> State:
    fixed: list[tuple[Var, Value]] = []
    for pair in text.split():
        name, sign, position = pair.partition("=")
        number = made.circuit.variable.get(name)
        if not sign or number is None:
            hint = suggest(name, made.circuit.variable)
            msg = f"{where}: '{pair}' is no position{hint}; write NAME=POSITION, as in M1=through"
            raise ReadingsError(msg)
        positions = made.circuit.variables[number].positions
        if position not in positions:
            msg = f"{where}: '{name}' has no position '{position}'; it has {', '.join(positions)}"
            raise ReadingsError(msg)
        fixed.append((number, Value(positions.index(position))))
    state = allowed(made, tuple(fixed), first)
    if state is None:
        msg = f"{where}: 'never' rules these positions out; set others"
        raise ReadingsError(msg)
    return state


def _probe(made: Detail, name: str, where: str) -> int:
    number = made.node.get(name)
    if number is None or name.startswith("bus:"):
        msg = f"{where}: there is no terminal '{name}'{suggest(name, made.node)}"
        raise ReadingsError(msg)
    return number


# -- explaining


class Explainer:
    """Works out what a set of readings leads to."""

    def __init__(self, made: Detail, faults: list[Fault]) -> None:
        self.made, self.faults = made, faults
        self.weight, self.pair = weights()
        self.scenes: dict[tuple[tuple[str, ...], State], Scene] = {}

    def scene(self, reading: Reading) -> Scene:
        """The scene in which a reading is taken."""
        key = (reading.acts, reading.state)
        if key not in self.scenes:
            self.scenes[key] = Scene(self.made, Acts(self.made, reading.acts), reading.state)
        return self.scenes[key]

    def explain(self, taken: list[Meter]) -> Diagnosis:
        """The faults, singly or in pairs, that explain all readings, likeliest first, and the next reading."""
        found = Diagnosis(contradictory=self._contradictory(taken))
        found.wrong = [m.row for m in taken if m.beeped != m.reading.expect]
        ordered = sorted(taken, key=lambda m: m.beeped == m.reading.expect)
        for fault in self.faults:
            for edit in fault.edits:
                if self.fits((edit,), ordered):
                    found.explanations.append(Explanation((fault,), (edit,), self.weight[fault.kind]))
                    break
        if found.wrong and not found.explanations and not found.contradictory:
            found.tried_all = self._pairs(ordered, found)
        found.explanations.sort(key=lambda e: (e.weight, [f.key() for f in e.faults]))
        if not found.contradictory:
            found.next = self.next(found, taken)
        return found

    def fits(self, edits: tuple[Edit, ...], taken: list[Meter]) -> bool:
        """Whether faults give every reading that was taken."""
        effects: dict[int, Any] = {}
        for m in taken:
            scene = self.scene(m.reading)
            effect = effects.get(id(scene))
            if effect is None:
                effect = effects[id(scene)] = scene.effect(edits)
            if scene.beeps(*m.reading.probes, effect) != m.beeped:
                return False
        return True

    def _pairs(self, ordered: list[Meter], found: Diagnosis) -> bool:
        """Pairs of which at least one is at a reading that is wrong; false where not all of these were tried."""
        wrong = [m for m in ordered if m.beeped != m.reading.expect]
        near: list[tuple[Fault, Edit]] = []
        for fault in self.faults:
            for edit in fault.edits:
                if any(self._touches(edit, m.reading) for m in wrong):
                    near.append((fault, edit))
        tried = 0
        for k, (fault, edit) in enumerate(near):
            for other, second in near[k + 1 :]:
                if other is fault or set(edit.out) & set(second.out):
                    continue
                tried += 1
                if tried > MOST_PAIRS:
                    return False
                if self.fits((edit, second), ordered):
                    weight = self.weight[fault.kind] + self.weight[other.kind] + self.pair
                    found.explanations.append(Explanation((fault, other), (edit, second), weight))
        return True

    def _touches(self, edit: Edit, reading: Reading) -> bool:
        scene = self.scene(reading)
        labels = {scene.label[n] for n in reading.probes}
        cs = [*(self.made.conductors[n] for n in edit.out), *edit.into]
        return any(scene.label[end] in labels for c in cs for end in (c.a, c.b))

    @staticmethod
    def _contradictory(taken: list[Meter]) -> list[list[int]]:
        """Rows that contradict one another: what beeps together step by step, and is silent from end to end."""
        by_scene: dict[tuple[tuple[str, ...], State], list[Meter]] = {}
        for m in taken:
            by_scene.setdefault((m.reading.acts, m.reading.state), []).append(m)
        found = []
        for some in by_scene.values():
            near: dict[int, list[tuple[int, int]]] = {}
            for m in some:
                if m.beeped:
                    x, y = m.reading.probes
                    near.setdefault(x, []).append((y, m.row))
                    near.setdefault(y, []).append((x, m.row))
            for m in some:
                if not m.beeped and (way := _way(near, *m.reading.probes)) is not None:
                    found.append(sorted({*way, m.row}))
        return found

    # -- the next reading

    def next(self, found: Diagnosis, taken: list[Meter]) -> Reading | None:
        """The reading that splits the explanations best by their likelihood; None where none splits them."""
        some = found.explanations[:200]
        if not found.wrong:
            some = [*some, Explanation((), (), 0.0)]
        if len(some) < 2:  # noqa: PLR2004
            return None
        share = [2.0**-e.weight for e in some]
        done = {(m.reading.acts, m.reading.state, frozenset(m.reading.probes)) for m in taken}
        best: tuple[float, int, Reading] | None = None
        for order, (acts, state) in enumerate(self._places(some)):
            reading = Reading(acts, state, (0, 0), expect=False)
            scene = self.scene(reading)
            effects = [scene.effect(e.edits) if e.edits else NOTHING for e in some]
            for x, y in self._points(scene, some, effects):
                if (acts, state, frozenset((x, y))) in done:
                    continue
                yes = sum(w for w, effect in zip(share, effects, strict=True) if scene.beeps(x, y, effect))
                worst = max(yes, sum(share) - yes)
                if worst > sum(share) - ROUNDING:
                    continue
                if best is None or worst < best[0] - ROUNDING:
                    best = worst, order, Reading(acts, state, (x, y), scene.beeps(x, y))
        return best[2] if best else None

    def _places(self, some: list[Explanation]) -> Iterator[tuple[tuple[str, ...], State]]:
        first, last = usual_states(self.made)
        moved = {
            v
            for e in some
            for edit in e.edits
            for c in (*(self.made.conductors[n] for n in edit.out), *edit.into)
            for v, _ in c.when
        }
        states = [first, last]
        if len(moved) <= 6:  # noqa: PLR2004
            for v in sorted(moved):
                for x in self.made.circuit.variables[v].values:
                    state = allowed(self.made, ((v, x),), first)
                    if state is not None and state not in states:
                        states.append(state)
        papers = sorted(
            {c.owner for e in some for edit in e.edits for c in self._near(edit) if c.owner in self._bladed}
        )
        for acts in ((FEEDS_OFF,), (), *((FEEDS_OFF, PAPER + p) for p in papers[:4])):
            for state in states:
                yield acts, state

    @property
    def _bladed(self) -> set[str]:
        return {p for p in self.made.blades if self.made.layout.pieces[p].kind.blades}

    def _near(self, edit: Edit) -> Iterator[Any]:
        ends = {end for c in (*(self.made.conductors[n] for n in edit.out), *edit.into) for end in (c.a, c.b)}
        for numbers in self.made.blades.values():
            for n in numbers:
                c = self.made.conductors[n]
                if c.a in ends or c.b in ends:
                    yield c

    def _points(self, scene: Scene, some: list[Explanation], effects: list[Any]) -> Iterator[tuple[int, int]]:
        """Pairs of points between which explanations differ: one point for each way in which they touch it."""
        points = set(self.made.points)
        signs: dict[int, list[tuple[int, int]]] = {}
        labels: set[int] = set()
        for k, effect in enumerate(effects):
            for node, new in effect.parted.items():
                if node in points:
                    signs.setdefault(node, []).append((k, new))
                labels.add(scene.label[node])
            labels.update(x for x in effect.joined if x < scene.count)
        kinds: dict[tuple[int, tuple[tuple[int, int], ...]], int] = {}
        for node in self.made.points:
            if scene.label[node] in labels:
                kinds.setdefault((scene.label[node], tuple(signs.get(node, ()))), node)
        nodes = list(kinds.values())[:120]
        for i, x in enumerate(nodes):
            for y in nodes[i + 1 :]:
                yield x, y
        del some


def _way(near: dict[int, list[tuple[int, int]]], start: int, goal: int) -> list[int] | None:
    came: dict[int, tuple[int, int]] = {start: (-1, 0)}
    queue = [start]
    for node in queue:
        for other, row in near.get(node, ()):
            if other not in came:
                came[other] = node, row
                queue.append(other)
    if goal not in came:
        return None
    rows, node = [], goal
    while node != start:
        node, row = came[node]
        rows.append(row)
    return rows


# -- telling


def diagnosis_object(made: Detail, found: Diagnosis) -> dict[str, Any]:
    """A diagnosis as the plain values of `--format json`."""
    following = None
    if found.next is not None:
        n = found.next
        following = {
            "supply": "off",
            "acts": list(n.acts),
            "set": set_of(made, n.state),
            "probes": [made.names[p] for p in n.probes],
        }
    return {
        "format": "netlister-diagnosis/1",
        "layout": made.layout.name,
        "wrong": found.wrong,
        "explanations": [
            {
                "faults": [{**fault_object(f), "do": CURES[f.kind]} for f in e.faults],
                "weight": round(e.weight, 3),
            }
            for e in (found.explanations if found.wrong else [])[:MOST_TOLD]
        ],
        "next": following,
        "contradictory": found.contradictory,
        "complete": found.tried_all,
    }


def told(made: Detail, found: Diagnosis) -> str:
    """A diagnosis as text."""
    out: list[str] = []
    for rows in found.contradictory:
        which = ", ".join(map(str, rows))
        out.append(
            f"Readings {which} contradict one another: what beeps step by step cannot be silent. Take them again."
        )
    if found.ignored:
        out.append(f"Not used, since the supply was on: readings {', '.join(map(str, found.ignored))}.")
    if not found.wrong:
        out.append("Every reading is as it should be.")
    elif found.contradictory:
        pass
    elif not found.explanations:
        out.append("No single fault explains the readings, and no pair near the wrong ones either.")
        if not found.tried_all:
            out.append("Not all pairs were tried.")
    else:
        out.append(f"Wrong: readings {', '.join(map(str, found.wrong))}. What explains all readings, likeliest first:")
        for number, e in enumerate(found.explanations[:MOST_TOLD], 1):
            out.append(f"{number:3}. {'; and '.join(f.name for f in e.faults)}")
            out += [f"       do: {CURES[f.kind]} ({f.span})" for f in e.faults]
        if len(found.explanations) > MOST_TOLD:
            out.append(f"     and {len(found.explanations) - MOST_TOLD} more")
        out.append("If the railway is right as it is, the file is not: write there what was found, and check it again.")
    if found.next is not None:
        n = found.next
        acts = ", ".join(n.acts) or "bus on"
        where = " ".join(f"{k}={v}" for k, v in set_of(made, n.state).items())
        out.append(f"Next, supply unplugged, {acts}, {where}: {made.names[n.probes[0]]} to {made.names[n.probes[1]]}.")
    return "\n".join(out) + "\n"
