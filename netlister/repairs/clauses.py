"""From a state in which a rule is broken to the choices of which at least one must be made.

Where poles are joined, something on the path between them must go. Where a rail lacks a pole, something must come at
the border of its connected component. Where both rails of a route have one pole, or both sides of a gap have poles
that clash, something on one of the paths must go.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from netlister.circuit.build import conductors_of
from netlister.circuit.change import entries_changed
from netlister.edits.gear import AddReverser, Rebus, SetOption, Straighten, Tie
from netlister.edits.model import AddFeed, ImpossibleError, apply
from netlister.repairs.scope import BreachScope, ConductorName, ConductorPlaces, conductor_name

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.circuit.change import Entries
    from netlister.circuit.model import Circuit
    from netlister.edits.model import EntryPlace
    from netlister.layout.model import Layout, Piece
    from netlister.repairs.choices import Choices
    from netlister.repairs.model import Choice
    from netlister.rules.analysis import Analysis
    from netlister.rules.model import Broken

MOST_FED = 12
"""Pieces of a connected component without a pole that are tried with a feed of their own."""


class Clauses:
    """Finds the choices that may mend what is broken. `layout`: the one that the choices are written against."""

    def __init__(self, layout: Layout, choices: Choices) -> None:
        self.choices = choices
        self.layout = layout
        self.places = ConductorPlaces(layout, choices)
        self._scratch: Circuit | None = None
        self._effects: dict[Choice, tuple[frozenset[ConductorName], frozenset[ConductorName]] | None] = {}

    def of(self, analysis: Analysis, broken: Broken) -> list[Choice]:
        """The choices of which at least one must be made, those nearest first."""
        looked = BreachScope(analysis, self.choices, self.places, broken)
        found: dict[Choice, None] = {}
        for place in looked.places:
            found.update(dict.fromkeys(self.choices.of(place)))
        for place in looked.places:
            found.update(dict.fromkeys(self._hands(place)))
        fed = 0
        pieces = analysis.layout.pieces
        plain = any(pieces[name].kind.plain for name in looked.hungry)
        for piece in looked.hungry:
            listed = [c for c in self.choices.feeding(piece) if looked.helps(c)]
            if plain and not pieces[piece].kind.plain and piece not in self.choices.feeds_of:
                listed = [c for c in listed if not any(isinstance(change, AddFeed) for change in c.edit)]
            if any(isinstance(change, AddFeed) for c in listed for change in c.edit):
                fed += 1
                if fed > MOST_FED:
                    continue
            found.update(dict.fromkeys(listed))
        return [c for c in found if looked.bears(c, self.effect(analysis, c))]

    def _hands(self, place: EntryPlace) -> Iterable[Choice]:
        """At a joint with a rail that changes its pole: the turnout's other hand joins another there."""
        section, number = place
        if section != "joints" or not isinstance(number, int) or number >= len(self.layout.joints):
            return
        joint = self.layout.joints[number]
        for name, end in (joint.start, joint.end):
            kind = self.layout.pieces[name].kind
            if kind.hand and any(kind.is_changing(rail) for rail in (kind.ends[end].left, kind.ends[end].right)):
                yield from (one for one in self.choices.of(("pieces", name)) if one.kind == "hand")

    def effect(
        self, analysis: Analysis, chosen: Choice
    ) -> tuple[frozenset[ConductorName], frozenset[ConductorName]] | None:
        """What a choice parts and what it joins; None where it changes more than conductors."""
        if chosen in self._effects:
            return self._effects[chosen]
        found = None
        if not any(isinstance(c, (AddReverser, Tie, Rebus, Straighten)) for c in chosen.edit):
            changed = self._changed(chosen)
            if changed:
                if self._scratch is None:
                    circuit = analysis.circuit
                    self._scratch = replace(circuit, names=list(circuit.names), node=dict(circuit.node))
                gone: set[ConductorName] = set()
                came: set[ConductorName] = set()
                for section, out, into in changed:
                    gone.update(self._links(section, out))
                    came.update(self._links(section, into))
                found = frozenset(gone - came), frozenset(came - gone)
        self._effects[chosen] = found
        return found

    def _changed(self, chosen: Choice) -> list[Entries] | None:
        """The entries that a choice changes, where it changes nothing but conductors."""
        try:
            made = apply(chosen.edit, self.layout)
        except ImpossibleError:
            return None
        settings = [c for c in chosen.edit if isinstance(c, SetOption)]
        alike = all(_same_but_bonds(self.layout.pieces[c.piece], made.pieces[c.piece]) for c in settings)
        return entries_changed(self.layout, made) if alike else None

    def _links(self, section: str, entries: Iterable[Any]) -> Iterable[ConductorName]:
        assert self._scratch is not None
        for entry in entries:
            for conductor in conductors_of(self._scratch, section, entry):
                yield conductor_name(conductor, self._scratch)


def _same_but_bonds(before: Piece, after: Piece) -> bool:
    """Whether two forms of a piece differ only in which of their rails are joined for good."""
    one, two = before.kind, after.kind
    fields = ("rails", "ends", "bars", "made", "routes", "gaps", "roles", "blades", "noses")
    return all(getattr(one, field) == getattr(two, field) for field in fields)
