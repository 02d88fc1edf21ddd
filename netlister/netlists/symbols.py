"""What the symbols are called that are no pieces of track, and which fields each of them takes."""

from __future__ import annotations

ENDS = ("terminal-1", "terminal-2")
WIRE = ("wire", "length")

PINS: dict[str, tuple[str, ...]] = {
    "supply": ("A", "B"),
    "bus": ("A", "B"),
    "metal-joiner": ("1", "2"),
    "insulated-joiner": ("1", "2"),
    "feed": ("1", "2"),
    "lead": ("1", "2"),
    "wire": ("1", "2"),
    "automatic-reverser": ("in-A", "in-B", "A", "B"),
    "following-reverser": ("in-A", "in-B", "A", "B"),
    "frog-unit": ("A", "B", "frog"),
    "breaker": ("1", "2"),
    "fuse": ("1", "2"),
    "diode": ("1", "2"),
    "detector": ("1", "2"),
    "lamp": ("1", "2"),
    "resistor": ("1", "2"),
    "load": ("1", "2"),
    "capacitor": ("1", "2"),
    "plug-pin": ("1", "2"),
    "terminal": ("1",),
    "machine": (),
    "switch": (),
    "plug": (),
    "layout": (),
}
"""The pins of each, as the netlist that is written has them. A contact has those of its positions."""

CONTACT = "contact"

FIELDS: dict[str, tuple[str, ...]] = {
    "supply": (
        *("type", "voltage", "trip", "trip-current", "trip-time", "resistance", "positive", "common", "accessory"),
        *("station", "output", "winding", "ground"),
    ),
    "bus": ("supply", *WIRE, "form", "from", "at", "breaker", "trip-time", "colours", "colour-a", "colour-b"),
    "metal-joiner": ("from", "to", "rail", "insulate"),
    "insulated-joiner": ("from", "to", "rail", "insulate"),
    "feed": ("from", "to", "rail", "at", "tap", "entry", *WIRE),
    "lead": (),
    "wire": (*WIRE, "colour", *ENDS),
    "automatic-reverser": ("from", "mode", "time"),
    "following-reverser": ("from", "follows", "straight"),
    "frog-unit": ("from", "time", "terminal-frog"),
    "plug-pin": ("plug", "pin", "optional", *ENDS),
    "terminal": (),
    "machine": ("throws", "type"),
    "switch": ("positions", "follows", "type", "rest"),
    "plug": ("optional",),
    "layout": (
        *("title", "notes", "rail", "gauge", "gap", "joiner", "contact", "blade"),
        *("limits", "use", "never", "expect", "trains"),
    ),
    **dict.fromkeys(("diode", "detector", "lamp", "resistor", "load", "capacitor"), ("rating", "resistance", *ENDS)),
    **dict.fromkeys(("breaker", "fuse"), ("rating", "resistance", "trip-time", *ENDS)),
}
"""The fields that each takes besides those that every part has."""

CONTACT_FIELDS = ("moved-by", "action", "positions", "type")
PIECE_FIELDS = (
    *("hand", "length", "radius", "angle", "turn", "frog-number", "frog", "nose", "dead"),
    *("options", "set", "thrown-by"),
)

EVERY_PART = ("name", "board", "allow", "place", "conducts")
"""Fields that every part may have; what is in the last two is told, not read."""
