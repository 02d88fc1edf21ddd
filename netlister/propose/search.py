"""Look for the cheapest wiring, write it into the text, and believe it only when the text read back checks clean."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING

from netlister.edits.gear import AddExpectation, AddLink, AddReverser, AddSwitch, AddUnit, SetOption, Thicken
from netlister.edits.model import AddContact, AddFeed, Insulate
from netlister.propose.aims import saving
from netlister.propose.bound import least_cost
from netlister.propose.colours import free_already
from netlister.propose.model import NO_WIRE, PRICES, SWITCHING, Preferences
from netlister.propose.sections import choices
from netlister.propose.trial import Proposal, Trial
from netlister.propose.volts import RULES as VOLTS
from netlister.propose.volts import holding
from netlister.quantity import length_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from netlister.edits.model import Change
    from netlister.edits.patch import TextEdit
    from netlister.finding import Finding
    from netlister.layout.model import Layout, Wire
    from netlister.propose.model import Section
    from netlister.source import Source, Span

TRIES = 12
"""Choices of reversing sections that are proved at the most."""


def propose(  # noqa: PLR0913 - what there is to choose
    layout: Layout,
    source: Source,
    prices: dict[str, float] | None = None,
    aim: str = "all-live",
    folder: Path | None = None,
    *,
    frogs: str = "contact",
    tell: Callable[[str], None] | None = None,
    volts: bool = False,
    wire: Wire = NO_WIRE,
) -> Proposal:
    """The cheapest wiring that is found for the track of a layout; what is written is kept.

    `frogs`: "contact" or "unit", what a frog gets. `volts`: add feeders until voltage and breakers hold as well; then
    frogs get contacts, since blades lose much. `wire`: of each feeder that is added. `tell` is told what is being done.
    Stopped by the keyboard it gives the best so far. Raises EditError where the text cannot take the changes.
    """
    prices = {**PRICES, **(prices or {})}
    aim = "no-blades" if volts and aim == "all-live" else aim
    trial = Trial(layout, source, prices, folder, tell)
    best: Proposal | None = None
    longest = max((train.length or 0.0 for train in layout.trains.values()), default=0.0)
    made = [
        (trial.design(choice), choice)
        for choice in (
            Preferences(s, aim, frogs=frogs, wire=wire) for s in choices(trial.base, free_already(trial.base))
        )
    ]
    made.sort(
        key=lambda m: (
            len(m[0].missing),
            _length(layout, m[1].sections) < longest if m[1].sections else False,
            m[0].cost(prices),
            -_length(layout, m[1].sections),
        )
    )
    try:
        for one, choice in made[:TRIES]:
            found = saving(trial, choice) if one.savings or aim in SWITCHING else trial.proved(one)
            if not found.right:
                found = _otherwise(trial, found, choice)
            if best is None or _rank(found) < _rank(best):
                best = found
            if best.right:
                break
        if volts and best is not None and not best.missing and all(f.rule in VOLTS for f in best.left):
            best = holding(trial, best)
    except KeyboardInterrupt:
        trial.stopped = True
    if best is None:
        best = trial.unchecked(made[0][0])
    bound = min(best.cost, least_cost(trial, aim, frogs))
    return replace(best, bound=bound, stopped=trial.stopped, aim=aim, volts=volts)


def _rank(found: Proposal) -> tuple[int, int]:
    return len(found.missing), len(found.left)


def _otherwise(trial: Trial, found: Proposal, choice: Preferences) -> Proposal:
    """A wiring once more: with wires to what floats still, other gear at crossings, switches thrown by hand."""
    best = found
    extra = frozenset(t for f in found.left if f.rule == "floating-net" for t in f.terminals)
    tried = [found.design]
    for by_hand in (False, True):
        for crossings in ("contact", "unit", "reverser"):
            made = trial.design(choice._replace(extra=extra, crossings=crossings, by_hand=by_hand))
            if made in tried:
                continue
            tried.append(made)
            again = trial.proved(made)
            if _rank(again) < _rank(best):
                best = again
            if best.right:
                return best
    return best


def _length(layout: Layout, sections: tuple[Section, ...]) -> float:
    return min((sum(layout.pieces[n].length or 0.0 for n in section.pieces) for section in sections), default=0.0)


# -- words


def said(change: Change, layout: Layout) -> tuple[str, Span]:  # noqa: PLR0911 - one kind of change after the other
    """A change in words, and the place of what it is about."""
    match change:
        case Insulate():
            joint = layout.joints[change.joint]
            a, b, _ = joint.pairs[change.side]
            return (
                f"insulate the joint of {a} and {b} (the {('left', 'right')[change.side]} rail of '{joint.name}')",
                joint.span,
            )
        case AddFeed():
            feed = change.feed
            wires = " and ".join(f"{pole} to {rail}" for pole, rail in feed.wires)
            at = "" if feed.at is None else f" at {length_text(feed.at)}"
            return f"feed '{feed.piece}'{at}: {wires}", feed.span
        case AddContact():
            contact = change.contact
            throws = ", ".join(f"{position} to {to}" for position, to in contact.throws)
            return f"give {contact.common} a contact '{contact.name}' of '{contact.owner}': {throws}", contact.span
        case AddReverser():
            return f"add the reverser '{change.reverser.name}' on '{change.reverser.bus}'", change.reverser.span
        case AddSwitch():
            return (
                f"add the hand switch '{change.switch.name}' ({', '.join(change.switch.positions)})",
                change.switch.span,
            )
        case Thicken():
            bus = layout.buses[change.bus]
            return f"make the bus '{bus.name}' of '{change.wire.text}' in place of '{bus.wire.text}'", bus.span
        case AddUnit():
            unit = change.unit
            return f"give {unit.frog} the frog unit '{unit.name}' on '{unit.bus}'", unit.span
        case AddLink():
            return f"wire {change.link.ends[0]} to {change.link.ends[1]}", change.link.span
        case SetOption():
            piece = layout.pieces[change.piece]
            return f"build '{piece.name}' with '{change.option}: {change.value}'", piece.span
        case AddExpectation():
            meant = change.expectation
            when = ", ".join(f"{name} at {position}" for name, position in meant.when)
            said = " and ".join(f"'{name}'" for name in meant.pieces)
            return f"write that {said} {'is' if len(meant.pieces) == 1 else 'are'} dead with {when}", meant.span
    return str(change), next(iter(layout.pieces.values())).span


def shared_out(proposal: Proposal) -> Iterator[tuple[str, str, Span, list[TextEdit]]]:
    """Each change in words, why, where, and its share of the edits: an edit goes to the nearest change before it."""
    changes = [(*said(change, proposal.layout), why) for change, why in proposal.design.changes]
    if proposal.layout.netlist:
        from netlister.repairs.drawn import each_ordered

        orders = each_ordered(proposal.layout, tuple(change for change, _ in proposal.design.changes))
        changes = [(order or text, span, why) for order, (text, span, why) in zip(orders, changes, strict=True)]
    shares: list[list[TextEdit]] = [[] for _ in changes]
    for edit in proposal.edits:
        before = [
            ((span.line, span.column), -number)
            for number, (_, span, _) in enumerate(changes)
            if (span.line, span.column) <= (edit.line, edit.column)
        ]
        shares[-max(before)[1] if before else 0].append(edit)
    for (text, span, why), share in zip(changes, shares, strict=True):
        yield text, why, span, share


def few(findings: tuple[Finding, ...], most: int = 12) -> list[Finding]:
    """The first of many findings."""
    return list(islice(findings, most))
