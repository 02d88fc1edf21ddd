"""Figures of a kind: one piece of it, wired and by itself, in each of its positions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.papers.card_drawing import CardDrawing, CardPicture
from netlister.papers.local_poles import LocalPoles
from netlister.papers.positions import positions
from netlister.svg import attribute, number, opening

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit

ROOM, TALL = 420.0, 230.0
"""Width, and most height, of a figure."""

MOST = 8
"""Positions that are drawn."""


def figures(circuit: Circuit, name: str) -> list[tuple[str, str]]:
    """Per position of a piece what it is, and it from above as SVG (styled by the page in which it stands).

    The last one is the legend. Nothing for a piece that has no positions.
    """
    poles = LocalPoles(circuit)
    drawing = CardDrawing(circuit, name, poles, met=False)
    shown = positions(circuit, circuit.layout.pieces[name], poles)[:MOST]
    found = [(p.said, _svg(drawing.picture(p, ROOM, TALL, below=False, titled=False), p.said)) for p in shown]
    return [*found, ("", _svg(drawing.legend(ROOM), "what the lines mean"))] if found else []


def _svg(picture: CardPicture, said: str) -> str:
    box = f"0 0 {number(ROOM)} {number(picture.high)}"
    more = f'role="img" aria-label="{attribute(said)}"'
    return "\n".join([opening(box, (number(ROOM), number(picture.high)), more, "plan"), *picture.lines, "</svg>"])
