"""The marks of a plan as SVG: gaps, feed wires, frogs, tables, and labels with their symbols.

Functions take places with y upwards, unless they say otherwise; SVG has it downwards.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.draw.lines import Pose
from netlister.draw.placing import GAUGE
from netlister.draw.rails import beside
from netlister.draw.style import POLES, text_svg
from netlister.svg import attribute, number, point

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.draw.labels import Put
    from netlister.draw.placing import Placed


def sliding_table(one: Placed) -> Iterator[str]:
    """The outline of a table that slides: around all its ends that are gaps."""
    kind = one.piece.kind
    if not kind.gaps or one.pit:
        return
    still = [one.ends[e] for e in kind.ends if e not in kind.gaps]
    ends = [one.ends[e] for e in kind.ends if e in kind.gaps]
    xs, ys = [x for x, _ in ends], [y for _, y in ends]
    if still:  # a yard: its tracks reach back to a little beyond the end that stays where it is
        xs.append(still[0][0] + (xs[0] - still[0][0]) * 0.42)
    left, right, low, high = min(xs), max(xs), min(ys) - GAUGE, max(ys) + GAUGE
    yield (
        f'<rect class="pit" x="{number(left)}" y="{number(-high)}" width="{number(right - left)}" '
        f'height="{number(high - low)}"/>'
    )


def gap(pose: Pose, side: int) -> Iterator[str]:
    """An insulated joiner in the rail on one side: the rail is cut, two bars stand beside the cut."""
    middle = beside(pose, side * GAUGE / 2)
    here = Pose(middle[0], middle[1], pose.heading)
    a, b = here.beyond(-3.0), here.beyond(3.0)
    yield f'<path class="cut" d="M{point(a.x, -a.y)}L{point(b.x, -b.y)}"/>'
    for one in (a, b):
        p, q = beside(one, 4.2), beside(one, -4.2)
        yield f'<path class="bar" d="M{point(p[0], -p[1])}L{point(q[0], -q[1])}"/>'


def drop(pose: Pose, *, square: bool) -> Iterator[str]:
    """A wire to a rail: a stem to the side (the left of the pose), and a dot or a square on the rail."""
    end = beside(pose, 8.0)
    yield f'<path class="bar" d="M{point(pose.x, -pose.y)}L{point(end[0], -end[1])}"/>'
    if square:
        yield f'<rect class="mark" x="{number(end[0] - 3)}" y="{number(-end[1] - 3)}" width="6" height="6"/>'
        return
    yield f'<circle class="solid" cx="{number(pose.x)}" cy="{number(-pose.y)}" r="2.6"/>'
    yield f'<circle class="mark" cx="{number(end[0])}" cy="{number(-end[1])}" r="2.4"/>'


def mark_of_frog(x: float, y: float) -> str:
    """The outline of the mark of a frog; y points up."""
    return f"M{point(x - 4, -y)}L{point(x, -y - 3.2)}L{point(x + 4, -y)}L{point(x, -y + 3.2)}Z"


def symbol(kind: str, x: float, y: float) -> str:
    """A symbol in front of a label whose line begins at a point; y points down."""
    if kind == "contact":  # a lever between two studs
        return (
            f'<path class="bar" d="M{point(x, y - 3.5)}h4l6 -3.2"/>'
            f'<circle class="solid" cx="{number(x + 12)}" cy="{number(y - 7)}" r="1.5"/>'
            f'<circle class="solid" cx="{number(x + 12)}" cy="{number(y - 0.5)}" r="1.5"/>'
        )
    if kind == "onward":
        return f'<path class="bar" d="M{point(x, y - 3.5)}h12m-4.5 -3.5l4.5 3.5l-4.5 3.5"/>'
    if kind == "unit":
        dot = f'<circle class="solid" cx="{number(x + 7)}" cy="{number(y - 3.5)}" r="1.6"/>'
        return f'<path class="mark" d="M{point(x + 1, y - 3.5)}l6 -4.5l6 4.5l-6 4.5z"/>{dot}'
    return f'<path class="bar" d="M{point(x, y - 7)}h3l7 7h3M{point(x, y)}h3l7 -7h3"/>'


def label_svg(put: Put) -> Iterator[str]:
    """A label at its place, with a line to what it names where it stands far off."""
    label = put.label
    x, y = put.x + label.symbol, -put.y
    if put.lead:
        a, b = label.point, put.lead
        yield f'<path class="lead" d="M{point(a[0], -a[1])}L{point(b[0], -b[1])}"/>'
    names = attribute(label.names)
    if label.kind in POLES:
        yield text_svg(label.text, x, y, label.size, f'class="letter {label.kind}" data-for="{names}"')
    elif label.kind in {"joint-name", "feed-name"}:
        yield text_svg(label.text, x, y, label.size, f'class="small" data-for="{names}"')
    elif label.kind == "name":
        yield text_svg(label.text, x, y, label.size, f'class="label" data-for="{names}"')
    else:
        text = text_svg(label.text, x, y, label.size, 'class="tag"')
        yield f'<g class="{label.kind}" data-{label.kind}="{names}">{symbol(label.kind, put.x, y)}{text}</g>'
