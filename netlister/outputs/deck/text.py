"""Texts of a layout in a deck: nothing in them can be read as anything but a comment.

A simulator reads a deck line by line, a command where a line begins with a dot or lies between `.control` and `.endc`,
and takes some signs for the end of a comment or for one of its own commands. So a name keeps letters, digits and a few
signs that mean nothing, and every other character is written as the `%XX` of its UTF-8 bytes.
"""

from __future__ import annotations

_PLAIN = frozenset(" ._-/:,()@=")
_WORD = frozenset("._-:@")
LONGEST = 160
"""Characters of a text; what is longer ends with three dots."""


def comment(text: str) -> str:
    """A text as it may stand in a comment."""
    return _cut("".join(c if c.isascii() and (c.isalnum() or c in _PLAIN) else _bytes(c) for c in text))


def word(text: str) -> str:
    """A text as one word of a line that the simulator prints; what it may not have is `_`."""
    return _cut("".join(c if c.isascii() and (c.isalnum() or c in _WORD) else "_" for c in text))


def deck_number(value: float) -> str:
    """A number, read back to the same number."""
    return f"{value:.15g}"


def _bytes(c: str) -> str:
    return "".join(f"%{byte:02X}" for byte in c.encode("utf-8", "surrogatepass"))


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}..."
