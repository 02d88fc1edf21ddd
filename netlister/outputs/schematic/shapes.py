"""Symbols of parts as data: pins and shapes, in steps of the grid (1.27 mm), x to the right and y down.

Shapes follow IEC 60617 where it has the thing (contact, fuse, circuit breaker, diode, lamp, resistor, plug and socket;
from memory, the text of the standard was not at hand). Track has no symbol there; ours is a box with a bar per rail.
"""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from netlister.kinds.model import Kind
    from netlister.outputs.netlist_draft import NetlistPart

GRID = 1.27
"""Millimetres."""
PITCH = 6
"""Between pins, in steps: room for a part and its texts in front of each."""
LEFT, RIGHT = -1, 1
THIN, THICK = 0.2, 0.8


class ShapePin(NamedTuple):
    """A pin: its connection point and the side of the body on which it lies; it is `length` long."""

    name: str
    x: int
    y: int
    side: int
    length: int = 2


class Polyline(NamedTuple):
    """A line through points."""

    points: tuple[tuple[float, float], ...]
    weight: float = THIN
    filled: bool = False


class Circle(NamedTuple):
    """A circle."""

    x: float
    y: float
    radius: float
    filled: bool = False


class Arc(NamedTuple):
    """Half a circle about a point, open to the right."""

    x: float
    y: float
    radius: float


Shape = Polyline | Circle | Arc


@dataclass(frozen=True, slots=True)
class DrawnSymbol:
    """A symbol. `box`: left, top, right and bottom of its body. `named`: its pins show their names."""

    key: str
    pins: tuple[ShapePin, ...]
    shapes: tuple[Shape, ...]
    box: tuple[float, float, float, float]
    named: bool


def text_steps(text: str) -> int:
    """The room that a text needs, in steps; wide characters count twice."""
    count = sum(2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)
    return ceil(count * 1.2 / GRID)


TrackRoutes = tuple[tuple[tuple[float, float], tuple[float, float]], ...]
"""The routes of a piece of track: where each begins and ends, x forward from 0 to 1, y to the left from -1 to 1."""


def ways_of(kind: Kind) -> TrackRoutes:
    """How the routes of a kind run in its symbol."""
    ways = [[kind.draw[end] for end in route.ends if end in kind.draw] for route in kind.routes]
    high = max([abs(y) for way in ways for _, y in way], default=0.0) or 1.0
    found = [((a[0], a[1] / high), (b[0], b[1] / high)) for a, b in (way for way in ways if len(way) == 2)]  # noqa: PLR2004
    return tuple(dict.fromkeys(found))


def symbol_of(part: NetlistPart, ways: TrackRoutes = ()) -> DrawnSymbol:
    """The symbol of a part; of a piece of track with its routes."""
    pins = [name for name, _ in part.pins]
    if part.library == "track":
        return _track(part.kind, pins, ways)
    if part.kind == "contact":
        return _contact(pins, bridging=part.value.startswith("make-before-break"))
    if not pins:
        return DrawnSymbol(
            part.kind, (), (_line((2, -2), (12, -2), (12, 2), (2, 2), (2, -2)),), (2, -2, 12, 2), named=True
        )
    if pins == ["1"]:
        point = (ShapePin("1", -2, 0, LEFT),)
        return DrawnSymbol(part.kind, point, (Circle(0.5, 0, 0.5),), (0, -1.2, 1, 1.2), named=False)
    if pins == ["1", "2"]:
        shapes = (*_BODIES.get(part.kind, _BODIES["load"]),)
        ends = (ShapePin("1", -4, 0, LEFT), ShapePin("2", 4, 0, RIGHT))
        return DrawnSymbol(part.kind, ends, shapes, (-2, -1.2, 2, 1.2), named=False)
    return _box(part, pins)


def _line(*points: tuple[float, float], weight: float = THIN, filled: bool = False) -> Polyline:
    return Polyline(points, weight, filled)


def _rectangle(x: float, y: float, *, filled: bool = False) -> Polyline:
    return _line((-x, -y), (x, -y), (x, y), (-x, y), (-x, -y), filled=filled)


_THROUGH = _line((-2, 0), (2, 0))

