"""Diodes that face each other, in small random layouts made for them: the tool beside plain enumeration."""

from __future__ import annotations

import os
from collections import Counter
from itertools import pairwise
from random import Random

import pytest

import netlister
from tests.properties.compare import differences
from tests.properties.layouts import dump
from tests.properties.moving import differences as moving_differences
from tests.properties.moving import enumerated
from tests.properties.reference import Data, Layout, load, reference

COUNT = 2000 if os.environ.get("NETLISTER_LONG") else 60


def small(random: Random) -> Data:
    """A few pieces of track, strips and switches, wired through diodes in both directions."""
    data: Data = {"format": "netlister/1", "supplies": {}, "track": {}, "joints": [], "feeds": [], "wires": []}
    for number in range(random.choice([1, 2, 2])):
        kind = random.choice([{"type": "dcc"}, {"type": "dc"}])
        if number and random.random() < 0.6:
            kind = {"type": "dc", "accessory": "true"}
        data["supplies"][f"s{number}"] = {**kind, "voltage": "15 V", "positive": random.choice("AB")}
        if kind["type"] == "dcc":
            del data["supplies"][f"s{number}"]["positive"]
    poles = [f"{name}.{letter}" for name in data["supplies"] for letter in "AB"]
    names = [f"t{n}" for n in range(random.choice([1, 2, 3]))]
    data["track"] = {name: {} for name in names}
    rails = [f"{name}.{side}" for name in names for side in ("left", "right")]
    for one, other in pairwise(names):
        data["joints"].append({"from": one, "to": other, "insulate": random.choice(["left", "right", "both"])})
    for name in names:
        if random.random() < 0.6:
            source = random.choice([n for n, one in data["supplies"].items() if "accessory" not in one])
            sides = random.choice([{}, {"A": "left"}, {"B": "right"}])
            data["feeds"].append({"to": name, "from": source, **sides})
    strips = [f"TB{n}" for n in range(random.choice([1, 2, 3]))]
    data["switches"] = {}
    for number in range(random.choice([0, 1, 2])):
        ends = [random.choice([*strips, *strips, *rails, *poles[:1]]) for _ in range(3)]
        contact = {"common": ends[0], "x": ends[1], "y": ends[2]}
        if random.random() < 0.4 or ends[2] == ends[0]:
            del contact["y"]
        if ends[1] == ends[0]:
            contact["x"] = random.choice([p for p in poles if p != ends[0]])
        data["switches"][f"S{number}"] = {"positions": ["x", "y"], "contacts": {"c": contact}}
    data["components"] = {}
    for number in range(random.choice([1, 2, 3, 4, 5])):
        one = random.choice([*strips, *strips, random.choice(poles), *rails])
        other = random.choice(
            [
                end
                for end in (*strips, *rails, *poles)
                if end != one and not (one in poles and end in poles and random.random() < 0.8)
            ]
        )
        kind = "diode" if random.random() < 0.85 else random.choice(["resistor", "load", "capacitor"])
        data["components"][f"D{number}"] = {"kind": kind, "from": one, "to": other}
    for strip in strips:
        if random.random() < 0.7:
            data["wires"].append({"from": strip, "to": random.choice(rails)})
    return data


def with_units(random: Random) -> Data:
    """The same with frogs on automatic units of their own, which feed more through diodes."""
    data = small(random)
    names = [name for name, one in data["supplies"].items() if "accessory" not in one]
    strips = [f"TB{n}" for n in range(3)]
    rails = [f"{name}.{side}" for name in data["track"] for side in ("left", "right")]
    turnouts = ["T1", "T2"][: random.choice([1, 2, 2])]
    data["frog-units"] = {}
    for name in turnouts:
        data["track"][name] = {"kind": "live-frog-bonded", "hand": "left"}
        data["frog-units"][f"U-{name}"] = {"feeds": f"{name}.frog", "from": random.choice(names)}
        data["feeds"].append({"to": name, "from": random.choice(names)})
        for number in range(random.choice([1, 2, 2])):
            ends = [f"{name}.frog", random.choice([*strips, *strips, *rails])]
            random.shuffle(ends)
            data["components"][f"E-{name}-{number}"] = {"kind": "diode", "from": ends[0], "to": ends[1]}
        if random.random() < 0.5:
            data["wires"].append({"from": f"{name}.frog", "to": random.choice(strips)})
    return data


@pytest.mark.parametrize("seed", range(COUNT))
def test_units_over_diodes(seed: int) -> None:
    data = with_units(Random(seed))
    assert differences(data) == [], dump(data)


