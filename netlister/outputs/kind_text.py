"""Kinds of track pieces explained as text."""

from __future__ import annotations

from textwrap import fill
from typing import TYPE_CHECKING

from netlister.routes.settings import is_changing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.kinds import Definition, Library
    from netlister.kinds.model import Kind, Route

WIDTH = 100

_HEADS = {
    "why": "Why",
    "joiners": "Insulated joiners",
    "feeders": "Feeds",
    "contact": "Contact",
    "trouble": "What goes wrong",
    "test": "How to test it with a meter",
}

CAUTION = (
    "Measure with the supply unplugged and no train on the track. Leave everything on the mains side to a licensed "
    "person and the local code; low voltage at several amps burns, too."
)


def kinds_list(library: Library) -> str:
    """All kinds: name, title and one sentence each."""
    blocks = []
    for name in library.names():
        found = library.definition(name)
        blocks.append(f"{name}: {found.title}\n{_filled(found.summary)}")
    return "\n".join(blocks) + "\n"


def kind_page(library: Library, name: str, hand: str = "", options: tuple[tuple[str, str], ...] = ()) -> str:
    """All of a kind: ends, rails, what conducts in each position, the wheel path of each route.

    The right hand is shown where none is asked for. Raises KindError as `Library.kind` does.
    """
    definition = library.definition(name)
    if not hand and definition.hands:
        hand = "right" if "right" in definition.hands else next(iter(definition.hands))
    kind = library.kind(name, hand, options)
    return "\n".join(_page(definition, kind)) + "\n"


def _page(definition: Definition, kind: Kind) -> Iterator[str]:
    asked = [f"hand: {kind.hand}"] if kind.hand else []
    asked += [f"{option}: {value}" for option, value in kind.options]
    said = f" ({', '.join(asked)})" if asked else ""
    yield f"{kind.name}{said}: {kind.title}"
    yield _filled(kind.summary)
    others = [h for h in definition.hands if h != kind.hand]
    if others:
        yield f"  also with --hand {' or '.join(others)}"
    for option, (values, _) in definition.options.items():
        yield f"  takes {option}: {' or '.join(values)}"
    yield ""
    yield "Ends, with the rails there seen looking forward along the piece (left, right)"
    for end in kind.ends.values():
        yield f"  {end.name:<10} {'entering' if end.entering else 'leaving ':<8}  {end.left}, {end.right}"
    yield ""
    yield f"Rails: {', '.join(kind.rails)}"
    if kind.bonds:
        yield f"Always joined: {', '.join(f'{a} to {b}' for a, b in kind.bonds)}"
    yield ""
    yield from _routes(kind)
    for note, text in definition.notes.items():
        yield ""
        yield _HEADS[note]
        yield _filled(text)
    if definition.dimensions or definition.dead:
        yield ""
        yield "Dimensions that count where the layout gives none"
        for label, found in (*definition.dimensions.items(), *definition.dead.items()):
            dead = "dead length, " if label in definition.dead else ""
            yield _filled(f"{label}: {found.text}, {dead}{found.what} ({found.source})")
    yield ""
    yield _filled(CAUTION)


def _routes(kind: Kind) -> Iterator[str]:
    for route in kind.routes:
        title = f"Track {route.name}" if kind.crossing else f"Route {route.ends[0]} to {route.ends[1]}"
        yield f"{title}{_set_by(route)}"
        conducting = [made.rails for made in kind.made if set(made.when) <= set(route.when)]
        if conducting:
            yield f"  conducts:     {', '.join(f'{a} to {b}' for a, b in conducting)}"
        elif kind.made or kind.bars:
            yield "  conducts:     nothing but what is always joined"
        yield f"  left wheels:  {_path(route.left)}"
        yield f"  right wheels: {_path(route.right)}"
        for frog, rail in needs(route):
            yield f"  {frog} needs the pole of {rail}"
    rest = _positions_without_route(kind)
    if rest:
        yield f"No route: {rest}"


def _set_by(route: Route) -> str:
    if not route.when:
        return ""
    said = [f"tie bar {bar} at {position}" if bar else f"blades at {position}" for bar, position in route.when]
    return f", set by {' and '.join(said)}"


def _path(rails: tuple[str | None, ...]) -> str:
    path = " | gap | ".join("(dead)" if rail is None else rail for rail in rails)
    return path.replace("| gap | (dead) | gap |", "| dead |")


def needs(route: Route) -> list[tuple[str, str]]:
    """Which changing rails a route uses, and the fixed rail whose pole each needs: the one on the same side."""
    found = []
    for rails in (route.left, route.right):
        fixed = [rail for rail in rails if rail is not None and not is_changing(rail)]
        for rail in dict.fromkeys(rails):
            if rail is not None and is_changing(rail) and fixed:
                found.append((rail, fixed[0]))
    return found


def _positions_without_route(kind: Kind) -> str:
    from itertools import product

    if len(kind.bars) < 2:  # noqa: PLR2004
        return ""
    all_settings = product(*[[(bar.name, position) for position in bar.positions] for bar in kind.bars])
    used = {frozenset(route.when) for route in kind.routes}
    unused = [setting for setting in all_settings if frozenset(setting) not in used]
    return "; ".join(" and ".join(f"tie bar {bar} at {position}" for bar, position in setting) for setting in unused)


def _filled(text: str) -> str:
    return fill(text, WIDTH, initial_indent="  ", subsequent_indent="  ")
