"""Kinds of track pieces explained as text."""

from __future__ import annotations

from itertools import product
from textwrap import fill
from typing import TYPE_CHECKING

from netlister.kinds.frog import frog_angle

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.kinds import Definition, Library
    from netlister.kinds.model import Bar, Dimension, Kind, Route

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
    yield from _frogs(kind)
    for note, text in definition.notes.items():
        yield ""
        yield _HEADS[note]
        yield _filled(text)
    if definition.dimensions or definition.dead:
        yield ""
        yield "Dimensions that count where the layout gives none"
        for label, found in (*definition.dimensions.items(), *definition.dead.items()):
            dead = "dead length, " if found is definition.dead.get(label) else ""
            yield _filled(f"{label}: {found.text}, {dead}{found.what} ({_trust(found)})")
        yield from _other_numbers(definition.dimensions)
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
            yield "  conducts:     nothing by the blades"
        yield f"  left wheels:  {_path(route.left)}"
        yield f"  right wheels: {_path(route.right)}"
        for frog, rail in needs(kind, route):
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


def joined(pairs: Iterable[tuple[str, str]], rails: Iterable[str]) -> dict[str, str]:
    """For each rail the one that stands for all that it is joined to."""
    leader = {rail: rail for rail in rails}
    for a, b in pairs:
        old, new = leader[a], leader[b]
        leader = {rail: new if of == old else of for rail, of in leader.items()}
    return leader


def changing(kind: Kind) -> list[str]:
    """The rails that change pole: under the left wheels on one route and under the right wheels on another."""
    left = {rail for route in kind.routes for rail in route.left}
    right = {rail for route in kind.routes for rail in route.right}
    return [rail for rail in kind.rails if rail in left and rail in right]


def needs(kind: Kind, route: Route) -> list[tuple[str, str]]:
    """Which changing rails a route uses, and the rail whose pole each needs on it.

    All rails under the wheels of one side must have one pole, so it is that of the rail there that never changes.
    """
    change = changing(kind)
    found = []
    for rails in (route.left, route.right):
        fixed = next((rail for rail in rails if rail is not None and rail not in change), None)
        if fixed is not None:
            found += [(rail, fixed) for rail in dict.fromkeys(rails) if rail is not None and rail in change]
    return found


def driven_by(kind: Kind, rail: str) -> list[tuple[Bar, dict[str, str]]]:
    """The tie bars that alone decide the pole of a changing rail, and per position the rail whose pole it needs."""
    found = []
    for bar in kind.bars:
        poles: dict[str, set[str]] = {position: set() for position in bar.positions}
        for route in kind.routes:
            for needing, fixed in needs(kind, route):
                for name, position in route.when:
                    if needing == rail and name == bar.name:
                        poles[position].add(fixed)
        if all(len(rails) == 1 for rails in poles.values()):
            found.append((bar, {position: next(iter(rails)) for position, rails in poles.items()}))
    return found


def _frogs(kind: Kind) -> Iterator[str]:
    change = changing(kind)
    if not change:
        return
    yield ""
    yield "Rails that change pole, and what moves with what"
    for rail in change:
        ways = [_way(bar, poles) for bar, poles in driven_by(kind, rail)]
        if kind.crossing:
            poles = [(route.name, dict(needs(kind, route)).get(rail)) for route in kind.routes]
            ways = ["pole of " + ", of ".join(f"{fixed} for track {track}" for track, fixed in poles if fixed)]
        yield _filled(f"{rail}: {'; or '.join(ways) or 'no tie bar alone decides its pole'}")
        places = [
            f"{side}-hand rail at {end.name}"
            for end in kind.ends.values()
            for side, there in (("left", end.left), ("right", end.right))
            if there == rail
        ]
        yield f"    {_joined(places)}" if places else "    not at any end of the piece"


def _joined(words: list[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _way(bar: Bar, poles: dict[str, str]) -> str:
    moved = f"with tie bar {bar.name}, " if bar.name else ""
    return f"{moved}pole of {', of '.join(f'{rail} at {position}' for position, rail in poles.items())}"


def _trust(found: Dimension) -> str:
    """The source, and how far to trust it where the source does not say so."""
    return found.source if found.status in {"", "published", "common practice"} else f"{found.status}; {found.source}"


def _other_numbers(dimensions: dict[str, Dimension]) -> Iterator[str]:
    """A table of the dimensions and angles of other frogs."""
    table = {label: found.by_number for label, found in dimensions.items() if found.by_number}
    numbers = sorted({number for lengths in table.values() for number in lengths})
    if not numbers:
        return
    yield ""
    yield "  The same in mm for other frogs"
    yield f"  {'frog number':<12}" + "".join(f"{f'No. {number:g}':>9}" for number in numbers)
    yield f"  {'angle':<12}" + "".join(f"{_degrees(frog_angle(number)):>9}" for number in numbers)
    for label, lengths in table.items():
        cells = (f"{lengths[number] * 1000:.4g}" if number in lengths else "" for number in numbers)
        yield f"  {label:<12}" + "".join(f"{cell:>9}" for cell in cells)


def _degrees(angle: float) -> str:
    """An angle in degrees and minutes."""
    minutes = round(angle * 60)
    return f"{minutes // 60}°{minutes % 60:02d}'"


def _positions_without_route(kind: Kind) -> str:
    if len(kind.bars) < 2:  # noqa: PLR2004
        return ""
    all_settings = product(*[[(bar.name, position) for position in bar.positions] for bar in kind.bars])
    used = {frozenset(route.when) for route in kind.routes}
    unused = [setting for setting in all_settings if frozenset(setting) not in used]
    return "; ".join(" and ".join(f"tie bar {bar} at {position}" for bar, position in setting) for setting in unused)


def _filled(text: str) -> str:
    return fill(text, WIDTH, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False)
