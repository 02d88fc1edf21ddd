"""The wiring cards on the page: one for each kind of piece that the layout uses."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from netlister.kinds import library
from netlister.outputs.kind_page import kind_fragment

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit


def cards(circuit: Circuit) -> list[tuple[str, str]]:
    """Titles and HTML, in the order of the layout; plain track needs none."""
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
        body = body.replace(' aria-label="', f' aria-label="{escape(f"{name} {asked}".strip())}: ')
        found.append((title, f"<p>Pieces: {escape(', '.join(pieces))}</p>\n{body}"))
    return found


def _lower(html: str) -> str:
    """The headings of a part one rank lower; text is escaped, so that only tags are met."""
    for rank in (3, 2):
        html = html.replace(f"<h{rank}>", f"<h{rank + 1}>").replace(f"</h{rank}>", f"</h{rank + 1}>")
    return html


def _named(pieces: list[str]) -> str:
    most = 6
    return ", ".join(pieces[:most]) + (f" and {len(pieces) - most} more" if len(pieces) > most else "")
