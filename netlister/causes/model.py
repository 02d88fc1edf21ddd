"""A repair that might mend a finding."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Mistake

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.layout.model import Layout
    from netlister.source import Span


class Repair(NamedTuple):
    """A change that might mend something.

    `headline`: the mistake in words. `fix`: what to do. `span`: where. `apply`: the layout with the change made.
    """

    headline: str
    fix: str
    span: Span
    apply: Callable[[Layout], Layout]

    @property
    def mistake(self) -> Mistake:
        """The mistake that it mends."""
        return Mistake(self.headline, self.fix, self.span)