_BODIES: dict[str, tuple[Shape, ...]] = {
    "feed": (_THROUGH, _line((-0.5, 0.8), (0.5, -0.8))),
    "lead": (_THROUGH, _line((-0.5, 0.8), (0.5, -0.8))),
    "wire": (_THROUGH, _line((-0.5, 0.8), (0.5, -0.8))),
    "metal joiner": (_THROUGH, _line((-1.4, 0), (1.4, 0), weight=THICK)),
    "insulated joiner": (
        _line((-2, 0), (-1.2, 0)),
        _line((1.2, 0), (2, 0)),
        _line((-1.2, -0.8), (1.2, -0.8), (1.2, 0.8), (-1.2, 0.8), (-1.2, -0.8)),
        _line((-1.2, 0.8), (1.2, -0.8)),
        _line((-1.2, -0.8), (1.2, 0.8)),
    ),
    "plug pin": (
        _line((-2, 0), (-1.2, 0)),
        _line((-1.2, -0.3), (0.2, -0.3), (0.2, 0.3), (-1.2, 0.3), (-1.2, -0.3), filled=True),
        Arc(1.1, 0, 0.8),
        _line((0.3, 0), (2, 0)),
    ),
    "fuse": (_THROUGH, _rectangle(1.6, 0.6)),
    "resistor": (_line((-2, 0), (-1.6, 0)), _line((1.6, 0), (2, 0)), _rectangle(1.6, 0.6)),
    "load": (
        _line((-2, 0), (-1.2, 0)),
        _line((1.2, 0), (2, 0)),
        _rectangle(1.2, 0.9),
        _line((-1.2, 0.9), (1.2, -0.9)),
    ),
    "capacitor": (
        _line((-2, 0), (-0.3, 0)),
        _line((0.3, 0), (2, 0)),
        _line((-0.3, -1.0), (-0.3, 1.0)),
        _line((0.3, -1.0), (0.3, 1.0)),
    ),
    "lamp": (
        _line((-2, 0), (-1.1, 0)),
        _line((1.1, 0), (2, 0)),
        Circle(0, 0, 1.1),
        _line((-0.78, -0.78), (0.78, 0.78)),
        _line((-0.78, 0.78), (0.78, -0.78)),
    ),
    "diode": (
        _THROUGH,
        _line((-0.8, -0.9), (0.8, 0), (-0.8, 0.9), (-0.8, -0.9)),
        _line((0.8, -0.9), (0.8, 0.9)),
    ),
    "breaker": (
        _line((-2, 0), (-1.2, 0)),
        _line((1.2, 0), (2, 0)),
        _line((-1.2, 0), (1.0, -1.1)),
        _line((0.8, -0.4), (1.6, 0.4)),
        _line((0.8, 0.4), (1.6, -0.4)),
    ),
    "detector": (_THROUGH, Circle(0, 0, 1.0)),
}


def facing(symbol: DrawnSymbol, wanted: dict[str, int]) -> DrawnSymbol:
    """A symbol without named pins so turned that its only pin, or the one more wanted there, is on the right."""
    scores = [wanted[pin.name] for pin in symbol.pins]
    if symbol.named or (len(scores) > 1 and scores[0] <= scores[-1]):
        return symbol
    pins = tuple(pin._replace(x=-pin.x, side=-pin.side) for pin in symbol.pins)
    left, top, right, bottom = symbol.box
    shapes = tuple(_mirrored(shape) for shape in symbol.shapes)
    return DrawnSymbol(f"{symbol.key} turned", pins, shapes, (-right, top, -left, bottom), named=False)


def shifted_shape(shape: Shape, across: float) -> Shape:
    """A shape moved to the right."""
    if isinstance(shape, Polyline):
        return shape._replace(points=tuple((x + across, y) for x, y in shape.points))
    return shape._replace(x=shape.x + across)


def _mirrored(shape: Shape) -> Shape:
    if isinstance(shape, Polyline):
        return shape._replace(points=tuple((-x, y) for x, y in shape.points))
    if isinstance(shape, Arc):
        return shape._replace(x=-shape.x, radius=-shape.radius)
    return shape._replace(x=-shape.x)


def _track(kind: str, rails: list[str], ways: TrackRoutes) -> DrawnSymbol:
    """A box with its rails on the left and its routes drawn on the right."""
    room = max(text_steps(rail) for rail in rails)
    room += room % 2 + 1
    begin, right = 2 + 1 + room, 2 + 1 + room + 10
    bottom = PITCH * (len(rails) - 1) + 2
    middle, high = (bottom - 2) / 2, min(2.5, (bottom + 2) / 2 - 1)
    outline = _line((2, -2), (right, -2), (right, bottom), (2, bottom), (2, -2))
    pins = tuple(ShapePin(rail, 0, PITCH * n, LEFT) for n, rail in enumerate(rails))
    drawn = [
        _line(*((round(begin + 1 + 8 * x, 2), round(middle - high * y, 2)) for x, y in way), weight=0.5)
        for way in ways or (((0.0, 0.0), (1.0, 0.0)),)
    ]
    key = f"track {kind} {' '.join(rails)} {ways}"
    return DrawnSymbol(key, pins, (outline, *drawn), (2, -2, right, bottom), named=True)


