"""Pieces that are built otherwise, or of the other hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.edits.gear import SetOption
from netlister.repairs.choices.sections import at_section, turning
from netlister.repairs.model import choice

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Piece
    from netlister.repairs.choices.places import EntryPlaces
    from netlister.repairs.model import Choice


def at_piece(places: EntryPlaces, name: str) -> Iterator[Choice]:
    """What may be wrong with a piece."""
    piece = places.layout.pieces[name]
    library = places.layout.library
    if library is not None:
        definition = library.definition(piece.kind.name)
        given = dict(piece.kind.options)
        for option, (values, _) in definition.options.items():
            note = definition.option_notes[option]
            now = given.get(option, note.default)
            for value in () if note.choice else values:
                if value not in {now, note.fault} and (now or value != "false"):
                    yield _built(piece, option, now, value, note.what)
        if piece.kind.hand in {"left", "right"}:
            other = "left" if piece.kind.hand == "right" else "right"
            headline = f"'{name}' is written as a {piece.kind.hand}-hand turnout; or is it the other hand?"
            say = f"look at the turnout; if it is so, write 'hand: {other}' at '{name}'"
            yield choice("hand", (SetOption(name, "hand", other),), headline, say, piece.span)
    yield from at_section(places, name)
    yield from turning(places, piece)


def _built(piece: Piece, option: str, now: str, value: str, what: str) -> Choice:
    headline = f"'{piece.name}' is built with '{option}: {now}'" if now else f"'{piece.name}' has no '{option}'"
    say = f"write '{option}: {value}' at '{piece.name}', once the piece itself is so"
    if option == "jumpers":
        headline = f"'{piece.name}' has {'no jumpers' if value == 'true' else 'jumpers'}"
        verb = "fit the jumpers of" if value == "true" else "take off the jumpers of"
        say = f"{verb} '{piece.name}', then write 'jumpers: {value}' there"
    elif option == "links":
        headline = f"the hidden links of '{piece.name}' are {'left in' if value == 'cut' else 'cut'}"
        verb = "cut the hidden links of" if value == "cut" else "put back the hidden links of"
        say = f"{verb} '{piece.name}', then write 'links: {value}' there"
    elif option == "guards":
        headline = f"the guard rails of '{piece.name}' are bonded to the wrong running rails ('guards: {now}')"
        say = f"bond them to the others, then write 'guards: {value}' at '{piece.name}'"
    elif what:
        headline += f" ({what})"
    return choice("option", (SetOption(piece.name, option, value),), headline, say, piece.span)
