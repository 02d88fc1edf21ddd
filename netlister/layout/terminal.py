"""Names of terminals: put together and taken apart here, and where a file is read."""

from __future__ import annotations

from typing import NamedTuple


class Terminal(NamedTuple):
    """A place on something where a conductor can be joined; as text, its name.

    `owner`: what it is on: a piece, a supply, a bus, a reverser, a machine, a plug, a terminal strip. `own`: what it is
    called there: a rail, an end and a side of it, a letter, a contact and a position of it, a pin; empty of a junction
    whose name is one word.
    """

    owner: str
    own: str

    @classmethod
    def of(cls, name: str) -> Terminal:
        """The terminal of a name."""
        owner, _, own = name.partition(".")
        return cls(owner, own)

    def __str__(self) -> str:
        return named(self.owner, self.own) if self.own else self.owner


def named(owner: str, own: str) -> str:
    """The name of a terminal, from what it is on and what it is called there."""
    return f"{owner}.{own}"


def owner_of(name: str) -> str:
    """What the terminal of this name is on."""
    return name.partition(".")[0]
