"""What there is to say of a kind of track piece, as headings, paragraphs and tables; text and pages are made of it."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, NamedTuple

from netlister.kinds.frog import MEASURES, frog_angle
from netlister.kinds.measure import size
from netlister.lengths import Metres, in_mm
from netlister.quantity import show

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.kinds import Definition, Library
    from netlister.kinds.model import Bar, DefaultDimension, Kind, Options, Route

CAUTION = (
    "Do all beep tests with the supply unplugged and no train on the track. Leave everything on the mains side to a "
    "licensed person and the local code; low voltage at several amps burns, too. Solder with the supply unplugged, and "
    "mind that iron and rail stay hot."
)


class SheetTable(NamedTuple):
    """A table: the heads of its columns and its rows."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class SheetSection(NamedTuple):
    """A heading, and under it lines, tables and paragraphs in order; a tuple is a list of lines."""

    heading: str
    blocks: tuple[str | tuple[str, ...] | SheetTable, ...]


class KindSheet(NamedTuple):
    """All of a kind: its name, what was asked for, title, summary and sections."""

    name: str
    asked: str
    title: str
    summary: str
    sections: tuple[SheetSection, ...]


def sheet(library: Library, name: str, hand: str = "", options: Options = ()) -> KindSheet:
    """All of a kind for a hand and options; the right hand where none is asked for.

    Raises KindError as `Library.kind` does.
    """
    definition = library.definition(name)
    if not hand and definition.hands:
        hand = "right" if "right" in definition.hands else next(iter(definition.hands))
    kind = library.kind(name, hand, options)
    asked = [f"hand: {kind.hand}"] if kind.hand else []
    asked += [f"{option}: {value}" for option, value in kind.options]
    return KindSheet(kind.name, ", ".join(asked), kind.title, kind.summary, tuple(_sections(definition, kind)))


def _sections(definition: Definition, kind: Kind) -> Iterator[SheetSection]:
    notes = definition.notes
    others = [h for h in definition.hands if h != kind.hand]
    if others or definition.options:
        yield SheetSection("Hands and options", tuple(_choices(definition, others)))
    count = "" if definition.count is None else definition.count.option
    if any(value != definition.option_notes[name].default for name, value in kind.options if name != count):
        yield SheetSection("As asked for here", tuple(_altered(kind)))
    ends = [(e.name, "entering" if e.entering else "leaving", e.left, e.right) for e in kind.ends.values()]
    heads = ("end", "", "left rail", "right rail")
    yield SheetSection(
        "Ends, with the rails there seen looking forward along the piece", (SheetTable(heads, tuple(ends)),)
    )
    rails = [f"Rails: {', '.join(kind.rails)}"]
    if kind.bonds:
        rails.append(f"Always joined: {', '.join(f'{a} to {b}' for a, b in kind.bonds)}")
    rails += [f"Insulated nose between {nose.rails[0]} and {nose.rails[1]}" for nose in kind.noses]
    if kind.gaps:
        rails.append(f"Always a gap, whatever a joint says: {', '.join(e for e in kind.ends if e in kind.gaps)}")
    yield SheetSection("Rails", tuple((rail,) for rail in rails))
    if kind.routes:
        yield SheetSection("Positions, what conducts, and the pole that each frog needs", tuple(_truth(kind)))
        wheels = SheetTable(("route", "left wheels", "right wheels"), tuple(_wheels(kind)))
        yield SheetSection("Under the wheels", (wheels, *_beside(kind)))
    if changing(kind):
        yield SheetSection("Rails that change pole, and what moves with what", tuple(_driven(kind)))
    if "why" in notes:
        yield SheetSection("Why", (notes["why"],))
    yield SheetSection("Insulated joiners", tuple(_joiners(kind, notes.get("joiners", ""))))
    for note, heading in (
        ("feeders", "Feeds"),
        ("contact", "Contact"),
        ("trouble", "What goes wrong, and how it shows"),
    ):
        if note in notes:
            yield SheetSection(heading, (notes[note],))
    yield SheetSection("How to test it with a meter", (*([notes["test"]] if "test" in notes else []), *_meter(kind)))
    if kind.dimensions:
        yield SheetSection("Dimensions taken where the layout gives none", tuple(_dimensions(definition, kind)))
    yield SheetSection("Take care", (CAUTION,))


def _choices(definition: Definition, others: list[str]) -> Iterator[str | tuple[str, ...] | SheetTable]:
    if others:
        yield (f"also with --hand {' or '.join(others)}",)
    rows = []
    for option, (values, _) in definition.options.items():
        note = definition.option_notes[option]
        said = " or ".join(values)
        if definition.count is not None and option == definition.count.option:
            said = f"{definition.count.least} to {definition.count.most}"
        only = f" (hand: {' or '.join(note.hands)})" if note.hands else ""
        rows.append((option, said, note.default or "left out", note.what + only))
    if rows:
        yield SheetTable(("option", "values", "if left out", "what it is"), tuple(rows))


