"""Volts and amps as a table and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.lengths import in_mm
from netlister.outputs.cautions import SUPPLIES
from netlister.quantity import length_text, show
from netlister.volts.losses import losses
from netlister.volts.trains import budgets, each_alone, together
from netlister.volts.values import limit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from netlister.volts.drop import Drop, Survey
    from netlister.volts.feeders import Added, FeederPlan
    from netlister.volts.losses import Losses
    from netlister.volts.trains import Budget, StandingTrain

FORMAT = "netlister-drop/1"

CAUTIONS = (
    "These are estimates from nominal values. Test with a meter and a protected supply before you trust them.",
    "Low voltage at several amps burns: 15 V at 5 A are 75 W. Never leave a short standing.",
    SUPPLIES,
    "What is on the mains side is for licensed people and your local code.",
)
"""IEC 61558-2-7 and NEM 609 for the supplies; the arithmetic is our own."""


def drop_object(survey: Survey) -> dict[str, Any]:
    """The volts of a layout as plain values: SI units, nothing rounded; None where there is no voltage."""
    found: dict[str, Any] = {
        "format": FORMAT,
        "layout": survey.layout.name,
        "pieces": {name: None if d is None else _piece(survey, d) for name, d in survey.pieces().items()},
    }
    trains = [_standing(survey, s) for s in each_alone(survey)]
    if trains:
        found["trains"] = dict(trains)
    both = [_standing(survey, s) for s in together(survey)]
    if both:
        found["together"] = dict(both)
    found["causes"] = causes_object(survey)
    found["budget"] = {b.supply: _budget(b) for b in budgets(survey)}
    found["assumed"] = survey.network.values.assumed
    found["without_length"] = survey.network.lengthless
    found["cautions"] = list(CAUTIONS)
    return found


def _piece(survey: Survey, d: Drop) -> dict[str, Any]:
    found: dict[str, Any] = {
        "loop_ohm": d.loop,
        "at_mm": in_mm(d.at),
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


def _standing(survey: Survey, s: StandingTrain) -> tuple[str, dict[str, Any]]:
    return s.train, {
        "piece": s.drop.piece,
        "at_mm": in_mm(s.drop.at),
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
    yield from _summary(survey)
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


def worst(survey: Survey) -> list[Drop]:
    """The pieces with a known loss, the worst first."""
    known = [d for d in survey.pieces().values() if d is not None and d.share]
    return sorted(known, key=lambda d: (-(d.share or 0.0), -d.loop, d.piece))


def causes_object(survey: Survey) -> list[dict[str, Any]]:
    """What loses the volts, one entry for all pieces that lose too much of one supply's: SI units, nothing rounded."""
    found = []
    for cause in causes(survey):
        entry = {
            "supply": cause.worst.supply, "pieces": cause.pieces, "worst": cause.worst.piece,
            "loss_ohm": cause.losses.shares, "buses_ohm": cause.losses.buses,
        }  # fmt: skip
        found.append(entry)
    return found


SHORTED = "The layout has a short, told above: mend it first. What follows leaves out the positions in which it stands."


class BusLoss(NamedTuple):
    """Why pieces fed over one bus lose too much: how many do, the worst of them, and what its loop consists of."""

    bus: str
    pieces: int
    worst: Drop
    losses: Losses


def causes(survey: Survey) -> list[BusLoss]:
    """One cause for all pieces above the limit whose greatest loss in a bus is in the same one."""
    most = limit(survey.layout, "drop")
    bad = [d for d in worst(survey) if (d.share or 0.0) > most * (1 + 1e-9)]
    groups: dict[tuple[str, str], list[Drop]] = {}
    for d in bad:
        served = [b for b in survey.layout.buses if survey.protection.serves(b, d.piece)] if survey.layout.buses else []
        groups.setdefault((d.supply, served[0] if len(served) == 1 else ""), []).append(d)
    return [BusLoss(bus, len(group), group[0], losses(survey, group[0])) for (_, bus), group in groups.items()]


def _summary(survey: Survey) -> Iterator[str]:
    """In two sentences per cause: how bad it is, and what loses the volts."""
    for cause in causes(survey):
        d, parts = cause.worst, cause.losses
        many = f"{cause.pieces} pieces lose" if cause.pieces > 1 else f"'{d.piece}' loses"
        bus = f" behind the bus '{cause.bus}'" if cause.bus else ""
        yield (
            f"{many} more than {show(limit(survey.layout, 'drop'), '%', 2)} of {d.supply}{bus}; worst '{d.piece}' "
            f"at {length_text(d.at)}: {show(d.volts_lost or 0.0, 'V')}, {show(d.share or 0.0, '%')}, "
            f"at {show(d.amps or 0.0, 'A')}."
        )
        told = [f"{what} {show(ohm / parts.loop, '%', 2)}" for what, ohm in ranked(parts.shares, parts.loop)]
        first = next(iter(parts.buses.items()), None)
        which = f" (the bus is '{first[0]}')" if first is not None and first[1] / parts.loop > LITTLE else ""
        yield f"  Of that: {', '.join(told)}{which}."
    if causes(survey):
        yield ""


