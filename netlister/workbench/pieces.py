"""Pieces of track that are added or built otherwise, as the page asks for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.edits.gear import SetOption
from netlister.edits.patch import Patch
from netlister.layout.schema import PIECE, PLAIN
from netlister.layout.terminal import named
from netlister.workbench.model import Asked, AskError, SameError
from netlister.workbench.values import insulation_of, name_of, new_name, open_end, text_of, written_end

if TYPE_CHECKING:
    from netlister.layout.model import Layout, Piece
    from netlister.source import Source
    from netlister.workbench.values import GivenValues

SETTABLE = ("length", "radius", "angle", "turn", "frog-number", "frog", "nose", "dead")
"""Keys of a piece, besides its hand and the options of its kind, that can be set from the page."""


assert all(key in PIECE.keys for key in SETTABLE)


def set_piece(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    """Another value of a piece, or none."""
    piece = layout.pieces[name_of(fields, "piece", layout.pieces, "piece")]
    key, value = text_of(fields, "key"), text_of(fields, "value")
    options = options_of(layout, piece)
    if key not in options and key not in SETTABLE:
        message = f"'{key}' is no option of '{piece.name}'"
        raise AskError(message)
    if piece.written.get(key, "") == value:
        message = f"so '{piece.name}' is built now; choose something else to see what would become of it"
        raise SameError(message)
    if not value and key not in piece.written:
        message = f"'{piece.name}' does not say its {key} now; give it one to see what would become of it"
        raise SameError(message)
    if value and key in options and options[key] and value not in options[key]:
        message = f"'{key}' is one of {', '.join(options[key])}"
        raise AskError(message)
    said = f"build '{piece.name}' with '{key}: {value}'" if value else f"leave '{key}' of '{piece.name}' out"
    if value and key in options and key != "hand":  # another hand may move joints and feeds: the reader settles it
        return Asked(said, (SetOption(piece.name, key, value),))
    patch = Patch()
    patch.at("track", piece.name).set[key] = value or None
    return Asked(said, patch=patch)


def options_of(layout: Layout, piece: Piece) -> dict[str, list[str]]:
    """The options that a piece takes, with their values (none: any), its hand among them."""
    if layout.library is None:
        return {}
    takes = layout.library.takes(piece.kind.name)
    hands = {"hand": list(takes.hands)} if len(takes.hands) > 1 else {}
    return hands | {option: list(values) for option, values in takes.options.items()}


def add_piece(layout: Layout, _: Source, fields: GivenValues) -> Asked:
    """A new piece at an open end."""
    at = open_end(layout, text_of(fields, "at"))
    name = new_name(layout, text_of(fields, "name"))
    library = layout.library
    if library is None:
        raise AskError("the kinds of this layout are not at hand")
    kind = name_of(fields, "kind", library.names(), "kind")
    entry: dict[str, object] = {} if kind == PLAIN else {"kind": kind}
    hand = text_of(fields, "hand")
    if hand and library.takes(kind).hands:
        entry["hand"] = hand
    entry |= {key: value for key in ("length", "radius", "angle", "turn") if (value := text_of(fields, key))}
    ends = list(library.kind(kind, hand or next(iter(library.takes(kind).hands), "")).ends)
    end = text_of(fields, "end") or ends[0]
    if end not in ends:
        message = f"a {kind} has no end '{end}'; it has {', '.join(ends)}"
        raise AskError(message)
    to = name if kind == PLAIN and end == "a" else named(name, end)
    patch = Patch()
    patch.at("track").set[name] = entry
    joint: dict[str, object] = {"from": written_end(*at, entering=False), "to": to}
    patch.at("joints").added.append((None, joint | insulation_of(fields)))
    return Asked(f"add '{name}', a {kind}, at {named(at[0].name, at[1])}", patch=patch)
