"""Feeders and wires so that volts and breakers hold everywhere: the search of `drop`, written into a proposal."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from netlister.check import check
from netlister.edits.gear import Thicken, ThickenWire
from netlister.edits.model import AddFeed, apply
from netlister.finding import Severity
from netlister.quantity import parse_wire, show

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.edits.model import Change
    from netlister.finding import Finding
    from netlister.layout.model import Feed, Layout, Link, Wire
    from netlister.propose.proposal import Proposal
    from netlister.propose.trial import Trial
    from netlister.volts.feeders import Added

RULES = ("voltage-drop", "weak-short", "wire-load")
ROUNDS = 4
"""So often more feeders are looked for where one round does not do with any size of the bus."""


def holding(trial: Trial, found: Proposal) -> Proposal:
    """A right wiring with the feeders, and if need be the thicker bus, with which the rules on volts hold as well.

    `left` has what they say still where nothing helps.
    """
    base = found.design
    layout = apply(tuple(change for change, _ in base.changes), trial.layout)
    wires = _wires(layout, trial.layout)
    layout = apply(tuple(change for change, _ in wires), layout)
    if _hopeless(layout) or _too_thin(layout, buses=False):
        return replace(found, left=(*found.left, *_wrong(layout)))
    best: tuple[int, list[tuple[Change, str]]] | None = None
    if _wrong(layout):
        more = _heavier(layout, trial.layout)
        wires = [*wires, *more]
        layout = apply(tuple(change for change, _ in more), layout)
    sizes = list(_thicker(layout))
    places = 0
    for thicker, rounds in (*((size, 1) for size in sizes), (sizes[-1], ROUNDS)):
        edited = apply(tuple(change for change, _ in thicker), layout)
        if _too_thin(edited, buses=True) and thicker is not sizes[-1]:
            continue
        fed, added = _fed(edited, trial, rounds)
        wrong = len(_wrong(fed))
        if best is None or wrong < best[0]:
            best = wrong, [*thicker, *added]
        if not wrong:
            few, places = _fewer(edited, trial, added) if rounds == 1 else (_needed(edited, added), 0)
            best = 0, [*thicker, *few]
            break
    assert best is not None
    counted = dict(base.counted)
    counted["feed"] += sum(len(c.feed.wires) for c, _ in best[1] if isinstance(c, AddFeed))
    proved = trial.proved(replace(base, changes=[*base.changes, *wires, *best[1]], counted=counted))
    said = _wrong(apply(tuple(change for change, _ in proved.design.changes), trial.layout))
    return replace(proved, left=(*proved.left, *said), places=places)


def _hopeless(layout: Layout) -> bool:
    """Whether the resistance of a supply itself keeps a short below what must trip it: no wire helps there."""
    from netlister.volts.values import limit

    margin = limit(layout, "trip-margin")
    return any(
        supply.voltage is not None
        and supply.trip is not None
        and supply.resistance * supply.trip * margin > supply.voltage
        for supply in layout.supplies.values()
        if not supply.accessory
    )


def _too_thin(layout: Layout, *, buses: bool) -> bool:
    """Whether a bus, or a wire that is none, is too thin for what protects it: no feeder helps there."""
    return any(f.rule == "wire-load" and (f.subject in layout.buses) == buses for f in _wrong(layout))


def _wires(layout: Layout, there: Layout) -> list[tuple[Change, str]]:
    """Thicker wire for each feed and wire that is there and too thin for what protects it."""
    from netlister.volts.drop import Survey
    from netlister.volts.load import overloads

    better = {load.span: load for load in overloads(Survey.of(layout))}
    found: list[tuple[Change, str]] = []
    for section, number, one in _written(there):
        load = better.get(one.span)
        if load is not None and load.size:
            carries, trips = show(load.amps, "A"), show(load.trip, "A")
            why = f"'{one.wire.text}' carries {carries}, and {load.guard} trips only at {trips}"
            found.append((ThickenWire(section, number, _of_size(one.wire, load.size)), why))
    return found


def _heavier(layout: Layout, there: Layout) -> list[tuple[Change, str]]:
    """Thicker wire for feeds and wires that are there, where that does without any feeder more; else nothing.

    Of each size the least, then as few of them as do.
    """
    from netlister.volts.values import table

    for text in table()["sizes"]["mm2"]:
        ohm = parse_wire(text).ohm_per_m
        changes: list[tuple[Change, str]] = [
            (
                ThickenWire(section, number, _of_size(one.wire, text)),
                f"with '{one.wire.text}' more feeders would be needed",
            )
            for section, number, one in _written(there)
            if one.wire.length and (one.wire.ohm_per_m or 0.0) > ohm * (1 + 1e-9)
        ]
        if changes and not _wrong(apply(tuple(change for change, _ in changes), layout)):
            return _needed(layout, changes)
    return []


def _written(layout: Layout) -> Iterator[tuple[str, int, Feed | Link]]:
    """The feeds and wires, each with its section and its number there."""
    yield from (("feeds", number, feed) for number, feed in enumerate(layout.feeds))
    yield from (("links", number, link) for number, link in enumerate(layout.links))


def _of_size(wire: Wire, text: str) -> Wire:
    area, ohm = parse_wire(text)
    return wire._replace(text=text, area_mm2=area, ohm_per_m=ohm)


def _wrong(layout: Layout) -> list[Finding]:
    report = check(layout, select=RULES, causes=False)
    return [f for f in report.findings if f.severity >= Severity.WARNING]


def _needed(layout: Layout, added: list[tuple[Change, str]]) -> list[tuple[Change, str]]:
    """Those of some feeders that are needed: the others can be left out one after the other, and the limits hold."""
    for one in [*added]:
        fewer = [other for other in added if other is not one]
        if not _wrong(apply(tuple(change for change, _ in fewer), layout)):
            added = fewer
    return added


def _fed(layout: Layout, trial: Trial, rounds: int) -> tuple[Layout, list[tuple[Change, str]]]:
    """More feeders, one after the other where each does most, until the limits hold or none helps."""
    from netlister.volts.drop import Survey
    from netlister.volts.feeders import feeders, thin

    added: list[tuple[Change, str]] = []
    for _ in range(rounds):
        if not _wrong(layout) or thin(Survey.of(layout)) is not None:
            break
        if trial.tell is not None:
            trial.tell(f"volts: {len(added)} more feeders; looking for places of others")
        found = feeders(layout)
        if not found:
            break
        for one in found:
            added.append(_added(layout, one))
            layout = added[-1][0].made_in(layout)
    return layout, added


def _added(layout: Layout, one: Added) -> tuple[Change, str]:
    change = AddFeed(one.feed._replace(name="", target="", span=layout.pieces[one.piece].span))
    return change, "without it some place would lose too much, or a short there would not trip"


def _fewer(layout: Layout, trial: Trial, added: list[tuple[Change, str]]) -> tuple[list[tuple[Change, str]], int]:
    """The fewest feeders that are found to hold; and at how many places all sets of one less were tried in vain.

    A single one is the fewest wherever it lies: there the places are 1.
    """
    from netlister.volts.feeders import feeder_plan

    needed = _needed(layout, added)
    if len(needed) < 2:  # noqa: PLR2004 - none, or one that cannot be left out
        return needed, len(needed)
    if trial.tell is not None:
        trial.tell(f"volts: {len(needed)} more feeders; looking whether fewer do")
    found = feeder_plan(layout)
    few = [_added(layout, one) for one in found.added]
    if len(few) > len(needed) or _wrong(apply(tuple(change for change, _ in few), layout)):
        return needed, 0
    return few, found.places


def _thicker(layout: Layout) -> Iterator[list[tuple[Change, str]]]:
    """The buses as they are; then each size of wire, all buses that are thinner with it."""
    from netlister.volts.values import table

    yield []
    buses = [bus for bus in layout.buses.values() if not bus.implicit and bus.wire.length and bus.wire.ohm_per_m]
    for text in table()["sizes"]["mm2"] if buses else ():
        ohm = parse_wire(text).ohm_per_m
        changes: list[tuple[Change, str]] = [
            (
                Thicken(bus.name, _of_size(bus.wire, text)),
                f"with '{bus.wire.text}' no feeders were found with which volts and breakers hold",
            )
            for bus in buses
            if (bus.wire.ohm_per_m or 0.0) > ohm * (1 + 1e-9)
        ]
        if changes:
            yield changes
