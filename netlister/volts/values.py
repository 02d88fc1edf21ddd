"""Resistances of everything that conducts: from the layout, else from the one file of defaults."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import yaml

from netlister import quantity

if TYPE_CHECKING:
    from netlister.layout.model import Layout, Wire

FILE = Path(__file__).with_name("values.yaml")
REFERENCE = 20.0
"""The temperature in degC for which all resistances are given."""


class Band(NamedTuple):
    """A resistance in ohm, or in ohm/m, between what the most and the least hopeful source say."""

    low: float
    high: float

    def times(self, factor: float) -> Band:
        """The band of so many metres, or at so many times the resistance."""
        return Band(self.low * factor, self.high * factor)


NOTHING = Band(0.0, 0.0)


@cache
def default_values() -> dict[str, Any]:
    """The file of defaults as read."""
    found = yaml.load(FILE.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
    assert isinstance(found, dict)
    check_statuses(found)
    return found


def check_statuses(row: dict[str, Any], name: str = "") -> None:
    """Raise ValueError for a row of numbers that lacks its source or has a status that is none of `STATUSES`."""
    numbers = [key for key, value in row.items() if not isinstance(value, dict)]
    if numbers and numbers != ["default"]:
        if not row.get("source"):
            msg = f"'{name}' has no source"
            raise ValueError(msg)
        if row.get("status") not in quantity.STATUSES:
            msg = f"'{name}' has the status '{row.get('status')}'; write one of {', '.join(quantity.STATUSES)}"
            raise ValueError(msg)
        return
    for key, value in row.items():
        if isinstance(value, dict):
            check_statuses(value, f"{name}.{key}".lstrip("."))


def limit(layout: Layout, name: str) -> float:
    """A limit of the layout, else the default: a share, a number or metres."""
    if name in layout.limits:
        return layout.limits[name]
    text = default_values()["limits"][name]["value"]
    dimension = quantity.SHARE if "%" in text else quantity.LENGTH if "m" in text else quantity.NUMBER
    return quantity.parse(text, dimension)


class Values:
    """The resistances that hold for a layout, at a temperature of its wires and rails in degC.

    `assumed`: what was taken from the defaults, as texts, filled as it is asked for.
    """

    def __init__(self, layout: Layout, temperature: float = REFERENCE) -> None:
        self.layout = layout
        self.assumed: dict[str, str] = {}
        rise = temperature - REFERENCE
        warmth = default_values()["temperature"]
        self._copper = 1 + float(warmth["copper"]["per-kelvin"]) * rise
        self._nickel = 1 + float(warmth["rail"]["per-kelvin"]) * rise
        self._wires: dict[tuple[str, str], Band] = {}
        self._parts: dict[str, Band] = {}

    def rail(self) -> Band:
        """One rail, in ohm/m."""
        stated = self.layout.constants.get("rail")
        if stated is not None:
            return Band(stated, stated).times(self._nickel)
        rails = default_values()["rails"]
        written = self.layout.rail or rails["default"]
        code, brass = written.removesuffix("-brass"), written.endswith("-brass")
        if code in rails and not brass:
            row = rails[code]
            band = _band(row, quantity.PER_LENGTH)
        else:
            height = float(code.removeprefix("code-"))
            own = rails["brass"] if brass else rails["code-100"]
            row = own if brass and height == own["code"] else rails["other-brass" if brass else "other"]
            band = _band(own, quantity.PER_LENGTH).times((100 / height) ** 2)
        self._note("rail", f"{written}, {_span(band, 'mohm/m')}", row)
        return band.times(self._nickel)

    def part(self, name: str) -> Band:
        """A `joiner`, `contact` or `blade`, in ohm."""
        found = self._parts.get(name)
        if found is None:
            found = self._parts[name] = self._part(name)
        return found

    def _part(self, name: str) -> Band:
        stated = self.layout.constants.get(name)
        if stated is not None:
            return Band(stated, stated)
        row = default_values()[name]
        band = _band(row, quantity.RESISTANCE)
        self._note(name, _span(band, "mohm"), row)
        return band

    def wire(self, wire: Wire, use: str) -> Band:
        """A conductor of a wire, in ohm, from end to end; `use`: bus, feed or other. No length: no resistance."""
        return NOTHING if not wire.length else self.per_metre(wire, use).times(wire.length)

    def per_metre(self, wire: Wire, use: str) -> Band:
        """A conductor of a wire, in ohm/m."""
        key = (wire.text, use)
        found = self._wires.get(key)
        if found is None:
            found = self._wires[key] = self._per_metre(wire.text, use)
        return found

    def _per_metre(self, text: str, use: str) -> Band:
        if not text:
            row = default_values()["wires"][use]
            text = row["wire"]
            self._note(f"{use} without a wire", text, row)
        found = wire_band(text).times(self._copper)
        if text.strip().endswith("mm2") and found.low != found.high:
            self._note("wire", f"{text}, {_span(found, 'mohm/m')}", default_values()["wires"]["resistance"])
        return found

    def _note(self, what: str, text: str, row: dict[str, Any]) -> None:
        self.assumed.setdefault(f"{what}: {text}", f"{row['source']} ({row['status']})")


def wire_band(text: str) -> Band:
    """A wire as written, in ohm/m at 20 degC."""
    area, own = quantity.parse_wire(text)
    if area is None:
        return Band(own, own)
    most = None if "awg" in text.lower() else quantity.largest_ohm_per_m(area, 2)
    return Band(own, most or own)


def _band(row: dict[str, Any], dimension: quantity.Dimension) -> Band:
    return Band(quantity.parse(row["low"], dimension), quantity.parse(row["high"], dimension))


def _span(band: Band, unit: str) -> str:
    low, high = quantity.show(band.low, unit), quantity.show(band.high, unit)
    return low if low == high else f"{low.split(' ')[0]} to {high}"
