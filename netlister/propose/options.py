"""Pieces that are built so that their own rails are joined, and the alteration that parts them."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from netlister.edits.gear import SetOption
from netlister.edits.model import ImpossibleError, apply
from netlister.propose.track import Parity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.edits.model import Change, Edit
    from netlister.kinds.model import Kind
    from netlister.layout.model import Layout, Piece


MOST_OPTIONS = 3


def joined_inside(kind: Kind) -> bool:
    """Whether bonds join two rails of a piece that a route needs apart; not those of a metal buffer."""
    if len(kind.ends) == 1 and any({e.left, e.right} <= {*bond} for e in kind.ends.values() for bond in kind.bonds):
        return False
    own = Parity()
    for a, b in kind.bonds:
        own.join(a, b, 0)
    return any(
        own.find(a)[0] == own.find(b)[0] for route in kind.routes for a in route.left for b in route.right if a and b
    )


def alterations(layout: Layout) -> tuple[Layout, list[tuple[Change, str]]]:
    """The layout with such pieces altered, as far as a few options of each do it; and the alterations with reasons.

    An option that the file does not speak of is preferred, so that what is written is kept where it can be.
    """
    changes: list[tuple[Change, str]] = []
    for piece in [*layout.pieces.values()]:
        if not joined_inside(piece.kind):
            continue
        said = ", ".join(f"'{option}: {value}'" for option, value in piece.kind.options)
        single = list(_alterations(layout, piece))
        for count in range(1, MOST_OPTIONS + 1):
            parting = (edit for edit in combinations(single, count) if _parts(layout, piece, edit))
            edit = next(parting, None)
            if edit is not None:
                layout = apply(edit, layout)
                changes += [(change, f"as it is ({said}) it joins its own two rails") for change in edit]
                break
    return layout, changes


def _parts(layout: Layout, piece: Piece, edit: Edit) -> bool:
    try:
        return not joined_inside(apply(edit, layout).pieces[piece.name].kind)
    except ImpossibleError:
        return False


def _alterations(layout: Layout, piece: Piece) -> Iterator[SetOption]:
    if layout.library is None:
        return
    options = layout.library.takes(piece.kind.name).options
    now = dict(piece.kind.options)
    count = layout.library.takes(piece.kind.name).number
    for option in sorted(options, key=piece.written.__contains__):
        if count is not None and option == count.option:
            continue
        for value in options[option]:
            if value != now.get(option):
                yield SetOption(piece.name, option, value)
