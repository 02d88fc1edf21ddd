"""What a wire bears: its long-term rating, and how long a fault may last before its sheath is too hot."""

from __future__ import annotations

import math
from functools import cache
from typing import NamedTuple

from netlister import quantity
from netlister.volts.values import REFERENCE, table

MM2_PER_CIRCULAR_MIL = math.pi / 4 * 0.0254**2


class Rating(NamedTuple):
    """A cross-section in mm2 and the current in A that it bears for good."""

    area: float
    amps: float


@cache
def _ratings(use: str) -> tuple[Rating, ...]:
    rows = table()["ratings"]["bus" if use == "bus" else "single"]["amps"]
    found = []
    for text, amps in rows.items():
        area = quantity.parse_wire(text).area_mm2
        assert area is not None
        found.append(Rating(area, quantity.parse(amps, quantity.CURRENT)))
    return tuple(sorted(found))


def rating(area_mm2: float, use: str) -> float | None:
    """The current in A that a wire bears for good: that of the next smaller row; None below the first row.

    `use`: "bus" for wires laid together, anything else for a single wire in air.
    """
    return max((r.amps for r in _ratings(use) if r.area <= area_mm2 * 1.001), default=None)


def heating_time(area_mm2: float, amps: float, start: float = REFERENCE) -> float:
    """The time in s in which a current heats a copper wire from `start` in degC to the end of its sheath.

    Adiabatic, so too short for small currents and never too long. Raises ValueError for a current of zero.
    """
    if amps <= 0:
        raise ValueError("without current a wire does not heat; give amps above zero")
    row = table()["ratings"]["heating"]
    offset = float(row["offset"])
    area = area_mm2 / MM2_PER_CIRCULAR_MIL
    rise = math.log10((float(row["to"]) + offset) / (start + offset))
    return float(row["constant"]) * rise * (area / amps) ** 2
