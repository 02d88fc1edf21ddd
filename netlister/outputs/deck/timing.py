"""When contacts and blades open and close while machines are thrown.

A throw takes `travel`. Blades leave the old stock rail after a tenth of it and touch the new one after nine tenths; a
contact changes over about the middle, and whether it breaks before it makes is what the layout says. `shifts` move a
contact (`M1.frog`) or the blades of a turnout (`T1`, `X1.a`) earlier or later as a whole: out of step.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

BLADES = (0.1, 0.9)
BREAKS_FIRST = (0.45, 0.55)
MAKES_FIRST = (0.55, 0.45)
"""Shares of the travel after which the old position is left and the new one reached. Assumed, no source."""


class Throw(NamedTuple):
    """A variable of the circuit that moves from one of its values to another, beginning at a time in s."""

    variable: int
    old: int
    new: int
    at: float


class Signal(NamedTuple):
    """Whether something conducts at first, and the times in s at which that changes, in order."""

    first: bool
    changes: tuple[float, ...] = ()

    @property
    def last(self) -> bool:
        """Whether it conducts in the end."""
        return self.first != bool(len(self.changes) % 2)

    @property
    def constant(self) -> bool:
        """Whether nothing changes."""
        return not self.changes


class TimedSwitch(NamedTuple):
    """What opens and closes as a whole: its name for `shifts`, and its shares of the travel."""

    name: str
    shares: tuple[float, float]


def signal(switch: TimedSwitch, values: Sequence[int], start: int, throws: Iterable[Throw], timing: Timing) -> Signal:
    """Whether what conducts while a variable has one of `values` does so, as time goes by.

    `throws`: those of that variable, in order of time.
    """
    late = timing.shifts.get(switch.name, 0.0)
    changes = []
    for throw in throws:
        old, new = throw.old in values, throw.new in values
        if old != new:
            share = switch.shares[0 if old else 1]
            changes.append(throw.at + share * timing.travel + late)
    return Signal(start in values, tuple(changes))


def both_signals(signals: Iterable[Signal]) -> Signal:
    """Where all of them conduct."""
    listed = list(signals)
    times = sorted({time for one in listed for time in one.changes})
    first = now = all(one.first for one in listed)
    changes = []
    for time in times:
        there = all(one.first != bool(sum(t <= time for t in one.changes) % 2) for one in listed)
        if there != now:
            changes.append(time)
            now = there
    return Signal(first, tuple(changes))


class Timing(NamedTuple):
    """How long a throw takes, in s, and how much later things move than they should, in s (negative: earlier)."""

    travel: float
    shifts: Mapping[str, float]
