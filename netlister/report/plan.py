"""The plan on the page: the drawing of the layout where it can be made, else its pieces in rows."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from netlister.circuit.model import Circuit, State

ACROSS, WIDE, HIGH, APART = 6, 150, 84, 14


def plan_svg(circuit: Circuit, state: State, poles: Mapping[str, Sequence[str]] | None = None) -> str:
    """The pieces of a layout in rows, each with a line per rail, as SVG; not to scale and not in their places.

    `poles`: per rail the names of its poles in that state, for its colour.
    """
    pieces = list(circuit.layout.pieces.values())
    most = max((len(p.kind.rails) for p in pieces), default=2)
    high = HIGH + 12 * max(0, most - 3)
    across = ACROSS if len(pieces) <= 60 else 12  # noqa: PLR2004
    rows = -(-len(pieces) // across)
    lines = [f'<svg class="plan" viewBox="0 0 {across * WIDE} {rows * high}" role="img" aria-label="Pieces of track">']
    for number, piece in enumerate(pieces):
        x, y = number % across * WIDE + APART, number // across * high + 24
        lines.append(f'<g class="piece" data-piece="{escape(piece.name)}">')
        label = piece.name if len(piece.name) <= 16 else piece.name[:15] + "…"  # noqa: PLR2004
        lines.append(f'<text class="label" x="{x}" y="{y}">{escape(label)}</text>')
        for row, rail in enumerate(piece.kind.rails):
            name = f"{piece.name}.{rail}"
            kind = pole_class(circuit, (poles or {}).get(name, ()))
            at = y + 14 + 12 * row
            lines.append(f'<path class="rail {kind}" data-rail="{escape(name)}" d="M{x} {at}H{x + WIDE - 2 * APART}"/>')
        lines.append("</g>")
    return "\n".join([*lines, "</svg>"]) + "\n"


def pole_class(circuit: Circuit, poles: Sequence[str]) -> str:
    """The class of a rail by its poles: pole-A, pole-B, pole-both, pole-none, or pole-unit for a frog unit."""
    if not poles:
        return "pole-none"
    if len(poles) > 1:
        return "pole-both"
    letters = {pole.name: pole.letter for pole in circuit.poles}
    return f"pole-{letters[poles[0]]}" if poles[0] in letters else "pole-unit"
