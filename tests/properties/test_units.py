"""Frog units torn between a route and the joint beside it, in random layouts: the rule beside plain enumeration."""

from __future__ import annotations

import itertools
import os
from collections import Counter
from random import Random

import pytest

import netlister
from tests.properties.compare import covered
from tests.properties.layouts import dump
from tests.properties.reference import DEAD, Data, Joint, Layout, State

COUNT = 600 if os.environ.get("NETLISTER_LONG") else 60


def small(random: Random) -> Data:
    """Two or three turnouts in a row or ring, their frogs on units or contacts, some tracks fed the other way round."""
    data: Data = {"format": "netlister/1", "supplies": {"s": {"type": "dcc", "voltage": "15 V"}}, "track": {}}
    data |= {"joints": [], "feeds": [], "frog-units": {}, "machines": {}}
    names = ["T1", "T2", "T3"][: random.choice([2, 2, 3])]
    free = []
    for name in names:
        hand = random.choice(["left", "right", "wye"])
        data["track"][name] = {"kind": random.choice(["live-frog-bonded", "isolated-metal-frog"]), "hand": hand}
        free += [
            f"{name}.{end}" for end in ("toe", *(("left", "right") if hand == "wye" else ("through", "diverging")))
        ]
        if random.random() < 0.8:
            data["frog-units"][f"U-{name}"] = {"feeds": f"{name}.frog", "from": "s"}
        ways = random.choice([{}, {"A": "right", "B": "left"}])
        data["feeds"].append({"to": name, "from": "s", **ways})
    for number in range(random.choice([0, 1, 2])):
        data["track"][f"t{number}"] = {}
        free += [f"t{number}.a", f"t{number}.b"]
        data["feeds"].append({"to": f"t{number}", "from": "s", **random.choice([{}, {"A": "right", "B": "left"}])})
    random.shuffle(free)
    for one, other in zip(free[::2], free[1::2], strict=False):
        if random.random() < 0.8:
            data["joints"].append({"from": one, "to": other, "insulate": random.choice(["both", "both", "vee"])})
    if random.random() < 0.5:
        data["machines"]["M1"] = {"throws": names[:2]}
    return data


def torn(layout: Layout) -> dict[str, set[State]]:
    """Per joint the states in which each position of the devices spoils the joint or a set route beside it."""
    found: dict[str, set[State]] = {}
    for joint, state in itertools.product(layout.joints, layout.states):
        crossed = all(layout.end_is_set(*end, state) for end in joint.ends) and not layout.joint_clashes(joint, state)
        if crossed and any(side_is_torn(layout, joint, number, state) for number in (0, 1)):
            found.setdefault(joint.subject, set()).add(state)
    return found


def side_is_torn(layout: Layout, joint: Joint, number: int, state: State) -> bool:
    piece, end = joint.ends[number]
    rails = [pair[number] for pair in joint.insulated]
    if not any(picture.units[rail] for rail in rails for picture in layout.pictures.values()):
        return False
    picture = layout.pictures[state]
    gaps = [pair for pair in joint.insulated if not any(layout.runs_against(rail, state) for rail in pair)]
    for route in layout.set_routes(piece, state):
        inner = layout.inner_gaps(piece, route)
        if end not in route.ends or layout.route_is_dead(piece, route, picture) or layout.all_clash(inner, picture):
            continue
        left = [f"{piece}.{rail}" for rail in route.left if rail != DEAD]
        right = [f"{piece}.{rail}" for rail in route.right if rail != DEAD]
        named = [*left, *right, *(rail for pair in gaps for rail in pair)]
        if all(
            any(
                layout.clash(layout.has(one, picture, setting), layout.has(two, picture, setting))
                for one, two in (*gaps, *inner)
            )
            or any(
                layout.pair_is_dead(layout.has(one, picture, setting), layout.has(two, picture, setting))
                for one, two in itertools.product(left, right)
            )
            for setting in layout.settings(named, picture)
        ):
            return True
    return False


def told(data: Data, layout: Layout) -> dict[str, set[State]]:
    found = netlister.check_text(dump(data), select=["unit-torn"], causes=False).to_json()["findings"]
    return {one["subject"]: covered(one["when"], layout.states) for one in found}


@pytest.mark.parametrize("part", range(6))
def test_units(part: int) -> None:
    for seed in range(part * COUNT // 6, (part + 1) * COUNT // 6):
        data = small(Random(seed))
        layout = Layout(data)
        assert told(data, layout) == torn(layout), dump(data)


def test_layouts_show_what_they_are_made_for() -> None:
    counts = Counter(bool(torn(Layout(small(Random(seed))))) for seed in range(120))
    assert min(counts.values()) >= 10, counts


@pytest.mark.parametrize("seed", range(COUNT // 2))
def test_units_that_join_what_feeds_their_frogs(seed: int) -> None:
    """A unit on another supply, where blades, contacts or wires give its frog a pole of something else."""
    random = Random(seed + 53_000)
    data = small(random)
    data["supplies"]["t"] = {"type": "dcc", "voltage": "15 V"}
    for name, piece in data["track"].items():
        if "kind" in piece:
            piece["kind"] = random.choice(["live-frog", "single-blade-live", "isolated-metal-frog"])
            data["frog-units"][f"U-{name}"] = {"feeds": f"{name}.frog", "from": random.choice(["s", "t"])}
    data["wires"] = [{"from": random.choice(["s.A", "t.B"]), "to": "T1.frog"}] if random.random() < 0.3 else []
    layout = Layout(data)
    found: dict[str, set[State]] = {}
    for finding in netlister.check_text(dump(data), select=["unit-joins"], causes=False).findings:
        found[finding.subject] = covered([dict(when) for when in finding.when], layout.states)
    expected: dict[str, set[State]] = {}
    for name, unit in data["frog-units"].items():
        own = {layout.source(unit["from"], letter) for letter in "AB"}
        states = {state for state in layout.states if layout.pictures[state].poles[unit["feeds"]] - own}
        if states:
            expected[name] = states
    assert found == expected
