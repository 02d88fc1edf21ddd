"""`stall` and the routes against trains rolled millimetre by millimetre over every route in every state.

Longer runs: `NETLISTER_LONG=1` with pytest, or `python -m tests.properties.test_rolling NUMBER SEED`.
"""

from __future__ import annotations

import itertools
import os
import sys
from random import Random
from typing import TYPE_CHECKING

import pytest

import netlister
from netlister.lengths import IN_A_MILLIMETRE
from netlister.outputs.routes import find, ways_object
from netlister.rules import stall
from netlister.rules.analysis import Analysis
from tests.properties.layouts import dump
from tests.properties.reference import Data, State, expand
from tests.properties.rolling import Rolling, millimetres_of, rolling_layout, train, ways, zigzags

if TYPE_CHECKING:
    from collections.abc import Iterator

LONG = bool(os.environ.get("NETLISTER_LONG"))
SEEDS = range(1200 if LONG else 40)
MM = IN_A_MILLIMETRE


def made(seed: int) -> tuple[Data, Rolling, Analysis] | None:
    """A layout of whole millimetres, rolled and analysed; None where it has other lengths."""
    data = rolling_layout(Random(seed))
    read = netlister.read_text(dump(data))
    rolling = Rolling(data, read)
    return (data, rolling, Analysis.of(read, 0)) if rolling.whole() else None


def values_in(analysis: Analysis, state: State) -> list[int]:
    """A state as the values of the variables of the tool."""
    at = dict(state)
    return [v.positions.index(at[v.name]) for v in analysis.circuit.variables]


