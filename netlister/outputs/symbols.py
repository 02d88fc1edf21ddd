"""The symbols to draw a layout's wiring with in a schematic editor: a library in KiCad's format, made from the kinds.

There is a symbol for every kind of track piece and for every other part that a netlist has. Pins are named and
numbered as `netlister.outputs.netlist_parts` names them. Shapes follow IEC 60617 where it has one: changeover contact
with break before make (S00230), fuse (S00362), resistor (S00555), terminal (S00017), diode, lamp, circuit-breaker,
motor; these numbers and shapes are from memory, the standard was not at hand. A piece of track is a box with its
routes drawn in it. All lengths are in mm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.devices import DEVICES
from netlister.outputs.expressions import string

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.kinds import Library
    from netlister.kinds.model import Kind

GRID = 2.54
VERSION = "20211014"
"""The version of the format that this is written in."""

Point = tuple[float, float]
BRIDGING = "contact-make-before-break"
LEAST_WIDTH = 6  # grid steps on either side of the middle


class SymbolPin(NamedTuple):
    """A pin: where it ends, and the side of the symbol on which it is: `left` or `right`."""

    name: str
    at: Point
    side: str


class Symbol(NamedTuple):
    """A symbol. `fields`: name, value, and whether the value is shown in the drawing."""

    name: str
    letter: str
    description: str
    fields: tuple[tuple[str, str, bool], ...]
    shapes: tuple[str, ...]
    pins: tuple[SymbolPin, ...]
    labelled: bool  # whether the names of its pins are shown
    reach: float = GRID  # the length of its pins; names stand above long ones, else behind their ends


def symbol_library(library: Library) -> str:
    """All symbols as the text of a library file; the same kinds give the same text."""
    lines = [f"(kicad_symbol_lib (version {VERSION}) (generator netlister)"]
    for symbol in all_symbols(library):
        lines += _written(symbol)
    return "\n".join([*lines, ")"]) + "\n"


def all_symbols(library: Library) -> list[Symbol]:
    """All symbols: the pieces of track by name, then contacts, then the rest."""
    kinds = [piece_kind(library, name) for name in library.names()]
    return [*(_piece(library, kind) for kind in kinds), *_contacts(library), *_rest()]


def piece_kind(library: Library, name: str) -> Kind:
    """A kind as its symbol shows it: without options, and for the right hand where there are hands."""
    hands = library.takes(name).hands
    return library.kind(name, "right" if "right" in hands else next(iter(hands), ""))


# ---- pieces of track


def _piece(library: Library, kind: Kind) -> Symbol:
    half = (len(kind.rails) + 1) // 2
    columns = (kind.rails[:half], kind.rails[half:])
    longest = max(len(rail) for rail in kind.rails)
    wide = max(LEAST_WIDTH, longest * 0.5 + 1)
    across = GRID * round(wide)
    top = GRID * 4
    pins = [
        SymbolPin(rail, (side * (across + GRID), -GRID * row), "left" if side < 0 else "right")
        for side, column in zip((-1, 1), columns, strict=True)
        for row, rail in enumerate(column)
    ]
    shapes = [_box(-across, top, across, -GRID * half)]
    ways = [[kind.draw[end] for end in route.ends if end in kind.draw] for route in kind.routes]
    high = max([abs(y) for way in ways for _, y in way], default=0.0) or 1.0
    shapes += [_line([_inside((x, y / high), across, top) for x, y in way]) for way in ways if len(way) == 2]  # noqa: PLR2004
    if not kind.routes:
        shapes.append(_line([(-across / 2, top / 2), (across / 2, top / 2)]))
    takes = library.takes(kind.name)
    fields = [("Hand", kind.hand, True)] if takes.hands else []
    fields += [("Length", "", False)]
    fields += [(option.replace("-", " ").capitalize(), "", False) for option in takes.options if option != "hand"]
    fields += [("Thrown by", "", False)] if len(kind.bars) == 1 else []
    fields += [(f"Thrown by {bar.name}", "", False) for bar in kind.bars if len(kind.bars) > 1]
    fields += [(f"Set {route.name}", "", False) for route in kind.routes if kind.crossing]
    letter = "Y" if kind.bladed else "L"
    return Symbol(kind.name, letter, kind.summary, tuple(fields), tuple(shapes), tuple(pins), labelled=True)


def _inside(point: Point, across: float, top: float) -> Point:
    """A point of a piece, x from 0 to 1 and y from -1 to 1, in the upper part of its box."""
    x, y = point
    return (x - 0.5) * 1.6 * across, top / 2 + GRID / 2 + y * GRID


# ---- contacts


def contact_positions(library: Library) -> dict[str, tuple[str, ...]]:
    """The symbols of contacts: for the positions of every kind of blades, and with numbered positions for switches."""
    found: dict[tuple[str, ...], str] = {("through", "diverging"): "contact"}
    for name in library.names():
        takes = library.takes(name)
        if takes.number is not None:
            continue
        for hand in takes.hands or ("",):
            for bar in library.kind(name, hand).bars:
                if {*bar.positions} != {"through", "diverging"}:
                    found.setdefault(bar.positions, "contact-" + "-".join(bar.positions))
    names = {name: positions for positions, name in found.items()}
    names[BRIDGING] = ("through", "diverging")
    for count in range(2, 7):
        names[f"contact-{count}"] = tuple(str(k) for k in range(1, count + 1))
    return names


def _contacts(library: Library) -> Iterator[Symbol]:
    for name, positions in contact_positions(library).items():
        yield _contact(name, positions, "make before break" if name == BRIDGING else "break before make")


def _contact(name: str, positions: tuple[str, ...], how: str) -> Symbol:
    """A changeover contact: its common on the left, its throws on the right, drawn at the first."""
    rows = [GRID * (len(positions) - 1 - 2 * k) for k in range(len(positions))]
    pins = [SymbolPin("common", (-6 * GRID, 0), "left")]
    pins += [SymbolPin(p, (6 * GRID, y), "right") for p, y in zip(positions, rows, strict=True)]
    shapes = [_line([(-2 * GRID, 0), (-GRID, 0), (GRID, rows[0])]), _circle((-GRID, 0), 0.4)]
    shapes += [_line([(2 * GRID, y), (GRID, y)]) for y in rows]
    shapes += [_circle((GRID, y), 0.4) for y in rows]
    if how == "make before break":
        shapes.append(_line([(GRID, rows[1]), (GRID - 1.27, rows[1]), (GRID - 1.27, rows[1] + 0.635)]))
    what = f"Changeover contact, {how}: common, {', '.join(positions)}"
    fields = (("Moved by", "", True), ("Action", how.replace(" ", "-"), False))
    return Symbol(name, "Q", what, fields, tuple(shapes), tuple(pins), labelled=True, reach=4 * GRID)


# ---- the rest


def _rest() -> Iterator[Symbol]:
    for name, letter, what, pins, takes, hidden, values, named in DEVICES.values():
        shown = dict(values)
        keys = [key for key in takes if key not in hidden and not key.startswith("terminal-")]
        fields = [("Name", "", True)] if named else []
        fields += [(_title(key), shown.get(key, ""), key in shown) for key in keys]
        if len(pins) == 2 and pins == ("1", "2"):  # noqa: PLR2004
            yield Symbol(name, letter, what, tuple(fields), _TWO.get(name, _TWO["load"]), _two(), labelled=False)
        elif pins == ("1",):
            terminal = (SymbolPin("1", (-GRID, 0), "left"),)
            yield Symbol(name, letter, what, tuple(fields), (_circle((0.635, 0), 0.635),), terminal, labelled=False)
        else:
            yield Symbol(name, letter, what, tuple(fields), *_boxed(name, pins), labelled=True)


def _title(key: str) -> str:
    """The name of a field: `trip-time` is `Trip time`, `colour-a` is `Colour A`."""
    words = key.replace("-", " ").capitalize()
    return words[:-1] + words[-1].upper() if words[-2:-1] == " " else words


def _two() -> tuple[SymbolPin, ...]:
    return (SymbolPin("1", (-3 * GRID, 0), "left"), SymbolPin("2", (3 * GRID, 0), "right"))


def _boxed(name: str, pins: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[SymbolPin, ...]]:
    """A box with its pins: what it is fed by on the left, what it feeds on the right."""
    if not pins:
        shape = _circle((0, 0), 2 * GRID) if name == "machine" else _box(-3 * GRID, GRID, 3 * GRID, -GRID)
        return (shape, _text("M" if name == "machine" else name, (0, 0))), ()
    left = [pin for pin in pins if pin.startswith("in-")] or (list(pins[:2]) if name == "frog-unit" else [])
    right = [pin for pin in pins if pin not in left]
    columns = ((-1, left), (1, right))
    made = [
        SymbolPin(pin, (side * 5 * GRID, -GRID * row), "left" if side < 0 else "right")
        for side, column in columns
        for row, pin in enumerate(column)
    ]
    rows = max(len(left), len(right))
    return (_box(-4 * GRID, 2 * GRID, 4 * GRID, -GRID * rows), _text(name.replace("-", " "), (0, GRID * 1.2))), tuple(
        made
    )


# ---- shapes


def _number(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def _xy(point: Point) -> str:
    return f"{_number(point[0])} {_number(point[1])}"


_STROKE = "(stroke (width 0.254) (type default) (color 0 0 0 0)) (fill (type none))"


def _line(points: Iterable[Point]) -> str:
    return f"(polyline (pts {' '.join(f'(xy {_xy(p)})' for p in points)}) {_STROKE})"


def _box(left: float, top: float, right: float, bottom: float) -> str:
    return f"(rectangle (start {_xy((left, top))}) (end {_xy((right, bottom))}) {_STROKE})"


def _circle(centre: Point, radius: float) -> str:
    return f"(circle (center {_xy(centre)}) (radius {_number(radius)}) {_STROKE})"


def _text(text: str, at: Point) -> str:
    return f"(text {string(text)} (at {_xy(at)} 0) (effects (font (size 1.27 1.27))))"


_END = 2 * GRID
_THROUGH = _line([(-_END, 0), (_END, 0)])
_LEGS = (_line([(-_END, 0), (-GRID, 0)]), _line([(GRID, 0), (_END, 0)]))
_BODY = _box(-GRID, 1.016, GRID, -1.016)
_D = 0.9 * GRID / 2**0.5

_TWO: dict[str, tuple[str, ...]] = {
    "metal-joiner": (_THROUGH, _box(-1.27, 0.635, 1.27, -0.635)),
    "insulated-joiner": (
        *(_line([(-_END, 0), (-0.508, 0)]), _line([(0.508, 0), (_END, 0)])),
        *(_line([(-0.508, 1.27), (-0.508, -1.27)]), _line([(0.508, 1.27), (0.508, -1.27)])),
    ),
    "feed": (_THROUGH, _line([(_END - 1.27, 0.635), (_END, 0), (_END - 1.27, -0.635)])),
    "lead": (_THROUGH,),
    "wire": (_THROUGH,),
    "breaker": (
        *(_line([(-_END, 0), (-GRID, 0), (0.8 * GRID, GRID)]), _line([(GRID, 0), (_END, 0)])),
        *(_line([(GRID - 0.5, 0.5), (GRID + 0.5, -0.5)]), _line([(GRID - 0.5, -0.5), (GRID + 0.5, 0.5)])),
    ),
    "fuse": (_THROUGH, _BODY),
    "diode": (
        *_LEGS,
        _line([(-GRID, 1.27), (-GRID, -1.27), (GRID, 0), (-GRID, 1.27)]),
        _line([(GRID, 1.27), (GRID, -1.27)]),
    ),
    "detector": (*_LEGS, _box(-GRID, GRID, GRID, -GRID), _text("I", (0, 0))),
    "lamp": (
        *_LEGS,
        _circle((0, 0), GRID),
        *(_line([(-_D, -_D), (_D, _D)]), _line([(-_D, _D), (_D, -_D)])),
    ),
    "resistor": (*_LEGS, _BODY),
    "load": (*_LEGS, _box(-GRID, GRID, GRID, -GRID)),
    "capacitor": (
        *(_line([(-_END, 0), (-0.508, 0)]), _line([(0.508, 0), (_END, 0)])),
        *(_line([(-0.508, GRID), (-0.508, -GRID)]), _line([(0.508, GRID), (0.508, -GRID)])),
    ),
    "plug-pin": (_THROUGH, _line([(-1.27, 0.762), (0, 0), (-1.27, -0.762)])),
}


# ---- the text


def _written(symbol: Symbol) -> list[str]:
    name = string(symbol.name)
    names = "" if symbol.labelled else " hide"
    offset = "0.508" if symbol.reach == GRID else "0"
    ys = [y for _, (_, y), _ in symbol.pins] or [0.0]
    low = min(ys) - 2 * GRID
    lines = [f"  (symbol {name} (pin_numbers hide) (pin_names (offset {offset}){names}) (in_bom yes) (on_board yes)"]
    usual = [
        ("Reference", symbol.letter, True),
        ("Value", symbol.name, symbol.name not in {"wire", "lead", "feed", "terminal"}),
        *(("Footprint", "", False), ("Datasheet", "", False)),
    ]
    more = [("ki_keywords", "track wiring", False), ("ki_description", symbol.description, False)]
    high = GRID * 5 if symbol.pins else GRID * 3
    for number, (field, value, shown) in enumerate([*usual, *symbol.fields, *more]):
        y = high if field == "Reference" else low - GRID * max(0, number - 1)
        hide = "" if shown else " hide"
        lines.append(
            f"    (property {string(field)} {string(value)} (id {number}) (at 0 {_number(y)} 0)"
            f" (effects (font (size 1.27 1.27)){hide}))"
        )
    lines.append(f"    (symbol {string(symbol.name + '_0_1')}")
    lines += [f"      {shape}" for shape in symbol.shapes]
    lines += ["    )", f"    (symbol {string(symbol.name + '_1_1')}"]
    for pin, at, side in symbol.pins:
        angle = 0 if side == "left" else 180
        font = "(effects (font (size 1.27 1.27)))"
        lines.append(
            f"      (pin passive line (at {_xy(at)} {angle}) (length {_number(symbol.reach)})"
            f" (name {string(pin)} {font}) (number {string(pin)} {font}))"
        )
    return [*lines, "    )", "  )"]
