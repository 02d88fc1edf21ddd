"""Volts for the page: per piece the share lost at its worst place, and the rows of a table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.lengths import in_mm
from netlister.source import UnusableError

if TYPE_CHECKING:
    from netlister.rules.analysis import Analysis
    from netlister.volts.drop import Drop, Survey


class Volts(NamedTuple):
    """Per piece [share lost in %, volts lost]; rows of a table; where there are none, why in words."""

    pieces: dict[str, list[float]]
    rows: list[tuple[str, ...]]
    why: str


def volts_of(analysis: Analysis) -> Volts:
    """The volts of a layout, as `drop` gives them; none where the library for matrices is not installed."""
    try:
        found = analysis.survey.pieces()
    except ImportError:
        return Volts({}, [], "Volts are left out, since numpy is not installed.")
    except UnusableError as error:
        return Volts({}, [], f"Volts are left out: {error}")
    drops = [d for d in found.values() if d is not None]
    pieces = {
        d.piece: [round(d.share * 100, 3), round(d.volts_lost, 4)]
        for d in drops
        if d.share is not None and d.volts_lost is not None
    }
    drops.sort(key=lambda d: (-(d.share or 0.0), -d.loop, d.piece))
    return Volts(pieces, [_row(analysis.survey, d) for d in drops], "")


def _row(survey: Survey, d: Drop) -> tuple[str, ...]:
    def shown(value: float | None, factor: float = 1.0, none: str = "not known") -> str:
        return none if value is None else f"{value * factor:.3g}"

    when: dict[str, Any] = dict(survey.positions(d.when))
    return (
        d.piece,
        ("≤ " if d.bound else "") + shown(d.loop, 1000),
        f"{in_mm(d.at):.4g}",
        shown(d.volts_lost),
        shown(d.share, 100),
        shown(d.short, none="no limit"),
        " ".join(f"{name}={position}" for name, position in when.items()) or "always",
    )
