"""The thinnest wires that hold the limits, as a table and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.lengths import in_mm
from netlister.outputs.drop import CAUTIONS, columns
from netlister.quantity import length_text, show

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.volts.sizes import Both, Instead, Size

FORMAT = "netlister-sizes/1"
BOTH = "bus and feeders"


def sizes_object(name: str, sizes: list[Size], instead: list[Instead], both: list[Both]) -> dict[str, Any]:
    """Sizes as plain values in SI units."""
    return {
        "format": FORMAT,
        "layout": name,
        "sizes": [
            {
                "bus": s.bus, "for": s.use, "unit": s.unit, "now": s.now, "wire": s.wire or None, "drop_v": s.drop,
                "drop_percent": None if s.share is None else s.share * 100,
                **({"feeders": s.feeders or None} if s.use == BOTH else {}),
            }
            for s in sizes
        ],
        "instead": [
            {"bus": i.bus, "feed": i.piece, "at_mm": in_mm(i.at), "tap_mm": None if i.tap is None else in_mm(i.tap),
             "wire": i.wire, "instead_of": i.instead_of or None}
            for i in instead
        ],
        "with_feeders": [{"bus": b.bus, "wire": b.wire, "feeds": list(b.feeders)} for b in both],
        "cautions": list(CAUTIONS),
    }  # fmt: skip


def table(sizes: list[Size], instead: list[Instead], both: list[Both]) -> str:
    """Sizes as text."""
    return "\n".join(_lines(sizes, instead, both)) + "\n"


def _lines(sizes: list[Size], instead: list[Instead], both: list[Both]) -> Iterator[str]:
    if not sizes:
        yield "No bus and no feeder has a length in the layout, so there is nothing to size; add 'length'."
        return
    rows: list[tuple[str, ...]] = [("bus", "for", "now", "thinnest that holds", "loses at the worst place", "")]
    rows += [_row(s) for s in sizes]
    yield from columns(rows)
    for bus in dict.fromkeys(s.bus for s in sizes if not s.wire):
        rows_of = [s for s in sizes if s.bus == bus]
        if any(s.use == BOTH and s.wire for s in rows_of):
            yield f"'{bus}': neither its wire nor that of its feeders is enough alone, both together are."
        elif any(s.use == BOTH for s in rows_of) or not any(s.wire for s in rows_of):
            more = bus in {i.bus for i in instead} | {b.bus for b in both}
            yield f"'{bus}': no wire helps, not even bus and feeders thickened together{_MORE if more else _NONE}"
    for i in instead:
        other = f"{i.instead_of} without it" if i.instead_of else "no wire that does without it"
        yield (
            f"Instead: with one more feeder, on '{i.piece}' {length_text(i.at)} along it{_tap(i)}, "
            f"the bus '{i.bus}' does with {i.wire} ({other})."
        )
    for b in both:
        count = "one more feeder" if len(b.feeders) == 1 else f"{len(b.feeders)} more feeders"
        yield f"'{b.bus}' holds with {b.wire} and {count}:"
        yield from (f"  {entry}" for entry in b.feeders)
    yield ""
    yield from (f"Caution: {text}" for text in CAUTIONS)


_MORE = ". Add feeders, as below."
_NONE = (
    ", nor do a few more feeders with the thickest bus. Let the track be fed by more supplies, by districts that trip "
    "at less, or nearer to the supply."
)


def _tap(i: Instead) -> str:
    return "" if i.tap is None else f", tapped {length_text(i.tap)} along the bus"


def _row(s: Size) -> tuple[str, ...]:
    lost = "-" if s.drop is None else show(s.drop, "V")
    share = "" if s.share is None else show(s.share, "%")
    if s.use == BOTH and s.wire:
        return s.bus, s.use, s.now or "not stated", f"{s.wire}; feeders {s.feeders}", lost, share
    return s.bus, s.use, s.now or "not stated", s.wire or f"none ({'mm2' if s.unit == 'mm2' else 'AWG'})", lost, share
