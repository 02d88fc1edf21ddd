"""Volts and amps as a table and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.quantity import show
from netlister.volts.trains import alone, budgets, together
from netlister.volts.values import limit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from netlister.volts.drop import Drop, Survey
    from netlister.volts.trains import Budget, Standing

FORMAT = "netlister-drop/1"

CAUTIONS = (
    "These are estimates from nominal values. Test with a meter and a protected supply before you trust them.",
    "Low voltage at several amps burns: 15 V at 5 A are 75 W. Never leave a short standing.",
    "Never join the outputs of two supplies. What is on the mains side is for licensed people and your local code.",
)
"""IEC 61558-2-7 and NEM 609 for the supplies; the arithmetic is our own."""


def drop_object(survey: Survey) -> dict[str, Any]:
    """The volts of a layout as plain values: SI units, nothing rounded; None where there is no voltage."""
    found: dict[str, Any] = {
        "format": FORMAT,
        "layout": survey.layout.name,
        "pieces": {name: None if d is None else _piece(survey, d) for name, d in survey.pieces().items()},
    }
    trains = [_standing(survey, s) for s in alone(survey)]
    if trains:
        found["trains"] = dict(trains)
    both = [_standing(survey, s) for s in together(survey)]
    if both:
        found["together"] = dict(both)
    found["budget"] = {b.supply: _budget(b) for b in budgets(survey)}
    found["assumed"] = survey.network.values.assumed
    found["without_length"] = survey.network.lengthless
    found["cautions"] = list(CAUTIONS)
    return found


def _piece(survey: Survey, d: Drop) -> dict[str, Any]:
    found: dict[str, Any] = {
        "loop_ohm": d.loop,
        "at_mm": d.at * 1000,
        "when": survey.positions(d.when),
        "drop_v": d.volts_lost,
        "drop_percent": None if d.share is None else d.share * 100,
        "short_a": d.short,
        "route": d.route,
        "supply": d.supply,
        "amps": d.amps,
        "loop_low_ohm": d.loop_low,
    }
    if d.bound:
        found["bound"] = True
    return found


def _standing(survey: Survey, s: Standing) -> tuple[str, dict[str, Any]]:
    return s.train, {
        "piece": s.drop.piece,
        "at_mm": s.drop.at * 1000,
        "when": survey.positions(s.drop.when),
        "amps": s.amps,
        "drop_v": s.lost,
        "volts": s.left,
    }


def _budget(b: Budget) -> dict[str, Any]:
    return {"trip_a": b.trip, "trains_a": b.trains, "left_a": b.left, "watts": b.watts, "feeds_track": b.feeds_track}


# -- text


def verdict(survey: Survey) -> str:
    """What is said where every rule on volts holds."""
    layout = survey.layout
    limits = (
        f"{show(limit(layout, 'drop'), '%', 2)} lost at the most, a short draws {limit(layout, 'trip-margin'):g} times"
    )
    return f"{layout.name}: volts and amps are within the limits ({limits} the trip current, no wire too thin)\n"


def table(survey: Survey) -> str:
    """The volts of a layout as text, the worst pieces first."""
    return "\n".join(_lines(survey)) + "\n"


def _lines(survey: Survey) -> Iterator[str]:
    found = survey.pieces()
    drops = [d for d in found.values() if d is not None]
    drops.sort(key=lambda d: (-(d.share or 0.0), -d.loop, d.piece))
    heads = ("piece", "loop", "at", "lost", "", "at current", "a short draws", "when")
    rows = [heads, *(_row(survey, d) for d in drops)]
    rows += [(name, "no voltage in any position", "", "", "", "", "", "") for name, d in found.items() if d is None]
    yield from columns(rows)
    if any(d.bound for d in drops):
        yield "≤: a bound, no less than the true value: too many positions bear on it to go through them all."
    yield from _trains(survey)
    yield from _budgets(survey)
    yield from _assumed(survey)
    yield ""
    yield from (f"Caution: {text}" for text in CAUTIONS)


def _row(survey: Survey, d: Drop) -> tuple[str, ...]:
    when = " ".join(f"{name}={position}" for name, position in survey.positions(d.when).items())
    return (
        d.piece,
        ("≤ " if d.bound else "") + _band(d),
        show(d.at, "mm", 4),
        "-" if d.volts_lost is None else show(d.volts_lost, "V"),
        "-" if d.share is None else show(d.share, "%"),
        "-" if d.amps is None else show(d.amps, "A"),
        "no limit" if d.short is None else show(d.short, "A"),
        when or "always",
    )


def _band(d: Drop) -> str:
    high, low = show(d.loop, "mohm"), show(d.loop_low, "mohm")
    return high if high == low else f"{low.split(' ')[0]} to {high}"


def columns(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Rows as aligned text; a cell alone in its row does not widen a column."""
    count = len(rows[0])
    full = [row for row in rows if sum(1 for cell in row if cell) > 2]  # noqa: PLR2004
    widths = [max(len(row[i]) for row in full or rows) for i in range(count)]
    widths[0] = max(len(row[0]) for row in rows)
    for row in rows:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _trains(survey: Survey) -> Iterator[str]:
    for head, standings in (
        ("Each train alone, where it is worst off", alone(survey)),
        ("All trains at once, in one position of everything, the hungriest at the worst places", together(survey)),
    ):
        if standings:
            yield ""
            yield f"{head} (the supply's own resistance counted)"
            yield from columns(
                [("train", "draws", "on", "at", "is left", "when"), *(_train(survey, s) for s in standings)]
            )


def _train(survey: Survey, s: Standing) -> tuple[str, ...]:
    when = " ".join(f"{name}={position}" for name, position in survey.positions(s.drop.when).items())
    return s.train, show(s.amps, "A"), s.drop.piece, show(s.drop.at, "mm", 4), show(s.left, "V"), when or "always"


def _budgets(survey: Survey) -> Iterator[str]:
    yield ""
    yield "Supplies"
    rows: list[tuple[str, ...]] = [("supply", "trips at", "all trains draw", "left", "full power")]
    rows += [_supply(b) for b in budgets(survey)]
    yield from columns(rows)


def _supply(b: Budget) -> tuple[str, ...]:
    trains = show(b.trains, "A") if b.feeds_track else "feeds no track"
    left = "-" if b.left is None else show(b.left, "A") if b.left >= 0 else f"{show(-b.left, 'A')} too little"
    return (
        b.supply,
        "not stated" if b.trip is None else show(b.trip, "A"),
        trains,
        left,
        "-" if b.watts is None else show(b.watts, "W"),
    )


MOST_NAMED = 8


def _assumed(survey: Survey) -> Iterator[str]:
    known = survey.network.values.assumed
    if known:
        yield ""
        yield "Taken from the defaults, since the layout does not say"
        yield from (f"  {what}" for what in known)
        yield "  (sources with --format json)"
    silent = [s.name for s in survey.layout.supplies.values() if not s.resistance]
    if silent:
        yield f"Without a resistance of its own, so that shorts seem stronger than they are: {named(silent)}"
    if survey.network.lengthless:
        yield f"Without a length in the layout, so taken as no resistance: {named(survey.network.lengthless)}"


def named(names: Iterable[str]) -> str:
    """Names, the first few of them."""
    listed = list(names)
    more = f" and {len(listed) - MOST_NAMED} more" if len(listed) > MOST_NAMED else ""
    return ", ".join(listed[:MOST_NAMED]) + more
