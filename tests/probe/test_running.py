"""Trains in symptoms, against a train that is moved by half millimetres along plain track by a program of its own."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from random import Random

import pytest
import yaml
from click.testing import CliRunner

from netlister import read_file, read_text
from netlister.check import check
from netlister.cli.diagnose import command
from netlister.probe.explain import Explainer
from netlister.probe.sheet import prepare
from netlister.probe.symptoms import SymptomError, read_symptom
from tests.probe.reference import Bench

EXAMPLES = Path(__file__).parents[2] / "examples"
HALF = 0.5  # mm: half of the gap of every insulated joint below


def line(rng: Random) -> dict:
    """Sections one after the other with insulated joints, each with feeds, and a train."""
    count = rng.randrange(2, 5)
    names = [f"s{k}" for k in range(count)]
    axles = sorted({0, *(rng.randrange(5, 120) for _ in range(rng.randrange(1, 4)))})
    numbers = range(1, len(axles) + 1)
    left = [n for n in numbers if rng.random() < 0.8] or [1]
    right = [n for n in numbers if rng.random() < 0.8] or [1]
    return {
        "format": "netlister/1",
        "gap": "1 mm",
        "supplies": {"main": {"type": "dcc", "voltage": "15 V", "trip": "3 A"}},
        "track": {n: {"length": f"{rng.randrange(30, 160)} mm"} for n in names},
        "joints": [
            {"from": a, "to": b, "insulate": rng.choice(["both", "left", "right", "none"]), "id": f"j{a}"}
            for a, b in pairwise(names)
        ],
        "feeds": [{"to": n} for n in names],
        "trains": {
            "engine": {
                "axles": [f"{a} mm" for a in axles],
                "left": [str(n) for n in left],
                "right": [str(n) for n in right],
                "conducting": [str(n) for n in numbers if rng.random() < 0.5],
                **({"carries-on": f"{rng.randrange(5, 40)} mm"} if rng.random() < 0.3 else {}),
            }
        },
    }


class Moved:
    """The train on the line, place by place; written from the format's reference."""

    def __init__(self, data: dict) -> None:
        self.bench = Bench(data)
        self.names = list(data["track"])
        self.starts = [0.0]
        for one in data["track"].values():
            self.starts.append(self.starts[-1] + float(one["length"].split()[0]))
        self.cut = {
            "left": [j["insulate"] in ("both", "left") for j in data["joints"]],
            "right": [j["insulate"] in ("both", "right") for j in data["joints"]],
        }
        train = data["trains"]["engine"]
        self.axles = [float(a.split()[0]) for a in train["axles"]]
        self.pick = {s: {int(n) for n in train[s]} for s in ("left", "right")}
        self.bridge = {*self.pick["left"], *self.pick["right"], *(int(n) for n in train["conducting"])}
        self.carries = float(train.get("carries-on", "0 mm").split()[0])
        (self.state,) = self.bench.states
        self.known: dict = {}

    def wheel(self, x: float, side: str) -> tuple[str, ...]:
        """The rail under a wheel, or both rails where it stands on a gap."""
        for k, at in enumerate(self.starts[1:-1]):
            if abs(x - at) < HALF and self.cut[side][k]:
                return f"{self.names[k]}.{side}", f"{self.names[k + 1]}.{side}"
        k = max(k for k, at in enumerate(self.starts[:-1]) if at <= x)
        return (f"{self.names[k]}.{side}",)

    def places(self, facing: int, low: float, high: float) -> list[dict]:
        """What is under the wheels with the first axle from one place to another, running up (1) or down the line."""
        if (facing, low, high) not in self.known:
            self.known[facing, low, high] = self.find_places(facing, low, high)
        return self.known[facing, low, high]

    def find_places(self, facing: int, low: float, high: float) -> list[dict]:
        """The same, place by place."""
        found = []
        x = low + 0.25
        while x < high:
            at = [x - a * facing for a in self.axles]
            if all(0 < place < self.starts[-1] for place in at):
                rails: dict[str, set[str]] = {"left": set(), "right": set()}
                joined: list[set[str]] = []
                for hand in ("left", "right"):
                    side = hand if facing > 0 else {"left": "right", "right": "left"}[hand]
                    wired = set()
                    for n, place in enumerate(at, 1):
                        under = self.wheel(place, side)
                        if len(under) > 1 and n in self.bridge:
                            joined.append(set(under))
                        if n in self.pick[hand]:
                            if len(under) == 1:
                                rails[hand] |= set(under)
                            if len(under) == 1 or n in self.bridge:
                                wired |= set(under)
                    joined.append(wired)
                found.append({**rails, "joined": joined})
            else:
                found.append(None)
            x += 0.5
        return found

    def poles(self, metals: list) -> dict[str, set[str]]:
        """Per rail the poles that it has."""
        groups = self.bench.groups(metals, (), self.state)
        return {n: {p for p in ("main.A", "main.B") if groups[p] == groups[n]} for n in groups}

    def feeds(self, place: dict, poles: dict) -> bool:
        """Whether the train has current."""
        both = [*place["left"], *place["right"]]
        if any(len(poles[n]) > 1 for n in both):
            return True
        return {p for n in place["left"] for p in poles[n]} | {p for n in place["right"] for p in poles[n]} == {
            "main.A",
            "main.B",
        } and any(poles[a] and poles[b] and poles[a] != poles[b] for a in place["left"] for b in place["right"])

    @staticmethod
    def trips(place: dict, groups: dict[str, int]) -> bool:
        """Whether its wheels join the poles."""
        reached, before = {groups["main.A"]}, 0
        while len(reached) != before:
            before = len(reached)
            for some in place["joined"]:
                there = {groups[n] for n in some}
                if there & reached:
                    reached |= there
        return groups["main.B"] in reached

    def stops(self, bad: list, piece: str) -> bool:
        """Whether it stops with a wheel on a piece, where it has current as drawn."""
        k = self.names.index(piece)
        good, now = self.poles(self.bench.metals()), self.poles(bad)
        reach = self.axles[-1]
        for facing in (1, -1):
            low, high = (self.starts[k], self.starts[k + 1] + reach)
            if facing < 0:
                low, high = self.starts[k] - reach, self.starts[k + 1]
            places = self.places(facing, low, high)
            length, new = 0.0, False
            for place in places:
                if place is None or self.feeds(place, now):
                    length, new = 0.0, False
                    continue
                length += 0.5
                new |= self.feeds(place, good)
                if new and length >= self.carries:
                    return True
        return False

    def jolts(self, bad: list, joint: int) -> bool:
        """Whether it trips over a joint, where it does not as drawn."""
        good = self.bench.groups(self.bench.metals(), (), self.state)
        groups = self.bench.groups(bad, (), self.state)
        if groups["main.A"] == groups["main.B"]:
            return True
        at, reach = self.starts[joint + 1], self.axles[-1]
        for facing in (1, -1):
            low, high = (at - HALF, at + HALF + reach) if facing > 0 else (at - HALF - reach, at + HALF)
            for place in self.places(facing, low, high):
                if place and self.trips(place, groups) and not self.trips(place, good):
                    return True
        return False


