"""What a frog's contact must be wired to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout.terminal import Terminal, named

if TYPE_CHECKING:
    from netlister.kinds.model import Route
    from netlister.layout.model import Contact, Layout, Piece, Variable


def needed(layout: Layout, contact: Contact) -> tuple[str, ...] | None:
    """What each throw of a frog's contact must lead to, or None where the blades do not say."""
    if contact.common is None or "." not in contact.common:
        return None
    name, rail = Terminal.of(contact.common)
    piece = layout.pieces.get(name)
    if piece is None or rail not in piece.kind.frogs:
        return None
    if piece.kind.crossing:
        wants = crossing_needs(piece, contact.common, layout.variables[contact.variable])
        found_at = [{wants[value] for value in values} for values in contact.values] if wants else []
        return tuple(found.pop() for found in found_at) if wants and all(len(f) == 1 for f in found_at) else None
    if not piece.kind.bladed:
        return None
    wanted: list[str] = []
    for values in contact.values:
        found = {_stock_needed(layout, piece, rail, contact.variable, value) for value in values}
        stocks = [stock for stock in found if stock is not None]
        if len(stocks) != 1:
            return None
        wanted.append(named(name, stocks[0]))
    return tuple(wanted)


def crossing_needs(piece: Piece, terminal: str, variable: Variable) -> tuple[str, ...] | None:
    """What a frog of a crossing must lead to in each position of a variable; None where it alone does not say.

    Where no track is surely set in a position, it is as in another one.
    """
    wants: list[str] = []
    for position in variable.positions:
        cubes = [(track, dict(cube)) for track, cubes in piece.sets.items() for cube in cubes]
        sure = [track for track, cube in cubes if cube.get(variable.name) == position]
        tracks = sure or [track for track, cube in cubes if cube.get(variable.name, position) == position]
        found = {_beside(piece, terminal, track) for track in tracks} - {""}
        if len(found) > 1:
            return None
        wants.append(found.pop() if found else "")
    if len({*wants} - {""}) < 2:  # noqa: PLR2004 - a contact that changes over
        return None
    some = next(want for want in wants if want)
    return tuple(want or some for want in wants)


def _beside(piece: Piece, terminal: str, track: str) -> str:
    """The fixed rail in the wheel path of a frog on one track of a crossing, or nothing."""
    rail = Terminal.of(terminal).own
    for route in piece.kind.routes:
        if route.name == track:
            for rails in (route.left, route.right):
                fixed = [r for r in rails if r and not piece.kind.is_frog(r)]
                if rail in rails and fixed:
                    return piece.terminal(fixed[0])
    return ""


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
