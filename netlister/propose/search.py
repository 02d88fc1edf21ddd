"""Look for the cheapest wiring, write it into the text, and believe it only when the text read back checks clean."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING

from netlister.check import check
from netlister.edits.model import AddContact, AddFeed, AddReverser, Insulate, apply
from netlister.edits.text import EditError, new_text, text_edits
from netlister.finding import Severity
from netlister.layout.read import read_layout
from netlister.propose.design import PRICES, Design, Section, design
from netlister.propose.track import Track
from netlister.source import Source

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from netlister.edits.model import Change
    from netlister.edits.patch import TextEdit
    from netlister.finding import Finding
    from netlister.layout.model import Layout
    from netlister.source import Span

TRIES = 12
"""Choices of reversing sections that are proved at the most."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A wiring. `right`: its text, read back, breaks no rule with an error or a warning, and all was proved.

    `left`: what is broken still; `missing`: what cannot be added here. `bound`: no wiring with the same aim is cheaper.
    """

    layout: Layout
    design: Design
    edits: tuple[TextEdit, ...]
    text: str
    cost: float
    bound: float
    left: tuple[Finding, ...]
    missing: tuple[str, ...]

    @property
    def right(self) -> bool:
        """Whether nothing is broken or missing."""
        return not self.left and not self.missing


def propose(
    layout: Layout,
    source: Source,
    prices: dict[str, float] | None = None,
    aim: str = "all-live",
    folder: Path | None = None,
) -> Proposal:
    """The cheapest wiring that is found for the track of a layout; what is written is kept.

    Raises EditError where the text of the file cannot take the changes.
    """
    prices = {**PRICES, **(prices or {})}
    best: Proposal | None = None
    choices = sorted(
        ((design(layout, sections, aim), sections) for sections in _choices(layout)),
        key=lambda c: (len(c[0].missing), c[0].cost(prices), -_length(layout, c[1])),
    )
    for made, sections in choices[:TRIES]:
        found = _proved(layout, source, made, prices, folder)
        if not found.right:
            found = _mended(layout, source, found, sections, prices, aim, folder)
        if best is None or len(found.left) + len(found.missing) < len(best.left) + len(best.missing):
            best = found
        if best.right:
            break
    if best is None:
        raise EditError("no wiring was found")
    return replace(best, bound=min(best.cost, _bound(layout, best.design, prices, aim)))


def _mended(  # noqa: PLR0913, PLR0917 - all that a trial depends on
    layout: Layout,
    source: Source,
    found: Proposal,
    sections: tuple[Section, ...],
    prices: dict[str, float],
    aim: str,
    folder: Path | None,
) -> Proposal:
    """A wiring once more, with wires to what floats still, and with reversers at crossings."""
    extra = {t for f in found.left if f.rule == "floating-net" for t in f.terminals}
    for crossings, straight in (("contact", 0), ("contact", 1), ("reverser", 0), ("reverser", 1)):
        made = design(layout, sections, aim, extra, crossings=crossings, straight=straight)
        again = _proved(layout, source, made, prices, folder)
        if again.right:
            return again
    return found


def _meant(layout: Layout, finding: Finding) -> bool:
    """Whether track is dead over a frog that is left without a wire on purpose."""
    piece = layout.pieces.get(finding.subject)
    return finding.severity < Severity.WARNING and piece is not None and (piece.dead_frog or bool(piece.kind.sealed))


def _bound(layout: Layout, made: Design, prices: dict[str, float], aim: str) -> float:
    """What any wiring with this aim costs at the least.

    Without a reversing section every joiner, wire and contact of the design is needed, but for joiners between frogs
    that one machine moves; and the reverser of a bridge or a crossing might be two contacts. With sections: what is
    needed without them; one reverser; and as a section is cut on both rails at two places, four joiners, less those
    needed there already.
    """
    bare = design(layout, (), aim)
    other = max(0.0, prices["reverser"] + 2 * prices["feed"] - 2 * prices["contact"])
    if not any("reversing section" in text for text in bare.missing):
        return made.cost(prices) - made.doubtful * prices["joiner"] - made.reversers * other
    bridges = bare.reversers
    per_joint: dict[int, int] = {}
    for change, _ in bare.changes:
        if isinstance(change, Insulate):
            per_joint[change.joint] = per_joint.get(change.joint, 0) + 1
    for number, joint in enumerate(layout.joints):
        per_joint[number] = per_joint.get(number, 0) + sum(insulated for _, _, insulated in joint.pairs)
    there = sum(sorted(per_joint.values(), reverse=True)[:2])
    own = min(made.feeds, 4)  # two rails of the section and two of the rest
    joiners = bare.joiners - bare.doubtful + max(0, 4 - there)
    return (
        joiners * prices["joiner"]
        + max(bare.feeds - 2 * bridges, own if not layout.feeds else 2) * prices["feed"]
        + bare.contacts * prices["contact"]
        + prices["reverser"]
    )


def _choices(layout: Layout) -> list[tuple[Section, ...]]:
    """Sets of reversing sections after which no way comes back on itself turned round."""
    track = Track(layout)
    bare = design(layout)
    if not any("reversing section" in text for text in bare.missing):
        return [()]
    rows = [Section(tuple(row), tuple(edge)) for row, edge in track.stretches() if len(edge) == 2]  # noqa: PLR2004
    found: list[tuple[Section, ...]] = [(s,) for s in rows if not _contradictions(layout, (s,))]
    if found:
        return found
    chosen: tuple[Section, ...] = ()
    left = _contradictions(layout, ())
    while left:
        best = min(rows, key=lambda s: _contradictions(layout, (*chosen, s)), default=None)
        if best is None or _contradictions(layout, (*chosen, best)) >= left:
            break
        chosen = (*chosen, best)
        left = _contradictions(layout, chosen)
    return [chosen]


def _contradictions(layout: Layout, sections: tuple[Section, ...]) -> int:
    return sum("reversing section" in text for text in design(layout, sections).missing)


def _length(layout: Layout, sections: tuple[Section, ...]) -> float:
    return sum(layout.pieces[name].length or 0.0 for section in sections for name in section.pieces)


def _proved(layout: Layout, source: Source, made: Design, prices: dict[str, float], folder: Path | None) -> Proposal:
    edit = tuple(change for change, _ in made.changes)
    if layout.netlist:  # to be changed in the drawing or the script; nothing is written here
        edits: tuple[TextEdit, ...] = ()
        text = source.text
        report = check(apply(edit, layout), causes=False)
    else:
        edits = tuple(text_edits(layout, source, edit, folder))
        text = new_text(source, edits)
        report = check(read_layout(Source(source.name, text), folder), causes=False)
    left = tuple(
        f
        for f in report.findings
        if f.severity >= Severity.WARNING or (f.rule == "dead-track" and not _meant(layout, f))
    )
    missing = (*made.missing, *(f"{rule} of {subject} was not proved" for rule, subject in report.unproved))
    cost = made.cost(prices)
    return Proposal(layout, made, edits, text, cost, cost, left, missing)


# -- words


def said(change: Change, layout: Layout) -> tuple[str, Span]:
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
            return f"feed '{feed.piece}': {wires}", feed.span
        case AddContact():
            contact = change.contact
            throws = ", ".join(f"{position} to {to}" for position, to in contact.throws)
            return f"give {contact.common} a contact '{contact.name}' of '{contact.owner}': {throws}", contact.span
        case AddReverser():
            return f"add the reverser '{change.reverser.name}' on '{change.reverser.bus}'", change.reverser.span
    return str(change), next(iter(layout.pieces.values())).span


def shared_out(proposal: Proposal) -> Iterator[tuple[str, str, Span, list[TextEdit]]]:
    """Each change in words, why, where, and its share of the edits: an edit goes to the nearest change before it."""
    changes = [(*said(change, proposal.layout), why) for change, why in proposal.design.changes]
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
