"""What was or must be done to a piece itself, before it is laid."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.kinds.model import Role

if TYPE_CHECKING:
    from netlister.layout.model import Layout, Piece

NO_WORK = frozenset({"missed", "left-in", "whole", "missing", "other", "none", "false"})
"""Values of options that say that something was not done, or done wrongly."""

SAID_SO = {"true": "yes", "false": "no", "missed": "NOT cut", "missing": "NOT fitted"}


def altered(layout: Layout, piece: Piece) -> tuple[list[str], list[str]]:
    """What is done to the piece itself before it is laid; and what the layout says of it that is no work.

    What a kind needs by its nature, as the cuts in the foil of sleepers, is work though the layout does not say it.
    What was forgotten or left in is none: the layout may say so because somebody found it so.
    """
    library = layout.library
    if library is None:
        return [], []
    notes = library.definition(piece.kind.name).option_notes
    values = {name: note.default for name, note in notes.items() if note.default == "cut"}
    values |= {k: v for k, v in piece.kind.options if k == "frog-wire" or not (k in notes and notes[k].choice)}
    work: list[str] = []
    left: list[str] = []
    for option, value in values.items():
        note = notes.get(option)
        what = f" ({note.what})" if note is not None and note.what else ""
        said = f"{option}: {SAID_SO.get(value, value)}{what}"
        (left if value in NO_WORK else work).append(said)
    return work, left


def jumpers(layout: Layout, piece: Piece) -> list[str]:
    """Each jumper that is soldered: from which rail to which, or to which blade."""
    kind = piece.kind
    if dict(kind.options).get("jumpers") != "true":
        return []
    pairs = soldered(layout, piece)
    if pairs:
        return [f"solder a jumper: {a} to {b}" for a, b in pairs]
    stocks = [rail for rail in kind.rails if kind.roles[rail] is Role.STOCK]
    return [f"solder a jumper: {rail} to the blade beside it, on its own side of the cut" for rail in stocks]


def soldered(layout: Layout, piece: Piece) -> list[tuple[str, str]]:
    """The bonds between rails that are there because of jumpers; a blade that is cut from its frog is no rail."""
    options = dict(piece.kind.options)
    library = layout.library
    if options.get("jumpers") != "true" or library is None:
        return []
    plain = library.kind(piece.kind.name, piece.kind.hand, tuple((k, v) for k, v in options.items() if k != "jumpers"))
    return [bond for bond in piece.kind.bonds if bond not in plain.bonds and "frog" not in bond]