def test_unit_feeds_through_diodes_one_way() -> None:
    """Through one diode a unit's frog feeds a rail, through two that face each other nothing."""
    data = load(OVER_DIODE)
    assert poles(data) == {"a.left": {"U1"}, "b.left": set()}
    data["components"]["D2"] = {"kind": "diode", "from": "a.left", "to": "b.left"}
    assert poles(data) == {"a.left": {"U1"}, "b.left": {"U1"}}
    data["feeds"].append({"to": "a", "A": "left"})  # now the wire does it, not the unit
    assert poles(data) == {"a.left": {"main.A"}, "b.left": {"main.A"}}


def poles(data: Data) -> dict[str, set[str]]:
    """What feeds the left rails, as the tool has it; it must be as plain enumeration does."""
    assert differences(data) == []
    found = netlister.poles_of(netlister.read_text(dump(data)))
    return {f"{name}.left": set(found[f"{name}.left"]) for name in "ab"}


OVER_DIODE = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track: {T1: {kind: live-frog-bonded, hand: left}, a: {}, b: {}}
frog-units: {U1: {feeds: T1.frog, from: main}}
components:
  D1: {kind: diode, from: T1.frog, to: a.left}
  D2: {kind: diode, from: b.left, to: a.left}
feeds: [{to: T1}, {to: [a, b], B: right}]
"""


@pytest.mark.parametrize("seed", range(COUNT))
def test_tool_and_enumeration_agree(seed: int) -> None:
    data = small(Random(seed))
    assert differences(data) == [], dump(data)


def test_layouts_show_what_they_are_made_for() -> None:
    """Each rule is broken in many of them, and not in most."""
    found = Counter(rule for seed in range(60) for rule in {rule for rule, _ in reference(small(Random(seed)))})
    assert all(5 <= found[rule] <= 55 for rule in ("pole-short", "dead-track", "floating-net")), found


def moving(random: Random) -> Data:
    """The same with switches of several contacts, some of which make before they break, and a turnout thrown with one."""
    data = small(random)
    poles = [f"{name}.{letter}" for name in data["supplies"] for letter in "AB"]
    strips = [f"TB{n}" for n in range(4)]
    rails = [f"{name}.{side}" for name in data["track"] for side in ("left", "right")]
    data["switches"].setdefault("S0", {"positions": ["x", "y"], "contacts": {}})
    for number, switch in enumerate(data["switches"].values()):
        if random.random() < 0.3:
            switch["positions"] = ["x", "y", "z"]
        for name in "defg"[: random.choice([1, 2, 2])]:
            ends = random.sample([*strips, *strips, *rails, random.choice(poles)], 3)
            if len(set(ends)) < 3:
                continue
            switch["contacts"][name] = {"common": ends[0], "x": ends[1], "y": ends[2]}
        for contact in switch["contacts"].values():
            if random.random() < 0.5:
                contact["action"] = "make-before-break"
        if number == 0 and random.random() < 0.3:
            data["track"]["T1"] = {"kind": "live-frog", "hand": "left"}
            throws = {"through": random.choice(strips), "diverging": random.choice([*strips, *rails])}
            data["machines"] = {"M1": {"throws": ["T1"], "contacts": {"f": {"common": "T1.frog", **throws}}}}
            data["feeds"].append({"to": "T1", "from": random.choice([n for n in data["supplies"] if n == "s0"])})
    for number, strip in enumerate(strips):  # strips that get a pole over a diode alone
        ends = [strip, random.choice(poles)]
        random.shuffle(ends)
        data["components"][f"E{number}"] = {"kind": "diode", "from": ends[0], "to": ends[1]}
    return data


@pytest.mark.parametrize("seed", range(COUNT))
def test_throws_over_diodes(seed: int) -> None:
    data = moving(Random(seed))
    assert moving_differences(data) == [], dump(data)


def test_throws_over_diodes_are_varied() -> None:
    """Many throws join poles; in some of those diodes decide it: as wire they would join poles elsewhere, or always."""
    broken = decided = 0
    for seed in range(60):
        data = moving(Random(seed))
        found = throws(data)
        wires = {**data, "components": {n: wire(c) for n, c in data["components"].items()}}
        broken += bool(found)
        decided += found != throws(wires)
    assert broken >= 15
    assert decided >= 8


def wire(component: Data) -> Data:
    return {**component, "kind": "resistor"} if component["kind"] == "diode" else component


def throws(data: Data) -> dict[str, int]:
    """The throws that join poles, and in how many states."""
    return {name: len(states) for (rule, name), states in enumerated(Layout(data)).items() if rule == "throw-short"}
