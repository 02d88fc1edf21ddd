"""Strings of S-expressions, as KiCad's formats write them."""

from __future__ import annotations

_ESCAPES = str.maketrans({"\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"})


def string(text: str) -> str:
    """A text as a string."""
    return '"' + escaped(text).replace('"', '\\"') + '"'


def escaped(text: str) -> str:
    """A text with all escaped that must be, but for quotation marks."""
    return text.translate(_ESCAPES)
