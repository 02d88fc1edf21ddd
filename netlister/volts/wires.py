"""What a wire carries: its continuous rating, and how long a fault may last before its sheath is too hot."""

from __future__ import annotations

import math
from functools import cache
from typing import NamedTuple

from netlister import quantity
from netlister.volts.values import REFERENCE, default_values

MM2_PER_CIRCULAR_MIL = math.pi / 4 * 0.0254**2


class Rating(NamedTuple):
    """A cross-section in mm2 and the current in A that it carries continuously, in wires up to a length in m."""

    area: float
    amps: float
    up_to: float
    status: str


@cache
def _ratings() -> tuple[Rating, ...]:
    found = []
    for row in default_values()["ratings"].values():
        up_to = quantity.parse(row["up-to"], quantity.LENGTH) if "up-to" in row else math.inf
        for text, amps in row.get("amps", {}).items():
            area = quantity.parse_wire(text).area_mm2
            assert area is not None
            found.append(Rating(area, quantity.parse(amps, quantity.CURRENT), up_to, row["status"]))
    return tuple(sorted(found))


def rating(area_mm2: float, length: float = 0.0) -> float | None:
    """The current in A that a wire of a length in m carries continuously, by the next smaller row; None below all."""
    return max((r.amps for r in _ratings() if r.area <= area_mm2 * 1.001 and length <= r.up_to), default=None)


def heating_time(area_mm2: float, amps: float, start: float = REFERENCE) -> float:
    """The time in s in which a current heats a copper wire from `start` in degC to the end of its sheath.

    Adiabatic, so too short for small currents and never too long. Raises ValueError for a current of zero.
    """
    if amps <= 0:
        raise ValueError("without current a wire does not heat; give amps above zero")
    row, end = default_values()["ratings"]["heating"], default_values()["ratings"]["sheath"]["end"]
    offset = float(row["offset"])
    area = area_mm2 / MM2_PER_CIRCULAR_MIL
    rise = math.log10((float(end) + offset) / (start + offset))
    return float(row["constant"]) * rise * (area / amps) ** 2
