"""A wiring that was looked for: what it is, how it is told, and the share of each of its changes in the edits."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import islice
from typing import TYPE_CHECKING

from netlister.edits.gear import (
    AddExpectation,
    AddLink,
    AddReverser,
    AddSwitch,
    AddUnit,
    SetOption,
    Thicken,
    ThickenWire,
)
from netlister.edits.model import AddContact, AddFeed, Insulate
from netlister.formats.text import TO_DRAW, in_drawing
from netlister.layout.model import Feed
from netlister.propose.model import AIMS
from netlister.quantity import length_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.edits.model import Change
    from netlister.edits.patch import TextEdit
    from netlister.finding import Finding
    from netlister.layout.model import Layout
    from netlister.propose.model import Design
    from netlister.source import Span


def _as_it_is(span: Span) -> Span:
    return span


@dataclass(frozen=True, slots=True)
class Proposal:
    """A wiring. `right`: its text, read back, breaks no rule with an error or a warning, and all was proved.

    `left`: what is broken still; `missing`: what cannot be added here. `bound`: no wiring with the same aim is cheaper.
    `stopped`: whether it is the best so far when it was stopped. `places`: where feeders were added for volts, at how
    many places all sets of one feeder less were tried and none holds; 0 where that was too much to try. `place`: where
    something stands, of its place in the layout.
    """

    layout: Layout
    design: Design
    edits: tuple[TextEdit, ...]
    text: str
    cost: float
    bound: float
    left: tuple[Finding, ...]
    missing: tuple[str, ...]
    stopped: bool = False
    aim: str = "all-live"
    volts: bool = False
    places: int = 0
    place: Callable[[Span], Span] = field(default=_as_it_is, repr=False, compare=False)

    @property
    def right(self) -> bool:
        """Whether nothing is broken or missing."""
        return not self.left and not self.missing

    def to_text(self) -> str:
        """What is told of it to a person."""
        return told(self)


_MORE = (("unit", "frog units"), ("option", "pieces altered"))


def told(found: Proposal) -> str:
    """What is told of a proposal to a person."""
    made = found.design
    lines = [f"aim: {AIMS[found.aim]}", ""]
    for say, why, span, _ in shared_out(found):
        place = f"{span}: " if found.layout.netlist else ""
        lines.append(f"- {place}{say}\n    {why}")
        drawn = in_drawing((say,), found.layout.drawn)
        lines += [f"    {drawn}"] if drawn else []
    if not made.changes:
        lines.append("nothing to add")
    adds = (
        f"insulated joiners: {made.joiners}, feed wires: {made.feeds}, contacts: {made.contacts}, "
        f"reversers: {made.reversers}"
    )
    adds += "".join(f", {words}: {made.counted[what]}" for what, words in _MORE if made.counted[what])
    least = "no wiring with this aim costs less" if found.bound == found.cost else f"at least {found.bound:g} is needed"
    lines += ["", f"{adds}; cost {found.cost:g}" + (f"; {least}" if found.right else "")]
    if found.stopped:
        lines.append("stopped by the keyboard: this is the best so far")
    if found.right:
        lines.append("with these changes, checked over every position: right")
        if found.volts:
            lines.append(f"volts and breakers hold as 'netlister drop' calculates them; {_few_feeders(found)}")
            if any(isinstance(c, AddFeed) and c.feed.wire.length is None for c, _ in made.changes):
                lines.append("new feeders count without resistance; --feeder-wire and --feeder-length give theirs")
    else:
        lines.append("NOT right yet:")
        lines += [f"  missing: {text}" for text in found.missing]
        lines += [f"  {f.rule}: {f.message}" for f in few(found.left)]
        if found.left and (found.layout.feeds or found.layout.contacts):
            lines.append("what is written already is kept as it is; where that is wrong, mend it first: netlister mend")
    added = [change.feed for change, _ in made.changes if isinstance(change, AddFeed) and change.feed.tap is not None]
    buses = found.layout.buses
    if any(feed.source in buses and feed.tap == buses[feed.source].wire.length for feed in added):
        lines.append("'tap' of the new feeds is the far end of the bus, the worst place; write where each is tapped")
    if found.layout.netlist:
        lines.append(TO_DRAW)
    lines.append("before you solder: supply off and unplugged; a drawing is no test, so measure as well")
    return "\n".join(lines) + "\n"


def _few_feeders(found: Proposal) -> str:
    """How sure it is that fewer feeders than were added for volts would not do."""
    more = sum(isinstance(change, AddFeed) and change.feed.at is not None for change, _ in found.design.changes)
    if not more:
        return "no more feeders are needed for them"
    if more == 1:
        return "one more feeder is needed for them"
    if found.places:
        return f"{more} more feeders, and no {more - 1} of the {found.places} places tried along the track are enough"
    return "whether fewer feeders would do was not proved"


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
        case ThickenWire():
            one = layout.links[change.number] if change.section == "links" else layout.feeds[change.number]
            what = f"the feed of '{one.piece}'" if isinstance(one, Feed) else f"the wire of {' and '.join(one.ends)}"
            return f"make {what} of '{change.wire.text}' in place of '{one.wire.text}'", one.span
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
        yield text, why, proposal.place(span), share


def few(findings: tuple[Finding, ...], most: int = 12) -> list[Finding]:
    """The first of many findings."""
    return list(islice(findings, most))
