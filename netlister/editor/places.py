"""Places of a text as the protocol counts them: lines from 0, and in a line the units that the client agreed on."""

from __future__ import annotations

import re
from bisect import bisect_right
from typing import TYPE_CHECKING, Protocol

from lsprotocol import types as lsp

from netlister.editor.fixes import span_offsets
from netlister.source import Source

if TYPE_CHECKING:
    from netlister.source import Span

_END = re.compile(r"\r\n|\r|\n")
"""The ends of lines of the protocol. The parser of YAML knows more, so places go by way of offsets."""


class Units(Protocol):
    """Counts the units of a text, as `pygls.workspace.PositionCodec` does."""

    def client_num_units(self, string: str) -> int:
        """How many units a text has."""
        ...


class TextPlaces:
    """The places of one text."""

    def __init__(self, text: str, units: Units) -> None:
        self.text = text
        self.units = units
        self.source = Source("", text)
        self.starts = [0, *(match.end() for match in _END.finditer(text))]

    def position(self, offset: int) -> lsp.Position:
        """The place of an offset."""
        line = bisect_right(self.starts, offset) - 1
        return lsp.Position(line, self.units.client_num_units(self.text[self.starts[line] : offset]))

    def range(self, start: int, end: int) -> lsp.Range:
        """The range between two offsets."""
        return lsp.Range(self.position(start), self.position(end))

    def offset(self, position: lsp.Position) -> int:
        """The offset of a place; what lies beyond the end of a line or of the text is its end."""
        if position.line >= len(self.starts):
            return len(self.text)
        start = self.starts[position.line]
        match = _END.search(self.text, start)
        stop = match.start() if match else len(self.text)
        units = 0
        for at in range(start, stop):
            if units >= position.character:
                return at
            units += self.units.client_num_units(self.text[at])
        return stop

    def offsets(self, span: Span) -> tuple[int, int]:
        """The offsets of a place as findings give it."""
        return span_offsets(self.source, span)

    def of_span(self, span: Span) -> lsp.Range:
        """The range of a place as findings give it."""
        return self.range(*self.offsets(span))

    def holds(self, span: Span, offset: int) -> bool:
        """Whether an offset lies in a place."""
        start, end = self.offsets(span)
        return start <= offset <= end
