"""Lengths along a kind of piece: sums of its default dimensions, for a frog number and a track gauge."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.lengths import NO_LENGTH, Metres

if TYPE_CHECKING:
    from collections.abc import Mapping

    from netlister.kinds.model import DefaultDimension, Measure


def size(dimension: DefaultDimension, number: float = 0.0, gauge: Metres = NO_LENGTH) -> Metres:
    """A dimension in m for a frog number (0: the default) and a track gauge in m (0: the one it was drawn for).

    Between the numbers of the source the value is interpolated, beyond them it is the nearest one. To another gauge it
    scales in proportion.
    """
    metres = dimension.metres
    if number and dimension.by_number:
        metres = _between(dimension.by_number, number)
    return Metres(metres * gauge / dimension.gauge) if gauge and dimension.gauge else metres


def _between(table: Mapping[float, Metres], number: float) -> Metres:
    known = sorted(table)
    below = max((n for n in known if n <= number), default=known[0])
    above = min((n for n in known if n >= number), default=known[-1])
    if below == above:
        return table[below]
    return table[below] + (table[above] - table[below]) * (number - below) / (above - below)


def total(
    measure: Measure, sizes: Mapping[str, DefaultDimension], number: float = 0.0, gauge: Metres = NO_LENGTH
) -> Metres:
    """A sum of dimensions in m."""
    return Metres(sum(factor * (size(sizes[name], number, gauge) if name else 1.0) for factor, name in measure))
