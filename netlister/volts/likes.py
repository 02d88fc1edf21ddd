"""A feed like those that a piece of plain track has already: from the same source, with the same poles on its rails.

A second feed from anywhere else may be a short (behind a reverser or a switch), go past a detector or join districts.
So only what comes by metal joiners from feeds of one source counts, and where there is no such source there is no feed.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from netlister.layout.terminal import named
from netlister.union import find, join

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit
    from netlister.layout.model import Feed

METAL = {"bond", "joiner"}


class Likes:
    """Finds for a piece a further feed like those that it has."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit

    @cached_property
    def _metal(self) -> list[int]:
        """The nodes in sets that bonds and metal joiners join, for `find`."""
        group = list(range(len(self.circuit.names)))
        for c in self.circuit.conductors:
            if c.what in METAL and not c.when:
                join(group, c.a, c.b)
        return group

    @cached_property
    def _wires(self) -> dict[int, list[tuple[Feed, str]]]:
        """Per piece of metal the feeds with a wire to it, each with the pole of that wire."""
        found: dict[int, list[tuple[Feed, str]]] = {}
        for feed in self.circuit.layout.feeds:
            for pole, rail in feed.wires:
                found.setdefault(find(self._metal, self.circuit.node[rail]), []).append((feed, pole))
        return found

    def of(self, piece: str) -> Feed | None:
        """A feed for both rails of a piece of plain track, like its own feeds or else like others; None without any."""
        rails = (named(piece, "left"), named(piece, "right"))
        left, right = (self._wires.get(find(self._metal, self.circuit.node[rail]), []) for rail in rails)
        pairs = [
            (feed.piece != piece or other.piece != piece, number, feed, pole, opposite)
            for number, (feed, pole) in enumerate(left)
            for other, opposite in right
            if feed.source == other.source and pole != opposite
        ]
        if not pairs:
            return None
        _, _, feed, pole, opposite = min(pairs, key=lambda pair: pair[:2])
        wires = tuple(sorted(((pole, rails[0]), (opposite, rails[1]))))
        return feed._replace(name="", piece=piece, wires=wires)
