"""Hand reversing switches, districts and supplies that are not in step, in small random layouts made for them.

A row or ring of plain track and a turnout, each piece fed in one of the ways in which modellers feed such sections, now
and then wrongly; the tool beside plain enumeration.
"""

from __future__ import annotations

import os
from collections import Counter
from itertools import pairwise
from random import Random

import pytest

from tests.properties.compare import differences
from tests.properties.layouts import dump
from tests.properties.reference import Data, reference

COUNT = 2000 if os.environ.get("NETLISTER_LONG") else 60
EXTRA = ({}, {}, {"station": "visitor"}, {"output": "programming"}, {"type": "dc"}, {"type": "dc", "positive": "A"})


def supply(random: Random) -> Data:
    return {"type": "dcc", "voltage": "15 V", "trip": "3 A", **random.choice(EXTRA)}


def switch(random: Random, piece: str, sources: list[str]) -> Data:
    """A switch with two contacts: a reversing one, a selector, or one with a throw wrong or left out."""
    one = random.choice(sources)
    other = one if random.random() < 0.6 else random.choice(sources)
    positions = random.choice([["x", "y"], ["x", "off", "y"]])
    throws = {"left": {"x": f"{one}.A", "y": f"{other}.B"}, "right": {"x": f"{one}.B", "y": f"{other}.A"}}
    if random.random() < 0.25:
        side, position = random.choice(["left", "right"]), random.choice(["x", "y"])
        throws[side][position] = f"{random.choice(sources)}.{random.choice('AB')}"
    if random.random() < 0.1:
        del throws[random.choice(["left", "right"])][random.choice(["x", "y"])]
    contacts = {side: {"common": f"{piece}.{side}", **values} for side, values in throws.items()}
    return {"positions": positions, "contacts": contacts}


def small(random: Random) -> Data:
    """A small layout."""
    data: Data = {"format": "netlister/1", "supplies": {"s1": supply(random)}, "buses": {}, "track": {}}
    if random.random() < 0.4:
        data["supplies"]["s2"] = supply(random)
        kinds = [one["type"] for one in data["supplies"].values()]
        if kinds[0] == kinds[1] and random.random() < 0.4:
            data["supplies"]["s2"]["common"] = "s1.B"
    for name in data["supplies"]:
        for number in range(random.choice([1, 1, 2, 3])):
            bus = {"supply": name, **({"breaker": "2 A"} if random.random() < 0.6 else {})}
            data["buses"][f"{name}b{number}"] = bus
    sources = list(data["buses"])
    data |= {"joints": [], "feeds": [], "switches": {}, "reversers": {}, "frog-units": {}}
    names = [f"t{n}" for n in range(random.choice([2, 3, 4]))]
    for name in names:
        data["track"][name] = {}
        feed(random, data, name, sources)
    for first, second in pairwise(names):
        how = random.choice(["both", "both", "both", "left", "right"])
        data["joints"].append({"from": first, "to": second, "insulate": how})
    if random.random() < 0.6:
        turnout(random, data, names[-1], sources)
    if random.random() < 0.3 and data["switches"]:
        name = random.choice(list(data["switches"]))
        data["never"] = [{name: random.choice(data["switches"][name]["positions"])}]
    return {key: value for key, value in data.items() if value}


def feed(random: Random, data: Data, name: str, sources: list[str]) -> None:
    """Feed a piece of plain track."""
    way = random.choice(["bus", "bus", "two", "switch", "switch", "follows", "automatic"])
    if way == "bus":
        a, b = random.choice([("left", "right"), ("left", "right"), ("right", "left")])
        data["feeds"].append({"to": name, "from": random.choice(sources), "A": a, "B": b})
    elif way == "two":
        data["feeds"].append({"to": name, "from": random.choice(sources), "A": "left"})
        data["feeds"].append({"to": name, "from": random.choice(sources), "B": "right"})
    elif way == "switch":
        data["switches"][f"S{name}"] = switch(random, name, sources)
    else:
        how: Data = {"from": random.choice(sources), "mode": "automatic"}
        if way == "follows":
            data["switches"][f"S{name}"] = {"positions": ["x", "y"]}
            how = {"from": how["from"], "follows": f"S{name}", "straight": ["x"]}
        data["reversers"][f"R{name}"] = how
        data["feeds"].append({"to": name, "from": f"R{name}"})


def turnout(random: Random, data: Data, last: str, sources: list[str]) -> None:
    """A turnout at the end of the row, its frog on a contact or a unit; perhaps its legs make the row a ring."""
    data["track"]["T"] = {"kind": "live-frog-bonded", "hand": "wye"}
    data["joints"].append({"from": f"{last}.b", "to": "T.toe", "insulate": random.choice(["none", "both"])})
    if random.random() < 0.5:
        data["joints"].append({"from": "T.left", "to": "t0.a", "insulate": random.choice(["both", "vee"])})
    if random.random() < 0.5:
        data["frog-units"]["U"] = {"feeds": "T.frog", "from": random.choice(sources)}
    else:
        bus = random.choice(sources)
        throws = random.choice([("T.stock-right", "T.stock-left"), (f"{bus}.B", f"{bus}.A")])
        contact = {"common": "T.frog", "left": throws[0], "right": throws[1]}
        data["machines"] = {"M": {"throws": ["T"], "contacts": {"frog": contact}}}


@pytest.mark.parametrize("seed", range(COUNT))
def test_tool_and_enumeration_agree(seed: int) -> None:
    data = small(Random(seed))
    assert differences(data) == [], dump(data)


def test_layouts_show_what_they_are_made_for() -> None:
    """Each rule is broken in many of them, and not in most."""
    found = Counter(rule for seed in range(60) for rule in {rule for rule, _ in reference(small(Random(seed)))})
    assert all(5 <= found[rule] <= 50 for rule in ("hand-reversing", "districts-crossed", "gap-clash")), found
