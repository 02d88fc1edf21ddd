"""What gives a frog its pole, and what a reverser follows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout.model import Contact, Value
from netlister.layout.terminal import Terminal
from netlister.repairs.needed import crossing_needs, needed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from netlister.layout.model import Layout, Piece

Taken = set[tuple[str, str]]
"""Owners with the names of contacts that they have."""


def by_blades(piece: Piece, rail: str) -> bool:
    """Whether blades give a frog its pole on every route that leads over it."""
    routes = [route for route in piece.kind.routes if rail in route.left or rail in route.right]
    return all(
        any(rail in made.rails and set(made.when) <= set(route.when) for made in piece.kind.made) for route in routes
    )


def frog_contact(layout: Layout, piece: Piece, terminal: str, taken: Taken) -> tuple[Contact | None, str]:
    """A contact for a frog on what moves its blades, with the right throws; else a tie bar that no machine throws."""
    lone = ""
    for bar in piece.bars:
        variable = layout.variables[layout.bars[bar].variable]
        throws = tuple((position, None) for position in variable.positions)
        values = tuple((Value(i),) for i in range(len(throws)))
        name = contact_name(variable.name, terminal, taken)
        draft = Contact(
            variable.name,
            name,
            terminal,
            throws,
            values,
            variable.name,
            "break-before-make",
            piece.span,
            (),
            *_nowhere(throws),
        )
        wants = needed(layout, draft)
        if not wants:
            continue
        if "." in variable.name:  # one of several tie bars, without a machine: nothing to put a contact on
            lone = variable.name
            continue
        return draft._replace(throws=tuple((p, want) for (p, _), want in zip(throws, wants, strict=True))), ""
    return None, lone


def _nowhere(throws: tuple[object, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """No bus and no end of a piece, for the common and each throw."""
    return ("",) * (len(throws) + 1), ("",) * (len(throws) + 1)


def crossing_contact(layout: Layout, piece: Piece, terminal: str, taken: Taken) -> Contact | None:
    """A contact for the frog of a crossing on the one machine that says which track is set."""
    names = {name for cubes in piece.sets.values() for cube in cubes for name, _ in cube}
    always = any(not cube for cubes in piece.sets.values() for cube in cubes)
    for name in sorted(names) if not always else ():
        variable = layout.variables[name]
        owner = name in layout.machines or variable.kind == "switch" or "." not in name
        wants = crossing_needs(piece, terminal, variable)
        if not owner or wants is None:
            continue
        throws = tuple(zip(variable.positions, wants, strict=True))
        values = tuple((Value(i),) for i in range(len(throws)))
        made = contact_name(name, terminal, taken)
        return Contact(
            name, made, terminal, throws, values, name, "break-before-make", piece.span, (), *_nowhere(throws)
        )
    return None


def contact_name(owner: str, terminal: str, taken: Taken) -> str:
    """A free name for a contact, after the rail that it feeds."""
    piece, rail = Terminal.of(terminal)
    for name in (rail, f"{piece}-{rail}"):
        if (owner, name) not in taken:
            return name
    return next(f"{piece}-{rail}-{n}" for n in range(2, 99) if (owner, f"{piece}-{rail}-{n}") not in taken)


# -- reversers that follow


def leader(layout: Layout, ends: Iterable[tuple[tuple[str, str], tuple[str, str], int]]) -> tuple[str, tuple[int, ...]]:
    """What the reverser of a section can follow, and the values in which it stands straight; or nothing.

    `ends`: per joint at an end of the section both track ends, and how the reverser must stand for a wheel to cross it
    (0 straight, 1 crossed). What it follows must say by itself, for each of its positions, which joints can be crossed.
    """
    known = list(ends)
    names = sorted({layout.bars[bar].variable for one, two, _ in known for bar in _bars(layout, one, two)})
    for name in names:
        count = len(layout.variables[name].positions)
        stands: list[int] = []
        for value in range(count):
            wanted = {m for one, two, m in known if all(crossable(layout, end, name, value) for end in (one, two))}
            if len(wanted) > 1:
                break
            stands.append(wanted.pop() if wanted else -1)
        if len(stands) == count and {0, 1} <= {*stands}:
            return name, tuple(value for value, stand in enumerate(stands) if stand != 1)
    return "", ()


def _bars(layout: Layout, *ends: tuple[str, str]) -> Iterable[str]:
    return (bar for piece, _ in ends for bar in layout.pieces[piece].bars)


def crossable(layout: Layout, end: tuple[str, str], variable: str, value: int) -> bool:
    """Whether some route over an end can be set while a variable has a value."""
    piece = layout.pieces[end[0]]
    routes = [route for route in piece.kind.routes if end[1] in route.ends]
    return not routes or any(_settable(layout, piece, route.when, variable, value) for route in routes)


def _settable(layout: Layout, piece: Piece, when: Iterable[tuple[str, str]], variable: str, value: int) -> bool:
    for bar, position in when:
        follows = layout.bars[piece.terminal(bar) if bar else piece.name]
        if follows.variable == variable and follows.positions[value] != position:
            return False
    return True


def bridge_leader(layout: Layout, piece: Piece, turned: Callable[[str], int]) -> tuple[str, tuple[int, ...]]:
    """What the reverser of a bridge can follow, and the values in which it stands straight.

    `turned` says of a route, by its name, whether the bridge needs the poles crossed while it is set.
    """
    for bar in piece.bars:
        name = layout.bars[bar].variable
        stands = []
        for value in range(len(layout.variables[name].positions)):
            wanted = {
                turned(route.name) for route in piece.kind.routes if _settable(layout, piece, route.when, name, value)
            }
            if len(wanted) > 1:
                break
            stands.append(wanted.pop() if wanted else 0)
        if len(stands) == len(layout.variables[name].positions):
            return name, tuple(value for value, stand in enumerate(stands) if not stand)
    return "", ()
