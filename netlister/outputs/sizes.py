"""The thinnest wires that hold the limits, as a table and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.outputs.drop import CAUTIONS, columns
from netlister.quantity import show

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.volts.sizes import Instead, Size

FORMAT = "netlister-sizes/1"


def sizes_object(name: str, sizes: list[Size], instead: list[Instead]) -> dict[str, Any]:
    """Sizes as plain values in SI units."""
    return {
        "format": FORMAT,
        "layout": name,
        "sizes": [
            {
                "bus": s.bus, "for": s.use, "unit": s.unit, "now": s.now, "wire": s.wire or None, "drop_v": s.drop,
                "drop_percent": None if s.share is None else s.share * 100,
            }
            for s in sizes
        ],
        "instead": [
            {"bus": i.bus, "feed": i.piece, "at_mm": i.at * 1000, "wire": i.wire, "instead_of": i.instead_of or None}
            for i in instead
        ],
        "cautions": list(CAUTIONS),
    }  # fmt: skip


def table(sizes: list[Size], instead: list[Instead]) -> str:
    """Sizes as text."""
    return "\n".join(_lines(sizes, instead)) + "\n"


def _lines(sizes: list[Size], instead: list[Instead]) -> Iterator[str]:
    if not sizes:
        yield "No bus and no feeder has a length in the layout, so there is nothing to size; add 'length'."
        return
    rows: list[tuple[str, ...]] = [("bus", "for", "now", "thinnest that holds", "loses at the worst place", "")]
    rows += [_row(s) for s in sizes]
    yield from columns(rows)
    lost = dict.fromkeys(s.bus for s in sizes if not s.wire)
    for bus in lost:
        yield f"'{bus}': where none holds, thicker wire alone does not help; the rest loses too much. Add feeders."
    for i in instead:
        other = f"{i.instead_of} without it" if i.instead_of else "no wire that does without it"
        yield (
            f"Instead: with one feeder more, on '{i.piece}' {show(i.at, 'mm', 4)} along it, "
            f"the bus '{i.bus}' does with {i.wire} ({other})."
        )
    yield ""
    yield from (f"Caution: {text}" for text in CAUTIONS)


def _row(s: Size) -> tuple[str, ...]:
    lost = "-" if s.drop is None else show(s.drop, "V")
    share = "" if s.share is None else show(s.share, "%")
    return s.bus, s.use, s.now or "not stated", s.wire or f"none ({'mm2' if s.unit == 'mm2' else 'AWG'})", lost, share