@pytest.mark.parametrize("seed", range(30))
def test_every_single_fault_of_a_line(seed: int) -> None:
    """Which faults stop the train on each section, and which trip it over each joint."""
    data = line(Random(seed))
    text = yaml.safe_dump(data, sort_keys=False)
    layout = read_text(text, "line.yaml")
    if any(f.severity.label == "error" for f in check(layout, causes=False).findings):
        pytest.skip("a design with errors has no diagnosis")
    made, faults = prepare(layout)
    moved = Moved(data)
    reference = moved.bench.faults()
    explainer = Explainer(made, faults)

    def given(words: str) -> set:
        try:
            symptom = read_symptom(made, words, -1)
        except SymptomError:
            return set()
        return {e.faults[0].key() for e in explainer.explain([symptom]).explanations if len(e.faults) == 1}

    for k, piece in enumerate(moved.names):
        expected = {key for key, some in reference.items() if any(moved.stops(bad, piece) for bad in some)}
        assert given(f"engine stops at {piece}") == expected, text
        if k + 1 < len(moved.names):
            expected = {key for key, some in reference.items() if any(moved.jolts(bad, k) for bad in some)}
            assert given(f"engine trips when it passes j{piece}") == expected, text


def test_the_lines_are_no_errors_and_have_stops() -> None:
    """So that the test above can fail: most are used, and in some the wheels decide."""
    used = 0
    for seed in range(30):
        layout = read_text(yaml.safe_dump(line(Random(seed)), sort_keys=False), "line.yaml")
        used += not any(f.severity.label == "error" for f in check(layout, causes=False).findings)
    assert used >= 25


