"""Every kind of piece that changes or crosses, in every hand and with every option, wired at random.

Most of it is wired wrongly: what is written on a card must be what the layout says all the same.
"""

from __future__ import annotations

from itertools import product
from random import Random

from netlister.circuit.build import build
from netlister.kinds.load import library
from netlister.layout.read import read_layout
from netlister.source import Source
from tests.properties.layouts import dump

LIBRARY = library()
KINDS = [
    name for name in LIBRARY.names() if LIBRARY.takes(name).bars or LIBRARY.takes(name).crossing or "table" in name
]
MOST = 24


def variants(name):
    """Hands and options of a kind; of very many the first, the last and some between."""
    takes = LIBRARY.takes(name)
    options = dict(takes.options)
    if takes.number is not None:
        options[takes.number.option] = ("2", "5")
    found = []
    for hand in takes.hands or ("",):
        for values in product(*options.values()):
            chosen = dict(zip(options, values, strict=True))
            if chosen.get("curved") == "true" and hand == "wye":
                continue
            found.append((hand, chosen))
    step = max(1, len(found) // MOST)
    return found[::step]


def wired(name, hand, options, seed):
    """One such piece `P`, a section at each end, its rails wired at random over all that there is."""
    random = Random(seed)
    entry = {"kind": name, **options, **({"hand": hand} if hand else {})}
    kind = LIBRARY.kind(name, hand, tuple(options.items()))
    track = {"P": entry}
    joints = []
    for number, (end, what) in enumerate(kind.ends.items()):
        track[f"t{number}"] = {"length": "500 mm"}
        joint = {"insulate": random.choice(["none", "left", "right", "both", "both"])}
        joint |= {"from": f"t{number}", "to": f"P.{end}"} if what.entering else {"from": f"P.{end}", "to": f"t{number}"}
        joints.append(joint)
    bars = [f"P.{bar.name}" if bar.name else "P" for bar in kind.bars]
    data = {
        "format": "netlister/1",
        "supplies": {"main": {"type": "dcc", "voltage": "15 V"}},
        "buses": {"west": {"supply": "main", "breaker": "2 A"}, "east": {"supply": "main", "breaker": "2 A"}},
        "track": track,
        "joints": joints,
        "feeds": [{"to": f"t{k}", "from": random.choice(["west", "east"])} for k in range(len(joints))],
        "machines": {},
        "switches": {},
        "components": {},
        "plugs": {},
        "frog-units": {},
        "reversers": {"R1": {"from": "east", "mode": "automatic"}},
        "wires": [],
    }
    machines = {}
    for bar in bars:
        machines[f"M{len(machines)}"] = {"throws": [bar], "contacts": {}}
    movers = []
    for machine, bar in zip(machines, kind.bars, strict=True):
        movers.append((machine, machines[machine]["contacts"], bar.positions))
    data["switches"]["S1"] = {"positions": ["one", "two"], "contacts": {}}
    movers.append(("S1", data["switches"]["S1"]["contacts"], ("one", "two")))
    sealed = set(kind.sealed)
    rails = [f"P.{rail}" for rail in kind.rails if rail not in sealed]
    sources = ["west.A", "west.B", "east.A", "east.B", "TB1.1", "TB1.2"]
    used = set()
    for number, rail in enumerate(rails):
        way = random.choice(["feed", "contact", "contact", "strip", "plug", "unit", "part", "reverser", "none"])
        if way == "feed":
            data["feeds"].append({"to": "P", "from": random.choice(["west", "east"]), "A": rail[2:]})
        elif way == "reverser":
            data["feeds"].append({"to": "P", "from": "R1", random.choice("AB"): rail[2:]})
        elif way == "contact":
            owner, contacts, positions = random.choice(movers)
            common = rail if random.random() < 0.6 else f"TB2.{number}"
            if common != rail:
                data["wires"].append({"from": common, "to": rail})
            throws = {p: random.choice([*sources, *rails]) for p in positions if random.random() < 0.9}
            contacts[f"c{number}"] = {"common": common, **{p: t for p, t in throws.items() if t != common}}
            used.add(owner)
        elif way == "strip":
            data["wires"] += [
                {"from": rail, "to": f"TB1.{number}"},
                {"from": f"TB1.{number}", "to": random.choice(sources)},
            ]
        elif way == "plug":
            data["plugs"][f"J{number}"] = {"pins": {"1": [random.choice(sources), rail]}}
            if random.random() < 0.5:
                data["plugs"][f"J{number}"]["optional"] = "true"
        elif way == "unit" and rail[2:].startswith("frog"):
            data["frog-units"][f"U{number}"] = {"feeds": rail, "from": "west"}
        elif way == "part":
            part = random.choice(["breaker", "fuse", "detector", "resistor", "lamp"])
            data["components"][f"K{number}"] = {"kind": part, "from": random.choice(sources), "to": rail}
    if not data["switches"]["S1"]["contacts"]:
        del data["switches"]["S1"]
    data["machines"] = machines
    return build(read_layout(Source("layout.yaml", dump({k: v for k, v in data.items() if v}))))
