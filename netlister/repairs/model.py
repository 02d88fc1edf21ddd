"""Choices and repairs."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.edits.gear import AddPin, AddReverser, SetOption
from netlister.edits.model import AddContact, AddFeed, Insulate, Recommon, Rewire
from netlister.finding import Mistake

if TYPE_CHECKING:
    from collections.abc import Hashable

    from netlister.edits.model import Edit
    from netlister.source import Span


class Choice(NamedTuple):
    """A mistake that may have been made, and what undoes it.

    `kind`: a name in `weights.yaml`. `headline`: the mistake in words; `say`: what to do, as an order. `of`: the parts
    of entries that the edit sets: choices that set one part cannot be made together.
    """

    kind: str
    edit: Edit
    headline: str
    say: str
    span: Span
    weight: int
    of: frozenset[Hashable]

    @property
    def mistake(self) -> Mistake:
        """The mistake that it undoes."""
        return Mistake(self.headline, self.say, self.span)


def choice(kind: str, edit: Edit, headline: str, say: str, span: Span) -> Choice:
    """A choice with the weight of its kind."""
    return Choice(kind, edit, headline, say, span, weights()[kind], frozenset(_parts(edit)))


def _parts(edit: Edit) -> list[Hashable]:
    found: list[Hashable] = []
    for change in edit:
        match change:
            case Insulate():
                found.append(("joints", change.joint, change.side))
            case SetOption():
                found.append(("pieces", change.piece, change.option))
            case Rewire():
                found.append(("contacts", change.contact, "throws"))
            case Recommon():
                found.append(("contacts", change.contact, "common"))
            case AddFeed():
                found += [("fed", rail) for _, rail in change.feed.wires]
            case AddContact():
                found.append(("common", change.contact.common))
            case AddPin():
                found.append(("pin", change.pin.ends))
            case AddReverser():
                found.append(("reversers", ""))
            case _:
                found += [(section, name, "") for section, name in change.places()]
    return found


class Repair(NamedTuple):
    """Choices that mend together. `left`: what is still broken after them, as pairs of rule and subject."""

    choices: tuple[Choice, ...]
    weight: int
    left: tuple[tuple[str, str], ...] = ()

    @property
    def edit(self) -> Edit:
        """All of it at once."""
        return tuple(dict.fromkeys(change for chosen in self.choices for change in chosen.edit))

    @property
    def say(self) -> str:
        """What to do."""
        return "; ".join(chosen.say for chosen in self.choices)


class Cause(NamedTuple):
    """What was likely done wrong, and all repairs of least weight. `tried`: edits judged, where none mends it."""

    repairs: tuple[Repair, ...] = ()
    tried: int = 0
    least: bool = True


class Together(NamedTuple):
    """What mends all causes at once. `repairs`: the least, none where one of each cause does. `least`: proved so."""

    repairs: tuple[Repair, ...]
    least: bool


@cache
def weights() -> dict[str, int]:
    """The weight of each kind of choice, from `weights.yaml`."""
    import yaml

    text = Path(__file__).with_name("weights.yaml").read_text(encoding="utf-8")
    read: dict[str, Any] = yaml.load(text, Loader=yaml.CSafeLoader)
    return {kind: int(entry["weight"]) for kind, entry in read.items()}
