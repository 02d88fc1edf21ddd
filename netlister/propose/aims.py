"""What a wiring can do without: joiners between frogs that move as one, and what turnouts switch where they may."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from netlister.edits.gear import AddExpectation
from netlister.finding import Severity
from netlister.layout.model import Expectation
from netlister.layout.terminal import owner_of
from netlister.propose.model import SWITCHING

if TYPE_CHECKING:
    from netlister.finding import Finding
    from netlister.propose.model import Design, Preferences, Saving
    from netlister.propose.proposal import Proposal
    from netlister.propose.trial import Trial

WORK = 6_000
"""The designs that are checked to save joiners and wires, times the pieces of the layout, are bounded by this."""

LEAST = 6
"""So many are checked in any case."""


def allowed(finding: Finding) -> bool:
    """Whether a finding only says that track is dead while a turnout is set against it."""
    return finding.rule == "dead-track" and finding.severity < Severity.ERROR and finding.when_complete


def saving(trial: Trial, choice: Preferences) -> Proposal:
    """The wiring that saves most, by joining frogs and, if the aim is so, by letting turnouts switch track.

    What may be saved is known from the wiring that keeps all track live: a wire, and the joiner between it and a frog;
    a joiner between two frogs.
    All of it is tried at once, then less wherever something is wrong, then each saving that was given up once more.
    """
    groups = trial.design(choice).savings
    work = _Work(trial, choice, groups, [0] * len(groups))
    if not groups:
        return trial.proved(trial.design(choice))
    try:
        work.fewer()
        work.more()
    except KeyboardInterrupt:
        if not work.sound:
            raise
        trial.stopped = True
    made = work.made()
    if choice.aim not in SWITCHING:
        return trial.proved(made)
    return _meant(trial, made, trial.wrong(made) if work.dead is None else work.dead)


def rank_of(saving: Saving, prices: dict[str, float]) -> float:
    """What a saving is worth."""
    wires = saving.wires * prices["feed"] + saving.contacts * prices["contact"]
    return len(saving.metal) * prices["joiner"] + wires


def promised(made: Design, prices: dict[str, float]) -> float:
    """What a design costs if all that may be saved is."""
    return made.cost(prices) - sum(max(rank_of(one, prices) for one in group) for group in made.savings)


@dataclass(slots=True)
class _Work:
    """`at`: per group of savings the number of the one that is tried, or None. `sound`: whether nothing is wrong so.

    `dead`: what is allowed with the last that was sound.
    """

    trial: Trial
    choice: Preferences
    groups: list[tuple[Saving, ...]]
    at: list[int | None] = field(default_factory=list)
    trials: int = 0
    sound: bool = False
    dead: list[Finding] | None = None

    def made(self) -> Design:
        """The design with what is saved now."""
        chosen = [group[n] for group, n in zip(self.groups, self.at, strict=True) if n is not None]
        metal = frozenset(pair for one in chosen for pair in one.metal)
        bladed = frozenset(one.terminal for one in chosen)
        return self.trial.design(self.choice._replace(metal=metal, bladed=bladed))

    def wrong(self) -> list[Finding]:
        """What is wrong with what is saved now."""
        self.trials += 1
        found = self.trial.wrong(self.made())
        wrong = [f for f in found if not allowed(f)] if self.choice.aim in SWITCHING else found
        if not wrong:
            self.dead = found
        return wrong

    def fewer(self) -> None:
        """All savings, and the next one or none wherever something is wrong, until nothing is."""
        while (wrong := self.wrong()) and any(n is not None for n in self.at):
            hit = {number for f in wrong for number in self._near(f)}
            for number in hit or {n for n, at in enumerate(self.at) if at is not None}:
                now = self.at[number]
                self.at[number] = now + 1 if now is not None and now + 1 < len(self.groups[number]) else None
        self.sound = True

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
                try:
                    wrong = self.wrong()
                except KeyboardInterrupt:
                    self.at[number] = None
                    raise
                if wrong:
                    self.at[number] = None


def _meant(trial: Trial, made: Design, found: list[Finding]) -> Proposal:
    """A wiring with what is dead in which positions written under `expect`, proved."""
    dead: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for finding in found:
        if allowed(finding):
            for when in finding.when:
                dead.setdefault(tuple(when), []).append(finding.subject)
    for when, names in sorted(dead.items()):
        pieces = tuple(name for name in trial.layout.pieces if name in names)
        meant = Expectation(pieces, live=False, when=when, span=trial.layout.pieces[pieces[0]].span)
        made.changes.append((AddExpectation(meant), "a turnout that is set against it switches it off, as is wanted"))
    return trial.proved(made)
