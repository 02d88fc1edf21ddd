"""The wiring cards on the page, and sheets of the kinds that the layout uses."""

from __future__ import annotations

import re
from html import escape
from itertools import count
from typing import TYPE_CHECKING, NamedTuple

from netlister.kinds import library
from netlister.outputs.kind_page import kind_fragment
from netlister.papers.card import Cards

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit


MOST_CARDS = 80
"""Cards drawn on one page; larger layouts have them from `netlister draw` alone."""


class Folded(NamedTuple):
    """A card or the sheet of a kind: its title, its HTML, and the names that it is about."""

    title: str
    html: str
    of: list[str]


def card_section(circuit: Circuit, version: str = "") -> list[Folded]:
    """In the order of the layout: a card per piece that changes and per reverser, then the kinds.

    `version`: for the foot of each sheet; it says where the wiring is wrong.
    """
    made = Cards(circuit, version)
    drawn = made.known if len(made.known) <= MOST_CARDS else ()
    sheets = {name: "\n".join(map(part_of_page, made.sheets(name))) for name in drawn}
    return [Folded(name, sheet, [name]) for name, sheet in sheets.items()] + _kinds(circuit)


def part_of_page(svg: str) -> str:
    """A card without its own style, which the policy of the page would refuse."""
    svg = re.sub(r"<style>.*?</style>\n?", "", svg, count=1, flags=re.DOTALL)
    return svg.replace('class="card"', 'class="plan wired"', 1)


def _kinds(circuit: Circuit) -> list[Folded]:
    """All that is known of each kind that the layout uses; plain track needs none."""
    known = circuit.layout.library or library()
    users: dict[tuple[str, str, tuple[tuple[str, str], ...]], list[str]] = {}
    for piece in circuit.layout.pieces.values():
        kind = piece.kind
        if not kind.plain:
            users.setdefault((kind.name, kind.hand, kind.options), []).append(piece.name)
    found = []
    for (name, hand, options), pieces in users.items():
        asked = " ".join(filter(None, (hand, *(f"{key}={value}" for key, value in options))))
        title = f"{name}{f' ({asked})' if asked else ''}: {_named(pieces)}"
        body = _lower(kind_fragment(known, name, hand, options))
        body = _told_apart(body, escape(f"{name} {asked}".strip()))
        found.append(Folded(title, f"<p>Pieces: {escape(', '.join(pieces))}</p>\n{body}", pieces))
    return found


def _told_apart(html: str, whose: str) -> str:
    """Names of scrolling tables that are there once on the page: whose they are, and numbers."""
    number = count(1)
    return re.sub(r' aria-label="([^"]*)"', lambda m: f' aria-label="{whose}, table {next(number)}: {m[1]}"', html)


def _lower(html: str) -> str:
    """The headings of a part one rank lower; text is escaped, so that only tags are met."""
    for rank in (3, 2):
        html = html.replace(f"<h{rank}>", f"<h{rank + 1}>").replace(f"</h{rank}>", f"</h{rank + 1}>")
    return html


def _named(pieces: list[str]) -> str:
    most = 6
    return ", ".join(pieces[:most]) + (f" and {len(pieces) - most} more" if len(pieces) > most else "")
