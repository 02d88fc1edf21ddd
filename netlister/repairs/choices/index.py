"""The choices at each place of a layout."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.layout.terminal import named
from netlister.repairs.choices.contacts import at_contact, new_contacts
from netlister.repairs.choices.feeds import at_feed, new_feeds
from netlister.repairs.choices.gear import at_component, at_expectation, at_reverser, at_unit
from netlister.repairs.choices.joints import at_joint
from netlister.repairs.choices.pieces import at_piece
from netlister.repairs.choices.places import EntryPlaces
from netlister.repairs.choices.wires import at_link, at_pin, new_pins

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from netlister.edits.model import EntryPlace
    from netlister.layout.model import Layout
    from netlister.repairs.model import Choice

_AT: dict[str, Callable[[EntryPlaces, Any], Iterator[Choice]]] = {
    "joints": at_joint,
    "feeds": at_feed,
    "contacts": at_contact,
    "pieces": at_piece,
    "pins": at_pin,
    "links": at_link,
    "components": at_component,
    "reversers": at_reverser,
    "units": at_unit,
    "expectations": at_expectation,
}
"""By section of the layout what makes the choices that alter one of its entries."""


class Choices(EntryPlaces):
    """The choices at each place of a layout, made when they are asked for. `keep`: names of what stays as it is."""

    def __init__(self, layout: Layout, keep: frozenset[str] = frozenset()) -> None:
        super().__init__(layout)
        self.keep = keep
        self._known: dict[Any, list[Choice]] = {}

    def of(self, place: EntryPlace) -> list[Choice]:
        """The choices that alter an entry."""
        known = self._known.get(place)
        if known is None:
            name, key = place
            made = _AT.get(name)
            entries = getattr(self.layout, name, None)
            added = isinstance(entries, dict) and key not in entries  # by a choice that was made already
            known = self._known[place] = [] if made is None or added else self._free(made(self, key))
        return known

    def beside(self, piece: str) -> Iterator[EntryPlace]:
        """Feeds and contacts at any rail of a piece, and contacts that move with its blades."""
        there = self.layout.pieces[piece]
        for rail in there.kind.rails:
            for place in self.at.get(named(piece, rail), ()):
                if place[0] in {"feeds", "contacts"}:
                    yield place
        for bar in there.bars:
            for number in self.moved_with.get(self.layout.bars[bar].variable, ()):
                yield "contacts", number

    def feeding(self, piece: str) -> list[Choice]:
        """Feeds, contacts and pins that a piece may lack."""
        known = self._known.get(("", piece))
        if known is None:
            found = [*new_feeds(self, self.layout.pieces[piece]), *new_contacts(self, self.layout.pieces[piece])]
            known = self._known["", piece] = self._free([*found, *new_pins(self, piece)])
        return known

    def _free(self, choices: Iterable[Choice]) -> list[Choice]:
        """Those that change nothing that is to stay as it is."""
        if not self.keep:
            return list(choices)
        return [c for c in choices if self.keep.isdisjoint(n for change in c.edit for n in self.names_in(change))]
