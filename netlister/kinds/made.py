"""A kind for one hand and one set of options, from what its file says of all of them."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin
from typing import TYPE_CHECKING, Any, TypeVar

from netlister.kinds.model import Bar, Blade, End, Kind, KindError, Made, Options, Route, role_of
from netlister.source import suggest

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.kinds.model import Definition, Row

T = TypeVar("T")


def made_for(d: Definition, hand: str, options: Options) -> Kind:
    """The kind for a hand (empty where it has none) and options; those left out have their defaults.

    Raises KindError for a hand or option that the kind does not take.
    """
    _check_hand(d, hand)
    _check_options(d, hand, options)
    chosen = {option: note.default for option, note in d.option_notes.items() if note.default} | dict(options)
    if d.count is not None:
        d = _repeated(d, int(chosen[d.count.option]))
    exits = d.hands.get(hand, {})

    def called(name: str) -> str:
        return exits.get(name, name)

    order = list(exits)

    def place(name: str) -> int:
        """The place of an exit in the order of the positions; what is no exit stays where it stands, behind."""
        return order.index(name) if name in order else len(order)

    def holds(given: Options) -> bool:
        return all((hand if name == "hand" else chosen.get(name)) == value for name, value in given)

    bonds = list(d.bonds)
    for option, (_, by_value) in d.options.items():
        bonds += by_value.get(chosen.get(option, ""), ())
    bonds += [bond.rails for bond in d.optional if holds(bond.given)]
    made = [*d.made, *(m.made for m in d.made_with if holds(m.given))]
    blades = [*d.blades, *(b.blade for b in d.blades_with if holds(b.given))]
    sizes, draw = {**d.dimensions, **d.dead}, dict(d.draw)
    for shape in d.shapes:
        if holds(shape.given):
            sizes |= {**shape.dimensions, **shape.dead}
            draw |= shape.draw
    return Kind(
        name=d.name,
        title=d.title,
        summary=d.summary,
        hand=hand,
        options=options,
        rails=d.rails,
        ends={called(e.name): End(called(e.name), *e[1:]) for e in d.ends},
        bonds=tuple(dict.fromkeys(bonds)),
        bars=tuple(Bar(b.name, tuple(map(called, sorted(b.positions, key=place)))) for b in d.bars),
        made=tuple(Made(tuple((b, called(p)) for b, p in m.when), m.rails) for m in made),
        routes=tuple(
            Route(
                called(r.name),
                (called(r.ends[0]), called(r.ends[1])),
                tuple((b, called(p)) for b, p in r.when),
                *r[3:],
            )
            for r in sorted(d.routes, key=lambda r: place(r.name))
        ),
        plain=d.plain,
        floating=d.floating,
        dimensions=sizes,
        sealed=frozenset(one.rail for one in d.sealed if holds(one.given)),
        gaps=frozenset(map(called, d.gaps)),
        blades=tuple(Blade(tuple((b, called(p)) for b, p in blade.when), *blade[1:]) for blade in blades),
        noses=d.noses,
        roles={rail: role_of(rail) for rail in d.rails},
        draw={called(name): point for name, point in draw.items()},
    )


def _check_hand(d: Definition, hand: str) -> None:
    if d.hands and hand not in d.hands:
        ways = " or ".join(f"'hand: {h}'" for h in d.hands)
        message = f"there is no hand '{hand}'{suggest(hand, d.hands)}" if hand else f"'{d.name}' needs a hand"
        msg = f"{message}; write {ways}"
        raise KindError(msg)
    if hand and not d.hands:
        msg = f"'{d.name}' has no hand; leave 'hand' out"
        raise KindError(msg)


def _check_options(d: Definition, hand: str, options: Options) -> None:
    for option, value in options:
        if [o for o, _ in options].count(option) > 1:
            msg = f"'{option}' is given more than once; give it one value"
            raise KindError(msg)
        if d.count is not None and option == d.count.option and value not in d.options[option][0]:
            between = f"a whole number from {d.count.least} to {d.count.most}"
            msg = f"'{d.name}' takes {between} as '{option}', not '{value}'"
            raise KindError(msg)
        if option not in d.options or value not in d.options[option][0]:
            known = [f"{o}={v}" for o, (values, _) in d.options.items() if not _counts(d, o) for v in values]
            instead = f"it takes {', '.join(known)}" if known else "it takes no options"
            hint = suggest(f"{option}={value}", known)
            msg = f"'{d.name}' does not take '{option}={value}'{hint}; {instead}"
            raise KindError(msg)
        hands = d.option_notes[option].hands
        if hands and hand not in hands and value != d.option_notes[option].default:
            ways = " or ".join(f"'hand: {h}'" for h in hands)
            msg = f"'{option}: {value}' is for {ways}, not for 'hand: {hand}'"
            raise KindError(msg)


def _counts(d: Definition, option: str) -> bool:
    return d.count is not None and option == d.count.option


# -- names with a #


def _repeated(d: Definition, number: int) -> Definition:
    """The same with as many of everything that has a `#` in its name: roads, tracks."""

    def each(items: Iterable[T]) -> tuple[T, ...]:
        return tuple(dict.fromkeys(_numbered(item, k) for item in items for k in range(1, number + 1)))

    draw = dict(d.draw)
    for name, row in d.rows.items():
        for k in range(1, number + 1):
            draw[_numbered(name, k)] = _on_row(row, (k - 1) / (number - 1) if number > 1 else 0.5)
    return replace(
        d,
        rails=each(d.rails),
        ends=each(d.ends),
        bonds=each(d.bonds),
        optional=each(d.optional),
        bars=tuple(Bar(bar.name, each(bar.positions)) for bar in d.bars),
        made=each(d.made),
        made_with=each(d.made_with),
        routes=each(d.routes),
        sealed=each(d.sealed),
        gaps=each(d.gaps),
        draw=draw,
    )


def _numbered(value: Any, k: int) -> Any:
    """The same with `#` as the number `k` in all its texts."""
    if isinstance(value, str):
        return value.replace("#", str(k))
    if isinstance(value, tuple):
        parts = (_numbered(part, k) for part in value)
        return type(value)(*parts) if hasattr(value, "_fields") else tuple(parts)
    return value


def _on_row(row: Row, share: float) -> tuple[float, float]:
    """The point of a row at a share of its length."""
    at = [a + (b - a) * share for a, b in zip(row.first, row.last, strict=True)]
    if row.arc is None:
        return round(at[0], 4), round(at[1], 4)
    x, y, radius = row.arc
    return round(x + radius * cos(radians(at[0])), 4), round(y + radius * sin(radians(at[0])), 4)
