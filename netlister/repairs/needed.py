"""What a frog's contact must be wired to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout.terminal import Terminal, named

if TYPE_CHECKING:
    from netlister.kinds.model import Route
    from netlister.layout.model import Contact, Layout, Piece


def needed(layout: Layout, contact: Contact) -> tuple[str, ...] | None:
    """What each throw of a frog's contact must lead to, or None where the blades do not say."""
    if contact.common is None or "." not in contact.common:
        return None
    name, rail = Terminal.of(contact.common)
    piece = layout.pieces.get(name)
    if piece is None or not piece.kind.bladed or rail not in piece.kind.frogs:
        return None
    wanted: list[str] = []
    for values in contact.values:
        found = {_stock_needed(layout, piece, rail, contact.variable, value) for value in values}
        stocks = [stock for stock in found if stock is not None]
        if len(stocks) != 1:
            return None
        wanted.append(named(name, stocks[0]))
    return tuple(wanted)


def _stock_needed(layout: Layout, piece: Piece, frog: str, variable: str, value: int) -> str | None:
    """The rail whose pole a frog needs while a variable has a value: the fixed rail beside it in the wheel path."""
    found: set[str] = set()
    for route in piece.kind.routes:
        for bar, position in route.when:
            full = piece.terminal(bar) if bar else piece.name
            follows = layout.bars[full]
            if follows.variable == variable and follows.positions[value] != position:
                break
        else:
            if _ruled_out(layout, piece, route, variable, value):
                continue
            for rails in (route.left, route.right):
                if frog in rails:
                    found.update(rail for rail in rails if rail is not None and not piece.kind.is_changing(rail))
    return found.pop() if len(found) == 1 else None


def _ruled_out(layout: Layout, piece: Piece, route: Route, variable: str, value: int) -> bool:
    """Whether `never` leaves no state in which a variable has a value and a route is set."""
    held = {variable: layout.variables[variable].positions[value]}
    for bar, position in route.when:
        follows = layout.bars[piece.terminal(bar) if bar else piece.name]
        values = [n for n, at in enumerate(follows.positions) if at == position]
        if len(values) == 1:
            held[follows.variable] = layout.variables[follows.variable].positions[values[0]]
    return any(all(held.get(name) == position for name, position in cube) for cube, _ in layout.never)