def _contact(pins: list[str], *, bridging: bool) -> DrawnSymbol:
    """A changeover contact, its common between its throws, all on one side; drawn at its first position."""
    throws = [name for name in pins if name != "common"]
    half = (len(throws) + 1) // 2
    order = [*throws[:half], "common", *throws[half:]]
    room = max(text_steps(name) for name in order)
    right = 9 + room + (1 + room) % 2
    bottom = 4 * (len(order) - 1) + 2
    placed = {name: ShapePin(name, right + 2, 4 * n, RIGHT) for n, name in enumerate(order)}
    common = placed["common"].y
    shapes: list[Shape] = [_line((2, -2), (right, -2), (right, bottom), (2, bottom), (2, -2))]
    shapes += [Circle(8, placed[name].y, 0.3) for name in throws]
    shapes.append(Circle(4, common, 0.3, filled=True))
    shapes.append(_line((4.3, common), (6.5, common)))
    if throws:
        shapes.append(_line((4, common), (7.8, placed[throws[0]].y)))
    if bridging and len(throws) > 1:  # a hook: this throw is reached before the other is left
        y = placed[throws[1]].y
        shapes.append(_line((7.7, y), (6.7, y), (6.7, y - 1)))
    box = (2, -2, right, bottom)
    return DrawnSymbol(f"contact {bridging} {' '.join(throws)}", tuple(placed.values()), tuple(shapes), box, named=True)


_INPUTS = {
    "automatic reverser": ("in-A", "in-B"),
    "following reverser": ("in-A", "in-B"),
    "frog unit": ("A", "B"),
}


def _box(part: NetlistPart, names: list[str]) -> DrawnSymbol:
    """A box with its inputs on the left and its outputs on the right."""
    inputs = [name for name in names if name in _INPUTS.get(part.kind, ())]
    outputs = [name for name in names if name not in inputs]
    rows = max(len(inputs), len(outputs))
    left = max([text_steps(n) for n in inputs] or [0])
    wide = left + max(text_steps(n) for n in outputs) + 7
    bottom = PITCH * (rows - 1) + 2
    outline = _line((2, -2), (2 + wide, -2), (2 + wide, bottom), (2, bottom), (2, -2))
    pins = [ShapePin(name, 0, PITCH * n, LEFT) for n, name in enumerate(inputs)]
    pins += [ShapePin(name, 4 + wide, PITCH * n, RIGHT) for n, name in enumerate(outputs)]
    inner = tuple(_inner(part, 2 + left + 3.5, (rows - 1) * PITCH / 2))
    return DrawnSymbol(f"{part.kind} {part.value.split(' ')[0]} {' '.join(names)}", tuple(pins), (outline, *inner),
                  (2, -2, 2 + wide, bottom), named=True)  # fmt: skip


def _inner(part: NetlistPart, x: float, y: float) -> list[Shape]:
    """What stands in a box: direct or alternating current, a square wave, conductors side by side, ways that cross."""
    if part.kind == "supply" and part.value.startswith("dcc"):
        wave = ((-1.6, 0.6), (-1.6, -0.6), (-0.6, -0.6), (-0.6, 0.6), (0.4, 0.6), (0.4, -0.6), (1.4, -0.6), (1.4, 0.6))
        return [_line(*((x + a, y + b) for a, b in wave))]
    if part.kind == "supply" and part.value.startswith("ac"):
        turns = [math.pi * n / 8 for n in range(17)]
        return [_line(*((x + 1.4 * (t / math.pi - 1), y - 0.7 * math.sin(t)) for t in turns))]
    if part.kind == "supply":
        dashes = [_line((x + a, y + 0.5), (x + a + 0.6, y + 0.5)) for a in (-1.4, -0.3, 0.8)]
        return [_line((x - 1.4, y - 0.5), (x + 1.4, y - 0.5)), *dashes]
    if part.kind == "bus":
        return [_line((x - 1.6, y + d), (x + 1.6, y + d), weight=THICK) for d in (-0.7, 0.7)]
    if part.kind == "frog unit":
        return [_line((x - 1, y - 1), (x + 1, y)), _line((x - 1, y + 1), (x + 0.6, y + 0.2))]
    return [_line((x - 1.2, y - 1), (x + 1.2, y + 1)), _line((x - 1.2, y + 1), (x + 1.2, y - 1))]