def _altered(kind: Kind) -> Iterator[str]:
    """What to mind on the page of a piece that is not as it comes."""
    yield "The tables are of the piece as asked for; what is said in words is of the piece as it comes."
    wrong = dict.fromkeys(_position(kind, route) for route in kind.routes if _joins_sides(kind, route))
    if wrong:
        yield (
            "A short, empty or under a train: rails under left-hand wheels are joined to rails under right-hand wheels "
            f"({'; '.join(wrong)}). Mend the piece before it is wired."
        )


def _joins_sides(kind: Kind, route: Route) -> bool:
    """Whether the piece by itself joins what is under the wheels of the two sides on a route."""
    leader = _leaders(kind, route)
    left, right = ({leader[rail] for rail in rails if rail is not None} for rails in (route.left, route.right))
    return bool(left & right)


def _leaders(kind: Kind, route: Route) -> dict[str, str]:
    """For each rail the first of all that the piece joins it to on a route."""
    made = [made.rails for made in kind.made if set(made.when) <= set(route.when)]
    return joined_rails([*kind.bonds, *made], kind.rails)


# -- positions


def _truth(kind: Kind) -> Iterator[str | SheetTable]:
    """A row per route: the positions that set it, what the blades make then, and the pole of every frog in use."""
    rows = []
    for route in kind.routes:
        made = [made.rails for made in kind.made if set(made.when) <= set(route.when)]
        conducts = ", ".join(f"{a} to {b}" for a, b in made) or ("nothing" if kind.bars else "")
        poles = "; ".join(f"{frog} needs the pole of {rail}" for frog, rail in needs(kind, route))
        rows.append((_position(kind, route), route_title(kind, route), conducts, poles or "none"))
    if not kind.bars:
        yield SheetTable(("route", "frogs"), tuple((row[1], row[3]) for row in rows))
    else:
        yield SheetTable(("position", "route", "blades join", "frogs"), tuple(rows))
    rest = positions_without_route(kind)
    if rest:
        yield f"No route: {rest}"


def _position(kind: Kind, route: Route) -> str:
    if not route.when:
        return f"{route_title(kind, route)} set" if changing(kind) else "always"
    return ", ".join(f"{bar} at {position}" if bar else position for bar, position in route.when)


def route_title(kind: Kind, route: Route) -> str:
    """What a route is called: its two ends, or the number of a crossing's track."""
    return f"track {route.name}" if kind.crossing else f"{route.ends[0]} to {route.ends[1]}"


def positions_without_route(kind: Kind) -> str:
    """The positions of a piece with blades in which no route is set, in words; empty where there are none."""
    if not kind.bars:
        return ""
    settings = product(*[[(bar.name, position) for position in bar.positions] for bar in kind.bars])
    unused = [s for s in settings if not any(set(route.when) <= set(s) for route in kind.routes)]
    if len(unused) > 4:  # noqa: PLR2004
        return f"any other position ({len(unused)} of them)"
    words = [[f"tie bar {bar} at {position}" if bar else position for bar, position in setting] for setting in unused]
    return "; ".join(" and ".join(setting) for setting in words)


def _wheels(kind: Kind) -> Iterator[tuple[str, str, str]]:
    for route in kind.routes:
        yield route_title(kind, route), _path(route.left), _path(route.right)


def _beside(kind: Kind) -> Iterator[tuple[str, ...]]:
    """Where a wheel may touch two rails at once: an open blade beside its stock rail, the nose of an insulated frog."""
    lines = [
        f"{', '.join(f'{bar} at {position}' if bar else position for bar, position in blade.when)}: "
        f"the open blade, {blade.open}, stands beside {blade.stock}"
        for blade in kind.blades
        if blade.open != blade.stock
    ]
    lines += [f"the insulated nose lies between {a} and {b}" for (a, b), *_ in kind.noses]
    if lines:
        yield tuple(lines)


def _path(rails: tuple[str | None, ...]) -> str:
    path = " | gap | ".join("(dead)" if rail is None else rail for rail in rails)
    return path.replace("| gap | (dead) | gap |", "| dead |")


# -- rails that change pole


def joined_rails(pairs: Iterable[tuple[str, str]], rails: Iterable[str]) -> dict[str, str]:
    """For each rail the first of all that it is joined to."""
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


def _driven(kind: Kind) -> Iterator[tuple[str, ...] | SheetTable]:
    """Per changing rail the contact that does it: common to the rail, its throws to the rails named."""
    rows = []
    for rail in changing(kind):
        ways = driven_by(kind, rail)
        alone = "the blades" if kind.is_frog(rail) else "its position"
        for bar, poles in ways:
            throws = ", ".join(f"{position} to {to}" for position, to in poles.items())
            rows.append((rail, f"tie bar {bar.name}" if bar.name else alone, f"common to {rail}, {throws}"))
        if not ways:
            wants = [(route_title(kind, r), dict(needs(kind, r)).get(rail)) for r in kind.routes]
            said = ", ".join(f"pole of {to} for {title}" for title, to in wants if to)
            rows.append((rail, "what sets its tracks" if kind.crossing else "no tie bar alone", said))
    if len(kind.rails) > len(rows):
        heads = ("rail", "moves with", "contact: what is wired where")
        yield SheetTable(heads, tuple(rows))


