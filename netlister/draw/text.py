"""How wide text is, without a font at hand: widths as in the widest usual sans-serif, so that nothing is wider."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

FONT = "'DejaVu Sans', Verdana, 'Liberation Sans', Arial, sans-serif"

_NARROW = dict.fromkeys("ijl.,:;|'!I", 0.42) | dict.fromkeys("ftr()[]-/\\ ", 0.46) | dict.fromkeys("mw%", 1.02)
_WIDE = dict.fromkeys("MW@", 1.05) | dict.fromkeys("ABCDEFGHKNOPQRSTUVXYZ&+<>=_#~", 0.86)
_WIDTHS = _NARROW | _WIDE
_USUAL, _OTHER, _FULL = 0.68, 1.15, 1.4


@lru_cache(8192)
def width(text: str, size: float) -> float:
    """The width of a text, at most, in the units of `size`."""
    return size * sum(_of(c) for c in text)


def _of(character: str) -> float:
    if character in _WIDTHS:
        return _WIDTHS[character]
    if character.isascii():
        return _USUAL
    if unicodedata.combining(character):
        return 0.1
    return _FULL if unicodedata.east_asian_width(character) in "WF" or ord(character) > 0x2FFF else _OTHER


def wrapped(text: str, size: float, room: float) -> list[str]:
    """A text in lines that are no wider than `room`; a word that is wider stands alone and is cut."""
    lines: list[list[str]] = []
    done = 0.0
    for word in text.split():
        more = width(f" {word}", size)
        if lines and done + more <= room:
            lines[-1].append(word)
            done += more
        else:
            lines.append([shortened(word, size, room)])
            done = width(lines[-1][0], size)
    return [" ".join(line) for line in lines]


def shortened(text: str, size: float, room: float) -> str:
    """A text cut to a width, with an ellipsis where something is missing."""
    if width(text, size) <= room:
        return text
    while text and width(text + "…", size) > room:
        text = text[:-1]
    return text + "…"
