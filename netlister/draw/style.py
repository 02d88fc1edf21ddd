"""The look of all drawings: poles by colour (Okabe and Ito), by letter and by the style of the line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.draw.text import FONT
from netlister.svg import attribute, number, point

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from netlister.circuit.model import Circuit
    from netlister.draw.lines import Line

LETTER = 9.0
"""The size of the letter of a pole."""

POLES = ("pole-A", "pole-B", "pole-both", "pole-none", "pole-unit")

LETTERS = {"pole-A": "A", "pole-B": "B", "pole-both": "A+B", "pole-none": "0", "pole-unit": "U"}

SAID = {
    "pole-A": "pole A",
    "pole-B": "pole B",
    "pole-both": "both poles: a short",
    "pole-none": "no pole: dead",
    "pole-unit": "set by its frog unit",
}

# colours: M. Okabe and K. Ito, Color Universal Design (2002/2008), "how to make figures ... colorblind friendly"
STYLE = f"""\
svg{{font-family:{FONT};background:#fff}}
text{{fill:#1a1a1a}}
.rail{{fill:none;stroke-width:2.6;stroke-linejoin:round}}
.pole-A{{stroke:#0072B2}}
.pole-B{{stroke:#D55E00;stroke-dasharray:9 2.5}}
.pole-both{{stroke:#CC79A7;stroke-width:5.5;stroke-dasharray:5 1.5}}
.pole-none{{stroke:#767676;stroke-dasharray:1.6 3}}
.pole-unit{{stroke:#007a58;stroke-dasharray:12 2.5 2 2.5}}
.plastic{{fill:none;stroke:#8c8c8c;stroke-width:1}}
.cut{{stroke:#fff;stroke-width:6}}
.bar{{stroke:#1a1a1a;stroke-width:1.6;fill:none}}
.seam{{stroke:#8c8c8c;stroke-width:1}}
.mark{{fill:#fff;stroke:#1a1a1a;stroke-width:1.3;stroke-linejoin:round}}
.solid{{fill:#1a1a1a;stroke:none}}
.lead{{stroke:#8c8c8c;stroke-width:.8;fill:none}}
.pit{{fill:#f2f2f2;stroke:#8c8c8c;stroke-width:1}}
.letter{{font-weight:bold;stroke:none}}
text.pole-A{{fill:#005a8e}}text.pole-B{{fill:#a84600}}text.pole-both{{fill:#9c3f77}}text.pole-none{{fill:#5f5f5f}}text.pole-unit{{fill:#006046}}
text.pole-A,text.pole-B,text.pole-both,text.pole-none,text.pole-unit{{stroke:none}}
@media print{{svg{{background:none}}.paper{{fill:none}}}}
"""


def path(line: Line) -> str:
    """The `d` of a path along a line; y of the line points up, that of the path down. Points that add nothing go."""
    kept = _thinned(line)
    steps = [point(x, -y) for x, y in kept]
    return "M" + "L".join(steps)


def _thinned(line: Line) -> Line:
    """A line without the points in the middle of straight parts."""
    found = list(line[:1])
    for k in range(1, len(line) - 1):
        (ax, ay), (bx, by), (cx, cy) = found[-1], line[k], line[k + 1]
        if abs((bx - ax) * (cy - by) - (by - ay) * (cx - bx)) > 0.02:
            found.append(line[k])
    return [*found, *line[-1:]] if len(line) > 1 else found


def pole_class(circuit: Circuit, names: Sequence[str]) -> str:
    """The class of a rail that has poles with these names."""
    letters = {pole.name: pole.letter for pole in circuit.poles}
    if not names:
        return "pole-none"
    if len(names) > 1:
        return "pole-both"
    return f"pole-{letters[names[0]]}" if names[0] in letters else "pole-unit"


def has(names: Iterable[str]) -> str:
    """What poles a rail has, in words."""
    return " and ".join(names) or "no pole"


def text_svg(text: str, x: float, y: float, size: float, more: str = "") -> str:
    """A line of text; `more`: further attributes, escaped already. y points down."""
    begin = f"<text {more} " if more else "<text "
    return f'{begin}x="{number(x)}" y="{number(y)}" font-size="{number(size)}">{attribute(text)}</text>'
