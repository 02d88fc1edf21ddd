"""A picture (SVG) of the volts along the track, in one position of everything."""

from __future__ import annotations

from itertools import pairwise
from math import ceil, floor
from typing import TYPE_CHECKING

from netlister.outputs.drop import CAUTIONS
from netlister.quantity import show
from netlister.svg import attribute, opening
from netlister.volts.along import curves
from netlister.volts.values import limit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from netlister.circuit.model import State
    from netlister.layout.model import Layout
    from netlister.volts.along import Curve
    from netlister.volts.drop import Survey

WIDTH, HEIGHT = 960, 420
LEFT, RIGHT, TOP, BOTTOM = 70, 20, 64, 120
STYLE = """\
.paper { fill: #fff; } text { fill: #1a1a1a; } .axis { stroke: #1a1a1a; stroke-width: 0.8; }
.faint { stroke: #8c8c8c; stroke-width: 0.8; } .scale { stroke: #8c8c8c; stroke-width: 0.5; }
.volts { stroke: #0072b2; stroke-width: 2.5; stroke-linejoin: round; } .dot { fill: #0072b2; }
.limit { stroke: #d55e00; stroke-width: 1.5; stroke-dasharray: 6 4; } .lost { fill: #b04e00; } path { fill: none; }
@media screen and (prefers-color-scheme: dark) {
  .paper { fill: #20201d; } text { fill: #efebe2; } .axis { stroke: #efebe2; } .lost { fill: #f09a5b; }
  .volts { stroke: #62b6f0; } .dot { fill: #62b6f0; } .limit { stroke: #f09a5b; }
}
"""
"""Colours of Okabe and Ito, never colour alone; on a screen that is dark, light ones."""

NARROW = 18.0
"""Pixels that the shortest piece still has, so that its name can be read; many pieces make a wide picture."""


def picture(survey: Survey, pieces: Sequence[str], state: State, reverse: Mapping[str, bool] | None = None) -> str:
    """The volts left at each place while the current that is calculated with is drawn there, as SVG text.

    `pieces`: side by side, as a train passes them. `reverse`: those passed from their leaving end; if left out, as the
    joints between them say. The dashed line is what the limit on losses leaves.
    """
    found = curves(survey, pieces, state, turned_by_joints(survey.layout, pieces) if reverse is None else reverse)
    return "\n".join(_VoltsDrawing(survey, found, state).lines()) + "\n"


def turned_by_joints(layout: Layout, pieces: Sequence[str]) -> dict[str, bool]:
    """Which pieces are passed from their leaving end to their entering end."""
    found: dict[str, bool] = {}
    for one, two in pairwise(pieces):
        for joint in layout.joints:
            for a, b in ((joint.start, joint.end), (joint.end, joint.start)):
                if a[0] == one and b[0] == two:
                    found.setdefault(one, layout.pieces[one].kind.ends[a[1]].entering)
                    found.setdefault(two, not layout.pieces[two].kind.ends[b[1]].entering)
    return found


