"""Feeders and wires so that volts and breakers hold everywhere: the search of `drop`, written into a proposal."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from netlister.check import check
from netlister.edits.gear import Thicken
from netlister.edits.model import AddFeed, apply
from netlister.finding import Severity
from netlister.quantity import parse_wire

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.edits.model import Change
    from netlister.finding import Finding
    from netlister.layout.model import Layout
    from netlister.propose.trial import Proposal, Trial

RULES = ("voltage-drop", "weak-short", "wire-load")
ROUNDS = 4
"""So often more feeders are looked for where one round does not do with any size of the bus."""


def holding(trial: Trial, found: Proposal) -> Proposal:
    """A right wiring with the feeders, and if need be the thicker bus, with which the rules on volts hold as well.

    `left` has what they say still where nothing helps.
    """
    base = found.design
    layout = apply(tuple(change for change, _ in base.changes), trial.layout)
    if _hopeless(layout):
        return replace(found, left=(*found.left, *_wrong(layout)))
    best: tuple[int, list[tuple[Change, str]]] | None = None
    sizes = list(_thicker(layout))
    for thicker, rounds in (*((size, 1) for size in sizes), (sizes[-1], ROUNDS)):
        edit = tuple(change for change, _ in thicker)
        fed, added = _fed(apply(edit, layout), trial, rounds)
        wrong = len(_wrong(fed))
        if best is None or wrong < best[0]:
            best = wrong, [*thicker, *added]
        if not wrong:
            best = 0, [*thicker, *_needed(apply(edit, layout), added)]
            break
    assert best is not None
    counted = dict(base.counted)
    counted["feed"] += sum(len(c.feed.wires) for c, _ in best[1] if isinstance(c, AddFeed))
    proved = trial.proved(replace(base, changes=[*base.changes, *best[1]], counted=counted))
    said = _wrong(apply(tuple(change for change, _ in proved.design.changes), trial.layout))
    return replace(proved, left=(*proved.left, *said))


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
    """More feeders, each where `drop` says that they do, until the limits hold or none helps."""
    from netlister.volts.feeders import plan

    added: list[tuple[Change, str]] = []
    for _ in range(rounds):
        if not _wrong(layout):
            break
        if trial.tell is not None:
            trial.tell(f"volts: {len(added)} more feeders; looking for places of others")
        found = plan(layout).added
        if not found:
            break
        for one in found:
            change = AddFeed(one.feed._replace(name="", target="", span=layout.pieces[one.piece].span))
            added.append((change, "without it some place would lose too much, or a short there would not trip"))
            layout = change.made_in(layout)
    return layout, added


def _thicker(layout: Layout) -> Iterator[list[tuple[Change, str]]]:
    """The buses as they are; then each size of wire, all buses that are thinner with it."""
    from netlister.volts.values import table

    yield []
    buses = [bus for bus in layout.buses.values() if not bus.implicit and bus.wire.length and bus.wire.ohm_per_m]
    for text in table()["sizes"]["mm2"] if buses else ():
        area, ohm = parse_wire(text)
        changes: list[tuple[Change, str]] = [
            (
                Thicken(bus.name, bus.wire._replace(text=text, area_mm2=area, ohm_per_m=ohm)),
                f"with '{bus.wire.text}' no feeders were found with which volts and breakers hold",
            )
            for bus in buses
            if (bus.wire.ohm_per_m or 0.0) > ohm * (1 + 1e-9)
        ]
        if changes:
            yield changes