LITTLE = 0.005
"""Less than this share of a loss is not told."""


def ranked(shares: dict[str, float], loop: float) -> list[tuple[str, float]]:
    """What a loop consists of, the greatest first, without what is next to nothing."""
    return sorted(((w, o) for w, o in shares.items() if loop and o / loop > LITTLE), key=lambda item: -item[1])


def advice(plan: FeederPlan, share: float) -> str:
    """Where the next feeders go, as text; nothing where none helps."""
    added, first = plan.added, plan.next
    if plan.thin is not None:
        bus, piece, lost = plan.thin
        return (
            f"Feeders tapped where the bus passes do not hold {show(share, '%', 2)}: on the way to '{piece}' the bus "
            f"'{bus}' alone loses {show(lost, '%')}. See 'netlister wire-size' for a thicker one.\n"
        )
    if not added or first is None or show(first.before, "%") == show(first.after, "%"):
        return _without(plan)
    lines = []
    lines.append(
        f"The next feeder does most on '{first.piece}', {length_text(first.at)} along it{_tap(first)}: the worst loss "
        f"goes from {show(first.before, '%')} to {show(first.after, '%')}."
    )
    last = added[-1]
    if last.left:
        pieces = f"{last.left} pieces still lose" if last.left > 1 else "one piece still loses"
        lines.append(
            f"With {_count(len(added))} {pieces} more than {show(share, '%', 2)}; see 'netlister wire-size' as well. "
            "The first:"
        )
    elif len(added) > 1:
        lines.append(f"{_count(len(added)).capitalize()} hold {show(share, '%', 2)} ({_least(plan)}):")
    else:
        lines.append(f"With it every piece holds {show(share, '%', 2)}:")
    lines += [f"  {a.entry}" for a in (added if not last.left else [first])]
    return "\n".join(lines) + "\n" + _without(plan)


def _without(plan: FeederPlan) -> str:
    """Of which track no feeder is proposed, and what not to do there."""
    if not plan.without:
        return ""
    many = len(plan.without) > 1
    return (
        f"No feeder is proposed for {named(list(plan.without))}, whose poles come over a switch, a detector or wires: "
        f"take more feeders for {'them' if many else 'it'} from there; one from the bus may be a short.\n"
    )


def _least(plan: FeederPlan) -> str:
    if not plan.places:
        return "whether fewer would do was not tried"
    return f"fewer do not, at the {plan.places} places tried along the track"


def _count(number: int) -> str:
    return f"{number} more feeders" if number > 1 else "one more feeder"


def _tap(a: Added) -> str:
    return "" if a.tap is None else f", tapped {length_text(a.tap)} along '{a.bus}'"


def added_object(added: list[Added]) -> list[dict[str, Any]]:
    """Feeders to add as plain values."""
    return [
        {
            "bus": a.bus, "piece": a.piece, "at_mm": in_mm(a.at), "tap_mm": None if a.tap is None else in_mm(a.tap),
            "entry": a.entry,
            "worst_percent_before": a.before * 100, "worst_percent_after": a.after * 100, "pieces_left": a.left,
        }
        for a in added
    ]  # fmt: skip


def _row(survey: Survey, d: Drop) -> tuple[str, ...]:
    when = " ".join(f"{name}={position}" for name, position in survey.positions(d.when).items())
    return (
        d.piece,
        ("≤ " if d.bound else "") + _band(d),
        length_text(d.at),
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
        ("Each train alone, where it is worst off", each_alone(survey)),
        (
            "All trains at once, in the worst combination of positions, the heaviest loads at the worst places",
            together(survey),
        ),
    ):
        if standings:
            yield ""
            yield f"{head} (the supply's own resistance counted)"
            yield from columns(
                [("train", "draws", "on", "at", "is left", "when"), *(_train(survey, s) for s in standings)]
            )


def _train(survey: Survey, s: StandingTrain) -> tuple[str, ...]:
    when = " ".join(f"{name}={position}" for name, position in survey.positions(s.drop.when).items())
    return s.train, show(s.amps, "A"), s.drop.piece, length_text(s.drop.at), show(s.left, "V"), when or "always"


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
        states = "states" if len(silent) == 1 else "state"
        yield f"{named(silent)} {states} no 'resistance', so real short-circuit currents are lower than shown"
    if survey.network.lengthless:
        yield f"Without a length in the layout, so taken as no resistance: {named(survey.network.lengthless)}"


def named(names: Iterable[str]) -> str:
    """Names, the first few of them."""
    listed = list(names)
    more = f" and {len(listed) - MOST_NAMED} more" if len(listed) > MOST_NAMED else ""
    return ", ".join(listed[:MOST_NAMED]) + more