FROG = EXAMPLES / "reversing-loop" / "layout.yaml"


def words(text: str, sentence: str, tmp_path: Path) -> str:
    """What the command says of a sentence."""
    path = tmp_path / "layout.yaml"
    path.write_text(text)
    return CliRunner().invoke(command, [str(path), "--symptom", sentence]).output


def test_a_dead_frog_stops_a_short_engine_and_not_a_long_one(tmp_path: Path) -> None:
    """Over a frog of which the contact is open; a railcar picks up in front of it and behind it."""
    text = FROG.read_text("utf-8").replace("trains:", "trains:\n  shunter: {axles: [0 mm, 22 mm]}")
    open_contact = "contact 'frog' of 'M1' makes in no position"
    assert open_contact in words(text, "shunter stops at T1", tmp_path)
    assert open_contact not in words(text, "railcar stops at T1", tmp_path)
    said_of = words(text, "shunter stops at T1", tmp_path)
    assert "wheels of 'shunter' that pick up: 2 on the left over 22 mm" in said_of
    assert "T1.frog (no pole)" in said_of


def test_a_reverser_chooses_unless_nothing_suits(tmp_path: Path) -> None:
    """Wheels over one end of a loop join the reverser's pole to the line's: it chooses. A frog of the wrong pole trips."""
    text = FROG.read_text("utf-8")
    out = words(text, "railcar trips when it passes gap-left", tmp_path)
    assert "1. the throws of contact 'frog' of 'M1' are swapped" in out
    assert "joins T1.stock-right (main.B) and T1.frog (main.A)" in out or "T1.frog (main.A) and" in out
    assert "the feed wire to" not in out


@pytest.mark.parametrize(
    ("sentence", "message"),
    [
        ("railcar trips", "does not say where"),
        ("railcar and engine trip at T1", "names railcar and engine"),
    ],
)
def test_what_to_say_of_a_train(sentence: str, message: str) -> None:
    """One train, and where."""
    text = FROG.read_text("utf-8").replace("trains:", "trains:\n  engine: {axles: [0 mm, 22 mm]}")
    made, _ = prepare(read_text(text, "layout.yaml"))
    with pytest.raises(SymptomError) as error:
        read_symptom(made, sentence, -1)
    assert message in str(error.value)


def test_trains_of_the_examples() -> None:
    """A train without axles, one that carries nothing on, one with wagons: each leads somewhere."""
    for name, sentence in (
        ("quarry-line", "railcar stops at {}"),
        ("peat-railway", "peat-engine stops at {}"),
        ("terminus", "tank-engine stops at {}"),
    ):
        made, faults = prepare(read_file(str(EXAMPLES / name / "layout.yaml")))
        explainer = Explainer(made, faults)
        piece = next(p.name for p in made.layout.pieces.values() if p.kind.plain)
        found = explainer.explain([read_symptom(made, sentence.format(piece), -1)])
        assert any(f.kind == "feed-open" for e in found.explanations for f in e.faults), name
