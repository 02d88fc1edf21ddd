"""Pins and shapes of symbols in KiCad's format, the same in schematics and in the library; y runs upwards there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.expressions import string
from netlister.outputs.schematic.shapes import GRID, LEFT, Arc, Circle, Polyline

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.outputs.schematic.shapes import Shape, ShapePin

SIZE = 1.27
"""Of texts, in mm."""


def net_text(net: str) -> str:
    """The name of a net as a label must have it: two signs have a meaning of their own there (from memory)."""
    return "".join({"{": "{brace}", "/": "{slash}"}.get(c, c) for c in net)


def mm_of(steps: float) -> str:
    """Steps of the grid in mm, as text."""
    return f"{round(steps * GRID, 4) + 0:g}"


def effects_text(size: float = SIZE, justify: str = "", *, hide: bool = False) -> str:
    """How a text is shown."""
    said = f" (justify {justify})" if justify else ""
    return f"(effects (font (size {size:g} {size:g})){said}{' hide' if hide else ''})"


def property_text(number: int, name: str, value: str, at: str, effects: str) -> str:
    """A field of a symbol or of a sheet; `at`: its place and turn."""
    return f"(property {string(name)} {string(value)} (id {number}) (at {at}) {effects})"


def body_text(name: str, shapes: Iterable[Shape], pins: Iterable[ShapePin]) -> list[str]:
    """What a symbol looks like, and its pins, as two units of the file."""
    return [
        f"(symbol {string(f'{name}_0_1')}",
        *(f"  {shape_text(shape)}" for shape in shapes),
        ")",
        f"(symbol {string(f'{name}_1_1')}",
        *(f"  {pin_text(pin)}" for pin in pins),
        ")",
    ]


def pin_text(pin: ShapePin) -> str:
    """A pin."""
    turn = 0 if pin.side == LEFT else 180
    name, effects = string(net_text(pin.name)), effects_text()
    return (
        f"(pin passive line (at {mm_of(pin.x)} {mm_of(-pin.y)} {turn}) (length {mm_of(pin.length)}) "
        f"(name {name} {effects}) (number {string(pin.name)} {effects}))"
    )


def shape_text(shape: Shape) -> str:
    """A line, circle or arc."""
    fill = "(fill (type outline))" if getattr(shape, "filled", False) else "(fill (type none))"
    weight = shape.weight if isinstance(shape, Polyline) else 0.2
    stroke = f"(stroke (width {weight:g}) (type default) (color 0 0 0 0))"
    if isinstance(shape, Circle):
        centre = f"{mm_of(shape.x)} {mm_of(-shape.y)}"
        return f"(circle (center {centre}) (radius {mm_of(shape.radius)}) {stroke} {fill})"
    if isinstance(shape, Arc):
        points = ((shape.x, -shape.radius), (shape.x - shape.radius, 0.0), (shape.x, shape.radius))
        start, mid, end = (f"{mm_of(x)} {mm_of(-(shape.y + y))}" for x, y in points)
        return f"(arc (start {start}) (mid {mid}) (end {end}) {stroke} {fill})"
    corners = " ".join(f"(xy {mm_of(x)} {mm_of(-y)})" for x, y in shape.points)
    return f"(polyline (pts {corners}) {stroke} {fill})"
