"""Lines of a drawing as the page keeps them: a place in tenths and relative steps; equal shapes are told once."""

from __future__ import annotations

import re
from itertools import pairwise
from math import hypot
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from xml.etree import ElementTree as ET

    from netlister.draw.lines import Line

FINE = 0.08
"""By how much a line on the page may leave that of the drawing, in its units."""

WORD = re.compile(r"[A-Za-z]|-?(?:\d+\.?\d*|\.\d+)")

StrokePoint = tuple[int, int]
"""A place in tenths; y points down."""


SPECK = 2.0
"""Radius up to which a filled circle is a speck, else a dot."""


class Stroke(NamedTuple):
    """A line of a class: where it begins, and the rest of it."""

    kind: str
    start: StrokePoint
    rest: str

    @property
    def path(self) -> str:
        """All of it, as the `d` of a path."""
        return f"M{tenths(self.start[0])} {tenths(self.start[1])}{self.rest}"


def strokes(one: ET.Element) -> list[Stroke]:
    """What an element of a drawing is by lines; rails and texts are none. A circle is a short line with round ends."""
    kind = one.get("class", "")

    def get(key: str) -> float:
        return float(one.get(key, "0"))

    match one.tag.rpartition("}")[2]:
        case "path" if not kind.startswith(("rail", "plastic")):
            return [Stroke(kind, *relative(one.get("d", "")))]
        case "rect":
            w, h = (tenths(round(get(key) * 10)) for key in ("width", "height"))
            return [Stroke(kind, (round(get("x") * 10), round(get("y") * 10)), f"h{w}v{h}h-{w}z")]
        case "circle":
            x, y, r = (round(get(key) * 10) for key in ("cx", "cy", "r"))
            if kind == "solid":
                return [Stroke("speck" if r < SPECK * 10 else "dot", (x, y), "h0")]
            if kind == "mark":
                return [Stroke("ring", (x, y), "h0"), Stroke("hole", (x, y), "h0")]
            reach, back, twice = tenths(r), tenths(-2 * r), tenths(2 * r)
            arc = f"a{reach} {reach} 0 1 0 "
            return [Stroke(kind, (x - r, y), f"{arc}{twice} 0{arc}{back} 0z")]
    return []


def from_start(line: Line, fine: float = FINE) -> tuple[StrokePoint, str]:
    """Where a line begins, in tenths, and the rest of it as relative steps."""
    x0, y0 = line[0]
    kept = [(round((x - x0) * 10), round((y - y0) * 10)) for x, y in simplified(line, fine)]
    steps = [f"{tenths(bx - ax)} {tenths(by - ay)}" for (ax, ay), (bx, by) in pairwise(kept)]
    return (round(x0 * 10), round(y0 * 10)), "l" + " ".join(steps).replace(" -", "-") if steps else ""


def relative(path: str) -> tuple[StrokePoint, str]:
    """Where a path of a drawing begins, in tenths, and the rest of it by relative steps; curves it has none."""
    words = WORD.findall(path)
    here = start = begin = (0.0, 0.0)
    found: list[str] = []
    command, k, moves = "", 0, 0
    while k < len(words):
        if words[k].isalpha():
            command = words[k]
            k += 1
            if command in "Zz":
                found.append("z")
                here = begin
                continue
        before = here
        match command.lower():
            case "h":
                here, k = (here[0] + float(words[k]), here[1]), k + 1
            case "v":
                here, k = (here[0], here[1] + float(words[k])), k + 1
            case _:
                x, y = float(words[k]), float(words[k + 1])
                here, k = (x, y) if command.isupper() else (here[0] + x, here[1] + y), k + 2
        if command in "Mm":
            begin = here
            moves += 1
            if moves == 1:
                start = here
                continue
        step = [round((b - a) * 10) for a, b in zip(before, here, strict=True)]
        found.append(f"{'m' if command in 'Mm' else 'l'}{' '.join(map(tenths, step)).replace(' -', '-')}")
    return (round(start[0] * 10), round(start[1] * 10)), "".join(found)


def tenths(value: int) -> str:
    """A number of tenths, as short as it can be written."""
    whole, part = divmod(abs(value), 10)
    text = f"{whole or ('' if part else 0)}{f'.{part}' if part else ''}"
    return f"-{text}" if value < 0 else text


def simplified(line: Line, fine: float = FINE) -> Line:
    """A line with no more points than keep it within `fine` of what it was (Ramer, Douglas, Peucker)."""
    keep, spans = {0, len(line) - 1}, [(0, len(line) - 1)]
    while spans:
        a, b = spans.pop()
        (ax, ay), (bx, by) = line[a], line[b]
        far = hypot(bx - ax, by - ay)
        best, least = fine, -1
        for k in range(a + 1, b):
            x, y = line[k]
            off = abs((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / far if far else hypot(x - ax, y - ay)
            if off > best:
                best, least = off, k
        if least >= 0:
            keep.add(least)
            spans += [(a, least), (least, b)]
    return [line[k] for k in sorted(keep)]


def points(stroke: Stroke) -> Line:
    """The points of a line in units of the drawing; of a rectangle or a circle its corners."""
    x, y = stroke.start[0] / 10, stroke.start[1] / 10
    found = [(x, y)]
    for command, words in re.findall(r"([a-z])([^a-z]*)", stroke.rest):
        numbers = [float(word) for word in WORD.findall(words)]
        if command == "a":
            r = abs(numbers[0])
            found += [(x, y - r), (x + 2 * r, y + r)]
            break
        if command in "hv":
            numbers = [numbers[0], 0.0] if command == "h" else [0.0, numbers[0]]
        for dx, dy in zip(numbers[::2], numbers[1::2], strict=True):
            x, y = x + dx, y + dy
            found.append((x, y))
    return found