def tool_stands(analysis: Analysis) -> dict[str, list[tuple[int, tuple[str, str, str, str], range]]]:
    """What the tool found, by train: when, side and run, and the millimetres."""
    track = analysis.track
    found = {}
    for name, listed in stall.stands(analysis, stall.locomotives(analysis)).items():
        found[name] = []
        for side, stand in listed:
            assert stand.start % MM == 0
            assert stand.stop % MM == 0
            run = (stall.SIDES[side], stand.lead.piece, track.entry(stand.lead)[1], track.exit(stand.lead)[1])
            found[name].append((stand.function, run, range(stand.start // MM, stand.stop // MM)))
    return found


def stall_differences(rolling: Rolling, analysis: Analysis) -> Iterator[str]:
    """Where the two say different things."""
    value = analysis.poles.diagrams.value
    findings = list(stall.RULE.find(analysis))
    all_found = tool_stands(analysis)
    for name in rolling.data["trains"]:
        found = all_found[name]
        for state in rolling.layout.states:
            values = values_in(analysis, state)
            theirs = {(*run, place) for function, run, places in found if value(function, values) for place in places}
            stuck = rolling.stuck(name, state)
            mine, stops = set(stuck), set(rolling.stands(name, state))
            for key in sorted(mine ^ theirs)[:3]:
                yield f"{name} in {sorted(state)}: {'not found' if key in mine else 'invented'}: {key}"
            told = [b for b in findings if b.about.train.name == name and value(b.function, values)]
            if bool(told) != bool(stops):
                yield f"{name} in {sorted(state)}: told {bool(told)}"
            names = {b.about.name for b in told}
            for key in sorted(stops):  # where all wheels are on one piece, that piece is told, whatever else is
                on = set(stuck[key])
                if len(on) == 1 and "gap" not in on and not on <= names:
                    yield f"{name} in {sorted(state)}: not told at {on}"
                    break


def way_differences(rolling: Rolling, analysis: Analysis) -> Iterator[str]:
    """Where ways differ: which there are, their states, lengths, gaps and dead lengths."""
    pieces = list(rolling.layout.pieces)
    for start, goal in ((a, b) for a in pieces for b in pieces if a != b):
        mine = ways(rolling, start, goal)
        answer = ways_object(analysis.settings, find(analysis.settings, (start, ""), (goal, "")))
        theirs = {}
        for one in answer["routes"]:
            if over_a_table(rolling, one):
                continue  # this oracle moves no table; tests/unit/routes does, worked by hand
            (run,) = one["runs"]
            way = tuple((p["piece"], p["from"], p["to"]) for p in run["pieces"])
            states = {s for entry in run["set"] for s in expand(entry, rolling.layout.states)}
            theirs[way] = states
            yield from one_way(rolling, way, run, one["unknown"])
        for way in sorted({*mine, *theirs}):
            if mine.get(way) != theirs.get(way):
                yield f"{start} to {goal} by {way}: {len(mine.get(way, ()))} states, not {len(theirs.get(way, ()))}"
        lengths = [one["length"] for one in answer["routes"]]
        if lengths != sorted(lengths):
            yield f"{start} to {goal}: not the shortest first"
        if bool(answer["routes"]) == ("why_none" in answer):
            yield f"{start} to {goal}: reason missing or too many"


def over_a_table(rolling: Rolling, one: dict) -> bool:
    """Whether a train is carried by a turntable or traverser: a run ends on it, and the next begins there."""
    pairs = itertools.pairwise(one["runs"])
    return any(
        a["pieces"][-1]["piece"] == b["pieces"][0]["piece"]
        and kind_of(rolling, a["pieces"][-1]["piece"]).startswith(("turntable", "traverser"))
        for a, b in pairs
    )


def kind_of(rolling: Rolling, piece: str) -> str:
    """The name of the kind of a piece, as the layout has it."""
    return (rolling.data["track"][piece] or {}).get("kind", "rail-section")


def zigzag_differences(rolling: Rolling, analysis: Analysis) -> Iterator[str]:
    """Where ways with one change of direction differ."""
    pieces = list(rolling.layout.pieces)
    for start, goal in ((a, b) for a in pieces for b in pieces if a != b):
        mine = zigzags(rolling, start, goal)
        answer = ways_object(analysis.settings, find(analysis.settings, (start, ""), (goal, ""), 1, 10_000))
        theirs = {}
        for one in answer["routes"]:
            runs = [tuple((p["piece"], p["from"], p["to"]) for p in run["pieces"]) for run in one["runs"]]
            when = [{s for entry in run["set"] for s in expand(entry, rolling.layout.states)} for run in one["runs"]]
            if len(runs) == 2 and not over_a_table(rolling, one):
                theirs[tuple(runs)] = tuple(when)
        for way in sorted({*mine, *theirs}):
            if mine.get(way) != theirs.get(way):
                yield f"{start} to {goal} by {way}: {mine.get(way)}, not {theirs.get(way)}"


def one_way(rolling: Rolling, way: tuple[tuple[str, str, str], ...], run: dict, unknown: list[str]) -> Iterator[str]:
    """Whether the length, gaps and dead lengths of a way are those of its millimetres."""
    sides = dict(zip(("left", "right"), millimetres_of(rolling, way), strict=True))
    if run["length"] != len(sides["left"]) or len(sides["left"]) != len(sides["right"]):
        yield f"{way}: {run['length']} mm instead of {len(sides['left'])}"
    if {piece for piece, _, _ in way if rolling.runs[way_key(way, piece)].length is None} != set(unknown):
        yield f"{way}: other pieces without a length"
    half = rolling.gap // 2
    for side, rails in sides.items():
        dead = {
            place
            for one in run["dead"]
            if one["side"] == side
            for place in range(round(one["at"]), round(one["at"] + one["length"]))
        }
        mine = {place for place, rail in enumerate(rails) if rail == "dead"}
        if not mine <= dead:
            yield f"{way}: dead length on the {side} not told"
        joints = [round(one["at"]) for one in run["gaps"] if one["side"] == side and "joint" in one]
        cut = {place for at in joints for place in range(at - half, at + half)}
        if not (dead - mine) <= ends_and(cut, half, len(rails)):
            yield f"{way}: invented dead length on the {side}"
        gaps = {place for place, rail in enumerate(rails) if rail == "gap"}
        if not gaps <= ends_and(cut, half, len(rails)):
            yield f"{way}: gap on the {side} not told"


def differences(rolling: Rolling, analysis: Analysis) -> list[str]:
    """All in which the tool and the rolled trains differ."""
    found = [*stall_differences(rolling, analysis), *way_differences(rolling, analysis)]
    return [*found, *zigzag_differences(rolling, analysis)]


def way_key(way: tuple[tuple[str, str, str], ...], piece: str) -> tuple[str, str, str]:
    """The run over a piece on a way."""
    return next(key for key in way if key[0] == piece)


def ends_and(cut: set[int], half: int, length: int) -> set[int]:
    """The millimetres of gaps, and those at both ends of a way, where a gap is not on it."""
    return cut | set(range(half)) | set(range(length - half, length))


@pytest.mark.parametrize("part", range(10))
def test_rolling(part: int) -> None:
    """No difference in any state of any layout."""
    for seed in SEEDS:
        one = made(seed) if seed % 10 == part else None
        if one is not None:
            data, rolling, analysis = one
            wrong = differences(rolling, analysis)
            assert wrong == [], (seed, wrong, dump(data))


def test_layouts_to_roll_over_are_varied() -> None:
    """Many are of whole millimetres; in some a train stops, in some on more than one stretch at once."""
    all_made = [one for one in map(made, range(300)) if one is not None]
    assert len(all_made) >= 60
    stops = [b for _, _, analysis in all_made for b in stall.RULE.find(analysis)]
    assert len(stops) >= 60
    assert any(len({s.name for stand in b.about.stop.stands for s in stand.spots}) > 1 for b in stops)
    assert any(b.function != 1 for b in stops)
    assert sum(not list(stall.RULE.find(analysis)) for _, _, analysis in all_made) >= 15
    pairs = [(r, a, b) for _, r, _ in all_made[:30] for a in r.layout.pieces for b in r.layout.pieces if a != b]
    assert sum(bool(zigzags(*pair)) for pair in pairs) >= 10
    assert sum(bool(ways(*pair)) for pair in pairs) >= 50


def in_a_row(rng: Random) -> Data:
    """Plastic frogs one after the other, with little or no track between, dead lengths measured, and short trains."""
    data: Data = {
        "format": "netlister/1", "gauge": "18 mm", "gap": f"{rng.choice([0, 2, 4])} mm",
        "supplies": {"main": {"type": "dcc", "voltage": "15 V"}}, "track": {}, "joints": [], "feeds": [],
    }  # fmt: skip
    track, ends = data["track"], []
    for number in range(rng.choice([2, 2, 3])):
        name = f"T{number}"
        track[name] = {"kind": "insulated-frog", "hand": rng.choice(["left", "right"]), "jumpers": "true"}
        track[name][rng.choice(["dead", "dead", "nose"])] = f"{rng.choice([4, 15, 22, 30])} mm"
        way = [f"{name}.toe", f"{name}.{rng.choice(['through', 'through', 'diverging'])}"]
        ends += [way if rng.random() < 0.5 else way[::-1]]
        data["feeds"].append({"to": name, "A": "stock-left", "B": "stock-right"})
        if rng.random() < 0.5:
            track[f"s{number}"] = {"length": f"{rng.choice([1, 6, 20])} mm"}
            ends += [[f"s{number}.a", f"s{number}.b"]]
            data["feeds"].append({"to": f"s{number}"})
    facing = [("toe", "a"), ("through", "diverging", "b")]
    ways = [tuple(next(n for n, own in enumerate(facing) if end.split(".")[1] in own) for end in way) for way in ends]
    for (one, other), (first, second) in zip(itertools.pairwise(ends), itertools.pairwise(ways), strict=True):
        if first[1] == second[0]:  # face to face: left meets right, so that the poles differ; part both rails
            data["joints"].append({"from": one[1], "to": other[0], "insulate": "both"})
        else:
            data["joints"].append({"from": one[1], "to": other[0], "insulate": rng.choice(["none", "none", "both"])})
    data["trains"] = {f"engine-{n}": train(rng) for n in range(1, rng.choice([2, 2, 3]))}
    return data


def rolled_in_a_row(seed: int) -> tuple[Data, Rolling, Analysis] | None:
    data = in_a_row(Random(seed))
    read = netlister.read_text(dump(data))
    rolling = Rolling(data, read)
    return (data, rolling, Analysis.of(read, 0)) if rolling.whole() else None


@pytest.mark.parametrize("part", range(5))
def test_dead_lengths_in_a_row(part: int) -> None:
    """Stops on two plastic frogs and more, beside trains that are rolled over them."""
    for seed in range(400 if LONG else 20):
        one = rolled_in_a_row(seed) if seed % 5 == part else None
        if one is not None:
            data, rolling, analysis = one
            wrong = list(stall_differences(rolling, analysis))
            assert wrong == [], (seed, wrong, dump(data))


def test_rows_of_dead_lengths_stop_trains_twice() -> None:
    """In many a train stops at two frogs of a row, also in the same states; in some at none."""
    rows = [one for one in map(rolled_in_a_row, range(40)) if one is not None]
    assert len(rows) >= 30
    found = [[(b.about.train.name, b.about.name, b.function) for b in stall.RULE.find(a)] for _, _, a in rows]
    twice = [f for f in found if any(x[0] == y[0] and x[1] != y[1] and x[2] == y[2] for x in f for y in f)]
    assert len(twice) >= 10
    assert sum(not f for f in found) >= 2


def main(number: int, first: int) -> int:
    """Roll over many layouts and print what differs."""
    rolled = failed = stops = 0
    for seed in range(first, first + number):
        one = made(seed)
        if one is None:
            continue
        rolled += 1
        if rolled % 100 == 0:
            print(f"{rolled} layouts, to seed {seed}", flush=True)
        data, rolling, analysis = one
        wrong = differences(rolling, analysis)
        stops += len(list(stall.RULE.find(analysis)))
        if wrong:
            failed += 1
            print(f"--- seed {seed}\n{dump(data)}", *wrong[:8], sep="\n", flush=True)
            if failed >= 3:
                break
    print(f"{rolled} of {number} layouts rolled over, {stops} stops, {failed} differ")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))
