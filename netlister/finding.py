"""Findings: what a rule has to say, where, in which states, and what mends it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from netlister.source import Span


class Severity(IntEnum):
    """How bad a finding is; the order is the order of the numbers."""

    NOTE = 1
    WARNING = 2
    ERROR = 3

    @property
    def label(self) -> str:
        """The word used in every output: ``note``, ``warning`` or ``error``."""
        return self.name.lower()


Positions = tuple[tuple[str, str], ...]
"""A partial position: pairs of variable and position, in the order of the variables."""


class Mistake(NamedTuple):
    """What was done wrong: in words, what mends it, and where it is written."""

    headline: str
    fix: str
    span: Span


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule broken by one subject.

    ``when`` is an irredundant list of partial positions that together cover exactly the states in which the
    rule is broken; ``((),)`` means every state. Where ``when_complete`` is false it is broken in ``states`` of them,
    or, where that is 0, it was not proved in which others it is. ``path`` is a conducting path, terminal by terminal,
    in the first of these states. ``cause`` numbers findings that have one cause (from 1), ``mistakes`` says what was
    done wrong, where that is known.
    """

    rule: str
    severity: Severity
    subject: str
    message: str
    fix: str
    parts: tuple[str, ...] = ()
    when: tuple[Positions, ...] = ((),)
    when_complete: bool = True
    states: int = 0
    path: tuple[str, ...] = ()
    where: tuple[Span, ...] = ()
    terminals: tuple[str, ...] = ()
    cause: int = 0
    mistakes: tuple[Mistake, ...] = ()
