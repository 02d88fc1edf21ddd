"""Layouts with all wiring taken out."""

from __future__ import annotations

import copy

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
