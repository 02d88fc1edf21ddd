"""`parked` and `reversing-length` against plain enumeration on random layouts."""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

import networkx as nx
import pytest

import netlister
from tests.amount import seeds
from tests.properties.layouts import dump, random_layout
from tests.properties.reference import Data, Joint, Layout, State, expand

if TYPE_CHECKING:
    from collections.abc import Iterator

SEEDS = seeds(100, 1200)


def findings(data: Data, rule: str, layout: Layout) -> dict[str, set[State]]:
    """What the tool says, as subjects with their states."""
    report = netlister.check_text(dump(data), select=[rule], limit=0)
    return {
        f.subject: {s for entry in f.when for s in expand(dict(entry), layout.states)}
        for f in report.findings
        if f.rule == rule
    }


# -- parked


def joins(layout: Layout, joint: Joint, state: State) -> bool:
    """Whether the two sides of some gap of a joint have one pole each, and not the same."""
    poles = layout.pictures[state].poles
    return any(len(poles[a]) == len(poles[b]) == 1 and poles[a] != poles[b] for a, b in joint.insulated)


def revives(layout: Layout, joint: Joint, state: State) -> Iterator[str]:
    """The rails of rail-sections, or always joined to them, that have no pole and get one."""
    picture = layout.pictures[state]
    for pair in joint.insulated:
        for dead, live in (pair, pair[::-1]):
            if picture.poles[dead] or picture.units[dead] or not (picture.poles[live] or picture.units[live]):
                continue
            always = layout.always.copy()
            always.remove_nodes_from(layout.pole_names)
            net = nx.node_connected_component(always, dead)
            if any(node in layout.rails and layout.is_section(node.split(".")[0]) for node in net):
                yield dead


@pytest.mark.parametrize("part", range(5))
def test_parked(part: int) -> None:
    """A vehicle at a random gap joins what enumeration says, in the states that it says."""
    for seed in SEEDS:
        if seed % 5 != part:
            continue
        rng = Random(seed)
        data = random_layout(rng)
        gaps = [n for n, joint in enumerate(Layout(data).joints) if joint.insulated]
        if not gaps:
            continue
        number = rng.choice(gaps)
        values = data["joints"][number]
        data["trains"] = {"van": {"parked": values.get("id", f"{values['from']}/{values['to']}")}}
        layout = Layout(data)
        joint = layout.joints[number]
        expected: dict[str, set[State]] = {}
        for state in layout.states:
            if joins(layout, joint, state):
                expected.setdefault("van", set()).add(state)
            for dead in revives(layout, joint, state):
                expected.setdefault(f"van on {dead}", set()).add(state)
        assert findings(data, "parked", layout) == expected, dump(data)


# -- reversing-length


def loop(rng: Random) -> tuple[Data, int]:
    """A loop of some pieces with a section on a reverser, gaps opposite or not; how far its nearest gaps are apart."""
    count = rng.choice([1, 2, 3, 4, 5])
    lengths = [rng.choice([100, 230, 400, 777]) for _ in range(count)]
    ends = ["T1.left", *(f"p{n}" for n in range(count)), "T1.right"]
    cuts = sorted(rng.choice(range(count + 1)) for _ in range(4))
    left, right = (
        ([cuts[0], cuts[2]], [cuts[1], cuts[3]]) if rng.random() < 0.5 else ([cuts[1], cuts[2]], [cuts[0], cuts[3]])
    )
    if max(cuts[:2]) >= min(cuts[2:]):
        return loop(rng)
    joints: list[Data] = [{"from": "line", "to": "T1.toe"}]
    for n in range(count + 1):
        cut = (n in left, n in right)
        how = {(True, True): "both", (True, False): "left", (False, True): "right"}.get(cut, "none")
        joints.append({"from": ends[n], "to": ends[n + 1] if n < count else "T1.right", "insulate": how})
    data = {
        "format": "netlister/1",
        "supplies": {"main": {"type": "dcc", "voltage": "15 V"}},
        "track": {
            "line": {"length": "2 m"},
            "T1": {"kind": "insulated-frog", "hand": "wye", "jumpers": "true"},
            **{f"p{n}": {"length": f"{length} mm"} for n, length in enumerate(lengths)},
        },
        "reversers": {"R1": {"from": "main", "mode": "automatic"}},
        "joints": joints,
        "feeds": [{"to": "line"}, {"to": f"p{cuts[1]}", "from": "R1"}],
    }
    return data, sum(lengths[cuts[1] : cuts[2]])


@pytest.mark.parametrize("seed", range(120))
def test_reversing_length(seed: int) -> None:
    """It is told exactly where the wheels that conduct reach as far as the nearest gaps are apart."""
    rng = Random(seed)
    data, apart = loop(rng)
    clean = netlister.check_text(dump(data))
    assert [f.rule for f in clean.findings] == [], dump(data)
    at = [0, *sorted(rng.choice([35, 99, 300, apart - 1, apart, apart + 1, apart + 90]) for _ in range(3))]
    numbers = sorted({rng.randrange(1, 5) for _ in range(3)})
    places = [at[n - 1] for n in numbers]
    data["trains"] = {
        "train": {
            "axles": [f"{place} mm" for place in at],
            "left": [str(numbers[0])],
            "right": [str(numbers[0])],
            "conducting": [str(n) for n in numbers],
        }
    }
    layout = Layout(data)
    expected = {"R1": set(layout.states)} if places[-1] - places[0] >= apart else {}
    assert findings(data, "reversing-length", layout) == expected, dump(data)
