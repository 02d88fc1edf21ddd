"""The legend of a plan: what every line and mark on it means, and what there is to say of its scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.draw.laying import remarks
from netlister.draw.lines import Pose
from netlister.draw.marks import drop, gap, mark_of_frog, symbol
from netlister.draw.placing import GAUGE
from netlister.draw.style import LETTER, LETTERS, POLES, SAID, text_svg
from netlister.draw.text import width, wrapped
from netlister.svg import attribute, number

if TYPE_CHECKING:
    from collections.abc import Iterator
    from collections.abc import Set as AbstractSet

    from netlister.draw.laying import Drawing
    from netlister.draw.placing import Drawn

MOST_SHOWN = 6


def legend(
    drawing: Drawing, shown: AbstractSet[str], spot: tuple[float, float], room: float
) -> tuple[list[str], float]:
    """Write the legend as lines of SVG, in rows as wide as there is room; and say its height.

    `shown`: the poles and the marks that are on the plan. `spot`: the upper left corner, y downwards.
    """
    x, y = spot
    lines: list[str] = ['<g class="legend">']
    cx, cy = x, y + 14
    for sample, text in _samples(shown):
        wide = 44 + width(text, 11) + 22
        if cx > x and cx + wide > x + room:
            cx, cy = x, cy + 24
        lines.append(f'<g transform="translate({number(cx)} {number(cy)})">{sample}')
        lines.append(f'<text x="44" y="4" font-size="11">{attribute(text)}</text></g>')
        cx += wide
    cy += 28
    for text in _notes(drawing):
        for part in wrapped(text, 11, room):
            lines.append(f'<text x="{number(x)}" y="{number(cy)}" font-size="11">{attribute(part)}</text>')
            cy += 16
    lines.append("</g>")
    return lines, cy - y + 10


def _samples(shown: AbstractSet[str]) -> Iterator[tuple[str, str]]:
    for pole in POLES:
        if pole in shown:
            letter = text_svg(LETTERS[pole], 18, -5, LETTER, f'class="letter {pole}" text-anchor="middle"')
            yield f'<path class="rail {pole}" d="M0 0H36"/>{letter}', SAID[pole]
    rail = '<path class="rail pole-A" d="M4 0H32"/>'
    samples = {
        "gap": (rail + "".join(gap(Pose(18, -GAUGE / 2, 0), 1)), "insulated joiner"),
        "seam": ('<path class="seam" d="M18 -9V9"/><path class="rail pole-A" d="M4 0H32"/>', "metal joiners"),
        "feed": (rail + "".join(drop(Pose(18, 0, 0), square=False)), "feed wire to a rail"),
        "frog": (f'<path class="mark" d="{mark_of_frog(18, 0)}"/>', "frog"),
        "plastic": ('<path class="plastic" d="M4 0H32"/>', "plastic, or a gap: nothing conducts"),
        "contact": (symbol("contact", 10, 4), "contact that powers this rail"),
        "unit": (symbol("unit", 10, 4), "frog unit"),
        "onward": (symbol("onward", 10, 4), "goes on in another strip"),
        "reverser": (
            symbol("reverser", 0, 4) + "".join(drop(Pose(28, 0, 0), square=True)),
            "reverser, and its feed wires",
        ),
    }
    for mark, sample in samples.items():
        if mark in shown:
            yield sample


def _notes(drawing: Drawing) -> Iterator[str]:
    true = [part for part in drawing.parts if part.true]
    if true and drawing.misses:
        yield "To scale, but for the pieces at the joints named below, which are bent to fit."
    elif true and drawing.spread:
        yield "To scale; what does not quite close as written is spread over joints and straight track."
    elif len(true) == len(drawing.parts):
        yield ("To scale, as written." if _branches(true) else "Laid to scale, as written; the gauge is drawn wide.")
    elif true:
        yield "Partly to scale, the rest bent to fit: how it hangs together is right, lengths and curves are not."
    else:
        yield "Bent to fit: how it hangs together is right, lengths and curves are not."
    said = remarks(drawing)
    yield from (f"{text}." for text in said[:MOST_SHOWN])
    if len(said) > MOST_SHOWN:
        yield f"{len(said) - MOST_SHOWN} more places do not fit as written."


def _branches(parts: list[Drawn]) -> bool:
    """Whether there is a turnout or crossing among the pieces, whose gauge sets the scale."""
    return any(p.piece.kind.branching for part in parts for p in part.placed.values())