def _joiners(kind: Kind, note: str) -> Iterator[str | tuple[str, ...]]:
    change = changing(kind)
    places = [
        f"{end.name}: the {side}-hand rail, {rail}, which changes pole"
        for end in kind.ends.values()
        for side, rail in (("left", end.left), ("right", end.right))
        if rail in change and end.name not in kind.gaps
    ]
    if note:
        yield note
    if places:
        yield tuple(places)


# -- the meter


def _meter(kind: Kind) -> Iterator[str | SheetTable]:
    """What beeps in which position, with the piece on the bench; practice of the trade, no published source."""
    change = changing(kind)
    rows = []
    yield "This is of the piece by itself, before a joiner or feed is fitted: laid, the bus joins rails of one pole."
    for route in kind.routes:
        leader = _leaders(kind, route)
        groups: dict[str, list[str]] = {}
        for rail in kind.rails:
            groups.setdefault(leader[rail], []).append(rail)
        beeps = "; ".join(" to ".join(group) for group in groups.values() if len(group) > 1) or "nothing"
        wired = [f"{frog} to {rail}" for frog, rail in needs(kind, route) if leader[frog] != leader[rail]]
        rows.append((_position(kind, route), beeps, ", ".join(wired) or "nothing more"))
    if rows and change:
        yield SheetTable(("position", "beeps between rails", "and once its contacts are wired"), tuple(rows))
    elif rows and (kind.bonds or kind.made):
        yield SheetTable(("position", "beeps between rails"), tuple(dict.fromkeys(row[:2] for row in rows)))
    silent = _silent(kind)
    if silent and not any(_joins_sides(kind, route) for route in kind.routes):
        yield f"Never: {silent}"


def _silent(kind: Kind) -> str:
    """The fixed rails under left and right wheels that must not beep to each other in any position."""
    change = changing(kind)
    left = dict.fromkeys(rail for route in kind.routes for rail in route.left if rail and rail not in change)
    right = dict.fromkeys(rail for route in kind.routes for rail in route.right if rail and rail not in change)
    if len(left) * len(right) > 4:  # noqa: PLR2004
        return "any rail under left-hand wheels to one under right-hand wheels"
    return ", ".join(f"{a} to {b}" for a in left for b in right)


# -- dimensions


def _dimensions(definition: Definition, kind: Kind) -> Iterator[str | tuple[str, ...] | SheetTable]:
    dead = {*definition.dead, *(name for shape in definition.shapes for name in shape.dead)}
    rows = [
        (
            name,
            found.text + _for(found),
            ("dead length, " if name in dead else "") + found.what,
            found.source,
            found.status,
        )
        for name, found in kind.dimensions.items()
    ]
    yield SheetTable(("", "value", "what", "source", "status"), tuple(rows))
    yield from _scales(kind)
    yield from _other_numbers(kind.dimensions)


def _for(found: DefaultDimension) -> str:
    """The gauge that a dimension was drawn for, as it stands behind it."""
    return f" ({show(found.gauge, 'mm')} gauge)" if found.gauge else ""


FULL = Metres(16.5e-3)
"""The gauge in m to which lengths of a smaller one are scaled openly."""


def _scales(kind: Kind) -> Iterator[str | SheetTable]:
    """Lengths of a smaller gauge scaled in proportion, said so; those drawn for the larger gauge stay as they are."""
    small = {name: d for name, d in kind.dimensions.items() if d.gauge and d.gauge < FULL}
    if not small:
        return
    yield (
        "Lengths grow with 'gauge' of the layout, in proportion (16.5 mm for 9 mm: x 1.83), assumed; with "
        "no 'gauge' they are taken as they stand."
    )
    rows = [(name, d.text, f"{show(size(d, gauge=FULL), 'mm')} (scaled)") for name, d in small.items()]
    yield SheetTable(("", f"{show(min(d.gauge for d in small.values()), 'mm')} gauge", "16.5 mm gauge"), tuple(rows))


def _other_numbers(dimensions: dict[str, DefaultDimension]) -> Iterator[tuple[str, ...] | SheetTable]:
    """A table of the dimensions and angles of other frogs."""
    table = {label: found.by_number for label, found in dimensions.items() if found.by_number}
    numbers = sorted({number for lengths in table.values() for number in lengths})
    if not numbers:
        return
    rows = [
        (f"angle, {measure}", *(degrees(frog_angle(number, measure)) for number in numbers)) for measure in MEASURES
    ]
    for label, lengths in table.items():
        rows.append((label, *(f"{in_mm(lengths[n]):.4g}" if n in lengths else "" for n in numbers)))
    yield ("The same in mm for other frogs; NMRA RP-12.7 measures the angle along the centre line",)
    yield SheetTable(("frog number", *(f"No. {number:g}" for number in numbers)), tuple(rows))


def degrees(angle: float) -> str:
    """An angle in degrees and minutes."""
    minutes = round(angle * 60)
    return f"{minutes // 60}°{minutes % 60:02d}'"
