"""What a wiring is to do: the aims to choose from; and wirings that let turnouts switch the track beyond them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from netlister.edits.gear import AddExpectation
from netlister.finding import Severity
from netlister.layout.model import Expectation
from netlister.layout.terminal import owner_of

if TYPE_CHECKING:
    from netlister.finding import Finding
    from netlister.propose.model import Choice, Design, Saving
    from netlister.propose.trial import Proposal, Trial

WORK = 6_000
"""The designs that are checked to save joiners and wires, times the pieces of the layout, are bounded by this."""

LEAST = 6
"""So many are checked in any case."""


def allowed(finding: Finding) -> bool:
    """Whether a finding only says that track is dead while a turnout is set against it."""
    return finding.rule == "dead-track" and finding.severity < Severity.ERROR and finding.when_complete


def switched(trial: Trial, choice: Choice) -> Proposal:
    """The wiring that saves most by letting turnouts switch track.

    What may be saved is known from the wiring that keeps all track live: a wire, and the joiner between it and a frog.
    All of it is tried at once, then less wherever something is wrong, then each saving that was given up once more.
    """
    groups = trial.design(choice).savings
    work = _Work(trial, choice, groups, [0] * len(groups))
    try:
        work.found = work.fewer()
        work.more()
    except KeyboardInterrupt:
        if work.found is None:
            raise
        trial.stopped = True
    assert work.found is not None
    return _meant(trial, work.found)


def rank_of(saving: Saving, prices: dict[str, float]) -> float:
    """What a saving is worth."""
    return len(saving.metal) * prices["joiner"] + saving.wires * prices["feed"]


@dataclass(slots=True)
class _Work:
    """`at`: per group of savings the number of the one that is tried, or None."""

    trial: Trial
    choice: Choice
    groups: list[tuple[Saving, ...]]
    at: list[int | None] = field(default_factory=list)
    trials: int = 0
    found: Proposal | None = None

    def made(self) -> Design:
        chosen = [group[n] for group, n in zip(self.groups, self.at, strict=True) if n is not None]
        metal = frozenset(pair for one in chosen for pair in one.metal)
        bladed = frozenset(one.terminal for one in chosen)
        return self.trial.design(self.choice._replace(metal=metal, bladed=bladed))

    def proved(self) -> tuple[Proposal, list[Finding]]:
        self.trials += 1
        found = self.trial.proved(self.made())
        return found, [f for f in found.left if not allowed(f)]

    def fewer(self) -> Proposal:
        """All savings, and the next one or none wherever something is wrong, until nothing is."""
        while True:
            found, wrong = self.proved()
            if not wrong or all(n is None for n in self.at):
                return found
            hit = {number for f in wrong for number in self._near(f)}
            for number in hit or {n for n, at in enumerate(self.at) if at is not None}:
                now = self.at[number]
                self.at[number] = now + 1 if now is not None and now + 1 < len(self.groups[number]) else None

    def _near(self, finding: Finding) -> list[int]:
        """The savings that a finding speaks of: by its rails, else by its pieces."""
        rails = {*finding.path, *finding.terminals}
        pieces = {*finding.parts, finding.subject, *(owner_of(t) for t in rails)}
        live = [n for n, at in enumerate(self.at) if at is not None]
        near = [n for n in live if rails & self.groups[n][0].rails]
        return near or [n for n in live if pieces & {owner_of(t) for t in self.groups[n][0].rails}]

    def more(self) -> None:
        """Each saving that was given up once more, by itself."""
        most = max(self.trials + LEAST, WORK // len(self.trial.layout.pieces))
        for number, group in enumerate(self.groups):
            for n in range(len(group)):
                if self.at[number] is not None or self.trials > most:
                    break
                self.at[number] = n
                again, wrong = self.proved()
                if wrong:
                    self.at[number] = None
                else:
                    self.found = again


def _meant(trial: Trial, found: Proposal) -> Proposal:
    """The same wiring with what is dead in which positions written under `expect`."""
    dead: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for finding in found.left:
        if allowed(finding):
            for when in finding.when:
                dead.setdefault(tuple(when), []).append(finding.subject)
    if not dead:
        return found
    made = found.design
    for when, names in sorted(dead.items()):
        pieces = tuple(name for name in trial.layout.pieces if name in names)
        meant = Expectation(pieces, live=False, when=when, span=trial.layout.pieces[pieces[0]].span)
        made.changes.append((AddExpectation(meant), "a turnout that is set against it switches it off, as is wanted"))
    return trial.proved(made)