class _VoltsDrawing:
    def __init__(self, survey: Survey, found: list[Curve], state: State) -> None:
        self.survey = survey
        self.curves = found
        self.state = state
        self.whole = max((c.stop for c in found), default=0.0)
        supplies = survey.layout.supplies.values()
        self.most = max(s.voltage for s in supplies)
        share = limit(survey.layout, "drop")
        self.limits = sorted({s.voltage * (1 - share) for s in supplies})
        least = min([*self.limits, *(v for c in found for _, v in c.points)])
        self.step = next(s for s in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 1e9) if (self.most - least) / s <= 8)  # noqa: PLR2004
        self.floor = floor(least / self.step) * self.step
        self.top = ceil(self.most / self.step) * self.step
        self.scale = (WIDTH - LEFT - RIGHT) / self.whole if self.whole else 0.0
        self.widths = [max((c.stop - c.start) * self.scale, NARROW) for c in found]
        self.width = max(LEFT + RIGHT + sum(self.widths), WIDTH)

    def lines(self) -> Iterator[str]:
        """The lines of the file."""
        title = attribute(self.survey.layout.title or self.survey.layout.name)
        yield opening(
            f"0 0 {self.width:.0f} {HEIGHT}",
            (f"{self.width:.0f}", f"{HEIGHT}"),
            'font-family="sans-serif" font-size="13" role="img" aria-labelledby="title desc"',
        )
        yield f'<title id="title">Volts along the track: {title}</title>'
        yield f'<desc id="desc">{attribute(self._said())}</desc>'
        yield f"<style>{STYLE}</style>"
        yield f'<rect class="paper" width="{self.width:.0f}" height="{HEIGHT}"/>'
        yield f'<text x="{LEFT}" y="24" font-size="17">Volts along the track: {title}</text>'
        yield f'<text x="{LEFT}" y="44">{attribute(self._said())}</text>'
        yield from self._scale()
        yield from self._curves()
        yield f'<text x="{LEFT}" y="{HEIGHT - 10}" font-size="11">{attribute(CAUTIONS[0])}</text>'
        yield "</svg>"

    def _said(self) -> str:
        variables = self.survey.circuit.variables
        at = ", ".join(f"{v.name} {v.positions[x]}" for v, x in zip(variables, self.state, strict=False))
        amps = {self.survey.current(s) for s in self.survey.layout.supplies} - {None}
        drawn = " or ".join(show(a, "A") for a in sorted(a for a in amps if a is not None)) or "no current"
        text = f"{drawn} drawn at each place in turn" + (f"; {at}" if at else "")
        return text if len(text) < 130 else text[:128] + " …"  # noqa: PLR2004

    def _y(self, volts: float) -> float:
        return TOP + (self.top - volts) / (self.top - self.floor or 1) * (HEIGHT - TOP - BOTTOM)

    def _scale(self) -> Iterator[str]:
        right = f"{self.width - RIGHT:.0f}"
        count = round((self.top - self.floor) / self.step)
        for n in range(count + 1):
            volts = self.floor + n * self.step
            y = self._y(volts)
            yield f'<path d="M{LEFT} {y:.1f}H{right}" class="scale"/>'
            yield f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{volts:g} V</text>'
        share = show(limit(self.survey.layout, "drop"), "%", 2)
        for volts in self.limits:
            y = self._y(volts)
            yield f'<path d="M{LEFT} {y:.1f}H{right}" class="limit"/>'
            yield f'<text x="{right}" y="{y - 5:.1f}" text-anchor="end" class="lost">{share} lost</text>'

    def _curves(self) -> Iterator[str]:
        x = float(LEFT)
        bottom = HEIGHT - BOTTOM
        for c, width in zip(self.curves, self.widths, strict=True):
            yield f'<path d="M{x:.1f} {TOP}V{bottom + 6}" class="faint"/>'
            middle = x + width / 2
            yield (
                f'<text transform="translate({middle:.1f} {bottom + 10}) rotate(60)" font-size="11">'
                f"{attribute(c.piece)}{'' if c.points else ' (no voltage)'}</text>"
            )
            yield from self._curve(c, x, width)
            x += width
        axes = f"M{x:.1f} {TOP}V{bottom + 6}M{LEFT} {bottom}H{x:.1f}"
        yield f'<path d="{axes}" class="axis"/>'

    def _curve(self, c: Curve, x: float, width: float) -> Iterator[str]:
        """The volts along a piece; of one without a length a dot for each value."""
        if c.stop > c.start:
            places = [(x + (at - c.start) / (c.stop - c.start) * width, v) for at, v in c.points]
            path = "L".join(f"{px:.1f} {self._y(v):.1f}" for px, v in places)
            if path:
                yield f'<path d="M{path}" class="volts"/>'
            return
        for volts in sorted({v for _, v in c.points}):
            yield f'<circle cx="{x + width / 2:.1f}" cy="{self._y(volts):.1f}" r="3" class="dot"/>'
