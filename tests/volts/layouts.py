"""Random layouts with resistances of all kinds, made from the random layouts of the other properties."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.properties.layouts import random_layout

if TYPE_CHECKING:
    from random import Random

    from tests.properties.reference import Data

WIRES = ("20 mohm/m", "7 mohm/m", "AWG 14", "AWG 22", "0 mohm/m")


def electric_layout(rng: Random) -> Data:
    """A random layout whose every part has a resistance, here and there zero."""
    data = random_layout(rng)
    data["rail"] = f"{rng.choice([0, 57, 76, 206])} mohm/m" if rng.random() < 0.9 else "57 mohm/m"
    for part, value in (("joiner", 5), ("contact", 20), ("blade", 50)):
        if rng.random() < 0.5:
            data[part] = f"{rng.choice([0, value, 3 * value])} mohm"
    for values in data["track"].values():
        if values is not None and "radius" not in values and rng.random() < 0.7:
            values["length"] = f"{rng.randrange(0, 20) * 100} mm"
    for name, bus in (data.get("buses") or {}).items():
        if rng.random() < 0.7:
            bus |= {"wire": rng.choice(WIRES), "length": "6 m"}
            if rng.random() < 0.3:
                bus["form"] = "ring"
        elif "length" in bus:
            bus["wire"] = rng.choice(WIRES)
        if "at" in bus and "length" not in data["buses"][bus["from"]]:
            del bus["at"]
        assert name
    for feed in data.get("feeds") or []:
        _dress_feed(rng, data, feed)
    for link in data.get("wires") or []:
        if rng.random() < 0.5:
            link |= {"wire": rng.choice(WIRES), "length": f"{rng.randrange(0, 9) * 100} mm"}
    for part in (data.get("components") or {}).values():
        if rng.random() < 0.5:
            part["resistance"] = f"{rng.choice([0, 10, 500])} mohm"
    _contacts_to_poles(rng, data)
    wired = [*(data.get("buses") or {}).values(), *(data.get("feeds") or []), *(data.get("wires") or [])]
    for values in wired:
        if values.get("wire", "").endswith("mm2"):
            values["wire"] = rng.choice(WIRES)
    return data


def _dress_feed(rng: Random, data: Data, feed: Data) -> None:
    buses = data.get("buses") or {}
    source = feed.get("from", next(iter(buses), ""))
    if "length" in buses.get(source, {}) and rng.random() < 0.8:
        feed["tap"] = f"{rng.randrange(0, 7)} m" if buses[source]["length"] == "6 m" else "1 m"
    if rng.random() < 0.6:
        feed |= {"wire": rng.choice(WIRES), "length": f"{rng.randrange(0, 9) * 100} mm"}
    targets = feed["to"] if isinstance(feed["to"], list) else [feed["to"]]
    pieces = [data["track"][t.split(".")[0]] or {} for t in targets]
    if all(p.get("kind", "rail-section") == "rail-section" for p in pieces) and rng.random() < 0.5:
        lengths = [int(p["length"].split()[0]) for p in pieces if p.get("length", "").endswith("mm")]
        if len(lengths) == len(pieces) and all("." not in t for t in targets):
            feed["at"] = f"{rng.randrange(0, min(lengths) // 100 + 1) * 100} mm"


def _contacts_to_poles(rng: Random, data: Data) -> None:
    """Wire some throws to a pole of a bus in place of the stock rail."""
    buses = list(data.get("buses") or data["supplies"])
    for section in ("machines", "switches"):
        for values in (data.get(section) or {}).values():
            for contact in (values.get("contacts") or {}).values():
                for throw, terminal in list(contact.items()):
                    if throw not in {"common", "action"} and rng.random() < 0.1:
                        assert terminal
                        contact[throw] = f"{rng.choice(buses)}.{rng.choice('AB')}"
