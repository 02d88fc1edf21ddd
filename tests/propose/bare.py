"""Layouts with all wiring taken out, and what is broken in one by plain enumeration."""

from __future__ import annotations

import copy

import yaml

from tests.properties.reference import reference

WIRING = ("feeds", "reversers", "expect", "frog-units", "wires", "components", "plugs", "switches", "boards", "trains")


def bare(data):
    """The same track, machines and supplies, without joiners that insulate and without any wire."""
    data = copy.deepcopy(data)
    for joint in data.get("joints") or []:
        joint.pop("insulate", None)
    for section in WIRING:
        data.pop(section, None)
    for entry in (*(data.get("machines") or {}).values(), *data["track"].values()):
        if isinstance(entry, dict):
            entry.pop("contacts", None)
    return data


def old_cost(layout):
    """What the wiring of a layout costs at the usual prices."""
    frogs = {c.common for c in layout.contacts if c.common and c.common.split(".")[-1].startswith("frog")}
    joiners = sum(insulated for joint in layout.joints for _, _, insulated in joint.pairs)
    return joiners + sum(len(feed.wires) for feed in layout.feeds) + 2 * len(frogs) + 10 * len(layout.reversers)


def wrong_by_enumeration(text):
    """What is broken in a layout, by the plain enumeration that shares no code with the tool."""
    return {key for key, states in reference(yaml.load(text, yaml.BaseLoader)).items() if states}  # noqa: S506
