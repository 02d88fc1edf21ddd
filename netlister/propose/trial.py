"""A design tried: written into the text, read back and checked over every state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.check import check
from netlister.edits.model import apply
from netlister.edits.text import new_text, text_edits
from netlister.finding import Severity
from netlister.layout.read import read_layout
from netlister.propose.design import design
from netlister.propose.options import alterations
from netlister.propose.proposal import Proposal
from netlister.source import Source

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from netlister.check import Report
    from netlister.edits.patch import TextEdit
    from netlister.finding import Finding
    from netlister.layout.model import Layout
    from netlister.propose.model import Design, Preferences


class Trial:
    """A layout, with what is altered in any case, on which designs are tried."""

    def __init__(
        self,
        layout: Layout,
        source: Source,
        prices: dict[str, float],
        folder: Path | None,
        tell: Callable[[str], None] | None = None,
    ) -> None:
        self.tell = tell
        self.count = 0
        self.stopped = False
        self.layout = layout
        self.source = source
        self.prices = prices
        self.folder = folder
        self.base, self.altered = alterations(layout)

    def design(self, choice: Preferences) -> Design:
        """The wiring for what was chosen, with the alterations that any needs."""
        made = design(self.base, choice)
        made.changes[:0] = self.altered
        made.counted["option"] += len(self.altered)
        return made

    def proved(self, made: Design) -> Proposal:
        """A design written into the text, read back and checked over every state."""
        self._tell(made)
        return _proved(self.layout, self.source, made, self.prices, self.folder)

    def wrong(self, made: Design) -> list[Finding]:
        """What is broken still in a design, checked over every state without writing it: to choose, not to believe."""
        self._tell(made)
        return _left(self.layout, check(apply(tuple(c for c, _ in made.changes), self.layout), causes=False))

    def _tell(self, made: Design) -> None:
        self.count += 1
        if self.tell is not None:
            self.tell(f"wiring {self.count}, cost {made.cost(self.prices):g}: checked over every position")

    def unchecked(self, made: Design) -> Proposal:
        """A design as it was when all was stopped: nothing is known of it."""
        edit = tuple(change for change, _ in made.changes)
        edits = () if self.layout.netlist else tuple(text_edits(self.layout, self.source, edit, self.folder))
        cost = made.cost(self.prices)
        missing = (*made.missing, "it was stopped before this was checked; check it before you believe it")
        return Proposal(self.layout, made, edits, new_text(self.source, edits), cost, cost, (), missing)


def _meant(layout: Layout, finding: Finding) -> bool:
    """Whether track is dead over a frog that is left without a wire on purpose."""
    piece = layout.pieces.get(finding.subject)
    return finding.severity < Severity.WARNING and piece is not None and (piece.dead_frog or bool(piece.kind.sealed))


def _left(layout: Layout, report: Report) -> list[Finding]:
    """What a report says that a wiring may not leave."""
    return [
        f
        for f in report.findings
        if f.severity >= Severity.WARNING or (f.rule == "dead-track" and not _meant(layout, f))
    ]


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
    left = tuple(_left(layout, report))
    dead = (f.subject for f in left if f.rule == "dead-track" and layout.pieces[f.subject].dead_frog)
    doomed = (
        f"'{name}' is written with 'frog: dead', but more than one of its frogs lies on one route; take 'frog: dead' "
        "out, and what needs a pole gets one"
        for name in dict.fromkeys(dead)
    )
    missing = (*made.missing, *doomed, *(f"{rule} of {subject} was not proved" for rule, subject in report.unproved))
    cost = made.cost(prices)
    return Proposal(layout, made, edits, text, cost, cost, left, missing)
